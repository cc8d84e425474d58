//! `ageing`: a pipe that grows rougher with the years, as people write it.

use super::kind::{Kind, ResultName, Surroundings};
use super::problem::number;
use super::slot::{Of, Slot};
use super::{System, Value, solve_error_in_short};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::ageing::{AgeingError, Problem, Unknown};
use crate::quantity::{Dimension, Shown};

/// Names of the two days on which the pipe is looked at.
pub(super) const DAYS: [&str; 2] = ["test", "later"];

/// A pipe that grows rougher.
#[derive(Debug, Clone, PartialEq)]
pub struct AgeingSystem {
    /// What it stands in.
    pub surroundings: Surroundings,
    /// What the pipe is called.
    pub pipe: String,
    /// Its inner diameter.
    pub diameter: Value,
    /// Its length.
    pub length: Value,
    /// Roughness when new.
    pub new: Value,
    /// Growth of roughness with time.
    pub growth: Value,
    /// Age at the test.
    pub age: Value,
    /// Flow in the test.
    pub flow: Value,
    /// Head lost in the test.
    pub head_loss: Value,
    /// Age on a later day.
    pub later: Value,
}

impl Kind for AgeingSystem {
    fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }

    fn surroundings_mut(&mut self) -> &mut Surroundings {
        &mut self.surroundings
    }

    fn values(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        let of = Of::Element(&self.pipe);
        f(Slot::Diameter, of, &mut self.diameter);
        f(Slot::Length, of, &mut self.length);
        f(Slot::Roughness, Of::Element("the new pipe"), &mut self.new);
        f(Slot::Growth, Of::Element("the roughness"), &mut self.growth);
        let test = Of::Element("the test");
        f(Slot::Age, test, &mut self.age);
        f(Slot::Flow, test, &mut self.flow);
        f(Slot::HeadLoss, test, &mut self.head_loss);
        f(Slot::Age, Of::Element("the later day"), &mut self.later);
    }

    fn pipe_names(&self) -> Vec<&str> {
        DAYS.to_vec()
    }

    fn results(&self) -> Vec<ResultName> {
        let mut all: Vec<_> = [
            ("D", "inner diameter", Dimension::LENGTH),
            ("L", "length", Dimension::LENGTH),
            ("A", "area of the cross-section", Dimension::AREA),
            ("eps_new", "roughness when new", Dimension::LENGTH),
            ("growth", "growth of roughness with time", Dimension::VELOCITY),
            ("t_test", "age at the test", Dimension::TIME),
            ("t_later", "age on the later day", Dimension::TIME),
            ("Q", "volume flow in the test", Dimension::FLOW),
            ("V", "mean velocity in the test", Dimension::VELOCITY),
            ("Re", "Reynolds number in the test", Dimension::NONE),
            (
                "Q_later",
                "flow that the head of the test drives on the later day",
                Dimension::FLOW,
            ),
        ]
        .into_iter()
        .map(|(name, meaning, dimension)| ResultName::plain(name, meaning, dimension))
        .collect();
        for (base, meaning, dimension) in [
            ("eps", "roughness", Dimension::LENGTH),
            (
                "f",
                "Darcy friction factor at the flow of the test",
                Dimension::NONE,
            ),
            (
                "h_f",
                "head lost to friction at the flow of the test",
                Dimension::LENGTH,
            ),
        ] {
            all.extend(ResultName::of_pipes(base, meaning, dimension, &DAYS));
        }
        all
    }

    fn stated(&self, result: &str) -> Option<&Value> {
        Some(match result {
            "D" => &self.diameter,
            "L" => &self.length,
            "eps_new" => &self.new,
            "growth" => &self.growth,
            "t_test" => &self.age,
            "t_later" => &self.later,
            "Q" => &self.flow,
            "h_f_test" => &self.head_loss,
            _ => return None,
        })
    }
}

impl AgeingSystem {
    /// The problem in SI numbers, its fluid's properties rounded to `figures` figures.
    ///
    /// # Errors
    /// Everything that keeps it from being solved.
    pub fn problem(&self, figures: Option<u32>) -> Checked<Problem> {
        let mut faults = System::Ageing(Box::new(self.clone())).faults_before_solving(1..=1);
        let missing = |value: &Value| matches!(value, Value::Unknown);
        let unknown = [
            (&self.new, Unknown::New),
            (&self.growth, Unknown::Growth),
            (&self.age, Unknown::Age),
            (&self.head_loss, Unknown::HeadLoss),
        ]
        .into_iter()
        .find(|(value, _)| missing(value))
        .map(|(_, unknown)| unknown);
        if unknown.is_none() && faults.is_empty() {
            faults.push(
                Fault::new(
                    "a pipe that ages can be solved for its roughness when new, the growth of it, its age at the test \
                     or the head lost in the test",
                )
                .mend("make one of these `unknown`, and give the other values"),
            );
        }
        let (Some(unknown), true) = (unknown, faults.is_empty()) else {
            return Err(Faults(faults));
        };
        let fluid = self.surroundings.fluid_values(figures)?;
        Ok(Problem {
            density: fluid.density.quantity().value,
            dynamic_viscosity: fluid.dynamic_viscosity.quantity().value,
            gravity: number(&self.surroundings.gravity),
            diameter: number(&self.diameter),
            length: number(&self.length),
            new_roughness: number(&self.new),
            growth: number(&self.growth),
            age: number(&self.age),
            flow: number(&self.flow),
            head_loss: number(&self.head_loss),
            later_age: number(&self.later),
            unknown,
        })
    }

    /// Why there is no answer, for the person who wrote the system.
    pub fn fault(&self, error: &AgeingError) -> Fault {
        let short = |value: f64| Shown::new(value, 3).ascii();
        match error {
            AgeingError::Smoother { found, least } => Fault::new(format!(
                "the test finds a roughness of {} mm, less than the {} mm that it must be at least",
                short(found * 1e3),
                short(least * 1e3)
            ))
            .mend("check flow, head loss, diameter and length of the test"),
            AgeingError::NoGrowth => Fault::new("a pipe whose roughness does not grow has any age")
                .mend("write a growth above 0, such as `0.03 mm/year`"),
            AgeingError::Impossible { what, value } => {
                Fault::new(format!("the {what} can't be {}", short(*value)))
                    .mend("check the value and its unit")
            }
            AgeingError::Pipe(error) => Fault::new(format!(
                "no roughness explains the test: {}",
                solve_error_in_short(error)
            ))
            .mend("check flow, head loss, diameter and length of the test"),
        }
    }
}
