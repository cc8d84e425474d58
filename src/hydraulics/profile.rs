//! Fully developed flow in one round pipe, seen across the pipe: velocity profile, shear stress, kinetic-energy
//! and momentum factors, entrance length; and the capillary that a viscosity is measured with.
//!
//! Laminar flow has the parabola `u = u_max (1 − r²/R²)`, exactly. Turbulent flow takes the power law
//! `u = u_max (1 − r/R)^(1/n)`, which fits most of the section, though neither the wall nor the very centre.

use super::duct::Section;
use super::friction::{Reading, darcy_in};
use super::path::{area, square};
use super::regime::{Limits, Regime, classify};
use super::root::{crossing, crossings};
use super::solve::SolveError;
use crate::constants::policy;

/// How the motion is said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Motion {
    /// Volume flow \[m³/s\].
    Flow(f64),
    /// Mean velocity \[m/s\].
    Mean(f64),
    /// Velocity on the centre line \[m/s\].
    Centre(f64),
}

/// How what drives the flow is said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Drive {
    /// Fall of pressure along the length \[Pa\].
    PressureDrop(f64),
    /// The same as a head of the fluid \[m\].
    Head(f64),
    /// Shear stress at the wall \[Pa\].
    WallShear(f64),
}

/// How the exponent n of the power law is had.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Exponent {
    /// As given.
    Given(f64),
    /// `n = 1/√f`, f being Darcy's. Nunner (1956), VDI-Forschungsheft 455 (from memory).
    FromFriction,
}

/// A round pipe and the flow in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    /// Density \[kg/m³\].
    pub density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub dynamic_viscosity: f64,
    /// Acceleration of gravity \[m/s²\].
    pub gravity: f64,
    /// Inner diameter \[m\].
    pub diameter: f64,
    /// Length \[m\] along which the pressure falls; needed by a pressure drop or a head.
    pub length: Option<f64>,
    /// Equivalent sand roughness \[m\].
    pub roughness: f64,
    /// Motion.
    pub motion: Motion,
    /// What drives it.
    pub drive: Drive,
    /// Couette's correction: the ends take as much as this many radii of the pipe \[–\].
    pub end_correction: f64,
    /// Hagenbach's correction: the fluid takes away this times ρ V² \[–\].
    pub kinetic_correction: f64,
    /// The power law's exponent.
    pub exponent: Exponent,
    /// A distance from the centre line \[m\] at which the profile is asked.
    pub radius: Option<f64>,
}

/// What is not known; its slot in the tube holds NaN.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// The motion, as it is said.
    Motion,
    /// The drive, as it is said.
    Drive,
    /// Dynamic viscosity \[Pa·s\]: from laminar flow only.
    Viscosity,
    /// Diameter \[m\].
    Diameter,
    /// Length \[m\].
    Length,
}

/// A tube with one value missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Problem {
    /// The tube.
    pub tube: Tube,
    /// Which value is missing.
    pub unknown: Unknown,
}

/// The profile at one distance from the centre line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Local {
    /// Distance from the centre line \[m\].
    pub radius: f64,
    /// Velocity \[m/s\].
    pub velocity: f64,
    /// Shear stress \[Pa\].
    pub shear: f64,
}

