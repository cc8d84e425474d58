//! The one place where YAML is read, behind guards, and a reader over the tree that gathers all faults
//! with their places.
//!
//! Two libraries share the work. `saphyr-parser` walks the events first: it gives the line and column of
//! every value, and it is the gatekeeper, since it is linear in the text and written without `unsafe`.
//! Nothing passes it that holds anchors or aliases, tags, repeated or composite keys, more than one
//! document, or that nests deeper than [`DEPTH`]. Only then does `serde_yaml` read the values, led by the
//! outline that was found, and asked for each scalar as a string: so the figures that an author typed
//! (`0.50`) are kept, and `no` and `on` stay words. Where the two disagree on the shape of a text, the
//! text is refused.
//!
//! Faults are gathered in the [`Doc`]; reading goes on after each, so that all come at once, in the order
//! of the file.

use crate::fault::{Checked, Fault, Faults, Place, nearest};
use saphyr_parser::{Event, Parser, ScalarStyle};
use serde::Deserialize;
use serde::de::{DeserializeSeed, Deserializer, Error as _, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt;

/// Largest file \[bytes\].
pub(super) const SIZE: usize = 1 << 20;
/// Deepest nesting of lists and maps. A system needs five.
const DEPTH: usize = 24;
/// Most `[` and `{` in a text, in quotes or not: the reader's time grows with their square.
const BRACKETS: usize = 5000;
/// Most values in a text.
const VALUES: usize = 50_000;

/// A line and a column, both from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Mark {
    line: usize,
    column: usize,
}

/// How a scalar was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Style {
    Plain,
    Quoted,
    Block,
}

/// The shape of a text with its places, from the first walk.
#[derive(Debug)]
struct Outline {
    mark: Mark,
    shape: Shape,
}

#[derive(Debug)]
enum Shape {
    Scalar(Style),
    List(Vec<Outline>),
    Map(Vec<(Mark, Outline)>),
}

/// A value with its place.
#[derive(Debug)]
struct Node {
    mark: Mark,
    kind: Kind,
}

#[derive(Debug)]
enum Kind {
    /// A key without a value, or `null`.
    Nothing,
    Text(String, Style),
    List(Vec<Node>),
    Map(Vec<Entry>),
}

#[derive(Debug)]
struct Entry {
    key: String,
    key_mark: Mark,
    value: Node,
}

impl Kind {
    fn name(&self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Text(..) => "a single value",
            Self::List(_) => "a list",
            Self::Map(_) => "fields",
        }
    }
}

fn too_large(name: &str, bytes: usize) -> Faults {
    Fault::new(format!(
        "the file has {bytes} bytes, more than the {SIZE} allowed"
    ))
    .at(Place::file(name))
    .mend("split it, or take out what does not belong")
    .into()
}

/// A YAML text, read, with the faults found so far.
pub(super) struct Doc<'t> {
    text: &'t str,
    file: String,
    root: Node,
    faults: RefCell<Vec<Fault>>,
}

impl<'t> Doc<'t> {
    /// Reads `yaml`; `file` is what faults call it.
    pub(super) fn read(yaml: &'t str, file: &str) -> Checked<Self> {
        let text = yaml.strip_prefix('\u{feff}').unwrap_or(yaml);
        if text.len() > SIZE {
            return Err(too_large(file, text.len()));
        }
        refuse_controls(text, file)?;
        let outline = outline(text, file)?;
        let root = Seed(&outline)
            .deserialize(serde_yaml::Deserializer::from_str(text))
            .map_err(|error| syntax_fault(text, file, &error))?;
        Ok(Self {
            text,
            file: file.to_owned(),
            root,
            faults: RefCell::new(Vec::new()),
        })
    }

    /// The outermost value.
    pub(super) fn root(&self) -> Cursor<'_> {
        Cursor {
            doc: self,
            node: &self.root,
            key: self.root.mark,
            path: String::new(),
        }
    }

    /// The value that was read, unless there were faults; these come in the order of the file.
    pub(super) fn finish<T>(self, value: Option<T>) -> Checked<T> {
        let mut faults = self.faults.into_inner();
        faults.sort_by_key(|f| f.place.as_ref().map(|p| (p.line, p.column)));
        faults.dedup();
        match value {
            Some(value) if faults.is_empty() => Ok(value),
            _ if faults.is_empty() => Err(Fault::new("the file can't be read")
                .at(Place::file(self.file))
                .into()),
            _ => Err(Faults(faults)),
        }
    }
}

