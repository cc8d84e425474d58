//! How careful work on a leaking main varies beyond its readings, and its slips.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::leak::{Problem, Unknown, solve};
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::Case;
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

/// Slips in finding a leak.
pub(super) fn slips(case: &LeakCase, limits: &Limits) -> Vec<(&'static str, Case)> {
    let mut all = Vec::new();
    let mut add = |name: &'static str, change: &dyn Fn(&mut Problem)| {
        let mut problem = case.solved.problem.clone();
        change(&mut problem);
        match problem.unknown {
            Unknown::Distance => problem.distance = f64::NAN,
            Unknown::EndFlow => problem.end.flow = f64::NAN,
        }
        if let Ok(solved) = solve(&problem, [Reading::EXACT; 2], limits) {
            let case = LeakCase {
                solved,
                ..case.clone()
            };
            all.push((name, Case::Leak(Box::new(case))));
        }
    };
    add("elevation left out", &|p| {
        p.end.elevation = p.start.elevation;
    });
    add("sign of elevation", &|p| {
        std::mem::swap(&mut p.start.elevation, &mut p.end.elevation);
    });
    add("smooth wall for rough", &|p| p.pipe.roughness = 0.0);
    add("roughness ten times too large", &|p| p.pipe.roughness *= 10.0);
    add("radius for diameter", &|p| p.pipe.diameter *= 0.5);
    all
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
