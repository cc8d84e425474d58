//! Writes random leaking mains and ageing pipes with the solver's answers, one JSON object a line, for
//! `tests/differential/inverse.py`, which works each out again with Python libraries.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::hydraulics::ageing;
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::leak::{self, Gauge, reach};
use gradeline::hydraulics::path::{Pipe, Section};
use gradeline::hydraulics::regime::Limits;
use serde_json::json;
use std::io::Write;

const CASES: usize = 600;

fn a_leak(dice: &mut Dice, limits: &Limits) -> serde_json::Value {
    let diameter = dice.spread(0.05, 1.2);
    let pipe = Pipe {
        diameter,
        length: dice.spread(50.0, 2e4),
        roughness: diameter * dice.spread(1e-6, 0.04),
        section: Section::ROUND,
    };
    let area = 0.25 * std::f64::consts::PI * diameter * diameter;
    let flow = area * dice.spread(0.2, 4.0);
    let mut problem = leak::Problem {
        density: dice.between(700.0, 1300.0),
        dynamic_viscosity: dice.spread(3e-4, 3e-3),
        gravity: 9.80665,
        start: Gauge {
            pressure: dice.between(2e5, 1.2e6),
            elevation: dice.between(-20.0, 60.0),
            flow,
        },
        end: Gauge {
            pressure: f64::NAN,
            elevation: dice.between(-20.0, 60.0),
            flow: flow * dice.between(0.2, 0.95),
        },
        pipe,
        distance: pipe.length * dice.between(0.02, 0.98),
        unknown: leak::Unknown::Distance,
    };
    // A pressure at the end that some leak explains; what explains it is then found anew, here and there.
    let rest = pipe.length - problem.distance;
    let above = reach(&problem, flow, problem.distance, Reading::EXACT, limits);
    let below = reach(&problem, problem.end.flow, rest, Reading::EXACT, limits);
    let weight = problem.density * problem.gravity;
    let fall = problem.start.elevation - problem.end.elevation;
    let speed = |reach: &leak::Reach| reach.alpha * reach.velocity * reach.velocity;
    problem.end.pressure = problem.start.pressure
        + weight * (fall - above.slope * problem.distance - below.slope * rest)
        + 0.5 * problem.density * (speed(&above) - speed(&below));
    if dice.chance(0.5) {
        problem.unknown = leak::Unknown::EndFlow;
        problem.end.flow = f64::NAN;
    } else {
        problem.distance = f64::NAN;
    }
    let solved = leak::solve(&problem, [Reading::EXACT; 2], limits).unwrap();
    let known = |value: f64| value.is_finite().then_some(value);
    json!({
        "kind": "leak", "rho": problem.density, "mu": problem.dynamic_viscosity, "g": problem.gravity,
        "D": pipe.diameter, "L": pipe.length, "eps": pipe.roughness,
        "start": [problem.start.pressure, problem.start.elevation, flow],
        "end": [problem.end.pressure, problem.end.elevation], "end_flow": known(problem.end.flow),
        "distance": known(problem.distance),
        "answer": { "distance": solved.problem.distance, "end_flow": solved.problem.end.flow, "pressure": solved.pressure_at_leak },
    })
}

fn an_ageing_pipe(dice: &mut Dice, limits: &Limits) -> serde_json::Value {
    use ageing::Unknown;
    const YEAR: f64 = 31_557_600.0;
    let diameter = dice.spread(0.05, 1.2);
    let area = 0.25 * std::f64::consts::PI * diameter * diameter;
    let age = YEAR * dice.between(2.0, 40.0);
    let mut problem = ageing::Problem {
        density: dice.between(700.0, 1300.0),
        dynamic_viscosity: dice.spread(3e-4, 3e-3),
        gravity: 9.80665,
        diameter,
        length: dice.spread(50.0, 2e4),
        new_roughness: diameter * dice.spread(1e-5, 5e-3),
        growth: diameter * dice.spread(1e-5, 1e-2) / age,
        age,
        flow: area * dice.spread(0.2, 4.0),
        head_loss: f64::NAN,
        later_age: age + YEAR * dice.between(1.0, 30.0),
        unknown: Unknown::HeadLoss,
    };
    problem.head_loss = ageing::solve(&problem, [Reading::EXACT; 2], limits)
        .unwrap()
        .problem
        .head_loss;
    problem.unknown = [Unknown::New, Unknown::Growth, Unknown::Age, Unknown::HeadLoss][dice.below(4)];
    match problem.unknown {
        Unknown::New => problem.new_roughness = f64::NAN,
        Unknown::Growth => problem.growth = f64::NAN,
        Unknown::Age => problem.age = f64::NAN,
        Unknown::HeadLoss => problem.head_loss = f64::NAN,
    }
    let solved = ageing::solve(&problem, [Reading::EXACT; 2], limits).unwrap();
    let known = |value: f64| value.is_finite().then_some(value);
    json!({
        "kind": "ageing", "rho": problem.density, "mu": problem.dynamic_viscosity, "g": problem.gravity,
        "D": problem.diameter, "L": problem.length, "flow": problem.flow, "later_age": problem.later_age,
        "new": known(problem.new_roughness), "growth": known(problem.growth), "age": known(problem.age),
        "head_loss": known(problem.head_loss),
        "answer": {
            "new": solved.problem.new_roughness, "growth": solved.problem.growth, "age": solved.problem.age,
            "head_loss": solved.problem.head_loss, "roughness": solved.roughness,
            "later_loss": solved.later.major_head_loss, "later_flow": solved.later_flow,
        },
    })
}

#[test]
#[ignore = "writes a file for tests/differential/inverse.py"]
fn write_random_inverse_problems() {
    let path = std::env::var("GRADELINE_DIFFERENTIAL_INVERSE").unwrap();
    let mut file = std::io::BufWriter::new(std::fs::File::create(path).unwrap());
    let limits = Limits::default();
    let mut dice = Dice(0x1eac);
    for _ in 0..CASES {
        writeln!(file, "{}", a_leak(&mut dice, &limits)).unwrap();
        writeln!(file, "{}", an_ageing_pipe(&mut dice, &limits)).unwrap();
    }
}
