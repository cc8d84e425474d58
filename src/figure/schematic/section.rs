//! Cross-sections of ducts that are not round.

use super::sheet::{At, Layer, Pen, Rect, Sheet, WHITE, about};
use super::words::{Say, number};
use crate::bank::system::{DuctShape, Value};
use crate::figure::svg::Words;

/// The larger measure of a section on the sheet \[mm\].
const SIZE: f64 = 16.0;

/// Draws a section about a middle, with its measures, in proportion where they are known.
pub(super) fn draw(sheet: &mut Sheet, shape: &DuctShape, (x, y): At, say: Say<'_>) {
    let of = |value: &Value| number(value).unwrap_or(1.0).max(1e-9);
    let inside = sheet.inside;
    match shape {
        DuctShape::Rectangle([width, height]) | DuctShape::Plates([height, width]) => {
            let is_plates = matches!(shape, DuctShape::Plates(_));
            let scale = SIZE / of(width).max(of(height));
            let (w, h) = ((scale * of(width)).max(4.0), (scale * of(height)).max(3.0));
            let (l, r, t, b) = (x - 0.5 * w, x + 0.5 * w, y - 0.5 * h, y + 0.5 * h);
            sheet.wash(&[(l, t), (r, t), (r, b), (l, b)], inside);
            if is_plates {
                sheet.line(&[(l, t), (r, t)], Pen::THICK);
                sheet.line(&[(l, b), (r, b)], Pen::THICK);
                sheet.block(&[(l, t), (r, b)]);
            } else {
                sheet.outline(Layer::Line, &[(l, t), (r, t), (r, b), (l, b)], Pen::THICK, true);
            }
            extend(sheet, &[(l, b), (r, b)], (0.0, 4.5));
            sheet.dimension((l, b + 3.5), (r, b + 3.5), vec![Words::plain(say.value(width))]);
            extend(sheet, &[(r, t), (r, b)], (4.5, 0.0));
            sheet.dimension((r + 3.5, b), (r + 3.5, t), vec![Words::plain(say.value(height))]);
        }
        DuctShape::Annulus([outer, inner]) => {
            let radius = 0.5 * SIZE;
            let hole = radius * (of(inner) / of(outer)).clamp(0.1, 0.94);
            sheet.circle((x, y), radius, Layer::Line, Pen::THICK.filled(inside));
            sheet.circle((x, y), hole, Layer::Line, Pen::THICK.filled(WHITE));
            for (size, value) in [(hole, inner), (radius, outer)] {
                let out = if size == hole { -1.0 } else { 1.0 };
                let at = x + out * (radius + 4.0);
                extend(
                    sheet,
                    &[(x, y - size), (x, y + size)],
                    (out * (radius + 5.0), 0.0),
                );
                sheet.upright(at, y + size, y - size, vec![Words::plain(say.value(value))]);
            }
        }
        DuctShape::Triangle(side) => {
            let h = 0.866 * SIZE;
            let (l, r, t, b) = (x - 0.5 * SIZE, x + 0.5 * SIZE, y - 0.5 * h, y + 0.5 * h);
            sheet.outline(
                Layer::Line,
                &[(l, b), (r, b), (x, t)],
                Pen::THICK.filled(inside),
                true,
            );
            extend(sheet, &[(l, b), (r, b)], (0.0, 4.5));
            sheet.dimension((l, b + 3.5), (r, b + 3.5), vec![Words::plain(say.value(side))]);
        }
        DuctShape::Other([area, perimeter, ..]) => {
            let points: Vec<At> = (0..24)
                .map(|i| std::f64::consts::TAU * f64::from(i) / 24.0)
                .map(|a| {
                    let r = 0.4 * SIZE * (1.0 + 0.18 * libm::sin(3.0 * a));
                    (x + 1.25 * r * libm::cos(a), y + r * libm::sin(a))
                })
                .collect();
            sheet.outline(Layer::Line, &points, Pen::THICK.filled(inside), true);
            let lines = vec![say.equal("A", "", area), say.equal("P", "w", perimeter)];
            sheet.label(
                lines,
                about(Rect::new(x - 9.0, y - 8.0, x + 9.0, y + 8.0)),
                (x, y),
            );
        }
    }
    let words = vec![Words::plain("cross-section")];
    sheet.label(
        words,
        about(Rect::new(x - 8.0, y - 8.2, x + 8.0, y + 8.0)),
        (x, y - 0.5 * SIZE),
    );
}

/// Thin lines from two places in one direction, to which a dimension line is drawn.
fn extend(sheet: &mut Sheet, from: &[At], by: At) {
    for (x, y) in from {
        let thin = Pen {
            colour: super::sheet::GREY,
            ..Pen::THIN
        };
        sheet.line(&[(*x, *y), (x + by.0, y + by.1)], thin);
    }
}
