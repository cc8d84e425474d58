//! Integrals of a function of one variable, with an error estimate.

/// Points of the Gauss–Kronrod pair (7, 15) from the end of the interval to its middle, with the weights of the
/// 15-point rule. Piessens and others (1983), QUADPACK; a test proves them on polynomials.
const KRONROD: [(f64, f64); 8] = [
    (0.991_455_371_120_812_6, 0.022_935_322_010_529_224),
    (0.949_107_912_342_758_5, 0.063_092_092_629_978_56),
    (0.864_864_423_359_769_1, 0.104_790_010_322_250_18),
    (0.741_531_185_599_394_4, 0.140_653_259_715_525_92),
    (0.586_087_235_467_691_1, 0.169_004_726_639_267_9),
    (0.405_845_151_377_397_2, 0.190_350_578_064_785_4),
    (0.207_784_955_007_898_47, 0.204_432_940_075_298_89),
    (0.0, 0.209_482_141_084_727_82),
];
/// Weights of the 7-point rule, which stands on every second of those points.
const GAUSS: [f64; 4] = [
    0.129_484_966_168_869_7,
    0.279_705_391_489_276_64,
    0.381_830_050_505_118_9,
    0.417_959_183_673_469_4,
];
/// More pieces than this settle no integral that this room has.
const MOST_PIECES: usize = 400;

/// One piece, its integral by the better rule and how far that may be off.
#[derive(Clone, Copy)]
struct Piece {
    from: f64,
    to: f64,
    value: f64,
    error: f64,
}

impl Piece {
    fn new<E>(f: &mut impl FnMut(f64) -> Result<f64, E>, from: f64, to: f64) -> Result<Self, E> {
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        let mut values = [0.0; 15];
        let (mut fine, mut coarse) = (0.0, 0.0);
        for (i, &(x, weight)) in KRONROD.iter().enumerate() {
            let sum = if x == 0.0 {
                values[i] = f(middle)?;
                values[i]
            } else {
                values[i] = f(middle - half * x)?;
                values[14 - i] = f(middle + half * x)?;
                values[i] + values[14 - i]
            };
            fine += weight * sum;
            if i % 2 == 1 {
                coarse += GAUSS[i / 2] * sum;
            }
        }
        // The two rules differ by the error of the poorer one. Where that is small against how much the function
        // varies, the better rule is better by far (QUADPACK's rule of thumb, an exponent of 3/2).
        let mean = 0.5 * fine;
        let spread: f64 = KRONROD
            .iter()
            .enumerate()
            .map(|(i, &(_, weight))| {
                let other = if i == 7 {
                    0.0
                } else {
                    (values[14 - i] - mean).abs()
                };
                weight * ((values[i] - mean).abs() + other)
            })
            .sum::<f64>()
            * half.abs();
        let difference = ((fine - coarse) * half).abs();
        let error = if spread > 0.0 && difference > 0.0 {
            let share = 200.0 * difference / spread;
            spread * (share * share.sqrt()).min(1.0)
        } else {
            difference
        };
        Ok(Self {
            from,
            to,
            value: fine * half,
            error,
        })
    }
}

/// The integral of `f` from `from` to `to`, with an estimate of its error; the first fault of `f` ends it.
///
/// The piece with the largest error is halved until the errors' sum is below `share` of the integral, or rounding
/// stops it: then the estimate is larger, and the caller judges. Ends are never asked for.
pub(super) fn integral<E>(
    mut f: impl FnMut(f64) -> Result<f64, E>,
    from: f64,
    to: f64,
    share: f64,
) -> Result<(f64, f64), E> {
    let mut pieces = vec![Piece::new(&mut f, from, to)?];
    let mut in_vain = 0;
    loop {
        let value: f64 = pieces.iter().map(|p| p.value).sum();
        let error: f64 = pieces.iter().map(|p| p.error).sum();
        let worst = pieces
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.error.total_cmp(&b.1.error))
            .map_or(0, |(i, _)| i);
        let old @ Piece { from, to, .. } = pieces[worst];
        let middle = 0.5 * (from + to);
        let is_least = middle == from || middle == to;
        // A value that is no number can't be bettered by halving.
        if error <= share * value.abs()
            || error.is_nan()
            || pieces.len() >= MOST_PIECES
            || is_least
            || in_vain > 5
        {
            return Ok((value, error));
        }
        let (first, second) = (Piece::new(&mut f, from, middle)?, Piece::new(&mut f, middle, to)?);
        // Where halving changes nothing but the error's estimate does not fall, the estimate is rounding.
        let moved = (first.value + second.value - old.value).abs();
        if moved <= 1e-10 * old.value.abs() && first.error + second.error >= 0.99 * old.error {
            in_vain += 1;
        }
        pieces[worst] = first;
        pieces.push(second);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole(f: impl Fn(f64) -> f64, from: f64, to: f64) -> (f64, f64) {
        integral(|x| Ok::<f64, ()>(f(x)), from, to, 1e-12).unwrap_or((f64::NAN, f64::NAN))
    }

    #[test]
    fn one_piece_is_exact_for_polynomials_to_the_22nd_power() {
        for power in 0..=22 {
            let piece = Piece::new(
                &mut |x: f64| Ok::<f64, ()>(libm::pow(x, f64::from(power))),
                0.0,
                1.0,
            );
            let value = piece.map_or(f64::NAN, |p| p.value);
            assert!(
                (value * f64::from(power + 1) - 1.0).abs() < 1e-14,
                "{power}: {value}"
            );
        }
        // And not for much more: the points are those of the rule.
        let piece = Piece::new(&mut |x: f64| Ok::<f64, ()>(libm::pow(x, 60.0)), -1.0, 1.0);
        assert!(piece.is_ok_and(|p| (p.value * 30.5 - 1.0).abs() > 1e-9));
    }

    #[test]
    fn the_error_is_no_larger_than_its_estimate() {
        type Case = (fn(f64) -> f64, f64, f64, f64);
        let cases: [Case; 5] = [
            (|x| libm::exp(x), 0.0, 3.0, libm::exp(3.0) - 1.0),
            (|x| 1.0 / (1.0 + 25.0 * x * x), -1.0, 1.0, 0.4 * libm::atan(5.0)),
            (|x| x.sqrt(), 0.0, 1.0, 2.0 / 3.0),
            (|x| 1.0 / x.sqrt(), 0.0, 1.0, 2.0),
            (|x| 1.0 / x, 1e-6, 1.0, 6.0 * std::f64::consts::LN_10),
        ];
        for (i, (f, from, to, expected)) in cases.into_iter().enumerate() {
            let (value, error) = whole(f, from, to);
            assert!(
                (value - expected).abs() <= error + 1e-14 * expected,
                "{i}: {value} for {expected}, {error}"
            );
            assert!(error < 1e-7 * expected, "{i}: {error}");
            // Backwards it changes its sign.
            assert!(
                (whole(f, to, from).0 + value).abs() <= 1e-12 * expected.abs() + error,
                "{i}"
            );
        }
    }

    #[test]
    fn a_fault_of_the_function_comes_through_and_no_number_ends_it() {
        assert_eq!(
            integral(|x| if x > 0.5 { Err("far") } else { Ok(x) }, 0.0, 1.0, 1e-9),
            Err("far")
        );
        assert!(whole(|_| f64::NAN, 0.0, 1.0).0.is_nan());
    }
}
