//! Papers of each kind: a student's as HTML and as PDF, a class's as PDF on all cores, and the same class through pdflatex in
//! one run, where there is one. Throughput is in pages of the PDF; pdflatex sets the same content on about as many.

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Course, Format, Policy, Set, SetProblem, Student};
use gradeline::deal::{DealtStudent, deal_set};
use gradeline::draw::CourseKey;
use gradeline::handout::{Paper, Papers, Printed};
use gradeline::jobs;
use gradeline::store;
use std::hint::black_box;
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// Students of the class.
const CLASS: usize = 12;

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
    deal_set(course, set, &students, &builtin_bank(), &key, &|student| student)
        .map(|dealt| dealt.students)
        .map_err(|e| e.to_string())
}

/// Pages of a PDF that `pdfinfo` can read; none where it is not there.
fn pages(pdf: &[u8]) -> u64 {
    let count = || {
        let folder = tempfile::tempdir().ok()?;
        let file = folder.path().join("x.pdf");
        std::fs::write(&file, pdf).ok()?;
        let said = Command::new("pdfinfo").arg(&file).output().ok()?;
        let said = String::from_utf8_lossy(&said.stdout).into_owned();
        let line = said.lines().find(|line| line.starts_with("Pages:"))?;
        line.split_whitespace().nth(1)?.parse().ok()
    };
    count().unwrap_or(0)
}

fn papers(c: &mut Criterion) {
    let (course, set) = (Course::default(), set());
    let (Ok(students), Ok(papers)) = (class(&course, &set), Papers::new(None)) else {
        eprintln!("the built-in bank can't be dealt");
        return;
    };
    let print = |paper, student: &DealtStudent, format| {
        papers
            .print(paper, format, &course, &set, student, "paper")
            .map(|printed| printed.contents)
            .unwrap_or_default()
    };
    let has_tex = Command::new("pdflatex").arg("--version").output().is_ok();
    let mut group = c.benchmark_group("papers");
    group.sample_size(10);
    for (paper, name) in Paper::ALL.into_iter().zip(["handout", "key", "worked solution"]) {
        let count = |student| pages(&print(paper, student, Format::Pdf));
        group.throughput(Throughput::Elements(count(&students[0])));
        for format in [Format::Html, Format::Pdf] {
            group.bench_function(format!("a {name} as {}", format.extension()), |b| {
                b.iter(|| black_box(print(paper, &students[0], format)));
            });
        }
        group.throughput(Throughput::Elements(students.iter().map(count).sum()));
        group.bench_function(format!("a {name} each as pdf, all cores"), |b| {
            b.iter(|| {
                let size = |i: usize| print(paper, &students[i], Format::Pdf).len();
                black_box(jobs::in_order(CLASS, jobs::cores(), size))
            });
        });
        let packet = papers.packet(paper, &course, &set, &students, "x");
        if let (true, Ok(packet)) = (has_tex, packet) {
            group.bench_function(format!("a {name} each through pdflatex, one run"), |b| {
                b.iter_batched(
                    || laid_out(&packet),
                    |folder| through_tex(&folder),
                    BatchSize::PerIteration,
                );
            });
        }
    }
    group.finish();
}

/// A folder with what pdflatex reads.
fn laid_out(packet: &Printed) -> TempDir {
    let folder = tempfile::tempdir().expect("a folder for pdflatex");
    let files = [("x.tex", &packet.contents)];
    let beside = packet
        .beside
        .iter()
        .map(|(name, contents)| (name.as_str(), contents));
    for (name, contents) in files.into_iter().chain(beside) {
        store::write(&folder.path().join(name), contents).expect("a file for pdflatex");
    }
    folder
}

fn through_tex(folder: &TempDir) {
    let ran = Command::new("pdflatex")
        .args(["-interaction=batchmode", "x.tex"])
        .current_dir(folder.path())
        .stdout(Stdio::null())
        .status();
    assert!(matches!(ran, Ok(status) if status.success()), "pdflatex failed");
}

criterion_group!(benches, papers);
criterion_main!(benches);
