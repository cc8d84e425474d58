//! The sheet of formulas and tables: what a student may have beside the chart.
//!
//! Formulas are those of `solution::laws`, numbers those that the solver takes.

use crate::bank::course::{Conventions, UnitSystem};
use crate::bank::prose::{Block, Inline, Table, text};
use crate::constants::{Constant, physical};
use crate::equation::{Expr, Line, Relation};
use crate::fluid::{Named, US_CUSTOMARY_UNITS};
use crate::hydraulics::duct::Section;
use crate::hydraulics::fittings::{BORDA_CARNOT, CRANE, FITTINGS, SUDDEN_CONTRACTION};
use crate::hydraulics::path::TURBULENT_ALPHA;
use crate::hydraulics::regime::Limits;
use crate::hydraulics::walls::{self, WALLS};
use crate::quantity::{DecimalMark, Unit, Written, round_to_figures};
use crate::solution::laws;

/// What the sheet is called.
pub const REFERENCE_TITLE: &str = "Formulas and tables";

/// Significant figures of tables of properties.
const FIGURES: u32 = 4;

fn sym(name: &str) -> Expr {
    Expr::symbol(name)
}

fn m(expr: Expr) -> Inline {
    Inline::Math(expr)
}

fn equal(left: Expr, right: Expr) -> Inline {
    Inline::Math(Expr::Compare(Box::new(left), Relation::Equal, Box::new(right)))
}

fn unit(symbol: &str) -> Unit {
    Unit::parse(symbol).unwrap_or_else(|_| Unit::none())
}

/// A number in a unit, without the unit, which stands in the column's head.
fn bare(si: f64, unit: &Unit, figures: u32) -> Vec<Inline> {
    let mut written = Written::from_si(si, unit, figures);
    written.unit.symbol = String::new();
    vec![Inline::Value(written)]
}

/// A pure number with as many figures as it has.
fn plain(value: f64) -> Inline {
    let figures = (1..=6)
        .find(|f| round_to_figures(value, *f) == value)
        .unwrap_or(6);
    // All digits of a whole number count, so that no power of ten is needed to say so.
    let whole = libm::floor(libm::log10(value.abs().max(1.0))) as u32 + 1;
    Inline::Value(Written::from_si(value, &Unit::none(), figures.max(whole)))
}

/// A constant in a unit, with six figures at most.
fn constant(of: &Constant, in_unit: &Unit) -> Inline {
    Inline::Value(Written::from_si(of.value, in_unit, FIGURES))
}

fn heads(titles: Vec<Vec<Inline>>, numeric: &[bool], rows: Vec<Vec<Vec<Inline>>>) -> Block {
    Block::Table(Table {
        head: titles,
        numeric: numeric.to_vec(),
        rows,
    })
}

fn words(all: &[&str]) -> Vec<Vec<Inline>> {
    all.iter().map(|w| vec![text(*w)]).collect()
}

fn heading(title: &str) -> Block {
    Block::Heading(2, vec![text(title)])
}

/// Formulas, coefficients, roughnesses, properties and conversions; properties in the units of `conventions`, regimes
/// by `limits`.
pub fn reference(conventions: &Conventions, limits: &Limits) -> Vec<Block> {
    let mut all = formulas(conventions, limits);
    // In this order they fill two pages evenly.
    all.extend(other_formulas());
    all.extend(roughness(conventions));
    all.extend(conversions(conventions.units));
    all.extend(coefficients());
    all.extend(properties(conventions.units));
    all
}

// ---- formulas ----

