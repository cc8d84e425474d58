//! Networks: reservoirs and junctions, joined by links, each of which holds a path.
//!
//! One solver for all of them, from two parallel pipes to thousands: Newton's method on flows and heads together.
//! At each step the law of every link is replaced by its tangent; the flows then follow from heads at the
//! junctions, which solve a sparse symmetric system. Where every link takes more head at more flow, as pipes,
//! losses and falling pump curves do, the solution is the lowest point of a convex function (the content of
//! the network), and a search along each step, on the slope of that function, makes the method arrive from anywhere.
//!
//! Flows are kept in balance at every node to rounding, on a spanning tree of the links that resist
//! least: those of the tree follow from continuity, the others from the step. Heads follow along the same tree, in
//! two floating-point numbers each, so that what is left over round every loop is known to the last digits.
//! The idea of Newton on flows and heads together is Todini and Pilati's (1988, in Computer Applications in
//! Water Supply, vol. 1, 1–20, from memory); tree, search and the treatment of jumps are our own.
//!
//! Velocity heads at nodes are neglected, as is usual: what is lost at an entrance, a tee or an exit is a loss on
//! a link.

use super::friction::{Law as FrictionLaw, Reading};
use super::path::{Balance, Duty, Element, Path, State, Station, StationVelocity, area, check, evaluate};
use super::regime::Limits;
use super::solve;
use super::sparse::Plan;
use super::warn::warn;

/// A node of a network.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Node {
    /// A surface whose level stays where it is, whatever flows in or out.
    Reservoir {
        /// Elevation of the surface \[m\].
        level: f64,
        /// Gauge pressure on it \[Pa\].
        pressure: f64,
    },
    /// A place where links meet.
    Junction {
        /// Elevation \[m\], where it is known: its pressure is known then too.
        elevation: Option<f64>,
        /// Flow taken out here \[m³/s\]; below 0 where it is put in.
        demand: f64,
        /// Its head \[m\], for one junction of a network without reservoirs: flows and differences of head
        /// don't depend on it.
        head: Option<f64>,
    },
}

/// A link between two nodes. Its flow counts positive from `from` to `to`.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Index of the node where it begins.
    pub from: usize,
    /// Index of the node where it ends.
    pub to: usize,
    /// What lies on the way. Losses count alike in both directions; pumps push towards `to`.
    pub elements: Vec<Element>,
}

/// A network of one fluid.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
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
    /// Nodes.
    pub nodes: Vec<Node>,
    /// Links.
    pub links: Vec<Link>,
}

/// Something about an answer that a person should know.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// Something about a link; pipes count within it.
    Link {
        /// Link.
        link: usize,
        /// What.
        what: solve::Warning,
    },
    /// A junction's pressure lies below that of the air outside.
    Suction {
        /// Node.
        node: usize,
        /// Gauge pressure \[Pa\].
        pressure: f64,
    },
    /// The head curve of a pump rises over some of its flows, so that another answer may exist.
    RisingCurve {
        /// Link.
        link: usize,
    },
    /// A junction's pressure lies below vapour pressure (or below 0, where none is known).
    Cavitation {
        /// Node.
        node: usize,
        /// Absolute pressure \[Pa\].
        pressure: f64,
    },
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// Flow of each link \[m³/s\], positive from `from` to `to`.
    pub flows: Vec<f64>,
    /// Head of each node \[m\]: pressure head and elevation.
    pub heads: Vec<f64>,
    /// Whether heads are heads: without a reservoir, and with no junction's head given, they count from the
    /// first node's, which is put at 0.
    pub heads_are_known: bool,
    /// What each node gives to the network \[m³/s\]: a reservoir what flows out of it, a junction the reverse of
    /// its demand.
    pub given: Vec<f64>,
    /// Gauge pressure of each node \[Pa\], where heads and its elevation are known.
    pub pressures: Vec<Option<f64>>,
    /// Each link as a path from the end where its flow enters; what lies on it stays in the link's own order.
    pub states: Vec<State>,
    /// How many steps it took.
    pub steps: usize,
    /// The largest head left over in a link when the heads of its ends are put in \[m\].
    pub residual: f64,
    /// What a person should know.
    pub warnings: Vec<Warning>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum SolveError {
    /// There are no links.
    NoLinks,
    /// A link begins and ends at the same node, or at a node that does not exist.
    NoWay {
        /// Link.
        link: usize,
    },
    /// Nodes that no link joins to a fixed head, or to the rest of a network without one.
    Apart {
        /// Nodes.
        nodes: Vec<usize>,
    },
    /// No head is fixed, and what is put in is not what is taken out.
    Unbalanced {
        /// All demands less all supplies \[m³/s\].
        short_by: f64,
    },
    /// A junction's head is given although another fixes it: a reservoir, or another junction's head.
    HeadTwice {
        /// Node.
        node: usize,
    },
    /// A link takes no head at any flow: no friction, no losses.
    NoResistance {
        /// Link.
        link: usize,
    },
    /// A turbine known by its power: its head grows without end as the flow falls, so that a network may have
    /// several answers.
    TurbineByPower {
        /// Link.
        link: usize,
    },
    /// A pump or turbine would have to let the flow run through it backwards.
    Backwards {
        /// Link.
        link: usize,
        /// Flow \[m³/s\], below 0.
        flow: f64,
    },
    /// A junction can't get what is taken out there: the pressure would fall below vapour pressure (below 0,
    /// where none is known).
    DemandNotMet {
        /// Node.
        node: usize,
        /// Absolute pressure that it would take \[Pa\].
        pressure: f64,
    },
    /// The equations are met only at the jump of the friction factor between laminar and turbulent flow.
    OnlyAtJump {
        /// Link.
        link: usize,
        /// Pipe within the link.
        pipe: usize,
        /// Reynolds number of the jump.
        reynolds: f64,
    },
    /// The steps did not settle on an answer.
    NotSettled {
        /// The link with most head left over.
        link: usize,
        /// That head \[m\].
        left_over: f64,
    },
    /// A link's path can't be what it is, or not at the flow that it would have.
    OfLink {
        /// Link.
        link: usize,
        /// What is wrong with the path.
        why: solve::SolveError,
    },
    /// A value that can't be.
    Impossible {
        /// What.
        what: &'static str,
        /// Its value.
        value: f64,
        /// The node it belongs to.
        node: Option<usize>,
    },
}

