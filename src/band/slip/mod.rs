//! Slips: common errors, each as a change to the system or to how it is solved.
//!
//! A slip's working is a whole working: the changed system is solved again, and every part is answered from it.
//! Which loss is an exit or an entrance is told by its name: one that contains `exit` or `entrance`.

mod ageing;
mod clearance;
mod leak;
mod meter;
mod network;
mod others;
mod profile;
mod pump;
mod tank;

pub use clearance::Clearance;

use super::Accepted;
use super::follow::rework;
use super::working::{AtPoint, Name, Of, OfSize, Outcome, Whole, Work};
use crate::bank::course::{Conventions, Policy};
use crate::bank::system::{self, PathSystem, Value};
use crate::bank::template::{Asked, Template};
use crate::equation::Bindings;
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::path::{Duty, Element, LossLaw, Machine, Path, Pipe, Section, StationVelocity};
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::solve::{self, Unknown};
use crate::quantity::{Dimension, Quantity};
use crate::solution::{Answer, Case, PathCase};
use pump::{PumpSlip, slipped as slipped_with_pumps};
use std::borrow::Cow;

/// A common error.
#[derive(Debug, Clone, PartialEq)]
pub struct Slip {
    /// Its name, such as `exit loss left out`.
    pub name: Cow<'static, str>,
    /// What to tell a student who made it, one sentence.
    pub advice: Cow<'static, str>,
    how: How,
}

/// What a slip does to the working.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    LossLeftOut(&'static str),
    AllLossesLeftOut,
    LossTwice(&'static str),
    LossOnOtherPipe,
    ChangeOnWiderPipe,
    PointAtOutlet,
    VelocityHeadLeftOutAtPoint,
    NarrowerSize,
    VelocityHeadLeftOut,
    VelocityHeadDoubled,
    AlphaOne,
    ElevationLeftOut,
    ElevationSign,
    Fanning,
    FrictionLeftOut,
    SmoothWall,
    RoughnessTenfold,
    LaminarFormula,
    TurbulentFormula,
    NaturalLogarithm,
    FirstGuess,
    RadiusForDiameter,
    DiameterForRadius,
    HydraulicRadius,
    AreaFromHydraulicDiameter,
    RoundLaminarConstant,
    KinematicForDynamic,
    DynamicForKinematic,
    GaugeAndAbsolute,
    PressureUnits,
    EfficiencyInverted,
    EfficiencyLeftOut,
    GravityLeftOut,
    Pump(PumpSlip),
    /// Made by one kind of system beside the path, which knows how.
    OfAKind,
    ThousandfoldUp,
    ThousandfoldDown,
}

const fn slip(name: &'static str, advice: &'static str, how: How) -> Slip {
    Slip {
        name: Cow::Borrowed(name),
        advice: Cow::Borrowed(advice),
        how,
    }
}

