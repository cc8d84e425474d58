//! Markdown: CommonMark with pipe tables, and mathematics between dollar signs.
//!
//! Every character of outside text passes [`escape`], so that it shows as it is and begins no markup,
//! mathematics, link or HTML.

use super::display::{self, Ink, Room};
use super::figures::Figures;
use super::{Writer, hidden};
use crate::bank::prose::{Block, Inline, Table};
use crate::equation::{Line, Style};

/// Writes Markdown.
pub(super) struct Markdown<'a> {
    /// How mathematics is printed.
    pub(super) style: Style,
    /// The level of the heading above what is written.
    pub(super) below: u8,
    /// Where figures are kept for files of their own.
    pub(super) figures: &'a Figures,
}

impl Writer for Markdown<'_> {
    fn inlines(&self, inlines: &[Inline]) -> String {
        let lines: Vec<String> = self
            .inlines_in(inlines, false)
            .split('\n')
            .map(guard_start)
            .collect();
        lines.join("\n")
    }

    fn blocks(&self, blocks: &[Block]) -> String {
        let mut out = String::new();
        for block in blocks {
            let text = match block {
                Block::Heading(level, title) => {
                    let marks = "#".repeat(usize::from(self.below + level.max(&1)).min(6));
                    format!("{marks} {}", self.inlines_in(title, true).trim())
                }
                Block::Paragraph(inlines) => self.inlines(inlines),
                Block::Equation(lines) => self.equation(lines),
                Block::List { ordered, items } => self.list(*ordered, items),
                Block::Table(table) => self.table(table),
                Block::Figure(figure) => {
                    let name = self.figures.svg_name(self.figures.add(figure));
                    format!("![{}]({name})", escape(&figure.description))
                }
                Block::Note(inlines) => {
                    let lines: Vec<String> = self
                        .inlines(inlines)
                        .split('\n')
                        .map(|line| format!("> {line}"))
                        .collect();
                    lines.join("\n")
                }
            };
            if text.trim().is_empty() {
                continue;
            }
            if !out.is_empty() {
                out.push_str("\n\n");
            }
            out.push_str(text.trim_end());
        }
        if !out.is_empty() {
            out.push('\n');
        }
        out
    }
}

impl Markdown<'_> {
    fn inlines_in(&self, inlines: &[Inline], cell: bool) -> String {
        let mut out = String::new();
        let last = inlines.iter().rposition(|i| !matches!(i, Inline::Break));
        for (n, inline) in inlines.iter().enumerate() {
            match inline {
                Inline::Text(words) => {
                    let words = escape(words);
                    // A digit right behind `$…$` would make the sign a price.
                    if out.ends_with('$') && words.starts_with(|c: char| c.is_ascii_digit()) {
                        out.push_str("&#8203;");
                    }
                    out.push_str(&words);
                }
                Inline::Strong(inside) => self.marked("**", inside, &mut out),
                Inline::Emphasis(inside) => self.marked("*", inside, &mut out),
                Inline::Code(words) => out.push_str(&code(words)),
                Inline::Math(expr) => {
                    let maths = maths(&expr.latex(self.style), cell);
                    if !maths.is_empty() {
                        if out.ends_with('$') {
                            out.push(' ');
                        }
                        out.push_str(&format!("${maths}$"));
                    }
                }
                Inline::Value(written) => out.push_str(&escape(&written.plain(self.style.mark))),
                Inline::Placeholder(name) => out.push_str(&code(&format!("{{{{ {name} }}}}"))),
                Inline::Break if cell => out.push(' '),
                Inline::Break if out.trim().is_empty() || last.is_none_or(|last| n > last) => {}
                Inline::Break => out.push_str("\\\n"),
            }
        }
        out
    }

    /// Marks hold only where no blank stands inside them: blanks go outside.
    fn marked(&self, mark: &str, inside: &[Inline], out: &mut String) {
        let words = self.inlines_in(inside, true);
        let inner = words.trim();
        if inner.is_empty() {
            out.push_str(&words);
            return;
        }
        let (before, after) = (
            &words[..words.len() - words.trim_start().len()],
            &words[words.trim_end().len()..],
        );
        out.push_str(&format!("{before}{mark}{inner}{mark}{after}"));
    }

    fn equation(&self, lines: &[Line]) -> String {
        let rows = display::rows(lines, self.style, Ink::Latex, Room::PAGE);
        let body = match rows.as_slice() {
            [] => return String::new(),
            [row] if row.left.is_empty() => maths(&row.right, false),
            rows => {
                let rows: Vec<String> = rows
                    .iter()
                    .map(|row| {
                        format!("{} & {}", maths(&row.left, false), maths(&row.right, false))
                            .trim()
                            .to_owned()
                    })
                    .collect();
                format!("\\begin{{aligned}}\n{}\n\\end{{aligned}}", rows.join(" \\\\\n"))
            }
        };
        if body.is_empty() {
            body
        } else {
            format!("$$\n{body}\n$$")
        }
    }

    fn list(&self, ordered: bool, items: &[Vec<Block>]) -> String {
        let mut out = Vec::new();
        let loose = items.iter().any(|blocks| blocks.len() > 1);
        for (n, blocks) in items.iter().enumerate() {
            let marker = if ordered {
                format!("{}. ", n + 1)
            } else {
                "- ".to_owned()
            };
            let indent = " ".repeat(marker.len());
            let body = self.blocks(blocks);
            let lines: Vec<String> = body
                .trim_end()
                .split('\n')
                .enumerate()
                .map(|(n, line)| match (n, line.is_empty()) {
                    (0, _) => format!("{marker}{line}"),
                    (_, true) => String::new(),
                    (_, false) => format!("{indent}{line}"),
                })
                .collect();
            out.push(lines.join("\n").trim_end().to_owned());
        }
        out.join(if loose { "\n\n" } else { "\n" })
    }

    fn table(&self, table: &Table) -> String {
        let columns = table.head.len();
        if columns == 0 {
            return String::new();
        }
        let row = |cells: &[Vec<Inline>]| {
            let cells: Vec<String> = (0..columns)
                .map(|n| {
                    let cell = cells.get(n).map(Vec::as_slice).unwrap_or_default();
                    self.inlines_in(cell, true).trim().to_owned()
                })
                .collect();
            format!("| {} |", cells.join(" | "))
        };
        let rule: Vec<&str> = (0..columns)
            .map(|n| {
                if table.numeric.get(n).copied().unwrap_or(false) {
                    "---:"
                } else {
                    "---"
                }
            })
            .collect();
        let mut lines = vec![row(&table.head), format!("| {} |", rule.join(" | "))];
        lines.extend(table.rows.iter().map(|cells| row(cells)));
        lines.join("\n")
    }
}

