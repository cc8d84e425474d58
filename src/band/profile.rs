//! How careful work on a profile varies beyond its readings, and its slips.

use super::working::half_unit;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::profile::{Drive, Motion, Tube, Unknown, solve};
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::profile::ProfileCase;
use crate::solution::{Case, Solution as _};

/// What a velocity written down with three figures leaves open of a result that is had from it \[SI\].
pub(super) fn slack(case: &ProfileCase, result: &str) -> f64 {
    let velocity = case.solved.state.velocity;
    let share = half_unit(velocity, 0.0) / velocity;
    // Stresses and losses of turbulent flow, and kinetic energy, take the velocity's square.
    let power = match result {
        "tau_w" | "tau_r" | "dp" | "dp_f" | "h" => {
            if case.is_laminar() {
                1.0
            } else {
                2.0
            }
        }
        "dp_k" => 2.0,
        "Q" | "u_max" | "u_r" | "u_tau" | "Re" | "L_e" => 1.0,
        "mu" | "nu" if case.unknown == Unknown::Viscosity => 1.0,
        "L" if case.unknown == Unknown::Length => 1.0,
        _ => 0.0,
    };
    let value = case
        .found()
        .into_iter()
        .find(|found| found.name == result)
        .map(|found| found.si);
    let value = match result {
        "mu" => Some(case.solved.tube.dynamic_viscosity),
        "nu" => Some(case.solved.tube.dynamic_viscosity / case.solved.tube.density),
        _ => value,
    };
    power * share * value.unwrap_or(0.0).abs()
}

/// Slips with a profile.
pub(super) fn slips(case: &ProfileCase, limits: &Limits) -> Vec<(&'static str, Case)> {
    let mut all = Vec::new();
    let tube = case.solved.tube;
    let mut add = |name: &'static str, change: &dyn Fn(&mut Tube)| {
        let mut problem = case.problem();
        change(&mut problem.tube);
        if let Ok(solved) = solve(&problem, Reading::EXACT, limits) {
            all.push((name, Case::Profile(Box::new(case.with(solved)))));
        }
    };
    if let (Motion::Centre(centre), true) = (tube.motion, case.unknown != Unknown::Motion) {
        add("centre-line velocity taken for the mean", &|t| {
            t.motion = Motion::Mean(centre);
        });
    }
    if tube.end_correction > 0.0 || tube.kinetic_correction > 0.0 {
        add("corrections of the capillary left out", &|t| {
            t.end_correction = 0.0;
            t.kinetic_correction = 0.0;
        });
    }
    if tube.radius.is_some() {
        add("diameter for radius in the profile", &|t| {
            t.radius = t.radius.map(|r| 0.5 * r);
        });
    }
    if case.unknown != Unknown::Diameter {
        add("radius for diameter", &|t| {
            t.diameter *= 0.5;
            t.radius = t.radius.filter(|r| *r <= 0.5 * t.diameter);
        });
    }
    if !matches!(tube.drive, Drive::WallShear(_)) {
        // The stress alone is wrong: τ = Δp D/L with the quarter left at a half.
        let mut solved = case.solved.clone();
        solved.state.wall_shear *= 2.0;
        solved.state.friction_velocity *= std::f64::consts::SQRT_2;
        if let Some(local) = &mut solved.state.local {
            local.shear *= 2.0;
        }
        all.push((
            "shear stress with the diameter for the radius",
            Case::Profile(Box::new(case.with(solved))),
        ));
    }
    all
}

/// The working redone from results that are taken for true.
pub(super) fn rework(
    _case: &ProfileCase,
    _taken: &[(String, f64)],
    _readings: &[Reading],
    _limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    None
}

/// What the hand method writes down on the way.
pub(super) fn written(_case: &ProfileCase) -> Vec<String> {
    Vec::new()
}