const LIBRARY: &[Slip] = &[
    slip(
        "exit loss left out",
        "Check whether your losses hold everything that the fluid passes up to the second station, the exit too.",
        How::LossLeftOut("exit"),
    ),
    slip(
        "exit loss counted twice",
        "Check whether the velocity head at the outlet stands in your energy equation more than once.",
        How::LossTwice("exit"),
    ),
    slip(
        "entrance loss left out",
        "Check whether your losses hold everything that the fluid passes, from the first station on.",
        How::LossLeftOut("entrance"),
    ),
    slip(
        "minor losses left out",
        "Check whether your head loss holds the fittings as well as the pipe.",
        How::AllLossesLeftOut,
    ),
    slip(
        "loss on another pipe's velocity",
        "Check which pipe's velocity head each loss coefficient belongs to.",
        How::LossOnOtherPipe,
    ),
    slip(
        "loss on the wider pipe's velocity",
        "Check which of the two velocities the loss at a change of area belongs to.",
        How::ChangeOnWiderPipe,
    ),
    slip(
        "point at the height of the outlet",
        "Check the height of the place at which the pressure is asked.",
        How::PointAtOutlet,
    ),
    slip(
        "velocity head left out at a point",
        "Check what the energy head holds beside pressure and height where the fluid moves.",
        How::VelocityHeadLeftOutAtPoint,
    ),
    slip(
        "narrower size taken",
        "Check whether the size that you chose is wide enough for the flow.",
        How::NarrowerSize,
    ),
    slip(
        "velocity head left out",
        "Check whether the fluid still moves at one of your stations, and what the energy equation has for that.",
        How::VelocityHeadLeftOut,
    ),
    slip(
        "half of the velocity head left out",
        "Check the factor in front of the velocity squared in each term.",
        How::VelocityHeadDoubled,
    ),
    slip(
        "alpha of one in laminar flow",
        "Check the kinetic-energy factor for this kind of flow.",
        How::AlphaOne,
    ),
    slip(
        "elevation left out",
        "Check whether your energy equation holds the heights of both stations.",
        How::ElevationLeftOut,
    ),
    slip(
        "sign of elevation",
        "Check which of the two stations is the higher one, and on which side its height stands.",
        How::ElevationSign,
    ),
    slip(
        "Fanning factor for Darcy's",
        "Check which friction factor your chart or formula gives, and which one your equation wants.",
        How::Fanning,
    ),
    slip(
        "friction left out",
        "Check whether your head loss holds the friction in the pipe.",
        How::FrictionLeftOut,
    ),
    slip(
        "smooth wall for rough",
        "Check which curve of the chart belongs to this wall.",
        How::SmoothWall,
    ),
    slip(
        "roughness ten times too large",
        "Check the units of roughness and diameter in their ratio.",
        How::RoughnessTenfold,
    ),
    slip(
        "laminar formula in turbulent flow",
        "Check whether the formula for your friction factor holds at this Reynolds number.",
        How::LaminarFormula,
    ),
    slip(
        "turbulent formula in laminar flow",
        "Check the Reynolds number before you choose where your friction factor comes from.",
        How::TurbulentFormula,
    ),
    slip(
        "natural logarithm in the friction formula",
        "Check which logarithm your friction formula means.",
        How::NaturalLogarithm,
    ),
    slip(
        "stopped at the first guess",
        "Check your assumption about the regime against the Reynolds number that you found.",
        How::FirstGuess,
    ),
    slip(
        "radius for diameter",
        "Check whether each length across the pipe in your working is its diameter.",
        How::RadiusForDiameter,
    ),
    slip(
        "diameter for radius in the area",
        "Check the area of the cross-section.",
        How::DiameterForRadius,
    ),
    slip(
        "hydraulic radius for hydraulic diameter",
        "Check how often the area over the wetted perimeter goes into the hydraulic diameter.",
        How::HydraulicRadius,
    ),
    slip(
        "area from the hydraulic diameter",
        "Check which area carries the flow: the duct has its own.",
        How::AreaFromHydraulicDiameter,
    ),
    slip(
        "round pipe's laminar constant in a duct",
        "Check whether the formula for your friction factor belongs to this cross-section.",
        How::RoundLaminarConstant,
    ),
    slip(
        "kinematic viscosity for dynamic",
        "Check which viscosity your Reynolds number is written with, and its units.",
        How::KinematicForDynamic,
    ),
    slip(
        "dynamic viscosity for kinematic",
        "Check which viscosity your Reynolds number is written with, and whether density is in it.",
        How::DynamicForKinematic,
    ),
    slip(
        "gauge and absolute mixed",
        "Check whether both pressures in your energy equation are counted from the same zero.",
        How::GaugeAndAbsolute,
    ),
    slip(
        "psi and kPa confused",
        "Check the unit of each pressure that you put in.",
        How::PressureUnits,
    ),
    slip(
        "efficiency inverted",
        "Check on which side of the machine the losses are, and so which of the two powers is the larger.",
        How::EfficiencyInverted,
    ),
    slip(
        "efficiency left out",
        "Check whether the power asked for is that at the shaft or that in the fluid.",
        How::EfficiencyLeftOut,
    ),
    slip(
        "gravity left out of the power",
        "Check the units: density times flow times head is no power yet.",
        How::GravityLeftOut,
    ),
    slip(
        "roughness of the new pipe left out",
        "Check how rough the pipe was before the first year.",
        How::OfAKind,
    ),
    slip(
        "pumps in parallel treated as in series",
        "Check what adds up where pumps stand side by side: their flows or their heads.",
        How::Pump(PumpSlip::ParallelForSeries),
    ),
    slip(
        "pumps in series treated as in parallel",
        "Check what adds up where pumps stand one behind the other: their heads or their flows.",
        How::Pump(PumpSlip::SeriesForParallel),
    ),
    slip(
        "number of pumps left out",
        "Check whether your pump curve is that of one pump or that of all of them together.",
        How::Pump(PumpSlip::NumberLeftOut),
    ),
    slip(
        "head in proportion to the speed",
        "Check the affinity law for the head.",
        How::Pump(PumpSlip::HeadBySpeed),
    ),
    slip(
        "flow not moved with the speed",
        "Check the affinity law for the flow, and which point of the old curve belongs to a point of the new one.",
        How::Pump(PumpSlip::FlowKept),
    ),
    slip(
        "vapour pressure left out of NPSH",
        "Check from which pressure the net positive suction head is counted.",
        How::Pump(PumpSlip::VapourLeftOut),
    ),
    slip(
        "air's pressure left out of NPSH",
        "Check whether the pressures in your NPSH are absolute.",
        How::Pump(PumpSlip::AirLeftOut),
    ),
    slip(
        "suction losses left out of NPSH",
        "Check what the fluid loses before it reaches the pump.",
        How::Pump(PumpSlip::SuctionLossesLeftOut),
    ),
    slip(
        "motor efficiency left out",
        "Check whether the power asked for is that at the shaft or that of the mains.",
        How::Pump(PumpSlip::MotorLeftOut),
    ),
    slip(
        "a thousand times too large",
        "Check the prefix of your unit, such as milli or kilo.",
        How::ThousandfoldUp,
    ),
    slip(
        "a thousand times too small",
        "Check the prefix of your unit, such as milli or kilo.",
        How::ThousandfoldDown,
    ),
    slip(
        "first flow all the way",
        "Check whether the flow stays what it is at the start while the level moves.",
        How::OfAKind,
    ),
    slip(
        "two left out of the integral",
        "Check the integral of one over the root of the head.",
        How::OfAKind,
    ),
    slip(
        "centre-line velocity taken for the mean",
        "Check which velocity you know: that on the centre line or the mean one.",
        How::OfAKind,
    ),
    slip(
        "corrections of the capillary left out",
        "Check whether friction in the capillary takes all of the head.",
        How::OfAKind,
    ),
    slip(
        "diameter for radius in the profile",
        "Check which length the distance from the centre line is held against.",
        How::OfAKind,
    ),
    slip(
        "shear stress with the diameter for the radius",
        "Check the balance of forces on the fluid: the area on which the pressure pushes, and the one along which the wall holds.",
        How::OfAKind,
    ),
    slip(
        "coefficient of the meter left out",
        "Check whether your answer is that of an ideal meter or of the real one.",
        How::OfAKind,
    ),
    slip(
        "velocity of approach left out",
        "Check whether your equation counts the velocity that the fluid has before the throat.",
        How::OfAKind,
    ),
    slip(
        "area ratio not squared",
        "Check the power of the diameter ratio under the root.",
        How::OfAKind,
    ),
    slip(
        "fluid in the manometer left out",
        "Check what stands in each limb of the manometer over its deflection.",
        How::OfAKind,
    ),
    slip(
        "whole differential taken as lost",
        "Check how much of the pressure comes back behind the meter.",
        How::OfAKind,
    ),
    slip(
        "velocity at the tip taken for the mean",
        "Check with which velocity the flow in the pipe is counted.",
        How::OfAKind,
    ),
    slip(
        "flow shared by area",
        "Check what pipes side by side have in common: it is not the velocity.",
        How::OfAKind,
    ),
    slip(
        "flow shared evenly",
        "Check what pipes side by side have in common: it is not the flow.",
        How::OfAKind,
    ),
    slip(
        "demand left out",
        "Check the balance of flows at every junction, with what is taken out there.",
        How::OfAKind,
    ),
];

