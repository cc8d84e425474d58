//! Tanks that fill or empty slowly through a path: how long it takes, what level is reached, how wide a pipe is
//! needed.
//!
//! The flow is taken as quasi-steady: at each level it is the flow of the path with its ends at the surfaces of that
//! moment, friction and regime included, and continuity turns it into the speed of the surface,
//! `dh/dt = (inflow ± Q(h))/A(h)`. One level tells all: where two tanks equalise, the other level follows from
//! the volume. So the level moves one way only, and the time between two levels is an integral,
//! `t = ∫ A dh/(inflow ± Q)`, rather than a differential equation stepped through time: its error is
//! estimated and driven down to some 1e-12, the jumps of the friction factor are ends of pieces and not
//! something to step across, and the root of Q where the driving head runs out goes away by `h = h₀ ± u²`. The
//! level after a time is the root of that integral.
//!
//! Where the flow would have to jump from turbulent to laminar, the head falls some way before a laminar flow
//! fits. In between the flow is held at the Reynolds number of the jump, with a friction factor between the two
//! laws', which is all that an equation without memory can say of the critical zone.

mod shape;

pub use shape::Shape;

use super::flow::flow_alone;
use super::friction::{Law, Reading};
use super::path::{Balance, Element, LossLaw, Path, Section, State, square};
use super::quadrature::integral;
use super::regime::{Limits, Regime};
use super::root::crossing;
use super::solve::{self, SolveError, Unknown, solve as solve_path, state};
use crate::constants::policy;

/// A tank at one end of the path.
#[derive(Debug, Clone, PartialEq)]
pub struct Vessel {
    /// Its inside.
    pub shape: Shape,
    /// Elevation of its floor \[m\].
    pub floor: f64,
    /// Level above the floor at the start \[m\].
    pub level: f64,
    /// Gauge pressure above the surface \[Pa\].
    pub pressure: f64,
    /// Level at which it runs over \[m\], where it is known.
    pub brim: Option<f64>,
    /// Elevation of the pipe's mouth \[m\], where that counts: a tank does not empty below it, and a pipe that fills
    /// from above it pours freely.
    pub mouth: Option<f64>,
    /// Constant flow into it from elsewhere \[m³/s\]; negative for a constant draw-off.
    pub inflow: f64,
}

impl Vessel {
    /// The lowest and, where there is one, the highest level \[m\].
    fn range(&self, is_start: bool) -> (f64, Option<f64>) {
        let low = match self.mouth {
            Some(mouth) if is_start => (mouth - self.floor).max(0.0),
            _ => 0.0,
        };
        let high = match (self.brim, self.shape.top()) {
            (Some(brim), Some(top)) => Some(brim.min(top)),
            (brim, top) => brim.or(top),
        };
        (low, high)
    }

    fn surface(&self, level: f64) -> f64 {
        self.floor + level
    }
}

/// When it ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Until {
    /// The followed tank's level above its floor \[m\].
    Level(f64),
    /// Height of the start's surface above the end's \[m\].
    Difference(f64),
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Asked {
    /// The time \[s\] until then.
    Time(Until),
    /// The followed tank's level \[m\] after this time \[s\].
    Level(f64),
    /// The diameter \[m\] of a pipe (its index) with which it takes this time.
    Diameter {
        /// Index among the path's pipes.
        pipe: usize,
        /// When it ends.
        until: Until,
        /// The time \[s\].
        time: f64,
    },
}

/// A path with a tank at one end or at both. The followed tank is that at the start, or else that at the end.
///
/// A tank sets the elevation and the pressure of its station; the station's velocity stays as it is in the path (0
/// at a surface, with the exit loss among the path's).
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// The path; its diameter that is asked for, if one is, may hold anything.
    pub path: Path,
    /// The tank at the start.
    pub start: Option<Vessel>,
    /// The tank at the end.
    pub end: Option<Vessel>,
    /// What is asked.
    pub asked: Asked,
}

/// One moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Moment {
    /// Time since the start \[s\].
    pub time: f64,
    /// The followed tank's level \[m\].
    pub level: f64,
    /// The other tank's level \[m\], where there are two.
    pub other_level: Option<f64>,
    /// How fast the followed tank's volume grows \[m³/s\].
    pub gain: f64,
    /// Everything along the path. Its residual is 0; a pipe held at the jump has the Darcy friction factor that makes
    /// it so.
    pub state: State,
    /// The pipe that is held at the jump between laminar and turbulent flow, if one is.
    pub held: Option<usize>,
}

/// A change of a pipe's regime on the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RegimeChange {
    /// The pipe.
    pub pipe: usize,
    /// When \[s\].
    pub time: f64,
    /// At which level of the followed tank \[m\].
    pub level: f64,
    /// The regime before.
    pub before: Regime,
    /// The regime after.
    pub after: Regime,
}

/// Something about an answer that a person should know.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// A pipe's flow lies in the critical zone for a while.
    CriticalZone {
        /// The pipe.
        pipe: usize,
        /// From when \[s\].
        from: f64,
        /// Until when \[s\].
        to: f64,
        /// From which level of the followed tank \[m\].
        from_level: f64,
        /// To which level \[m\].
        to_level: f64,
    },
    /// The velocity head of a surface is no longer small against the head that drives the flow.
    SurfaceMoves {
        /// The largest share.
        share: f64,
        /// At this level of the followed tank \[m\].
        level: f64,
    },
    /// The head that slows or hastens the liquid in the pipes is no longer small against the head that drives
    /// the flow.
    Inertia {
        /// The largest share.
        share: f64,
        /// At this level of the followed tank \[m\].
        level: f64,
    },
    /// After the asked time the level has settled: what is left of its way is less than a millionth.
    Settled {
        /// There \[m\].
        level: f64,
    },
    /// Something about the path at one moment.
    Path {
        /// When \[s\].
        time: f64,
        /// What.
        warning: solve::Warning,
    },
}

