//! The energy equation solved for one unknown.

use super::curve::Curve;
use super::diameter::diameter;
use super::flow::flow;
use super::friction::{Law, Reading, colebrook_roughness, darcy_in};
use super::path::{
    Balance, Duty, Element, LossLaw, Machine, Path, Pipe, State, check, check_points, evaluate, largest_head,
    square,
};
use super::regime::Limits;
use super::root::crossing;
use super::warn::warn;
use crate::constants::policy;

/// What is not known. Indices count pipes among pipes, losses among losses, pumps among pumps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Volume flow \[m³/s\].
    Flow,
    /// Diameter of a pipe \[m\].
    Diameter(usize),
    /// Length of a pipe \[m\].
    Length(usize),
    /// Roughness of a pipe \[m\].
    Roughness(usize),
    /// Loss coefficient \[–\].
    LossCoefficient(usize),
    /// Gauge pressure at the start \[Pa\].
    StartPressure,
    /// Gauge pressure at the end \[Pa\].
    EndPressure,
    /// Elevation of the start \[m\].
    StartElevation,
    /// Elevation of the end \[m\].
    EndElevation,
    /// Head of a pump \[m\].
    PumpHead(usize),
    /// Shaft power of a pump \[W\].
    PumpPower(usize),
    /// Speed of a pump with a curve \[1/s, or a share of the rated one where that is not said\].
    PumpSpeed(usize),
    /// Diameter of the impeller of a pump with a curve \[m, or a share of the full one where that is not said\].
    PumpTrim(usize),
    /// Head of a turbine \[m\].
    TurbineHead(usize),
    /// Shaft power of a turbine \[W\].
    TurbinePower(usize),
}

/// A path with one value missing: that slot of `path` (or `flow`) holds NaN.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// The path.
    pub path: Path,
    /// Volume flow \[m³/s\].
    pub flow: f64,
    /// Which value is missing.
    pub unknown: Unknown,
}

impl Problem {
    /// Puts a value in the place of the unknown.
    ///
    /// # Errors
    /// [`SolveError::Impossible`] where the path lacks what the unknown counts.
    pub fn put(&mut self, value: f64) -> Result<(), SolveError> {
        if self.unknown == Unknown::Flow {
            self.flow = value;
        }
        put(&mut self.path, self.unknown, value)
    }
}

