//! Bands by cause, follow-through along a path, and slips against answers computed elsewhere.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::band::{Accepted, Band, Cause, band_of, follow_through, slip};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy, ReadingModel, UnitSystem};
use gradeline::bank::system::System;
use gradeline::bank::template::{Asked, Template};
use gradeline::deal::{Dealt, assess, deal_one};
use gradeline::draw::{Candidates, Seed};
use gradeline::equation::Expr;
use gradeline::hydraulics::friction::{Law, Reading, darcy};
use gradeline::hydraulics::path::{Element, Path, Pipe};
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::{DecimalMark, Quantity, Unit};
use gradeline::solution::{Answer, Case, answers};
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::sync::Arc;

const CONVENTIONS: Conventions = Conventions {
    units: UnitSystem::Si,
    decimal_mark: DecimalMark::Point,
    figures: 4,
    property_figures: 4,
};

fn policy() -> Policy {
    Policy {
        reading_error: 0.05,
        limits: Limits::default(),
        follow_through_share: 1.0,
        slip_share: 0.0,
        review_margin: 0.0,
        accept_missing_unit: false,
        ..Policy::DEFAULT
    }
}

fn seed(n: u8) -> Seed {
    Seed::from_bytes([n; 32])
}

fn dealt(template: &str, n: u8) -> Dealt {
    dealt_by(template, n, &policy())
}

fn dealt_by(template: &str, n: u8, policy: &Policy) -> Dealt {
    let bank = builtin_bank();
    let template = bank.get(template).expect("a template of the built-in bank");
    match deal_one(template, &seed(n), policy, &CONVENTIONS) {
        Ok((dealt, _)) => dealt,
        Err(faults) => panic!("{faults}"),
    }
}

fn pipes(path: &Path) -> Vec<Pipe> {
    path.elements
        .iter()
        .filter_map(|e| match e {
            Element::Pipe(pipe) => Some(*pipe),
            _ => None,
        })
        .collect()
}

/// The sum of loss coefficients on each pipe.
fn coefficients(path: &Path, pipes: usize) -> Vec<f64> {
    let mut sums = vec![0.0; pipes];
    for element in &path.elements {
        if let Element::Loss {
            coefficient, pipe, ..
        } = element
        {
            sums[*pipe] += coefficient;
        }
    }
    sums
}

fn formula_of(asked: &Asked) -> Option<(String, f64, u32)> {
    match asked {
        Asked::Number {
            formula,
            unit,
            figures,
        } => {
            let name = match formula {
                Expr::Symbol(name) => name.clone(),
                Expr::Subtract(a, b) => match (&**a, &**b) {
                    (Expr::Symbol(a), Expr::Symbol(b)) => format!("{a} - {b}"),
                    _ => return None,
                },
                _ => return None,
            };
            Some((name, unit.factor, *figures))
        }
        _ => None,
    }
}

fn template_at(file: &str) -> Arc<Template> {
    let path = format!("{}/tests/data/slips/{file}.yaml", env!("CARGO_MANIFEST_DIR"));
    let yaml = std::fs::read_to_string(&path).expect("a case of the check data");
    match Template::parse(&yaml, file, &path) {
        Ok(template) => Arc::new(template),
        Err(faults) => panic!("{faults}"),
    }
}

fn assessed(template: &Arc<Template>) -> Dealt {
    let draw = Candidates::new(template, &seed(0))
        .next()
        .expect("candidates never end");
    match assess(template, draw, &policy(), &EXACT) {
        Ok(dealt) => dealt,
        Err(faults) => panic!("{}: {faults}", template.name),
    }
}

const EXACT: Conventions = Conventions {
    property_figures: 8,
    ..CONVENTIONS
};

