//! What labels say: names and values, as the handout prints them.

use super::sheet::SIZE;
use crate::bank::system::Value;
use crate::figure::svg::Words;
use crate::quantity::{DecimalMark, PressureReference, Written};

/// Longest line of a name \[mm\].
const LINE: f64 = 34.0;
/// Most lines of a name; the rest is cut.
const LINES: usize = 3;

/// How numbers are said.
#[derive(Clone, Copy)]
pub(super) struct Say<'a> {
    pub(super) mark: DecimalMark,
    /// Values that nobody is told, and what stands in their place.
    pub(super) unworked: &'a [(Written, String)],
}

/// A value in SI, if it is known.
pub(super) fn number(value: &Value) -> Option<f64> {
    match value {
        Value::Known(written) => Some(written.quantity().value).filter(|v| v.is_finite()),
        Value::Unknown | Value::Formula(_) => None,
    }
}

/// Whether a value is a nought that says nothing: not an absolute pressure.
pub(super) fn is_nought(value: &Value) -> bool {
    match value {
        Value::Known(w) => w.number == 0.0 && w.unit.reference != Some(PressureReference::Absolute),
        _ => false,
    }
}

impl Say<'_> {
    /// A value as written, or a question mark.
    pub(super) fn value(self, value: &Value) -> String {
        match value {
            Value::Known(written) => self.written(written),
            Value::Unknown | Value::Formula(_) => "?".to_owned(),
        }
    }

    pub(super) fn written(self, written: &Written) -> String {
        match self.unworked.iter().find(|(value, _)| value == written) {
            Some((_, formula)) => formula.clone(),
            None => written.plain(self.mark),
        }
    }

    /// A number of a table, as it stands there.
    pub(super) fn plain_number(self, number: f64) -> String {
        let text = format!("{number}");
        match self.mark {
            DecimalMark::Point => text,
            DecimalMark::Comma => text.replace('.', ","),
        }
    }

    /// `z₁ = 12.0 m`.
    pub(super) fn equal(self, symbol: &str, sub: &str, value: &Value) -> Words {
        symbol_of(symbol, sub).upright(&format!(" = {}", self.value(value)))
    }
}

/// A symbol with a subscript or without.
pub(super) fn symbol_of(symbol: &str, sub: &str) -> Words {
    let words = Words::plain("").italic(symbol);
    if sub.is_empty() { words } else { words.lowered(sub) }
}

/// Two texts on one line, with a comma between.
pub(super) fn side_by_side(a: Words, b: &Words) -> Words {
    a.upright(", ").joined(b)
}

/// A name on lines of its own, cut where it is too long.
pub(super) fn name(text: &str) -> Vec<Words> {
    name_within(text, LINE)
}

/// The same on lines of at most a width \[mm\].
pub(super) fn name_within(text: &str, most: f64) -> Vec<Words> {
    let fits = |line: &str| Words::plain(line).width(SIZE) <= most;
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    let clean: String = (text.chars())
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    for word in clean.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if fits(&longer) {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        // A word that is too long by itself is broken anywhere.
        for letter in word.chars() {
            line.push(letter);
            if !fits(&line) {
                line.pop();
                lines.push(std::mem::take(&mut line));
                line.push(letter);
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    if lines.len() > LINES {
        lines.truncate(LINES);
        if let Some(last) = lines.last_mut() {
            last.pop();
            last.push('…');
        }
    }
    lines.into_iter().map(Words::plain).collect()
}
