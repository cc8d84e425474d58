//! One run of pipes between two stations, and its energy equation at a known flow.

use super::curve::Curve;
pub use super::duct::Section;
use super::friction::{Law, Reading, darcy_in, darcy_of};
use super::grade::Point;
use super::regime::{Limits, Regime, classify, roughness_reynolds};
use super::solve::{CurveOf, SolveError};

/// How the velocity at a station is had.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StationVelocity {
    /// A value \[m/s\]; 0 at a free surface.
    Value(f64),
    /// That of the adjoining pipe.
    Pipe,
    /// That of a jet of this diameter \[m\].
    Jet(f64),
}

/// One of the two stations between which the energy equation is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Gauge pressure \[Pa\].
    pub pressure: f64,
    /// Elevation \[m\].
    pub elevation: f64,
    /// Velocity.
    pub velocity: StationVelocity,
    /// Kinetic-energy factor, where it is fixed; else that of the adjoining pipe's [`Section`] where it is laminar
    /// and [`TURBULENT_ALPHA`] where it is not.
    pub alpha: Option<f64>,
}

/// A pipe or duct.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pipe {
    /// Inner diameter \[m\]; the hydraulic diameter of a section that is not round.
    pub diameter: f64,
    /// Length \[m\].
    pub length: f64,
    /// Equivalent sand roughness \[m\].
    pub roughness: f64,
    /// Cross-section: [`Section::ROUND`] for a pipe.
    pub section: Section,
}

impl Pipe {
    /// Area of the cross-section \[m²\].
    pub fn area(&self) -> f64 {
        self.section.area(self.diameter)
    }
}

/// What is known of a pump or a turbine.
#[derive(Debug, Clone, PartialEq)]
pub enum Duty {
    /// Its head \[m\]: given to the fluid by a pump, taken from it by a turbine.
    Head(f64),
    /// Its shaft power \[W\].
    Power(f64),
    /// Its head as a curve over the flow \[m over m³/s\]; of a pump only.
    Curve(Curve),
}

/// Something of a machine that may change with the flow.
#[derive(Debug, Clone, PartialEq)]
pub enum OverFlow {
    /// One value at every flow.
    Value(f64),
    /// A curve over the flow of one pump at its rated speed with its full impeller; of a pump only.
    Curve(Curve),
}

/// A pump or a turbine.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// What is known of it.
    pub duty: Duty,
    /// Efficiency between shaft and fluid \[–\].
    pub efficiency: OverFlow,
    /// Efficiency of the motor that drives a pump, or of the generator that a turbine drives \[–\].
    pub electric_efficiency: f64,
    /// How long it runs in a year \[s\].
    pub running_time: Option<f64>,
    /// Price of electric energy, in any currency \[1/J\].
    pub price: Option<f64>,
    /// Net positive suction head that a pump needs \[m\]. One value is that at which the pump runs; a curve changes
    /// with the speed as a head does.
    pub npsh_required: Option<OverFlow>,
    /// Elevation of a pump's inlet \[m\]; where it is not said, that of a point of the path just before the pump
    /// or just behind it counts.
    pub elevation: Option<f64>,
}

impl Machine {
    /// A machine of which no more is known than its duty and one efficiency (1 where nothing is said).
    pub fn new(duty: Duty, efficiency: f64) -> Self {
        Self {
            duty,
            efficiency: OverFlow::Value(efficiency),
            electric_efficiency: 1.0,
            running_time: None,
            price: None,
            npsh_required: None,
            elevation: None,
        }
    }

    /// The curve of its head, where it has one.
    pub fn curve(&self) -> Option<&Curve> {
        match &self.duty {
            Duty::Curve(curve) => Some(curve),
            Duty::Head(_) | Duty::Power(_) => None,
        }
    }

    /// Flow of one pump of several, at its rated speed and with its full impeller \[m³/s\], to which its other
    /// curves belong.
    pub fn rated_flow(&self, flow: f64) -> f64 {
        self.curve().map_or(flow, |curve| curve.rated_flow(flow))
    }

    /// Efficiency between shaft and fluid at a flow \[–\]. By the affinity laws it stays the same from a point
    /// at one speed to the corresponding point at another, which is nearly so for small changes.
    pub fn efficiency_at(&self, flow: f64) -> f64 {
        match &self.efficiency {
            OverFlow::Value(value) => *value,
            OverFlow::Curve(curve) => curve.rated(self.rated_flow(flow)).0,
        }
    }

    /// Net positive suction head required at a flow \[m\].
    pub fn npsh_required_at(&self, flow: f64) -> Option<f64> {
        Some(match self.npsh_required.as_ref()? {
            OverFlow::Value(value) => *value,
            OverFlow::Curve(curve) => {
                let ratio = self.curve().map_or(1.0, Curve::ratio);
                ratio * ratio * curve.rated(self.rated_flow(flow)).0
            }
        })
    }
}

