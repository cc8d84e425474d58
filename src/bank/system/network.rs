//! `nodes` and `links`: a network of pipes, as people write it.

use super::kind::{Kind, ResultName, Surroundings};
use super::problem::{below_vacuum, gauge, number};
use super::slot::{Of, Slot};
use super::{Bore, Duty, Element, PathSystem, Station, System, Value, Velocity, solve_fault};
use crate::bank::names::{pipe_result, pipe_suffix};
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::network::{self, Network, SolveError};
use crate::quantity::{Dimension, Shown, Written};

/// A place where links begin and end.
#[derive(Debug, Clone, PartialEq)]
pub struct NodeSaid {
    /// Name; unique among nodes.
    pub name: String,
    /// What it is.
    pub what: NodeKind,
}

/// What is said of a node.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "a network has a handful of nodes, most of them junctions"
)]
pub enum NodeKind {
    /// `reservoir:`
    Reservoir {
        /// Elevation of its surface.
        level: Value,
        /// Pressure on its surface, where it is not that of the air outside.
        pressure: Option<Value>,
    },
    /// `junction:`
    Junction {
        /// Elevation, where it is said.
        elevation: Option<Value>,
        /// Flow taken out, where any is.
        demand: Option<Value>,
        /// Flow put in, where any is.
        supply: Option<Value>,
        /// Its head, in a network without reservoirs.
        head: Option<Value>,
    },
}

/// A run of pipes from one node to another.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkSaid {
    /// Name; unique among links.
    pub name: String,
    /// Index of the node where it begins.
    pub from: usize,
    /// Index of the node where it ends.
    pub to: usize,
    /// What lies on it; its flow counts positive in this order.
    pub path: Vec<Element>,
}

/// A network of pipes.
#[derive(Debug, Clone, PartialEq)]
pub struct NetworkSystem {
    /// What it stands in.
    pub surroundings: Surroundings,
    /// Where links meet.
    pub nodes: Vec<NodeSaid>,
    /// What joins them.
    pub links: Vec<LinkSaid>,
}

/// A result of a node or a link: `Q_feeder`, `H_fork`.
pub(crate) fn own_result(base: &str, name: &str) -> String {
    format!("{base}_{}", pipe_suffix(name))
}

/// Results that each pipe has: name, meaning, dimension.
pub(crate) const OF_PIPES: &[(&str, &str, Dimension)] = &[
    ("V", "mean velocity", Dimension::VELOCITY),
    ("Re", "Reynolds number", Dimension::NONE),
    ("f", "Darcy friction factor", Dimension::NONE),
    ("D", "inner diameter", Dimension::LENGTH),
    ("L", "length", Dimension::LENGTH),
    ("eps", "roughness", Dimension::LENGTH),
    ("A", "area of the cross-section", Dimension::AREA),
    ("rr", "relative roughness ε/D", Dimension::NONE),
    ("h_f", "head lost to friction", Dimension::LENGTH),
];

