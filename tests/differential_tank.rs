//! Writes random tanks with the solver's answers, one JSON object a line, for `tests/differential/tank.py`, which
//! works each out again with Python libraries.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity, area,
};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::tank::{Asked, Problem, Shape, Stop, TankError, Until, Vessel, Warning, solve};
use serde_json::{Value, json};
use std::io::Write;

fn shape(dice: &mut Dice) -> (Shape, Value) {
    match dice.below(6) {
        0 | 1 => {
            let area = dice.spread(0.3, 40.0);
            (
                Shape::Constant { area },
                json!({ "kind": "constant", "area": area }),
            )
        }
        2 => {
            let (floor_diameter, widening) = (dice.between(0.0, 1.5), dice.between(0.2, 1.5));
            (
                Shape::Cone {
                    floor_diameter,
                    widening,
                },
                json!({ "kind": "cone", "floor": floor_diameter, "widening": widening }),
            )
        }
        3 => {
            let diameter = dice.between(3.3, 8.0);
            (
                Shape::Sphere { diameter },
                json!({ "kind": "sphere", "diameter": diameter }),
            )
        }
        4 => {
            let (diameter, length) = (dice.between(3.3, 5.0), dice.between(1.0, 8.0));
            (
                Shape::LyingCylinder { diameter, length },
                json!({ "kind": "lying", "diameter": diameter, "length": length }),
            )
        }
        _ => {
            let points = vec![
                (0.0, dice.between(0.5, 5.0)),
                (dice.between(0.5, 1.5), dice.between(0.5, 5.0)),
                (4.0, dice.between(0.5, 5.0)),
            ];
            (
                Shape::Table(points.clone()),
                json!({ "kind": "table", "points": points }),
            )
        }
    }
}

fn vessel(shape: Shape, floor: f64, level: f64) -> Vessel {
    Vessel {
        shape,
        floor,
        level,
        pressure: 0.0,
        brim: None,
        mouth: None,
        inflow: 0.0,
    }
}

