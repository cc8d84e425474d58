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

use super::kept::{Luck, Moved, known_range, moved, next_off_in};
use super::otherwise::{Otherwise, Way};
use super::reading::{formulas, misreading};
use super::rounding::Rounding;
use super::together::Causes;
use super::working::{Name, Of, Outcome, Whole, Work, half_unit};
use super::{Accepted, Band, Cause};
use crate::bank::course::Policy;
use crate::bank::template::{Asked, Constraint, Template};
use crate::constants::policy::CARRIED_FIGURES;
use crate::equation::{Bindings, EquationError, Expr, Relation};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::regime::{self, Limits, Regime};
use crate::hydraulics::solve::SolveError;
use crate::solution::{Answer, PathCase};

/// Up to this many pipes every corner of independent readings is worked; beyond, all one way and one at a time.
const INDEPENDENT_PIPES: usize = 4;

/// A number kept as it may be moves an answer both ways, and not one way most of all, where the lesser of the two is more
/// than this part of the other.
const TWO_SIDED: f64 = 0.4;

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
        moved: &|work, allowances, all| moved(work, allowances, all),
    };
    let worked = way.work_out(Work::new(givens, case, policy.limits), &tracks)?;
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
    /// The only cause that is at work, if it is only one.
    cause: Option<Cause>,
    outcome: Outcome,
}

/// How a corner is reached: the factors as they are had.
#[derive(Debug, Clone)]
struct Plan {
    cause: Option<Cause>,
    readings: Vec<Reading>,
}

/// A case worked at its corners with the fluid and gravity taken one way.
pub(super) struct Worked<'a> {
    /// `None`: as the paper has them.
    way: Option<Way>,
    work: Work<'a>,
    /// The first has every factor right.
    corners: Vec<Corner>,
    moved: Vec<Moved>,
}

