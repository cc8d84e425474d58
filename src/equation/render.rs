//! The tree as LaTeX, as plain text, as the text of a formula, and as [`Notation`], from which MathML and Typst are
//! written.
//!
//! Each node is set with as few brackets as keep its meaning. Every side of an operator comes back with
//! how tightly it holds together and how it begins; the operator above decides on brackets from that.

use super::math::{self, Notation, Size};
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
    /// The same as notation, where that is asked for; then there is no text.
    notation: Vec<Notation>,
    hold: Hold,
    /// Taller than a line, so that its brackets have to grow.
    tall: bool,
    /// Begins with a digit, so that a number before it needs a multiplication sign.
    digit: bool,
    /// Begins with a sign.
    minus: bool,
    /// Has to stand in brackets as a factor behind others: a number with a power of ten.
    leads: bool,
    /// Has to stand in brackets as one factor of several: a number with its unit, `ε/D`.
    loose: bool,
}

impl Piece {
    fn new(text: String, hold: Hold) -> Self {
        Self {
            digit: text.starts_with(|c: char| c.is_ascii_digit()),
            minus: text.starts_with(['-', '−']),
            text,
            notation: Vec::new(),
            hold,
            tall: false,
            leads: false,
            loose: false,
        }
    }

    /// A piece of notation, which begins with neither digit nor sign.
    fn of(notation: Vec<Notation>, hold: Hold) -> Self {
        Self {
            notation,
            ..Self::new(String::new(), hold)
        }
    }
}

/// What is written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Latex,
    Plain,
    Formula,
    Notation,
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

