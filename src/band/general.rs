//! Bands, constraints and follow-through of every kind of system but the path.
//!
//! A case is solved again at every corner of careful work: each friction factor read too high and too low by what
//! the chart allows there, each accepted formula in the chart's place, fully rough flow where its check allows it, the
//! fluid and gravity taken otherwise. Rounding on the way moves each number that the hand method writes down by
//! half a unit of its third figure, and the working is redone from there; what is had from givens alone moves by
//! what its rounding is known to be. What a kind's hand method leaves open beyond that it says itself.
//!
//! Follow-through is the same with some results taken for true: the working is redone from them at every corner.

use super::careful::{asks_for_critical, comparisons, regimes, truth};
use super::chain::{Leaning, Number, followed};
use super::figures::worst;
use super::follow::{settled_by, swap};
use super::kept::{Half, half_between};
use super::otherwise::Otherwise;
use super::reading::formulas;
use super::rounding::Rounding;
use super::spread::{Free, Had, HandedIn, Known, Lot, Spread, Taken, Through, slope_alike};
use super::working::half_unit;
use super::{Accepted, Band, Cause, ageing, leak, meter, misreading, network, profile, tank};
use crate::bank::course::Policy;
use crate::bank::names::pipe_result;
use crate::bank::system::network::own_result;
use crate::bank::system::{Kind as _, Value};
use crate::bank::template::{Asked, Constraint, Template};
use crate::constants::policy::{
    ANOTHER_GRAVITY, AT_THE_END, BEYOND, BEYOND_FOR_WORDS, CARRIED_FIGURES, FROM_A_TABLE, READ_ALIKE,
    READ_THE_CHART, STOP_WHEN_ROUGH, WRITE_DOWN,
};
use crate::equation::{Bindings, EquationError, Expr};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::regime::{self, Limits, Regime};
use crate::quantity::{Quantity, Unit};
use crate::solution::network::NetworkCase;
use crate::solution::{Answer, Case, Flowing, Solution, Unsolved};
use std::rc::Rc;

/// Up to this many factors every corner of independent readings is worked; beyond, the corners to which each answer
/// leans.
const INDEPENDENT: usize = 5;
/// Results that differ by no more than this share are the same but for a solver's last digits.
const SAME: f64 = 1e-9;
/// Cells on which the sum of a few roundings is spread, either way from none.
const ROUNDED_CELLS: usize = 24;

/// The worst that one rounding to the figures that are carried does to a number \[–\].
pub(super) fn worst_rounding() -> f64 {
    worst(CARRIED_FIGURES)
}

/// A case as formulas see it.
#[derive(Clone)]
pub(super) struct View<'a> {
    givens: &'a Bindings,
    names: Rc<Vec<String>>,
    values: Vec<Quantity>,
    pub(super) flowing: Vec<Flowing>,
    /// For each bare name, the name of that result of each pipe.
    of_pipes: &'a [(String, Vec<String>)],
}

impl<'a> View<'a> {
    pub(super) fn new(givens: &'a Bindings, case: &Case, of_pipes: &'a [(String, Vec<String>)]) -> Self {
        let (names, values) = case.numbers().into_iter().unzip();
        Self {
            givens,
            names: Rc::new(names),
            values,
            flowing: case.flowing(),
            of_pipes,
        }
    }

    /// Another solution of the same system.
    fn of(&self, case: &Case) -> Self {
        match case.values() {
            Some(values) if values.len() == self.names.len() => Self {
                values,
                flowing: case.flowing(),
                ..self.clone()
            },
            _ => Self::new(self.givens, case, self.of_pipes),
        }
    }

    /// As results of the working redone have it; what these don't name stays.
    fn redone(&self, numbers: Vec<(String, Quantity)>) -> Self {
        let mut view = self.clone();
        for (name, value) in numbers {
            if let Some(i) = view.names.iter().position(|known| *known == name) {
                view.values[i] = value;
            }
        }
        for i in 0..view.flowing.len() {
            let of = |bare: &str| view.look_up(view.name_of(bare, i)?, None).map(|q| q.value);
            let (reynolds, factor, relative) = (of("Re"), of("f"), of("rr"));
            let flowing = &mut view.flowing[i];
            flowing.reynolds = reynolds.unwrap_or(flowing.reynolds);
            flowing.relative_roughness = relative.unwrap_or(flowing.relative_roughness);
            if let Some(factor) = factor {
                flowing.rough_number = flowing.reynolds * factor.sqrt() * flowing.relative_roughness;
            }
        }
        view
    }

    /// The name of a result of whatever has a friction factor; at the start, where it has several moments.
    fn name_of(&self, bare: &str, i: usize) -> Option<&str> {
        let first = format!("{bare}_1");
        let of = |base: &str| self.of_pipes.iter().find(|(known, _)| known == base);
        match of(&first).or_else(|| of(bare)) {
            Some((_, names)) => names.get(i).map(String::as_str),
            None => self.names.iter().find(|name| *name == bare).map(String::as_str),
        }
    }

    /// The same with one result in the place of its own.
    fn with(&self, name: &str, value: f64) -> Self {
        let mut view = self.clone();
        if let Some(i) = view.names.iter().position(|known| known == name) {
            view.values[i].value = value;
        }
        view
    }

    fn own(&self, name: &str) -> Option<Quantity> {
        let i = self.names.iter().position(|known| known == name)?;
        self.values.get(i).copied()
    }

    fn look_up(&self, name: &str, bare: Option<usize>) -> Option<Quantity> {
        self.own(name)
            .or_else(|| {
                let (_, names) = self.of_pipes.iter().find(|(base, _)| base == name)?;
                self.own(names.get(bare?)?)
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

/// By which shares of itself each factor is rounded on the way beside its own rounding, in what is gathered with it.
fn gathered(case: &Case) -> Vec<Vec<f64>> {
    match case {
        Case::Tank(case) => tank::gathered(case),
        Case::Network(case) => network::gathered(case),
        _ => Vec::new(),
    }
}

fn unsolved(unsolved: &Unsolved) -> Faults {
    Fault::new(format!(
        "careful work can end where the problem has no solution: {}",
        unsolved.short
    ))
    .into()
}

fn settled_fault() -> Fault {
    Fault::new("careful work can end in the critical zone between laminar and turbulent flow")
        .mend("set the template's constraints so that the Reynolds number keeps away from it")
}

/// One corner of careful work.
struct Corner<'a> {
    /// The only cause that is at work, if it is only one.
    cause: Option<Cause>,
    view: View<'a>,
}

/// A number that is written down on the way, moved one way and the other.
struct Rounded<'a> {
    /// The result, where it is one.
    name: Option<String>,
    /// Whether it is had from givens alone, so that its rounding is known.
    is_known: bool,
    /// The share of students who write it down.
    written: f64,
    /// The share of students for whom half a unit is as much; for the others it is a tenth.
    large: f64,
    /// Where it is the head of a velocity: of which.
    head_of: Option<String>,
    /// Of links side by side: by whom it is rounded on the way to which link's loss.
    route: Option<Route>,
    /// How far it is moved \[SI\]: half a unit of its third figure.
    by: f64,
    /// The unit in which it is written \[SI units\].
    unit: f64,
    views: [View<'a>; 2],
}

/// A number that is had from givens alone, as a view has it.
enum Line<'a> {
    Result(&'a str),
    /// The head of a velocity.
    HeadOf(&'a str),
}

impl Line<'_> {
    fn value(&self, view: &View<'_>) -> f64 {
        let of = |name: &str| view.own(name).map_or(f64::NAN, |q| q.value);
        match self {
            Self::Result(name) => of(name),
            Self::HeadOf(velocity) => of(velocity) * of(velocity) / (2.0 * of("g")),
        }
    }
}

impl Rounded<'_> {
    fn line(&self) -> Option<Line<'_>> {
        let head = self.head_of.as_deref().map(Line::HeadOf);
        self.name.as_deref().map(Line::Result).or(head)
    }
}

/// The loss of one link, had from the flow of one link: its own, or another that begins and ends with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Route {
    loss: usize,
    from: usize,
}