#[test]
#[ignore = "writes a file for tests/differential/tank.py; run tests/differential/run.sh"]
fn write_tanks_for_the_differential_check() {
    let to = std::env::var("GRADELINE_DIFFERENTIAL_TANK_OUT")
        .expect("GRADELINE_DIFFERENTIAL_TANK_OUT names the file to write");
    let mut out = std::io::BufWriter::new(std::fs::File::create(to).unwrap());
    let mut dice = Dice(20_251_125);
    for i in 0..720 {
        let (density, dynamic_viscosity) = match dice.below(3) {
            0 | 1 => (998.2, 1.0016e-3),
            _ => (dice.spread(650.0, 1300.0), dice.spread(3e-4, 0.3)),
        };
        let diameter = dice.spread(0.01, 0.2);
        let (length, roughness) = (
            dice.spread(0.5, 300.0),
            if dice.chance(0.2) {
                0.0
            } else {
                diameter * dice.spread(1e-5, 0.03)
            },
        );
        let (k, alpha) = (
            dice.between(0.5, 6.0),
            dice.chance(0.5).then(|| dice.between(1.0, 2.0)),
        );
        let (of, shape_json) = shape(&mut dice);
        // 0: drains, 1: fills, 2: two tanks.
        let kind = dice.below(3);
        let fall = dice.between(0.0, 4.0);
        let pump = if kind == 1 && dice.chance(0.4) {
            dice.between(1.0, 6.0)
        } else {
            0.0
        };
        let (shape_2, shape_2_json) = shape(&mut dice);
        let level = dice.between(1.8, 3.2);
        let (mut start, mut end) = (None, None);
        let mut elevations = (0.0, 0.0);
        let mut inflow = 0.0;
        match kind {
            0 => {
                let mut tank = vessel(of, 0.0, level);
                if dice.chance(0.3) {
                    inflow = area(diameter) * dice.between(-0.5, 1.5);
                    tank.inflow = inflow;
                }
                elevations.1 = -fall;
                start = Some(tank);
            }
            1 => {
                let mut tank = vessel(of, 0.0, 0.3);
                if dice.chance(0.2) {
                    inflow = area(diameter) * dice.between(-0.5, 0.5);
                    tank.inflow = inflow;
                }
                elevations.0 = 3.5 + fall - pump;
                end = Some(tank);
            }
            _ => {
                start = Some(vessel(of, fall, level));
                end = Some(vessel(shape_2, 0.0, dice.between(0.2, 1.5)));
            }
        }
        let jet = kind == 0 && dice.chance(0.7);
        let station = |elevation: f64, jet: bool| Station {
            pressure: 0.0,
            elevation,
            velocity: if jet {
                StationVelocity::Pipe
            } else {
                StationVelocity::Value(0.0)
            },
            alpha,
        };
        let mut elements = vec![
            Element::Loss {
                coefficient: k,
                law: LossLaw::Fixed,
                pipe: 0,
            },
            Element::Pipe(Pipe {
                diameter,
                length,
                roughness,
                section: Section::ROUND,
            }),
        ];
        if pump > 0.0 {
            elements.push(Element::Pump(Machine::new(Duty::Head(pump), 0.7)));
        }
        let problem = |asked| Problem {
            path: Path {
                density,
                dynamic_viscosity,
                vapour_pressure: None,
                atmosphere: 101_325.0,
                gravity: 9.806_65,
                start: station(elevations.0, false),
                end: station(elevations.1, jet),
                elements: elements.clone(),
                points: Vec::new(),
            },
            start: start.clone(),
            end: end.clone(),
            asked,
        };
        let ask = |asked| solve(&problem(asked), &[Reading::EXACT], &Limits::default());
        let until = if kind == 1 {
            dice.between(0.5, 3.0)
        } else {
            level * dice.between(0.05, 0.95)
        };
        let found = ask(Asked::Time(Until::Level(until)));
        // Every third asks for the level after a time of the same size.
        let asked = if i % 3 == 0 { "level" } else { "time" };
        let time = found.as_ref().map_or(1000.0, |f| f.value) * dice.between(0.5, 0.99);
        let found = if asked == "level" {
            ask(Asked::Level(time))
        } else {
            found
        };
        let answer = match found {
            Ok(solved) => json!({
                "value": solved.value, "Q_1": solved.start.state.flow, "Q_2": solved.end.state.flow,
                "settled": solved.warnings.iter().any(|w| matches!(w, Warning::Settled { .. })),
            }),
            Err(TankError::StopsBefore { level, stop, .. }) => json!({
                "error": "stops before", "at": level, "stop": match stop {
                    Stop::AtRest => "at rest",
                    Stop::InBalance => "in balance",
                    Stop::Full | Stop::Empty | Stop::OtherFull => "wall",
                }
            }),
            Err(TankError::EndsBefore { time, level, .. }) => {
                json!({ "error": "ends before", "at": level, "time": time })
            }
            Err(TankError::OtherWay { rises }) => json!({ "error": "other way", "rises": rises }),
            Err(other) => json!({ "error": format!("{other:?}") }),
        };
        let line = json!({
            "asked": asked, "until": until, "time": time, "rho": density, "mu": dynamic_viscosity, "g": 9.806_65,
            "D": diameter, "L": length, "eps": roughness, "K": k, "alpha": alpha, "jet": jet, "pump": pump,
            "kind": (["drain", "fill", "two"][kind]), "shape": shape_json, "shape_2": shape_2_json,
            "inflow": inflow, "level": problem(Asked::Level(0.0)).start.or(end.clone()).unwrap().level,
            "level_2": end.as_ref().map(|v| v.level), "floor": start.as_ref().map(|v| v.floor),
            "z": [elevations.0, elevations.1], "answer": answer,
        });
        writeln!(out, "{line}").unwrap();
    }
    out.flush().unwrap();
}
