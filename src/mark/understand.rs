//! What a student's text says: a number in SI, a regime, a word; or why a person must look.
//!
//! Nothing is guessed between two readings, and gauge and absolute pressure are never turned into each other.

use super::judge::accepts;
use crate::band::Accepted;
use crate::bank::course::Policy;
use crate::bank::template::Asked;
use crate::hydraulics::regime::Regime;
use crate::quantity::{DecimalMark, Dimension, PressureReference, Quantity, Unit, Written};
use crate::solution::Answer;

/// An answer as it was understood.
#[derive(Debug, Clone, PartialEq)]
pub enum Understood {
    /// Nothing was written.
    Blank,
    /// This, with the significant figures that were typed (0 for a word).
    Answer(Answer, u32),
    /// A word that leaves these open, and why. Where one of them could be right, a person must look.
    Open(Vec<Answer>, String),
    /// A person must look: why.
    Unclear(String),
}

impl Understood {
    /// The answer, where there is one.
    pub fn answer(&self) -> Option<&Answer> {
        match self {
            Self::Answer(answer, _) => Some(answer),
            _ => None,
        }
    }
}

/// Understands an answer to what is asked. `accepted` decides only between 72 and 0.72 where per cent was asked
/// and no unit written, and between the two readings of `1,200` where the course's decimal mark is the point.
pub fn understand(
    text: &str,
    asked: &Asked,
    accepted: &Accepted,
    policy: &Policy,
    mark: DecimalMark,
) -> Understood {
    let text = text.trim();
    if is_blank(text) {
        return Understood::Blank;
    }
    match asked {
        Asked::Number { unit, .. } => number(text, unit, accepted, policy, mark),
        Asked::Regime { .. } => match regime(text) {
            Ok(regime) => Understood::Answer(Answer::Regime(regime), 0),
            Err(why) => match open_regimes(text) {
                [] => Understood::Unclear(why),
                open => Understood::Open(open.iter().map(|r| Answer::Regime(*r)).collect(), why),
            },
        },
        Asked::Choice { options, .. } => match choice(text, options) {
            Some(word) => Understood::Answer(Answer::Choice(word.to_owned()), 0),
            None => Understood::Unclear(format!("neither `{}` nor `{}`", options[0], options[1])),
        },
    }
}

/// Whether a text stands for no answer.
pub fn is_blank(text: &str) -> bool {
    matches!(
        text.trim().to_lowercase().as_str(),
        "" | "-" | "--" | "–" | "—" | "n/a" | "na" | "n.a."
    )
}

fn number(text: &str, asked: &Unit, accepted: &Accepted, policy: &Policy, mark: DecimalMark) -> Understood {
    match written(text, asked, mark) {
        Ok(written) => meant(&written, asked, accepted, policy),
        // `93,200` may be 93 200 or 93.2, and only one of two numbers a thousandfold apart can be right: that one counts.
        Err(why) => (both_readings(text, mark).iter())
            .map(|written| meant(written, asked, accepted, policy))
            .find(|one| one.answer().is_some_and(|answer| accepts(accepted, answer)))
            .unwrap_or(Understood::Unclear(why)),
    }
}

/// The two readings of a number whose only mark may stand between thousands or before decimals; none of any other.
fn both_readings(text: &str, mark: DecimalMark) -> Vec<Written> {
    let (other, sign) = match mark {
        DecimalMark::Point => (DecimalMark::Comma, ','),
        DecimalMark::Comma => (DecimalMark::Point, '.'),
    };
    let whole = text.replacen(sign, "", 1);
    match (Written::parse_in(text, other), Written::parse_in(&whole, mark)) {
        (Ok(decimals), Ok(thousands)) => vec![thousands, decimals],
        _ => Vec::new(),
    }
}

