//! Figures as SVG.
//!
//! Depends on: `constants`, `hydraulics`.

mod chart;
mod svg;

pub use chart::{Mark, friction_chart};
