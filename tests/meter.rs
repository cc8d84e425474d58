//! Flow meters against values from outside, and the laws that they must keep.
//!
//! `tests/data/meters.jsonl`: meters solved independently with the standard's equations and checked with the
//! library `fluids` 1.3.1. Values printed by standards and books stand below with their source; "quoted" means
//! that the print itself was not at hand, and who quotes it.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::course::{Course, UnitSystem};
use gradeline::bank::system::System;
use gradeline::equation::Style;
use gradeline::hydraulics::meter::standard::{
    Convergent, Device, Limited, Taps, discharge_coefficient, expansibility, limits,
};
use gradeline::hydraulics::meter::{
    Element, Gas, Gauge, Meter, Pitot, Problem, SolveError, Solved, Throttle, ThrottleState, Through,
    Unknown, Warning, solve,
};
use gradeline::hydraulics::path::area;
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::Written;
use gradeline::solution::{self, Case};
use proptest::prelude::*;
use serde_json::Value;

fn throttle(device: Device, pipe_diameter: f64, throat_diameter: f64) -> Throttle {
    Throttle {
        device,
        pipe_diameter,
        throat_diameter,
        coefficient: None,
        cone_loss_share: 0.1,
        gas: None,
        liquid: None,
    }
}

fn meter(density: f64, dynamic_viscosity: f64, throttle: Throttle, gauge: Gauge) -> Meter {
    Meter {
        density,
        dynamic_viscosity,
        gravity: 9.81,
        element: Element::Throttle(throttle),
        gauge,
    }
}

fn water(throttle: Throttle, differential: f64) -> Meter {
    meter(998.2, 1.0016e-3, throttle, Gauge::Differential(differential))
}

fn solved(meter: Meter, flow: f64, unknown: Unknown) -> Result<Solved, SolveError> {
    let problem = Problem { meter, flow, unknown };
    solve(&problem, 1.0, &Limits::default())
}

fn state(solved: &Solved) -> ThrottleState {
    match solved.state.through {
        Through::Throttle(state) => state,
        Through::Pitot(_) => panic!("no throttling device"),
    }
}

fn near(ours: f64, theirs: f64, share: f64) {
    assert!((ours / theirs - 1.0).abs() <= share, "{ours} for {theirs}");
}

#[test]
fn meters_solved_elsewhere_come_out_the_same() {
    for line in include_str!("data/meters.jsonl").lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        let id = row["id"].as_str().unwrap();
        let input = |key: &str| row["inputs"][key].as_f64().unwrap_or(f64::NAN);
        let expected = |key: &str| {
            row["solution"][key]
                .as_f64()
                .unwrap_or_else(|| panic!("{id}: {key}"))
        };
        let device = match row["type"].as_str().unwrap() {
            "iso5167_rhg_corner" => Device::Orifice(Taps::Corner),
            "iso5167_rhg_D" => Device::Orifice(Taps::DAndHalfD),
            "iso5167_rhg_flange" => Device::Orifice(Taps::Flange),
            "iso5167_venturi_as_cast" => Device::Venturi(Convergent::AsCast),
            other => panic!("{id}: {other}"),
        };
        let unknown = match row["solution"]["unknown"].as_str().unwrap() {
            "Q" => Unknown::Flow,
            "dp" => Unknown::Differential,
            "d" => Unknown::ThroatDiameter,
            other => panic!("{id}: {other}"),
        };
        let at = meter(
            row["fluid"]["rho"].as_f64().unwrap(),
            row["fluid"]["mu"].as_f64().unwrap(),
            throttle(device, input("D"), input("d")),
            Gauge::Differential(input("dp_Pa")),
        );
        let solved = solved(at, input("Q_m3s"), unknown).unwrap();
        let state = state(&solved);
        near(state.flow, expected("Q_m3s"), 1e-10);
        near(state.mass_flow, expected("mass_flow_kgs"), 1e-10);
        near(solved.state.differential, expected("dp_Pa"), 1e-10);
        near(state.beta * input("D"), expected("d_m"), 1e-8);
        near(state.coefficient, expected("C"), 1e-9);
        near(state.approach_factor, expected("velocity_of_approach_E"), 1e-8);
        near(state.reynolds, expected("Re_D"), 1e-8);
        if row["solution"]["permanent_loss_Pa"].is_f64() {
            near(state.permanent_loss, expected("permanent_loss_Pa"), 1e-8);
        }
        assert!(solved.warnings.is_empty(), "{id}: {:?}", solved.warnings);
    }
}

