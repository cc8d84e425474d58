//! The band of careful work, by end points.
//!
//! A case is solved again at every corner of careful work: each turbulent pipe's factor read off the chart too
//! high and too low, each accepted formula in the chart's place, and fully rough flow where its check allows it.
//! What stands between the corners lies between their answers, since answers are monotone in each reading.
//!
//! Rounding comes on top. A careful student may keep three figures of whatever is written down on the way, so
//! each such number (an area, a velocity, a factor, a head, the answer itself where more follows from it) is
//! moved by half a unit of its third figure, and the moves of the answer are added up without regard to sign.
//! The last rounding is half a unit of the last figure asked for, at its relative worst, which is what any
//! unit of the answer can make of it.

use super::working::{Name, Of, Outcome, Turn, Whole, Work, half_unit, value_of};
use super::{Accepted, Band, Cause};
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::{Asked, Constraint, Template};
use crate::constants::policy::CARRIED_FIGURES;
use crate::equation::{Bindings, EquationError, Expr, Relation};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::curve::Curve;
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::path::{Duty, Element, OverFlow, Path, StationVelocity};
use crate::hydraulics::regime::{self, Limits, Regime};
use crate::hydraulics::solve::{Problem, SolveError, Unknown};
use crate::solution::{Answer, PathCase};

/// Up to this many pipes every corner of independent readings is worked; beyond, all one way and one at a time.
const INDEPENDENT_PIPES: usize = 4;

/// The explicit formulas that a course accepts in place of the chart.
pub(super) const FORMULAS: [Law; 4] = [Law::Haaland, Law::SwameeJain, Law::Churchill, Law::Serghides];

/// What π taken for 3.14 does to an area.
const SHORT_PI: f64 = 5.1e-4;

/// See [`super::bands`].
pub(super) fn bands(
    template: &Template,
    givens: &Bindings,
    case: &PathCase,
    policy: &Policy,
    _conventions: &Conventions,
) -> Checked<Vec<Accepted>> {
    let work = Work::new(givens, case, policy.limits);
    let tracks: Vec<Tracks> = template
        .parts
        .iter()
        .map(|part| Tracks::of(&part.asked))
        .collect();
    let corners = corners(&work, policy, asks_for_critical(template), &|readings| {
        work.read(readings)
    })?;
    let rounded = rounded(&work, policy.reading_error).map_err(unsolved)?;
    template
        .parts
        .iter()
        .zip(&tracks)
        .map(|(part, tracks)| {
            tracks
                .accept(&work, &part.asked, &corners, &rounded)
                .map_err(|error| {
                    Faults::from(Fault::new(format!(
                        "the answer to `{}` can't be worked out: {}",
                        part.name, error.what
                    )))
                })
        })
        .collect()
}

/// Whether a template's constraints let a pipe be in the critical zone.
pub(crate) fn asks_for_critical(template: &Template) -> bool {
    template.constraints.iter().any(|constraint| match constraint {
        Constraint::Regime { allowed, .. } => allowed.contains(&Regime::Critical),
        Constraint::Holds(_) => false,
    })
}

/// See [`super::broken_constraint`].
pub(super) fn broken_constraint(
    template: &Template,
    givens: &Bindings,
    case: &PathCase,
    policy: &Policy,
) -> Option<usize> {
    let work = Work::new(givens, case, policy.limits);
    let pipes = work.pipes.count();
    template.constraints.iter().position(|constraint| {
        let holds = match constraint {
            Constraint::Regime { pipe, allowed } => (case.solved.state.pipes.iter().enumerate())
                .all(|(i, state)| pipe.is_some_and(|pipe| pipe != i) || allowed.contains(&state.regime)),
            // A bare name of a pipe's result means every pipe.
            Constraint::Holds(comparison) => {
                (0..pipes.max(1)).all(|i| work.holds(comparison, &work.base, Some(i)).unwrap_or(false))
            }
        };
        !holds
    })
}

fn unsolved(error: SolveError) -> Faults {
    let why = match error {
        SolveError::NoFlow { .. } => "there is no flow".to_owned(),
        SolveError::NoSolution { why, .. } | SolveError::Undetermined { why } => why.to_owned(),
        SolveError::OnlyAtJump { .. } => "it crosses only between laminar and turbulent flow".to_owned(),
        SolveError::OffCurve { .. } => "a pump would run at a flow off its curve".to_owned(),
        SolveError::Impossible { what, value } => format!("{what} of {value}"),
    };
    Fault::new(format!(
        "careful work can end where the problem has no solution: {why}"
    ))
    .into()
}

/// One corner of careful work.
pub(super) struct Corner {
    /// The only cause that is at work, if it is only one.
    cause: Option<Cause>,
    pub(super) outcome: Outcome,
}

