//! Flow in one round pipe, solved: its results by name, what to know of them, and JSON.

use super::json::{UnknownOut, pretty};
use super::kind::{Case, Flowing, Found, Remark, Solution, Unsolved};
use super::units::Kind;
use super::{Step, worked};
use crate::bank::course::Conventions;
use crate::bank::system::profile::ProfileSystem;
use crate::bank::system::{FluidValues, Kind as _, System};
use crate::equation::EquationError;
use crate::fault::Fault;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::path::area;
use crate::hydraulics::profile::{Drive, Motion, Problem, Solved, Unknown, Warning, solve};
use crate::hydraulics::regime::Limits;
use crate::hydraulics::solve::SolveError;
use crate::quantity::Shown;
use serde::Serialize;

/// Flow in one round pipe, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfileCase {
    /// The system, resolved.
    pub system: ProfileSystem,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// What was solved for.
    pub unknown: Unknown,
    /// The solved problem.
    pub solved: Solved,
}

fn short(error: &SolveError) -> String {
    match error {
        SolveError::NoSolution { why, .. } | SolveError::Undetermined { why } => (*why).to_owned(),
        SolveError::OnlyAtJump { .. } => "only at the jump between laminar and turbulent flow".to_owned(),
        SolveError::Impossible { what, .. } => (*what).to_owned(),
        SolveError::NoFlow { .. } | SolveError::OffCurve { .. } => "no flow".to_owned(),
    }
}

impl ProfileCase {
    pub(super) fn solve(
        system: ProfileSystem,
        figures: Option<u32>,
        limits: &Limits,
    ) -> Result<Self, Unsolved> {
        let problem = system.problem(figures)?;
        let solved = solve(&problem, Reading::EXACT, limits)
            .map_err(|error| Unsolved::new(short(&error), system.fault(&error)))?;
        let fluid = system.fluid_values(figures, solved.tube.dynamic_viscosity)?;
        Ok(Self {
            system,
            fluid,
            unknown: problem.unknown,
            solved,
        })
    }

    /// The problem with its unknown taken out again.
    pub fn problem(&self) -> Problem {
        let mut problem = Problem {
            tube: self.solved.tube,
            unknown: self.unknown,
        };
        problem.put(f64::NAN);
        problem
    }

    /// The same system with another solution.
    pub fn with(&self, solved: Solved) -> Self {
        let mut fluid = self.fluid.clone();
        if self.unknown == Unknown::Viscosity {
            fluid.dynamic_viscosity.number = solved.tube.dynamic_viscosity;
            fluid.dynamic_viscosity.shown = Shown::new(solved.tube.dynamic_viscosity, 4);
        }
        Self {
            system: self.system.clone(),
            fluid,
            unknown: self.unknown,
            solved,
        }
    }

    /// Whether the flow is laminar.
    pub fn is_laminar(&self) -> bool {
        self.solved.state.exponent.is_none()
    }
}

fn remark(warning: &Warning, case: &ProfileCase) -> Remark {
    let number = |value: f64| Shown::new(value, 3).ascii();
    let mut critical = false;
    let mut choice = false;
    let (text, short) = match *warning {
        Warning::CriticalZone { reynolds } => {
            critical = true;
            (
                format!(
                    "the flow is in the critical zone (Re = {}), where no profile is certain",
                    Shown::new(reynolds, 4).ascii()
                ),
                "flow in the critical zone",
            )
        }
        Warning::Entrance {
            entrance_length,
            length,
        } => (
            format!(
                "the flow develops over some {} m behind an entrance, and the pipe is only {} m long: the profile holds {}",
                number(entrance_length),
                number(length),
                if entrance_length < length {
                    "in its rear part, and more pressure is lost"
                } else {
                    "nowhere, unless the flow comes in developed"
                }
            ),
            "an entrance that takes much of the pipe",
        ),
        Warning::Exponent { exponent } => (
            format!(
                "the exponent of the power law is {}, which no measured profile has",
                number(exponent)
            ),
            "an exponent out of the ordinary range",
        ),
        Warning::OffChart => (
            "the flow is off the friction chart".to_owned(),
            "off the friction chart",
        ),
        Warning::SecondSolution { value } => {
            choice = true;
            (
                format!(
                    "a second {} does as well: {} {}",
                    System::Profile(Box::new(case.system.clone())).unknown_name(),
                    Shown::new(value, 4).ascii(),
                    unit(case)
                ),
                "a second solution",
            )
        }
    };
    Remark {
        text,
        short,
        critical,
        choice,
    }
}

/// The SI unit of what was solved for.
fn unit(case: &ProfileCase) -> &'static str {
    match (case.unknown, &case.solved.tube.motion, &case.solved.tube.drive) {
        (Unknown::Motion, Motion::Flow(_), _) => "m3/s",
        (Unknown::Motion, ..) => "m/s",
        (Unknown::Drive, _, Drive::Head(_)) | (Unknown::Diameter | Unknown::Length, ..) => "m",
        (Unknown::Drive, ..) => "Pa",
        (Unknown::Viscosity, ..) => "Pa.s",
    }
}

