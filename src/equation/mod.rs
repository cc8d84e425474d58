//! One expression tree for all mathematics: read from a formula in a template or from an author's
//! `$…$`, or built in code; evaluated with dimensions, and rendered to LaTeX, MathML, Typst and plain text.
//!
//! A worked solution prints only what comes from this tree, so that a printed line cannot differ from
//! what was computed. Depends on: `fault`, `quantity`.

mod coherent;
mod evaluate;
mod line;
mod math;
mod mathml;
mod parse;
mod render;
mod typography;
mod typst;

pub use line::Line;
pub(crate) use math::is_name;
pub use math::{Class, Grid, Mark, Notation, Sign, Size};
pub use parse::LONGEST_FORMULA;
pub use typst::literal as typst_literal;

use crate::fault::Fault;
use crate::quantity::{DecimalMark, Dimension, Quantity, Shown, Unit, Written};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// Why a formula can't be read or evaluated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EquationError {
    /// What is wrong.
    pub what: String,
    /// The bytes of the formula's text that it is about, where known.
    pub span: Option<Range<usize>>,
    /// How to mend it.
    pub mend: Option<String>,
}

impl EquationError {
    /// An error known only by what is wrong.
    pub fn new(what: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            span: None,
            mend: None,
        }
    }

    /// The same error with the bytes of the text that it is about.
    #[must_use]
    pub fn at(mut self, span: Range<usize>) -> Self {
        self.span = Some(span);
        self
    }

    /// The same error with the way to mend it.
    #[must_use]
    pub fn mend(mut self, mend: impl Into<String>) -> Self {
        self.mend = Some(mend.into());
        self
    }
}

impl std::fmt::Display for EquationError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.what)
    }
}

impl std::error::Error for EquationError {}

impl From<EquationError> for Fault {
    fn from(error: EquationError) -> Self {
        Self {
            what: error.what,
            place: None,
            mend: error.mend,
        }
    }
}

/// A comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
    /// `=` (two values equal to 1e-9 relative when evaluated)
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    AtMost,
    /// `>`
    Greater,
    /// `>=`
    AtLeast,
    /// `≈`; only printed
    About,
}

/// A function of a formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Function {
    /// Square root.
    Sqrt,
    /// Natural logarithm.
    Ln,
    /// Logarithm to the base ten.
    Log10,
    /// e to the power of.
    Exp,
    /// Magnitude.
    Abs,
    /// The smallest of its arguments.
    Min,
    /// The largest of its arguments.
    Max,
}

/// The tree. `equation` owns its nodes; other rooms build it with the functions below and operators.
#[derive(Debug, Clone, PartialEq)]
pub enum Expr {
    /// A number, with a unit where it has one, printed as written.
    Number(Written),
    /// π.
    Pi,
    /// A named quantity: `V_riser`, `eps`, `h_f`, `Re`.
    Symbol(String),
    /// `-a`
    Negative(Box<Expr>),
    /// `a + b`
    Add(Box<Expr>, Box<Expr>),
    /// `a - b`
    Subtract(Box<Expr>, Box<Expr>),
    /// `a b`
    Multiply(Box<Expr>, Box<Expr>),
    /// `a / b`, printed as a fraction
    Divide(Box<Expr>, Box<Expr>),
    /// `a^b`; `b` must be a plain number where `a` has a dimension
    Power(Box<Expr>, Box<Expr>),
    /// A function of its arguments.
    Call(Function, Vec<Expr>),
    /// `a < b`
    Compare(Box<Expr>, Relation, Box<Expr>),
    /// Both hold.
    And(Box<Expr>, Box<Expr>),
    /// Either holds.
    Or(Box<Expr>, Box<Expr>),
    /// Upright words in mathematics; can't be evaluated.
    Text(String),
    /// An author's notation that only prints: the nodes of [`math`](self).
    Notation(Notation),
}

/// What a name stands for, and how its value is printed.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// The value that is computed with, in full precision.
    pub quantity: Quantity,
    /// How it is printed when numbers are put in for names.
    pub written: Written,
}

impl Bound {
    /// A value that is computed with exactly as it is printed.
    pub fn as_written(written: Written) -> Self {
        Self {
            quantity: written.quantity(),
            written,
        }
    }

