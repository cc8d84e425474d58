//! The papers of a set.

use crate::bank::course::{Course, Set};
use crate::bank::prose::Block;
use crate::deal::DealtStudent;
use crate::fault::Checked;
use std::path::Path;

/// Which paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Paper {
    /// The problems, for the student.
    Handout,
    /// The reference answers and bands, for the instructor.
    Key,
    /// The worked solutions, for the instructor.
    WorkedSolutions,
}

/// The text of a paper in a format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// Markdown.
    Markdown,
    /// LaTeX.
    Latex,
}

/// Writes papers with the built-in templates or a course's own.
pub struct Papers {}

impl Papers {
    /// The built-in templates, those in `override_folder` (a course's `templates/`) taking their place.
    ///
    /// # Errors
    /// A template that can't be read.
    pub fn new(override_folder: Option<&Path>) -> Checked<Self> {
        let _ = override_folder;
        todo!()
    }

    /// One paper of one student.
    ///
    /// # Errors
    /// A template that fails.
    pub fn paper(
        &self,
        paper: Paper,
        format: Source,
        course: &Course,
        set: &Set,
        dealt: &DealtStudent,
    ) -> Checked<String> {
        let _ = (paper, format, course, set, dealt);
        todo!()
    }

    /// A document of its own, such as the worked solution of one system.
    ///
    /// # Errors
    /// A template that fails.
    pub fn document(
        &self,
        format: Source,
        course: &Course,
        title: &str,
        blocks: &[Block],
    ) -> Checked<String> {
        let _ = (format, course, title, blocks);
        todo!()
    }

    /// The blank answer sheet of one student: CSV with the columns student, problem, part, answer, asked.
    ///
    /// # Errors
    /// Never in practice; writing to memory.
    pub fn answer_sheet(&self, set: &Set, dealt: &DealtStudent) -> Checked<Vec<u8>> {
        let _ = (set, dealt);
        todo!()
    }
}
