//! Proofs as text for a terminal.

use super::{Proof, Range, SlipProof, Spread, Width};
use crate::deal::difficulty::Way;
use crate::quantity::{DecimalMark, Shown, Unit};
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// Columns that the text is written for.
const WIDTH: usize = 92;
/// Columns before what stands beside a heading.
const INDENT: usize = 14;
/// Columns of a name in a table of ranges, and in one of slips or bands.
const NAME: usize = 32;
const LONG_NAME: usize = 48;
/// Columns of a number in a table.
const NUMBER: usize = 10;
/// Reasons of refusals that are listed.
const REASONS: usize = 8;

/// Whole numbers of this size read better in full.
const FULL: std::ops::Range<f64> = 1000.0..1e5;

/// A number with three figures.
pub(super) fn short(value: f64) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    if FULL.contains(&value) {
        return count(value.round() as u32);
    }
    Shown::new(value, 3).plain(DecimalMark::Point)
}

/// Numbers of one kind, written alike: where one is too large to be written in full, none is.
pub(super) fn alike<const N: usize>(numbers: [f64; N]) -> [String; N] {
    let large = |number: &f64| number.is_finite() && number.abs() >= FULL.end;
    if numbers.iter().any(large) {
        numbers.map(|number| match number.is_finite() {
            true => Shown::new(number, 3).plain(DecimalMark::Point),
            false => short(number),
        })
    } else {
        numbers.map(short)
    }
}

/// A share in per cent with three figures at most.
pub(super) fn per_cent(share: f64) -> String {
    let per_cent = 100.0 * share;
    if per_cent == 0.0 {
        return "0 %".to_owned();
    }
    let figures = if per_cent >= 10.0 { 3 } else { 2 };
    let text = Shown::new(per_cent, figures).plain(DecimalMark::Point);
    let text = match text.strip_suffix(".0") {
        Some(whole) => whole.to_owned(),
        None => text,
    };
    format!("{text} %")
}

/// A count with a comma between thousands.
pub(super) fn count(n: impl TryInto<u64>) -> String {
    let n: u64 = n.try_into().unwrap_or(u64::MAX);
    let digits = n.to_string();
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// The unit of a range, or a dash.
pub(super) fn unit(unit: &Unit) -> &str {
    if unit.symbol.is_empty() {
        "–"
    } else {
        &unit.symbol
    }
}

/// What is done about each pipe, in words.
pub(super) fn path(path: &[Way]) -> String {
    let words: Vec<&str> = path.iter().map(|way| way.name()).collect();
    match words.first() {
        None => "nothing flows".to_owned(),
        Some(first) if words.len() > 1 && words.iter().all(|word| word == first) => {
            format!("{first} in all {}", words.len())
        }
        _ => words.join(", "),
    }
}

/// Reasons of refusals, the commonest first, and how many there were of each.
pub(super) fn reasons(proof: &Proof) -> Vec<(String, u32)> {
    let mut all: Vec<_> = (proof.refused.0.iter())
        .map(|(why, times)| (why.clone(), *times))
        .collect();
    all.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let rest: u32 = all.iter().skip(REASONS).map(|(_, times)| times).sum();
    all.truncate(REASONS);
    if rest > 0 {
        all.push(("other reasons".to_owned(), rest));
    }
    all
}

/// What a template can give, in a sentence.
pub(super) fn gives(proof: &Proof) -> String {
    let (chance, _, with) = proof.doubles;
    let doubles = if with == 0 {
        "no two of these have all answers alike".to_owned()
    } else {
        format!(
            "{} of these have a double; two students share all answers once in {} pairs",
            count(with),
            short(1.0 / chance)
        )
    };
    format!(
        "some {} different draws, of {} that the givens make; {doubles}",
        short(proof.different()),
        short(proof.combinations)
    )
}

/// How hard the draws are, in a sentence.
pub(super) fn difficulty(spread: &Spread, draws: usize) -> String {
    let (commonest, times) = match spread.paths.first() {
        Some((commonest, times)) => (path(commonest), *times),
        None => (String::new(), 0),
    };
    let share = per_cent(times as f64 / draws.max(1) as f64);
    let (fewest, most) = spread.iterations;
    let passes = match (fewest, most) {
        (0, 0) => "nothing to iterate".to_owned(),
        (1, 1) => "one pass".to_owned(),
        (a, b) if a == b => format!("{a} passes"),
        (a, b) => format!("{a} to {b} passes"),
    };
    let (least, greatest) = spread.steepness;
    format!(
        "{commonest} ({share}); {passes}; steepness {} to {}; a class can be dealt {} of the draws, at least {}",
        short(least),
        short(greatest),
        per_cent(spread.alike.0),
        per_cent(spread.alike.1)
    )
}

/// The causes of a band, in words.
pub(super) fn causes(width: &Width) -> String {
    let words: Vec<String> = (width.causes.iter())
        .filter(|(_, share)| *share >= 0.005)
        .map(|(cause, share)| format!("{} {}", cause.name(), per_cent((share * 100.0).round() / 100.0)))
        .collect();
    words.join(", ")
}

/// How near a slip comes, in half widths of the band.
fn nearest(slip: &SlipProof) -> String {
    if slip.clear == 0 {
        "–".to_owned()
    } else if slip.least.is_infinite() {
        "a word".to_owned()
    } else {
        short(slip.least)
    }
}

/// In which shares of the draws each of some words was met, in words.
pub(super) fn met<'a>(words: impl Iterator<Item = (&'a str, usize)>, draws: usize) -> String {
    let each = words.map(|(word, times)| format!("{word} {}", per_cent(times as f64 / draws as f64)));
    each.collect::<Vec<_>>().join(", ")
}