/// Control characters never belong in these files, and a NUL ends a text early for some readers.
fn refuse_controls(text: &str, file: &str) -> Checked<()> {
    for (i, line) in text.split('\n').enumerate() {
        let line = line.strip_suffix('\r').unwrap_or(line);
        if let Some((j, c)) = line
            .chars()
            .enumerate()
            .find(|(_, c)| c.is_control() && *c != '\t')
        {
            return Err(Fault::new(format!(
                "there is an invisible control character (U+{:04X})",
                u32::from(c)
            ))
            .at(Place::file(file).at(i + 1, j + 1))
            .mend("delete it")
            .into());
        }
    }
    Ok(())
}

/// Walks the events of a text, refuses what is not allowed, and keeps every place.
fn outline(text: &str, file: &str) -> Checked<Outline> {
    let brackets = text.bytes().filter(|b| matches!(b, b'[' | b'{')).count();
    if brackets > BRACKETS {
        return Err(Fault::new(format!(
            "the text has {brackets} opening brackets, more than the {BRACKETS} allowed"
        ))
        .at(Place::file(file))
        .mend("split the file")
        .into());
    }
    let mut faults = Vec::new();
    // What is open: a list, or a map with its keys so far and the key that waits for its value.
    enum Open {
        List(Mark, Vec<Outline>),
        Map {
            mark: Mark,
            seen: BTreeMap<String, Mark>,
            entries: Vec<(Mark, Outline)>,
            key: Option<Mark>,
        },
    }
    let mut open: Vec<Open> = Vec::new();
    let mut root = None;
    let mut documents = 0;
    let mut values = 0;
    for event in Parser::new_from_str(text) {
        let (event, span) = match event {
            Ok(event) => event,
            Err(error) => {
                // The places agree more often with what people see where `serde_yaml` names them.
                return Err(match serde_yaml::Deserializer::from_str(text).next() {
                    Some(document) => match IgnoredAny::deserialize(document) {
                        Err(syntax) if syntax.location().is_some() => syntax_fault(text, file, &syntax),
                        _ => scan_fault(text, file, &error),
                    },
                    None => scan_fault(text, file, &error),
                });
            }
        };
        let mark = Mark {
            line: span.start.line(),
            column: span.start.col() + 1,
        };
        let at = || Place::file(file).at(mark.line, mark.column);
        let (anchor, tagged) = match &event {
            Event::Scalar(_, _, anchor, tag) => (*anchor, tag.is_some()),
            Event::SequenceStart(anchor, tag) | Event::MappingStart(anchor, tag) => (*anchor, tag.is_some()),
            Event::Alias(_) => (1, false),
            _ => (0, false),
        };
        if anchor > 0 {
            return Err(
                Fault::new("anchors and aliases (`&name`, `*name`) are not read here")
                    .at(at())
                    .mend("write the value out, or put it in quotes if it begins with `&` or `*`")
                    .into(),
            );
        }
        if tagged {
            faults.push(
                Fault::new("tags (`!name`) are not read here")
                    .at(at())
                    .mend("take the tag out, or put the value in quotes if it begins with `!`"),
            );
        }
        let waits_for_key = matches!(open.last(), Some(Open::Map { key: None, .. }));
        let done = match event {
            Event::DocumentStart(_) => {
                documents += 1;
                if documents > 1 {
                    faults.push(
                        Fault::new("a second document begins here")
                            .at(at())
                            .mend("put it in a file of its own"),
                    );
                    break;
                }
                None
            }
            Event::SequenceStart(..) | Event::MappingStart(..) => {
                if waits_for_key {
                    if let Some(name) = placeholder_for_value(text, mark) {
                        return Err(
                            Fault::new("placeholders belong to texts, but a value stands here")
                                .at(at())
                                .mend(format!("write `{name}`"))
                                .into(),
                        );
                    }
                    return Err(
                        Fault::new("a list or a group of fields stands where a name should")
                            .at(at())
                            .mend("put text that begins with `{` or `[` in quotes")
                            .into(),
                    );
                }
                if open.len() == DEPTH {
                    return Err(Fault::new(format!("values nest deeper than {DEPTH} levels"))
                        .at(at())
                        .mend("check the brackets and the indentation")
                        .into());
                }
                open.push(if matches!(event, Event::SequenceStart(..)) {
                    Open::List(mark, Vec::new())
                } else {
                    Open::Map {
                        mark,
                        seen: BTreeMap::new(),
                        entries: Vec::new(),
                        key: None,
                    }
                });
                None
            }
            Event::Scalar(value, style, ..) => {
                if let Some(Open::Map { seen, key, .. }) = open.last_mut()
                    && key.is_none()
                {
                    if let Some(first) = seen.get(value.as_ref()) {
                        faults.push(
                            Fault::new(format!("`{value}` is written twice"))
                                .at(at().field(value.as_ref()))
                                .mend(format!("keep one of them; the first is on line {}", first.line)),
                        );
                    } else {
                        seen.insert(value.into_owned(), mark);
                    }
                    *key = Some(mark);
                    None
                } else {
                    let style = match style {
                        ScalarStyle::Plain => Style::Plain,
                        ScalarStyle::SingleQuoted | ScalarStyle::DoubleQuoted => Style::Quoted,
                        ScalarStyle::Literal | ScalarStyle::Folded => Style::Block,
                    };
                    Some(Outline {
                        mark,
                        shape: Shape::Scalar(style),
                    })
                }
            }
            Event::SequenceEnd | Event::MappingEnd => match open.pop() {
                Some(Open::List(mark, items)) => Some(Outline {
                    mark,
                    shape: Shape::List(items),
                }),
                Some(Open::Map { mark, entries, .. }) => Some(Outline {
                    mark,
                    shape: Shape::Map(entries),
                }),
                None => None,
            },
            _ => None,
        };
        if let Some(done) = done {
            values += 1;
            if values > VALUES {
                return Err(
                    Fault::new(format!("the text holds more than the {VALUES} values allowed"))
                        .at(Place::file(file))
                        .mend("split the file")
                        .into(),
                );
            }
            match open.last_mut() {
                Some(Open::List(_, items)) => items.push(done),
                Some(Open::Map { entries, key, .. }) => {
                    if let Some(key) = key.take() {
                        entries.push((key, done));
                    }
                }
                None => root = Some(done),
            }
        }
    }
    if !faults.is_empty() {
        return Err(Faults(faults));
    }
    root.ok_or_else(|| {
        Fault::new("the file is empty")
            .at(Place::file(file))
            .mend("write the fields that are needed")
            .into()
    })
}

