//! How hard a set's problems are over the class: a short overview for the instructor.

use super::escape_markdown;
use crate::bank::course::{Course, Set};
use crate::deal::difficulty::Between;
use crate::deal::{DealtSet, Shared};
use crate::quantity::Shown;
use std::fmt::Write as _;

/// How hard each problem of a dealt set is for the easiest-placed and the hardest-placed student, what was refused so that
/// they are alike, and which slips are too small to see for how many; Markdown.
pub fn overview<T>(course: &Course, set: &Set, dealt: &DealtSet<T>, shared: &[Shared]) -> String {
    let number = |value: f64| Shown::new(value, 3).plain(course.conventions.decimal_mark);
    let per_cent = |share: f64| {
        format!(
            "{} %",
            Shown::new(100.0 * share, 2).plain(course.conventions.decimal_mark)
        )
    };
    let between = |values: Between, print: &dyn Fn(f64) -> String| match (
        print(values.least),
        print(values.greatest),
    ) {
        (a, b) if a == b => a,
        (a, b) => format!("{a} to {b}"),
    };
    let students = dealt.students.len();
    let spread = set.policy.difficulty;
    let mut out = format!(
        "# How hard {} is\n\n{}, and all are as hard as one another: the same regime path, \
         iterations that differ by no more than {}, places on the chart no more than {} times as hard to read, and \
         bands no more than {} times as wide, over the answer.\n",
        escape_markdown(&set.title),
        if shared.is_empty() {
            "Every student has their own numbers"
        } else {
            "Some students share their numbers"
        },
        spread.iterations,
        number(spread.reading),
        number(spread.band)
    );
    for (n, (class, refused)) in dealt.difficulty.iter().zip(&dealt.refused).enumerate() {
        let Some(iterations) = class.iterations else {
            continue;
        };
        // Writing to a text can't fail.
        let _ = write!(
            out,
            "\n## {}. {}\n\n| what | over {students} students |\n|---|---|\n",
            n + 1,
            escape_markdown(&class.template.title)
        );
        let path: Vec<String> = (class.path.iter())
            .map(|(name, way)| format!("{}: {}", escape_markdown(name), way.name()))
            .collect();
        let _ = writeln!(out, "| regime path | {} |", path.join(", "));
        let whole = |value: f64| format!("{value:.0}");
        let _ = writeln!(out, "| iterations | {} |", between(iterations, &whole));
        if let Some(steepness) = class.steepness {
            let _ = writeln!(
                out,
                "| steepness of the reading | {} |",
                between(steepness, &number)
            );
        }
        for (part, widths) in class.template.parts.iter().zip(&class.widths) {
            if let Some(widths) = *widths {
                let _ = writeln!(
                    out,
                    "| width of the band of {} | {} |",
                    escape_markdown(&part.name),
                    between(widths, &per_cent)
                );
            }
        }
        for same in shared.iter().filter(|same| same.problem == n) {
            let _ = writeln!(
                out,
                "| the same numbers | {} |",
                escape_markdown(&same.ids.join(", "))
            );
        }
        let _ = writeln!(out, "| candidates refused | {} |", refused.total());
        let mut reasons: Vec<_> = refused.0.iter().collect();
        reasons.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
        for (why, times) in reasons {
            let _ = writeln!(out, "| … for: {} | {times} |", escape_markdown(why));
        }
        if !class.hidden.is_empty() {
            out.push_str("\nSlips too small to see:\n\n| part | slip | students |\n|---|---|---:|\n");
            for ((part, slip), times) in &class.hidden {
                let part = class.template.parts.get(*part).map_or("", |p| p.name.as_str());
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
