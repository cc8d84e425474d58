//! Dealing: every dealt problem keeps the laws, whatever the number of threads; a record restores what was dealt.

use gradeline::band::Accepted;
use gradeline::bank::course::{Conventions, Course, Policy, Set, SetProblem, Student, UnitSystem};
use gradeline::bank::template::{Asked, Template};
use gradeline::bank::{Bank, builtin_bank};
use gradeline::deal::record::Earlier;
use gradeline::deal::{
    self, DealtStudent, DrawnStudent, Shared, deal_one, deal_set, deal_set_on, identical_draws, record,
};
use gradeline::draw::{CourseKey, Seed};
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::{DecimalMark, Unit, round_to_figures};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

fn course() -> Course {
    Course {
        name: "Flow in pipes".to_owned(),
        conventions: Conventions {
            units: UnitSystem::Si,
            decimal_mark: DecimalMark::Point,
            figures: 4,
            property_figures: 4,
        },
        policy: Policy {
            reading_error: 0.05,
            limits: Limits::default(),
            follow_through_share: 1.0,
            slip_share: 0.0,
            review_margin: 0.1,
            accept_missing_unit: false,
            ..Policy::DEFAULT
        },
        ..Course::default()
    }
}

fn set() -> Set {
    let problem = |template: &str| SetProblem {
        template: template.to_owned(),
        marks: None,
    };
    Set {
        name: "week-3".to_owned(),
        title: "Third week".to_owned(),
        due: Some("1 March".to_owned()),
        problems: vec![
            problem("rinsing-line-flow"),
            problem("bearing-oil-line"),
            SetProblem {
                template: "penstock-turbine".to_owned(),
                marks: Some(20.0),
            },
            problem("bearing-oil-line"),
        ],
        policy: Policy {
            reading_error: 0.04,
            ..course().policy
        },
    }
}

fn roster(count: usize) -> Vec<Student> {
    (0..count)
        .map(|n| Student {
            id: format!("s{n:03}"),
            name: format!("Student {n}"),
            email: String::new(),
        })
        .collect()
}

fn key() -> CourseKey {
    CourseKey::from_bytes([9; 32])
}

fn deal(threads: usize, count: usize) -> Vec<DealtStudent> {
    match deal_set_on(
        threads,
        &course(),
        &set(),
        &roster(count),
        &builtin_bank(),
        &key(),
        &|student| student,
    ) {
        Ok(dealt) => dealt.students,
        Err(faults) => panic!("{faults}"),
    }
}

fn written(students: &[DealtStudent]) -> Vec<u8> {
    written_of(&course(), &set(), students)
}

fn written_of(course: &Course, set: &Set, students: &[DealtStudent]) -> Vec<u8> {
    let of_first = students
        .first()
        .map(|s| s.problems.as_slice())
        .unwrap_or_default();
    let templates: Vec<_> = of_first.iter().map(|p| Arc::clone(&p.template)).collect();
    let mut out = Vec::new();
    let drawn = students.iter().map(DealtStudent::drawn);
    record::write(&mut out, course, set, &templates, drawn).expect("a record");
    out
}

#[test]
fn threads_change_no_byte() {
    let one = deal(1, 12);
    let ids: Vec<_> = one.iter().map(|s| s.student.id.clone()).collect();
    assert_eq!(ids, roster(12).into_iter().map(|s| s.id).collect::<Vec<_>>());
    let four = deal(4, 12);
    assert_eq!(written(&one), written(&four));
    assert_eq!(format!("{one:?}"), format!("{four:?}"));
    let done = AtomicUsize::new(0);
    let counted = |student: DealtStudent| {
        done.fetch_add(1, Ordering::Relaxed);
        student
    };
    let all = deal_set(&course(), &set(), &roster(12), &builtin_bank(), &key(), &counted)
        .expect("a deal")
        .students;
    assert_eq!(written(&one), written(&all));
    assert_eq!(done.into_inner(), 12);
}

#[test]
fn what_was_drawn_is_drawn_again_from_its_candidates() {
    let templates = deal::templates(&set(), &builtin_bank()).expect("templates");
    for one in deal(2, 6) {
        let again = deal::drawn(&set().name, &templates, &key(), &one.student, &one.candidates());
        assert_eq!(format!("{again:?}"), format!("{:?}", one.drawn()));
    }
}

