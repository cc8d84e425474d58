//! To check a template over thousands of draws before anyone sees it.
//!
//! A proof deals the template to so many students who do not exist, and says what came of it: what was refused, what
//! the draws are like, and what the policy finds wrong. It is the same for the same template, policy and number of
//! draws, however many threads work on it. Depends on: all rooms above.

pub mod diagnosis;
mod html;
mod policy;
mod sample;
mod sense;
mod text;

pub use html::html;
pub use text::text;

use crate::band::Cause;
use crate::band::slip::Clearance;
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::{Asked, Template};
use crate::deal::difficulty::{Difficulty, SAMPLE, Target, Way};
use crate::deal::{Refused, deal_with_refused};
use crate::draw::CourseKey;
use crate::fault::Fault;
use crate::hydraulics::regime::Regime;
use crate::jobs;
use crate::quantity::Unit;
use sample::Sample;
use std::collections::BTreeMap;
use std::sync::Arc;

/// The key of the draws of all proofs, which are nobody's homework.
const KEY: CourseKey = CourseKey::from_bytes(*b"key of proofs and of nobody else");

/// Draws after which a template that gave none is not tried any further; each is 2,000 candidates.
const ENOUGH: usize = 2;

/// Some numbers, by their ends and quartiles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Five {
    /// The least.
    pub least: f64,
    /// A quarter of them lie below.
    pub lower: f64,
    /// Half of them lie below.
    pub middle: f64,
    /// A quarter of them lie above.
    pub upper: f64,
    /// The greatest.
    pub greatest: f64,
}

impl Five {
    /// From the least to the greatest.
    pub fn in_order(&self) -> [f64; 5] {
        [self.least, self.lower, self.middle, self.upper, self.greatest]
    }

    /// Of some numbers; `None` of none. Quartiles are numbers of the list, none between two.
    pub fn of(numbers: &[f64]) -> Option<Self> {
        let mut sorted = numbers.to_vec();
        sorted.sort_by(f64::total_cmp);
        let last = sorted.len().checked_sub(1)?;
        let at = |quarters: usize| sorted[last * quarters / 4];
        Some(Self {
            least: at(0),
            lower: at(1),
            middle: at(2),
            upper: at(3),
            greatest: at(4),
        })
    }
}

/// The range of a value over all draws.
#[derive(Debug, Clone, PartialEq)]
pub struct Range {
    /// The part's or the result's name.
    pub name: String,
    /// The unit of the numbers.
    pub unit: Unit,
    /// Ends and quartiles.
    pub five: Five,
    /// Every draw's, in the order of draws.
    pub numbers: Vec<f64>,
}

/// The width of a part's band over its answer \[–\].
#[derive(Debug, Clone, PartialEq)]
pub struct Width {
    /// The part's name.
    pub part: String,
    /// Ends and quartiles.
    pub five: Five,
    /// Every draw's, in the order of draws.
    pub numbers: Vec<f64>,
    /// The middle share of each cause in what all causes' own widths add up to \[–\], the greatest first.
    pub causes: Vec<(Cause, f64)>,
}

/// How one slip stands to the draws, each in the part that shows it best.
#[derive(Debug, Clone, PartialEq)]
pub struct SlipProof {
    /// The slip's name.
    pub slip: String,
    /// Whether the template lists it.
    pub listed: bool,
    /// Draws in which it can always be told from careful work.
    pub clear: usize,
    /// Draws in which a careful student's answer could be its own, with another reading or rounding.
    pub overlaps: usize,
    /// Draws in which its answer lies in the band: too small to see.
    pub too_small: usize,
    /// The least distance from a band among draws that are clear, in half widths of the band; infinite for words.
    pub least: f64,
}

/// How hard the draws are, and how many of them a class could be dealt.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Regime paths, the commonest first.
    pub paths: Vec<(Vec<Way>, usize)>,
    /// Fewest and most iterations.
    pub iterations: (u32, u32),
    /// Least and greatest steepness of a reading.
    pub steepness: (f64, f64),
    /// Share of the draws that are as hard as a class's \[–\]: of the middle class, and of the one with the fewest.
    pub alike: (f64, f64),
}

