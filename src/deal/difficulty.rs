//! How hard a draw is to work by hand, and what a class's draws must have alike.
//!
//! Students are dealt independently of one another, so that one who joins late gets a problem as hard as the others'
//! and changes none of theirs. What their draws must be like is therefore had from the course key, the set and the
//! template alone: a sample of draws is taken from a seed that is nobody's, and the one that most others of the sample
//! are like is the target. Every draw that is dealt lies within half of the policy's spread of it, so that no two differ
//! by more than the whole.

use super::{Dealt, MOST_CANDIDATES, Refused, candidate};
use crate::band::{Accepted, steepness};
use crate::bank::course::{Conventions, DifficultySpread, Policy};
use crate::bank::template::Template;
use crate::draw::{Candidates, CourseKey, Seed};
use crate::hydraulics::friction::{Law, Reading, darcy_fully_rough, darcy_of};
use crate::hydraulics::meter::Unknown as OfMeter;
use crate::hydraulics::meter::standard::{Device, discharge_coefficient};
use crate::hydraulics::path::{Element, Section};
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::solve::Unknown;
use crate::quantity::round_to_figures;
use crate::solution::meter::MeterCase;
use crate::solution::{Case, Flowing};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Accepted draws that a target is taken from.
pub const SAMPLE: usize = 40;
/// Figures to which a hand iteration reads the chart.
const READ_FIGURES: u32 = 3;
/// A friction factor from the middle of the chart, to begin with where there is no fully rough flow to assume; the worked
/// solution begins with the same.
const GUESS: f64 = 0.02;
/// Passes after which a hand iteration counts as one without an end.
const MOST_PASSES: u32 = 30;
/// The identifier that stands for the class in its seed. No roster can have it: an identifier has a letter or a
/// figure and no line break. Nor can an attempt be 0.
const CLASS: &str = "\nclass\n";

/// What the hand solution does about one pipe's friction factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// Laminar: the factor follows from the Reynolds number.
    Laminar,
    /// The Reynolds number is known before the factor is read.
    Known,
    /// Fully rough flow is assumed, and the check holds.
    Holds,
    /// The first factor does not stand: the chart is read again.
    Iterates,
}

impl Way {
    /// In a few words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Laminar => "laminar",
            Self::Known => "Re known",
            Self::Holds => "rough holds",
            Self::Iterates => "iterates",
        }
    }
}

/// How hard a draw is to work by hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Difficulty {
    /// The regime path: what is done about each pipe, in their order.
    pub path: Vec<Way>,
    /// How often the hand solution goes through its equations for a friction factor (or a discharge coefficient) that
    /// it does not know beforehand; 0 where it knows it.
    pub iterations: u32,
    /// How many times as hard to read each pipe's place on the chart is as a level curve \[–\], at least 1.
    pub steepness: Vec<f64>,
    /// Width of each part's band over its reference answer \[–\]; `None` where no number is asked.
    pub widths: Vec<Option<f64>>,
}

impl Difficulty {
    /// Of a solved draw and its bands.
    pub fn of(case: &Case, accepted: &[Accepted], limits: &Limits) -> Self {
        let working = ByHand::of(case, limits);
        Self {
            path: working.path,
            iterations: working.iterations,
            steepness: working.steepness,
            widths: accepted.iter().map(relative_width).collect(),
        }
    }
}

/// The width of a number's band over its reference \[–\].
pub fn relative_width(accepted: &Accepted) -> Option<f64> {
    let Accepted::Number(band) = accepted else {
        return None;
    };
    let width = (band.high - band.low) / band.reference.value.abs();
    width.is_finite().then_some(width)
}

/// From the least to the greatest of some values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    /// The least.
    pub least: f64,
    /// The greatest.
    pub greatest: f64,
}

/// How hard one problem of a set is over a class.
#[derive(Debug, Clone)]
pub struct OverClass {
    /// The template.
    pub template: Arc<Template>,
    /// The regime path, the same for all: each pipe's name, and what is done about it.
    pub path: Vec<(String, Way)>,
    /// Iterations, as in [`Difficulty`]; `None` where nobody was dealt it, as in all below.
    pub iterations: Option<Between>,
    /// How many times as hard to read a place on the chart is as a level curve \[–\], over all pipes.
    pub steepness: Option<Between>,
    /// For each part the width of the band over its reference answer \[–\]; `None` too where no number is asked.
    pub widths: Vec<Option<Between>>,
    /// For how many a slip is too small to see in a part: the part, the slip's name.
    pub hidden: BTreeMap<(usize, String), usize>,
}

