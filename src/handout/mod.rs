//! Papers: dealt problems to a document tree, and the tree to Markdown, LaTeX, HTML and, by way of Typst, PDF.
//!
//! One file a format; each owns its escaping. Templates are in `templates/`, embedded, and a course may
//! override them. Depends on: all rooms above.

mod content;
mod display;
mod drawings;
mod figures;
mod html;
mod latex;
mod markdown;
mod overview;
mod papers;
mod reference;
mod sheet;
mod typst;
mod words;

pub use content::{asked, properties, question, statement, steps, why};
pub use drawings::{illustrated, schematic};
pub use overview::overview;
pub use papers::{Paper, Papers, Printed, Source};
pub use reference::{REFERENCE_TITLE, reference};
pub use sheet::{COLUMNS as ANSWER_SHEET_COLUMNS, guarded, unguarded};

use crate::bank::prose::{Block, Inline};
use crate::equation::Expr;
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

/// Signs that turn the direction of the text round are shown as a replacement mark.
fn hidden(c: char) -> char {
    match c {
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{fff9}'..='\u{fffb}' => '\u{fffd}',
        _ => c,
    }
}

/// Blocks, each written with the one behind it in view, with an empty line between them, ending in a line break unless there is nothing. A display belongs to the
/// paragraph before it: no empty line between the two.
fn apart(blocks: &[Block], write: impl Fn(&Block, Option<&Block>) -> String) -> String {
    let mut out = String::new();
    for (n, block) in blocks.iter().enumerate() {
        let text = write(block, blocks.get(n + 1));
        if text.trim().is_empty() {
            continue;
        }
        if !out.is_empty() {
            out.push_str(if matches!(block, Block::Equation(_)) {
                "\n"
            } else {
                "\n\n"
            });
        }
        out.push_str(text.trim_end());
    }
    if !out.is_empty() {
        out.push('\n');
    }
    out
}

/// Whether inlines begin with a symbol, an equals sign and a value.
fn is_equality(inlines: &[Inline]) -> bool {
    matches!(
        inlines,
        [Inline::Math(Expr::Symbol(_)), Inline::Text(words), Inline::Value(_), ..] if words == " = "
    )
}

/// Whether a paragraph leads up to what stands behind it, as a colon does or a line that is strong altogether.
fn leads_up(inlines: &[Inline]) -> bool {
    match inlines {
        [Inline::Strong(_)] => true,
        [.., Inline::Text(words)] => words.trim_end().ends_with(':'),
        _ => false,
    }
}

/// A format: how it writes running text and blocks.
trait Writer {
    /// Running text.
    fn inlines(&self, inlines: &[Inline]) -> String;
    /// Blocks, ending in a line break unless empty.
    fn blocks(&self, blocks: &[Block]) -> String;
}
