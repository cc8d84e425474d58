//! The marked folder: gradebook, item table, review list, and feedback for each student.

use super::diagnose::{Evidence, Stand};
use super::read::Table;
use super::{Item, Judged, Marked, MarkedStudent, Understood, Verdict};
use crate::band::Accepted;
use crate::band::slip::Slip;
use crate::bank::template::{Asked, Part};
use crate::deal::record::Restored;
use crate::deal::{Dealt, DealtStudent};
use crate::handout::{escape_markdown, guarded};
use crate::jobs::{cores, in_order};
use crate::quantity::{DecimalMark, Shown, Unit, Written, round_to_figures};
use crate::solution::Answer;
use crate::store::{Files, safe_name};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Figures that a band's ends are printed with beyond those that were asked: enough that rounding them does not
/// move an answer across.
const MORE_FIGURES: u32 = 2;

/// Room to make for each row of the item table, and for each answer's feedback \[bytes\]; most fit.
const ROW_BYTES: usize = 160;
const FEEDBACK_BYTES: usize = 256;

/// Marks as they are printed: at most two decimals, none that say nothing.
pub fn marks_text(marks: f64) -> String {
    // Almost all marks are whole, and a whole number is written several times as fast.
    if marks.fract() == 0.0 && marks.abs() < 1e15 {
        return (marks as i64).to_string();
    }
    let text = format!("{marks:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// Rows of cells as CSV.
pub(crate) fn csv_table<R: AsRef<[String]>>(rows: impl IntoIterator<Item = R>) -> Vec<u8> {
    let mut out = Vec::new();
    for row in rows {
        csv_row(row.as_ref(), &mut out);
    }
    out
}

/// One row of cells as CSV, every cell guarded; lines end as RFC 4180 has them.
fn csv_row(cells: &[impl AsRef<str>], out: &mut Vec<u8>) {
    for (i, cell) in cells.iter().enumerate() {
        if i > 0 {
            out.push(b',');
        }
        let cell = guarded(cell.as_ref());
        if cell
            .bytes()
            .any(|b| matches!(b, b',' | b'"' | b'\n' | b'\r' | b';' | b'\t'))
            || cell.starts_with(' ')
            || cell.ends_with(' ')
        {
            out.push(b'"');
            out.extend_from_slice(cell.replace('"', "\"\"").as_bytes());
            out.push(b'"');
        } else {
            out.extend_from_slice(cell.as_bytes());
        }
    }
    out.extend_from_slice(b"\r\n");
}

/// The columns of the item table.
const ITEM_COLUMNS: [&str; 15] = [
    "student",
    "problem",
    "part",
    "as typed",
    "as understood",
    "unit",
    "reference",
    "band low",
    "band high",
    "verdict",
    "slip",
    "marks",
    "out of",
    "why",
    "ruling",
];

/// What the feedback shows of the key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Reveal {
    /// The reference answer and the band of every part: for a set that is over.
    #[default]
    Key,
    /// Nothing of the key: for a set that may be tried again.
    Nothing,
}

/// The students with an answer in an item table that was written before.
pub fn answered_in(items: &[u8]) -> BTreeSet<String> {
    (Table::read(items, &["student", "as typed"]).rows.into_iter())
        .filter(|(_, [_, typed])| !typed.is_empty())
        .map(|(_, [student, _])| student)
        .collect()
}

impl Marked {
    /// The marked folder: `gradebook.csv`, `items.csv`, `review.csv`, `feedback/STUDENT.md`; made on all cores.
    pub fn files(&self, restored: &Restored, reveal: Reveal) -> Files {
        self.files_on(restored, reveal, cores())
    }

    /// As [`Marked::files`], on a given number of threads.
    pub fn files_on(&self, restored: &Restored, reveal: Reveal, threads: usize) -> Files {
        let students: Vec<_> = self.students.iter().zip(&restored.students).collect();
        let made = in_order(students.len(), threads, |i| {
            let (marked, dealt) = students[i];
            let mut rows = Vec::with_capacity(ROW_BYTES * marked.items.len());
            item_rows(marked, dealt, &mut rows);
            (rows, self.feedback(restored, dealt, marked, reveal))
        });
        let mut items = Vec::new();
        csv_row(&ITEM_COLUMNS, &mut items);
        for (rows, _) in &made {
            items.extend_from_slice(rows);
        }
        let mut files = Files::new();
        files.add("gradebook.csv", self.gradebook(restored));
        files.add("items.csv", items);
        files.add("review.csv", self.review_list());
        for ((_, feedback), (_, dealt)) in made.into_iter().zip(students) {
            let name = format!("feedback/{}.md", safe_name(&dealt.student.id));
            files.add(name, feedback.into_bytes());
        }
        files
    }

    /// One line a student: identifier, name, marks of each problem, total, out of.
    pub fn gradebook(&self, restored: &Restored) -> Vec<u8> {
        let mut head = vec!["student".to_owned(), "name".to_owned()];
        head.extend((1..=self.out_of.len()).map(|n| format!("problem {n}")));
        head.extend(["total".to_owned(), "out of".to_owned()]);
        let rows = self
            .students
            .iter()
            .zip(&restored.students)
            .map(|(marked, dealt)| {
                let mut row = vec![dealt.student.id.clone(), dealt.student.name.clone()];
                row.extend(marked.problems.iter().map(|m| marks_text(*m)));
                row.extend([marks_text(marked.total()), marks_text(self.total_out_of())]);
                row
            });
        csv_table(std::iter::once(head).chain(rows))
    }

    /// One line an answer: as typed, as understood in the unit asked, the band, and what was made of it.
    pub fn items(&self, restored: &Restored) -> Vec<u8> {
        let mut out = Vec::new();
        csv_row(&ITEM_COLUMNS, &mut out);
        for (marked, dealt) in self.students.iter().zip(&restored.students) {
            item_rows(marked, dealt, &mut out);
        }
        out
    }

    /// What a person must look at, and remarks.
    pub fn review_list(&self) -> Vec<u8> {
        let head = [
            "kind",
            "student",
            "problem",
            "part",
            "answer",
            "reference",
            "band",
            "out of",
            "file",
            "line",
            "what",
            "to do",
        ];
        let rows = self.review.iter().map(|r| {
            let (file, line) = match &r.place {
                Some(place) => (
                    place.file.clone(),
                    place.line.map(|l| l.to_string()).unwrap_or_default(),
                ),
                None => (String::new(), String::new()),
            };
            [
                r.kind.name().to_owned(),
                r.student.clone(),
                r.problem.clone(),
                r.part.clone(),
                r.answer.clone(),
                r.reference.clone(),
                r.band.clone(),
                r.out_of.clone(),
                file,
                line,
                r.what.clone(),
                r.mend.clone(),
            ]
        });
        csv_table(std::iter::once(head.map(str::to_owned)).chain(rows))
    }

    /// What one student is told.
    pub fn feedback(
        &self,
        restored: &Restored,
        dealt: &DealtStudent,
        marked: &MarkedStudent,
        reveal: Reveal,
    ) -> String {
        let mark = restored.course.conventions.decimal_mark;
        let mut out = String::with_capacity(FEEDBACK_BYTES * (marked.items.len() + 4));
        let student = if dealt.student.name.is_empty() {
            &dealt.student.id
        } else {
            &dealt.student.name
        };
        let _ = writeln!(
            out,
            "# {}: feedback for {}\n",
            escape_markdown(&restored.set.title),
            escape_markdown(student)
        );
        let _ = writeln!(
            out,
            "**{} of {} marks.**\n",
            decimal(marked.total(), mark),
            decimal(self.total_out_of(), mark)
        );
        if !marked.handed_in {
            out.push_str("No answers of yours were found. If you handed some in, tell your instructor.\n\n");
        }
        for (p, problem) in dealt.problems.iter().enumerate() {
            let _ = writeln!(
                out,
                "## Problem {}: {} ({} of {})\n",
                p + 1,
                escape_markdown(&problem.template.title),
                decimal(marked.problems[p], mark),
                decimal(self.out_of[p], mark)
            );
            // A slip is told with its advice where it first shows.
            let mut told: Option<&Item> = None;
            for item in marked.items.iter().filter(|i| i.problem == p) {
                out.push_str("- ");
                let astray = marked
                    .misnamed
                    .iter()
                    .any(|m| m.problem == p && m.near.is_none_or(|near| near == item.part));
                let same = told.filter(|first| first.judged.slips == item.judged.slips);
                item_feedback(problem, item, mark, reveal, astray, same, &mut out);
                out.push('\n');
                if item.ruling.is_none() && item.judged.verdict == Verdict::KnownSlip && same.is_none() {
                    told = Some(item);
                }
            }
            for misnamed in marked.misnamed.iter().filter(|m| m.problem == p) {
                let _ = writeln!(
                    out,
                    "- You also wrote “{}” for “{}”, which is not the name of a part here. Your instructor {} it.",
                    escape_markdown(&misnamed.typed),
                    escape_markdown(&misnamed.name),
                    if misnamed.ruled {
                        "has looked at"
                    } else {
                        "will look at"
                    }
                );
            }
            out.push('\n');
        }
        let help = "An answer is in the band when careful work can reach it: two readers of one chart differ, and both \
                    are right. If you think that something was misread, ask your instructor, who can rule on it.\n";
        out.push_str(help);
        out
    }
}

fn decimal(marks: f64, mark: DecimalMark) -> String {
    let text = marks_text(marks);
    match mark {
        DecimalMark::Point => text,
        DecimalMark::Comma => text.replace('.', ","),
    }
}

/// The rows of the item table of one student.
fn item_rows(marked: &MarkedStudent, dealt: &DealtStudent, out: &mut Vec<u8>) {
    for item in &marked.items {
        let problem = &dealt.problems[item.problem];
        let part = &problem.template.parts[item.part];
        let (unit, reference, low, high) = match (&part.asked, &problem.accepted[item.part]) {
            (Asked::Number { unit, figures, .. }, Accepted::Number(band)) => (
                unit.symbol.as_str(),
                number(band.reference.value, unit, *figures),
                number(band.low, unit, *figures + MORE_FIGURES),
                number(band.high, unit, *figures + MORE_FIGURES),
            ),
            (_, Accepted::OneOf(answers)) => ("", words(answers), String::new(), String::new()),
            _ => Default::default(),
        };
        let slips: Vec<String> = (item.judged.slips.iter())
            .map(|group| group.iter().map(|s| &*s.name).collect::<Vec<_>>().join("; "))
            .collect();
        let ruling = match &item.ruling {
            Some(r) if r.note.is_empty() => "ruled".into(),
            Some(r) => format!("ruled: {}", r.note),
            None => String::new(),
        };
        let cells: [&str; ITEM_COLUMNS.len()] = [
            &dealt.student.id,
            &(item.problem + 1).to_string(),
            &part.name,
            &item.typed,
            &understood_cell(&item.judged.understood, part),
            unit,
            &reference,
            &low,
            &high,
            item.judged.verdict.name(),
            &slips.join(" + "),
            &marks_text(item.marks),
            &marks_text(item.out_of),
            &item.judged.why,
            &ruling,
        ];
        csv_row(&cells, out);
    }
}

/// A number in a unit, as spreadsheets read it.
fn number(si: f64, unit: &Unit, figures: u32) -> String {
    Shown::new(unit.from_si(si), figures).ascii()
}

/// The reference answer of a part and its band as texts, for the instructor; words have no band.
pub(super) fn reference_and_band(dealt: &Dealt, part: usize) -> (String, String) {
    match (&dealt.accepted[part], &dealt.template.parts[part].asked) {
        (Accepted::Number(band), Asked::Number { unit, figures, .. }) => {
            let show = |si: f64, figures: u32| {
                Written::from_si(si, unit, figures)
                    .shown
                    .plain(DecimalMark::Point)
            };
            let unit_text = if unit.symbol.is_empty() {
                String::new()
            } else {
                format!(" {}", unit.symbol)
            };
            (
                format!("{}{unit_text}", show(band.reference.value, *figures)),
                format!(
                    "{} to {}{unit_text}",
                    show(band.low, *figures + 1),
                    show(band.high, *figures + 1)
                ),
            )
        }
        (Accepted::OneOf(answers), _) => (words(answers), String::new()),
        _ => Default::default(),
    }
}

/// Accepted words as one text.
fn words(answers: &[Answer]) -> String {
    let words: Vec<&str> = answers.iter().map(word).collect();
    words.join(" or ")
}

/// The word of an answer that is one.
fn word(answer: &Answer) -> &str {
    match answer {
        Answer::Regime(regime) => regime.name(),
        Answer::Choice(word) => word,
        Answer::Number(_) => "",
    }
}

/// The figures to repeat an answer with: as typed, but no fewer than asked and no more than can count.
fn figures_of(typed: u32, asked: u32) -> u32 {
    typed.clamp(asked.min(9), 9)
}

/// A number that was typed, in the unit asked: zeros at its end that say nothing are left out.
fn repeated(si: f64, unit: &Unit, typed: u32, asked: u32) -> Written {
    let most = figures_of(typed, asked);
    let number = Written::from_si(si, unit, most).number;
    let figures = (asked.min(most)..most).find(|n| round_to_figures(number, *n) == number);
    Written::from_si(si, unit, figures.unwrap_or(most))
}

/// Whether a number was typed in the unit asked, so that nothing had to be understood.
fn is_as_typed(typed: &str, answer: &Answer, asked: &Asked, mark: DecimalMark) -> bool {
    let (Answer::Number(q), Asked::Number { unit, .. }) = (answer, asked) else {
        return false;
    };
    Written::parse_in(typed, mark)
        .is_ok_and(|written| written.unit.symbol == unit.symbol && written.quantity().value == q.value)
}

fn understood_cell(understood: &Understood, part: &Part) -> String {
    match (understood, &part.asked) {
        (Understood::Answer(Answer::Number(q), typed), Asked::Number { unit, figures, .. }) => {
            number(q.value, unit, figures_of(*typed, *figures))
        }
        (Understood::Answer(answer, _), _) => word(answer).to_owned(),
        _ => String::new(),
    }
}

/// An answer in words for a student, in the unit asked.
pub(crate) fn answer_text(answer: &Answer, asked: &Asked, typed: u32, mark: DecimalMark) -> String {
    match (answer, asked) {
        (Answer::Number(q), Asked::Number { unit, figures, .. }) => {
            repeated(q.value, unit, typed, *figures).plain(mark)
        }
        (answer, _) => word(answer).to_owned(),
    }
}

/// The reference answer and what else is accepted, in words.
pub(crate) fn key_text(dealt: &Dealt, part: usize, mark: DecimalMark) -> String {
    match (&dealt.accepted[part], &dealt.template.parts[part].asked) {
        (Accepted::Number(band), Asked::Number { unit, figures, .. }) => {
            let show = |si: f64, figures: u32| Written::from_si(si, unit, figures).plain(mark);
            format!(
                "{}; from {} to {} is in the band",
                show(band.reference.value, *figures),
                show(band.low, *figures + 1),
                show(band.high, *figures + 1)
            )
        }
        (Accepted::OneOf(answers), _) => words(answers),
        _ => String::new(),
    }
}

/// What a student is told of one answer, on one line but for several numbers that a slip explains; `astray` where an answer under an unknown name may be meant
/// for it; `told` is an answer before it to which the same slips were told.
fn item_feedback(
    problem: &Dealt,
    item: &Item,
    mark: DecimalMark,
    reveal: Reveal,
    astray: bool,
    told: Option<&Item>,
    text: &mut String,
) {
    let part = &problem.template.parts[item.part];
    let judged = &item.judged;
    let _ = write!(
        text,
        "**{}** ({} of {}): ",
        escape_markdown(&part.name),
        decimal(item.marks, mark),
        decimal(item.out_of, mark)
    );
    if judged.verdict != Verdict::Blank {
        let _ = write!(text, "you wrote “{}”", escape_markdown(&item.typed));
        match &judged.understood {
            Understood::Answer(answer, typed) => {
                let understood = answer_text(answer, &part.asked, *typed, mark);
                if understood != item.typed && !is_as_typed(&item.typed, answer, &part.asked, mark) {
                    let _ = write!(text, ", understood as {}", escape_markdown(&understood));
                }
            }
            Understood::Unclear(_) | Understood::Open(..) if item.ruling.is_some() => {
                text.push_str(", which the program could not read");
            }
            _ => {}
        }
        text.push_str(". ");
    }
    match &item.ruling {
        // What a person found stands in place of what the program made of it.
        Some(ruling) => {
            if judged.verdict == Verdict::Blank {
                text.push_str("no answer was found. ");
            }
            let marks = decimal(item.marks, mark);
            let _ = match ruling.note.as_str() {
                "" => write!(text, "Your instructor has looked at this and gives {marks}."),
                note => {
                    let stop = if note.ends_with(['.', '!', '?']) { "" } else { "." };
                    write!(
                        text,
                        "Your instructor has looked at this and gives {marks}: {}{stop}",
                        escape_markdown(note)
                    )
                }
            };
        }
        None => verdict_feedback(problem, item, mark, astray, told, text),
    }
    if reveal == Reveal::Key {
        let _ = write!(
            text,
            " Reference: {}.",
            escape_markdown(&key_text(problem, item.part, mark))
        );
    }
    // Several numbers are easier to compare one below the other.
    let judged = &item.judged;
    let fits = evidence_lines(&problem.template.parts, judged, mark);
    if item.ruling.is_none() && judged.verdict == Verdict::KnownSlip && fits.len() > 1 {
        let _ = write!(text, " With {}:", that(judged));
        for line in fits {
            let _ = write!(text, "\n  - {}", escape_markdown(&line));
        }
    }
}

/// What a student is told of the slips: one, two, or one of several.
fn that(judged: &Judged) -> &'static str {
    match judged.slips.as_slice() {
        [one] if one.len() > 1 => "either",
        [_] => "this slip",
        _ => "both slips",
    }
}

