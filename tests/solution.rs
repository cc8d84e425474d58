//! Worked solutions from outside: golden texts, the law that what is printed is what was computed, and the
//! agreement of every way of working with the solver.
//!
//! A golden text is written anew with `GRADELINE_GOLDEN=write cargo test --test solution`; read what changed.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, UnitSystem};
use gradeline::bank::prose::{Block, Inline, Table};
use gradeline::bank::system::System;
use gradeline::bank::template::Asked;
use gradeline::draw::{Candidates, CourseKey};
use gradeline::equation::{Bindings, Expr, Function, Line, Relation, Style};
use gradeline::hydraulics::regime::{Limits, Regime};
use gradeline::quantity::{DecimalMark, Dimension, Unit, Written, round_to_figures};
use gradeline::solution::{Answer, Case, Step, answers, json, plain_text, worked};
use std::path::PathBuf;

const SI: Conventions = Conventions {
    units: UnitSystem::Si,
    decimal_mark: DecimalMark::Point,
    figures: 4,
    property_figures: 4,
};

const US: Conventions = Conventions {
    units: UnitSystem::UsCustomary,
    ..SI
};

/// A test rig's line, fully rough; the numbers are common practice, no source, and about 1.6 L/s should
/// come out.
const ROUGH: &str = "
fluid: { name: water, temperature: 20 degC }
flow: unknown
stations:
  start: { name: pressure gauge, pressure: 379 kPa, elevation: 0 m, velocity: pipe }
  end:   { name: surface of the tank, pressure: 0 kPa, elevation: 3.05 m, velocity: 0 m/s }
path:
  - pipe: { name: line, diameter: 19.1 mm, length: 7.62 m, roughness: 0.5 mm }
  - loss: { name: globe valve, K: 2.0 }
  - loss: { name: exit, K: 1.0 }
";

const ITERATED: &str = "
fluid: { name: water, temperature: 15 degC }
flow: unknown
stations:
  start: { name: surface of the reservoir, pressure: 0 kPa, elevation: 14.0 m, velocity: 0 m/s }
  end:   { name: jet of the nozzle, pressure: 0 kPa, elevation: 2.0 m, velocity: { jet: 30 mm } }
path:
  - loss: { name: sharp entrance, K: 0.5, in: main }
  - pipe: { name: main, diameter: 80 mm, length: 220 m, roughness: 0.15 mm }
  - loss: { name: bends, K: 1.2 }
  - loss: { name: nozzle, K: 0.8 }
";

const LAMINAR: &str = "
fluid: { name: gear oil, density: 884 kg/m^3, dynamic viscosity: 0.105 Pa.s }
flow: unknown
stations:
  start: { name: outlet of the head tank, pressure: 80 kPa, elevation: 2.5 m, velocity: pipe }
  end:   { name: inlet of the bearing, pressure: 0 kPa, elevation: 0 m, velocity: pipe }
path:
  - pipe: { name: line, diameter: 16 mm, length: 9.5 m, roughness: 0.01 mm }
";

const LAMINAR_QUADRATIC: &str = "
fluid: { name: gear oil, density: 884 kg/m^3, kinematic viscosity: 1.2e-4 m^2/s }
flow: unknown
stations:
  start: { name: surface of the head tank, pressure: 0 kPa, elevation: 6.0 m, velocity: 0 m/s }
  end:   { name: end of the line, pressure: 0 kPa, elevation: 0 m, velocity: pipe }
path:
  - loss: { name: entrance, K: 0.8, in: line }
  - pipe: { name: line, diameter: 25 mm, length: 12 m, roughness: 0.01 mm }
  - loss: { name: strainer, K: 6 }
";

const DIAMETER: &str = "
fluid: { name: sea water, density: 1026 kg/m^3, kinematic viscosity: 1.20e-6 m^2/s }
flow: 42.0 L/s
stations:
  start: { name: outlet of the pump, pressure: 340 kPa, elevation: 0 m, velocity: pipe }
  end:   { name: inlet of the monitor, pressure: 80 kPa, elevation: 10.5 m, velocity: pipe }
path:
  - pipe: { name: line, diameter: unknown, length: 120 m, roughness: 0.20 mm }
  - loss: { name: fittings, K: 6.5 }
";

const DIAMETER_PLAIN: &str = "
fluid: { name: water, temperature: 10 degC }
flow: 30.0 L/s
stations:
  start: { name: first gauge, pressure: 250 kPa, elevation: 0 m, velocity: pipe }
  end:   { name: second gauge, pressure: 100 kPa, elevation: 0 m, velocity: pipe }
path:
  - pipe: { name: line, diameter: unknown, length: 400 m, roughness: 0.1 mm }
";

const PUMP: &str = "
fluid: { name: water, temperature: 12 degC }
flow: 16.0 L/s
stations:
  start: { name: surface of the sump, pressure: 0 kPa, elevation: 0 m, velocity: 0 m/s }
  end:   { name: surface of the tower tank, pressure: 0 kPa, elevation: 31.5 m, velocity: 0 m/s }
path:
  - loss: { name: sharp entrance, K: 0.5, in: main }
  - pipe: { name: main, diameter: 125 mm, length: 340 m, roughness: 0.15 mm }
  - pump: { name: lift pump, power: unknown, efficiency: 0.72 }
  - loss: { name: exit, K: 1.0 }
";

const TURBINE: &str = "
fluid: { name: water, temperature: 8 degC }
flow: 1.20 m^3/s
stations:
  start: { name: surface of the upper pond, pressure: 0 kPa, elevation: 62.0 m, velocity: 0 m/s }
  end:   { name: surface of the tail water, pressure: 0 kPa, elevation: 0 m, velocity: 0 m/s }
path:
  - loss: { name: rounded entrance, K: 0.1, in: penstock }
  - pipe: { name: penstock, diameter: 700 mm, length: 180 m, roughness: 0.6 mm }
  - turbine: { name: turbine, power: unknown, efficiency: 0.87 }
  - loss: { name: exit, K: 1.0 }
";

const SERIES: &str = "
fluid: { name: water, temperature: 10 degC }
flow: unknown
stations:
  start: { name: surface of the cold store, pressure: 0 kPa, elevation: 12.0 m, velocity: 0 m/s }
  end:   { name: end of the second pipe, pressure: 0 kPa, elevation: 0 m, velocity: pipe }
