//! Writes random curves, and pumps with random curves on random pipes, with the solver's answers, one JSON object a
//! line, for `tests/differential/pumps.py`, which works each out again with scipy.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::hydraulics::curve::Curve;
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity, area,
};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{Problem, SolveError, Unknown, Warning, solve, state};
use serde_json::{Value, json};
use std::io::Write;

/// A curve of some head at a flow, and how it was made.
fn curve(dice: &mut Dice, flow: f64, head: f64) -> (Curve, Value) {
    let rest = head * dice.between(1.02, 1.8);
    let bend = (rest - head) / (flow * flow);
    match dice.below(4) {
        0 => {
            // Now and then with a hump.
            let b = if dice.chance(0.3) {
                dice.between(0.0, 0.5) * rest / flow
            } else {
                0.0
            };
            let c = -bend - b / flow;
            let json = json!({ "kind": "quadratic", "a": rest, "b": b, "c": c });
            (Curve::quadratic(rest, b, c).unwrap(), json)
        }
        kind => {
            let count = 3 + dice.below(6);
            let mut points = Vec::new();
            let reach = flow * dice.between(0.8, 1.8);
            for i in 0..count {
                let q = reach * (i as f64 + dice.between(-0.2, 0.2)) / (count - 1) as f64;
                let q = if i == 0 { 0.0 } else { q };
                let wobble = if dice.chance(0.3) { 0.06 } else { 0.01 };
                points.push((q, (rest - bend * q * q) * (1.0 + dice.between(-wobble, wobble))));
            }
            let fitted = kind == 3;
            let made = if fitted {
                Curve::fitted(&points)
            } else {
                Curve::through(&points)
            };
            (
                made.unwrap(),
                json!({ "kind": if fitted { "fitted" } else { "through" }, "points": points }),
            )
        }
    }
}

fn path(dice: &mut Dice) -> (Path, f64) {
    let (density, dynamic_viscosity) = match dice.below(3) {
        0 | 1 => (998.2, 1.0016e-3),
        _ => (dice.spread(700.0, 1200.0), dice.spread(4e-4, 0.2)),
    };
    let width = dice.spread(0.02, 0.8);
    let flow = area(width) * dice.spread(0.3, 4.0);
    let mut elements = Vec::new();
    for i in 0..1 + dice.below(2) {
        let diameter = width * dice.between(0.8, 1.4);
        elements.push(Element::Loss {
            coefficient: dice.between(0.0, 8.0),
            law: LossLaw::Fixed,
            pipe: i,
        });
        elements.push(Element::Pipe(Pipe {
            diameter,
            length: diameter * dice.spread(20.0, 4000.0),
            roughness: if dice.chance(0.2) {
                0.0
            } else {
                diameter * dice.spread(1e-5, 0.03)
            },
            section: Section::ROUND,
        }));
    }
    let station = |elevation| Station {
        pressure: 0.0,
        elevation,
        velocity: StationVelocity::Value(0.0),
        alpha: None,
    };
    let path = Path {
        density,
        dynamic_viscosity,
        vapour_pressure: None,
        atmosphere: 101_325.0,
        gravity: 9.806_65,
        start: station(0.0),
        end: station(dice.between(-5.0, 40.0)),
        elements,
        points: Vec::new(),
    };
    (path, flow)
}

#[test]
#[ignore = "writes a file for tests/differential/pumps.py; run tests/differential/run.sh"]
fn write_pumps_for_the_differential_check() {
    let to = std::env::var("GRADELINE_DIFFERENTIAL_PUMPS")
        .expect("GRADELINE_DIFFERENTIAL_PUMPS names the file to write");
    let mut out = std::io::BufWriter::new(std::fs::File::create(to).unwrap());
    let mut dice = Dice(19_331_104);
    let limits = Limits::default();

    for _ in 0..800 {
        let flow = dice.spread(1e-4, 2.0);
        let head = dice.spread(0.5, 200.0);
        let (curve, made) = curve(&mut dice, flow, head);
        let at: Vec<_> = (0..20)
            .map(|i| curve.range().1.min(2.0 * flow) * f64::from(i) / 19.0)
            .map(|q| json!([q, curve.head(q), curve.slope(q)]))
            .collect();
        writeln!(out, "{}", json!({ "of": "curve", "curve": made, "at": at })).unwrap();
    }

    for i in 0..1000 {
        let (mut path, flow) = path(&mut dice);
        let readings = vec![
            Reading::EXACT;
            path.elements
                .iter()
                .filter(|e| matches!(e, Element::Pipe(_)))
                .count()
        ];
        let lost = state(&path, flow, &readings, &limits).unwrap().head_loss;
        // Now and then less than the lift, so that nothing flows; now and then a curve that ends too soon.
        let wanted = (path.end.elevation + lost).max(0.5) * dice.between(0.9, 1.1);
        let (parallel, series) = (1 + dice.below(3) as u32, 1 + dice.below(2) as u32);
        let (speed, trim) = (dice.between(0.7, 1.15), dice.between(0.85, 1.0));
        let ratio = speed * trim;
        let (curve, made) = curve(
            &mut dice,
            flow / f64::from(parallel) / ratio,
            wanted / f64::from(series) / (ratio * ratio),
        );
        let curve = curve
            .at_speed(speed)
            .trimmed(trim)
            .in_parallel(parallel)
            .in_series(series);
        let range = curve.range();
        path.elements
            .insert(1, Element::Pump(Machine::new(Duty::Curve(curve), 0.7)));
        let unknown = if i % 5 == 4 {
            Unknown::PumpSpeed(0)
        } else {
            Unknown::Flow
        };
        let problem = Problem {
            path: path.clone(),
            flow,
            unknown,
        };
        let answer = match solve(&problem, &readings, &limits) {
            Ok(solved) => {
                let others = solved.warnings.iter().filter_map(|w| match w {
                    Warning::SecondSolution { value } => Some(*value),
                    _ => None,
                });
                json!({ "value": solved.value, "others": others.collect::<Vec<f64>>() })
            }
            Err(error) => json!({
                "error": match error {
                    SolveError::NoFlow { .. } => "no flow",
                    SolveError::OffCurve { .. } => "off the curve",
                    SolveError::OnlyAtJump { .. } => "only at jump",
                    SolveError::NoSolution { .. } => "no solution",
                    other => panic!("{other:?}"),
                }
            }),
        };
        let elements: Vec<Value> = path
            .elements
            .iter()
            .filter_map(|element| match element {
                Element::Pipe(p) => Some(json!({ "D": p.diameter, "L": p.length, "eps": p.roughness })),
                Element::Loss {
                    coefficient, pipe, ..
                } => Some(json!({ "K": coefficient, "pipe": pipe })),
                _ => None,
            })
            .collect();
        let line = json!({
            "of": "pump", "unknown": if unknown == Unknown::Flow { "flow" } else { "speed" }, "flow": flow,
            "rho": path.density, "mu": path.dynamic_viscosity, "g": path.gravity, "lift": path.end.elevation,
            "elements": elements, "curve": made, "speed": speed, "trim": trim, "parallel": parallel,
            "series": series, "range": [range.0, range.1], "answer": answer,
        });
        writeln!(out, "{line}").unwrap();
    }
}