/// A case worked in every way in which careful work goes.
struct Workings<'a> {
    /// The reference.
    right: View<'a>,
    /// Factors read, had from a formula, or taken as fully rough.
    corners: Vec<Corner<'a>>,
    /// Which of them have all factors read too low and too high alike.
    alike: Option<[usize; 2]>,
    /// Which of them have each factor read too low or too high, in every combination.
    ends: Vec<usize>,
    /// Each factor alone read too low and too high, in order.
    alone: Vec<[View<'a>; 2]>,
    /// Fluid and gravity taken otherwise, with the shares of students who do.
    otherwise: Vec<(Corner<'a>, f64)>,
    rounded: Vec<Rounded<'a>>,
    /// What else is written down and known: as who keeps three figures has it, and who keeps four.
    more: Vec<[View<'a>; 2]>,
    /// What the hand method leaves open: one view each where it may end as well, and whether as far on the other side.
    open: Vec<(View<'a>, bool)>,
    /// The losses of links that begin and end together, by name.
    losses: Vec<String>,
    /// Where results are taken: how far rounding on the way moves each track in the right working, as shares of its value,
    /// below and above.
    shares: Option<Vec<(f64, f64)>>,
}

/// How a case is worked.
struct Work<'a> {
    case: &'a Case,
    kind: &'a dyn Solution,
    policy: &'a Policy,
    critical_allowed: bool,
    /// Results that are taken for true.
    taken: &'a [(String, f64)],
}

impl<'a> Work<'a> {
    /// The case with other readings, from what is taken for true.
    fn read(&self, right: &View<'a>, readings: &[Reading]) -> Checked<View<'a>> {
        let view = if self.taken.is_empty() {
            let case = self
                .kind
                .again(readings, &self.policy.limits)
                .map_err(|u| unsolved(&u))?;
            right.of(&case)
        } else {
            self.redone(right, self.taken, readings)?
        };
        self.settled(right, &view)?;
        Ok(view)
    }

    fn redone(&self, right: &View<'a>, taken: &[(String, f64)], readings: &[Reading]) -> Checked<View<'a>> {
        let numbers = rework(self.case, taken, readings, &self.policy.limits);
        numbers
            .map(|numbers| right.redone(numbers))
            .ok_or_else(|| Fault::new("the working can't be redone from what is taken").into())
    }

    fn settled(&self, right: &View<'_>, now: &View<'_>) -> Checked<()> {
        let laminar = |f: &Flowing| f.regime == Regime::Laminar;
        let unsettled = (now.flowing.iter().zip(&right.flowing))
            .any(|(now, before)| now.regime == Regime::Critical || laminar(now) != laminar(before));
        if unsettled && !self.critical_allowed {
            return Err(settled_fault().into());
        }
        Ok(())
    }

    /// Works the case in every way; `tracks` are what answers hang on, for which corners are sought.
    fn all(
        &self,
        givens: &'a Bindings,
        of_pipes: &'a [(String, Vec<String>)],
        tracks: &[Track<'_>],
    ) -> Checked<Workings<'a>> {
        let paper = View::new(givens, self.case, of_pipes);
        if !self.critical_allowed && paper.flowing.iter().any(|f| f.regime == Regime::Critical) {
            return Err(settled_fault().into());
        }
        let exact = vec![Reading::EXACT; paper.flowing.len()];
        let right = if self.taken.is_empty() {
            paper.clone()
        } else {
            self.redone(&paper, self.taken, &exact)?
        };
        let mut workings = Workings {
            right,
            corners: Vec::new(),
            alike: None,
            ends: Vec::new(),
            alone: Vec::new(),
            otherwise: Vec::new(),
            rounded: Vec::new(),
            more: Vec::new(),
            open: Vec::new(),
            losses: (self.beside().iter())
                .flat_map(|case| &case.system.links)
                .map(|link| own_result("h_L", &link.name))
                .collect(),
            shares: None,
        };
        self.readings(&paper, &mut workings, tracks)?;
        self.otherwise(&paper, &mut workings)?;
        if self.taken.is_empty() {
            self.rounded(&paper, &mut workings, tracks)?;
        } else {
            self.rounded_answers(&paper, &mut workings)?;
            let untaken = Self { taken: &[], ..*self };
            let right = untaken.all(givens, of_pipes, &[])?;
            workings.shares = Some(tracks.iter().map(|track| track.rounding_share(&right)).collect());
        }
        self.open(&mut workings);
        Ok(workings)
    }

    fn readings(&self, paper: &View<'a>, workings: &mut Workings<'a>, tracks: &[Track<'_>]) -> Checked<()> {
        let flowing = &paper.flowing;
        let read: Vec<usize> = (0..flowing.len())
            .filter(|&i| flowing[i].regime != Regime::Laminar)
            .collect();
        if read.is_empty() {
            return Ok(());
        }
        let policy = self.policy;
        let exact = vec![Reading::EXACT; flowing.len()];
        let with = |law: &dyn Fn(usize) -> Law, factor: &dyn Fn(usize) -> f64| -> Vec<Reading> {
            let mut readings = exact.clone();
            for &i in &read {
                readings[i] = Reading {
                    law: law(i),
                    factor: factor(i),
                };
            }
            readings
        };
        for &law in formulas(policy) {
            workings.corners.push(Corner {
                cause: Some(Cause::Formula),
                view: self.read(paper, &with(&|_| law, &|_| 1.0))?,
            });
        }
        // A coefficient of a meter is no point on the friction chart.
        let allowed: Vec<f64> = (flowing.iter())
            .map(|f| match self.case {
                Case::Meter(_) => policy.reading_error,
                _ => misreading(policy, f.reynolds, f.relative_roughness),
            })
            .collect();
        // Fully rough flow counts where a careful reader's own check passes, whichever way the chart is misread.
        let slack = 1.0 - worst_rounding();
        let may_pass = slack * policy.limits.fully_rough_start;
        let walled = |i: usize| flowing[i].relative_roughness > 0.0;
        let near: Vec<bool> = (0..flowing.len())
            .map(|i| walled(i) && flowing[i].rough_number >= 0.8 * may_pass)
            .collect();
        let mut rough = vec![false; flowing.len()];
        if read.iter().any(|&i| near[i]) {
            let law = |i: usize| if near[i] { Law::FullyRough } else { Law::Colebrook };
            let guess = with(&law, &|i| if near[i] { 1.0 + allowed[i] } else { 1.0 });
            if let Ok(view) = self.read(paper, &guess) {
                for &i in &read {
                    rough[i] = near[i] && view.flowing[i].rough_number >= may_pass;
                }
            }
        }
        let any_rough = rough.contains(&true);
        let law = |i: usize| if rough[i] { Law::FullyRough } else { Law::Colebrook };
        if any_rough {
            workings.corners.push(Corner {
                cause: Some(Cause::FullyRough),
                view: self.read(paper, &with(&law, &|_| 1.0))?,
            });
        }
        // The level part of the curve lies below the curve itself, so that it makes the low end lower.
        let corner = |high: &[bool], cause: Option<Cause>| -> Checked<Corner<'a>> {
            let law = |i: usize| {
                if rough[i] && !high[i] && cause.is_none() {
                    Law::FullyRough
                } else {
                    Law::Colebrook
                }
            };
            let factor = |i: usize| {
                if high[i] {
                    1.0 + allowed[i]
                } else {
                    1.0 - allowed[i]
                }
            };
            Ok(Corner {
                cause,
                view: self.read(paper, &with(&law, &factor))?,
            })
        };
        let add = |workings: &mut Workings<'a>, high: &[bool]| -> Checked<()> {
            workings.corners.push(corner(high, Some(Cause::Reading))?);
            if (0..high.len()).any(|i| rough[i] && !high[i]) {
                workings.corners.push(corner(high, None)?);
            }
            Ok(())
        };
        let spread = |bits: usize| -> Vec<bool> {
            let mut high = vec![false; flowing.len()];
            for (bit, &i) in read.iter().enumerate() {
                high[i] = bits >> bit & 1 == 1;
            }
            high
        };
        if read.len() <= INDEPENDENT {
            for bits in 0..1usize << read.len() {
                workings.ends.push(workings.corners.len());
                add(workings, &spread(bits))?;
            }
            if let [first, .., last] | [first @ last] = *workings.ends {
                workings.alike = Some([first, last]);
            }
        }
        let all = vec![true; flowing.len()];
        let none = vec![false; flowing.len()];
        if read.len() > INDEPENDENT {
            let low = workings.corners.len();
            add(workings, &none)?;
            workings.alike = Some([low, workings.corners.len()]);
            add(workings, &all)?;
        }
        if read.len() == 1 {
            return Ok(());
        }
        for &i in &read {
            let alone = |by: f64| -> Checked<View<'a>> {
                let mut readings = exact.clone();
                readings[i].factor = 1.0 + by;
                self.read(paper, &readings)
            };
            workings.alone.push([alone(-allowed[i])?, alone(allowed[i])?]);
        }
        if read.len() <= INDEPENDENT {
            return Ok(());
        }
        // The corner to which an answer leans, and the one opposite.
        let mut seen: Vec<Vec<bool>> = vec![all, none];
        for track in tracks {
            let leans = |[low, high]: &[View<'a>; 2]| -> Option<bool> {
                Some(track.value(high).ok()? > track.value(low).ok()?)
            };
            let mut high = vec![false; flowing.len()];
            for (views, &i) in workings.alone.iter().zip(&read) {
                high[i] = leans(views).unwrap_or(false);
            }
            let opposite: Vec<bool> = high.iter().map(|high| !high).collect();
            for high in [high, opposite] {
                let of_read = |a: &Vec<bool>| read.iter().all(|&i| a[i] == high[i]);
                if !seen.iter().any(of_read) {
                    add(workings, &high)?;
                    seen.push(high);
                }
            }
        }
        Ok(())
    }

    fn otherwise(&self, paper: &View<'a>, workings: &mut Workings<'a>) -> Checked<()> {
        let otherwise = Otherwise::of_case(self.case, self.policy);
        let from_table = if otherwise.table.is_some() {
            FROM_A_TABLE
        } else {
            0.0
        };
        let other_gravities = ANOTHER_GRAVITY * otherwise.gravities.len() as f64;
        for way in otherwise.ways() {
            let case = way.solve(self.case, &self.policy.limits)?;
            let view = if self.taken.is_empty() {
                paper.of(&case)
            } else {
                let exact = vec![Reading::EXACT; paper.flowing.len()];
                match rework(&case, self.taken, &exact, &self.policy.limits) {
                    Some(numbers) => paper.of(&case).redone(numbers),
                    None => continue,
                }
            };
            let of_table = way.table.map_or(1.0 - from_table, |_| from_table);
            let of_gravity = way.gravity.map_or(1.0 - other_gravities, |_| ANOTHER_GRAVITY);
            let corner = Corner {
                cause: way.cause(),
                view,
            };
            workings.otherwise.push((corner, of_table * of_gravity));
        }
        Ok(())
    }

    /// A student's own answers, which have more figures behind them than were handed in.
    fn rounded_answers(&self, paper: &View<'a>, workings: &mut Workings<'a>) -> Checked<()> {
        let exact = vec![Reading::EXACT; paper.flowing.len()];
        for (i, (name, value)) in self.taken.iter().enumerate() {
            // In another unit half a unit may be as much as half a per cent.
            let by = worst_rounding() * value.abs();
            let moved = |side: f64| {
                let mut taken = self.taken.to_vec();
                taken[i].1 = value + side * by;
                self.redone(paper, &taken, &exact)
            };
            workings.rounded.push(Rounded {
                name: Some(name.clone()),
                is_known: false,
                written: 1.0,
                large: 1.0,
                head_of: None,
                route: None,
                by,
                unit: 1.0,
                views: [moved(-1.0)?, moved(1.0)?],
            });
        }
        Ok(())
    }

    /// Each number that the hand method writes down. What is written before it stands meanwhile.
    fn rounded(&self, paper: &View<'a>, workings: &mut Workings<'a>, tracks: &[Track<'_>]) -> Checked<()> {
        let exact = vec![Reading::EXACT; paper.flowing.len()];
        let mut written = written(self.case);
        // One of two viscosities is worked out by who takes the Reynolds number from it.
        let by_lines = !matches!(self.case, Case::Network(_) | Case::Tank(_) | Case::Path(_));
        let viscosity = "nu".to_owned();
        let has_own = by_lines && !written.contains(&viscosity);
        if has_own {
            written.insert(0, viscosity);
        }
        // What a part asks for is written in its unit.
        let unit_of = |name: &str| {
            let asked = tracks.iter().find_map(|track| match track {
                Track::Formula(Expr::Symbol(asked), unit) if asked == name => Some(unit.factor),
                _ => None,
            });
            asked.unwrap_or(1.0)
        };
        // In a network nothing that is written before moves with what is only rounded.
        let stands = !matches!(self.case, Case::Network(_));
        let mut pinned: Vec<(String, f64)> = Vec::new();
        // Factors by the way in which they are read, unless the method says itself where they stand.
        let mut gathered = gathered(self.case);
        gathered.resize(paper.flowing.len(), Vec::new());
        for (i, shares) in gathered.iter_mut().enumerate() {
            if paper.flowing[i].regime == Regime::Laminar {
                continue;
            }
            let bare = if matches!(self.case, Case::Meter(_)) {
                "C"
            } else {
                "f"
            };
            let named = paper.name_of(bare, i).map(str::to_owned);
            let is_listed =
                |name: &String| written.contains(name) || self.taken.iter().any(|(n, _)| n == name);
            let moved = |by: f64| {
                let mut readings = exact.clone();
                readings[i].factor = 1.0 + by;
                self.read(paper, &readings)
            };
            let add = |workings: &mut Workings<'a>, share: f64, large: f64, route: Option<Route>, views| {
                workings.rounded.push(Rounded {
                    name: None,
                    is_known: false,
                    written: 1.0,
                    large,
                    head_of: None,
                    route,
                    by: share,
                    unit: 1.0,
                    views,
                });
            };
            for &share in shares.iter() {
                let views = [moved(-share)?, moved(share)?];
                let Some(link) = self.side_by_side(i) else {
                    add(workings, share, 1.0, None, views);
                    continue;
                };
                // What is gathered serves to share the flow; factor and loss are had from the flow then.
                let own = Route {
                    loss: link,
                    from: link,
                };
                let [low, high] = &views;
                add(
                    workings,
                    share,
                    1.0,
                    Some(own),
                    [
                        self.had_from_flows(paper, low, None)?,
                        self.had_from_flows(paper, high, None)?,
                    ],
                );
                let beside = Route {
                    loss: link,
                    from: usize::MAX,
                };
                let by = Some(link);
                add(
                    workings,
                    share,
                    1.0,
                    Some(beside),
                    [
                        self.had_from_flows(paper, low, by)?,
                        self.had_from_flows(paper, high, by)?,
                    ],
                );
            }
            if !named.as_ref().is_some_and(is_listed) {
                let factor = named.as_ref().and_then(|name| paper.own(name)).map(|q| q.value);
                let (share, large) = match (factor, &named) {
                    (Some(factor), Some(name)) => workings.half_a_unit(name, factor, 1.0),
                    _ => (worst_rounding(), 1.0),
                };
                add(workings, share, large, None, [moved(-share)?, moved(share)?]);
            }
        }
        for name in written {
            let Some(value) = workings.right.own(&name).map(|q| q.value) else {
                continue;
            };
            let is_known = workings.hangs_on_givens(|view| view.own(&name).map(|q| q.value));
            let unit = unit_of(&name);
            let (share, large) = if is_known || !stands {
                (half_unit(value / unit) * unit / value.abs(), 1.0)
            } else {
                workings.half_a_unit(&name, value, unit)
            };
            let by = if value == 0.0 { 0.0 } else { share * value.abs() };
            if !stands {
                pinned.clear();
            }
            pinned.push((name.clone(), value));
            if by == 0.0 {
                continue;
            }
            let mut moved = |becomes: f64| {
                if let Some(last) = pinned.last_mut() {
                    last.1 = becomes;
                }
                self.redone(paper, &pinned, &exact)
            };
            if let (Ok(one), Ok(other)) = (moved(value - by), moved(value + by)) {
                workings.rounded.push(Rounded {
                    written: if has_own && name == "nu" { WRITE_DOWN } else { 1.0 },
                    route: self.route_of(&name),
                    name: Some(name.clone()),
                    is_known,
                    large,
                    head_of: None,
                    by,
                    unit,
                    views: [one, other],
                });
            }
            if let Some(last) = pinned.last_mut() {
                last.1 = value;
            }
        }
        self.losses(paper, workings)?;
        if let Case::Tank(case) = self.case {
            for (becomes, is_known) in tank::before_the_time(case) {
                let views = becomes.map(|time| workings.right.with("t", time));
                if is_known {
                    workings.more.push(views);
                } else {
                    workings.rounded.push(Rounded {
                        name: None,
                        is_known,
                        written: WRITE_DOWN,
                        large: 1.0,
                        head_of: None,
                        route: None,
                        by: f64::NAN,
                        unit: 1.0,
                        views,
                    });
                }
            }
        }
        Ok(())
    }

    /// Velocity heads that are written down before a loss, and losses that are had from another pipe's flow.
    fn losses(&self, paper: &View<'a>, workings: &mut Workings<'a>) -> Checked<()> {
        let of_velocities = match self.case {
            Case::Leak(_) => vec![("h_f_upstream".to_owned(), "V_upstream".to_owned())],
            Case::Network(case) => network::of_velocity_heads(case),
            _ => return Ok(()),
        };
        let exact = vec![Reading::EXACT; paper.flowing.len()];
        let own = |view: &View<'_>, name: &str| view.own(name).map(|q| q.value);
        let mut free = Vec::new();
        for (loss, velocity) in of_velocities {
            let right = &workings.right;
            let values = (own(right, &loss), own(right, &velocity), own(right, "g"));
            let (Some(lost), Some(speed), Some(gravity)) = values else {
                continue;
            };
            let head = speed * speed / (2.0 * gravity);
            if !workings.hangs_on_givens(|view| own(view, &velocity)) {
                let route = self.route_of(&velocity);
                free.push((loss, half_unit(head) / head, WRITE_DOWN, route));
                continue;
            }
            let by = half_unit(head);
            let moved = |by: f64| {
                let becomes = lost * (1.0 + by / head);
                self.redone(paper, &[(loss.clone(), becomes)], &exact)
            };
            let rounded = Rounded {
                name: None,
                is_known: true,
                written: WRITE_DOWN,
                large: 1.0,
                head_of: Some(velocity.clone()),
                route: None,
                by,
                unit: 1.0,
                views: [moved(-by)?, moved(by)?],
            };
            let is_velocity = |known: &Rounded<'_>| known.name.as_ref() == Some(&velocity);
            let after = workings.rounded.iter().position(is_velocity);
            let at = after.map_or(workings.rounded.len(), |at| at + 1);
            workings.rounded.insert(at, rounded);
        }
        if let Case::Network(case) = self.case {
            for (loss, from, share) in network::beside(case) {
                let name = own_result("h_L", &case.system.links[loss].name);
                free.push((name, share, 1.0, Some(Route { loss, from })));
            }
        }
        for (loss, share, written, route) in free {
            let Some(lost) = own(&workings.right, &loss).filter(|_| share.is_finite()) else {
                continue;
            };
            let moved = |by: f64| self.redone(paper, &[(loss.clone(), lost * (1.0 + by))], &exact);
            workings.rounded.push(Rounded {
                name: None,
                is_known: false,
                written,
                large: 1.0,
                head_of: None,
                route,
                by: share * lost.abs(),
                unit: 1.0,
                views: [moved(-share)?, moved(share)?],
            });
        }
        Ok(())
    }

    /// The network whose links all begin and end together, if it is one.
    fn beside(&self) -> Option<&'a NetworkCase> {
        match self.case {
            Case::Network(case) if case.network.nodes.len() == 2 => Some(case),
            _ => None,
        }
    }

    /// The link of a pipe, where links are side by side.
    fn side_by_side(&self, pipe: usize) -> Option<usize> {
        let case = self.beside()?;
        case.pipes().get(pipe).map(|(link, ..)| *link)
    }

    /// On the way to which loss a flow or a velocity is rounded, where links are side by side.
    fn route_of(&self, name: &str) -> Option<Route> {
        let case = self.beside()?;
        let names = case.system.pipe_names();
        let of_pipe = |pipe: usize| pipe_result("V", names[pipe], names.len());
        let by_flow = (case.system.links.iter()).position(|link| own_result("Q", &link.name) == name);
        let by_velocity = || (0..names.len()).find(|&pipe| of_pipe(pipe) == name);
        let link = by_flow.or_else(|| self.side_by_side(by_velocity()?))?;
        Some(Route {
            loss: link,
            from: link,
        })
    }

    /// What follows from the flows of a view; the loss of one link as the view has it.
    fn had_from_flows(&self, paper: &View<'a>, view: &View<'a>, loss: Option<usize>) -> Checked<View<'a>> {
        let Some(case) = self.beside() else {
            return Ok(view.clone());
        };
        let links = &case.system.links;
        let flows = links.iter().map(|link| own_result("Q", &link.name));
        let loss = loss.map(|link| own_result("h_L", &links[link].name));
        let taken: Vec<(String, f64)> = (flows.chain(loss))
            .filter_map(|name| view.own(&name).map(|q| (name, q.value)))
            .collect();
        self.redone(paper, &taken, &vec![Reading::EXACT; paper.flowing.len()])
    }

    fn open(&self, workings: &mut Workings<'a>) {
        match self.case {
            // From a student's own flows or head nothing is corrected any more.
            Case::Network(case) if self.taken.is_empty() => {
                for left in network::left_open(case, &self.policy.limits) {
                    workings.open.push((workings.right.of(&left), true));
                }
            }
            Case::Tank(case) => {
                for (name, share) in tank::closed(case) {
                    let Some(right) = workings.right.own(&name) else {
                        continue;
                    };
                    let closed = workings.right.with(&name, right.value * share);
                    workings.open.push((closed, false));
                }
            }
            Case::Meter(case) => {
                if let Some(left_out) = meter::fluid_left_out(case) {
                    let exact = vec![Reading::EXACT; workings.right.flowing.len()];
                    let taken = [self.taken, &[left_out]].concat();
                    if let Ok(view) = self.redone(&workings.right, &taken, &exact) {
                        workings.open.push((view, false));
                    }
                }
            }
            _ => {}
        }
    }
}