/// What was found of one template.
#[derive(Debug, Clone)]
pub struct Proof {
    /// The template.
    pub template: Arc<Template>,
    /// Draws that were asked for.
    pub draws: usize,
    /// Draws that were had.
    pub accepted: usize,
    /// Candidates that were refused on the way.
    pub refused: Refused,
    /// How many draws met which regime, for each thing that flows.
    pub regimes: Vec<(String, Vec<(Regime, usize)>)>,
    /// Answers that are numbers.
    pub answers: Vec<Range>,
    /// Answers that are words: how often each.
    pub words: Vec<(String, Vec<(String, usize)>)>,
    /// Reynolds numbers, velocities and pressures on the way.
    pub on_the_way: Vec<Range>,
    /// How many draws the givens' values make together.
    pub combinations: f64,
    /// The chance that two draws have all answers alike as printed \[–\], pairs that are so, and draws in such a pair.
    pub doubles: (f64, usize, usize),
    /// Bands.
    pub widths: Vec<Width>,
    /// Slips, listed ones first.
    pub slips: Vec<SlipProof>,
    /// Pairs of listed slips that no number tells apart, and in how many draws.
    pub inseparable: Vec<(String, String, usize)>,
    /// Difficulty; `None` where nothing was dealt.
    pub spread: Option<Spread>,
    /// What makes no sense, and in how many draws.
    pub nonsense: BTreeMap<String, usize>,
    /// What prints badly, and in how many draws.
    pub ugly: BTreeMap<String, usize>,
    /// What the policy finds wrong.
    pub faults: Vec<Fault>,
}

impl Proof {
    /// Share of the candidates that were accepted \[–\].
    pub fn acceptance(&self) -> f64 {
        let all = self.accepted as f64 + f64::from(self.refused.total());
        self.accepted as f64 / all.max(1.0)
    }

    /// Share of the candidates that a class is dealt: accepted and as hard as the others' \[–\].
    pub fn dealt_share(&self) -> f64 {
        self.acceptance() * self.spread.as_ref().map_or(0.0, |s| s.alike.0)
    }

    /// How many different draws a class can be dealt, as estimated from the shares.
    pub fn different(&self) -> f64 {
        self.combinations * self.dealt_share()
    }
}

/// Deals a template `draws` times, on so many threads, and says what came of it. `progress` is called after each draw.
pub fn prove(
    template: &Arc<Template>,
    draws: usize,
    policy: &Policy,
    conventions: &Conventions,
    threads: usize,
    progress: &(dyn Fn() + Sync),
) -> Proof {
    let deal = |n: usize| {
        let seed = KEY.seed("prove", template, &format!("draw {n}"), 1);
        let one = deal_with_refused(template, &seed, policy, conventions)
            .map(|(dealt, refused)| (Sample::of(&dealt, policy, conventions), refused));
        progress();
        one
    };
    let first = ENOUGH.min(draws);
    let mut dealt = jobs::in_order(first, threads, deal);
    if dealt.iter().any(Result::is_ok) {
        dealt.extend(jobs::in_order(draws - first, threads, |n| deal(first + n)));
    }
    let mut refused = Refused::default();
    let mut samples = Vec::with_capacity(draws);
    for one in dealt {
        match one {
            Ok((sample, before)) => {
                samples.push(sample);
                refused.add(before);
            }
            Err(all) => refused.add(all),
        }
    }
    let mut proof = Proof {
        template: Arc::clone(template),
        draws,
        accepted: samples.len(),
        refused,
        regimes: regimes(&samples),
        answers: answers(template, &samples),
        words: words(template, &samples),
        on_the_way: on_the_way(&samples),
        combinations: template
            .givens
            .iter()
            .map(|given| given.spread.count() as f64)
            .product(),
        doubles: doubles(&samples),
        widths: widths(template, &samples),
        slips: slips(template, &samples),
        inseparable: inseparable(template, &samples),
        spread: spread(&samples, policy),
        nonsense: counted(samples.iter().flat_map(|s| &s.nonsense)),
        ugly: counted(samples.iter().flat_map(|s| &s.ugly)),
        faults: Vec::new(),
    };
    proof.faults = policy::faults(&proof);
    proof
}