/// How the coefficient K of a minor loss follows from the one number that it is stated by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LossLaw {
    /// The number is K itself.
    Fixed,
    /// The number is the length of the loss's own pipe that takes as much head \[m\]: `K = f Lₑ/D`.
    EquivalentLength,
    /// The number is that length in diameters \[–\]: `K = f (Lₑ/D)`.
    EquivalentDiameters,
    /// Its own pipe opens into a wider one; the number is the share n of a sudden expansion's loss:
    /// `K = n (1 − A/A₂)²`, which is Borda's and Carnot's for n = 1.
    Expansion {
        /// The wider pipe behind: its index among the path's pipes.
        into: usize,
    },
    /// A wider pipe narrows to the loss's own; `K = n (1 − A/A₁)`.
    Contraction {
        /// The wider pipe before: its index among the path's pipes.
        from: usize,
    },
}

impl LossLaw {
    /// The other pipe that K depends on.
    pub fn wider_pipe(self) -> Option<usize> {
        match self {
            Self::Expansion { into: other } | Self::Contraction { from: other } => Some(other),
            Self::Fixed | Self::EquivalentLength | Self::EquivalentDiameters => None,
        }
    }

    /// K from the loss's number, its pipe's diameter \[m\] and Darcy friction factor, and the area of its
    /// pipe over that of the wider one.
    fn coefficient(self, number: f64, diameter: f64, darcy_friction_factor: f64, area_ratio: f64) -> f64 {
        match self {
            Self::Fixed => number,
            Self::EquivalentLength => number * darcy_friction_factor / diameter,
            Self::EquivalentDiameters => number * darcy_friction_factor,
            Self::Expansion { .. } => number * square(1.0 - area_ratio),
            Self::Contraction { .. } => number * (1.0 - area_ratio),
        }
    }
}

/// Something on the way from start to end.
#[derive(Debug, Clone, PartialEq)]
pub enum Element {
    /// A pipe.
    Pipe(Pipe),
    /// A minor loss.
    Loss {
        /// Loss coefficient K \[–\], or the number from which it follows by the law.
        coefficient: f64,
        /// How K follows from it.
        law: LossLaw,
        /// The pipe whose velocity head it counts on: its index among the path's pipes.
        pipe: usize,
    },
    /// A pump.
    Pump(Machine),
    /// A turbine.
    Turbine(Machine),
}

/// A fluid, two stations and what lies between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// Density \[kg/m³\].
    pub density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub dynamic_viscosity: f64,
    /// Vapour pressure, absolute \[Pa\], where it is known.
    pub vapour_pressure: Option<f64>,
    /// Pressure of the air outside, absolute \[Pa\].
    pub atmosphere: f64,
    /// Acceleration of gravity \[m/s²\].
    pub gravity: f64,
    /// Where the flow comes from.
    pub start: Station,
    /// Where it goes.
    pub end: Station,
    /// In the order of the flow.
    pub elements: Vec<Element>,
    /// Places between the stations whose elevation is known, in any order.
    pub points: Vec<Point>,
}

impl Path {
    /// The head curve of the pump with this index among the path's pumps, where it has one.
    pub fn pump_curve(&self, index: usize) -> Option<&Curve> {
        let pumps = self.elements.iter().filter_map(|element| match element {
            Element::Pump(pump) => Some(pump),
            _ => None,
        });
        { pumps }.nth(index)?.curve()
    }

    /// The elevation of a point that stands just before this element, or just behind it \[m\].
    fn elevation_at(&self, element: usize) -> Option<f64> {
        [element, element + 1].into_iter().find_map(|after| {
            let points = self.points.iter();
            { points }
                .find(|p| p.after == after && p.along == 0.0)
                .map(|p| p.elevation)
        })
    }

    /// The pipe with this index among the path's pipes.
    pub fn pipe(&self, index: usize) -> Option<&Pipe> {
        let pipes = self.elements.iter().filter_map(|element| match element {
            Element::Pipe(pipe) => Some(pipe),
            _ => None,
        });
        { pipes }.nth(index)
    }

    /// The pipe with this index among the path's pipes.
    pub fn pipe_mut(&mut self, index: usize) -> Option<&mut Pipe> {
        let pipes = self.elements.iter_mut().filter_map(|element| match element {
            Element::Pipe(pipe) => Some(pipe),
            _ => None,
        });
        { pipes }.nth(index)
    }
}

/// What flows in one pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeState {
    /// Mean velocity \[m/s\].
    pub velocity: f64,
    /// Reynolds number \[–\].
    pub reynolds: f64,
    /// ε/D \[–\].
    pub relative_roughness: f64,
    /// Darcy friction factor \[–\].
    pub darcy_friction_factor: f64,
    /// Regime.
    pub regime: Regime,
    /// Roughness Reynolds number u*ε/ν \[–\].
    pub roughness_reynolds: f64,
    /// `Re √f (ε/D)` \[–\], which is held against the start of fully rough flow.
    pub rough_number: f64,
    /// Head lost to friction \[m\].
    pub major_head_loss: f64,
}

/// Heads at one station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StationState {
    /// Gauge pressure \[Pa\].
    pub pressure: f64,
    /// Elevation \[m\].
    pub elevation: f64,
    /// Velocity \[m/s\].
    pub velocity: f64,
    /// Kinetic-energy factor used \[–\].
    pub alpha: f64,
}

