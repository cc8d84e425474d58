//! What a careful student writes down on the way along a path, and what keeping three figures of it does.
//!
//! Each number (an area, a velocity, a factor, a head) is moved as far as its rounding goes, one way and the other,
//! and the case is worked from there. What is had from givens alone moves by what three figures, or four, are known to
//! do to it, in SI and, where the problem is in feet, in feet too; what hangs on a reading, by half a unit of its third
//! figure. A number's own name keeps its value: how an answer itself is kept is counted with the answer.

use super::working::{FOOT, Name, Of, OfSize, Outcome, Turn, Whole, Work, half_unit, value_of};
use crate::constants::policy::CARRIED_FIGURES;
use crate::hydraulics::curve::Curve;
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::path::{Duty, Element, OverFlow, Path, StationVelocity};
use crate::hydraulics::regime::Regime;
use crate::hydraulics::solve::{Problem, SolveError, Unknown};

/// What π taken for 3.14 does to an area.
const SHORT_PI: f64 = 5.1e-4;

/// Whether chance is in a move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Luck {
    /// None: the number is had from givens alone.
    Known,
    /// The number hangs on a reading, so that its rounding falls anyhow.
    Free,
    /// It is no rounding, but something that the method leaves open.
    Method,
}

/// A case worked with one thing that is written down moved one way, and the other.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Moved {
    pub(super) luck: Luck,
    pub(super) ends: [Outcome; 2],
}

/// Shares by which a number can be off, low and high.
pub(super) type Off = (f64, f64);

/// Works a case with each thing that is written down on the way moved; `allowances` are the shares by which each pipe's
/// factor may be misread, and `all` is false where only what is known is wanted.
pub(super) fn moved(work: &Work<'_>, allowances: &[f64], all: bool) -> Result<Vec<Moved>, SolveError> {
    let mut moves = Moves {
        work,
        allowances,
        all,
        found: Vec::new(),
    };
    let base = &work.base;
    let unknown = work.problem.unknown;
    let spends = spends(unknown);
    if unknown != Unknown::Flow && work.in_feet {
        // A flow in gallons is turned into cubic feet, which a course's other units need not.
        let foot = FOOT * FOOT * FOOT;
        let of = off_from(base.state.flow, &[base.state.flow], &[foot]);
        moves.add(Luck::Known, of, &|by| moves_velocities(work, |_| 1.0 + by))?;
    }
    for (i, pipe) in base.state.pipes.iter().enumerate() {
        let laminar = pipe.regime == Regime::Laminar;
        let own = |of: Of| Name::Pipe(of, i);
        let r = allowances[i];
        // A misread factor moves a velocity by half its share at most, and a bore by a fifth or a little more.
        let share_of_velocity = half_unit_share(pipe.velocity, 0.5 * r);
        let area = base.get(own(Of::Area));
        let of_area = wider(off_from(area, &[area], work.units(2)), SHORT_PI);
        match unknown {
            // The bore comes first, then area and velocity.
            Unknown::Diameter(of) if of == i => {
                let follows = |by: f64, with_velocity: bool| {
                    let mut outcome = base.clone();
                    if with_velocity {
                        outcome.put(own(Of::Velocity), pipe.velocity * (1.0 - by));
                    }
                    outcome.put(own(Of::Reynolds), pipe.reynolds * (1.0 - by));
                    outcome.put(own(Of::HeadLoss), pipe.major_head_loss * (1.0 - by) * (1.0 - by));
                    keep_spent(work, &mut outcome);
                    Ok(outcome)
                };
                moves.add(Luck::Known, (-SHORT_PI, 0.0), &|by| follows(by, true))?;
                moves.add(Luck::Free, around(half_unit_share(area, r)), &|by| {
                    follows(by, true)
                })?;
                moves.add(Luck::Free, around(share_of_velocity), &|by| follows(-by, false))?;
            }
            // The velocity comes first, then area and flow.
            Unknown::Flow => moves.add(Luck::Known, of_area, &|by| {
                let mut outcome = base.clone();
                outcome.put(Name::Whole(Whole::Flow), base.state.flow * (1.0 + by));
                Ok(outcome)
            })?,
            // The flow comes first, then area, velocity and velocity head, all from givens.
            _ => moves.velocity(i, of_area)?,
        }

        let nu = base.get(Name::Whole(Whole::KinematicViscosity));
        let of_nu = off_from(nu, &[nu], work.units(2));
        let explicit = unknown != Unknown::Flow;
        moves.add(Luck::Known, of_nu, &|by| {
            let mut outcome = if laminar && explicit {
                moves_factor(work, i, 1.0 + by)?
            } else {
                base.clone()
            };
            outcome.put(own(Of::Reynolds), pipe.reynolds / (1.0 + by));
            if laminar {
                outcome.put(own(Of::Friction), pipe.darcy_friction_factor * (1.0 + by));
            }
            Ok(outcome)
        })?;
        if laminar {
            // 64/Re, from a Reynolds number that is written down.
            let of_reynolds = moves.next(own(Of::Reynolds));
            moves.add(Luck::Known, of_reynolds, &|by| {
                let mut outcome = if explicit {
                    moves_factor(work, i, 1.0 / (1.0 + by))?
                } else {
                    base.clone()
                };
                outcome.put(own(Of::Friction), pipe.darcy_friction_factor / (1.0 + by));
                Ok(outcome)
            })?;
            if explicit {
                let of_factor = moves.next(own(Of::Friction));
                moves.add(Luck::Known, of_factor, &|by| moves_factor(work, i, 1.0 + by))?;
            }
        } else {
            let factor = half_unit_share(pipe.darcy_friction_factor, r);
            moves.add(Luck::Free, around(factor), &|by| moves_factor(work, i, 1.0 + by))?;
            if spends {
                // `f L/D`, where several such terms are added up.
                let term =
                    pipe.darcy_friction_factor * base.get(own(Of::Length)) / base.get(own(Of::Diameter));
                let term = half_unit_share(term, r);
                moves.add(Luck::Free, around(term), &|by| moves_factor(work, i, 1.0 + by))?;
            }
        }
    }
    moves.heads()?;
    moves.machines()?;
    moves.solved_for()?;
    moves.nominal()?;
    Ok(moves.found)
}