impl Kind for NetworkSystem {
    fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }

    fn surroundings_mut(&mut self) -> &mut Surroundings {
        &mut self.surroundings
    }

    fn values(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        for node in &mut self.nodes {
            let of = Of::Element(&node.name);
            match &mut node.what {
                NodeKind::Reservoir { level, pressure } => {
                    f(Slot::Level, of, level);
                    if let Some(pressure) = pressure {
                        f(Slot::Pressure, of, pressure);
                    }
                }
                NodeKind::Junction {
                    elevation,
                    demand,
                    supply,
                    head,
                } => {
                    for (slot, value) in [
                        (Slot::Elevation, elevation),
                        (Slot::Demand, demand),
                        (Slot::Supply, supply),
                        (Slot::TotalHead, head),
                    ] {
                        if let Some(value) = value {
                            f(slot, of, value);
                        }
                    }
                }
            }
        }
        for link in 0..self.links.len() {
            // A path knows how to go through its own values.
            let mapped = self.path(link).map(&mut |slot, of, value| {
                let mut value = value.clone();
                if let Of::Element(_) = of {
                    f(slot, of, &mut value);
                }
                value
            });
            self.links[link].path = mapped.path;
        }
    }

    fn pipe_names(&self) -> Vec<&str> {
        self.links.iter().flat_map(|link| pipes_of(&link.path)).collect()
    }

    fn results(&self) -> Vec<ResultName> {
        let mut all = Vec::new();
        let mut add = |base: &str, name: &str, meaning: String, dimension| {
            all.push(ResultName::plain(own_result(base, name), meaning, dimension));
        };
        for LinkSaid { name, path, .. } in &self.links {
            add(
                "Q",
                name,
                format!("flow of `{name}` from its first node to its second"),
                Dimension::FLOW,
            );
            add(
                "h_L",
                name,
                format!("all head lost in `{name}`"),
                Dimension::LENGTH,
            );
            for element in path {
                match element {
                    Element::Pump { name, .. } => {
                        add("h_P", name, format!("head of `{name}`"), Dimension::LENGTH);
                        add("P_P", name, format!("shaft power of `{name}`"), Dimension::POWER);
                    }
                    Element::Turbine { name, .. } => {
                        add("h_T", name, format!("head of `{name}`"), Dimension::LENGTH);
                        add("P_T", name, format!("shaft power of `{name}`"), Dimension::POWER);
                    }
                    _ => {}
                }
            }
        }
        for NodeSaid { name, what } in &self.nodes {
            if self.heads_are_known() {
                add("H", name, format!("head at `{name}`"), Dimension::LENGTH);
            }
            match what {
                NodeKind::Reservoir { .. } => {
                    add("Q_from", name, format!("flow out of `{name}`"), Dimension::FLOW);
                    add("z", name, format!("level of `{name}`"), Dimension::LENGTH);
                }
                NodeKind::Junction {
                    elevation,
                    demand,
                    supply,
                    ..
                } => {
                    if elevation.is_some() {
                        add("z", name, format!("elevation of `{name}`"), Dimension::LENGTH);
                        if self.heads_are_known() {
                            add(
                                "p",
                                name,
                                format!("gauge pressure at `{name}`"),
                                Dimension::PRESSURE,
                            );
                        }
                    }
                    if demand.is_some() {
                        add("q", name, format!("flow taken out at `{name}`"), Dimension::FLOW);
                    }
                    if supply.is_some() {
                        add("s", name, format!("flow put in at `{name}`"), Dimension::FLOW);
                    }
                }
            }
        }
        let pipes = self.pipe_names();
        for (base, meaning, dimension) in OF_PIPES {
            all.extend(ResultName::of_pipes(base, meaning, *dimension, &pipes));
        }
        all
    }

    fn stated(&self, result: &str) -> Option<&Value> {
        for NodeSaid { name, what } in &self.nodes {
            let is = |base: &str| own_result(base, name) == result;
            match what {
                NodeKind::Reservoir { level, .. } if is("z") => return Some(level),
                NodeKind::Reservoir {
                    level,
                    pressure: None,
                } if is("H") => return Some(level),
                NodeKind::Junction { elevation, .. } if is("z") => return elevation.as_ref(),
                NodeKind::Junction { demand, .. } if is("q") => return demand.as_ref(),
                NodeKind::Junction { supply, .. } if is("s") => return supply.as_ref(),
                _ => {}
            }
        }
        let count = self.pipe_names().len();
        for element in self.links.iter().flat_map(|link| &link.path) {
            match element {
                Element::Pipe {
                    name,
                    bore,
                    length,
                    roughness,
                } => {
                    let is = |base: &str| pipe_result(base, name, count) == result;
                    match bore {
                        Bore::Round(diameter) if is("D") => return Some(diameter),
                        _ if is("L") => return Some(length),
                        _ if is("eps") => return Some(roughness),
                        _ => {}
                    }
                }
                Element::Pump { name, duty, .. } | Element::Turbine { name, duty, .. } => {
                    let is_pump = matches!(element, Element::Pump { .. });
                    let (head, power) = if is_pump { ("h_P", "P_P") } else { ("h_T", "P_T") };
                    match duty {
                        Duty::Head(value) if own_result(head, name) == result => return Some(value),
                        Duty::Power(value) if own_result(power, name) == result => return Some(value),
                        _ => {}
                    }
                }
                Element::Loss { .. } => {}
            }
        }
        None
    }

    fn sought(&self) -> Option<String> {
        Some("all flows and heads".to_owned())
    }

    fn check_together(&self, faults: &mut Vec<Fault>) {
        for NodeSaid { name, what } in &self.nodes {
            if let NodeKind::Reservoir {
                pressure: Some(Value::Known(pressure)),
                ..
            } = what
                && let Value::Known(atmosphere) = &self.surroundings.atmosphere
            {
                faults.extend(below_vacuum(Of::Element(name), pressure, atmosphere));
            }
        }
    }
}

