//! Decimal numbers as people write them: significant figures, powers of ten, point or comma.

use super::QuantityError;
use super::written::Cursor;
use std::fmt::Write as _;

/// The mark between whole part and fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DecimalMark {
    /// `2.5`
    #[default]
    Point,
    /// `2,5`
    Comma,
}

/// A number ready to be printed: its digits, and a power of ten where one reads better.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// Sign, digits and a decimal point (always a point here; the writer puts the comma).
    pub digits: String,
    /// Power of ten to be written behind the digits.
    pub exponent: Option<i32>,
}

/// Most significant figures that are ever printed: more than a 64-bit number holds would be invented.
pub(super) const MOST_FIGURES: u32 = 17;
/// Numbers from this power of ten are printed with a power of ten.
const FIRST_LARGE: i32 = 5;
/// Numbers below this power of ten are printed with a power of ten.
const LAST_SMALL: i32 = -3;

impl Shown {
    /// `value` rounded to `figures` significant figures, with trailing zeros kept; a power of ten is used
    /// where the plain form would need leading zeros or would hide how many figures count.
    ///
    /// Plain form: from 0.001 to below 100 000, as long as no zero before the point is a mere filler:
    /// 350 with three figures is `350`, with two `3.5×10²`; 101 325 with four is `1.013×10⁵`.
    /// Rounding is half away from zero on the number's decimal digits; see [`round_to_figures`].
    /// Figures outside 1 to 17 are taken as 1 or 17. Zero is `0`. A value that is not finite has its name
    /// (`NaN`, `inf`) for digits.
    pub fn new(value: f64, figures: u32) -> Self {
        Self::written(value, figures, false)
    }

    /// The same of something with a unit, where people fill up with zeros: 1320 of three figures is `1320`, as in
    /// `1320 m`; 101 325 is still `1.01×10⁵`.
    pub fn filled(value: f64, figures: u32) -> Self {
        Self::written(value, figures, true)
    }

    fn written(value: f64, figures: u32, fills: bool) -> Self {
        if !value.is_finite() {
            return Self {
                digits: value.to_string(),
                exponent: None,
            };
        }
        if value == 0.0 {
            return Self {
                digits: "0".to_string(),
                exponent: None,
            };
        }
        let decimal = Decimal::rounded(value, figures);
        let figures = decimal.count;
        let digits = decimal.digits();
        let mut out = String::with_capacity(figures + 8);
        if decimal.negative {
            out.push('-');
        }
        let exponent = decimal.exponent;
        let hides_figures = !fills && exponent >= 0 && (exponent as usize) + 1 > figures;
        if !(LAST_SMALL..FIRST_LARGE).contains(&exponent) || hides_figures {
            push_with_point(&mut out, digits, 0);
            return Self {
                digits: out,
                exponent: Some(exponent),
            };
        }
        push_with_point(&mut out, digits, exponent);
        Self {
            digits: out,
            exponent: None,
        }
    }

    /// Every digit that is needed to read `value` back, with at least `least` of them.
    pub(super) fn whole(value: f64, least: u32) -> Self {
        let shortest = shortest_count(value);
        Self::new(value, shortest.max(least))
    }

    /// The number that is shown: what its text reads back as. NaN if the digits are no number.
    pub fn value(&self) -> f64 {
        let mut text = Line::new();
        let written = match self.exponent {
            None => text.write_str(&self.digits),
            Some(exponent) => write!(text, "{}e{exponent}", self.digits),
        };
        match written {
            Ok(()) => text.as_str().parse().unwrap_or(f64::NAN),
            Err(_) => self.ascii().parse().unwrap_or(f64::NAN),
        }
    }

    /// Plain text: `1.60×10⁻³`, `2,35`, `−4.2`.
    pub fn plain(&self, mark: DecimalMark) -> String {
        let mut out = String::with_capacity(self.digits.len() + 12);
        for c in self.digits.chars() {
            out.push(match (c, mark) {
                ('-', _) => '−',
                ('.', DecimalMark::Comma) => ',',
                _ => c,
            });
        }
        if let Some(exponent) = self.exponent {
            out.push_str("×10");
            push_superscript(&mut out, &exponent.to_string());
        }
        out
    }

