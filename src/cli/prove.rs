//! `gradeline prove`: templates over many draws.

use super::deal::bank_of;
use super::{Done, print, progress};
use clap::ValueEnum;
use gradeline::bank::builtin_bank;
use gradeline::bank::course::Course;
use gradeline::bank::template::Template;
use gradeline::fault::{Checked, Fault, Faults, nearest};
use gradeline::prove::{diagnosis, html, prove, text};
use gradeline::{jobs, store};
use std::io::IsTerminal;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

/// How proofs are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a terminal of some 92 columns
    Text,
    /// One page, with histograms
    Html,
}

/// What is to be proved, and how it is told.
pub struct Job {
    pub templates: Vec<String>,
    pub draws: usize,
    pub course: Option<PathBuf>,
    pub format: Format,
    pub output: Option<PathBuf>,
    pub diagnosis: bool,
}

pub fn run(job: &Job) -> Checked<Done> {
    let (bank, course) = match job.course.as_deref() {
        Some(folder) => (bank_of(folder)?, Course::read(folder)?),
        None => (builtin_bank(), Course::default()),
    };
    let templates = named(&bank.templates, &job.templates)?;
    if job.diagnosis {
        let bar = progress::bar("measuring", templates.len());
        let told = diagnosis::measure(
            &templates,
            job.draws,
            &course.policy,
            &course.conventions,
            &|| bar.inc(1),
        )?;
        bar.finish_and_clear();
        let written = format!(
            "{}\nslips that no number tells apart\n{}\n{}\ntwo slips at once\n{}",
            diagnosis::confusion(&told),
            diagnosis::groups(&told),
            diagnosis::table(&told),
            diagnosis::pairs_table(&told)
        );
        put(job, &written)?;
        return Ok(Done::Wholly);
    }
    let bar = progress::bar("proving", templates.len() * job.draws);
    let began = Instant::now();
    let proofs: Vec<_> = (templates.iter())
        .map(|template| {
            prove(
                template,
                job.draws,
                &course.policy,
                &course.conventions,
                jobs::cores(),
                &|| bar.inc(1),
            )
        })
        .collect();
    bar.finish_and_clear();
    let took = began.elapsed().as_secs_f64();
    let written = match job.format {
        Format::Text => text(&proofs),
        Format::Html => html(&proofs),
    };
    put(job, &written)?;
    // Time is no part of a proof, which is the same whenever it is made.
    if std::io::stderr().is_terminal() {
        let draws: usize = proofs.iter().map(|p| p.accepted).sum();
        eprintln!(
            "{:.3} ms a draw, all cores together; {took:.1} s",
            1e3 * took / draws.max(1) as f64
        );
    }
    let faults: Vec<Fault> = proofs.into_iter().flat_map(|proof| proof.faults).collect();
    if faults.is_empty() {
        return Ok(Done::Wholly);
    }
    // On the page or in the text they stand too; here they are for whoever sees neither.
    if job.output.is_some() || job.format == Format::Html {
        eprintln!("{}", Faults(faults));
    }
    Ok(Done::WithRemarks)
}

fn put(job: &Job, written: &str) -> Checked<()> {
    match &job.output {
        Some(file) => store::write(file, written.as_bytes()),
        None => print(written),
    }
}

/// The templates named, or all where none is.
fn named(all: &[Arc<Template>], names: &[String]) -> Checked<Vec<Arc<Template>>> {
    if names.is_empty() {
        return Ok(all.to_vec());
    }
    let mut found = Vec::with_capacity(names.len());
    let mut faults = Vec::new();
    for name in names {
        match all.iter().find(|template| template.name == *name) {
            Some(template) => found.push(Arc::clone(template)),
            None => {
                let fault = Fault::new(format!("no bank has a template called `{name}`"));
                let known = all.iter().map(|template| template.name.as_str());
                faults.push(match nearest(name, known) {
                    Some(near) => fault.mend(format!("write `{near}`")),
                    None => {
                        fault.mend("put the template into the course's folder `banks`, and name the course")
                    }
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(found)
    } else {
        Err(Faults(faults))
    }
}