path:
  - loss: { name: sharp entrance, K: 0.5, in: first }
  - pipe: { name: first, diameter: 90 mm, length: 52 m, roughness: 0.8 mm }
  - loss: { name: contraction, K: 0.30, in: second }
  - pipe: { name: second, diameter: 55 mm, length: 18 m, roughness: 0.8 mm }
";

const LEVEL: &str = "
fluid: { name: water, temperature: 16 degC }
flow: 24.0 L/s
stations:
  start: { name: upstream gauge, pressure: unknown, elevation: 0 m, velocity: pipe }
  end:   { name: downstream gauge, pressure: 150 kPa, elevation: 0 m, velocity: pipe }
path:
  - pipe: { name: line, diameter: 150 mm, length: 85 m, roughness: 0.045 mm }
  - loss: { name: gate valve, K: 0.2 }
";

/// One system for each kind of unknown, and for each way of working.
fn systems() -> Vec<(&'static str, String)> {
    let mut all = vec![
        ("flow-fully-rough", ROUGH.to_owned()),
        ("flow-iterated", ITERATED.to_owned()),
        ("flow-laminar", LAMINAR.to_owned()),
        ("flow-laminar-quadratic", LAMINAR_QUADRATIC.to_owned()),
        ("diameter", DIAMETER.to_owned()),
        ("diameter-friction-alone", DIAMETER_PLAIN.to_owned()),
        ("pump-power", PUMP.to_owned()),
        ("turbine-power", TURBINE.to_owned()),
        ("two-pipes-in-series", SERIES.to_owned()),
        ("pressure-in-a-level-pipe", LEVEL.to_owned()),
    ];
    let change = |text: &str, pairs: &[(&str, &str)]| {
        let mut text = text.to_owned();
        for (old, new) in pairs {
            assert!(text.contains(old), "{old}");
            text = text.replace(old, new);
        }
        text
    };
    all.push((
        "end-pressure",
        change(
            LEVEL,
            &[("pressure: unknown", "pressure: 212 kPa"), ("150 kPa", "unknown")],
        ),
    ));
    all.push((
        "start-elevation",
        change(
            ITERATED,
            &[("flow: unknown", "flow: 4.5 L/s"), ("14.0 m", "unknown")],
        ),
    ));
    all.push((
        "end-elevation",
        change(
            ROUGH,
            &[("flow: unknown", "flow: 1.4 L/s"), ("3.05 m", "unknown")],
        ),
    ));
    all.push((
        "length",
        change(
            ROUGH,
            &[("flow: unknown", "flow: 1.4 L/s"), ("7.62 m", "unknown")],
        ),
    ));
    all.push((
        "roughness",
        change(
            ROUGH,
            &[("flow: unknown", "flow: 1.8 L/s"), ("0.5 mm", "unknown")],
        ),
    ));
    all.push((
        "loss",
        change(
            ROUGH,
            &[("flow: unknown", "flow: 1.4 L/s"), ("K: 2.0", "K: unknown")],
        ),
    ));
    all.push((
        "pump-head",
        change(PUMP, &[("power: unknown, efficiency: 0.72", "head: unknown")]),
    ));
    all.push((
        "turbine-head",
        change(TURBINE, &[("power: unknown, efficiency: 0.87", "head: unknown")]),
    ));
    all.push((
        "flow-from-pump-head",
        change(
            PUMP,
            &[
                ("16.0 L/s", "unknown"),
                ("power: unknown, efficiency: 0.72", "head: 40 m"),
            ],
        ),
    ));
    all.push((
        "flow-from-pump-power",
        change(
            PUMP,
            &[("16.0 L/s", "unknown"), ("power: unknown", "power: 9.0 kW")],
        ),
    ));
    all.push((
        "flow-from-turbine-power",
        change(
            TURBINE,
            &[("1.20 m^3/s", "unknown"), ("power: unknown", "power: 400 kW")],
        ),
    ));
    all.push((
        "diameter-laminar",
        change(
            LAMINAR,
            &[("flow: unknown", "flow: 5.0 L/min"), ("16 mm", "unknown")],
        ),
    ));
    all.push((
        "diameter-laminar-with-losses",
        change(
            LAMINAR_QUADRATIC,
            &[("flow: unknown", "flow: 0.50 L/s"), ("25 mm", "unknown")],
        ),
    ));
    all.push((
        "diameter-of-two",
        change(
            SERIES,
            &[("flow: unknown", "flow: 8.0 L/s"), ("55 mm", "unknown")],
        ),
    ));
    all.push(("flow-smooth", change(ITERATED, &[("0.15 mm", "0 mm")])));
    all.push((
        "loss-of-two-pipes",
        change(
            SERIES,
            &[("flow: unknown", "flow: 8.0 L/s"), ("K: 0.30", "K: unknown")],
        ),
    ));
    all.push((
        "laminar-pressure",
        change(
            LAMINAR,
            &[
                ("flow: unknown", "flow: 3.0 L/min"),
                ("pressure: 80 kPa", "pressure: unknown"),
            ],
        ),
    ));
    all.push((
        "laminar-pump-power",
        change(
            LAMINAR_QUADRATIC,
            &[
                ("elevation: 6.0 m", "elevation: 1.0 m"),
                (
                    "  - loss: { name: strainer",
                    "  - pump: { name: feed pump, power: 20 W, efficiency: 0.6 }\n  - loss: { name: strainer",
                ),
            ],
        ),
    ));
    all.push((
        "one-of-two-pipes-laminar",
        "
fluid: { name: thin oil, density: 850 kg/m^3, dynamic viscosity: 0.0085 Pa.s }
flow: unknown
stations:
  start: { name: surface of the tank, pressure: 0 kPa, elevation: 5.0 m, velocity: 0 m/s }
  end:   { name: end of the hose, pressure: 0 kPa, elevation: 0 m, velocity: pipe }
path:
  - pipe: { name: wide, diameter: 220 mm, length: 40 m, roughness: 0.05 mm }
  - pipe: { name: narrow, diameter: 30 mm, length: 6 m, roughness: 0.05 mm }
"
        .to_owned(),
    ));
    let two = all[all.len() - 1].1.clone();
    all.push(("one-of-two-pipes-critical", change(&two, &[("220 mm", "120 mm")])));
    all.push(("absolute-pressure", change(ROUGH, &[("379 kPa", "480 kPa abs")])));
    all
}

