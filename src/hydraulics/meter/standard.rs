//! What ISO 5167 (2003) says of throttling meters: discharge coefficients, expansibility, permanent pressure
//! loss, and the limits of use of each device.
//!
//! Lengths in metres throughout; where the standard writes millimetres, its number stands here with the factor
//! beside it. β is the throat diameter over that of the pipe, Re the Reynolds number of the pipe.
//!
//! The equations and part 2's clauses were held against prints and quotations of them (`tests/meter.rs`); the numbers of the
//! clauses of parts 3 and 4, and the limits in them, are from memory.

use crate::constants::Constant;

/// Where the pressure is tapped at an orifice plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taps {
    /// In the corners between plate and wall.
    Corner,
    /// One diameter before the plate and half a diameter behind it.
    DAndHalfD,
    /// One inch before and behind the plate.
    Flange,
}

/// How the convergent of a classical Venturi tube is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Convergent {
    /// Cast, its surface left as it is.
    AsCast,
    /// Machined.
    Machined,
    /// Of rough welded sheet iron.
    WeldedSheet,
}

/// A throttling meter of the standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Device {
    /// Orifice plate, ISO 5167-2.
    Orifice(Taps),
    /// ISA 1932 nozzle, ISO 5167-3, 5.1.
    Isa1932Nozzle,
    /// Long radius nozzle, ISO 5167-3, 5.2.
    LongRadiusNozzle,
    /// Venturi nozzle, ISO 5167-3, 5.3.
    VenturiNozzle,
    /// Classical Venturi tube, ISO 5167-4.
    Venturi(Convergent),
}

impl Device {
    /// All of them, in the order of the standard.
    pub const ALL: [Self; 9] = [
        Self::Orifice(Taps::Corner),
        Self::Orifice(Taps::DAndHalfD),
        Self::Orifice(Taps::Flange),
        Self::Isa1932Nozzle,
        Self::LongRadiusNozzle,
        Self::VenturiNozzle,
        Self::Venturi(Convergent::AsCast),
        Self::Venturi(Convergent::Machined),
        Self::Venturi(Convergent::WeldedSheet),
    ];

    /// Whether a cone behind the throat wins pressure back, so that the permanent loss is a share that the
    /// standard gives as a range alone.
    pub fn has_outlet_cone(self) -> bool {
        matches!(self, Self::VenturiNozzle | Self::Venturi(_))
    }

    /// Whether its discharge coefficient depends on the Reynolds number, so that it has to be iterated.
    pub fn is_iterated(self) -> bool {
        matches!(
            self,
            Self::Orifice(_) | Self::Isa1932Nozzle | Self::LongRadiusNozzle
        )
    }

    /// The clause that gives its discharge coefficient.
    pub fn coefficient_clause(self) -> &'static str {
        match self {
            Self::Orifice(_) => "ISO 5167-2:2003, 5.3.2.1",
            Self::Isa1932Nozzle => "ISO 5167-3:2003, 5.1.6.2",
            Self::LongRadiusNozzle => "ISO 5167-3:2003, 5.2.6.2",
            Self::VenturiNozzle => "ISO 5167-3:2003, 5.3.4.2",
            Self::Venturi(Convergent::AsCast) => "ISO 5167-4:2003, 5.5.2",
            Self::Venturi(Convergent::Machined) => "ISO 5167-4:2003, 5.5.3",
            Self::Venturi(Convergent::WeldedSheet) => "ISO 5167-4:2003, 5.5.4",
        }
    }

    /// The clause that gives its expansibility factor.
    pub fn expansibility_clause(self) -> &'static str {
        match self {
            Self::Orifice(_) => "ISO 5167-2:2003, 5.3.2.2",
            Self::Isa1932Nozzle => "ISO 5167-3:2003, 5.1.6.3",
            Self::LongRadiusNozzle => "ISO 5167-3:2003, 5.2.6.3",
            Self::VenturiNozzle => "ISO 5167-3:2003, 5.3.4.3",
            Self::Venturi(_) => "ISO 5167-4:2003, 5.6",
        }
    }

    /// The clause that speaks of its permanent pressure loss.
    pub fn loss_clause(self) -> &'static str {
        match self {
            Self::Orifice(_) => "ISO 5167-2:2003, 5.4",
            Self::Isa1932Nozzle => "ISO 5167-3:2003, 5.1.8",
            Self::LongRadiusNozzle => "ISO 5167-3:2003, 5.2.8",
            Self::VenturiNozzle => "ISO 5167-3:2003, 5.3.6",
            Self::Venturi(_) => "ISO 5167-4:2003, 5.9",
        }
    }

    /// The clause that limits its use.
    pub fn limits_clause(self) -> &'static str {
        match self {
            Self::Orifice(_) => "ISO 5167-2:2003, 5.3.1",
            Self::Isa1932Nozzle => "ISO 5167-3:2003, 5.1.6.1",
            Self::LongRadiusNozzle => "ISO 5167-3:2003, 5.2.6.1",
            Self::VenturiNozzle => "ISO 5167-3:2003, 5.3.4.1",
            Self::Venturi(_) => self.coefficient_clause(),
        }
    }
}