/// A pump, or several equal ones that work together, at one flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpState {
    /// Flow through each \[m³/s\].
    pub flow_each: f64,
    /// Efficiency between shaft and fluid \[–\].
    pub efficiency: f64,
    /// Power that the fluid gets \[W\].
    pub fluid_power: f64,
    /// Power that the motors take from the mains \[W\].
    pub electric_power: f64,
    /// Energy that the motors take in a year \[J\], where the running time is known.
    pub yearly_energy: Option<f64>,
    /// What that energy costs, in the currency of its price.
    pub yearly_cost: Option<f64>,
    /// Net positive suction head available at the inlet \[m\]; where elevation of the inlet and vapour pressure
    /// are known.
    pub npsh_available: Option<f64>,
    /// Net positive suction head that the pump needs \[m\].
    pub npsh_required: Option<f64>,
}

/// A turbine at one flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurbineState {
    /// Efficiency between fluid and shaft \[–\].
    pub efficiency: f64,
    /// Power that the fluid gives \[W\].
    pub fluid_power: f64,
    /// Power that the generator gives to the mains \[W\].
    pub electric_power: f64,
    /// Energy that the generator gives in a year \[J\], where the running time is known.
    pub yearly_energy: Option<f64>,
    /// What that energy earns, in the currency of its price.
    pub yearly_cost: Option<f64>,
}

/// Everything along a path at one flow. Losses, heads and powers stand in the order of the path's elements.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// Volume flow \[m³/s\].
    pub flow: f64,
    /// A state for each pipe, in order.
    pub pipes: Vec<PipeState>,
    /// Coefficient K of each minor loss, in order \[–\].
    pub loss_coefficients: Vec<f64>,
    /// Head lost in each minor loss, in order \[m\].
    pub minor_head_losses: Vec<f64>,
    /// Head of each pump, in order \[m\].
    pub pump_heads: Vec<f64>,
    /// Shaft power of each pump, in order \[W\].
    pub pump_powers: Vec<f64>,
    /// What else is known of each pump, in order.
    pub pumps: Vec<PumpState>,
    /// Head of each turbine, in order \[m\].
    pub turbine_heads: Vec<f64>,
    /// Shaft power of each turbine, in order \[W\].
    pub turbine_powers: Vec<f64>,
    /// What else is known of each turbine, in order.
    pub turbines: Vec<TurbineState>,
    /// At the start.
    pub start: StationState,
    /// At the end.
    pub end: StationState,
    /// All head lost \[m\].
    pub head_loss: f64,
    /// Energy left over: start + pumps - turbines - losses - end \[m\]; 0 where the equation is solved.
    pub residual: f64,
}

/// Kinetic-energy factor taken for turbulent flow, where it is 1.03 to 1.08. Common practice, no source.
pub const TURBULENT_ALPHA: f64 = 1.0;

/// Cross-section of a round pipe \[m²\].
pub fn area(diameter: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter * diameter
}

/// A pipe with its minor losses gathered on it, ready to be evaluated.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leg {
    pub(super) diameter: f64,
    pub(super) length: f64,
    pub(super) relative_roughness: f64,
    pub(super) section: Section,
    /// All K but those by equivalent length.
    pub(super) loss_sum: f64,
    /// Of them, those that no diameter changes.
    fixed_loss_sum: f64,
    /// Equivalent lengths \[m\].
    equivalent_length: f64,
    /// Equivalent lengths in diameters \[–\].
    equivalent_diameters: f64,
    pub(super) reading: Reading,
}

impl Leg {
    /// The length in which friction acts: the pipe's own and that of its losses by equivalent length \[m\].
    pub(super) fn friction_length(&self) -> f64 {
        self.length + self.equivalent_length + self.equivalent_diameters * self.diameter
    }

    pub(super) fn velocity(&self, flow: f64) -> f64 {
        flow / self.area()
    }

    pub(super) fn area(&self) -> f64 {
        self.section.area(self.diameter)
    }

    /// Darcy friction factor, where it is settled already whether the flow counts as laminar.
    pub(super) fn darcy(&self, reynolds: f64, is_laminar: bool) -> f64 {
        darcy_in(
            &self.section,
            self.reading,
            reynolds,
            self.relative_roughness,
            is_laminar,
        )
    }

    pub(super) fn reynolds(&self, flow: f64, kinematic_viscosity: f64) -> f64 {
        self.velocity(flow) * self.diameter / kinematic_viscosity
    }

    /// The flow at which it stops to be laminar.
    pub(super) fn jump_flow(&self, kinematic_viscosity: f64, limits: &Limits) -> f64 {
        limits.laminar_end * kinematic_viscosity * self.area() / self.diameter
    }
}

/// A loss whose K follows from two pipes' areas.
#[derive(Debug, Clone, Copy)]
pub(super) struct AreaChange {
    number: f64,
    law: LossLaw,
    /// The narrower pipe, on whose velocity head it counts.
    pub(super) narrow: usize,
    /// The wider pipe.
    pub(super) wide: usize,
}

