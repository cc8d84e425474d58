//! The table of units: spellings and exact factors.
//!
//! Every factor is a product of exact definitions, kept as whole numbers and a power of ten, so that it is
//! rounded once. Source: NIST SP 811 (2008), Guide for the Use of the International System of Units,
//! appendix B (B.8 by name; the definitions behind it in B.6 and the footnotes), with one change since:
//! the US survey foot is withdrawn (Federal Register 85 FR 62698, from 2023), so an acre has 43 560
//! squares of the one foot of 0.3048 m.

use super::{Dimension, PressureReference, QuantityError};
use crate::fault::nearest;
use std::sync::LazyLock;

/// A positive number as `above / below * 10^ten`, exact as long as both stay below 2^53.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    above: f64,
    below: f64,
    ten: i32,
}

impl Scale {
    pub(super) const ONE: Self = Self::new(1.0, 0);

    const fn new(above: f64, ten: i32) -> Self {
        Self {
            above,
            below: 1.0,
            ten,
        }
    }

    /// Any number.
    pub(super) const fn number(value: f64) -> Self {
        Self::new(value, 0)
    }

    pub(super) const fn times(self, other: Self) -> Self {
        Self {
            above: self.above * other.above,
            below: self.below * other.below,
            ten: self.ten + other.ten,
        }
    }

    const fn over(self, other: Self) -> Self {
        self.times(other.inverse())
    }

    const fn inverse(self) -> Self {
        Self {
            above: self.below,
            below: self.above,
            ten: -self.ten,
        }
    }

    pub(super) fn power(self, exponent: i32) -> Self {
        let base = if exponent < 0 { self.inverse() } else { self };
        (0..exponent.unsigned_abs()).fold(Self::ONE, |product, _| product.times(base))
    }

    pub(super) fn value(self) -> f64 {
        let ten = power_of_ten(self.ten.unsigned_abs());
        if self.ten < 0 {
            self.above / (self.below * ten)
        } else {
            self.above * ten / self.below
        }
    }
}

/// Powers of ten that a 64-bit number holds exactly, from 10^0.
const EXACT_TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

fn power_of_ten(exponent: u32) -> f64 {
    match EXACT_TENS.get(exponent as usize) {
        Some(exact) => *exact,
        None => libm::pow(10.0, f64::from(exponent)),
    }
}

/// A unit as the table has it.
#[derive(Debug)]
pub(super) struct Def {
    /// How it is printed.
    symbol: &'static str,
    /// Other spellings, in which capitals count.
    short: &'static [&'static str],
    /// Spellings in words, in which capitals don't count; a plural `s` is added.
    words: &'static [&'static str],
    /// Prefixes that are read before the symbol, the short spellings and the words.
    prefixes: &'static [Prefix],
    pub(super) scale: Scale,
    pub(super) offset: f64,
    pub(super) dimension: Dimension,
    pub(super) reference: Option<PressureReference>,
}

/// An SI prefix: symbol as printed, other spelling, name, power of ten.
#[derive(Debug, Clone, Copy)]
struct Prefix {
    symbol: &'static str,
    other: Option<&'static str>,
    name: &'static str,
    ten: i32,
}

const fn prefix(symbol: &'static str, name: &'static str, ten: i32) -> Prefix {
    Prefix {
        symbol,
        other: None,
        name,
        ten,
    }
}

const NANO: Prefix = prefix("n", "nano", -9);
const MICRO: Prefix = Prefix {
    symbol: "µ",
    other: Some("u"),
    name: "micro",
    ten: -6,
};
const MILLI: Prefix = prefix("m", "milli", -3);
const CENTI: Prefix = prefix("c", "centi", -2);
const DECI: Prefix = prefix("d", "deci", -1);
const DECA: Prefix = prefix("da", "deca", 1);
const HECTO: Prefix = prefix("h", "hecto", 2);
const KILO: Prefix = prefix("k", "kilo", 3);
const MEGA: Prefix = prefix("M", "mega", 6);
const GIGA: Prefix = prefix("G", "giga", 9);

const fn unit(symbol: &'static str, dimension: Dimension, scale: Scale) -> Def {
    Def {
        symbol,
        short: &[],
        words: &[],
        prefixes: &[],
        scale,
        offset: 0.0,
        dimension,
        reference: None,
    }
}