/// What a student is told of a verdict that no ruling replaces.
fn verdict_feedback(
    problem: &Dealt,
    item: &Item,
    mark: DecimalMark,
    astray: bool,
    told: Option<&Item>,
    text: &mut String,
) {
    let judged = &item.judged;
    let is_number = matches!(problem.template.parts[item.part].asked, Asked::Number { .. });
    match judged.verdict {
        Verdict::InBand if is_number => text.push_str("In the band."),
        Verdict::InBand => text.push_str("Right."),
        Verdict::FollowsThrough => text.push_str(&escape_markdown(&follows_text(
            &problem.template.parts,
            &judged.follows,
            is_number,
        ))),
        Verdict::KnownSlip => {
            let parts = &problem.template.parts;
            let mut said = match told.and_then(|first| parts.get(first.part)) {
                Some(first) => {
                    let two = if judged.slips.len() > 1 {
                        "two slips"
                    } else {
                        "slip"
                    };
                    format!(
                        "The same {two} as in {}: {}.",
                        first.name,
                        slips_named(&judged.slips)
                    )
                }
                None => slips_text(&judged.slips),
            };
            if let [one] = evidence_lines(parts, judged, mark).as_slice() {
                let _ = write!(said, " With {}, {one}.", that(judged));
            }
            let _ = write!(text, "Not right. {}", escape_markdown(&said));
        }
        Verdict::Unclear => {
            let _ = write!(
                text,
                "This could not be understood: {}. Your instructor will look at it.",
                escape_markdown(&quoted(&judged.why))
            );
        }
        Verdict::Wrong if is_number => text.push_str("Not in the band."),
        Verdict::Wrong => text.push_str("Not right."),
        Verdict::Blank if astray => text.push_str("no answer under this name; see below."),
        Verdict::Blank => text.push_str("no answer."),
    }
    if let Some(hint) = &judged.hint {
        let _ = write!(text, " {}", escape_markdown(&hint.sentence()));
    }
}