/// Where the level's way ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stop {
    /// The followed tank is full.
    Full,
    /// The followed tank is empty, down to its floor or its pipe's mouth.
    Empty,
    /// The other tank is full.
    OtherFull,
    /// Nothing drives the flow any more.
    AtRest,
    /// What flows in flows out.
    InBalance,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// What was asked, SI.
    pub value: f64,
    /// The path, a diameter found put in, its stations as they are at the start.
    pub path: Path,
    /// At the start.
    pub start: Moment,
    /// At the end.
    pub end: Moment,
    /// What is asked, had each Darcy friction factor stayed as it is at the start: the closed form. The time where a
    /// diameter was asked. None where the level would then not be reached.
    pub at_first_factor: Option<f64>,
    /// Changes of regime, in order.
    pub changes: Vec<RegimeChange>,
    /// The level at which it would all come to a stop, and why; None where it can go on for ever.
    pub stop: Option<(f64, Stop)>,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum TankError {
    /// The path has no flow at a level of the followed tank.
    Flow {
        /// The level \[m\].
        level: f64,
        /// Why.
        error: SolveError,
    },
    /// The level moves the other way.
    OtherWay {
        /// Whether it rises.
        rises: bool,
    },
    /// The level does not move at all: what flows in flows out.
    StandsStill,
    /// The way ends before the level that is asked for.
    StopsBefore {
        /// The level at which it stops \[m\].
        level: f64,
        /// Why.
        stop: Stop,
        /// The level asked for \[m\].
        asked: f64,
    },
    /// The level that is asked for is one that is only neared, for ever.
    OnlyNeared {
        /// That level \[m\].
        level: f64,
        /// Why.
        stop: Stop,
    },
    /// The way ends before the time that is asked for.
    EndsBefore {
        /// When \[s\].
        time: f64,
        /// At which level \[m\].
        level: f64,
        /// Why.
        stop: Stop,
    },
    /// No diameter within the range tried makes it this time.
    NoDiameter {
        /// The range tried \[m\].
        tried: (f64, f64),
        /// The times there \[s\]; infinite where the level is never reached.
        times: (f64, f64),
    },
    /// The integral does not settle.
    NotSettled,
    /// A value that can't be.
    Impossible {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
    },
}

/// The share of itself that the time is driven down to.
const AIM: f64 = 1e-12;
/// A time that is off by more than this share of itself is not given.
const ACCEPT: f64 = 1e-8;
/// Levels nearer than this share of the larger one are the same but for rounding.
const SAME: f64 = 1e-12;
/// A level this near to one that it only nears, as a share of the way there, has settled.
const SETTLED: f64 = 1e-6;
/// Diameters tried, from a hair to a room \[m\].
const DIAMETERS: (f64, f64) = (1e-4, 1e2);

/// Solves `problem` with one reading for each pipe.
///
/// Before it is given, a time is put together again from two parts, and a level or a diameter found is put back
/// into the integral.
///
/// # Errors
/// [`TankError`], never a wrong number.
pub fn solve(problem: &Problem, readings: &[Reading], limits: &Limits) -> Result<Solved, TankError> {
    let (run, mut solved) = answered(problem, readings, limits)?;
    run.tell(&mut solved)?;
    Ok(solved)
}

/// The same numbers, without changes of regime and warnings, at a fraction of the cost: for a problem that was solved
/// before and is worked otherwise.
///
/// # Errors
/// [`TankError`], never a wrong number.
pub fn solve_silently(problem: &Problem, readings: &[Reading], limits: &Limits) -> Result<Solved, TankError> {
    answered(problem, readings, limits).map(|(_, solved)| solved)
}

fn answered(problem: &Problem, readings: &[Reading], limits: &Limits) -> Result<(Run, Solved), TankError> {
    match problem.asked {
        Asked::Time(until) => {
            let run = Run::new(problem, readings, limits)?;
            let level = run.level_at(until)?;
            let time = run.time(level)?;
            let frozen = run.at_first_factor().ok().and_then(|run| run.time(level).ok());
            let solved = run.answer(time, time, level, frozen)?;
            Ok((run, solved))
        }
        Asked::Level(time) => {
            let run = Run::new(problem, readings, limits)?;
            let level = run.level_after(time)?;
            let frozen = run
                .at_first_factor()
                .ok()
                .and_then(|run| run.level_after(time).ok());
            let solved = run.answer(level, time, level, frozen)?;
            Ok((run, solved))
        }
        Asked::Diameter { pipe, until, time } => {
            let diameter = diameter(problem, pipe, until, time, readings, limits)?;
            let run = Run::new(&with_diameter(problem, pipe, diameter)?, readings, limits)?;
            let level = run.level_at(until)?;
            let found = run.time(level)?;
            if (found / time - 1.0).abs() > ACCEPT {
                // The time itself jumps there: two regimes, and none of them takes just so long.
                return Err(TankError::NoDiameter {
                    tried: (diameter, diameter),
                    times: (found, found),
                });
            }
            let frozen = run.at_first_factor().ok().and_then(|run| run.time(level).ok());
            let solved = run.answer(diameter, found, level, frozen)?;
            Ok((run, solved))
        }
    }
}

fn with_diameter(problem: &Problem, pipe: usize, diameter: f64) -> Result<Problem, TankError> {
    let mut trial = problem.clone();
    trial
        .path
        .pipe_mut(pipe)
        .ok_or(TankError::Impossible {
            what: "number of the unknown's pipe",
            value: pipe as f64,
        })?
        .diameter = diameter;
    Ok(trial)
}

