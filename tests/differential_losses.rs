//! Writes random paths with equivalent lengths, changes of area and cones, with the solver's answers and grade
//! lines, one JSON object a line, and nominal sizes, for `tests/differential/losses.py`.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::hydraulics::fittings::{contraction_share, expansion_share, rounded_entrance};
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::grade::{Point, grade_line, lowest};
use gradeline::hydraulics::path::{Element, LossLaw, Path, Pipe, Section, Station, StationVelocity};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::sizes::SERIES;
use gradeline::hydraulics::solve::{Problem, SolveError, Unknown, Warning, solve};
use serde_json::{Value, json};
use std::io::Write;

/// A random path, each loss in words for the other side, and a flow of ordinary velocity.
fn system(dice: &mut Dice) -> (Path, Vec<Value>, f64) {
    let width = dice.spread(0.02, 0.6);
    let count = 1 + dice.below(3);
    let widths: Vec<f64> = (0..count).map(|_| width * dice.between(0.5, 2.0)).collect();
    let (mut elements, mut words, mut points) = (Vec::new(), Vec::new(), Vec::new());
    let mut lose = |elements: &mut Vec<Element>, law, coefficient, pipe, word: Value| {
        elements.push(Element::Loss {
            coefficient,
            law,
            pipe,
        });
        words.push(word);
    };
    let rounding = dice.between(0.0, 0.25);
    lose(
        &mut elements,
        LossLaw::Fixed,
        rounded_entrance(rounding),
        0,
        json!({ "kind": "entrance", "rc": rounding, "pipe": 0 }),
    );
    for i in 0..count {
        if i > 0 {
            let angle = dice.between(2.0, 180.0);
            let sudden = dice.below(2) == 0;
            let (law, share, pipe, kind) = if widths[i - 1] <= widths[i] {
                let share = if sudden {
                    1.0
                } else {
                    expansion_share(angle.to_radians())
                };
                (LossLaw::Expansion { into: i }, share, i - 1, "expansion")
            } else {
                let share = if sudden {
                    0.5
                } else {
                    contraction_share(angle.to_radians())
                };
                (LossLaw::Contraction { from: i - 1 }, share, i, "contraction")
            };
            let angle = if sudden { 180.0 } else { angle };
            lose(
                &mut elements,
                law,
                share,
                pipe,
                json!({ "kind": kind, "angle": angle, "from": i - 1, "to": i, "pipe": pipe }),
            );
        }
        let length = widths[i] * dice.spread(10.0, 3000.0);
        if dice.below(2) == 0 {
            points.push(Point {
                after: elements.len(),
                along: length * dice.unit(),
                elevation: dice.between(-5.0, 12.0),
            });
        }
        elements.push(Element::Pipe(Pipe {
            diameter: widths[i],
            length,
            roughness: widths[i] * dice.spread(1e-5, 0.02),
            section: Section::ROUND,
        }));
        for _ in 0..dice.below(3) {
            let (law, number, kind) = match dice.below(3) {
                0 => (LossLaw::Fixed, dice.between(0.0, 6.0), "K"),
                1 => (LossLaw::EquivalentLength, dice.spread(0.1, 50.0), "length"),
                _ => (LossLaw::EquivalentDiameters, dice.spread(3.0, 400.0), "diameters"),
            };
            lose(
                &mut elements,
                law,
                number,
                i,
                json!({ "kind": kind, "number": number, "pipe": i }),
            );
        }
    }
    let station = |velocity, elevation| Station {
        pressure: 0.0,
        elevation,
        velocity,
        alpha: None,
    };
    let end = match dice.below(3) {
        0 => StationVelocity::Value(0.0),
        1 => StationVelocity::Pipe,
        _ => StationVelocity::Jet(widths[count - 1] * dice.between(0.4, 1.0)),
    };
    let flow = std::f64::consts::FRAC_PI_4 * width * width * dice.spread(0.05, 4.0);
    let path = Path {
        density: 998.2,
        dynamic_viscosity: dice.spread(4e-4, 0.2),
        vapour_pressure: None,
        atmosphere: 101_325.0,
        gravity: 9.806_65,
        start: station(StationVelocity::Value(0.0), 0.0),
        end: station(end, dice.between(-20.0, 20.0)),
        elements,
        points,
    };
    (path, words, flow)
}