/// How a case is worked with other readings.
type Rework<'r> = dyn Fn(&Work<'_>, &[Reading]) -> Result<Outcome, SolveError> + 'r;
/// What is written down on the way, moved; see [`moved`].
type Movements<'r> = dyn Fn(&Work<'_>, &[f64], bool) -> Result<Vec<Moved>, SolveError> + 'r;

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
        let movements = (self.moved)(&work, &allowances, true).map_err(unsolved)?;
        let mut all = vec![Worked {
            way: None,
            work,
            corners,
            moved: movements,
        }];
        let leaned = leaned(&all[0], &each);
        for way in &self.otherwise {
            let work = all[0].work.taken(way).map_err(unsolved)?;
            let mut corners = Vec::with_capacity(leaned.len());
            for corner in &leaned {
                corners.push(self.solve(&work, &plans[*corner])?);
            }
            let movements = (self.moved)(&work, &allowances, false).map_err(unsolved)?;
            all.push(Worked {
                way: Some(*way),
                work,
                corners,
                moved: movements,
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
            cause: plan.cause,
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
            });
        }
        let rough = self.may_be_rough(work);
        if rough.contains(&true) {
            plans.push(Plan {
                cause: Some(Cause::FullyRough),
                readings: (rough.iter()).map(|&rough| read(rough, 1.0)).collect(),
            });
        }
        for high in choices(pipes) {
            let all = |rough: &dyn Fn(usize) -> bool| -> Vec<Reading> {
                (0..pipes)
                    .map(|i| {
                        let by = if high[i] { allowances[i] } else { -allowances[i] };
                        read(rough(i), 1.0 + by)
                    })
                    .collect()
            };
            plans.push(Plan {
                cause: Some(Cause::Reading),
                readings: all(&|_| false),
            });
            if rough.contains(&true) {
                plans.push(Plan {
                    cause: None,
                    readings: all(&|i| rough[i]),
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
        let slack = 1.0 - 0.5 * libm::pow(10.0, 1.0 - f64::from(CARRIED_FIGURES));
        (0..pipes)
            .map(|i| {
                walled[i]
                    && outcome.state.pipes[i].regime != Regime::Laminar
                    && outcome.rough_number(i) >= slack * self.policy.limits.fully_rough_start
            })
            .collect()
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

    /// Whether nothing is read before it; `None` where it is not worked out at all.
    fn is_known(&self, work: &Work<'_>) -> Option<bool> {
        let formula = match self {
            Self::Formula(formula, _) => formula,
            Self::Margin(..) | Self::Rough(_) => return None,
            Self::Reynolds(i) => return Some(work.is_from_givens(Name::Pipe(Of::Reynolds, *i))),
        };
        let mut names = (formula.symbols().into_iter())
            .filter_map(|name| work.pipes.find(&name, None))
            .filter(|name| work.worked_out(*name))
            .peekable();
        names.peek()?;
        Some(names.all(|name| work.is_from_givens(name)))
    }

    /// How far it reaches with the fluid and gravity taken one way.
    fn reach_of(&self, worked: &Worked<'_>) -> Result<ReachOf, EquationError> {
        let work = &worked.work;
        let base = &worked.corners[0].outcome;
        let reference = self.value(work, base)?;
        let mut reach = ReachOf {
            reference,
            corners: (reference, reference),
            reading: (reference, reference),
            formula: (reference, reference),
            rough: (reference, reference),
            rounding: Rounding::default(),
            known: Vec::new(),
            method: (0.0, 0.0),
        };
        for corner in &worked.corners {
            let value = self.value(work, &corner.outcome)?;
            widen(&mut reach.corners, value);
            match corner.cause {
                Some(Cause::Reading) => widen(&mut reach.reading, value),
                Some(Cause::Formula) => widen(&mut reach.formula, value),
                Some(Cause::FullyRough) => widen(&mut reach.rough, value),
                _ => {}
            }
        }
        for Moved { luck, ends } in &worked.moved {
            let one = self.value(work, &ends[0])? - reference;
            let other = self.value(work, &ends[1])? - reference;
            match luck {
                Luck::Known => reach.known(one, other),
                Luck::Free => reach.rounding.free(one, other),
                Luck::Method => {
                    reach.method.0 -= one.min(other).min(0.0);
                    reach.method.1 += one.max(other).max(0.0);
                }
            }
        }
        for name in self.written_down(work) {
            let value = base.get(name);
            let known = work.is_from_givens(name);
            let (low, high) = if known {
                let before = known_range(&worked.moved, |outcome| outcome.get(name), base);
                next_off_in(value, before, work.units(super::kept::exponent(name)))
            } else {
                let half = half_unit(value, 0.0);
                (-half, half)
            };
            let with = |by: f64| {
                let mut outcome = base.clone();
                outcome.put(name, value + by);
                self.value(work, &outcome)
            };
            let (one, other) = (with(low)? - reference, with(high)? - reference);
            if known {
                reach.known(one, other);
            } else {
                reach.rounding.free(one, other);
            }
        }
        // The answer itself is written down as well, before it is rounded as asked, perhaps in another unit.
        let unit = match self {
            Self::Formula(_, unit) => *unit,
            Self::Reynolds(_) => 1.0,
            Self::Margin(..) | Self::Rough(_) => return Ok(reach),
        };
        match self.is_known(work) {
            Some(true) => {
                let (below, above) = reach.rounding.of_known();
                let (low, high) = next_off_in(reference, (-below, above), &[unit]);
                reach.known(low, high);
            }
            Some(false) => {
                let half = |value: f64| half_unit(value / unit, 0.0) * unit;
                let ends = reach.corners;
                reach.rounding.free(-half(ends.0), half(ends.1));
            }
            None => {}
        }
        Ok(reach)
    }

    /// How far it reaches, however fluid and gravity are taken; `last` is the worst that its own rounding as asked
    /// does to it, as a share.
    fn reach(&self, worked: &[Worked<'_>], last: f64) -> Result<Reached, EquationError> {
        let paper = self.reach_of(&worked[0])?;
        let reference = paper.reference;
        let mut properties = (reference, reference);
        let mut gravity = (reference, reference);
        // Where chance is in it, rounding moves it as much as it does with the paper's numbers.
        let ends = |reach: &ReachOf| {
            let (below, above) = reach.together(&paper.rounding, last * reach.reference.abs());
            (
                reach.reference - below - paper.method.0,
                reach.reference + above + paper.method.1,
            )
        };
        let mut all = ends(&paper);
        for other in &worked[1..] {
            let reach = self.reach_of(other)?;
            match other.way.and_then(|way| way.cause()) {
                Some(Cause::Properties) => widen(&mut properties, reach.reference),
                Some(Cause::Gravity) => widen(&mut gravity, reach.reference),
                _ => {}
            }
            let own = ends(&reach);
            all = (all.0.min(own.0), all.1.max(own.1));
        }
        let (below, above) = paper.rounding.reach();
        Ok(Reached {
            reference,
            all,
            alone: vec![
                (Cause::Reading, paper.reading),
                (Cause::Formula, paper.formula),
                (Cause::FullyRough, paper.rough),
                (Cause::Properties, properties),
                (Cause::Gravity, gravity),
                (
                    Cause::Method,
                    (reference - paper.method.0, reference + paper.method.1),
                ),
                (Cause::OnTheWay, (reference - below, reference + above)),
            ],
        })
    }
}

/// Pressures and heights at the stations: differences of them are had from heads, not from rounded ends.
fn at_a_station(name: Name) -> bool {
    matches!(
        name,
        Name::Whole(Whole::StartPressure | Whole::EndPressure | Whole::StartElevation | Whole::EndElevation)
    )
}

/// How far a number reaches with the fluid and gravity taken one way.
struct ReachOf {
    reference: f64,
    /// At all corners.
    corners: (f64, f64),
    reading: (f64, f64),
    formula: (f64, f64),
    rough: (f64, f64),
    rounding: Rounding,
    /// How far each number that is had from givens alone moves it, down and up.
    known: Vec<(f64, f64)>,
    /// What the method leaves open, below and above.
    method: (f64, f64),
}

impl ReachOf {
    /// A number had from givens alone is kept as it may be.
    fn known(&mut self, one: f64, other: f64) {
        self.rounding.known(one, other);
        self.known
            .push((-one.min(other).min(0.0), one.max(other).max(0.0)));
    }

    /// How far it reaches down and up with `free` rounded as chance has it, and its own rounding, which is `last` at its
    /// worst.
    fn together(&self, free: &Rounding, last: f64) -> (f64, f64) {
        // Who always keeps as many figures has one of the two ends of each: mostly that of three figures, which is the
        // farther one.
        let (mut down, mut up) = (0.0, 0.0);
        for (below, above) in &self.known {
            let both = below.min(*above) > TWO_SIDED * below.max(*above);
            if both || below > above {
                down += below;
            } else {
                down -= above;
            }
            if both || above >= below {
                up += above;
            } else {
                up -= below;
            }
        }
        let formulas = (self.formula.0.min(self.rough.0), self.formula.1.max(self.rough.1));
        let below = Causes {
            formulas: self.reference - formulas.0,
            readings: self.reference - self.corners.0,
            sure: 0.0,
            kept: down.max(0.0),
            known: self.known.iter().map(|(below, _)| *below).collect(),
            last,
        };
        let above = Causes {
            formulas: formulas.1 - self.reference,
            readings: self.corners.1 - self.reference,
            sure: 0.0,
            kept: up.max(0.0),
            known: self.known.iter().map(|(_, above)| *above).collect(),
            last,
        };
        (
            below.together(|deviations| free.free_with(last, deviations).0),
            above.together(|deviations| free.free_with(last, deviations).1),
        )
    }
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
        let reach = |track: Track<'_>| track.reach(worked, 0.0);
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
                let reach = Track::Formula(formula, *unit).reach(worked, last_figure(*figures))?;
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
    0.5 * libm::pow(10.0, 1.0 - f64::from(figures)) * (1.0 + 1e-9)
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
