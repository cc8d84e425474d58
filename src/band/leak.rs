//! How careful work on a leaking main varies beyond its readings.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::leak::Unknown;
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::leak::LeakCase;

/// What three figures in the heads and slopes leave open of a result \[SI\]: the leak is found from small
/// differences of them.
pub(super) fn slack(case: &LeakCase, result: &str) -> f64 {
    let solved = &case.solved;
    let [above, below] = &solved.reaches;
    // Half a unit of the third figure of the head, and of each loss.
    let of = |head: f64| super::working::half_unit(head, 0.0);
    let heads = of(solved.head) + of(above.slope * above.length) + of(below.slope * below.length);
    match (result, case.solved.problem.unknown) {
        ("x", Unknown::Distance) => heads / (above.slope - below.slope).abs(),
        ("Q_2" | "Q_leak", Unknown::EndFlow) => {
            // The loss below the leak goes nearly as the square of the flow.
            0.5 * below.flow * heads / (below.slope * below.length)
        }
        _ => 0.0,
    }
}

/// The working redone from results that are taken for true.
pub(super) fn rework(
    _case: &LeakCase,
    _taken: &[(String, f64)],
    _readings: &[Reading],
    _limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    None
}

/// What the hand method writes down on the way.
pub(super) fn written(_case: &LeakCase) -> Vec<String> {
    Vec::new()
}
