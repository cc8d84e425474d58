//! To give every student on a roster an accepted draw.
//!
//! A candidate is accepted when it solves without a warning, satisfies the template's constraints,
//! keeps every listed slip, careful in all else, out of the band of every part that it should show in, and is as hard
//! as the class's. Any other slip that meets a band is declared as too small to see there.
//! Depends on: all rooms above.

pub mod difficulty;
pub mod record;

use crate::band::slip::{Clearance, SlipAnswers, slip_answers};
use crate::band::{self, Accepted, bands};
use crate::bank::Bank;
use crate::bank::course::{Conventions, Course, Policy, Set, SetProblem, Student};
use crate::bank::template::Template;
use crate::draw::{Candidates, CourseKey, Draw, Seed};
use crate::equation::Bindings;
use crate::fault::{Checked, Fault, Faults, Place};
use crate::jobs;
use crate::quantity::Written;
use crate::solution::{Answer, Case};
use difficulty::{OverClass, Target, class_seed};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

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
    /// Slips that can't always be told from careful work in a part: which of `slips`, and the part. They are
    /// declared as too small to see.
    pub hidden: Vec<(usize, usize)>,
}

/// All problems of one student.
#[derive(Debug, Clone)]
pub struct DealtStudent {
    /// The student.
    pub student: Student,
    /// Their problems, in the order of the set.
    pub problems: Vec<Dealt>,
}

/// What was drawn for one problem of a student: all else is worked out again from it, by [`assess`].
#[derive(Debug, Clone)]
pub struct Drawn {
    /// The template.
    pub template: Arc<Template>,
    /// The draw.
    pub draw: Draw,
}

/// What was drawn for all problems of one student.
#[derive(Debug, Clone)]
pub struct DrawnStudent {
    /// The student.
    pub student: Student,
    /// Their problems, in the order of the set.
    pub problems: Vec<Drawn>,
}

/// Students who were dealt the very same numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shared {
    /// The problem, as its index in the set.
    pub problem: usize,
    /// Their identifiers, two at least, in the order of the roster.
    pub ids: Vec<String>,
}

/// Who shares their numbers with whom: a template with few draws gives out the same ones twice.
pub fn shared(students: impl Iterator<Item = DrawnStudent>) -> Vec<Shared> {
    let mut holders: BTreeMap<(usize, Vec<String>), Vec<String>> = BTreeMap::new();
    for one in students {
        for (problem, drawn) in one.problems.iter().enumerate() {
            let values = drawn.draw.values.iter().map(Written::ascii).collect();
            let ids = holders.entry((problem, values)).or_default();
            ids.push(one.student.id.clone());
        }
    }
    (holders.into_iter())
        .filter(|(_, ids)| ids.len() > 1)
        .map(|((problem, _), ids)| Shared { problem, ids })
        .collect()
}

/// A set, dealt to a roster.
#[derive(Debug, Clone)]
pub struct DealtSet<T> {
    /// What was kept of every student, in the order of the roster.
    pub students: Vec<T>,
    /// For each problem, the candidates that were refused to all students together.
    pub refused: Vec<Refused>,
    /// For each problem, how hard it is over the class.
    pub difficulty: Vec<OverClass>,
}

/// Candidates tried for one student's problem.
pub const MOST_CANDIDATES: usize = 2_000;

impl DealtStudent {
    /// Which candidate was dealt of each problem; [`drawn`] draws them again.
    pub fn candidates(&self) -> Vec<u32> {
        self.problems.iter().map(|dealt| dealt.draw.candidate).collect()
    }

    /// What was drawn, alone.
    pub fn drawn(&self) -> DrawnStudent {
        let of = |dealt: &Dealt| Drawn {
            template: Arc::clone(&dealt.template),
            draw: dealt.draw.clone(),
        };
        DrawnStudent {
            student: self.student.clone(),
            problems: self.problems.iter().map(of).collect(),
        }
    }
}

impl Dealt {
    /// How one of `slips` stands to what a part accepts; `None` where it leaves the part's answer as it is.
    pub fn clearance(&self, slip: usize, part: usize) -> Option<Clearance> {
        self.slips.get(slip)?.clearance(part, self.accepted.get(part)?)
    }

    /// Whether one of `slips` can't always be told from careful work in a part.
    pub fn is_hidden(&self, slip: usize, part: usize) -> bool {
        self.hidden.contains(&(slip, part))
    }

    /// The marks of each part, when the problem counts what the set says.
    pub fn part_marks(&self, problem: &SetProblem) -> Vec<f64> {
        let own = self.template.marks();
        let share = match problem.marks {
            Some(marks) if own > 0.0 => marks / own,
            _ => 1.0,
        };
        self.template
            .parts
            .iter()
            .map(|part| part.marks * share)
            .collect()
    }
}