/// The name in a bare `{{ name }}` whose second brace stands at `mark`, where no text can be meant.
fn placeholder_for_value(text: &str, mark: Mark) -> Option<&str> {
    let line = text.lines().nth(mark.line - 1)?;
    let (second, _) = line.char_indices().nth(mark.column - 1)?;
    let before = line[..second].strip_suffix('{')?;
    let name = line[second..].strip_prefix('{')?.split("}}").next()?.trim();
    // In the parts, texts and formulas stand side by side; elsewhere the section says which it is.
    let section = text
        .lines()
        .take(mark.line)
        .filter(|l| l.starts_with(|c: char| c.is_alphabetic()));
    let values = match section.last()?.split(':').next()? {
        "system" | "givens" | "constraints" => true,
        "parts" => ["answer:", "first if:"]
            .iter()
            .any(|key| before.trim_end().ends_with(key)),
        _ => false,
    };
    let plain = !name.is_empty() && name.chars().all(|c| c.is_alphanumeric() || c == '_');
    (values && plain).then_some(name)
}

/// What `serde_yaml` says of a text that is no YAML, in our words.
fn syntax_fault(text: &str, file: &str, error: &serde_yaml::Error) -> Faults {
    let said = error.to_string();
    let said = said.split(" at line ").next().unwrap_or(&said).to_owned();
    let mark = error.location().map(|l| Mark {
        line: l.line(),
        column: l.column(),
    });
    plain_syntax_fault(text, file, &said, mark)
}

fn scan_fault(text: &str, file: &str, error: &saphyr_parser::ScanError) -> Faults {
    let mark = Mark {
        line: error.marker().line().max(1),
        column: error.marker().col() + 1,
    };
    plain_syntax_fault(text, file, error.info(), Some(mark))
}

