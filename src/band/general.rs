//! Bands, constraints and follow-through of every kind of system but the path.
//!
//! A case is solved again at every corner of careful work: each friction factor read too high and too low, each
//! accepted formula in the chart's place, fully rough flow where its check allows it. Rounding on the way moves
//! each friction factor by half a unit of its third figure, and the answer once by as much at its worst; what a
//! kind needs beyond that it says itself.

use super::careful::{FORMULAS, Reach, asks_for_critical, band, choices, comparisons, regimes, truth, widen};
use super::working::half_unit;
use super::{Accepted, Cause, ageing, leak, meter, network, profile, tank};
use crate::bank::course::Policy;
use crate::bank::template::{Asked, Constraint, Template};
use crate::constants::policy::CARRIED_FIGURES;
use crate::equation::{Bindings, EquationError, Expr};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::regime::{self, Limits, Regime};
use crate::quantity::{Quantity, Unit, Written};
use crate::solution::{Answer, Case, Flowing, Solution, Unsolved};

/// The worst that one rounding to the figures that are carried does to a number \[–\].
fn worst_rounding() -> f64 {
    0.5 * libm::pow(10.0, 1.0 - f64::from(CARRIED_FIGURES))
}

/// A case as formulas see it.
pub(super) struct View<'a> {
    givens: &'a Bindings,
    numbers: Vec<(String, Quantity)>,
    pub(super) flowing: Vec<Flowing>,
    /// For each bare name, the name of that result of each pipe.
    of_pipes: &'a [(String, Vec<String>)],
}

impl<'a> View<'a> {
    pub(super) fn new(givens: &'a Bindings, case: &Case, of_pipes: &'a [(String, Vec<String>)]) -> Self {
        Self {
            givens,
            numbers: case.numbers(),
            flowing: case.flowing(),
            of_pipes,
        }
    }

    /// As results of the working redone have it.
    fn redone(base: &View<'a>, numbers: Vec<(String, Quantity)>) -> Self {
        let mut view = Self {
            givens: base.givens,
            numbers,
            flowing: base.flowing.clone(),
            of_pipes: base.of_pipes,
        };
        let others: Vec<_> = (base.numbers.iter())
            .filter(|(name, _)| !view.numbers.iter().any(|(other, _)| other == name))
            .cloned()
            .collect();
        view.numbers.extend(others);
        for i in 0..view.flowing.len() {
            let of = |name: &str| view.look_up(name, Some(i)).map(|q| q.value);
            let (reynolds, factor) = match (of("Re_1"), of("f_1")) {
                (Some(reynolds), Some(factor)) => (Some(reynolds), Some(factor)),
                _ => (of("Re"), of("f")),
            };
            let relative = of("rr");
            let flowing = &mut view.flowing[i];
            if let Some(reynolds) = reynolds {
                flowing.reynolds = reynolds;
            }
            if let Some(relative) = relative {
                flowing.relative_roughness = relative;
            }
            if let Some(factor) = factor {
                flowing.rough_number = flowing.reynolds * factor.sqrt() * flowing.relative_roughness;
            }
        }
        view
    }

    fn look_up(&self, name: &str, bare: Option<usize>) -> Option<Quantity> {
        let of = |name: &str| self.numbers.iter().find(|(n, _)| n == name).map(|(_, q)| *q);
        of(name)
            .or_else(|| {
                let (_, names) = self.of_pipes.iter().find(|(base, _)| base == name)?;
                of(names.get(bare?)?)
            })
            .or_else(|| self.givens.get(name).map(|bound| bound.quantity))
    }

    pub(super) fn value(&self, formula: &Expr) -> Result<Quantity, EquationError> {
        formula.evaluate_with(&|name| self.look_up(name, None))
    }

    pub(super) fn holds(&self, formula: &Expr, bare: Option<usize>) -> Result<bool, EquationError> {
        formula.holds_with(&|name| self.look_up(name, bare))
    }
}

/// The working of a kind redone in the order in which it is taught, with some results (by name, SI) taken for true in
/// the place of the right ones: what comes before them stays as it is, what follows from them moves. All own
/// results of the kind by name; those of fluid and gravity stand. `None` where what is taken can't be worked with.
fn rework(
    case: &Case,
    taken: &[(String, f64)],
    readings: &[Reading],
    limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    match case {
        Case::Path(_) => None,
        Case::Leak(case) => leak::rework(case, taken, readings, limits),
        Case::Tank(case) => tank::rework(case, taken, readings, limits),
        Case::Meter(case) => meter::rework(case, taken, readings, limits),
        Case::Profile(case) => profile::rework(case, taken, readings, limits),
        Case::Ageing(case) => ageing::rework(case, taken, readings, limits),
        Case::Network(case) => network::rework(case, taken, readings, limits),
    }
}

