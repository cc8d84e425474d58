//! `gradeline solve FILE`: one system, solved and shown.

use super::{Done, print};
use clap::ValueEnum;
use gradeline::band::{Band, band_of};
use gradeline::bank::course::{self, Course, UnitSystem};
use gradeline::bank::prose::{Block, text};
use gradeline::bank::system::System;
use gradeline::equation::{EquationError, Expr, Style};
use gradeline::fault::{Checked, Fault, nearest};
use gradeline::figure::schematic;
use gradeline::handout::{self, Papers, illustrated, why};
use gradeline::quantity::{Dimension, Unit};
use gradeline::solution::{self, Case, Step};
use gradeline::store;
use serde::Serialize;
use std::path::Path;

/// Figures to which a careful worker answers what no template asks.
const FIGURES: u32 = 3;

/// How a solved system is shown.
#[derive(Clone, Copy, PartialEq, ValueEnum)]
pub enum Format {
    /// The worked solution, for reading in the terminal
    Text,
    /// The worked solution as Markdown
    Md,
    /// The worked solution as a LaTeX document
    Tex,
    /// The worked solution as one HTML file
    Html,
    /// The worked solution as PDF; needs --output
    Pdf,
    /// Numbers in SI units
    Json,
}

impl Format {
    /// The format of papers that this is.
    fn of_papers(self) -> Option<course::Format> {
        match self {
            Self::Text | Self::Json => None,
            Self::Md => Some(course::Format::Markdown),
            Self::Tex => Some(course::Format::Latex),
            Self::Html => Some(course::Format::Html),
            Self::Pdf => Some(course::Format::Pdf),
        }
    }
}

/// Units of a worked solution.
#[derive(Clone, Copy, ValueEnum)]
pub enum Units {
    /// Metres, pascals
    Si,
    /// Feet, pounds per square inch
    Us,
}

impl Units {
    /// The same as a course has it.
    pub fn system(self) -> UnitSystem {
        match self {
            Self::Si => UnitSystem::Si,
            Self::Us => UnitSystem::UsCustomary,
        }
    }
}

/// What to solve and how to show it.
pub struct Job<'a> {
    /// The system in YAML.
    pub file: &'a Path,
    /// How to show it.
    pub format: Format,
    /// Units of the working.
    pub units: Units,
    /// In place of the solution, why careful answers for this result differ.
    pub why: Option<&'a str>,
    /// Where to write the system's drawing too.
    pub schematic: Option<&'a Path>,
    /// File to write; standard output where there is none.
    pub output: Option<&'a Path>,
}

