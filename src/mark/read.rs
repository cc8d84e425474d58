//! Answer files: a folder of sheets or one long table, to rows; every fault with its file and line.
//!
//! The reader of tables is our own, because a sheet typed by a student must not be able to swallow its
//! neighbours: a quote that is never closed spoils its own row and no other.

use super::{Review, ReviewKind};
use crate::fault::{Checked, Fault, Faults, Place};
use crate::handout::unguarded;
use crate::store;
use std::borrow::Cow;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// Largest answer file that is read \[bytes\]. A sheet is a few kilobytes, a long table of 100,000 answers a few
/// megabytes.
pub const LARGEST_FILE: u64 = 32 * 1024 * 1024;
/// Longest cell that is read \[bytes\]. An answer is a number with its unit.
pub const LONGEST_CELL: usize = 4 * 1024;
/// Most cells of one row. A sheet has five.
const MOST_CELLS: usize = 256;
/// Deepest folder that is looked into, counted from the one that was named.
const DEEPEST_FOLDER: usize = 32;

/// One row of an answer file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// The student's identifier, as typed.
    pub student: String,
    /// The problem's number in the set, as typed.
    pub problem: String,
    /// The part's name, as typed.
    pub part: String,
    /// The answer, as typed.
    pub answer: String,
    /// Which of [`Answers::files`] it stands in.
    pub file: usize,
    /// Its line, from 1.
    pub line: usize,
}

/// Everything that was handed in.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Answers {
    /// The files read, in the order of reading, named from the folder or file that was named on: the same from
    /// wherever they are read.
    pub files: Vec<String>,
    /// Their rows, in order.
    pub rows: Vec<Row>,
    /// What could not be read, and remarks on the files.
    pub review: Vec<Review>,
}

impl Answers {
    /// Where a row stands.
    pub fn place(&self, row: &Row) -> Place {
        let mut place = Place::file(self.files.get(row.file).map_or("answers", String::as_str));
        place.line = Some(row.line);
        place
    }

    /// Reads answer files. A folder gives every `*.csv` in it, at any depth, in the order of their names;
    /// a file that is named itself is read whatever it is called.
    ///
    /// What is wrong inside the files does not stop the others: it lands in [`Answers::review`].
    ///
    /// # Errors
    /// A path that does not exist, or no answer file at all.
    pub fn read(paths: &[PathBuf]) -> Checked<Self> {
        let mut answers = Self::default();
        let mut faults = Vec::new();
        for (path, shown) in paths.iter().zip(short_names(paths)) {
            match std::fs::metadata(path) {
                Ok(found) if found.is_dir() => answers.folder(path, &shown, 0),
                Ok(_) => answers.file(path, shown),
                Err(error) => faults.push(
                    Fault::new(format!("the answers can't be read: {error}"))
                        .at(Place::file(path.display().to_string()))
                        .mend("name a folder of answer sheets or a CSV file"),
                ),
            }
        }
        if faults.is_empty() && answers.files.is_empty() {
            let named: Vec<String> = paths.iter().map(|p| p.display().to_string()).collect();
            faults.push(
                Fault::new("there is no answer file")
                    .at(Place::file(named.join(", ")))
                    .mend("name a folder that holds `*.csv` answer sheets, or one CSV file"),
            );
        }
        if faults.is_empty() {
            Ok(answers)
        } else {
            Err(Faults(faults))
        }
    }