/// The names of the pipes on a path.
fn pipes_of(path: &[Element]) -> impl Iterator<Item = &str> {
    path.iter().filter_map(|element| match element {
        Element::Pipe { name, .. } => Some(name.as_str()),
        _ => None,
    })
}

impl NetworkSystem {
    /// Whether heads can be known, not their differences alone.
    pub(crate) fn heads_are_known(&self) -> bool {
        self.nodes.iter().any(|node| {
            matches!(
                node.what,
                NodeKind::Reservoir { .. } | NodeKind::Junction { head: Some(_), .. }
            )
        })
    }

    /// A link as a path of its own, between two surfaces at its nodes.
    pub(crate) fn path(&self, link: usize) -> PathSystem {
        let LinkSaid { from, to, path, .. } = &self.links[link];
        let nought = |unit: &str| {
            Value::Known(Written::parse(&format!("0 {unit}")).expect("a nought with a unit is a quantity"))
        };
        let station = |node: usize| Station {
            name: Some(self.nodes[node].name.clone()),
            pressure: nought("kPa"),
            elevation: nought("m"),
            velocity: Velocity::Value(nought("m/s")),
            alpha: None,
        };
        PathSystem {
            fluid: self.surroundings.fluid.clone(),
            gravity: self.surroundings.gravity.clone(),
            atmosphere: self.surroundings.atmosphere.clone(),
            flow: Value::Unknown,
            start: station(*from),
            end: station(*to),
            path: path.clone(),
            points: Vec::new(),
            sizes: None,
        }
    }

    /// The network in SI numbers, its fluid's properties rounded to `figures` figures.
    ///
    /// # Errors
    /// Everything that keeps it from being solved.
    pub fn network(&self, figures: Option<u32>) -> Checked<Network> {
        let mut faults = System::Network(Box::new(self.clone())).faults_before_solving(0..=0);
        let mut links = Vec::with_capacity(self.links.len());
        if faults.is_empty() {
            for (i, link) in self.links.iter().enumerate() {
                match self.path(i).problem(figures) {
                    Ok(problem) => links.push(network::Link {
                        from: link.from,
                        to: link.to,
                        elements: problem.path.elements,
                    }),
                    Err(Faults(found)) => faults.extend(found),
                }
            }
        }
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        let fluid = self.surroundings.fluid_values(figures)?;
        let atmosphere = number(&self.surroundings.atmosphere);
        let or_nought = |value: &Option<Value>| value.as_ref().map_or(0.0, number);
        let nodes = self.nodes.iter().map(|node| match &node.what {
            NodeKind::Reservoir { level, pressure } => network::Node::Reservoir {
                level: number(level),
                pressure: pressure.as_ref().map_or(0.0, |p| gauge(p, atmosphere)),
            },
            NodeKind::Junction {
                elevation,
                demand,
                supply,
                head,
            } => network::Node::Junction {
                elevation: elevation.as_ref().map(number),
                demand: or_nought(demand) - or_nought(supply),
                head: head.as_ref().map(number),
            },
        });
        Ok(Network {
            density: fluid.density.quantity().value,
            dynamic_viscosity: fluid.dynamic_viscosity.quantity().value,
            vapour_pressure: fluid.vapour_pressure.map(|p| p.quantity().value),
            atmosphere,
            gravity: number(&self.surroundings.gravity),
            nodes: nodes.collect(),
            links,
        })
    }

