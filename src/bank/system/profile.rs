//! `profile`: flow in one round pipe seen across the pipe, as people write it.

use super::kind::{Kind, ResultName, Surroundings};
use super::problem::{number, too_rough};
use super::slot::{Of, Slot};
use super::{Fluid, FluidValues, System, Value, solve_error_in_short};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::profile::{Drive, Exponent, Motion, Problem, Tube, Unknown};
use crate::hydraulics::solve::SolveError;
use crate::quantity::{Dimension, Shown, Written};

/// How the motion is said.
#[derive(Debug, Clone, PartialEq)]
pub enum ProfileMotion {
    /// `flow:`
    Flow(Value),
    /// `mean velocity:`
    Mean(Value),
    /// `centre-line velocity:`
    Centre(Value),
    /// `volume:` and `time:`: what was collected, and how long it took.
    Collected {
        /// Volume.
        volume: Value,
        /// Time.
        time: Value,
    },
}

/// How what drives the flow is said.
#[derive(Debug, Clone, PartialEq)]
pub enum ProfileDrive {
    /// `pressure drop:`
    PressureDrop(Value),
    /// `head:`
    Head(Value),
    /// `wall shear stress:`
    WallShear(Value),
}

impl ProfileDrive {
    /// Its value.
    pub fn value(&self) -> &Value {
        match self {
            Self::PressureDrop(value) | Self::Head(value) | Self::WallShear(value) => value,
        }
    }
}

/// Flow in one round pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfileSystem {
    /// What it stands in.
    pub surroundings: Surroundings,
    /// What the pipe is called.
    pub pipe: String,
    /// Its inner diameter.
    pub diameter: Value,
    /// Its length, where it is known or asked.
    pub length: Option<Value>,
    /// Its roughness; smooth where nothing is said.
    pub roughness: Option<Value>,
    /// The motion.
    pub motion: ProfileMotion,
    /// What drives it.
    pub drive: ProfileDrive,
    /// Couette's end correction, in radii.
    pub end_correction: Option<Value>,
    /// Hagenbach's kinetic correction, as a multiple of ρ V².
    pub kinetic_correction: Option<Value>,
    /// The exponent of the power law; from the friction factor where nothing is said.
    pub exponent: Option<Value>,
    /// A distance from the centre line at which the profile is asked.
    pub radius: Option<Value>,
}