    fn folder(&mut self, folder: &Path, shown: &str, depth: usize) {
        if depth > DEEPEST_FOLDER {
            self.remark(
                ReviewKind::File,
                shown,
                "the folder is nested too deeply",
                "move its sheets up",
            );
            return;
        }
        let entries = std::fs::read_dir(folder).and_then(Iterator::collect::<Result<Vec<_>, _>>);
        let mut entries = match entries {
            Ok(entries) => entries,
            Err(error) => {
                let what = format!("the folder can't be read: {error}");
                self.remark(ReviewKind::File, shown, &what, "check who may read it");
                return;
            }
        };
        entries.sort_by_key(std::fs::DirEntry::file_name);
        for entry in entries {
            let path = entry.path();
            let name = entry.file_name().to_string_lossy().into_owned();
            let shown = format!("{shown}/{name}");
            let ending = path
                .extension()
                .map(|e| e.to_string_lossy().to_lowercase())
                .unwrap_or_default();
            // An office program's lock file is `~$sheet.csv` or `.~lock.sheet.csv#`.
            let lock = name.starts_with("~$") || name.starts_with(".~lock.");
            if lock || name.starts_with('.') {
                let kind = if lock {
                    "a lock file of an office program"
                } else {
                    "a hidden file"
                };
                self.remark(ReviewKind::Note, &shown, &format!("{kind} was left out"), "");
                continue;
            }
            let Ok(file_type) = entry.file_type() else {
                self.remark(
                    ReviewKind::File,
                    &shown,
                    "the file can't be looked at",
                    "check who may read it",
                );
                continue;
            };
            if file_type.is_symlink() {
                let what = "a symbolic link was not followed";
                self.remark(
                    ReviewKind::Note,
                    &shown,
                    what,
                    "put the file itself into the folder",
                );
            } else if file_type.is_dir() {
                self.folder(&path, &shown, depth + 1);
            } else if ending == "csv" && file_type.is_file() {
                self.file(&path, shown);
            } else if ["xlsx", "xls", "xlsm", "ods", "numbers", "tsv"].contains(&ending.as_str()) {
                let what = format!("a `.{ending}` file is not read");
                self.remark(ReviewKind::File, &shown, &what, "save it as CSV and mark again");
            }
        }
    }

    fn file(&mut self, path: &Path, shown: String) {
        match store::read(path, LARGEST_FILE) {
            Ok(bytes) => self.csv(&bytes, &shown),
            Err(Faults(faults)) => {
                for fault in faults {
                    let mend = fault.mend.unwrap_or_default();
                    self.remark(ReviewKind::File, &shown, &fault.what, &mend);
                }
                self.files.push(shown);
            }
        }
    }

    /// Adds the rows of one CSV text; `file` is what faults call it.
    pub fn csv(&mut self, bytes: &[u8], file: &str) {
        let index = self.files.len();
        self.files.push(file.to_owned());
        let table = Table::read(bytes, &["student", "problem", "part", "answer"]);
        if let Some(note) = table.note {
            self.remark(ReviewKind::Note, file, note, "save the file as UTF-8");
        }
        self.review.extend(table.faults.into_iter().map(|fault| {
            let mut place = Place::file(file);
            place.line = Some(fault.line);
            let kind = if fault.whole {
                ReviewKind::File
            } else {
                ReviewKind::Row
            };
            Review {
                answer: fault.text,
                place: Some(place),
                ..Review::new(kind, fault.what, fault.mend)
            }
        }));
        self.rows.extend(table.rows.into_iter().map(|(line, cells)| {
            let [student, problem, part, answer] = cells;
            Row {
                student,
                problem,
                part,
                answer,
                file: index,
                line,
            }
        }));
    }

    fn remark(&mut self, kind: ReviewKind, file: &str, what: &str, mend: &str) {
        self.review.push(Review {
            place: Some(Place::file(file)),
            ..Review::new(kind, what, mend)
        });
    }
}

/// What the files are called on the review list: the last component of each path that was named, so that the list
/// does not depend on the working directory. A number tells two of one name apart.
fn short_names(paths: &[PathBuf]) -> Vec<String> {
    let mut names: Vec<String> = Vec::with_capacity(paths.len());
    for path in paths {
        let last = match path.file_name() {
            Some(last) => Some(last.to_owned()),
            // `.` and `..` have a name of their own only when they are followed.
            None => (path.canonicalize().ok()).and_then(|p| p.file_name().map(ToOwned::to_owned)),
        };
        let last = last.map_or_else(|| "answers".to_owned(), |l| l.to_string_lossy().into_owned());
        let mut name = last.clone();
        let mut n = 1;
        while names.contains(&name) {
            n += 1;
            name = format!("{last} ({n})");
        }
        names.push(name);
    }
    names
}

