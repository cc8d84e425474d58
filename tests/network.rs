//! Networks held against outside numbers, against laws, and against what is hard to solve.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::hydraulics::curve::Curve;
use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::network::{Link, Network, Node, SolveError, Solved, Warning, solve};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity,
};

use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve as path_solve;
use proptest::prelude::*;
use serde_json::Value;

fn pipe(diameter: f64, length: f64, roughness: f64) -> Element {
    Element::Pipe(Pipe {
        diameter,
        length,
        roughness,
        section: Section::ROUND,
    })
}

fn loss(coefficient: f64) -> Element {
    Element::Loss {
        coefficient,
        law: LossLaw::Fixed,
        pipe: 0,
    }
}

fn pump(duty: Duty) -> Element {
    Element::Pump(Machine::new(duty, 1.0))
}

fn reservoir(level: f64) -> Node {
    Node::Reservoir { level, pressure: 0.0 }
}

fn junction(demand: f64) -> Node {
    Node::Junction {
        elevation: None,
        demand,
        head: None,
    }
}

fn at_elevation(elevation: f64, demand: f64) -> Node {
    Node::Junction {
        elevation: Some(elevation),
        demand,
        head: None,
    }
}

fn link(from: usize, to: usize, elements: Vec<Element>) -> Link {
    Link { from, to, elements }
}

/// Water at 20 °C.
fn water(nodes: Vec<Node>, links: Vec<Link>) -> Network {
    Network {
        density: 998.207,
        dynamic_viscosity: 1.0016e-3,
        vapour_pressure: Some(2339.2),
        atmosphere: 101_325.0,
        gravity: 9.806_65,
        nodes,
        links,
    }
}

fn readings(network: &Network, reading: Reading) -> Vec<Reading> {
    (0..network.links.len())
        .flat_map(|link| (0..network.pipes(link)).map(move |_| reading))
        .collect()
}

fn solved(network: &Network) -> Result<Solved, SolveError> {
    solve(network, &readings(network, Reading::EXACT), &Limits::default())
}

fn near(what: &str, ours: f64, theirs: f64, tolerance: f64) {
    assert!(
        (ours - theirs).abs() <= tolerance * theirs.abs(),
        "{what}: {ours} for {theirs}"
    );
}

// Outside numbers.

/// A row's pipes as links, between the nodes that `ends` gives each.
fn of_row(row: &Value, nodes: Vec<Node>, ends: impl Fn(usize) -> (usize, usize)) -> Network {
    let number = |v: &Value| v.as_f64().unwrap();
    let links = row["inputs"]["pipes"]
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let (from, to) = ends(i);
            link(
                from,
                to,
                vec![
                    pipe(number(&p["D"]), number(&p["L"]), number(&p["eps"])),
                    loss(number(&p["K"])),
                ],
            )
        })
        .collect();
    Network {
        density: number(&row["fluid"]["rho"]),
        dynamic_viscosity: number(&row["fluid"]["mu"]),
        vapour_pressure: None,
        atmosphere: 101_325.0,
        gravity: number(&row["g"]),
        nodes,
        links,
    }
}

