//! Units: symbols people write, and their exact factors (NIST SP 811).
//!
//! The table of units is in `table.rs`; this file reads and writes combinations of them.

use super::dimension::reduced;
use super::number::{from_superscript, is_blank, is_minus, push_superscript};
use super::table::{self, Entry, Scale};
use super::written::{Cursor, LONGEST};
use super::{Dimension, QuantityError};
use std::borrow::Cow;
use std::fmt::Write as _;

/// What a pressure is measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PressureReference {
    /// From the air outside: `psig`, `kPa gauge`.
    Gauge,
    /// From vacuum: `psia`, `kPa abs`.
    Absolute,
}

/// A unit: `SI value = number * factor + offset`.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// How it is printed, in plain text: `L/s`, `m³/s`, `°C`; empty for a pure number.
    pub symbol: String,
    /// SI units in one of it.
    pub factor: f64,
    /// SI value of its zero; only temperatures have one.
    pub offset: f64,
    /// Its dimension.
    pub dimension: Dimension,
    /// Gauge or absolute, where the text said so. A tag only: it never shifts the value.
    pub reference: Option<PressureReference>,
}

/// Words inside a unit's symbol that belong to US customary units.
const US_WORDS: &[&str] = &[
    "in", "ft", "yd", "mi", "psi", "psig", "psia", "psf", "ksi", "gpm", "gph", "gpd", "MGD", "mgd", "gal",
    "cfs", "cfm", "hp", "lb", "lbm", "lbf", "slug", "inHg", "inH", "ftH", "degF", "°F", "R", "°R", "degR",
    "ac", "acre", "BTU", "Btu",
];

/// Most units in one combination.
const MOST_TERMS: usize = 16;
/// Deepest nesting of parentheses.
const DEEPEST: usize = 8;
/// Largest exponent that is read, in twelfths.
const LARGEST_EXPONENT: i32 = 12 * 12;

