//! A progress bar on a terminal, and nothing when piped.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;

/// A bar for `steps` steps of `what`.
pub fn bar(what: &'static str, steps: usize) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::with_draw_target(Some(steps as u64), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("{prefix:>10} {bar:40} {pos} of {len}") {
        bar.set_style(style);
    }
    bar.set_prefix(what);
    bar
}
