//! Slips: common errors, each as a change to the working.
//!
//! A slip changes the system, how its friction factors are had, or what is made of the results; then every part is
//! answered from a whole working. Since systems of all kinds show their numbers by what they are for, most slips
//! work for all kinds, alone or two together. Which loss is an exit or an entrance is told by its name: one that
//! contains `exit` or `entrance`.

mod after;
mod base;
mod before;
mod clearance;
mod library;
mod meter;
mod network;
mod own;
mod pump;
mod setup;
mod units;

pub use clearance::Clearance;

use super::{Accepted, Band, Cause};
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::Template;
use crate::equation::Bindings;
use crate::solution::{Answer, Case};
use base::{Base, Misread};
use library::{How, LIBRARY};
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

/// The answers that each applicable slip leads to, those of the library that the template does not switch off and
/// the template's own; one that changes no part's answer is left out. `accepted` is what each part accepts.
pub fn slip_answers(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    accepted: &[Accepted],
    policy: &Policy,
    conventions: &Conventions,
) -> Vec<SlipAnswers> {
    let Some(base) = Base::new(template, givens, case, policy, conventions) else {
        return Vec::new();
    };
    let is_off = |slip: &Slip| template.slips_off.iter().any(|off| *off == slip.name);
    let own = template.own_slips.iter().enumerate().map(|(n, own)| Slip {
        name: Cow::Owned(own.name.clone()),
        advice: Cow::Owned(own.advice.clone()),
        how: How::Own(n),
    });
    (LIBRARY.iter().filter(|slip| !is_off(slip)).cloned())
        .chain(own)
        .filter_map(|slip| {
            let answers = base.with(&[slip.how], Misread::Not)?;
            if !differs(&answers, &base.right) {
                return None;
            }
            let spans = spans(&base, &[slip.how], &answers, accepted);
            Some(SlipAnswers { slip, answers, spans })
        })
        .collect()
}

/// The answers of one slip to a student who misreads every friction factor by one share, -1 to 1, of what is
/// allowed; `None` where the working ends nowhere.
pub fn slip_misread(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    slip: &Slip,
    share: f64,
    policy: &Policy,
    conventions: &Conventions,
) -> Option<Vec<Option<Answer>>> {
    Base::new(template, givens, case, policy, conventions)?.with(&[slip.how], Misread::By(share))
}

/// How far the answers reach of a working with slips in it.
fn spans(
    base: &Base<'_>,
    slips: &[How],
    answers: &[Option<Answer>],
    accepted: &[Accepted],
) -> Vec<Option<(f64, f64)>> {
    let ends = [Misread::Low, Misread::High].map(|misread| base.with(slips, misread));
    (0..answers.len())
        .map(|part| span(answers, &ends, part, accepted.get(part)))
        .collect()
}

/// How far the answer to a part reaches: all friction factors read too low, or too high; and beyond that by the share
/// that all other causes have in the band of the right answer.
fn span(
    answers: &[Option<Answer>],
    ends: &[Option<Vec<Option<Answer>>>; 2],
    part: usize,
    accepted: Option<&Accepted>,
) -> Option<(f64, f64)> {
    let number = |answers: &[Option<Answer>]| match answers.get(part) {
        Some(Some(Answer::Number(number))) => Some(number.value),
        _ => None,
    };
    let value = number(answers)?;
    let mut span = (value, value);
    for end in ends.iter().flatten() {
        if let Some(end) = number(end) {
            span = (span.0.min(end), span.1.max(end));
        }
    }
    if let Some(Accepted::Number(band)) = accepted {
        let (low, high) = beyond_reading(band);
        // As a share of the right answer; of a larger one it is more.
        let size = if band.reference.value == 0.0 {
            1.0
        } else {
            (value / band.reference.value).abs()
        };
        span = (span.0 - low * size, span.1 + high * size);
    }
    Some(span)
}

/// How much further than readings alone a band reaches, down and up.
fn beyond_reading(band: &Band) -> (f64, f64) {
    let reference = band.reference.value;
    let read = band.causes.iter().find(|(cause, ..)| *cause == Cause::Reading);
    let (low, high) = read.map_or((reference, reference), |(_, low, high)| (*low, *high));
    ((low - band.low).max(0.0), (band.high - high).max(0.0))
}

/// Two slips in one working, each pair worked out when it is asked for.
pub struct Pairs<'a> {
    base: Base<'a>,
    singles: &'a [SlipAnswers],
    accepted: &'a [Accepted],
}

impl<'a> Pairs<'a> {
    /// Of the slips that [`slip_answers`] found; `None` where it finds none.
    pub fn new(
        template: &'a Template,
        givens: &'a Bindings,
        case: &'a Case,
        (singles, accepted): (&'a [SlipAnswers], &'a [Accepted]),
        policy: &Policy,
        conventions: &Conventions,
    ) -> Option<Self> {
        let base = Base::new(template, givens, case, policy, conventions)?;
        Some(Self {
            base,
            singles,
            accepted,
        })
    }

    /// All pairs, as the two stand among the single ones, but those that change the same thing.
    pub fn each(&self) -> impl Iterator<Item = [usize; 2]> + use<'a> {
        let singles = self.singles;
        (0..singles.len())
            .flat_map(|second| (0..second).map(move |first| [first, second]))
            .filter(|[one, other]| singles[*one].slip.goes_with(&singles[*other].slip))
    }

    /// The answers of two slips together; `None` where they cancel each other, or lead where one alone leads, or their
    /// working ends nowhere.
    pub fn answers(&self, slips: [usize; 2]) -> Option<Vec<Option<Answer>>> {
        let [one, other] = slips.map(|n| &self.singles[n]);
        let answers = self.base.with(&[one.slip.how, other.slip.how], Misread::Not)?;
        [&self.base.right, &one.answers, &other.answers]
            .into_iter()
            .all(|known| differs(&answers, known))
            .then_some(answers)
    }

    /// How far these answers of theirs reach, as [`SlipAnswers::spans`].
    pub fn spans(&self, slips: [usize; 2], answers: &[Option<Answer>]) -> Vec<Option<(f64, f64)>> {
        let how = slips.map(|n| self.singles[n].slip.how);
        spans(&self.base, &how, answers, self.accepted)
    }

    /// Their answers to a student who misreads every friction factor by one share, -1 to 1, of what is allowed.
    pub fn misread(&self, slips: [usize; 2], share: f64) -> Option<Vec<Option<Answer>>> {
        let how = slips.map(|n| self.singles[n].slip.how);
        self.base.with(&how, Misread::By(share))
    }
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
