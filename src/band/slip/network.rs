//! Slips in working a network.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::network::{Link, Network, Node, solve};
use crate::hydraulics::path::Element;
use crate::hydraulics::regime::Limits;
use crate::solution::network::NetworkCase;
use crate::solution::{Case, Solution as _};

/// Slips in working a network.
pub(super) fn slips(case: &NetworkCase, limits: &Limits) -> Vec<(&'static str, Case)> {
    let mut all = Vec::new();
    let readings = vec![Reading::EXACT; case.flowing().len()];
    let mut add = |name: &'static str, change: &dyn Fn(&mut Network)| {
        let mut network = case.network.clone();
        change(&mut network);
        if network == case.network {
            return;
        }
        if let Ok(slipped) = case.with(network, &readings, limits) {
            all.push((name, Case::Network(Box::new(slipped))));
        }
    };
    let each = |network: &mut Network, change: &dyn Fn(&mut Element)| {
        for link in &mut network.links {
            link.elements.iter_mut().for_each(change);
        }
    };
    add("minor losses left out", &|n| {
        each(n, &|element| {
            if let Element::Loss { coefficient, .. } = element {
                *coefficient = 0.0;
            }
        });
    });
    add("smooth wall for rough", &|n| {
        each(n, &|element| {
            if let Element::Pipe(pipe) = element {
                pipe.roughness = 0.0;
            }
        });
    });
    add("roughness ten times too large", &|n| {
        each(n, &|element| {
            if let Element::Pipe(pipe) = element {
                pipe.roughness *= 10.0;
            }
        });
    });
    add("radius for diameter", &|n| {
        each(n, &|element| {
            if let Element::Pipe(pipe) = element {
                pipe.diameter *= 0.5;
            }
        });
    });
    add("demand left out", &|n| {
        for node in &mut n.nodes {
            if let Node::Junction { demand, .. } = node {
                *demand = 0.0;
            }
        }
    });
    // Flows that share a head, shared by area or evenly: the flows are put in, and everything is worked from them.
    let side_by_side = case.network.nodes.len() == 2 && case.network.links.len() > 1;
    if side_by_side {
        let total: f64 = case.solved.flows.iter().sum();
        let areas: Vec<f64> = (case.network.links.iter())
            .map(|link| {
                let pipes = link.elements.iter().filter_map(|e| match e {
                    Element::Pipe(pipe) => Some(pipe.area()),
                    _ => None,
                });
                pipes.fold(f64::INFINITY, f64::min)
            })
            .collect();
        let sum: f64 = areas.iter().sum();
        let by_area = areas.iter().map(|a| total * a / sum).collect::<Vec<_>>();
        let evenly = vec![total / areas.len() as f64; areas.len()];
        for (name, flows) in [("flow shared by area", by_area), ("flow shared evenly", evenly)] {
            if let Some(slipped) = shared(case, &flows, limits) {
                all.push((name, Case::Network(Box::new(slipped))));
            }
        }
    }
    all
}

/// Links side by side with flows as someone shared them: each worked by itself.
fn shared(case: &NetworkCase, flows: &[f64], limits: &Limits) -> Option<NetworkCase> {
    let mut slipped = case.clone();
    for (i, &flow) in flows.iter().enumerate() {
        let network = Network {
            nodes: [-flow, flow]
                .map(|demand| Node::Junction {
                    elevation: None,
                    demand,
                    head: None,
                })
                .to_vec(),
            links: vec![Link {
                from: 0,
                to: 1,
                elements: case.network.links[i].elements.clone(),
            }],
            ..case.network.clone()
        };
        let turned = case.network.links[i].from != case.network.links[0].from;
        let readings = vec![Reading::EXACT; case.network.pipes(i)];
        let alone = solve(&network, &readings, limits).ok()?;
        slipped.solved.flows[i] = if turned { -flow } else { flow };
        slipped.solved.states[i] = alone.states.into_iter().next()?;
    }
    Some(slipped)
}
