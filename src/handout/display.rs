//! Displayed equations, laid out in rows: the same for every format that takes rows of mathematics.
//!
//! Typesetters do not break a displayed equation by itself, so a line of working that is too long for the page is
//! broken here: first at its relations, then between the terms of a sum.

use crate::bank::course::Sheet;
use crate::equation::{Expr, Function, Line, Relation, Style};
use unicode_width::UnicodeWidthStr;

/// How much fits on a line of the page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Room {
    /// Digits of a displayed equation.
    pub(super) digits: f64,
    /// Characters of a table.
    pub(super) letters: f64,
    /// Width of a table \[em of its own type\], in PDF.
    pub(super) table: f64,
}

impl Room {
    /// A4 and letter: 472 pt at 5.5 pt a digit, less some air, and at 4.8 pt a character in the smaller type of tables;
    /// in PDF 465 pt at least, at 9.87 pt an em.
    pub(super) const PAGE: Self = Self {
        digits: 78.0,
        letters: 98.0,
        table: 47.0,
    };

    /// On a sheet.
    pub(super) fn on(sheet: Sheet) -> Self {
        match sheet {
            // 346 pt, in type a tenth smaller; in PDF a seventh.
            Sheet::A5 => Self {
                digits: 62.0,
                letters: 74.0,
                table: 40.8,
            },
            Sheet::A4 | Sheet::Letter => Self::PAGE,
        }
    }
}

/// A first side longer than this stands on a row of its own, so that what follows has the page to itself.
const LONG_FIRST: f64 = 26.0;
/// A relation or a plus sign with its space, in digits.
const SIGN: f64 = 2.6;
/// A row that takes more of the room than this is measured, as widths are estimates.
const CLOSE: f64 = 0.75;

/// One row of a display: what stands before the alignment mark and what stands behind it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    /// Before the alignment mark.
    pub(super) left: String,
    /// Behind it.
    pub(super) right: String,
    /// Whether the row may be too wide for the page all the same, and must be measured.
    pub(super) wide: bool,
}

/// How a format writes the pieces of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// LaTeX.
    Latex,
    /// Typst, where a blank beside words would show.
    Typst,
}

impl Ink {
    fn expr(self, expr: &Expr, style: Style) -> String {
        match self {
            Self::Latex => expr.latex(style),
            Self::Typst => expr.typst(style),
        }
    }

    fn relation(self, relation: Relation) -> &'static str {
        match self {
            Self::Latex => relation_latex(relation),
            // A sign by itself stands as it is.
            Self::Typst => relation.plain(),
        }
    }

    fn indent(self) -> &'static str {
        match self {
            Self::Latex => "\\qquad ",
            Self::Typst => "wide ",
        }
    }

    /// Before a term that goes on with a sum.
    fn further(self) -> &'static str {
        match self {
            Self::Latex => "\\qquad {} ",
            Self::Typst => "wide ",
        }
    }

    fn between(self) -> &'static str {
        match self {
            Self::Latex => " ",
            Self::Typst => "",
        }
    }

    fn sign(self, minus: bool) -> &'static str {
        match (self, minus) {
            (Self::Latex, false) => "+ ",
            (Self::Latex, true) => "- ",
            (Self::Typst, false) => "+",
            (Self::Typst, true) => "−",
        }
    }
}

