//! A system of any kind, and what every kind but the path tells of itself.

use super::ageing::AgeingSystem;
use super::leak::LeakSystem;
use super::meter::MeterSystem;
use super::network::NetworkSystem;
use super::problem::{fluid_values, impossible, unresolved};
use super::profile::ProfileSystem;
use super::slot::{Of, Slot};
use super::tank::TankSystem;
use super::{Fluid, FluidValues, PathSystem, Value, evaluated, read};
use crate::bank::names::{
    LOSS_NAMES, LOWEST_PRESSURE, PIPE_NAMES, PLAIN_NAMES, POINT_NAMES, SIZE_NAMES, pipe_result, pipe_suffix,
    reads_as_name,
};
use crate::bank::yaml::{Doc, SIZE};
use crate::equation::{Bindings, Expr};
use crate::fault::{Checked, Fault, Faults};
use crate::quantity::{Dimension, Written};
use crate::store;
use std::path::Path;

/// A hydraulic model of any kind. Its own top-level key in YAML says which it is.
#[derive(Debug, Clone, PartialEq)]
pub enum System {
    /// `stations` and `path`: one run of pipes between two stations.
    Path(Box<PathSystem>),
    /// `gauges`: a main between two gauges that leaks.
    Leak(Box<LeakSystem>),
    /// `tank`: a tank that fills or empties through a path.
    Tank(Box<TankSystem>),
    /// `profile`: flow in one round pipe, seen across the pipe.
    Profile(Box<ProfileSystem>),
    /// `meter`: a flow meter.
    Meter(Box<MeterSystem>),
    /// `ageing`: a pipe that grows rougher with the years.
    Ageing(Box<AgeingSystem>),
    /// `nodes` and `links`: a network of pipes.
    Network(Box<NetworkSystem>),
}

/// What every kind of system stands in.
#[derive(Debug, Clone, PartialEq)]
pub struct Surroundings {
    /// The fluid.
    pub fluid: Fluid,
    /// Acceleration of gravity.
    pub gravity: Value,
    /// Pressure of the air outside, absolute.
    pub atmosphere: Value,
}

impl Surroundings {
    /// The fluid's properties; see [`PathSystem::fluid_values`].
    ///
    /// # Errors
    /// A temperature out of range, or a formula that is not resolved.
    pub fn fluid_values(&self, figures: Option<u32>) -> Checked<FluidValues> {
        fluid_values(&self.fluid, &self.atmosphere, figures)
    }
}

/// The name of a result, for formulas of parts and constraints.
#[derive(Debug, Clone, PartialEq)]
pub struct ResultName {
    /// Its name, such as `V_riser`.
    pub name: String,
    /// What it is, in a few words.
    pub meaning: String,
    /// Its dimension.
    pub dimension: Dimension,
    /// Its bare name and the index of its pipe, where each pipe has one such.
    pub of_pipe: Option<(String, usize)>,
}

impl ResultName {
    /// A result of the whole system.
    pub(crate) fn plain(name: impl Into<String>, meaning: impl Into<String>, dimension: Dimension) -> Self {
        Self {
            name: name.into(),
            meaning: meaning.into(),
            dimension,
            of_pipe: None,
        }
    }

    /// A result that each of `pipes` has.
    pub(crate) fn of_pipes(base: &str, meaning: &str, dimension: Dimension, pipes: &[&str]) -> Vec<Self> {
        pipes
            .iter()
            .enumerate()
            .map(|(i, pipe)| Self {
                name: pipe_result(base, pipe, pipes.len()),
                meaning: meaning.to_owned(),
                dimension,
                of_pipe: Some((base.to_owned(), i)),
            })
            .collect()
    }
}

/// What a kind of system beside the path tells of itself.
pub(crate) trait Kind {
    /// What it stands in.
    fn surroundings(&self) -> &Surroundings;

    /// The same, to be changed.
    fn surroundings_mut(&mut self) -> &mut Surroundings;