/// Discharge coefficients of orifice plates to four figures: taps, D in m, β, Re, C. Quoted by the tests of
/// the library pvtlib (Equinor), `tests/test_differential_pressure_flowmeters.py`, as known values of the
/// Reader-Harris/Gallagher equation; the tables of ISO 5167-2, annex A, have the same form.
const PLATE_COEFFICIENTS: [(Taps, f64, f64, f64, f64); 20] = [
    (Taps::Corner, 0.1, 0.10, 5e3, 0.6006),
    (Taps::Corner, 0.1, 0.10, 1e8, 0.5964),
    (Taps::Corner, 0.1, 0.50, 5e3, 0.6276),
    (Taps::Corner, 0.1, 0.50, 1e8, 0.6022),
    (Taps::DAndHalfD, 0.072, 0.10, 5e3, 0.6003),
    (Taps::DAndHalfD, 0.072, 0.10, 1e8, 0.5961),
    (Taps::DAndHalfD, 0.072, 0.50, 5e3, 0.6264),
    (Taps::DAndHalfD, 0.072, 0.50, 1e8, 0.6016),
    (Taps::Flange, 0.05, 0.25, 5e3, 0.6102),
    (Taps::Flange, 0.05, 0.25, 1e8, 0.6013),
    (Taps::Flange, 0.05, 0.75, 5e3, 0.6732),
    (Taps::Flange, 0.05, 0.75, 1e8, 0.6025),
    (Taps::Flange, 0.075, 0.17, 1e4, 0.6003),
    (Taps::Flange, 0.075, 0.17, 1e8, 0.5964),
    (Taps::Flange, 0.075, 0.75, 1e4, 0.6462),
    (Taps::Flange, 0.075, 0.75, 1e8, 0.6000),
    (Taps::Flange, 1.0, 0.10, 1e5, 0.5969),
    (Taps::Flange, 1.0, 0.10, 1e8, 0.5963),
    (Taps::Flange, 1.0, 0.75, 1e5, 0.6055),
    (Taps::Flange, 1.0, 0.75, 1e8, 0.5905),
];

#[test]
fn printed_coefficients_of_plates_come_out() {
    for (taps, d, beta, re, c) in PLATE_COEFFICIENTS {
        let ours = discharge_coefficient(Device::Orifice(taps), beta, d, re);
        assert!(
            (ours - c).abs() <= 0.5e-4 + 1e-12,
            "{taps:?} {d} {beta} {re}: {ours} for {c}"
        );
    }
}

/// Expansibility factors to four figures: whether of a plate, β, p2/p1, κ, ε.
///
/// The first eight: ISO 5167-2:2022 table A.12 and ISO 5167-4:2022 table A.1, quoted by the tests of pvtlib
/// (Equinor). The last two: the same equation as used for wedge meters, quoted by the tests of `fluids` (their β
/// worked out from the height of the gap, 0.3 and 0.6 of the diameter).
const EXPANSIBILITIES: [(bool, f64, f64, f64, f64); 10] = [
    (true, 0.10, 0.75, 1.2, 0.9252),
    (true, 0.75, 0.75, 1.2, 0.8881),
    (true, 0.10, 0.98, 1.2, 0.9941),
    (true, 0.75, 0.98, 1.2, 0.9912),
    (false, 0.75, 0.75, 1.2, 0.7690),
    (false, 0.75, 0.94, 1.4, 0.9489),
    (false, 0.30, 0.98, 1.66, 0.9908),
    (false, 0.5623, 0.75, 1.4, 0.8402),
    (false, 0.502_266_785_649_633_5, 0.90, 1.2, 0.9310),
    (false, 0.791_493_300_985_376_7, 0.75, 1.2, 0.7472),
];

#[test]
fn printed_expansibilities_come_out() {
    for (is_plate, beta, ratio, kappa, printed) in EXPANSIBILITIES {
        let device = if is_plate {
            Device::Orifice(Taps::Corner)
        } else {
            Device::Venturi(Convergent::AsCast)
        };
        let ours = expansibility(device, beta, ratio, kappa);
        assert!(
            (ours - printed).abs() <= 0.5e-4 + 1e-12,
            "{beta} {ratio}: {ours} for {printed}"
        );
    }
}