/// A fault of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct TableFault {
    pub(super) line: usize,
    pub(super) what: String,
    pub(super) mend: String,
    /// The row's text, shortened.
    pub(super) text: String,
    /// Whether the whole file is lost.
    pub(super) whole: bool,
}

/// The wanted columns of a table, row by row, with the line that each row begins on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Table<const N: usize> {
    pub(super) rows: Vec<(usize, [String; N])>,
    pub(super) faults: Vec<TableFault>,
    /// A remark on the file's encoding.
    pub(super) note: Option<&'static str>,
}

impl<const N: usize> Table<N> {
    /// Reads a table with a heading line; its columns stand in any order and case, others are ignored.
    pub(super) fn read(bytes: &[u8], columns: &[&str; N]) -> Self {
        let (text, note) = decode(bytes);
        let mut table = Self {
            rows: Vec::new(),
            faults: Vec::new(),
            note,
        };
        table.fill(&text, columns);
        table
    }

    fn fill(&mut self, text: &str, columns: &[&str; N]) {
        let bytes = text.as_bytes();
        let mut at = 0;
        let mut line = 1;
        let mut delimiter = None;
        let mut head: Option<([usize; N], usize)> = None;
        let mut spans = Vec::new();
        while at < bytes.len() {
            let line_end = end_of_line(bytes, at);
            if text[at..line_end].trim().is_empty() {
                at = after_line(bytes, line_end);
                line += 1;
                continue;
            }
            if head.is_none() && delimiter.is_none() {
                // Some spreadsheets say on a first line which mark separates the cells.
                if let Some(mark) = text[at..line_end].trim().strip_prefix("sep=") {
                    delimiter = mark.bytes().next();
                    at = after_line(bytes, line_end);
                    line += 1;
                    continue;
                }
            }
            let mark = *delimiter.get_or_insert_with(|| sniff(&bytes[at..line_end]));
            let outcome = split(bytes, at, mark, &mut spans);
            let fault = match (&outcome, &head) {
                (Err(what), _) => Some(what.to_string()),
                (Ok(_), None) => match heading(text, &spans, columns) {
                    Ok(order) => {
                        head = Some((order, spans.len()));
                        None
                    }
                    Err(what) => {
                        self.faults.push(TableFault {
                            line,
                            what,
                            mend: format!("let its first line be `{}`", columns.join(",")),
                            text: shortened(&text[at..line_end]),
                            whole: true,
                        });
                        return;
                    }
                },
                (Ok(_), Some((order, width))) => match row(text, &spans, order, *width, columns) {
                    Ok(Some(cells)) => {
                        self.rows.push((line, cells));
                        None
                    }
                    Ok(None) => None,
                    Err(what) => Some(what),
                },
            };
            match (fault, outcome) {
                (Some(what), _) => {
                    self.faults.push(TableFault {
                        line,
                        what,
                        mend: "put the row right, with quotes around a cell that holds the separating mark"
                            .into(),
                        text: shortened(&text[at..line_end]),
                        whole: head.is_none(),
                    });
                    if head.is_none() {
                        return;
                    }
                    // Only this line is given up: the next one may be sound.
                    at = after_line(bytes, line_end);
                    line += 1;
                }
                (None, Ok(next)) => {
                    line += lines_between(bytes, at, next);
                    at = next;
                }
                (None, Err(_)) => unreachable!("an outcome that failed has a fault"),
            }
        }
        if head.is_none() {
            self.faults.push(TableFault {
                line: 1,
                what: "the file is empty".into(),
                mend: format!("let its first line be `{}`", columns.join(",")),
                text: String::new(),
                whole: true,
            });
        }
    }
}

/// One cell of a row: its bytes, whether it stood in quotes, and whether quotes inside are doubled.
#[derive(Debug, Clone)]
struct Span {
    bytes: Range<usize>,
    doubled: bool,
}

