//! Proofs: each rule of the policy finds what it is there for, and a proof is the same however it is made.
//!
//! A golden text is written anew with `GRADELINE_GOLDEN=write cargo test --test prove`; read what changed.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, DifficultySpread, Policy};
use gradeline::bank::template::Template;
use gradeline::prove::{Five, Proof, html, prove, text};
use std::path::Path;
use std::process::{Command, Output};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A level pipe, its flow known: whatever a test wants to change in it stands alone on a line.
const LEVEL: &str = "\
title: A level pipe
topic: pressure drop
version: 1
givens:
  Q: { what: flow, range: 2.00 L/s to 4.00 L/s, step: 0.01 L/s }
  L: { what: length, range: 20.0 m to 40.0 m, step: 0.1 m }
  K: { what: loss coefficient, range: 0.60 to 0.90, step: 0.01 }
system:
  fluid: { density: 998 kg/m^3, dynamic viscosity: 1.0e-3 Pa.s }
  gravity: 9.81 m/s^2
  flow: Q
  stations:
    start: { pressure: unknown, velocity: pipe }
    end: { pressure: 0 kPa, velocity: pipe }
  path:
    - loss: { name: entrance, K: K }
    - pipe: { name: main, diameter: 50 mm, length: L, roughness: 0.15 mm }
constraints:
  - V > 0.5 m/s
parts:
  - name: velocity
    ask: How fast?
    answer: V
    unit: m/s
    figures: 3
    marks: 1
  - name: drop
    ask: What is the drop of pressure?
    answer: p_1
    unit: kPa
    figures: 3
    marks: 1
statement: |
  A pipe of {{ L }} with an entrance of {{ K }} carries {{ Q }}.
slips:
  - friction left out: [drop]
";

fn template(changes: &[(&str, &str)]) -> Arc<Template> {
    let mut yaml = LEVEL.to_owned();
    for (from, to) in changes {
        assert!(yaml.contains(from), "{from}");
        yaml = yaml.replace(from, to);
    }
    Arc::new(Template::parse(&yaml, "level", "level.yaml").unwrap_or_else(|f| panic!("{f}\n{yaml}")))
}

fn proof_of(template: &Arc<Template>, draws: usize, policy: &Policy, threads: usize) -> Proof {
    prove(template, draws, policy, &Conventions::default(), threads, &|| {})
}

fn faults(changes: &[(&str, &str)], policy: &Policy) -> String {
    let proof = proof_of(&template(changes), 120, policy, 2);
    let told: Vec<String> = proof.faults.iter().map(ToString::to_string).collect();
    // Each says where, and how to mend.
    for fault in &proof.faults {
        assert!(fault.mend.is_some() && fault.place.is_some(), "{fault}");
    }
    told.join("\n")
}

#[test]
fn a_sound_template_has_no_fault() {
    assert_eq!(faults(&[], &Policy::default()), "");
}

/// A part more: the loss less so much of itself, which what is kept on the way moves by much of what is left.
fn what_is_left(of: &str) -> String {
    format!(
        "    marks: 1\n  - name: rest\n    ask: What is left?\n    answer: h_major - {of} * f * L / D * V^2 / (2 * g)\n    \
         unit: m\n    figures: 2\n    marks: 1\nstatement"
    )
}

