//! Tanks that fill and empty: check data, textbook numbers, closed forms and laws.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::course::Conventions;
use gradeline::bank::system::System;
use gradeline::bank::system::Value::Known;
use gradeline::equation::Style;
use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity, area,
};
use gradeline::hydraulics::regime::{Limits, Regime};
use gradeline::hydraulics::solve::SolveError;
use gradeline::hydraulics::tank::{
    Asked, Problem, Run, Shape, Solved, Stop, TankError, Until, Vessel, Warning, orifice, solve,
};
use gradeline::quantity::Written;
use gradeline::solution::{Case, json, plain_text, worked};
use proptest::prelude::*;
use serde_json::Value;

const G: f64 = 9.806_65;

fn station(elevation: f64, velocity: StationVelocity) -> Station {
    Station {
        pressure: 0.0,
        elevation,
        velocity,
        alpha: Some(1.0),
    }
}

fn surface(elevation: f64) -> Station {
    station(elevation, StationVelocity::Value(0.0))
}

fn jet(elevation: f64) -> Station {
    station(elevation, StationVelocity::Pipe)
}

fn water(end: Station, elements: Vec<Element>) -> Path {
    Path {
        density: 998.207,
        dynamic_viscosity: 1.0016e-3,
        vapour_pressure: Some(2339.2),
        atmosphere: 101_325.0,
        gravity: G,
        start: surface(0.0),
        end,
        elements,
        points: Vec::new(),
    }
}

fn pipe(diameter: f64, length: f64, roughness: f64) -> Element {
    Element::Pipe(Pipe {
        diameter,
        length,
        roughness,
        section: Section::ROUND,
    })
}

