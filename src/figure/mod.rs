//! Figures as SVG.
//!
//! Depends on: `constants`, `quantity`, `equation`, `hydraulics`, `bank`, `solution`, `deal`.

mod chart;
mod histogram;
mod letters;
mod schematic;
mod svg;

pub use chart::{CHART_DESCRIPTION, CHART_TITLE, Chart, Mark, Sheet, Way, friction_chart};
pub use histogram::histogram;
pub use schematic::{Schematic, grade_lines, handout_schematic, schematic};
