//! Flow meters: throttling devices by ISO 5167, and Pitot tubes; solved for any one unknown.
//!
//! Continuity and Bernoulli's equation between the pipe and the throat give the flow of an ideal fluid,
//! `A_t √(2 Δp/ρ)/√(1 − β⁴)`; the discharge coefficient C and, for a gas, the expansibility factor ε bring it
//! down to the real one. C depends on the Reynolds number, hence on the flow that is sought.

pub mod standard;

use super::path::area;
use super::regime::Limits;
use super::root::{crossing, crossings};
use crate::constants::policy;
use standard::{
    CONE_LOSS_SHARES, Device, LOWEST_PRESSURE_RATIO, Limit, Limited, discharge_coefficient, expansibility,
    limits, loss_share,
};

/// How the differential pressure is had.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gauge {
    /// Straight from an instrument \[Pa\].
    Differential(f64),
    /// From the deflection of a manometer whose lines are full of the flowing fluid.
    Manometer {
        /// Density of the manometer's liquid \[kg/m³\]; one lighter than the fluid stands in an inverted tube.
        density: f64,
        /// Difference of its two levels \[m\].
        deflection: f64,
    },
}

/// A gas, as far as its expansion through a meter goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    /// Absolute pressure before the device \[Pa\].
    pub upstream_pressure: f64,
    /// Isentropic exponent κ \[–\].
    pub isentropic_exponent: f64,
}

/// A liquid, as far as it may boil in a throat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liquid {
    /// Absolute pressure before the device \[Pa\].
    pub upstream_pressure: f64,
    /// Vapour pressure, absolute \[Pa\]; 0 where it is not known.
    pub vapour_pressure: f64,
}

/// A throttling device in its pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Throttle {
    /// Which.
    pub device: Device,
    /// Inner diameter of the pipe \[m\].
    pub pipe_diameter: f64,
    /// Diameter of the throat, which is the bore of a plate \[m\].
    pub throat_diameter: f64,
    /// Discharge coefficient \[–\] where it is given (by a calibration, or by a textbook); else the standard's.
    pub coefficient: Option<f64>,
    /// Share of the differential pressure that is lost for good, for a device with an outlet cone \[–\]; others
    /// follow from β and C.
    pub cone_loss_share: f64,
    /// The gas, where the fluid is one and its expansion counts.
    pub gas: Option<Gas>,
    /// The liquid, where the fluid is one and its pressure before the device is known.
    pub liquid: Option<Liquid>,
}

/// A round duct, at the centre of which a Pitot tube stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duct {
    /// Inner diameter \[m\].
    pub diameter: f64,
    /// Mean velocity over that at the tube \[–\].
    pub velocity_ratio: f64,
}

/// A Pitot or Pitot-static tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pitot {
    /// Its coefficient \[–\]: `V = C √(2 Δp/ρ)`.
    pub coefficient: f64,
    /// Velocity at its tip \[m/s\].
    pub velocity: f64,
    /// The duct, where a mean velocity is wanted.
    pub duct: Option<Duct>,
}

/// What meters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Element {
    /// A throttling device.
    Throttle(Throttle),
    /// A Pitot tube.
    Pitot(Pitot),
}

/// A fluid and its meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    /// Density, before the device \[kg/m³\].
    pub density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub dynamic_viscosity: f64,
    /// Acceleration of gravity \[m/s²\].
    pub gravity: f64,
    /// What meters.
    pub element: Element,
    /// How its pressure is read.
    pub gauge: Gauge,
}

/// What is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Volume flow \[m³/s\], through a throttling device.
    Flow,
    /// Differential pressure \[Pa\].
    Differential,
    /// Deflection of the manometer \[m\].
    Deflection,
    /// Diameter of the throat \[m\].
    ThroatDiameter,
    /// Discharge coefficient of a throttling device, or coefficient of a Pitot tube \[–\]: a calibration.
    Coefficient,
    /// Velocity at the tip of a Pitot tube \[m/s\].
    Velocity,
}

