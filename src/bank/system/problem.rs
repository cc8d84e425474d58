//! From a resolved system to the numbers that `hydraulics` takes, and from its refusals to faults.

use super::duct::{Bore, Duct};
use super::read::loss::wrong_way;
use super::slot::{Of, Slot};
use super::{Duty, Element, Fluid, FluidValues, PathSystem, Station, Value, Velocity};
use crate::constants::policy;
use crate::fault::{Checked, Fault, Faults};
use crate::fluid::{Named, US_CUSTOMARY_UNITS};
use crate::hydraulics::grade::Point;
use crate::hydraulics::path;
use crate::hydraulics::solve::{CurveOf, Problem, SolveError, Unknown};
use crate::quantity::{Dimension, PressureReference, Shown, Unit, Written, round_to_figures};
use std::sync::LazyLock;

/// Figures of properties that are printed without being rounded.
const SHOWN_FIGURES: u32 = 5;

impl PathSystem {
    /// The fluid's properties; a named fluid's are looked up, and rounded to `figures` significant figures
    /// where a paper prints them (`None`: not rounded, though printed with five).
    ///
    /// # Errors
    /// A temperature out of range, or a formula that is not resolved.
    pub fn fluid_values(&self, figures: Option<u32>) -> Checked<FluidValues> {
        fluid_values(&self.fluid, &self.atmosphere, figures)
    }

    /// The problem in SI numbers, its fluid's properties rounded as in [`PathSystem::fluid_values`].
    ///
    /// # Errors
    /// A formula that is not resolved, values that are physically impossible, more or fewer than one unknown.
    pub fn problem(&self, figures: Option<u32>) -> Checked<Problem> {
        let mut faults = Vec::new();
        let mut unknown = Vec::new();
        self.each(&mut |slot, of, value| match value {
            Value::Unknown => unknown.push((slot, slot.label(of))),
            Value::Formula(_) => faults.push(unresolved(slot, of)),
            Value::Known(written) => {
                if !slot.fits(written.unit.dimension) {
                    faults.push(Fault::new(format!(
                        "the {} is {}, but {} is needed",
                        slot.label(of),
                        written.ascii(),
                        slot.needed()
                    )));
                } else if let Some(why) = slot.impossible(written.quantity().value) {
                    faults.push(impossible(slot, of, written, why));
                }
            }
        });
        if unknown.len() != 1 {
            let names: Vec<&str> = unknown.iter().map(|(_, name)| name.as_str()).collect();
            faults.push(if names.is_empty() {
                Fault::new("nothing is unknown").mend("write `unknown` for the value to be solved for")
            } else {
                Fault::new(format!("more than one value is unknown: {}", names.join(", ")))
                    .mend("leave one unknown and give the others")
            });
        }
        for (slot, label) in &unknown {
            if !slot.may_be_unknown() {
                faults
                    .push(Fault::new(format!("a system can't be solved for the {label}")).mend(WHAT_MAY_BE));
            }
        }
        self.check_together(&mut faults);
        if self.pipe_names().is_empty() {
            faults.push(Fault::new("the path has no pipe").mend("add a pipe"));
        }
        if !faults.is_empty() {
            return Err(Faults(faults));
        }

        let fluid = self.fluid_values(figures)?;
        let atmosphere = number(&self.atmosphere);
        let mut counts = Counts::default();
        let elements = self
            .path
            .iter()
            .map(|element| counts.element(element, &mut |_| ()))
            .collect();
        let points = (self.points.iter())
            .map(|point| Point {
                after: point.after,
                along: point.along.as_ref().map_or(0.0, number),
                elevation: number(&point.elevation),
            })
            .collect();
        let station = |station: &Station| path::Station {
            pressure: gauge(&station.pressure, atmosphere),
            elevation: number(&station.elevation),
            velocity: match &station.velocity {
                Velocity::Pipe => path::StationVelocity::Pipe,
                Velocity::Value(v) => path::StationVelocity::Value(number(v)),
                Velocity::Jet(v) => path::StationVelocity::Jet(number(v)),
            },
            alpha: station.alpha.as_ref().map(number),
        };
        let problem = Problem {
            path: path::Path {
                density: fluid.density.quantity().value,
                dynamic_viscosity: fluid.dynamic_viscosity.quantity().value,
                vapour_pressure: fluid.vapour_pressure.map(|v| v.quantity().value),
                atmosphere,
                gravity: number(&self.gravity),
                start: station(&self.start),
                end: station(&self.end),
                elements,
                points,
            },
            flow: number(&self.flow),
            unknown: self.unknown().unwrap_or(Unknown::Flow),
        };
        self.check_areas(&problem.path)?;
        Ok(problem)
    }

