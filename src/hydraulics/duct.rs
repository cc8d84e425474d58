//! Cross-sections that are not round.
//!
//! A duct is reckoned with as a pipe of its hydraulic diameter. What differs from a round pipe is told by a
//! [`Section`]: the area, and, in laminar flow, the friction factor and the kinetic-energy factor.

use super::friction::ROUND_LAMINAR;

/// How a cross-section differs from a round one of its hydraulic diameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Area over that of a circle of the hydraulic diameter \[–\].
    pub area_factor: f64,
    /// Darcy friction factor times Reynolds number (on the hydraulic diameter) in laminar flow \[–\].
    pub laminar_constant: f64,
    /// Kinetic-energy factor of laminar flow \[–\].
    pub laminar_alpha: f64,
    /// The diameter that the friction law of turbulent flow is read with, over the hydraulic diameter \[–\]:
    /// 1, or 64 over the laminar constant for the effective diameter.
    pub turbulent_diameter: f64,
}

impl Section {
    /// A circle.
    pub const ROUND: Self = Self {
        area_factor: 1.0,
        laminar_constant: ROUND_LAMINAR,
        laminar_alpha: 2.0,
        turbulent_diameter: 1.0,
    };

    /// Cross-section \[m²\] at a hydraulic diameter \[m\].
    pub fn area(&self, diameter: f64) -> f64 {
        self.area_factor * (std::f64::consts::FRAC_PI_4 * diameter * diameter)
    }

    /// Whether it is a circle.
    pub fn is_round(&self) -> bool {
        *self == Self::ROUND
    }
}

impl Default for Section {
    fn default() -> Self {
        Self::ROUND
    }
}