impl Between {
    /// With one more value.
    fn with(known: Option<Self>, value: f64) -> Option<Self> {
        let (least, greatest) = known.map_or((value, value), |k| (k.least.min(value), k.greatest.max(value)));
        Some(Self { least, greatest })
    }
}

impl OverClass {
    /// Of nobody yet.
    pub(super) fn of(template: Arc<Template>) -> Self {
        Self {
            path: Vec::new(),
            iterations: None,
            steepness: None,
            widths: vec![None; template.parts.len()],
            hidden: BTreeMap::new(),
            template,
        }
    }

    /// One student more.
    pub(super) fn add(&mut self, dealt: &Dealt, limits: &Limits) {
        let of_one = Difficulty::of(&dealt.case, &dealt.accepted, limits);
        if self.path.is_empty() {
            let flowing = dealt.case.flowing();
            self.path = flowing
                .iter()
                .map(|f| f.name.to_string())
                .zip(of_one.path)
                .collect();
        }
        self.iterations = Between::with(self.iterations, f64::from(of_one.iterations));
        for steepness in of_one.steepness {
            self.steepness = Between::with(self.steepness, steepness);
        }
        for (known, width) in self.widths.iter_mut().zip(of_one.widths) {
            if let Some(width) = width {
                *known = Between::with(*known, width);
            }
        }
        for (slip, part) in &dealt.hidden {
            if let Some(slip) = dealt.slips.get(*slip) {
                *self
                    .hidden
                    .entry((*part, slip.slip.name.to_string()))
                    .or_default() += 1;
            }
        }
    }
}

/// What can be said of a draw's difficulty before its bands are worked out.
#[derive(Debug, Clone)]
pub(super) struct ByHand {
    path: Vec<Way>,
    iterations: u32,
    steepness: Vec<f64>,
}

impl ByHand {
    pub(super) fn of(case: &Case, limits: &Limits) -> Self {
        let flowing = case.flowing();
        let steepness = match case {
            // A meter's chart is one of discharge coefficients, which is level where meters are used.
            Case::Meter(_) => vec![1.0; flowing.len()],
            _ => (flowing.iter())
                .map(|f| steepness(f.reynolds, f.relative_roughness, limits))
                .collect(),
        };
        let (path, iterations) = match case {
            Case::Meter(meter) => of_meter(meter, flowing.len()),
            Case::Ageing(ageing) => {
                // Both days have the flow of the test; the last question asks for what the same head drives then.
                let driven = &ageing.solved.driven;
                let (way, passes) = same_head(driven.reynolds, driven.relative_roughness, limits);
                (vec![Way::Known, way], passes)
            }
            _ => of_readings(case, &flowing, limits),
        };
        Self {
            path,
            iterations,
            steepness,
        }
    }
}

/// The friction factor that a hand solution begins with, and whether it is that of fully rough flow.
fn first_factor(case: &Case, pipe: usize, flowing: &Flowing) -> (f64, bool) {
    // The ratio that the rough factor needs hangs on an unknown bore.
    let bore_unknown = matches!(
        case,
        Case::Path(path) if path.system.unknown() == Some(Unknown::Diameter(pipe))
    );
    match darcy_fully_rough(flowing.relative_roughness) {
        Ok(factor) if !bore_unknown => (round_to_figures(factor, READ_FIGURES), true),
        _ => (GUESS, false),
    }
}

/// The cross-sections of a path's pipes; other systems' pipes count as round, which makes no difference to three figures.
fn sections(case: &Case) -> Vec<Section> {
    let Case::Path(path) = case else {
        return Vec::new();
    };
    (path.solved.path.elements.iter())
        .filter_map(|element| match element {
            Element::Pipe(pipe) => Some(pipe.section),
            _ => None,
        })
        .collect()
}

