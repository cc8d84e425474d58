//! Answer files and what was dealt to verdicts, marks, rulings and feedback.
//!
//! [`Answers::read`] takes what was handed in, [`Rulings::read`] what the instructor decided, [`mark`] judges,
//! and [`Marked::files`] gives the marked folder. The same answers, rulings and deal give the same bytes, at any
//! number of threads. Depends on: `fault`, `store`, `jobs`, `quantity`, `hydraulics`, `bank`, `solution`, `band`, `deal`,
//! `handout`.

mod diagnose;
mod hint;
mod judge;
mod output;
mod pairs;
mod read;
mod ruling;
mod understand;

pub use diagnose::{Evidence, Stand, inseparable};
pub use hint::Hint;
pub(crate) use judge::with_slack;
pub use judge::{Judged, accepts, judge, slip_spans};
pub use output::{Reveal, answered_in, marks_text};
pub(crate) use output::{answer_text, csv_table, follows_text, key_text, slips_text};
pub use read::{Answers, LARGEST_FILE, LONGEST_CELL, Row};
pub use ruling::{Ruling, Rulings};
pub use understand::{Understood, is_blank, regime, understand};

use crate::deal::DealtStudent;
use crate::deal::record::Restored;
use crate::fault::{Checked, Faults, Place, nearest};
use crate::jobs::{cores, in_order};
use std::collections::BTreeMap;
use unicode_normalization::UnicodeNormalization;

/// What marking says of one answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// It lies in the band, or is one of the accepted words.
    InBand,
    /// It is right given the student's own earlier answers.
    FollowsThrough,
    /// A known slip explains it.
    KnownSlip,
    /// It could not be read, has the wrong dimension, or lacks a unit where that is refused: a person looks.
    Unclear,
    /// None of the others.
    Wrong,
    /// Nothing was written.
    Blank,
}

impl Verdict {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::InBand,
        Self::FollowsThrough,
        Self::KnownSlip,
        Self::Unclear,
        Self::Wrong,
        Self::Blank,
    ];

    /// Its name as it is written.
    pub fn name(self) -> &'static str {
        match self {
            Self::InBand => "in the band",
            Self::FollowsThrough => "follows through",
            Self::KnownSlip => "a known slip",
            Self::Unclear => "unclear",
            Self::Wrong => "wrong",
            Self::Blank => "blank",
        }
    }
}

/// Why something stands on the review list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ReviewKind {
    /// A remark that asks for nothing.
    Note,
    /// A file that could not be read.
    File,
    /// A row that could not be read.
    Row,
    /// A student who is not on the roster of the deal.
    UnknownStudent,
    /// A problem that the set does not have.
    UnknownProblem,
    /// A part that the problem does not have.
    UnknownPart,
    /// More than one answer to one part; the first in reading order was marked.
    Duplicate,
    /// An answer that could not be understood.
    Unclear,
    /// An answer just outside its band.
    JustOutside,
    /// A ruling that fits nothing, or one that a later one replaces.
    Ruling,
}

impl ReviewKind {
    /// Its name as it is written.
    pub fn name(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::File => "file not read",
            Self::Row => "row not read",
            Self::UnknownStudent => "unknown student",
            Self::UnknownProblem => "unknown problem",
            Self::UnknownPart => "unknown part",
            Self::Duplicate => "answered twice",
            Self::Unclear => "unclear",
            Self::JustOutside => "just outside the band",
            Self::Ruling => "ruling",
        }
    }
}

/// One line of the review list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Review {
    /// Why it stands there.
    pub kind: ReviewKind,
    /// The student, as far as known.
    pub student: String,
    /// The problem, as far as known.
    pub problem: String,
    /// The part, as far as known.
    pub part: String,
    /// What was typed.
    pub answer: String,
    /// Where it stands.
    pub place: Option<Place>,
    /// What is the matter.
    pub what: String,
    /// What to do about it; may be empty.
    pub mend: String,
    /// The reference answer of the part, where it is known.
    pub reference: String,
    /// Its band, as text; empty for words.
    pub band: String,
    /// The marks that the part can give, as printed.
    pub out_of: String,
}

