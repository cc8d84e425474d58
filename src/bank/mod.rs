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
pub mod system;
pub mod template;
mod yaml;

pub use builtin::builtin_bank;

use crate::fault::Checked;
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

    /// Reads every `*.yaml` of a folder.
    ///
    /// # Errors
    /// All faults of all files.
    pub fn read(folder: &Path) -> Checked<Self> {
        let _ = folder;
        todo!()
    }

    /// Both banks' templates; one of `self` wins over one of the same name in `other`.
    #[must_use]
    pub fn over(self, other: Self) -> Self {
        let _ = other;
        todo!()
    }
}
