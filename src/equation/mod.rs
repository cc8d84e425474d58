//! One expression tree for all mathematics: read from a formula in a template or from an author's
//! `$…$`, or built in code; evaluated with dimensions, and rendered to LaTeX and plain text.
//!
//! A worked solution prints only what comes from this tree, so that a printed line cannot differ from
//! what was computed. Depends on: `fault`, `quantity`.

mod evaluate;
mod line;
mod math;
mod parse;
mod render;

pub use line::Line;

use crate::quantity::{DecimalMark, Dimension, Quantity, Unit, Written};
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
    Notation(math::Notation),
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
        let _ = value;
        todo!()
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

    /// LaTeX, without dollar signs.
    pub fn latex(&self, style: Style) -> String {
        render::latex(self, style)
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