#[test]
fn slips_lead_where_the_check_data_say() {
    let csv = include_str!("data/slips/slips.csv");
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let mut dealt: BTreeMap<String, Dealt> = BTreeMap::new();
    let mut checked = 0;
    let mut faults = Vec::new();
    for row in reader.records() {
        let row = row.expect("a row of the check data");
        let (case, slip) = (&row[0], &row[1]);
        let right: f64 = row[2].parse().expect("a number");
        let wrong: f64 = row[3].parse().expect("a number");
        let dealt = dealt
            .entry(case.to_owned())
            .or_insert_with(|| assessed(&template_at(case)));
        let Answer::Number(reference) = dealt.answers[0] else {
            panic!("a number")
        };
        assert!(
            (reference.value / right - 1.0).abs() < 2e-7,
            "{case}: {} and {right}",
            reference.value
        );
        let found = dealt.slips.iter().find(|s| s.slip.name == slip);
        let Some(found) = found else {
            // A slip that changes the answer by nothing is none, and so is one that asks a pump for power below zero.
            if (wrong / right - 1.0).abs() > 1e-9 && wrong > 0.0 {
                faults.push(format!("{case}: `{slip}` is missing, should be {wrong}"));
            }
            continue;
        };
        let Some(Answer::Number(value)) = found.answers[0] else {
            faults.push(format!("{case}: `{slip}` has no answer"));
            continue;
        };
        if (value.value / wrong - 1.0).abs() > 1e-6 {
            faults.push(format!(
                "{case}: `{slip}` leads to {}, should be {wrong}",
                value.value
            ));
        }
        checked += 1;
    }
    assert!(
        faults.is_empty(),
        "{checked} checked; {}:\n{}",
        faults.len(),
        faults.join("\n")
    );
    assert!(checked > 250, "only {checked} rows were checked");
}

#[test]
fn names_of_slips_are_unique_and_their_advice_is_a_hint() {
    let mut names: Vec<_> = slip::all().iter().map(|slip| &*slip.name).collect();
    let count = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), count);
    for slip in slip::all() {
        assert!(slip.advice.starts_with("Check "), "{}", slip.name);
        assert!(slip.advice.ends_with('.'), "{}", slip.name);
    }
}

#[test]
fn references_are_the_answers_of_the_worked_solution() {
    for template in &builtin_bank().templates {
        let dealt = dealt(&template.name, 7);
        let worked = answers(&dealt.template, &dealt.givens, &dealt.case).expect("answers");
        for (ours, theirs) in dealt.answers.iter().zip(&worked) {
            match (ours, theirs) {
                (Answer::Number(ours), Answer::Number(theirs)) => {
                    assert_eq!(ours.dimension, theirs.dimension);
                    assert!((ours.value / theirs.value - 1.0).abs() < 1e-12);
                }
                (ours, theirs) => assert_eq!(ours, theirs),
            }
        }
    }
}

fn part(dealt: &Dealt, name: &str) -> usize {
    dealt
        .template
        .parts
        .iter()
        .position(|part| part.name == name)
        .unwrap_or_else(|| panic!("no part `{name}`"))
}

fn number(dealt: &Dealt, name: &str) -> Quantity {
    match dealt.answers[part(dealt, name)] {
        Answer::Number(quantity) => quantity,
        _ => panic!("`{name}` is no number"),
    }
}

/// What a part accepts when one earlier part was answered with `share` times the true answer.
fn follow(dealt: &Dealt, from: &[(&str, f64)], to: &str) -> Option<Accepted> {
    let mut own = vec![None; dealt.answers.len()];
    for (name, share) in from {
        let right = number(dealt, name);
        own[part(dealt, name)] = Some(Answer::Number(Quantity::new(
            right.value * share,
            right.dimension,
        )));
    }
    follow_through(
        &dealt.template,
        &dealt.givens,
        &dealt.case,
        part(dealt, to),
        &own,
        &policy(),
        &CONVENTIONS,
    )
}

fn reference(accepted: Option<Accepted>) -> f64 {
    match accepted {
        Some(Accepted::Number(band)) => band.reference.value,
        other => panic!("a number was to follow, not {other:?}"),
    }
}

fn close(a: f64, b: f64, within: f64) {
    assert!((a / b - 1.0).abs() < within, "{a} and {b}");
}

