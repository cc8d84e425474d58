//! Slips with a flow meter.

use crate::hydraulics::meter::standard::loss_share;
use crate::hydraulics::meter::{Element, Gauge, Problem, State, Throttle, ThrottleState, Through, Unknown};
use crate::solution::Case;
use crate::solution::meter::MeterCase;

/// What leaving the 2 under the root out makes of a velocity.
const HALF: f64 = std::f64::consts::FRAC_1_SQRT_2;

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

/// The cases that slips lead to, each with the slip's name.
pub(super) fn slips(case: &MeterCase) -> Vec<(&'static str, Case)> {
    let mut all: Vec<(&'static str, Case)> = Vec::new();
    let mut put = |name: &'static str, case: Option<MeterCase>| {
        all.extend(case.map(|case| (name, Case::Meter(Box::new(case)))));
    };
    // Changes to the problem, solved anew.
    let again = |change: &dyn Fn(&mut Problem) -> bool| -> Option<MeterCase> {
        let mut problem = case.problem;
        if !change(&mut problem) {
            return None;
        }
        case.with(problem, 1.0).ok()
    };
    put(
        "radius for diameter",
        again(&|problem| match &mut problem.meter.element {
            Element::Throttle(throttle) => {
                throttle.pipe_diameter *= 0.5;
                throttle.throat_diameter *= 0.5;
                true
            }
            Element::Pitot(pitot) => match &mut pitot.duct {
                Some(duct) => {
                    duct.diameter *= 0.5;
                    true
                }
                None => false,
            },
        }),
    );
    put(
        "fluid in the manometer left out",
        again(&|problem| {
            let fluid = problem.meter.density;
            match &mut problem.meter.gauge {
                // Only the difference counts, so this makes it the liquid's own density.
                Gauge::Manometer { density, .. } if *density > fluid => {
                    *density += fluid;
                    true
                }
                _ => false,
            }
        }),
    );
    match (&case.solved.meter.element, &case.solved.state.through) {
        (Element::Throttle(throttle), Through::Throttle(state)) => {
            let right = Wrong {
                ideal: false,
                half: false,
                approach: Approach::Right,
            };
            let mut wrong = |name: &'static str, wrong: Wrong| {
                put(name, changed(case, throttle, state, wrong));
            };
            let half = Wrong { half: true, ..right };
            wrong("half of the velocity head left out", half);
            let ideal = Wrong { ideal: true, ..right };
            wrong("coefficient of the meter left out", ideal);
            for (name, approach) in [
                ("velocity of approach left out", Approach::LeftOut),
                ("area ratio not squared", Approach::NotSquared),
            ] {
                wrong(name, Wrong { approach, ..right });
            }
            let mut lost = case.clone();
            if let Through::Throttle(state) = &mut lost.solved.state.through {
                lose(state, case, case.solved.state.differential);
            }
            put("whole differential taken as lost", Some(lost));
        }
        (Element::Pitot(pitot), Through::Pitot(state)) => {
            let mut wrong = |name: &'static str, share: f64| {
                let mut problem = case.problem;
                // The tube's equation has nothing but its coefficient to carry a share.
                if case.problem.unknown != Unknown::Coefficient
                    && let Element::Pitot(pitot) = &mut problem.meter.element
                {
                    pitot.coefficient *= share;
                    put(name, case.with(problem, 1.0).ok());
                }
            };
            wrong("half of the velocity head left out", HALF);
            if pitot.coefficient != 1.0 {
                wrong("coefficient of the meter left out", 1.0 / state.coefficient);
            }
            put(
                "velocity at the tip taken for the mean",
                again(&|problem| match &mut problem.meter.element {
                    Element::Pitot(pitot) => match &mut pitot.duct {
                        Some(duct) => {
                            duct.velocity_ratio = 1.0;
                            true
                        }
                        None => false,
                    },
                    Element::Throttle(_) => false,
                }),
            );
        }
        _ => {}
    }
    all
}

/// The case with an equation that is wrong; the standard's coefficient is taken as it is in the right one.
fn changed(case: &MeterCase, throttle: &Throttle, right: &ThrottleState, wrong: Wrong) -> Option<MeterCase> {
    let mut out = case.clone();
    let state: &mut State = &mut out.solved.state;
    let Through::Throttle(now) = &mut state.through else {
        return None;
    };
    let half = if wrong.half { HALF } else { 1.0 };
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
    lose(now, case, part * differential);
    Some(out)
}

/// Puts a permanent loss \[Pa\] in the place of the right one.
fn lose(state: &mut ThrottleState, case: &MeterCase, loss: f64) {
    let meter = &case.solved.meter;
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

    fn case(meter: &str, flow: &str) -> MeterCase {
        let yaml = format!(
            "fluid: {{ name: water, temperature: 20 degC }}\n{flow}\nmeter: {{ orifice: corner taps, pipe diameter: 100 mm, {meter} }}\n"
        );
        match Case::solve(System::parse(&yaml, "m.yaml").unwrap(), None, &Limits::default()).unwrap() {
            Case::Meter(case) => *case,
            _ => panic!("no meter"),
        }
    }

    fn value(of: &MeterCase, slip: &str) -> f64 {
        let all = slips(of);
        let (_, case) = all.iter().find(|(name, _)| *name == slip).unwrap();
        match case {
            Case::Meter(case) => case.solved.value,
            _ => panic!("no meter"),
        }
    }

    #[test]
    fn a_slip_for_the_flow_and_for_the_throat_are_the_same_slip() {
        let flow = case("throat diameter: 60 mm, differential: 25 kPa", "flow: unknown");
        let right = flow.solved.value;
        for slip in [
            "velocity of approach left out",
            "area ratio not squared",
            "half of the velocity head left out",
        ] {
            let wrong = value(&flow, slip);
            assert!((wrong / right - 1.0).abs() > 0.02, "{slip}");
            // A throat that was worked with the slip seems to let the wrong flow through. The coefficient is that of
            // the right throat, which differs a little.
            let q = format!("flow: {wrong} m^3/s");
            let sized = case("throat diameter: unknown, differential: 25 kPa", &q);
            let throat = value(&sized, slip);
            assert!((throat / 0.06 - 1.0).abs() < 0.02, "{slip}: {throat}");
        }
    }

    #[test]
    fn the_liquid_alone_shows_a_larger_pressure() {
        let meter = "throat diameter: 60 mm, manometer: { density: 13600 kg/m^3, deflection: 150 mm }";
        let of = case(meter, "flow: unknown");
        let share = value(&of, "fluid in the manometer left out") / of.solved.value;
        assert!((share * share - 13_600.0 / (13_600.0 - 998.2)).abs() < 2e-3);
    }
}
