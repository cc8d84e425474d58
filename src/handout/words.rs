//! The fixed words of papers, all in one place, for whoever translates them. What a worked solution says step by step is
//! written in `solution`.

use crate::constants::policy::CAUTION;

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
    ("slips", "Where known slips lead with these numbers:"),
    ("step", "Step"),
    ("student", "Student"),
    ("written_by", "Written by"),
];

/// The papers' own names: problems, key, worked solutions.
pub(super) const PAPERS: [&str; 3] = ["Problems", "Key", "Worked solutions"];

/// Heads of the key's and the worked solution's tables.
pub(super) mod heads {
    pub(in super::super) const KEY: [&str; 4] = ["Part", "Reference", "Careful answers", "Marks"];
    pub(in super::super) const CAUSES: [&str; 2] = ["Part", "Band"];
    pub(in super::super) const SLIPS: [&str; 4] = ["Slip", "Part", "Its answer", "In this draw"];
    pub(in super::super) const BANDS: [&str; 3] = ["Part", "Careful answers", "About the reference"];
    pub(in super::super) const WHY: [&str; 5] = ["Cause", "Low", "High", "About the reference", "Share"];
}

/// What a key says of a listed slip.
pub(super) const TOLD_APART: &str = "told apart";
/// What a key says of a slip that careful work can't always be told from.
pub(super) const TOO_SMALL: &str = "too small to see here";
/// What a key says of a slip that changes nothing here.
pub(super) const NO_OTHER_ANSWER: &str = "leads to no other answer";
/// Between two ends of an interval.
pub(super) const TO: &str = " to ";
/// Between the last two of several.
pub(super) const OR: &str = " or ";
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
