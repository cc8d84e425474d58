//! A leak between two gauges: its laws, and agreement with the path solver on either side of the leak.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::system::System;
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::leak::{Gauge, LeakError, Problem, Unknown, solve};
use gradeline::hydraulics::path::{Element, Path, Pipe, Section, Station, StationVelocity};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve as along;
use gradeline::solution::{Case, json};
use proptest::prelude::*;

/// A main with a leak of known size at a known place, and the pressure at its end had from the path solver: one
/// path down to the leak, another from it.
fn main_with_leak(flow: f64, share: f64, place: f64, diameter: f64, roughness: f64, fall: f64) -> Problem {
    let length = 2000.0;
    let (density, dynamic_viscosity, gravity) = (999.1, 1.14e-3, 9.81);
    let end_of = |flow: f64, length: f64, from: f64, down: f64| {
        let station = |pressure: f64, elevation: f64| Station {
            pressure,
            elevation,
            velocity: StationVelocity::Pipe,
            alpha: None,
        };
        let pipe = Pipe {
            diameter,
            length,
            roughness,
            section: Section::ROUND,
        };
        let path = Path {
            density,
            dynamic_viscosity,
            vapour_pressure: None,
            atmosphere: 101_325.0,
            gravity,
            start: station(from, down),
            end: station(f64::NAN, 0.0),
            elements: vec![Element::Pipe(pipe)],
            points: Vec::new(),
        };
        let problem = along::Problem {
            path,
            flow,
            unknown: along::Unknown::EndPressure,
        };
        along::solve(&problem, &[Reading::EXACT], &Limits::default())
            .unwrap()
            .value
    };
    let rest = flow * (1.0 - share);
    let before = end_of(flow, place * length, 600e3, fall * place);
    // Behind the leak the fluid is slower; the gauge there feels the velocity head that it has lost, as does the law.
    let speed = |flow: f64| flow / (std::f64::consts::FRAC_PI_4 * diameter * diameter);
    let gained = 0.5 * density * (speed(flow) * speed(flow) - speed(rest) * speed(rest));
    let after = end_of(
        rest,
        (1.0 - place) * length,
        before + gained,
        fall * (1.0 - place),
    );
    Problem {
        density,
        dynamic_viscosity,
        gravity,
        start: Gauge {
            pressure: 600e3,
            elevation: fall,
            flow,
        },
        end: Gauge {
            pressure: after,
            elevation: 0.0,
            flow: rest,
        },
        pipe: Pipe {
            diameter,
            length,
            roughness,
            section: Section::ROUND,
        },
        distance: place * length,
        unknown: Unknown::Distance,
    }
}

proptest! {
    #[test]
    fn the_leak_is_found_where_two_paths_put_it(
        flow in 0.03..0.3f64, share in 0.05..0.8f64, place in 0.02..0.98f64,
        diameter in 0.2..0.6f64, rough in 0.0..2e-3f64, fall in -20.0..20.0f64,
    ) {
        let true_one = main_with_leak(flow, share, place, diameter, rough * diameter, fall);
        let mut problem = true_one.clone();
        problem.distance = f64::NAN;
        let found = solve(&problem, [Reading::EXACT; 2], &Limits::default()).unwrap();
        prop_assert!((found.problem.distance - true_one.distance).abs() < 1e-6 * true_one.pipe.length / share);
        prop_assert!((found.leak - flow * share).abs() < 1e-12);

        let mut problem = true_one.clone();
        problem.unknown = Unknown::EndFlow;
        problem.end.flow = f64::NAN;
        let found = solve(&problem, [Reading::EXACT; 2], &Limits::default()).unwrap();
        prop_assert!((found.problem.end.flow - true_one.end.flow).abs() < 1e-8 * flow);
    }
}

#[test]
fn gauges_that_no_leak_explains_are_refused() {
    let problem = main_with_leak(0.1, 0.3, 0.4, 0.3, 2e-4, 5.0);
    let with = |change: &dyn Fn(&mut Problem)| {
        let mut changed = problem.clone();
        change(&mut changed);
        solve(&changed, [Reading::EXACT; 2], &Limits::default())
    };
    assert_eq!(with(&|p| p.end.flow = 0.1), Err(LeakError::NothingLost));
    assert!(matches!(
        with(&|p| p.end.pressure -= 200e3),
        Err(LeakError::OffTheMain { share }) if share > 1.0
    ));
    assert!(matches!(
        with(&|p| {
            p.unknown = Unknown::EndFlow;
            p.end.pressure -= 200e3;
        }),
        Err(LeakError::NoFlowFits { head, without_leak }) if head > without_leak
    ));
    assert!(matches!(
        with(&|p| p.pipe.diameter = 0.0),
        Err(LeakError::Impossible { value, .. }) if value == 0.0
    ));
}

#[test]
fn a_leak_in_yaml_says_what_is_wrong_all_at_once() {
    let text = "
fluid: { name: water, temperature: 12 degC }
gauges:
  start: { pressure: 412 kPa, elevation: 31 m, flow: 96 L/s }
  end: { pressure: 352 kPa, flow: 81 m }
pipe: { name: trunk main, diameter: 0 mm, length: 2400 m, roughness: 0.3 mm }
leak: { distance: unknown }
";
    let said = System::parse(text, "leak.yaml").unwrap_err().to_string();
    assert!(
        said.contains("leak.yaml:5:") && said.contains("volume flow"),
        "{said}"
    );
    assert!(
        said.contains("leak.yaml:6:") && said.contains("diameter of trunk main"),
        "{said}"
    );
}

#[test]
fn json_says_where_the_leak_is() {
    let text = "
fluid: { density: 999.1 kg/m^3, dynamic viscosity: 1.14e-3 Pa.s }
gauges:
  start: { pressure: 412 kPa, elevation: 31 m, flow: 96 L/s }
  end: { pressure: 352 kPa, elevation: 24 m, flow: 81 L/s }
pipe: { name: trunk main, diameter: 300 mm, length: 2400 m, roughness: 0.3 mm }
leak: { distance: unknown }
";
    let limits = Limits::default();
    let case = Case::solve(System::parse(text, "leak.yaml").unwrap(), None, &limits).unwrap();
    let said: serde_json::Value = serde_json::from_str(&json(&case, &limits)).unwrap();
    assert_eq!(said["unknown"]["name"], "distance of the leak");
    let distance = said["unknown"]["value"].as_f64().unwrap();
    let lost: f64 = (0..2)
        .map(|i| said["pipes"][i]["major_head_loss"].as_f64().unwrap())
        .sum();
    assert!((lost - said["head_loss"].as_f64().unwrap()).abs() < 1e-9);
    assert!((said["leak"]["flow"].as_f64().unwrap() - 0.015).abs() < 1e-12);
    assert!(distance > 0.0 && distance < 2400.0);
}
