//! Single-path systems of `tests/data/systems.jsonl`, each solved independently by scipy and mpmath, against
//! the solver; and the facts of the trade that it has to show.

use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::path::{Duty, Element, Machine, Path, Pipe, Station, StationVelocity};
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
        }));
        for loss in segment["K"].as_array().unwrap() {
            elements.push(Element::Loss {
                coefficient: number(loss, "K"),
                pipe: i,
            });
        }
    }
    let machine = |duty, efficiency| Machine { duty, efficiency };
    if row["turbine"].is_object() {
        elements.push(Element::Turbine(machine(
            Duty::Power(number(&row["turbine"], "shaft_power")),
            number(&row["turbine"], "efficiency"),
        )));
    }
    if row["pump"].is_object() {
        // A curve H0 - b Q^2 is a head and a loss: K = 2 g b A^2 on the first pipe.
        let series = row["pump"]["n_series"].as_f64().unwrap_or(1.0);
        let parallel = row["pump"]["n_parallel"].as_f64().unwrap_or(1.0);
        let diameter = number(&row["segments_in"][0], "D");
        let area = std::f64::consts::FRAC_PI_4 * diameter * diameter;
        elements.push(Element::Pump(machine(
            Duty::Head(series * number(&row["pump"], "H0")),
            1.0,
        )));
        elements.push(Element::Loss {
            coefficient: 2.0 * number(row, "g") * series * number(&row["pump"], "b") / (parallel * parallel)
                * area
                * area,
            pipe: 0,
        });
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
        // A pump's curve stands among the losses here, and its fall with the flow is none of the path's.
        let of_pump = if row["pump"].is_object() {
            *found.state.minor_head_losses.last().unwrap()
        } else {
            0.0
        };
        near(
            found.state.head_loss - of_pump,
            number(solution, "h_L_m"),
            "head loss",
        );
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
