//! LaTeX, for pdflatex with the packages of `templates/preamble.tex`.
//!
//! Every character of outside text passes [`escape`]; what pdflatex can't typeset becomes a visible code such
//! as `[U+738B]`, so that no name or bank text can stop a run or smuggle a command in.

use super::display::{self, Ink, Room, Row};
use super::figures::Figures;
use super::{Writer, apart};
use crate::bank::prose::{Block, Figure, Inline, Table};
use crate::equation::{Line, Style};
use crate::typeset;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::canonical_combining_class;
use unicode_width::UnicodeWidthStr;

/// A column of words no wider than this many characters is never made narrower.
const NARROW: f64 = 20.0;
/// What a table without wide columns may be made smaller by before its words part.
const LEAST_SCALE: f64 = 0.7;
/// A word longer than this may be broken from there on,
const LONG_WORD: usize = 24;
/// or, in a cell, one longer than this,
const LONG_WORD_OF_CELL: usize = 14;
/// behind every so many characters.
const LONG_WORD_STEP: usize = 4;
/// Heads are not broken into lines shorter than this many characters.
const HEAD_LINE: usize = 12;
/// A table of no more rows than this stays on one page; `templates/preamble.typ` has the same number.
const ROWS_KEPT: usize = 12;

/// What running text stands in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Within {
    /// A paragraph.
    Text,
    /// A heading, or a command's argument: on one line.
    Line,
    /// A cell of a table.
    Cell,
}

impl Within {
    /// The same, without line breaks.
    fn line(self) -> Self {
        if self == Self::Text { Self::Line } else { self }
    }
}

/// Writes LaTeX.
pub(super) struct Latex<'a> {
    /// How mathematics is printed.
    pub(super) style: Style,
    /// How much fits on a line.
    pub(super) room: Room,
    /// Where figures are kept until they are made.
    pub(super) figures: &'a Figures,
}

impl Writer for Latex<'_> {
    fn inlines(&self, inlines: &[Inline]) -> String {
        self.inlines_in(inlines, Within::Text)
    }

    fn blocks(&self, blocks: &[Block]) -> String {
        self.blocks_at(blocks, 0)
    }
}

