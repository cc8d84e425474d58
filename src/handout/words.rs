//! The fixed words of papers, all in one place, for whoever translates them. What a worked solution says step by step is
//! written in `solution/worked`, what the sheet of formulas says in `reference.rs`: sentences about formulas, not fixed words.

use crate::band::Cause;
use crate::bank::course::{Policy, ReadingModel};
use crate::bank::system::Value;
use crate::constants::policy::{CARRIED_FIGURES, CAUTION, COEFFICIENT_READING_SHARE};
use crate::solution::Case;

/// The language of the words below, as an RFC 5646 tag.
pub(super) const LANGUAGE: &str = "en";

/// What templates call `words.NAME`.
pub(super) const OF_TEMPLATES: &[(&str, &str)] = &[
    ("answer", "Answer"),
    ("caution", CAUTION),
    (
        "causes",
        "How wide each band is about the reference, and what share of it each cause has:",
    ),
    ("due", "Due"),
    ("hand_in", "How to hand in"),
    (
        "hand_in_before",
        "Write your answers into the answer sheet that came with this paper, a CSV file that any spreadsheet opens. Each row asks \
         for one part of one problem: fill in the column",
    ),
    ("hand_in_column", "answer"),
    ("hand_in_between", ", number and unit together, such as"),
    (
        "hand_in_after",
        ", or the words asked for. Any unit of the right kind counts. Leave the other columns as they are, and save the sheet as CSV.",
    ),
    (
        "hand_in_paper",
        "If your course takes answers on paper, write them into the boxes.",
    ),
    ("marks", "Marks"),
    ("marks_of", "marks"),
    ("page", "page"),
    ("problem", "Problem"),
    ("why_differ", WHY_DIFFER),
    ("slips", "Where known slips lead with these numbers:"),
    ("step", "Step"),
    ("student", "Student"),
    (
        "unseen",
        "Other slips that are too small to see with these numbers:",
    ),
    ("written_by", "Written by"),
];

/// The papers' own names: problems, key, worked solutions.
pub(super) const PAPERS: [&str; 3] = ["Problems", "Key", "Worked solutions"];

/// Heads of the key's and the worked solution's tables.
pub(super) mod heads {
    pub(in super::super) const KEY: [&str; 4] = ["Part", "Reference", "Careful answers", "Marks"];
    pub(in super::super) const CAUSES: [&str; 2] = ["Part", "Band"];
    pub(in super::super) const SLIPS: [&str; 4] = ["Slip", "Part", "Its answer", "Told apart"];
    pub(in super::super) const BANDS: [&str; 3] = ["Part", "Careful answers", "About the reference"];
    pub(in super::super) const WHY: [&str; 5] = ["Cause", "Low", "High", "About the reference", "Share"];
}

/// What a key says of a listed slip: whether careful work can always be told from it,
pub(super) const YES: &str = "yes";
/// or not.
pub(super) const NO: &str = "no";
/// The answer of a slip that changes nothing here.
pub(super) const NO_OTHER_ANSWER: &str = "the same";
/// All parts of a problem that ask for a number.
pub(super) const EVERY_NUMBER: &str = "every number";
/// Between two ends of an interval.
pub(super) const TO: &str = " to ";
/// Between the last two of several, of which one holds.
pub(super) const OR: &str = " or ";
/// Between the last two of several that hold.
pub(super) const AND: &str = " and ";
/// Between a fluid and its temperature.
pub(super) const AT: &str = " at ";
/// Before gravity and properties that a problem is to be solved with.
pub(super) const TAKE: &str = "Take ";

/// `a, b or c`.
pub(super) fn listed(words: &[&str], join: &str) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [before @ .., last] => format!("{}{join}{last}", before.join(", ")),
    }
}

fn figures(count: u32) -> String {
    match count {
        1 => "1 significant figure".to_owned(),
        n => format!("{n} significant figures"),
    }
}

/// To how many figures a number is asked.
pub(super) fn to_figures(count: u32) -> String {
    format!("to {}", figures(count))
}

/// What is wanted of a number without unit.
pub(super) fn a_number(to_figures: &str) -> String {
    format!("a number, {to_figures}")
}

/// What is wanted of a number with a unit.
pub(super) fn in_unit(unit: &str, to_figures: &str) -> String {
    // Not `in in`.
    let unit = if unit == "in" { "inches" } else { unit };
    format!("in {unit}, {to_figures}")
}

// ---- how far careful answers may differ ----

/// The title of what says why.
pub(super) const WHY_DIFFER: &str = "Why careful answers differ";
/// Where no cause is present.
pub(super) const THEY_AGREE: &str =
    "Nothing here is read off a chart, and little is rounded: careful answers agree.";
