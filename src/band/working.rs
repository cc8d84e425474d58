//! One way of working a case: a solved state with the names that formulas use, looked up without printing
//! anything, so that a band can afford to work a case many times.

use super::figures::last_figure;
use super::kept::spent_is_known;
use super::otherwise::Way;
use crate::bank::names::{LOWEST_PRESSURE, pipe_suffix};
use crate::bank::system::pump::MACHINE_NAMES;
use crate::bank::system::{PathSystem, Value};
use crate::constants::policy;
use crate::equation::{Bindings, EquationError, Expr};
use crate::hydraulics::friction::{self, Law, Reading};
use crate::hydraulics::grade::{Place, grade_line, lowest};
use crate::hydraulics::nominal::nominal;
use crate::hydraulics::path::{Element, LossLaw, OverFlow, Path, Section, State, StationVelocity};
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::sizes::Series;
use crate::hydraulics::solve::{self, Problem, SolveError, Unknown};
use crate::quantity::{Dimension, Quantity};
use crate::solution::{PathCase, of_machine};
use std::sync::Arc;

/// A foot \[m\].
pub(super) const FOOT: f64 = 0.3048;

/// A quantity that each pipe has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Of {
    Diameter,
    Length,
    Roughness,
    Area,
    Perimeter,
    LaminarConstant,
    Velocity,
    Reynolds,
    RelativeRoughness,
    Friction,
    FullyRoughFriction,
    HeadLoss,
}

/// A quantity of the whole path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Whole {
    Flow,
    Density,
    DynamicViscosity,
    KinematicViscosity,
    Gravity,
    StartPressure,
    EndPressure,
    StartElevation,
    EndElevation,
    StartVelocity,
    EndVelocity,
    MajorLoss,
    MinorLoss,
    AllLoss,
    PumpHead,
    TurbineHead,
    PumpPower,
    TurbinePower,
}

/// What a result's name stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Name {
    /// Of one pipe.
    Pipe(Of, usize),
    /// Of the path.
    Whole(Whole),
    /// Of one of the points on the way.
    Point(AtPoint, usize),
    /// The lowest pressure on the way.
    LowestPressure,
    /// Of the nominal size in the place of an unknown diameter.
    Size(OfSize),
    /// Of one minor loss: K.
    LossCoefficient(usize),
    /// Of one minor loss: the head that it takes.
    LossHead(usize),
    /// Of one machine, by its base name in [`MACHINE_NAMES`] and its index among pumps and turbines together.
    Machine(&'static str, usize),
}

/// A quantity that each point on the way has; [`crate::bank::names::POINT_NAMES`] says what they mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum AtPoint {
    Pressure,
    EnergyHead,
    Elevation,
}

/// A quantity of the nominal size that is chosen; [`crate::bank::names::SIZE_NAMES`] says what they mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OfSize {
    Bore,
    BoreBelow,
    Velocity,
    HeadLeft,
    Flow,
}

/// The names of results of the nominal size.
const OF_SIZES: [(&str, OfSize, Dimension); 5] = [
    ("D_std", OfSize::Bore, Dimension::LENGTH),
    ("D_below", OfSize::BoreBelow, Dimension::LENGTH),
    ("V_std", OfSize::Velocity, Dimension::VELOCITY),
    ("h_left", OfSize::HeadLeft, Dimension::LENGTH),
    ("Q_std", OfSize::Flow, Dimension::FLOW),
];

/// The letters of points' results.
const OF_POINTS: [(&str, AtPoint, Dimension); 3] = [
    ("p_", AtPoint::Pressure, Dimension::PRESSURE),
    ("H_", AtPoint::EnergyHead, Dimension::LENGTH),
    ("z_", AtPoint::Elevation, Dimension::LENGTH),
];

/// The letters of pipes' results; [`crate::bank::names::PIPE_NAMES`] says what they mean.
const OF_PIPES: [(&str, Of, Dimension); 12] = [
    ("D", Of::Diameter, Dimension::LENGTH),
    ("L", Of::Length, Dimension::LENGTH),
    ("eps", Of::Roughness, Dimension::LENGTH),
    ("A", Of::Area, Dimension::AREA),
    ("P_w", Of::Perimeter, Dimension::LENGTH),
    ("f_Re", Of::LaminarConstant, Dimension::NONE),
    ("V", Of::Velocity, Dimension::VELOCITY),
    ("Re", Of::Reynolds, Dimension::NONE),
    ("rr", Of::RelativeRoughness, Dimension::NONE),
    ("f", Of::Friction, Dimension::NONE),
    ("f_rough", Of::FullyRoughFriction, Dimension::NONE),
    ("h_f", Of::HeadLoss, Dimension::LENGTH),
];

