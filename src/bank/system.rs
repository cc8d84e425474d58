//! The description of a hydraulic system as people write it, and its way to `hydraulics`.

pub mod ageing;
pub mod duct;
mod kind;
pub mod leak;
mod loss;
pub mod meter;
pub mod network;
mod problem;
pub mod profile;
pub mod pump;
pub(super) mod read;
mod slot;
pub mod tank;

pub use duct::{Bore, Duct, DuctShape};
pub(crate) use kind::Kind;
pub(super) use kind::path_results;
pub use kind::{ResultName, Surroundings, System};
pub use loss::{LossBy, Point};
pub(crate) use problem::solve_error_in_short;
pub use problem::{si_symbol, solve_fault};

use super::yaml::{Doc, SIZE};
use crate::equation::{Bindings, Expr};
use crate::fault::{Checked, Fault, Faults};
use crate::fluid::Named;
use crate::hydraulics::sizes::Series;
use crate::quantity::{Dimension, PressureReference, Quantity, Unit, Written};
use crate::store;
use pump::{Curve, Electric, HEADS, PumpDetails};
use slot::{Of, Slot};
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
#[expect(
    clippy::large_enum_variant,
    reason = "a system holds one fluid, and no list of them exists"
)]
pub enum Fluid {
    /// By name and temperature.
    Named {
        /// Which.
        name: Named,
        /// Temperature.
        temperature: Value,
        /// Whether its properties are interpolated in a common table. A description never says so; it is how a
        /// system is taken otherwise than the paper has it.
        by_table: bool,
        /// Whether its properties are rounded and printed in SI units even where the temperature is in degrees
        /// Fahrenheit. A description never says so; what was dealt before they followed the temperature does.
        always_si: bool,
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
    /// `curve:` of its head over the flow; of a pump only.
    Curve(Box<Curve>),
}

/// Something on the path.
#[derive(Debug, Clone, PartialEq)]
pub enum Element {
    /// `pipe:`
    Pipe {
        /// Name; unique on the path.
        name: String,
        /// Inner diameter, or the cross-section of a duct.
        bore: Bore,
        /// Length.
        length: Value,
        /// Roughness.
        roughness: Value,
    },
    /// `loss:`
    Loss {
        /// Name, such as `gate valve`.
        name: String,
        /// The number that it is told by: K, a length, an angle.
        coefficient: Value,
        /// What the number is.
        by: LossBy,
        /// The pipe whose velocity head it counts on (`in:`), as its index among the pipes; already
        /// settled when read: the pipe just before it, or the first pipe where none is before it; the
        /// narrower one at a change of area.
        pipe: usize,
    },
    /// `pump:`
    Pump {
        /// Name.
        name: String,
        /// Head, power or head curve.
        duty: Duty,
        /// Efficiency, where it is given as one value.
        efficiency: Option<Value>,
        /// What else is said of it.
        details: Box<PumpDetails>,
    },
    /// `turbine:`
    Turbine {
        /// Name.
        name: String,
        /// Head or power.
        duty: Duty,
        /// Efficiency, where it is given.
        efficiency: Option<Value>,
        /// The generator.
        electric: Box<Electric>,
    },
}

/// A run of pipes between two stations.
#[derive(Debug, Clone, PartialEq)]
pub struct PathSystem {
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
    /// Points of known elevation on the way, in the order of the flow.
    pub points: Vec<Point>,
    /// The nominal sizes from which the next one up is chosen, where a diameter is unknown (`sizes:`).
    pub sizes: Option<&'static Series>,
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

impl PathSystem {
    /// Reads the system of one file: gravity, atmosphere and elevations may be left out (9.81 m/s²,
    /// 101.325 kPa, 0 m).
    ///
    /// # Errors
    /// Every fault of the file, with its place.
    pub fn read(file: &Path) -> Checked<Self> {
        let text = store::read_text(file, SIZE as u64)?;
        Self::parse(&text, &file.display().to_string())
    }

    /// Reads a system from YAML text; `file` is what faults call it.
    ///
    /// # Errors
    /// Every fault of the text, with its place.
    pub fn parse(yaml: &str, file: &str) -> Checked<Self> {
        let doc = Doc::read(yaml, file)?;
        let system = read::path_system(&doc.root(), None);
        doc.finish(system)
    }