/// Before the list of causes.
pub(super) const THEY_DIFFER: &str = "Two careful people do not find the same last figures, and both are right. Their answers \
                                      may differ for these reasons:";
/// Before the table of bands, and of what each cause does.
pub(super) const LIE_BETWEEN: &str = "Careful answers lie between these limits. Behind them stands half the width that \
                                      each reason alone would give:";
/// Behind two words that are both right.
pub(super) const EITHER: &str = "; this draw lies so near the limit that careful work can reach either.";

/// Before the table of bands, where one cause alone is present.
pub(super) fn all_from(cause: &str) -> String {
    format!("Careful answers lie between these limits, all by {cause}:")
}

/// What a cause is, for someone who reads a worked solution; `pointed` gives a number its decimal mark.
pub(super) fn reason(cause: Cause, case: &Case, policy: &Policy, pointed: impl Fn(&str) -> String) -> String {
    let metered = matches!(case, Case::Meter(_));
    match cause {
        Cause::Reading if metered => {
            let error = policy.reading_error * COEFFICIENT_READING_SHARE * 100.0;
            let fixed = format!("{error:.2}");
            let share = pointed(fixed.trim_end_matches('0').trim_end_matches('.'));
            format!("the discharge coefficient may be read off a chart up to {share} % too high or too low")
        }
        Cause::Reading => {
            let fixed = format!("{:.2}", policy.reading_error * 100.0);
            let share = pointed(fixed.trim_end_matches('0').trim_end_matches('.'));
            let where_steep = match policy.reading_model {
                ReadingModel::Chart => ", and more where its curves are steep",
                ReadingModel::Even => "",
            };
            format!(
                "the friction factor may be read off the chart up to {share} % too high or too low{where_steep}"
            )
        }
        Cause::Formula => {
            "Colebrook–White or one of the explicit formulas may be taken in place of the chart".to_owned()
        }
        Cause::FullyRough => {
            "where the check allows it, flow may be taken as fully rough instead of iterating to the end"
                .to_owned()
        }
        Cause::Properties => {
            "the fluid's properties may come from a common table in place of the paper".to_owned()
        }
        Cause::Gravity => {
            let feet = matches!(case.gravity(), Value::Known(g) if g.unit.is_us_customary() == Some(true));
            // 9.8 m/s² is 32.15 ft/s², and 9.81 m/s² is 32.19 ft/s², as good as 32.2.
            let ([a, b, c], unit) = match feet {
                false => (["9.8", "9.81", "9.80665"], "m/s²"),
                true => (["32.15", "32.17", "32.2"], "ft/s²"),
            };
            let [a, b, c] = [a, b, c].map(pointed);
            format!("gravity may be taken as {a}, {b} or {c} {unit}")
        }
        Cause::Method if metered => {
            "the fluid's own density may be left out beside that of the manometer's liquid".to_owned()
        }
        Cause::Method => {
            "the method by hand leaves something open: where to stop, or how to draw a curve".to_owned()
        }
        Cause::OnTheWay => {
            format!("no fewer than {CARRIED_FIGURES} significant figures are carried from line to line")
        }
        Cause::LastFigure => "the answer is rounded as asked, in whatever unit".to_owned(),
    }
}

/// The title of why careful answers for one number differ.
pub(super) fn why_answers_differ(what: &str) -> String {
    format!("Why careful answers for {what} differ")
}
/// Before the reference,
pub(super) const THE_REFERENCE: &str = "The reference is ";

/// and behind it, for answers to so many figures.
pub(super) fn answers_to(count: u32) -> String {
    format!(
        ". Answers to {} lie within the last line; each line above is what one cause alone makes of it.",
        figures(count)
    )
}
/// What the last line of that table is called.
pub(super) const ALL_TOGETHER: &str = "all together";
/// What leads up to the numbers that a system takes from several givens together.
pub(super) const TOGETHER: &str = "What was given comes to these numbers:";
/// What stands under the friction chart of a worked solution.
pub(super) const CHART_READ: &str = "The friction chart, with the readings of this solution";
/// What stands under a path with its heads.
pub(super) const GRADE_LINES: &str = "Energy and hydraulic grade line";
/// What stands under a network with what was found.
pub(super) const FLOWS_AND_HEADS: &str = "Flows and heads as found";
/// What the file of a paper's drawings is called.
pub(super) const FIGURES: &str = "Figures";
/// What a table without a name is called where it can be moved to and fro.
pub(super) const TABLE: &str = "Table";
/// What an equation is called where it can be moved to and fro.
pub(super) const EQUATION: &str = "Equation";
