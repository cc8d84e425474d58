//! The units that results and worked solutions are printed in.

use crate::bank::course::{Conventions, UnitSystem};
use crate::quantity::{Dimension, Unit, Written};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// What a value is the value of; it decides which of a dimension's units reads best.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A diameter or a roughness.
    Bore,
    /// A length along a pipe, an elevation or a head.
    Length,
    /// A cross-section.
    Area,
    /// A volume.
    Volume,
    /// A time.
    Time,
    /// A velocity.
    Velocity,
    /// A volume flow.
    Flow,
    /// A mass flow.
    MassFlow,
    /// A pressure.
    Pressure,
    /// A power.
    Power,
    /// A density.
    Density,
    /// A dynamic viscosity.
    DynamicViscosity,
    /// A kinematic viscosity.
    KinematicViscosity,
    /// A speed of rotation.
    Speed,
    /// An age in years.
    Age,
    /// Growth of a length in a year.
    Growth,
    /// Energy of a long time.
    Energy,
    /// An acceleration.
    Acceleration,
    /// A pure number.
    Number,
}

impl Kind {
    /// Its dimension.
    pub(crate) fn dimension(self) -> Dimension {
        match self {
            Self::Bore | Self::Length => Dimension::LENGTH,
            Self::Area => Dimension::AREA,
            Self::Volume => Dimension::VOLUME,
            Self::Time => Dimension::TIME,
            Self::Velocity => Dimension::VELOCITY,
            Self::Flow => Dimension::FLOW,
            Self::MassFlow => Dimension::MASS_FLOW,
            Self::Pressure => Dimension::PRESSURE,
            Self::Power => Dimension::POWER,
            Self::Density => Dimension::DENSITY,
            Self::DynamicViscosity => Dimension::DYNAMIC_VISCOSITY,
            Self::KinematicViscosity => Dimension::KINEMATIC_VISCOSITY,
            Self::Acceleration => Dimension::ACCELERATION,
            Self::Speed => Dimension::RATE,
            Self::Age => Dimension::TIME,
            Self::Growth => Dimension::VELOCITY,
            Self::Energy => Dimension::ENERGY,
            Self::Number => Dimension::NONE,
        }
    }
}

/// Every symbol that [`symbol`] gives, read once.
static UNITS: LazyLock<BTreeMap<&'static str, Unit>> = LazyLock::new(|| {
    SYMBOLS
        .iter()
        .map(|s| {
            (
                *s,
                Unit::parse(s).expect("the units below are ones that `quantity` reads"),
            )
        })
        .collect()
});

const SYMBOLS: &[&str] = &[
    "mm",
    "yr",
    "mm/yr",
    "in/yr",
    "m",
    "m^2",
    "L",
    "m^3",
    "s",
    "min",
    "h",
    "m/s",
    "mL/s",
    "L/s",
    "m^3/s",
    "kg/s",
    "Pa",
    "kPa",
    "MPa",
    "W",
    "kW",
    "MW",
    "kg/m^3",
    "Pa.s",
    "m^2/s",
    "m/s^2",
    "rpm",
    "kWh",
    "MWh",
    "in",
    "ft",
    "ft^2",
    "ft^3",
    "ft/s",
    "gpm",
    "ft^3/s",
    "lbm/s",
    "psi",
    "hp",
    "lbm/ft^3",
    "lbm/(ft.s)",
    "ft^2/s",
    "ft/s^2",
];

/// The symbol of the unit in which `si` reads best.
fn symbol(kind: Kind, si: f64, units: UnitSystem) -> &'static str {
    let size = si.abs();
    match units {
        UnitSystem::Si => match kind {
            Kind::Bore if size < 1.0 => "mm",
            Kind::Bore | Kind::Length => "m",
            Kind::Area => "m^2",
            Kind::Volume if size < 0.1 => "L",
            Kind::Volume => "m^3",
            // So that three figures need no power of ten.
            Kind::Time if size < 999.5 => "s",
            Kind::Time if size < 59_970.0 => "min",
            Kind::Time => "h",
            Kind::Velocity => "m/s",
            Kind::Flow if size < 1.0e-4 => "mL/s",
            Kind::Flow if size < 0.5 => "L/s",
            Kind::Flow => "m^3/s",
            Kind::MassFlow => "kg/s",
            // Zero is written in the unit that its neighbours have.
            Kind::Pressure if size != 0.0 && size < 1.0e3 => "Pa",
            Kind::Pressure if size < 1.0e7 => "kPa",
            Kind::Pressure => "MPa",
            Kind::Power if size < 1.0e3 => "W",
            Kind::Power if size < 1.0e6 => "kW",
            Kind::Power => "MW",
            Kind::Density => "kg/m^3",
            Kind::DynamicViscosity => "Pa.s",
            Kind::KinematicViscosity => "m^2/s",
            Kind::Acceleration => "m/s^2",
            Kind::Speed => "rpm",
            Kind::Age => "yr",
            Kind::Growth => "mm/yr",
            Kind::Energy if size < 3.6e11 => "kWh",
            Kind::Energy => "MWh",
            Kind::Number => "",
        },
        UnitSystem::UsCustomary => match kind {
            Kind::Bore => "in",
            Kind::Length => "ft",
            Kind::Area => "ft^2",
            Kind::Volume => "ft^3",
            Kind::Time if size < 999.5 => "s",
            Kind::Time if size < 59_970.0 => "min",
            Kind::Time => "h",
            Kind::Velocity => "ft/s",
            // 2,000 gpm is 4.46 ft³/s.
            Kind::Flow if size < 0.126 => "gpm",
            Kind::Flow => "ft^3/s",
            Kind::MassFlow => "lbm/s",
            Kind::Pressure => "psi",
            Kind::Power => "hp",
            Kind::Density => "lbm/ft^3",
            Kind::DynamicViscosity => "lbm/(ft.s)",
            Kind::KinematicViscosity => "ft^2/s",
            Kind::Acceleration => "ft/s^2",
            Kind::Speed => "rpm",
            Kind::Age => "yr",
            Kind::Growth => "in/yr",
            Kind::Energy => "kWh",
            Kind::Number => "",
        },
    }
}

