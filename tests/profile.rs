//! Flow seen across a pipe: closed forms, published numbers, and laws.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::profile::{
    Drive, Exponent, Motion, Problem, Solved, Tube, Unknown, Warning, power_law_alpha, power_law_beta,
    power_law_ratio, solve, turbulent_entrance,
};
use gradeline::hydraulics::regime::{Limits, Regime};
use gradeline::hydraulics::solve::SolveError;
use proptest::prelude::*;
use std::f64::consts::PI;

fn near(ours: f64, theirs: f64, share: f64, what: &str) {
    assert!(
        (ours / theirs - 1.0).abs() <= share,
        "{what}: {ours}, but {theirs} is expected"
    );
}

const OIL: Tube = Tube {
    density: 900.0,
    dynamic_viscosity: 0.18,
    gravity: 9.81,
    diameter: 0.06,
    length: Some(10.0),
    roughness: 0.0,
    motion: Motion::Flow(0.0076),
    drive: Drive::PressureDrop(f64::NAN),
    end_correction: 0.0,
    kinetic_correction: 0.0,
    exponent: Exponent::FromFriction,
    radius: Some(0.015),
};

fn solved(tube: Tube, unknown: Unknown) -> Solved {
    let mut problem = Problem { tube, unknown };
    problem.put(f64::NAN);
    solve(&problem, Reading::EXACT, &Limits::default()).unwrap()
}

/// White, Fluid Mechanics, Example 6.4 (5th edition and others; from memory): oil of 900 kg/m³ and 0.18 Pa·s flows up an
/// inclined 6-cm pipe, 10 m long, at 0.0076 m³/s: V = 2.7 m/s, Re = 810, and 4.9 m of head are lost.
#[test]
fn oil_in_a_laminar_pipe() {
    let at = solved(OIL, Unknown::Drive);
    near(at.state.velocity, 2.7, 0.01, "V");
    near(at.state.reynolds, 810.0, 0.01, "Re");
    let head = at.state.pressure_drop.unwrap() / (900.0 * 9.81);
    near(head, 4.9, 0.02, "head");
    // The closed forms of Hagen and Poiseuille.
    let drop = 128.0 * 0.18 * 10.0 * 0.0076 / (PI * 0.06_f64 * 0.06 * 0.06 * 0.06);
    near(at.value, drop, 1e-13, "128 μ L Q/(π D⁴)");
    near(at.state.centre_velocity, 2.0 * at.state.velocity, 1e-15, "u_max");
    near(at.state.wall_shear, drop * 0.06 / 40.0, 1e-13, "τ_w = Δp D/(4L)");
    let local = at.state.local.unwrap();
    near(local.velocity, 0.75 * at.state.centre_velocity, 1e-14, "u at R/2");
    near(local.shear, 0.5 * at.state.wall_shear, 1e-14, "τ at R/2");
    near(
        at.state.entrance_length,
        0.06 * at.state.reynolds * 0.06,
        1e-14,
        "L_e",
    );
    assert_eq!((at.state.alpha, at.state.exponent), (2.0, None));
}

/// Table of the power law as taught: n = 7 has V/u_max = 0.8167, α = 1.058, β = 1.020 (White, Fluid Mechanics, from
/// memory); n = 6 has α = 1.077 and 0.791, n = 10 has 1.031 and 0.866 (Fox and McDonald, from memory).
#[test]
fn the_power_law_as_tabled() {
    for (n, ratio, alpha) in [
        (6.0, 0.791, 1.077),
        (7.0, 0.817, 1.058),
        (8.0, 0.837, 1.046),
        (9.0, 0.853, 1.037),
        (10.0, 0.866, 1.031),
    ] {
        assert!((power_law_ratio(n) - ratio).abs() <= 5.1e-4, "{n}");
        assert!(
            (power_law_alpha(n) - alpha).abs() <= 5.1e-4,
            "{n}: {}",
            power_law_alpha(n)
        );
    }
    assert!((power_law_beta(7.0) - 1.020).abs() < 5e-4);
}

