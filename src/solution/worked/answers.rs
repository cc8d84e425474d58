//! The last step: the answers, with units and sensible figures.

use super::step;
use super::working::{Working, capital, m, say, sym, t};
use crate::bank::course::Conventions;
use crate::bank::prose::{Block, Inline};
use crate::bank::template::{Asked, Template};
use crate::equation::{Bindings, EquationError, Expr, Line, Relation};
use crate::hydraulics::regime::Regime;
use crate::hydraulics::solve::Unknown;
use crate::quantity::{Dimension, Written, round_to_figures};
use crate::solution::case::kind_of;
use crate::solution::units::{Kind, display_unit, shown};
use crate::solution::{Answer, Case, Solution, Step, answer, results, with_givens};

/// Figures of an answer where nothing else is asked: what a chart allows.
const ANSWER_FIGURES: u32 = 3;

/// The answers to the parts, or to the system's own question.
pub(super) fn answers(w: &Working, template: Option<(&Template, &Bindings)>) -> Result<Step, EquationError> {
    let mut body = Vec::new();
    if let Some((template, givens)) = template {
        let asking = Asking {
            of: with_givens(givens, results(w.system(), &w.case.solved, w.conventions)),
            regimes: w.case.solved.state.pipes.iter().map(|pipe| pipe.regime).collect(),
            in_pipes: (0..w.names.len()).map(|i| w.in_pipe(i)).collect(),
            has_settled: matches!(w.unknown, Unknown::Flow | Unknown::Diameter(_)) && !w.all_laminar(),
            conventions: w.conventions,
        };
        body.push(asking.parts(template)?);
    } else {
        let value = w.case.solved.value;
        let unit = display_unit(kind_of(w.unknown), value, w.conventions.units);
        // Four figures of a speed are no more than whole revolutions a minute.
        let figures = ANSWER_FIGURES + u32::from(matches!(w.unknown, Unknown::PumpSpeed(_)));
        let written = Written::from_si(value, &unit, figures);
        body.push(say(format!("{}:", capital(&w.the_unknown()))));
        body.push(Block::Equation(vec![Line::equal(
            sym(w.unknown_symbol()),
            Expr::Number(written),
        )]));
        if let Some(nominal) = results::nominal_of(w.system(), &w.case.solved) {
            let bore = shown(Kind::Bore, nominal.size.bore(), w.conventions);
            body.push(Block::Paragraph(vec![
                t(format!(
                    "The size to buy is {}, whose bore is ",
                    nominal.size.name()
                )),
                Inline::Value(bore),
                t("."),
            ]));
        }
        body.push(say(if w.all_laminar() {
            "Three figures are as many as such data deserve."
        } else {
            "A chart can't be read better than to a few per cent, so three figures are enough."
        }));
    }
    Ok(step(
        if template.is_some() {
            "Answer the parts"
        } else {
            "Answer"
        },
        body,
    ))
}

/// What the answers to parts are had from.
pub(super) struct Asking<'a> {
    /// Givens and results by name.
    pub(super) of: Bindings,
    /// The regime in each pipe.
    pub(super) regimes: Vec<Regime>,
    /// How each pipe stands in a sentence: ` in the riser`.
    pub(super) in_pipes: Vec<String>,
    /// Whether values were had in passes, so that those of the first ones stand in the working too.
    pub(super) has_settled: bool,
    /// How values are printed.
    pub(super) conventions: &'a Conventions,
}

impl Asking<'_> {
    /// The answers to all parts of a template, as a list.
    pub(super) fn parts(&self, template: &Template) -> Result<Block, EquationError> {
        let parts = template.parts.iter();
        let items = parts.map(|part| one(self, &capital(&part.name), &part.asked));
        Ok(Block::List {
            ordered: true,
            items: items.collect::<Result<_, _>>()?,
        })
    }
}

/// The answers of a system of another kind than the path: to its parts, or to its own question.
pub(super) fn of_kind(
    case: &Case,
    kind: &dyn Solution,
    template: Option<(&Template, &Bindings)>,
    conventions: &Conventions,
) -> Result<Step, EquationError> {
    let results = case.results(conventions);
    if let Some((template, givens)) = template {
        let asking = Asking {
            of: with_givens(givens, results),
            regimes: case.regimes(),
            in_pipes: (case.flowing().iter())
                .map(|flowing| format!(" in `{}`", flowing.name))
                .collect(),
            has_settled: false,
            conventions,
        };
        return Ok(step("Answer the parts", vec![asking.parts(template)?]));
    }
    let mut body = Vec::new();
    for (name, words) in kind.answers() {
        if let Some(bound) = results.get(&name) {
            let unit = &bound.written.unit;
            let written = Written::from_si(bound.quantity.value, unit, ANSWER_FIGURES);
            body.push(say(format!("{}:", capital(&words))));
            body.push(Block::Equation(vec![Line::equal(
                sym(name),
                Expr::Number(written),
            )]));
        }
    }
    Ok(step("Answer", body))
}