impl Workings<'_> {
    /// Half a unit of a result's third figure, as a share of what it is, and for how many it is as much.
    fn half_a_unit(&self, name: &str, value: f64, unit: f64) -> (f64, f64) {
        let mut span = (value.abs() / unit, value.abs() / unit);
        for corner in &self.corners {
            if let Some(now) = corner.view.own(name).map(|q| q.value.abs() / unit) {
                span = (span.0.min(now), span.1.max(now));
            }
        }
        let Half { share, large } = half_between(value / unit, span);
        if share.is_finite() {
            (share, large)
        } else {
            (0.0, 1.0)
        }
    }

    /// Whether a number is the same however factors are had.
    fn hangs_on_givens(&self, value: impl Fn(&View<'_>) -> Option<f64>) -> bool {
        let Some(right) = value(&self.right) else {
            return false;
        };
        (self.corners.iter()).all(|corner| {
            value(&corner.view).is_some_and(|now| (now - right).abs() <= SAME * right.abs().max(now.abs()))
        })
    }
}

/// How far a number reaches.
struct Reach {
    reference: f64,
    /// How the answers of careful students are spread.
    spread: Spread,
    /// How far it may reach beyond, below and above.
    margin: (f64, f64),
    /// How far rounding on the way moves it.
    rounding: Rounding,
    /// How far what is left open does.
    open: Rounding,
    /// What some causes make of it alone.
    alone: Vec<(Cause, f64, f64)>,
}

