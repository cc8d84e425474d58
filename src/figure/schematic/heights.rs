//! From elevations to heights on the sheet.

use super::sheet::At;

/// How high the drawing of all elevations is \[mm\].
const HEIGHT: f64 = 36.0;
/// The least distance of two elevations on the sheet \[mm\].
const LEAST: f64 = 13.0;
/// Elevations nearer than this share of their range are one.
const SAME: f64 = 1e-6;

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
        Self::within(elevations, HEIGHT)
    }

    /// The same on a height \[mm\], but no higher than usual.
    pub(super) fn within(mut elevations: Vec<f64>, height: f64) -> Self {
        elevations.retain(|z| z.is_finite());
        elevations.sort_by(f64::total_cmp);
        let range = match (elevations.first(), elevations.last()) {
            (Some(low), Some(high)) => high - low,
            _ => 0.0,
        };
        elevations.dedup_by(|b, a| *b - *a <= SAME * range);
        let mut known: Vec<(f64, f64)> = Vec::with_capacity(elevations.len());
        let mut to_scale = true;
        let scale = height.min(HEIGHT) / range.max(f64::MIN_POSITIVE);
        for z in elevations {
            let y = match known.last() {
                None => 0.0,
                Some((below, y)) => {
                    let gap = scale * (z - below);
                    to_scale &= gap >= LEAST;
                    y - gap.max(LEAST)
                }
            };
            known.push((z, y));
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
