//! A quantity as somebody wrote it: number, figures and unit kept.

use super::{DecimalMark, Quantity, Shown, Unit};

/// Why a text is not a quantity; turned into a fault by whoever knows the place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuantityError {
    /// What is wrong.
    pub what: String,
    /// How to mend it.
    pub mend: Option<String>,
}

/// A number with its unit as written: `2.50 L/s` keeps three figures and the unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// The number, in `unit`.
    pub number: f64,
    /// The number as it is to be printed again, with the figures that were typed.
    pub shown: Shown,
    /// Significant figures typed (trailing zeros of a whole number count: `350 kPa` has three).
    pub figures: u32,
    /// The unit; [`Unit::none`] where none was typed.
    pub unit: Unit,
}

impl Written {
    /// Reads a quantity: `2.5 L/s`, `0,0016 m³/s`, `1.6×10⁻³ m3/s`, `1 1/2 in`, `12 psi`, `0.02`.
    ///
    /// # Errors
    /// Says what could not be read; never guesses between two readings.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let _ = text;
        todo!()
    }

    /// `si` written with `figures` significant figures in `unit`.
    pub fn from_si(si: f64, unit: &Unit, figures: u32) -> Self {
        let _ = (si, unit, figures);
        todo!()
    }

    /// The value in SI with its dimension, computed from the printed number.
    pub fn quantity(&self) -> Quantity {
        Quantity::new(self.unit.to_si(self.number), self.unit.dimension)
    }

    /// Plain text: `2.50 L/s`.
    pub fn plain(&self, mark: DecimalMark) -> String {
        let _ = mark;
        todo!()
    }

    /// LaTeX maths: `2.50\,\mathrm{L/s}`.
    pub fn latex(&self, mark: DecimalMark) -> String {
        let _ = mark;
        todo!()
    }

    /// ASCII that this program reads back: `2.50 L/s`, `1.60e-3 m^3/s`.
    pub fn ascii(&self) -> String {
        todo!()
    }
}