/// A path boiled down to what the energy equation needs.
#[derive(Debug, Clone)]
pub(super) struct Balance {
    pub(super) legs: Vec<Leg>,
    /// Losses between pipes of two areas.
    pub(super) changes: Vec<AreaChange>,
    pub(super) start: Station,
    pub(super) end: Station,
    pub(super) gravity: f64,
    pub(super) kinematic_viscosity: f64,
    /// Pressure and elevation heads of the start less those of the end, and the machines known by head \[m\].
    pub(super) fixed_head: f64,
    /// Those of the pressures alone, and those of the machines alone \[m\].
    of_pressures: f64,
    of_machines: f64,
    /// Power that machines known by power give to the fluid, over ρ g \[m⁴/s\].
    pub(super) power: f64,
    /// Head curves of pumps, each with the pump's index.
    pub(super) curves: Vec<(usize, Curve)>,
}

impl Balance {
    /// From a path that [`check`] has passed.
    pub(super) fn new(path: &Path, readings: &[Reading]) -> Self {
        let weight = path.density * path.gravity;
        let mut legs: Vec<Leg> = Vec::with_capacity(readings.len());
        let mut machine_head = 0.0;
        let mut power = 0.0;
        let mut curves = Vec::new();
        let mut pumps = 0;
        for element in &path.elements {
            match element {
                Element::Pipe(pipe) => legs.push(Leg {
                    diameter: pipe.diameter,
                    length: pipe.length,
                    relative_roughness: pipe.roughness / pipe.diameter,
                    section: pipe.section,
                    loss_sum: 0.0,
                    fixed_loss_sum: 0.0,
                    equivalent_length: 0.0,
                    equivalent_diameters: 0.0,
                    reading: readings[legs.len()],
                }),
                Element::Loss { .. } => {}
                Element::Pump(machine) => {
                    match &machine.duty {
                        Duty::Head(head) => machine_head += head,
                        // Of a power, `check` has seen that its efficiency is one value.
                        Duty::Power(shaft) => power += shaft * machine.efficiency_at(0.0) / weight,
                        Duty::Curve(curve) => curves.push((pumps, curve.clone())),
                    }
                    pumps += 1;
                }
                Element::Turbine(machine) => match machine.duty {
                    Duty::Head(head) => machine_head -= head,
                    Duty::Power(shaft) => power -= shaft / machine.efficiency_at(0.0) / weight,
                    Duty::Curve(_) => {}
                },
            }
        }
        // Losses come second: one may count on a pipe that stands behind it.
        let mut changes = Vec::new();
        for element in &path.elements {
            if let Element::Loss {
                coefficient,
                law,
                pipe,
            } = *element
            {
                let leg = &mut legs[pipe];
                match law {
                    LossLaw::Fixed => leg.fixed_loss_sum += coefficient,
                    LossLaw::EquivalentLength => leg.equivalent_length += coefficient,
                    LossLaw::EquivalentDiameters => leg.equivalent_diameters += coefficient,
                    LossLaw::Expansion { into: wide } | LossLaw::Contraction { from: wide } => {
                        changes.push(AreaChange {
                            number: coefficient,
                            law,
                            narrow: pipe,
                            wide,
                        });
                    }
                }
            }
        }
        let mut balance = Self {
            legs,
            changes,
            start: path.start,
            end: path.end,
            gravity: path.gravity,
            kinematic_viscosity: path.dynamic_viscosity / path.density,
            fixed_head: f64::NAN,
            of_pressures: (path.start.pressure - path.end.pressure) / weight,
            of_machines: machine_head,
            power,
            curves,
        };
        balance.set_rise(path.start.elevation - path.end.elevation);
        balance.sum_losses();
        balance
    }

    /// Sets the height of the start over the end \[m\].
    pub(super) fn set_rise(&mut self, rise: f64) {
        self.fixed_head = self.of_pressures + rise + self.of_machines;
    }

    /// Gives one pipe another diameter \[m\]; everything that follows from it follows.
    pub(super) fn set_diameter(&mut self, pipe: usize, diameter: f64, roughness: f64) {
        self.legs[pipe].diameter = diameter;
        self.legs[pipe].relative_roughness = roughness / diameter;
        if !self.changes.is_empty() {
            self.sum_losses();
        }
    }

    fn sum_losses(&mut self) {
        for leg in &mut self.legs {
            leg.loss_sum = leg.fixed_loss_sum;
        }
        for change in &self.changes {
            let diameter = self.legs[change.narrow].diameter;
            let ratio = self.legs[change.narrow].area() / self.legs[change.wide].area();
            self.legs[change.narrow].loss_sum += change.law.coefficient(change.number, diameter, 0.0, ratio);
        }
    }

    /// Energy left over at the end \[m\], where `is_laminar` settles which pipes count as laminar.
    pub(super) fn left_over(&self, flow: f64, is_laminar: impl Fn(usize) -> bool) -> f64 {
        self.fixed_head + self.machines(flow) - self.taken(flow, is_laminar)
    }

    /// Head \[m\] that machines give which give another at every flow, here from 0 up.
    pub(super) fn machines(&self, flow: f64) -> f64 {
        let by_power = if self.power == 0.0 { 0.0 } else { self.power / flow };
        by_power + self.curves.iter().map(|(_, curve)| curve.head(flow)).sum::<f64>()
    }

