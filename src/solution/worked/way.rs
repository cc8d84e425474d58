//! What stands on the way between the stations: where each loss coefficient comes from, the heads along the
//! way, and the nominal size that takes the place of a bore.

use super::direct::through;
use super::step;
use super::working::{At, Loss, Working, called, m, num, say, short, sum, sym, t, table};
use crate::bank::prose::{Block, Inline};
use crate::bank::system::{Element, LossBy, PathSystem};
use crate::equation::{Bindings, EquationError, Expr, Line};
use crate::hydraulics::grade::{GradePoint, Place, grade_line, lowest};
use crate::hydraulics::path::TURBULENT_ALPHA;
use crate::hydraulics::regime::Regime;
use crate::hydraulics::solve::{Solved, Unknown};
use crate::quantity::{Unit, Written};
use crate::solution::Step;
use crate::solution::case::place_name;
use crate::solution::results::nominal_of;
use crate::solution::units::{Kind, display_unit};

// ---- loss coefficients ----

/// The symbol of the number that a loss is told by.
pub(super) fn base_symbol(by: LossBy) -> &'static str {
    match by {
        LossBy::EquivalentLength => "L_eq",
        LossBy::EquivalentDiameters => "n",
        _ => "K",
    }
}

/// What stands for K in formulas: its own symbol, or `f L_eq/D`.
pub(super) fn coefficient(by: LossBy, symbol: &str, factor: Expr, bore: Expr) -> Expr {
    match by {
        LossBy::EquivalentLength => factor * (sym(symbol) / bore),
        LossBy::EquivalentDiameters => factor * sym(symbol),
        _ => sym(symbol),
    }
}

/// What a loss's symbol is, within words: `the gate valve`, `the equivalent length of the gate valve`.
pub(super) fn meaning(loss: &Loss) -> String {
    match loss.by {
        LossBy::EquivalentLength => format!("the equivalent length of the {}", loss.name),
        LossBy::EquivalentDiameters => format!("the equivalent length of the {} in diameters", loss.name),
        _ => format!("the {}", loss.name),
    }
}

/// `(1 − (D_1/D_2)²)²` and its like: K of a change of area from the pipes on its two sides.
fn from_areas(w: &Working, loss: &Loss, wide: usize) -> Expr {
    let ratio = if w.sizes().iter().all(|pipe| pipe.section.is_round()) {
        (w.own("D", loss.pipe) / w.own("D", wide)).pow(2)
    } else {
        w.own("A", loss.pipe) / w.own("A", wide)
    };
    let lost = num(1.0) - ratio;
    match loss.by {
        LossBy::SuddenExpansion { .. } => lost.pow(2),
        LossBy::Cone { .. } => sym(share_symbol(loss)) * lost.pow(2),
        LossBy::SuddenContraction { .. } => num(0.5) * lost,
        _ => sym(share_symbol(loss)) * lost,
    }
}

/// The share that a cone takes of a sudden change, with the number of its loss.
fn share_symbol(loss: &Loss) -> String {
    loss.symbol.replacen('K', "n", 1)
}

/// The lines in which K of a change of area is worked out with the bores that `of` binds.
pub(super) fn area_lines(w: &Working, loss: &Loss, of: &mut Bindings) -> Result<Vec<Line>, EquationError> {
    let Some(wide) = loss.by.wider_pipe() else {
        return Ok(Vec::new());
    };
    Ok(vec![w.line(
        &loss.symbol,
        &from_areas(w, loss, wide),
        Kind::Number,
        of,
    )?])
}

/// A loss with its fitting, within words; one name where the two say the same.
pub(super) fn fitting_name(name: &str, fitting: &str) -> String {
    if fitting.starts_with(name) {
        fitting.to_owned()
    } else {
        format!("{name} ({fitting})")
    }
}

/// Whether a loss's K depends on a pipe's bore through the change of its area.
pub(super) fn touches(loss: &Loss, pipe: usize) -> bool {
    loss.by
        .wider_pipe()
        .is_some_and(|wide| wide == pipe || loss.pipe == pipe)
}