/// The rows of a display. A single row with an empty left side needs no alignment.
///
/// A line that fits the page stands on one row. One that does not is filled from its end, so that a formula's
/// numbers and their value stay together.
pub(super) fn rows(lines: &[Line], style: Style, ink: Ink, room: Room) -> Vec<Row> {
    let page = room.digits;
    let mut rows = Vec::new();
    let alone = lines.len() == 1;
    // Left sides share a column, as wide as the widest of them.
    let column_to = |most: f64| {
        lines
            .iter()
            .filter(|line| !line.rest.is_empty())
            .map(|line| width(&line.first, style))
            .filter(|w| *w <= most)
            .fold(0.0, f64::max)
    };
    let behind = |line: &Line| {
        let sides = line.rest.iter();
        sides.map(|(_, side)| width(side, style) + SIGN).sum::<f64>()
    };
    // Where every line fits beside the longest of them, none is taken apart.
    let widest = column_to(f64::INFINITY);
    let roomy = lines
        .iter()
        .all(|line| !line.rest.is_empty() && widest + behind(line) <= page);
    let (long_first, column) = if roomy {
        (f64::INFINITY, widest)
    } else {
        (LONG_FIRST, column_to(LONG_FIRST))
    };
    for line in lines {
        let sides: Vec<String> = std::iter::once(ink.expr(&line.first, style))
            .chain(
                line.rest
                    .iter()
                    .map(|(relation, expr)| format!("{}{}", ink.relation(*relation), ink.expr(expr, style))),
            )
            .collect();
        let first = sides
            .first()
            .map(String::as_str)
            .unwrap_or_default()
            .trim()
            .to_owned();
        let widths: Vec<f64> = line.rest.iter().map(|(_, side)| width(side, style)).collect();
        let first_width = width(&line.first, style);
        let behind = behind(line);
        if alone && first_width + behind <= page {
            let close = first_width + behind > CLOSE * page;
            rows.push(row("", &sides.join(ink.between()), close));
            continue;
        }
        // What would be too wide beside the first side, and can't be broken, has the whole row behind it.
        let crowded = |(_, side): &(Relation, Expr), width: f64| {
            let mut terms = Vec::new();
            let is_sum = terms_of(side, style, ink, &mut terms) && terms.len() > 1;
            width + SIGN > page - column && (width + SIGN <= page - 4.0 || !is_sum)
        };
        let long = first_width > long_first
            || line
                .rest
                .iter()
                .zip(&widths)
                .any(|(side, width)| crowded(side, *width));
        if !long && !line.rest.is_empty() && column + behind <= page {
            rows.push(row(
                &first,
                &sides.get(1..).unwrap_or_default().join(ink.between()),
                column + behind > CLOSE * page,
            ));
            continue;
        }
        let room = if long { page - 4.0 } else { page - column };
        let indent = if long { ink.indent() } else { "" };
        let mut left = first.clone();
        if long || line.rest.is_empty() {
            for piece in pieces(&line.first, &first, style, page, ink) {
                rows.push(piece);
            }
            left.clear();
        }
        for group in groups(&widths, room) {
            let written: Vec<&str> = sides
                .get(1..)
                .and_then(|s| s.get(group.clone()))
                .unwrap_or_default()
                .iter()
                .map(|s| s.trim())
                .collect();
            let written = written.join(ink.between());
            let width: f64 = group.clone().map(|n| widths[n] + SIGN).sum();
            let fits = width <= room;
            match line.rest.get(group.start) {
                // A sum too long for a row is broken between its terms; its first row keeps the relation.
                Some((relation, side)) if !fits => {
                    for (n, piece) in pieces(side, &written, style, room - SIGN, ink)
                        .into_iter()
                        .enumerate()
                    {
                        let sign = if n == 0 && piece.right != written {
                            ink.relation(*relation)
                        } else {
                            ""
                        };
                        let left = if n == 0 { left.as_str() } else { "" };
                        rows.push(Row {
                            left: left.to_owned(),
                            right: format!("{indent}{sign}{}", piece.right),
                            wide: piece.wide,
                        });
                    }
                }
                _ => rows.push(row(&left, &format!("{indent}{written}"), width > CLOSE * room)),
            }
            left.clear();
        }
    }
    rows
}

/// Which sides share a row: filled from the end, so that the rows behind the first are the full ones. A side that
/// is too wide has a row of its own.
fn groups(widths: &[f64], room: f64) -> Vec<std::ops::Range<usize>> {
    let mut groups: Vec<std::ops::Range<usize>> = Vec::new();
    let mut used = f64::INFINITY;
    for (n, width) in widths.iter().enumerate().rev() {
        match groups.last_mut() {
            Some(last) if used + width + SIGN <= room => {
                last.start = n;
                used += width + SIGN;
            }
            _ => {
                groups.push(n..n + 1);
                used = width + SIGN;
            }
        }
    }
    groups.reverse();
    groups
}

fn row(left: &str, right: &str, wide: bool) -> Row {
    Row {
        left: left.to_owned(),
        right: right.trim().to_owned(),
        wide,
    }
}

/// A side broken between its terms into rows no wider than `room`; `written` unbroken where it fits or is
/// no sum.
fn pieces(side: &Expr, written: &str, style: Style, room: f64, ink: Ink) -> Vec<Row> {
    let mut terms = Vec::new();
    let whole = width(side, style);
    if whole <= room || !terms_of(side, style, ink, &mut terms) || terms.len() < 2 {
        return vec![row("", written, whole > room)];
    }
    let mut rows: Vec<Row> = Vec::new();
    let mut used = f64::INFINITY;
    for (n, (text, size)) in terms.iter().enumerate() {
        if n == 0 {
            rows.push(row("", text, *size > room));
            used = *size;
        } else if used + size > room {
            rows.push(row("", &format!("{}{text}", ink.further()), *size + 4.0 > room));
            used = size + 4.0;
        } else if let Some(last) = rows.last_mut() {
            last.right.push_str(ink.between());
            last.right.push_str(text);
            used += size;
        }
    }
    rows
}