/// The library of slips.
pub fn all() -> &'static [Slip] {
    LIBRARY
}

/// The slip of a name.
pub fn named(name: &str) -> Option<&'static Slip> {
    LIBRARY.iter().find(|slip| slip.name == name)
}

/// Where a slip leads: the answer of each part, or `None` where the slip does not apply to the system or
/// its working ends nowhere.
#[derive(Debug, Clone, PartialEq)]
pub struct SlipAnswers {
    /// Which.
    pub slip: Slip,
    /// The answer to each part.
    pub answers: Vec<Option<Answer>>,
    /// How far the answer to each part reaches that is a number, SI, low and high: with the slip in it, but
    /// careful in all else.
    pub spans: Vec<Option<(f64, f64)>>,
}

impl SlipAnswers {
    /// Without any width.
    fn exact(slip: Slip, answers: Vec<Option<Answer>>) -> Self {
        let spans = answers
            .iter()
            .map(|answer| match answer {
                Some(Answer::Number(number)) => Some((number.value, number.value)),
                _ => None,
            })
            .collect();
        Self { slip, answers, spans }
    }

    /// As wide as what each part accepts, as a share.
    fn widened(mut self, accepted: &[Accepted]) -> Self {
        for (span, accepted) in self.spans.iter_mut().zip(accepted) {
            if let (Some((low, high)), Accepted::Number(band)) = (span, accepted) {
                let value = *low;
                let of = |end: f64| value * end / band.reference.value;
                let (one, other) = (of(band.low), of(band.high));
                if one.is_finite() && other.is_finite() {
                    (*low, *high) = (one.min(other), one.max(other));
                }
            }
        }
        self
    }
}

