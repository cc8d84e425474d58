//! Roots of a function of one variable, from brackets.

/// The crossing of `f` between `a` and `b`, at which its signs differ (a zero at either end is one).
///
/// Brent's way: inverse quadratic or linear steps where they shrink the bracket fast, halving where they do
/// not, so that it always ends. Settles to the last digits of the root.
pub(super) fn crossing(mut f: impl FnMut(f64) -> f64, a: f64, b: f64) -> f64 {
    let (mut a, mut b) = (a, b);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return a;
    }
    let (mut c, mut fc) = (a, fa);
    let mut width = b - a;
    let mut last_width = width;
    for _ in 0..400 {
        if (fb > 0.0) == (fc > 0.0) {
            // The root lies between b and a.
            (c, fc) = (a, fa);
            width = b - a;
            last_width = width;
        }
        if fc.abs() < fb.abs() {
            // b is the best so far, c the other end.
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let least = f64::EPSILON * b.abs();
        let half = 0.5 * (c - b);
        if half.abs() <= least || fb == 0.0 {
            return b;
        }
        let mut step = half;
        if last_width.abs() >= least && fa.abs() > fb.abs() && fa.is_finite() {
            let s = fb / fa;
            let (p, q) = if a == c {
                (2.0 * half * s, 1.0 - s)
            } else {
                let (t, r) = (fa / fc, fb / fc);
                (
                    s * (2.0 * half * t * (t - r) - (b - a) * (r - 1.0)),
                    (t - 1.0) * (r - 1.0) * (s - 1.0),
                )
            };
            let (p, q) = if p > 0.0 { (p, -q) } else { (-p, q) };
            if 2.0 * p < (3.0 * half * q - (least * q).abs()).min((last_width * q).abs()) {
                last_width = width;
                step = p / q;
            } else {
                last_width = half;
            }
        } else {
            last_width = half;
        }
        width = step;
        (a, fa) = (b, fb);
        b += if step.abs() > least {
            step
        } else {
            least.copysign(half)
        };
        fb = f(b);
    }
    b
}

/// All crossings of `f` between two positive ends that a scan finds, in order, added to `roots`.
///
/// The scan takes even steps of the logarithm, `per_decade` of them a decade. Where three neighbours have one
/// sign and the middle one is nearest nought, a pair of crossings may hide between them: the turning point is
/// sought, and if it lies beyond nought, both are found.
pub(super) fn crossings(
    mut f: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
    per_decade: usize,
    roots: &mut Vec<f64>,
) {
    let decades = libm::log10(high / low);
    if !(decades > 0.0 && decades.is_finite()) {
        return;
    }
    let count = (decades * per_decade as f64) as usize + 2;
    let ratio = libm::exp10(decades / count as f64);
    let points: Vec<(f64, f64)> = (0..=count)
        .scan(low / ratio, |x, i| {
            *x = if i == count { high } else { *x * ratio };
            Some((*x, f(*x)))
        })
        .collect();
    let same_sign = |a: (f64, f64), b: (f64, f64)| (a.1 > 0.0) == (b.1 > 0.0) && a.1 != 0.0 && b.1 != 0.0;
    for i in 0..points.len() {
        let here = points[i];
        if here.1 == 0.0 {
            roots.push(here.0);
            continue;
        }
        // The neighbours, or the point itself at an end of the interval.
        let before = points[i.saturating_sub(1)];
        let next = points[(i + 1).min(count)];
        if same_sign(before, here)
            && same_sign(here, next)
            && here.1.abs() <= before.1.abs()
            && here.1.abs() <= next.1.abs()
        {
            let sign = here.1.signum();
            let turn = turning_point(|x| sign * f(x), before.0, next.0);
            if sign * f(turn) < 0.0 {
                roots.push(crossing(&mut f, before.0, turn));
                roots.push(crossing(&mut f, turn, next.0));
            }
        } else if here.1 * next.1 < 0.0 {
            roots.push(crossing(&mut f, here.0, next.0));
        }
    }
}

/// The least point of a function with one valley, by golden sections; stops as soon as it is below nought.
fn turning_point(mut f: impl FnMut(f64) -> f64, a: f64, b: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (a, b);
    let mut c = b - GOLDEN * (b - a);
    let mut d = a + GOLDEN * (b - a);
    let (mut fc, mut fd) = (f(c), f(d));
    for _ in 0..60 {
        if fc < 0.0 {
            return c;
        }
        if fd < 0.0 {
            return d;
        }
        if fc < fd {
            (b, d, fd) = (d, c, fc);
            c = b - GOLDEN * (b - a);
            fc = f(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + GOLDEN * (b - a);
            fd = f(d);
        }
    }
    0.5 * (a + b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_crossing_is_found_to_the_last_digits() {
        let root = crossing(|x| x * x - 2.0, 0.0, 1e6);
        assert!((root - std::f64::consts::SQRT_2).abs() < 1e-15);
        let root = crossing(|x| 1.0 / x - 3.0, 1e-9, 1e9);
        assert!((root - 1.0 / 3.0).abs() < 1e-15, "{root}");
        assert_eq!(crossing(|x| x - 0.7, 0.7, 1.0), 0.7);
        assert_eq!(crossing(|x| x - 0.7, 0.1, 0.7), 0.7);
    }

    #[test]
    fn a_pair_of_crossings_between_two_steps_is_found() {
        // Touches nought from above but for a sliver of 1e-4 around 1.03.
        let mut roots = Vec::new();
        let valley = |x: f64| (x - 1.03) * (x - 1.03) - 2.5e-9;
        // Also where the pair lies before the first step or behind the last one.
        for (low, high) in [(0.1, 10.0), (1.02, 10.0), (0.1, 1.04), (1.0299, 1.0301)] {
            roots.clear();
            crossings(valley, low, high, 24, &mut roots);
            assert_eq!(roots.len(), 2, "{roots:?}");
            assert!((roots[0] - 1.02995).abs() < 1e-12);
            assert!((roots[1] - 1.03005).abs() < 1e-12);
        }
    }
}