impl Network {
    /// A link as a path from one node to the other, between the given heads. Where `flow` is below 0, the path
    /// begins at `to`; its elements stay in the link's order, since losses count alike in both directions. A
    /// node's elevation counts where it is known; else all its head stands as elevation.
    pub fn path(&self, link: usize, heads: &[f64], flow: f64) -> Path {
        let weight = self.density * self.gravity;
        let station = |node: usize| {
            let (pressure, elevation) = match self.nodes[node] {
                Node::Reservoir { level, pressure } => (pressure, level),
                Node::Junction {
                    elevation: Some(elevation),
                    ..
                } => (weight * (heads[node] - elevation), elevation),
                Node::Junction { .. } => (0.0, heads[node]),
            };
            Station {
                pressure,
                elevation,
                velocity: StationVelocity::Value(0.0),
                alpha: None,
            }
        };
        let Link { from, to, elements } = &self.links[link];
        let (start, end) = if flow < 0.0 { (*to, *from) } else { (*from, *to) };
        Path {
            density: self.density,
            dynamic_viscosity: self.dynamic_viscosity,
            vapour_pressure: self.vapour_pressure,
            atmosphere: self.atmosphere,
            gravity: self.gravity,
            start: station(start),
            end: station(end),
            elements: elements.clone(),
            points: Vec::new(),
        }
    }

    /// The one junction, where every link leads there from a reservoir and at least two of these are joined: its
    /// head tells all flows.
    pub fn hub(&self) -> Option<usize> {
        let is_junction = |node: &usize| matches!(self.nodes[*node], Node::Junction { .. });
        let mut junctions = (0..self.nodes.len()).filter(is_junction);
        let (Some(hub), None) = (junctions.next(), junctions.next()) else {
            return None;
        };
        let reservoirs = self.nodes.len() - 1;
        let takes = match self.nodes[hub] {
            Node::Junction { demand, .. } => demand != 0.0,
            Node::Reservoir { .. } => false,
        };
        let joined = self.links.len() == reservoirs && self.links.len() + usize::from(takes) >= 3;
        (reservoirs >= 2 && joined).then_some(hub)
    }

    /// How many pipes a link has.
    pub fn pipes(&self, link: usize) -> usize {
        let elements = &self.links[link].elements;
        elements.iter().filter(|e| matches!(e, Element::Pipe(_))).count()
    }
}

/// The jump of the friction factor is climbed on a ramp over this share of its flow. An answer on a ramp is none.
const RAMP: f64 = 1e-7;
/// Steps of the flows below this share of the largest flow end the search.
const SETTLED: f64 = 1e-12;
/// Heads left over below this share of the largest head in play are rounding.
const ROUNDING: f64 = 1e-13;
/// A head left over beyond this share of the largest head in play is a fault.
const RESIDUAL_SHARE: f64 = 1e-10;
/// Steps after which a search that has not settled is given up.
const MOST_STEPS: usize = 200;
/// Below this share of the flow at 1 m/s the slope of a link's law is held, so that a link at rest does not
/// conduct without end. It moves steps, never the answer.
const REST: f64 = 1e-9;
/// A pump of given power is taken to give no more head than this \[m\] on the way to the answer.
const MOST_HEAD: f64 = 1e6;

/// What a link takes, as a function of its flow.
struct LinkLaw {
    balance: Balance,
    /// The flow at which each pipe turns turbulent; 0 where its factor knows no jump.
    jumps: Vec<f64>,
    /// Flows over which the head climbs from one side of a jump to the other.
    ramps: Vec<(f64, f64)>,
    /// 1 m/s in the narrowest pipe.
    ordinary: f64,
    /// The least slope, and the flow below which machines go on straight.
    least_slope: f64,
    barrier: f64,
}

