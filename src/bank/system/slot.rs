//! The places of a system that hold a value: what each needs, and what it may be.

use super::si_unit;
use super::tank::TankSlot;
use crate::quantity::{Dimension, Unit};

/// What a value is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Slot {
    /// A value that only a tank has.
    Tank(TankSlot),
    Temperature,
    Density,
    /// Dynamic or kinematic.
    Viscosity,
    DynamicViscosity,
    KinematicViscosity,
    VapourPressure,
    Gravity,
    Atmosphere,
    Flow,
    Pressure,
    Elevation,
    Velocity,
    Jet,
    Alpha,
    Diameter,
    Length,
    Roughness,
    Width,
    DuctHeight,
    OuterDiameter,
    InnerDiameter,
    Side,
    Gap,
    Area,
    Perimeter,
    LaminarConstant,
    MeanVelocity,
    CentreVelocity,
    PressureDrop,
    WallShear,
    Volume,
    Time,
    EndCorrection,
    KineticCorrection,
    Exponent,
    Radius,
    Coefficient,
    Head,
    Power,
    Efficiency,
    /// Flow of a point of a pump's curve.
    CurveFlow,
    HeadPerFlow,
    HeadPerFlowSquared,
    NpshRequired,
    /// Elevation of a pump's inlet.
    PumpElevation,
    /// A point of a curve of efficiencies, which may be 0.
    Share,
    SharePerFlow,
    SharePerFlowSquared,
    RatedSpeed,
    Speed,
    FullImpeller,
    Impeller,
    Parallel,
    Series,
    MotorEfficiency,
    GeneratorEfficiency,
    RunningTime,
    Price,
    Distance,
    Growth,
    Age,
    HeadLoss,
    /// What a meter's gauge shows.
    Differential,
    Deflection,
    MeterCoefficient,
    /// Velocity at the tip of a Pitot tube.
    PointVelocity,
    VelocityRatio,
    LossShare,
    UpstreamPressure,
    IsentropicExponent,
    Rounding,
    EquivalentLength,
    EquivalentDiameters,
    Angle,
    Along,
    /// Of a point on the way, which no system is solved for.
    Height,
    /// Of a reservoir's surface.
    Level,
    /// Taken out at a junction.
    Demand,
    /// Put in at a junction.
    Supply,
    /// Of a node: pressure head and elevation.
    TotalHead,
}

/// Whose value it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Of<'a> {
    System,
    Start,
    End,
    Element(&'a str),
}

/// More pumps than any station has.
const MOST_PUMPS: f64 = 20.0;
/// Largest value, in SI units, with which powers of it are still numbers; its inverse is the smallest but 0.
const MOST_SI: f64 = 1e30;

/// What a place of a pump or a turbine needs.
struct OfMachine {
    noun: &'static str,
    dimension: Dimension,
    needed: &'static str,
    example: &'static str,
    units: &'static str,
    si: &'static str,
}