/// A meter with one value missing: that slot of `meter` (or `flow`) holds NaN.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Problem {
    /// The meter.
    pub meter: Meter,
    /// Volume flow \[m³/s\], before the device; no matter for a Pitot tube.
    pub flow: f64,
    /// Which value is missing.
    pub unknown: Unknown,
}

/// What flows through a throttling device.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThrottleState {
    /// Volume flow, before the device \[m³/s\].
    pub flow: f64,
    /// Mass flow \[kg/s\].
    pub mass_flow: f64,
    /// Mean velocity in the pipe \[m/s\].
    pub velocity: f64,
    /// Reynolds number of the pipe \[–\].
    pub reynolds: f64,
    /// β = d/D \[–\].
    pub beta: f64,
    /// Velocity of approach factor E = 1/√(1 − β⁴) \[–\].
    pub approach_factor: f64,
    /// Discharge coefficient C \[–\].
    pub coefficient: f64,
    /// Expansibility factor ε \[–\]; 1 for a liquid.
    pub expansibility: f64,
    /// Flow of an ideal fluid at the same differential pressure \[m³/s\].
    pub ideal_flow: f64,
    /// Pressure lost for good \[Pa\].
    pub permanent_loss: f64,
    /// The same as a head \[m\].
    pub head_loss: f64,
    /// Loss coefficient on the velocity head of the pipe \[–\]; 0 without flow.
    pub loss_coefficient: f64,
    /// Power that the loss takes \[W\].
    pub loss_power: f64,
}

/// What a Pitot tube meets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PitotState {
    /// Velocity at the tip \[m/s\].
    pub velocity: f64,
    /// Coefficient \[–\].
    pub coefficient: f64,
    /// In a duct: mean velocity \[m/s\], volume flow \[m³/s\] and Reynolds number \[–\].
    pub duct: Option<DuctState>,
}

/// The flow in the duct round a Pitot tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DuctState {
    /// Mean velocity \[m/s\].
    pub velocity: f64,
    /// Volume flow \[m³/s\].
    pub flow: f64,
    /// Reynolds number \[–\].
    pub reynolds: f64,
}

/// What flows, by the kind of meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Through {
    /// A throttling device.
    Throttle(ThrottleState),
    /// A Pitot tube.
    Pitot(PitotState),
}

/// Everything at a meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Differential pressure \[Pa\].
    pub differential: f64,
    /// The same as a head of the flowing fluid \[m\].
    pub differential_head: f64,
    /// Deflection of the manometer \[m\], where there is one.
    pub deflection: Option<f64>,
    /// What flows.
    pub through: Through,
}

/// Something about an answer that a person should know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Warning {
    /// A limit of the standard is not kept, so that its coefficient is a guess.
    BeyondStandard {
        /// The limit.
        limit: Limit,
        /// The value, SI.
        value: f64,
    },
    /// The share lost behind an outlet cone is out of what the standard expects.
    UnusualLoss {
        /// The share \[–\].
        share: f64,
        /// The clause.
        clause: &'static str,
    },
    /// A gas is taken as incompressible, since no pressure before the device is given.
    GasWithoutExpansion {
        /// Its density \[kg/m³\].
        density: f64,
    },
    /// The pressure behind the device is below vapour pressure, so that the liquid boils there; in the jet itself it is
    /// lower still.
    Cavitation {
        /// Absolute pressure behind the device \[Pa\].
        pressure: f64,
        /// Vapour pressure \[Pa\].
        vapour_pressure: f64,
    },
    /// The coefficient found is above 1: more flow than Bernoulli's equation allows.
    AboveIdeal {
        /// The coefficient \[–\].
        coefficient: f64,
    },
    /// A velocity is out of the ordinary range.
    UnusualVelocity {
        /// The velocity \[m/s\].
        velocity: f64,
    },
    /// Another value solves the equation as well; the smaller one is given.
    SecondSolution {
        /// The other value, SI.
        value: f64,
    },
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// The unknown's value, SI.
    pub value: f64,
    /// The meter with the value put in.
    pub meter: Meter,
    /// Everything at it.
    pub state: State,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SolveError {
    /// No value of the unknown within the range tried solves the equation.
    NoSolution {
        /// The range tried, SI.
        tried: (f64, f64),
        /// Why, in words of the equation.
        why: &'static str,
    },
    /// The flow is laminar in the pipe, where the standard's coefficients mean nothing.
    Laminar {
        /// The Reynolds number, or one that it does not reach.
        reynolds: f64,
    },
    /// The unknown can't be told.
    Undetermined {
        /// Why.
        why: &'static str,
    },
    /// A value that can't be.
    Impossible {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
    },
}

