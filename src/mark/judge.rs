//! One problem of one student: answers to verdicts and shares of the marks.

use super::Verdict;
use super::hint::{Hint, hint};
use super::understand::{Understood, understand, written};
use crate::band::slip::Slip;
use crate::band::{Accepted, Band, follow_through};
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::Asked;
use crate::deal::Dealt;
use crate::solution::Answer;
use std::borrow::Cow;

/// Ends of bands and answers are compared to this share, so that the same value typed in another unit, and so
/// rounded differently in its last bit, fares the same.
const SAME: f64 = 1e-9;

/// What was found about one answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// What it was understood to say.
    pub understood: Understood,
    /// The verdict.
    pub verdict: Verdict,
    /// The slips that explain it; more than one where they lead to the same number.
    pub slips: Vec<Slip>,
    /// Earlier parts (indices) whose own answers it follows from.
    pub follows: Vec<usize>,
    /// Share of the part's marks.
    pub share: f64,
    /// Whether it lies so close outside the band that a person should look.
    pub near: bool,
    /// What would explain a wrong number; no verdict.
    pub hint: Option<Hint>,
    /// Why, in a few words.
    pub why: String,
}

/// Whether a part accepts an answer.
pub fn accepts(accepted: &Accepted, answer: &Answer) -> bool {
    match (accepted, answer) {
        (Accepted::Number(band), Answer::Number(quantity)) => {
            let slack = SAME * band.low.abs().max(band.high.abs());
            band.reference.dimension == quantity.dimension
                && band.low - slack <= quantity.value
                && quantity.value <= band.high + slack
        }
        (Accepted::OneOf(answers), answer) => answers.contains(answer),
        _ => false,
    }
}

/// Judges all answers to one problem; `typed` holds a text for each part.
///
/// A later part that is right given the student's own wrong earlier answer follows through, so that one error is
/// paid for once.
pub fn judge(dealt: &Dealt, typed: &[&str], policy: &Policy, conventions: &Conventions) -> Vec<Judged> {
    let parts = &dealt.template.parts;
    let understood: Vec<Understood> = parts
        .iter()
        .zip(&dealt.accepted)
        .enumerate()
        .map(|(i, (part, accepted))| {
            understand(
                typed.get(i).copied().unwrap_or_default(),
                &part.asked,
                accepted,
                policy,
                conventions.decimal_mark,
            )
        })
        .collect();
    let right: Vec<bool> = understood
        .iter()
        .zip(&dealt.accepted)
        .map(|(u, accepted)| u.answer().is_some_and(|answer| accepts(accepted, answer)))
        .collect();
    let mut judged: Vec<Judged> = Vec::with_capacity(parts.len());
    for (i, part_understood) in understood.iter().enumerate() {
        let mut verdict = match part_understood {
            Understood::Blank => plain(part_understood, Verdict::Blank, 0.0, "no answer"),
            Understood::Unclear(why) => plain(part_understood, Verdict::Unclear, 0.0, why),
            Understood::Open(open, why) => {
                // A person need not look at what is wrong in every meaning.
                let could_count = open.iter().any(|answer| {
                    accepts(&dealt.accepted[i], answer)
                        || outside(dealt, i, answer, &understood, &right, policy, conventions).verdict
                            != Verdict::Wrong
                });
                let verdict = if could_count {
                    Verdict::Unclear
                } else {
                    Verdict::Wrong
                };
                plain(part_understood, verdict, 0.0, why)
            }
            Understood::Answer(..) if right[i] => plain(part_understood, Verdict::InBand, 1.0, ""),
            Understood::Answer(answer, _) => {
                outside(dealt, i, answer, &understood, &right, policy, conventions)
            }
        };
        let text = typed.get(i).copied().unwrap_or_default();
        give_hint(dealt, i, text, conventions, &mut verdict);
        judged.push(verdict);
    }
    name_slips_of_words(dealt, &mut judged, policy);
    judged
}