fn loss(coefficient: f64) -> Element {
    Element::Loss {
        coefficient,
        law: LossLaw::Fixed,
        pipe: 0,
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

fn upright(diameter: f64) -> Shape {
    Shape::Constant { area: area(diameter) }
}

fn time_to(level: f64) -> Asked {
    Asked::Time(Until::Level(level))
}

/// A tank that drains through a path to a jet or a surface.
fn drain(tank: Vessel, path: Path, asked: Asked) -> Problem {
    Problem {
        path,
        start: Some(tank),
        end: None,
        asked,
    }
}

fn solved(problem: &Problem) -> Solved {
    find(problem).unwrap()
}

fn find(problem: &Problem) -> Result<Solved, TankError> {
    let pipes = problem
        .path
        .elements
        .iter()
        .filter(|e| matches!(e, Element::Pipe(_)))
        .count();
    solve(problem, &vec![Reading::EXACT; pipes], &Limits::default())
}

fn at_factor(problem: &Problem, factor: f64) -> Solved {
    let law = Law::Fixed(factor);
    solve(problem, &[Reading { law, factor: 1.0 }], &Limits::default()).unwrap()
}

fn near(found: f64, expected: f64, share: f64) {
    assert!(
        (found - expected).abs() <= share * expected.abs(),
        "{found} for {expected}"
    );
}

/// Flow per root of the head of an orifice \[m^2.5/s\].
fn orifice_rate(diameter: f64, cd: f64) -> f64 {
    cd * area(diameter) * (2.0 * G).sqrt()
}

// Check data.

/// `tests/data/tanks.jsonl`: each row made with scipy by quadrature, by an integration through time, and by the
/// closed form where there is one.
#[test]
fn every_row_of_the_check_data_is_met() {
    let mut seen = 0;
    for line in include_str!("data/tanks.jsonl").lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        let get = |of: &str, key: &str| {
            row[of][key]
                .as_f64()
                .unwrap_or_else(|| panic!("{of} {key}: {row}"))
        };
        let given = |key: &str| get("inputs", key);
        let problem = match row["type"].as_str().unwrap() {
            "drain_orifice" => drain(
                vessel(upright(given("tank_D")), 0.0, given("h_start")),
                water(
                    jet(0.0),
                    orifice(given("orifice_d"), given("Cd"), false, 0).to_vec(),
                ),
                time_to(given("h_end")),
            ),
            "drain_cone" => {
                let half_angle = given("half_angle_deg").to_radians();
                let widening = 2.0 * libm::tan(half_angle);
                drain(
                    vessel(
                        Shape::Cone {
                            floor_diameter: 0.0,
                            widening,
                        },
                        0.0,
                        given("h_start"),
                    ),
                    water(
                        jet(0.0),
                        orifice(given("orifice_d"), given("Cd"), false, 0).to_vec(),
                    ),
                    time_to(given("h_end")),
                )
            }
            "drain_pipe_turbulent" => drain(
                vessel(upright(given("tank_D")), 0.0, given("h_start")),
                water(
                    jet(0.0),
                    vec![loss(given("K")), pipe(given("pipe_D"), given("L"), given("eps"))],
                ),
                time_to(given("h_end")),
            ),
            "two_tanks_equalise" => Problem {
                path: water(
                    surface(0.0),
                    vec![
                        loss(given("K_total")),
                        pipe(given("pipe_D"), given("L"), given("eps")),
                    ],
                ),
                start: Some(vessel(
                    Shape::Constant { area: given("A1") },
                    1.0,
                    given("dh_start") + 0.5,
                )),
                end: Some(vessel(Shape::Constant { area: given("A2") }, 0.5, 1.0)),
                asked: Asked::Time(Until::Difference(given("dh_end"))),
            },
            other => panic!("{other}"),
        };
        let found = solved(&problem);
        near(found.value, get("solution", "time_s"), 1e-10);
        let also = |key: &str, value: f64, share| {
            if let Some(expected) = row["solution"][key].as_f64() {
                near(value, expected, share);
            }
        };
        also("Q_start", found.start.state.flow, 1e-9);
        also("Q_end", found.end.state.flow, 1e-9);
        also("Re_start", found.start.state.pipes[0].reynolds, 1e-9);
        also("Re_end", found.end.state.pipes[0].reynolds, 1e-9);
        also("f_start", found.start.state.pipes[0].darcy_friction_factor, 1e-9);
        also(
            "time_if_f_frozen_at_start_s",
            found.at_first_factor.unwrap(),
            1e-9,
        );
        also("drop_in_tank1_m", found.start.level - found.end.level, 1e-9);
        seen += 1;
    }
    assert_eq!(seen, 4);
}

/// The rows about tanks of `tests/data/worked_examples.csv`, whose sources stand in the rows.
#[test]
fn textbook_numbers_come_out() {
    let mut reader = csv::Reader::from_reader(include_bytes!("data/worked_examples.csv").as_slice());
    let headers = reader.headers().unwrap().clone();
    let column = |name: &str| headers.iter().position(|h| h == name).unwrap();
    let mut seen = 0;
    for record in reader.records() {
        let record = record.unwrap();
        if &record[column("topic")] != "tank" {
            continue;
        }
        let inputs: Value = serde_json::from_str(&record[column("inputs_SI")]).unwrap();
        let given = |key: &str| inputs[key].as_f64().unwrap();
        let id = &record[0];
        let found = match id {
            // Two pipes side by side: half of either tank for each, with a sharp entrance and an exit.
            "E26" => {
                let half = |d| Shape::Constant {
                    area: area(d) / given("n_pipes"),
                };
                let problem = Problem {
                    path: Path {
                        gravity: 9.81,
                        ..water(surface(0.0), vec![pipe(given("d"), given("L"), 0.0), loss(1.5)])
                    },
                    start: Some(vessel(half(given("D1")), 0.0, 2.0 + given("h1"))),
                    end: Some(vessel(half(given("D2")), 0.0, 2.0)),
                    asked: Asked::Level(given("t")),
                };
                let found = at_factor(&problem, 4.0 * given("f_fanning"));
                found.start.level - found.end.level
            }
            // The book takes the head for friction alone; the level measured from the pipe.
            "E46" => {
                let drop = given("V") / area(given("D"));
                let problem = drain(
                    vessel(upright(given("D")), 0.0, given("H1")),
                    Path {
                        density: given("rho"),
                        dynamic_viscosity: given("mu"),
                        gravity: 9.81,
                        ..water(surface(0.0), vec![pipe(given("d"), given("L"), 0.0)])
                    },
                    time_to(given("H1") - drop),
                );
                solved(&problem).value
            }
            "E47" => {
                let problem = drain(
                    vessel(
                        Shape::Sphere {
                            diameter: 2.0 * given("R"),
                        },
                        0.0,
                        given("H1"),
                    ),
                    Path {
                        gravity: 9.81,
                        ..water(jet(0.0), orifice(given("d"), given("Cd"), false, 0).to_vec())
                    },
                    time_to(0.0),
                );
                solved(&problem).value
            }
            other => panic!("{other}"),
        };
        let as_stated: f64 = record[column("recomputed_as_stated_SI")].parse().unwrap();
        near(found, as_stated, 1e-6);
        let published: f64 = record[column("published_SI")].parse().unwrap();
        assert_eq!(&record[column("status")], "match", "{id}");
        near(found, published, 0.01);
        seen += 1;
    }
    assert_eq!(seen, 3);
}

// Closed forms.

#[test]
fn with_one_factor_the_time_is_the_closed_form() {
    // t = (2A/a) √[(1 + K + f L/D)/2g] (√h₁ − √h₂), with heads over the outlet 3 m below the floor.
    let problem = drain(
        vessel(upright(2.0), 0.0, 4.0),
        water(jet(-3.0), vec![loss(0.5), pipe(0.05, 60.0, 1.5e-4)]),
        time_to(1.0),
    );
    let found = at_factor(&problem, 0.03);
    let taken = (1.5_f64 + 0.03 * 60.0 / 0.05) / (2.0 * G);
    let expected = 2.0 * (area(2.0) / area(0.05)) * taken.sqrt() * (7.0_f64.sqrt() - 4.0_f64.sqrt());
    near(found.value, expected, 1e-13);
    near(found.at_first_factor.unwrap(), expected, 1e-13);
    // With friction by the chart the closed form at the start's factor is near and not equal.
    let found = solved(&problem);
    near(found.at_first_factor.unwrap(), found.value, 0.02);
    assert!(found.value > 1.001 * found.at_first_factor.unwrap());
}

#[test]
fn shapes_with_a_closed_form_through_an_orifice() {
    let (d, cd) = (0.04, 0.6);
    let rate = orifice_rate(d, cd);
    let time = |shape: Shape, from: f64, to: f64| {
        let path = water(jet(0.0), orifice(d, cd, false, 0).to_vec());
        solved(&drain(vessel(shape, 0.0, from), path, time_to(to))).value
    };
    // All of it, down to the last drop, where the flow dies away.
    near(
        time(upright(1.5), 2.0, 0.0),
        2.0 * area(1.5) * 2.0_f64.sqrt() / rate,
        1e-10,
    );
    // A ball, full and half full: ∫π(Dh − h²)/√h dh = π(2/3 D h^1.5 − 2/5 h^2.5).
    let ball = |h: f64| std::f64::consts::PI * (2.0 / 3.0 * 3.0 * h - 0.4 * h * h) * h.sqrt() / rate;
    let sphere = Shape::Sphere { diameter: 3.0 };
    near(time(sphere.clone(), 3.0, 0.0), ball(3.0), 1e-10);
    near(time(sphere, 1.5, 0.4), ball(1.5) - ball(0.4), 1e-11);
    // A lying cylinder, from full: A/√h = 2L √(D − h).
    let lying = |h: f64| 4.0 / 3.0 * 2.5 * libm::pow(2.0 - h, 1.5) / rate;
    let shape = Shape::LyingCylinder {
        diameter: 2.0,
        length: 2.5,
    };
    near(time(shape.clone(), 2.0, 0.0), lying(0.0), 1e-9);
    near(time(shape, 1.0, 0.3), lying(0.3) - lying(1.0), 1e-11);
    // A funnel: A/√h = (π/4)(d + w h)²/√h.
    let frustum = |h: f64| {
        let (d, w) = (0.5, 0.8);
        area(1.0) * (2.0 * d * d + 4.0 / 3.0 * d * w * h + 0.4 * w * w * h * h) * h.sqrt() / rate
    };
    let shape = Shape::Cone {
        floor_diameter: 0.5,
        widening: 0.8,
    };
    near(time(shape, 2.2, 0.1), frustum(2.2) - frustum(0.1), 1e-11);
    // A table that is a straight-sided trough: A = 1 + h.
    let trough = |h: f64| (2.0 * h.sqrt() + 2.0 / 3.0 * h * h.sqrt()) / rate;
    let table = Shape::Table(vec![(0.0, 1.0), (0.7, 1.7), (3.0, 4.0)]);
    near(time(table, 2.5, 0.2), trough(2.5) - trough(0.2), 1e-11);
}

#[test]
fn laminar_draining_is_a_logarithm() {
    // Q = ρ g π d⁴ h/(128 μ L) where the outlet's velocity head is left out.
    let (density, viscosity) = (1100.0, 0.08);
    let path = Path {
        density,
        dynamic_viscosity: viscosity,
        ..water(surface(0.0), vec![pipe(0.025, 3.0, 0.0)])
    };
    let rate = density * G * std::f64::consts::PI * libm::pow(0.025, 4.0) / (128.0 * viscosity * 3.0);
    let expected = area(1.2) / rate * libm::log(1.5 / 0.2);
    let found = solved(&drain(vessel(upright(1.2), 0.0, 1.5), path.clone(), time_to(0.2)));
    near(found.value, expected, 1e-12);
    assert_eq!(found.changes, []);
    // And so is the level after a time; after very long, the level is that of rest.
    let after = |time| {
        solved(&drain(
            vessel(upright(1.2), 0.0, 1.5),
            path.clone(),
            Asked::Level(time),
        ))
    };
    near(after(expected).value, 0.2, 1e-12);
    let late = after(1e6);
    assert_eq!(late.value, 0.0);
    assert!(late.warnings.contains(&Warning::Settled { level: 0.0 }));
}

#[test]
fn constant_inflow_through_an_orifice() {
    // A dh/dt = q − c√h.
    let (q, rate, a) = (1.2e-3, orifice_rate(0.03, 0.62), area(1.2));
    let by_hand = |from: f64, to: f64| {
        let (x, y) = (from.sqrt(), to.sqrt());
        2.0 * a / rate * ((x - y) + q / rate * libm::log((rate * x - q) / (rate * y - q)))
    };
    let settles = (q / rate) * (q / rate);
    let problem = |from: f64, asked| {
        let tank = Vessel {
            inflow: q,
            ..vessel(upright(1.2), 0.0, from)
        };
        drain(
            tank,
            water(jet(0.0), orifice(0.03, 0.62, false, 0).to_vec()),
            asked,
        )
    };
    assert!((0.3..0.5).contains(&settles), "{settles}");
    near(
        solved(&problem(2.0, time_to(0.6))).value,
        by_hand(2.0, 0.6),
        1e-11,
    );
    near(
        solved(&problem(0.1, time_to(0.35))).value,
        by_hand(0.1, 0.35),
        1e-11,
    );
    let time = by_hand(2.0, 0.6);
    near(solved(&problem(2.0, Asked::Level(time))).value, 0.6, 1e-11);
    // A level behind that at which it settles is never reached, from either side.
    for (from, to) in [(2.0, 0.3), (0.1, 0.5)] {
        match find(&problem(from, time_to(to))) {
            Err(TankError::StopsBefore { level, stop, asked }) => {
                near(level, settles, 1e-12);
                assert_eq!((stop, asked), (Stop::InBalance, to));
            }
            other => panic!("{other:?}"),
        }
    }
    let found = solved(&problem(2.0, time_to(0.6)));
    assert!(matches!(found.stop, Some((level, Stop::InBalance)) if (level / settles - 1.0).abs() < 1e-12));
    // Where it settles itself is only neared.
    let at = found.stop.unwrap().0;
    assert_eq!(
        find(&problem(2.0, time_to(at))).unwrap_err(),
        TankError::OnlyNeared {
            level: at,
            stop: Stop::InBalance
        }
    );
    near(solved(&problem(2.0, Asked::Level(1e7))).value, settles, 1e-12);
}

#[test]
fn filling_from_above_is_even_and_from_below_slows_down() {
    let line = vec![loss(0.5), pipe(0.08, 40.0, 1e-4), loss(1.0)];
    let fill = |mouth: Option<f64>, level: f64| {
        let tank = Vessel {
            mouth,
            brim: Some(3.0),
            ..vessel(upright(2.0), 5.0, 0.5)
        };
        let mut path = water(surface(0.0), line.clone());
        path.start.elevation = 12.0;
        solved(&Problem {
            path,
            start: None,
            end: Some(tank),
            asked: time_to(level),
        })
    };
    // From above the brim the flow never changes.
    let even = fill(Some(8.0), 2.5);
    near(even.start.state.flow, even.end.state.flow, 1e-15);
    near(even.value, area(2.0) * 2.0 / even.start.state.flow, 1e-12);
    let below = fill(None, 2.5);
    assert!(below.start.state.flow > even.start.state.flow && below.value < even.value);
    assert!(below.end.state.flow < below.start.state.flow);
    // A mouth half-way up pours freely until it goes under.
    let both = fill(Some(6.5), 2.5);
    let first = fill(Some(6.5), 1.5);
    near(first.value, area(2.0) / first.start.state.flow, 1e-12);
    let rest = fill(None, 2.5).value - fill(None, 1.5).value;
    near(both.value, first.value + rest, 1e-11);
    // The brim ends it.
    let tank = Vessel {
        brim: Some(3.0),
        ..vessel(upright(2.0), 5.0, 0.5)
    };
    let mut problem = Problem {
        path: Path {
            start: surface(12.0),
            ..water(surface(0.0), line)
        },
        start: None,
        end: Some(tank),
        asked: time_to(3.2),
    };
    assert!(matches!(
        find(&problem),
        Err(TankError::StopsBefore {
            level: 3.0,
            stop: Stop::Full,
            ..
        })
    ));
    problem.asked = Asked::Level(1e5);
    match find(&problem) {
        Err(TankError::EndsBefore { time, level, stop }) => {
            problem.asked = time_to(3.0);
            near(time, solved(&problem).value, 1e-11);
            assert_eq!((level, stop), (3.0, Stop::Full));
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_pump_fills_until_its_head_is_used_up() {
    let line = vec![
        pipe(0.08, 40.0, 1e-4),
        Element::Pump(Machine::new(Duty::Head(9.0), 0.7)),
        loss(1.0),
    ];
    let problem = |asked| Problem {
        path: water(surface(0.0), line.clone()),
        start: None,
        end: Some(vessel(upright(2.0), 6.0, 0.5)),
        asked,
    };
    let found = solved(&problem(time_to(2.5)));
    assert!(matches!(found.stop, Some((level, Stop::AtRest)) if (level - 3.0).abs() < 1e-12));
    near(solved(&problem(Asked::Level(found.value))).value, 2.5, 1e-11);
    assert!(matches!(
        find(&problem(time_to(3.1))),
        Err(TankError::StopsBefore {
            stop: Stop::AtRest,
            ..
        })
    ));
    assert!(matches!(
        find(&problem(time_to(3.0))),
        Err(TankError::OnlyNeared {
            stop: Stop::AtRest,
            ..
        })
    ));
    // A pump of known power always moves something.
    let mut by_power = problem(time_to(8.0));
    by_power.path.elements[1] = Element::Pump(Machine::new(Duty::Power(600.0), 0.7));
    let found = solved(&by_power);
    assert_eq!(found.stop, None);
    let power = found.end.state.pump_heads[0] * found.end.state.flow * 998.207 * G;
    near(power, 420.0, 1e-12);
    by_power.asked = Asked::Level(found.value);
    near(solved(&by_power).value, 8.0, 1e-11);
}

#[test]
fn two_orifices_share_of_equalising() {
    // t = 2 A₁A₂ √Δ/((A₁ + A₂) c), all the way.
    let (a1, a2) = (2.0, 5.0);
    let rate = orifice_rate(0.1, 0.62);
    let problem = |asked| Problem {
        path: water(surface(0.0), orifice(0.1, 0.62, true, 0).to_vec()),
        start: Some(vessel(Shape::Constant { area: a1 }, 0.0, 4.0)),
        end: Some(vessel(Shape::Constant { area: a2 }, 0.0, 1.0)),
        asked,
    };
    let found = solved(&problem(Asked::Time(Until::Difference(0.0))));
    near(
        found.value,
        2.0 * a1 * a2 * 3.0_f64.sqrt() / ((a1 + a2) * rate),
        1e-9,
    );
    near(found.end.level, 4.0 - 3.0 * a2 / (a1 + a2), 1e-12);
    near(found.end.other_level.unwrap(), found.end.level, 1e-12);
    assert_eq!(found.end.state.flow, 0.0);
    // Later than that there is nothing to ask.
    assert!(matches!(
        find(&problem(Asked::Level(1e4))),
        Err(TankError::EndsBefore {
            stop: Stop::AtRest,
            ..
        })
    ));
    assert!(matches!(
        find(&problem(Asked::Time(Until::Difference(3.5)))),
        Err(TankError::OtherWay { rises: false })
    ));
    // Where the other runs over before they are level, that ends it.
    let mut small = problem(time_to(2.0));
    small.end.as_mut().unwrap().brim = Some(1.2);
    match find(&small) {
        Err(TankError::StopsBefore { level, stop, .. }) => {
            near(level, 3.5, 1e-12);
            assert_eq!(stop, Stop::OtherFull);
        }
        other => panic!("{other:?}"),
    }
}

// Regimes.

#[test]
fn the_flow_leaves_turbulence_on_the_way_and_is_told_so() {
    // A thin pipe that starts turbulent and ends laminar.
    let problem = drain(
        vessel(upright(0.3), 0.0, 1.0),
        water(jet(0.0), vec![loss(0.5), pipe(0.008, 3.0, 0.0)]),
        time_to(0.01),
    );
    let found = solved(&problem);
    let seen: Vec<(Regime, Regime)> = found.changes.iter().map(|c| (c.before, c.after)).collect();
    assert_eq!(
        seen,
        [
            (Regime::Smooth, Regime::Critical),
            (Regime::Critical, Regime::Laminar)
        ]
    );
    let run = Run::new(&problem, &[Reading::EXACT], &Limits::default()).unwrap();
    for (change, reynolds) in found.changes.iter().zip([4000.0, 2300.0]) {
        near(
            run.moment(change.level, 0.0).unwrap().state.pipes[0].reynolds,
            reynolds,
            1e-6,
        );
        near(run.time(change.level).unwrap(), change.time, 1e-10);
    }
    // Between the two laws the flow is held, with a factor between theirs.
    let before = run.moment(found.changes[1].level + 0.01, 0.0).unwrap();
    assert_eq!(before.held, Some(0));
    let f = before.state.pipes[0].darcy_friction_factor;
    assert!((64.0 / 2300.0..0.0474).contains(&f), "{f}");
    assert!(found.warnings.iter().any(|w| matches!(
        w,
        Warning::CriticalZone { pipe: 0, from, to, .. }
            if *from == found.changes[0].time && *to == found.changes[1].time
    )));
    // The level after the time in the middle of all that comes back as well.
    for level in [0.6, before.level, found.changes[1].level - 0.01] {
        let asked = Asked::Level(run.time(level).unwrap());
        near(
            solved(&Problem {
                asked,
                ..problem.clone()
            })
            .value,
            level,
            1e-10,
        );
    }
}

#[test]
fn fast_surfaces_and_heavy_pipes_are_told() {
    let line = |d, l| water(jet(0.0), vec![loss(0.5), pipe(d, l, 1e-5)]);
    let warnings = |tank_diameter, d, l| {
        let found = solved(&drain(
            vessel(upright(tank_diameter), 0.0, 2.0),
            line(d, l),
            time_to(1.0),
        ));
        let surface = found
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::SurfaceMoves { .. }));
        let inertia = found
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::Inertia { .. }));
        (surface, inertia)
    };
    assert_eq!(warnings(2.0, 0.05, 5.0), (false, false));
    assert_eq!(warnings(0.12, 0.05, 0.02), (true, false));
    assert_eq!(warnings(0.3, 0.05, 20.0), (false, true));
}

