//! Rich text: what bank texts, worked solutions and papers are made of.
//!
//! One tree for all formats; each format's writer is in `handout`. Authors write it as Markdown with
//! `$…$` mathematics and `{{ given }}` placeholders.

use crate::equation::{Bindings, EquationError, Expr, Line, is_name};
use crate::quantity::Written;
use pulldown_cmark::{Alignment, Event, Options, Parser, Tag};
use std::collections::BTreeMap;
use std::ops::Range;

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
    /// A drawing.
    Figure(Figure),
}

/// A drawing with words for those who don't see it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Figure {
    /// The drawing, a whole SVG document.
    pub svg: String,
    /// What stands under it; nothing where empty.
    pub title: String,
    /// What it shows.
    pub description: String,
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

/// Largest text that is read, in bytes.
const LONGEST: usize = 65_536;
/// Deepest nesting of lists, tables and emphasis.
const DEEPEST: usize = 16;
/// Most pieces of mathematics and placeholders in one text.
const MOST_PIECES: usize = 5000;
/// First of the private characters that stand for pieces while Markdown is read.
const FIRST_STAND_IN: u32 = 0xF_0000;

/// Reads Markdown (paragraphs, headings, lists, tables, remarks as quotations, strong, emphasis, code)
/// with `$…$`, `$$…$$` and `{{ name }}`. Raw HTML, links, images and footnotes are refused. A dollar sign
/// is written `\$`.
///
/// # Errors
/// Everything that is wrong.
pub fn parse(markdown: &str) -> Result<Vec<Block>, Vec<ProseError>> {
    if markdown.len() > LONGEST {
        return Err(vec![ProseError {
            what: format!(
                "the text is {} bytes long; at most {LONGEST} are read",
                markdown.len()
            ),
            offset: 0,
            mend: Some("split or shorten it".to_owned()),
        }]);
    }
    let mut errors = Vec::new();
    let source = Source::read(markdown, &mut errors);
    let blocks = Builder::build(&source, &mut errors);
    if errors.is_empty() {
        Ok(blocks)
    } else {
        errors.sort_by_key(|e| e.offset);
        errors.dedup();
        Err(errors)
    }
}

/// A piece that Markdown must not touch.
#[derive(Debug, Clone)]
struct Piece {
    kind: PieceKind,
    /// Its bytes in the author's text.
    old: Range<usize>,
    /// Where its stand-in begins in the text that Markdown reads.
    new: usize,
}

#[derive(Debug, Clone)]
enum PieceKind {
    Inline(Expr),
    Display(Expr),
    Placeholder(String),
    /// Was refused; an error says so.
    Refused,
}

/// The author's text with a single private character for each piece of mathematics and each placeholder.
struct Source<'a> {
    old: &'a str,
    new: String,
    pieces: Vec<Piece>,
}

impl<'a> Source<'a> {
    fn read(old: &'a str, errors: &mut Vec<ProseError>) -> Self {
        let mut source = Self {
            old,
            new: String::with_capacity(old.len()),
            pieces: Vec::new(),
        };
        let ticks = Ticks::of(old);
        let mut at = 0;
        while let Some(c) = old[at..].chars().next() {
            let rest = &old[at..];
            let mut take = c.len_utf8();
            match c {
                '\\' => {
                    // Whatever is escaped is no piece; Markdown deals with the backslash.
                    take += rest[1..].chars().next().map_or(0, char::len_utf8);
                    source.new.push_str(&rest[..take]);
                }
                '`' => {
                    take = ticks.code_span(at);
                    if rest[..take].contains("\n\n") {
                        take = rest.len() - rest.trim_start_matches('`').len();
                    }
                    source.new.push_str(&rest[..take]);
                }
                '$' => take = source.mathematics(at, errors),
                '{' if rest.starts_with("{{") => take = source.placeholder(at, errors),
                c if is_foreign(c) => {
                    errors.push(ProseError {
                        what: format!("the character `{}` has no place in a text", c.escape_unicode()),
                        offset: at,
                        mend: Some("leave it out".to_owned()),
                    });
                    source.new.push(' ');
                }
                c => source.new.push(c),
            }
            at += take;
            if source.pieces.len() > MOST_PIECES {
                errors.push(ProseError {
                    what: format!("the text has more than {MOST_PIECES} formulas and placeholders"),
                    offset: at,
                    mend: Some("split it".to_owned()),
                });
                break;
            }
        }
        source
    }

