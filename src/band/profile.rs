//! How careful work on a profile varies beyond its readings.

use super::working::half_unit;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::profile::Unknown;
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::Solution as _;
use crate::solution::profile::ProfileCase;

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