/// Marks of code as quotation marks: students read prose.
fn quoted(text: &str) -> String {
    let mut open = false;
    text.chars()
        .map(|c| match c {
            '`' => {
                open = !open;
                if open { '“' } else { '”' }
            }
            other => other,
        })
        .collect()
}

/// That an answer follows from earlier ones, for the student.
pub(crate) fn follows_text(parts: &[Part], follows: &[usize], is_number: bool) -> String {
    let names: Vec<&str> = follows.iter().map(|p| parts[*p].name.as_str()).collect();
    let names = match names.as_slice() {
        [before @ .., last] if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        names => names.concat(),
    };
    if is_number {
        format!("Not in the band, but it follows from your own {names}: this step is right, so look there.")
    } else {
        format!("Not the reference, but right given your own {names}.")
    }
}

/// How a student's numbers stand to what some slips lead to, for the instructor, in the units asked.
pub(super) fn evidence_text(parts: &[Part], evidence: &[Evidence]) -> String {
    let mark = DecimalMark::Point;
    let mut said = Vec::with_capacity(evidence.len());
    for of in evidence {
        let Some((name, answer, span)) = evidence_numbers(parts, of, mark) else {
            continue;
        };
        said.push(match of.stand {
            Stand::There => format!("{name} {answer}, with it {span}"),
            Stand::Spared => format!("but {name} in the band, with it {span}"),
            Stand::Follows => format!("but {name} follows through, with it {span}"),
            Stand::Elsewhere => format!("but {name} {answer}, with it {span}"),
            // What it does not move says nothing.
            Stand::Unmoved => continue,
        });
    }
    said.join("; ")
}

