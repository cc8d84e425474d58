//! The energy equation solved for one unknown.

use super::friction::{COLEBROOK_A, COLEBROOK_B, Law, Reading, TWO_OVER_LN10, colebrook_roughness, darcy_in};
use super::path::{
    Balance, Duty, Element, Path, State, StationVelocity, alpha, area, check, evaluate, largest_head, square,
};
use super::regime::{Limits, Regime};
use super::root::{crossing, crossings};
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
        /// Absolute pressure there \[Pa\].
        pressure: f64,
        /// Vapour pressure \[Pa\].
        vapour_pressure: f64,
    },
    /// A velocity is out of the ordinary range.
    UnusualVelocity {
        /// Pipe.
        pipe: usize,
        /// Its velocity \[m/s\].
        velocity: f64,
    },
    /// Reynolds number or relative roughness is off the friction chart.
    OffChart {
        /// Pipe.
        pipe: usize,
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
struct Found {
    value: f64,
    others: Vec<f64>,
}

impl Found {
    fn one(value: f64) -> Self {
        Self {
            value,
            others: Vec::new(),
        }
    }

    /// The least of several roots, in order.
    fn least(roots: &[f64]) -> Option<Self> {
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
        Unknown::Flow | Unknown::Diameter(_) => 1.0,
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
            if let Some(pipe) = nth_pipe(&mut wide, which) {
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
            if let Some(pipe) = nth_pipe(&mut rough, which) {
                pipe.roughness = 1e-3 * pipe.diameter.abs();
            }
            check(&rough, readings, limits)
        }
        _ => check(path, readings, limits),
    }
}

fn nth_pipe(path: &mut Path, which: usize) -> Option<&mut super::path::Pipe> {
    path.elements
        .iter_mut()
        .filter_map(|e| {
            if let Element::Pipe(pipe) = e {
                Some(pipe)
            } else {
                None
            }
        })
        .nth(which)
}

fn nth_machine(path: &mut Path, which: usize, pump: bool) -> Option<&mut super::path::Machine> {
    path.elements
        .iter_mut()
        .filter_map(|e| match e {
            Element::Pump(machine) if pump => Some(machine),
            Element::Turbine(machine) if !pump => Some(machine),
            _ => None,
        })
        .nth(which)
}

/// Puts a value into the unknown's slot.
fn put(path: &mut Path, unknown: Unknown, value: f64) -> Result<(), SolveError> {
    let missing = |what: &'static str, which: usize| SolveError::Impossible {
        what,
        value: which as f64,
    };
    let pipe = |path: &mut Path, which: usize, set: fn(&mut super::path::Pipe, f64)| {
        nth_pipe(path, which)
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
        Unknown::Flow | Unknown::Diameter(_) => unreachable!("both are solved above"),
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
            let efficiency = efficiency(path, which, true);
            not_below_zero(-left_over * weight * flow / efficiency, NO_PUMP)
        }
        Unknown::TurbinePower(which) => {
            let efficiency = efficiency(path, which, false);
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
            let factor = darcy_in(
                leg.reading,
                reynolds,
                leg.relative_roughness,
                balance.is_laminar(which, flow, limits),
            );
            let slope = factor / leg.diameter * square(leg.velocity(flow)) / (2.0 * balance.gravity);
            not_below_zero(
                left_over / slope,
                "the rest of the path already takes more head than there is",
            )
        }
        Unknown::LossCoefficient(which) => {
            let pipe = path
                .elements
                .iter()
                .filter_map(|e| {
                    if let Element::Loss { pipe, .. } = e {
                        Some(*pipe)
                    } else {
                        None
                    }
                })
                .nth(which)
                .unwrap_or_default();
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

fn efficiency(path: &Path, which: usize, pump: bool) -> f64 {
    path.elements
        .iter()
        .filter_map(|e| match e {
            Element::Pump(machine) if pump => Some(machine.efficiency),
            Element::Turbine(machine) if !pump => Some(machine.efficiency),
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
    if leg.length == 0.0 {
        return Err(SolveError::Undetermined {
            why: "a pipe without length has no friction",
        });
    }
    let reynolds = leg.reynolds(flow, balance.kinematic_viscosity);
    let end = policy::RELATIVE_ROUGHNESS_END;
    let left_over = |relative_roughness: f64| {
        let mut tried = balance.clone();
        tried.legs[which].relative_roughness = relative_roughness;
        tried.left_over(flow, is_laminar)
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
            why: "more head is lost than the roughest wall of the chart, a twentieth of the bore, would take",
        });
    }
    let relative_roughness = if leg.reading.law == Law::Colebrook {
        // At smooth, the balance lacks just the difference of the two friction heads.
        let per_factor = leg.length / leg.diameter * square(leg.velocity(flow)) / (2.0 * balance.gravity);
        let smooth = darcy_in(leg.reading, reynolds, 0.0, false);
        let factor = (smooth + at_smooth / per_factor) / leg.reading.factor;
        colebrook_roughness(factor, reynolds).clamp(0.0, end)
    } else {
        crossing(left_over, 0.0, end)
    };
    Ok(Found::one(relative_roughness * leg.diameter))
}

/// Diameter of one pipe at a known flow.
///
/// As the pipe widens, everything it takes falls, but the flow turns laminar at one diameter, where the
/// friction factor and α jump; either side is searched by itself.
fn diameter(
    balance: &Balance,
    which: usize,
    flow: f64,
    path: &Path,
    limits: &Limits,
) -> Result<Found, SolveError> {
    let last = balance.legs.len() - 1;
    let leg = balance.legs[which];
    let at_start = which == 0 && balance.start.velocity == StationVelocity::Pipe;
    let at_end = which == last && balance.end.velocity == StationVelocity::Pipe;
    if flow == 0.0 {
        return Err(SolveError::Undetermined {
            why: "without flow nothing is lost on the way",
        });
    }
    if leg.length == 0.0 && leg.loss_sum == 0.0 && !at_start && !at_end {
        return Err(SolveError::Undetermined {
            why: "a pipe without length, losses or a station at its end takes no head, however wide",
        });
    }
    let roughness = path
        .elements
        .iter()
        .filter_map(|e| {
            if let Element::Pipe(pipe) = e {
                Some(pipe.roughness)
            } else {
                None
            }
        })
        .nth(which)
        .unwrap_or_default();

    let laminar_elsewhere = |i: usize| balance.is_laminar(i, flow, limits);
    let mut tried = balance.clone();
    let mut left_over = |diameter: f64, is_laminar: bool| {
        tried.legs[which].diameter = diameter;
        tried.legs[which].relative_roughness = roughness / diameter;
        tried.left_over(flow, |i| {
            if i == which {
                is_laminar
            } else {
                laminar_elsewhere(i)
            }
        })
    };

    // Re = 4 Q/(π ν D), so that flow is laminar from here on.
    let jump = 4.0 * flow / (std::f64::consts::PI * balance.kinematic_viscosity) / limits.laminar_end;
    let narrowest = (roughness / policy::RELATIVE_ROUGHNESS_END).max(1e-9);
    let widest = 1e6_f64.max(narrowest * 1e3);
    let jump_inside = jump.clamp(narrowest, widest);
    let mut roots = Vec::new();
    let mut ends = [(f64::NAN, f64::NAN); 2];
    for (side, is_laminar, low, high) in [(0, false, narrowest, jump_inside), (1, true, jump_inside, widest)]
    {
        if low >= high {
            continue;
        }
        ends[side] = (left_over(low, is_laminar), left_over(high, is_laminar));
        let coefficient = leg.loss_sum
            + if at_end {
                alpha(&balance.end, last_is(is_laminar, which, last, laminar_elsewhere))
            } else {
                0.0
            }
            - if at_start {
                alpha(&balance.start, is_laminar)
            } else {
                0.0
            };
        let mut side_left_over = |d: f64| left_over(d, is_laminar);
        if coefficient >= 0.0 {
            // What is left over only grows with the diameter: one crossing at most.
            if ends[side].0 <= 0.0 && ends[side].1 > 0.0 {
                roots.push(closed_in(&mut side_left_over, low, high, is_laminar));
            }
        } else {
            crossings(&mut side_left_over, low, high, 24, &mut roots);
        }
    }
    if let Some(found) = Found::least(&roots) {
        return Ok(found);
    }
    let turbulent_jump = ends[0].1;
    let laminar_jump = ends[1].0;
    if turbulent_jump < 0.0 && laminar_jump > 0.0 {
        return Err(SolveError::OnlyAtJump {
            pipe: which,
            reynolds: limits.laminar_end,
        });
    }
    let widest_left_over = if ends[1].1.is_nan() { ends[0].1 } else { ends[1].1 };
    if widest_left_over <= 0.0 {
        return Err(SolveError::NoFlow {
            short_by: -widest_left_over,
        });
    }
    Err(SolveError::NoSolution {
        tried: (narrowest, widest),
        why: "even the narrowest pipe, with a wall of a twentieth of its bore, leaves head over",
    })
}

fn last_is(is_laminar: bool, which: usize, last: usize, elsewhere: impl Fn(usize) -> bool) -> bool {
    if which == last {
        is_laminar
    } else {
        elsewhere(last)
    }
}

/// A crossing from below to above in a wide interval, closed in on by doubling from the end that is likelier
/// near it: turbulent pipes are near the jump on the scale of diameters that could be tried.
fn closed_in(left_over: &mut impl FnMut(f64) -> f64, low: f64, high: f64, from_low: bool) -> f64 {
    let (mut a, mut b) = (low, high);
    if from_low {
        let mut next = 2.0 * a;
        while next < b {
            if left_over(next) > 0.0 {
                b = next;
                break;
            }
            a = next;
            next *= 2.0;
        }
    } else {
        let mut next = 0.5 * b;
        while next > a {
            if left_over(next) <= 0.0 {
                a = next;
                break;
            }
            b = next;
            next *= 0.5;
        }
    }
    crossing(left_over, a, b)
}

/// The energy equation as a function of the flow alone, between two jumps of it.
///
/// left over = head + power/Q − (quadratic + Σ friction_i f_i) Q²
struct FlowLeg {
    jump: f64,
    reynolds_per_flow: f64,
    relative_roughness: f64,
    reading: Reading,
    friction: f64,
}

struct FlowBalance {
    legs: Vec<FlowLeg>,
    power: f64,
    /// `head` and `quadratic` with the first pipe turbulent or laminar, and the last.
    by_alpha: [[(f64, f64); 2]; 2],
}

impl FlowBalance {
    fn new(balance: &Balance, limits: &Limits) -> Self {
        let twice_g = 2.0 * balance.gravity;
        let last = balance.legs.len() - 1;
        let losses: f64 = balance
            .legs
            .iter()
            .map(|leg| leg.loss_sum / square(area(leg.diameter)))
            .sum();
        let station = |station: &super::path::Station, pipe: usize, is_laminar: bool| {
            let alpha = alpha(station, is_laminar);
            match station.velocity {
                StationVelocity::Value(value) => (alpha * square(value) / twice_g, 0.0),
                StationVelocity::Pipe => (0.0, alpha / square(area(balance.legs[pipe].diameter))),
                StationVelocity::Jet(diameter) => (0.0, alpha / square(area(diameter))),
            }
        };
        let mut by_alpha = [[(0.0, 0.0); 2]; 2];
        for first_laminar in [false, true] {
            for last_laminar in [false, true] {
                let (start_head, start_quadratic) = station(&balance.start, 0, first_laminar);
                let (end_head, end_quadratic) = station(&balance.end, last, last_laminar);
                by_alpha[usize::from(first_laminar)][usize::from(last_laminar)] = (
                    balance.fixed_head + start_head - end_head,
                    (losses + end_quadratic - start_quadratic) / twice_g,
                );
            }
        }
        let legs = balance
            .legs
            .iter()
            .map(|leg| FlowLeg {
                jump: leg.jump_flow(balance.kinematic_viscosity, limits),
                reynolds_per_flow: leg.reynolds(1.0, balance.kinematic_viscosity),
                relative_roughness: leg.relative_roughness,
                reading: leg.reading,
                friction: leg.length / leg.diameter / square(area(leg.diameter)) / twice_g,
            })
            .collect();
        Self {
            legs,
            power: balance.power,
            by_alpha,
        }
    }

    /// `head` and `quadratic` in the piece that begins at a flow.
    fn terms(&self, piece: f64) -> (f64, f64) {
        let laminar = |leg: Option<&FlowLeg>| leg.is_some_and(|leg| leg.jump > piece);
        self.by_alpha[usize::from(laminar(self.legs.first()))][usize::from(laminar(self.legs.last()))]
    }

    /// What is left over at a flow, with the pipes laminar that are so in the piece that begins at `piece`.
    fn left_over(&self, flow: f64, piece: f64) -> f64 {
        let (head, mut quadratic) = self.terms(piece);
        for leg in &self.legs {
            if leg.friction > 0.0 {
                let reynolds = leg.reynolds_per_flow * flow;
                quadratic +=
                    leg.friction * darcy_in(leg.reading, reynolds, leg.relative_roughness, leg.jump > piece);
            }
        }
        let power = if self.power == 0.0 { 0.0 } else { self.power / flow };
        head + power - quadratic * flow * flow
    }
}

/// Flow from everything else.
fn flow(balance: &Balance, limits: &Limits) -> Result<Found, SolveError> {
    if let [leg] = balance.legs.as_slice()
        && balance.power == 0.0
        && leg.length > 0.0
        && matches!(leg.reading.law, Law::Colebrook | Law::FullyRough | Law::Fixed(_))
        && let Some(answer) = flow_in_one_pipe(balance, limits)
    {
        return answer;
    }
    flow_in_general(balance, limits)
}

/// One pipe and nothing that depends on the flow but it: both regimes are explicit or a Newton step or two.
/// None where the general way has to be gone.
fn flow_in_one_pipe(balance: &Balance, limits: &Limits) -> Option<Result<Found, SolveError>> {
    let leg = &balance.legs[0];
    let run = FlowBalance::new(balance, limits);
    let area = area(leg.diameter);
    let twice_g = 2.0 * balance.gravity;
    let mut roots = Vec::new();
    for is_laminar in [true, false] {
        let (head, quadratic) = run.by_alpha[usize::from(is_laminar)][usize::from(is_laminar)];
        let coefficient = quadratic * twice_g * area * area;
        if coefficient < 0.0 || head <= 0.0 {
            return None;
        }
        let line = Line {
            diameter: leg.diameter,
            length: leg.length,
            relative_roughness: leg.relative_roughness,
            coefficient,
            kinematic_viscosity: balance.kinematic_viscosity,
            gravity: balance.gravity,
        };
        let velocity = match leg.reading.law {
            Law::Fixed(value) => line.velocity_at_factor(head, value * leg.reading.factor),
            _ if is_laminar => line.laminar_velocity(head),
            Law::FullyRough => line.velocity_at_factor(
                head,
                darcy_in(leg.reading, f64::INFINITY, leg.relative_roughness, false),
            ),
            _ => line.turbulent_velocity(head, leg.reading.factor)?,
        };
        let reynolds = velocity * leg.diameter / balance.kinematic_viscosity;
        if (reynolds < limits.laminar_end) == is_laminar {
            roots.push(velocity * area);
        }
    }
    Some(Found::least(&roots).ok_or(SolveError::OnlyAtJump {
        pipe: 0,
        reynolds: limits.laminar_end,
    }))
}

/// One pipe from a known head to the flow: `head = (coefficient + f L/D) V²/2g`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Inner diameter \[m\].
    pub diameter: f64,
    /// Length, above 0 \[m\].
    pub length: f64,
    /// ε/D \[–\].
    pub relative_roughness: f64,
    /// Everything else that takes velocity heads: ΣK, and α at the end less α at the start \[–\].
    pub coefficient: f64,
    /// Kinematic viscosity \[m²/s\].
    pub kinematic_viscosity: f64,
    /// Acceleration of gravity \[m/s²\].
    pub gravity: f64,
}

impl Line {
    /// Velocity \[m/s\] under a head \[m\] with one Darcy friction factor.
    pub fn velocity_at_factor(&self, head: f64, darcy_friction_factor: f64) -> f64 {
        let taken = self.coefficient + darcy_friction_factor * self.length / self.diameter;
        (2.0 * self.gravity * head / taken).sqrt()
    }

    /// Velocity \[m/s\] under a head \[m\] with f = 64/Re.
    pub fn laminar_velocity(&self, head: f64) -> f64 {
        let push = 2.0 * self.gravity * head;
        let drag = 64.0 * self.kinematic_viscosity * self.length / square(self.diameter);
        // The form of the quadratic's root that does not cancel.
        2.0 * push / (drag + (drag * drag + 4.0 * self.coefficient * push).sqrt())
    }

    /// Velocity \[m/s\] under a head \[m\] with Colebrook–White's f times `factor`.
    ///
    /// In `R = Re √f` the law is explicit: `x = 1/√f = −2 log₁₀(a + 2.51/R)`. Without losses beside friction
    /// R follows from the head at once; with them it is the root of `R √(L/D + C x²) = √(2 g h) D/ν`, which
    /// rises with R. None where the steps do not settle, which the caller then solves by bracketing.
    pub fn turbulent_velocity(&self, head: f64, factor: f64) -> Option<f64> {
        let a = self.relative_roughness / COLEBROOK_A;
        let friction = factor * self.length / self.diameter;
        let per_diameter = self.kinematic_viscosity / self.diameter;
        let push = (2.0 * self.gravity * head).sqrt() / per_diameter;
        let x_at = |r: f64| -TWO_OVER_LN10 * libm::log(a + COLEBROOK_B / r);
        // Without other losses R is largest, and so is x.
        let mut r = push / friction.sqrt();
        let mut x = x_at(r);
        if self.coefficient > 0.0 {
            r = push / (friction + self.coefficient * square(x.max(0.0))).sqrt();
            let mut settled = false;
            for _ in 0..16 {
                x = x_at(r);
                let taken = (friction + self.coefficient * x * x).sqrt();
                let rx_slope = TWO_OVER_LN10 * COLEBROOK_B / (a * r + COLEBROOK_B);
                let slope = taken + self.coefficient * x * rx_slope / taken;
                let step = (r * taken - push) / slope;
                x -= rx_slope * step / r;
                r -= step;
                // The step just taken leaves a share of about its square.
                if step.abs() <= 1e-9 * r {
                    settled = true;
                    break;
                }
            }
            if !settled {
                return None;
            }
        }
        (x > 0.0 && x.is_finite()).then_some(per_diameter * r * x)
    }
}

/// Any number of pipes and machines.
///
/// Between the flows at which a pipe stops to be laminar everything is smooth. Where no turbine is known by
/// its power, and no velocity head of the start outweighs what lies behind it, what is left over only falls
/// with the flow: the two ends of each piece then prove or rule out its one root. Else each piece is scanned.
fn flow_in_general(balance: &Balance, limits: &Limits) -> Result<Found, SolveError> {
    let run = FlowBalance::new(balance, limits);
    let terms = run.by_alpha.as_flattened();
    let largest_head = terms.iter().fold(f64::NEG_INFINITY, |m, t| m.max(t.0));
    let falls = run.power >= 0.0 && terms.iter().all(|t| t.1 >= 0.0);
    let gains = terms.iter().any(|t| t.1 < 0.0);
    if largest_head <= 0.0 && run.power <= 0.0 && !gains {
        return Err(SolveError::NoFlow {
            short_by: -largest_head,
        });
    }

    let mut jumps: Vec<f64> = run.legs.iter().map(|leg| leg.jump).filter(|&q| q > 0.0).collect();
    jumps.sort_by(f64::total_cmp);
    jumps.dedup();
    let middle = jumps.first().copied().unwrap_or(1e-3);

    // The range of flows outside which there is surely no root, or else a very wide one. It starts below the
    // first jump and ends above the last, so that both are seen from either side.
    let mut low = 0.5 * middle;
    let mut high = 2.0 * jumps.last().copied().unwrap_or(1e-3);
    // Without a machine by power this is what is left over as the flow nears nought.
    let head_at_rest = run.terms(0.0).0;
    if falls {
        for _ in 0..80 {
            if (run.power == 0.0 && head_at_rest <= 0.0) || run.left_over(low, 0.0) > 0.0 {
                break;
            }
            low /= 16.0;
        }
        for _ in 0..80 {
            if run.left_over(high, high) < 0.0 {
                break;
            }
            high *= 4.0;
        }
    } else if !gains {
        // A turbine by power takes all the head at this flow already.
        low = (-run.power / largest_head) * (1.0 - 1e-9);
        high = high.max(low);
        for _ in 0..200 {
            let without_turbine = run.left_over(high, high) - run.power / high;
            if without_turbine < 0.0 {
                break;
            }
            high *= 2.0;
        }
    } else {
        low *= 1e-6;
        high *= 1e8;
    }

    let mut edges = vec![low];
    edges.extend(jumps.iter().copied().filter(|&q| q > low && q < high));
    edges.push(high);
    let mut roots = Vec::new();
    let mut at_jump = None;
    let mut before = f64::NAN;
    for (i, ends) in edges.windows(2).enumerate() {
        let (from, to) = (ends[0], ends[1]);
        // The first piece starts below every jump, unless the range starts above some.
        let piece = if i == 0 {
            jumps.iter().copied().rfind(|&q| q <= from).unwrap_or(0.0)
        } else {
            from
        };
        let mut left_over = |q: f64| run.left_over(q, piece);
        let (first, second) = (left_over(from), left_over(to));
        if before > 0.0 && first < 0.0 {
            at_jump = at_jump.or(run.legs.iter().position(|leg| leg.jump == from));
        }
        if falls {
            if first >= 0.0 && second < 0.0 {
                roots.push(crossing(&mut left_over, from, to));
            }
        } else {
            crossings(&mut left_over, from, to, 24, &mut roots);
        }
        before = second;
    }
    if let Some(found) = Found::least(&roots) {
        return Ok(found);
    }
    if let Some(pipe) = at_jump {
        return Err(SolveError::OnlyAtJump {
            pipe,
            reynolds: limits.laminar_end,
        });
    }
    if head_at_rest <= 0.0 && run.power <= 0.0 {
        return Err(SolveError::NoFlow {
            short_by: -head_at_rest,
        });
    }
    Err(SolveError::NoSolution {
        tried: (low, high),
        why: if run.power < 0.0 {
            "the turbine takes more power than the fall can give at any flow"
        } else {
            "nothing on the way holds the flow back"
        },
    })
}

/// What a person should know of a state.
fn warn(path: &Path, state: &State, limits: &Limits, warnings: &mut Vec<Warning>) {
    let (slowest, fastest) = if path.density < policy::GAS_DENSITY {
        policy::ORDINARY_GAS_VELOCITY
    } else {
        policy::ORDINARY_VELOCITY
    };
    for (pipe, at) in state.pipes.iter().enumerate() {
        if at.reynolds >= limits.laminar_end && at.reynolds < limits.turbulent_start {
            warnings.push(Warning::CriticalZone {
                pipe,
                reynolds: at.reynolds,
            });
        }
        if at.velocity < slowest || at.velocity > fastest {
            warnings.push(Warning::UnusualVelocity {
                pipe,
                velocity: at.velocity,
            });
        }
        let is_turbulent = at.reynolds >= limits.laminar_end;
        if is_turbulent
            && (at.reynolds > policy::REYNOLDS_END || at.relative_roughness > policy::RELATIVE_ROUGHNESS_END)
        {
            warnings.push(Warning::OffChart { pipe });
        }
    }
    if let Some(warning) = cavitation(path, state) {
        warnings.push(warning);
    }
}

/// The place of the lowest pressure, where that is below vapour pressure (0 where none is known: no absolute
/// pressure lies below that).
///
/// The grade line is walked from element to element. At the two stations the elevation is known. Between them
/// it is not, and the lower of the two is taken: a line that nowhere lies lower has less pressure still, so
/// that a warning here holds for it. Before and behind a loss the pipes on either side count, whichever is
/// faster; a machine parts them.
fn cavitation(path: &Path, state: &State) -> Option<Warning> {
    let weight = path.density * path.gravity;
    let twice_g = 2.0 * path.gravity;
    let vapour_pressure = path.vapour_pressure.unwrap_or(0.0);
    let lower = state.start.elevation.min(state.end.elevation);

    // Velocity head in each element's pipe, None for a machine or a loss.
    let pipe_at: Vec<Option<usize>> = {
        let mut count = 0;
        path.elements
            .iter()
            .map(|e| {
                matches!(e, Element::Pipe(_)).then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect()
    };
    let velocity_head = |pipe: usize| {
        let at = &state.pipes[pipe];
        let alpha = if at.regime == Regime::Laminar {
            super::path::LAMINAR_ALPHA
        } else {
            super::path::TURBULENT_ALPHA
        };
        alpha * square(at.velocity) / twice_g
    };
    let is_machine = |i: usize| matches!(path.elements[i], Element::Pump(_) | Element::Turbine(_));
    let before = |point: usize| {
        (0..point)
            .rev()
            .take_while(|&i| !is_machine(i))
            .find_map(|i| pipe_at[i])
    };
    let behind = |point: usize| {
        (point..path.elements.len())
            .take_while(|&i| !is_machine(i))
            .find_map(|i| pipe_at[i])
    };

    let mut lowest = (0, state.start.pressure + path.atmosphere);
    let mut total = state.start.pressure / weight
        + state.start.elevation
        + state.start.alpha * square(state.start.velocity) / twice_g;
    let (mut losses, mut pumps, mut turbines) = (0, 0, 0);
    for point in 0..path.elements.len() {
        // The point before element `point`; the last point is the end station itself.
        let sides = if point == 0 && pipe_at[0].is_none() {
            [None, None]
        } else {
            [before(point), behind(point)]
        };
        for pipe in sides.into_iter().flatten() {
            let pressure = (total - lower - velocity_head(pipe)) * weight + path.atmosphere;
            if pressure < lowest.1 {
                lowest = (point, pressure);
            }
        }
        match path.elements[point] {
            Element::Pipe(_) => {
                if let Some(pipe) = pipe_at[point] {
                    total -= state.pipes[pipe].major_head_loss;
                }
            }
            Element::Loss { .. } => {
                total -= state.minor_head_losses[losses];
                losses += 1;
            }
            Element::Pump(_) => {
                total += state.pump_heads[pumps];
                pumps += 1;
            }
            Element::Turbine(_) => {
                total -= state.turbine_heads[turbines];
                turbines += 1;
            }
        }
    }
    let at_end = state.end.pressure + path.atmosphere;
    if at_end < lowest.1 {
        lowest = (path.elements.len(), at_end);
    }
    (lowest.1 < vapour_pressure).then_some(Warning::Cavitation {
        after: lowest.0,
        pressure: lowest.1,
        vapour_pressure,
    })
}
