//! How careful work on a network varies beyond its readings.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::network::{Network, Node};
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::Solution as _;
use crate::solution::network::NetworkCase;

/// What three figures in flows and heads leave open of a result \[SI\].
///
/// Who guesses heads or corrects loops stops when what is left over at a node can't be seen beside the largest flow, and
/// when round a loop it can't be seen beside the largest head: half a unit of the third figure of either.
pub(super) fn slack(case: &NetworkCase, result: &str) -> f64 {
    let value = |case: &NetworkCase| case.found().into_iter().find(|f| f.name == result).map(|f| f.si);
    let Some(reference) = value(case) else { return 0.0 };
    let solved = &case.solved;
    let most = |values: &mut dyn Iterator<Item = f64>| values.fold(0.0_f64, |most, v| most.max(v.abs()));
    let flow = super::working::half_unit(most(&mut solved.flows.iter().copied()), 0.0);
    let head = super::working::half_unit(most(&mut solved.states.iter().map(|s| s.head_loss)), 0.0);
    let readings = vec![Reading::EXACT; case.flowing().len()];
    let moved = |network: Network| {
        case.with(network, &readings, &Limits::default())
            .ok()
            .and_then(|case| value(&case))
            .map_or(0.0, |other| (other - reference).abs())
    };
    let has_reservoir = (case.network.nodes.iter()).any(|node| matches!(node, Node::Reservoir { .. }));
    let mut open = 0.0;
    for i in 0..case.network.nodes.len() {
        let mut network = case.network.clone();
        match &mut network.nodes[i] {
            Node::Reservoir { level, .. } => *level += head,
            Node::Junction { demand, .. } => *demand += flow,
        }
        // Without a reservoir what is taken out here is put in elsewhere.
        if !has_reservoir {
            let other = usize::from(i == 0);
            if let Some(Node::Junction { demand, .. }) = network.nodes.get_mut(other) {
                *demand -= flow;
            }
        }
        open += moved(network);
    }
    open
}

/// The working redone from results that are taken for true.
pub(super) fn rework(
    _case: &NetworkCase,
    _taken: &[(String, f64)],
    _readings: &[Reading],
    _limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    None
}

/// What the hand method writes down on the way.
pub(super) fn written(_case: &NetworkCase) -> Vec<String> {
    Vec::new()
}