#[test]
fn the_standards_own_example_of_a_gas_comes_out() {
    // ISO 5167-1:2022, annex E, E.1: gas at 20 bar through a plate with flange taps; quoted by the tests of
    // pvtlib (Equinor), which allow 0.02 %.
    let plate = Throttle {
        gas: Some(Gas {
            upstream_pressure: 20e5,
            isentropic_exponent: 1.308,
        }),
        ..throttle(Device::Orifice(Taps::Flange), 0.193_68, 0.096_84)
    };
    let at = meter(13.93, 1.1145e-5, plate, Gauge::Differential(257.6e2));
    let solved = solved(at, f64::NAN, Unknown::Flow).unwrap();
    let state = state(&solved);
    near(state.flow, 1000.0 / 3600.0, 2e-4);
    near(state.mass_flow, 13_928.4 / 3600.0, 2e-4);
    near(state.velocity, 9.43, 5e-4);
    near(state.reynolds, 2.282e6, 5e-4);
    assert!((state.coefficient - 0.6026).abs() < 0.5e-4);
    assert!(solved.warnings.is_empty());
}

#[test]
fn numbers_of_books_come_out() {
    let mercury = |deflection| Gauge::Manometer {
        density: 13_600.0,
        deflection,
    };
    // Cengel and Cimbala, Fluid Mechanics, example 8-10 (from the notebooks of FOSSEE's textbook companions):
    // methanol, plate of 3 cm in a pipe of 4 cm, mercury 11 cm, C = 0.61; 3.09e-3 m³/s.
    let plate = Throttle {
        coefficient: Some(0.61),
        ..throttle(Device::Orifice(Taps::Corner), 0.04, 0.03)
    };
    let at = meter(788.4, 5.857e-4, plate, mercury(0.11));
    let book = solved(at, f64::NAN, Unknown::Flow).unwrap();
    near(book.state.differential, 13_825.0, 1e-5);
    near(book.value, 3.09e-3, 1e-3);

    // A horizontal Venturi of 30 cm by 15 cm, mercury 20 cm, C = 0.98: 125.76 L/s. byjus.com, question "A
    // horizontal venturimeter with inlet diameter of 30 cm and throat diameter of 15 cm".
    let venturi = |d: f64, coefficient| Throttle {
        coefficient: Some(coefficient),
        ..throttle(Device::Venturi(Convergent::Machined), 2.0 * d, d)
    };
    let at = |d, c, deflection| meter(1000.0, 1e-3, venturi(d, c), mercury(deflection));
    near(
        solved(at(0.15, 0.98, 0.2), f64::NAN, Unknown::Flow)
            .unwrap()
            .value,
        0.125_76,
        1e-4,
    );

    // A Venturi of 100 mm by 50 mm, mercury 180 mm, C = 0.98: 0.01324 m³/s; and a Pitot-static tube with 60 mm
    // of mercury, C = 0.98: 3.77 m/s. ceboardexamgenerator.com, hydraulics, "Venturi meter principle". (Its areas
    // are rounded, hence 0.2 %.)
    near(
        solved(at(0.05, 0.98, 0.18), f64::NAN, Unknown::Flow)
            .unwrap()
            .value,
        0.013_24,
        2e-3,
    );
    let pitot = Meter {
        element: Element::Pitot(Pitot {
            coefficient: 0.98,
            velocity: f64::NAN,
            duct: None,
        }),
        ..at(0.05, 0.98, 0.06)
    };
    near(
        solved(pitot, f64::NAN, Unknown::Velocity).unwrap().value,
        3.77,
        1.5e-3,
    );

    // White, Fluid Mechanics, example on sizing a meter for water at 2.0 m/s in a pipe of 200 mm with 50 kPa:
    // plate with D and D/2 taps 112 mm, long radius nozzle 89 mm, Venturi nozzle 90 mm. From memory.
    for (device, bore) in [
        (Device::Orifice(Taps::DAndHalfD), 0.112),
        (Device::LongRadiusNozzle, 0.089),
        (Device::VenturiNozzle, 0.090),
    ] {
        let at = meter(
            1000.0,
            1.02e-3,
            throttle(device, 0.2, f64::NAN),
            Gauge::Differential(50e3),
        );
        let sized = solved(at, 2.0 * area(0.2), Unknown::ThroatDiameter).unwrap();
        near(sized.value, bore, 1e-2);
    }
}