#[test]
fn reference_networks_come_out() {
    let mut seen = 0;
    for line in include_str!("data/networks.jsonl").lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        let id = row["id"].as_str().unwrap();
        let inputs = &row["inputs"];
        let number = |v: &Value| v.as_f64().unwrap();
        let count = inputs["pipes"].as_array().unwrap().len();
        let network = match row["type"].as_str().unwrap() {
            "parallel_given_total_flow" => {
                let total = number(&inputs["Q_total_m3s"]);
                of_row(&row, vec![junction(-total), junction(total)], |_| (0, 1))
            }
            "three_reservoir" => {
                let mut nodes: Vec<Node> = (0..3)
                    .map(|i| reservoir(number(&inputs["reservoir_levels_m"][i])))
                    .collect();
                nodes.push(junction(number(&inputs["junction_demand_m3s"])));
                of_row(&row, nodes, |i| (i, 3))
            }
            "series_parallel" => {
                let nodes = vec![
                    reservoir(number(&inputs["head_m"])),
                    reservoir(0.0),
                    junction(0.0),
                    junction(0.0),
                ];
                of_row(&row, nodes, |i| [(0, 2), (2, 3), (2, 3), (3, 1)][i])
            }
            "two_loop_network" => {
                let nodes = (1..=6)
                    .map(|i| Node::Junction {
                        elevation: None,
                        demand: -number(&inputs["node_inflow_m3s"][i.to_string()]),
                        head: (i == 1).then(|| number(&inputs["H_node1_m"])),
                    })
                    .collect();
                let end = |i: usize, key: &str| inputs["pipes"][i][key].as_u64().unwrap() as usize - 1;
                of_row(&row, nodes, |i| (end(i, "from_node"), end(i, "to_node")))
            }
            other => panic!("{other}"),
        };
        let ours = solved(&network).unwrap();
        let theirs = &row["solution"];
        for i in 0..count {
            near(id, ours.flows[i], number(&theirs["Q_m3s"][i]), 1e-9);
            let at = &ours.states[i].pipes[0];
            let row = &theirs["pipes"][i];
            near(id, at.velocity, number(&row["V"]).abs(), 1e-9);
            near(id, at.reynolds, number(&row["Re"]), 1e-9);
            near(id, at.darcy_friction_factor, number(&row["f"]), 1e-9);
            near(id, ours.states[i].head_loss, number(&row["h_loss_m"]).abs(), 1e-9);
        }
        for (key, ours) in [
            ("H_junction_m", ours.heads.last().copied().unwrap()),
            ("h_loss_m", (ours.heads[0] - ours.heads[1]).abs()),
        ] {
            if let Some(head) = theirs[key].as_f64() {
                near(id, ours, head, 1e-9);
            }
        }
        if let Some(heads) = theirs["H_nodes_m"].as_object() {
            for (node, head) in heads {
                let node: usize = node.parse().unwrap();
                near(id, ours.heads[node - 1], number(head), 1e-9);
            }
        }
        seen += 1;
    }
    assert_eq!(seen, 7);
}

/// Numbers that textbooks print, and what an independent recomputation gives; sources in the row.
fn published(id: &str) -> (Value, f64, f64) {
    let mut reader = csv::Reader::from_reader(include_bytes!("data/worked_examples.csv").as_slice());
    let record = reader
        .records()
        .map(Result::unwrap)
        .find(|r| &r[0] == id)
        .unwrap();
    let recomputed = if record[10].is_empty() {
        &record[12]
    } else {
        &record[10]
    };
    (
        serde_json::from_str(&record[5]).unwrap(),
        record[9].parse().unwrap(),
        recomputed.parse().unwrap(),
    )
}

fn held_to(id: &str, ours: f64) {
    let (_, printed, recomputed) = published(id);
    near(id, ours, recomputed, 1e-6);
    near(id, ours, printed, 0.01);
}