impl Kind for ProfileSystem {
    fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }

    fn surroundings_mut(&mut self) -> &mut Surroundings {
        &mut self.surroundings
    }

    fn values(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        let of = Of::Element(&self.pipe);
        f(Slot::Diameter, of, &mut self.diameter);
        if let Some(length) = &mut self.length {
            f(Slot::Length, of, length);
        }
        if let Some(roughness) = &mut self.roughness {
            f(Slot::Roughness, of, roughness);
        }
        match &mut self.motion {
            ProfileMotion::Flow(value) => f(Slot::Flow, Of::System, value),
            ProfileMotion::Mean(value) => f(Slot::MeanVelocity, Of::System, value),
            ProfileMotion::Centre(value) => f(Slot::CentreVelocity, Of::System, value),
            ProfileMotion::Collected { volume, time } => {
                f(Slot::Volume, Of::System, volume);
                f(Slot::Time, Of::System, time);
            }
        }
        match &mut self.drive {
            ProfileDrive::PressureDrop(value) => f(Slot::PressureDrop, Of::System, value),
            ProfileDrive::Head(value) => f(Slot::Head, Of::System, value),
            ProfileDrive::WallShear(value) => f(Slot::WallShear, Of::System, value),
        }
        for (slot, value) in [
            (Slot::EndCorrection, &mut self.end_correction),
            (Slot::KineticCorrection, &mut self.kinetic_correction),
            (Slot::Exponent, &mut self.exponent),
            (Slot::Radius, &mut self.radius),
        ] {
            if let Some(value) = value {
                f(slot, Of::System, value);
            }
        }
    }

    fn pipe_names(&self) -> Vec<&str> {
        vec![&self.pipe]
    }

    fn results(&self) -> Vec<ResultName> {
        let mut all = vec![
            ("D", "inner diameter", Dimension::LENGTH),
            ("A", "area of the cross-section", Dimension::AREA),
            ("eps", "roughness", Dimension::LENGTH),
            ("rr", "relative roughness ε/D", Dimension::NONE),
            ("Q", "volume flow", Dimension::FLOW),
            ("V", "mean velocity", Dimension::VELOCITY),
            ("u_max", "velocity on the centre line", Dimension::VELOCITY),
            ("Re", "Reynolds number", Dimension::NONE),
            ("f", "Darcy friction factor", Dimension::NONE),
            ("tau_w", "shear stress at the wall", Dimension::PRESSURE),
            ("u_tau", "friction velocity", Dimension::VELOCITY),
            ("alpha", "kinetic-energy factor", Dimension::NONE),
            ("beta", "momentum factor", Dimension::NONE),
            (
                "n",
                "exponent of the power law, in turbulent flow",
                Dimension::NONE,
            ),
            (
                "L_e",
                "length from an entrance to developed flow",
                Dimension::LENGTH,
            ),
        ];
        if self.length.is_some() {
            all.extend([
                ("L", "length", Dimension::LENGTH),
                ("L_f", "length and end correction together", Dimension::LENGTH),
                ("dp", "fall of pressure along the length", Dimension::PRESSURE),
                (
                    "dp_f",
                    "of it, what friction takes, the ends included",
                    Dimension::PRESSURE,
                ),
                (
                    "dp_k",
                    "of it, what the fluid takes away as kinetic energy",
                    Dimension::PRESSURE,
                ),
                (
                    "h",
                    "the fall of pressure as a head of the fluid",
                    Dimension::LENGTH,
                ),
            ]);
        }
        if self.radius.is_some() {
            all.extend([
                ("r", "distance from the centre line", Dimension::LENGTH),
                ("u_r", "velocity there", Dimension::VELOCITY),
                ("tau_r", "shear stress there", Dimension::PRESSURE),
            ]);
        }
        all.into_iter()
            .map(|(name, meaning, dimension)| ResultName::plain(name, meaning, dimension))
            .collect()
    }

    fn stated(&self, result: &str) -> Option<&Value> {
        match (result, &self.motion, &self.drive) {
            ("D", ..) => Some(&self.diameter),
            ("L", ..) => self.length.as_ref(),
            ("eps", ..) => self.roughness.as_ref(),
            ("Q", ProfileMotion::Flow(value), _)
            | ("V", ProfileMotion::Mean(value), _)
            | ("u_max", ProfileMotion::Centre(value), _)
            | ("dp", _, ProfileDrive::PressureDrop(value))
            | ("h", _, ProfileDrive::Head(value))
            | ("tau_w", _, ProfileDrive::WallShear(value)) => Some(value),
            ("n", ..) => self.exponent.as_ref(),
            ("r", ..) => self.radius.as_ref(),
            _ => None,
        }
    }

    fn check_together(&self, faults: &mut Vec<Fault>) {
        if let (Value::Known(diameter), Some(Value::Known(roughness))) = (&self.diameter, &self.roughness) {
            faults.extend(too_rough(&self.pipe, diameter.quantity().value, roughness));
        }
        faults.extend(self.beyond_the_wall());
    }
}

impl ProfileSystem {
    /// Whether the viscosity is what is asked.
    pub fn asks_viscosity(&self) -> bool {
        matches!(
            &self.surroundings.fluid,
            Fluid::Given {
                viscosity: Value::Unknown,
                ..
            }
        )
    }

    /// The fault of a radius that lies beyond the wall.
    pub(super) fn beyond_the_wall(&self) -> Option<Fault> {
        let (Some(Value::Known(radius)), Value::Known(diameter)) = (&self.radius, &self.diameter) else {
            return None;
        };
        (2.0 * radius.quantity().value > diameter.quantity().value * (1.0 + 1e-12)).then(|| {
            Fault::new(format!(
                "the radius is {}, beyond the wall of a pipe of {}",
                radius.ascii(),
                diameter.ascii()
            ))
            .mend("write a distance from the centre line of at most half the diameter")
        })
    }

    /// What is solved for; none where nothing of the sort is unknown.
    pub fn unknown(&self) -> Option<Unknown> {
        let missing = |value: &Value| matches!(value, Value::Unknown);
        let motion = match &self.motion {
            ProfileMotion::Flow(v) | ProfileMotion::Mean(v) | ProfileMotion::Centre(v) => missing(v),
            ProfileMotion::Collected { .. } => false,
        };
        [
            (motion, Unknown::Motion),
            (missing(self.drive.value()), Unknown::Drive),
            (self.asks_viscosity(), Unknown::Viscosity),
            (missing(&self.diameter), Unknown::Diameter),
            (self.length.as_ref().is_some_and(missing), Unknown::Length),
        ]
        .into_iter()
        .find(|(is, _)| *is)
        .map(|(_, unknown)| unknown)
    }