/// One inch, which fixes flange taps and the small-pipe term.
pub const INCH: Constant = Constant {
    value: 0.0254,
    unit: "m",
    source: "international yard and pound agreement (1959)",
};

/// Bore below which the Reader-Harris/Gallagher equation has its small-pipe term: 71.12 mm, or 2.8 inches.
pub const SMALL_PIPE: Constant = Constant {
    value: 0.071_12,
    unit: "m",
    source: "ISO 5167-2:2003, 5.3.2.1, equation (4)",
};

/// Lowest pressure behind the device over that before it for which the standard gives an expansibility factor.
pub const LOWEST_PRESSURE_RATIO: f64 = 0.75;

/// Share of the differential pressure that a meter with an outlet cone takes for good: the standard says
/// "generally between 5 % and 20 %" (ISO 5167-4:2003, 5.9).
pub const CONE_LOSS_SHARES: (f64, f64) = (0.05, 0.20);

/// The discharge coefficient \[–\] of a device in a pipe of a diameter \[m\].
///
/// - Orifice plates: Reader-Harris/Gallagher, `C = 0.5961 + 0.0261 β² − 0.216 β⁸ + 0.000521 (10⁶β/Re)^0.7 +
///   (0.0188 + 0.0063 A) β^3.5 (10⁶/Re)^0.3 + (0.043 + 0.080 e^(−10 L₁) − 0.123 e^(−7 L₁))(1 − 0.11 A) β⁴/(1 − β⁴)
///   − 0.031 (M₂′ − 0.8 M₂′^1.1) β^1.3`, with `A = (19 000 β/Re)^0.8`, `M₂′ = 2 L₂′/(1 − β)`; below D = 71.12 mm
///   `+ 0.011 (0.75 − β)(2.8 − D/25.4 mm)`.
/// - ISA 1932 nozzle: `0.9900 − 0.2262 β^4.1 − (0.00175 β² − 0.0033 β^4.15)(10⁶/Re)^1.15`.
/// - Long radius nozzle: `0.9965 − 0.00653 √(10⁶β/Re)`.
/// - Venturi nozzle: `0.9858 − 0.196 β^4.5`.
/// - Classical Venturi tube: 0.984 as cast, 0.995 machined, 0.985 welded sheet.
///
/// # Range
/// See [`limits`]; nothing is checked here.
///
/// # Source
/// ISO 5167-2, -3 and -4 (2003), clauses as in [`Device::coefficient_clause`].
///
/// ```
/// # use gradeline::hydraulics::meter::standard::{Device, Taps, discharge_coefficient};
/// let c = discharge_coefficient(Device::Orifice(Taps::Corner), 0.5, 0.1, 1.0e5);
/// assert!((c - 0.6069).abs() < 1e-4);
/// ```
pub fn discharge_coefficient(device: Device, beta: f64, pipe_diameter: f64, reynolds: f64) -> f64 {
    match device {
        Device::Orifice(taps) => reader_harris_gallagher(taps, beta, pipe_diameter, reynolds),
        Device::Isa1932Nozzle => {
            0.9900
                - 0.2262 * libm::pow(beta, 4.1)
                - (0.00175 * beta * beta - 0.0033 * libm::pow(beta, 4.15)) * libm::pow(1e6 / reynolds, 1.15)
        }
        Device::LongRadiusNozzle => 0.9965 - 0.00653 * (1e6 * beta / reynolds).sqrt(),
        Device::VenturiNozzle => 0.9858 - 0.196 * libm::pow(beta, 4.5),
        Device::Venturi(Convergent::AsCast) => 0.984,
        Device::Venturi(Convergent::Machined) => 0.995,
        Device::Venturi(Convergent::WeldedSheet) => 0.985,
    }
}