#[test]
fn printed_numbers_come_out() {
    let g = 9.81;
    let at = |v: &Value, i: usize| v[i].as_f64().unwrap();
    let network = |g: f64, nu: f64, nodes: Vec<Node>, links: Vec<Link>| Network {
        density: 1000.0,
        dynamic_viscosity: 1000.0 * nu,
        gravity: g,
        vapour_pressure: None,
        ..water(nodes, links)
    };
    let fixed = |factors: &[f64]| -> Vec<Reading> {
        factors
            .iter()
            .map(|&f| Reading {
                law: Law::Fixed(f),
                factor: 1.0,
            })
            .collect()
    };
    let limits = Limits::default();

    // Daugherty and Franzini 8.9: two pipes side by side feed a third.
    let (row, ..) = published("E38a");
    let of = |i: usize| vec![pipe(at(&row["D"], i), at(&row["L"], i), 0.0)];
    let net = network(
        32.2 * 0.3048,
        1e-6,
        vec![
            reservoir(row["head"].as_f64().unwrap()),
            junction(0.0),
            reservoir(0.0),
        ],
        vec![link(0, 1, of(0)), link(0, 1, of(1)), link(1, 2, of(2))],
    );
    let factors: Vec<f64> = (0..3).map(|i| at(&row["f"], i)).collect();
    let ours = solve(&net, &fixed(&factors), &limits).unwrap();
    for (id, flow) in ["E38a", "E38b", "E38c"].into_iter().zip(&ours.flows) {
        held_to(id, *flow);
    }

    // Douglas 14.3: two pipes between two reservoirs; the book's numbers count entrance (0.5) and exit (1).
    let (row, ..) = published("E43a");
    let number = |key: &str| row[key].as_f64().unwrap();
    let side = |d: &str| link(0, 1, vec![pipe(number(d), number("L"), 0.0), loss(1.5)]);
    let net = network(
        g,
        1e-6,
        vec![reservoir(number("h")), reservoir(0.0)],
        vec![side("d1"), side("d2")],
    );
    let ours = solve(&net, &fixed(&[4.0 * number("f_fanning"); 2]), &limits).unwrap();
    held_to("E43a", ours.flows[0]);
    held_to("E43b", ours.flows[1]);

    // Douglas 14.4: one pipe feeds two branches to lower tanks.
    let (row, ..) = published("E44a");
    let of = |i: usize| vec![pipe(at(&row["D"], i), at(&row["L"], i), 0.0)];
    let net = network(
        g,
        1e-6,
        vec![
            reservoir(0.0),
            junction(0.0),
            reservoir(-at(&row["dz"], 0)),
            reservoir(-at(&row["dz"], 1)),
        ],
        vec![link(0, 1, of(0)), link(1, 2, of(1)), link(1, 3, of(2))],
    );
    let ours = solve(
        &net,
        &fixed(&[4.0 * row["f_fanning"].as_f64().unwrap(); 3]),
        &limits,
    )
    .unwrap();
    for (id, flow) in ["E44a", "E44b", "E44c"].into_iter().zip(&ours.flows) {
        held_to(id, *flow);
    }

    // White 6.18, from memory: three pipes side by side.
    let (row, ..) = published("E61");
    let of = |i: usize| vec![pipe(at(&row["D"], i), at(&row["L"], i), at(&row["eps"], i))];
    let net = network(
        g,
        row["nu"].as_f64().unwrap(),
        vec![reservoir(row["h"].as_f64().unwrap()), reservoir(0.0)],
        (0..3).map(|i| link(0, 1, of(i))).collect(),
    );
    held_to("E61", solved(&net).unwrap().flows.iter().sum());
}

#[test]
fn jeppsons_two_loops_come_out() {
    // Jeppson 1974, chapter 5. Which nodes each pipe joins follows from the printed flows: but for the names of
    // equal nodes, one net alone balances them with the inflows at every node.
    let (row, ..) = published("E56a");
    let inch = 0.0254;
    let gallon_a_minute = 231.0 * inch * inch * inch / 60.0;
    let nodes = (1..=6)
        .map(|i| junction(-row["inflows_gpm"][i.to_string()].as_f64().unwrap_or(0.0) * gallon_a_minute))
        .collect();
    let ends = [(1, 2), (3, 2), (4, 3), (1, 4), (2, 5), (6, 5), (6, 3)];
    let links = ends
        .into_iter()
        .enumerate()
        .map(|(i, (from, to))| {
            let number = |key: &str| row[key][i].as_f64().unwrap();
            link(
                from - 1,
                to - 1,
                vec![pipe(
                    number("D_in") * inch,
                    number("L_ft") * 0.3048,
                    row["eps_in"].as_f64().unwrap() * inch,
                )],
            )
        })
        .collect();
    let mut network = water(nodes, links);
    network.dynamic_viscosity = network.density * row["nu_ft2s"].as_f64().unwrap() * 0.3048 * 0.3048;
    network.gravity = 32.2 * 0.3048;
    let ours = solved(&network).unwrap();
    assert!(!ours.heads_are_known);
    for (i, flow) in ours.flows.iter().enumerate() {
        let id = format!("E56{}", char::from(b'a' + i as u8));
        let (_, printed, recomputed) = published(&id);
        near(&id, *flow, printed, 1e-3);
        near(&id, *flow, recomputed, 2e-6);
    }
}

