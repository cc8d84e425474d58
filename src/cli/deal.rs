//! `gradeline deal SET`: every student's own papers.

use super::{Done, first_five, print, progress};
use gradeline::bank::course::{self, Course, Format, Set, Student, read_roster};
use gradeline::bank::{Bank, builtin_bank};
use gradeline::deal::record::{Earlier, Restored};
use gradeline::deal::{self, DealtStudent, DrawnStudent, Shared, record};
use gradeline::draw::CourseKey;
use gradeline::fault::{Checked, Fault, Faults, Place};
use gradeline::figure::{CHART_DESCRIPTION, CHART_TITLE, Chart, Sheet, friction_chart};
use gradeline::handout::{Paper, Papers, overview};
use gradeline::jobs;
use gradeline::store::{self, NewFolder};
use gradeline::typeset;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Largest record of a deal read.
const RECORD_LIMIT: u64 = 1 << 30;

pub fn run(folder: &Path, set: &str, replace: bool) -> Checked<Done> {
    let (course, set, bank) = all_of(folder, set)?;
    let (students, shared) = deal_into(folder, &course, &set, bank, replace)?;
    let place = folder.join("dealt").join(&set.name);
    print(&format!(
        "{} dealt to {}\n  for students    {}\n  for instructors {}\n  for all         {}\n",
        counted(set.problems.len(), "problem"),
        counted(students, "student"),
        place.join("students").display(),
        place.join("instructor").display(),
        place.join("formulas.*, friction-chart.*").display(),
    ))?;
    for same in &shared {
        eprintln!(
            "note: the same numbers in problem {} ({}): {}",
            same.problem + 1,
            set.problems[same.problem].template,
            first_five(&same.ids)
        );
    }
    if !shared.is_empty() {
        eprintln!(
            "Wider ranges or finer steps in those templates give more draws; gradeline prove says how many there are."
        );
    }
    Ok(Done::Wholly)
}

/// `1 problem`, `5 problems`.
fn counted(count: usize, what: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {what}{plural}")
}

/// The course of a folder, one of its sets, and the bank that has the set's templates, with the faults of both of these.
pub fn all_of(folder: &Path, set: &str) -> Checked<(Course, Set, Bank)> {
    let course = Course::read(folder)?;
    let bank = bank_of(folder);
    let set = Set::read(folder, set, &course, bank.as_ref().ok());
    match (set, bank) {
        (Ok(set), Ok(bank)) => Ok((course, set, bank)),
        (set, bank) => {
            let faults = [set.err(), bank.err()].into_iter().flatten();
            Err(Faults(faults.flat_map(|Faults(each)| each).collect()))
        }
    }
}

/// A course's own templates before the built-in ones.
pub fn bank_of(folder: &Path) -> Checked<Bank> {
    let own = folder.join("banks");
    if own.is_dir() {
        Ok(Bank::read(&own)?.over(builtin_bank()))
    } else {
        Ok(builtin_bank())
    }
}

/// Where the record of a deal is kept.
pub fn record_path(folder: &Path, set: &str) -> PathBuf {
    folder
        .join("dealt")
        .join(set)
        .join("instructor")
        .join("dealt.json")
}

/// What was dealt, worked out again from its record.
pub fn read_record(folder: &Path, set: &str) -> Checked<Restored> {
    let path = record_path(folder, set);
    record::read(&store::read(&path, RECORD_LIMIT)?, &path.display().to_string())
}

/// Deals a set and writes all its papers; returns how many students there are, and who of them share their numbers.
pub fn deal_into(
    folder: &Path,
    course: &Course,
    set: &Set,
    mut bank: Bank,
    replace: bool,
) -> Checked<(usize, Vec<Shared>)> {
    let students = read_roster(folder)?;
    let key = CourseKey::read(folder)?;
    let path = record_path(folder, &set.name);
    let before = if !replace && path.exists() {
        let json = store::read(&path, RECORD_LIMIT)?;
        Some(Earlier::parse(&json, &path.display().to_string())?)
    } else {
        None
    };
    if let Some(before) = &before {
        before.round_as_before(&mut bank);
    }
    let templates = folder.join("templates");
    let papers = Papers::new(templates.is_dir().then_some(templates.as_path()))?;
    let bar = progress::bar("dealing", students.len());
    // A class's problems with their bands and slips would fill the memory; which candidates they are is enough.
    let dealt = deal::deal_set(course, set, &students, &bank, &key, &|student: DealtStudent| {
        bar.inc(1);
        student.candidates()
    })?;
    bar.finish_and_clear();
    let templates = deal::templates(set, &bank)?;
    let drawn = |i: usize| deal::drawn(&set.name, &templates, &key, &students[i], &dealt.students[i]);
    if let Some(before) = before {
        unchanged(&before, &path, &students, &drawn)?;
    }
    let shared = deal::shared((0..students.len()).map(&drawn));
    let place = NewFolder::begin(&folder.join("dealt").join(&set.name))?;
    record::write(
        &mut place.begin_file(Path::new("instructor/dealt.json"))?,
        course,
        set,
        &templates,
        (0..students.len()).map(&drawn),
    )?;
    place.add(
        Path::new("instructor/difficulty.md"),
        overview(course, set, &dealt, &shared).as_bytes(),
    )?;
    let formats = formats(course);
    for format in formats.iter().copied() {
        let name = format!("formulas.{}", format.extension());
        place.add(Path::new(&name), &papers.formula_sheet(format, course)?)?;
    }
    if templates
        .iter()
        .any(|template| template.parts.iter().any(|part| part.chart))
    {
        let (name, chart) = blank_chart(course, set, &formats)?;
        place.add(Path::new(name), &chart)?;
    }
    let bar = progress::bar("printing", students.len());
    let printed = jobs::in_order(students.len(), jobs::cores(), |i| {
        let dealt = worked_out(course, set, drawn(i))?;
        let printed = print_for(&place, &papers, &formats, course, set, &dealt);
        bar.inc(1);
        printed
    });
    bar.finish_and_clear();
    printed.into_iter().collect::<Checked<()>>()?;
    if formats.contains(&Format::Pdf) {
        bind_packets(&place, set, &students)?;
    }
    place.finish()?;
    Ok((students.len(), shared))
}

