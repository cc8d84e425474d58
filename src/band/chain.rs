//! Numbers that are had from givens alone, written down one after the other.
//!
//! Each is rounded by an amount that is known, but one that was had from a rounded number is another number, and is
//! rounded otherwise. So they are followed in their order, for each habit of keeping figures.

use super::figures::to_figures;
use super::spread::{Known, Lot};
use crate::constants::policy::CARRIED_FIGURES;

/// A number that is written down.
#[derive(Debug, Clone)]
pub(super) struct Number {
    /// As it is with nothing rounded \[SI\].
    pub(super) value: f64,
    /// The unit in which it is written \[SI units\].
    pub(super) unit: f64,
    /// The share of students who write it down.
    pub(super) written: f64,
    /// How far it moves the answer when it moves by 1.
    pub(super) slope: f64,
    /// The same of each number of the list; what stands before it is not moved.
    pub(super) slopes: Vec<f64>,
}

/// Up to this many numbers are followed together: with three ways for each, a few hundred times.
const TOGETHER: usize = 6;
/// A number that is had along straight lines from one rounded by half a per cent is off by the square of that, at the most.
const TIE: f64 = 3e-5;

/// How a number is kept, with the share of students who keep it so.
type Kept = (Option<u32>, f64);

/// What keeping these numbers does to the answer: those that matter most together, each of the others by itself.
pub(super) fn followed(numbers: &[Number]) -> Vec<Known> {
    let worst = |number: &Number| (number.slope * number.value).abs();
    let mut order: Vec<usize> = (0..numbers.len()).filter(|&i| worst(&numbers[i]) > 0.0).collect();
    order.sort_by(|&a, &b| worst(&numbers[b]).total_cmp(&worst(&numbers[a])));
    let (main, others) = order.split_at(order.len().min(TOGETHER));
    let mut main = main.to_vec();
    main.sort_unstable();
    let mut all = vec![together(numbers, &main)];
    all.extend(others.iter().map(|&i| together(numbers, &[i])));
    all.retain(|known| !known.is_nothing());
    all
}

fn together(numbers: &[Number], which: &[usize]) -> Known {
    const THIRD: f64 = 1.0 / 3.0;
    let (three, four) = (Some(CARRIED_FIGURES), Some(CARRIED_FIGURES + 1));
    let by = |habit: &[Kept]| {
        let mut lot = Lot::new();
        follow(numbers, which, habit, &mut Vec::new(), (0.0, 1.0), &mut lot);
        lot
    };
    Known {
        three: by(&[(three, 1.0)]),
        four: by(&[(four, 1.0)]),
        mixed: by(&[(three, THIRD), (four, THIRD), (None, THIRD)]),
    }
}

/// Goes through the numbers from where `moved` (which, and by how much) ends; `so_far` is how far the answer is moved,
/// and the share of students who come there.
fn follow(
    numbers: &[Number],
    which: &[usize],
    habit: &[Kept],
    moved: &mut Vec<(usize, f64)>,
    so_far: (f64, f64),
    lot: &mut Lot,
) {
    let Some((&i, rest)) = which.split_first() else {
        return lot.push(so_far);
    };
    let number = &numbers[i];
    let now = number.value
        + moved
            .iter()
            .map(|(j, by)| numbers[*j].slopes[i] * by)
            .sum::<f64>();
    let left = (None, 1.0 - number.written);
    let ways = habit
        .iter()
        .map(|(figures, share)| (*figures, share * number.written));
    for (figures, share) in ways.chain((left.1 > 0.0).then_some(left)) {
        for (by, part) in rounded(now, number.unit, figures) {
            moved.push((i, by));
            let next = (so_far.0 + number.slope * by, so_far.1 * share * part);
            follow(numbers, rest, habit, moved, next, lot);
            moved.pop();
        }
    }
}

/// How far a number is moved by being kept, with the share of those whom it moves so: two ways where it lies so near the middle
/// between two that straight lines can't tell.
fn rounded(value: f64, unit: f64, figures: Option<u32>) -> Vec<(f64, f64)> {
    let Some(figures) = figures else {
        return vec![(0.0, 1.0)];
    };
    let by = |near: f64| to_figures(near / unit, figures) * unit - value;
    let (one, other) = (by(value * (1.0 - TIE)), by(value * (1.0 + TIE)));
    if one == other {
        vec![(one, 1.0)]
    } else {
        vec![(one, 0.5), (other, 0.5)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The square of a side is written down after the side, the answer is ten times the square.
    fn squares(side: f64) -> Vec<Number> {
        vec![
            Number {
                value: side,
                unit: 1.0,
                written: 1.0,
                slope: 20.0 * side,
                slopes: vec![1.0, 2.0 * side],
            },
            Number {
                value: side * side,
                unit: 1.0,
                written: 1.0,
                slope: 10.0,
                slopes: vec![0.0, 1.0],
            },
        ]
    }

    #[test]
    fn a_number_had_from_a_rounded_one_is_rounded_as_it_then_is() {
        // 1.2376² is 1.532; of 1.24 it is 1.538, kept as 1.54.
        let known = followed(&squares(1.2376));
        let [known] = known.as_slice() else {
            panic!("{known:?}")
        };
        assert_eq!(known.three.len(), 1);
        assert!(
            (known.three[0].0 - (15.4 - 10.0 * 1.2376 * 1.2376)).abs() < 3e-4,
            "{known:?}"
        );
        assert_eq!(known.mixed.len(), 9);
        let all: f64 = known.mixed.iter().map(|(_, share)| share).sum();
        assert!((all - 1.0).abs() < 1e-12);
    }

    #[test]
    fn who_does_not_write_a_number_down_does_not_round_it() {
        let mut numbers = squares(1.2376);
        numbers[0].written = 0.5;
        let known = &followed(&numbers)[0];
        assert_eq!(known.three.len(), 2);
        assert!(
            (known.three[1].0 - (15.3 - 10.0 * 1.2376 * 1.2376)).abs() < 1e-9,
            "{known:?}"
        );
    }
}
