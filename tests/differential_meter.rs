//! Writes random flow meters with the solver's answers, one JSON object a line, for
//! `tests/differential/meter.py`, which works each out again with the library `fluids`.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::hydraulics::meter::standard::{Convergent, Device, Taps};
use gradeline::hydraulics::meter::{
    Duct, Element, Gas, Gauge, Meter, Pitot, Problem, Throttle, Through, Unknown, solve,
};
use gradeline::hydraulics::path::area;
use gradeline::hydraulics::regime::Limits;
use serde_json::json;
use std::io::Write;

fn name(device: Device) -> &'static str {
    match device {
        Device::Orifice(Taps::Corner) => "corner",
        Device::Orifice(Taps::DAndHalfD) => "D and D/2",
        Device::Orifice(Taps::Flange) => "flange",
        Device::Isa1932Nozzle => "ISA 1932 nozzle",
        Device::LongRadiusNozzle => "long radius nozzle",
        Device::VenturiNozzle => "venturi nozzle",
        Device::Venturi(Convergent::AsCast) => "as cast convergent venturi tube",
        Device::Venturi(Convergent::Machined) => "machined convergent venturi tube",
        Device::Venturi(Convergent::WeldedSheet) => "rough welded convergent venturi tube",
    }
}

#[test]
#[ignore = "writes a file for tests/differential/meter.py; run tests/differential/run.sh"]
fn write_meters_for_the_differential_check() {
    let to = std::env::var("GRADELINE_DIFFERENTIAL_METERS")
        .expect("GRADELINE_DIFFERENTIAL_METERS names the file to write");
    let mut out = std::io::BufWriter::new(std::fs::File::create(to).unwrap());
    let mut dice = Dice(5167);
    let limits = Limits::default();

    for i in 0..3600 {
        let device = Device::ALL[i % 9];
        let is_gas = dice.chance(0.4);
        let (density, dynamic_viscosity) = if is_gas {
            (dice.spread(0.8, 40.0), dice.spread(1e-5, 3e-5))
        } else {
            (dice.spread(650.0, 1300.0), dice.spread(3e-4, 0.02))
        };
        let gas = is_gas.then(|| Gas {
            upstream_pressure: dice.spread(1e5, 4e6),
            isentropic_exponent: dice.between(1.1, 1.67),
        });
        let pipe_diameter = dice.spread(0.04, 1.2);
        // Beyond the limits of the standard as well, but turbulent: below Re 3700 `fluids` adds terms of others.
        let reynolds = dice.spread(4e3, 5e6);
        let throttle = Throttle {
            device,
            pipe_diameter,
            throat_diameter: pipe_diameter * dice.between(0.12, 0.8),
            coefficient: dice.chance(0.1).then(|| dice.between(0.58, 0.99)),
            cone_loss_share: 0.1,
            gas,
            liquid: None,
        };
        let gauge = if dice.chance(0.3) {
            Gauge::Manometer {
                density: dice.spread(1320.0, 13_600.0),
                deflection: f64::NAN,
            }
        } else {
            Gauge::Differential(f64::NAN)
        };
        let showing = match gauge {
            Gauge::Differential(_) => Unknown::Differential,
            Gauge::Manometer { .. } => Unknown::Deflection,
        };
        let meter = Meter {
            density,
            dynamic_viscosity,
            gravity: dice.between(9.78, 9.83),
            element: Element::Throttle(throttle),
            gauge,
        };
        let flow = reynolds * dynamic_viscosity / density / pipe_diameter * area(pipe_diameter);
        let forward = Problem {
            meter,
            flow,
            unknown: showing,
        };
        let Ok(shown) = solve(&forward, 1.0, &limits) else {
            // A gas too fast for the equations; nothing to compare.
            assert!(is_gas);
            continue;
        };
        let unknown = match i / 9 % 4 {
            0 => showing,
            1 => Unknown::ThroatDiameter,
            2 => Unknown::Coefficient,
            _ => Unknown::Flow,
        };
        let mut problem = Problem {
            meter: shown.meter,
            flow,
            unknown,
        };
        if let (Unknown::ThroatDiameter, Element::Throttle(t)) = (unknown, &mut problem.meter.element) {
            t.throat_diameter = f64::NAN;
        }
        let solved = solve(&problem, 1.0, &limits).unwrap();
        let Through::Throttle(state) = solved.state.through else {
            panic!("no throttling device");
        };
        let (liquid, deflection) = match solved.meter.gauge {
            Gauge::Differential(_) => (None, None),
            Gauge::Manometer { density, deflection } => (Some(density), Some(deflection)),
        };
        let line = json!({
            "of": "throttle", "device": name(device), "unknown": format!("{unknown:?}"), "value": solved.value,
            "D": pipe_diameter, "d": state.beta * pipe_diameter, "rho": density, "mu": dynamic_viscosity,
            "g": meter.gravity, "given_C": throttle.coefficient,
            "p1": gas.map(|g| g.upstream_pressure), "kappa": gas.map(|g| g.isentropic_exponent),
            "dp": solved.state.differential, "rho_m": liquid, "h_m": deflection,
            "Q": state.flow, "C": state.coefficient, "Y": state.expansibility, "Re": state.reynolds,
            "loss": state.permanent_loss,
        });
        writeln!(out, "{line}").unwrap();
    }

    for i in 0..300 {
        let pitot = Pitot {
            coefficient: dice.between(0.95, 1.02),
            velocity: dice.spread(0.3, 80.0),
            duct: Some(Duct {
                diameter: dice.spread(0.05, 2.0),
                velocity_ratio: dice.between(0.75, 0.9),
            }),
        };
        let meter = Meter {
            density: dice.spread(0.9, 1200.0),
            dynamic_viscosity: dice.spread(1e-5, 1e-2),
            gravity: 9.81,
            element: Element::Pitot(pitot),
            gauge: Gauge::Differential(dice.spread(5.0, 5e4)),
        };
        let unknown = [Unknown::Velocity, Unknown::Differential, Unknown::Coefficient][i % 3];
        let problem = Problem {
            meter,
            flow: f64::NAN,
            unknown,
        };
        let solved = solve(&problem, 1.0, &limits).unwrap();
        let Through::Pitot(state) = solved.state.through else {
            panic!("no Pitot tube");
        };
        let (duct, of) = (pitot.duct.unwrap(), state.duct.unwrap());
        let line = json!({
            "of": "pitot", "unknown": format!("{unknown:?}"), "C": state.coefficient, "u": state.velocity,
            "dp": solved.state.differential, "rho": meter.density, "mu": meter.dynamic_viscosity,
            "D": duct.diameter, "ratio": duct.velocity_ratio, "V": of.velocity, "Q": of.flow, "Re": of.reynolds,
        });
        writeln!(out, "{line}").unwrap();
    }
    out.flush().unwrap();
}
