//! The band of careful work, by end points.

use super::Accepted;
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::Template;
use crate::equation::Bindings;
use crate::fault::Checked;
use crate::solution::{Answer, Case};

/// What each part of a dealt problem accepts.
///
/// # Errors
/// When a problem at one of the end points can't be solved.
pub fn bands(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<Vec<Accepted>> {
    let _ = (template, givens, case, policy, conventions);
    todo!()
}

/// What `part` accepts when a student's own earlier answers are taken for true: the working is redone from
/// them along the parts' declared links. `own` holds an answer for each part that is to be taken from the
/// student, and `None` for the others.
///
/// `None` where no earlier answer bears on the part.
pub fn follow_through(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    part: usize,
    own: &[Option<Answer>],
    policy: &Policy,
    conventions: &Conventions,
) -> Option<Accepted> {
    let _ = (template, givens, case, part, own, policy, conventions);
    todo!()
}
