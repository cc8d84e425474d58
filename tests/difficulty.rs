//! Equal difficulty: a class's draws of every template are alike, whoever joins it and however many threads deal.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::course::{
    Conventions, Course, DifficultySpread, Policy, Set, SetProblem, Student, roster,
};
use gradeline::bank::system::System;
use gradeline::bank::template::Template;
use gradeline::bank::{Bank, builtin_bank};
use gradeline::deal::difficulty::{ANOTHER_DIFFICULTY, Difficulty, Target, Way, class_seed};
use gradeline::deal::{Dealt, DealtSet, DealtStudent, deal_one, deal_set_on, record, templates};
use gradeline::draw::CourseKey;
use gradeline::hydraulics::friction::{darcy_colebrook, darcy_fully_rough};
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::round_to_figures;
use gradeline::solution::Case;
use std::sync::Arc;

fn key() -> CourseKey {
    CourseKey::from_bytes(std::array::from_fn(|i| i as u8))
}

fn course() -> Course {
    Course {
        name: "Flow in pipes".to_owned(),
        ..Course::default()
    }
}

fn set(templates: &[&str]) -> Set {
    Set {
        name: "week 3".to_owned(),
        title: "Third week".to_owned(),
        due: None,
        problems: (templates.iter())
            .map(|template| SetProblem {
                template: (*template).to_owned(),
                marks: None,
            })
            .collect(),
        policy: Policy::default(),
    }
}

fn class(count: usize) -> Vec<Student> {
    (0..count)
        .map(|n| Student {
            id: format!("s{n:03}"),
            name: format!("Student {n}"),
            email: String::new(),
        })
        .collect()
}

fn deal(threads: usize, set: &Set, students: usize) -> DealtSet<DealtStudent> {
    deal_set_on(
        threads,
        &course(),
        set,
        &class(students),
        &builtin_bank(),
        &key(),
        &|student| student,
    )
    .unwrap_or_else(|faults| panic!("{faults}"))
}

fn greatest_ratio(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let least = values.clone().fold(f64::INFINITY, f64::min);
    values.fold(0.0, f64::max) / least
}

/// In what a class's draws are further apart than the policy allows.
fn broken(all: &[Difficulty], spread: &DifficultySpread) -> Vec<&'static str> {
    let first = &all[0];
    let mut broken = Vec::new();
    if all.iter().any(|d| d.path != first.path) {
        broken.push("regime path");
    }
    let most = all.iter().map(|d| d.iterations).max().unwrap();
    let fewest = all.iter().map(|d| d.iterations).min().unwrap();
    if most - fewest > spread.iterations {
        broken.push("iterations");
    }
    let apart = |i: usize| greatest_ratio(all.iter().map(move |d| d.steepness[i])) > spread.reading + 1e-12;
    if (0..first.steepness.len()).any(apart) {
        broken.push("steepness");
    }
    let apart = |i: usize| greatest_ratio(all.iter().filter_map(move |d| d.widths[i])) > spread.band + 1e-12;
    if (0..first.widths.len()).any(apart) {
        broken.push("width");
    }
    broken
}

#[test]
fn a_class_of_200_is_dealt_problems_as_hard_as_one_anothers() {
    let bank = builtin_bank();
    let names: Vec<&str> = bank.templates.iter().map(|t| t.name.as_str()).collect();
    let set = set(&names);
    let dealt = deal(4, &set, 200);
    for (n, name) in names.iter().enumerate() {
        let all: Vec<_> = (dealt.students.iter())
            .map(|s| {
                let problem = &s.problems[n];
                Difficulty::of(&problem.case, &problem.accepted, &set.policy.limits)
            })
            .collect();
        assert_eq!(broken(&all, &set.policy.difficulty), [""; 0], "{name}");
        // It must not cost so much that hardly any draw is left.
        let refused = dealt.refused[n].total();
        assert!(refused < 20 * 200, "{name}: {}", dealt.refused[n]);
    }
}