/// β within which a throat is sought: wider than any limit of the standard, so that an answer outside it is
/// given with its warning rather than not at all.
pub const SOUGHT_BETAS: (f64, f64) = (0.05, 0.85);

/// Least pressure ratio at which a gas is computed at all: below it the flow nears the speed of sound in the
/// throat (critical ratio 0.53 for κ = 1.4), which is outside the equations. Our choice.
pub const LEAST_PRESSURE_RATIO: f64 = 0.6;

/// An answer that misses its equation by more than this share is not given.
const RESIDUAL_SHARE: f64 = 1e-10;

/// Solves `problem`; `coefficient_factor` multiplies a discharge coefficient that is read off the standard's
/// curve or worked out from its equation (1 for what the standard says), and leaves a given one alone.
///
/// What is explicit is had explicitly; all else is a root, bracketed before it is sought. Before it is given,
/// every answer is put back into the equation of the meter.
///
/// # Errors
/// [`SolveError`], never a wrong number.
pub fn solve(problem: &Problem, coefficient_factor: f64, regime: &Limits) -> Result<Solved, SolveError> {
    check(problem, coefficient_factor)?;
    match problem.meter.element {
        Element::Throttle(throttle) => solve_throttle(problem, throttle, coefficient_factor, regime),
        Element::Pitot(pitot) => solve_pitot(problem, pitot),
    }
}

/// Pressure that a meter of unit deflection shows \[Pa/m\].
fn pressure_per_deflection(meter: &Meter, manometer_density: f64) -> f64 {
    (manometer_density - meter.density).abs() * meter.gravity
}

/// The differential pressure of a gauge \[Pa\]; NaN where it is what is missing.
fn differential(meter: &Meter) -> f64 {
    match meter.gauge {
        Gauge::Differential(value) => value,
        Gauge::Manometer { density, deflection } => deflection * pressure_per_deflection(meter, density),
    }
}

/// The gauge of a meter showing a differential pressure, and the unknown's value if it is what was missing.
fn gauge_at(meter: &Meter, differential: f64) -> (Gauge, f64) {
    match meter.gauge {
        Gauge::Differential(_) => (Gauge::Differential(differential), differential),
        Gauge::Manometer { density, .. } => {
            let deflection = differential / pressure_per_deflection(meter, density);
            (Gauge::Manometer { density, deflection }, deflection)
        }
    }
}

/// A throttling device whose fluid is known, ready to be evaluated.
struct Equation {
    density: f64,
    dynamic_viscosity: f64,
    throttle: Throttle,
    coefficient_factor: f64,
}

impl Equation {
    fn beta(&self) -> f64 {
        self.throttle.throat_diameter / self.throttle.pipe_diameter
    }

    fn reynolds(&self, flow: f64) -> f64 {
        flow / area(self.throttle.pipe_diameter) * self.throttle.pipe_diameter * self.density
            / self.dynamic_viscosity
    }

    /// The flow at a Reynolds number of the pipe \[m³/s\].
    fn flow_at(&self, reynolds: f64) -> f64 {
        reynolds * self.dynamic_viscosity / self.density * area(self.throttle.pipe_diameter)
            / self.throttle.pipe_diameter
    }

    fn coefficient(&self, flow: f64) -> f64 {
        self.throttle.coefficient.unwrap_or_else(|| {
            self.coefficient_factor
                * discharge_coefficient(
                    self.throttle.device,
                    self.beta(),
                    self.throttle.pipe_diameter,
                    self.reynolds(flow),
                )
        })
    }

