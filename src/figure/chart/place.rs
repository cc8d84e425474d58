//! Where labels lie, so that none lies on another or on a line.

use crate::figure::svg::{Anchor, Words};

/// A point on the sheet \[mm\], y downwards.
pub(super) type Point = (f64, f64);

/// A rectangle, turned or not, by its corners in order.
#[derive(Debug, Clone, Copy)]
pub(super) struct Area(pub(super) [Point; 4]);

/// The parts of the size that letters reach above and below their line.
const ABOVE: f64 = 0.74;
const BELOW: f64 = 0.24;

impl Area {
    /// What a text covers, with `clear` \[mm\] about it; `turn` in degrees, against the clock.
    pub(super) fn of_text(
        at: Point,
        anchor: Anchor,
        size: f64,
        turn: f64,
        words: &Words,
        clear: f64,
    ) -> Self {
        let width = words.width(size);
        let start = match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -0.5 * width,
            Anchor::End => -width,
        };
        let (left, right) = (start - clear, start + width + clear);
        let (top, bottom) = (-ABOVE * size - clear, BELOW * size + clear);
        let angle = -turn.to_radians();
        let (sin, cos) = (libm::sin(angle), libm::cos(angle));
        let turned = |(x, y): Point| (at.0 + x * cos - y * sin, at.1 + x * sin + y * cos);
        Self([(left, top), (right, top), (right, bottom), (left, bottom)].map(turned))
    }

    /// Whether another area touches it.
    #[cfg(test)]
    pub(super) fn meets(&self, other: &Self) -> bool {
        overlap(&self.0, &other.0)
    }

    /// Whether a line through points touches it.
    pub(super) fn meets_line(&self, points: &[Point]) -> bool {
        let span = |of: fn(&Point) -> f64| {
            let each = self.0.iter().map(of);
            each.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at), high.max(at))
            })
        };
        let (across, upright) = (span(|p| p.0), span(|p| p.1));
        // Nearly every piece of a line lies off to one side, which is quickly seen.
        let far = |(a, b): (f64, f64), (low, high): (f64, f64)| a.max(b) < low || a.min(b) > high;
        points.windows(2).any(|pair| {
            let ((ax, ay), (bx, by)) = (pair[0], pair[1]);
            !far((ax, bx), across) && !far((ay, by), upright) && overlap(&self.0, pair)
        })
    }
}

/// Whether two convex shapes touch: no line along a side of either parts them.
fn overlap(a: &[Point], b: &[Point]) -> bool {
    let sides = |shape: &[Point]| -> Vec<Point> {
        (0..shape.len())
            .map(|i| {
                let (from, to) = (shape[i], shape[(i + 1) % shape.len()]);
                (from.1 - to.1, to.0 - from.0)
            })
            .collect()
    };
    let reach = |shape: &[Point], (nx, ny): Point| {
        shape
            .iter()
            .map(|(x, y)| x * nx + y * ny)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), along| {
                (low.min(along), high.max(along))
            })
    };
    sides(a).into_iter().chain(sides(b)).all(|normal| {
        let (a, b) = (reach(a, normal), reach(b, normal));
        a.0 <= b.1 && b.0 <= a.1
    })
}

/// Moves places apart until each is `gap` from the next, as little as may be; they keep their order.
pub(super) fn apart(places: &mut [f64], gap: f64) {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|a, b| places[*a].total_cmp(&places[*b]));
    // Groups that touch: their first place once they stand `gap` apart, and who belongs to them.
    let mut groups: Vec<(f64, Vec<usize>)> = Vec::new();
    for i in order {
        let mut group = (places[i], vec![i]);
        while let Some((first, members)) = groups.last() {
            let (count, own) = (members.len() as f64, group.1.len() as f64);
            if first + count * gap <= group.0 {
                break;
            }
            // Together they stand about the mean of where each would be.
            let start = (first * count + (group.0 - count * gap) * own) / (count + own);
            let mut all = members.clone();
            all.append(&mut group.1);
            group = (start, all);
            groups.pop();
        }
        groups.push(group);
    }
    for (first, members) in groups {
        for (n, i) in members.into_iter().enumerate() {
            places[i] = first + n as f64 * gap;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turned_text_meets_what_runs_through_it_and_not_what_passes_by() {
        let words = Words::plain("critical zone");
        let area = Area::of_text((10.0, 10.0), Anchor::Middle, 3.0, 90.0, &words, 0.0);
        // Upright it spans 8 to 11 across and its whole length up and down.
        assert!(area.meets_line(&[(0.0, 10.0), (20.0, 10.0)]));
        assert!(area.meets_line(&[(9.0, 3.0), (9.0, 4.0)]));
        assert!(!area.meets_line(&[(12.0, 0.0), (12.0, 20.0)]));
        assert!(!area.meets_line(&[(0.0, 30.0), (20.0, 30.0)]));
        // A box about the slanting line would meet the text; the line does not.
        assert!(!area.meets_line(&[(12.0, 0.0), (30.0, 20.0)]));
    }

    #[test]
    fn places_move_apart_about_their_middle() {
        let mut places = [5.0, 5.0, 20.0, 4.9];
        apart(&mut places, 2.0);
        // The first three stand about 4.967.
        for (found, wanted) in places.iter().zip([4.9667, 6.9667, 20.0, 2.9667]) {
            assert!((found - wanted).abs() < 1e-3, "{places:?}");
        }
        let mut far = [1.0, 9.0];
        apart(&mut far, 2.0);
        assert_eq!(far, [1.0, 9.0]);
    }
}
