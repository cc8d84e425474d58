//! `gradeline report SET`: the class report of a marked set.

use super::{Done, print};
use gradeline::bank::course::Course;
use gradeline::fault::{Checked, Fault, Place};
use gradeline::store;
use std::path::Path;

/// Largest report read.
const LIMIT: u64 = 16 << 20;

pub fn run(folder: &Path, set: &str) -> Checked<Done> {
    let path = folder.join("marked").join(set).join("report.md");
    if !path.exists() {
        // In no course folder nothing can have been marked.
        Course::read(folder)?;
        return Err(Fault::new(format!("the set `{set}` has not been marked"))
            .at(Place::file(path.display().to_string()))
            .mend(format!("mark it first: gradeline mark {set} ANSWERS"))
            .into());
    }
    print(&store::read_text(&path, LIMIT)?)?;
    Ok(Done::Wholly)
}
