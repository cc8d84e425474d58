//! A network, worked as it is taught: by the way in which its pipes are joined.
//!
//! Pipes side by side lose the same head; pipes one behind the other carry the same flow; between reservoirs the
//! head where the pipes meet is guessed; round loops the flows are corrected. Each of these ends where the solver
//! ended, so that the last row of every table is the answer.

use super::check::in_line;
use super::working::{called, capital, listed, m, num, passes, say, sum, sym, t, table, velocity_head};
use super::{Writer, step};
use crate::bank::course::{Conventions, UnitSystem};
use crate::bank::names::pipe_result;
use crate::bank::prose::{Block, Inline};
use crate::bank::system::Kind as _;
use crate::bank::system::network::{NodeKind, own_result};
use crate::bank::system::pump::Curve;
use crate::bank::system::{Duty, Element, Value};
use crate::equation::{Bindings, Bound, EquationError, Expr, Line, Relation};
use crate::hydraulics::friction::{Law, Reading, darcy};
use crate::hydraulics::network::{Link, Network, Node, solve};
use crate::hydraulics::path;
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::solve::state;
use crate::quantity::{Quantity, Shown, Unit, Written, round_to_figures};
use crate::solution::network::{NetworkCase, is_laminar};
use crate::solution::results::known;
use crate::solution::units::{Kind, display_unit, given, shown};
use crate::solution::{Case, ReadOff, Step};

/// Most rounds that a table shows; the last is the one that settled.
const ROWS: usize = 9;
/// Rounds after which a method by hand is given up.
const MOST_ROUNDS: usize = 80;
/// Most columns of flows in one table.
const COLUMNS: usize = 7;
/// Most loops whose corrections are shown.
const LOOPS: usize = 4;

/// How a network is joined, as far as it decides how it is solved by hand.
enum Way {
    /// Every link joins the same two nodes.
    SideBySide,
    /// One line of links between two reservoirs, nothing taken out on the way.
    InLine,
    /// One junction, to which every link leads from a reservoir.
    Star { junction: usize },
    /// No loops: continuity gives every flow.
    Tree,
    /// Loops, among them ways from one reservoir to another.
    Loops(Vec<Loop>),
    /// More than a table can show.
    Large,
}

/// A way round: links with the sense in which they are passed, and the head of its first end above that of its
/// last (0 where it closes).
struct Loop {
    links: Vec<(usize, f64)>,
    from: usize,
    to: usize,
    head: f64,
}

/// A link passed on a way round: flow and head by the sense in which it is passed.
struct Passed {
    link: usize,
    flow: f64,
    head: f64,
    per_flow: f64,
    /// Of a link of one pipe in which something flows.
    factor: Option<f64>,
}

struct Work<'a> {
    case: &'a NetworkCase,
    limits: &'a Limits,
    conventions: &'a Conventions,
    /// All results by name, as they are printed.
    results: Bindings,
    /// First reading of each link.
    first: Vec<usize>,
}

pub(in crate::solution) fn steps(
    case: &NetworkCase,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let mut first = Vec::new();
    let mut seen = 0;
    for link in 0..case.network.links.len() {
        first.push(seen);
        seen += case.network.pipes(link);
    }
    let mut w = Writer::new(&Case::Network(Box::new(case.clone())), conventions);
    let work = Work {
        case,
        limits,
        conventions,
        results: w.of.clone(),
        first,
    };
    let way = work.way();
    let mut steps = vec![
        step("See what is known", work.known()),
        step("Write the equations", work.equations(&way)),
    ];
    steps.extend(work.method(&way)?);
    steps.push(
        step("Check with the flows found", work.check(&way)).reading(
            (case.pipes().iter()).filter_map(|(_, _, state)| {
                ReadOff::of(state.regime, state.reynolds, state.relative_roughness)
            }),
        ),
    );
    if let Some(body) = work.heads(&mut w)? {
        steps.push(step("Find the heads", body));
    }
    if let Some(body) = work.powers(&mut w)? {
        steps.push(step("Find the power of the pumps", body));
    }
    Ok(steps)
}