/// Two tanks of every pair of shapes, through one pipe and through two.
fn two_tanks() -> Vec<(String, String)> {
    let shapes = [
        "diameter: 3 m",
        "area: 6 m^2",
        "sphere: { diameter: 4 m }",
        "cone: { floor diameter: 1 m, top diameter: 4 m, height: 4 m }",
        "lying cylinder: { diameter: 4 m, length: 3 m }",
    ];
    let paths = [
        "  - pipe: { name: cross pipe, diameter: 100 mm, length: 22 m, roughness: 0.3 mm }",
        "  - pipe: { name: wide, diameter: 100 mm, length: 12 m, roughness: 0.3 mm }
  - loss: { name: contraction, K: 0.3 }
  - pipe: { name: narrow, diameter: 80 mm, length: 8 m, roughness: 0.3 mm }",
    ];
    let mut all = Vec::new();
    for one in shapes {
        for other in shapes {
            for (n, path) in paths.iter().enumerate() {
                for until in ["until: 2.6 m", "until difference: 0.5 m"] {
                    all.push((
                        format!("{one} into {other}, {} pipes, {until}", n + 1),
                        format!(
                            "
fluid: {{ name: water, temperature: 15 degC }}
tank: {{ name: port tank, {one}, level: 3.1 m, {until} }}
second tank: {{ name: starboard tank, {other}, level: 0.7 m }}
time: unknown
path:
  - loss: {{ name: entrance, K: 0.8 }}
{path}
  - loss: {{ name: exit, K: 1.0 }}
"
                        ),
                    ));
                }
            }
        }
    }
    all
}

/// The level of the second tank at the end, and every symbol of the first flow, are worked out and not only used.
#[test]
fn two_tanks_say_where_their_levels_and_flows_come_from() {
    let mut seen = 0;
    for (name, yaml) in two_tanks() {
        for conventions in [SI, US] {
            let case = solve(&name, &yaml);
            let steps = work(&name, &case, &conventions);
            check_lines(&name, &steps);
            check_units(&name, &steps);
            let text = plain_text(&steps, style(&conventions));
            assert!(text.contains("h_2s = "), "{name}: {text}");
            seen += 1;
            if name.contains("2 pipes") {
                for symbol in ["R = ", "N_wide = ", "R₁ = ", "N_1_narrow = "] {
                    assert!(text.contains(symbol), "{name}: {symbol} in {text}");
                }
            }
        }
    }
    assert_eq!(seen, 200);
}

/// Two pipes of the same bore and wall: one of them is worked out, the other is said to be the same.
#[test]
fn pipes_that_are_alike_are_worked_out_once() {
    let yaml = SERIES.replace("55 mm", "90 mm");
    let given = yaml
        .replace("flow: unknown", "flow: 8.0 L/s")
        .replace("K: 0.30", "K: unknown");
    for (name, yaml, reads) in [
        ("unknown flow", &yaml, 1),
        ("known flow", &given, 1),
        ("not alike", &SERIES.to_owned(), 2),
    ] {
        let case = solve(name, yaml);
        let steps = work(name, &case, &SI);
        check_lines(name, &steps);
        let text = plain_text(&steps, style(&SI)).replace(['\n', ' '], "");
        assert_eq!(text.matches("Enterthechart").count(), reads, "{name}");
        assert_eq!(text.contains("V_second=V_first="), reads == 1, "{name}: {text}");
    }
}

/// A height that no one told is not printed, nor a pressure that would hang on it.
#[test]
fn untold_heights_are_left_open() {
    let yaml = ITERATED.replace(
        "  - loss: { name: bends",
        "  - point: { name: rise, elevation: 9 m }\n  - loss: { name: bends",
    );
    let case = solve("untold", &yaml);
    let steps = work("untold", &case, &SI);
    let tables = tables(&steps);
    let heads = tables
        .iter()
        .find(|table| matches!(table.head[0].as_slice(), [Inline::Text(t)] if t == "Where"));
    for row in &heads.unwrap().rows {
        let [Inline::Text(place)] = row[0].as_slice() else {
            panic!("{row:?}");
        };
        let open = |cell: &[Inline]| matches!(cell, [Inline::Text(dash)] if dash == "–");
        // The surface is a station, and the mouth of the pipe lies somewhere below it.
        let untold = place.ends_with("entrance") || place == "before main";
        assert_eq!((open(&row[2]), open(&row[5])), (untold, untold), "{place}");
        assert!(!open(&row[3]) && !open(&row[4]), "{place}");
    }
}

fn solve(name: &str, yaml: &str) -> Case {
    let system = System::parse(yaml, name).unwrap_or_else(|e| panic!("{name}: {e}"));
    Case::solve(system, Some(4), &Limits::default()).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn work(name: &str, case: &Case, conventions: &Conventions) -> Vec<Step> {
    worked(case, None, &Limits::default(), conventions).unwrap_or_else(|e| panic!("{name}: {e:?}"))
}

fn style(conventions: &Conventions) -> Style {
    Style {
        mark: conventions.decimal_mark,
    }
}

fn golden(name: &str, text: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/golden/solution")
        .join(name);
    if std::env::var("GRADELINE_GOLDEN").as_deref() == Ok("write") {
        std::fs::write(&path, text).expect("the golden folder can be written");
    }
    let wanted = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        wanted == text,
        "{name} differs from what it was. If it is meant to, write it anew and read the difference.\n{text}"
    );
}

#[test]
fn golden_texts() {
    for (name, yaml) in systems() {
        if matches!(
            name,
            "flow-fully-rough"
                | "flow-iterated"
                | "flow-laminar"
                | "flow-laminar-quadratic"
                | "diameter"
                | "pump-power"
                | "turbine-power"
                | "two-pipes-in-series"
                | "pressure-in-a-level-pipe"
                | "flow-from-pump-power"
                | "roughness"
        ) {
            let case = solve(name, &yaml);
            golden(
                &format!("{name}.txt"),
                &plain_text(&work(name, &case, &SI), style(&SI)),
            );
        }
    }
    let case = solve("us", ROUGH);
    golden(
        "flow-fully-rough-us.txt",
        &plain_text(&work("us", &case, &US), style(&US)),
    );
    let comma = Conventions {
        decimal_mark: DecimalMark::Comma,
        ..SI
    };
    let case = solve("comma", PUMP);
    golden(
        "pump-power-comma.txt",
        &plain_text(&work("comma", &case, &comma), style(&comma)),
    );
    golden(
        "two-pipes-in-series.json",
        &json(&solve("json", SERIES), &Limits::default()),
    );
}