impl Unit {
    /// Reads a unit: `L/s`, `gpm`, `m^3/s`, `kg/(m s)`, `psi`, `degC`, `kPa gauge`.
    ///
    /// Units are multiplied by a blank, `·`, `*`, `.` or a hyphen between letters, and divided by `/` or
    /// `per`. Exponents are written `m^3`, `m**3`, `m³`, `m3`, `s^-1`, `s-1`, `m^(1/3)`. After a `/`, a
    /// product needs parentheses. Small and capital letters differ, as in `mPa` and `MPa`.
    ///
    /// # Errors
    /// Says what could not be read and, where one is near, which unit was probably meant.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        if text.len() > LONGEST && text.chars().count() > LONGEST {
            return Err(QuantityError::new(format!(
                "the unit is longer than {LONGEST} characters"
            )));
        }
        let text = text.trim_matches(is_blank);
        // Most texts are one known spelling.
        if let Some(entry) = table::find(text) {
            return Ok(Self::single(entry));
        }
        let text = text.trim_end_matches(|c| is_blank(c) || matches!(c, '.' | ',' | ';'));
        if matches!(
            text,
            "" | "1" | "-" | "–" | "[-]" | "[–]" | "(-)" | "dimensionless"
        ) {
            return Ok(Self::none());
        }
        let Some((body, reference)) = split_reference(text) else {
            return Self::combination(text);
        };
        let mut unit = match Self::combination(body) {
            Ok(unit) if unit.dimension == Dimension::PRESSURE => unit,
            // `kg g` is no gauge pressure; let the whole text be read or refused as it stands.
            _ if text.ends_with([' ', 'g', 'a']) => return Self::combination(text),
            Ok(_) => {
                return Err(
                    QuantityError::new(format!("`{text}`: only a pressure is gauge or absolute"))
                        .mend(format!("write `{body}`")),
                );
            }
            Err(error) => return Err(error),
        };
        if unit.reference.is_some_and(|own| own != reference) {
            return Err(QuantityError::new(format!(
                "`{text}` says both gauge and absolute"
            )));
        }
        unit.tag(reference);
        Ok(unit)
    }

    /// The unit of a pure number.
    pub fn none() -> Self {
        Self {
            symbol: String::new(),
            factor: 1.0,
            offset: 0.0,
            dimension: Dimension::NONE,
            reference: None,
        }
    }

    /// Whether it is one of the US customary units and not of SI; `None` where it is of both, as seconds are.
    pub fn is_us_customary(&self) -> Option<bool> {
        let of_both = |word: &&str| {
            matches!(
                *word,
                "s" | "min" | "h" | "d" | "day" | "yr" | "rad" | "deg" | "rev" | "rpm" | "Hz" | "kWh"
            )
        };
        let mut words = (self.symbol.split(|c: char| !(c.is_alphabetic() || c == '°')))
            .filter(|word| !word.is_empty())
            .filter(|word| !of_both(word))
            .peekable();
        words.peek()?;
        Some(words.any(|word| US_WORDS.contains(&word)))
    }

    /// A number of this unit, in SI.
    pub fn to_si(&self, number: f64) -> f64 {
        number * self.factor + self.offset
    }

    /// An SI value, as a number of this unit.
    pub fn from_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }

    /// LaTeX maths for the symbol: `\mathrm{m^{3}/s}`; empty for a pure number.
    pub fn latex(&self) -> String {
        match self.symbol.as_str() {
            "" => return String::new(),
            "°" => return "^{\\circ}".to_string(),
            _ => {}
        }
        let mut out = String::with_capacity(self.symbol.len() + 24);
        // `°C` alone: the degree sign is set outside, as is usual.
        let body = match self.symbol.strip_prefix('°') {
            Some(rest) => {
                out.push_str("^{\\circ}");
                rest
            }
            None => &self.symbol,
        };
        out.push_str("\\mathrm{");
        let mut chars = body.chars().peekable();
        while let Some(c) = chars.next() {
            if let Some(first) = from_superscript(c) {
                out.push_str("^{");
                out.push(first);
                while let Some(next) = chars.peek().copied().and_then(from_superscript) {
                    out.push(next);
                    chars.next();
                }
                out.push('}');
                continue;
            }
            match c {
                '^' if chars.peek() == Some(&'(') => {
                    chars.next();
                    out.push_str("^{");
                    for c in chars.by_ref() {
                        if c == ')' {
                            break;
                        }
                        out.push(c);
                    }
                    out.push('}');
                }
                'µ' => out.push_str("\\mu{}"),
                '·' => out.push_str("{\\cdot}"),
                '°' => out.push_str("{}^{\\circ}"),
                '₂' => out.push_str("_{2}"),
                '%' => out.push_str("\\%"),
                ' ' => out.push_str("\\ "),
                _ => out.push(c),
            }
        }
        out.push('}');
        out
    }

    /// ASCII for the symbol, which [`Unit::parse`] reads back: `m^3/s`, `degC`, `um`.
    pub fn ascii(&self) -> String {
        let mut out = String::with_capacity(self.symbol.len() + 4);
        let mut raised = false;
        for c in self.symbol.chars() {
            if let Some(digit) = from_superscript(c) {
                if !raised {
                    out.push('^');
                }
                out.push(digit);
                raised = true;
                continue;
            }
            raised = false;
            match c {
                '°' => out.push_str("deg"),
                'µ' => out.push('u'),
                '·' => out.push('*'),
                '₂' => out.push('2'),
                _ => out.push(c),
            }
        }
        out
    }

    /// Whether it is the unit of a pure number and prints as nothing.
    pub fn is_none(&self) -> bool {
        self.symbol.is_empty()
    }

    fn single(entry: &Entry) -> Self {
        Self {
            symbol: entry.symbol.clone(),
            factor: entry.factor,
            offset: entry.def.offset,
            dimension: entry.def.dimension,
            reference: entry.def.reference,
        }
    }

    fn tag(&mut self, reference: PressureReference) {
        if self.reference.is_some() {
            return;
        }
        self.reference = Some(reference);
        self.symbol.push_str(match (reference, self.symbol.as_str()) {
            (PressureReference::Gauge, "psi") => "g",
            (PressureReference::Absolute, "psi") => "a",
            (PressureReference::Gauge, _) => " gauge",
            (PressureReference::Absolute, _) => " abs",
        });
    }

    fn combination(text: &str) -> Result<Self, QuantityError> {
        let mut reader = Reader {
            cursor: Cursor::new(text),
            terms: Vec::with_capacity(4),
            joint_start: 0,
        };
        reader.group(0)?;
        if reader.cursor.peek().is_some() {
            return Err(reader.unreadable(reader.cursor.pos()));
        }
        compose(text, &reader.terms)
    }
}

