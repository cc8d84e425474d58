//! Notation as MathML, for HTML: only elements of MathML Core, so that browsers set it without a script.

use super::Style;
use super::math::{self, Class, Grid, Mark, Notation, Sign, Size};
use super::typography::is_capital_greek;
use crate::quantity::Written;
use std::fmt::Write as _;

/// `<math>` around what `row` holds, with a reading of it in plain text; large as in a display, or as in running text.
pub(super) fn element(row: &[&Notation], style: Style, large: bool, reading: &str) -> String {
    let mut out = String::from("<math");
    if large {
        out.push_str(" displaystyle=\"true\"");
    }
    let _ = write!(out, " alttext=\"{}\">", escaped(reading));
    let mut writer = MathMl { out, style };
    for item in row {
        writer.write(item, false);
    }
    writer.out.push_str("</math>");
    writer.out
}

/// Text in an element or between double quotes.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

struct MathMl {
    out: String,
    style: Style,
}

impl MathMl {
    fn tag(&mut self, name: &str, text: &str) {
        let _ = write!(self.out, "<{name}>{}</{name}>", escaped(text));
    }

    /// Letters upright: one letter alone would be set in italics.
    fn upright(&mut self, letters: &str) {
        if letters.chars().count() == 1 {
            let _ = write!(self.out, "<mi mathvariant=\"normal\">{}</mi>", escaped(letters));
        } else {
            self.tag("mi", letters);
        }
    }

    /// As one element: what a fraction, a root or a script takes.
    fn one(&mut self, notation: &Notation, upright: bool) {
        let single = match notation {
            Notation::Row(row) => {
                if let [one] = row.as_slice() {
                    return self.one(one, upright);
                }
                false
            }
            // Digits alone are one element.
            Notation::Value(value) => {
                value.unit.symbol.is_empty()
                    && value.shown.exponent.is_none()
                    && !value.shown.digits.starts_with('-')
            }
            Notation::Upright(_) => false,
            _ => true,
        };
        if single {
            self.write(notation, upright);
        } else {
            self.out.push_str("<mrow>");
            self.write(notation, upright);
            self.out.push_str("</mrow>");
        }
    }

    fn row(&mut self, row: &[Notation], upright: bool) {
        let mut letters = String::new();
        for (i, item) in row.iter().enumerate() {
            match item {
                Notation::Letter(c) if upright => {
                    letters.push(*c);
                    continue;
                }
                _ if !letters.is_empty() => {
                    self.upright(&letters);
                    letters.clear();
                }
                _ => {}
            }
            match item {
                Notation::Value(_) if Notation::value_needs_brackets(row, i) => {
                    self.out.push_str("<mrow><mo stretchy=\"false\">(</mo>");
                    self.write(item, upright);
                    self.out.push_str("<mo stretchy=\"false\">)</mo></mrow>");
                }
                Notation::Value(_) => self.one(item, upright),
                _ => self.write(item, upright),
            }
        }
        if !letters.is_empty() {
            self.upright(&letters);
        }
    }

    fn write(&mut self, notation: &Notation, upright: bool) {
        match notation {
            Notation::Row(row) => self.row(row, upright),
            Notation::Letter(c) if upright => self.upright(&c.to_string()),
            Notation::Letter(c) => self.tag("mi", &c.to_string()),
            Notation::Number(digits) => {
                let digits = math::digits(digits, self.style.mark);
                self.tag("mn", &digits);
            }
            Notation::Sign(sign) => self.sign(sign, upright),
            Notation::Upright(a) => self.write(a, true),
            Notation::Words(words) => self.tag("mtext", &math::words(words)),
            Notation::Fraction(size, a, b) => {
                let style = match size {
                    Size::Usual => None,
                    Size::Text => Some("false"),
                    Size::Display => Some("true"),
                };
                if let Some(style) = style {
                    let _ = write!(self.out, "<mstyle displaystyle=\"{style}\">");
                }
                self.out.push_str("<mfrac>");
                self.one(a, upright);
                self.one(b, upright);
                self.out.push_str("</mfrac>");
                if style.is_some() {
                    self.out.push_str("</mstyle>");
                }
            }
            Notation::Root(None, a) => {
                self.out.push_str("<msqrt>");
                self.write(a, upright);
                self.out.push_str("</msqrt>");
            }
            Notation::Root(Some(index), a) => {
                self.out.push_str("<mroot>");
                self.one(a, upright);
                self.one(index, upright);
                self.out.push_str("</mroot>");
            }
            Notation::Over(mark, a) => {
                // Called an accent, the dot would drop onto the letter in some browsers.
                self.out.push_str("<mover>");
                self.one(a, upright);
                let (sign, stretchy) = match mark {
                    Mark::Dot => ("˙", false),
                    Mark::TwoDots => ("¨", false),
                    Mark::Bar => ("¯", matches!(**a, Notation::Row(_))),
                    Mark::Hat => ("^", false),
                    Mark::Tilde => ("~", false),
                    Mark::Arrow => ("→", false),
                };
                let _ = write!(self.out, "<mo stretchy=\"{stretchy}\">{sign}</mo></mover>");
            }
            Notation::Scripts {
                base,
                primes,
                below,
                above,
            } => self.scripts(base, *primes, below.as_deref(), above.as_deref(), upright),
            Notation::Fenced(open, a, close) => {
                self.out.push_str("<mrow>");
                self.fence(open, "prefix");
                self.one(a, upright);
                self.fence(close, "postfix");
                self.out.push_str("</mrow>");
            }
            Notation::Grid(kind, rows) => {
                let class = match kind {
                    Grid::Aligned => "aligned",
                    Grid::Cases => "cases",
                };
                if *kind == Grid::Cases {
                    self.out.push_str("<mrow><mo>{</mo>");
                }
                let _ = write!(self.out, "<mtable class=\"{class}\">");
                for row in rows {
                    self.out.push_str("<mtr>");
                    for cell in row {
                        self.out.push_str("<mtd>");
                        self.write(cell, upright);
                        self.out.push_str("</mtd>");
                    }
                    self.out.push_str("</mtr>");
                }
                self.out.push_str("</mtable>");
                if *kind == Grid::Cases {
                    self.out.push_str("</mrow>");
                }
            }
            Notation::Placeholder(name) => self.tag("mtext", &format!("{{{{ {name} }}}}")),
            Notation::Value(value) => self.value(value),
        }
    }