/// Binds what the formulas of coefficients hold beside the bores.
pub(super) fn bind(w: &Working, loss: &Loss, of: &mut Bindings) {
    if let LossBy::Cone { .. } | LossBy::Taper { .. } = loss.by {
        let share = loss.by.number(loss.number);
        of.set(
            share_symbol(loss),
            crate::equation::Bound::new(share, &Unit::none(), w.figures()),
        );
    }
}

/// Where the coefficients come from that the system does not state; nothing where it states all.
pub(super) fn coefficients(w: &Working) -> Result<Option<Step>, EquationError> {
    let mut body = Vec::new();
    let mut of = w.bindings(&w.case.solved);
    for loss in &w.losses {
        body.extend(origin(w, loss, &mut of)?);
    }
    if body.is_empty() {
        return Ok(None);
    }
    if w.names.len() > 1 {
        body.push(say(
        "A coefficient holds for one velocity head only. Taken with that of another pipe it would be wrong by the \
         fourth power of the ratio of the bores.",
    ));
    }
    Ok(Some(step("Find the loss coefficients", body)))
}

fn origin(w: &Working, loss: &Loss, of: &mut Bindings) -> Result<Vec<Block>, EquationError> {
    let k = m(sym(loss.symbol.clone()));
    let counts = format!(" It counts on the velocity head in {}.", w.the_pipe(loss.pipe));
    let name = &loss.name;
    let value = || Inline::Value(short(loss.by.number(loss.number)));
    Ok(match loss.by {
        LossBy::K => Vec::new(),
        LossBy::Fitting(fitting) => vec![Block::Paragraph(vec![
            t(format!("For the {} ", fitting_name(name, fitting.name))),
            k,
            t(" = "),
            value(),
            t(format!(", from {}.{counts}", fitting.source)),
        ])],
        LossBy::Rounding => vec![Block::Paragraph(vec![
            t(format!("The edge of the {name} is rounded, with a radius of ")),
            Inline::Value(short(loss.number)),
            t(" of the bore. For that "),
            k,
            t(" = "),
            value(),
            t(format!(
                ", from the table of {}, between whose values it is linear.{counts}",
                crate::hydraulics::fittings::CRANE
            )),
        ])],
        LossBy::EquivalentLength | LossBy::EquivalentDiameters => {
            let (f, v) = (
                w.own("f", loss.pipe),
                super::working::velocity_head(w.own("V", loss.pipe)),
            );
            vec![
                Block::Paragraph(vec![
                    t(format!(
                        "The loss of the {name} is told by an equivalent length: it takes as much head as that much more of {}, so its \
                     loss follows from the same friction factor, ",
                        w.the_pipe(loss.pipe)
                    )),
                    m(f),
                    t(":"),
                ]),
                Block::Equation(vec![Line::equal(sym("h_K"), loss.k.clone() * v)]),
            ]
        }
        LossBy::SuddenExpansion { into } => {
            let (a, b) = (w.own("V", loss.pipe), w.own("V", into));
            let lost = (a - b).pow(2) / (num(2.0) * sym("g"));
            let mut body = vec![
                say(format!(
                    "At the {name} the way widens suddenly, from {} to {}. The jet from the narrower pipe mixes with the slower \
                     fluid, and a balance of momentum (Borda and Carnot) gives the head that is lost. With continuity it \
                     becomes a coefficient on the velocity head in the narrower pipe:",
                    w.the_pipe(loss.pipe),
                    w.the_pipe(into)
                )),
                Block::Equation(vec![Line::equal(sym("h_K"), lost)]),
            ];
            body.extend(area_block(w, loss, of)?);
            body
        }
        LossBy::Cone { into } => {
            let (pipe, wide) = (w.the_pipe(loss.pipe), w.the_pipe(into));
            let mut body = vec![cone_words(
                w,
                loss,
                format!(
                    "At the {name} the way widens along a cone, from {pipe} to {wide}. A cone with an angle of "
                ),
                " between its walls takes a share of what a sudden change would, ",
            )];
            body.extend(area_block(w, loss, of)?);
            body
        }
        LossBy::SuddenContraction { from } => {
            let mut body = vec![say(format!(
                "At the {name} the way narrows suddenly, from {} to {}. The loss counts on the velocity head in the narrower \
                 pipe ({}):",
                w.the_pipe(from),
                w.the_pipe(loss.pipe),
                crate::hydraulics::fittings::CRANE
            ))];
            body.extend(area_block(w, loss, of)?);
            body
        }
        LossBy::Taper { from } => {
            let (pipe, wide) = (w.the_pipe(loss.pipe), w.the_pipe(from));
            let mut body = vec![cone_words(
                w,
                loss,
                format!(
                    "At the {name} the way narrows along a cone, from {wide} to {pipe}. For an angle of "
                ),
                " between its walls the factor is ",
            )];
            body.extend(area_block(w, loss, of)?);
            body
        }
    })
}