fn counted<'a>(all: impl Iterator<Item = &'a String>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for one in all {
        *counts.entry(one.clone()).or_default() += 1;
    }
    counts
}

fn regimes(samples: &[Sample]) -> Vec<(String, Vec<(Regime, usize)>)> {
    let Some(first) = samples.first() else {
        return Vec::new();
    };
    (first.regimes.iter().enumerate())
        .map(|(i, (name, _))| {
            let met = |regime: Regime| {
                let here = |s: &&Sample| s.regimes.get(i).is_some_and(|(_, r)| *r == regime);
                samples.iter().filter(here).count()
            };
            let counts = (Regime::ALL.into_iter())
                .map(|regime| (regime, met(regime)))
                .filter(|(_, count)| *count > 0)
                .collect();
            (name.clone(), counts)
        })
        .collect()
}

fn range(name: &str, unit: &Unit, numbers: Vec<f64>) -> Option<Range> {
    Some(Range {
        name: name.to_owned(),
        unit: unit.clone(),
        five: Five::of(&numbers)?,
        numbers,
    })
}

fn answers(template: &Template, samples: &[Sample]) -> Vec<Range> {
    (template.parts.iter().enumerate())
        .filter_map(|(i, part)| {
            let Asked::Number { unit, .. } = &part.asked else {
                return None;
            };
            range(
                &part.name,
                unit,
                samples.iter().filter_map(|s| s.answers[i]).collect(),
            )
        })
        .collect()
}

fn words(template: &Template, samples: &[Sample]) -> Vec<(String, Vec<(String, usize)>)> {
    (template.parts.iter().enumerate())
        .filter(|(_, part)| !matches!(part.asked, Asked::Number { .. }))
        .map(|(i, part)| {
            let counts = counted(samples.iter().filter_map(|s| s.words[i].as_ref()));
            (part.name.clone(), counts.into_iter().collect())
        })
        .collect()
}

fn on_the_way(samples: &[Sample]) -> Vec<Range> {
    let Some(first) = samples.first() else {
        return Vec::new();
    };
    let mut all: Vec<Range> = Vec::new();
    // What stays as it is, and a station's velocity that is its pipe's, need no line.
    let ranges = (first.on_the_way.iter())
        .filter_map(|value| {
            let of = |s: &Sample| {
                (s.on_the_way.iter())
                    .find(|v| v.name == value.name)
                    .map(|v| v.number)
            };
            range(&value.name, &value.unit, samples.iter().filter_map(of).collect())
        })
        .filter(|range| range.five.least < range.five.greatest);
    for range in ranges {
        if !all.iter().any(|known| known.numbers == range.numbers) {
            all.push(range);
        }
    }
    all
}

/// Draws with the same givens are the same problem, and count as doubles too.
fn doubles(samples: &[Sample]) -> (f64, usize, usize) {
    let mut groups: BTreeMap<&str, usize> = BTreeMap::new();
    for sample in samples {
        *groups.entry(&sample.printed).or_default() += 1;
    }
    let pairs: usize = groups.values().map(|n| n * (n - 1)).sum();
    let all = samples.len() * samples.len().saturating_sub(1);
    let with_a_double = groups.values().filter(|n| **n > 1).sum();
    (pairs as f64 / (all as f64).max(1.0), pairs / 2, with_a_double)
}

fn widths(template: &Template, samples: &[Sample]) -> Vec<Width> {
    (template.parts.iter().enumerate())
        .filter_map(|(i, part)| {
            let numbers: Vec<f64> = samples.iter().filter_map(|s| s.difficulty.widths[i]).collect();
            let five = Five::of(&numbers)?;
            let mut causes: Vec<(Cause, f64)> = (Cause::ALL.into_iter())
                .filter_map(|cause| {
                    let of = |s: &Sample| {
                        (s.causes[i].iter())
                            .find(|(c, _)| *c == cause)
                            .map_or(0.0, |(_, share)| *share)
                    };
                    let shares: Vec<f64> = samples.iter().map(of).collect();
                    Some((cause, Five::of(&shares)?.middle))
                })
                .filter(|(_, share)| *share > 0.0)
                .collect();
            causes.sort_by(|a, b| b.1.total_cmp(&a.1));
            Some(Width {
                part: part.name.clone(),
                five,
                numbers,
                causes,
            })
        })
        .collect()
}

