//! How wide letters are, so that labels can be laid out without a font at hand.
//!
//! Advance widths in thousandths of the type size. Each is the larger of two: Adobe's metrics of Times (Roman or
//! Italic) and the font file of Libertinus Serif 7.040 in the same style. So a label that fits by this table fits
//! in either face; others of that family are as wide as Times.

use unicode_normalization::UnicodeNormalization;
use unicode_width::UnicodeWidthChar;

/// From the blank to the tilde.
const UPRIGHT: [u16; 95] = [
    250, 333, 408, 500, 500, 833, 778, 190, 333, 333, 500, 564, 250, 338, 250, 323, 500, 500, 500, 500, 500,
    500, 500, 500, 500, 500, 278, 278, 564, 564, 564, 444, 921, 722, 667, 667, 722, 611, 556, 722, 730, 333,
    389, 722, 611, 889, 722, 722, 556, 722, 667, 556, 611, 722, 722, 951, 722, 722, 611, 356, 287, 356, 518,
    500, 392, 457, 500, 444, 506, 447, 333, 500, 538, 278, 278, 512, 278, 790, 542, 504, 519, 503, 372, 390,
    316, 531, 500, 747, 500, 515, 444, 480, 205, 480, 541,
];

/// The same in italics.
const ITALIC: [u16; 95] = [
    250, 333, 420, 500, 500, 833, 778, 214, 333, 333, 500, 675, 250, 333, 250, 291, 500, 500, 500, 500, 500,
    500, 500, 500, 500, 500, 333, 333, 675, 675, 675, 500, 920, 667, 611, 667, 722, 611, 611, 722, 722, 333,
    444, 667, 556, 833, 667, 722, 611, 722, 611, 500, 556, 722, 611, 909, 628, 556, 578, 389, 321, 389, 518,
    500, 392, 500, 500, 444, 500, 444, 314, 500, 519, 278, 278, 486, 278, 783, 518, 500, 500, 500, 389, 389,
    307, 521, 472, 688, 475, 503, 436, 400, 275, 400, 541,
];

/// Advance width of a letter in parts of the type size.
fn advance(letter: char, italic: bool) -> f64 {
    let table = if italic { &ITALIC } else { &UPRIGHT };
    let ascii = (letter as usize)
        .checked_sub(' ' as usize)
        .and_then(|i| table.get(i));
    if let Some(width) = ascii {
        return f64::from(*width) / 1000.0;
    }
    // An accent stands over its letter.
    if let Some(base) = std::iter::once(letter)
        .nfd()
        .next()
        .filter(char::is_ascii_alphabetic)
    {
        return advance(base, italic);
    }
    match letter {
        '°' => 0.4,
        '²' | '³' | '¹' | '⁰' | '⁴'..='⁹' | '⁻' | '₀'..='₉' => 0.31,
        '·' | '\u{a0}' | '\u{2009}' => 0.25,
        '×' | '±' | '−' => 0.68,
        '–' | '√' => 0.55,
        'Δ' | 'Ω' | 'Σ' | 'ψ' | 'ω' => 0.7,
        // The widest of the small ones, and of Greek and Cyrillic altogether.
        'α'..='χ' => 0.64,
        '\u{370}'..='\u{52f}' => 1.0,
        // Another font takes over: a square of the type size for wide letters, and nearly as much for the rest.
        other => match other.width() {
            Some(0) => 0.0,
            Some(2) => 1.1,
            _ => 0.95,
        },
    }
}

/// Whether every letter of a text has its own width here, not the most that it may have.
pub(super) fn is_known(text: &str) -> bool {
    text.chars().all(|c| {
        let base = std::iter::once(c).nfd().next().unwrap_or(c);
        base.is_ascii()
            || matches!(c, 'α'..='ω' | 'Α'..='Ω')
            || "°²³¹⁰⁻·×±−–√\u{a0}\u{2009}".contains(c)
            || ('⁴'..='⁹').contains(&c)
    })
}

/// How wide a text is, in parts of the type size.
pub(super) fn width(text: &str, italic: bool) -> f64 {
    text.chars().map(|c| advance(c, italic)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_those_of_the_tables() {
        // Times: W 944, i 278, d 500, e 444, space 250, digit 500; Libertinus Serif: W 951, d 506, e 447.
        assert!((width("Wide 1", false) - (0.951 + 0.278 + 0.506 + 0.447 + 0.250 + 0.500)).abs() < 1e-9);
        assert!((width("f", true) - 0.314).abs() < 1e-9);
        assert!((width("~", false) - 0.541).abs() < 1e-9);
        assert!((width("ü", false) - 0.531).abs() < 1e-9 && is_known("Hähne, ρ = 12.5 m³"));
        assert!(!is_known("насос"));
        assert!(width("水泵", false) > 2.0 && width("e\u{301}", false) < 0.5);
    }
}
