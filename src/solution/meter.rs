//! A flow meter, solved: its results by name, what to know of them, and JSON.

use super::json::{UnknownOut, pretty};
use super::kind::{Case, Flowing, Found, Remark, Solution, Unsolved};
use super::results::pure;
use super::units::Kind;
use super::{Step, worked};
use crate::bank::course::Conventions;
use crate::bank::system::meter::{Instrument, MeterSystem};
use crate::bank::system::{FluidValues, Kind as _, System};
use crate::constants::policy;
use crate::equation::{EquationError, Expr};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::meter::standard::{Device, Limit, Limited, loss_parts};
use crate::hydraulics::meter::{
    Element, Gauge, Meter, Problem, SolveError, Solved, Throttle, ThrottleState, Through, Unknown, Warning,
    solve,
};
use crate::hydraulics::path::area;
use crate::hydraulics::regime::{Limits, classify};
use crate::quantity::{Shown, Written, round_to_figures};
use serde::Serialize;

/// A flow meter, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterCase {
    /// The system, resolved.
    pub system: MeterSystem,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// The problem as it was set.
    pub problem: Problem,
    /// Its solution.
    pub solved: Solved,
    /// Where laminar flow ends and turbulent flow begins.
    pub limits: Limits,
}

impl MeterCase {
    pub(super) fn solve(
        system: MeterSystem,
        figures: Option<u32>,
        limits: &Limits,
    ) -> Result<Self, Unsolved> {
        let problem = system.problem(figures)?;
        let fluid = system.fluid_values(figures)?;
        let solved = solve(&problem, 1.0, limits)
            .map_err(|error| Unsolved::new(short(&error), system.fault(&error)))?;
        Ok(Self {
            system,
            fluid,
            problem,
            solved,
            limits: *limits,
        })
    }

    /// The same with another problem, solved with a share of the standard's discharge coefficient.
    pub(crate) fn with(&self, problem: Problem, coefficient_factor: f64) -> Result<Self, Unsolved> {
        let solved = solve(&problem, coefficient_factor, &self.limits)
            .map_err(|error| Unsolved::new(short(&error), self.system.fault(&error)))?;
        Ok(Self {
            problem,
            solved,
            ..self.clone()
        })
    }

    /// What was sought.
    pub(crate) fn unknown(&self) -> Unknown {
        self.problem.unknown
    }

    /// The device and what flows through it, if it is a throttling one.
    pub(crate) fn throttle(&self) -> Option<(&Throttle, &ThrottleState)> {
        match (&self.solved.meter.element, &self.solved.state.through) {
            (Element::Throttle(throttle), Through::Throttle(state)) => Some((throttle, state)),
            _ => None,
        }
    }

    /// Whether a reader of a chart or an equation of discharge coefficients may get another one.
    pub(crate) fn coefficient_is_read(&self) -> bool {
        self.throttle().is_some_and(|(throttle, _)| {
            throttle.coefficient.is_none() && !matches!(throttle.device, Device::Venturi(_))
        })
    }

    /// What a reading of a friction factor would make of the coefficient: its reader misses it by less.
    pub(crate) fn misread(&self, readings: &[Reading]) -> f64 {
        match readings {
            [reading] if self.coefficient_is_read() => {
                1.0 + policy::COEFFICIENT_READING_SHARE * (reading.factor - 1.0)
            }
            _ => 1.0,
        }
    }

    fn flow(&self) -> Option<(f64, f64)> {
        match &self.solved.state.through {
            Through::Throttle(state) => Some((state.velocity, state.reynolds)),
            Through::Pitot(state) => state.duct.map(|duct| (duct.velocity, duct.reynolds)),
        }
    }
}

fn short(error: &SolveError) -> &'static str {
    match error {
        SolveError::NoSolution { why, .. } | SolveError::Undetermined { why } => why,
        SolveError::Laminar { .. } => "laminar flow through the meter",
        SolveError::Impossible { what, .. } => what,
    }
}

/// The manometer's liquid of a meter \[kg/m³\].
fn liquid(meter: &Meter) -> Option<f64> {
    match meter.gauge {
        Gauge::Manometer { density, .. } => Some(density),
        Gauge::Differential(_) => None,
    }
}