/// The answer to one part; its question stands where the problem is set.
fn one(w: &Asking<'_>, name: &str, asked: &Asked) -> Result<Vec<Block>, EquationError> {
    let of = &w.of;
    let named = || vec![Inline::Strong(vec![t(name)]), t(": ")];
    let with = |more: Vec<Inline>| Block::Paragraph(named().into_iter().chain(more).collect());
    Ok(match asked {
        Asked::Number {
            formula,
            unit,
            figures,
        } => {
            let value = formula.evaluate(of)?.value;
            let written = Written::from_si(value, unit, *figures);
            if matches!(formula, Expr::Symbol(_)) {
                let mut words = vec![m(formula.clone()), t(" = ")];
                // As it came out, where the question wants another unit.
                if let Expr::Symbol(name) = formula
                    && let Some(bound) = of.get(name)
                    && bound.written.unit != *unit
                {
                    words.extend([Inline::Value(bound.written.clone()), t(" = ")]);
                }
                // With more figures, where rounding what was printed would lead elsewhere.
                let printed = Written::from_si(value, unit, w.conventions.figures);
                let rounded = |number| round_to_figures(number, *figures);
                if *figures < printed.figures && rounded(printed.number) != rounded(unit.from_si(value)) {
                    let full = Written::to_be_rounded(value, unit, w.conventions.figures);
                    words.extend([Inline::Value(full), t(" = ")]);
                }
                words.push(Inline::Value(written));
                vec![with(words)]
            } else {
                let line = Line::single(formula.clone())
                    .then_numbers(formula, of, unit, w.conventions.figures)
                    .then(Relation::Equal, Expr::Number(written));
                vec![Block::Paragraph(named()), Block::Equation(vec![line])]
            }
        }
        Asked::Regime { pipe } => match answer(asked, of, &w.regimes)? {
            Answer::Regime(regime) => vec![with(vec![
                t(format!(
                    "the flow{} is ",
                    w.in_pipes.get(*pipe).map_or("", String::as_str)
                )),
                Inline::Strong(vec![t(regime.name())]),
                t("."),
            ])],
            Answer::Number(_) | Answer::Choice(_) => Vec::new(),
        },
        Asked::Choice { first_if, .. } => {
            let Answer::Choice(word) = answer(asked, of, &w.regimes)? else {
                return Ok(Vec::new());
            };
            let mut body = vec![if w.has_settled {
                with(vec![t("with the values that have settled")])
            } else {
                Block::Paragraph(named())
            }];
            let mut sentence: Vec<Inline> = Vec::new();
            let mut before: Option<&Expr> = None;
            for comparison in comparisons(first_if) {
                let Expr::Compare(left, relation, right) = comparison else {
                    continue;
                };
                if before == Some(left) {
                    sentence.push(t(" and "));
                } else {
                    if !sentence.is_empty() {
                        sentence.push(t("."));
                        body.push(Block::Paragraph(std::mem::take(&mut sentence)));
                    }
                    body.push(Block::Equation(vec![compared(w, left)?]));
                    sentence.push(t("This is "));
                }
                sentence.push(t(format!(
                    "{} ",
                    relation_words(*relation, comparison.holds(of)?)
                )));
                sentence.push(m(right.with_values(of)));
                before = Some(left);
            }
            sentence.push(t(if sentence.is_empty() {
                "The answer is "
            } else {
                ". So the answer is "
            }));
            sentence.extend([Inline::Strong(vec![t(word)]), t(".")]);
            body.push(Block::Paragraph(sentence));
            body
        }
    })
}

/// The comparisons of a condition, in order.
fn comparisons(condition: &Expr) -> Vec<&Expr> {
    match condition {
        Expr::Compare(..) => vec![condition],
        Expr::And(a, b) | Expr::Or(a, b) => [comparisons(a), comparisons(b)].concat(),
        _ => Vec::new(),
    }
}

/// The left side of a comparison with its number.
fn compared(w: &Asking<'_>, left: &Expr) -> Result<Line, EquationError> {
    let value = left.evaluate(&w.of)?;
    let kind = kind_of_dimension(value.dimension);
    let mut line = Line::single(left.clone());
    let shown = shown(kind, value.value, w.conventions);
    let has_unit = kind != Kind::Number || value.dimension == Dimension::NONE;
    if !matches!(left, Expr::Symbol(_) | Expr::Number(_)) {
        line = if has_unit {
            line.then_numbers(left, &w.of, &shown.unit, w.conventions.figures)
        } else {
            line.then(Relation::Equal, left.with_values(&w.of))
        };
    }
    if has_unit && !matches!(left, Expr::Number(_)) {
        line = line.then(Relation::Equal, Expr::Number(shown));
    }
    Ok(line)
}

/// How the left side of a comparison that holds, or does not, stands to its right side.
fn relation_words(relation: Relation, holds: bool) -> &'static str {
    match (relation, holds) {
        (Relation::Equal, true) | (Relation::NotEqual, false) => "equal to",
        (Relation::NotEqual, true) | (Relation::Equal, false) => "different from",
        (Relation::Less, true) | (Relation::AtLeast, false) => "less than",
        (Relation::AtMost, true) | (Relation::Greater, false) => "at most",
        (Relation::Greater, true) | (Relation::AtMost, false) => "more than",
        (Relation::AtLeast, true) | (Relation::Less, false) => "at least",
        (Relation::About, _) => "about",
    }
}

/// The kind of value that a dimension mostly is.
fn kind_of_dimension(dimension: Dimension) -> Kind {
    [
        (Dimension::LENGTH, Kind::Length),
        (Dimension::AREA, Kind::Area),
        (Dimension::VELOCITY, Kind::Velocity),
        (Dimension::FLOW, Kind::Flow),
        (Dimension::PRESSURE, Kind::Pressure),
        (Dimension::POWER, Kind::Power),
        (Dimension::DENSITY, Kind::Density),
        (Dimension::DYNAMIC_VISCOSITY, Kind::DynamicViscosity),
        (Dimension::KINEMATIC_VISCOSITY, Kind::KinematicViscosity),
        (Dimension::ACCELERATION, Kind::Acceleration),
    ]
    .into_iter()
    .find(|(d, _)| *d == dimension)
    .map_or(Kind::Number, |(_, kind)| kind)
}