/// Something about an answer that a person should know.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// A pipe's flow lies in the critical zone.
    CriticalZone {
        /// Pipe.
        pipe: usize,
        /// Its Reynolds number.
        reynolds: f64,
    },
    /// Pressure falls below vapour pressure.
    Cavitation {
        /// Where: behind this many elements of the path (0 is the start).
        after: usize,
        /// Where it is at one of the path's points: which.
        point: Option<usize>,
        /// Absolute pressure there \[Pa\].
        pressure: f64,
        /// Vapour pressure \[Pa\].
        vapour_pressure: f64,
    },
    /// A pump has less net positive suction head than it needs.
    NpshShort {
        /// Pump.
        pump: usize,
        /// What it has \[m\].
        available: f64,
        /// What it needs \[m\].
        required: f64,
    },
    /// A velocity is out of the ordinary range.
    UnusualVelocity {
        /// Pipe.
        pipe: usize,
        /// Its velocity \[m/s\].
        velocity: f64,
    },
    /// A station's jet is wider than its pipe.
    WideJet {
        /// Whether it is the one at the start.
        at_start: bool,
        /// Its diameter over that of the pipe.
        ratio: f64,
    },
    /// Reynolds number or relative roughness is off the friction chart.
    OffChart {
        /// Pipe.
        pipe: usize,
    },
    /// A duct's turbulent flow was reckoned on the hydraulic diameter, which its shape strains.
    HydraulicDiameter {
        /// Pipe.
        pipe: usize,
        /// Its effective diameter \[m\].
        effective: f64,
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
    /// The path with the value put in.
    pub path: Path,
    /// Everything along it.
    pub state: State,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// One of a pump's curves over the flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CurveOf {
    /// Its head.
    Head,
    /// Its efficiency.
    Efficiency,
    /// The net positive suction head that it needs.
    NpshRequired,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum SolveError {
    /// No flow from start to end: less energy at the start than at the end.
    NoFlow {
        /// Head missing \[m\].
        short_by: f64,
    },
    /// No value of the unknown within the range tried solves the equation.
    NoSolution {
        /// The range tried, SI.
        tried: (f64, f64),
        /// Why, in words of the equation.
        why: &'static str,
    },
    /// The equation crosses only at the jump of the friction factor between laminar and turbulent flow.
    OnlyAtJump {
        /// Pipe.
        pipe: usize,
        /// Reynolds number of the jump.
        reynolds: f64,
    },
    /// A pump would have to run at a flow at which one of its curves is not known.
    OffCurve {
        /// Pump.
        pump: usize,
        /// Which of its curves.
        what: CurveOf,
        /// The flow that it would have to pass \[m³/s\]; the nearest end of the curve where that is all that
        /// is known.
        flow: f64,
        /// Flows between which the curve is known \[m³/s\].
        range: (f64, f64),
    },
    /// The unknown does not move the equation (a length of a pipe without flow, a roughness in laminar flow).
    Undetermined {
        /// Why.
        why: &'static str,
    },
    /// A value that can't be: negative diameter, density of zero, no pipe.
    Impossible {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
    },
}

/// A residual below this share of the largest head is nought.
const RESIDUAL_SHARE: f64 = 1e-10;
/// A found value below nought by no more than this share is nought but for rounding.
const ROUNDING_SHARE: f64 = 1e-12;

/// Solves `problem` with one reading for each pipe.
///
/// What is explicit is had explicitly; a flow or a diameter is a root, bracketed before it is sought. Before
/// it is given, every answer is put back into the energy equation.
///
/// # Errors
/// [`SolveError`], never a wrong number.
pub fn solve(problem: &Problem, readings: &[Reading], limits: &Limits) -> Result<Solved, SolveError> {
    // A harmless value stands in the empty slot, so that the checks and the balance see a whole path.
    let mut path = problem.path.clone();
    put(&mut path, problem.unknown, placeholder(problem.unknown))?;
    check_but_roughness(&path, readings, limits, problem.unknown)?;
    let balance = Balance::new(&path, readings);

    if problem.unknown == Unknown::Flow {
        let found = flow(&balance, limits)?;
        return finish(path, found, None, readings, limits);
    }

    let flow = problem.flow;
    if !(flow >= 0.0 && flow.is_finite()) {
        return Err(SolveError::Impossible {
            what: "flow",
            value: flow,
        });
    }
    let found = at_flow(problem, &path, &balance, flow, readings, limits)?;
    put(&mut path, problem.unknown, found.value)?;
    finish(path, found, Some(flow), readings, limits)
}

/// The state of `path` at a known flow, with one reading for each pipe; its residual says how far off the
/// energy equation is.
///
/// # Errors
/// [`SolveError::Impossible`].
pub fn state(path: &Path, flow: f64, readings: &[Reading], limits: &Limits) -> Result<State, SolveError> {
    check(path, readings, limits)?;
    if !(flow >= 0.0 && flow.is_finite()) {
        return Err(SolveError::Impossible {
            what: "flow",
            value: flow,
        });
    }
    evaluate(path, flow, readings, limits)
}

/// What was found, before it is proved.
pub(super) struct Found {
    pub(super) value: f64,
    pub(super) others: Vec<f64>,
}

impl Found {
    pub(super) fn one(value: f64) -> Self {
        Self {
            value,
            others: Vec::new(),
        }
    }

    /// The least of several roots, in order.
    pub(super) fn least(roots: &[f64]) -> Option<Self> {
        roots.split_first().map(|(&value, others)| Self {
            value,
            others: others.to_vec(),
        })
    }
}

/// Proves what was found by the energy equation itself, and gathers the warnings.
fn finish(
    path: Path,
    found: Found,
    known_flow: Option<f64>,
    readings: &[Reading],
    limits: &Limits,
) -> Result<Solved, SolveError> {
    check(&path, readings, limits)?;
    check_points(&path)?;
    let state = evaluate(&path, known_flow.unwrap_or(found.value), readings, limits)?;
    if state.residual.abs() > RESIDUAL_SHARE * largest_head(&path, &state) {
        // The one place where the two sides of the equation can part at a root is the jump itself.
        for (pipe, at) in state.pipes.iter().enumerate() {
            if (at.reynolds / limits.laminar_end - 1.0).abs() < 1e-9 {
                return Err(SolveError::OnlyAtJump {
                    pipe,
                    reynolds: limits.laminar_end,
                });
            }
        }
        return Err(SolveError::NoSolution {
            tried: (found.value, found.value),
            why: "the value found does not satisfy the energy equation closely enough",
        });
    }
    let mut warnings = Vec::new();
    for &value in &found.others {
        warnings.push(Warning::SecondSolution { value });
    }
    warn(&path, &state, limits, &mut warnings);
    Ok(Solved {
        value: found.value,
        path,
        state,
        warnings,
    })
}

/// A value that any check passes and that takes the unknown's term out of the energy equation where it can.
fn placeholder(unknown: Unknown) -> f64 {
    match unknown {
        Unknown::Flow | Unknown::Diameter(_) | Unknown::PumpSpeed(_) | Unknown::PumpTrim(_) => 1.0,
        _ => 0.0,
    }
}

/// Checks the path, but for a placeholder that the checks would refuse: a diameter of any size with the
/// given roughness, and a smooth wall under the fully rough law.
fn check_but_roughness(
    path: &Path,
    readings: &[Reading],
    limits: &Limits,
    unknown: Unknown,
) -> Result<(), SolveError> {
    match unknown {
        Unknown::Diameter(which) => {
            let mut wide = path.clone();
            // Whether its changes of area go the right way is seen when the diameter is sought.
            for element in &mut wide.elements {
                if let Element::Loss { law, pipe, .. } = element
                    && law
                        .wider_pipe()
                        .is_some_and(|other| other == which || *pipe == which)
                {
                    *law = LossLaw::Fixed;
                }
            }
            if let Some(pipe) = wide.pipe_mut(which) {
                pipe.diameter = if pipe.roughness > 0.0 && pipe.roughness.is_finite() {
                    10.0 * pipe.roughness
                } else {
                    1.0
                };
            }
            check(&wide, readings, limits)
        }
        Unknown::Roughness(which) => {
            let mut rough = path.clone();
            if let Some(pipe) = rough.pipe_mut(which) {
                pipe.roughness = 1e-3 * pipe.diameter.abs();
            }
            check(&rough, readings, limits)
        }
        _ => check(path, readings, limits),
    }
}

fn nth_machine(path: &mut Path, which: usize, pump: bool) -> Option<&mut Machine> {
    path.elements
        .iter_mut()
        .filter_map(|e| match e {
            Element::Pump(machine) if pump => Some(machine),
            Element::Turbine(machine) if !pump => Some(machine),
            _ => None,
        })
        .nth(which)
}

/// Puts a value into the unknown's slot of a path; the flow has none.
fn put(path: &mut Path, unknown: Unknown, value: f64) -> Result<(), SolveError> {
    let missing = |what: &'static str, which: usize| SolveError::Impossible {
        what,
        value: which as f64,
    };
    let pipe = |path: &mut Path, which: usize, set: fn(&mut Pipe, f64)| {
        path.pipe_mut(which)
            .map(|pipe| set(pipe, value))
            .ok_or(missing("number of the unknown's pipe", which))
    };
    let machine = |path: &mut Path, which: usize, pump: bool, duty: Duty| {
        nth_machine(path, which, pump)
            .map(|machine| machine.duty = duty)
            .ok_or(missing(
                if pump {
                    "number of the unknown's pump"
                } else {
                    "number of the unknown's turbine"
                },
                which,
            ))
    };
    let curve =
        |path: &mut Path, which: usize, set: &dyn Fn(Curve) -> Curve| match nth_machine(path, which, true)
            .map(|machine| &mut machine.duty)
        {
            Some(Duty::Curve(curve)) => {
                *curve = set(curve.clone());
                Ok(())
            }
            _ => Err(missing(
                "number of the unknown's pump, which has no curve,",
                which,
            )),
        };
    match unknown {
        Unknown::Flow => Ok(()),
        Unknown::Diameter(which) => pipe(path, which, |p, v| p.diameter = v),
        Unknown::Length(which) => pipe(path, which, |p, v| p.length = v),
        Unknown::Roughness(which) => pipe(path, which, |p, v| p.roughness = v),
        Unknown::LossCoefficient(which) => path
            .elements
            .iter_mut()
            .filter_map(|e| {
                if let Element::Loss { coefficient, .. } = e {
                    Some(coefficient)
                } else {
                    None
                }
            })
            .nth(which)
            .map(|coefficient| *coefficient = value)
            .ok_or(missing("number of the unknown's loss", which)),
        Unknown::StartPressure => {
            path.start.pressure = value;
            Ok(())
        }
        Unknown::EndPressure => {
            path.end.pressure = value;
            Ok(())
        }
        Unknown::StartElevation => {
            path.start.elevation = value;
            Ok(())
        }
        Unknown::EndElevation => {
            path.end.elevation = value;
            Ok(())
        }
        Unknown::PumpHead(which) => machine(path, which, true, Duty::Head(value)),
        Unknown::PumpPower(which) => machine(path, which, true, Duty::Power(value)),
        Unknown::PumpSpeed(which) => curve(path, which, &|curve: Curve| curve.at_speed(value)),
        Unknown::PumpTrim(which) => curve(path, which, &|curve: Curve| curve.trimmed(value)),
        Unknown::TurbineHead(which) => machine(path, which, false, Duty::Head(value)),
        Unknown::TurbinePower(which) => machine(path, which, false, Duty::Power(value)),
    }
}