/// The names of the results that a kind's hand method writes down on the way, in order.
fn written(case: &Case) -> Vec<String> {
    match case {
        Case::Path(_) => Vec::new(),
        Case::Leak(case) => leak::written(case),
        Case::Tank(case) => tank::written(case),
        Case::Meter(case) => meter::written(case),
        Case::Profile(case) => profile::written(case),
        Case::Ageing(case) => ageing::written(case),
        Case::Network(case) => network::written(case),
    }
}

/// For each bare name of a pipe's result, its names by pipe.
pub(super) fn of_pipes(case: &Case) -> Vec<(String, Vec<String>)> {
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    for result in case.system().results() {
        if let Some((base, _)) = result.of_pipe {
            match all.iter_mut().find(|(known, _)| *known == base) {
                Some((_, names)) => names.push(result.name),
                None => all.push((base, vec![result.name])),
            }
        }
    }
    all
}

/// One corner of careful work.
struct Corner<'a> {
    /// The only cause that is at work, if it is only one.
    cause: Option<Cause>,
    view: View<'a>,
}

fn unsolved(unsolved: &Unsolved) -> Faults {
    Fault::new(format!(
        "careful work can end where the problem has no solution: {}",
        unsolved.short
    ))
    .into()
}

/// Works a case at every corner; the first is the reference.
fn corners<'a>(
    case: &Case,
    kind: &dyn Solution,
    givens: &'a Bindings,
    of_pipes: &'a [(String, Vec<String>)],
    policy: &Policy,
    critical_allowed: bool,
) -> Checked<Vec<Corner<'a>>> {
    let base = case.flowing();
    let pipes = base.len();
    let r = policy.reading_error;
    let read = |law, factor| Reading { law, factor };
    let mut corners = vec![Corner {
        cause: None,
        view: View::new(givens, case, of_pipes),
    }];
    if !critical_allowed && base.iter().any(|f| f.regime == Regime::Critical) {
        return Err(settled_fault().into());
    }
    if base.iter().all(|f| f.regime == Regime::Laminar) {
        return Ok(corners);
    }
    let mut add = |cause: Option<Cause>, readings: &[Reading]| -> Checked<()> {
        let case = kind.again(readings, &policy.limits).map_err(|u| unsolved(&u))?;
        let view = View::new(givens, &case, of_pipes);
        let laminar = |f: &Flowing| f.regime == Regime::Laminar;
        let unsettled = (view.flowing.iter().zip(&base))
            .any(|(now, before)| now.regime == Regime::Critical || laminar(now) != laminar(before));
        if unsettled && !critical_allowed {
            return Err(settled_fault().into());
        }
        corners.push(Corner { cause, view });
        Ok(())
    };
    for law in FORMULAS {
        add(Some(Cause::Formula), &vec![read(law, 1.0); pipes])?;
    }
    // Fully rough flow counts where a careful reader's own check passes.
    let slack = 1.0 - worst_rounding();
    let rough: Vec<bool> = base
        .iter()
        .map(|f| {
            f.relative_roughness > 0.0
                && f.regime != Regime::Laminar
                && f.rough_number >= slack * policy.limits.fully_rough_start
        })
        .collect();
    let law = |rough: bool| if rough { Law::FullyRough } else { Law::Colebrook };
    if rough.contains(&true) {
        let mixed: Vec<_> = rough.iter().map(|&rough| read(law(rough), 1.0)).collect();
        add(Some(Cause::FullyRough), &mixed)?;
    }
    for high in choices(pipes) {
        let factor = |high: bool| if high { 1.0 + r } else { 1.0 - r };
        let all = |of: &dyn Fn(bool) -> Law| -> Vec<Reading> {
            (high.iter().zip(&rough))
                .map(|(&high, &rough)| read(of(rough), factor(high)))
                .collect()
        };
        add(Some(Cause::Reading), &all(&|_| Law::Colebrook))?;
        if rough.contains(&true) {
            add(None, &all(&law))?;
        }
    }
    // Each factor is written down with the figures that are carried.
    for (i, _) in base.iter().enumerate() {
        for factor in [1.0 - worst_rounding(), 1.0 + worst_rounding()] {
            let mut readings = vec![Reading::EXACT; pipes];
            readings[i].factor = factor;
            add(Some(Cause::OnTheWay), &readings)?;
        }
    }
    // And so is whatever else the hand method writes down on the way.
    for name in written(case) {
        let Some(value) = corners[0].view.look_up(&name, None).map(|q| q.value) else {
            continue;
        };
        for side in [-1.0, 1.0] {
            let taken = [(name.clone(), value + side * half_unit(value, 0.0))];
            let numbers = rework(case, &taken, &vec![Reading::EXACT; pipes], &policy.limits);
            let view = match numbers {
                Some(numbers) => View::redone(&corners[0].view, numbers),
                None => View::new(givens, case, of_pipes),
            };
            corners.push(Corner {
                cause: Some(Cause::OnTheWay),
                view,
            });
        }
    }
    Ok(corners)
}

