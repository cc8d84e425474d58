//! A system of any kind, solved, and what every kind but the path tells of its solution.

use super::results::{Binder, fluid_and_gravity, known, results};
use super::units::Kind;
use super::{PathCase, Step, case};
use crate::bank::course::Conventions;
use crate::bank::system::{FluidValues, System, Value};
use crate::equation::{Bindings, EquationError};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::regime::{Limits, Regime};
use crate::quantity::{PressureReference, Quantity, Written};
use crate::solution::ageing::AgeingCase;
use crate::solution::leak::LeakCase;
use crate::solution::meter::MeterCase;
use crate::solution::network::NetworkCase;
use crate::solution::profile::ProfileCase;
use crate::solution::tank::TankCase;

/// A system of any kind, solved.
#[derive(Debug, Clone, PartialEq)]
pub enum Case {
    /// One run of pipes between two stations.
    Path(Box<PathCase>),
    /// A main that leaks between two gauges.
    Leak(Box<LeakCase>),
    /// A tank that fills or empties.
    Tank(Box<TankCase>),
    /// A flow meter.
    Meter(Box<MeterCase>),
    /// Flow in one round pipe, seen across the pipe.
    Profile(Box<ProfileCase>),
    /// A pipe that grows rougher.
    Ageing(Box<AgeingCase>),
    /// A network of pipes.
    Network(Box<NetworkCase>),
}

/// What flows in a pipe, or in whatever has a friction factor and a regime of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Flowing {
    /// Its name.
    pub name: String,
    /// Reynolds number \[–\].
    pub reynolds: f64,
    /// ε/D \[–\].
    pub relative_roughness: f64,
    /// `Re √f (ε/D)` \[–\].
    pub rough_number: f64,
    /// Regime.
    pub regime: Regime,
}

/// Something about an answer that a person should know.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark {
    /// One sentence without a full stop.
    pub text: String,
    /// The same in a few words and without numbers, such as `an unusual velocity`: why a draw is not dealt.
    pub short: &'static str,
    /// Whether it is the critical zone, which a template may ask for.
    pub critical: bool,
    /// Whether a person has to decide: between two answers, or what to make of one that can't come about.
    pub choice: bool,
}

/// Why a system has no answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Unsolved {
    /// In a few words and without numbers, such as `no flow`: candidates are counted by it.
    pub short: String,
    /// In full.
    pub faults: Faults,
}

impl Unsolved {
    /// From one fault.
    pub(crate) fn new(short: impl Into<String>, fault: impl Into<Faults>) -> Self {
        Self {
            short: short.into(),
            faults: fault.into(),
        }
    }
}

/// A result by name.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Found {
    /// Its name, as [`System::results`] lists it.
    pub(crate) name: String,
    /// What it is the value of.
    pub(crate) kind: Kind,
    /// Its value, SI, in full precision.
    pub(crate) si: f64,
    /// As the system states it, where it does.
    pub(crate) stated: Option<Written>,
}

impl Found {
    /// One with the value as the system states it, where it does.
    pub(crate) fn new(name: impl Into<String>, kind: Kind, si: f64, stated: Option<&Value>) -> Self {
        Self {
            name: name.into(),
            kind,
            si,
            stated: stated.and_then(known).cloned(),
        }
    }

    /// A pressure that is gauge, whatever the system states: an absolute one is printed as computed.
    pub(crate) fn gauge(mut self) -> Self {
        self.stated = self
            .stated
            .filter(|w| w.unit.reference != Some(PressureReference::Absolute));
        self
    }
}

/// What a kind of system beside the path tells of its solution.
pub(crate) trait Solution {
    /// Its own results by name, but for those of fluid and gravity.
    fn found(&self) -> Vec<Found>;

    /// The same as numbers, nothing stated.
    fn numbers(&self) -> Vec<(String, Quantity)> {
        (self.found().into_iter())
            .map(|f| (f.name, Quantity::new(f.si, f.kind.dimension())))
            .collect()
    }

    /// The numbers of [`Solution::numbers`] without their names, where these are the same for every solution of the
    /// system.
    fn values(&self) -> Option<Vec<Quantity>> {
        None
    }

    /// What flows, in the order of readings.
    fn flowing(&self) -> Vec<Flowing>;

    /// What a person should know.
    fn remarks(&self, limits: &Limits) -> Vec<Remark>;

