//! Reading from outside: the examples of the documentation, hostile texts, and systems as problems.

#![allow(
    clippy::unwrap_used,
    reason = "a test that unwraps nothing fails, as it should"
)]

use gradeline::bank::course::{Conventions, Course, Policy, Set};
use gradeline::bank::names::{PIPE_NAMES, PLAIN_NAMES};
use gradeline::bank::slips::SLIPS;
use gradeline::bank::system::{PathSystem, solve_fault};
use gradeline::bank::template::Template;
use gradeline::draw::{Candidates, Seed};
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::path::StationVelocity;
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{SolveError, Unknown, solve};
use proptest::prelude::*;
use std::time::{Duration, Instant};

const TEMPLATES: &str = include_str!("../docs/templates.md");

/// The blocks of a page that begin with this line.
fn blocks<'a>(page: &'a str, kind: &str) -> Vec<&'a str> {
    let open = format!("```yaml {kind}\n");
    page.split(open.as_str())
        .skip(1)
        .map(|rest| rest.split("```").next().unwrap())
        .collect()
}

#[test]
fn the_template_in_the_documentation_draws_systems_that_solve() {
    let [text] = blocks(TEMPLATES, "template")[..] else {
        panic!("one template is shown");
    };
    let template = Template::parse(text, "trough", "docs/templates.md").unwrap_or_else(|f| panic!("{f}"));
    for draw in Candidates::new(&template, &Seed::from_bytes([3; 32])).take(100) {
        let system = draw.system(&template).unwrap_or_else(|f| panic!("{f}"));
        let problem = system
            .path()
            .unwrap()
            .problem(Some(4))
            .unwrap_or_else(|f| panic!("{f}"));
        let solved = solve(&problem, &[Reading::EXACT], &Limits::default()).unwrap();
        assert!(solved.value > 0.0);
    }
}

#[test]
fn the_course_in_the_documentation_is_the_default() {
    let [text] = blocks(TEMPLATES, "course")[..] else {
        panic!("one course is shown");
    };
    let course = Course::parse(text, "docs/templates.md").unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(course.policy, Policy::default());
    assert_eq!(course.conventions, Conventions::default());
    let [text] = blocks(TEMPLATES, "set")[..] else {
        panic!("one set is shown");
    };
    let set = Set::parse(text, "week3", "docs/templates.md", &course, None).unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(set.problems.len(), 2);
    assert_eq!(set.policy.slip_share, 0.25);
}

#[test]
fn the_documentation_names_every_result_and_every_slip() {
    for (name, _, _) in PIPE_NAMES.iter().chain(PLAIN_NAMES) {
        assert!(TEMPLATES.contains(&format!("`{name}`")), "{name}");
    }
    let rows: Vec<&str> = TEMPLATES
        .split("| slip | systems that it fits |\n|---|---|\n")
        .nth(1)
        .unwrap()
        .lines()
        .take_while(|line| line.starts_with('|'))
        .collect();
    let slips: Vec<String> = SLIPS
        .iter()
        .map(|(name, fits)| format!("| `{name}` | {fits} |"))
        .collect();
    assert_eq!(rows, slips);
}

/// "What stands here is what is taken then": the course that `gradeline start` writes.
#[test]
fn the_course_to_start_with_shows_every_default() {
    let text = include_str!("../src/cli/start/course.yaml");
    let course = Course::parse(text, "course.yaml").unwrap_or_else(|f| panic!("{f}"));
    let named = Course {
        name: course.name.clone(),
        ..Course::default()
    };
    assert_eq!(course, named);
    // Every field of the full course in the documentation is there.
    let [full] = blocks(TEMPLATES, "course")[..] else {
        panic!("one course is shown");
    };
    for field in full
        .split(['\n', '{', ','])
        .filter_map(|part| part.split_once(':'))
    {
        let field = field.0.trim();
        assert!(text.contains(&format!("{field}:")), "{field}");
    }
}

#[test]
fn no_page_names_a_command_that_does_not_exist() {
    let help = std::process::Command::new(env!("CARGO_BIN_EXE_gradeline"))
        .arg("--help")
        .output()
        .unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .map_while(|line| line.split_whitespace().next())
        .collect();
    assert!(commands.contains(&"deal"), "{help}");
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut pages = vec![root.join("README.md")];
    pages.extend(
        std::fs::read_dir(root.join("docs"))
            .unwrap()
            .map(|e| e.unwrap().path()),
    );
    let mut named = 0;
    for page in pages.iter().filter(|p| p.extension().is_some_and(|e| e == "md")) {
        let text = std::fs::read_to_string(page).unwrap();
        // Commands stand in code: behind a backtick, a prompt or the indentation of a block.
        for at in text.match_indices("gradeline ").map(|(at, _)| at) {
            let code = text[..at].ends_with(['`', '|', ' ']) && {
                let line = text[..at].rsplit('\n').next().unwrap_or_default();
                line.ends_with('`') || line.starts_with("    ")
            };
            let rest = &text[at + "gradeline ".len()..];
            let end = rest.find(|c: char| !c.is_ascii_lowercase()).unwrap_or(rest.len());
            if code && end > 0 {
                named += 1;
                assert!(
                    commands.contains(&&rest[..end]),
                    "{}: {}",
                    page.display(),
                    &rest[..end]
                );
            }
        }
    }
    assert!(named > 10, "{named} commands were found");
}