    /// Every change of area goes the way that it is said to, as far as the areas are known.
    fn check_areas(&self, path: &path::Path) -> Checked<()> {
        let mut faults = Vec::new();
        for element in &self.path {
            if let Element::Loss { name, by, pipe, .. } = element
                && let Some(wide) = by.wider_pipe()
                && let (Some(narrow), Some(wider)) = (path.pipe(*pipe), path.pipe(wide))
            {
                let size = |pipe: &path::Pipe| format!("{} cm^2", Shown::new(1e4 * pipe.area(), 3).ascii());
                let (before, behind) = if *pipe < wide {
                    (narrow, wider)
                } else {
                    (wider, narrow)
                };
                let ratio = narrow.area() / wider.area();
                faults.extend(wrong_way(name, *by, ratio, &size(before), &size(behind)));
            }
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Faults(faults))
        }
    }

    /// What the system is solved for; `None` where everything is known.
    pub fn unknown(&self) -> Option<Unknown> {
        let ends = [
            (&self.flow, Unknown::Flow),
            (&self.start.pressure, Unknown::StartPressure),
            (&self.end.pressure, Unknown::EndPressure),
            (&self.start.elevation, Unknown::StartElevation),
            (&self.end.elevation, Unknown::EndElevation),
        ];
        let mut found = ends
            .into_iter()
            .find(|(value, _)| matches!(value, Value::Unknown))
            .map(|(_, unknown)| unknown);
        let mut counts = Counts::default();
        for element in &self.path {
            counts.element(element, &mut |unknown| found = found.or(Some(unknown)));
        }
        found
    }

    /// What must hold between values that are known.
    fn check_together(&self, faults: &mut Vec<Fault>) {
        for element in &self.path {
            if let Element::Pipe {
                name,
                bore,
                roughness: Value::Known(e),
                ..
            } = element
            {
                faults.extend(too_rough(name, bore.hydraulic_diameter(), e));
            }
            if let Element::Pipe { name, bore, .. } = element {
                faults.extend(bore.duct().and_then(|duct| duct.fault(name)));
            }
            if let Element::Pump {
                name, duty, details, ..
            } = element
            {
                faults.extend(details.faults(name, duty));
                if details.npsh_required.is_some() && !self.has_vapour_pressure() {
                    faults.push(
                        Fault::new(format!(
                            "the NPSH at `{name}` needs the fluid's vapour pressure, which is not known"
                        ))
                        .mend("add `vapour pressure` to the fluid"),
                    );
                }
            }
        }
        if let Value::Known(atmosphere) = &self.atmosphere {
            for (station, of) in [(&self.start, Of::Start), (&self.end, Of::End)] {
                if let Value::Known(pressure) = &station.pressure {
                    faults.extend(below_vacuum(of, pressure, atmosphere));
                }
            }
        }
    }
}

/// A fluid's properties as [`PathSystem::fluid_values`] gives them.
pub(super) fn fluid_values(fluid: &Fluid, atmosphere: &Value, figures: Option<u32>) -> Checked<FluidValues> {
    // What is interpolated in a table is computed with in full.
    let figures = figures.filter(|_| !matches!(fluid, Fluid::Named { by_table: true, .. }));
    let property = |si: f64, unit: &Unit| {
        let number = unit.from_si(si);
        let number = figures.map_or(number, |n| round_to_figures(number, n));
        let shown = figures.unwrap_or(SHOWN_FIGURES);
        Written {
            number,
            shown: Shown::new(number, shown),
            figures: shown,
            unit: unit.clone(),
        }
    };
    match fluid {
        Fluid::Named {
            name,
            temperature,
            by_table,
            always_si,
        } => {
            let looked_up = if *by_table {
                Named::table
            } else {
                Named::properties
            };
            let temperature = known(temperature, Slot::Temperature, Of::System)?;
            let atmosphere = known(atmosphere, Slot::Atmosphere, Of::System)?;
            let kelvin = temperature.quantity().value;
            let properties = looked_up(*name, kelvin, atmosphere.quantity().value)
                .map_err(|out| Faults::from(out_of_range(*name, temperature, out.range)))?;
            let fahrenheit = temperature.unit.is_us_customary() == Some(true);
            let [density, viscosity, pressure] = property_units(fahrenheit && !*always_si);
            Ok(FluidValues {
                name: name.name().to_owned(),
                temperature: Some(temperature.clone()),
                density: property(properties.density, density),
                dynamic_viscosity: property(properties.dynamic_viscosity, viscosity),
                vapour_pressure: properties.vapour_pressure.map(|p| property(p, pressure)),
            })
        }
        Fluid::Given {
            name,
            density,
            viscosity,
            vapour_pressure,
        } => {
            let density = known(density, Slot::Density, Of::System)?;
            let viscosity = known(viscosity, Slot::Viscosity, Of::System)?;
            let dynamic = if viscosity.unit.dimension == Dimension::KINEMATIC_VISCOSITY {
                // A product, printed with the figures of its factors; it is computed with in full, as
                // any value on the way is.
                let si = viscosity.quantity().value * density.quantity().value;
                let figures = viscosity.figures.max(density.figures).max(3);
                let unit = &property_units(density.unit.is_us_customary() == Some(true))[1];
                let number = unit.from_si(si);
                Written {
                    number,
                    shown: Shown::new(number, figures),
                    figures,
                    unit: unit.clone(),
                }
            } else {
                viscosity.clone()
            };
            Ok(FluidValues {
                name: name.clone().unwrap_or_else(|| "the fluid".to_owned()),
                temperature: None,
                density: density.clone(),
                dynamic_viscosity: dynamic,
                vapour_pressure: vapour_pressure
                    .as_ref()
                    .map(|v| known(v, Slot::VapourPressure, Of::System).cloned())
                    .transpose()?,
            })
        }
    }
}

