//! From all the numbers of one student in one problem to the slip that most likely made them.
//!
//! Each slip, and "some other error", is a hypothesis with a prior. What counts is how much likelier the numbers are with
//! the slip than with some other error: anywhere alike in the slip's span, against anywhere alike, by the logarithm,
//! in some decades. `docs/diagnosis.md` derives the formula.

use crate::constants::policy::{
    FINEST_SPAN, OTHER_ERROR_DECADES, OTHER_ERROR_PRIOR, SLIP_CERTAINTY, SLIP_NOT_THROUGHOUT,
};

/// Where the answer to each part ends when a slip is made and all else is done with care: low and high, SI. `None` for
/// words, and where the slip's working gives no number.
pub type Spans = [Option<(f64, f64)>];

/// A number that a student gave for a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// The number, SI.
    pub answer: f64,
    /// The part's band, low and high, SI.
    pub band: (f64, f64),
    /// What marking made of it before slips were thought of.
    pub found: Found,
    /// The earlier parts from which it was worked, if it was worked from what was answered: bit *n* for part *n*.
    pub worked_from: u128,
}

/// What marking made of a number before slips were thought of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// In the band.
    Right,
    /// Not in the band, but right given the student's own earlier answers.
    Follows,
    /// Neither.
    Wrong,
}

/// A number that the student gave, and what the slips that were named lead to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// The part, as its index in the template.
    pub part: usize,
    /// The number, SI.
    pub answer: f64,
    /// What the slips lead to, low and high, SI.
    pub span: (f64, f64),
    /// How the two stand.
    pub stand: Stand,
}

/// How a student's number stands to a slip's span.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// Outside the band, where the slip leads.
    There,
    /// In the band, and the slip would not have moved it out for certain.
    Unmoved,
    /// In the band, although the slip would have moved it out.
    Spared,
    /// Not where the slip leads, but right given the student's own earlier answers.
    Follows,
    /// None of these.
    Elsewhere,
}

/// The slips that explain a student's numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnosis {
    /// Which of the slips, by their index; more than one where no number in the problem tells them apart. In
    /// order, never empty.
    pub named: Vec<usize>,
    /// How probable they are, together \[–\].
    pub probability: f64,
}

/// How a number stands to a span.
pub fn stand(seen: &Seen, span: (f64, f64)) -> Stand {
    let there = span.0 <= seen.answer && seen.answer <= span.1;
    match seen.found {
        Found::Right if overlap(seen.band, span) => Stand::Unmoved,
        Found::Right => Stand::Spared,
        Found::Follows | Found::Wrong if there => Stand::There,
        Found::Follows => Stand::Follows,
        Found::Wrong => Stand::Elsewhere,
    }
}

/// The most likely slip, or slips that can't be told apart, from all the numbers of a student; `None` where it is
/// unclear. `seen` holds a number for each part that has one; each hypothesis has the span of each part, and its prior: that of
/// one slip is `SLIP_PRIOR`, that of a pair its square.
pub fn diagnose(seen: &[Option<Seen>], hypotheses: &[(&Spans, f64)]) -> Option<Diagnosis> {
    let weighed: Vec<Weighed> = (hypotheses.iter())
        .map(|(spans, _)| Weighed::new(seen, spans))
        .collect();
    let weights: Vec<f64> = (hypotheses.iter().zip(&weighed))
        .map(|((_, prior), slip)| prior * slip.second() * slip.likelihood_ratio)
        .collect();
    let best = (0..weights.len()).max_by(|a, b| weights[*a].total_cmp(&weights[*b]))?;
    // Where even the best slip leaves one over, it takes two errors without a slip as well.
    let all = OTHER_ERROR_PRIOR * weighed[best].second() + weights.iter().sum::<f64>();
    // What is far less likely than the best is no rival of it; what is likely must be told apart by no number.
    let named: Vec<usize> = (0..weights.len())
        .filter(|i| weights[*i] >= (1.0 - SLIP_CERTAINTY) * weights[best])
        .filter(|i| inseparable(hypotheses[*i].0, hypotheses[best].0))
        .collect();
    let probability = named.iter().map(|i| weights[*i]).sum::<f64>() / all;
    (weighed[best].leads_there && probability >= SLIP_CERTAINTY).then_some(Diagnosis { named, probability })
}

/// What all numbers of a student say of one slip.
struct Weighed {
    /// Whether a wrong number lies where it leads.
    leads_there: bool,
    /// How many wrong numbers lie elsewhere.
    left_over: i32,
    /// How many times likelier the numbers are with it than with some other error.
    likelihood_ratio: f64,
}

