//! `gradeline mark SET ANSWERS...`: verdicts, marks, feedback, and what needs a person.

use super::deal::{read_record, record_path};
use super::{Done, print};
use gradeline::fault::{Checked, Fault, Place};
use gradeline::mark::{self, Answers, Reveal, Rulings};
use gradeline::report::ClassReport;
use gradeline::store;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// What marking came to.
pub struct Summary {
    /// Lines of the review list that ask for a person.
    pub review: usize,
    /// A few lines about the class.
    pub text: String,
}

pub fn run(folder: &Path, set: &str, answers: &[PathBuf]) -> Checked<Done> {
    let summary = mark_into(folder, set, answers)?;
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
    print(&text)?;
    Ok(if summary.review > 0 {
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

/// Marks answers of a set and writes the marked folder.
pub fn mark_into(folder: &Path, set: &str, answers: &[PathBuf]) -> Checked<Summary> {
    let path = record_path(folder, set);
    if !path.exists() {
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
    let mut files = marked.files(&restored, Reveal::Key);
    report.add_to(&mut files);
    store::write_folder(&folder.join("marked").join(set), &files)?;
    Ok(Summary {
        review: report.for_a_person,
        text: summary(&report),
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
