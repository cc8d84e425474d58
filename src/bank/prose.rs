//! Rich text: what bank texts, worked solutions and papers are made of.
//!
//! One tree for all formats; each format's writer is in `handout`. Authors write it as Markdown with
//! `$…$` mathematics and `{{ given }}` placeholders.

use crate::equation::{Bindings, EquationError, Expr, Line};
use crate::quantity::Written;

/// A piece of running text.
#[derive(Debug, Clone, PartialEq)]
pub enum Inline {
    /// Words.
    Text(String),
    /// Strong.
    Strong(Vec<Inline>),
    /// Emphasised.
    Emphasis(Vec<Inline>),
    /// Typewriter.
    Code(String),
    /// Mathematics.
    Math(Expr),
    /// A number with its unit.
    Value(Written),
    /// A placeholder for a given or result, filled before printing.
    Placeholder(String),
    /// A line break.
    Break,
}

/// A paragraph or a larger piece.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading; level 1 is the largest.
    Heading(u8, Vec<Inline>),
    /// A paragraph.
    Paragraph(Vec<Inline>),
    /// A displayed equation, or several under one another.
    Equation(Vec<Line>),
    /// A list.
    List {
        /// Numbered, or with marks.
        ordered: bool,
        /// Its items.
        items: Vec<Vec<Block>>,
    },
    /// A table.
    Table(Table),
    /// A remark set off from the text.
    Note(Vec<Inline>),
}

/// A table; all rows are as long as its head.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// Column heads.
    pub head: Vec<Vec<Inline>>,
    /// Which columns hold numbers and are set flush right.
    pub numeric: Vec<bool>,
    /// Rows of cells.
    pub rows: Vec<Vec<Vec<Inline>>>,
}

/// Words as one piece of text.
pub fn text(words: impl Into<String>) -> Inline {
    Inline::Text(words.into())
}

/// Why a text of an author can't be read: message and byte offset in the text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProseError {
    /// What is wrong.
    pub what: String,
    /// Byte offset in the text.
    pub offset: usize,
    /// How to mend it.
    pub mend: Option<String>,
}

/// Reads Markdown (paragraphs, lists, tables, strong, emphasis, code) with `$…$`, `$$…$$` and
/// `{{ name }}`. Raw HTML, links and images are refused.
///
/// # Errors
/// Everything that is wrong.
pub fn parse(markdown: &str) -> Result<Vec<Block>, Vec<ProseError>> {
    let _ = markdown;
    todo!()
}

/// Every placeholder's name, in order of appearance, inside mathematics too.
pub fn placeholders(blocks: &[Block]) -> Vec<String> {
    let _ = blocks;
    todo!()
}

/// The same text with its placeholders filled.
///
/// # Errors
/// A placeholder that `of` does not bind.
pub fn fill(blocks: &[Block], of: &Bindings) -> Result<Vec<Block>, EquationError> {
    let _ = (blocks, of);
    todo!()
}
