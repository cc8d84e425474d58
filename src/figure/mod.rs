//! Figures as SVG.
//!
//! Depends on: `constants`, `quantity`, `hydraulics`, `bank`, `solution`.

mod chart;
mod histogram;
mod letters;
mod schematic;
mod svg;

pub use chart::{Mark, friction_chart};
pub use histogram::histogram;
pub use schematic::{Schematic, grade_lines, schematic};
