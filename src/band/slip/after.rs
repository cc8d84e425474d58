//! Slips that change what is made of a solved problem.

use super::base::{Base, Form, Worked};
use super::library::How;
use super::setup::{Numbers, Setup};
use super::{meter, network, pump};
use crate::band::working::{AtPoint, Name, OfSize, Outcome, Whole};
use crate::bank::system::Element as Said;
use crate::bank::system::network::own_result;
use crate::hydraulics::path::{Duty, Element, Machine, Path};
use crate::hydraulics::profile::Drive;
use crate::hydraulics::tank::Asked;
use crate::solution::Case;
use std::sync::Arc;

/// Puts a slip into what is worked out; says whether it changed anything.
pub(super) fn after(how: How, base: &Base<'_>, setup: &Setup, worked: &mut Worked) -> bool {
    match how {
        How::GravityLeftOutOfHead => gravity_left_out_of_head(setup, worked),
        How::DiameterForRadius => {
            let by_flow = !matches!(
                setup.numbers,
                Numbers::Path(_) | Numbers::Tank(_) | Numbers::Network(_)
            );
            if by_flow {
                worked.flows = 4.0;
            }
            by_flow
        }
        How::EfficiencyInverted => powers(base, worked, &|machine, flow, is_pump| {
            let twice = machine.efficiency_at(flow) * machine.efficiency_at(flow);
            if is_pump { twice } else { 1.0 / twice }
        }),
        How::GravityLeftOut => {
            let gravity = gravity(setup);
            // A power that is given has gravity in it.
            !power_is_given(base) && powers(base, worked, &|_, _, _| 1.0 / gravity)
        }
        How::PointAtOutlet => worked.outcome().is_some_and(|outcome| {
            let outlet = outcome.state.end.elevation;
            let any = outcome.path.points.iter().any(|point| point.elevation != outlet);
            for point in &mut Arc::make_mut(&mut outcome.path).points {
                point.elevation = outlet;
            }
            any
        }),
        How::VelocityHeadLeftOutAtPoint => worked.outcome().is_some_and(|outcome| {
            let weight = outcome.path.density * outcome.path.gravity;
            for n in 0..outcome.path.points.len() {
                let head = outcome.get(Name::Point(AtPoint::EnergyHead, n));
                let elevation = outcome.get(Name::Point(AtPoint::Elevation, n));
                outcome.put(Name::Point(AtPoint::Pressure, n), (head - elevation) * weight);
            }
            !outcome.path.points.is_empty()
        }),
        How::NarrowerSize => worked.outcome().is_some_and(|outcome| {
            if outcome.sized.is_none() {
                return false;
            }
            let [bore, below] = [OfSize::Bore, OfSize::BoreBelow].map(|of| outcome.get(Name::Size(of)));
            let velocity = outcome.get(Name::Size(OfSize::Velocity)) * (bore / below) * (bore / below);
            outcome.put(Name::Size(OfSize::Bore), below);
            outcome.put(Name::Size(OfSize::Velocity), velocity);
            below > 0.0
        }),
        How::Pump(slip) => worked
            .outcome()
            .is_some_and(|outcome| pump::after(slip, base, outcome)),
        How::FirstFlowAllTheWay => match worked.case() {
            Some(Case::Tank(case)) if matches!(case.problem.asked, Asked::Time(_)) => {
                let first = case.volume() / case.solved.start.state.flow;
                case.solved.value = first;
                case.solved.end.time = first;
                first.is_finite()
            }
            _ => false,
        },
        How::HalfTheIntegral => match worked.case() {
            Some(Case::Tank(case)) if matches!(case.problem.asked, Asked::Time(_)) => {
                case.solved.value *= 0.5;
                case.solved.end.time *= 0.5;
                case.solved.at_first_factor = case.solved.at_first_factor.map(|t| 0.5 * t);
                true
            }
            _ => false,
        },
        // The stress alone is wrong: τ = Δp D/L with the quarter left at a half.
        How::ShearDoubled => match worked.case() {
            Some(Case::Profile(case)) if !matches!(case.solved.tube.drive, Drive::WallShear(_)) => {
                let state = &mut case.solved.state;
                state.wall_shear *= 2.0;
                state.friction_velocity *= std::f64::consts::SQRT_2;
                if let Some(local) = &mut state.local {
                    local.shear *= 2.0;
                }
                true
            }
            _ => false,
        },
        How::VelocityHeadDoubled
        | How::IdealMeter
        | How::ApproachLeftOut
        | How::AreaRatioNotSquared
        | How::DifferentialLost => match worked.case() {
            Some(Case::Meter(case)) => meter::after(how, case),
            _ => false,
        },
        How::SharedByArea | How::SharedEvenly => match worked.case() {
            Some(Case::Network(case)) => network::after(how, case, setup),
            _ => false,
        },
        _ => false,
    }
}

