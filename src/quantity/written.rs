//! A quantity as somebody wrote it: number, figures and unit kept.

use super::number::{MOST_FIGURES, is_blank, is_minus, round_to_figures, scan};
use super::{DecimalMark, Dimension, Quantity, Shown, Unit};
use std::fmt;

/// Why a text is not a quantity; turned into a fault by whoever knows the place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuantityError {
    /// What is wrong.
    pub what: String,
    /// How to mend it.
    pub mend: Option<String>,
}

impl QuantityError {
    pub(super) fn new(what: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            mend: None,
        }
    }

    pub(super) fn mend(mut self, mend: impl Into<String>) -> Self {
        self.mend = Some(mend.into());
        self
    }
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.what)?;
        match &self.mend {
            Some(mend) => write!(f, "; {mend}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for QuantityError {}

/// A number with its unit as written: `2.50 L/s` keeps three figures and the unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// The number, in `unit`.
    pub number: f64,
    /// The number as it is to be printed again, with the figures that were typed.
    pub shown: Shown,
    /// Significant figures typed (trailing zeros of a whole number count: `350 kPa` has three).
    pub figures: u32,
    /// The unit; [`Unit::none`] where none was typed.
    pub unit: Unit,
}

/// Longest text that is read, in characters. No quantity needs half of it.
pub(super) const LONGEST: usize = 200;
/// Longest name that may stand before an equals sign, in characters.
const LONGEST_NAME: usize = 40;

impl Written {
    /// Reads a quantity: `2.5 L/s`, `0,0016 m³/s`, `1.6×10⁻³ m3/s`, `1 1/2 in`, `12 psi`, `0.02`.
    ///
    /// Also read: a name and an equals sign before it (`Q = 2.5 L/s`), `about` and `≈`, thousands set apart
    /// by blanks, commas, points or apostrophes where that leaves one reading (`1 200 kPa`,
    /// `1,200.5 kPa`; a single point is always the decimal mark), and lengths and times in two units (`5 ft 6 in`), which become a number of the first.
    /// A fraction such as `1 1/2` is exact and has at least three figures.
    ///
    /// # Errors
    /// Says what could not be read; never guesses between two readings (`1,200 kPa`).
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        Self::parse_in(text, DecimalMark::Point)
    }

    /// Reads a quantity as [`Written::parse`] does, where `usual` is the decimal mark of those who write.
    ///
    /// With the comma, `1,200 kPa` is 1.200 kPa, and `1.200 kPa` is what has two readings.
    ///
    /// # Errors
    /// As [`Written::parse`].
    pub fn parse_in(text: &str, usual: DecimalMark) -> Result<Self, QuantityError> {
        if text.len() > LONGEST && text.chars().count() > LONGEST {
            return Err(
                QuantityError::new(format!("the text is longer than {LONGEST} characters"))
                    .mend("write a number and its unit only, such as `2.5 L/s`"),
            );
        }
        let body = strip_lead(text)?;
        if body.is_empty() {
            return Err(QuantityError::new("nothing is written here")
                .mend("write a number and its unit, such as `2.5 L/s`"));
        }
        let mut cursor = Cursor::new(body);
        let number = scan(&mut cursor, usual)?;
        let rest = cursor.rest().trim_matches(is_blank);
        if rest.is_empty() {
            return Ok(Self {
                number: number.value,
                shown: number.shown,
                figures: number.figures,
                unit: Unit::none(),
            });
        }
        check_rest(rest, body)?;
        if let Some(sum) = two_units(number.value, rest, body, usual)? {
            return Ok(sum);
        }
        Ok(Self {
            number: number.value,
            shown: number.shown,
            figures: number.figures,
            unit: match rest.strip_prefix('/') {
                // `0.12/kWh`
                Some(below) if below.starts_with(char::is_alphabetic) => Unit::parse(&format!("1{rest}"))?,
                _ => Unit::parse(rest)?,
            },
        })
    }

    /// `si` written with `figures` significant figures in `unit`.
    ///
    /// The number kept is the one that is printed, not the one before rounding. With a unit, zeros fill it up to the point.
    pub fn from_si(si: f64, unit: &Unit, figures: u32) -> Self {
        let number = unit.from_si(si);
        let shown = if unit.symbol.is_empty() {
            Shown::new(number, figures)
        } else {
            Shown::filled(number, figures)
        };
        Self {
            number: shown.value(),
            shown,
            figures: figures.clamp(1, MOST_FIGURES),
            unit: unit.clone(),
        }
    }

    /// `si` written as [`Written::from_si`] does, but with one or two figures more where whoever rounds the printed number
    /// would come to another number than by rounding `si`: 19.948 as `19.948`, not as `19.95`, which is 20.0 to three figures.
    pub fn to_be_rounded(si: f64, unit: &Unit, figures: u32) -> Self {
        let number = unit.from_si(si);
        let misleads = |written: &Self| {
            (2..written.figures).any(|f| round_to_figures(written.number, f) != round_to_figures(number, f))
        };
        let mut written = Self::from_si(si, unit, figures);
        for more in 1..=2 {
            if !misleads(&written) {
                break;
            }
            written = Self::from_si(si, unit, figures + more);
        }
        written
    }

    /// The value in SI with its dimension, computed from the printed number.
    pub fn quantity(&self) -> Quantity {
        Quantity::new(self.unit.to_si(self.number), self.unit.dimension)
    }

    /// Plain text: `2.50 L/s`, `0.12/kWh`.
    pub fn plain(&self, mark: DecimalMark) -> String {
        let mut out = self.shown.plain(mark);
        if let Some(below) = self.unit.symbol.strip_prefix("1/") {
            out.push('/');
            out.push_str(below);
        } else if !self.unit.symbol.is_empty() {
            // An angle's degree sign stands close (SI Brochure, 5.4.3).
            if self.unit.symbol != "°" {
                out.push(' ');
            }
            out.push_str(&self.unit.symbol);
        }
        out
    }

    /// LaTeX maths: `2.50\,\mathrm{L/s}`, `0.12\mathrm{/kWh}`.
    pub fn latex(&self, mark: DecimalMark) -> String {
        let mut out = self.shown.latex(mark);
        if self.unit.symbol.starts_with("1/") {
            out.push_str(&self.unit.latex().replacen("{1/", "{/", 1));
        } else if !self.unit.symbol.is_empty() {
            if self.unit.symbol != "°" {
                out.push_str("\\,");
            }
            out.push_str(&self.unit.latex());
        }
        out
    }

    /// ASCII that this program reads back: `2.50 L/s`, `1.60e-3 m^3/s`.
    pub fn ascii(&self) -> String {
        let mut out = self.shown.ascii();
        if !self.unit.symbol.is_empty() {
            out.push(' ');
            out.push_str(&self.unit.ascii());
        }
        out
    }
}

