//! A main that leaks, worked: head between the gauges, slopes above and below, the place or the flow.

use super::check::{over_bore, read_off};
use super::working::{m, num, say, short, sum, sym, t, velocity_head};
use super::{Writer, step};
use crate::bank::course::Conventions;
use crate::bank::prose::{Block, Inline, Table};
use crate::equation::{Bound, EquationError, Expr, Line};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::leak::{Unknown, reach as behind};
use crate::hydraulics::regime::{Limits, Regime};
use crate::quantity::Quantity;
use crate::solution::leak::LeakCase;
use crate::solution::units::{Kind, shown};
use crate::solution::{Case, ReadOff, Step};

/// Most guesses that a table shows.
const GUESSES: usize = 12;

/// A share of a head that four printed figures do not show \[–\].
const SETTLED: f64 = 1e-5;

/// Names of the two reaches as they stand behind symbols.
const REACHES: [&str; 2] = ["upstream", "downstream"];

fn own(base: &str, reach: usize) -> String {
    format!("{base}_{}", REACHES[reach])
}

pub(in crate::solution) fn steps(
    case: &LeakCase,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let solved = &case.solved;
    let mut w = Writer::new(&Case::Leak(Box::new(case.clone())), conventions);
    for (i, reach) in solved.reaches.iter().enumerate() {
        w.of.set(
            format!("alpha_{}", i + 1),
            Bound {
                quantity: Quantity::number(reach.alpha),
                written: short(reach.alpha),
            },
        );
    }
    let mut steps = vec![step("See what is known", known(case))];
    match case.unknown() {
        Unknown::Distance => {
            let mut body = vec![say(
                "The same bore carries the whole flow down to the leak and what is left of it \
                 from there on. Both flows are known, so both velocities are, and with them both friction factors.",
            )];
            body.extend(flows(&mut w, case, &[0, 1])?);
            let title = "Find the friction above and below the leak";
            steps.push(step(title, body).reading(read(case)));
            steps.push(step("Find the head between the gauges", head(&mut w, case)?));
            let slopes = vec![
                w.line(&own("S", 0), &slope(0), Kind::Number)?,
                w.line(&own("S", 1), &slope(1), Kind::Number)?,
            ];
            steps.push(step(
                "Find how steeply the grade line falls",
                vec![
                    say("On each unit of length of the main friction takes"),
                    Block::Equation(slopes),
                    say("With a leak the grade line is not straight: it falls more steeply before the leak than behind it."),
                ],
            ));
            let (s1, s2) = (sym(own("S", 0)), sym(own("S", 1)));
            let formula = (sym("h_L") - s2.clone() * sym("L")) / (s1.clone() - s2.clone());
            let mut body = vec![say("The two losses make up the head between the gauges:")];
            body.push(Block::Equation(vec![Line::equal(
                sym("h_L"),
                s1 * sym("x") + s2 * (sym("L") - sym("x")),
            )]));
            body.push(say("This is one equation for the distance, and it is linear:"));
            body.push(Block::Equation(vec![w.line("x", &formula, Kind::Length)?]));
            body.push(say(
                "As a check, the distance lies between nought and the length of the main. A small error in \
                 either pressure moves it far, since only the difference of the two slopes finds the leak.",
            ));
            steps.push(step("Find the leak", body));
        }
        Unknown::EndFlow => {
            let mut body = vec![say("Down to the leak the whole flow is known:")];
            body.extend(flows(&mut w, case, &[0])?);
            body.push(Block::Equation(vec![w.line(
                &own("h_f", 0),
                &(friction(0) * sym("x") / sym("D")),
                Kind::Length,
            )?]));
            steps.push(step("Find the loss above the leak", body));
            steps.push(step(
                "Guess what is left behind the leak",
                guesses(case, limits, conventions),
            ));
            let mut body = vec![say(
                "With the flow that came out, everything is put in once more:",
            )];
            body.extend(flows(&mut w, case, &[1])?);
            body.push(Block::Equation(vec![w.line(
                &own("h_f", 1),
                &(friction(1) * (sym("L") - sym("x")) / sym("D")),
                Kind::Length,
            )?]));
            body.extend(head(&mut w, case)?);
            body.push(say("The two losses make up this head, as they must:"));
            body.push(Block::Equation(vec![w.line(
                "h_L",
                &(sym(own("h_f", 0)) + sym(own("h_f", 1))),
                Kind::Length,
            )?]));
            steps.push(step("Check", body).reading(read(case)));
        }
    }
    steps.push(step(
        "Find what leaks",
        vec![
            say("What enters at the start and does not arrive at the end is lost on the way:"),
            Block::Equation(vec![w.line("Q_leak", &(sym("Q_1") - sym("Q_2")), Kind::Flow)?]),
        ],
    ));
    Ok(steps)
}

fn known(case: &LeakCase) -> Vec<Block> {
    let start = case
        .system
        .start
        .name
        .clone()
        .unwrap_or_else(|| "the start".to_owned());
    let end = case
        .system
        .end
        .name
        .clone()
        .unwrap_or_else(|| "the end".to_owned());
    vec![
        say(format!(
            "Two gauges stand on the {}: station 1 is {start}, station 2 is {end}. Between them friction takes head, above \
             the leak at the whole flow and below it at what is left. The leak itself takes water, not head.",
            case.system.pipe
        )),
        Block::Equation(vec![Line::equal(between_gauges(case), sym("h_L"))]),
        Block::Paragraph(vec![
            t("Here "),
            m(sym("L")),
            t(" is the length of the main between the gauges, and "),
            m(sym("x")),
            t(" is that from the first gauge to the leak."),
        ]),
    ]
}