impl Def {
    const fn short(mut self, short: &'static [&'static str]) -> Self {
        self.short = short;
        self
    }

    const fn words(mut self, words: &'static [&'static str]) -> Self {
        self.words = words;
        self
    }

    const fn prefixes(mut self, prefixes: &'static [Prefix]) -> Self {
        self.prefixes = prefixes;
        self
    }

    const fn offset(mut self, offset: f64) -> Self {
        self.offset = offset;
        self
    }

    const fn reference(mut self, reference: PressureReference) -> Self {
        self.reference = Some(reference);
        self
    }
}

// Definitions, each exact.
const ONE: Scale = Scale::ONE;
/// 25.4 mm; SP 811 B.8, inch.
const INCH: Scale = Scale::new(254.0, -4);
/// 0.3048 m; SP 811 B.8, foot.
const FOOT: Scale = Scale::new(3048.0, -4);
const SQUARE_INCH: Scale = INCH.times(INCH);
const SQUARE_FOOT: Scale = FOOT.times(FOOT);
const CUBIC_FOOT: Scale = SQUARE_FOOT.times(FOOT);
/// 43 560 square feet; SP 811 B.6.
const ACRE: Scale = Scale::new(43_560.0, 0).times(SQUARE_FOOT);
/// 231 cubic inches; SP 811 B.8, gallon (US).
const GALLON: Scale = Scale::new(231.0, 0).times(SQUARE_INCH).times(INCH);
/// 4.546 09 L; SP 811 B.8, gallon [Canadian and UK (Imperial)].
const IMPERIAL_GALLON: Scale = Scale::new(454_609.0, -8);
/// 0.453 592 37 kg; SP 811 B.8, pound (avoirdupois).
const POUND: Scale = Scale::new(45_359_237.0, -8);
/// 9.806 65 m/s²; SP 811 B.8, acceleration of free fall, standard.
const FREE_FALL: Scale = Scale::new(980_665.0, -5);
/// SP 811 B.8, pound-force.
const POUND_FORCE: Scale = POUND.times(FREE_FALL);
const LITRE: Scale = Scale::new(1.0, -3);
const MINUTE: Scale = Scale::new(60.0, 0);
const HOUR: Scale = Scale::new(3600.0, 0);
const DAY: Scale = Scale::new(86_400.0, 0);
/// The Julian year of 365.25 days: International Astronomical Union, from memory.
const YEAR: Scale = Scale::new(31_557_600.0, 0);
/// 101 325 Pa; SP 811 B.8, atmosphere, standard.
const ATMOSPHERE: Scale = Scale::new(101_325.0, 0);
/// One metre of mercury of 13 595.1 kg/m³ under standard free fall; SP 811 B.8, conventional mercury.
const MERCURY: Scale = Scale::new(135_951.0, -1).times(FREE_FALL);
/// One metre of water of 1000 kg/m³ under standard free fall; SP 811 B.8, conventional water.
const WATER: Scale = Scale::new(1.0, 3).times(FREE_FALL);
/// 550 ft·lbf/s; SP 811 B.8, horsepower (550 ft·lbf/s).
const HORSEPOWER: Scale = Scale::new(550.0, 0).times(FOOT).times(POUND_FORCE);
/// 75 kgf·m/s; SP 811 B.8, horsepower (metric).
const METRIC_HORSEPOWER: Scale = Scale::new(75.0, 0).times(FREE_FALL);
/// 5/9 K; SP 811 B.8, degree Fahrenheit.
const FAHRENHEIT: Scale = Scale::new(5.0, 0).over(Scale::new(9.0, 0));
const MILLI_SCALE: Scale = Scale::new(1.0, -3);

/// 0 °C in kelvins.
const CELSIUS_ZERO: f64 = 273.15;
/// 0 °F in kelvins: 459.67 °R.
const FAHRENHEIT_ZERO: f64 = 459.67 * 5.0 / 9.0;