/// The diameter with which it takes a time. The wider the pipe, the shorter the time.
fn diameter(
    problem: &Problem,
    pipe: usize,
    until: Until,
    time: f64,
    readings: &[Reading],
    limits: &Limits,
) -> Result<f64, TankError> {
    if !(time > 0.0 && time.is_finite()) {
        return Err(TankError::Impossible {
            what: "time",
            value: time,
        });
    }
    // A pipe too narrow to reach the level at all takes for ever.
    let time_with = |diameter: f64| -> Result<f64, TankError> {
        let found = Run::new(&with_diameter(problem, pipe, diameter)?, readings, limits)
            .and_then(|run| run.time(run.level_at(until)?));
        match found {
            Err(
                TankError::StopsBefore {
                    stop: Stop::InBalance,
                    ..
                }
                | TankError::OnlyNeared {
                    stop: Stop::InBalance,
                    ..
                }
                | TankError::OtherWay { .. }
                | TankError::StandsStill,
            ) => Ok(f64::INFINITY),
            other => other,
        }
    };
    let roughness = with_diameter(problem, pipe, 1.0)?
        .path
        .pipe_mut(pipe)
        .map_or(0.0, |p| p.roughness);
    let tried = (
        DIAMETERS.0.max(roughness / policy::RELATIVE_ROUGHNESS_END),
        DIAMETERS.1,
    );
    // From a middling bore outwards, so that what can't be told of absurd ones is not asked.
    let (mut low, mut high) = (
        (0.05_f64).clamp(tried.0, tried.1),
        (0.05_f64).clamp(tried.0, tried.1),
    );
    let (mut at_low, mut at_high) = (time_with(low)?, time_with(high)?);
    while at_low < time && low > tried.0 {
        low = (0.5 * low).max(tried.0);
        at_low = time_with(low)?;
    }
    while at_high > time && high < tried.1 {
        high = (2.0 * high).min(tried.1);
        at_high = time_with(high)?;
    }
    if !(at_low >= time && at_high <= time) {
        return Err(TankError::NoDiameter {
            tried,
            times: (at_low, at_high),
        });
    }
    // 1/t is finite at either end, and nearly a power of the diameter.
    let mut fault = None;
    let found = crossing(
        |log| match time_with(libm::exp(log)) {
            Ok(at) => time / at - 1.0,
            Err(error) => {
                fault.get_or_insert(error);
                0.0
            }
        },
        libm::log(low),
        libm::log(high),
    );
    fault.map_or(Ok(libm::exp(found)), Err)
}

/// What flows at a level.
struct Flowing {
    state: State,
    held: Option<usize>,
    warnings: Vec<solve::Warning>,
}

/// A problem ready to be asked for flows and times at levels of the followed tank.
#[derive(Debug, Clone)]
pub struct Run {
    path: Path,
    start: Option<Vessel>,
    end: Option<Vessel>,
    readings: Vec<Reading>,
    limits: Limits,
    first_level: f64,
    rises: bool,
    /// The level at which nothing drives the flow, and whether it is within the tank. Outside, it only smooths.
    rest: Option<(f64, bool)>,
    stop: Option<(f64, Stop)>,
    /// Levels at which the integrand bends or jumps, in the order of the level's way.
    bends: Vec<f64>,
    /// What the flow hangs on beside the level, once it is known to be possible.
    balance: Option<Balance>,
}

impl Run {
    /// Checks a problem and finds which way its level goes and how far.
    ///
    /// # Errors
    /// [`TankError`].
    pub fn new(problem: &Problem, readings: &[Reading], limits: &Limits) -> Result<Self, TankError> {
        let mut run = Self {
            path: problem.path.clone(),
            start: problem.start.clone(),
            end: problem.end.clone(),
            readings: readings.to_vec(),
            limits: *limits,
            first_level: f64::NAN,
            rises: false,
            rest: None,
            stop: None,
            bends: Vec::new(),
            balance: None,
        };
        run.check()?;
        run.first_level = run.followed().level;
        run.path = run.path_at(run.first_level)?;
        let gain = run.gain(run.first_level)?;
        run.balance = Some(Balance::new(&run.path, readings));
        if gain == 0.0 {
            return Err(TankError::StandsStill);
        }
        run.rises = gain > 0.0;
        let wall = run.wall();
        run.rest = run.find_rest(wall.map(|w| w.0))?;
        run.stop = run.find_stop(wall)?;
        run.bends = run.find_bends()?;
        Ok(run)
    }