impl Review {
    fn new(kind: ReviewKind, what: impl Into<String>, mend: impl Into<String>) -> Self {
        Self {
            kind,
            student: String::new(),
            problem: String::new(),
            part: String::new(),
            answer: String::new(),
            place: None,
            what: what.into(),
            mend: mend.into(),
            reference: String::new(),
            band: String::new(),
            out_of: String::new(),
        }
    }

    /// With what is needed to rule on a part without opening a key.
    fn with_key(mut self, key: &Key) -> Self {
        self.reference.clone_from(&key.reference);
        self.band.clone_from(&key.band);
        self.out_of = marks_text(key.out_of);
        self
    }

    fn of_row(kind: ReviewKind, row: &Row, answers: &Answers, what: String, mend: impl Into<String>) -> Self {
        Self {
            student: row.student.clone(),
            problem: row.problem.clone(),
            part: row.part.clone(),
            answer: row.answer.clone(),
            place: Some(answers.place(row)),
            ..Self::new(kind, what, mend)
        }
    }
}

/// What a part's key says, for a line of the review list.
struct Key {
    reference: String,
    band: String,
    out_of: f64,
}

impl Key {
    fn of(restored: &Restored, dealt: &DealtStudent, problem: usize, part: usize) -> Self {
        let (reference, band) = output::reference_and_band(&dealt.problems[problem], part);
        Self {
            reference,
            band,
            out_of: part_marks(restored, dealt, problem, part),
        }
    }
}

/// An answer under a part's name that the problem does not have.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Misnamed {
    /// The problem, as its index in the set.
    pub problem: usize,
    /// The part that is most likely meant, as its index in the template.
    pub near: Option<usize>,
    /// Whether a ruling on that part has settled it.
    pub ruled: bool,
    /// The name, as typed.
    pub name: String,
    /// The answer, as typed.
    pub typed: String,
}

/// One answer, marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// The problem, as its index in the set.
    pub problem: usize,
    /// The part, as its index in the template.
    pub part: usize,
    /// The answer as typed; empty where there is none.
    pub typed: String,
    /// What was found about it.
    pub judged: Judged,
    /// The marks given, the ruling's where there is one.
    pub marks: f64,
    /// The marks that the part can give.
    pub out_of: f64,
    /// The ruling that decided.
    pub ruling: Option<Ruling>,
}

/// All answers of one student, marked.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedStudent {
    /// Every part of every problem, in order.
    pub items: Vec<Item>,
    /// Answers under names that no part has; a person looks at them.
    pub misnamed: Vec<Misnamed>,
    /// Marks of each problem.
    pub problems: Vec<f64>,
    /// Whether any answer of theirs was found.
    pub handed_in: bool,
}

impl MarkedStudent {
    /// Marks of all problems together.
    pub fn total(&self) -> f64 {
        self.problems.iter().sum()
    }
}

/// A set, marked.
#[derive(Debug, Clone, PartialEq)]
pub struct Marked {
    /// The students, in the order of the deal.
    pub students: Vec<MarkedStudent>,
    /// Marks that each problem can give.
    pub out_of: Vec<f64>,
    /// What a person must look at, and remarks.
    pub review: Vec<Review>,
}

impl Marked {
    /// Whether something on the review list asks for a person.
    pub fn needs_a_person(&self) -> bool {
        self.review.iter().any(|r| r.kind != ReviewKind::Note)
    }

    /// Marks that the set can give.
    pub fn total_out_of(&self) -> f64 {
        self.out_of.iter().sum()
    }
}

/// An identifier as it is compared: Unicode normal form C, lower case, no blanks around it.
fn folded(id: &str) -> String {
    id.trim().nfc().flat_map(char::to_lowercase).collect()
}

