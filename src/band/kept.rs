//! What a careful student writes down on the way along a path, and what keeping three figures of it does.
//!
//! What is had from givens alone (an area, a velocity of a given flow, its head, a pressure as a head) is worked as it is
//! by hand, one number after another, by who always keeps three figures, who always keeps four, and who keeps now this
//! and now that: each comes to numbers that are known. What hangs on a reading is rounded by anything within half a unit of
//! its third figure. Numbers are written down in SI, and where the problem is in feet, in feet. A number's own name keeps
//! the value that it has before it is written down: how an answer itself is kept is counted with the answer.

use super::figures::{NOISE, decade, either_side};
use super::working::{AtPoint, FOOT, Name, Of, OfSize, Outcome, Turn, Whole, Work, half_unit};
use crate::constants::policy::{CARRIED_FIGURES, WRITE_DOWN};
use crate::equation::Expr;
use crate::hydraulics::curve::Curve;
use crate::hydraulics::duct::Section;
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::path::{Duty, Element, LossLaw, OverFlow, Path, StationVelocity};
use crate::hydraulics::regime::Regime;
use crate::hydraulics::solve::{Problem, SolveError, Unknown};

/// A number of an outcome.
type OfOutcome = fn(&Outcome) -> f64;

/// How many figures are kept: always three, always four, or now three, now four, now all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Habit {
    Three,
    Four,
    Mixed,
}

const HABITS: [Habit; 3] = [Habit::Three, Habit::Four, Habit::Mixed];
/// As many figures as a calculator has.
const ALL: u32 = 15;

impl Habit {
    /// What is written down for a number in a unit, and how often.
    fn keep(self, value: f64, unit: f64) -> impl Iterator<Item = (f64, f64)> {
        let figures: &[u32] = match self {
            Self::Three => &[CARRIED_FIGURES],
            Self::Four => &[CARRIED_FIGURES + 1],
            Self::Mixed => &[CARRIED_FIGURES, CARRIED_FIGURES + 1, ALL],
        };
        let share = 1.0 / figures.len() as f64;
        figures.iter().flat_map(move |&figures| {
            let (kept, other) = if figures == ALL {
                (value, None)
            } else {
                let (kept, other) = either_side(value / unit, figures, NOISE);
                (kept * unit, other.map(|other| other * unit))
            };
            let share = if other.is_some() { 0.5 * share } else { share };
            std::iter::once(kept).chain(other).map(move |kept| (kept, share))
        })
    }
}

/// Up to this many numbers are worked together.
pub(super) const TOGETHER: usize = 7;
/// Shares by which numbers that are worked together are off, before they are written down or after, and the share of
/// students with whom they are.
pub(super) type Place = ([f64; TOGETHER], f64);

/// One number among those that are worked together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Number {
    /// Where it stands among the shares: before it is written down, and after.
    pub(super) before: usize,
    pub(super) after: usize,
    /// The name whose own value it is.
    pub(super) name: Option<Name>,
    /// The shares at which it was tried, and what came out.
    pub(super) tried: [(f64, Outcome); 2],
}

/// A case worked with something that is written down moved.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Moved {
    /// Numbers had from givens alone, with what they come to for who always keeps three figures, always four, or mixes.
    Known {
        numbers: Vec<Number>,
        lots: [Vec<Place>; 3],
    },
    /// A number that hangs on a reading, so that its rounding falls anyhow: half a unit below and above.
    Free {
        ends: [Outcome; 2],
        /// The share of students for whom half a unit is as much; else it is a tenth.
        large: f64,
        /// The share of students who write it down.
        written: f64,
        /// Whether all are off by as much, however many figures they keep: an earlier answer as it was handed in.
        handed_in: bool,
        /// The result that is written down.
        of: Option<Name>,
        /// Which of what is asked it is, where that is a formula, so that it does not move that.
        asked: Option<usize>,
    },
    /// It is no rounding, but something that the method leaves open.
    Method([Outcome; 2]),
}

/// Half a unit of the third figure of a number that hangs on a reading, as a share of it, and for how many it is as much.
#[derive(Debug, Clone, Copy)]
pub(super) struct Half {
    pub(super) share: f64,
    pub(super) large: f64,
}

/// Works a case with each thing that is written down on the way moved; `corners` are the outcomes between which readings
/// lie, and `all` is false where only what is known is wanted.
pub(super) fn moved(work: &Work<'_>, corners: &[&Outcome], all: bool) -> Result<Vec<Moved>, SolveError> {
    let mut moves = Moves {
        work,
        corners,
        all,
        found: Vec::new(),
    };
    let unknown = work.problem.unknown;
    let pipes = work.base.state.pipes.len();
    let laminar = pipes == 1 && work.is_from_givens(Name::Pipe(Of::Velocity, 0));
    if unknown == Unknown::Flow && laminar && !moves.solves_for_flow() {
        moves.laminar_flow()?;
        return Ok(moves.found);
    }
    for i in 0..pipes {
        match unknown {
            // The bore comes first, then area and velocity.
            Unknown::Diameter(of) if of == i => moves.by_the_bore(i)?,
            // The velocity comes first, then area and flow.
            Unknown::Flow => moves.by_the_velocity(i)?,
            // The flow comes first, then area, velocity and velocity head, all from givens.
            _ => moves.by_the_flow(i)?,
        }
        moves.factor(i)?;
    }
    moves.heads()?;
    moves.machines()?;
    moves.solved_for()?;
    moves.nominal()?;
    moves.coefficients()?;
    moves.points()?;
    moves.ratio()?;
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

struct Moves<'w, 'a> {
    work: &'w Work<'a>,
    corners: &'w [&'w Outcome],
    all: bool,
    found: Vec<Moved>,
}

/// A number to be worked together with others: how it stands among the shares, and the case with it taken for so many
/// times as much.
struct Sought<'t> {
    before: usize,
    after: usize,
    name: Option<Name>,
    turned: &'t dyn Fn(f64) -> Result<Outcome, SolveError>,
}