fn plain_syntax_fault(text: &str, file: &str, said: &str, mark: Option<Mark>) -> Faults {
    let tab = text.split('\n').position(|line| {
        line.trim_start_matches(' ').starts_with('\t')
            && !line.trim().is_empty()
            && !line.trim().starts_with('#')
    });
    let fault = match (tab, mark) {
        (Some(i), m) if m.is_none_or(|m| i < m.line) => Fault::new("the line is indented with a tab")
            .at(Place::file(file).at(i + 1, 1 + text.split('\n').nth(i).map_or(0, leading_blanks)))
            .mend("indent with blanks; YAML takes no tabs"),
        _ => {
            let mend = if said.contains("mapping values") {
                "put text that holds a colon in quotes, and check the indentation"
            } else if said.contains("cannot start any token") {
                "put text that begins with `@`, `%` or a backtick in quotes"
            } else if said.contains("',' or '}'") || said.contains("',' or ']'") {
                "close the bracket, and put text that holds commas or brackets in quotes"
            } else if said.contains("end of stream") {
                "look for a quote or a bracket that is never closed"
            } else if said.contains("anchor") || said.contains("alias") {
                "put text that begins with `&` or `*` in quotes"
            } else {
                "check the indentation, colons, quotes and brackets on this line and the one before"
            };
            let place = Place::file(file);
            Fault::new(format!("this is not YAML: {said}"))
                .at(match mark {
                    Some(m) => place.at(m.line.max(1), m.column.max(1)),
                    None => place,
                })
                .mend(mend)
        }
    };
    fault.into()
}

fn leading_blanks(line: &str) -> usize {
    line.chars().take_while(|c| *c == ' ').count()
}

/// Leads `serde_yaml` along an outline.
struct Seed<'o>(&'o Outline);

impl<'de> DeserializeSeed<'de> for Seed<'_> {
    type Value = Node;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Node, D::Error> {
        match &self.0.shape {
            Shape::Scalar(_) => deserializer.deserialize_str(self),
            Shape::List(_) => deserializer.deserialize_seq(self),
            Shape::Map(_) => deserializer.deserialize_map(self),
        }
    }
}

const DISAGREE: &str = "the text can be read in two ways; write it more plainly";

impl<'de> Visitor<'de> for Seed<'_> {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.0.shape {
            Shape::Scalar(_) => "a single value",
            Shape::List(_) => "a list",
            Shape::Map(_) => "fields",
        })
    }

    fn visit_str<E>(self, text: &str) -> Result<Node, E> {
        let style = match self.0.shape {
            Shape::Scalar(style) => style,
            _ => Style::Plain,
        };
        let nothing = style == Style::Plain && matches!(text, "" | "~" | "null" | "Null" | "NULL");
        Ok(Node {
            mark: self.0.mark,
            kind: if nothing {
                Kind::Nothing
            } else {
                Kind::Text(text.to_owned(), style)
            },
        })
    }

    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node {
            mark: self.0.mark,
            kind: match self.0.shape {
                Shape::Scalar(_) => Kind::Nothing,
                Shape::List(_) => Kind::List(Vec::new()),
                Shape::Map(_) => Kind::Map(Vec::new()),
            },
        })
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Node, A::Error> {
        let Shape::List(outlines) = &self.0.shape else {
            return Err(A::Error::custom(DISAGREE));
        };
        let mut items = Vec::with_capacity(outlines.len());
        for outline in outlines {
            match seq.next_element_seed(Seed(outline))? {
                Some(item) => items.push(item),
                None => return Err(A::Error::custom(DISAGREE)),
            }
        }
        if seq.next_element::<IgnoredAny>()?.is_some() {
            return Err(A::Error::custom(DISAGREE));
        }
        Ok(Node {
            mark: self.0.mark,
            kind: Kind::List(items),
        })
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
        let Shape::Map(outlines) = &self.0.shape else {
            return Err(A::Error::custom(DISAGREE));
        };
        let mut entries = Vec::with_capacity(outlines.len());
        for (key_mark, outline) in outlines {
            let Some(key) = map.next_key::<String>()? else {
                return Err(A::Error::custom(DISAGREE));
            };
            entries.push(Entry {
                key,
                key_mark: *key_mark,
                value: map.next_value_seed(Seed(outline))?,
            });
        }
        if map.next_key::<IgnoredAny>()?.is_some() {
            return Err(A::Error::custom(DISAGREE));
        }
        Ok(Node {
            mark: self.0.mark,
            kind: Kind::Map(entries),
        })
    }
}