/// White, Fluid Mechanics (from memory): L_e/D is 18 at Re 4,000, 20 at 10⁴, 30 at 10⁵, 44 at 10⁶, 65 at 10⁷.
#[test]
fn entrance_lengths_as_tabled() {
    for (reynolds, diameters) in [(4e3, 18.0), (1e4, 20.0), (1e5, 30.0), (1e6, 44.0), (1e7, 65.0)] {
        assert!(
            (turbulent_entrance(reynolds, 1.0) - diameters).abs() < 0.6,
            "{reynolds}"
        );
    }
}

/// Hagenbach and Couette: η = π r⁴ Δp t/[8 V (l + n r)] − m ρ V/[8 π (l + n r) t].
#[test]
fn a_capillary_gives_the_viscosity() {
    let (radius, length, volume, time, head) = (0.5e-3_f64, 0.12, 20e-6_f64, 200.0, 0.18);
    let (density, gravity, m, n) = (830.0, 9.81, 1.12, 0.6);
    let tube = Tube {
        density,
        gravity,
        diameter: 2.0 * radius,
        length: Some(length),
        motion: Motion::Flow(volume / time),
        drive: Drive::Head(head),
        end_correction: n,
        kinetic_correction: m,
        radius: None,
        ..OIL
    };
    let at = solved(tube, Unknown::Viscosity);
    let l = length + n * radius;
    let r4 = radius * radius * radius * radius;
    let drop = density * gravity * head;
    let viscosity = PI * r4 * drop * time / (8.0 * volume * l) - m * density * volume / (8.0 * PI * l * time);
    near(at.value, viscosity, 1e-13, "viscosity");
    assert_eq!(at.state.regime, Regime::Laminar);
    assert!((at.state.friction_length.unwrap() / l - 1.0).abs() < 1e-15);
    // Too fast for a capillary: no viscosity can be told.
    let fast = Tube {
        motion: Motion::Flow(9e-6),
        ..tube
    };
    let problem = Problem {
        tube: Tube {
            dynamic_viscosity: f64::NAN,
            ..fast
        },
        unknown: Unknown::Viscosity,
    };
    assert!(matches!(
        solve(&problem, Reading::EXACT, &Limits::default()),
        Err(SolveError::NoSolution { .. })
    ));
}

#[test]
fn a_turbulent_profile_follows_from_its_friction_factor() {
    let water = Tube {
        density: 998.0,
        dynamic_viscosity: 1.0e-3,
        diameter: 0.2,
        length: Some(50.0),
        roughness: 2e-4,
        motion: Motion::Mean(2.0),
        radius: Some(0.05),
        ..OIL
    };
    let at = solved(water, Unknown::Drive);
    let f = at.state.darcy_friction_factor;
    let n = at.state.exponent.unwrap();
    near(n, 1.0 / f.sqrt(), 1e-15, "n");
    near(at.state.wall_shear, f * 998.0 * 4.0 / 8.0, 1e-14, "τ_w");
    near(at.state.friction_velocity, 2.0 * (f / 8.0).sqrt(), 1e-14, "u*");
    near(
        at.state.local.unwrap().velocity,
        at.state.centre_velocity * libm::pow(0.5, 1.0 / n),
        1e-14,
        "u at R/2",
    );
    // The centre-line velocity alone leads back.
    let probe = Tube {
        motion: Motion::Centre(at.state.centre_velocity),
        ..water
    };
    near(
        solved(probe, Unknown::Drive).state.velocity,
        2.0,
        1e-12,
        "V from the centre line",
    );
    let given = Tube {
        exponent: Exponent::Given(7.0),
        ..water
    };
    near(
        solved(given, Unknown::Drive).state.centre_velocity,
        2.0 * 60.0 / 49.0,
        1e-14,
        "u_max at n = 7",
    );
}

#[test]
fn a_short_pipe_is_all_entrance() {
    let short = Tube {
        length: Some(2.0),
        ..OIL
    };
    assert!(
        solved(short, Unknown::Drive)
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::Entrance { .. }))
    );
}