fn formulas(conventions: &Conventions, limits: &Limits) -> Vec<Block> {
    let (f, re, rr) = (sym("f"), sym("Re"), sym("rr"));
    let root = || Expr::number(1.0) / sym("f").sqrt();
    let loss = Line::equal(
        sym("h_L"),
        laws::friction_loss(f.clone(), sym("L"), sym("D"), sym("V")) + laws::minor_loss(sym("K"), sym("V")),
    );
    let g = match conventions.units {
        UnitSystem::Si => unit("m/s^2"),
        UnitSystem::UsCustomary => unit("ft/s^2"),
    };
    let row = |what: Vec<Inline>, formula: Vec<Inline>| vec![what, formula];
    let said = |words: &str| vec![text(words)];
    let rows = vec![
        row(
            said("velocity, by continuity"),
            vec![equal(sym("V"), laws::velocity(sym("D")))],
        ),
        row(
            said("Reynolds number"),
            vec![
                equal(re.clone(), laws::reynolds(sym("V"), sym("D"))),
                text(" = "),
                m(laws::reynolds_kinematic(sym("V"), sym("D"))),
            ],
        ),
        row(
            vec![text("laminar, below Re "), plain(limits.laminar_end)],
            vec![equal(f.clone(), laws::laminar(re.clone()))],
        ),
        row(
            vec![
                text("Colebrook and White (1937), from Re "),
                plain(limits.turbulent_start),
            ],
            vec![equal(
                root(),
                laws::colebrook(f.clone(), re.clone(), Some(rr.clone())),
            )],
        ),
        row(
            said("Haaland (1983), within 2 % of it"),
            vec![equal(root(), laws::haaland(re.clone(), rr.clone()))],
        ),
        row(
            said("Swamee and Jain (1976), within 3 % of it"),
            vec![equal(f.clone(), laws::swamee_jain(re.clone(), rr.clone()))],
        ),
        row(
            vec![
                text("fully rough, from "),
                m(laws::rough_number(re, f.clone(), rr.clone())),
                text(" = "),
                plain(limits.fully_rough_start),
            ],
            vec![equal(f, laws::fully_rough(rr))],
        ),
        row(
            said("power at the shaft of pump and turbine"),
            vec![
                equal(sym("P"), laws::power_of(sym("h_P")) / sym("eta")),
                text(", "),
                equal(sym("P"), sym("eta") * laws::power_of(sym("h_T"))),
            ],
        ),
        row(
            said("energy and hydraulic grade line"),
            vec![
                equal(sym("H"), laws::head_anywhere()),
                text(", "),
                equal(sym("H_p"), laws::piezometric()),
            ],
        ),
    ];
    vec![
        Block::Paragraph(vec![text(
            "Energy from station 1 to station 2, each term a head; then what is lost on the way, summed over pipes and fittings:",
        )]),
        Block::Equation(vec![laws::energy(sym("h_P"), sym("h_T"), sym("h_L")), loss]),
        Block::Paragraph(vec![
            m(sym("alpha")),
            text(" is "),
            plain(Section::ROUND.laminar_alpha),
            text(" in laminar flow in a round pipe and taken as "),
            plain(TURBULENT_ALPHA),
            text(" in turbulent flow; "),
            m(sym("f")),
            text(" is Darcy's friction factor, four times Fanning's; "),
            m(sym("h_P")),
            text(" and "),
            m(sym("h_T")),
            text(" are the heads of pump and turbine, "),
            m(sym("eta")),
            text(" is an efficiency. "),
            equal(
                sym("g"),
                Expr::Number(Written::from_si(physical::STANDARD_GRAVITY.value, &g, FIGURES)),
            ),
            text("; the standard atmosphere is "),
            constant(&physical::STANDARD_ATMOSPHERE, &unit("kPa")),
            text(", "),
            constant(&physical::STANDARD_ATMOSPHERE, &unit("psi")),
            text("."),
        ]),
        heads(words(&["What", "Formula"]), &[false; 2], rows),
    ]
}