fn whole(name: &str) -> Option<Whole> {
    Some(match name {
        "Q" => Whole::Flow,
        "rho" => Whole::Density,
        "mu" => Whole::DynamicViscosity,
        "nu" => Whole::KinematicViscosity,
        "g" => Whole::Gravity,
        "p_1" => Whole::StartPressure,
        "p_2" => Whole::EndPressure,
        "z_1" => Whole::StartElevation,
        "z_2" => Whole::EndElevation,
        "V_1" => Whole::StartVelocity,
        "V_2" => Whole::EndVelocity,
        "h_major" => Whole::MajorLoss,
        "h_minor" => Whole::MinorLoss,
        "h_L" => Whole::AllLoss,
        "h_P" => Whole::PumpHead,
        "h_T" => Whole::TurbineHead,
        "P_P" => Whole::PumpPower,
        "P_T" => Whole::TurbinePower,
        _ => return None,
    })
}

impl Whole {
    fn dimension(self) -> Dimension {
        match self {
            Self::Flow => Dimension::FLOW,
            Self::Density => Dimension::DENSITY,
            Self::DynamicViscosity => Dimension::DYNAMIC_VISCOSITY,
            Self::KinematicViscosity => Dimension::KINEMATIC_VISCOSITY,
            Self::Gravity => Dimension::ACCELERATION,
            Self::StartPressure | Self::EndPressure => Dimension::PRESSURE,
            Self::StartVelocity | Self::EndVelocity => Dimension::VELOCITY,
            Self::StartElevation
            | Self::EndElevation
            | Self::MajorLoss
            | Self::MinorLoss
            | Self::AllLoss
            | Self::PumpHead
            | Self::TurbineHead => Dimension::LENGTH,
            Self::PumpPower | Self::TurbinePower => Dimension::POWER,
        }
    }
}

impl Of {
    fn dimension(self) -> Dimension {
        OF_PIPES
            .iter()
            .find(|(_, of, _)| *of == self)
            .map_or(Dimension::NONE, |(_, _, dimension)| *dimension)
    }
}

impl Name {
    /// Its dimension.
    pub(super) fn dimension(self) -> Dimension {
        match self {
            Self::Pipe(of, _) => of.dimension(),
            Self::Whole(whole) => whole.dimension(),
            Self::Point(at, _) => OF_POINTS
                .iter()
                .find(|(_, of, _)| *of == at)
                .map_or(Dimension::NONE, |(_, _, dimension)| *dimension),
            Self::LowestPressure => Dimension::PRESSURE,
            Self::Size(of) => OF_SIZES
                .iter()
                .find(|(_, known, _)| *known == of)
                .map_or(Dimension::NONE, |(_, _, dimension)| *dimension),
            Self::LossCoefficient(_) => Dimension::NONE,
            Self::LossHead(_) => Dimension::LENGTH,
            Self::Machine(base, _) => MACHINE_NAMES
                .iter()
                .find(|(name, _, _)| *name == base)
                .map_or(Dimension::NONE, |(_, _, dimension)| *dimension),
        }
    }
}

/// The names of a system's pipes, points, losses and machines' results as they stand in names of results.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pipes {
    pipes: Vec<String>,
    points: Vec<String>,
    losses: Vec<String>,
    sized: bool,
    /// As [`PathSystem::machine_results`] gives them.
    machines: Vec<(String, &'static str, usize)>,
}

impl Pipes {
    pub(super) fn of(system: &PathSystem) -> Self {
        let suffixes = |names: Vec<&str>| names.into_iter().map(pipe_suffix).collect();
        Self {
            pipes: suffixes(system.pipe_names()),
            points: suffixes(system.point_names()),
            losses: suffixes(system.loss_names()),
            sized: system.sizes.is_some(),
            machines: system.machine_results(),
        }
    }

    pub(super) fn count(&self) -> usize {
        self.pipes.len()
    }

    /// What `name` stands for; `bare` is the pipe that a bare pipe's name means where there are several.
    pub(super) fn find(&self, name: &str, bare: Option<usize>) -> Option<Name> {
        if let Some(whole) = whole(name) {
            return Some(Name::Whole(whole));
        }
        if let Some((_, base, index)) = self.machines.iter().find(|(own, _, _)| own == name) {
            return Some(Name::Machine(base, *index));
        }
        let single = if self.pipes.len() == 1 { Some(0) } else { bare };
        for (letters, of, _) in OF_PIPES {
            let Some(rest) = name.strip_prefix(letters) else {
                continue;
            };
            if rest.is_empty() {
                if let Some(pipe) = single {
                    return Some(Name::Pipe(of, pipe));
                }
            } else if self.pipes.len() > 1
                && let Some(suffix) = rest.strip_prefix('_')
                && let Some(pipe) = self.pipes.iter().position(|p| p == suffix)
            {
                return Some(Name::Pipe(of, pipe));
            }
        }
        self.on_the_way(name)
    }

    /// What a name of a point or a loss stands for.
    fn on_the_way(&self, name: &str) -> Option<Name> {
        if name == LOWEST_PRESSURE.0 {
            return (!self.points.is_empty()).then_some(Name::LowestPressure);
        }
        if self.sized
            && let Some((_, of, _)) = OF_SIZES.iter().find(|(known, _, _)| *known == name)
        {
            return Some(Name::Size(*of));
        }
        let among = |names: &[String], letters: &str| {
            let suffix = name.strip_prefix(letters)?;
            names.iter().position(|known| known == suffix)
        };
        for (letters, at, _) in OF_POINTS {
            if let Some(point) = among(&self.points, letters) {
                return Some(Name::Point(at, point));
            }
        }
        if let Some(loss) = among(&self.losses, "K_") {
            return Some(Name::LossCoefficient(loss));
        }
        among(&self.losses, "h_").map(Name::LossHead)
    }
}