impl Weighed {
    /// With the slip made wherever the working meets it, every number lies in its span, but for what a second error moved.
    /// With a small probability it was made in some parts only.
    fn new(seen: &[Option<Seen>], spans: &Spans) -> Self {
        let (mut throughout, mut in_part) = (1.0, 1.0);
        let mut leads_there = false;
        let mut led_from = 0;
        let (mut left_over, mut elsewhere) = (0, 0);
        for (part, (seen, span)) in seen.iter().zip(spans).enumerate() {
            let (Some(seen), Some(span)) = (seen, *span) else {
                continue;
            };
            match stand(seen, span) {
                Stand::There if seen.found == Found::Wrong => {
                    let sharper = sharpness(span);
                    throughout *= sharper;
                    in_part *= sharper;
                    leads_there = true;
                    led_from |= seen.worked_from;
                }
                // What follows from the number before it is as likely with another error there.
                Stand::There | Stand::Unmoved => {}
                Stand::Spared | Stand::Follows => throughout = 0.0,
                // Another error came between.
                Stand::Elsewhere => {
                    left_over += 1;
                    elsewhere |= bit(part);
                }
            }
        }
        // One number elsewhere is a second error, more of them are others still. Where the slip leads to a number that builds on
        // it, it was not made, or that number would have followed.
        let before = (elsewhere & led_from).count_ones().cast_signed();
        let behind = left_over - before;
        let beside = libm::pow(SLIP_NOT_THROUGHOUT, f64::from((behind - 1).max(0) + before));
        Self {
            leads_there,
            left_over,
            likelihood_ratio: beside
                * ((1.0 - SLIP_NOT_THROUGHOUT) * throughout + SLIP_NOT_THROUGHOUT * in_part),
        }
    }

    /// The prior of what else it takes: a number that the slip leaves over takes another error; where it leads to none of them
    /// it is no more than that error.
    fn second(&self) -> f64 {
        match (self.leads_there, self.left_over) {
            (false, _) => 0.0,
            (true, 0) => 1.0,
            (true, _) => OTHER_ERROR_PRIOR,
        }
    }
}

/// The bit of a part in [`Seen::worked_from`]; none beyond the last bit.
pub(super) fn bit(part: usize) -> u128 {
    u32::try_from(part)
        .ok()
        .and_then(|n| 1u128.checked_shl(n))
        .unwrap_or(0)
}

/// How many times denser numbers lie when they lie anywhere alike in a span than when they lie anywhere alike, by
/// their logarithm, in the decades of another error.
fn sharpness((low, high): (f64, f64)) -> f64 {
    // Of a span that is zero and no more this is no number, and the finest width stands.
    let width = ((high - low) / low.abs().max(high.abs())).max(FINEST_SPAN);
    OTHER_ERROR_DECADES * std::f64::consts::LN_10 / width
}

/// Whether no number in the problem tells two slips apart: their spans meet in every part.
pub fn inseparable(one: &Spans, other: &Spans) -> bool {
    one.iter().zip(other).all(|pair| match pair {
        (Some(a), Some(b)) => overlap(*a, *b),
        _ => true,
    })
}

fn overlap(a: (f64, f64), b: (f64, f64)) -> bool {
    a.0 <= b.1 && b.0 <= a.1
}

