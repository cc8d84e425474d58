//! Whether a slip's answer can be told from careful work.

use super::{SlipAnswers, same};
use crate::band::Accepted;
use crate::solution::Answer;

/// How a slip's answer to a part stands to what the part accepts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Clearance {
    /// The slip's span and the band have nothing in common.
    Clear {
        /// What lies between them, in half widths of the band; infinite for words.
        half_widths: f64,
    },
    /// The slip's own answer lies outside the band, but its span meets it.
    Overlaps,
    /// The slip's own answer lies in the band.
    TooSmall,
}

impl Clearance {
    /// Whether careful work and the slip can always be told apart.
    pub fn is_clear(self) -> bool {
        matches!(self, Self::Clear { .. })
    }
}

impl SlipAnswers {
    /// How the answer to a part stands to what it accepts; `None` where the slip has no answer to it, or leaves the
    /// right one as it is.
    pub fn clearance(&self, part: usize, accepted: &Accepted) -> Option<Clearance> {
        let wrong = self.answers.get(part)?.as_ref()?;
        if same(wrong, &accepted.reference()) {
            return None;
        }
        Some(match (accepted, wrong) {
            (Accepted::Number(band), Answer::Number(number)) => {
                let (low, high) = (self.spans.get(part))
                    .and_then(|s| *s)
                    .unwrap_or((number.value, number.value));
                let gap = (low - band.high).max(band.low - high);
                if band.holds(number.value) {
                    Clearance::TooSmall
                } else if gap > 0.0 {
                    Clearance::Clear {
                        half_widths: gap / (0.5 * (band.high - band.low)),
                    }
                } else {
                    Clearance::Overlaps
                }
            }
            (Accepted::OneOf(answers), wrong) if answers.contains(wrong) => Clearance::TooSmall,
            _ => Clearance::Clear {
                half_widths: f64::INFINITY,
            },
        })
    }
}