// Faults.

#[test]
fn what_cannot_be_is_refused() {
    let line = || water(jet(0.0), vec![pipe(0.05, 10.0, 1e-4)]);
    let good = drain(vessel(upright(1.0), 0.0, 2.0), line(), time_to(1.0));
    let with = |change: &dyn Fn(&mut Problem)| {
        let mut problem = good.clone();
        change(&mut problem);
        find(&problem).unwrap_err()
    };
    let what = |error: TankError| match error {
        TankError::Impossible { what, .. } => what,
        other => panic!("{other:?}"),
    };
    assert_eq!(what(with(&|p| p.start = None)), "number of tanks");
    let start = |change: &dyn Fn(&mut Vessel)| with(&|p| change(p.start.as_mut().unwrap()));
    assert_eq!(what(start(&|v| v.level = -1.0)), "level in a tank at the start");
    assert_eq!(
        what(start(&|v| v.brim = Some(1.0))),
        "level in a tank at the start"
    );
    assert_eq!(what(start(&|v| v.shape = upright(0.0))), "area of a tank");
    assert_eq!(
        what(start(&|v| v.floor = f64::NAN)),
        "elevation of a tank's floor"
    );
    assert_eq!(what(with(&|p| p.asked = time_to(f64::NAN))), "level asked for");
    assert_eq!(what(with(&|p| p.asked = Asked::Level(-1.0))), "time");
    assert_eq!(
        what(with(&|p| {
            p.end = Some(vessel(upright(1.0), 0.0, 0.0));
            p.start.as_mut().unwrap().inflow = 1e-3;
        })),
        "flow into one of two tanks"
    );
    assert_eq!(
        with(&|p| p.asked = time_to(2.5)),
        TankError::OtherWay { rises: false }
    );
    assert!(matches!(
        with(&|p| p.path.end.elevation = 3.0),
        TankError::Flow {
            error: SolveError::NoFlow { .. },
            ..
        }
    ));
    // Below the mouth of the pipe nothing runs out.
    assert!(matches!(
        with(&|p| {
            p.start.as_mut().unwrap().mouth = Some(1.2);
        }),
        TankError::StopsBefore {
            stop: Stop::Empty,
            ..
        }
    ));
    assert!(matches!(
        with(&|p| p.path.end.elevation = 1.4),
        TankError::StopsBefore { stop: Stop::AtRest, level, .. } if (level - 1.4).abs() < 1e-12
    ));
}

