//! What a person should know of an answer.

use super::path::{Element, Path, State, TURBULENT_ALPHA, square};
use super::regime::{Limits, Regime};
use super::solve::Warning;
use crate::constants::policy;

/// What a person should know of a state.
pub(super) fn warn(path: &Path, state: &State, limits: &Limits, warnings: &mut Vec<Warning>) {
    let (slowest, fastest) = if path.density < policy::GAS_DENSITY {
        policy::ORDINARY_GAS_VELOCITY
    } else {
        policy::ORDINARY_VELOCITY
    };
    for (pipe, at) in state.pipes.iter().enumerate() {
        if at.reynolds >= limits.laminar_end && at.reynolds < limits.turbulent_start {
            warnings.push(Warning::CriticalZone {
                pipe,
                reynolds: at.reynolds,
            });
        }
        if at.velocity < slowest || at.velocity > fastest {
            warnings.push(Warning::UnusualVelocity {
                pipe,
                velocity: at.velocity,
            });
        }
        let is_turbulent = at.reynolds >= limits.laminar_end;
        if is_turbulent
            && (at.reynolds > policy::REYNOLDS_END || at.relative_roughness > policy::RELATIVE_ROUGHNESS_END)
        {
            warnings.push(Warning::OffChart { pipe });
        }
    }
    if let Some(warning) = cavitation(path, state) {
        warnings.push(warning);
    }
}

/// The place of the lowest pressure, where that is below vapour pressure (0 where none is known: no absolute
/// pressure lies below that).
///
/// The grade line is walked from element to element. At the two stations the elevation is known. Between them
/// it is not, and the lower of the two is taken: a line that nowhere lies lower has less pressure still, so
/// that a warning here holds for it. Before and behind a loss the pipes on either side count, whichever is
/// faster; a machine parts them.
fn cavitation(path: &Path, state: &State) -> Option<Warning> {
    let weight = path.density * path.gravity;
    let twice_g = 2.0 * path.gravity;
    let vapour_pressure = path.vapour_pressure.unwrap_or(0.0);
    let lower = state.start.elevation.min(state.end.elevation);

    let sections: Vec<_> = path
        .elements
        .iter()
        .filter_map(|e| match e {
            Element::Pipe(pipe) => Some(pipe.section),
            _ => None,
        })
        .collect();
    // Velocity head in each element's pipe, None for a machine or a loss.
    let pipe_at: Vec<Option<usize>> = {
        let mut count = 0;
        path.elements
            .iter()
            .map(|e| {
                matches!(e, Element::Pipe(_)).then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect()
    };
    let velocity_head = |pipe: usize| {
        let at = &state.pipes[pipe];
        let alpha = if at.regime == Regime::Laminar {
            sections[pipe].laminar_alpha
        } else {
            TURBULENT_ALPHA
        };
        alpha * square(at.velocity) / twice_g
    };
    let is_machine = |i: usize| matches!(path.elements[i], Element::Pump(_) | Element::Turbine(_));
    let before = |point: usize| {
        (0..point)
            .rev()
            .take_while(|&i| !is_machine(i))
            .find_map(|i| pipe_at[i])
    };
    let behind = |point: usize| {
        (point..path.elements.len())
            .take_while(|&i| !is_machine(i))
            .find_map(|i| pipe_at[i])
    };

    let mut lowest = (0, state.start.pressure + path.atmosphere);
    let mut total = state.start.pressure / weight
        + state.start.elevation
        + state.start.alpha * square(state.start.velocity) / twice_g;
    let (mut losses, mut pumps, mut turbines) = (0, 0, 0);
    for point in 0..path.elements.len() {
        // The point before element `point`; the last point is the end station itself.
        let sides = if point == 0 && pipe_at[0].is_none() {
            [None, None]
        } else {
            [before(point), behind(point)]
        };
        for pipe in sides.into_iter().flatten() {
            let pressure = (total - lower - velocity_head(pipe)) * weight + path.atmosphere;
            if pressure < lowest.1 {
                lowest = (point, pressure);
            }
        }
        match path.elements[point] {
            Element::Pipe(_) => {
                if let Some(pipe) = pipe_at[point] {
                    total -= state.pipes[pipe].major_head_loss;
                }
            }
            Element::Loss { .. } => {
                total -= state.minor_head_losses[losses];
                losses += 1;
            }
            Element::Pump(_) => {
                total += state.pump_heads[pumps];
                pumps += 1;
            }
            Element::Turbine(_) => {
                total -= state.turbine_heads[turbines];
                turbines += 1;
            }
        }
    }
    let at_end = state.end.pressure + path.atmosphere;
    if at_end < lowest.1 {
        lowest = (path.elements.len(), at_end);
    }
    (lowest.1 < vapour_pressure).then_some(Warning::Cavitation {
        after: lowest.0,
        pressure: lowest.1,
        vapour_pressure,
    })
}
