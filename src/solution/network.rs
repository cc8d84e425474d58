//! A network, solved: its results by name, what to know of them, and JSON.

use super::json::pretty;
use super::kind::{Case, Flowing, Found, Remark, Solution, Unsolved};
use super::results::total;
use super::units::Kind;
use super::{Step, case, worked};
use crate::bank::course::Conventions;
use crate::bank::names::pipe_result;
use crate::bank::system::network::{NetworkSystem, NodeKind, own_result};
use crate::bank::system::{Element, FluidValues, Kind as _};
use crate::equation::EquationError;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::network::{Network, Node, SolveError, Solved, Warning, solve, solve_near};
use crate::hydraulics::path::{self, Pipe, PipeState};
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::solve;
use crate::quantity::{Quantity, Shown};
use serde::Serialize;

/// A network, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct NetworkCase {
    /// The system, resolved.
    pub system: NetworkSystem,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// The network in SI numbers.
    pub network: Network,
    /// Its flows and heads.
    pub solved: Solved,
}

/// Takes a result: how to make its name, what it is the value of, its value in SI.
type Add<'a> = &'a mut dyn FnMut(&dyn Fn() -> String, Kind, f64);

impl NetworkCase {
    pub(super) fn solve(
        system: NetworkSystem,
        figures: Option<u32>,
        limits: &Limits,
    ) -> Result<Self, Unsolved> {
        let network = system.network(figures)?;
        let fluid = system.surroundings.fluid_values(figures)?;
        let readings = vec![Reading::EXACT; system.pipe_names().len()];
        let solved = solve(&network, &readings, limits)
            .map_err(|error| Unsolved::new(short(&error), system.fault(&error)))?;
        Ok(Self {
            system,
            fluid,
            network,
            solved,
        })
    }

    /// The same with another network in its place, such as a slip makes.
    pub(crate) fn with(
        &self,
        network: Network,
        readings: &[Reading],
        limits: &Limits,
    ) -> Result<Self, Unsolved> {
        let solved = solve_near(&network, readings, limits, &self.solved.flows)
            .map_err(|error| Unsolved::new(short(&error), self.system.fault(&error)))?;
        Ok(Self {
            network,
            solved,
            ..self.clone()
        })
    }

    /// Calls `add` with each result, its name only made where it is wanted. Which there are, and in which order, hangs
    /// on the system alone.
    fn each(&self, solved: &Solved, add: Add<'_>) {
        let system = &self.system;
        for ((link, flow), state) in system.links.iter().zip(&solved.flows).zip(&solved.states) {
            add(&|| own_result("Q", &link.name), Kind::Flow, *flow);
            add(&|| own_result("h_L", &link.name), Kind::Length, state.head_loss);
            let mut pumps = state.pump_heads.iter().zip(&state.pump_powers);
            let mut turbines = state.turbine_heads.iter().zip(&state.turbine_powers);
            for element in &link.path {
                let (machine, heads, powers, name) = match element {
                    Element::Pump { name, .. } => (pumps.next(), "h_P", "P_P", name),
                    Element::Turbine { name, .. } => (turbines.next(), "h_T", "P_T", name),
                    _ => continue,
                };
                if let Some((&head, &power)) = machine {
                    add(&|| own_result(heads, name), Kind::Length, head);
                    add(&|| own_result(powers, name), Kind::Power, power);
                }
            }
        }
        for (i, node) in system.nodes.iter().enumerate() {
            let mut add = |base: &str, kind: Kind, si: f64| add(&|| own_result(base, &node.name), kind, si);
            if solved.heads_are_known {
                add("H", Kind::Length, solved.heads[i]);
            }
            match (&node.what, &self.network.nodes[i]) {
                (NodeKind::Reservoir { .. }, Node::Reservoir { level, .. }) => {
                    add("Q_from", Kind::Flow, solved.given[i]);
                    add("z", Kind::Length, *level);
                }
                (
                    NodeKind::Junction { demand, supply, .. },
                    Node::Junction {
                        elevation,
                        demand: taken,
                        ..
                    },
                ) => {
                    if let Some(elevation) = elevation {
                        add("z", Kind::Length, *elevation);
                    }
                    if let Some(pressure) = solved.pressures[i] {
                        add("p", Kind::Pressure, pressure);
                    }
                    if demand.is_some() {
                        add("q", Kind::Flow, *taken);
                    }
                    if supply.is_some() {
                        add("s", Kind::Flow, -taken);
                    }
                }
                _ => {}
            }
        }
        let names = system.pipe_names();
        for (name, (_, pipe, state)) in names.iter().zip(self.pipes_of(solved)) {
            let mut own =
                |base: &str, kind: Kind, si: f64| add(&|| pipe_result(base, name, names.len()), kind, si);
            own("V", Kind::Velocity, state.velocity);
            own("Re", Kind::Number, state.reynolds);
            own("f", Kind::Number, state.darcy_friction_factor);
            own("D", Kind::Bore, pipe.diameter);
            own("L", Kind::Length, pipe.length);
            own("eps", Kind::Bore, pipe.roughness);
            own("A", Kind::Area, pipe.area());
            own("rr", Kind::Number, state.relative_roughness);
            own("h_f", Kind::Length, state.major_head_loss);
        }
    }

