//! The drawings of one paper: counted as they are written, kept for the formats that have them beside the text.

use crate::bank::prose::Figure;
use std::cell::RefCell;

/// The drawings of one paper, in order.
#[derive(Debug, Default)]
pub(super) struct Figures {
    /// What their files' names begin with.
    stem: String,
    kept: RefCell<Vec<Figure>>,
}

impl Figures {
    /// None yet; their files will be called `stem-1.svg` and so on.
    pub(super) fn new(stem: &str) -> Self {
        Self {
            stem: stem.to_owned(),
            kept: RefCell::default(),
        }
    }

    /// Keeps a drawing; the name of its file with this ending.
    pub(super) fn add(&self, figure: &Figure, ending: &str) -> String {
        let mut kept = self.kept.borrow_mut();
        kept.push(figure.clone());
        format!("{}-{}.{ending}", self.stem, kept.len())
    }

    /// All of them with their files' names without ending.
    pub(super) fn all(self) -> Vec<(String, Figure)> {
        let Self { stem, kept } = self;
        kept.into_inner()
            .into_iter()
            .enumerate()
            .map(|(n, figure)| (format!("{stem}-{}", n + 1), figure))
            .collect()
    }
}
