//! Working redone from a student's own earlier answers.
//!
//! An earlier answer stands for a result: a part that asks for `V` gives a velocity, one that asks for
//! `p_1 - p_2` a pressure at the start. The case is then worked again with that result in the place of the true
//! one, in the order in which it is taught: velocity, Reynolds number, friction factor, heads, power.

use super::Accepted;
use super::careful::{Tracks, Ways, asked_formulas, at_a_station, otherwise};
use super::kept::{
    Half, Moved, Number, Place, TOGETHER, exponent, half_between, kept_over_vapour, known_by_itself,
    nth_pump, over_vapour, ratio_to_the_known, spends,
};
use super::working::{Name, Of, OfSize, Outcome, Whole, Work};
use crate::bank::course::Policy;
use crate::bank::template::{Asked, Template};
use crate::constants::policy::CARRIED_FIGURES;
use crate::equation::{Bindings, Expr};
use crate::hydraulics::friction::{Law, Reading, darcy_of};
use crate::hydraulics::path::{Element, LossLaw, Path};
use crate::hydraulics::solve::{self, Problem, SolveError, Unknown};
use crate::quantity::{Quantity, Unit, Written};
use crate::solution::{Answer, PathCase};
use std::sync::Arc;

/// See [`super::follow_through`].
pub(super) fn follow_through(
    template: &Template,
    givens: &Bindings,
    case: &PathCase,
    part: usize,
    own: &[Option<Answer>],
    policy: &Policy,
) -> Option<Accepted> {
    let mut work = Work::new(givens, case, policy.limits);
    work.ask(asked_formulas(template));
    let mut asked = template.parts.get(part)?.asked.clone();
    let mut taken = Vec::new();
    let mut swapped = false;
    for earlier in taken_from(template, part, own) {
        let (Asked::Number { formula, .. }, Some(Some(Answer::Number(answer)))) =
            (&template.parts[earlier].asked, own.get(earlier))
        else {
            continue;
        };
        if !answer.value.is_finite() {
            continue;
        }
        if let Some(result) = result_of(&work, formula, answer.value) {
            taken.push(result);
        } else if !matches!(formula, Expr::Symbol(_)) {
            swapped |= swap(&mut asked, formula, answer);
        }
    }
    if taken.is_empty() && !swapped {
        return None;
    }
    if taken
        .iter()
        .any(|(name, value)| must_be_positive(*name) && *value <= 0.0)
    {
        return None;
    }
    let tracks = Tracks::of(&asked);
    let ways = Ways {
        policy,
        critical_allowed: true,
        otherwise: otherwise(case, policy),
        rework: &|work, readings| rework(work, &taken, readings),
        moved: &|work, corners, all| moved(work, &taken, corners, all),
    };
    let worked = ways.work_out(work, std::slice::from_ref(&tracks)).ok()?;
    tracks.accept(&worked, &asked).ok()
}

/// The working from what is taken, with each thing that is written down after it moved by half a unit.
fn moved(
    work: &Work<'_>,
    taken: &[(Name, f64)],
    corners: &[&Outcome],
    all: bool,
) -> Result<Vec<Moved>, SolveError> {
    if !all {
        return Ok(Vec::new());
    }
    let exact = vec![Reading::EXACT; work.pipes.count()];
    let right = rework(work, taken, &exact)?;
    let mut found = Vec::new();
    let mut names: Vec<Name> = taken.iter().map(|(name, _)| *name).collect();
    for name in written(work) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    for name in names {
        let value = right.get(name);
        if value == 0.0 || !value.is_finite() {
            continue;
        }
        // A number taken from the student may have been carried on with more figures than it was answered with.
        let unit = work.units(exponent(name))[0];
        let mut span = (value.abs() / unit, value.abs() / unit);
        for corner in corners {
            super::careful::widen(&mut span, corner.get(name).abs() / unit);
        }
        let Half { share, large } = half_between(value / unit, span);
        let handed_in = find(taken, name).is_some();
        // It may have been handed in in a unit of any size.
        let worst = 0.5 * libm::pow(10.0, 1.0 - f64::from(CARRIED_FIGURES));
        let by = if handed_in { worst } else { share } * value.abs();
        let turned = |by: f64| -> Result<Outcome, SolveError> {
            let mut with = taken.to_vec();
            match with.iter_mut().find(|(known, _)| *known == name) {
                Some((_, taken)) => *taken = value + by,
                None => with.push((name, value + by)),
            }
            rework(work, &with, &exact)
        };
        // Where half a unit is too much for a number to be, nothing follows from it.
        if let (Ok(one), Ok(other)) = (turned(-by), turned(by)) {
            found.push(Moved::Free {
                ends: [one, other],
                large: if handed_in { 1.0 } else { large },
                written: 1.0,
                handed_in,
                // How an answer itself is kept is counted with it.
                of: Some(name),
                asked: None,
            });
        }
    }
    found.extend(nameless(work, taken, &right, &exact));
    Ok(found)
}

