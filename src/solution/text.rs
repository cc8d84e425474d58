//! A worked solution as plain text for a terminal.

use super::Step;
use crate::bank::prose::{Block, Inline, Table};
use crate::equation::{Line, Style};
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// Columns of a terminal that a text keeps within.
const WIDTH: usize = 88;

/// How far equations and tables stand in.
const INDENT: usize = 4;

/// Steps as plain text, numbered, for a terminal 88 columns wide; ends with a line feed.
pub fn plain_text(steps: &[Step], style: Style) -> String {
    let mut out = String::new();
    for (i, step) in steps.iter().enumerate() {
        if i > 0 {
            out.push('\n');
        }
        let title = format!("{}. {}", i + 1, step.title);
        let _ = writeln!(out, "{title}\n{}", "-".repeat(title.width()));
        for (j, block) in step.body.iter().enumerate() {
            if j > 0 {
                out.push('\n');
            }
            write_block(&mut out, block, 0, style);
        }
    }
    out
}

/// Blocks as plain text, for a terminal 88 columns wide; ends with a line feed.
pub fn plain_blocks(blocks: &[Block], style: Style) -> String {
    let mut out = String::new();
    for (i, block) in blocks.iter().enumerate() {
        if i > 0 {
            out.push('\n');
        }
        write_block(&mut out, block, 0, style);
    }
    out
}

/// Running text as plain text on one line, but for its own line breaks.
pub fn plain_inlines(inlines: &[Inline], style: Style) -> String {
    let mut out = String::new();
    for inline in inlines {
        match inline {
            Inline::Text(words) => out.push_str(words),
            Inline::Strong(inner) | Inline::Emphasis(inner) => out.push_str(&plain_inlines(inner, style)),
            Inline::Code(words) => {
                let _ = write!(out, "`{words}`");
            }
            // A formula or a value stays on one line.
            Inline::Math(expr) => out.push_str(&expr.plain(style).replace(' ', "\u{a0}")),
            Inline::Value(written) => out.push_str(&written.plain(style.mark).replace(' ', "\u{a0}")),
            Inline::Placeholder(name) => {
                let _ = write!(out, "{{{{ {name} }}}}");
            }
            Inline::Break => out.push('\n'),
        }
    }
    out
}

fn write_block(out: &mut String, block: &Block, indent: usize, style: Style) {
    match block {
        Block::Heading(_, words) => {
            let words = plain_inlines(words, style);
            wrap(out, &words, indent, indent);
            let _ = writeln!(
                out,
                "{}{}",
                " ".repeat(indent),
                "-".repeat(words.width().min(WIDTH - indent))
            );
        }
        Block::Paragraph(words) => wrap(out, &plain_inlines(words, style), indent, indent),
        Block::Note(words) => wrap(
            out,
            &format!("Note: {}", plain_inlines(words, style)),
            indent,
            indent + 2,
        ),
        Block::Equation(lines) => {
            for line in lines {
                write_line(out, line, indent + INDENT, style);
            }
        }
        Block::List { ordered, items } => {
            for (i, item) in items.iter().enumerate() {
                let mark = if *ordered {
                    format!("{}. ", i + 1)
                } else {
                    "- ".to_owned()
                };
                let mut inner = String::new();
                for (j, block) in item.iter().enumerate() {
                    if j > 0 {
                        inner.push('\n');
                    }
                    write_block(&mut inner, block, indent + mark.width(), style);
                }
                // The mark takes the place of the first line's indent.
                let rest = inner.get(indent + mark.width()..).unwrap_or_default();
                let _ = write!(out, "{}{mark}{rest}", " ".repeat(indent));
            }
        }
        Block::Table(table) => write_table(out, table, indent + INDENT, style),
        // A terminal shows no drawing: what it shows is said.
        Block::Figure(figure) => wrap(out, &figure.description, indent, indent),
    }
}