/// What some problems ask for beside the line itself.
fn other_formulas() -> Vec<Block> {
    let ratio = |now: &str, rated: &str| sym(now) / sym(rated);
    let said = |words: &str| vec![text(words)];
    let row = |what: &str, formula: Inline| vec![said(what), vec![formula]];
    let with = |what: &str, formula: Inline, also: Inline| vec![said(what), vec![formula, text(", "), also]];
    let rows = vec![
        row(
            "hydraulic diameter of a duct",
            equal(sym("D"), laws::hydraulic_diameter()),
        ),
        vec![
            said("shear stress at a round wall"),
            vec![
                equal(sym("tau_w"), laws::wall_shear()),
                text(" = "),
                m(laws::wall_shear_by_factor()),
            ],
        ],
        with(
            "laminar flow in a round pipe, at a radius",
            equal(sym("Q"), laws::laminar_flow()),
            equal(sym("u_r"), laws::laminar_profile()),
        ),
        with(
            "pump at another speed",
            equal(ratio("Q", "Q_0"), ratio("n", "n_0")),
            equal(ratio("h_P", "h_0"), ratio("n", "n_0").pow(2)),
        ),
        row(
            "NPSH at a pump's inlet (gauge pressure)",
            equal(sym("NPSH_a"), laws::suction_head()),
        ),
        with(
            "plate, nozzle or Venturi tube",
            equal(sym("Q"), laws::metered_flow()),
            equal(sym("beta"), ratio("d", "D")),
        ),
        with(
            "Pitot-static tube; manometer below the fluid",
            equal(sym("V"), laws::speed()),
            equal(sym("dp"), laws::manometer()),
        ),
        row(
            "upright tank that empties, friction held",
            equal(sym("t"), laws::emptying_time()),
        ),
    ];
    vec![
        heading("Ducts, pumps, meters and tanks"),
        heads(words(&["What", "Formula"]), &[false; 2], rows),
        Block::Note(meanings()),
    ]
}

/// What the symbols of these formulas mean that are not in every problem.
fn meanings() -> Vec<Inline> {
    let all: [(&[&str], &str); 8] = [
        (&["P_w"], "wetted perimeter"),
        (
            &["n_0", "Q_0", "h_0"],
            "speed, flow and head as the curve was measured",
        ),
        (&["p_s", "V_s"], "pressure and velocity at the inlet"),
        (&["p_v"], "vapour pressure, absolute"),
        (&["C", "d"], "discharge coefficient and diameter of the throat"),
        (
            &["rho_m", "h"],
            "density of the manometer's liquid and its deflection",
        ),
        (&["A_t"], "area of the tank"),
        (
            &["Q_1", "H_1", "H_2"],
            "flow and head at the start, and head at the end",
        ),
    ];
    let mut said = Vec::new();
    for (symbols, meaning) in all {
        said.push(text(if said.is_empty() { "" } else { "; " }));
        for (n, symbol) in symbols.iter().enumerate() {
            said.extend((n > 0).then(|| text(", ")));
            said.push(m(sym(symbol)));
        }
        said.push(text(format!(": {meaning}")));
    }
    said.push(text("."));
    said
}

// ---- coefficients ----

