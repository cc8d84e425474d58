//! One problem of one student: answers to verdicts and shares of the marks.

use super::Verdict;
use super::diagnose::{Evidence, Found, Seen, Spans, Stand, bit, diagnose, evidence, stand};
use super::hint::{Hint, hint};
use super::output::{evidence_text, slips_named};
use super::pairs::{grouped, made_together};
use super::understand::{Understood, understand, written};
use crate::band::slip::Slip;
use crate::band::{Accepted, Band, follow_through};
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::Asked;
use crate::constants::policy::SLIP_PRIOR;
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
    /// The slips that explain it: one of each group was made, those of all groups together. One group where a slip does it
    /// alone, two of a pair; a group holds more than one where no number tells them apart.
    pub slips: Vec<Vec<Slip>>,
    /// What speaks for and against them: all numbers that they bear on, at the first part that they explain; at a later
    /// one its own number.
    pub evidence: Vec<Evidence>,
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

/// A problem and what is known of the answers to it before slips are thought of.
struct Work<'a> {
    dealt: &'a Dealt,
    policy: &'a Policy,
    conventions: &'a Conventions,
    understood: Vec<Understood>,
    /// Which parts are answered rightly.
    right: Vec<bool>,
}

/// Judges all answers to one problem; `typed` holds a text for each part.
///
/// A later part that is right given the student's own wrong earlier answer follows through, so that one error is
/// paid for once. What does not follow is held against the slips, all numbers together.
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
    let right = understood
        .iter()
        .zip(&dealt.accepted)
        .map(|(u, accepted)| u.answer().is_some_and(|answer| accepts(accepted, answer)))
        .collect();
    let work = Work {
        dealt,
        policy,
        conventions,
        understood,
        right,
    };
    let mut judged: Vec<Judged> = (0..parts.len()).map(|i| work.without_slips(i)).collect();
    let worked_from = worked_from(dealt, &work.right);
    let seen: Vec<Option<Seen>> = (0..parts.len())
        .map(|part| seen(dealt, part, &judged[part], worked_from[part]))
        .collect();
    if let Some((mut made, spans)) = made(dealt, &seen) {
        // A single slip that leaves a wrong number unexplained may have been one of two.
        if !explains_all(&made, &seen)
            && let Some(two) = made_together(dealt, &seen, &spans, policy, conventions)
        {
            made = two;
        }
        tell(dealt, &made, &seen, policy, &mut judged);
    }
    for (i, judged) in judged.iter_mut().enumerate() {
        let open = match &work.understood[i] {
            Understood::Open(open, _) => open,
            _ => continue,
        };
        // A person need not look at what is wrong in every meaning.
        let could_count = open.iter().any(|answer| {
            accepts(&dealt.accepted[i], answer)
                || work.outside(i, answer).verdict != Verdict::Wrong
                || work.is_a_slips(i, answer, &seen)
        });
        if could_count {
            judged.verdict = Verdict::Unclear;
        }
    }
    for (i, judged) in judged.iter_mut().enumerate() {
        let text = typed.get(i).copied().unwrap_or_default();
        give_hint(dealt, i, text, conventions, judged);
    }
    judged
}

