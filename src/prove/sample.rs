//! What is kept of one draw.

use super::sense::{base, listed_unit, lowest_pressure, nonsense, ugly};
use crate::band::slip::Clearance;
use crate::band::{Accepted, Cause};
use crate::bank::course::{Conventions, Policy, UnitSystem};
use crate::bank::template::{Asked, Template};
use crate::deal::Dealt;
use crate::deal::difficulty::Difficulty;
use crate::hydraulics::regime::Regime;
use crate::quantity::{Dimension, Unit, Written};
use crate::solution::Answer;

/// A value of one draw: its name, its unit, and the number in it.
pub(super) struct Value {
    pub(super) name: String,
    pub(super) unit: Unit,
    pub(super) number: f64,
}

/// How one slip stands to a draw in the part that shows it best.
pub(super) struct Shown {
    pub(super) slip: String,
    pub(super) clearance: Clearance,
}

/// What is kept of one draw.
pub(super) struct Sample {
    /// All answers as printed.
    pub(super) printed: String,
    /// The answer to each part: its number in the unit asked for.
    pub(super) answers: Vec<Option<f64>>,
    /// The word that answers each part that asks for one.
    pub(super) words: Vec<Option<String>>,
    /// Reynolds numbers, velocities and pressures on the way.
    pub(super) on_the_way: Vec<Value>,
    /// The regime of whatever flows.
    pub(super) regimes: Vec<(String, Regime)>,
    /// For each part the share of its band's width that each cause would have alone.
    pub(super) causes: Vec<Vec<(Cause, f64)>>,
    pub(super) difficulty: Difficulty,
    pub(super) slips: Vec<Shown>,
    /// Pairs of listed slips that no part's number tells apart.
    pub(super) inseparable: Vec<(usize, usize)>,
    pub(super) nonsense: Vec<String>,
    pub(super) ugly: Vec<String>,
}

impl Sample {
    pub(super) fn of(dealt: &Dealt, policy: &Policy, conventions: &Conventions) -> Self {
        let template = &dealt.template;
        let results = dealt.case.results(conventions);
        let customary = conventions.units == UnitSystem::UsCustomary;
        let mut on_the_way = Vec::new();
        for (name, bound) in &results.0 {
            let wanted = matches!(
                (base(name), bound.quantity.dimension),
                ("Re", Dimension::NONE) | ("V", Dimension::VELOCITY) | ("p", Dimension::PRESSURE)
            );
            if wanted {
                let unit = listed_unit(bound.quantity.dimension, customary);
                on_the_way.push(Value {
                    name: name.clone(),
                    number: unit.from_si(bound.quantity.value),
                    unit,
                });
            }
        }
        if let Some(lowest) = lowest_pressure(&dealt.case) {
            let unit = listed_unit(Dimension::PRESSURE, customary);
            on_the_way.push(Value {
                name: "lowest pressure".to_owned(),
                number: unit.from_si(lowest),
                unit,
            });
        }
        let mut printed = Vec::new();
        let mut answers = Vec::new();
        let mut words = Vec::new();
        for (part, answer) in template.parts.iter().zip(&dealt.answers) {
            let (text, number, word) = match (answer, &part.asked) {
                (Answer::Number(number), Asked::Number { unit, figures, .. }) => (
                    Written::from_si(number.value, unit, *figures).ascii(),
                    Some(unit.from_si(number.value)),
                    None,
                ),
                (Answer::Regime(regime), _) => {
                    (regime.name().to_owned(), None, Some(regime.name().to_owned()))
                }
                (Answer::Choice(word), _) => (word.clone(), None, Some(word.clone())),
                (Answer::Number(number), _) => (number.value.to_string(), None, None),
            };
            printed.push(text);
            answers.push(number);
            words.push(word);
        }
        Self {
            printed: printed.join(";"),
            answers,
            words,
            on_the_way,
            regimes: (dealt.case.flowing().into_iter())
                .map(|f| (f.name, f.regime))
                .collect(),
            causes: dealt.accepted.iter().map(causes).collect(),
            difficulty: Difficulty::of(&dealt.case, &dealt.accepted, &policy.limits),
            slips: slips(dealt),
            inseparable: inseparable(template, dealt),
            nonsense: nonsense(dealt, &results),
            ugly: ugly(template, &dealt.draw.values, &dealt.answers),
        }
    }
}

/// The share of what the causes' own widths add up to, for each that has one.
fn causes(accepted: &Accepted) -> Vec<(Cause, f64)> {
    let Accepted::Number(band) = accepted else {
        return Vec::new();
    };
    let all: f64 = band.causes.iter().map(|(_, low, high)| high - low).sum();
    (band.causes.iter())
        .filter(|(_, low, high)| high > low)
        .map(|(cause, low, high)| (*cause, (high - low) / all))
        .collect()
}

/// How each slip stands to the draw in the part that shows it best.
fn slips(dealt: &Dealt) -> Vec<Shown> {
    let rank = |clearance: &Clearance| match clearance {
        Clearance::TooSmall => -1.0,
        Clearance::Overlaps => 0.0,
        Clearance::Clear { half_widths } => 1.0 + half_widths,
    };
    (dealt.slips.iter().enumerate())
        .filter_map(|(n, slip)| {
            let best = (0..dealt.accepted.len())
                .filter_map(|part| dealt.clearance(n, part))
                .max_by(|a, b| rank(a).total_cmp(&rank(b)))?;
            Some(Shown {
                slip: slip.slip.name.to_string(),
                clearance: best,
            })
        })
        .collect()
}

/// Pairs of listed slips whose answers to every part could be either's.
fn inseparable(template: &Template, dealt: &Dealt) -> Vec<(usize, usize)> {
    let places: Vec<_> = (template.slips.iter())
        .map(|listed| dealt.slips.iter().position(|s| s.slip.name == listed.name))
        .collect();
    // What a part may be answered with by one who makes the slip: the span around its answer, or the band itself where it
    // does not touch the part.
    let reach = |slip: usize, part: usize| -> Option<(f64, f64)> {
        let Some(Accepted::Number(band)) = dealt.accepted.get(part) else {
            return None;
        };
        let of = &dealt.slips[slip];
        match (dealt.clearance(slip, part), of.answers.get(part)) {
            (Some(_), Some(Some(Answer::Number(number)))) => {
                Some((of.spans.get(part).and_then(|s| *s)).unwrap_or((number.value, number.value)))
            }
            _ => Some((band.low, band.high)),
        }
    };
    let alike = |a: usize, b: usize| {
        (0..dealt.accepted.len()).all(|part| match (reach(a, part), reach(b, part)) {
            (Some(x), Some(y)) => x.0 <= y.1 && y.0 <= x.1,
            _ => dealt.slips[a].answers.get(part) == dealt.slips[b].answers.get(part),
        })
    };
    let mut pairs = Vec::new();
    for (i, a) in places.iter().enumerate() {
        for (j, b) in places.iter().enumerate().skip(i + 1) {
            if let (Some(a), Some(b)) = (a, b)
                && alike(*a, *b)
            {
                pairs.push((i, j));
            }
        }
    }
    pairs
}