/// A state along a path, and what stands in place of some of its results.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Outcome {
    /// The path with the unknown's value; shared, since most outcomes differ from another in one number put in its place.
    pub(super) path: Arc<Path>,
    /// The state along it.
    pub(super) state: Arc<State>,
    /// Results that are something else than the state says.
    pub(super) instead: Vec<(Name, f64)>,
    /// The pipe whose diameter a nominal size takes the place of, and the series.
    pub(super) sized: Option<(usize, &'static Series)>,
}

impl Outcome {
    /// Puts `value` in the place of a result.
    pub(super) fn put(&mut self, name: Name, value: f64) {
        match self.instead.iter_mut().find(|(n, _)| *n == name) {
            Some((_, old)) => *old = value,
            None => self.instead.push((name, value)),
        }
    }

    fn pipe(&self, pipe: usize) -> Option<crate::hydraulics::path::Pipe> {
        self.path
            .elements
            .iter()
            .filter_map(|e| match e {
                Element::Pipe(p) => Some(*p),
                _ => None,
            })
            .nth(pipe)
    }

    /// The cross-section of a pipe.
    pub(super) fn section(&self, pipe: usize) -> Section {
        self.pipe(pipe).map_or(Section::ROUND, |p| p.section)
    }

    /// The value of a result, SI.
    pub(super) fn get(&self, name: Name) -> f64 {
        if let Some((_, value)) = self.instead.iter().find(|(n, _)| *n == name) {
            return *value;
        }
        match name {
            Name::Pipe(of, i) => {
                let Some(state) = self.state.pipes.get(i) else {
                    return f64::NAN;
                };
                let geometry = |of: fn(&crate::hydraulics::path::Pipe) -> f64| {
                    self.pipe(i).as_ref().map_or(f64::NAN, of)
                };
                match of {
                    Of::Diameter => geometry(|p| p.diameter),
                    Of::Length => geometry(|p| p.length),
                    Of::Roughness => geometry(|p| p.roughness),
                    Of::Area => geometry(|p| p.area()),
                    Of::Perimeter => geometry(|p| p.section.wetted_perimeter(p.diameter)),
                    Of::LaminarConstant => geometry(|p| p.section.laminar_constant),
                    Of::Velocity => state.velocity,
                    Of::Reynolds => state.reynolds,
                    Of::RelativeRoughness => state.relative_roughness,
                    Of::Friction => state.darcy_friction_factor,
                    Of::FullyRoughFriction => {
                        let on = self.section(i).turbulent_diameter;
                        friction::darcy_fully_rough(state.relative_roughness / on).unwrap_or(f64::NAN)
                    }
                    Of::HeadLoss => state.major_head_loss,
                }
            }
            Name::Whole(whole) => self.whole(whole),
            Name::Point(AtPoint::Elevation, n) => self.path.points.get(n).map_or(f64::NAN, |p| p.elevation),
            Name::Point(at, n) => grade_line(&self.path, &self.state)
                .iter()
                .find(|p| p.place == Place::Point(n))
                .map_or(f64::NAN, |p| match at {
                    // The energy head may stand in the place of the state's.
                    AtPoint::Pressure => {
                        let own = self.put_in(Name::Point(AtPoint::EnergyHead, n));
                        let more = own.map_or(0.0, |own| own - p.energy_head);
                        p.pressure + self.path.density * self.path.gravity * more
                    }
                    AtPoint::EnergyHead => p.energy_head,
                    AtPoint::Elevation => p.elevation,
                }),
            Name::LowestPressure => {
                lowest(&grade_line(&self.path, &self.state)).map_or(f64::NAN, |p| p.pressure)
            }
            Name::Size(of) => self.nominal(of),
            Name::LossCoefficient(n) => (self.state.loss_coefficients.get(n)).map_or(f64::NAN, |k| *k),
            Name::Machine(base, index) => self.machine(base, index),
            Name::LossHead(n) => (self.state.minor_head_losses.get(n)).map_or(f64::NAN, |h| *h),
        }
    }

    /// A quantity of the nominal size.
    fn nominal(&self, of: OfSize) -> f64 {
        let Some((pipe, series)) = self.sized else {
            return f64::NAN;
        };
        let mut path = Path::clone(&self.path);
        // The bore from which the size is chosen may stand in the place of the state's.
        let bore = self.get(Name::Pipe(Of::Diameter, pipe));
        if let Some(pipe) = path.pipe_mut(pipe) {
            pipe.diameter = bore;
        }
        match nominal(&path, &self.state, pipe, series, &Limits::default()) {
            Ok(found) => match of {
                OfSize::Bore => found.size.bore(),
                OfSize::BoreBelow => found.below.map_or(0.0, |size| size.bore()),
                // The size may stand in the place of the one that the bore leads to.
                OfSize::Velocity => {
                    let own = self.put_in(Name::Size(OfSize::Bore));
                    let narrowed = own.map_or(1.0, |own| found.size.bore() / own);
                    found.velocity * narrowed * narrowed
                }
                OfSize::HeadLeft => found.at_flow.residual,
                OfSize::Flow => found.flow,
            },
            Err(_) => f64::NAN,
        }
    }