/// Every block of steps, those in lists too.
fn blocks(steps: &[Step]) -> Vec<&Block> {
    fn inside<'a>(block: &'a Block, all: &mut Vec<&'a Block>) {
        all.push(block);
        if let Block::List { items, .. } = block {
            for block in items.iter().flatten() {
                inside(block, all);
            }
        }
    }
    let mut all = Vec::new();
    for block in steps.iter().flat_map(|s| &s.body) {
        inside(block, &mut all);
    }
    all
}

fn lines(steps: &[Step]) -> Vec<&Line> {
    blocks(steps)
        .into_iter()
        .filter_map(|b| match b {
            Block::Equation(lines) => Some(lines),
            _ => None,
        })
        .flatten()
        .collect()
}

fn tables(steps: &[Step]) -> Vec<&Table> {
    blocks(steps)
        .into_iter()
        .filter_map(|b| match b {
            Block::Table(table) => Some(table),
            _ => None,
        })
        .collect()
}

/// The values that a printed number may stand for. A small number without a unit or a decimal point (the 64 in
/// 64/Re) is exact.
fn printed(written: &Written) -> (f64, f64) {
    let exact = written.unit.dimension == Dimension::NONE
        && written.shown.exponent.is_none()
        && !written.shown.digits.contains('.')
        && written.number.abs() < 200.0;
    // 3.7 and 2.51 of the friction law are exact as well; taking them as rounded only widens.
    let half = if exact || written.number == 0.0 {
        0.0
    } else {
        let place = libm::floor(libm::log10(written.number.abs())) as i32 - written.figures as i32 + 1;
        0.5 * libm::pow(10.0, f64::from(place))
    };
    let ends = [
        written.unit.to_si(written.number - half),
        written.unit.to_si(written.number + half),
    ];
    (ends[0].min(ends[1]), ends[0].max(ends[1]))
}

/// The values that a side may have, given what its printed numbers may stand for; `None` with a symbol in it.
fn reach(expr: &Expr) -> Option<(f64, f64)> {
    let hull = |values: &[f64]| {
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (low, high)
    };
    Some(match expr {
        Expr::Number(written) => printed(written),
        Expr::Pi => (std::f64::consts::PI, std::f64::consts::PI),
        Expr::Negative(a) => {
            let (low, high) = reach(a)?;
            (-high, -low)
        }
        Expr::Add(a, b) => {
            let (a, b) = (reach(a)?, reach(b)?);
            (a.0 + b.0, a.1 + b.1)
        }
        Expr::Subtract(a, b) => {
            let (a, b) = (reach(a)?, reach(b)?);
            (a.0 - b.1, a.1 - b.0)
        }
        Expr::Multiply(a, b) => {
            let (a, b) = (reach(a)?, reach(b)?);
            hull(&[a.0 * b.0, a.0 * b.1, a.1 * b.0, a.1 * b.1])
        }
        Expr::Divide(a, b) => {
            let (a, b) = (reach(a)?, reach(b)?);
            assert!(b.0 * b.1 > 0.0, "division by what may be nought");
            hull(&[a.0 / b.0, a.0 / b.1, a.1 / b.0, a.1 / b.1])
        }
        Expr::Power(a, b) => {
            let (a, b) = (reach(a)?, reach(b)?);
            hull(&[
                libm::pow(a.0, b.0),
                libm::pow(a.0, b.1),
                libm::pow(a.1, b.0),
                libm::pow(a.1, b.1),
            ])
        }
        Expr::Call(Function::Sqrt, a) => {
            let a = reach(&a[0])?;
            (a.0.max(0.0).sqrt(), a.1.sqrt())
        }
        Expr::Call(Function::Log10, a) => {
            let a = reach(&a[0])?;
            (libm::log10(a.0), libm::log10(a.1))
        }
        _ => return None,
    })
}

/// Works out again every side of a line that holds only numbers; all of them, within what rounding leaves
/// open, must be the same value. How many were compared.
fn check_lines(name: &str, steps: &[Step]) -> usize {
    let mut seen = 0;
    // Equations within words count as well.
    let within = blocks(steps)
        .into_iter()
        .filter_map(|block| match block {
            Block::Paragraph(words) => Some(words),
            _ => None,
        })
        .flatten()
        .filter_map(|inline| match inline {
            Inline::Math(Expr::Compare(a, Relation::Equal, b)) => {
                Some(Line::equal((**a).clone(), (**b).clone()))
            }
            _ => None,
        })
        .collect::<Vec<_>>();
    for line in lines(steps).into_iter().chain(&within) {
        let sides: Vec<_> = std::iter::once(&line.first)
            .chain(
                line.rest
                    .iter()
                    .filter(|(r, _)| *r == Relation::Equal)
                    .map(|(_, e)| e),
            )
            .filter_map(reach)
            .collect();
        for pair in sides.windows(2) {
            seen += 1;
            let slack = 1e-9 * pair[0].1.abs().max(pair[1].1.abs());
            assert!(
                pair[0].0 <= pair[1].1 + slack && pair[1].0 <= pair[0].1 + slack,
                "{name}: {} : {pair:?}",
                line.plain(Style::default())
            );
        }
    }
    seen
}

/// Law 1: what is printed is what was computed.
#[test]
fn every_printed_line_can_be_worked_out_again() {
    let mut seen = 0;
    for (name, yaml) in systems() {
        for conventions in [SI, US] {
            let case = solve(name, &yaml);
            seen += check_lines(name, &work(name, &case, &conventions));
        }
    }
    assert!(seen > 500, "{seen} lines were worked out again");
}

/// The law's own check finds a line whose numbers do not fit.
#[test]
#[should_panic(expected = "false")]
fn a_false_line_is_found() {
    let number = |text: &str| Expr::Number(Written::parse(text).unwrap());
    let line = Line::single(number("2.00 m/s"))
        .then(Relation::Equal, number("4.00 m") / number("2.00 s"))
        .then(Relation::Equal, number("2.02 m/s"));
    check_lines(
        "false",
        &[Step {
            title: String::new(),
            body: vec![Block::Equation(vec![line])],
            chart: Vec::new(),
        }],
    );
}