/// The answers that each applicable slip leads to; one that changes no part's answer is left out. `accepted` is
/// what each part accepts.
pub fn slip_answers(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    accepted: &[Accepted],
    policy: &Policy,
    _conventions: &Conventions,
) -> Vec<SlipAnswers> {
    let all = match (case, case.kind()) {
        (Case::Path(path), _) => on_path(template, givens, path, policy),
        (_, Some(kind)) => others::slip_answers(template, givens, case, kind, policy),
        (_, None) => Vec::new(),
    };
    all.into_iter().map(|slip| slip.widened(accepted)).collect()
}

/// Whether wrong answers are others than the right ones.
fn differs(wrong: &[Option<Answer>], right: &[Option<Answer>]) -> bool {
    wrong.iter().zip(right).any(|pair| match pair {
        (Some(wrong), Some(right)) => !same(wrong, right),
        _ => false,
    })
}

/// Whether two answers are the same but for what arithmetic leaves.
fn same(one: &Answer, other: &Answer) -> bool {
    match (one, other) {
        (Answer::Number(one), Answer::Number(other)) => {
            (one.value - other.value).abs() <= 1e-9 * other.value.abs()
        }
        (one, other) => one == other,
    }
}

fn on_path(template: &Template, givens: &Bindings, case: &PathCase, policy: &Policy) -> Vec<SlipAnswers> {
    let work = Work::new(givens, case, policy.limits);
    let right: Vec<_> = template
        .parts
        .iter()
        .map(|part| answer(&work, &part.asked, &work.base))
        .collect();
    LIBRARY
        .iter()
        .filter_map(|slip| {
            let answers: Vec<_> = match slip.how {
                How::ThousandfoldUp => scaled(&right, 1e3),
                How::ThousandfoldDown => scaled(&right, 1e-3),
                how => {
                    let outcome = slipped(&work, &case.system, how)?;
                    let parts = template.parts.iter();
                    parts.map(|part| answer(&work, &part.asked, &outcome)).collect()
                }
            };
            differs(&answers, &right).then(|| SlipAnswers::exact(slip.clone(), answers))
        })
        .collect()
}

/// What a part's answer is in an outcome; regimes are those of the chart, whatever a slip made of f.
fn answer(work: &Work<'_>, asked: &Asked, outcome: &Outcome) -> Option<Answer> {
    match asked {
        Asked::Number { formula, .. } => work.value(formula, outcome, None).ok().map(Answer::Number),
        Asked::Regime { pipe } => (outcome.state.pipes.get(*pipe)).map(|pipe| Answer::Regime(pipe.regime)),
        Asked::Choice { options, first_if } => {
            let holds = work.holds(first_if, outcome, None).ok()?;
            Some(Answer::Choice(options[usize::from(!holds)].clone()))
        }
    }
}

/// Numbers that carry a unit, times `by`.
fn scaled(right: &[Option<Answer>], by: f64) -> Vec<Option<Answer>> {
    right
        .iter()
        .map(|answer| match answer {
            Some(Answer::Number(number)) if number.dimension != Dimension::NONE => {
                Some(Answer::Number(Quantity::new(number.value * by, number.dimension)))
            }
            _ => None,
        })
        .collect()
}

/// A change to a problem; says whether it changed anything.
type Change<'a> = &'a dyn Fn(&mut Path) -> bool;