    /// The names of the results that answer the system's own question, and how to call each in a sentence.
    fn answers(&self) -> Vec<(String, String)>;

    /// The worked solution but for its last step, the answers.
    ///
    /// # Errors
    /// As [`crate::equation::Expr::evaluate`].
    fn worked(&self, limits: &Limits, conventions: &Conventions) -> Result<Vec<Step>, EquationError>;

    /// SI numbers as JSON, ending with a line feed.
    fn json(&self, limits: &Limits) -> String;

    /// The same system solved with other readings.
    fn again(&self, readings: &[Reading], limits: &Limits) -> Result<Case, Unsolved>;
}

impl Case {
    /// Solves a system whose formulas are resolved, with every friction factor from Colebrook–White. A named
    /// fluid's properties are rounded to `property_figures` significant figures (`None`: not rounded).
    ///
    /// # Errors
    /// Everything that is wrong with the system, or why it has no answer.
    pub fn solve(system: System, property_figures: Option<u32>, limits: &Limits) -> Checked<Self> {
        Self::try_solve(system, property_figures, limits).map_err(|unsolved| unsolved.faults)
    }

    /// The same, with a short reason.
    pub(crate) fn try_solve(
        system: System,
        property_figures: Option<u32>,
        limits: &Limits,
    ) -> Result<Self, Unsolved> {
        match system {
            System::Path(path) => {
                PathCase::try_solve(*path, property_figures, limits).map(|case| Self::Path(Box::new(case)))
            }
            System::Leak(leak) => {
                LeakCase::solve(*leak, property_figures, limits).map(|case| Self::Leak(Box::new(case)))
            }
            System::Tank(tank) => {
                TankCase::solve(*tank, property_figures, limits).map(|case| Self::Tank(Box::new(case)))
            }
            System::Profile(profile) => ProfileCase::solve(*profile, property_figures, limits)
                .map(|case| Self::Profile(Box::new(case))),
            System::Meter(meter) => {
                MeterCase::solve(*meter, property_figures, limits).map(|case| Self::Meter(Box::new(case)))
            }
            System::Ageing(ageing) => {
                AgeingCase::solve(*ageing, property_figures, limits).map(|case| Self::Ageing(Box::new(case)))
            }
            System::Network(network) => NetworkCase::solve(*network, property_figures, limits)
                .map(|case| Self::Network(Box::new(case))),
        }
    }

    /// The same system solved with other readings, one for each of [`Case::flowing`].
    ///
    /// # Errors
    /// Why there is no answer.
    pub fn read_otherwise(&self, readings: &[Reading], limits: &Limits) -> Checked<Self> {
        match (self, self.kind()) {
            (Self::Path(case), _) => case
                .read_otherwise(readings, limits)
                .map(|c| Self::Path(Box::new(c))),
            (_, Some(kind)) => kind.again(readings, limits).map_err(|unsolved| unsolved.faults),
            (_, None) => Ok(self.clone()),
        }
    }

    /// The case of a path, if it is one.
    pub fn path(&self) -> Option<&PathCase> {
        match self {
            Self::Path(path) => Some(path),
            _ => None,
        }
    }

    /// What a kind beside the path tells of its solution.
    pub(crate) fn kind(&self) -> Option<&dyn Solution> {
        match self {
            Self::Path(_) => None,
            Self::Leak(leak) => Some(leak.as_ref()),
            Self::Tank(tank) => Some(tank.as_ref()),
            Self::Meter(meter) => Some(meter.as_ref()),
            Self::Profile(profile) => Some(profile.as_ref()),
            Self::Ageing(ageing) => Some(ageing.as_ref()),
            Self::Network(network) => Some(network.as_ref()),
        }
    }

    /// The system, resolved.
    pub fn system(&self) -> System {
        match self {
            Self::Path(case) => System::Path(Box::new(case.system.clone())),
            Self::Leak(case) => System::Leak(Box::new(case.system.clone())),
            Self::Tank(case) => System::Tank(Box::new(case.system.clone())),
            Self::Meter(case) => System::Meter(Box::new(case.system.clone())),
            Self::Profile(case) => System::Profile(Box::new(case.system.clone())),
            Self::Ageing(case) => System::Ageing(Box::new(case.system.clone())),
            Self::Network(case) => System::Network(Box::new(case.system.clone())),
        }
    }