/// A value inside a [`Doc`], with the way to it.
#[derive(Clone)]
pub(super) struct Cursor<'d> {
    doc: &'d Doc<'d>,
    node: &'d Node,
    key: Mark,
    path: String,
}

impl<'d> Cursor<'d> {
    /// Where the value stands; its key where it has no value.
    pub(super) fn place(&self) -> Place {
        let mark = match self.node.kind {
            Kind::Nothing => self.key,
            // A map or list that begins on a later line is found by its key.
            Kind::Map(_) | Kind::List(_) if self.node.mark.line > self.key.line => self.key,
            _ => self.node.mark,
        };
        self.placed(mark)
    }

    /// Where its key stands.
    pub(super) fn key_place(&self) -> Place {
        self.placed(self.key)
    }

    fn placed(&self, mark: Mark) -> Place {
        Place::file(&self.doc.file)
            .at(mark.line, mark.column)
            .field(&self.path)
    }

    /// The line it stands on.
    pub(super) fn line(&self) -> usize {
        self.place().line.unwrap_or(1)
    }

    /// The way to it from the outermost value, such as `stations.start.pressure`.
    pub(super) fn path(&self) -> &str {
        &self.path
    }

    /// Adds a fault of this value.
    pub(super) fn fault(&self, what: impl Into<String>, mend: impl Into<String>) {
        self.add(Fault::new(what).at(self.place()).mend(mend));
    }

    /// Adds a fault of this value's key.
    pub(super) fn key_fault(&self, what: impl Into<String>, mend: impl Into<String>) {
        self.add(Fault::new(what).at(self.key_place()).mend(mend));
    }

    /// Adds a fault that may lack a mend, at the byte `offset` of this value's text where one is known.
    pub(super) fn fault_inside(&self, offset: Option<usize>, what: impl Into<String>, mend: Option<String>) {
        let mark = offset.and_then(|o| self.mark_inside(o));
        let place = mark.map_or_else(|| self.place(), |m| self.placed(m));
        let fault = Fault::new(what).at(place);
        self.add(match mend {
            Some(mend) => fault.mend(mend),
            None => fault,
        });
    }

    /// Adds any fault.
    pub(super) fn add(&self, fault: Fault) {
        self.doc.faults.borrow_mut().push(fault);
    }

    /// The place in the file of a byte of this value's text: exact in a plain or quoted value on one line
    /// and in a block of lines, where these are found again as they stand; else unknown.
    fn mark_inside(&self, offset: usize) -> Option<Mark> {
        let Kind::Text(text, style) = &self.node.kind else {
            return None;
        };
        let before = text.get(..offset.min(text.len()))?;
        let line_of_file = |line: usize| {
            let line = self.doc.text.split('\n').nth(line.checked_sub(1)?)?;
            Some(line.strip_suffix('\r').unwrap_or(line))
        };
        if *style == Style::Block {
            // The mark is that of the first character; blank lines before it belong to the text. Lines that
            // were folded together are not found again, and the block's own place has to do.
            let blank = text.len() - text.trim_start_matches('\n').len();
            let row = before.matches('\n').count();
            let line = (self.node.mark.line + row).checked_sub(blank)?;
            let content = text.split('\n').nth(row)?;
            let found: String = line_of_file(line)?
                .chars()
                .skip(self.node.mark.column - 1)
                .collect();
            let inside = before.rsplit('\n').next().unwrap_or("").chars().count();
            return (found == content).then_some(Mark {
                line,
                column: self.node.mark.column + inside,
            });
        }
        let line = line_of_file(self.node.mark.line)?;
        let rest: String = line.chars().skip(self.node.mark.column - 1).collect();
        let quote = usize::from(*style == Style::Quoted);
        rest.get(quote..)?.starts_with(text.as_str()).then(|| Mark {
            line: self.node.mark.line,
            column: self.node.mark.column + quote + before.chars().count(),
        })
    }

    /// Whether there is no value.
    pub(super) fn is_nothing(&self) -> bool {
        matches!(self.node.kind, Kind::Nothing)
    }

    /// Whether it is a group of fields.
    pub(super) fn is_map(&self) -> bool {
        matches!(self.node.kind, Kind::Map(_))
    }

