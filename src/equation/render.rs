//! The tree as LaTeX, as plain text, and as the text of a formula.
//!
//! Each node is set with as few brackets as keep its meaning. Every side of an operator comes back with
//! how tightly it holds together and how it begins; the operator above decides on brackets from that.

use super::typography::{self, superscripts};
use super::{Expr, Function, Relation, Style};
use crate::quantity::{DecimalMark, Written};

impl Relation {
    /// The sign in LaTeX.
    pub fn latex(self) -> &'static str {
        match self {
            Self::Equal => "=",
            Self::NotEqual => "\\ne",
            Self::Less => "<",
            Self::AtMost => "\\le",
            Self::Greater => ">",
            Self::AtLeast => "\\ge",
            Self::About => "\\approx",
        }
    }

    /// The sign in plain text.
    pub fn plain(self) -> &'static str {
        match self {
            Self::Equal => "=",
            Self::NotEqual => "≠",
            Self::Less => "<",
            Self::AtMost => "≤",
            Self::Greater => ">",
            Self::AtLeast => "≥",
            Self::About => "≈",
        }
    }

    /// The sign as a formula is typed.
    fn typed(self) -> &'static str {
        match self {
            Self::NotEqual => "!=",
            Self::AtMost => "<=",
            Self::AtLeast => ">=",
            other => other.plain(),
        }
    }
}

/// How tightly an expression holds together as it is printed, loosest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Hold {
    Either,
    Both,
    Comparison,
    Sum,
    Product,
    /// One thing, but not one that can bear an exponent.
    Factor,
    Atom,
}

/// A piece as set.
struct Piece {
    text: String,
    hold: Hold,
    /// Taller than a line, so that its brackets have to grow.
    tall: bool,
    /// Begins with a digit, so that a number before it needs a multiplication sign.
    digit: bool,
    /// Begins with a sign.
    minus: bool,
    /// Has to stand in brackets as one factor of several: a number with its unit, `ε/D`.
    loose: bool,
}

impl Piece {
    fn new(text: String, hold: Hold) -> Self {
        Self {
            digit: text.starts_with(|c: char| c.is_ascii_digit()),
            minus: text.starts_with(['-', '−']),
            text,
            hold,
            tall: false,
            loose: false,
        }
    }
}

/// What is written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Latex,
    Plain,
    Formula,
}

#[derive(Clone, Copy)]
struct Setter {
    kind: Kind,
    mark: DecimalMark,
}

pub(super) fn latex(expr: &Expr, style: Style) -> String {
    let setter = Setter {
        kind: Kind::Latex,
        mark: style.mark,
    };
    setter.set(expr).text
}

pub(super) fn plain(expr: &Expr, style: Style) -> String {
    let setter = Setter {
        kind: Kind::Plain,
        mark: style.mark,
    };
    setter.set(expr).text
}

pub(super) fn formula(expr: &Expr) -> String {
    let setter = Setter {
        kind: Kind::Formula,
        mark: DecimalMark::Point,
    };
    setter.set(expr).text
}

impl Setter {
    fn bracketed(self, piece: Piece) -> Piece {
        let text = if self.kind == Kind::Latex && piece.tall {
            format!("\\left({}\\right)", piece.text)
        } else {
            format!("({})", piece.text)
        };
        Piece {
            tall: piece.tall,
            ..Piece::new(text, Hold::Atom)
        }
    }

    /// The piece, in brackets unless it holds together at least as tightly as `least`.
    fn at_least(self, least: Hold, piece: Piece) -> Piece {
        if piece.hold < least {
            self.bracketed(piece)
        } else {
            piece
        }
    }

