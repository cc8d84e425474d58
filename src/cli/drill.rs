//! `gradeline drill [TOPIC]`: practice in the terminal.

use super::Done;
use super::deal::bank_of;
use gradeline::bank::builtin_bank;
use gradeline::bank::course::Course;
use gradeline::drill::{self, Settings};
use gradeline::fault::{Checked, Fault};
use rand::TryRng;
use rand::rngs::SysRng;
use std::path::Path;

/// Columns where the terminal does not say how many it has.
const WIDTH: usize = 88;

pub fn run(topic: Option<&str>, folder: Option<&Path>) -> Checked<Done> {
    let (bank, course) = match folder {
        Some(folder) => (bank_of(folder)?, Course::read(folder)?),
        None => (builtin_bank(), Course::default()),
    };
    let seed = SysRng
        .try_next_u64()
        .map_err(|e| Fault::new(format!("the system gives no random number: {e}")))?;
    let width = std::env::var("COLUMNS")
        .ok()
        .and_then(|c| c.parse().ok())
        .unwrap_or(WIDTH);
    let settings = Settings {
        topic,
        seed,
        policy: course.policy,
        conventions: course.conventions,
        width,
    };
    drill::run(
        &mut std::io::stdin().lock(),
        &mut std::io::stdout().lock(),
        &bank,
        &settings,
    )?;
    Ok(Done::Wholly)
}