/// The working with the slip in it.
fn slipped(work: &Work<'_>, system: &PathSystem, how: How) -> Option<Outcome> {
    let exact = vec![Reading::EXACT; work.pipes.count()];
    let pipes = &work.base.state.pipes;
    let laminar = |i: usize| pipes[i].regime == Regime::Laminar;
    let is_duct = |i: usize| !work.base.section(i).is_round();
    let unknown = work.problem.unknown;
    let changed = |change: Change<'_>| -> Option<Outcome> {
        let mut problem = work.problem.clone();
        if !change(&mut problem.path) {
            return None;
        }
        work.solve(&problem, &exact).ok()
    };
    let losses = |path: &mut Path, which: &dyn Fn(usize) -> bool, by: f64| {
        let mut any = false;
        let mut n = 0;
        for element in &mut path.elements {
            if let Element::Loss { coefficient, .. } = element {
                let open = unknown == Unknown::LossCoefficient(n);
                if which(n) && !open && *coefficient != 0.0 {
                    *coefficient *= by;
                    any = true;
                }
                n += 1;
            }
        }
        any
    };
    let names: Vec<_> = system
        .path
        .iter()
        .filter_map(|e| match e {
            system::Element::Loss { name, .. } => Some(name.to_lowercase()),
            _ => None,
        })
        .collect();
    let called = |word: &'static str| move |n: usize| names.get(n).is_some_and(|name| name.contains(word));
    match how {
        How::LossLeftOut(word) => {
            let which = called(word);
            changed(&|path| losses(path, &which, 0.0))
        }
        How::LossTwice(word) => {
            let which = called(word);
            changed(&|path| losses(path, &which, 2.0))
        }
        How::AllLossesLeftOut => changed(&|path| losses(path, &|_| true, 0.0)),
        How::LossOnOtherPipe => changed(&|path| {
            let mut any = false;
            for element in &mut path.elements {
                if let Element::Loss { law, pipe, .. } = element
                    && law.wider_pipe().is_none()
                {
                    let other = if *pipe + 1 < pipes.len() {
                        *pipe + 1
                    } else {
                        pipe.saturating_sub(1)
                    };
                    any |= other != *pipe;
                    *pipe = other;
                }
            }
            any
        }),
        How::ChangeOnWiderPipe => changed(&|path| {
            let mut any = false;
            let mut known = work.base.state.loss_coefficients.iter();
            for element in &mut path.elements {
                if let Element::Loss {
                    coefficient,
                    law,
                    pipe,
                } = element
                {
                    let k = known.next().copied().unwrap_or_default();
                    if let Some(wide) = law.wider_pipe() {
                        (*coefficient, *law, *pipe) = (k, LossLaw::Fixed, wide);
                        any |= k != 0.0;
                    }
                }
            }
            any
        }),
        How::PointAtOutlet => {
            let mut outcome = work.base.clone();
            let outlet = outcome.state.end.elevation;
            let any = outcome.path.points.iter().any(|point| point.elevation != outlet);
            for point in &mut outcome.path.points {
                point.elevation = outlet;
            }
            any.then_some(outcome)
        }
        How::VelocityHeadLeftOutAtPoint => {
            let mut outcome = work.base.clone();
            let weight = outcome.path.density * outcome.path.gravity;
            for n in 0..outcome.path.points.len() {
                let head = outcome.get(Name::Point(AtPoint::EnergyHead, n));
                let elevation = outcome.get(Name::Point(AtPoint::Elevation, n));
                outcome.put(Name::Point(AtPoint::Pressure, n), (head - elevation) * weight);
            }
            (!outcome.path.points.is_empty()).then_some(outcome)
        }
        How::NarrowerSize => {
            let (pipe, _) = work.base.sized?;
            let mut outcome = work.base.clone();
            let [bore, below] = [OfSize::Bore, OfSize::BoreBelow].map(|of| outcome.get(Name::Size(of)));
            let velocity = outcome.get(Name::Size(OfSize::Velocity)) * (bore / below) * (bore / below);
            outcome.put(Name::Size(OfSize::Bore), below);
            outcome.put(Name::Size(OfSize::Velocity), velocity);
            (below > 0.0 && pipe < pipes.len()).then_some(outcome)
        }
        How::VelocityHeadLeftOut => changed(&|path| {
            let mut any = false;
            for station in [&mut path.start, &mut path.end] {
                any |= station.velocity != StationVelocity::Value(0.0);
                station.velocity = StationVelocity::Value(0.0);
            }
            any
        }),
        How::VelocityHeadDoubled => {
            let mut outcome = changed(&|path| {
                let is_length = by_length(path);
                losses(path, &|n| !is_length.get(n).is_some_and(|is| *is), 2.0);
                lengths(path, 2.0, unknown);
                path.start.alpha = Some(2.0 * work.base.state.start.alpha);
                path.end.alpha = Some(2.0 * work.base.state.end.alpha);
                !matches!(unknown, Unknown::Length(_) | Unknown::LossCoefficient(_))
            })?;
            keep_lengths(work, &mut outcome);
            Some(outcome)
        }
        How::AlphaOne => changed(&|path| {
            let mut any = false;
            for (station, state, pipe) in [
                (&mut path.start, work.base.state.start, 0),
                (&mut path.end, work.base.state.end, pipes.len() - 1),
            ] {
                if laminar(pipe) && state.alpha != 1.0 && state.velocity != 0.0 {
                    station.alpha = Some(1.0);
                    any = true;
                }
            }
            any
        }),
        How::ElevationLeftOut | How::ElevationSign
            if matches!(unknown, Unknown::StartElevation | Unknown::EndElevation) =>
        {
            None
        }
        How::ElevationLeftOut => changed(&|path| {
            let any = path.start.elevation != path.end.elevation;
            (path.start.elevation, path.end.elevation) = (0.0, 0.0);
            any
        }),
        How::ElevationSign => changed(&|path| {
            std::mem::swap(&mut path.start.elevation, &mut path.end.elevation);
            path.start.elevation != path.end.elevation
        }),
        How::Fanning => {
            // A quarter of the factor is a quarter of the length, as far as heads go; so it holds in laminar flow.
            if matches!(unknown, Unknown::Length(_) | Unknown::Roughness(_)) {
                return work.read(&fixed(work, |f| f / 4.0)).ok();
            }
            let mut outcome = changed(&|path| lengths(path, 0.25, unknown))?;
            keep_lengths(work, &mut outcome);
            for i in 0..pipes.len() {
                for of in [Of::Friction, Of::FullyRoughFriction] {
                    let f = outcome.get(Name::Pipe(of, i));
                    outcome.put(Name::Pipe(of, i), f / 4.0);
                }
            }
            Some(outcome)
        }
        How::FrictionLeftOut => {
            let mut outcome = changed(&|path| lengths(path, 0.0, unknown))?;
            keep_lengths(work, &mut outcome);
            Some(outcome)
        }
        How::SmoothWall | How::RoughnessTenfold => changed(&|path| {
            let by = if how == How::SmoothWall { 0.0 } else { 10.0 };
            let mut any = false;
            let mut n = 0;
            for element in &mut path.elements {
                if let Element::Pipe(pipe) = element {
                    if pipe.roughness > 0.0 {
                        pipe.roughness *= by;
                        any |= !laminar(n);
                    }
                    n += 1;
                }
            }
            any
        }),
        How::LaminarFormula => {
            if (0..pipes.len()).all(laminar) {
                return None;
            }
            let law = Law::LaminarEverywhere;
            work.read(&vec![Reading { law, factor: 1.0 }; pipes.len()]).ok()
        }
        How::TurbulentFormula => {
            if !(0..pipes.len()).any(laminar) {
                return None;
            }
            let mut problem = work.problem.clone();
            problem.path.start.alpha = Some(work.base.state.start.alpha);
            problem.path.end.alpha = Some(work.base.state.end.alpha);
            let limits = Limits {
                laminar_end: 0.0,
                ..work.limits
            };
            let solved = solve::solve(&problem, &exact, &limits).ok()?;
            Some(Outcome {
                path: solved.path,
                state: solved.state,
                instead: Vec::new(),
                sized: work.base.sized,
            })
        }
        How::NaturalLogarithm => {
            if (0..pipes.len()).any(laminar) || matches!(unknown, Unknown::Roughness(_)) {
                return None;
            }
            iterated(work, &colebrook_with_natural_logarithm)
        }
        How::FirstGuess => {
            let limit = work.limits.fully_rough_start;
            let guess = |i: usize| !laminar(i) && pipes[i].relative_roughness > 0.0;
            let wrong = |i: usize| guess(i) && pipes[i].rough_number < 0.98 * limit;
            if !(0..pipes.len()).any(wrong) {
                return None;
            }
            let readings: Vec<_> = (0..pipes.len())
                .map(|i| Reading {
                    law: if guess(i) { Law::FullyRough } else { Law::Colebrook },
                    factor: 1.0,
                })
                .collect();
            work.read(&readings).ok()
        }
        How::RadiusForDiameter => changed(&|path| {
            let mut n = 0;
            for element in &mut path.elements {
                if let Element::Pipe(pipe) = element {
                    if unknown == Unknown::Diameter(n) {
                        return false;
                    }
                    if !pipe.section.is_round() {
                        return false;
                    }
                    pipe.diameter /= 2.0;
                    n += 1;
                }
            }
            for station in [&mut path.start, &mut path.end] {
                if let StationVelocity::Jet(diameter) = &mut station.velocity {
                    *diameter /= 2.0;
                }
            }
            true
        }),
        How::DiameterForRadius => {
            if matches!(unknown, Unknown::Diameter(_)) || (0..pipes.len()).any(is_duct) {
                return None;
            }
            let taken: Vec<_> = (0..pipes.len())
                .map(|i| Name::Pipe(Of::Area, i))
                .map(|area| (area, 4.0 * work.base.get(area)))
                .collect();
            rework(work, &taken, &exact).ok()
        }
        How::HydraulicRadius => changed(&|path| {
            ducts(path, &|pipe| {
                pipe.diameter /= 4.0;
                pipe.section.area_factor *= 16.0;
            })
        }),
        How::AreaFromHydraulicDiameter => {
            changed(&|path| ducts(path, &|pipe| pipe.section.area_factor = 1.0))
        }
        How::RoundLaminarConstant => (0..pipes.len()).any(|i| is_duct(i) && laminar(i)).then(|| {
            changed(&|path| {
                ducts(path, &|pipe| {
                    pipe.section.laminar_constant = Section::ROUND.laminar_constant;
                })
            })
        })?,
        How::KinematicForDynamic => changed(&|path| {
            path.dynamic_viscosity /= path.density;
            true
        }),
        How::DynamicForKinematic => changed(&|path| {
            path.dynamic_viscosity *= path.density;
            true
        }),
        How::GaugeAndAbsolute => changed(&|path| {
            let atmosphere = path.atmosphere;
            match unknown {
                Unknown::StartPressure => path.end.pressure += atmosphere,
                _ => path.start.pressure += atmosphere,
            }
            true
        }),
        How::PressureUnits => changed(&|path| {
            let mut any = false;
            for (station, said) in [
                (&mut path.start, &system.start.pressure),
                (&mut path.end, &system.end.pressure),
            ] {
                let Value::Known(written) = said else { continue };
                let by = if written.unit.symbol.starts_with("psi") {
                    1.0 / KPA_IN_A_PSI
                } else if written.unit.symbol.starts_with("kPa") {
                    KPA_IN_A_PSI
                } else {
                    continue;
                };
                any |= station.pressure != 0.0;
                station.pressure *= by;
            }
            any
        }),
        How::EfficiencyInverted => machines(work, true),
        How::EfficiencyLeftOut => machines(work, false),
        How::GravityLeftOut => {
            let said = work.problem.path.elements.iter().any(|e| match e {
                Element::Pump(machine) | Element::Turbine(machine) => {
                    matches!(machine.duty, Duty::Power(power) if !power.is_nan())
                }
                _ => false,
            });
            let mut outcome = work.base.clone();
            let mut any = false;
            for whole in [Whole::PumpPower, Whole::TurbinePower] {
                let power = outcome.get(Name::Whole(whole));
                any |= power != 0.0;
                outcome.put(Name::Whole(whole), power / outcome.path.gravity);
            }
            (any && !said).then_some(outcome)
        }
        How::Pump(pump) => slipped_with_pumps(work, pump),
        How::ThousandfoldUp | How::ThousandfoldDown | How::OfAKind => None,
    }
}

