//! The tree's value and dimension.

use super::{Bindings, EquationError, Expr};
use crate::quantity::{Dimension, Quantity};
use std::collections::BTreeSet;

pub(super) fn symbols(expr: &Expr) -> BTreeSet<String> {
    let _ = expr;
    todo!()
}

pub(super) fn dimension(
    expr: &Expr,
    of: &dyn Fn(&str) -> Option<Dimension>,
) -> Result<Dimension, EquationError> {
    let _ = (expr, of);
    todo!()
}

pub(super) fn value(expr: &Expr, of: &dyn Fn(&str) -> Option<Quantity>) -> Result<Quantity, EquationError> {
    let _ = (expr, of);
    todo!()
}

pub(super) fn holds(expr: &Expr, of: &dyn Fn(&str) -> Option<Quantity>) -> Result<bool, EquationError> {
    let _ = (expr, of);
    todo!()
}

pub(super) fn with_values(expr: &Expr, of: &Bindings) -> Expr {
    let _ = (expr, of);
    todo!()
}
