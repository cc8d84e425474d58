//! Numbers with units: text to value with dimension, and back to text.
//!
//! SI inside, units only at the edges. Significant figures are kept as typed.
//! Depends on: `fault`.

mod dimension;
mod number;
mod table;
mod unit;
mod written;

pub use dimension::Dimension;
pub use number::{DecimalMark, Shown, round_to_figures};
pub use unit::{PressureReference, Unit};
pub use written::{QuantityError, Written};

/// A value in coherent SI units with its dimension.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// The value in SI base units.
    pub value: f64,
    /// Its dimension.
    pub dimension: Dimension,
}

impl Quantity {
    /// A quantity of `value` SI units.
    pub const fn new(value: f64, dimension: Dimension) -> Self {
        Self { value, dimension }
    }

    /// A pure number.
    pub const fn number(value: f64) -> Self {
        Self::new(value, Dimension::NONE)
    }
}