/// A part's name as it is compared: also hyphens and underscores are blanks, and several blanks are one.
fn folded_name(name: &str) -> String {
    let spaced: String = name
        .nfc()
        .flat_map(char::to_lowercase)
        .map(|c| if c == '-' || c == '_' { ' ' } else { c })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The index of the problem that a cell names: `2`, `2.0`, `problem 2`, or the template's name.
fn problem_index(cell: &str, dealt: &DealtStudent) -> Option<usize> {
    let cell = cell.trim();
    let digits = match cell.get(..7) {
        Some(word) if word.eq_ignore_ascii_case("problem") => cell[7..].trim(),
        _ => cell,
    };
    let digits = digits
        .strip_suffix(".0")
        .or_else(|| digits.strip_suffix('.'))
        .unwrap_or(digits);
    if !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit()) {
        let number: usize = digits.parse().ok()?;
        return number.checked_sub(1).filter(|n| *n < dealt.problems.len());
    }
    let mut named = dealt
        .problems
        .iter()
        .enumerate()
        .filter(|(_, p)| p.template.name.eq_ignore_ascii_case(cell));
    // A set may hold a template twice; then its name says nothing.
    match (named.next(), named.next()) {
        (Some((i, _)), None) => Some(i),
        _ => None,
    }
}

fn part_index(cell: &str, dealt: &DealtStudent, problem: usize) -> Option<usize> {
    let parts = &dealt.problems[problem].template.parts;
    parts.iter().position(|p| p.name == cell.trim()).or_else(|| {
        let wanted = folded_name(cell);
        parts.iter().position(|p| folded_name(&p.name) == wanted)
    })
}

/// The part that a name most likely means: one with a word in common more than any other, or one spelt alike.
fn nearest_part(cell: &str, dealt: &DealtStudent, problem: usize) -> Option<usize> {
    let parts = &dealt.problems[problem].template.parts;
    let wanted = folded_name(cell);
    // Long cells are no mistyped names, and comparing them would take long.
    if wanted.chars().count() > 64 {
        return None;
    }
    let names: Vec<String> = parts.iter().map(|p| folded_name(&p.name)).collect();
    if let Some(near) = nearest(&wanted, names.iter().map(String::as_str)) {
        return names.iter().position(|n| n == near);
    }
    // The last word of a name says most: `flow velocity` is a velocity.
    let last = wanted.rsplit(' ').next();
    let in_common = |name: &str| {
        let shared = name
            .split(' ')
            .filter(|w| wanted.split(' ').any(|v| v == *w))
            .count();
        2 * shared + usize::from(shared > 0 && name.rsplit(' ').next() == last)
    };
    let most = names.iter().map(|n| in_common(n)).max().filter(|n| *n > 0)?;
    let mut best = (0..names.len()).filter(|i| in_common(&names[*i]) == most);
    match (best.next(), best.next()) {
        (Some(one), None) => Some(one),
        _ => None,
    }
}

/// Finds students by identifier.
struct Roster<'a> {
    exact: BTreeMap<&'a str, usize>,
    folded: BTreeMap<String, usize>,
    /// Suggestions are dear; a file full of strangers gets a limited number.
    suggestions: usize,
}

impl<'a> Roster<'a> {
    fn new(students: &'a [DealtStudent]) -> Self {
        Self {
            exact: students
                .iter()
                .enumerate()
                .map(|(i, s)| (s.student.id.as_str(), i))
                .collect(),
            folded: students
                .iter()
                .enumerate()
                .map(|(i, s)| (folded(&s.student.id), i))
                .collect(),
            suggestions: 100,
        }
    }

    fn find(&self, id: &str) -> Option<usize> {
        self.exact
            .get(id)
            .or_else(|| self.folded.get(&folded(id)))
            .copied()
    }

    /// What to do about an unknown identifier; `taken` says which students can't be meant.
    fn suggestion(&mut self, id: &str, taken: &dyn Fn(usize) -> bool) -> String {
        let Some(left) = self.suggestions.checked_sub(1) else {
            return "write the identifier as on the roster".into();
        };
        self.suggestions = left;
        if id.trim().is_empty() {
            return "write the identifier as on the roster".into();
        }
        let bare = folded(id);
        let without_zeros = bare.trim_start_matches('0');
        let free = || self.exact.iter().filter(|(_, i)| !taken(**i)).map(|(k, _)| *k);
        let zeros = free().find(|k| folded(k).trim_start_matches('0') == without_zeros);
        if let Some(known) = zeros {
            return format!("a spreadsheet drops leading zeros: is it `{known}`?");
        }
        // Long cells are no mistyped identifiers, and comparing them would take long.
        if bare.chars().count() <= 64
            && let Some(known) = nearest(id, free())
        {
            return format!("is it `{known}`?");
        }
        "write the identifier as on the roster".into()
    }
}