    /// LaTeX maths: `1.60\times 10^{-3}`, `2{,}35`.
    pub fn latex(&self, mark: DecimalMark) -> String {
        let mut out = match mark {
            DecimalMark::Point => self.digits.clone(),
            DecimalMark::Comma => self.digits.replace('.', "{,}"),
        };
        if let Some(exponent) = self.exponent {
            let _ = write!(out, "\\times 10^{{{exponent}}}");
        }
        out
    }

    /// Plain ASCII that every spreadsheet and this program read back: `1.60e-3`.
    pub fn ascii(&self) -> String {
        match self.exponent {
            None => self.digits.clone(),
            Some(exponent) => format!("{}e{exponent}", self.digits),
        }
    }
}

/// `value` rounded to `figures` significant figures, half away from zero in decimal.
///
/// A half is judged on the digits a person sees, not on the binary fraction behind them: 2.675 becomes
/// 2.68, though the nearest 64-bit number lies a little below. To that end the value is first written
/// with 15 digits, which also hides the last-digit noise of a unit conversion; from 15 figures on, the
/// shortest text that reads back as the value is rounded instead. Figures outside 1 to 17 are taken as 1
/// or 17; a value that is not finite is returned as it is.
pub fn round_to_figures(value: f64, figures: u32) -> f64 {
    if !value.is_finite() || value == 0.0 {
        return value;
    }
    let rounded = Decimal::rounded(value, figures).value();
    // The very largest numbers would be rounded out of the range.
    if rounded.is_finite() { rounded } else { value }
}

/// Puts the decimal point behind the digit of 10^0; `digits` start at `10^exponent`.
fn push_with_point(out: &mut String, digits: &str, exponent: i32) {
    if exponent < 0 {
        out.push_str("0.");
        for _ in 1..-exponent {
            out.push('0');
        }
        out.push_str(digits);
        return;
    }
    let whole = exponent as usize + 1;
    if whole >= digits.len() {
        out.push_str(digits);
        for _ in digits.len()..whole {
            out.push('0');
        }
    } else {
        out.push_str(&digits[..whole]);
        out.push('.');
        out.push_str(&digits[whole..]);
    }
}

/// Writes an ASCII integer as superscripts.
pub(super) fn push_superscript(out: &mut String, integer: &str) {
    for c in integer.chars() {
        out.push(match c {
            '-' => '⁻',
            '0' => '⁰',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            '4' => '⁴',
            '5' => '⁵',
            '6' => '⁶',
            '7' => '⁷',
            '8' => '⁸',
            '9' => '⁹',
            other => other,
        });
    }
}

/// The ASCII character of a superscript digit or sign.
pub(super) fn from_superscript(c: char) -> Option<char> {
    Some(match c {
        '⁻' => '-',
        '⁺' => '+',
        '⁰' => '0',
        '¹' => '1',
        '²' => '2',
        '³' => '3',
        '⁴' => '4',
        '⁵' => '5',
        '⁶' => '6',
        '⁷' => '7',
        '⁸' => '8',
        '⁹' => '9',
        _ => return None,
    })
}

/// A short text on the stack, so that rounding needs no memory from the heap.
struct Line {
    bytes: [u8; 48],
    len: usize,
}

impl Line {
    const fn new() -> Self {
        Self {
            bytes: [0; 48],
            len: 0,
        }
    }

    fn as_str(&self) -> &str {
        std::str::from_utf8(&self.bytes[..self.len]).unwrap_or("")
    }
}

impl std::fmt::Write for Line {
    fn write_str(&mut self, text: &str) -> std::fmt::Result {
        let end = self.len + text.len();
        let room = self.bytes.get_mut(self.len..end).ok_or(std::fmt::Error)?;
        room.copy_from_slice(text.as_bytes());
        self.len = end;
        Ok(())
    }
}

/// A rounded number as decimal digits: `d.ddd × 10^exponent`, the first digit not zero.
struct Decimal {
    negative: bool,
    digits: [u8; MOST_FIGURES as usize],
    count: usize,
    exponent: i32,
}

