//! Numbers that are had from givens alone, written down one after the other.
//!
//! Each is rounded by an amount that is known, but one that was had from a rounded number is another number, and is
//! rounded otherwise. So they are followed in their order, for each habit of keeping figures. Several rounded by half a
//! per cent each move what is had from them by more, so that it is followed along curves: along a straight line a number
//! near the middle between two would often be kept as the wrong one.

use super::figures::{either_side, to_figures};
use super::spread::{Known, Lot};
use crate::constants::policy::CARRIED_FIGURES;

/// How a number goes with another that is rounded before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Leaning {
    /// It moves by this share of itself, and by this share of its square, when the other moves by its whole self.
    Product(f64, f64),
    /// It moves by so much, and by so much of its square, when the other moves by 1.
    Sum(f64, f64),
}

impl Leaning {
    /// Nothing goes with it.
    pub(super) const NONE: Self = Self::Sum(0.0, 0.0);
    /// No power that is met in the working of a pipe is higher.
    const HIGHEST_POWER: f64 = 8.0;

    /// Of a number that is `ends` where the other is moved from `from` by as much down and up, and `middle` where it stands.
    ///
    /// Products and powers bend as powers do, and each factor leaves the others' shares as they are; what goes straight is a
    /// sum, or goes as the other does.
    pub(super) fn of(from: f64, by: f64, ends: [f64; 2], middle: f64) -> Self {
        let along = (ends[1] - ends[0]) / (2.0 * by);
        let bend = (0.5 * (ends[0] + ends[1]) - middle) / (by * by);
        if !along.is_finite() || !bend.is_finite() {
            return Self::NONE;
        }
        let (power, bent) = (along * from / middle, bend * from * from / middle);
        let of_power = 0.5 * power * (power - 1.0);
        let is_power = power.is_finite() && power.abs() <= Self::HIGHEST_POWER;
        if is_power && ((power - 1.0).abs() < 0.01 || bent.abs() > 0.1 * of_power.abs()) {
            Self::Product(power, bent)
        } else {
            Self::Sum(along, bend)
        }
    }

    /// How far half a per cent of the other moves it, about.
    fn worst(self, middle: f64, other: f64) -> f64 {
        match self {
            Self::Product(power, _) => (power * middle).abs(),
            Self::Sum(along, _) => (along * other).abs(),
        }
    }

    /// Whether nothing goes with it.
    fn is_none(self) -> bool {
        matches!(self, Self::Sum(along, _) | Self::Product(along, _) if along == 0.0)
    }
}

/// A number that is written down.
#[derive(Debug, Clone)]
pub(super) struct Number {
    /// As it is with nothing rounded \[SI\].
    pub(super) value: f64,
    /// The unit in which it is written \[SI units\].
    pub(super) unit: f64,
    /// The share of students who write it down.
    pub(super) written: f64,
    /// How the answer goes with it.
    pub(super) answer: Leaning,
    /// How each number of the list does; what stands before it is not moved.
    pub(super) others: Vec<Leaning>,
}

/// Up to this many numbers are followed together by who keeps them in three ways, a few hundred times in all.
const TOGETHER: usize = 6;
/// What stays unsaid of a curve moves a number by less than this share.
const TIE: f64 = 3e-6;

/// How a number is kept, with the share of students who keep it so.
type Kept = (Option<u32>, f64);

/// What keeping these numbers does to the answer. Who always keeps as many figures has one way to go, through all of them; who
/// mixes goes through those that matter most together, through each of the others by itself.
pub(super) fn followed(numbers: &[Number], answer: f64) -> Vec<Known> {
    let worst = |number: &Number| number.answer.worst(answer, number.value);
    let mut order: Vec<usize> = (0..numbers.len())
        .filter(|&i| !numbers[i].answer.is_none() && !stays(numbers, i))
        .collect();
    let all = order.clone();
    order.sort_by(|&a, &b| worst(&numbers[b]).total_cmp(&worst(&numbers[a])));
    let (main, others) = order.split_at(order.len().min(TOGETHER));
    let mut main = main.to_vec();
    main.sort_unstable();
    const THIRD: f64 = 1.0 / 3.0;
    let (three, four) = (Some(CARRIED_FIGURES), Some(CARRIED_FIGURES + 1));
    let by = |which: &[usize], habit: &[Kept]| {
        let mut list = List {
            numbers,
            answer,
            habit,
            moved: Vec::with_capacity(which.len()),
            lot: Lot::new(),
        };
        list.follow(which, 1.0);
        list.lot
    };
    let mixed = [(three, THIRD), (four, THIRD), (None, THIRD)];
    let mut found = vec![Known {
        three: by(&all, &[(three, 1.0)]),
        four: by(&all, &[(four, 1.0)]),
        mixed: by(&main, &mixed),
    }];
    found.extend(others.iter().map(|&i| Known {
        three: vec![(0.0, 1.0)],
        four: vec![(0.0, 1.0)],
        mixed: by(&[i], &mixed),
    }));
    found.retain(|known| !known.is_nothing());
    found
}

/// Whether a number is the same however many figures of it are kept, and of what stands before it.
fn stays(numbers: &[Number], i: usize) -> bool {
    let number = &numbers[i];
    let is_written = |figures: u32| {
        let kept = to_figures(number.value / number.unit, figures) * number.unit;
        (kept - number.value).abs() <= 1e-12 * number.value.abs()
    };
    is_written(CARRIED_FIGURES)
        && is_written(CARRIED_FIGURES + 1)
        && numbers[..i].iter().all(|earlier| earlier.others[i].is_none())
}

/// A number that was moved: which, by how much, and by which share of itself.
type Moved = (usize, f64, f64);

