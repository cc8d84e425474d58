//! The band of careful work, by end points.
//!
//! A case is solved again at every corner of careful work: each turbulent pipe's factor read off the chart too
//! high and too low, each accepted formula in the chart's place, and fully rough flow where its check allows it.
//! What stands between the corners lies between their answers, since answers are monotone in each reading.
//!
//! Rounding comes on top. A careful student may keep three figures of whatever is written down on the way, so
//! each such number (an area, a velocity, a factor, a head, the answer itself where more follows from it) is
//! moved by half a unit of its third figure, and the moves of the answer are added up without regard to sign.
//! The last rounding is half a unit of the last figure asked for, at its relative worst, which is what any
//! unit of the answer can make of it.

use super::working::{Name, Of, Outcome, Turn, Whole, Work, half_unit};
use super::{Accepted, Band, Cause};
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::{Asked, Constraint, Template};
use crate::constants::policy::CARRIED_FIGURES;
use crate::equation::{Bindings, EquationError, Expr, Relation};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::regime::{self, Limits, Regime};
use crate::hydraulics::solve::{SolveError, Unknown};
use crate::quantity::round_to_figures;
use crate::solution::{Answer, Case};

/// Up to this many pipes every corner of independent readings is worked; beyond, all one way and one at a time.
const INDEPENDENT_PIPES: usize = 4;

/// The explicit formulas that a course accepts in place of the chart.
const FORMULAS: [Law; 4] = [Law::Haaland, Law::SwameeJain, Law::Churchill, Law::Serghides];

/// What π taken for 3.14 does to an area.
const SHORT_PI: f64 = 5.1e-4;

/// What each part of a dealt problem accepts.
///
/// # Errors
/// When a problem at one of the end points can't be solved, or careful work can end in the critical zone of a
/// template that does not ask for it.
pub fn bands(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    policy: &Policy,
    _conventions: &Conventions,
) -> Checked<Vec<Accepted>> {
    let work = Work::new(givens, case, policy.limits);
    let tracks: Vec<Tracks> = template
        .parts
        .iter()
        .map(|part| Tracks::of(&part.asked))
        .collect();
    let corners = corners(&work, policy, asks_for_critical(template), &|readings| {
        work.read(readings)
    })?;
    let rounded = rounded(&work, policy.reading_error).map_err(unsolved)?;
    template
        .parts
        .iter()
        .zip(&tracks)
        .map(|(part, tracks)| {
            tracks
                .accept(&work, &part.asked, &corners, &rounded)
                .map_err(|error| {
                    Faults::from(Fault::new(format!(
                        "the answer to `{}` can't be worked out: {}",
                        part.name, error.what
                    )))
                })
        })
        .collect()
}

/// Whether a template's constraints let a pipe be in the critical zone.
pub(crate) fn asks_for_critical(template: &Template) -> bool {
    template.constraints.iter().any(|constraint| match constraint {
        Constraint::Regime { allowed, .. } => allowed.contains(&Regime::Critical),
        Constraint::Holds(_) => false,
    })
}

/// The first constraint of a template that a solved case does not satisfy.
pub(crate) fn broken_constraint(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    policy: &Policy,
) -> Option<usize> {
    let work = Work::new(givens, case, policy.limits);
    let pipes = work.pipes.count();
    template.constraints.iter().position(|constraint| {
        let holds = match constraint {
            Constraint::Regime { pipe, allowed } => (case.solved.state.pipes.iter().enumerate())
                .all(|(i, state)| pipe.is_some_and(|pipe| pipe != i) || allowed.contains(&state.regime)),
            // A bare name of a pipe's result means every pipe.
            Constraint::Holds(comparison) => {
                (0..pipes.max(1)).all(|i| work.holds(comparison, &work.base, Some(i)).unwrap_or(false))
            }
        };
        !holds
    })
}