impl Decimal {
    /// `value` must be finite and not zero.
    fn rounded(value: f64, figures: u32) -> Self {
        let figures = figures.clamp(1, MOST_FIGURES);
        let mut text = Line::new();
        let written = if figures < 15 {
            write!(text, "{value:.14e}")
        } else {
            write!(text, "{value:e}")
        };
        debug_assert!(written.is_ok(), "17 digits, signs, point and exponent fit");
        let text = text.as_str();
        let (mantissa, exponent) = text.split_once('e').unwrap_or((text, "0"));
        let mut out = Self {
            negative: mantissa.starts_with('-'),
            digits: [b'0'; MOST_FIGURES as usize],
            count: figures as usize,
            exponent: exponent.parse().unwrap_or(0),
        };
        let mut round_up = false;
        for (i, digit) in mantissa.bytes().filter(u8::is_ascii_digit).enumerate() {
            if i < out.count {
                out.digits[i] = digit;
            } else {
                round_up = digit >= b'5';
                break;
            }
        }
        if round_up {
            out.increment();
        }
        out
    }

    /// Adds one to the last digit.
    fn increment(&mut self) {
        for digit in self.digits[..self.count].iter_mut().rev() {
            if *digit == b'9' {
                *digit = b'0';
            } else {
                *digit += 1;
                return;
            }
        }
        // All were nines.
        self.digits[0] = b'1';
        self.exponent += 1;
    }

    fn digits(&self) -> &str {
        std::str::from_utf8(&self.digits[..self.count]).unwrap_or("")
    }

    fn value(&self) -> f64 {
        let mut text = Line::new();
        let sign = if self.negative { "-" } else { "" };
        let shift = self.exponent - (self.count as i32 - 1);
        let written = write!(text, "{sign}{}e{shift}", self.digits());
        debug_assert!(written.is_ok(), "17 digits, a sign and an exponent fit");
        text.as_str().parse().unwrap_or(f64::NAN)
    }
}

/// How many digits the shortest text has that reads back as `value`.
fn shortest_count(value: f64) -> u32 {
    let mut text = Line::new();
    let _ = write!(text, "{value:e}");
    let mantissa = text.as_str().split('e').next().unwrap_or("");
    mantissa.bytes().filter(u8::is_ascii_digit).count() as u32
}

/// A number found at the start of a text.
pub(super) struct Scanned {
    pub(super) value: f64,
    pub(super) shown: Shown,
    pub(super) figures: u32,
}

/// Figures that an exact fraction such as 1 1/2 is printed with, at least.
const FRACTION_FIGURES: u32 = 3;

/// One run of digits and the mark before it.
#[derive(Clone, Copy)]
struct Group<'a> {
    mark: char,
    digits: &'a str,
}

/// Reads the number at the cursor and leaves the cursor behind it. A lone `usual` mark is a decimal mark.
pub(super) fn scan(cursor: &mut Cursor<'_>, usual: DecimalMark) -> Result<Scanned, QuantityError> {
    let negative = sign(cursor);
    cursor.skip_blanks();
    if let Some((numerator, denominator)) = cursor.peek().and_then(vulgar) {
        cursor.bump();
        return fraction(negative, 0.0, f64::from(numerator), f64::from(denominator));
    }

    let start = cursor.pos();
    let first = cursor.digits();
    let mut groups = [Group {
        mark: ' ',
        digits: "",
    }; 24];
    groups[0].digits = first;
    let mut count = 1;
    while let Some(mark) = cursor.peek() {
        let joins = match mark {
            '.' | ',' => cursor.peek_second().is_some_and(|c| c.is_ascii_digit()),
            '\'' | '’' => !first.is_empty() && cursor.three_digits_follow(),
            c if is_blank(c) => {
                let last = groups[count - 1];
                let room = if count == 1 {
                    (1..=3).contains(&first.len()) && !first.starts_with('0')
                } else {
                    last.digits.len() == 3
                };
                room && cursor.three_digits_follow()
            }
            _ => false,
        };
        if !joins {
            break;
        }
        if count == groups.len() {
            return Err(QuantityError::new("the number has too many groups of digits"));
        }
        cursor.bump();
        let mark = if is_blank(mark) { ' ' } else { mark };
        groups[count] = Group {
            mark: if mark == '’' { '\'' } else { mark },
            digits: cursor.digits(),
        };
        count += 1;
    }
    if first.is_empty() && count == 1 {
        return Err(
            QuantityError::new(format!("no number was found in `{}`", cursor.text()))
                .mend("write a number and its unit, such as `2.5 L/s`"),
        );
    }
    let typed = cursor.since(start);
    let groups = &groups[..count];

    if count == 1 {
        if let Some((numerator, denominator)) = simple_fraction(cursor, first)? {
            return fraction(negative, 0.0, numerator, denominator);
        }
        if let Some((numerator, denominator)) = mixed_fraction(cursor)? {
            let whole = first.parse().unwrap_or(f64::NAN);
            if numerator >= denominator {
                return Err(QuantityError::new(format!(
                    "`{first} {numerator}/{denominator}` is no mixed number: its fraction is not below one"
                ))
                .mend("write it as a decimal number"));
            }
            return fraction(negative, whole, numerator, denominator);
        }
    }

    let (whole, decimals) = sort_groups(groups, typed, usual)?;
    // `350.` and `350. kPa`: a full stop that ends the number.
    if decimals.is_none() && cursor.peek() == Some('.') {
        cursor.bump();
    }
    let ten = typed == "10";
    let exponent = match scan_exponent(cursor, typed)? {
        Some(exponent) => Some(exponent),
        None if ten => {
            if let Some(exponent) = scan_power(cursor)? {
                return finish(negative, "1".to_string(), Some(exponent), typed);
            }
            None
        }
        None => None,
    };

    let mut digits = String::with_capacity(typed.len() + 2);
    for group in whole {
        digits.push_str(group.digits);
    }
    let leading = digits.len() - digits.trim_start_matches('0').len();
    digits.drain(..leading);
    if digits.is_empty() {
        digits.push('0');
    }
    if let Some(decimals) = decimals {
        digits.push('.');
        for group in decimals {
            digits.push_str(group.digits);
        }
    }
    finish(negative, digits, exponent, typed)
}

