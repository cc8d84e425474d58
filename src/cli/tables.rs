//! `gradeline tables`: the sheet of formulas and tables.

use super::solve::Units;
use super::{Done, print};
use clap::ValueEnum;
use gradeline::bank::course::Course;
use gradeline::equation::Style;
use gradeline::fault::Checked;
use gradeline::handout::{Papers, REFERENCE_TITLE, Source, reference};
use gradeline::solution::plain_blocks;
use gradeline::store;
use std::path::Path;

/// How the sheet is shown.
#[derive(Clone, Copy, ValueEnum)]
pub enum Format {
    /// For reading in the terminal
    Text,
    /// Markdown
    Md,
    /// A LaTeX document
    Tex,
}

pub fn run(format: Format, units: Units, output: Option<&Path>) -> Checked<Done> {
    let mut course = Course::default();
    course.conventions.units = units.system();
    let blocks = reference(&course.conventions, &course.policy.limits);
    let text = match format {
        Format::Text => plain_blocks(&blocks, Style::default()),
        Format::Md => Papers::new(None)?.document(Source::Markdown, &course, REFERENCE_TITLE, &blocks)?,
        Format::Tex => Papers::new(None)?.document(Source::Latex, &course, REFERENCE_TITLE, &blocks)?,
    };
    match output {
        Some(path) => store::write(path, text.as_bytes())?,
        None => print(&text)?,
    }
    Ok(Done::Wholly)
}
