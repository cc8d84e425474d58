//! Slips in timing a tank.

use crate::bank::system::Element as Written;
use crate::hydraulics::path::{Element, Pipe, StationVelocity};
use crate::hydraulics::regime::Limits;
use crate::hydraulics::tank::{Asked, Problem};
use crate::solution::Case;
use crate::solution::tank::TankCase;

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
    let pipes = |problem: &mut Problem, change: &dyn Fn(&mut Pipe)| {
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
