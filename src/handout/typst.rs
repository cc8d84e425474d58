//! Typst source, for PDF.
//!
//! Every piece of outside text stands in a string literal ([`escape`]), so that nothing in it is read as markup or code;
//! what the fonts lack becomes a visible code such as `[U+738B]`. What `lead`, `formula`, `displayed`, `displayed-wide`, `value`, `remark`, `data-table` and
//! `figure-of` mean stands in `templates/preamble.typ`.

use super::display::{self, Ink, Room};
use super::figures::Figures;
use super::{Writer, apart};
use crate::bank::prose::{Block, Figure, Inline, Table};
use crate::equation::{Expr, Line, Style, typst_literal};
use crate::typeset;
use unicode_normalization::char::canonical_combining_class;

/// Writes Typst.
pub(super) struct Typst<'a> {
    /// How mathematics is printed.
    pub(super) style: Style,
    /// How much fits on a line.
    pub(super) room: Room,
    /// The level of the heading above what is written.
    pub(super) below: u8,
    /// Where figures are kept until they are typeset.
    pub(super) figures: &'a Figures,
}

impl Writer for Typst<'_> {
    fn inlines(&self, inlines: &[Inline]) -> String {
        let mut out = String::new();
        let last = inlines.iter().rposition(|i| !matches!(i, Inline::Break));
        for (n, inline) in inlines.iter().enumerate() {
            match inline {
                Inline::Text(words) if words.is_empty() => {}
                Inline::Text(words) => out.push_str(&format!("#{}", escape(words))),
                Inline::Strong(inside) => out.push_str(&format!("#strong[{}]", self.inlines(inside))),
                Inline::Emphasis(inside) => out.push_str(&format!("#emph[{}]", self.inlines(inside))),
                Inline::Code(code) => out.push_str(&format!("#raw({})", escape(code))),
                Inline::Math(expr) => {
                    let words = escape(&expr.plain(self.style));
                    out.push_str(&format!(
                        "#formula({words}, ${}$)",
                        shown(&expr.typst(self.style))
                    ));
                }
                // A power of ten is mathematics.
                Inline::Value(written) if written.shown.exponent.is_some() => {
                    let number = Inline::Math(Expr::Number(written.clone()));
                    out.push_str(&self.inlines(&[number]));
                }
                Inline::Value(written) => {
                    out.push_str(&format!("#value({})", escape(&written.plain(self.style.mark))));
                }
                Inline::Placeholder(name) => {
                    out.push_str(&format!("#raw({})", escape(&format!("{{{{ {name} }}}}"))));
                }
                Inline::Break if out.trim().is_empty() || last.is_none_or(|last| n > last) => {}
                Inline::Break => out.push_str("#linebreak()"),
            }
        }
        out
    }

    fn blocks(&self, blocks: &[Block]) -> String {
        apart(blocks, |block, next| {
            let text = match block {
                // A sentence that leads up to something stands on its page.
                Block::Paragraph(inlines)
                    if matches!(
                        next,
                        Some(Block::Equation(_) | Block::Table(_) | Block::List { .. })
                    ) =>
                {
                    let words = self.inlines(inlines);
                    match words.trim() {
                        "" => String::new(),
                        words => format!("#lead[{words}]"),
                    }
                }
                Block::Heading(level, title) => {
                    let level = self.below + level.max(&1);
                    format!("#heading(level: {level})[{}]", self.inlines(title))
                }
                Block::Paragraph(inlines) => self.inlines(inlines),
                Block::Equation(lines) => self.equation(lines),
                Block::List { ordered, items } => self.list(*ordered, items),
                Block::Table(table) => self.table(table),
                Block::Note(inlines) => format!("#remark[{}]", self.inlines(inlines)),
                Block::Figure(figure) => self.figure(figure),
            };
            text.trim().to_owned()
        })
    }
}

impl Typst<'_> {
    fn equation(&self, lines: &[Line]) -> String {
        let rows = display::rows(lines, self.style, Ink::Typst, self.room);
        if rows.iter().all(|row| row.left.is_empty() && row.right.is_empty()) {
            return String::new();
        }
        let reading: Vec<String> = lines.iter().map(|line| line.plain(self.style)).collect();
        let body: Vec<String> = match rows.as_slice() {
            [row] if row.left.is_empty() => vec![row.right.clone()],
            rows => rows
                .iter()
                .map(|row| format!("{} & {}", row.left, row.right))
                .collect(),
        };
        let name = if rows.iter().any(|row| row.wide) {
            "displayed-wide"
        } else {
            "displayed"
        };
        format!(
            "#{name}({}, ${}$)",
            escape(&reading.join("; ")),
            shown(&body.join(" \\ "))
        )
    }

    fn list(&self, ordered: bool, items: &[Vec<Block>]) -> String {
        if items.is_empty() {
            return String::new();
        }
        let name = if ordered { "enum" } else { "list" };
        let items: Vec<String> = items
            .iter()
            .map(|blocks| format!("[{}]", self.blocks(blocks).trim()))
            .collect();
        format!("#{name}({})", items.join(", "))
    }

    fn table(&self, table: &Table) -> String {
        let columns = table.head.len();
        if columns == 0 {
            return String::new();
        }
        let sides: Vec<&str> = (0..columns)
            .map(|n| {
                if table.numeric.get(n).copied().unwrap_or(false) {
                    "right"
                } else {
                    "left"
                }
            })
            .collect();
        let row = |cells: &[Vec<Inline>]| {
            let cells: Vec<String> = (0..columns)
                .map(|n| {
                    let cell = cells.get(n).map(Vec::as_slice).unwrap_or_default();
                    format!("[{}]", self.inlines(cell))
                })
                .collect();
            cells.join(", ")
        };
        let body: Vec<String> = table.rows.iter().map(|cells| row(cells)).collect();
        format!(
            "#data-table(({},), ({},), {})",
            sides.join(", "),
            row(&table.head),
            body.join(",\n")
        )
    }

    fn figure(&self, figure: &Figure) -> String {
        let name = self.figures.svg_name(self.figures.add(figure));
        format!(
            "#figure-of({}, {}, {})",
            typst_literal(&name),
            escape(&figure.description),
            escape(&figure.title)
        )
    }
}

/// Outside text as a string literal, quotation marks included.
pub(super) fn escape(text: &str) -> String {
    typst_literal(&shown(text))
}

/// A text of characters that the fonts have, each other one as a visible code.
fn shown(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in super::composed(text).chars() {
        match c {
            '\u{a0}' => shown.push(c),
            // The narrow space between a number and its unit.
            '\u{202f}' => shown.push('\u{a0}'),
            c if c.is_control() || c.is_whitespace() => shown.push(' '),
            c if c.is_ascii() => shown.push(c),
            c if has_glyph(c) => shown.push(c),
            c => shown.push_str(&format!("[U+{:04X}]", u32::from(c))),
        }
    }
    shown
}

/// Marks of other scripts than these are set only on that script's own letters.
fn has_glyph(c: char) -> bool {
    let mark = canonical_combining_class(c) != 0;
    typeset::has_glyph(c) && super::hidden(c) == c && (!mark || ('\u{300}'..='\u{36f}').contains(&c))
}