/// The terms of a sum with their signs and widths; `false` where taking it apart would need brackets.
fn terms_of(expr: &Expr, style: Style, ink: Ink, into: &mut Vec<(String, f64)>) -> bool {
    let (first, sign, second) = match expr {
        Expr::Add(a, b) => (a, ink.sign(false), b),
        Expr::Subtract(a, b) => (a, ink.sign(true), b),
        other => {
            into.push((ink.expr(other, style), width(other, style)));
            return true;
        }
    };
    if matches!(**second, Expr::Add(..) | Expr::Subtract(..) | Expr::Negative(..))
        || matches!(&**second, Expr::Number(w) if w.number < 0.0)
    {
        return false;
    }
    if !terms_of(first, style, ink, into) {
        return false;
    }
    into.push((
        format!("{sign}{}", ink.expr(second, style)),
        width(second, style) + SIGN,
    ));
    true
}

fn relation_latex(relation: Relation) -> &'static str {
    match relation {
        Relation::Equal => "= ",
        Relation::NotEqual => "\\ne ",
        Relation::Less => "< ",
        Relation::AtMost => "\\le ",
        Relation::Greater => "> ",
        Relation::AtLeast => "\\ge ",
        Relation::About => "\\approx ",
    }
}

/// About how wide an expression is when displayed, in digits.
pub(super) fn width(expr: &Expr, style: Style) -> f64 {
    let of = |e: &Expr| width(e, style);
    match expr {
        Expr::Number(written) => written.plain(style.mark).width() as f64,
        Expr::Pi => 1.1,
        Expr::Symbol(name) => match name.split_once('_') {
            Some((base, sub)) => base.width().min(2) as f64 * 1.2 + 0.8 * sub.width() as f64,
            None => name.width().min(2) as f64 * 1.3,
        },
        Expr::Negative(a) => 1.6 + of(a),
        Expr::Add(a, b) | Expr::Subtract(a, b) => of(a) + SIGN + of(b),
        Expr::Compare(a, _, b) => of(a) + SIGN + of(b),
        Expr::And(a, b) | Expr::Or(a, b) => of(a) + 5.0 + of(b),
        Expr::Multiply(a, b) => {
            let brackets = |e: &Expr| {
                if matches!(e, Expr::Add(..) | Expr::Subtract(..)) {
                    1.6
                } else {
                    0.0
                }
            };
            let dot = if matches!(**b, Expr::Number(_)) { SIGN } else { 0.4 };
            of(a) + brackets(a) + dot + brackets(b) + of(b)
        }
        Expr::Divide(a, b) => of(a).max(of(b)) + 0.6,
        Expr::Power(a, b) => of(a) + 0.75 * of(b) + if matches!(**a, Expr::Number(_)) { 1.6 } else { 0.0 },
        Expr::Call(function, inside) => {
            let name = match function {
                Function::Sqrt => 1.6,
                Function::Abs => 1.2,
                Function::Ln => 3.6,
                Function::Exp | Function::Min | Function::Max => 4.8,
                Function::Log10 => 5.8,
            };
            name + inside.iter().map(|e| of(e) + 1.0).sum::<f64>()
        }
        Expr::Text(words) => words.width() as f64,
        Expr::Notation(_) => expr.plain(style).width() as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn long(name: &str) -> Expr {
        Expr::symbol(format!("{name}_north branch"))
            + Expr::symbol(format!("{name}_south branch"))
            + Expr::symbol(name)
    }

    /// Left sides that are long stay beside their right sides where there is room, and have a row of their own where there is none.
    #[test]
    fn first_sides_stand_alone_only_where_they_must() {
        let style = Style::default();
        let short = [
            Line::equal(long("Q"), Expr::symbol("q")),
            Line::equal(long("h"), Expr::number(0.0)),
        ];
        let rows_of = |lines: &[Line], room| rows(lines, style, Ink::Latex, room);
        let roomy = rows_of(&short, Room::PAGE);
        assert!(
            roomy.len() == 2 && roomy.iter().all(|row| !row.left.is_empty()),
            "{roomy:?}"
        );
        let product = long("Q") * long("h") * long("z");
        let crowded = [
            Line::equal(Expr::symbol("a") + Expr::symbol("b") * Expr::symbol("c"), product),
            Line::equal(Expr::symbol("x"), Expr::number(1.0)),
        ];
        let wide = rows_of(&crowded, Room::PAGE);
        assert!(wide[0].left.is_empty() && wide[1].wide, "{wide:?}");
    }
}