impl Moves<'_, '_> {
    /// Adds numbers that are worked together; those that nobody is off by are left out.
    fn known(&mut self, lots: [Vec<Place>; 3], sought: &[Sought<'_>]) -> Result<(), SolveError> {
        let mut numbers = Vec::new();
        for number in sought {
            let mut span = (0.0_f64, 0.0_f64);
            for (shares, _) in lots.iter().flatten() {
                for by in [shares[number.before], shares[number.after]] {
                    span = (span.0.min(by), span.1.max(by));
                }
            }
            if span == (0.0, 0.0) {
                continue;
            }
            // Both sides are tried, as far as the farther one goes.
            let far = span.1.max(-span.0);
            numbers.push(Number {
                before: number.before,
                after: number.after,
                name: number.name,
                tried: [(-far, (number.turned)(-far)?), (far, (number.turned)(far)?)],
            });
        }
        if !numbers.is_empty() {
            self.found.push(Moved::Known { numbers, lots });
        }
        Ok(())
    }

    /// Adds a number that is known by itself, `value` in a unit; as often as not if it need not be written down.
    fn known_alone(
        &mut self,
        (value, unit): (f64, f64),
        always: bool,
        turned: &dyn Fn(f64) -> Result<Outcome, SolveError>,
    ) -> Result<(), SolveError> {
        if value == 0.0 || !value.is_finite() {
            return Ok(());
        }
        let lots = HABITS.map(|habit| {
            let mut lot = Vec::new();
            for (kept, share) in habit.keep(value, unit) {
                let mut place = [0.0; TOGETHER];
                place[0] = kept / value - 1.0;
                lot.push((place, if always { share } else { WRITE_DOWN * share }));
            }
            if !always {
                lot.push(([0.0; TOGETHER], 1.0 - WRITE_DOWN));
            }
            lot
        });
        self.known(
            lots,
            &[Sought {
                before: 0,
                after: 0,
                name: None,
                turned,
            }],
        )
    }

    /// A number of no name that hangs on a reading.
    fn free(
        &mut self,
        half: Half,
        written: f64,
        turned: &dyn Fn(f64) -> Result<Outcome, SolveError>,
    ) -> Result<(), SolveError> {
        self.free_of(None, half, written, turned)
    }

    /// A result that hangs on a reading.
    fn free_of(
        &mut self,
        of: Option<Name>,
        half: Half,
        written: f64,
        turned: &dyn Fn(f64) -> Result<Outcome, SolveError>,
    ) -> Result<(), SolveError> {
        if self.all && half.share > 0.0 {
            self.found.push(Moved::Free {
                ends: [turned(-half.share)?, turned(half.share)?],
                large: half.large,
                written,
                handed_in: false,
                of,
                asked: None,
            });
        }
        Ok(())
    }

    /// Half a unit of a number that readings move between some values.
    fn half(&self, of: impl Fn(&Outcome) -> f64) -> Half {
        let value = of(&self.work.base);
        if value == 0.0 || !value.is_finite() {
            return Half {
                share: 0.0,
                large: 0.0,
            };
        }
        let (mut low, mut high) = (value.abs(), value.abs());
        for corner in self.corners {
            let value = of(corner).abs();
            if value.is_finite() {
                (low, high) = (low.min(value), high.max(value));
            }
        }
        half_between(value, (low, high))
    }

    /// What is asked, in the unit asked.
    fn in_asked(&self, n: usize, outcome: &Outcome) -> f64 {
        let (_, formula, unit) = self.work.asked[n];
        let value = self.work.value(formula, outcome, None);
        value.map_or(f64::NAN, |value| value.value / unit)
    }

    /// Half a unit of a result, in the unit in which it is written down.
    fn half_of(&self, name: Name) -> Half {
        match self.work.asked.iter().position(|(asked, ..)| *asked == name) {
            Some(n) => self.half(|outcome| self.in_asked(n, outcome)),
            None => {
                let unit = self.work.units(exponent(name))[0];
                self.half(|outcome| outcome.get(name) / unit)
            }
        }
    }

    fn is_asked(&self, name: Name) -> bool {
        self.work.asked.iter().any(|(asked, ..)| *asked == name)
    }

    /// The share of students who write a number down: all where it is asked.
    fn writing(&self, name: Name) -> f64 {
        if self.is_asked(name) { 1.0 } else { WRITE_DOWN }
    }

    /// Bore, area, velocity, Reynolds number, all hanging on a reading.
    fn by_the_bore(&mut self, i: usize) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let pipe = &base.state.pipes[i];
        let own = |of: Of| Name::Pipe(of, i);
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
        let area = self.half_of(own(Of::Area));
        self.free_of(Some(own(Of::Area)), area, 1.0, &|by| follows(by, true))?;
        let velocity = self.half_of(own(Of::Velocity));
        self.free_of(Some(own(Of::Velocity)), velocity, 1.0, &|by| follows(-by, false))?;
        self.viscosity(i)
    }