    fn check(&self) -> Result<(), TankError> {
        let ensure = |good: bool, what: &'static str, value: f64| {
            if good {
                Ok(())
            } else {
                Err(TankError::Impossible { what, value })
            }
        };
        ensure(self.start.is_some() || self.end.is_some(), "number of tanks", 0.0)?;
        let both = self.start.is_some() && self.end.is_some();
        for (vessel, is_start) in [(&self.start, true), (&self.end, false)] {
            let Some(vessel) = vessel else { continue };
            if let Some((what, value)) = vessel.shape.fault() {
                return Err(TankError::Impossible { what, value });
            }
            ensure(
                vessel.floor.is_finite(),
                "elevation of a tank's floor",
                vessel.floor,
            )?;
            ensure(vessel.pressure.is_finite(), "pressure in a tank", vessel.pressure)?;
            if let Some(brim) = vessel.brim {
                ensure(brim > 0.0 && brim.is_finite(), "height of a tank", brim)?;
            }
            if let Some(mouth) = vessel.mouth {
                ensure(mouth.is_finite(), "elevation of a pipe's mouth", mouth)?;
            }
            let (low, high) = vessel.range(is_start);
            ensure(
                vessel.level >= low
                    && vessel.level.is_finite()
                    && high.is_none_or(|high| vessel.level <= high),
                "level in a tank at the start",
                vessel.level,
            )?;
            // The other level follows from the volume only where nothing is added.
            ensure(
                vessel.inflow.is_finite() && (!both || vessel.inflow == 0.0),
                "flow into one of two tanks",
                vessel.inflow,
            )?;
        }
        Ok(())
    }

    /// The tank whose level is followed.
    pub fn followed(&self) -> &Vessel {
        self.start
            .as_ref()
            .or(self.end.as_ref())
            .expect("a run is only made with a tank")
    }

    /// The other tank, where there are two.
    pub fn other(&self) -> Option<&Vessel> {
        self.start.as_ref().and(self.end.as_ref())
    }

    /// Whether the level rises.
    pub fn rises(&self) -> bool {
        self.rises
    }

    /// The other tank's level at a level of the followed one \[m\]: what left this one is there.
    fn other_level(&self, level: f64) -> Result<Option<f64>, TankError> {
        let Some(other) = self.other() else {
            return Ok(None);
        };
        let followed = self.followed();
        let moved = followed.shape.volume(self.first_level) - followed.shape.volume(level);
        let found = other.shape.level(other.shape.volume(other.level) + moved);
        found.map(Some).ok_or(TankError::Impossible {
            what: "volume moved between two tanks",
            value: moved,
        })
    }

    /// Height of the start's surface over the end's, or over a mouth above it \[m\].
    fn rise(&self, level: f64, over_mouth: bool) -> Result<f64, TankError> {
        let (start, end) = self.elevations(level, over_mouth)?;
        Ok(start - end)
    }

    fn elevations(&self, level: f64, over_mouth: bool) -> Result<(f64, f64), TankError> {
        let start = self
            .start
            .as_ref()
            .map_or(self.path.start.elevation, |v| v.surface(level));
        let end = match &self.end {
            None => self.path.end.elevation,
            Some(vessel) => {
                let surface = vessel.surface(self.other_level(level)?.unwrap_or(level));
                match vessel.mouth {
                    Some(mouth) if over_mouth => surface.max(mouth),
                    _ => surface,
                }
            }
        };
        Ok((start, end))
    }

    /// The path with its stations at the surfaces of a level.
    fn path_at(&self, level: f64) -> Result<Path, TankError> {
        let (start, end) = self.elevations(level, true)?;
        let mut path = self.path.clone();
        (path.start.elevation, path.end.elevation) = (start, end);
        if let Some(vessel) = &self.start {
            path.start.pressure = vessel.pressure;
        }
        if let Some(vessel) = &self.end {
            path.end.pressure = vessel.pressure;
        }
        Ok(path)
    }

    fn state(&self, path: &Path, flow: f64) -> Result<State, SolveError> {
        state(path, flow, &self.readings, &self.limits)
    }

    /// The flow along the path at a level.
    fn flowing(&self, level: f64) -> Result<Flowing, TankError> {
        let problem = solve::Problem {
            path: self.path_at(level)?,
            flow: f64::NAN,
            unknown: Unknown::Flow,
        };
        match solve_path(&problem, &self.readings, &self.limits) {
            Ok(solved) => Ok(Flowing {
                state: solved.state,
                held: None,
                warnings: solved.warnings,
            }),
            Err(SolveError::OnlyAtJump { pipe, .. }) => self
                .at_jump(&problem.path, pipe)
                .map_err(|error| TankError::Flow { level, error }),
            Err(error) => Err(TankError::Flow { level, error }),
        }
    }

    /// The flow held at a pipe's jump, with the friction factor there that takes what is left.
    fn at_jump(&self, path: &Path, pipe: usize) -> Result<Flowing, SolveError> {
        let flow = self.jump_flow(path, pipe, true);
        let mut readings = self.readings.clone();
        let mut at_factor = |darcy_friction_factor: f64| {
            readings[pipe] = Reading {
                law: Law::Fixed(darcy_friction_factor),
                factor: 1.0,
            };
            state(path, flow, &readings, &self.limits)
        };
        let turbulent = self.state(path, flow)?;
        let factor = turbulent.pipes[pipe].darcy_friction_factor;
        // What is left over is straight in the factor.
        let slope = (turbulent.residual - at_factor(2.0 * factor)?.residual) / factor;
        Ok(Flowing {
            state: at_factor(factor + turbulent.residual / slope)?,
            held: Some(pipe),
            warnings: Vec::new(),
        })
    }

    /// The flow at which a pipe stops or begins to be laminar, a hair on one side of it.
    fn jump_flow(&self, path: &Path, pipe: usize, turbulent: bool) -> f64 {
        let hair = if turbulent {
            1.0 + 4.0 * f64::EPSILON
        } else {
            1.0 - 4.0 * f64::EPSILON
        };
        path.pipe(pipe).map_or(f64::NAN, |pipe| {
            let viscosity = path.dynamic_viscosity / path.density;
            self.limits.laminar_end * viscosity * pipe.area() / pipe.diameter * hair
        })
    }

    /// How fast the followed tank's volume grows at a flow \[m³/s\].
    fn gain_at(&self, flow: f64) -> f64 {
        let inflow = self.followed().inflow;
        if self.start.is_some() {
            inflow - flow
        } else {
            inflow + flow
        }
    }

    fn gain(&self, level: f64) -> Result<f64, TankError> {
        if let Some(mut balance) = self.balance.clone() {
            balance.set_rise(self.rise(level, true)?);
            if let Some(flow) = flow_alone(&balance, &self.limits) {
                return Ok(self.gain_at(flow));
            }
        }
        Ok(self.gain_at(self.flowing(level)?.state.flow))
    }

    /// The level behind which there is no tank, on the level's way.
    fn wall(&self) -> Option<(f64, Stop)> {
        let followed = self.followed();
        let (low, high) = followed.range(self.start.is_some());
        if self.rises {
            return high.map(|high| (high, Stop::Full));
        }
        let full = self.other().and_then(|other| {
            let high = other.range(false).1?;
            let room = other.shape.volume(high) - other.shape.volume(other.level);
            followed.shape.level(followed.shape.volume(followed.level) - room)
        });
        match full {
            Some(level) if level > low => Some((level, Stop::OtherFull)),
            _ => Some((low, Stop::Empty)),
        }
    }

    /// The level at which nothing drives the flow. Where a machine is known by its power there is none.
    fn find_rest(&self, wall: Option<f64>) -> Result<Option<(f64, bool)>, TankError> {
        let Ok(at_rest) = self.state(&self.path, 0.0) else {
            return Ok(None);
        };
        let first = self.first_level;
        let rise_at_rest = self.rise(first, true)? - at_rest.residual;
        let mut far = wall.unwrap_or(first + at_rest.residual.abs().max(1.0));
        let mut left = self.rise(far, true)? - rise_at_rest;
        while wall.is_none() && left > 0.0 {
            // A tank without a brim, filled from above its mouth: the mouth is reached at last.
            far = first + 2.0 * (far - first);
            if far - first > 1e6 {
                return Ok(None);
            }
            left = self.rise(far, true)? - rise_at_rest;
        }
        if far == first {
            return Ok(None);
        }
        // The rise may also grow: a tank that fills faster than it drains.
        if left <= 0.0 {
            return self
                .find_level(|level| Ok(self.rise(level, true)? - rise_at_rest), first, far)
                .map(|level| Some((level, true)));
        }
        let slope = (at_rest.residual - left) / (first - far);
        Ok((slope != 0.0 && slope.is_finite())
            .then(|| (first - at_rest.residual / slope, false))
            // Only from the side of the whole way can it smooth.
            .filter(|(level, _)| (level - first) * (level - far) > 0.0))
    }

    /// The crossing of a function that may fail.
    fn find_level(
        &self,
        f: impl Fn(f64) -> Result<f64, TankError>,
        from: f64,
        to: f64,
    ) -> Result<f64, TankError> {
        let mut fault = None;
        let found = crossing(
            |level| match f(level) {
                Ok(value) => value,
                Err(error) => {
                    fault.get_or_insert(error);
                    0.0
                }
            },
            from,
            to,
        );
        fault.map_or(Ok(found), Err)
    }

    /// Where the level's way ends.
    fn find_stop(&self, wall: Option<(f64, Stop)>) -> Result<Option<(f64, Stop)>, TankError> {
        let first = self.first_level;
        let end = match self.rest {
            Some((level, true)) => Some((level, Stop::AtRest)),
            _ => wall,
        };
        let inflow = self.followed().inflow;
        if inflow == 0.0 {
            return Ok(end);
        }
        // At rest nothing flows through the path; what flows in does.
        let gain = |level: f64| match (self.gain(level), end) {
            (_, Some((at, Stop::AtRest))) if level == at => Ok(inflow),
            (other, _) => other,
        };
        let sign = if self.rises { 1.0 } else { -1.0 };
        let mut far = end.map_or(first + 1.0, |e| e.0);
        while end.is_none() && sign * gain(far)? > 0.0 {
            far = first + 2.0 * (far - first);
            if far - first > 1e6 {
                return Ok(None);
            }
        }
        if far != first && sign * gain(far)? <= 0.0 {
            return Ok(Some((self.find_level(gain, first, far)?, Stop::InBalance)));
        }
        Ok(end)
    }

    /// Whether it takes for ever to get to the stop.
    fn is_endless(&self) -> bool {
        match self.stop {
            Some((_, Stop::InBalance)) => true,
            // Near rest a pipe is laminar: its flow falls with the head, no longer with its root.
            Some((_, Stop::AtRest)) if self.followed().inflow == 0.0 => {
                (0..self.readings.len()).any(|pipe| self.can_jump(pipe))
            }
            _ => false,
        }
    }

    /// Whether a pipe's friction factor is another in laminar flow, and counts.
    fn can_jump(&self, pipe: usize) -> bool {
        has_friction(&self.path, pipe) && !matches!(self.readings[pipe].law, Law::Fixed(_))
    }

    /// Levels at which the integrand bends or jumps: bends of a shape, a mouth going under, the jumps of friction.
    fn find_bends(&self) -> Result<Vec<f64>, TankError> {
        let first = self.first_level;
        let far = match self.stop {
            Some((level, _)) => level,
            // Without an end: as far as the mouth and the shapes have something to say.
            None => first + 1e6,
        };
        let mut bends = self.followed().shape.bends();
        if let Some(other) = self.other() {
            let followed = self.followed();
            let total = followed.shape.volume(first) + other.shape.volume(other.level);
            for bend in other.shape.bends() {
                bends.extend(followed.shape.level(total - other.shape.volume(bend)));
            }
        }
        let mut seek = |f: &dyn Fn(f64) -> Result<f64, TankError>| -> Result<(), TankError> {
            if f(first)? * f(far)? < 0.0 {
                bends.push(self.find_level(f, first, far)?);
            }
            Ok(())
        };
        if let Some(Vessel {
            mouth: Some(mouth), ..
        }) = &self.end
        {
            seek(&|level| {
                let vessel = self.end.as_ref().map_or(0.0, |v| v.floor);
                Ok(vessel + self.other_level(level)?.unwrap_or(level) - mouth)
            })?;
        }
        let rise = self.rise(first, true)?;
        for i in (0..self.readings.len()).filter(|&pipe| self.can_jump(pipe)) {
            for turbulent in [false, true] {
                if let Ok(at) = self.state(&self.path, self.jump_flow(&self.path, i, turbulent)) {
                    let needed = rise - at.residual;
                    seek(&|level| Ok(self.rise(level, true)? - needed))?;
                }
            }
        }
        bends.retain(|bend| (bend - first) * (bend - far) < 0.0);
        bends.sort_by(|a, b| {
            if self.rises {
                a.total_cmp(b)
            } else {
                b.total_cmp(a)
            }
        });
        bends.dedup();
        Ok(bends)
    }

    /// The level of the followed tank at which it is to end \[m\].
    ///
    /// # Errors
    /// [`TankError`].
    pub fn level_at(&self, until: Until) -> Result<f64, TankError> {
        match until {
            Until::Level(level) => Ok(level),
            Until::Difference(wanted) => {
                let first = self.first_level;
                let Some((far, stop)) = self.stop else {
                    return Err(TankError::Impossible {
                        what: "difference of levels",
                        value: wanted,
                    });
                };
                let (before, after) = (self.rise(first, false)? - wanted, self.rise(far, false)? - wanted);
                if before * after <= 0.0 {
                    self.find_level(|level| Ok(self.rise(level, false)? - wanted), first, far)
                } else if before.abs() < after.abs() {
                    Err(TankError::OtherWay { rises: self.rises })
                } else if after.abs() <= SAME * wanted.abs().max(before.abs()) {
                    Ok(far)
                } else {
                    Err(TankError::StopsBefore {
                        level: far,
                        stop,
                        asked: f64::NAN,
                    })
                }
            }
        }
    }

    /// A level asked for, held against the level's way.
    fn reached(&self, level: f64) -> Result<f64, TankError> {
        if !level.is_finite() {
            return Err(TankError::Impossible {
                what: "level asked for",
                value: level,
            });
        }
        let sign = if self.rises { 1.0 } else { -1.0 };
        if sign * (level - self.first_level) < 0.0 {
            return Err(TankError::OtherWay { rises: self.rises });
        }
        let Some((end, stop)) = self.stop else {
            return Ok(level);
        };
        let same = SAME * end.abs().max(self.first_level.abs());
        if sign * (level - end) > same {
            return Err(TankError::StopsBefore {
                level: end,
                stop,
                asked: level,
            });
        }
        if sign * (level - end) >= -same {
            if self.is_endless() {
                return Err(TankError::OnlyNeared { level: end, stop });
            }
            return Ok(end);
        }
        Ok(level)
    }

    /// The time from one level to another further on its way \[s\].
    fn between(&self, from: f64, to: f64) -> Result<f64, TankError> {
        if from == to {
            return Ok(0.0);
        }
        let mut edges = vec![from];
        edges.extend(
            self.bends
                .iter()
                .copied()
                .filter(|bend| (bend - from) * (bend - to) < 0.0),
        );
        edges.push(to);
        let shape = &self.followed().shape;
        // dt/dh
        let slowness = |level: f64| Ok(shape.area(level) / self.gain(level)?);
        let (mut time, mut error) = (0.0, 0.0);
        for ends in edges.windows(2) {
            let (value, off) = match self.rest {
                // h = h₀ ± u²: the root of Q at rest is straight in u.
                Some((rest, _)) => {
                    let sign = if from > rest { 1.0 } else { -1.0 };
                    let root = |level: f64| (sign * (level - rest)).max(0.0).sqrt();
                    integral(
                        |u| Ok(slowness(rest + sign * u * u)? * 2.0 * sign * u),
                        root(ends[0]),
                        root(ends[1]),
                        AIM,
                    )?
                }
                None => integral(slowness, ends[0], ends[1], AIM)?,
            };
            time += value;
            error += off;
        }
        if time.is_finite() && error <= ACCEPT * time.abs() {
            Ok(time)
        } else {
            Err(TankError::NotSettled)
        }
    }

    /// The time until the followed tank's level is `level` \[s\].
    ///
    /// # Errors
    /// [`TankError`].
    pub fn time(&self, level: f64) -> Result<f64, TankError> {
        let level = self.reached(level)?;
        let time = self.between(self.first_level, level)?;
        let part = self.first_level + 0.618 * (level - self.first_level);
        let again = self.between(self.first_level, part)? + self.between(part, level)?;
        if (again - time).abs() <= ACCEPT * time {
            Ok(time)
        } else {
            Err(TankError::NotSettled)
        }
    }

    /// The followed tank's level after a time \[m\].
    ///
    /// # Errors
    /// [`TankError`].
    pub fn level_after(&self, time: f64) -> Result<f64, TankError> {
        if !(time >= 0.0 && time.is_finite()) {
            return Err(TankError::Impossible {
                what: "time",
                value: time,
            });
        }
        // Piece by piece until the time lies in one.
        let (mut from, mut at_from) = (self.first_level, 0.0);
        let mut pieces = self.bends.clone();
        if let (Some((end, _)), false) = (self.stop, self.is_endless()) {
            pieces.push(end);
        }
        let mut found = None;
        for to in pieces {
            let at_to = at_from + self.between(from, to)?;
            if at_to >= time {
                found = Some(to);
                break;
            }
            (from, at_from) = (to, at_to);
        }
        let to = match (found, self.stop) {
            (Some(to), _) => to,
            (None, Some((level, stop))) if !self.is_endless() => {
                // Rounding alone may put the end a hair before the time.
                if at_from >= time * (1.0 - ACCEPT) {
                    return Ok(level);
                }
                return Err(TankError::EndsBefore {
                    time: at_from,
                    level,
                    stop,
                });
            }
            // Half of what is left again and again, or twice as far where there is no end.
            (None, stop) => {
                let start = from;
                let mut step = 1.0;
                loop {
                    let to = match stop {
                        Some((end, _)) => {
                            step *= 0.5;
                            end - (end - start) * step
                        }
                        None => {
                            step *= 2.0;
                            start + if self.rises { step } else { -step }
                        }
                    };
                    let way = |end: f64| (self.first_level - end).abs();
                    let settled = stop.is_some_and(|(end, _)| (to - end).abs() <= SETTLED * way(end));
                    if settled || step > 1e9 {
                        return Ok(stop.map_or(to, |s| s.0));
                    }
                    let at_to = at_from + self.between(from, to)?;
                    if at_to >= time {
                        break to;
                    }
                    (from, at_from) = (to, at_to);
                }
            }
        };
        let level = self.find_level(|level| Ok(at_from + self.between(from, level)? - time), from, to)?;
        let again = self.between(self.first_level, level)?;
        if (again - time).abs() <= ACCEPT * time {
            Ok(level)
        } else {
            Err(TankError::NotSettled)
        }
    }

    /// What there is at a level, with a time that the caller knows.
    ///
    /// # Errors
    /// [`TankError`].
    pub fn moment(&self, level: f64, time: f64) -> Result<Moment, TankError> {
        // Where nothing drives the flow there is none, whatever rounding leaves.
        let at_rest = matches!(self.stop, Some((end, Stop::AtRest)) if (level - end).abs() <= SAME * self.first_level.abs().max(end.abs()));
        let flowing = if at_rest {
            let state = self
                .state(&self.path_at(level)?, 0.0)
                .map_err(|error| TankError::Flow { level, error })?;
            Flowing {
                state,
                held: None,
                warnings: Vec::new(),
            }
        } else {
            self.flowing(level)?
        };
        Ok(Moment {
            time,
            level,
            other_level: self.other_level(level)?,
            gain: self.gain_at(flowing.state.flow),
            state: flowing.state,
            held: flowing.held,
        })
    }

    /// The same with each Darcy friction factor and kinetic-energy factor as it is at the start.
    ///
    /// # Errors
    /// [`TankError`].
    pub fn at_first_factor(&self) -> Result<Self, TankError> {
        let first = self.moment(self.first_level, 0.0)?;
        let readings: Vec<Reading> = first
            .state
            .pipes
            .iter()
            .map(|pipe| Reading {
                law: Law::Fixed(pipe.darcy_friction_factor),
                factor: 1.0,
            })
            .collect();
        let mut path = self.path.clone();
        path.start.alpha = Some(first.state.start.alpha);
        path.end.alpha = Some(first.state.end.alpha);
        let problem = Problem {
            path,
            start: self.start.clone(),
            end: self.end.clone(),
            asked: Asked::Level(0.0),
        };
        Self::new(&problem, &readings, &self.limits)
    }

    fn answer(
        &self,
        value: f64,
        time: f64,
        level: f64,
        at_first_factor: Option<f64>,
    ) -> Result<Solved, TankError> {
        Ok(Solved {
            value,
            path: self.path.clone(),
            start: self.moment(self.first_level, 0.0)?,
            end: self.moment(level, time)?,
            at_first_factor,
            changes: Vec::new(),
            stop: self.stop,
            warnings: Vec::new(),
        })
    }

    /// Adds changes of regime and warnings.
    fn tell(&self, solved: &mut Solved) -> Result<(), TankError> {
        let (start, end) = (&solved.start, &solved.end);
        let changes = self.changes(start, end)?;
        let mut warnings = Vec::new();
        if let (Some((at, _)), true) = (self.stop, self.is_endless())
            && at == end.level
        {
            warnings.push(Warning::Settled { level: end.level });
        }
        self.critical_zone(start, end, &changes, &mut warnings);
        self.quasi_steady(start, end, &mut warnings)?;
        // The faster moment is the one to judge a velocity by; a pressure may be low at either.
        let start_is_faster = start.state.flow >= end.state.flow;
        for (moment, is_faster) in [(start, start_is_faster), (end, !start_is_faster)] {
            if moment.state.flow <= 0.0 {
                continue;
            }
            for warning in self.flowing(moment.level)?.warnings {
                let wanted = match warning {
                    solve::Warning::CriticalZone { .. } => false,
                    solve::Warning::Cavitation { .. } | solve::Warning::SecondSolution { .. } => true,
                    _ => is_faster,
                };
                if wanted {
                    warnings.push(Warning::Path {
                        time: moment.time,
                        warning,
                    });
                }
            }
        }
        (solved.changes, solved.warnings) = (changes, warnings);
        Ok(())
    }

    /// Changes of regime on the way. The flow only rises or only falls, and so does the rank of the regime.
    fn changes(&self, start: &Moment, end: &Moment) -> Result<Vec<RegimeChange>, TankError> {
        let mut changes: Vec<RegimeChange> = Vec::new();
        for i in 0..self.readings.len() {
            // Without friction its regime does not count.
            if !has_friction(&self.path, i) || end.state.flow == 0.0 && start.state.flow == 0.0 {
                continue;
            }
            let regime = |level: f64| -> Result<Regime, TankError> {
                Ok(self
                    .moment(level, f64::NAN)?
                    .state
                    .pipes
                    .get(i)
                    .map_or(Regime::Laminar, |p| p.regime))
            };
            let last = regime(end.level)?;
            let (mut from, mut before) = (start.level, regime(start.level)?);
            while before != last {
                // Halve until the two sides of the next change are neighbours.
                let (mut a, mut b, mut after) = (from, end.level, last);
                loop {
                    let middle = 0.5 * (a + b);
                    if middle == a || middle == b {
                        break;
                    }
                    let there = regime(middle)?;
                    if there == before {
                        a = middle;
                    } else {
                        (b, after) = (middle, there);
                    }
                }
                changes.push(RegimeChange {
                    pipe: i,
                    time: self.between(self.first_level, b)?,
                    level: b,
                    before,
                    after,
                });
                if changes.iter().filter(|c| c.pipe == i).count() >= Regime::ALL.len() {
                    // It would go to and fro: not the one way that the flow goes.
                    return Err(TankError::NotSettled);
                }
                (from, before) = (b, after);
            }
        }
        changes.sort_by(|a, b| a.time.total_cmp(&b.time));
        Ok(changes)
    }

    /// When each pipe is in the critical zone.
    fn critical_zone(
        &self,
        start: &Moment,
        end: &Moment,
        changes: &[RegimeChange],
        warnings: &mut Vec<Warning>,
    ) {
        for pipe in (0..self.readings.len()).filter(|&pipe| has_friction(&self.path, pipe)) {
            let mut since = None;
            let of_pipe: Vec<&RegimeChange> = changes.iter().filter(|c| c.pipe == pipe).collect();
            let first = of_pipe
                .first()
                .map_or(start.state.pipes[pipe].regime, |c| c.before);
            if first == Regime::Critical {
                since = Some((0.0, start.level));
            }
            for change in of_pipe {
                if change.after == Regime::Critical {
                    since = Some((change.time, change.level));
                } else if let Some((from, from_level)) = since.take() {
                    warnings.push(Warning::CriticalZone {
                        pipe,
                        from,
                        to: change.time,
                        from_level,
                        to_level: change.level,
                    });
                }
            }
            if let Some((from, from_level)) = since {
                warnings.push(Warning::CriticalZone {
                    pipe,
                    from,
                    to: end.time,
                    from_level,
                    to_level: end.level,
                });
            }
        }
    }

    /// Whether the surfaces are slow enough and the liquid in the pipes light enough for each moment's flow to
    /// be that of a steady one.
    fn quasi_steady(
        &self,
        start: &Moment,
        end: &Moment,
        warnings: &mut Vec<Warning>,
    ) -> Result<(), TankError> {
        const STEPS: usize = 16;
        let mut moments = Vec::with_capacity(STEPS + 1);
        for i in 0..=STEPS {
            let level = if i == STEPS {
                end.level
            } else {
                start.level + (end.level - start.level) * i as f64 / STEPS as f64
            };
            moments.push(self.moment(level, f64::NAN)?);
        }
        let gravity = self.path.gravity;
        let length_per_area: f64 = pipes(&self.path).map(|p| p.length / p.area()).sum();
        let mut surface: Option<(f64, f64)> = None;
        let mut inertia: Option<(f64, f64)> = None;
        for (i, at) in moments.iter().enumerate() {
            let state = &at.state;
            let velocity_head = |alpha: f64, velocity: f64| alpha * square(velocity) / (2.0 * gravity);
            // What the flow takes of the head.
            let driving = state.head_loss + velocity_head(state.end.alpha, state.end.velocity)
                - velocity_head(state.start.alpha, state.start.velocity);
            let area = self.followed().shape.area(at.level);
            if !(driving > 0.0 && area > 0.0) {
                continue;
            }
            let mut speed = (at.gain / area).abs();
            if let (Some(other), Some(level)) = (self.other(), at.other_level) {
                let area = other.shape.area(level);
                if area > 0.0 {
                    speed = speed.max(state.flow / area);
                }
            }
            let larger = |old: Option<(f64, f64)>, share: f64| match old {
                Some((old, _)) if old >= share => None,
                _ => Some((share, at.level)),
            };
            surface = larger(surface, velocity_head(1.0, speed) / driving).or(surface);
            let (before, after) = (&moments[i.saturating_sub(1)], &moments[(i + 1).min(STEPS)]);
            let run = after.level - before.level;
            if run != 0.0 {
                let slope = (after.state.flow - before.state.flow) / run;
                let head = length_per_area / gravity * (slope * at.gain / area).abs();
                inertia = larger(inertia, head / driving).or(inertia);
            }
        }
        if let Some((share, level)) = surface.filter(|s| s.0 > policy::QUASI_STEADY_SHARE) {
            warnings.push(Warning::SurfaceMoves { share, level });
        }
        if let Some((share, level)) = inertia.filter(|s| s.0 > policy::QUASI_STEADY_SHARE) {
            warnings.push(Warning::Inertia { share, level });
        }
        Ok(())
    }
}