// What is hard.

/// Mass balance, energy of every link, and the counts that every answer must fit.
fn holds(network: &Network, solved: &Solved) {
    let largest = solved.flows.iter().fold(0.0_f64, |m, q| m.max(q.abs()));
    for (i, node) in network.nodes.iter().enumerate() {
        let mut into = 0.0;
        for (link, flow) in network.links.iter().zip(&solved.flows) {
            if link.to == i {
                into += flow;
            }
            if link.from == i {
                into -= flow;
            }
        }
        match node {
            Node::Junction { demand, .. } => {
                assert!(
                    (into - demand).abs() <= 1e-10 * largest,
                    "node {i}: {into} for {demand}"
                );
            }
            Node::Reservoir { .. } => {
                assert!((into + solved.given[i]).abs() <= 1e-10 * largest, "reservoir {i}");
            }
        }
    }
    // Each link is worked out again by the room for paths, from nothing but its flow.
    let mut most = 0.0_f64;
    let mut off = 0.0_f64;
    for (link, &flow) in solved.flows.iter().enumerate() {
        let path = network.path(link, &solved.heads, flow);
        let readings = vec![Reading::EXACT; network.pipes(link)];
        let state = path_solve::state(&path, flow.abs(), &readings, &Limits::default()).unwrap();
        let machines: f64 = state.pump_heads.iter().chain(&state.turbine_heads).sum();
        most = most.max(state.head_loss).max(machines);
        off = off.max(state.residual.abs());
    }
    let digits = solved.heads.iter().fold(0.0_f64, |m, h| m.max(h.abs())) * 1e-14;
    assert!(off <= 1e-10 * most + digits, "{off} of {most}");
}

#[test]
fn worst_cases_settle_or_give_a_clear_fault() {
    let long = || vec![pipe(0.3, 2000.0, 2.6e-4)];
    // Nearly closed valves: K from 1e3 to 1e12, in a loop and in series.
    for k in [1e3, 1e6, 1e9, 1e12] {
        let net = water(
            vec![reservoir(50.0), junction(0.01), junction(0.02), reservoir(48.0)],
            vec![
                link(0, 1, long()),
                link(1, 2, vec![pipe(0.2, 300.0, 2.6e-4), loss(k)]),
                link(0, 2, long()),
                link(2, 3, vec![pipe(0.3, 500.0, 2.6e-4), loss(k)]),
            ],
        );
        holds(&net, &solved(&net).unwrap());
    }
    // All reservoirs level: nothing flows, not even by rounding.
    let level = Node::Reservoir {
        level: 20.0,
        pressure: 0.3 * 998.207 * 9.806_65,
    };
    let net = water(
        vec![reservoir(20.3), level, reservoir(20.3), junction(0.0)],
        (0..3).map(|i| link(i, 3, long())).collect(),
    );
    let ours = solved(&net).unwrap();
    assert_eq!(ours.flows, [0.0; 3]);
    near("head", ours.heads[3], 20.3, 1e-15);
    // A dead end without demand, in a network that flows.
    let net = water(
        vec![reservoir(50.0), junction(0.0), junction(0.0), reservoir(40.0)],
        vec![link(0, 1, long()), link(1, 2, long()), link(1, 3, long())],
    );
    let ours = solved(&net).unwrap();
    holds(&net, &ours);
    assert_eq!(ours.flows[1], 0.0);
    assert_eq!(ours.heads[1], ours.heads[2]);
    // Very short and very long pipes in one loop, wide and narrow.
    for short in [1e-3, 1.0] {
        for diameter in [0.02, 2.0] {
            let net = water(
                vec![
                    reservoir(50.0),
                    junction(0.001),
                    junction(0.002),
                    junction(0.003),
                    reservoir(10.0),
                ],
                vec![
                    link(0, 1, vec![pipe(0.02, 1e5, 2.6e-4)]),
                    link(1, 2, vec![pipe(diameter, short, 2.6e-4)]),
                    link(2, 3, vec![pipe(0.3, 1e5, 2.6e-4)]),
                    link(3, 1, vec![pipe(diameter, short, 2.6e-4)]),
                    link(0, 3, vec![pipe(0.5, 10.0, 2.6e-4)]),
                    link(3, 4, vec![pipe(0.1, 3e4, 2.6e-4)]),
                ],
            );
            holds(&net, &solved(&net).unwrap());
        }
    }
    // Identical pipes side by side share alike, to the last digit.
    let net = water(
        vec![junction(-0.3), junction(0.3)],
        (0..3).map(|_| link(0, 1, long())).collect(),
    );
    let ours = solved(&net).unwrap();
    for flow in ours.flows {
        near("share", flow, 0.1, 1e-15);
    }
    // One reservoir moves past the others: every flow turns round in turn.
    for i in 0..=200 {
        let net = water(
            vec![
                reservoir(50.0),
                reservoir(48.0),
                reservoir(0.5 * f64::from(i)),
                junction(0.0),
            ],
            (0..3).map(|j| link(j, 3, long())).collect(),
        );
        match solved(&net) {
            Ok(ours) => holds(&net, &ours),
            Err(SolveError::OnlyAtJump { reynolds, .. }) => assert!((reynolds - 2300.0).abs() < 1e-6),
            Err(other) => panic!("{i}: {other:?}"),
        }
    }
}