#[test]
fn limits_are_named_where_they_are_broken_and_only_there() {
    let broken = |device, d: f64, beta: f64, velocity: f64| -> Vec<Limited> {
        let at = water(throttle(device, d, beta * d), f64::NAN);
        let solved = solved(at, velocity * area(d), Unknown::Differential).unwrap();
        solved
            .warnings
            .iter()
            .filter_map(|w| match w {
                Warning::BeyondStandard { limit, .. } => {
                    assert!(limit.clause.starts_with("ISO 5167-") && limit.clause.contains(":2003, 5."));
                    Some(limit.on)
                }
                _ => None,
            })
            .collect()
    };
    let corner = Device::Orifice(Taps::Corner);
    assert_eq!(broken(corner, 0.1, 0.5, 1.0), []);
    assert_eq!(broken(corner, 0.04, 0.5, 1.0), [Limited::PipeDiameter]);
    assert_eq!(broken(corner, 0.06, 0.2, 1.0), [Limited::ThroatDiameter]);
    assert_eq!(broken(corner, 0.1, 0.78, 1.0), [Limited::Beta]);
    assert_eq!(broken(corner, 0.1, 0.75, 1.0), []);
    assert_eq!(broken(corner, 0.1, 0.5, 0.045), [Limited::Reynolds]);
    assert_eq!(
        broken(Device::LongRadiusNozzle, 0.7, 0.5, 1.0),
        [Limited::PipeDiameter]
    );
    assert_eq!(
        broken(Device::VenturiNozzle, 0.1, 0.3, 1.0),
        [Limited::ThroatDiameter, Limited::Beta, Limited::Reynolds]
    );
    assert_eq!(broken(Device::Venturi(Convergent::AsCast), 0.2, 0.6, 2.0), []);
    assert_eq!(
        broken(Device::Venturi(Convergent::WeldedSheet), 0.15, 0.72, 2.0),
        [Limited::PipeDiameter, Limited::Beta]
    );
    // A coefficient of one's own owes the standard nothing.
    let own = Throttle {
        coefficient: Some(0.62),
        ..throttle(corner, 0.03, 0.02)
    };
    assert_eq!(
        solved(water(own, 2e4), f64::NAN, Unknown::Flow).unwrap().warnings,
        []
    );
}

#[test]
fn a_gas_is_told_when_its_expansion_is_left_out_or_too_large() {
    let with = |gas| {
        let plate = Throttle {
            gas,
            ..throttle(Device::Orifice(Taps::Corner), 0.15, 0.09)
        };
        move |dp| {
            solved(
                meter(1.19, 1.82e-5, plate, Gauge::Differential(dp)),
                f64::NAN,
                Unknown::Flow,
            )
        }
    };
    let air = Gas {
        upstream_pressure: 1e5,
        isentropic_exponent: 1.4,
    };
    let without = with(None)(2e3).unwrap();
    let expanding = with(Some(air))(2e3).unwrap();
    assert!(matches!(without.warnings[0], Warning::GasWithoutExpansion { .. }));
    assert_eq!(expanding.warnings, []);
    assert!(expanding.value < without.value && expanding.value > 0.98 * without.value);
    let warned = with(Some(air))(30e3).unwrap();
    assert!(warned.warnings.iter().any(|w| matches!(
        w,
        Warning::BeyondStandard { limit, .. } if limit.on == Limited::PressureRatio
    )));
    assert!(matches!(
        with(Some(air))(45e3),
        Err(SolveError::NoSolution { .. })
    ));
    // More gas than any differential pressure in range drives through.
    let plate = Throttle {
        gas: Some(air),
        ..throttle(Device::Orifice(Taps::Corner), 0.15, 0.09)
    };
    let at = meter(1.19, 1.82e-5, plate, Gauge::Differential(f64::NAN));
    assert!(matches!(
        solved(at, 5.0, Unknown::Differential),
        Err(SolveError::NoSolution { .. })
    ));
}