fn cone_words(w: &Working, loss: &Loss, before: String, behind: &str) -> Block {
    // Radians and back leave a speck.
    let degrees = libm::round(1e9 * loss.number.to_degrees()) / 1e9;
    Block::Paragraph(vec![
        t(before),
        Inline::Value(short(degrees)),
        t(format!("°{behind}")),
        m(sym(share_symbol(loss))),
        t(" = "),
        Inline::Value(w.pure(loss.by.number(loss.number))),
        t(format!(
            " ({}). The coefficient counts on the velocity head in the narrower pipe:",
            crate::hydraulics::fittings::CRANE
        )),
    ])
}

/// K of a change of area: with numbers where both bores are known, else as a formula.
fn area_block(w: &Working, loss: &Loss, of: &mut Bindings) -> Result<Vec<Block>, EquationError> {
    let Some(wide) = loss.by.wider_pipe() else {
        return Ok(Vec::new());
    };
    if w.pipes().any(|pipe| w.asked_bore(pipe) && touches(loss, pipe)) {
        return Ok(vec![
            Block::Equation(vec![Line::equal(
                sym(loss.symbol.clone()),
                from_areas(w, loss, wide),
            )]),
            say(
                "It changes with the bore that we are after, so it is worked out anew for each bore that is tried.",
            ),
        ]);
    }
    Ok(vec![Block::Equation(area_lines(w, loss, of)?)])
}

// ---- heads along the way ----

/// Whether the heads along the way teach something: a point on it is asked about, or a machine lifts them.
fn worth_showing(system: &PathSystem) -> bool {
    !system.points.is_empty()
}

/// The heads at every station, point and fitting, and the lowest pressure; nothing where no point is told.
pub(super) fn grade(w: &Working, of: &mut Bindings) -> Result<Option<Step>, EquationError> {
    let system = w.system();
    if !worth_showing(system) {
        return Ok(None);
    }
    let solved = &w.case.solved;
    let line = grade_line(&solved.path, &solved.state);
    let mut body = vec![say(
        "Now walk along the way and keep account of the heads. The energy head falls by each loss; the hydraulic head \
         lies a velocity head below it; and what the hydraulic head has above the pipe is the pressure head. Where the \
         pipe lies above its hydraulic head, the pressure is below that of the air.",
    )];
    for (n, point) in system.points.iter().enumerate() {
        if let Some(at) = line.iter().find(|p| p.place == Place::Point(n)) {
            body.extend(point_lines(w, &point.name, n, at, of)?);
        }
    }
    body.push(heads_table(w, &line));
    let all_told = line.iter().all(|at| has_elevation(w, &line, at));
    if !all_told {
        body.push(say(
            "A dash stands where the problem does not tell the height. The heads do not need it; the pressure does.",
        ));
    }
    if let Some(least) = lowest(&line) {
        body.push(Block::Paragraph(vec![
            t(if all_told {
                "The lowest pressure on the way is "
            } else if has_elevation(w, &line, least) {
                "With heights that change evenly between those told, the lowest pressure on the way is "
            } else {
                "With heights that change evenly between those told, the lowest pressure would be "
            }),
            w.value(Kind::Pressure, least.pressure),
            t(format!(", {}", at_place(least.place, system))),
            t(". With the air outside at "),
            w.value(Kind::Pressure, solved.path.atmosphere),
            t(" that is an absolute pressure of "),
            w.value(Kind::Pressure, least.pressure + solved.path.atmosphere),
            match solved.path.vapour_pressure {
                Some(vapour) if least.pressure + solved.path.atmosphere > vapour => {
                    t(", and the liquid does not boil: its vapour pressure is ")
                }
                Some(_) => t(". The liquid would boil there, as its vapour pressure is "),
                None if least.pressure + solved.path.atmosphere < 0.0 => {
                    t(". Less than nothing is left, so no fluid can flow like this.")
                }
                None => t("."),
            },
        ]));
        if let (Some(vapour), Some(Block::Paragraph(words))) = (solved.path.vapour_pressure, body.last_mut())
        {
            words.push(w.value(Kind::Pressure, vapour));
            words.push(t("."));
        }
    }
    Ok(Some(step("Follow the heads along the way", body)))
}