    fn put(&mut self, kind: PieceKind, old: Range<usize>) {
        let index = u32::try_from(self.pieces.len()).unwrap_or(u32::MAX);
        let stand_in = char::from_u32(FIRST_STAND_IN + index.min(0xFFFD)).unwrap_or(' ');
        self.pieces.push(Piece {
            kind,
            old,
            new: self.new.len(),
        });
        self.new.push(stand_in);
    }

    /// The piece that a private character stands for.
    fn piece(&self, c: char) -> Option<&Piece> {
        let index = u32::from(c).checked_sub(FIRST_STAND_IN)?;
        self.pieces.get(usize::try_from(index).ok()?)
    }

    /// An offset in the text that Markdown reads, as one in the author's.
    fn offset(&self, new: usize) -> usize {
        let before = self.pieces.partition_point(|p| p.new < new);
        match before.checked_sub(1).map(|i| &self.pieces[i]) {
            None => new,
            Some(piece) => {
                let behind = new.saturating_sub(piece.new + STAND_IN_BYTES);
                (piece.old.end + behind).min(self.old.len())
            }
        }
    }

    /// Text that Markdown gave back, as the author wrote it.
    fn restored(&self, text: &str) -> String {
        let mut out = String::with_capacity(text.len());
        for c in text.chars() {
            match self.piece(c) {
                Some(piece) => out.push_str(&self.old[piece.old.clone()]),
                None => out.push(c),
            }
        }
        out
    }

    /// Reads `$…$` or `$$…$$` at `at`; gives the bytes taken.
    fn mathematics(&mut self, at: usize, errors: &mut Vec<ProseError>) -> usize {
        let rest = &self.old[at..];
        let display = rest.starts_with("$$");
        let fence = if display { "$$" } else { "$" };
        let inside = &rest[fence.len()..];
        let refuse = |what: &str, mend: &str, errors: &mut Vec<ProseError>| {
            errors.push(ProseError {
                what: what.to_owned(),
                offset: at,
                mend: Some(mend.to_owned()),
            });
        };
        let paragraph = paragraph_end(inside);
        let Some(len) = closing(&inside[..paragraph], fence) else {
            refuse(
                &format!("this `{fence}` opens mathematics that is not closed in its paragraph"),
                "close it, or write `\\$` for a dollar sign",
                errors,
            );
            self.put(PieceKind::Refused, at..at + fence.len());
            return fence.len();
        };
        let body = &inside[..len];
        let taken = 2 * fence.len() + len;
        let blank_front = body.starts_with(char::is_whitespace);
        let blank_back = body.ends_with(char::is_whitespace);
        let digit_behind = inside[len + 1..].starts_with(|c: char| c.is_ascii_digit());
        if body.trim().is_empty() {
            refuse(
                "there is no mathematics between the dollar signs",
                "write some, or `\\$` for a dollar sign",
                errors,
            );
            self.put(PieceKind::Refused, at..at + taken);
            return taken;
        }
        if !display && (blank_front || blank_back || digit_behind) {
            refuse(
                "a dollar sign that does not enclose mathematics",
                "write `\\$` for a dollar sign; mathematics has no blank just inside its `$`, and no digit just behind",
                errors,
            );
            // With blanks at both ends it was meant to be mathematics; otherwise the second sign may be
            // the beginning of something else.
            let taken = if blank_front && blank_back { taken } else { 1 };
            self.put(PieceKind::Refused, at..at + taken);
            return taken;
        }
        let kind = match Expr::parse_math(body) {
            Ok(expr) if display => PieceKind::Display(expr),
            Ok(expr) => PieceKind::Inline(expr),
            Err(error) => {
                let inner = error.span.map_or(0, |span| span.start);
                errors.push(ProseError {
                    what: error.what,
                    offset: at + fence.len() + inner,
                    mend: error.mend,
                });
                PieceKind::Refused
            }
        };
        self.put(kind, at..at + taken);
        taken
    }

    /// Reads `{{ name }}` at `at`; gives the bytes taken.
    fn placeholder(&mut self, at: usize, errors: &mut Vec<ProseError>) -> usize {
        let inside = &self.old[at + 2..];
        let line = inside.split_once('\n').map_or(inside, |(line, _)| line);
        let found = line.split_once("}}").map(|(name, _)| name);
        if let Some(name) = found
            && is_name(name.trim())
        {
            let taken = 4 + name.len();
            self.put(PieceKind::Placeholder(name.trim().to_owned()), at..at + taken);
            return taken;
        }
        errors.push(ProseError {
            what: "`{{` opens a placeholder that is not a name and `}}`".to_owned(),
            offset: at,
            mend: Some("write `{{ name }}` with the name of a given, or `\\{` for a brace".to_owned()),
        });
        self.put(PieceKind::Refused, at..at + 2);
        2
    }
}

