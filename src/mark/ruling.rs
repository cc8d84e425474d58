//! An instructor's rulings: `rulings/NAME.csv`. They always win, and nothing here loses one in silence.

use super::output::marks_text;
use super::read::Table;
use crate::fault::{Checked, Fault, Place};
use crate::store;
use std::path::Path;

/// Largest file of rulings that is read \[bytes\].
const LARGEST_RULINGS: u64 = 4 * 1024 * 1024;

/// Stands for all students in a ruling.
pub(super) const EVERYONE: &str = "*";

/// An instructor's decision on one answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Ruling {
    /// The student's identifier, as typed; `*` for all students.
    pub student: String,
    /// The problem's number in the set, as typed.
    pub problem: String,
    /// The part's name, as typed.
    pub part: String,
    /// The marks that the part gets.
    pub marks: f64,
    /// Why, for the student and the record; may be empty.
    pub note: String,
    /// Where it stands.
    pub place: Place,
}

/// All rulings of a set, in the order of the file. A ruling is never left out: with rows that can't be read nothing is marked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rulings {
    /// Those that can be read.
    pub(super) read: Vec<Ruling>,
    /// What is wrong with the others.
    pub(super) faults: Vec<Fault>,
}

impl Rulings {
    /// Reads `rulings/NAME.csv`; no file is no rulings.
    ///
    /// # Errors
    /// A file that can't be read. What is wrong with its rows is told by marking, together with what can't be given.
    pub fn read(path: &Path) -> Checked<Self> {
        if !path.exists() {
            return Ok(Self::default());
        }
        // Places of rulings stand on the review list, which does not depend on the working directory.
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let csv = store::read(path, LARGEST_RULINGS)?;
        Ok(Self::parse(&csv, &format!("rulings/{name}")))
    }

    /// Reads rulings: CSV with the columns student, problem, part, marks, note in any order and case.
    pub fn parse(csv: &[u8], file: &str) -> Self {
        let table = Table::read(csv, &["student", "problem", "part", "marks", "note"]);
        let at = |line: usize| {
            let mut place = Place::file(file);
            place.line = Some(line);
            place
        };
        let mut faults: Vec<Fault> = table
            .faults
            .into_iter()
            .map(|f| Fault::new(f.what).at(at(f.line)).mend(f.mend))
            .collect();
        let mut read = Vec::with_capacity(table.rows.len());
        for (line, [student, problem, part, marks, note]) in table.rows {
            // A decimal comma is as good as a point here: marks have no thousands.
            match marks.replacen(',', ".", 1).parse::<f64>() {
                Ok(number) if number.is_finite() && number >= 0.0 => read.push(Ruling {
                    student,
                    problem,
                    part,
                    marks: number,
                    note,
                    place: at(line),
                }),
                _ => faults.push(
                    Fault::new(format!("`{marks}` is not a number of marks"))
                        .at(at(line).field("marks"))
                        .mend("write a number from 0 to the part's marks, such as 1.5"),
                ),
            }
        }
        Self { read, faults }
    }
}

/// The fault of a ruling above what its part can give.
pub(super) fn too_many(ruling: &Ruling, out_of: f64) -> Fault {
    Fault::new(format!(
        "a ruling gives {} marks where `{}` of problem {} has {}",
        marks_text(ruling.marks),
        ruling.part,
        ruling.problem,
        marks_text(out_of)
    ))
    .at(ruling.place.clone().field("marks"))
    .mend(format!("write at most {}", marks_text(out_of)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rulings_are_read_and_a_bad_one_is_a_fault_with_its_line() {
        let rulings = Rulings::parse(
            b"student,problem,part,marks,note\nada,1,flow,1.5,read by hand\n",
            "r.csv",
        );
        assert_eq!(rulings.faults, []);
        assert_eq!(rulings.read[0].marks, 1.5);
        assert_eq!(rulings.read[0].note, "read by hand");
        let text = b"student;problem;part;marks;note\nada;1;flow;1,5;\nada;1;head;lots;\nada;1;f;-1;\nada;1;V;inf;\n";
        let lines: Vec<_> = Rulings::parse(text, "r.csv")
            .faults
            .iter()
            .map(|f| f.place.as_ref().and_then(|p| p.line))
            .collect();
        assert_eq!(lines, [Some(3), Some(4), Some(5)]);
    }

    #[test]
    fn no_file_is_no_rulings() {
        assert_eq!(
            Rulings::read(Path::new("no/such/rulings.csv")),
            Ok(Rulings::default())
        );
    }
}
