//! Laws of the solver, over random systems.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity,
};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{Problem, SolveError, Unknown, Warning, solve, state};
use proptest::prelude::*;

const LAWS: [Law; 6] = [
    Law::Colebrook,
    Law::Haaland,
    Law::SwameeJain,
    Law::Churchill,
    Law::Serghides,
    Law::Fixed(0.024),
];

/// A number on a logarithmic scale.
fn spread(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (libm::log(low)..libm::log(high)).prop_map(libm::exp)
}

fn pipe() -> impl Strategy<Value = Pipe> {
    (
        spread(0.01, 1.0),
        spread(0.5, 2000.0),
        prop_oneof![1 => Just(0.0), 5 => spread(1e-5, 0.04)],
    )
        .prop_map(|(diameter, length, relative_roughness)| Pipe {
            diameter,
            length,
            roughness: relative_roughness * diameter,
            section: Section::ROUND,
        })
}

fn machine() -> impl Strategy<Value = Element> {
    (spread(0.5, 40.0), 0.3..1.0_f64, any::<bool>(), any::<bool>()).prop_map(
        |(size, efficiency, by_head, is_pump)| {
            let duty = if by_head {
                Duty::Head(size)
            } else {
                Duty::Power(100.0 * size)
            };
            let machine = Machine::new(duty, efficiency);
            if is_pump {
                Element::Pump(machine)
            } else {
                Element::Turbine(machine)
            }
        },
    )
}

fn station() -> impl Strategy<Value = Station> {
    (
        -20.0..40.0_f64,
        -2e4..3e5_f64,
        prop_oneof![
            2 => Just(StationVelocity::Value(0.0)),
            1 => (0.0..2.0_f64).prop_map(StationVelocity::Value),
            2 => Just(StationVelocity::Pipe),
            1 => spread(0.01, 0.3).prop_map(StationVelocity::Jet),
        ],
        prop_oneof![2 => Just(None), 1 => (1.0..2.0_f64).prop_map(Some)],
    )
        .prop_map(|(elevation, pressure, velocity, alpha)| Station {
            pressure,
            elevation,
            velocity,
            alpha,
        })
}

fn path(machines: usize) -> impl Strategy<Value = Path> {
    let fluid = prop_oneof![
        3 => Just((998.2, 1.0016e-3)),
        1 => Just((1.2046, 1.82e-5)),
        2 => (spread(650.0, 1300.0), spread(3e-4, 0.5)),
    ];
    (
        fluid,
        station(),
        station(),
        prop::collection::vec(pipe(), 1..4),
        prop::collection::vec((0.01..15.0_f64, any::<prop::sample::Index>()), 0..4),
        prop::collection::vec(machine(), 0..=machines),
    )
        .prop_map(
            |((density, dynamic_viscosity), start, end, pipes, losses, machines)| {
                let count = pipes.len();
                let mut elements: Vec<Element> = Vec::new();
                for (i, pipe) in pipes.into_iter().enumerate() {
                    elements.push(Element::Pipe(pipe));
                    if i == 0 {
                        elements.extend(machines.iter().cloned());
                    }
                }
                elements.extend(losses.into_iter().map(|(coefficient, pipe)| Element::Loss {
                    law: LossLaw::Fixed,
                    coefficient,
                    pipe: pipe.index(count),
                }));
                Path {
                    density,
                    dynamic_viscosity,
                    vapour_pressure: None,
                    atmosphere: 101_325.0,
                    gravity: 9.806_65,
                    start,
                    end,
                    elements,
                    points: Vec::new(),
                }
            },
        )
}

fn pipes(path: &Path) -> Vec<Pipe> {
    path.elements
        .iter()
        .filter_map(|e| {
            if let Element::Pipe(pipe) = e {
                Some(*pipe)
            } else {
                None
            }
        })
        .collect()
}

fn readings(path: &Path, law: Law, factor: f64) -> Vec<Reading> {
    pipes(path).iter().map(|_| Reading { law, factor }).collect()
}

/// Every unknown that a path has, with its value there.
fn unknowns(path: &Path, flow: f64) -> Vec<(Unknown, f64)> {
    let mut all = vec![
        (Unknown::Flow, flow),
        (Unknown::StartPressure, path.start.pressure),
        (Unknown::EndPressure, path.end.pressure),
        (Unknown::StartElevation, path.start.elevation),
        (Unknown::EndElevation, path.end.elevation),
    ];
    let (mut pipe, mut loss, mut pump, mut turbine) = (0, 0, 0, 0);
    for element in &path.elements {
        match *element {
            Element::Pipe(p) => {
                all.push((Unknown::Diameter(pipe), p.diameter));
                all.push((Unknown::Length(pipe), p.length));
                all.push((Unknown::Roughness(pipe), p.roughness));
                pipe += 1;
            }
            Element::Loss { coefficient, .. } => {
                all.push((Unknown::LossCoefficient(loss), coefficient));
                loss += 1;
            }
            Element::Pump(ref m) => {
                all.push(match m.duty {
                    Duty::Head(head) => (Unknown::PumpHead(pump), head),
                    Duty::Power(power) => (Unknown::PumpPower(pump), power),
                    Duty::Curve(ref curve) => (Unknown::PumpSpeed(pump), curve.speeds().0),
                });
                pump += 1;
            }
            Element::Turbine(ref m) => {
                match m.duty {
                    Duty::Head(head) => all.push((Unknown::TurbineHead(turbine), head)),
                    Duty::Power(power) => all.push((Unknown::TurbinePower(turbine), power)),
                    Duty::Curve(_) => {}
                }
                turbine += 1;
            }
        }
    }
    all
}