impl Solution for ProfileCase {
    fn found(&self) -> Vec<Found> {
        let (tube, state, system) = (&self.solved.tube, &self.solved.state, &self.system);
        let mut all = Vec::new();
        let mut add = |name: &str, kind: Kind, si: f64| {
            all.push(Found::new(name, kind, si, system.stated(name)));
        };
        add("D", Kind::Bore, tube.diameter);
        add("A", Kind::Area, area(tube.diameter));
        add("eps", Kind::Bore, tube.roughness);
        add("rr", Kind::Number, state.relative_roughness);
        add("Q", Kind::Flow, state.flow);
        add("V", Kind::Velocity, state.velocity);
        add("u_max", Kind::Velocity, state.centre_velocity);
        add("Re", Kind::Number, state.reynolds);
        add("f", Kind::Number, state.darcy_friction_factor);
        add("tau_w", Kind::Pressure, state.wall_shear);
        add("u_tau", Kind::Velocity, state.friction_velocity);
        add("alpha", Kind::Number, state.alpha);
        add("beta", Kind::Number, state.beta);
        if let Some(exponent) = state.exponent {
            add("n", Kind::Number, exponent);
        }
        add("L_e", Kind::Length, state.entrance_length);
        if let (Some(length), Some(friction_length), Some(drop)) =
            (tube.length, state.friction_length, state.pressure_drop)
        {
            add("L", Kind::Length, length);
            add("L_f", Kind::Length, friction_length);
            add("dp", Kind::Pressure, drop);
            add("dp_f", Kind::Pressure, drop - state.kinetic_drop);
            add("dp_k", Kind::Pressure, state.kinetic_drop);
            add("h", Kind::Length, drop / (tube.density * tube.gravity));
        }
        if let Some(local) = state.local {
            add("r", Kind::Bore, local.radius);
            add("u_r", Kind::Velocity, local.velocity);
            add("tau_r", Kind::Pressure, local.shear);
        }
        all
    }

    fn flowing(&self) -> Vec<Flowing> {
        let state = &self.solved.state;
        vec![Flowing {
            name: self.system.pipe.clone(),
            reynolds: state.reynolds,
            relative_roughness: state.relative_roughness,
            rough_number: state.reynolds * state.darcy_friction_factor.sqrt() * state.relative_roughness,
            regime: state.regime,
        }]
    }

    fn remarks(&self, _limits: &Limits) -> Vec<Remark> {
        self.solved
            .warnings
            .iter()
            .map(|warning| remark(warning, self))
            .collect()
    }

    fn answers(&self) -> Vec<(String, String)> {
        let said = |name: &str, words: &str| vec![(name.to_owned(), words.to_owned())];
        match (self.unknown, &self.solved.tube.motion, &self.solved.tube.drive) {
            (Unknown::Motion, Motion::Flow(_), _) => said("Q", "the flow"),
            (Unknown::Motion, Motion::Mean(_), _) => said("V", "the mean velocity"),
            (Unknown::Motion, Motion::Centre(_), _) => said("u_max", "the velocity on the centre line"),
            (Unknown::Drive, _, Drive::PressureDrop(_)) => said("dp", "the fall of pressure"),
            (Unknown::Drive, _, Drive::Head(_)) => said("h", "the head"),
            (Unknown::Drive, _, Drive::WallShear(_)) => said("tau_w", "the shear stress at the wall"),
            (Unknown::Viscosity, ..) => {
                let mut both = said("mu", "the dynamic viscosity");
                both.extend(said("nu", "the kinematic viscosity"));
                both
            }
            (Unknown::Diameter, ..) => said("D", "the bore"),
            (Unknown::Length, ..) => said("L", "the length"),
        }
    }

    fn worked(&self, limits: &Limits, conventions: &Conventions) -> Result<Vec<Step>, EquationError> {
        worked::profile::steps(self, limits, conventions)
    }

    fn json(&self, limits: &Limits) -> String {
        json(self, limits)
    }

    fn again(&self, readings: &[Reading], limits: &Limits) -> Result<Case, Unsolved> {
        let [reading] = readings else {
            return Err(Unsolved::from(Fault::new("one reading is needed")));
        };
        let solved = solve(&self.problem(), *reading, limits)
            .map_err(|error| Unsolved::new(short(&error), self.system.fault(&error)))?;
        Ok(Case::Profile(Box::new(self.with(solved))))
    }
}

#[derive(Serialize)]
struct Out {
    unknown: UnknownOut,
    flow: f64,
    velocity: f64,
    centre_velocity: f64,
    reynolds: f64,
    regime: &'static str,
    friction_factor: f64,
    wall_shear: f64,
    friction_velocity: f64,
    exponent: Option<f64>,
    alpha: f64,
    beta: f64,
    entrance_length: f64,
    pressure_gradient: f64,
    pressure_drop: Option<f64>,
    kinetic_drop: f64,
    dynamic_viscosity: f64,
    diameter: f64,
    length: Option<f64>,
    local: Option<LocalOut>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct LocalOut {
    radius: f64,
    velocity: f64,
    shear: f64,
}

fn json(case: &ProfileCase, limits: &Limits) -> String {
    let (tube, state) = (&case.solved.tube, &case.solved.state);
    let out = Out {
        unknown: UnknownOut {
            name: System::Profile(Box::new(case.system.clone())).unknown_name(),
            value: case.solved.value,
            unit: unit(case),
        },
        flow: state.flow,
        velocity: state.velocity,
        centre_velocity: state.centre_velocity,
        reynolds: state.reynolds,
        regime: state.regime.name(),
        friction_factor: state.darcy_friction_factor,
        wall_shear: state.wall_shear,
        friction_velocity: state.friction_velocity,
        exponent: state.exponent,
        alpha: state.alpha,
        beta: state.beta,
        entrance_length: state.entrance_length,
        pressure_gradient: state.gradient,
        pressure_drop: state.pressure_drop,
        kinetic_drop: state.kinetic_drop,
        dynamic_viscosity: tube.dynamic_viscosity,
        diameter: tube.diameter,
        length: tube.length,
        local: state.local.map(|local| LocalOut {
            radius: local.radius,
            velocity: local.velocity,
            shear: local.shear,
        }),
        warnings: case
            .remarks(limits)
            .into_iter()
            .map(|remark| remark.text)
            .collect(),
    };
    pretty(&out)
}