fn slips(template: &Template, samples: &[Sample]) -> Vec<SlipProof> {
    let listed = |name: &str| template.slips.iter().any(|l| l.name == name);
    let mut all: Vec<SlipProof> = Vec::new();
    // Listed ones stand there even where no draw shows them.
    for slip in &template.slips {
        all.push(SlipProof::new(&slip.name, true));
    }
    for shown in samples.iter().flat_map(|s| &s.slips) {
        let at = match all.iter().position(|p| p.slip == shown.slip) {
            Some(at) => at,
            None => {
                all.push(SlipProof::new(&shown.slip, listed(&shown.slip)));
                all.len() - 1
            }
        };
        let proof = &mut all[at];
        match shown.clearance {
            Clearance::Clear { half_widths } => {
                proof.clear += 1;
                proof.least = proof.least.min(half_widths);
            }
            Clearance::Overlaps => proof.overlaps += 1,
            Clearance::TooSmall => proof.too_small += 1,
        }
    }
    all
}

impl SlipProof {
    fn new(slip: &str, listed: bool) -> Self {
        Self {
            slip: slip.to_owned(),
            listed,
            clear: 0,
            overlaps: 0,
            too_small: 0,
            least: f64::INFINITY,
        }
    }
}

fn inseparable(template: &Template, samples: &[Sample]) -> Vec<(String, String, usize)> {
    let mut counts: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for pair in samples.iter().flat_map(|s| &s.inseparable) {
        *counts.entry(*pair).or_default() += 1;
    }
    (counts.into_iter())
        .map(|((a, b), times)| {
            (
                template.slips[a].name.clone(),
                template.slips[b].name.clone(),
                times,
            )
        })
        .collect()
}

fn spread(samples: &[Sample], policy: &Policy) -> Option<Spread> {
    let all: Vec<&Difficulty> = samples.iter().map(|s| &s.difficulty).collect();
    let mut paths: BTreeMap<&[Way], usize> = BTreeMap::new();
    for one in &all {
        *paths.entry(&one.path).or_default() += 1;
    }
    let mut paths: Vec<_> = (paths.into_iter())
        .map(|(path, count)| (path.to_vec(), count))
        .collect();
    paths.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    // Each class takes its target from so many draws.
    let mut alike: Vec<f64> = (samples.chunks(SAMPLE))
        .filter(|chunk| chunk.len() == SAMPLE.min(samples.len()))
        .filter_map(|chunk| {
            let own: Vec<_> = chunk.iter().map(|s| s.difficulty.clone()).collect();
            let target = Target::among(&own, &policy.difficulty)?;
            let fit = all.iter().filter(|d| target.misfit(d).is_none()).count();
            Some(fit as f64 / all.len() as f64)
        })
        .collect();
    alike.sort_by(f64::total_cmp);
    let steepness = all.iter().flat_map(|d| d.steepness.iter().copied());
    Some(Spread {
        paths,
        iterations: (
            all.iter().map(|d| d.iterations).min()?,
            all.iter().map(|d| d.iterations).max()?,
        ),
        steepness: (
            steepness.clone().fold(f64::INFINITY, f64::min).min(f64::MAX),
            steepness.fold(0.0, f64::max),
        ),
        alike: (*alike.get(alike.len() / 2)?, *alike.first()?),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quartiles_are_numbers_of_the_list() {
        assert_eq!(Five::of(&[]), None);
        let five = Five::of(&[9.0, 1.0, 5.0, 3.0, 7.0]).expect("numbers");
        assert_eq!(
            (five.least, five.lower, five.middle, five.upper, five.greatest),
            (1.0, 3.0, 5.0, 7.0, 9.0)
        );
        let one = Five::of(&[2.0]).expect("a number");
        assert_eq!((one.least, one.greatest), (2.0, 2.0));
    }
}