/// Works a case at every corner; the first is the reference.
pub(super) fn corners(
    work: &Work<'_>,
    policy: &Policy,
    critical_allowed: bool,
    rework: &dyn Fn(&[Reading]) -> Result<Outcome, SolveError>,
) -> Checked<Vec<Corner>> {
    let pipes = work.pipes.count();
    let r = policy.reading_error;
    let read = |law, factor| Reading { law, factor };
    let solve = |readings: &[Reading]| -> Checked<Outcome> {
        let outcome = rework(readings).map_err(unsolved)?;
        if !critical_allowed {
            settled(&outcome, &work.base)?;
        }
        Ok(outcome)
    };
    let mut corners = vec![Corner {
        cause: None,
        outcome: solve(&vec![Reading::EXACT; pipes])?,
    }];
    let laminar = |i| corners[0].outcome.get(Name::Pipe(Of::Reynolds, i)) < policy.limits.laminar_end;
    if (0..pipes).all(laminar) {
        return Ok(corners);
    }
    for law in FORMULAS {
        corners.push(Corner {
            cause: Some(Cause::Formula),
            outcome: solve(&vec![read(law, 1.0); pipes])?,
        });
    }
    // Fully rough flow counts where a careful reader's own check passes, whichever way the chart is misread.
    let mut rough = vec![false; pipes];
    let walled: Vec<bool> = (0..pipes)
        .map(|i| work.base.get(Name::Pipe(Of::Roughness, i)) > 0.0)
        .collect();
    let guess: Vec<_> = (walled.iter())
        .map(|&walled| {
            if walled {
                read(Law::FullyRough, 1.0 + r)
            } else {
                Reading::EXACT
            }
        })
        .collect();
    if let Ok(outcome) = rework(&guess) {
        let slack = 1.0 - 0.5 * libm::pow(10.0, 1.0 - f64::from(CARRIED_FIGURES));
        for (i, rough) in rough.iter_mut().enumerate() {
            *rough = walled[i]
                && outcome.state.pipes[i].regime != Regime::Laminar
                && outcome.rough_number(i) >= slack * policy.limits.fully_rough_start;
        }
    }
    if rough.contains(&true) {
        let mixed: Vec<_> = (rough.iter())
            .map(|&rough| {
                if rough {
                    read(Law::FullyRough, 1.0)
                } else {
                    Reading::EXACT
                }
            })
            .collect();
        corners.push(Corner {
            cause: Some(Cause::FullyRough),
            outcome: solve(&mixed)?,
        });
    }
    for high in choices(pipes) {
        let of = |law: fn(bool) -> Law| -> Vec<Reading> {
            (high.iter().zip(&rough))
                .map(|(&high, &rough)| read(law(rough), if high { 1.0 + r } else { 1.0 - r }))
                .collect()
        };
        corners.push(Corner {
            cause: Some(Cause::Reading),
            outcome: solve(&of(|_| Law::Colebrook))?,
        });
        if rough.contains(&true) {
            corners.push(Corner {
                cause: None,
                outcome: solve(&of(|rough| if rough { Law::FullyRough } else { Law::Colebrook }))?,
            });
        }
    }
    Ok(corners)
}

/// Which pipes are read too high, in each corner.
pub(super) fn choices(pipes: usize) -> Vec<Vec<bool>> {
    if pipes <= INDEPENDENT_PIPES {
        return (0..1usize << pipes)
            .map(|bits| (0..pipes).map(|i| bits >> i & 1 == 1).collect())
            .collect();
    }
    let mut all = vec![vec![false; pipes], vec![true; pipes]];
    for odd in 0..pipes {
        all.push((0..pipes).map(|i| i == odd).collect());
        all.push((0..pipes).map(|i| i != odd).collect());
    }
    all
}

fn settled(outcome: &Outcome, base: &Outcome) -> Checked<()> {
    for (now, before) in outcome.state.pipes.iter().zip(&base.state.pipes) {
        let laminar = |regime| regime == Regime::Laminar;
        if now.regime == Regime::Critical || laminar(now.regime) != laminar(before.regime) {
            return Err(Fault::new(
                "careful work can end in the critical zone between laminar and turbulent flow",
            )
            .mend("set the template's constraints so that the Reynolds number keeps away from it")
            .into());
        }
    }
    Ok(())
}

/// Workings in which one thing written down on the way is rounded one way, and the other.
pub(super) type Rounded = Vec<(Outcome, Outcome)>;

/// Shares by which a number can be off, low and high.
type Off = (f64, f64);