    /// Whether the NPSH that a machine needs is read off a curve.
    fn npsh_is_curve(&self, index: usize) -> bool {
        let machines = self
            .path
            .elements
            .iter()
            .filter(|e| matches!(e, Element::Pump(_) | Element::Turbine(_)));
        matches!({ machines }.nth(index), Some(Element::Pump(pump)) if matches!(pump.npsh_required, Some(OverFlow::Curve(_))))
    }

    /// What stands in the place of a result, where something does.
    fn put_in(&self, name: Name) -> Option<f64> {
        self.instead
            .iter()
            .find(|(n, _)| *n == name)
            .map(|(_, value)| *value)
    }

    fn is_instead(&self, name: Name) -> bool {
        self.put_in(name).is_some()
    }

    /// The only machine of the path: whether it is a pump.
    fn only_machine(&self) -> Option<bool> {
        match (self.state.pumps.len(), self.state.turbines.len()) {
            (1, 0) => Some(true),
            (0, 1) => Some(false),
            _ => None,
        }
    }

    /// A result of a machine. Of the only one, each follows what was put in place of the one that it is had from:
    /// head, power in the fluid, power at the shaft, electric power, energy of a year, cost.
    fn machine(&self, base: &'static str, index: usize) -> f64 {
        let plain = |base| of_machine(&self.path, &self.state, base, index).unwrap_or(f64::NAN);
        let value = plain(base);
        let Some(pump) = self.only_machine() else {
            return value;
        };
        let follows = |now: f64, before: f64| {
            if before == 0.0 {
                value
            } else {
                value * now / before
            }
        };
        match base {
            "P_f" => {
                let (head, heads) = if pump {
                    (Whole::PumpHead, &self.state.pump_heads)
                } else {
                    (Whole::TurbineHead, &self.state.turbine_heads)
                };
                follows(self.get(Name::Whole(head)), heads.iter().sum())
            }
            "P_el" => {
                let (power, powers) = if pump {
                    (Whole::PumpPower, &self.state.pump_powers)
                } else {
                    (Whole::TurbinePower, &self.state.turbine_powers)
                };
                follows(self.get(Name::Whole(power)), powers.iter().sum())
            }
            "E_year" => follows(self.get(Name::Machine("P_el", index)), plain("P_el")),
            "cost" => follows(self.get(Name::Machine("E_year", index)), plain("E_year")),
            _ => value,
        }
    }

    fn whole(&self, whole: Whole) -> f64 {
        let (path, state) = (&self.path, &self.state);
        match whole {
            Whole::Flow => state.flow,
            Whole::Density => path.density,
            Whole::DynamicViscosity => path.dynamic_viscosity,
            Whole::KinematicViscosity => path.dynamic_viscosity / path.density,
            Whole::Gravity => path.gravity,
            Whole::StartPressure => state.start.pressure,
            Whole::EndPressure => state.end.pressure,
            Whole::StartElevation => state.start.elevation,
            Whole::EndElevation => state.end.elevation,
            Whole::StartVelocity => state.start.velocity,
            Whole::EndVelocity => state.end.velocity,
            // Sums are taken over names, so that a head put in place of another is summed too.
            Whole::MajorLoss => (0..state.pipes.len())
                .map(|i| self.get(Name::Pipe(Of::HeadLoss, i)))
                .sum(),
            Whole::MinorLoss => (0..state.minor_head_losses.len())
                .map(|n| self.get(Name::LossHead(n)))
                .sum(),
            Whole::AllLoss => {
                self.get(Name::Whole(Whole::MajorLoss)) + self.get(Name::Whole(Whole::MinorLoss))
            }
            Whole::PumpHead => state.pump_heads.iter().sum(),
            Whole::TurbineHead => state.turbine_heads.iter().sum(),
            Whole::PumpPower => self.power(&state.pump_powers, &state.pump_heads, Whole::PumpHead),
            Whole::TurbinePower => {
                self.power(&state.turbine_powers, &state.turbine_heads, Whole::TurbineHead)
            }
        }
    }

    /// The power of machines, which follows a head that was put in place of theirs.
    fn power(&self, powers: &[f64], heads: &[f64], head: Whole) -> f64 {
        let power: f64 = powers.iter().sum();
        let (fluid, eta) = (Name::Machine("P_f", 0), Name::Machine("eta", 0));
        if let Some(pump) = self.only_machine()
            && (self.is_instead(fluid) || self.is_instead(eta))
        {
            let plain = |base| of_machine(&self.path, &self.state, base, 0).unwrap_or(f64::NAN);
            let by = self.get(fluid) / plain("P_f");
            let of_eta = self.get(eta) / plain("eta");
            return power * by * if pump { 1.0 / of_eta } else { of_eta };
        }
        match self.instead.iter().find(|(name, _)| *name == Name::Whole(head)) {
            Some((_, instead)) => {
                let heads: f64 = heads.iter().sum();
                if heads == 0.0 {
                    power
                } else {
                    power * instead / heads
                }
            }
            None => power,
        }
    }