/// Everything about a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Volume flow \[m³/s\].
    pub flow: f64,
    /// Mean velocity \[m/s\].
    pub velocity: f64,
    /// Velocity on the centre line \[m/s\].
    pub centre_velocity: f64,
    /// Reynolds number \[–\].
    pub reynolds: f64,
    /// ε/D \[–\].
    pub relative_roughness: f64,
    /// Regime.
    pub regime: Regime,
    /// Darcy friction factor \[–\].
    pub darcy_friction_factor: f64,
    /// Shear stress at the wall \[Pa\].
    pub wall_shear: f64,
    /// Friction velocity √(τ_w/ρ) \[m/s\].
    pub friction_velocity: f64,
    /// Fall of pressure per length by friction alone \[Pa/m\].
    pub gradient: f64,
    /// Exponent n of the power law; none where flow is laminar.
    pub exponent: Option<f64>,
    /// Kinetic-energy factor \[–\].
    pub alpha: f64,
    /// Momentum factor \[–\].
    pub beta: f64,
    /// Length from an entrance to developed flow \[m\].
    pub entrance_length: f64,
    /// Fall of pressure along the length, corrections included \[Pa\]; none where no length is known.
    pub pressure_drop: Option<f64>,
    /// Of it, what the fluid takes away as kinetic energy \[Pa\].
    pub kinetic_drop: f64,
    /// Length and end correction together \[m\].
    pub friction_length: Option<f64>,
    /// At the radius asked for.
    pub local: Option<Local>,
}

/// Something about an answer that a person should know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Warning {
    /// The flow lies in the critical zone.
    CriticalZone {
        /// Its Reynolds number.
        reynolds: f64,
    },
    /// The entrance takes more than [`policy::ENTRANCE_SHARE`] of the pipe.
    Entrance {
        /// Its length \[m\].
        entrance_length: f64,
        /// The pipe's \[m\].
        length: f64,
    },
    /// The exponent is outside [`policy::POWER_LAW_EXPONENT`].
    Exponent {
        /// Its value.
        exponent: f64,
    },
    /// Reynolds number or relative roughness is off the friction chart.
    OffChart,
    /// Another value does as well.
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
    /// The tube with the value put in.
    pub tube: Tube,
    /// Everything about its flow.
    pub state: State,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// Kinetic-energy factor of laminar flow.
pub const LAMINAR_ALPHA: f64 = 2.0;
/// Momentum factor of laminar flow.
pub const LAMINAR_BETA: f64 = 4.0 / 3.0;

/// Mean velocity over centre-line velocity in laminar flow.
pub const LAMINAR_RATIO: f64 = 0.5;

/// Mean velocity over centre-line velocity of the power law: `2n²/[(n+1)(2n+1)]`.
///
/// ```
/// # use gradeline::hydraulics::profile::power_law_ratio;
/// assert!((power_law_ratio(7.0) - 49.0 / 60.0).abs() < 1e-15);
/// ```
pub fn power_law_ratio(exponent: f64) -> f64 {
    let n = exponent;
    2.0 * n * n / ((n + 1.0) * (2.0 * n + 1.0))
}

/// Kinetic-energy factor of the power law: `(n+1)³(2n+1)³/[4n⁴(n+3)(2n+3)]`.
///
/// ```
/// # use gradeline::hydraulics::profile::power_law_alpha;
/// assert!((power_law_alpha(7.0) - 1.058).abs() < 5e-4);
/// ```
pub fn power_law_alpha(exponent: f64) -> f64 {
    let n = exponent;
    let top = (n + 1.0) * (2.0 * n + 1.0);
    top * top * top / (4.0 * n * n * n * n * (n + 3.0) * (2.0 * n + 3.0))
}

/// Momentum factor of the power law: `(n+1)(2n+1)²/[4n²(n+2)]`.
///
/// ```
/// # use gradeline::hydraulics::profile::power_law_beta;
/// assert!((power_law_beta(7.0) - 1.020).abs() < 5e-4);
/// ```
pub fn power_law_beta(exponent: f64) -> f64 {
    let n = exponent;
    (n + 1.0) * square(2.0 * n + 1.0) / (4.0 * n * n * (n + 2.0))
}

/// Velocity over that on the centre line, in laminar flow, at this share of the radius.
pub fn laminar_velocity(share: f64) -> f64 {
    (1.0 - share) * (1.0 + share)
}

/// Velocity over that on the centre line, by the power law, at this share of the radius.
pub fn power_law_velocity(share: f64, exponent: f64) -> f64 {
    libm::pow((1.0 - share).max(0.0), 1.0 / exponent)
}