    /// The same system with every formula evaluated.
    ///
    /// A given's name alone takes the given as written. A longer formula's value is rounded to what is
    /// printed of it: with as few figures as give it exactly, from three (or those of a given whose sign alone
    /// is turned) to six.
    ///
    /// # Errors
    /// A formula that can't be evaluated or gives the wrong dimension.
    pub fn resolve(&self, givens: &Bindings) -> Checked<Self> {
        let mut faults = Vec::new();
        let resolved = self.map(&mut |slot, of, value| match value {
            Value::Formula(expr) => match evaluated(expr, slot, givens) {
                Ok(written) => Value::Known(written),
                Err(Faults(found)) => {
                    faults.extend(found.into_iter().map(|fault| Fault {
                        what: format!("{}: {}", slot.label(of), fault.what),
                        ..fault
                    }));
                    value.clone()
                }
            },
            Value::Known(_) | Value::Unknown => value.clone(),
        });
        if faults.is_empty() {
            Ok(resolved)
        } else {
            Err(Faults(faults))
        }
    }

    /// What the unknown is called: `flow`, `diameter of riser`, `pressure at the start`, `K of gate valve`,
    /// `power of booster` …; `nothing` where nothing is unknown.
    pub fn unknown_name(&self) -> String {
        let mut name = None;
        self.each(&mut |slot, of, value| {
            if matches!(value, Value::Unknown) && name.is_none() {
                name = Some(slot.label(of));
            }
        });
        name.unwrap_or_else(|| "nothing".to_owned())
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

    /// Calls `f` with every value, in the order of the file.
    pub(super) fn each(&self, f: &mut dyn FnMut(Slot, Of<'_>, &Value)) {
        let _ = self.map(&mut |slot, of, value| {
            f(slot, of, value);
            Value::Unknown
        });
    }

    /// The same system with every value replaced by what `f` makes of it.
    fn map(&self, f: &mut dyn FnMut(Slot, Of<'_>, &Value) -> Value) -> Self {
        let fluid = match &self.fluid {
            Fluid::Named {
                name,
                temperature,
                by_table,
                always_si,
            } => Fluid::Named {
                name: *name,
                temperature: f(Slot::Temperature, Of::System, temperature),
                by_table: *by_table,
                always_si: *always_si,
            },
            Fluid::Given {
                name,
                density,
                viscosity,
                vapour_pressure,
            } => Fluid::Given {
                name: name.clone(),
                density: f(Slot::Density, Of::System, density),
                viscosity: f(Slot::Viscosity, Of::System, viscosity),
                vapour_pressure: vapour_pressure
                    .as_ref()
                    .map(|v| f(Slot::VapourPressure, Of::System, v)),
            },
        };
        let gravity = f(Slot::Gravity, Of::System, &self.gravity);
        let atmosphere = f(Slot::Atmosphere, Of::System, &self.atmosphere);
        let flow = f(Slot::Flow, Of::System, &self.flow);
        let mut station = |station: &Station, of: Of<'_>| Station {
            name: station.name.clone(),
            pressure: f(Slot::Pressure, of, &station.pressure),
            elevation: f(Slot::Elevation, of, &station.elevation),
            velocity: match &station.velocity {
                Velocity::Pipe => Velocity::Pipe,
                Velocity::Value(v) => Velocity::Value(f(Slot::Velocity, of, v)),
                Velocity::Jet(v) => Velocity::Jet(f(Slot::Jet, of, v)),
            },
            alpha: station.alpha.as_ref().map(|v| f(Slot::Alpha, of, v)),
        };
        let start = station(&self.start, Of::Start);
        let end = station(&self.end, Of::End);
        let mut path = Vec::with_capacity(self.path.len());
        for element in &self.path {
            path.push(match element {
                Element::Pipe {
                    name,
                    bore,
                    length,
                    roughness,
                } => Element::Pipe {
                    name: name.clone(),
                    bore: bore.map(name, f),
                    length: f(Slot::Length, Of::Element(name), length),
                    roughness: f(Slot::Roughness, Of::Element(name), roughness),
                },
                Element::Loss {
                    name,
                    coefficient,
                    by,
                    pipe,
                } => Element::Loss {
                    name: name.clone(),
                    coefficient: match by.slot() {
                        Some(slot) => f(slot, Of::Element(name), coefficient),
                        None => coefficient.clone(),
                    },
                    by: *by,
                    pipe: *pipe,
                },
                Element::Pump {
                    name,
                    duty: d,
                    efficiency,
                    details,
                } => Element::Pump {
                    name: name.clone(),
                    duty: duty_of(d, name, f),
                    efficiency: efficiency
                        .as_ref()
                        .map(|v| f(Slot::Efficiency, Of::Element(name), v)),
                    details: Box::new(details.map(Of::Element(name), f)),
                },
                Element::Turbine {
                    name,
                    duty: d,
                    efficiency,
                    electric,
                } => Element::Turbine {
                    name: name.clone(),
                    duty: duty_of(d, name, f),
                    efficiency: efficiency
                        .as_ref()
                        .map(|v| f(Slot::Efficiency, Of::Element(name), v)),
                    electric: Box::new(electric.map(false, Of::Element(name), f)),
                },
            });
        }
        let points = self.points.iter().map(|point| Point {
            name: point.name.clone(),
            elevation: f(Slot::Height, Of::Element(&point.name), &point.elevation),
            along: (point.along.as_ref()).map(|v| f(Slot::Along, Of::Element(&point.name), v)),
            after: point.after,
        });
        Self {
            points: points.collect(),
            sizes: self.sizes,
            fluid,
            gravity,
            atmosphere,
            flow,
            start,
            end,
            path,
        }
    }
}

fn duty_of(duty: &Duty, name: &str, f: &mut dyn FnMut(Slot, Of<'_>, &Value) -> Value) -> Duty {
    match duty {
        Duty::Head(v) => Duty::Head(f(Slot::Head, Of::Element(name), v)),
        Duty::Power(v) => Duty::Power(f(Slot::Power, Of::Element(name), v)),
        Duty::Curve(curve) => Duty::Curve(Box::new(curve.map(HEADS, Of::Element(name), f))),
    }
}

/// What a formula gives in a slot, as it is printed and computed with.
fn evaluated(expr: &Expr, slot: Slot, givens: &Bindings) -> Checked<Written> {
    let wrong = |dimension: Dimension| {
        Fault::new(format!(
            "the formula gives {}, but {} is needed",
            dimension.name(),
            slot.needed()
        ))
        .mend("check the formula")
    };
    if let Expr::Symbol(name) = expr
        && let Some(bound) = givens.get(name)
    {
        let dimension = bound.written.unit.dimension;
        return if slot.fits(dimension) {
            Ok(bound.written.clone())
        } else {
            Err(wrong(dimension).into())
        };
    }
    let Quantity { value, dimension } = expr.evaluate(givens).map_err(|error| {
        Faults::from(Fault {
            what: error.what,
            place: None,
            mend: error.mend,
        })
    })?;
    if !slot.fits(dimension) {
        return Err(wrong(dimension).into());
    }
    // The unit of the first given of the same dimension, else that of SI.
    let unit = expr
        .symbols()
        .iter()
        .filter_map(|name| givens.get(name))
        .map(|bound| &bound.written.unit)
        .find(|unit| unit.dimension == dimension && unit.reference != Some(PressureReference::Absolute))
        .cloned()
        .unwrap_or_else(|| slot.unit(dimension));
    // A given with its sign turned keeps its figures.
    let least = match expr {
        Expr::Negative(inside) => match &**inside {
            Expr::Symbol(name) => givens.get(name).map_or(3, |bound| bound.written.figures.min(3)),
            _ => 3,
        },
        _ => 3,
    };
    let exact = (least..6)
        .map(|figures| Written::from_si(value, &unit, figures))
        .find(|w| (w.quantity().value - value).abs() <= 1.0e-12 * value.abs());
    Ok(exact.unwrap_or_else(|| Written::from_si(value, &unit, 6)))
}

/// The unit of SI in which a dimension's values are printed where the text names none.
fn si_unit(symbol: &str, dimension: Dimension) -> Unit {
    Unit {
        symbol: symbol.to_owned(),
        dimension,
        ..Unit::none()
    }
}
