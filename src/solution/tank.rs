//! A tank that fills or empties, solved: its results by name, what to know of them, and JSON.

use super::json::{UnknownOut, pretty};
use super::kind::{Case, Flowing, Found, Remark, Solution, Unsolved};
use super::results::known;
use super::units::Kind;
use super::{Step, warning_text, worked};
use crate::bank::course::Conventions;
use crate::bank::names::pipe_result;
use crate::bank::system::tank::{TankRole, TankSystem};
use crate::bank::system::{FluidValues, Kind as _, System};
use crate::equation::EquationError;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::path::{Element, State};
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::solve;
use crate::hydraulics::tank::{
    Asked, Moment, Problem, Solved, TankError, Warning, solve as solve_tank, solve_silently,
};
use crate::quantity::Shown;
use serde::Serialize;

/// A tank that fills or empties, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct TankCase {
    /// The system, resolved.
    pub system: TankSystem,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// The problem in SI numbers.
    pub problem: Problem,
    /// Its answer.
    pub solved: Solved,
}

impl TankCase {
    pub(super) fn solve(system: TankSystem, figures: Option<u32>, limits: &Limits) -> Result<Self, Unsolved> {
        let problem = system.problem(figures)?;
        let fluid = system.surroundings.fluid_values(figures)?;
        let readings = vec![Reading::EXACT; pipes(&problem)];
        let solved = solve_tank(&problem, &readings, limits)
            .map_err(|error| Unsolved::new(short(&error), system.fault(&error)))?;
        Ok(Self {
            system,
            fluid,
            problem,
            solved,
        })
    }

    /// Head that friction, losses and the change of velocity heads take \[m\].
    pub(crate) fn driving_head(&self, state: &State) -> f64 {
        let twice_g = 2.0 * self.solved.path.gravity;
        let head = |alpha: f64, velocity: f64| alpha * velocity * velocity / twice_g;
        state.head_loss + head(state.end.alpha, state.end.velocity)
            - head(state.start.alpha, state.start.velocity)
    }

    /// The followed tank's volume and the other's below a moment's levels, and areas of their surfaces.
    pub(super) fn area(&self, moment: &Moment) -> (f64, Option<f64>) {
        let [first, second] = self.vessels();
        let other = second
            .zip(moment.other_level)
            .map(|(v, level)| v.shape.area(level));
        (first.map_or(f64::NAN, |v| v.shape.area(moment.level)), other)
    }

    /// The followed tank and the other.
    pub(crate) fn vessels(&self) -> [Option<&crate::hydraulics::tank::Vessel>; 2] {
        match (&self.problem.start, &self.problem.end) {
            (Some(start), end) => [Some(start), end.as_ref()],
            (None, end) => [end.as_ref(), None],
        }
    }

    /// What passes through the pipe \[m³\].
    pub(crate) fn volume(&self) -> f64 {
        let Some(tank) = self.vessels()[0] else {
            return f64::NAN;
        };
        let gained = tank.shape.volume(self.solved.end.level) - tank.shape.volume(self.solved.start.level);
        (gained - tank.inflow * self.solved.end.time).abs()
    }
}

fn pipes(problem: &Problem) -> usize {
    let elements = problem.path.elements.iter();
    elements.filter(|e| matches!(e, Element::Pipe(_))).count()
}

fn short(error: &TankError) -> &'static str {
    match error {
        TankError::Flow { .. } => "no flow at a level",
        TankError::OtherWay { .. } => "the level goes the other way",
        TankError::StandsStill => "the level stands still",
        TankError::StopsBefore { .. } => "the level is never reached",
        TankError::OnlyNeared { .. } => "the level is only neared",
        TankError::EndsBefore { .. } => "the time is longer than it lasts",
        TankError::NoDiameter { .. } => "no diameter makes it in that time",
        TankError::NotSettled => "the time can't be found",
        TankError::Impossible { what, .. } => what,
    }
}

/// A number in words.
fn say(value: f64, unit: &str) -> String {
    format!("{} {unit}", Shown::new(value, 4).ascii())
}