/// Every unknown but the flow.
fn at_flow(
    problem: &Problem,
    path: &Path,
    balance: &Balance,
    flow: f64,
    readings: &[Reading],
    limits: &Limits,
) -> Result<Found, SolveError> {
    if balance.power != 0.0 && flow == 0.0 {
        return Err(SolveError::Impossible {
            what: "power of a machine without flow",
            value: balance.power,
        });
    }
    if let Unknown::Diameter(which) = problem.unknown {
        return diameter(balance, which, flow, path, limits);
    }
    if let Unknown::PumpSpeed(which) | Unknown::PumpTrim(which) = problem.unknown {
        return ratio(problem.unknown, which, balance, flow, limits);
    }
    // With the placeholder in its slot, what is left over is what the unknown has to take or to give.
    let left_over = balance.left_over(flow, |i| balance.is_laminar(i, flow, limits));
    let weight = path.density * path.gravity;
    let scale = {
        let state = evaluate(path, flow, readings, limits)?;
        largest_head(path, &state)
    };
    let not_below_zero = |value: f64, why: &'static str| {
        if value >= 0.0 {
            Ok(Found::one(value))
        } else if left_over.abs() <= ROUNDING_SHARE * scale {
            Ok(Found::one(0.0))
        } else {
            Err(SolveError::NoSolution {
                tried: (0.0, f64::INFINITY),
                why,
            })
        }
    };
    match problem.unknown {
        Unknown::Flow | Unknown::Diameter(_) | Unknown::PumpSpeed(_) | Unknown::PumpTrim(_) => {
            unreachable!("these are solved above")
        }
        Unknown::StartPressure => Ok(Found::one(-left_over * weight)),
        Unknown::EndPressure => Ok(Found::one(left_over * weight)),
        Unknown::StartElevation => Ok(Found::one(-left_over)),
        Unknown::EndElevation => Ok(Found::one(left_over)),
        Unknown::PumpHead(_) => not_below_zero(-left_over, NO_PUMP),
        Unknown::TurbineHead(_) => not_below_zero(left_over, NO_TURBINE),
        Unknown::PumpPower(_) | Unknown::TurbinePower(_) if flow == 0.0 => Err(SolveError::Undetermined {
            why: "without flow a machine takes no power",
        }),
        Unknown::PumpPower(which) => {
            let efficiency = efficiency(path, which, true, flow);
            not_below_zero(-left_over * weight * flow / efficiency, NO_PUMP)
        }
        Unknown::TurbinePower(which) => {
            let efficiency = efficiency(path, which, false, flow);
            not_below_zero(left_over * weight * flow * efficiency, NO_TURBINE)
        }
        Unknown::Length(_) | Unknown::LossCoefficient(_) | Unknown::Roughness(_) if flow == 0.0 => {
            Err(SolveError::Undetermined {
                why: "without flow nothing is lost on the way",
            })
        }
        Unknown::Length(which) => {
            let leg = &balance.legs[which];
            let reynolds = leg.reynolds(flow, balance.kinematic_viscosity);
            let factor = leg.darcy(reynolds, balance.is_laminar(which, flow, limits));
            let slope = factor / leg.diameter * square(leg.velocity(flow)) / (2.0 * balance.gravity);
            not_below_zero(
                left_over / slope,
                "the rest of the path already takes more head than there is",
            )
        }
        Unknown::LossCoefficient(which) => {
            let (law, pipe) = path
                .elements
                .iter()
                .filter_map(|e| match e {
                    Element::Loss { law, pipe, .. } => Some((*law, *pipe)),
                    _ => None,
                })
                .nth(which)
                .unwrap_or((LossLaw::Fixed, 0));
            if law != LossLaw::Fixed {
                return Err(SolveError::Undetermined {
                    why: "the coefficient of this loss follows from its pipe",
                });
            }
            let velocity_head = square(balance.legs[pipe].velocity(flow)) / (2.0 * balance.gravity);
            not_below_zero(
                left_over / velocity_head,
                "the losses named already take more head than there is",
            )
        }
        Unknown::Roughness(which) => roughness(balance, which, flow, scale, limits),
    }
}