/// The energy head and the pressure at one point, from the start.
fn point_lines(
    w: &Working,
    name: &str,
    n: usize,
    at: &GradePoint,
    of: &mut Bindings,
) -> Result<Vec<Block>, EquationError> {
    let suffix = crate::bank::names::pipe_suffix(name);
    let point = &w.case.solved.path.points[n];
    // What stands before the point: whole elements, and a part of the pipe in which it lies.
    let mut terms: Vec<(bool, Expr)> = Vec::new();
    let start = &w.case.solved.path.start;
    if start.pressure != 0.0 {
        terms.push((true, w.pressure_head(0)));
    }
    if start.elevation != 0.0 || (w.unknown == Unknown::StartElevation) {
        terms.push((true, w.elevation(0)));
    }
    if !matches!(w.at[0], At::Value(0.0)) {
        terms.push((true, w.kinetic(0)));
    }
    let (mut pipes, mut losses, mut pumps, mut turbines) = (0, 0, 0, 0);
    let mut in_pipe = 0;
    for (i, element) in w.case.solved.path.elements.iter().enumerate() {
        use crate::hydraulics::path::Element;
        if i >= point.after {
            if i == point.after && matches!(element, Element::Pipe(_)) {
                in_pipe = pipes;
                if point.along > 0.0 {
                    let along = sym(format!("x_{suffix}"));
                    of.set(
                        format!("x_{suffix}"),
                        crate::equation::Bound {
                            quantity: crate::quantity::Quantity::new(
                                point.along,
                                crate::quantity::Dimension::LENGTH,
                            ),
                            written: (w.system().points[n].along.as_ref())
                                .and_then(crate::solution::results::known)
                                .map_or_else(
                                    || w.shown(Kind::Length, point.along),
                                    |x| w.given(Kind::Length, x),
                                ),
                        },
                    );
                    terms.push((false, w.own("h_f", pipes) * (along / w.own("L", pipes))));
                }
            }
            break;
        }
        match element {
            Element::Pipe(_) => {
                terms.push((false, w.own("h_f", pipes)));
                in_pipe = pipes;
                pipes += 1;
            }
            Element::Loss { .. } => {
                terms.push((false, w.minor(&w.losses[losses])));
                losses += 1;
            }
            Element::Pump(_) => {
                terms.push((true, sym(w.pumps[pumps].head.clone())));
                pumps += 1;
            }
            Element::Turbine(_) => {
                terms.push((false, sym(w.turbines[turbines].head.clone())));
                turbines += 1;
            }
        }
    }
    let head = format!("H_{suffix}");
    let mut lines = vec![w.line(&head, &sum(terms), Kind::Length, of)?];
    let kinetic = kinetic_at(w, in_pipe, at);
    let rest = sym(head) - sym(format!("z_{suffix}"));
    let formula = sym("rho") * sym("g") * kinetic.map_or(rest.clone(), |kinetic| rest - kinetic);
    let pressure = format!("p_{suffix}");
    lines.push(w.line(&pressure, &formula, Kind::Pressure, of)?);
    // The formula is put together from what stands before the point; the table below is walked. Only where both say
    // the same are the lines worth reading.
    let found = of.get(&pressure).map_or(f64::NAN, |b| b.quantity.value);
    let scale = w.case.solved.path.density * w.case.solved.path.gravity * (1.0 + at.energy_head.abs());
    if (found - at.pressure).abs() > 1e-6 * scale {
        return Ok(Vec::new());
    }
    Ok(vec![
        say(format!(
            "Up to the {name} this much of the energy is left, and with it the pressure there is:"
        )),
        Block::Equation(lines),
    ])
}