/// Pressure, height and velocity head at the first gauge, less those at the second; no heights where all are nought.
fn between_gauges(case: &LeakCase) -> Expr {
    let problem = &case.solved.problem;
    let mut terms = vec![(true, (sym("p_1") - sym("p_2")) / (sym("rho") * sym("g")))];
    if problem.start.elevation != 0.0 || problem.end.elevation != 0.0 {
        terms.push((true, sym("z_1") - sym("z_2")));
    }
    terms.push((true, sym("alpha_1") * velocity_head(sym(own("V", 0)))));
    terms.push((false, sym("alpha_2") * velocity_head(sym(own("V", 1)))));
    sum(terms)
}

/// Where the chart is read above and below the leak.
fn read(case: &LeakCase) -> Vec<ReadOff> {
    let pipe = &case.solved.problem.pipe;
    let ratio = pipe.roughness / pipe.diameter;
    let reaches = case.solved.reaches.iter();
    reaches
        .filter_map(|reach| ReadOff::of(reach.regime, reach.reynolds, ratio))
        .collect()
}

/// Velocity, Reynolds number and friction factor of some reaches.
fn flows(w: &mut Writer<'_>, case: &LeakCase, which: &[usize]) -> Result<Vec<Block>, EquationError> {
    let solved = &case.solved;
    let ratio = solved.problem.pipe.roughness / solved.problem.pipe.diameter;
    let mut lines = Vec::new();
    let mut readings = Vec::new();
    for &i in which {
        let reach = &solved.reaches[i];
        let through = num(4.0) * sym(format!("Q_{}", i + 1)) / (Expr::Pi * sym("D").pow(2));
        lines.push(w.line(&own("V", i), &through, Kind::Velocity)?);
        let reynolds = sym("rho") * sym(own("V", i)) * sym("D") / sym("mu");
        lines.push(w.line(&own("Re", i), &reynolds, Kind::Number)?);
        let factor = sym(own("f", i));
        if reach.regime == Regime::Laminar {
            lines.push(w.line(&own("f", i), &(num(64.0) / sym(own("Re", i))), Kind::Number)?);
        } else {
            readings.push(read_off(
                (sym(own("Re", i)), reach.reynolds),
                (ratio > 0.0).then(|| (sym("eps") / sym("D"), ratio)),
                (factor, reach.darcy_friction_factor),
                w.conventions.figures,
            ));
        }
    }
    if ratio > 0.0 && !readings.is_empty() {
        lines.push(over_bore(w, "eps", ratio));
    }
    let mut body = vec![Block::Equation(lines)];
    body.extend(readings);
    Ok(body)
}

/// `f V²/(2 g)`
fn friction(reach: usize) -> Expr {
    sym(own("f", reach)) * velocity_head(sym(own("V", reach)))
}

/// `f/D V²/(2 g)`
fn slope(reach: usize) -> Expr {
    friction(reach) / sym("D")
}

/// The head between the gauges.
fn head(w: &mut Writer<'_>, case: &LeakCase) -> Result<Vec<Block>, EquationError> {
    Ok(vec![
        say("What the gauges show, and the velocities there, say how much head is lost between them:"),
        Block::Equation(vec![w.line("h_L", &between_gauges(case), Kind::Length)?]),
    ])
}

/// Flows tried behind the leak, and the head lost with each.
fn guesses(case: &LeakCase, limits: &Limits, conventions: &Conventions) -> Vec<Block> {
    let solved = &case.solved;
    let problem = &solved.problem;
    let rest = problem.pipe.length - problem.distance;
    let above = &solved.reaches[0];
    let between = (problem.start.pressure - problem.end.pressure) / (problem.density * problem.gravity)
        + (problem.start.elevation - problem.end.elevation);
    let head = |velocity: f64| velocity * velocity / (2.0 * problem.gravity);
    let value = |kind, si| vec![Inline::Value(shown(kind, si, conventions))];
    let mut rows = Vec::new();
    let mut flow = problem.start.flow;
    for _ in 0..GUESSES {
        let below = behind(problem, flow, rest, Reading::EXACT, limits);
        let lost = below.slope * rest;
        let needed = between + above.alpha * head(above.velocity)
            - below.alpha * head(below.velocity)
            - above.slope * problem.distance;
        rows.push(vec![
            value(Kind::Flow, flow),
            value(Kind::Number, below.darcy_friction_factor),
            value(Kind::Length, lost),
            value(Kind::Length, needed),
        ]);
        if (needed / lost - 1.0).abs() < SETTLED {
            break;
        }
        flow *= (needed / lost).sqrt();
    }
    vec![
        Block::Paragraph(vec![
            t("What is left of the head must be lost below the leak. The flow there, "),
            m(sym("Q_2")),
            t(
                ", is guessed, at first as if nothing leaked. Its velocity gives the Reynolds number, the chart the \
               friction factor, and both give the loss. The loss goes nearly as the square of the flow, so the next guess is the flow times the \
               root of what is left over what was lost:",
            ),
        ]),
        Block::Table(Table {
            head: vec![
                vec![m(sym("Q_2"))],
                vec![m(sym(own("f", 1)))],
                vec![t("lost below the leak")],
                vec![t("left for it")],
            ],
            numeric: vec![true; 4],
            rows,
        }),
    ]
}