impl LinkLaw {
    fn new(path: &Path, readings: &[Reading], limits: &Limits) -> Self {
        let balance = Balance::new(path, readings);
        let jumps: Vec<f64> = balance
            .legs
            .iter()
            .map(|leg| match leg.reading.law {
                FrictionLaw::Fixed(_) => 0.0,
                _ if leg.friction_length() == 0.0 => 0.0,
                _ => leg.jump_flow(balance.kinematic_viscosity, limits),
            })
            .collect();
        let mut sorted = jumps.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        let mut ramps: Vec<(f64, f64)> = Vec::new();
        for jump in sorted.into_iter().filter(|&jump| jump > 0.0) {
            let begin = jump * (1.0 - RAMP);
            match ramps.last_mut() {
                Some(last) if last.1 >= begin => last.1 = jump,
                _ => ramps.push((begin, jump)),
            }
        }
        let ordinary = balance
            .legs
            .iter()
            .map(|leg| area(leg.diameter))
            .fold(f64::INFINITY, f64::min);
        let barrier = balance.power.abs() / MOST_HEAD;
        let mut law = Self {
            balance,
            jumps,
            ramps,
            ordinary,
            least_slope: 0.0,
            barrier,
        };
        law.least_slope = REST * law.taken(ordinary) / ordinary;
        law
    }

    fn taken_as_at(&self, flow: f64, piece: f64) -> f64 {
        self.balance.taken(flow, |pipe| self.jumps[pipe] > piece)
    }

    fn ramp(&self, flow: f64) -> Option<(f64, f64)> {
        self.ramps
            .iter()
            .copied()
            .find(|&(begin, end)| begin <= flow && flow < end)
    }

    /// Head taken by friction and losses at a flow from 0 up.
    fn taken(&self, flow: f64) -> f64 {
        match self.ramp(flow) {
            Some((begin, end)) => {
                let (low, high) = (self.taken_as_at(begin, begin), self.taken_as_at(end, end));
                low + (high - low) * ((flow - begin) / (end - begin))
            }
            None => self.taken_as_at(flow, flow),
        }
    }

    fn taken_slope(&self, flow: f64, taken: f64) -> f64 {
        if let Some((begin, end)) = self.ramp(flow) {
            return (self.taken_as_at(end, end) - self.taken_as_at(begin, begin)) / (end - begin);
        }
        let least = 1e-9 * self.ordinary;
        if flow < least {
            return self.taken_as_at(least, flow) / least;
        }
        let step = 1e-6 * flow;
        (self.taken_as_at(flow + step, flow) - taken) / step
    }

    /// Head that machines give, and its slope.
    fn given(&self, flow: f64) -> (f64, f64) {
        let fixed = self.balance.fixed_head;
        if self.balance.power == 0.0 && self.balance.curves.is_empty() {
            return (fixed, 0.0);
        }
        let at = flow.max(self.barrier);
        let step = 1e-6 * at.max(1e-9 * self.ordinary);
        let here = self.balance.machines(at);
        let slope = (self.balance.machines(at + step) - here) / step;
        (fixed + here + slope * (flow - at), slope)
    }

    /// Head that the link takes from `from` to `to`.
    fn drop(&self, flow: f64) -> f64 {
        let taken = self.taken(flow.abs());
        let taken = if flow < 0.0 { -taken } else { taken };
        taken - self.given(flow).0
    }

    /// The slope of [`Self::drop`], above 0.
    fn slope(&self, flow: f64) -> f64 {
        let taken = self.taken(flow.abs());
        let slope = self.taken_slope(flow.abs(), taken) - self.given(flow).1;
        // Written so that NaN too gives the least slope.
        if slope > self.least_slope {
            slope
        } else {
            self.least_slope
        }
    }
}

/// A head in two numbers, the second what the first has no digits for.
#[derive(Debug, Clone, Copy)]
struct Head(f64, f64);

impl Head {
    fn plus(self, step: f64) -> Self {
        let sum = self.0 + step;
        let back = sum - self.0;
        let lost = (self.0 - (sum - back)) + (step - back);
        let rest = self.1 + lost;
        let high = sum + rest;
        Self(high, rest - (high - sum))
    }

    fn less(self, other: Self) -> f64 {
        (self.0 - other.0) + (self.1 - other.1)
    }
}

/// A network made ready: which heads are fixed, which node hangs on which link.
struct Net<'a> {
    links: &'a [Link],
    laws: Vec<LinkLaw>,
    demands: Vec<f64>,
    fixed: Vec<Option<f64>>,
    /// Links at each node.
    at: Vec<Vec<usize>>,
    /// Index of each node among those whose head is sought.
    sought: Vec<Option<usize>>,
    plan: Plan,
    /// The links between two sought nodes, in the order of the plan's edges.
    edges: Vec<usize>,
}

/// Links that span all nodes from the fixed heads outwards.
struct Tree {
    /// Nodes but the fixed ones, nearest first, each with the node and the link that it hangs on.
    order: Vec<(usize, usize, usize)>,
    is_in: Vec<bool>,
}