    /// Calls `f` with every value but those of the surroundings, in the order of the file.
    fn values(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value));

    /// Names of what has a friction factor, a Reynolds number and a regime of its own, in the order of readings.
    fn pipe_names(&self) -> Vec<&str>;

    /// Names of its results, but for those of fluid and gravity (`rho`, `mu`, `nu`, `g`).
    fn results(&self) -> Vec<ResultName>;

    /// The value as written that a result's name stands for.
    fn stated(&self, result: &str) -> Option<&Value>;

    /// Which value is unknown, as [`System::unknown_name`] says it, where more is solved for than one value.
    fn sought(&self) -> Option<String> {
        None
    }

    /// Adds what is wrong between values that are each possible.
    fn check_together(&self, _faults: &mut Vec<Fault>) {}
}

impl System {
    /// Reads the system of one file: gravity and atmosphere may be left out (9.81 m/s², 101.325 kPa).
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
        let system = read::system(&doc.root(), None);
        doc.finish(system)
    }

    /// The path system, if it is one.
    pub fn path(&self) -> Option<&PathSystem> {
        match self {
            Self::Path(path) => Some(path),
            _ => None,
        }
    }

    /// What a kind beside the path tells of itself.
    pub(crate) fn kind(&self) -> Option<&dyn Kind> {
        match self {
            Self::Path(_) => None,
            Self::Leak(leak) => Some(leak.as_ref()),
            Self::Tank(tank) => Some(tank.as_ref()),
            Self::Profile(profile) => Some(profile.as_ref()),
            Self::Meter(meter) => Some(meter.as_ref()),
            Self::Ageing(ageing) => Some(ageing.as_ref()),
            Self::Network(network) => Some(network.as_ref()),
        }
    }

    fn kind_mut(&mut self) -> Option<&mut dyn Kind> {
        match self {
            Self::Path(_) => None,
            Self::Leak(leak) => Some(leak.as_mut()),
            Self::Tank(tank) => Some(tank.as_mut()),
            Self::Profile(profile) => Some(profile.as_mut()),
            Self::Meter(meter) => Some(meter.as_mut()),
            Self::Ageing(ageing) => Some(ageing.as_mut()),
            Self::Network(network) => Some(network.as_mut()),
        }
    }

    /// The fluid.
    pub fn fluid(&self) -> &Fluid {
        match (self, self.kind()) {
            (Self::Path(path), _) => &path.fluid,
            (_, Some(kind)) => &kind.surroundings().fluid,
            (_, None) => unreachable!("every kind beside the path tells of itself"),
        }
    }

    /// Acceleration of gravity.
    pub fn gravity(&self) -> &Value {
        match (self, self.kind()) {
            (Self::Path(path), _) => &path.gravity,
            (_, Some(kind)) => &kind.surroundings().gravity,
            (_, None) => unreachable!("every kind beside the path tells of itself"),
        }
    }

    /// Pressure of the air outside, absolute.
    pub fn atmosphere(&self) -> &Value {
        match (self, self.kind()) {
            (Self::Path(path), _) => &path.atmosphere,
            (_, Some(kind)) => &kind.surroundings().atmosphere,
            (_, None) => unreachable!("every kind beside the path tells of itself"),
        }
    }

    /// The fluid and gravity, to be changed.
    pub(crate) fn surroundings_mut(&mut self) -> (&mut Fluid, &mut Value) {
        let around = match self {
            Self::Path(path) => return (&mut path.fluid, &mut path.gravity),
            Self::Leak(leak) => leak.surroundings_mut(),
            Self::Tank(tank) => tank.surroundings_mut(),
            Self::Profile(profile) => profile.surroundings_mut(),
            Self::Meter(meter) => meter.surroundings_mut(),
            Self::Ageing(ageing) => ageing.surroundings_mut(),
            Self::Network(network) => network.surroundings_mut(),
        };
        (&mut around.fluid, &mut around.gravity)
    }

    /// Has a named fluid's properties rounded and printed in SI units, whatever its temperature is in.
    pub(crate) fn keep_properties_in_si(&mut self) {
        if let Fluid::Named { always_si, .. } = self.surroundings_mut().0 {
            *always_si = true;
        }
    }

    /// Whether a named fluid's properties are rounded and printed in SI units, whatever its temperature is in.
    pub(crate) fn keeps_properties_in_si(&self) -> bool {
        matches!(self.fluid(), Fluid::Named { always_si: true, .. })
    }

    /// The fluid's properties; see [`PathSystem::fluid_values`].
    ///
    /// # Errors
    /// A temperature out of range, or a formula that is not resolved.
    pub fn fluid_values(&self, figures: Option<u32>) -> Checked<FluidValues> {
        fluid_values(self.fluid(), self.atmosphere(), figures)
    }

    /// What has a friction factor, a Reynolds number and a regime of its own, in order.
    pub fn pipe_names(&self) -> Vec<&str> {
        match (self, self.kind()) {
            (Self::Path(path), _) => path.pipe_names(),
            (_, Some(kind)) => kind.pipe_names(),
            (_, None) => Vec::new(),
        }
    }

    /// What is sought: `flow`, `diameter of riser`, `distance of the leak`; `nothing` where nothing is unknown.
    pub fn unknown_name(&self) -> String {
        if let Self::Path(path) = self {
            return path.unknown_name();
        }
        if let Some(sought) = self.kind().and_then(Kind::sought) {
            return sought;
        }
        let mut name = None;
        self.each(&mut |slot, of, value| {
            if matches!(value, Value::Unknown) && name.is_none() {
                name = Some(slot.label(of));
            }
        });
        name.unwrap_or_else(|| "nothing".to_owned())
    }

    /// The names of all results, with meaning and dimension.
    pub fn results(&self) -> Vec<ResultName> {
        match (self, self.kind()) {
            (Self::Path(path), _) => {
                let mut all = path_results(&path.pipe_names(), &path.point_names(), &path.loss_names());
                if path.sizes.is_some() {
                    all.extend(SIZE_NAMES.iter().map(plain));
                }
                all.extend(path.machine_result_names());
                all
            }
            (_, Some(kind)) => {
                let everywhere =
                    |entry: &&(&str, &str, Dimension)| matches!(entry.0, "rho" | "mu" | "nu" | "g");
                let mut all: Vec<_> = PLAIN_NAMES.iter().filter(everywhere).map(plain).collect();
                all.extend(kind.results());
                all
            }
            (_, None) => Vec::new(),
        }
    }

    /// The same system with every formula evaluated, as [`PathSystem::resolve`] does.
    ///
    /// # Errors
    /// A formula that can't be evaluated or gives the wrong dimension.
    pub fn resolve(&self, givens: &Bindings) -> Checked<Self> {
        if let Self::Path(path) = self {
            return path.resolve(givens).map(|path| Self::Path(Box::new(path)));
        }
        let mut resolved = self.clone();
        let mut faults = Vec::new();
        resolved.each_mut(&mut |slot, of, value| {
            let Value::Formula(expr) = value else { return };
            match evaluated(expr, slot, givens) {
                Ok(written) => *value = Value::Known(written),
                Err(Faults(found)) => faults.extend(found.into_iter().map(|fault| Fault {
                    what: format!("{}: {}", slot.label(of), fault.what),
                    ..fault
                })),
            }
        });
        if faults.is_empty() {
            Ok(resolved)
        } else {
            Err(Faults(faults))
        }
    }

    /// What each formula that is more than a given's name comes to in a draw, and the formula.
    pub fn worked_out(&self, givens: &Bindings) -> Vec<(Written, Expr)> {
        let mut found = Vec::new();
        let mut look = |slot: Slot, value: &Value| {
            let Value::Formula(expr) = value else { return };
            if !matches!(expr, Expr::Symbol(_))
                && let Ok(written) = evaluated(expr, slot, givens)
            {
                found.push((written, expr.clone()));
            }
        };
        self.each(&mut |slot, _, value| look(slot, value));
        found
    }

    /// What keeps a system of a kind beside the path from being solved: formulas, dimensions, values that can't
    /// be, alone or together. `unknowns` says how many values may be unknown.
    pub(super) fn faults_before_solving(&self, unknowns: std::ops::RangeInclusive<usize>) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut missing = Vec::new();
        self.each(&mut |slot, of, value| match value {
            Value::Unknown => missing.push(slot.label(of)),
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
        if missing.len() < *unknowns.start() {
            faults.push(
                Fault::new("nothing is unknown").mend("write `unknown` for the value to be solved for"),
            );
        }
        if missing.len() > *unknowns.end() {
            faults.push(
                Fault::new(format!("more than one value is unknown: {}", missing.join(", ")))
                    .mend("leave one unknown and give the others"),
            );
        }
        if let Some(kind) = self.kind() {
            kind.check_together(&mut faults);
        }
        faults
    }

    /// Calls `f` with every value.
    pub(in crate::bank) fn each(&self, f: &mut dyn FnMut(Slot, Of<'_>, &Value)) {
        match self {
            Self::Path(path) => path.each(f),
            // A visit that may change values is the only one that a kind has to offer.
            _ => self.clone().each_mut(&mut |slot, of, value| f(slot, of, value)),
        }
    }

    /// Every value that is known, as it is written.
    pub(crate) fn written(&self) -> Vec<Written> {
        let mut all = Vec::new();
        self.each(&mut |_, _, value| {
            if let Value::Known(written) = value {
                all.push(written.clone());
            }
        });
        all
    }

    fn each_mut(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        let Some(kind) = self.kind_mut() else { return };
        let around = kind.surroundings_mut();
        match &mut around.fluid {
            Fluid::Named { temperature, .. } => f(Slot::Temperature, Of::System, temperature),
            Fluid::Given {
                density,
                viscosity,
                vapour_pressure,
                ..
            } => {
                f(Slot::Density, Of::System, density);
                f(Slot::Viscosity, Of::System, viscosity);
                if let Some(pressure) = vapour_pressure {
                    f(Slot::VapourPressure, Of::System, pressure);
                }
            }
        }
        f(Slot::Gravity, Of::System, &mut around.gravity);
        f(Slot::Atmosphere, Of::System, &mut around.atmosphere);
        kind.values(f);
    }

    /// Calls `f` with every formula.
    pub(in crate::bank) fn each_formula(&self, f: &mut dyn FnMut(&Expr)) {
        self.each(&mut |_, _, value| {
            if let Value::Formula(expr) = value {
                f(expr);
            }
        });
    }
}

/// The results of a path with these pipes, points and losses.
pub(in crate::bank) fn path_results(pipes: &[&str], points: &[&str], losses: &[&str]) -> Vec<ResultName> {
    let of_pipes = PIPE_NAMES
        .iter()
        .flat_map(|(base, meaning, d)| ResultName::of_pipes(base, meaning, *d, pipes));
    let mut all: Vec<_> = PLAIN_NAMES.iter().map(plain).chain(of_pipes).collect();
    for (base, meaning, dimension) in POINT_NAMES {
        for point in points {
            let name = format!("{base}_{}", pipe_suffix(point));
            all.push(ResultName::plain(
                name,
                format!("{meaning} at {point}"),
                *dimension,
            ));
        }
    }
    if !points.is_empty() {
        let (name, meaning, dimension) = LOWEST_PRESSURE;
        all.push(ResultName::plain(name, meaning, dimension));
    }
    // A loss may be called anything; those whose names read as names have results by it.
    for (base, meaning, dimension) in LOSS_NAMES {
        for loss in losses.iter().filter(|loss| reads_as_name(loss)) {
            let name = format!("{base}_{}", pipe_suffix(loss));
            if all.iter().all(|known| known.name != name) {
                all.push(ResultName::plain(
                    name,
                    format!("{meaning} of {loss}"),
                    *dimension,
                ));
            }
        }
    }
    all
}

fn plain((name, meaning, dimension): &(&str, &str, Dimension)) -> ResultName {
    ResultName::plain(*name, *meaning, *dimension)
}
