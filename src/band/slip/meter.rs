//! Slips with a flow meter.

use super::before::WITHOUT_TWO;
use super::library::How;
use crate::hydraulics::meter::standard::loss_share;
use crate::hydraulics::meter::{Element, Meter, State, Throttle, ThrottleState, Through, Unknown};
use crate::solution::meter::MeterCase;

/// What goes wrong in `Q = C Y E A_t √(2 Δp/ρ)`.
#[derive(Clone, Copy)]
struct Wrong {
    /// Whether C is left out.
    ideal: bool,
    /// Whether the 2 under the root is left out.
    half: bool,
    /// What stands for the velocity of approach.
    approach: Approach,
}

/// The factor that stands for the velocity of approach.
#[derive(Clone, Copy)]
enum Approach {
    /// `1/√(1 − β⁴)`
    Right,
    /// 1
    LeftOut,
    /// `1/√(1 − β²)`
    NotSquared,
}

impl Approach {
    fn factor(self, beta: f64) -> f64 {
        let beta2 = beta * beta;
        match self {
            Self::Right => 1.0 / (1.0 - beta2 * beta2).sqrt(),
            Self::LeftOut => 1.0,
            Self::NotSquared => 1.0 / (1.0 - beta2).sqrt(),
        }
    }

    /// β where β² times the factor is `x`.
    fn beta(self, x: f64) -> f64 {
        let x2 = x * x;
        match self {
            Self::Right => libm::pow(x2 / (1.0 + x2), 0.25),
            Self::LeftOut => x.sqrt(),
            // β⁴ = x² (1 − β²)
            Self::NotSquared => (0.5 * ((x2 * x2 + 4.0 * x2).sqrt() - x2)).sqrt(),
        }
    }
}

/// Puts a slip into a solved meter; says whether it changed anything.
pub(super) fn after(how: How, case: &mut MeterCase) -> bool {
    let (Element::Throttle(throttle), Through::Throttle(state)) =
        (case.solved.meter.element, case.solved.state.through)
    else {
        return false;
    };
    let right = Wrong {
        ideal: false,
        half: false,
        approach: Approach::Right,
    };
    let wrong = match how {
        How::VelocityHeadDoubled => Wrong { half: true, ..right },
        How::IdealMeter => Wrong { ideal: true, ..right },
        How::ApproachLeftOut => Wrong {
            approach: Approach::LeftOut,
            ..right
        },
        How::AreaRatioNotSquared => Wrong {
            approach: Approach::NotSquared,
            ..right
        },
        How::DifferentialLost => {
            let (meter, all) = (case.solved.meter, case.solved.state.differential);
            if let Through::Throttle(state) = &mut case.solved.state.through {
                lose(state, &meter, all);
            }
            return true;
        }
        _ => return false,
    };
    match changed(case, &throttle, &state, wrong) {
        Some(out) => {
            *case = out;
            true
        }
        None => false,
    }
}

/// The case with an equation that is wrong; the standard's coefficient is taken as it is in the right one.
fn changed(case: &MeterCase, throttle: &Throttle, right: &ThrottleState, wrong: Wrong) -> Option<MeterCase> {
    let mut out = case.clone();
    let state: &mut State = &mut out.solved.state;
    let Through::Throttle(now) = &mut state.through else {
        return None;
    };
    let half = if wrong.half { WITHOUT_TWO } else { 1.0 };
    let coefficient = if wrong.ideal { 1.0 } else { right.coefficient };
    // Whatever is wrong in the ideal flow shows in the factor that stands before it.
    now.approach_factor = half * wrong.approach.factor(right.beta);
    let share = coefficient * now.approach_factor / (right.coefficient * right.approach_factor);
    now.coefficient = coefficient;
    match case.unknown() {
        Unknown::Flow => {
            now.flow *= share;
            now.velocity *= share;
            now.reynolds *= share;
            now.mass_flow *= share;
            out.solved.value = now.flow;
        }
        Unknown::Differential | Unknown::Deflection => {
            let by = 1.0 / (share * share);
            state.differential *= by;
            state.differential_head *= by;
            state.deflection = state.deflection.map(|deflection| deflection * by);
            out.solved.value *= by;
        }
        Unknown::ThroatDiameter => {
            let n =
                right.coefficient * right.beta * right.beta * right.approach_factor / (coefficient * half);
            now.beta = wrong.approach.beta(n);
            now.approach_factor = half * wrong.approach.factor(now.beta);
            let throat = now.beta * throttle.pipe_diameter;
            if let Element::Throttle(throttle) = &mut out.solved.meter.element {
                throttle.throat_diameter = throat;
            }
            out.solved.value = throat;
        }
        Unknown::Coefficient => {
            now.coefficient = right.coefficient / share;
            out.solved.value = now.coefficient;
        }
        Unknown::Velocity => return None,
    }
    now.ideal_flow = now.flow / (now.coefficient * right.expansibility);
    let differential = state.differential;
    let part = if throttle.device.has_outlet_cone() {
        throttle.cone_loss_share
    } else {
        loss_share(now.beta, right.coefficient)
    };
    lose(now, &case.solved.meter, part * differential);
    Some(out)
}

/// Puts a permanent loss \[Pa\] in the place of the right one.
fn lose(state: &mut ThrottleState, meter: &Meter, loss: f64) {
    state.permanent_loss = loss;
    state.head_loss = loss / (meter.density * meter.gravity);
    state.loss_coefficient = 2.0 * loss / (meter.density * state.velocity * state.velocity);
    state.loss_power = loss * state.flow;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::system::System;
    use crate::hydraulics::regime::Limits;
    use crate::solution::Case;

    fn case(meter: &str, flow: &str) -> MeterCase {
        let yaml = format!(
            "fluid: {{ name: water, temperature: 20 degC }}\n{flow}\nmeter: {{ orifice: corner taps, pipe diameter: 100 mm, {meter} }}\n"
        );
        match Case::solve(System::parse(&yaml, "m.yaml").unwrap(), None, &Limits::default()).unwrap() {
            Case::Meter(case) => *case,
            _ => panic!("no meter"),
        }
    }

    fn value(of: &MeterCase, how: How) -> f64 {
        let mut slipped = of.clone();
        assert!(after(how, &mut slipped));
        slipped.solved.value
    }

    #[test]
    fn a_slip_for_the_flow_and_for_the_throat_are_the_same_slip() {
        let flow = case("throat diameter: 60 mm, differential: 25 kPa", "flow: unknown");
        let right = flow.solved.value;
        for how in [
            How::ApproachLeftOut,
            How::AreaRatioNotSquared,
            How::VelocityHeadDoubled,
        ] {
            let wrong = value(&flow, how);
            assert!((wrong / right - 1.0).abs() > 0.02, "{how:?}");
            // A throat that was worked with the slip seems to let the wrong flow through. The coefficient is that of
            // the right throat, which differs a little.
            let q = format!("flow: {wrong} m^3/s");
            let sized = case("throat diameter: unknown, differential: 25 kPa", &q);
            let throat = value(&sized, how);
            assert!((throat / 0.06 - 1.0).abs() < 0.02, "{how:?}: {throat}");
        }
    }
}
