//! Marking, from what was dealt to the marked folder, on the built-in bank.

#![allow(clippy::unwrap_used)]

use gradeline::band::Accepted;
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Course, Policy, Set, SetProblem, Student, UnitSystem};
use gradeline::bank::template::Asked;
use gradeline::deal::record::Restored;
use gradeline::deal::{Dealt, deal_set};
use gradeline::draw::CourseKey;
use gradeline::hydraulics::regime::{Limits, Regime};
use gradeline::mark::{
    Answers, Judged, LARGEST_FILE, Marked, Reveal, ReviewKind, Rulings, Verdict, accepts, judge, mark,
    mark_on, marks_text,
};
use gradeline::quantity::{DecimalMark, Dimension, Quantity, Unit, Written};
use gradeline::report::ClassReport;
use gradeline::solution::Answer;
use gradeline::store;
use proptest::prelude::*;
use std::path::PathBuf;
use std::sync::OnceLock;

const POLICY: Policy = Policy {
    reading_error: 0.05,
    limits: Limits {
        laminar_end: 2300.0,
        turbulent_start: 4000.0,
        fully_rough_start: 200.0,
        smooth_end: 5.0,
    },
    follow_through_share: 1.0,
    slip_share: 0.5,
    review_margin: 0.25,
    accept_missing_unit: true,
    ..Policy::DEFAULT
};

const CONVENTIONS: Conventions = Conventions {
    units: UnitSystem::Si,
    decimal_mark: DecimalMark::Point,
    figures: 4,
    property_figures: 4,
};

const NAMES: [&str; 5] = ["s-001", "Émile", "=cmd", "a/b", "x.y"];

/// Every template of the built-in bank, dealt to five students with awkward identifiers.
fn dealt() -> &'static Restored {
    static DEALT: OnceLock<Restored> = OnceLock::new();
    DEALT.get_or_init(|| {
        let bank = builtin_bank();
        let course = Course {
            name: "Flow in pipes".into(),
            conventions: CONVENTIONS,
            policy: POLICY,
            ..Course::default()
        };
        let set = Set {
            name: "all".into(),
            title: "All *problems*".into(),
            due: None,
            problems: bank
                .templates
                .iter()
                .map(|t| SetProblem {
                    template: t.name.clone(),
                    marks: None,
                })
                .collect(),
            policy: POLICY,
        };
        let roster: Vec<Student> = NAMES
            .iter()
            .map(|id| Student {
                id: (*id).into(),
                name: format!("Name of {id}"),
                email: String::new(),
            })
            .collect();
        let key = CourseKey::from_bytes([7; 32]);
        let students = deal_set(&course, &set, &roster, &bank, &key, &|student| student)
            .unwrap()
            .students;
        Restored {
            course,
            set,
            students,
        }
    })
}

/// A long table of answers; `typed` gives each student's text for each part.
fn table(restored: &Restored, typed: impl Fn(usize, usize, usize, &Dealt) -> Option<String>) -> Answers {
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record(["student", "problem", "part", "answer"])
        .unwrap();
    for (s, student) in restored.students.iter().enumerate() {
        for (p, problem) in student.problems.iter().enumerate() {
            for (i, part) in problem.template.parts.iter().enumerate() {
                if let Some(text) = typed(s, p, i, problem) {
                    csv.write_record([&student.student.id, &(p + 1).to_string(), &part.name, &text])
                        .unwrap();
                }
            }
        }
    }
    let mut answers = Answers::default();
    answers.csv(&csv.into_inner().unwrap(), "answers.csv");
    answers
}

/// The reference answer in the unit asked, to the figures asked.
fn reference(dealt: &Dealt, part: usize) -> String {
    scaled(dealt, part, 1.0)
}

/// The reference answer times `factor`, in the unit asked, to the figures asked; a word as it is.
fn scaled(dealt: &Dealt, part: usize, factor: f64) -> String {
    match (&dealt.answers[part], &dealt.template.parts[part].asked) {
        (Answer::Number(q), Asked::Number { unit, figures, .. }) => {
            Written::from_si(factor * q.value, unit, *figures).ascii()
        }
        (answer, _) => word(answer),
    }
}

fn word(answer: &Answer) -> String {
    match answer {
        Answer::Regime(regime) => regime.name().to_owned(),
        Answer::Choice(word) => word.clone(),
        Answer::Number(_) => panic!("a number is no word"),
    }
}

fn marked(answers: &Answers) -> Marked {
    mark(dealt(), answers, &Rulings::default()).unwrap()
}

/// Other units that an answer of a dimension may be typed in.
fn units(dimension: Dimension) -> Vec<Unit> {
    [
        "m", "mm", "cm", "ft", "in", "m/s", "ft/s", "km/h", "m^3/s", "L/s", "L/min", "m^3/h", "gpm",
        "ft^3/s", "kPa", "Pa", "bar", "psi", "W", "kW", "hp", "m^2", "mm^2", "%",
    ]
    .iter()
    .map(|text| Unit::parse(text).unwrap())
    .filter(|unit| unit.dimension == dimension)
    .collect()
}