/// Works a case with each thing that is written down on the way rounded.
///
/// What depends on givens alone is rounded by an amount that is known; what hangs on a reading, by half a unit.
/// A thing's own name keeps its value, since an answer's last rounding is counted apart; what follows moves.
pub(super) fn rounded(work: &Work<'_>, r: f64) -> Result<Rounded, SolveError> {
    let base = &work.base;
    let unknown = work.problem.unknown;
    let mut all = Vec::new();
    let mut both = |(low, high): Off, turned: &dyn Fn(f64) -> Result<Outcome, SolveError>| {
        if (low, high) != (0.0, 0.0) {
            all.push((turned(low)?, turned(high)?));
        }
        Ok(())
    };
    let share = |value: f64| half_unit_share(value, r);
    // A misread factor moves a velocity by half its share at most, and a bore by a fifth or a little more.
    let share_of_velocity = |value: f64| half_unit_share(value, 0.5 * r);
    let viscosity = off(&[base.get(Name::Whole(Whole::KinematicViscosity))]);
    let gravity = base.path.gravity;
    let spends = spends(unknown);
    for (i, pipe) in base.state.pipes.iter().enumerate() {
        let laminar = pipe.regime == Regime::Laminar;
        let own = |of: Of| Name::Pipe(of, i);
        let area = base.get(own(Of::Area));
        let of_area = match unknown {
            Unknown::Diameter(of) if of == i => around(share(area) + SHORT_PI),
            _ => wider(off(&[area]), SHORT_PI),
        };

        // The factor, and `f L/D` where several such terms are added up.
        let term = pipe.darcy_friction_factor * base.get(own(Of::Length)) / base.get(own(Of::Diameter));
        let mut friction = share(pipe.darcy_friction_factor);
        let mut later = 0.0;
        if laminar {
            later = share_of_velocity(pipe.reynolds) + viscosity.1 - viscosity.0;
            friction += if unknown == Unknown::Flow { 0.0 } else { later };
        } else if spends {
            friction += share(term);
        }
        both(around(friction), &|by| {
            let mut turn = work.straight();
            turn.readings[i] = Reading {
                law: if laminar {
                    Law::Fixed(pipe.darcy_friction_factor)
                } else {
                    Law::Colebrook
                },
                factor: 1.0 + by,
            };
            let mut outcome = work.turn(&turn)?;
            if laminar {
                let by = by.signum() * later;
                outcome.put(own(Of::Friction), pipe.darcy_friction_factor * (1.0 + by));
            } else if !matches!(unknown, Unknown::Flow | Unknown::Diameter(_)) {
                outcome.put(own(Of::Friction), pipe.darcy_friction_factor);
            }
            Ok(outcome)
        })?;
        both(viscosity, &|by| {
            let mut outcome = base.clone();
            outcome.put(own(Of::Reynolds), pipe.reynolds / (1.0 + by));
            Ok(outcome)
        })?;

        match unknown {
            // The bore comes first, then area and velocity.
            Unknown::Diameter(of) if of == i => {
                let velocity = share_of_velocity(pipe.velocity);
                both(of_area, &|by| {
                    let mut outcome = base.clone();
                    let (moved, rounded) = (1.0 - by, 1.0 - by - by.signum() * velocity);
                    outcome.put(own(Of::Velocity), pipe.velocity * moved);
                    outcome.put(own(Of::Reynolds), pipe.reynolds * rounded);
                    outcome.put(own(Of::HeadLoss), pipe.major_head_loss * rounded * rounded);
                    keep_spent(work, &mut outcome);
                    Ok(outcome)
                })?;
            }
            // The velocity comes first, then area and flow.
            Unknown::Flow => both(of_area, &|by| {
                let mut outcome = base.clone();
                outcome.put(Name::Whole(Whole::Flow), base.state.flow * (1.0 + by));
                Ok(outcome)
            })?,
            // The flow comes first, then area, velocity and velocity head, all from givens.
            _ => {
                let areas = [1.0, 1.0 + of_area.0, 1.0 + of_area.1];
                let velocities = areas.map(|area| pipe.velocity / area);
                let of_velocity = wider(off_from(pipe.velocity, &velocities), 0.0);
                let head = |velocity: f64| velocity * velocity / (2.0 * gravity);
                let written = [
                    pipe.velocity,
                    pipe.velocity * (1.0 + of_velocity.0),
                    pipe.velocity * (1.0 + of_velocity.1),
                ];
                let of_head = off_from(head(pipe.velocity), &written.map(head));
                let of_head = (of_head.0 - 1e-4, of_head.1 + 1e-4);
                both((-1.0, 1.0), &|side| {
                    let end = |of: Off| if side < 0.0 { of.0 } else { of.1 };
                    let mut turn: Turn = work.straight();
                    let speed = 1.0 + end(of_velocity);
                    turn.velocity[i] = speed;
                    turn.velocity_head[i] = (1.0 + end(of_head)) / (speed * speed);
                    let mut outcome = work.turn(&turn)?;
                    let asked = if side < 0.0 { of_area.1 } else { of_area.0 };
                    outcome.put(own(Of::Velocity), pipe.velocity / (1.0 + asked));
                    Ok(outcome)
                })?;
            }
        }
    }
    heads(work, r, &mut both)?;
    machines(work, r, &mut both)?;
    // What is solved for is written down before more follows from it.
    let first = match unknown {
        Unknown::Flow => (base.state.pipes.iter())
            .map(|pipe| share_of_velocity(pipe.velocity))
            .fold(0.0, f64::max),
        Unknown::Diameter(_) => half_unit_share(value_of(base, unknown), 0.25 * r),
        Unknown::Length(_) | Unknown::Roughness(_) => share(value_of(base, unknown)),
        _ => return Ok(all),
    };
    both(around(first), &|by| {
        let mut outcome = work.unknown_times(1.0 + by)?;
        keep_spent(work, &mut outcome);
        match unknown {
            // With several pipes the velocity in one is had from that in another.
            Unknown::Flow if base.state.pipes.len() == 1 => {
                outcome.put(Name::Pipe(Of::Velocity, 0), base.state.pipes[0].velocity);
            }
            Unknown::Diameter(i) => {
                let bore = Name::Pipe(Of::Diameter, i);
                outcome.put(bore, base.get(bore));
            }
            _ => {}
        }
        Ok(outcome)
    })?;
    Ok(all)
}

