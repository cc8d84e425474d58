//! What a wrong number suggests: too few figures, a power of ten, another unit. A hint, never a verdict.

use super::judge::accepts;
use crate::band::Accepted;
use crate::quantity::{Dimension, Quantity, Unit, Written};
use crate::solution::Answer;

/// Units that are confused with those asked, by dimension as they come.
const UNITS: [&str; 24] = [
    "m", "mm", "ft", "in", "m/s", "ft/s", "km/h", "m^3/s", "L/s", "L/min", "m^3/h", "gpm", "ft^3/s", "kPa",
    "bar", "psi", "W", "kW", "hp", "m^2", "ft^2", "kg/s", "lb/s", "kg/m^3",
];

/// Powers of ten that a slip of the pen leads to, the likeliest first.
const POWERS: [i32; 8] = [1, -1, 2, -2, 3, -3, 6, -6];

/// What would explain a number outside its band.
#[derive(Debug, Clone, PartialEq)]
pub enum Hint {
    /// A number in the band, rounded to fewer figures than were asked.
    FewFigures {
        /// Figures typed.
        given: u32,
        /// Figures asked.
        asked: u32,
    },
    /// It would be in the band but for this power of ten; 1 is ten times too large.
    PowerOfTen(i32),
    /// The number would be in the band in this unit.
    InUnit(String),
}

impl Hint {
    /// In a few words, as of the answer: `ten times too large`.
    pub fn text(&self) -> String {
        match self {
            Self::FewFigures { given, asked } => {
                let (noun, verb) = match (given, asked) {
                    (1, _) => ("figure", "were"),
                    (_, 1) => ("figures", "was"),
                    _ => ("figures", "were"),
                };
                format!(
                    "given to {} {noun}; {} {verb} asked",
                    count(*given),
                    count(*asked)
                )
            }
            Self::PowerOfTen(power) => {
                let times = match power.abs() {
                    1 => "ten",
                    2 => "a hundred",
                    3 => "a thousand",
                    _ => "a million",
                };
                let side = if *power > 0 { "large" } else { "small" };
                format!("{times} times too {side}")
            }
            Self::InUnit(unit) => format!("the same number in {unit} would be in the band"),
        }
    }

    /// As a sentence for the student.
    pub fn sentence(&self) -> String {
        match self {
            Self::FewFigures { .. } => format!("It is {}.", self.text()),
            Self::PowerOfTen(_) => format!("It looks {}.", self.text()),
            Self::InUnit(unit) => format!("The same number in {unit} would be in the band: check the unit."),
        }
    }
}

fn count(number: u32) -> String {
    const WORDS: [&str; 10] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
    ];
    match WORDS.get(number as usize) {
        Some(word) => (*word).to_owned(),
        None => number.to_string(),
    }
}

/// The hint that fits a number outside its band, if one does. `typed` is the number as written and `si` what was
/// made of it; `figures` were asked.
pub(super) fn hint(
    accepted: &Accepted,
    typed: &Written,
    si: Quantity,
    asked: &Unit,
    figures: u32,
) -> Option<Hint> {
    let Accepted::Number(band) = accepted else {
        return None;
    };
    // A scale that does not begin at zero has neither powers of ten nor one factor.
    if si.dimension == Dimension::TEMPERATURE || typed.number == 0.0 || si.value == 0.0 {
        return None;
    }
    let holds = |value: f64| accepts(accepted, &Answer::Number(Quantity::new(value, si.dimension)));
    if typed.figures < figures {
        // Half a unit of the last figure typed.
        let place = libm::floor(libm::log10(typed.number.abs())) + 1.0 - f64::from(typed.figures);
        let half = 0.5 * libm::pow(10.0, place) * (si.value / typed.number).abs();
        if si.value - half <= band.high && si.value + half >= band.low {
            return Some(Hint::FewFigures {
                given: typed.figures,
                asked: figures,
            });
        }
    }
    if let Some(power) = POWERS
        .into_iter()
        .find(|power| holds(si.value * libm::pow(10.0, f64::from(-power))))
    {
        return Some(Hint::PowerOfTen(power));
    }
    // Of a dimensionless number there are no other units.
    if si.dimension == Dimension::NONE {
        return None;
    }
    if holds(asked.to_si(typed.number)) {
        return Some(Hint::InUnit(asked.symbol.clone()));
    }
    UNITS
        .iter()
        .filter_map(|name| Unit::parse(name).ok())
        .find(|unit| unit.dimension == si.dimension && holds(unit.to_si(typed.number)))
        .map(|unit| Hint::InUnit(unit.symbol))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::band::Band;

    fn found(text: &str, asked: &str, reference: f64, figures: u32) -> Option<String> {
        let unit = if asked.is_empty() {
            Unit::none()
        } else {
            Unit::parse(asked).unwrap()
        };
        let reference = Quantity::new(unit.to_si(reference), unit.dimension);
        let accepted = Accepted::Number(Band {
            reference,
            low: 0.99 * reference.value,
            high: 1.01 * reference.value,
            causes: Vec::new(),
        });
        let typed = Written::parse(text).unwrap();
        hint(&accepted, &typed, typed.quantity(), &unit, figures).map(|h| h.text())
    }

    #[test]
    fn a_wrong_number_suggests_what_would_explain_it() {
        for (text, asked, reference, hint) in [
            ("21 s", "s", 21.3, "given to two figures; three were asked"),
            ("0.04", "", 0.0386, "given to one figure; three were asked"),
            ("0.386", "", 0.0386, "ten times too large"),
            ("38.6 m", "m", 3860.0, "a hundred times too small"),
            ("12.63 m", "m", 3.85, "the same number in ft would be in the band"),
            ("3.85 ft", "m", 3.85, "the same number in m would be in the band"),
        ] {
            assert_eq!(found(text, asked, reference, 3).as_deref(), Some(hint), "{text}");
        }
        for (text, asked, reference) in [
            ("20 s", "s", 21.3),
            ("0.050", "", 0.0386),
            ("21.0 s", "s", 21.3),
            ("0 m", "m", 3.0),
        ] {
            assert_eq!(found(text, asked, reference, 3), None, "{text}");
        }
    }
}
