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

impl Limits {
    /// As they are taught.
    pub const DEFAULT: Self = Self {
        laminar_end: policy::LAMINAR_END,
        turbulent_start: policy::TURBULENT_START,
        fully_rough_start: policy::FULLY_ROUGH_START,
        smooth_end: policy::SMOOTH_END,
    };
}

impl Default for Limits {
    fn default() -> Self {
        Self::DEFAULT
    }
}

/// The regime at a Reynolds number and a rough number `Re √f (ε/D)`, f being Darcy's.
///
/// The roughness Reynolds number `u* ε/ν`, which tells a smooth wall, is the rough number over √8.
///
/// ```
/// # use gradeline::hydraulics::regime::{Limits, Regime, classify};
/// assert_eq!(classify(1e5, 600.0, &Limits::default()), Regime::FullyRough);
/// assert_eq!(classify(3000.0, 600.0, &Limits::default()), Regime::Critical);
/// ```
pub fn classify(reynolds: f64, rough_number: f64, limits: &Limits) -> Regime {
    if reynolds < limits.laminar_end {
        Regime::Laminar
    } else if reynolds < limits.turbulent_start {
        Regime::Critical
    } else if rough_number >= limits.fully_rough_start {
        Regime::FullyRough
    } else if roughness_reynolds(rough_number) < limits.smooth_end {
        Regime::Smooth
    } else {
        Regime::TransitionallyRough
    }
}

/// Roughness Reynolds number `u* ε/ν` of a rough number `Re √f (ε/D)`, since `u* = V √(f/8)`.
pub fn roughness_reynolds(rough_number: f64) -> f64 {
    rough_number / (2.0 * std::f64::consts::SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_limit_begins_the_next_regime() {
        let limits = Limits::default();
        assert_eq!(classify(2299.9, 0.0, &limits), Regime::Laminar);
        assert_eq!(classify(2300.0, 0.0, &limits), Regime::Critical);
        assert_eq!(classify(4000.0, 0.0, &limits), Regime::Smooth);
        assert_eq!(classify(1e5, 14.1, &limits), Regime::Smooth);
        assert_eq!(classify(1e5, 14.2, &limits), Regime::TransitionallyRough);
        assert_eq!(classify(1e5, 199.9, &limits), Regime::TransitionallyRough);
        assert_eq!(classify(1e5, 200.0, &limits), Regime::FullyRough);
    }

    #[test]
    fn moodys_limit_is_nikuradses_70() {
        assert!((roughness_reynolds(200.0) - 70.7).abs() < 0.02);
    }
}
