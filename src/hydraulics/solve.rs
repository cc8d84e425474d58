//! The energy equation solved for one unknown.

use super::friction::Reading;
use super::path::{Path, State};
use super::regime::Limits;

/// What is not known. Indices count pipes among pipes, losses among losses, pumps among pumps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Volume flow \[m³/s\].
    Flow,
    /// Diameter of a pipe \[m\].
    Diameter(usize),
    /// Length of a pipe \[m\].
    Length(usize),
    /// Roughness of a pipe \[m\].
    Roughness(usize),
    /// Loss coefficient \[–\].
    LossCoefficient(usize),
    /// Gauge pressure at the start \[Pa\].
    StartPressure,
    /// Gauge pressure at the end \[Pa\].
    EndPressure,
    /// Elevation of the start \[m\].
    StartElevation,
    /// Elevation of the end \[m\].
    EndElevation,
    /// Head of a pump \[m\].
    PumpHead(usize),
    /// Shaft power of a pump \[W\].
    PumpPower(usize),
    /// Head of a turbine \[m\].
    TurbineHead(usize),
    /// Shaft power of a turbine \[W\].
    TurbinePower(usize),
}

/// A path with one value missing: that slot of `path` (or `flow`) holds NaN.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// The path.
    pub path: Path,
    /// Volume flow \[m³/s\].
    pub flow: f64,
    /// Which value is missing.
    pub unknown: Unknown,
}

/// Something about an answer that a person should know.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// A pipe's flow lies in the critical zone.
    CriticalZone {
        /// Pipe.
        pipe: usize,
        /// Its Reynolds number.
        reynolds: f64,
    },
    /// Pressure falls below vapour pressure.
    Cavitation {
        /// Where: behind this many elements of the path (0 is the start).
        after: usize,
        /// Absolute pressure there \[Pa\].
        pressure: f64,
        /// Vapour pressure \[Pa\].
        vapour_pressure: f64,
    },
    /// A velocity is out of the ordinary range.
    UnusualVelocity {
        /// Pipe.
        pipe: usize,
        /// Its velocity \[m/s\].
        velocity: f64,
    },
    /// Reynolds number or relative roughness is off the friction chart.
    OffChart {
        /// Pipe.
        pipe: usize,
    },
    /// Another value solves the equation as well; the smaller one is given.
    SecondSolution {
        /// The other value, SI.
        value: f64,
    },
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// The unknown's value, SI.
    pub value: f64,
    /// The path with the value put in.
    pub path: Path,
    /// Everything along it.
    pub state: State,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum SolveError {
    /// No flow from start to end: less energy at the start than at the end.
    NoFlow {
        /// Head missing \[m\].
        short_by: f64,
    },
    /// No value of the unknown within the range tried solves the equation.
    NoSolution {
        /// The range tried, SI.
        tried: (f64, f64),
        /// Why, in words of the equation.
        why: &'static str,
    },
    /// The equation crosses only at the jump of the friction factor between laminar and turbulent flow.
    OnlyAtJump {
        /// Pipe.
        pipe: usize,
        /// Reynolds number of the jump.
        reynolds: f64,
    },
    /// The unknown does not move the equation (a length of a pipe without flow, a roughness in laminar flow).
    Undetermined {
        /// Why.
        why: &'static str,
    },
    /// A value that can't be: negative diameter, density of zero, no pipe.
    Impossible {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
    },
}

/// Solves `problem` with one reading for each pipe.
///
/// # Errors
/// [`SolveError`], never a wrong number.
pub fn solve(problem: &Problem, readings: &[Reading], limits: &Limits) -> Result<Solved, SolveError> {
    let _ = (problem, readings, limits);
    todo!()
}

/// The state of `path` at a known flow, with one reading for each pipe; its residual says how far off the
/// energy equation is.
///
/// # Errors
/// [`SolveError::Impossible`].
pub fn state(path: &Path, flow: f64, readings: &[Reading], limits: &Limits) -> Result<State, SolveError> {
    let _ = (path, flow, readings, limits);
    todo!()
}
