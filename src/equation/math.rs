//! An author's `$…$`: a strict subset of LaTeX.

use super::{EquationError, Expr};

/// Notation that only prints.
#[derive(Debug, Clone, PartialEq)]
pub enum Notation {
    /// Things side by side.
    Row(Vec<Expr>),
}

pub(super) fn parse(text: &str) -> Result<Expr, EquationError> {
    let _ = text;
    todo!()
}
