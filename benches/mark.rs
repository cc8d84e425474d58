//! How fast a long table of 100,000 answers is read, marked, and turned into the marked folder's bytes; and how
//! fast what was dealt is worked out again from its record.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Course, Policy, Set, SetProblem, Student, UnitSystem};
use gradeline::bank::template::Asked;
use gradeline::deal::record::{self, Restored};
use gradeline::deal::{DealtStudent, deal_set};
use gradeline::draw::CourseKey;
use gradeline::hydraulics::regime::Limits;
use gradeline::mark::{Answers, Reveal, Rulings, mark, mark_on};
use gradeline::quantity::{DecimalMark, Written};
use gradeline::report::ClassReport;
use gradeline::solution::Answer;
use std::fmt::Write as _;
use std::hint::black_box;
use std::sync::Arc;

const ANSWERS: usize = 100_000;

fn course() -> Course {
    Course {
        name: "Flow in pipes".into(),
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
            slip_share: 0.5,
            review_margin: 0.25,
            accept_missing_unit: true,
            ..Policy::DEFAULT
        },
        ..Course::default()
    }
}

/// So many students that their parts come to 100,000.
fn dealt() -> Restored {
    let parts: usize = builtin_bank().templates.iter().map(|t| t.parts.len()).sum();
    deal_to(ANSWERS.div_ceil(parts), usize::MAX)
}

/// The first templates of the built-in bank, dealt to a class.
fn deal_to(class: usize, problems: usize) -> Restored {
    let bank = builtin_bank();
    let course = course();
    let set = Set {
        name: "all".into(),
        title: "All problems".into(),
        due: None,
        problems: bank
            .templates
            .iter()
            .take(problems)
            .map(|t| SetProblem {
                template: t.name.clone(),
                marks: None,
            })
            .collect(),
        policy: course.policy,
    };
    let roster: Vec<Student> = (0..class)
        .map(|n| Student {
            id: format!("s{n:05}"),
            name: format!("Student {n}"),
            email: String::new(),
        })
        .collect();
    let students = deal_set(
        &course,
        &set,
        &roster,
        &bank,
        &CourseKey::from_bytes([1; 32]),
        &|student| student,
    )
    .unwrap_or_else(|faults| panic!("{faults}"))
    .students;
    Restored {
        course,
        set,
        students,
    }
}

/// Of ten answers, six are right, one is wrong, one is a slip's or wrong, one is blank and one can't be read.
fn table(restored: &Restored) -> String {
    let mut csv = String::from("student,problem,part,answer\n");
    let mut n = 0_usize;
    for student in &restored.students {
        for (p, problem) in student.problems.iter().enumerate() {
            for (i, part) in problem.template.parts.iter().enumerate() {
                n += 1;
                let number = |factor: f64| match (&problem.answers[i], &part.asked) {
                    (Answer::Number(q), Asked::Number { unit, figures, .. }) => {
                        Written::from_si(factor * q.value, unit, *figures).ascii()
                    }
                    (Answer::Regime(regime), _) => regime.name().to_owned(),
                    (Answer::Choice(word), _) => word.clone(),
                    _ => String::new(),
                };
                let slip = problem
                    .slips
                    .iter()
                    .find_map(|s| match (s.answers.get(i), &part.asked) {
                        (Some(Some(Answer::Number(q))), Asked::Number { unit, figures, .. }) => {
                            Some(Written::from_si(q.value, unit, *figures).ascii())
                        }
                        _ => None,
                    });
                // A step that has no factor in common with the ten kinds spreads them over the parts.
                let text = match (n * 7 + n / 10) % 10 {
                    0 => number(1.3),
                    1 => slip.unwrap_or_else(|| number(0.7)),
                    2 => String::new(),
                    3 => "about two".to_owned(),
                    _ => number(1.0),
                };
                let _ = writeln!(csv, "{},{},{},{text}", student.student.id, p + 1, part.name);
            }
        }
    }
    csv
}

fn marking(c: &mut Criterion) {
    let restored = dealt();
    let csv = table(&restored);
    let mut answers = Answers::default();
    answers.csv(csv.as_bytes(), "answers.csv");
    let rulings = Rulings::default();
    let marked = mark(&restored, &answers, &rulings).unwrap_or_else(|faults| panic!("{faults}"));

    let mut group = c.benchmark_group("mark");
    group.sample_size(10);
    group.throughput(Throughput::Elements(answers.rows.len() as u64));
    group.bench_function("read", |b| {
        b.iter(|| {
            let mut answers = Answers::default();
            answers.csv(black_box(csv.as_bytes()), "answers.csv");
            answers.rows.len()
        });
    });
    group.bench_function("judge, one thread", |b| {
        b.iter(|| mark_on(&restored, black_box(&answers), &rulings, 1).map(|m| m.review.len()));
    });
    group.bench_function("judge", |b| {
        b.iter(|| mark(&restored, black_box(&answers), &rulings).map(|m| m.review.len()));
    });
    group.bench_function("outputs", |b| {
        b.iter(|| black_box(&marked).files(&restored, Reveal::Key).len())
    });
    group.bench_function("class report", |b| {
        b.iter(|| ClassReport::new(&restored, black_box(&marked)).markdown().len());
    });
    group.finish();
}

/// What stands before all marking: the record of 1,000 students with five problems each, with every answer, band
/// and slip worked out again.
fn restoring(c: &mut Criterion) {
    let dealt = deal_to(1000, 5);
    let problems = dealt
        .students
        .first()
        .map(|s| s.problems.as_slice())
        .unwrap_or_default();
    let templates: Vec<_> = problems.iter().map(|p| Arc::clone(&p.template)).collect();
    let mut json = Vec::new();
    let drawn = dealt.students.iter().map(DealtStudent::drawn);
    record::write(&mut json, &dealt.course, &dealt.set, &templates, drawn).unwrap_or_else(|f| panic!("{f}"));
    let mut group = c.benchmark_group("record");
    group.sample_size(10);
    group.throughput(Throughput::Elements(1000));
    group.bench_function("read, 1,000 students with 5 problems", |b| {
        b.iter(|| record::read(black_box(&json), "record.json").map(|r| r.students.len()));
    });
    group.finish();
}

criterion_group!(benches, marking, restoring);
criterion_main!(benches);
