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

    /// A rate: one over time.
    pub const RATE: Self = whole(0, 0, -1);

    /// The dimension of a product. Exponents beyond some 2700 stay there; nothing in hydraulics comes near.
    #[must_use]
    pub const fn times(self, other: Self) -> Self {
        Self {
            length: self.length.saturating_add(other.length),
            mass: self.mass.saturating_add(other.mass),
            time: self.time.saturating_add(other.time),
            temperature: self.temperature.saturating_add(other.temperature),
        }
    }

    /// The dimension of a quotient.
    #[must_use]
    pub const fn over(self, other: Self) -> Self {
        Self {
            length: self.length.saturating_sub(other.length),
            mass: self.mass.saturating_sub(other.mass),
            time: self.time.saturating_sub(other.time),
            temperature: self.temperature.saturating_sub(other.temperature),
        }
    }

    /// The dimension raised to `numerator / denominator`.
    ///
    /// `None` where an exponent would not be a whole number of twelfths or would overflow, or where the
    /// denominator is zero.
    #[must_use]
    pub fn power(self, numerator: i32, denominator: i32) -> Option<Self> {
        let scale = |twelfths: i16| -> Option<i16> {
            let product = i64::from(twelfths) * i64::from(numerator);
            let denominator = i64::from(denominator);
            if denominator == 0 || product % denominator != 0 {
                return None;
            }
            i16::try_from(product / denominator).ok()
        };
        Some(Self {
            length: scale(self.length)?,
            mass: scale(self.mass)?,
            time: scale(self.time)?,
            temperature: scale(self.temperature)?,
        })
    }

    /// Whether it is the dimension of a pure number.
    #[must_use]
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// The dimension in words where it has a common name (`a length`), else its base units (`m^2 kg`).
    pub fn name(self) -> String {
        const NAMES: &[(Dimension, &str)] = &[
            (Dimension::NONE, "a pure number"),
            (Dimension::LENGTH, "a length"),
            (Dimension::AREA, "an area"),
            (Dimension::VOLUME, "a volume"),
            (Dimension::MASS, "a mass"),
            (Dimension::TIME, "a time"),
            (Dimension::TEMPERATURE, "a temperature"),
            (Dimension::VELOCITY, "a velocity"),
            (Dimension::ACCELERATION, "an acceleration"),
            (Dimension::FLOW, "a volume flow"),
            (Dimension::MASS_FLOW, "a mass flow"),
            (Dimension::FORCE, "a force"),
            (Dimension::PRESSURE, "a pressure"),
            (Dimension::ENERGY, "an energy"),
            (Dimension::POWER, "a power"),
            (Dimension::DENSITY, "a density"),
            (Dimension::DYNAMIC_VISCOSITY, "a dynamic viscosity"),
            (Dimension::KINEMATIC_VISCOSITY, "a kinematic viscosity"),
            (Dimension::RATE, "a rate (one over time)"),
        ];
        if let Some((_, name)) = NAMES.iter().find(|(dimension, _)| *dimension == self) {
            return (*name).to_string();
        }
        let mut out = String::new();
        for (symbol, twelfths) in [
            ("m", self.length),
            ("kg", self.mass),
            ("s", self.time),
            ("K", self.temperature),
        ] {
            if twelfths == 0 {
                continue;
            }
            if !out.is_empty() {
                out.push(' ');
            }
            out.push_str(symbol);
            if twelfths != 12 {
                out.push('^');
                out.push_str(&exponent_text(twelfths));
            }
        }
        out
    }
}

impl std::ops::Mul for Dimension {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        self.times(other)
    }
}

impl std::ops::Div for Dimension {
    type Output = Self;

    fn div(self, other: Self) -> Self {
        self.over(other)
    }
}

/// An exponent in twelfths as ASCII: `3`, `-2`, `(1/3)`.
fn exponent_text(twelfths: i16) -> String {
    if twelfths % 12 == 0 {
        return (twelfths / 12).to_string();
    }
    let (numerator, denominator) = reduced(twelfths);
    format!("({numerator}/{denominator})")
}

/// Twelfths as a fraction in lowest terms.
pub(super) fn reduced(twelfths: i16) -> (i16, i16) {
    let mut divisor = 12;
    while twelfths % divisor != 0 || 12 % divisor != 0 {
        divisor -= 1;
    }
    (twelfths / divisor, 12 / divisor)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_quotients_and_powers() {
        assert_eq!(Dimension::VELOCITY * Dimension::AREA, Dimension::FLOW);
        assert_eq!(Dimension::FORCE / Dimension::AREA, Dimension::PRESSURE);
        assert_eq!(Dimension::LENGTH.power(3, 1), Some(Dimension::VOLUME));
        assert_eq!(Dimension::AREA.power(1, 2), Some(Dimension::LENGTH));
        // Manning's coefficient, s/m^(1/3), and a root of a root.
        let manning = Dimension::TIME / Dimension::LENGTH.power(1, 3).unwrap();
        assert_eq!(manning.name(), "m^(-1/3) s");
        assert_eq!(Dimension::LENGTH.power(1, 5), None);
        assert_eq!(Dimension::LENGTH.power(1, 0), None);
        assert_eq!(Dimension::LENGTH.power(i32::MAX, 1), None);
        assert_eq!(Dimension::LENGTH.power(i32::MIN, -1), None);
        assert_eq!(Dimension::NONE.power(1, 7), Some(Dimension::NONE));
    }

    #[test]
    fn names_are_words_where_there_are_words() {
        assert_eq!(Dimension::PRESSURE.name(), "a pressure");
        assert_eq!(Dimension::NONE.name(), "a pure number");
        assert_eq!((Dimension::LENGTH * Dimension::MASS).name(), "m kg");
        assert_eq!(Dimension::VOLUME.power(2, 1).unwrap().name(), "m^6");
    }

    #[test]
    fn nothing_overflows() {
        let mut far = Dimension::PRESSURE;
        for _ in 0..20 {
            far = far * far;
        }
        assert_eq!(far.mass, i16::MAX);
        assert!(!far.name().is_empty());
        assert_eq!(reduced(i16::MIN), (i16::MIN / 4, 3));
    }
}
