//! Bands, constraints and follow-through of every kind of system but the path.
//!
//! A case is solved again at every corner of careful work: each friction factor read too high and too low by what
//! the chart allows there, each accepted formula in the chart's place, fully rough flow where its check allows it, the
//! fluid and gravity taken otherwise. Rounding on the way moves each number that the hand method writes down by
//! half a unit of its third figure, and the working is redone from there; what is had from givens alone moves by
//! what its rounding is known to be. What a kind's hand method leaves open beyond that it says itself.
//!
//! Follow-through is the same with some results taken for true: the working is redone from them at every corner.

use super::careful::{asks_for_critical, comparisons, regimes, truth, widen};
use super::otherwise::Otherwise;
use super::reading::formulas;
use super::rounding::Rounding;
use super::together::Causes;
use super::working::half_unit;
use super::{Accepted, Band, Cause, ageing, leak, meter, misreading, network, profile, tank};
use crate::bank::course::Policy;
use crate::bank::system::Value;
use crate::bank::template::{Asked, Constraint, Template};
use crate::constants::policy::CARRIED_FIGURES;
use crate::equation::{Bindings, EquationError, Expr};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::regime::{self, Limits, Regime};
use crate::quantity::{Quantity, Unit, Written, round_to_figures};
use crate::solution::{Answer, Case, Flowing, Solution, Unsolved};
use std::rc::Rc;

/// Up to this many factors every corner of independent readings is worked; beyond, the corners to which each answer
/// leans.
const INDEPENDENT: usize = 5;
/// Results that differ by no more than this share are the same but for a solver's last digits.
const SAME: f64 = 1e-9;

