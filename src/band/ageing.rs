//! How careful work on an ageing pipe varies beyond its readings, and its slips.

use super::working::half_unit;
use crate::hydraulics::ageing::{Problem, Unknown, solve};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::Case;
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
