//! How careful work on a tank varies beyond its readings.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::regime::Limits;
use crate::hydraulics::tank::Asked;
use crate::quantity::Quantity;
use crate::solution::tank::TankCase;

/// What the hand method leaves open of a result \[SI\]: the friction factor held as it is at the start, which
/// the closed form asks for, instead of followed.
pub(super) fn slack(case: &TankCase, result: &str) -> f64 {
    let Some(held) = case.solved.at_first_factor else {
        return 0.0;
    };
    match (result, case.problem.asked) {
        ("t", Asked::Time(_)) | ("h_2", Asked::Level(_)) => (held - case.solved.value).abs(),
        // The time goes nearly as the power -5/2 of the bore.
        (name, Asked::Diameter { time, .. }) if name.starts_with('D') || name == "d" => {
            0.4 * case.solved.value * (held / time - 1.0).abs()
        }
        _ => 0.0,
    }
}

/// The working redone from results that are taken for true.
pub(super) fn rework(
    _case: &TankCase,
    _taken: &[(String, f64)],
    _readings: &[Reading],
    _limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    None
}

/// What the hand method writes down on the way.
pub(super) fn written(_case: &TankCase) -> Vec<String> {
    Vec::new()
}