/// The velocity head at a point, in a pipe or still at the first station; nothing where the fluid rests.
fn kinetic_at(w: &Working, passed: usize, at: &GradePoint) -> Option<Expr> {
    let solved = &w.case.solved;
    // The pipe that was passed, or the next one where the area has changed already.
    for pipe in [passed, passed + 1] {
        let Some(flowing) = solved.state.pipes.get(pipe) else {
            continue;
        };
        // In a pipe the kinetic-energy factor is that of its regime.
        let alpha = match solved.path.pipe(pipe) {
            Some(pipe) if flowing.regime == Regime::Laminar => pipe.section.laminar_alpha,
            _ => TURBULENT_ALPHA,
        };
        let in_pipe = alpha * flowing.velocity * flowing.velocity / (2.0 * solved.path.gravity);
        if (at.velocity_head - in_pipe).abs() <= 1e-9 * in_pipe {
            let v2 = super::working::velocity_head(w.own("V", pipe));
            return Some(if alpha == 1.0 {
                v2
            } else {
                Expr::Number(short(alpha)) * v2
            });
        }
    }
    (at.velocity_head != 0.0).then(|| w.kinetic(0))
}

fn at_place(place: Place, system: &PathSystem) -> String {
    match place {
        Place::Start => "at station 1".to_owned(),
        Place::End => "at station 2".to_owned(),
        Place::Point(_) => format!("at the {}", place_name(place, system)),
        Place::Before(i) | Place::Behind(i) => {
            let name = place_name(place, system);
            if let (Some(Element::Pipe { name: pipe, .. }), Some((word, _))) =
                (system.path.get(i), name.split_once(' '))
            {
                return format!("{word} {}", called(pipe));
            }
            let (word, element) = name.split_once(' ').unwrap_or(("at", &name));
            format!("{word} the {element}")
        }
    }
}

/// Whether the height of a place on the way is told: its own, or that of a point or of a station in the pipe where it lies.
fn has_elevation(w: &Working, line: &[GradePoint], at: &GradePoint) -> bool {
    let in_pipe = |station: usize| !matches!(w.at[station], At::Value(0.0));
    at.stated
        || line.iter().any(|other| {
            other.distance == at.distance
                && match other.place {
                    Place::Point(_) => true,
                    Place::Start => in_pipe(0),
                    Place::End => in_pipe(1),
                    Place::Before(_) | Place::Behind(_) => false,
                }
        })
}

