//! Networks as they are written, solved and worked: the tables of the methods by hand end in the solver's answer.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::bank::prose::{Block, Inline, Table};
use gradeline::bank::system::System;
use gradeline::deal::deal_one;
use gradeline::draw::Seed;
use gradeline::equation::{Expr, Style};
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::Written;
use gradeline::solution::{Case, json, plain_text, worked};

fn solved(yaml: &str) -> Case {
    let system = System::parse(yaml, "network.yaml").unwrap_or_else(|f| panic!("{f}"));
    Case::solve(system, None, &Limits::default()).unwrap_or_else(|f| panic!("{f}"))
}

fn tables(body: &[Block]) -> Vec<&Table> {
    (body.iter())
        .filter_map(|block| match block {
            Block::Table(table) => Some(table),
            _ => None,
        })
        .collect()
}

/// Half a unit of the last figure that is printed, in the printed unit.
fn half_unit(written: &Written) -> f64 {
    if written.number == 0.0 {
        return f64::INFINITY;
    }
    let place = libm::floor(libm::log10(written.number.abs()));
    0.5 * libm::pow(10.0, place + 1.0 - f64::from(written.figures))
}

/// The last row of each table of the method agrees with the solver in every flow and head that it names. Returns how
/// many it named.
fn last_rows_agree(case: &Case) -> usize {
    let conventions = Conventions::default();
    let steps = worked(case, None, &Limits::default(), &conventions).unwrap();
    let results = case.results(&conventions);
    let mut compared = 0;
    let method = steps
        .iter()
        .filter(|step| step.title.starts_with("Guess") || step.title.starts_with("Solve"));
    for table in method.flat_map(|step| tables(&step.body)) {
        let last = table.rows.last().unwrap();
        for (head, cell) in table.head.iter().zip(last) {
            if let [Inline::Math(Expr::Symbol(name))] = head.as_slice()
                && let Some(bound) = results.get(name)
                && let [Inline::Value(written)] = cell.as_slice()
            {
                let exact = written.unit.from_si(bound.quantity.value);
                assert!(
                    (written.number - exact).abs() <= 1.001 * half_unit(written),
                    "{name}: {} for {exact}",
                    written.ascii()
                );
                compared += 1;
            }
        }
    }
    compared
}

const PIPE: &str = "roughness: 0.2 mm";

#[test]
fn pipes_side_by_side_end_in_the_answer() {
    for ends in [
        "- junction: { name: a, supply: 90 L/s }\n  - junction: { name: b, demand: 90 L/s }",
        "- reservoir: { name: a, level: 30 m }\n  - reservoir: { name: b, level: 22 m }",
    ] {
        let case = solved(&format!(
            "fluid: {{ name: water, temperature: 15 degC }}
nodes:
  {ends}
links:
  - {{ from: a, to: b, path: [ {{ pipe: {{ name: wide, diameter: 250 mm, length: 500 m, {PIPE} }} }} ] }}
  - {{ from: b, to: a, path: [ {{ pipe: {{ name: back, diameter: 200 mm, length: 500 m, {PIPE} }} }}, {{ loss: {{ name: bend, K: 3 }} }} ] }}
  - {{ from: a, to: b, path: [ {{ pipe: {{ name: thin, diameter: 150 mm, length: 400 m, roughness: 0 mm }} }} ] }}
"
        ));
        // Three flows and three factors.
        assert_eq!(last_rows_agree(&case), 6);
        let results = case.results(&Conventions::default());
        assert!(results.get("Q_back").unwrap().quantity.value < 0.0);
    }
}

