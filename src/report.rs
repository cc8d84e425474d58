//! Marks to item statistics and the class report.
//!
//! Shapes only: how a class did with each part, which slips are common, how answers spread about the reference.
//! No student is named. Depends on: `quantity`, `solution`, `band`, `deal`, `mark`.

use crate::band::Accepted;
use crate::deal::record::Restored;
use crate::handout::escape_markdown;
use crate::mark::{Marked, Verdict, csv_table, marks_text};
use crate::solution::Answer;
use crate::store::Files;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Bars of the histogram of totals.
const BINS: usize = 10;
/// Longest bar of the histogram, in characters.
const LONGEST_BAR: usize = 40;
/// Fewest answers whose quartiles say something.
const FEWEST_FOR_SPREAD: usize = 5;
/// Slips that are named for each part.
const SLIPS_NAMED: usize = 3;

/// Five numbers that describe a spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// How many there are.
    pub count: usize,
    /// The smallest.
    pub least: f64,
    /// A quarter lie at or below this.
    pub lower_quartile: f64,
    /// Half lie at or below this.
    pub median: f64,
    /// Three quarters lie at or below this.
    pub upper_quartile: f64,
    /// The largest.
    pub greatest: f64,
    /// The arithmetic mean.
    pub mean: f64,
}

impl Spread {
    /// The spread of some numbers; `None` where there are none. Quartiles between two numbers are interpolated
    /// linearly (the definition that spreadsheets call inclusive).
    pub fn of(mut numbers: Vec<f64>) -> Option<Self> {
        numbers.sort_by(f64::total_cmp);
        let last = numbers.len().checked_sub(1)?;
        let at = |share: f64| {
            let place = share * last as f64;
            let below = place.floor() as usize;
            let above = (below + 1).min(last);
            numbers[below] + (place - below as f64) * (numbers[above] - numbers[below])
        };
        Some(Self {
            count: numbers.len(),
            least: numbers[0],
            lower_quartile: at(0.25),
            median: at(0.5),
            upper_quartile: at(0.75),
            greatest: numbers[last],
            mean: numbers.iter().sum::<f64>() / numbers.len() as f64,
        })
    }
}

/// How a class did with one part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartReport {
    /// The problem's number in the set, from 1.
    pub problem: usize,
    /// The part's name.
    pub part: String,
    /// How many of those who handed in answered it.
    pub answered: usize,
    /// How many answers had each verdict, in the order of [`Verdict::ALL`].
    pub verdicts: [usize; 6],
    /// Marks given, on the mean of those who handed in.
    pub mean: f64,
    /// Marks that it can give.
    pub out_of: f64,
    /// Slips that explain answers, the commonest first.
    pub slips: Vec<(Cow<'static, str>, usize)>,
    /// Numbers answered, each divided by its own reference; 1 is right on it. `None` below five answers.
    pub ratios: Option<Spread>,
}

impl PartReport {
    /// How many answers had a verdict.
    pub fn count(&self, verdict: Verdict) -> usize {
        Verdict::ALL
            .iter()
            .position(|v| *v == verdict)
            .map_or(0, |i| self.verdicts[i])
    }

    /// Share of the answers that lie in the band; `None` where there are none.
    pub fn in_band_share(&self) -> Option<f64> {
        (self.answered > 0).then(|| self.count(Verdict::InBand) as f64 / self.answered as f64)
    }
}

/// How a class did with a set.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassReport {
    /// The set's title.
    pub title: String,
    /// The problems' titles, in order.
    pub problems: Vec<String>,
    /// Marks that each problem can give.
    pub out_of: Vec<f64>,
    /// Marks of each problem, on the mean of those who handed in.
    pub means: Vec<f64>,
    /// Students on the deal.
    pub students: usize,
    /// Those of whom an answer was found.
    pub handed_in: usize,
    /// Their totals.
    pub totals: Option<Spread>,
    /// How many totals lie in each tenth of the marks; the last holds full marks too.
    pub histogram: [usize; BINS],
    /// Each part of each problem.
    pub parts: Vec<PartReport>,
    /// Lines of the review list that ask for a person.
    pub for_a_person: usize,
}

impl ClassReport {
    /// Counts a marked set. Statistics are of the students who handed something in.
    pub fn new(restored: &Restored, marked: &Marked) -> Self {
        let present: Vec<usize> = (0..marked.students.len())
            .filter(|i| marked.students[*i].handed_in)
            .collect();
        let out_of = marked.total_out_of();
        let totals: Vec<f64> = present.iter().map(|i| marked.students[*i].total()).collect();
        let mut histogram = [0; BINS];
        for total in &totals {
            let share = if out_of > 0.0 { total / out_of } else { 0.0 };
            // A total of exactly three tenths must not fall below because of its last bit.
            let bin = (share * BINS as f64 + 1e-9).floor().clamp(0.0, (BINS - 1) as f64);
            histogram[bin as usize] += 1;
        }
        let count = present.len().max(1) as f64;
        let means = (0..marked.out_of.len())
            .map(|p| {
                present
                    .iter()
                    .map(|i| marked.students[*i].problems[p])
                    .sum::<f64>()
                    / count
            })
            .collect();
        let first = restored.students.first();
        Self {
            title: restored.set.title.clone(),
            problems: first
                .map(|s| s.problems.iter().map(|p| p.template.title.clone()).collect())
                .unwrap_or_default(),
            out_of: marked.out_of.clone(),
            means,
            students: marked.students.len(),
            handed_in: present.len(),
            totals: Spread::of(totals),
            histogram,
            parts: parts(restored, marked, &present),
            for_a_person: marked
                .review
                .iter()
                .filter(|r| r.kind != crate::mark::ReviewKind::Note)
                .count(),
        }
    }