    /// `Re √f (ε/D)` of a pipe.
    pub(super) fn rough_number(&self, pipe: usize) -> f64 {
        self.get(Name::Pipe(Of::Reynolds, pipe))
            * self.get(Name::Pipe(Of::Friction, pipe)).sqrt()
            * self.get(Name::Pipe(Of::RelativeRoughness, pipe))
    }
}

/// A case made ready for being worked again and again.
pub(super) struct Work<'a> {
    pub(super) givens: &'a Bindings,
    pub(super) pipes: Pipes,
    /// The case's problem, with its unknown missing.
    pub(super) problem: Problem,
    /// The case as it was solved.
    pub(super) base: Outcome,
    pub(super) limits: Limits,
    /// Of each pipe, the part of its misreading that who misreads it is off by on the level part of its curve.
    pub(super) level: Vec<f64>,
    /// Whether the problem is stated in feet, so that numbers on the way are written down in them.
    pub(super) in_feet: bool,
    /// The results that parts ask for, each with the formula that has it and the unit asked \[SI units\].
    pub(super) asked: Vec<(Name, &'a Expr, f64)>,
}

/// What a working does otherwise than the reference.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Turn {
    /// How each pipe's friction factor is had.
    pub(super) readings: Vec<Reading>,
    /// What each pipe's velocity is taken for, as a multiple of the true one; only where the flow is known.
    pub(super) velocity: Vec<f64>,
    /// What each pipe's velocity head is multiplied with beyond that.
    pub(super) velocity_head: Vec<f64>,
    /// Head found in excess at the start \[m\].
    pub(super) head: f64,
}

impl<'a> Work<'a> {
    pub(super) fn new(givens: &'a Bindings, case: &PathCase, limits: Limits) -> Self {
        let unknown = case.system.unknown().unwrap_or(Unknown::Flow);
        let mut problem = Problem {
            path: case.solved.path.clone(),
            flow: case.solved.state.flow,
            unknown,
        };
        problem
            .put(f64::NAN)
            .expect("a solved case has what its unknown counts");
        Self {
            givens,
            pipes: Pipes::of(&case.system),
            problem,
            base: Outcome {
                path: Arc::new(case.solved.path.clone()),
                state: Arc::new(case.solved.state.clone()),
                instead: Vec::new(),
                sized: case.sized(),
            },
            limits,
            level: vec![1.0; case.solved.state.pipes.len()],
            in_feet: matches!(&case.system.gravity, Value::Known(g) if g.unit.factor == FOOT),
            asked: Vec::new(),
        }
    }

    /// Says which formulas are asked, in which units: what is asked is written down.
    pub(super) fn ask(&mut self, formulas: impl Iterator<Item = (&'a Expr, f64)>) {
        for (formula, unit) in formulas {
            let mut open = (formula.symbols().into_iter())
                .filter_map(|name| self.pipes.find(&name, None))
                .filter(|name| self.worked_out(*name));
            if let (Some(name), None) = (open.next(), open.next()) {
                self.asked.push((name, formula, unit));
            }
        }
    }

    /// The same case with fluid and gravity taken another way.
    ///
    /// # Errors
    /// Why it has no answer then.
    pub(super) fn taken(&self, way: &Way) -> Result<Self, SolveError> {
        let mut problem = self.problem.clone();
        if let Some(table) = way.table {
            problem.path.density = table.density;
            problem.path.dynamic_viscosity = table.dynamic_viscosity;
            // A system that has no use for it has none.
            if problem.path.vapour_pressure.is_some() {
                problem.path.vapour_pressure = table.vapour_pressure;
            }
        }
        if let Some(gravity) = way.gravity {
            problem.path.gravity = gravity;
        }
        let mut taken = Self {
            givens: self.givens,
            pipes: self.pipes.clone(),
            problem,
            base: self.base.clone(),
            limits: self.limits,
            level: self.level.clone(),
            in_feet: self.in_feet,
            asked: self.asked.clone(),
        };
        taken.base = taken.read(&vec![Reading::EXACT; taken.pipes.count()])?;
        Ok(taken)
    }

    /// The unit in which a number whose dimension has this power of a length is written down \[SI units\].
    pub(super) fn units(&self, power: u32) -> &'static [f64] {
        const FEET: [[f64; 1]; 4] = [[1.0], [FOOT], [FOOT * FOOT], [FOOT * FOOT * FOOT]];
        match (self.in_feet, FEET.get(power as usize)) {
            (true, Some(units)) => units,
            _ => &FEET[0],
        }
    }