/// One unit of a combination.
struct Term {
    entry: &'static Entry,
    /// Exponent in twelfths, without the sign of the side on which it stands.
    exponent: i32,
    /// Whether it stands below the line.
    below: bool,
    reference: Option<PressureReference>,
}

/// Reads a combination of units from left to right.
struct Reader<'a> {
    cursor: Cursor<'a>,
    terms: Vec<Term>,
    /// Where the joint that was read last begins.
    joint_start: usize,
}

/// What stands between two units.
#[derive(PartialEq)]
enum Joint {
    Times,
    Over,
    End,
}

impl<'a> Reader<'a> {
    /// Units up to the end of the text or of the parentheses.
    fn group(&mut self, depth: usize) -> Result<(), QuantityError> {
        if depth > DEEPEST {
            return Err(QuantityError::new("the unit has too many parentheses"));
        }
        self.cursor.skip_blanks();
        let group_start = self.cursor.pos();
        // `1/s` and `/s`
        let one = self.cursor.eat("1");
        let mut over = None;
        let joint_first = self.joint();
        if joint_first == Joint::Over {
            over = Some((self.joint_start, self.cursor.pos()));
        } else if one || self.cursor.pos() != self.joint_start {
            return Err(self.unreadable(group_start));
        }
        loop {
            let start = self.terms.len();
            self.factor(depth)?;
            if over.is_some() {
                for term in &mut self.terms[start..] {
                    term.below = !term.below;
                }
            }
            match (self.joint(), over) {
                (Joint::End, _) => return Ok(()),
                (Joint::Over, _) => over = Some((self.joint_start, self.cursor.pos())),
                (Joint::Times, Some(over)) => return Err(self.ambiguous(group_start, over)),
                (Joint::Times, None) => {}
            }
        }
    }

    /// One unit or a group in parentheses, with its exponent.
    fn factor(&mut self, depth: usize) -> Result<(), QuantityError> {
        self.cursor.skip_blanks();
        let start = self.terms.len();
        let close = match self.cursor.peek() {
            Some('(') => Some(')'),
            Some('[') => Some(']'),
            _ => None,
        };
        let power = if let Some(close) = close {
            self.cursor.bump();
            self.group(depth + 1)?;
            self.cursor.skip_blanks();
            if self.cursor.peek() != Some(close) {
                return Err(QuantityError::new(format!(
                    "a `{close}` is missing in the unit `{}`",
                    self.cursor.text()
                )));
            }
            self.cursor.bump();
            1
        } else {
            self.word()?
        };
        if self.terms.len() > MOST_TERMS {
            return Err(QuantityError::new(format!(
                "the unit `{}` has more than {MOST_TERMS} parts",
                self.cursor.text()
            )));
        }
        let exponent_start = self.cursor.pos();
        let exponent = match self.exponent()? {
            Some(_) if power != 1 => return Err(self.unreadable(exponent_start)),
            Some(twelfths) => twelfths,
            None => 12 * power,
        };
        for term in &mut self.terms[start..] {
            let product = term.exponent * exponent;
            if product % 12 != 0 || product.abs() / 12 > LARGEST_EXPONENT {
                return Err(self.odd_exponent());
            }
            term.exponent = product / 12;
        }
        Ok(())
    }

    /// One unit in letters. Gives the power that `square` or `cubic` before it asks for.
    fn word(&mut self) -> Result<i32, QuantityError> {
        let mut start = self.cursor.pos();
        let mut word = letters(&mut self.cursor);
        let power = match word {
            "square" | "sq" | "Square" => 2,
            "cubic" | "cu" | "Cubic" => 3,
            _ => 1,
        };
        if power != 1 {
            self.cursor.eat(".");
            self.cursor.skip_blanks();
            start = self.cursor.pos();
            word = letters(&mut self.cursor);
        }
        if word.is_empty() {
            return Err(self.unreadable(start));
        }
        if table::leads(word)
            && let Some(entry) = self.second_word(word)
        {
            self.push(entry, None);
            return Ok(power);
        }
        // The Greek letter does for the micro sign.
        let spelling = if word.contains('μ') {
            Cow::Owned(word.replace('μ', "µ"))
        } else {
            Cow::Borrowed(word)
        };
        if let Some(entry) = table::find(&spelling).or_else(|| table::find_word(&spelling)) {
            self.push(entry, None);
            return Ok(power);
        }
        for (letter, reference) in [
            ('g', PressureReference::Gauge),
            ('a', PressureReference::Absolute),
        ] {
            if let Some(entry) = spelling
                .strip_suffix(letter)
                .and_then(|unit| table::find(unit.trim_end_matches('_')))
                && entry.def.dimension == Dimension::PRESSURE
                && entry.def.reference.is_none()
            {
                self.push(entry, Some(reference));
                return Ok(power);
            }
        }
        Err(table::unknown(&spelling))
    }