/// Marks answers against what was dealt.
///
/// Rulings win over verdicts. Each answer is judged from its student's answers alone, on all cores; nothing in the
/// outcome depends on how many there are.
///
/// # Errors
/// Rulings that can't be read, or that give a part more marks than it has, with their lines.
pub fn mark(restored: &Restored, answers: &Answers, rulings: &Rulings) -> Checked<Marked> {
    mark_on(restored, answers, rulings, cores())
}

/// As [`mark`], on a given number of threads.
///
/// # Errors
/// As [`mark`].
pub fn mark_on(restored: &Restored, answers: &Answers, rulings: &Rulings, threads: usize) -> Checked<Marked> {
    let students = &restored.students;
    let mut review = answers.review.clone();
    let mut roster = Roster::new(students);

    let mut rows: Vec<Vec<&Row>> = vec![Vec::new(); students.len()];
    let mut strangers = Vec::new();
    for row in &answers.rows {
        match roster.find(&row.student) {
            Some(student) => rows[student].push(row),
            // A blank sheet of a stranger holds nothing that could be lost.
            None if is_blank(&row.answer) && row.student.trim().is_empty() => {}
            None => strangers.push(row),
        }
    }
    for row in strangers {
        // Who handed in under their own name is hardly this stranger.
        let mend = roster.suggestion(&row.student, &|i| !rows[i].is_empty());
        let what = format!("no student `{}` was dealt this set", row.student);
        review.push(Review::of_row(
            ReviewKind::UnknownStudent,
            row,
            answers,
            what,
            mend,
        ));
    }

    let ruled = sort_rulings(restored, rulings, &mut roster, &mut review)?;

    let marked = in_order(students.len(), threads, |i| {
        mark_student(restored, &students[i], &rows[i], answers, &ruled[i])
    });
    let mut marked_students = Vec::with_capacity(marked.len());
    for (student, found) in marked {
        marked_students.push(student);
        review.extend(found);
    }
    for (marked, dealt) in marked_students.iter().zip(students) {
        if !marked.handed_in {
            review.push(Review {
                student: dealt.student.id.clone(),
                ..Review::new(ReviewKind::Note, "handed nothing in", "")
            });
        }
    }
    let out_of = (0..restored.set.problems.len())
        .map(|p| problem_marks(restored, p))
        .collect();
    Ok(Marked {
        students: marked_students,
        out_of,
        review,
    })
}

/// Marks that a problem of the set can give.
fn problem_marks(restored: &Restored, problem: usize) -> f64 {
    let own = || {
        restored
            .students
            .first()
            .and_then(|s| s.problems.get(problem))
            .map(|p| p.template.marks())
    };
    restored
        .set
        .problems
        .get(problem)
        .and_then(|p| p.marks)
        .or_else(own)
        .unwrap_or(0.0)
}

/// Marks that a part can give: the problem's marks, shared in proportion to the template's.
fn part_marks(restored: &Restored, dealt: &DealtStudent, problem: usize, part: usize) -> f64 {
    let template = &dealt.problems[problem].template;
    let own = template.parts[part].marks;
    match restored.set.problems.get(problem).and_then(|p| p.marks) {
        Some(marks) if template.marks() > 0.0 => own * marks / template.marks(),
        _ => own,
    }
}

/// Rulings by student and then by problem and part.
type Ruled<'a> = Vec<BTreeMap<(usize, usize), &'a Ruling>>;