#[test]
fn whoever_shares_numbers_is_told() {
    let mut students: Vec<DrawnStudent> = deal(2, 4).iter().map(DealtStudent::drawn).collect();
    assert_eq!(deal::shared(students.iter().cloned()), []);
    students[3].problems[1] = students[0].problems[1].clone();
    let ids = vec!["s000".to_owned(), "s003".to_owned()];
    assert_eq!(deal::shared(students.into_iter()), [Shared { problem: 1, ids }]);
}

#[test]
fn whose_problems_changed_is_told_from_the_record() {
    let students = deal(2, 4);
    let record = earlier(&written(&students));
    let changed = |change: &dyn Fn(&mut DrawnStudent)| {
        let now = |id: &str| {
            let one = students.iter().find(|s| s.student.id == id)?;
            let mut drawn = one.drawn();
            change(&mut drawn);
            (!drawn.problems.is_empty()).then_some(drawn)
        };
        let found = record.changed(now).expect("a record");
        assert_eq!(found.of, 4);
        (found.ids, found.reworded)
    };
    let ids = |change: &dyn Fn(&mut DrawnStudent)| {
        let (ids, reworded) = changed(change);
        assert_eq!(reworded, [""; 0]);
        ids
    };
    assert_eq!(ids(&|_| ()), [""; 0]);
    let is = |drawn: &DrawnStudent, id: &str| drawn.student.id == id;
    // Another number, a problem less, no student.
    let another = students[0].drawn().problems[0].draw.clone();
    assert_eq!(
        ids(&|d| {
            if is(d, "s002") {
                d.problems[0].draw = another.clone();
            }
        }),
        ["s002"]
    );
    // Another text of a template leaves everyone their numbers.
    let name = students[0].drawn().problems[1].template.name.clone();
    let all = ["s000", "s001", "s002", "s003"];
    assert_eq!(
        changed(&|d| Arc::make_mut(&mut d.problems[1].template).source.push(' ')),
        (vec![], vec![name])
    );
    assert_eq!(ids(&|d| d.problems.truncate(3)), all);
    assert_eq!(
        ids(&|d| {
            if is(d, "s001") {
                d.problems.clear();
            }
        }),
        ["s001"]
    );
}

#[test]
fn a_template_named_twice_gives_other_numbers() {
    let students = deal(2, 8);
    let same = |s: &&DealtStudent| s.problems[1].draw.values == s.problems[3].draw.values;
    assert!(students.iter().filter(same).count() < 2);
    assert!(identical_draws(&students, 0) < 4);
    assert_eq!(
        students[0].problems[2]
            .part_marks(&set().problems[2])
            .iter()
            .sum::<f64>(),
        20.0
    );
}

#[test]
fn a_record_restores_what_was_dealt() {
    let students = deal(2, 5);
    let first = written(&students);
    let restored = match record::read(&first, "deal.json") {
        Ok(restored) => restored,
        Err(faults) => panic!("{faults}"),
    };
    assert_eq!(restored.course, course());
    assert_eq!(restored.set, set());
    assert_eq!(format!("{students:?}"), format!("{:?}", restored.students));
    let again = written_of(&restored.course, &restored.set, &restored.students);
    assert_eq!(first, again);
}

