//! The worked solution, as a good teacher writes it.

mod answers;
mod check;
mod direct;
mod flow;
mod setting;
mod size;
mod working;

use super::{PathCase, Step};
use crate::bank::course::Conventions;
use crate::bank::template::Template;
use crate::equation::{Bindings, EquationError};
use crate::hydraulics::regime::Limits;
use crate::hydraulics::solve::Unknown;
use working::Working;

/// The worked solution of a case; with a template, its parts' answers too.
///
/// # Errors
/// As [`crate::equation::Expr::evaluate`].
pub fn worked(
    case: &PathCase,
    template: Option<(&Template, &Bindings)>,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let working = Working::new(case, limits, conventions)?;
    let mut steps = vec![
        setting::stations(&working),
        setting::equation(&working),
        setting::known(&working)?,
    ];
    match working.unknown {
        Unknown::Flow => flow::steps(&working, &mut steps)?,
        Unknown::Diameter(pipe) => size::steps(&working, pipe, &mut steps)?,
        _ => direct::steps(&working, &mut steps)?,
    }
    steps.push(answers::answers(&working, template)?);
    Ok(steps)
}

/// A step.
fn step(title: impl Into<String>, body: Vec<crate::bank::prose::Block>) -> Step {
    Step {
        title: title.into(),
        body,
    }
}