/// Whether losses settle the unknown, so that they are what there is to spend.
pub(super) fn spends(unknown: Unknown) -> bool {
    matches!(
        unknown,
        Unknown::Flow
            | Unknown::Diameter(_)
            | Unknown::Length(_)
            | Unknown::Roughness(_)
            | Unknown::LossCoefficient(_)
    )
}

fn around(share: f64) -> Off {
    (-share, share)
}

/// As far off, and by `low` further down.
fn wider(of: Off, low: f64) -> Off {
    (of.0 - low, of.1)
}

fn half_unit_share(value: f64, grown: f64) -> f64 {
    if value == 0.0 {
        0.0
    } else {
        half_unit(value, grown) / value.abs()
    }
}

/// How far off a number is where any of these is written for it with three figures, with four, or in full.
fn off_from(value: f64, written: &[f64]) -> Off {
    if value == 0.0 {
        return (0.0, 0.0);
    }
    let mut off = (0.0f64, 0.0f64);
    for written in written {
        for kept in [
            *written,
            kept(*written, CARRIED_FIGURES),
            kept(*written, CARRIED_FIGURES + 1),
        ] {
            let by = kept / value - 1.0;
            off = (off.0.min(by), off.1.max(by));
        }
    }
    off
}

fn off(of: &[f64; 1]) -> Off {
    off_from(of[0], of)
}

/// A number kept to some figures; by arithmetic, which is quick and near enough for a width.
fn kept(value: f64, figures: u32) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let decade = libm::floor(libm::log10(value.abs())) + 1.0 - f64::from(figures);
    let unit = libm::pow(10.0, decade);
    (value / unit).round() * unit
}

/// The head that there is to spend, and what of it is from machines.
fn to_spend(of: &Outcome) -> (f64, f64) {
    let (start, end) = (&of.state.start, &of.state.end);
    let machines = of.state.pump_heads.iter().sum::<f64>() - of.state.turbine_heads.iter().sum::<f64>();
    let weight = of.path.density * of.path.gravity;
    let spent = (start.pressure - end.pressure) / weight + start.elevation - end.elevation + machines;
    (spent, machines)
}

/// Where all that there is to spend is lost, the loss is had from that, and not from what is solved for.
fn keep_spent(work: &Work<'_>, outcome: &mut Outcome) {
    let base = &work.base;
    let (spent, _) = to_spend(base);
    if !spends(work.problem.unknown) || (base.state.head_loss / spent - 1.0).abs() > 1e-9 {
        return;
    }
    let all_lost = Name::Whole(Whole::AllLoss);
    outcome.put(all_lost, base.get(all_lost));
    let minor = base.state.minor_head_losses.iter().any(|head| *head != 0.0);
    if base.state.pipes.len() == 1 && !minor {
        let lost = Name::Pipe(Of::HeadLoss, 0);
        outcome.put(lost, base.get(lost));
    }
}

type Both<'a> = &'a mut dyn FnMut(Off, &dyn Fn(f64) -> Result<Outcome, SolveError>) -> Result<(), SolveError>;

