//! The band of careful work, by end points.
//!
//! A case is solved again at every corner of careful work: each turbulent pipe's factor read off the chart too
//! high and too low by what the chart allows there, each accepted formula in the chart's place, and fully rough flow
//! where its check allows it; and that with the fluid's properties as printed and from a common table, with gravity as
//! stated and with the other usual values. Answers are monotone in each reading, so that what stands between the corners
//! lies between their answers; where a number turns back between its ends (a pump's power), the turning point is sought
//! and is one more corner.
//!
//! Rounding comes on top: what is written down on the way moves the answer, and so does how the answer itself is kept
//! (`kept.rs`); moves are put together as `rounding.rs` says. The last rounding is half a unit of the last figure asked
//! for, at its relative worst, which is what any unit of the answer can make of it.

use super::figures::worst;
use super::kept::{Half, Moved, TOGETHER, half_between, known_by_itself, moved};
use super::otherwise::{Otherwise, Way};
use super::reading::{formulas, misreading};
use super::rounding::Rounding;
use super::spread::{Free, Had, HandedIn, Known, Lot, Spread, Taken, Through, gathered, slope_alike};
use super::working::{Name, Of, Outcome, Whole, Work};
use super::{Accepted, Band, Cause};
use crate::bank::course::Policy;
use crate::bank::template::{Asked, Constraint, Template};
use crate::constants::policy::{
    ANOTHER_GRAVITY, AT_THE_END, BEYOND, BEYOND_FOR_WORDS, CARRIED_FIGURES, FROM_A_TABLE, READ_ALIKE,
    READ_THE_CHART, STOP_WHEN_ROUGH,
};
use crate::equation::{Bindings, EquationError, Expr, Relation};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::regime::{self, Limits, Regime};
use crate::hydraulics::solve::SolveError;
use crate::solution::{Answer, PathCase};

/// Up to this many pipes every corner of independent readings is worked; beyond, all one way and one at a time.
const INDEPENDENT_PIPES: usize = 4;

/// See [`super::bands`].
pub(super) fn bands(
    template: &Template,
    givens: &Bindings,
    case: &PathCase,
    policy: &Policy,
) -> Checked<Vec<Accepted>> {
    let tracks: Vec<Tracks> = template
        .parts
        .iter()
        .map(|part| Tracks::of(&part.asked))
        .collect();
    let way = Ways {
        policy,
        critical_allowed: asks_for_critical(template),
        otherwise: otherwise(case, policy),
        rework: &|work, readings| work.read(readings),
        moved: &moved,
    };
    let mut work = Work::new(givens, case, policy.limits);
    work.ask(asked_formulas(template));
    let worked = way.work_out(work, &tracks)?;
    template
        .parts
        .iter()
        .zip(&tracks)
        .map(|(part, tracks)| {
            tracks.accept(&worked, &part.asked).map_err(|error| {
                Faults::from(Fault::new(format!(
                    "the answer to `{}` can't be worked out: {}",
                    part.name, error.what
                )))
            })
        })
        .collect()
}

/// The formulas that a template's parts ask for, with the units asked \[SI units\].
pub(super) fn asked_formulas(template: &Template) -> impl Iterator<Item = (&Expr, f64)> {
    template.parts.iter().filter_map(|part| match &part.asked {
        Asked::Number { formula, unit, .. } => Some((formula, unit.factor)),
        _ => None,
    })
}

/// What else than the paper's a path's fluid and gravity may be taken for.
pub(super) fn otherwise(case: &PathCase, policy: &Policy) -> Vec<Way> {
    let system = &case.system;
    Otherwise::of(&system.fluid, &case.fluid, &system.gravity, policy).ways()
}

/// Whether a template's constraints let a pipe be in the critical zone.
pub(crate) fn asks_for_critical(template: &Template) -> bool {
    template.constraints.iter().any(|constraint| match constraint {
        Constraint::Regime { allowed, .. } => allowed.contains(&Regime::Critical),
        Constraint::Holds(_) => false,
    })
}

/// See [`super::broken_constraint`].
pub(super) fn broken_constraint(
    template: &Template,
    givens: &Bindings,
    case: &PathCase,
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
        SolveError::OffCurve { .. } => "a pump would run at a flow off its curve".to_owned(),
        SolveError::Impossible { what, value } => format!("{what} of {value}"),
    };
    Fault::new(format!(
        "careful work can end where the problem has no solution: {why}"
    ))
    .into()
}

/// One corner of careful work.
pub(super) struct Corner {
    plan: Plan,
    outcome: Outcome,
}

/// How a corner is reached: the factors as they are had.
#[derive(Debug, Clone)]
struct Plan {
    /// The only cause that is at work, if it is only one.
    cause: Option<Cause>,
    readings: Vec<Reading>,
    /// By which part of what may be each pipe is misread, where it is.
    misread: Vec<f64>,
    /// Whether flow is taken as fully rough where it may be.
    rough: bool,
}

impl Plan {
    /// The part by which every pipe alike is misread.
    fn along(&self) -> Option<f64> {
        let first = *self.misread.first()?;
        self.misread.iter().all(|part| *part == first).then_some(first)
    }
}

/// A case worked at its corners with the fluid and gravity taken one way.
pub(super) struct Worked<'a> {
    /// `None`: as the paper has them.
    way: Option<Way>,
    work: Work<'a>,
    /// The first has every factor right.
    corners: Vec<Corner>,
    moved: Vec<Moved>,
    /// The rough number that counts as fully rough.
    fully_rough: f64,
}

/// How a case is worked with other readings.
type Rework<'r> = dyn Fn(&Work<'_>, &[Reading]) -> Result<Outcome, SolveError> + 'r;
/// What is written down on the way, moved; see [`moved`].
type Movements<'r> = dyn Fn(&Work<'_>, &[&Outcome], bool) -> Result<Vec<Moved>, SolveError> + 'r;