    fn expansibility(&self, differential: f64) -> f64 {
        self.throttle.gas.map_or(1.0, |gas| {
            expansibility(
                self.throttle.device,
                self.beta(),
                1.0 - differential / gas.upstream_pressure,
                gas.isentropic_exponent,
            )
        })
    }

    fn approach_factor(&self) -> f64 {
        let beta2 = self.beta() * self.beta();
        1.0 / (1.0 - beta2 * beta2).sqrt()
    }

    fn ideal_flow(&self, differential: f64) -> f64 {
        self.approach_factor()
            * area(self.throttle.throat_diameter)
            * (2.0 * differential / self.density).sqrt()
    }

    /// What the equation says flows, with the coefficient that belongs to `flow`.
    fn predicted(&self, flow: f64, differential: f64) -> f64 {
        self.coefficient(flow) * self.expansibility(differential) * self.ideal_flow(differential)
    }
}

fn solve_throttle(
    problem: &Problem,
    throttle: Throttle,
    coefficient_factor: f64,
    regime: &Limits,
) -> Result<Solved, SolveError> {
    let mut meter = problem.meter;
    let mut equation = Equation {
        density: meter.density,
        dynamic_viscosity: meter.dynamic_viscosity,
        throttle,
        coefficient_factor,
    };
    let mut flow = problem.flow;
    let mut pressure = differential(&meter);
    let mut warnings = Vec::new();
    if problem.unknown != Unknown::Flow && throttle.coefficient.is_none() {
        turbulent(equation.reynolds(flow), regime)?;
    }
    if !matches!(problem.unknown, Unknown::Differential | Unknown::Deflection) {
        subsonic(&equation, pressure)?;
    }

    let value = match problem.unknown {
        Unknown::Flow => {
            flow = metered_flow(&equation, pressure, regime)?;
            flow
        }
        Unknown::Differential | Unknown::Deflection => {
            pressure = needed_differential(&equation, flow)?;
            let (gauge, value) = gauge_at(&meter, pressure);
            meter.gauge = gauge;
            pressure = differential(&meter);
            value
        }
        Unknown::ThroatDiameter => {
            let roots = throats(&mut equation, flow, pressure)?;
            warnings.extend(roots[1..].iter().map(|&value| Warning::SecondSolution { value }));
            equation.throttle.throat_diameter = roots[0];
            roots[0]
        }
        Unknown::Coefficient => {
            let ideal = equation.expansibility(pressure) * equation.ideal_flow(pressure);
            if ideal == 0.0 {
                return Err(SolveError::Undetermined {
                    why: "without a differential pressure no coefficient can be told",
                });
            }
            equation.throttle.coefficient = Some(flow / ideal);
            flow / ideal
        }
        Unknown::Velocity => {
            return Err(SolveError::Impossible {
                what: "velocity as the unknown of a throttling device",
                value: f64::NAN,
            });
        }
    };
    meter.element = Element::Throttle(equation.throttle);

    // Proof, by the equation itself.
    let predicted = equation.predicted(flow, pressure);
    if !((predicted - flow).abs() <= RESIDUAL_SHARE * flow.abs() && value.is_finite()) {
        return Err(SolveError::NoSolution {
            tried: (value, value),
            why: "the value found does not satisfy the equation of the meter closely enough",
        });
    }
    let state = throttle_state(&meter, &equation, flow, pressure);
    warn_throttle(
        &meter,
        &equation,
        &state,
        pressure,
        problem.unknown,
        &mut warnings,
    );
    Ok(Solved {
        value,
        meter,
        state: state_of(&meter, pressure, Through::Throttle(state)),
        warnings,
    })
}

fn turbulent(reynolds: f64, regime: &Limits) -> Result<(), SolveError> {
    if reynolds >= regime.laminar_end {
        Ok(())
    } else {
        Err(SolveError::Laminar { reynolds })
    }
}

/// Refuses a gas that expands so far that the equations end.
fn subsonic(equation: &Equation, differential: f64) -> Result<(), SolveError> {
    match equation.throttle.gas {
        Some(gas) if 1.0 - differential / gas.upstream_pressure < LEAST_PRESSURE_RATIO => {
            Err(SolveError::NoSolution {
                tried: (0.0, (1.0 - LEAST_PRESSURE_RATIO) * gas.upstream_pressure),
                why: "the differential pressure is so large a share of the pressure before the device that the gas nears the speed of sound in the throat",
            })
        }
        _ => Ok(()),
    }
}