/// The rule removed: the same class, each dealt for themselves.
#[test]
fn without_the_rule_a_class_is_not_alike() {
    let bank = builtin_bank();
    let policy = Policy::default();
    for (name, expected) in [
        ("brewery-two-bores", "regime path"),
        ("penstock-turbine", "width"),
        ("deck-wash-smallest-diameter", "iterations"),
    ] {
        let template = bank.get(name).unwrap();
        let all: Vec<_> = (class(120).iter())
            .map(|student| {
                let seed = key().seed("week 3", template, &student.id, 1);
                let (dealt, refused) = deal_one(template, &seed, &policy, &Conventions::default()).unwrap();
                assert!(!refused.to_string().contains(ANOTHER_DIFFICULTY));
                Difficulty::of(&dealt.case, &dealt.accepted, &policy.limits)
            })
            .collect();
        let broken = broken(&all, &policy.difficulty);
        assert!(broken.contains(&expected), "{name}: {broken:?}");
    }
}

/// A main whose flow is known over two decades of Reynolds number: at one end its wall is as good as smooth and the curves
/// are steep, at the other they are level.
const FROM_STEEP_TO_LEVEL: &str = "title: A main
topic: mains
givens:
  Q: { what: flow, range: 0.3 L/s to 30.0 L/s, step: 0.1 L/s }
system:
  fluid: { density: 1000 kg/m^3, dynamic viscosity: 1.0e-3 Pa.s }
  flow: Q
  stations:
    start: { pressure: unknown }
    end: { pressure: 0 kPa }
  path:
    - pipe: { name: main, diameter: 50 mm, length: 40 m, roughness: 0.05 mm }
parts:
  - { name: pressure, ask: What is the pressure at the start?, answer: p_1, unit: kPa }
statement: Water flows at {{ Q }}.
";

/// No built-in template's readings differ so much that this rule alone refuses a draw.
#[test]
fn a_class_reads_the_chart_where_it_is_about_as_steep() {
    let template = Template::parse(FROM_STEEP_TO_LEVEL, "steep-to-level", "here.yaml").unwrap();
    let bank = Bank {
        templates: vec![Arc::new(template)],
    };
    // Widths of bands follow how steep the chart is, so that they would refuse some of the same draws.
    let by = |reading: f64| {
        let mut set = set(&["steep-to-level"]);
        set.policy.difficulty = DifficultySpread {
            reading,
            band: 100.0,
            ..DifficultySpread::DEFAULT
        };
        deal_set_on(1, &course(), &set, &class(60), &bank, &key(), &|student| student).unwrap()
    };
    let steepness = |dealt: &DealtSet<DealtStudent>| -> Vec<f64> {
        let of = |problem: &Dealt| Difficulty::of(&problem.case, &problem.accepted, &Limits::default());
        let students = dealt.students.iter();
        students.map(|s| of(&s.problems[0]).steepness[0]).collect()
    };
    let (free, held) = (by(100.0), by(1.1));
    assert!(greatest_ratio(steepness(&free).into_iter()) > 1.15);
    assert!(greatest_ratio(steepness(&held).into_iter()) <= 1.1 + 1e-12);
    let why = "another difficulty: the place on the chart";
    assert!(held.refused[0].to_string().contains(why), "{}", held.refused[0]);
    assert!(!free.refused[0].to_string().contains(why));
}

#[test]
fn what_was_refused_for_its_difficulty_is_named() {
    let dealt = deal(2, &set(&["brewery-two-bores", "penstock-turbine"]), 30);
    let paths = dealt.refused[0].to_string();
    assert!(paths.contains("another difficulty: the regime path"), "{paths}");
    let widths = dealt.refused[1].to_string();
    assert!(
        widths.contains("another difficulty: the width of the band of `"),
        "{widths}"
    );
}

#[test]
fn who_joins_late_changes_nobody_elses_problem() {
    let set = set(&["brewery-two-bores", "washery-pit-pump", "brewery-two-bores"]);
    let few = deal(1, &set, 12);
    let many = deal(2, &set, 40);
    let text = |dealt: &DealtSet<DealtStudent>| {
        let templates = templates(&set, &builtin_bank()).unwrap();
        let mut out = Vec::new();
        let drawn = dealt.students.iter().map(DealtStudent::drawn);
        record::write(&mut out, &course(), &set, &templates, drawn).unwrap();
        String::from_utf8(out).unwrap()
    };
    for (few, many) in few.students.iter().zip(&many.students) {
        for (few, many) in few.problems.iter().zip(&many.problems) {
            assert_eq!(few.draw, many.draw);
        }
    }
    // And the same bytes on any number of threads.
    assert_eq!(text(&many), text(&deal(1, &set, 40)));
    assert_eq!(text(&many), text(&deal(7, &set, 40)));
    // A template that is named twice has one target, so that both of a student's draws of it are alike.
    let both: Vec<_> = (many.students.iter())
        .flat_map(|s| [&s.problems[0], &s.problems[2]])
        .map(|p| Difficulty::of(&p.case, &p.accepted, &set.policy.limits))
        .collect();
    assert_eq!(broken(&both, &set.policy.difficulty), [""; 0]);
}

