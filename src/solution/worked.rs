//! The worked solution, as a good teacher writes it.

use super::{Case, Step};
use crate::bank::course::Conventions;
use crate::bank::template::Template;
use crate::equation::{Bindings, EquationError};
use crate::hydraulics::regime::Limits;

/// The worked solution of a case; with a template, its parts' answers too.
///
/// # Errors
/// As [`crate::equation::Expr::evaluate`].
pub fn worked(
    case: &Case,
    template: Option<(&Template, &Bindings)>,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let _ = (case, template, limits, conventions);
    todo!()
}