    /// The unit of two words that `first` begins (`in Hg`, `US gal`, `feet of water`).
    fn second_word(&mut self, first: &str) -> Option<&'static Entry> {
        let start = self.cursor.pos();
        self.cursor.eat(".");
        self.cursor.skip_blanks();
        let mut second = letters(&mut self.cursor);
        if second == "of" {
            self.cursor.skip_blanks();
            second = letters(&mut self.cursor);
        }
        if second.is_empty() {
            self.cursor.back_to(start);
            return None;
        }
        let both = format!("{first} {second}");
        let entry = table::find(&both).or_else(|| table::find_word(&both));
        if entry.is_none() {
            self.cursor.back_to(start);
        }
        entry
    }

    fn push(&mut self, entry: &'static Entry, reference: Option<PressureReference>) {
        self.terms.push(Term {
            entry,
            exponent: 12,
            below: false,
            reference: reference.or(entry.def.reference),
        });
    }

    /// The exponent behind a unit, in twelfths.
    fn exponent(&mut self) -> Result<Option<i32>, QuantityError> {
        let start = self.cursor.pos();
        // `in.^2`
        if self.cursor.peek() == Some('.')
            && self
                .cursor
                .peek_second()
                .is_some_and(|c| c == '^' || from_superscript(c).is_some())
        {
            self.cursor.bump();
        }
        let mut raised = String::new();
        while let Some(c) = self.cursor.peek().and_then(from_superscript) {
            raised.push(c);
            self.cursor.bump();
        }
        if !raised.is_empty() {
            return match raised.parse::<i32>() {
                Ok(whole) if whole.abs() <= LARGEST_EXPONENT => Ok(Some(12 * whole)),
                _ => Err(self.odd_exponent()),
            };
        }
        if self.cursor.eat("^") || self.cursor.eat("**") {
            self.cursor.skip_blanks();
            let close = match self.cursor.peek() {
                Some('{') => "}",
                Some('(') => ")",
                _ => "",
            };
            if !close.is_empty() {
                self.cursor.bump();
            }
            let twelfths = self.twelfths(!close.is_empty())?;
            if !close.is_empty() && !self.cursor.eat(close) {
                return Err(self.odd_exponent());
            }
            return Ok(Some(twelfths));
        }
        if self.cursor.peek().is_some_and(|c| c.is_ascii_digit())
            || self.cursor.peek().is_some_and(is_minus)
                && self.cursor.peek_second().is_some_and(|c| c.is_ascii_digit())
        {
            let negative = self.cursor.peek().is_some_and(is_minus);
            if negative {
                self.cursor.bump();
            }
            let digits = self.cursor.digits();
            return match digits.parse::<i32>() {
                Ok(whole) if whole <= LARGEST_EXPONENT => {
                    Ok(Some(if negative { -12 * whole } else { 12 * whole }))
                }
                _ => Err(self.odd_exponent()),
            };
        }
        if self.cursor.skip_blanks() {
            match letters(&mut self.cursor) {
                "squared" => return Ok(Some(24)),
                "cubed" => return Ok(Some(36)),
                _ => {}
            }
        }
        self.cursor.back_to(start);
        Ok(None)
    }

    /// `-3`, `0.5`, and in parentheses `1/3`.
    fn twelfths(&mut self, fraction: bool) -> Result<i32, QuantityError> {
        let negative = self.cursor.peek().is_some_and(is_minus);
        if negative {
            self.cursor.bump();
        }
        let whole = self.cursor.digits();
        let mut numerator = whole.parse::<i32>().ok().filter(|n| *n <= LARGEST_EXPONENT);
        let mut denominator = 1;
        let digit_next = self.cursor.peek_second().is_some_and(|c| c.is_ascii_digit());
        if fraction && digit_next && self.cursor.eat("/") {
            denominator = self.cursor.digits().parse::<i32>().unwrap_or(0);
        } else if digit_next && self.cursor.eat(".") {
            let digits = self.cursor.digits();
            for digit in digits.bytes().take(4) {
                numerator = numerator.map(|n| 10 * n + i32::from(digit - b'0'));
                denominator *= 10;
            }
            if digits.len() > 4 {
                numerator = None;
            }
        }
        match numerator {
            Some(n) if (1..=10_000).contains(&denominator) && (12 * n) % denominator == 0 => {
                let twelfths = 12 * n / denominator;
                Ok(if negative { -twelfths } else { twelfths })
            }
            _ => Err(self.odd_exponent()),
        }
    }

    /// What joins the unit before the cursor to the next one; the cursor is left behind it.
    fn joint(&mut self) -> Joint {
        let start = self.cursor.pos();
        self.joint_start = start;
        let blanks = self.cursor.skip_blanks();
        let second = self.cursor.peek_second();
        match self.cursor.peek() {
            None | Some(')' | ']') => Joint::End,
            Some('/' | '∕') => {
                self.cursor.bump();
                Joint::Over
            }
            Some('·' | '⋅' | '∙' | '•' | '*' | '×') => {
                self.cursor.bump();
                Joint::Times
            }
            Some('.') if second.is_some_and(|c| c.is_alphabetic() || c == '(') => {
                self.cursor.bump();
                Joint::Times
            }
            // The full stop of an abbreviation: `in. / s`.
            Some('.') if !blanks => {
                self.cursor.bump();
                let joint = self.joint();
                self.joint_start = start;
                joint
            }
            Some(c) if is_minus(c) && second.is_some_and(char::is_alphabetic) => {
                self.cursor.bump();
                Joint::Times
            }
            Some('(' | '[') if start > 0 => Joint::Times,
            Some(_) => {
                let word_start = self.cursor.pos();
                if letters(&mut self.cursor) == "per" {
                    return Joint::Over;
                }
                self.cursor.back_to(word_start);
                if blanks && start > 0 {
                    Joint::Times
                } else {
                    Joint::End
                }
            }
        }
    }

    fn unreadable(&self, from: usize) -> QuantityError {
        let text = self.cursor.text();
        let rest = text[from..].trim_matches(is_blank);
        let what = if rest.is_empty() {
            format!("the unit `{text}` stops too early")
        } else if rest == text {
            format!("`{text}` is not a unit")
        } else {
            format!("`{rest}` in `{text}` is not a unit")
        };
        QuantityError::new(what).mend("write a unit such as `m^3/s`, `kPa` or `kg/(m s)`")
    }

    fn odd_exponent(&self) -> QuantityError {
        QuantityError::new(format!(
            "an exponent in the unit `{}` can't be used",
            self.cursor.text()
        ))
        .mend("write a small whole number, such as `m^3`")
    }

    /// `kg/m s`: is the second below the line or not?
    fn ambiguous(&self, group_start: usize, over: (usize, usize)) -> QuantityError {
        let text = self.cursor.text();
        let above = text[group_start..over.0].trim_matches(is_blank);
        let below = text[over.1..self.joint_start].trim_matches(is_blank);
        let rest = self.cursor.rest();
        let end = rest.find(['/', ')', ']']).unwrap_or(rest.len());
        let next = rest[..end].trim_matches(is_blank);
        if Unit::parse(next).is_err() {
            return self.unreadable(self.joint_start);
        }
        QuantityError::new(format!("the unit `{text}` can be read in two ways")).mend(format!(
            "write `{above}/({below} {next})` if `{next}` stands below the line, or `{above} {next}/{below}`"
        ))
    }
}

