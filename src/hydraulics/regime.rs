//! Flow regimes and their limits.

use crate::constants::policy;

/// The regime of flow in a pipe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Regime {
    /// Below the critical zone.
    Laminar,
    /// Between laminar and turbulent: no friction factor is certain.
    Critical,
    /// Turbulent over a hydraulically smooth wall.
    Smooth,
    /// Turbulent, both viscosity and roughness count.
    TransitionallyRough,
    /// Turbulent, roughness alone counts.
    FullyRough,
}

impl Regime {
    /// All of them, in order of Reynolds number.
    pub const ALL: [Self; 5] = [
        Self::Laminar,
        Self::Critical,
        Self::Smooth,
        Self::TransitionallyRough,
        Self::FullyRough,
    ];

    /// Its name as it is written.
    pub fn name(self) -> &'static str {
        match self {
            Self::Laminar => "laminar",
            Self::Critical => "critical",
            Self::Smooth => "smooth",
            Self::TransitionallyRough => "transitionally rough",
            Self::FullyRough => "fully rough",
        }
    }
}

/// Where one regime ends and the next begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Reynolds number at which laminar flow ends.
    pub laminar_end: f64,
    /// Reynolds number from which flow is turbulent.
    pub turbulent_start: f64,
    /// `Re √f (ε/D)` from which flow is fully rough.
    pub fully_rough_start: f64,
    /// Roughness Reynolds number below which a wall is smooth.
    pub smooth_end: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            laminar_end: policy::LAMINAR_END,
            turbulent_start: policy::TURBULENT_START,
            fully_rough_start: policy::FULLY_ROUGH_START,
            smooth_end: policy::SMOOTH_END,
        }
    }
}
