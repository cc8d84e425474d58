//! What all causes together make of an answer, on one side of it.
//!
//! Causes meet by chance, and few students meet the worst of all of them. A band holds 99.9 % of careful students, so
//! it need not hold the worst of each at once, but it has to hold
//!
//! - who has the factor from a formula, keeps as many figures throughout, and is unlucky in what chance rounds
//!   and in the rounding of the answer;
//! - who misreads the chart as far as may be, keeps as many figures throughout, and is as unlucky in rounding as one in
//!   a hundred is: one reader in twenty or so stands at that end;
//! - who keeps now three figures of what is had from givens alone, now four, now all, so that the worst of them
//!   come together, though not all at once, and has little bad luck besides; and the same at the end of the
//!   chart's reading with less.

use crate::constants::policy::{
    LAST_AT_END, LAST_WHEN_MIXED, MIXED_AT_END_DEVIATIONS, MIXED_DEVIATIONS, MIXED_FREE_DEVIATIONS,
    ROUNDING_AT_END_DEVIATIONS, ROUNDING_DEVIATIONS,
};

/// How far an answer is moved to one side, each 0 or more, in one unit.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Causes {
    /// Another formula than the chart's, or fully rough flow, at the most.
    pub(super) formulas: f64,
    /// These or a reading, at the most.
    pub(super) readings: f64,
    /// What many do alike: fluid and gravity, what the method leaves open.
    pub(super) sure: f64,
    /// Rounding of what is had from givens alone, by who always keeps three figures or always four.
    pub(super) kept: f64,
    /// The same of each such number.
    pub(super) known: Vec<f64>,
    /// Rounding of the answer itself at its worst.
    pub(super) last: f64,
}

impl Causes {
    /// How far they reach together. `free` says how far the roundings that hang on readings reach within so many standard
    /// deviations, the answer's own among them.
    pub(super) fn together(&self, free: impl Fn(f64) -> f64) -> f64 {
        let worst: f64 = self.known.iter().sum();
        let squares: f64 = self.known.iter().map(|by| by * by).sum();
        // Each of them counts in one case out of three: a mean of 1/3 and a variance of 2/9.
        let mixed = |deviations: f64| worst.min(worst / 3.0 + deviations * (2.0 / 9.0 * squares).sqrt());
        let last = |share: f64, deviations: f64| (share * self.last).max(free(deviations));
        let students = [
            self.formulas + self.kept + last(1.0, ROUNDING_DEVIATIONS),
            self.readings + self.kept + last(LAST_AT_END, ROUNDING_AT_END_DEVIATIONS),
            self.formulas + mixed(MIXED_DEVIATIONS) + last(LAST_WHEN_MIXED, MIXED_FREE_DEVIATIONS),
            self.readings + mixed(MIXED_AT_END_DEVIATIONS) + free(MIXED_AT_END_DEVIATIONS),
        ];
        self.sure + students.into_iter().fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_without_any_cause_reaches_as_far_as_its_own_rounding() {
        let own = Causes {
            last: 0.5,
            ..Causes::default()
        };
        assert_eq!(own.together(|_| 0.0), 0.5);
    }

    #[test]
    fn the_worst_of_all_is_beyond_and_each_alone_within() {
        let causes = Causes {
            formulas: 0.5,
            readings: 5.0,
            sure: 0.1,
            kept: 0.2,
            known: vec![0.3, 0.2, 0.3],
            last: 0.5,
        };
        let free = |deviations: f64| (deviations * 0.4).min(2.0);
        let reach = causes.together(free);
        assert!(reach < 5.0 + 0.1 + 0.8 + 0.5 + 2.0, "{reach}");
        for alone in [5.0 + 0.1 + 0.2, 0.5 + 0.1 + 0.2 + free(3.29), 0.8 + 0.1 + 0.5] {
            assert!(reach >= alone, "{reach}");
        }
        // Each cause counts.
        for less in [
            Causes {
                readings: 4.0,
                ..causes.clone()
            },
            Causes {
                sure: 0.0,
                ..causes.clone()
            },
            Causes {
                kept: 0.0,
                ..causes.clone()
            },
        ] {
            assert!(less.together(free) < reach, "{less:?}");
        }
        assert!(causes.together(|_| 0.0) < reach);
    }
}