/// The tree as it is set, brackets and all.
pub(super) fn notation(expr: &Expr, style: Style) -> Notation {
    let setter = Setter {
        kind: Kind::Notation,
        mark: style.mark,
    };
    Notation::Row(setter.set(expr).notation)
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
        if self.kind == Kind::Notation {
            let notation = if piece.tall {
                vec![math::fenced("(", Notation::Row(piece.notation), ")")]
            } else {
                joined([vec![math::known("(")], piece.notation, vec![math::known(")")]])
            };
            return Piece {
                tall: piece.tall,
                ..Piece::of(notation, Hold::Atom)
            };
        }
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
            Expr::Pi if self.kind == Kind::Notation => Piece::of(vec![math::known("\\pi")], Hold::Atom),
            Expr::Pi => {
                let text = match self.kind {
                    Kind::Latex => "\\pi",
                    Kind::Formula => "pi",
                    Kind::Plain | Kind::Notation => "π",
                };
                Piece::new(text.to_owned(), Hold::Atom)
            }
            Expr::Symbol(name) => {
                let piece = match self.kind {
                    Kind::Latex => Piece::new(typography::latex(name), Hold::Atom),
                    Kind::Plain => Piece::new(typography::plain(name), Hold::Atom),
                    Kind::Formula => Piece::new(name.clone(), Hold::Atom),
                    Kind::Notation => Piece::of(typography::notation(name), Hold::Atom),
                };
                if self.kind != Kind::Formula && typography::is_ratio(name) {
                    Piece {
                        loose: true,
                        hold: Hold::Product,
                        ..piece
                    }
                } else {
                    piece
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
                    minus: true,
                    notation: self.noted([vec![math::known("-")], a.notation]),
                    ..Piece::new(format!("{}{}", self.minus(), a.text), Hold::Sum)
                }
            }
            Expr::Add(a, b) => self.sum(a, "+", b),
            Expr::Subtract(a, b) => self.sum(a, self.minus(), b),
            Expr::Multiply(a, b) if self.kind == Kind::Formula => self.typed(a, " * ", b),
            Expr::Divide(a, b) if self.kind == Kind::Formula => self.typed(a, " / ", b),
            Expr::Multiply(..) | Expr::Divide(..) => self.chain(expr),
            Expr::Power(a, b) => self.power(a, b),
            Expr::Call(function, arguments) => self.call(*function, arguments),
            Expr::Compare(a, relation, b) => {
                let sign = match self.kind {
                    Kind::Latex | Kind::Notation => relation.latex(),
                    Kind::Plain => relation.plain(),
                    Kind::Formula => relation.typed(),
                };
                self.pair(a, Hold::Sum, sign, b, Hold::Sum, Hold::Comparison)
            }
            Expr::And(a, b) => self.pair(a, Hold::Both, self.word("and"), b, Hold::Comparison, Hold::Both),
            Expr::Or(a, b) => self.pair(a, Hold::Either, self.word("or"), b, Hold::Both, Hold::Either),
            Expr::Text(words) if self.kind == Kind::Notation => {
                Piece::of(vec![Notation::Words(words.clone())], Hold::Atom)
            }
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
                    Kind::Notation => String::new(),
                    _ => notation.plain(style),
                };
                let hold = if notation.is_atom() {
                    Hold::Atom
                } else {
                    Hold::Either
                };
                Piece {
                    tall: notation.is_tall(),
                    notation: self.noted([vec![notation.clone()]]),
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
            notation: self.noted([a.notation, sign_between(sign), b.notation]),
            ..Piece::new(format!("{} {sign} {}", a.text, b.text), hold)
        }
    }

    fn sum(self, a: &Expr, sign: &str, b: &Expr) -> Piece {
        let right = self.set(b);
        // `a - (b + c)` needs its brackets, `a + (b + c)` does not; two signs never meet.
        let printed = self.kind != Kind::Formula;
        let least = if sign == "+" && printed {
            Hold::Sum
        } else {
            Hold::Product
        };
        let right = if right.minus {
            self.bracketed(right)
        } else {
            self.at_least(least, right)
        };
        let left = self.at_least(Hold::Sum, self.set(a));
        Piece {
            tall: left.tall || right.tall,
            digit: left.digit,
            minus: left.minus,
            notation: self.noted([left.notation, sign_between(sign), right.notation]),
            ..Piece::new(format!("{} {sign} {}", left.text, right.text), Hold::Sum)
        }
    }

    /// Products and fractions as a formula is typed: every bracket that keeps the tree as it is.
    fn typed(self, a: &Expr, sign: &str, b: &Expr) -> Piece {
        let a = self.set(a);
        let a = if a.minus || a.loose {
            self.bracketed(a)
        } else {
            self.at_least(Hold::Product, a)
        };
        let b = self.at_least(Hold::Factor, self.set(b));
        Piece::new(format!("{}{sign}{}", a.text, b.text), Hold::Product)
    }

    /// Products and fractions as they are printed.
    fn chain(self, expr: &Expr) -> Piece {
        let mut links = Vec::new();
        flatten(expr, &mut links);
        let last = links.len() - 1;
        let pieces = links.into_iter().enumerate().map(|(i, link)| match link {
            Link::Factor(factor) => self.set(factor),
            Link::Fraction(over, under) => {
                let piece = self.fraction(&over, &under);
                // On one line a fraction followed by a factor would seem to have it in its denominator.
                if self.kind == Kind::Plain && i < last {
                    self.bracketed(piece)
                } else {
                    piece
                }
            }
        });
        self.product(pieces.collect())
    }

    fn product(self, mut pieces: Vec<Piece>) -> Piece {
        if pieces.len() == 1
            && let Some(one) = pieces.pop()
        {
            return one;
        }
        let mut text = String::new();
        let mut notation = Vec::new();
        let mut tall = false;
        let (mut digit, mut minus) = (false, false);
        for (i, piece) in pieces.into_iter().enumerate() {
            let piece =
                if piece.loose || piece.hold < Hold::Product || ((piece.minus || piece.leads) && i > 0) {
                    self.bracketed(piece)
                } else {
                    piece
                };
            if i == 0 {
                (digit, minus) = (piece.digit, piece.minus);
            } else if self.kind == Kind::Notation {
                notation.push(math::known(if piece.digit { "\\times" } else { "\\," }));
            } else {
                text.push_str(match (self.kind, piece.digit) {
                    (Kind::Latex, true) => " \\times ",
                    (Kind::Latex, false) => "\\,",
                    (_, true) => " × ",
                    (_, false) => " ",
                });
            }
            text.push_str(&piece.text);
            notation.extend(piece.notation);
            tall |= piece.tall;
        }
        Piece {
            tall,
            digit,
            minus,
            notation,
            ..Piece::new(text, Hold::Product)
        }
    }

    fn fraction(self, over: &[&Expr], under: &[&Expr]) -> Piece {
        let over = self.product(over.iter().map(|e| self.set(e)).collect());
        let under = self.product(under.iter().map(|e| self.set(e)).collect());
        if self.kind == Kind::Notation {
            let fraction = Notation::Fraction(
                Size::Usual,
                Box::new(Notation::Row(over.notation)),
                Box::new(Notation::Row(under.notation)),
            );
            return Piece {
                tall: true,
                digit: over.digit,
                ..Piece::of(vec![fraction], Hold::Factor)
            };
        }
        if self.kind == Kind::Latex {
            return Piece {
                tall: true,
                digit: over.digit,
                ..Piece::new(format!("\\frac{{{}}}{{{}}}", over.text, under.text), Hold::Factor)
            };
        }
        let over = if over.loose || over.minus {
            self.bracketed(over)
        } else {
            self.at_least(Hold::Product, over)
        };
        let under = self.at_least(Hold::Factor, under);
        Piece::new(format!("{}/{}", over.text, under.text), Hold::Product)
    }

    fn power(self, a: &Expr, b: &Expr) -> Piece {
        let base = self.at_least(Hold::Atom, self.set(a));
        let tall = base.tall;
        if self.kind == Kind::Notation {
            return Piece {
                tall,
                digit: base.digit,
                minus: base.minus,
                ..Piece::of(math::raised(base.notation, self.exponent_noted(b)), Hold::Factor)
            };
        }
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

    fn exponent_noted(self, expr: &Expr) -> Vec<Notation> {
        if let Expr::Divide(a, b) = expr {
            let (a, b) = (self.set(a), self.set(b));
            if a.hold == Hold::Atom && b.hold == Hold::Atom {
                return joined([a.notation, vec![math::known("/")], b.notation]);
            }
        }
        self.set(expr).notation
    }

    /// The parts as one, where notation is asked for.
    fn noted<const N: usize>(self, parts: [Vec<Notation>; N]) -> Vec<Notation> {
        if self.kind == Kind::Notation {
            joined(parts)
        } else {
            Vec::new()
        }
    }

    fn call_noted(self, function: Function, pieces: Vec<Piece>) -> Piece {
        let tall = pieces.iter().any(|p| p.tall);
        let separator = if self.mark == DecimalMark::Comma { ";" } else { "," };
        let mut inside = Vec::new();
        for (i, piece) in pieces.into_iter().enumerate() {
            if i > 0 {
                inside.push(math::known(separator));
            }
            inside.extend(piece.notation);
        }
        let name = match function {
            Function::Sqrt => {
                let root = Notation::Root(None, Box::new(Notation::Row(inside)));
                return Piece {
                    tall,
                    ..Piece::of(vec![root], Hold::Factor)
                };
            }
            Function::Abs => {
                let bars = math::fenced("|", Notation::Row(inside), "|");
                return Piece {
                    tall,
                    ..Piece::of(vec![bars], Hold::Atom)
                };
            }
            Function::Ln => math::known("\\ln"),
            Function::Log10 => math::lowered(math::known("\\log"), Notation::Number("10".to_owned())),
            Function::Exp => math::known("\\exp"),
            Function::Min => math::known("\\min"),
            Function::Max => math::known("\\max"),
        };
        let inside = Piece {
            tall,
            ..Piece::of(inside, Hold::Either)
        };
        let notation = joined([vec![name], self.bracketed(inside).notation]);
        Piece {
            tall,
            ..Piece::of(notation, Hold::Factor)
        }
    }

    fn call(self, function: Function, arguments: &[Expr]) -> Piece {
        let pieces: Vec<Piece> = arguments.iter().map(|a| self.set(a)).collect();
        if self.kind == Kind::Notation {
            return self.call_noted(function, pieces);
        }
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
            (Kind::Plain | Kind::Notation, _) => (format!("{name}({inside})"), Hold::Factor),
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
            Kind::Plain | Kind::Notation => written.plain(self.mark),
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
        let piece = Piece {
            leads: powered,
            loose: united || (powered && self.kind == Kind::Plain),
            // In a row of its own: whether it needs brackets is known here.
            notation: self.noted([vec![Notation::Row(vec![Notation::Value(written.clone())])]]),
            ..Piece::new(text, hold)
        };
        match self.kind {
            Kind::Notation => Piece {
                text: String::new(),
                ..piece
            },
            _ => piece,
        }
    }
}