#[test]
fn the_guessed_head_ends_in_the_answer() {
    for (low, demand) in [(20, 0), (20, 35), (60, 10), (79, 70)] {
        let case = solved(&format!(
            "fluid: {{ name: water, temperature: 15 degC }}
nodes:
  - reservoir: {{ name: high, level: 80 m }}
  - reservoir: {{ name: middle, level: 61 m }}
  - reservoir: {{ name: low, level: {low} m }}
  - junction: {{ name: fork, demand: {demand} L/s }}
links:
  - {{ from: high, to: fork, path: [ {{ pipe: {{ name: one, diameter: 250 mm, length: 1500 m, {PIPE} }} }} ] }}
  - {{ from: fork, to: middle, path: [ {{ pipe: {{ name: two, diameter: 200 mm, length: 900 m, {PIPE} }} }} ] }}
  - {{ from: fork, to: low, path: [ {{ pipe: {{ name: three, diameter: 200 mm, length: 1100 m, {PIPE} }} }} ] }}
"
        ));
        // Three flows and the head.
        assert_eq!(last_rows_agree(&case), 4, "{low} {demand}");
    }
}

#[test]
fn corrections_round_loops_end_in_the_answer() {
    let pipe = |name: &str, from: &str, to: &str, d: u32, l: u32| {
        format!(
            "  - {{ from: {from}, to: {to}, path: [ {{ pipe: {{ name: {name}, diameter: {d} mm, length: {l} m, {PIPE} }} }} ] }}\n"
        )
    };
    let links = [
        pipe("p1", "a", "b", 300, 400),
        pipe("p2", "b", "c", 200, 400),
        pipe("p3", "a", "d", 250, 300),
        pipe("p4", "b", "e", 150, 300),
        pipe("p5", "c", "e", 150, 300),
        pipe("p6", "d", "e", 200, 400),
    ]
    .concat();
    let inner = "  - junction: { name: b, demand: 30 L/s }
  - junction: { name: c, demand: 50 L/s }
  - junction: { name: d, demand: 20 L/s }
";
    // Two loops; then one reservoir more, so that one loop leads from one to the other.
    for (last, count) in [
        ("junction: { name: e, demand: 40 L/s }", 6),
        ("reservoir: { name: e, level: 52 m }", 6),
    ] {
        let case = solved(&format!(
            "fluid: {{ name: water, temperature: 15 degC }}\nnodes:\n  - reservoir: {{ name: a, level: 60 m }}\n{inner}  - {last}\nlinks:\n{links}"
        ));
        assert_eq!(last_rows_agree(&case), count);
        let text = plain_text(
            &worked(&case, None, &Limits::default(), &Conventions::default()).unwrap(),
            Style::default(),
        );
        assert!(text.contains("Loop 2"), "{text}");
    }
}

#[test]
fn pipes_in_line_end_in_the_answer() {
    let case = solved(&format!(
        "fluid: {{ name: water, temperature: 15 degC }}
nodes:
  - reservoir: {{ name: high, level: 20 m }}
  - junction: {{ name: joint }}
  - reservoir: {{ name: low, level: 8 m }}
links:
  - {{ from: high, to: joint, path: [ {{ pipe: {{ name: one, diameter: 250 mm, length: 600 m, {PIPE} }} }} ] }}
  - {{ from: joint, to: low, path: [ {{ pipe: {{ name: two, diameter: 150 mm, length: 300 m, {PIPE} }} }} ] }}
"
    ));
    // The one flow and two factors.
    assert_eq!(last_rows_agree(&case), 3);
}

#[test]
fn numbers_come_out_as_json() {
    let case = solved(&format!(
        "fluid: {{ name: water, temperature: 15 degC }}
nodes:
  - reservoir: {{ name: tank, level: 30 m }}
  - junction: {{ name: works, elevation: 4 m, demand: 30 L/s }}
  - junction: {{ name: dead end }}
links:
  - {{ from: works, to: tank, path: [ {{ pipe: {{ name: main, diameter: 200 mm, length: 600 m, {PIPE} }} }} ] }}
  - {{ from: works, to: dead end, path: [ {{ pipe: {{ name: stub, diameter: 100 mm, length: 60 m, {PIPE} }} }} ] }}
"
    ));
    let out: serde_json::Value = serde_json::from_str(&json(&case, &Limits::default())).unwrap();
    assert_eq!(out["links"][0]["flow"], -0.03);
    assert_eq!(out["links"][1]["flow"], 0.0);
    assert!(out["links"][1]["pipes"][0]["friction_factor"].is_null());
    let lost = out["links"][0]["head_loss"].as_f64().unwrap();
    assert!((30.0 - lost - out["nodes"][1]["head"].as_f64().unwrap()).abs() < 1e-9);
    assert_eq!(out["nodes"][0]["given"], 0.03);
}

