//! Typst source, for PDF.
//!
//! Every piece of outside text stands in a string literal ([`escape`]), so that nothing in it is read as markup or code;
//! what the fonts lack becomes a visible code such as `[U+738B]`. What `lead`, `formula`, `displayed`, `displayed-wide`, `value`,
//! `remark`, `data-table`, `single`, `lines` and `figure-of` mean stands in `templates/preamble.typ`.

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

/// What surrounds inlines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Within {
    /// Lines that the typesetter breaks.
    Paragraph,
    /// A cell that has room for all of it on one line.
    Line,
}

/// The sign between units, which stands closer than the font has it.
const CLOSE: char = '·';
/// What a sign has beside it in mathematics, and slanted letters lean over \[em\].
const SPACE_OF_SIGN: f64 = 0.5;
/// Between columns \[em\].
const GUTTER: f64 = 0.84;
/// The size of a script beside what it hangs on; it is 0.7 in this font.
const OF_SCRIPT: f64 = 0.75;
/// A table of so many columns has smaller type before its cells are broken.
const MANY: usize = 6;
/// The smallest type of a table, in its usual type; `data-table` has it too.
const SMALLEST: f64 = 0.7;
/// The least room for the names of a table of many columns \[em\].
const NAMES: f64 = 6.0;
/// What a column has to spare \[em\].
const SPARE: f64 = 0.15;

/// How a table fits its page.
struct Fit {
    /// Width of each column \[em\]; `None` for those that share what the others leave.
    columns: Vec<Option<f64>>,
    /// Whether a row is one line, the head first.
    single: Vec<bool>,
    /// Width of all columns \[em\].
    whole: f64,
}

impl Fit {
    /// From the width of each cell of each row, the head first, and of the longest word of each head, in a room \[em\]. Where
    /// the room is too small, heads are broken; where that is not enough, a table of many columns is a little too wide, so that
    /// its type is made smaller, its first column parted if need be, and of others the columns share the room.
    fn new(cells: &[Vec<f64>], words: &[f64], room: f64) -> Self {
        let room = room - GUTTER * words.len().saturating_sub(1) as f64;
        let widest = |n: usize, rows: &[Vec<f64>]| {
            rows.iter()
                .filter_map(|row| row.get(n))
                .copied()
                .fold(0.0, f64::max)
        };
        let natural: Vec<f64> = (0..words.len()).map(|n| widest(n, cells) + SPARE).collect();
        let body = cells.get(1..).unwrap_or_default();
        let broken = (0..)
            .zip(words)
            .map(|(n, word)| widest(n, body).max(*word) + SPARE);
        let mut broken: Vec<f64> = broken.collect();
        let total = |widths: &[f64]| widths.iter().sum::<f64>();
        // In the smallest type, what the others leave to the names in the first column, which may part.
        let first = (room / SMALLEST - total(broken.get(1..).unwrap_or_default())).min(broken[0]);
        let mut share = room;
        let mut whole = total(&natural).min(room);
        let columns = if total(&natural) <= room {
            natural.iter().copied().map(Some).collect()
        } else if total(&broken) <= room {
            // What is left goes to the heads that would have more.
            let part = (room - total(&broken)) / (total(&natural) - total(&broken));
            let between = natural.iter().zip(&broken);
            between
                .map(|(natural, broken)| Some(broken + part * (natural - broken)))
                .collect()
        } else if words.len() >= MANY && first >= NAMES.min(broken[0]) {
            broken[0] = first;
            whole = total(&broken);
            broken.iter().copied().map(Some).collect()
        } else {
            let mut columns: Vec<Option<f64>> = vec![None; broken.len()];
            loop {
                let taken: f64 = columns.iter().flatten().sum();
                let left = columns.iter().filter(|c| c.is_none()).count();
                share = (room - taken) / left.max(1) as f64;
                let mut settled = true;
                for (column, width) in columns.iter_mut().zip(&natural) {
                    if column.is_none() && *width <= share {
                        *column = Some(*width);
                        settled = false;
                    }
                }
                if settled {
                    break;
                }
            }
            columns
        };
        let fits = |row: &Vec<f64>| {
            let mut each = row.iter().zip(&columns);
            each.all(|(cell, column)| cell + SPARE <= column.unwrap_or(share) + 1e-9)
        };
        Self {
            single: cells.iter().map(fits).collect(),
            whole,
            columns,
        }
    }

    /// Columns, rows and the whole as Typst has them.
    fn written(&self) -> (String, String, String) {
        let columns: Vec<String> = self
            .columns
            .iter()
            .map(|column| column.map_or("1fr".to_owned(), |width| format!("{width:.2}em")))
            .collect();
        let rows: Vec<&str> = self
            .single
            .iter()
            .map(|single| if *single { "single" } else { "auto" })
            .collect();
        // The last row's height is that of all behind it.
        let same = rows
            .iter()
            .rev()
            .skip_while(|row| Some(*row) == rows.last())
            .count();
        let rows = &rows[..rows.len().min(same + 1)];
        (
            format!("({},)", columns.join(", ")),
            format!("({},)", rows.join(", ")),
            format!("{:.2}em", self.whole + GUTTER * (columns.len() - 1) as f64),
        )
    }
}