    fn set(self, expr: &Expr) -> Piece {
        match expr {
            Expr::Number(written) => self.number(written),
            Expr::Pi => {
                let text = match self.kind {
                    Kind::Latex => "\\pi",
                    Kind::Plain => "π",
                    Kind::Formula => "pi",
                };
                Piece::new(text.to_owned(), Hold::Atom)
            }
            Expr::Symbol(name) => {
                let text = match self.kind {
                    Kind::Latex => typography::latex(name),
                    Kind::Plain => typography::plain(name),
                    Kind::Formula => name.clone(),
                };
                if self.kind != Kind::Formula && typography::is_ratio(name) {
                    Piece {
                        loose: true,
                        ..Piece::new(text, Hold::Product)
                    }
                } else {
                    Piece::new(text, Hold::Atom)
                }
            }
            Expr::Negative(a) => {
                let a = self.set(a);
                let a = if a.minus {
                    self.bracketed(a)
                } else {
                    self.at_least(Hold::Product, a)
                };
                Piece {
                    tall: a.tall,
                    ..Piece::new(format!("{}{}", self.minus(), a.text), Hold::Sum)
                }
            }
            Expr::Add(a, b) => self.sum(a, "+", b),
            Expr::Subtract(a, b) => self.sum(a, self.minus(), b),
            Expr::Multiply(..) => self.product(expr),
            Expr::Divide(a, b) => self.fraction(a, b),
            Expr::Power(a, b) => self.power(a, b),
            Expr::Call(function, arguments) => self.call(*function, arguments),
            Expr::Compare(a, relation, b) => {
                let sign = match self.kind {
                    Kind::Latex => relation.latex(),
                    Kind::Plain => relation.plain(),
                    Kind::Formula => relation.typed(),
                };
                self.pair(a, Hold::Sum, sign, b, Hold::Sum, Hold::Comparison)
            }
            Expr::And(a, b) => self.pair(a, Hold::Both, self.word("and"), b, Hold::Comparison, Hold::Both),
            Expr::Or(a, b) => self.pair(a, Hold::Either, self.word("or"), b, Hold::Both, Hold::Either),
            Expr::Text(words) => {
                let text = match self.kind {
                    Kind::Latex => format!("\\text{{{}}}", typography::escaped(words)),
                    _ => words.clone(),
                };
                Piece::new(text, Hold::Atom)
            }
            Expr::Notation(notation) => {
                let style = Style { mark: self.mark };
                let text = match self.kind {
                    Kind::Latex => notation.latex(style),
                    _ => notation.plain(style),
                };
                let hold = if notation.is_atom() {
                    Hold::Atom
                } else {
                    Hold::Either
                };
                Piece {
                    tall: notation.is_tall(),
                    ..Piece::new(text, hold)
                }
            }
        }
    }