/// Bytes of a stand-in: all are beyond the basic plane.
const STAND_IN_BYTES: usize = 4;

/// Whether a character is one that no text needs: controls, and what our stand-ins are made of.
fn is_foreign(c: char) -> bool {
    (c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{e000}'..='\u{f8ff}')
        || u32::from(c) >= FIRST_STAND_IN
}

/// Where the paragraph that `text` begins in ends: at the first blank line.
fn paragraph_end(text: &str) -> usize {
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if at > 0 && line.trim().is_empty() {
            return at;
        }
        at += line.len();
    }
    text.len()
}

/// Where the dollar signs that close begin; one behind a backslash closes nothing.
fn closing(text: &str, fence: &str) -> Option<usize> {
    let mut escaped = false;
    for (i, c) in text.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '$' if text[i..].starts_with(fence) => return Some(i),
            _ => {}
        }
    }
    None
}

/// Runs of backticks, so that what is between two equal ones stays code.
struct Ticks {
    /// Start and length of each run, in order.
    runs: Vec<(usize, usize)>,
    /// For each run the next one of the same length.
    partner: Vec<Option<usize>>,
}

impl Ticks {
    fn of(text: &str) -> Self {
        let mut runs: Vec<(usize, usize)> = Vec::new();
        for (i, byte) in text.bytes().enumerate() {
            if byte != b'`' {
                continue;
            }
            match runs.last_mut() {
                Some((start, len)) if *start + *len == i => *len += 1,
                _ => runs.push((i, 1)),
            }
        }
        let mut partner = vec![None; runs.len()];
        let mut later: BTreeMap<usize, usize> = BTreeMap::new();
        for (i, (_, len)) in runs.iter().enumerate().rev() {
            partner[i] = later.insert(*len, i);
        }
        Self { runs, partner }
    }

    /// Bytes of the code that begins at `at`, or of the backticks alone where nothing closes them.
    fn code_span(&self, at: usize) -> usize {
        let Ok(run) = self.runs.binary_search_by_key(&at, |r| r.0) else {
            // The first backtick of the run was escaped.
            return 1;
        };
        match self.partner[run].map(|p| self.runs[p]) {
            Some((start, len)) => start + len - at,
            None => self.runs[run].1,
        }
    }
}

/// What is open while Markdown's events come in.
enum Open {
    Paragraph,
    Heading(u8),
    Strong,
    Emphasis,
    List(bool, Vec<Vec<Block>>),
    Item,
    Quotation,
    Table(Table),
    Row(Vec<Vec<Inline>>),
    Cell,
    /// Refused; its contents are dropped.
    Refused,
}

struct Level {
    open: Open,
    blocks: Vec<Block>,
    inlines: Vec<Inline>,
}

struct Builder<'a, 'e> {
    source: &'a Source<'a>,
    errors: &'e mut Vec<ProseError>,
    levels: Vec<Level>,
}

impl<'a, 'e> Builder<'a, 'e> {
    fn build(source: &'a Source<'a>, errors: &'e mut Vec<ProseError>) -> Vec<Block> {
        let options = Options::ENABLE_TABLES | Options::ENABLE_FOOTNOTES;
        let parser = Parser::new_ext(&source.new, options);
        let mut builder = Self {
            source,
            errors,
            levels: vec![Level {
                open: Open::Item,
                blocks: Vec::new(),
                inlines: Vec::new(),
            }],
        };
        let definitions: Vec<usize> = parser
            .reference_definitions()
            .iter()
            .map(|(_, d)| d.span.start)
            .collect();
        for at in definitions {
            builder.refuse(
                at,
                "a link's address",
                "texts on paper have no links: leave it out",
            );
        }
        for (event, range) in parser.into_offset_iter() {
            if builder.levels.len() > DEEPEST {
                builder.errors.push(ProseError {
                    what: format!("the text is nested more than {DEEPEST} deep"),
                    offset: source.offset(range.start),
                    mend: Some("take away lists within lists".to_owned()),
                });
                return Vec::new();
            }
            builder.event(event, range.start);
        }
        builder.flush();
        builder.levels.pop().map_or_else(Vec::new, |level| level.blocks)
    }

    fn refuse(&mut self, at: usize, what: &str, mend: &str) {
        self.errors.push(ProseError {
            what: format!("{what} is refused here"),
            offset: self.source.offset(at),
            mend: Some(mend.to_owned()),
        });
    }