const NO_PUMP: &str = "no pump is needed: the flow runs by itself; a turbine or a valve would be";
const NO_TURBINE: &str = "there is no head left for a turbine: a pump would be needed";

/// Speed or impeller of a pump whose curve has to pass through the wanted point, as a share.
fn ratio(
    unknown: Unknown,
    which: usize,
    balance: &Balance,
    flow: f64,
    limits: &Limits,
) -> Result<Found, SolveError> {
    let Some((_, curve)) = balance.curves.iter().find(|(pump, _)| *pump == which) else {
        return Err(SolveError::Impossible {
            what: "number of the unknown's pump, which has no curve,",
            value: which as f64,
        });
    };
    if flow == 0.0 {
        return Err(SolveError::Undetermined {
            why: "without flow no point of the curve is wanted",
        });
    }
    let mut without = balance.clone();
    without.curves.retain(|(pump, _)| *pump != which);
    let head = -without.left_over(flow, |i| without.is_laminar(i, flow, limits));
    if head <= 0.0 {
        return Err(SolveError::NoSolution {
            tried: (0.0, f64::INFINITY),
            why: NO_PUMP,
        });
    }
    // The value that makes a ratio of one.
    let one = match unknown {
        Unknown::PumpSpeed(_) => curve.speeds().1 / (curve.impellers().0 / curve.impellers().1),
        _ => curve.impellers().1 / (curve.speeds().0 / curve.speeds().1),
    };
    match curve.ratios(flow, head) {
        Ok(found) => {
            let values: Vec<f64> = found.iter().map(|ratio| ratio * one).collect();
            Found::least(&values).ok_or(SolveError::Undetermined {
                why: "the curve gives no ratio",
            })
        }
        Err(beyond) => Err(SolveError::NoSolution {
            tried: (0.0, f64::INFINITY),
            why: if beyond {
                "the pump would have to run beyond the end of its curve, and by the affinity laws so it would at any \
                 speed"
            } else {
                "the pump would have to run before the beginning of its curve, and by the affinity laws so it would \
                 at any speed"
            },
        }),
    }
}

