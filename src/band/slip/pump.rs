//! Slips with pumps: curves put together wrongly, affinity laws mixed up, terms of NPSH left out.

use super::base::Base;
use super::setup::Setup;
use crate::band::working::{Name, Outcome};
use crate::hydraulics::curve::Curve;
use crate::hydraulics::path::{Duty, Element, Machine};
use crate::hydraulics::solve::Unknown;

/// What a slip does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PumpSlip {
    /// Heads added where flows are to be added.
    ParallelForSeries,
    /// Flows added where heads are to be added.
    SeriesForParallel,
    /// One pump where there are several.
    NumberLeftOut,
    /// The head taken in proportion to the speed, not to its square.
    HeadBySpeed,
    /// The flow left where it is when the speed changes.
    FlowKept,
    /// The vapour pressure left out of NPSH.
    VapourLeftOut,
    /// The air's pressure left out of NPSH.
    AirLeftOut,
    /// The losses before the pump left out of NPSH.
    SuctionLossesLeftOut,
    /// The motor's efficiency left out.
    MotorLeftOut,
}

/// Puts a slip into the setup; says whether it changed anything.
pub(super) fn before(slip: PumpSlip, setup: &mut Setup) -> bool {
    match slip {
        PumpSlip::ParallelForSeries => curves(setup, &|curve| {
            (curve.parallel() > 1).then(|| {
                let pumps = curve.parallel() * curve.series();
                curve.clone().in_parallel(1).in_series(pumps)
            })
        }),
        PumpSlip::SeriesForParallel => curves(setup, &|curve| {
            (curve.series() > 1).then(|| {
                let pumps = curve.parallel() * curve.series();
                curve.clone().in_series(1).in_parallel(pumps)
            })
        }),
        PumpSlip::NumberLeftOut => curves(setup, &|curve| {
            (curve.parallel() * curve.series() > 1).then(|| curve.clone().in_parallel(1).in_series(1))
        }),
        PumpSlip::HeadBySpeed => moved(setup, &|ratio| (1.0, 1.0 / ratio)),
        PumpSlip::FlowKept => moved(setup, &|ratio| (1.0 / ratio, 1.0)),
        PumpSlip::MotorLeftOut => {
            let mut any = false;
            setup.numbers.elements(&mut |_, element| {
                if let Element::Pump(machine) | Element::Turbine(machine) = element {
                    any |= machine.electric_efficiency != 1.0;
                    machine.electric_efficiency = 1.0;
                }
            });
            any
        }
        PumpSlip::VapourLeftOut | PumpSlip::AirLeftOut | PumpSlip::SuctionLossesLeftOut => false,
    }
}

/// Puts a slip into what is worked out; says whether it changed anything.
pub(super) fn after(slip: PumpSlip, base: &Base<'_>, outcome: &mut Outcome) -> bool {
    match slip {
        PumpSlip::HeadBySpeed => speed(base, outcome, |heads| heads),
        PumpSlip::FlowKept => speed(base, outcome, f64::sqrt),
        PumpSlip::VapourLeftOut => npsh(outcome, |outcome, _| {
            outcome.path.vapour_pressure.unwrap_or(0.0) / weight(outcome)
        }),
        PumpSlip::AirLeftOut => npsh(outcome, |outcome, _| -outcome.path.atmosphere / weight(outcome)),
        PumpSlip::SuctionLossesLeftOut => npsh(outcome, lost_before),
        PumpSlip::ParallelForSeries
        | PumpSlip::SeriesForParallel
        | PumpSlip::NumberLeftOut
        | PumpSlip::MotorLeftOut => false,
    }
}

fn weight(outcome: &Outcome) -> f64 {
    outcome.path.density * outcome.path.gravity
}

fn machines(outcome: &Outcome) -> impl Iterator<Item = &Machine> {
    outcome.path.elements.iter().filter_map(|e| match e {
        Element::Pump(machine) | Element::Turbine(machine) => Some(machine),
        _ => None,
    })
}

/// Gives pumps other curves; says whether there was one.
fn curves(setup: &mut Setup, change: &dyn Fn(&Curve) -> Option<Curve>) -> bool {
    let mut any = false;
    setup.numbers.elements(&mut |_, element| {
        if let Element::Pump(pump) = element
            && let Duty::Curve(curve) = &mut pump.duty
            && let Some(other) = change(curve)
        {
            *curve = other;
            any = true;
        }
    });
    any
}

/// Affinity laws applied wrongly: a known speed moves the curve by other factors of flow and head.
fn moved(setup: &mut Setup, stretch: &dyn Fn(f64) -> (f64, f64)) -> bool {
    curves(setup, &|curve| {
        let ratio = curve.ratio();
        (ratio.is_finite() && ratio != 1.0).then(|| {
            let (flow, head) = stretch(ratio);
            curve.clone().stretched(flow, head)
        })
    })
}

/// A speed that is sought is had from the heads at the same flow.
fn speed(base: &Base<'_>, outcome: &mut Outcome, from_heads: impl Fn(f64) -> f64) -> bool {
    let Some(Unknown::PumpSpeed(pump)) = base.work.as_ref().map(|work| work.problem.unknown) else {
        return false;
    };
    let (Some(curve), Some(head)) = (outcome.path.pump_curve(pump), outcome.state.pump_heads.get(pump))
    else {
        return false;
    };
    let (_, rated) = curve.speeds();
    let ratio = from_heads(head / curve.clone().at_speed(rated).head(outcome.state.flow));
    let Some(index) = machines(outcome).position(|m| m.curve() == Some(curve)) else {
        return false;
    };
    outcome.put(Name::Machine("n", index), ratio * rated);
    ratio.is_finite()
}

/// NPSH with something left out, which adds this head.
fn npsh(outcome: &mut Outcome, adds: impl Fn(&Outcome, usize) -> f64) -> bool {
    let mut any = false;
    for index in 0..machines(outcome).count() {
        let name = Name::Machine("NPSH_a", index);
        let available = outcome.get(name);
        if available.is_finite() {
            let by = adds(outcome, index);
            any |= by != 0.0;
            outcome.put(name, available + by);
        }
    }
    any
}

/// Head lost before a machine.
fn lost_before(outcome: &Outcome, machine: usize) -> f64 {
    let state = &outcome.state;
    let (mut pipe, mut loss, mut seen) = (0, 0, 0);
    let mut lost = 0.0;
    for element in &outcome.path.elements {
        match element {
            Element::Pipe(_) => {
                lost += state.pipes[pipe].major_head_loss;
                pipe += 1;
            }
            Element::Loss { .. } => {
                lost += state.minor_head_losses[loss];
                loss += 1;
            }
            Element::Pump(_) | Element::Turbine(_) => {
                if seen == machine {
                    break;
                }
                seen += 1;
            }
        }
    }
    lost
}