impl Solution for MeterCase {
    fn found(&self) -> Vec<Found> {
        let (solved, system) = (&self.solved, &self.system);
        let mut all = Vec::new();
        let mut add = |name: &str, kind: Kind, si: f64| {
            all.push(Found::new(name, kind, si, system.stated(name)));
        };
        let state = &solved.state;
        add("dp", Kind::Pressure, state.differential);
        add("h", Kind::Length, state.differential_head);
        let ideal = (2.0 * state.differential / solved.meter.density).sqrt();
        add("u_i", Kind::Velocity, ideal);
        if let (Some(deflection), Some(density)) = (state.deflection, liquid(&solved.meter)) {
            add("h_m", Kind::Bore, deflection);
            add("rho_m", Kind::Density, density);
            add("rho_d", Kind::Density, (density - solved.meter.density).abs());
        }
        match (&solved.meter.element, &state.through) {
            (Element::Throttle(throttle), Through::Throttle(state)) => {
                add("C", Kind::Number, state.coefficient);
                add("D", Kind::Bore, throttle.pipe_diameter);
                add("A", Kind::Area, area(throttle.pipe_diameter));
                add("Q", Kind::Flow, state.flow);
                add("mdot", Kind::MassFlow, state.mass_flow);
                add("d", Kind::Bore, throttle.throat_diameter);
                add("A_t", Kind::Area, area(throttle.throat_diameter));
                add("beta", Kind::Number, state.beta);
                add("E", Kind::Number, state.approach_factor);
                add("Y", Kind::Number, state.expansibility);
                add("Q_i", Kind::Flow, state.ideal_flow);
                add(
                    "xi",
                    Kind::Number,
                    state.permanent_loss / solved.state.differential,
                );
                add("dp_loss", Kind::Pressure, state.permanent_loss);
                add("h_loss", Kind::Length, state.head_loss);
                add("K_loss", Kind::Number, state.loss_coefficient);
                add("P_loss", Kind::Power, state.loss_power);
                if !throttle.device.has_outlet_cone() {
                    let (root, jet) = loss_parts(state.beta, state.coefficient);
                    add("s_loss", Kind::Number, root);
                    add("s_jet", Kind::Number, jet);
                }
            }
            (Element::Pitot(pitot), Through::Pitot(state)) => {
                add("C", Kind::Number, state.coefficient);
                add("u", Kind::Velocity, state.velocity);
                if let (Some(duct), Some(flow)) = (&pitot.duct, &state.duct) {
                    add("D", Kind::Bore, duct.diameter);
                    add("A", Kind::Area, area(duct.diameter));
                    add("Q", Kind::Flow, flow.flow);
                    add("mdot", Kind::MassFlow, solved.meter.density * flow.flow);
                    add("k_u", Kind::Number, duct.velocity_ratio);
                }
            }
            _ => {}
        }
        if let Some((velocity, reynolds)) = self.flow() {
            add("V", Kind::Velocity, velocity);
            add("Re", Kind::Number, reynolds);
        }
        all
    }

    fn flowing(&self) -> Vec<Flowing> {
        // A meter's wall counts as smooth: its pipe is, by the standard.
        self.flow()
            .map(|(_, reynolds)| Flowing {
                name: "pipe".to_owned(),
                reynolds,
                relative_roughness: 0.0,
                rough_number: 0.0,
                regime: classify(reynolds, 0.0, &self.limits),
            })
            .into_iter()
            .collect()
    }

    fn remarks(&self, _limits: &Limits) -> Vec<Remark> {
        (self.solved.warnings.iter())
            .map(|warning| Remark {
                text: self.warning(warning),
                short: match warning {
                    Warning::BeyondStandard { .. } => "beyond a limit of the standard",
                    Warning::UnusualLoss { .. } => "an unusual permanent loss",
                    Warning::GasWithoutExpansion { .. } => "a gas taken as incompressible",
                    Warning::Cavitation { .. } => "pressure below vapour pressure",
                    Warning::AboveIdeal { .. } => "a coefficient above 1",
                    Warning::UnusualVelocity { .. } => "an unusual velocity",
                    Warning::SecondSolution { .. } => "a second solution",
                },
                critical: false,
                choice: matches!(warning, Warning::SecondSolution { .. }),
            })
            .collect()
    }

