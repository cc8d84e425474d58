//! A leak in one main between two gauges: where it is, or how much it takes.
//!
//! Above the leak the whole flow loses head by friction, below it what is left. Head lost along the way is what
//! pressure, height and velocity at the gauges say, and nothing else is lost at the leak itself:
//! `H₁ − H₂ = S₁ x + S₂ (L − x)` with the friction slopes `S = f V²/(2 g D)`.

use super::friction::{Reading, darcy};
use super::path::{Pipe, Section, TURBULENT_ALPHA, area};
use super::regime::{Limits, Regime, classify};
use super::root::crossing;

/// What is read at a gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    /// Gauge pressure \[Pa\].
    pub pressure: f64,
    /// Elevation \[m\].
    pub elevation: f64,
    /// Volume flow \[m³/s\].
    pub flow: f64,
}

/// What is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Distance from the start gauge to the leak \[m\].
    Distance,
    /// Flow at the end gauge \[m³/s\], and with it what the leak takes.
    EndFlow,
}

/// A main with a leak, one value missing: that slot holds NaN.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Density \[kg/m³\].
    pub density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub dynamic_viscosity: f64,
    /// Acceleration of gravity \[m/s²\].
    pub gravity: f64,
    /// The gauge above the leak.
    pub start: Gauge,
    /// The gauge below it.
    pub end: Gauge,
    /// The main from gauge to gauge.
    pub pipe: Pipe,
    /// Distance from the start gauge to the leak \[m\].
    pub distance: f64,
    /// Which value is missing.
    pub unknown: Unknown,
}

/// The flow in the main above or below the leak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Length \[m\].
    pub length: f64,
    /// Volume flow \[m³/s\].
    pub flow: f64,
    /// Mean velocity \[m/s\].
    pub velocity: f64,
    /// Reynolds number \[–\].
    pub reynolds: f64,
    /// Darcy friction factor \[–\].
    pub darcy_friction_factor: f64,
    /// Regime.
    pub regime: Regime,
    /// `Re √f (ε/D)` \[–\].
    pub rough_number: f64,
    /// Kinetic-energy factor \[–\].
    pub alpha: f64,
    /// Head lost to friction on each metre \[–\].
    pub slope: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// The problem with the value put in.
    pub problem: Problem,
    /// Above the leak, and below it.
    pub reaches: [Reach; 2],
    /// Head between the gauges, velocity heads included \[m\].
    pub head: f64,
    /// What the leak takes \[m³/s\].
    pub leak: f64,
    /// Gauge pressure in the main at the leak, just above it \[Pa\]; the main is taken as straight in height.
    pub pressure_at_leak: f64,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeakError {
    /// As much or more leaves at the end as enters at the start.
    NothingLost,
    /// The leak would lie before the start (share below 0) or behind the end (above 1).
    OffTheMain {
        /// Distance as a share of the length \[–\].
        share: f64,
    },
    /// The head between the gauges is more than the whole flow loses on its way to the leak and what may be left
    /// of it behind, or less than nothing.
    NoFlowFits {
        /// Head between the gauges \[m\].
        head: f64,
        /// Head lost without any leak \[m\].
        without_leak: f64,
    },
    /// A value that can't be.
    Impossible {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
    },
}

