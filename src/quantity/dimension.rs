//! Dimensions as exponents of length, mass, time and temperature.

/// Exponents of the base dimensions, each in twelfths so that roots stay exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, PartialOrd, Ord)]
pub struct Dimension {
    /// Twelfths of the exponent of length.
    pub length: i16,
    /// Twelfths of the exponent of mass.
    pub mass: i16,
    /// Twelfths of the exponent of time.
    pub time: i16,
    /// Twelfths of the exponent of temperature.
    pub temperature: i16,
}

const fn whole(length: i16, mass: i16, time: i16) -> Dimension {
    Dimension {
        length: 12 * length,
        mass: 12 * mass,
        time: 12 * time,
        temperature: 0,
    }
}

impl Dimension {
    /// A pure number.
    pub const NONE: Self = whole(0, 0, 0);
    /// Length.
    pub const LENGTH: Self = whole(1, 0, 0);
    /// Area.
    pub const AREA: Self = whole(2, 0, 0);
    /// Volume.
    pub const VOLUME: Self = whole(3, 0, 0);
    /// Mass.
    pub const MASS: Self = whole(0, 1, 0);
    /// Time.
    pub const TIME: Self = whole(0, 0, 1);
    /// Temperature.
    pub const TEMPERATURE: Self = Self {
        length: 0,
        mass: 0,
        time: 0,
        temperature: 12,
    };
    /// Velocity.
    pub const VELOCITY: Self = whole(1, 0, -1);
    /// Acceleration.
    pub const ACCELERATION: Self = whole(1, 0, -2);
    /// Volume flow.
    pub const FLOW: Self = whole(3, 0, -1);
    /// Mass flow.
    pub const MASS_FLOW: Self = whole(0, 1, -1);
    /// Force.
    pub const FORCE: Self = whole(1, 1, -2);
    /// Pressure.
    pub const PRESSURE: Self = whole(-1, 1, -2);
    /// Energy.
    pub const ENERGY: Self = whole(2, 1, -2);
    /// Power.
    pub const POWER: Self = whole(2, 1, -3);
    /// Density.
    pub const DENSITY: Self = whole(-3, 1, 0);
    /// Dynamic viscosity.
    pub const DYNAMIC_VISCOSITY: Self = whole(-1, 1, -1);
    /// Kinematic viscosity.
    pub const KINEMATIC_VISCOSITY: Self = whole(2, 0, -1);

    /// The dimension in words where it has a common name (`a length`), else its base units (`m^2 kg`).
    pub fn name(self) -> String {
        todo!()
    }
}
