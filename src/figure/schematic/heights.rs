//! From elevations to heights on the sheet.

use super::sheet::At;

/// How high the drawing of all elevations is \[mm\].
const HEIGHT: f64 = 36.0;
/// The least distance of two elevations on the sheet \[mm\].
const LEAST: f64 = 13.0;
/// The same of two levels in one round tank \[mm\]: room for a dimension line.
const NEAR: f64 = 7.6;
/// The same of levels in different tanks, and of a level and a rim \[mm\].
const BESIDE: f64 = 4.0;
/// The lowest round tank \[mm\].
const SMALLEST: f64 = 14.0;
/// Elevations nearer than this share of their range are one.
const SAME: f64 = 1e-6;

/// Whose an elevation is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Of {
    /// Of a station, a point, a machine; the datum.
    Line,
    /// A level of the tank at the start.
    Start,
    /// A level of the tank at the end.
    End,
    /// The rim, the top or the mouth of a tank: no dimension line ends there.
    Other,
}

/// A round tank: whose levels are its, its lowest elevation, its highest \[m\], and how high it is drawn \[mm\].
#[derive(Debug, Clone, Copy)]
pub(super) struct Round {
    pub(super) of: Of,
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) drawn: f64,
}

/// Where elevations lie on the sheet.
pub(super) struct Heights {
    /// Elevations in rising order and their y, which falls.
    known: Vec<(f64, f64)>,
    /// Whether they are drawn to scale.
    pub(super) to_scale: bool,
}

impl Heights {
    /// Elevations \[m\] on a common scale, where that leaves every two apart; else drawn apart by hand.
    pub(super) fn new(elevations: Vec<f64>) -> Self {
        Self::about(elevations.into_iter().map(|z| (z, Of::Line)).collect(), &[])
    }

    /// The same about round tanks. These have a scale of their own, so that they are large enough whatever else is on the
    /// sheet, and levels in them stand nearer together, so that they are not too large.
    pub(super) fn about(mut elevations: Vec<(f64, Of)>, round: &[Round]) -> Self {
        elevations.retain(|(z, _)| z.is_finite());
        elevations.sort_by(|a, b| a.0.total_cmp(&b.0));
        let range = match (elevations.first(), elevations.last()) {
            (Some((low, _)), Some((high, _))) => high - low,
            _ => 0.0,
        };
        let own = round
            .iter()
            .map(|r| r.drawn / (r.high - r.low))
            .fold(f64::INFINITY, f64::min);
        let range = range.max(f64::MIN_POSITIVE);
        // Where round tanks have a scale of their own the rest has to do with less.
        let taken: f64 = round.iter().map(|r| 0.75 * r.drawn).sum();
        let even = if own * range <= HEIGHT {
            own
        } else {
            (HEIGHT - taken).max(0.0) / range
        };
        let same = SAME * range;
        let mut known: Vec<(f64, f64)> = Vec::with_capacity(elevations.len());
        let mut to_scale = true;
        // Where the last elevation of each owner lies.
        let mut last: [Option<f64>; 4] = [None; 4];
        let mut of_below = Of::Line;
        for (z, of) in elevations {
            let Some(&(below, y_below)) = known.last() else {
                known.push((z, 0.0));
                last[of as usize] = Some(0.0);
                of_below = of;
                continue;
            };
            if z - below <= same {
                last[of as usize] = Some(y_below);
                if of == Of::Line {
                    of_below = of;
                }
                continue;
            }
            // Round tanks that reach from below it to it: where their floors are, and where it lies over those.
            let floors: Vec<(&Round, f64)> = round
                .iter()
                .filter(|r| r.low <= below + same && z <= r.high + same)
                .filter_map(|r| Some((r, known.iter().find(|k| (k.0 - r.low).abs() <= same)?.1)))
                .collect();
            let within = !floors.is_empty();
            let there = if within {
                // Over its own floor, if it has one of these.
                let is_own = |r: &Round| r.of == of || (z - r.high).abs() <= same;
                let any_own = floors.iter().any(|(r, _)| is_own(r));
                floors
                    .iter()
                    .filter(|(r, _)| is_own(r) || !any_own)
                    .map(|(r, y)| y - own * (z - r.low))
                    .fold(f64::INFINITY, f64::min)
            } else {
                y_below - even * (z - below)
            };
            let is_level = |of: Of| of != Of::Line;
            let mut highest = if within || (is_level(of) && is_level(of_below)) {
                let least = if within && is_level(of) { NEAR } else { LEAST };
                let owner = last[of as usize].filter(|_| of != Of::Other);
                (y_below - BESIDE).min(owner.map_or(f64::INFINITY, |y| y - least))
            } else {
                y_below - LEAST
            };
            for (_, y) in floors.iter().filter(|(r, _)| z >= r.high - same) {
                highest = highest.min(y - SMALLEST);
            }
            to_scale &= (!within || own == even) && there <= highest;
            let y = there.min(highest);
            known.push((z, y));
            last[of as usize] = Some(y);
            of_below = of;
        }
        Self { known, to_scale }
    }

    /// One even scale from the lowest elevation to the highest, over a height \[mm\].
    pub(super) fn even(low: f64, high: f64, height: f64) -> Self {
        let high = if high > low { high } else { low + 1.0 };
        Self {
            known: vec![(low, 0.0), (high, -height)],
            to_scale: true,
        }
    }

    /// The same, but that a stretch from one elevation up to another is drawn so high at least \[mm\].
    pub(super) fn even_but(low: f64, high: f64, height: f64, (from, to, least): (f64, f64, f64)) -> Self {
        let even = Self::even(low, high, height);
        let wider = least - (even.y(from) - even.y(to));
        if wider <= 0.0 {
            return even;
        }
        // The stretch takes what it lacks from the rest.
        let rest = Self::even(low, high - (to - from), height - least);
        let above = |z: f64| rest.y(z - (to - from)) - least;
        let mut known = vec![
            (low, 0.0),
            (from, rest.y(from)),
            (to, above(to)),
            (high, above(high)),
        ];
        known.dedup_by(|b, a| b.0 <= a.0);
        Self {
            known,
            to_scale: false,
        }
    }

    /// The y of an elevation.
    pub(super) fn y(&self, z: f64) -> f64 {
        let line = |(z0, y0): At, (z1, y1): At| y0 + (y1 - y0) * (z - z0) / (z1 - z0);
        match self.known.as_slice() {
            [] => 0.0,
            [(_, y)] => *y,
            all => {
                let above = all
                    .iter()
                    .position(|(known, _)| *known >= z)
                    .unwrap_or(all.len() - 1);
                let i = above.clamp(1, all.len() - 1);
                line(all[i - 1], all[i])
            }
        }
    }

    /// Whether there is more than one elevation.
    pub(super) fn differ(&self) -> bool {
        self.known.len() > 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn elevations_keep_their_order_and_their_scale_where_it_reads() {
        let heights = Heights::new(vec![10.0, 0.0, 4.0]);
        assert!(heights.to_scale && (heights.y(4.0) - 0.4 * heights.y(10.0)).abs() < 1e-9);
        let heights = Heights::new(vec![100.0, 0.0, 1.0]);
        assert!(!heights.to_scale && heights.y(1.0) <= -LEAST && heights.y(100.0) < heights.y(1.0));
        assert!(!Heights::new(vec![3.0, 3.0]).differ());
    }
}