fn coefficients() -> Vec<Block> {
    // Crane's first: a narrowing is by it too.
    let mut sources: Vec<&str> = vec![CRANE];
    for fitting in FITTINGS {
        if !sources.contains(&fitting.source) {
            sources.push(fitting.source);
        }
    }
    let letter = |source: &str| {
        let place = sources.iter().position(|s| *s == source).unwrap_or(0);
        ["a", "b", "c", "d", "e", "f"].get(place).copied().unwrap_or("g")
    };
    // Two fittings a row.
    let half = FITTINGS.len().div_ceil(2);
    let cells = |n: usize| match FITTINGS.get(n) {
        Some(fitting) => vec![
            vec![text(format!("{} ({})", fitting.name, letter(fitting.source)))],
            vec![plain(fitting.coefficient)],
        ],
        None => vec![Vec::new(), Vec::new()],
    };
    let rows = (0..half)
        .map(|n| cells(n).into_iter().chain(cells(half + n)).collect())
        .collect();
    let k = || vec![m(sym("K"))];
    let mut from = Vec::new();
    for source in &sources {
        if !from.is_empty() {
            from.push(text("; "));
        }
        from.push(text(format!("({}) {source}", letter(source))));
    }
    from.push(text("."));
    vec![
        heading("Loss coefficients"),
        Block::Paragraph(vec![
            text(
                "On the velocity head of the fitting's own pipe; of an entrance, that of the pipe behind it. A sudden widening from ",
            ),
            m(sym("D_1")),
            text(" to "),
            m(sym("D_2")),
            text(format!(" ({BORDA_CARNOT}) has ")),
            equal(sym("K"), laws::widening(sym("D_1"), sym("D_2"))),
            text(", a sudden narrowing from "),
            m(sym("D_2")),
            text(" to "),
            m(sym("D_1")),
            text(" (a) "),
            equal(
                sym("K"),
                Expr::number(SUDDEN_CONTRACTION) * (Expr::number(1.0) - (sym("D_1") / sym("D_2")).pow(2)),
            ),
            text(", both on the velocity head in "),
            m(sym("D_1")),
            text("."),
        ]),
        heads(
            vec![vec![text("Fitting")], k(), vec![text("Fitting")], k()],
            &[false, true, false, true],
            rows,
        ),
        Block::Note(from),
    ]
}

// ---- walls ----

fn roughness(conventions: &Conventions) -> Vec<Block> {
    let unit = match conventions.units {
        UnitSystem::Si => unit("mm"),
        UnitSystem::UsCustomary => unit("ft"),
    };
    // Decimals, not powers of ten, which would make two ends of one range look unlike.
    let decimal = |si: f64| {
        let number = round_to_figures(unit.from_si(si), 2).to_string();
        match conventions.decimal_mark {
            DecimalMark::Point => number,
            DecimalMark::Comma => number.replace('.', ","),
        }
    };
    // Two walls a row.
    let half = WALLS.len().div_ceil(2);
    let cells = |n: usize| match WALLS.get(n) {
        Some(wall) => {
            let (low, high) = wall.roughness();
            let span = if low == high {
                decimal(low)
            } else {
                format!("{} to {}", decimal(low), decimal(high))
            };
            vec![vec![text(wall.name)], vec![text(span)]]
        }
        None => vec![Vec::new(), Vec::new()],
    };
    let rows = (0..half)
        .map(|n| cells(n).into_iter().chain(cells(half + n)).collect())
        .collect();
    let eps = || vec![m(sym("eps")), text(format!(", {}", unit.symbol))];
    vec![
        heading("Roughness of walls"),
        heads(
            vec![vec![text("Wall")], eps(), vec![text("Wall")], eps()],
            &[false, true, false, true],
            rows,
        ),
        Block::Note(vec![text(format!("{}.", walls::SOURCE))]),
    ]
}

// ---- fluids ----

/// Units of a table of properties: of temperature, and of density, dynamic and kinematic viscosity and vapour pressure.
fn property_units(units: UnitSystem) -> (Unit, [Unit; 4]) {
    let (temperature, others) = match units {
        UnitSystem::Si => ("°C", ["kg/m^3", "mPa.s", "mm^2/s", "kPa abs"]),
        UnitSystem::UsCustomary => ("°F", US_CUSTOMARY_UNITS),
    };
    (unit(temperature), others.map(unit))
}

fn properties(units: UnitSystem) -> Vec<Block> {
    // From freezing to boiling in each scale, no wider apart than the table that bands allow for.
    let degrees: Vec<f64> = match units {
        UnitSystem::Si => (0..=10).map(|n| 10.0 * f64::from(n)).collect(),
        UnitSystem::UsCustomary => std::iter::once(32.0)
            .chain((4..=20).map(|n| 10.0 * f64::from(n)))
            .chain([212.0])
            .collect(),
    };
    vec![
        heading("Properties of water and air"),
        property_table(&property_units(units), &degrees),
        Block::Note(vec![text(format!(
            "Water: {}. Air: {}, at the standard atmosphere.",
            Named::Water.source(),
            Named::Air.source()
        ))]),
    ]
}