/// The flow at a known differential pressure: the crossing of `Q − C(Q) ε Q_ideal`, which rises with Q as long as
/// the flow is turbulent, since C then changes less than Q does.
fn metered_flow(equation: &Equation, pressure: f64, regime: &Limits) -> Result<f64, SolveError> {
    let most = equation.expansibility(pressure) * equation.ideal_flow(pressure);
    if let Some(coefficient) = equation.throttle.coefficient {
        return Ok(coefficient * most);
    }
    if pressure == 0.0 {
        return Err(SolveError::Laminar { reynolds: 0.0 });
    }
    let least = equation.flow_at(regime.laminar_end);
    let left_over = |flow: f64| flow - equation.coefficient(flow) * most;
    let high = 2.0 * most * equation.coefficient_factor.max(1.0);
    if high <= least || left_over(least) > 0.0 {
        return Err(SolveError::Laminar {
            reynolds: regime.laminar_end,
        });
    }
    Ok(crossing(left_over, least, high))
}

/// The differential pressure at a known flow: explicit for a liquid, a root for a gas.
fn needed_differential(equation: &Equation, flow: f64) -> Result<f64, SolveError> {
    // Q = C ε E A √(2 Δp/ρ); without ε straight from here.
    let slope = equation.coefficient(flow) * equation.ideal_flow(1.0);
    let liquid = (flow / slope) * (flow / slope);
    let Some(gas) = equation.throttle.gas else {
        return Ok(liquid);
    };
    let most = (1.0 - LEAST_PRESSURE_RATIO) * gas.upstream_pressure;
    let left_over = |p: f64| equation.expansibility(p) * slope * p.sqrt() - flow;
    if left_over(most) < 0.0 {
        return Err(SolveError::NoSolution {
            tried: (0.0, most),
            why: "so much gas would near the speed of sound in the throat",
        });
    }
    // ε is 1 at most, so that the gas needs no less than a liquid would.
    Ok(crossing(left_over, liquid.min(most), most))
}

/// Throats that let a known flow through at a known differential pressure, the smallest first; one at least.
fn throats(equation: &mut Equation, flow: f64, pressure: f64) -> Result<Vec<f64>, SolveError> {
    if flow == 0.0 || pressure == 0.0 {
        return Err(SolveError::Undetermined {
            why: "without flow and differential pressure no throat can be told",
        });
    }
    let pipe = equation.throttle.pipe_diameter;
    let tried = (SOUGHT_BETAS.0 * pipe, SOUGHT_BETAS.1 * pipe);
    let mut left_over = |d: f64| {
        equation.throttle.throat_diameter = d;
        equation.predicted(flow, pressure) - flow
    };
    let mut roots = Vec::new();
    crossings(&mut left_over, tried.0, tried.1, 24, &mut roots);
    if roots.is_empty() {
        let why = if left_over(tried.1) < 0.0 {
            "even a throat of 0.85 of the pipe's diameter lets less through at this differential pressure"
        } else {
            "even a throat of a twentieth of the pipe's diameter lets more through at this differential pressure"
        };
        return Err(SolveError::NoSolution { tried, why });
    }
    Ok(roots)
}

fn throttle_state(meter: &Meter, equation: &Equation, flow: f64, pressure: f64) -> ThrottleState {
    let throttle = &equation.throttle;
    let beta = equation.beta();
    let coefficient = equation.coefficient(flow);
    let share = if throttle.device.has_outlet_cone() {
        throttle.cone_loss_share
    } else {
        loss_share(beta, coefficient)
    };
    let velocity = flow / area(throttle.pipe_diameter);
    let permanent_loss = share * pressure;
    ThrottleState {
        flow,
        mass_flow: meter.density * flow,
        velocity,
        reynolds: equation.reynolds(flow),
        beta,
        approach_factor: equation.approach_factor(),
        coefficient,
        expansibility: equation.expansibility(pressure),
        ideal_flow: equation.ideal_flow(pressure),
        permanent_loss,
        head_loss: permanent_loss / (meter.density * meter.gravity),
        loss_coefficient: if flow == 0.0 {
            0.0
        } else {
            2.0 * permanent_loss / (meter.density * velocity * velocity)
        },
        loss_power: permanent_loss * flow,
    }
}