/// The fault of a pipe of this diameter \[m\] that is rougher than the friction chart goes; none where the diameter
/// is not known.
pub(super) fn too_rough(name: &str, diameter: f64, roughness: &Written) -> Option<Fault> {
    let ratio = roughness.quantity().value / diameter;
    (diameter > 0.0 && ratio > policy::RELATIVE_ROUGHNESS_END).then(|| {
        Fault::new(format!(
            "the relative roughness of `{name}` is {}, beyond the {} at which the friction chart ends",
            Shown::new(ratio, 3).ascii(),
            policy::RELATIVE_ROUGHNESS_END
        ))
        .mend("check the units of roughness and diameter")
    })
}

/// The fault of a pressure that can't be.
pub(super) fn below_vacuum(of: Of<'_>, pressure: &Written, atmosphere: &Written) -> Option<Fault> {
    let outside = if pressure.unit.reference == Some(PressureReference::Absolute) {
        0.0
    } else {
        atmosphere.quantity().value
    };
    (pressure.quantity().value + outside < 0.0).then(|| {
        Fault::new(format!(
            "the {} is {}, which is below vacuum",
            Slot::Pressure.label(of),
            pressure.ascii()
        ))
        .mend(format!(
            "write a gauge pressure above -{}, or one that says `abs`",
            atmosphere.ascii()
        ))
    })
}

/// How to mend an unknown in the wrong place.
pub(super) const WHAT_MAY_BE: &str = "the unknown may be the flow, a pressure, an elevation, a pipe's diameter, \
     length or roughness, a K, a pump's or turbine's head or power, or the speed or impeller of a pump with a curve";

/// How many pipes, losses, pumps and turbines were passed so far.
#[derive(Default)]
struct Counts {
    pipes: usize,
    losses: usize,
    pumps: usize,
    turbines: usize,
}

impl Counts {
    /// The element in SI numbers; `missing` is told of a value that is unknown.
    fn element(&mut self, element: &Element, missing: &mut dyn FnMut(Unknown)) -> path::Element {
        let mut seek = |value: &Value, unknown: Unknown| {
            if matches!(value, Value::Unknown) {
                missing(unknown);
            }
            number(value)
        };
        match element {
            Element::Pipe {
                bore,
                length,
                roughness,
                ..
            } => {
                let i = self.pipes;
                self.pipes += 1;
                path::Element::Pipe(path::Pipe {
                    diameter: match bore {
                        Bore::Round(diameter) => seek(diameter, Unknown::Diameter(i)),
                        Bore::Duct(duct) => duct.hydraulic_diameter(),
                    },
                    length: seek(length, Unknown::Length(i)),
                    roughness: seek(roughness, Unknown::Roughness(i)),
                    section: bore.duct().map_or(path::Section::ROUND, Duct::section),
                })
            }
            Element::Loss {
                coefficient,
                by,
                pipe,
                ..
            } => {
                let i = self.losses;
                self.losses += 1;
                path::Element::Loss {
                    coefficient: by.number(seek(coefficient, Unknown::LossCoefficient(i))),
                    law: by.law(),
                    pipe: *pipe,
                }
            }
            Element::Pump {
                duty,
                efficiency,
                details,
                ..
            } => {
                let i = self.pumps;
                self.pumps += 1;
                path::Element::Pump(details.machine(duty, efficiency.as_ref(), i, &mut seek))
            }
            Element::Turbine {
                duty,
                efficiency,
                electric,
                ..
            } => {
                let i = self.turbines;
                self.turbines += 1;
                let duty = match duty {
                    Duty::Head(v) => path::Duty::Head(seek(v, Unknown::TurbineHead(i))),
                    Duty::Power(v) => path::Duty::Power(seek(v, Unknown::TurbinePower(i))),
                    // No turbine is read with one.
                    Duty::Curve(_) => path::Duty::Head(f64::NAN),
                };
                let mut machine = path::Machine::new(duty, efficiency.as_ref().map_or(1.0, number));
                electric.put(&mut machine);
                path::Element::Turbine(machine)
            }
        }
    }
}

