//! `gauges`: a main that leaks between two gauges, as people write it.

use super::kind::{Kind, ResultName, Surroundings};
use super::problem::{gauge, number};
use super::slot::{Of, Slot};
use super::{System, Value};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::leak::{Gauge, LeakError, Problem, Unknown};
use crate::hydraulics::path::{Pipe, Section};
use crate::quantity::{Dimension, Shown};

/// Names of the main above the leak and below it.
const REACHES: [&str; 2] = ["upstream", "downstream"];

/// What is read at one gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeReading {
    /// What it is called.
    pub name: Option<String>,
    /// Pressure; gauge unless its unit says absolute.
    pub pressure: Value,
    /// Elevation.
    pub elevation: Value,
    /// Volume flow.
    pub flow: Value,
}

/// A main that leaks between two gauges.
#[derive(Debug, Clone, PartialEq)]
pub struct LeakSystem {
    /// What it stands in.
    pub surroundings: Surroundings,
    /// Above the leak.
    pub start: GaugeReading,
    /// Below it.
    pub end: GaugeReading,
    /// What the main is called.
    pub pipe: String,
    /// Its inner diameter.
    pub diameter: Value,
    /// Its length from gauge to gauge.
    pub length: Value,
    /// Its roughness.
    pub roughness: Value,
    /// Distance from the start gauge to the leak.
    pub distance: Value,
}

impl Kind for LeakSystem {
    fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }

    fn surroundings_mut(&mut self) -> &mut Surroundings {
        &mut self.surroundings
    }

    fn values(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        for (gauge, of) in [(&mut self.start, Of::Start), (&mut self.end, Of::End)] {
            f(Slot::Pressure, of, &mut gauge.pressure);
            f(Slot::Elevation, of, &mut gauge.elevation);
            f(Slot::Flow, of, &mut gauge.flow);
        }
        let of = Of::Element(&self.pipe);
        f(Slot::Diameter, of, &mut self.diameter);
        f(Slot::Length, of, &mut self.length);
        f(Slot::Roughness, of, &mut self.roughness);
        f(Slot::Distance, Of::Element("the leak"), &mut self.distance);
    }

    fn pipe_names(&self) -> Vec<&str> {
        REACHES.to_vec()
    }

    fn results(&self) -> Vec<ResultName> {
        let mut all: Vec<_> = [
            ("D", "inner diameter", Dimension::LENGTH),
            ("L", "length from gauge to gauge", Dimension::LENGTH),
            ("eps", "roughness", Dimension::LENGTH),
            ("A", "area of the cross-section", Dimension::AREA),
            ("rr", "relative roughness ε/D", Dimension::NONE),
            ("Q_1", "volume flow at the start", Dimension::FLOW),
            ("Q_2", "volume flow at the end", Dimension::FLOW),
            ("Q_leak", "what the leak takes", Dimension::FLOW),
            ("x", "distance from the start to the leak", Dimension::LENGTH),
            ("p_1", "gauge pressure at the start", Dimension::PRESSURE),
            ("p_2", "gauge pressure at the end", Dimension::PRESSURE),
            (
                "p_leak",
                "gauge pressure in the main at the leak",
                Dimension::PRESSURE,
            ),
            ("z_1", "elevation of the start", Dimension::LENGTH),
            ("z_2", "elevation of the end", Dimension::LENGTH),
            ("h_L", "all head lost", Dimension::LENGTH),
        ]
        .into_iter()
        .map(|(name, meaning, dimension)| ResultName::plain(name, meaning, dimension))
        .collect();
        for (base, meaning, dimension) in [
            ("V", "mean velocity", Dimension::VELOCITY),
            ("Re", "Reynolds number", Dimension::NONE),
            ("f", "Darcy friction factor", Dimension::NONE),
            ("S", "friction slope: head lost on each metre", Dimension::NONE),
            ("h_f", "head lost to friction", Dimension::LENGTH),
        ] {
            all.extend(ResultName::of_pipes(base, meaning, dimension, &REACHES));
        }
        all
    }

    fn stated(&self, result: &str) -> Option<&Value> {
        Some(match result {
            "D" => &self.diameter,
            "L" => &self.length,
            "eps" => &self.roughness,
            "Q_1" => &self.start.flow,
            "Q_2" => &self.end.flow,
            "x" => &self.distance,
            "p_1" => &self.start.pressure,
            "p_2" => &self.end.pressure,
            "z_1" => &self.start.elevation,
            "z_2" => &self.end.elevation,
            _ => return None,
        })
    }
}

impl LeakSystem {
    /// The problem in SI numbers, its fluid's properties rounded to `figures` figures.
    ///
    /// # Errors
    /// Everything that keeps it from being solved.
    pub fn problem(&self, figures: Option<u32>) -> Checked<Problem> {
        let mut faults = System::Leak(Box::new(self.clone())).faults_before_solving(1..=1);
        let unknown = match (&self.distance, &self.end.flow) {
            (Value::Unknown, _) => Unknown::Distance,
            (_, Value::Unknown) => Unknown::EndFlow,
            _ => {
                faults.push(
                    Fault::new(
                        "a main that leaks can be solved for the distance of the leak or the flow at the end",
                    )
                    .mend("make one of the two `unknown`, and give the other values"),
                );
                Unknown::Distance
            }
        };
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        let fluid = self.surroundings.fluid_values(figures)?;
        let atmosphere = number(&self.surroundings.atmosphere);
        let read = |at: &GaugeReading| Gauge {
            pressure: gauge(&at.pressure, atmosphere),
            elevation: number(&at.elevation),
            flow: number(&at.flow),
        };
        Ok(Problem {
            density: fluid.density.quantity().value,
            dynamic_viscosity: fluid.dynamic_viscosity.quantity().value,
            gravity: number(&self.surroundings.gravity),
            start: read(&self.start),
            end: read(&self.end),
            pipe: Pipe {
                diameter: number(&self.diameter),
                length: number(&self.length),
                roughness: number(&self.roughness),
                section: Section::ROUND,
            },
            distance: number(&self.distance),
            unknown,
        })
    }

    /// Why there is no answer, for the person who wrote the system.
    pub fn fault(&self, error: &LeakError) -> Fault {
        let short = |value: f64| Shown::new(value, 3).ascii();
        match error {
            LeakError::NothingLost => Fault::new(
                "as much leaves at the end as enters at the start, so that nothing leaks",
            )
            .mend("check the two flows; that at the end must be the smaller one"),
            LeakError::OffTheMain { share } => Fault::new(format!(
                "the leak would lie at {} of the way from start to end, which is not on the main",
                short(*share)
            ))
            .mend("check pressures, elevations and flows; a leak on the main lies at 0 to 1 of the way"),
            LeakError::NoFlowFits { head, without_leak } => Fault::new(format!(
                "no leak at this place explains the gauges: {} m of head lie between them, and without a leak {} m would be lost",
                short(*head),
                short(*without_leak)
            ))
            .mend("check pressures, elevations and the flow; a leak makes the head between the gauges smaller"),
            LeakError::Impossible { what, value } => {
                Fault::new(format!("{what} can't be {}", short(*value))).mend("check the value and its unit")
            }
        }
    }
}