impl Writer for Typst<'_> {
    fn inlines(&self, inlines: &[Inline]) -> String {
        self.inlines_in(inlines, Within::Paragraph)
    }

    fn blocks(&self, blocks: &[Block]) -> String {
        apart(blocks, |block, next| {
            let text = match block {
                // A sentence that leads up to something stands on its page.
                Block::Paragraph(inlines)
                    if super::leads_up(inlines)
                        || matches!(
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
    fn inlines_in(&self, inlines: &[Inline], within: Within) -> String {
        let mut out = String::new();
        let last = inlines.iter().rposition(|i| !matches!(i, Inline::Break));
        for (n, inline) in inlines.iter().enumerate() {
            match inline {
                Inline::Text(words) if words.is_empty() => {}
                // A symbol and its value stay on one line.
                Inline::Text(_) if n > 0 && super::is_equality(&inlines[n - 1..]) => {
                    out.push_str(&format!("#{}", escape("\u{a0}=\u{a0}")));
                }
                Inline::Text(words) => out.push_str(&format!("#{}", escape(words))),
                Inline::Strong(inside) => {
                    out.push_str(&format!("#strong[{}]", self.inlines_in(inside, within)))
                }
                Inline::Emphasis(inside) => {
                    out.push_str(&format!("#emph[{}]", self.inlines_in(inside, within)))
                }
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
                    out.push_str(&self.inlines_in(&[number], within));
                }
                Inline::Value(written) => {
                    let words = written.plain(self.style.mark);
                    let breaks = within == Within::Paragraph && words.contains([' ', '/', '-', '–']);
                    if !breaks && !words.contains(CLOSE) {
                        out.push_str(&format!("#{}", escape(&words)));
                    } else {
                        out.push_str(&format!("#value({})", escape(&words)));
                    }
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
        let fit = self.fit(table);
        let row = |n: usize, cells: &[Vec<Inline>]| {
            let (within, name) = match fit.as_ref().and_then(|fit| fit.single.get(n)) {
                Some(true) => (Within::Line, ""),
                Some(false) if n > 0 => (Within::Paragraph, "lines"),
                _ => (Within::Paragraph, ""),
            };
            let cells: Vec<String> = (0..columns)
                .map(|n| {
                    let cell = cells.get(n).map(Vec::as_slice).unwrap_or_default();
                    format!("{name}[{}]", self.inlines_in(cell, within))
                })
                .collect();
            cells.join(", ")
        };
        let (widths, rows, whole) = match &fit {
            Some(fit) => fit.written(),
            None => (columns.to_string(), "auto".to_owned(), "0em".to_owned()),
        };
        let body: Vec<String> = (1..).zip(&table.rows).map(|(n, cells)| row(n, cells)).collect();
        format!(
            "#data-table(({},), {widths}, {rows}, {whole}, ({},), {})",
            sides.join(", "),
            row(0, &table.head),
            body.join(",\n")
        )
    }

    /// How wide the columns of a table are, and which of its rows are no more than a line: what the typesetter would find by
    /// laying out each cell three times. `None` where it must.
    fn fit(&self, table: &Table) -> Option<Fit> {
        let head = std::iter::once((&table.head, true));
        let rows = head.chain(table.rows.iter().map(|row| (row, false)));
        let cells: Vec<Vec<f64>> = rows
            .map(|(row, bold)| {
                let widths = (0..table.head.len()).map(|n| match row.get(n) {
                    Some(cell) => self.width(cell, bold),
                    None => Some(0.0),
                });
                widths.collect()
            })
            .collect::<Option<_>>()?;
        let words = table
            .head
            .iter()
            .map(|cell| self.longest_word(cell))
            .collect::<Option<Vec<f64>>>()?;
        Some(Fit::new(&cells, &words, self.room.table))
    }

    /// How wide a cell is on one line \[em\], at most.
    fn width(&self, inlines: &[Inline], bold: bool) -> Option<f64> {
        let each = inlines.iter().map(|inline| match inline {
            Inline::Text(words) => typeset::width(&shown(words), bold),
            Inline::Value(written) if written.shown.exponent.is_none() => {
                typeset::width(&shown(&written.plain(self.style.mark)), bold)
            }
            Inline::Value(written) => self.width_of_maths(&Expr::Number(written.clone()), bold),
            Inline::Math(expr) => self.width_of_maths(expr, bold),
            Inline::Strong(inside) => self.width(inside, true),
            Inline::Emphasis(_) | Inline::Code(_) | Inline::Placeholder(_) | Inline::Break => None,
        });
        each.sum()
    }

    /// As [`Self::width`]; `None` where something stands above something else, which takes more than a line's height.
    fn width_of_maths(&self, expr: &Expr, bold: bool) -> Option<f64> {
        let words = expr.plain(self.style);
        // Signs of scripts are not in every font.
        let wide = |words: &str| -> f64 {
            let each = words
                .chars()
                .map(|c| typeset::width(c.encode_utf8(&mut [0; 4]), bold).unwrap_or(1.0));
            each.sum()
        };
        let whole = match (expr, words.split_once('_')) {
            (Expr::Symbol(_), Some((base, below))) => wide(base) + OF_SCRIPT * wide(below),
            _ => wide(&words),
        };
        let source = expr.typst(self.style);
        let is_high = ["frac(", "sqrt(", "root("]
            .iter()
            .any(|call| source.contains(call));
        (!is_high).then_some(whole + SPACE_OF_SIGN)
    }

    /// How wide the longest word of a head is \[em\]; what is no word is not broken.
    fn longest_word(&self, head: &[Inline]) -> Option<f64> {
        let mut longest = 0.0_f64;
        for inline in head {
            match inline {
                Inline::Text(words) => {
                    for word in shown(words).split(' ') {
                        longest = longest.max(typeset::width(word, true)?);
                    }
                }
                _ => return self.width(head, true),
            }
        }
        Some(longest)
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
