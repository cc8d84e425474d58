//! Papers: dealt problems to a document tree, and the tree to Markdown and LaTeX.
//!
//! One file a format; each owns its escaping. Templates are in `templates/`, embedded, and a course may
//! override them. Depends on: all rooms above.

mod content;
mod display;
mod latex;
mod markdown;
mod overview;
mod papers;
mod reference;
mod sheet;

pub use content::{asked, properties, question, statement, steps, why};
pub use overview::overview;
pub use papers::{Paper, Papers, Source};
pub use reference::{REFERENCE_TITLE, reference};
pub use sheet::{COLUMNS as ANSWER_SHEET_COLUMNS, guarded, unguarded};

use crate::bank::prose::{Block, Inline};
use std::borrow::Cow;
use unicode_normalization::{IsNormalized, UnicodeNormalization, is_nfc_quick};

/// Outside text as Markdown that shows it as it is, on one line and inside running text.
pub fn escape_markdown(text: &str) -> String {
    markdown::escape(text)
}

/// A text with letters and their marks composed; nearly all text is so already.
fn composed(text: &str) -> Cow<'_, str> {
    match is_nfc_quick(text.chars()) {
        IsNormalized::Yes => Cow::Borrowed(text),
        _ => Cow::Owned(text.nfc().collect()),
    }
}

/// A format: how it writes outside text, running text and blocks.
trait Writer {
    /// Outside text, so that it prints as it is and does nothing else.
    fn escape(&self, text: &str) -> String;
    /// Running text.
    fn inlines(&self, inlines: &[Inline]) -> String;
    /// Blocks, ending in a line break unless empty.
    fn blocks(&self, blocks: &[Block]) -> String;
}