fn joined<const N: usize>(parts: [Vec<Notation>; N]) -> Vec<Notation> {
    parts.into_iter().flatten().collect()
}

/// A sign that stands between two sides, or the word that joins two conditions.
fn sign_between(sign: &str) -> Vec<Notation> {
    match sign {
        "and" | "or" => vec![
            math::known("\\;"),
            Notation::Words(sign.to_owned()),
            math::known("\\;"),
        ],
        sign => vec![math::known(sign)],
    }
}

/// A link of a chain of products and fractions.
enum Link<'a> {
    Factor(&'a Expr),
    /// What stands over and under the stroke, as factors.
    Fraction(Vec<&'a Expr>, Vec<&'a Expr>),
}

/// A chain of products and fractions as it is taught: `f L/D V²/(2 g)`, however its tree groups it, is a
/// fraction times a fraction; `a/b/c` is `a` over `b c`.
fn flatten<'a>(expr: &'a Expr, links: &mut Vec<Link<'a>>) {
    match expr {
        Expr::Multiply(a, b) => {
            flatten(a, links);
            flatten(b, links);
        }
        Expr::Divide(a, b) => {
            let mut before = Vec::new();
            flatten(a, &mut before);
            let mut under = Vec::new();
            factors(b, &mut under);
            if let Some(Link::Fraction(_, there)) = before.last_mut() {
                there.extend(under);
                links.extend(before);
                return;
            }
            let fractions = before
                .iter()
                .rposition(|link| matches!(link, Link::Fraction(..)))
                .map_or(0, |i| i + 1);
            let over = before
                .split_off(fractions)
                .into_iter()
                .filter_map(|link| match link {
                    Link::Factor(factor) => Some(factor),
                    Link::Fraction(..) => None,
                })
                .collect();
            links.extend(before);
            links.push(Link::Fraction(over, under));
        }
        _ => links.push(Link::Factor(expr)),
    }
}