/// Splits groups of digits into the whole part and the decimals, where only one reading is possible.
fn sort_groups<'g, 'a>(
    groups: &'g [Group<'a>],
    typed: &str,
    usual: DecimalMark,
) -> Result<(&'g [Group<'a>], Option<&'g [Group<'a>]>), QuantityError> {
    let odd = || {
        QuantityError::new(format!("the digits of `{typed}` are grouped in no usual way"))
            .mend("write the number without marks between thousands, such as `1200.5`")
    };
    let count_of = |mark: char| groups[1..].iter().filter(|group| group.mark == mark).count();
    let (points, commas) = (count_of('.'), count_of(','));
    let last_of = |mark: char| groups.iter().rposition(|group| group.mark == mark);
    // Where the decimals start, if there are any.
    let split = match (points, commas) {
        (0, 0) => None,
        (1, 0) | (0, 1) => {
            let (mark, is_usual) = if points == 1 {
                ('.', usual == DecimalMark::Point)
            } else {
                (',', usual == DecimalMark::Comma)
            };
            let (first, after) = (groups[0].digits, groups[1].digits);
            let like_thousands = groups.len() == 2
                && after.len() == 3
                && (1..=3).contains(&first.len())
                && !first.starts_with('0');
            if like_thousands && !is_usual {
                let other = if points == 1 { ',' } else { '.' };
                return Err(QuantityError::new(format!(
                    "`{typed}` can be read in two ways: as {first}{after}, or as {first} and {after} thousandths"
                ))
                .mend(format!("write `{first}{after}` or `{first}{other}{after}`")));
            }
            last_of(mark)
        }
        (points, commas) => match (last_of('.'), last_of(',')) {
            (Some(point), Some(comma)) if points == 1 && point > comma => Some(point),
            (Some(point), Some(comma)) if commas == 1 && comma > point => Some(comma),
            (Some(_), Some(_)) => return Err(odd()),
            // Several of one kind can only be marks between thousands.
            _ => None,
        },
    };
    let (whole, decimals) = match split {
        Some(at) => (&groups[..at], Some(&groups[at..])),
        None => (groups, None),
    };
    // Marks between thousands are all alike and stand before groups of three.
    if let Some(second) = whole.get(1) {
        let first = whole[0].digits;
        let alike = whole[1..]
            .iter()
            .all(|group| group.mark == second.mark && group.digits.len() == 3);
        if !alike || !(1..=3).contains(&first.len()) || first.starts_with('0') {
            return Err(odd());
        }
    }
    if let Some(decimals) = decimals
        && decimals.len() > 1
    {
        let (last, before) = decimals.split_last().unwrap_or((&decimals[0], &[]));
        let grouped = before.iter().all(|group| group.digits.len() == 3)
            && decimals[1..].iter().all(|group| group.mark == ' ')
            && last.digits.len() <= 3;
        if !grouped {
            return Err(odd());
        }
    }
    Ok((whole, decimals))
}