/// The text without blanks around it, without a name and equals sign or `about` before it, and without
/// the full stop that ends a sentence.
fn strip_lead(text: &str) -> Result<&str, QuantityError> {
    let whole = text.trim_matches(is_blank);
    let mut body = whole;
    if let Some(at) = whole.rfind(is_equals) {
        let named = whole.split(is_equals);
        let count = named.clone().count();
        for name in named.take(count - 1) {
            let name = name.trim_matches(is_blank);
            let is_name = name.is_empty()
                || name
                    .chars()
                    .next()
                    .is_some_and(|c| c.is_alphabetic() || c == '\\')
                    && name.chars().count() <= LONGEST_NAME;
            if !is_name {
                return Err(
                    QuantityError::new(format!("more than one value stands in `{whole}`"))
                        .mend("write one value with its unit"),
                );
            }
        }
        let width = whole[at..].chars().next().map_or(1, char::len_utf8);
        body = &whole[at + width..];
    } else if let Some((name, value)) = whole.split_once(':')
        && name.chars().next().is_some_and(char::is_alphabetic)
        && name.chars().count() <= LONGEST_NAME
    {
        body = value;
    }
    body = body.trim_matches(is_blank);
    loop {
        let before = body;
        for word in [
            "approximately",
            "approx.",
            "approx",
            "about",
            "circa",
            "ca.",
            "ca",
        ] {
            if let Some(head) = body.get(..word.len())
                && head.eq_ignore_ascii_case(word)
                && body[word.len()..].starts_with(|c: char| is_blank(c) || c.is_ascii_digit())
            {
                body = &body[word.len()..];
            }
        }
        body = body.trim_start_matches(|c| is_blank(c) || matches!(c, '≈' | '~' | '∼' | '≃' | '≅'));
        if body == before {
            break;
        }
    }
    Ok(body.trim_end_matches(|c| is_blank(c) || matches!(c, '.' | ',' | ';')))
}

fn is_equals(c: char) -> bool {
    matches!(c, '=' | '≈' | '≃' | '≅')
}