    /// Head \[m\] that friction, losses and the change of velocity heads take.
    pub(super) fn taken(&self, flow: f64, is_laminar: impl Fn(usize) -> bool) -> f64 {
        let last = self.legs.len() - 1;
        let mut twice_g_head = alpha(&self.end, &self.legs[last].section, is_laminar(last))
            * square(self.station_velocity(&self.end, last, flow))
            - alpha(&self.start, &self.legs[0].section, is_laminar(0))
                * square(self.station_velocity(&self.start, 0, flow));
        for (i, leg) in self.legs.iter().enumerate() {
            let velocity = leg.velocity(flow);
            let length = leg.friction_length();
            let friction = if length == 0.0 || velocity == 0.0 {
                0.0
            } else {
                leg.darcy(leg.reynolds(flow, self.kinematic_viscosity), is_laminar(i)) * length / leg.diameter
            };
            twice_g_head += (friction + leg.loss_sum) * square(velocity);
        }
        twice_g_head / (2.0 * self.gravity)
    }

    /// Whether a pipe is laminar at a flow.
    pub(super) fn is_laminar(&self, pipe: usize, flow: f64, limits: &Limits) -> bool {
        self.legs[pipe].reynolds(flow, self.kinematic_viscosity) < limits.laminar_end
    }

    fn station_velocity(&self, station: &Station, pipe: usize, flow: f64) -> f64 {
        match station.velocity {
            StationVelocity::Value(value) => value,
            StationVelocity::Pipe => self.legs[pipe].velocity(flow),
            StationVelocity::Jet(diameter) => flow / area(diameter),
        }
    }
}

pub(super) fn square(x: f64) -> f64 {
    x * x
}

/// The kinetic-energy factor at a station whose pipe, of this section, is laminar or not.
pub(super) fn alpha(station: &Station, section: &Section, is_laminar: bool) -> f64 {
    station.alpha.unwrap_or(if is_laminar {
        section.laminar_alpha
    } else {
        TURBULENT_ALPHA
    })
}

/// Refuses what can't be, so that everything behind it may rely on it.
pub(super) fn check(path: &Path, readings: &[Reading], limits: &Limits) -> Result<(), SolveError> {
    let ensure = |good: bool, what: &'static str, value: f64| {
        if good {
            Ok(())
        } else {
            Err(SolveError::Impossible { what, value })
        }
    };
    let positive = |what, value: f64| ensure(value > 0.0 && value.is_finite(), what, value);
    let not_negative = |what, value: f64| ensure(value >= 0.0 && value.is_finite(), what, value);
    let finite = |what, value: f64| ensure(value.is_finite(), what, value);

    not_negative("Reynolds number at which laminar flow ends", limits.laminar_end)?;
    not_negative(
        "Reynolds number from which flow is turbulent",
        limits.turbulent_start,
    )?;
    not_negative("start of fully rough flow", limits.fully_rough_start)?;
    not_negative("end of a smooth wall", limits.smooth_end)?;

    positive("density", path.density)?;
    positive("dynamic viscosity", path.dynamic_viscosity)?;
    positive("gravity", path.gravity)?;
    not_negative("pressure of the air outside", path.atmosphere)?;
    if let Some(vapour_pressure) = path.vapour_pressure {
        not_negative("vapour pressure", vapour_pressure)?;
    }
    for (station, pressure, elevation, velocity, jet, alpha) in [
        (
            &path.start,
            "pressure at the start",
            "elevation of the start",
            "velocity at the start",
            "diameter of the jet at the start",
            "kinetic-energy factor at the start",
        ),
        (
            &path.end,
            "pressure at the end",
            "elevation of the end",
            "velocity at the end",
            "diameter of the jet at the end",
            "kinetic-energy factor at the end",
        ),
    ] {
        finite(pressure, station.pressure)?;
        finite(elevation, station.elevation)?;
        match station.velocity {
            StationVelocity::Value(value) => not_negative(velocity, value)?,
            StationVelocity::Jet(diameter) => positive(jet, diameter)?,
            StationVelocity::Pipe => {}
        }
        if let Some(value) = station.alpha {
            not_negative(alpha, value)?;
        }
    }

    let pipes = path
        .elements
        .iter()
        .filter(|e| matches!(e, Element::Pipe(_)))
        .count();
    ensure(pipes > 0, "number of pipes", 0.0)?;
    ensure(
        readings.len() == pipes,
        "number of readings, one for each pipe",
        readings.len() as f64,
    )?;
    for reading in readings {
        positive("factor of a reading", reading.factor)?;
        if let Law::Fixed(value) = reading.law {
            positive("Darcy friction factor", value)?;
        }
    }

    for point in &path.points {
        finite("elevation of a point", point.elevation)?;
        not_negative("distance of a point along its pipe", point.along)?;
        let next = path.elements.get(point.after);
        ensure(
            next.is_some() || point.after == path.elements.len(),
            "number of elements before a point",
            point.after as f64,
        )?;
        ensure(
            point.along == 0.0 || matches!(next, Some(Element::Pipe(_))),
            "distance along something that is no pipe",
            point.along,
        )?;
    }
    let mut seen = 0;
    for element in &path.elements {
        match *element {
            Element::Pipe(pipe) => {
                positive("diameter of a pipe", pipe.diameter)?;
                not_negative("length of a pipe", pipe.length)?;
                not_negative("roughness of a pipe", pipe.roughness)?;
                let section = pipe.section;
                positive("area factor of a cross-section", section.area_factor)?;
                positive("laminar constant of a cross-section", section.laminar_constant)?;
                positive(
                    "laminar kinetic-energy factor of a cross-section",
                    section.laminar_alpha,
                )?;
                positive(
                    "turbulent diameter of a cross-section",
                    section.turbulent_diameter,
                )?;
                // A wall as rough as the pipe is wide leaves no pipe.
                ensure(
                    pipe.roughness < 0.5 * pipe.diameter,
                    "relative roughness of a pipe",
                    pipe.roughness / pipe.diameter,
                )?;
                ensure(
                    readings[seen].law != Law::FullyRough || pipe.roughness > 0.0,
                    "roughness of a pipe taken as fully rough",
                    pipe.roughness,
                )?;
                seen += 1;
            }
            Element::Loss {
                coefficient,
                law,
                pipe,
            } => {
                not_negative("loss coefficient", coefficient)?;
                ensure(pipe < pipes, "pipe that a loss counts on", pipe as f64)?;
                if let Some(wide) = law.wider_pipe() {
                    ensure(
                        wide < pipes && wide != pipe,
                        "pipe that a pipe widens to",
                        wide as f64,
                    )?;
                    let ratio = area_ratio(path, pipe, wide);
                    ensure(
                        // The wider pipe may be as narrow as the other; then nothing is lost.
                        ratio <= 1.0,
                        "area of the narrower pipe over that of the wider one",
                        ratio,
                    )?;
                }
            }
            Element::Pump(ref machine) => {
                check_duty(machine, true)?;
            }
            Element::Turbine(ref machine) => {
                check_duty(machine, false)?;
            }
        }
    }
    Ok(())
}

