//! A main that leaks, solved: its results by name, what to know of them, and JSON.

use super::json::{UnknownOut, pretty};
use super::kind::{Case, Flowing, Found, Remark, Solution, Unsolved};
use super::units::Kind;
use super::{Step, worked};
use crate::bank::course::Conventions;
use crate::bank::names::pipe_result;
use crate::bank::system::leak::LeakSystem;
use crate::bank::system::{FluidValues, Kind as _};
use crate::equation::EquationError;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::leak::{LeakError, Reach, Solved, Unknown, solve};
use crate::hydraulics::path::area;
use crate::hydraulics::regime::{Limits, Regime};
use crate::quantity::Shown;
use serde::Serialize;

/// A main that leaks, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct LeakCase {
    /// The system, resolved.
    pub system: LeakSystem,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// The solved problem.
    pub solved: Solved,
}

impl LeakCase {
    pub(super) fn solve(system: LeakSystem, figures: Option<u32>, limits: &Limits) -> Result<Self, Unsolved> {
        let problem = system.problem(figures)?;
        let fluid = system.surroundings.fluid_values(figures)?;
        let solved = solve(&problem, [Reading::EXACT; 2], limits)
            .map_err(|error| Unsolved::new(short(&error), system.fault(&error)))?;
        Ok(Self {
            system,
            fluid,
            solved,
        })
    }

    /// What was sought.
    pub(super) fn unknown(&self) -> Unknown {
        self.solved.problem.unknown
    }
}

fn short(error: &LeakError) -> &'static str {
    match error {
        LeakError::NothingLost => "nothing leaks",
        LeakError::OffTheMain { .. } => "the leak is not on the main",
        LeakError::NoFlowFits { .. } => "no leak explains the gauges",
        LeakError::Impossible { what, .. } => what,
    }
}

impl Solution for LeakCase {
    fn found(&self) -> Vec<Found> {
        let (solved, system) = (&self.solved, &self.system);
        let problem = &solved.problem;
        let mut all = Vec::new();
        let mut add = |name: &str, kind: Kind, si: f64| {
            all.push(Found::new(name, kind, si, system.stated(name)).gauge());
        };
        let pipe = &problem.pipe;
        add("D", Kind::Bore, pipe.diameter);
        add("L", Kind::Length, pipe.length);
        add("eps", Kind::Bore, pipe.roughness);
        add("A", Kind::Area, area(pipe.diameter));
        add("rr", Kind::Number, pipe.roughness / pipe.diameter);
        add("Q_1", Kind::Flow, problem.start.flow);
        add("Q_2", Kind::Flow, problem.end.flow);
        add("Q_leak", Kind::Flow, solved.leak);
        add("x", Kind::Length, problem.distance);
        add("p_1", Kind::Pressure, problem.start.pressure);
        add("p_2", Kind::Pressure, problem.end.pressure);
        add("p_leak", Kind::Pressure, solved.pressure_at_leak);
        add("z_1", Kind::Length, problem.start.elevation);
        add("z_2", Kind::Length, problem.end.elevation);
        add("h_L", Kind::Length, solved.head);
        let names = system.pipe_names();
        for (name, reach) in names.iter().zip(&solved.reaches) {
            let mut own =
                |base: &str, kind: Kind, si: f64| add(&pipe_result(base, name, names.len()), kind, si);
            own("V", Kind::Velocity, reach.velocity);
            own("Re", Kind::Number, reach.reynolds);
            own("f", Kind::Number, reach.darcy_friction_factor);
            own("S", Kind::Number, reach.slope);
            own("h_f", Kind::Length, reach.slope * reach.length);
        }
        all
    }

    fn flowing(&self) -> Vec<Flowing> {
        let pipe = &self.solved.problem.pipe;
        let flowing = |(name, reach): (&str, &Reach)| Flowing {
            name: name.to_owned(),
            reynolds: reach.reynolds,
            relative_roughness: pipe.roughness / pipe.diameter,
            rough_number: reach.rough_number,
            regime: reach.regime,
        };
        self.system
            .pipe_names()
            .into_iter()
            .zip(&self.solved.reaches)
            .map(flowing)
            .collect()
    }

