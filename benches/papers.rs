//! Papers: a student's handout as HTML and as PDF, a class's as PDF on all cores, and the same class through pdflatex in one
//! run, where there is one. Throughput is in pages.

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Course, Format, Policy, Set, SetProblem, Student};
use gradeline::deal::{DealtStudent, deal_set};
use gradeline::draw::CourseKey;
use gradeline::handout::{Paper, Papers, Source};
use gradeline::jobs;
use gradeline::store;
use std::hint::black_box;
use std::process::{Command, Stdio};

/// Students of the class.
const CLASS: usize = 32;

fn set() -> Set {
    Set {
        name: "week-3".into(),
        title: "Week 3: flow in one pipe run".into(),
        due: Some("Friday noon".into()),
        problems: [
            "hatchery-pressure-drop",
            "rinsing-line-flow",
            "irrigation-line-flow",
            "rising-main-pump-power",
            "deck-wash-smallest-diameter",
        ]
        .iter()
        .map(|name| SetProblem {
            template: (*name).into(),
            marks: None,
        })
        .collect(),
        policy: Policy::default(),
    }
}

fn class(course: &Course, set: &Set) -> Result<Vec<DealtStudent>, String> {
    let students: Vec<Student> = (1..=CLASS)
        .map(|n| Student {
            id: format!("s{n:03}"),
            name: format!("Student {n}"),
            email: String::new(),
        })
        .collect();
    let key = CourseKey::from_bytes([7; 32]);
    deal_set(course, set, &students, &builtin_bank(), &key, &|| {})
        .map(|dealt| dealt.students)
        .map_err(|e| e.to_string())
}

/// Pages of a PDF that `pdfinfo` can read; 4 a student where there is none.
fn pages(pdf: &[u8], students: usize) -> u64 {
    let count = || {
        let folder = tempfile::tempdir().ok()?;
        let file = folder.path().join("x.pdf");
        std::fs::write(&file, pdf).ok()?;
        let said = Command::new("pdfinfo").arg(&file).output().ok()?;
        let said = String::from_utf8_lossy(&said.stdout).into_owned();
        let line = said.lines().find(|line| line.starts_with("Pages:"))?;
        line.split_whitespace().nth(1)?.parse().ok()
    };
    count().unwrap_or(4 * students as u64)
}

fn papers(c: &mut Criterion) {
    let (course, set) = (Course::default(), set());
    let (Ok(students), Ok(papers)) = (class(&course, &set), Papers::new(None)) else {
        eprintln!("the built-in bank can't be dealt");
        return;
    };
    let one = &students[0];
    let print = |student: &DealtStudent, format| {
        papers
            .print(Paper::Handout, format, &course, &set, student, "handout")
            .map(|printed| printed.contents)
            .unwrap_or_default()
    };
    let of_one = pages(&print(one, Format::Pdf), 1);
    let mut group = c.benchmark_group("papers");
    group.sample_size(10);
    group.throughput(Throughput::Elements(of_one));
    group.bench_function("a handout as HTML", |b| {
        b.iter(|| black_box(print(one, Format::Html)));
    });
    group.bench_function("a handout as PDF", |b| {
        b.iter(|| black_box(print(one, Format::Pdf)));
    });
    group.throughput(Throughput::Elements(of_one * CLASS as u64));
    group.bench_function("a class's handouts as PDF, all cores", |b| {
        b.iter(|| jobs::in_order(CLASS, jobs::cores(), |i| print(&students[i], Format::Pdf).len()));
    });
    let has_tex = Command::new("pdflatex").arg("--version").output().is_ok();
    let packet = papers.packet(Paper::Handout, &course, &set, &students, "x");
    if let (true, Ok(packet)) = (has_tex, packet) {
        group.bench_function("the same class through pdflatex, one run", |b| {
            b.iter_batched(
                || {
                    let folder = tempfile::tempdir().ok();
                    if let Some(folder) = &folder {
                        let _ = std::fs::write(folder.path().join("x.tex"), &packet.contents);
                        for (name, contents) in &packet.beside {
                            let _ = store::write(&folder.path().join(name), contents);
                        }
                    }
                    folder
                },
                |folder| {
                    let ran = folder.as_ref().map(|folder| {
                        Command::new("pdflatex")
                            .args(["-interaction=batchmode", "x.tex"])
                            .current_dir(folder.path())
                            .stdout(Stdio::null())
                            .status()
                    });
                    assert!(
                        matches!(ran, Some(Ok(status)) if status.success()),
                        "pdflatex failed"
                    );
                },
                BatchSize::PerIteration,
            );
        });
    }
    group.finish();
    // The packet's own source is what both sides set.
    black_box(
        papers
            .paper(Paper::Handout, Source::Typst, &course, &set, one)
            .is_ok(),
    );
}

criterion_group!(benches, papers);
criterion_main!(benches);