#[test]
fn a_law_that_crosses_only_at_the_jump_gives_a_fault() {
    // At Re 2300 laminar flow takes 0.0278 of L/D velocity heads, turbulent flow at least 0.0473.
    let nu: f64 = 1.0016e-3 / 998.207;
    let velocity = 2300.0 * nu / 0.05;
    let heads = velocity * velocity / (2.0 * 9.806_65) * 40.0 / 0.05;
    let under = |f: f64| {
        water(
            vec![reservoir(f * heads), junction(0.0), reservoir(0.0)],
            vec![
                link(0, 1, vec![pipe(0.05, 20.0, 0.0)]),
                link(1, 2, vec![pipe(0.05, 20.0, 0.0)]),
            ],
        )
    };
    let below = solved(&under(0.0277)).unwrap();
    assert!(below.states[0].pipes[0].reynolds < 2300.0);
    let above = solved(&under(0.0475)).unwrap();
    assert!(above.states[0].pipes[0].reynolds > 2300.0);
    assert!(above.warnings.iter().any(|w| matches!(
        w,
        Warning::Link {
            what: path_solve::Warning::CriticalZone { .. },
            ..
        }
    )));
    for f in [0.0279, 0.035, 0.047] {
        match solved(&under(f)) {
            Err(SolveError::OnlyAtJump { reynolds, .. }) => near("Re", reynolds, 2300.0, 1e-9),
            other => panic!("{f}: {other:?}"),
        }
    }
}

#[test]
fn pumps_with_curves_and_losses_by_length_work_in_networks_as_on_paths() {
    let curve = Curve::quadratic(42.0, -150.0, -6000.0).unwrap();
    let by_length = Element::Loss {
        coefficient: 14.0,
        law: LossLaw::EquivalentLength,
        pipe: 0,
    };
    let elements = vec![
        pipe(0.2, 800.0, 2.6e-4),
        by_length,
        pump(Duty::Curve(curve.clone())),
    ];
    let net = water(
        vec![reservoir(3.0), reservoir(20.0)],
        vec![link(0, 1, elements.clone())],
    );
    let ours = solved(&net).unwrap();
    holds(&net, &ours);
    let problem = path_solve::Problem {
        path: net.path(0, &ours.heads, 1.0),
        flow: f64::NAN,
        unknown: path_solve::Unknown::Flow,
    };
    let theirs = path_solve::solve(&problem, &[Reading::EXACT], &Limits::default()).unwrap();
    near("flow", ours.flows[0], theirs.value, 1e-10);
    // Two such pumps side by side into one main: each gives half, at the head of the curve there.
    let net = water(
        vec![reservoir(3.0), junction(0.0), reservoir(20.0)],
        vec![
            link(0, 1, elements.clone()),
            link(0, 1, elements),
            link(1, 2, vec![pipe(0.25, 900.0, 2.6e-4)]),
        ],
    );
    let ours = solved(&net).unwrap();
    holds(&net, &ours);
    near("half", ours.flows[0], ours.flows[1], 1e-12);
    near(
        "head",
        ours.states[0].pump_heads[0],
        curve.head(ours.flows[0]),
        1e-12,
    );
    // Against more than it can lift it would run backwards.
    let net = water(
        vec![reservoir(3.0), reservoir(60.0)],
        vec![link(
            0,
            1,
            vec![pipe(0.2, 800.0, 2.6e-4), pump(Duty::Curve(curve))],
        )],
    );
    assert!(matches!(solved(&net), Err(SolveError::Backwards { link: 0, .. })));
}

