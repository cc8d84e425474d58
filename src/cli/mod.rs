//! Arguments; one file a command. Belongs to the program, not to the library.

mod chart;
mod deal;
mod demo;
mod drill;
mod fluid;
mod mark;
mod progress;
mod prove;
mod report;
mod solve;
mod start;
mod tables;

use clap::{Parser, Subcommand, ValueEnum};
use gradeline::fault::{Checked, Fault, Faults};
use std::ffi::OsString;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Deals every student their own pipe-flow problem, solves it as it is taught, and marks what comes back.
#[derive(Parser)]
#[command(name = "gradeline", version, about, disable_help_subcommand = true)]
#[command(after_help = "Exit codes: 0 done; 1 done, but something named needs a person; 2 nothing done.")]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// The whole job on the built-in course: deal, simulated answers, mark, report
    Demo {
        /// Folder to make
        #[arg(default_value = "gradeline-demo")]
        folder: PathBuf,
    },
    /// A new course folder, commented, with a roster, a set and a bank to edit
    Start {
        /// Folder to make
        folder: PathBuf,
    },
    /// Check templates over many draws, before anyone sees them
    Prove {
        /// Names of templates; all of the bank where none is named
        templates: Vec<String>,
        /// Draws of each
        #[arg(long, default_value_t = gradeline::constants::policy::PROOF_DRAWS, value_parser = draws)]
        draws: usize,
        /// A course folder whose templates, policy and conventions are taken
        #[arg(long)]
        course: Option<PathBuf>,
        /// How to show what was found; without it as the ending of the file says, else as text
        #[arg(long, value_enum)]
        format: Option<prove::Format>,
        /// File to write; standard output where none is named
        #[arg(long, short)]
        output: Option<PathBuf>,
        /// How well slips are told from numbers, on simulated students, in place of the proof
        #[arg(long)]
        diagnosis: bool,
    },
    /// Handouts, answer sheets, keys and worked solutions for a roster
    Deal {
        /// The set: sets/SET.yaml
        set: String,
        /// The course folder
        #[arg(long, default_value = ".")]
        course: PathBuf,
        /// Deal again although students may hold other papers of this set
        #[arg(long)]
        replace: bool,
    },
    /// Mark returned answers: feedback, gradebook, and what needs a person
    Mark {
        /// The set, as it was dealt
        set: String,
        /// Answer sheets, folders of them, or one long CSV
        #[arg(required = true)]
        answers: Vec<PathBuf>,
        /// The course folder
        #[arg(long, default_value = ".")]
        course: PathBuf,
        /// Mark anew although students who had answers before have none now
        #[arg(long)]
        replace: bool,
    },
    /// The class report of a marked set
    Report {
        /// The set, as it was marked
        set: String,
        /// The course folder
        #[arg(long, default_value = ".")]
        course: PathBuf,
    },
    /// Practise one problem after another
    Drill {
        /// What to practise; the topics are listed when it is unknown
        topic: Option<String>,
        /// A course folder whose bank is used as well
        #[arg(long)]
        course: Option<PathBuf>,
    },
    /// Solve one system and show the worked solution
    Solve {
        /// A system in YAML
        file: PathBuf,
        /// How to show it; without it as the ending of the file says, else as text
        #[arg(long, value_enum)]
        format: Option<solve::Format>,
        /// Units of the worked solution (JSON is always SI)
        #[arg(long, value_enum, default_value_t = solve::Units::Si)]
        units: solve::Units,
        /// In place of the solution: why careful answers for a result differ, by cause; a result's name or a formula
        #[arg(long, value_name = "RESULT")]
        why: Option<String>,
        /// Also write the system's drawing, as SVG
        #[arg(long, value_name = "OUT.svg")]
        schematic: Option<PathBuf>,
        /// File to write; standard output where none is named
        #[arg(long, short)]
        output: Option<PathBuf>,
    },
    /// The friction chart
    Chart {
        /// Mark a point with its guide lines: its Reynolds number and relative roughness; may be given again
        #[arg(long, num_args = 2, value_names = ["RE", "EPS_D"], allow_hyphen_values = true)]
        at: Vec<String>,
        /// Mark fully rough flow: in at a relative roughness, straight across; may be given again
        #[arg(long, value_name = "EPS_D", allow_hyphen_values = true)]
        across: Vec<String>,
        /// The sheet, on its side
        #[arg(long, value_enum, default_value_t = chart::Paper::A4)]
        paper: chart::Paper,
        /// File to write, of the kind that its ending says: .svg, .png or .pdf; SVG on standard output where none is named
        #[arg(long, short)]
        output: Option<PathBuf>,
    },
    /// The sheet of formulas and tables: losses, roughnesses, properties, units
    Tables {
        /// How to show it; without it as the ending of the file says, else as text
        #[arg(long, value_enum)]
        format: Option<tables::Format>,
        /// Units of its tables of properties
        #[arg(long, value_enum, default_value_t = solve::Units::Si)]
        units: solve::Units,
        /// File to write; standard output where none is named
        #[arg(long, short)]
        output: Option<PathBuf>,
    },
    /// Properties of a fluid at a temperature
    Fluid {
        /// water or air
        name: String,
        /// Temperature, such as `20 degC` or `68 degF`
        #[arg(default_value = "20 degC", allow_hyphen_values = true)]
        temperature: String,
    },
}

