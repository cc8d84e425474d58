//! How careful work on a network varies beyond its readings.

use super::working::half_unit;
use crate::bank::names::pipe_result;
use crate::bank::system::network::own_result;
use crate::bank::system::{Duty, Element, Kind as _};
use crate::hydraulics::friction::{Law, Reading, darcy_of};
use crate::hydraulics::network::{Link, Network, Node, Solved, solve_near};
use crate::hydraulics::path::{self, Pipe};
use crate::hydraulics::regime::{Limits, Regime, classify};
use crate::hydraulics::solve::state;
use crate::quantity::Quantity;
use crate::solution::network::NetworkCase;
use crate::solution::{Case, Solution as _};

/// What three figures in flows and heads leave open: the network as it is left at one node after the other.
///
/// Who guesses heads or corrects loops stops when what is left over at a node can't be seen beside the largest flow, and
/// when round a loop it can't be seen beside the largest head: half a unit of the third figure of either. Where there
/// are no loops nothing is corrected, and pipes side by side share a flow by a ratio, so that nothing is left over.
pub(super) fn left_open(case: &NetworkCase, limits: &Limits) -> Vec<Case> {
    let solved = &case.solved;
    let nodes = &case.network.nodes;
    let most = |values: &mut dyn Iterator<Item = f64>| values.fold(0.0_f64, |most, v| most.max(v.abs()));
    let flow = half_unit(most(&mut solved.flows.iter().copied()));
    let head = half_unit(most(&mut solved.states.iter().map(|s| s.head_loss)));
    let readings = vec![Reading::EXACT; case.flowing().len()];
    let junctions = nodes
        .iter()
        .filter(|node| matches!(node, Node::Junction { .. }))
        .count();
    let has_reservoir = junctions < nodes.len();
    if nodes.len() == 2 || case.network.links.len() + usize::from(!has_reservoir) <= junctions {
        return Vec::new();
    }
    // Without a reservoir what is taken out at a node is put in at the first.
    (usize::from(!has_reservoir)..nodes.len())
        .filter_map(|i| {
            let mut network = case.network.clone();
            match &mut network.nodes[i] {
                Node::Reservoir { level, .. } => *level += head,
                Node::Junction { demand, .. } => *demand += flow,
            }
            if !has_reservoir && let Some(Node::Junction { demand, .. }) = network.nodes.first_mut() {
                *demand -= flow;
            }
            let left = case.with(network, &readings, limits).ok()?;
            Some(Case::Network(Box::new(left)))
        })
        .collect()
}

/// The working redone from results that are taken for true: flows, with them velocities, Reynolds numbers, factors and
/// losses pipe by pipe, then heads from node to node, pressures and the power of pumps.
///
/// Where one head tells all flows, it comes before them, and each pipe is worked by itself from it.
pub(super) fn rework(
    case: &NetworkCase,
    taken: &[(String, f64)],
    readings: &[Reading],
    limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    if taken.iter().any(|(_, value)| !value.is_finite()) {
        return None;
    }
    let mut solved = if readings.iter().all(|reading| *reading == Reading::EXACT) {
        case.solved.clone()
    } else {
        solve_near(&case.network, readings, limits, &case.solved.flows).ok()?
    };
    let redone = Redone {
        case,
        taken,
        readings,
        limits,
        names: case.system.pipe_names(),
    };
    redone.flows(&mut solved)?;
    redone.links(&mut solved)?;
    redone.heads(&mut solved);
    let mut numbers = case.numbers_of(&solved);
    for (name, value) in taken {
        if let Some((_, quantity)) = numbers.iter_mut().find(|(known, _)| known == name) {
            quantity.value = *value;
        }
    }
    (numbers.iter().all(|(_, quantity)| quantity.value.is_finite())).then_some(numbers)
}

