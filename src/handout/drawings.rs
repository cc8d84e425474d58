//! Drawings where they belong: a system's schematic, and in a worked solution the friction chart as it was read, and the
//! grade lines.

use super::words;
use crate::bank::course::Conventions;
use crate::bank::prose::{Block, Figure};
use crate::deal::Dealt;
use crate::figure::{
    self, CHART_DESCRIPTION, Chart, Mark, Schematic, Sheet, Way, friction_chart, grade_lines,
    handout_schematic,
};
use crate::hydraulics::regime::Limits;
use crate::quantity::{DecimalMark, round_to_figures};
use crate::solution::{Case, ReadOff, Step};

/// More readings than this would hide the chart under their guide lines.
const MOST_MARKS: usize = 5;

/// The system of a dealt problem as its statement describes it.
pub(super) fn of_statement(dealt: &Dealt, mark: DecimalMark) -> Block {
    drawn(handout_schematic(dealt, mark), "")
}

/// A system, drawn with its numbers.
pub fn schematic(case: &Case, mark: DecimalMark) -> Block {
    drawn(figure::schematic(&case.system(), mark), "")
}

/// The steps of a worked solution, of which the last answers what was asked, with drawings: the chart behind the last step
/// that reads it, and the grade lines before the answers.
pub fn illustrated(
    mut steps: Vec<Step>,
    case: &Case,
    limits: &Limits,
    conventions: &Conventions,
) -> Vec<Step> {
    let marks = marks(steps.iter().flat_map(|step| &step.chart), limits);
    let reader = steps.iter().rposition(|step| !step.chart.is_empty());
    if let Some(reader) = reader.filter(|_| (1..=MOST_MARKS).contains(&marks.len())) {
        let chart = Chart {
            sheet: Sheet::Embedded,
            marks: &marks,
            decimal_mark: conventions.decimal_mark,
            limits: *limits,
        };
        steps[reader].body.push(Block::Figure(Figure {
            svg: friction_chart(&chart),
            title: words::CHART_READ.to_owned(),
            description: CHART_DESCRIPTION.to_owned(),
        }));
    }
    if let [.., before, _] = steps.as_mut_slice()
        && let Some(lines) = grade_lines(case, conventions)
    {
        let title = match case {
            Case::Network(_) => words::FLOWS_AND_HEADS,
            _ => words::GRADE_LINES,
        };
        before.body.push(drawn(lines, title));
    }
    steps
}

fn drawn(schematic: Schematic, title: &str) -> Block {
    Block::Figure(Figure {
        svg: schematic.svg,
        title: title.to_owned(),
        description: schematic.description,
    })
}

/// The readings that lie on the chart; those that print alike are one.
fn marks<'a>(read: impl Iterator<Item = &'a ReadOff>, limits: &Limits) -> Vec<Mark> {
    let mut marks: Vec<Mark> = Vec::new();
    for point in read {
        let mark = Mark {
            reynolds: point.reynolds.unwrap_or(f64::INFINITY),
            relative_roughness: point.relative_roughness,
            way: match point.reynolds {
                Some(_) => Way::AtReynolds,
                None => Way::Across,
            },
        };
        let printed = |mark: &Mark| {
            let three = |value| round_to_figures(value, 3);
            (mark.way, three(mark.reynolds), three(mark.relative_roughness))
        };
        if mark.shows(limits) && !marks.iter().any(|known| printed(known) == printed(&mark)) {
            marks.push(mark);
        }
    }
    marks
}