/// A template in degrees Fahrenheit prints properties in US customary units, and they are what is solved with; what was
/// dealt before that keeps its own.
#[test]
fn properties_go_with_the_temperature_but_for_what_was_dealt_before() {
    let mut set = set();
    for problem in &mut set.problems {
        problem.template = "spray-header-pump".to_owned();
    }
    let mut bank = builtin_bank();
    let deal = |bank: &Bank| match deal_set(&course(), &set, &roster(2), bank, &key(), &|student| student) {
        Ok(dealt) => dealt.students,
        Err(faults) => panic!("{faults}"),
    };
    let read = |json: &[u8]| match record::read(json, "deal.json") {
        Ok(restored) => restored.students,
        Err(faults) => panic!("{faults}"),
    };
    let density = |students: &[DealtStudent]| {
        let case = &students[0].problems[0].case;
        let fluid = case.fluid();
        let solved = case.path().expect("a path").solved.path.density;
        assert_eq!(
            solved,
            fluid.density.quantity().value,
            "what is printed is solved with"
        );
        (fluid.density.ascii(), fluid.dynamic_viscosity.ascii())
    };
    let now = deal(&bank);
    assert_eq!(now[0].problems[0].draw.values[0].ascii(), "80 degF");
    // Water at 80 °F as the library `iapws` 1.5.5 gives it by SR6-08 and R12-08: 996.6064 kg/m³ and 0.857207 mPa·s, which
    // are 62.21610 lbm/ft³ and 5.76017e-4 lbm/(ft·s).
    let printed = |density: &str, viscosity: &str| (density.to_owned(), viscosity.to_owned());
    let us = printed("62.22 lbm/ft^3", "5.760e-4 lbm/(ft*s)");
    let si = printed("996.6 kg/m^3", "8.572e-4 Pa*s");
    assert_eq!(density(&now), us);
    let first = written_of(&course(), &set, &now);
    assert_eq!(density(&read(&first)), us);
    // A record from before says nothing of it.
    let text = String::from_utf8(first).expect("text");
    let line = text
        .lines()
        .find(|line| line.contains("\"properties\""))
        .expect("it is said");
    let before = text.replace(&format!(",\n{line}"), "");
    assert_eq!(before.len() + line.len() + 2, text.len());
    let before = before.into_bytes();
    let students = read(&before);
    assert_eq!(density(&students), si);
    // Marking takes it so, and so does a deal to those who join.
    assert_eq!(density(&read(&written_of(&course(), &set, &students))), si);
    earlier(&before).round_as_before(&mut bank);
    assert_eq!(density(&deal(&bank)), si);
}

fn earlier(json: &[u8]) -> Earlier {
    Earlier::parse(json, "deal.json").unwrap_or_else(|faults| panic!("{faults}"))
}

fn refused(json: &str) -> String {
    match record::read(json.as_bytes(), "deal.json") {
        Ok(_) => panic!("this record was to be refused"),
        Err(faults) => faults.to_string(),
    }
}

#[test]
fn a_record_that_was_changed_is_refused() {
    let json = String::from_utf8(written(&deal(2, 2))).expect("text");
    let hash = refused(&json.replacen("Fanning factor", "Manning factor", 1));
    assert!(hash.contains("is not the one that was dealt"), "{hash}");
    let version = refused(&json.replacen(env!("CARGO_PKG_VERSION"), "7.1.0", 1));
    assert!(version.contains("written by gradeline 7.1.0"), "{version}");
    let unknown = refused(&json.replacen("\"course\"", "\"colour\": 1, \"course\"", 1));
    assert!(
        unknown.contains("colour") && unknown.contains("deal.json:"),
        "{unknown}"
    );
    let broken = refused(&json[..json.len() / 2]);
    assert!(broken.contains("no record of a deal"), "{broken}");
    // A given that the template can't give: K_v runs from 2.0 to 6.0.
    let at = json.find("\"K_v\": \"").expect("a given") + 8;
    let mut given = json.clone();
    given.replace_range(at..at + 3, "9.5");
    let given = refused(&given);
    assert!(given.contains("no value that the template can give"), "{given}");
}

/// Units that an answer in `unit` is also accepted in.
fn other_units(unit: &Unit) -> Vec<Unit> {
    [
        "m", "mm", "ft", "in", "m/s", "ft/s", "m^3/s", "L/s", "gpm", "ft^3/s", "L/min", "Pa", "kPa", "psi",
        "bar", "W", "kW", "hp",
    ]
    .into_iter()
    .filter_map(|text| Unit::parse(text).ok())
    .filter(|other| other.dimension == unit.dimension)
    .collect()
}