/// What the hand method writes down on the way: a head that is guessed, flows; velocities and losses of pipes and
/// links; heads, and the heads of pumps.
pub(super) fn written(case: &NetworkCase) -> Vec<String> {
    let system = &case.system;
    let names = system.pipe_names();
    let mut all = Vec::new();
    let hub = case.network.hub();
    all.extend(hub.map(|node| own_result("H", &system.nodes[node].name)));
    all.extend(system.links.iter().map(|link| own_result("Q", &link.name)));
    let mut pipes = names.iter().zip(case.pipes());
    for (i, link) in system.links.iter().enumerate() {
        let own: Vec<_> = pipes.by_ref().take(case.network.pipes(i)).collect();
        let minor = case.solved.states[i].minor_head_losses.iter().any(|h| *h != 0.0);
        for (name, (_, _, state)) in &own {
            let of = |base: &str| pipe_result(base, name, names.len());
            all.extend([of("A"), of("V")]);
            if state.regime == Regime::Laminar {
                all.push(of("f"));
            }
            if minor || own.len() > 1 {
                all.push(of("h_f"));
            }
        }
        all.push(own_result("h_L", &link.name));
        for element in &link.path {
            if let Element::Pump { name, duty, .. } = element
                && !matches!(duty, Duty::Head(_))
            {
                all.push(own_result("h_P", name));
            }
        }
    }
    if case.solved.heads_are_known {
        let sought = (system.nodes.iter().enumerate()).filter(|(i, _)| {
            Some(*i) != hub && matches!(case.network.nodes[*i], Node::Junction { head: None, .. })
        });
        all.extend(sought.map(|(_, node)| own_result("H", &node.name)));
    }
    all
}

/// Losses of links of one pipe, each with the velocity whose head it is had from.
pub(super) fn of_velocity_heads(case: &NetworkCase) -> Vec<(String, String)> {
    let names = case.system.pipe_names();
    let mut pipes = names.iter();
    let mut all = Vec::new();
    for (i, link) in case.system.links.iter().enumerate() {
        let own: Vec<&&str> = pipes.by_ref().take(case.network.pipes(i)).collect();
        if let [pipe] = own.as_slice() {
            all.push((own_result("h_L", &link.name), pipe_result("V", pipe, names.len())));
        }
    }
    all
}

/// Losses of links side by side, which are all the same: of each link, had from the flow of which other, the share of itself
/// by which it is rounded there.
pub(super) fn beside(case: &NetworkCase) -> Vec<(usize, usize, f64)> {
    let links = &case.system.links;
    if case.network.nodes.len() != 2 {
        return Vec::new();
    }
    // The other flow is what is left of all by one that is rounded, and is rounded itself.
    let share = |of: usize, rounded: usize| {
        let flows = &case.solved.flows;
        2.0 * half_unit(flows[rounded]) / flows[of].abs()
    };
    (0..links.len())
        .flat_map(|i| (0..links.len()).filter(move |j| *j != i).map(move |j| (i, j)))
        .flat_map(|(i, j)| [(i, j, share(j, j)), (i, j, share(j, i))])
        .filter(|(.., share)| share.is_finite())
        .collect()
}

/// By which shares of itself each pipe's friction is rounded before flows are found: in what is written for
/// `h_L = R Q²` of its link.
pub(super) fn gathered(case: &NetworkCase) -> Vec<Vec<f64>> {
    (case.pipes().iter())
        .map(|(link, _, state)| {
            let (lost, flow) = (case.solved.states[*link].head_loss, case.solved.flows[*link]);
            let resistance = lost / (flow * flow);
            let share = half_unit(resistance) / resistance * lost / state.major_head_loss;
            if share.is_finite() {
                vec![share]
            } else {
                Vec::new()
            }
        })
        .collect()
}

/// A working redone.
struct Redone<'a> {
    case: &'a NetworkCase,
    taken: &'a [(String, f64)],
    readings: &'a [Reading],
    limits: &'a Limits,
    names: Vec<&'a str>,
}

