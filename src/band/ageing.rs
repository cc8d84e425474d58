//! How careful work on an ageing pipe varies beyond its readings.

use super::working::half_unit;
use crate::hydraulics::ageing::Unknown;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::ageing::AgeingCase;

/// What three figures of the roughness leave open of a result that is had from a difference of two \[SI\].
pub(super) fn slack(case: &AgeingCase, result: &str) -> f64 {
    let problem = &case.solved.problem;
    let of = half_unit(case.solved.roughness, 0.0);
    match (result, problem.unknown) {
        ("growth", Unknown::Growth) => of / problem.age,
        ("t_test", Unknown::Age) => of / problem.growth,
        ("eps_new", Unknown::New) => of,
        _ => 0.0,
    }
}

/// The working redone from results that are taken for true.
pub(super) fn rework(
    _case: &AgeingCase,
    _taken: &[(String, f64)],
    _readings: &[Reading],
    _limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    None
}

/// What the hand method writes down on the way.
pub(super) fn written(_case: &AgeingCase) -> Vec<String> {
    Vec::new()
}