/// Rounding of heads.
fn heads(work: &Work<'_>, r: f64, both: Both<'_>) -> Result<(), SolveError> {
    let base = &work.base;
    let (start, end) = (&base.state.start, &base.state.end);
    let gravity = base.path.gravity;
    let weight = base.path.density * gravity;
    let shifted = |head: f64| {
        let mut turn = work.straight();
        turn.head = head;
        work.turn(&turn)
    };
    // Pressures as heads; one that is not given is had from the heads, and is not one of them.
    let mut given = (0.0, 0.0);
    for (name, pressure, sign) in [
        (Whole::StartPressure, start.pressure, 1.0),
        (Whole::EndPressure, end.pressure, -1.0),
    ] {
        if work.worked_out(Name::Whole(name)) {
            continue;
        }
        let head = sign * pressure / weight;
        let of = off(&[head]);
        let ends = [head * of.0, head * of.1];
        given.0 += ends[0].min(ends[1]);
        given.1 += ends[0].max(ends[1]);
    }
    // A pipe's velocity head is rounded with the pipe.
    for (station, velocity) in [(&base.path.start, start.velocity), (&base.path.end, end.velocity)] {
        if station.velocity != StationVelocity::Pipe {
            let of = half_unit(velocity * velocity / (2.0 * gravity), r);
            given = (given.0 - of, given.1 + of);
        }
    }
    if spends(work.problem.unknown) {
        both(given, &shifted)?;
        // All that there is to spend, written down as one head.
        let (spent, machines) = to_spend(base);
        let of_spent = if machines == 0.0 {
            let written = [spent, spent + given.0, spent + given.1];
            let off = off_from(spent, &written);
            let ends = [spent * off.0, spent * off.1];
            // What the heads of pressure are off by is counted above.
            (
                (ends[0].min(ends[1]) - given.0).min(0.0),
                (ends[0].max(ends[1]) - given.1).max(0.0),
            )
        } else {
            around(half_unit(spent, r))
        };
        return both(of_spent, &|by| {
            let mut outcome = shifted(by)?;
            keep_spent(work, &mut outcome);
            Ok(outcome)
        });
    }
    let pipes = base.state.pipes.len();
    let major: f64 = (base.state.pipes.iter())
        .map(|pipe| half_unit(pipe.major_head_loss, r))
        .sum();
    let minor = half_unit(base.get(Name::Whole(Whole::MinorLoss)), r);
    let (several, summed) = (pipes > 1, pipes > 1 || minor > 0.0);
    let of_all = if summed {
        half_unit(base.state.head_loss, r)
    } else {
        0.0
    };
    both(given, &shifted)?;
    both(around(1.0), &|sign| {
        let mut outcome = shifted(-sign * (major + minor + of_all))?;
        let (all_major, all_lost) = (Name::Whole(Whole::MajorLoss), Name::Whole(Whole::AllLoss));
        let of_major = if several { major } else { 0.0 };
        let of_lost = if summed { major + minor } else { 0.0 };
        outcome.put(all_major, base.get(all_major) + sign * of_major);
        outcome.put(all_lost, base.get(all_lost) + sign * of_lost);
        Ok(outcome)
    })?;
    Ok(())
}