impl Reach {
    /// The ends between which nearly all careful answers lie, as they are handed in, or before.
    fn ends(&self, handed_in: Option<&HandedIn>) -> (f64, f64) {
        let beyond = if handed_in.is_some() {
            BEYOND
        } else {
            BEYOND_FOR_WORDS
        };
        let (mut low, mut high) = self.spread.ends(handed_in, beyond);
        if let Some(how) = handed_in {
            let last = how.last(self.reference);
            (low, high) = (low.min(self.reference - last), high.max(self.reference + last));
        }
        (low - self.margin.0, high + self.margin.1)
    }
}

/// An earlier number from which another is had.
struct Earlier<'a> {
    name: &'a str,
    /// The unit in which it is written \[SI units\].
    unit: f64,
    /// As it is with nothing moved.
    right: f64,
    /// By how much the other moves with it.
    slope: f64,
}

impl Earlier<'_> {
    /// How far the other is moved with it.
    fn moved(&self, view: &View<'_>) -> f64 {
        view.own(self.name)
            .map_or(f64::NAN, |q| self.slope * (q.value - self.right))
    }
}

/// What a rounding does to who has a loss by one route.
struct Routed {
    route: Route,
    /// How far it moves the answer.
    ends: (f64, f64),
    /// The same beyond an earlier answer.
    free: Free,
}

