//! How hard a set's problems are over the class: a short overview for the instructor.

use super::escape_markdown;
use crate::bank::course::{Course, Set};
use crate::deal::DealtSet;
use crate::deal::difficulty::{Difficulty, relative_width};
use crate::quantity::Shown;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// How hard each problem of a dealt set is for the easiest-placed and the hardest-placed student, what was refused so that
/// they are alike, and which slips are too small to see for how many; Markdown.
pub fn overview(course: &Course, set: &Set, dealt: &DealtSet) -> String {
    let number = |value: f64| Shown::new(value, 3).plain(course.conventions.decimal_mark);
    let per_cent = |share: f64| {
        format!(
            "{} %",
            Shown::new(100.0 * share, 2).plain(course.conventions.decimal_mark)
        )
    };
    let between = |values: &[f64], print: &dyn Fn(f64) -> String| {
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        match (print(least), print(greatest)) {
            (a, b) if a == b => a,
            (a, b) => format!("{a} to {b}"),
        }
    };
    let students = dealt.students.len();
    let spread = set.policy.difficulty;
    let mut out = format!(
        "# How hard {} is\n\nEvery student has their own numbers, and all are as hard as one another: the same regime path, \
         iterations that differ by no more than {}, places on the chart no more than {} times as hard to read, and \
         bands no more than {} times as wide, over the answer.\n",
        escape_markdown(&set.title),
        spread.iterations,
        number(spread.reading),
        number(spread.band)
    );
    for (n, refused) in dealt.refused.iter().enumerate() {
        let problems: Vec<_> = dealt.students.iter().filter_map(|s| s.problems.get(n)).collect();
        let Some(first) = problems.first() else {
            continue;
        };
        let all: Vec<Difficulty> = (problems.iter())
            .map(|p| Difficulty::of(&p.case, &p.accepted, &set.policy.limits))
            .collect();
        // Writing to a text can't fail.
        let _ = write!(
            out,
            "\n## {}. {}\n\n| what | over {students} students |\n|---|---|\n",
            n + 1,
            escape_markdown(&first.template.title)
        );
        let path: Vec<String> = (first.case.flowing().iter().zip(&all[0].path))
            .map(|(flowing, way)| format!("{}: {}", escape_markdown(&flowing.name), way.name()))
            .collect();
        let _ = writeln!(out, "| regime path | {} |", path.join(", "));
        let iterations: Vec<f64> = all.iter().map(|d| f64::from(d.iterations)).collect();
        let whole = |value: f64| format!("{value:.0}");
        let _ = writeln!(out, "| iterations | {} |", between(&iterations, &whole));
        let steepness: Vec<f64> = all.iter().flat_map(|d| d.steepness.iter().copied()).collect();
        if !steepness.is_empty() {
            let _ = writeln!(
                out,
                "| steepness of the reading | {} |",
                between(&steepness, &number)
            );
        }
        for (i, part) in first.template.parts.iter().enumerate() {
            let widths: Vec<f64> = (problems.iter())
                .filter_map(|p| relative_width(p.accepted.get(i)?))
                .collect();
            if !widths.is_empty() {
                let _ = writeln!(
                    out,
                    "| width of the band of {} | {} |",
                    escape_markdown(&part.name),
                    between(&widths, &per_cent)
                );
            }
        }
        let _ = writeln!(out, "| candidates refused | {} |", refused.total());
        let mut reasons: Vec<_> = refused.0.iter().collect();
        reasons.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        for (why, times) in reasons {
            let _ = writeln!(out, "| … for: {} | {times} |", escape_markdown(why));
        }
        let mut hidden: BTreeMap<(usize, &str), usize> = BTreeMap::new();
        for problem in &problems {
            for (slip, part) in &problem.hidden {
                if let Some(slip) = problem.slips.get(*slip) {
                    *hidden.entry((*part, slip.slip.name.as_ref())).or_default() += 1;
                }
            }
        }
        if !hidden.is_empty() {
            out.push_str("\nSlips too small to see:\n\n| part | slip | students |\n|---|---|---:|\n");
            for ((part, slip), times) in hidden {
                let part = first.template.parts.get(part).map_or("", |p| p.name.as_str());
                let _ = writeln!(
                    out,
                    "| {} | {} | {times} |",
                    escape_markdown(part),
                    escape_markdown(slip)
                );
            }
        }
    }
    out
}