/// The worst that one rounding to the figures that are carried does to a number \[–\].
pub(super) fn worst_rounding() -> f64 {
    0.5 * libm::pow(10.0, 1.0 - f64::from(CARRIED_FIGURES))
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

/// A number that is written down on the way, rounded one way and the other.
struct Rounded<'a> {
    /// The result, where it is one.
    name: Option<String>,
    /// Whether it is had from givens alone, so that its rounding is known.
    is_known: bool,
    views: [View<'a>; 2],
}

/// A case worked in every way in which careful work goes.
struct Workings<'a> {
    /// The reference.
    right: View<'a>,
    /// Factors read, had from a formula, or taken as fully rough.
    corners: Vec<Corner<'a>>,
    /// Each factor alone read too low and too high, in order.
    alone: Vec<[View<'a>; 2]>,
    /// Fluid and gravity taken otherwise.
    otherwise: Vec<Corner<'a>>,
    rounded: Vec<Rounded<'a>>,
    /// As who always keeps three figures of what is had from givens alone finds it, and who always keeps four.
    kept: Vec<(u32, View<'a>)>,
    /// What the hand method leaves open: one view each where it may end as well, and whether as far on the other side.
    open: Vec<(View<'a>, bool)>,
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
            alone: Vec::new(),
            otherwise: Vec::new(),
            rounded: Vec::new(),
            kept: Vec::new(),
            open: Vec::new(),
            shares: None,
        };
        self.readings(&paper, &mut workings, tracks)?;
        self.otherwise(&paper, &mut workings)?;
        if self.taken.is_empty() {
            self.rounded(&paper, &mut workings)?;
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
                add(workings, &spread(bits))?;
            }
            return Ok(());
        }
        let all = vec![true; flowing.len()];
        let none = vec![false; flowing.len()];
        add(workings, &all)?;
        add(workings, &none)?;
        for &i in &read {
            let alone = |by: f64| -> Checked<View<'a>> {
                let mut readings = exact.clone();
                readings[i].factor = 1.0 + by;
                self.read(paper, &readings)
            };
            workings.alone.push([alone(-allowed[i])?, alone(allowed[i])?]);
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
        for way in Otherwise::of_case(self.case, self.policy).ways() {
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
            workings.otherwise.push(Corner {
                cause: way.cause(),
                view,
            });
        }
        Ok(())
    }

    /// A student's own answers, which have more figures behind them than were handed in.
    fn rounded_answers(&self, paper: &View<'a>, workings: &mut Workings<'a>) -> Checked<()> {
        let exact = vec![Reading::EXACT; paper.flowing.len()];
        for (i, (name, value)) in self.taken.iter().enumerate() {
            let by = half_unit(*value, 0.0);
            let moved = |side: f64| {
                let mut taken = self.taken.to_vec();
                taken[i].1 = value + side * by;
                self.redone(paper, &taken, &exact)
            };
            workings.rounded.push(Rounded {
                name: Some(name.clone()),
                is_known: false,
                views: [moved(-1.0)?, moved(1.0)?],
            });
        }
        Ok(())
    }

    /// Each number that the hand method writes down. What is written before it stands meanwhile.
    fn rounded(&self, paper: &View<'a>, workings: &mut Workings<'a>) -> Checked<()> {
        let exact = vec![Reading::EXACT; paper.flowing.len()];
        let written = written(self.case);
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
            if !named.as_ref().is_some_and(is_listed) {
                let factor = named.as_ref().and_then(|name| paper.own(name)).map(|q| q.value);
                shares.push(factor.map_or(worst_rounding(), |f| half_unit(f, 0.0) / f));
            }
            for share in shares {
                let moved = |by: f64| {
                    let mut readings = exact.clone();
                    readings[i].factor = 1.0 + by;
                    self.read(paper, &readings)
                };
                workings.rounded.push(Rounded {
                    name: None,
                    is_known: false,
                    views: [moved(-*share)?, moved(*share)?],
                });
            }
        }
        for name in written {
            let Some(value) = workings.right.own(&name).map(|q| q.value) else {
                continue;
            };
            let is_known = workings.hangs_on_givens(|view| view.own(&name).map(|q| q.value));
            let becomes = if is_known {
                let off = workings.known_off(&Unit::none(), |view| view.own(&name).map(|q| q.value));
                [value * (1.0 + off.0), value * (1.0 + off.1)]
            } else {
                [value - half_unit(value, 0.0), value + half_unit(value, 0.0)]
            };
            if !stands {
                pinned.clear();
            }
            pinned.push((name.clone(), value));
            if becomes == [value, value] {
                continue;
            }
            let mut moved = |becomes: f64| {
                if let Some(last) = pinned.last_mut() {
                    last.1 = becomes;
                }
                self.redone(paper, &pinned, &exact)
            };
            if let (Ok(one), Ok(other)) = (moved(becomes[0]), moved(becomes[1])) {
                workings.rounded.push(Rounded {
                    name: Some(name.clone()),
                    is_known,
                    views: [one, other],
                });
            }
            if let Some(last) = pinned.last_mut() {
                last.1 = value;
            }
        }
        for figures in [CARRIED_FIGURES, CARRIED_FIGURES + 1] {
            let mut taken = self.taken.to_vec();
            let mut view = workings.right.clone();
            for rounded in workings.rounded.iter().filter(|rounded| rounded.is_known) {
                let Some(name) = &rounded.name else { continue };
                let Some(value) = view.own(name).map(|q| q.value) else {
                    continue;
                };
                taken.push((name.clone(), round_to_figures(value, figures)));
                if let Ok(redone) = self.redone(paper, &taken, &exact) {
                    view = redone;
                }
            }
            workings.kept.push((figures, view));
        }
        if let Case::Tank(case) = self.case {
            for (becomes, is_known) in tank::before_the_time(case) {
                let views = becomes.map(|time| workings.right.with("t", time));
                workings.rounded.push(Rounded {
                    name: None,
                    is_known,
                    views,
                });
            }
        }
        Ok(())
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
    /// By which shares of itself a number that is had from givens alone is off when it is kept to three figures or to four,
    /// whichever of the numbers before it was kept so.
    fn known_off(&self, unit: &Unit, value: impl Fn(&View<'_>) -> Option<f64>) -> (f64, f64) {
        let before = self.rounded.iter().filter(|rounded| rounded.is_known);
        let mut off = (0.0_f64, 0.0_f64);
        for view in before.flat_map(|rounded| &rounded.views).chain([&self.right]) {
            let Some(value) = value(view)
                .map(|si| unit.from_si(si))
                .filter(|value| *value != 0.0)
            else {
                continue;
            };
            for figures in [CARRIED_FIGURES, CARRIED_FIGURES + 1] {
                let by = round_to_figures(value, figures) / value - 1.0;
                off = (off.0.min(by), off.1.max(by));
            }
        }
        off
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
    /// Readings, formulas, fully rough flow.
    corners: (f64, f64),
    /// How far fluid and gravity move it, below and above.
    otherwise: (f64, f64),
    /// How far rounding on the way does.
    rounding: Rounding,
    /// How far what is left open does.
    open: Rounding,
    /// The two together.
    both: Rounding,
    /// How far each number that is had from givens alone moves it, down and up.
    known: Vec<(f64, f64)>,
    /// How far all of them do for who always keeps as many figures.
    kept: (f64, f64),
    /// What else moves it for many.
    sure: (f64, f64),
    /// What some causes make of it alone.
    alone: Vec<(Cause, f64, f64)>,
}

impl Reach {
    /// How far it reaches down and up with the answer's own rounding, which is `last` at its worst.
    fn with_last(&self, last: f64) -> (f64, f64) {
        let free = |deviations: f64| self.both.free_with(last, deviations);
        let often = |cause: &Cause| matches!(cause, Cause::Formula | Cause::FullyRough);
        let mut formulas = (self.reference, self.reference);
        for (_, low, high) in self.alone.iter().filter(|(cause, ..)| often(cause)) {
            formulas = (formulas.0.min(*low), formulas.1.max(*high));
        }
        let (lows, highs): (Vec<f64>, Vec<f64>) = self.known.iter().copied().unzip();
        let below = Causes {
            formulas: self.reference - formulas.0,
            readings: self.reference - self.corners.0,
            sure: self.otherwise.0 + self.sure.0,
            kept: -self.kept.0,
            known: lows,
            last,
        };
        let above = Causes {
            formulas: formulas.1 - self.reference,
            readings: self.corners.1 - self.reference,
            sure: self.otherwise.1 + self.sure.1,
            kept: self.kept.1,
            known: highs,
            last,
        };
        (
            below.together(|deviations| free(deviations).0),
            above.together(|deviations| free(deviations).1),
        )
    }

    fn ends(&self) -> (f64, f64) {
        let (below, above) = self.both.reach();
        (
            self.corners.0 - self.otherwise.0 - below,
            self.corners.1 + self.otherwise.1 + above,
        )
    }
}

/// A number on which an answer hangs.
#[derive(Clone, Copy)]
enum Track<'a> {
    /// A formula, and the unit in which it is asked.
    Formula(&'a Expr, &'a Unit),
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
            corners: (reference, reference),
            otherwise: (0.0, 0.0),
            rounding: Rounding::default(),
            open: Rounding::default(),
            both: Rounding::default(),
            known: Vec::new(),
            kept: (0.0, 0.0),
            sure: (0.0, 0.0),
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
            let value = self.value(&corner.view)?;
            widen(&mut reach.corners, value);
            alone(corner.cause, value, &mut reach.alone);
        }
        for view in workings.alone.iter().flatten() {
            let value = self.value(view)?;
            widen(&mut reach.corners, value);
            alone(Some(Cause::Reading), value, &mut reach.alone);
        }
        for corner in &workings.otherwise {
            let value = self.value(&corner.view)?;
            reach.otherwise.0 = reach.otherwise.0.max(reference - value);
            reach.otherwise.1 = reach.otherwise.1.max(value - reference);
            alone(corner.cause, value, &mut reach.alone);
        }
        for (figures, view) in &workings.kept {
            let value = self.value(view)?;
            let kept = match self {
                Self::Formula(_, unit) if workings.hangs_on_givens(|view| self.value(view).ok()) => {
                    unit.to_si(round_to_figures(unit.from_si(value), *figures))
                }
                _ => value,
            };
            widen(&mut reach.kept, kept - reference);
        }
        let own = match self {
            Self::Formula(Expr::Symbol(name), _) => Some(name.as_str()),
            _ => None,
        };
        let mut listed = Vec::new();
        for rounded in &workings.rounded {
            listed.extend(rounded.name.as_deref());
            // The answer itself is written down last.
            if own.is_some() && rounded.name.as_deref() == own {
                continue;
            }
            let one = self.value(&rounded.views[0])? - reference;
            let other = self.value(&rounded.views[1])? - reference;
            if rounded.is_known {
                reach
                    .known
                    .push((-one.min(other).min(0.0), one.max(other).max(0.0)));
            }
            for rounding in [&mut reach.rounding, &mut reach.both] {
                if rounded.is_known {
                    rounding.known(one, other);
                } else {
                    rounding.free(one, other);
                }
            }
        }
        match share {
            Some((below, above)) => {
                reach.sure.0 += below * reference.abs();
                reach.sure.1 += above * reference.abs();
                for rounding in [&mut reach.rounding, &mut reach.both] {
                    rounding.known(-below * reference.abs(), above * reference.abs());
                }
            }
            None => self.written_last(workings, &listed, &mut reach)?,
        }
        for (view, both_ways) in &workings.open {
            let by = self.value(view)? - reference;
            if !*both_ways {
                reach.sure.0 -= by.min(0.0);
                reach.sure.1 += by.max(0.0);
            }
            for rounding in [&mut reach.open, &mut reach.both] {
                if *both_ways {
                    rounding.free(-by, by);
                } else {
                    rounding.known(by.min(0.0), by.max(0.0));
                }
            }
        }
        Ok(reach)
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
            Self::Reynolds(_) | Self::Rough(_) => Default::default(),
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
            let moved = self.value(&right.with(&name, value + half_unit(value, 0.0)))? - reach.reference;
            reach.rounding.free(-moved, moved);
            reach.both.free(-moved, moved);
        }
        if let Self::Formula(_, unit) = self {
            let value = |view: &View<'_>| self.value(view).ok();
            if workings.hangs_on_givens(value) {
                let off = workings.known_off(unit, value);
                let by = reach.reference.abs();
                reach.known.push((-by * off.0, by * off.1));
                reach.rounding.known(by * off.0, by * off.1);
                reach.both.known(by * off.0, by * off.1);
            } else {
                let written = unit.from_si(reach.reference);
                let by = (unit.to_si(written + half_unit(written, 0.0)) - reach.reference).abs();
                reach.rounding.free(-by, by);
                reach.both.free(-by, by);
            }
        }
        Ok(())
    }
}