/// Mathematics as it may stand between dollar signs. A `<` followed by a letter would begin HTML, and a bar
/// would end a table's cell.
fn maths(latex: &str, cell: bool) -> String {
    let mut out = String::with_capacity(latex.len());
    let mut chars = latex.trim().chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '<' if chars.peek().is_some_and(|next| !next.is_whitespace()) => out.push_str("< "),
            '|' if cell => out.push_str("\\vert "),
            '\n' => out.push(' '),
            _ => out.push(c),
        }
    }
    out
}

/// Typewriter: in a fence of more backticks than any inside.
fn code(words: &str) -> String {
    let words: String = super::composed(words)
        .chars()
        .map(|c| if c.is_control() { ' ' } else { hidden(c) })
        .collect();
    if words.trim().is_empty() {
        return String::new();
    }
    let longest = words.split(|c| c != '`').map(str::len).max().unwrap_or(0);
    let fence = "`".repeat(longest + 1);
    let pad = if words.starts_with('`') || words.ends_with('`') {
        " "
    } else {
        ""
    };
    // A bar ends a cell even in a code span; escaped it is shown with its backslash outside tables, so that
    // the full-width form is the lesser evil.
    let words = words.replace('|', "｜");
    format!("{fence}{pad}{words}{pad}{fence}")
}

/// Outside text as Markdown that shows it, on one line; what matters only at the start of a line is left to
/// [`guard_start`].
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let composed = super::composed(text);
    let mut rest = &*composed;
    while let Some(c) = rest.chars().next() {
        let after = &rest[c.len_utf8()..];
        let c = match c {
            '\u{a0}' | '\u{202f}' => c,
            c if c.is_control() || c.is_whitespace() => ' ',
            c => hidden(c),
        };
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '$' | '~' | '^' | '@' | '{' | '}' => {
                out.push('\\');
            }
            // An entity, and what some readers turn into a link.
            '&' if after.starts_with(|n: char| n == '#' || n.is_ascii_alphanumeric()) => out.push('\\'),
            ':' if after.starts_with("//") => out.push('\\'),
            '.' if ends_in_www(&out) => out.push('\\'),
            _ => {}
        }
        out.push(c);
        rest = after;
    }
    out
}

fn ends_in_www(text: &str) -> bool {
    text.len()
        .checked_sub(3)
        .and_then(|from| text.get(from..))
        .is_some_and(|end| end.eq_ignore_ascii_case("www"))
}

