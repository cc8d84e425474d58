//! Single-path systems of `tests/data/systems.jsonl`, each solved independently by scipy and mpmath, against
//! the solver; and the facts of the trade that it has to show.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::hydraulics::curve::Curve;
use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity,
};
use gradeline::hydraulics::regime::{Limits, Regime};
use gradeline::hydraulics::solve::{Problem, SolveError, Solved, Unknown, Warning, solve, state};
use serde_json::Value;

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} of {value}"))
}

fn station(value: &Value) -> Station {
    let velocity = match value["kind"].as_str() {
        Some("reservoir") => StationVelocity::Value(0.0),
        Some("section") => StationVelocity::Pipe,
        Some("jet") => match value["D_jet"].as_f64() {
            Some(diameter) => StationVelocity::Jet(diameter),
            None => StationVelocity::Pipe,
        },
        other => panic!("kind of station: {other:?}"),
    };
    Station {
        pressure: number(value, "p_gauge"),
        elevation: number(value, "z"),
        velocity,
        alpha: Some(number(value, "alpha")),
    }
}

/// The problem of a row, and what it answers.
fn problem(row: &Value) -> (Problem, f64) {
    let solution = &row["solution"];
    let mut elements = Vec::new();
    for (i, segment) in row["segments_in"].as_array().unwrap().iter().enumerate() {
        elements.push(Element::Pipe(Pipe {
            diameter: segment["D"].as_f64().unwrap_or(f64::NAN),
            length: number(segment, "L"),
            roughness: number(segment, "eps"),
            section: Section::ROUND,
        }));
        for loss in segment["K"].as_array().unwrap() {
            elements.push(Element::Loss {
                law: LossLaw::Fixed,
                coefficient: number(loss, "K"),
                pipe: i,
            });
        }
    }
    let machine = |duty, efficiency| Machine::new(duty, efficiency);
    if row["turbine"].is_object() {
        elements.push(Element::Turbine(machine(
            Duty::Power(number(&row["turbine"], "shaft_power")),
            number(&row["turbine"], "efficiency"),
        )));
    }
    if row["pump"].is_object() {
        let count = |key: &str| row["pump"][key].as_u64().unwrap_or(1) as u32;
        let curve = Curve::quadratic(number(&row["pump"], "H0"), 0.0, -number(&row["pump"], "b"))
            .unwrap()
            .in_series(count("n_series"))
            .in_parallel(count("n_parallel"));
        elements.push(Element::Pump(machine(Duty::Curve(curve), 1.0)));
    }
    let mut path = Path {
        density: number(&row["fluid"], "rho"),
        dynamic_viscosity: number(&row["fluid"], "mu"),
        vapour_pressure: row["fluid"]["pv"].as_f64(),
        atmosphere: 101_325.0,
        gravity: number(row, "g"),
        start: station(&row["start"]),
        end: station(&row["end"]),
        elements,
        points: Vec::new(),
    };
    let flow = row["Q_given_m3s"].as_f64().unwrap_or(f64::NAN);
    let value: f64 = match solution["mpmath_value"].as_str() {
        Some(text) => text.parse().unwrap(),
        None => number(solution, "value"),
    };
    let unknown = match row["unknown"].as_str().unwrap() {
        "Q" => Unknown::Flow,
        "D" => Unknown::Diameter(0),
        "p1" => {
            path.start.pressure = f64::NAN;
            Unknown::StartPressure
        }
        "p2" => {
            path.end.pressure = f64::NAN;
            Unknown::EndPressure
        }
        "z1" => {
            path.start.elevation = f64::NAN;
            Unknown::StartElevation
        }
        "hp" => {
            path.elements.push(Element::Pump(machine(
                Duty::Head(f64::NAN),
                row["pump_efficiency"].as_f64().unwrap_or(1.0),
            )));
            Unknown::PumpHead(0)
        }
        other => panic!("unknown {other}"),
    };
    (Problem { path, flow, unknown }, value)
}