/// Splits the row that begins at `at`; gives where the next one begins.
fn split(bytes: &[u8], at: usize, mark: u8, spans: &mut Vec<Span>) -> Result<usize, &'static str> {
    spans.clear();
    let mut i = at;
    loop {
        if spans.len() == MOST_CELLS {
            return Err("the row has too many cells");
        }
        let mut start = i;
        while bytes
            .get(start)
            .is_some_and(|b| (*b == b' ' || *b == b'\t') && *b != mark)
        {
            start += 1;
        }
        let mut end;
        if bytes.get(start) == Some(&b'"') {
            start += 1;
            end = start;
            let mut doubled = false;
            loop {
                if end - start > LONGEST_CELL {
                    return Err("a cell is too long, or a quote is never closed");
                }
                match bytes.get(end) {
                    None => return Err("a quote is never closed"),
                    Some(b'"') if bytes.get(end + 1) == Some(&b'"') => {
                        doubled = true;
                        end += 2;
                    }
                    Some(b'"') => break,
                    Some(_) => end += 1,
                }
            }
            spans.push(Span {
                bytes: start..end,
                doubled,
            });
            end += 1;
            while bytes
                .get(end)
                .is_some_and(|b| (*b == b' ' || *b == b'\t') && *b != mark)
            {
                end += 1;
            }
        } else {
            start = i;
            end = i;
            while bytes
                .get(end)
                .is_some_and(|b| *b != mark && *b != b'\n' && *b != b'\r')
            {
                end += 1;
            }
            if end - start > LONGEST_CELL {
                return Err("a cell is too long");
            }
            spans.push(Span {
                bytes: start..end,
                doubled: false,
            });
        }
        match bytes.get(end) {
            None => return Ok(end),
            Some(b) if *b == mark => i = end + 1,
            Some(b'\n' | b'\r') => return Ok(after_line(bytes, end)),
            Some(_) => return Err("there is text behind a closing quote"),
        }
    }
}

fn cell<'a>(text: &'a str, span: &Span) -> Cow<'a, str> {
    let raw = text[span.bytes.clone()].trim();
    // The mark that guards a cell against being taken for a formula is not part of what it says.
    let raw = unguarded(raw);
    if span.doubled {
        Cow::Owned(raw.replace("\"\"", "\""))
    } else {
        Cow::Borrowed(raw)
    }
}

fn heading<const N: usize>(text: &str, spans: &[Span], columns: &[&str; N]) -> Result<[usize; N], String> {
    let names: Vec<String> = spans.iter().map(|s| cell(text, s).to_lowercase()).collect();
    let mut order = [0; N];
    let mut missing = Vec::new();
    for (place, column) in order.iter_mut().zip(columns) {
        let mut found = names.iter().enumerate().filter(|(_, n)| n == column);
        match (found.next(), found.next()) {
            (Some((i, _)), None) => *place = i,
            (None, _) => missing.push(format!("`{column}`")),
            (Some(_), Some(_)) => return Err(format!("the column `{column}` stands there twice")),
        }
    }
    match missing.as_slice() {
        [] => Ok(order),
        [one] => Err(format!("the column {one} is missing")),
        several => Err(format!("the columns {} are missing", several.join(", "))),
    }
}

/// The wanted cells of a row; `None` for a row of empty cells.
fn row<const N: usize>(
    text: &str,
    spans: &[Span],
    order: &[usize; N],
    width: usize,
    columns: &[&str; N],
) -> Result<Option<[String; N]>, String> {
    if spans.iter().all(|s| text[s.bytes.clone()].trim().is_empty()) {
        return Ok(None);
    }
    if spans
        .iter()
        .skip(width)
        .any(|s| !text[s.bytes.clone()].trim().is_empty())
    {
        return Err(format!(
            "the row has {} cells where the first line has {width}",
            spans.len()
        ));
    }
    let mut cells = [const { String::new() }; N];
    for ((to, from), column) in cells.iter_mut().zip(order).zip(columns) {
        let span = spans
            .get(*from)
            .ok_or_else(|| format!("the row ends before its `{column}`"))?;
        let found = cell(text, span);
        if found.contains(['\n', '\r']) {
            return Err("a quote is never closed, or a cell holds a line break".into());
        }
        *to = found.into_owned();
    }
    Ok(Some(cells))
}