fn property_table((t, others): &(Unit, [Unit; 4]), degrees: &[f64]) -> Block {
    let [rho, mu, nu, p_v] = others;
    let head = |name: Inline, of: &str, unit: &Unit| {
        let of = if of.is_empty() {
            String::new()
        } else {
            format!(" of {of}")
        };
        // A unit has a line of its own, on which it does not part.
        vec![
            name,
            text(format!("{of},")),
            Inline::Break,
            text(unit.symbol.clone()),
        ]
    };
    let mut titles = vec![vec![text(t.symbol.clone())]];
    for fluid in Named::ALL {
        for (name, unit) in [("rho", rho), ("mu", mu), ("nu", nu)] {
            titles.push(head(m(sym(name)), fluid.name(), unit));
        }
        if fluid.is_liquid() {
            titles.push(head(m(sym("p_v")), "", p_v));
        }
    }
    let row = |degree: f64| {
        let mut row = vec![vec![plain(degree)]];
        for fluid in Named::ALL {
            let found = fluid
                .properties(t.to_si(degree), physical::STANDARD_ATMOSPHERE.value)
                .ok()?;
            row.push(bare(found.density, rho, FIGURES));
            row.push(bare(found.dynamic_viscosity, mu, FIGURES));
            row.push(bare(found.dynamic_viscosity / found.density, nu, FIGURES));
            row.extend(found.vapour_pressure.map(|vapour| bare(vapour, p_v, FIGURES)));
        }
        Some(row)
    };
    let rows = degrees.iter().filter_map(|degree| row(*degree)).collect();
    let numeric = vec![true; titles.len()];
    heads(titles, &numeric, rows)
}

// ---- units ----

/// Two units: one of the first is so many of the second.
type Pair = (&'static str, &'static str);

/// Units beside one another.
const CONVERSIONS: [Pair; 24] = [
    ("in", "mm"),
    ("ft", "m"),
    ("mi", "km"),
    ("ft^2", "m^2"),
    ("ft^3", "L"),
    ("gal", "L"),
    ("ft/s", "m/s"),
    ("ft^2/s", "m^2/s"),
    ("gpm", "L/s"),
    ("cfs", "L/s"),
    ("cfs", "gpm"),
    ("m^3/h", "L/s"),
    ("psi", "kPa"),
    ("bar", "kPa"),
    ("atm", "kPa"),
    ("ftH2O", "psi"),
    ("mH2O", "kPa"),
    ("mmHg", "kPa"),
    ("lbf", "N"),
    ("lbm", "kg"),
    ("slug", "lbm"),
    ("hp", "kW"),
    ("kWh", "MJ"),
    ("cP", "mPa.s"),
];

/// In the place of some of them, in US customary units: what a line worked in pounds and feet needs.
const CUSTOMARY: [(Pair, Pair); 5] = [
    (("m^3/h", "L/s"), ("MGD", "gpm")),
    (("mH2O", "kPa"), ("psi", "lbf/ft^2")),
    (("mmHg", "kPa"), ("lbf", "lbm.ft/s^2")),
    (("kWh", "MJ"), ("hp", "ft.lbf/s")),
    (("cP", "mPa.s"), ("cP", "lbm/(ft.s)")),
];