static UNITS: &[Def] = &[
    // Length
    unit("m", Dimension::LENGTH, ONE)
        .words(&["meter", "metre"])
        .prefixes(&[NANO, MICRO, MILLI, CENTI, DECI, DECA, HECTO, KILO]),
    unit("in", Dimension::LENGTH, INCH)
        .short(&["IN", "″", "\"", "inches"])
        .words(&["inch"]),
    unit("ft", Dimension::LENGTH, FOOT)
        .short(&["FT", "′", "'"])
        .words(&["foot", "feet"]),
    unit("yd", Dimension::LENGTH, Scale::new(3.0, 0).times(FOOT)).words(&["yard"]),
    unit("mi", Dimension::LENGTH, Scale::new(5280.0, 0).times(FOOT)).words(&["mile"]),
    // Area
    unit("ha", Dimension::AREA, Scale::new(1.0, 4)).words(&["hectare"]),
    unit("ac", Dimension::AREA, ACRE).words(&["acre"]),
    // Volume
    unit("L", Dimension::VOLUME, LITRE)
        .short(&["l", "ℓ"])
        .words(&["liter", "litre"])
        .prefixes(&[MICRO, MILLI, CENTI, DECI, HECTO, KILO, MEGA]),
    unit("gal", Dimension::VOLUME, GALLON)
        .short(&["US gal", "gals", "USG"])
        .words(&["gallon", "us gallon"]),
    unit("imp gal", Dimension::VOLUME, IMPERIAL_GALLON)
        .short(&["UK gal", "Imp gal"])
        .words(&["imperial gallon", "imp gallon", "uk gallon"]),
    // Time
    unit("s", Dimension::TIME, ONE)
        .short(&["sec", "secs"])
        .words(&["second"])
        .prefixes(&[NANO, MICRO, MILLI]),
    unit("min", Dimension::TIME, MINUTE)
        .short(&["mins"])
        .words(&["minute"]),
    unit("h", Dimension::TIME, HOUR)
        .short(&["hr", "hrs"])
        .words(&["hour"]),
    unit("d", Dimension::TIME, DAY).words(&["day"]),
    unit("yr", Dimension::TIME, YEAR).short(&["yrs"]).words(&["year"]),
    unit("Hz", Dimension::RATE, ONE)
        .words(&["hertz"])
        .prefixes(&[KILO, MEGA]),
    // A revolution counts as one, so that a speed of rotation is a rate; radians count as one likewise.
    unit("rpm", Dimension::RATE, ONE.over(MINUTE)).short(&["RPM"]),
    // Mass
    unit("g", Dimension::MASS, MILLI_SCALE)
        .words(&["gram", "gramme"])
        .prefixes(&[NANO, MICRO, MILLI, KILO, MEGA]),
    unit("t", Dimension::MASS, Scale::new(1.0, 3)).words(&["tonne", "metric ton"]),
    unit("lbm", Dimension::MASS, POUND).short(&["lb_m", "LBM"]),
    unit("slug", Dimension::MASS, POUND_FORCE.over(FOOT)).words(&["slug"]),
    // Force
    unit("N", Dimension::FORCE, ONE)
        .words(&["newton"])
        .prefixes(&[MICRO, MILLI, DECA, KILO, MEGA]),
    unit("dyn", Dimension::FORCE, Scale::new(1.0, -5)).words(&["dyne"]),
    unit("lbf", Dimension::FORCE, POUND_FORCE).short(&["lb_f", "LBF"]),
    unit("kgf", Dimension::FORCE, FREE_FALL),
    // Pressure
    unit("Pa", Dimension::PRESSURE, ONE)
        .words(&["pascal"])
        .prefixes(&[MICRO, MILLI, HECTO, KILO, MEGA, GIGA]),
    unit("bar", Dimension::PRESSURE, Scale::new(1.0, 5))
        .words(&["bar"])
        .prefixes(&[MILLI]),
    unit("psi", Dimension::PRESSURE, POUND_FORCE.over(SQUARE_INCH)).short(&["PSI"]),
    unit("psig", Dimension::PRESSURE, POUND_FORCE.over(SQUARE_INCH))
        .short(&["PSIG"])
        .reference(PressureReference::Gauge),
    unit("psia", Dimension::PRESSURE, POUND_FORCE.over(SQUARE_INCH))
        .short(&["PSIA"])
        .reference(PressureReference::Absolute),
    unit("psf", Dimension::PRESSURE, POUND_FORCE.over(SQUARE_FOOT)).short(&["PSF"]),
    unit("atm", Dimension::PRESSURE, ATMOSPHERE).words(&["atmosphere"]),
    unit("Torr", Dimension::PRESSURE, ATMOSPHERE.over(Scale::new(760.0, 0))).words(&["torr"]),
    unit("mHg", Dimension::PRESSURE, MERCURY)
        .short(&["m Hg", "m mercury"])
        .words(&["meters mercury", "metres mercury"])
        .prefixes(&[MILLI, CENTI]),
    unit("inHg", Dimension::PRESSURE, INCH.times(MERCURY))
        .short(&["in Hg"])
        .words(&["inches mercury"]),
    unit("mH₂O", Dimension::PRESSURE, WATER)
        .short(&["mH2O", "m H2O", "m H₂O", "m water"])
        .words(&["meters water", "metres water"])
        .prefixes(&[MILLI, CENTI]),
    unit("inH₂O", Dimension::PRESSURE, INCH.times(WATER))
        .short(&["inH2O", "in H2O", "in H₂O"])
        .words(&["in water", "inches water"]),
    unit("ftH₂O", Dimension::PRESSURE, FOOT.times(WATER))
        .short(&["ftH2O", "ft H2O", "ft H₂O"])
        .words(&["ft water", "feet water"]),
    // Energy
    unit("J", Dimension::ENERGY, ONE)
        .words(&["joule"])
        .prefixes(&[MILLI, KILO, MEGA, GIGA]),
    unit("Wh", Dimension::ENERGY, HOUR).prefixes(&[KILO, MEGA, GIGA]),
    unit("N·m", Dimension::ENERGY, ONE)
        .short(&["Nm"])
        .prefixes(&[KILO, MEGA]),
    // Power
    unit("W", Dimension::POWER, ONE)
        .words(&["watt"])
        .prefixes(&[MICRO, MILLI, KILO, MEGA, GIGA]),
    unit("hp", Dimension::POWER, HORSEPOWER)
        .short(&["HP"])
        .words(&["horsepower"]),
    unit("metric hp", Dimension::POWER, METRIC_HORSEPOWER)
        .short(&["PS"])
        .words(&["metric horsepower"]),
    // Viscosity
    unit("Pa·s", Dimension::DYNAMIC_VISCOSITY, ONE)
        .short(&["Pas"])
        .prefixes(&[MICRO, MILLI]),
    unit("P", Dimension::DYNAMIC_VISCOSITY, Scale::new(1.0, -1))
        .words(&["poise"])
        .prefixes(&[CENTI, MILLI]),
    unit("St", Dimension::KINEMATIC_VISCOSITY, Scale::new(1.0, -4))
        .words(&["stokes"])
        .prefixes(&[CENTI, MILLI]),
    // Flow
    unit("L/s", Dimension::FLOW, LITRE).short(&["lps", "LPS", "Lps"]),
    unit("L/min", Dimension::FLOW, LITRE.over(MINUTE)).short(&["lpm", "LPM", "Lpm"]),
    unit("gpm", Dimension::FLOW, GALLON.over(MINUTE)).short(&["GPM", "US gpm", "USgpm", "usgpm", "USGPM"]),
    unit("imp gpm", Dimension::FLOW, IMPERIAL_GALLON.over(MINUTE)).short(&["Imp gpm", "igpm", "UK gpm"]),
    unit("gph", Dimension::FLOW, GALLON.over(HOUR)),
    unit("gpd", Dimension::FLOW, GALLON.over(DAY)),
    unit("MGD", Dimension::FLOW, Scale::new(1.0, 6).times(GALLON).over(DAY)).short(&["mgd"]),
    unit("cfs", Dimension::FLOW, CUBIC_FOOT).short(&["CFS"]),
    unit("cfm", Dimension::FLOW, CUBIC_FOOT.over(MINUTE)).short(&["CFM"]),
    // Velocity
    unit("ft/s", Dimension::VELOCITY, FOOT).short(&["fps", "FPS"]),
    unit("km/h", Dimension::VELOCITY, Scale::new(1.0, 3).over(HOUR)).short(&["kph", "kmh"]),
    unit(
        "mph",
        Dimension::VELOCITY,
        Scale::new(5280.0, 0).times(FOOT).over(HOUR),
    ),
    unit("kt", Dimension::VELOCITY, Scale::new(1852.0, 0).over(HOUR)).words(&["knot"]),
    // Temperature
    unit("K", Dimension::TEMPERATURE, ONE)
        .words(&["kelvin"])
        .prefixes(&[MILLI]),
    unit("°C", Dimension::TEMPERATURE, ONE)
        .short(&["degC", "deg C", "° C", "℃", "ºC", "C"])
        .words(&["celsius", "degree celsius", "degrees celsius", "degrees c"])
        .offset(CELSIUS_ZERO),
    unit("°F", Dimension::TEMPERATURE, FAHRENHEIT)
        .short(&["degF", "deg F", "° F", "℉", "ºF", "F"])
        .words(&[
            "fahrenheit",
            "degree fahrenheit",
            "degrees fahrenheit",
            "degrees f",
        ])
        .offset(FAHRENHEIT_ZERO),
    unit("°R", Dimension::TEMPERATURE, FAHRENHEIT)
        .short(&["degR", "deg R", "° R", "ºR"])
        .words(&["rankine", "degree rankine", "degrees rankine"]),
    // Pure numbers
    unit("%", Dimension::NONE, Scale::new(1.0, -2)).words(&["percent"]),
    unit("rad", Dimension::NONE, ONE).words(&["radian"]),
    unit(
        "°",
        Dimension::NONE,
        Scale::number(std::f64::consts::PI).over(Scale::new(180.0, 0)),
    )
    .short(&["deg"])
    .words(&["degree"]),
    unit("rev", Dimension::NONE, ONE).words(&["revolution"]),
];

