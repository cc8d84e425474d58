//! Flows that share a head, shared out by a rule.

use super::library::How;
use super::setup::Setup;
use crate::hydraulics::network::{Link, Network, Node, solve};
use crate::hydraulics::path::Element;
use crate::solution::network::NetworkCase;

/// Puts a slip into a solved network; says whether it changed anything. The flows of links side by side are shared out
/// by area, or evenly, and everything is worked from them.
pub(super) fn after(how: How, case: &mut NetworkCase, setup: &Setup) -> bool {
    if case.network.nodes.len() != 2 || case.network.links.len() < 2 {
        return false;
    }
    let total: f64 = case.solved.flows.iter().sum();
    let flows: Vec<f64> = if how == How::SharedByArea {
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
        areas.iter().map(|area| total * area / sum).collect()
    } else {
        let links = case.network.links.len();
        vec![total / links as f64; links]
    };
    match shared(case, &flows, setup) {
        Some(slipped) => {
            *case = slipped;
            true
        }
        None => false,
    }
}

/// Links side by side with flows as someone shared them: each worked by itself.
fn shared(case: &NetworkCase, flows: &[f64], setup: &Setup) -> Option<NetworkCase> {
    let mut slipped = case.clone();
    let mut before = 0;
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
        let pipes = case.network.pipes(i);
        let readings = setup.readings.get(before..before + pipes)?;
        before += pipes;
        let alone = solve(&network, readings, &setup.limits).ok()?;
        slipped.solved.flows[i] = if turned { -flow } else { flow };
        slipped.solved.states[i] = alone.states.into_iter().next()?;
    }
    Some(slipped)
}