fn heads_table(w: &Working, line: &[GradePoint]) -> Block {
    // One unit for a column, whatever the sizes in it.
    let unit_of = |kind: Kind, si: f64| display_unit(kind, si, w.conventions.units);
    let (length, pressure) = (unit_of(Kind::Length, 10.0), unit_of(Kind::Pressure, 1e5));
    let head = |words: Vec<Inline>, unit: &Unit| {
        let mut cell = words;
        cell.push(t(format!(", {}", unit.symbol)));
        cell
    };
    let number = |unit: &Unit, si: f64, speck: f64| {
        // Rounding of a head that is nought leaves a speck, which is not worth a power of ten.
        let si = if si.abs() < speck { 0.0 } else { si };
        let mut written = Written::from_si(si, unit, w.figures());
        written.unit.symbol = String::new();
        vec![Inline::Value(written)]
    };
    let metres = |si: f64| number(&length, si, 1e-8);
    // The end of a pipe at a named point is that point.
    let is_point = |at: &GradePoint| matches!(at.place, Place::Point(_));
    let same = |a: &GradePoint, b: &GradePoint| {
        a.distance == b.distance && a.energy_head == b.energy_head && a.hydraulic_head == b.hydraulic_head
    };
    let shown = line.iter().filter(|p| {
        matches!(p.place, Place::Start | Place::End)
            || is_point(p)
            || !line.iter().any(|named| is_point(named) && same(named, p))
    });
    let rows = shown
        .map(|p| {
            let place = match p.place {
                Place::Start => "station 1".to_owned(),
                Place::End => "station 2".to_owned(),
                other => place_name(other, w.system()),
            };
            let if_stated = |cell: Vec<Inline>| {
                if has_elevation(w, line, p) {
                    cell
                } else {
                    vec![t("–")]
                }
            };
            vec![
                vec![t(place)],
                metres(p.distance),
                if_stated(metres(p.elevation)),
                metres(p.energy_head),
                metres(p.hydraulic_head),
                if_stated(number(&pressure, p.pressure, 1e-3)),
            ]
        })
        .collect();
    table(
        vec![
            vec![t("Where")],
            head(vec![m(sym("s"))], &length),
            head(vec![m(sym("z"))], &length),
            head(vec![t("energy head")], &length),
            head(vec![t("hydraulic head")], &length),
            head(vec![t("pressure")], &pressure),
        ],
        vec![false, true, true, true, true, true],
        rows,
    )
}

// ---- nominal sizes ----

/// The next size that is made, in the place of the bore that was worked out.
pub(super) fn size(w: &Working, pipe: usize, solved: &Solved) -> Result<Option<Step>, EquationError> {
    let (Some(series), Some(found)) = (w.system().sizes, nominal_of(w.system(), solved)) else {
        return Ok(None);
    };
    let mut body = Vec::new();
    let mut words = vec![
        t(format!(
            "Pipe is made in certain sizes only. In the series {}, ",
            series.name
        )),
        t(format!(
            "{} is the first that is no narrower than ",
            found.size.name()
        )),
        w.value(Kind::Bore, solved.value),
        t(": its bore is "),
        w.value(Kind::Bore, found.size.bore()),
    ];
    if let Some(below) = found.below {
        words.push(t(format!("; {} with ", below.name())));
        words.push(w.value(Kind::Bore, below.bore()));
        words.push(t(" would be too narrow"));
    }
    words.push(t(
        ". A narrower pipe would take more head than there is; a wider one takes less.",
    ));
    body.push(Block::Paragraph(words));
    let mut of = w.bindings(solved);
    body.push(say("With that bore the same flow runs more slowly:"));
    body.push(Block::Equation(vec![w.line(
        "V_std",
        &through(sym("D_std")),
        Kind::Velocity,
        &mut of,
    )?]));
    let state = &found.at_flow.pipes[pipe];
    body.push(Block::Paragraph(vec![
        t("There the chart shows "),
        m(w.own("f", pipe)),
        t(" = "),
        Inline::Value(w.pure(state.darcy_friction_factor)),
        t(" (Re = "),
        Inline::Value(w.pure(state.reynolds)),
        t("), the way takes "),
        w.value(Kind::Length, found.at_flow.head_loss),
        t(" in all, and "),
        w.value(Kind::Length, found.at_flow.residual),
        t(" of head are left over, which a valve has to take. With the valve open, more would flow: "),
        w.value(Kind::Flow, found.flow),
        t(", by the same method with the flow for the unknown."),
    ]));
    body.push(Block::Note(vec![t(format!(
        "The bores are those of {}.",
        series.name
    ))]));
    Ok(Some(step("Choose a size that is made", body)))
}