impl Work<'_> {
    fn network(&self) -> &Network {
        &self.case.network
    }

    /// Whether a pipe's section is not round.
    fn has_ducts(&self) -> bool {
        self.network()
            .links
            .iter()
            .flat_map(|link| &link.elements)
            .any(|element| matches!(element, path::Element::Pipe(pipe) if !pipe.section.is_round()))
    }

    fn flows(&self) -> &[f64] {
        &self.case.solved.flows
    }

    fn link_name(&self, link: usize) -> &str {
        &self.case.system.links[link].name
    }

    fn node_name(&self, node: usize) -> &str {
        &self.case.system.nodes[node].name
    }

    fn flow_symbol(&self, link: usize) -> Expr {
        sym(own_result("Q", self.link_name(link)))
    }

    fn head_symbol(&self, node: usize) -> Expr {
        sym(own_result("H", self.node_name(node)))
    }

    fn fixed(&self, node: usize) -> Option<f64> {
        match self.network().nodes[node] {
            Node::Reservoir { .. } => Some(self.case.solved.heads[node]),
            Node::Junction { .. } => None,
        }
    }

    fn demand(&self, node: usize) -> f64 {
        match self.network().nodes[node] {
            Node::Junction { demand, .. } => demand,
            Node::Reservoir { .. } => 0.0,
        }
    }

    fn has_machines(&self) -> bool {
        let links = &self.network().links;
        links
            .iter()
            .flat_map(|link| &link.elements)
            .any(|e| matches!(e, path::Element::Pump(_) | path::Element::Turbine(_)))
    }

    // ---- how it is joined ----

    fn way(&self) -> Way {
        let network = self.network();
        let (nodes, links) = (&network.nodes, &network.links);
        let ends = |link: &Link| (link.from.min(link.to), link.from.max(link.to));
        if nodes.len() == 2 && links.len() > 1 && !self.has_machines() {
            return Way::SideBySide;
        }
        let reservoirs = (0..nodes.len()).filter(|&n| self.fixed(n).is_some()).count();
        let junctions: Vec<usize> = (0..nodes.len()).filter(|&n| self.fixed(n).is_none()).collect();
        if let Some(junction) = network.hub() {
            return Way::Star { junction };
        }
        let degree = |node: usize| links.iter().filter(|l| l.from == node || l.to == node).count();
        let nothing_taken = junctions.iter().all(|&j| self.demand(j) == 0.0 && degree(j) == 2);
        let distinct: std::collections::BTreeSet<_> = links.iter().map(ends).collect();
        if reservoirs == 2
            && nothing_taken
            && links.len() + 1 == nodes.len()
            && distinct.len() == links.len()
            && !self.has_machines()
        {
            return Way::InLine;
        }
        let loops = self.loops();
        if loops.is_empty() {
            Way::Tree
        } else if loops.len() <= LOOPS {
            Way::Loops(loops)
        } else {
            Way::Large
        }
    }

    /// A tree from the fixed heads outwards; every other link closes a loop.
    fn loops(&self) -> Vec<Loop> {
        let links = &self.network().links;
        let count = self.network().nodes.len();
        let mut hung: Vec<Option<(usize, usize)>> = vec![None; count];
        let mut reached = vec![false; count];
        let mut order: Vec<usize> = (0..count).filter(|&n| self.fixed(n).is_some()).take(1).collect();
        if order.is_empty() {
            order.push(0);
        }
        // The other reservoirs are ends, not ways through.
        reached[order[0]] = true;
        let mut in_tree = vec![false; links.len()];
        let mut next = 0;
        while let Some(&node) = order.get(next) {
            next += 1;
            for (i, link) in links.iter().enumerate() {
                if link.from != node && link.to != node {
                    continue;
                }
                let other = link.from + link.to - node;
                if !reached[other] {
                    reached[other] = true;
                    hung[other] = Some((i, node));
                    in_tree[i] = true;
                    order.push(other);
                }
            }
        }
        let to_root = |mut node: usize| {
            let mut way = vec![];
            while let Some((link, parent)) = hung[node] {
                way.push((link, node));
                node = parent;
            }
            way
        };
        let sense = |link: usize, from: usize| if links[link].from == from { 1.0 } else { -1.0 };
        let mut loops = Vec::new();
        for (i, link) in links.iter().enumerate().filter(|(i, _)| !in_tree[*i]) {
            // From the link's start along it, then back along the tree from its end and towards its start.
            let (mut back, mut forth) = (to_root(link.to), to_root(link.from));
            while let (Some(a), Some(b)) = (back.last(), forth.last()) {
                if a != b {
                    break;
                }
                back.pop();
                forth.pop();
            }
            let mut way = vec![(i, 1.0)];
            way.extend(back.iter().map(|&(l, node)| (l, sense(l, node))));
            way.extend(forth.iter().rev().map(|&(l, node)| (l, -sense(l, node))));
            loops.push(Loop {
                links: way,
                from: link.from,
                to: link.from,
                head: 0.0,
            });
        }
        // From the first reservoir down the tree to each of the others.
        let root = order[0];
        for node in (0..count).filter(|&n| n != root && self.fixed(n).is_some()) {
            let way = to_root(node);
            loops.push(Loop {
                links: way.iter().rev().map(|&(l, node)| (l, -sense(l, node))).collect(),
                from: root,
                to: node,
                head: self.case.solved.heads[root] - self.case.solved.heads[node],
            });
        }
        loops
    }

    // ---- numbers ----

    /// Head lost in a link at a flow, by its sign, and the head that its machines give, with given readings.
    fn head(&self, link: usize, flow: f64, readings: &[Reading]) -> Option<(f64, f64, path::State)> {
        let path = self.network().path(link, &self.case.solved.heads, 0.0);
        let own = &readings[self.first[link]..self.first[link] + self.network().pipes(link)];
        let state = state(&path, flow.abs(), own, self.limits).ok()?;
        let given = state.pump_heads.iter().sum::<f64>() - state.turbine_heads.iter().sum::<f64>();
        Some((state.head_loss.copysign(flow), given, state))
    }

    fn exact(&self) -> Vec<Reading> {
        vec![Reading::EXACT; self.case.pipes().len()]
    }

    /// Readings that take these factors for true.
    fn taken(factors: &[f64]) -> Vec<Reading> {
        factors
            .iter()
            .map(|f| Reading {
                law: Law::Fixed(*f),
                factor: 1.0,
            })
            .collect()
    }

    /// The first guess of each factor: fully rough flow, or 0.02 in a smooth pipe.
    fn guessed(&self) -> Vec<f64> {
        (self.case.pipes().iter())
            .map(|(_, _, state)| {
                crate::hydraulics::friction::darcy_fully_rough(state.relative_roughness).unwrap_or(0.02)
            })
            .collect()
    }

    /// Factors at these flows.
    fn factors(&self, flows: &[f64]) -> Option<Vec<f64>> {
        let exact = self.exact();
        let mut all = Vec::new();
        for (link, flow) in flows.iter().enumerate() {
            let (_, _, state) = self.head(link, *flow, &exact)?;
            all.extend(state.pipes.iter().map(|pipe| pipe.darcy_friction_factor));
        }
        Some(all)
    }

    /// `h = R Q²` of each link with these factors.
    fn resistances(&self, factors: &[f64]) -> Option<Vec<f64>> {
        let readings = Self::taken(factors);
        (0..self.network().links.len())
            .map(|link| {
                let flow = self.flows()[link].abs().max(1e-9);
                self.head(link, flow, &readings)
                    .map(|(h, _, _)| h / (flow * flow))
            })
            .collect()
    }

    fn same(&self, kind: Kind, scale: f64, a: f64, b: f64) -> bool {
        self.cell(kind, scale, a) == self.cell(kind, scale, b)
    }

    /// A number with as many decimals as the largest of its table has.
    fn cell(&self, kind: Kind, scale: f64, si: f64) -> Written {
        let unit = display_unit(kind, scale, self.conventions.units);
        decimals(
            unit.from_si(scale).abs(),
            unit.from_si(si),
            &unit,
            self.conventions.figures,
        )
    }

    fn value(&self, kind: Kind, si: f64) -> Inline {
        Inline::Value(shown(kind, si, self.conventions))
    }

    fn flow_scale(&self) -> f64 {
        self.flows()
            .iter()
            .fold(0.0_f64, |most, flow| most.max(flow.abs()))
    }

    // ---- what is said ----

    fn known(&self) -> Vec<Block> {
        let system = &self.case.system;
        let mut items = Vec::new();
        for (i, node) in system.nodes.iter().enumerate() {
            let mut words = vec![Inline::Strong(vec![t(capital(&node.name))])];
            match &node.what {
                NodeKind::Reservoir { pressure, .. } => {
                    words.push(t(": a surface at "));
                    words.push(self.bound("z", &node.name));
                    if pressure.is_some() {
                        words.push(t(" under a pressure, so that its head is "));
                    } else {
                        words.push(t("; there the head is the level, "));
                    }
                    words.push(m(self.head_symbol(i)));
                    words.push(t(" = "));
                    words.push(self.bound("H", &node.name));
                    words.push(t("."));
                }
                NodeKind::Junction { head, elevation, .. } => {
                    let demand = self.demand(i);
                    words.push(t(": a junction"));
                    if elevation.is_some() {
                        words.push(t(" at "));
                        words.push(self.bound("z", &node.name));
                    }
                    if demand > 0.0 {
                        words.push(t(", where "));
                        words.push(self.bound("q", &node.name));
                        words.push(t(" is taken out"));
                    } else if demand < 0.0 {
                        words.push(t(", where "));
                        words.push(self.bound("s", &node.name));
                        words.push(t(" is put in"));
                    }
                    if head.is_some() {
                        words.push(t("; its head is given, "));
                        words.push(m(self.head_symbol(i)));
                        words.push(t(" = "));
                        words.push(self.bound("H", &node.name));
                    }
                    words.push(t("."));
                }
            }
            items.push(vec![Block::Paragraph(words)]);
        }
        vec![
            say("The nodes of the network, where pipes begin, meet and end:"),
            Block::List {
                ordered: false,
                items,
            },
            say("The links between them. A flow counts as positive in the direction named here:"),
            self.pipes_table(),
        ]
    }

    /// A result of a node as the case prints it.
    fn bound(&self, base: &str, name: &str) -> Inline {
        let result = own_result(base, name);
        self.results
            .get(&result)
            .map_or_else(|| t(""), |bound| Inline::Value(bound.written.clone()))
    }

    fn pipes_table(&self) -> Block {
        let system = &self.case.system;
        let pipes = self.case.pipes();
        let names = system.pipe_names();
        let mut rows = Vec::new();
        let mut before = usize::MAX;
        for ((at, pipe, _), name) in pipes.iter().zip(&names) {
            let link = &system.links[*at];
            let own: Vec<usize> = (0..pipes.len()).filter(|&i| pipes[i].0 == *at).collect();
            let within = own.iter().position(|&i| names[i] == *name).unwrap_or_default();
            let state = &self.case.solved.states[*at];
            let mut k = 0.0;
            let mut seen = 0;
            for element in &self.network().links[*at].elements {
                if let path::Element::Loss { pipe: on, .. } = element {
                    if *on == within {
                        k += state.loss_coefficients.get(seen).copied().unwrap_or_default();
                    }
                    seen += 1;
                }
            }
            let way = format!("{} to {}", self.node_name(link.from), self.node_name(link.to));
            let first = *at != before;
            before = *at;
            rows.push(vec![
                vec![t(if link.name == *name {
                    (*name).to_owned()
                } else {
                    format!("{name} ({})", link.name)
                })],
                vec![t(if first { way } else { "the same".to_owned() })],
                vec![Inline::Value(self.stated("D", name, Kind::Bore, pipe.diameter))],
                vec![Inline::Value(self.stated("L", name, Kind::Length, pipe.length))],
                vec![Inline::Value(self.stated(
                    "eps",
                    name,
                    Kind::Bore,
                    pipe.roughness,
                ))],
                vec![Inline::Value(plain(k))],
            ]);
        }
        table(
            vec![
                vec![t("pipe")],
                vec![t("from, to")],
                vec![m(sym("D"))],
                vec![m(sym("L"))],
                vec![m(sym("eps"))],
                vec![t("sum of "), m(sym("K"))],
            ],
            vec![false, false, true, true, true, true],
            rows,
        )
    }

    /// A value of a pipe as the system states it.
    fn stated(&self, base: &str, name: &str, kind: Kind, si: f64) -> Written {
        let system = &self.case.system;
        let result = pipe_result(base, name, system.pipe_names().len());
        match system.stated(&result) {
            Some(crate::bank::system::Value::Known(written)) => {
                crate::solution::units::given(kind, written, self.conventions)
            }
            _ => shown(kind, si, self.conventions),
        }
    }

    fn equations(&self, way: &Way) -> Vec<Block> {
        let links = &self.network().links;
        let machines = self.has_machines();
        let mut body = Vec::new();
        match way {
            Way::SideBySide => {
                body.push(say(
                    "All pipes begin at one node and end at the other. A node has one head, so the same head is lost on \
                     every way, and the flows add up:",
                ));
                let losses = (0..links.len()).map(|l| sym(own_result("h_L", self.link_name(l))));
                body.push(Block::Equation(vec![chain(losses.collect())]));
                let total = sum((0..links.len()).map(|l| (true, self.flow_symbol(l))).collect());
                body.push(Block::Equation(vec![Line::equal(sym("Q"), total)]));
            }
            Way::InLine => {
                body.push(say(
                    "The pipes stand one behind the other and nothing leaves on the way: each carries the same flow, and their losses \
                     add up to the difference of the two levels.",
                ));
                let flows = (0..links.len()).map(|l| self.flow_symbol(l)).collect();
                body.push(Block::Equation(vec![chain(flows)]));
                let lost = sum((0..links.len())
                    .map(|l| (true, sym(own_result("h_L", self.link_name(l)))))
                    .collect());
                let (high, low) = self.ends();
                body.push(Block::Equation(vec![Line::equal(
                    self.head_symbol(high) - self.head_symbol(low),
                    lost,
                )]));
            }
            _ => {
                body.push(say(
                    "At every junction as much flows in as flows out or is taken out:",
                ));
                let mut lines = Vec::new();
                for node in (0..self.network().nodes.len()).filter(|&n| self.fixed(n).is_none()) {
                    lines.push(self.continuity(node));
                }
                body.push(Block::Equation(lines));
                let mut lines = Vec::new();
                match way {
                    Way::Loops(loops) => {
                        body.push(say(if machines {
                            "Round a loop one comes back to the head from which one began; from one reservoir to another the \
                             heads differ by what is known. Each link counts as it is passed, its pumps with the other sign:"
                        } else {
                            "Round a loop one comes back to the head from which one began; from one reservoir to another the \
                             heads differ by what is known. A loss counts as positive where the link is passed in its direction:"
                        }));
                        for way in loops {
                            lines.push(self.round(way));
                        }
                    }
                    _ => {
                        body.push(say(
                            "Along every link the heads of its ends differ by what is lost between them:",
                        ));
                        for link in 0..links.len().min(12) {
                            lines.push(self.energy(link));
                        }
                    }
                }
                body.push(Block::Equation(lines));
            }
        }
        body.push(say(
            "What is lost in a link is friction in its pipes, and its minor losses:",
        ));
        body.push(Block::Equation(vec![
            Line::equal(
                sym("h_L"),
                (sym("f") * (sym("L") / sym("D")) + sym("K")) * velocity_head(sym("V")),
            ),
            Line::equal(
                sym("V"),
                if self.has_ducts() {
                    sym("Q") / sym("A")
                } else {
                    num(4.0) * sym("Q") / (Expr::Pi * sym("D").pow(2))
                },
            ),
        ]));
        if self.has_ducts() {
            body.push(say(
                "Where a section is not round, A is its true area, and D its hydraulic diameter, four times the area over the \
                 wetted perimeter.",
            ));
        }
        body.extend(self.machines_said());
        body
    }

    /// How the heads of machines that give or take another at every flow are had.
    fn machines_said(&self) -> Vec<Block> {
        let (mut by_power, mut by_curve) = (Vec::new(), Vec::new());
        for link in &self.case.system.links {
            for element in &link.path {
                if let Element::Pump { name, duty, .. } = element {
                    if matches!(duty, Duty::Power(_)) {
                        by_power.push((name, &link.name));
                    } else if let Duty::Curve(curve) = duty {
                        by_curve.push((name, curve.as_ref()));
                    }
                }
            }
        }
        let mut body = Vec::new();
        if !by_power.is_empty() {
            body.push(say(
                "A pump of known power gives the head that its power and the flow leave:",
            ));
            let lines = by_power.into_iter().map(|(pump, link)| {
                let weight_flow = sym("rho") * sym("g") * sym(own_result("Q", link));
                Line::equal(
                    sym(own_result("h_P", pump)),
                    sym(own_result("eta", pump)) * sym(own_result("P_P", pump)) / weight_flow,
                )
            });
            body.push(Block::Equation(lines.collect()));
        }
        for (name, curve) in by_curve {
            body.extend(self.curve(name, curve));
        }
        body
    }

    /// A pump's curve as it was given: its formula, or its points.
    fn curve(&self, name: &str, curve: &Curve) -> Vec<Block> {
        let given = |kind: Kind, value: &Value| known(value).map(|w| given(kind, w, self.conventions));
        match curve {
            Curve::Quadratic(own) => {
                let q = || sym("q");
                let terms = [
                    ("a", Some(&own.a), None),
                    ("b", own.b.as_ref(), Some(q())),
                    ("c", own.c.as_ref(), Some(q().pow(2))),
                ];
                let (mut all, mut lines) = (Vec::new(), Vec::new());
                for (letter, value, factor) in terms {
                    let Some(written) = value.and_then(known) else {
                        continue;
                    };
                    all.push((true, factor.map_or(sym(letter), |factor| sym(letter) * factor)));
                    lines.push(Line::equal(sym(letter), Expr::Number(written.clone())));
                }
                lines.insert(0, Line::equal(sym("h"), sum(all)));
                vec![
                    Block::Paragraph(vec![
                        t(format!("The head of the {name} changes with the flow ")),
                        m(sym("q")),
                        t(" through one pump, as its curve has it:"),
                    ]),
                    Block::Equation(lines),
                ]
            }
            Curve::Points { points, parabola } => {
                let rows = points.iter().map(|(flow, head)| {
                    let cell =
                        |kind, value| given(kind, value).map_or_else(Vec::new, |w| vec![Inline::Value(w)]);
                    vec![cell(Kind::Flow, flow), cell(Kind::Length, head)]
                });
                vec![
                    say(if *parabola {
                        format!(
                            "The head of the {name} is read at its flow off the parabola that misses these points by the least squares:"
                        )
                    } else {
                        format!(
                            "The head of the {name} is read at its flow off a smooth line through these points:"
                        )
                    }),
                    table(
                        vec![vec![t("flow")], vec![t("head")]],
                        vec![true, true],
                        rows.collect(),
                    ),
                ]
            }
        }
    }

    /// Head and shaft power of each pump whose efficiency is told.
    fn powers(&self, w: &mut Writer<'_>) -> Result<Option<Vec<Block>>, EquationError> {
        let solved = &self.case.solved;
        let weight = self.network().density * self.network().gravity;
        let mut lines = Vec::new();
        for ((link, state), flow) in self
            .case
            .system
            .links
            .iter()
            .zip(&solved.states)
            .zip(&solved.flows)
        {
            let pumps = link.path.iter().filter_map(|element| match element {
                Element::Pump { name, efficiency, .. } => Some((name, efficiency.is_some())),
                _ => None,
            });
            let found = state.pump_heads.iter().zip(&state.pump_powers);
            for ((name, told), (head, power)) in pumps.zip(found) {
                if !told || *power <= 0.0 {
                    continue;
                }
                let efficiency = Quantity::number(weight * flow * head / power);
                let (eta, h_p) = (own_result("eta", name), own_result("h_P", name));
                w.of.set(
                    eta.clone(),
                    Bound {
                        quantity: efficiency,
                        written: shown(Kind::Number, efficiency.value, self.conventions),
                    },
                );
                lines.push(Line::equal(sym(h_p.clone()), sym(h_p.clone()).with_values(&w.of)));
                let formula = sym("rho") * sym("g") * sym(own_result("Q", &link.name)) * sym(h_p) / sym(eta);
                lines.push(w.line(&own_result("P_P", name), &formula, Kind::Power)?);
            }
        }
        Ok((!lines.is_empty()).then(|| {
            vec![
                say("Each pump gives its head to the weight of fluid that passes in each second; its shaft must bring more, \
                     by the efficiency:"),
                Block::Equation(lines),
            ]
        }))
    }

    /// The higher and the lower of two reservoirs.
    fn ends(&self) -> (usize, usize) {
        let mut all: Vec<usize> = (0..self.network().nodes.len())
            .filter(|&n| self.fixed(n).is_some())
            .collect();
        all.sort_by(|&a, &b| self.case.solved.heads[b].total_cmp(&self.case.solved.heads[a]));
        (all[0], all[all.len() - 1])
    }

    fn continuity(&self, node: usize) -> Line {
        let links = &self.network().links;
        let what = &self.case.system.nodes[node].what;
        // Where something is put in, what flows out stands first.
        let supplied = matches!(what, NodeKind::Junction { supply: Some(_), .. });
        let mut terms: Vec<(bool, Expr)> = (0..links.len())
            .filter(|&l| links[l].from == node || links[l].to == node)
            .map(|l| ((links[l].to == node) != supplied, self.flow_symbol(l)))
            .collect();
        terms.sort_by_key(|(plus, _)| !plus);
        let right = match what {
            NodeKind::Junction { demand: Some(_), .. } => sym(own_result("q", self.node_name(node))),
            NodeKind::Junction { supply: Some(_), .. } => sym(own_result("s", self.node_name(node))),
            _ => num(0.0),
        };
        Line::equal(sum(terms), right)
    }

    fn machine_terms(&self, link: usize) -> Vec<(bool, Expr)> {
        (self.case.system.links[link].path.iter())
            .filter_map(|element| match element {
                Element::Pump { name, .. } => Some((false, sym(own_result("h_P", name)))),
                Element::Turbine { name, .. } => Some((true, sym(own_result("h_T", name)))),
                _ => None,
            })
            .collect()
    }

    /// `H_a − H_b = h_L − h_P`
    fn energy(&self, link: usize) -> Line {
        let Link { from, to, .. } = self.network().links[link];
        let mut terms = vec![(true, sym(own_result("h_L", self.link_name(link))))];
        terms.extend(self.machine_terms(link));
        Line::equal(self.head_symbol(from) - self.head_symbol(to), sum(terms))
    }

    fn round(&self, way: &Loop) -> Line {
        let mut terms = Vec::new();
        for &(link, sense) in &way.links {
            terms.push((sense > 0.0, sym(own_result("h_L", self.link_name(link)))));
            for (plus, term) in self.machine_terms(link) {
                terms.push((plus == (sense > 0.0), term));
            }
        }
        let right = if way.from == way.to {
            num(0.0)
        } else {
            self.head_symbol(way.from) - self.head_symbol(way.to)
        };
        Line::equal(sum(terms), right)
    }

    // ---- methods ----

    fn method(&self, way: &Way) -> Result<Vec<Step>, EquationError> {
        Ok(match way {
            Way::SideBySide | Way::InLine => self.guessed_factors(matches!(way, Way::InLine))?,
            Way::Star { junction } => self.guessed_head(*junction)?,
            Way::Tree => self.outwards(),
            Way::Loops(loops) => self.corrected(loops)?,
            Way::Large => vec![self.by_computer()],
        })
    }

    fn by_computer(&self) -> Step {
        step(
            "Solve the equations",
            vec![
                say(format!(
                    "There are as many equations as unknown flows and heads. They are not linear, since a loss goes nearly \
                     as the square of its flow, so they are solved by steps: each law is replaced by its tangent at the flows \
                     of the last step, and the linear equations that are left give the next flows and heads. After {} steps \
                     nothing changes any more.",
                    self.case.solved.steps
                )),
                self.flows_table(),
            ],
        )
    }

    fn flows_table(&self) -> Block {
        let rows = (0..self.flows().len())
            .map(|l| {
                vec![
                    vec![t(self.link_name(l))],
                    vec![Inline::Value(self.cell(
                        Kind::Flow,
                        self.flow_scale(),
                        self.flows()[l],
                    ))],
                ]
            })
            .collect();
        table(vec![vec![t("link")], vec![t("flow")]], vec![false, true], rows)
    }

    /// Factors are guessed, flows follow from equal loss or equal flow, factors from flows.
    fn guessed_factors(&self, is_in_line: bool) -> Result<Vec<Step>, EquationError> {
        let count = self.network().links.len();
        let (high, low) = if self.ends_are_fixed() {
            self.ends()
        } else {
            (0, 1)
        };
        let head = self.case.solved.heads[high] - self.case.solved.heads[low];
        let total: f64 = self.flows().iter().map(|q| q.abs()).sum();
        let next = |factors: &[f64]| -> Option<Vec<f64>> {
            let r = self.resistances(factors)?;
            let sign = |l: usize| if self.flows()[l] < 0.0 { -1.0 } else { 1.0 };
            Some(if is_in_line {
                let q = (head.abs() / r.iter().sum::<f64>()).sqrt();
                (0..count).map(|l| sign(l) * q).collect()
            } else if self.ends_are_fixed() {
                (0..count).map(|l| sign(l) * (head.abs() / r[l]).sqrt()).collect()
            } else {
                let shares: Vec<f64> = r.iter().map(|r| 1.0 / r.sqrt()).collect();
                let all: f64 = shares.iter().sum();
                (0..count).map(|l| sign(l) * total * shares[l] / all).collect()
            })
        };
        let mut factors = self.guessed();
        let mut rounds: Vec<Vec<f64>> = Vec::new();
        let mut settled = false;
        for _ in 0..MOST_ROUNDS {
            let Some(flows) = next(&factors) else { break };
            let mut row = factors.clone();
            row.extend(&flows);
            rounds.push(row);
            let Some(read) = self.factors(&flows) else { break };
            let same = factors
                .iter()
                .zip(&read)
                .all(|(a, b)| self.same(Kind::Number, *b, *a, *b));
            let there = flows
                .iter()
                .zip(self.flows())
                .all(|(a, b)| self.same(Kind::Flow, self.flow_scale(), *a, *b));
            if same && there {
                settled = true;
                break;
            }
            factors = read;
        }
        if !settled || (factors.len() + count > COLUMNS + 2 && factors.len() > COLUMNS) {
            return Ok(vec![self.by_computer()]);
        }
        let (before, after) = if is_in_line {
            (
                "One friction factor is guessed for each pipe, as in fully rough flow (",
                " in a smooth pipe). With the factors fixed every loss goes as the square of the one flow, so the difference \
                 of the levels gives it. The flow gives velocities, Reynolds numbers and better factors, and so on until \
                 nothing changes:",
            )
        } else if self.ends_are_fixed() {
            (
                "Both ends have known heads, so each pipe can be worked by itself. A friction factor is guessed, as in fully \
                 rough flow (",
                " in a smooth pipe); the head gives the velocity and the flow, these give the Reynolds number and a better \
                 factor, and so on until nothing changes:",
            )
        } else {
            (
                "The head is not known, but it is the same for all. With guessed friction factors (fully rough flow; ",
                " in a smooth pipe) it fixes the ratio of the flows, and their sum is given. The flows give Reynolds numbers \
                 and better factors, and so on until nothing changes:",
            )
        };
        let mut body = vec![Block::Paragraph(vec![t(before), m(num(0.02)), t(after)])];
        body.extend(self.ratio(is_in_line));
        if let Some(row) = rounds.first() {
            body.extend(self.first_round(is_in_line, row)?);
        }
        let names = self.case.system.pipe_names();
        let mut heads = vec![vec![t("round")]];
        heads.extend(
            names
                .iter()
                .map(|name| vec![m(sym(pipe_result("f", name, names.len())))]),
        );
        let shown_flows: Vec<usize> = if is_in_line { vec![0] } else { (0..count).collect() };
        heads.extend(shown_flows.iter().map(|&l| vec![m(self.flow_symbol(l))]));
        let rows = cut(rounds.len(), rounds.len()).map(|i| match i {
            None => vec![vec![t("…")]; heads.len()],
            Some(i) => {
                let row = &rounds[i];
                let mut cells = vec![vec![t(format!("{}", i + 1))]];
                cells.extend(
                    row[..names.len()]
                        .iter()
                        .map(|f| vec![self.value(Kind::Number, *f)]),
                );
                cells.extend(shown_flows.iter().map(|&l| {
                    vec![Inline::Value(self.cell(
                        Kind::Flow,
                        self.flow_scale(),
                        row[names.len() + l],
                    ))]
                }));
                cells
            }
        });
        let rows: Vec<_> = rows.collect();
        let numeric = vec![true; heads.len()];
        body.push(table(heads, numeric, rows));
        body.push(say(
            "In the last row the factors are those that the flows give back.",
        ));
        Ok(vec![step("Guess the friction factors and go round", body)])
    }

    /// The first round with its numbers: the first pipe worked, all in a table. `row` holds factors, then flows.
    fn first_round(&self, is_in_line: bool, row: &[f64]) -> Result<Vec<Block>, EquationError> {
        let count = self.network().links.len();
        let pipes = self.case.pipes();
        let rough = pipes[0].2.relative_roughness > 0.0;
        if !rough || !(0..count).all(|link| self.is_simple(link)) || self.flows().iter().any(|q| *q < 0.0) {
            return Ok(Vec::new());
        }
        let (factors, flows) = row.split_at(count);
        let (Some(resistances), Some(read)) = (self.resistances(factors), self.factors(flows)) else {
            return Ok(Vec::new());
        };
        let unit = Unit::parse(match self.conventions.units {
            UnitSystem::Si => "s^2/m^5",
            UnitSystem::UsCustomary => "s^2/ft^5",
        })
        .map_err(|error| EquationError::new(error.what))?;
        let figures = self.conventions.figures;
        let (mut w, k) = self.writer_of(0, &self.case.solved.states[0].loss_coefficients);
        let own = |base: &str| self.own_pipe(base, 0);
        let ratio = self.ratio_line(&w, 0, pipes[0].2.relative_roughness);
        let relative = Bound::new(pipes[0].2.relative_roughness, &Unit::none(), figures);
        w.of.set(own("rr"), relative);
        let mut lines = vec![
            ratio,
            w.line(
                &own("f"),
                &crate::solution::laws::fully_rough(sym(own("rr"))),
                Kind::Number,
            )?,
        ];
        let friction = sym(own("f")) * (sym(own("L")) / sym(own("D")));
        let heads = k.map_or(friction.clone(), |k| friction + k);
        let formula = num(8.0) * heads / (Expr::Pi.pow(2) * sym("g") * sym(own("D")).pow(4));
        let r = |link: usize| own_result("R", self.link_name(link));
        lines.push(Line::worked(sym(r(0)), &formula, &w.of, &unit, figures)?.0);
        for (link, si) in resistances.iter().enumerate() {
            w.of.set(r(link), Bound::new(*si, &unit, figures));
        }
        let root_of = |w: &mut Writer<'_>, name: &str, below: Expr| {
            let (high, low) = self.ends();
            let root = ((self.head_symbol(high) - self.head_symbol(low)) / below).sqrt();
            w.line(name, &root, Kind::Flow)
        };
        let last = if is_in_line {
            root_of(
                &mut w,
                "Q",
                sum((0..count).map(|link| (true, sym(r(link)))).collect()),
            )?
        } else if self.ends_are_fixed() {
            root_of(&mut w, &own_result("Q", self.link_name(0)), sym(r(0)))?
        } else {
            let total: f64 = self.flows().iter().sum();
            // As it was given, where it was.
            let told = (self.case.system.nodes.iter())
                .flat_map(|node| ["s", "q"].map(|base| own_result(base, &node.name)))
                .filter_map(|name| self.results.get(&name))
                .find(|bound| (bound.quantity.value - total).abs() <= 1e-9 * total);
            let whole = told.cloned().unwrap_or_else(|| Bound {
                quantity: Quantity::new(total, Kind::Flow.dimension()),
                written: self.cell(Kind::Flow, self.flow_scale(), total),
            });
            w.of.set("Q", whole);
            let others = (1..count).map(|link| (true, (sym(r(0)) / sym(r(link))).sqrt()));
            let shares = sum(std::iter::once((true, num(1.0))).chain(others).collect());
            w.line(
                &own_result("Q", self.link_name(0)),
                &(sym("Q") / shares),
                Kind::Flow,
            )?
        };
        let measures = (0..count).map(|link| {
            vec![
                vec![t(self.link_name(link))],
                vec![self.value(Kind::Number, pipes[link].2.relative_roughness)],
                vec![self.value(Kind::Number, factors[link])],
                vec![Inline::Value(Written::from_si(resistances[link], &unit, figures))],
            ]
        });
        let flowing = (0..count).map(|link| {
            let flow = flows[link];
            let state = self.head(link, flow, &self.exact()).map(|(_, _, state)| state);
            let reynolds = state.map_or(f64::NAN, |state| state.pipes[0].reynolds);
            vec![
                vec![t(self.link_name(link))],
                vec![Inline::Value(self.cell(Kind::Flow, self.flow_scale(), flow))],
                vec![self.value(Kind::Number, reynolds)],
                vec![self.value(Kind::Number, read[link])],
            ]
        });
        let numeric = || vec![false, true, true, true];
        Ok(vec![
            say(format!(
                "The first round with its numbers, for {}:",
                called(self.link_name(0))
            )),
            Block::Equation(lines),
            say("All pipes worked like it come to:"),
            table(
                vec![
                    vec![t("pipe")],
                    in_line(sym("eps") / sym("D")),
                    vec![m(sym("f")), t(" guessed")],
                    vec![m(sym("R"))],
                ],
                numeric(),
                measures.collect(),
            ),
            say("From these the flows follow, the others like the first:"),
            Block::Equation(vec![last]),
            table(
                vec![
                    vec![t("pipe")],
                    vec![m(sym("Q"))],
                    vec![m(sym("Re"))],
                    vec![m(sym("f")), t(" read")],
                ],
                numeric(),
                flowing.collect(),
            ),
            say("With the factors that were read the next round begins:"),
        ])
    }

    fn ends_are_fixed(&self) -> bool {
        (0..self.network().nodes.len())
            .filter(|&n| self.fixed(n).is_some())
            .count()
            >= 2
    }

    /// The formula by which flows follow from factors, for links of one pipe.
    fn ratio(&self, is_in_line: bool) -> Vec<Block> {
        let simple =
            !self.has_ducts() && (0..self.network().links.len()).all(|l| self.network().pipes(l) == 1);
        let r = |name: &str| {
            num(8.0)
                * (sym(format!("f_{name}")) * (sym(format!("L_{name}")) / sym(format!("D_{name}")))
                    + sym(format!("K_{name}")))
                / (Expr::Pi.pow(2) * sym("g") * sym(format!("D_{name}")).pow(4))
        };
        let mut body = vec![
            say(
                "It helps to write the loss of a link by its flow, with the pipe's measures gathered in one number:",
            ),
            Block::Equation(vec![Line::equal(sym("h_L"), sym("R") * sym("Q").pow(2))]),
        ];
        if simple {
            body.push(Block::Equation(vec![Line::equal(sym("R_i"), r("i"))]));
        }
        body.push(Block::Equation(vec![if is_in_line {
            let (high, low) = self.ends();
            Line::equal(
                sym("Q"),
                ((self.head_symbol(high) - self.head_symbol(low)) / (sym("R_1") + sym("R_2") + sym("…")))
                    .sqrt(),
            )
        } else if self.ends_are_fixed() {
            let (high, low) = self.ends();
            Line::equal(
                sym("Q_i"),
                ((self.head_symbol(high) - self.head_symbol(low)) / sym("R_i")).sqrt(),
            )
        } else {
            Line::equal(sym("Q_i") / sym("Q_j"), (sym("R_j") / sym("R_i")).sqrt())
        }]));
        body
    }

    /// The head where all pipes meet is guessed.
    fn guessed_head(&self, junction: usize) -> Result<Vec<Step>, EquationError> {
        let links = &self.network().links;
        let demand = self.demand(junction);
        // Flow into the junction and head lost, for a head there.
        let at = |head: f64| -> Option<(Vec<f64>, f64, f64)> {
            let mut flows = Vec::with_capacity(links.len());
            let (mut into, mut slopes) = (-demand, 0.0);
            for (i, link) in links.iter().enumerate() {
                let surface = |node: usize| Node::Reservoir {
                    level: if node == junction {
                        head
                    } else {
                        self.case.solved.heads[node]
                    },
                    pressure: 0.0,
                };
                let alone = Network {
                    nodes: vec![surface(link.from), surface(link.to)],
                    links: vec![Link {
                        from: 0,
                        to: 1,
                        elements: link.elements.clone(),
                    }],
                    ..self.network().clone()
                };
                let own = vec![Reading::EXACT; self.network().pipes(i)];
                let solved = solve(&alone, &own, self.limits).ok()?;
                let flow = solved.flows[0];
                let lost = solved.states[0].head_loss;
                into += if link.to == junction { flow } else { -flow };
                if lost > 0.0 {
                    slopes += flow.abs() / lost;
                }
                flows.push(flow);
            }
            Some((flows, into, slopes))
        };
        let mut surfaces: Vec<f64> = (0..self.network().nodes.len())
            .filter_map(|n| self.fixed(n))
            .collect();
        surfaces.sort_by(f64::total_cmp);
        let first = surfaces[surfaces.len() / 2];
        let scale = self.flow_scale();
        let head_scale = self
            .case
            .solved
            .heads
            .iter()
            .fold(0.0_f64, |most, h| most.max(h.abs()));
        let mut head = first;
        let mut rows: Vec<(f64, Vec<f64>, f64)> = Vec::new();
        let mut settled = false;
        for _ in 0..MOST_ROUNDS {
            let Some((flows, into, slopes)) = at(head) else {
                break;
            };
            let there = flows
                .iter()
                .zip(self.flows())
                .all(|(a, b)| self.same(Kind::Flow, scale, *a, *b))
                && self.same(Kind::Length, head_scale, head, self.case.solved.heads[junction]);
            rows.push((head, flows, into));
            if there {
                settled = true;
                break;
            }
            if slopes <= 0.0 {
                break;
            }
            // A pump's head changes with the flow as well: the line through the last two guesses knows of it.
            head = match rows.as_slice() {
                [.., (before, _, over), (last, _, left)] if self.has_machines() && over != left => {
                    last - left * (last - before) / (left - over)
                }
                _ => head + 2.0 * into / slopes,
            };
        }
        if !settled || links.len() > COLUMNS {
            return Ok(vec![self.by_computer()]);
        }
        let h = self.head_symbol(junction);
        let mut body = vec![
            Block::Paragraph(vec![
                t("If the head where the pipes meet, "),
                m(h.clone()),
                t(
                    ", were known, each pipe would be one between two known heads, and its flow could be worked out by itself \
                   (guess the friction factor, find velocity, Reynolds number and a better factor, as always). So that head is guessed. The first guess is the level of a \
                   reservoir in the middle: nothing then flows in its pipe, and the sign of what is left over tells which way \
                   the flow there really goes.",
                ),
            ]),
            say(
                "What is left over at the junction tells how far off the guess is. A flow goes nearly as the root of its \
                 head loss, so the guess is changed by",
            ),
            Block::Equation(vec![Line::equal(
                sym("Delta") * sym("H"),
                num(2.0) * sym("Q_left") / sym("S"),
            )]),
            Block::Paragraph(vec![
                t("where "),
                m(sym("Q_left")),
                t(" is all that flows in less all that flows out or is taken out, and "),
                m(sym("S")),
                t(" the sum of "),
                m(sym("Q")),
                t("/"),
                m(sym("h_L")),
                t(" over the pipes in which something flows. Too much flowing in asks for a higher head."),
            ]),
        ];
        if self.has_machines() {
            body.push(say(
                "That leaves out how the head of a pump changes with its flow. So from the third guess on, the straight line through \
                 the last two gives the next.",
            ));
        }
        if let [(head, flows, into), (next, ..), ..] = rows.as_slice() {
            body.extend(self.first_head(junction, *head, (flows, *into), *next)?);
        }
        let mut heads = vec![vec![m(h)]];
        heads.extend((0..links.len()).map(|l| vec![m(self.flow_symbol(l))]));
        heads.push(vec![m(sym("Q_left"))]);
        let calm = rows
            .iter()
            .position(|(_, _, into)| self.same(Kind::Flow, scale, *into, 0.0));
        let table_rows: Vec<_> = cut(rows.len(), calm.unwrap_or(rows.len()))
            .map(|i| match i {
                None => vec![vec![t("…")]; heads.len()],
                Some(i) => {
                    let (head, flows, into) = &rows[i];
                    let mut cells = vec![vec![Inline::Value(self.cell(Kind::Length, head_scale, *head))]];
                    cells.extend(
                        flows
                            .iter()
                            .chain([into])
                            .map(|q| vec![Inline::Value(self.cell(Kind::Flow, scale, *q))]),
                    );
                    cells
                }
            })
            .collect();
        let numeric = vec![true; heads.len()];
        body.push(table(heads, numeric, table_rows));
        body.push(say(
            "In the last row next to nothing is left over: head and flows are found.",
        ));
        Ok(vec![step("Guess the head where the pipes meet", body)])
    }

    /// The first guess of the head where the pipes meet, with its numbers: one pipe worked in passes, all in a table,
    /// and the change of the guess.
    fn first_head(
        &self,
        junction: usize,
        head: f64,
        (flows, into): (&[f64], f64),
        next: f64,
    ) -> Result<Vec<Block>, EquationError> {
        let links = &self.network().links;
        if !(0..links.len()).all(|link| self.is_simple(link)) {
            return Ok(Vec::new());
        }
        let scale = self.flow_scale();
        let other = |link: usize| links[link].from + links[link].to - junction;
        let length = |si: f64| Bound {
            quantity: Quantity::new(si, Kind::Length.dimension()),
            written: shown(Kind::Length, si, self.conventions),
        };
        let (mut rows, mut worked) = (Vec::new(), Vec::new());
        let mut slopes: Option<Expr> = None;
        let mut of = self.results.clone();
        for (link, &flow) in flows.iter().enumerate() {
            let drop = (self.case.solved.heads[other(link)] - head).abs();
            let name = own_result("h_L", self.link_name(link));
            let flow_is = Bound {
                quantity: Quantity::new(flow, Kind::Flow.dimension()),
                written: self.cell(Kind::Flow, scale, flow),
            };
            of.set(own_result("Q", self.link_name(link)), flow_is);
            let state = self.head(link, flow, &self.exact()).map(|(_, _, state)| state);
            let Some(state) = state.filter(|_| flow != 0.0) else {
                let mut row = vec![vec![t("–")]; 7];
                row[0] = vec![t(self.link_name(link))];
                row[1] = vec![self.value(Kind::Length, 0.0)];
                row[5] = vec![Inline::Value(self.cell(Kind::Flow, scale, 0.0))];
                rows.push(row);
                continue;
            };
            of.set(name.clone(), length(drop));
            let ratio = self.flow_symbol(link) / sym(name);
            slopes = Some(match slopes {
                Some(before) => before + ratio,
                None => ratio,
            });
            let pipe = &state.pipes[0];
            rows.push(vec![
                vec![t(self.link_name(link))],
                vec![self.value(Kind::Length, drop)],
                vec![self.value(Kind::Number, pipe.darcy_friction_factor)],
                vec![self.value(Kind::Velocity, pipe.velocity)],
                vec![self.value(Kind::Number, pipe.reynolds)],
                vec![Inline::Value(self.cell(Kind::Flow, scale, flow.abs()))],
                vec![self.flow_per(flow.abs() / drop)],
            ]);
            if worked.is_empty() && pipe.regime != Regime::Laminar && pipe.relative_roughness > 0.0 {
                worked = self.in_passes(link, (head, junction), drop, &state)?;
            }
        }
        let mut body = worked;
        body.push(say("With the first guess, all pipes worked like this come to:"));
        body.push(table(
            vec![
                vec![t("pipe")],
                vec![m(sym("h_L"))],
                vec![m(sym("f"))],
                vec![m(sym("V"))],
                vec![m(sym("Re"))],
                vec![m(sym("Q"))],
                in_line(sym("Q") / sym("h_L")),
            ],
            vec![false, true, true, true, true, true, true],
            rows,
        ));
        let mut leaves: Vec<(bool, Expr)> = (0..links.len())
            .filter(|&link| flows[link] != 0.0)
            .map(|link| (links[link].to == junction, self.flow_symbol(link)))
            .collect();
        match &self.case.system.nodes[junction].what {
            NodeKind::Junction { demand: Some(_), .. } => {
                leaves.push((false, sym(own_result("q", self.node_name(junction)))));
            }
            NodeKind::Junction { supply: Some(_), .. } => {
                leaves.push((true, sym(own_result("s", self.node_name(junction)))));
            }
            _ => {}
        }
        let formula = sum(leaves);
        let left = self.cell(Kind::Flow, scale, into);
        let mut lines = vec![
            Line::equal(sym("Q_left"), formula.clone())
                .then(Relation::Equal, formula.with_values(&of))
                .then(Relation::Equal, Expr::Number(left.clone())),
        ];
        // The flows of the sum are counted positive.
        if let Some(slopes) = slopes.filter(|_| flows.iter().all(|flow| *flow >= 0.0)) {
            lines.push(
                Line::equal(
                    sym("Delta") * sym("H"),
                    num(2.0) * Expr::Number(left) / slopes.with_values(&of),
                )
                .then(
                    Relation::Equal,
                    Expr::Number(shown(Kind::Length, next - head, self.conventions)),
                ),
            );
        }
        body.push(Block::Equation(lines));
        body.push(say(
            "So the next guess is got, and from there on in the same way:",
        ));
        Ok(body)
    }

    /// A link between two known heads: the factor of fully rough flow, and passes from there to its flow.
    fn in_passes(
        &self,
        link: usize,
        (head, junction): (f64, usize),
        drop: f64,
        state: &path::State,
    ) -> Result<Vec<Block>, EquationError> {
        let links = &self.network().links;
        let (mut w, k) = self.writer_of(link, &state.loss_coefficients);
        let own = |base: &str| self.own_pipe(base, link);
        let path::Element::Pipe(pipe) = (links[link].elements.iter())
            .find(|element| matches!(element, path::Element::Pipe(_)))
            .unwrap_or(&links[link].elements[0])
        else {
            return Ok(Vec::new());
        };
        let guess = Bound {
            quantity: Quantity::new(head, Kind::Length.dimension()),
            written: shown(Kind::Length, head, self.conventions),
        };
        w.of.set(own_result("H", self.node_name(junction)), guess);
        let far = links[link].from + links[link].to - junction;
        let ends = if self.case.solved.heads[far] > head {
            self.head_symbol(far) - self.head_symbol(junction)
        } else {
            self.head_symbol(junction) - self.head_symbol(far)
        };
        let lost = own_result("h_L", self.link_name(link));
        let first = w.line(&lost, &ends, Kind::Length)?;
        let ratio = self.ratio_line(&w, link, state.pipes[0].relative_roughness);
        let relative = Bound {
            quantity: Quantity::number(state.pipes[0].relative_roughness),
            written: shown(Kind::Number, state.pipes[0].relative_roughness, self.conventions),
        };
        w.of.set(own("rr"), relative);
        let f = own("f");
        let rough = w.line(
            &f,
            &crate::solution::laws::fully_rough(sym(own("rr"))),
            Kind::Number,
        )?;
        let Some(mut factor) = w.of.get(&f).map(|bound| bound.quantity.value) else {
            return Ok(Vec::new());
        };
        let friction = sym(f) * (sym(own("L")) / sym(own("D")));
        let heads = k.map_or(friction.clone(), |k| friction + k);
        let velocity = (num(2.0) * sym("g") * sym(lost) / heads).sqrt();
        let line = w.line(&own("V"), &velocity, Kind::Velocity)?;
        let losses: f64 = state.loss_coefficients.iter().sum();
        let mut rows = Vec::new();
        for pass in 1..=ROWS {
            let v = (2.0 * self.network().gravity * drop / (factor * pipe.length / pipe.diameter + losses))
                .sqrt();
            let reynolds = self.network().density * v * pipe.diameter / self.network().dynamic_viscosity;
            let read = darcy(
                Reading::EXACT,
                reynolds,
                state.pipes[0].relative_roughness,
                self.limits,
            );
            rows.push(vec![
                vec![t(format!("{pass}"))],
                vec![self.value(Kind::Number, factor)],
                vec![self.value(Kind::Velocity, v)],
                vec![self.value(Kind::Number, reynolds)],
                vec![self.value(Kind::Number, read)],
            ]);
            let same = self.same(Kind::Number, read, factor, read);
            factor = read;
            if same {
                break;
            }
        }
        Ok(vec![
            Block::Paragraph(vec![
                t("Take the first guess, "),
                m(self.head_symbol(junction)),
                t(" = "),
                self.value(Kind::Length, head),
                t(format!(
                    ", and {}. Its first friction factor is that of fully rough flow:",
                    called(self.link_name(link))
                )),
            ]),
            Block::Equation(vec![first, ratio, rough, line]),
            say("The velocity gives the Reynolds number, and the chart a better factor, until it stands:"),
            passes("pass", rows),
        ])
    }

    /// A flow for each unit of head.
    fn flow_per(&self, si: f64) -> Inline {
        let length = display_unit(Kind::Length, 1.0, self.conventions.units);
        let flow = display_unit(Kind::Flow, self.flow_scale(), self.conventions.units);
        let value = flow.from_si(si * length.to_si(1.0));
        let figures = self.conventions.figures;
        Inline::Value(Written {
            number: round_to_figures(value, figures),
            shown: Shown::new(value, figures),
            figures,
            unit: Unit {
                symbol: format!("({})/{}", flow.symbol, length.symbol),
                factor: flow.to_si(1.0) / length.to_si(1.0),
                dimension: flow.dimension / length.dimension,
                ..Unit::none()
            },
        })
    }

    /// No loops: every flow follows from continuity.
    fn outwards(&self) -> Vec<Step> {
        vec![step(
            "Find the flows from the ends inwards",
            vec![
                say(
                    "There is no loop, and one way only to each junction. Where a pipe leads to the last junction, it carries what \
                     is taken out there; the pipe before it carries that and what is taken out on the way, and so on. No \
                     friction factor is needed for this:",
                ),
                self.flows_table(),
            ],
        )]
    }

    /// Flows that balance are guessed and corrected round each loop in turn.
    fn corrected(&self, loops: &[Loop]) -> Result<Vec<Step>, EquationError> {
        let count = self.network().links.len();
        let scale = self.flow_scale();
        let exact = self.exact();
        // Each loop is begun by a link that no other loop holds, or by the first of a way between reservoirs; moving the
        // solution by a loop keeps every balance, and rounds the numbers with which one begins.
        let mut flows = self.flows().to_vec();
        let unit = display_unit(Kind::Flow, scale, self.conventions.units);
        for way in loops {
            let (link, sense) = way.links[0];
            let round = unit.to_si(round_to_figures(unit.from_si(flows[link]), 1));
            let by = (round - flows[link]) * sense;
            for &(link, sense) in &way.links {
                flows[link] += by * sense;
            }
        }
        let guess = flows.clone();
        let head_scale = (0..count)
            .filter_map(|l| self.head(l, self.flows()[l], &exact))
            .fold(0.0_f64, |most, (h, _, _)| most.max(h.abs()));
        let mut first_round: Vec<(usize, Vec<Passed>, f64)> = Vec::new();
        let mut rows: Vec<(Vec<f64>, Vec<f64>)> = vec![(flows.clone(), vec![f64::NAN; loops.len()])];
        let mut settled = false;
        'rounds: for round in 0..MOST_ROUNDS {
            let mut corrections = Vec::new();
            for (i, way) in loops.iter().enumerate() {
                let (mut over, mut slope) = (-way.head, 0.0);
                let mut detail = Vec::new();
                for &(link, sense) in &way.links {
                    let Some((lost, given, state)) = self.head(link, flows[link], &exact) else {
                        break 'rounds;
                    };
                    let factor = match state.pipes.as_slice() {
                        [pipe] if flows[link] != 0.0 => Some(pipe.darcy_friction_factor),
                        _ => None,
                    };
                    let h = sense * (lost - given);
                    let per_flow = if flows[link] == 0.0 {
                        0.0
                    } else {
                        (lost / flows[link]).abs()
                    };
                    over += h;
                    slope += per_flow;
                    detail.push(Passed {
                        link,
                        flow: sense * flows[link],
                        head: h,
                        per_flow,
                        factor,
                    });
                }
                if slope <= 0.0 {
                    break 'rounds;
                }
                let by = -over / (2.0 * slope);
                if round == 0 {
                    first_round.push((i, detail, by));
                }
                for &(link, sense) in &way.links {
                    flows[link] += by * sense;
                }
                corrections.push(by);
            }
            let there = flows
                .iter()
                .zip(self.flows())
                .all(|(a, b)| self.same(Kind::Flow, scale, *a, *b));
            let still = corrections
                .iter()
                .all(|by| self.same(Kind::Flow, scale, *by, 0.0));
            rows.push((flows.clone(), corrections));
            if there && still {
                settled = true;
                break;
            }
        }
        if !settled {
            return Ok(vec![self.by_computer()]);
        }
        let closed = loops.iter().any(|way| way.from == way.to);
        let mut body = vec![
            say(if closed {
                "Flows are guessed that balance at every node. Round a loop the losses then do not add up to nothing. \
                 Adding the same flow to every link of the loop keeps all balances; how much must be added, the correction, is found as if each \
                 loss went as the square of its flow:"
            } else {
                "Flows are guessed that balance at every node. From one reservoir to another the losses then do not add up to the \
                 difference of their heads. Adding the same flow to every link on that way keeps all balances at junctions; how much must \
                 be added is found as if each loss went as the square of its flow:"
            }),
            Block::Equation(vec![Line::equal(
                sym("C"),
                -(sym("h_over") / (num(2.0) * sym("S"))),
            )]),
            Block::Paragraph(vec![
                t("with "),
                m(sym("h_over")),
                t(" what the heads round the loop, each with its sign, are too large by, and "),
                m(sym("S")),
                t(" the sum of "),
                m(sym("h_L")),
                t("/"),
                m(sym("Q")),
                t(", all counted positive."),
            ]),
        ];
        body.extend(self.first_flows(loops, &guess));
        let first = first_round.iter().flat_map(|(_, detail, _)| detail);
        if let Some(passed) = { first }.find(|passed| guess[passed.link] > 0.0 && self.is_simple(passed.link))
        {
            body.push(say(
                "At its flow each link loses what the equations above say, as here the first one:",
            ));
            body.extend(self.at_a_flow(passed.link, guess[passed.link])?);
        }
        for (i, detail, by) in first_round.iter().take(3) {
            body.push(self.loop_words(*i, &loops[*i]));
            let with_factors = detail.iter().any(|passed| passed.factor.is_some());
            let rows = detail
                .iter()
                .map(|passed| {
                    let mut cells = vec![
                        vec![t(self.link_name(passed.link))],
                        vec![Inline::Value(self.cell(Kind::Flow, scale, passed.flow))],
                    ];
                    if with_factors {
                        cells.push(vec![
                            passed
                                .factor
                                .map_or_else(|| t("–"), |f| self.value(Kind::Number, f)),
                        ]);
                    }
                    cells.extend([
                        vec![Inline::Value(self.cell(Kind::Length, head_scale, passed.head))],
                        vec![self.per_flow(passed.per_flow)],
                    ]);
                    cells
                })
                .collect();
            let mut heads = vec![vec![t("link")], vec![m(sym("Q")), t(" as passed")]];
            if with_factors {
                heads.push(vec![m(sym("f"))]);
            }
            heads.extend([vec![t("head as passed")], in_line(sym("h_L") / sym("Q"))]);
            let numeric = (0..heads.len()).map(|column| column > 0).collect();
            body.push(table(heads, numeric, rows));
            let over: f64 = detail.iter().map(|d| d.head).sum::<f64>() - loops[*i].head;
            let slope: f64 = detail.iter().map(|d| d.per_flow).sum();
            body.push(Block::Paragraph(vec![
                t("Too much by "),
                Inline::Value(self.cell(Kind::Length, head_scale, over)),
                t("; the last column sums to "),
                self.per_flow(slope),
                t("; so the flow round the loop is changed by"),
            ]));
            let value = |written: Inline| match written {
                Inline::Value(written) => Expr::Number(written),
                _ => num(0.0),
            };
            let (over, slope) = (
                Expr::Number(self.cell(Kind::Length, head_scale, over)),
                value(self.per_flow(slope)),
            );
            body.push(Block::Equation(vec![
                Line::equal(sym(format!("C_{}", i + 1)), -(over / (num(2.0) * slope)))
                    .then(Relation::Equal, Expr::Number(self.cell(Kind::Flow, scale, *by))),
            ]));
            if i + 1 < loops.len() {
                body.push(say("The next loop is worked with the flows as they are now."));
            }
        }
        body.push(say("Friction factors are read anew at the new flows, and the loops are gone through again, until no correction can be seen:"));
        let with_flows = count <= COLUMNS;
        let mut heads = vec![vec![t("round")]];
        heads.extend((0..loops.len()).map(|i| vec![m(sym(format!("C_{}", i + 1)))]));
        if with_flows {
            heads.extend((0..count).map(|l| vec![m(self.flow_symbol(l))]));
        }
        let calm = rows
            .iter()
            .position(|(_, by)| by.iter().all(|by| self.same(Kind::Flow, scale, *by, 0.0)));
        let table_rows: Vec<_> = cut(rows.len(), calm.unwrap_or(rows.len()))
            .map(|i| match i {
                None => vec![vec![t("…")]; heads.len()],
                Some(i) => {
                    let (flows, corrections) = &rows[i];
                    let mut cells = vec![vec![t(if i == 0 {
                        "guess".to_owned()
                    } else {
                        format!("{i}")
                    })]];
                    cells.extend(corrections.iter().map(|by| {
                        if by.is_nan() {
                            vec![t("")]
                        } else {
                            vec![Inline::Value(self.cell(Kind::Flow, scale, *by))]
                        }
                    }));
                    if with_flows {
                        cells.extend(
                            flows
                                .iter()
                                .map(|q| vec![Inline::Value(self.cell(Kind::Flow, scale, *q))]),
                        );
                    }
                    cells
                }
            })
            .collect();
        let numeric = vec![true; heads.len()];
        body.push(table(heads, numeric, table_rows));
        if !with_flows {
            body.push(say("The flows are then:"));
            body.push(self.flows_table());
        }
        Ok(vec![step("Guess flows and correct them round the loops", body)])
    }

    /// How the first flows are had: a round number in one link of each loop, the others by continuity.
    fn first_flows(&self, loops: &[Loop], flows: &[f64]) -> Vec<Block> {
        let links = &self.network().links;
        let scale = self.flow_scale();
        let begun: std::collections::BTreeSet<usize> = loops.iter().map(|way| way.links[0].0).collect();
        let mut of = self.results.clone();
        let mut bind = |link: usize| {
            let bound = Bound {
                quantity: Quantity::new(flows[link], Kind::Flow.dimension()),
                written: self.cell(Kind::Flow, scale, flows[link]),
            };
            of.set(own_result("Q", self.link_name(link)), bound);
        };
        begun.iter().for_each(|&link| bind(link));
        let mut open: Vec<usize> = (0..links.len()).filter(|link| !begun.contains(link)).collect();
        let mut found = Vec::new();
        while let Some((node, link)) = (0..self.network().nodes.len())
            .filter(|&node| self.fixed(node).is_none())
            .find_map(|node| {
                let mut here = open
                    .iter()
                    .filter(|&&l| links[l].from == node || links[l].to == node);
                let first = *here.next()?;
                here.next().is_none().then_some((node, first))
            })
        {
            open.retain(|&l| l != link);
            bind(link);
            found.push((node, link));
        }
        // A junction that leaves two flows open would need a guess of its own.
        if !open.is_empty() {
            return Vec::new();
        }
        let mut words = vec![t("To begin with, ")];
        for (i, &link) in begun.iter().enumerate() {
            words.push(t(match i {
                0 => "",
                _ if i + 1 == begun.len() => " and ",
                _ => ", ",
            }));
            words.push(m(self.flow_symbol(link)));
            words.push(t(" = "));
            words.push(Inline::Value(self.cell(Kind::Flow, scale, flows[link])));
        }
        words.push(t(if begun.len() == 1 {
            " is a guess, a round number. Continuity then gives the other flows, one after the other:"
        } else {
            " are guesses, round numbers. Continuity then gives the other flows, one after the other:"
        }));
        let lines = found.into_iter().map(|(node, link)| {
            let what = &self.case.system.nodes[node].what;
            let name = self.node_name(node);
            let mut leaves: Vec<(bool, Expr)> = match what {
                NodeKind::Junction { demand: Some(_), .. } => vec![(true, sym(own_result("q", name)))],
                NodeKind::Junction { supply: Some(_), .. } => vec![(false, sym(own_result("s", name)))],
                _ => Vec::new(),
            };
            leaves.extend(
                (0..links.len())
                    .filter(|&l| l != link && (links[l].from == node || links[l].to == node))
                    .map(|l| (links[l].from == node, self.flow_symbol(l))),
            );
            if links[link].from == node {
                leaves.iter_mut().for_each(|(plus, _)| *plus = !*plus);
            }
            let formula = sum(leaves);
            let value = self.cell(Kind::Flow, scale, flows[link]);
            Line::equal(self.flow_symbol(link), formula.clone())
                .then(Relation::Equal, formula.with_values(&of))
                .then(Relation::Equal, Expr::Number(value))
        });
        vec![Block::Paragraph(words), Block::Equation(lines.collect())]
    }

    /// Whether a link is one round pipe, with its losses.
    fn is_simple(&self, link: usize) -> bool {
        self.network().links[link]
            .elements
            .iter()
            .all(|element| match element {
                path::Element::Pipe(pipe) => pipe.section.is_round(),
                path::Element::Loss { .. } => true,
                path::Element::Pump(_) | path::Element::Turbine(_) => false,
            })
            && self.network().pipes(link) == 1
    }

    /// A writer that knows the results, and the sum of the K of a link as `K` with its name, if there is one.
    fn writer_of(&self, link: usize, losses: &[f64]) -> (Writer<'_>, Option<Expr>) {
        let mut w = Writer {
            of: self.results.clone(),
            conventions: self.conventions,
        };
        let k: f64 = losses.iter().sum();
        if k == 0.0 {
            return (w, None);
        }
        let name = own_result("K", self.link_name(link));
        let bound = Bound {
            quantity: Quantity::number(k),
            written: plain(k),
        };
        w.of.set(name.clone(), bound);
        (w, Some(sym(name)))
    }

    /// The name of the one pipe of a link, as results and symbols have it.
    fn own_pipe(&self, base: &str, link: usize) -> String {
        let names = self.case.system.pipe_names();
        pipe_result(base, names[self.first[link]], names.len())
    }

    /// Velocity, Reynolds number, friction factor and loss of a link of one round pipe, with their numbers.
    fn at_a_flow(&self, link: usize, flow: f64) -> Result<Vec<Block>, EquationError> {
        let Some((_, _, state)) = self.head(link, flow, &self.exact()) else {
            return Ok(Vec::new());
        };
        let pipe = &state.pipes[0];
        let (mut w, k) = self.writer_of(link, &state.loss_coefficients);
        let own = |base: &str| self.own_pipe(base, link);
        let q = own_result("Q", self.link_name(link));
        w.of.set(
            q.clone(),
            Bound {
                quantity: Quantity::new(flow, Kind::Flow.dimension()),
                written: self.cell(Kind::Flow, self.flow_scale(), flow),
            },
        );
        let (d, v, re, f) = (sym(own("D")), own("V"), own("Re"), own("f"));
        let velocity = num(4.0) * sym(q) / (Expr::Pi * d.clone().pow(2));
        let mut lines = vec![w.line(&v, &velocity, Kind::Velocity)?];
        let reynolds = sym("rho") * sym(v.clone()) * d.clone() / sym("mu");
        lines.push(w.line(&re, &reynolds, Kind::Number)?);
        let mut body = Vec::new();
        if pipe.regime == Regime::Laminar {
            lines.push(w.line(&f, &(num(64.0) / sym(re)), Kind::Number)?);
            body.push(Block::Equation(std::mem::take(&mut lines)));
        } else {
            let rough = pipe.relative_roughness > 0.0;
            if rough {
                lines.push(self.ratio_line(&w, link, pipe.relative_roughness));
            }
            body.push(Block::Equation(std::mem::take(&mut lines)));
            body.push(super::check::read_off(
                (sym(re), pipe.reynolds),
                rough.then(|| (sym(own("eps")) / d.clone(), pipe.relative_roughness)),
                (sym(f.clone()), pipe.darcy_friction_factor),
                self.conventions.figures,
            ));
            w.of.set(
                f.clone(),
                Bound {
                    quantity: Quantity::number(pipe.darcy_friction_factor),
                    written: shown(Kind::Number, pipe.darcy_friction_factor, self.conventions),
                },
            );
        }
        let friction = sym(f) * (sym(own("L")) / d);
        let heads = k.map_or(friction.clone(), |k| friction + k) * velocity_head(sym(v));
        let loss = w.line(&own_result("h_L", self.link_name(link)), &heads, Kind::Length)?;
        body.push(Block::Equation(vec![loss]));
        Ok(body)
    }

    /// `ε/D = … = …` of a link of one pipe.
    fn ratio_line(&self, w: &Writer<'_>, link: usize, value: f64) -> Line {
        let ratio = sym(self.own_pipe("eps", link)) / sym(self.own_pipe("D", link));
        Line::single(ratio.clone())
            .then_numbers(&ratio, &w.of, &Unit::none(), self.conventions.figures)
            .then(
                Relation::Equal,
                Expr::Number(shown(Kind::Number, value, self.conventions)),
            )
    }

    fn per_flow(&self, si: f64) -> Inline {
        // Metres for each litre a second read best.
        let length = display_unit(Kind::Length, 1.0, self.conventions.units);
        let flow = display_unit(Kind::Flow, self.flow_scale(), self.conventions.units);
        let value = length.from_si(si * flow.to_si(1.0));
        let unit = Unit {
            symbol: format!("{}/({})", length.symbol, flow.symbol),
            factor: length.to_si(1.0) / flow.to_si(1.0),
            dimension: length.dimension / flow.dimension,
            ..Unit::none()
        };
        let figures = self.conventions.figures;
        Inline::Value(Written {
            number: round_to_figures(value, figures),
            shown: Shown::new(value, figures),
            figures,
            unit,
        })
    }

    fn loop_words(&self, i: usize, way: &Loop) -> Block {
        let names: Vec<String> = way
            .links
            .iter()
            .map(|&(link, sense)| {
                if sense > 0.0 {
                    self.link_name(link).to_owned()
                } else {
                    format!("{} (backwards)", self.link_name(link))
                }
            })
            .collect();
        let mut words = if way.from == way.to {
            vec![
                Inline::Strong(vec![t(format!("Loop {}", i + 1))]),
                t(format!(
                    ": from {} round by {}.",
                    self.node_name(way.from),
                    listed(&names)
                )),
            ]
        } else {
            vec![
                Inline::Strong(vec![t(format!("Loop {}", i + 1))]),
                t(format!(
                    ": from {} to {} by {}. Their heads differ by ",
                    self.node_name(way.from),
                    self.node_name(way.to),
                    listed(&names)
                )),
                self.value(Kind::Length, way.head),
                t("."),
            ]
        };
        words.push(t(" With the flows as they are now:"));
        Block::Paragraph(words)
    }

    // ---- the end ----

    fn check(&self, way: &Way) -> Vec<Block> {
        let names = self.case.system.pipe_names();
        let pipes = self.case.pipes();
        let rows = names
            .iter()
            .zip(&pipes)
            .map(|(name, (link, _, state))| {
                let flows = state.reynolds > 0.0;
                let or_dash = |inline: Inline| if flows { vec![inline] } else { vec![t("–")] };
                vec![
                    vec![t(*name)],
                    vec![Inline::Value(self.cell(
                        Kind::Flow,
                        self.flow_scale(),
                        self.flows()[*link],
                    ))],
                    or_dash(self.value(Kind::Velocity, state.velocity)),
                    or_dash(self.value(Kind::Number, state.reynolds)),
                    or_dash(self.value(Kind::Number, state.darcy_friction_factor)),
                    or_dash(t(state.regime.name())),
                    vec![self.value(Kind::Length, state.major_head_loss)],
                    vec![self.value(Kind::Length, self.case.solved.states[*link].head_loss)],
                ]
            })
            .collect();
        let mut body = vec![
            say(
                "With the flows found, velocity, Reynolds number, friction factor and losses are worked out once more for every pipe:",
            ),
            table(
                vec![
                    vec![t("pipe")],
                    vec![m(sym("Q"))],
                    vec![m(sym("V"))],
                    vec![m(sym("Re"))],
                    vec![m(sym("f"))],
                    vec![t("regime")],
                    vec![m(sym("h_f"))],
                    vec![m(sym("h_L"))],
                ],
                vec![false, true, true, true, true, false, true, true],
                rows,
            ),
        ];
        match way {
            Way::SideBySide => body.push(say("The same head is lost in every link, as it must be.")),
            Way::InLine => body.push(say(
                "The losses add up to the difference of the levels, as they must.",
            )),
            Way::Tree => {}
            _ => body.push(say(
                "At every junction the flows balance, and the heads agree by whichever way one comes.",
            )),
        }
        if pipes.iter().any(|(_, _, s)| s.regime == Regime::Smooth) {
            body.push(say(
                "Smooth means that, by Nikuradse's limit for sand grains, the viscous layer covers the roughness. The chart's \
                 curve for the wall may lie above the smooth one all the same.",
            ));
        }
        if is_laminar(self.case) {
            let of_round = num(64.0) / sym("Re");
            let mut said = vec![t("Every pipe is laminar, so that no chart was needed: ")];
            said.extend(if self.has_ducts() {
                vec![
                    m(sym("f")),
                    t(" is the constant of its section over "),
                    m(sym("Re")),
                    t(", "),
                    m(of_round),
                    t(" in a round one."),
                ]
            } else {
                vec![
                    m(Expr::Compare(
                        Box::new(sym("f")),
                        Relation::Equal,
                        Box::new(of_round),
                    )),
                    t("."),
                ]
            });
            body.push(Block::Paragraph(said));
        } else if pipes.iter().any(|(_, _, s)| s.regime == Regime::Critical) {
            body.push(say(
                "In the critical zone no friction factor is certain, and neither are flows that hang on it.",
            ));
        }
        body
    }

    /// Heads outwards from those that are known, and pressures where elevations are.
    fn heads(&self, w: &mut Writer<'_>) -> Result<Option<Vec<Block>>, EquationError> {
        let nodes = &self.network().nodes;
        let links = &self.network().links;
        let sought = (0..nodes.len()).filter(|&n| self.fixed(n).is_none()).count();
        if !self.case.solved.heads_are_known || sought == 0 {
            return Ok(None);
        }
        let mut known: Vec<bool> = (0..nodes.len())
            .map(|n| match nodes[n] {
                Node::Reservoir { .. } => true,
                Node::Junction { head, .. } => head.is_some(),
            })
            .collect();
        let mut lines = Vec::new();
        let mut rows = Vec::new();
        while let Some((i, link)) = links
            .iter()
            .enumerate()
            .find(|(_, link)| known[link.from] != known[link.to])
        {
            let forward = known[link.from];
            let (from, to) = if forward {
                (link.from, link.to)
            } else {
                (link.to, link.from)
            };
            known[to] = true;
            // With the flow a head falls by what is lost; a pump raises it towards `to`.
            let falls = (self.flows()[i] >= 0.0) == forward;
            let mut terms = vec![
                (true, self.head_symbol(from)),
                (!falls, sym(own_result("h_L", self.link_name(i)))),
            ];
            for (is_turbine, term) in self.machine_terms(i) {
                terms.push((is_turbine != forward, term));
            }
            let name = own_result("H", self.node_name(to));
            if sought <= 8 {
                lines.push(w.line(&name, &sum(terms), Kind::Length)?);
            }
            rows.push(to);
        }
        let mut body = vec![say(
            "From a known head the others follow: along a link the head falls by what is lost in the direction of the flow, \
             and rises by what a pump gives.",
        )];
        if sought <= 8 {
            body.push(Block::Equation(lines));
        } else {
            let rows = rows
                .into_iter()
                .map(|node| {
                    vec![
                        vec![t(self.node_name(node))],
                        vec![self.value(Kind::Length, self.case.solved.heads[node])],
                    ]
                })
                .collect();
            body.push(table(
                vec![vec![t("node")], vec![t("head")]],
                vec![false, true],
                rows,
            ));
        }
        let mut lines = Vec::new();
        for (node, what) in nodes.iter().enumerate() {
            if let Node::Junction {
                elevation: Some(_), ..
            } = what
                && lines.len() < 8
            {
                let name = self.node_name(node);
                let formula = sym("rho") * sym("g") * (self.head_symbol(node) - sym(own_result("z", name)));
                lines.push(w.line(&own_result("p", name), &formula, Kind::Pressure)?);
            }
        }
        if !lines.is_empty() {
            body.push(say(
                "Where the elevation is known, what the head has above it is pressure:",
            ));
            body.push(Block::Equation(lines));
        }
        Ok(Some(body))
    }
}

