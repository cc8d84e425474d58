//! `gradeline demo [DIR]`: the whole job on the built-in course.

mod simulate;

use super::deal::{all_of, deal_into, read_record};
use super::start::refuse_a_full_folder;
use super::{Done, mark, print};
use gradeline::bank::builtin_bank;
use gradeline::draw::CourseKey;
use gradeline::fault::Checked;
use gradeline::figure::{Chart, Sheet, friction_chart};
use gradeline::store::{self, Files};
use std::path::Path;

const COURSE: &str = include_str!("course.yaml");
const ROSTER: &str = include_str!("roster.csv");
const SET: &str = include_str!("week-3.yaml");
const SET_NAME: &str = "week-3";
const MARKER: &str = ".gradeline-demo";
/// The demo's key is no secret, so that every run makes the same papers.
const KEY: CourseKey = CourseKey::from_bytes(*b"a demonstration holds no secrets");

pub fn run(folder: &Path) -> Checked<Done> {
    if folder.join(MARKER).exists() {
        std::fs::remove_file(folder.join("course.key")).ok();
    } else {
        refuse_a_full_folder(folder)?;
    }
    store::write(
        &folder.join(MARKER),
        b"made by the demo; a new run writes over it\n",
    )?;
    store::write(&folder.join("course.yaml"), COURSE.as_bytes())?;
    store::write(&folder.join("roster.csv"), ROSTER.as_bytes())?;
    store::write(&folder.join(format!("sets/{SET_NAME}.yaml")), SET.as_bytes())?;
    KEY.write(folder)?;
    let mut own = Files::new();
    for template in &builtin_bank().templates {
        own.add(format!("{}.yaml", template.name), template.source.clone());
    }
    store::write_folder(&folder.join("banks"), &own)?;

    let (course, set, bank) = all_of(folder, SET_NAME)?;
    let (students, _) = deal_into(folder, &course, &set, bank, true)?;
    store::write(
        &folder.join("friction-chart.svg"),
        friction_chart(&Chart::plain(Sheet::A4)).as_bytes(),
    )?;

    let dealt = read_record(folder, SET_NAME)?;
    let mut returned = Files::new();
    returned.add(
        "README.txt",
        "These answers are simulated. No student wrote them.\n",
    );
    for (number, student) in dealt.students.iter().enumerate() {
        let answers = simulate::answers(student, &set, number);
        let sheet = simulate::sheet(student, &answers);
        returned.add(format!("{}.csv", store::safe_name(&student.student.id)), sheet);
    }
    let answers = folder.join("returned").join(SET_NAME);
    store::write_folder(&answers, &returned)?;

    let marked = mark::mark_into(folder, SET_NAME, &[answers], true)?;
    let shown = folder.display();
    print(&format!(
        "{students} invented students, {} problems each; every answer below `returned` is simulated.\n\n\
         {shown}/\n\
         \x20 friction-chart.svg              the chart to read friction factors from\n\
         \x20 dealt/{SET_NAME}/students/ID/      handout (.pdf .html .md .tex), answers.csv: what a student gets\n\
         \x20 dealt/{SET_NAME}/instructor/       keys/ID, worked/ID: answers, bands and worked solutions\n\
         \x20                                  packets: everyone's papers in one, for the copier\n\
         \x20 returned/{SET_NAME}/               simulated answer sheets\n\
         \x20 marked/{SET_NAME}/gradebook.csv    marks\n\
         \x20 marked/{SET_NAME}/items.csv        every answer with its band, verdict and why\n\
         \x20 marked/{SET_NAME}/review.csv       what a person should look at ({} rows)\n\
         \x20 marked/{SET_NAME}/feedback/ID.md   what each student is told\n\
         \x20 marked/{SET_NAME}/report.md        the class report\n\n{}\n",
        set.problems.len(),
        marked.review,
        marked.text,
    ))?;
    Ok(Done::Wholly)
}