/// A centre-line velocity that a slow turbulent and a fast laminar flow both have: both are told.
#[test]
fn two_flows_with_one_centre_line_velocity() {
    // u D/ν = 3600: laminar at Re 1800, or turbulent at some 2850.
    let tube = Tube {
        density: 1000.0,
        dynamic_viscosity: 1e-3,
        diameter: 0.05,
        motion: Motion::Centre(0.072),
        length: Some(100.0),
        radius: None,
        ..OIL
    };
    let at = solved(tube, Unknown::Drive);
    near(at.state.reynolds, 1800.0, 1e-12, "the laminar one first");
    assert!(
        matches!(at.warnings[..], [Warning::SecondSolution { value }] if value > at.value),
        "{:?}",
        at.warnings
    );
}

#[test]
fn what_cannot_be_is_refused() {
    let refused = |tube: Tube, unknown| {
        let mut problem = Problem { tube, unknown };
        problem.put(f64::NAN);
        solve(&problem, Reading::EXACT, &Limits::default()).unwrap_err()
    };
    let impossible = |error| matches!(error, SolveError::Impossible { .. });
    assert!(impossible(refused(Tube { density: -1.0, ..OIL }, Unknown::Drive)));
    assert!(impossible(refused(Tube { length: None, ..OIL }, Unknown::Drive)));
    assert!(impossible(refused(
        Tube {
            radius: Some(0.031),
            ..OIL
        },
        Unknown::Drive
    )));
    assert!(impossible(refused(
        Tube {
            exponent: Exponent::Given(0.5),
            ..OIL
        },
        Unknown::Drive
    )));
    // The head gives less than the fluid takes away as kinetic energy.
    let tube = Tube {
        drive: Drive::Head(0.1),
        kinetic_correction: 1.0,
        ..OIL
    };
    assert!(matches!(
        refused(tube, Unknown::Viscosity),
        SolveError::NoSolution { .. }
    ));
    let shear = Tube {
        drive: Drive::WallShear(3.0),
        ..OIL
    };
    assert!(matches!(
        refused(shear, Unknown::Length),
        SolveError::Undetermined { .. }
    ));
}