fn state_of(meter: &Meter, pressure: f64, through: Through) -> State {
    State {
        differential: pressure,
        differential_head: pressure / (meter.density * meter.gravity),
        deflection: match meter.gauge {
            Gauge::Differential(_) => None,
            Gauge::Manometer { deflection, .. } => Some(deflection),
        },
        through,
    }
}

fn warn_throttle(
    meter: &Meter,
    equation: &Equation,
    state: &ThrottleState,
    pressure: f64,
    unknown: Unknown,
    warnings: &mut Vec<Warning>,
) {
    let throttle = &equation.throttle;
    // A coefficient of one's own owes nothing to the standard's limits.
    if throttle.coefficient.is_none() {
        for limit in limits(throttle.device, state.beta, throttle.pipe_diameter) {
            let value = match limit.on {
                Limited::PipeDiameter => throttle.pipe_diameter,
                Limited::ThroatDiameter => throttle.throat_diameter,
                Limited::Beta => state.beta,
                Limited::Reynolds => state.reynolds,
                Limited::PressureRatio => continue,
            };
            if !limit.holds(value) {
                warnings.push(Warning::BeyondStandard { limit, value });
            }
        }
    }
    match throttle.gas {
        Some(gas) => {
            let limit = Limit {
                on: Limited::PressureRatio,
                least: LOWEST_PRESSURE_RATIO,
                greatest: 1.0,
                clause: throttle.device.expansibility_clause(),
            };
            let value = 1.0 - pressure / gas.upstream_pressure;
            if !limit.holds(value) {
                warnings.push(Warning::BeyondStandard { limit, value });
            }
        }
        None if meter.density < policy::GAS_DENSITY => {
            warnings.push(Warning::GasWithoutExpansion {
                density: meter.density,
            });
        }
        None => {}
    }
    if let Some(liquid) = throttle.liquid
        && liquid.upstream_pressure - pressure < liquid.vapour_pressure
    {
        warnings.push(Warning::Cavitation {
            pressure: liquid.upstream_pressure - pressure,
            vapour_pressure: liquid.vapour_pressure,
        });
    }
    let share = throttle.cone_loss_share;
    if throttle.device.has_outlet_cone() && !(CONE_LOSS_SHARES.0..=CONE_LOSS_SHARES.1).contains(&share) {
        warnings.push(Warning::UnusualLoss {
            share,
            clause: throttle.device.loss_clause(),
        });
    }
    if unknown == Unknown::Coefficient && state.coefficient > 1.0 {
        warnings.push(Warning::AboveIdeal {
            coefficient: state.coefficient,
        });
    }
    warn_velocity(meter, state.velocity, warnings);
}

fn warn_velocity(meter: &Meter, velocity: f64, warnings: &mut Vec<Warning>) {
    let (slowest, fastest) = if meter.density < policy::GAS_DENSITY {
        policy::ORDINARY_GAS_VELOCITY
    } else {
        policy::ORDINARY_VELOCITY
    };
    if velocity < slowest || velocity > fastest {
        warnings.push(Warning::UnusualVelocity { velocity });
    }
}