fn reader_harris_gallagher(taps: Taps, beta: f64, pipe_diameter: f64, reynolds: f64) -> f64 {
    let inches = pipe_diameter / INCH.value;
    // Distances of the taps from the plate's faces, over the pipe's diameter.
    let (l1, l2) = match taps {
        Taps::Corner => (0.0, 0.0),
        Taps::DAndHalfD => (1.0, 0.47),
        Taps::Flange => (1.0 / inches, 1.0 / inches),
    };
    let beta2 = beta * beta;
    let beta4 = beta2 * beta2;
    let a = libm::pow(19_000.0 * beta / reynolds, 0.8);
    let m2 = 2.0 * l2 / (1.0 - beta);
    let mut c = 0.5961 + 0.0261 * beta2 - 0.216 * beta4 * beta4
        + 0.000_521 * libm::pow(1e6 * beta / reynolds, 0.7)
        + (0.0188 + 0.0063 * a) * libm::pow(beta, 3.5) * libm::pow(1e6 / reynolds, 0.3)
        + (0.043 + 0.080 * libm::exp(-10.0 * l1) - 0.123 * libm::exp(-7.0 * l1)) * (1.0 - 0.11 * a) * beta4
            / (1.0 - beta4)
        - 0.031 * (m2 - 0.8 * libm::pow(m2, 1.1)) * libm::pow(beta, 1.3);
    if pipe_diameter < SMALL_PIPE.value {
        c += 0.011 * (0.75 - beta) * (2.8 - inches);
    }
    c
}

/// The expansibility factor ε \[–\] of a gas whose pressure behind the device over that before it is `ratio`, and
/// whose isentropic exponent is `kappa`.
///
/// - Orifice plates: `1 − (0.351 + 0.256 β⁴ + 0.93 β⁸)[1 − τ^(1/κ)]`.
/// - All others, from adiabatic flow: `ε² = κ τ^(2/κ)/(κ − 1) · (1 − β⁴)/(1 − β⁴ τ^(2/κ)) · (1 − τ^((κ−1)/κ))/(1 − τ)`.
///
/// # Range
/// τ from [`LOWEST_PRESSURE_RATIO`] to 1; κ above 1.
///
/// # Source
/// ISO 5167-2, -3 and -4 (2003), clauses as in [`Device::expansibility_clause`].
///
/// ```
/// # use gradeline::hydraulics::meter::standard::{Convergent, Device, expansibility};
/// // Printed in an example of ISO/TR 11583:2012: 60 bar to 59.5 bar, β = 0.6, κ = 1.3.
/// let e = expansibility(Device::Venturi(Convergent::Machined), 0.6, 59.5 / 60.0, 1.3);
/// assert!((e - 0.994_236).abs() < 5e-7);
/// ```
pub fn expansibility(device: Device, beta: f64, ratio: f64, kappa: f64) -> f64 {
    let beta4 = beta * beta * beta * beta;
    if ratio >= 1.0 {
        return 1.0;
    }
    match device {
        Device::Orifice(_) => {
            1.0 - (0.351 + 0.256 * beta4 + 0.93 * beta4 * beta4) * (1.0 - libm::pow(ratio, 1.0 / kappa))
        }
        _ => {
            // Powers of nearly 1 through expm1 and log1p, so that small differentials keep their digits.
            let log = libm::log1p(ratio - 1.0);
            let squeezed = libm::exp(2.0 / kappa * log);
            let work = -libm::expm1((kappa - 1.0) / kappa * log) / (1.0 - ratio);
            (kappa / (kappa - 1.0) * squeezed * (1.0 - beta4) / (1.0 - beta4 * squeezed) * work).sqrt()
        }
    }
}

/// Share of the differential pressure that a plate or a nozzle takes for good:
/// `[√(1 − β⁴(1 − C²)) − C β²]/[√(1 − β⁴(1 − C²)) + C β²]`.
///
/// # Source
/// ISO 5167-2:2003, 5.4; ISO 5167-3:2003, 5.1.8 and 5.2.8.
///
/// ```
/// # use gradeline::hydraulics::meter::standard::loss_share;
/// assert!((loss_share(0.5, 0.606) - 0.7323).abs() < 1e-3);
/// ```
pub fn loss_share(beta: f64, coefficient: f64) -> f64 {
    let (root, jet) = loss_parts(beta, coefficient);
    (root - jet) / (root + jet)
}

/// The two terms of [`loss_share`]: the root `√(1 − β⁴(1 − C²))`, and `C β²`.
pub fn loss_parts(beta: f64, coefficient: f64) -> (f64, f64) {
    let beta2 = beta * beta;
    let root = (1.0 - beta2 * beta2 * (1.0 - coefficient * coefficient)).sqrt();
    (root, coefficient * beta2)
}

/// What a limit of the standard is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limited {
    /// Diameter of the pipe \[m\].
    PipeDiameter,
    /// Diameter of the throat \[m\].
    ThroatDiameter,
    /// β \[–\].
    Beta,
    /// Reynolds number of the pipe \[–\].
    Reynolds,
    /// Absolute pressure behind the device over that before it \[–\].
    PressureRatio,
}