    /// Adds `report.md` and `report.csv`.
    pub fn add_to(&self, files: &mut Files) {
        files.add("report.md", self.markdown().into_bytes());
        files.add("report.csv", self.csv());
    }

    /// The report for people.
    pub fn markdown(&self) -> String {
        let mut out = String::new();
        let _ = writeln!(out, "# {}: class report\n", escape_markdown(&self.title));
        let _ = writeln!(
            out,
            "{} of {} students handed something in.",
            self.handed_in, self.students
        );
        match self.for_a_person {
            0 => out.push_str("Nothing waits for a person.\n\n"),
            1 => out.push_str("One line of `review.csv` waits for a person.\n\n"),
            n => {
                let _ = writeln!(out, "{n} lines of `review.csv` wait for a person.\n");
            }
        }
        self.totals_markdown(&mut out);
        for (p, title) in self.problems.iter().enumerate() {
            self.problem_markdown(p, title, &mut out);
        }
        out
    }

    fn totals_markdown(&self, out: &mut String) {
        let Some(totals) = &self.totals else { return };
        let full: f64 = self.out_of.iter().sum();
        let _ = writeln!(out, "## Totals, out of {}\n", marks_text(full));
        out.push_str("| mean | least | lower quartile | median | upper quartile | greatest |\n");
        out.push_str("|---:|---:|---:|---:|---:|---:|\n");
        let cells = [
            totals.mean,
            totals.least,
            totals.lower_quartile,
            totals.median,
            totals.upper_quartile,
            totals.greatest,
        ];
        let _ = writeln!(out, "| {} |\n", cells.map(marks_text).join(" | "));
        let most = self.histogram.iter().copied().max().unwrap_or(0).max(1);
        out.push_str("```text\n");
        for (i, count) in self.histogram.iter().enumerate() {
            let (from, to) = (100 * i / BINS, 100 * (i + 1) / BINS);
            // Every student shows, so the shortest bar is one long.
            let bar = if most <= LONGEST_BAR {
                *count
            } else {
                (count * LONGEST_BAR).div_ceil(most)
            };
            let line = format!("{from:>3} to {to:>3} %  {} {count}", "#".repeat(bar));
            let _ = writeln!(out, "{line}");
        }
        out.push_str("```\n\n");
    }

    fn problem_markdown(&self, p: usize, title: &str, out: &mut String) {
        let _ = writeln!(
            out,
            "## Problem {}: {} (mean {} of {})\n",
            p + 1,
            escape_markdown(title),
            marks_text(self.means.get(p).copied().unwrap_or(0.0)),
            marks_text(self.out_of.get(p).copied().unwrap_or(0.0))
        );
        out.push_str("| part | answered | in the band | in the band, % | follows through | known slip | unclear | wrong | mean marks |\n");
        out.push_str("|---|---:|---:|---:|---:|---:|---:|---:|---:|\n");
        let parts = || self.parts.iter().filter(|part| part.problem == p + 1);
        for part in parts() {
            let share = part
                .in_band_share()
                .map_or("–".to_owned(), |s| format!("{:.0}", 100.0 * s));
            let _ = writeln!(
                out,
                "| {} | {} | {} | {share} | {} | {} | {} | {} | {} of {} |",
                escape_markdown(&part.part),
                part.answered,
                part.count(Verdict::InBand),
                part.count(Verdict::FollowsThrough),
                part.count(Verdict::KnownSlip),
                part.count(Verdict::Unclear),
                part.count(Verdict::Wrong),
                marks_text(part.mean),
                marks_text(part.out_of),
            );
        }
        out.push('\n');
        let more: Vec<&_> = parts()
            .filter(|part| !part.slips.is_empty() || part.ratios.is_some())
            .collect();
        if more.is_empty() {
            return;
        }
        out.push_str(
            "| part | middle half of the answers, over the reference | median | commonest slips |\n",
        );
        out.push_str("|---|---:|---:|---|\n");
        for part in more {
            let slips: Vec<String> = (part.slips.iter().take(SLIPS_NAMED))
                .map(|(name, count)| format!("{} ({count})", escape_markdown(name)))
                .collect();
            let (half, median) = match &part.ratios {
                Some(ratios) => (
                    format!(
                        "{} to {}",
                        percent(ratios.lower_quartile),
                        percent(ratios.upper_quartile)
                    ),
                    percent(ratios.median),
                ),
                None => ("–".to_owned(), "–".to_owned()),
            };
            let _ = writeln!(
                out,
                "| {} | {half} | {median} | {} |",
                escape_markdown(&part.part),
                slips.join(", ")
            );
        }
        out.push('\n');
    }