    /// Area and viscosity; the velocity hangs on a reading, but in laminar flow.
    fn by_the_velocity(&mut self, i: usize) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let area = (base.get(Name::Pipe(Of::Area, i)), work.units(2)[0]);
        if self.solves_for_flow() {
            // The area stands in what is solved for the flow.
            self.known_alone(area, true, &|by| {
                let mut turn: Turn = work.straight();
                turn.velocity_head[i] = 1.0 / ((1.0 + by) * (1.0 + by));
                work.turn(&turn)
            })?;
        } else {
            self.known_alone(area, true, &|by| {
                let mut outcome = base.clone();
                outcome.put(Name::Whole(Whole::Flow), base.state.flow * (1.0 + by));
                Ok(outcome)
            })?;
        }
        self.viscosity(i)
    }

    /// Whether the flow itself is what the energy equation is solved for, as with a pump's curve, and not a velocity.
    fn solves_for_flow(&self) -> bool {
        self.work.problem.unknown == Unknown::Flow && to_spend(&self.work.base).1 != 0.0
    }

    /// The kinematic viscosity, which some go by without.
    fn viscosity(&mut self, i: usize) -> Result<(), SolveError> {
        let base = &self.work.base;
        let pipe = &base.state.pipes[i];
        let own = |of: Of| Name::Pipe(of, i);
        let laminar = pipe.regime == Regime::Laminar;
        let nu = base.get(Name::Whole(Whole::KinematicViscosity));
        self.known_alone((nu, self.work.units(2)[0]), false, &|by| {
            let mut outcome = base.clone();
            outcome.put(own(Of::Reynolds), pipe.reynolds / (1.0 + by));
            if laminar {
                outcome.put(own(Of::Friction), pipe.darcy_friction_factor * (1.0 + by));
            }
            Ok(outcome)
        })?;
        if laminar {
            // 64/Re, from a Reynolds number that is written down.
            self.known_alone((pipe.reynolds, 1.0), true, &|by| {
                let mut outcome = base.clone();
                outcome.put(own(Of::Friction), pipe.darcy_friction_factor / (1.0 + by));
                Ok(outcome)
            })?;
        }
        Ok(())
    }

    /// Flow, area, velocity, its head, viscosity, Reynolds number, and in laminar flow the factor: all from givens, one
    /// after another.
    fn by_the_flow(&mut self, i: usize) -> Result<(), SolveError> {
        /// Where they stand among the shares.
        const VELOCITY: (usize, usize) = (0, 1);
        const HEAD: usize = 2;
        const REYNOLDS: (usize, usize) = (3, 4);
        const FACTOR: usize = 5;
        const LOSS: usize = 6;
        let work = self.work;
        let base = &work.base;
        let pipe = &base.state.pipes[i];
        let own = |of: Of| Name::Pipe(of, i);
        let laminar = pipe.regime == Regime::Laminar;
        let units = [0, 1, 2, 3].map(|power| work.units(power)[0]);
        let (area, bore) = (base.get(own(Of::Area)), base.get(own(Of::Diameter)));
        let nu = base.get(Name::Whole(Whole::KinematicViscosity));
        let (velocity, reynolds, factor) = (pipe.velocity, pipe.reynolds, pipe.darcy_friction_factor);
        let head = velocity * velocity / (2.0 * base.path.gravity);
        // A pressure may be had without heads.
        let by_head = if matches!(
            work.problem.unknown,
            Unknown::StartPressure | Unknown::EndPressure
        ) {
            WRITE_DOWN
        } else {
            1.0
        };
        let velocities = |habit: Habit| {
            let mut found = Vec::new();
            let flows = self.flows(habit);
            for (flow, of_flow) in flows {
                for (kept, of_area) in habit.keep(area, units[2]) {
                    let before = velocity * flow / base.state.flow * area / kept;
                    for (after, share) in habit.keep(before, units[1]) {
                        found.push((
                            before / velocity - 1.0,
                            after / velocity - 1.0,
                            of_flow * of_area * share,
                        ));
                    }
                }
            }
            found
        };
        // What is known of the Reynolds number and what follows, from a velocity that is off by so much.
        let numbers = |habit: Habit, off: f64, share: f64, into: &mut Vec<(f64, f64, f64, f64)>| {
            let mut nus: Vec<(f64, f64)> = vec![(nu, 1.0 - WRITE_DOWN)];
            nus.extend(
                habit
                    .keep(nu, units[2])
                    .map(|(kept, share)| (kept, WRITE_DOWN * share)),
            );
            // A circle's bore is given; another section's hydraulic diameter is worked out and written down.
            let bores: Vec<(f64, f64)> = if base.section(i) == Section::ROUND {
                vec![(bore, 1.0)]
            } else {
                habit.keep(bore, units[1]).collect()
            };
            for ((kept, of_nu), (wide, of_bore)) in nus
                .iter()
                .flat_map(|nu| bores.iter().map(move |bore| (*nu, *bore)))
            {
                let before = reynolds * (1.0 + off) * (nu / kept) * (wide / bore);
                for (after, of_reynolds) in habit.keep(before, 1.0) {
                    let of = share * of_nu * of_bore * of_reynolds;
                    let (before, after) = (before / reynolds - 1.0, after / reynolds - 1.0);
                    // The factor acts along L/D.
                    let along = bore / wide;
                    if laminar {
                        let own = factor / (1.0 + after);
                        for (kept, share) in habit.keep(own, 1.0) {
                            into.push((before, after, kept / own * along - 1.0, of * share));
                        }
                    } else {
                        into.push((before, after, along - 1.0, of));
                    }
                }
            }
        };
        let heads = |habit: Habit, off: f64| {
            let square = (1.0 + off) * (1.0 + off);
            let mut all = vec![(square - 1.0, 1.0 - by_head, false)];
            let kept = habit.keep(head * square, units[1]);
            all.extend(kept.map(|(kept, share)| (kept / head - 1.0, by_head * share, true)));
            all
        };
        // In one laminar pipe the loss is known too.
        let lost = self.loss_is_known().then_some(pipe.major_head_loss);
        let losses = |habit: Habit, off: f64, is_head: bool| -> Vec<(f64, f64)> {
            match lost.filter(|_| is_head) {
                Some(lost) => {
                    let before = lost * (1.0 + off);
                    habit
                        .keep(before, units[1])
                        .map(|(kept, share)| (kept / before - 1.0, share))
                        .collect()
                }
                None => vec![(0.0, 1.0)],
            }
        };
        let mut lots: [Vec<Place>; 3] = Default::default();
        // Who mixes has too many ways for all of them: what the viscosity does is independent of what the head does.
        let mut mixed: [Vec<Place>; 3] = Default::default();
        for (h, habit) in HABITS.into_iter().enumerate() {
            for (before, after, share) in velocities(habit) {
                let mut following = Vec::new();
                numbers(habit, after, share, &mut following);
                for (head, of_head, is_head) in heads(habit, after) {
                    if habit == Habit::Mixed && !laminar {
                        lots[h].push(([before, after, head, 0.0, 0.0, 0.0, 0.0], share * of_head));
                        continue;
                    }
                    for number in &following {
                        let off = (1.0 + head) * (1.0 + number.2) / (1.0 + number.1) - 1.0;
                        for (loss, of_loss) in losses(habit, off, is_head) {
                            let place = [before, after, head, number.0, number.1, number.2, loss];
                            lots[h].push((place, number.3 * of_head * of_loss));
                        }
                    }
                }
                if habit == Habit::Mixed && !laminar {
                    mixed[h].extend(
                        following
                            .iter()
                            .map(|n| ([0.0, 0.0, 0.0, n.0, n.1, n.2, 0.0], n.3)),
                    );
                }
            }
        }
        for lot in &mut mixed {
            if lot.is_empty() {
                lot.push(([0.0; TOGETHER], 1.0));
            }
        }
        let put = |name: Name, value: f64| {
            let mut outcome = base.clone();
            outcome.put(name, value);
            Ok(outcome)
        };
        let of_velocity = |by: f64| put(own(Of::Velocity), velocity * (1.0 + by));
        let of_reynolds = |by: f64| put(own(Of::Reynolds), reynolds * (1.0 + by));
        let of_head = |by: f64| {
            let mut turn: Turn = work.straight();
            turn.velocity_head[i] = 1.0 + by;
            work.turn(&turn)
        };
        // The factor that a Reynolds number leads to, and all that hangs on it.
        let of_reading = |by: f64| {
            let mut turn: Turn = work.straight();
            turn.velocity[i] = 1.0 + by;
            turn.velocity_head[i] = 1.0 / ((1.0 + by) * (1.0 + by));
            let mut outcome = work.turn(&turn)?;
            outcome.put(own(Of::Velocity), velocity);
            outcome.put(own(Of::Reynolds), reynolds);
            for name in [Whole::StartVelocity, Whole::EndVelocity].map(Name::Whole) {
                outcome.put(name, base.get(name));
            }
            Ok(outcome)
        };
        let of_factor = |by: f64| moves_factor(work, i, 1.0 + by);
        let of_loss = |by: f64| {
            let mut turn: Turn = work.straight();
            turn.head = -by * pipe.major_head_loss;
            work.turn(&turn)
        };
        let by_velocity = [
            Sought {
                before: LOSS,
                after: LOSS,
                name: None,
                turned: &of_loss,
            },
            Sought {
                before: VELOCITY.0,
                after: VELOCITY.1,
                name: Some(own(Of::Velocity)),
                turned: &of_velocity,
            },
            Sought {
                before: HEAD,
                after: HEAD,
                name: None,
                turned: &of_head,
            },
        ];
        let by_reynolds = || {
            [
                Sought {
                    before: REYNOLDS.0,
                    after: REYNOLDS.1,
                    name: Some(own(Of::Reynolds)),
                    turned: &of_reynolds,
                },
                Sought {
                    before: REYNOLDS.1,
                    after: REYNOLDS.1,
                    name: None,
                    turned: &of_reading,
                },
                Sought {
                    before: FACTOR,
                    after: FACTOR,
                    name: None,
                    turned: &of_factor,
                },
            ]
        };
        self.known(
            lots,
            &by_velocity.into_iter().chain(by_reynolds()).collect::<Vec<_>>(),
        )?;
        self.known(mixed, &by_reynolds())
    }

    /// Whether all that is lost is lost in one laminar pipe whose flow is given.
    fn loss_is_known(&self) -> bool {
        let base = &self.work.base;
        let laminar = base.state.pipes.len() == 1 && base.state.pipes[0].regime == Regime::Laminar;
        laminar
            && base.get(Name::Whole(Whole::MinorLoss)) == 0.0
            && self.work.problem.unknown != Unknown::Flow
    }

    /// A factor that is read, and the term that it makes.
    fn factor(&mut self, i: usize) -> Result<(), SolveError> {
        let work = self.work;
        let pipe = &work.base.state.pipes[i];
        if pipe.regime == Regime::Laminar {
            return Ok(());
        }
        let own = |of: Of| Name::Pipe(of, i);
        let factor = self.half_of(own(Of::Friction));
        self.free_of(Some(own(Of::Friction)), factor, 1.0, &|by| {
            moves_factor(work, i, 1.0 + by)
        })?;
        if spends(work.problem.unknown) && !matches!(work.problem.unknown, Unknown::Diameter(_)) {
            // `f L/D` with the coefficients beside it.
            let losses: f64 = self.losses_of(i);
            let sum = |outcome: &Outcome| {
                outcome.get(own(Of::Friction)) * outcome.get(own(Of::Length)) / outcome.get(own(Of::Diameter))
                    + losses
            };
            let term = sum(&work.base) - losses;
            let mut half = self.half(sum);
            half.share *= (term + losses) / term;
            self.free(half, 1.0, &|by| moves_factor(work, i, 1.0 + by))?;
        }
        Ok(())
    }

    /// The coefficients that stand beside a pipe's friction.
    fn losses_of(&self, i: usize) -> f64 {
        let mut losses = self.work.base.state.loss_coefficients.iter();
        let mut sum = 0.0;
        for element in &self.work.problem.path.elements {
            if let Element::Loss { pipe, .. } = element {
                let k = losses.next().copied().unwrap_or(0.0);
                if *pipe == i && k.is_finite() {
                    sum += k;
                }
            }
        }
        sum
    }

    /// Heads: pressures as heads, losses, and their sums.
    fn heads(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let unit = work.units(1)[0];
        let (start, end) = (&base.state.start, &base.state.end);
        let gravity = base.path.gravity;
        let weight = base.path.density * gravity;
        let shifted = |head: f64| {
            let mut turn = work.straight();
            turn.head = head;
            work.turn(&turn)
        };
        let unknown = work.problem.unknown;
        let spends = spends(unknown);
        // The given pressures as one head; one that is not given is had from the heads, and is not one of them.
        let mut pressure = 0.0;
        for (name, given, sign) in [
            (Whole::StartPressure, start.pressure, 1.0),
            (Whole::EndPressure, end.pressure, -1.0),
        ] {
            if !work.worked_out(Name::Whole(name)) {
                pressure += sign * given / weight;
            }
        }
        // A pipe's velocity head is rounded with the pipe.
        let flow_known = unknown != Unknown::Flow;
        let mut given = vec![pressure];
        let mut free: Vec<(OfOutcome, f64)> = Vec::new();
        for (station, sign, of) in [
            (
                &base.path.start,
                1.0,
                (|o: &Outcome| o.state.start.velocity) as OfOutcome,
            ),
            (&base.path.end, -1.0, |o: &Outcome| o.state.end.velocity),
        ] {
            let velocity = of(base);
            if station.velocity != StationVelocity::Pipe && velocity != 0.0 {
                if flow_known || matches!(station.velocity, StationVelocity::Value(_)) {
                    given.push(sign * velocity * velocity / (2.0 * gravity));
                } else {
                    free.push((of, sign));
                }
            }
        }
        for (of, sign) in free {
            let head = |outcome: &Outcome| of(outcome) * of(outcome) / (2.0 * gravity);
            let size = sign * head(base);
            let half = self.half(head);
            self.free(half, 1.0, &|by| shifted(by * size))?;
        }
        given.retain(|head| *head != 0.0);
        if spends {
            return self.head_to_spend(&given);
        }
        for head in &given {
            self.known_alone((*head, unit), true, &|by| shifted(by * head))?;
        }
        self.losses()?;
        // A difference of pressures that is asked for is written down before the pressure that follows from it.
        for (n, (name, formula, _)) in work.asked.iter().enumerate() {
            let pressure = matches!(name, Name::Whole(Whole::StartPressure | Whole::EndPressure));
            if pressure && !matches!(formula, Expr::Symbol(_)) {
                let value = base.get(*name);
                let size = self.in_asked(n, base).abs() * work.asked[n].2;
                let half = self.half(|outcome| self.in_asked(n, outcome));
                if self.all && half.share > 0.0 {
                    let ends = [-half.share, half.share].map(|by| {
                        let mut outcome = base.clone();
                        outcome.put(*name, value + by * size);
                        outcome
                    });
                    self.found.push(Moved::Free {
                        ends,
                        large: half.large,
                        written: 1.0,
                        handed_in: false,
                        of: None,
                        asked: Some(n),
                    });
                }
            }
        }
        Ok(())
    }

    /// All that there is to spend, which is written down as one head where it is asked, and else as often as not.
    fn head_to_spend(&mut self, given: &[f64]) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let unit = work.units(1)[0];
        let (spent, machines) = to_spend(base);
        let names = [Name::Whole(Whole::AllLoss), Name::Pipe(Of::HeadLoss, 0)];
        let asked = names.iter().any(|name| self.is_asked(*name));
        let shifted = |head: f64| {
            let mut turn = work.straight();
            turn.head = head;
            let mut outcome = work.turn(&turn)?;
            keep_spent(work, &mut outcome);
            Ok(outcome)
        };
        if machines != 0.0 {
            for head in given {
                self.known_alone((*head, unit), true, &|by| {
                    let mut turn = work.straight();
                    turn.head = by * head;
                    work.turn(&turn)
                })?;
            }
            return Ok(());
        }
        if given.is_empty() {
            return Ok(());
        }
        let alone = given.len() == 1 && (given[0] / spent - 1.0).abs() < 1e-12;
        let lots = HABITS.map(|habit| {
            let mut sums = vec![(spent, 1.0)];
            for head in given {
                sums = (sums.iter())
                    .flat_map(|(sum, share)| {
                        habit
                            .keep(*head, unit)
                            .map(move |(kept, of)| (sum + kept - head, share * of))
                    })
                    .collect();
            }
            let mut lot: Vec<Place> = Vec::new();
            for (sum, share) in sums {
                let mut place = |after: f64, share: f64| {
                    let mut at = [0.0; TOGETHER];
                    (at[0], at[1]) = (sum / spent - 1.0, after / spent - 1.0);
                    lot.push((at, share));
                };
                let written = if alone {
                    0.0
                } else if asked {
                    1.0
                } else {
                    WRITE_DOWN
                };
                if written < 1.0 {
                    place(sum, share * (1.0 - written));
                }
                if written > 0.0 {
                    for (kept, of) in habit.keep(sum, unit) {
                        place(kept, share * of * written);
                    }
                }
            }
            lot
        });
        // Where nothing else is lost it is what the losses come to.
        let known = spent_is_known(base, work.problem.unknown);
        let own = |by: f64| {
            let mut outcome = base.clone();
            if known {
                outcome.put(names[0], spent * (1.0 + by));
                if base.state.pipes.len() == 1 && base.get(Name::Whole(Whole::MinorLoss)) == 0.0 {
                    outcome.put(names[1], spent * (1.0 + by));
                }
            }
            Ok(outcome)
        };
        let follows = |by: f64| shifted(by * spent);
        self.known(
            lots,
            &[
                Sought {
                    before: 0,
                    after: 1,
                    name: Some(names[0]),
                    turned: &own,
                },
                Sought {
                    before: 1,
                    after: 1,
                    name: None,
                    turned: &follows,
                },
            ],
        )
    }

    /// A flow sought that is laminar: head, velocity, area, flow, Reynolds number and factor, all from givens, one after another.
    fn laminar_flow(&mut self) -> Result<(), SolveError> {
        /// Where they stand among the shares.
        const HEAD: usize = 0;
        const VELOCITY: usize = 1;
        const AFTER: usize = 2;
        const FLOW: usize = 3;
        const REYNOLDS: usize = 4;
        const FACTOR: usize = 5;
        let work = self.work;
        let base = &work.base;
        let pipe = &base.state.pipes[0];
        let own = |of: Of| Name::Pipe(of, 0);
        let units = [0, 1, 2].map(|power| work.units(power)[0]);
        let weight = base.path.density * base.path.gravity;
        let (start, end) = (&base.state.start, &base.state.end);
        let pressure = (start.pressure - end.pressure) / weight;
        let (spent, _) = to_spend(base);
        let (velocity, reynolds) = (pipe.velocity, pipe.reynolds);
        let area = base.get(own(Of::Area));
        let nu = base.get(Name::Whole(Whole::KinematicViscosity));
        // By how many times the head's share the velocity is off.
        const STEP: f64 = 1e-3;
        let mut turn = work.straight();
        turn.head = STEP * spent;
        let follows = (work.turn(&turn)?.get(own(Of::Velocity)) / velocity - 1.0) / STEP;
        let is_asked = self.is_asked(own(Of::HeadLoss)) || self.is_asked(Name::Whole(Whole::AllLoss));
        let alone = (pressure / spent - 1.0).abs() < 1e-12;
        let lots = HABITS.map(|habit| {
            let mut lot: Vec<Place> = Vec::new();
            for (kept, of_pressure) in habit.keep(pressure, units[1]) {
                let head = spent + kept - pressure;
                let mut heads: Vec<(f64, f64)> = Vec::new();
                let written = match (alone, is_asked) {
                    (true, _) => 0.0,
                    (_, true) => 1.0,
                    _ => WRITE_DOWN,
                };
                heads.push((head, 1.0 - written));
                heads.extend(
                    habit
                        .keep(head, units[1])
                        .map(|(kept, share)| (kept, written * share)),
                );
                for (used, of_head) in heads.into_iter().filter(|(_, share)| *share > 0.0) {
                    let before = velocity * (1.0 + follows * (used / spent - 1.0));
                    for (after, of_velocity) in habit.keep(before, units[1]) {
                        let share = of_pressure * of_head * of_velocity;
                        let (head, before, off) = (
                            head / spent - 1.0,
                            before / velocity - 1.0,
                            after / velocity - 1.0,
                        );
                        if habit == Habit::Mixed {
                            lot.push(([head, before, off, off, off, -off / (1.0 + off), 0.0], share));
                            continue;
                        }
                        for (kept, of_area) in habit.keep(area, units[2]) {
                            let flow = (1.0 + off) * kept / area - 1.0;
                            let nus = habit.keep(nu, units[2]);
                            for (used, of_nu) in [(nu, 1.0 - WRITE_DOWN)]
                                .into_iter()
                                .chain(nus.map(|(kept, share)| (kept, WRITE_DOWN * share)))
                            {
                                let number = reynolds * (1.0 + off) * nu / used;
                                for (kept, of_number) in habit.keep(number, 1.0) {
                                    let places = [
                                        head,
                                        before,
                                        off,
                                        flow,
                                        number / reynolds - 1.0,
                                        reynolds / kept - 1.0,
                                        0.0,
                                    ];
                                    lot.push((places, share * of_area * of_nu * of_number));
                                }
                            }
                        }
                    }
                }
            }
            lot
        });
        let put = |name: Name| {
            let value = base.get(name);
            move |by: f64| {
                let mut outcome = base.clone();
                outcome.put(name, value * (1.0 + by));
                Ok(outcome)
            }
        };
        let lost = |by: f64| {
            let mut outcome = base.clone();
            for name in [own(Of::HeadLoss), Name::Whole(Whole::AllLoss)] {
                outcome.put(name, base.get(name) * (1.0 + by));
            }
            Ok(outcome)
        };
        let (of_velocity, of_flow) = (put(own(Of::Velocity)), put(Name::Whole(Whole::Flow)));
        let (of_reynolds, of_factor) = (put(own(Of::Reynolds)), put(own(Of::Friction)));
        let number = |before: usize, after: usize, name: Name| (before, after, Some(name));
        let sought = |(before, after, name): (usize, usize, Option<Name>), turned| Sought {
            before,
            after,
            name,
            turned,
        };
        self.known(
            lots,
            &[
                sought(number(HEAD, HEAD, own(Of::HeadLoss)), &lost),
                sought(number(VELOCITY, AFTER, own(Of::Velocity)), &of_velocity),
                sought(number(FLOW, FLOW, Name::Whole(Whole::Flow)), &of_flow),
                sought(number(REYNOLDS, REYNOLDS, own(Of::Reynolds)), &of_reynolds),
                sought(number(FACTOR, FACTOR, own(Of::Friction)), &of_factor),
            ],
        )?;
        // Who mixes: the area, and viscosity with Reynolds number, beside them.
        let at = |place: usize, by: f64| {
            let mut at = [0.0; TOGETHER];
            at[place] = by;
            at
        };
        let mut areas: [Vec<Place>; 3] = std::array::from_fn(|_| vec![([0.0; TOGETHER], 1.0)]);
        areas[2] = (Habit::Mixed.keep(area, units[2]))
            .map(|(kept, share)| (at(FLOW, kept / area - 1.0), share))
            .collect();
        self.known(
            areas,
            &[sought(number(FLOW, FLOW, Name::Whole(Whole::Flow)), &of_flow)],
        )?;
        let mut numbers: [Vec<Place>; 3] = std::array::from_fn(|_| vec![([0.0; TOGETHER], 1.0)]);
        numbers[2].clear();
        for (used, of_nu) in [(nu, 1.0 - WRITE_DOWN)].into_iter().chain(
            Habit::Mixed
                .keep(nu, units[2])
                .map(|(kept, share)| (kept, WRITE_DOWN * share)),
        ) {
            let number = reynolds * nu / used;
            for (kept, share) in Habit::Mixed.keep(number, 1.0) {
                let mut places = at(REYNOLDS, number / reynolds - 1.0);
                places[FACTOR] = reynolds / kept - 1.0;
                numbers[2].push((places, of_nu * share));
            }
        }
        self.known(
            numbers,
            &[
                sought(number(REYNOLDS, REYNOLDS, own(Of::Reynolds)), &of_reynolds),
                sought(number(FACTOR, FACTOR, own(Of::Friction)), &of_factor),
            ],
        )
    }

    /// Coefficients of a change of bore: from areas and their ratio, or from the ratio of bores and its square.
    fn coefficients(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let losses: Vec<(LossLaw, usize)> = (base.path.elements.iter())
            .filter_map(|element| match element {
                Element::Loss { law, pipe, .. } => Some((*law, *pipe)),
                _ => None,
            })
            .collect();
        for (n, (law, own)) in losses.into_iter().enumerate() {
            let name = Name::LossCoefficient(n);
            let Some(wide) = law.wider_pipe() else { continue };
            let value = base.get(name);
            if !work.is_from_givens(name) || value == 0.0 || !value.is_finite() {
                continue;
            }
            let bores = [own, wide].map(|i| base.get(Name::Pipe(Of::Diameter, i)));
            let areas = [own, wide].map(|i| base.get(Name::Pipe(Of::Area, i)));
            let unit = work.units(2)[0];
            let off = |ratio: f64| {
                let of = |ratio: f64| match law {
                    LossLaw::Expansion { .. } => (1.0 - ratio) * (1.0 - ratio),
                    _ => 1.0 - ratio,
                };
                of(ratio) / of(areas[0] / areas[1]) - 1.0
            };
            let lots = HABITS.map(|habit| {
                let mut lot: Vec<Place> = Vec::new();
                let mut add = |ratio: f64, share: f64| {
                    let before = off(ratio);
                    for (kept, of) in habit.keep(value * (1.0 + before), 1.0) {
                        let mut at = [0.0; TOGETHER];
                        (at[0], at[1]) = (before, kept / value - 1.0);
                        lot.push((at, 0.5 * share * of));
                    }
                };
                for (one, of_one) in habit.keep(areas[0], unit) {
                    for (other, of_other) in habit.keep(areas[1], unit) {
                        for (ratio, of) in habit.keep(one / other, 1.0) {
                            add(ratio, of_one * of_other * of);
                        }
                    }
                }
                for (ratio, of_ratio) in habit.keep(bores[0] / bores[1], 1.0) {
                    for (square, of) in habit.keep(ratio * ratio, 1.0) {
                        add(square, of_ratio * of);
                    }
                }
                lot
            });
            let put = |by: f64| {
                let mut outcome = base.clone();
                outcome.put(name, value * (1.0 + by));
                Ok(outcome)
            };
            let turned = |by: f64| {
                let mut problem = work.problem.clone();
                let coefficients = problem
                    .path
                    .elements
                    .iter_mut()
                    .filter_map(|element| match element {
                        Element::Loss { coefficient, .. } => Some(coefficient),
                        _ => None,
                    });
                if let Some(coefficient) = { coefficients }.nth(n) {
                    *coefficient *= 1.0 + by;
                }
                let mut outcome = work.solve(&problem, &vec![Reading::EXACT; work.pipes.count()])?;
                outcome.put(name, value);
                Ok(outcome)
            };
            self.known(
                lots,
                &[
                    Sought {
                        before: 0,
                        after: 1,
                        name: Some(name),
                        turned: &put,
                    },
                    Sought {
                        before: 1,
                        after: 1,
                        name: None,
                        turned: &turned,
                    },
                ],
            )?;
        }
        Ok(())
    }

    /// A pump's speed or impeller is had from its ratio to the one that is known.
    fn ratio(&mut self) -> Result<(), SolveError> {
        let Some((name, ratio)) = ratio_to_the_known(self.work) else {
            return Ok(());
        };
        let base = &self.work.base;
        let (value, unit) = (base.get(name), base.get(name) / ratio);
        let half = self.half(|outcome| outcome.get(name) / unit);
        self.free(half, 1.0, &|by| {
            let mut outcome = base.clone();
            outcome.put(name, value * (1.0 + by));
            Ok(outcome)
        })
    }

    /// Points on the way: the losses up to one as coefficients and velocity head, and its pressure as a head.
    fn points(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let weight = base.path.density * base.path.gravity;
        for n in 0..base.path.points.len() {
            let [head, pressure, height] =
                [AtPoint::EnergyHead, AtPoint::Pressure, AtPoint::Elevation].map(|at| Name::Point(at, n));
            if !self.is_asked(head) && !self.is_asked(pressure) {
                continue;
            }
            let before = |outcome: &Outcome| {
                let start = &outcome.state.start;
                start.pressure / weight
                    + start.elevation
                    + start.alpha * start.velocity * start.velocity / (2.0 * base.path.gravity)
            };
            let lost = |outcome: &Outcome| before(outcome) - outcome.get(head);
            let at_head = |outcome: &Outcome| outcome.get(pressure) / weight;
            let kinetic = |outcome: &Outcome| outcome.get(head) - outcome.get(height) - at_head(outcome);
            let (size, own) = (lost(base), kinetic(base));
            let put = |head_by: f64, pressure_by: f64| {
                let mut outcome = base.clone();
                outcome.put(pressure, base.get(pressure) + weight * pressure_by);
                outcome.put(head, base.get(head) + head_by);
                Ok(outcome)
            };
            if own != 0.0 {
                let half = self.half(kinetic);
                self.free(half, 1.0, &|by| put(-by * size, -by * (size + own)))?;
                let half = self.half(|outcome| lost(outcome) / kinetic(outcome));
                self.free(half, 1.0, &|by| put(-by * size, -by * size))?;
            }
            if self.is_asked(head) {
                let shift = self.half(|outcome| outcome.get(head));
                let value = base.get(head);
                self.free_of(Some(head), shift, 1.0, &|by| put(0.0, by * value))?;
            }
            let half = self.half(at_head);
            let value = at_head(base);
            self.free(half, WRITE_DOWN, &|by| put(0.0, by * value))?;
        }
        Ok(())
    }

    /// Losses of a known flow: of each pipe and of the fittings, apart or in one, and their sum.
    fn losses(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let pipes = base.state.pipes.len();
        let minor = base.get(Name::Whole(Whole::MinorLoss));
        let (several, summed) = (pipes > 1, pipes > 1 || minor > 0.0);
        let (all_major, all_minor, all_lost) = (
            Name::Whole(Whole::MajorLoss),
            Name::Whole(Whole::MinorLoss),
            Name::Whole(Whole::AllLoss),
        );
        let loss = |by: f64, major: bool| {
            let mut turn = work.straight();
            turn.head = -by;
            let mut outcome = work.turn(&turn)?;
            if major && several {
                outcome.put(all_major, base.get(all_major) + by);
            }
            if summed {
                outcome.put(all_lost, base.get(all_lost) + by);
            }
            Ok(outcome)
        };
        let by_pressure = matches!(
            work.problem.unknown,
            Unknown::StartPressure | Unknown::EndPressure
        );
        let read = if self.loss_is_known() { 0 } else { pipes };
        for i in 0..read {
            let name = Name::Pipe(Of::HeadLoss, i);
            // Coefficients and friction may be added up before they meet the velocity head, and a pressure may be had without
            // heads.
            let written = match summed && !several || by_pressure {
                true => self.writing(name),
                false => 1.0,
            };
            let size = base.get(name);
            let half = self.half_of(name);
            self.free_of(Some(name), half, written, &|by| loss(by * size, true))?;
        }
        if minor > 0.0 {
            let written = if several { 1.0 } else { self.writing(all_minor) };
            if work.is_from_givens(all_minor) {
                let unit = work.units(1)[0];
                self.losses_apart()?;
                self.known_alone((minor, unit), written == 1.0, &|by| loss(by * minor, false))?;
            } else {
                let half = self.half_of(all_minor);
                self.free(half, written, &|by| loss(by * minor, false))?;
            }
        }
        if summed {
            let size = base.get(all_lost);
            let half = self.half_of(all_lost);
            self.free_of(Some(all_lost), half, self.writing(all_lost), &|by| {
                let mut turn = work.straight();
                turn.head = -by * size;
                work.turn(&turn)
            })?;
        }
        Ok(())
    }

    /// Minor losses of several pipes are had apart before they are added up: each that is asked, and the rest of each pipe.
    fn losses_apart(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        if base.state.pipes.len() == 1 {
            return Ok(());
        }
        let mut apart: Vec<f64> = vec![0.0; base.state.pipes.len()];
        let mut alone = Vec::new();
        let pipes = base.path.elements.iter().filter_map(|element| match element {
            Element::Loss { pipe, .. } => Some(*pipe),
            _ => None,
        });
        for (n, pipe) in pipes.enumerate() {
            let head = base.get(Name::LossHead(n));
            match self.is_asked(Name::LossHead(n)) {
                true => alone.push(head),
                false => apart[pipe] += head,
            }
        }
        let [all_minor, all_lost] = [Whole::MinorLoss, Whole::AllLoss].map(Name::Whole);
        for head in alone.into_iter().chain(apart) {
            self.known_alone((head, work.units(1)[0]), true, &|by| {
                let mut turn = work.straight();
                turn.head = -by * head;
                let mut outcome = work.turn(&turn)?;
                for name in [all_minor, all_lost] {
                    outcome.put(name, base.get(name) + by * head);
                }
                Ok(outcome)
            })?;
        }
        Ok(())
    }

    /// What is had from a machine's head: its power and what follows, and the heads at a pump's inlet; and straight
    /// lines in place of a smooth curve through a pump's points.
    fn machines(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
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
                self.found.push(Moved::Method([base.clone(), outcome]));
            }
        }
        self.powers()?;
        self.inlets()
    }

    /// Each number from a machine's head to a year's cost is had from the nearest before it that is asked, and else from the
    /// head.
    fn powers(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let has = |name: Name| {
            let value = base.get(name);
            value != 0.0 && value.is_finite()
        };
        let first = |base: &'static str| Name::Machine(base, 0);
        let (head, power) = if base.state.pumps.is_empty() {
            (Whole::TurbineHead, Whole::TurbinePower)
        } else {
            (Whole::PumpHead, Whole::PumpPower)
        };
        let chain = [
            Name::Whole(head),
            first("P_f"),
            Name::Whole(power),
            first("P_el"),
            first("E_year"),
            first("cost"),
        ];
        let stated = powers_stated(&work.problem.path);
        let mut before: Option<Name> = None;
        for (place, name) in chain.into_iter().enumerate() {
            // A power that is stated is not had from the head.
            if !has(name) || stated && place < 3 {
                continue;
            }
            if let Some(written) = before {
                let half = self.half_of(written);
                // What follows is had from it, until another is written down.
                let next: Vec<Name> = (chain[place..].iter().copied())
                    .filter(|name| has(*name))
                    .take_while({
                        let mut open = true;
                        move |name| {
                            let now = open;
                            open = open && !work.asked.iter().any(|(asked, ..)| asked == name);
                            now
                        }
                    })
                    .collect();
                let free = |by: f64| {
                    let mut outcome = base.clone();
                    for name in &next {
                        outcome.put(*name, base.get(*name) * (1.0 + by));
                    }
                    // What stands behind them follows by itself, but from the last of them.
                    Ok(outcome)
                };
                self.free_of(Some(written), half, 1.0, &free)?;
                before = None;
            }
            if place == 0 || self.is_asked(name) {
                before = Some(name);
            }
        }
        // An efficiency is read only where it has a curve.
        let eta = first("eta");
        let eta_read = work.problem.path.elements.iter().any(|e| match e {
            Element::Pump(pump) => matches!(pump.efficiency, OverFlow::Curve(_)),
            _ => false,
        });
        if eta_read && has(eta) && has(Name::Whole(power)) && !stated {
            let half = self.half(|outcome| outcome.get(eta));
            self.free(half, 1.0, &|by| {
                let mut outcome = base.clone();
                outcome.put(Name::Whole(power), base.get(Name::Whole(power)) * (1.0 + by));
                Ok(outcome)
            })?;
        }
        Ok(())
    }

    /// NPSH is the head of the air, less that of the vapour, less height and losses, each written down.
    fn inlets(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let unit = work.units(1)[0];
        for (i, pump) in base.state.pumps.iter().enumerate() {
            let (Some(available), Some(heads)) = (pump.npsh_available, over_vapour(&base.path)) else {
                continue;
            };
            let name = Name::Machine("NPSH_a", nth_pump(&base.path, i));
            let put = |by: f64| {
                let mut outcome = base.clone();
                outcome.put(name, available + by);
                Ok(outcome)
            };
            let over = heads.0 - heads.1;
            self.known(
                kept_over_vapour(heads, unit),
                &[Sought {
                    before: 0,
                    after: 0,
                    name: None,
                    turned: &|by| put(by * over),
                }],
            )?;
            let lost = |outcome: &Outcome| {
                let pump = outcome.state.pumps.get(i).and_then(|pump| pump.npsh_available);
                over - pump.unwrap_or(available)
            };
            let size = lost(base);
            let half = self.half(lost);
            self.free(half, 1.0, &|by| put(by * size))?;
        }
        Ok(())
    }

    /// A given flow as it is gone on with. One in gallons is turned into cubic feet, which a course's other units need not.
    fn flows(&self, habit: Habit) -> Vec<(f64, f64)> {
        let flow = self.work.base.state.flow;
        if self.work.in_feet {
            habit.keep(flow, FOOT * FOOT * FOOT).collect()
        } else {
            vec![(flow, 1.0)]
        }
    }

    /// A nominal bore and its area are written down before the velocity is had from them.
    fn nominal(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        if base.sized.is_none() {
            return Ok(());
        }
        let of_bore = Name::Size(OfSize::Bore);
        let bore = base.get(of_bore);
        // Where it is asked for it is written down as it is asked.
        let asked = work.asked.iter().find(|(asked, ..)| *asked == of_bore);
        let unit = asked.map_or(work.units(1)[0], |(.., unit)| *unit);
        let name = Name::Size(OfSize::Velocity);
        let velocity = base.get(name);
        let area = |bore: f64| std::f64::consts::FRAC_PI_4 * bore * bore;
        let lots = HABITS.map(|habit| {
            let mut lot: Vec<Place> = Vec::new();
            for (flow, of_flow) in self.flows(habit) {
                for (kept, of_bore) in habit.keep(bore, unit) {
                    for (kept, of_area) in habit.keep(area(kept), work.units(2)[0]) {
                        let mut at = [0.0; TOGETHER];
                        at[0] = flow / base.state.flow * area(bore) / kept - 1.0;
                        lot.push((at, of_flow * of_bore * of_area));
                    }
                }
            }
            lot
        });
        self.known(
            lots,
            &[Sought {
                before: 0,
                after: 0,
                name: Some(name),
                turned: &|by| {
                    let mut outcome = base.clone();
                    outcome.put(name, velocity * (1.0 + by));
                    Ok(outcome)
                },
            }],
        )
    }

    /// What is solved for is written down before more follows from it.
    fn solved_for(&mut self) -> Result<(), SolveError> {
        let work = self.work;
        let base = &work.base;
        let unknown = work.problem.unknown;
        let velocity = Name::Pipe(Of::Velocity, 0);
        let turned = |by: f64| {
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
        };
        match unknown {
            Unknown::Flow if work.is_from_givens(velocity) => {
                self.known_alone((base.get(velocity), work.units(1)[0]), true, &turned)
            }
            Unknown::Flow if self.solves_for_flow() => {
                let name = Name::Whole(Whole::Flow);
                self.free_of(Some(name), self.half_of(name), 1.0, &|by| {
                    let mut outcome = work.unknown_times(1.0 + by)?;
                    outcome.put(name, base.get(name));
                    Ok(outcome)
                })
            }
            Unknown::Flow => {
                let mut most = (
                    Half {
                        share: 0.0,
                        large: 0.0,
                    },
                    velocity,
                );
                for i in 0..base.state.pipes.len() {
                    let name = Name::Pipe(Of::Velocity, i);
                    let half = self.half_of(name);
                    if half.share > most.0.share {
                        most = (half, name);
                    }
                }
                let of = (base.state.pipes.len() == 1).then_some(velocity);
                self.free_of(of, most.0, 1.0, &turned)?;
                // A velocity that is asked for after the flow is had from it.
                let flow = Name::Whole(Whole::Flow);
                let place = |name: Name| work.asked.iter().position(|(asked, ..)| *asked == name);
                match (place(flow), place(velocity)) {
                    (Some(first), Some(second)) if first < second => {
                        self.free_of(Some(flow), self.half_of(flow), 1.0, &|by| {
                            let mut outcome = work.unknown_times(1.0 + by)?;
                            outcome.put(flow, base.get(flow));
                            Ok(outcome)
                        })
                    }
                    _ => Ok(()),
                }
            }
            Unknown::Diameter(i) => {
                let name = Name::Pipe(Of::Diameter, i);
                self.free_of(Some(name), self.half_of(name), 1.0, &turned)
            }
            Unknown::Length(i) => self.free(self.half_of(Name::Pipe(Of::Length, i)), 1.0, &turned),
            Unknown::Roughness(i) => self.free(self.half_of(Name::Pipe(Of::Roughness, i)), 1.0, &turned),
            _ => Ok(()),
        }
    }
}

