//! Figures as SVG.
//!
//! Depends on: `constants`, `hydraulics`.

mod chart;
mod histogram;
mod svg;

pub use chart::{Mark, friction_chart};
pub use histogram::histogram;
