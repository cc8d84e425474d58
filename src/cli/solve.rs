//! `gradeline solve FILE`: one system, solved and shown.

use super::{Done, print};
use clap::ValueEnum;
use gradeline::bank::course::{Course, UnitSystem};
use gradeline::bank::prose::{Block, text};
use gradeline::bank::system::System;
use gradeline::equation::Style;
use gradeline::fault::Checked;
use gradeline::handout::{Papers, Source};
use gradeline::solution::{self, Case};
use std::path::Path;

/// How a solved system is shown.
#[derive(Clone, Copy, ValueEnum)]
pub enum Format {
    /// The worked solution, for reading in the terminal
    Text,
    /// The worked solution as Markdown
    Md,
    /// The worked solution as a LaTeX document
    Tex,
    /// Numbers in SI units
    Json,
}

/// Units of a worked solution.
#[derive(Clone, Copy, ValueEnum)]
pub enum Units {
    /// Metres, pascals
    Si,
    /// Feet, pounds per square inch
    Us,
}

pub fn run(file: &Path, format: Format, units: Units) -> Checked<Done> {
    let system = System::read(file)?;
    let mut course = Course::default();
    course.conventions.units = match units {
        Units::Si => UnitSystem::Si,
        Units::Us => UnitSystem::UsCustomary,
    };
    let limits = course.policy.limits;
    let case = Case::solve(system, None, &limits)?;
    if let Format::Json = format {
        print(&solution::json(&case, &limits))?;
    } else {
        let steps = solution::worked(&case, None, &limits, &course.conventions)
            .map_err(|e| gradeline::fault::Fault::new(e.what))?;
        let style = Style {
            mark: course.conventions.decimal_mark,
        };
        let title = file
            .file_stem()
            .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
        let blocks = || -> Vec<Block> {
            let each = steps.iter().enumerate().flat_map(|(i, step)| {
                let heading = Block::Heading(2, vec![text(format!("{}. {}", i + 1, step.title))]);
                std::iter::once(heading).chain(step.body.iter().cloned())
            });
            each.collect()
        };
        let shown = match format {
            Format::Text => solution::plain_text(&steps, style),
            Format::Md => Papers::new(None)?.document(Source::Markdown, &course, &title, &blocks())?,
            Format::Tex | Format::Json => {
                Papers::new(None)?.document(Source::Latex, &course, &title, &blocks())?
            }
        };
        print(&shown)?;
    }
    let mut done = Done::Wholly;
    for remark in case.remarks(&limits) {
        eprintln!("warning: {}", remark.text);
        // Which of two answers is meant, or what to make of a liquid that boils, is a person's choice.
        if remark.choice {
            done = Done::WithRemarks;
        }
    }
    Ok(done)
}