/// The path with NaN, or another value, in the unknown's slot.
fn with(path: &Path, unknown: Unknown, value: f64) -> Path {
    let mut path = path.clone();
    let (mut pipe, mut loss, mut pump, mut turbine) = (0, 0, 0, 0);
    match unknown {
        Unknown::StartPressure => path.start.pressure = value,
        Unknown::EndPressure => path.end.pressure = value,
        Unknown::StartElevation => path.start.elevation = value,
        Unknown::EndElevation => path.end.elevation = value,
        _ => {}
    }
    for element in &mut path.elements {
        match element {
            Element::Pipe(p) => {
                match unknown {
                    Unknown::Diameter(i) if i == pipe => p.diameter = value,
                    Unknown::Length(i) if i == pipe => p.length = value,
                    Unknown::Roughness(i) if i == pipe => p.roughness = value,
                    _ => {}
                }
                pipe += 1;
            }
            Element::Loss { coefficient, .. } => {
                if unknown == Unknown::LossCoefficient(loss) {
                    *coefficient = value;
                }
                loss += 1;
            }
            Element::Pump(m) => {
                match unknown {
                    Unknown::PumpHead(i) if i == pump => m.duty = Duty::Head(value),
                    Unknown::PumpPower(i) if i == pump => m.duty = Duty::Power(value),
                    _ => {}
                }
                pump += 1;
            }
            Element::Turbine(m) => {
                match unknown {
                    Unknown::TurbineHead(i) if i == turbine => m.duty = Duty::Head(value),
                    Unknown::TurbinePower(i) if i == turbine => m.duty = Duty::Power(value),
                    _ => {}
                }
                turbine += 1;
            }
        }
    }
    path
}

/// The flow that gives the first pipe a velocity.
fn flow_of(path: &Path, velocity: f64) -> f64 {
    let diameter = pipes(path)[0].diameter;
    std::f64::consts::FRAC_PI_4 * diameter * diameter * velocity
}

/// The same path with the start's pressure such that the flow runs.
fn balanced(path: &Path, flow: f64, readings: &[Reading]) -> Path {
    let problem = Problem {
        path: with(path, Unknown::StartPressure, f64::NAN),
        flow,
        unknown: Unknown::StartPressure,
    };
    solve(&problem, readings, &Limits::default())
        .expect("a pressure is explicit")
        .path
}

