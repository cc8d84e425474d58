//! Significant figures by arithmetic, which is quick and near enough for a width.

/// Powers of ten from 10⁻³⁰ to 10³⁰: a table, since a power is asked for thousands of times in a draw.
const TENS: [f64; 61] = [
    1e-30, 1e-29, 1e-28, 1e-27, 1e-26, 1e-25, 1e-24, 1e-23, 1e-22, 1e-21, 1e-20, 1e-19, 1e-18, 1e-17, 1e-16,
    1e-15, 1e-14, 1e-13, 1e-12, 1e-11, 1e-10, 1e-9, 1e-8, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1, 1e0, 1e1,
    1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22, 1e23, 1e24, 1e25, 1e26, 1e27, 1e28, 1e29, 1e30,
];
/// The exponent of the first of them.
const FIRST: i32 = -30;

pub(super) fn power_of_ten(exponent: i32) -> f64 {
    let known = usize::try_from(exponent - FIRST).ok().and_then(|i| TENS.get(i));
    known.map_or_else(|| libm::pow(10.0, f64::from(exponent)), |power| *power)
}

/// The exponent of a number's first figure: 10 to it is the largest power of ten that is no larger. The number is above 0.
fn exponent(size: f64) -> i32 {
    // The exponent of two tells that of ten within one; 1233/4096 is log 2.
    let of_two = (size.to_bits() >> 52 & 0x7ff) as i32 - 1023;
    let mut of_ten = (of_two * 1233) >> 12;
    while of_ten < f64::MAX_10_EXP && size >= power_of_ten(of_ten + 1) {
        of_ten += 1;
    }
    while size < power_of_ten(of_ten) {
        of_ten -= 1;
    }
    of_ten
}

/// The largest power of ten that is no larger than a size above 0.
pub(super) fn decade(size: f64) -> f64 {
    power_of_ten(exponent(size))
}

/// What one in a number's last figure is worth. The number is finite and not 0.
pub(super) fn last_figure(value: f64, figures: u32) -> f64 {
    power_of_ten(exponent(value.abs()) + 1 - figures as i32)
}

/// The worst that rounding to some figures does to a number, as a share of it: half a unit of the last figure of 100.
pub(super) fn worst(figures: u32) -> f64 {
    0.5 * power_of_ten(1 - figures as i32)
}

/// A number kept to some figures.
pub(super) fn to_figures(value: f64, figures: u32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let unit = last_figure(value, figures);
    (value / unit).round() * unit
}

/// Numbers that a calculator would show alike are the same. Operations, and small moves by which a leaning is found, put them off by a
/// smaller share than this.
pub(super) const NOISE: f64 = 1e-9;

/// A number kept to some figures, and the other number that it is kept as where it lies within a share `near` of the middle between
/// two. With [`NOISE`] that is the middle itself: some round a half up and some to the even figure, and the same number comes out
/// on either side of it when it is worked in another order.
pub(super) fn either_side(value: f64, figures: u32, near: f64) -> (f64, Option<f64>) {
    if value == 0.0 || !value.is_finite() {
        return (value, None);
    }
    let last = last_figure(value, figures);
    let count = value / last;
    let kept = count.round();
    let over = count - kept;
    let is_tie = 0.5 - over.abs() < near * count.abs();
    (kept * last, is_tie.then(|| (kept + over.signum()) * last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_has_the_first_figure_that_it_is_written_with() {
        let mut value = 3.7e-320;
        while value < 1e300 {
            let written: i32 = format!("{value:e}").split_once('e').unwrap().1.parse().unwrap();
            assert_eq!(exponent(value), written, "{value:e}");
            value *= 1.83;
        }
        for power in -30..=30 {
            let ten: f64 = format!("1e{power}").parse().unwrap();
            assert_eq!(exponent(ten), power);
            assert_eq!(exponent(ten.next_down()), power - 1, "just below {ten:e}");
        }
    }

    #[test]
    fn figures_are_kept_as_they_are_written() {
        for (value, figures, kept) in [
            (1234.5, 3, 1230.0),
            (-0.000_678_51, 3, -0.000_679),
            (999.6, 3, 1000.0),
            (0.1, 4, 0.1),
            (0.0, 3, 0.0),
        ] {
            assert!(
                (to_figures(value, figures) - kept).abs() <= 1e-15 * f64::abs(kept),
                "{value}"
            );
        }
        // 0.185/59.2 and 0.037/11.84 are both 0.003125.
        for value in [0.185 / 59.2, 0.037 / 11.84, 0.003_125] {
            let (one, other) = either_side(value, 3, NOISE);
            let mut both = [one, other.unwrap_or(one)].map(|kept| (kept * 1e7).round());
            both.sort_by(f64::total_cmp);
            assert_eq!(both, [31_200.0, 31_300.0], "{value}");
        }
        assert_eq!(either_side(0.003_125_01, 3, NOISE).1, None);
        assert_eq!(either_side(0.003_125, 4, NOISE).1, None);
        assert_eq!(worst(3), 0.005);
        assert_eq!(last_figure(47.3, 3), 0.1);
    }
}