/// `a = b = c`
fn chain(all: Vec<Expr>) -> Line {
    let mut all = all.into_iter();
    let mut line = Line::single(all.next().unwrap_or_else(|| num(0.0)));
    for next in all {
        line = line.then(crate::equation::Relation::Equal, next);
    }
    line
}

/// Which rows a table shows of so many: up to the one from which nothing moves that can be seen but for a last
/// figure, or the first ones; a gap (`None`) where some are left out; and the last.
fn cut(rows: usize, calm: usize) -> impl Iterator<Item = Option<usize>> {
    let head = (calm + 1).min(if rows <= ROWS { rows } else { ROWS - 2 });
    let gap = (head + 1 < rows).then_some(None);
    let last = (head < rows).then_some(Some(rows - 1));
    (0..head).map(Some).chain(gap).chain(last)
}

/// A number rounded to the decimals of another.
fn decimals(scale: f64, value: f64, unit: &Unit, figures: u32) -> Written {
    let place = |x: f64| {
        if x > 0.0 {
            libm::floor(libm::log10(x)) as i32
        } else {
            0
        }
    };
    let last = place(scale) - (figures as i32 - 1);
    let step = libm::pow(10.0, f64::from(last));
    let rounded = libm::round(value / step);
    if rounded == 0.0 {
        return Written {
            number: 0.0,
            shown: Shown::new(0.0, 1),
            figures: 1,
            unit: unit.clone(),
        };
    }
    let figures = place(rounded.abs()).max(0) as u32 + 1;
    Written {
        number: round_to_figures(value, figures),
        shown: Shown::new(value, figures),
        figures,
        unit: unit.clone(),
    }
}

/// A pure number as short as it can be written.
fn plain(value: f64) -> Written {
    super::working::short(round_to_figures(value, 4))
}