/// The speed or impeller that is sought, and its ratio to the one for which the pump's curve is known.
pub(super) fn ratio_to_the_known(work: &Work<'_>) -> Option<(Name, f64)> {
    let base = &work.base;
    let (pump, name) = match work.problem.unknown {
        Unknown::PumpSpeed(pump) => (pump, "n"),
        Unknown::PumpTrim(pump) => (pump, "D_P"),
        _ => return None,
    };
    let curve = base.path.pump_curve(pump)?;
    let (now, known) = if name == "n" {
        curve.speeds()
    } else {
        curve.impellers()
    };
    let ratio = now / known;
    let name = Name::Machine(name, nth_pump(&base.path, pump));
    (ratio.is_finite() && ratio != 0.0 && base.get(name).is_finite()).then_some((name, ratio))
}

/// Half a unit of the third figure of a number that lies anywhere between two sizes: the larger, where the third figure
/// changes its place between them.
pub(super) fn half_between(value: f64, (low, high): (f64, f64)) -> Half {
    let share = half_unit(high) / value.abs();
    let decade = decade(high);
    let large = if low < decade && high > low {
        (high - decade) / (high - low)
    } else {
        1.0
    };
    Half { share, large }
}

/// The air's pressure and the vapour's, as heads \[m\].
pub(super) fn over_vapour(path: &Path) -> Option<(f64, f64)> {
    let weight = path.density * path.gravity;
    path.vapour_pressure
        .map(|vapour| (path.atmosphere / weight, vapour / weight))
}