#[test]
fn a_known_flow_is_followed_from_velocity_to_power() {
    let dealt = dealt("penstock-turbine", 3);
    let path = &dealt.case.path().unwrap().solved.path;
    let pipe = pipes(path)[0];
    let right = |name| number(&dealt, name).value;
    // Re = V D/ν
    let re = reference(follow(&dealt, &[("velocity", 1.3)], "Reynolds number"));
    close(re, 1.3 * right("Reynolds number"), 1e-9);
    // f from the student's Re: the law at that number.
    let f = reference(follow(&dealt, &[("Reynolds number", 0.1)], "friction factor"));
    let law = darcy(
        Reading::EXACT,
        0.1 * right("Reynolds number"),
        pipe.roughness / pipe.diameter,
        &Limits::default(),
    );
    close(f, law, 1e-9);
    // h_L = (f L/D + ΣK) V²/2g, from the student's V and f.
    let lost = reference(follow(
        &dealt,
        &[("velocity", 1.2), ("friction factor", 2.0)],
        "head loss",
    ));
    let v = 1.2 * right("velocity");
    let by_hand =
        (2.0 * right("friction factor") * pipe.length / pipe.diameter + coefficients(path, 1)[0]) * v * v
            / (2.0 * path.gravity);
    close(lost, by_hand, 1e-9);
    // h_T = H - h_L.
    let turbine = reference(follow(&dealt, &[("head loss", 1.5)], "turbine head"));
    let rise = path.start.elevation - path.end.elevation;
    close(turbine, rise - 1.5 * right("head loss"), 1e-9);
    // P = η ρ g Q h_T, in proportion.
    let power = reference(follow(&dealt, &[("turbine head", 0.7)], "power"));
    close(power, 0.7 * right("power"), 1e-9);
    // An earlier answer hides what it was had from: power follows the turbine's head, not the velocity.
    let hidden = reference(follow(
        &dealt,
        &[("velocity", 3.0), ("turbine head", 0.7)],
        "power",
    ));
    close(hidden, power, 1e-12);
    // Nothing earlier, nothing to follow.
    assert_eq!(follow(&dealt, &[], "power"), None);
    assert_eq!(follow(&dealt, &[("power", 2.0)], "velocity"), None);
}

#[test]
fn an_unknown_flow_is_followed_from_factor_to_check() {
    let dealt = dealt("rinsing-line-flow", 5);
    let path = &dealt.case.path().unwrap().solved.path;
    let pipe = pipes(path)[0];
    let right = |name| number(&dealt, name).value;
    // V from the energy equation with the student's f.
    let v = reference(follow(&dealt, &[("friction factor", 0.25)], "velocity"));
    let f = 0.25 * right("friction factor");
    let head =
        path.start.pressure / (path.density * path.gravity) + path.start.elevation - path.end.elevation;
    let sum = f * pipe.length / pipe.diameter + coefficients(path, 1)[0] - 1.0;
    close(v, (2.0 * path.gravity * head / sum).sqrt(), 1e-9);
    // Q = V A and Re = V D/ν from the student's V.
    close(
        reference(follow(&dealt, &[("velocity", 1.4)], "flow")),
        1.4 * right("flow"),
        1e-9,
    );
    close(
        reference(follow(&dealt, &[("velocity", 1.4)], "Reynolds number")),
        1.4 * right("Reynolds number"),
        1e-9,
    );
    // Q follows from f too, where the velocity was left blank.
    close(
        reference(follow(&dealt, &[("friction factor", 0.25)], "flow")),
        v * PI * pipe.diameter * pipe.diameter / 4.0,
        1e-9,
    );
    // The check follows the student's own Reynolds number.
    let check = |share| {
        follow(
            &dealt,
            &[("Reynolds number", share), ("friction factor", 1.0)],
            "check",
        )
    };
    let word = |word: &str| Some(Accepted::OneOf(vec![Answer::Choice(word.to_owned())]));
    assert_eq!(check(1.0), word("yes"));
    assert_eq!(check(0.05), word("no"));
}

#[test]
fn a_bore_is_followed_to_velocity_and_a_pressure_from_its_drop() {
    let bore = dealt("deck-wash-smallest-diameter", 2);
    let right = |name| number(&bore, name).value;
    let v = reference(follow(&bore, &[("diameter", 0.5)], "velocity"));
    close(v, 4.0 * right("velocity"), 1e-9);
    let re = reference(follow(
        &bore,
        &[("diameter", 0.5), ("velocity", 4.0)],
        "Reynolds number",
    ));
    close(re, 2.0 * right("Reynolds number"), 1e-9);
    // More head to spend, a smaller bore.
    let d = reference(follow(&bore, &[("head to spend", 2.0)], "diameter"));
    assert!(d < right("diameter") && d > 0.8 * right("diameter"), "{d}");

    let drop = dealt("hatchery-pressure-drop", 2);
    let asked = &drop.template.parts[part(&drop, "pressure drop")].asked;
    assert_eq!(formula_of(asked).map(|f| f.0).as_deref(), Some("p_1 - p_2"));
    let before = number(&drop, "pressure drop").value;
    let pressure = reference(follow(&drop, &[("pressure drop", 1.5)], "upstream pressure"));
    close(
        pressure - drop.case.path().unwrap().solved.path.end.pressure,
        1.5 * before,
        1e-9,
    );
}

