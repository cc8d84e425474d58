//! Writes random networks with the solver's answers, one JSON object a line, for
//! `tests/differential/network.py`, which works each out again by loop flows.
//!
//! Run it through `tests/differential/run.sh`.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod dice;

use dice::Dice;
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::network::{Link, Network, Node, SolveError, solve};
use gradeline::hydraulics::path::{Duty, Element, LossLaw, Machine, OverFlow, Pipe, Section};
use gradeline::hydraulics::regime::Limits;
use serde_json::{Value, json};
use std::io::Write;

/// A run of one or two pipes with losses, from one node to another, turned round at random.
fn link(dice: &mut Dice, width: f64, a: usize, b: usize) -> Link {
    let mut elements = Vec::new();
    for i in 0..1 + dice.below(2) {
        let diameter = width * dice.between(0.6, 1.6);
        let relative_roughness = if dice.chance(0.2) {
            0.0
        } else {
            dice.spread(1e-5, 0.02)
        };
        elements.push(Element::Pipe(Pipe {
            diameter,
            length: diameter * dice.spread(50.0, 10_000.0),
            roughness: relative_roughness * diameter,
            section: Section::ROUND,
        }));
        for _ in 0..dice.below(3) {
            elements.push(Element::Loss {
                coefficient: if dice.chance(0.05) {
                    dice.spread(1e2, 1e6)
                } else {
                    dice.between(0.0, 8.0)
                },
                law: LossLaw::Fixed,
                pipe: i,
            });
        }
    }
    let (from, to) = if dice.chance(0.5) { (a, b) } else { (b, a) };
    Link { from, to, elements }
}

fn junction(demand: f64) -> Node {
    Node::Junction {
        elevation: None,
        demand,
        head: None,
    }
}

fn reservoir(dice: &mut Dice) -> Node {
    Node::Reservoir {
        level: dice.between(0.0, 60.0),
        pressure: if dice.chance(0.2) {
            dice.between(-2e4, 2e5)
        } else {
            0.0
        },
    }
}

const KINDS: [&str; 5] = ["tree", "parallel", "reservoirs", "grid", "any"];

/// Nodes, and the pairs of them to be joined.
fn nodes_of(dice: &mut Dice, kind: &str, demand: f64) -> (Vec<Node>, Vec<(usize, usize)>) {
    let taken = |dice: &mut Dice| {
        if dice.chance(0.3) {
            0.0
        } else {
            demand * dice.unit()
        }
    };
    let (mut nodes, mut ends) = (Vec::new(), Vec::new());
    match kind {
        "tree" => {
            nodes.push(reservoir(dice));
            for i in 1..3 + dice.below(12) {
                nodes.push(junction(taken(dice)));
                ends.push((dice.below(i), i));
            }
        }
        "parallel" => {
            // A given flow through two to five links side by side, with or without a junction in the middle.
            let total = demand * dice.between(0.3, 2.0);
            nodes.extend([junction(-total), junction(total)]);
            for _ in 0..2 + dice.below(4) {
                ends.push((0, 1));
            }
        }
        "reservoirs" => {
            let count = 3 + dice.below(4);
            nodes.push(junction(taken(dice)));
            nodes.push(junction(taken(dice)));
            ends.push((0, 1));
            for i in 0..count {
                nodes.push(reservoir(dice));
                ends.push((dice.below(2), 2 + i));
            }
        }
        "grid" => {
            let (wide, high) = (2 + dice.below(3), 2 + dice.below(3));
            for y in 0..high {
                for x in 0..wide {
                    let here = y * wide + x;
                    nodes.push(junction(taken(dice)));
                    if x + 1 < wide {
                        ends.push((here, here + 1));
                    }
                    if y + 1 < high {
                        ends.push((here, here + wide));
                    }
                }
            }
            for _ in 0..1 + dice.below(2) {
                ends.push((dice.below(wide * high), nodes.len()));
                nodes.push(reservoir(dice));
            }
        }
        _ => {
            let count = 3 + dice.below(8);
            nodes.push(reservoir(dice));
            for i in 1..count {
                nodes.push(if dice.chance(0.2) {
                    reservoir(dice)
                } else {
                    junction(taken(dice))
                });
                ends.push((dice.below(i), i));
            }
            for _ in 0..dice.below(6) {
                let (a, b) = (dice.below(count), dice.below(count));
                if a != b {
                    ends.push((a, b));
                }
            }
        }
    }
    (nodes, ends)
}