/// Words filled into lines; the first line stands in by `first`, the others by `rest`.
fn wrap(out: &mut String, words: &str, first: usize, rest: usize) {
    for (i, paragraph) in words.split('\n').enumerate() {
        let mut indent = if i == 0 { first } else { rest };
        let mut line = String::new();
        for word in paragraph.split([' ', '\t', '\r']).filter(|w| !w.is_empty()) {
            if !line.is_empty() && indent + line.width() + 1 + word.width() > WIDTH {
                let _ = writeln!(out, "{}{}", " ".repeat(indent), visible(&line));
                line.clear();
                indent = rest;
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        let _ = writeln!(out, "{}{}", " ".repeat(indent), visible(&line));
    }
}

/// Blanks that do not break are blanks again once lines are filled.
fn visible(line: &str) -> String {
    line.replace('\u{a0}', " ")
}

/// A line of working on one line where it fits, else a line for each side with the relations under one
/// another.
fn write_line(out: &mut String, line: &Line, indent: usize, style: Style) {
    let first = line.first.plain(style);
    let sides: Vec<_> = line
        .rest
        .iter()
        .map(|(r, e)| (r.plain(), e.plain(style)))
        .collect();
    let mut whole = first.clone();
    for (relation, side) in &sides {
        let _ = write!(whole, " {relation} {side}");
    }
    if indent + whole.width() <= WIDTH {
        let _ = writeln!(out, "{}{whole}", " ".repeat(indent));
        return;
    }
    // The relations stand under one another; a long left side has a line of its own.
    let long = first.width() > 24;
    let column = if long {
        indent + INDENT
    } else {
        indent + first.width() + 1
    };
    // Rows are filled from the end, so that a formula's numbers and their value stay together.
    let mut rows: Vec<String> = Vec::new();
    for (relation, side) in sides.iter().rev() {
        let side = format!("{relation} {side}");
        match rows.last_mut() {
            Some(row) if column + side.width() + 1 + row.width() <= WIDTH => *row = format!("{side} {row}"),
            _ => rows.push(side),
        }
    }
    if long {
        broken(out, &first, indent, indent + INDENT);
    }
    for (i, row) in rows.iter().rev().enumerate() {
        if i == 0 && !long {
            broken(out, &format!("{first} {row}"), indent, column + 2);
        } else {
            broken(out, row, column, column + 2);
        }
    }
    if sides.is_empty() && !long {
        broken(out, &first, indent, indent + INDENT);
    }
}

/// A formula broken before a plus or minus outside brackets where it is too long, and inside them where it
/// must be.
fn broken(out: &mut String, text: &str, first: usize, rest: usize) {
    let mut indent = first;
    let mut left = text;
    loop {
        if indent + left.width() <= WIDTH {
            let _ = writeln!(out, "{}{left}", " ".repeat(indent));
            return;
        }
        let mut depth = 0_i32;
        // Best place so far: shallowest, and the last one that fits.
        let mut best: Option<(i32, usize)> = None;
        for (at, c) in left.char_indices() {
            match c {
                '(' | '[' => depth += 1,
                ')' | ']' => depth -= 1,
                ' ' if at > 0 => {
                    if indent + left[..at].width() > WIDTH {
                        break;
                    }
                    let next = left[at + 1..].chars().next();
                    let weight = match next {
                        Some('+' | '-' | '−') => depth,
                        // Between factors only where nothing else serves.
                        _ => depth + 10,
                    };
                    // A break near the beginning gains nothing, and none parts a relation from its side.
                    if left[..at].width() > 16
                        && !left[..at].ends_with(['=', '≈'])
                        && best.is_none_or(|(w, _)| weight <= w)
                    {
                        best = Some((weight, at));
                    }
                }
                _ => {}
            }
        }
        let Some((_, at)) = best else {
            let _ = writeln!(out, "{}{left}", " ".repeat(indent));
            return;
        };
        let _ = writeln!(out, "{}{}", " ".repeat(indent), &left[..at]);
        left = &left[at + 1..];
        indent = rest;
    }
}

fn write_table(out: &mut String, table: &Table, indent: usize, style: Style) {
    let cells = |row: &[Vec<Inline>]| -> Vec<String> {
        row.iter()
            .map(|cell| visible(&plain_inlines(cell, style)).replace('\n', " "))
            .collect()
    };
    let head = cells(&table.head);
    let rows: Vec<_> = table.rows.iter().map(|row| cells(row)).collect();
    let columns = head.len();
    let of_rows: Vec<usize> = (0..columns)
        .map(|i| {
            rows.iter()
                .filter_map(|row| row.get(i))
                .map(|c| c.width())
                .max()
                .unwrap_or(0)
        })
        .collect();
    // Heads are stacked word upon word where the table would be too wide.
    let whole: usize = head
        .iter()
        .zip(&of_rows)
        .map(|(c, w)| c.width().max(*w) + 2)
        .sum();
    let last_is_words = !table.numeric.last().copied().unwrap_or(false);
    let stacked: Vec<Vec<String>> = head
        .iter()
        .map(|c| {
            if indent + whole > WIDTH + 2 && !last_is_words {
                c.split(' ').map(str::to_owned).collect()
            } else {
                vec![c.clone()]
            }
        })
        .collect();
    let height = stacked.iter().map(Vec::len).max().unwrap_or(1);
    let mut widths: Vec<usize> = stacked
        .iter()
        .zip(&of_rows)
        .map(|(words, w)| words.iter().map(|c| c.width()).max().unwrap_or(0).max(*w))
        .collect();
    // The last column of words is wrapped where the table is too wide.
    let before: usize = widths.iter().take(columns.saturating_sub(1)).map(|w| w + 2).sum();
    let room = WIDTH.saturating_sub(indent + before).max(20);
    let wraps = columns > 0 && last_is_words;
    if let Some(last) = widths.last_mut()
        && wraps
    {
        *last = (*last).min(room);
    }
    let mut line = |row: &[String]| {
        let mut text = " ".repeat(indent);
        for (i, cell) in row.iter().enumerate() {
            let width = widths.get(i).copied().unwrap_or(0);
            let gap = " ".repeat(width.saturating_sub(cell.width()));
            let last = i + 1 == columns;
            if last && wraps {
                let column = indent + before;
                let mut filled = String::new();
                wrap(&mut filled, cell, column, column);
                text.push_str(filled.get(column..).unwrap_or_default().trim_end());
            } else if table.numeric.get(i).copied().unwrap_or(false) {
                text.push_str(&gap);
                text.push_str(cell);
            } else {
                text.push_str(cell);
                text.push_str(&gap);
            }
            if !last {
                text.push_str("  ");
            }
        }
        let _ = writeln!(out, "{}", text.trim_end());
    };
    for i in 0..height {
        let words: Vec<String> = stacked
            .iter()
            .map(|c| c.get(i).cloned().unwrap_or_default())
            .collect();
        line(&words);
    }
    line(&widths.iter().map(|w| "-".repeat(*w)).collect::<Vec<_>>());
    for row in &rows {
        line(row);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::prose::text;

    #[test]
    fn words_are_wrapped_and_lists_stand_in() {
        let long = "word ".repeat(30);
        let blocks = [
            Block::Paragraph(vec![text(long.clone())]),
            Block::List {
                ordered: false,
                items: vec![
                    vec![Block::Paragraph(vec![text(long)])],
                    vec![Block::Paragraph(vec![text("two")])],
                ],
            },
        ];
        let out = plain_blocks(&blocks, Style::default());
        assert!(out.lines().all(|l| l.width() <= WIDTH), "{out}");
        let lines: Vec<_> = out.lines().collect();
        assert!(lines[3].starts_with("- word"), "{out}");
        assert!(lines[4].starts_with("  word"), "{out}");
        assert_eq!(lines[lines.len() - 1], "- two");
    }

    #[test]
    fn a_table_is_aligned_by_display_width() {
        let table = Table {
            head: vec![vec![text("ε/D")], vec![text("what")]],
            numeric: vec![true, false],
            rows: vec![
                vec![vec![text("0.001")], vec![text("a")]],
                vec![vec![text("1")], vec![text("b")]],
            ],
        };
        let out = plain_blocks(&[Block::Table(table)], Style::default());
        assert_eq!(
            out,
            "      ε/D  what\n    -----  ----\n    0.001  a\n        1  b\n"
        );
    }

    #[test]
    fn a_long_formula_is_broken_at_its_sums() {
        let text = "(aaaaaaaaaaaa + bbbbbbbbbbbbbbbb) cccccccccccccccccccccc + dddddddddddddddddd + eeeeeeeeeeeeeeeeeeee";
        let mut out = String::new();
        broken(&mut out, text, 4, 8);
        let lines: Vec<_> = out.lines().collect();
        assert_eq!(lines.len(), 2, "{out}");
        assert!(lines[1].starts_with("        + e"), "{out}");
    }
}
