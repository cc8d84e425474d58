//! What a careful student may take otherwise than the paper has it: properties of a named fluid from a common table,
//! and another usual value of gravity.

use super::Cause;
use crate::bank::course::Policy;
use crate::bank::system::{Fluid, FluidValues, System, Value};
use crate::constants::physical::STANDARD_GRAVITY;
use crate::constants::policy::{USUAL_GRAVITIES, USUAL_GRAVITY_SHARE};
use crate::fault::Checked;
use crate::fluid::Properties;
use crate::hydraulics::regime::Limits;
use crate::quantity::{Dimension, Unit, Written, round_to_figures};
use crate::solution::Case;

/// What else may be taken, as numbers in SI.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Otherwise {
    /// The fluid's properties from a common table, where they are others than the paper's.
    pub(super) table: Option<Properties>,
    /// Other values of gravity \[m/s²\]: the lowest and the highest of the usual ones, where they lie beyond the
    /// paper's. What lies between adds nothing, since over a tenth of a per cent no answer turns back.
    pub(super) gravities: Vec<f64>,
}

impl Otherwise {
    /// What else may be taken than `fluid` with these values as printed, and this gravity.
    pub(super) fn of(fluid: &Fluid, values: &FluidValues, gravity: &Value, policy: &Policy) -> Self {
        let table = if policy.table_properties {
            table(fluid, values)
        } else {
            None
        };
        let gravities = match gravity {
            Value::Known(gravity) if policy.other_gravities => other_gravities(gravity.quantity().value),
            _ => Vec::new(),
        };
        Self { table, gravities }
    }

    /// As [`Self::of`], of a case.
    pub(super) fn of_case(case: &Case, policy: &Policy) -> Self {
        Self::of(case.system().fluid(), case.fluid(), case.gravity(), policy)
    }

    /// All ways of taking them but the paper's own: the table or not with every gravity.
    pub(super) fn ways(&self) -> Vec<Way> {
        let mut all = Vec::new();
        for table in [None, self.table] {
            for gravity in std::iter::once(None).chain(self.gravities.iter().copied().map(Some)) {
                if table.is_some() || gravity.is_some() {
                    all.push(Way { table, gravity });
                }
            }
            if self.table.is_none() {
                break;
            }
        }
        all
    }
}

/// One way of taking properties and gravity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Way {
    /// Properties from a table.
    pub(super) table: Option<Properties>,
    /// Gravity \[m/s²\].
    pub(super) gravity: Option<f64>,
}

impl Way {
    /// The only cause that is at work, if it is only one.
    pub(super) fn cause(&self) -> Option<Cause> {
        match (self.table, self.gravity) {
            (Some(_), None) => Some(Cause::Properties),
            (None, Some(_)) => Some(Cause::Gravity),
            _ => None,
        }
    }

    /// A case taken this way, solved again with every factor read right.
    ///
    /// # Errors
    /// Why it has no answer.
    pub(super) fn solve(&self, case: &Case, limits: &Limits) -> Checked<Case> {
        Case::solve(self.system(&case.system()), figures(case.fluid()), limits)
    }

    /// A system taken this way, to be solved again.
    fn system(&self, system: &System) -> System {
        let mut taken = system.clone();
        let (fluid, gravity) = taken.surroundings_mut();
        if let (Some(_), Fluid::Named { by_table, .. }) = (self.table, fluid) {
            *by_table = true;
        }
        if let Some(value) = self.gravity {
            let unit = Unit {
                dimension: Dimension::ACCELERATION,
                ..Unit::none()
            };
            *gravity = Value::Known(Written::from_si(value, &unit, 15));
        }
        taken
    }
}

/// The figures to which a fluid's values were rounded; `None` where they were not.
fn figures(values: &FluidValues) -> Option<u32> {
    let figures = values.density.figures;
    [&values.density, &values.dynamic_viscosity]
        .iter()
        .all(|value| round_to_figures(value.number, figures) == value.number)
        .then_some(figures)
}

/// A named fluid's properties from a table, where they are others than these.
fn table(fluid: &Fluid, values: &FluidValues) -> Option<Properties> {
    let Fluid::Named { name, .. } = fluid else {
        return None;
    };
    let temperature = values.temperature.as_ref()?.quantity().value;
    let density = values.density.quantity().value;
    // A gas's pressure is that which makes it as dense as it is.
    let unit_pressure = name.properties(temperature, 1.0).ok()?;
    let pressure = density / unit_pressure.density;
    let table = name.table(temperature, pressure).ok()?;
    let same = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.abs();
    let vapour = (values.vapour_pressure.as_ref()).map(|p| p.quantity().value);
    let all_same = same(table.density, density)
        && same(table.dynamic_viscosity, values.dynamic_viscosity.quantity().value)
        && match (table.vapour_pressure, vapour) {
            (Some(table), Some(printed)) => same(table, printed),
            _ => true,
        };
    (!all_same).then_some(table)
}