    /// The item statistics as CSV, one line a part. Ratios are answers divided by their reference.
    pub fn csv(&self) -> Vec<u8> {
        let mut head: Vec<String> = ["problem", "title", "part", "handed in", "answered"]
            .map(str::to_owned)
            .to_vec();
        head.extend(Verdict::ALL.iter().map(|v| v.name().to_owned()));
        head.extend(
            [
                "in the band, %",
                "mean marks",
                "out of",
                "commonest slip",
                "times",
                "ratio lower quartile",
                "ratio median",
                "ratio upper quartile",
            ]
            .map(str::to_owned),
        );
        let rows = self.parts.iter().map(|part| {
            let title = self.problems.get(part.problem - 1).cloned().unwrap_or_default();
            let mut row = vec![
                part.problem.to_string(),
                title,
                part.part.clone(),
                self.handed_in.to_string(),
                part.answered.to_string(),
            ];
            row.extend(part.verdicts.iter().map(ToString::to_string));
            row.push(
                part.in_band_share()
                    .map_or(String::new(), |s| format!("{:.0}", 100.0 * s)),
            );
            row.extend([marks_text(part.mean), marks_text(part.out_of)]);
            let (slip, times) = part
                .slips
                .first()
                .map_or((String::new(), String::new()), |(name, count)| {
                    (name.to_string(), count.to_string())
                });
            row.extend([slip, times]);
            row.extend(match &part.ratios {
                Some(r) => [r.lower_quartile, r.median, r.upper_quartile].map(ratio),
                None => Default::default(),
            });
            row
        });
        csv_table(std::iter::once(head).chain(rows))
    }
}

/// A ratio with four figures behind the point, or a power of ten where it is far from 1.
fn ratio(value: f64) -> String {
    if value == 0.0 || (0.001..1000.0).contains(&value.abs()) {
        format!("{value:.4}")
    } else {
        format!("{value:.3e}")
    }
}

/// A ratio in per cent.
fn percent(ratio: f64) -> String {
    let percent = 100.0 * ratio;
    if percent.abs() < 1e4 {
        format!("{percent:.1} %")
    } else {
        format!("{percent:.1e} %")
    }
}

fn parts(restored: &Restored, marked: &Marked, present: &[usize]) -> Vec<PartReport> {
    let Some(first) = restored.students.first() else {
        return Vec::new();
    };
    let mut reports = Vec::new();
    let mut ratios: Vec<Vec<f64>> = Vec::new();
    let mut slips: Vec<BTreeMap<Cow<'static, str>, usize>> = Vec::new();
    for (p, problem) in first.problems.iter().enumerate() {
        for part in &problem.template.parts {
            reports.push(PartReport {
                problem: p + 1,
                part: part.name.clone(),
                answered: 0,
                verdicts: [0; 6],
                mean: 0.0,
                out_of: 0.0,
                slips: Vec::new(),
                ratios: None,
            });
            ratios.push(Vec::new());
            slips.push(BTreeMap::new());
        }
    }
    for student in present {
        let dealt = &restored.students[*student];
        for (i, item) in marked.students[*student].items.iter().enumerate() {
            let Some(report) = reports.get_mut(i) else {
                continue;
            };
            report.out_of = item.out_of;
            report.mean += item.marks;
            if let Some(v) = Verdict::ALL.iter().position(|v| *v == item.judged.verdict) {
                report.verdicts[v] += 1;
            }
            report.answered += usize::from(item.judged.verdict != Verdict::Blank);
            for slip in item.judged.slips.iter().flatten() {
                *slips[i].entry(slip.name.clone()).or_default() += 1;
            }
            let accepted = &dealt.problems[item.problem].accepted[item.part];
            if let (Some(Answer::Number(q)), Accepted::Number(band)) =
                (item.judged.understood.answer(), accepted)
                && band.reference.value != 0.0
            {
                ratios[i].push(q.value / band.reference.value);
            }
        }
    }
    for ((report, ratios), slips) in reports.iter_mut().zip(ratios).zip(slips) {
        report.mean /= present.len().max(1) as f64;
        report.ratios = Spread::of(ratios).filter(|s| s.count >= FEWEST_FOR_SPREAD);
        report.slips = slips.into_iter().collect();
        // The sort keeps the order of names among equals.
        report.slips.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    }
    reports
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quartiles_are_those_of_a_spreadsheet() {
        // QUARTILE.INC of 1, 2, 4, 8 by hand: places 0.75, 1.5 and 2.25 from the first.
        let spread = Spread::of(vec![8.0, 1.0, 4.0, 2.0]).unwrap();
        assert_eq!(
            [
                spread.least,
                spread.lower_quartile,
                spread.median,
                spread.upper_quartile,
                spread.greatest
            ],
            [1.0, 1.75, 3.0, 5.0, 8.0]
        );
        assert_eq!(spread.mean, 3.75);
        assert_eq!(Spread::of(vec![5.0]).unwrap().upper_quartile, 5.0);
        assert_eq!(Spread::of(Vec::new()), None);
    }
}