impl Net<'_> {
    /// The tree of the links that resist least.
    fn tree(&self, slopes: &[f64]) -> Tree {
        let mut by_slope: Vec<usize> = (0..self.links.len()).collect();
        by_slope.sort_by(|&a, &b| slopes[a].total_cmp(&slopes[b]).then(a.cmp(&b)));
        let mut groups = Groups::new(self.fixed.len());
        let mut roots = (0..self.fixed.len()).filter(|&node| self.fixed[node].is_some());
        let first = roots.next();
        let mut order: Vec<(usize, usize, usize)> = Vec::new();
        let mut reached = vec![false; self.fixed.len()];
        let mut front = std::collections::VecDeque::new();
        if let Some(first) = first {
            front.push_back(first);
            reached[first] = true;
            for root in roots {
                groups.join(first, root);
                front.push_back(root);
                reached[root] = true;
            }
        }
        let mut is_in = vec![false; self.links.len()];
        for link in by_slope {
            is_in[link] = groups.join(self.links[link].from, self.links[link].to);
        }
        while let Some(node) = front.pop_front() {
            for &link in &self.at[node] {
                let other = self.links[link].from + self.links[link].to - node;
                if is_in[link] && !reached[other] {
                    reached[other] = true;
                    order.push((other, node, link));
                    front.push_back(other);
                }
            }
        }
        Tree { order, is_in }
    }

    /// Makes the flows of the tree follow from the others, so that each node takes `demand` out.
    fn balance(&self, tree: &Tree, demand: impl Fn(usize) -> f64, flows: &mut [f64]) {
        for &(node, _, hung_on) in tree.order.iter().rev() {
            let mut into = demand(node);
            for &link in &self.at[node] {
                if link != hung_on {
                    into += if self.links[link].from == node {
                        flows[link]
                    } else {
                        -flows[link]
                    };
                }
            }
            flows[hung_on] = if self.links[hung_on].to == node {
                into
            } else {
                -into
            };
        }
    }

    /// Heads along the tree, and what is left over in each link: nothing in those of the tree.
    fn heads(&self, tree: &Tree, drops: &[f64]) -> (Vec<Head>, Vec<f64>) {
        let mut heads: Vec<Head> = self
            .fixed
            .iter()
            .map(|fixed| Head(fixed.unwrap_or_default(), 0.0))
            .collect();
        for &(node, parent, link) in &tree.order {
            let drop = drops[link];
            heads[node] = heads[parent].plus(if self.links[link].to == node { -drop } else { drop });
        }
        let left_over = self
            .links
            .iter()
            .enumerate()
            .map(|(i, link)| {
                if tree.is_in[i] {
                    0.0
                } else {
                    heads[link.from].less(heads[link.to]) - drops[i]
                }
            })
            .collect();
        (heads, left_over)
    }

    /// The step of the flows that makes up for what is left over, were every law straight.
    fn step(&self, slopes: &[f64], left_over: &[f64]) -> Vec<f64> {
        let count = self.sought.iter().flatten().count();
        let mut to_fixed = vec![0.0; count];
        let mut put_in = vec![0.0; count];
        for (i, link) in self.links.iter().enumerate() {
            let flow = left_over[i] / slopes[i];
            match (self.sought[link.from], self.sought[link.to]) {
                (Some(from), Some(to)) => {
                    put_in[from] -= flow;
                    put_in[to] += flow;
                }
                (Some(from), None) => {
                    put_in[from] -= flow;
                    to_fixed[from] += 1.0 / slopes[i];
                }
                (None, Some(to)) => {
                    put_in[to] += flow;
                    to_fixed[to] += 1.0 / slopes[i];
                }
                (None, None) => {}
            }
        }
        let conductances: Vec<f64> = self.edges.iter().map(|&link| 1.0 / slopes[link]).collect();
        let factor = self.plan.factor(&conductances, &to_fixed);
        let moved = self.plan.heads(&factor, &put_in);
        let of = |node: usize| self.sought[node].map_or(0.0, |i| moved[i]);
        self.links
            .iter()
            .enumerate()
            .map(|(i, link)| (left_over[i] + of(link.from) - of(link.to)) / slopes[i])
            .collect()
    }

    /// How far to go along a step: to where the content of the network stops to fall, or all the way.
    fn stride(&self, flows: &[f64], drops: &[f64], left_over: &[f64], step: &[f64]) -> f64 {
        let content_slope = |stride: f64| -> f64 {
            (0..flows.len())
                .filter(|&i| step[i] != 0.0)
                .map(|i| (self.laws[i].drop(flows[i] + stride * step[i]) - drops[i] - left_over[i]) * step[i])
                .sum()
        };
        let start: f64 = -(0..flows.len()).map(|i| left_over[i] * step[i]).sum::<f64>();
        let far = -start;
        if start >= 0.0 {
            return 1.0;
        }
        let (mut low, mut high) = ((0.0, start), (1.0, content_slope(1.0)));
        while high.1 < -0.5 * far && high.0 < 1e3 {
            low = high;
            high = (2.0 * high.0, content_slope(2.0 * high.0));
        }
        if high.1 <= 0.25 * far {
            return high.0;
        }
        // A crossing lies between; false position that halves the end that stays.
        let mut kept = 0;
        for _ in 0..60 {
            let share = -low.1 / (high.1 - low.1);
            let stride = low.0 + share.clamp(1e-3, 1.0 - 1e-3) * (high.0 - low.0);
            let slope = content_slope(stride);
            if slope.abs() <= 0.1 * far || stride <= low.0 || stride >= high.0 {
                return stride;
            }
            if slope < 0.0 {
                low = (stride, slope);
                if kept == 1 {
                    high.1 *= 0.5;
                }
                kept = 1;
            } else {
                high = (stride, slope);
                if kept == 2 {
                    low.1 *= 0.5;
                }
                kept = 2;
            }
        }
        if low.0 > 0.0 { low.0 } else { high.0 }
    }
}

