//! Slips with an ageing pipe.

use crate::hydraulics::ageing::{Problem, Unknown, solve};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::regime::Limits;
use crate::solution::Case;
use crate::solution::ageing::AgeingCase;

/// Slips with an ageing pipe.
pub(super) fn slips(case: &AgeingCase, limits: &Limits) -> Vec<(&'static str, Case)> {
    let mut all = Vec::new();
    let mut add = |name: &'static str, change: &dyn Fn(&mut Problem)| {
        let mut problem = case.solved.problem.clone();
        match problem.unknown {
            Unknown::New => problem.new_roughness = f64::NAN,
            Unknown::Growth => problem.growth = f64::NAN,
            Unknown::Age => problem.age = f64::NAN,
            Unknown::HeadLoss => problem.head_loss = f64::NAN,
        }
        change(&mut problem);
        if let Ok(solved) = solve(&problem, [Reading::EXACT; 2], limits) {
            all.push((
                name,
                Case::Ageing(Box::new(AgeingCase {
                    solved,
                    ..case.clone()
                })),
            ));
        }
    };
    if case.solved.problem.unknown != Unknown::New {
        add("roughness of the new pipe left out", &|p| p.new_roughness = 0.0);
    }
    add("radius for diameter", &|p| p.diameter *= 0.5);
    add("diameter for radius in the area", &|p| p.flow *= 0.25);
    all
}