/// What is written down on the way and has no name of its own, as far as something after it is not taken: the kinematic
/// viscosity before a Reynolds number, velocity heads before losses, pressures as heads before a machine's head, a ratio
/// of speeds, the area of a nominal bore.
fn nameless(work: &Work<'_>, taken: &[(Name, f64)], right: &Outcome, exact: &[Reading]) -> Vec<Moved> {
    let is_taken = |name: Name| find(taken, name).is_some();
    // The case with these results so many times as large.
    let times = |names: &[Name], by: f64| -> Option<Outcome> {
        let mut with = taken.to_vec();
        with.extend(names.iter().map(|name| (*name, right.get(*name) * (1.0 + by))));
        rework(work, &with, exact).ok()
    };
    let mut found = Vec::new();
    let mut free = |names: &[Name], share: f64| {
        let names: Vec<Name> = names.iter().copied().filter(|name| !is_taken(*name)).collect();
        if names.is_empty() || !share.is_finite() || share == 0.0 {
            return;
        }
        if let (Some(one), Some(other)) = (times(&names, -share), times(&names, share)) {
            found.push(Moved::Free {
                ends: [one, other],
                large: 1.0,
                written: 1.0,
                handed_in: false,
                of: None,
                asked: None,
            });
        }
    };
    let share_in = |value: f64, power: u32| {
        let value = (value / work.units(power)[0]).abs();
        half_between(value, (value, value)).share
    };
    let (weight, gravity) = (
        work.base.path.density * work.base.path.gravity,
        work.base.path.gravity,
    );
    let lengths: Vec<Name> = (0..work.pipes.count())
        .map(|i| Name::Pipe(Of::HeadLoss, i))
        .collect();
    let mut losses = lengths;
    losses.push(Name::Whole(Whole::MinorLoss));
    losses.retain(|name| right.get(*name) != 0.0);
    if !spends(work.problem.unknown) {
        let velocity = right.get(Name::Pipe(Of::Velocity, 0));
        free(&losses, share_in(velocity * velocity / (2.0 * gravity), 1));
    }
    for name in [Whole::PumpHead, Whole::TurbineHead].map(Name::Whole) {
        let head = right.get(name);
        if head == 0.0 || !head.is_finite() || is_taken(name) {
            continue;
        }
        let of = |whole: Whole| right.get(Name::Whole(whole));
        for part in [
            (of(Whole::StartPressure) - of(Whole::EndPressure)) / weight,
            of(Whole::StartVelocity) * of(Whole::StartVelocity) / (2.0 * gravity),
            of(Whole::EndVelocity) * of(Whole::EndVelocity) / (2.0 * gravity),
        ] {
            if part != 0.0 {
                free(&[name], (part / head).abs() * share_in(part, 1));
            }
        }
    }
    if let Some((name, ratio)) = ratio_to_the_known(work) {
        let own = (ratio * right.get(name) / work.base.get(name)).abs();
        free(&[name], half_between(own, (own, own)).share);
    }
    let nu = work.base.get(Name::Whole(Whole::KinematicViscosity));
    for i in 0..work.pipes.count() {
        let name = Name::Pipe(Of::Reynolds, i);
        if !is_taken(name) {
            found.extend(known(nu, work.units(2)[0], |by| {
                times(&[name], 1.0 / (1.0 + by) - 1.0)
            }));
        }
    }
    // What a pump's inlet has: the head of the air over the vapour's, from givens alone, less what is lost before it.
    for i in 0..right.state.pumps.len() {
        let Some(over) = over_vapour(&right.path) else {
            continue;
        };
        let name = Name::Machine("NPSH_a", nth_pump(&right.path, i));
        let available = right.get(name);
        if !available.is_finite() || is_taken(name) {
            continue;
        }
        let put = |by: f64| {
            let mut outcome = right.clone();
            outcome.put(name, available + by);
            outcome
        };
        let unit = work.units(1)[0];
        let lots = kept_over_vapour(over, unit);
        found.extend(from_lots(lots, |by| Some(put(by * (over.0 - over.1)))));
        let lost = over.0 - over.1 - available;
        let by = share_in(lost, 1) * lost.abs();
        if by > 0.0 && by.is_finite() {
            found.push(Moved::Free {
                ends: [put(-by), put(by)],
                large: 1.0,
                written: 1.0,
                handed_in: false,
                of: None,
                asked: None,
            });
        }
    }
    let velocity = Name::Size(OfSize::Velocity);
    let bore = right.get(Name::Size(OfSize::Bore));
    if bore.is_finite() && !is_taken(velocity) {
        let put = |by: f64| {
            let mut outcome = right.clone();
            outcome.put(velocity, right.get(velocity) * (1.0 + by));
            Some(outcome)
        };
        let area = std::f64::consts::FRAC_PI_4 * bore * bore;
        found.extend(known(area, work.units(2)[0], |by| put(1.0 / (1.0 + by) - 1.0)));
        if !is_taken(Name::Size(OfSize::Bore)) {
            let unit = work.units(1)[0];
            found.extend(known(bore, unit, |by| put(1.0 / ((1.0 + by) * (1.0 + by)) - 1.0)));
        }
    }
    found
}