/// The unit in which a value of SI size `si` reads best.
pub(super) fn display_unit(kind: Kind, si: f64, units: UnitSystem) -> Unit {
    UNITS
        .get(symbol(kind, si, units))
        .cloned()
        .unwrap_or_else(Unit::none)
}

/// `si` in the unit and with the figures of the conventions.
pub(super) fn shown(kind: Kind, si: f64, conventions: &Conventions) -> Written {
    Written::from_si(
        si,
        &display_unit(kind, si, conventions.units),
        conventions.figures,
    )
}

/// Whether a unit is one of a system's; units without a system, such as seconds, are of both.
fn of_system(unit: &Unit, units: UnitSystem) -> bool {
    let us = unit.is_us_customary();
    us.is_none_or(|us| us == (units == UnitSystem::UsCustomary))
}

/// A given value as the system writes it where its unit is one of the course's, else converted.
pub(super) fn given(kind: Kind, written: &Written, conventions: &Conventions) -> Written {
    if written.unit.dimension == crate::quantity::Dimension::NONE
        || of_system(&written.unit, conventions.units)
    {
        written.clone()
    } else {
        shown(kind, written.quantity().value, conventions)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn conventions(units: UnitSystem) -> Conventions {
        Conventions {
            units,
            decimal_mark: crate::quantity::DecimalMark::Point,
            figures: 4,
            property_figures: 4,
        }
    }

    #[test]
    fn every_unit_that_a_result_may_need_can_be_read() {
        for s in SYMBOLS {
            assert!(Unit::parse(s).is_ok(), "{s}");
        }
        for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
            for size in [0.0, 1e-6, 1e-3, 1.0, 1e4, 1e8] {
                for kind in [
                    Kind::Bore,
                    Kind::Length,
                    Kind::Area,
                    Kind::Volume,
                    Kind::Time,
                    Kind::Velocity,
                    Kind::Flow,
                    Kind::MassFlow,
                    Kind::Pressure,
                    Kind::Power,
                    Kind::Density,
                    Kind::DynamicViscosity,
                    Kind::KinematicViscosity,
                    Kind::Acceleration,
                    Kind::Speed,
                    Kind::Age,
                    Kind::Growth,
                    Kind::Energy,
                ] {
                    assert!(SYMBOLS.contains(&symbol(kind, size, units)), "{kind:?} {size}");
                }
            }
        }
    }

    #[test]
    fn units_follow_the_size_of_a_value() {
        let si = conventions(UnitSystem::Si);
        assert_eq!(shown(Kind::Flow, 0.0021, &si).ascii(), "2.100 L/s");
        assert_eq!(shown(Kind::Pressure, 350_000.0, &si).ascii(), "350.0 kPa");
        assert_eq!(shown(Kind::Power, 745.2, &si).ascii(), "745.2 W");
        assert_eq!(shown(Kind::Power, 7452.0, &si).ascii(), "7.452 kW");
        let us = conventions(UnitSystem::UsCustomary);
        assert_eq!(shown(Kind::Bore, 0.0762, &us).ascii(), "3.000 in");
        assert_eq!(shown(Kind::Flow, 6.309_019_64e-3, &us).ascii(), "100.0 gpm");
    }

    #[test]
    fn a_given_keeps_its_unit_in_its_own_system_and_is_converted_in_the_other() {
        let written = Written::parse("60.0 m").unwrap();
        assert_eq!(
            given(Kind::Length, &written, &conventions(UnitSystem::Si)).ascii(),
            "60.0 m"
        );
        assert_eq!(
            given(Kind::Length, &written, &conventions(UnitSystem::UsCustomary)).ascii(),
            "196.9 ft"
        );
        let written = Written::parse("40 gpm").unwrap();
        assert_eq!(
            given(Kind::Flow, &written, &conventions(UnitSystem::Si)).ascii(),
            "2.524 L/s"
        );
        let written = Written::parse("12 L/min").unwrap();
        assert_eq!(
            given(Kind::Flow, &written, &conventions(UnitSystem::Si)).ascii(),
            "12 L/min"
        );
    }
}