#[test]
fn each_rule_finds_what_it_is_there_for() {
    let alike = "    marks: 1\nstatement";
    let policy = Policy::default();
    for (changes, expected) in [
        (
            vec![("V > 0.5 m/s", "Q > 3.97 L/s")],
            "can be dealt, fewer than 5 %",
        ),
        (
            vec![("V > 0.5 m/s", "V > 500 m/s")],
            "no candidate is accepted; 4,000 of 4,000 for: constraint 1",
        ),
        (
            vec![("friction left out: [drop]", "friction left out: [velocity]")],
            "for: slip `friction left out` is hidden in part `velocity`\n",
        ),
        (
            vec![
                ("step: 0.01 L/s", "step: 0.50 L/s"),
                ("step: 0.1 m", "step: 4.0 m"),
                ("step: 0.01 }", "step: 0.10 }"),
            ],
            "different draws, fewer than 1,000",
        ),
        (
            vec![
                ("step: 0.01 L/s", "step: 0.50 L/s"),
                ("step: 0.1 m", "step: 4.0 m"),
                ("step: 0.01 }", "step: 0.10 }"),
            ],
            "two students have all answers alike once in",
        ),
        (
            vec![("answer: V\n", "answer: 0 * V - V\n")],
            "the answer to `velocity` is below 0 in 120 of 120 draws",
        ),
        (
            vec![("answer: V\n", "answer: 0 * V\n")],
            "the answer to `velocity` is 0 in 120 of 120 draws",
        ),
        (
            vec![(alike, what_is_left("0.995").as_str())],
            "half of the bands of `rest` are wider than 75 % of the answer",
        ),
        (
            vec![
                (
                    "slips:\n",
                    "slips:\n  - entrance loss left out: [drop]\n  - minor losses left out: [drop]\n",
                ),
                ("range: 0.60 to 0.90", "range: 6.00 to 9.00"),
            ],
            "the listed slips `entrance loss left out` and `minor losses left out` can't be told apart in 120 of 120",
        ),
        (
            vec![("friction left out: [drop]", "efficiency left out: [drop]")],
            "4,000 of 4,000 for: slip `efficiency left out` changes nothing",
        ),
    ] {
        let told = faults(&changes, &policy);
        assert!(told.contains(expected), "{expected}:\n{told}");
    }
    // Four times as much is left: a loss kept to three figures is off by 0.5 % at the most, which is a quarter of what is left,
    // and its own two figures add a twentieth, so that no band is wider than 60 % of it.
    let told = faults(&[(alike, what_is_left("0.98").as_str())], &policy);
    assert!(!told.contains("of the bands of `rest` are wider"), "{told}");
    // Draws that are all sound, but hardly two of them alike.
    let policy = Policy {
        difficulty: DifficultySpread {
            band: 1.00001,
            ..policy.difficulty
        },
        ..policy
    };
    let told = faults(&[], &policy);
    assert!(
        told.contains("mend: narrow the givens that change how hard the problem is"),
        "{told}"
    );
}

#[test]
fn what_prints_badly_is_noted() {
    let proof = proof_of(
        &template(&[("unit: kPa", "unit: GPa"), ("unit: m/s", "unit: mm/s")]),
        20,
        &Policy::default(),
        1,
    );
    let told: Vec<&String> = proof.ugly.keys().collect();
    assert!(
        told.iter().any(|t| t.contains("`drop` is small in GPa"))
            && told.iter().any(|t| t.contains("`velocity` has more figures")),
        "{told:?}"
    );
    assert!(proof.faults.is_empty(), "{:?}", proof.faults);
}

#[test]
fn a_proof_is_the_same_on_any_number_of_threads() {
    let bank = builtin_bank();
    let template = bank.get("brewery-two-bores").unwrap();
    let count = AtomicUsize::new(0);
    let progress = || {
        count.fetch_add(1, Ordering::Relaxed);
    };
    let (policy, conventions) = (Policy::default(), Conventions::default());
    let one = [prove(template, 90, &policy, &conventions, 1, &progress)];
    assert_eq!(count.into_inner(), 90);
    let many = [prove(template, 90, &policy, &conventions, 5, &|| {})];
    assert_eq!(text(&one), text(&many));
    assert_eq!(html(&one), html(&many));
    // More draws begin with the same ones.
    let more = prove(template, 120, &policy, &conventions, 2, &|| {});
    assert_eq!(one[0].answers[0].numbers, more.answers[0].numbers[..90]);
}

#[test]
fn ranges_are_those_of_the_draws() {
    let proof = proof_of(&template(&[]), 200, &Policy::default(), 2);
    let velocity = &proof.answers[0];
    // V = Q/A from 2 to 4 L/s in a bore of 50 mm.
    let area = std::f64::consts::PI * 0.05 * 0.05 / 4.0;
    assert!(velocity.five.least >= 0.00199 / area && velocity.five.greatest <= 0.00401 / area);
    assert!(velocity.five.least < 0.0021 / area && velocity.five.greatest > 0.0039 / area);
    assert_eq!(Five::of(&velocity.numbers), Some(velocity.five));
    // 201 flows, 201 lengths, 31 coefficients.
    assert_eq!(proof.combinations, 201.0 * 201.0 * 31.0);
    assert_eq!(proof.accepted, 200);
    let listed = proof
        .slips
        .iter()
        .find(|s| s.slip == "friction left out")
        .unwrap();
    assert!(listed.listed && listed.clear == 200 && listed.least > 0.0);
}