/// Which nodes are joined.
struct Groups(Vec<usize>);

impl Groups {
    fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    fn of(&mut self, node: usize) -> usize {
        let mut root = node;
        while self.0[root] != root {
            self.0[root] = self.0[self.0[root]];
            root = self.0[root];
        }
        root
    }

    /// Joins two groups; false where they are one already.
    fn join(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.of(a), self.of(b));
        // The lower index stays, so that the outcome does not depend on the order.
        self.0[a.max(b)] = a.min(b);
        a != b
    }
}

fn largest(values: impl IntoIterator<Item = f64>) -> f64 {
    values.into_iter().fold(0.0, |most, value| most.max(value.abs()))
}

/// All flows and heads of a network, with one reading for each pipe: link by link, and in each in the order of
/// its pipes.
///
/// Before it is given, the answer is put back: the balance at every node, and the energy equation of every link
/// as the path that it is.
///
/// # Errors
/// [`SolveError`], never a wrong number.
pub fn solve(network: &Network, readings: &[Reading], limits: &Limits) -> Result<Solved, SolveError> {
    solve_from(network, readings, limits, None)
}

/// As [`solve()`], with the search begun at flows that may be near the answer \[m³/s\], one for each link: those of the
/// same network with other readings, say. Where it does not settle from there it is begun anew.
///
/// # Errors
/// As [`solve()`].
pub fn solve_near(
    network: &Network,
    readings: &[Reading],
    limits: &Limits,
    near: &[f64],
) -> Result<Solved, SolveError> {
    if near.len() != network.links.len() || near.iter().any(|flow| !flow.is_finite()) {
        return solve(network, readings, limits);
    }
    solve_from(network, readings, limits, Some(near)).or_else(|_| solve(network, readings, limits))
}

fn solve_from(
    network: &Network,
    readings: &[Reading],
    limits: &Limits,
    near: Option<&[f64]>,
) -> Result<Solved, SolveError> {
    let fixed = fixed_heads(network)?;
    let laws = laws(network, readings, limits)?;
    let net = ready(network, &fixed, laws);
    let found = search(&net, near)?;
    finish(network, &net, &fixed, found, readings, limits)
}

/// The head of each node whose head is fixed; whether heads are known, or only their differences.
struct Fixed {
    heads: Vec<Option<f64>>,
    are_known: bool,
}

fn fixed_heads(network: &Network) -> Result<Fixed, SolveError> {
    if network.links.is_empty() {
        return Err(SolveError::NoLinks);
    }
    for (what, value) in [
        ("density", network.density),
        ("dynamic viscosity", network.dynamic_viscosity),
        ("gravity", network.gravity),
    ] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(impossible(what, value, None));
        }
    }
    let count = network.nodes.len();
    let mut groups = Groups::new(count);
    for (i, link) in network.links.iter().enumerate() {
        if link.from == link.to || link.from >= count || link.to >= count {
            return Err(SolveError::NoWay { link: i });
        }
        groups.join(link.from, link.to);
    }

    let weight = network.density * network.gravity;
    let mut heads: Vec<Option<f64>> = Vec::with_capacity(count);
    for (node, what) in network.nodes.iter().enumerate() {
        heads.push(match *what {
            Node::Reservoir { level, pressure } => {
                finite("level of a reservoir", level, node)?;
                finite("pressure on a reservoir", pressure, node)?;
                Some(level + pressure / weight)
            }
            Node::Junction {
                elevation,
                demand,
                head,
            } => {
                finite("elevation of a junction", elevation.unwrap_or_default(), node)?;
                finite("demand at a junction", demand, node)?;
                finite("head of a junction", head.unwrap_or_default(), node)?;
                None
            }
        });
    }
    let given = |node: usize| match network.nodes[node] {
        Node::Junction { head, .. } => head,
        Node::Reservoir { .. } => None,
    };
    let mut are_known = true;
    if heads.iter().flatten().next().is_some() {
        if let Some(node) = (0..count).find(|&node| given(node).is_some()) {
            return Err(SolveError::HeadTwice { node });
        }
        let joined: std::collections::BTreeSet<usize> = (0..count)
            .filter(|&node| heads[node].is_some())
            .map(|node| groups.of(node))
            .collect();
        let mut linked = vec![false; count];
        for link in &network.links {
            linked[link.from] = true;
            linked[link.to] = true;
        }
        let nodes: Vec<usize> = (0..count)
            .filter(|&node| !joined.contains(&groups.of(node)) || !linked[node])
            .collect();
        if !nodes.is_empty() {
            return Err(SolveError::Apart { nodes });
        }
    } else {
        let nodes: Vec<usize> = (0..count).filter(|&node| groups.of(node) != 0).collect();
        if !nodes.is_empty() {
            return Err(SolveError::Apart { nodes });
        }
        let demands = network.nodes.iter().map(|node| match node {
            Node::Junction { demand, .. } => *demand,
            Node::Reservoir { .. } => 0.0,
        });
        let short_by: f64 = demands.clone().sum();
        if short_by.abs() > 1e-12 * demands.map(f64::abs).sum::<f64>() {
            return Err(SolveError::Unbalanced { short_by });
        }
        let mut with_head = (0..count).filter(|&node| given(node).is_some());
        let reference = with_head.next();
        if let Some(node) = with_head.next() {
            return Err(SolveError::HeadTwice { node });
        }
        are_known = reference.is_some();
        let reference = reference.unwrap_or(0);
        heads[reference] = Some(given(reference).unwrap_or_default());
    }
    level_out(network, &mut heads);
    Ok(Fixed { heads, are_known })
}

