//! Decimal numbers as people write them: significant figures, powers of ten, point or comma.

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

impl Shown {
    /// `value` rounded to `figures` significant figures, with trailing zeros kept; a power of ten is used
    /// where the plain form would need leading zeros or would hide how many figures count.
    pub fn new(value: f64, figures: u32) -> Self {
        let _ = (value, figures);
        todo!()
    }

    /// Plain text: `1.60×10⁻³`, `2,35`.
    pub fn plain(&self, mark: DecimalMark) -> String {
        let _ = mark;
        todo!()
    }

    /// LaTeX maths: `1.60\times 10^{-3}`, `2{,}35`.
    pub fn latex(&self, mark: DecimalMark) -> String {
        let _ = mark;
        todo!()
    }

    /// Plain ASCII that every spreadsheet and this program read back: `1.60e-3`.
    pub fn ascii(&self) -> String {
        todo!()
    }
}

/// `value` rounded to `figures` significant figures, half away from zero in decimal.
pub fn round_to_figures(value: f64, figures: u32) -> f64 {
    let _ = (value, figures);
    todo!()
}