impl Solution for TankCase {
    fn found(&self) -> Vec<Found> {
        let (solved, system) = (&self.solved, &self.system);
        let (start, end) = (&solved.start, &solved.end);
        let mut all = Vec::new();
        let mut add = |name: &str, kind: Kind, si: f64| {
            // At rest there is no friction factor.
            if si.is_finite() {
                all.push(Found::new(name, kind, si, system.stated(name)));
            }
        };
        add("t", Kind::Time, end.time);
        let closed = solved.at_first_factor.unwrap_or(f64::NAN);
        if system.asks_level() {
            add("h_closed", Kind::Length, closed);
        } else {
            add("t_closed", Kind::Time, closed);
        }
        add("h_1", Kind::Length, start.level);
        add("h_2", Kind::Length, end.level);
        let (area, other_area) = self.area(start);
        if let (Some(first), Some(last), Some(area)) = (start.other_level, end.other_level, other_area) {
            add("h_1s", Kind::Length, first);
            add("h_2s", Kind::Length, last);
            add("A_s", Kind::Area, area);
        }
        add("A_t", Kind::Area, area);
        add("H_1", Kind::Length, self.driving_head(&start.state));
        add("H_2", Kind::Length, self.driving_head(&end.state));
        add("Q_1", Kind::Flow, start.state.flow);
        add("Q_2", Kind::Flow, end.state.flow);
        add("Vol", Kind::Volume, self.volume());
        let mut bores = solved.path.elements.iter().filter_map(|e| match e {
            Element::Pipe(pipe) => Some(pipe),
            _ => None,
        });
        if let (Some(_), Some(pipe)) = (&system.orifice, bores.clone().next()) {
            add("d", Kind::Bore, pipe.diameter);
            let coefficient = system.orifice.as_ref().and_then(|o| known(&o.coefficient));
            add(
                "C_d",
                Kind::Number,
                coefficient.map_or(f64::NAN, |w| w.quantity().value),
            );
            add("A", Kind::Area, pipe.area());
            return all;
        }
        let names = system.pipe_names();
        for (i, name) in names.iter().enumerate() {
            let Some(pipe) = bores.next() else { continue };
            let mut own =
                |base: &str, kind: Kind, si: f64| add(&pipe_result(base, name, names.len()), kind, si);
            own("D", Kind::Bore, pipe.diameter);
            own("L", Kind::Length, pipe.length);
            own("eps", Kind::Bore, pipe.roughness);
            own("A", Kind::Area, pipe.area());
            own("rr", Kind::Number, pipe.roughness / pipe.diameter);
            for (which, moment) in [("1", start), ("2", end)] {
                let Some(at) = moment.state.pipes.get(i) else {
                    continue;
                };
                own(&format!("V_{which}"), Kind::Velocity, at.velocity);
                own(&format!("Re_{which}"), Kind::Number, at.reynolds);
                own(&format!("f_{which}"), Kind::Number, at.darcy_friction_factor);
            }
        }
        all
    }

    fn flowing(&self) -> Vec<Flowing> {
        // What flows at the start; the end's numbers have names of their own.
        (self
            .system
            .pipe_names()
            .into_iter()
            .zip(&self.solved.start.state.pipes))
        .map(|(name, at)| Flowing {
            name: name.to_owned(),
            reynolds: at.reynolds,
            relative_roughness: at.relative_roughness,
            rough_number: at.rough_number,
            regime: at.regime,
        })
        .collect()
    }

    fn remarks(&self, _limits: &Limits) -> Vec<Remark> {
        let names = self.system.pipe_names();
        let name = |pipe: usize| names.get(pipe).copied().unwrap_or("the opening");
        let tank = &self.system.tank.name;
        (self.solved.warnings.iter())
            .map(|warning| {
                let (text, short) = match warning {
                    Warning::CriticalZone { pipe, from, to, from_level, to_level } => (
                        format!(
                            "the flow in pipe `{}` is in the critical zone from {} to {} (levels {} to {}), where no friction factor is certain",
                            name(*pipe),
                            say(*from, "s"),
                            say(*to, "s"),
                            say(*from_level, "m"),
                            say(*to_level, "m")
                        ),
                        "flow in the critical zone",
                    ),
                    Warning::SurfaceMoves { share, level } => (
                        format!(
                            "with {} in the {tank} the velocity head of the surface is {} of the head that drives the flow, too much to leave out",
                            say(*level, "m"),
                            say(100.0 * share, "%")
                        ),
                        "a surface that moves too fast",
                    ),
                    Warning::Inertia { share, level } => (
                        format!(
                            "with {} in the {tank} it takes {} of the driving head to slow or hasten the liquid in the pipe, too much for each moment to be steady flow",
                            say(*level, "m"),
                            say(100.0 * share, "%")
                        ),
                        "a flow that changes too fast",
                    ),
                    Warning::Settled { level } => (
                        format!("by then the level has settled at {}", say(*level, "m")),
                        "the level has settled",
                    ),
                    Warning::Path { time, warning } => (
                        format!("after {}: {}", say(*time, "s"), warning_text(warning, &self.system.path_system())),
                        match warning {
                            solve::Warning::Cavitation { .. } => "pressure below vapour pressure",
                            solve::Warning::UnusualVelocity { .. } => "an unusual velocity",
                            solve::Warning::OffChart { .. } => "off the friction chart",
                            solve::Warning::SecondSolution { .. } => "a second solution",
                            _ => "something out of the ordinary on the path",
                        },
                    ),
                };
                Remark {
                    text,
                    short,
                    critical: matches!(warning, Warning::CriticalZone { .. }),
                    choice: matches!(
                        warning,
                        Warning::Path { warning: solve::Warning::SecondSolution { .. }, .. }
                    ),
                }
            })
            .collect()
    }

