//! Speed of the network solver on grids of junctions with demands, fed at two corners: how time grows with the
//! number of pipes.

use criterion::{Criterion, criterion_group, criterion_main};
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::network::{Link, Network, Node, solve};
use gradeline::hydraulics::path::{Element, LossLaw, Pipe, Section};
use gradeline::hydraulics::regime::Limits;
use std::hint::black_box;

/// A number from 0 to 1 for each index, well spread.
fn share(i: usize, salt: usize) -> f64 {
    ((i * 37 + salt * 11) % 101) as f64 / 100.0
}

/// A grid `wide` by `high`; every third junction takes nothing out.
fn grid(wide: usize, high: usize) -> Network {
    let count = wide * high;
    let total = 0.2 * (wide.min(high)) as f64;
    let mut nodes: Vec<Node> = (0..count)
        .map(|i| Node::Junction {
            elevation: None,
            demand: if i % 3 == 0 {
                0.0
            } else {
                total / count as f64 * (0.5 + share(i, 2))
            },
            head: None,
        })
        .collect();
    let mut links = Vec::new();
    let mut join = |from, to, diameter, length| {
        let pipe = Element::Pipe(Pipe {
            diameter,
            length,
            roughness: 2.6e-4,
            section: Section::ROUND,
        });
        let valve = Element::Loss {
            coefficient: 4.0 * share(links.len(), 3),
            law: LossLaw::Fixed,
            pipe: 0,
        };
        links.push(Link {
            from,
            to,
            elements: vec![pipe, valve],
        });
    };
    for i in 0..count {
        let (diameter, length) = (0.15 + 0.35 * share(i, 4), 100.0 + 400.0 * share(i, 5));
        if i % wide + 1 < wide {
            join(i, i + 1, diameter, length);
        }
        if i + wide < count {
            join(i, i + wide, diameter, length);
        }
    }
    for (level, corner) in [(120.0, 0), (110.0, count - 1)] {
        join(nodes.len(), corner, 1.0, 200.0);
        nodes.push(Node::Reservoir { level, pressure: 0.0 });
    }
    Network {
        density: 998.2,
        dynamic_viscosity: 1.0016e-3,
        vapour_pressure: Some(2339.2),
        atmosphere: 101_325.0,
        gravity: 9.806_65,
        nodes,
        links,
    }
}

fn networks(c: &mut Criterion) {
    for (wide, high) in [(3, 2), (8, 7), (23, 23), (71, 71)] {
        let network = grid(wide, high);
        let readings = vec![Reading::EXACT; network.links.len()];
        // Among thousands of pipes some are sure to lie at the jump between laminar and turbulent flow, where a
        // network has no answer; so none counts as laminar here.
        let limits = Limits {
            laminar_end: 0.0,
            ..Limits::default()
        };
        match solve(&network, &readings, &limits) {
            Ok(solved) => println!("{} pipes: {} steps", network.links.len(), solved.steps),
            Err(error) => panic!("{} pipes: {error:?}", network.links.len()),
        }
        c.bench_function(&format!("network/{}_pipes", network.links.len()), |b| {
            b.iter(|| solve(black_box(&network), &readings, &limits));
        });
    }
}

criterion_group!(benches, networks);
criterion_main!(benches);