/// Refuses a point that lies beyond the end of its pipe, whose length may have been the unknown.
pub(super) fn check_points(path: &Path) -> Result<(), SolveError> {
    for point in &path.points {
        if let Some(Element::Pipe(pipe)) = path.elements.get(point.after)
            && point.along > pipe.length
        {
            return Err(SolveError::Impossible {
                what: "distance of a point along its pipe, beyond the pipe's end,",
                value: point.along,
            });
        }
    }
    Ok(())
}

/// Refuses what a machine can't be.
fn check_duty(machine: &Machine, pump: bool) -> Result<(), SolveError> {
    let ensure = |good: bool, words: [&'static str; 2], value: f64| {
        let what = words[usize::from(!pump)];
        if good {
            Ok(())
        } else {
            Err(SolveError::Impossible { what, value })
        }
    };
    let share = |value: f64| value > 0.0 && value <= 1.0;
    match &machine.duty {
        Duty::Head(head) => ensure(
            *head >= 0.0 && head.is_finite(),
            ["head of a pump", "head of a turbine"],
            *head,
        )?,
        Duty::Power(power) => {
            ensure(
                *power >= 0.0 && power.is_finite(),
                ["power of a pump", "power of a turbine"],
                *power,
            )?;
            ensure(
                *power == 0.0 || matches!(machine.efficiency, OverFlow::Value(_)),
                [
                    "power of a pump whose efficiency is a curve",
                    "power of a turbine whose efficiency is a curve",
                ],
                *power,
            )?;
        }
        Duty::Curve(curve) => {
            let ratio = curve.ratio();
            ensure(
                pump,
                ["", "curve of a turbine, in its first head,"],
                curve.head(0.0),
            )?;
            ensure(
                ratio > 0.0 && ratio.is_finite(),
                ["share of a pump's rated speed or impeller", ""],
                ratio,
            )?;
            ensure(
                curve.parallel() > 0 && curve.series() > 0,
                ["number of pumps that work together", ""],
                0.0,
            )?;
            let (_, end) = curve.range();
            ensure(end.is_finite(), ["flow at which a pump's curve ends", ""], end)?;
        }
    }
    if let OverFlow::Value(value) = machine.efficiency {
        ensure(
            share(value),
            ["efficiency of a pump", "efficiency of a turbine"],
            value,
        )?;
    } else {
        ensure(
            pump,
            ["", "efficiency curve of a turbine, in its first value,"],
            machine.efficiency_at(0.0),
        )?;
    }
    ensure(
        share(machine.electric_efficiency),
        ["efficiency of a motor", "efficiency of a generator"],
        machine.electric_efficiency,
    )?;
    for (value, words) in [
        (
            machine.running_time,
            ["running time of a pump", "running time of a turbine"],
        ),
        (machine.price, ["price of energy", "price of energy"]),
    ] {
        let value = value.unwrap_or(0.0);
        ensure(value >= 0.0 && value.is_finite(), words, value)?;
    }
    if let Some(elevation) = machine.elevation {
        ensure(
            elevation.is_finite(),
            ["elevation of a pump", "elevation of a turbine"],
            elevation,
        )?;
    }
    Ok(())
}