fn unsolved(error: SolveError) -> Faults {
    let why = match error {
        SolveError::NoFlow { .. } => "there is no flow".to_owned(),
        SolveError::NoSolution { why, .. } | SolveError::Undetermined { why } => why.to_owned(),
        SolveError::OnlyAtJump { .. } => "it crosses only between laminar and turbulent flow".to_owned(),
        SolveError::Impossible { what, value } => format!("{what} of {value}"),
    };
    Fault::new(format!(
        "careful work can end where the problem has no solution: {why}"
    ))
    .into()
}

/// One corner of careful work.
pub(super) struct Corner {
    /// The only cause that is at work, if it is only one.
    cause: Option<Cause>,
    pub(super) outcome: Outcome,
}

/// Works a case at every corner; the first is the reference.
pub(super) fn corners(
    work: &Work<'_>,
    policy: &Policy,
    critical_allowed: bool,
    rework: &dyn Fn(&[Reading]) -> Result<Outcome, SolveError>,
) -> Checked<Vec<Corner>> {
    let pipes = work.pipes.count();
    let r = policy.reading_error;
    let read = |law, factor| Reading { law, factor };
    let solve = |readings: &[Reading]| -> Checked<Outcome> {
        let outcome = rework(readings).map_err(unsolved)?;
        if !critical_allowed {
            settled(&outcome, &work.base)?;
        }
        Ok(outcome)
    };
    let mut corners = vec![Corner {
        cause: None,
        outcome: solve(&vec![Reading::EXACT; pipes])?,
    }];
    let laminar = |i| corners[0].outcome.get(Name::Pipe(Of::Reynolds, i)) < policy.limits.laminar_end;
    if (0..pipes).all(laminar) {
        return Ok(corners);
    }
    for law in FORMULAS {
        corners.push(Corner {
            cause: Some(Cause::Formula),
            outcome: solve(&vec![read(law, 1.0); pipes])?,
        });
    }
    // Fully rough flow counts where a careful reader's own check passes, whichever way the chart is misread.
    let mut rough = vec![false; pipes];
    if let Ok(outcome) = rework(&vec![read(Law::FullyRough, 1.0 + r); pipes]) {
        let slack = 1.0 - 0.5 * libm::pow(10.0, 1.0 - f64::from(CARRIED_FIGURES));
        for (i, rough) in rough.iter_mut().enumerate() {
            *rough = outcome.state.pipes[i].regime != Regime::Laminar
                && outcome.rough_number(i) >= slack * policy.limits.fully_rough_start;
        }
    }
    if rough.contains(&true) {
        let mixed: Vec<_> = (rough.iter())
            .map(|&rough| {
                if rough {
                    read(Law::FullyRough, 1.0)
                } else {
                    Reading::EXACT
                }
            })
            .collect();
        corners.push(Corner {
            cause: Some(Cause::FullyRough),
            outcome: solve(&mixed)?,
        });
    }
    for high in choices(pipes) {
        let of = |law: fn(bool) -> Law| -> Vec<Reading> {
            (high.iter().zip(&rough))
                .map(|(&high, &rough)| read(law(rough), if high { 1.0 + r } else { 1.0 - r }))
                .collect()
        };
        corners.push(Corner {
            cause: Some(Cause::Reading),
            outcome: solve(&of(|_| Law::Colebrook))?,
        });
        if rough.contains(&true) {
            corners.push(Corner {
                cause: None,
                outcome: solve(&of(|rough| if rough { Law::FullyRough } else { Law::Colebrook }))?,
            });
        }
    }
    Ok(corners)
}

/// Which pipes are read too high, in each corner.
fn choices(pipes: usize) -> Vec<Vec<bool>> {
    if pipes <= INDEPENDENT_PIPES {
        return (0..1usize << pipes)
            .map(|bits| (0..pipes).map(|i| bits >> i & 1 == 1).collect())
            .collect();
    }
    let mut all = vec![vec![false; pipes], vec![true; pipes]];
    for odd in 0..pipes {
        all.push((0..pipes).map(|i| i == odd).collect());
        all.push((0..pipes).map(|i| i != odd).collect());
    }
    all
}