/// What a table says of a slip: in which shares of the draws it is clear, overlaps, and is too small; how near it comes.
pub(super) fn clearance(slip: &SlipProof, draws: usize) -> [String; 4] {
    let share = |times: usize| per_cent(times as f64 / draws.max(1) as f64);
    [
        share(slip.clear),
        share(slip.overlaps),
        share(slip.too_small),
        nearest(slip),
    ]
}

/// A text cut into lines of a width, between words.
fn folded(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.width() + 1 + word.width() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// `text` filled up with blanks behind it.
fn left(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(text.width())))
}

/// `text` filled up with blanks before it.
fn right(text: &str, width: usize) -> String {
    format!("{}{text}", " ".repeat(width.saturating_sub(text.width())))
}

/// Writing to a text, which can't fail.
struct Page(String);

impl Page {
    fn line(&mut self, line: &str) {
        let _ = writeln!(self.0, "{}", line.trim_end());
    }

    /// A heading, and words beside it.
    fn beside(&mut self, head: &str, words: &str) {
        for (i, line) in folded(words, WIDTH - INDENT).iter().enumerate() {
            let head = if i == 0 {
                format!("  {head}")
            } else {
                String::new()
            };
            self.line(&format!("{}{line}", left(&head, INDENT)));
        }
    }

    /// A row of a table: a name, and cells; a name that is too long has a line of its own.
    fn row(&mut self, columns: usize, name: &str, cells: &[String]) {
        let mut line = left(&format!("    {name}"), columns);
        if line.width() > columns {
            self.line(&line);
            line = left("", columns);
        }
        for cell in cells {
            line.push_str(&right(cell, NUMBER));
        }
        self.line(&line);
    }

    fn ranges(&mut self, head: &str, ranges: &[Range]) {
        if ranges.is_empty() {
            return;
        }
        let heads = ["unit", "least", "quarter", "middle", "quarter", "greatest"];
        let mut line = left(&format!("  {head}"), NAME);
        for head in heads {
            line.push_str(&right(head, NUMBER));
        }
        self.line(&line);
        for range in ranges {
            let cells: Vec<String> = std::iter::once(unit(&range.unit).to_owned())
                .chain(alike(range.five.in_order()))
                .collect();
            self.row(NAME, &range.name, &cells);
        }
    }
}

/// Proofs as text for a terminal of about 92 columns: a block for each, and a summary of all.
pub fn text(proofs: &[Proof]) -> String {
    let mut page = Page(String::new());
    for proof in proofs {
        one(&mut page, proof);
    }
    summary(&mut page, proofs);
    page.0
}