/// The area of one pipe over that of another; 1 where one of the two is missing.
fn area_ratio(path: &Path, pipe: usize, other: usize) -> f64 {
    match (path.pipe(pipe), path.pipe(other)) {
        (Some(pipe), Some(other)) => pipe.area() / other.area(),
        _ => 1.0,
    }
}

/// The state of a checked path at a flow from 0 up.
pub(super) fn evaluate(
    path: &Path,
    flow: f64,
    readings: &[Reading],
    limits: &Limits,
) -> Result<State, SolveError> {
    let twice_g = 2.0 * path.gravity;
    let weight = path.density * path.gravity;
    let kinematic_viscosity = path.dynamic_viscosity / path.density;

    let mut pipes: Vec<PipeState> = Vec::with_capacity(readings.len());
    for element in &path.elements {
        if let Element::Pipe(pipe) = element {
            pipes.push(pipe_state(
                pipe,
                flow,
                readings[pipes.len()],
                path,
                kinematic_viscosity,
                limits,
            ));
        }
    }

    let mut state = State {
        flow,
        pipes,
        loss_coefficients: Vec::new(),
        minor_head_losses: Vec::new(),
        pump_heads: Vec::new(),
        pump_powers: Vec::new(),
        pumps: Vec::new(),
        turbine_heads: Vec::new(),
        turbine_powers: Vec::new(),
        turbines: Vec::new(),
        start: station_state(&path.start, None),
        end: station_state(&path.end, None),
        head_loss: 0.0,
        residual: 0.0,
    };
    let mut sections = path.elements.iter().filter_map(|e| match e {
        Element::Pipe(pipe) => Some(&pipe.section),
        _ => None,
    });
    let first = sections.next().unwrap_or(&Section::ROUND);
    let last = sections.next_back().unwrap_or(first);
    state.start = station_state(&path.start, state.pipes.first().map(|p| (flow, p, first)));
    state.end = station_state(&path.end, state.pipes.last().map(|p| (flow, p, last)));
    state.head_loss = state.pipes.iter().map(|p| p.major_head_loss).sum();

    // Head and shaft power of a machine; `gain` is the share of shaft power that its head makes.
    let machine = |duty: &Duty, gain: f64| -> Result<(f64, f64), SolveError> {
        let shaft = |head: f64| {
            if flow == 0.0 {
                0.0
            } else {
                weight * flow * head / gain
            }
        };
        match duty {
            Duty::Head(head) => Ok((*head, shaft(*head))),
            Duty::Curve(curve) => {
                let head = curve.head(flow);
                Ok((head, shaft(head)))
            }
            Duty::Power(power) if flow > 0.0 || *power == 0.0 => {
                let head = if *power == 0.0 {
                    0.0
                } else {
                    gain * power / (weight * flow)
                };
                Ok((head, *power))
            }
            Duty::Power(power) => Err(SolveError::Impossible {
                what: "power of a machine without flow",
                value: *power,
            }),
        }
    };
    // The total head along the way, over gauge pressure; and what of it counts at a pump's inlet.
    let mut total = state.start.pressure / weight
        + state.start.elevation
        + state.start.alpha * square(state.start.velocity) / twice_g;
    let boils = path.vapour_pressure.map(|p| (path.atmosphere - p) / weight);
    let mut machines = 0.0;
    let mut pipe_index = 0;
    for (index, element) in path.elements.iter().enumerate() {
        match element {
            Element::Pipe(_) => {
                total -= state.pipes[pipe_index].major_head_loss;
                pipe_index += 1;
            }
            Element::Loss {
                coefficient,
                law,
                pipe,
            } => {
                let (coefficient, law, pipe) = (*coefficient, *law, *pipe);
                let at = &state.pipes[pipe];
                let k = match law {
                    LossLaw::Fixed => coefficient,
                    // Without flow there is no friction factor, and nothing is lost.
                    LossLaw::EquivalentLength | LossLaw::EquivalentDiameters if flow == 0.0 => 0.0,
                    _ => law.coefficient(
                        coefficient,
                        path.pipe(pipe).map_or(f64::NAN, |p| p.diameter),
                        at.darcy_friction_factor,
                        law.wider_pipe().map_or(1.0, |wide| area_ratio(path, pipe, wide)),
                    ),
                };
                let loss = k * square(at.velocity) / twice_g;
                state.head_loss += loss;
                total -= loss;
                state.loss_coefficients.push(k);
                state.minor_head_losses.push(loss);
            }
            Element::Pump(pump) => {
                known_at(pump, state.pumps.len(), flow)?;
                let efficiency = pump.efficiency_at(flow);
                let (head, power) = machine(&pump.duty, efficiency)?;
                let electric_power = power / pump.electric_efficiency;
                let yearly_energy = pump.running_time.map(|time| electric_power * time);
                state.pumps.push(PumpState {
                    flow_each: pump.curve().map_or(flow, |c| flow / f64::from(c.parallel())),
                    efficiency,
                    fluid_power: weight * flow * head,
                    electric_power,
                    yearly_energy,
                    yearly_cost: yearly_energy
                        .zip(pump.price)
                        .map(|(energy, price)| energy * price),
                    npsh_available: boils
                        .zip(pump.elevation.or_else(|| path.elevation_at(index)))
                        .map(|(boils, elevation)| total - elevation + boils),
                    npsh_required: pump.npsh_required_at(flow),
                });
                machines += head;
                total += head;
                state.pump_heads.push(head);
                state.pump_powers.push(power);
            }
            Element::Turbine(turbine) => {
                let efficiency = turbine.efficiency_at(flow);
                let (head, power) = machine(&turbine.duty, 1.0 / efficiency)?;
                let electric_power = power * turbine.electric_efficiency;
                let yearly_energy = turbine.running_time.map(|time| electric_power * time);
                state.turbines.push(TurbineState {
                    efficiency,
                    fluid_power: weight * flow * head,
                    electric_power,
                    yearly_energy,
                    yearly_cost: yearly_energy
                        .zip(turbine.price)
                        .map(|(energy, price)| energy * price),
                });
                machines -= head;
                total -= head;
                state.turbine_heads.push(head);
                state.turbine_powers.push(power);
            }
        }
    }

    let velocity_heads = (state.start.alpha * square(state.start.velocity)
        - state.end.alpha * square(state.end.velocity))
        / twice_g;
    state.residual = (state.start.pressure - state.end.pressure) / weight
        + (state.start.elevation - state.end.elevation)
        + machines
        + velocity_heads
        - state.head_loss;
    if state.residual.is_finite() {
        Ok(state)
    } else {
        Err(SolveError::Impossible {
            what: "head",
            value: state.residual,
        })
    }
}