/// The name of a part, the student's number, and the ends of what the slips lead to.
fn evidence_numbers<'a>(
    parts: &'a [Part],
    evidence: &Evidence,
    mark: DecimalMark,
) -> Option<(&'a str, String, String)> {
    let part = parts.get(evidence.part)?;
    let Asked::Number { unit, figures, .. } = &part.asked else {
        return None;
    };
    let show = |si: f64| Written::from_si(si, unit, *figures).plain(mark);
    let bare = |si: f64| Written::from_si(si, unit, *figures).shown.plain(mark);
    let (low, high) = evidence.span;
    let span = if bare(low) == bare(high) {
        show(low)
    } else {
        // A unit whose zero lies elsewhere, or that counts downwards, turns the ends round.
        let (first, last) = if unit.from_si(low) <= unit.from_si(high) {
            (low, high)
        } else {
            (high, low)
        };
        format!("{} to {}", bare(first), show(last))
    };
    Some((&part.name, show(evidence.answer), span))
}

/// For the student: where their numbers lie if the slips were made, each by itself.
fn evidence_lines(parts: &[Part], judged: &Judged, mark: DecimalMark) -> Vec<String> {
    (judged.evidence.iter())
        .filter(|of| of.stand == Stand::There)
        .filter_map(|of| evidence_numbers(parts, of, mark))
        .map(|(name, answer, span)| format!("{name} would be {span}, and yours is {answer}"))
        .collect()
}

