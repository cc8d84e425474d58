//! One run of pipes between two stations, and its energy equation at a known flow.

use super::regime::Regime;

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
    /// Kinetic-energy factor, where it is fixed; else 2 where the adjoining pipe is laminar and 1 where it is not.
    pub alpha: Option<f64>,
}

/// A pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pipe {
    /// Inner diameter \[m\].
    pub diameter: f64,
    /// Length \[m\].
    pub length: f64,
    /// Equivalent sand roughness \[m\].
    pub roughness: f64,
}

/// What is known of a pump or a turbine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Duty {
    /// Its head \[m\]: given to the fluid by a pump, taken from it by a turbine.
    Head(f64),
    /// Its shaft power \[W\].
    Power(f64),
}

/// A pump or a turbine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Machine {
    /// What is known of it.
    pub duty: Duty,
    /// Efficiency between shaft and fluid \[–\]; 1 where nothing is said.
    pub efficiency: f64,
}

/// Something on the way from start to end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Element {
    /// A pipe.
    Pipe(Pipe),
    /// A minor loss.
    Loss {
        /// Loss coefficient K \[–\].
        coefficient: f64,
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

/// Everything along a path at one flow. Losses, heads and powers stand in the order of the path's elements.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// Volume flow \[m³/s\].
    pub flow: f64,
    /// A state for each pipe, in order.
    pub pipes: Vec<PipeState>,
    /// Head lost in each minor loss, in order \[m\].
    pub minor_head_losses: Vec<f64>,
    /// Head of each pump, in order \[m\].
    pub pump_heads: Vec<f64>,
    /// Shaft power of each pump, in order \[W\].
    pub pump_powers: Vec<f64>,
    /// Head of each turbine, in order \[m\].
    pub turbine_heads: Vec<f64>,
    /// Shaft power of each turbine, in order \[W\].
    pub turbine_powers: Vec<f64>,
    /// At the start.
    pub start: StationState,
    /// At the end.
    pub end: StationState,
    /// All head lost \[m\].
    pub head_loss: f64,
    /// Energy left over: start + pumps - turbines - losses - end \[m\]; 0 where the equation is solved.
    pub residual: f64,
}