/// A number of draws that says something and ends.
fn draws(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(draws) if (20..=1_000_000).contains(&draws) => Ok(draws),
        _ => Err("write a whole number from 20 to 1000000".to_owned()),
    }
}

/// How a command that did its work ended.
enum Done {
    /// Nothing is left to do.
    Wholly,
    /// Something named needs a person.
    WithRemarks,
}

/// Runs the program.
pub fn run(arguments: impl Iterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(e) => {
            let code = if e.use_stderr() { 2 } else { 0 };
            // Nothing can be said where even this can't be printed.
            let _ = e.print();
            return ExitCode::from(code);
        }
    };
    match carry_out(arguments.command) {
        Ok(Done::Wholly) => ExitCode::SUCCESS,
        Ok(Done::WithRemarks) => ExitCode::from(1),
        Err(faults) => {
            eprintln!("{faults}");
            ExitCode::from(2)
        }
    }
}

fn carry_out(command: Command) -> Checked<Done> {
    match command {
        Command::Demo { folder } => demo::run(&folder),
        Command::Start { folder } => start::run(&folder),
        Command::Prove {
            templates,
            draws,
            course,
            format,
            output,
            diagnosis,
        } => prove::run(&prove::Job {
            templates,
            draws,
            course,
            format: format_of(format, prove::Format::Text, output.as_deref())?,
            output,
            diagnosis,
        }),
        Command::Deal { set, course, replace } => deal::run(&course, &set, replace),
        Command::Mark {
            set,
            answers,
            course,
            replace,
        } => mark::run(&course, &set, &answers, replace),
        Command::Report { set, course } => report::run(&course, &set),
        Command::Drill { topic, course } => drill::run(topic.as_deref(), course.as_deref()),
        Command::Solve {
            file,
            format,
            units,
            why,
            schematic,
            output,
        } => solve::run(&solve::Job {
            file: &file,
            format: format_of(format, solve::Format::Text, output.as_deref())?,
            units,
            why: why.as_deref(),
            schematic: schematic.as_deref(),
            output: output.as_deref(),
        }),
        Command::Chart {
            at,
            across,
            paper,
            output,
        } => chart::run(&at, &across, paper, output.as_deref()),
        Command::Tables {
            format,
            units,
            output,
        } => tables::run(
            format_of(format, tables::Format::Text, output.as_deref())?,
            units,
            output.as_deref(),
        ),
        Command::Fluid { name, temperature } => fluid::run(&name, &temperature),
    }
}

/// The format that was asked for, or that a file's ending says, or the usual one.
fn format_of<F: ValueEnum + PartialEq>(asked: Option<F>, usual: F, output: Option<&Path>) -> Checked<F> {
    let said = output.and_then(|path| {
        let ending = path.extension()?.to_string_lossy().to_lowercase();
        F::from_str(&ending, true).ok()
    });
    match (asked, said) {
        (Some(asked), Some(said)) if asked != said => {
            let name = |format: &F| {
                format
                    .to_possible_value()
                    .map_or_else(String::new, |v| v.get_name().to_owned())
            };
            Err(Fault::new(format!(
                "--format says {}, but the file's ending says {}",
                name(&asked),
                name(&said)
            ))
            .mend("leave --format out, or give the file another ending")
            .into())
        }
        (asked, said) => Ok(asked.or(said).unwrap_or(usual)),
    }
}

/// Prints to standard output; a reader that went away (`| head`) is no fault.
fn print(text: &str) -> Checked<()> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        Err(e) => Err(Faults::from(Fault::new(format!(
            "standard output can't be written: {e}"
        )))),
    }
}

/// Names in a sentence, no more than five of them.
fn first_five<N: AsRef<str>>(names: &[N]) -> String {
    let more = if names.len() > 5 { ", …" } else { "" };
    let five: Vec<&str> = names.iter().take(5).map(AsRef::as_ref).collect();
    format!("{}{more}", five.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_well_formed() {
        Arguments::command().debug_assert();
    }
}
