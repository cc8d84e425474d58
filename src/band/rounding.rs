//! Roundings on the way, put together.
//!
//! A careful student may keep three figures of whatever is written down on the way. How far that moves an answer is
//! known for each number alone; all of them together are no worse than their sum, and hardly ever as bad. An error of
//! rounding lies anywhere within half a unit alike, so that its standard deviation is `h/√3` of its worst `h`; of
//! many, 99.9 % lie within 3.29 standard deviations of their sum. The lesser of the two counts, upwards and downwards
//! apart.
//!
//! What is had from givens alone is rounded by an amount that is known, to three figures or to four, and no luck is
//! in it: such moves are added up as they are.

use crate::constants::policy::ROUNDING_DEVIATIONS;

/// How far an answer is moved by roundings on the way, downwards and upwards, in the answer's unit.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Rounding {
    below: Side,
    above: Side,
}

/// One way.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Side {
    /// The sum of the known moves.
    known: f64,
    /// The sum of the worst of the others.
    worst: f64,
    /// The sum of their squares.
    squares: f64,
}

impl Side {
    fn reach(&self) -> f64 {
        self.known + self.worst.min(ROUNDING_DEVIATIONS * (self.squares / 3.0).sqrt())
    }
}

impl Rounding {
    /// A number that hangs on a reading is rounded: the moves of the answer when it is rounded by half a unit one
    /// way and the other.
    pub(super) fn free(&mut self, one: f64, other: f64) {
        self.pieces(one, other, 1.0);
    }

    /// Several such numbers that move the answer alike, taken together: the moves when all are rounded by half a
    /// unit one way, and the other. `squares` is `Σh²/(Σh)²` over them, 1 for a single one.
    pub(super) fn pieces(&mut self, one: f64, other: f64, squares: f64) {
        let [below, above] = sides(one, other);
        for (side, by) in [(&mut self.below, below), (&mut self.above, above)] {
            side.worst += by;
            side.squares += by * by * squares;
        }
    }

    /// A number had from givens alone: the moves of the answer when it is kept as it may be.
    pub(super) fn known(&mut self, one: f64, other: f64) {
        let [below, above] = sides(one, other);
        self.below.known += below;
        self.above.known += above;
    }

    /// How far they reach together, below and above.
    pub(super) fn reach(&self) -> (f64, f64) {
        (self.below.reach(), self.above.reach())
    }
}

/// How far down and how far up two moves go.
fn sides(one: f64, other: f64) -> [f64; 2] {
    [-one.min(other).min(0.0), one.max(other).max(0.0)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_counts_in_full_and_many_as_chance_has_it() {
        let mut one = Rounding::default();
        one.free(-2.0, 3.0);
        assert_eq!(one.reach(), (2.0, 3.0));
        let mut many = Rounding::default();
        for _ in 0..12 {
            many.free(-0.5, 0.5);
        }
        // Twelve numbers even within half a unit have a sum whose standard deviation is 1.
        let (below, above) = many.reach();
        assert!((below - 3.29).abs() < 1e-12 && (above - 3.29).abs() < 1e-12);
        // Taken together they are the same.
        let mut together = Rounding::default();
        together.pieces(-6.0, 6.0, 12.0 * 0.25 / 36.0);
        assert!((together.reach().1 - 3.29).abs() < 1e-12);
        // What is known is added in full, and only to its own side.
        many.known(0.0, 2.0);
        assert!((many.reach().1 - 5.29).abs() < 1e-12);
        assert_eq!(many.reach().0, below);
    }

    /// Against sums of random numbers: no more than a thousandth lie beyond, and a good part of a ten-thousandth do.
    #[test]
    fn sums_of_random_roundings_stay_within() {
        let mut state = 1u64;
        let mut even = || {
            // Steele, Lea and Flood (2014), SplitMix64.
            state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            2.0 * ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64 - 1.0
        };
        for sizes in [&[1.0, 1.0][..], &[1.0, 0.3, 0.3], &[1.0; 5], &[1.0; 9]] {
            let mut rounding = Rounding::default();
            for size in sizes {
                rounding.free(-size, *size);
            }
            let reach = rounding.reach().1;
            let beyond = (0..100_000)
                .filter(|_| sizes.iter().map(|size| size * even()).sum::<f64>().abs() > reach)
                .count();
            assert!(beyond <= 100, "{beyond} of 100,000 beyond with {sizes:?}");
        }
    }
}
