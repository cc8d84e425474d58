//! `gradeline mark SET ANSWERS...`: verdicts, marks, feedback, and what needs a person.

use super::deal::{read_record, record_path};
use super::{Done, first_five, print};
use gradeline::bank::course::{Course, Set};
use gradeline::deal::record::Restored;
use gradeline::fault::{Checked, Fault, Place};
use gradeline::mark::{self, Answers, Marked, Reveal, Rulings};
use gradeline::report::ClassReport;
use gradeline::store;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Largest item table of an earlier run read.
const ITEMS_LIMIT: u64 = 1 << 30;

/// What marking came to.
pub struct Summary {
    /// Lines of the review list that ask for a person.
    pub review: usize,
    /// A few lines about the class.
    pub text: String,
    /// What an instructor may not expect.
    pub remarks: Vec<String>,
}

pub fn run(folder: &Path, set: &str, answers: &[PathBuf], replace: bool) -> Checked<Done> {
    let summary = mark_into(folder, set, answers, replace)?;
    let place = folder.join("marked").join(set);
    let mut text = format!("{}\n{}\n", place.display(), summary.text);
    if summary.review > 0 {
        // Writing to a string can't fail.
        let _ = writeln!(
            text,
            "{} of review.csv: rule on an answer in {}",
            lines(summary.review),
            folder.join("rulings").join(format!("{set}.csv")).display()
        );
    }
    for remark in &summary.remarks {
        let _ = writeln!(text, "{remark}");
    }
    print(&text)?;
    Ok(if summary.review > 0 || !summary.remarks.is_empty() {
        Done::WithRemarks
    } else {
        Done::Wholly
    })
}

fn lines(count: usize) -> String {
    match count {
        1 => "A person should look at 1 line".into(),
        n => format!("A person should look at {n} lines"),
    }
}

/// Marks answers of a set and writes the marked folder; unless it may `replace` an earlier one, only where nobody's answers are missed.
pub fn mark_into(folder: &Path, set: &str, answers: &[PathBuf], replace: bool) -> Checked<Summary> {
    let path = record_path(folder, set);
    if !path.exists() {
        // In no course folder nothing can have been dealt.
        Course::read(folder)?;
        return Err(Fault::new(format!("the set `{set}` has not been dealt"))
            .at(Place::file(path.display().to_string()))
            .mend(format!("deal it first: gradeline deal {set}"))
            .into());
    }
    let restored = read_record(folder, set)?;
    let rulings = Rulings::read(&folder.join("rulings").join(format!("{set}.csv")))?;
    let answers = Answers::read(answers)?;
    let marked = mark::mark(&restored, &answers, &rulings)?;
    let report = ClassReport::new(&restored, &marked);
    let place = folder.join("marked").join(set);
    if !replace {
        nobody_left_out(&place, &restored, &marked)?;
    }
    let remarks = other_policy(folder, &restored.set).into_iter().collect();
    let mut files = marked.files(&restored, Reveal::Key);
    report.add_to(&mut files);
    store::write_folder(&place, &files)?;
    Ok(Summary {
        review: report.for_a_person,
        text: summary(&report),
        remarks,
    })
}

/// Refuses where somebody had answers when the set was marked before and has none now: a grader with latecomers may name their folder
/// alone, and everybody else would be left with nothing.
fn nobody_left_out(place: &Path, restored: &Restored, marked: &Marked) -> Checked<()> {
    let items = place.join("items.csv");
    if !items.exists() {
        return Ok(());
    }
    let before = mark::answered_in(&store::read(&items, ITEMS_LIMIT)?);
    let missing: Vec<&str> = (restored.students.iter().zip(&marked.students))
        .filter(|(dealt, marked)| !marked.handed_in && before.contains(&dealt.student.id))
        .map(|(dealt, _)| dealt.student.id.as_str())
        .collect();
    if missing.is_empty() {
        return Ok(());
    }
    Err(Fault::new(format!(
        "when this set was marked before, {} had answers who have none now: {}",
        students(missing.len()),
        first_five(&missing)
    ))
    .at(Place::file(items.display().to_string()))
    .mend(
        "name all files and folders of answers together, or add --replace if those answers are not to count",
    )
    .into())
}

fn students(count: usize) -> String {
    match count {
        1 => "1 student".into(),
        n => format!("{n} students"),
    }
}

/// What the course's policy says otherwise than it did when the set was dealt, which is what marks follow.
fn other_policy(folder: &Path, dealt: &Set) -> Option<String> {
    // A course that can't be read now can be marked all the same.
    let now = Set::read(folder, &dealt.name, &Course::read(folder).ok()?, None).ok()?;
    let unlike = now.policy.unlike(&dealt.policy);
    (!unlike.is_empty()).then(|| {
        format!(
            "The policy has changed since this set was dealt ({}). Marks follow what was dealt; to mark by the new one, deal \
             the set again: gradeline deal {}",
            unlike.join(", "),
            dealt.name
        )
    })
}

fn summary(report: &ClassReport) -> String {
    let mut text = format!("{} of {} students handed in", report.handed_in, report.students);
    if let Some(totals) = report.totals {
        let out_of: f64 = report.out_of.iter().sum();
        let _ = write!(
            text,
            "; marks of {}: mean {}, median {}, from {} to {}",
            mark::marks_text(out_of),
            mark::marks_text(totals.mean),
            mark::marks_text(totals.median),
            mark::marks_text(totals.least),
            mark::marks_text(totals.greatest)
        );
    }
    text
}