pub fn run(job: &Job) -> Checked<Done> {
    let Job {
        file,
        format,
        units,
        why: result,
        schematic: drawing,
        output,
    } = *job;
    if matches!(format, Format::Pdf) && output.is_none() {
        return Err(Fault::new("a PDF is not for the terminal")
            .mend("name a file with --output")
            .into());
    }
    let system = System::read(file)?;
    let mut course = Course::default();
    course.conventions.units = units.system();
    let limits = course.policy.limits;
    if let Some(drawing) = drawing {
        let svg = schematic(&system, course.conventions.decimal_mark).svg;
        store::write(drawing, svg.as_bytes())?;
    }
    let case = Case::solve(system, None, &limits)?;
    let title = file
        .file_stem()
        .map_or_else(String::new, |s| s.to_string_lossy().into_owned());
    if let Some(result) = result {
        let asked = Explained::of(&case, result, &course)?;
        if let Format::Json = format {
            put(asked.json().into_bytes(), output)?;
        } else {
            let mark = course.conventions.decimal_mark;
            let step = why(result.trim(), &asked.band, &asked.unit, FIGURES, mark);
            show(&[step], None, format, &course, &title, output)?;
        }
    } else if let Format::Json = format {
        put(solution::json(&case, &limits).into_bytes(), output)?;
    } else {
        let mut steps =
            solution::worked(&case, None, &limits, &course.conventions).map_err(|e| Fault::new(e.what))?;
        let mut first = None;
        // Standard output has no place beside it where drawings could lie.
        if output.is_some() || matches!(format, Format::Html) {
            steps = illustrated(steps, &case, &limits, &course.conventions);
            first = Some(handout::schematic(&case, course.conventions.decimal_mark));
        }
        show(&steps, first, format, &course, &title, output)?;
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

/// Writes to a file, or to standard output.
fn put(contents: Vec<u8>, output: Option<&Path>) -> Checked<()> {
    match output {
        Some(path) => store::write(path, &contents),
        None => print(&String::from_utf8_lossy(&contents)),
    }
}

/// Shows steps in a format for people, behind a block that comes first; drawings lie beside the file.
fn show(
    steps: &[Step],
    first: Option<Block>,
    format: Format,
    course: &Course,
    title: &str,
    output: Option<&Path>,
) -> Checked<()> {
    let Some(format) = format.of_papers() else {
        let style = Style {
            mark: course.conventions.decimal_mark,
        };
        return put(solution::plain_text(steps, style).into_bytes(), output);
    };
    let in_order = steps.iter().enumerate().flat_map(|(i, step)| {
        let heading = Block::Heading(2, vec![text(format!("{}. {}", i + 1, step.title))]);
        std::iter::once(heading).chain(step.body.iter().cloned())
    });
    let blocks: Vec<Block> = first.into_iter().chain(in_order).collect();
    let stem = output
        .and_then(Path::file_stem)
        .map_or_else(|| title.to_owned(), |s| s.to_string_lossy().into_owned());
    let printed =
        Papers::new(None)?.print_document(format, course, title, &blocks, &store::safe_name(&stem))?;
    if let Some(folder) = output.and_then(Path::parent) {
        for (name, contents) in &printed.beside {
            store::write(&folder.join(name), contents)?;
        }
    }
    put(printed.contents, output)
}

/// A number of a system with its band.
struct Explained {
    result: String,
    band: Band,
    unit: Unit,
}

#[derive(Serialize)]
struct Out<'a> {
    result: &'a str,
    value: f64,
    figures: u32,
    low: f64,
    high: f64,
    causes: Vec<CauseOut>,
}

#[derive(Serialize)]
struct CauseOut {
    cause: &'static str,
    low: f64,
    high: f64,
    share: f64,
}

impl Explained {
    fn of(case: &Case, result: &str, course: &Course) -> Checked<Self> {
        let wrong = |error: EquationError| {
            let fault = Fault::new(format!("`{result}` can't be explained: {}", error.what));
            match error.mend {
                Some(mend) => fault.mend(mend),
                None => fault.mend("write the name of a result, such as `Q`, or a formula of several"),
            }
        };
        let formula = Expr::parse(result).map_err(wrong)?;
        let known = case.results(&course.conventions);
        let names: Vec<String> = (case.system().results().into_iter())
            .map(|result| result.name)
            .filter(|name| known.get(name).is_some())
            .collect();
        if let Some(unknown) = formula.symbols().iter().find(|name| known.get(name).is_none()) {
            return Err(unknown_name(unknown, &names).into());
        }
        let quantity = formula.evaluate(&known).map_err(wrong)?;
        if !quantity.value.is_finite() {
            return Err(Fault::new(format!("`{result}` has no value in this system"))
                .mend("ask for another result")
                .into());
        }
        // The unit of the first name of the same dimension, else that of SI.
        let unit = (formula.symbols().iter())
            .filter_map(|name| known.get(name))
            .map(|bound| &bound.written.unit)
            .find(|unit| unit.dimension == quantity.dimension)
            .cloned()
            .unwrap_or_else(|| of_si(quantity.dimension));
        let band = band_of(
            case,
            &formula,
            &unit,
            FIGURES,
            &course.policy,
            &course.conventions,
        )?;
        Ok(Self {
            result: result.trim().to_owned(),
            band,
            unit,
        })
    }

    fn json(&self) -> String {
        let band = &self.band;
        let shares = band.shares();
        let causes = (band.causes.iter())
            .filter(|(_, low, high)| high > low)
            .map(|(cause, low, high)| CauseOut {
                cause: cause.name(),
                low: *low,
                high: *high,
                share: shares.iter().find(|(c, _)| c == cause).map_or(0.0, |(_, s)| *s),
            })
            .collect();
        let out = Out {
            result: &self.result,
            value: band.reference.value,
            figures: FIGURES,
            low: band.low,
            high: band.high,
            causes,
        };
        let mut text = serde_json::to_string_pretty(&out).unwrap_or_default();
        text.push('\n');
        text
    }
}

/// The fault of a name that no result has, with those that are like it.
fn unknown_name(name: &str, names: &[String]) -> Fault {
    let letters = name.split('_').next().unwrap_or(name);
    let mut like: Vec<&str> = (names.iter().map(String::as_str))
        .filter(|known| known.split('_').next() == Some(letters))
        .collect();
    if let Some(near) = nearest(name, names.iter().map(String::as_str))
        && !like.contains(&near)
    {
        like.insert(0, near);
    }
    // The bare name of what was meant comes first.
    like.sort_by_key(|known| *known != letters);
    let quoted = |names: &[&str]| {
        let quoted: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
        quoted.join(", ")
    };
    let fault = Fault::new(format!("no result of this system is called `{name}`"));
    if like.is_empty() {
        let all: Vec<&str> = names.iter().map(String::as_str).collect();
        fault.mend(format!("its results are {}", quoted(&all)))
    } else {
        fault.mend(format!("near are {}", quoted(&like)))
    }
}

/// The unit of SI of a dimension.
fn of_si(dimension: Dimension) -> Unit {
    let symbols = [
        "m", "m/s", "m^2", "m^3", "m^3/s", "Pa", "W", "s", "kg/s", "N", "J", "kg/m^3", "Pa.s", "m^2/s",
        "m/s^2",
    ];
    symbols
        .iter()
        .filter_map(|symbol| Unit::parse(symbol).ok())
        .find(|unit| unit.dimension == dimension)
        .unwrap_or(Unit {
            dimension,
            ..Unit::none()
        })
}