impl Latex<'_> {
    fn inlines_in(&self, inlines: &[Inline], within: Within) -> String {
        let mut out = String::new();
        let last = inlines.iter().rposition(|i| !matches!(i, Inline::Break));
        for (n, inline) in inlines.iter().enumerate() {
            match inline {
                // A symbol and its value stay on one line.
                Inline::Text(_) if n > 0 && super::is_equality(&inlines[n - 1..]) => out.push_str("~=~"),
                Inline::Text(words) => out.push_str(&escape_in(words, within)),
                Inline::Strong(inside) => {
                    out.push_str(&format!("\\textbf{{{}}}", self.inlines_in(inside, within.line())));
                }
                Inline::Emphasis(inside) => {
                    out.push_str(&format!("\\emph{{{}}}", self.inlines_in(inside, within.line())));
                }
                Inline::Code(code) => out.push_str(&format!("\\texttt{{{}}}", escape_in(code, within))),
                Inline::Math(expr) => {
                    let latex = expr.latex(self.style);
                    let latex = latex.trim();
                    // Fractions of two rows must not touch.
                    if within == Within::Cell && latex.contains("\\frac") {
                        out.push_str(&format!("\\tall{{{latex}}}"));
                    } else if !latex.is_empty() {
                        out.push_str(&format!("${latex}$"));
                    }
                }
                Inline::Value(written) => {
                    let latex = written.latex(self.style.mark);
                    if !latex.trim().is_empty() {
                        // In a group, so that no line ends between a number and its power of ten.
                        out.push_str(&format!("${{{}}}$", latex.trim()));
                    }
                }
                Inline::Placeholder(name) => {
                    out.push_str(&format!(
                        "\\texttt{{\\{{\\{{ {} \\}}\\}}}}",
                        escape_in(name, within)
                    ));
                }
                // In a cell `\\` would end the row, and at the end of a paragraph it would leave a gap.
                Inline::Break if within != Within::Text => out.push(' '),
                Inline::Break if last.is_none_or(|last| n > last) => {}
                Inline::Break if out.trim().is_empty() => out.push_str("\\leavevmode\\\\\n"),
                Inline::Break => out.push_str("\\\\\n"),
            }
        }
        out
    }

    fn blocks_at(&self, blocks: &[Block], depth: usize) -> String {
        apart(blocks, |block, next| match block {
            Block::Heading(level, title) => {
                let command = if *level <= 1 {
                    "\\subsection*"
                } else {
                    "\\subsubsection*"
                };
                format!("{command}{{{}}}", self.inlines_in(title, Within::Line))
            }
            // A line that leads up to something stands on its page.
            Block::Paragraph(inlines)
                if super::leads_up(inlines)
                    && matches!(next, Some(Block::Paragraph(_) | Block::List { .. })) =>
            {
                format!("{}\\par\\nopagebreak", self.inlines(inlines))
            }
            Block::Paragraph(inlines) => self.inlines(inlines),
            Block::Equation(lines) => self.equation(lines),
            Block::List { ordered, items } => self.list(*ordered, items, depth),
            Block::Table(table) => self.table(table),
            Block::Note(inlines) => {
                format!("\\begin{{remark}}\n{}\n\\end{{remark}}", self.inlines(inlines))
            }
            Block::Figure(figure) => self.figure(figure),
        })
    }

    fn equation(&self, lines: &[Line]) -> String {
        let rows = display::rows(lines, self.style, Ink::Latex, self.room);
        let piece = |row: &Row| {
            if row.wide {
                format!("\\fitmath{{{}}}", row.right)
            } else {
                row.right.clone()
            }
        };
        match rows.as_slice() {
            [] => String::new(),
            [row] if row.left.is_empty() => {
                if row.right.is_empty() {
                    String::new()
                } else {
                    format!("\\[\n{}\n\\]", piece(row))
                }
            }
            rows => {
                let body: Vec<String> = rows
                    .iter()
                    .map(|row| format!("{} & {}", row.left, piece(row)).trim().to_owned())
                    .collect();
                format!("\\begin{{align*}}\n{}\n\\end{{align*}}", body.join(" \\\\\n"))
            }
        }
    }

    /// The drawing, a page of a PDF file beside this one; what it shows, where the program makes no PDF.
    fn figure(&self, figure: &Figure) -> String {
        let number = self.figures.add(figure);
        if !typeset::is_available() {
            return format!(
                "\\begin{{remark}}\n{}\n\\end{{remark}}",
                escape(&figure.description)
            );
        }
        format!(
            "\\paperfigure{{\\detokenize{{{}}}}}{{{number}}}{{{}}}",
            self.figures.pdf_name(),
            escape_in(&figure.title, Within::Line)
        )
    }

    fn list(&self, ordered: bool, items: &[Vec<Block>], depth: usize) -> String {
        if items.is_empty() {
            return String::new();
        }
        // LaTeX refuses lists nested more than four deep: from there on items are paragraphs with a dash.
        if depth >= 3 {
            let items: Vec<String> = items
                .iter()
                .map(|blocks| format!("\\textendash{{}} {}", self.blocks_at(blocks, depth + 1).trim()))
                .collect();
            return items.join("\n\n");
        }
        let name = if ordered { "enumerate" } else { "itemize" };
        let items: Vec<String> = items
            .iter()
            .map(|blocks| format!("\\item {}", self.blocks_at(blocks, depth + 1).trim()))
            .collect();
        format!("\\begin{{{name}}}\n{}\n\\end{{{name}}}", items.join("\n"))
    }

    fn table(&self, table: &Table) -> String {
        let columns = table.head.len();
        if columns == 0 {
            return String::new();
        }
        let line = self.room.letters;
        let numeric = |n: usize| table.numeric.get(n).copied().unwrap_or(false);
        let mut widths = vec![1.0_f64; columns];
        for row in &table.rows {
            for (widest, cell) in widths.iter_mut().zip(row) {
                *widest = widest.max(self.width(cell));
            }
        }
        let gaps = 2.2 * columns as f64;
        let heads: Vec<f64> = table.head.iter().map(|cell| 1.1 * self.width(cell)).collect();
        let whole: f64 = widths
            .iter()
            .zip(&heads)
            .map(|(body, head)| body.max(*head))
            .sum();
        // Where the heads make a table too wide, they stand on several lines.
        let mut broken: Vec<Option<Vec<String>>> = vec![None; columns];
        for n in 0..columns {
            if whole + gaps > line && heads[n] > widths[n] {
                broken[n] = head_lines(&table.head[n], widths[n]);
            }
            widths[n] = widths[n].max(match &broken[n] {
                Some(lines) => lines
                    .iter()
                    .map(|line| 1.1 * line.width() as f64)
                    .fold(0.0, f64::max),
                None => heads[n],
            });
        }
        let natural: f64 = widths.iter().sum::<f64>() + gaps;
        let spec: Vec<String> = if natural <= line {
            (0..columns)
                .map(|n| if numeric(n) { "r" } else { "l" }.to_owned())
                .collect()
        } else {
            // Wide columns of words share what the others leave, each by its width; where none is wide, a table that is a
            // little too wide is made smaller. Values never part.
            let of_words = |n: usize| {
                let is_value = |cell: &Vec<Inline>| {
                    matches!(cell.first(), Some(Inline::Value(_))) || self.width(cell) <= 2.0
                };
                !numeric(n) && !table.rows.iter().filter_map(|row| row.get(n)).all(is_value)
            };
            let is_wide = |n: &usize| of_words(*n) && widths[*n] > NARROW;
            let any_wide = (0..columns).any(|n| is_wide(&n));
            let shared = |n: usize| match any_wide {
                true => is_wide(&n),
                false => of_words(n) && natural * LEAST_SCALE > line,
            };
            let others: f64 = (0..columns).filter(|&n| !shared(n)).map(|n| widths[n]).sum();
            let room = ((line - gaps - others) / line).max(0.2);
            let wish = |n: usize| widths[n].clamp(6.0, 60.0);
            // A column is as wide as its longest word; the table is made smaller where that is too much.
            let longest = |n: usize| {
                let cells = table.rows.iter().filter_map(|row| row.get(n)).flatten();
                let words = cells.filter_map(|inline| match inline {
                    Inline::Text(words) => words.split(' ').map(UnicodeWidthStr::width).max(),
                    _ => None,
                });
                words.max().unwrap_or(0).min(LONG_WORD_OF_CELL) as f64 / line
            };
            let wishes: f64 = (0..columns).filter(|&n| shared(n)).map(wish).sum();
            (0..columns)
                .map(|n| {
                    if !shared(n) {
                        if numeric(n) { "r" } else { "l" }.to_owned()
                    } else {
                        let share = (room * wish(n) / wishes).max(longest(n));
                        let share = (share * 1000.0).round() / 1000.0;
                        format!(">{{\\raggedright\\arraybackslash}}p{{{share:.3}\\linewidth}}")
                    }
                })
                .collect()
        };
        let row = |cells: &[Vec<Inline>], strong: bool| {
            let cells: Vec<String> = (0..columns)
                .map(|n| {
                    if let (true, Some(lines)) = (strong, &broken[n]) {
                        let lines: Vec<String> = lines
                            .iter()
                            .map(|line| format!("\\textbf{{{}}}", escape(line)))
                            .collect();
                        let side = if numeric(n) { "r" } else { "l" };
                        return format!("\\headlines{{{side}}}{{{}}}", lines.join("\\\\"));
                    }
                    let cell =
                        self.inlines_in(cells.get(n).map(Vec::as_slice).unwrap_or_default(), Within::Cell);
                    if strong && !cell.is_empty() {
                        format!("\\textbf{{{cell}}}")
                    } else {
                        cell
                    }
                })
                .collect();
            format!("{} \\\\", cells.join(" & "))
        };
        let spec = format!("@{{}}{}@{{}}", spec.concat());
        let head = row(&table.head, true);
        let body: Vec<String> = table.rows.iter().map(|cells| row(cells, false)).collect();
        // What is made smaller can't part.
        let parts = table.rows.len() > if natural <= line { ROWS_KEPT } else { 2 * ROWS_KEPT };
        if parts {
            // No page begins with the last two rows alone, nor ends with the head and one row.
            let kept = |n: usize| if n == 0 || n + 3 >= body.len() { "*" } else { "" };
            let body: Vec<String> = (body.iter().enumerate())
                .map(|(n, row)| {
                    if n + 1 < body.len() {
                        format!("{row}{}", kept(n))
                    } else {
                        row.clone()
                    }
                })
                .collect();
            let body = body.join("\n");
            // The head is not repeated: its widths would be those of the body only after a second run.
            format!(
                "\\begin{{longtable}}{{{spec}}}\n\\toprule\n{head}*\n\\midrule\n{body}\n\\bottomrule\n\\end{{longtable}}"
            )
        } else {
            let body = body.join("\n");
            format!(
                "\\begin{{papertable}}\n\\fittable{{%\n\\begin{{tabular}}{{{spec}}}\n\\toprule\n{head}\n\\midrule\n{body}\n\\bottomrule\n\\end{{tabular}}}}\n\\end{{papertable}}"
            )
        }
    }

    /// About how many characters wide a cell is.
    fn width(&self, inlines: &[Inline]) -> f64 {
        inlines
            .iter()
            .map(|inline| match inline {
                Inline::Text(words) | Inline::Code(words) => words.width() as f64,
                Inline::Strong(inside) | Inline::Emphasis(inside) => 1.05 * self.width(inside),
                Inline::Math(expr) => display::width(expr, self.style),
                Inline::Value(written) => written.plain(self.style.mark).width() as f64,
                Inline::Placeholder(name) => name.width() as f64 + 6.0,
                Inline::Break => 1.0,
            })
            .sum()
    }
}