    /// Whether it is a list.
    pub(super) fn is_list(&self) -> bool {
        matches!(self.node.kind, Kind::List(_))
    }

    fn wrong_kind(&self, needed: &str, mend: &str) {
        self.fault(
            format!(
                "{} needs {needed}, but has {}",
                self.called(),
                self.node.kind.name()
            ),
            mend,
        );
    }

    /// What it is called in a fault: its own name in backticks.
    pub(super) fn called(&self) -> String {
        if self.path.is_empty() {
            "the file".to_owned()
        } else {
            let parts: Vec<&str> = self.path.split('.').collect();
            match parts.iter().rposition(|p| p.parse::<usize>().is_err()) {
                Some(i) if i + 1 == parts.len() => format!("`{}`", parts[i]),
                Some(i) => format!("item {} of `{}`", parts[i + 1], parts[i]),
                None => format!("item {}", self.path),
            }
        }
    }

    /// Its text without blanks around it; a fault where it is anything else.
    pub(super) fn text(&self) -> Option<&'d str> {
        match &self.node.kind {
            Kind::Text(text, _) => Some(text.trim()),
            _ => {
                self.wrong_kind(
                    "a single value",
                    "write one value; put text that begins with `{` or `[` in quotes",
                );
                None
            }
        }
    }

    /// Its text as it stands; a fault where it is anything else.
    pub(super) fn raw_text(&self) -> Option<&'d str> {
        self.text()?;
        match &self.node.kind {
            Kind::Text(text, _) => Some(text),
            _ => None,
        }
    }

    /// A field by its name, if there is one; never a fault.
    pub(super) fn look(&self, name: &str) -> Option<Self> {
        match &self.node.kind {
            Kind::Map(entries) => entries
                .iter()
                .find(|e| e.key == name)
                .map(|e| self.inside(&e.key, e.key_mark, &e.value)),
            _ => None,
        }
    }

    /// The items, if it is a list; never a fault.
    pub(super) fn look_items(&self) -> Vec<Self> {
        if self.is_list() { self.list() } else { None }.unwrap_or_default()
    }

    /// The text, if it is one; never a fault.
    pub(super) fn look_text(&self) -> Option<&'d str> {
        match &self.node.kind {
            Kind::Text(text, _) => Some(text.trim()),
            _ => None,
        }
    }

    /// `yes` or `no` (`true` or `false`).
    pub(super) fn yes_or_no(&self) -> Option<bool> {
        match self.text()?.to_lowercase().as_str() {
            "yes" | "true" => Some(true),
            "no" | "false" => Some(false),
            other => {
                self.fault(
                    format!("{} is `{other}`, but it is a yes or no", self.called()),
                    "write `yes` or `no`",
                );
                None
            }
        }
    }

    /// A plain finite number.
    pub(super) fn number(&self) -> Option<f64> {
        let text = self.text()?;
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() && !text.contains(['n', 'i', 'N', 'I']) => Some(number),
            _ => {
                self.fault(
                    format!("{} is `{text}`, but a plain number is needed", self.called()),
                    "write a number such as `2` or `0.5`",
                );
                None
            }
        }
    }

    /// A whole number in a range.
    pub(super) fn whole(&self, from: u32, to: u32) -> Option<u32> {
        let text = self.text()?;
        match text.parse::<u32>() {
            Ok(number) if (from..=to).contains(&number) => Some(number),
            _ => {
                self.fault(
                    format!(
                        "{} is `{text}`, but a whole number from {from} to {to} is needed",
                        self.called()
                    ),
                    format!("write a whole number from {from} to {to}"),
                );
                None
            }
        }
    }

    fn inside(&self, name: impl fmt::Display, key: Mark, node: &'d Node) -> Self {
        Self {
            doc: self.doc,
            node,
            key,
            path: if self.path.is_empty() {
                name.to_string()
            } else {
                format!("{}.{name}", self.path)
            },
        }
    }

    /// The items of a list, called by their number from 1.
    pub(super) fn list(&self) -> Option<Vec<Self>> {
        match &self.node.kind {
            Kind::List(items) => Some(
                items
                    .iter()
                    .enumerate()
                    .map(|(i, item)| self.inside(i + 1, item.mark, item))
                    .collect(),
            ),
            _ => {
                self.wrong_kind("a list", "write items, each on a line that begins with `-`");
                None
            }
        }
    }

    /// The entries of a map whose keys the author chooses.
    pub(super) fn entries(&self) -> Option<Vec<(&'d str, Self)>> {
        match &self.node.kind {
            Kind::Map(entries) => Some(
                entries
                    .iter()
                    .map(|e| (e.key.as_str(), self.inside(&e.key, e.key_mark, &e.value)))
                    .collect(),
            ),
            _ => {
                self.wrong_kind("fields", "write fields, each as `name: value`");
                None
            }
        }
    }

    /// The fields of a map whose keys are `known`; every other key is a fault, with the nearest known one.
    pub(super) fn fields(&self, known: &[&str]) -> Option<Fields<'d>> {
        let entries = self.entries()?;
        let mut meant = Vec::new();
        let mut cut = Vec::new();
        for (i, (key, cursor)) in entries.iter().enumerate() {
            if !known.contains(key) {
                let before = i.checked_sub(1).map(|i| &entries[i]);
                if let Some((field, before)) = before
                    && cursor.is_nothing()
                    && let Some(whole) = number_cut_by_comma(before.look_text().unwrap_or_default(), key)
                {
                    cut.push(*field);
                    cursor.key_fault(
                        format!("a comma ends the value here, so `{key}` stands alone"),
                        format!("write `{whole}`"),
                    );
                    continue;
                }
                let free = known
                    .iter()
                    .copied()
                    .filter(|k| !entries.iter().any(|(e, _)| e == k));
                let mend = match nearest(key, free) {
                    Some(near) => {
                        meant.push(near.to_owned());
                        format!("did you mean `{near}`?")
                    }
                    None if cursor.is_nothing() && key.contains(' ') => {
                        "put text that holds a comma in quotes".to_owned()
                    }
                    None => format!("the fields here are {}", listed(known)),
                };
                cursor.key_fault(format!("there is no field `{key}` here"), mend);
            }
        }
        Some(Fields {
            at: self.clone(),
            entries,
            meant,
            cut,
        })
    }
}