/// The usual values of gravity beyond `stated`, lowest and highest.
fn other_gravities(stated: f64) -> Vec<f64> {
    let standard = STANDARD_GRAVITY.value;
    if (stated / standard - 1.0).abs() > USUAL_GRAVITY_SHARE {
        return Vec::new();
    }
    let usual = || USUAL_GRAVITIES.into_iter().chain([standard]);
    let low = usual().fold(stated, f64::min);
    let high = usual().fold(stated, f64::max);
    // 32.174 ft/s² is the standard value to its last figure, and no other.
    [low, high]
        .into_iter()
        .filter(|g| (g / stated - 1.0).abs() > 1e-6)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn case(fluid: &str, gravity: &str) -> Case {
        let yaml = format!(
            "
fluid: {{ {fluid} }}
gravity: {gravity}
flow: 2 L/s
stations:
  start: {{ pressure: unknown }}
  end: {{ pressure: 0 kPa, elevation: 3 m }}
path:
  - pipe: {{ name: main, diameter: 40 mm, length: 60 m, roughness: 0.15 mm }}
"
        );
        let system = System::parse(&yaml, "here.yaml").unwrap();
        Case::solve(system, Some(4), &Limits::default()).unwrap()
    }

    #[test]
    fn a_named_fluid_has_a_table_and_gravity_its_usual_values() {
        let policy = Policy::default();
        let of = |fluid: &str, gravity: &str| Otherwise::of_case(&case(fluid, gravity), &policy);
        let water = of("name: water, temperature: 15 degC", "9.81 m/s^2");
        let table = water.table.unwrap();
        assert!((table.dynamic_viscosity - 1.154e-3).abs() < 1e-9);
        assert_eq!(water.gravities, [9.8]);
        assert_eq!(water.ways().len(), 3);
        // At an entry the table says what the paper says.
        let entry = of("name: water, temperature: 20 degC", "9.8 m/s^2");
        assert_eq!((entry.table, entry.gravities.as_slice()), (None, &[9.81][..]));
        assert_eq!(entry.ways().len(), 1);
        let oil = of(
            "density: 880 kg/m^3, dynamic viscosity: 0.03 Pa.s",
            "9.80665 m/s^2",
        );
        assert_eq!((oil.table, oil.gravities.as_slice()), (None, &[9.8, 9.81][..]));
        assert_eq!(
            of("name: water, temperature: 20 degC", "32.2 ft/s^2").gravities,
            [9.8]
        );
        let moon = of("name: water, temperature: 15 degC", "1.62 m/s^2");
        assert!(moon.gravities.is_empty());
        assert_eq!(moon.ways().len(), 1);
        let plain = Policy {
            table_properties: false,
            other_gravities: false,
            ..policy
        };
        let none = Otherwise::of_case(&case("name: water, temperature: 15 degC", "9.81 m/s^2"), &plain);
        assert!(none.ways().is_empty());
    }

    #[test]
    fn a_system_taken_otherwise_is_solved_with_the_other_numbers() {
        let paper = case("name: water, temperature: 15 degC", "9.81 m/s^2");
        let otherwise = Otherwise::of_case(&paper, &Policy::default());
        let solved: Vec<Case> = (otherwise.ways().iter())
            .map(|way| way.solve(&paper, &Limits::default()).unwrap())
            .collect();
        let path = |case: &Case| case.path().unwrap().solved.path.clone();
        for (way, case) in otherwise.ways().iter().zip(&solved) {
            let fluid = way.table.unwrap_or(Properties {
                density: path(&paper).density,
                dynamic_viscosity: path(&paper).dynamic_viscosity,
                vapour_pressure: None,
            });
            assert!((path(case).density / fluid.density - 1.0).abs() < 1e-12);
            assert!((path(case).dynamic_viscosity / fluid.dynamic_viscosity - 1.0).abs() < 1e-12);
            assert_eq!(path(case).gravity, way.gravity.unwrap_or(9.81));
        }
        let air = case("name: air, temperature: 15 degC", "9.81 m/s^2");
        let way = Otherwise::of_case(&air, &Policy::default()).ways()[0];
        let taken = way.solve(&air, &Limits::default()).unwrap();
        let (a, b) = (
            path(&taken).density,
            way.table.map_or(9.81, |table| table.density),
        );
        assert!(way.table.is_none() || (a / b - 1.0).abs() < 1e-4, "{a} and {b}");
    }
}