impl Routed {
    /// The roundings of each route together, as moves of those who go by it: half of all by the link's own flow, the others by
    /// those beside it.
    fn put_together(all: &[Self], rounding: &mut Rounding) -> Vec<Known> {
        let mut losses: Vec<usize> = all.iter().map(|routed| routed.route.loss).collect();
        losses.sort_unstable();
        losses.dedup();
        let of_loss = |loss: usize| {
            let of = |own: bool| -> Vec<&Self> {
                let is = |routed: &&Self| routed.route.loss == loss && (routed.route.from == loss) == own;
                all.iter().filter(is).collect()
            };
            [of(true), of(false)]
        };
        let mut known = Vec::new();
        for routes in losses.into_iter().map(of_loss) {
            let wide = |routed: &&Self| routed.ends.1 - routed.ends.0;
            let square = |route: &[&Self]| route.iter().map(|r| wide(r) * wide(r)).sum::<f64>();
            let wider = if square(&routes[0]) < square(&routes[1]) {
                1
            } else {
                0
            };
            for routed in &routes[wider] {
                rounding.free(routed.ends.0, routed.ends.1);
            }
            let mut of_habits = [Lot::new(), Lot::new(), Lot::new()];
            for route in &routes {
                let free: Vec<Free> = route.iter().map(|routed| routed.free).collect();
                for (all, lot) in of_habits.iter_mut().zip(sums(&free)) {
                    all.extend(lot.into_iter().map(|(by, share)| (by, 0.5 * share)));
                }
            }
            let [three, four, mixed] = of_habits;
            known.push(Known { three, four, mixed });
        }
        known.retain(|known| !known.is_nothing());
        known
    }
}

/// The sum of some roundings, each anywhere within its ends: by who keeps three figures, four, or mixes.
fn sums(all: &[Free]) -> [Lot; 3] {
    let reach: f64 = all
        .iter()
        .map(|free| free.ends.1.abs().max(free.ends.0.abs()))
        .sum();
    let cell = reach / ROUNDED_CELLS as f64;
    if cell == 0.0 || !cell.is_finite() {
        return std::array::from_fn(|_| vec![(0.0, 1.0)]);
    }
    let middle = 2 * ROUNDED_CELLS;
    // Each by the shares of those who are off by all of it, and by a tenth.
    let habits: [fn(f64) -> (f64, f64); 3] = [
        |large| (large, 1.0 - large),
        |large| (0.0, large),
        |large| (large / 3.0, 1.0 / 3.0),
    ];
    habits.map(|habit| {
        let mut line = vec![0.0; 2 * middle + 1];
        line[middle] = 1.0;
        for free in all {
            let (full, tenth) = habit(free.large);
            let parts = [(1.0, full * free.written), (0.1, tenth * free.written)];
            let mut next: Vec<f64> = line.iter().map(|s| s * (1.0 - parts[0].1 - parts[1].1)).collect();
            for (scale, share) in parts {
                let (low, high) = (scale * free.ends.0 / cell, scale * free.ends.1 / cell);
                let (from, to) = (low.round() as i64, high.round() as i64);
                for by in from..=to {
                    let (left, right) = (by as f64 - 0.5, by as f64 + 0.5);
                    let covered = if from == to {
                        1.0
                    } else {
                        (high.min(right) - low.max(left)).max(0.0) / (high - low)
                    };
                    for (i, own) in line.iter().enumerate() {
                        let at = usize::try_from(i as i64 + by).unwrap_or(usize::MAX);
                        if let Some(sum) = next.get_mut(at) {
                            *sum += own * share * covered;
                        }
                    }
                }
            }
            line = next;
        }
        let places = line.into_iter().enumerate().filter(|(_, share)| *share > 0.0);
        places
            .map(|(i, share)| ((i as f64 - middle as f64) * cell, share))
            .collect()
    })
}

/// A number on which an answer hangs.
#[derive(Clone, Copy)]
enum Track<'a> {
    /// A formula, and the unit in which it is asked.
    Formula(&'a Expr, &'a Unit),
    /// A result by its name.
    Result(&'a str),
    Margin(&'a Expr, &'a Expr),
    Reynolds(usize),
    Rough(usize),
}