/// The number that was meant by `1,200 m` or `1,5 m` inside braces or brackets.
pub(super) fn number_cut_by_comma(before: &str, behind: &str) -> Option<String> {
    let figures = behind.bytes().take_while(u8::is_ascii_digit).count();
    let cut = figures > 0 && !before.is_empty() && before.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    cut.then(|| {
        let between = if figures == 3 { "" } else { "." };
        format!("{before}{between}{behind}")
    })
}

/// Words as a list for people: `a`, `b` and `c`.
pub(super) fn listed(words: &[impl AsRef<str>]) -> String {
    match words {
        [] => "none".to_owned(),
        [one] => format!("`{}`", one.as_ref()),
        [first @ .., last] => {
            let first: Vec<String> = first.iter().map(|w| format!("`{}`", w.as_ref())).collect();
            format!("{} and `{}`", first.join(", "), last.as_ref())
        }
    }
}

/// The fields of a map.
pub(super) struct Fields<'d> {
    /// The map itself.
    pub(super) at: Cursor<'d>,
    entries: Vec<(&'d str, Cursor<'d>)>,
    /// Fields that were offered for misspelt ones.
    meant: Vec<String>,
    /// Fields whose value a comma has cut short; the fault of what stands behind it says it all.
    cut: Vec<&'d str>,
}

impl<'d> Fields<'d> {
    /// Whether a field is there, with a value or without.
    pub(super) fn has(&self, name: &str) -> bool {
        self.entries.iter().any(|(key, _)| *key == name)
    }

