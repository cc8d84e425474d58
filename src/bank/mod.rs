//! YAML in, checked descriptions out: systems, templates, courses, sets.
//!
//! All YAML of the program is read here, behind one set of guards; faults carry file, line and column,
//! and all faults of a file come at once. Depends on: `fault`, `constants`, `quantity`, `equation`,
//! `fluid`, `hydraulics`.

mod builtin;
pub mod course;
mod formula;
pub mod names;
pub mod prose;
pub mod slips;
pub mod system;
pub mod template;
mod yaml;

pub use builtin::{BUILTIN, builtin_bank};

use crate::fault::{Checked, Fault, Faults, Place, nearest};
use crate::store;
use std::path::Path;
use std::sync::Arc;
use template::Template;

/// Checked templates by name, in the order of their names.
#[derive(Debug, Clone, Default)]
pub struct Bank {
    /// The templates, sorted by name; names are unique.
    pub templates: Vec<Arc<Template>>,
}

impl Bank {
    /// The template called `name`.
    pub fn get(&self, name: &str) -> Option<&Arc<Template>> {
        self.templates.iter().find(|t| t.name == name)
    }

    /// The template called `name`.
    ///
    /// # Errors
    /// The fault of the name, without a place, where there is none.
    pub fn find(&self, name: &str) -> Checked<&Arc<Template>> {
        self.get(name).ok_or_else(|| {
            let fault = Fault::new(format!("no bank has a template called `{name}`"));
            let known = self.templates.iter().map(|template| template.name.as_str());
            let mended = match nearest(name, known) {
                Some(near) => fault.mend(format!("write `{near}`")),
                None => fault.mend("put the template into the course's folder `banks`, or name another"),
            };
            mended.into()
        })
    }

    /// Reads every `*.yaml` of a folder.
    ///
    /// # Errors
    /// All faults of all files.
    pub fn read(folder: &Path) -> Checked<Self> {
        let unreadable = |error: std::io::Error| {
            Fault::new(format!("the folder can't be read: {error}"))
                .at(Place::file(folder.display().to_string()))
                .mend("name a folder that holds templates")
        };
        let mut files = Vec::new();
        for entry in std::fs::read_dir(folder).map_err(unreadable)? {
            files.push(entry.map_err(unreadable)?.path());
        }
        files.sort();
        let mut faults = Vec::new();
        let mut templates = Vec::new();
        for file in files {
            let shown = file.display().to_string();
            let ending = file.extension().and_then(|e| e.to_str()).unwrap_or_default();
            let name = file.file_stem().and_then(|n| n.to_str()).unwrap_or_default();
            if name.starts_with('.') || file.is_dir() {
                continue;
            }
            if ending.eq_ignore_ascii_case("yml") || (ending != "yaml" && ending.eq_ignore_ascii_case("yaml"))
            {
                faults.push(
                    Fault::new(format!("a template's file ends in `.yaml`, not `.{ending}`"))
                        .at(Place::file(shown))
                        .mend("rename it"),
                );
                continue;
            }
            if ending != "yaml" {
                continue;
            }
            if !good_name(name) {
                faults.push(
                    Fault::new(format!("`{name}` can't name a template"))
                        .at(Place::file(shown))
                        .mend("rename the file: small letters a to z, figures and `-`, such as `rising-main.yaml`"),
                );
                continue;
            }
            let read = store::read_text(&file, yaml::SIZE as u64)
                .and_then(|text| Template::parse(&text, name, &shown));
            match read {
                Ok(template) => templates.push(Arc::new(template)),
                Err(Faults(more)) => faults.extend(more),
            }
        }
        if faults.is_empty() {
            Ok(Self::of(templates))
        } else {
            Err(Faults(faults))
        }
    }

    /// A bank of templates whose names differ.
    fn of(mut templates: Vec<Arc<Template>>) -> Self {
        templates.sort_by(|a, b| a.name.cmp(&b.name));
        Self { templates }
    }

    /// Both banks' templates; one of `self` wins over one of the same name in `other`.
    #[must_use]
    pub fn over(self, other: Self) -> Self {
        let mut templates = self.templates;
        for theirs in other.templates {
            if !templates.iter().any(|ours| ours.name == theirs.name) {
                templates.push(theirs);
            }
        }
        Self::of(templates)
    }
}

/// Names of templates become parts of file names, and of what is hashed.
fn good_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= 60
        && !name.starts_with('-')
        && name
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-' || b == b'_')
}