/// Length \[m\] behind an entrance in which laminar flow develops: `0.06 Re D`.
pub fn laminar_entrance(reynolds: f64, diameter: f64) -> f64 {
    policy::LAMINAR_ENTRANCE * reynolds * diameter
}

/// Length \[m\] behind an entrance in which turbulent flow develops: `4.4 Re^(1/6) D`.
pub fn turbulent_entrance(reynolds: f64, diameter: f64) -> f64 {
    policy::TURBULENT_ENTRANCE * libm::pow(reynolds, 1.0 / 6.0) * diameter
}

impl Tube {
    fn reynolds(&self, velocity: f64) -> f64 {
        self.density * velocity * self.diameter / self.dynamic_viscosity
    }

    fn friction(&self, velocity: f64, reading: Reading, is_laminar: bool) -> f64 {
        let relative_roughness = self.roughness / self.diameter;
        darcy_in(
            &Section::ROUND,
            reading,
            self.reynolds(velocity),
            relative_roughness,
            is_laminar,
        )
    }

    fn exponent_at(&self, darcy_friction_factor: f64) -> f64 {
        match self.exponent {
            Exponent::Given(n) => n,
            Exponent::FromFriction => 1.0 / darcy_friction_factor.sqrt(),
        }
    }

    fn ratio(&self, velocity: f64, reading: Reading, is_laminar: bool) -> f64 {
        if is_laminar {
            LAMINAR_RATIO
        } else {
            power_law_ratio(self.exponent_at(self.friction(velocity, reading, false)))
        }
    }

    /// Mean velocity, where the motion is known; NaN where the power law meets no velocity.
    fn velocity(&self, reading: Reading, is_laminar: bool) -> f64 {
        match self.motion {
            Motion::Flow(flow) => flow / area(self.diameter),
            Motion::Mean(velocity) => velocity,
            Motion::Centre(centre) if is_laminar => LAMINAR_RATIO * centre,
            Motion::Centre(centre) => {
                let gap = |velocity: f64| velocity - centre * self.ratio(velocity, reading, false);
                let (low, high) = (0.3 * centre, centre);
                if gap(low) < 0.0 && gap(high) > 0.0 {
                    crossing(gap, low, high)
                } else {
                    f64::NAN
                }
            }
        }
    }

    fn friction_length(&self) -> Option<f64> {
        self.length
            .map(|length| length + self.end_correction * 0.5 * self.diameter)
    }

    /// The drive, as it is said, at a mean velocity.
    fn drive_at(&self, velocity: f64, reading: Reading, is_laminar: bool) -> f64 {
        let dynamic = self.density * square(velocity);
        let factor = if velocity == 0.0 {
            return 0.0;
        } else {
            self.friction(velocity, reading, is_laminar)
        };
        let drop = || {
            let length = self.friction_length().unwrap_or(f64::NAN);
            0.5 * factor * length / self.diameter * dynamic + self.kinetic_correction * dynamic
        };
        match self.drive {
            Drive::WallShear(_) => 0.125 * factor * dynamic,
            Drive::PressureDrop(_) => drop(),
            Drive::Head(_) => drop() / (self.density * self.gravity),
        }
    }

    /// The drive as said, and as a pressure drop \[Pa\] where it is one.
    fn driven(&self) -> (f64, f64) {
        match self.drive {
            Drive::WallShear(value) => (value, f64::NAN),
            Drive::PressureDrop(value) => (value, value),
            Drive::Head(value) => (value, value * self.density * self.gravity),
        }
    }

    fn put(&mut self, unknown: Unknown, value: f64) {
        match unknown {
            Unknown::Motion => match &mut self.motion {
                Motion::Flow(slot) | Motion::Mean(slot) | Motion::Centre(slot) => *slot = value,
            },
            Unknown::Drive => match &mut self.drive {
                Drive::PressureDrop(slot) | Drive::Head(slot) | Drive::WallShear(slot) => *slot = value,
            },
            Unknown::Viscosity => self.dynamic_viscosity = value,
            Unknown::Diameter => self.diameter = value,
            Unknown::Length => self.length = Some(value),
        }
    }