/// Reservoirs whose heads differ by rounding alone stand level.
fn level_out(network: &Network, heads: &mut [Option<f64>]) {
    let weight = network.density * network.gravity;
    let mut reservoirs: Vec<(f64, f64, usize)> = network
        .nodes
        .iter()
        .enumerate()
        .filter_map(|(i, node)| match node {
            Node::Reservoir { level, pressure } => {
                heads[i].map(|head| (head, level.abs().max((pressure / weight).abs()), i))
            }
            Node::Junction { .. } => None,
        })
        .collect();
    reservoirs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
    let mut level = f64::NEG_INFINITY;
    for (head, largest, node) in reservoirs {
        if head - level > 1e-14 * largest {
            level = head;
        }
        heads[node] = Some(level);
    }
}

fn impossible(what: &'static str, value: f64, node: Option<usize>) -> SolveError {
    SolveError::Impossible { what, value, node }
}

fn finite(what: &'static str, value: f64, node: usize) -> Result<(), SolveError> {
    if value.is_finite() {
        Ok(())
    } else {
        Err(impossible(what, value, Some(node)))
    }
}

/// The readings of one link.
fn readings_of<'a>(
    network: &Network,
    readings: &'a [Reading],
    link: usize,
    from: &mut usize,
) -> &'a [Reading] {
    let begin = *from;
    *from += network.pipes(link);
    readings.get(begin..*from).unwrap_or_default()
}

fn laws(network: &Network, readings: &[Reading], limits: &Limits) -> Result<Vec<LinkLaw>, SolveError> {
    let level = vec![0.0; network.nodes.len()];
    let mut laws = Vec::with_capacity(network.links.len());
    let mut seen = 0;
    for link in 0..network.links.len() {
        let own = readings_of(network, readings, link, &mut seen);
        let mut path = network.path(link, &level, 0.0);
        for station in [&mut path.start, &mut path.end] {
            station.pressure = 0.0;
            station.elevation = 0.0;
        }
        check(&path, own, limits).map_err(|why| SolveError::OfLink { link, why })?;
        let by_power = path.elements.iter().any(|element| match element {
            Element::Turbine(machine) => matches!(machine.duty, Duty::Power(power) if power > 0.0),
            _ => false,
        });
        if by_power {
            return Err(SolveError::TurbineByPower { link });
        }
        let law = LinkLaw::new(&path, own, limits);
        if law.least_slope <= 0.0 {
            return Err(SolveError::NoResistance { link });
        }
        if !law.least_slope.is_finite() {
            let what = "head lost at a velocity of 1 m/s";
            let value = law.taken(law.ordinary);
            let why = solve::SolveError::Impossible { what, value };
            return Err(SolveError::OfLink { link, why });
        }
        laws.push(law);
    }
    if readings.len() == seen {
        Ok(laws)
    } else {
        Err(impossible(
            "number of readings, one for each pipe",
            readings.len() as f64,
            None,
        ))
    }
}

fn ready<'a>(network: &'a Network, fixed: &Fixed, laws: Vec<LinkLaw>) -> Net<'a> {
    let mut at = vec![Vec::new(); network.nodes.len()];
    for (i, link) in network.links.iter().enumerate() {
        at[link.from].push(i);
        at[link.to].push(i);
    }
    let mut count = 0;
    let sought: Vec<Option<usize>> = fixed
        .heads
        .iter()
        .map(|head| {
            head.is_none().then(|| {
                count += 1;
                count - 1
            })
        })
        .collect();
    let mut edges = Vec::new();
    let mut pairs = Vec::new();
    for (i, link) in network.links.iter().enumerate() {
        if let (Some(from), Some(to)) = (sought[link.from], sought[link.to]) {
            edges.push(i);
            pairs.push((from, to));
        }
    }
    Net {
        links: &network.links,
        laws,
        demands: network
            .nodes
            .iter()
            .map(|node| match node {
                Node::Junction { demand, .. } => *demand,
                Node::Reservoir { .. } => 0.0,
            })
            .collect(),
        fixed: fixed.heads.clone(),
        at,
        sought,
        plan: Plan::new(count, &pairs),
        edges,
    }
}