struct List<'a> {
    numbers: &'a [Number],
    /// The answer with nothing rounded.
    answer: f64,
    habit: &'a [Kept],
    moved: Vec<Moved>,
    lot: Lot,
}

impl List<'_> {
    /// What a number is with what was moved before it.
    fn now(&self, value: f64, leaning: impl Fn(&Number) -> Leaning) -> f64 {
        let (mut product, mut sum) = (value, 0.0);
        for (i, by, share) in &self.moved {
            match leaning(&self.numbers[*i]) {
                Leaning::Product(power, bend) => product *= 1.0 + share * (power + share * bend),
                Leaning::Sum(along, bend) => sum += by * (along + by * bend),
            }
        }
        product + sum
    }

    /// Goes through the numbers that are left, for the share of students who come here.
    fn follow(&mut self, left: &[usize], students: f64) {
        let Some((&i, rest)) = left.split_first() else {
            let by = self.now(self.answer, |number| number.answer) - self.answer;
            return self.lot.push((by, students));
        };
        let number = &self.numbers[i];
        let now = self.now(number.value, |earlier| earlier.others[i]);
        // Who does not write it down carries on with it as it is, as who keeps all figures does.
        let mut in_full = 1.0 - number.written;
        for (figures, share) in self.habit {
            let share = share * number.written;
            let Some(figures) = *figures else {
                in_full += share;
                continue;
            };
            let (kept, other) = rounded(now, number.unit, figures);
            let part = if other.is_some() { 0.5 } else { 1.0 };
            for by in std::iter::once(kept).chain(other) {
                self.moved.push((i, by, by / now));
                self.follow(rest, students * share * part);
                self.moved.pop();
            }
        }
        if in_full > 0.0 {
            self.follow(rest, students * in_full);
        }
    }
}

/// How far a number is moved by being kept to some figures, and the other way it may go where it lies so near the middle
/// between two that the curves can't tell.
fn rounded(value: f64, unit: f64, figures: u32) -> (f64, Option<f64>) {
    let written = value / unit;
    if written == 0.0 || !written.is_finite() {
        return (0.0, None);
    }
    let (kept, other) = either_side(written, figures, TIE);
    let by = |kept: f64| kept * unit - value;
    (by(kept), other.map(by))
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
                answer: Leaning::Product(2.0, 1.0),
                others: vec![Leaning::NONE, Leaning::Product(2.0, 1.0)],
            },
            Number {
                value: side * side,
                unit: 1.0,
                written: 1.0,
                answer: Leaning::Product(1.0, 0.0),
                others: vec![Leaning::NONE; 2],
            },
        ]
    }

    #[test]
    fn a_number_had_from_a_rounded_one_is_rounded_as_it_then_is() {
        // 1.2376² is 1.532; of 1.24 it is 1.538, kept as 1.54.
        let known = followed(&squares(1.2376), 10.0 * 1.2376 * 1.2376);
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
        let known = &followed(&numbers, 10.0 * 1.2376 * 1.2376)[0];
        assert_eq!(known.three.len(), 2);
        assert!(
            (known.three[1].0 - (15.3 - 10.0 * 1.2376 * 1.2376)).abs() < 1e-9,
            "{known:?}"
        );
    }

    /// 1.1049 is kept as 1.10, and what goes as its inverse square is then 10.2503, kept as 10.3. A straight line leads to 10.2497.
    #[test]
    fn several_roundings_are_followed_along_their_curve() {
        let (side, by, first) = (1.1049, 0.0005, 10.159_58);
        let square = |x: f64| first * (side / x) * (side / x);
        let leaning = Leaning::of(side, by, [square(side - by), square(side + by)], first);
        let numbers = |leaning: Leaning| {
            vec![
                Number {
                    value: side,
                    unit: 1.0,
                    written: 1.0,
                    answer: leaning,
                    others: vec![Leaning::NONE, leaning],
                },
                Number {
                    value: first,
                    unit: 1.0,
                    written: 1.0,
                    answer: Leaning::Product(1.0, 0.0),
                    others: vec![Leaning::NONE; 2],
                },
            ]
        };
        let kept = |leaning: Leaning| first + followed(&numbers(leaning), first)[0].three[0].0;
        assert!((kept(leaning) - 10.3).abs() < 1e-5, "{leaning:?}");
        let straight = Leaning::Sum(-2.0 * first / side, 0.0);
        assert!((kept(straight) - 10.2).abs() < 0.01);
        // A sum goes straight, and what is moved beside it has no part in that.
        let sum = Leaning::of(3.0, 0.005, [7.995, 8.005], 8.0);
        assert!(
            matches!(sum, Leaning::Sum(along, _) if (along - 1.0).abs() < 1e-9),
            "{sum:?}"
        );
    }

    /// A number that stands as it is takes no other's place, and who always keeps three figures has all others in.
    #[test]
    fn all_numbers_are_followed_by_who_keeps_as_many_figures_throughout() {
        let number = |value: f64| Number {
            value,
            unit: 1.0,
            written: 1.0,
            answer: Leaning::Product(1.0, 0.0),
            others: vec![Leaning::NONE; 9],
        };
        let mut numbers = vec![number(0.984)];
        numbers.resize(9, number(1.2376));
        let known = followed(&numbers, 1.0);
        assert_eq!(known.len(), 3);
        let once = 1.24 / 1.2376;
        assert!((known[0].three[0].0 - (libm::pow(once, 8.0) - 1.0)).abs() < 1e-9);
        let apart = |known: &Known| known.three == [(0.0, 1.0)] && known.mixed.len() == 3;
        assert!(known[1..].iter().all(apart), "{known:?}");
    }
}