/// A number had from givens alone, which those who follow may write down.
fn known(value: f64, unit: f64, turned: impl Fn(f64) -> Option<Outcome>) -> Option<Moved> {
    let lots = known_by_itself(value, unit).map(|lot| {
        let place = |(kept, share): (f64, f64)| {
            let mut at = [0.0; TOGETHER];
            at[0] = kept / value - 1.0;
            (at, share)
        };
        lot.into_iter().map(place).collect::<Vec<_>>()
    });
    from_lots(lots, turned)
}

/// The same, of which it is known by which shares it is off.
fn from_lots(lots: [Vec<Place>; 3], turned: impl Fn(f64) -> Option<Outcome>) -> Option<Moved> {
    let far = (lots.iter().flatten())
        .map(|(at, _)| at[0].abs())
        .fold(0.0, f64::max);
    if far == 0.0 || !far.is_finite() {
        return None;
    }
    Some(Moved::Known {
        numbers: vec![Number {
            before: 0,
            after: 0,
            name: None,
            tried: [(-far, turned(-far)?), (far, turned(far)?)],
        }],
        lots,
    })
}

/// What the method writes down on the way.
fn written(work: &Work<'_>) -> Vec<Name> {
    let mut all = Vec::new();
    for of in [Of::Area, Of::Velocity, Of::Reynolds, Of::Friction] {
        all.extend((0..work.pipes.count()).map(|i| Name::Pipe(of, i)));
    }
    if let Unknown::Diameter(i) = work.problem.unknown {
        all.push(Name::Pipe(Of::Diameter, i));
    }
    if !spends(work.problem.unknown) {
        all.extend((0..work.pipes.count()).map(|i| Name::Pipe(Of::HeadLoss, i)));
        all.push(Name::Whole(Whole::MinorLoss));
    }
    let heads = [
        Whole::AllLoss,
        Whole::PumpHead,
        Whole::TurbineHead,
        Whole::PumpPower,
        Whole::TurbinePower,
    ];
    all.extend(heads.map(Name::Whole));
    all
}