/// From BLAKE3 as the Python package `blake3` computes it, as in `tests/draw.rs`: the fields are the set, the
/// template's name and version, a student whose identifier is `class` between two line feeds, and attempt 0.
#[test]
fn the_class_has_a_seed_that_is_nobodys() {
    let text = include_str!("data/templates/draw.yaml");
    let template = Template::parse(text, "rising-main", "draw.yaml").unwrap();
    let hex = |bytes: [u8; 32]| bytes.iter().map(|b| format!("{b:02x}")).collect::<String>();
    assert_eq!(
        hex(class_seed(&key(), "week 3", &template).to_bytes()),
        "48e2edce0c4a559152a3a87ade56b373180b8585d537eeddac05063c7a8a5f81"
    );
    for id in ["\"\nclass\n\"", "class", "\" class \""] {
        let Ok(read) = roster(format!("id,name\n{id},A\n").as_bytes(), "roster.csv") else {
            continue;
        };
        assert_ne!(
            class_seed(&key(), "week 3", &template).to_bytes(),
            key().seed("week 3", &template, &read[0].id, 1).to_bytes()
        );
    }
}

fn from_a_tank(head: f64, bore: f64, length: f64, roughness: f64, loss: f64) -> Case {
    let yaml = format!(
        "fluid: {{ density: 1000 kg/m^3, dynamic viscosity: 1.0e-3 Pa.s }}\n\
         gravity: 9.81 m/s^2\nflow: unknown\nstations:\n\
         \x20 start: {{ pressure: 0 kPa, elevation: {head} m, velocity: 0 m/s }}\n\
         \x20 end: {{ pressure: 0 kPa, elevation: 0 m, velocity: 0 m/s }}\npath:\n\
         \x20 - pipe: {{ name: main, diameter: {bore} mm, length: {length} m, roughness: {roughness} mm }}\n\
         \x20 - loss: {{ name: all, K: {loss} }}\n"
    );
    Case::solve(
        System::parse(&yaml, "tank.yaml").unwrap_or_else(|f| panic!("{f}\n{yaml}")),
        None,
        &Limits::default(),
    )
    .unwrap()
}

/// The hand solution of the flow from one tank to another, written out here: `V = √(2 g H / (f L/D + ΣK))`.
#[test]
fn iterations_are_counted_as_a_hand_solution_goes() {
    let limits = Limits::default();
    let mut seen = [0; 5];
    for (head, bore, length, roughness, loss) in [
        (8.0, 50.0, 30.0, 0.1, 2.5),
        (0.5, 50.0, 30.0, 0.1, 2.5),
        (20.0, 40.0, 12.0, 1.0, 1.5),
        (3.0, 25.0, 60.0, 0.002, 1.5),
        (12.0, 100.0, 200.0, 0.05, 4.0),
        (0.2, 300.0, 2000.0, 0.05, 0.5),
    ] {
        let case = from_a_tank(head, bore, length, roughness, loss);
        let difficulty = Difficulty::of(&case, &[], &limits);
        let rr = roughness / bore;
        let reynolds = |f: f64| {
            let v = (2.0 * 9.81 * head / (f * length / (1e-3 * bore) + loss)).sqrt();
            1000.0 * v * (1e-3 * bore) / 1.0e-3
        };
        let mut read = vec![round_to_figures(darcy_fully_rough(rr).unwrap(), 3)];
        let holds = reynolds(read[0]) * read[0].sqrt() * rr >= 200.0;
        if !holds {
            loop {
                let last = read[read.len() - 1];
                let next = round_to_figures(darcy_colebrook(reynolds(last), rr).unwrap(), 3);
                if read.contains(&next) {
                    break;
                }
                read.push(next);
            }
        }
        assert_eq!(difficulty.iterations as usize, read.len(), "{head} m: {read:?}");
        assert_eq!(difficulty.path, [if holds { Way::Holds } else { Way::Iterates }]);
        seen[read.len()] += 1;
    }
    assert!(seen[1] > 0 && seen[2] > 0 && seen[3] > 0, "{seen:?}");
}