/// Looks for what would explain a wrong number. Too few figures put it before a person as well.
fn give_hint(dealt: &Dealt, part: usize, text: &str, conventions: &Conventions, judged: &mut Judged) {
    if !matches!(judged.verdict, Verdict::Wrong | Verdict::KnownSlip) {
        return;
    }
    let (Asked::Number { unit, figures, .. }, Some(Answer::Number(si))) =
        (&dealt.template.parts[part].asked, judged.understood.answer())
    else {
        return;
    };
    let Ok(typed) = written(text.trim(), unit, conventions.decimal_mark) else {
        return;
    };
    let found = hint(&dealt.accepted[part], &typed, *si, unit, *figures);
    let few = matches!(found, Some(Hint::FewFigures { .. }));
    // A slip explains the number already.
    if judged.verdict == Verdict::KnownSlip && !few {
        return;
    }
    if let Some(found) = &found {
        judged.why = format!("{}; {}", judged.why, found.text());
    }
    judged.near |= few;
    judged.hint = found;
}

fn plain(understood: &Understood, verdict: Verdict, share: f64, why: &str) -> Judged {
    Judged {
        understood: understood.clone(),
        verdict,
        slips: Vec::new(),
        follows: Vec::new(),
        share,
        near: false,
        hint: None,
        why: why.to_owned(),
    }
}

fn outside(
    dealt: &Dealt,
    part: usize,
    answer: &Answer,
    understood: &[Understood],
    right: &[bool],
    policy: &Policy,
    conventions: &Conventions,
) -> Judged {
    let mut judged = plain(&understood[part], Verdict::Wrong, 0.0, "");
    if let (Accepted::Number(band), Answer::Number(q)) = (&dealt.accepted[part], answer) {
        judged.near = band.beyond(q.value) <= policy.review_margin;
        judged.why = how_far(band, q.value);
    } else {
        judged.why = "another answer is right".into();
    }
    if let Some(follows) = follows(dealt, part, answer, understood, right, policy, conventions) {
        let names: Vec<&str> = follows
            .iter()
            .map(|p| dealt.template.parts[*p].name.as_str())
            .collect();
        judged.verdict = Verdict::FollowsThrough;
        judged.share = policy.follow_through_share;
        judged.why = format!("right from the student's own {}", names.join(", "));
        judged.follows = follows;
        return judged;
    }
    if let (Accepted::Number(band), Answer::Number(q)) = (&dealt.accepted[part], answer) {
        let slips = slips_near(dealt, part, band, q.value);
        set_slips(&mut judged, slips, policy);
    }
    judged
}

fn set_slips(judged: &mut Judged, slips: Vec<Slip>, policy: &Policy) {
    if slips.is_empty() {
        return;
    }
    let names: Vec<&str> = slips.iter().map(|s| &*s.name).collect();
    judged.verdict = Verdict::KnownSlip;
    judged.share = policy.slip_share;
    judged.why = format!("as if: {}", names.join(" or "));
    judged.slips = slips;
}

/// The earlier parts from whose own answers, not all of them right, this answer follows.
fn follows(
    dealt: &Dealt,
    part: usize,
    answer: &Answer,
    understood: &[Understood],
    right: &[bool],
    policy: &Policy,
    conventions: &Conventions,
) -> Option<Vec<usize>> {
    let parts = &dealt.template.parts;
    // Where an earlier part was left out, those that it builds on stand in for it.
    let mut own: Vec<Option<Answer>> = vec![None; parts.len()];
    let mut open = parts[part].builds_on.clone();
    let mut seen = vec![false; parts.len()];
    while let Some(earlier) = open.pop() {
        if earlier == part || std::mem::replace(&mut seen[earlier], true) {
            continue;
        }
        match understood[earlier].answer() {
            Some(answer) => own[earlier] = Some(answer.clone()),
            None => open.extend(&parts[earlier].builds_on),
        }
    }
    let wrong: Vec<usize> = (0..parts.len())
        .filter(|p| own[*p].is_some() && !right[*p])
        .collect();
    if wrong.is_empty() {
        return None;
    }
    let holds = |own: &[Option<Answer>]| {
        follow_through(
            &dealt.template,
            &dealt.givens,
            &dealt.case,
            part,
            own,
            policy,
            conventions,
        )
        .is_some_and(|accepted| accepts(&accepted, answer))
    };
    // From everything the student wrote; or from the wrong ones alone, the right ones carried with more figures
    // than they were written with.
    let only_wrong: Vec<Option<Answer>> = own
        .iter()
        .zip(right)
        .map(|(o, right)| if *right { None } else { o.clone() })
        .collect();
    (holds(&own) || only_wrong != own && holds(&only_wrong)).then_some(wrong)
}