    fn top(&mut self) -> &mut Level {
        if self.levels.is_empty() {
            self.push(Open::Item);
        }
        let last = self.levels.len() - 1;
        &mut self.levels[last]
    }

    fn push(&mut self, open: Open) {
        self.levels.push(Level {
            open,
            blocks: Vec::new(),
            inlines: Vec::new(),
        });
    }

    fn inline(&mut self, inline: Inline) {
        let inlines = &mut self.top().inlines;
        match (inlines.last_mut(), inline) {
            (Some(Inline::Text(before)), Inline::Text(more)) => before.push_str(&more),
            (_, inline) => inlines.push(inline),
        }
    }

    /// Text that stands loose in a tight list's item becomes a paragraph.
    fn flush(&mut self) {
        let level = self.top();
        let inlines = trimmed(std::mem::take(&mut level.inlines));
        if !inlines.is_empty() {
            level.blocks.push(Block::Paragraph(inlines));
        }
    }

    fn event(&mut self, event: Event<'_>, at: usize) {
        match event {
            Event::Start(tag) => self.start(tag, at),
            Event::End(_) => self.end(at),
            Event::Text(words) => {
                self.check_left_over(&words, at);
                self.words(&words, at);
            }
            Event::Code(code) => {
                let code = self.source.restored(&code);
                self.inline(Inline::Code(code));
            }
            Event::SoftBreak => self.inline(text(" ")),
            Event::HardBreak => self.inline(Inline::Break),
            Event::Html(_) | Event::InlineHtml(_) => {
                self.refuse(at, "raw HTML", "write Markdown; for the sign itself write `\\<`")
            }
            Event::Rule => self.refuse(at, "a line across the page", "leave it out, or use a heading"),
            Event::FootnoteReference(_) => self.refuse(at, "a footnote", "put its words into the text"),
            Event::TaskListMarker(_) => self.refuse(at, "a box to tick", "leave it out"),
            Event::InlineMath(_) | Event::DisplayMath(_) => {
                self.refuse(at, "this mathematics", "write it between `$` and `$`");
            }
        }
    }

    /// A backtick that closes nothing can hide dollar signs and braces from the first reading; they may
    /// not reach a paper as they stand.
    fn check_left_over(&mut self, words: &str, at: usize) {
        let new = self.source.new.as_str();
        if !new[at..].starts_with(words) {
            // Words made from an entity such as `&#36;`.
            return;
        }
        for sign in ["$", "{{"] {
            for (i, _) in words.match_indices(sign) {
                if !new[..at + i].ends_with('\\') {
                    self.errors.push(ProseError {
                        what: format!("`{sign}` stands between backticks that do not enclose code"),
                        offset: self.source.offset(at + i),
                        mend: Some("close every backtick within its paragraph, or write `\\``".to_owned()),
                    });
                    return;
                }
            }
        }
    }

    fn start(&mut self, tag: Tag<'_>, at: usize) {
        if matches!(
            tag,
            Tag::Paragraph | Tag::Heading { .. } | Tag::List(_) | Tag::BlockQuote(_) | Tag::Table(_)
        ) {
            self.flush();
        }
        let in_quotation = self.levels.iter().any(|l| matches!(l.open, Open::Quotation));
        let open = match tag {
            Tag::Paragraph => Open::Paragraph,
            Tag::Strong => Open::Strong,
            Tag::Emphasis => Open::Emphasis,
            Tag::Item => Open::Item,
            Tag::TableHead | Tag::TableRow => Open::Row(Vec::new()),
            Tag::TableCell => Open::Cell,
            Tag::Heading { .. } | Tag::List(_) | Tag::Table(_) | Tag::BlockQuote(_) if in_quotation => {
                self.refuse(
                    at,
                    "anything but a paragraph in a remark",
                    "take it out of the lines that begin with `>`",
                );
                Open::Refused
            }
            Tag::Heading { level, .. } => Open::Heading(level as u8),
            Tag::List(first) => {
                if first.is_some_and(|n| n != 1) {
                    self.refuse(
                        at,
                        "a numbered list that does not begin with 1",
                        "number it from 1",
                    );
                }
                Open::List(first.is_some(), Vec::new())
            }
            Tag::BlockQuote(_) => Open::Quotation,
            Tag::Table(columns) => Open::Table(Table {
                numeric: columns.iter().map(|a| *a == Alignment::Right).collect(),
                ..Table::default()
            }),
            Tag::CodeBlock(_) => {
                self.refuse(
                    at,
                    "a block of code",
                    "indent by fewer than four blanks; for a few words of code use backticks",
                );
                Open::Refused
            }
            Tag::HtmlBlock => Open::Refused,
            Tag::Link { .. } => {
                self.refuse(
                    at,
                    "a link",
                    "texts on paper have no links: write the words alone",
                );
                Open::Refused
            }
            Tag::Image { .. } => {
                self.refuse(at, "an image", "leave it out");
                Open::Refused
            }
            Tag::FootnoteDefinition(_) => {
                self.refuse(at, "a footnote", "put its words into the text");
                Open::Refused
            }
            _ => {
                self.refuse(
                    at,
                    "this piece of Markdown",
                    "use paragraphs, headings, lists, tables and emphasis",
                );
                Open::Refused
            }
        };
        if matches!(open, Open::Refused) {
            self.flush();
        }
        self.push(open);
    }