/// Refuses a flow at which one of a pump's curves is not known: nothing is guessed beyond their ends.
fn known_at(pump: &Machine, index: usize, flow: f64) -> Result<(), SolveError> {
    let off = |what: CurveOf, range: (f64, f64)| SolveError::OffCurve {
        pump: index,
        what,
        flow,
        range,
    };
    if let Some(curve) = pump.curve()
        && !curve.covers(flow)
    {
        return Err(off(CurveOf::Head, curve.range()));
    }
    let rated = pump.rated_flow(flow);
    let scale = if rated == 0.0 { 1.0 } else { flow / rated };
    let others = [
        (CurveOf::Efficiency, Some(&pump.efficiency)),
        (CurveOf::NpshRequired, pump.npsh_required.as_ref()),
    ];
    for (what, curve) in others {
        if let Some(OverFlow::Curve(curve)) = curve
            && !curve.covers(rated)
        {
            let (from, to) = curve.range();
            return Err(off(what, (from * scale, to * scale)));
        }
    }
    let efficiency = pump.efficiency_at(flow);
    if flow > 0.0 && !(efficiency > 0.0 && efficiency <= 1.0) {
        return Err(SolveError::Impossible {
            what: "efficiency of a pump, read off its curve,",
            value: efficiency,
        });
    }
    Ok(())
}

fn pipe_state(
    pipe: &Pipe,
    flow: f64,
    reading: Reading,
    path: &Path,
    kinematic_viscosity: f64,
    limits: &Limits,
) -> PipeState {
    let velocity = flow / pipe.area();
    let reynolds = velocity * pipe.diameter / kinematic_viscosity;
    let relative_roughness = pipe.roughness / pipe.diameter;
    let darcy_friction_factor = darcy_of(&pipe.section, reading, reynolds, relative_roughness, limits);
    let (rough_number, major_head_loss) = if velocity == 0.0 {
        (0.0, 0.0)
    } else {
        (
            reynolds * darcy_friction_factor.sqrt() * relative_roughness,
            if pipe.length == 0.0 {
                0.0
            } else {
                darcy_friction_factor * pipe.length / pipe.diameter * square(velocity) / (2.0 * path.gravity)
            },
        )
    };
    PipeState {
        velocity,
        reynolds,
        relative_roughness,
        darcy_friction_factor,
        regime: classify(reynolds, rough_number, limits),
        roughness_reynolds: roughness_reynolds(rough_number),
        rough_number,
        major_head_loss,
    }
}

fn station_state(station: &Station, adjoining: Option<(f64, &PipeState, &Section)>) -> StationState {
    let (flow, velocity, is_laminar, section) = match adjoining {
        Some((flow, pipe, section)) => (flow, pipe.velocity, pipe.regime == Regime::Laminar, section),
        None => (0.0, 0.0, false, &Section::ROUND),
    };
    StationState {
        pressure: station.pressure,
        elevation: station.elevation,
        velocity: match station.velocity {
            StationVelocity::Value(value) => value,
            StationVelocity::Pipe => velocity,
            StationVelocity::Jet(diameter) => flow / area(diameter),
        },
        alpha: alpha(station, section, is_laminar),
    }
}

/// The largest head in the energy equation \[m\], against which a residual is small or not.
pub(super) fn largest_head(path: &Path, state: &State) -> f64 {
    let weight = path.density * path.gravity;
    let mut largest = 0.0_f64;
    for station in [&state.start, &state.end] {
        for head in [
            station.pressure / weight,
            station.elevation,
            station.alpha * square(station.velocity) / (2.0 * path.gravity),
        ] {
            largest = largest.max(head.abs());
        }
    }
    for head in state.pump_heads.iter().chain(&state.turbine_heads) {
        largest = largest.max(head.abs());
    }
    largest.max(state.head_loss)
}