// As it is written.

fn case(yaml: &str) -> Case {
    let system = System::parse(yaml, "tank.yaml").unwrap_or_else(|faults| panic!("{faults}"));
    Case::solve(system, None, &Limits::default()).unwrap_or_else(|faults| panic!("{faults}"))
}

fn result(case: &Case, name: &str) -> f64 {
    case.results(&Conventions::default())
        .get(name)
        .unwrap()
        .quantity
        .value
}

fn refused(yaml: &str) -> String {
    let system = System::parse(yaml, "tank.yaml").unwrap_or_else(|faults| panic!("{faults}"));
    match Case::solve(system, None, &Limits::default()) {
        Ok(_) => panic!("solved"),
        Err(faults) => faults.to_string(),
    }
}

const DRAINING: &str = "
fluid: { density: 998.207 kg/m^3, dynamic viscosity: 1.0016e-3 Pa.s }
gravity: 9.80665 m/s^2
tank: { name: vat, diameter: 2.0 m, level: 4.0 m, until: 2.0 m }
time: unknown
stations:
  end: { pressure: 0 kPa, elevation: 0 m, velocity: pipe, alpha: 1 }
path:
  - loss: { name: entrance, K: 0.5 }
  - pipe: { name: hose, diameter: 50 mm, length: 60 m, roughness: 0.15 mm }
