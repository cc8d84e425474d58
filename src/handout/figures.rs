//! The drawings of one paper: counted as they are written, kept for the formats that have them beside the text.

use super::words;
use crate::bank::prose::Figure;
use crate::equation::typst_literal;
use crate::fault::Checked;
use crate::typeset::{self, Document, TEXT_FONT};
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

    /// Keeps a drawing; its number, from 1.
    pub(super) fn add(&self, figure: &Figure) -> usize {
        let mut kept = self.kept.borrow_mut();
        kept.push(figure.clone());
        kept.len()
    }

    /// The file of a drawing, one for each.
    pub(super) fn svg_name(&self, number: usize) -> String {
        format!("{}-{number}.svg", self.stem)
    }

    /// The file of all drawings, one on each page.
    pub(super) fn pdf_name(&self) -> String {
        format!("{}.pdf", self.stem)
    }

    /// All of them, each a file.
    pub(super) fn svgs(self) -> Vec<(String, Vec<u8>)> {
        let names: Vec<String> = (1..=self.kept.borrow().len()).map(|n| self.svg_name(n)).collect();
        let figures = self.kept.into_inner().into_iter();
        names
            .into_iter()
            .zip(figures.map(|figure| figure.svg.into_bytes()))
            .collect()
    }

    /// All of them on pages of their sizes in one file; nothing where there are none. One file, since each would take a run
    /// of the typesetter, and a class many thousand files.
    ///
    /// # Errors
    /// A drawing that can't be read; a program without the feature `pdf`.
    pub(super) fn pdf(self) -> Checked<Option<(String, Vec<u8>)>> {
        let name = self.pdf_name();
        let kept = self.kept.into_inner();
        if kept.is_empty() {
            return Ok(None);
        }
        let mut source = format!(
            "#set document(title: {}, date: none)\n#set page(width: auto, height: auto, margin: 0pt)\n#set text(font: {}, lang: {})\n",
            typst_literal(words::FIGURES),
            typst_literal(TEXT_FONT),
            typst_literal(words::LANGUAGE)
        );
        let mut files = Vec::new();
        for (n, figure) in kept.into_iter().enumerate() {
            let file = format!("figure-{}.svg", n + 1);
            if n > 0 {
                source.push_str("#pagebreak()\n");
            }
            source.push_str(&format!(
                "#image({}, alt: {})\n",
                typst_literal(&file),
                super::typst::escape(&figure.description)
            ));
            files.push((file, figure.svg.into_bytes()));
        }
        let pdf = typeset::pdf(&Document {
            source: &source,
            files: &files,
            ident: &name,
        })?;
        Ok(Some((name, pdf)))
    }
}
