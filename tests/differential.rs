//! Writes random systems with the solver's answers, friction factors and properties of fluids, one JSON object
//! a line, for `tests/differential/check.py`, which works each out again with Python libraries.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::fluid::Named;
use gradeline::hydraulics::friction::{Law, Reading, darcy, darcy_colebrook};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity, area,
};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{Problem, SolveError, Unknown, Warning, solve};
use serde_json::{Value, json};
use std::io::Write;

const LAWS: [Law; 6] = [
    Law::Colebrook,
    Law::Haaland,
    Law::SwameeJain,
    Law::Churchill,
    Law::Serghides,
    Law::Fixed(0.0225),
];

fn station(dice: &mut Dice, diameter: f64) -> Station {
    Station {
        pressure: dice.between(-2e4, 4e5),
        elevation: dice.between(-10.0, 40.0),
        velocity: match dice.below(4) {
            0 | 1 => StationVelocity::Value(0.0),
            2 => StationVelocity::Pipe,
            _ => StationVelocity::Jet(diameter * dice.between(0.5, 1.0)),
        },
        alpha: dice.chance(0.3).then(|| dice.between(1.0, 2.0)),
    }
}

fn machine(dice: &mut Dice, weight_flow: f64) -> Element {
    let efficiency = dice.between(0.4, 1.0);
    let head = dice.spread(0.5, 30.0);
    let duty = if dice.chance(0.5) {
        Duty::Head(head)
    } else {
        Duty::Power(head * weight_flow)
    };
    let machine = Machine::new(duty, efficiency);
    if dice.chance(0.6) {
        Element::Pump(machine)
    } else {
        Element::Turbine(machine)
    }
}

/// A random path and a flow of ordinary velocity through it.
fn system(dice: &mut Dice) -> (Path, f64) {
    let (density, dynamic_viscosity) = match dice.below(4) {
        0 | 1 => (998.2, 1.0016e-3),
        2 => (dice.spread(650.0, 1300.0), dice.spread(3e-4, 0.5)),
        _ => (1.2046, 1.82e-5),
    };
    let width = dice.spread(0.01, 1.0);
    let count = 1 + dice.below(3);
    let flow = area(width) * dice.spread(0.05, 5.0);
    let gravity = 9.806_65;
    let mut elements = Vec::new();
    for i in 0..count {
        let diameter = width * dice.between(0.6, 1.8);
        let relative_roughness = if dice.chance(0.2) {
            0.0
        } else {
            dice.spread(1e-5, 0.04)
        };
        for _ in 0..dice.below(3) {
            elements.push(Element::Loss {
                law: LossLaw::Fixed,
                coefficient: dice.between(0.0, 8.0),
                pipe: i,
            });
        }
        elements.push(Element::Pipe(Pipe {
            diameter,
            length: diameter * dice.spread(10.0, 5000.0),
            roughness: relative_roughness * diameter,
            section: Section::ROUND,
        }));
        if dice.chance(0.25) {
            elements.push(machine(dice, density * gravity * flow));
        }
    }
    let path = Path {
        density,
        dynamic_viscosity,
        vapour_pressure: None,
        atmosphere: 101_325.0,
        gravity,
        start: station(dice, width),
        end: station(dice, width),
        elements,
        points: Vec::new(),
    };
    (path, flow)
}

/// An unknown of the path, each kind as often as the path allows.
fn unknown(dice: &mut Dice, path: &Path) -> Unknown {
    let count = |wanted: fn(&Element) -> bool| path.elements.iter().filter(|e| wanted(e)).count();
    let pipes = count(|e| matches!(e, Element::Pipe(_)));
    let losses = count(|e| matches!(e, Element::Loss { .. }));
    let pumps = count(|e| matches!(e, Element::Pump(_)));
    let turbines = count(|e| matches!(e, Element::Turbine(_)));
    loop {
        let (among, make): (usize, fn(usize) -> Unknown) = match dice.below(13) {
            0 => (1, |_| Unknown::Flow),
            1 => (pipes, Unknown::Diameter),
            2 => (pipes, Unknown::Length),
            3 => (pipes, Unknown::Roughness),
            4 => (losses, Unknown::LossCoefficient),
            5 => (1, |_| Unknown::StartPressure),
            6 => (1, |_| Unknown::EndPressure),
            7 => (1, |_| Unknown::StartElevation),
            8 => (1, |_| Unknown::EndElevation),
            9 => (pumps, Unknown::PumpHead),
            10 => (pumps, Unknown::PumpPower),
            11 => (turbines, Unknown::TurbineHead),
            _ => (turbines, Unknown::TurbinePower),
        };
        if among > 0 {
            return make(dice.below(among));
        }
    }
}

fn station_json(station: &Station) -> Value {
    let (kind, value) = match station.velocity {
        StationVelocity::Value(value) => ("value", value),
        StationVelocity::Pipe => ("pipe", 0.0),
        StationVelocity::Jet(diameter) => ("jet", diameter),
    };
    json!({
        "p": station.pressure, "z": station.elevation, "kind": kind, "value": value, "alpha": station.alpha,
    })
}