";

/// T-02 of the check data, from YAML to the answer.
#[test]
fn a_written_tank_gives_the_check_value_whatever_is_asked() {
    let time = case(DRAINING);
    near(result(&time, "t"), 2_514.728_040_01, 1e-10);
    near(result(&time, "t_closed"), 2_502.305_859, 1e-9);
    near(result(&time, "Q_2"), 0.002_057_303_739, 1e-9);
    near(result(&time, "H_1"), 4.0, 1e-12);
    near(result(&time, "Vol"), area(2.0) * 2.0, 1e-12);
    let given = DRAINING.replace("time: unknown", "time: 2514.72804001 s");
    let level = case(&given.replace("until: 2.0 m", "until: unknown"));
    near(result(&level, "h_2"), 2.0, 1e-9);
    assert!(result(&level, "h_closed") < 2.0);
    let bore = case(&given.replace("diameter: 50 mm", "diameter: unknown"));
    near(result(&bore, "D"), 0.05, 1e-9);
    let said: Value = serde_json::from_str(&json(&bore, &Limits::default())).unwrap();
    assert_eq!(said["unknown"]["name"], "diameter of hose");
    assert_eq!(said["unknown"]["unit"], "m");
    near(
        said["start"]["pipes"][0]["reynolds"].as_f64().unwrap(),
        74_657.80,
        1e-6,
    );
    assert_eq!(said["comes_to_a_stop"]["why"], "nothing drives the flow any more");
}

/// The last time of the steps, the closed form and the answer are those of the solver.
#[test]
fn the_worked_solution_ends_in_the_solvers_answer() {
    let text = |yaml: &str| {
        let steps = worked(&case(yaml), None, &Limits::default(), &Conventions::default()).unwrap();
        plain_text(&steps, Style::default())
    };
    let time = text(DRAINING);
    for part in [
        "t_closed",
        "= 41.71 min",
        "They close in on t =\n41.91 min",
        "t = 41.9 min",
    ] {
        assert!(time.contains(part), "`{part}` in\n{time}");
    }
    let filling = text(
        "
fluid: { name: water, temperature: 20 degC }
tank: { name: cistern, area: 3 m^2, level: 0.2 m, until: 1.4 m, mouth: 2 m }
time: unknown
stations:
  start: { pressure: 0 kPa, elevation: 6 m, velocity: 0 m/s }
path:
  - loss: { name: entrance, K: 0.5 }
  - pipe: { name: upper, diameter: 40 mm, length: 20 m, roughness: 0.1 mm }
  - pipe: { name: lower, diameter: 32 mm, length: 10 m, roughness: 0.1 mm }
  - loss: { name: exit, K: 1.0 }
",
    );
    assert!(filling.contains("t = Vol/Q₁"), "{filling}");
}