impl Slot {
    /// What a place of a pump or a turbine needs; `None` for others.
    fn of_machine(self) -> Option<OfMachine> {
        const LENGTH: Dimension = Dimension::LENGTH;
        const FLOW: Dimension = Dimension::FLOW;
        let entry = |noun, dimension, needed, example, units, si| {
            Some(OfMachine {
                noun,
                dimension,
                needed,
                example,
                units,
                si,
            })
        };
        let pure = |noun, example| entry(noun, Dimension::NONE, "a pure number", example, "no unit", "");
        let speed = |noun| {
            let units = "a unit of rotation, such as `rpm`";
            entry(
                noun,
                Dimension::RATE,
                "a speed of rotation",
                "1450 rpm",
                units,
                "1/s",
            )
        };
        let length = |noun, example, unit| entry(noun, LENGTH, "a length", example, unit, "m");
        let metres = "a unit of length, such as `m`";
        let millimetres = "a unit of length, such as `mm`";
        match self {
            Self::CurveFlow => {
                let units = "a unit of volume flow, such as `L/s`";
                entry(
                    "flow on the curve",
                    FLOW,
                    "a volume flow",
                    "10 L/s",
                    units,
                    "m³/s",
                )
            }
            Self::HeadPerFlow => entry(
                "`b` of the curve",
                LENGTH.over(FLOW),
                "a head per flow",
                "-120 s/m^2",
                "a unit of head per flow, such as `s/m^2` or `m/(L/s)`",
                "s/m²",
            ),
            Self::HeadPerFlowSquared => entry(
                "`c` of the curve",
                LENGTH.over(FLOW).over(FLOW),
                "a head per square of the flow",
                "-5000 s^2/m^5",
                "a unit of head per square of the flow, such as `s^2/m^5` or `m/(L/s)^2`",
                "s²/m⁵",
            ),
            Self::SharePerFlow => entry(
                "`b` of the efficiency curve",
                Dimension::NONE.over(FLOW),
                "a number per flow",
                "48 s/m^3",
                "a unit of one over flow, such as `s/m^3` or `1/(L/s)`",
                "s/m³",
            ),
            Self::SharePerFlowSquared => entry(
                "`c` of the efficiency curve",
                Dimension::NONE.over(FLOW).over(FLOW),
                "a number per square of the flow",
                "-780 s^2/m^6",
                "a unit of one over the square of the flow, such as `s^2/m^6` or `1/(L/s)^2`",
                "s²/m⁶",
            ),
            Self::NpshRequired => length("required NPSH", "3.2 m", metres),
            Self::PumpElevation => length("elevation", "1.5 m", metres),
            Self::Share => pure("efficiency", "0.72"),
            Self::RatedSpeed => speed("rated speed"),
            Self::Speed => speed("speed"),
            Self::FullImpeller => length("full impeller", "220 mm", millimetres),
            Self::Impeller => length("impeller", "205 mm", millimetres),
            Self::Parallel => pure("number in parallel", "2"),
            Self::Series => pure("number in series", "2"),
            Self::MotorEfficiency => pure("motor efficiency", "0.92"),
            Self::GeneratorEfficiency => pure("generator efficiency", "0.95"),
            Self::RunningTime => {
                let units = "a unit of time, such as `h`";
                entry("running time", Dimension::TIME, "a time", "4000 h", units, "s")
            }
            Self::Price => entry(
                "price",
                Dimension::NONE.over(Dimension::ENERGY),
                "a price of energy",
                "0.18 /kWh",
                "a unit of one over energy, such as `/kWh`, whatever the currency",
                "1/J",
            ),
            _ => None,
        }
    }