fn pipes(path: &Path) -> impl Iterator<Item = &super::path::Pipe> {
    path.elements.iter().filter_map(|element| match element {
        Element::Pipe(pipe) => Some(pipe),
        _ => None,
    })
}

/// Whether friction acts in a pipe: it has length, or a loss that is stated as one.
fn has_friction(path: &Path, pipe: usize) -> bool {
    path.pipe(pipe).is_some_and(|pipe| pipe.length > 0.0)
        || path.elements.iter().any(|element| {
            matches!(element, Element::Loss { law: LossLaw::EquivalentLength | LossLaw::EquivalentDiameters, pipe: of, .. }
                if *of == pipe)
        })
}

/// An orifice as a path takes it: a pipe of its diameter without length, and the loss that makes its flow
/// `C_d a √(2 g h)`.
///
/// Into air the jet keeps its velocity head, and the loss is `1/C_d² − 1`; under water all of it is lost, and the
/// loss is `1/C_d²`. The end station's velocity is `Pipe` or 0 to fit, its kinetic-energy factor 1.
///
/// - `diameter`: of the opening \[m\]
/// - `discharge_coefficient`: C_d \[–\]
/// - `pipe`: index that its pipe has in the path
pub fn orifice(diameter: f64, discharge_coefficient: f64, under_water: bool, pipe: usize) -> [Element; 2] {
    let all = 1.0 / square(discharge_coefficient);
    [
        Element::Pipe(super::path::Pipe {
            diameter,
            length: 0.0,
            roughness: 0.0,
            section: Section::ROUND,
        }),
        Element::Loss {
            coefficient: if under_water { all } else { all - 1.0 },
            law: LossLaw::Fixed,
            pipe,
        },
    ]
}
