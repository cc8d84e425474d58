//! A pipe that grows rougher with the years: what a test says of its wall, and what is to come.
//!
//! Roughness grows evenly, `ε = ε₀ + a t`: Colebrook and White, "The reduction of carrying capacity of pipes with
//! age", Journal of the Institution of Civil Engineers 7 (1937), from memory.

use super::friction::Reading;
use super::path::{Element, Path, Pipe, PipeState, Section, Station, StationVelocity};
use super::regime::Limits;
use super::solve::{self, SolveError, Solved as SolvedPath, Unknown as OfPath};

/// What is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Roughness when new \[m\].
    New,
    /// Growth of roughness \[m/s\].
    Growth,
    /// Age at the test \[s\].
    Age,
    /// Head lost in the test \[m\].
    HeadLoss,
}

/// A pipe, a test of it and a later day, one value missing: that slot holds NaN.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Density \[kg/m³\].
    pub density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub dynamic_viscosity: f64,
    /// Acceleration of gravity \[m/s²\].
    pub gravity: f64,
    /// Inner diameter \[m\], taken as the same all the time.
    pub diameter: f64,
    /// Length \[m\].
    pub length: f64,
    /// Roughness when new \[m\].
    pub new_roughness: f64,
    /// Growth of roughness \[m/s\].
    pub growth: f64,
    /// Age at the test \[s\].
    pub age: f64,
    /// Flow in the test \[m³/s\].
    pub flow: f64,
    /// Head lost to friction in the test \[m\].
    pub head_loss: f64,
    /// Age on the later day \[s\].
    pub later_age: f64,
    /// Which value is missing.
    pub unknown: Unknown,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// The problem with the value put in.
    pub problem: Problem,
    /// Roughness at the test \[m\].
    pub roughness: f64,
    /// The flow in the test.
    pub test: PipeState,
    /// Roughness on the later day \[m\].
    pub later_roughness: f64,
    /// The same flow on the later day.
    pub later: PipeState,
    /// What the head of the test drives on the later day \[m³/s\].
    pub later_flow: f64,
    /// That flow.
    pub driven: PipeState,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum AgeingError {
    /// The test finds less roughness than the pipe had when new \[m\], or than growth alone brings.
    Smoother {
        /// Roughness at the test.
        found: f64,
        /// What it can't be less than.
        least: f64,
    },
    /// A pipe without growth has any age.
    NoGrowth,
    /// A value that can't be.
    Impossible {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// Why the pipe itself can't be solved.
    Pipe(SolveError),
}

impl From<SolveError> for AgeingError {
    fn from(error: SolveError) -> Self {
        Self::Pipe(error)
    }
}

/// Solves the test for what is missing, then looks at the later day, with a reading for the test and one for the
/// later day.
///
/// # Errors
/// [`AgeingError`], never a wrong number.
pub fn solve(problem: &Problem, readings: [Reading; 2], limits: &Limits) -> Result<Solved, AgeingError> {
    check(problem)?;
    let mut problem = problem.clone();
    let roughness = if problem.unknown == Unknown::HeadLoss {
        problem.new_roughness + problem.growth * problem.age
    } else {
        let pipe = along(&problem, f64::NAN, problem.head_loss);
        at(pipe, problem.flow, OfPath::Roughness(0), readings[0], limits)?.value
    };
    match problem.unknown {
        Unknown::New => problem.new_roughness = roughness - problem.growth * problem.age,
        Unknown::Growth => problem.growth = (roughness - problem.new_roughness) / problem.age,
        Unknown::Age => {
            if problem.growth == 0.0 {
                return Err(AgeingError::NoGrowth);
            }
            problem.age = (roughness - problem.new_roughness) / problem.growth;
        }
        Unknown::HeadLoss => {}
    }
    let grown = problem.growth * problem.age;
    if problem.new_roughness < 0.0 || grown < 0.0 {
        return Err(AgeingError::Smoother {
            found: roughness,
            least: if problem.unknown == Unknown::New {
                grown
            } else {
                problem.new_roughness
            },
        });
    }
    let lost = |roughness: f64, reading: Reading| -> Result<PipeState, AgeingError> {
        let pipe = along(&problem, roughness, f64::NAN);
        let solved = at(pipe, problem.flow, OfPath::StartElevation, reading, limits)?;
        Ok(solved.state.pipes[0])
    };
    let test = lost(roughness, readings[0])?;
    let later_roughness = problem.new_roughness + problem.growth * problem.later_age;
    let later = lost(later_roughness, readings[1])?;
    problem.head_loss = test.major_head_loss;
    let pipe = along(&problem, later_roughness, problem.head_loss);
    let driven = at(pipe, f64::NAN, OfPath::Flow, readings[1], limits)?;
    Ok(Solved {
        roughness,
        test,
        later_roughness,
        later,
        later_flow: driven.value,
        driven: driven.state.pipes[0],
        problem,
    })
}

/// The pipe between two surfaces that stand `head` apart, so that friction is all that takes head.
fn along(problem: &Problem, roughness: f64, head: f64) -> Path {
    let surface = |elevation: f64| Station {
        pressure: 0.0,
        elevation,
        velocity: StationVelocity::Value(0.0),
        alpha: None,
    };
    Path {
        density: problem.density,
        dynamic_viscosity: problem.dynamic_viscosity,
        vapour_pressure: None,
        atmosphere: 0.0,
        gravity: problem.gravity,
        start: surface(head),
        end: surface(0.0),
        elements: vec![Element::Pipe(Pipe {
            diameter: problem.diameter,
            length: problem.length,
            roughness,
            section: Section::ROUND,
        })],
        points: Vec::new(),
    }
}

fn at(
    path: Path,
    flow: f64,
    unknown: OfPath,
    reading: Reading,
    limits: &Limits,
) -> Result<SolvedPath, SolveError> {
    let problem = solve::Problem { path, flow, unknown };
    solve::solve(&problem, &[reading], limits)
}

fn check(problem: &Problem) -> Result<(), AgeingError> {
    let known = |unknown: Unknown| problem.unknown != unknown;
    for (what, value, is_known, least) in [
        ("density", problem.density, true, false),
        ("dynamic viscosity", problem.dynamic_viscosity, true, false),
        ("gravity", problem.gravity, true, false),
        ("diameter", problem.diameter, true, false),
        ("length", problem.length, true, false),
        ("flow of the test", problem.flow, true, false),
        (
            "head lost in the test",
            problem.head_loss,
            known(Unknown::HeadLoss),
            false,
        ),
        (
            "age at the test",
            problem.age,
            known(Unknown::Age),
            problem.unknown != Unknown::Growth,
        ),
        (
            "roughness when new",
            problem.new_roughness,
            known(Unknown::New),
            true,
        ),
        (
            "growth of roughness",
            problem.growth,
            known(Unknown::Growth),
            true,
        ),
        ("age on the later day", problem.later_age, true, true),
    ] {
        let good = value.is_finite() && (value > 0.0 || (least && value == 0.0));
        if is_known && !good {
            return Err(AgeingError::Impossible { what, value });
        }
    }
    Ok(())
}