/// Rounding of what is had from a machine's head: its power and what follows, and the heads at a pump's inlet; and
/// straight lines in place of a smooth curve through a pump's points.
fn machines(work: &Work<'_>, r: f64, both: Both<'_>) -> Result<(), SolveError> {
    let base = &work.base;
    if base.state.pumps.is_empty() && base.state.turbines.is_empty() {
        return Ok(());
    }
    let straight = straightened(&work.problem.path);
    if let Some(path) = straight {
        let problem = Problem {
            path,
            ..work.problem.clone()
        };
        // A line may miss the system where the curve just meets it; that is no careful working.
        if let Ok(outcome) = work.solve(&problem, &vec![Reading::EXACT; work.pipes.count()]) {
            both((-1.0, 1.0), &|side| {
                Ok(if side < 0.0 { base.clone() } else { outcome.clone() })
            })?;
        }
    }
    let has = |name: Name| {
        let value = base.get(name);
        value != 0.0 && value.is_finite()
    };
    // Each is written down before the next is had from it.
    let first = |base: &'static str| Name::Machine(base, 0);
    let chain = [
        (Name::Whole(Whole::PumpHead), Name::Whole(Whole::PumpPower)),
        (Name::Whole(Whole::TurbineHead), Name::Whole(Whole::TurbinePower)),
        (Name::Whole(Whole::PumpHead), first("P_f")),
        (Name::Whole(Whole::TurbineHead), first("P_f")),
        (first("P_f"), Name::Whole(Whole::PumpPower)),
        (first("P_f"), Name::Whole(Whole::TurbinePower)),
        (first("eta"), Name::Whole(Whole::PumpPower)),
        (Name::Whole(Whole::PumpPower), first("P_el")),
        (Name::Whole(Whole::TurbinePower), first("P_el")),
        (first("P_el"), first("E_year")),
        (first("E_year"), first("cost")),
    ];
    let power_stated = powers_stated(&work.problem.path);
    let eta_read = work.problem.path.elements.iter().any(|e| match e {
        Element::Pump(pump) => matches!(pump.efficiency, OverFlow::Curve(_)),
        _ => false,
    });
    for (written, next) in chain {
        // A power that is stated is not had from the head.
        let stated = matches!(next, Name::Whole(Whole::PumpPower | Whole::TurbinePower)) && power_stated;
        // An efficiency is read only where it has a curve.
        let given = matches!(written, Name::Machine("eta", _)) && !eta_read;
        if !has(written) || !has(next) || stated || given {
            continue;
        }
        both(around(half_unit_share(base.get(written), r)), &|by| {
            let mut outcome = base.clone();
            outcome.put(next, base.get(next) * (1.0 + by));
            Ok(outcome)
        })?;
    }
    // NPSH is the head of the air, less that of the vapour, less height and losses, each written down.
    let weight = base.path.density * base.path.gravity;
    for (i, pump) in base.state.pumps.iter().enumerate() {
        let (Some(available), Some(vapour)) = (pump.npsh_available, base.path.vapour_pressure) else {
            continue;
        };
        let outside = base.path.atmosphere / weight;
        let lost = outside - vapour / weight - available;
        let all = [outside, vapour / weight, lost].map(|head| half_unit(head, r));
        both(around(all.iter().sum()), &|by| {
            let mut outcome = base.clone();
            let name = Name::Machine("NPSH_a", nth_pump(&base.path, i));
            outcome.put(name, available + by);
            Ok(outcome)
        })?;
    }
    Ok(())
}

/// The index of a pump among pumps and turbines together.
fn nth_pump(path: &Path, pump: usize) -> usize {
    let machines = path
        .elements
        .iter()
        .filter(|e| matches!(e, Element::Pump(_) | Element::Turbine(_)));
    let mut pumps = machines
        .enumerate()
        .filter(|(_, e)| matches!(e, Element::Pump(_)));
    pumps.nth(pump).map_or(pump, |(index, _)| index)
}

fn powers_stated(path: &Path) -> bool {
    path.elements.iter().any(|e| match e {
        Element::Pump(machine) | Element::Turbine(machine) => {
            matches!(machine.duty, Duty::Power(power) if !power.is_nan())
        }
        _ => false,
    })
}

/// The path with straight lines between the points of its pumps' curves; `None` where no curve runs through
/// points.
fn straightened(path: &Path) -> Option<Path> {
    let mut path = path.clone();
    let mut any = false;
    let mut change = |curve: &mut Curve| {
        if let Some(straight) = curve.straightened() {
            *curve = straight;
            any = true;
        }
    };
    for element in &mut path.elements {
        if let Element::Pump(pump) = element {
            if let Duty::Curve(curve) = &mut pump.duty {
                change(curve);
            }
            if let OverFlow::Curve(curve) = &mut pump.efficiency {
                change(curve);
            }
            if let Some(OverFlow::Curve(curve)) = &mut pump.npsh_required {
                change(curve);
            }
        }
    }
    any.then_some(path)
}

/// The numbers on which an answer hangs.
pub(super) enum Tracks<'a> {
    /// The answer itself.
    Number { formula: &'a Expr, figures: u32 },
    /// The Reynolds number and the rough number of a pipe.
    Regime(usize),
    /// Each comparison's left side less its right.
    Margins(Vec<(&'a Expr, &'a Expr)>),
}

/// One number on which an answer hangs.
enum Track<'a> {
    Formula(&'a Expr),
    Margin(&'a Expr, &'a Expr),
    Reynolds(usize),
    Rough(usize),
}

