//! Slips in finding a leak.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::leak::{Problem, Unknown, solve};
use crate::hydraulics::regime::Limits;
use crate::solution::Case;
use crate::solution::leak::LeakCase;

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