/// The words of a head on lines no longer than `room` or the longest word; `None` where it is one word, or more
/// than words.
fn head_lines(head: &[Inline], room: f64) -> Option<Vec<String>> {
    let [Inline::Text(words)] = head else { return None };
    let words: Vec<&str> = words.split(' ').filter(|word| !word.is_empty()).collect();
    let longest = words.iter().map(|w| w.width()).max()?;
    let room = longest.max(room as usize).max(HEAD_LINE);
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        match lines.last_mut() {
            Some(line) if line.width() + 1 + word.width() <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    (lines.len() > 1).then_some(lines)
}

/// Outside text as LaTeX that prints it. Nothing in it can begin a command, a comment, mathematics, a group, an
/// alignment or an optional argument; its braces are balanced; it has no line break.
pub(super) fn escape(text: &str) -> String {
    escape_in(text, Within::Text)
}

fn escape_in(text: &str, within: Within) -> String {
    let long = if within == Within::Cell {
        LONG_WORD_OF_CELL
    } else {
        LONG_WORD
    };
    let mut out = String::with_capacity(text.len() + 8);
    let text = super::composed(text);
    let mut chars = text.chars().peekable();
    let mut previous = '\0';
    let mut word = 0_usize;
    while let Some(c) = chars.next() {
        if word >= long {
            out.push_str("\\allowbreak{}");
            word -= LONG_WORD_STEP;
            previous = '\0';
        }
        // `--`, ``''``, `,,`, `<<` and `>>` would join into one sign.
        if c == previous && matches!(c, '-' | '\'' | ',' | '<' | '>') {
            out.push_str("{}");
        }
        previous = c;
        word = if c.is_whitespace() || c == '-' {
            0
        } else {
            word + 1
        };

        let mut marks = Vec::new();
        while let Some(mark) = chars.next_if(|m| canonical_combining_class(*m) != 0) {
            marks.push(mark);
        }
        if marks.is_empty() {
            if let Some(digit) = raised(c) {
                let digits = run(digit, &mut chars, raised);
                out.push_str(&format!("\\ensuremath{{^{{{digits}}}}}"));
                continue;
            }
            if let Some(digit) = lowered(c) {
                let digits = run(digit, &mut chars, lowered);
                out.push_str(&format!("\\ensuremath{{_{{{digits}}}}}"));
                continue;
            }
            if plain(c, &mut out) {
                continue;
            }
        }
        // A letter with marks that has no code of its own in the font.
        let mut base = c;
        let mut all: Vec<char> = Vec::new();
        if !c.is_ascii() {
            let mut parts = std::iter::once(c).nfd();
            base = parts.next().unwrap_or(c);
            all.extend(parts);
        }
        all.append(&mut marks);
        accented(base, &all, &mut out);
    }
    out
}

fn run<I: Iterator<Item = char>>(
    first: char,
    chars: &mut std::iter::Peekable<I>,
    of: impl Fn(char) -> Option<char>,
) -> String {
    let mut digits = String::from(first);
    while let Some(next) = chars.next_if(|c| of(*c).is_some()) {
        digits.extend(of(next));
    }
    digits
}

/// A letter under its marks; marks that the font lacks are shown by their code.
fn accented(base: char, marks: &[char], out: &mut String) {
    let mut inner = String::new();
    if !plain(base, &mut inner) {
        code(base, &mut inner);
    }
    let mut rest = Vec::new();
    let (mut above, mut below) = (0, 0);
    if base.is_ascii_alphabetic() {
        let (over, under): (Vec<_>, Vec<_>) = marks
            .iter()
            .copied()
            .partition(|m| canonical_combining_class(*m) == 230);
        // Marks above come first: an accent can be set on a letter, but not on a letter with a box below it.
        for mark in over.into_iter().chain(under) {
            let count = if canonical_combining_class(mark) == 230 {
                &mut above
            } else {
                &mut below
            };
            match accent(mark) {
                Some(command) if *count < 2 => {
                    *count += 1;
                    inner = format!("{command}{{{inner}}}");
                }
                _ => rest.push(mark),
            }
        }
    } else {
        rest.extend(marks);
    }
    out.push_str(&inner);
    for mark in rest {
        code(mark, out);
    }
}

/// A character by its code, for what the fonts lack.
fn code(c: char, out: &mut String) {
    out.push_str(&format!("\\texttt{{[U+{:04X}]}}\\allowbreak{{}}", u32::from(c)));
}

fn accent(mark: char) -> Option<&'static str> {
    Some(match mark {
        '\u{300}' => "\\`",
        '\u{301}' => "\\'",
        '\u{302}' => "\\^",
        '\u{303}' => "\\~",
        '\u{304}' => "\\=",
        '\u{306}' => "\\u",
        '\u{307}' => "\\.",
        '\u{308}' => "\\\"",
        '\u{30a}' => "\\r",
        '\u{30b}' => "\\H",
        '\u{30c}' => "\\v",
        '\u{323}' => "\\d",
        '\u{327}' => "\\c",
        '\u{328}' => "\\k",
        '\u{331}' => "\\b",
        _ => return None,
    })
}

