//! Slips: common errors, each as a change to the system or to how it is solved.

use crate::bank::course::{Conventions, Policy};
use crate::bank::template::Template;
use crate::equation::Bindings;
use crate::solution::{Answer, Case};

/// A common error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slip {
    /// Its name, such as `exit loss left out`.
    pub name: &'static str,
    /// What to tell a student who made it, one sentence.
    pub advice: &'static str,
}

/// The library of slips.
pub fn all() -> &'static [Slip] {
    todo!()
}

/// Where a slip leads: the answer of each part, or `None` where the slip does not apply to the system or
/// its working ends nowhere.
#[derive(Debug, Clone, PartialEq)]
pub struct SlipAnswers {
    /// Which.
    pub slip: &'static Slip,
    /// The answer to each part.
    pub answers: Vec<Option<Answer>>,
}

/// The answers that each applicable slip leads to.
pub fn slip_answers(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    policy: &Policy,
    conventions: &Conventions,
) -> Vec<SlipAnswers> {
    let _ = (template, givens, case, policy, conventions);
    todo!()
}