#[test]
fn a_known_reynolds_number_and_laminar_flow_take_no_iteration() {
    let bank = builtin_bank();
    let policy = Policy::default();
    for (name, way) in [
        ("hatchery-pressure-drop", Way::Known),
        ("bearing-oil-line", Way::Laminar),
    ] {
        let template = bank.get(name).unwrap();
        let seed = key().seed("week 3", template, "s1", 1);
        let (dealt, _) = deal_one(template, &seed, &policy, &Conventions::default()).unwrap();
        let difficulty = Difficulty::of(&dealt.case, &dealt.accepted, &policy.limits);
        assert_eq!((difficulty.path, difficulty.iterations), (vec![way], 0), "{name}");
    }
}

fn made_up(way: Way, iterations: u32, steepness: f64, width: f64) -> Difficulty {
    Difficulty {
        path: vec![way],
        iterations,
        steepness: vec![steepness],
        widths: vec![Some(width), None],
    }
}

#[test]
fn a_target_lies_where_most_draws_are_and_any_two_that_fit_it_keep_to_the_spread() {
    let spread = DifficultySpread {
        iterations: 1,
        reading: 1.25,
        band: 1.5,
    };
    let mut sample = vec![made_up(Way::Holds, 1, 1.0, 0.10); 3];
    for n in 0..12 {
        let by = f64::from(n);
        sample.push(made_up(
            Way::Iterates,
            2 + n % 3,
            1.0 + 0.05 * by,
            0.04 + 0.004 * by,
        ));
    }
    let target = Target::among(&sample, &spread).unwrap();
    assert_eq!(target.path, [Way::Iterates]);
    assert_eq!(target.path_share, 12.0 / 15.0);
    let fit: Vec<_> = sample
        .iter()
        .filter(|d| target.misfit(d).is_none())
        .cloned()
        .collect();
    assert_eq!(target.share, fit.len() as f64 / 15.0);
    assert!(fit.len() >= 3, "{target:?}");
    assert_eq!(broken(&fit, &spread), [""; 0]);
    assert!(Target::among(&[], &spread).is_none());
}

/// Prints what the spread of bands costs: `cargo test --test difficulty -- --ignored --nocapture what_the_spread`.
#[test]
#[ignore = "a report"]
fn what_the_spread_of_bands_costs() {
    let policy = Policy::default();
    let of_template = |template: &Arc<Template>| -> Vec<Difficulty> {
        (0..200)
            .map(|n| {
                let seed = key().seed("week 3", template, &format!("s{n}"), 1);
                let (dealt, _) = deal_one(template, &seed, &policy, &Conventions::default()).unwrap();
                Difficulty::of(&dealt.case, &dealt.accepted, &policy.limits)
            })
            .collect()
    };
    let all: Vec<Vec<Difficulty>> = builtin_bank().templates.iter().map(of_template).collect();
    let mut apart: Vec<f64> = Vec::new();
    for draws in &all {
        for part in 0..draws[0].widths.len() {
            let widths = draws.iter().filter_map(move |d| d.widths[part]);
            if widths.clone().next().is_some() {
                apart.push(greatest_ratio(widths));
            }
        }
    }
    apart.sort_by(f64::total_cmp);
    println!("{} parts; widest band over narrowest: {apart:.2?}", apart.len());
    for band in [1.1, 1.2, 1.3, 1.4, 1.5, 1.75, 2.0, 3.0, 100.0] {
        let spread = DifficultySpread {
            band,
            ..policy.difficulty
        };
        let mut shares: Vec<f64> = (all.iter())
            .map(|draws| Target::among(draws, &spread).unwrap().share)
            .collect();
        shares.sort_by(f64::total_cmp);
        let mean = shares.iter().sum::<f64>() / shares.len() as f64;
        println!(
            "{band}: least {:.2}, quarter {:.2}, mean {mean:.2}",
            shares[0],
            shares[shares.len() / 4]
        );
    }
}