/// Kilopascals in a pound of force per square inch. NIST SP 811 (2008), B.8.
const KPA_IN_A_PSI: f64 = 6.894_757;

/// Readings that take each pipe's own factor for another.
fn fixed(work: &Work<'_>, of: fn(f64) -> f64) -> Vec<Reading> {
    (work.base.state.pipes.iter())
        .map(|pipe| Reading {
            law: Law::Fixed(of(pipe.darcy_friction_factor)),
            factor: 1.0,
        })
        .collect()
}

fn lengths(path: &mut Path, by: f64, unknown: Unknown) -> bool {
    for element in &mut path.elements {
        match element {
            Element::Pipe(pipe) => pipe.length *= by,
            Element::Loss {
                coefficient,
                law: LossLaw::EquivalentLength | LossLaw::EquivalentDiameters,
                ..
            } => *coefficient *= by,
            _ => {}
        }
    }
    // A point keeps its share of the pipe.
    for point in &mut path.points {
        point.along *= by;
    }
    !matches!(unknown, Unknown::Length(_))
}

/// Which losses are told by an equivalent length.
fn by_length(path: &Path) -> Vec<bool> {
    (path.elements.iter())
        .filter_map(|e| match e {
            Element::Loss { law, .. } => Some(matches!(
                law,
                LossLaw::EquivalentLength | LossLaw::EquivalentDiameters
            )),
            _ => None,
        })
        .collect()
}