    /// The fluid's values with this dynamic viscosity where it is asked; else as [`Surroundings::fluid_values`].
    ///
    /// # Errors
    /// A temperature out of range, or a formula that is not resolved.
    pub fn fluid_values(&self, figures: Option<u32>, dynamic_viscosity: f64) -> Checked<FluidValues> {
        let mut around = self.surroundings.clone();
        if let (true, Fluid::Given { viscosity, .. }) = (self.asks_viscosity(), &mut around.fluid) {
            *viscosity = Value::Known(Written {
                number: dynamic_viscosity,
                shown: Shown::new(dynamic_viscosity, 4),
                figures: 4,
                unit: Slot::DynamicViscosity.unit(Dimension::DYNAMIC_VISCOSITY),
            });
        }
        around.fluid_values(figures)
    }

    /// The problem in SI numbers, its fluid's properties rounded to `figures` figures.
    ///
    /// # Errors
    /// Everything that keeps it from being solved.
    pub fn problem(&self, figures: Option<u32>) -> Checked<Problem> {
        let mut faults = System::Profile(Box::new(self.clone())).faults_before_solving(1..=1);
        let unknown = self.unknown();
        if unknown.is_none() && faults.is_empty() {
            faults.push(
                Fault::new(
                    "a profile can be solved for the motion, for what drives it, for the viscosity, the diameter or the length",
                )
                .mend("make one of these `unknown`, and give the other values"),
            );
        }
        let (Some(unknown), true) = (unknown, faults.is_empty()) else {
            return Err(Faults(faults));
        };
        // A viscosity that is asked may be anything here.
        let fluid = self.fluid_values(figures, 1.0)?;
        let or = |value: &Option<Value>, default: f64| value.as_ref().map_or(default, number);
        let mut problem = Problem {
            tube: Tube {
                density: fluid.density.quantity().value,
                dynamic_viscosity: fluid.dynamic_viscosity.quantity().value,
                gravity: number(&self.surroundings.gravity),
                diameter: number(&self.diameter),
                length: self.length.as_ref().map(number),
                roughness: or(&self.roughness, 0.0),
                motion: match &self.motion {
                    ProfileMotion::Flow(value) => Motion::Flow(number(value)),
                    ProfileMotion::Mean(value) => Motion::Mean(number(value)),
                    ProfileMotion::Centre(value) => Motion::Centre(number(value)),
                    ProfileMotion::Collected { volume, time } => Motion::Flow(number(volume) / number(time)),
                },
                drive: match &self.drive {
                    ProfileDrive::PressureDrop(value) => Drive::PressureDrop(number(value)),
                    ProfileDrive::Head(value) => Drive::Head(number(value)),
                    ProfileDrive::WallShear(value) => Drive::WallShear(number(value)),
                },
                end_correction: or(&self.end_correction, 0.0),
                kinetic_correction: or(&self.kinetic_correction, 0.0),
                exponent: self
                    .exponent
                    .as_ref()
                    .map_or(Exponent::FromFriction, |n| Exponent::Given(number(n))),
                radius: self.radius.as_ref().map(number),
            },
            unknown,
        };
        problem.put(f64::NAN);
        Ok(problem)
    }

    /// Why there is no answer, for the person who wrote the system.
    pub fn fault(&self, error: &SolveError) -> Fault {
        let name = System::Profile(Box::new(self.clone())).unknown_name();
        match error {
            SolveError::OnlyAtJump { reynolds, .. } => Fault::new(format!(
                "the {name} has no certain value: the flow would lie at the jump between laminar and turbulent, at Re = {}",
                Shown::new(*reynolds, 3).ascii()
            ))
            .mend("change a value, so that the flow is clearly laminar or clearly turbulent"),
            SolveError::Impossible { what, value } => {
                Fault::new(format!("the {what} can't be {}", Shown::new(*value, 3).ascii()))
                    .mend("check the value and its unit")
            }
            _ => Fault::new(format!("the {name} can't be found: {}", solve_error_in_short(error)))
                .mend("check the other values and their units"),
        }
    }
}