/// Takes friction factors, solves, reads them at what comes out, until they stay to three figures.
fn of_readings(case: &Case, flowing: &[Flowing], limits: &Limits) -> (Vec<Way>, u32) {
    let sections = sections(case);
    let read = |pipe: usize, reynolds: f64, relative_roughness: f64| {
        let section = sections.get(pipe).unwrap_or(&Section::ROUND);
        let factor = darcy_of(section, Reading::EXACT, reynolds, relative_roughness, limits);
        round_to_figures(factor, READ_FIGURES)
    };
    let laminar: Vec<bool> = flowing.iter().map(|f| f.regime == Regime::Laminar).collect();
    let mut ways: Vec<Way> = laminar
        .iter()
        .map(|&laminar| if laminar { Way::Laminar } else { Way::Known })
        .collect();
    if laminar.iter().all(|l| *l) {
        return (ways, 0);
    }
    let fixed = |taken: &[f64]| -> Option<Vec<Flowing>> {
        let readings: Vec<_> = (taken.iter().zip(&laminar))
            .map(|(factor, &laminar)| Reading {
                law: if laminar {
                    Law::Colebrook
                } else {
                    Law::Fixed(*factor)
                },
                factor: 1.0,
            })
            .collect();
        Some(case.read_otherwise(&readings, limits).ok()?.flowing())
    };
    let begun: Vec<_> = (flowing.iter().enumerate())
        .map(|(i, f)| first_factor(case, i, f))
        .collect();
    let mut taken: Vec<f64> = begun.iter().map(|(factor, _)| *factor).collect();
    let mut passed = fixed(&taken);
    if passed.is_none() {
        // A first factor that leads nowhere is mended by the answer's own to one figure, as in the worked solution.
        taken = (flowing.iter().enumerate())
            .map(|(i, f)| round_to_figures(read(i, f.reynolds, f.relative_roughness), 1))
            .collect();
        passed = fixed(&taken);
    }
    let Some(mut now) = passed else {
        return (ways, 0);
    };
    for (i, way) in ways.iter_mut().enumerate() {
        // A Reynolds number that a wrong factor does not move was known beforehand.
        let moved = (now[i].reynolds / flowing[i].reynolds - 1.0).abs() > 1e-9;
        if laminar[i] || !moved {
            continue;
        }
        let rough_number = now[i].reynolds * taken[i].sqrt() * now[i].relative_roughness;
        *way = if begun[i].1 && rough_number >= limits.fully_rough_start {
            Way::Holds
        } else {
            Way::Iterates
        };
    }
    if ways.iter().all(|way| matches!(way, Way::Laminar | Way::Known)) {
        return (ways, 0);
    }
    let mut passes = 1;
    // Where every check holds, the hand solution stops after its first pass.
    if ways.contains(&Way::Iterates) {
        let mut before = taken.clone();
        while passes < MOST_PASSES {
            let next: Vec<f64> = (now.iter().enumerate())
                .map(|(i, f)| read(i, f.reynolds, f.relative_roughness))
                .collect();
            // A reading that goes to and fro between two last figures has settled too.
            let stays = (next.iter().zip(&taken).zip(&before).zip(&ways))
                .all(|(((next, now), before), way)| next == now || next == before || *way != Way::Iterates);
            if stays {
                break;
            }
            let Some(passed) = fixed(&next) else {
                break;
            };
            before = std::mem::replace(&mut taken, next);
            now = passed;
            passes += 1;
        }
    }
    (ways, passes)
}

/// The velocity that a known head drives through one pipe: it goes as `1/√f`. `reynolds` is that of the answer.
fn same_head(reynolds: f64, relative_roughness: f64, limits: &Limits) -> (Way, u32) {
    let read = |reynolds| {
        let factor = darcy_of(
            &Section::ROUND,
            Reading::EXACT,
            reynolds,
            relative_roughness,
            limits,
        );
        round_to_figures(factor, READ_FIGURES)
    };
    let exact = darcy_of(
        &Section::ROUND,
        Reading::EXACT,
        reynolds,
        relative_roughness,
        limits,
    );
    let taken = match darcy_fully_rough(relative_roughness) {
        Ok(factor) => round_to_figures(factor, READ_FIGURES),
        Err(_) => GUESS,
    };
    let at = |taken: f64| reynolds * (exact / taken).sqrt();
    if at(taken) * taken.sqrt() * relative_roughness >= limits.fully_rough_start {
        return (Way::Holds, 1);
    }
    (Way::Iterates, passes(taken, |taken| read(at(taken))))
}