/// The largest single head that stands in the equation.
fn scale(path: &Path, flow: f64, readings: &[Reading], limits: &Limits) -> f64 {
    let state = state(path, flow, readings, limits).expect("the path is sound");
    let weight = path.density * path.gravity;
    [
        path.start.pressure / weight,
        path.end.pressure / weight,
        path.start.elevation,
        path.end.elevation,
        state.head_loss,
        state.pump_heads.iter().sum(),
        state.turbine_heads.iter().sum(),
        state.start.velocity * state.start.velocity / 19.6,
        state.end.velocity * state.end.velocity / 19.6,
    ]
    .into_iter()
    .fold(0.0, |m: f64, h| m.max(h.abs()))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// Take any value out of a system that is in balance, and the solver gives it back.
    #[test]
    fn every_unknown_comes_back(
        path in path(2), velocity in spread(0.02, 6.0), law in prop::sample::select(&LAWS[..]),
        factor in prop_oneof![Just(1.0), 0.94..1.06_f64],
    ) {
        let limits = Limits::default();
        let flow = flow_of(&path, velocity);
        let readings = readings(&path, law, factor);
        let path = balanced(&path, flow, &readings);
        let scale = scale(&path, flow, &readings, &limits);
        for (unknown, given) in unknowns(&path, flow) {
            let problem = Problem {
                path: with(&path, unknown, f64::NAN),
                flow: if unknown == Unknown::Flow { f64::NAN } else { flow },
                unknown,
            };
            // How far the value may be off since the equation has but 16 digits.
            let step = if given == 0.0 { 1e-6 } else { 1e-6 * given.abs() };
            let moved_flow = if unknown == Unknown::Flow { flow + step } else { flow };
            let moved = state(&with(&path, unknown, given + step), moved_flow, &readings, &limits).unwrap().residual;
            let at = state(&path, flow, &readings, &limits).unwrap().residual;
            let slack = 1e-13 * scale / ((moved - at).abs() / step).max(1e-300);
            if slack > 1e-3 * given.abs() && given != 0.0 {
                // Its whole effect is lost in the rounding of far larger heads.
                continue;
            }
            let solved = match solve(&problem, &readings, &limits) {
                Ok(solved) => solved,
                // What is truly undetermined or lies beyond the solver's own bounds.
                Err(SolveError::Undetermined { .. }) if matches!(unknown, Unknown::Roughness(_)) => continue,
                Err(error) => {
                    prop_assert!(false, "{unknown:?} of {given}: {error:?}");
                    continue;
                }
            };
            let near = |value: f64| (value - given).abs() <= 1e-8 * given.abs() + slack;
            let second = solved.warnings.iter().any(|w| matches!(w, Warning::SecondSolution { value } if near(*value)));
            prop_assert!(
                near(solved.value) || second,
                "{unknown:?}: {} for {given}, slack {slack:e}, {:?}", solved.value, solved.warnings
            );
            let again = state(&solved.path, solved.state.flow, &readings, &limits).unwrap();
            let scale = self::scale(&solved.path, solved.state.flow, &readings, &limits);
            prop_assert!(again.residual.abs() <= 3e-10 * scale, "{unknown:?}: {}", again.residual);
            if second {
                prop_assert!(solved.value < given, "the smaller comes first");
            }
        }
    }

    /// More roughness, more length or a larger loss never brings more flow, through one pipe or several.
    #[test]
    fn flow_falls_with_what_holds_it_back(
        path in path(0), velocity in spread(0.02, 6.0), more in 1.001..3.0_f64,
    ) {
        let limits = Limits::default();
        let readings = readings(&path, Law::Colebrook, 1.0);
        let mut path = path;
        // A velocity head at the start could outgrow the losses; that has its own test.
        path.start.velocity = StationVelocity::Value(0.0);
        // And where the flow turns turbulent, a factor α that is not fixed falls.
        path.end.alpha = Some(1.0);
        let flow = flow_of(&path, velocity);
        let path = balanced(&path, flow, &readings);
        let flows = |path: &Path| {
            let problem = Problem { path: path.clone(), flow: f64::NAN, unknown: Unknown::Flow };
            solve(&problem, &readings, &limits).map(|s| s.value)
        };
        let before = flows(&path).unwrap();
        for (unknown, given) in unknowns(&path, flow) {
            if matches!(unknown, Unknown::Roughness(_) | Unknown::Length(_) | Unknown::LossCoefficient(_)) {
                let worse = with(&path, unknown, given * more);
                match flows(&worse) {
                    Ok(after) => prop_assert!(after <= before * (1.0 + 1e-12), "{unknown:?}: {before} to {after}"),
                    Err(SolveError::OnlyAtJump { .. }) => {}
                    Err(error) => prop_assert!(false, "{error:?}"),
                }
            }
        }
    }
}

/// Any number at all, the odd ones often.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => any::<f64>(),
        1 => Just(0.0),
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(f64::MIN_POSITIVE),
        1 => Just(f64::MAX),
        6 => spread(1e-6, 1e6),
    ]
}

fn any_unknown() -> impl Strategy<Value = Unknown> {
    (0..13_u8, 0..3_usize).prop_map(|(kind, which)| match kind {
        0 => Unknown::Flow,
        1 => Unknown::Diameter(which),
        2 => Unknown::Length(which),
        3 => Unknown::Roughness(which),
        4 => Unknown::LossCoefficient(which),
        5 => Unknown::StartPressure,
        6 => Unknown::EndPressure,
        7 => Unknown::StartElevation,
        8 => Unknown::EndElevation,
        9 => Unknown::PumpHead(which),
        10 => Unknown::PumpPower(which),
        11 => Unknown::TurbineHead(which),
        _ => Unknown::TurbinePower(which),
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20_000))]

    /// Spoil a sound system with any number anywhere: an answer that holds, or an error, and no panic.
    #[test]
    fn nothing_panics_and_no_answer_is_wrong(
        path in path(2), velocity in any_number(), unknown in any_unknown(), law in prop::sample::select(&LAWS[..]),
        spoilt in prop::collection::vec((any_unknown(), any_number()), 0..3),
        density in prop_oneof![5 => Just(998.0), 1 => any_number()],
        viscosity in prop_oneof![5 => Just(1e-3), 1 => any_number()],
        factor in prop_oneof![5 => Just(1.0), 1 => any_number()],
        laminar_end in prop_oneof![5 => Just(2300.0), 1 => any_number()],
    ) {
        let mut path = path;
        let flow = flow_of(&path, velocity);
        for (slot, value) in spoilt {
            path = with(&path, slot, value);
        }
        path.density = density;
        path.dynamic_viscosity = viscosity;
        let limits = Limits { laminar_end, ..Limits::default() };
        let readings = readings(&path, law, factor);
        let problem = Problem { path, flow, unknown };
        if let Ok(solved) = solve(&problem, &readings, &limits) {
            prop_assert!(solved.value.is_finite());
            let again = state(&solved.path, solved.state.flow, &readings, &limits).unwrap();
            let scale = scale(&solved.path, solved.state.flow, &readings, &limits);
            prop_assert!(again.residual.abs() <= 3e-10 * scale, "{} of {scale}", again.residual);
        }
    }
}