/// Every template of the bank, over draws as they come, wanted or not.
#[test]
fn every_template_is_worked_out_for_any_draw() {
    let key = CourseKey::from_bytes([7; 32]);
    let bank = builtin_bank();
    assert!(bank.templates.len() >= 8);
    for template in &bank.templates {
        let name = template.name.as_str();
        let seed = key.seed("test", template, "anyone", 1);
        let mut solved = 0;
        for draw in Candidates::new(template, &seed).take(25) {
            let givens = draw.bindings(template);
            let system = draw.system(template).unwrap_or_else(|e| panic!("{name}: {e}"));
            let Ok(case) = Case::solve(system, Some(4), &Limits::default()) else {
                continue;
            };
            solved += 1;
            for conventions in [SI, US] {
                let steps = worked(
                    &case,
                    Some((template.as_ref(), &givens)),
                    &Limits::default(),
                    &conventions,
                )
                .unwrap_or_else(|e| panic!("{name}: {e:?}"));
                check_lines(name, &steps);
                check_iterations(name, &steps);
                let bare = work(name, &case, &conventions);
                let unknown = &lines(&bare[bare.len() - 1..])[0].first;
                check_arrival(name, &case, unknown, &steps[..steps.len() - 1]);
                let answers = answers(template, &givens, &case).unwrap_or_else(|e| panic!("{name}: {e:?}"));
                let [Block::List { items, .. }] = steps[steps.len() - 1].body.as_slice() else {
                    panic!("{name}: the last step is a list of parts");
                };
                for ((part, answer), item) in template.parts.iter().zip(&answers).zip(items) {
                    let (Asked::Number { formula, figures, .. }, Answer::Number(quantity)) =
                        (&part.asked, answer)
                    else {
                        continue;
                    };
                    // The part's line ends with the answer as asked; a mere symbol's stands in the words.
                    let written = item
                        .iter()
                        .find_map(|block| match block {
                            Block::Equation(lines) => {
                                lines
                                    .iter()
                                    .find_map(|line| match (&line.first, line.rest.last()) {
                                        (first, Some((_, Expr::Number(written)))) if first == formula => {
                                            Some(written)
                                        }
                                        _ => None,
                                    })
                            }
                            Block::Paragraph(words) => match words.as_slice() {
                                [_, _, Inline::Math(first), .., Inline::Value(written)]
                                    if first == formula =>
                                {
                                    Some(written)
                                }
                                _ => None,
                            },
                            _ => None,
                        })
                        .unwrap_or_else(|| panic!("{name}: part {} has no line", part.name));
                    assert_eq!(written.figures, *figures, "{name}: {}", part.name);
                    assert_eq!(
                        written.number,
                        round_to_figures(written.unit.from_si(quantity.value), *figures),
                        "{name}: {}",
                        part.name
                    );
                }
            }
        }
        assert!(solved >= 15, "{name}: only {solved} of 25 draws could be solved");
    }
}

/// The last value that the working gives to the unknown must be the solver's, as printed.
fn check_arrival(name: &str, case: &Case, unknown: &Expr, before: &[Step]) {
    let mut found = None;
    for block in blocks(before) {
        match block {
            Block::Equation(lines) => {
                for line in lines {
                    if let Some((_, Expr::Number(written))) = line.rest.last()
                        && line.first == *unknown
                    {
                        found = Some(written.clone());
                    }
                }
            }
            // What a table closes in on stands in its last row.
            Block::Table(table) => {
                let column = table
                    .head
                    .iter()
                    .position(|head| matches!(head.as_slice(), [Inline::Math(symbol)] if symbol == unknown));
                if let (Some(column), Some(row)) = (column, table.rows.last())
                    && let [Inline::Value(written)] = row[column].as_slice()
                {
                    found = Some(written.clone());
                }
            }
            // What is found by trial stands in the words.
            Block::Paragraph(words) => {
                for three in words.windows(3) {
                    if let [Inline::Math(symbol), Inline::Text(is), Inline::Value(written)] = three
                        && is == " = "
                        && symbol == unknown
                    {
                        found = Some(written.clone());
                    }
                }
            }
            _ => {}
        }
    }
    let written = found.unwrap_or_else(|| panic!("{name}: the working never says what the unknown is"));
    let value = match (case.path(), unknown) {
        (Some(path), _) => path.solved.value,
        (None, Expr::Symbol(symbol)) => case.results(&SI).get(symbol).unwrap().quantity.value,
        (None, other) => panic!("{name}: {other:?}"),
    };
    let solver = written.unit.from_si(value);
    assert_eq!(
        written.number,
        round_to_figures(solver, written.figures),
        "{name}: {} against {solver}",
        written.ascii()
    );
}

#[test]
fn the_working_arrives_at_the_solvers_answer() {
    for (name, yaml) in systems() {
        for conventions in [SI, US] {
            let case = solve(name, &yaml);
            let steps = work(name, &case, &conventions);
            let (answer, before) = steps.split_last().unwrap();
            let last = lines(std::slice::from_ref(answer));
            let Some((_, Expr::Number(said))) = last[0].rest.last() else {
                panic!("{name}: the answer is no number");
            };
            assert_eq!(said.figures, 3, "{name}");
            assert_eq!(
                said.number,
                round_to_figures(said.unit.from_si(case.path().unwrap().solved.value), 3),
                "{name}"
            );
            check_arrival(name, &case, &last[0].first, before);
        }
    }
}

/// The passes must come nearer and nearer, and end where taken and read are the same as printed. How many
/// tables there were.
fn check_iterations(name: &str, steps: &[Step]) -> usize {
    let mut seen = 0;
    for table in tables(steps) {
        let head: Vec<_> = table.head.iter().map(|cell| cell.last()).collect();
        let is = |cell: Option<&Inline>, words: &str| matches!(cell, Some(Inline::Text(t)) if t == words);
        let taken: Vec<_> = (0..head.len()).filter(|i| is(head[*i], " taken")).collect();
        let read: Vec<_> = (0..head.len()).filter(|i| is(head[*i], " then read")).collect();
        if taken.is_empty() {
            continue;
        }
        seen += 1;
        assert_eq!(taken.len(), read.len(), "{name}");
        let number = |row: &[Vec<Inline>], column: usize| match row[column].as_slice() {
            [Inline::Value(written)] => Some(written.number),
            _ => None,
        };
        for (a, b) in taken.iter().zip(&read) {
            let gaps: Vec<f64> = table
                .rows
                .iter()
                .filter_map(|row| Some((number(row, *a)? - number(row, *b)?).abs()))
                .collect();
            // Both numbers are rounded, so one step of the last place is not yet a step away.
            let last_place = match table.rows[0][*b].as_slice() {
                [Inline::Value(written)] => {
                    let (low, high) = printed(written);
                    high - low
                }
                _ => 0.0,
            };
            for pair in gaps.windows(2) {
                assert!(pair[1] <= pair[0] + 1.001 * last_place, "{name}: {gaps:?}");
            }
            assert_eq!(gaps.last(), Some(&0.0), "{name}: {gaps:?}");
        }
    }
    seen
}