/// Reads again with what was read until it stays (or goes to and fro between two last figures): how often in all.
fn passes(first: f64, read: impl Fn(f64) -> f64) -> u32 {
    let (mut before, mut taken) = (first, first);
    let mut passes = 1;
    while passes < MOST_PASSES {
        let next = read(taken);
        if next == taken || next == before {
            break;
        }
        (before, taken) = (taken, next);
        passes += 1;
    }
    passes
}

/// A discharge coefficient is guessed, and taken at the Reynolds number that comes out, until it stays to three figures.
fn of_meter(case: &MeterCase, pipes: usize) -> (Vec<Way>, u32) {
    let known = vec![Way::Known; pipes];
    let Some((throttle, state)) = case.throttle() else {
        return (known, 0);
    };
    if throttle.coefficient.is_some()
        || !throttle.device.is_iterated()
        || !matches!(case.unknown(), OfMeter::Flow | OfMeter::ThroatDiameter)
    {
        return (known, 0);
    }
    // β²C/√(1 − β⁴) is what flow and differential pressure leave for the throat.
    let flow_sought = case.unknown() == OfMeter::Flow;
    let per_coefficient = state.beta * state.beta * state.approach_factor * state.coefficient;
    let read = |taken: f64| {
        let (beta, reynolds) = if flow_sought {
            (state.beta, state.reynolds * taken / state.coefficient)
        } else {
            let x = per_coefficient / taken;
            ((x * x / (1.0 + x * x)).sqrt().sqrt(), state.reynolds)
        };
        let next = discharge_coefficient(throttle.device, beta, throttle.pipe_diameter, reynolds);
        round_to_figures(next, READ_FIGURES)
    };
    // As the worked solution begins.
    let first = match throttle.device {
        Device::Orifice(_) => 0.6,
        _ => 0.98,
    };
    (vec![Way::Iterates; pipes], passes(first, read))
}

/// What a class's draws of a problem must have alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// The regime path.
    pub path: Vec<Way>,
    /// Fewest and most iterations.
    pub iterations: (u32, u32),
    /// Least and greatest steepness of each pipe.
    pub steepness: Vec<(f64, f64)>,
    /// Least and greatest relative width of each part's band.
    pub widths: Vec<Option<(f64, f64)>>,
    /// Which share of the sample has the commonest regime path \[–\].
    pub path_share: f64,
    /// Which share of the sample is like the target \[–\].
    pub share: f64,
}

/// The seed that a class's target is taken from.
pub fn class_seed(key: &CourseKey, set: &str, template: &Template) -> Seed {
    key.seed(set, template, CLASS, 0)
}

impl Target {
    /// From the candidates of a seed that is no student's; see [`class_seed`].
    ///
    /// # Errors
    /// When none of the first candidates is accepted: how many were refused for what.
    pub fn new(
        template: &Arc<Template>,
        seed: &Seed,
        policy: &Policy,
        conventions: &Conventions,
    ) -> Result<Self, Refused> {
        let mut refused = Refused::default();
        let mut sample = Vec::with_capacity(SAMPLE);
        for draw in Candidates::new(template, seed).take(MOST_CANDIDATES) {
            match candidate(template, draw, None, policy, conventions) {
                Ok(dealt) => sample.push(Difficulty::of(&dealt.case, &dealt.accepted, &policy.limits)),
                Err(why) => refused.count(why),
            }
            if sample.len() == SAMPLE {
                break;
            }
        }
        Self::among(&sample, &policy.difficulty).ok_or(refused)
    }

    /// That of a sample's draws which most others are like; among those of the commonest regime path. `None` of none.
    pub fn among(sample: &[Difficulty], spread: &DifficultySpread) -> Option<Self> {
        let with_path = |path: &[Way]| sample.iter().filter(|d| d.path == path).count();
        // The first of the commonest: `max_by_key` would take the last.
        let mut commonest: Option<&Difficulty> = None;
        for one in sample {
            if commonest.is_none_or(|best| with_path(&one.path) > with_path(&best.path)) {
                commonest = Some(one);
            }
        }
        let path = &commonest?.path;
        let share = |count: usize| count as f64 / sample.len() as f64;
        let mut best: Option<Self> = None;
        for centre in sample.iter().filter(|d| d.path == *path) {
            for below in 0..=spread.iterations {
                let mut target = Self::around(centre, below, spread);
                target.path_share = share(with_path(path));
                target.share = share(sample.iter().filter(|d| target.misfit(d).is_none()).count());
                if best.as_ref().is_none_or(|best| target.share > best.share) {
                    best = Some(target);
                }
            }
        }
        best
    }