    /// Why there is no answer, for the person who wrote the system.
    pub fn fault(&self, error: &SolveError) -> Fault {
        let short = |value: f64| Shown::new(value, 3).ascii();
        let litres = |flow: f64| format!("{} L/s", short(1000.0 * flow));
        let node = |node: usize| self.nodes.get(node).map_or("", |n| n.name.as_str());
        let link = |link: usize| self.links.get(link).map_or("", |l| l.name.as_str());
        match error {
            SolveError::NoLinks => {
                Fault::new("the network has no links").mend("add a link between two nodes")
            }
            SolveError::NoWay { link: at } => Fault::new(format!(
                "the link `{}` begins and ends at the same node",
                link(*at)
            ))
            .mend("let it end at another node"),
            SolveError::Apart { nodes } => {
                let names: Vec<String> = nodes.iter().map(|&n| format!("`{}`", node(n))).collect();
                let (one, is) = if names.len() == 1 {
                    ("node", "is")
                } else {
                    ("nodes", "are")
                };
                Fault::new(format!(
                    "the {one} {} {is} joined to no fixed head",
                    names.join(", ")
                ))
                .mend("add links that join every node to a reservoir, or all nodes to one another")
            }
            SolveError::Unbalanced { short_by } => Fault::new(if *short_by > 0.0 {
                format!(
                    "{} more is taken out of the network than is put in",
                    litres(*short_by)
                )
            } else {
                format!(
                    "{} more is put into the network than is taken out",
                    litres(-short_by)
                )
            })
            .mend("let demands and supplies balance, or add a reservoir that makes up the difference"),
            SolveError::HeadTwice { node: at } => Fault::new(format!(
                "the head at `{}` is given, though another head is fixed already",
                node(*at)
            ))
            .mend("take it out: with one fixed head all others follow; or make the node a reservoir"),
            SolveError::NoResistance { link: at } => Fault::new(format!(
                "the link `{}` takes no head at any flow, so that its flow can't be told",
                link(*at)
            ))
            .mend("give its pipe a length, or add a loss"),
            SolveError::TurbineByPower { link: at } => Fault::new(format!(
                "the turbine on `{}` is given by its power, which several flows could make",
                link(*at)
            ))
            .mend("in a network, give the head that a turbine takes: `head: 15 m`"),
            SolveError::Backwards { link: at, flow } => Fault::new(format!(
                "the flow would run backwards through the machine on `{}` ({} against its direction)",
                link(*at),
                litres(-flow)
            ))
            .mend("give the pump more head, turn the link round, or take the machine out"),
            SolveError::DemandNotMet { node: at, pressure } => Fault::new(format!(
                "`{}` can't be given what is taken out there: its absolute pressure would have to be {} kPa",
                node(*at),
                short(pressure / 1000.0)
            ))
            .mend("take out less, raise a reservoir, add a pump, or widen the pipes on the way"),
            SolveError::OnlyAtJump {
                link: at,
                pipe,
                reynolds,
            } => {
                let pipe = self
                    .links
                    .get(*at)
                    .and_then(|l| pipes_of(&l.path).nth(*pipe))
                    .unwrap_or_default();
                Fault::new(format!(
                    "the equations balance only where the friction factor jumps between laminar and turbulent flow (pipe \
                     `{pipe}`, Re = {}), so the flows have no certain values",
                    short(*reynolds)
                ))
                .mend("change a value, so that the flow is clearly laminar or clearly turbulent")
            }
            SolveError::NotSettled { link: at, left_over } => Fault::new(format!(
                "no flows were found that satisfy every equation: on `{}` {} m of head are left over",
                link(*at),
                short(*left_over)
            ))
            .mend("check the values of the network, and their units"),
            SolveError::OfLink { link: at, why } => {
                let fault = solve_fault(why, &self.path(*at));
                Fault {
                    what: format!("link `{}`: {}", link(*at), fault.what),
                    ..fault
                }
            }
            SolveError::Impossible {
                what,
                value,
                node: at,
            } => {
                let of = at.map_or_else(String::new, |at| format!(" (`{}`)", node(at)));
                Fault::new(format!("{what}{of} can't be {}", short(*value)))
                    .mend("check the value and its unit")
            }
        }
    }
}