/// The SI number of a value; NaN where it is unknown.
pub(super) fn number(value: &Value) -> f64 {
    match value {
        Value::Known(written) => written.quantity().value,
        Value::Unknown | Value::Formula(_) => f64::NAN,
    }
}

/// The gauge pressure of a value; `atmosphere` \[Pa\] joins an absolute one.
pub(super) fn gauge(value: &Value, atmosphere: f64) -> f64 {
    match value {
        Value::Known(w) if w.unit.reference == Some(PressureReference::Absolute) => {
            w.quantity().value - atmosphere
        }
        other => number(other),
    }
}

fn known<'v>(value: &'v Value, slot: Slot, of: Of<'_>) -> Checked<&'v Written> {
    match value {
        Value::Known(written) => Ok(written),
        Value::Unknown => Err(
            Fault::new(format!("a system can't be solved for the {}", slot.label(of)))
                .mend(WHAT_MAY_BE)
                .into(),
        ),
        Value::Formula(_) => Err(unresolved(slot, of).into()),
    }
}

pub(super) fn unresolved(slot: Slot, of: Of<'_>) -> Fault {
    Fault::new(format!("the {} is still a formula", slot.label(of)))
        .mend("put the givens of a draw in before solving")
}

pub(super) fn impossible(slot: Slot, of: Of<'_>, written: &Written, why: &str) -> Fault {
    Fault::new(format!(
        "the {} is {}, but {why}",
        slot.label(of),
        written.ascii()
    ))
    .mend(format!("write a value such as `{}`", slot.example()))
}

pub(super) fn out_of_range(name: Named, temperature: &Written, range: (f64, f64)) -> Fault {
    let celsius = |kelvin: f64| format!("{:.0} degC", kelvin - 273.15);
    Fault::new(format!(
        "the properties of {} are not known at {}",
        name.name(),
        temperature.ascii()
    ))
    .mend(format!(
        "write a temperature from {} to {}, or give density and viscosity instead",
        celsius(range.0),
        celsius(range.1)
    ))
}

/// Units in which a paper has properties that are looked up: of density, dynamic viscosity and vapour pressure. With degrees
/// Fahrenheit they are US customary.
fn property_units(us_customary: bool) -> &'static [Unit; 3] {
    static UNITS: LazyLock<[[Unit; 3]; 2]> = LazyLock::new(|| {
        let [density, viscosity, ..] = US_CUSTOMARY_UNITS;
        [["kg/m^3", "Pa.s", "kPa"], [density, viscosity, "psi"]].map(|units| {
            units.map(|unit| Unit::parse(unit).expect("these units are ones that `quantity` reads"))
        })
    });
    &UNITS[usize::from(us_customary)]
}