fn one(page: &mut Page, proof: &Proof) {
    page.line(&format!("{}: {}", proof.template.name, proof.template.title));
    let candidates = proof.accepted as f64 + f64::from(proof.refused.total());
    page.beside(
        "draws",
        &format!(
            "{} dealt from {} candidates, {}",
            count(proof.accepted),
            count(candidates as u64),
            per_cent(proof.acceptance())
        ),
    );
    for (i, (why, times)) in reasons(proof).iter().enumerate() {
        let head = if i == 0 { "refused" } else { "" };
        page.beside(head, &format!("{} for: {why}", count(*times)));
    }
    page.beside("gives", &gives(proof));
    for (i, (name, regimes)) in proof.regimes.iter().enumerate() {
        let head = if i == 0 { "regimes" } else { "" };
        let words = regimes.iter().map(|(regime, times)| (regime.name(), *times));
        page.beside(head, &format!("{name}: {}", met(words, proof.accepted)));
    }
    if let Some(spread) = &proof.spread {
        page.beside("difficulty", &difficulty(spread, proof.accepted));
    }
    page.ranges("answers", &proof.answers);
    for (part, words) in &proof.words {
        let words = words.iter().map(|(word, times)| (word.as_str(), *times));
        page.row(NAME, part, &[format!("    {}", met(words, proof.accepted))]);
    }
    page.ranges("on the way", &proof.on_the_way);
    if !proof.widths.is_empty() {
        let mut line = left("  bands, width over answer", LONG_NAME);
        for head in ["least", "middle", "greatest"] {
            line.push_str(&right(head, NUMBER));
        }
        page.line(&line);
        for width in &proof.widths {
            let five = width.five;
            page.row(
                LONG_NAME,
                &width.part,
                &[five.least, five.middle, five.greatest].map(per_cent),
            );
            for line in folded(&causes(width), WIDTH - 6) {
                page.line(&format!("      {line}"));
            }
        }
    }
    if !proof.slips.is_empty() {
        let mut line = left("  slips (* listed)", LONG_NAME);
        for head in ["clear", "overlaps", "too small", "nearest"] {
            line.push_str(&right(head, NUMBER));
        }
        page.line(&line);
        for slip in &proof.slips {
            let star = if slip.listed { "* " } else { "  " };
            page.row(
                LONG_NAME,
                &format!("{star}{}", slip.slip),
                &clearance(slip, proof.accepted),
            );
        }
        for (a, b, times) in &proof.inseparable {
            page.beside(
                "alike",
                &format!("`{a}` and `{b}` in {times} of {} draws", count(proof.accepted)),
            );
        }
    }
    for (i, (what, times)) in proof.ugly.iter().enumerate() {
        let head = if i == 0 { "notes" } else { "" };
        page.beside(
            head,
            &format!("{what} (in {} of {} draws)", count(*times), count(proof.accepted)),
        );
    }
    for fault in &proof.faults {
        page.beside("FAULT", &fault.what);
        if let Some(mend) = &fault.mend {
            page.beside("  mend", mend);
        }
    }
    page.line("");
}

fn summary(page: &mut Page, proofs: &[Proof]) {
    let mut line = left("template", NAME);
    for head in ["accepted", "dealt", "different", "widest", "faults"] {
        line.push_str(&right(head, NUMBER + 1));
    }
    page.line(&line);
    for proof in proofs {
        let widest = proof.widths.iter().map(|w| w.five.greatest).reduce(f64::max);
        let faults = match proof.faults.len() {
            0 => "–".to_owned(),
            n => n.to_string(),
        };
        let mut line = left(&proof.template.name, NAME);
        for cell in [
            per_cent(proof.acceptance()),
            per_cent(proof.dealt_share()),
            short(proof.different()),
            widest.map_or_else(|| "–".to_owned(), per_cent),
            faults,
        ] {
            line.push_str(&right(&cell, NUMBER + 1));
        }
        page.line(&line);
    }
    let failed = proofs.iter().filter(|p| !p.faults.is_empty()).count();
    page.line(&match failed {
        0 => format!("\nAll hold: {}.", count(proofs.len())),
        n => format!("\n{} of {} need mending.", count(n), count(proofs.len())),
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_counts_are_parted() {
        assert_eq!(short(0.123_45), "0.123");
        assert_eq!(short(12_345.6), "12,346");
        assert_eq!(short(f64::INFINITY), "–");
        assert_eq!(alike([84_437.0, 99_000.0]), ["84,437", "99,000"]);
        assert_eq!(alike([84_437.0, 355_000.0]), ["8.44×10⁴", "3.55×10⁵"]);
        assert_eq!(per_cent(0.5), "50 %");
        assert_eq!(per_cent(0.034_56), "3.5 %");
        assert_eq!(per_cent(1.0), "100 %");
        assert_eq!(count(7_u32), "7");
        assert_eq!(count(1_234_567_u32), "1,234,567");
    }

    #[test]
    fn text_is_folded_between_words() {
        assert_eq!(folded("one two three", 7), ["one two", "three"]);
        assert_eq!(folded("", 7), [""]);
    }
}