    /// A field that may be left out; a fault where it is there without a value.
    pub(super) fn get(&self, name: &str) -> Option<Cursor<'d>> {
        let (_, cursor) = self.entries.iter().find(|(key, _)| *key == name)?;
        if self.cut.contains(&name) {
            return None;
        }
        if cursor.is_nothing() {
            cursor.key_fault(
                format!("`{name}` has no value"),
                "write its value, or take the field out",
            );
            return None;
        }
        Some(cursor.clone())
    }

    /// A field that must be there; `example` shows how it is written.
    pub(super) fn need(&self, name: &str, example: &str) -> Option<Cursor<'d>> {
        if !self.has(name) {
            if self.meant.iter().any(|meant| meant == name) {
                // The fault of the misspelt field says it all.
                return None;
            }
            let whose = match self.at.path() {
                "" => "the file".to_owned(),
                _ => self.at.called(),
            };
            self.at.fault(
                format!("{whose} has no `{name}`"),
                format!("add it, such as `{name}: {example}`"),
            );
            return None;
        }
        self.get(name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Doc<'_> {
        Doc::read(text, "x.yaml").unwrap()
    }

    fn refused(text: &str) -> String {
        match Doc::read(text, "x.yaml") {
            Ok(doc) => panic!("read: {:?}", doc.root),
            Err(faults) => faults.to_string(),
        }
    }

    #[test]
    fn figures_and_words_stay_as_typed() {
        let doc = read("k: 0.50\nw: no\no: [yes, off, 010, 1_000, .nan]\nq: '~'\n");
        let f = doc.root().fields(&["k", "w", "o", "q"]).unwrap();
        assert_eq!(f.get("k").unwrap().text(), Some("0.50"));
        assert_eq!(f.get("w").unwrap().text(), Some("no"));
        let words: Vec<_> = f.get("o").unwrap().list().unwrap();
        let words: Vec<_> = words.iter().map(|c| c.text().unwrap()).collect();
        assert_eq!(words, ["yes", "off", "010", "1_000", ".nan"]);
        assert_eq!(f.get("q").unwrap().text(), Some("~"));
    }

    #[test]
    fn faults_come_all_at_once_in_the_order_of_the_file() {
        let doc = read("b: {x: 1}\nlenght: 3\na:\n");
        let f = doc.root().fields(&["a", "b", "length", "d"]).unwrap();
        f.need("d", "4");
        f.get("a");
        f.get("b").unwrap().text();
        let faults = doc.finish(Some(())).unwrap_err();
        assert_eq!(
            faults.to_string(),
            "error: the file has no `d`\n  at: x.yaml:1:1\nmend: add it, such as `d: 4`\n\n\
             error: `b` needs a single value, but has fields\n  at: x.yaml:1:4 (b)\n\
             mend: write one value; put text that begins with `{` or `[` in quotes\n\n\
             error: there is no field `lenght` here\n  at: x.yaml:2:1 (lenght)\nmend: did you mean `length`?\n\n\
             error: `a` has no value\n  at: x.yaml:3:1 (a)\nmend: write its value, or take the field out"
        );
    }

    #[test]
    fn what_the_guards_refuse_is_named_with_its_place() {
        assert!(refused("a: &x 1\nb: *x\n").contains("x.yaml:1:"));
        assert!(refused("a: 1\nb: 2\na: 3\n").contains("`a` is written twice\n  at: x.yaml:3:1"));
        assert!(refused("a: 1\n---\nb: 2\n").contains("second document"));
        assert!(refused("? [a, b]\n: 1\n").contains("x.yaml:1:3"));
        assert!(refused("a: {{ Q }}\n").contains("in quotes"));
        assert!(refused("a:\n\tb: 1\n").contains("indented with a tab\n  at: x.yaml:2:1"));
        assert!(refused("a: !!str 1\n").contains("tags"));
        assert!(refused("a: 1\0\n").contains("control character (U+0000)\n  at: x.yaml:1:5"));
        assert!(refused("").contains("empty"));
        assert!(refused("a: b: c\n").contains("x.yaml:1:5"));
        let deep = format!("{}1{}", "[".repeat(40), "]".repeat(40));
        assert!(refused(&deep).contains("deeper"));
    }

    #[test]
    fn a_byte_order_mark_is_passed_over() {
        let doc = read("\u{feff}a: 1\n");
        assert!(doc.root().fields(&["a"]).unwrap().get("a").is_some());
    }

    #[test]
    fn a_place_inside_a_text_is_found_again() {
        let doc = read("a: |\n  one\n\n  three é x\nb: V / Z\nc: 'V / Z'\n");
        let f = doc.root().fields(&["a", "b", "c"]).unwrap();
        let a = f.get("a").unwrap();
        let offset = a.raw_text().unwrap().find('x').unwrap();
        assert_eq!(a.mark_inside(offset), Some(Mark { line: 4, column: 11 }));
        assert_eq!(
            f.get("b").unwrap().mark_inside(4),
            Some(Mark { line: 5, column: 8 })
        );
        assert_eq!(
            f.get("c").unwrap().mark_inside(4),
            Some(Mark { line: 6, column: 9 })
        );
    }
}