    /// Whether a result is had from givens alone, so that nothing is read before it.
    pub(super) fn is_from_givens(&self, name: Name) -> bool {
        if (self.base.state.pipes.iter()).all(|pipe| pipe.regime == Regime::Laminar) {
            return !matches!(name, Name::Machine(..));
        }
        let unknown = self.problem.unknown;
        let bore = |i: usize| unknown != Unknown::Diameter(i);
        let flow = unknown != Unknown::Flow;
        let bores = !matches!(unknown, Unknown::Diameter(_));
        match name {
            Name::Pipe(of, i) => match of {
                Of::Area | Of::Perimeter | Of::Diameter => bore(i),
                Of::RelativeRoughness => bore(i) && unknown != Unknown::Roughness(i),
                Of::Velocity | Of::Reynolds => bore(i) && flow,
                Of::LaminarConstant => true,
                Of::HeadLoss => {
                    let minor = self.base.state.minor_head_losses.iter().any(|head| *head != 0.0);
                    self.pipes.count() == 1 && !minor && spent_is_known(&self.base, unknown)
                }
                _ => false,
            },
            Name::Whole(whole) => match whole {
                Whole::KinematicViscosity => true,
                Whole::StartVelocity | Whole::EndVelocity => flow && bores,
                Whole::MinorLoss => {
                    // A loss told by an equivalent length hangs on the factor.
                    let by_length = |e: &Element| {
                        matches!(
                            e,
                            Element::Loss {
                                law: LossLaw::EquivalentLength | LossLaw::EquivalentDiameters,
                                ..
                            }
                        )
                    };
                    flow && bores
                        && !self.problem.path.elements.iter().any(by_length)
                        && !matches!(unknown, Unknown::LossCoefficient(_))
                }
                Whole::AllLoss => spent_is_known(&self.base, unknown),
                _ => false,
            },
            Name::LossCoefficient(n) => bores && unknown != Unknown::LossCoefficient(n),
            Name::LossHead(_) => self.is_from_givens(Name::Whole(Whole::MinorLoss)),
            Name::Point(AtPoint::Elevation, _) => true,
            // Which size it is hangs on readings; its numbers stand in a list.
            Name::Size(OfSize::Bore | OfSize::BoreBelow | OfSize::Velocity) => true,
            _ => false,
        }
    }

    /// A working that differs in nothing.
    pub(super) fn straight(&self) -> Turn {
        let pipes = self.pipes.count();
        Turn {
            readings: vec![Reading::EXACT; pipes],
            velocity: vec![1.0; pipes],
            velocity_head: vec![1.0; pipes],
            head: 0.0,
        }
    }

    /// Solves a problem with these readings.
    pub(super) fn solve(&self, problem: &Problem, readings: &[Reading]) -> Result<Outcome, SolveError> {
        let solved = solve::solve(problem, readings, &self.limits)?;
        let mut outcome = Outcome {
            path: Arc::new(solved.path),
            state: Arc::new(solved.state),
            instead: Vec::new(),
            sized: self.base.sized,
        };
        // Who misreads one point of the chart misreads its level part as well.
        for (i, reading) in readings.iter().enumerate() {
            if reading.factor != 1.0 && !matches!(reading.law, Law::Fixed(_)) {
                let level = Name::Pipe(Of::FullyRoughFriction, i);
                let share = self.level.get(i).copied().unwrap_or(1.0);
                let by = 1.0 + (reading.factor - 1.0) * share;
                outcome.put(level, outcome.get(level) * by);
            }
        }
        Ok(outcome)
    }

    /// Works the case with these readings.
    pub(super) fn read(&self, readings: &[Reading]) -> Result<Outcome, SolveError> {
        self.solve(&self.problem, readings)
    }

    /// The state with the unknown taken for `share` times its value, and what follows from it.
    pub(super) fn unknown_times(&self, share: f64) -> Result<Outcome, SolveError> {
        let mut problem = self.problem.clone();
        problem.put(value_of(&self.base, self.problem.unknown) * share)?;
        let readings = vec![Reading::EXACT; self.pipes.count()];
        let state = solve::state(&problem.path, problem.flow, &readings, &self.limits)?;
        Ok(Outcome {
            path: Arc::new(problem.path),
            state: Arc::new(state),
            instead: Vec::new(),
            sized: self.base.sized,
        })
    }

    /// Works the case with a turn.
    pub(super) fn turn(&self, turn: &Turn) -> Result<Outcome, SolveError> {
        self.turn_of(&self.problem, turn)
    }

