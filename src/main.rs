//! The program `gradeline`: arguments in, exit code out.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run(std::env::args_os())
}
