//! A system solved, and what the solver has to say in words.

use super::PathCase;
use super::kind::{Remark, Unsolved};
use super::units::{Kind, shown};
use crate::bank::course::{Conventions, UnitSystem};
use crate::bank::system::{Element, PathSystem, solve_error_in_short, solve_fault};
use crate::fault::{Checked, Fault};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::grade::Place;
use crate::hydraulics::nominal::nominal;
use crate::hydraulics::regime::Limits;
use crate::hydraulics::sizes::Series;
use crate::hydraulics::solve::{Problem, SolveError, Unknown, Warning, solve};
use crate::quantity::{DecimalMark, Shown};

impl PathCase {
    /// Solves a system whose formulas are resolved, with every friction factor from Colebrook–White. A named
    /// fluid's properties are rounded to `property_figures` significant figures (`None`: not rounded).
    ///
    /// # Errors
    /// Everything that is wrong with the system, or why it has no answer.
    pub fn solve(system: PathSystem, property_figures: Option<u32>, limits: &Limits) -> Checked<Self> {
        Self::try_solve(system, property_figures, limits).map_err(|unsolved| unsolved.faults)
    }

    /// The pipe whose diameter a nominal size takes the place of, and the series that it is from.
    pub(crate) fn sized(&self) -> Option<(usize, &'static Series)> {
        match self.system.unknown() {
            Some(Unknown::Diameter(pipe)) => self.system.sizes.map(|series| (pipe, series)),
            _ => None,
        }
    }

    /// The same system solved with other readings.
    pub(super) fn read_otherwise(&self, readings: &[Reading], limits: &Limits) -> Checked<Self> {
        let mut problem = Problem {
            path: self.solved.path.clone(),
            flow: self.solved.state.flow,
            unknown: self.system.unknown().unwrap_or(Unknown::Flow),
        };
        let solved = problem
            .put(f64::NAN)
            .and_then(|()| solve(&problem, readings, limits))
            .map_err(|e| solve_fault(&e, &self.system))?;
        Ok(Self {
            solved,
            ..self.clone()
        })
    }

    /// The same, with a short reason.
    pub(super) fn try_solve(
        system: PathSystem,
        property_figures: Option<u32>,
        limits: &Limits,
    ) -> Result<Self, Unsolved> {
        let problem = system.problem(property_figures)?;
        let fluid = system.fluid_values(property_figures)?;
        let readings = vec![Reading::EXACT; system.pipe_names().len()];
        let solved = solve(&problem, &readings, limits)
            .map_err(|e| Unsolved::new(solve_error_in_short(&e), solve_fault(&e, &system)))?;
        if let (Some(series), Unknown::Diameter(pipe)) = (system.sizes, problem.unknown) {
            nominal(&solved.path, &solved.state, pipe, series, limits).map_err(|e| match e {
                SolveError::NoSolution {
                    tried: (_, widest),
                    why,
                } => Unsolved::new(
                    why,
                    Fault::new(format!(
                        "no size of {} is wide enough: {} are needed, and the widest has {}",
                        series.name,
                        say(Kind::Bore, solved.value),
                        say(Kind::Bore, widest)
                    ))
                    .mend("name another series, or leave `sizes` out"),
                ),
                other => Unsolved::new(solve_error_in_short(&other), solve_fault(&other, &system)),
            })?;
        }
        Ok(Self {
            system,
            fluid,
            solved,
        })
    }
}

/// A value in words for a message: SI, four figures.
fn say(kind: Kind, si: f64) -> String {
    let conventions = Conventions {
        units: UnitSystem::Si,
        decimal_mark: DecimalMark::Point,
        figures: 4,
        property_figures: 4,
    };
    shown(kind, si, &conventions).plain(DecimalMark::Point)
}

/// A pure number in words.
fn say_number(value: f64) -> String {
    Shown::new(value, 4).plain(DecimalMark::Point)
}

/// What kind of value an unknown is.
pub(super) fn kind_of(unknown: Unknown) -> Kind {
    match unknown {
        Unknown::Flow => Kind::Flow,
        Unknown::Diameter(_) | Unknown::Roughness(_) => Kind::Bore,
        Unknown::LossCoefficient(_) => Kind::Number,
        Unknown::StartPressure | Unknown::EndPressure => Kind::Pressure,
        Unknown::Length(_)
        | Unknown::StartElevation
        | Unknown::EndElevation
        | Unknown::PumpHead(_)
        | Unknown::TurbineHead(_) => Kind::Length,
        Unknown::PumpPower(_) | Unknown::TurbinePower(_) => Kind::Power,
        Unknown::PumpSpeed(_) => Kind::Speed,
        Unknown::PumpTrim(_) => Kind::Bore,
    }
}

/// The name of a pipe.
fn pipe_name(system: &PathSystem, pipe: usize) -> String {
    system
        .pipe_names()
        .get(pipe)
        .map_or_else(|| format!("number {}", pipe + 1), |n| (*n).to_owned())
}