    /// Its name in a sentence.
    pub(in crate::bank) fn noun(self) -> &'static str {
        match self {
            Self::Tank(slot) => slot.noun(),
            Self::Temperature => "temperature",
            Self::Density => "density",
            Self::Viscosity => "viscosity",
            Self::DynamicViscosity => "dynamic viscosity",
            Self::KinematicViscosity => "kinematic viscosity",
            Self::VapourPressure => "vapour pressure",
            Self::Gravity => "gravity",
            Self::Atmosphere => "atmosphere",
            Self::Flow => "flow",
            Self::Pressure => "pressure",
            Self::Elevation => "elevation",
            Self::Velocity => "velocity",
            Self::Jet => "jet diameter",
            Self::Alpha => "alpha",
            Self::Diameter => "diameter",
            Self::Width => "width",
            Self::DuctHeight => "height",
            Self::OuterDiameter => "outer diameter",
            Self::InnerDiameter => "inner diameter",
            Self::Side => "side",
            Self::Gap => "gap",
            Self::Area => "area",
            Self::Perimeter => "wetted perimeter",
            Self::LaminarConstant => "laminar constant",
            Self::MeanVelocity => "mean velocity",
            Self::CentreVelocity => "centre-line velocity",
            Self::PressureDrop => "pressure drop",
            Self::WallShear => "wall shear stress",
            Self::Volume => "volume",
            Self::Time => "time",
            Self::EndCorrection => "end correction",
            Self::KineticCorrection => "kinetic correction",
            Self::Exponent => "exponent",
            Self::Radius => "radius",
            Self::Length => "length",
            Self::Roughness => "roughness",
            Self::Coefficient => "K",
            Self::Head => "head",
            Self::Power => "power",
            Self::Efficiency => "efficiency",
            Self::Distance => "distance",
            Self::Growth => "growth",
            Self::Age => "age",
            Self::HeadLoss => "head loss",
            Self::Differential => "differential pressure",
            Self::Deflection => "deflection",
            Self::MeterCoefficient => "coefficient",
            Self::PointVelocity => "velocity",
            Self::VelocityRatio => "velocity ratio",
            Self::LossShare => "permanent loss",
            Self::UpstreamPressure => "upstream pressure",
            Self::IsentropicExponent => "isentropic exponent",
            Self::Rounding => "rounding",
            Self::EquivalentLength => "equivalent length",
            Self::EquivalentDiameters => "equivalent diameters",
            Self::Angle => "angle",
            Self::Along => "distance along the pipe",
            Self::Height => "elevation",
            Self::Level => "level",
            Self::Demand => "demand",
            Self::Supply => "supply",
            Self::TotalHead => "head",
            _ => self.of_machine().map_or("value", |m| m.noun),
        }
    }

    /// What it is called with its owner: `diameter of riser`.
    pub(in crate::bank) fn label(self, of: Of<'_>) -> String {
        match of {
            Of::System => self.noun().to_owned(),
            Of::Start | Of::End => {
                let end = if of == Of::Start { "start" } else { "end" };
                let word = if self == Self::Elevation { "of" } else { "at" };
                format!("{} {word} the {end}", self.noun())
            }
            Of::Element(name) => match self {
                Self::Tank(slot) => format!("{} {} {name}", self.noun(), slot.preposition()),
                _ => format!("{} of {name}", self.noun()),
            },
        }
    }

    fn dimension(self) -> Dimension {
        match self {
            Self::Tank(slot) => slot.dimension(),
            Self::Temperature => Dimension::TEMPERATURE,
            Self::Density => Dimension::DENSITY,
            Self::Viscosity | Self::DynamicViscosity => Dimension::DYNAMIC_VISCOSITY,
            Self::KinematicViscosity => Dimension::KINEMATIC_VISCOSITY,
            Self::VapourPressure
            | Self::Atmosphere
            | Self::Pressure
            | Self::Differential
            | Self::UpstreamPressure => Dimension::PRESSURE,
            Self::Gravity => Dimension::ACCELERATION,
            Self::Flow | Self::Demand | Self::Supply => Dimension::FLOW,
            Self::Velocity | Self::PointVelocity | Self::Growth => Dimension::VELOCITY,
            Self::Age => Dimension::TIME,
            Self::Elevation
            | Self::Jet
            | Self::Diameter
            | Self::Length
            | Self::Roughness
            | Self::Head
            | Self::HeadLoss
            | Self::Distance
            | Self::EquivalentLength
            | Self::Along
            | Self::Height
            | Self::Deflection
            | Self::Level
            | Self::TotalHead => Dimension::LENGTH,
            Self::Alpha
            | Self::Coefficient
            | Self::Efficiency
            | Self::MeterCoefficient
            | Self::VelocityRatio
            | Self::LossShare
            | Self::Rounding
            | Self::EquivalentDiameters
            | Self::Angle
            | Self::IsentropicExponent => Dimension::NONE,
            Self::Power => Dimension::POWER,
            Self::Width
            | Self::DuctHeight
            | Self::OuterDiameter
            | Self::InnerDiameter
            | Self::Side
            | Self::Gap
            | Self::Perimeter
            | Self::Radius => Dimension::LENGTH,
            Self::Area => Dimension::AREA,
            Self::MeanVelocity | Self::CentreVelocity => Dimension::VELOCITY,
            Self::PressureDrop | Self::WallShear => Dimension::PRESSURE,
            Self::Volume => Dimension::VOLUME,
            Self::Time => Dimension::TIME,
            Self::LaminarConstant | Self::EndCorrection | Self::KineticCorrection | Self::Exponent => {
                Dimension::NONE
            }
            _ => self.of_machine().map_or(Dimension::NONE, |m| m.dimension),
        }
    }

    /// Whether a value of this dimension can stand here.
    pub(in crate::bank) fn fits(self, dimension: Dimension) -> bool {
        dimension == self.dimension()
            || (self == Self::Viscosity && dimension == Dimension::KINEMATIC_VISCOSITY)
    }

    /// What is needed, in words: `a length`.
    pub(in crate::bank) fn needed(self) -> &'static str {
        match self {
            Self::Tank(slot) => slot.needed(),
            Self::Temperature => "a temperature",
            Self::Density => "a density",
            Self::Viscosity | Self::DynamicViscosity => "a dynamic viscosity",
            Self::KinematicViscosity => "a kinematic viscosity",
            Self::VapourPressure
            | Self::Atmosphere
            | Self::Pressure
            | Self::Differential
            | Self::UpstreamPressure => "a pressure",
            Self::Gravity => "an acceleration",
            Self::Flow | Self::Demand | Self::Supply => "a volume flow",
            Self::Velocity | Self::PointVelocity => "a velocity",
            Self::Growth => "a length in a time",
            Self::Age => "a time",
            Self::Alpha
            | Self::Coefficient
            | Self::Efficiency
            | Self::MeterCoefficient
            | Self::VelocityRatio
            | Self::LossShare
            | Self::Rounding
            | Self::EquivalentDiameters
            | Self::IsentropicExponent => "a pure number",
            Self::Angle => "an angle",
            Self::Power => "a power",
            Self::Area => "an area",
            Self::MeanVelocity | Self::CentreVelocity => "a velocity",
            Self::PressureDrop | Self::WallShear => "a pressure",
            Self::Volume => "a volume",
            Self::Time => "a time",
            Self::LaminarConstant | Self::EndCorrection | Self::KineticCorrection | Self::Exponent => {
                "a pure number"
            }
            _ => self.of_machine().map_or("a length", |m| m.needed),
        }
    }

    /// A value such as could stand here.
    pub(in crate::bank) fn example(self) -> &'static str {
        match self {
            Self::Tank(slot) => slot.example(),
            Self::Temperature => "20 degC",
            Self::Density => "998 kg/m^3",
            Self::Viscosity | Self::DynamicViscosity => "1.0e-3 Pa.s",
            Self::KinematicViscosity => "1.0e-6 m^2/s",
            Self::VapourPressure => "2.3 kPa",
            Self::Gravity => "9.81 m/s^2",
            Self::Atmosphere => "101.3 kPa",
            Self::Flow => "2.5 L/s",
            Self::Pressure => "320 kPa",
            Self::Elevation => "12 m",
            Self::Velocity => "1.5 m/s",
            Self::Jet => "30 mm",
            Self::Alpha => "1.0",
            Self::Diameter => "40 mm",
            Self::Width => "400 mm",
            Self::DuctHeight => "250 mm",
            Self::OuterDiameter => "60 mm",
            Self::InnerDiameter => "30 mm",
            Self::Side => "80 mm",
            Self::Gap => "2 mm",
            Self::Area => "0.012 m^2",
            Self::Perimeter => "0.46 m",
            Self::LaminarConstant => "60.5",
            Self::MeanVelocity => "0.8 m/s",
            Self::CentreVelocity => "1.6 m/s",
            Self::PressureDrop => "3.2 kPa",
            Self::WallShear => "4.8 Pa",
            Self::Volume => "20 mL",
            Self::Time => "200 s",
            Self::EndCorrection => "0.6",
            Self::KineticCorrection => "1.12",
            Self::Exponent => "7",
            Self::Radius => "4 mm",
            Self::Length => "60 m",
            Self::Roughness => "0.15 mm",
            Self::Coefficient => "0.2",
            Self::Head => "15 m",
            Self::Power => "2.2 kW",
            Self::Efficiency => "0.75",
            Self::Distance => "850 m",
            Self::Growth => "0.03 mm/year",
            Self::Age => "18 year",
            Self::HeadLoss => "14.2 m",
            Self::Differential => "25 kPa",
            Self::Deflection => "180 mm",
            Self::MeterCoefficient => "0.98",
            Self::PointVelocity => "12 m/s",
            Self::VelocityRatio => "0.82",
            Self::LossShare => "10 %",
            Self::UpstreamPressure => "250 kPa",
            Self::IsentropicExponent => "1.4",
            Self::Rounding => "0.06",
            Self::EquivalentLength => "3.2 m",
            Self::EquivalentDiameters => "30",
            Self::Angle => "12 deg",
            Self::Along => "4 m",
            Self::Height => "5 m",
            Self::Level | Self::TotalHead => "74 m",
            Self::Demand | Self::Supply => "20 L/s",
            _ => self.of_machine().map_or("1", |m| m.example),
        }
    }

    /// Units that would do, for a mend.
    pub(in crate::bank) fn units(self) -> &'static str {
        match self {
            Self::Tank(slot) => slot.units(),
            Self::Temperature => "a unit of temperature, such as `degC`",
            Self::Density => "a unit of density, such as `kg/m^3`",
            Self::Viscosity | Self::DynamicViscosity => "a unit of dynamic viscosity, such as `Pa.s`",
            Self::KinematicViscosity => "a unit of kinematic viscosity, such as `m^2/s`",
            Self::VapourPressure
            | Self::Atmosphere
            | Self::Pressure
            | Self::Differential
            | Self::UpstreamPressure => "a unit of pressure, such as `kPa`",
            Self::Gravity => "a unit of acceleration, such as `m/s^2`",
            Self::Flow | Self::Demand | Self::Supply => "a unit of volume flow, such as `L/s`",
            Self::Velocity | Self::PointVelocity => "a unit of velocity, such as `m/s`",
            Self::Growth => "a unit of length in time, such as `mm/year`",
            Self::Age => "a unit of time, such as `year`",
            Self::Alpha
            | Self::Coefficient
            | Self::Efficiency
            | Self::MeterCoefficient
            | Self::VelocityRatio
            | Self::LossShare
            | Self::Rounding
            | Self::EquivalentDiameters
            | Self::IsentropicExponent => "no unit",
            Self::Angle => "a unit of angle, such as `deg`",
            Self::Power => "a unit of power, such as `kW`",
            Self::Width
            | Self::DuctHeight
            | Self::OuterDiameter
            | Self::InnerDiameter
            | Self::Side
            | Self::Gap
            | Self::Perimeter
            | Self::Radius => "a unit of length, such as `mm`",
            Self::Area => "a unit of area, such as `m^2`",
            Self::MeanVelocity | Self::CentreVelocity => "a unit of velocity, such as `m/s`",
            Self::PressureDrop | Self::WallShear => "a unit of pressure, such as `Pa`",
            Self::Volume => "a unit of volume, such as `mL`",
            Self::Time => "a unit of time, such as `s`",
            Self::LaminarConstant | Self::EndCorrection | Self::KineticCorrection | Self::Exponent => {
                "no unit"
            }
            Self::Jet | Self::Diameter | Self::Roughness | Self::Deflection => {
                "a unit of length, such as `mm`"
            }
            Self::Elevation
            | Self::Length
            | Self::Head
            | Self::HeadLoss
            | Self::Distance
            | Self::EquivalentLength
            | Self::Along
            | Self::Height
            | Self::Level
            | Self::TotalHead => "a unit of length, such as `m`",
            _ => self.of_machine().map_or("a unit", |m| m.units),
        }
    }

    /// The unit of SI for values that come from a formula.
    pub(in crate::bank) fn unit(self, dimension: Dimension) -> Unit {
        if self == Self::Viscosity && dimension == Dimension::KINEMATIC_VISCOSITY {
            return Self::KinematicViscosity.unit(dimension);
        }
        let symbol = match self {
            Self::Tank(slot) => slot.symbol(),
            Self::Temperature => "K",
            Self::Density => "kg/m³",
            Self::Viscosity | Self::DynamicViscosity => "Pa·s",
            Self::KinematicViscosity => "m²/s",
            Self::VapourPressure
            | Self::Atmosphere
            | Self::Pressure
            | Self::Differential
            | Self::UpstreamPressure => "Pa",
            Self::Gravity => "m/s²",
            Self::Flow | Self::Demand | Self::Supply => "m³/s",
            Self::Velocity | Self::PointVelocity | Self::Growth => "m/s",
            Self::Age => "s",
            Self::Alpha
            | Self::Coefficient
            | Self::Efficiency
            | Self::MeterCoefficient
            | Self::VelocityRatio
            | Self::LossShare
            | Self::Rounding
            | Self::EquivalentDiameters
            | Self::IsentropicExponent => "",
            Self::Angle => "rad",
            Self::Power => "W",
            Self::Area => "m²",
            Self::MeanVelocity | Self::CentreVelocity => "m/s",
            Self::PressureDrop | Self::WallShear => "Pa",
            Self::Volume => "m³",
            Self::Time => "s",
            Self::LaminarConstant | Self::EndCorrection | Self::KineticCorrection | Self::Exponent => "",
            _ => self.of_machine().map_or("m", |m| m.si),
        };
        si_unit(symbol, dimension)
    }

    /// Whether a system can be solved for it.
    pub(in crate::bank) fn may_be_unknown(self) -> bool {
        matches!(
            self,
            Self::Flow
                | Self::Tank(TankSlot::Time | TankSlot::Until)
                | Self::Pressure
                | Self::Elevation
                | Self::Diameter
                | Self::Length
                | Self::Roughness
                | Self::Coefficient
                | Self::Head
                | Self::Power
                | Self::Speed
                | Self::Impeller
                | Self::Distance
                | Self::Growth
                | Self::Age
                | Self::HeadLoss
                | Self::MeanVelocity
                | Self::CentreVelocity
                | Self::PressureDrop
                | Self::WallShear
                | Self::Differential
                | Self::Deflection
                | Self::MeterCoefficient
                | Self::PointVelocity
        )
    }

    /// What is wrong with an SI value here, as the end of a sentence; nothing where it can be.
    pub(in crate::bank) fn impossible(self, si: f64) -> Option<&'static str> {
        let (possible, words) = match self {
            Self::Diameter | Self::Jet | Self::Density | Self::Viscosity | Self::Flow => {
                (si > 0.0, "it must be greater than 0")
            }
            Self::DynamicViscosity | Self::KinematicViscosity | Self::Gravity => {
                (si > 0.0, "it must be greater than 0")
            }
            Self::Differential | Self::Deflection | Self::MeterCoefficient | Self::PointVelocity => {
                (si > 0.0, "it must be greater than 0")
            }
            Self::IsentropicExponent => (si > 1.0, "it must be greater than 1"),
            Self::VelocityRatio | Self::LossShare => {
                (si > 0.0 && si <= 1.0, "it must be greater than 0 and at most 1")
            }
            Self::Tank(slot) => slot.possible(si),
            Self::Temperature => (si > 0.0, "it is below absolute zero"),
            Self::Width
            | Self::DuctHeight
            | Self::OuterDiameter
            | Self::InnerDiameter
            | Self::Side
            | Self::Gap
            | Self::Area
            | Self::Perimeter
            | Self::LaminarConstant
            | Self::MeanVelocity
            | Self::CentreVelocity
            | Self::PressureDrop
            | Self::WallShear
            | Self::Volume
            | Self::Time => (si > 0.0, "it must be greater than 0"),
            Self::Radius | Self::EndCorrection | Self::KineticCorrection => {
                (si >= 0.0, "it can't be less than 0")
            }
            Self::Exponent => (si >= 1.0, "it can't be less than 1"),
            Self::Length
            | Self::Roughness
            | Self::Coefficient
            | Self::Velocity
            | Self::Head
            | Self::Power
            | Self::CurveFlow
            | Self::NpshRequired
            | Self::RunningTime
            | Self::Price
            | Self::Distance
            | Self::Growth
            | Self::Age
            | Self::HeadLoss
            | Self::EquivalentLength
            | Self::EquivalentDiameters
            | Self::Along
            | Self::Demand
            | Self::Supply
            | Self::VapourPressure
            | Self::Atmosphere => (si >= 0.0, "it can't be less than 0"),
            // Nought leaves the velocity head out, as at a surface so wide that it hardly moves.
            Self::Alpha => (si == 0.0 || si >= 1.0, "it can't be less than 1, unless it is 0"),
            Self::Rounding => ((0.0..=1.0).contains(&si), "it must lie between 0 and 1"),
            Self::Angle => (
                si > 0.0 && si <= std::f64::consts::PI,
                "it must be greater than 0 and at most 180 deg",
            ),
            Self::Efficiency | Self::MotorEfficiency | Self::GeneratorEfficiency => {
                (si > 0.0 && si <= 1.0, "it must be greater than 0 and at most 1")
            }
            Self::Share => ((0.0..=1.0).contains(&si), "it must be from 0 to 1"),
            Self::RatedSpeed | Self::Speed | Self::FullImpeller | Self::Impeller => {
                (si > 0.0, "it must be greater than 0")
            }
            Self::Parallel | Self::Series => (
                si.fract() == 0.0 && (1.0..=MOST_PUMPS).contains(&si),
                "it must be a whole number from 1 to 20",
            ),
            Self::Pressure
            | Self::Elevation
            | Self::UpstreamPressure
            | Self::Height
            | Self::PumpElevation
            | Self::HeadPerFlow
            | Self::HeadPerFlowSquared
            | Self::SharePerFlow
            | Self::SharePerFlowSquared
            | Self::Level
            | Self::TotalHead => (true, ""),
        };
        if !si.is_finite() || (si != 0.0 && !(1.0 / MOST_SI..=MOST_SI).contains(&si.abs())) {
            Some("in SI units it must lie between 1e-30 and 1e30, or be 0")
        } else if possible {
            None
        } else {
            Some(words)
        }
    }
}