fn settled(outcome: &Outcome, base: &Outcome) -> Checked<()> {
    for (now, before) in outcome.state.pipes.iter().zip(&base.state.pipes) {
        let laminar = |regime| regime == Regime::Laminar;
        if now.regime == Regime::Critical || laminar(now.regime) != laminar(before.regime) {
            return Err(Fault::new(
                "careful work can end in the critical zone between laminar and turbulent flow",
            )
            .mend("set the template's constraints so that the Reynolds number keeps away from it")
            .into());
        }
    }
    Ok(())
}

/// Workings in which one thing written down on the way is rounded: up, and down.
pub(super) type Rounded = Vec<(Outcome, Outcome)>;

pub(super) fn rounded(work: &Work<'_>, r: f64) -> Result<Rounded, SolveError> {
    let base = &work.base;
    let pipes = work.pipes.count();
    let share = |value: f64| {
        if value == 0.0 {
            0.0
        } else {
            half_unit(value, r) / value.abs()
        }
    };
    // What depends on givens alone is rounded by an amount that is known.
    let known = |value: f64| {
        [CARRIED_FIGURES, CARRIED_FIGURES + 1]
            .into_iter()
            .map(|figures| (round_to_figures(value, figures) / value - 1.0).abs())
            .fold(0.0, f64::max)
    };
    let viscosity = known(base.get(Name::Whole(Whole::KinematicViscosity)));
    let area = |i: usize| match work.problem.unknown {
        Unknown::Diameter(of) if of == i => share(base.get(Name::Pipe(Of::Area, i))) + SHORT_PI,
        _ => known(base.get(Name::Pipe(Of::Area, i))) + SHORT_PI,
    };
    let mut all = Vec::new();
    let both = |turned: &dyn Fn(f64) -> Result<Outcome, SolveError>| -> Result<_, SolveError> {
        Ok((turned(1.0)?, turned(-1.0)?))
    };
    let flow_unknown = work.problem.unknown == Unknown::Flow;
    for (i, pipe) in base.state.pipes.iter().enumerate() {
        let laminar = pipe.regime == Regime::Laminar;
        let reynolds = share(pipe.reynolds) + viscosity;
        let friction = share(pipe.darcy_friction_factor) + if laminar { reynolds } else { 0.0 };
        all.push(both(&|sign| {
            let mut turn = work.straight();
            turn.readings[i] = if laminar {
                Reading {
                    law: Law::Fixed(pipe.darcy_friction_factor),
                    factor: 1.0 + sign * friction,
                }
            } else {
                Reading {
                    law: Law::Colebrook,
                    factor: 1.0 + sign * friction,
                }
            };
            work.turn(&turn)
        })?);
        all.push(both(&|sign| {
            let mut outcome = base.clone();
            outcome.put(
                Name::Pipe(Of::Reynolds, i),
                pipe.reynolds * (1.0 + sign * viscosity),
            );
            Ok(outcome)
        })?);
        if !flow_unknown && !matches!(work.problem.unknown, Unknown::Diameter(of) if of == i) {
            let velocity = share(pipe.velocity) + area(i);
            let head = share(pipe.velocity * pipe.velocity / (2.0 * base.path.gravity));
            all.push(both(&|sign| {
                let mut turn: Turn = work.straight();
                turn.velocity[i] = 1.0 + sign * velocity;
                turn.velocity_head[i] = 1.0 + sign * head;
                work.turn(&turn)
            })?);
        }
    }
    let gravity = base.path.gravity;
    let weight = base.path.density * gravity;
    let mut heads: f64 = [
        base.state.start.pressure / weight,
        base.state.end.pressure / weight,
        base.state.start.alpha * base.state.start.velocity * base.state.start.velocity / (2.0 * gravity),
        base.state.end.alpha * base.state.end.velocity * base.state.end.velocity / (2.0 * gravity),
    ]
    .into_iter()
    .map(|head| half_unit(head, r))
    .sum();
    let major: f64 = base
        .state
        .pipes
        .iter()
        .map(|p| half_unit(p.major_head_loss, r))
        .sum();
    let minor = half_unit(base.get(Name::Whole(Whole::MinorLoss)), r);
    heads += major + minor;
    if minor > 0.0 || pipes > 1 {
        heads += half_unit(base.state.head_loss, r);
    }
    for head in base.state.pump_heads.iter().chain(&base.state.turbine_heads) {
        heads += half_unit(*head, r);
    }
    all.push(both(&|sign| {
        let mut turn = work.straight();
        turn.head = sign * heads;
        work.turn(&turn)
    })?);
    // Sums of heads that are rounded first.
    all.push(both(&|sign| {
        let mut outcome = base.clone();
        let (of_pipes, of_all) = (Name::Whole(Whole::MajorLoss), Name::Whole(Whole::AllLoss));
        let several = if pipes > 1 { major } else { 0.0 };
        let summed = if minor > 0.0 || pipes > 1 {
            major + minor
        } else {
            0.0
        };
        outcome.put(of_pipes, base.get(of_pipes) + sign * several);
        outcome.put(of_all, base.get(of_all) + sign * summed);
        Ok(outcome)
    })?);
    // What is solved for is written down too before more follows from it.
    let value = share(super::working::value_of(base, work.problem.unknown));
    let unknown = match work.problem.unknown {
        Unknown::Flow => {
            let pipe = |(i, p): (usize, &crate::hydraulics::path::PipeState)| share(p.velocity) + area(i);
            base.state.pipes.iter().enumerate().map(pipe).fold(0.0, f64::max)
        }
        _ => value,
    };
    if matches!(
        work.problem.unknown,
        Unknown::Flow | Unknown::Diameter(_) | Unknown::Length(_) | Unknown::Roughness(_)
    ) {
        all.push(both(&|sign| work.unknown_times(1.0 + sign * unknown))?);
    }
    if let Unknown::Diameter(i) = work.problem.unknown {
        let pipe = &base.state.pipes[i];
        let velocity = share(pipe.velocity) + area(i);
        all.push(both(&|sign| {
            let mut outcome = base.clone();
            for (of, value, power) in [
                (Of::Velocity, pipe.velocity, 1.0),
                (Of::Reynolds, pipe.reynolds, 1.0),
                (Of::HeadLoss, pipe.major_head_loss, 2.0),
            ] {
                outcome.put(Name::Pipe(of, i), value * (1.0 + sign * power * velocity));
            }
            Ok(outcome)
        })?);
    }
    Ok(all)
}