impl Track<'_> {
    fn value(&self, work: &Work<'_>, of: &Outcome) -> Result<f64, EquationError> {
        Ok(match self {
            Self::Formula(formula) => work.value(formula, of, None)?.value,
            Self::Margin(left, right) => {
                work.value(left, of, None)?.value - work.value(right, of, None)?.value
            }
            Self::Reynolds(i) => of.get(Name::Pipe(Of::Reynolds, *i)),
            Self::Rough(i) => of.rough_number(*i),
        })
    }

    /// Results that are put into the formula as numbers written down before.
    fn written_down(&self, work: &Work<'_>) -> Vec<Name> {
        let names = match self {
            Self::Formula(Expr::Symbol(_)) => return Vec::new(),
            Self::Formula(formula) => formula.symbols(),
            Self::Margin(left, right) => {
                let mut names = left.symbols();
                names.extend(right.symbols());
                names
            }
            Self::Reynolds(_) => return Vec::new(),
            Self::Rough(i) => {
                return [Of::Reynolds, Of::Friction, Of::RelativeRoughness]
                    .map(|of| Name::Pipe(of, *i))
                    .to_vec();
            }
        };
        names
            .iter()
            .filter_map(|name| work.pipes.find(name, None))
            .filter(|name| work.worked_out(*name) && !at_a_station(*name))
            .collect()
    }

    fn reach(&self, work: &Work<'_>, corners: &[Corner], rounded: &Rounded) -> Result<Reach, EquationError> {
        let reference = self.value(work, &corners[0].outcome)?;
        let mut reach = Reach {
            reference,
            all: (reference, reference),
            alone: [(reference, reference); 3],
            rounding: (0.0, 0.0),
        };
        for corner in corners {
            let value = self.value(work, &corner.outcome)?;
            widen(&mut reach.all, value);
            match corner.cause {
                Some(Cause::Reading) => widen(&mut reach.alone[0], value),
                Some(Cause::Formula) => widen(&mut reach.alone[1], value),
                Some(Cause::FullyRough) => widen(&mut reach.alone[2], value),
                _ => {}
            }
        }
        for (one, other) in rounded {
            let (one, other) = (
                self.value(work, one)? - reference,
                self.value(work, other)? - reference,
            );
            reach.rounding.0 -= one.min(other).min(0.0);
            reach.rounding.1 += one.max(other).max(0.0);
        }
        let base = &corners[0].outcome;
        for name in self.written_down(work) {
            let value = base.get(name);
            let mut outcome = base.clone();
            outcome.put(name, value + half_unit(value, 0.0));
            let moved = (self.value(work, &outcome)? - reference).abs();
            reach.rounding = (reach.rounding.0 + moved, reach.rounding.1 + moved);
        }
        Ok(reach)
    }
}

/// Pressures and heights at the stations: differences of them are had from heads, not from rounded ends.
fn at_a_station(name: Name) -> bool {
    matches!(
        name,
        Name::Whole(Whole::StartPressure | Whole::EndPressure | Whole::StartElevation | Whole::EndElevation)
    )
}

/// How far a number reaches, rounding apart.
pub(super) struct Reach {
    pub(super) reference: f64,
    pub(super) all: (f64, f64),
    /// By reading, formula and fully rough flow alone.
    pub(super) alone: [(f64, f64); 3],
    /// What rounding on the way adds below and above.
    pub(super) rounding: (f64, f64),
}

impl Reach {
    pub(super) fn with_rounding(&self) -> (f64, f64) {
        (self.all.0 - self.rounding.0, self.all.1 + self.rounding.1)
    }
}

pub(super) fn widen(span: &mut (f64, f64), value: f64) {
    span.0 = span.0.min(value);
    span.1 = span.1.max(value);
}

impl<'a> Tracks<'a> {
    pub(super) fn of(asked: &'a Asked) -> Self {
        match asked {
            Asked::Number { formula, figures, .. } => Self::Number {
                formula,
                figures: *figures,
            },
            Asked::Regime { pipe } => Self::Regime(*pipe),
            Asked::Choice { first_if, .. } => {
                let mut leaves = Vec::new();
                comparisons(first_if, &mut leaves);
                Self::Margins(leaves)
            }
        }
    }

    /// What rounding on the way makes of a number's answer, as a share of it.
    pub(super) fn rounding_share(&self, work: &Work<'_>, rounded: &Rounded) -> Option<f64> {
        let Self::Number { formula, .. } = self else {
            return None;
        };
        let reference = [Corner {
            cause: None,
            outcome: work.base.clone(),
        }];
        let reach = Track::Formula(formula).reach(work, &reference, rounded).ok()?;
        let share = reach.rounding.0.max(reach.rounding.1) / reach.reference.abs();
        share.is_finite().then_some(share)
    }