    /// All results by name as numbers, with other flows and heads in the place of the case's own.
    pub(crate) fn numbers_of(&self, solved: &Solved) -> Vec<(String, Quantity)> {
        let mut all = Vec::new();
        self.each(solved, &mut |name, kind, si| {
            all.push((name(), Quantity::new(si, kind.dimension())));
        });
        all
    }

    /// Each pipe of the network: its link, its measures and what flows in it, in the order of readings.
    pub(crate) fn pipes(&self) -> Vec<(usize, &Pipe, &PipeState)> {
        self.pipes_of(&self.solved)
    }

    fn pipes_of<'s>(&'s self, solved: &'s Solved) -> Vec<(usize, &'s Pipe, &'s PipeState)> {
        let links = self.network.links.iter().zip(&solved.states).enumerate();
        links
            .flat_map(|(i, (link, state))| {
                let pipes = link.elements.iter().filter_map(|element| match element {
                    path::Element::Pipe(pipe) => Some(pipe),
                    _ => None,
                });
                pipes.zip(&state.pipes).map(move |(pipe, state)| (i, pipe, state))
            })
            .collect()
    }
}

fn short(error: &SolveError) -> &'static str {
    match error {
        SolveError::NoLinks | SolveError::NoWay { .. } | SolveError::Apart { .. } => {
            "the network is not joined up"
        }
        SolveError::Unbalanced { .. } => "demands and supplies do not balance",
        SolveError::HeadTwice { .. } => "a head is fixed twice",
        SolveError::NoResistance { .. } => "a link takes no head",
        SolveError::TurbineByPower { .. } => "a turbine is given by its power",
        SolveError::Backwards { .. } => "a pump would run backwards",
        SolveError::DemandNotMet { .. } => "a demand can't be met",
        SolveError::OnlyAtJump { .. } => "the equations are met only between laminar and turbulent flow",
        SolveError::NotSettled { .. } => "no flows satisfy every equation",
        SolveError::OfLink {
            why: solve::SolveError::OffCurve { .. },
            ..
        } => "a pump would run at a flow off its curve",
        SolveError::OfLink { .. } | SolveError::Impossible { .. } => "impossible value",
    }
}

impl Solution for NetworkCase {
    fn found(&self) -> Vec<Found> {
        let mut all = Vec::new();
        self.each(&self.solved, &mut |name, kind, si| {
            let name = name();
            let stated = self.system.stated(&name);
            all.push(Found::new(name, kind, si, stated).gauge());
        });
        all
    }

    fn numbers(&self) -> Vec<(String, Quantity)> {
        self.numbers_of(&self.solved)
    }

    fn values(&self) -> Option<Vec<Quantity>> {
        let mut all = Vec::new();
        self.each(&self.solved, &mut |_, kind, si| {
            all.push(Quantity::new(si, kind.dimension()))
        });
        Some(all)
    }

    fn flowing(&self) -> Vec<Flowing> {
        let names = self.system.pipe_names();
        (names.into_iter().zip(self.pipes()))
            .map(|(name, (_, _, state))| Flowing {
                name: name.to_owned(),
                reynolds: state.reynolds,
                relative_roughness: state.relative_roughness,
                rough_number: state.rough_number,
                regime: state.regime,
            })
            .collect()
    }

