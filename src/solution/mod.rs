//! A draw solved: reference answers, and the worked solution as data, in the order that it is taught.
//!
//! Depends on: `fault`, `constants`, `quantity`, `equation`, `hydraulics`, `bank`, `draw`.

mod results;
mod worked;

pub use results::{PIPE_NAMES, PLAIN_NAMES, result_dimension, results};
pub use worked::worked;

use crate::bank::prose::Block;
use crate::bank::system::{FluidValues, System};
use crate::bank::template::{Asked, Template};
use crate::equation::{Bindings, EquationError};
use crate::hydraulics::regime::Regime;
use crate::hydraulics::solve::Solved;
use crate::quantity::Quantity;

/// The answer to a part.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// A number.
    Number(Quantity),
    /// A regime.
    Regime(Regime),
    /// A word.
    Choice(String),
}

/// One step of a worked solution.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What the step does, such as `Write the energy equation`.
    pub title: String,
    /// How.
    pub body: Vec<Block>,
}

/// A system, solved, with its fluid's values as printed: what a worked solution is written from.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// The system, resolved.
    pub system: System,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// The solved problem.
    pub solved: Solved,
}

/// The answer to what a part asks, from results by name.
///
/// # Errors
/// As [`crate::equation::Expr::evaluate`].
pub fn answer(asked: &Asked, of: &Bindings, solved: &Solved) -> Result<Answer, EquationError> {
    let _ = (asked, of, solved);
    todo!()
}

/// The answers to all parts of a template, in order.
///
/// # Errors
/// As [`answer`].
pub fn answers(template: &Template, givens: &Bindings, case: &Case) -> Result<Vec<Answer>, EquationError> {
    let _ = (template, givens, case);
    todo!()
}