fn solve_pitot(problem: &Problem, mut pitot: Pitot) -> Result<Solved, SolveError> {
    let mut meter = problem.meter;
    let mut pressure = differential(&meter);
    let ideal = |pressure: f64| (2.0 * pressure / meter.density).sqrt();
    let value = match problem.unknown {
        Unknown::Velocity => {
            pitot.velocity = pitot.coefficient * ideal(pressure);
            pitot.velocity
        }
        Unknown::Differential | Unknown::Deflection => {
            let ratio = pitot.velocity / pitot.coefficient;
            let (gauge, value) = gauge_at(&meter, 0.5 * meter.density * ratio * ratio);
            meter.gauge = gauge;
            pressure = differential(&meter);
            value
        }
        Unknown::Coefficient => {
            if pressure == 0.0 {
                return Err(SolveError::Undetermined {
                    why: "without a differential pressure no coefficient can be told",
                });
            }
            pitot.coefficient = pitot.velocity / ideal(pressure);
            pitot.coefficient
        }
        Unknown::Flow | Unknown::ThroatDiameter => {
            return Err(SolveError::Impossible {
                what: "unknown of a Pitot tube",
                value: f64::NAN,
            });
        }
    };
    meter.element = Element::Pitot(pitot);
    let predicted = pitot.coefficient * ideal(pressure);
    if !((predicted - pitot.velocity).abs() <= RESIDUAL_SHARE * pitot.velocity.abs() && value.is_finite()) {
        return Err(SolveError::NoSolution {
            tried: (value, value),
            why: "the value found does not satisfy the equation of the tube closely enough",
        });
    }
    let mut warnings = Vec::new();
    if problem.unknown == Unknown::Coefficient && pitot.coefficient > 1.0 {
        warnings.push(Warning::AboveIdeal {
            coefficient: pitot.coefficient,
        });
    }
    warn_velocity(&meter, pitot.velocity, &mut warnings);
    let duct = pitot.duct.map(|duct| {
        let velocity = duct.velocity_ratio * pitot.velocity;
        DuctState {
            velocity,
            flow: velocity * area(duct.diameter),
            reynolds: velocity * duct.diameter * meter.density / meter.dynamic_viscosity,
        }
    });
    let state = PitotState {
        velocity: pitot.velocity,
        coefficient: pitot.coefficient,
        duct,
    };
    Ok(Solved {
        value,
        meter,
        state: state_of(&meter, pressure, Through::Pitot(state)),
        warnings,
    })
}