    fn answers(&self) -> Vec<(String, String)> {
        let name = match self.unknown() {
            Unknown::Flow => "Q",
            Unknown::Differential => "dp",
            Unknown::Deflection => "h_m",
            Unknown::ThroatDiameter => "d",
            Unknown::Coefficient => "C",
            Unknown::Velocity => "u",
        };
        let mut all = vec![(
            name.to_owned(),
            self.system.sought_words(self.unknown()).to_owned(),
        )];
        if self.throttle().is_some() {
            all.push(("dp_loss".to_owned(), "the pressure lost for good".to_owned()));
        } else if self.flow().is_some() {
            all.push(("Q".to_owned(), "the flow in the pipe".to_owned()));
        }
        all
    }

    fn worked(&self, _limits: &Limits, conventions: &Conventions) -> Result<Vec<Step>, EquationError> {
        worked::meter::steps(self, conventions)
    }

    fn json(&self, limits: &Limits) -> String {
        json(self, limits)
    }

    fn again(&self, readings: &[Reading], _limits: &Limits) -> Result<Case, Unsolved> {
        self.with(self.problem, self.misread(readings))
            .map(|case| Case::Meter(Box::new(case)))
    }
}

/// A value with its unit for a message: SI, lengths in millimetres.
fn say(limited: Limited, value: f64) -> String {
    let short = |value: f64| Shown::new(value, 4).ascii();
    match limited {
        Limited::PipeDiameter | Limited::ThroatDiameter => format!("{} mm", short(1e3 * value)),
        Limited::Beta | Limited::Reynolds | Limited::PressureRatio => short(value),
    }
}

/// What a limit is on, in words.
pub(super) fn limited_words(limited: Limited) -> &'static str {
    match limited {
        Limited::PipeDiameter => "diameter of the pipe",
        Limited::ThroatDiameter => "diameter of the throat",
        Limited::Beta => "diameter ratio",
        Limited::Reynolds => "Reynolds number of the pipe",
        Limited::PressureRatio => "pressure behind the meter over that before it",
    }
}

/// The ends of a limit, in millimetres where it is on a diameter, and its unit; the second end only where one is
/// named.
pub(super) fn range(limit: &Limit) -> (f64, Option<f64>, &'static str) {
    let (scale, unit) = match limit.on {
        Limited::PipeDiameter | Limited::ThroatDiameter => (1e3, " mm"),
        Limited::Beta | Limited::Reynolds | Limited::PressureRatio => (1.0, ""),
    };
    let greatest =
        (limit.greatest.is_finite() && limit.on != Limited::PressureRatio).then_some(scale * limit.greatest);
    (scale * limit.least, greatest, unit)
}

/// The range of a limit in words: `0.1 to 0.75`, `at least 5000`.
fn range_words(limit: &Limit) -> String {
    let bare = |value: f64| limit_number(value).ascii();
    match range(limit) {
        (least, Some(greatest), unit) => format!("{} to {}{unit}", bare(least), bare(greatest)),
        (least, None, unit) => format!("at least {}{unit}", bare(least)),
    }
}

/// A number of a limit with as few figures as say it, four at most; its digits are written out below 100 000.
pub(super) fn limit_number(value: f64) -> Written {
    let rounded = round_to_figures(value, 4);
    if rounded < 1e5 {
        return match Expr::number(rounded) {
            Expr::Number(written) => written,
            _ => pure(rounded, 4),
        };
    }
    (1..4)
        .map(|figures| pure(rounded, figures))
        .find(|written| written.number == rounded)
        .unwrap_or_else(|| pure(rounded, 4))
}