/// The earlier numbers that are to be taken from the student, with their parts.
pub(super) fn numbers_taken(
    template: &Template,
    part: usize,
    own: &[Option<Answer>],
) -> Vec<(usize, Quantity)> {
    let number = |earlier: usize| match own.get(earlier) {
        Some(Some(Answer::Number(answer))) if answer.value.is_finite() => Some((earlier, *answer)),
        _ => None,
    };
    if part >= template.parts.len() {
        return Vec::new();
    }
    taken_from(template, part, own)
        .into_iter()
        .filter_map(number)
        .collect()
}

/// The nearest earlier parts along the declared links that are to be taken from the student.
fn taken_from(template: &Template, part: usize, own: &[Option<Answer>]) -> Vec<usize> {
    let mut seen = vec![false; template.parts.len()];
    let mut open = template.parts[part].builds_on.clone();
    let mut taken = Vec::new();
    while let Some(next) = open.pop() {
        if next >= seen.len() || std::mem::replace(&mut seen[next], true) {
            continue;
        }
        if own.get(next).is_some_and(Option::is_some) {
            taken.push(next);
        } else {
            open.extend(&template.parts[next].builds_on);
        }
    }
    taken.sort_unstable();
    taken
}

fn must_be_positive(name: Name) -> bool {
    matches!(
        name,
        Name::Pipe(
            Of::Diameter | Of::Length | Of::Area | Of::Velocity | Of::Reynolds | Of::Friction | Of::HeadLoss,
            _
        ) | Name::Whole(Whole::Flow)
    )
}

/// The one result that an answer to `formula` settles, and its value.
fn result_of(work: &Work<'_>, formula: &Expr, answer: f64) -> Option<(Name, f64)> {
    if let Expr::Symbol(name) = formula {
        return Some((work.pipes.find(name, None)?, answer));
    }
    let fixed_bore = |i: usize| work.problem.unknown != Unknown::Diameter(i);
    let mut open = formula
        .symbols()
        .into_iter()
        .filter_map(|name| work.pipes.find(&name, None))
        .filter(|name| match name {
            Name::Pipe(Of::Area | Of::Perimeter | Of::RelativeRoughness, i) if fixed_bore(*i) => false,
            Name::Pipe(Of::LaminarConstant, _) => false,
            Name::Whole(Whole::KinematicViscosity) => false,
            name => work.worked_out(*name),
        });
    let name = match (open.next(), open.next()) {
        (Some(name), None) => name,
        // A head of what is given stands for a pressure or a height that would make it right.
        (None, _) => (formula.symbols().into_iter())
            .filter_map(|name| work.pipes.find(&name, None))
            .find(|name| at_a_station(*name))?,
        _ => return None,
    };
    let found = settled_by(work.base.get(name), answer, |value| {
        let mut outcome = work.base.clone();
        outcome.put(name, value);
        work.value(formula, &outcome, None).ok().map(|found| found.value)
    });
    found.map(|value| (name, value))
}

/// The value with which `of` gives `answer`, begun at the right one; by secants, which are exact where `of` is a straight line
/// and quick elsewhere.
pub(super) fn settled_by(right: f64, answer: f64, of: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let off = |value: f64| of(value).map(|found| found - answer);
    let mut before = right;
    let mut now = if before == 0.0 { 1.0 } else { before * 1.01 };
    let (mut off_before, mut off_now) = (off(before)?, off(now)?);
    for _ in 0..60 {
        if off_now.abs() <= 1e-10 * answer.abs() {
            return Some(now);
        }
        let next = now - off_now * (now - before) / (off_now - off_before);
        if !next.is_finite() {
            return None;
        }
        (before, off_before) = (now, off_now);
        now = next;
        off_now = off(now)?;
    }
    None
}

/// Puts an answer wherever what it answers stands in what is asked; says whether it stood anywhere.
pub(super) fn swap(asked: &mut Asked, formula: &Expr, answer: &Quantity) -> bool {
    let unit = Unit {
        dimension: answer.dimension,
        ..Unit::none()
    };
    let number = Expr::Number(Written::from_si(answer.value, &unit, 15));
    match asked {
        Asked::Number { formula: inside, .. } | Asked::Choice { first_if: inside, .. } => {
            replace(inside, formula, &number)
        }
        Asked::Regime { .. } => false,
    }
}