/// Refuses what people write behind a number that is no unit.
fn check_rest(rest: &str, body: &str) -> Result<(), QuantityError> {
    let lead = rest.chars().next().unwrap_or(' ');
    if lead == '±' || rest.starts_with("+/-") || rest.starts_with("+-") {
        return Err(
            QuantityError::new(format!("`{body}` gives a value and its doubt"))
                .mend("write the value alone, with its unit"),
        );
    }
    if matches!(lead, '-' | '–' | '−' | '…') && rest.contains(|c: char| c.is_ascii_digit())
        || rest.starts_with("to ")
        || rest.starts_with("..")
    {
        return Err(
            QuantityError::new(format!("`{body}` is not one number and its unit"))
                .mend("write one value, such as `2.5 L/s`"),
        );
    }
    if lead.is_ascii_digit() && !rest.starts_with("1/") || matches!(lead, ',' | '+') {
        return Err(
            QuantityError::new(format!("more than one number stands in `{body}`"))
                .mend("write one number and its unit, such as `2.5 L/s`"),
        );
    }
    Ok(())
}

/// `5 ft 6 in` or `1 h 30 min`, as a number of the first unit.
fn two_units(
    first: f64,
    rest: &str,
    body: &str,
    usual: DecimalMark,
) -> Result<Option<Written>, QuantityError> {
    // Cheap test first: the second number stands behind a blank or a foot mark.
    let mut before = ' ';
    let mut split = None;
    for (at, c) in rest.char_indices() {
        if c.is_ascii_digit() && at > 0 && (is_blank(before) || matches!(before, '\'' | '′')) {
            split = Some(at);
            break;
        }
        before = c;
    }
    let Some(split) = split else { return Ok(None) };
    let Ok(large) = Unit::parse(&rest[..split]) else {
        return Ok(None);
    };
    let mut cursor = Cursor::new(&rest[split..]);
    let second = scan(&mut cursor, usual)?;
    let small = Unit::parse(cursor.rest())?;
    let fits = large.dimension == small.dimension
        && matches!(large.dimension, Dimension::LENGTH | Dimension::TIME)
        && small.factor < large.factor
        && first == libm::trunc(first)
        // `-0 ft 6 in` would lose its sign.
        && !(first == 0.0 && body.starts_with(is_minus))
        && second.value * small.factor < large.factor;
    if !fits {
        return Err(
            QuantityError::new(format!("`{body}` can't be read as one quantity in two units"))
                .mend("write one number and its unit, such as `2.5 L/s`"),
        );
    }
    let part = second.value * small.factor / large.factor;
    let number = if first.is_sign_negative() {
        first - part
    } else {
        first + part
    };
    let shown = Shown::whole(number, 3);
    Ok(Some(Written {
        number,
        figures: 3,
        shown,
        unit: large,
    }))
}

/// A place in a text that is read from left to right.
pub(super) struct Cursor<'a> {
    text: &'a str,
    pos: usize,
}

impl<'a> Cursor<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Self { text, pos: 0 }
    }

    pub(super) fn text(&self) -> &'a str {
        self.text
    }

    pub(super) fn pos(&self) -> usize {
        self.pos
    }

    pub(super) fn back_to(&mut self, pos: usize) {
        self.pos = pos;
    }

    pub(super) fn rest(&self) -> &'a str {
        &self.text[self.pos..]
    }

    pub(super) fn since(&self, start: usize) -> &'a str {
        &self.text[start..self.pos]
    }

    pub(super) fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    pub(super) fn peek_second(&self) -> Option<char> {
        self.rest().chars().nth(1)
    }

    pub(super) fn bump(&mut self) {
        if let Some(c) = self.peek() {
            self.pos += c.len_utf8();
        }
    }

    pub(super) fn eat(&mut self, text: &str) -> bool {
        let there = self.rest().starts_with(text);
        if there {
            self.pos += text.len();
        }
        there
    }

    /// Whether there was any.
    pub(super) fn skip_blanks(&mut self) -> bool {
        let start = self.pos;
        while self.peek().is_some_and(is_blank) {
            self.bump();
        }
        self.pos > start
    }

    pub(super) fn digits(&mut self) -> &'a str {
        let rest = self.rest();
        let len = rest.bytes().take_while(u8::is_ascii_digit).count();
        self.pos += len;
        &rest[..len]
    }

    /// Whether one character and then exactly three digits follow, which start no fraction.
    pub(super) fn three_digits_follow(&self) -> bool {
        let mut chars = self.rest().chars().skip(1);
        if !chars.by_ref().take(3).filter(char::is_ascii_digit).count().eq(&3) {
            return false;
        }
        match chars.next() {
            Some(c) if c.is_ascii_digit() => false,
            Some('/' | '⁄' | '∕') => !chars.next().is_some_and(|c| c.is_ascii_digit()),
            _ => true,
        }
    }
}