/// Why candidates were refused, and how many for each reason.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Refused(pub BTreeMap<String, u32>);

impl Refused {
    fn count(&mut self, why: String) {
        *self.0.entry(why).or_default() += 1;
    }

    /// Adds what was refused elsewhere.
    pub(crate) fn add(&mut self, other: Self) {
        for (why, times) in other.0 {
            *self.0.entry(why).or_default() += times;
        }
    }

    /// How many there were.
    pub fn total(&self) -> u32 {
        self.0.values().sum()
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut reasons: Vec<_> = self.0.iter().collect();
        reasons.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        for (i, (why, times)) in reasons.into_iter().enumerate() {
            if i > 0 {
                f.write_str(", ")?;
            }
            write!(f, "{times} for: {why}")?;
        }
        Ok(())
    }
}

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
    let (givens, case) = solved(template, &draw, policy, conventions)?;
    complete(template, draw, givens, case, policy, conventions)
}

/// A draw's givens, and its system solved.
fn solved(
    template: &Template,
    draw: &Draw,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<(Bindings, Case)> {
    let givens = draw.bindings(template);
    let system = template.system.resolve(&givens)?;
    let case = Case::try_solve(system, Some(conventions.property_figures), &policy.limits)
        .map_err(|unsolved| Fault::new(unsolved.short))?;
    Ok((givens, case))
}

fn complete(
    template: &Arc<Template>,
    draw: Draw,
    givens: Bindings,
    case: Case,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<Dealt> {
    let accepted = bands(template, &givens, &case, policy, conventions)?;
    let slips = slip_answers(template, &givens, &case, &accepted, policy, conventions);
    let mut hidden = Vec::new();
    for (n, slip) in slips.iter().enumerate() {
        for (part, accepted) in accepted.iter().enumerate() {
            if slip
                .clearance(part, accepted)
                .is_some_and(|clearance| !clearance.is_clear())
            {
                hidden.push((n, part));
            }
        }
    }
    let answers = accepted.iter().map(Accepted::reference).collect();
    Ok(Dealt {
        template: Arc::clone(template),
        draw,
        givens,
        case,
        answers,
        accepted,
        slips,
        hidden,
    })
}

/// Why a draw that can be solved is not to be dealt; `None` where nothing speaks against it.
pub fn refusal(dealt: &Dealt, policy: &Policy) -> Option<String> {
    before_bands(&dealt.template, &dealt.givens, &dealt.case, policy).or_else(|| behind_bands(dealt))
}

/// What can be said before bands are worked out, which is cheap.
fn before_bands(template: &Template, givens: &Bindings, case: &Case, policy: &Policy) -> Option<String> {
    let critical_wanted = band::asks_for_critical(template);
    for remark in case.remarks(&policy.limits) {
        if !(remark.critical && critical_wanted) {
            return Some(remark.short.to_owned());
        }
    }
    band::broken_constraint(template, givens, case, policy).map(|n| match template.constraint_texts.get(n) {
        Some(text) => format!("constraint {}, `{text}`, does not hold", n + 1),
        None => format!("constraint {} does not hold", n + 1),
    })
}

fn behind_bands(dealt: &Dealt) -> Option<String> {
    let template = &dealt.template;
    for (part, accepted) in template.parts.iter().zip(&dealt.accepted) {
        if let Accepted::OneOf(answers) = accepted
            && answers.len() > 1
        {
            return Some(format!("careful work can reach two answers to `{}`", part.name));
        }
    }
    for listed in &template.slips {
        let Some(slip) = dealt.slips.iter().position(|s| s.slip.name == listed.name) else {
            if listed.shows_in.is_empty() {
                continue;
            }
            return Some(format!("slip `{}` changes nothing", listed.name));
        };
        for &part in &listed.shows_in {
            if !dealt.clearance(slip, part).is_some_and(Clearance::is_clear) {
                let name = template.parts.get(part).map_or("", |part| part.name.as_str());
                return Some(format!("slip `{}` is hidden in part `{name}`", listed.name));
            }
        }
    }
    None
}

/// The first accepted candidate of a seed, for one student alone: how hard it is does not count.
///
/// # Errors
/// When none of the first 2,000 candidates is accepted: says how many were refused for what.
pub fn deal_one(
    template: &Arc<Template>,
    seed: &Seed,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<(Dealt, Refused)> {
    deal_with_refused(template, seed, policy, conventions)
        .map_err(|refused| not_dealt(&template.name, "", &refused).into())
}

/// As [`deal_one`], with the counts where there is no fault to be told.
///
/// # Errors
/// What was refused for what, when no candidate is accepted.
pub(crate) fn deal_with_refused(
    template: &Arc<Template>,
    seed: &Seed,
    policy: &Policy,
    conventions: &Conventions,
) -> Result<(Dealt, Refused), Refused> {
    first_accepted(template, seed, None, policy, conventions)
}

fn first_accepted(
    template: &Arc<Template>,
    seed: &Seed,
    target: Option<&Target>,
    policy: &Policy,
    conventions: &Conventions,
) -> Result<(Dealt, Refused), Refused> {
    let mut refused = Refused::default();
    for draw in Candidates::new(template, seed).take(MOST_CANDIDATES) {
        match candidate(template, draw, target, policy, conventions) {
            Ok(dealt) => return Ok((dealt, refused)),
            Err(why) => refused.count(why),
        }
    }
    Err(refused)
}

/// The fault of a template that can't be dealt; `to_whom` is empty or begins with a blank.
fn not_dealt(template: &str, to_whom: &str, refused: &Refused) -> Fault {
    Fault::new(format!(
        "`{template}` can't be dealt{to_whom}: {} candidates were refused ({refused})",
        refused.total()
    ))
    .at(Place::file(template))
    .mend("widen the givens' ranges or loosen the constraint or slip that refuses most")
}

/// A draw worked out, or why it is not to be dealt to a class of this difficulty (`None`: of any).
pub(crate) fn candidate(
    template: &Arc<Template>,
    draw: Draw,
    target: Option<&Target>,
    policy: &Policy,
    conventions: &Conventions,
) -> Result<Dealt, String> {
    let first = |faults: Faults| match faults.0.into_iter().next() {
        Some(fault) => fault.what,
        None => "not solvable".to_owned(),
    };
    let (givens, case) = solved(template, &draw, policy, conventions).map_err(first)?;
    if let Some(why) = before_bands(template, &givens, &case, policy) {
        return Err(why);
    }
    if let Some(why) = target.and_then(|target| target.refusal_before_bands(&case, &policy.limits)) {
        return Err(why);
    }
    let dealt = complete(template, draw, givens, case, policy, conventions).map_err(first)?;
    let unlike = |target: &Target| target.refusal_behind_bands(template, &dealt.accepted);
    match behind_bands(&dealt).or_else(|| target.and_then(unlike)) {
        Some(why) => Err(why),
        None => Ok(dealt),
    }
}

/// Deals a set to a roster, on all cores; the order and the bytes do not depend on how many there are.
///
/// A student's problems with all their bands and slips take some 25 KiB each. They go to `keep` when they are dealt, on one
/// of the threads, and what it returns is kept.
///
/// # Errors
/// Templates that the set names and the bank lacks; problems that can't be dealt.
pub fn deal_set<T: Send>(
    course: &Course,
    set: &Set,
    roster: &[Student],
    bank: &Bank,
    key: &CourseKey,
    keep: &(dyn Fn(DealtStudent) -> T + Sync),
) -> Checked<DealtSet<T>> {
    deal_set_on(jobs::cores(), course, set, roster, bank, key, keep)
}

/// What is counted over the class. Nothing of it hangs on the order of students.
struct Counts {
    refused: Vec<Refused>,
    difficulty: Vec<OverClass>,
    /// A template that can't be dealt is told once, however many students it fails.
    failed: BTreeMap<String, (usize, Refused)>,
}

/// As [`deal_set`], on a given number of threads.
///
/// # Errors
/// As [`deal_set`].
pub fn deal_set_on<T: Send>(
    threads: usize,
    course: &Course,
    set: &Set,
    roster: &[Student],
    bank: &Bank,
    key: &CourseKey,
    keep: &(dyn Fn(DealtStudent) -> T + Sync),
) -> Checked<DealtSet<T>> {
    let templates = templates(set, bank)?;
    let (policy, conventions) = (&set.policy, &course.conventions);
    let targets = targets(threads, &set.name, &templates, key, policy, conventions)?;
    let counts = Mutex::new(Counts {
        refused: vec![Refused::default(); templates.len()],
        difficulty: templates.iter().map(|t| OverClass::of(Arc::clone(t))).collect(),
        failed: BTreeMap::new(),
    });
    let kept = jobs::in_order(roster.len(), threads, |i| {
        let student = &roster[i];
        let tried: Vec<_> = (templates.iter().enumerate())
            .map(|(n, template)| {
                let seed = seed(&set.name, &templates, n, key, student);
                let target = targets.get(template.name.as_str());
                first_accepted(template, &seed, target, policy, conventions)
            })
            .collect();
        let mut problems = Vec::with_capacity(templates.len());
        let mut told = Vec::new();
        {
            // Sums, least and greatest values: a thread that panicked leaves no half of one.
            let mut counts = counts.lock().unwrap_or_else(PoisonError::into_inner);
            for (n, one) in tried.into_iter().enumerate() {
                match one {
                    Ok((dealt, refused)) => {
                        counts.refused[n].add(refused);
                        counts.difficulty[n].add(&dealt, &policy.limits);
                        problems.push(dealt);
                    }
                    Err(refused) => {
                        let template = templates[n].name.as_str();
                        let (times, all) = counts.failed.entry(template.to_owned()).or_default();
                        *times += usize::from(!told.contains(&template));
                        told.push(template);
                        all.add(refused);
                    }
                }
            }
        }
        told.is_empty().then(|| {
            keep(DealtStudent {
                student: student.clone(),
                problems,
            })
        })
    });
    let counts = counts.into_inner().unwrap_or_else(PoisonError::into_inner);
    if counts.failed.is_empty() {
        return Ok(DealtSet {
            students: kept.into_iter().flatten().collect(),
            refused: counts.refused,
            difficulty: counts.difficulty,
        });
    }
    let faults = counts.failed.iter().map(|(template, (times, refused))| {
        let to_whom = format!(" to {times} of {} students", roster.len());
        not_dealt(template, &to_whom, refused)
    });
    Err(Faults(faults.collect()))
}

/// The seed of a student's `n`th problem. A template that a set names again is dealt as another attempt, with other
/// numbers.
fn seed(set: &str, templates: &[Arc<Template>], n: usize, key: &CourseKey, student: &Student) -> Seed {
    let template = &templates[n];
    let before = templates[..n].iter().filter(|t| t.name == template.name).count();
    let attempt = 1 + u32::try_from(before).unwrap_or(u32::MAX - 1);
    key.seed(set, template, &student.id, attempt)
}

/// What was drawn for a student, from which candidate it was of each problem; `templates` are those of the set, as
/// [`templates`] finds them.
pub fn drawn(
    set: &str,
    templates: &[Arc<Template>],
    key: &CourseKey,
    student: &Student,
    candidates: &[u32],
) -> DrawnStudent {
    let problems = (templates.iter().zip(candidates).enumerate())
        .map(|(n, (template, candidate))| Drawn {
            template: Arc::clone(template),
            draw: Draw::of(template, &seed(set, templates, n, key, student), *candidate),
        })
        .collect();
    DrawnStudent {
        student: student.clone(),
        problems,
    }
}

/// What the class's draws of each template must have alike. A template that a set names twice has one target.
fn targets<'a>(
    threads: usize,
    set: &str,
    templates: &'a [Arc<Template>],
    key: &CourseKey,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<BTreeMap<&'a str, Target>> {
    let mut different: Vec<&Arc<Template>> = Vec::with_capacity(templates.len());
    for template in templates {
        if !different.iter().any(|t| t.name == template.name) {
            different.push(template);
        }
    }
    let found = jobs::in_order(different.len(), threads, |i| {
        let template = different[i];
        Target::new(template, &class_seed(key, set, template), policy, conventions)
    });
    let mut targets = BTreeMap::new();
    let mut faults = Vec::new();
    for (template, target) in different.into_iter().zip(found) {
        match target {
            Ok(target) => {
                targets.insert(template.name.as_str(), target);
            }
            Err(refused) => faults.push(not_dealt(&template.name, "", &refused)),
        }
    }
    if faults.is_empty() {
        Ok(targets)
    } else {
        Err(Faults(faults))
    }
}

/// How many students' draws of a problem another student has too.
pub fn identical_draws(students: &[DealtStudent], problem: usize) -> usize {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for student in students {
        if let Some(dealt) = student.problems.get(problem) {
            let values: Vec<_> = dealt.draw.values.iter().map(|value| value.ascii()).collect();
            *seen.entry(values.join(";")).or_default() += 1;
        }
    }
    seen.values().filter(|times| **times > 1).sum()
}

/// The templates of a set, in its order.
///
/// # Errors
/// Templates that the set names and the bank lacks.
pub fn templates(set: &Set, bank: &Bank) -> Checked<Vec<Arc<Template>>> {
    let mut found = Vec::with_capacity(set.problems.len());
    let mut faults = Vec::new();
    for problem in &set.problems {
        match bank.find(&problem.template) {
            Ok(template) => found.push(Arc::clone(template)),
            Err(Faults(found)) => {
                let place = Place::file(format!("sets/{}.yaml", set.name)).field("problems");
                faults.extend(found.into_iter().map(|fault| fault.at(place.clone())));
            }
        }
    }
    if faults.is_empty() {
        Ok(found)
    } else {
        Err(Faults(faults))
    }
}