#[test]
fn a_liquid_that_boils_behind_the_meter_is_told() {
    let at = |pressure: &str| {
        let file = format!(
            "fluid: {{ name: water, temperature: 60 degC }}\nflow: 60 L/s\nmeter: {{ venturi: machined, pipe diameter: 150 mm, \
             throat diameter: 80 mm, differential: unknown, upstream pressure: {pressure} }}\n"
        );
        let system = System::parse(&file, "meter.yaml").unwrap_or_else(|f| panic!("{f}"));
        Case::solve(system, None, &Limits::default()).unwrap_or_else(|f| panic!("{f}"))
    };
    // The differential is 65 kPa whatever stands before the meter; vapour pressure at 60 degC is 19.9 kPa.
    for (pressure, boils) in [
        ("120 kPa", false),
        ("88 kPa abs", false),
        ("84 kPa abs", true),
        ("40 kPa abs", true),
    ] {
        let case = at(pressure);
        let told = case
            .remarks(&Limits::default())
            .iter()
            .any(|r| r.short == "pressure below vapour pressure");
        assert_eq!(told, boils, "{pressure}");
        let steps =
            solution::worked(&case, None, &Limits::default(), &Course::default().conventions).unwrap();
        let text = solution::plain_text(&steps, Style::default());
        assert_eq!(text.contains("does not boil"), !boils, "{text}");
    }
}

/// Each kind of meter with each unknown, as a file has it: the fluid with its flow, and the meter.
fn files() -> Vec<String> {
    const WATER: &str = "fluid: { name: water, temperature: 20 degC }\n";
    const AIR: &str = "fluid: { name: air, temperature: 20 degC }\n";
    let mut files = Vec::new();
    for device in [
        "orifice: corner taps",
        "orifice: D and D/2 taps",
        "orifice: flange taps",
        "nozzle: ISA 1932",
        "nozzle: long radius",
        "nozzle: Venturi nozzle",
        "venturi: as cast",
        "venturi: machined",
        "venturi: welded sheet",
    ] {
        for (gas, flow, differential) in [(false, "75 L/s", "30 kPa"), (true, "0.9 m^3/s", "6 kPa")] {
            let (head, more) = if gas {
                (AIR, ", upstream pressure: 180 kPa abs")
            } else {
                (WATER, "")
            };
            let manometer = "manometer: { liquid: mercury, density: 13550 kg/m^3, deflection: ";
            for (flow, throat, reading) in [
                ("unknown", "130 mm", format!("differential: {differential}")),
                ("unknown", "130 mm", format!("{manometer}120 mm }}")),
                (flow, "130 mm", "differential: unknown".to_owned()),
                (flow, "130 mm", format!("{manometer}unknown }}")),
                (flow, "unknown", format!("differential: {differential}")),
                (
                    flow,
                    "130 mm",
                    format!("differential: {differential}, coefficient: unknown"),
                ),
                (
                    "unknown",
                    "130 mm",
                    format!("differential: {differential}, coefficient: 0.9"),
                ),
            ] {
                files.push(format!(
                    "{head}flow: {flow}\nmeter: {{ {device}, pipe diameter: 220 mm, throat diameter: {throat}, {reading}{more} }}\n"
                ));
            }
        }
    }
    for rest in [
        "velocity: unknown, differential: 210 Pa",
        "velocity: 18 m/s, differential: unknown, coefficient: 0.98",
        "velocity: 18 m/s, differential: 210 Pa, coefficient: unknown, pipe diameter: 300 mm, velocity ratio: 0.81",
        "velocity: unknown, manometer: { density: 790 kg/m^3, deflection: 40 mm }, pipe diameter: 300 mm, velocity ratio: 0.81",
        "velocity: 18 m/s, manometer: { density: 790 kg/m^3, deflection: unknown }",
    ] {
        files.push(format!("{AIR}meter: {{ pitot: wall tapping, {rest} }}\n"));
    }
    files
}