impl MeterCase {
    /// A warning in words.
    fn warning(&self, warning: &Warning) -> String {
        let short = |value: f64| Shown::new(value, 4).ascii();
        match warning {
            Warning::BeyondStandard { limit, value } => format!(
                "the {} is {}, but {} asks for {}; beyond that the coefficient is a guess",
                limited_words(limit.on),
                say(limit.on, *value),
                limit.clause,
                range_words(limit)
            ),
            Warning::UnusualLoss { share, clause } => format!(
                "a permanent loss of {} % of the differential pressure is taken, but {clause} expects 5 % to 20 %",
                short(100.0 * share)
            ),
            Warning::GasWithoutExpansion { density } => format!(
                "the fluid is a gas ({} kg/m^3), but is taken as incompressible; `upstream pressure` and `isentropic \
                 exponent` bring its expansion in",
                short(*density)
            ),
            Warning::Cavitation {
                pressure,
                vapour_pressure,
            } => format!(
                "behind the meter the pressure is {} kPa absolute, below the vapour pressure of {} kPa: the fluid boils there, \
                 and nothing of this holds",
                short(1e-3 * pressure),
                short(1e-3 * vapour_pressure)
            ),
            Warning::AboveIdeal { coefficient } => format!(
                "the coefficient comes out as {}, more than the 1 of an ideal meter; check the values",
                short(*coefficient)
            ),
            Warning::UnusualVelocity { velocity } => {
                format!(
                    "the velocity is {} m/s, out of the ordinary range",
                    short(*velocity)
                )
            }
            Warning::SecondSolution { value } => format!(
                "a second throat solves the equation as well: {} mm",
                short(1e3 * value)
            ),
        }
    }
}

#[derive(Serialize)]
struct Out {
    unknown: UnknownOut,
    differential: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    deflection: Option<f64>,
    coefficient: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    meter: Option<ThrottleOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    velocity_at_tip: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    flow: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    velocity: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reynolds: Option<f64>,
    fluid: FluidOut,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct ThrottleOut {
    pipe_diameter: f64,
    throat_diameter: f64,
    beta: f64,
    velocity_of_approach: f64,
    expansibility: f64,
    ideal_flow: f64,
    mass_flow: f64,
    permanent_loss: f64,
    head_loss: f64,
    loss_coefficient: f64,
    loss_power: f64,
    source: &'static str,
}

#[derive(Serialize)]
struct FluidOut {
    density: f64,
    dynamic_viscosity: f64,
}

fn json(case: &MeterCase, limits: &Limits) -> String {
    let solved = &case.solved;
    let state = &solved.state;
    let (coefficient, flow, tip) = match &state.through {
        Through::Throttle(state) => (state.coefficient, Some(state.flow), None),
        Through::Pitot(state) => (
            state.coefficient,
            state.duct.map(|duct| duct.flow),
            Some(state.velocity),
        ),
    };
    let out = Out {
        unknown: UnknownOut {
            name: System::Meter(Box::new(case.system.clone())).unknown_name(),
            value: solved.value,
            unit: match case.unknown() {
                Unknown::Flow => "m3/s",
                Unknown::Differential => "Pa",
                Unknown::Deflection | Unknown::ThroatDiameter => "m",
                Unknown::Coefficient => "1",
                Unknown::Velocity => "m/s",
            },
        },
        differential: state.differential,
        deflection: state.deflection,
        coefficient,
        meter: case.throttle().map(|(throttle, state)| ThrottleOut {
            pipe_diameter: throttle.pipe_diameter,
            throat_diameter: throttle.throat_diameter,
            beta: state.beta,
            velocity_of_approach: state.approach_factor,
            expansibility: state.expansibility,
            ideal_flow: state.ideal_flow,
            mass_flow: state.mass_flow,
            permanent_loss: state.permanent_loss,
            head_loss: state.head_loss,
            loss_coefficient: state.loss_coefficient,
            loss_power: state.loss_power,
            source: if throttle.coefficient.is_some() {
                "coefficient as given"
            } else {
                throttle.device.coefficient_clause()
            },
        }),
        velocity_at_tip: tip,
        flow,
        velocity: case.flow().map(|(velocity, _)| velocity),
        reynolds: case.flow().map(|(_, reynolds)| reynolds),
        fluid: FluidOut {
            density: solved.meter.density,
            dynamic_viscosity: solved.meter.dynamic_viscosity,
        },
        warnings: case
            .remarks(limits)
            .into_iter()
            .map(|remark| remark.text)
            .collect(),
    };
    pretty(&out)
}

/// Whether a Pitot tube's words say that it is one with static holes.
pub(super) fn is_pitot_static(system: &MeterSystem) -> bool {
    matches!(&system.instrument, Instrument::Pitot(pitot) if pitot.has_static_holes)
}