const PLAIN: &str = "fluid: { density: 1000 kg/m^3, kinematic viscosity: 1.30e-6 m^2/s }
flow: 2.0 L/s
stations:
  start: { pressure: 150 kPa abs, velocity: { jet: 30 mm }, alpha: 1.06 }
  end: { pressure: unknown, elevation: -2 m, velocity: 0 m/s }
path:
  - loss: { name: entrance, K: 0.50 }
  - pipe: { name: upper main, diameter: 2 in, length: 60 ft, roughness: 0 mm }
  - pump: { name: booster, power: 1.0 hp, efficiency: 75 % }
  - loss: { name: bend, K: 0.9 }
  - pipe: { name: lower main, diameter: 40 mm, length: 10 m, roughness: 0.1 mm }
  - loss: { name: valve, K: 3, in: upper main }
  - loss: { name: exit, K: 1.0 }
";

#[test]
fn a_system_becomes_its_numbers() {
    let system = PathSystem::parse(PLAIN, "plain.yaml").unwrap_or_else(|f| panic!("{f}"));
    let problem = system.problem(None).unwrap();
    assert_eq!(problem.unknown, Unknown::EndPressure);
    assert_eq!(system.unknown_name(), "pressure at the end");
    let path = &problem.path;
    assert!((path.dynamic_viscosity - 1.30e-3).abs() < 1e-15);
    assert!((path.start.pressure - (150_000.0 - 101_325.0)).abs() < 1e-9);
    assert!(path.end.pressure.is_nan());
    assert_eq!(path.end.elevation, -2.0);
    assert_eq!(path.start.velocity, StationVelocity::Jet(0.03));
    assert_eq!(path.start.alpha, Some(1.06));
    let losses: Vec<usize> = path
        .elements
        .iter()
        .filter_map(|e| match e {
            gradeline::hydraulics::path::Element::Loss { pipe, .. } => Some(*pipe),
            _ => None,
        })
        .collect();
    // Before the first pipe, behind it (across a pump), as named, behind the second.
    assert_eq!(losses, [0, 0, 0, 1]);
}

#[test]
fn every_unknown_has_its_name() {
    for (from, to, name) in [
        ("flow: 2.0 L/s", "flow: unknown", "flow"),
        (
            "pressure: 150 kPa abs",
            "pressure: unknown",
            "pressure at the start",
        ),
        ("elevation: -2 m", "elevation: unknown", "elevation of the end"),
        ("diameter: 2 in", "diameter: unknown", "diameter of upper main"),
        ("length: 10 m", "length: unknown", "length of lower main"),
        (
            "roughness: 0.1 mm",
            "roughness: unknown",
            "roughness of lower main",
        ),
        ("K: 3", "K: unknown", "K of valve"),
        ("power: 1.0 hp", "power: unknown", "power of booster"),
        ("power: 1.0 hp", "head: unknown", "head of booster"),
    ] {
        let text = PLAIN
            .replace("pressure: unknown", "pressure: 0 kPa")
            .replacen(from, to, 1);
        let system = PathSystem::parse(&text, "plain.yaml").unwrap_or_else(|f| panic!("{name}: {f}"));
        assert_eq!(system.unknown_name(), name);
        assert!(system.problem(None).is_ok(), "{name}");
    }
}

#[test]
fn properties_are_printed_as_they_are_used() {
    let text = "fluid: { name: water, temperature: 20 degC }\nflow: unknown\n\
                stations: { start: { pressure: 50 kPa }, end: { pressure: 0 kPa } }\n\
                path: [{ pipe: { name: main, diameter: 40 mm, length: 60 m, roughness: 0.15 mm } }]\n";
    let system = PathSystem::parse(text, "water.yaml").unwrap();
    let values = system.fluid_values(Some(4)).unwrap();
    // IAPWS SR6-08 and R12-08 at 20 °C and 0.1 MPa: 998.207 kg/m³, 1.0016 mPa·s; IAPWS-IF97: 2.3392 kPa.
    for (value, expected) in [
        (&values.density, "998.2 kg/m^3"),
        (&values.dynamic_viscosity, "0.001002 Pa*s"),
    ] {
        assert_eq!(value.ascii(), expected);
        let printed = gradeline::quantity::Written::parse(&value.ascii()).unwrap();
        assert_eq!(printed.quantity().value, value.quantity().value);
    }
    let pressure = values.vapour_pressure.unwrap();
    assert!(
        (pressure.quantity().value - 2339.0).abs() < 1.0,
        "{}",
        pressure.ascii()
    );
    let exact = system.fluid_values(None).unwrap();
    assert!((exact.density.quantity().value - 998.207).abs() < 1e-3);
    assert_ne!(exact.density.quantity().value, values.density.quantity().value);
}