fn efficiency(path: &Path, which: usize, pump: bool, flow: f64) -> f64 {
    path.elements
        .iter()
        .filter_map(|e| match e {
            Element::Pump(machine) if pump => Some(machine.efficiency_at(flow)),
            Element::Turbine(machine) if !pump => Some(machine.efficiency_at(flow)),
            _ => None,
        })
        .nth(which)
        .unwrap_or(1.0)
}

/// Roughness of one pipe at a known flow: the friction factor is explicit, the roughness follows from the law.
fn roughness(
    balance: &Balance,
    which: usize,
    flow: f64,
    scale: f64,
    limits: &Limits,
) -> Result<Found, SolveError> {
    let is_laminar = |i: usize| balance.is_laminar(i, flow, limits);
    let leg = &balance.legs[which];
    if matches!(leg.reading.law, Law::Fixed(_)) {
        return Err(SolveError::Undetermined {
            why: "the friction factor is fixed, so that no roughness changes it",
        });
    }
    if is_laminar(which) || leg.reading.law == Law::LaminarEverywhere {
        return Err(SolveError::Undetermined {
            why: "in laminar flow the friction factor does not depend on the roughness",
        });
    }
    if leg.friction_length() == 0.0 {
        return Err(SolveError::Undetermined {
            why: "a pipe without length has no friction",
        });
    }
    let reynolds = leg.reynolds(flow, balance.kinematic_viscosity);
    let end = policy::RELATIVE_ROUGHNESS_END;
    let mut trial = balance.clone();
    let mut left_over = |relative_roughness: f64| {
        trial.legs[which].relative_roughness = relative_roughness;
        trial.left_over(flow, is_laminar)
    };
    let tried = (0.0, end * leg.diameter);
    let at_smooth = left_over(0.0);
    let at_end = left_over(end);
    if at_smooth <= 0.0 && -at_smooth <= ROUNDING_SHARE * scale {
        return Ok(Found::one(0.0));
    }
    if at_smooth < 0.0 {
        return Err(SolveError::NoSolution {
            tried,
            why: "even a smooth wall takes more head than there is",
        });
    }
    if at_end > ROUNDING_SHARE * scale {
        return Err(SolveError::NoSolution {
            tried,
            why: "even the roughest wall of the chart, a twentieth of the bore, takes less head than there is",
        });
    }
    let relative_roughness = if leg.reading.law == Law::Colebrook && leg.section.turbulent_diameter == 1.0 {
        // At smooth, the balance lacks just the difference of the two friction heads.
        let per_factor =
            leg.friction_length() / leg.diameter * square(leg.velocity(flow)) / (2.0 * balance.gravity);
        let smooth = darcy_in(&leg.section, leg.reading, reynolds, 0.0, false);
        let factor = (smooth + at_smooth / per_factor) / leg.reading.factor;
        colebrook_roughness(factor, reynolds).clamp(0.0, end)
    } else {
        crossing(left_over, 0.0, end)
    };
    Ok(Found::one(relative_roughness * leg.diameter))
}