    fn fence(&mut self, sign: &Sign, form: &str) {
        if !sign.plain.is_empty() {
            let _ = write!(
                self.out,
                "<mo form=\"{form}\" stretchy=\"true\" symmetric=\"true\">{}</mo>",
                escaped(sign.plain)
            );
        }
    }

    fn scripts(
        &mut self,
        base: &Notation,
        primes: u8,
        below: Option<&Notation>,
        above: Option<&Notation>,
        upright: bool,
    ) {
        let raised = primes > 0 || above.is_some();
        let name = match (below.is_some(), raised) {
            (true, true) => "msubsup",
            (true, false) => "msub",
            (false, true) => "msup",
            (false, false) => "mrow",
        };
        let _ = write!(self.out, "<{name}>");
        match base {
            Notation::Value(_) => {
                self.out.push_str("<mrow><mo stretchy=\"false\">(</mo>");
                self.write(base, upright);
                self.out.push_str("<mo stretchy=\"false\">)</mo></mrow>");
            }
            _ => self.one(base, upright),
        }
        if let Some(below) = below {
            self.one(below, upright);
        }
        // Browsers set a superscript onto the arm of such a letter.
        let arm = !upright && matches!(base, Notation::Letter('F' | 'P' | 'T' | 'V' | 'W' | 'Y'));
        if arm && raised {
            self.out.push_str("<mrow><mspace width=\"0.12em\"></mspace>");
        }
        if primes > 0 {
            let _ = write!(self.out, "<mrow><mo>{}</mo>", "′".repeat(usize::from(primes)));
            if let Some(above) = above {
                self.write(above, upright);
            }
            self.out.push_str("</mrow>");
        } else if let Some(above) = above {
            self.one(above, upright);
        }
        if arm && raised {
            self.out.push_str("</mrow>");
        }
        let _ = write!(self.out, "</{name}>");
    }

    fn sign(&mut self, sign: &Sign, upright: bool) {
        let tight = "<mo lspace=\"0\" rspace=\"0\" stretchy=\"false\">";
        match sign.class {
            Class::Space => {
                let _ = write!(
                    self.out,
                    "<mspace width=\"{}em\"></mspace>",
                    math::space_width(sign)
                );
            }
            Class::Function => self.tag("mi", sign.plain),
            Class::Open | Class::Close => {
                let _ = write!(self.out, "<mo stretchy=\"false\">{}</mo>", escaped(sign.plain));
            }
            Class::Ordinary if matches!(sign.plain, "/" | "|") => {
                let _ = write!(self.out, "{tight}{}</mo>", sign.plain);
            }
            // A degree sign, a per cent sign, three dots.
            Class::Ordinary if !sign.plain.chars().all(char::is_alphabetic) => self.tag("mi", sign.plain),
            Class::Ordinary if upright || is_capital_greek(sign.plain) => self.upright(sign.plain),
            Class::Ordinary => self.tag("mi", sign.plain),
            // Within a unit a point joins closely.
            Class::Binary if upright => {
                let _ = write!(self.out, "{tight}{}</mo>", escaped(sign.plain));
            }
            Class::Binary | Class::Relation | Class::Mark | Class::Large => self.tag("mo", sign.plain),
        }
    }

    fn value(&mut self, value: &Written) {
        let parts = math::ValueParts::of(value, self.style.mark);
        if parts.negative {
            self.tag("mo", "−");
        }
        self.tag("mn", &parts.digits);
        if let Some(exponent) = parts.exponent {
            self.out.push_str("<mo>×</mo><msup><mn>10</mn>");
            if exponent < 0 {
                self.out.push_str("<mrow><mo>−</mo>");
                self.tag("mn", &exponent.unsigned_abs().to_string());
                self.out.push_str("</mrow>");
            } else {
                self.tag("mn", &exponent.to_string());
            }
            self.out.push_str("</msup>");
        }
        if let Some(unit) = &parts.unit {
            if parts.spaced {
                self.out.push_str("<mspace width=\"0.17em\"></mspace>");
            }
            self.one(unit, false);
        }
    }
}