#[test]
fn refusals_of_the_solver_are_told_in_words() {
    let system = PathSystem::parse(PLAIN, "plain.yaml").unwrap();
    let fault = solve_fault(&SolveError::NoFlow { short_by: 2.314 }, &system);
    assert_eq!(
        fault.what,
        "no flow: the end station is 2.31 m of head above the energy available at the start"
    );
    assert!(fault.mend.is_some());
}

/// Reads a hostile text as everything; it must be refused, and soon.
fn refused_soon(text: &str) {
    let begun = Instant::now();
    assert!(PathSystem::parse(text, "x").is_err());
    assert!(Template::parse(text, "x", "x").is_err());
    assert!(Course::parse(text, "x").is_err());
    // An unoptimised build on a busy machine; a bomb would take minutes or all memory.
    assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", begun.elapsed());
}

#[test]
fn bombs_are_refused_soon() {
    let mut laughs = String::from("a0: &a0 [x, x, x, x, x, x, x, x, x]\n");
    for i in 1..9 {
        let refers = vec![format!("*a{}", i - 1); 9].join(", ");
        laughs += &format!("a{i}: &a{i} [{refers}]\n");
    }
    refused_soon(&laughs);
    let long = "x".repeat(200_000);
    refused_soon(&format!("a: &a {long}\nb: [{}]\n", vec!["*a"; 1000].join(", ")));
    for opener in ["[", "{", "{a: [", "- ", "? ", "\"", "'", "&a ", "!a ", "a: &a\n "] {
        refused_soon(&opener.repeat(10_000));
    }
    refused_soon(&"a:\n".repeat(10_000));
    refused_soon(&format!("title: |\n{}", "  x\n".repeat(700_000)));
    let nested: String = (0..200).map(|i| format!("{}a:\n", " ".repeat(i))).collect();
    refused_soon(&nested);
    refused_soon("\0\0\0");
    refused_soon("name: a\0b\n");
    refused_soon("\u{feff}\u{feff}");
    refused_soon("%YAML 9.9\n---\nname: x\n");
    refused_soon("name: x\n...\nname: y\n");
    refused_soon("<<: { name: x }\n");
}

/// Pieces of which texts are made that are nearly YAML.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("fluid: ".to_owned()),
        Just("path:\n".to_owned()),
        Just("  - pipe: { name: a, diameter: 1 mm }\n".to_owned()),
        Just("stations: { start: { pressure: unknown }, end: ".to_owned()),
        Just("givens:\n  Q: { what: x, range: 1 m to 2 m, step: ".to_owned()),
        Just("statement: |\n  $x {{ \n".to_owned()),
        Just("parts: [{ answer: ".to_owned()),
        "[ \\n:{}\\[\\]&*!|>'\"%@`,#?-]{1,4}",
        "\\PC{0,6}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// Law 8: nothing panics on input.
    #[test]
    fn no_text_makes_the_reader_panic(pieces in prop::collection::vec(piece(), 0..12)) {
        let text = pieces.concat();
        let _ = PathSystem::parse(&text, "x");
        let _ = Template::parse(&text, "x", "x");
        let _ = Course::parse(&text, "x");
    }

    #[test]
    fn no_bytes_make_the_roster_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = gradeline::bank::course::roster(&bytes, "x");
        let _ = PathSystem::parse(&String::from_utf8_lossy(&bytes), "x");
    }

    /// A template with one character changed is read or refused, and never panics.
    #[test]
    fn a_changed_template_is_read_or_refused(at in 0.0..1.0f64, with in "\\PC|\\n|[{}:,\\[\\]]") {
        let text = blocks(TEMPLATES, "template")[0];
        let chars: Vec<char> = text.chars().collect();
        let at = (at * chars.len() as f64) as usize;
        let changed: String = chars[..at].iter().collect::<String>() + &with
            + &chars[at + 1..].iter().collect::<String>();
        if let Err(faults) = Template::parse(&changed, "x", "x") {
            for fault in faults.0 {
                prop_assert!(fault.place.is_some(), "{}", fault);
            }
        }
    }
}

#[test]
fn the_built_in_bank_has_a_page_that_names_every_template() {
    let page = include_str!("../docs/bank.md");
    let bank = gradeline::bank::builtin_bank();
    let rows: Vec<&str> = page.lines().filter(|line| line.starts_with("| `")).collect();
    assert_eq!(rows.len(), bank.templates.len());
    for (template, row) in bank.templates.iter().zip(rows) {
        let parts: Vec<&str> = template.parts.iter().map(|part| part.name.as_str()).collect();
        let expected = format!(
            "| `{}` | {} | {} | {} | {} |",
            template.name,
            template.title,
            template.topic,
            parts.join(", "),
            template.marks()
        );
        assert_eq!(row, expected);
    }
}