struct Found {
    flows: Vec<f64>,
    heads: Vec<f64>,
    left_over: f64,
    steps: usize,
}

/// The start where nothing is known: every link takes head in proportion to its flow, as much as it takes at 1 m/s.
fn first_flows(net: &Net) -> (Vec<f64>, Tree) {
    let demand = |node: usize| net.demands[node];
    let slopes: Vec<f64> = net
        .laws
        .iter()
        .map(|law| law.taken(law.ordinary) / law.ordinary)
        .collect();
    let tree = net.tree(&slopes);
    let mut flows = vec![0.0; net.links.len()];
    net.balance(&tree, demand, &mut flows);
    let drops: Vec<f64> = (0..flows.len())
        .map(|i| slopes[i] * flows[i] - net.laws[i].given(net.laws[i].ordinary).0)
        .collect();
    let (_, left_over) = net.heads(&tree, &drops);
    for (flow, step) in flows.iter_mut().zip(net.step(&slopes, &left_over)) {
        *flow += step;
    }
    net.balance(&tree, demand, &mut flows);
    (flows, tree)
}

/// The start near flows that are told, brought into balance.
fn flows_near(net: &Net, near: &[f64]) -> (Vec<f64>, Tree) {
    let slopes: Vec<f64> = (net.laws.iter().zip(near))
        .map(|(law, &flow)| law.slope(flow))
        .collect();
    let tree = net.tree(&slopes);
    let mut flows = near.to_vec();
    net.balance(&tree, |node| net.demands[node], &mut flows);
    (flows, tree)
}

fn search(net: &Net, near: Option<&[f64]>) -> Result<Found, SolveError> {
    let demand = |node: usize| net.demands[node];
    let (mut flows, mut tree) = near.map_or_else(|| first_flows(net), |near| flows_near(net, near));
    let mut slopes = vec![0.0; flows.len()];

    let mut calm = 0;
    for steps in 1..=MOST_STEPS {
        let drops: Vec<f64> = net
            .laws
            .iter()
            .zip(&flows)
            .map(|(law, &flow)| law.drop(flow))
            .collect();
        for ((slope, law), &flow) in slopes.iter_mut().zip(&net.laws).zip(&flows) {
            *slope = law.slope(flow);
        }
        tree = net.tree(&slopes);
        net.balance(&tree, demand, &mut flows);
        let (heads, left_over) = net.heads(&tree, &drops);
        let mut step = net.step(&slopes, &left_over);
        net.balance(&tree, |_| 0.0, &mut step);

        let largest_flow = largest(flows.iter().copied());
        let largest_step = largest(step.iter().copied());
        let largest_head =
            largest(drops.iter().copied()).max(largest(net.laws.iter().map(|law| law.balance.fixed_head)));
        let most_left = largest(left_over.iter().copied());
        // Steps near nothing end the search once what is left over is rounding too. Where it does not become so,
        // a few more steps do all that can be done, and the proof judges. A link at rest under a law without a
        // linear part lets steps come down slowly, when nothing is left over any more.
        let is_level = most_left <= ROUNDING * largest_head;
        let is_still = largest_step <= SETTLED * largest_flow;
        calm += usize::from(is_level || is_still);
        if is_level && is_still || calm >= 5 {
            return Ok(Found {
                flows,
                heads: heads.iter().map(|head| head.0).collect(),
                left_over: most_left,
                steps,
            });
        }
        let stride = if largest_step <= 1e-9 * largest_flow {
            1.0
        } else {
            net.stride(&flows, &drops, &left_over, &step)
        };
        for (flow, step) in flows.iter_mut().zip(&step) {
            *flow += stride * step;
        }
        net.balance(&tree, demand, &mut flows);
    }
    let drops: Vec<f64> = net
        .laws
        .iter()
        .zip(&flows)
        .map(|(law, &flow)| law.drop(flow))
        .collect();
    let (_, left_over) = net.heads(&tree, &drops);
    on_ramp(net, &flows)?;
    let (link, left_over) = left_over
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
        .map_or((0, f64::NAN), |(link, &left_over)| (link, left_over));
    Err(SolveError::NotSettled { link, left_over })
}

/// An answer on a ramp is none: the equations are met at the jump alone.
fn on_ramp(net: &Net, flows: &[f64]) -> Result<(), SolveError> {
    for (link, (law, flow)) in net.laws.iter().zip(flows).enumerate() {
        let flow = flow.abs();
        let Some((begin, end)) = law.ramp(flow) else {
            continue;
        };
        let Some(pipe) = law.jumps.iter().position(|&jump| begin < jump && jump <= end) else {
            continue;
        };
        if (law.taken(flow) - law.taken_as_at(flow, flow)).abs() > RESIDUAL_SHARE * law.taken(flow) {
            let leg = &law.balance.legs[pipe];
            return Err(SolveError::OnlyAtJump {
                link,
                pipe,
                reynolds: leg.reynolds(law.jumps[pipe], law.balance.kinematic_viscosity),
            });
        }
    }
    Ok(())
}

fn has_machine(elements: &[Element]) -> bool {
    elements
        .iter()
        .any(|e| matches!(e, Element::Pump(_) | Element::Turbine(_)))
}