fn any_tube() -> impl Strategy<Value = Tube> {
    (
        (-3.5..0.0_f64, -5.5..-1.0_f64, 700.0..1300.0_f64),
        prop_oneof![0.5..3.35_f64, 3.65..7.0_f64],
        (0.0..0.03_f64, 20.0..3000.0_f64),
        (0.0..1.5_f64, 0.0..1.5_f64, 0..3_u8, 0..3_u8, any::<bool>()),
    )
        .prop_map(|(sizes, log_reynolds, (roughness, length), rest)| {
            let (log_diameter, log_viscosity, density) = sizes;
            let (end_correction, kinetic_correction, motion, drive, given) = rest;
            let diameter = libm::exp10(log_diameter);
            let dynamic_viscosity = density * libm::exp10(log_viscosity);
            let velocity = libm::exp10(log_reynolds) * dynamic_viscosity / density / diameter;
            Tube {
                density,
                dynamic_viscosity,
                gravity: 9.81,
                diameter,
                length: Some(length * diameter),
                roughness: roughness * diameter,
                motion: match motion {
                    0 => Motion::Flow(velocity * 0.25 * PI * diameter * diameter),
                    1 => Motion::Mean(velocity),
                    _ => Motion::Centre(velocity * if log_reynolds < 3.5 { 2.0 } else { 1.25 }),
                },
                drive: match drive {
                    0 => Drive::PressureDrop(f64::NAN),
                    1 => Drive::Head(f64::NAN),
                    _ => Drive::WallShear(f64::NAN),
                },
                end_correction,
                kinetic_correction,
                exponent: if given {
                    Exponent::Given(7.0)
                } else {
                    Exponent::FromFriction
                },
                radius: Some(0.3 * diameter),
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whatever is left out of a solved tube, solving for it brings it back.
    #[test]
    fn solving_back_returns_the_given(tube in any_tube()) {
        let first = match solve(&Problem { tube, unknown: Unknown::Drive }, Reading::EXACT, &Limits::default()) {
            Ok(first) => first,
            Err(error) => { prop_assert!(false, "{error:?}"); return Ok(()); }
        };
        for unknown in [Unknown::Motion, Unknown::Viscosity, Unknown::Diameter, Unknown::Length] {
            // A viscosity is told from laminar flow only; a thicker fluid may move so where this one is turbulent.
            if unknown == Unknown::Viscosity && first.state.regime != Regime::Laminar {
                continue;
            }
            let expected = match unknown {
                Unknown::Motion => match first.tube.motion {
                    Motion::Flow(v) | Motion::Mean(v) | Motion::Centre(v) => v,
                },
                Unknown::Viscosity => tube.dynamic_viscosity,
                Unknown::Diameter => tube.diameter,
                _ => tube.length.unwrap(),
            };
            let mut back = Problem { tube: first.tube, unknown };
            // The radius asked for may lie outside a narrower second bore.
            back.tube.radius = None;
            back.put(f64::NAN);
            match solve(&back, Reading::EXACT, &Limits::default()) {
                Ok(found) => {
                    let others = found.warnings.iter().filter_map(|w| match w {
                        Warning::SecondSolution { value } => Some(*value),
                        _ => None,
                    });
                    prop_assert!(
                        std::iter::once(found.value).chain(others).any(|v| (v / expected - 1.0).abs() < 1e-7),
                        "{unknown:?}: {} for {expected}", found.value
                    );
                }
                Err(SolveError::Undetermined { .. }) => {
                    prop_assert!(unknown == Unknown::Length && matches!(tube.drive, Drive::WallShear(_)));
                }
                Err(error) => prop_assert!(false, "{unknown:?}: {error:?}"),
            }
        }
    }

    /// Force balance: what the pressure pushes with, the wall holds, whatever the regime.
    #[test]
    fn the_wall_holds_what_the_pressure_pushes(tube in any_tube()) {
        let tube = Tube { drive: Drive::PressureDrop(f64::NAN), ..tube };
        let at = solve(&Problem { tube, unknown: Unknown::Drive }, Reading::EXACT, &Limits::default()).unwrap();
        let push = (at.value - at.state.kinetic_drop) * 0.25 * PI * tube.diameter * tube.diameter;
        let hold = at.state.wall_shear * PI * tube.diameter * at.state.friction_length.unwrap();
        prop_assert!((push / hold - 1.0).abs() < 1e-11);
        let local = at.state.local.unwrap();
        prop_assert!((local.shear / at.state.wall_shear - 0.6).abs() < 1e-12);
        prop_assert!(local.velocity < at.state.centre_velocity);
        prop_assert!(at.state.alpha >= at.state.beta && at.state.beta >= 1.0);
    }

    /// A reading moves turbulent wall shear by as much, and laminar shear not at all.
    #[test]
    fn a_misread_factor_counts_in_turbulent_flow_only(tube in any_tube(), factor in 0.9..1.1_f64) {
        let tube = Tube { drive: Drive::WallShear(f64::NAN), motion: Motion::Mean(match tube.motion {
            Motion::Flow(q) => 4.0 * q / (PI * tube.diameter * tube.diameter), Motion::Mean(v) | Motion::Centre(v) => v,
        }), ..tube };
        let of = |factor| solve(
            &Problem { tube, unknown: Unknown::Drive },
            Reading { law: Law::Colebrook, factor },
            &Limits::default(),
        ).unwrap();
        let (exact, read) = (of(1.0), of(factor));
        let moved = if exact.state.regime == Regime::Laminar { 1.0 } else { factor };
        prop_assert!((read.value / exact.value / moved - 1.0).abs() < 1e-12);
    }
}

/// Every line of every working ends in what the solver has: all unknowns, all ways to say motion and drive, both
/// regimes, with corrections and without.
#[test]
fn every_line_of_a_working_ends_in_what_was_solved() {
    use gradeline::bank::course::Conventions;
    use gradeline::bank::prose::Block;
    use gradeline::bank::system::System;
    use gradeline::equation::Expr;
    use gradeline::solution::{Case, worked};

    let limits = Limits::default();
    let conventions = Conventions::default();
    let mut seen = 0;
    let mut lines_seen = 0;
    // Oil that creeps, and water that does not.
    for (fluid, size, length, values) in [
        (
            ("density: 880 kg/m^3", "0.09 Pa.s"),
            "24 mm",
            "8 m",
            [
                ["flow: 0.4 L/s", "flow: unknown"],
                ["mean velocity: 0.9 m/s", "mean velocity: unknown"],
                ["centre-line velocity: 1.8 m/s", "centre-line velocity: unknown"],
                ["pressure drop: 36 kPa", "pressure drop: unknown"],
                ["head: 4.2 m", "head: unknown"],
                ["wall shear stress: 27 Pa", "wall shear stress: unknown"],
            ],
        ),
        (
            ("density: 998 kg/m^3", "0.001 Pa.s"),
            "120 mm",
            "90 m",
            [
                ["flow: 22 L/s", "flow: unknown"],
                ["mean velocity: 2.0 m/s", "mean velocity: unknown"],
                ["centre-line velocity: 2.4 m/s", "centre-line velocity: unknown"],
                ["pressure drop: 31 kPa", "pressure drop: unknown"],
                ["head: 3.1 m", "head: unknown"],
                ["wall shear stress: 10 Pa", "wall shear stress: unknown"],
            ],
        ),
    ] {
        for motion in &values[..3] {
            for drive in &values[3..] {
                for asked in ["motion", "drive", "viscosity", "diameter", "length"] {
                    for extra in [
                        "",
                        "end correction: 0.6, kinetic correction: 1.1, ",
                        "exponent: 8, ",
                    ] {
                        let by_shear = drive[0].starts_with("wall");
                        if by_shear && (asked == "length" || extra.starts_with("end")) {
                            continue;
                        }
                        let pick = |name: &str, of: &[&str; 2]| of[usize::from(asked == name)].to_owned();
                        let or = |name: &str, value: &str| {
                            if asked == name {
                                "unknown".to_owned()
                            } else {
                                value.to_owned()
                            }
                        };
                        let yaml = format!(
                            "fluid: {{ {}, dynamic viscosity: {} }}\nprofile: {{ diameter: {}, length: {}, roughness: 0.05 mm, \
                             {}, {}, {extra}radius: 4 mm }}\n",
                            fluid.0,
                            or("viscosity", fluid.1),
                            or("diameter", size),
                            or("length", length),
                            pick("motion", motion),
                            pick("drive", drive),
                        );
                        let system =
                            System::parse(&yaml, "profile.yaml").unwrap_or_else(|f| panic!("{f}\n{yaml}"));
                        // Water's viscosity can't be told from turbulent flow, and not every mixture has a bore.
                        let Ok(case) = Case::solve(system, None, &limits) else {
                            assert!(asked == "viscosity" || asked == "diameter", "{yaml}");
                            continue;
                        };
                        let results = case.results(&conventions);
                        for step in worked(&case, None, &limits, &conventions).unwrap() {
                            // Half a unit of the last of four figures, of three in the answer.
                            let slack = if step.title == "Answer" { 6e-3 } else { 6e-4 };
                            for block in &step.body {
                                let Block::Equation(lines) = block else { continue };
                                for line in lines {
                                    let (Expr::Symbol(name), Some((_, Expr::Number(last)))) =
                                        (&line.first, line.rest.last())
                                    else {
                                        continue;
                                    };
                                    let Some(bound) = results.get(name) else { continue };
                                    let off = last.quantity().value - bound.quantity.value;
                                    assert!(
                                        off.abs() <= slack * bound.quantity.value.abs(),
                                        "{name} in `{}`: {} for {}\n{yaml}",
                                        step.title,
                                        last.quantity().value,
                                        bound.quantity.value
                                    );
                                    lines_seen += 1;
                                }
                            }
                        }
                        seen += 1;
                    }
                }
            }
        }
    }
    assert!(
        seen >= 150 && lines_seen >= 1500,
        "{seen} workings, {lines_seen} lines"
    );
}