#[test]
fn each_cause_alone_is_inside_the_band() {
    for template in &builtin_bank().templates {
        let dealt = dealt(&template.name, 1);
        for accepted in &dealt.accepted {
            let Accepted::Number(band) = accepted else {
                continue;
            };
            assert!(band.causes.len() <= Cause::ALL.len());
            assert!(band.holds(band.reference.value));
            for (cause, low, high) in &band.causes {
                let slack = 1e-12 * band.reference.value.abs();
                assert!(low <= high, "{cause:?}");
                assert!(
                    band.low <= low + slack && *high <= band.high + slack,
                    "{}: {cause:?} {band:?}",
                    template.name
                );
            }
        }
    }
}

/// The band of one result of a system that no template asks about.
fn band_by(yaml: &str, result: &str, figures: u32, policy: &Policy) -> Band {
    let system = System::parse(yaml, "here.yaml").unwrap();
    let case = Case::solve(system, Some(4), &policy.limits).unwrap();
    let formula = Expr::parse(result).unwrap();
    band_of(&case, &formula, &Unit::none(), figures, policy, &CONVENTIONS)
        .unwrap_or_else(|faults| panic!("{faults}"))
}

fn of(band: &Band, cause: Cause) -> f64 {
    let own = band.causes.iter().find(|(known, ..)| *known == cause);
    own.map_or(0.0, |(_, low, high)| high - low)
}

/// Water at 15 °C lies midway between the entries of a table.
const LINE: &str = "
fluid: { name: water, temperature: 15 degC }
gravity: 9.81 m/s^2
flow: unknown
stations:
  start: { pressure: 0 kPa, elevation: 30 m, velocity: 0 m/s }
  end: { pressure: 0 kPa, elevation: 0 m, velocity: 0 m/s }
path:
  - pipe: { name: main, diameter: 80 mm, length: 200 m, roughness: 1.5 mm }
  - loss: { name: exit, K: 1.0 }
";

#[test]
fn a_cause_that_is_taken_away_takes_its_part_of_the_band_along() {
    let all = Policy::default();
    // What is taken away, from which result, and the policy without it.
    let without = [
        (
            Cause::Reading,
            "Q",
            Policy {
                reading_error: 0.0,
                ..all
            },
        ),
        (
            Cause::Formula,
            "f",
            Policy {
                other_formulas: false,
                ..all
            },
        ),
        (
            Cause::Properties,
            "Re",
            Policy {
                table_properties: false,
                ..all
            },
        ),
        (
            Cause::Gravity,
            "Q",
            Policy {
                other_gravities: false,
                ..all
            },
        ),
        (
            Cause::FullyRough,
            "f",
            Policy {
                limits: Limits {
                    fully_rough_start: 1e9,
                    ..all.limits
                },
                ..all
            },
        ),
    ];
    for (cause, result, policy) in without {
        let (with, less) = (band_by(LINE, result, 3, &all), band_by(LINE, result, 3, &policy));
        assert!(of(&with, cause) > 0.0, "{cause:?}: {with:?}");
        assert!(
            of(&less, cause) < 1e-9 * less.reference.value,
            "{cause:?}: {less:?}"
        );
        // How far each end comes in when the cause goes, in the cause's own width. A table's viscosity is higher at 15 °C and
        // makes a smaller Reynolds number, other gravities are less than 9.81 and make a smaller flow, the level part of a curve
        // lies below the curve: each stretches the low end. Who has it so is missing at the top, where a few in ten thousand lie
        // a little farther up when they come back. A formula lies within what is misread, and stretches nothing. Another
        // gravity moves the flow by a twentieth of a per cent with a third of all students: where a band ends hardly one
        // in a thousand more or less moves the end by a tenth of that.
        let (low, high) = match cause {
            Cause::Reading => (0.4, 0.4),
            Cause::Properties => (0.8, -0.1),
            Cause::FullyRough => (0.5, -0.1),
            Cause::Gravity => (0.1, -0.15),
            _ => (0.0, 0.0),
        };
        let own = of(&with, cause);
        let by = ((less.low - with.low) / own, (with.high - less.high) / own);
        assert!(
            by.0 >= low && by.1 >= high,
            "{cause:?}: {by:?} of {own}, not {low} and {high}"
        );
        assert!(by.0 + by.1 >= 0.0, "{cause:?}: {by:?}");
    }
    // The chart is harder to read where its curves are steep: a smooth wall.
    let smooth = LINE
        .replace("roughness: 1.5 mm", "roughness: 0 mm")
        .replace("elevation: 30 m", "elevation: 3 m");
    let even = Policy {
        reading_model: ReadingModel::Even,
        ..all
    };
    let (by_place, flat) = (band_by(&smooth, "f", 3, &all), band_by(&smooth, "f", 3, &even));
    assert!(
        of(&by_place, Cause::Reading) > 1.1 * of(&flat, Cause::Reading),
        "{by_place:?} {flat:?}"
    );
    assert!(by_place.high - by_place.low > flat.high - flat.low);
    // Without readings the formulas are left, which differ by up to some per cent.
    let exact = Policy {
        reading_error: 0.0,
        table_properties: false,
        other_gravities: false,
        ..all
    };
    let formulas = band_by(&smooth, "f", 6, &exact);
    let (law, limits) = (of(&formulas, Cause::Formula), Limits::default());
    let reading = |law| Reading { law, factor: 1.0 };
    let case = Case::solve(System::parse(&smooth, "here.yaml").unwrap(), Some(4), &limits).unwrap();
    let state = case.path().unwrap().solved.state.pipes[0];
    let swamee = darcy(reading(Law::SwameeJain), state.reynolds, 0.0, &limits);
    assert!(law >= 0.9 * (swamee / state.darcy_friction_factor - 1.0).abs() * state.darcy_friction_factor);
    assert!(formulas.high - formulas.low >= law);
    // Figures asked for, and nothing else, make the last rounding; it counts in full where nothing is read.
    let (three, five) = (band_by(LINE, "rr", 3, &all), band_by(LINE, "rr", 5, &all));
    let last = of(&three, Cause::LastFigure) - of(&five, Cause::LastFigure);
    assert!((last / three.reference.value - 0.0099).abs() < 1e-4, "{last}");
    // 0.01875 lies half-way between 0.0187 and 0.0188. One student in two rounds it up, so that both lie in the band, as far from
    // either end, and the last rounding meets them.
    let half = 0.5 * last;
    let reach = |band: &Band| [band.reference.value - band.low, band.high - band.reference.value];
    for band in [&three, &five] {
        let [down, up] = reach(band);
        assert!((down - up).abs() < 1e-9, "{band:?}");
    }
    assert!(five.low <= 0.0187 && five.high >= 0.0188, "{five:?}");
    assert!(reach(&three)[0] >= 0.99 * half, "{three:?}");
    // Of 0.02, which is itself to three figures, it counts in full both ways.
    let even = LINE.replace("roughness: 1.5 mm", "roughness: 1.6 mm");
    let (three, five) = (band_by(&even, "rr", 3, &all), band_by(&even, "rr", 5, &all));
    let last = of(&three, Cause::LastFigure) - of(&five, Cause::LastFigure);
    let shrunk = (three.high - three.low) - (five.high - five.low);
    assert!((shrunk / last - 1.0).abs() < 0.01, "{three:?} {five:?}");
}