/// The band of a number.
fn band(reference: Quantity, reach: &Reach, figures: u32) -> Band {
    // A hair more than half a unit, so that a number on the edge is in.
    let last = 0.5 * libm::pow(10.0, 1.0 - f64::from(figures)) * (1.0 + 1e-9);
    let right = reach.reference;
    let (below, above) = reach.with_last(right.abs() * last);
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
                Cause::LastFigure => (right - right.abs() * last, right + right.abs() * last),
                _ => of.map_or((right, right), |(_, low, high)| (*low, *high)),
            };
            (*cause, low, high)
        })
        .collect();
    causes.retain(|(cause, low, high)| low < high || *cause == Cause::LastFigure);
    Band::new(reference, (right - below, right + above), causes)
}

fn accept(asked: &Asked, workings: &Workings<'_>, limits: &Limits) -> Result<Accepted, EquationError> {
    let right = &workings.right;
    let mut reaches = Vec::new();
    for (i, track) in tracks(asked).iter().enumerate() {
        let share = workings.shares.as_ref().and_then(|shares| shares.get(i).copied());
        reaches.push(track.reach(workings, share)?);
    }
    Ok(match asked {
        Asked::Number { formula, figures, .. } => match reaches.first() {
            Some(reach) => Accepted::Number(band(right.value(formula)?, reach, *figures)),
            None => Accepted::OneOf(Vec::new()),
        },
        Asked::Regime { .. } => {
            let [reynolds, rough] = reaches.as_slice() else {
                return Ok(Accepted::OneOf(Vec::new()));
            };
            let first = regime::classify(reynolds.reference, rough.reference, limits);
            let others = regimes(reynolds.ends(), rough.ends(), limits);
            Accepted::OneOf(
                std::iter::once(first)
                    .chain(others.into_iter().filter(|other| *other != first))
                    .map(Answer::Regime)
                    .collect(),
            )
        }
        Asked::Choice { options, first_if } => {
            let holds = right.holds(first_if, None)?;
            let (can_hold, can_fail) = truth(first_if, &mut reaches.iter().map(Reach::ends));
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

/// Puts an answer wherever what it answers stands in what is asked; says whether it stood anywhere.
fn swap(asked: &mut Asked, formula: &Expr, answer: &Quantity) -> bool {
    let unit = Unit {
        dimension: answer.dimension,
        ..Unit::none()
    };
    let number = Expr::Number(Written::from_si(answer.value, &unit, 15));
    match asked {
        Asked::Number { formula: inside, .. } | Asked::Choice { first_if: inside, .. } => {
            super::follow::replace(inside, formula, &number)
        }
        Asked::Regime { .. } => false,
    }
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
    // Secants: exact for a formula that is linear in the result, and quick for the others.
    let off = |value: f64| {
        right
            .with(&name, value)
            .value(formula)
            .map(|found| found.value - answer)
    };
    let mut before = right.own(&name)?.value;
    let mut now = if before == 0.0 { 1.0 } else { before * 1.01 };
    let (mut off_before, mut off_now) = (off(before).ok()?, off(now).ok()?);
    for _ in 0..60 {
        if off_now.abs() <= 1e-10 * answer.abs() {
            return Some((name, now));
        }
        let next = now - off_now * (now - before) / (off_now - off_before);
        if !next.is_finite() {
            return None;
        }
        (before, off_before) = (now, off_now);
        now = next;
        off_now = off(now).ok()?;
    }
    None
}

fn is_fluid(name: &str) -> bool {
    matches!(name, "rho" | "mu" | "nu" | "g")
}