impl Work<'_> {
    /// What can be said of one part before slips are thought of; words that leave several answers open are wrong
    /// so far.
    fn without_slips(&self, part: usize) -> Judged {
        let understood = &self.understood[part];
        match understood {
            Understood::Blank => plain(understood, Verdict::Blank, 0.0, "no answer"),
            Understood::Unclear(why) => plain(understood, Verdict::Unclear, 0.0, why),
            Understood::Open(_, why) => plain(understood, Verdict::Wrong, 0.0, why),
            Understood::Answer(..) if self.right[part] => plain(understood, Verdict::InBand, 1.0, ""),
            Understood::Answer(answer, _) => self.outside(part, answer),
        }
    }

    /// What can be said of an answer that is not right: that it follows from others, or is wrong.
    fn outside(&self, part: usize, answer: &Answer) -> Judged {
        let mut judged = plain(&self.understood[part], Verdict::Wrong, 0.0, "");
        if let (Accepted::Number(band), Answer::Number(q)) = (&self.dealt.accepted[part], answer) {
            judged.near = band.beyond(q.value) <= self.policy.review_margin;
            judged.why = how_far(band, q.value);
        } else {
            judged.why = "another answer is right".into();
        }
        if let Some(follows) = self.follows(part, answer) {
            let names: Vec<&str> = follows
                .iter()
                .map(|p| self.dealt.template.parts[*p].name.as_str())
                .collect();
            judged.verdict = Verdict::FollowsThrough;
            judged.share = self.policy.follow_through_share;
            judged.why = format!("right from the student's own {}", names.join(", "));
            judged.follows = follows;
        }
        judged
    }

    /// The earlier parts from whose own answers, not all of them right, this answer follows.
    fn follows(&self, part: usize, answer: &Answer) -> Option<Vec<usize>> {
        let parts = &self.dealt.template.parts;
        // Where an earlier part was left out, those that it builds on stand in for it.
        let mut own: Vec<Option<Answer>> = vec![None; parts.len()];
        let mut open = parts[part].builds_on.clone();
        let mut seen = vec![false; parts.len()];
        while let Some(earlier) = open.pop() {
            if earlier == part || std::mem::replace(&mut seen[earlier], true) {
                continue;
            }
            match self.understood[earlier].answer() {
                Some(answer) => own[earlier] = Some(answer.clone()),
                None => open.extend(&parts[earlier].builds_on),
            }
        }
        let wrong: Vec<usize> = (0..parts.len())
            .filter(|p| own[*p].is_some() && !self.right[*p])
            .collect();
        // A right answer may stand at the end of its band because one before it is wrong.
        let mut before = parts[part].builds_on.clone();
        let mut passed = vec![false; parts.len()];
        let mut any_wrong = false;
        while let Some(earlier) = before.pop() {
            if !std::mem::replace(&mut passed[earlier], true) {
                any_wrong |= self.understood[earlier].answer().is_some() && !self.right[earlier];
                before.extend(&parts[earlier].builds_on);
            }
        }
        if wrong.is_empty() && !any_wrong {
            return None;
        }
        let from: Vec<usize> = (0..parts.len())
            .filter(|p| own[*p].is_some() && (wrong.is_empty() || !self.right[*p]))
            .collect();
        let holds = |own: &[Option<Answer>]| {
            follow_through(
                &self.dealt.template,
                &self.dealt.givens,
                &self.dealt.case,
                part,
                own,
                self.policy,
                self.conventions,
            )
            .is_some_and(|accepted| accepts(&accepted, answer))
        };
        // From everything the student wrote; or from the wrong ones alone, the right ones carried with more figures
        // than they were written with.
        let only_wrong: Vec<Option<Answer>> = own
            .iter()
            .zip(&self.right)
            .map(|(o, right)| if *right { None } else { o.clone() })
            .collect();
        (holds(&own) || only_wrong != own && holds(&only_wrong)).then_some(from)
    }

    /// Whether a slip would be named from an answer that is only one of those that a text leaves open.
    fn is_a_slips(&self, part: usize, answer: &Answer, seen: &[Option<Seen>]) -> bool {
        let (Accepted::Number(band), Answer::Number(number)) = (&self.dealt.accepted[part], answer) else {
            return false;
        };
        let mut seen = seen.to_vec();
        seen[part] = Some(Seen {
            answer: number.value,
            band: (band.low, band.high),
            found: Found::Wrong,
            worked_from: worked_from(self.dealt, &self.right)[part],
        });
        made(self.dealt, &seen).is_some_and(|(made, _)| !made.is_empty())
    }
}

/// The earlier parts from which each was worked, as bits: those on which it builds, and those behind them. What stands before a right
/// answer is left out, since that answer was gone on with.
fn worked_from(dealt: &Dealt, right: &[bool]) -> Vec<u128> {
    let mut all: Vec<u128> = Vec::with_capacity(right.len());
    for part in &dealt.template.parts {
        let on = part
            .builds_on
            .iter()
            .filter(|earlier| right.get(**earlier) == Some(&false));
        all.push(on.fold(0, |on, earlier| {
            on | bit(*earlier) | all.get(*earlier).copied().unwrap_or(0)
        }));
    }
    all
}

/// A judged number as the diagnosis takes it.
fn seen(dealt: &Dealt, part: usize, judged: &Judged, worked_from: u128) -> Option<Seen> {
    let (Some(Answer::Number(number)), Accepted::Number(band)) =
        (judged.understood.answer(), &dealt.accepted[part])
    else {
        return None;
    };
    let found = match judged.verdict {
        Verdict::InBand => Found::Right,
        Verdict::FollowsThrough => Found::Follows,
        _ => Found::Wrong,
    };
    // A number of another dimension never gets here.
    Some(Seen {
        answer: number.value,
        band: (band.low, band.high),
        found,
        worked_from,
    })
}

/// Some slips that were made together, or one, and where they lead.
pub(super) struct Leads<'a> {
    pub(super) slips: Vec<&'a Slip>,
    pub(super) answers: Cow<'a, [Option<Answer>]>,
    pub(super) spans: Vec<Option<(f64, f64)>>,
}