#[test]
fn iterations_settle_and_never_stray() {
    let mut seen = 0;
    for (name, yaml) in systems() {
        let case = solve(name, &yaml);
        seen += check_iterations(name, &work(name, &case, &SI));
    }
    assert!(seen >= 8, "{seen} iterations");
}

#[test]
fn the_ways_of_working_are_the_ones_meant() {
    let regime = |name: &str| {
        let (_, yaml) = systems().into_iter().find(|(n, _)| *n == name).unwrap();
        solve(name, &yaml)
            .path()
            .unwrap()
            .solved
            .state
            .pipes
            .iter()
            .map(|p| p.regime)
            .collect::<Vec<_>>()
    };
    assert_eq!(regime("flow-fully-rough"), [Regime::FullyRough]);
    assert_eq!(regime("flow-iterated"), [Regime::TransitionallyRough]);
    assert_eq!(regime("flow-laminar"), [Regime::Laminar]);
    assert_eq!(regime("flow-laminar-quadratic"), [Regime::Laminar]);
    assert_eq!(regime("diameter-laminar"), [Regime::Laminar]);
    assert_eq!(regime("diameter-laminar-with-losses"), [Regime::Laminar]);
    assert_eq!(regime("laminar-pump-power"), [Regime::Laminar]);
    assert_eq!(regime("flow-smooth"), [Regime::Smooth]);
    assert_eq!(regime("one-of-two-pipes-laminar")[0], Regime::Laminar);
    assert_ne!(regime("one-of-two-pipes-laminar")[1], Regime::Laminar);
    assert_eq!(regime("one-of-two-pipes-critical")[0], Regime::Critical);
}

/// The bench line's numbers are common practice, no source.
#[test]
fn the_bench_line_carries_about_what_it_should() {
    let case = solve("bench", ROUGH);
    assert!(
        (case.path().unwrap().solved.state.flow - 1.6e-3).abs() < 0.06e-3,
        "{}",
        case.path().unwrap().solved.state.flow
    );
    assert!((case.path().unwrap().solved.state.pipes[0].velocity - 5.4).abs() < 0.2);
    assert!((case.path().unwrap().solved.state.pipes[0].reynolds - 1.0e5).abs() < 0.1e5);
}

/// No line of a text is wider than a terminal of 88 columns.
#[test]
fn texts_fit_a_terminal() {
    use unicode_width::UnicodeWidthStr;
    for (name, yaml) in systems() {
        for conventions in [SI, US] {
            let case = solve(name, &yaml);
            let text = plain_text(&work(name, &case, &conventions), style(&conventions));
            for line in text.lines() {
                assert!(line.width() <= 88, "{name}: {line}");
                assert_eq!(line.trim_end(), line, "{name}");
            }
        }
    }
}

#[test]
fn json_has_the_shape_that_is_promised() {
    for (name, yaml) in systems() {
        let case = solve(name, &yaml);
        let value: serde_json::Value = serde_json::from_str(&json(&case, &Limits::default())).unwrap();
        assert_eq!(
            value["unknown"]["value"].as_f64(),
            Some(case.path().unwrap().solved.value),
            "{name}"
        );
        assert_eq!(
            value["flow"].as_f64(),
            Some(case.path().unwrap().solved.state.flow),
            "{name}"
        );
        assert!(
            value["pipes"][0]["friction_factor"].as_f64().unwrap() > 0.0,
            "{name}"
        );
        assert_eq!(
            value["solutions"][0].as_f64(),
            Some(case.path().unwrap().solved.value),
            "{name}"
        );
        assert!(value["warnings"].is_array(), "{name}");
    }
}

/// What a reader who works with the printed numbers alone comes to: the least and the greatest, and the unit as powers
/// of the words in it, each unit a word of its own; what its prefixes stand for counts as a power of ten.
struct Read {
    low: f64,
    high: f64,
    unit: std::collections::BTreeMap<&'static str, f64>,
}