/// The ways in which careful work goes.
pub(super) struct Ways<'r> {
    pub(super) policy: &'r Policy,
    pub(super) critical_allowed: bool,
    pub(super) otherwise: Vec<Way>,
    pub(super) rework: &'r Rework<'r>,
    pub(super) moved: &'r Movements<'r>,
}

impl Ways<'_> {
    /// Works a case at every corner that these numbers lean to; the first is the paper's, at all its corners.
    pub(super) fn work_out<'a>(&self, mut work: Work<'a>, tracks: &[Tracks<'_>]) -> Checked<Vec<Worked<'a>>> {
        let pipes = work.pipes.count();
        let exact = Plan {
            cause: None,
            readings: vec![Reading::EXACT; pipes],
            misread: Vec::new(),
            rough: false,
        };
        let right = self.solve(&work, &exact)?;
        let allowances: Vec<f64> = (0..pipes)
            .map(|i| {
                let of = |of: Of| right.outcome.get(Name::Pipe(of, i));
                misreading(self.policy, of(Of::Reynolds), of(Of::RelativeRoughness))
            })
            .collect();
        for (level, allowance) in work.level.iter_mut().zip(&allowances) {
            if *allowance > 0.0 {
                *level = self.policy.reading_error / allowance;
            }
        }
        let mut plans = self.plans(&work, &right.outcome, &allowances);
        let mut corners = vec![right];
        for plan in &plans {
            corners.push(self.solve(&work, plan)?);
        }
        plans.insert(0, exact);
        let each: Vec<Track<'_>> = tracks.iter().flat_map(Tracks::each).collect();
        self.turning_points(&work, &each, &allowances, &mut plans, &mut corners)?;
        let outcomes: Vec<&Outcome> = corners.iter().map(|corner| &corner.outcome).collect();
        let movements = (self.moved)(&work, &outcomes, true).map_err(unsolved)?;
        let mut all = vec![Worked {
            way: None,
            work,
            corners,
            moved: movements,
            fully_rough: self.fully_rough(),
        }];
        let leaned = leaned(&all[0], &each);
        for way in &self.otherwise {
            let work = all[0].work.taken(way).map_err(unsolved)?;
            let mut corners = Vec::with_capacity(leaned.len());
            for corner in &leaned {
                corners.push(self.solve(&work, &plans[*corner])?);
            }
            let movements = (self.moved)(&work, &[], false).map_err(unsolved)?;
            all.push(Worked {
                way: Some(*way),
                work,
                corners,
                moved: movements,
                fully_rough: self.fully_rough(),
            });
        }
        Ok(all)
    }

    fn solve(&self, work: &Work<'_>, plan: &Plan) -> Checked<Corner> {
        let outcome = (self.rework)(work, &plan.readings).map_err(unsolved)?;
        if !self.critical_allowed {
            settled(&outcome, &work.base)?;
        }
        Ok(Corner {
            plan: plan.clone(),
            outcome,
        })
    }

    /// The corners but the first.
    fn plans(&self, work: &Work<'_>, right: &Outcome, allowances: &[f64]) -> Vec<Plan> {
        let pipes = work.pipes.count();
        let policy = self.policy;
        let mut plans = Vec::new();
        let laminar = |i| right.get(Name::Pipe(Of::Reynolds, i)) < policy.limits.laminar_end;
        if (0..pipes).all(laminar) {
            return plans;
        }
        for &law in formulas(policy) {
            plans.push(Plan {
                cause: Some(Cause::Formula),
                readings: vec![Reading { law, factor: 1.0 }; pipes],
                misread: Vec::new(),
                rough: false,
            });
        }
        let rough = self.may_be_rough(work);
        if rough.contains(&true) {
            plans.push(Plan {
                cause: Some(Cause::FullyRough),
                readings: (rough.iter()).map(|&rough| read(rough, 1.0)).collect(),
                misread: Vec::new(),
                rough: true,
            });
        }
        for high in choices(pipes) {
            let misread: Vec<f64> = high.iter().map(|high| if *high { 1.0 } else { -1.0 }).collect();
            let all = |rough: &dyn Fn(usize) -> bool| -> Vec<Reading> {
                (0..pipes)
                    .map(|i| {
                        let level = rough(i);
                        let most = if level {
                            policy.reading_error
                        } else {
                            allowances[i]
                        };
                        read(level, 1.0 + misread[i] * most)
                    })
                    .collect()
            };
            plans.push(Plan {
                cause: Some(Cause::Reading),
                readings: all(&|_| false),
                misread: misread.clone(),
                rough: false,
            });
            if rough.contains(&true) {
                plans.push(Plan {
                    cause: None,
                    readings: all(&|i| rough[i]),
                    misread: misread.clone(),
                    rough: true,
                });
            }
        }
        plans
    }

    /// Which pipes may count as fully rough: where a careful reader's own check passes, whichever way the chart's
    /// level part is misread.
    fn may_be_rough(&self, work: &Work<'_>) -> Vec<bool> {
        let pipes = work.pipes.count();
        let walled: Vec<bool> = (0..pipes)
            .map(|i| work.base.get(Name::Pipe(Of::Roughness, i)) > 0.0)
            .collect();
        let guess: Vec<_> = (walled.iter())
            .map(|&walled| {
                read(
                    walled,
                    if walled {
                        1.0 + self.policy.reading_error
                    } else {
                        1.0
                    },
                )
            })
            .collect();
        let Ok(outcome) = (self.rework)(work, &guess) else {
            return vec![false; pipes];
        };
        (0..pipes)
            .map(|i| {
                walled[i]
                    && outcome.state.pipes[i].regime != Regime::Laminar
                    && outcome.rough_number(i) >= self.fully_rough()
            })
            .collect()
    }

    /// The rough number from which careful work can find flow fully rough, rounded as it may be.
    fn fully_rough(&self) -> f64 {
        let slack = 1.0 - worst(CARRIED_FIGURES);
        slack * self.policy.limits.fully_rough_start
    }

    /// Adds a corner wherever a number turns back between all factors read too low and all read too high.
    fn turning_points(
        &self,
        work: &Work<'_>,
        tracks: &[Track<'_>],
        allowances: &[f64],
        plans: &mut Vec<Plan>,
        corners: &mut Vec<Corner>,
    ) -> Checked<()> {
        let reading: Vec<usize> = (0..plans.len())
            .filter(|i| plans[*i].cause == Some(Cause::Reading))
            .collect();
        let all = |high: bool| {
            (reading.iter().copied()).find(|i| {
                plans[*i]
                    .readings
                    .iter()
                    .all(|reading| (reading.factor > 1.0) == high)
            })
        };
        let (Some(low), Some(high)) = (all(false), all(true)) else {
            return Ok(());
        };
        for track in tracks {
            let value = |corner: &Corner| track.value(work, &corner.outcome).unwrap_or(f64::NAN);
            let mut seen = vec![
                (-1.0, value(&corners[low])),
                (0.0, value(&corners[0])),
                (1.0, value(&corners[high])),
            ];
            for _ in 0..TURNS {
                let Some(at) = turning(&seen) else { break };
                let plan = Plan {
                    cause: Some(Cause::Reading),
                    readings: allowances.iter().map(|by| read(false, 1.0 + at * by)).collect(),
                    misread: vec![at; allowances.len()],
                    rough: false,
                };
                let corner = self.solve(work, &plan)?;
                let found = (at, value(&corner));
                plans.push(plan);
                corners.push(corner);
                if seen.iter().any(|known| (known.0 - at).abs() < 1e-3) {
                    break;
                }
                seen.push(found);
                seen.sort_by(|a, b| a.0.total_cmp(&b.0));
            }
        }
        Ok(())
    }
}

/// How often a turning point is sought more closely.
const TURNS: usize = 3;
/// A number that turns back by less than this share of itself does not count as turning.
const TURNS_BY: f64 = 1e-6;

/// Where the parabola through the extreme point and its neighbours turns, if it turns inside and beyond what is
/// seen; points in the order of their places.
fn turning(seen: &[(f64, f64)]) -> Option<f64> {
    if seen.iter().any(|(_, value)| !value.is_finite()) {
        return None;
    }
    let size = seen
        .iter()
        .fold(0.0_f64, |most, (_, value)| most.max(value.abs()));
    let ends = (seen.first()?, seen.last()?);
    for sign in [1.0, -1.0] {
        let (best, _) = (seen.iter().enumerate()).fold((0, f64::NEG_INFINITY), |most, (i, point)| {
            let value = sign * point.1;
            if value > most.1 { (i, value) } else { most }
        });
        let middle = best.clamp(1, seen.len() - 2);
        let [a, b, c] = [seen[middle - 1], seen[middle], seen[middle + 1]];
        let (rise, fall) = ((b.1 - a.1) / (b.0 - a.0), (c.1 - b.1) / (c.0 - b.0));
        let bend = (fall - rise) / (c.0 - a.0);
        if bend * sign >= 0.0 {
            continue;
        }
        // Newton's form: y = y_a + rise (t - a) + bend (t - a)(t - b).
        let at = 0.5 * (a.0 + b.0) - 0.5 * rise / bend;
        let top = a.1 + rise * (at - a.0) + bend * (at - a.0) * (at - b.0);
        let beyond = sign * top - sign * seen[best].1;
        if at > ends.0.0 && at < ends.1.0 && at > a.0 && at < c.0 && beyond > TURNS_BY * size {
            return Some(at);
        }
    }
    None
}

fn read(rough: bool, factor: f64) -> Reading {
    let law = if rough { Law::FullyRough } else { Law::Colebrook };
    Reading { law, factor }
}

/// The corners at which any of these numbers is lowest or highest, and the first.
fn leaned(worked: &Worked<'_>, tracks: &[Track<'_>]) -> Vec<usize> {
    let mut leaned = vec![0];
    for track in tracks {
        let (mut low, mut high) = ((0, f64::INFINITY), (0, f64::NEG_INFINITY));
        for (i, corner) in worked.corners.iter().enumerate() {
            let value = track.value(&worked.work, &corner.outcome).unwrap_or(f64::NAN);
            if value < low.1 {
                low = (i, value);
            }
            if value > high.1 {
                high = (i, value);
            }
        }
        leaned.extend([low.0, high.0]);
    }
    leaned.sort_unstable();
    leaned.dedup();
    leaned
}