/// `3/4` behind the first digits of it.
fn simple_fraction(cursor: &mut Cursor<'_>, first: &str) -> Result<Option<(f64, f64)>, QuantityError> {
    if !cursor.peek().is_some_and(is_fraction_bar)
        || !cursor.peek_second().is_some_and(|c| c.is_ascii_digit())
    {
        return Ok(None);
    }
    cursor.bump();
    let denominator = cursor.digits();
    proper(first, denominator).map(Some)
}

/// `1/2` or `½` behind a whole number and a blank, a hyphen, or nothing.
fn mixed_fraction(cursor: &mut Cursor<'_>) -> Result<Option<(f64, f64)>, QuantityError> {
    let start = cursor.pos();
    let blanks = cursor.skip_blanks();
    let hyphen = !blanks && cursor.peek().is_some_and(is_minus);
    if hyphen {
        cursor.bump();
    }
    if let Some((numerator, denominator)) = cursor.peek().and_then(vulgar) {
        cursor.bump();
        return Ok(Some((f64::from(numerator), f64::from(denominator))));
    }
    if blanks || hyphen {
        let numerator = cursor.digits();
        if !numerator.is_empty()
            && cursor.peek().is_some_and(is_fraction_bar)
            && cursor.peek_second().is_some_and(|c| c.is_ascii_digit())
        {
            cursor.bump();
            let denominator = cursor.digits();
            return proper(numerator, denominator).map(Some);
        }
    }
    cursor.back_to(start);
    Ok(None)
}

fn proper(numerator: &str, denominator: &str) -> Result<(f64, f64), QuantityError> {
    let part = |text: &str| text.parse::<u32>().ok().map(f64::from);
    match (part(numerator), part(denominator)) {
        (Some(_), Some(0.0)) => Err(QuantityError::new(format!(
            "`{numerator}/{denominator}` divides by zero"
        ))),
        (Some(numerator), Some(denominator)) => Ok((numerator, denominator)),
        _ => Err(
            QuantityError::new(format!("the fraction `{numerator}/{denominator}` is too long"))
                .mend("write it as a decimal number"),
        ),
    }
}

fn fraction(negative: bool, whole: f64, numerator: f64, denominator: f64) -> Result<Scanned, QuantityError> {
    let size = whole + numerator / denominator;
    let value = if negative && size != 0.0 { -size } else { size };
    let shown = Shown::whole(value, FRACTION_FIGURES);
    let count = shortest_count(value);
    // A third has no last digit; a sixteenth has, and all of them are meant.
    let exact = count < 15;
    Ok(Scanned {
        value,
        shown,
        figures: if exact {
            count.max(FRACTION_FIGURES)
        } else {
            FRACTION_FIGURES
        },
    })
}

/// `e-3`, `×10⁻³`, `x10^-3`, `*10^-3`, `\times 10^{-3}` behind a number.
fn scan_exponent(cursor: &mut Cursor<'_>, typed: &str) -> Result<Option<i32>, QuantityError> {
    let start = cursor.pos();
    if matches!(cursor.peek(), Some('e' | 'E')) {
        cursor.bump();
        if let Some(exponent) = signed_integer(cursor)? {
            return Ok(Some(exponent));
        }
        cursor.back_to(start);
        return Ok(None);
    }
    cursor.skip_blanks();
    let times = cursor.eat("\\times")
        || cursor.eat("\\cdot")
        || matches!(cursor.peek(), Some('×' | 'x' | 'X' | '*' | '·' | '⋅' | '✕' | '⨯')) && {
            cursor.bump();
            true
        };
    if times {
        cursor.skip_blanks();
        if cursor.eat("10") {
            if let Some(exponent) = scan_power(cursor)? {
                return Ok(Some(exponent));
            }
            if cursor.peek().is_some_and(is_minus)
                && let Some(exponent) = signed_integer(cursor)?
            {
                return Ok(Some(exponent));
            }
            if cursor.peek().is_some_and(|c| c.is_ascii_digit()) {
                let digits = cursor.digits();
                return Err(QuantityError::new(format!(
                    "`{typed}x10{digits}` can be read in two ways: as {typed} times 10{digits}, or as {typed} times 10^{digits}"
                ))
                .mend(format!("write `{typed}e{digits}` if a power of ten is meant")));
            }
            if !matches!(cursor.peek(), Some('.' | ','))
                || !cursor.peek_second().is_some_and(|c| c.is_ascii_digit())
            {
                return Ok(Some(1));
            }
        }
    }
    cursor.back_to(start);
    Ok(None)
}