/// Words that may begin a unit of two words, however their capitals are set.
const LEADS: &[&str] = &[
    "in",
    "m",
    "mm",
    "cm",
    "ft",
    "inches",
    "feet",
    "meters",
    "metres",
    "millimeters",
    "millimetres",
    "centimeters",
    "centimetres",
    "us",
    "uk",
    "imp",
    "imperial",
    "metric",
    "deg",
    "degree",
    "degrees",
];

/// Whether `word` may begin a unit of two words.
pub(super) fn leads(word: &str) -> bool {
    LEADS.iter().any(|lead| lead.eq_ignore_ascii_case(word))
}

/// A spelling and the unit that it stands for.
#[derive(Debug)]
pub(super) struct Entry {
    spelling: String,
    /// The unit's symbol as printed, with its prefix.
    pub(super) symbol: String,
    /// The scale with the prefix.
    pub(super) scale: Scale,
    /// The scale as a number.
    pub(super) factor: f64,
    pub(super) def: &'static Def,
    /// Spelled in words: capitals don't count.
    word: bool,
}

/// All spellings, sorted.
static INDEX: LazyLock<Vec<Entry>> = LazyLock::new(|| {
    let mut index = spellings();
    // A symbol may be its own word (`bar`): the same unit twice, as a test makes sure.
    index.dedup_by(|a, b| a.spelling == b.spelling);
    index
});