    fn remarks(&self, _limits: &Limits) -> Vec<Remark> {
        let kilopascals = |pressure: f64| Shown::new(pressure / 1000.0, 3).ascii();
        let node = |node: usize| &self.system.nodes[node].name;
        let remark = |text: String, short: &'static str| Remark {
            text,
            short,
            critical: false,
            choice: false,
        };
        (self.solved.warnings.iter())
            .map(|warning| match warning {
                Warning::Link { link, what } => case::remark(what, &self.system.path(*link)),
                Warning::Suction { node: at, pressure } => remark(
                    format!(
                        "at `{}` the pressure is below that of the air outside ({} kPa gauge)",
                        node(*at),
                        kilopascals(*pressure)
                    ),
                    "a pressure below that of the air outside",
                ),
                Warning::Cavitation { node: at, pressure } => remark(
                    format!(
                        "at `{}` the pressure falls below vapour pressure ({} kPa absolute), so that the water column breaks",
                        node(*at),
                        kilopascals(*pressure)
                    ),
                    "pressure below vapour pressure",
                ),
                Warning::RisingCurve { link } => Remark {
                    text: format!(
                        "the head curve of a pump on `{}` rises over some of its flows, so that other flows may satisfy \
                         the equations as well",
                        self.system.links[*link].name
                    ),
                    short: "a second solution",
                    critical: false,
                    choice: true,
                },
            })
            .collect()
    }

    fn answers(&self) -> Vec<(String, String)> {
        let flows = (self.system.links.iter()).map(|link| {
            (
                own_result("Q", &link.name),
                format!(
                    "the flow in {} from {} to {}",
                    link.name, self.system.nodes[link.from].name, self.system.nodes[link.to].name
                ),
            )
        });
        let heads = (self.system.nodes.iter())
            .filter(|node| self.solved.heads_are_known && matches!(node.what, NodeKind::Junction { .. }))
            .map(|node| (own_result("H", &node.name), format!("the head at {}", node.name)));
        // Without a fixed head what can be asked is what is lost; side by side it is one number.
        let lost = (self.system.links.iter())
            .filter(|_| !self.solved.heads_are_known)
            .take(if self.system.nodes.len() == 2 {
                1
            } else {
                usize::MAX
            })
            .map(|link| {
                (
                    own_result("h_L", &link.name),
                    if self.system.nodes.len() == 2 {
                        "the head lost, the same in every link".to_owned()
                    } else {
                        format!("the head lost in {}", link.name)
                    },
                )
            });
        flows.chain(heads).chain(lost).collect()
    }

    fn worked(&self, limits: &Limits, conventions: &Conventions) -> Result<Vec<Step>, EquationError> {
        worked::network::steps(self, limits, conventions)
    }

    fn json(&self, limits: &Limits) -> String {
        json(self, limits)
    }

    fn again(&self, readings: &[Reading], limits: &Limits) -> Result<Case, Unsolved> {
        self.with(self.network.clone(), readings, limits)
            .map(|case| Case::Network(Box::new(case)))
    }
}

#[derive(Serialize)]
struct Out {
    nodes: Vec<NodeOut>,
    links: Vec<LinkOut>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct NodeOut {
    name: String,
    kind: &'static str,
    /// None where differences of head alone are known.
    head: Option<f64>,
    elevation: Option<f64>,
    pressure: Option<f64>,
    /// Flow that the node gives to the network; below 0 where it takes some out.
    given: f64,
}

#[derive(Serialize)]
struct LinkOut {
    name: String,
    from: String,
    to: String,
    flow: f64,
    head_loss: f64,
    pump_head: f64,
    pump_power: f64,
    turbine_head: f64,
    turbine_power: f64,
    pipes: Vec<PipeOut>,
}

#[derive(Serialize)]
struct PipeOut {
    name: String,
    velocity: f64,
    reynolds: f64,
    /// None where nothing flows.
    friction_factor: Option<f64>,
    regime: Option<&'static str>,
    major_head_loss: f64,
}

fn json(case: &NetworkCase, limits: &Limits) -> String {
    let (system, solved) = (&case.system, &case.solved);
    let names = system.pipe_names();
    let pipes: Vec<_> = names.iter().zip(case.pipes()).collect();
    let out = Out {
        nodes: (system.nodes.iter().enumerate())
            .map(|(i, node)| NodeOut {
                name: node.name.clone(),
                kind: match node.what {
                    NodeKind::Reservoir { .. } => "reservoir",
                    NodeKind::Junction { .. } => "junction",
                },
                head: solved.heads_are_known.then_some(solved.heads[i]),
                elevation: match case.network.nodes[i] {
                    Node::Reservoir { level, .. } => Some(level),
                    Node::Junction { elevation, .. } => elevation,
                },
                pressure: solved.pressures[i],
                given: solved.given[i],
            })
            .collect(),
        links: (system.links.iter().zip(&solved.states).enumerate())
            .map(|(i, (link, state))| LinkOut {
                name: link.name.clone(),
                from: system.nodes[link.from].name.clone(),
                to: system.nodes[link.to].name.clone(),
                flow: solved.flows[i],
                head_loss: state.head_loss,
                pump_head: total(&state.pump_heads),
                pump_power: total(&state.pump_powers),
                turbine_head: total(&state.turbine_heads),
                turbine_power: total(&state.turbine_powers),
                pipes: (pipes.iter())
                    .filter(|(_, (at, _, _))| *at == i)
                    .map(|(name, (_, _, state))| {
                        let flows = state.reynolds > 0.0;
                        PipeOut {
                            name: (**name).to_owned(),
                            velocity: state.velocity,
                            reynolds: state.reynolds,
                            friction_factor: flows.then_some(state.darcy_friction_factor),
                            regime: flows.then(|| state.regime.name()),
                            major_head_loss: state.major_head_loss,
                        }
                    })
                    .collect(),
            })
            .collect(),
        warnings: (case.remarks(limits).into_iter())
            .map(|remark| remark.text)
            .collect(),
    };
    pretty(&out)
}

/// Whether every pipe in which something flows is laminar.
pub(super) fn is_laminar(case: &NetworkCase) -> bool {
    case.pipes()
        .iter()
        .all(|(_, _, state)| state.regime == Regime::Laminar)
}