/// What a number and its unit mean, where `asked` is asked.
fn meant(written: &Written, asked: &Unit, accepted: &Accepted, policy: &Policy) -> Understood {
    if !written.number.is_finite() {
        return Understood::Unclear("the number is too large to be read".into());
    }
    let unit = &written.unit;
    let in_asked = Quantity::new(asked.to_si(written.number), asked.dimension);
    let bare = unit.symbol.is_empty() && unit.dimension == Dimension::NONE;
    let quantity = if !bare {
        if unit.dimension != asked.dimension {
            return Understood::Unclear(format!(
                "`{}` is {}, but {} is asked",
                unit.symbol,
                unit.dimension.name(),
                asked.dimension.name()
            ));
        }
        if reference_differs(unit.reference, asked.reference) {
            let of = |r| {
                if r == Some(PressureReference::Absolute) {
                    "an absolute"
                } else {
                    "a gauge"
                }
            };
            return Understood::Unclear(format!(
                "{} pressure, where {} pressure is asked",
                of(unit.reference),
                of(asked.reference)
            ));
        }
        written.quantity()
    } else if asked.dimension != Dimension::NONE {
        if !policy.accept_missing_unit {
            return Understood::Unclear(format!("no unit, where `{}` is asked", asked.symbol));
        }
        in_asked
    } else {
        // Where per cent is asked, 72 and 0.72 are both sound ways to write the share 0.72. The one that is right
        // counts; where neither is, the nearer one is what was meant.
        let plain = Quantity::number(written.number);
        if accepts(accepted, &Answer::Number(plain)) || is_nearer(accepted, plain.value, in_asked.value) {
            plain
        } else {
            in_asked
        }
    };
    if !quantity.value.is_finite() {
        return Understood::Unclear("the number is too large to be read".into());
    }
    Understood::Answer(Answer::Number(quantity), written.figures)
}

/// Whether `one` is nearer to a reference answer than `other`, by their ratios to it.
fn is_nearer(accepted: &Accepted, one: f64, other: f64) -> bool {
    let Accepted::Number(band) = accepted else {
        return false;
    };
    let away = |value: f64| libm::log(value / band.reference.value).abs();
    // Of no number or of another sign there is no ratio, and nothing is nearer.
    away(one) < away(other)
}

/// Reads a number and its unit as [`Written::parse_in`] does, and past remarks behind them that say nothing of the
/// value: `3.33 m (approx)`, `3.33 m roughly`.
///
/// # Errors
/// Why it can't be read, for a student who was asked for the unit `asked`.
pub(super) fn written(text: &str, asked: &Unit, mark: DecimalMark) -> Result<Written, String> {
    let error = match Written::parse_in(text, mark) {
        Ok(written) => return Ok(written),
        Err(error) => error,
    };
    if let Some(bare) = without_remarks(text)
        && let Ok(written) = Written::parse_in(&bare, mark)
    {
        return Ok(written);
    }
    let read = |part: &str| Written::parse_in(part.trim(), mark).is_ok();
    for between in [" or ", " and ", ";", " / "] {
        if let Some((first, second)) = text.split_once(between)
            && read(first)
            && read(second)
        {
            return Err(format!(
                "two answers were found, `{}` and `{}`, and one is wanted",
                first.trim(),
                second.trim()
            ));
        }
    }
    let Some(mend) = error.mend else {
        return Err(error.what);
    };
    // The advice is general; an example in the unit asked misleads nobody.
    let said = format!("{}; {mend}", error.what);
    Err(if asked.symbol.is_empty() {
        [
            ", with its unit",
            " with its unit",
            " and its unit",
            ", such as `2.5 L/s`",
        ]
        .iter()
        .fold(said, |said, of_units| said.replace(of_units, ""))
    } else {
        said.replace("`2.5 L/s`", &format!("`2.5 {}`", asked.symbol))
    })
}

/// The text without a remark in brackets at its end, and without words for `about`; `None` where there is neither.
/// A unit or `abs` in brackets is no remark.
fn without_remarks(text: &str) -> Option<String> {
    const ABOUT: [&str; 9] = [
        "approx",
        "approximately",
        "about",
        "ca",
        "circa",
        "roughly",
        "around",
        "rounded",
        "or so",
    ];
    let end = |text: &str| text.trim_end_matches([' ', '\u{a0}', '.', ',', ';']).len();
    let mut body = text.trim().to_owned();
    body.truncate(end(&body));
    let mut found = false;
    if let Some(open) = body.rfind(['(', '[']).filter(|_| body.ends_with([')', ']'])) {
        let remark = body[open + 1..body.len() - 1].trim();
        let tells = remark.chars().any(char::is_numeric)
            || Unit::parse(remark).is_ok()
            || words(remark).split(' ').any(|w| {
                w.starts_with("abs") || w.starts_with("gau") || w.starts_with("vac") || w == "g" || w == "a"
            });
        if !tells {
            body.truncate(open);
            body.truncate(end(&body));
            found = true;
        }
    }
    loop {
        let behind = ABOUT.iter().find_map(|word| {
            let at = body.len().checked_sub(word.len())?;
            let tail = body.get(at..)?;
            let apart = body[..at].ends_with([' ', '\u{a0}', ',', ';']);
            (apart && tail.eq_ignore_ascii_case(word)).then_some(at)
        });
        let before = ["roughly ", "around "].iter().find_map(|word| {
            let head = body.get(..word.len())?;
            head.eq_ignore_ascii_case(word).then_some(word.len())
        });
        match (behind, before) {
            (Some(at), _) => {
                body.truncate(at);
                body.truncate(end(&body));
            }
            (None, Some(width)) => body = body[width..].trim_start().to_owned(),
            (None, None) => break,
        }
        found = true;
    }
    found.then_some(body)
}