/// Puts `with` wherever `what` stands in `expr`; says whether it stood anywhere.
fn replace(expr: &mut Expr, what: &Expr, with: &Expr) -> bool {
    if expr == what {
        *expr = with.clone();
        return true;
    }
    match expr {
        Expr::Negative(a) => replace(a, what, with),
        Expr::Add(a, b)
        | Expr::Subtract(a, b)
        | Expr::Multiply(a, b)
        | Expr::Divide(a, b)
        | Expr::Power(a, b)
        | Expr::Compare(a, _, b)
        | Expr::And(a, b)
        | Expr::Or(a, b) => replace(a, what, with) | replace(b, what, with),
        Expr::Call(_, of) => of.iter_mut().fold(false, |any, e| replace(e, what, with) | any),
        _ => false,
    }
}

/// The case worked with some results taken for true.
pub(super) fn rework(
    work: &Work<'_>,
    taken: &[(Name, f64)],
    readings: &[Reading],
) -> Result<Outcome, SolveError> {
    let of_pipe = |of: Of, i: usize| find(taken, Name::Pipe(of, i));
    let of_whole = |whole: Whole| find(taken, Name::Whole(whole));
    let pipes = work.pipes.count();
    let base = &work.base;
    let mut problem = work.problem.clone();
    let mut turn = work.straight();
    turn.readings = readings.to_vec();

    // Pipes as the student has them.
    let mut solved_for_is_taken = false;
    for i in 0..pipes {
        let unknown = work.problem.unknown;
        solved_for_is_taken |= (unknown == Unknown::Diameter(i) && of_pipe(Of::Diameter, i).is_some())
            || (unknown == Unknown::Length(i) && of_pipe(Of::Length, i).is_some())
            || (unknown == Unknown::Roughness(i) && of_pipe(Of::Roughness, i).is_some());
        if let Some(pipe) = problem.path.pipe_mut(i) {
            if let Some(diameter) = of_pipe(Of::Diameter, i) {
                // A duct's area does not hang on its hydraulic diameter.
                if !pipe.section.is_round() {
                    let shrunk = pipe.diameter / diameter;
                    pipe.section.area_factor *= shrunk * shrunk;
                }
                pipe.diameter = diameter;
            }
            if let Some(length) = of_pipe(Of::Length, i) {
                pipe.length = length;
            }
            if let Some(roughness) = of_pipe(Of::Roughness, i) {
                pipe.roughness = roughness;
            }
            if let Some(relative) = of_pipe(Of::RelativeRoughness, i) {
                pipe.roughness = relative * pipe.diameter;
            }
        }
    }

    // Pressures and heights of stations that a head of what is given was had from.
    let Path { start, end, .. } = &mut problem.path;
    for (whole, given) in [
        (Whole::StartPressure, &mut start.pressure),
        (Whole::EndPressure, &mut end.pressure),
        (Whole::StartElevation, &mut start.elevation),
        (Whole::EndElevation, &mut end.elevation),
    ] {
        if let Some(own) = of_whole(whole).filter(|_| !work.worked_out(Name::Whole(whole))) {
            *given = own;
        }
    }

    // Loss coefficients that are worked out.
    let losses = problem.path.elements.iter_mut().filter_map(|e| match e {
        Element::Loss { coefficient, law, .. } => Some((coefficient, law)),
        _ => None,
    });
    for (n, (coefficient, law)) in losses.enumerate() {
        if let Some(own) = find(taken, Name::LossCoefficient(n)) {
            (*coefficient, *law) = (own, LossLaw::Fixed);
        }
    }

    // Velocities. What passes each of several equal pumps says what passes all.
    let flow_unknown = work.problem.unknown == Unknown::Flow;
    let each = Name::Machine("Q_P", 0);
    let of_each = find(taken, each).map(|own| own * base.state.flow / base.get(each));
    let mut flow = of_each.filter(|flow| flow.is_finite()).or(of_whole(Whole::Flow));
    // After a bore that is sought comes its velocity, which the bore doesn't hang on.
    let sought = match work.problem.unknown {
        Unknown::Diameter(i) => Some(i),
        _ => None,
    };
    let mut after = None;
    for i in 0..pipes {
        let speed = match (of_pipe(Of::Velocity, i), of_pipe(Of::Area, i)) {
            (Some(velocity), _) => velocity / base.get(Name::Pipe(Of::Velocity, i)),
            (None, Some(area)) if !flow_unknown => base.get(Name::Pipe(Of::Area, i)) / area,
            _ => continue,
        };
        if flow_unknown {
            flow = flow.or(Some(base.state.flow * speed));
        } else if sought == Some(i) {
            after = Some(speed * base.get(Name::Pipe(Of::Velocity, i)));
        } else {
            turn.velocity[i] = speed;
        }
    }
    if !flow_unknown && let Some(flow) = flow {
        problem.flow = flow;
    }
    // A Reynolds number goes as the velocity and the bore, whichever of them are taken.
    let numbers: Vec<f64> = (0..pipes)
        .map(|i| {
            let wider =
                of_pipe(Of::Diameter, i).map_or(1.0, |own| own / base.get(Name::Pipe(Of::Diameter, i)));
            base.get(Name::Pipe(Of::Reynolds, i)) * turn.velocity[i] * wider
        })
        .collect();

    // Friction factors: the student's, or what follows from the student's Reynolds number.
    for (i, reading) in turn.readings.iter_mut().enumerate() {
        if let Some(factor) = of_pipe(Of::Friction, i) {
            *reading = Reading {
                law: Law::Fixed(factor),
                factor: 1.0,
            };
            continue;
        }
        if sought == Some(i) {
            continue;
        }
        let moved = turn.velocity[i] != 1.0;
        let reynolds = of_pipe(Of::Reynolds, i).or_else(|| moved.then(|| numbers[i]));
        if let Some(reynolds) = reynolds {
            let relative = of_pipe(Of::RelativeRoughness, i)
                .or_else(|| {
                    problem
                        .path
                        .pipe_mut(i)
                        .map(|pipe| pipe.roughness / pipe.diameter)
                })
                .filter(|relative| relative.is_finite())
                .unwrap_or_else(|| base.get(Name::Pipe(Of::RelativeRoughness, i)));
            let section = base.section(i);
            *reading = Reading {
                law: Law::Fixed(darcy_of(&section, *reading, reynolds, relative, &work.limits)),
                factor: 1.0,
            };
        }
    }

    // The energy equation.
    let again = |problem: &Problem, head: f64| -> Result<Outcome, SolveError> {
        if flow_unknown && let Some(flow) = flow {
            let state = solve::state(&problem.path, flow, &turn.readings, &work.limits)?;
            return Ok(Outcome {
                path: Arc::new(problem.path.clone()),
                state: Arc::new(state),
                instead: Vec::new(),
                sized: work.base.sized,
            });
        }
        if solved_for_is_taken {
            let state = solve::state(&problem.path, problem.flow, &turn.readings, &work.limits)?;
            let mut outcome = Outcome {
                path: Arc::new(problem.path.clone()),
                state: Arc::new(state),
                instead: Vec::new(),
                sized: work.base.sized,
            };
            for (i, speed) in turn
                .velocity
                .iter()
                .enumerate()
                .filter(|(_, speed)| **speed != 1.0)
            {
                put_velocity(&mut outcome, i, speed * base.get(Name::Pipe(Of::Velocity, i)));
            }
            return Ok(outcome);
        }
        let mut turn = turn.clone();
        turn.head = head;
        work.turn_of(problem, &turn)
    };
    let put_heads = |outcome: &mut Outcome| {
        for (name, value) in taken {
            if matches!(
                name,
                Name::Pipe(Of::HeadLoss, _)
                    | Name::LossHead(_)
                    | Name::Whole(Whole::MajorLoss | Whole::MinorLoss | Whole::AllLoss)
            ) {
                outcome.put(*name, *value);
            }
        }
    };
    let mut found_at_start = 0.0;
    let mut outcome = again(&problem, found_at_start)?;
    let lost = outcome.get(Name::Whole(Whole::AllLoss));
    let mut with_heads = outcome.clone();
    put_heads(&mut with_heads);
    let more = with_heads.get(Name::Whole(Whole::AllLoss)) - lost;
    if more != 0.0 {
        // Where the losses settle the unknown they are what there is to spend; else they are what it must meet.
        let to_spend = spends(work.problem.unknown);
        found_at_start = if to_spend { more } else { -more };
        outcome = again(&problem, found_at_start)?;
        put_heads(&mut outcome);
    }
    // A pump's speed or impeller is what gives the head that the student asks of it.
    if matches!(work.problem.unknown, Unknown::PumpSpeed(_) | Unknown::PumpTrim(_))
        && let Some(head) = of_whole(Whole::PumpHead)
    {
        found_at_start += outcome.get(Name::Whole(Whole::PumpHead)) - head;
        outcome = again(&problem, found_at_start)?;
    }
    for (i, reynolds) in numbers.into_iter().enumerate() {
        if turn.velocity[i] != 1.0 {
            outcome.put(Name::Pipe(Of::Reynolds, i), reynolds);
        }
    }
    if let Some(i) = sought {
        after_the_bore(work, &mut outcome, (i, readings[i]), taken, after);
    }
    for (name, value) in taken {
        outcome.put(*name, *value);
    }
    for i in 0..pipes {
        if flow_unknown
            && of_whole(Whole::Flow).is_none()
            && let Some(area) = of_pipe(Of::Area, i)
        {
            let flow = outcome.get(Name::Pipe(Of::Velocity, i)) * area;
            outcome.put(Name::Whole(Whole::Flow), flow);
        }
    }
    Ok(outcome)
}

