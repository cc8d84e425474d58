//! `gradeline tables`: the sheet of formulas and tables.

use super::solve::Units;
use super::{Done, print};
use clap::ValueEnum;
use gradeline::bank::course::{self, Course};
use gradeline::equation::Style;
use gradeline::fault::{Checked, Fault};
use gradeline::handout::{Papers, reference};
use gradeline::solution::plain_blocks;
use gradeline::store;
use std::path::Path;

/// How the sheet is shown.
#[derive(Clone, Copy, PartialEq, ValueEnum)]
pub enum Format {
    /// For reading in the terminal
    Text,
    /// Markdown
    Md,
    /// A LaTeX document
    Tex,
    /// One HTML file
    Html,
    /// PDF; needs --output
    Pdf,
}

impl Format {
    /// The format of papers that this is.
    fn of_papers(self) -> Option<course::Format> {
        match self {
            Self::Text => None,
            Self::Md => Some(course::Format::Markdown),
            Self::Tex => Some(course::Format::Latex),
            Self::Html => Some(course::Format::Html),
            Self::Pdf => Some(course::Format::Pdf),
        }
    }
}

pub fn run(format: Format, units: Units, output: Option<&Path>) -> Checked<Done> {
    if matches!(format, Format::Pdf) && output.is_none() {
        return Err(Fault::new("a PDF is not for the terminal")
            .mend("name a file with --output")
            .into());
    }
    let mut course = Course::default();
    course.conventions.units = units.system();
    let sheet = match format.of_papers() {
        Some(format) => Papers::new(None)?.formula_sheet(format, &course)?,
        None => {
            let blocks = reference(&course.conventions, &course.policy.limits);
            plain_blocks(&blocks, Style::default()).into_bytes()
        }
    };
    match output {
        Some(path) => store::write(path, &sheet)?,
        None => print(&String::from_utf8_lossy(&sheet))?,
    }
    Ok(Done::Wholly)
}
