//! The worked solution, as a good teacher writes it.

pub(super) mod ageing;
mod answers;
mod bring;
mod check;
mod direct;
mod duct;
mod flow;
pub(super) mod leak;
pub(super) mod meter;
pub(super) mod network;
pub(super) mod profile;
mod pump;
mod setting;
mod size;
pub(super) mod tank;
mod way;
mod working;

use super::units::Kind;
use super::{Case, PathCase, Step};
use crate::bank::course::Conventions;
use crate::bank::prose::{Block, Inline, text};
use crate::bank::template::Template;
use crate::equation::{Bindings, EquationError, Expr, Line};
use crate::hydraulics::regime::Limits;
use crate::hydraulics::solve::Unknown;
use working::Working;

/// The worked solution of a case; with a template, its parts' answers too.
///
/// # Errors
/// As [`crate::equation::Expr::evaluate`].
pub fn worked(
    case: &Case,
    template: Option<(&Template, &Bindings)>,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let mut steps = match (case, case.kind()) {
        (Case::Path(path), _) => of_path(path, template, limits, conventions)?,
        (_, Some(kind)) => {
            let mut steps = kind.worked(limits, conventions)?;
            if let (Case::Leak(_) | Case::Ageing(_) | Case::Network(_) | Case::Tank(_), Some(first)) =
                (case, steps.first_mut())
            {
                first.body.extend(of_the_fluid(case, conventions));
            }
            steps.push(answers::of_kind(case, kind, template, conventions)?);
            steps
        }
        (_, None) => Vec::new(),
    };
    bring::bring(&mut steps);
    Ok(steps)
}

fn of_path(
    case: &PathCase,
    template: Option<(&Template, &Bindings)>,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let mut working = Working::new(case, limits, conventions)?;
    if let Some((_, givens)) = template {
        working.givens = givens.clone();
    }
    let working = working;
    let mut steps = vec![
        setting::stations(&working),
        setting::equation(&working),
        setting::known(&working)?,
    ];
    steps.extend(duct::hydraulic_diameters(&working)?);
    steps.extend(way::coefficients(&working)?);
    steps.extend(pump::heads_at_the_flow(&working)?);
    match working.unknown {
        Unknown::Flow if pump::meets_a_curve(&working) => pump::operating_point(&working, &mut steps)?,
        Unknown::Flow => flow::steps(&working, &mut steps)?,
        Unknown::Diameter(pipe) => size::steps(&working, pipe, &mut steps)?,
        _ => direct::steps(&working, &mut steps)?,
    }
    let solved = &case.solved;
    steps.extend(way::grade(&working, &mut working.bindings(solved))?);
    if let Unknown::Diameter(pipe) = working.unknown {
        steps.extend(way::size(&working, pipe, solved)?);
    }
    pump::after(&working, &mut steps)?;
    steps.push(answers::answers(&working, template)?);
    Ok(steps)
}

/// Density, viscosity and gravity, for kinds whose own first step does not list them.
fn of_the_fluid(case: &Case, conventions: &Conventions) -> Vec<Block> {
    let results = case.results(conventions);
    let lines = ["rho", "mu", "g"].into_iter().filter_map(|name| {
        let value = Expr::Number(results.get(name)?.written.clone());
        Some(Line::equal(Expr::symbol(name), value))
    });
    let fluid = case.fluid();
    let words = match &fluid.temperature {
        Some(temperature) => vec![
            text(format!("For {} at ", fluid.name)),
            Inline::Value(temperature.clone()),
            text(", density, dynamic viscosity and the acceleration of gravity are"),
        ],
        None => vec![text(
            "Density, dynamic viscosity and the acceleration of gravity are",
        )],
    };
    vec![Block::Paragraph(words), Block::Equation(lines.collect())]
}

/// Writes lines of working, and binds what each gives for those behind it.
pub(super) struct Writer<'a> {
    /// Everything known so far, by name.
    pub(super) of: Bindings,
    /// How values are printed.
    pub(super) conventions: &'a Conventions,
}

impl<'a> Writer<'a> {
    /// One that knows a case's results. What has still to be worked out is bound anew by its line.
    pub(super) fn new(case: &Case, conventions: &'a Conventions) -> Self {
        Self {
            of: case.results(conventions),
            conventions,
        }
    }

    /// `name = formula = formula with its numbers = value`.
    ///
    /// # Errors
    /// As [`crate::equation::Expr::evaluate`].
    pub(super) fn line(&mut self, name: &str, formula: &Expr, kind: Kind) -> Result<Line, EquationError> {
        working::line(name, formula, kind, &mut self.of, self.conventions)
    }
}

/// A step.
fn step(title: impl Into<String>, body: Vec<crate::bank::prose::Block>) -> Step {
    Step {
        title: title.into(),
        body,
        chart: Vec::new(),
    }
}
