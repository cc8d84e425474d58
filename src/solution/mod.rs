//! A draw solved: reference answers, and the worked solution as data, in the order that it is taught.
//!
//! Depends on: `fault`, `constants`, `quantity`, `equation`, `hydraulics`, `bank`, `draw`.

pub mod ageing;
mod case;
mod json;
mod kind;
pub mod laws;
pub mod leak;
mod machine;
pub mod meter;
pub mod network;
pub mod profile;
mod results;
pub mod tank;
mod text;
mod units;
mod worked;

pub use case::warning_text;
pub(crate) use kind::Solution;
pub use kind::{Case, Flowing, Remark, Unsolved};
pub(crate) use machine::of_machine;
pub use results::{PIPE_NAMES, PLAIN_NAMES, result_dimension, results};
pub use text::{plain_blocks, plain_inlines, plain_text};
pub use worked::worked;

use crate::bank::course::{Conventions, UnitSystem};
use crate::bank::prose::Block;
use crate::bank::system::{FluidValues, PathSystem};
use crate::bank::template::{Asked, Template};
use crate::equation::{Bindings, EquationError};
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::solve::Solved;
use crate::quantity::{DecimalMark, Quantity};

/// The answer to a part.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// A number.
    Number(Quantity),
    /// A regime.
    Regime(Regime),
    /// A word.
    Choice(String),
}

/// One step of a worked solution.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What the step does, such as `Write the energy equation`.
    pub title: String,
    /// How.
    pub body: Vec<Block>,
    /// Where it reads the friction chart.
    pub chart: Vec<ReadOff>,
}

impl Step {
    /// The same step, which reads the chart there.
    fn reading(mut self, chart: impl IntoIterator<Item = ReadOff>) -> Self {
        self.chart.extend(chart);
        self
    }
}

/// A place on the friction chart where a factor is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadOff {
    /// Reynolds number \[–\]; none where flow is taken as fully rough, so that the curve's flat part is read.
    pub reynolds: Option<f64>,
    /// ε/D \[–\].
    pub relative_roughness: f64,
}

impl ReadOff {
    /// Where a turbulent flow is read; laminar flow needs no chart.
    fn of(regime: Regime, reynolds: f64, relative_roughness: f64) -> Option<Self> {
        (regime != Regime::Laminar && reynolds > 0.0).then_some(Self {
            reynolds: Some(reynolds),
            relative_roughness,
        })
    }
}

/// A run of pipes, solved, with its fluid's values as printed: what a worked solution is written from.
#[derive(Debug, Clone, PartialEq)]
pub struct PathCase {
    /// The system, resolved.
    pub system: PathSystem,
    /// The fluid's values as printed and used.
    pub fluid: FluidValues,
    /// The solved problem.
    pub solved: Solved,
}

/// How results are printed where only their values count.
const PLAIN: Conventions = Conventions {
    units: UnitSystem::Si,
    decimal_mark: DecimalMark::Point,
    figures: 6,
    property_figures: 4,
};

/// The answer to what a part asks, from results by name and the regime in each pipe.
///
/// # Errors
/// As [`crate::equation::Expr::evaluate`]; also a pipe that the system does not have.
pub fn answer(asked: &Asked, of: &Bindings, regimes: &[Regime]) -> Result<Answer, EquationError> {
    match asked {
        Asked::Number { formula, .. } => formula.evaluate(of).map(Answer::Number),
        Asked::Regime { pipe } => match regimes.get(*pipe) {
            Some(regime) => Ok(Answer::Regime(*regime)),
            None => Err(EquationError {
                what: format!("the system has no pipe number {}", pipe + 1),
                span: None,
                mend: None,
            }),
        },
        Asked::Choice {
            options: [first, second],
            first_if,
        } => {
            let word = if first_if.holds(of)? { first } else { second };
            Ok(Answer::Choice(word.clone()))
        }
    }
}

/// Everything that a part's formula can use: the givens, and the results of the solved system; a result
/// wins over a given of its name.
pub fn names(givens: &Bindings, case: &Case, conventions: &Conventions) -> Bindings {
    with_givens(givens, case.results(conventions))
}

fn with_givens(givens: &Bindings, results: Bindings) -> Bindings {
    let mut all = givens.clone();
    for (name, bound) in results.0 {
        // A name that is both is printed as the handout prints it, if the value is the same.
        let same = all.get(&name).is_some_and(|g| {
            let (a, b) = (g.quantity.value, bound.quantity.value);
            g.quantity.dimension == bound.quantity.dimension && (a - b).abs() <= 1.0e-9 * a.abs().max(b.abs())
        });
        if !same {
            all.set(name, bound);
        }
    }
    all
}

/// The answers to all parts of a template, in order.
///
/// # Errors
/// As [`answer`].
pub fn answers(template: &Template, givens: &Bindings, case: &Case) -> Result<Vec<Answer>, EquationError> {
    let of = names(givens, case, &PLAIN);
    let regimes = case.regimes();
    template
        .parts
        .iter()
        .map(|part| answer(&part.asked, &of, &regimes))
        .collect()
}

/// A solved system as JSON with SI numbers, ending with a line feed. Pressures of stations are gauge.
pub fn json(case: &Case, limits: &Limits) -> String {
    match (case, case.kind()) {
        (Case::Path(path), _) => json::json(path),
        (_, Some(kind)) => kind.json(limits),
        (_, None) => String::new(),
    }
}