impl How {
    /// Whether it may change what is worked out without changing the problem.
    pub(super) fn is_late(self) -> bool {
        matches!(
            self,
            Self::GravityLeftOutOfHead
                | Self::DiameterForRadius
                | Self::EfficiencyInverted
                | Self::GravityLeftOut
                | Self::PointAtOutlet
                | Self::VelocityHeadLeftOutAtPoint
                | Self::NarrowerSize
                | Self::Pump(_)
                | Self::FirstFlowAllTheWay
                | Self::HalfTheIntegral
                | Self::ShearDoubled
                | Self::VelocityHeadDoubled
                | Self::IdealMeter
                | Self::ApproachLeftOut
                | Self::AreaRatioNotSquared
                | Self::DifferentialLost
                | Self::SharedByArea
                | Self::SharedEvenly
                | Self::TimeUnits
                | Self::ThousandfoldUp
                | Self::ThousandfoldDown
        )
    }
}

/// Heads of given pressures came in [`super::before::before`]; here a pressure that is found is ρ h.
fn gravity_left_out_of_head(setup: &Setup, worked: &mut Worked) -> bool {
    let gravity = gravity(setup);
    match setup.numbers {
        Numbers::Path(_) | Numbers::Leak(_) | Numbers::Network(_) => worked.pressures = 1.0 / gravity,
        Numbers::Meter(_) => {
            for name in ["h", "h_loss"] {
                worked.times.push((name.to_owned(), gravity));
            }
        }
        Numbers::Tank(_) | Numbers::Profile(_) | Numbers::Ageing(_) => return false,
    }
    true
}

fn gravity(setup: &Setup) -> f64 {
    match &setup.numbers {
        Numbers::Path(problem) => problem.path.gravity,
        Numbers::Leak(problem) => problem.gravity,
        Numbers::Tank(problem) => problem.path.gravity,
        Numbers::Meter(problem) => problem.meter.gravity,
        Numbers::Profile(problem) => problem.tube.gravity,
        Numbers::Ageing(problem) => problem.gravity,
        Numbers::Network(network) => network.gravity,
    }
}

fn has_power(path: &Path) -> bool {
    path.elements.iter().any(|element| match element {
        Element::Pump(machine) | Element::Turbine(machine) => {
            matches!(machine.duty, Duty::Power(power) if !power.is_nan())
        }
        _ => false,
    })
}

fn power_is_given(base: &Base<'_>) -> bool {
    base.work
        .as_ref()
        .is_some_and(|work| has_power(&work.problem.path))
}

/// Multiplies every power that follows from a head by what `share` makes of its machine, the flow and whether it is a
/// pump; a power that is given stays what it was given.
fn powers(base: &Base<'_>, worked: &mut Worked, share: &dyn Fn(&Machine, f64, bool) -> f64) -> bool {
    let mut any = false;
    if let (Some(work), Form::Path(outcome)) = (&base.work, &mut worked.of) {
        if has_power(&work.problem.path) {
            for whole in [Whole::PumpPower, Whole::TurbinePower] {
                outcome.put(Name::Whole(whole), work.base.get(Name::Whole(whole)));
            }
            return false;
        }
        let (pumps, turbines) = of_outcome(outcome, share, &mut any);
        outcome.put(Name::Whole(Whole::PumpPower), pumps);
        outcome.put(Name::Whole(Whole::TurbinePower), turbines);
        return any;
    }
    let mut found = Vec::new();
    if let Form::Other(Case::Network(case)) = &worked.of {
        for (n, (link, said)) in case.network.links.iter().zip(&case.system.links).enumerate() {
            let flow = case.solved.flows[n];
            for (element, said) in link.elements.iter().zip(&said.path) {
                match (element, said) {
                    (Element::Pump(machine), Said::Pump { name, .. })
                        if !matches!(machine.duty, Duty::Power(_)) =>
                    {
                        found.push((own_result("P_P", name), share(machine, flow, true)));
                    }
                    (Element::Turbine(machine), Said::Turbine { name, .. }) => {
                        found.push((own_result("P_T", name), share(machine, flow, false)));
                    }
                    _ => {}
                }
            }
        }
    }
    any |= found.iter().any(|(_, by)| *by != 1.0);
    worked.times.extend(found);
    any
}

/// All powers of pumps and of turbines along a path, each times its share.
fn of_outcome(outcome: &Outcome, share: &dyn Fn(&Machine, f64, bool) -> f64, any: &mut bool) -> (f64, f64) {
    let state = &outcome.state;
    let mut pumps = state.pump_powers.iter();
    let mut turbines = state.turbine_powers.iter();
    let (mut all_pumps, mut all_turbines) = (0.0, 0.0);
    for element in &outcome.path.elements {
        match element {
            Element::Pump(machine) => {
                let by = share(machine, state.flow, true);
                *any |= by != 1.0;
                all_pumps += by * pumps.next().copied().unwrap_or(0.0);
            }
            Element::Turbine(machine) => {
                let by = share(machine, state.flow, false);
                *any |= by != 1.0;
                all_turbines += by * turbines.next().copied().unwrap_or(0.0);
            }
            _ => {}
        }
    }
    (all_pumps, all_turbines)
}