fn keep_lengths(work: &Work<'_>, outcome: &mut Outcome) {
    for i in 0..work.pipes.count() {
        let length = Name::Pipe(Of::Length, i);
        outcome.put(length, work.base.get(length));
    }
}

/// Powers with the efficiency on the wrong side, or without it.
///
/// Where a machine's power is given its head comes out wrong; where its head is known, its power.
fn machines(work: &Work<'_>, inverted: bool) -> Option<Outcome> {
    let mut problem = work.problem.clone();
    let mut any = false;
    let (mut pump_power, mut turbine_power) = (0.0, 0.0);
    let (mut pump, mut turbine) = (0, 0);
    // The efficiency itself never leaves 0 to 1: an inverted one is one that counts twice the other way.
    let flow = work.base.state.flow;
    let share = |machine: &Machine| {
        let efficiency = machine.efficiency_at(flow);
        if inverted {
            efficiency * efficiency
        } else {
            efficiency
        }
    };
    for element in &mut problem.path.elements {
        match element {
            Element::Pump(machine) => {
                any |= machine.efficiency_at(flow) != 1.0;
                let share = share(machine);
                if let Duty::Power(power) = &mut machine.duty {
                    *power /= share;
                }
                pump_power += work.base.state.pump_powers[pump] * share;
                pump += 1;
            }
            Element::Turbine(machine) => {
                any |= machine.efficiency_at(flow) != 1.0;
                let share = share(machine);
                if let Duty::Power(power) = &mut machine.duty {
                    *power *= share;
                }
                turbine_power += work.base.state.turbine_powers[turbine] / share;
                turbine += 1;
            }
            _ => {}
        }
    }
    if !any {
        return None;
    }
    let power_known = work.problem.path.elements.iter().any(|e| match e {
        Element::Pump(machine) | Element::Turbine(machine) => {
            matches!(machine.duty, Duty::Power(power) if !power.is_nan())
        }
        _ => false,
    });
    let mut outcome = if power_known {
        let mut outcome = work
            .solve(&problem, &vec![Reading::EXACT; work.pipes.count()])
            .ok()?;
        // The powers that were given are still those that were given.
        for whole in [Whole::PumpPower, Whole::TurbinePower] {
            outcome.put(Name::Whole(whole), work.base.get(Name::Whole(whole)));
        }
        outcome
    } else {
        work.base.clone()
    };
    if !power_known {
        outcome.put(Name::Whole(Whole::PumpPower), pump_power);
        outcome.put(Name::Whole(Whole::TurbinePower), turbine_power);
    }
    Some(outcome)
}