    /// Whether the length enters what is asked.
    fn by_length(&self) -> bool {
        !matches!(self.drive, Drive::WallShear(_))
    }
}

impl Problem {
    /// Puts a value in the place of the unknown.
    pub fn put(&mut self, value: f64) {
        self.tube.put(self.unknown, value);
    }
}

/// A residual below this share of the drive is nought.
const RESIDUAL_SHARE: f64 = 1e-9;
/// Diameters that are tried \[m\].
const DIAMETERS: (f64, f64) = (1e-6, 1e3);

/// Solves `problem` with one reading of the Darcy friction factor (which laminar flow has no use for).
///
/// Laminar flow is tried first, then turbulent; an answer counts where its own Reynolds number agrees. Before it
/// is given, it is put back into the equation.
///
/// # Errors
/// [`SolveError`], never a wrong number.
pub fn solve(problem: &Problem, reading: Reading, limits: &Limits) -> Result<Solved, SolveError> {
    check(problem, reading)?;
    let mut agreed = Vec::new();
    let mut off = [None; 2];
    for is_laminar in [true, false] {
        for value in candidates(problem, reading, is_laminar, limits)? {
            let mut tube = problem.tube;
            tube.put(problem.unknown, value);
            let velocity = tube.velocity(reading, is_laminar);
            let reynolds = tube.reynolds(velocity);
            if !(value > 0.0 && value.is_finite() && reynolds > 0.0 && reynolds.is_finite()) {
                continue;
            }
            if (reynolds < limits.laminar_end) == is_laminar {
                agreed.push((tube, value, is_laminar));
            } else {
                off[usize::from(is_laminar)] = Some(reynolds);
            }
        }
    }
    let Some(&(tube, value, is_laminar)) = agreed.first() else {
        return Err(match (problem.unknown, off) {
            (Unknown::Viscosity, [_, Some(_)]) => SolveError::NoSolution {
                tried: (0.0, f64::INFINITY),
                why: "the flow would not be laminar, and turbulent flow does not tell a viscosity",
            },
            (_, [Some(_), Some(_)]) => SolveError::OnlyAtJump {
                pipe: 0,
                reynolds: limits.laminar_end,
            },
            _ => no_solution(problem),
        });
    };
    let state = evaluate(&tube, reading, is_laminar, limits)?;
    let (given, _) = tube.driven();
    let back = tube.drive_at(state.velocity, reading, is_laminar);
    let off = (back - given).abs();
    if off.is_nan() || off > RESIDUAL_SHARE * given.abs() {
        return Err(SolveError::NoSolution {
            tried: (value, value),
            why: "the value found does not satisfy the equation closely enough",
        });
    }
    let mut warnings: Vec<Warning> = agreed[1..]
        .iter()
        .filter(|(_, other, _)| (other / value - 1.0).abs() > RESIDUAL_SHARE)
        .map(|&(_, value, _)| Warning::SecondSolution { value })
        .collect();
    warn(&tube, &state, &mut warnings);
    Ok(Solved {
        value,
        tube,
        state,
        warnings,
    })
}

fn no_solution(problem: &Problem) -> SolveError {
    let why = match problem.unknown {
        Unknown::Viscosity | Unknown::Length if problem.tube.kinetic_correction > 0.0 => {
            "the kinetic energy that the fluid takes away already takes more than what drives it"
        }
        Unknown::Length => "the end correction alone already takes more than what drives the flow",
        Unknown::Diameter => "at no bore do what drives the flow and the motion agree",
        Unknown::Motion | Unknown::Drive | Unknown::Viscosity => {
            "what drives the flow and the motion do not agree"
        }
    };
    SolveError::NoSolution {
        tried: if problem.unknown == Unknown::Diameter {
            DIAMETERS
        } else {
            (0.0, f64::INFINITY)
        },
        why,
    }
}