/// The numbers on which an answer hangs.
pub(super) enum Tracks<'a> {
    /// The answer itself.
    Number { formula: &'a Expr, figures: u32 },
    /// The Reynolds number and the rough number of a pipe.
    Regime(usize),
    /// Each comparison's left side less its right.
    Margins(Vec<(&'a Expr, &'a Expr)>),
}

/// One number on which an answer hangs.
enum Track<'a> {
    Formula(&'a Expr),
    Margin(&'a Expr, &'a Expr),
    Reynolds(usize),
    Rough(usize),
}

impl Track<'_> {
    fn value(&self, work: &Work<'_>, of: &Outcome) -> Result<f64, EquationError> {
        Ok(match self {
            Self::Formula(formula) => work.value(formula, of, None)?.value,
            Self::Margin(left, right) => {
                work.value(left, of, None)?.value - work.value(right, of, None)?.value
            }
            Self::Reynolds(i) => of.get(Name::Pipe(Of::Reynolds, *i)),
            Self::Rough(i) => of.rough_number(*i),
        })
    }

    /// Results that are put into the formula as numbers written down before.
    fn written_down(&self, work: &Work<'_>) -> Vec<Name> {
        let names = match self {
            Self::Formula(Expr::Symbol(_)) => return Vec::new(),
            Self::Formula(formula) => formula.symbols(),
            Self::Margin(left, right) => {
                let mut names = left.symbols();
                names.extend(right.symbols());
                names
            }
            Self::Reynolds(_) => return Vec::new(),
            Self::Rough(i) => {
                return [Of::Reynolds, Of::Friction, Of::RelativeRoughness]
                    .map(|of| Name::Pipe(of, *i))
                    .to_vec();
            }
        };
        names
            .iter()
            .filter_map(|name| work.pipes.find(name, None))
            .filter(|name| work.worked_out(*name))
            .collect()
    }

    fn reach(&self, work: &Work<'_>, corners: &[Corner], rounded: &Rounded) -> Result<Reach, EquationError> {
        let reference = self.value(work, &corners[0].outcome)?;
        let mut reach = Reach {
            reference,
            all: (reference, reference),
            alone: [(reference, reference); 3],
            rounding: 0.0,
        };
        for corner in corners {
            let value = self.value(work, &corner.outcome)?;
            widen(&mut reach.all, value);
            match corner.cause {
                Some(Cause::Reading) => widen(&mut reach.alone[0], value),
                Some(Cause::Formula) => widen(&mut reach.alone[1], value),
                Some(Cause::FullyRough) => widen(&mut reach.alone[2], value),
                _ => {}
            }
        }
        for (up, down) in rounded {
            let moved = (self.value(work, up)? - reference).abs();
            reach.rounding += moved.max((self.value(work, down)? - reference).abs());
        }
        let base = &corners[0].outcome;
        for name in self.written_down(work) {
            let value = base.get(name);
            let mut outcome = base.clone();
            outcome.put(name, value + half_unit(value, 0.0));
            reach.rounding += (self.value(work, &outcome)? - reference).abs();
        }
        Ok(reach)
    }
}