fn element_json(element: &Element) -> Value {
    let machine = |kind: &str, machine: &Machine| {
        let (by, size) = match machine.duty {
            Duty::Head(head) => ("head", head),
            Duty::Power(power) => ("power", power),
            Duty::Curve(_) => unreachable!("no curve is dealt here; `pumps` has them"),
        };
        json!({ "kind": kind, "by": by, "size": size, "efficiency": machine.efficiency_at(0.0) })
    };
    match element {
        Element::Pipe(p) => json!({ "kind": "pipe", "D": p.diameter, "L": p.length, "eps": p.roughness }),
        Element::Loss {
            coefficient, pipe, ..
        } => json!({ "kind": "loss", "K": coefficient, "pipe": pipe }),
        Element::Pump(m) => machine("pump", m),
        Element::Turbine(m) => machine("turbine", m),
    }
}

fn law_json(law: Law) -> Value {
    match law {
        Law::Fixed(value) => json!(value),
        other => json!(format!("{other:?}")),
    }
}

fn answer_json(problem: &Problem, readings: &[Reading]) -> Value {
    match solve(problem, readings, &Limits::default()) {
        Ok(solved) => {
            let others: Vec<f64> = solved
                .warnings
                .iter()
                .filter_map(|w| match w {
                    Warning::SecondSolution { value } => Some(*value),
                    _ => None,
                })
                .collect();
            json!({ "value": solved.value, "others": others })
        }
        Err(error) => json!({
            "error": match error {
                SolveError::NoFlow { .. } => "no flow",
                SolveError::NoSolution { .. } => "no solution",
                SolveError::OnlyAtJump { .. } => "only at jump",
                SolveError::Undetermined { .. } => "undetermined",
                SolveError::OffCurve { .. } => "off the curve",
                SolveError::Impossible { .. } => "impossible",
            }
        }),
    }
}

#[test]
#[ignore = "writes a file for tests/differential/check.py; run tests/differential/run.sh"]
fn write_systems_for_the_differential_check() {
    let to = std::env::var("GRADELINE_DIFFERENTIAL_OUT")
        .expect("GRADELINE_DIFFERENTIAL_OUT names the file to write");
    let mut out = std::io::BufWriter::new(std::fs::File::create(to).unwrap());
    let mut dice = Dice(20_240_917);
    let limits = Limits::default();

    for i in 0..4000 {
        let (mut path, flow) = system(&mut dice);
        let unknown = unknown(&mut dice, &path);
        let law = LAWS[if dice.chance(0.7) {
            0
        } else {
            dice.below(LAWS.len())
        }];
        let factor = if dice.chance(0.7) {
            1.0
        } else {
            dice.between(0.9, 1.1)
        };
        let pipes = path
            .elements
            .iter()
            .filter(|e| matches!(e, Element::Pipe(_)))
            .count();
        let readings = vec![Reading { law, factor }; pipes];
        // Three in four are in balance at the flow, so that there is an answer; the rest are as they fall.
        if i % 4 != 0 {
            let at = Problem {
                path: path.clone(),
                flow,
                unknown: Unknown::StartPressure,
            };
            path = solve(&at, &readings, &limits).unwrap().path;
        }
        let problem = Problem {
            path: path.clone(),
            flow,
            unknown,
        };
        let (kind, which) = match unknown {
            Unknown::Diameter(i) => ("diameter", i),
            Unknown::Length(i) => ("length", i),
            Unknown::Roughness(i) => ("roughness", i),
            Unknown::LossCoefficient(i) => ("loss", i),
            Unknown::PumpHead(i) => ("pump head", i),
            Unknown::PumpPower(i) => ("pump power", i),
            Unknown::TurbineHead(i) => ("turbine head", i),
            Unknown::TurbinePower(i) => ("turbine power", i),
            Unknown::PumpSpeed(_) | Unknown::PumpTrim(_) => unreachable!("no curve is dealt here"),
            Unknown::Flow => ("flow", 0),
            Unknown::StartPressure => ("start pressure", 0),
            Unknown::EndPressure => ("end pressure", 0),
            Unknown::StartElevation => ("start elevation", 0),
            Unknown::EndElevation => ("end elevation", 0),
        };
        let line = json!({
            "of": "system", "unknown": kind, "which": which, "flow": flow,
            "rho": path.density, "mu": path.dynamic_viscosity, "g": path.gravity,
            "law": law_json(law), "factor": factor,
            "start": station_json(&path.start), "end": station_json(&path.end),
            "elements": path.elements.iter().map(element_json).collect::<Vec<_>>(),
            "answer": answer_json(&problem, &readings),
        });
        writeln!(out, "{line}").unwrap();
    }

    for _ in 0..4000 {
        let (re, rr) = (dice.spread(4000.0, 1e8), dice.spread(1e-6, 0.05));
        let of = |law| darcy(Reading { law, factor: 1.0 }, re, rr, &limits);
        let line = json!({
            "of": "friction", "Re": re, "rr": rr, "Colebrook": darcy_colebrook(re, rr).unwrap(),
            "Haaland": of(Law::Haaland), "SwameeJain": of(Law::SwameeJain), "Churchill": of(Law::Churchill),
            "Serghides": of(Law::Serghides), "FullyRough": of(Law::FullyRough),
        });
        writeln!(out, "{line}").unwrap();
    }

    for _ in 0..1000 {
        let t = dice.between(273.15, 373.15);
        let water = Named::Water.properties(t, 1e5).unwrap();
        let line = json!({
            "of": "water", "T": t, "rho": water.density, "mu": water.dynamic_viscosity, "p_v": water.vapour_pressure,
        });
        writeln!(out, "{line}").unwrap();
    }
    out.flush().unwrap();
}