/// What the solver refuses is told in words of the system.
#[test]
fn refusals_name_nodes_and_links() {
    let pipe = |length: &str, more: &str| {
        format!("[ {{ pipe: {{ name: main, diameter: 150 mm, length: {length}, {PIPE} }} }}{more} ]")
    };
    let cases = [
        (
            "- junction: { name: source, supply: 30 L/s }\n  - junction: { name: works, demand: 35 L/s }",
            pipe("400 m", ""),
            "5.00 L/s more is taken out of the network than is put in",
        ),
        (
            "- reservoir: { name: source, level: 3 m }\n  - reservoir: { name: works, level: 30 m }",
            pipe("400 m", ", { pump: { name: booster, head: 12 m } }"),
            "the flow would run backwards through the machine on `main` (",
        ),
        (
            "- reservoir: { name: source, level: 12 m }\n  - junction: { name: works, elevation: 2 m, demand: 90 L/s }",
            pipe("400 m", ""),
            "`works` can't be given what is taken out there: its absolute pressure would have to be -",
        ),
        (
            "- reservoir: { name: source, level: 12 m }\n  - junction: { name: works }\n  - junction: { name: shed }",
            pipe("400 m", ""),
            "the node `shed` is joined to no fixed head",
        ),
        (
            "- reservoir: { name: source, level: 12 m }\n  - junction: { name: works, head: 5 m }",
            pipe("400 m", ""),
            "the head at `works` is given, though another head is fixed already",
        ),
        (
            "- reservoir: { name: source, level: 12 m }\n  - reservoir: { name: works, level: 5 m }",
            pipe("0 m", ""),
            "the link `main` takes no head at any flow, so that its flow can't be told",
        ),
        (
            "- reservoir: { name: source, level: 12 m }\n  - reservoir: { name: works, level: 5 m }",
            pipe(
                "40 m",
                ", { turbine: { name: wheel, power: 1 kW, efficiency: 0.8 } }",
            ),
            "the turbine on `main` is given by its power, which several flows could make",
        ),
    ];
    for (nodes, path, expected) in cases {
        let yaml = format!(
            "fluid: {{ name: water, temperature: 15 degC }}\nnodes:\n  {nodes}\nlinks:\n  - {{ from: source, to: works, path: {path} }}\n"
        );
        let system = System::parse(&yaml, "network.yaml").unwrap_or_else(|f| panic!("{f}"));
        let faults = Case::solve(system, None, &Limits::default()).unwrap_err();
        assert!(faults.0[0].what.starts_with(expected), "{faults}");
        assert!(faults.0[0].mend.is_some(), "{faults}");
    }
}

#[test]
fn templates_of_networks_are_dealt_well() {
    let (policy, conventions) = (Policy::default(), Conventions::default());
    let bank = builtin_bank();
    let mut seen = 0;
    for template in &bank.templates {
        if !["paper-mill-two-mains", "terraced-basins", "shipyard-ring"].contains(&template.name.as_str()) {
            continue;
        }
        seen += 1;
        let (mut refused, mut all) = (0, Vec::new());
        for student in 0..60_u8 {
            let (dealt, counts) = deal_one(template, &Seed::from_bytes([student; 32]), &policy, &conventions)
                .unwrap_or_else(|f| panic!("{f}"));
            refused += counts.0.values().sum::<u32>();
            if student < 20 {
                assert!(last_rows_agree(&dealt.case) > 0, "{}", template.name);
            }
            all.push(counts);
        }
        assert!(refused < 60 * 6, "{}: {refused} refused: {all:?}", template.name);
    }
    assert_eq!(seen, 3);
}