/// How far a number reaches, rounding apart.
struct Reach {
    reference: f64,
    all: (f64, f64),
    /// By reading, formula and fully rough flow alone.
    alone: [(f64, f64); 3],
    /// What rounding on the way adds on either side.
    rounding: f64,
}

impl Reach {
    fn with_rounding(&self) -> (f64, f64) {
        (self.all.0 - self.rounding, self.all.1 + self.rounding)
    }
}

fn widen(span: &mut (f64, f64), value: f64) {
    span.0 = span.0.min(value);
    span.1 = span.1.max(value);
}

impl<'a> Tracks<'a> {
    pub(super) fn of(asked: &'a Asked) -> Self {
        match asked {
            Asked::Number { formula, figures, .. } => Self::Number {
                formula,
                figures: *figures,
            },
            Asked::Regime { pipe } => Self::Regime(*pipe),
            Asked::Choice { first_if, .. } => {
                let mut leaves = Vec::new();
                comparisons(first_if, &mut leaves);
                Self::Margins(leaves)
            }
        }
    }

    /// What rounding on the way makes of a number's answer, as a share of it.
    pub(super) fn rounding_share(&self, work: &Work<'_>, rounded: &Rounded) -> Option<f64> {
        let Self::Number { formula, .. } = self else {
            return None;
        };
        let reference = [Corner {
            cause: None,
            outcome: work.base.clone(),
        }];
        let reach = Track::Formula(formula).reach(work, &reference, rounded).ok()?;
        let share = reach.rounding / reach.reference.abs();
        share.is_finite().then_some(share)
    }