/// The case with one factor taken for `by` times as much; its own name, and that of the level part, keep their values.
fn moves_factor(work: &Work<'_>, i: usize, by: f64) -> Result<Outcome, SolveError> {
    let pipe = &work.base.state.pipes[i];
    let mut turn = work.straight();
    turn.readings[i] = Reading {
        law: if pipe.regime == Regime::Laminar {
            Law::Fixed(pipe.darcy_friction_factor)
        } else {
            Law::Colebrook
        },
        factor: by,
    };
    let mut outcome = work.turn(&turn)?;
    for of in [Of::Friction, Of::FullyRoughFriction] {
        outcome.put(Name::Pipe(of, i), work.base.get(Name::Pipe(of, i)));
    }
    Ok(outcome)
}

/// The case with each velocity taken for so many times as much.
fn moves_velocities(work: &Work<'_>, by: impl Fn(usize) -> f64) -> Result<Outcome, SolveError> {
    let mut turn = work.straight();
    for (i, velocity) in turn.velocity.iter_mut().enumerate() {
        *velocity = by(i);
    }
    work.turn(&turn)
}

struct Moves<'w, 'a> {
    work: &'w Work<'a>,
    allowances: &'w [f64],
    all: bool,
    found: Vec<Moved>,
}

impl Moves<'_, '_> {
    fn add(
        &mut self,
        luck: Luck,
        (low, high): Off,
        turned: &dyn Fn(f64) -> Result<Outcome, SolveError>,
    ) -> Result<(), SolveError> {
        if (low, high) != (0.0, 0.0) && (self.all || luck != Luck::Free) {
            self.found.push(Moved {
                luck,
                ends: [turned(low)?, turned(high)?],
            });
        }
        Ok(())
    }

    /// The largest allowance.
    fn widest(&self) -> f64 {
        self.allowances.iter().copied().fold(0.0, f64::max)
    }

    /// How far a result that is known is off once it is written down too, beyond what it is off already.
    fn next(&self, name: Name) -> Off {
        next_off(
            self.work.base.get(name),
            known_range(&self.found, |outcome| outcome.get(name), &self.work.base),
            self.work.units(exponent(name)),
        )
    }

