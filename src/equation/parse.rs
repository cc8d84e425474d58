//! Formulas of templates: a Pratt parser.

use super::{EquationError, Expr};

pub(super) fn formula(text: &str) -> Result<Expr, EquationError> {
    let _ = text;
    todo!()
}