/// Which pipes are read too high, in each corner.
pub(super) fn choices(pipes: usize) -> Vec<Vec<bool>> {
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
            .mend("keep the Reynolds number away from it; a template does so by its constraints")
            .into());
        }
    }
    Ok(())
}

/// The numbers on which an answer hangs.
pub(super) enum Tracks<'a> {
    /// The answer itself; `unit` is that asked for \[SI units\].
    Number {
        formula: &'a Expr,
        unit: f64,
        figures: u32,
    },
    /// The Reynolds number and the rough number of a pipe.
    Regime(usize),
    /// Each comparison's left side less its right.
    Margins(Vec<(&'a Expr, &'a Expr)>),
}

/// One number on which an answer hangs.
enum Track<'a> {
    /// What is answered: a formula, and the unit in which it is written down \[SI units\].
    Formula(&'a Expr, f64),
    Margin(&'a Expr, &'a Expr),
    Reynolds(usize),
    Rough(usize),
}

impl Track<'_> {
    fn value(&self, work: &Work<'_>, of: &Outcome) -> Result<f64, EquationError> {
        Ok(match self {
            Self::Formula(formula, _) => work.value(formula, of, None)?.value,
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
            Self::Formula(Expr::Symbol(_), _) | Self::Reynolds(_) => return Vec::new(),
            Self::Formula(formula, _) => formula.symbols(),
            Self::Margin(left, right) => {
                let mut names = left.symbols();
                names.extend(right.symbols());
                names
            }
            Self::Rough(i) => {
                return [Of::Reynolds, Of::Friction, Of::RelativeRoughness]
                    .map(|of| Name::Pipe(of, *i))
                    .to_vec();
            }
        };
        names
            .iter()
            .filter_map(|name| work.pipes.find(name, None))
            .filter(|name| work.worked_out(*name) && !at_a_station(*name))
            .collect()
    }

    /// The result that it is, where it is one.
    fn name(&self, work: &Work<'_>) -> Option<Name> {
        match self {
            Self::Formula(Expr::Symbol(name), _) => work.pipes.find(name, None),
            Self::Reynolds(i) => Some(Name::Pipe(Of::Reynolds, *i)),
            _ => None,
        }
    }

    /// Whether it is worked out, rather than given.
    fn is_worked_out(&self, work: &Work<'_>) -> bool {
        match self {
            Self::Formula(formula, _) => (formula.symbols().into_iter())
                .filter_map(|name| work.pipes.find(&name, None))
                .any(|name| work.worked_out(name)),
            _ => true,
        }
    }

    /// How readers and users of formulas have the factors, as moves of the number.
    fn factors(&self, worked: &Worked<'_>, reference: f64) -> Result<Vec<Had>, EquationError> {
        let work = &worked.work;
        let mut by = Vec::with_capacity(worked.corners.len());
        for corner in &worked.corners {
            by.push(self.value(work, &corner.outcome)? - reference);
        }
        let corners = || worked.corners.iter().zip(&by);
        let mut all = Vec::new();
        if worked.corners.len() == 1 {
            return Ok(all);
        }
        let mut at = |share: f64, by: f64| {
            all.push(Had {
                share,
                even: vec![(by, by)],
            });
        };
        // By formula; a fifth of them by that of Colebrook and White.
        let laws = corners()
            .filter(|(corner, _)| corner.plan.cause == Some(Cause::Formula))
            .count();
        let each = (1.0 - READ_THE_CHART) / (laws + 1) as f64;
        let rough_number = |outcome: &Outcome| {
            let numbers = (0..work.pipes.count()).filter(|i| {
                let rough =
                    |corner: &Corner| corner.plan.rough && corner.plan.readings[*i].law == Law::FullyRough;
                worked.corners.iter().any(rough)
            });
            numbers
                .map(|i| outcome.rough_number(i))
                .fold(f64::INFINITY, f64::min)
        };
        let passes = |outcome: &Outcome| rough_number(outcome) >= worked.fully_rough;
        let stop = corners()
            .find(|(corner, _)| corner.plan.cause == Some(Cause::FullyRough) && passes(&corner.outcome));
        let stopping = if stop.is_some() { STOP_WHEN_ROUGH } else { 0.0 };
        at(each * (1.0 - stopping), 0.0);
        for (_, by) in corners().filter(|(corner, _)| corner.plan.cause == Some(Cause::Formula)) {
            at(each * (1.0 - stopping), *by);
        }
        if let Some((_, by)) = stop {
            at((1.0 - READ_THE_CHART) * stopping, *by);
        }
        // By the chart: all pipes alike, from one end of what may be to the other, where the number may turn back.
        let along = |rough: bool| {
            let mut places: Vec<(f64, f64, f64)> = corners()
                .filter(|(corner, _)| corner.plan.rough == rough)
                .filter_map(|(corner, by)| {
                    let at = match corner.plan.cause {
                        Some(Cause::Formula) => None,
                        _ if corner.plan.misread.is_empty() => Some(0.0),
                        _ => corner.plan.along(),
                    }?;
                    Some((at, *by, rough_number(&corner.outcome)))
                })
                .collect();
            places.sort_by(|a, b| a.0.total_cmp(&b.0));
            places
        };
        let pipes = work.pipes.count();
        let alike = if pipes == 1 { 1.0 } else { READ_ALIKE };
        let rough = along(true);
        // Of those who would stop where the flow is fully rough, the ones whose own check lets them.
        let mut stopped = 0.0;
        if rough.len() > 1 {
            for pair in rough.windows(2) {
                let (mut one, mut other) = (pair[0], pair[1]);
                let need = worked.fully_rough;
                match (one.2 >= need, other.2 >= need) {
                    (false, false) => continue,
                    (true, true) => {}
                    (passes, _) => {
                        let part = (need - one.2) / (other.2 - one.2);
                        let edge = (
                            one.0 + part * (other.0 - one.0),
                            one.1 + part * (other.1 - one.1),
                            need,
                        );
                        if passes { other = edge } else { one = edge }
                    }
                }
                let share = 0.5 * (other.0 - one.0) * (1.0 - AT_THE_END) * STOP_WHEN_ROUGH;
                stopped += share;
                all.push(Had {
                    share: READ_THE_CHART * share,
                    even: vec![(one.1.min(other.1), one.1.max(other.1))],
                });
            }
            for end in [rough[0], rough[rough.len() - 1]] {
                if end.2 >= worked.fully_rough {
                    let share = 0.5 * AT_THE_END * STOP_WHEN_ROUGH;
                    stopped += share;
                    all.push(Had {
                        share: READ_THE_CHART * share,
                        even: vec![(end.1, end.1)],
                    });
                }
            }
        }
        let read = READ_THE_CHART * (1.0 - stopped);
        let exact = along(false);
        for pair in exact.windows(2) {
            let share = 0.5 * (pair[1].0 - pair[0].0) * (1.0 - AT_THE_END);
            all.push(Had {
                share: read * alike * share,
                even: vec![(pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1))],
            });
        }
        for end in [exact.first(), exact.last()].into_iter().flatten() {
            all.push(Had {
                share: read * alike * 0.5 * AT_THE_END,
                even: vec![(end.1, end.1)],
            });
        }
        if alike < 1.0 {
            // Each pipe by itself: at the ends of all, or anywhere between those of each.
            let ends: Vec<(&Plan, f64)> = corners()
                .filter(|(corner, _)| corner.plan.cause == Some(Cause::Reading))
                .map(|(corner, by)| (&corner.plan, *by))
                .filter(|(plan, _)| plan.misread.iter().all(|part| part.abs() == 1.0))
                .collect();
            let count = ends.len() as f64;
            let middle = ends.iter().map(|(_, by)| by).sum::<f64>() / count;
            let mut even = vec![(middle, middle)];
            for pipe in 0..pipes {
                // Its own part in the differences of ends that differ in it.
                let half = ends.iter().map(|(plan, by)| plan.misread[pipe] * by).sum::<f64>() / count;
                even.push((-half.abs(), half.abs()));
            }
            all.push(Had {
                share: read * (1.0 - alike) * (1.0 - AT_THE_END),
                even,
            });
            for (_, by) in &ends {
                all.push(Had {
                    share: read * (1.0 - alike) * AT_THE_END / count,
                    even: vec![(*by, *by)],
                });
            }
        }
        Ok(all)
    }

    /// How far an outcome moves the number, beyond what it moves with an earlier answer, where it comes through one.
    fn beyond<'w>(
        &'w self,
        worked: &'w Worked<'_>,
        reference: f64,
        earlier: Option<&'w Earlier<'_>>,
    ) -> Result<impl Fn(&Outcome) -> Result<f64, EquationError> + 'w, EquationError> {
        let work = &worked.work;
        let of_earlier = match earlier {
            Some(earlier) => earlier.track.value(work, &worked.corners[0].outcome)?,
            None => 0.0,
        };
        Ok(move |outcome: &Outcome| {
            let by = self.value(work, outcome)? - reference;
            Ok(match earlier {
                Some(earlier) => by - earlier.slope * (earlier.track.value(work, outcome)? - of_earlier),
                None => by,
            })
        })
    }

    /// What is had from givens alone, with the fluid and gravity taken one way, as moves of the number
    /// beyond what it moves with an earlier answer, where it comes through one.
    fn known(
        &self,
        worked: &Worked<'_>,
        reference: f64,
        earlier: Option<&Earlier<'_>>,
    ) -> Result<Vec<Known>, EquationError> {
        let work = &worked.work;
        let base = &worked.corners[0].outcome;
        let own = self.name(work);
        let beyond = self.beyond(worked, reference, earlier)?;
        let mut all = Vec::new();
        let mut counted = Vec::new();
        for moved in &worked.moved {
            match moved {
                Moved::Known { numbers, lots } => {
                    let mut slopes = [(0.0, 0.0); TOGETHER];
                    let mut any = false;
                    for number in numbers {
                        counted.extend(number.name);
                        let [(low, one), (high, other)] = &number.tried;
                        if earlier.is_some_and(|earlier| number.name.is_some() && earlier.name == number.name)
                        {
                            continue;
                        }
                        let (below, above) = (beyond(one)? / low, beyond(other)? / high);
                        let place = if number.name.is_some() && number.name == own {
                            number.before
                        } else {
                            number.after
                        };
                        slopes[place].0 += below;
                        slopes[place].1 += above;
                        any |= below.abs().max(above.abs()) > 1e-6 * reference.abs();
                    }
                    if !any {
                        continue;
                    }
                    let lot = |places: &[([f64; TOGETHER], f64)]| -> Lot {
                        let moves = places.iter().map(|(shares, of)| {
                            let by: f64 = (shares.iter().zip(&slopes))
                                .map(|(share, slope)| share * if *share < 0.0 { slope.0 } else { slope.1 })
                                .sum();
                            (by, *of)
                        });
                        gathered(moves.collect())
                    };
                    all.push(Known {
                        three: lot(&lots[0]),
                        four: lot(&lots[1]),
                        mixed: lot(&lots[2]),
                    });
                }
                // One in two each.
                Moved::Method(ends) => {
                    let mut lot: Lot = Vec::new();
                    for end in ends {
                        lot.push((beyond(end)?, 0.5));
                    }
                    all.push(Known {
                        three: lot.clone(),
                        four: lot.clone(),
                        mixed: lot,
                    });
                }
                Moved::Free { .. } => {}
            }
        }
        for name in self.written_down(work) {
            if counted.contains(&name) || !work.is_from_givens(name) {
                continue;
            }
            let value = base.get(name);
            let lots = known_by_itself(value, work.units(super::kept::exponent(name))[0]);
            let mut all_lots = Vec::new();
            for lot in lots {
                let mut moves: Lot = Vec::new();
                for (kept, share) in lot {
                    let mut outcome = base.clone();
                    outcome.put(name, kept);
                    moves.push((self.value(work, &outcome)? - reference, share));
                }
                all_lots.push(moves);
            }
            if let Ok([three, four, mixed]) = <[Lot; 3]>::try_from(all_lots) {
                all.push(Known { three, four, mixed });
            }
        }
        if let Self::Formula(Expr::Add(one, other) | Expr::Subtract(one, other), _) = self
            && !self.is_worked_out(work)
        {
            // Of a sum of givens each term that is worked out, such as a pressure as a head, is written down first.
            let sign = if matches!(self, Self::Formula(Expr::Add(..), _)) {
                1.0
            } else {
                -1.0
            };
            for (term, sign) in [(one, 1.0), (other, sign)] {
                if matches!(**term, Expr::Symbol(_) | Expr::Number(_)) {
                    continue;
                }
                let term = work.value(term, base, None)?;
                let unit = work.units(u32::try_from(term.dimension.length / 12).unwrap_or(0))[0];
                let [three, four, mixed] = known_by_itself(term.value, unit).map(|lot| -> Lot {
                    (lot.into_iter())
                        .map(|(kept, share)| (sign * (kept - term.value), share))
                        .collect()
                });
                all.push(Known { three, four, mixed });
            }
        }
        all.retain(|known| !known.is_nothing());
        Ok(all)
    }

    /// Roundings that hang on readings, as moves of the number.
    fn free(
        &self,
        worked: &Worked<'_>,
        reference: f64,
        earlier: Option<&Earlier<'_>>,
    ) -> Result<Vec<Free>, EquationError> {
        let work = &worked.work;
        let base = &worked.corners[0].outcome;
        let beyond = self.beyond(worked, reference, earlier)?;
        let own = self.name(work);
        let mut all = Vec::new();
        for moved in &worked.moved {
            let Moved::Free {
                ends,
                large,
                written,
                handed_in,
                of,
                asked,
            } = moved
            else {
                continue;
            };
            // How an answer is written down is counted with it, and so is that of an earlier one.
            if of.is_some() && *of == own {
                continue;
            }
            if earlier.is_some_and(|earlier| {
                asked.is_some() && *asked == earlier.asked || of.is_some() && *of == earlier.name
            }) {
                continue;
            }
            if let (Some(n), Self::Formula(formula, _)) = (asked, self)
                && work.asked.get(*n).is_some_and(|(_, other, _)| other == formula)
            {
                continue;
            }
            let (one, other) = (beyond(&ends[0])?, beyond(&ends[1])?);
            all.push(Free {
                large: *large,
                written: *written,
                handed_in: *handed_in,
                ..Free::new(one, other)
            });
        }
        for name in self.written_down(work) {
            if work.is_from_givens(name) || earlier.is_some_and(|earlier| earlier.name == Some(name)) {
                continue;
            }
            let value = base.get(name);
            let mut span = (value.abs(), value.abs());
            for corner in &worked.corners {
                widen(&mut span, corner.outcome.get(name).abs());
            }
            let Half { share, large } = half_between(value, span);
            let with = |by: f64| {
                let mut outcome = base.clone();
                outcome.put(name, value * (1.0 + by));
                self.value(work, &outcome)
            };
            all.push(Free {
                large,
                ..Free::new(with(-share)? - reference, with(share)? - reference)
            });
        }
        all.retain(|free| free.ends.1 - free.ends.0 > 1e-7 * reference.abs());
        Ok(all)
    }

    /// The nearest earlier answer from which it is had, and nothing else that is read: whatever is misread moves both
    /// alike, and so does how the earlier one is written down.
    fn earlier<'t>(&self, worked: &Worked<'t>, reference: f64) -> Result<Option<Earlier<'t>>, EquationError> {
        let work = &worked.work;
        let Self::Formula(formula, _) = self else {
            return Ok(None);
        };
        let Some(own) = work.asked.iter().position(|(_, asked, _)| asked == formula) else {
            return Ok(None);
        };
        let mut by = Vec::with_capacity(worked.corners.len());
        for corner in &worked.corners {
            by.push(self.value(work, &corner.outcome)? - reference);
        }
        let most = by.iter().fold(0.0_f64, |most, by| most.max(by.abs()));
        if most < 1e-4 * reference.abs() {
            return Ok(None);
        }
        for n in (0..own).rev() {
            let (name, formula, unit) = work.asked[n];
            let track = Track::Formula(formula, unit);
            let at = track.value(work, &worked.corners[0].outcome)?;
            let mut moves = Vec::with_capacity(by.len());
            for corner in &worked.corners {
                moves.push(track.value(work, &corner.outcome)? - at);
            }
            let Some(slope) = slope_alike(&moves, &by) else {
                continue;
            };
            let mut written = None;
            for moved in &worked.moved {
                if let Moved::Free { ends, of, asked, .. } = moved
                    && (*asked == Some(n) || asked.is_none() && *of == Some(name))
                {
                    written = Some((self.value(work, &ends[1])? - self.value(work, &ends[0])?) / slope);
                }
            }
            let how = HandedIn {
                unit,
                figures: CARRIED_FIGURES,
                worked_out: true,
            };
            let unit_of = 2.0 * how.half_unit(at, CARRIED_FIGURES);
            // Whether its own figures come to the later one as its misreadings do.
            let near = |wide: f64| {
                (wide.abs() / unit_of - 1.0).abs() < 0.1 || (wide.abs() / unit_of - 10.0).abs() < 1.0
            };
            if written.is_some_and(|wide| wide > 0.0 && near(wide)) {
                return Ok(Some(Earlier {
                    track,
                    name: Some(name),
                    asked: Some(n),
                    how,
                    slope,
                }));
            }
        }
        Ok(None)
    }

    /// What moves it.
    fn spread(&self, worked: &[Worked<'_>]) -> Result<Spread, EquationError> {
        let paper = &worked[0];
        let reference = self.value(&paper.work, &paper.corners[0].outcome)?;
        let earlier = self.earlier(paper, reference)?;
        let earlier = earlier.as_ref();
        let of_earlier = match earlier {
            Some(earlier) => earlier.track.value(&paper.work, &paper.corners[0].outcome)?,
            None => 0.0,
        };
        let mut ways = Vec::with_capacity(worked.len());
        for (other, share) in worked.iter().zip(shares(worked)) {
            let base = &other.corners[0].outcome;
            let value = self.value(&other.work, base)?;
            let with_it = match earlier {
                Some(earlier) => earlier.slope * (earlier.track.value(&other.work, base)? - of_earlier),
                None => 0.0,
            };
            ways.push(Taken {
                share,
                by: value - reference - with_it,
                known: self.known(other, value, earlier)?,
            });
        }
        Ok(Spread {
            reference,
            factors: match earlier {
                Some(_) => Vec::new(),
                None => self.factors(paper, reference)?,
            },
            free: self.free(paper, reference, earlier)?,
            ways,
            through: match earlier {
                Some(earlier) => Some(Box::new(Through {
                    spread: earlier.track.spread(worked)?,
                    how: earlier.how,
                    slope: earlier.slope,
                })),
                None => None,
            },
        })
    }

    /// How far it reaches, however fluid and gravity are taken; `figures` are those asked, none of what words hang on.
    fn reach(&self, worked: &[Worked<'_>], figures: Option<u32>) -> Result<Reached, EquationError> {
        let paper = &worked[0];
        let work = &paper.work;
        let reference = self.value(work, &paper.corners[0].outcome)?;
        let mut spans = [(reference, reference); 5];
        let [reading, formula, rough, properties, gravity] = &mut spans;
        for corner in &paper.corners {
            let value = self.value(work, &corner.outcome)?;
            match corner.plan.cause {
                Some(Cause::Reading) => widen(reading, value),
                Some(Cause::Formula) => widen(formula, value),
                Some(Cause::FullyRough) => widen(rough, value),
                _ => {}
            }
        }
        for other in &worked[1..] {
            let value = self.value(&other.work, &other.corners[0].outcome)?;
            match other.way.and_then(|way| way.cause()) {
                Some(Cause::Properties) => widen(properties, value),
                Some(Cause::Gravity) => widen(gravity, value),
                _ => {}
            }
        }
        let mut method = (reference, reference);
        for moved in &paper.moved {
            if let Moved::Method(ends) = moved {
                for end in ends {
                    widen(&mut method, self.value(work, end)?);
                }
            }
        }
        let mut rounding = Rounding::default();
        for free in &self.free(paper, reference, None)? {
            rounding.free(free.ends.0, free.ends.1);
        }
        let known = self.known(paper, reference, None)?;
        for known in known.iter().filter(|known| known.three != known.four) {
            let moves = [&known.three, &known.four, &known.mixed].into_iter().flatten();
            let span = moves.fold((0.0_f64, 0.0_f64), |span, (by, _)| {
                (span.0.min(*by), span.1.max(*by))
            });
            rounding.known(span.0, span.1);
        }
        let (below, above) = rounding.reach();
        let spread = self.spread(worked)?;
        let handed_in = |unit: f64, figures: u32| HandedIn {
            unit,
            figures,
            worked_out: self.is_worked_out(work),
        };
        let all = match (self, figures) {
            (Self::Formula(_, unit), Some(figures)) => {
                let how = handed_in(*unit, figures);
                let (low, high) = spread.ends(Some(&how), BEYOND);
                let last = how.last(reference);
                (low.min(reference - last), high.max(reference + last))
            }
            (Self::Reynolds(_), _) => spread.ends(Some(&handed_in(1.0, CARRIED_FIGURES)), BEYOND_FOR_WORDS),
            _ => spread.ends(None, BEYOND_FOR_WORDS),
        };
        Ok(Reached {
            reference,
            all,
            alone: vec![
                (Cause::Reading, spans[0]),
                (Cause::Formula, spans[1]),
                (Cause::FullyRough, spans[2]),
                (Cause::Properties, spans[3]),
                (Cause::Gravity, spans[4]),
                (Cause::Method, method),
                (Cause::OnTheWay, (reference - below, reference + above)),
            ],
        })
    }
}

/// An earlier answer from which a number is had.
struct Earlier<'a> {
    track: Track<'a>,
    name: Option<Name>,
    /// Its place in what is asked.
    asked: Option<usize>,
    how: HandedIn,
    /// By how much the number moves with it.
    slope: f64,
}