/// The slips whose answer is nearest, where it is near enough: within the half width that the part's own band has,
/// relative to its reference. Slips whose answers print alike are named together.
fn slips_near(dealt: &Dealt, part: usize, band: &Band, answer: f64) -> Vec<Slip> {
    let half = 0.5 * (band.high - band.low);
    let reference = band.reference.value.abs();
    let figures = match &dealt.template.parts[part].asked {
        Asked::Number { figures, .. } => *figures,
        _ => 3,
    };
    let alike = libm::pow(10.0, -f64::from(figures.min(12)));
    let mut near: Vec<(f64, f64, &Slip)> = dealt
        .slips
        .iter()
        .enumerate()
        // A slip that careful work can't always be told from explains nothing here.
        .filter(|(n, _)| !dealt.is_hidden(*n, part))
        .filter_map(|(_, s)| match s.answers.get(part) {
            Some(Some(Answer::Number(q))) if !band.holds(q.value) => Some((q.value, &s.slip)),
            _ => None,
        })
        .filter_map(|(value, slip)| {
            let reach = if reference > 0.0 {
                half / reference * value.abs()
            } else {
                half
            };
            let distance = (answer - value).abs();
            (distance <= reach + SAME * value.abs()).then_some((distance, value, slip))
        })
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    match near.first().map(|n| n.1) {
        Some(nearest) => near
            .iter()
            .filter(|(_, value, _)| (value - nearest).abs() <= alike * nearest.abs())
            .map(|(_, _, slip)| (*slip).clone())
            .collect(),
        None => Vec::new(),
    }
}

/// A wrong word names a slip only where one alone leads to it, or where the same student's numbers in the same
/// problem already named it: of ten slips, half lead to the wrong one of two words.
fn name_slips_of_words(dealt: &Dealt, judged: &mut [Judged], policy: &Policy) {
    let mut made: Vec<Cow<'static, str>> = judged
        .iter()
        .flat_map(|j| j.slips.iter().map(|s| s.name.clone()))
        .collect();
    made.sort_unstable();
    for (part, judged) in judged.iter_mut().enumerate() {
        if judged.verdict != Verdict::Wrong {
            continue;
        }
        let Some(answer @ (Answer::Regime(_) | Answer::Choice(_))) = judged.understood.answer() else {
            continue;
        };
        let fit: Vec<Slip> = dealt
            .slips
            .iter()
            .filter(|s| s.answers.get(part).is_some_and(|a| a.as_ref() == Some(answer)))
            .map(|s| s.slip.clone())
            .collect();
        let made: Vec<Slip> = fit
            .iter()
            .filter(|s| made.binary_search(&s.name).is_ok())
            .cloned()
            .collect();
        if !made.is_empty() {
            set_slips(judged, made, policy);
        } else if fit.len() == 1 {
            set_slips(judged, fit, policy);
        }
    }
}

/// How far outside a number lies, in words for the instructor.
fn how_far(band: &Band, answer: f64) -> String {
    let (side, end) = if answer < band.low {
        ("below", band.low)
    } else {
        ("above", band.high)
    };
    if answer != 0.0 && band.reference.value != 0.0 && (answer < 0.0) != (band.reference.value < 0.0) {
        return format!("{side} the band, with the other sign");
    }
    let ratio = if end == 0.0 { f64::INFINITY } else { answer / end };
    // Beyond a factor of two the ratio says more than a percentage.
    if !ratio.is_finite() {
        format!("{side} the band")
    } else if ratio >= 2.0 {
        format!("{side} the band, {} times its end", short(ratio))
    } else if ratio > 0.0 && ratio <= 0.5 {
        format!(
            "{side} the band, its end is {} times as large",
            short(1.0 / ratio)
        )
    } else {
        format!("{} % {side} the band", short((ratio - 1.0).abs() * 100.0))
    }
}

/// Two figures, in a plain form.
fn short(value: f64) -> String {
    if value >= 1e6 {
        format!("{value:.1e}")
    } else if value >= 9.5 {
        format!("{value:.0}")
    } else if value >= 0.095 {
        format!("{value:.1}")
    } else {
        format!("{value:.2}")
    }
}