/// The mark that separates cells: the commonest of comma, semicolon and tab outside quotes on the first line.
fn sniff(line: &[u8]) -> u8 {
    let count = |mark: u8| {
        let mut quoted = false;
        line.iter()
            .filter(|b| {
                quoted ^= **b == b'"';
                !quoted && **b == mark
            })
            .count()
    };
    // The last of equals wins, so the comma stands last.
    [b'\t', b';', b',']
        .into_iter()
        .max_by_key(|mark| count(*mark))
        .unwrap_or(b',')
}

fn end_of_line(bytes: &[u8], at: usize) -> usize {
    bytes[at..]
        .iter()
        .position(|b| *b == b'\n' || *b == b'\r')
        .map_or(bytes.len(), |n| at + n)
}

fn after_line(bytes: &[u8], end: usize) -> usize {
    match (bytes.get(end), bytes.get(end + 1)) {
        (Some(b'\r'), Some(b'\n')) => end + 2,
        (Some(_), _) => end + 1,
        (None, _) => end,
    }
}

fn lines_between(bytes: &[u8], from: usize, to: usize) -> usize {
    let mut at = from;
    let mut lines = 0;
    while at < to {
        at = after_line(bytes, end_of_line(bytes, at));
        lines += 1;
    }
    lines
}

fn shortened(line: &str) -> String {
    let mut chars = line.trim().chars();
    let short: String = chars.by_ref().take(80).collect();
    if chars.next().is_some() {
        short + "…"
    } else {
        short
    }
}

/// Bytes to text: UTF-8 with or without a byte order mark, UTF-16 with one, else windows-1252.
fn decode(bytes: &[u8]) -> (Cow<'_, str>, Option<&'static str>) {
    if let Some(rest) = bytes.strip_prefix(b"\xEF\xBB\xBF") {
        return decode_unmarked(rest);
    }
    let wide = |rest: &[u8], of: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = rest.chunks_exact(2).map(|pair| of([pair[0], pair[1]])).collect();
        (
            Cow::Owned(String::from_utf16_lossy(&units)),
            Some("the file is UTF-16, and was read as such"),
        )
    };
    match bytes {
        [0xFF, 0xFE, rest @ ..] => wide(rest, u16::from_le_bytes),
        [0xFE, 0xFF, rest @ ..] => wide(rest, u16::from_be_bytes),
        _ => decode_unmarked(bytes),
    }
}

fn decode_unmarked(bytes: &[u8]) -> (Cow<'_, str>, Option<&'static str>) {
    match std::str::from_utf8(bytes) {
        Ok(text) => (Cow::Borrowed(text), None),
        Err(_) => (
            Cow::Owned(bytes.iter().map(|b| windows_1252(*b)).collect()),
            Some("the file is not UTF-8; it was read as windows-1252, so look at its accents and units"),
        ),
    }
}