/// The names of slips: `one or another`, and of two that were made together `one, together with another`.
pub(super) fn slips_named(slips: &[Vec<Slip>]) -> String {
    let groups: Vec<String> = (slips.iter())
        .map(|group| {
            group
                .iter()
                .map(|slip| &*slip.name)
                .collect::<Vec<_>>()
                .join(" or ")
        })
        .collect();
    groups.join(", together with ")
}

/// The slips that an answer looks like, each with its advice: a hint, no verdict.
pub(crate) fn slips_text(slips: &[Vec<Slip>]) -> String {
    let groups: Vec<String> = (slips.iter())
        .map(|group| {
            let said: Vec<String> = group
                .iter()
                .map(|s| format!("{}. {}", s.name, s.advice))
                .collect();
            said.join(" Or: ")
        })
        .collect();
    match groups.as_slice() {
        [one, other] => format!("This looks like two slips at once. One: {one} The other: {other}"),
        _ => {
            let several = slips.iter().any(|group| group.len() > 1);
            let lead = if several {
                "This looks like one of these: "
            } else {
                "This looks like: "
            };
            format!("{lead}{}", groups.concat())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_have_no_tail() {
        for (marks, text) in [
            (0.1 + 0.2, "0.3"),
            (2.0, "2"),
            (0.0, "0"),
            (10.0, "10"),
            (1.0 / 3.0, "0.33"),
            (-1e-9, "0"),
            (1.5, "1.5"),
        ] {
            assert_eq!(marks_text(marks), text);
        }
    }

    #[test]
    fn only_what_was_understood_otherwise_is_said_again() {
        let asked = |unit: &str, figures| Asked::Number {
            unit: Unit::parse(unit).unwrap(),
            figures,
            formula: crate::equation::Expr::parse("Q").unwrap(),
        };
        for (typed, unit, said) in [
            ("149000", "", None),
            ("1.49e5", "", None),
            ("0.024", "", None),
            ("174000 kPa", "kPa", None),
            ("174 000 Pa", "kPa", Some("174 kPa")),
            ("60 L/min", "L/s", Some("1.00 L/s")),
            ("60.25 L/min", "L/s", Some("1.004 L/s")),
        ] {
            let written = Written::parse(typed).unwrap();
            let answer = Answer::Number(written.quantity());
            let asked = asked(unit, 3);
            let mark = DecimalMark::Point;
            assert_eq!(
                is_as_typed(typed, &answer, &asked, mark),
                said.is_none(),
                "{typed}"
            );
            if let Some(said) = said {
                assert_eq!(answer_text(&answer, &asked, written.figures, mark), said);
            }
        }
    }

    #[test]
    fn no_cell_begins_a_formula() {
        let cells = [
            "=1+1",
            "+x",
            "-3.2 kPa",
            "-3.2",
            "@a",
            "plain",
            "a,b",
            "say \"so\"",
            "＝1",
        ]
        .map(str::to_owned);
        assert_eq!(
            String::from_utf8(csv_table([cells])).unwrap(),
            "'=1+1,'+x,'-3.2 kPa,-3.2,'@a,plain,\"a,b\",\"say \"\"so\"\"\",'＝1\r\n"
        );
    }
}