#[test]
#[ignore = "writes a file for tests/differential/losses.py; run tests/differential/run.sh"]
fn write_losses_for_the_differential_check() {
    let to = std::env::var("GRADELINE_LOSSES_OUT").expect("GRADELINE_LOSSES_OUT names the file to write");
    let mut out = std::io::BufWriter::new(std::fs::File::create(to).unwrap());
    let mut dice = Dice(77_031_554);
    let limits = Limits::default();
    for _ in 0..1200 {
        let (mut path, words, flow) = system(&mut dice);
        let pipes: Vec<Pipe> = path
            .elements
            .iter()
            .filter_map(|e| match e {
                Element::Pipe(pipe) => Some(*pipe),
                _ => None,
            })
            .collect();
        let readings = vec![Reading::EXACT; pipes.len()];
        let at = Problem {
            path: path.clone(),
            flow,
            unknown: Unknown::StartElevation,
        };
        path = solve(&at, &readings, &limits).unwrap().path;
        let which = dice.below(pipes.len());
        let (unknown, kind) = match dice.below(4) {
            0 => (Unknown::Flow, "flow"),
            1 => (Unknown::Diameter(which), "diameter"),
            2 => (Unknown::Length(which), "length"),
            _ => (Unknown::EndPressure, "end pressure"),
        };
        let mut asked = Problem {
            path: path.clone(),
            flow,
            unknown,
        };
        asked.put(f64::NAN).unwrap();
        let answer = match solve(&asked, &readings, &limits) {
            Ok(solved) => {
                let others: Vec<f64> = solved
                    .warnings
                    .iter()
                    .filter_map(|w| match w {
                        Warning::SecondSolution { value } => Some(*value),
                        _ => None,
                    })
                    .collect();
                let line = grade_line(&solved.path, &solved.state);
                let least = lowest(&line).unwrap();
                json!({
                    "value": solved.value, "others": others, "K": solved.state.loss_coefficients,
                    "p_min": least.pressure, "p_min_at": least.distance,
                    "line": line.iter().map(|p| json!([
                        p.distance, p.elevation, p.energy_head, p.hydraulic_head, p.pressure
                    ])).collect::<Vec<_>>(),
                })
            }
            Err(SolveError::OnlyAtJump { .. }) => json!({ "error": "only at jump" }),
            Err(SolveError::NoSolution { .. }) => json!({ "error": "no solution" }),
            Err(other) => panic!("{other:?}"),
        };
        let end = match path.end.velocity {
            StationVelocity::Value(_) => json!({ "kind": "surface" }),
            StationVelocity::Pipe => json!({ "kind": "pipe" }),
            StationVelocity::Jet(d) => json!({ "kind": "jet", "d": d }),
        };
        let points: Vec<Value> = path
            .points
            .iter()
            .map(|p| {
                let pipe = path.elements[..p.after]
                    .iter()
                    .filter(|e| matches!(e, Element::Pipe(_)))
                    .count();
                json!({ "pipe": pipe, "along": p.along, "z": p.elevation })
            })
            .collect();
        let line = json!({
            "of": "path", "unknown": kind, "which": which, "flow": flow, "rho": path.density,
            "mu": path.dynamic_viscosity, "g": path.gravity, "z1": path.start.elevation,
            "z2": path.end.elevation, "p2": path.end.pressure, "end": end,
            "pipes": pipes.iter().map(|p| json!([p.diameter, p.length, p.roughness])).collect::<Vec<_>>(),
            "losses": words, "points": points, "answer": answer,
        });
        writeln!(out, "{line}").unwrap();
    }
    for series in SERIES {
        for size in series.sizes {
            let line = json!({
                "of": "size", "series": series.name, "inches": size.inches, "dn": size.nominal_diameter,
                "outside_mm": size.outside_mm, "wall_mm": size.wall_mm, "bore": size.bore(),
            });
            writeln!(out, "{line}").unwrap();
        }
    }
}