    fn end(&mut self, at: usize) {
        if self.levels.len() < 2 {
            return;
        }
        if matches!(self.top().open, Open::Item | Open::Paragraph | Open::Quotation) {
            self.flush();
        }
        let Some(level) = self.levels.pop() else { return };
        let Level {
            open,
            blocks,
            inlines,
        } = level;
        match open {
            Open::Paragraph => self.top().blocks.extend(blocks),
            Open::Heading(size) => {
                let heading = Block::Heading(size, trimmed(inlines));
                self.top().blocks.push(heading);
            }
            Open::Strong => self.inline(Inline::Strong(inlines)),
            Open::Emphasis => self.inline(Inline::Emphasis(inlines)),
            Open::List(ordered, items) => self.top().blocks.push(Block::List { ordered, items }),
            Open::Item => {
                if let Open::List(_, items) = &mut self.top().open {
                    items.push(blocks);
                }
            }
            Open::Quotation => {
                let mut words = Vec::new();
                for block in blocks {
                    match block {
                        Block::Paragraph(inlines) => {
                            if !words.is_empty() {
                                words.push(Inline::Break);
                            }
                            words.extend(inlines);
                        }
                        _ => self.refuse(
                            at,
                            "a displayed equation in a remark",
                            "write it between single dollar signs",
                        ),
                    }
                }
                self.top().blocks.push(Block::Note(words));
            }
            Open::Table(table) => self.top().blocks.push(Block::Table(table)),
            Open::Row(cells) => {
                if let Open::Table(table) = &mut self.top().open {
                    if table.head.is_empty() {
                        table.head = cells;
                    } else {
                        let mut cells = cells;
                        cells.resize(table.head.len(), Vec::new());
                        table.rows.push(cells);
                    }
                }
            }
            Open::Cell => {
                if let Open::Row(cells) = &mut self.top().open {
                    cells.push(trimmed(inlines));
                }
            }
            Open::Refused => {}
        }
    }

    fn words(&mut self, words: &str, at: usize) {
        let mut plain = String::new();
        for (i, c) in words.char_indices() {
            let Some(piece) = self.source.piece(c).cloned() else {
                plain.push(c);
                continue;
            };
            if !plain.is_empty() {
                let before = std::mem::take(&mut plain);
                self.inline(Inline::Text(before));
            }
            match piece.kind {
                PieceKind::Inline(expr) => self.inline(Inline::Math(expr)),
                PieceKind::Placeholder(name) => self.inline(Inline::Placeholder(name)),
                PieceKind::Display(expr) => self.display(expr, at + i),
                PieceKind::Refused => {}
            }
        }
        if !plain.is_empty() {
            self.inline(Inline::Text(plain));
        }
    }

    /// A displayed equation ends the paragraph that it stands in; a new one begins behind it.
    fn display(&mut self, expr: Expr, at: usize) {
        if !matches!(self.top().open, Open::Paragraph | Open::Item | Open::Refused) {
            self.refuse(
                at,
                "a displayed equation in a heading, a table or emphasised words",
                "write it between single dollar signs",
            );
            return;
        }
        self.flush();
        let line = Line::single(expr);
        match self.top().blocks.last_mut() {
            // Displays with nothing between them stand under one another.
            Some(Block::Equation(lines)) => lines.push(line),
            _ => self.top().blocks.push(Block::Equation(vec![line])),
        }
    }
}

/// The same words without blanks and line breaks at both ends.
fn trimmed(mut inlines: Vec<Inline>) -> Vec<Inline> {
    loop {
        match inlines.last_mut() {
            Some(Inline::Break) => {
                inlines.pop();
            }
            Some(Inline::Text(words)) => {
                let len = words.trim_end().len();
                if len > 0 {
                    words.truncate(len);
                    break;
                }
                inlines.pop();
            }
            _ => break,
        }
    }
    let mut blank = 0;
    for inline in &mut inlines {
        match inline {
            Inline::Break => blank += 1,
            Inline::Text(words) => {
                *words = words.trim_start().to_owned();
                if words.is_empty() {
                    blank += 1;
                } else {
                    break;
                }
            }
            _ => break,
        }
    }
    inlines.drain(..blank);
    inlines
}