    /// Works a changed case with a turn.
    pub(super) fn turn_of(&self, problem: &Problem, turn: &Turn) -> Result<Outcome, SolveError> {
        let mut problem = problem.clone();
        let mut readings = turn.readings.clone();
        let mut instead = Vec::new();
        for (i, reading) in readings.iter_mut().enumerate() {
            let (speed, squared) = (
                turn.velocity[i],
                turn.velocity[i] * turn.velocity[i] * turn.velocity_head[i],
            );
            if speed == 1.0 && squared == 1.0 {
                continue;
            }
            // The energy equation holds V only inside velocity heads, so that a velocity taken for another
            // is a friction factor, loss coefficients and a kinetic-energy factor taken for others.
            let true_factor = self.base.state.pipes[i].darcy_friction_factor;
            if let Law::Fixed(f) = reading.law {
                instead.push((Name::Pipe(Of::Friction, i), f * reading.factor));
                reading.factor *= squared;
            } else if self.base.state.pipes[i].regime == Regime::Laminar {
                instead.push((Name::Pipe(Of::Friction, i), true_factor / speed));
                *reading = Reading {
                    law: Law::Fixed(true_factor / speed * squared),
                    factor: 1.0,
                };
            } else {
                instead.push((Name::Pipe(Of::Friction, i), true_factor * reading.factor));
                reading.factor *= squared;
            }
            let state = &self.base.state.pipes[i];
            instead.push((Name::Pipe(Of::Velocity, i), state.velocity * speed));
            instead.push((Name::Pipe(Of::Reynolds, i), state.reynolds * speed));
            let losses = problem
                .path
                .elements
                .iter_mut()
                .filter_map(|element| match element {
                    Element::Loss {
                        coefficient,
                        law,
                        pipe,
                    } => Some((coefficient, *law, *pipe)),
                    _ => None,
                });
            for (n, (coefficient, law, pipe)) in losses.enumerate() {
                // A loss by equivalent length is friction, which the reading has done already.
                if pipe == i && !matches!(law, LossLaw::EquivalentLength | LossLaw::EquivalentDiameters) {
                    *coefficient *= squared;
                    let name = Name::LossCoefficient(n);
                    if self.worked_out(name) && self.problem.unknown != Unknown::LossCoefficient(n) {
                        instead.push((name, self.base.get(name)));
                    }
                }
            }
            let last = self.pipes.count() - 1;
            let (start, end) = (self.base.state.start, self.base.state.end);
            if i == 0 && problem.path.start.velocity == StationVelocity::Pipe {
                problem.path.start.alpha = Some(start.alpha * squared);
                instead.push((Name::Whole(Whole::StartVelocity), start.velocity * speed));
            }
            if i == last && problem.path.end.velocity == StationVelocity::Pipe {
                problem.path.end.alpha = Some(end.alpha * squared);
                instead.push((Name::Whole(Whole::EndVelocity), end.velocity * speed));
            }
        }
        if turn.head != 0.0 {
            if self.problem.unknown == Unknown::StartElevation {
                instead.push((Name::Whole(Whole::EndElevation), problem.path.end.elevation));
                problem.path.end.elevation -= turn.head;
            } else {
                instead.push((Name::Whole(Whole::StartElevation), problem.path.start.elevation));
                problem.path.start.elevation += turn.head;
            }
        }
        let mut outcome = self.solve(&problem, &readings)?;
        for (name, value) in instead {
            outcome.put(name, value);
        }
        Ok(outcome)
    }

    /// The value of a formula.
    pub(super) fn value(
        &self,
        formula: &Expr,
        of: &Outcome,
        bare: Option<usize>,
    ) -> Result<Quantity, EquationError> {
        formula.evaluate_with(&|name| self.look_up(name, of, bare))
    }

    /// Whether a comparison holds.
    pub(super) fn holds(
        &self,
        formula: &Expr,
        of: &Outcome,
        bare: Option<usize>,
    ) -> Result<bool, EquationError> {
        formula.holds_with(&|name| self.look_up(name, of, bare))
    }

    fn look_up(&self, name: &str, of: &Outcome, bare: Option<usize>) -> Option<Quantity> {
        match self.pipes.find(name, bare) {
            Some(found) => Some(Quantity::new(of.get(found), found.dimension())),
            None => self.givens.get(name).map(|bound| bound.quantity),
        }
    }

    /// Whether a result's name stands for something that has to be worked out, rather than given.
    pub(super) fn worked_out(&self, name: Name) -> bool {
        let unknown = self.problem.unknown;
        match name {
            Name::Pipe(of, i) => match of {
                Of::Diameter => unknown == Unknown::Diameter(i),
                Of::Length => unknown == Unknown::Length(i),
                Of::Roughness => unknown == Unknown::Roughness(i),
                _ => true,
            },
            Name::Whole(whole) => match whole {
                Whole::Flow => unknown == Unknown::Flow,
                Whole::Density | Whole::DynamicViscosity | Whole::Gravity => false,
                Whole::StartPressure => unknown == Unknown::StartPressure,
                Whole::EndPressure => unknown == Unknown::EndPressure,
                Whole::StartElevation => unknown == Unknown::StartElevation,
                Whole::EndElevation => unknown == Unknown::EndElevation,
                _ => true,
            },
            Name::Point(at, _) => at != AtPoint::Elevation,
            Name::LossCoefficient(n) => {
                unknown == Unknown::LossCoefficient(n) || {
                    let losses = self.problem.path.elements.iter().filter_map(|e| match e {
                        Element::Loss { law, .. } => Some(*law),
                        _ => None,
                    });
                    { losses }.nth(n).is_some_and(|law| law != LossLaw::Fixed)
                }
            }
            Name::LowestPressure | Name::LossHead(_) | Name::Size(_) => true,
            Name::Machine("n", _) => matches!(unknown, Unknown::PumpSpeed(_)),
            Name::Machine("D_P", _) => matches!(unknown, Unknown::PumpTrim(_)),
            Name::Machine("z_P", _) => false,
            Name::Machine("NPSH_r", i) => self.base.npsh_is_curve(i),
            Name::Machine(..) => true,
        }
    }
}

