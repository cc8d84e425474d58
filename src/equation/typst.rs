//! Notation as Typst mathematics, without dollar signs.
//!
//! Every sign is written by itself or escaped, every word as a string literal, every script and fraction as a call with its
//! arguments, so that nothing runs into its neighbour and nothing of an author is read as code.

use super::Style;
use super::math::{self, Class, Grid, Mark, Notation, Sign, Size};
use crate::quantity::Written;

pub(super) fn write(notation: &Notation, style: Style) -> String {
    let mut writer = Typst {
        out: String::new(),
        style,
    };
    writer.write(notation, false);
    writer.out
}

/// A text as a string literal of Typst, quotation marks included. Nothing in it is read as markup or code.
pub fn literal(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A sign as it stands in mathematics, unread.
pub(super) fn escaped(sign: &str) -> String {
    let mut out = String::new();
    for c in sign.chars() {
        if c.is_ascii_punctuation() {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

struct Typst {
    out: String,
    style: Style,
}

impl Typst {
    /// Adds a piece; two names side by side would be one, and blanks elsewhere would show beside words.
    fn add(&mut self, piece: &str) {
        let joins = |c: char| c.is_alphanumeric() || matches!(c, '.' | '_' | '-');
        if self.out.ends_with(joins) && piece.starts_with(joins) {
            self.out.push(' ');
        }
        self.out.push_str(piece);
    }

    fn call(&mut self, name: &str, arguments: &[&Notation], upright: bool) {
        self.add(name);
        self.out.push('(');
        for (i, argument) in arguments.iter().enumerate() {
            if i > 0 {
                self.out.push_str(", ");
            }
            self.write(argument, upright);
        }
        self.out.push(')');
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
                    self.add(&literal(&letters));
                    letters.clear();
                }
                _ => {}
            }
            if matches!(item, Notation::Value(_)) && Notation::value_needs_brackets(row, i) {
                self.add("\\(");
                self.write(item, upright);
                self.add("\\)");
            } else {
                self.write(item, upright);
            }
        }
        if !letters.is_empty() {
            self.add(&literal(&letters));
        }
    }

    fn write(&mut self, notation: &Notation, upright: bool) {
        match notation {
            Notation::Row(row) => self.row(row, upright),
            Notation::Letter(c) if upright => self.add(&literal(&c.to_string())),
            Notation::Letter(c) => self.add(&c.to_string()),
            Notation::Number(digits) => self.number(&math::digits(digits, self.style.mark)),
            Notation::Sign(sign) => self.sign(sign, upright),
            Notation::Upright(a) => self.write(a, true),
            Notation::Words(words) => self.add(&literal(&math::words(words))),
            Notation::Fraction(size, a, b) => {
                let around = match size {
                    Size::Usual => None,
                    Size::Text => Some("inline"),
                    Size::Display => Some("display"),
                };
                if let Some(around) = around {
                    self.add(around);
                    self.out.push('(');
                }
                self.call("frac", &[a, b], upright);
                if around.is_some() {
                    self.out.push(')');
                }
            }
            Notation::Root(None, a) => self.call("sqrt", &[a], upright),
            Notation::Root(Some(index), a) => self.call("root", &[index, a], upright),
            Notation::Over(mark, a) => {
                let name = match mark {
                    Mark::Dot => "dot",
                    Mark::TwoDots => "dot.double",
                    Mark::Bar if matches!(**a, Notation::Row(_)) => "overline",
                    Mark::Bar => "macron",
                    Mark::Hat => "hat",
                    Mark::Tilde => "tilde",
                    Mark::Arrow => "arrow",
                };
                self.call(name, &[a], upright);
            }
            Notation::Scripts {
                base,
                primes,
                below,
                above,
            } => {
                self.add("attach");
                self.out.push('(');
                let bracketed = matches!(**base, Notation::Value(_));
                if bracketed {
                    self.add("\\(");
                }
                self.write(base, upright);
                if bracketed {
                    self.add("\\)");
                }
                if let Some(below) = below {
                    self.out.push_str(", b: ");
                    self.write(below, upright);
                }
                if *primes > 0 || above.is_some() {
                    self.out.push_str(", t: ");
                    self.out.push_str(&"′".repeat(usize::from(*primes)));
                    if let Some(above) = above {
                        self.write(above, upright);
                    }
                }
                self.out.push(')');
            }
            Notation::Fenced(open, a, close) => {
                self.add("lr");
                self.out.push('(');
                self.add(&escaped(open.plain));
                self.write(a, upright);
                self.add(&escaped(close.plain));
                self.out.push(')');
            }
            Notation::Grid(kind, rows) => {
                let (between, cases) = match kind {
                    Grid::Aligned => (" \\ ", false),
                    Grid::Cases => (", ", true),
                };
                if cases {
                    self.add("cases");
                    self.out.push('(');
                }
                for (i, row) in rows.iter().enumerate() {
                    if i > 0 {
                        self.out.push_str(between);
                    }
                    for (n, cell) in row.iter().enumerate() {
                        if n > 0 {
                            self.out.push_str(if cases { " quad & " } else { " & " });
                        }
                        self.write(cell, upright);
                    }
                }
                if cases {
                    self.out.push(')');
                }
            }
            Notation::Placeholder(name) => self.add(&literal(&format!("{{{{ {name} }}}}"))),
            Notation::Value(value) => self.value(value),
        }
    }

    /// A comma in a number is none between arguments.
    fn number(&mut self, digits: &str) {
        if digits.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
            self.add(digits);
        } else {
            self.add(&literal(digits));
        }
    }

    fn sign(&mut self, sign: &Sign, upright: bool) {
        match sign.class {
            Class::Space => self.add(match sign.latex {
                "\\quad" => "quad",
                "\\qquad" => "wide",
                "\\," => "thin",
                "\\:" => "med",
                "\\;" => "thick",
                "\\!" => "#h(-0.17em)",
                _ => "space",
            }),
            Class::Function => self.add(&format!("op({})", literal(sign.plain))),
            Class::Ordinary if upright && sign.plain.chars().all(char::is_alphabetic) => {
                self.add(&literal(sign.plain));
            }
            Class::Binary if upright => self.add(&format!("class(\"normal\", {})", escaped(sign.plain))),
            Class::Ordinary if matches!(sign.plain, "/" | "|") => {
                self.add(&format!("class(\"normal\", {})", escaped(sign.plain)));
            }
            _ => self.add(&escaped(sign.plain)),
        }
    }

    fn value(&mut self, value: &Written) {
        let parts = math::ValueParts::of(value, self.style.mark);
        if parts.negative {
            self.add("−");
        }
        self.number(&parts.digits);
        if let Some(exponent) = parts.exponent {
            let minus = if exponent < 0 { "−" } else { "" };
            self.add(&format!("×attach(10, t: {minus}{})", exponent.unsigned_abs()));
        }
        if let Some(unit) = &parts.unit {
            if parts.spaced {
                self.add("thin");
            }
            self.write(unit, false);
        }
    }
}