/// Values of the unknown that satisfy the equation where flow counts as laminar, or not.
fn candidates(
    problem: &Problem,
    reading: Reading,
    is_laminar: bool,
    limits: &Limits,
) -> Result<Vec<f64>, SolveError> {
    let tube = &problem.tube;
    let (given, drop) = tube.driven();
    let one = |value: f64| Ok(vec![value]);
    match problem.unknown {
        Unknown::Drive => one(tube.drive_at(tube.velocity(reading, is_laminar), reading, is_laminar)),
        Unknown::Motion => {
            let velocity = if is_laminar {
                laminar_velocity_from(tube, given, drop)
            } else {
                let least = limits.laminar_end * tube.dynamic_viscosity / tube.density / tube.diameter;
                let gap = |velocity: f64| tube.drive_at(velocity, reading, false) - given;
                let mut high = 2.0 * least;
                for _ in 0..200 {
                    if gap(high) > 0.0 {
                        break;
                    }
                    high *= 2.0;
                }
                // One that is too slow for turbulent flow is found too, so that the jump can be told.
                let low = 0.01 * least;
                let (below, above) = (gap(low), gap(high));
                if below > 0.0 || above <= 0.0 || above.is_nan() {
                    return Ok(Vec::new());
                }
                crossing(gap, low, high)
            };
            one(match tube.motion {
                Motion::Flow(_) => velocity * area(tube.diameter),
                Motion::Mean(_) => velocity,
                Motion::Centre(_) => velocity / tube.ratio(velocity, reading, is_laminar),
            })
        }
        // Turbulent flow leaves the viscosity open.
        Unknown::Viscosity if !is_laminar => Ok(Vec::new()),
        Unknown::Viscosity => {
            let velocity = tube.velocity(reading, true);
            one(match tube.friction_length() {
                Some(length) if tube.by_length() => {
                    (drop - tube.kinetic_correction * tube.density * square(velocity)) * square(tube.diameter)
                        / (32.0 * length * velocity)
                }
                _ => given * tube.diameter / (8.0 * velocity),
            })
        }
        Unknown::Length => {
            if !tube.by_length() {
                return Err(SolveError::Undetermined {
                    why: "the shear stress at the wall does not depend on the length",
                });
            }
            let velocity = tube.velocity(reading, is_laminar);
            let dynamic = tube.density * square(velocity);
            let factor = tube.friction(velocity, reading, is_laminar);
            let friction = drop - tube.kinetic_correction * dynamic;
            one(2.0 * friction * tube.diameter / (factor * dynamic)
                - 0.5 * tube.end_correction * tube.diameter)
        }
        Unknown::Diameter => {
            let narrowest = if is_laminar {
                DIAMETERS.0
            } else {
                DIAMETERS.0.max(tube.roughness / policy::RELATIVE_ROUGHNESS_END)
            };
            let gap = |diameter: f64| {
                let tried = Tube { diameter, ..*tube };
                tried.drive_at(tried.velocity(reading, is_laminar), reading, is_laminar) - given
            };
            let mut roots = Vec::new();
            crossings(gap, narrowest, DIAMETERS.1, 24, &mut roots);
            Ok(roots)
        }
    }
}

/// Mean velocity of laminar flow from what drives it: the positive root of `32 μ L V/D² + m ρ V² = Δp`.
fn laminar_velocity_from(tube: &Tube, given: f64, drop: f64) -> f64 {
    match tube.friction_length() {
        Some(length) if tube.by_length() => {
            let drag = 32.0 * tube.dynamic_viscosity * length / square(tube.diameter);
            let kinetic = tube.kinetic_correction * tube.density;
            // The form of the quadratic's root that does not cancel.
            2.0 * drop / (drag + (drag * drag + 4.0 * kinetic * drop).sqrt())
        }
        _ => given * tube.diameter / (8.0 * tube.dynamic_viscosity),
    }
}

