//! `gradeline start DIR`: a new course folder to edit.

use super::{Done, print};
use gradeline::draw::CourseKey;
use gradeline::fault::{Checked, Fault, Place};
use gradeline::store;
use std::path::Path;

const COURSE: &str = include_str!("start/course.yaml");
const ROSTER: &str = include_str!("start/roster.csv");
const SET: &str = include_str!("start/week-1.yaml");
const TEMPLATE: &str = include_str!("start/cistern-outlet.yaml");
const IGNORED: &str =
    "# The key and everything that holds answers stay out of version control.\ncourse.key\ndealt/\nmarked/\n";

pub fn run(folder: &Path) -> Checked<Done> {
    refuse_a_full_folder(folder)?;
    store::write(&folder.join("course.yaml"), COURSE.as_bytes())?;
    store::write(&folder.join("roster.csv"), ROSTER.as_bytes())?;
    store::write(&folder.join("sets/week-1.yaml"), SET.as_bytes())?;
    store::write(&folder.join("banks/cistern-outlet.yaml"), TEMPLATE.as_bytes())?;
    store::write(&folder.join(".gitignore"), IGNORED.as_bytes())?;
    CourseKey::new()?.write(folder)?;
    print(&format!(
        "A course is ready in {0}\n  course.yaml               name, conventions, how marks are given\n  \
         course.key                the secret behind every draw: keep it, show it to nobody\n  \
         roster.csv                your students\n  sets/week-1.yaml          a first set\n  \
         banks/cistern-outlet.yaml a template of your own\n\nNext: cd {1} && gradeline deal week-1\n",
        folder.display(),
        quoted(folder)
    ))?;
    Ok(Done::Wholly)
}

/// A folder as a shell wants it.
fn quoted(folder: &Path) -> String {
    let name = folder.display().to_string();
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '/' | '\\' | '.' | '-' | '_' | ':');
    if name.chars().all(plain) {
        name
    } else {
        format!("\"{name}\"")
    }
}

/// A folder with anything in it is not written over.
pub fn refuse_a_full_folder(folder: &Path) -> Checked<()> {
    let full = match std::fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_some(),
        Err(_) if folder.exists() => {
            return Err(Fault::new("this is no folder")
                .at(Place::file(folder.display().to_string()))
                .into());
        }
        Err(_) => false,
    };
    if full {
        return Err(Fault::new("the folder is not empty")
            .at(Place::file(folder.display().to_string()))
            .mend("name a folder that is not there yet")
            .into());
    }
    Ok(())
}