/// A mouth that goes under on the way: what drives the flow at the start is the head down to the mouth, at the end that down to the surface. By
/// hand, 9 - 3 = 6 m and 9 - 2 - 1.8 = 5.2 m; and 4.6 - 2.0 = 2.6 m.
#[test]
fn a_mouth_that_goes_under_is_the_end_of_the_head_until_then() {
    let text = |yaml: &str| {
        let steps = worked(&case(yaml), None, &Limits::default(), &Conventions::default()).unwrap();
        plain_text(&steps, Style::default())
    };
    let fills = text(
        "
fluid: { name: water, temperature: 20 degC }
tank: { name: cistern, diameter: 1.5 m, level: 0.3 m, until: 1.8 m, floor: 2 m, mouth: 3 m }
time: unknown
stations:
  start: { name: reservoir, pressure: 0 kPa, elevation: 9 m, velocity: 0 m/s }
path:
  - loss: { name: sharp entrance, K: 0.5 }
  - pipe: { name: supply, diameter: 50 mm, length: 40 m, roughness: 0.05 mm }
  - loss: { name: exit, K: 1.0 }
",
    );
    assert!(
        fills.contains("z_m") && fills.contains("= 6.000 m") && fills.contains("= 5.200 m"),
        "{fills}"
    );
    assert!(fills.contains("pours freely"), "{fills}");
    let both = text(
        "
fluid: { name: water, temperature: 15 degC }
tank: { name: port tank, area: 52 m^2, level: 4.6 m, until difference: 0.5 m }
second tank: { name: starboard tank, area: 44 m^2, level: 1.2 m, mouth: 2.0 m }
time: unknown
path:
  - loss: { name: entrance and valve, K: 1.8 }
  - pipe: { name: cross pipe, diameter: 200 mm, length: 22 m, roughness: 0.3 mm }
  - loss: { name: exit, K: 1.0 }
",
    );
    assert!(
        both.contains("= 2.600 m") && both.contains("pours freely"),
        "{both}"
    );
}

