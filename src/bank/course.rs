//! A course folder's own files: `course.yaml`, `sets/NAME.yaml`, `roster.csv`.

use crate::fault::Checked;
use crate::hydraulics::regime::Limits;
use crate::quantity::DecimalMark;
use std::path::Path;

/// Which units worked solutions are written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// Metres, pascals, litres per second.
    #[default]
    Si,
    /// Feet, pounds per square inch, gallons per minute.
    UsCustomary,
}

/// How a course writes numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conventions {
    /// Units of worked solutions.
    pub units: UnitSystem,
    /// Point or comma.
    pub decimal_mark: DecimalMark,
    /// Significant figures that worked solutions print on the way.
    pub figures: u32,
    /// Significant figures to which handouts print (and problems use) properties of named fluids.
    pub property_figures: u32,
}

/// How marks are given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Policy {
    /// Share by which the friction factor may be misread, either way.
    pub reading_error: f64,
    /// Limits of the regimes.
    pub limits: Limits,
    /// Share of a part's marks for an answer that is right given the student's own earlier answers.
    pub follow_through_share: f64,
    /// Share of a part's marks for an answer that a known slip explains.
    pub slip_share: f64,
    /// An answer out of the band by less than this share of the band's half width is put before a person.
    pub review_margin: f64,
    /// Whether the answer 0.0016 counts where a unit was asked for and none written (taken in the unit asked).
    pub accept_missing_unit: bool,
}

/// `course.yaml`.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Name on papers.
    pub name: String,
    /// How numbers are written.
    pub conventions: Conventions,
    /// How marks are given.
    pub policy: Policy,
}

/// One problem of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct SetProblem {
    /// The template's name.
    pub template: String,
    /// Marks for the whole problem; the template's own where nothing is said. Parts share in proportion.
    pub marks: Option<f64>,
}

/// `sets/NAME.yaml`.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// Its name: that of its file without `.yaml`.
    pub name: String,
    /// Title on papers.
    pub title: String,
    /// When it is due, as it is to be printed.
    pub due: Option<String>,
    /// The problems, in order.
    pub problems: Vec<SetProblem>,
    /// The course's policy with the set's own changes.
    pub policy: Policy,
}

/// A student on the roster.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Student {
    /// Identifier, in Unicode normal form C, as printed; unique on the roster without regard to case.
    pub id: String,
    /// Name.
    pub name: String,
    /// Address for mail, where it is known.
    pub email: String,
}

impl Course {
    /// Reads `course.yaml` text.
    ///
    /// # Errors
    /// Every fault of the text, with its place.
    pub fn parse(yaml: &str, file: &str) -> Checked<Self> {
        let _ = (yaml, file);
        todo!()
    }

    /// Reads `FOLDER/course.yaml`.
    ///
    /// # Errors
    /// As [`Course::parse`], or a file that can't be read.
    pub fn read(folder: &Path) -> Checked<Self> {
        let _ = folder;
        todo!()
    }
}

impl Set {
    /// Reads the text of a set; policy it does not name is the course's.
    ///
    /// # Errors
    /// Every fault of the text, with its place.
    pub fn parse(yaml: &str, name: &str, file: &str, course: &Course) -> Checked<Self> {
        let _ = (yaml, name, file, course);
        todo!()
    }

    /// Reads `FOLDER/sets/NAME.yaml`.
    ///
    /// # Errors
    /// As [`Set::parse`], or a file that can't be read (then the sets that exist are named).
    pub fn read(folder: &Path, name: &str, course: &Course) -> Checked<Self> {
        let _ = (folder, name, course);
        todo!()
    }
}

/// Reads a roster: CSV with the columns id, name and (optionally) email, in any order.
///
/// # Errors
/// Every fault of the file, with its line: missing columns, empty or repeated ids.
pub fn roster(csv: &[u8], file: &str) -> Checked<Vec<Student>> {
    let _ = (csv, file);
    todo!()
}
