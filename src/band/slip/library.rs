//! The library: every slip with its name and what to tell a student who made it.

use super::Slip;
use super::pump::PumpSlip;
use std::borrow::Cow;

/// What a slip does to the working.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    LossLeftOut(&'static str),
    LossTwice(&'static str),
    AllLossesLeftOut,
    LossOnOtherPipe,
    ChangeOnWiderPipe,
    OneVelocity,
    PointAtOutlet,
    VelocityHeadLeftOutAtPoint,
    NarrowerSize,
    VelocityHeadLeftOut,
    VelocityHeadDoubled,
    AlphaOne,
    ElevationLeftOut,
    ElevationSign,
    Fanning,
    FrictionLeftOut,
    SmoothWall,
    RoughnessTenfold,
    LaminarFormula,
    TurbulentFormula,
    NaturalLogarithm,
    FirstGuess,
    RadiusForDiameter,
    DiameterForRadius,
    HydraulicRadius,
    AreaFromHydraulicDiameter,
    RoundLaminarConstant,
    KinematicForDynamic,
    DynamicForKinematic,
    GaugeAndAbsolute,
    PressureUnits,
    Inch,
    Litre,
    TimeUnits,
    EfficiencyInverted,
    EfficiencyLeftOut,
    GravityLeftOut,
    GravityLeftOutOfHead,
    MachineSign,
    Pump(PumpSlip),
    NewRoughnessLeftOut,
    FirstFlowAllTheWay,
    HalfTheIntegral,
    CentreForMean,
    CorrectionsLeftOut,
    DiameterInTheProfile,
    ShearDoubled,
    IdealMeter,
    ApproachLeftOut,
    AreaRatioNotSquared,
    ManometerFluidLeftOut,
    DifferentialLost,
    TipForMean,
    SharedByArea,
    SharedEvenly,
    DemandLeftOut,
    ThousandfoldUp,
    ThousandfoldDown,
    /// One of a template's own: which.
    Own(usize),
}

/// What a slip is about: two about one thing are not made together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Subject {
    Elevation,
    VelocityHead,
    Factor,
    Law,
    Roughness,
    Bore,
    Viscosity,
    Pressure,
    Power,
    PumpCurve,
    Sharing,
    Integral,
    Prefix,
}

impl How {
    /// What it is about, where another slip is about the same.
    pub(super) fn subject(self) -> Option<Subject> {
        Some(match self {
            Self::ElevationLeftOut | Self::ElevationSign => Subject::Elevation,
            Self::VelocityHeadLeftOut | Self::VelocityHeadDoubled | Self::AlphaOne => Subject::VelocityHead,
            Self::Fanning | Self::FrictionLeftOut => Subject::Factor,
            Self::LaminarFormula | Self::TurbulentFormula | Self::NaturalLogarithm | Self::FirstGuess => {
                Subject::Law
            }
            Self::SmoothWall | Self::RoughnessTenfold | Self::NewRoughnessLeftOut => Subject::Roughness,
            Self::RadiusForDiameter
            | Self::DiameterForRadius
            | Self::HydraulicRadius
            | Self::AreaFromHydraulicDiameter
            | Self::Inch => Subject::Bore,
            Self::KinematicForDynamic | Self::DynamicForKinematic => Subject::Viscosity,
            Self::GaugeAndAbsolute | Self::PressureUnits | Self::GravityLeftOutOfHead => Subject::Pressure,
            Self::EfficiencyInverted | Self::EfficiencyLeftOut | Self::GravityLeftOut => Subject::Power,
            Self::Pump(
                PumpSlip::ParallelForSeries
                | PumpSlip::SeriesForParallel
                | PumpSlip::NumberLeftOut
                | PumpSlip::HeadBySpeed
                | PumpSlip::FlowKept,
            ) => Subject::PumpCurve,
            Self::SharedByArea | Self::SharedEvenly => Subject::Sharing,
            Self::FirstFlowAllTheWay | Self::HalfTheIntegral => Subject::Integral,
            Self::Litre | Self::TimeUnits | Self::ThousandfoldUp | Self::ThousandfoldDown => Subject::Prefix,
            _ => return None,
        })
    }
}

const fn slip(name: &'static str, advice: &'static str, how: How) -> Slip {
    Slip {
        name: Cow::Borrowed(name),
        advice: Cow::Borrowed(advice),
        how,
    }
}