/// Solves for the distance (explicit) or for the flow at the end (a bracketed root), with a reading for the
/// main above the leak and one for the main below it.
///
/// # Errors
/// [`LeakError`], never a wrong number.
pub fn solve(problem: &Problem, readings: [Reading; 2], limits: &Limits) -> Result<Solved, LeakError> {
    check(problem)?;
    let mut problem = problem.clone();
    match problem.unknown {
        Unknown::Distance => {
            if problem.end.flow >= problem.start.flow {
                return Err(LeakError::NothingLost);
            }
            let above = reach(&problem, problem.start.flow, f64::NAN, readings[0], limits);
            let below = reach(&problem, problem.end.flow, f64::NAN, readings[1], limits);
            let head = head(&problem, &above, &below);
            let length = problem.pipe.length;
            problem.distance = (head - below.slope * length) / (above.slope - below.slope);
            let share = problem.distance / length;
            if !(0.0..=1.0).contains(&share) {
                return Err(LeakError::OffTheMain { share });
            }
        }
        Unknown::EndFlow => {
            if !(0.0..problem.pipe.length).contains(&problem.distance) {
                return Err(LeakError::OffTheMain {
                    share: problem.distance / problem.pipe.length,
                });
            }
            let above = reach(
                &problem,
                problem.start.flow,
                problem.distance,
                readings[0],
                limits,
            );
            let rest = problem.pipe.length - problem.distance;
            let given = problem.clone();
            let left_over = |flow: f64| {
                let below = reach(&given, flow, rest, readings[1], limits);
                head(&given, &above, &below) - above.slope * given.distance - below.slope * rest
            };
            let (none, all) = (left_over(problem.start.flow), left_over(0.0));
            if none >= 0.0 || all <= 0.0 {
                let whole = reach(&problem, problem.start.flow, f64::NAN, readings[0], limits);
                return Err(LeakError::NoFlowFits {
                    head: head(&problem, &whole, &whole),
                    without_leak: whole.slope * problem.pipe.length,
                });
            }
            problem.end.flow = crossing(left_over, 0.0, problem.start.flow);
            let off = left_over(problem.end.flow);
            if off.abs() > 1e-9 * (all - none) {
                // The friction factor jumps there.
                return Err(LeakError::Impossible {
                    what: "Reynolds number below the leak, where laminar flow ends,",
                    value: limits.laminar_end,
                });
            }
        }
    }
    let rest = problem.pipe.length - problem.distance;
    let above = reach(
        &problem,
        problem.start.flow,
        problem.distance,
        readings[0],
        limits,
    );
    let below = reach(&problem, problem.end.flow, rest, readings[1], limits);
    let head = head(&problem, &above, &below);
    let weight = problem.density * problem.gravity;
    let share = problem.distance / problem.pipe.length;
    let fall = share * (problem.start.elevation - problem.end.elevation);
    Ok(Solved {
        leak: problem.start.flow - problem.end.flow,
        pressure_at_leak: problem.start.pressure + weight * (fall - above.slope * problem.distance),
        head,
        reaches: [above, below],
        problem,
    })
}

/// Head between the gauges \[m\].
fn head(problem: &Problem, above: &Reach, below: &Reach) -> f64 {
    (problem.start.pressure - problem.end.pressure) / (problem.density * problem.gravity)
        + (problem.start.elevation - problem.end.elevation)
        + (above.alpha * above.velocity * above.velocity - below.alpha * below.velocity * below.velocity)
            / (2.0 * problem.gravity)
}

/// The flow in a stretch of the main \[m\] at a volume flow \[m³/s\].
pub fn reach(problem: &Problem, flow: f64, length: f64, reading: Reading, limits: &Limits) -> Reach {
    let pipe = &problem.pipe;
    let velocity = flow / area(pipe.diameter);
    let reynolds = problem.density * velocity * pipe.diameter / problem.dynamic_viscosity;
    let relative_roughness = pipe.roughness / pipe.diameter;
    // What stands still has no factor, and loses nothing.
    let factor = if flow > 0.0 {
        darcy(reading, reynolds, relative_roughness, limits)
    } else {
        0.0
    };
    let rough_number = reynolds * factor.sqrt() * relative_roughness;
    let laminar = reynolds < limits.laminar_end;
    Reach {
        length,
        flow,
        velocity,
        reynolds,
        darcy_friction_factor: factor,
        regime: classify(reynolds, rough_number, limits),
        rough_number,
        alpha: if laminar {
            Section::ROUND.laminar_alpha
        } else {
            TURBULENT_ALPHA
        },
        slope: factor * velocity * velocity / (2.0 * problem.gravity * pipe.diameter),
    }
}

fn check(problem: &Problem) -> Result<(), LeakError> {
    let positive = [
        ("density", problem.density),
        ("dynamic viscosity", problem.dynamic_viscosity),
        ("gravity", problem.gravity),
        ("diameter of the main", problem.pipe.diameter),
        ("length of the main", problem.pipe.length),
        ("flow at the start", problem.start.flow),
    ];
    for (what, value) in positive {
        if !(value > 0.0 && value.is_finite()) {
            return Err(LeakError::Impossible { what, value });
        }
    }
    let known = [
        (
            "flow at the end",
            problem.end.flow,
            problem.unknown != Unknown::EndFlow,
        ),
        (
            "distance of the leak",
            problem.distance,
            problem.unknown != Unknown::Distance,
        ),
        ("roughness of the main", problem.pipe.roughness, true),
    ];
    for (what, value, known) in known {
        if known && !(value >= 0.0 && value.is_finite()) {
            return Err(LeakError::Impossible { what, value });
        }
    }
    for (what, value) in [
        ("pressure at the start", problem.start.pressure),
        ("pressure at the end", problem.end.pressure),
        ("elevation of the start", problem.start.elevation),
        ("elevation of the end", problem.end.elevation),
    ] {
        if !value.is_finite() {
            return Err(LeakError::Impossible { what, value });
        }
    }
    Ok(())
}