/// A pressure counts as gauge unless its unit says absolute; where absolute is asked and the answer does not say,
/// it is taken as asked.
fn reference_differs(answer: Option<PressureReference>, asked: Option<PressureReference>) -> bool {
    use PressureReference::{Absolute, Gauge};
    matches!(
        (answer, asked),
        (Some(Absolute), None | Some(Gauge)) | (Some(Gauge), Some(Absolute))
    )
}

/// Lower case, with every mark between words made one blank.
fn words(text: &str) -> String {
    let spaced: String = text
        .chars()
        .flat_map(char::to_lowercase)
        .map(|c| if c.is_alphanumeric() || c == '/' { c } else { ' ' })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words of a text that say which regime is meant.
fn core_words(text: &str) -> String {
    let plain = words(text);
    let core: Vec<&str> = plain
        .split(' ')
        .filter(|w| {
            !matches!(
                *w,
                "flow" | "regime" | "zone" | "region" | "pipe" | "the" | "is" | "it" | "in" | "a"
            )
        })
        .collect();
    core.join(" ")
}

/// The regimes that a word leaves open; none where it is no word for a regime.
fn open_regimes(text: &str) -> &'static [Regime] {
    match core_words(text).as_str() {
        "rough" | "turbulent rough" | "rough turbulent" => &[Regime::TransitionallyRough, Regime::FullyRough],
        "turbulent" | "fully turbulent" => &[Regime::Smooth, Regime::TransitionallyRough, Regime::FullyRough],
        "transition"
        | "transitional"
        | "transitory"
        | "turbulent transition"
        | "turbulent transitional"
        | "transition turbulent"
        | "transitional turbulent" => &[Regime::Critical, Regime::TransitionallyRough],
        _ => &[],
    }
}

/// The regime that a text names, leniently as to case, hyphens and the words around it.
///
/// # Errors
/// Why it is not clear which is meant.
pub fn regime(text: &str) -> Result<Regime, String> {
    let core = core_words(text);
    if let Some(found) = named(&core) {
        return Ok(found);
    }
    // `turbulent, fully rough`: the first word is true of all three turbulent regimes.
    let turbulent = core
        .strip_prefix("turbulent ")
        .or_else(|| core.strip_suffix(" turbulent"));
    if let Some(Regime::Smooth | Regime::TransitionallyRough | Regime::FullyRough) = turbulent.and_then(named)
    {
        return Ok(turbulent.and_then(named).unwrap_or(Regime::Smooth));
    }
    for between in [" or ", " and ", "/", ","] {
        if let Some((first, second)) = text.split_once(between)
            && let (Some(first), Some(second)) = (named(&core_words(first)), named(&core_words(second)))
        {
            return Err(format!(
                "two regimes were found, {} and {}, and one is wanted",
                first.name(),
                second.name()
            ));
        }
    }
    let open: Vec<&str> = open_regimes(text).iter().map(|r| r.name()).collect();
    Err(match open.as_slice() {
        [before @ .., last] if !before.is_empty() => {
            format!("`{core}` may be {} or {last}", before.join(", "))
        }
        _ => "no regime is named; known are laminar, critical, smooth, transitionally rough, fully rough"
            .into(),
    })
}

fn named(core: &str) -> Option<Regime> {
    Some(match core {
        "laminar" | "viscous" => Regime::Laminar,
        "critical" => Regime::Critical,
        "smooth" | "hydraulically smooth" | "smooth wall" | "fully smooth" => Regime::Smooth,
        "transitionally rough"
        | "transition rough"
        | "transitional rough"
        | "partially rough"
        | "partly rough" => Regime::TransitionallyRough,
        // Moody's own words for the right-hand part of his chart are `complete turbulence, rough pipes`.
        "fully rough"
        | "completely rough"
        | "wholly rough"
        | "full rough"
        | "completely turbulent"
        | "complete turbulence"
        | "wholly turbulent"
        | "hydraulically rough" => Regime::FullyRough,
        _ => return None,
    })
}