/// Every placeholder's name, in order of appearance, inside mathematics too; one that appears twice is
/// listed twice.
pub fn placeholders(blocks: &[Block]) -> Vec<String> {
    let mut names = Vec::new();
    for block in blocks {
        match block {
            Block::Heading(_, inlines) | Block::Paragraph(inlines) | Block::Note(inlines) => {
                names.extend(placeholders_of_words(inlines));
            }
            Block::Equation(lines) => {
                for line in lines {
                    names.extend(line.first.placeholders());
                    names.extend(line.rest.iter().flat_map(|(_, expr)| expr.placeholders()));
                }
            }
            Block::List { items, .. } => names.extend(items.iter().flat_map(|item| placeholders(item))),
            Block::Table(table) => {
                for cell in table.head.iter().chain(table.rows.iter().flatten()) {
                    names.extend(placeholders_of_words(cell));
                }
            }
            Block::Figure(_) => {}
        }
    }
    names
}

/// The same for running text.
pub fn placeholders_of_words(inlines: &[Inline]) -> Vec<String> {
    let mut names = Vec::new();
    for inline in inlines {
        match inline {
            Inline::Placeholder(name) => names.push(name.clone()),
            Inline::Math(expr) => names.extend(expr.placeholders()),
            Inline::Strong(inside) | Inline::Emphasis(inside) => names.extend(placeholders_of_words(inside)),
            Inline::Text(_) | Inline::Code(_) | Inline::Value(_) | Inline::Break => {}
        }
    }
    names
}

/// The same text with its placeholders filled.
///
/// # Errors
/// A placeholder that `of` does not bind.
pub fn fill(blocks: &[Block], of: &Bindings) -> Result<Vec<Block>, EquationError> {
    blocks
        .iter()
        .map(|block| {
            Ok(match block {
                Block::Heading(size, inlines) => Block::Heading(*size, fill_words(inlines, of)?),
                Block::Paragraph(inlines) => Block::Paragraph(fill_words(inlines, of)?),
                Block::Note(inlines) => Block::Note(fill_words(inlines, of)?),
                Block::Figure(figure) => Block::Figure(figure.clone()),
                Block::Equation(lines) => Block::Equation(
                    lines
                        .iter()
                        .map(|line| line.filled(of))
                        .collect::<Result<_, _>>()?,
                ),
                Block::List { ordered, items } => Block::List {
                    ordered: *ordered,
                    items: items
                        .iter()
                        .map(|item| fill(item, of))
                        .collect::<Result<_, _>>()?,
                },
                Block::Table(table) => {
                    let cells = |row: &[Vec<Inline>]| {
                        row.iter()
                            .map(|cell| fill_words(cell, of))
                            .collect::<Result<Vec<_>, _>>()
                    };
                    Block::Table(Table {
                        head: cells(&table.head)?,
                        numeric: table.numeric.clone(),
                        rows: table
                            .rows
                            .iter()
                            .map(|row| cells(row))
                            .collect::<Result<_, _>>()?,
                    })
                }
            })
        })
        .collect()
}