#[test]
fn every_kind_of_meter_is_worked_from_its_file() {
    let limits = Limits::default();
    for file in files() {
        let system = System::parse(&file, "meter.yaml").unwrap_or_else(|f| panic!("{file}{f}"));
        let case = Case::solve(system, None, &limits).unwrap_or_else(|f| panic!("{file}{f}"));
        let json: Value = serde_json::from_str(&solution::json(&case, &limits)).unwrap();
        let found = json["unknown"]["value"].as_f64().unwrap();
        assert!(found > 0.0 && found.is_finite(), "{file}");
        for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
            let mut conventions = Course::default().conventions;
            conventions.units = units;
            let steps = solution::worked(&case, None, &limits, &conventions)
                .unwrap_or_else(|e| panic!("{file}{}", e.what));
            let text = solution::plain_text(&steps, Style::default());
            assert!(!text.contains("NaN") && !text.contains("inf "), "{file}{text}");
            // The lines of the working end where the solver does, and print the answer.
            let names = ["Q", "dp", "h_m", "d", "C", "u"];
            let results = case.results(&conventions);
            let sought = names
                .iter()
                .filter_map(|name| results.get(name))
                .find(|bound| (bound.quantity.value / found - 1.0).abs() < 1e-12);
            let sought = sought.unwrap();
            let printed =
                Written::to_be_rounded(sought.quantity.value, &sought.written.unit, conventions.figures);
            let printed = printed.plain(conventions.decimal_mark);
            assert!(text.contains(&printed), "{file}no {printed} in\n{text}");
        }
        // A case that is read otherwise answers otherwise, where its coefficient is read at all.
        let reading = gradeline::hydraulics::friction::Reading {
            law: gradeline::hydraulics::friction::Law::Colebrook,
            factor: 1.05,
        };
        let again = case
            .read_otherwise(&vec![reading; case.flowing().len()], &limits)
            .unwrap();
        let other: Value = serde_json::from_str(&solution::json(&again, &limits)).unwrap();
        let share = other["unknown"]["value"].as_f64().unwrap() / found;
        let reads = !file.contains("venturi:") && !file.contains("pitot") && !file.contains("coefficient:");
        assert_eq!(reads, (share - 1.0).abs() > 1e-3, "{file}{share}");
        assert!((share - 1.0).abs() < 0.03, "{file}{share}");
    }
}

/// A device, D, β and a Reynolds number within the limits of the standard, and a gas or none.
fn within() -> impl Strategy<Value = (Device, f64, f64, f64, bool)> {
    (0..Device::ALL.len(), 0.0..1.0, 0.0..1.0, 0.0..1.0, any::<bool>()).prop_map(|(i, a, b, c, gas)| {
        let device = Device::ALL[i];
        let range = |on, beta: f64, d: f64| {
            let all = limits(device, beta, d);
            let limit = all.iter().find(|l| l.on == on).copied();
            limit.map_or((0.0, f64::INFINITY), |l| (l.least, l.greatest))
        };
        let spread = |(low, high): (f64, f64), share: f64| low * libm::pow(high / low, share);
        let (low, high) = range(Limited::Beta, 0.5, 0.1);
        let beta = low + (high - low) * b;
        let narrow = range(Limited::PipeDiameter, beta, 0.1);
        let throat = range(Limited::ThroatDiameter, beta, 0.1).0;
        let d = spread((narrow.0.max(throat / beta), narrow.1), a);
        let (low, high) = range(Limited::Reynolds, beta, d);
        (device, d, beta, spread((low, high.min(3e6)), c), gas)
    })
}