/// One student's problems again; that takes far less time than to print them.
fn worked_out(course: &Course, set: &Set, drawn: DrawnStudent) -> Checked<DealtStudent> {
    let problems = (drawn.problems.into_iter())
        .map(|one| deal::assess(&one.template, one.draw, &set.policy, &course.conventions))
        .collect::<Checked<_>>()?;
    Ok(DealtStudent {
        student: drawn.student,
        problems,
    })
}

/// What the course wants, or all that this program can make.
fn formats(course: &Course) -> Vec<Format> {
    let all = || Format::ALL.into_iter();
    course.papers.formats.clone().unwrap_or_else(|| {
        all()
            .filter(|f| *f != Format::Pdf || typeset::is_available())
            .collect()
    })
}

/// The chart without marks, on the course's sheet, to read by hand.
fn blank_chart(course: &Course, set: &Set, formats: &[Format]) -> Checked<(&'static str, Vec<u8>)> {
    let svg = friction_chart(&Chart {
        sheet: match course.sheet() {
            course::Sheet::A4 => Sheet::A4,
            course::Sheet::A5 => Sheet::A5,
            course::Sheet::Letter => Sheet::Letter,
        },
        marks: &[],
        decimal_mark: course.conventions.decimal_mark,
        limits: set.policy.limits,
    });
    if formats.contains(&Format::Pdf) {
        let pdf = typeset::figure_pdf(&svg, CHART_TITLE, CHART_DESCRIPTION)?;
        Ok(("friction-chart.pdf", pdf))
    } else {
        Ok(("friction-chart.svg", svg.into_bytes()))
    }
}

/// Where a student's paper of a kind lies below the folder of the deal, without its ending.
fn place_of(paper: Paper, id: &str) -> (PathBuf, &str) {
    match paper {
        Paper::Handout => (Path::new("students").join(id), "handout"),
        Paper::Key => (PathBuf::from("instructor/keys"), id),
        Paper::WorkedSolutions => (PathBuf::from("instructor/worked"), id),
    }
}

/// Prints everything for one student.
fn print_for(
    place: &NewFolder,
    papers: &Papers,
    formats: &[Format],
    course: &Course,
    set: &Set,
    student: &DealtStudent,
) -> Checked<()> {
    let id = store::safe_name(&student.student.id);
    let sheet = Path::new("students").join(&id).join("answers.csv");
    place.add(&sheet, &papers.answer_sheet(course, student)?)?;
    for format in formats.iter().copied() {
        for paper in Paper::ALL {
            let (folder, stem) = place_of(paper, &id);
            let printed = papers.print(paper, format, course, set, student, stem)?;
            let name = format!("{stem}.{}", format.extension());
            place.add(&folder.join(name), &printed.contents)?;
            for (name, contents) in &printed.beside {
                place.add(&folder.join(name), contents)?;
            }
        }
    }
    Ok(())
}

/// Everyone's papers of each kind in one file, for the copier, bound from the PDFs that were printed.
fn bind_packets(place: &NewFolder, set: &Set, students: &[Student]) -> Checked<()> {
    let kinds = [
        (Paper::Handout, "handouts"),
        (Paper::Key, "keys"),
        (Paper::WorkedSolutions, "worked"),
    ];
    let bar = progress::bar("binding", students.len() * kinds.len());
    let bound = jobs::in_order(kinds.len(), jobs::cores(), |i| {
        let (paper, name) = kinds[i];
        let mut out = place.begin_file(&Path::new("instructor/packets").join(format!("{name}.pdf")))?;
        let mut papers = students.iter().map(|student| {
            let id = store::safe_name(&student.id);
            let (folder, stem) = place_of(paper, &id);
            let pdf = place.read(&folder.join(format!("{stem}.pdf")))?;
            bar.inc(1);
            Ok((format!("{} {}", student.id, student.name), pdf))
        });
        typeset::bind(&mut out, &paper.of_everyone(set), &mut papers)
    });
    bar.finish_and_clear();
    bound.into_iter().collect()
}

/// Students may hold the papers that were dealt before, so their numbers must not change under them; new
/// students may join.
fn unchanged(
    before: &Earlier,
    path: &Path,
    students: &[Student],
    drawn: &dyn Fn(usize) -> DrawnStudent,
) -> Checked<()> {
    let places: BTreeMap<&str, usize> = students.iter().map(|s| s.id.as_str()).zip(0..).collect();
    let changed = before.changed(|id| places.get(id).map(|i| drawn(*i)))?;
    let at = Place::file(path.display().to_string());
    if !changed.ids.is_empty() {
        return Err(Faults(vec![
            Fault::new(format!(
                "this set was dealt before, and {} of its {} students would get other problems or none: {}",
                changed.ids.len(),
                changed.of,
                first_five(&changed.ids)
            ))
            .at(at)
            .mend("put the bank, the set and the roster back as they were, or add --replace if nobody holds the old papers"),
        ]));
    }
    if !changed.reworded.is_empty() {
        return Err(Faults(vec![
            Fault::new(format!(
                "this set was dealt before; every student would keep their numbers, but another text now stands in the bank for {}",
                first_five(&changed.reworded)
            ))
            .at(at)
            .mend("add --replace to print, solve and mark by the new text, or put the old one back"),
        ]));
    }
    Ok(())
}