/// Changes each pipe that is not round; says whether there was one.
fn ducts(path: &mut Path, change: &dyn Fn(&mut Pipe)) -> bool {
    let mut any = false;
    for element in &mut path.elements {
        if let Element::Pipe(pipe) = element
            && !pipe.section.is_round()
        {
            change(pipe);
            any = true;
        }
    }
    any
}

/// A friction law that `hydraulics` does not have, solved by putting its factors in until they settle.
fn iterated(work: &Work<'_>, law: &dyn Fn(f64, f64) -> f64) -> Option<Outcome> {
    let mut readings = fixed(work, |f| f);
    for _ in 0..200 {
        let outcome = work.read(&readings).ok()?;
        let mut settled = true;
        for (i, (reading, pipe)) in readings.iter_mut().zip(&outcome.state.pipes).enumerate() {
            let on = work.base.section(i).turbulent_diameter;
            let f = law(pipe.reynolds * on, pipe.relative_roughness / on);
            if let Law::Fixed(before) = reading.law {
                settled &= (f - before).abs() <= 1e-12 * f;
            }
            reading.law = Law::Fixed(f);
        }
        if settled {
            return Some(outcome);
        }
    }
    None
}

/// Darcy friction factor of `1/√f = −2 ln[(ε/D)/3.7 + 2.51/(Re √f)]`: Colebrook–White with the wrong logarithm.
fn colebrook_with_natural_logarithm(reynolds: f64, relative_roughness: f64) -> f64 {
    let mut inverse = 15.0;
    for _ in 0..60 {
        let next = -2.0 * libm::log(relative_roughness / 3.7 + 2.51 * inverse / reynolds);
        if (next - inverse).abs() <= 1e-14 * next.abs() {
            break;
        }
        inverse = next;
    }
    1.0 / (inverse * inverse)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::slips::SLIPS;

    /// Templates are checked against the names in `bank`.
    #[test]
    fn the_bank_knows_every_slip_by_its_name() {
        let known: Vec<_> = SLIPS.iter().map(|(name, _)| *name).collect();
        let library: Vec<_> = LIBRARY.iter().map(|slip| &*slip.name).collect();
        assert_eq!(library, known);
    }
}