/// The numbers on which an answer hangs.
fn tracks(asked: &Asked) -> Vec<Track<'_>> {
    match asked {
        Asked::Number { formula, unit, .. } => vec![Track::Formula(formula, unit)],
        Asked::Regime { pipe } => vec![Track::Reynolds(*pipe), Track::Rough(*pipe)],
        Asked::Choice { first_if, .. } => {
            let mut leaves = Vec::new();
            comparisons(first_if, &mut leaves);
            leaves
                .into_iter()
                .map(|(left, right)| Track::Margin(left, right))
                .collect()
        }
    }
}

impl Track<'_> {
    fn value(&self, view: &View<'_>) -> Result<f64, EquationError> {
        Ok(match self {
            Self::Formula(formula, _) => view.value(formula)?.value,
            Self::Result(name) => view.own(name).map_or(f64::NAN, |q| q.value),
            Self::Margin(left, right) => view.value(left)?.value - view.value(right)?.value,
            Self::Reynolds(i) => view.flowing.get(*i).map_or(f64::NAN, |f| f.reynolds),
            Self::Rough(i) => view.flowing.get(*i).map_or(f64::NAN, |f| f.rough_number),
        })
    }

    /// How far rounding on the way moves it, as shares of its value; nothing where it has none.
    fn rounding_share(&self, workings: &Workings<'_>) -> (f64, f64) {
        let Ok(reach) = self.reach(workings, None) else {
            return (0.0, 0.0);
        };
        let (below, above) = reach.rounding.reach();
        let share = |by: f64| {
            let share = by / reach.reference.abs();
            if share.is_finite() { share } else { 0.0 }
        };
        (share(below), share(above))
    }

    /// `share` is what rounding on the way moves it by, where that is known beforehand.
    fn reach(&self, workings: &Workings<'_>, share: Option<(f64, f64)>) -> Result<Reach, EquationError> {
        let right = &workings.right;
        let reference = self.value(right)?;
        let mut reach = Reach {
            reference,
            spread: Spread {
                reference,
                ..Spread::default()
            },
            margin: (0.0, 0.0),
            rounding: Rounding::default(),
            open: Rounding::default(),
            alone: Vec::new(),
        };
        let alone = |cause: Option<Cause>, value: f64, all: &mut Vec<(Cause, f64, f64)>| {
            let Some(cause) = cause else { return };
            match all.iter_mut().find(|(known, ..)| *known == cause) {
                Some((_, low, high)) => (*low, *high) = (low.min(value), high.max(value)),
                None => all.push((cause, reference.min(value), reference.max(value))),
            }
        };
        for corner in &workings.corners {
            alone(corner.cause, self.value(&corner.view)?, &mut reach.alone);
        }
        for view in workings.alone.iter().flatten() {
            alone(Some(Cause::Reading), self.value(view)?, &mut reach.alone);
        }
        for (corner, _) in &workings.otherwise {
            alone(corner.cause, self.value(&corner.view)?, &mut reach.alone);
        }
        let own = match self {
            Self::Formula(Expr::Symbol(name), _) => Some(name.as_str()),
            Self::Result(name) => Some(*name),
            _ => None,
        };
        let earlier = match share {
            None => self.earlier(workings, own, reference)?,
            Some(_) => None,
        };
        // What moves it beyond what comes from the earlier number.
        let beyond = |view: &View<'_>| -> Result<f64, EquationError> {
            let from_earlier = earlier.as_ref().map_or(0.0, |earlier| earlier.moved(view));
            Ok(self.value(view)? - reference - from_earlier)
        };
        let bears = |loss: usize| self.bears(workings, own, loss);
        let mut routes: Vec<Routed> = Vec::new();
        // The answer itself is written down last.
        let mut listed = Vec::new();
        for rounded in &workings.rounded {
            let name = rounded.name.as_deref();
            listed.extend(name);
            if rounded.is_known || own.is_some() && name == own {
                continue;
            }
            let [one, other] = &rounded.views;
            let ends = (self.value(one)? - reference, self.value(other)? - reference);
            let is_earlier = name.is_some() && earlier.as_ref().map(|e| e.name) == name;
            let free = Free {
                written: rounded.written,
                large: rounded.large,
                ..Free::new(beyond(one)?, beyond(other)?)
            };
            match rounded.route {
                Some(route) if bears(route.loss)? => routes.push(Routed { route, ends, free }),
                Some(route) if route.loss != route.from => {}
                _ => {
                    reach.rounding.free(ends.0, ends.1);
                    if !is_earlier {
                        reach.spread.free.push(free);
                    }
                }
            }
        }
        let routed = Routed::put_together(&routes, &mut reach.rounding);
        let mut left_open = 0.0;
        let mut methods = vec![(right, 0.0)];
        for (view, both_ways) in &workings.open {
            let by = self.value(view)? - reference;
            if *both_ways {
                reach.open.free(-by, by);
                left_open += by * by;
            } else {
                reach.open.known(by.min(0.0), by.max(0.0));
                methods.push((view, beyond(view)?));
            }
        }
        match &earlier {
            None => reach.spread.factors = self.factors(workings, reference, left_open.sqrt())?,
            Some(earlier) => {
                reach.spread.through = Some(Box::new(Through {
                    spread: Track::Result(earlier.name).reach(workings, None)?.spread,
                    how: HandedIn {
                        unit: earlier.unit,
                        figures: CARRIED_FIGURES,
                        worked_out: true,
                    },
                    slope: earlier.slope,
                }));
            }
        }
        let paper = 1.0 - workings.otherwise.iter().map(|(_, share)| share).sum::<f64>();
        let others = workings
            .otherwise
            .iter()
            .map(|(corner, share)| (&corner.view, *share));
        for (way, share) in std::iter::once((right, paper)).chain(others) {
            let of_way = beyond(way)?;
            for (method, of_method) in &methods {
                let mut known = self.known(workings, own, earlier.as_ref(), [way, method])?;
                known.extend(routed.clone());
                reach.spread.ways.push(Taken {
                    share: share / methods.len() as f64,
                    by: of_way + of_method,
                    known,
                });
            }
        }
        for known in &self.known(workings, own, None, [right, right])? {
            let moves = || [&known.three, &known.four, &known.mixed].into_iter().flatten();
            let low = moves().fold(0.0_f64, |low, (by, _)| low.min(*by));
            let high = moves().fold(0.0_f64, |high, (by, _)| high.max(*by));
            reach.rounding.known(low, high);
        }
        match share {
            Some((below, above)) => {
                reach.margin = (below * reference.abs(), above * reference.abs());
                reach.rounding.known(-reach.margin.0, reach.margin.1);
            }
            None => self.written_last(workings, &listed, &mut reach)?,
        }
        reach
            .spread
            .free
            .retain(|free| free.ends.1 - free.ends.0 > 1e-7 * reference.abs());
        Ok(reach)
    }

    /// The nearest earlier number from which it is had, and nothing else that is read: whatever is misread moves both alike,
    /// and so does how the earlier one is written down.
    fn earlier<'w>(
        &self,
        workings: &'w Workings<'_>,
        own: Option<&str>,
        reference: f64,
    ) -> Result<Option<Earlier<'w>>, EquationError> {
        let mut moves = Vec::with_capacity(workings.corners.len());
        for corner in &workings.corners {
            moves.push(self.value(&corner.view)? - reference);
        }
        let most = moves.iter().fold(0.0_f64, |most, by| most.max(by.abs()));
        if !matches!(self, Self::Formula(..) | Self::Result(_)) || most < 1e-4 * reference.abs() {
            return Ok(None);
        }
        let is_own = |rounded: &Rounded<'_>| own.is_some() && rounded.name.as_deref() == own;
        let until = workings.rounded.iter().position(is_own);
        for rounded in workings.rounded[..until.unwrap_or(workings.rounded.len())]
            .iter()
            .rev()
        {
            let Some(name) = rounded.name.as_deref().filter(|_| !rounded.is_known) else {
                continue;
            };
            let of = |view: &View<'_>| view.own(name).map_or(f64::NAN, |q| q.value);
            let right = of(&workings.right);
            let theirs: Vec<f64> = (workings.corners.iter())
                .map(|corner| of(&corner.view) - right)
                .collect();
            let Some(slope) = slope_alike(&theirs, &moves) else {
                continue;
            };
            let [one, other] = &rounded.views;
            let written = (self.value(other)? - self.value(one)?) / (2.0 * rounded.by);
            if (written / slope - 1.0).abs() < 0.1 {
                return Ok(Some(Earlier {
                    name,
                    unit: rounded.unit,
                    right,
                    slope,
                }));
            }
        }
        Ok(None)
    }

    /// Whether it is had from the loss of one of the links that begin and end together.
    fn bears(&self, workings: &Workings<'_>, own: Option<&str>, loss: usize) -> Result<bool, EquationError> {
        let Some(name) = workings.losses.get(loss).map(String::as_str) else {
            return Ok(false);
        };
        if own == Some(name) {
            return Ok(true);
        }
        let mut listed = workings.rounded.iter();
        match listed.find(|rounded| rounded.name.as_deref() == Some(name)) {
            Some(rounded) => {
                let [one, other] = &rounded.views;
                let (one, other) = (self.value(one)?, self.value(other)?);
                Ok((other - one).abs() > SAME * one.abs().max(other.abs()))
            }
            None => Ok(false),
        }
    }

    /// How students have the factors, and what that moves it by; `left_open` is what they may leave over besides.
    fn factors(
        &self,
        workings: &Workings<'_>,
        reference: f64,
        left_open: f64,
    ) -> Result<Vec<Had>, EquationError> {
        let by = |view: &View<'_>| -> Result<f64, EquationError> { Ok(self.value(view)? - reference) };
        let between = |one: f64, other: f64| (one.min(other), one.max(other));
        let mut all = Vec::new();
        let mut add = |share: f64, even: Vec<(f64, f64)>| all.push(Had { share, even });
        let Some(alike) = workings.alike else {
            if left_open > 0.0 {
                add(1.0, vec![(-left_open, left_open)]);
            }
            return Ok(all);
        };
        let rough = workings
            .corners
            .iter()
            .find(|corner| corner.cause == Some(Cause::FullyRough));
        let mut levels = vec![(0.0, 1.0)];
        if let Some(rough) = rough {
            levels = vec![(0.0, 1.0 - STOP_WHEN_ROUGH), (by(&rough.view)?, STOP_WHEN_ROUGH)];
        }
        let formulas: Vec<&Corner<'_>> = (workings.corners.iter())
            .filter(|corner| corner.cause == Some(Cause::Formula))
            .collect();
        let each = (1.0 - READ_THE_CHART) / (formulas.len() + 1) as f64;
        let [low, high] = [
            by(&workings.corners[alike[0]].view)?,
            by(&workings.corners[alike[1]].view)?,
        ];
        let together = if workings.alone.is_empty() {
            1.0
        } else {
            READ_ALIKE
        };
        for (level, of_level) in levels {
            let stops = level != 0.0;
            let mut had = |share: f64, mut even: Vec<(f64, f64)>| {
                even.push((level, level));
                if left_open > 0.0 {
                    even.push((-left_open, left_open));
                }
                add(of_level * share, even);
            };
            let at = |by: f64| vec![(by, by)];
            had(each, at(0.0));
            for corner in &formulas {
                had(each, at(if stops { 0.0 } else { by(&corner.view)? }));
            }
            let read = READ_THE_CHART * together;
            had(read * (1.0 - AT_THE_END), vec![between(low, high)]);
            had(0.5 * read * AT_THE_END, at(low));
            had(0.5 * read * AT_THE_END, at(high));
            if together == 1.0 {
                continue;
            }
            let read = READ_THE_CHART * (1.0 - together);
            let mut pieces = Vec::new();
            for [one, other] in &workings.alone {
                pieces.push(between(by(one)?, by(other)?));
            }
            had(read * (1.0 - AT_THE_END), pieces.clone());
            let count = workings.ends.len() as f64;
            for end in &workings.ends {
                had(read * AT_THE_END / count, at(by(&workings.corners[*end].view)?));
            }
            if workings.ends.is_empty() {
                // Of many a sum of ends is spread as one of wider pieces.
                let wider = pieces
                    .iter()
                    .map(|(low, high)| (low * 3.0_f64.sqrt(), high * 3.0_f64.sqrt()));
                had(read * AT_THE_END, wider.collect());
            }
        }
        Ok(all)
    }

    /// What keeping the numbers does that are had from givens alone, taken one way and worked by one method.
    fn known(
        &self,
        workings: &Workings<'_>,
        own: Option<&str>,
        earlier: Option<&Earlier<'_>>,
        [way, method]: [&View<'_>; 2],
    ) -> Result<Vec<Known>, EquationError> {
        let beyond = |view: &View<'_>| -> Result<f64, EquationError> {
            Ok(self.value(view)? - earlier.map_or(0.0, |earlier| earlier.moved(view)))
        };
        let list: Vec<(&Rounded<'_>, Line<'_>)> = (workings.rounded.iter())
            .filter(|rounded| rounded.is_known)
            .filter(|rounded| own.is_none() || own != rounded.name.as_deref())
            .filter_map(|rounded| Some((rounded, rounded.line()?)))
            .collect();
        let of = |view: &View<'_>, line: &Line<'_>| line.value(view);
        let answer = self.value(&workings.right)?;
        let least = 1e-7 * answer.abs();
        let mut numbers = Vec::with_capacity(list.len());
        for (rounded, name) in &list {
            let [one, other] = &rounded.views;
            let right = of(&workings.right, name);
            let ends = [beyond(one)?, beyond(other)?];
            let half_per_cent = 0.5 * (ends[1] - ends[0]) / rounded.by * worst_rounding() * right;
            numbers.push(Number {
                value: of(way, name) + (of(method, name) - right),
                unit: rounded.unit,
                written: rounded.written,
                answer: if half_per_cent.abs() < least {
                    Leaning::NONE
                } else {
                    Leaning::of(right, rounded.by, ends, answer)
                },
                others: (list.iter())
                    .map(|(_, later)| {
                        let ends = [of(one, later), of(other, later)];
                        Leaning::of(right, rounded.by, ends, of(&workings.right, later))
                    })
                    .collect(),
            });
        }
        let taken = answer + (self.value(way)? - answer) + (self.value(method)? - answer);
        let mut all = followed(&numbers, taken);
        for [three, four] in &workings.more {
            let right = self.value(&workings.right)?;
            let whole = Known::simple(beyond(three)? - right, beyond(four)? - right);
            let some = |lot: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
                let written = lot.into_iter().map(|(by, share)| (by, share * WRITE_DOWN));
                written.chain([(0.0, 1.0 - WRITE_DOWN)]).collect()
            };
            all.push(Known {
                three: some(whole.three),
                four: some(whole.four),
                mixed: some(whole.mixed),
            });
        }
        all.retain(|known| !known.is_nothing());
        Ok(all)
    }

    /// Results that a formula uses and that no list has, and the answer itself before it is handed in.
    fn written_last(
        &self,
        workings: &Workings<'_>,
        listed: &[&str],
        reach: &mut Reach,
    ) -> Result<(), EquationError> {
        let right = &workings.right;
        let symbols = match self {
            Self::Formula(Expr::Symbol(_), _) => Default::default(),
            Self::Formula(formula, _) => formula.symbols(),
            Self::Margin(left, right) => (left.symbols().into_iter()).chain(right.symbols()).collect(),
            Self::Result(_) | Self::Reynolds(_) | Self::Rough(_) => Default::default(),
        };
        for name in symbols {
            let Some(value) = right.own(&name).map(|q| q.value) else {
                continue;
            };
            if listed.contains(&name.as_str())
                || workings.hangs_on_givens(|view| view.own(&name).map(|q| q.value))
            {
                continue;
            }
            let moved = self.value(&right.with(&name, value + half_unit(value)))? - reach.reference;
            reach.rounding.free(-moved, moved);
            reach.spread.free.push(Free::new(-moved, moved));
        }
        if let Self::Formula(_, unit) = self {
            let written = unit.from_si(reach.reference);
            let by = (unit.to_si(written + half_unit(written)) - reach.reference).abs();
            reach.rounding.free(-by, by);
        }
        Ok(())
    }
}

