//! What a person should know of an answer.

use super::grade::{Place, grade_line, lowest};
use super::path::{Element, Path, State, StationVelocity, TURBULENT_ALPHA, area, square};
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
    let ducts = path.elements.iter().filter_map(|e| match e {
        Element::Pipe(pipe) => Some(pipe),
        _ => None,
    });
    for (pipe, duct) in ducts.enumerate() {
        let effective = duct.section.on_effective_diameter().turbulent_diameter;
        if state.pipes[pipe].reynolds >= limits.laminar_end
            && duct.section.turbulent_diameter == 1.0
            && (effective - 1.0).abs() > policy::HYDRAULIC_DIAMETER_SPREAD
        {
            warnings.push(Warning::HydraulicDiameter {
                pipe,
                effective: effective * duct.diameter,
            });
        }
    }
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
    for (pump, at) in state.pumps.iter().enumerate() {
        if let (Some(available), Some(required)) = (at.npsh_available, at.npsh_required)
            && available < required
        {
            warnings.push(Warning::NpshShort {
                pump,
                available,
                required,
            });
        }
    }
    let cavitation = if path.points.is_empty() {
        cavitation(path, state)
    } else {
        cavitation_on_the_line(path, state)
    };
    warnings.extend(cavitation);
    let ends = [
        (&path.start, path.pipe(0)),
        (
            &path.end,
            state.pipes.len().checked_sub(1).and_then(|last| path.pipe(last)),
        ),
    ];
    for (i, (station, pipe)) in ends.into_iter().enumerate() {
        if let (StationVelocity::Jet(jet), Some(pipe)) = (station.velocity, pipe)
            && area(jet) > pipe.area()
        {
            warnings.push(Warning::WideJet {
                at_start: i == 0,
                ratio: (area(jet) / pipe.area()).sqrt(),
            });
        }
    }
}

/// The place of the lowest pressure on the grade line, where the elevations on the way are known.
fn cavitation_on_the_line(path: &Path, state: &State) -> Option<Warning> {
    let vapour_pressure = path.vapour_pressure.unwrap_or(0.0);
    let line = grade_line(path, state);
    let least = lowest(&line)?;
    let pressure = least.pressure + path.atmosphere;
    let (after, point) = match least.place {
        Place::Start => (0, None),
        Place::Before(element) => (element, None),
        Place::Behind(element) => (element + 1, None),
        Place::Point(n) => (path.points[n].after, Some(n)),
        Place::End => (path.elements.len(), None),
    };
    (pressure < vapour_pressure).then_some(Warning::Cavitation {
        after,
        point,
        pressure,
        vapour_pressure,
    })
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

    let mut least = (0, state.start.pressure + path.atmosphere);
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
            if pressure < least.1 {
                least = (point, pressure);
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
    if at_end < least.1 {
        least = (path.elements.len(), at_end);
    }
    (least.1 < vapour_pressure).then_some(Warning::Cavitation {
        after: least.0,
        point: None,
        pressure: least.1,
        vapour_pressure,
    })
}