/// The share of students who take fluid and gravity each way.
fn shares(worked: &[Worked<'_>]) -> Vec<f64> {
    let ways = || worked.iter().map(|worked| worked.way);
    let has_table = ways().flatten().any(|way| way.table.is_some());
    let gravities = ways()
        .flatten()
        .filter(|way| way.table.is_none() && way.gravity.is_some())
        .count();
    ways()
        .map(|way| {
            let from_table = way.is_some_and(|way| way.table.is_some());
            let table = match (has_table, from_table) {
                (false, _) => 1.0,
                (true, true) => FROM_A_TABLE,
                (true, false) => 1.0 - FROM_A_TABLE,
            };
            let another = way.is_some_and(|way| way.gravity.is_some());
            table
                * if another {
                    ANOTHER_GRAVITY
                } else {
                    1.0 - gravities as f64 * ANOTHER_GRAVITY
                }
        })
        .collect()
}

/// Pressures and heights at the stations: differences of them are had from heads, not from rounded ends.
pub(super) fn at_a_station(name: Name) -> bool {
    matches!(
        name,
        Name::Whole(Whole::StartPressure | Whole::EndPressure | Whole::StartElevation | Whole::EndElevation)
    )
}

/// How far a number reaches, rounded as asked.
struct Reached {
    reference: f64,
    all: (f64, f64),
    /// By each cause alone.
    alone: Vec<(Cause, (f64, f64))>,
}

pub(super) fn widen(span: &mut (f64, f64), value: f64) {
    span.0 = span.0.min(value);
    span.1 = span.1.max(value);
}

impl<'a> Tracks<'a> {
    pub(super) fn of(asked: &'a Asked) -> Self {
        match asked {
            Asked::Number {
                formula,
                figures,
                unit,
            } => Self::Number {
                formula,
                unit: unit.factor,
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

    fn each(&self) -> Vec<Track<'a>> {
        match self {
            Self::Number { formula, unit, .. } => vec![Track::Formula(formula, *unit)],
            Self::Regime(pipe) => vec![Track::Reynolds(*pipe), Track::Rough(*pipe)],
            Self::Margins(leaves) => (leaves.iter())
                .map(|(left, right)| Track::Margin(left, right))
                .collect(),
        }
    }

    pub(super) fn accept(&self, worked: &[Worked<'_>], asked: &Asked) -> Result<Accepted, EquationError> {
        let reach = |track: Track<'_>| track.reach(worked, None);
        let work = &worked[0].work;
        let base = &worked[0].corners[0].outcome;
        Ok(match (self, asked) {
            (
                Self::Number {
                    formula,
                    unit,
                    figures,
                },
                _,
            ) => {
                let reach = Track::Formula(formula, *unit).reach(worked, Some(*figures))?;
                Accepted::Number(band_of(work.value(formula, base, None)?, reach, *figures))
            }
            (Self::Regime(pipe), _) => {
                let reynolds = reach(Track::Reynolds(*pipe))?;
                let rough = reach(Track::Rough(*pipe))?;
                let first = regime::classify(reynolds.reference, rough.reference, &work.limits);
                let others = regimes(reynolds.all, rough.all, &work.limits);
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
                    margins.push(reach(Track::Margin(left, right))?.all);
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

/// A hair more than half a unit of the last figure, relative to a number, so that a number on the edge is in.
fn last_figure(figures: u32) -> f64 {
    worst(figures) * (1.0 + 1e-9)
}

/// The band of a number that reaches so far.
fn band_of(reference: crate::quantity::Quantity, reach: Reached, figures: u32) -> Band {
    let last = last_figure(figures);
    let (low, high) = reach.all;
    let own = reach.reference.abs() * last;
    let mut causes: Vec<_> = (reach.alone.into_iter())
        .map(|(cause, (low, high))| (cause, low, high))
        .collect();
    causes.push((Cause::LastFigure, reach.reference - own, reach.reference + own));
    Band::new(reference, (low, high), causes)
}

/// The regimes that a pipe with these Reynolds and rough numbers can be found in.
pub(super) fn regimes(reynolds: (f64, f64), rough: (f64, f64), limits: &Limits) -> Vec<Regime> {
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

pub(super) fn comparisons<'a>(expr: &'a Expr, into: &mut Vec<(&'a Expr, &'a Expr)>) {
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
pub(super) fn truth(expr: &Expr, margins: &mut dyn Iterator<Item = (f64, f64)>) -> (bool, bool) {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::builtin_bank;
    use crate::bank::course::Conventions;
    use crate::draw::{Candidates, Seed};
    use crate::solution::Case;

    /// Even numbers from 0 to 1 (Steele, Lea and Flood 2014, SplitMix64).
    struct Dice(u64);

    impl Dice {
        fn even(&mut self) -> f64 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
        }
    }

    /// Draws of a template at which careful work settles.
    fn sound(template: &Template, count: usize, policy: &Policy) -> Vec<(Bindings, PathCase)> {
        let figures = Conventions::default().property_figures;
        let mut found = Vec::new();
        for draw in Candidates::new(template, &Seed::from_bytes([3; 32])).take(400) {
            let givens = draw.bindings(template);
            let Ok(system) = template.system.resolve(&givens) else {
                continue;
            };
            let Ok(Case::Path(case)) = Case::solve(system, Some(figures), &policy.limits) else {
                continue;
            };
            if broken_constraint(template, &givens, &case, policy).is_none()
                && bands(template, &givens, &case, policy).is_ok()
            {
                found.push((givens, *case));
            }
            if found.len() == count {
                break;
            }
        }
        found
    }

    /// Readings, properties and gravities between the corners lead nowhere beyond them.
    #[test]
    fn nothing_between_the_corners_leads_beyond_them() {
        let policy = Policy::default();
        let mut dice = Dice(1);
        let mut templates = 0;
        for template in &builtin_bank().templates {
            let draws = sound(template, 3, &policy);
            templates += usize::from(!draws.is_empty());
            for (givens, case) in draws {
                let tracks: Vec<Tracks> = template
                    .parts
                    .iter()
                    .map(|part| Tracks::of(&part.asked))
                    .collect();
                let otherwise = otherwise(&case, &policy);
                let ways = Ways {
                    policy: &policy,
                    critical_allowed: true,
                    otherwise: otherwise.clone(),
                    rework: &|work, readings| work.read(readings),
                    moved: &|_, _, _| Ok(Vec::new()),
                };
                let worked = ways
                    .work_out(Work::new(&givens, &case, policy.limits), &tracks)
                    .unwrap_or_else(|faults| panic!("{}: {faults}", template.name));
                let each: Vec<Track> = tracks.iter().flat_map(Tracks::each).collect();
                let spans: Vec<(f64, f64)> = (each.iter())
                    .map(|track| {
                        let mut span = (f64::INFINITY, f64::NEG_INFINITY);
                        for worked in &worked {
                            for corner in &worked.corners {
                                widen(&mut span, track.value(&worked.work, &corner.outcome).unwrap());
                            }
                        }
                        span
                    })
                    .collect();
                let right = &worked[0].work;
                for _ in 0..60 {
                    let readings: Vec<Reading> = (right.base.state.pipes.iter())
                        .map(|pipe| {
                            let most = misreading(&policy, pipe.reynolds, pipe.relative_roughness);
                            read(false, 1.0 + most * (2.0 * dice.even() - 1.0))
                        })
                        .collect();
                    // Gravity anywhere between the stated one and another.
                    let way = otherwise.get((dice.even() * 4.0) as usize).map(|way| Way {
                        gravity: way.gravity.map(|g| {
                            let stated = right.problem.path.gravity;
                            stated + (g - stated) * dice.even()
                        }),
                        ..*way
                    });
                    let taken = match &way {
                        Some(way) => right.taken(way).unwrap(),
                        None => right
                            .taken(&Way {
                                table: None,
                                gravity: None,
                            })
                            .unwrap(),
                    };
                    let outcome = taken.read(&readings).unwrap();
                    for (track, span) in each.iter().zip(&spans) {
                        let value = track.value(&taken, &outcome).unwrap();
                        let slack = 1e-4 * span.0.abs().max(span.1.abs());
                        assert!(
                            span.0 - slack <= value && value <= span.1 + slack,
                            "{}: {value} is beyond {span:?} with {readings:?} and {way:?}",
                            template.name
                        );
                    }
                }
            }
        }
        assert!(templates > 15, "only {templates} templates of paths");
    }

    /// A parabola's top between its ends is found at once, and none is seen where there is none.
    #[test]
    fn a_number_that_turns_back_is_seen() {
        let at = |of: fn(f64) -> f64| -> Vec<(f64, f64)> {
            [-1.0, 0.0, 1.0].iter().map(|t| (*t, of(*t))).collect()
        };
        let top = turning(&at(|t| 5.0 - (t - 0.3) * (t - 0.3))).unwrap();
        assert!((top - 0.3).abs() < 1e-12);
        let bottom = turning(&at(|t| 5.0 + (t + 0.8) * (t + 0.8))).unwrap();
        assert!((bottom + 0.8).abs() < 1e-12);
        assert_eq!(turning(&at(|t| 5.0 + t + 0.1 * t * t)), None);
        assert_eq!(turning(&at(|_| 5.0)), None);
    }
}