fn settled_fault() -> Fault {
    Fault::new("careful work can end in the critical zone between laminar and turbulent flow")
        .mend("set the template's constraints so that the Reynolds number keeps away from it")
}

/// A number on which an answer hangs.
enum Track<'a> {
    Formula(&'a Expr),
    Margin(&'a Expr, &'a Expr),
    Reynolds(usize),
    Rough(usize),
}

impl Track<'_> {
    fn value(&self, view: &View<'_>) -> Result<f64, EquationError> {
        Ok(match self {
            Self::Formula(formula) => view.value(formula)?.value,
            Self::Margin(left, right) => view.value(left)?.value - view.value(right)?.value,
            Self::Reynolds(i) => view.flowing.get(*i).map_or(f64::NAN, |f| f.reynolds),
            Self::Rough(i) => view.flowing.get(*i).map_or(f64::NAN, |f| f.rough_number),
        })
    }

    /// How far it reaches; `slack` is what the kind allows beyond rounding, SI.
    fn reach(&self, corners: &[Corner<'_>], slack: f64) -> Result<Reach, EquationError> {
        let reference = self.value(&corners[0].view)?;
        let mut reach = Reach {
            reference,
            all: (reference, reference),
            alone: [(reference, reference); 3],
            rounding: (slack, slack),
        };
        let mut pairs = Vec::new();
        for corner in corners {
            let value = self.value(&corner.view)?;
            match corner.cause {
                Some(Cause::OnTheWay) => {
                    pairs.push(value - reference);
                    continue;
                }
                Some(Cause::Reading) => widen(&mut reach.alone[0], value),
                Some(Cause::Formula) => widen(&mut reach.alone[1], value),
                Some(Cause::FullyRough) => widen(&mut reach.alone[2], value),
                _ => {}
            }
            widen(&mut reach.all, value);
        }
        for pair in pairs.chunks(2) {
            reach.rounding.0 -= pair.iter().fold(0.0_f64, |low, by| low.min(*by));
            reach.rounding.1 += pair.iter().fold(0.0_f64, |high, by| high.max(*by));
        }
        // Something more is written down before it than factors.
        let once = match self {
            Self::Margin(left, right) => {
                let view = &corners[0].view;
                worst_rounding() * view.value(left)?.value.abs().max(view.value(right)?.value.abs())
            }
            _ => half_unit(reference, 0.0),
        };
        reach.rounding = (reach.rounding.0 + once, reach.rounding.1 + once);
        Ok(reach)
    }
}