fn rows() -> Vec<Value> {
    include_str!("data/systems.jsonl")
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn exact(path: &Path) -> Vec<Reading> {
    path.elements
        .iter()
        .filter(|e| matches!(e, Element::Pipe(_)))
        .map(|_| Reading::EXACT)
        .collect()
}

fn solved(problem: &Problem) -> Result<Solved, SolveError> {
    solve(problem, &exact(&problem.path), &Limits::default())
}

#[test]
fn every_single_path_system_is_solved_to_1e_9() {
    let rows = rows();
    assert_eq!(rows.len(), 40);
    for row in &rows {
        let id = row["id"].as_str().unwrap();
        let (problem, value) = problem(row);
        let found = solved(&problem).unwrap_or_else(|e| panic!("{id}: {e:?}"));
        // Two rows print twelve figures where there is no solution to thirty.
        assert!(
            (found.value / value - 1.0).abs() < 1e-11,
            "{id}: {} for {value}",
            found.value
        );

        let solution = &row["solution"];
        let near = |a: f64, b: f64, what: &str| {
            assert!(
                (a - b).abs() <= 1e-8 * b.abs() + 1e-12,
                "{id}: {what} {a} for {b}"
            )
        };
        near(found.state.flow, number(solution, "Q_m3s"), "flow");
        near(found.state.head_loss, number(solution, "h_L_m"), "head loss");
        if row["pump"].is_object() {
            near(
                found.state.pump_heads[0],
                number(solution, "pump_head_m"),
                "pump head",
            );
            near(
                found.state.pumps[0].fluid_power,
                number(solution, "water_power_W"),
                "fluid power",
            );
        }
        for (pipe, segment) in found
            .state
            .pipes
            .iter()
            .zip(solution["segments"].as_array().unwrap())
        {
            near(pipe.velocity, number(segment, "V"), "velocity");
            near(pipe.reynolds, number(segment, "Re"), "Reynolds number");
            near(
                pipe.darcy_friction_factor,
                number(segment, "f"),
                "friction factor",
            );
            near(pipe.rough_number, number(segment, "rough_number"), "rough number");
            near(
                pipe.roughness_reynolds,
                number(segment, "k_plus"),
                "roughness Reynolds number",
            );
            near(pipe.major_head_loss, number(segment, "h_f"), "major head loss");
            let regime = segment["regime"].as_str().unwrap();
            match pipe.regime {
                Regime::Laminar => assert_eq!(regime, "laminar", "{id}"),
                Regime::Critical => assert_eq!(regime, "critical", "{id}"),
                Regime::FullyRough => assert_eq!(regime, "turbulent_fully_rough", "{id}"),
                // The rows call a wall smooth only where it has no roughness at all.
                Regime::Smooth | Regime::TransitionallyRough => assert!(
                    regime == "turbulent_smooth" || regime == "turbulent_transitional_rough",
                    "{id}"
                ),
            }
        }
        if let Some(power) = solution["shaft_power_W"].as_f64() {
            near(found.state.pump_powers[0], power, "shaft power");
        }
        if let Some(head) = solution["turbine_head_m"].as_f64() {
            near(found.state.turbine_heads[0], head, "turbine head");
        }
    }
}

#[test]
fn npsh_at_the_end_of_a_suction_line() {
    let rows = rows();
    let row = rows.iter().find(|row| row["id"] == "S-P-11").unwrap();
    let (mut problem, _) = problem(row);
    // The row ends at the pump's inlet: a pump that gives no head yet stands there.
    let mut pump = Machine::new(Duty::Head(0.0), 1.0);
    pump.elevation = Some(number(&row["end"], "z"));
    problem.path.elements.push(Element::Pump(pump));
    let npsh = solved(&problem).unwrap().state.pumps[0].npsh_available.unwrap();
    let expected = number(&row["solution"], "NPSH_available_m");
    assert!((npsh / expected - 1.0).abs() < 1e-8, "{npsh} for {expected}");
}

fn pipe(diameter: f64, length: f64, roughness: f64) -> Element {
    Element::Pipe(Pipe {
        diameter,
        length,
        roughness,
        section: Section::ROUND,
    })
}

fn surface(elevation: f64) -> Station {
    Station {
        pressure: 0.0,
        elevation,
        velocity: StationVelocity::Value(0.0),
        alpha: None,
    }
}

fn loss(coefficient: f64) -> Element {
    Element::Loss {
        coefficient,
        law: LossLaw::Fixed,
        pipe: 0,
    }
}

/// Water at 20 °C between two stations.
fn water(start: Station, end: Station, elements: Vec<Element>) -> Path {
    Path {
        density: 998.207,
        dynamic_viscosity: 1.0016e-3,
        vapour_pressure: Some(2339.2),
        atmosphere: 101_325.0,
        gravity: 9.806_65,
        start,
        end,
        elements,
        points: Vec::new(),
    }
}

fn find(path: Path, flow: f64, unknown: Unknown) -> Result<Solved, SolveError> {
    solved(&Problem { path, flow, unknown })
}

#[test]
fn a_turbine_by_power_has_two_flows_and_the_smaller_comes_first() {
    let row = rows().into_iter().find(|row| row["id"] == "S-P-04").unwrap();
    let found = solved(&problem(&row).0).unwrap();
    let roots = row["solution"]["all_roots_m3s"].as_array().unwrap();
    assert!((found.value / roots[0].as_f64().unwrap() - 1.0).abs() < 1e-11);
    let second = found.warnings.iter().find_map(|w| match w {
        Warning::SecondSolution { value } => Some(*value),
        _ => None,
    });
    assert!((second.unwrap() / roots[1].as_f64().unwrap() - 1.0).abs() < 1e-11);
}

/// Common practice, no source: this line runs at about 5.4 m/s and 1.6e-3 m³/s, Re about 1e5, fully rough.
#[test]
fn a_known_line_runs_as_it_is_known_to() {
    let start = Station {
        pressure: 379e3,
        velocity: StationVelocity::Pipe,
        ..surface(0.0)
    };
    let elements = vec![pipe(0.0191, 7.62, 0.5e-3), loss(2.0), loss(1.0)];
    let found = find(water(start, surface(3.05), elements), f64::NAN, Unknown::Flow).unwrap();
    let at = found.state.pipes[0];
    assert!((at.velocity - 5.4).abs() < 0.05, "{}", at.velocity);
    assert!((found.value - 1.6e-3).abs() < 0.05e-3, "{}", found.value);
    assert!((at.reynolds - 1e5).abs() < 0.05e5, "{}", at.reynolds);
    assert_eq!(at.regime, Regime::FullyRough);
    assert_eq!(found.warnings, []);
}

/// Common practice, no source: all the velocity head is lost at an exit into still water, K = 1.
#[test]
fn an_exit_loss_is_one_velocity_head() {
    let into_tank = vec![pipe(0.05, 10.0, 1e-4), loss(1.0)];
    let as_a_jet = vec![pipe(0.05, 10.0, 1e-4)];
    let jet = Station {
        velocity: StationVelocity::Pipe,
        ..surface(0.0)
    };
    let tank = find(
        water(surface(5.0), surface(0.0), into_tank),
        f64::NAN,
        Unknown::Flow,
    )
    .unwrap();
    let free = find(water(surface(5.0), jet, as_a_jet), f64::NAN, Unknown::Flow).unwrap();
    assert!((tank.value / free.value - 1.0).abs() < 1e-14);
}

#[test]
fn no_flow_runs_uphill_and_the_missing_head_is_told() {
    let error = find(
        water(surface(1.0), surface(3.5), vec![pipe(0.05, 10.0, 1e-4)]),
        f64::NAN,
        Unknown::Flow,
    );
    assert_eq!(error, Err(SolveError::NoFlow { short_by: 2.5 }));
    let level = find(
        water(surface(1.0), surface(1.0), vec![pipe(0.05, 10.0, 1e-4)]),
        f64::NAN,
        Unknown::Flow,
    );
    assert_eq!(level, Err(SolveError::NoFlow { short_by: 0.0 }));
    let wide = find(
        water(surface(1.0), surface(3.5), vec![pipe(f64::NAN, 10.0, 1e-4)]),
        0.01,
        Unknown::Diameter(0),
    );
    assert!(
        matches!(wide, Err(SolveError::NoFlow { short_by }) if (short_by - 2.5).abs() < 1e-9),
        "{wide:?}"
    );
}

#[test]
fn what_cannot_be_found_says_why() {
    let why = |path: Path, flow: f64, unknown: Unknown| match find(path, flow, unknown) {
        Err(SolveError::NoSolution { why, .. } | SolveError::Undetermined { why }) => why,
        other => panic!("{other:?}"),
    };
    let downhill = |elements: Vec<Element>| water(surface(5.0), surface(0.0), elements);
    let machine = || Machine::new(Duty::Head(f64::NAN), 0.8);
    let main = || pipe(0.05, 10.0, 1e-4);

    assert!(
        why(
            downhill(vec![main(), Element::Pump(machine())]),
            1e-3,
            Unknown::PumpHead(0)
        )
        .contains("no pump")
    );
    assert!(
        why(
            downhill(vec![main(), Element::Pump(machine())]),
            1e-3,
            Unknown::PumpPower(0)
        )
        .contains("no pump")
    );
    assert!(
        why(
            downhill(vec![main(), Element::Turbine(machine())]),
            0.05,
            Unknown::TurbineHead(0)
        )
        .contains("no head")
    );
    assert!(
        why(
            downhill(vec![main(), loss(f64::NAN)]),
            0.05,
            Unknown::LossCoefficient(0)
        )
        .contains("already take")
    );
    assert!(
        why(
            downhill(vec![pipe(0.05, f64::NAN, 1e-4), loss(90.0)]),
            0.02,
            Unknown::Length(0)
        )
        .contains("already")
    );
    // Roughness: a smooth wall takes too much; the roughest too little; laminar flow asks for none.
    let rough = || pipe(0.05, 10.0, f64::NAN);
    assert!(why(downhill(vec![rough()]), 0.05, Unknown::Roughness(0)).contains("smooth"));
    assert!(why(downhill(vec![rough()]), 1e-3, Unknown::Roughness(0)).contains("roughest"));
    assert!(why(downhill(vec![rough()]), 1e-5, Unknown::Roughness(0)).contains("laminar"));
    assert!(why(downhill(vec![rough()]), 0.0, Unknown::Roughness(0)).contains("without flow"));
    // A diameter that would have to be so narrow that the wall fills it.
    assert!(
        why(
            downhill(vec![pipe(f64::NAN, 1e-3, 0.1)]),
            0.05,
            Unknown::Diameter(0)
        )
        .contains("narrowest")
    );
    assert!(
        why(
            downhill(vec![pipe(f64::NAN, 0.0, 0.0)]),
            0.05,
            Unknown::Diameter(0)
        )
        .contains("takes no head")
    );
    // More power than the fall has at any flow.
    let greedy = Machine::new(Duty::Power(1e6), 0.8);
    assert!(
        why(
            downhill(vec![main(), Element::Turbine(greedy)]),
            f64::NAN,
            Unknown::Flow
        )
        .contains("turbine")
    );
    assert!(
        why(downhill(vec![pipe(0.05, 0.0, 0.0)]), f64::NAN, Unknown::Flow).contains("holds the flow back")
    );
}

#[test]
fn a_root_inside_the_jump_is_refused() {
    // 20 mm smooth: just below the jump 1.0 m/s 64/2300, just above it 1.7 times as much.
    let diameter: f64 = 0.02;
    let velocity = 2300.0 * 1.0016e-3 / 998.207 / diameter;
    let at_factor = |f: f64| f * 100.0 / diameter * velocity * velocity / (2.0 * 9.806_65);
    let head = at_factor(0.035);
    let path = |pipe_at: f64, head| water(surface(head), surface(0.0), vec![pipe(pipe_at, 100.0, 0.0)]);
    let jump = SolveError::OnlyAtJump {
        pipe: 0,
        reynolds: 2300.0,
    };
    assert_eq!(
        find(path(diameter, head), f64::NAN, Unknown::Flow),
        Err(jump.clone())
    );
    let flow = velocity * std::f64::consts::FRAC_PI_4 * diameter * diameter;
    assert_eq!(
        find(path(f64::NAN, head), flow, Unknown::Diameter(0)),
        Err(jump.clone())
    );
    // The same through the general way, with a second pipe too wide to matter.
    let mut two = path(diameter, head);
    two.elements.push(pipe(10.0, 1.0, 0.0));
    assert_eq!(find(two, f64::NAN, Unknown::Flow), Err(jump));
    // On either side there is a flow.
    assert!(find(path(diameter, at_factor(0.0278)), f64::NAN, Unknown::Flow).is_ok());
    assert!(find(path(diameter, at_factor(0.0475)), f64::NAN, Unknown::Flow).is_ok());
}

#[test]
fn what_cannot_be_is_refused_by_name() {
    let what = |path: Path, flow: f64, unknown: Unknown| match find(path, flow, unknown) {
        Err(SolveError::Impossible { what, .. }) => what,
        other => panic!("{other:?}"),
    };
    let path = |elements: Vec<Element>| water(surface(5.0), surface(0.0), elements);
    let main = || pipe(0.05, 10.0, 1e-4);
    assert_eq!(
        what(path(vec![]), 1e-3, Unknown::StartPressure),
        "number of pipes"
    );
    assert_eq!(
        what(path(vec![pipe(-0.05, 10.0, 0.0)]), 1e-3, Unknown::StartPressure),
        "diameter of a pipe"
    );
    assert_eq!(
        what(
            path(vec![pipe(0.05, f64::NAN, 0.0)]),
            1e-3,
            Unknown::StartPressure
        ),
        "length of a pipe"
    );
    assert_eq!(
        what(path(vec![pipe(0.05, 1.0, 0.04)]), 1e-3, Unknown::Flow),
        "relative roughness of a pipe"
    );
    assert_eq!(
        what(path(vec![main(), loss(-1.0)]), 1e-3, Unknown::Flow),
        "loss coefficient"
    );
    assert_eq!(what(path(vec![main()]), -1e-3, Unknown::StartPressure), "flow");
    assert_eq!(what(path(vec![main()]), f64::NAN, Unknown::StartPressure), "flow");
    assert_eq!(
        what(path(vec![main()]), 1e-3, Unknown::Diameter(1)),
        "number of the unknown's pipe"
    );
    assert_eq!(
        what(path(vec![main()]), 1e-3, Unknown::PumpHead(0)),
        "number of the unknown's pump"
    );
    let mut light = path(vec![main()]);
    light.density = 0.0;
    assert_eq!(what(light, 1e-3, Unknown::StartPressure), "density");
    let elsewhere = Element::Loss {
        law: LossLaw::Fixed,
        coefficient: 1.0,
        pipe: 1,
    };
    assert_eq!(
        what(path(vec![main(), elsewhere]), 1e-3, Unknown::Flow),
        "pipe that a loss counts on"
    );
    let eager = Element::Pump(Machine::new(Duty::Head(3.0), 1.2));
    assert_eq!(
        what(path(vec![main(), eager]), 1e-3, Unknown::Flow),
        "efficiency of a pump"
    );
    assert!(
        solve(
            &Problem {
                path: path(vec![main()]),
                flow: 1e-3,
                unknown: Unknown::StartPressure
            },
            &[],
            &Limits::default()
        )
        .is_err()
    );
}

#[test]
fn still_water_is_solved_too() {
    let path = |elevation| water(surface(5.0), surface(elevation), vec![pipe(0.05, 10.0, 1e-4)]);
    let still = find(path(2.0), 0.0, Unknown::EndPressure).unwrap();
    assert!((still.value - 3.0 * 998.207 * 9.806_65).abs() < 1e-9);
    assert_eq!(still.state.head_loss, 0.0);
    let still = find(path(f64::NAN), 0.0, Unknown::EndElevation).unwrap();
    assert_eq!(still.value, 5.0);
}

#[test]
fn alpha_is_two_in_laminar_flow_and_one_in_turbulent_unless_fixed() {
    let jet = Station {
        velocity: StationVelocity::Pipe,
        ..surface(0.0)
    };
    let at = |flow: f64, alpha: Option<f64>| {
        let path = water(
            surface(5.0),
            Station { alpha, ..jet },
            vec![pipe(0.05, 10.0, 1e-4)],
        );
        state(&path, flow, &[Reading::EXACT], &Limits::default())
            .unwrap()
            .end
            .alpha
    };
    assert_eq!(at(5e-5, None), 2.0);
    assert_eq!(at(5e-3, None), 1.0);
    assert_eq!(at(5e-5, Some(1.06)), 1.06);
}

#[test]
fn a_loss_counts_on_the_pipe_that_it_names() {
    let path = |pipe_of_loss| {
        water(
            surface(5.0),
            surface(0.0),
            vec![
                Element::Loss {
                    law: LossLaw::Fixed,
                    coefficient: 3.0,
                    pipe: pipe_of_loss,
                },
                pipe(0.1, 10.0, 1e-4),
                pipe(0.05, 10.0, 1e-4),
            ],
        )
    };
    let readings = [Reading::EXACT; 2];
    let on = |i| {
        state(&path(i), 5e-3, &readings, &Limits::default())
            .unwrap()
            .minor_head_losses[0]
    };
    assert!((on(1) / on(0) - 16.0).abs() < 1e-12);
}

#[test]
fn warnings_tell_what_is_out_of_the_ordinary() {
    let path = |diameter, length, roughness| {
        water(
            surface(5.0),
            surface(0.0),
            vec![pipe(diameter, length, roughness)],
        )
    };
    let warnings = |path: Path, flow| find(path, flow, Unknown::StartPressure).unwrap().warnings;
    assert_eq!(warnings(path(0.05, 10.0, 1e-4), 4e-3), []);
    assert!(matches!(
        warnings(path(0.02, 10.0, 0.0), 4.7e-5)[..],
        [Warning::CriticalZone { pipe: 0, reynolds }] if (2300.0..4000.0).contains(&reynolds)
    ));
    assert!(matches!(
        warnings(path(0.05, 10.0, 0.003), 4e-3)[..],
        [Warning::OffChart { pipe: 0 }]
    ));
    assert!(matches!(
        warnings(path(0.05, 10.0, 1e-4), 0.04)[..],
        [Warning::UnusualVelocity { pipe: 0, .. }, ..]
    ));
    // Ten metres a second is much for a liquid, and nothing for air.
    let mut duct = path(0.3, 10.0, 1e-4);
    (duct.density, duct.dynamic_viscosity, duct.vapour_pressure) = (1.2, 1.8e-5, None);
    assert_eq!(warnings(duct, 2.0), []);
}

#[test]
fn pressure_below_vapour_pressure_is_told_with_its_place() {
    // A pump draws through a long narrow line: the pressure is lowest just before it.
    let pump = || Element::Pump(Machine::new(Duty::Head(f64::NAN), 0.7));
    let path = |length| {
        water(
            surface(0.0),
            surface(10.0),
            vec![
                loss(0.5),
                pipe(0.05, length, 1e-4),
                pump(),
                pipe(0.05, 20.0, 1e-4),
                loss(1.0),
            ],
        )
    };
    let warnings = |length| find(path(length), 5e-3, Unknown::PumpHead(0)).unwrap().warnings;
    assert_eq!(warnings(5.0), []);
    match warnings(60.0)[..] {
        [
            Warning::Cavitation {
                after: 2,
                pressure,
                vapour_pressure,
                ..
            },
        ] => {
            // 0.5 + f L/D + 1 velocity heads below the surface of the sump, at its level.
            let found = find(path(60.0), 5e-3, Unknown::PumpHead(0)).unwrap();
            let at = found.state.pipes[0];
            let heads = 1.5 + at.darcy_friction_factor * 60.0 / 0.05;
            let expected = 101_325.0 - heads * 998.207 * at.velocity * at.velocity / 2.0;
            assert!(
                (pressure / expected - 1.0).abs() < 1e-9,
                "{pressure} for {expected}"
            );
            assert_eq!(vapour_pressure, 2339.2);
        }
        ref other => panic!("{other:?}"),
    }
    // A station itself may be the place: the suction of a pump, far above its sump.
    let inlet = Station {
        pressure: f64::NAN,
        velocity: StationVelocity::Pipe,
        ..surface(9.9)
    };
    let lift = water(surface(0.0), inlet, vec![pipe(0.05, 12.0, 1e-4)]);
    let found = find(lift, 2e-3, Unknown::EndPressure).unwrap();
    assert!(
        matches!(found.warnings[..], [Warning::Cavitation { after: 1, .. }]),
        "{:?}",
        found.warnings
    );
}

#[test]
fn a_fixed_or_misread_factor_takes_the_same_route() {
    let path = |elevation| {
        water(
            surface(elevation),
            surface(0.0),
            vec![pipe(0.05, 40.0, 1e-4), loss(1.5)],
        )
    };
    let flow_by = |law, factor| {
        let problem = Problem {
            path: path(8.0),
            flow: f64::NAN,
            unknown: Unknown::Flow,
        };
        solve(&problem, &[Reading { law, factor }], &Limits::default()).unwrap()
    };
    // By hand: V = √[2 g h/(ΣK + f L/D)].
    let by_hand = |f: f64| (2.0 * 9.806_65 * 8.0 / (1.5 + f * 40.0 / 0.05)).sqrt();
    let fixed = flow_by(Law::Fixed(0.024), 1.0);
    assert!((fixed.state.pipes[0].velocity / by_hand(0.024) - 1.0).abs() < 1e-14);
    let misread = flow_by(Law::Fixed(0.024), 1.05);
    assert!((misread.state.pipes[0].velocity / by_hand(0.0252) - 1.0).abs() < 1e-14);
    let rough = flow_by(Law::FullyRough, 1.0);
    let f = 1.0 / (4.0 * libm::pow(libm::log10(3.7 / 0.002), 2.0));
    assert!((rough.state.pipes[0].velocity / by_hand(f) - 1.0).abs() < 1e-14);
    // The same bias at every step of the iteration: f of the answer is 1.05 of Colebrook's there.
    let biased = flow_by(Law::Colebrook, 1.05);
    let at = biased.state.pipes[0];
    let exact = gradeline::hydraulics::friction::darcy_colebrook(at.reynolds, 0.002).unwrap();
    assert!((at.darcy_friction_factor / exact - 1.05).abs() < 1e-14);
    assert!((at.velocity / by_hand(at.darcy_friction_factor) - 1.0).abs() < 1e-13);
}