/// A limit of the standard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// On what.
    pub on: Limited,
    /// Least value, SI; 0 where none is named.
    pub least: f64,
    /// Greatest value, SI; infinite where none is named.
    pub greatest: f64,
    /// Clause and edition.
    pub clause: &'static str,
}

impl Limit {
    /// Whether a value keeps it. A value that is a limit but for rounding keeps it.
    pub fn holds(&self, value: f64) -> bool {
        value >= self.least * (1.0 - 1e-12) && value <= self.greatest * (1.0 + 1e-12)
    }
}

/// The limits of use of a device at a β, in a pipe of a diameter \[m\]: those on the Reynolds number depend on both.
///
/// # Source
/// ISO 5167-2, -3 and -4 (2003), clauses as in [`Device::limits_clause`].
pub fn limits(device: Device, beta: f64, pipe_diameter: f64) -> Vec<Limit> {
    const MM: f64 = 1e-3;
    const NONE: f64 = f64::INFINITY;
    // Diameter of the pipe in mm, of the throat in mm, β, Reynolds number.
    let (pipe, throat, betas, reynolds) = match device {
        Device::Orifice(taps) => {
            let least = match taps {
                Taps::Corner | Taps::DAndHalfD if beta <= 0.56 => 5000.0,
                Taps::Corner | Taps::DAndHalfD => 16_000.0 * beta * beta,
                Taps::Flange => (170.0 * beta * beta * pipe_diameter / MM).max(5000.0),
            };
            ((50.0, 1000.0), 12.5, (0.10, 0.75), (least, NONE))
        }
        Device::Isa1932Nozzle => {
            let least = if beta < 0.44 { 7e4 } else { 2e4 };
            ((50.0, 500.0), 0.0, (0.30, 0.80), (least, 1e7))
        }
        Device::LongRadiusNozzle => ((50.0, 630.0), 0.0, (0.20, 0.80), (1e4, 1e7)),
        Device::VenturiNozzle => ((65.0, 500.0), 50.0, (0.316, 0.775), (1.5e5, 2e6)),
        Device::Venturi(Convergent::AsCast) => ((100.0, 800.0), 0.0, (0.30, 0.75), (2e5, 2e6)),
        Device::Venturi(Convergent::Machined) => ((50.0, 250.0), 0.0, (0.40, 0.75), (2e5, 1e6)),
        Device::Venturi(Convergent::WeldedSheet) => ((200.0, 1200.0), 0.0, (0.40, 0.70), (2e5, 2e6)),
    };
    let clause = device.limits_clause();
    let limit = |on, (least, greatest): (f64, f64)| Limit {
        on,
        least,
        greatest,
        clause,
    };
    let mut limits = vec![limit(Limited::PipeDiameter, (pipe.0 * MM, pipe.1 * MM))];
    if throat > 0.0 {
        limits.push(limit(Limited::ThroatDiameter, (throat * MM, NONE)));
    }
    limits.push(limit(Limited::Beta, betas));
    limits.push(limit(Limited::Reynolds, reynolds));
    limits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_small_pipe_term_begins_without_a_step() {
        for taps in [Taps::Corner, Taps::DAndHalfD] {
            let at = |d| discharge_coefficient(Device::Orifice(taps), 0.4, d, 5e4);
            assert!((at(0.071_119_999) - at(0.071_12)).abs() < 1e-9);
            assert!(at(0.052_5) > at(0.071_12));
        }
    }

    #[test]
    fn expansibility_goes_to_one_without_a_step() {
        for device in Device::ALL {
            assert_eq!(expansibility(device, 0.5, 1.0, 1.4), 1.0);
            let near = expansibility(device, 0.5, 1.0 - 1e-9, 1.4);
            assert!((near - 1.0).abs() < 2e-9, "{device:?}: {near}");
            assert!(expansibility(device, 0.5, 0.9, 1.4) < near);
        }
    }

    #[test]
    fn limits_on_the_reynolds_number_depend_on_beta_and_bore() {
        let least = |device, beta, d: f64| {
            let all = limits(device, beta, d);
            all.iter()
                .find(|l| l.on == Limited::Reynolds)
                .map(|l| l.least)
                .unwrap()
        };
        assert_eq!(least(Device::Orifice(Taps::Corner), 0.5, 0.1), 5000.0);
        assert!((least(Device::Orifice(Taps::Corner), 0.7, 0.1) - 7840.0).abs() < 1e-9);
        assert!((least(Device::Orifice(Taps::Flange), 0.5, 0.4) - 17_000.0).abs() < 1e-9);
        assert_eq!(least(Device::Isa1932Nozzle, 0.4, 0.1), 7e4);
        assert_eq!(least(Device::Isa1932Nozzle, 0.44, 0.1), 2e4);
    }
}
