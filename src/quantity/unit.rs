//! Units: symbols people write, and their exact factors (NIST SP 811).

use super::{Dimension, QuantityError};

/// What a pressure is measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureReference {
    /// From the air outside: `psig`, `kPa gauge`.
    Gauge,
    /// From vacuum: `psia`, `kPa abs`.
    Absolute,
}

/// A unit: `SI value = number * factor + offset`.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// How it is printed, in plain text: `L/s`, `m³/s`, `°C`; empty for a pure number.
    pub symbol: String,
    /// SI units in one of it.
    pub factor: f64,
    /// SI value of its zero; only temperatures have one.
    pub offset: f64,
    /// Its dimension.
    pub dimension: Dimension,
    /// Gauge or absolute, where the text said so.
    pub reference: Option<PressureReference>,
}

impl Unit {
    /// Reads a unit: `L/s`, `gpm`, `m^3/s`, `kg/(m s)`, `psi`, `degC`.
    ///
    /// # Errors
    /// Says what could not be read and, where one is near, which unit was probably meant.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let _ = text;
        todo!()
    }

    /// The unit of a pure number.
    pub fn none() -> Self {
        Self {
            symbol: String::new(),
            factor: 1.0,
            offset: 0.0,
            dimension: Dimension::NONE,
            reference: None,
        }
    }

    /// A number of this unit, in SI.
    pub fn to_si(&self, number: f64) -> f64 {
        number * self.factor + self.offset
    }

    /// An SI value, as a number of this unit.
    pub fn from_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }

    /// LaTeX maths for the symbol: `\mathrm{m^{3}/s}`; empty for a pure number.
    pub fn latex(&self) -> String {
        todo!()
    }
}
