//! A worked solution as plain text for a terminal.

use super::Step;
use crate::equation::Style;

/// Steps as plain text, for a terminal 88 columns wide.
pub fn plain_text(steps: &[Step], style: Style) -> String {
    let _ = (steps, style);
    todo!()
}