    fn answers(&self) -> Vec<(String, String)> {
        let one = |name: &str, words: &str| vec![(name.to_owned(), words.to_owned())];
        match self.problem.asked {
            Asked::Time(_) => one("t", "the time"),
            Asked::Level(_) => {
                let mut all = one(
                    "h_2",
                    &format!("the level in the {} at the end", self.system.tank.name),
                );
                if let TankRole::Equalises(second) = &self.system.role {
                    all.extend(one("h_2s", &format!("that in the {}", second.name)));
                }
                all
            }
            Asked::Diameter { pipe, .. } => {
                if self.system.orifice.is_some() {
                    return one("d", "the diameter of the opening");
                }
                let names = self.system.pipe_names();
                let name = names.get(pipe).copied().unwrap_or_default();
                vec![(
                    pipe_result("D", name, names.len()),
                    format!("the bore of the {name}"),
                )]
            }
        }
    }

    fn worked(&self, limits: &Limits, conventions: &Conventions) -> Result<Vec<Step>, EquationError> {
        worked::tank::steps(self, limits, conventions)
    }

    fn json(&self, limits: &Limits) -> String {
        json(self, limits)
    }

    fn again(&self, readings: &[Reading], limits: &Limits) -> Result<Case, Unsolved> {
        // An opening has no friction factor that could be read otherwise.
        let exact = [Reading::EXACT];
        let readings = if self.system.orifice.is_some() {
            &exact
        } else {
            readings
        };
        let solved = solve_silently(&self.problem, readings, limits)
            .map_err(|error| Unsolved::new(short(&error), self.system.fault(&error)))?;
        Ok(Case::Tank(Box::new(Self {
            solved,
            ..self.clone()
        })))
    }
}

#[derive(Serialize)]
struct Out {
    unknown: UnknownOut,
    time: f64,
    volume: f64,
    start: MomentOut,
    end: MomentOut,
    with_friction_of_the_start: Option<f64>,
    changes_of_regime: Vec<ChangeOut>,
    comes_to_a_stop: Option<StopOut>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct MomentOut {
    level: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    second_level: Option<f64>,
    head: f64,
    flow: f64,
    pipes: Vec<PipeOut>,
}

#[derive(Serialize)]
struct PipeOut {
    name: String,
    velocity: f64,
    reynolds: f64,
    friction_factor: f64,
    regime: &'static str,
    major_head_loss: f64,
}

#[derive(Serialize)]
struct ChangeOut {
    pipe: String,
    time: f64,
    level: f64,
    from: &'static str,
    to: &'static str,
}

#[derive(Serialize)]
struct StopOut {
    level: f64,
    why: String,
}

fn json(case: &TankCase, limits: &Limits) -> String {
    let (system, solved) = (&case.system, &case.solved);
    let names = system.pipe_names();
    let name = |pipe: usize| names.get(pipe).copied().unwrap_or_default().to_owned();
    let moment = |moment: &Moment| MomentOut {
        level: moment.level,
        second_level: moment.other_level,
        head: case.driving_head(&moment.state),
        flow: moment.state.flow,
        pipes: (names.iter().zip(&moment.state.pipes))
            .map(|(name, at)| PipeOut {
                name: (*name).to_owned(),
                velocity: at.velocity,
                reynolds: at.reynolds,
                friction_factor: at.darcy_friction_factor,
                regime: at.regime.name(),
                major_head_loss: at.major_head_loss,
            })
            .collect(),
    };
    let out = Out {
        unknown: UnknownOut {
            name: System::Tank(Box::new(system.clone())).unknown_name(),
            value: solved.value,
            unit: match case.problem.asked {
                Asked::Time(_) => "s",
                Asked::Level(_) | Asked::Diameter { .. } => "m",
            },
        },
        time: solved.end.time,
        volume: case.volume(),
        start: moment(&solved.start),
        end: moment(&solved.end),
        with_friction_of_the_start: solved.at_first_factor,
        changes_of_regime: (solved.changes.iter())
            .map(|change| ChangeOut {
                pipe: name(change.pipe),
                time: change.time,
                level: change.level,
                from: change.before.name(),
                to: change.after.name(),
            })
            .collect(),
        comes_to_a_stop: solved.stop.map(|(level, stop)| StopOut {
            level,
            why: system.stop_words(stop),
        }),
        warnings: case
            .remarks(limits)
            .into_iter()
            .map(|remark| remark.text)
            .collect(),
    };
    pretty(&out)
}

/// Whether a pipe is laminar at both ends of the time.
pub(super) fn stays_laminar(case: &TankCase) -> bool {
    let laminar = |moment: &Moment| moment.state.pipes.iter().all(|p| p.regime == Regime::Laminar);
    laminar(&case.solved.start) && laminar(&case.solved.end)
}
