//! Bands: the interval of answers that careful work can reach, from named causes; and slips: common
//! errors as changes to the working, each with the answer it leads to.
//!
//! Depends on: `constants`, `quantity`, `equation`, `hydraulics`, `bank`, `draw`, `solution`.

mod ageing;
mod careful;
mod chain;
mod figures;
mod follow;
mod general;
mod kept;
mod leak;
mod meter;
mod network;
mod otherwise;
mod profile;
mod reading;
mod rounding;
mod sheet;
pub mod slip;
mod spread;
mod tank;
mod working;

pub(crate) use careful::asks_for_critical;

pub use reading::{misreading, steepness};

use crate::bank::course::{Conventions, Policy};
use crate::bank::template::{Asked, Template};
use crate::equation::{Bindings, Expr};
use crate::fault::{Checked, Fault};
use crate::quantity::{Quantity, Unit};
use crate::solution::{Answer, Case};

/// What each part of a dealt problem accepts.
///
/// # Errors
/// When a problem at one of the end points can't be solved, or careful work can end in the critical zone of a
/// template that does not ask for it.
pub fn bands(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    policy: &Policy,
    _conventions: &Conventions,
) -> Checked<Vec<Accepted>> {
    match (case, case.kind()) {
        (Case::Path(path), _) => careful::bands(template, givens, path, policy),
        (_, Some(kind)) => general::bands(template, givens, case, kind, policy),
        (_, None) => Ok(Vec::new()),
    }
}

/// The band of one number of a solved system that no template asks about: a result's name or a formula over results,
/// answered in `unit` to so many figures.
///
/// # Errors
/// As [`bands`]; also a formula that can't be evaluated.
pub fn band_of(
    case: &Case,
    formula: &Expr,
    unit: &Unit,
    figures: u32,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<Band> {
    let asked = Asked::Number {
        formula: formula.clone(),
        unit: unit.clone(),
        figures,
    };
    let template = Template::asking(case.system(), asked);
    let accepted = bands(&template, &Bindings::default(), case, policy, conventions)?;
    match accepted.into_iter().next() {
        Some(Accepted::Number(band)) => Ok(band),
        _ => Err(Fault::new("there is no band of what is asked").into()),
    }
}

/// The first constraint of a template that a solved case does not satisfy.
pub(crate) fn broken_constraint(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    policy: &Policy,
) -> Option<usize> {
    match case {
        Case::Path(path) => careful::broken_constraint(template, givens, path, policy),
        _ => general::broken_constraint(template, givens, case),
    }
}

/// What `part` accepts when a student's own earlier answers are taken for true: the working is redone from
/// them along the parts' declared links. `own` holds an answer for each part that is to be taken from the
/// student, and `None` for the others. An earlier answer hides those that it was itself had from.
///
/// `None` where no earlier answer bears on the part.
pub fn follow_through(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    part: usize,
    own: &[Option<Answer>],
    policy: &Policy,
    _conventions: &Conventions,
) -> Option<Accepted> {
    match (case, case.kind()) {
        (Case::Path(path), _) => follow::follow_through(template, givens, path, part, own, policy),
        (_, Some(kind)) => {
            let taken = follow::numbers_taken(template, part, own);
            general::follow_through(template, givens, case, kind, (part, &taken), policy)
        }
        (_, None) => None,
    }
}

/// What makes careful answers differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// Reading the friction factor off the chart.
    Reading,
    /// Another accepted formula in place of the chart.
    Formula,
    /// Taking flow as fully rough where the check allows it.
    FullyRough,
    /// Properties of the fluid from a common table in place of the paper's.
    Properties,
    /// Another usual value of gravity.
    Gravity,
    /// What the method by hand leaves open, such as where an iteration stops.
    Method,
    /// Rounding on the way.
    OnTheWay,
    /// Rounding of the answer itself.
    LastFigure,
}

impl Cause {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Reading,
        Self::Formula,
        Self::FullyRough,
        Self::Properties,
        Self::Gravity,
        Self::Method,
        Self::OnTheWay,
        Self::LastFigure,
    ];

    /// Its name as it is written.
    pub fn name(self) -> &'static str {
        match self {
            Self::Reading => "reading the chart",
            Self::Formula => "choice of formula",
            Self::FullyRough => "fully rough flow assumed",
            Self::Properties => "properties from a table",
            Self::Gravity => "value of gravity",
            Self::Method => "method by hand",
            Self::OnTheWay => "rounding on the way",
            Self::LastFigure => "rounding of the answer",
        }
    }

    /// Its name at the head of a narrow column.
    pub fn short(self) -> &'static str {
        match self {
            Self::Reading => "chart",
            Self::Formula => "formula",
            Self::FullyRough => "fully rough",
            Self::Properties => "table",
            Self::Gravity => "gravity",
            Self::Method => "method",
            Self::OnTheWay => "on the way",
            Self::LastFigure => "last figure",
        }
    }
}

/// The interval of a number.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// The reference answer, SI.
    pub reference: Quantity,
    /// Its low end, SI.
    pub low: f64,
    /// Its high end, SI.
    pub high: f64,
    /// What each cause alone would make of it: its low and high end, SI.
    pub causes: Vec<(Cause, f64, f64)>,
}

impl Band {
    /// A band with what each cause alone makes of it. A band is not that of the worst of everything at once, and no
    /// cause alone is told to reach beyond it.
    fn new(reference: Quantity, (low, high): (f64, f64), mut causes: Vec<(Cause, f64, f64)>) -> Self {
        for (_, from, to) in &mut causes {
            *from = from.max(low);
            *to = to.min(high);
        }
        Self {
            reference,
            low,
            high,
            causes,
        }
    }

    /// The share of each cause in the causes' own widths taken together, in the order of [`Cause::ALL`]; empty where
    /// none has a width.
    pub fn shares(&self) -> Vec<(Cause, f64)> {
        let width = |low: f64, high: f64| (high - low).max(0.0);
        let all: f64 = self.causes.iter().map(|(_, low, high)| width(*low, *high)).sum();
        if all <= 0.0 {
            return Vec::new();
        }
        self.causes
            .iter()
            .map(|(cause, low, high)| (*cause, width(*low, *high) / all))
            .collect()
    }

    /// Whether an answer lies in it.
    pub fn holds(&self, answer: f64) -> bool {
        self.low <= answer && answer <= self.high
    }

    /// How far outside an answer lies, in half widths of the band; 0 inside.
    pub fn beyond(&self, answer: f64) -> f64 {
        let half = 0.5 * (self.high - self.low);
        let out = (self.low - answer).max(answer - self.high).max(0.0);
        if out == 0.0 { 0.0 } else { out / half }
    }
}

/// What a part accepts.
#[derive(Debug, Clone, PartialEq)]
pub enum Accepted {
    /// Numbers in an interval.
    Number(Band),
    /// These answers; the first is the reference. More than one where careful work can reach either.
    OneOf(Vec<Answer>),
}

impl Accepted {
    /// The reference answer.
    pub fn reference(&self) -> Answer {
        match self {
            Self::Number(band) => Answer::Number(band.reference),
            Self::OneOf(answers) => {
                (answers.first().cloned()).unwrap_or_else(|| Answer::Choice(String::new()))
            }
        }
    }
}
