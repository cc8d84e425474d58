//! Properties of fluids from a name and a temperature.
//!
//! Depends on: `fault`, `constants`.

/// A fluid that the program knows by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Named {
    /// Liquid water at 0.1 MPa.
    Water,
    /// Dry air as an ideal gas.
    Air,
}

/// Properties of a fluid at one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Properties {
    /// Density \[kg/m³\].
    pub density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub dynamic_viscosity: f64,
    /// Vapour pressure, absolute \[Pa\], for a liquid.
    pub vapour_pressure: Option<f64>,
}

/// A temperature outside the range of a formulation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutOfRange {
    /// What was asked \[K\].
    pub temperature: f64,
    /// The range \[K\].
    pub range: (f64, f64),
}

impl Named {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Water, Self::Air];

    /// Its name as it is written.
    pub fn name(self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::Air => "air",
        }
    }

    /// Properties at a temperature \[K\]; `pressure` \[Pa, absolute\] matters to a gas alone.
    ///
    /// # Errors
    /// [`OutOfRange`] outside the formulation's range.
    pub fn properties(self, temperature: f64, pressure: f64) -> Result<Properties, OutOfRange> {
        let _ = (temperature, pressure);
        todo!()
    }
}