    /// A value in SI, printed in `unit` with `figures` significant figures.
    pub fn new(si: f64, unit: &Unit, figures: u32) -> Self {
        Self {
            quantity: Quantity::new(si, unit.dimension),
            written: Written::from_si(si, unit, figures),
        }
    }
}

/// Names and what they stand for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bindings(pub BTreeMap<String, Bound>);

impl Bindings {
    /// Binds `name`, replacing what it stood for.
    pub fn set(&mut self, name: impl Into<String>, bound: Bound) {
        self.0.insert(name.into(), bound);
    }

    /// What `name` stands for.
    pub fn get(&self, name: &str) -> Option<&Bound> {
        self.0.get(name)
    }
}

/// How mathematics is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Style {
    /// Point or comma.
    pub mark: DecimalMark,
}

impl Expr {
    /// Reads a formula of a template: `V_tank / Q`, `2 * L + 3 m`, `Re > 4000 and V < 4 m/s`.
    ///
    /// # Errors
    /// What is wrong and where in the text.
    pub fn parse(text: &str) -> Result<Self, EquationError> {
        parse::formula(text)
    }

    /// Reads an author's mathematics from between dollar signs, a strict subset of LaTeX; anything else
    /// is an error, so nothing foreign reaches a typesetter.
    ///
    /// # Errors
    /// What is wrong and where in the text.
    pub fn parse_math(text: &str) -> Result<Self, EquationError> {
        math::parse(text)
    }

    /// A named quantity.
    pub fn symbol(name: impl Into<String>) -> Self {
        Self::Symbol(name.into())
    }

    /// A whole or short decimal number that is part of a formula, such as the 2 in `V²/(2g)`.
    pub fn number(value: f64) -> Self {
        let digits = format!("{value}");
        let figures = digits
            .trim_start_matches(['-', '0', '.'])
            .chars()
            .filter(char::is_ascii_digit)
            .count()
            .max(1);
        Self::Number(Written {
            number: value,
            shown: Shown {
                digits,
                exponent: None,
            },
            figures: u32::try_from(figures).unwrap_or(u32::MAX),
            unit: Unit::none(),
        })
    }

    /// `self` to the power of a whole number.
    #[must_use]
    pub fn pow(self, exponent: i32) -> Self {
        Self::Power(Box::new(self), Box::new(Self::number(f64::from(exponent))))
    }

    /// Square root.
    #[must_use]
    pub fn sqrt(self) -> Self {
        Self::Call(Function::Sqrt, vec![self])
    }

    /// Every name used.
    pub fn symbols(&self) -> BTreeSet<String> {
        evaluate::symbols(self)
    }

    /// The dimension, given those of the names.
    ///
    /// # Errors
    /// An unknown name, or two dimensions that do not fit.
    pub fn dimension(&self, of: &dyn Fn(&str) -> Option<Dimension>) -> Result<Dimension, EquationError> {
        evaluate::dimension(self, of)
    }

    /// The value.
    ///
    /// # Errors
    /// An unknown name, dimensions that do not fit, or a result that is no finite number.
    pub fn evaluate(&self, of: &Bindings) -> Result<Quantity, EquationError> {
        self.evaluate_with(&|name| of.get(name).map(|bound| bound.quantity))
    }

    /// The value, with names looked up by a function: for callers that evaluate often and print nothing.
    ///
    /// # Errors
    /// As for [`Expr::evaluate`].
    pub fn evaluate_with(&self, of: &dyn Fn(&str) -> Option<Quantity>) -> Result<Quantity, EquationError> {
        evaluate::value(self, of)
    }

    /// Whether a comparison (or several, joined by `and`, `or`) holds.
    ///
    /// # Errors
    /// As for [`Expr::evaluate`]; also where this is no comparison.
    pub fn holds(&self, of: &Bindings) -> Result<bool, EquationError> {
        self.holds_with(&|name| of.get(name).map(|bound| bound.quantity))
    }

    /// Whether a comparison holds, with names looked up by a function.
    ///
    /// # Errors
    /// As for [`Expr::holds`].
    pub fn holds_with(&self, of: &dyn Fn(&str) -> Option<Quantity>) -> Result<bool, EquationError> {
        evaluate::holds(self, of)
    }

    /// The tree with numbers put in for the names that are bound.
    #[must_use]
    pub fn with_values(&self, of: &Bindings) -> Self {
        evaluate::with_values(self, of)
    }