/// Proves what was found, and gathers the warnings.
fn finish(
    network: &Network,
    net: &Net,
    fixed: &Fixed,
    found: Found,
    readings: &[Reading],
    limits: &Limits,
) -> Result<Solved, SolveError> {
    let Found {
        mut flows,
        heads,
        left_over,
        steps,
    } = found;
    on_ramp(net, &flows)?;
    let largest_flow = largest(flows.iter().copied());
    for (link, flow) in flows.iter_mut().enumerate() {
        // No minus before nought.
        if *flow == 0.0 {
            *flow = 0.0;
        }
        if has_machine(&network.links[link].elements) && *flow < 0.0 {
            if *flow < -1e-10 * largest_flow || net.laws[link].balance.power != 0.0 {
                return Err(SolveError::Backwards { link, flow: *flow });
            }
            *flow = 0.0;
        }
    }

    let mut given = vec![0.0; network.nodes.len()];
    for (link, flow) in network.links.iter().zip(&flows) {
        given[link.from] += flow;
        given[link.to] -= flow;
    }
    let mut out_of_balance = 0.0_f64;
    for (node, value) in given.iter_mut().enumerate() {
        if let Node::Junction { demand, .. } = network.nodes[node] {
            out_of_balance = out_of_balance.max((*value + demand).abs());
            *value = -demand;
        }
    }
    if out_of_balance > RESIDUAL_SHARE * largest_flow {
        return Err(SolveError::NotSettled { link: 0, left_over });
    }

    let mut states = Vec::with_capacity(flows.len());
    let mut seen = 0;
    let mut warnings = Vec::new();
    let mut residual = 0.0_f64;
    let mut largest_head = 0.0_f64;
    let mut worst = (0, 0.0_f64);
    for (link, &flow) in flows.iter().enumerate() {
        let own = readings_of(network, readings, link, &mut seen);
        let path = network.path(link, &heads, flow);
        let state =
            evaluate(&path, flow.abs(), own, limits).map_err(|why| SolveError::OfLink { link, why })?;
        let machines = state.pump_heads.iter().chain(&state.turbine_heads).copied();
        largest_head = largest_head.max(state.head_loss).max(largest(machines));
        residual = residual.max(state.residual.abs());
        if state.residual.abs() > worst.1 {
            worst = (link, state.residual.abs());
        }
        // Heads themselves have their last digits; a pipe at rest is nothing to look into.
        let Link { from, to, .. } = network.links[link];
        let has_elevation = |node: usize| {
            !matches!(network.nodes[node], Node::Junction { elevation: None, .. }) && fixed.are_known
        };
        let is_at_rest = flow.abs() <= 1e-9 * largest_flow;
        let stands_in_order = flow >= 0.0 || state.pipes.len() == 1;
        let mut of_path = Vec::new();
        warn(&path, &state, limits, &mut of_path);
        for what in of_path {
            let counts = match what {
                solve::Warning::UnusualVelocity { .. } => !is_at_rest,
                solve::Warning::Cavitation { .. } => {
                    stands_in_order && has_elevation(from) && has_elevation(to)
                }
                _ => true,
            };
            if counts {
                warnings.push(Warning::Link { link, what });
            }
        }
        if path
            .elements
            .iter()
            .any(|e| matches!(e, Element::Pump(pump) if pump.curve().is_some_and(|curve| !curve.falls())))
        {
            warnings.push(Warning::RisingCurve { link });
        }
        states.push(state);
    }
    let digits = 1e-14 * largest(heads.iter().copied());
    if residual > RESIDUAL_SHARE * largest_head + digits {
        return Err(SolveError::NotSettled {
            link: worst.0,
            left_over: worst.1,
        });
    }

    let pressures = pressures(network, fixed, &heads, &mut warnings)?;
    Ok(Solved {
        flows,
        heads,
        heads_are_known: fixed.are_known,
        given,
        pressures,
        states,
        steps,
        residual,
        warnings,
    })
}

fn pressures(
    network: &Network,
    fixed: &Fixed,
    heads: &[f64],
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Option<f64>>, SolveError> {
    let weight = network.density * network.gravity;
    let mut pressures = Vec::with_capacity(heads.len());
    for (node, what) in network.nodes.iter().enumerate() {
        pressures.push(match *what {
            Node::Reservoir { pressure, .. } => Some(pressure),
            Node::Junction {
                elevation, demand, ..
            } => {
                let pressure = elevation
                    .filter(|_| fixed.are_known)
                    .map(|elevation| weight * (heads[node] - elevation));
                if let Some(pressure) = pressure {
                    let absolute = pressure + network.atmosphere;
                    if absolute < network.vapour_pressure.unwrap_or_default() {
                        if demand > 0.0 {
                            return Err(SolveError::DemandNotMet {
                                node,
                                pressure: absolute,
                            });
                        }
                        warnings.push(Warning::Cavitation {
                            node,
                            pressure: absolute,
                        });
                    } else if pressure < 0.0 {
                        warnings.push(Warning::Suction { node, pressure });
                    }
                }
                pressure
            }
        });
    }
    Ok(pressures)
}