    fn minus(self) -> &'static str {
        if self.kind == Kind::Plain { "−" } else { "-" }
    }

    fn word(self, word: &'static str) -> &'static str {
        match (self.kind, word) {
            (Kind::Latex, "and") => "\\;\\text{and}\\;",
            (Kind::Latex, _) => "\\;\\text{or}\\;",
            _ => word,
        }
    }

    fn pair(self, a: &Expr, least_a: Hold, sign: &str, b: &Expr, least_b: Hold, hold: Hold) -> Piece {
        let a = self.at_least(least_a, self.set(a));
        let b = self.at_least(least_b, self.set(b));
        Piece {
            tall: a.tall || b.tall,
            minus: a.minus,
            digit: a.digit,
            ..Piece::new(format!("{} {sign} {}", a.text, b.text), hold)
        }
    }

    fn sum(self, a: &Expr, sign: &str, b: &Expr) -> Piece {
        let right = self.set(b);
        // `a - (b + c)` needs its brackets, `a + (b + c)` does not; two signs never meet.
        let least = if sign == "+" { Hold::Sum } else { Hold::Product };
        let right = if right.minus {
            self.bracketed(right)
        } else {
            self.at_least(least, right)
        };
        let left = self.at_least(Hold::Sum, self.set(a));
        Piece {
            tall: left.tall || right.tall,
            ..Piece::new(format!("{} {sign} {}", left.text, right.text), Hold::Sum)
        }
    }

    fn product(self, expr: &Expr) -> Piece {
        let mut factors = Vec::new();
        flatten(expr, &mut factors);
        let last = factors.len() - 1;
        let mut text = String::new();
        let mut tall = false;
        for (i, factor) in factors.into_iter().enumerate() {
            let piece = self.set(factor);
            // On one line a fraction followed by a factor would seem to have it in its denominator.
            let early_fraction = self.kind != Kind::Latex
                && matches!(factor, Expr::Divide(..))
                && (i < last || self.kind == Kind::Formula);
            let piece =
                if piece.loose || early_fraction || piece.hold < Hold::Product || (piece.minus && i > 0) {
                    self.bracketed(piece)
                } else {
                    piece
                };
            if i > 0 {
                text.push_str(match (self.kind, piece.digit) {
                    (Kind::Latex, true) => " \\times ",
                    (Kind::Latex, false) => "\\,",
                    (Kind::Plain, true) => " × ",
                    (Kind::Plain, false) => " ",
                    (Kind::Formula, _) => " * ",
                });
            }
            text.push_str(&piece.text);
            tall |= piece.tall;
        }
        Piece {
            tall,
            ..Piece::new(text, Hold::Product)
        }
    }

    fn fraction(self, a: &Expr, b: &Expr) -> Piece {
        let (over, under) = (self.set(a), self.set(b));
        if self.kind == Kind::Latex {
            return Piece {
                tall: true,
                digit: over.digit,
                ..Piece::new(format!("\\frac{{{}}}{{{}}}", over.text, under.text), Hold::Factor)
            };
        }
        let nested = matches!(a, Expr::Divide(..));
        let ends_in_fraction = self.kind == Kind::Plain
            && matches!(a, Expr::Multiply(_, last) if matches!(**last, Expr::Divide(..)));
        let over = if over.loose || over.minus || nested || ends_in_fraction {
            self.bracketed(over)
        } else {
            self.at_least(Hold::Product, over)
        };
        let under = self.at_least(Hold::Factor, under);
        Piece {
            digit: over.digit,
            ..Piece::new(format!("{}/{}", over.text, under.text), Hold::Product)
        }
    }

    fn power(self, a: &Expr, b: &Expr) -> Piece {
        let base = self.at_least(Hold::Atom, self.set(a));
        let tall = base.tall;
        let text = match self.kind {
            Kind::Latex => format!("{}^{{{}}}", base.text, self.exponent(b)),
            _ => {
                let exponent = self.set(b);
                match superscripts(&exponent.text) {
                    Some(raised) if self.kind == Kind::Plain => base.text + &raised,
                    _ => format!("{}^{}", base.text, self.at_least(Hold::Atom, exponent).text),
                }
            }
        };
        Piece {
            tall,
            ..Piece::new(text, Hold::Factor)
        }
    }

    /// An exponent in LaTeX: a fraction of two simple things is written with a stroke.
    fn exponent(self, expr: &Expr) -> String {
        if let Expr::Divide(a, b) = expr {
            let (a, b) = (self.set(a), self.set(b));
            if a.hold == Hold::Atom && b.hold == Hold::Atom {
                return format!("{}/{}", a.text, b.text);
            }
        }
        self.set(expr).text
    }

    fn call(self, function: Function, arguments: &[Expr]) -> Piece {
        let pieces: Vec<Piece> = arguments.iter().map(|a| self.set(a)).collect();
        let tall = pieces.iter().any(|p| p.tall);
        // Beside decimal commas, arguments are kept apart by semicolons.
        let separator = if self.mark == DecimalMark::Comma {
            "; "
        } else {
            ", "
        };
        let simple =
            matches!(pieces.as_slice(), [one] if one.hold == Hold::Atom && !one.text.starts_with('('));
        let inside = pieces
            .iter()
            .map(|p| p.text.as_str())
            .collect::<Vec<_>>()
            .join(separator);
        let name = match function {
            Function::Sqrt => "sqrt",
            Function::Ln => "ln",
            Function::Log10 => "log10",
            Function::Exp => "exp",
            Function::Abs => "abs",
            Function::Min => "min",
            Function::Max => "max",
        };
        let (text, hold) = match (self.kind, function) {
            (Kind::Latex, Function::Sqrt) => (format!("\\sqrt{{{inside}}}"), Hold::Factor),
            (Kind::Latex, Function::Abs) => (format!("\\left|{inside}\\right|"), Hold::Atom),
            (Kind::Latex, _) => {
                let command = if function == Function::Log10 {
                    "\\log_{10}".to_owned()
                } else {
                    format!("\\{name}")
                };
                let text = if tall {
                    format!("{command}\\left({inside}\\right)")
                } else {
                    format!("{command}({inside})")
                };
                (text, Hold::Factor)
            }
            (Kind::Plain, Function::Sqrt) if simple => (format!("√{inside}"), Hold::Factor),
            (Kind::Plain, Function::Sqrt) => (format!("√({inside})"), Hold::Factor),
            (Kind::Plain, Function::Abs) => (format!("|{inside}|"), Hold::Atom),
            (Kind::Plain, _) => (format!("{name}({inside})"), Hold::Factor),
            (Kind::Formula, _) => (format!("{name}({inside})"), Hold::Atom),
        };
        Piece {
            tall,
            ..Piece::new(text, hold)
        }
    }

    fn number(self, written: &Written) -> Piece {
        let united = !written.unit.symbol.is_empty();
        let text = match self.kind {
            Kind::Latex => written.latex(self.mark),
            Kind::Plain => written.plain(self.mark),
            // The unit in brackets reads back whatever its form.
            Kind::Formula => {
                let (number, whole) = (written.shown.ascii(), written.ascii());
                match whole.strip_prefix(&number).map(str::trim) {
                    Some(unit) if !unit.is_empty() => format!("{number} [{unit}]"),
                    _ => number,
                }
            }
        };
        let powered = written.shown.exponent.is_some() && self.kind != Kind::Formula;
        let negative = text.starts_with(['-', '−']);
        let hold = if negative {
            Hold::Sum
        } else if united || powered {
            Hold::Product
        } else {
            Hold::Atom
        };
        Piece {
            loose: united || (powered && self.kind == Kind::Plain),
            ..Piece::new(text, hold)
        }
    }
}

/// The factors of a product, from left to right.
fn flatten<'a>(expr: &'a Expr, factors: &mut Vec<&'a Expr>) {
    if let Expr::Multiply(a, b) = expr {
        flatten(a, factors);
        flatten(b, factors);
    } else {
        factors.push(expr);
    }
}
