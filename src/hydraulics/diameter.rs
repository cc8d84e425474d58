//! Diameter of one pipe at a known flow.

use super::path::{AreaChange, Balance, Element, Leg, Path, StationVelocity, alpha};
use super::regime::Limits;
use super::root::{crossing, crossings};
use super::solve::{Found, SolveError};
use crate::constants::policy;

/// Diameter of one pipe at a known flow.
///
/// As the pipe widens, everything it takes falls, but the flow turns laminar at one diameter, where the
/// friction factor and α jump; either side is searched by itself.
pub(super) fn diameter(
    balance: &Balance,
    which: usize,
    flow: f64,
    path: &Path,
    limits: &Limits,
) -> Result<Found, SolveError> {
    let last = balance.legs.len() - 1;
    let leg = balance.legs[which];
    let at_start = which == 0 && balance.start.velocity == StationVelocity::Pipe;
    let at_end = which == last && balance.end.velocity == StationVelocity::Pipe;
    if flow == 0.0 {
        return Err(SolveError::Undetermined {
            why: "without flow nothing is lost on the way",
        });
    }
    let touches = |change: &&AreaChange| change.narrow == which || change.wide == which;
    let changes = || balance.changes.iter().filter(touches);
    if leg.friction_length() == 0.0
        && leg.loss_sum == 0.0
        && changes().next().is_none()
        && !at_start
        && !at_end
    {
        return Err(SolveError::Undetermined {
            why: "a pipe without length, losses or a station at its end takes no head, however wide",
        });
    }
    let roughness = path
        .elements
        .iter()
        .filter_map(|e| {
            if let Element::Pipe(pipe) = e {
                Some(pipe.roughness)
            } else {
                None
            }
        })
        .nth(which)
        .unwrap_or_default();

    let laminar_elsewhere = |i: usize| balance.is_laminar(i, flow, limits);
    let mut tried = balance.clone();
    let mut left_over = |diameter: f64, is_laminar: bool| {
        tried.set_diameter(which, diameter, roughness);
        tried.left_over(flow, |i| {
            if i == which {
                is_laminar
            } else {
                laminar_elsewhere(i)
            }
        })
    };

    // Re = 4 Q/(π ν D) in a round pipe, so that flow is laminar from here on.
    let jump = 4.0 * flow
        / (std::f64::consts::PI * balance.kinematic_viscosity)
        / limits.laminar_end
        / leg.section.area_factor;
    let mut narrowest = (roughness / policy::RELATIVE_ROUGHNESS_END).max(1e-9);
    let mut widest = 1e6_f64.max(narrowest * 1e3);
    // The diameter at which this pipe has the area of another.
    let same_area =
        |other: &Leg| other.diameter * (other.section.area_factor / leg.section.area_factor).sqrt();
    // A widening must widen, and a narrowing narrow.
    let mut held = false;
    for change in changes() {
        held = true;
        if change.narrow == which {
            widest = widest.min(same_area(&balance.legs[change.wide]));
        } else {
            narrowest = narrowest.max(same_area(&balance.legs[change.narrow]));
        }
    }
    if narrowest > widest {
        return Err(SolveError::NoSolution {
            tried: (widest, narrowest),
            why: "no bore is wide enough for one change of area and narrow enough for the other",
        });
    }
    let jump_inside = jump.clamp(narrowest, widest);
    let mut roots = Vec::new();
    let mut ends = [(f64::NAN, f64::NAN); 2];
    for (side, is_laminar, low, high) in [(0, false, narrowest, jump_inside), (1, true, jump_inside, widest)]
    {
        if low >= high {
            continue;
        }
        ends[side] = (left_over(low, is_laminar), left_over(high, is_laminar));
        // A wider pipe takes more in the change of area at its end, so that either way is possible.
        let only_grows = changes().all(|change| change.narrow == which);
        let coefficient = leg.loss_sum
            + if at_end {
                alpha(
                    &balance.end,
                    &balance.legs[last].section,
                    last_is(is_laminar, which, last, laminar_elsewhere),
                )
            } else {
                0.0
            }
            - if at_start {
                alpha(&balance.start, &leg.section, is_laminar)
            } else {
                0.0
            };
        let mut side_left_over = |d: f64| left_over(d, is_laminar);
        if coefficient >= 0.0 && only_grows {
            // What is left over only grows with the diameter: one crossing at most.
            if ends[side].0 <= 0.0 && ends[side].1 > 0.0 {
                roots.push(closed_in(&mut side_left_over, low, high, is_laminar));
            }
        } else {
            crossings(&mut side_left_over, low, high, 24, &mut roots);
        }
    }
    if let Some(found) = Found::least(&roots) {
        return Ok(found);
    }
    let turbulent_jump = ends[0].1;
    let laminar_jump = ends[1].0;
    if turbulent_jump < 0.0 && laminar_jump > 0.0 {
        return Err(SolveError::OnlyAtJump {
            pipe: which,
            reynolds: limits.laminar_end,
        });
    }
    if held {
        return Err(SolveError::NoSolution {
            tried: (narrowest, widest),
            why: "beyond these bores a change of area would go the other way: a widening would narrow the pipe",
        });
    }
    let widest_left_over = if ends[1].1.is_nan() { ends[0].1 } else { ends[1].1 };
    if widest_left_over <= 0.0 {
        return Err(SolveError::NoFlow {
            short_by: -widest_left_over,
        });
    }
    Err(SolveError::NoSolution {
        tried: (narrowest, widest),
        why: "even the narrowest pipe, with a wall of a twentieth of its bore, leaves head over",
    })
}

fn last_is(is_laminar: bool, which: usize, last: usize, elsewhere: impl Fn(usize) -> bool) -> bool {
    if which == last {
        is_laminar
    } else {
        elsewhere(last)
    }
}

/// A crossing from below to above in a wide interval, closed in on by doubling from the end that is likelier
/// near it: turbulent pipes are near the jump on the scale of diameters that could be tried.
fn closed_in(left_over: &mut impl FnMut(f64) -> f64, low: f64, high: f64, from_low: bool) -> f64 {
    let (mut a, mut b) = (low, high);
    if from_low {
        let mut next = 2.0 * a;
        while next < b {
            if left_over(next) > 0.0 {
                b = next;
                break;
            }
            a = next;
            next *= 2.0;
        }
    } else {
        let mut next = 0.5 * b;
        while next > a {
            if left_over(next) <= 0.0 {
                a = next;
                break;
            }
            b = next;
            next *= 0.5;
        }
    }
    crossing(left_over, a, b)
}