/// `^-3`, `**-3`, `^{-3}`, `^(-3)`, `⁻³` behind a 10.
fn scan_power(cursor: &mut Cursor<'_>) -> Result<Option<i32>, QuantityError> {
    let start = cursor.pos();
    let mut raised = String::new();
    while let Some(c) = cursor.peek().and_then(from_superscript) {
        raised.push(c);
        cursor.bump();
    }
    if !raised.is_empty() {
        return exponent_value(&raised).map(Some);
    }
    if cursor.eat("^") || cursor.eat("**") {
        let close = if cursor.eat("{") {
            "}"
        } else if cursor.eat("(") {
            ")"
        } else {
            ""
        };
        if let Some(exponent) = signed_integer(cursor)?
            && (close.is_empty() || cursor.eat(close))
        {
            return Ok(Some(exponent));
        }
    }
    cursor.back_to(start);
    Ok(None)
}

/// Passes a sign, where there is one; says whether it is a minus.
fn sign(cursor: &mut Cursor<'_>) -> bool {
    let found = cursor.peek();
    let minus = found.is_some_and(is_minus);
    if minus || found == Some('+') {
        cursor.bump();
    }
    minus
}

fn signed_integer(cursor: &mut Cursor<'_>) -> Result<Option<i32>, QuantityError> {
    let start = cursor.pos();
    let negative = sign(cursor);
    let digits = cursor.digits();
    if digits.is_empty() {
        cursor.back_to(start);
        return Ok(None);
    }
    let exponent = exponent_value(digits)?;
    Ok(Some(if negative { -exponent } else { exponent }))
}

fn exponent_value(text: &str) -> Result<i32, QuantityError> {
    match text.parse::<i32>() {
        Ok(exponent) if exponent.abs() < 1000 => Ok(exponent),
        _ => Err(QuantityError::new(format!(
            "the power of ten `{text}` is not one that can be used"
        ))),
    }
}

fn finish(
    negative: bool,
    mut digits: String,
    exponent: Option<i32>,
    typed: &str,
) -> Result<Scanned, QuantityError> {
    let zero = digits.bytes().all(|b| matches!(b, b'0' | b'.'));
    let figures = if zero {
        digits.bytes().filter(u8::is_ascii_digit).count()
    } else {
        digits
            .trim_start_matches(['0', '.'])
            .bytes()
            .filter(u8::is_ascii_digit)
            .count()
    };
    if negative && !zero {
        digits.insert(0, '-');
    }
    let shown = Shown {
        digits,
        exponent: exponent.filter(|e| *e != 0),
    };
    let value = shown.value();
    if !value.is_finite() || (value == 0.0 && !zero) {
        return Err(QuantityError::new(format!(
            "the number `{typed}` with its power of ten is too {} to be used",
            if value == 0.0 { "small" } else { "large" }
        )));
    }
    Ok(Scanned {
        value,
        shown,
        figures: figures as u32,
    })
}

/// A blank of any width, including those without any.
pub(super) fn is_blank(c: char) -> bool {
    c.is_whitespace() || matches!(c, '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2060}' | '\u{feff}')
}

/// A hyphen, a minus sign or a dash used as one.
pub(super) fn is_minus(c: char) -> bool {
    matches!(c, '-' | '−' | '–' | '‒' | '‐' | '\u{2011}' | '﹣' | '－')
}

fn is_fraction_bar(c: char) -> bool {
    matches!(c, '/' | '⁄' | '∕')
}

fn vulgar(c: char) -> Option<(u8, u8)> {
    Some(match c {
        '½' => (1, 2),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '¼' => (1, 4),
        '¾' => (3, 4),
        '⅕' => (1, 5),
        '⅖' => (2, 5),
        '⅗' => (3, 5),
        '⅘' => (4, 5),
        '⅙' => (1, 6),
        '⅚' => (5, 6),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        _ => return None,
    })
}