    /// A velocity and its head, from a flow that is given.
    fn velocity(&mut self, i: usize, of_area: Off) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let pipe = &base.state.pipes[i];
        let gravity = base.path.gravity;
        let name = Name::Pipe(Of::Velocity, i);
        let before = known_range(&self.found, |outcome| outcome.get(name), base);
        let velocity = pipe.velocity;
        // All that the velocity is off by its flow, its area and its own figures.
        let ends = [
            velocity + before.0,
            velocity + before.1,
            (velocity + before.0) / (1.0 + of_area.1),
            (velocity + before.1) / (1.0 + of_area.0),
            velocity,
        ];
        let of_velocity = off_from(velocity, &ends, work.units(1));
        let shares = (before.0 / velocity, before.1 / velocity);
        let head = |velocity: f64| velocity * velocity / (2.0 * gravity);
        let written = [of_velocity.0, of_velocity.1, 0.0].map(|by| head(velocity * (1.0 + by)));
        let of_head = off_from(head(velocity), &written, work.units(1));
        // What the flow does is counted already.
        let end = |of: Off, before: Off, side: f64| {
            if side < 0.0 {
                (1.0 + of.0) / (1.0 + before.0)
            } else {
                (1.0 + of.1) / (1.0 + before.1)
            }
        };
        let squared = |by: f64| (1.0 + by) * (1.0 + by) - 1.0;
        let heads_before = (squared(shares.0), squared(shares.1));
        self.add(Luck::Known, (-1.0, 1.0), &|side| {
            let mut turn: Turn = work.straight();
            let speed = end(of_velocity, shares, side);
            turn.velocity[i] = speed;
            turn.velocity_head[i] = end(of_head, heads_before, side) / (speed * speed);
            let mut outcome = work.turn(&turn)?;
            let by_area = if side < 0.0 { of_area.1 } else { of_area.0 };
            outcome.put(name, velocity / (1.0 + by_area));
            Ok(outcome)
        })
    }

    /// Heads: pressures as heads, losses, and their sums.
    fn heads(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let r = self.widest();
        let units = work.units(1);
        let (start, end) = (&base.state.start, &base.state.end);
        let gravity = base.path.gravity;
        let weight = base.path.density * gravity;
        let shifted = |head: f64| {
            let mut turn = work.straight();
            turn.head = head;
            work.turn(&turn)
        };
        let spends = spends(work.problem.unknown);
        // Pressures as heads; one that is not given is had from the heads, and is not one of them.
        let mut given = (0.0, 0.0);
        let mut free = 0.0;
        for (name, pressure, sign) in [
            (Whole::StartPressure, start.pressure, 1.0),
            (Whole::EndPressure, end.pressure, -1.0),
        ] {
            if !work.worked_out(Name::Whole(name)) {
                add_head(&mut given, sign * pressure / weight, units);
            }
        }
        // A pipe's velocity head is rounded with the pipe.
        let flow_known = work.problem.unknown != Unknown::Flow;
        for (station, velocity, sign) in [
            (&base.path.start, start.velocity, 1.0),
            (&base.path.end, end.velocity, -1.0),
        ] {
            if station.velocity != StationVelocity::Pipe && velocity != 0.0 {
                let head = velocity * velocity / (2.0 * gravity);
                if flow_known || matches!(station.velocity, StationVelocity::Value(_)) {
                    add_head(&mut given, sign * head, units);
                } else {
                    free += half_unit(head, r);
                }
            }
        }
        self.add(Luck::Known, given, &shifted)?;
        self.add(Luck::Free, around(free), &shifted)?;
        if spends {
            // All that there is to spend, written down as one head.
            let (spent, machines) = to_spend(base);
            let (luck, of_spent) = if machines == 0.0 && free == 0.0 {
                (Luck::Known, next_off_in(spent, given, units))
            } else {
                (Luck::Free, around(half_unit(spent, r)))
            };
            return self.add(luck, of_spent, &|by| {
                let mut outcome = shifted(by)?;
                keep_spent(work, &mut outcome);
                Ok(outcome)
            });
        }
        let pipes = base.state.pipes.len();
        let minor = base.get(Name::Whole(Whole::MinorLoss));
        let (several, summed) = (pipes > 1, pipes > 1 || minor > 0.0);
        let (all_major, all_lost) = (Name::Whole(Whole::MajorLoss), Name::Whole(Whole::AllLoss));
        let settled = work.is_from_givens(all_lost);
        let loss = |by: f64, major: bool| {
            let mut outcome = shifted(-by)?;
            if major && several {
                outcome.put(all_major, base.get(all_major) + by);
            }
            if summed {
                outcome.put(all_lost, base.get(all_lost) + by);
            }
            Ok(outcome)
        };
        for (i, pipe) in base.state.pipes.iter().enumerate() {
            let name = Name::Pipe(Of::HeadLoss, i);
            if settled {
                let (low, high) = self.next(name);
                let head = pipe.major_head_loss;
                self.add(Luck::Known, (head * low, head * high), &|by| loss(by, true))?;
            } else {
                self.add(Luck::Free, around(half_unit(pipe.major_head_loss, r)), &|by| {
                    loss(by, true)
                })?;
            }
        }
        if minor > 0.0 {
            let name = Name::Whole(Whole::MinorLoss);
            let (luck, of) = if work.is_from_givens(name) {
                let (low, high) = self.next(name);
                (Luck::Known, (minor * low, minor * high))
            } else {
                (Luck::Free, around(half_unit(minor, r)))
            };
            self.add(luck, of, &|by| loss(by, false))?;
        }
        if summed {
            let lost = base.state.head_loss;
            let (luck, of) = if settled {
                let (low, high) = self.next(all_lost);
                (Luck::Known, (lost * low, lost * high))
            } else {
                (Luck::Free, around(half_unit(lost, r)))
            };
            self.add(luck, of, &|by| shifted(-by))?;
        }
        Ok(())
    }

    /// What is had from a machine's head: its power and what follows, and the heads at a pump's inlet; and straight
    /// lines in place of a smooth curve through a pump's points.
    fn machines(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let r = self.widest();
        if base.state.pumps.is_empty() && base.state.turbines.is_empty() {
            return Ok(());
        }
        if let Some(path) = straightened(&work.problem.path) {
            let problem = Problem {
                path,
                ..work.problem.clone()
            };
            // A line may miss the system where the curve just meets it; that is no careful working.
            if let Ok(outcome) = work.solve(&problem, &vec![Reading::EXACT; work.pipes.count()]) {
                self.add(Luck::Method, (-1.0, 1.0), &|side| {
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
            self.add(Luck::Free, around(half_unit_share(base.get(written), r)), &|by| {
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
            let name = Name::Machine("NPSH_a", nth_pump(&base.path, i));
            let put = |by: f64| {
                let mut outcome = base.clone();
                outcome.put(name, available + by);
                Ok(outcome)
            };
            let (outside, vapour) = (base.path.atmosphere / weight, vapour / weight);
            let mut given = (0.0, 0.0);
            add_head(&mut given, outside, work.units(1));
            add_head(&mut given, -vapour, work.units(1));
            self.add(Luck::Known, given, &put)?;
            let lost = outside - vapour - available;
            self.add(Luck::Free, around(half_unit(lost, r)), &put)?;
        }
        Ok(())
    }

    /// A nominal bore and its area are written down before the velocity is had from them.
    fn nominal(&mut self) -> Result<(), SolveError> {
        let base = &self.work.base;
        if base.sized.is_none() {
            return Ok(());
        }
        let units = self.work.units(1);
        let bore = base.get(Name::Size(OfSize::Bore));
        let of_bore = off_from(bore, &[bore], units);
        let area = |bore: f64| std::f64::consts::FRAC_PI_4 * bore * bore;
        let written = [of_bore.0, of_bore.1, 0.0].map(|by| area(bore * (1.0 + by)));
        let of_area = wider(off_from(area(bore), &written, self.work.units(2)), SHORT_PI);
        let name = Name::Size(OfSize::Velocity);
        let velocity = base.get(name);
        self.add(Luck::Known, of_area, &|by| {
            let mut outcome = base.clone();
            outcome.put(name, velocity / (1.0 + by));
            Ok(outcome)
        })
    }

    /// What is solved for is written down before more follows from it.
    fn solved_for(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let unknown = work.problem.unknown;
        let value = value_of(base, unknown);
        let r = self.widest();
        let velocity = Name::Pipe(Of::Velocity, 0);
        let (luck, of) = match unknown {
            Unknown::Flow if work.is_from_givens(velocity) => (Luck::Known, self.next(velocity)),
            Unknown::Flow => {
                let of = |(pipe, r): (&crate::hydraulics::path::PipeState, &f64)| {
                    half_unit_share(pipe.velocity, 0.5 * r)
                };
                let most = base.state.pipes.iter().zip(self.allowances).map(of);
                (Luck::Free, around(most.fold(0.0, f64::max)))
            }
            Unknown::Diameter(_) => (Luck::Free, around(half_unit_share(value, 0.25 * r))),
            Unknown::Length(_) | Unknown::Roughness(_) => (Luck::Free, around(half_unit_share(value, r))),
            _ => return Ok(()),
        };
        self.add(luck, of, &|by| {
            let mut outcome = work.unknown_times(1.0 + by)?;
            keep_spent(work, &mut outcome);
            match unknown {
                // With several pipes the velocity in one is had from that in another.
                Unknown::Flow if base.state.pipes.len() == 1 => outcome.put(velocity, base.get(velocity)),
                Unknown::Diameter(i) => {
                    let bore = Name::Pipe(Of::Diameter, i);
                    outcome.put(bore, base.get(bore));
                }
                _ => {}
            }
            Ok(outcome)
        })
    }
}

/// How far below and above its value the known moves take a number together; `base` is where they start.
pub(super) fn known_range(moves: &[Moved], of: impl Fn(&Outcome) -> f64, base: &Outcome) -> Off {
    let value = of(base);
    let mut range = (0.0, 0.0);
    for moved in moves.iter().filter(|moved| moved.luck == Luck::Known) {
        let [one, other] = [&moved.ends[0], &moved.ends[1]].map(|end| of(end) - value);
        range.0 += one.min(other).min(0.0);
        range.1 += one.max(other).max(0.0);
    }
    range
}

/// Shares by which a number is off by being written down, beyond a range that it is off already.
fn next_off(value: f64, range: Off, units: &[f64]) -> Off {
    if value == 0.0 {
        return (0.0, 0.0);
    }
    let (low, high) = next_off_in(value, range, units);
    let (one, other) = (low / value, high / value);
    (one.min(other), one.max(other))
}

/// As [`next_off`], in the number's own unit.
pub(super) fn next_off_in(value: f64, range: Off, units: &[f64]) -> Off {
    let off = off_from(value, &[value, value + range.0, value + range.1], units);
    let ends = [value * off.0, value * off.1];
    (
        (ends[0].min(ends[1]) - range.0).min(0.0),
        (ends[0].max(ends[1]) - range.1).max(0.0),
    )
}

/// The exponent of length in a result's dimension.
pub(super) fn exponent(name: Name) -> u32 {
    u32::try_from(name.dimension().length / 12).unwrap_or(0)
}

/// A head that is written down: what that does to a sum of heads.
fn add_head(range: &mut Off, head: f64, units: &[f64]) {
    let of = off_from(head, &[head], units);
    let ends = [head * of.0, head * of.1];
    range.0 += ends[0].min(ends[1]);
    range.1 += ends[0].max(ends[1]);
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

pub(super) fn half_unit_share(value: f64, grown: f64) -> f64 {
    if value == 0.0 {
        0.0
    } else {
        half_unit(value, grown) / value.abs()
    }
}

/// How far off a number is where any of these is written for it with three figures, with four, or in full, in
/// units of this many SI units.
fn off_from(value: f64, written: &[f64], units: &[f64]) -> Off {
    if value == 0.0 {
        return (0.0, 0.0);
    }
    let mut off = (0.0f64, 0.0f64);
    let mut widen = |written: f64| {
        let by = written / value - 1.0;
        off = (off.0.min(by), off.1.max(by));
    };
    for written in written {
        widen(*written);
        for unit in units {
            for figures in [CARRIED_FIGURES, CARRIED_FIGURES + 1] {
                widen(kept(written / unit, figures) * unit);
            }
        }
    }
    off
}

/// A number kept to some figures; by arithmetic, which is quick and near enough for a width.
fn kept(value: f64, figures: u32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
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

/// Whether all that there is to spend is lost, and known from givens.
pub(super) fn spent_is_known(of: &Outcome, unknown: Unknown) -> bool {
    let (spent, machines) = to_spend(of);
    spends(unknown) && machines == 0.0 && (of.state.head_loss / spent - 1.0).abs() <= 1e-9
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