fn raised(c: char) -> Option<char> {
    Some(match c {
        '⁰' => '0',
        '¹' => '1',
        '²' => '2',
        '³' => '3',
        '⁴'..='⁹' => char::from_digit(u32::from(c) - 0x2070, 10)?,
        '⁺' => '+',
        '⁻' => '-',
        'ⁿ' => 'n',
        _ => return None,
    })
}

fn lowered(c: char) -> Option<char> {
    Some(match c {
        '₀'..='₉' => char::from_digit(u32::from(c) - 0x2080, 10)?,
        '₊' => '+',
        '₋' => '-',
        _ => return None,
    })
}

/// Writes a character that needs no accents built; `false` where the fonts lack it.
fn plain(c: char, out: &mut String) -> bool {
    let command = match c {
        // What TeX gives a meaning.
        '\\' => "\\textbackslash{}",
        '{' => "\\{",
        '}' => "\\}",
        '$' => "\\$",
        '&' => "\\&",
        '#' => "\\#",
        '%' => "\\%",
        '_' => "\\_\\allowbreak{}",
        '^' => "\\textasciicircum{}",
        '~' => "\\textasciitilde{}",
        '`' => "\\textasciigrave{}",
        '"' => "\\textquotedbl{}",
        // After `\\` these would be taken for its options.
        '[' => "{[}",
        ']' => "{]}",
        '*' => "{*}",
        // A long path or unit may break here.
        '/' => "/\\allowbreak{}",
        ' '..='~' => {
            out.push(c);
            return true;
        }
        '\t' | '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' | '\u{2028}' | '\u{2029}' => " ",
        '\u{2000}'..='\u{2006}' | '\u{2008}' | '\u{205f}' | '\u{3000}' => " ",
        '\u{a0}' | '\u{2007}' => "~",
        '\u{2009}' | '\u{200a}' | '\u{202f}' => "\\,",
        '\u{200b}' => "\\allowbreak{}",
        '\u{ad}' => "\\-",
        '\u{200c}' | '\u{200d}' | '\u{2060}' | '\u{feff}' => "{}",
        // Letters that the T1 encoding carries pass as they are.
        'À'..='Ö' | 'Ø'..='ö' | 'ø'..='ÿ' => {
            out.push(c);
            return true;
        }
        'Ā'..='ĥ' | 'Ĩ'..='ķ' | 'Ĺ'..='ľ' | 'Ł'..='ň' | 'Ŋ'..='ť' | 'Ũ'..='ž' | 'Ș'..='ț' => {
            out.push(c);
            return true;
        }
        '¡' => "\\textexclamdown{}",
        '¿' => "\\textquestiondown{}",
        '«' => "\\guillemotleft{}",
        '»' => "\\guillemotright{}",
        '‹' => "\\guilsinglleft{}",
        '›' => "\\guilsinglright{}",
        '‐' | '‑' => "-",
        '‒' | '–' => "\\textendash{}",
        '—' | '―' => "\\textemdash{}",
        '‘' => "\\textquoteleft{}",
        '’' => "\\textquoteright{}",
        '‚' => "\\quotesinglbase{}",
        '“' => "\\textquotedblleft{}",
        '”' => "\\textquotedblright{}",
        '„' => "\\quotedblbase{}",
        '…' => "\\textellipsis{}",
        '•' => "\\textbullet{}",
        '†' => "\\textdagger{}",
        '‡' => "\\textdaggerdbl{}",
        '§' => "\\textsection{}",
        '¶' => "\\textparagraph{}",
        '©' => "\\textcopyright{}",
        '®' => "\\textregistered{}",
        '™' => "\\texttrademark{}",
        '¢' => "\\textcent{}",
        '£' => "\\textsterling{}",
        '¥' => "\\textyen{}",
        '€' => "\\texteuro{}",
        'ª' => "\\textordfeminine{}",
        'º' => "\\textordmasculine{}",
        '¦' => "\\textbrokenbar{}",
        '¨' => "\\textasciidieresis{}",
        '¯' => "\\textasciimacron{}",
        '´' => "\\textasciiacute{}",
        '‰' => "\\textperthousand{}",
        '№' => "\\textnumero{}",
        '°' => "\\textdegree{}",
        '℃' => "\\textcelsius{}",
        '℉' => "\\textdegree{}F",
        'µ' => "\\textmu{}",
        'Ω' => "\\ensuremath{\\Omega}",
        '½' => "\\textonehalf{}",
        '¼' => "\\textonequarter{}",
        '¾' => "\\textthreequarters{}",
        '⅓' => "\\ensuremath{\\tfrac{1}{3}}",
        '⅔' => "\\ensuremath{\\tfrac{2}{3}}",
        '⅛' => "\\ensuremath{\\tfrac{1}{8}}",
        '⅜' => "\\ensuremath{\\tfrac{3}{8}}",
        '⅝' => "\\ensuremath{\\tfrac{5}{8}}",
        '⅞' => "\\ensuremath{\\tfrac{7}{8}}",
        'ﬀ' => "ff",
        'ﬁ' => "fi",
        'ﬂ' => "fl",
        'ȷ' => "\\j{}",
        'ẞ' => "\\SS{}",
        'ℓ' => "\\ensuremath{\\ell}",
        // Signs of mathematics.
        '±' => "\\ensuremath{\\pm}",
        '∓' => "\\ensuremath{\\mp}",
        '×' => "\\ensuremath{\\times}",
        '÷' => "\\ensuremath{\\div}",
        '·' | '⋅' | '∙' => "\\ensuremath{\\cdot}",
        '−' => "\\ensuremath{-}",
        '¬' => "\\ensuremath{\\lnot}",
        '√' => "\\ensuremath{\\surd}",
        '∞' => "\\ensuremath{\\infty}",
        '∂' => "\\ensuremath{\\partial}",
        '∑' => "\\ensuremath{\\sum}",
        '∏' => "\\ensuremath{\\prod}",
        '∫' => "\\ensuremath{\\int}",
        '≤' | '⩽' => "\\ensuremath{\\le}",
        '≥' | '⩾' => "\\ensuremath{\\ge}",
        '≠' => "\\ensuremath{\\ne}",
        '≈' => "\\ensuremath{\\approx}",
        '≡' => "\\ensuremath{\\equiv}",
        '∼' => "\\ensuremath{\\sim}",
        '≪' => "\\ensuremath{\\ll}",
        '≫' => "\\ensuremath{\\gg}",
        '∝' => "\\ensuremath{\\propto}",
        '∈' => "\\ensuremath{\\in}",
        '∥' | '‖' => "\\ensuremath{\\Vert}",
        '⊥' => "\\ensuremath{\\perp}",
        '∠' => "\\ensuremath{\\angle}",
        '′' => "\\ensuremath{'}",
        '″' => "\\ensuremath{''}",
        '←' => "\\ensuremath{\\leftarrow}",
        '→' => "\\ensuremath{\\rightarrow}",
        '↑' => "\\ensuremath{\\uparrow}",
        '↓' => "\\ensuremath{\\downarrow}",
        '↔' => "\\ensuremath{\\leftrightarrow}",
        '⇒' => "\\ensuremath{\\Rightarrow}",
        '∆' | 'Δ' => "\\ensuremath{\\Delta}",
        'Γ' => "\\ensuremath{\\Gamma}",
        'Θ' => "\\ensuremath{\\Theta}",
        'Λ' => "\\ensuremath{\\Lambda}",
        'Ξ' => "\\ensuremath{\\Xi}",
        'Π' => "\\ensuremath{\\Pi}",
        'Σ' => "\\ensuremath{\\Sigma}",
        'Υ' => "\\ensuremath{\\Upsilon}",
        'Φ' => "\\ensuremath{\\Phi}",
        'Ψ' => "\\ensuremath{\\Psi}",
        'Α' => "A",
        'Β' => "B",
        'Ε' => "E",
        'Ζ' => "Z",
        'Η' => "H",
        'Ι' => "I",
        'Κ' => "K",
        'Μ' => "M",
        'Ν' => "N",
        'Ο' => "O",
        'Ρ' => "P",
        'Τ' => "T",
        'Χ' => "X",
        'α' => "\\ensuremath{\\alpha}",
        'β' => "\\ensuremath{\\beta}",
        'γ' => "\\ensuremath{\\gamma}",
        'δ' => "\\ensuremath{\\delta}",
        'ε' => "\\ensuremath{\\varepsilon}",
        'ϵ' => "\\ensuremath{\\epsilon}",
        'ζ' => "\\ensuremath{\\zeta}",
        'η' => "\\ensuremath{\\eta}",
        'θ' | 'ϑ' => "\\ensuremath{\\theta}",
        'ι' => "\\ensuremath{\\iota}",
        'κ' => "\\ensuremath{\\kappa}",
        'λ' => "\\ensuremath{\\lambda}",
        'μ' => "\\ensuremath{\\mu}",
        'ν' => "\\ensuremath{\\nu}",
        'ξ' => "\\ensuremath{\\xi}",
        'ο' => "\\ensuremath{o}",
        'π' => "\\ensuremath{\\pi}",
        'ρ' => "\\ensuremath{\\rho}",
        'ς' => "\\ensuremath{\\varsigma}",
        'σ' => "\\ensuremath{\\sigma}",
        'τ' => "\\ensuremath{\\tau}",
        'υ' => "\\ensuremath{\\upsilon}",
        'φ' => "\\ensuremath{\\varphi}",
        'ϕ' => "\\ensuremath{\\phi}",
        'χ' => "\\ensuremath{\\chi}",
        'ψ' => "\\ensuremath{\\psi}",
        'ω' => "\\ensuremath{\\omega}",
        _ => return false,
    };
    out.push_str(command);
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Commands that escaping may write; all others would come from the text.
    const OURS: &[&str] = &[
        "textbackslash",
        "allowbreak",
        "textasciicircum",
        "textasciitilde",
        "textasciigrave",
        "textquotedbl",
        "textexclamdown",
        "textquestiondown",
        "guillemotleft",
        "guillemotright",
        "guilsinglleft",
        "guilsinglright",
        "textendash",
        "textemdash",
        "textquoteleft",
        "textquoteright",
        "quotesinglbase",
        "textquotedblleft",
        "textquotedblright",
        "quotedblbase",
        "textellipsis",
        "textbullet",
        "textdagger",
        "textdaggerdbl",
        "textsection",
        "textparagraph",
        "textcopyright",
        "textregistered",
        "texttrademark",
        "textcent",
        "textsterling",
        "textyen",
        "texteuro",
        "textordfeminine",
        "textordmasculine",
        "textbrokenbar",
        "textasciidieresis",
        "textasciimacron",
        "textasciiacute",
        "textperthousand",
        "textnumero",
        "textdegree",
        "textcelsius",
        "textmu",
        "textonehalf",
        "textonequarter",
        "textthreequarters",
        "texttt",
        "ensuremath",
        "u",
        "r",
        "H",
        "v",
        "d",
        "c",
        "k",
        "b",
        "i",
        "j",
        "SS",
    ];

    /// What a text may do to TeX: the commands it holds outside our `\ensuremath`, its depth of groups at the
    /// end, and characters with a meaning that stand bare.
    fn look(latex: &str) -> (Vec<String>, i32, Vec<char>) {
        let (mut commands, mut depth, mut bare) = (Vec::new(), 0, Vec::new());
        let mut maths_until = None;
        let mut rest = latex.chars().peekable();
        while let Some(c) = rest.next() {
            match c {
                '\\' => {
                    let mut name = String::new();
                    while let Some(n) = rest.next_if(char::is_ascii_alphabetic) {
                        name.push(n);
                    }
                    if name.is_empty() {
                        let sign = rest
                            .next()
                            .expect("a backslash at the end would take what follows");
                        assert!("{}$&#%_`'^~=.\",-".contains(sign), "\\{sign} in {latex}");
                    } else if name == "ensuremath" {
                        maths_until = Some(depth);
                    } else if maths_until.is_none() {
                        commands.push(name);
                    }
                }
                '{' => depth += 1,
                '}' => {
                    depth -= 1;
                    assert!(depth >= 0, "a group is closed that was not opened: {latex}");
                    if maths_until == Some(depth) {
                        maths_until = None;
                    }
                }
                '^' | '_' if maths_until.is_some() => {}
                '~' => {}
                '$' | '&' | '#' | '%' | '^' | '_' => bare.push(c),
                c if c.is_control() => bare.push(c),
                _ => {}
            }
        }
        (commands, depth, bare)
    }

    fn harmless(text: &str) {
        let latex = escape(text);
        let (commands, depth, bare) = look(&latex);
        assert_eq!(depth, 0, "{text:?} -> {latex}");
        assert!(bare.is_empty(), "{text:?} -> {latex}: {bare:?}");
        for command in commands {
            assert!(
                OURS.contains(&command.as_str()),
                "{text:?} -> {latex}: \\{command}"
            );
        }
    }

    #[test]
    fn hostile_text_prints_and_does_nothing_else() {
        assert_eq!(
            escape(r"\input{/etc/passwd}"),
            r"\textbackslash{}input\{/\allowbreak{}etc/\allowbreak{}passwd\}"
        );
        assert_eq!(
            escape("50% of A_1 & $x$ #3"),
            r"50\% of A\_\allowbreak{}1 \& \$x\$ \#3"
        );
        assert_eq!(
            escape("^^41 ~"),
            r"\textasciicircum{}\textasciicircum{}41 \textasciitilde{}"
        );
        assert_eq!(escape("[2pt] *"), "{[}2pt{]} {*}");
        assert_eq!(escape("--, ,, '' <<"), "-{}-, ,{}, '{}' <{}<");
        assert_eq!(
            escape("a\nb\u{0}\u{7}"),
            "a b\\texttt{[U+0000]}\\allowbreak{}\\texttt{[U+0007]}\\allowbreak{}"
        );
    }

    #[test]
    fn common_signs_print_as_themselves() {
        assert_eq!(
            escape("m³/s, 20 °C, µ, ≥, –"),
            r"m\ensuremath{^{3}}/\allowbreak{}s, 20 \textdegree{}C, \textmu{}, \ensuremath{\ge}, \textendash{}"
        );
        assert_eq!(escape("1.6×10⁻³"), r"1.6\ensuremath{\times}10\ensuremath{^{-3}}");
        assert_eq!(
            escape("Zoë Łukasz Đặng ǆ"),
            r"Zoë Łukasz Đ\d{\u{a}}ng \texttt{[U+01C6]}\allowbreak{}"
        );
        assert_eq!(escape("王"), r"\texttt{[U+738B]}\allowbreak{}");
        // Decomposed letters are joined first.
        assert_eq!(escape("e\u{301}"), "é");
    }

    #[test]
    fn words_too_long_for_a_line_may_break() {
        assert!(escape(&"x".repeat(100)).matches("\\allowbreak{}").count() >= 15);
    }

    #[test]
    fn lists_nested_too_deep_for_latex_become_paragraphs() {
        let mut blocks = vec![Block::Paragraph(vec![Inline::Text("deep".to_owned())])];
        for _ in 0..6 {
            blocks = vec![Block::List {
                ordered: true,
                items: vec![blocks],
            }];
        }
        let figures = Figures::new("figure");
        let latex = Latex {
            style: Style::default(),
            room: Room::PAGE,
            figures: &figures,
        }
        .blocks(&blocks);
        assert_eq!(latex.matches("\\begin{enumerate}").count(), 3);
        assert!(latex.contains("deep"));
    }

    #[test]
    fn a_break_never_stands_where_latex_refuses_it() {
        let of = |inlines: &[Inline]| {
            Latex {
                style: Style::default(),
                room: Room::PAGE,
                figures: &Figures::new("figure"),
            }
            .inlines(inlines)
        };
        let word = || Inline::Text("a".to_owned());
        assert_eq!(of(&[Inline::Break, word(), Inline::Break]), "\\leavevmode\\\\\na");
        assert_eq!(of(&[Inline::Break]), "");
        assert_eq!(of(&[word(), Inline::Break, word()]), "a\\\\\na");
    }

    #[test]
    fn no_page_begins_with_a_tables_last_two_rows_alone() {
        let figures = Figures::new("figure");
        let latex = Latex {
            style: Style::default(),
            room: Room::PAGE,
            figures: &figures,
        };
        let of = |rows: usize| {
            latex.table(&Table {
                head: vec![vec![Inline::Text("n".to_owned())]],
                numeric: vec![true],
                rows: (0..rows)
                    .map(|n| vec![vec![Inline::Text(n.to_string())]])
                    .collect(),
            })
        };
        assert!(!of(ROWS_KEPT).contains("longtable"), "a short table stays whole");
        let long = of(26);
        for (row, end) in [
            (0, "\\\\*\n"),
            (1, "\\\\\n"),
            (22, "\\\\\n"),
            (23, "\\\\*\n"),
            (24, "\\\\*\n"),
            (25, "\\\\\n"),
        ] {
            assert!(long.contains(&format!("\n{row} {end}")), "{row} in {long}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_harmless(text in "\\PC*|[\\\\{}$&#%_^~\\[\\]<>,'`\" a-z-]*") {
            harmless(&text);
        }

        #[test]
        fn any_characters_are_harmless(chars in proptest::collection::vec(any::<char>(), 0..60)) {
            harmless(&chars.into_iter().collect::<String>());
        }
    }
}