/// What `hydraulics` refuses, in words for the person who wrote the system.
pub fn solve_fault(error: &SolveError, system: &PathSystem) -> Fault {
    let short = |value: f64| Shown::new(value, 3).ascii();
    let name = system.unknown_name();
    match error {
        SolveError::NoFlow { short_by } if !without_flow(system).is_empty() => Fault::new(format!(
            "no flow: without flow {}, and that is {} m of head too little to reach the end station",
            without_flow(system),
            short(*short_by)
        ))
        .mend("take a pump with a greater head without flow, a faster or a second one, or lower the end"),
        SolveError::NoFlow { short_by } => Fault::new(format!(
            "no flow: the end station is {} m of head above the energy available at the start",
            short(*short_by)
        ))
        .mend("raise the pressure or elevation at the start, add a pump, or lower the end"),
        SolveError::NoSolution { tried: (low, high), why } => {
            let unit = system.unknown().map_or("", si_symbol);
            Fault::new(format!(
                "no {name} between {} and {} solves the energy equation: {why}",
                format!("{} {unit}", short(*low)).trim_end(),
                format!("{} {unit}", short(*high)).trim_end()
            ))
            .mend("check the other values of the system, and their signs and units")
        }
        SolveError::OnlyAtJump { pipe, reynolds } => Fault::new(format!(
            "the energy equation balances only where the friction factor jumps between laminar and turbulent flow \
             (pipe `{}`, Re = {}), so the {name} has no certain value",
            system.pipe_names().get(*pipe).copied().unwrap_or_default(),
            short(*reynolds)
        ))
        .mend("change a value, so that the flow is clearly laminar or clearly turbulent"),
        SolveError::OffCurve { pump, what, flow, range: (from, to) } => {
            let pumps: Vec<&str> = system
                .path
                .iter()
                .filter_map(|e| match e {
                    Element::Pump { name, .. } => Some(name.as_str()),
                    _ => None,
                })
                .collect();
            let litres = |flow: f64| format!("{} L/s", short(1000.0 * flow));
            let curve = match what {
                CurveOf::Head => "head",
                CurveOf::Efficiency => "efficiency",
                CurveOf::NpshRequired => "required NPSH",
            };
            let would = if *flow >= *to && what == &CurveOf::Head && flow == to {
                format!("more than {}", litres(*flow))
            } else if flow == from && what == &CurveOf::Head {
                format!("less than {}", litres(*flow))
            } else {
                litres(*flow)
            };
            Fault::new(format!(
                "the pump `{}` would have to pass {would}, but its curve of {curve} is known from {} to {} only",
                pumps.get(*pump).copied().unwrap_or_default(),
                litres(*from),
                litres(*to)
            ))
            .mend("give the curve further points, or another pump or system whose flow lies between those")
        }
        SolveError::Undetermined { why } => Fault::new(format!("the {name} can't be found: {why}"))
            .mend("make another value the unknown"),
        SolveError::Impossible { what, value } => {
            Fault::new(format!("{what} can't be {}", short(*value))).mend("check the value and its unit")
        }
    }
}

/// What each pump with a curve gives without flow, in words; empty where none has one.
fn without_flow(system: &PathSystem) -> String {
    let Ok(problem) = system.problem(None) else {
        return String::new();
    };
    let machines = problem.path.elements.iter().filter_map(|element| match element {
        path::Element::Pump(machine) => Some(&machine.duty),
        _ => None,
    });
    let names = system.path.iter().filter_map(|element| match element {
        Element::Pump { name, .. } => Some(name),
        _ => None,
    });
    let given: Vec<String> = names
        .zip(machines)
        .filter_map(|(name, duty)| match duty {
            path::Duty::Curve(curve) => {
                let head = Shown::new(curve.shut_off_head()?, 3);
                Some(format!("`{name}` gives {} m", head.ascii()))
            }
            _ => None,
        })
        .collect();
    given.join(" and ")
}

/// Why a path has no answer, in a few words.
pub(crate) fn solve_error_in_short(error: &SolveError) -> String {
    match error {
        SolveError::NoFlow { .. } => "there is no flow from start to end".to_owned(),
        SolveError::NoSolution { why, .. } => format!("no solution: {why}"),
        SolveError::OnlyAtJump { .. } => {
            "the energy equation crosses only between laminar and turbulent flow".to_owned()
        }
        SolveError::Undetermined { why } => format!("not settled by the energy equation: {why}"),
        SolveError::OffCurve { .. } => "a pump would run at a flow off its curve".to_owned(),
        SolveError::Impossible { what, .. } => format!("impossible value: {what}"),
    }
}

/// The symbol of the SI unit of an unknown, in ASCII; empty for a pure number.
pub fn si_symbol(unknown: Unknown) -> &'static str {
    match unknown {
        Unknown::Flow => "m3/s",
        Unknown::LossCoefficient(_) => "",
        Unknown::StartPressure | Unknown::EndPressure => "Pa",
        Unknown::Diameter(_)
        | Unknown::Roughness(_)
        | Unknown::Length(_)
        | Unknown::StartElevation
        | Unknown::EndElevation
        | Unknown::PumpHead(_)
        | Unknown::PumpTrim(_)
        | Unknown::TurbineHead(_) => "m",
        Unknown::PumpPower(_) | Unknown::TurbinePower(_) => "W",
        Unknown::PumpSpeed(_) => "1/s",
    }
}
