//! How careful work on a tank varies beyond its readings, and its slips.

use crate::bank::system::Element as Written;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::path::{Element, StationVelocity};
use crate::hydraulics::regime::Limits;
use crate::hydraulics::tank::{Asked, Problem};
use crate::quantity::Quantity;
use crate::solution::Case;
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

/// Slips in timing a tank.
pub(super) fn slips(case: &TankCase, limits: &Limits) -> Vec<(&'static str, Case)> {
    let mut all = Vec::new();
    let mut add = |name: &'static str, change: &dyn Fn(&mut Problem) -> bool| {
        let mut problem = case.problem.clone();
        if change(&mut problem)
            && let Some(case) = case.changed(problem, limits)
        {
            all.push((name, Case::Tank(Box::new(case))));
        }
    };
    let names: Vec<&str> = (case.system.path.iter())
        .filter_map(|e| match e {
            Written::Loss { name, .. } => Some(name.as_str()),
            _ => None,
        })
        .collect();
    // Losses that count by their name; an opening's own coefficient is no loss of the path.
    let losses = |problem: &mut Problem, by: f64, wanted: &dyn Fn(&str) -> bool| {
        let mut found = false;
        let mut named = names.iter();
        for element in &mut problem.path.elements {
            if let Element::Loss { coefficient, .. } = element
                && named.next().is_some_and(|name| wanted(name))
            {
                *coefficient *= by;
                found = true;
            }
        }
        found
    };
    add("exit loss left out", &|p| {
        losses(p, 0.0, &|name| name.contains("exit"))
    });
    add("exit loss counted twice", &|p| {
        losses(p, 2.0, &|name| name.contains("exit"))
    });
    add("entrance loss left out", &|p| {
        losses(p, 0.0, &|name| name.contains("entrance"))
    });
    add("minor losses left out", &|p| losses(p, 0.0, &|_| true));
    add("velocity head left out", &|p| {
        let moves = p.path.end.velocity != StationVelocity::Value(0.0);
        p.path.end.velocity = StationVelocity::Value(0.0);
        moves && case.system.orifice.is_none()
    });
    add("elevation left out", &|p| match (&p.start, &p.end) {
        (Some(tank), None) => {
            let level = p.path.end.elevation == tank.floor;
            p.path.end.elevation = tank.floor;
            !level
        }
        _ => false,
    });
    let pipes = |problem: &mut Problem, change: &dyn Fn(&mut crate::hydraulics::path::Pipe)| {
        for element in &mut problem.path.elements {
            if let Element::Pipe(pipe) = element {
                change(pipe);
            }
        }
        true
    };
    add("friction left out", &|p| pipes(p, &|pipe| pipe.length = 0.0));
    add("smooth wall for rough", &|p| {
        pipes(p, &|pipe| pipe.roughness = 0.0)
    });
    add("roughness ten times too large", &|p| {
        pipes(p, &|pipe| pipe.roughness *= 10.0)
    });
    add("radius for diameter", &|p| pipes(p, &|pipe| pipe.diameter *= 0.5));
    // The volume over the first flow, as if it never died away.
    let first = case.volume() / case.solved.start.state.flow;
    if let Asked::Time(_) = case.problem.asked
        && first.is_finite()
    {
        let mut wrong = case.clone();
        wrong.solved.value = first;
        wrong.solved.end.time = first;
        all.push(("first flow all the way", Case::Tank(Box::new(wrong))));
        let mut wrong = case.clone();
        wrong.solved.value *= 0.5;
        wrong.solved.end.time *= 0.5;
        wrong.solved.at_first_factor = wrong.solved.at_first_factor.map(|t| 0.5 * t);
        all.push(("two left out of the integral", Case::Tank(Box::new(wrong))));
    }
    all
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
