//! Two slips that together explain what no single one does.

use super::diagnose::{Found, Seen, Spans, Stand, diagnose, stand};
use super::judge::{Leads, with_slack};
use crate::band::Accepted;
use crate::band::slip::{Pairs, Slip, SlipAnswers};
use crate::bank::course::{Conventions, Policy};
use crate::constants::policy::{PAIR_GUESS, PAIR_NUMBERS, PAIR_REACH, SLIP_PRIOR};
use crate::deal::Dealt;
use crate::solution::Answer;
use std::borrow::Cow;

/// The pairs of slips that the numbers of a student name, where no single one was named: `singles` are where those lead.
/// Every wrong number must lie where the pair leads, and there must be some.
pub(super) fn made_together<'a>(
    dealt: &'a Dealt,
    seen: &[Option<Seen>],
    singles: &[Vec<Option<(f64, f64)>>],
    policy: &Policy,
    conventions: &Conventions,
) -> Option<Vec<Leads<'a>>> {
    let wrong: Vec<(usize, f64)> = (seen.iter().enumerate())
        .filter_map(|(part, seen)| Some((part, seen.as_ref().filter(|s| s.found == Found::Wrong)?.answer)))
        .collect();
    if wrong.len() < PAIR_NUMBERS {
        return None;
    }
    let found = (dealt.slips.as_slice(), dealt.accepted.as_slice());
    let (template, givens, case) = (&dealt.template, &dealt.givens, &dealt.case);
    let pairs = Pairs::new(template, givens, case, found, policy, conventions)?;
    let leads: Vec<Leads<'a>> = (pairs.each())
        .filter(|slips| {
            let [one, other] = slips.map(|n| &dealt.slips[n]);
            (wrong.iter()).all(|(part, answer)| may_lead(dealt, one, other, *part, *answer))
        })
        .filter_map(|slips| {
            let answers = pairs.answers(slips)?;
            let near = |(part, answer): &(usize, f64)| {
                number(&answers, *part)
                    .is_some_and(|it| (it - answer).abs() <= PAIR_REACH * it.abs().max(answer.abs()))
            };
            if !wrong.iter().all(near) {
                return None;
            }
            let spans = with_slack(&pairs.spans(slips, &answers), &dealt.accepted);
            let there = |(part, _): &(usize, f64)| {
                matches!((&seen[*part], spans[*part]), (Some(seen), Some(span)) if stand(seen, span) == Stand::There)
            };
            wrong.iter().all(there).then(|| Leads {
                slips: slips.map(|n| &dealt.slips[n].slip).to_vec(),
                answers: answers.into(),
                spans,
            })
        })
        .collect();
    // Single slips that fit about as well are rivals.
    let all: Vec<(&Spans, f64)> = (leads
        .iter()
        .map(|pair| (pair.spans.as_slice(), SLIP_PRIOR * SLIP_PRIOR)))
    .chain(singles.iter().map(|spans| (spans.as_slice(), SLIP_PRIOR)))
    .collect();
    let diagnosis = diagnose(seen, &all)?;
    let named: Vec<Leads<'a>> = (leads.into_iter().enumerate())
        .filter(|(n, _)| diagnosis.named.contains(n))
        .map(|(_, pair)| pair)
        .collect();
    (named.len() == diagnosis.named.len() && can_be_told(&named)).then_some(named)
}

/// Whether a number may lie where two slips lead together, guessed from what each does alone: their factors multiplied, or
/// what they add, as to a head that is a sum.
fn may_lead(dealt: &Dealt, one: &SlipAnswers, other: &SlipAnswers, part: usize, answer: f64) -> bool {
    let (Accepted::Number(band), Some(one), Some(other)) = (
        &dealt.accepted[part],
        number(&one.answers, part),
        number(&other.answers, part),
    ) else {
        // One of them alone ends nowhere here.
        return true;
    };
    let right = band.reference.value;
    [one * other / right, one + other - right]
        .into_iter()
        .any(|guess| {
            let ratio = answer / guess;
            // With signs that change, or at nothing, guesses say nothing.
            !ratio.is_finite() || ratio <= 0.0 || (1.0 / PAIR_GUESS..=PAIR_GUESS).contains(&ratio)
        })
}

/// Whether some pairs come to this: one of some slips, and one of some others beside it.
fn can_be_told(pairs: &[Leads<'_>]) -> bool {
    let groups = grouped(&pairs.iter().collect::<Vec<_>>());
    groups.iter().map(Vec::len).product::<usize>() == pairs.len()
}

/// The slips of which one was made; of pairs, those of which one was made, and those of which another was made beside it.
pub(super) fn grouped<'a>(leads: &[&Leads<'a>]) -> Vec<Vec<&'a Slip>> {
    let Some(first) = leads.first() else {
        return Vec::new();
    };
    // Those that have all but one in common with the first: which ones they have in the place of that one.
    let in_place_of = |n: usize| {
        let common: Vec<_> = (first.slips.iter().enumerate())
            .filter(|(m, _)| *m != n)
            .map(|(_, slip)| &slip.name)
            .collect();
        let mut group = Vec::new();
        for lead in leads {
            let has = |name: &&Cow<'_, str>| lead.slips.iter().any(|slip| slip.name == **name);
            if common.iter().all(has) {
                group.extend(lead.slips.iter().find(|slip| !common.contains(&&slip.name)));
            }
        }
        group
    };
    (0..first.slips.len()).map(in_place_of).collect()
}

fn number(answers: &[Option<Answer>], part: usize) -> Option<f64> {
    match answers.get(part) {
        Some(Some(Answer::Number(number))) => Some(number.value),
        _ => None,
    }
}
