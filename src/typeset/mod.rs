//! Typst source to PDF, finished PDFs to one, pieces to a paper, and SVG figures to PDF and PNG, in process: no program or font of the system
//! takes part, so that the same source gives the same bytes everywhere.
//!
//! Needs the feature `pdf`; without it every request is a fault that says so. Depends on: `fault`.

#[cfg(feature = "pdf")]
mod binder;
#[cfg(feature = "pdf")]
mod objects;
#[cfg(feature = "pdf")]
mod press;

use crate::fault::Checked;
#[cfg(not(feature = "pdf"))]
use crate::fault::Fault;
use std::io::Write;

/// The family of running text.
pub const TEXT_FONT: &str = "New Computer Modern";
/// The family of mathematics.
pub const MATH_FONT: &str = "New Computer Modern Math";
/// The family of code.
pub const CODE_FONT: &str = "DejaVu Sans Mono";

/// A document to typeset.
#[derive(Debug, Clone, Copy)]
pub struct Document<'a> {
    /// Typst source; it can read `files` and nothing else.
    pub source: &'a str,
    /// Files that the source reads, such as `figure-1.svg`: name and contents.
    pub files: &'a [(String, Vec<u8>)],
    /// What tells this document from others, such as set, paper and student. It goes into the file as a hash alone.
    pub ident: &'a str,
}

/// Whether this program can typeset.
pub fn is_available() -> bool {
    cfg!(feature = "pdf")
}

/// A document as PDF: tagged, held to PDF/UA-1, fonts embedded, without a date.
///
/// # Errors
/// Source that can't be typeset: what Typst says, and the line. A formula or image without an alternative text, a
/// document without a title, and a character that no font has are such faults. A program without the feature `pdf`.
pub fn pdf(document: &Document) -> Checked<Vec<u8>> {
    #[cfg(feature = "pdf")]
    return press::pdf(document);
    #[cfg(not(feature = "pdf"))]
    return missing(document.ident);
}

/// A finished paper that is to be bound with others: its entry in the outline, and its PDF.
pub type Bindable = (String, Vec<u8>);

/// A paper made piece by piece, so that memory hangs on the largest piece and not on the paper: pages, structure and outline
/// run on as if it were typeset as a whole. `piece` makes one with [`pdf`], given its place from 0 and the number of its
/// first page, which it must print itself. The same pieces give the same bytes.
///
/// Each piece begins a page, and with a heading of the first level: one without contents is left out of the paper.
///
/// # Errors
/// Those of `piece`; no pieces; a PDF that is not as [`pdf`] writes it; a program without the feature `pdf`.
pub fn join(
    title: &str,
    count: usize,
    piece: &mut dyn FnMut(usize, u32) -> Checked<Vec<u8>>,
) -> Checked<Vec<u8>> {
    #[cfg(feature = "pdf")]
    return binder::join(title, count, piece);
    #[cfg(not(feature = "pdf"))]
    return missing((title, count, piece(0, 1)));
}

/// Papers that [`pdf`] or [`join`] made as one PDF, tagged as they are: each begins on an odd page, behind a blank one where needed, and
/// has an entry in the outline. The same papers give the same bytes.
///
/// Papers are asked for one by one and forgotten when they are written, so that memory hangs on the largest of them.
///
/// # Errors
/// Those of `papers`; none at all; a PDF that is not as they write it; a place that can't be written; a program
/// without the feature `pdf`.
pub fn bind(
    out: &mut dyn Write,
    title: &str,
    papers: &mut dyn Iterator<Item = Checked<Bindable>>,
) -> Checked<()> {
    #[cfg(feature = "pdf")]
    return binder::bind(out, title, papers);
    #[cfg(not(feature = "pdf"))]
    return missing((out, title, papers.next()));
}

/// An SVG figure as a PDF of one page, just as large as the figure, whose text stays text. Lengths without a unit are
/// 1/96 inch, as SVG has it.
///
/// # Errors
/// SVG that can't be read; a program without the feature `pdf`.
pub fn figure_pdf(svg: &str, title: &str, description: &str) -> Checked<Vec<u8>> {
    #[cfg(feature = "pdf")]
    return press::figure_pdf(svg, title, description);
    #[cfg(not(feature = "pdf"))]
    return missing((svg, title, description));
}

/// An SVG figure as PNG on white, at so many pixels an inch.
///
/// # Errors
/// SVG that can't be read; a size beyond 100 million pixels; a program without the feature `pdf`.
pub fn figure_png(svg: &str, pixels_per_inch: f64) -> Checked<Vec<u8>> {
    #[cfg(feature = "pdf")]
    return press::figure_png(svg, pixels_per_inch);
    #[cfg(not(feature = "pdf"))]
    return missing((svg, pixels_per_inch));
}

/// Whether the fonts of running text have a character in every style. One that they lack makes [`pdf`] fail.
pub fn has_glyph(character: char) -> bool {
    #[cfg(feature = "pdf")]
    return press::has_glyph(character);
    #[cfg(not(feature = "pdf"))]
    return character.is_ascii();
}

/// How wide words are on one line of running text \[em\], upright and without kerning, which brings letters closer rather than
/// apart. `None` where a character is not in its font; in a program without the feature `pdf`.
pub fn width(words: &str, bold: bool) -> Option<f64> {
    #[cfg(feature = "pdf")]
    return press::width(words, bold);
    #[cfg(not(feature = "pdf"))]
    {
        let _ = (words, bold);
        None
    }
}

#[cfg(not(feature = "pdf"))]
fn missing<T, U>(_unused: U) -> Checked<T> {
    Err(Fault::new("this program was built without the typesetter")
        .mend("build it with the feature `pdf`, or ask for another format")
        .into())
}