fn conversions(units: UnitSystem) -> Vec<Block> {
    let pair = |n: usize| {
        let pair = CONVERSIONS.get(n)?;
        let other = CUSTOMARY.iter().find(|(in_si, _)| in_si == pair);
        Some(match (units, other) {
            (UnitSystem::UsCustomary, Some((_, customary))) => customary,
            _ => pair,
        })
    };
    let cell = |n: usize| match pair(n) {
        Some((one, many)) => {
            let (one, many) = (unit(one), unit(many));
            let value = Written::from_si(one.factor, &many, FIGURES);
            vec![equal(
                Expr::Number(Written::from_si(one.factor, &one, 1)),
                Expr::Number(value),
            )]
        }
        None => Vec::new(),
    };
    // Three beside one another, read downwards.
    let third = CONVERSIONS.len().div_ceil(3);
    let rows = (0..third)
        .map(|n| vec![cell(n), cell(third + n), cell(2 * third + n)])
        .collect();
    vec![
        heading("Units"),
        heads(
            words(&[
                "Length and what is made of it",
                "Flow and pressure",
                "Head, force, mass, power",
            ]),
            &[false; 3],
            rows,
        ),
        Block::Note(vec![
            text(
                "Factors by NIST SP 811 (2008), to four figures; gallons are those of the United States, water in columns has 1000 kg/m³. From °C to °F: multiply by ",
            ),
            Inline::Math(Expr::number(1.8)),
            text(" and add 32."),
        ]),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equation::Style;
    use crate::fluid::TABLE_STEP;
    use crate::hydraulics::friction::{darcy_colebrook, darcy_haaland, darcy_swamee_jain};
    use crate::solution::{plain_blocks, plain_inlines};

    fn sheet(units: UnitSystem) -> Vec<Block> {
        let conventions = Conventions {
            units,
            ..Conventions::default()
        };
        reference(&conventions, &Limits::DEFAULT)
    }

    fn cells(blocks: &[Block], head: &str) -> Vec<Vec<String>> {
        let shown = |cell: &Vec<Inline>| plain_inlines(cell, Style::default());
        blocks
            .iter()
            .find_map(|block| match block {
                Block::Table(table) if shown(&table.head[0]) == head => Some(table),
                _ => None,
            })
            .map(|table| {
                table
                    .rows
                    .iter()
                    .map(|row| row.iter().map(shown).collect())
                    .collect()
            })
            .unwrap_or_default()
    }

    fn number(cell: &str) -> f64 {
        Written::parse(cell).map_or(f64::NAN, |written| written.number)
    }

    /// Densities \[kg/m³\], viscosities \[mPa s\] and vapour pressures \[kPa\] as other books print them; of air at 100 °C
    /// 101 325/(287.053 · 373.15).
    #[test]
    fn properties_are_those_that_books_print() {
        let si = cells(&sheet(UnitSystem::Si), "°C");
        assert_eq!(si.len(), 11);
        for (row, wanted) in [
            (2, ["20", "998.2", "1.002", "1.003", "2.339", "1.204"]),
            (10, ["100", "958.3", "0.2816", "0.2938", "101.4", "0.9460"]),
        ] {
            assert_eq!(si[row][..6], wanted.map(str::to_owned));
        }
        // The same water in the other units: 62.37 lbm/ft³ at 60 °F, 212 °F being 100 °C.
        let us = cells(&sheet(UnitSystem::UsCustomary), "°F");
        assert_eq!(us[3][..2], ["60", "62.37"].map(str::to_owned));
        // Whoever interpolates in it is no further off than in the table that bands allow for.
        for rows in us.windows(2) {
            assert!(
                number(&rows[1][0]) - number(&rows[0][0]) <= 1.8 * TABLE_STEP,
                "{rows:?}"
            );
        }
        let last = us.last().unwrap();
        assert_eq!(last[0], "212");
        assert!((number(&last[1]) * 16.018_463 - 958.3).abs() < 0.1);
        assert!((number(&last[4]) * 6.894_757 - 101.4).abs() < 0.1);
    }

    #[test]
    fn every_fitting_stands_with_its_coefficient_and_source() {
        let rows = cells(&sheet(UnitSystem::Si), "Fitting");
        let pairs: Vec<(&String, f64)> = (rows.iter())
            .flat_map(|row| [(&row[0], number(&row[1])), (&row[2], number(&row[3]))])
            .filter(|(name, _)| !name.is_empty())
            .collect();
        assert_eq!(pairs.len(), FITTINGS.len());
        for fitting in FITTINGS {
            let found = pairs
                .iter()
                .find(|(name, _)| name.rsplit_once(" (").unwrap().0 == fitting.name);
            assert_eq!(found.unwrap().1, fitting.coefficient, "{}", fitting.name);
        }
        let text = plain_blocks(&sheet(UnitSystem::Si), Style::default());
        assert!(text.contains("(a) Crane") && text.contains("globe valve, fully open (b)"));
    }

    #[test]
    fn walls_are_the_same_in_both_units() {
        let (si, us) = (
            cells(&sheet(UnitSystem::Si), "Wall"),
            cells(&sheet(UnitSystem::UsCustomary), "Wall"),
        );
        assert_eq!(2 * si.len(), WALLS.len());
        for (metric, customary) in si.iter().zip(&us) {
            for column in [1, 3] {
                for (mm, ft) in metric[column].split(" to ").zip(customary[column].split(" to ")) {
                    assert!(
                        (number(mm) / number(ft) / 304.8 - 1.0).abs() < 0.05,
                        "{metric:?} {customary:?}"
                    );
                }
            }
        }
        assert_eq!(si[0][..2], ["drawn tubing", "0.0015"].map(str::to_owned));
        assert_eq!(us[3][2..], ["riveted steel", "0.003 to 0.03"].map(str::to_owned));
    }

    /// By NIST SP 811, appendix B.8.
    #[test]
    fn conversions_are_as_tabulated_elsewhere() {
        let text = plain_blocks(&sheet(UnitSystem::Si), Style::default());
        for line in [
            "1 in = 25.40 mm",
            "1 gal = 3.785 L",
            "1 gpm = 0.06309 L/s",
            "1 psi = 6.895 kPa",
            "1 hp = 0.7457 kW",
            "1 slug = 32.17 lbm",
            "1 lbf = 4.448 N",
            "1 ftH₂O = 0.4335 psi",
        ] {
            assert!(text.contains(line), "{line}");
        }
        // A pound of force gives a pound of mass the standard gravity; a gallon is 231 cubic inches; 550 foot-pounds a second
        // are a horsepower; a centipoise is 1e-3 · 0.3048/0.45359237.
        let text = plain_blocks(&sheet(UnitSystem::UsCustomary), Style::default());
        for line in [
            "1 lbf = 32.17 lbm·ft/s²",
            "1 psi = 144.0 lbf/ft²",
            "1 hp = 550.0 ft·lbf/s",
            "1 cfs = 448.8 gpm",
            "1 MGD = 694.4 gpm",
            "1 cP = 6.720×10⁻⁴ lbm/(ft·s)",
        ] {
            assert!(text.contains(line), "{line}");
        }
    }

    /// What the sheet says of the explicit formulas, over their ranges.
    #[test]
    fn explicit_formulas_are_as_near_as_is_said() {
        let (mut haaland, mut swamee) = (0.0_f64, 0.0_f64);
        for i in 0..=80 {
            for j in 0..=60 {
                let re = 5e3 * libm::pow(1e8 / 5e3, f64::from(i) / 80.0);
                let rr = 1e-6 * libm::pow(5e4, f64::from(j) / 60.0);
                let f = darcy_colebrook(re, rr).unwrap();
                haaland = haaland.max((darcy_haaland(re, rr).unwrap() / f - 1.0).abs());
                swamee = swamee.max((darcy_swamee_jain(re, rr).unwrap() / f - 1.0).abs());
            }
        }
        assert!(haaland < 0.02 && swamee < 0.03, "{haaland} {swamee}");
    }
}