/// By which shares the first head less the second is off, kept as one head or as two, by habit.
pub(super) fn kept_over_vapour((air, vapour): (f64, f64), unit: f64) -> [Vec<Place>; 3] {
    let over = air - vapour;
    HABITS.map(|habit| {
        let mut lot: Vec<Place> = Vec::new();
        let mut place = |kept: f64, share: f64| {
            let mut at = [0.0; TOGETHER];
            at[0] = kept / over - 1.0;
            lot.push((at, share));
        };
        for (kept, share) in habit.keep(over, unit) {
            place(kept, 0.5 * share);
        }
        for (one, of_one) in habit.keep(air, unit) {
            for (other, of_other) in habit.keep(vapour, unit) {
                place(one - other, 0.5 * of_one * of_other);
            }
        }
        lot
    })
}

/// What becomes of a number that is known by itself, by habit.
pub(super) fn known_by_itself(value: f64, unit: f64) -> [Vec<(f64, f64)>; 3] {
    HABITS.map(|habit| habit.keep(value, unit).collect())
}

/// The exponent of length in a result's dimension.
pub(super) fn exponent(name: Name) -> u32 {
    u32::try_from(name.dimension().length / 12).unwrap_or(0)
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
pub(super) fn nth_pump(path: &Path, pump: usize) -> usize {
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
