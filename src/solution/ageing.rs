//! A pipe that grows rougher, solved: its results by name, what to know of them, and JSON.

use super::json::{UnknownOut, pretty};
use super::kind::{Case, Flowing, Found, Remark, Solution, Unsolved};
use super::units::Kind;
use super::{Step, worked};
use crate::bank::course::Conventions;
use crate::bank::names::pipe_result;
use crate::bank::system::ageing::AgeingSystem;
use crate::bank::system::{FluidValues, Kind as _, System};
use crate::equation::EquationError;
use crate::fault::Fault;
use crate::hydraulics::ageing::{AgeingError, Solved, Unknown, solve};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::path::{PipeState, area};
use crate::hydraulics::regime::{Limits, Regime};
use crate::quantity::Shown;
use serde::Serialize;

/// A pipe that grows rougher, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct AgeingCase {
    /// The system, resolved.
    pub system: AgeingSystem,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// The solved problem.
    pub solved: Solved,
}

fn short(error: &AgeingError) -> &'static str {
    match error {
        AgeingError::Smoother { .. } => "smoother than when new",
        AgeingError::NoGrowth => "no growth",
        AgeingError::Impossible { what, .. } => what,
        AgeingError::Pipe(_) => "no roughness explains the test",
    }
}

impl AgeingCase {
    pub(super) fn solve(
        system: AgeingSystem,
        figures: Option<u32>,
        limits: &Limits,
    ) -> Result<Self, Unsolved> {
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

    fn days(&self) -> [(&'static str, f64, &PipeState); 2] {
        let solved = &self.solved;
        [
            ("test", solved.roughness, &solved.test),
            ("later", solved.later_roughness, &solved.later),
        ]
    }
}

impl Solution for AgeingCase {
    fn found(&self) -> Vec<Found> {
        let (solved, system) = (&self.solved, &self.system);
        let problem = &solved.problem;
        let mut all = Vec::new();
        let mut add = |name: &str, kind: Kind, si: f64| {
            all.push(Found::new(name, kind, si, system.stated(name)));
        };
        add("D", Kind::Bore, problem.diameter);
        add("L", Kind::Length, problem.length);
        add("A", Kind::Area, area(problem.diameter));
        add("eps_new", Kind::Bore, problem.new_roughness);
        add("growth", Kind::Growth, problem.growth);
        add("t_test", Kind::Age, problem.age);
        add("t_later", Kind::Age, problem.later_age);
        add("Q", Kind::Flow, problem.flow);
        add("V", Kind::Velocity, solved.test.velocity);
        add("Re", Kind::Number, solved.test.reynolds);
        add("Q_later", Kind::Flow, solved.later_flow);
        for (day, roughness, state) in self.days() {
            let mut own = |base: &str, kind: Kind, si: f64| add(&pipe_result(base, day, 2), kind, si);
            own("eps", Kind::Bore, roughness);
            own("f", Kind::Number, state.darcy_friction_factor);
            own("h_f", Kind::Length, state.major_head_loss);
        }
        all
    }

    fn flowing(&self) -> Vec<Flowing> {
        self.days()
            .into_iter()
            .map(|(day, _, state)| Flowing {
                name: day.to_owned(),
                reynolds: state.reynolds,
                relative_roughness: state.relative_roughness,
                rough_number: state.rough_number,
                regime: state.regime,
            })
            .collect()
    }

    fn remarks(&self, _limits: &Limits) -> Vec<Remark> {
        let state = &self.solved.driven;
        let critical =
            self.flowing().iter().any(|f| f.regime == Regime::Critical) || state.regime == Regime::Critical;
        let mut all = Vec::new();
        if critical {
            all.push(Remark {
                text: format!(
                    "the flow is in the critical zone (Re = {} in the test), where no friction factor is certain",
                    Shown::new(self.solved.test.reynolds, 4).ascii()
                ),
                short: "flow in the critical zone",
                critical: true,
                choice: false,
            });
        }
        if self.solved.later.relative_roughness > crate::constants::policy::RELATIVE_ROUGHNESS_END {
            all.push(Remark {
                text: "on the later day the wall is rougher than the friction chart goes".to_owned(),
                short: "off the friction chart",
                critical: false,
                choice: false,
            });
        }
        all
    }

    fn answers(&self) -> Vec<(String, String)> {
        let said = |name: &str, words: &str| (name.to_owned(), words.to_owned());
        let first = match self.unknown() {
            Unknown::New => said("eps_new", "the roughness when new"),
            Unknown::Growth => said("growth", "the growth of the roughness"),
            Unknown::Age => said("t_test", "the age at the test"),
            Unknown::HeadLoss => said("h_f_test", "the head lost in the test"),
        };
        vec![
            first,
            said("h_f_later", "the head lost at the same flow on the later day"),
            said("Q_later", "what the head of the test drives on the later day"),
        ]
    }

    fn worked(&self, limits: &Limits, conventions: &Conventions) -> Result<Vec<Step>, EquationError> {
        worked::ageing::steps(self, limits, conventions)
    }

    fn json(&self, limits: &Limits) -> String {
        json(self, limits)
    }

    fn again(&self, readings: &[Reading], limits: &Limits) -> Result<Case, Unsolved> {
        let mut problem = self.solved.problem.clone();
        match problem.unknown {
            Unknown::New => problem.new_roughness = f64::NAN,
            Unknown::Growth => problem.growth = f64::NAN,
            Unknown::Age => problem.age = f64::NAN,
            Unknown::HeadLoss => problem.head_loss = f64::NAN,
        }
        let [test, later] = readings else {
            return Err(Unsolved::from(Fault::new("two readings are needed")));
        };
        let solved = solve(&problem, [*test, *later], limits)
            .map_err(|error| Unsolved::new(short(&error), self.system.fault(&error)))?;
        Ok(Case::Ageing(Box::new(Self {
            system: self.system.clone(),
            fluid: self.fluid.clone(),
            solved,
        })))
    }
}

#[derive(Serialize)]
struct Out {
    unknown: UnknownOut,
    flow: f64,
    days: Vec<DayOut>,
    later_flow: f64,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct DayOut {
    name: &'static str,
    age: f64,
    roughness: f64,
    velocity: f64,
    reynolds: f64,
    friction_factor: f64,
    regime: &'static str,
    major_head_loss: f64,
}

fn json(case: &AgeingCase, limits: &Limits) -> String {
    let problem = &case.solved.problem;
    let (value, unit) = match case.unknown() {
        Unknown::New => (problem.new_roughness, "m"),
        Unknown::Growth => (problem.growth, "m/s"),
        Unknown::Age => (problem.age, "s"),
        Unknown::HeadLoss => (problem.head_loss, "m"),
    };
    let ages = [problem.age, problem.later_age];
    let out = Out {
        unknown: UnknownOut {
            name: System::Ageing(Box::new(case.system.clone())).unknown_name(),
            value,
            unit,
        },
        flow: problem.flow,
        days: (case.days().into_iter().zip(ages))
            .map(|((name, roughness, state), age)| DayOut {
                name,
                age,
                roughness,
                velocity: state.velocity,
                reynolds: state.reynolds,
                friction_factor: state.darcy_friction_factor,
                regime: state.regime.name(),
                major_head_loss: state.major_head_loss,
            })
            .collect(),
        later_flow: case.solved.later_flow,
        warnings: case
            .remarks(limits)
            .into_iter()
            .map(|remark| remark.text)
            .collect(),
    };
    pretty(&out)
}
