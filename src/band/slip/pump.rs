//! Slips with pumps: curves put together wrongly, affinity laws mixed up, terms of NPSH left out.

use crate::band::working::{Name, Outcome, Work};
use crate::hydraulics::curve::Curve;
use crate::hydraulics::friction::Reading;
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

/// Where a slip leads; `None` where it does not apply.
pub(super) fn slipped(work: &Work<'_>, slip: PumpSlip) -> Option<Outcome> {
    match slip {
        PumpSlip::ParallelForSeries => with_curves(work, |curve| {
            (curve.parallel() > 1).then(|| {
                let pumps = curve.parallel() * curve.series();
                curve.clone().in_parallel(1).in_series(pumps)
            })
        }),
        PumpSlip::SeriesForParallel => with_curves(work, |curve| {
            (curve.series() > 1).then(|| {
                let pumps = curve.parallel() * curve.series();
                curve.clone().in_series(1).in_parallel(pumps)
            })
        }),
        PumpSlip::NumberLeftOut => with_curves(work, |curve| {
            (curve.parallel() * curve.series() > 1).then(|| curve.clone().in_parallel(1).in_series(1))
        }),
        PumpSlip::HeadBySpeed => moved(work, |ratio| (1.0, 1.0 / ratio), |heads| heads),
        PumpSlip::FlowKept => moved(work, |ratio| (1.0 / ratio, 1.0), f64::sqrt),
        PumpSlip::VapourLeftOut => npsh(work, |outcome, _| {
            outcome.path.vapour_pressure.unwrap_or(0.0) / weight(outcome)
        }),
        PumpSlip::AirLeftOut => npsh(work, |outcome, _| -outcome.path.atmosphere / weight(outcome)),
        PumpSlip::SuctionLossesLeftOut => npsh(work, lost_before),
        PumpSlip::MotorLeftOut => {
            let mut outcome = work.base.clone();
            let mut any = false;
            for (index, machine) in machines(&work.base).enumerate() {
                let by = machine.electric_efficiency;
                any |= by != 1.0;
                let name = Name::Machine("P_el", index);
                // The power at the shaft is less than a motor takes, and more than a generator gives.
                let power = outcome.get(name);
                let pump = index < work.base.state.pumps.len() && work.base.state.turbines.is_empty();
                outcome.put(name, if pump { power * by } else { power / by });
            }
            any.then_some(outcome)
        }
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

/// The problem with other curves, solved.
fn with_curves(work: &Work<'_>, change: impl Fn(&Curve) -> Option<Curve>) -> Option<Outcome> {
    let mut problem = work.problem.clone();
    let mut any = false;
    for element in &mut problem.path.elements {
        if let Element::Pump(pump) = element
            && let Duty::Curve(curve) = &mut pump.duty
            && let Some(other) = change(curve)
        {
            *curve = other;
            any = true;
        }
    }
    if !any {
        return None;
    }
    work.solve(&problem, &vec![Reading::EXACT; work.pipes.count()])
        .ok()
}

/// Affinity laws applied wrongly: a known speed moves the curve by other factors of flow and head; one that is
/// sought is had from the heads at the same flow.
fn moved(
    work: &Work<'_>,
    stretch: impl Fn(f64) -> (f64, f64),
    from_heads: impl Fn(f64) -> f64,
) -> Option<Outcome> {
    if let Unknown::PumpSpeed(pump) = work.problem.unknown {
        let curve = work.base.path.pump_curve(pump)?;
        let rated = curve.clone().at_speed(curve.speeds().1);
        let flow = work.base.state.flow;
        let ratio = from_heads(work.base.state.pump_heads.get(pump)? / rated.head(flow));
        let index = machines(&work.base).position(|m| m.curve() == Some(curve))?;
        let mut outcome = work.base.clone();
        outcome.put(Name::Machine("n", index), ratio * curve.speeds().1);
        return ratio.is_finite().then_some(outcome);
    }
    with_curves(work, |curve| {
        let ratio = curve.ratio();
        (ratio.is_finite() && ratio != 1.0).then(|| {
            let (flow, head) = stretch(ratio);
            curve.clone().stretched(flow, head)
        })
    })
}

/// NPSH with something left out, which adds this head.
fn npsh(work: &Work<'_>, adds: impl Fn(&Outcome, usize) -> f64) -> Option<Outcome> {
    let mut outcome = work.base.clone();
    let mut any = false;
    for index in 0..machines(&work.base).count() {
        let name = Name::Machine("NPSH_a", index);
        let available = outcome.get(name);
        if available.is_finite() {
            let by = adds(&work.base, index);
            any |= by != 0.0;
            outcome.put(name, available + by);
        }
    }
    any.then_some(outcome)
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