fn network(dice: &mut Dice, kind: &str) -> Network {
    let (density, dynamic_viscosity) = if dice.chance(0.8) {
        (998.2, 1.0016e-3)
    } else {
        (dice.spread(650.0, 1300.0), dice.spread(3e-4, 0.2))
    };
    let width = dice.spread(0.03, 0.8);
    let demand = std::f64::consts::FRAC_PI_4 * width * width * dice.spread(0.05, 2.0);
    let (nodes, ends) = nodes_of(dice, kind, demand);
    let gravity = 9.806_65;
    let links = ends
        .into_iter()
        .map(|(a, b)| {
            let mut link = link(dice, width, a, b);
            if dice.chance(0.06) {
                let head = dice.spread(5.0, 60.0);
                let duty = if dice.chance(0.6) {
                    Duty::Head(head)
                } else {
                    Duty::Power(head * density * gravity * demand)
                };
                let efficiency = dice.between(0.4, 1.0);
                link.elements.push(Element::Pump(Machine::new(duty, efficiency)));
            }
            link
        })
        .collect();
    Network {
        density,
        dynamic_viscosity,
        vapour_pressure: None,
        atmosphere: 101_325.0,
        gravity,
        nodes,
        links,
    }
}

fn node_json(node: &Node) -> Value {
    match node {
        Node::Reservoir { level, pressure } => json!({ "level": level, "p": pressure }),
        Node::Junction { demand, .. } => json!({ "demand": demand }),
    }
}

fn element_json(element: &Element) -> Value {
    match element {
        Element::Pipe(p) => json!({ "kind": "pipe", "D": p.diameter, "L": p.length, "eps": p.roughness }),
        Element::Loss {
            coefficient, pipe, ..
        } => json!({ "kind": "loss", "K": coefficient, "pipe": pipe }),
        Element::Pump(Machine {
            duty: Duty::Power(power),
            efficiency: OverFlow::Value(efficiency),
            ..
        }) => json!({ "kind": "pump", "power": power, "efficiency": efficiency }),
        Element::Pump(Machine {
            duty: Duty::Head(head),
            ..
        }) => json!({ "kind": "pump", "head": head }),
        other => panic!("{other:?}"),
    }
}

#[test]
#[ignore = "writes a file for tests/differential/network.py; run tests/differential/run.sh"]
fn write_networks_for_the_differential_check() {
    let to = std::env::var("GRADELINE_DIFFERENTIAL_NETWORKS")
        .expect("GRADELINE_DIFFERENTIAL_NETWORKS names the file to write");
    let mut out = std::io::BufWriter::new(std::fs::File::create(to).unwrap());
    let mut dice = Dice(19_880_412);
    for i in 0..1000 {
        let kind = KINDS[i % KINDS.len()];
        let network = network(&mut dice, kind);
        let pipes = (0..network.links.len()).map(|link| network.pipes(link)).sum();
        let answer = match solve(&network, &vec![Reading::EXACT; pipes], &Limits::default()) {
            Ok(solved) => json!({ "flows": solved.flows, "heads": solved.heads, "steps": solved.steps }),
            Err(error) => match error {
                SolveError::OnlyAtJump { link, pipe, .. } => {
                    json!({ "error": "only at jump", "link": link, "pipe": pipe })
                }
                // A demand of nothing lies behind a pump of given power.
                SolveError::OfLink { link, .. } => json!({ "error": "without flow", "link": link }),
                SolveError::Backwards { link, .. } => json!({ "error": "backwards", "link": link }),
                other => panic!("{kind}: {other:?}"),
            },
        };
        let line = json!({
            "kind": kind, "rho": network.density, "mu": network.dynamic_viscosity, "g": network.gravity,
            "nodes": network.nodes.iter().map(node_json).collect::<Vec<_>>(),
            "links": network.links.iter().map(|link| json!({
                "from": link.from, "to": link.to,
                "elements": link.elements.iter().map(element_json).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
            "answer": answer,
        });
        writeln!(out, "{line}").unwrap();
    }
    out.flush().unwrap();
}