/// The factors of a product, from left to right.
fn factors<'a>(expr: &'a Expr, into: &mut Vec<&'a Expr>) {
    if let Expr::Multiply(a, b) = expr {
        factors(a, into);
        factors(b, into);
    } else {
        into.push(expr);
    }
}

#[cfg(test)]
mod tests {
    use crate::equation::{Bindings, Bound, Expr, Line, Relation, Style};
    use crate::quantity::{DecimalMark, Unit};

    const POINT: Style = Style {
        mark: DecimalMark::Point,
    };
    const COMMA: Style = Style {
        mark: DecimalMark::Comma,
    };

    fn values() -> Bindings {
        let mut of = Bindings::default();
        for (name, value, unit, figures) in [
            ("f", 0.0216, "", 3),
            ("L", 60.0, "m", 3),
            ("D", 0.04, "mm", 2),
            ("V", 1.671, "m/s", 3),
            ("g", 9.81, "m/s^2", 3),
            ("Q", 2.1e-3, "L/s", 3),
            ("Re", 66_543.0, "", 3),
            ("z_1", 0.0, "m", 1),
            ("z_2", -3.0, "m", 2),
        ] {
            let unit = if unit.is_empty() {
                Unit::none()
            } else {
                Unit::parse(unit).unwrap()
            };
            of.set(name, Bound::new(value, &unit, figures));
        }
        of
    }