impl Redone<'_> {
    /// What is taken for a result: names are made only where something of the kind is.
    fn of(&self, base: &str, name: &str) -> Option<f64> {
        self.any_of(base)?;
        let name = own_result(base, name);
        (self.taken.iter()).find_map(|(known, value)| (*known == name).then_some(*value))
    }

    fn of_pipe(&self, base: &str, pipe: usize) -> Option<f64> {
        self.any_of(base)?;
        let name = pipe_result(base, self.names.get(pipe)?, self.names.len());
        (self.taken.iter()).find_map(|(known, value)| (*known == name).then_some(*value))
    }

    fn any_of(&self, base: &str) -> Option<()> {
        let begins = |(known, _): &(String, f64)| known.starts_with(base);
        self.taken.iter().any(begins).then_some(())
    }

    /// Whether a number is another than the one that stands for more than its rounding.
    fn is_other(now: f64, before: f64) -> bool {
        (now - before).abs() > half_unit(before) * (1.0 + 1e-9)
    }

    /// The flows that are taken, of each link: its own, or that of a pipe's velocity.
    fn own_flows(&self, right: &Solved) -> Vec<Option<f64>> {
        let case = self.case;
        let mut own: Vec<Option<f64>> = (case.system.links.iter())
            .map(|link| self.of("Q", &link.name))
            .collect();
        for (i, (link, pipe, _)) in case.pipes().iter().enumerate() {
            let state = &right.states[*link].pipes[i - first_pipe(&case.network, *link)];
            let Some(velocity) = self.of_pipe("V", i) else {
                continue;
            };
            if own[*link].is_none() && Self::is_other(velocity, state.velocity) {
                let area = self.of_pipe("A", i).unwrap_or(pipe.area());
                own[*link] = Some((velocity * area).copysign(right.flows[*link]));
            }
        }
        own
    }

    /// Puts in the flows that are taken, and those that follow from them or from a head.
    ///
    /// A flow that is the right one but for its rounding moves no other: loops have been closed with it.
    fn flows(&self, solved: &mut Solved) -> Option<()> {
        let case = self.case;
        let own = self.own_flows(solved);
        let right = &*solved;
        let network = &case.network;
        let moved: Vec<bool> = (own.iter().zip(&right.flows))
            .map(|(own, right)| own.is_some_and(|own| Self::is_other(own, *right)))
            .collect();
        let mut flows: Vec<f64> = (own.iter().zip(&right.flows))
            .map(|(own, right)| own.unwrap_or(*right))
            .collect();
        let hub = network.hub();
        // A right head says nothing of a flow that was not had from it.
        let head = hub
            .and_then(|hub| Some((hub, self.of("H", &case.system.nodes[hub].name)?)))
            .filter(|(hub, head)| !moved.contains(&true) || Self::is_other(*head, right.heads[*hub]));
        if let Some((hub, head)) = head {
            // From a head of one's own each pipe is worked by itself.
            let shifted = head - right.heads[hub];
            if shifted != 0.0 {
                for (link, flow) in flows.iter_mut().enumerate() {
                    if own[link].is_none() {
                        *flow = self.alone(right, link, hub, head)?;
                    }
                }
            }
        } else if let Some(hub) = hub {
            // The head stands, and so do the flows that it gives; the last is what is left over.
            let last = (0..flows.len()).rfind(|link| own[*link].is_none());
            if let Some(last) = last.filter(|_| moved.contains(&true)) {
                let into = |link: usize| if network.links[link].to == hub { 1.0 } else { -1.0 };
                let over: f64 = (0..flows.len())
                    .map(|link| into(link) * (flows[link] - right.flows[link]))
                    .sum();
                flows[last] -= into(last) * over;
            }
        } else {
            let mut network = network.clone();
            let sources = self.sources(right, &mut network);
            if sources || moved.contains(&true) {
                self.others(right, network, &own, &mut flows);
            }
        }
        for (node, given) in solved.given.iter_mut().enumerate() {
            if let Node::Reservoir { .. } = case.network.nodes[node] {
                *given = (case.network.links.iter().zip(&flows))
                    .map(|(link, flow)| match node {
                        n if n == link.from => *flow,
                        n if n == link.to => -flow,
                        _ => 0.0,
                    })
                    .sum();
            }
        }
        solved.flows = flows;
        Some(())
    }

    /// The flow of a link at the hub, between the head taken there and the reservoir at its other end.
    fn alone(&self, right: &Solved, link: usize, hub: usize, head: f64) -> Option<f64> {
        let case = self.case;
        let Link { from, to, elements } = &case.network.links[link];
        let surface = |node: usize| Node::Reservoir {
            level: if node == hub { head } else { right.heads[node] },
            pressure: 0.0,
        };
        let network = Network {
            nodes: vec![surface(*from), surface(*to)],
            links: vec![Link {
                from: 0,
                to: 1,
                elements: elements.clone(),
            }],
            ..case.network.clone()
        };
        let mut readings = self.readings_of(link);
        for (i, reading) in readings.iter_mut().enumerate() {
            if let Some(factor) = self.of_pipe("f", first_pipe(&case.network, link) + i) {
                *reading = fixed(factor);
            }
        }
        let near = [right.flows[link]];
        let solved = solve_near(&network, &readings, self.limits, &near).ok()?;
        solved.flows.first().copied()
    }

    /// Where a student's flow out of a reservoir is another, the last of its links has the rest, and it leaves the
    /// network where that link ends. Whether anything was moved.
    fn sources(&self, solved: &Solved, network: &mut Network) -> bool {
        let case = self.case;
        let mut any = false;
        for (node, said) in case.system.nodes.iter().enumerate() {
            let Some(given) = self.of("Q_from", &said.name) else {
                continue;
            };
            let right = solved.given[node];
            let last = (network.links.iter()).rfind(|link| link.from == node || link.to == node);
            let end = last.map(|link| link.from + link.to - node);
            if let Some(Node::Junction { demand, .. }) = end.map(|end| &mut network.nodes[end])
                && Self::is_other(given, right)
            {
                *demand += given - right;
                any = true;
            }
        }
        any
    }

    /// The flows that are not taken, solved anew around those that are: what these bring and take away counts as
    /// demand, and nothing is asked of their heads. What can't be in balance stays as it was.
    fn others(&self, right: &Solved, network: Network, own: &[Option<f64>], flows: &mut [f64]) {
        let case = self.case;
        let mut network = network;
        for (link, own) in network.links.clone().iter().zip(own) {
            let Some(flow) = own else { continue };
            for (node, out) in [(link.from, *flow), (link.to, -flow)] {
                if let Node::Junction { demand, .. } = &mut network.nodes[node] {
                    *demand += out;
                }
            }
        }
        // Pieces that the other links join, each by itself.
        let mut piece: Vec<usize> = (0..network.nodes.len()).collect();
        let others: Vec<usize> = (0..own.len()).filter(|link| own[*link].is_none()).collect();
        for _ in 0..piece.len() {
            for &link in &others {
                let Link { from, to, .. } = network.links[link];
                let least = piece[from].min(piece[to]);
                (piece[from], piece[to]) = (least, least);
            }
        }
        let mut pieces: Vec<usize> = others
            .iter()
            .map(|&link| piece[network.links[link].from])
            .collect();
        pieces.sort_unstable();
        pieces.dedup();
        for this in pieces {
            let links: Vec<usize> = (others.iter().copied())
                .filter(|&link| piece[network.links[link].from] == this)
                .collect();
            let nodes: Vec<usize> = (0..piece.len()).filter(|&node| piece[node] == this).collect();
            let at = |node: usize| nodes.iter().position(|n| *n == node).unwrap_or_default();
            let part = Network {
                nodes: nodes.iter().map(|&node| network.nodes[node]).collect(),
                links: (links.iter())
                    .map(|&link| Link {
                        from: at(network.links[link].from),
                        to: at(network.links[link].to),
                        elements: network.links[link].elements.clone(),
                    })
                    .collect(),
                ..case.network.clone()
            };
            let readings: Vec<Reading> = (links.iter()).flat_map(|&link| self.readings_of(link)).collect();
            let near: Vec<f64> = links.iter().map(|&link| right.flows[link]).collect();
            if let Ok(solved) = solve_near(&part, &readings, self.limits, &near) {
                for (&link, flow) in links.iter().zip(solved.flows) {
                    flows[link] = flow;
                }
            }
        }
    }

    fn readings_of(&self, link: usize) -> Vec<Reading> {
        let case = self.case;
        let first = first_pipe(&case.network, link);
        let count = case.network.pipes(link);
        (first..first + count)
            .map(|i| self.readings.get(i).copied().unwrap_or(Reading::EXACT))
            .collect()
    }

    /// Velocity, Reynolds number, factor and losses of each pipe at the flow that stands, each unless it is taken.
    fn links(&self, solved: &mut Solved) -> Option<()> {
        let case = self.case;
        for link in 0..case.network.links.len() {
            let (first, count) = (first_pipe(&case.network, link), case.network.pipes(link));
            let flow = solved.flows[link];
            let heads = vec![0.0; case.network.nodes.len()];
            let path = case.network.path(link, &heads, flow);
            let state_at = |readings: &[Reading]| state(&path, flow.abs(), readings, self.limits).ok();
            let before = solved.states[link].flow;
            let touched = (first..first + count).any(|i| {
                ["V", "Re", "f", "A", "h_f"]
                    .iter()
                    .any(|base| self.of_pipe(base, i).is_some())
            });
            if flow.abs() != before || touched {
                let mut readings = self.readings_of(link);
                let mut now = state_at(&readings)?;
                let pipes: Vec<Pipe> = pipes(&case.network.links[link]);
                let mut speeds = vec![1.0; count];
                for (i, reading) in readings.iter_mut().enumerate() {
                    let (at, pipe) = (&now.pipes[i], &pipes[i]);
                    let velocity = (self.of_pipe("V", first + i))
                        .or_else(|| Some(flow.abs() / self.of_pipe("A", first + i)?))
                        .unwrap_or(at.velocity);
                    speeds[i] = velocity / at.velocity;
                    let reynolds = self.of_pipe("Re", first + i).unwrap_or(at.reynolds * speeds[i]);
                    *reading = match self.of_pipe("f", first + i) {
                        Some(factor) => fixed(factor),
                        None if reynolds == at.reynolds => *reading,
                        None => fixed(darcy_of(
                            &pipe.section,
                            *reading,
                            reynolds,
                            at.relative_roughness,
                            self.limits,
                        )),
                    };
                }
                now = state_at(&readings)?;
                for (i, (at, speed)) in now.pipes.iter_mut().zip(&speeds).enumerate() {
                    if !speed.is_finite() {
                        return None;
                    }
                    at.velocity *= speed;
                    at.reynolds = self.of_pipe("Re", first + i).unwrap_or(at.reynolds * speed);
                    at.major_head_loss *= speed * speed;
                    if let Some(lost) = self.of_pipe("h_f", first + i) {
                        at.major_head_loss = lost;
                    }
                    at.rough_number = at.reynolds * at.darcy_friction_factor.sqrt() * at.relative_roughness;
                    at.regime = classify(at.reynolds, at.rough_number, self.limits);
                }
                let on: Vec<usize> = (path.elements.iter())
                    .filter_map(|element| match element {
                        path::Element::Loss { pipe, .. } => Some(*pipe),
                        _ => None,
                    })
                    .collect();
                for (lost, pipe) in now.minor_head_losses.iter_mut().zip(on) {
                    let speed = speeds.get(pipe).copied().unwrap_or(1.0);
                    *lost *= speed * speed;
                }
                now.head_loss = now.pipes.iter().map(|pipe| pipe.major_head_loss).sum::<f64>()
                    + now.minor_head_losses.iter().sum::<f64>();
                solved.states[link] = now;
            }
            let said = &case.system.links[link];
            let now = &mut solved.states[link];
            if let Some(lost) = self.of("h_L", &said.name) {
                now.head_loss = lost;
            }
            let pumps = said.path.iter().filter_map(|element| match element {
                Element::Pump { name, duty, .. } => Some((name, matches!(duty, Duty::Power(_)))),
                _ => None,
            });
            for (((name, by_power), head), power) in pumps.zip(&mut now.pump_heads).zip(&mut now.pump_powers)
            {
                if let Some(own) = self.of("h_P", name) {
                    if !by_power {
                        *power *= own / *head;
                    }
                    *head = own;
                }
            }
        }
        Some(())
    }

    /// Heads outwards from those that are known, over the first link that leads there; pressures with them.
    fn heads(&self, solved: &mut Solved) {
        let case = self.case;
        if !solved.heads_are_known {
            return;
        }
        let weight = case.network.density * case.network.gravity;
        let mut known: Vec<bool> = (case.network.nodes.iter())
            .map(|node| match node {
                Node::Reservoir { .. } => true,
                Node::Junction { head, .. } => head.is_some(),
            })
            .collect();
        while let Some((i, link)) =
            (case.network.links.iter().enumerate()).find(|(_, link)| known[link.from] != known[link.to])
        {
            let forward = known[link.from];
            let (from, to) = if forward {
                (link.from, link.to)
            } else {
                (link.to, link.from)
            };
            known[to] = true;
            let now = &solved.states[i];
            let given = now.pump_heads.iter().sum::<f64>() - now.turbine_heads.iter().sum::<f64>();
            // Against the link's own direction both change sides.
            let falls = now.head_loss.copysign(solved.flows[i]) - given;
            let head = solved.heads[from] - if forward { falls } else { -falls };
            let name = &case.system.nodes[to].name;
            let of_pressure = match case.network.nodes[to] {
                Node::Junction {
                    elevation: Some(elevation),
                    ..
                } => self.of("p", name).map(|pressure| elevation + pressure / weight),
                _ => None,
            };
            solved.heads[to] = self.of("H", name).or(of_pressure).unwrap_or(head);
        }
        for (node, pressure) in solved.pressures.iter_mut().enumerate() {
            if let (
                Node::Junction {
                    elevation: Some(elevation),
                    ..
                },
                Some(pressure),
            ) = (&case.network.nodes[node], pressure)
            {
                *pressure = weight * (solved.heads[node] - elevation);
            }
        }
    }
}

fn fixed(factor: f64) -> Reading {
    Reading {
        law: Law::Fixed(factor),
        factor: 1.0,
    }
}

/// The index of a link's first pipe among all.
fn first_pipe(network: &Network, link: usize) -> usize {
    (0..link).map(|before| network.pipes(before)).sum()
}

fn pipes(link: &Link) -> Vec<Pipe> {
    (link.elements.iter())
        .filter_map(|element| match element {
            path::Element::Pipe(pipe) => Some(*pipe),
            _ => None,
        })
        .collect()
}