/// A line that begins no heading, list, quotation or rule by accident.
pub(super) fn guard_start(line: &str) -> String {
    let line = line.trim_start_matches([' ', '\t']);
    let digits = line.bytes().take_while(u8::is_ascii_digit).count();
    let mut behind = line[digits..].chars();
    let marker = digits > 0
        && matches!(behind.next(), Some('.' | ')'))
        && behind.next().is_none_or(char::is_whitespace);
    if line.starts_with(['#', '-', '+', '=', ':', '%']) {
        format!("\\{line}")
    } else if marker {
        format!("{}\\{}", &line[..digits], &line[digits..])
    } else {
        line.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::prose::text;
    use proptest::prelude::*;
    use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};
    use unicode_normalization::UnicodeNormalization;

    fn blocks(blocks: &[Block]) -> String {
        let figures = Figures::new("figure");
        let markdown = Markdown {
            style: Style::default(),
            below: 2,
            figures: &figures,
        };
        markdown.blocks(blocks)
    }

    /// What a reader sees of one paragraph: its words, where everything else in it is a failure.
    fn shown(markdown: &str) -> String {
        let mut out = String::new();
        // All but typographic quotes and dashes, which are meant to change how a text looks.
        for event in Parser::new_ext(markdown, Options::all() - Options::ENABLE_SMART_PUNCTUATION) {
            match event {
                Event::Start(Tag::Paragraph) | Event::End(TagEnd::Paragraph) => {}
                Event::Text(words) => out.push_str(&words),
                Event::SoftBreak => out.push(' '),
                other => panic!("{markdown:?} holds {other:?}"),
            }
        }
        out
    }

    /// What should be seen of a text.
    fn expected(text: &str) -> String {
        let text: String = text
            .nfc()
            .map(|c| match c {
                '\u{a0}' | '\u{202f}' => c,
                c if c.is_control() || c.is_whitespace() => ' ',
                c => hidden(c),
            })
            .collect();
        text.trim().to_owned()
    }

    fn comes_through(words: &str) {
        let written = blocks(&[Block::Paragraph(vec![text(words)])]);
        assert_eq!(
            shown(&written).trim(),
            expected(words),
            "{words:?} -> {written:?}"
        );
    }

    #[test]
    fn outside_text_is_shown_as_it_is() {
        for words in [
            "<script>alert(1)</script>",
            "# not a heading",
            "- no item",
            "12. no item",
            "3) no item",
            "> no quotation",
            "a | b",
            "`code` **strong** _em_ $x$ ~~no~~",
            "&amp; &#65; & Co",
            "[a](http://x.example) ![b](c) www.example.org",
            "===",
            "---",
            "x@example.org",
            "\\input{/etc/passwd}",
            "{{ name }}",
        ] {
            comes_through(words);
        }
    }

    #[test]
    fn a_number_and_a_point_from_two_pieces_begin_no_list() {
        let item = [Block::Paragraph(vec![text("1"), text(". not an item")])];
        assert_eq!(shown(&blocks(&item)), "1. not an item");
    }

    #[test]
    fn a_table_keeps_its_columns_whatever_its_cells_hold() {
        let table = Table {
            head: vec![vec![text("a|b")], vec![text("n")]],
            numeric: vec![false, true],
            rows: vec![
                vec![vec![text("x | y")], vec![Inline::Code("1|2`3".to_owned())]],
                vec![vec![text("z\nw"), Inline::Break], vec![]],
            ],
        };
        let written = blocks(&[Block::Table(table)]);
        let cells = Parser::new_ext(&written, Options::all())
            .filter(|e| matches!(e, Event::Start(Tag::TableCell)))
            .count();
        assert_eq!(cells, 6, "{written}");
        assert!(
            written.starts_with("| a\\|b | n |\n| --- | ---: |\n"),
            "{written}"
        );
    }

    #[test]
    fn items_keep_what_belongs_to_them() {
        let inner = Block::List {
            ordered: true,
            items: vec![
                vec![Block::Paragraph(vec![text("one")])],
                vec![Block::Paragraph(vec![text("two")])],
            ],
        };
        let list = Block::List {
            ordered: false,
            items: vec![
                vec![Block::Paragraph(vec![text("first")]), inner],
                vec![Block::Paragraph(vec![text("second")])],
            ],
        };
        assert_eq!(blocks(&[list]), "- first\n\n  1. one\n  2. two\n\n- second\n");
    }

    #[test]
    fn a_comparison_in_mathematics_begins_no_html() {
        assert_eq!(maths("a<b", false), "a< b");
        assert_eq!(maths("|x| < 1", true), "\\vert x\\vert  < 1");
    }

    proptest! {
        #[test]
        fn any_text_comes_through(words in "[^\\p{Cc}\\p{Cf}\\p{Co}\\p{Cn}\\p{Z}][^\\p{Cc}\\p{Cf}\\p{Co}\\p{Cn}\\p{Zl}\\p{Zp}]*") {
            comes_through(&words);
        }

        #[test]
        fn any_markup_comes_through(words in "[a-z0-9 \\\\`*_{}\\[\\]<>()#+.!|$~^&:;=@%'\"-]{1,40}") {
            prop_assume!(!words.trim().is_empty());
            comes_through(&words);
        }
    }
}