/// The letters at the cursor that make up one word of a unit.
fn letters<'a>(cursor: &mut Cursor<'a>) -> &'a str {
    let start = cursor.pos();
    match cursor.peek() {
        Some('%' | '℃' | '℉' | '″' | '"' | '′' | '\'') => cursor.bump(),
        Some('°') => {
            cursor.bump();
            let after = cursor.pos();
            cursor.skip_blanks();
            if !matches!(cursor.peek(), Some('C' | 'F' | 'R')) {
                cursor.back_to(after);
            } else {
                cursor.bump();
            }
        }
        _ => {
            while cursor.peek().is_some_and(|c| c.is_alphabetic() || c == '_') {
                cursor.bump();
            }
            // The one formula that units hold: `mmH2O`.
            if cursor.since(start).ends_with('H') && !cursor.eat("2O") {
                cursor.eat("₂O");
            }
        }
    }
    cursor.since(start)
}

/// The text without `gauge`, `(g)`, `abs` and the like at its end.
fn split_reference(text: &str) -> Option<(&str, PressureReference)> {
    use PressureReference::{Absolute, Gauge};
    if !text.ends_with([')', 'e', 's', 'g', 'a', 'E', 'S']) {
        return None;
    }
    let (body, tag) = if let Some(inside) = text.strip_suffix(')') {
        inside.rsplit_once('(')?
    } else {
        text.rsplit_once(is_blank)?
    };
    let tag = tag.trim_matches(|c| is_blank(c) || c == '.');
    let is = |words: &[&str]| words.iter().any(|word| tag.eq_ignore_ascii_case(word));
    let reference = if tag == "g" || is(&["gauge", "gage"]) {
        Gauge
    } else if tag == "a" || is(&["abs", "absolute"]) {
        Absolute
    } else {
        return None;
    };
    let body = body.trim_matches(is_blank);
    (!body.is_empty()).then_some((body, reference))
}