/// Every spelling of every unit with every prefix that it takes, sorted.
fn spellings() -> Vec<Entry> {
    let mut index = Vec::new();
    for def in UNITS {
        let plain = Prefix {
            symbol: "",
            other: None,
            name: "",
            ten: 0,
        };
        for prefix in std::iter::once(&plain).chain(def.prefixes) {
            let symbol = format!("{}{}", prefix.symbol, def.symbol);
            let scale = def.scale.times(Scale::new(1.0, prefix.ten));
            let mut add = |spelling: String, word: bool| {
                index.push(Entry {
                    spelling,
                    symbol: symbol.clone(),
                    scale,
                    factor: scale.value(),
                    def,
                    word,
                });
            };
            for spelling in std::iter::once(&def.symbol).chain(def.short) {
                add(format!("{}{spelling}", prefix.symbol), false);
                if let Some(other) = prefix.other {
                    add(format!("{other}{spelling}"), false);
                }
            }
            for word in def.words {
                add(format!("{}{word}", prefix.name), true);
                add(format!("{}{word}s", prefix.name), true);
            }
        }
    }
    index.sort_by(|a: &Entry, b: &Entry| a.spelling.cmp(&b.spelling));
    index
}

/// The unit of exactly this spelling.
pub(super) fn find(spelling: &str) -> Option<&'static Entry> {
    let index: &'static [Entry] = &INDEX;
    index
        .binary_search_by(|entry| entry.spelling.as_str().cmp(spelling))
        .ok()
        .map(|at| &index[at])
}