    #[test]
    fn formulas_are_set_as_they_are_taught() {
        for (formula, latex, plain) in [
            (
                "f * L / D * V^2 / (2 * g)",
                r"\frac{f\,L}{D}\,\frac{V^{2}}{2\,g}",
                "(f L/D) V²/(2 g)",
            ),
            (
                "f * (L / D) * (V^2 / (2 * g))",
                r"f\,\frac{L}{D}\,\frac{V^{2}}{2\,g}",
                "f (L/D) V²/(2 g)",
            ),
            (
                "p_1 / (rho * g) + alpha_1 * V_1^2 / (2 * g) + z_1 + h_P - h_f_riser",
                r"\frac{p_{1}}{\rho\,g} + \frac{\alpha_{1}\,V_{1}^{2}}{2\,g} + z_{1} + h_{P} - h_{f,\mathrm{riser}}",
                "p₁/(ρ g) + α₁ V₁²/(2 g) + z₁ + h_P − h_f_riser",
            ),
            (
                "-2 * log10(rr / 3.7 + 2.51 / (Re * sqrt(f)))",
                r"-2\,\log_{10}\left(\frac{\varepsilon/D}{3.7} + \frac{2.51}{\mathrm{Re}\,\sqrt{f}}\right)",
                "−2 log10((ε/D)/3.7 + 2.51/(Re √f))",
            ),
            (
                "Re * sqrt(f) * rr >= 200",
                r"\mathrm{Re}\,\sqrt{f}\,(\varepsilon/D) \ge 200",
                "Re √f (ε/D) ≥ 200",
            ),
            ("4 * Q / (pi * D^2)", r"\frac{4\,Q}{\pi\,D^{2}}", "4 Q/(π D²)"),
            ("pi / 4 * D^2", r"\frac{\pi}{4}\,D^{2}", "(π/4) D²"),
            ("a / b / c", r"\frac{a}{b\,c}", "a/(b c)"),
            ("a / (b / c)", r"\frac{a}{\frac{b}{c}}", "a/(b/c)"),
            ("2 * 9.81 * h", r"2 \times 9.81\,h", "2 × 9.81 h"),
            ("V * 2", r"V \times 2", "V × 2"),
            ("a - (b - c)", "a - (b - c)", "a − (b − c)"),
            ("a + (b - c)", "a + b - c", "a + b − c"),
            ("a * (b + c)", r"a\,(b + c)", "a (b + c)"),
            ("(a / b)^2", r"\left(\frac{a}{b}\right)^{2}", "(a/b)²"),
            ("(-a)^2", "(-a)^{2}", "(−a)²"),
            ("-a^2", "-a^{2}", "−a²"),
            ("a * -b", r"a\,(-b)", "a (−b)"),
            ("a - -b", "a - (-b)", "a − (−b)"),
            ("(a^b)^c", "(a^{b})^{c}", "(a^b)^c"),
            ("a^b^c", "a^{b^{c}}", "a^(b^c)"),
            (
                "a^(1/3) * b^-1 * c^0.38",
                r"a^{1/3}\,b^{-1}\,c^{0.38}",
                "a^(1/3) b⁻¹ c^0.38",
            ),
            ("sqrt(a / b)", r"\sqrt{\frac{a}{b}}", "√(a/b)"),
            (
                "ln(a)^2 + abs(-a)",
                r"(\ln(a))^{2} + \left|-a\right|",
                "(ln(a))² + abs(−a)",
            ),
            (
                "rr^2 * 3 m",
                r"(\varepsilon/D)^{2}\,(3\,\mathrm{m})",
                "(ε/D)² (3 m)",
            ),
            (
                "(3 m)^2 + 2 m",
                r"(3\,\mathrm{m})^{2} + 2\,\mathrm{m}",
                "(3 m)² + 2 m",
            ),
            (
                "a < b and (b < c or c < a)",
                r"a < b \;\text{and}\; (b < c \;\text{or}\; c < a)",
                "a < b and (b < c or c < a)",
            ),
            ("max(a, 0.5)", r"\max(a, 0.5)", "max(a, 0.5)"),
        ] {
            let expr = Expr::parse(formula).unwrap();
            assert_eq!(expr.latex(POINT), latex, "{formula}");
            assert_eq!(expr.plain(POINT), plain, "{formula}");
        }
        assert_eq!(
            Expr::parse("max(a, 0.5)").unwrap().latex(COMMA),
            r"\max(a; 0{,}5)"
        );
    }