/// The flow in a tube whose values are all known.
fn evaluate(tube: &Tube, reading: Reading, is_laminar: bool, limits: &Limits) -> Result<State, SolveError> {
    let velocity = tube.velocity(reading, is_laminar);
    let reynolds = tube.reynolds(velocity);
    let relative_roughness = tube.roughness / tube.diameter;
    let darcy_friction_factor = tube.friction(velocity, reading, is_laminar);
    let exponent = (!is_laminar).then(|| tube.exponent_at(darcy_friction_factor));
    let centre_velocity = match tube.motion {
        Motion::Centre(centre) => centre,
        _ => velocity / tube.ratio(velocity, reading, is_laminar),
    };
    let dynamic = tube.density * square(velocity);
    let wall_shear = 0.125 * darcy_friction_factor * dynamic;
    let (alpha, beta) = match exponent {
        None => (LAMINAR_ALPHA, LAMINAR_BETA),
        Some(n) => (power_law_alpha(n), power_law_beta(n)),
    };
    let gradient = 4.0 * wall_shear / tube.diameter;
    let kinetic_drop = tube.kinetic_correction * dynamic;
    let friction_length = tube.friction_length();
    let local = match tube.radius {
        None => None,
        Some(radius) => {
            let share = 2.0 * radius / tube.diameter;
            // One rounding beyond the wall is the wall.
            if share > 1.0 + 1e-12 {
                return Err(SolveError::Impossible {
                    what: "distance from the centre line, beyond the wall,",
                    value: radius,
                });
            }
            let share = share.min(1.0);
            Some(Local {
                radius,
                velocity: centre_velocity
                    * exponent.map_or_else(|| laminar_velocity(share), |n| power_law_velocity(share, n)),
                shear: wall_shear * share,
            })
        }
    };
    Ok(State {
        flow: velocity * area(tube.diameter),
        velocity,
        centre_velocity,
        reynolds,
        relative_roughness,
        regime: classify(
            reynolds,
            reynolds * darcy_friction_factor.sqrt() * relative_roughness,
            limits,
        ),
        darcy_friction_factor,
        wall_shear,
        friction_velocity: (wall_shear / tube.density).sqrt(),
        gradient,
        exponent,
        alpha,
        beta,
        entrance_length: if is_laminar {
            laminar_entrance(reynolds, tube.diameter)
        } else {
            turbulent_entrance(reynolds, tube.diameter)
        },
        pressure_drop: friction_length.map(|length| gradient * length + kinetic_drop),
        kinetic_drop,
        friction_length,
        local,
    })
}

fn warn(tube: &Tube, state: &State, warnings: &mut Vec<Warning>) {
    if state.regime == Regime::Critical {
        warnings.push(Warning::CriticalZone {
            reynolds: state.reynolds,
        });
    }
    if let Some(length) = tube.length
        && state.entrance_length > policy::ENTRANCE_SHARE * length
    {
        warnings.push(Warning::Entrance {
            entrance_length: state.entrance_length,
            length,
        });
    }
    if let Some(exponent) = state.exponent {
        let (least, most) = policy::POWER_LAW_EXPONENT;
        if exponent < least || exponent > most {
            warnings.push(Warning::Exponent { exponent });
        }
        if state.reynolds > policy::REYNOLDS_END || state.relative_roughness > policy::RELATIVE_ROUGHNESS_END
        {
            warnings.push(Warning::OffChart);
        }
    }
}