/// Where slips lead: for each slip, each part low and high, SI.
type AllSpans = Vec<Vec<Option<(f64, f64)>>>;

/// The single slips that the numbers of a student name, and where all of them lead; `None` where no number is wrong.
fn made<'a>(dealt: &'a Dealt, seen: &[Option<Seen>]) -> Option<(Vec<Leads<'a>>, AllSpans)> {
    let wrong = |seen: &Option<Seen>| matches!(seen, Some(seen) if seen.found == Found::Wrong);
    if !seen.iter().any(wrong) {
        return None;
    }
    let spans = slip_spans(dealt);
    let each: Vec<(&Spans, f64)> = spans.iter().map(|spans| (spans.as_slice(), SLIP_PRIOR)).collect();
    let named = diagnose(seen, &each).map_or_else(Vec::new, |diagnosis| diagnosis.named);
    let leads = (named.into_iter())
        .map(|i| Leads {
            slips: vec![&dealt.slips[i].slip],
            answers: Cow::Borrowed(dealt.slips[i].answers.as_slice()),
            spans: spans[i].clone(),
        })
        .collect();
    Some((leads, spans))
}

/// Whether every wrong number lies where one of these slips leads.
fn explains_all(made: &[Leads<'_>], seen: &[Option<Seen>]) -> bool {
    (seen.iter().enumerate()).all(|(part, seen)| match seen {
        Some(seen) if seen.found == Found::Wrong => {
            (made.iter()).any(|leads| leads.spans[part].is_some_and(|span| stand(seen, span) == Stand::There))
        }
        _ => true,
    })
}

/// Where each slip leads that applies to a problem, in their order, each part low and high, SI.
pub fn slip_spans(dealt: &Dealt) -> Vec<Vec<Option<(f64, f64)>>> {
    let slips = dealt.slips.iter();
    slips
        .map(|slip| with_slack(&slip.spans, &dealt.accepted))
        .collect()
}

/// Spans of numbers, as they are compared.
pub(crate) fn with_slack(spans: &[Option<(f64, f64)>], accepted: &[Accepted]) -> Vec<Option<(f64, f64)>> {
    (spans.iter().zip(accepted))
        .map(|(span, accepted)| {
            let ((low, high), Accepted::Number(_)) = ((*span)?, accepted) else {
                return None;
            };
            let more = SAME * low.abs().max(high.abs());
            Some((low - more, high + more))
        })
        .collect()
}

/// Puts what was made into the verdicts that it explains.
fn tell(dealt: &Dealt, made: &[Leads<'_>], seen: &[Option<Seen>], policy: &Policy, judged: &mut [Judged]) {
    let each: Vec<_> = made.iter().map(|leads| leads.spans.as_slice()).collect();
    let mut all = evidence(seen, &each);
    let mut told = false;
    for (part, judged) in judged.iter_mut().enumerate() {
        if judged.verdict != Verdict::Wrong {
            continue;
        }
        let leads_there = |leads: &&Leads<'_>| match &seen[part] {
            // What has its own answer in the band is declared too small to see there.
            Some(seen) => {
                let own = leads.answers.get(part).and_then(Option::as_ref);
                let too_small = matches!(own, Some(Answer::Number(own)) if seen.band.0 <= own.value && own.value <= seen.band.1);
                !too_small && leads.spans[part].is_some_and(|span| stand(seen, span) == Stand::There)
            }
            // A wrong word tells no slip, but a slip that the numbers have told explains it.
            None => {
                judged.understood.answer().is_some()
                    && leads.answers.get(part).and_then(Option::as_ref) == judged.understood.answer()
            }
        };
        let there: Vec<&Leads<'_>> = made.iter().filter(leads_there).collect();
        if there.is_empty() {
            continue;
        }
        let slips: Vec<Vec<Slip>> = (grouped(&there).into_iter())
            .map(|group| group.into_iter().cloned().collect())
            .collect();
        // All numbers are told once; a later part has its own.
        judged.evidence = all.iter().filter(|e| !told || e.part == part).copied().collect();
        if !told {
            all.retain(|e| e.stand == Stand::There);
        }
        told = true;
        let shown = evidence_text(&dealt.template.parts, &judged.evidence);
        judged.verdict = Verdict::KnownSlip;
        judged.share = policy.slip_share;
        judged.why = format!("as if: {}", slips_named(&slips));
        if !shown.is_empty() {
            judged.why = format!("{}; {shown}", judged.why);
        }
        judged.slips = slips;
    }
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
        evidence: Vec::new(),
        follows: Vec::new(),
        share,
        near: false,
        hint: None,
        why: why.to_owned(),
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