/// Reynolds number and factor after a bore that was sought and its velocity, each from the ones before it.
fn after_the_bore(
    work: &Work<'_>,
    outcome: &mut Outcome,
    (i, reading): (usize, Reading),
    taken: &[(Name, f64)],
    velocity: Option<f64>,
) {
    let own = |of: Of| Name::Pipe(of, i);
    let state = &outcome.state.pipes[i];
    let (factor, relative) = (state.darcy_friction_factor, state.relative_roughness);
    let number = velocity.map(|velocity| state.reynolds * velocity / state.velocity);
    // What there is to spend has settled the bore.
    let spent = outcome.get(Name::Whole(Whole::AllLoss));
    outcome.put(Name::Whole(Whole::AllLoss), spent);
    if let Some(velocity) = velocity {
        put_velocity(outcome, i, velocity);
    }
    let Some(number) = find(taken, own(Of::Reynolds)).or(number) else {
        return;
    };
    outcome.put(own(Of::Reynolds), number);
    if find(taken, own(Of::Friction)).is_none() {
        let now = darcy_of(&outcome.section(i), reading, number, relative, &work.limits);
        let lost = outcome.get(own(Of::HeadLoss)) * now / factor;
        outcome.put(own(Of::Friction), now);
        outcome.put(own(Of::HeadLoss), lost);
    }
}

/// A velocity in the place of the state's, with the losses that go as its square.
fn put_velocity(outcome: &mut Outcome, pipe: usize, velocity: f64) {
    let state = &outcome.state.pipes[pipe];
    let (times, lost) = (velocity / state.velocity, state.major_head_loss);
    let squared = times * times;
    let losses: Vec<usize> = (outcome.path.elements.iter())
        .filter_map(|element| match element {
            Element::Loss { pipe, .. } => Some(*pipe),
            _ => None,
        })
        .collect();
    outcome.put(Name::Pipe(Of::Velocity, pipe), velocity);
    outcome.put(Name::Pipe(Of::HeadLoss, pipe), lost * squared);
    for (n, of) in losses.into_iter().enumerate() {
        if of == pipe
            && let Some(lost) = outcome.state.minor_head_losses.get(n)
        {
            outcome.put(Name::LossHead(n), lost * squared);
        }
    }
}

fn find(taken: &[(Name, f64)], name: Name) -> Option<f64> {
    taken.iter().find(|(n, _)| *n == name).map(|(_, value)| *value)
}