/// The meter of such a choice, and its flow.
fn of((device, d, beta, reynolds, is_gas): (Device, f64, f64, f64, bool)) -> (Meter, f64) {
    let (density, viscosity) = if is_gas {
        (2.4, 1.82e-5)
    } else {
        (998.2, 1.0016e-3)
    };
    let gas = is_gas.then_some(Gas {
        upstream_pressure: 2e5,
        isentropic_exponent: 1.4,
    });
    let throttle = Throttle {
        gas,
        ..throttle(device, d, beta * d)
    };
    let at = meter(density, viscosity, throttle, Gauge::Differential(f64::NAN));
    (at, reynolds * viscosity / density / d * area(d))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn solving_back_gives_what_was_given(choice in within(), deflects in any::<bool>()) {
        let (mut at, flow) = of(choice);
        let mut unknown = Unknown::Differential;
        if deflects {
            at.gauge = Gauge::Manometer { density: 13_550.0, deflection: f64::NAN };
            unknown = Unknown::Deflection;
        }
        let forward = match solved(at, flow, unknown) {
            Ok(forward) => forward,
            // Some gases would be too fast.
            Err(SolveError::NoSolution { .. }) if choice.4 => return Ok(()),
            Err(error) => panic!("{error:?}"),
        };
        let state = state(&forward);
        let only_ratio = forward.warnings.iter().all(|w| match w {
            Warning::BeyondStandard { limit, .. } => limit.on == Limited::PressureRatio,
            Warning::UnusualVelocity { .. } => true,
            _ => false,
        });
        prop_assert!(only_ratio, "{:?}", forward.warnings);
        // C within the standard's range of values, losses below the differential pressure.
        let range = match choice.0 {
            Device::Orifice(_) => (0.58, 0.69),
            Device::Isa1932Nozzle => (0.87, 0.995),
            Device::LongRadiusNozzle => (0.92, 0.9965),
            Device::VenturiNozzle => (0.92, 0.986),
            Device::Venturi(_) => (0.984, 0.995),
        };
        prop_assert!((range.0..=range.1).contains(&state.coefficient), "{}", state.coefficient);
        prop_assert!(state.permanent_loss > 0.0 && state.permanent_loss < forward.state.differential);
        prop_assert!(state.expansibility <= 1.0 && (choice.4 || state.expansibility == 1.0));

        let back = solved(forward.meter, f64::NAN, Unknown::Flow).unwrap();
        prop_assert!((back.value / flow - 1.0).abs() < 1e-10, "{} for {flow}", back.value);
        let mut bare = forward.meter;
        if let Element::Throttle(throttle) = &mut bare.element {
            throttle.throat_diameter = f64::NAN;
        }
        let throat = solved(bare, flow, Unknown::ThroatDiameter).unwrap();
        let several: Vec<f64> = throat.warnings.iter().filter_map(|w| match w {
            Warning::SecondSolution { value } => Some(*value),
            _ => None,
        }).chain([throat.value]).collect();
        let wanted = choice.1 * choice.2;
        prop_assert!(several.iter().any(|v| (v / wanted - 1.0).abs() < 1e-9), "{several:?} for {wanted}");
        let own = solved(forward.meter, flow, Unknown::Coefficient).unwrap();
        prop_assert!((own.value / state.coefficient - 1.0).abs() < 1e-12);
    }

    #[test]
    fn more_differential_pressure_is_more_flow((choice, share) in (within(), 1.001..1.2f64)) {
        let (at, flow) = of(choice);
        let Ok(forward) = solved(at, flow, Unknown::Differential) else { return Ok(()) };
        let mut more = forward.meter;
        more.gauge = Gauge::Differential(share * forward.value);
        match solved(more, f64::NAN, Unknown::Flow) {
            // Nearly as the root: C and ε change little.
            Ok(faster) => prop_assert!(
                faster.value > flow && faster.value < flow * (1.0 + 1.1 * (share.sqrt() - 1.0) + 1e-9)
            ),
            Err(SolveError::NoSolution { .. }) => prop_assert!(choice.4),
            Err(error) => panic!("{error:?}"),
        }
    }

    #[test]
    fn a_pitot_tube_solved_back_gives_what_was_given(
        velocity in 0.1..60.0f64, coefficient in 0.9..1.05f64, density in 0.9..1200.0f64, heavy in 1300.0..13_600.0f64,
    ) {
        let pitot = Pitot { coefficient, velocity, duct: None };
        let at = Meter {
            element: Element::Pitot(pitot),
            density,
            ..water(throttle(Device::LongRadiusNozzle, 0.1, 0.05), f64::NAN)
        };
        let at = Meter { gauge: Gauge::Manometer { density: heavy, deflection: f64::NAN }, ..at };
        let forward = solved(at, f64::NAN, Unknown::Deflection).unwrap();
        let dynamic = 0.5 * density * velocity * velocity;
        prop_assert!((forward.state.differential * coefficient * coefficient / dynamic - 1.0).abs() < 1e-12);
        let mut back = forward.meter;
        back.element = Element::Pitot(Pitot { velocity: f64::NAN, ..pitot });
        prop_assert!((solved(back, f64::NAN, Unknown::Velocity).unwrap().value / velocity - 1.0).abs() < 1e-12);
        back.element = Element::Pitot(Pitot { coefficient: f64::NAN, ..pitot });
        prop_assert!((solved(back, f64::NAN, Unknown::Coefficient).unwrap().value / coefficient - 1.0).abs() < 1e-12);
    }
}