#[test]
fn reference_answers_get_full_marks() {
    let marked = marked(&table(dealt(), |_, _, i, dealt| Some(reference(dealt, i))));
    for (student, dealt) in marked.students.iter().zip(&dealt().students) {
        for item in &student.items {
            let part = &dealt.problems[item.problem].template.parts[item.part];
            assert_eq!(
                item.judged.verdict,
                Verdict::InBand,
                "{} of {}: {}",
                part.name,
                item.problem,
                item.typed
            );
            assert_eq!(item.marks, item.out_of);
        }
        assert_eq!(student.total(), marked.total_out_of());
    }
    assert_eq!(marked.review, []);
    assert!(!marked.needs_a_person());
}

/// Law 5: also in every other unit, to the figures asked.
#[test]
fn reference_answers_pass_in_every_unit() {
    let most = 6;
    for nth in 0..most {
        let answers = table(dealt(), |_, _, i, dealt| {
            match (&dealt.answers[i], &dealt.template.parts[i].asked) {
                (Answer::Number(q), Asked::Number { figures, .. }) => {
                    let unit = units(q.dimension).into_iter().nth(nth)?;
                    Some(Written::from_si(q.value, &unit, *figures).ascii())
                }
                _ => None,
            }
        });
        for (student, dealt) in marked(&answers).students.iter().zip(&dealt().students) {
            for item in student.items.iter().filter(|i| !i.typed.is_empty()) {
                let part = &dealt.problems[item.problem].template.parts[item.part];
                assert_eq!(
                    item.judged.verdict,
                    Verdict::InBand,
                    "{}: {}",
                    part.name,
                    item.typed
                );
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Law 6: the same value typed in another unit gets the same marks and the same verdict.
    #[test]
    fn the_unit_never_changes_the_mark(factor in 0.5..2.0f64, nth in 0..6usize) {
        // Twelve figures, so that the value is the same in both units, on the ends of bands as well.
        let typed = |unit: &Unit, si: f64| format!("{:.12e} {}", unit.from_si(si), unit.symbol);
        let value = |dealt: &Dealt, i: usize| match (&dealt.answers[i], &dealt.accepted[i]) {
            (Answer::Number(q), Accepted::Number(band)) => match nth {
                0 => Some(Quantity::new(band.low, q.dimension)),
                1 => Some(Quantity::new(band.high, q.dimension)),
                _ => Some(Quantity::new(factor * q.value, q.dimension)),
            },
            _ => None,
        };
        let asked = marked(&table(dealt(), |_, _, i, dealt| match &dealt.template.parts[i].asked {
            Asked::Number { unit, .. } => Some(typed(unit, value(dealt, i)?.value)),
            _ => None,
        }));
        // Where there is no such unit, the one asked: earlier answers count for later ones.
        let other = marked(&table(dealt(), |_, _, i, dealt| match &dealt.template.parts[i].asked {
            Asked::Number { unit, .. } => {
                let q = value(dealt, i)?;
                let other = units(q.dimension).into_iter().nth(nth);
                Some(typed(other.as_ref().unwrap_or(unit), q.value))
            }
            _ => None,
        }));
        for (a, b) in asked.students.iter().zip(&other.students) {
            for (a, b) in a.items.iter().zip(&b.items) {
                prop_assert_eq!(a.judged.verdict, b.judged.verdict, "{} and {}", a.typed, b.typed);
                prop_assert_eq!(a.marks, b.marks);
            }
        }
    }

    /// Whatever is in a file, marking goes through and says what it could not read.
    #[test]
    fn no_file_stops_marking(bytes in proptest::collection::vec(any::<u8>(), 0..400), head in any::<bool>()) {
        let mut file = if head { b"student,problem,part,answer\n".to_vec() } else { Vec::new() };
        file.extend(bytes);
        let mut answers = Answers::default();
        answers.csv(&file, "noise.csv");
        answers.csv(b"student,problem,part,answer\ns-001,1,none such,1\n", "sound.csv");
        let marked = marked(&answers);
        prop_assert!(marked.review.iter().any(|r| r.kind == ReviewKind::UnknownPart));
    }

    /// Whatever is in a cell, it gets a verdict.
    #[test]
    fn no_answer_stops_marking(text in "\\PC{0,40}|[-+0-9., /eE×^%a-z°³]{0,24}") {
        let marked = marked(&table(dealt(), |s, _, _, _| (s == 0).then(|| text.clone())));
        let files = marked.files(dealt(), Reveal::Key);
        prop_assert_eq!(files.len(), 3 + NAMES.len());
    }
}

/// An answer as a student writes it who gets there.
fn written(dealt: &Dealt, part: usize, answer: &Answer) -> String {
    match (answer, &dealt.template.parts[part].asked) {
        (Answer::Number(q), Asked::Number { unit, figures, .. }) => {
            Written::from_si(q.value, unit, *figures).ascii()
        }
        (answer, _) => word(answer),
    }
}

#[test]
fn a_listed_slip_is_named_and_never_passes() {
    let mut named = 0;
    let mut made = 0;
    for (s, student) in dealt().students.iter().enumerate() {
        for (p, problem) in student.problems.iter().enumerate() {
            for listed in &problem.template.slips {
                let Some(slip) = problem.slips.iter().find(|a| a.slip.name == listed.name) else {
                    continue;
                };
                // The whole problem is worked with the slip in it.
                let marked = marked(&table(dealt(), |s2, p2, i, _| {
                    let answer = slip.answers.get(i)?.as_ref().filter(|_| (s2, p2) == (s, p))?;
                    Some(written(problem, i, answer))
                }));
                let items: Vec<_> = marked.students[s]
                    .items
                    .iter()
                    .filter(|i| i.problem == p)
                    .collect();
                for part in &listed.shows_in {
                    let item = items.iter().find(|i| i.part == *part).unwrap();
                    assert_ne!(
                        item.judged.verdict,
                        Verdict::InBand,
                        "{}: {}",
                        listed.name,
                        item.typed
                    );
                    if item.judged.verdict == Verdict::KnownSlip {
                        assert_eq!(item.marks, 0.5 * item.out_of);
                    }
                }
                made += 1;
                named += usize::from(
                    (items.iter()).any(|i| i.judged.slips.iter().flatten().any(|s| s.name == listed.name)),
                );
            }
        }
    }
    assert!(made > 50, "only {made} slips were tried");
    assert!(named * 20 >= made * 19, "{named} of {made} were named");
}

/// Of several numbers each has a line of its own, below the answer.
#[test]
fn numbers_that_a_slip_explains_stand_below_one_another() {
    let (p, slip) = (find("rising-main-pump-power"), "inch and millimetre confused");
    let student = &dealt().students[0];
    let slip = (student.problems[p].slips.iter()).find(|s| s.slip.name == slip);
    let answers = &slip.unwrap().answers;
    let marked = marked(&table(dealt(), |s, p2, i, problem| {
        let answer = answers.get(i)?.as_ref().filter(|_| (s, p2) == (0, p))?;
        Some(written(problem, i, answer))
    }));
    let told = marked.feedback(dealt(), student, &marked.students[0], Reveal::Key);
    assert!(
        told.contains(" is in the band. With this slip:\n  - velocity would be "),
        "{told}"
    );
    assert!(told.matches("\n  - ").count() >= 3, "{told}");
    assert!(
        told.contains("The same slip as in velocity: inch and millimetre confused. With this slip, Reynolds number would be "),
        "a later part has its own number beside it: {told}"
    );
}

fn find(name: &str) -> usize {
    dealt()
        .set
        .problems
        .iter()
        .position(|p| p.template == name)
        .expect("the bank has this template")
}

fn part(problem: usize, name: &str) -> usize {
    dealt().students[0].problems[problem]
        .template
        .parts
        .iter()
        .position(|p| p.name == name)
        .expect("a part")
}

/// One error is paid for once. In laminar flow the expected numbers need no solver: the flow and the Reynolds
/// number go with the velocity, and the friction factor is 64/Re.
#[test]
fn later_parts_follow_from_an_earlier_wrong_answer() {
    let p = find("bearing-oil-line");
    let [head, velocity, flow, reynolds, regime, factor] = [
        "friction head",
        "velocity",
        "flow",
        "Reynolds number",
        "regime",
        "friction factor",
    ]
    .map(|n| part(p, n));
    let wrong = 1.37;
    let marked = marked(&table(dealt(), |_, p2, i, dealt| {
        if p2 != p {
            return None;
        }
        let scale = if [velocity, flow, reynolds].contains(&i) {
            wrong
        } else if i == factor {
            1.0 / wrong
        } else {
            1.0
        };
        Some(scaled(dealt, i, scale))
    }));
    for student in &marked.students {
        let item = |i: usize| {
            student
                .items
                .iter()
                .find(|item| item.problem == p && item.part == i)
                .unwrap()
        };
        assert_eq!(item(head).judged.verdict, Verdict::InBand);
        assert!(matches!(
            item(velocity).judged.verdict,
            Verdict::Wrong | Verdict::KnownSlip
        ));
        for i in [flow, reynolds, factor] {
            assert_eq!(
                item(i).judged.verdict,
                Verdict::FollowsThrough,
                "{}",
                item(i).typed
            );
            assert_eq!(item(i).marks, item(i).out_of);
        }
        assert_eq!(item(flow).judged.follows, [velocity]);
        assert_eq!(item(regime).judged.verdict, Verdict::InBand);
    }
}

#[test]
fn an_answer_that_follows_from_nothing_is_wrong() {
    let p = find("bearing-oil-line");
    let [velocity, flow] = ["velocity", "flow"].map(|n| part(p, n));
    let marked = marked(&table(dealt(), |_, p2, i, dealt| match i {
        i if p2 == p && i == velocity => Some(scaled(dealt, i, 1.37)),
        i if p2 == p && i == flow => Some(scaled(dealt, i, 7.7)),
        _ => None,
    }));
    for student in &marked.students {
        let item = student
            .items
            .iter()
            .find(|item| item.problem == p && item.part == flow)
            .unwrap();
        assert_eq!(item.judged.verdict, Verdict::Wrong, "{}", item.typed);
        assert_eq!(item.marks, 0.0);
    }
}

#[test]
fn just_outside_is_wrong_but_put_before_a_person() {
    let answers = table(dealt(), |_, _, i, dealt| {
        match (&dealt.accepted[i], &dealt.template.parts[i].asked) {
            (Accepted::Number(band), Asked::Number { unit, .. }) => {
                // A tenth of the half width beyond the high end.
                let si = band.high + 0.05 * (band.high - band.low);
                Some(Written::from_si(si, unit, 9).ascii())
            }
            _ => None,
        }
    });
    let marked = marked(&answers);
    let numbers = answers.rows.len();
    let near = marked
        .review
        .iter()
        .filter(|r| r.kind == ReviewKind::JustOutside)
        .count();
    assert_eq!(near, numbers);
    assert!(marked.needs_a_person());
}

#[test]
fn sheets_of_strangers_and_unknown_parts_are_put_before_a_person() {
    let part = &dealt().students[0].problems[0].template.parts[0].name;
    let text = format!(
        "student,problem,part,answer\n\
         S-001,1,{part},first\n\
         s-001,1.0,{part},second\n\
         s-01,1,{part},3\n\
         s-001,99,{part},3\n\
         s-001,zero,{part},3\n\
         s-001,1,no such part,3\n\
         émile,problem 1,{},\n",
        part.to_uppercase()
    );
    let mut answers = Answers::default();
    answers.csv(text.as_bytes(), "all.csv");
    let marked = marked(&answers);
    let kinds: Vec<ReviewKind> = marked.review.iter().map(|r| r.kind).collect();
    assert_eq!(
        kinds,
        [
            ReviewKind::UnknownStudent,
            ReviewKind::UnknownProblem,
            ReviewKind::UnknownProblem,
            ReviewKind::UnknownPart,
            ReviewKind::Duplicate,
            ReviewKind::Duplicate,
            ReviewKind::Unclear,
            ReviewKind::Note,
            ReviewKind::Note,
            ReviewKind::Note,
        ],
        "and three who handed nothing in"
    );
    assert!(
        !marked.review[0].mend.contains("s-001"),
        "who handed in is not meant: {}",
        marked.review[0].mend
    );
    let told = marked.feedback(
        dealt(),
        &dealt().students[0],
        &marked.students[0],
        Reveal::Nothing,
    );
    assert!(told.contains("You also wrote “3” for “no such part”"), "{told}");
    assert_eq!(marked.students[0].items[0].typed, "first");
    assert!(
        marked.students[1].handed_in,
        "an identifier in lower case is the same student"
    );
    let lines: Vec<_> = marked
        .review
        .iter()
        .filter_map(|r| r.place.as_ref())
        .map(|place| place.line.unwrap())
        .collect();
    assert_eq!(lines, [4, 5, 6, 7, 2, 3, 2]);
}

#[test]
fn a_mistyped_student_and_part_are_suggested_with_what_a_ruling_needs() {
    let p = find("bearing-oil-line");
    let text = format!(
        "student,problem,part,answer\ns-01,{0},velocity,2 m/s\nÉmile,{0},flow velocity,2 m/s\n",
        p + 1
    );
    let mut answers = Answers::default();
    answers.csv(text.as_bytes(), "all.csv");
    let marked = marked(&answers);
    let mend = |n: usize| marked.review[n].mend.as_str();
    assert_eq!(mend(0), "is it `s-001`?");
    assert_eq!(mend(1), "is it `velocity`? Rule on `velocity`, or mend the name");
    let line = &marked.review[1];
    let (Answer::Number(q), Asked::Number { unit, figures, .. }) = (
        &dealt().students[1].problems[p].answers[part(p, "velocity")],
        &dealt().students[1].problems[p].template.parts[part(p, "velocity")].asked,
    ) else {
        panic!("a velocity is a number")
    };
    let reference = Written::from_si(q.value, unit, *figures).plain(DecimalMark::Point);
    assert_eq!(line.reference, reference);
    assert!(
        line.band.contains(" to ") && line.band.ends_with(" m/s"),
        "{}",
        line.band
    );
    assert!(line.out_of.parse::<f64>().is_ok());

    let rulings = format!("student,problem,part,marks,note\nÉmile,{},velocity,0,\n", p + 1);
    let rulings = Rulings::parse(rulings.as_bytes(), "r.csv");
    let after = mark(dealt(), &answers, &rulings).unwrap();
    assert!(
        after.review.iter().all(|r| r.kind != ReviewKind::UnknownPart),
        "a ruling on the part that is meant settles it"
    );
    let told = after.feedback(dealt(), &dealt().students[1], &after.students[1], Reveal::Nothing);
    assert!(!told.contains("will look at"), "{told}");
}

#[test]
fn a_decomposed_identifier_is_the_same_student() {
    let part = &dealt().students[1].problems[0].template.parts[0].name;
    let text = format!("student,problem,part,answer\nE\u{301}mile,1,{part},1\n");
    let mut answers = Answers::default();
    answers.csv(text.as_bytes(), "all.csv");
    assert!(marked(&answers).students[1].handed_in);
}

#[test]
fn a_ruling_wins_and_takes_the_answer_off_the_list() {
    let answers = table(dealt(), |s, p, i, _| {
        ((s, p, i) == (0, 0, 0)).then(|| "can't say".into())
    });
    let before = marked(&answers);
    assert!(before.needs_a_person());
    let name = &dealt().students[0].problems[0].template.parts[0].name;
    let full = before.students[0].items[0].out_of;
    let rulings = format!(
        "student,problem,part,marks,note\nS-001,1,{name},{full},*seen* on paper\nnobody,1,{name},1,\ns-001,1,x,1,\n"
    );
    let rulings = Rulings::parse(rulings.as_bytes(), "rulings/all.csv");
    let after = mark(dealt(), &answers, &rulings).unwrap();
    assert_eq!(after.students[0].items[0].marks, full);
    assert_eq!(after.students[0].items[0].judged.verdict, Verdict::Unclear);
    let kinds: Vec<ReviewKind> = after.review.iter().map(|r| r.kind).collect();
    assert_eq!(
        kinds,
        [
            ReviewKind::Ruling,
            ReviewKind::Ruling,
            ReviewKind::Note,
            ReviewKind::Note,
            ReviewKind::Note,
            ReviewKind::Note
        ],
        "rulings that fit nothing are told, and who handed nothing in"
    );
    let feedback = after.feedback(dealt(), &dealt().students[0], &after.students[0], Reveal::Nothing);
    assert!(feedback.contains("\\*seen\\* on paper"), "{feedback}");
    assert!(
        !feedback.contains("will look at it"),
        "somebody has looked: {feedback}"
    );

    let above = format!(
        "student,problem,part,marks,note\n\ns-001,1,{name},{0},\ns-001,1,{name},lots,\ns-001,1,{name},{0},\n",
        full + 1.0
    );
    let above = Rulings::parse(above.as_bytes(), "rulings/all.csv");
    let faults = mark(dealt(), &answers, &above).unwrap_err();
    let lines: Vec<_> = faults.0.iter().map(|f| f.place.as_ref().unwrap().line).collect();
    assert_eq!(lines, [Some(3), Some(4), Some(5)]);
}

#[test]
fn a_ruling_counts_where_nothing_was_handed_in() {
    let name = &dealt().students[2].problems[0].template.parts[0].name;
    let text = format!("student,problem,part,marks,note\n'=cmd,1,{name},0.5,by word of mouth\n");
    let rulings = Rulings::parse(text.as_bytes(), "r.csv");
    let marked = mark(dealt(), &Answers::default(), &rulings).unwrap();
    assert_eq!(marked.students[2].total(), 0.5);
}

#[test]
fn a_ruling_for_all_comes_after_one_for_a_student() {
    let name = &dealt().students[2].problems[0].template.parts[0].name;
    for rows in [
        ["'=cmd,1,PART,0.25,by word of mouth", "*,1,PART,0.5,at fault"],
        ["*,1,PART,0.5,at fault", "'=cmd,1,PART,0.25,"],
    ] {
        let text = format!("student,problem,part,marks,note\n{}\n", rows.join("\n")).replace("PART", name);
        let rulings = Rulings::parse(text.as_bytes(), "r.csv");
        let marked = mark(dealt(), &Answers::default(), &rulings).unwrap();
        let totals: Vec<f64> = marked.students.iter().map(|student| student.total()).collect();
        assert_eq!(totals, [0.5, 0.5, 0.25, 0.5, 0.5]);
        assert!(!marked.review.iter().any(|r| r.kind == ReviewKind::Ruling));
    }
    // What is at fault in it is said once.
    let text = format!("student,problem,part,marks,note\n*,1,{name},99,\n*,1,no such part,1,\n");
    let rulings = Rulings::parse(text.as_bytes(), "r.csv");
    assert_eq!(
        mark(dealt(), &Answers::default(), &rulings).unwrap_err().0.len(),
        1
    );
}

/// Answers of every kind, for outputs.
fn mixed(class: &Restored) -> Answers {
    table(class, |s, p, i, dealt| match (s + p + i) % 6 {
        0 => Some(reference(dealt, i)),
        1 => Some(scaled(dealt, i, 1.4)),
        2 => Some("=HYPERLINK(\"x\")".into()),
        3 => Some("<script>|`$x$`".into()),
        4 => Some(scaled(dealt, i, 0.5)),
        _ => None,
    })
}

/// Law 7 and law 2: twice, and at any number of threads.
#[test]
fn marking_twice_gives_the_same_bytes() {
    // So many students that several threads find work.
    let mut class = dealt().clone();
    class.students = (0..8)
        .flat_map(|n| {
            dealt().students.iter().cloned().map(move |mut dealt| {
                dealt.student.id += &format!("-{n}");
                dealt
            })
        })
        .collect();
    let answers = mixed(&class);
    let bytes = |threads: usize| {
        let marked = mark_on(&class, &answers, &Rulings::default(), threads).unwrap();
        let mut files = marked.files_on(&class, Reveal::Key, threads);
        ClassReport::new(&class, &marked).add_to(&mut files);
        format!("{files:?}")
    };
    let first = bytes(1);
    assert!(first.len() > 10_000);
    for threads in [1, 2, 5] {
        assert!(first == bytes(threads), "{threads} threads");
    }
}

#[test]
fn no_output_cell_begins_a_formula() {
    let marked = marked(&mixed(dealt()));
    let report = ClassReport::new(dealt(), &marked);
    for (what, bytes) in [
        ("gradebook", marked.gradebook(dealt())),
        ("items", marked.items(dealt())),
        ("review", marked.review_list()),
        ("report", report.csv()),
    ] {
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        let mut rows = 0;
        for record in reader.records() {
            rows += 1;
            for cell in &record.unwrap() {
                let formula =
                    cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
                assert!(!formula, "{what}: {cell}");
            }
        }
        assert!(rows > 0, "{what}");
    }
}

#[test]
fn the_gradebook_adds_up() {
    let marked = marked(&mixed(dealt()));
    let bytes = marked.gradebook(dealt());
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), NAMES.len());
    for row in &rows {
        let numbers: Vec<f64> = row.iter().skip(2).map(|c| c.parse().unwrap()).collect();
        let (sum, rest) = (
            numbers[..numbers.len() - 2].iter().sum::<f64>(),
            &numbers[numbers.len() - 2..],
        );
        assert!((sum - rest[0]).abs() < 1e-9, "{row:?}");
        assert_eq!(marks_text(rest[1]), marks_text(marked.total_out_of()));
    }
    assert_eq!(&rows[2][0], "'=cmd");
}

#[test]
fn marks_of_a_set_are_shared_in_proportion() {
    let mut restored = dealt().clone();
    for problem in &mut restored.set.problems {
        problem.marks = Some(7.0);
    }
    let answers = table(&restored, |_, _, i, dealt| Some(reference(dealt, i)));
    let marked = mark(&restored, &answers, &Rulings::default()).unwrap();
    let full = 7.0 * restored.set.problems.len() as f64;
    for student in &marked.students {
        assert!((student.total() - full).abs() < 1e-9);
        let first = &student.items[0];
        let template = &restored.students[0].problems[0].template;
        assert!((first.marks - 7.0 * template.parts[0].marks / template.marks()).abs() < 1e-12);
    }
}

#[test]
fn a_ruling_of_the_printed_maximum_is_full_marks() {
    // A third of 4 marks is printed as 1.33.
    let mut restored = dealt().clone();
    let template = &restored.students[0].problems[0].template;
    let part = &template.parts[0];
    let marks = 4.0 / 3.0 * template.marks() / part.marks;
    restored.set.problems[0].marks = Some(marks);
    let ruled = |marks: &str| {
        let text = format!(
            "student,problem,part,marks,note\ns-001,1,{},{marks},\n",
            part.name
        );
        let rulings = Rulings::parse(text.as_bytes(), "r.csv");
        mark(&restored, &Answers::default(), &rulings)
    };
    assert!((ruled("1.33").unwrap().students[0].total() - 4.0 / 3.0).abs() < 1e-12);
    assert_eq!(ruled("1.32").unwrap().students[0].total(), 1.32);
    assert!(ruled("1.34").is_err());
}

#[test]
fn feedback_shows_the_key_only_where_it_may() {
    let marked = marked(&mixed(dealt()));
    for (marked_student, dealt_student) in marked.students.iter().zip(&dealt().students) {
        let shown = marked.feedback(dealt(), dealt_student, marked_student, Reveal::Key);
        let hidden = marked.feedback(dealt(), dealt_student, marked_student, Reveal::Nothing);
        assert!(shown.contains("Reference: "));
        assert!(!hidden.contains("Reference: "));
        assert!(shown.contains("All \\*problems\\*"), "{shown}");
        assert!(!shown.contains("<script>"));
        for item in marked_student
            .items
            .iter()
            .filter(|i| i.judged.verdict != Verdict::InBand)
        {
            if let Answer::Number(q) = &dealt_student.problems[item.problem].answers[item.part] {
                let part = &dealt_student.problems[item.problem].template.parts[item.part];
                let Asked::Number { unit, figures, .. } = &part.asked else {
                    unreachable!()
                };
                let line = hidden
                    .lines()
                    .find(|l| l.starts_with(&format!("- **{}**", part.name)))
                    .expect("every part has a line");
                let key = Written::from_si(q.value, unit, *figures).plain(DecimalMark::Point);
                let another_problem = hidden.matches(&format!("- **{}**", part.name)).count() > 1;
                assert!(another_problem || !line.contains(&key), "{line} shows {key}");
            }
        }
    }
}

#[test]
fn another_regime_follows_from_a_wrong_reynolds_number_or_is_wrong() {
    let p = find("bearing-oil-line");
    let regime = part(p, "regime");
    let marked = marked(&table(dealt(), |_, p2, i, _| {
        (p2 == p && i == regime).then(|| Regime::FullyRough.name().into())
    }));
    for student in &marked.students {
        let item = student
            .items
            .iter()
            .find(|item| item.problem == p && item.part == regime)
            .unwrap();
        assert!(
            matches!(item.judged.verdict, Verdict::Wrong | Verdict::KnownSlip),
            "{:?}",
            item.judged
        );
    }
}

/// The pipe of this part is laminar.
#[test]
fn a_word_that_is_wrong_in_every_meaning_needs_no_person() {
    let p = find("bearing-oil-line");
    let regime = part(p, "regime");
    assert_eq!(
        dealt().students[0].problems[p].answers[regime],
        Answer::Regime(Regime::Laminar)
    );
    for text in [
        "transitional",
        "transitional turbulent",
        "transition",
        "turbulent",
    ] {
        let marked = marked(&table(dealt(), |_, p2, i, _| {
            (p2 == p && i == regime).then(|| text.into())
        }));
        assert_eq!(marked.review, [], "{text}");
        let item = marked.students[0]
            .items
            .iter()
            .find(|i| i.problem == p && i.part == regime);
        assert_eq!(item.unwrap().judged.verdict, Verdict::Wrong, "{text}");
    }
    let (p, i) = dealt().students[0]
        .problems
        .iter()
        .enumerate()
        .find_map(|(p, problem)| {
            let i = problem
                .answers
                .iter()
                .position(|a| *a == Answer::Regime(Regime::TransitionallyRough))?;
            Some((p, i))
        })
        .expect("a problem of the bank is transitionally rough");
    let marked = marked(&table(dealt(), |s, p2, i2, _| {
        ((s, p2, i2) == (0, p, i)).then(|| "transitional".into())
    }));
    assert!(marked.review.iter().any(|r| r.kind == ReviewKind::Unclear));
}

#[test]
fn a_power_of_ten_and_too_few_figures_are_hinted_at() {
    let p = find("bearing-oil-line");
    let flow = part(p, "flow");
    let marked = marked(&table(dealt(), |_, p2, i, dealt| {
        (p2 == p && i == flow).then(|| scaled(dealt, i, 10.0))
    }));
    assert!(!marked.needs_a_person());
    for (student, dealt_student) in marked.students.iter().zip(&dealt().students) {
        let feedback = marked.feedback(dealt(), dealt_student, student, Reveal::Nothing);
        assert!(feedback.contains("It looks ten times too large."), "{feedback}");
        assert_eq!(student.total(), 0.0);
    }
    let hinted = marked
        .review
        .iter()
        .filter(|r| r.kind == ReviewKind::Note && r.what.contains("ten times too large"));
    assert_eq!(hinted.count(), NAMES.len());
}

#[test]
fn a_right_number_with_too_few_figures_is_put_before_a_person() {
    let marked = marked(&table(dealt(), |s, _, i, dealt| {
        match (&dealt.answers[i], &dealt.template.parts[i].asked) {
            (Answer::Number(q), Asked::Number { unit, .. }) if s == 0 => {
                Some(Written::from_si(q.value, unit, 1).ascii())
            }
            _ => None,
        }
    }));
    let outside = marked.students[0]
        .items
        .iter()
        .filter(|i| matches!(i.judged.verdict, Verdict::Wrong | Verdict::KnownSlip));
    let mut rounded = 0;
    for item in outside {
        // A whole number such as 40 is read as two figures, and 2 % of it is no rounding.
        if item.judged.hint.is_some() && item.judged.near {
            rounded += 1;
            assert!(item.judged.why.contains("asked"), "{}", item.judged.why);
        }
    }
    assert!(rounded > 3, "{rounded}");
    let listed = marked
        .review
        .iter()
        .filter(|r| r.kind == ReviewKind::JustOutside && r.what.contains("figure"));
    assert_eq!(listed.count(), rounded);
}

#[test]
fn the_class_report_counts_every_answer() {
    let marked = marked(&mixed(dealt()));
    let report = ClassReport::new(dealt(), &marked);
    assert_eq!(report.handed_in, NAMES.len());
    assert_eq!(report.histogram.iter().sum::<usize>(), NAMES.len());
    for part in &report.parts {
        assert_eq!(part.verdicts.iter().sum::<usize>(), NAMES.len());
        assert_eq!(part.answered + part.count(Verdict::Blank), NAMES.len());
    }
    let text = report.markdown();
    assert!(text.contains("| in the band | in the band, % |"));
    assert!(text.contains("## Totals, out of "));
    for id in NAMES {
        assert!(!text.contains(&format!("Name of {id}")), "no student is named");
    }
}

#[test]
fn folders_are_read_at_any_depth_and_odd_files_are_told() {
    let room = tempfile::tempdir().unwrap();
    let inside = room.path().join("returned");
    let part = &dealt().students[0].problems[0].template.parts[0].name;
    let sheet = |answer: &str| format!("student,problem,part,answer\ns-001,1,{part},{answer}\n");
    for (path, text) in [
        ("b/c/sheet.CSV", sheet("1")),
        ("a.csv", sheet("2")),
        (".hidden.csv", sheet("3")),
        ("~$a.csv", sheet("4")),
        ("notes.txt", sheet("5")),
        ("a.xlsx", sheet("6")),
    ] {
        let path = inside.join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    std::fs::write(room.path().join("outside.csv"), sheet("7")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(room.path().join("outside.csv"), inside.join("link.csv")).unwrap();
    let large = std::fs::File::create(inside.join("large.csv")).unwrap();
    large.set_len(LARGEST_FILE + 1).unwrap();

    let answers = Answers::read(std::slice::from_ref(&inside)).unwrap();
    let typed: Vec<&str> = answers.rows.iter().map(|r| r.answer.as_str()).collect();
    assert_eq!(typed, ["2", "1"]);
    // Named from the folder on, wherever that lies.
    let place = |row: usize| answers.place(&answers.rows[row]).to_string();
    assert_eq!(
        (place(0), place(1)),
        ("returned/a.csv:2".into(), "returned/b/c/sheet.CSV:2".into())
    );
    for review in &answers.review {
        let place = review.place.as_ref().unwrap();
        assert!(place.file.starts_with("returned/"), "{place}");
    }
    let files = answers
        .review
        .iter()
        .filter(|r| r.kind == ReviewKind::File)
        .count();
    assert_eq!(files, 2, "the workbook and the large file: {:?}", answers.review);
    let notes = answers
        .review
        .iter()
        .filter(|r| r.kind == ReviewKind::Note)
        .count();
    assert_eq!(notes, if cfg!(unix) { 3 } else { 2 });

    let twice = [
        inside.join("a.csv"),
        inside.join("b/c"),
        inside.join("b/../a.csv"),
    ];
    let answers = Answers::read(&twice).unwrap();
    assert_eq!(answers.files, ["a.csv", "c/sheet.CSV", "a.csv (2)"]);

    assert!(Answers::read(&[PathBuf::from("no/such/folder")]).is_err());
    let empty = tempfile::tempdir().unwrap();
    assert!(Answers::read(&[empty.path().to_path_buf()]).is_err());
}

#[test]
fn the_marked_folder_is_written_and_replaced_whole() {
    let room = tempfile::tempdir().unwrap();
    let target = room.path().join("marked/all");
    let marked = marked(&mixed(dealt()));
    store::write_folder(&target, &marked.files(dealt(), Reveal::Key)).unwrap();
    std::fs::write(target.join("stray.txt"), "old").unwrap();
    store::write_folder(&target, &marked.files(dealt(), Reveal::Key)).unwrap();
    assert!(!target.join("stray.txt").exists());
    let feedback = std::fs::read_dir(target.join("feedback")).unwrap().count();
    assert_eq!(feedback, NAMES.len());
    assert_eq!(
        std::fs::read(target.join("gradebook.csv")).unwrap(),
        marked.gradebook(dealt())
    );
}

/// The ends of a band themselves are in it, and the next floating-point neighbours of a converted value are too.
#[test]
fn ends_of_bands_are_in_them() {
    for problem in &dealt().students[0].problems {
        for accepted in &problem.accepted {
            if let Accepted::Number(band) = accepted {
                for end in [band.low, band.high] {
                    let unit = band.reference.dimension;
                    assert!(accepts(accepted, &Answer::Number(Quantity::new(end, unit))));
                    assert!(accepts(
                        accepted,
                        &Answer::Number(Quantity::new(end * (1.0 + 1e-15), unit))
                    ));
                }
                let out = band.high + 1e-6 * (band.high - band.low).abs().max(1e-3 * band.high.abs());
                assert!(
                    !accepts(
                        accepted,
                        &Answer::Number(Quantity::new(out, band.reference.dimension))
                    ),
                    "{}: {out} outside {band:?}",
                    problem.template.name
                );
            }
        }
    }
}

/// Darcy's friction factor by Colebrook and White's equation, iterated.
fn colebrook(reynolds: f64, relative_roughness: f64) -> f64 {
    let mut x = 7.0;
    for _ in 0..60 {
        x = -2.0 * libm::log10(relative_roughness / 3.7 + 2.51 * x / reynolds);
    }
    1.0 / (x * x)
}

/// The rising main worked by hand: velocity, Reynolds number, friction factor, head loss, pump head and power, where a
/// student makes the bore `bore` times as large and the friction factor `factor` times; the power `power` times.
fn rising_main(problem: &Dealt, bore: f64, factor: f64, power: f64) -> Vec<String> {
    let given = |name: &str| problem.givens.get(name).unwrap().quantity.value;
    let right = |part: usize| match &problem.answers[part] {
        Answer::Number(q) => q.value,
        answer => panic!("{answer:?}"),
    };
    let (d, l, eps) = (given("D"), given("L"), given("eps"));
    let head = |v: f64| v * v / (2.0 * 9.81);
    let minor = right(3) - right(2) * l / d * head(right(0));
    let (v, re, d) = (right(0) / (bore * bore), right(1) / bore, d * bore);
    let f = factor * colebrook(re, eps / d);
    let loss = f * l / d * head(v) + minor * head(v) / head(right(0));
    let pump = right(4) - right(3) + loss;
    [v, re, f, loss, pump, power * right(5) * pump / right(4)]
        .iter()
        .enumerate()
        .map(|(part, value)| scaled(problem, part, value / right(part)))
        .collect()
}

#[test]
fn a_second_error_takes_no_slip_away_and_two_slips_are_told_together() {
    let names = [
        "velocity",
        "Reynolds number",
        "friction factor",
        "head loss",
        "pump head",
        "power",
    ];
    for student in &dealt().students {
        let problem = (student.problems.iter())
            .find(|problem| problem.template.name == "rising-main-pump-power")
            .unwrap();
        assert!(
            problem
                .template
                .parts
                .iter()
                .map(|part| part.name.as_str())
                .eq(names)
        );
        let told = |typed: &[String]| {
            let typed: Vec<&str> = typed.iter().map(String::as_str).collect();
            let judged = judge(problem, &typed, &POLICY, &CONVENTIONS);
            let slips = |one: &Judged| -> Vec<String> {
                let names = one.slips.iter().map(|group| group[0].name.to_string());
                names.collect()
            };
            judged
                .iter()
                .map(|one| (one.verdict, slips(one)))
                .collect::<Vec<_>>()
        };
        let fanning = "Fanning factor for Darcy's".to_owned();
        // The power is wrong for a reason that no slip explains, and what follows from the factor follows.
        for power in [1.0, 3.3] {
            let told = told(&rising_main(problem, 1.0, 0.25, power));
            assert_eq!(
                told[2],
                (Verdict::KnownSlip, vec![fanning.clone()]),
                "{power}: {told:?}"
            );
            assert_eq!(told[4].0, Verdict::FollowsThrough);
            assert_eq!(told[5].0 == Verdict::Wrong, power > 1.0, "{told:?}");
        }
        let both = told(&rising_main(problem, 0.5, 0.25, 1.0));
        for told in &both[..4] {
            assert_eq!(told.0, Verdict::KnownSlip, "{both:?}");
            let mut slips = told.1.clone();
            slips.sort();
            assert_eq!(
                slips,
                [fanning.clone(), "radius for diameter".to_owned()],
                "{both:?}"
            );
        }
    }
}
