//! `gradeline chart`: the friction chart.

use super::{Done, print};
use clap::ValueEnum;
use gradeline::constants::policy;
use gradeline::fault::{Checked, Fault, Faults};
use gradeline::figure::{CHART_DESCRIPTION, CHART_TITLE, Chart, Mark, Sheet, Way, friction_chart};
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::{DecimalMark, Dimension, Written};
use gradeline::{store, typeset};
use std::path::Path;

/// As fine as office printers print.
const PIXELS_PER_INCH: f64 = 300.0;

/// Sheets, all on their side.
#[derive(Clone, Copy, PartialEq, ValueEnum)]
pub enum Paper {
    /// ISO A3, 420 mm × 297 mm
    A3,
    /// ISO A4, 297 mm × 210 mm
    A4,
    /// ISO A5, 210 mm × 148 mm
    A5,
    /// US letter, 11 in × 8.5 in
    Letter,
    /// A figure within a text, 160 mm × 92 mm
    Figure,
}

impl Paper {
    fn sheet(self) -> Sheet {
        match self {
            Self::A3 => Sheet::A3,
            Self::A4 => Sheet::A4,
            Self::A5 => Sheet::A5,
            Self::Letter => Sheet::Letter,
            Self::Figure => Sheet::Embedded,
        }
    }
}

pub fn run(at: &[String], across: &[String], paper: Paper, output: Option<&Path>) -> Checked<Done> {
    let marks = marks(at, across)?;
    let svg = friction_chart(&Chart {
        sheet: paper.sheet(),
        marks: &marks,
        decimal_mark: DecimalMark::Point,
        limits: Limits::default(),
    });
    let doubtful = marks.iter().filter(|mark| {
        let limits = Limits::default();
        (limits.laminar_end..limits.turbulent_start).contains(&mark.reynolds)
    });
    for mark in doubtful {
        eprintln!(
            "warning: a Reynolds number of {} lies in the critical zone, where no reading is certain",
            mark.reynolds
        );
    }
    let Some(path) = output else {
        print(&svg)?;
        return Ok(Done::Wholly);
    };
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    let bytes = match ending.as_deref() {
        Some("svg") => svg.into_bytes(),
        Some("pdf") => typeset::figure_pdf(&svg, CHART_TITLE, CHART_DESCRIPTION)?,
        Some("png") => typeset::figure_png(&svg, PIXELS_PER_INCH)?,
        _ => {
            return Err(
                Fault::new(format!("`{}` does not say of which kind it is", path.display()))
                    .mend("give it the ending .svg, .png or .pdf")
                    .into(),
            );
        }
    };
    store::write(path, &bytes)?;
    Ok(Done::Wholly)
}

/// The points asked for: pairs of a Reynolds number and a relative roughness, and relative roughnesses alone.
fn marks(at: &[String], across: &[String]) -> Checked<Vec<Mark>> {
    let mut faults = Vec::new();
    let mut number = |text: &String| match Written::parse(text) {
        Ok(written) if written.unit.dimension == Dimension::NONE => written.quantity().value,
        _ => {
            faults
                .push(Fault::new(format!("`{text}` is not a number")).mend("write it as `1.2e5` or `0.002`"));
            f64::NAN
        }
    };
    let mut marks: Vec<Mark> = (across.iter())
        .map(|rr| Mark {
            reynolds: f64::NAN,
            relative_roughness: number(rr),
            way: Way::Across,
        })
        .collect();
    marks.extend(at.chunks_exact(2).map(|pair| Mark {
        reynolds: number(&pair[0]),
        relative_roughness: number(&pair[1]),
        way: Way::AtReynolds,
    }));
    if !faults.is_empty() {
        return Err(Faults(faults));
    }
    for mark in &marks {
        let (re, rr) = (mark.reynolds, mark.relative_roughness);
        let least = if mark.way == Way::Across { 1e-6 } else { 0.0 };
        if !(least..=policy::RELATIVE_ROUGHNESS_END).contains(&rr) {
            faults.push(
                Fault::new(format!("a relative roughness of {rr} is off the chart")).mend(format!(
                    "give one from {least} to {}",
                    policy::RELATIVE_ROUGHNESS_END
                )),
            );
        } else if mark.way == Way::AtReynolds && !mark.shows(&Limits::default()) {
            faults.push(
                Fault::new(format!("a Reynolds number of {re} is off the chart"))
                    .mend("give one from 640 to 1e8"),
            );
        }
    }
    if faults.is_empty() {
        Ok(marks)
    } else {
        Err(Faults(faults))
    }
}
