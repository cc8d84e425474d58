//! The description of a hydraulic system as people write it, and its way to `hydraulics`.

use crate::equation::{Bindings, Expr};
use crate::fault::Checked;
use crate::fluid::Named;
use crate::hydraulics::solve::Problem;
use crate::quantity::Written;
use std::path::Path;

/// One value of a system.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// What the system is solved for; exactly one value is.
    Unknown,
    /// A value as written.
    Known(Written),
    /// A given's name or a formula over givens; only in a template, and gone once it is resolved.
    Formula(Expr),
}

/// The fluid.
#[derive(Debug, Clone, PartialEq)]
pub enum Fluid {
    /// By name and temperature.
    Named {
        /// Which.
        name: Named,
        /// Temperature.
        temperature: Value,
    },
    /// By its properties.
    Given {
        /// What it is called in the text, such as `gear oil`.
        name: Option<String>,
        /// Density.
        density: Value,
        /// Dynamic viscosity, or kinematic where it is written so (told apart by its dimension).
        viscosity: Value,
        /// Vapour pressure, absolute.
        vapour_pressure: Option<Value>,
    },
}

/// How the velocity at a station is said.
#[derive(Debug, Clone, PartialEq)]
pub enum Velocity {
    /// `velocity: pipe`
    Pipe,
    /// `velocity: 0 m/s`
    Value(Value),
    /// `velocity: { jet: 30 mm }`
    Jet(Value),
}

/// A station.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// What it is called, such as `surface of the reservoir`.
    pub name: Option<String>,
    /// Pressure; gauge unless its unit says absolute.
    pub pressure: Value,
    /// Elevation.
    pub elevation: Value,
    /// Velocity.
    pub velocity: Velocity,
    /// Kinetic-energy factor, where it is fixed.
    pub alpha: Option<Value>,
}

/// What is said of a pump or turbine.
#[derive(Debug, Clone, PartialEq)]
pub enum Duty {
    /// `head:`
    Head(Value),
    /// `power:` (at the shaft)
    Power(Value),
}

/// Something on the path.
#[derive(Debug, Clone, PartialEq)]
pub enum Element {
    /// `pipe:`
    Pipe {
        /// Name; unique on the path.
        name: String,
        /// Inner diameter.
        diameter: Value,
        /// Length.
        length: Value,
        /// Roughness.
        roughness: Value,
    },
    /// `loss:`
    Loss {
        /// Name, such as `gate valve`.
        name: String,
        /// Loss coefficient.
        coefficient: Value,
        /// The pipe whose velocity head it counts on (`in:`), as its index among the pipes; already
        /// settled when read: the pipe just before it, or the first pipe where none is before it.
        pipe: usize,
    },
    /// `pump:`
    Pump {
        /// Name.
        name: String,
        /// Head or power.
        duty: Duty,
        /// Efficiency, where it is given.
        efficiency: Option<Value>,
    },
    /// `turbine:`
    Turbine {
        /// Name.
        name: String,
        /// Head or power.
        duty: Duty,
        /// Efficiency, where it is given.
        efficiency: Option<Value>,
    },
}

/// A system.
#[derive(Debug, Clone, PartialEq)]
pub struct System {
    /// The fluid.
    pub fluid: Fluid,
    /// Acceleration of gravity.
    pub gravity: Value,
    /// Pressure of the air outside, absolute.
    pub atmosphere: Value,
    /// Volume flow.
    pub flow: Value,
    /// Where the flow comes from.
    pub start: Station,
    /// Where it goes.
    pub end: Station,
    /// What lies between, in the order of the flow.
    pub path: Vec<Element>,
}

/// A fluid's properties as a problem takes and prints them.
#[derive(Debug, Clone, PartialEq)]
pub struct FluidValues {
    /// What it is called.
    pub name: String,
    /// Temperature, where the fluid is had by name.
    pub temperature: Option<Written>,
    /// Density.
    pub density: Written,
    /// Dynamic viscosity.
    pub dynamic_viscosity: Written,
    /// Vapour pressure, absolute, where it is known.
    pub vapour_pressure: Option<Written>,
}

impl System {
    /// Reads the system of one file: gravity, atmosphere and elevations may be left out (9.81 m/s²,
    /// 101.325 kPa, 0 m).
    ///
    /// # Errors
    /// Every fault of the file, with its place.
    pub fn read(file: &Path) -> Checked<Self> {
        let _ = file;
        todo!()
    }

    /// Reads a system from YAML text; `file` is what faults call it.
    ///
    /// # Errors
    /// Every fault of the text, with its place.
    pub fn parse(yaml: &str, file: &str) -> Checked<Self> {
        let _ = (yaml, file);
        todo!()
    }

    /// The same system with every formula evaluated.
    ///
    /// # Errors
    /// A formula that can't be evaluated or gives the wrong dimension.
    pub fn resolve(&self, givens: &Bindings) -> Checked<Self> {
        let _ = givens;
        todo!()
    }

    /// The fluid's properties; a named fluid's are looked up, and rounded to `figures` significant figures
    /// where a paper prints them (`None`: not rounded).
    ///
    /// # Errors
    /// A temperature out of range.
    pub fn fluid_values(&self, figures: Option<u32>) -> Checked<FluidValues> {
        let _ = figures;
        todo!()
    }

    /// The problem in SI numbers, its fluid's properties rounded as in [`System::fluid_values`].
    ///
    /// # Errors
    /// A formula that is not resolved, values that are physically impossible, more or fewer than one unknown.
    pub fn problem(&self, figures: Option<u32>) -> Checked<Problem> {
        let _ = figures;
        todo!()
    }

    /// What the unknown is called: `flow`, `diameter of riser`, `pressure at the start`, `K of gate valve`,
    /// `power of booster` …
    pub fn unknown_name(&self) -> String {
        todo!()
    }

    /// The names of the pipes, in order.
    pub fn pipe_names(&self) -> Vec<&str> {
        self.path
            .iter()
            .filter_map(|e| match e {
                Element::Pipe { name, .. } => Some(name.as_str()),
                _ => None,
            })
            .collect()
    }
}