fn accept(
    asked: &Asked,
    corners: &[Corner<'_>],
    slack: &dyn Fn(&Expr) -> f64,
    policy: &Policy,
) -> Result<Accepted, EquationError> {
    let base = &corners[0].view;
    Ok(match asked {
        Asked::Number { formula, figures, .. } => {
            let reach = Track::Formula(formula).reach(corners, slack(formula))?;
            Accepted::Number(band(base.value(formula)?, &reach, *figures))
        }
        Asked::Regime { pipe } => {
            let reynolds = Track::Reynolds(*pipe).reach(corners, 0.0)?;
            let rough = Track::Rough(*pipe).reach(corners, 0.0)?;
            let first = regime::classify(reynolds.reference, rough.reference, &policy.limits);
            let others = regimes(reynolds.with_rounding(), rough.with_rounding(), &policy.limits);
            Accepted::OneOf(
                std::iter::once(first)
                    .chain(others.into_iter().filter(|other| *other != first))
                    .map(Answer::Regime)
                    .collect(),
            )
        }
        Asked::Choice { options, first_if } => {
            let holds = base.holds(first_if, None)?;
            let mut leaves = Vec::new();
            comparisons(first_if, &mut leaves);
            let mut margins = Vec::with_capacity(leaves.len());
            for (left, right) in leaves {
                margins.push(Track::Margin(left, right).reach(corners, 0.0)?.with_rounding());
            }
            let (can_hold, can_fail) = truth(first_if, &mut margins.into_iter());
            let [first, second] = options;
            let (is, other) = if holds { (first, second) } else { (second, first) };
            let mut one_of = vec![Answer::Choice(is.clone())];
            if can_hold && can_fail {
                one_of.push(Answer::Choice(other.clone()));
            }
            Accepted::OneOf(one_of)
        }
    })
}

/// What a kind's hand method leaves open beyond readings and rounding, SI: how far `formula`, if it is the name
/// of a result (of a meter: whatever it is), may be off when careful work stops.
fn slack(case: &Case, view: &View<'_>, formula: &Expr) -> f64 {
    match (case, formula) {
        (Case::Meter(case), _) => meter::slack(case, formula, &|name| view.look_up(name, None)),
        (Case::Leak(case), Expr::Symbol(name)) => leak::slack(case, name),
        (Case::Ageing(case), Expr::Symbol(name)) => ageing::slack(case, name),
        (Case::Tank(case), Expr::Symbol(name)) => tank::slack(case, name),
        (Case::Network(case), Expr::Symbol(name)) => network::slack(case, name),
        (Case::Profile(case), Expr::Symbol(name)) => profile::slack(case, name),
        _ => 0.0,
    }
}

pub(super) fn bands(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    kind: &dyn Solution,
    policy: &Policy,
) -> Checked<Vec<Accepted>> {
    let of_pipes = of_pipes(case);
    let corners = corners(case, kind, givens, &of_pipes, policy, asks_for_critical(template))?;
    template
        .parts
        .iter()
        .map(|part| {
            accept(
                &part.asked,
                &corners,
                &|formula| slack(case, &corners[0].view, formula),
                policy,
            )
            .map_err(|error| {
                Faults::from(Fault::new(format!(
                    "the answer to `{}` can't be worked out: {}",
                    part.name, error.what
                )))
            })
        })
        .collect()
}

pub(super) fn broken_constraint(template: &Template, givens: &Bindings, case: &Case) -> Option<usize> {
    let of_pipes = of_pipes(case);
    let view = View::new(givens, case, &of_pipes);
    template.constraints.iter().position(|constraint| {
        let holds = match constraint {
            Constraint::Regime { pipe, allowed } => (view.flowing.iter().enumerate())
                .all(|(i, f)| pipe.is_some_and(|pipe| pipe != i) || allowed.contains(&f.regime)),
            // A bare name of a pipe's result means every pipe.
            Constraint::Holds(comparison) => {
                (0..view.flowing.len().max(1)).all(|i| view.holds(comparison, Some(i)).unwrap_or(false))
            }
        };
        !holds
    })
}

/// Earlier answers stand in a later part's formula in the place of what they answered.
pub(super) fn follow_through(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    kind: &dyn Solution,
    (part, taken): (usize, &[(usize, Quantity)]),
    policy: &Policy,
) -> Option<Accepted> {
    let mut asked = template.parts.get(part)?.asked.clone();
    let mut swapped = false;
    for (earlier, answer) in taken {
        let Asked::Number { formula, .. } = &template.parts[*earlier].asked else {
            continue;
        };
        let unit = Unit {
            dimension: answer.dimension,
            ..Unit::none()
        };
        let number = Expr::Number(Written::from_si(answer.value, &unit, 15));
        let inside = match &mut asked {
            Asked::Number { formula, .. } => Some(formula),
            Asked::Choice { first_if, .. } => Some(first_if),
            Asked::Regime { .. } => None,
        };
        if let Some(inside) = inside {
            swapped |= super::follow::replace(inside, formula, &number);
        }
    }
    if !swapped {
        return None;
    }
    let of_pipes = of_pipes(case);
    let corners = corners(case, kind, givens, &of_pipes, policy, true).ok()?;
    let left_open = |formula: &Expr| slack(case, &corners[0].view, formula);
    accept(&asked, &corners, &left_open, policy).ok()
}