pub(super) const LIBRARY: &[Slip] = &[
    slip(
        "exit loss left out",
        "Check whether your losses hold everything that the fluid passes up to the second station, the exit too.",
        How::LossLeftOut("exit"),
    ),
    slip(
        "exit loss counted twice",
        "Check whether the velocity head at the outlet stands in your energy equation more than once.",
        How::LossTwice("exit"),
    ),
    slip(
        "entrance loss left out",
        "Check whether your losses hold everything that the fluid passes, from the first station on.",
        How::LossLeftOut("entrance"),
    ),
    slip(
        "minor losses left out",
        "Check whether your head loss holds the fittings as well as the pipe.",
        How::AllLossesLeftOut,
    ),
    slip(
        "loss on another pipe's velocity",
        "Check which pipe's velocity head each loss coefficient belongs to.",
        How::LossOnOtherPipe,
    ),
    slip(
        "loss on the wider pipe's velocity",
        "Check which of the two velocities the loss at a change of area belongs to.",
        How::ChangeOnWiderPipe,
    ),
    slip(
        "one velocity for all pipes",
        "Check whether the velocity stays the same where the bore changes: it is the flow that does.",
        How::OneVelocity,
    ),
    slip(
        "point at the height of the outlet",
        "Check the height of the place at which the pressure is asked.",
        How::PointAtOutlet,
    ),
    slip(
        "velocity head left out at a point",
        "Check what the energy head holds beside pressure and height where the fluid moves.",
        How::VelocityHeadLeftOutAtPoint,
    ),
    slip(
        "narrower size taken",
        "Check whether the size that you chose is wide enough for the flow.",
        How::NarrowerSize,
    ),
    slip(
        "velocity head left out",
        "Check whether the fluid still moves at one of your stations, and what the energy equation has for that.",
        How::VelocityHeadLeftOut,
    ),
    slip(
        "half of the velocity head left out",
        "Check the factor in front of the velocity squared in each term.",
        How::VelocityHeadDoubled,
    ),
    slip(
        "alpha of one in laminar flow",
        "Check the kinetic-energy factor for this kind of flow.",
        How::AlphaOne,
    ),
    slip(
        "elevation left out",
        "Check whether your energy equation holds the heights of both stations.",
        How::ElevationLeftOut,
    ),
    slip(
        "sign of elevation",
        "Check which of the two stations is the higher one, and on which side its height stands.",
        How::ElevationSign,
    ),
    slip(
        "Fanning factor for Darcy's",
        "Check which friction factor your chart or formula gives, and which one your equation wants.",
        How::Fanning,
    ),
    slip(
        "friction left out",
        "Check whether your head loss holds the friction in the pipe.",
        How::FrictionLeftOut,
    ),
    slip(
        "smooth wall for rough",
        "Check which curve of the chart belongs to this wall.",
        How::SmoothWall,
    ),
    slip(
        "roughness ten times too large",
        "Check the units of roughness and diameter in their ratio.",
        How::RoughnessTenfold,
    ),
    slip(
        "laminar formula in turbulent flow",
        "Check whether the formula for your friction factor holds at this Reynolds number.",
        How::LaminarFormula,
    ),
    slip(
        "turbulent formula in laminar flow",
        "Check the Reynolds number before you choose where your friction factor comes from.",
        How::TurbulentFormula,
    ),
    slip(
        "natural logarithm in the friction formula",
        "Check which logarithm your friction formula means.",
        How::NaturalLogarithm,
    ),
    slip(
        "stopped at the first guess",
        "Check your assumption about the regime against the Reynolds number that you found.",
        How::FirstGuess,
    ),
    slip(
        "radius for diameter",
        "Check whether each length across the pipe in your working is its diameter.",
        How::RadiusForDiameter,
    ),
    slip(
        "diameter for radius in the area",
        "Check the area of the cross-section.",
        How::DiameterForRadius,
    ),
    slip(
        "hydraulic radius for hydraulic diameter",
        "Check how often the area over the wetted perimeter goes into the hydraulic diameter.",
        How::HydraulicRadius,
    ),
    slip(
        "area from the hydraulic diameter",
        "Check which area carries the flow: the duct has its own.",
        How::AreaFromHydraulicDiameter,
    ),
    slip(
        "round pipe's laminar constant in a duct",
        "Check whether the formula for your friction factor belongs to this cross-section.",
        How::RoundLaminarConstant,
    ),
    slip(
        "kinematic viscosity for dynamic",
        "Check which viscosity your Reynolds number is written with, and its units.",
        How::KinematicForDynamic,
    ),
    slip(
        "dynamic viscosity for kinematic",
        "Check which viscosity your Reynolds number is written with, and whether density is in it.",
        How::DynamicForKinematic,
    ),
    slip(
        "gauge and absolute mixed",
        "Check whether both pressures in your energy equation are counted from the same zero.",
        How::GaugeAndAbsolute,
    ),
    slip(
        "psi and kPa confused",
        "Check the unit of each pressure that you put in.",
        How::PressureUnits,
    ),
    slip(
        "inch and millimetre confused",
        "Check the unit of each bore that you put in.",
        How::Inch,
    ),
    slip(
        "litres taken for cubic metres",
        "Check the unit of each flow that you put in.",
        How::Litre,
    ),
    slip(
        "minutes or hours taken for seconds",
        "Check the unit of time in each flow and time that you put in or give.",
        How::TimeUnits,
    ),
    slip(
        "efficiency inverted",
        "Check on which side of the machine the losses are, and so which of the two powers is the larger.",
        How::EfficiencyInverted,
    ),
    slip(
        "efficiency left out",
        "Check whether the power asked for is that at the shaft or that in the fluid.",
        How::EfficiencyLeftOut,
    ),
    slip(
        "gravity left out of the power",
        "Check the units: density times flow times head is no power yet.",
        How::GravityLeftOut,
    ),
    slip(
        "gravity left out of the pressure head",
        "Check how a pressure becomes a head: density alone is no specific weight.",
        How::GravityLeftOutOfHead,
    ),
    slip(
        "sign of the pump's head",
        "Check on which side of your energy equation the head of each machine stands.",
        How::MachineSign,
    ),
    slip(
        "roughness of the new pipe left out",
        "Check how rough the pipe was before the first year.",
        How::NewRoughnessLeftOut,
    ),
    slip(
        "pumps in parallel treated as in series",
        "Check what adds up where pumps stand side by side: their flows or their heads.",
        How::Pump(PumpSlip::ParallelForSeries),
    ),
    slip(
        "pumps in series treated as in parallel",
        "Check what adds up where pumps stand one behind the other: their heads or their flows.",
        How::Pump(PumpSlip::SeriesForParallel),
    ),
    slip(
        "number of pumps left out",
        "Check whether your pump curve is that of one pump or that of all of them together.",
        How::Pump(PumpSlip::NumberLeftOut),
    ),
    slip(
        "head in proportion to the speed",
        "Check the affinity law for the head.",
        How::Pump(PumpSlip::HeadBySpeed),
    ),
    slip(
        "flow not moved with the speed",
        "Check the affinity law for the flow, and which point of the old curve belongs to a point of the new one.",
        How::Pump(PumpSlip::FlowKept),
    ),
    slip(
        "vapour pressure left out of NPSH",
        "Check from which pressure the net positive suction head is counted.",
        How::Pump(PumpSlip::VapourLeftOut),
    ),
    slip(
        "air's pressure left out of NPSH",
        "Check whether the pressures in your NPSH are absolute.",
        How::Pump(PumpSlip::AirLeftOut),
    ),
    slip(
        "suction losses left out of NPSH",
        "Check what the fluid loses before it reaches the pump.",
        How::Pump(PumpSlip::SuctionLossesLeftOut),
    ),
    slip(
        "motor efficiency left out",
        "Check whether the power asked for is that at the shaft or that of the mains.",
        How::Pump(PumpSlip::MotorLeftOut),
    ),
    slip(
        "a thousand times too large",
        "Check the prefix of your unit, such as milli or kilo.",
        How::ThousandfoldUp,
    ),
    slip(
        "a thousand times too small",
        "Check the prefix of your unit, such as milli or kilo.",
        How::ThousandfoldDown,
    ),
    slip(
        "first flow all the way",
        "Check whether the flow stays what it is at the start while the level moves.",
        How::FirstFlowAllTheWay,
    ),
    slip(
        "two left out of the integral",
        "Check the integral of one over the root of the head.",
        How::HalfTheIntegral,
    ),
    slip(
        "centre-line velocity taken for the mean",
        "Check which velocity you know: that on the centre line or the mean one.",
        How::CentreForMean,
    ),
    slip(
        "corrections of the capillary left out",
        "Check whether friction in the capillary takes all of the head.",
        How::CorrectionsLeftOut,
    ),
    slip(
        "diameter for radius in the profile",
        "Check which length the distance from the centre line is held against.",
        How::DiameterInTheProfile,
    ),
    slip(
        "shear stress with the diameter for the radius",
        "Check the balance of forces on the fluid: the area on which the pressure pushes, and the one along which the wall holds.",
        How::ShearDoubled,
    ),
    slip(
        "coefficient of the meter left out",
        "Check whether your answer is that of an ideal meter or of the real one.",
        How::IdealMeter,
    ),
    slip(
        "velocity of approach left out",
        "Check whether your equation counts the velocity that the fluid has before the throat.",
        How::ApproachLeftOut,
    ),
    slip(
        "area ratio not squared",
        "Check the power of the diameter ratio under the root.",
        How::AreaRatioNotSquared,
    ),
    slip(
        "fluid in the manometer left out",
        "Check what stands in each limb of the manometer over its deflection.",
        How::ManometerFluidLeftOut,
    ),
    slip(
        "whole differential taken as lost",
        "Check how much of the pressure comes back behind the meter.",
        How::DifferentialLost,
    ),
    slip(
        "velocity at the tip taken for the mean",
        "Check with which velocity the flow in the pipe is counted.",
        How::TipForMean,
    ),
    slip(
        "flow shared by area",
        "Check what pipes side by side have in common: it is not the velocity.",
        How::SharedByArea,
    ),
    slip(
        "flow shared evenly",
        "Check what pipes side by side have in common: it is not the flow.",
        How::SharedEvenly,
    ),
    slip(
        "demand left out",
        "Check the balance of flows at every junction, with what is taken out there.",
        How::DemandLeftOut,
    ),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::slips::SLIPS;

    /// Templates are checked against the names in `bank`.
    #[test]
    fn the_bank_knows_every_slip_by_its_name() {
        let known: Vec<_> = SLIPS.iter().map(|(name, _)| *name).collect();
        let library: Vec<_> = LIBRARY.iter().map(|slip| &*slip.name).collect();
        assert_eq!(library, known);
    }
}