/// A printed unit, word by word. SI words are taken apart, since their prefixes are plain to see; psi is lbf/in².
fn unit_words(symbol: &str) -> (f64, std::collections::BTreeMap<&'static str, f64>) {
    /// A unit, its power of ten, and what it is made of.
    type Word = (&'static str, f64, &'static [(&'static str, f64)]);
    const WORDS: &[Word] = &[
        ("m", 1.0, &[("m", 1.0)]),
        ("mm", 1e-3, &[("m", 1.0)]),
        ("µm", 1e-6, &[("m", 1.0)]),
        ("L", 1e-3, &[("m", 3.0)]),
        ("mL", 1e-6, &[("m", 3.0)]),
        ("s", 1.0, &[("s", 1.0)]),
        ("kg", 1.0, &[("kg", 1.0)]),
        ("N", 1.0, &[("kg", 1.0), ("m", 1.0), ("s", -2.0)]),
        ("Pa", 1.0, &[("kg", 1.0), ("m", -1.0), ("s", -2.0)]),
        ("mPa", 1e-3, &[("kg", 1.0), ("m", -1.0), ("s", -2.0)]),
        ("kPa", 1e3, &[("kg", 1.0), ("m", -1.0), ("s", -2.0)]),
        ("MPa", 1e6, &[("kg", 1.0), ("m", -1.0), ("s", -2.0)]),
        ("J", 1.0, &[("kg", 1.0), ("m", 2.0), ("s", -2.0)]),
        ("W", 1.0, &[("kg", 1.0), ("m", 2.0), ("s", -3.0)]),
        ("kW", 1e3, &[("kg", 1.0), ("m", 2.0), ("s", -3.0)]),
        ("MW", 1e6, &[("kg", 1.0), ("m", 2.0), ("s", -3.0)]),
        ("kWh", 1e3, &[("kg", 1.0), ("m", 2.0), ("s", -3.0), ("h", 1.0)]),
        ("MWh", 1e6, &[("kg", 1.0), ("m", 2.0), ("s", -3.0), ("h", 1.0)]),
        ("psi", 1.0, &[("lbf", 1.0), ("in", -2.0)]),
        ("ft", 1.0, &[("ft", 1.0)]),
        ("in", 1.0, &[("in", 1.0)]),
        ("lbm", 1.0, &[("lbm", 1.0)]),
        ("lbf", 1.0, &[("lbf", 1.0)]),
        ("hp", 1.0, &[("hp", 1.0)]),
        ("gpm", 1.0, &[("gpm", 1.0)]),
        ("gal", 1.0, &[("gal", 1.0)]),
        ("min", 1.0, &[("min", 1.0)]),
        ("h", 1.0, &[("h", 1.0)]),
        ("d", 1.0, &[("d", 1.0)]),
        ("yr", 1.0, &[("yr", 1.0)]),
        ("rpm", 1.0, &[("rpm", 1.0)]),
        ("%", 1.0, &[("%", 1.0)]),
        ("1", 1.0, &[]),
        ("", 1.0, &[]),
    ];
    let (mut scale, mut unit) = (1.0, std::collections::BTreeMap::new());
    let (above, below) = symbol.split_once('/').unwrap_or((symbol, ""));
    // `m/(L/s)`: what is below the second stroke is above the first.
    let below = below.trim_matches(['(', ')']);
    let (below, twice) = below.split_once('/').unwrap_or((below, ""));
    for (side, sign) in [(above, 1.0), (below, -1.0), (twice, 1.0)] {
        for part in side.split('·') {
            let word = part.trim_end_matches(['⁻', '¹', '²', '³', '⁴', '⁵', '⁶']);
            let power = match &part[word.len()..] {
                "" => 1.0,
                "⁻¹" => -1.0,
                "²" => 2.0,
                "³" => 3.0,
                "⁴" => 4.0,
                "⁵" => 5.0,
                other => panic!("the power {other} of {symbol}"),
            };
            let (_, of, words) = WORDS
                .iter()
                .find(|(w, ..)| *w == word)
                .unwrap_or_else(|| panic!("the unit {word} of {symbol}"));
            scale *= libm::pow(*of, sign * power);
            for (word, times) in *words {
                *unit.entry(*word).or_insert(0.0) += sign * power * times;
            }
        }
    }
    (scale, unit)
}

/// Works a side out from its printed numbers; `None` with a symbol in it. Panics where a sum has two units.
fn read(side: &Expr) -> Option<Read> {
    let hull = |all: &[f64]| {
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        (low, all.iter().copied().fold(f64::NEG_INFINITY, f64::max))
    };
    let joined = |a: Read, b: Read, sign: f64, ends: (f64, f64)| {
        let mut unit = a.unit;
        for (word, power) in b.unit {
            *unit.entry(word).or_insert(0.0) += sign * power;
        }
        unit.retain(|_, power| *power != 0.0);
        Read {
            low: ends.0,
            high: ends.1,
            unit,
        }
    };
    let raised = |a: Read, power: f64| {
        let (low, high) = hull(&[libm::pow(a.low, power), libm::pow(a.high, power)]);
        let unit = a.unit.into_iter().map(|(word, times)| (word, times * power));
        Read {
            low,
            high,
            unit: unit.filter(|(_, times)| *times != 0.0).collect(),
        }
    };
    let pure = |low: f64, high: f64| Read {
        low,
        high,
        unit: std::collections::BTreeMap::new(),
    };
    Some(match side {
        Expr::Number(written) => {
            let (low, high) = printed(written);
            let (scale, unit) = unit_words(&written.unit.symbol);
            Read {
                low: written.unit.from_si(low) * scale,
                high: written.unit.from_si(high) * scale,
                unit,
            }
        }
        Expr::Pi => pure(std::f64::consts::PI, std::f64::consts::PI),
        Expr::Negative(a) => {
            let a = read(a)?;
            Read {
                low: -a.high,
                high: -a.low,
                unit: a.unit,
            }
        }
        Expr::Add(a, b) | Expr::Subtract(a, b) => {
            let (a, b) = (read(a)?, read(b)?);
            assert_eq!(
                a.unit,
                b.unit,
                "a sum of two units in {}",
                side.plain(Style::default())
            );
            let (low, high) = if matches!(side, Expr::Add(..)) {
                (a.low + b.low, a.high + b.high)
            } else {
                (a.low - b.high, a.high - b.low)
            };
            Read {
                low,
                high,
                unit: a.unit,
            }
        }
        Expr::Multiply(a, b) => {
            let (a, b) = (read(a)?, read(b)?);
            let ends = hull(&[a.low * b.low, a.low * b.high, a.high * b.low, a.high * b.high]);
            joined(a, b, 1.0, ends)
        }
        Expr::Divide(a, b) => {
            let (a, b) = (read(a)?, read(b)?);
            let ends = hull(&[a.low / b.low, a.low / b.high, a.high / b.low, a.high / b.high]);
            joined(a, b, -1.0, ends)
        }
        Expr::Power(a, b) => {
            let power = read(b)?;
            assert!(power.unit.is_empty(), "{}", side.plain(Style::default()));
            raised(read(a)?, 0.5 * (power.low + power.high))
        }
        Expr::Call(Function::Sqrt, a) => {
            let a = read(&a[0])?;
            raised(
                Read {
                    low: a.low.max(0.0),
                    ..a
                },
                0.5,
            )
        }
        Expr::Call(function, a) => {
            let a = read(&a[0])?;
            assert!(a.unit.is_empty(), "{}", side.plain(Style::default()));
            let f: fn(f64) -> f64 = match function {
                Function::Log10 => libm::log10,
                Function::Ln => libm::log,
                Function::Exp => libm::exp,
                _ => return None,
            };
            pure(f(a.low), f(a.high))
        }
        _ => return None,
    })
}

/// Sees that every side of a line that is numbers put in for names multiplies out to the value printed next, by its
/// numbers and by its units. How many did.
fn check_units(name: &str, steps: &[Step]) -> usize {
    let mut seen = 0;
    for line in lines(steps) {
        let sides: Vec<&Expr> = std::iter::once(&line.first)
            .chain(
                line.rest
                    .iter()
                    .filter(|(r, _)| *r == Relation::Equal)
                    .map(|(_, e)| e),
            )
            .collect();
        for pair in sides.windows(2) {
            let both_numbers = pair.iter().all(|side| matches!(side, Expr::Number(_)));
            // Two numbers beside each other are a change of unit, which is for the reader to know.
            if both_numbers || !pair.iter().any(|side| matches!(side, Expr::Number(_))) {
                continue;
            }
            let (Some(a), Some(b)) = (read(pair[0]), read(pair[1])) else {
                continue;
            };
            seen += 1;
            let text = line.plain(Style::default());
            let units = |read: &Read| -> Vec<(&str, f64)> {
                read.unit
                    .iter()
                    .filter(|(_, p)| **p != 0.0)
                    .map(|(w, p)| (*w, *p))
                    .collect()
            };
            assert_eq!(units(&a), units(&b), "{name}: the units of {text}");
            let slack = 1e-9 * a.high.abs().max(b.high.abs());
            assert!(
                a.low <= b.high + slack && b.low <= a.high + slack,
                "{name}: {text} : {} to {} against {} to {}",
                a.low,
                a.high,
                b.low,
                b.high
            );
        }
    }
    seen
}

/// A reader who multiplies out a line as it is printed must come to what is printed next, in SI and in US customary units.
#[test]
fn every_line_multiplies_out_in_the_units_it_is_printed_in() {
    let mut seen = 0;
    let (mut origins, mut lost) = (0, Vec::new());
    let mut faults = Vec::new();
    let mut see = |name: &str, steps: &[Step]| match std::panic::catch_unwind(|| check_units(name, steps)) {
        Ok(lines) => seen += lines,
        Err(why) => faults.push(why.downcast_ref::<String>().cloned().unwrap_or_default()),
    };
    for (name, yaml) in systems() {
        for conventions in [SI, US] {
            let case = solve(name, &yaml);
            see(name, &work(name, &case, &conventions));
        }
    }
    let key = CourseKey::from_bytes([8; 32]);
    for template in &builtin_bank().templates {
        let name = template.name.as_str();
        let seed = key.seed("units", template, "anyone", 1);
        for draw in Candidates::new(template, &seed).take(8) {
            let givens = draw.bindings(template);
            let Ok(case) = Case::solve(draw.system(template).unwrap(), Some(4), &Limits::default()) else {
                continue;
            };
            for conventions in [SI, US] {
                let all = Some((template.as_ref(), &givens));
                let steps = worked(&case, all, &Limits::default(), &conventions).unwrap();
                see(name, &steps);
                origins += check_origins(name, &case, &givens, &conventions, &steps, &mut lost);
            }
        }
    }
    assert!(faults.is_empty(), "{} papers: {:#?}", faults.len(), faults);
    assert!(lost.is_empty(), "{} numbers: {lost:#?}", lost.len());
    assert!(origins > 10_000, "{origins} numbers were followed back");
    assert!(seen > 5000, "{seen} lines were multiplied out");
}

/// Every number with a unit in a side that has more than it, as printed.
fn numbers_within(side: &Expr, all: &mut Vec<String>) {
    match side {
        Expr::Number(written) if !written.unit.symbol.is_empty() => {
            all.push(written.plain(DecimalMark::Point))
        }
        Expr::Negative(a) => numbers_within(a, all),
        Expr::Add(a, b)
        | Expr::Subtract(a, b)
        | Expr::Multiply(a, b)
        | Expr::Divide(a, b)
        | Expr::Power(a, b) => {
            numbers_within(a, all);
            numbers_within(b, all);
        }
        Expr::Call(_, arguments) => arguments.iter().for_each(|a| numbers_within(a, all)),
        _ => {}
    }
}

/// What is printed alone: at the end of a line or between its signs of equality, in words and in tables.
fn printed_alone(block: &Block, all: &mut std::collections::BTreeSet<String>) {
    let words = |words: &[Inline], all: &mut std::collections::BTreeSet<String>| {
        for word in words {
            if let Inline::Value(written) = word {
                all.insert(written.plain(DecimalMark::Point));
            }
        }
    };
    match block {
        Block::Paragraph(inlines) => words(inlines, all),
        Block::Table(table) => table.rows.iter().flatten().for_each(|cell| words(cell, all)),
        _ => {}
    }
}

/// Sees that a number in a line that is neither a given nor a result as printed was said before, beside the one that it
/// was. How many were.
fn check_origins(
    name: &str,
    case: &Case,
    givens: &Bindings,
    conventions: &Conventions,
    steps: &[Step],
    faults: &mut Vec<String>,
) -> usize {
    let mut said: std::collections::BTreeSet<String> = (case.results(conventions).0.values())
        .chain(givens.0.values())
        .map(|bound| bound.written.plain(DecimalMark::Point))
        .collect();
    // A given in the units of the course.
    for bound in givens.0.values() {
        for unit in [
            "ft", "in", "ft^2", "ft^3", "gpm", "ft^3/s", "psi", "lbm/ft^3", "ft/s",
        ] {
            let unit = Unit::parse(unit).unwrap();
            if unit.dimension == bound.quantity.dimension {
                let written = Written::from_si(bound.quantity.value, &unit, 4);
                said.insert(written.plain(DecimalMark::Point));
            }
        }
    }
    let factors = ["32.174 lbm·ft/(lbf·s²)", "144 in²/ft²", "550 ft·lbf/(s·hp)"];
    said.extend(factors.map(str::to_owned));
    let mut seen = 0;
    for block in blocks(steps) {
        printed_alone(block, &mut said);
        let Block::Equation(lines) = block else { continue };
        for line in lines {
            for (_, side) in &line.rest {
                let mut all = Vec::new();
                numbers_within(side, &mut all);
                if !matches!(side, Expr::Number(_)) {
                    for number in &all {
                        seen += 1;
                        let text = line.plain(Style::default());
                        if !said.contains(number) {
                            faults.push(format!("{name}: {number} in {text} comes from nowhere"));
                        }
                    }
                }
                if let Expr::Number(written) = side {
                    said.insert(written.plain(DecimalMark::Point));
                }
            }
        }
    }
    seen
}

fn number(text: &str) -> Expr {
    Expr::Number(Written::parse(text).unwrap())
}

fn only(line: Line) -> [Step; 1] {
    [Step {
        title: String::new(),
        body: vec![Block::Equation(vec![line])],
        chart: Vec::new(),
    }]
}

/// A power in hp from lbm, gpm and ft with no factor between them.
#[test]
#[should_panic(expected = "the units of")]
fn a_line_without_its_factors_is_found() {
    let line = Line::single(
        number("62.30 lbm/ft^3") * number("32.2 ft/s^2") * number("200 gpm") * number("78.85 ft"),
    )
    .then(Relation::Equal, number("3.982 hp"));
    check_units("no factors", &only(line));
}

/// The units fit, and yet the number is that of other units.
#[test]
#[should_panic(expected = "against")]
fn a_line_with_a_wrong_factor_is_found() {
    let line = Line::single(number("40.00 psi") * number("12.00 in^2/ft^2") / number("62.40 lbf/ft^3"))
        .then(Relation::Equal, number("92.31 ft"));
    check_units("wrong factor", &only(line));
}