    #[test]
    fn numbers_are_kept_apart() {
        for (formula, latex, plain) in [
            (
                "f * (L / D) * (V^2 / (2 * g))",
                r"0.0216 \times \frac{60.0\,\mathrm{m}}{40\,\mathrm{mm}}\,\frac{(1.67\,\mathrm{m/s})^{2}}{2\,(9.81\,\mathrm{m/s^{2}})}",
                "0.0216 ((60.0 m)/(40 mm)) (1.67 m/s)²/(2 (9.81 m/s²))",
            ),
            (
                "z_1 - z_2",
                r"0\,\mathrm{m} - (-3.0\,\mathrm{m})",
                "0 m − (−3.0 m)",
            ),
            (
                "Re * f",
                r"6.65\times 10^{4} \times 0.0216",
                "(6.65×10⁴) × 0.0216",
            ),
            ("f * Re", r"0.0216\,(6.65\times 10^{4})", "0.0216 (6.65×10⁴)"),
            ("Re^2", r"(6.65\times 10^{4})^{2}", "(6.65×10⁴)²"),
        ] {
            let expr = Expr::parse(formula).unwrap().with_values(&values());
            assert_eq!(expr.latex(POINT), latex, "{formula}");
            assert_eq!(expr.plain(POINT), plain, "{formula}");
        }
    }

    #[test]
    fn words_cannot_leave_their_braces() {
        let expr = Expr::Text("100% of $x_1 {\\input}".to_owned());
        assert_eq!(
            expr.latex(POINT),
            r"\text{100\% of \$x\_1 \{\textbackslash{}input\}}"
        );
    }

    #[test]
    fn a_line_says_the_same_in_symbols_numbers_and_value() {
        let velocity = Expr::parse("4 * Q / (pi * D^2)").unwrap();
        let unit = Unit::parse("m/s").unwrap();
        let (line, value) = Line::worked(Expr::symbol("V"), &velocity, &values(), &unit, 3).unwrap();
        // 4 · 2.1e-3 / (π · 0.04²)
        assert!((value.value - 1.671_126_902_464_9).abs() < 1e-12);
        assert_eq!(
            line.latex_sides(POINT),
            [
                "V",
                r"= \frac{4\,Q}{\pi\,D^{2}}",
                r"= \frac{4\,(0.00210\,\mathrm{m^{3}/s})}{\pi\,(0.040\,\mathrm{m})^{2}}",
                r"= 1.67\,\mathrm{m/s}",
            ]
        );
        assert_eq!(line.latex(POINT), line.latex_sides(POINT).join(" "));
        assert_eq!(
            line.plain(COMMA),
            "V = 4 Q/(π D²) = 4 (0,00210 m³/s)/(π (0,040 m)²) = 1,67 m/s"
        );
    }

    #[test]
    fn a_line_says_nothing_twice() {
        let unit = Unit::parse("m/s").unwrap();
        let sides = |name: &str, formula: &str| {
            let formula = Expr::parse(formula).unwrap();
            let (line, _) = Line::worked(Expr::symbol(name), &formula, &values(), &unit, 3).unwrap();
            line.plain(POINT)
        };
        assert_eq!(sides("V_1", "V"), "V₁ = V = 1.67 m/s");
        assert_eq!(sides("V", "V"), "V = 1.67 m/s");
        assert_eq!(sides("V", "3.00 m/s"), "V = 3.00 m/s");
        assert_eq!(sides("V", "1 m/s + 2 m/s"), "V = 1 m/s + 2 m/s = 3.00 m/s");
        let line = Line::equal(Expr::symbol("f"), Expr::number(0.02)).then(Relation::About, Expr::Pi);
        assert_eq!(line.latex(POINT), r"f = 0.02 \approx \pi");
    }

    #[test]
    fn a_line_in_a_unit_of_another_dimension_is_refused() {
        let error =
            Line::worked(Expr::symbol("V"), &Expr::symbol("V"), &values(), &Unit::none(), 3).unwrap_err();
        assert_eq!(
            error.what,
            "`V` is a velocity, which can't be printed as a pure number"
        );
        let unit = Unit::parse("kg").unwrap();
        let error = Line::worked(Expr::symbol("V"), &Expr::symbol("V"), &values(), &unit, 3).unwrap_err();
        assert_eq!(error.what, "`V` is a velocity, which can't be printed in `kg`");
    }

    #[test]
    fn short_numbers_print_as_they_are() {
        for (value, text) in [
            (2.0, "2"),
            (0.25, "0.25"),
            (64.0, "64"),
            (3.7, "3.7"),
            (-1.8, "−1.8"),
            (0.001, "0.001"),
        ] {
            assert_eq!(Expr::number(value).plain(POINT), text);
        }
    }
}