/// Which of two words a text says.
fn choice<'a>(text: &str, options: &'a [String; 2]) -> Option<&'a str> {
    let said = words(text);
    let plain = [words(&options[0]), words(&options[1])];
    for (option, plain) in options.iter().zip(&plain) {
        if said == *plain {
            return Some(option);
        }
        let short = match plain.as_str() {
            "yes" => matches!(said.as_str(), "y" | "true"),
            "no" => matches!(said.as_str(), "n" | "false"),
            _ => false,
        };
        if short {
            return Some(option);
        }
    }
    // `no, it does not hold`: an option first, and the other one nowhere.
    let holds = |text: &str, option: &str| format!(" {text} ").contains(&format!(" {option} "));
    for (i, option) in options.iter().enumerate() {
        let (this, other) = (&plain[i], &plain[1 - i]);
        if said.starts_with(&format!("{this} ")) && !holds(&said, other) && !holds(other, this) {
            return Some(option);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regimes_are_read_leniently_but_never_guessed() {
        for (text, regime_meant) in [
            ("Fully-Rough", Regime::FullyRough),
            ("turbulent, fully rough", Regime::FullyRough),
            ("completely turbulent", Regime::FullyRough),
            ("the flow is laminar.", Regime::Laminar),
            ("Transitionally rough", Regime::TransitionallyRough),
            ("transitionally_rough flow", Regime::TransitionallyRough),
            ("hydraulically smooth", Regime::Smooth),
            ("smooth turbulent", Regime::Smooth),
            ("critical zone", Regime::Critical),
        ] {
            assert_eq!(regime(text), Ok(regime_meant), "{text}");
        }
        for text in [
            "rough",
            "turbulent",
            "transition",
            "not laminar",
            "laminar or critical",
            "turbulent laminar",
            "3",
        ] {
            assert!(regime(text).is_err(), "{text}");
        }
        for known in Regime::ALL {
            assert_eq!(regime(known.name()), Ok(known));
        }
    }

    #[test]
    fn choices_are_read_leniently_but_never_guessed() {
        let yes_no = ["yes".to_owned(), "no".to_owned()];
        for (text, meant) in [
            ("Yes", Some("yes")),
            ("Y", Some("yes")),
            ("n", Some("no")),
            ("No, it does not.", Some("no")),
        ] {
            assert_eq!(choice(text, &yes_no), meant, "{text}");
        }
        for text in ["yes and no", "maybe", "not yes", "1"] {
            assert_eq!(choice(text, &yes_no), None, "{text}");
        }
        let holds = ["holds".to_owned(), "holds not".to_owned()];
        assert_eq!(choice("holds not", &holds), Some("holds not"));
        assert_eq!(choice("holds", &holds), Some("holds"));
        assert_eq!(choice("holds well", &holds), None);
    }

    fn take(text: &str, unit: &str, accept_missing_unit: bool) -> Understood {
        take_in(text, unit, accept_missing_unit, DecimalMark::Point)
    }

    #[test]
    fn the_courses_decimal_mark_settles_what_a_comma_is() {
        assert!(matches!(take("1,250 m", "m", false), Understood::Unclear(_)));
        let comma = take_in("1,250 m", "m", false, DecimalMark::Comma);
        assert_eq!(si(&comma), Some(1.25));
        // Of two readings the one counts that is right, here 45 to 55; where neither is, a person looks.
        assert_eq!(si(&take("50,000 mm", "m", false)), Some(50.0));
        assert_eq!(si(&take("50,000 m", "m", false)), Some(50.0));
        assert!(matches!(take("62,000 mm", "m", false), Understood::Unclear(_)));
        assert_eq!(
            si(&take_in("50.000 mm", "m", false, DecimalMark::Comma)),
            Some(50.0)
        );
    }

    fn take_in(text: &str, unit: &str, accept_missing_unit: bool, mark: DecimalMark) -> Understood {
        let unit = if unit.is_empty() {
            Unit::none()
        } else {
            Unit::parse(unit).unwrap()
        };
        let reference = Quantity::new(unit.to_si(50.0), unit.dimension);
        let accepted = Accepted::Number(crate::band::Band {
            reference,
            low: 0.9 * reference.value,
            high: 1.1 * reference.value,
            causes: Vec::new(),
        });
        let policy = Policy {
            reading_error: 0.05,
            limits: crate::hydraulics::regime::Limits::default(),
            follow_through_share: 1.0,
            slip_share: 0.5,
            review_margin: 0.5,
            accept_missing_unit,
            ..Policy::DEFAULT
        };
        let asked = Asked::Number {
            formula: crate::equation::Expr::symbol("x"),
            unit,
            figures: 3,
        };
        understand(text, &asked, &accepted, &policy, mark)
    }

    fn si(understood: &Understood) -> Option<f64> {
        match understood.answer() {
            Some(Answer::Number(q)) => Some(q.value),
            _ => None,
        }
    }

    #[test]
    fn numbers_are_taken_in_any_unit_of_the_dimension() {
        for text in [
            "2 L/s",
            "0.002 m³/s",
            "Q = 2,0 L/s",
            "≈ 7.2 m3/h",
            "120 L/min",
            "2",
        ] {
            let found = si(&take(text, "L/s", true)).unwrap();
            assert!((found - 0.002).abs() < 1e-15, "{text}: {found}");
        }
        for (text, why) in [
            ("2 m/s", "asked"),
            ("2 kg/s", "asked"),
            ("2 %", "asked"),
            ("two", ""),
            ("2 to 3 L/s", ""),
            ("1e999 L/s", ""),
        ] {
            match take(text, "L/s", true) {
                Understood::Unclear(said) => assert!(said.contains(why), "{text}: {said}"),
                other => panic!("{text}: {other:?}"),
            }
        }
        assert_eq!(
            take("2", "L/s", false),
            Understood::Unclear("no unit, where `L/s` is asked".into())
        );
        assert_eq!(take("2 L/s", "", true).answer(), None);
    }

    #[test]
    fn remarks_behind_a_number_are_passed_over_and_two_answers_are_told() {
        for text in [
            "3.33 m (approx)",
            "3.33 m approx.",
            "3.33 m, roughly",
            "3.33 m about",
            "roughly 3.33 m",
            "3.33 m [from the chart]",
            "3.33 m ca.",
            "3.33 (rounded)",
        ] {
            assert_eq!(si(&take(text, "m", true)), Some(3.33), "{text}");
        }
        let why = |text: &str, unit: &str| match take(text, unit, true) {
            Understood::Unclear(why) => why,
            other => panic!("{text}: {other:?}"),
        };
        let two = "two answers were found, `3.94 L/s` and `4.1 L/s`, and one is wanted";
        assert_eq!(why("3.94 L/s or 4.1 L/s", "L/s"), two);
        // A remark with a number in it, or with what a pressure counts from, changes what is said.
        why("3.33 m (or 4)", "m");
        why("50 kPa (abs)", "kPa");
        for text in ["2 to 3", "four", "3 +/- 1", "1 2 3 4 5 6"] {
            let (with, without) = (why(text, "m"), why(text, ""));
            assert!(!with.contains("L/s"), "{with}");
            assert!(!without.contains("L/s") && !without.contains("unit"), "{without}");
        }
    }

    #[test]
    fn gauge_and_absolute_are_never_turned_into_each_other() {
        for (text, asked, clear) in [
            ("50 kPa", "kPa", true),
            ("50 kPa gauge", "kPa", true),
            ("7 psig", "kPa", true),
            ("50 kPa abs", "kPa", false),
            ("7 psia", "kPa", false),
            ("7 psia", "kPa gauge", false),
            ("50 kPa", "kPa abs", true),
            ("50", "kPa abs", true),
            ("50 kPa gauge", "kPa abs", false),
            ("7 psia", "kPa abs", true),
        ] {
            assert_eq!(
                take(text, asked, true).answer().is_some(),
                clear,
                "{text} for {asked}"
            );
        }
    }

    #[test]
    fn per_cent_may_be_written_as_a_share() {
        for text in ["50 %", "50", "0.5"] {
            assert_eq!(si(&take(text, "%", true)), Some(0.5), "{text}");
        }
        let outside = si(&take("70", "%", true)).unwrap();
        assert!((outside - 0.7).abs() < 1e-15, "{outside}");
        // Where neither is right, the nearer one is meant.
        assert_eq!(si(&take("0.62", "%", true)), Some(0.62));
        assert_eq!(si(&take("5000 %", "", true)), Some(50.0));
    }

    #[test]
    fn dashes_and_words_for_nothing_are_blank() {
        for text in ["", "  ", "-", "—", "N/A", "n.a."] {
            assert!(is_blank(text), "{text}");
        }
        assert!(!is_blank("0"));
    }
}