#[test]
fn golden_text() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/prove/level.txt");
    let proof = proof_of(
        &template(&[("V > 0.5 m/s", "V > 1.3 m/s")]),
        60,
        &Policy::default(),
        2,
    );
    let now = text(&[proof]);
    if std::env::var("GRADELINE_GOLDEN").as_deref() == Ok("write") {
        std::fs::write(&path, &now).unwrap();
    }
    let wanted = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        wanted == now,
        "It differs from what it was; if it is meant to, write it anew.\n{now}"
    );
    assert!(now.lines().all(|line| line.chars().count() <= 100), "{now}");
}

/// Every tag is closed in its turn, and every mark is escaped.
fn well_formed(page: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = page.strip_prefix("<!DOCTYPE html>").unwrap();
    while let Some(at) = rest.find('<') {
        assert!(!rest[..at].contains('>'), "{}", &rest[..at]);
        let end = at + rest[at..].find('>').unwrap();
        let tag = &rest[at + 1..end];
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().unwrap());
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn the_page_is_well_formed_and_stands_alone() {
    let odd = template(&[("title: A level pipe", "title: 'A <level> \"pipe\" & more'")]);
    let bad = template(&[("V > 0.5 m/s", "V > 500 m/s")]);
    let page = html(&[
        proof_of(&odd, 30, &Policy::default(), 2),
        proof_of(&bad, 30, &Policy::default(), 2),
    ]);
    well_formed(&page);
    assert!(page.contains("A &lt;level&gt; &quot;pipe&quot; &amp; more"));
    assert!(page.contains("no candidate is accepted"));
    assert!(page.matches("<svg").count() >= 3, "{page}");
    for fetched in ["<script", "<link", "<img", "src=", "url(", "@import"] {
        assert!(!page.contains(fetched), "{fetched}");
    }
}

fn gradeline(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gradeline"))
        .args(arguments)
        .output()
        .unwrap()
}

#[test]
fn the_command_ends_as_its_help_says() {
    let held = gradeline(&["prove", "bearing-oil-line", "--draws", "24"]);
    assert_eq!(
        held.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&held.stdout)
    );
    let said = String::from_utf8(held.stdout).unwrap();
    assert!(
        said.starts_with("bearing-oil-line: ") && said.ends_with("All hold: 1.\n"),
        "{said}"
    );
    // Nothing but the proof where no terminal is.
    assert!(held.stderr.is_empty());

    let unknown = gradeline(&["prove", "rinsing-line-flaw", "bearing-oil-line"]);
    assert_eq!(unknown.status.code(), Some(2));
    let said = String::from_utf8(unknown.stderr).unwrap();
    assert!(said.contains("mend: write `rinsing-line-flow`"), "{said}");
    assert_eq!(gradeline(&["prove", "--draws", "3"]).status.code(), Some(2));

    let room = tempfile::tempdir().unwrap();
    let course = room.path().join("course");
    assert!(gradeline(&["start", course.to_str().unwrap()]).status.success());
    std::fs::write(
        course.join("banks/level.yaml"),
        LEVEL.replace("V > 0.5 m/s", "V > 500 m/s"),
    )
    .unwrap();
    let page = room.path().join("page.html");
    let failed = gradeline(&[
        "prove",
        "level",
        "--course",
        course.to_str().unwrap(),
        "--draws",
        "20",
        "--format",
        "html",
        "--output",
        page.to_str().unwrap(),
    ]);
    assert_eq!(failed.status.code(), Some(1));
    let said = String::from_utf8(failed.stderr).unwrap();
    assert!(
        said.contains("error: no candidate is accepted") && said.contains("mend: "),
        "{said}"
    );
    well_formed(&std::fs::read_to_string(&page).unwrap());
}