/// The same for running text.
///
/// # Errors
/// A placeholder that `of` does not bind.
pub fn fill_words(inlines: &[Inline], of: &Bindings) -> Result<Vec<Inline>, EquationError> {
    inlines
        .iter()
        .map(|inline| {
            Ok(match inline {
                Inline::Placeholder(name) => match of.get(name) {
                    Some(bound) => Inline::Value(bound.written.clone()),
                    None => {
                        return Err(EquationError::new(format!(
                            "the placeholder `{name}` stands for nothing"
                        ))
                        .mend("use the name of a given or a property of the fluid"));
                    }
                },
                Inline::Math(expr) => Inline::Math(expr.filled(of)?),
                Inline::Strong(inside) => Inline::Strong(fill_words(inside, of)?),
                Inline::Emphasis(inside) => Inline::Emphasis(fill_words(inside, of)?),
                Inline::Text(_) | Inline::Code(_) | Inline::Value(_) | Inline::Break => inline.clone(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equation::{Bound, Style};
    use std::time::{Duration, Instant};

    fn read(markdown: &str) -> Vec<Block> {
        match parse(markdown) {
            Ok(blocks) => blocks,
            Err(errors) => panic!("{markdown}: {errors:?}"),
        }
    }

    fn refused(markdown: &str) -> Vec<ProseError> {
        match parse(markdown) {
            Ok(blocks) => panic!("{markdown} was read as {blocks:?}"),
            Err(errors) => errors,
        }
    }

    fn placeholder(name: &str) -> Inline {
        Inline::Placeholder(name.to_owned())
    }

    fn maths(latex: &str) -> Inline {
        Inline::Math(Expr::parse_math(latex).unwrap())
    }

    #[test]
    fn paragraphs_hold_words_mathematics_and_placeholders() {
        let blocks = read(
            "Water at {{ T }} flows at\n$Q = {{ Q }}$ through a *new* and **rough** `pipe`.\\\nIt is _{{ L }}_ long.\n\nSecond $a_1*b_2*c$.",
        );
        assert_eq!(
            blocks,
            [
                Block::Paragraph(vec![
                    text("Water at "),
                    placeholder("T"),
                    text(" flows at "),
                    maths("Q = {{ Q }}"),
                    text(" through a "),
                    Inline::Emphasis(vec![text("new")]),
                    text(" and "),
                    Inline::Strong(vec![text("rough")]),
                    text(" "),
                    Inline::Code("pipe".to_owned()),
                    text("."),
                    Inline::Break,
                    text("It is "),
                    Inline::Emphasis(vec![placeholder("L")]),
                    text(" long."),
                ]),
                Block::Paragraph(vec![text("Second "), maths("a_1*b_2*c"), text(".")]),
            ]
        );
        assert_eq!(placeholders(&blocks), ["T", "Q", "L"]);
    }

    #[test]
    fn placeholders_are_filled_everywhere() {
        let blocks = read(
            "# Flow {{ a }}\n\n- **{{ b }}**\n\n> {{ c }}\n\n| h |\n|---|\n| ${{ d }}$ |\n\n$$x = {{ e }}$$",
        );
        assert_eq!(placeholders(&blocks), ["a", "b", "c", "d", "e"]);
        let mut of = Bindings::default();
        for name in ["a", "b", "c", "d"] {
            of.set(name, Bound::as_written(Written::parse("2.50 L/s").unwrap()));
        }
        let error = fill(&blocks, &of).unwrap_err();
        assert_eq!(error.what, "the placeholder `e` stands for nothing");
        of.set("e", Bound::as_written(Written::parse("0.0160").unwrap()));
        let filled = fill(&blocks, &of).unwrap();
        assert_eq!(placeholders(&filled), [""; 0]);
        let Some(Block::Equation(lines)) = filled.last() else {
            panic!("{filled:?}");
        };
        assert_eq!(lines[0].latex(Style::default()), "x=0.0160");
    }

    #[test]
    fn displays_stand_on_their_own() {
        assert_eq!(
            read("Then\n$$h = z$$\n$$k = 2$$\nholds.\n\n1. a\n2. $$x$$"),
            [
                Block::Paragraph(vec![text("Then")]),
                Block::Equation(vec![
                    Line::single(Expr::parse_math("h = z").unwrap()),
                    Line::single(Expr::parse_math("k = 2").unwrap())
                ]),
                Block::Paragraph(vec![text("holds.")]),
                Block::List {
                    ordered: true,
                    items: vec![
                        vec![Block::Paragraph(vec![text("a")])],
                        vec![Block::Equation(vec![Line::single(
                            Expr::parse_math("x").unwrap()
                        )])],
                    ]
                },
            ]
        );
    }

    #[test]
    fn tables_lists_headings_and_remarks_are_read() {
        assert_eq!(
            read(
                "## Pipes\n\n| pipe | bore |\n|:-----|-----:|\n| a | $|x|$ |\n| b |\n\n- one\n  - two\n\n> Mind\n> this.\n>\n> And that."
            ),
            [
                Block::Heading(2, vec![text("Pipes")]),
                Block::Table(Table {
                    head: vec![vec![text("pipe")], vec![text("bore")]],
                    numeric: vec![false, true],
                    rows: vec![
                        vec![vec![text("a")], vec![maths("|x|")]],
                        vec![vec![text("b")], vec![]],
                    ],
                }),
                Block::List {
                    ordered: false,
                    items: vec![vec![
                        Block::Paragraph(vec![text("one")]),
                        Block::List {
                            ordered: false,
                            items: vec![vec![Block::Paragraph(vec![text("two")])]],
                        }
                    ]],
                },
                Block::Note(vec![text("Mind this."), Inline::Break, text("And that.")]),
            ]
        );
    }

    #[test]
    fn signs_can_be_written_as_themselves() {
        assert_eq!(
            read("\\$5, \\{{ x }}, `$a$ {{ b }}`, a < b & c, &#36; \\<b>"),
            [Block::Paragraph(vec![
                text("$5, {{ x }}, "),
                Inline::Code("$a$ {{ b }}".to_owned()),
                text(", a < b & c, $ <b>"),
            ])]
        );
    }

    #[test]
    fn prices_are_no_mathematics() {
        for (markdown, offsets) in [
            ("It costs $5.", vec![9]),
            ("It costs $5 and $6 a day.", vec![9, 16]),
            ("From $5 to $6.", vec![5, 11]),
            ("$ x $ and $y$", vec![0]),
            ("a\n$x\n\ny$ b", vec![2, 7]),
        ] {
            let errors = refused(markdown);
            assert_eq!(
                errors.iter().map(|e| e.offset).collect::<Vec<_>>(),
                offsets,
                "{markdown}: {errors:?}"
            );
            assert!(
                errors.iter().all(|e| e.mend.as_ref().unwrap().contains("`\\$`")),
                "{errors:?}"
            );
        }
    }

    #[test]
    fn what_paper_cannot_hold_is_refused_all_at_once() {
        let markdown = "{{ D }} é <b>x</b>\n\n[a](http://b)\n\n![i](j)\n\n    code\n\n---\n\n$\\input{x}$ {{ 1 }}\n\n[k]: http://c\n\n<div>\n";
        let found: Vec<(&str, String)> = refused(markdown)
            .into_iter()
            .map(|e| {
                assert!(e.mend.is_some(), "{e:?}");
                (&markdown[e.offset..e.offset + 3], e.what)
            })
            .collect();
        let found: Vec<(&str, &str)> = found.iter().map(|(at, what)| (*at, what.as_str())).collect();
        assert_eq!(
            found,
            [
                ("<b>", "raw HTML is refused here"),
                ("</b", "raw HTML is refused here"),
                ("[a]", "a link is refused here"),
                ("![i", "an image is refused here"),
                ("cod", "a block of code is refused here"),
                ("---", "a line across the page is refused here"),
                ("\\in", "the command `\\input` is not known here"),
                ("{{ ", "`{{` opens a placeholder that is not a name and `}}`"),
                ("[k]", "a link's address is refused here"),
                ("<di", "raw HTML is refused here"),
            ]
        );
        assert_eq!(refused("a[^1]\n\n[^1]: b").len(), 2);
        assert_eq!(
            refused("3. a")[0].what,
            "a numbered list that does not begin with 1 is refused here"
        );
        assert_eq!(
            refused("> - a")[0].what,
            "anything but a paragraph in a remark is refused here"
        );
        assert_eq!(refused("# $$x$$")[0].offset, 2);
        assert_eq!(refused("a \u{202e} b")[0].offset, 2);
    }

    #[test]
    fn a_lone_backtick_hides_nothing() {
        let errors = refused("- a ` b\n- $x$ ` c");
        assert_eq!(errors[0].offset, 10, "{errors:?}");
        assert_eq!(
            read("a ` b\n\n$x$ ` c")[1],
            Block::Paragraph(vec![maths("x"), text(" ` c")])
        );
    }

    #[test]
    fn hostile_texts_are_soon_done_with() {
        for (piece, whole) in [
            ("[", 65_000),
            ("![", 32_000),
            ("> ", 32_000),
            ("- ", 32_000),
            ("*a ", 21_000),
            ("**a_", 16_000),
            ("`", 65_000),
            ("` `` ", 13_000),
            ("$", 65_000),
            ("$a", 32_000),
            ("$a$", 21_000),
            ("{{", 32_000),
            ("{{a}}", 13_000),
            ("<", 65_000),
            ("<!--", 16_000),
            ("|", 65_000),
            ("|a|\n|-|\n", 8_000),
            ("[a](", 16_000),
            ("[a]: b\n", 9_000),
            ("${$", 21_000),
            ("a\n\n", 21_000),
            ("&amp;", 13_000),
            ("\\", 65_000),
        ] {
            let start = Instant::now();
            let _ = parse(&piece.repeat(whole));
            let took = start.elapsed();
            assert!(took < Duration::from_secs(5), "{piece}: {took:?}");
        }
        assert!(refused(&"a".repeat(100_000))[0].what.contains("100000 bytes"));
        let deep: String = (0..40).map(|i| "  ".repeat(i) + "- a\n").collect();
        assert!(refused(&deep)[0].what.contains("nested"));
    }
}