/// The unit of this spelling in words, however its capitals are set.
pub(super) fn find_word(spelling: &str) -> Option<&'static Entry> {
    if !spelling.is_ascii() {
        return None;
    }
    find(&spelling.to_ascii_lowercase()).filter(|entry| entry.word)
}

/// What to say of a word that is no unit.
pub(super) fn unknown(word: &str) -> QuantityError {
    if matches!(word, "lb" | "lbs" | "LB" | "LBS" | "pound" | "pounds") {
        return QuantityError::new(format!("`{word}` can be a mass or a force"))
            .mend("write `lbm` for the mass or `lbf` for the force");
    }
    if matches!(word, "ton" | "tons") {
        return QuantityError::new(format!("`{word}` has several meanings"))
            .mend("write `t` for 1000 kg, or use another unit");
    }
    let error = QuantityError::new(format!("`{word}` is not a known unit"));
    // The same letters, small or capital: the likeliest slip, and never one to be guessed.
    let same: Vec<&str> = INDEX
        .iter()
        .filter(|entry| !entry.word && entry.spelling.eq_ignore_ascii_case(word))
        .map(|entry| entry.spelling.as_str())
        .collect();
    if !same.is_empty() {
        return error.mend(format!("write `{}`; capitals count", same.join("` or `")));
    }
    let length = word.chars().count();
    // Of equally near ones the usual spelling is offered. Distance is at least the difference in length:
    // the long way is left to those that can be near.
    let candidates = UNITS
        .iter()
        .map(|def| def.symbol)
        .chain(INDEX.iter().map(|entry| entry.spelling.as_str()))
        .filter(|spelling| spelling.chars().count().abs_diff(length) <= 1 + length / 4);
    if length > 2
        && let Some(near) = nearest(word, candidates)
    {
        return error.mend(format!("write `{near}` if that is meant"));
    }
    error.mend("write a unit such as `m^3/s`, `L/s`, `kPa` or `mm`")
}

#[cfg(test)]
mod tests {
    use super::super::Unit;
    use super::*;
    use crate::constants::physical::{STANDARD_ATMOSPHERE, STANDARD_GRAVITY};

    #[test]
    fn no_spelling_has_two_meanings() {
        for pair in spellings().windows(2) {
            if pair[0].spelling == pair[1].spelling {
                assert_eq!(pair[0].symbol, pair[1].symbol, "{}", pair[0].spelling);
                assert!(std::ptr::eq(pair[0].def, pair[1].def), "{}", pair[0].spelling);
            }
        }
    }

    #[test]
    fn every_spelling_and_what_it_prints_is_read_as_its_unit() {
        for entry in INDEX.iter() {
            let unit = Unit::parse(&entry.spelling).unwrap();
            assert_eq!(unit.symbol, entry.symbol, "{}", entry.spelling);
            assert_eq!(unit.factor, entry.factor, "{}", entry.spelling);
            assert_eq!(Unit::parse(&entry.symbol).unwrap(), unit, "{}", entry.symbol);
            assert!(unit.ascii().is_ascii(), "{}", entry.symbol);
            assert_eq!(Unit::parse(&unit.ascii()).unwrap(), unit, "{}", entry.symbol);
            assert!(unit.latex().is_ascii(), "{}", entry.symbol);
            assert_eq!(
                unit.latex().matches('{').count(),
                unit.latex().matches('}').count()
            );
        }
    }

    /// A unit of two words is found in the middle of a combination, too.
    #[test]
    fn every_unit_of_two_words_has_its_first_word_listed() {
        for entry in INDEX.iter() {
            if let Some((first, _)) = entry.spelling.split_once(' ') {
                assert!(first == "°" || leads(first), "{}", entry.spelling);
            }
        }
    }

    #[test]
    fn the_table_agrees_with_the_constants() {
        assert_eq!(FREE_FALL.value(), STANDARD_GRAVITY.value);
        assert_eq!(ATMOSPHERE.value(), STANDARD_ATMOSPHERE.value);
    }

    #[test]
    fn scales_multiply_without_loss() {
        assert_eq!(POUND_FORCE.above, 44_482_216_152_605.0);
        assert_eq!(INCH.power(3).times(INCH.power(-3)).value(), 1.0);
        // Beyond 10^22 a power of ten is itself rounded.
        assert!((Scale::new(1.0, -30).value() - 1e-30).abs() < 1e-45);
    }
}