fn sort_rulings<'a>(
    restored: &Restored,
    rulings: &'a Rulings,
    roster: &mut Roster<'_>,
    review: &mut Vec<Review>,
) -> Checked<Ruled<'a>> {
    let mut ruled: Ruled<'a> = vec![BTreeMap::new(); restored.students.len()];
    // What is ruled for all, such as of a part that was found to be at fault.
    let mut for_all = BTreeMap::new();
    let mut faults = rulings.faults.clone();
    for ruling in &rulings.read {
        let mut aside = |what: String, mend: String| {
            review.push(Review {
                student: ruling.student.clone(),
                problem: ruling.problem.clone(),
                part: ruling.part.clone(),
                place: Some(ruling.place.clone()),
                ..Review::new(ReviewKind::Ruling, what, mend)
            });
        };
        let is_for_all = ruling.student == ruling::EVERYONE;
        // All have the same problems and parts.
        let found = if is_for_all {
            Some(0)
        } else {
            roster.find(&ruling.student)
        };
        let Some(student) = found.filter(|student| *student < restored.students.len()) else {
            let mend = roster.suggestion(&ruling.student, &|_| false);
            aside(
                format!("a ruling names `{}`, who was not dealt this set", ruling.student),
                mend,
            );
            continue;
        };
        let dealt = &restored.students[student];
        let Some(problem) = problem_index(&ruling.problem, dealt) else {
            aside(
                format!("a ruling names problem `{}`", ruling.problem),
                numbers_of(dealt),
            );
            continue;
        };
        let Some(part) = part_index(&ruling.part, dealt, problem) else {
            aside(
                format!("a ruling names part `{}`", ruling.part),
                names_of(dealt, problem),
            );
            continue;
        };
        let out_of = part_marks(restored, dealt, problem, part);
        if ruling.marks > out_of && !is_full(ruling, out_of) {
            faults.push(ruling::too_many(ruling, out_of));
            continue;
        }
        let among = if is_for_all {
            &mut for_all
        } else {
            &mut ruled[student]
        };
        if let Some(earlier) = among.insert((problem, part), ruling)
            && earlier.marks != ruling.marks
        {
            aside(
                format!(
                    "two rulings differ; this one, with {} marks, counts",
                    marks_text(ruling.marks)
                ),
                format!("delete the other one ({})", earlier.place),
            );
        }
    }
    // A ruling on one student comes before one on all.
    for own in &mut ruled {
        for (at, ruling) in &for_all {
            own.entry(*at).or_insert(ruling);
        }
    }
    if faults.is_empty() {
        Ok(ruled)
    } else {
        faults.sort_by_key(|fault| fault.place.as_ref().map(|place| place.line));
        Err(Faults(faults))
    }
}

/// Whether a ruling gives full marks. They are printed to two decimals, and a ruling may repeat what was printed.
fn is_full(ruling: &Ruling, out_of: f64) -> bool {
    ruling.marks == out_of || marks_text(ruling.marks) == marks_text(out_of)
}

fn numbers_of(dealt: &DealtStudent) -> String {
    format!("write a number from 1 to {}", dealt.problems.len())
}

fn names_of(dealt: &DealtStudent, problem: usize) -> String {
    let names: Vec<String> = dealt.problems[problem]
        .template
        .parts
        .iter()
        .map(|p| format!("`{}`", p.name))
        .collect();
    format!("write one of {}", names.join(", "))
}