    fn around(centre: &Difficulty, below: u32, spread: &DifficultySpread) -> Self {
        let range = |value: f64, ratio: f64| (value / ratio.sqrt(), value * ratio.sqrt());
        let fewest = centre.iterations.saturating_sub(below);
        Self {
            path: centre.path.clone(),
            iterations: (fewest, fewest + spread.iterations),
            steepness: centre
                .steepness
                .iter()
                .map(|s| range(*s, spread.reading))
                .collect(),
            widths: (centre.widths.iter())
                .map(|width| width.map(|width| range(width, spread.band)))
                .collect(),
            path_share: 0.0,
            share: 0.0,
        }
    }

    /// Why a draw is not as hard as the class's; `None` where it is.
    pub fn misfit(&self, of: &Difficulty) -> Option<Misfit> {
        self.misfit_by_hand(&of.path, of.iterations, &of.steepness)
            .or_else(|| self.misfit_of_widths(&of.widths))
    }

    fn misfit_by_hand(&self, path: &[Way], iterations: u32, steepness: &[f64]) -> Option<Misfit> {
        if self.path != path {
            return Some(Misfit::Path);
        }
        if iterations < self.iterations.0 || iterations > self.iterations.1 {
            return Some(Misfit::Iterations);
        }
        let within = |value: &f64, (low, high): &(f64, f64)| low <= value && value <= high;
        if !(steepness.iter().zip(&self.steepness)).all(|(value, range)| within(value, range)) {
            return Some(Misfit::Steepness);
        }
        None
    }

    fn misfit_of_widths(&self, widths: &[Option<f64>]) -> Option<Misfit> {
        (widths.iter().zip(&self.widths))
            .position(|(width, range)| match (width, range) {
                (Some(width), Some((low, high))) => width < low || width > high,
                (None, None) => false,
                _ => true,
            })
            .map(Misfit::Width)
    }

    /// Why a solved draw is not as hard as the class's, as far as it can be said before its bands.
    pub(super) fn refusal_before_bands(&self, case: &Case, limits: &Limits) -> Option<String> {
        let ByHand {
            path,
            iterations,
            steepness,
        } = ByHand::of(case, limits);
        (self.misfit_by_hand(&path, iterations, &steepness)).map(|misfit| misfit.in_words(&[]))
    }

    /// Why a draw is not as hard as the class's, by the widths of its bands.
    pub(super) fn refusal_behind_bands(&self, template: &Template, accepted: &[Accepted]) -> Option<String> {
        let widths: Vec<_> = accepted.iter().map(relative_width).collect();
        let names: Vec<&str> = template.parts.iter().map(|part| part.name.as_str()).collect();
        (self.misfit_of_widths(&widths)).map(|misfit| misfit.in_words(&names))
    }
}

/// In what a draw is not as hard as the class's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Misfit {
    /// Another regime path.
    Path,
    /// More or fewer iterations.
    Iterations,
    /// A place on the chart that is harder or easier to read.
    Steepness,
    /// A part's band is wider or narrower: its index.
    Width(usize),
}

/// How the reasons of all misfits begin.
pub const ANOTHER_DIFFICULTY: &str = "another difficulty: ";

impl Misfit {
    /// Without numbers, since candidates are counted by it. `parts` are the names of the parts.
    fn in_words(self, parts: &[&str]) -> String {
        let what = match self {
            Self::Path => "the regime path".to_owned(),
            Self::Iterations => "the number of iterations".to_owned(),
            Self::Steepness => "the place on the chart".to_owned(),
            Self::Width(part) => format!(
                "the width of the band of `{}`",
                parts.get(part).copied().unwrap_or("a part")
            ),
        };
        format!("{ANOTHER_DIFFICULTY}{what}")
    }
}