#[test]
fn straight_lines_through_a_pumps_points_are_a_choice_of_method() {
    let pumped = |curve: &str| {
        LINE.replace("elevation: 30 m", "elevation: 0 m").replace(
            "- loss:",
            &format!("- pump: {{ name: booster, {curve} }}\n  - loss:"),
        )
    };
    let points = "curve: [[0 L/s, 40 m], [5 L/s, 37 m], [10 L/s, 29 m], [15 L/s, 15 m]]";
    let band = band_by(&pumped(points), "Q", 3, &Policy::default());
    assert!(of(&band, Cause::Method) > 0.0, "{band:?}");
    let flat = band_by(&pumped("head: 30 m"), "Q", 3, &Policy::default());
    assert_eq!(of(&flat, Cause::Method), 0.0);
}

/// 2 × 0.5 × 0.2/0.7 m is 0.2857 m, kept as 0.286: a Reynolds number of 5.054×10⁴ is then 5.059×10⁴, kept as 5.06×10⁴.
#[test]
fn a_hydraulic_diameter_is_written_down_before_the_reynolds_number() {
    let duct = "
fluid: { name: gas, density: 1 kg/m^3, dynamic viscosity: 1.696e-5 Pa*s }
gravity: 9.81 m/s^2
flow: 0.3 m^3/s
stations:
  start: { name: fan, pressure: unknown, elevation: 0 m, velocity: pipe }
  end:   { name: end, pressure: 0 kPa, elevation: 0 m, velocity: pipe }
path:
  - pipe: { name: duct, section: { rectangle: [500 mm, 200 mm] }, length: 12 m, roughness: 0.15 mm }
";
    let band = band_by(duct, "Re", 3, &Policy::default());
    // In another unit up to half a per cent more; of 5.054 that is less.
    assert!(band.high > 5.06e4 * 1.004, "{band:?}");
}
