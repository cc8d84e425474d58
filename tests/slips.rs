//! Slips as changed working, for every kind of system: where they lead, their spans, their clearance from bands, pairs, a
//! template's own.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::band::slip::{self, Clearance, Pairs, SlipAnswers, slip_answers};
use gradeline::band::{Accepted, misreading};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::bank::system::System;
use gradeline::bank::template::{Asked, Template};
use gradeline::deal::{Dealt, assess, deal_one};
use gradeline::draw::{Candidates, Seed};
use gradeline::equation::Bindings;
use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::regime::Limits;
use gradeline::mark::{Verdict, accepts, judge};
use gradeline::quantity::{Dimension, Written, round_to_figures};
use gradeline::solution::{Answer, Case, answers};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::sync::Arc;

fn dealt(template: &Arc<Template>, n: u8) -> (Dealt, u32) {
    let (policy, conventions) = (Policy::default(), Conventions::default());
    match deal_one(template, &Seed::from_bytes([n; 32]), &policy, &conventions) {
        Ok((dealt, refused)) => (dealt, refused.total()),
        Err(faults) => panic!("{faults}"),
    }
}

/// Results that no slip changes, since the paper states them.
const STATED: [&str; 4] = ["rho", "mu", "nu", "g"];

/// A template that asks for every result of a system.
fn asking_for_everything(system: &str) -> Arc<Template> {
    let parsed = System::parse(system, "system.yaml").unwrap_or_else(|faults| panic!("{faults}"));
    let mut text =
        String::from("title: All\ntopic: all\ngivens:\n  T_0: { what: nothing, value: 1 m }\nsystem:\n");
    for line in system.lines() {
        let _ = writeln!(text, "  {line}");
    }
    text.push_str("parts:\n");
    // Names of parts are told apart whatever their case.
    let mut asked = BTreeSet::new();
    for result in parsed.results() {
        if !asked.insert(result.name.to_lowercase()) {
            continue;
        }
        let unit = match result.dimension {
            Dimension::NONE => "",
            Dimension::LENGTH => "m",
            Dimension::AREA => "m^2",
            Dimension::VOLUME => "m^3",
            Dimension::VELOCITY => "m/s",
            Dimension::FLOW => "m^3/s",
            Dimension::PRESSURE => "Pa",
            Dimension::POWER => "W",
            Dimension::TIME => "s",
            Dimension::MASS_FLOW => "kg/s",
            _ => continue,
        };
        let name = &result.name;
        let _ = write!(
            text,
            "  - {{ name: {name}, ask: What is it?, answer: {name}, figures: 4"
        );
        text.push_str(if unit.is_empty() { "" } else { ", unit: " });
        let _ = writeln!(text, "{unit} }}");
    }
    text.push_str("statement: A text with {{ T_0 }}.\n");
    match Template::parse(&text, "all", "all.yaml") {
        Ok(template) => Arc::new(template),
        Err(faults) => panic!("{faults}\n{text}"),
    }
}

/// Where slips lead, and where two together lead, for every result of a system.
struct Everything {
    template: Arc<Template>,
    case: Case,
    right: Vec<Option<Answer>>,
    slips: Vec<SlipAnswers>,
}

fn everything(system: &str) -> Option<Everything> {
    let template = asking_for_everything(system);
    let parsed = System::parse(system, "system.yaml").unwrap();
    let case = Case::solve(parsed, Some(4), &Limits::default()).ok()?;
    let (policy, conventions) = (Policy::default(), Conventions::default());
    let givens = Bindings::default();
    // A result may have no value, such as a factor in a pipe at rest.
    let right = (template.parts.iter())
        .map(|part| {
            let alone = Template {
                parts: vec![part.clone()],
                ..(*template).clone()
            };
            answers(&alone, &givens, &case).ok()?.into_iter().next()
        })
        .collect();
    let slips = slip_answers(&template, &givens, &case, &[], &policy, &conventions);
    Some(Everything {
        template,
        case,
        right,
        slips,
    })
}