    /// The names of the placeholders in an author's notation, in order of appearance.
    pub fn placeholders(&self) -> Vec<String> {
        let mut names = Vec::new();
        self.collect_placeholders(&mut names);
        names
    }

    fn collect_placeholders(&self, names: &mut Vec<String>) {
        if let Self::Notation(notation) = self {
            notation.placeholders(names);
        }
        for child in self.children() {
            child.collect_placeholders(names);
        }
    }

    /// The tree with every placeholder of an author's notation replaced by the number, as it is printed.
    ///
    /// # Errors
    /// A placeholder that `of` does not bind.
    pub fn filled(&self, of: &Bindings) -> Result<Self, EquationError> {
        if let Self::Notation(notation) = self {
            return Ok(Self::Notation(notation.filled(of)?));
        }
        let mut first_error = None;
        let filled = self.with_children(&mut |child| match child.filled(of) {
            Ok(child) => child,
            Err(error) => {
                first_error.get_or_insert(error);
                child.clone()
            }
        });
        match first_error {
            Some(error) => Err(error),
            None => Ok(filled),
        }
    }

    /// The nodes right under this one, in the order in which they are read.
    pub(crate) fn children(&self) -> Vec<&Self> {
        match self {
            Self::Negative(a) => vec![a],
            Self::Call(_, arguments) => arguments.iter().collect(),
            _ => self.two().map_or_else(Vec::new, |(a, b)| vec![a, b]),
        }
    }

    /// Both sides of a node that has two.
    fn two(&self) -> Option<(&Self, &Self)> {
        match self {
            Self::Add(a, b)
            | Self::Subtract(a, b)
            | Self::Multiply(a, b)
            | Self::Divide(a, b)
            | Self::Power(a, b)
            | Self::Compare(a, _, b)
            | Self::And(a, b)
            | Self::Or(a, b) => Some((a, b)),
            _ => None,
        }
    }

    /// The same node over changed children.
    fn with_children(&self, change: &mut dyn FnMut(&Self) -> Self) -> Self {
        let mut new = |child: &Self| Box::new(change(child));
        match self {
            Self::Number(_) | Self::Pi | Self::Symbol(_) | Self::Text(_) | Self::Notation(_) => self.clone(),
            Self::Negative(a) => Self::Negative(new(a)),
            Self::Add(a, b) => Self::Add(new(a), new(b)),
            Self::Subtract(a, b) => Self::Subtract(new(a), new(b)),
            Self::Multiply(a, b) => Self::Multiply(new(a), new(b)),
            Self::Divide(a, b) => Self::Divide(new(a), new(b)),
            Self::Power(a, b) => Self::Power(new(a), new(b)),
            Self::Compare(a, relation, b) => Self::Compare(new(a), *relation, new(b)),
            Self::And(a, b) => Self::And(new(a), new(b)),
            Self::Or(a, b) => Self::Or(new(a), new(b)),
            Self::Call(function, arguments) => Self::Call(*function, arguments.iter().map(change).collect()),
        }
    }

    /// The text of a formula that [`Expr::parse`] reads back as one of the same value: `V^2/(2 * g)`.
    pub fn formula(&self) -> String {
        render::formula(self)
    }

    /// LaTeX, without dollar signs.
    pub fn latex(&self, style: Style) -> String {
        render::latex(self, style)
    }

    /// A `<math>` element of HTML in running text, with the plain text as its reading.
    pub fn mathml(&self, style: Style) -> String {
        let notation = render::notation(self, style);
        mathml::element(&[&notation], style, false, &self.plain(style))
    }

    /// Typst mathematics, without dollar signs.
    pub fn typst(&self, style: Style) -> String {
        typst::write(&render::notation(self, style), style)
    }

    /// Plain text on one line: `V²/(2 g)`.
    pub fn plain(&self, style: Style) -> String {
        render::plain(self, style)
    }
}

macro_rules! operator {
    ($trait:ident, $method:ident, $node:ident) => {
        impl std::ops::$trait for Expr {
            type Output = Expr;
            fn $method(self, other: Expr) -> Expr {
                Expr::$node(Box::new(self), Box::new(other))
            }
        }
    };
}
operator!(Add, add, Add);
operator!(Sub, sub, Subtract);
operator!(Mul, mul, Multiply);
operator!(Div, div, Divide);

impl std::ops::Neg for Expr {
    type Output = Expr;
    fn neg(self) -> Expr {
        Expr::Negative(Box::new(self))
    }
}