/// Each line of the working is what the solver has (the working refuses to print anything else): stations that move,
/// jets, several pipes, a draw-off, a pressure over the surface, US units, a flow that turns laminar.
#[test]
fn every_kind_of_working_agrees_with_the_solver() {
    for (yaml, last) in [
        ("
fluid: { name: water, temperature: 60 degF }
gravity: 32.174 ft/s^2
tank: { name: wash tank, table: [{ level: 0 ft, area: 40 ft^2 }, { level: 4 ft, area: 60 ft^2 }, { level: 9 ft, area: 60 ft^2 }], level: 2 ft, until: 8 ft, floor: 30 ft, inflow: -10 gpm, pressure: 2 psi }
time: unknown
stations:
  start: { name: main, pressure: 40 psi, elevation: 3 ft, velocity: pipe }
path:
  - pipe: { name: feed pipe, diameter: 2 in, length: 120 ft, roughness: 0.002 in }
  - loss: { name: valve, K: 3 }
  - pipe: { name: drop pipe, diameter: 1.5 in, length: 20 ft, roughness: 0.002 in }
  - loss: { name: exit, K: 1.0 }
", "27.9 min"),
        ("
fluid: { name: water, temperature: 20 degC }
tank: { name: laboratory head tank, diameter: 0.3 m, level: 0.7 m, until: 0.03 m }
time: unknown
stations:
  end: { name: glass tube's end, pressure: 0 kPa, elevation: 0 m }
path:
  - pipe: { name: glass tube, diameter: 8 mm, length: 3 m, roughness: 0 mm }
", "27.4 min"),
        ("
fluid: { name: water, temperature: 20 degC }
tank: { name: head tank, diameter: 1.2 m, level: 1.0 m, until: 2.0 m, inflow: 4 L/s }
time: unknown
stations:
  end: { name: nozzle, pressure: 0 kPa, elevation: -2 m, velocity: { jet: 25 mm } }
path:
  - loss: { name: entrance, K: 0.5 }
  - pipe: { name: line, diameter: 50 mm, length: 20 m, roughness: 0.05 mm }
  - loss: { name: nozzle, K: 0.3 }
", "24.2 min"),
        ("
fluid: { name: water, temperature: 20 degC }
tank: { name: bowl, bowl: { diameter: 4.0 m }, level: 1.5 m, until: 0.3 m, inflow: 0.5 L/s }
time: unknown
stations:
  end: { name: drain, pressure: 0 kPa, elevation: 0 m }
orifice: { diameter: 50 mm, Cd: 0.6 }
", "37.9 min"),
    ] {
        let steps = worked(&case(yaml), None, &Limits::default(), &Conventions::default());
        let text = plain_text(&steps.unwrap_or_else(|e| panic!("{}", e.what)), Style::default());
        assert!(text.contains(&format!("t = {last}")), "{text}");
    }
}

#[test]
fn a_written_tank_that_has_no_answer_says_why() {
    let with = |from: &str, to: &str| refused(&DRAINING.replace(from, to));
    for (from, to, said) in [
        (
            "until: 2.0 m",
            "until: 1.0 m, inflow: 2 L/s",
            "as much flows in as flows out",
        ),
        (
            "until: 2.0 m",
            "until: 1.0 m, mouth: 1.5 m",
            "empty down to the mouth",
        ),
        ("until: 2.0 m", "until: 0 m", "only neared"),
        ("until: 2.0 m", "until: 5.0 m", "falls from the start"),
        ("elevation: 0 m", "elevation: 4.5 m", "no flow"),
    ] {
        let found = with(from, to);
        assert!(found.contains(said), "`{said}` in {found}");
        assert!(found.contains("mend:"), "{found}");
    }
    let never = DRAINING
        .replace("time: unknown", "time: 10 s")
        .replace("length: 60 m", "length: unknown");
    assert!(refused(&never).contains("can't be solved for the length of hose"));
    let late = DRAINING
        .replace("time: unknown", "time: 3 h")
        .replace("until: 2.0 m", "until: unknown, mouth: 1 m");
    assert!(refused(&late).contains("longer than it lasts"));
}

/// A pipe comes in over the rim of an open tank, and through no lid; it takes no water from above the surface.
#[test]
fn a_mouth_or_a_level_out_of_its_tank_is_named() {
    let filling = |tank: &str| {
        format!(
            "fluid: {{ name: water, temperature: 20 degC }}
tank: {{ name: vat, {tank}, level: 0.5 m, until: 1 m, floor: 2 m }}
time: unknown
stations: {{ start: {{ pressure: 400 kPa, elevation: 0 m, velocity: 0 m/s }} }}
path: [{{ pipe: {{ name: line, diameter: 50 mm, length: 60 m, roughness: 0.15 mm }} }}]
"
        )
    };
    let said = |yaml: &str| match System::parse(yaml, "tank.yaml") {
        Ok(_) => String::new(),
        Err(faults) => faults.to_string(),
    };
    for (shape, top) in [
        ("sphere: { diameter: 3 m }", "3 m"),
        ("lying cylinder: { diameter: 3 m, length: 5 m }", "3 m"),
        (
            "table: [{ level: 0 m, area: 2 m^2 }, { level: 3 m, area: 0 m^2 }]",
            "3 m",
        ),
        ("diameter: 2 m, height: 3 m, pressure: 20 kPa", "3 m"),
        ("bowl: { diameter: 6 m }, pressure: 150 kPaa", "3 m"),
        ("sphere: { diameter: 3 m }, height: 2 m", "3 m"),
    ] {
        let at = |mouth: &str| said(&filling(&format!("{shape}, mouth: {mouth}")));
        assert_eq!(at("5 m"), "", "{shape}");
        assert_eq!(
            at("5.1 m").lines().next(),
            Some(format!("error: the mouth of the pipe in the vat is at 5.1 m, above the tank's top: {top} over a floor at 2 m").as_str()),
            "{shape}"
        );
    }
    for shape in [
        "diameter: 2 m, height: 3 m",
        "area: 4 m^2, pressure: 20 kPa",
        "bowl: { diameter: 6 m }",
        "cone: { floor diameter: 1 m, top diameter: 2 m, height: 3 m }",
        "table: [{ level: 0 m, area: 2 m^2 }, { level: 3 m, area: 1 m^2 }]",
    ] {
        assert_eq!(said(&filling(&format!("{shape}, mouth: 9 m"))), "", "{shape}");
    }
    let draining = |to: &str| said(&DRAINING.replace("level: 4.0 m", to));
    assert!(draining("level: 4.0 m, mouth: 4.1 m").contains("above the surface at the start: 4.0 m"));
    assert!(draining("level: 4.0 m, height: 3 m").contains("is 4.0 m, but the tank is full at 3 m"));
    assert_eq!(draining("level: 4.0 m, height: 4.0 m, mouth: 3 m"), "");
    // What is drawn is held to the same.
    let mut system = System::parse(DRAINING, "tank.yaml").unwrap();
    let System::Tank(tank) = &mut system else {
        panic!("no tank");
    };
    tank.tank.height = Some(Known(Written::parse("3 m").unwrap()));
    let faults = Case::solve(system, None, &Limits::default()).unwrap_err();
    assert!(faults.to_string().contains("full at 3 m"), "{faults}");
}

// Laws.

fn spread(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (libm::log(low)..libm::log(high)).prop_map(libm::exp)
}

fn shape() -> impl Strategy<Value = Shape> {
    prop_oneof![
        spread(0.2, 50.0).prop_map(|area| Shape::Constant { area }),
        (0.0..2.0_f64, 0.1..2.0_f64).prop_map(|(floor_diameter, widening)| Shape::Cone {
            floor_diameter,
            widening
        }),
        spread(2.1, 8.0).prop_map(|diameter| Shape::Sphere { diameter }),
        (spread(2.1, 5.0), spread(1.0, 10.0))
            .prop_map(|(diameter, length)| Shape::LyingCylinder { diameter, length }),
        (spread(0.5, 5.0), spread(0.5, 5.0), spread(0.5, 5.0)).prop_map(|(a, b, c)| Shape::Table(vec![
            (0.0, a),
            (0.9, b),
            (3.0, c)
        ])),
    ]
}

/// A tank of 2 m that drains, of water or of oil; sometimes into a second tank.
fn draining() -> impl Strategy<Value = Problem> {
    (
        shape(),
        prop_oneof![2 => Just(None), 1 => shape().prop_map(Some)],
        (
            spread(0.01, 0.15),
            spread(0.5, 300.0),
            prop_oneof![1 => Just(0.0), 4 => spread(1e-6, 0.02)],
        ),
        0.0..6.0_f64,
        prop_oneof![3 => Just((998.2, 1.0016e-3)), 1 => (spread(700.0, 1200.0), spread(1e-3, 0.3))],
        0.0..5.0_f64,
    )
        .prop_map(
            |(shape, other, (d, l, rr), coefficient, (density, dynamic_viscosity), fall)| {
                let end = if other.is_some() { surface(0.0) } else { jet(-fall) };
                let mut path = water(end, vec![loss(coefficient + 1.0), pipe(d, l, rr * d)]);
                (path.density, path.dynamic_viscosity) = (density, dynamic_viscosity);
                Problem {
                    path,
                    start: Some(vessel(shape, 0.0, 2.0)),
                    end: other.map(|shape| Vessel {
                        ..vessel(shape, -2.0 - 0.2 * fall, 0.5)
                    }),
                    asked: time_to(1.0),
                }
            },
        )
}

fn time(problem: &Problem, level: f64) -> Result<f64, TankError> {
    find(&Problem {
        asked: time_to(level),
        ..problem.clone()
    })
    .map(|s| s.value)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// The time down to a level is the time to one above it and from there on.
    #[test]
    fn time_adds_up(problem in draining(), share in 0.1..0.9_f64) {
        let low = 1.3;
        let whole = match time(&problem, low) {
            Ok(whole) => whole,
            // The other tank may be full or level before.
            Err(TankError::StopsBefore { .. } | TankError::OnlyNeared { .. }) => return Ok(()),
            Err(other) => panic!("{other:?}"),
        };
        let middle = 2.0 + share * (low - 2.0);
        let first = find(&Problem { asked: time_to(middle), ..problem.clone() }).unwrap();
        let mut later = problem.clone();
        later.start.as_mut().unwrap().level = middle;
        if let Some(end) = &mut later.end {
            end.level = first.end.other_level.unwrap();
        }
        let second = time(&later, low).unwrap();
        prop_assert!(((first.value + second) / whole - 1.0).abs() < 1e-9, "{} + {} for {}", first.value, second, whole);
    }

    /// The level after the time to a level is that level.
    #[test]
    fn a_level_comes_back(problem in draining(), level in 0.8..1.95_f64) {
        let Ok(time) = time(&problem, level) else { return Ok(()) };
        let back = find(&Problem { asked: Asked::Level(time), ..problem }).unwrap();
        prop_assert!((back.value - level).abs() < 1e-8 * level, "{} for {level}", back.value);
    }

    /// A longer, rougher or narrower pipe, or a further loss, takes longer.
    #[test]
    fn more_in_the_way_takes_longer(problem in draining(), more in 1.01..1.5_f64) {
        let Ok(base) = time(&problem, 1.2) else { return Ok(()) };
        let with = |change: &dyn Fn(&mut Pipe)| {
            let mut other = problem.clone();
            change(other.path.pipe_mut(0).unwrap());
            time(&other, 1.2).unwrap()
        };
        // Where the flow is held at the jump all the way it is that of the jump, however long the pipe.
        prop_assert!(with(&|p| p.length *= more) >= base * (1.0 - 1e-9));
        prop_assert!(with(&|p| p.roughness *= more) >= base * (1.0 - 1e-9));
        prop_assert!(with(&|p| p.diameter /= more) > base);
        let mut other = problem.clone();
        other.path.elements.push(loss(0.3));
        prop_assert!(time(&other, 1.2).unwrap() >= base * (1.0 - 1e-9));
    }

    /// The diameter for a pipe's own time is its own.
    #[test]
    fn a_diameter_comes_back(problem in draining()) {
        let Ok(time) = time(&problem, 1.2) else { return Ok(()) };
        let diameter = problem.path.clone().pipe_mut(0).unwrap().diameter;
        let asked = Asked::Diameter { pipe: 0, until: Until::Level(1.2), time };
        let mut problem = Problem { asked, ..problem };
        problem.path.pipe_mut(0).unwrap().diameter = f64::NAN;
        match find(&problem) {
            // Where the friction factor jumps up again in a wider pipe, another diameter may take as long.
            Ok(found) => prop_assert!((found.value / diameter - 1.0).abs() < 1e-7 || !found.changes.is_empty(),
                "{} for {diameter}", found.value),
            Err(error) => prop_assert!(false, "{error:?}"),
        }
    }

    /// With one friction factor, a tank of one area takes the time of the closed form.
    #[test]
    fn one_factor_is_the_closed_form(d in spread(0.01, 0.2), l in spread(1.0, 300.0), f in 0.01..0.05_f64,
                                     k in 0.0..5.0_f64, a in spread(0.5, 50.0), fall in 0.0..5.0_f64,
                                     to in 0.0..1.9_f64) {
        let problem = drain(
            vessel(Shape::Constant { area: a }, 0.0, 2.0),
            water(jet(-fall), vec![loss(k), pipe(d, l, 1e-5)]),
            time_to(to),
        );
        let found = at_factor(&problem, f).value;
        let taken = (1.0 + k + f * l / d) / (2.0 * G);
        let expected = 2.0 * a / area(d) * taken.sqrt() * ((2.0 + fall).sqrt() - (to + fall).sqrt());
        prop_assert!((found / expected - 1.0).abs() < 1e-10, "{found} for {expected}");
    }

    /// Nothing is lost between two tanks, and the level that is followed goes one way.
    #[test]
    fn two_tanks_keep_their_volume(problem in draining(), level in 1.0..1.9_f64) {
        prop_assume!(problem.end.is_some());
        let Ok(found) = find(&Problem { asked: time_to(level), ..problem.clone() }) else { return Ok(()) };
        let (start, end) = (problem.start.unwrap(), problem.end.unwrap());
        let left = start.shape.volume(2.0) - start.shape.volume(level);
        let came = end.shape.volume(found.end.other_level.unwrap()) - end.shape.volume(end.level);
        prop_assert!((came - left).abs() <= 1e-9 * left, "{came} for {left}");
    }

    /// Nothing panics, whatever the numbers.
    #[test]
    fn any_number_gives_an_answer_or_an_error(
        numbers in prop::collection::vec(prop_oneof![
            4 => -10.0..10.0_f64, 1 => Just(0.0), 1 => Just(f64::NAN), 1 => Just(f64::INFINITY),
            1 => spread(1e-12, 1e12), 3 => 0.01..5.0_f64], 14),
        kind in 0..6_usize, ends in 0..3_usize, asked in 0..4_usize,
    ) {
        let n = &numbers;
        let shape = |i: usize| match kind {
            0 => Shape::Constant { area: n[i] },
            1 => Shape::Cone { floor_diameter: n[i], widening: n[i + 1] },
            2 => Shape::Sphere { diameter: n[i] },
            3 => Shape::LyingCylinder { diameter: n[i], length: n[i + 1] },
            4 => Shape::Table(vec![(0.0, n[i]), (n[i + 1], n[i + 2])]),
            _ => Shape::Table(Vec::new()),
        };
        let vessel = |i: usize| Vessel {
            mouth: (n[9] > 0.0).then_some(n[10]),
            brim: (n[9] > 1.0).then_some(n[11]),
            inflow: n[8].min(0.1) * 1e-2,
            ..vessel(shape(i), n[i + 3], n[i + 4])
        };
        let problem = Problem {
            path: water(jet(n[12]), vec![loss(n[7].abs()), pipe(0.05, n[6].abs(), 1e-4)]),
            start: (ends != 1).then(|| vessel(0)),
            end: (ends != 0).then(|| vessel(1)),
            asked: match asked {
                0 => time_to(n[13]),
                1 => Asked::Time(Until::Difference(n[13])),
                2 => Asked::Level(n[13] * 100.0),
                _ => Asked::Diameter { pipe: 0, until: Until::Level(n[12]), time: n[13] * 100.0 },
            },
        };
        if let Ok(found) = find(&problem) {
            prop_assert!(found.value.is_finite() && found.value >= 0.0);
        }
    }
}