#[test]
fn what_cannot_be_is_a_fault() {
    let long = || vec![pipe(0.3, 2000.0, 2.6e-4)];
    let of = |nodes: Vec<Node>, links: Vec<Link>| solved(&water(nodes, links)).unwrap_err();
    assert_eq!(of(vec![reservoir(1.0)], vec![]), SolveError::NoLinks);
    assert_eq!(
        of(vec![reservoir(1.0), junction(0.0)], vec![link(1, 1, long())]),
        SolveError::NoWay { link: 0 }
    );
    assert_eq!(
        of(
            vec![reservoir(1.0), junction(0.0), junction(0.1), junction(-0.1)],
            vec![link(0, 1, long()), link(2, 3, long())]
        ),
        SolveError::Apart { nodes: vec![2, 3] }
    );
    assert_eq!(
        of(vec![junction(0.1), junction(-0.2)], vec![link(0, 1, long())]),
        SolveError::Unbalanced { short_by: 0.1 - 0.2 }
    );
    assert_eq!(
        of(
            vec![reservoir(3.0), reservoir(1.0)],
            vec![link(0, 1, vec![pipe(0.1, 0.0, 0.0)])]
        ),
        SolveError::NoResistance { link: 0 }
    );
    // A pump of 5 m against 20 m.
    assert!(matches!(
        of(
            vec![reservoir(0.0), reservoir(20.0)],
            vec![link(0, 1, [long(), vec![pump(Duty::Head(5.0))]].concat())]
        ),
        SolveError::Backwards { link: 0, flow } if flow < 0.0
    ));
    // A pump of given power, in a link through which a junction's supply has to run backwards.
    assert!(matches!(
        of(
            vec![reservoir(0.0), junction(-0.1)],
            vec![link(0, 1, [long(), vec![pump(Duty::Power(5.0))]].concat())]
        ),
        SolveError::Backwards { link: 0, .. }
    ));
    // More is taken out than the main can bring: the pressure would fall below that of vapour.
    assert!(matches!(
        of(vec![reservoir(5.0), at_elevation(0.0, 1.0)], vec![link(0, 1, long())]),
        SolveError::DemandNotMet { node: 1, pressure } if pressure < 0.0
    ));
    let head = |h| Node::Junction {
        elevation: None,
        demand: 0.0,
        head: Some(h),
    };
    assert_eq!(
        of(vec![reservoir(5.0), head(3.0)], vec![link(0, 1, long())]),
        SolveError::HeadTwice { node: 1 }
    );
    assert!(matches!(
        of(
            vec![reservoir(5.0), reservoir(3.0)],
            vec![link(0, 1, vec![pipe(-0.1, 3.0, 0.0)])]
        ),
        SolveError::OfLink {
            link: 0,
            why: path_solve::SolveError::Impossible {
                what: "diameter of a pipe",
                ..
            }
        }
    ));
}

// Laws.

/// A number on a logarithmic scale.
fn spread(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (libm::log(low)..libm::log(high)).prop_map(libm::exp)
}

