//! A line of working: the same value said several ways, joined by `=`.

use super::{Bindings, EquationError, Expr, Relation, Style};
use crate::quantity::{Quantity, Unit};

/// `V = Q/A = (2.1 L/s)/(…) = 1.67 m/s`: a first side and what follows each relation.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The left side.
    pub first: Expr,
    /// Each further side with the relation before it.
    pub rest: Vec<(Relation, Expr)>,
}

impl Line {
    /// A single expression.
    pub fn single(expr: Expr) -> Self {
        Self {
            first: expr,
            rest: Vec::new(),
        }
    }

    /// `left = right`, symbols only.
    pub fn equal(left: Expr, right: Expr) -> Self {
        Self::single(left).then(Relation::Equal, right)
    }

    /// The same line with one more side.
    #[must_use]
    pub fn then(mut self, relation: Relation, expr: Expr) -> Self {
        self.rest.push((relation, expr));
        self
    }

    /// `name = formula = formula with its numbers = value in unit`: evaluated and printed from one tree.
    /// The value is what the formula gives with the full-precision bindings.
    ///
    /// # Errors
    /// As for [`Expr::evaluate`]; also where `unit` has another dimension.
    pub fn worked(
        name: Expr,
        formula: &Expr,
        of: &Bindings,
        unit: &Unit,
        figures: u32,
    ) -> Result<(Self, Quantity), EquationError> {
        let _ = (name, formula, of, unit, figures);
        todo!()
    }

    /// LaTeX, without dollar signs.
    pub fn latex(&self, style: Style) -> String {
        let _ = style;
        todo!()
    }

    /// LaTeX in pieces, one a side, each further one beginning with its relation, for breaking over lines.
    pub fn latex_sides(&self, style: Style) -> Vec<String> {
        let _ = style;
        todo!()
    }

    /// Plain text.
    pub fn plain(&self, style: Style) -> String {
        let _ = style;
        todo!()
    }
}