fn mark_student(
    restored: &Restored,
    dealt: &DealtStudent,
    rows: &[&Row],
    answers: &Answers,
    ruled: &BTreeMap<(usize, usize), &Ruling>,
) -> (MarkedStudent, Vec<Review>) {
    let mut review = Vec::new();
    let mut misnamed = Vec::new();
    let mut found: Vec<Vec<Vec<&Row>>> = dealt
        .problems
        .iter()
        .map(|p| vec![Vec::new(); p.template.parts.len()])
        .collect();
    for row in rows {
        let Some(problem) = problem_index(&row.problem, dealt) else {
            let what = format!("the set has no problem `{}`", row.problem);
            review.push(Review::of_row(
                ReviewKind::UnknownProblem,
                row,
                answers,
                what,
                numbers_of(dealt),
            ));
            continue;
        };
        let Some(part) = part_index(&row.part, dealt, problem) else {
            let what = format!("problem {} has no part `{}`", problem + 1, row.part);
            let near = nearest_part(&row.part, dealt, problem);
            let mend = match near {
                Some(part) => {
                    let name = &dealt.problems[problem].template.parts[part].name;
                    format!("is it `{name}`? Rule on `{name}`, or mend the name")
                }
                None => names_of(dealt, problem),
            };
            let is_ruled = near.is_some_and(|part| ruled.contains_key(&(problem, part)));
            if !is_ruled {
                let line = Review::of_row(ReviewKind::UnknownPart, row, answers, what, mend);
                review.push(match near {
                    Some(part) => line.with_key(&Key::of(restored, dealt, problem, part)),
                    None => line,
                });
            }
            if !is_blank(&row.answer) {
                misnamed.push(Misnamed {
                    problem,
                    near,
                    ruled: is_ruled,
                    name: row.part.clone(),
                    typed: row.answer.clone(),
                });
            }
            continue;
        };
        // An empty line beside a filled one is no second answer.
        if !is_blank(&row.answer) {
            found[problem][part].push(row);
        }
    }

    let mut items = Vec::new();
    let mut problems = Vec::with_capacity(dealt.problems.len());
    for (p, problem) in dealt.problems.iter().enumerate() {
        let typed: Vec<&str> = found[p]
            .iter()
            .map(|rows| rows.first().map_or("", |r| r.answer.as_str()))
            .collect();
        let judged = judge(
            problem,
            &typed,
            &restored.set.policy,
            &restored.course.conventions,
        );
        let mut sum = 0.0;
        for (i, judged) in judged.into_iter().enumerate() {
            let ruling = ruled.get(&(p, i)).map(|r| (*r).clone());
            let out_of = part_marks(restored, dealt, p, i);
            let marks = match &ruling {
                Some(ruling) if is_full(ruling, out_of) => out_of,
                Some(ruling) => ruling.marks.min(out_of),
                None => judged.share * out_of,
            };
            if ruling.is_none() {
                let key = || Key::of(restored, dealt, p, i);
                ask_for_a_person(&found[p][i], &judged, answers, &key, &mut review);
            }
            sum += marks;
            items.push(Item {
                problem: p,
                part: i,
                typed: typed[i].to_owned(),
                judged,
                marks,
                out_of,
                ruling,
            });
        }
        problems.push(sum);
    }
    (
        MarkedStudent {
            items,
            misnamed,
            problems,
            handed_in: !rows.is_empty(),
        },
        review,
    )
}

/// Puts an answer on the review list where it belongs there. A ruling has taken it off already.
fn ask_for_a_person(
    rows: &[&Row],
    judged: &Judged,
    answers: &Answers,
    key: &dyn Fn() -> Key,
    review: &mut Vec<Review>,
) {
    let Some(first) = rows.first() else { return };
    let before = review.len();
    let rule = "rule on it, or leave it as it is";
    if rows[1..].iter().any(|r| r.answer != first.answer) {
        for (i, row) in rows.iter().enumerate() {
            let what = match i {
                0 => format!("one of {} answers to this part; this one was marked", rows.len()),
                _ => format!(
                    "another answer to this part; the one at {} was marked",
                    answers.place(first)
                ),
            };
            review.push(Review::of_row(
                ReviewKind::Duplicate,
                row,
                answers,
                what,
                "rule on it, or remove the others",
            ));
        }
    }
    if judged.verdict == Verdict::Unclear {
        review.push(Review::of_row(
            ReviewKind::Unclear,
            first,
            answers,
            judged.why.clone(),
            rule,
        ));
    }
    if judged.near {
        let what = format!("{} ({})", judged.verdict.name(), judged.why);
        review.push(Review::of_row(
            ReviewKind::JustOutside,
            first,
            answers,
            what,
            rule,
        ));
    }
    // What asks for nothing is told all the same: an instructor may be kinder than the rule.
    if !judged.near
        && let Some(hint) = &judged.hint
    {
        let what = format!("wrong; a hint: {}", hint.text());
        review.push(Review::of_row(ReviewKind::Note, first, answers, what, ""));
    }
    if review.len() > before {
        let key = key();
        let asked = review.split_off(before);
        review.extend(asked.into_iter().map(|line| line.with_key(&key)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_compared_without_regard_to_case_marks_and_form() {
        assert_eq!(folded_name(" Friction-Factor "), folded_name("friction  factor"));
        assert_eq!(folded("A\u{301}da"), folded("ÁDA"));
    }
}