/// The text with each number behind one of these keys made another.
/// What stands before a value, and what to make of the value.
type Edit<'a> = (&'a str, &'a dyn Fn(&str) -> String);

fn edited(system: &str, edits: &[Edit<'_>]) -> String {
    let mut text = system.to_owned();
    for (key, edit) in edits {
        let mut out = String::new();
        let mut rest = text.as_str();
        let key = format!("{key}: ");
        while let Some(at) = rest.find(&key) {
            // `diameter: ` ends `pipe diameter: ` too, but not the other way round.
            let (before, behind) = rest.split_at(at + key.len());
            out.push_str(before);
            let end = behind.find([',', ' ', '}', '\n']).unwrap_or(behind.len());
            let (number, more) = behind.split_at(end);
            out.push_str(&if number.parse::<f64>().is_ok() {
                edit(number)
            } else {
                number.to_owned()
            });
            rest = more;
        }
        out.push_str(rest);
        text = out;
    }
    text
}

fn times(by: f64) -> impl Fn(&str) -> String {
    move |number: &str| format!("{}", number.parse::<f64>().unwrap() * by)
}

fn number(answer: Option<&Option<Answer>>) -> Option<f64> {
    match answer {
        Some(Some(Answer::Number(number))) => Some(number.value),
        _ => None,
    }
}

/// Holds answers against those of another text, but for some results. How many were compared.
fn same_as(of: &Everything, answers: &[Option<Answer>], other: &str, but: &[&str], what: &str) -> usize {
    let other = everything(other).unwrap_or_else(|| panic!("{what}: the edited text has no solution"));
    let mut compared = 0;
    for (n, part) in of.template.parts.iter().enumerate() {
        if but.contains(&part.name.as_str()) || STATED.contains(&part.name.as_str()) {
            continue;
        }
        let (found, wanted) = (number(answers.get(n)), number(other.right.get(n)));
        let (Some(found), Some(wanted)) = (found, wanted) else {
            continue;
        };
        assert!(
            (found - wanted).abs() <= 1e-8 * wanted.abs() + 1e-12,
            "{what}: {} is {found}, by the text {wanted}",
            part.name
        );
        compared += 1;
    }
    assert!(compared > 3, "{what}: {compared} results compared");
    compared
}

const PATH: &str = "fluid: { density: 998.2 kg/m^3, dynamic viscosity: 1.002e-3 Pa.s }
flow: unknown
stations:
  start: { pressure: 120 kPa, elevation: 2.0 m, velocity: 0 m/s }
  end: { pressure: 0 kPa, elevation: 5.5 m, velocity: 0 m/s }
path:
  - loss: { name: entrance, K: 0.5 }
  - pipe: { name: wide, diameter: 60 mm, length: 8 m, roughness: 0.15 mm }
  - pipe: { name: narrow, diameter: 40 mm, length: 12 m, roughness: 0.15 mm }
  - loss: { name: valve, K: 2.4 }
  - loss: { name: exit, K: 1.0 }
";
const NETWORK: &str = "fluid: { density: 998.2 kg/m^3, dynamic viscosity: 1.002e-3 Pa.s }
nodes:
  - reservoir: { name: high, level: 60 m }
  - reservoir: { name: low, level: 31 m }
  - junction: { name: fork, elevation: 12 m, demand: 20 L/s }
links:
  - from: high
    to: fork
    path:
      - loss: { name: entrance, K: 0.5 }
      - pipe: { name: first, diameter: 200 mm, length: 340 m, roughness: 0.15 mm }
  - from: fork
    to: low
    path:
      - pipe: { name: second, diameter: 150 mm, length: 260 m, roughness: 0.15 mm }
      - loss: { name: exit, K: 1.0 }
";
const TANK: &str = "fluid: { density: 998.2 kg/m^3, dynamic viscosity: 1.002e-3 Pa.s }
tank: { name: basin, area: 6 m^2, level: 4.0 m, until: 2.0 m, floor: 3.0 m }
time: unknown
stations:
  end: { pressure: 0 kPa, elevation: 1.0 m, velocity: pipe }
path:
  - loss: { name: sharp entrance, K: 0.5 }
  - pipe: { name: outlet, diameter: 50 mm, length: 20 m, roughness: 0.15 mm }
";
const LEAK: &str = "fluid: { density: 998.2 kg/m^3, dynamic viscosity: 1.235e-3 Pa.s }
gauges:
  start: { pressure: 430 kPa, elevation: 0 m, flow: 104 L/s }
  end: { pressure: 315 kPa, elevation: 0 m, flow: unknown }
pipe: { name: main, diameter: 300 mm, length: 2160 m, roughness: 0.28 mm }
leak: { distance: 600 m }
";
const PROFILE: &str = "fluid: { density: 998.2 kg/m^3, dynamic viscosity: 1.002e-3 Pa.s }
profile: { pipe: main, diameter: 80 mm, length: 25 m, roughness: 0.05 mm, flow: 11 L/s, pressure drop: unknown }
";
const METER: &str = "fluid: { density: 998.2 kg/m^3, dynamic viscosity: 1.002e-3 Pa.s }
flow: unknown
meter: { orifice: corner taps, pipe diameter: 100 mm, throat diameter: 60 mm, differential: 25 kPa }
";

/// Systems with what neither the documentation nor the bank shows of their kind.
const OTHERS: [&str; 6] = [
    PATH,
    "fluid: { name: water, temperature: 15 degC }
flow: unknown
stations:
  start: { pressure: 0 kPa, elevation: 0 m, velocity: 0 m/s }
  end: { pressure: 0 kPa, elevation: 20 m, velocity: 0 m/s }
path:
  - pump: { name: lift, curve: { a: 34 m, c: -9000 s^2/m^5 }, series: 2, efficiency: 0.7 }
  - pipe: { name: main, diameter: 150 mm, length: 320 m, roughness: 0.15 mm }
  - loss: { name: exit, K: 1.0 }
",
    "fluid: { name: water, temperature: 15 degC }
nodes:
  - reservoir: { name: well, level: 2 m }
  - reservoir: { name: tank, level: 24 m }
  - junction: { name: works, elevation: 6 m, demand: 600 L/min }
links:
  - name: lift line
    from: well
    to: works
    path:
      - loss: { name: entrance, K: 0.5 }
      - pump: { name: lift, head: 32 m, efficiency: 0.72 }
      - pipe: { name: first, diameter: 150 mm, length: 60 m, roughness: 0.15 mm }
      - pipe: { name: narrow, diameter: 125 mm, length: 40 m, roughness: 0.15 mm }
  - name: way on
    from: works
    to: tank
    path:
      - pipe: { name: second, diameter: 125 mm, length: 90 m, roughness: 0.15 mm }
      - loss: { name: exit, K: 1.0 }
",
    "fluid: { name: water, temperature: 15 degC }
profile: { pipe: main, diameter: 80 mm, length: 25 m, roughness: 0.05 mm, centre-line velocity: 2.2 m/s, pressure drop: unknown }
",
    "fluid: { name: water, temperature: 15 degC }
tank: { name: vessel, area: 6 m^2, level: 4.0 m, until: unknown, floor: 3.0 m, pressure: 20 kPa }
time: 5 min
stations:
  end: { pressure: 0 kPa, elevation: 1.0 m, velocity: pipe }
path:
  - loss: { name: entrance, K: 0.5 }
  - pipe: { name: outlet, diameter: 50 mm, length: 4 m, roughness: 0.15 mm }
  - pipe: { name: nozzle, diameter: 40 mm, length: 2 m, roughness: 0.15 mm }
",
    "fluid: { density: 900 kg/m^3, dynamic viscosity: 0.1 Pa.s }
tank: { name: vat, area: 0.5 m^2, level: 1.0 m, until: 0.5 m, floor: 1.0 m }
time: unknown
stations:
  end: { pressure: 0 kPa, elevation: 0 m, velocity: pipe }
path:
  - pipe: { name: outlet, diameter: 40 mm, length: 4 m, roughness: 0.15 mm }
",
];

/// A slip is what comes out when someone solves the system with the wrong number in it.
#[test]
fn slips_lead_where_the_wrong_numbers_lead() {
    type Edit<'a> = (&'a str, &'a dyn Fn(&str) -> String);
    let (half, nought, ten, inch) = (times(0.5), times(0.0), times(10.0), times(25.4));
    let (thin, thick) = (times(1.0 / 998.2), times(998.2));
    let radius: &[Edit<'_>] = &[("diameter", &half)];
    let smooth: &[Edit<'_>] = &[("roughness", &nought)];
    let rough: &[Edit<'_>] = &[("roughness", &ten)];
    let inches: &[Edit<'_>] = &[("diameter", &inch)];
    let kinematic: &[Edit<'_>] = &[("dynamic viscosity", &thin)];
    let dynamic: &[Edit<'_>] = &[("dynamic viscosity", &thick)];
    let losses: &[Edit<'_>] = &[("K", &nought)];
    let level: &[Edit<'_>] = &[("elevation", &nought)];
    let litres = times(1000.0);
    let flows: &[Edit<'_>] = &[("demand", &litres), ("flow", &litres)];
    let demand: &[Edit<'_>] = &[("demand", &nought)];
    let mut compared = 0;
    for (system, slip, edits) in [
        (PATH, "radius for diameter", radius),
        (PATH, "smooth wall for rough", smooth),
        (PATH, "inch and millimetre confused", inches),
        (PATH, "minor losses left out", losses),
        (PATH, "kinematic viscosity for dynamic", kinematic),
        (PATH, "elevation left out", level),
        (NETWORK, "radius for diameter", radius),
        (NETWORK, "smooth wall for rough", smooth),
        (NETWORK, "roughness ten times too large", rough),
        (NETWORK, "minor losses left out", losses),
        (NETWORK, "kinematic viscosity for dynamic", kinematic),
        (NETWORK, "elevation left out", level),
        (NETWORK, "demand left out", demand),
        (NETWORK, "inch and millimetre confused", inches),
        (TANK, "radius for diameter", radius),
        (TANK, "smooth wall for rough", smooth),
        (TANK, "minor losses left out", losses),
        (TANK, "dynamic viscosity for kinematic", dynamic),
        (LEAK, "kinematic viscosity for dynamic", kinematic),
        (LEAK, "roughness ten times too large", rough),
        (PROFILE, "radius for diameter", radius),
        (PROFILE, "smooth wall for rough", smooth),
        (PROFILE, "kinematic viscosity for dynamic", kinematic),
        (PROFILE, "litres taken for cubic metres", flows),
        (METER, "radius for diameter", radius),
        (METER, "kinematic viscosity for dynamic", kinematic),
    ] {
        let of = everything(system).unwrap();
        let what = format!("{slip} in\n{system}");
        let found = of.slips.iter().find(|s| s.slip.name == slip);
        let found = found.unwrap_or_else(|| panic!("does not apply: {what}"));
        compared += same_as(&of, &found.answers, &edited(system, edits), &[], &what);
    }
    assert!(compared > 250, "{compared}");
}

/// Twice every loss and length is twice every head that goes with the velocity squared.
#[test]
fn half_of_the_velocity_head_left_out_is_twice_every_loss() {
    let twice = times(2.0);
    for (system, but) in [
        (
            PATH,
            ["L_wide", "L_narrow", "K_valve", "K_exit", "K_entrance"].as_slice(),
        ),
        (NETWORK, &["L_first", "L_second"]),
    ] {
        let of = everything(system).unwrap();
        let found = of
            .slips
            .iter()
            .find(|s| s.slip.name == "half of the velocity head left out");
        let other = edited(system, &[("length", &twice), ("K", &twice)]);
        same_as(&of, &found.unwrap().answers, &other, but, "half");
    }
}

#[test]
fn two_slips_lead_where_both_wrong_numbers_lead() {
    let (half, nought, ten) = (times(0.5), times(0.0), times(10.0));
    let (policy, conventions, givens) = (Policy::default(), Conventions::default(), Bindings::default());
    for (system, first, second) in [
        (
            PATH,
            (
                "radius for diameter",
                "diameter",
                &half as &dyn Fn(&str) -> String,
            ),
            ("minor losses left out", "K", &nought as &dyn Fn(&str) -> String),
        ),
        (
            NETWORK,
            ("radius for diameter", "diameter", &half),
            ("elevation left out", "elevation", &nought),
        ),
        (
            PROFILE,
            ("radius for diameter", "diameter", &half),
            ("roughness ten times too large", "roughness", &ten),
        ),
    ] {
        let of = everything(system).unwrap();
        let found = (of.slips.as_slice(), &[][..]);
        let all = Pairs::new(&of.template, &givens, &of.case, found, &policy, &conventions).unwrap();
        let pairs: Vec<_> = (all.each())
            .filter_map(|slips| Some((slips, all.answers(slips)?)))
            .collect();
        let name = |n: usize| &*of.slips[n].slip.name;
        let found = pairs.iter().find(|(slips, _)| {
            let names = slips.map(name);
            names.contains(&first.0) && names.contains(&second.0)
        });
        let what = format!("{} and {}", first.0, second.0);
        let (_, found) = found.unwrap_or_else(|| panic!("{what}"));
        let other = edited(system, &[(first.1, first.2), (second.1, second.2)]);
        same_as(&of, found, &other, &[], &what);
        // No pair is one of its slips alone, or none at all.
        for (slips, answers) in &pairs {
            for alone in [
                &of.slips[slips[0]].answers,
                &of.slips[slips[1]].answers,
                &of.right,
            ] {
                let differs = (0..of.template.parts.len()).any(|n| {
                    match (number(answers.get(n)), number(alone.get(n))) {
                        (Some(one), Some(other)) => (one - other).abs() > 1e-9 * other.abs(),
                        _ => false,
                    }
                });
                assert!(differs, "{:?}", slips.map(name));
            }
        }
        assert!(pairs.len() > 20, "{}", pairs.len());
    }
}

/// The span of a slip's answer: both ends of all readings, and the share that the right answer's band has beyond those.
#[test]
fn a_span_is_what_careful_readings_make_of_the_slip() {
    let bank = builtin_bank();
    let policy = Policy::default();
    let template = bank.get("irrigation-line-flow").unwrap();
    let (dealt, _) = dealt(template, 3);
    let part = template
        .parts
        .iter()
        .position(|part| part.name == "flow")
        .unwrap();
    let slip = dealt
        .slips
        .iter()
        .find(|s| s.slip.name == "Fanning factor for Darcy's")
        .unwrap();
    let Case::Path(path) = &dealt.case else { panic!() };
    let state = &path.solved.state.pipes[0];
    let by = misreading(&policy, state.reynolds, state.relative_roughness);
    let flow = |factor: f64| {
        let law = Law::Colebrook;
        let case = dealt
            .case
            .read_otherwise(&[Reading { law, factor }], &policy.limits)
            .unwrap();
        match case {
            Case::Path(path) => path.solved.state.flow,
            _ => panic!(),
        }
    };
    let (value, low, high) = (flow(0.25), flow(0.25 * (1.0 + by)), flow(0.25 * (1.0 - by)));
    let Accepted::Number(band) = &dealt.accepted[part] else {
        panic!()
    };
    let read = band
        .causes
        .iter()
        .find(|(cause, ..)| cause.name() == "reading the chart")
        .unwrap();
    let size = value / band.reference.value;
    let wanted = (
        low - size * (read.1 - band.low),
        high + size * (band.high - read.2),
    );
    let found = slip.spans[part].unwrap();
    assert!((found.0 / wanted.0 - 1.0).abs() < 1e-9, "{found:?} {wanted:?}");
    assert!((found.1 / wanted.1 - 1.0).abs() < 1e-9, "{found:?} {wanted:?}");
    assert!(found.0 < value && value < found.1);
}

/// A careful answer and a slip's are never taken for one another, unless the draw says so.
#[test]
fn no_slip_scores_unless_it_is_declared() {
    let (policy, conventions) = (Policy::default(), Conventions::default());
    let (mut seen, mut declared, mut judged) = (0, 0, 0);
    for template in &builtin_bank().templates {
        for n in 0..30 {
            let (dealt, _) = dealt(template, n);
            for (s, slip) in dealt.slips.iter().enumerate() {
                for (p, part) in template.parts.iter().enumerate() {
                    let what = || format!("{} {n}: {} in {}", template.name, slip.slip.name, part.name);
                    let (
                        Accepted::Number(band),
                        Some(Answer::Number(wrong)),
                        Asked::Number { unit, figures, .. },
                    ) = (&dealt.accepted[p], &slip.answers[p], &part.asked)
                    else {
                        continue;
                    };
                    if (wrong.value / band.reference.value - 1.0).abs() <= 1e-9 {
                        continue;
                    }
                    seen += 1;
                    let is_hidden = dealt.hidden.contains(&(s, p));
                    let (low, high) = slip.spans[p].unwrap();
                    let meets = low <= band.high && band.low <= high;
                    assert_eq!(is_hidden, meets, "{}", what());
                    let rounded = unit.to_si(round_to_figures(unit.from_si(wrong.value), *figures));
                    let scores = [wrong.value, rounded].into_iter().any(|value| {
                        let mut answer = *wrong;
                        answer.value = value;
                        accepts(&dealt.accepted[p], &Answer::Number(answer))
                    });
                    assert!(is_hidden || !scores, "{}", what());
                    // What ends in the band is not named.
                    if is_hidden && band.holds(wrong.value) {
                        declared += 1;
                        if n < 3 {
                            let text = Written::from_si(wrong.value, unit, *figures).ascii();
                            let typed: Vec<&str> = (0..template.parts.len())
                                .map(|other| if other == p { text.as_str() } else { "" })
                                .collect();
                            let all = judge(&dealt, &typed, &policy, &conventions);
                            assert!(
                                all[p]
                                    .slips
                                    .iter()
                                    .flatten()
                                    .all(|named| named.name != slip.slip.name),
                                "{}",
                                what()
                            );
                            judged += usize::from(all[p].verdict != Verdict::InBand);
                        }
                    }
                }
            }
            for listed in &template.slips {
                let s = dealt.slips.iter().position(|s| s.slip.name == listed.name);
                let s = s.unwrap_or_else(|| panic!("{}: {}", template.name, listed.name));
                for part in &listed.shows_in {
                    assert!(
                        !dealt.hidden.contains(&(s, *part)),
                        "{}: {}",
                        template.name,
                        listed.name
                    );
                }
            }
        }
    }
    assert!(
        seen > 30_000 && declared > 1000 && judged > 0,
        "{seen} {declared} {judged}"
    );
}

/// A template that lists a slip which this draw can't show is not dealt to anyone whom it does not show to.
#[test]
fn a_listed_slip_that_meets_the_band_refuses_the_draw() {
    let bank = builtin_bank();
    let template = bank.get("rinsing-line-flow").unwrap();
    let source = template.source.replace(
        "elevation left out: [head to spend, velocity, flow]",
        "elevation left out: [head to spend, velocity, flow]\n  - exit loss left out: [flow]",
    );
    let listed =
        Arc::new(Template::parse(&source, "listed", "listed.yaml").unwrap_or_else(|f| panic!("{f}")));
    let (policy, conventions) = (Policy::default(), Conventions::default());
    let why = match deal_one(&listed, &Seed::from_bytes([1; 32]), &policy, &conventions) {
        Err(faults) => faults.to_string(),
        Ok((_, refused)) => refused.to_string(),
    };
    assert!(
        why.contains("slip `exit loss left out` is hidden in part `flow`"),
        "{why}"
    );
}

fn draw_of(template: &Arc<Template>) -> Dealt {
    let (policy, conventions) = (Policy::default(), Conventions::default());
    let draw = Candidates::new(template, &Seed::from_bytes([5; 32]))
        .next()
        .unwrap();
    assess(template, draw, &policy, &conventions).unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn a_template_adds_slips_and_switches_slips_off() {
    let template = |height: &str, more: &str| {
        let text = format!(
            "title: Riser\ntopic: riser\ngivens:\n  H: {{ what: height, value: 8.0 m }}\n  Q: {{ what: flow, value: 2.0 L/s }}\n\
             system:\n  fluid: {{ density: 998 kg/m^3, dynamic viscosity: 1.0e-3 Pa.s }}\n  flow: Q\n  stations:\n    \
             start: {{ pressure: unknown, elevation: 0 m }}\n    end: {{ pressure: 0 kPa, elevation: {height}, velocity: 0 m/s }}\n  \
             path:\n    - pipe: {{ name: riser, diameter: 40 mm, length: 20 m, roughness: 0.15 mm }}\n    \
             - loss: {{ name: exit, K: 1.0 }}\nparts:\n  - {{ name: pressure, ask: What is it?, answer: p_1, unit: kPa }}\n  \
             - {{ name: height, ask: What is it?, answer: 2 * H, unit: m }}\n\
             statement: Up {{{{ H }}}} at {{{{ Q }}}}.\n{more}"
        );
        Arc::new(Template::parse(&text, "riser", "riser.yaml").unwrap_or_else(|faults| panic!("{faults}")))
    };
    let own = "own slips:\n  - name: half of the height\n    advice: Check the height.\n    with: { H: H / 2 }\n    \
               shows in: [pressure]\nslips off: [friction left out]\n";
    let dealt = draw_of(&template("H", own));
    let found = dealt
        .slips
        .iter()
        .find(|s| s.slip.name == "half of the height")
        .unwrap();
    assert_eq!(found.slip.advice, "Check the height.");
    let by_hand = draw_of(&template("H / 2", ""));
    let (found_pressure, wanted) = (
        number(found.answers.first()),
        number(by_hand.answers.first().cloned().map(Some).as_ref()),
    );
    assert!((found_pressure.unwrap() / wanted.unwrap() - 1.0).abs() < 1e-9);
    // A part's own formula takes the wrong given too.
    assert_eq!(number(found.answers.get(1)), Some(8.0));
    assert!(
        dealt
            .template
            .slips
            .iter()
            .any(|listed| listed.name == "half of the height")
    );
    let has = |dealt: &Dealt, name: &str| dealt.slips.iter().any(|s| s.slip.name == name);
    assert!(!has(&dealt, "friction left out") && has(&by_hand, "friction left out"));
}

/// Which slips work for which kinds: by the systems that the documentation shows, and by the built-in bank.
#[test]
fn the_documentation_says_which_slip_works_for_which_kind() {
    const KINDS: [&str; 7] = ["path", "network", "tank", "meter", "profile", "leak", "ageing"];
    let kind = |case: &Case| match case {
        Case::Path(_) => 0,
        Case::Network(_) => 1,
        Case::Tank(_) => 2,
        Case::Meter(_) => 3,
        Case::Profile(_) => 4,
        Case::Leak(_) => 5,
        Case::Ageing(_) => 6,
    };
    let mut works: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    let mut note = |case: &Case, slips: &[SlipAnswers]| {
        for found in slips {
            works
                .entry(found.slip.name.to_string())
                .or_default()
                .insert(kind(case));
        }
    };
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs");
    let mut files: Vec<_> = fs::read_dir(&docs).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    for file in files.iter().filter(|f| f.extension().is_some_and(|e| e == "md")) {
        let text = fs::read_to_string(file).unwrap();
        for block in text.split("```yaml system\n").skip(1) {
            let system = block.split("```").next().unwrap();
            if let Some(of) = everything(system) {
                note(&of.case, &of.slips);
            }
        }
    }
    for template in &builtin_bank().templates {
        let dealt = dealt(template, 1).0;
        note(&dealt.case, &dealt.slips);
        assert!(
            template.slips.len() >= 3,
            "{} lists fewer than three slips",
            template.name
        );
    }
    for system in OTHERS {
        let of = everything(system).unwrap_or_else(|| panic!("no solution:\n{system}"));
        note(&of.case, &of.slips);
    }
    let mut table = format!(
        "| slip | {} |\n|---|{}\n",
        KINDS.join(" | "),
        "---|".repeat(KINDS.len())
    );
    let mut across = 0;
    let shown = |slip: &slip::Slip| works.contains_key(&*slip.name);
    let missing: Vec<_> = slip::all()
        .iter()
        .filter(|slip| !shown(slip))
        .map(|slip| &slip.name)
        .collect();
    assert!(missing.is_empty(), "no system shows {missing:?}");
    for slip in slip::all() {
        let found = &works[&*slip.name];
        let marks: Vec<&str> = (0..KINDS.len())
            .map(|k| if found.contains(&k) { "x" } else { "" })
            .collect();
        across += usize::from(found.len() > 1);
        let _ = writeln!(table, "| `{}` | {} |", slip.name, marks.join(" | "));
    }
    assert!(across >= 24, "{across}");
    let page = docs.join("slips.md");
    let text = fs::read_to_string(&page).unwrap();
    let (before, rest) = text.split_once("| slip | path |").unwrap();
    let behind = rest.split_once("\n\n").map_or("", |(_, behind)| behind);
    let wanted = format!("{before}{table}\n{behind}");
    if std::env::var_os("GRADELINE_WRITE_SLIPS").is_some() {
        fs::write(&page, wanted).unwrap();
    } else {
        assert_eq!(text, wanted, "write it with GRADELINE_WRITE_SLIPS=1");
    }
}

/// Prints how often each case happens: `cargo test --test slips -- --ignored --nocapture how_often`.
#[test]
#[ignore = "a report"]
fn how_often_each_case_happens() {
    let mut per_template: BTreeMap<String, [usize; 4]> = BTreeMap::new();
    for template in &builtin_bank().templates {
        let name = &template.name;
        let (draws, refused): (Vec<Dealt>, Vec<u32>) = (0..30).map(|n| dealt(template, n)).unzip();
        let refused: u32 = refused.iter().sum();
        let mut of_slip: BTreeMap<(String, String), [usize; 3]> = BTreeMap::new();
        for dealt in &draws {
            for (n, slip) in dealt.slips.iter().enumerate() {
                for (p, part) in dealt.template.parts.iter().enumerate() {
                    let which = match dealt.clearance(n, p) {
                        Some(Clearance::Clear { .. }) => 0,
                        Some(Clearance::Overlaps) => 1,
                        Some(Clearance::TooSmall) => 2,
                        None => continue,
                    };
                    of_slip
                        .entry((slip.slip.name.to_string(), part.name.clone()))
                        .or_default()[which] += 1;
                    per_template.entry(name.clone()).or_default()[which] += 1;
                }
            }
        }
        per_template.entry(name.clone()).or_default()[3] = refused as usize;
        println!("== {name}: {refused} refused for 30");
        for ((slip, part), [clear, overlaps, small]) in of_slip {
            println!("   {slip} | {part} | {clear} {overlaps} {small}");
        }
    }
    println!("template | clear | overlaps | too small | refused");
    let mut sum = [0; 4];
    for (name, counts) in &per_template {
        println!(
            "{name} | {} | {} | {} | {}",
            counts[0], counts[1], counts[2], counts[3]
        );
        for (sum, count) in sum.iter_mut().zip(counts) {
            *sum += count;
        }
    }
    println!("all | {} | {} | {} | {}", sum[0], sum[1], sum[2], sum[3]);
}