/// The band of a number.
fn band(reference: Quantity, reach: &Reach, unit: &Unit, figures: u32) -> Band {
    let how = HandedIn {
        unit: unit.factor,
        figures,
        worked_out: true,
    };
    let right = reach.reference;
    let last = how.last(right);
    let around = |rounding: &Rounding| {
        let (below, above) = rounding.reach();
        (right - below, right + above)
    };
    let mut causes: Vec<(Cause, f64, f64)> = Cause::ALL
        .iter()
        .map(|cause| {
            let of = reach.alone.iter().find(|(known, ..)| known == cause);
            let (low, high) = match cause {
                Cause::OnTheWay => around(&reach.rounding),
                Cause::Method => around(&reach.open),
                Cause::LastFigure => (right - last, right + last),
                _ => of.map_or((right, right), |(_, low, high)| (*low, *high)),
            };
            (*cause, low, high)
        })
        .collect();
    causes.retain(|(cause, low, high)| low < high || *cause == Cause::LastFigure);
    Band::new(reference, reach.ends(Some(&how)), causes)
}

fn accept(asked: &Asked, workings: &Workings<'_>, limits: &Limits) -> Result<Accepted, EquationError> {
    let right = &workings.right;
    let mut reaches = Vec::new();
    for (i, track) in tracks(asked).iter().enumerate() {
        let share = workings.shares.as_ref().and_then(|shares| shares.get(i).copied());
        reaches.push(track.reach(workings, share)?);
    }
    Ok(match asked {
        Asked::Number {
            formula,
            figures,
            unit,
        } => match reaches.first() {
            Some(reach) => Accepted::Number(band(right.value(formula)?, reach, unit, *figures)),
            None => Accepted::OneOf(Vec::new()),
        },
        Asked::Regime { .. } => {
            let [reynolds, rough] = reaches.as_slice() else {
                return Ok(Accepted::OneOf(Vec::new()));
            };
            let first = regime::classify(reynolds.reference, rough.reference, limits);
            let others = regimes(reynolds.ends(None), rough.ends(None), limits);
            Accepted::OneOf(
                std::iter::once(first)
                    .chain(others.into_iter().filter(|other| *other != first))
                    .map(Answer::Regime)
                    .collect(),
            )
        }
        Asked::Choice { options, first_if } => {
            let holds = right.holds(first_if, None)?;
            let (can_hold, can_fail) = truth(first_if, &mut reaches.iter().map(|reach| reach.ends(None)));
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

pub(super) fn bands(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    kind: &dyn Solution,
    policy: &Policy,
) -> Checked<Vec<Accepted>> {
    let of_pipes = of_pipes(case);
    let work = Work {
        case,
        kind,
        policy,
        critical_allowed: asks_for_critical(template),
        taken: &[],
    };
    let all: Vec<Track<'_>> = (template.parts.iter())
        .flat_map(|part| tracks(&part.asked))
        .collect();
    let workings = work.all(givens, &of_pipes, &all)?;
    (template.parts.iter())
        .map(|part| {
            accept(&part.asked, &workings, &policy.limits).map_err(|error| {
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

/// A student's earlier answers stand for results, from which the working is redone: the one result that an answer
/// settles. Where it settles none, it stands in a later part's formula in the place of what it answered.
pub(super) fn follow_through(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    kind: &dyn Solution,
    (part, earlier): (usize, &[(usize, Quantity)]),
    policy: &Policy,
) -> Option<Accepted> {
    let of_pipes = of_pipes(case);
    let right = View::new(givens, case, &of_pipes);
    let mut asked = template.parts.get(part)?.asked.clone();
    let exact = vec![Reading::EXACT; right.flowing.len()];
    let mut taken: Vec<(String, f64)> = Vec::new();
    let mut swapped = false;
    for (earlier, answer) in earlier {
        let Asked::Number { formula, .. } = &template.parts.get(*earlier)?.asked else {
            continue;
        };
        let result = settles(case, &right, formula, answer.value)
            .filter(|result| rework(case, std::slice::from_ref(result), &exact, &policy.limits).is_some());
        match result {
            Some(result) => taken.push(result),
            None => swapped |= swap(&mut asked, formula, answer),
        }
    }
    if taken.is_empty() && !swapped {
        return None;
    }
    let work = Work {
        case,
        kind,
        policy,
        critical_allowed: true,
        taken: &taken,
    };
    let all = tracks(&asked);
    let workings = work.all(givens, &of_pipes, &all).ok()?;
    let bears = swapped
        || all.iter().any(|track| {
            let (now, before) = (track.value(&workings.right), track.value(&right));
            matches!((now, before), (Ok(now), Ok(before)) if (now - before).abs() > SAME * before.abs())
        });
    if !bears {
        return None;
    }
    accept(&asked, &workings, &policy.limits).ok()
}

/// The one result that an answer to `formula` settles, and its value.
fn settles(case: &Case, right: &View<'_>, formula: &Expr, answer: f64) -> Option<(String, f64)> {
    let system = case.system();
    let results = system.results();
    // A property that is sought is a result like any other.
    let sought = written(case);
    let is_result = |name: &str| {
        let is_sought = || sought.iter().any(|known| known == name);
        results.iter().any(|result| result.name == name) && (!is_fluid(name) || is_sought())
    };
    if let Expr::Symbol(name) = formula {
        return (is_result(name) && right.own(name).is_some()).then(|| (name.clone(), answer));
    }
    // What the paper states, and what is had from it alone, is no student's.
    let of_measures = |name: &str| {
        let bare = |bases: &[&str]| {
            let result = results.iter().find(|result| result.name == name);
            let base = result.and_then(|result| result.of_pipe.as_ref());
            base.map_or(bases.contains(&name), |(base, _)| bases.contains(&base.as_str()))
        };
        bare(&["A", "rr"])
    };
    let mut open = (formula.symbols().into_iter())
        .filter(|name| is_result(name) && right.own(name).is_some() && !of_measures(name))
        .filter(|name| {
            !matches!(
                system.kind().and_then(|kind| kind.stated(name)),
                Some(Value::Known(_))
            )
        });
    let (Some(name), None) = (open.next(), open.next()) else {
        return None;
    };
    let found = settled_by(right.own(&name)?.value, answer, |value| {
        right
            .with(&name, value)
            .value(formula)
            .ok()
            .map(|found| found.value)
    });
    found.map(|value| (name, value))
}

fn is_fluid(name: &str) -> bool {
    matches!(name, "rho" | "mu" | "nu" | "g")
}