/// Puts the terms together.
fn compose(text: &str, terms: &[Term]) -> Result<Unit, QuantityError> {
    if let [term] = terms
        && term.exponent == 12
        && !term.below
    {
        let mut unit = Unit::single(term.entry);
        if let Some(reference) = term.reference {
            unit.tag(reference);
        }
        return Ok(unit);
    }
    let mut scale = Scale::ONE;
    let mut dimension = Dimension::NONE;
    let mut above = String::with_capacity(16);
    let mut below = String::with_capacity(16);
    let mut count_below = 0;
    for term in terms {
        let symbol = term.entry.symbol.as_str();
        if term.entry.def.offset != 0.0 {
            return Err(QuantityError::new(format!(
                "`{symbol}` has its zero elsewhere and can't be part of `{text}`"
            ))
            .mend(if term.entry.def.scale == Scale::ONE {
                "write `K`"
            } else {
                "write `degR`"
            }));
        }
        if term.reference.is_some() {
            return Err(QuantityError::new(format!(
                "`{text}`: gauge and absolute belong to a pressure alone"
            ))
            .mend("leave the mark of gauge or absolute out of the combination"));
        }
        let exponent = if term.below { -term.exponent } else { term.exponent };
        scale = match exponent % 12 {
            0 => scale.times(term.entry.scale.power(exponent / 12)),
            _ => scale.times(Scale::number(libm::pow(
                term.entry.factor,
                f64::from(exponent) / 12.0,
            ))),
        };
        dimension = match term.entry.def.dimension.power(exponent, 12) {
            Some(part) => dimension.times(part),
            None => {
                return Err(QuantityError::new(format!(
                    "an exponent in the unit `{text}` can't be used"
                )));
            }
        };
        let side = if term.below {
            count_below += 1;
            &mut below
        } else {
            &mut above
        };
        if !side.is_empty() {
            side.push('·');
        }
        push_term(side, symbol, term.exponent);
    }
    let factor = scale.value();
    if !factor.is_normal() {
        return Err(QuantityError::new(format!(
            "the unit `{text}` is too large or too small to be used"
        )));
    }
    let symbol = match count_below {
        0 => above,
        _ => {
            if above.is_empty() {
                above.push('1');
            }
            above.push('/');
            if count_below > 1 {
                above.push('(');
            }
            above.push_str(&below);
            if count_below > 1 {
                above.push(')');
            }
            above
        }
    };
    Ok(Unit {
        symbol,
        factor,
        offset: 0.0,
        dimension,
        reference: None,
    })
}

/// Writes a unit with its exponent; one that is itself a combination (`lps`, printed `L/s`) in parentheses.
fn push_term(out: &mut String, symbol: &str, twelfths: i32) {
    let nested = symbol.contains(['/', '·']);
    if nested {
        out.push('(');
    }
    out.push_str(symbol);
    if nested {
        out.push(')');
    }
    if twelfths == 12 {
        return;
    }
    // LARGEST_EXPONENT fits with room to spare.
    let twelfths = twelfths as i16;
    if twelfths == 24 {
        out.push('²');
    } else if twelfths == 36 {
        out.push('³');
    } else if twelfths % 12 == 0 {
        push_superscript(out, &(twelfths / 12).to_string());
    } else {
        let (numerator, denominator) = reduced(twelfths);
        let _ = write!(out, "^({numerator}/{denominator})");
    }
}
