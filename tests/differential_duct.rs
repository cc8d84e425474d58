//! Writes random ducts and profiles with the solver's answers, one JSON object a line, for
//! `tests/differential/duct.py`, which works each out again.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::hydraulics::duct::{Section, Shape};
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::path::{Element, Path, Pipe, Station, StationVelocity};
use gradeline::hydraulics::profile::{self, Drive, Exponent, Motion, Tube};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{Problem, Unknown, Warning, solve};
use serde_json::{Value, json};
use std::io::Write;

fn shape(dice: &mut Dice, kind: usize) -> (Shape, Value) {
    let size = dice.spread(0.003, 1.5);
    match kind % 4 {
        0 => {
            let (width, height) = (size, size * dice.spread(0.03, 1.0));
            let (width, height) = if dice.chance(0.5) {
                (width, height)
            } else {
                (height, width)
            };
            (
                Shape::Rectangle { width, height },
                json!({ "kind": "rectangle", "a": width, "b": height }),
            )
        }
        1 => {
            let inner = size * dice.between(0.001, 0.97);
            (
                Shape::Annulus { outer: size, inner },
                json!({ "kind": "annulus", "a": size, "b": inner }),
            )
        }
        2 => (
            Shape::Triangle { side: size },
            json!({ "kind": "triangle", "a": size }),
        ),
        _ => {
            let width = size * dice.spread(10.0, 200.0);
            (
                Shape::Plates { gap: size, width },
                json!({ "kind": "plates", "a": size, "b": width }),
            )
        }
    }
}

fn duct(dice: &mut Dice, i: usize) -> Value {
    let (shape, measures) = shape(dice, i);
    let laminar = shape.laminar();
    let effective = dice.chance(0.5);
    let section: Section = if effective {
        shape.section().on_effective_diameter()
    } else {
        shape.section()
    };
    let diameter = shape.hydraulic_diameter();
    let reynolds = if dice.chance(0.4) {
        dice.spread(0.5, 2290.0)
    } else {
        dice.spread(2310.0, 3e6)
    };
    let density = dice.spread(0.9, 1400.0);
    let dynamic_viscosity = dice.spread(1e-5, 1.0);
    let flow = reynolds * dynamic_viscosity / (density * diameter) * shape.area();
    let (length, roughness) = (
        diameter * dice.spread(5.0, 2000.0),
        if dice.chance(0.2) {
            0.0
        } else {
            diameter * dice.spread(1e-6, 0.02)
        },
    );
    let k = dice.between(0.0, 4.0);
    let surface = Station {
        pressure: f64::NAN,
        elevation: 0.0,
        velocity: StationVelocity::Value(0.0),
        alpha: None,
    };
    let path = Path {
        density,
        dynamic_viscosity,
        vapour_pressure: None,
        atmosphere: 101_325.0,
        gravity: 9.81,
        start: surface,
        // The flow leaves with the duct's own velocity head.
        end: Station {
            pressure: 0.0,
            velocity: StationVelocity::Pipe,
            ..surface
        },
        elements: vec![
            Element::Pipe(Pipe {
                diameter,
                length,
                roughness,
                section,
            }),
            Element::Loss {
                coefficient: k,
                law: gradeline::hydraulics::path::LossLaw::Fixed,
                pipe: 0,
            },
        ],
        points: Vec::new(),
    };
    let mut problem = Problem {
        path,
        flow,
        unknown: Unknown::StartPressure,
    };
    let limits = Limits::default();
    let solved = solve(&problem, &[Reading::EXACT], &limits).unwrap();
    // And back: the flow that this pressure drives.
    problem.path = solved.path.clone();
    problem.unknown = Unknown::Flow;
    problem.put(f64::NAN).unwrap();
    let found = solve(&problem, &[Reading::EXACT], &limits).unwrap();
    let mut back = vec![found.value];
    back.extend(found.warnings.iter().filter_map(|w| match w {
        Warning::SecondSolution { value } => Some(*value),
        _ => None,
    }));
    json!({
        "what": "duct", "shape": measures, "effective": effective, "rho": density, "mu": dynamic_viscosity, "Q": flow,
        "L": length, "eps": roughness, "K": k, "constant": laminar.constant, "alpha": laminar.alpha,
        "beta": laminar.beta, "p": solved.value, "f": solved.state.pipes[0].darcy_friction_factor,
        "V": solved.state.pipes[0].velocity, "Re": solved.state.pipes[0].reynolds, "Q_back": back,
    })
}