    pub(super) fn accept(
        &self,
        work: &Work<'_>,
        asked: &Asked,
        corners: &[Corner],
        rounded: &Rounded,
    ) -> Result<Accepted, EquationError> {
        let reach = |track: Track<'_>| track.reach(work, corners, rounded);
        let base = &corners[0].outcome;
        Ok(match (self, asked) {
            (Self::Number { formula, figures }, _) => {
                let reach = reach(Track::Formula(formula))?;
                Accepted::Number(band(work.value(formula, base, None)?, &reach, *figures))
            }
            (Self::Regime(pipe), _) => {
                let reynolds = reach(Track::Reynolds(*pipe))?;
                let rough = reach(Track::Rough(*pipe))?;
                let first = regime::classify(reynolds.reference, rough.reference, &work.limits);
                let others = regimes(reynolds.with_rounding(), rough.with_rounding(), &work.limits);
                Accepted::OneOf(
                    std::iter::once(first)
                        .chain(others.into_iter().filter(|other| *other != first))
                        .map(Answer::Regime)
                        .collect(),
                )
            }
            (Self::Margins(leaves), Asked::Choice { options, first_if }) => {
                let holds = work.holds(first_if, base, None)?;
                let mut margins = Vec::with_capacity(leaves.len());
                for (left, right) in leaves {
                    margins.push(reach(Track::Margin(left, right))?.with_rounding());
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
            (Self::Margins(_), _) => Accepted::OneOf(Vec::new()),
        })
    }
}

/// The band of a number.
fn band(reference: crate::quantity::Quantity, reach: &Reach, figures: u32) -> Band {
    // A hair more than half a unit, so that a number on the edge is in.
    let last = 0.5 * libm::pow(10.0, 1.0 - f64::from(figures)) * (1.0 + 1e-9);
    let (low, high) = reach.with_rounding();
    let rounding = reach.rounding + reach.reference.abs() * last;
    let [reading, formula, rough] = reach.alone;
    Band {
        reference,
        low: low - low.abs() * last,
        high: high + high.abs() * last,
        causes: vec![
            (Cause::Reading, reading.0, reading.1),
            (Cause::Formula, formula.0, formula.1),
            (Cause::FullyRough, rough.0, rough.1),
            (
                Cause::Rounding,
                reach.reference - rounding,
                reach.reference + rounding,
            ),
        ],
    }
}

/// The regimes that a pipe with these Reynolds and rough numbers can be found in.
fn regimes(reynolds: (f64, f64), rough: (f64, f64), limits: &Limits) -> Vec<Regime> {
    let smooth = |number: f64| regime::roughness_reynolds(number) < limits.smooth_end;
    let turbulent = reynolds.1 >= limits.turbulent_start;
    let full = limits.fully_rough_start;
    [
        (Regime::Laminar, reynolds.0 < limits.laminar_end),
        (
            Regime::Critical,
            reynolds.0 < limits.turbulent_start && reynolds.1 >= limits.laminar_end,
        ),
        (Regime::Smooth, turbulent && smooth(rough.0)),
        (
            Regime::TransitionallyRough,
            turbulent && !smooth(rough.1) && rough.0 < full,
        ),
        (Regime::FullyRough, turbulent && rough.1 >= full),
    ]
    .into_iter()
    .filter_map(|(regime, can)| can.then_some(regime))
    .collect()
}

fn comparisons<'a>(expr: &'a Expr, into: &mut Vec<(&'a Expr, &'a Expr)>) {
    match expr {
        Expr::Compare(left, _, right) => into.push((left, right)),
        Expr::And(a, b) | Expr::Or(a, b) => {
            comparisons(a, into);
            comparisons(b, into);
        }
        _ => {}
    }
}

/// Whether a comparison can hold and whether it can fail, when its sides differ by something in `margins`
/// (in the order of [`comparisons`]).
fn truth(expr: &Expr, margins: &mut dyn Iterator<Item = (f64, f64)>) -> (bool, bool) {
    match expr {
        Expr::Compare(_, relation, _) => {
            let (low, high) = margins.next().unwrap_or((f64::NAN, f64::NAN));
            match relation {
                Relation::Less => (low < 0.0, high >= 0.0),
                Relation::AtMost => (low <= 0.0, high > 0.0),
                Relation::Greater => (high > 0.0, low <= 0.0),
                Relation::AtLeast => (high >= 0.0, low < 0.0),
                Relation::Equal | Relation::About => (low <= 0.0 && high >= 0.0, low < 0.0 || high > 0.0),
                Relation::NotEqual => (low < 0.0 || high > 0.0, low <= 0.0 && high >= 0.0),
            }
        }
        Expr::And(a, b) => {
            let (a, b) = (truth(a, margins), truth(b, margins));
            (a.0 && b.0, a.1 || b.1)
        }
        Expr::Or(a, b) => {
            let (a, b) = (truth(a, margins), truth(b, margins));
            (a.0 || b.0, a.1 && b.1)
        }
        _ => (false, false),
    }
}