fn any_pipe() -> impl Strategy<Value = Vec<Element>> {
    (
        spread(0.02, 1.0),
        spread(0.1, 5000.0),
        prop_oneof![1 => Just(0.0), 4 => spread(1e-5, 0.03)],
        prop_oneof![2 => Just(0.0), 2 => 0.0..20.0_f64, 1 => spread(1e2, 1e8)],
    )
        .prop_map(|(d, l, rr, k)| vec![pipe(d, l, rr * d), loss(k)])
}

/// A grid of junctions with demands, fed by one to four reservoirs.
fn grid() -> impl Strategy<Value = Network> {
    (2..5_usize, 2..5_usize, 1..4_usize)
        .prop_flat_map(|(wide, high, feeds)| {
            let links = wide * (high - 1) + high * (wide - 1) + feeds;
            (
                Just((wide, high)),
                prop::collection::vec((20.0..60.0_f64, any::<prop::sample::Index>()), feeds),
                prop::collection::vec(prop_oneof![1 => Just(0.0), 2 => spread(1e-5, 0.02)], wide * high),
                prop::collection::vec((any_pipe(), any::<bool>()), links),
            )
        })
        .prop_map(|((wide, high), feeds, demands, pipes)| {
            let mut nodes: Vec<Node> = demands.into_iter().map(junction).collect();
            let mut ends = Vec::new();
            for y in 0..high {
                for x in 0..wide {
                    let here = y * wide + x;
                    if x + 1 < wide {
                        ends.push((here, here + 1));
                    }
                    if y + 1 < high {
                        ends.push((here, here + wide));
                    }
                }
            }
            for (level, at) in feeds {
                ends.push((nodes.len(), at.index(wide * high)));
                nodes.push(reservoir(level));
            }
            let links = ends
                .into_iter()
                .zip(pipes)
                .map(|((from, to), (elements, turned))| {
                    if turned {
                        link(to, from, elements)
                    } else {
                        link(from, to, elements)
                    }
                })
                .collect();
            water(nodes, links)
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Mass balance at every node, energy in every link, so round every loop; or the jump, told.
    #[test]
    fn balance_and_energy_hold(net in grid()) {
        match solved(&net) {
            Ok(ours) => holds(&net, &ours),
            Err(SolveError::OnlyAtJump { .. }) => {}
            Err(other) => prop_assert!(false, "{other:?}"),
        }
    }

    /// Turning a link round turns its flow round, and nothing else.
    #[test]
    fn direction_is_a_matter_of_words(net in grid(), which in any::<prop::sample::Index>()) {
        let Ok(before) = solved(&net) else { return Ok(()) };
        let mut turned = net.clone();
        let at = which.index(net.links.len());
        let link = &mut turned.links[at];
        std::mem::swap(&mut link.from, &mut link.to);
        let after = solved(&turned).unwrap();
        let largest = before.flows.iter().fold(0.0_f64, |m, q| m.max(q.abs()));
        for (i, (a, b)) in before.flows.iter().zip(&after.flows).enumerate() {
            let b = if i == at { -b } else { *b };
            prop_assert!((a - b).abs() <= 1e-11 * largest, "{i}: {a} {b}");
        }
    }

    /// More taken out anywhere lowers every head.
    #[test]
    fn more_demand_never_raises_a_head(net in grid(), which in any::<prop::sample::Index>(), more in spread(1e-5, 0.02)) {
        let Ok(before) = solved(&net) else { return Ok(()) };
        let mut thirsty = net.clone();
        let junctions = net.nodes.iter().filter(|n| matches!(n, Node::Junction { .. })).count();
        if let Node::Junction { demand, .. } = &mut thirsty.nodes[which.index(junctions)] {
            *demand += more;
        }
        let Ok(after) = solved(&thirsty) else { return Ok(()) };
        for (a, b) in before.heads.iter().zip(&after.heads) {
            prop_assert!(*b <= a + 1e-9 * a.abs(), "{a} {b}");
        }
    }

    /// A rougher, longer, narrower or more throttled link carries no more of what flowed in it.
    #[test]
    fn more_resistance_never_helps(net in grid(), which in any::<prop::sample::Index>(), how in 0..4_usize) {
        let Ok(before) = solved(&net) else { return Ok(()) };
        let at = which.index(net.links.len());
        let mut tighter = net.clone();
        for element in &mut tighter.links[at].elements {
            match (element, how) {
                (Element::Pipe(p), 0) => p.length *= 1.5,
                (Element::Pipe(p), 1) => p.diameter *= 0.9,
                (Element::Pipe(p), 2) => p.roughness = 1.3 * p.roughness + 1e-4 * p.diameter,
                (Element::Loss { coefficient, .. }, 3) => *coefficient = 2.0 * *coefficient + 5.0,
                _ => {}
            }
        }
        let Ok(after) = solved(&tighter) else { return Ok(()) };
        let largest = before.flows.iter().fold(0.0_f64, |m, q| m.max(q.abs()));
        prop_assert!(after.flows[at].abs() <= before.flows[at].abs() + 1e-9 * largest);
    }

    /// A network of one path is that path.
    #[test]
    fn one_link_is_a_path(
        elements in prop::collection::vec(any_pipe(), 1..4),
        fall in spread(0.01, 50.0),
        lift in prop_oneof![2 => Just(None), 1 => spread(0.5, 20.0).prop_map(|h| Some(Duty::Head(h))),
            1 => spread(10.0, 1e4).prop_map(|p| Some(Duty::Power(p)))],
    ) {
        let mut elements = elements.concat();
        // Each loss on the pipe before it.
        let mut seen = 0;
        for element in &mut elements {
            match element {
                Element::Pipe(_) => seen += 1,
                Element::Loss { pipe, .. } => *pipe = seen - 1,
                _ => {}
            }
        }
        elements.extend(lift.map(pump));
        let net = water(vec![reservoir(fall), reservoir(0.0)], vec![link(0, 1, elements.clone())]);
        let surface = |elevation| Station { pressure: 0.0, elevation, velocity: StationVelocity::Value(0.0), alpha: None };
        let path = Path {
            density: net.density, dynamic_viscosity: net.dynamic_viscosity, vapour_pressure: None,
            atmosphere: net.atmosphere, gravity: net.gravity, start: surface(fall), end: surface(0.0), elements, points: Vec::new(),
        };
        let readings = readings(&net, Reading::EXACT);
        let problem = path_solve::Problem { path, flow: f64::NAN, unknown: path_solve::Unknown::Flow };
        match (solved(&net), path_solve::solve(&problem, &readings, &Limits::default())) {
            (Ok(ours), Ok(theirs)) => {
                let off = (ours.flows[0] / theirs.value - 1.0).abs();
                prop_assert!(off < 1e-10, "{} {}", ours.flows[0], theirs.value);
            }
            (Err(SolveError::OnlyAtJump { pipe, .. }), Err(path_solve::SolveError::OnlyAtJump { pipe: same, .. })) => {
                prop_assert_eq!(pipe, same);
            }
            (ours, theirs) => prop_assert!(false, "{ours:?} {theirs:?}"),
        }
    }

    /// A square fed at one corner, tapped at the opposite one, is the same on both sides of the diagonal.
    #[test]
    fn what_is_alike_flows_alike(near_feed in any_pipe(), far in any_pipe(), bridge in any_pipe(), demand in spread(1e-4, 0.05)) {
        let net = water(
            vec![junction(-demand), junction(0.0), junction(0.0), junction(demand)],
            vec![
                link(0, 1, near_feed.clone()), link(0, 2, near_feed),
                link(1, 3, far.clone()), link(2, 3, far), link(1, 2, bridge),
            ],
        );
        match solved(&net) {
            Ok(ours) => {
                holds(&net, &ours);
                prop_assert!((ours.flows[0] - ours.flows[1]).abs() <= 1e-12 * demand);
                prop_assert!((ours.flows[2] - ours.flows[3]).abs() <= 1e-12 * demand);
                prop_assert!(ours.flows[4].abs() <= 1e-9 * demand, "{}", ours.flows[4]);
            }
            Err(SolveError::OnlyAtJump { .. }) => {}
            Err(other) => prop_assert!(false, "{other:?}"),
        }
    }
}