/// Refuses what can't be.
fn check(problem: &Problem, reading: Reading) -> Result<(), SolveError> {
    let mut tube = problem.tube;
    // A harmless value in the empty slot.
    tube.put(problem.unknown, 1.0);
    let ensure = |good: bool, what: &'static str, value: f64| {
        if good {
            Ok(())
        } else {
            Err(SolveError::Impossible { what, value })
        }
    };
    let positive = |what, value: f64| ensure(value > 0.0 && value.is_finite(), what, value);
    let not_negative = |what, value: f64| ensure(value >= 0.0 && value.is_finite(), what, value);
    positive("density", tube.density)?;
    positive("dynamic viscosity", tube.dynamic_viscosity)?;
    positive("gravity", tube.gravity)?;
    positive("diameter", tube.diameter)?;
    not_negative("roughness", tube.roughness)?;
    not_negative("end correction", tube.end_correction)?;
    not_negative("kinetic correction", tube.kinetic_correction)?;
    positive("factor of a reading", reading.factor)?;
    match tube.motion {
        Motion::Flow(value) => positive("flow", value)?,
        Motion::Mean(value) => positive("mean velocity", value)?,
        Motion::Centre(value) => positive("centre-line velocity", value)?,
    }
    match tube.drive {
        Drive::PressureDrop(value) => positive("pressure drop", value)?,
        Drive::Head(value) => positive("head", value)?,
        Drive::WallShear(value) => positive("wall shear stress", value)?,
    }
    if let Some(length) = tube.length {
        positive("length", length)?;
    } else if tube.by_length() {
        return Err(SolveError::Impossible {
            what: "number of lengths along which the pressure falls",
            value: 0.0,
        });
    }
    if let Exponent::Given(n) = tube.exponent {
        ensure(n >= 1.0 && n.is_finite(), "exponent of the power law", n)?;
    }
    if let Some(radius) = tube.radius {
        not_negative("distance from the centre line", radius)?;
    }
    if problem.unknown != Unknown::Diameter {
        ensure(
            tube.roughness < 0.5 * tube.diameter,
            "relative roughness",
            tube.roughness / tube.diameter,
        )?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean over the section of `of(u/u_max)`, by Simpson's rule in a variable that crowds points at the wall.
    fn mean(velocity: impl Fn(f64) -> f64, of: impl Fn(f64) -> f64) -> f64 {
        let count = 4000;
        let at = |t: f64| {
            // Distance from the wall t⁸, so that the power law's root is smooth in t.
            let y = libm::pow(t, 8.0);
            of(velocity(1.0 - y)) * 2.0 * (1.0 - y) * 8.0 * libm::pow(t, 7.0)
        };
        let step = 1.0 / f64::from(count);
        let inner: f64 = (1..count)
            .map(|i| at(f64::from(i) * step) * if i % 2 == 1 { 4.0 } else { 2.0 })
            .sum();
        (at(0.0) + inner + at(1.0)) * step / 3.0
    }

    #[test]
    fn factors_are_the_integrals_of_their_profiles() {
        for n in [1.0, 5.0, 6.0, 7.0, 8.3, 10.0, 12.0] {
            let u = |share| power_law_velocity(share, n);
            let ratio = mean(u, |u| u);
            assert!((power_law_ratio(n) / ratio - 1.0).abs() < 1e-9, "{n}");
            let alpha = mean(u, |u| u * u * u) / (ratio * ratio * ratio);
            assert!((power_law_alpha(n) / alpha - 1.0).abs() < 1e-9, "{n}");
            let beta = mean(u, |u| u * u) / (ratio * ratio);
            assert!((power_law_beta(n) / beta - 1.0).abs() < 1e-9, "{n}");
        }
        let ratio = mean(laminar_velocity, |u| u);
        assert!((ratio - LAMINAR_RATIO).abs() < 1e-9);
        let alpha = mean(laminar_velocity, |u| u * u * u) / (ratio * ratio * ratio);
        assert!((alpha - LAMINAR_ALPHA).abs() < 1e-8);
        assert!((mean(laminar_velocity, |u| u * u) / (ratio * ratio) - LAMINAR_BETA).abs() < 1e-8);
    }
}