    pub(super) fn accept(
        &self,
        work: &Work<'_>,
        asked: &Asked,
        corners: &[Corner],
        rounded: &Rounded,
    ) -> Result<Accepted, EquationError> {
        let reach = |track: Track<'_>| track.reach(work, corners, rounded);
        let base = &corners[0].outcome;
        Ok(match (self, asked) {
            (Self::Number { formula, figures }, _) => {
                let reach = reach(Track::Formula(formula))?;
                Accepted::Number(band(work.value(formula, base, None)?, &reach, *figures))
            }
            (Self::Regime(pipe), _) => {
                let reynolds = reach(Track::Reynolds(*pipe))?;
                let rough = reach(Track::Rough(*pipe))?;
                let first = regime::classify(reynolds.reference, rough.reference, &work.limits);
                let others = regimes(reynolds.with_rounding(), rough.with_rounding(), &work.limits);
                Accepted::OneOf(
                    std::iter::once(first)
                        .chain(others.into_iter().filter(|other| *other != first))
                        .map(Answer::Regime)
                        .collect(),
                )
            }
            (Self::Margins(leaves), Asked::Choice { options, first_if }) => {
                let holds = work.holds(first_if, base, None)?;
                let mut margins = Vec::with_capacity(leaves.len());
                for (left, right) in leaves {
                    margins.push(reach(Track::Margin(left, right))?.with_rounding());
                }
                let (can_hold, can_fail) = truth(first_if, &mut margins.into_iter());
                let [first, second] = options;
                let (is, other) = if holds { (first, second) } else { (second, first) };
                let mut one_of = vec![Answer::Choice(is.clone())];
                if can_hold && can_fail {
                    one_of.push(Answer::Choice(other.clone()));
                }
                Accepted::OneOf(one_of)
            }
            (Self::Margins(_), _) => Accepted::OneOf(Vec::new()),
        })
    }
}

/// The band of a number.
pub(super) fn band(reference: crate::quantity::Quantity, reach: &Reach, figures: u32) -> Band {
    // A hair more than half a unit, so that a number on the edge is in.
    let last = 0.5 * libm::pow(10.0, 1.0 - f64::from(figures)) * (1.0 + 1e-9);
    let (low, high) = reach.with_rounding();
    let alone = (
        reach.reference - reach.rounding.0,
        reach.reference + reach.rounding.1,
    );
    let [reading, formula, rough] = reach.alone;
    Band {
        reference,
        low: low - low.abs() * last,
        high: high + high.abs() * last,
        causes: vec![
            (Cause::Reading, reading.0, reading.1),
            (Cause::Formula, formula.0, formula.1),
            (Cause::FullyRough, rough.0, rough.1),
            (Cause::OnTheWay, alone.0, alone.1),
            (
                Cause::LastFigure,
                reach.reference - reach.reference.abs() * last,
                reach.reference + reach.reference.abs() * last,
            ),
        ],
    }
}

/// The regimes that a pipe with these Reynolds and rough numbers can be found in.
pub(super) fn regimes(reynolds: (f64, f64), rough: (f64, f64), limits: &Limits) -> Vec<Regime> {
    let smooth = |number: f64| regime::roughness_reynolds(number) < limits.smooth_end;
    let turbulent = reynolds.1 >= limits.turbulent_start;
    let full = limits.fully_rough_start;
    [
        (Regime::Laminar, reynolds.0 < limits.laminar_end),
        (
            Regime::Critical,
            reynolds.0 < limits.turbulent_start && reynolds.1 >= limits.laminar_end,
        ),
        (Regime::Smooth, turbulent && smooth(rough.0)),
        (
            Regime::TransitionallyRough,
            turbulent && !smooth(rough.1) && rough.0 < full,
        ),
        (Regime::FullyRough, turbulent && rough.1 >= full),
    ]
    .into_iter()
    .filter_map(|(regime, can)| can.then_some(regime))
    .collect()
}

pub(super) fn comparisons<'a>(expr: &'a Expr, into: &mut Vec<(&'a Expr, &'a Expr)>) {
    match expr {
        Expr::Compare(left, _, right) => into.push((left, right)),
        Expr::And(a, b) | Expr::Or(a, b) => {
            comparisons(a, into);
            comparisons(b, into);
        }
        _ => {}
    }
}

/// Whether a comparison can hold and whether it can fail, when its sides differ by something in `margins`
/// (in the order of [`comparisons`]).
pub(super) fn truth(expr: &Expr, margins: &mut dyn Iterator<Item = (f64, f64)>) -> (bool, bool) {
    match expr {
        Expr::Compare(_, relation, _) => {
            let (low, high) = margins.next().unwrap_or((f64::NAN, f64::NAN));
            match relation {
                Relation::Less => (low < 0.0, high >= 0.0),
                Relation::AtMost => (low <= 0.0, high > 0.0),
                Relation::Greater => (high > 0.0, low <= 0.0),
                Relation::AtLeast => (high >= 0.0, low < 0.0),
                Relation::Equal | Relation::About => (low <= 0.0 && high >= 0.0, low < 0.0 || high > 0.0),
                Relation::NotEqual => (low < 0.0 || high > 0.0, low <= 0.0 && high >= 0.0),
            }
        }
        Expr::And(a, b) => {
            let (a, b) = (truth(a, margins), truth(b, margins));
            (a.0 && b.0, a.1 || b.1)
        }
        Expr::Or(a, b) => {
            let (a, b) = (truth(a, margins), truth(b, margins));
            (a.0 || b.0, a.1 && b.1)
        }
        _ => (false, false),
    }
}