/// The name of an element of the path.
pub(super) fn element_name(element: &Element) -> &str {
    match element {
        Element::Pipe { name, .. }
        | Element::Loss { name, .. }
        | Element::Pump { name, .. }
        | Element::Turbine { name, .. } => name,
    }
}

/// What a point of the grade line is called: `before gate valve`, `at summit`.
pub(super) fn place_name(place: Place, system: &PathSystem) -> String {
    let element = |i: usize| system.path.get(i).map(element_name).unwrap_or_default();
    match place {
        Place::Start => system.start.name.clone().unwrap_or_else(|| "start".to_owned()),
        Place::End => system.end.name.clone().unwrap_or_else(|| "end".to_owned()),
        Place::Before(i) => format!("before {}", element(i)),
        Place::Behind(i) => format!("behind {}", element(i)),
        Place::Point(n) => system
            .point_names()
            .get(n)
            .map_or_else(String::new, |name| (*name).to_owned()),
    }
}

/// What the solver has to say about an answer.
pub(super) fn remark(warning: &Warning, system: &PathSystem) -> Remark {
    Remark {
        text: warning_text(warning, system),
        short: match warning {
            Warning::CriticalZone { .. } => "flow in the critical zone",
            Warning::Cavitation { .. } => "pressure below vapour pressure",
            Warning::NpshShort { .. } => "less NPSH than the pump needs",
            Warning::UnusualVelocity { .. } => "an unusual velocity",
            Warning::WideJet { .. } => "a jet wider than its pipe",
            Warning::OffChart { .. } => "off the friction chart",
            Warning::HydraulicDiameter { .. } => "a duct that its hydraulic diameter misjudges",
            Warning::SecondSolution { .. } => "a second solution",
        },
        critical: matches!(warning, Warning::CriticalZone { .. }),
        choice: matches!(warning, Warning::SecondSolution { .. }),
    }
}

/// What the solver has to say about an answer, as one sentence without a full stop.
pub fn warning_text(warning: &Warning, system: &PathSystem) -> String {
    match warning {
        Warning::CriticalZone { pipe, reynolds } => format!(
            "the flow in pipe `{}` is in the critical zone (Re = {}), where no friction factor is certain",
            pipe_name(system, *pipe),
            say_number(*reynolds)
        ),
        Warning::Cavitation {
            after,
            point,
            pressure,
            vapour_pressure,
        } => {
            let named = point.and_then(|n| system.point_names().get(n).copied());
            let place = match after.checked_sub(1).and_then(|i| system.path.get(i)) {
                _ if named.is_some() => format!("at `{}`", named.unwrap_or_default()),
                Some(element) => format!("behind `{}`", element_name(element)),
                None => "at the start".to_owned(),
            };
            if *vapour_pressure == 0.0 {
                return format!(
                    "the absolute pressure {place} would be {}, below absolute vacuum: no fluid can flow like this",
                    say(Kind::Pressure, *pressure)
                );
            }
            format!(
                "the absolute pressure {place} would be {}, below the vapour pressure of {}: the liquid boils there",
                say(Kind::Pressure, *pressure),
                say(Kind::Pressure, *vapour_pressure)
            )
        }
        Warning::NpshShort {
            pump,
            available,
            required,
        } => {
            let mut pumps = system.path.iter().filter(|e| matches!(e, Element::Pump { .. }));
            format!(
                "the pump `{}` has an NPSH of {}, less than the {} that it needs: it cavitates",
                pumps.nth(*pump).map(element_name).unwrap_or_default(),
                say(Kind::Length, *available),
                say(Kind::Length, *required)
            )
        }
        Warning::UnusualVelocity { pipe, velocity } => format!(
            "the velocity in pipe `{}` is {}, out of the ordinary range",
            pipe_name(system, *pipe),
            say(Kind::Velocity, *velocity)
        ),
        Warning::WideJet { at_start, ratio } => format!(
            "the jet at the {} is {} times as wide as its pipe, which no nozzle makes",
            if *at_start { "start" } else { "end" },
            say_number(*ratio)
        ),
        Warning::OffChart { pipe } => {
            format!(
                "the flow in pipe `{}` is off the friction chart",
                pipe_name(system, *pipe)
            )
        }
        Warning::HydraulicDiameter { pipe, effective } => format!(
            "turbulent friction in `{}` is reckoned on its hydraulic diameter, which may be some 10 to 15 % off for \
             this shape; its effective diameter is {}",
            pipe_name(system, *pipe),
            say(Kind::Bore, *effective)
        ),
        Warning::SecondSolution { value } => {
            let unknown = system.unknown();
            let value = unknown.map_or_else(|| say_number(*value), |u| say(kind_of(u), *value));
            format!(
                "a second {} solves the energy equation as well: {value}",
                system.unknown_name()
            )
        }
    }
}