    /// The fluid's values as printed and used.
    pub fn fluid(&self) -> &FluidValues {
        match self {
            Self::Path(case) => &case.fluid,
            Self::Leak(case) => &case.fluid,
            Self::Tank(case) => &case.fluid,
            Self::Meter(case) => &case.fluid,
            Self::Profile(case) => &case.fluid,
            Self::Ageing(case) => &case.fluid,
            Self::Network(case) => &case.fluid,
        }
    }

    /// Acceleration of gravity as written.
    pub fn gravity(&self) -> &Value {
        match self {
            Self::Path(case) => &case.system.gravity,
            Self::Leak(case) => &case.system.surroundings.gravity,
            Self::Tank(case) => &case.system.surroundings.gravity,
            Self::Meter(case) => &case.system.surroundings.gravity,
            Self::Profile(case) => &case.system.surroundings.gravity,
            Self::Ageing(case) => &case.system.surroundings.gravity,
            Self::Network(case) => &case.system.surroundings.gravity,
        }
    }

    /// What flows in each pipe.
    pub fn flowing(&self) -> Vec<Flowing> {
        match (self, self.kind()) {
            (Self::Path(case), _) => (case.system.pipe_names().into_iter().zip(&case.solved.state.pipes))
                .map(|(name, state)| Flowing {
                    name: name.to_owned(),
                    reynolds: state.reynolds,
                    relative_roughness: state.relative_roughness,
                    rough_number: state.rough_number,
                    regime: state.regime,
                })
                .collect(),
            (_, Some(kind)) => kind.flowing(),
            (_, None) => Vec::new(),
        }
    }

    /// The regime in each pipe.
    pub(crate) fn regimes(&self) -> Vec<Regime> {
        match self {
            Self::Path(case) => case.solved.state.pipes.iter().map(|pipe| pipe.regime).collect(),
            _ => self.flowing().iter().map(|flowing| flowing.regime).collect(),
        }
    }

    /// What a person should know about the answer.
    pub fn remarks(&self, limits: &Limits) -> Vec<Remark> {
        match (self, self.kind()) {
            (Self::Path(case), _) => (case.solved.warnings.iter())
                .map(|warning| case::remark(warning, &case.system))
                .collect(),
            (_, Some(kind)) => kind.remarks(limits),
            (_, None) => Vec::new(),
        }
    }

    /// All results by name; see [`super::results`].
    pub fn results(&self, conventions: &Conventions) -> Bindings {
        match (self, self.kind()) {
            (Self::Path(case), _) => results(&case.system, &case.solved, conventions),
            (_, Some(kind)) => {
                let mut binder = Binder::new(conventions);
                fluid_and_gravity(&mut binder, &self.system(), self.fluid());
                for found in kind.found() {
                    binder.state(found.name, found.kind, found.si, found.stated.as_ref());
                }
                binder.bindings
            }
            (_, None) => Bindings::default(),
        }
    }

    /// All results of a kind beside the path as numbers, nothing printed.
    pub(crate) fn numbers(&self) -> Vec<(String, Quantity)> {
        let names = ["rho", "mu", "nu", "g"].map(str::to_owned);
        let mut all: Vec<_> = names.into_iter().zip(self.surrounding_values()).collect();
        all.extend(self.kind().map(Solution::numbers).unwrap_or_default());
        all
    }

    /// The numbers of [`Case::numbers`] without their names, where these are the same for every solution of the system.
    pub(crate) fn values(&self) -> Option<Vec<Quantity>> {
        let own = self.kind()?.values()?;
        Some(self.surrounding_values().into_iter().chain(own).collect())
    }

    /// Density, both viscosities, and gravity.
    fn surrounding_values(&self) -> Vec<Quantity> {
        let fluid = self.fluid();
        let density = fluid.density.quantity();
        let dynamic = fluid.dynamic_viscosity.quantity();
        let kinematic = Quantity::new(
            dynamic.value / density.value,
            Kind::KinematicViscosity.dimension(),
        );
        let gravity = known(self.gravity()).map(Written::quantity);
        [density, dynamic, kinematic].into_iter().chain(gravity).collect()
    }
}

impl From<Fault> for Unsolved {
    fn from(fault: Fault) -> Self {
        Self {
            short: fault.what.clone(),
            faults: fault.into(),
        }
    }
}

impl From<Faults> for Unsolved {
    fn from(faults: Faults) -> Self {
        Self {
            short: faults
                .0
                .first()
                .map_or_else(String::new, |fault| fault.what.clone()),
            faults,
        }
    }
}