/// The evidence of some slips that are named together: every number that they bear on.
pub fn evidence(seen: &[Option<Seen>], slips: &[&Spans]) -> Vec<Evidence> {
    let of_part = |(part, seen): (usize, &Option<Seen>)| {
        let seen = seen.as_ref()?;
        let spans = || {
            slips
                .iter()
                .filter_map(|spans| spans.get(part).copied().flatten())
        };
        // Where one of them leads there, it is what counts.
        let there: Vec<_> = spans().filter(|s| stand(seen, *s) == Stand::There).collect();
        let spans = if there.is_empty() {
            spans().collect()
        } else {
            there
        };
        let span = spans.into_iter().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
        Some(Evidence {
            part,
            answer: seen.answer,
            span,
            stand: stand(seen, span),
        })
    };
    seen.iter().enumerate().filter_map(of_part).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::policy::SLIP_PRIOR;

    /// Answers of about 1, whose bands are 1 % either way.
    fn seen(answer: f64) -> Option<Seen> {
        let band = (0.99, 1.01);
        let right = band.0 <= answer && answer <= band.1;
        Some(Seen {
            answer,
            band,
            found: if right { Found::Right } else { Found::Wrong },
            worked_from: 0,
        })
    }

    /// A span about `middle` of a share of it.
    fn span(middle: f64, share: f64) -> Option<(f64, f64)> {
        Some((middle * (1.0 - 0.5 * share), middle * (1.0 + 0.5 * share)))
    }

    fn ratio_of(seen: &[Option<Seen>], slip: &Spans) -> f64 {
        Weighed::new(seen, slip).likelihood_ratio
    }

    fn named(answers: &[Option<Seen>], slips: &[&Spans]) -> Option<Vec<usize>> {
        let all: Vec<_> = slips.iter().map(|spans| (*spans, SLIP_PRIOR)).collect();
        diagnose(answers, &all).map(|diagnosis| diagnosis.named)
    }

    #[test]
    fn one_number_alone_names_a_slip_whose_span_is_narrow() {
        let narrow = diagnose(&[seen(2.0)], &[(&[span(2.0, 0.02)], SLIP_PRIOR)]).unwrap();
        assert_eq!(narrow.named, [0]);
        // By hand, with w = 0.02/1.01 since the larger end counts: s = 13.816 * 50.5 = 697.7, all but 2 % made it
        // throughout and the others have the same factor, so 0.04 * 697.7 against 0.2.
        assert!(
            (narrow.probability - 27.908 / 28.108).abs() < 1e-4,
            "{}",
            narrow.probability
        );
        assert_eq!(named(&[seen(2.0)], &[&[span(2.0, 0.3)]]), None);
        assert_eq!(named(&[seen(2.1)], &[&[span(2.0, 0.02)]]), None);
    }

    #[test]
    fn neighbours_tell_slips_apart() {
        let one: &Spans = &[span(2.0, 0.04), span(3.0, 0.04)];
        let other: &Spans = &[span(2.02, 0.04), span(5.0, 0.04)];
        // Both lead to the first answer.
        assert_eq!(named(&[seen(2.01), None], &[one, other]), None);
        assert_eq!(named(&[seen(2.01), seen(3.0)], &[one, other]), Some(vec![0]));
        assert_eq!(named(&[seen(2.01), seen(5.0)], &[one, other]), Some(vec![1]));
        // A neighbour in the band speaks against both.
        assert_eq!(named(&[seen(2.01), seen(1.0)], &[one, other]), None);
        // Two numbers in wide spans tell as much as one in a narrow one.
        let wide: &Spans = &[span(2.0, 0.3), span(3.0, 0.3)];
        assert_eq!(named(&[seen(2.1), None], &[wide]), None);
        assert_eq!(named(&[seen(2.1), seen(2.9)], &[wide]), Some(vec![0]));
    }

    #[test]
    fn slips_that_no_number_tells_apart_are_named_together() {
        let one: &Spans = &[span(2.0, 0.04), span(1.0, 0.02)];
        let other: &Spans = &[span(2.02, 0.04), None];
        let far: &Spans = &[span(4.0, 0.04), None];
        assert_eq!(named(&[seen(2.01), None], &[far, one, other]), Some(vec![1, 2]));
        // Where the number lies in the span of one alone, that one is named.
        assert_eq!(named(&[seen(1.965), None], &[far, one, other]), Some(vec![1]));
    }

    #[test]
    fn a_neighbour_that_the_slip_would_have_moved_speaks_against_it() {
        let both: &Spans = &[span(2.0, 0.02), span(3.0, 0.02)];
        let first: &Spans = &[span(2.0, 0.02), span(1.005, 0.02)];
        assert_eq!(named(&[seen(2.0), seen(1.0)], &[both]), None);
        assert_eq!(named(&[seen(2.0), seen(1.0)], &[first]), Some(vec![0]));
        // In two numbers of three it is told all the same.
        let three: &Spans = &[span(2.0, 0.02), span(3.0, 0.02), span(4.0, 0.02)];
        assert_eq!(named(&[seen(1.0), seen(3.0), seen(4.0)], &[three]), Some(vec![0]));
        assert_eq!(named(&[seen(1.0), seen(3.0), seen(7.7)], &[three]), None);
    }

    #[test]
    fn what_follows_through_speaks_for_nothing() {
        let slip: &Spans = &[span(2.0, 0.3), span(3.0, 0.02)];
        let follows = |answer: f64| {
            Some(Seen {
                found: Found::Follows,
                ..seen(answer)?
            })
        };
        assert_eq!(named(&[seen(2.0), follows(3.0)], &[slip]), None);
        assert_eq!(
            ratio_of(&[seen(2.0), follows(3.0)], slip),
            ratio_of(&[seen(2.0), None], slip)
        );
        // Nor can it be all that there is.
        assert_eq!(named(&[None, follows(3.0)], &[slip]), None);
    }

    /// A second error moves one number whatever came before it; more of them are as rare as 2 in 100 each.
    #[test]
    fn one_number_elsewhere_is_a_second_error_and_more_speak_against_the_slip() {
        let slip: &Spans = &[span(2.0, 0.02), span(3.0, 0.02), span(4.0, 0.02), span(5.0, 0.02)];
        let alone = ratio_of(&[seen(2.0), None], slip);
        let ratio = |others: &[f64]| {
            let all: Vec<_> = std::iter::once(2.0)
                .chain(others.iter().copied())
                .map(seen)
                .collect();
            ratio_of(&all, slip) / alone
        };
        assert_eq!(ratio(&[7.7]), 1.0);
        assert!((ratio(&[7.7, 7.7]) - 0.02).abs() < 1e-12);
        assert!((ratio(&[7.7, 7.7, 7.7]) - 0.0004).abs() < 1e-12);
        // So whatever else goes wrong, a slip that one number tells is named.
        assert_eq!(named(&[seen(2.0), seen(7.7)], &[slip]), Some(vec![0]));
        assert_eq!(named(&[seen(2.0), seen(7.7), seen(7.7)], &[slip]), None);
        // What builds on a number elsewhere would have followed from it.
        let behind = seen(3.0).map(|seen| Seen {
            worked_from: 1,
            ..seen
        });
        assert_eq!(named(&[seen(7.7), seen(3.0)], &[slip]), Some(vec![0]));
        assert_eq!(named(&[seen(7.7), behind], &[slip]), None);
    }

    /// Made in some parts only: 2 in 100.
    #[test]
    fn a_number_that_was_spared_says_that_the_slip_was_not_made_throughout() {
        let slip: &Spans = &[span(2.0, 0.02), span(3.0, 0.02)];
        let alone = ratio_of(&[seen(2.0), None], slip);
        let ratio = |second: Option<Seen>| ratio_of(&[seen(2.0), second], slip) / alone;
        let follows = seen(5.0).map(|seen| Seen {
            found: Found::Follows,
            ..seen
        });
        assert!((ratio(follows) - 0.02).abs() < 1e-12, "{}", ratio(follows));
        assert!((ratio(seen(1.0)) - 0.02).abs() < 1e-12);
    }

    /// 6 ln 10 over a thousandth, however narrow the span.
    #[test]
    fn no_span_is_finer_than_a_thousandth() {
        let ratio = ratio_of(&[seen(2.0)], &[Some((2.0, 2.0))]);
        assert!((ratio - 13_815.51).abs() < 0.01, "{ratio}");
    }

    #[test]
    fn however_many_slips_would_change_nothing_none_is_named() {
        let none: &Spans = &[span(1.005, 0.02)];
        assert_eq!(named(&[seen(1.0)], &[none; 120]), None);
    }

    #[test]
    fn nothing_is_named_where_nothing_is_wrong_or_nothing_fits() {
        let slip: &Spans = &[span(1.01, 0.02), span(3.0, 0.02)];
        assert_eq!(named(&[seen(1.0), None], &[slip]), None);
        assert_eq!(named(&[seen(1.7), seen(2.2)], &[slip]), None);
        assert_eq!(named(&[], &[]), None);
        assert_eq!(named(&[seen(2.0)], &[]), None);
        assert_eq!(named(&[seen(2.0)], &[&[None]]), None);
    }

    #[test]
    fn zero_is_a_number_like_others() {
        let none: &Spans = &[Some((0.0, 0.0))];
        assert_eq!(named(&[seen(0.0)], &[none]), Some(vec![0]));
        // A span across zero is as wide as numbers are.
        let across: &Spans = &[Some((-0.5, 0.5))];
        assert_eq!(named(&[seen(0.1)], &[across]), None);
    }

    #[test]
    fn evidence_is_what_the_slips_bear_on() {
        let one: &Spans = &[span(2.0, 0.04), span(1.0, 0.02), None];
        let other: &Spans = &[span(2.02, 0.04), span(3.0, 0.02), None];
        let found = evidence(&[seen(2.01), seen(1.0), seen(1.0)], &[one]);
        let stands: Vec<_> = found.iter().map(|e| (e.part, e.stand)).collect();
        assert_eq!(stands, [(0, Stand::There), (1, Stand::Unmoved)]);
        let both = evidence(&[seen(2.01), None, None], &[one, other]);
        assert_eq!(both.len(), 1);
        assert_eq!(both[0].span, (1.96, 2.0604));
    }
}