#[test]
fn a_careful_answer_passes_and_a_listed_slip_does_not() {
    let course = course();
    for template in &builtin_bank().templates {
        for n in 0..12 {
            let (dealt, _) = match deal_one(
                template,
                &Seed::from_bytes([n; 32]),
                &course.policy,
                &course.conventions,
            ) {
                Ok(dealt) => dealt,
                Err(faults) => panic!("{faults}"),
            };
            for (part, accepted) in template.parts.iter().zip(&dealt.accepted) {
                match (accepted, &part.asked) {
                    (Accepted::Number(band), Asked::Number { unit, figures, .. }) => {
                        let mut units = other_units(unit);
                        units.push(unit.clone());
                        for unit in units {
                            let given = round_to_figures(unit.from_si(band.reference.value), *figures);
                            assert!(
                                band.holds(unit.to_si(given)),
                                "{} {}: {given} {} is not in {band:?}",
                                template.name,
                                part.name,
                                unit.symbol
                            );
                        }
                    }
                    (Accepted::OneOf(answers), _) => assert_eq!(answers.len(), 1),
                    (accepted, asked) => panic!("{accepted:?} for {asked:?}"),
                }
            }
            for listed in &template.slips {
                let slip = (dealt.slips.iter())
                    .position(|s| s.slip.name == listed.name)
                    .expect("an answer");
                for &part in &listed.shows_in {
                    let clearance = dealt.clearance(slip, part).expect("another answer");
                    assert!(clearance.is_clear(), "{} {}", template.name, listed.name);
                    let wrong = dealt.slips[slip].answers[part].as_ref();
                    if let (Accepted::Number(band), Some(gradeline::solution::Answer::Number(wrong))) =
                        (&dealt.accepted[part], wrong)
                    {
                        assert!(!band.holds(wrong.value), "{} {}", template.name, listed.name);
                    }
                }
            }
        }
    }
}

fn changed(name: &str, from: &str, to: &str) -> Arc<Template> {
    let bank = builtin_bank();
    let template = bank.get(name).expect("a built-in template");
    assert!(template.source.contains(from));
    let source = template.source.replace(from, to);
    match Template::parse(&source, name, "changed.yaml") {
        Ok(template) => Arc::new(template),
        Err(faults) => panic!("{faults}"),
    }
}

fn not_dealt(template: &Arc<Template>) -> String {
    let course = course();
    match deal_one(
        template,
        &Seed::from_bytes([1; 32]),
        &course.policy,
        &course.conventions,
    ) {
        Ok(_) => panic!("this template was to be refused"),
        Err(faults) => faults.to_string(),
    }
}

#[test]
fn what_refuses_candidates_is_named_and_counted() {
    let impossible = not_dealt(&changed("rinsing-line-flow", "V > 1.5 m/s", "V > 150 m/s"));
    assert!(
        impossible.contains("2000 candidates were refused"),
        "{impossible}"
    );
    assert!(
        impossible.contains("constraint 2, `V > 150 m/s`, does not hold"),
        "{impossible}"
    );
    let hidden = not_dealt(&changed(
        "rinsing-line-flow",
        "minor losses left out: [velocity, flow]",
        "minor losses left out: [velocity, relative roughness]",
    ));
    assert!(
        hidden.contains("slip `minor losses left out` is hidden in part `relative roughness`"),
        "{hidden}"
    );
    let idle = not_dealt(&changed(
        "rinsing-line-flow",
        "minor losses left out:",
        "efficiency left out:",
    ));
    assert!(
        idle.contains("slip `efficiency left out` changes nothing"),
        "{idle}"
    );
}

#[test]
fn a_template_that_can_not_be_dealt_is_told_once() {
    let bank = Bank {
        templates: vec![changed("rinsing-line-flow", "V > 1.5 m/s", "V > 150 m/s")],
    };
    let mut set = set();
    set.problems.truncate(1);
    set.problems.push(set.problems[0].clone());
    let faults =
        deal_set(&course(), &set, &roster(3), &bank, &key(), &|student| student).expect_err("faults");
    let [fault] = &faults.0[..] else {
        panic!("{faults}");
    };
    assert!(
        fault
            .what
            .starts_with("`rinsing-line-flow` can't be dealt: 2000 candidates were refused ("),
        "{fault}"
    );
    assert_eq!(
        fault.place.as_ref().map(|p| p.file.as_str()),
        Some("rinsing-line-flow")
    );
}

#[test]
fn templates_that_the_bank_has_not_got_are_named_all_at_once() {
    let mut set = set();
    set.problems[1].template = "rinsing-line-flaw".to_owned();
    let bank = Bank {
        templates: vec![changed("rinsing-line-flow", "V > 1.5 m/s", "V > 1.6 m/s")],
    };
    let faults =
        deal_set(&course(), &set, &roster(1), &bank, &key(), &|student| student).expect_err("faults");
    assert_eq!(faults.0.len(), 3, "{faults}");
    assert!(
        faults.to_string().contains("mend: write `rinsing-line-flow`"),
        "{faults}"
    );
}