    fn remarks(&self, _limits: &Limits) -> Vec<Remark> {
        self.flowing()
            .into_iter()
            .filter(|flowing| flowing.regime == Regime::Critical)
            .map(|flowing| Remark {
                text: format!(
                    "the flow {} of the leak is in the critical zone (Re = {}), where no friction factor is certain",
                    flowing.name,
                    Shown::new(flowing.reynolds, 4).ascii()
                ),
                short: "flow in the critical zone",
                critical: true,
                choice: false,
            })
            .collect()
    }

    fn answers(&self) -> Vec<(String, String)> {
        let leak = ("Q_leak".to_owned(), "what the leak takes".to_owned());
        match self.unknown() {
            Unknown::Distance => vec![
                (
                    "x".to_owned(),
                    "the distance from the start to the leak".to_owned(),
                ),
                leak,
            ],
            Unknown::EndFlow => vec![leak, ("Q_2".to_owned(), "the flow at the end".to_owned())],
        }
    }

    fn worked(&self, limits: &Limits, conventions: &Conventions) -> Result<Vec<Step>, EquationError> {
        worked::leak::steps(self, limits, conventions)
    }

    fn json(&self, limits: &Limits) -> String {
        json(self, limits)
    }

    fn again(&self, readings: &[Reading], limits: &Limits) -> Result<Case, Unsolved> {
        let mut problem = self.solved.problem.clone();
        match problem.unknown {
            Unknown::Distance => problem.distance = f64::NAN,
            Unknown::EndFlow => problem.end.flow = f64::NAN,
        }
        let [above, below] = readings else {
            return Err(Unsolved::from(crate::fault::Fault::new(
                "two readings are needed",
            )));
        };
        let solved = solve(&problem, [*above, *below], limits)
            .map_err(|error| Unsolved::new(short(&error), self.system.fault(&error)))?;
        Ok(Case::Leak(Box::new(Self {
            system: self.system.clone(),
            fluid: self.fluid.clone(),
            solved,
        })))
    }
}

#[derive(Serialize)]
struct Out {
    unknown: UnknownOut,
    leak: LeakOut,
    pipes: Vec<ReachOut>,
    head_loss: f64,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct LeakOut {
    flow: f64,
    distance: f64,
    pressure: f64,
}

#[derive(Serialize)]
struct ReachOut {
    name: String,
    length: f64,
    flow: f64,
    velocity: f64,
    reynolds: f64,
    friction_factor: f64,
    regime: &'static str,
    major_head_loss: f64,
}

fn json(case: &LeakCase, limits: &Limits) -> String {
    let solved = &case.solved;
    let name = crate::bank::system::System::Leak(Box::new(case.system.clone())).unknown_name();
    let out = Out {
        unknown: match case.unknown() {
            Unknown::Distance => UnknownOut {
                name,
                value: solved.problem.distance,
                unit: "m",
            },
            Unknown::EndFlow => UnknownOut {
                name,
                value: solved.problem.end.flow,
                unit: "m3/s",
            },
        },
        leak: LeakOut {
            flow: solved.leak,
            distance: solved.problem.distance,
            pressure: solved.pressure_at_leak,
        },
        pipes: (case.system.pipe_names().into_iter().zip(&solved.reaches))
            .map(|(name, reach)| ReachOut {
                name: name.to_owned(),
                length: reach.length,
                flow: reach.flow,
                velocity: reach.velocity,
                reynolds: reach.reynolds,
                friction_factor: reach.darcy_friction_factor,
                regime: reach.regime.name(),
                major_head_loss: reach.slope * reach.length,
            })
            .collect(),
        head_loss: solved.head,
        warnings: case
            .remarks(limits)
            .into_iter()
            .map(|remark| remark.text)
            .collect(),
    };
    pretty(&out)
}