/// Refuses what can't be, so that everything behind it may rely on it. The unknown's slot is not looked at.
fn check(problem: &Problem, coefficient_factor: f64) -> Result<(), SolveError> {
    let ensure = |good: bool, what: &'static str, value: f64| {
        if good {
            Ok(())
        } else {
            Err(SolveError::Impossible { what, value })
        }
    };
    let positive = |what, value: f64| ensure(value > 0.0 && value.is_finite(), what, value);
    let not_negative = |what, value: f64| ensure(value >= 0.0 && value.is_finite(), what, value);
    let meter = &problem.meter;
    let unknown = problem.unknown;

    positive("factor of the coefficient", coefficient_factor)?;
    positive("density", meter.density)?;
    positive("dynamic viscosity", meter.dynamic_viscosity)?;
    positive("gravity", meter.gravity)?;
    match meter.gauge {
        Gauge::Differential(value) => {
            ensure(
                unknown != Unknown::Deflection,
                "deflection without a manometer",
                value,
            )?;
            if unknown != Unknown::Differential {
                not_negative("differential pressure", value)?;
            }
        }
        Gauge::Manometer { density, deflection } => {
            ensure(
                unknown != Unknown::Differential,
                "differential pressure beside a manometer",
                deflection,
            )?;
            positive("density of the manometer's liquid", density)?;
            ensure(
                density != meter.density,
                "density of the manometer's liquid, which is that of the fluid",
                density,
            )?;
            if unknown != Unknown::Deflection {
                not_negative("deflection of the manometer", deflection)?;
            }
        }
    }
    match meter.element {
        Element::Throttle(throttle) => {
            positive("diameter of the pipe", throttle.pipe_diameter)?;
            if unknown != Unknown::ThroatDiameter {
                positive("diameter of the throat", throttle.throat_diameter)?;
                ensure(
                    throttle.throat_diameter < throttle.pipe_diameter,
                    "diameter of the throat, which is no less than that of the pipe",
                    throttle.throat_diameter,
                )?;
            }
            if unknown != Unknown::Flow {
                not_negative("flow", problem.flow)?;
            }
            if let Some(coefficient) = throttle.coefficient
                && unknown != Unknown::Coefficient
            {
                positive("discharge coefficient", coefficient)?;
            }
            ensure(
                (0.0..=1.0).contains(&throttle.cone_loss_share),
                "share of the differential pressure that is lost",
                throttle.cone_loss_share,
            )?;
            if let Some(liquid) = throttle.liquid {
                positive("absolute pressure before the device", liquid.upstream_pressure)?;
                not_negative("vapour pressure", liquid.vapour_pressure)?;
            }
            if let Some(gas) = throttle.gas {
                positive("absolute pressure before the device", gas.upstream_pressure)?;
                ensure(
                    gas.isentropic_exponent > 1.0 && gas.isentropic_exponent.is_finite(),
                    "isentropic exponent",
                    gas.isentropic_exponent,
                )?;
            }
        }
        Element::Pitot(pitot) => {
            if unknown != Unknown::Coefficient {
                positive("coefficient of the tube", pitot.coefficient)?;
            }
            if unknown != Unknown::Velocity {
                not_negative("velocity", pitot.velocity)?;
            }
            if let Some(duct) = pitot.duct {
                positive("diameter of the duct", duct.diameter)?;
                positive("mean velocity over that at the tube", duct.velocity_ratio)?;
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::standard::Taps;
    use super::*;

    fn water(element: Element, gauge: Gauge) -> Meter {
        Meter {
            density: 998.2,
            dynamic_viscosity: 1.0016e-3,
            gravity: 9.81,
            element,
            gauge,
        }
    }

    fn plate(throat_diameter: f64) -> Throttle {
        Throttle {
            device: Device::Orifice(Taps::Corner),
            pipe_diameter: 0.1,
            throat_diameter,
            coefficient: None,
            cone_loss_share: 0.1,
            gas: None,
            liquid: None,
        }
    }

    #[test]
    fn a_manometer_of_lighter_liquid_stands_upside_down() {
        let at = |density| {
            let gauge = Gauge::Manometer {
                density,
                deflection: 0.2,
            };
            differential(&water(Element::Throttle(plate(0.05)), gauge))
        };
        assert!((at(13_600.0) - 12_601.8 * 9.81 * 0.2).abs() < 1e-9);
        assert!((at(1.2) - 997.0 * 9.81 * 0.2).abs() < 1e-9);
    }

    #[test]
    fn a_trickle_is_refused_and_a_slow_flow_warned_of() {
        let solve_at = |pressure| {
            let problem = Problem {
                meter: water(Element::Throttle(plate(0.05)), Gauge::Differential(pressure)),
                flow: f64::NAN,
                unknown: Unknown::Flow,
            };
            solve(&problem, 1.0, &Limits::default())
        };
        assert!(matches!(solve_at(0.0), Err(SolveError::Laminar { .. })));
        assert!(matches!(solve_at(1e-3), Err(SolveError::Laminar { .. })));
        let slow = solve_at(25.0).unwrap();
        assert!(slow.warnings.iter().any(|w| matches!(
            w,
            Warning::BeyondStandard { limit, .. } if limit.on == Limited::Reynolds
        )));
        assert!(solve_at(25e3).unwrap().warnings.is_empty());
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let problem = |throttle, gauge, unknown| Problem {
            meter: water(Element::Throttle(throttle), gauge),
            flow: 0.01,
            unknown,
        };
        let dp = Gauge::Differential(25e3);
        for bad in [
            problem(plate(0.1), dp, Unknown::Flow),
            problem(plate(-0.05), dp, Unknown::Flow),
            problem(plate(0.05), Gauge::Differential(-1.0), Unknown::Flow),
            problem(plate(0.05), dp, Unknown::Deflection),
            problem(plate(0.05), dp, Unknown::Velocity),
        ] {
            assert!(matches!(
                solve(&bad, 1.0, &Limits::default()),
                Err(SolveError::Impossible { .. })
            ));
        }
        let large = Problem {
            flow: 10.0,
            ..problem(plate(f64::NAN), dp, Unknown::ThroatDiameter)
        };
        assert!(matches!(
            solve(&large, 1.0, &Limits::default()),
            Err(SolveError::NoSolution { .. })
        ));
    }
}