/// Half a unit of the last figure that careful work carries, of a value.
pub(super) fn half_unit(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return 0.0;
    }
    0.5 * last_figure(value, policy::CARRIED_FIGURES)
}

/// The value of an unknown in a solved state.
pub(super) fn value_of(of: &Outcome, unknown: Unknown) -> f64 {
    let nth = |values: &[f64], n: usize| values.get(n).copied().unwrap_or(f64::NAN);
    match unknown {
        Unknown::Flow => of.state.flow,
        Unknown::Diameter(n) => of.get(Name::Pipe(Of::Diameter, n)),
        Unknown::Length(n) => of.get(Name::Pipe(Of::Length, n)),
        Unknown::Roughness(n) => of.get(Name::Pipe(Of::Roughness, n)),
        Unknown::LossCoefficient(n) => of
            .path
            .elements
            .iter()
            .filter_map(|e| match e {
                Element::Loss { coefficient, .. } => Some(*coefficient),
                _ => None,
            })
            .nth(n)
            .unwrap_or(f64::NAN),
        Unknown::StartPressure => of.state.start.pressure,
        Unknown::EndPressure => of.state.end.pressure,
        Unknown::StartElevation => of.state.start.elevation,
        Unknown::EndElevation => of.state.end.elevation,
        Unknown::PumpHead(n) => nth(&of.state.pump_heads, n),
        Unknown::PumpPower(n) => nth(&of.state.pump_powers, n),
        Unknown::PumpSpeed(n) => of.path.pump_curve(n).map_or(f64::NAN, |curve| curve.speeds().0),
        Unknown::PumpTrim(n) => of
            .path
            .pump_curve(n)
            .map_or(f64::NAN, |curve| curve.impellers().0),
        Unknown::TurbineHead(n) => nth(&of.state.turbine_heads, n),
        Unknown::TurbinePower(n) => nth(&of.state.turbine_powers, n),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::course::{Conventions, UnitSystem};
    use crate::bank::names::result_names;
    use crate::bank::system::PathSystem;
    use crate::hydraulics::solve::solve;
    use crate::quantity::DecimalMark;
    use crate::solution::results;

    const PLAIN: Conventions = Conventions {
        units: UnitSystem::Si,
        decimal_mark: DecimalMark::Point,
        figures: 6,
        property_figures: 4,
    };

    const TWO_PIPES: &str = "
fluid: { density: 998 kg/m^3, dynamic viscosity: 1.0e-3 Pa.s }
flow: unknown
stations:
  start: { pressure: 320 kPa, elevation: 1 m, velocity: pipe }
  end: { pressure: 5 kPa, elevation: 12 m, velocity: { jet: 20 mm } }
path:
  - pipe: { name: upper riser, diameter: 40 mm, length: 60 m, roughness: 0.15 mm }
  - loss: { name: gate valve, K: 0.2 }
  - pump: { name: booster, head: 15 m, efficiency: 0.7 }
  - pipe: { name: branch, diameter: 25 mm, length: 9 m, roughness: 0.15 mm }
";

    #[test]
    fn every_name_means_what_it_means_in_a_solution() {
        let system = PathSystem::parse(TWO_PIPES, "two-pipes.yaml").unwrap();
        let problem = system.problem(None).unwrap();
        let solved = solve(&problem, &[Reading::EXACT; 2], &Limits::default()).unwrap();
        let fluid = system.fluid_values(None).unwrap();
        let case = PathCase {
            system,
            fluid,
            solved,
        };
        let givens = Bindings::default();
        let work = Work::new(&givens, &case, Limits::default());
        assert_eq!(work.problem.unknown, Unknown::Flow);
        let said = results(&case.system, &case.solved, &PLAIN);
        for name in result_names(&case.system.pipe_names()) {
            let found = work
                .pipes
                .find(&name, None)
                .unwrap_or_else(|| panic!("no `{name}`"));
            let theirs = said.get(&name).unwrap_or_else(|| panic!("no `{name}`")).quantity;
            let ours = work.base.get(found);
            assert_eq!(found.dimension(), theirs.dimension, "{name}");
            assert!(
                (ours - theirs.value).abs() <= 1e-12 * ours.abs(),
                "{name}: {ours} and {}",
                theirs.value
            );
        }
        assert_eq!(work.pipes.find("V", None), None);
        assert_eq!(work.pipes.find("V", Some(1)), Some(Name::Pipe(Of::Velocity, 1)));
        assert_eq!(
            work.pipes.find("h_f_upper_riser", None),
            Some(Name::Pipe(Of::HeadLoss, 0))
        );
    }

    #[test]
    fn half_a_unit_follows_the_third_figure() {
        assert_eq!(half_unit(2.35), 0.005);
        assert_eq!(half_unit(-0.0238), 0.5e-4);
        assert_eq!(half_unit(0.0), 0.0);
    }
}