fn tube(dice: &mut Dice, i: usize) -> Value {
    let density = dice.spread(0.9, 1400.0);
    let dynamic_viscosity = dice.spread(1e-5, 2.0);
    let diameter = dice.spread(3e-4, 1.0);
    let reynolds = if dice.chance(0.5) {
        dice.spread(0.1, 2290.0)
    } else {
        dice.spread(2310.0, 5e6)
    };
    let velocity = reynolds * dynamic_viscosity / (density * diameter);
    let laminar = reynolds < 2300.0;
    let given = dice.chance(0.3);
    let by_shear = i % 3 == 2;
    let tube = Tube {
        density,
        dynamic_viscosity,
        gravity: 9.81,
        diameter,
        length: Some(diameter * dice.spread(10.0, 3000.0)),
        roughness: if dice.chance(0.3) {
            0.0
        } else {
            diameter * dice.spread(1e-6, 0.03)
        },
        motion: match i % 4 {
            0 | 1 => Motion::Flow(velocity * 0.25 * std::f64::consts::PI * diameter * diameter),
            2 => Motion::Mean(velocity),
            // Far enough above 2300 for the power law to be the only one.
            _ => Motion::Centre(velocity * if laminar { 2.0 } else { 1.25 }),
        },
        drive: match i % 3 {
            0 => Drive::PressureDrop(f64::NAN),
            1 => Drive::Head(f64::NAN),
            _ => Drive::WallShear(f64::NAN),
        },
        end_correction: if by_shear { 0.0 } else { dice.between(0.0, 1.0) },
        kinetic_correction: if by_shear { 0.0 } else { dice.between(0.0, 1.2) },
        exponent: if given {
            Exponent::Given(dice.between(5.0, 11.0))
        } else {
            Exponent::FromFriction
        },
        radius: Some(0.5 * diameter * dice.between(0.0, 0.98)),
    };
    let limits = Limits::default();
    let first = profile::Problem {
        tube,
        unknown: profile::Unknown::Drive,
    };
    let solved = profile::solve(&first, Reading::EXACT, &limits).unwrap();
    // Solved once more for another unknown, which must lead to the same flow.
    let all = [
        profile::Unknown::Motion,
        profile::Unknown::Diameter,
        profile::Unknown::Length,
        profile::Unknown::Viscosity,
    ];
    let unknown = all[i % if laminar { 4 } else { 2 }];
    let unknown = if by_shear && unknown == profile::Unknown::Length {
        profile::Unknown::Motion
    } else {
        unknown
    };
    let mut second = profile::Problem {
        tube: Tube {
            radius: None,
            ..solved.tube
        },
        unknown,
    };
    let expected = match unknown {
        profile::Unknown::Motion => match tube.motion {
            Motion::Flow(v) | Motion::Mean(v) | Motion::Centre(v) => v,
        },
        profile::Unknown::Diameter => diameter,
        profile::Unknown::Length => tube.length.unwrap(),
        _ => dynamic_viscosity,
    };
    second.put(f64::NAN);
    let found = profile::solve(&second, Reading::EXACT, &limits).unwrap();
    let mut values = vec![found.value];
    values.extend(found.warnings.iter().filter_map(|w| match w {
        profile::Warning::SecondSolution { value } => Some(*value),
        _ => None,
    }));
    let state = solved.state;
    let local = state.local.unwrap();
    json!({
        "what": "profile", "rho": density, "mu": dynamic_viscosity, "D": diameter, "L": tube.length, "eps": tube.roughness,
        "c_e": tube.end_correction, "m": tube.kinetic_correction,
        "n_given": match tube.exponent { Exponent::Given(n) => Some(n), Exponent::FromFriction => None },
        "Q": state.flow, "V": state.velocity, "u_max": state.centre_velocity, "Re": state.reynolds,
        "f": state.darcy_friction_factor, "tau_w": state.wall_shear, "u_tau": state.friction_velocity,
        "n": state.exponent, "alpha": state.alpha, "beta": state.beta, "L_e": state.entrance_length,
        "dp": state.pressure_drop, "r": local.radius, "u_r": local.velocity, "tau_r": local.shear,
        "drive": match solved.tube.drive {
            Drive::PressureDrop(v) => ("dp", v), Drive::Head(v) => ("h", v), Drive::WallShear(v) => ("tau_w", v),
        },
        "again": { "of": format!("{unknown:?}"), "expected": expected, "found": values },
    })
}

#[test]
#[ignore = "writes a file for tests/differential/duct.py; run tests/differential/run.sh"]
fn write_ducts_and_profiles_for_the_differential_check() {
    let to = std::env::var("GRADELINE_DIFFERENTIAL_DUCTS")
        .expect("GRADELINE_DIFFERENTIAL_DUCTS names the file to write");
    let mut out = std::io::BufWriter::new(std::fs::File::create(to).unwrap());
    let mut dice = Dice(1978);
    for i in 0..1200 {
        writeln!(out, "{}", duct(&mut dice, i)).unwrap();
    }
    for i in 0..1200 {
        writeln!(out, "{}", tube(&mut dice, i)).unwrap();
    }
}