fn windows_1252(byte: u8) -> char {
    // WHATWG Encoding Standard, index windows-1252, bytes 80 to 9F; the rest are as in Latin-1.
    const UPPER: [char; 32] = [
        '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž', '\u{8f}',
        '\u{90}', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}', 'ž', 'Ÿ',
    ];
    match byte {
        0x80..=0x9F => UPPER[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &[u8]) -> Answers {
        let mut answers = Answers::default();
        answers.csv(text, "sheet.csv");
        answers
    }

    fn typed(answers: &Answers) -> Vec<&str> {
        answers.rows.iter().map(|r| r.answer.as_str()).collect()
    }

    #[test]
    fn columns_stand_in_any_order_case_and_separator() {
        for text in [
            "student,problem,part,answer,asked\nada,1,velocity,2.5 m/s,m/s\n",
            "Answer;PART;Problem;Student\r\n2.5 m/s;velocity;1;ada\r\n",
            "problem\tstudent\tanswer\tremark\tpart\n1\tada\t2.5 m/s\t\tvelocity",
            "\u{feff}student, problem, part, answer\n\"ada\", \"1\", \"velocity\", \"2.5 m/s\"\n",
            "sep=;\nstudent;problem;part;answer\nada;1;velocity;2.5 m/s\n",
        ] {
            let answers = read(text.as_bytes());
            assert_eq!(answers.review, [], "{text}");
            assert_eq!(answers.rows.len(), 1, "{text}");
            let row = &answers.rows[0];
            assert_eq!(
                [&row.student, &row.problem, &row.part, &row.answer],
                ["ada", "1", "velocity", "2.5 m/s"],
                "{text}"
            );
        }
    }

    #[test]
    fn a_bad_row_names_its_line_and_spares_the_others() {
        let text = "student,problem,part,answer\n\
                    ada,1,velocity,1\n\
                    ada,1,flow,\"2\n\
                    ada,1,head,3,5 m\n\
                    ada,1\n\
                    \n\
                    ada,1,power,\"4\" kW\n\
                    ada,1,regime,5\n";
        let answers = read(text.as_bytes());
        assert_eq!(typed(&answers), ["1", "5"]);
        assert_eq!(answers.rows[1].line, 8);
        let lines: Vec<_> = answers
            .review
            .iter()
            .map(|r| r.place.as_ref().and_then(|p| p.line))
            .collect();
        assert_eq!(lines, [Some(3), Some(4), Some(5), Some(7)]);
        assert!(answers.review.iter().all(|r| r.kind == ReviewKind::Row));
    }

    #[test]
    fn a_line_break_in_another_column_is_harmless_and_lines_stay_right() {
        let text = "student,remark,problem,part,answer\nada,\"one\ntwo\",1,a,1\nada,,1,b,2\n";
        let answers = read(text.as_bytes());
        assert_eq!(typed(&answers), ["1", "2"]);
        assert_eq!(answers.rows[1].line, 4);
    }

    #[test]
    fn old_encodings_are_read_with_a_note() {
        let answers = read(b"student,problem,part,answer\nada,1,t,20 \xB0C\n");
        assert_eq!(typed(&answers), ["20 °C"]);
        assert_eq!(answers.review[0].kind, ReviewKind::Note);
        let mut wide = vec![0xFF, 0xFE];
        wide.extend(
            "student,problem,part,answer\nada,1,t,20 °C\n"
                .encode_utf16()
                .flat_map(u16::to_le_bytes),
        );
        assert_eq!(typed(&read(&wide)), ["20 °C"]);
    }

    #[test]
    fn a_missing_column_loses_the_file_and_says_which() {
        let answers = read(b"student,part,answer\nada,velocity,1\n");
        assert!(answers.rows.is_empty());
        assert_eq!(answers.review[0].kind, ReviewKind::File);
        assert!(
            answers.review[0].what.contains("`problem`"),
            "{}",
            answers.review[0].what
        );
        assert_eq!(read(b"").review[0].kind, ReviewKind::File);
    }

    #[test]
    fn long_cells_and_endless_rows_are_refused_alone() {
        let mut text = String::from("student,problem,part,answer\nada,1,a,");
        text.push_str(&"9".repeat(LONGEST_CELL + 1));
        text.push_str("\nada,1,b,2\n");
        text.push_str(&",".repeat(100_000));
        text.push_str("\nada,1,c,3\n");
        let answers = read(text.as_bytes());
        assert_eq!(typed(&answers), ["2", "3"]);
        assert_eq!(answers.review.len(), 2);
    }

    #[test]
    fn a_guard_against_formulas_is_taken_off() {
        let answers = read(b"student,problem,part,answer\n'-ada,1,a,'-3.2 kPa\n'ada,1,a,'tis\n");
        assert_eq!(answers.rows[0].student, "-ada");
        assert_eq!(typed(&answers), ["-3.2 kPa", "'tis"]);
        assert_eq!(answers.rows[1].student, "'ada");
    }
}
