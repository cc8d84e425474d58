//! To give every student on a roster an accepted draw.
//!
//! A candidate is accepted when it solves without a warning, satisfies the template's constraints, and
//! keeps every listed slip out of the band of every part that it should show in.
//! Depends on: all rooms above.

pub mod record;

use crate::band::Accepted;
use crate::band::slip::SlipAnswers;
use crate::bank::Bank;
use crate::bank::course::{Conventions, Course, Policy, Set, Student};
use crate::bank::template::Template;
use crate::draw::{CourseKey, Draw, Seed};
use crate::equation::Bindings;
use crate::fault::Checked;
use crate::solution::{Answer, Case};
use std::sync::Arc;

/// One problem as dealt to one student.
#[derive(Debug, Clone)]
pub struct Dealt {
    /// The template.
    pub template: Arc<Template>,
    /// The accepted draw.
    pub draw: Draw,
    /// The givens by name.
    pub givens: Bindings,
    /// The system, solved.
    pub case: Case,
    /// Reference answers, by part.
    pub answers: Vec<Answer>,
    /// What each part accepts.
    pub accepted: Vec<Accepted>,
    /// Where slips lead.
    pub slips: Vec<SlipAnswers>,
}

/// All problems of one student.
#[derive(Debug, Clone)]
pub struct DealtStudent {
    /// The student.
    pub student: Student,
    /// Their problems, in the order of the set.
    pub problems: Vec<Dealt>,
}

/// Why candidates were refused, and how many for each reason.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Refused(pub std::collections::BTreeMap<String, u32>);

/// Solves one draw and works out its answers, bands and slips, whether or not it is to be dealt.
///
/// # Errors
/// Why it can't be solved.
pub fn assess(
    template: &Arc<Template>,
    draw: Draw,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<Dealt> {
    let _ = (template, draw, policy, conventions);
    todo!()
}

/// The first accepted candidate of a seed.
///
/// # Errors
/// When none of the first 2,000 candidates is accepted: says how many were refused for what.
pub fn deal_one(
    template: &Arc<Template>,
    seed: &Seed,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<(Dealt, Refused)> {
    let _ = (template, seed, policy, conventions);
    todo!()
}

/// Deals a set to a roster, on all cores; the order and the bytes do not depend on how many there are.
/// `progress` is called after each student.
///
/// # Errors
/// Templates that the set names and the bank lacks; problems that can't be dealt.
pub fn deal_set(
    course: &Course,
    set: &Set,
    roster: &[Student],
    bank: &Bank,
    key: &CourseKey,
    progress: &(dyn Fn() + Sync),
) -> Checked<Vec<DealtStudent>> {
    let _ = (course, set, roster, bank, key, progress);
    todo!()
}
