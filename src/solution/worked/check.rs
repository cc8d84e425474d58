//! Reading the chart, and saying which regime a flow is in.

use super::Writer;
use super::duct::{constant, laminar_words};
use super::working::{Working, capital, m, num, sym, t};
use crate::bank::prose::{Block, Inline};
use crate::equation::{Bindings, Bound, EquationError, Expr, Line, Relation};
use crate::hydraulics::path::PipeState;
use crate::hydraulics::regime::{Regime, roughness_reynolds};
use crate::hydraulics::solve::Unknown;
use crate::quantity::Unit;
use crate::solution::results::pure;
use crate::solution::units::Kind;
use crate::solution::{ReadOff, laws};

/// An expression, the same with numbers, and its value: a line without a name.
pub(super) fn evaluated(
    w: &Working,
    expr: &Expr,
    kind: Kind,
    of: &Bindings,
) -> Result<(Line, f64), EquationError> {
    let value = expr.evaluate(of)?.value;
    let shown = w.shown(kind, value);
    let line = Line::single(expr.clone())
        .then_numbers(expr, of, &shown.unit, w.figures())
        .then(Relation::Equal, Expr::Number(shown));
    Ok((line, value))
}

/// `Re √f ε/D`
pub(super) fn rough_number(w: &Working, pipe: usize) -> Expr {
    laws::rough_number(w.own("Re", pipe), w.own("f", pipe), w.own("rr", pipe))
}

/// `(-2 log((ε/D)/3.7))⁻²`
pub(super) fn fully_rough_factor(w: &Working, pipe: usize) -> Expr {
    laws::fully_rough(w.chart_ratio(pipe))
}

/// `ε/D` of a pipe, worked out; the name of the ratio is itself `ε/D`, so the line has no other left side.
pub(super) fn relative_roughness(w: &Working, pipe: usize, of: &mut Bindings) -> Result<Line, EquationError> {
    let formula = w.own("eps", pipe) / w.own("D", pipe);
    let (mut line, value) = evaluated(w, &formula, Kind::Number, of)?;
    if let (Some(twin), Some((_, last))) = (w.twin(pipe), line.rest.last()) {
        line = Line::equal(formula, w.own("rr", twin)).then(Relation::Equal, last.clone());
    }
    of.set(
        w.own_name("rr", pipe),
        Bound::new(value, &Unit::none(), w.figures()),
    );
    Ok(line)
}

pub(super) fn limit(value: f64) -> Inline {
    Inline::Value(super::working::short(value))
}

/// In which regime a pipe's flow is, in words and against the limits.
pub(super) fn regime(
    w: &Working,
    pipe: usize,
    state: &PipeState,
    of: &Bindings,
) -> Result<Vec<Block>, EquationError> {
    let limits = w.limits;
    let re = m(w.own("Re", pipe));
    let whose = w.in_pipe(pipe);
    let (line, number) = evaluated(w, &rough_number(w, pipe), Kind::Number, of)?;
    let figures = |value: f64| Inline::Value(pure(value, 3));
    Ok(match state.regime {
        Regime::Laminar => vec![Block::Paragraph(vec![
            re,
            t(" is below "),
            limit(limits.laminar_end),
            t(format!(
                ", so the flow{whose} is laminar. Then the wall's roughness does not matter, and the factor is exact{}",
                if w.duct(pipe).is_some() { "." } else { ":" }
            )),
        ])],
        Regime::Critical => vec![Block::Paragraph(vec![
            re,
            t(" lies between "),
            limit(limits.laminar_end),
            t(" and "),
            limit(limits.turbulent_start),
            t(format!(
                ", so the flow{whose} is in the critical zone between laminar and turbulent. No friction factor is \
                 certain there; the turbulent one is taken, which is on the safe side."
            )),
        ])],
        Regime::Smooth if state.relative_roughness == 0.0 => vec![Block::Paragraph(vec![
            re,
            t(" is above "),
            limit(limits.turbulent_start),
            t(format!(
                ", so the flow{whose} is turbulent. On a smooth wall there is no roughness to count."
            )),
        ])],
        Regime::Smooth => {
            let layer = w.own("Re", pipe) * (w.own("f", pipe) / num(8.0)).sqrt() * w.own("rr", pipe);
            let (line, _) = evaluated(w, &layer, Kind::Number, of)?;
            vec![
                Block::Paragraph(vec![
                    re,
                    t(" is above "),
                    limit(limits.turbulent_start),
                    t(format!(
                        ", so the flow{whose} is turbulent. Is the wall smooth for it? Hold the roughness against the \
                         thickness of the viscous layer at the wall:"
                    )),
                ]),
                Block::Equation(vec![line]),
                Block::Paragraph(vec![
                    t("This is below "),
                    limit(limits.smooth_end),
                    t(
                        ": by this limit, Nikuradse's for sand grains, the viscous layer covers the roughness and \
                         the wall counts as smooth. The chart's curve may lie above the smooth one all the same, \
                         since commercial walls make themselves felt sooner than sand.",
                    ),
                ]),
            ]
        }
        Regime::TransitionallyRough => vec![
            turbulent(w, pipe),
            Block::Equation(vec![line]),
            Block::Paragraph(vec![
                figures(number),
                t(" is below "),
                limit(limits.fully_rough_start),
                t(
                    ", so this is not fully rough flow. Over √8 it is the wall's roughness in thicknesses of the viscous layer, ",
                ),
                figures(roughness_reynolds(number)),
                t(", which is above "),
                limit(limits.smooth_end),
                t(
                    ", Nikuradse's limit for sand grains, so the wall is not smooth either. The flow is transitionally rough: \
                     viscosity and roughness both count, and the curve on the chart still falls.",
                ),
            ]),
        ],
        Regime::FullyRough => vec![
            turbulent(w, pipe),
            Block::Equation(vec![line]),
            Block::Paragraph(vec![
                figures(number),
                t(" is not below "),
                limit(limits.fully_rough_start),
                t(
                    ", so the flow is fully rough: roughness alone counts, and the curve on the chart is flat, or very \
                     nearly so.",
                ),
            ]),
        ],
    })
}

fn turbulent(w: &Working, pipe: usize) -> Block {
    Block::Paragraph(vec![
        m(w.own("Re", pipe)),
        t(" is above "),
        limit(w.limits.turbulent_start),
        t(format!(
            ", so the flow{} is turbulent. Is it fully rough?",
            w.in_pipe(pipe)
        )),
    ])
}

/// A roughness over the bore, with its numbers.
pub(super) fn over_bore(w: &Writer<'_>, roughness: &str, value: f64) -> Line {
    let ratio = sym(roughness) / sym("D");
    Line::single(ratio.clone())
        .then_numbers(&ratio, &w.of, &Unit::none(), w.conventions.figures)
        .then(Relation::Equal, Expr::Number(pure(value, w.conventions.figures)))
}

/// A formula in a line of text: one symbol over another with a stroke between, as a fraction would be tiny there.
pub(super) fn in_line(formula: Expr) -> Vec<Inline> {
    match formula {
        Expr::Divide(above, below) if matches!((&*above, &*below), (Expr::Symbol(_), Expr::Symbol(_))) => {
            vec![m(*above), t("/"), m(*below)]
        }
        other => vec![m(other)],
    }
}

/// How the chart is read: at a Reynolds number, on the curve of a relative roughness or of smooth walls.
pub(super) fn enter_chart(
    (reynolds, at): (Expr, f64),
    ratio: Option<(Expr, f64)>,
    (factor, read): (Expr, f64),
) -> Vec<Inline> {
    let mut words = vec![
        t(if ratio.is_none() {
            "The wall is smooth. Enter the chart at "
        } else {
            "Enter the chart at "
        }),
        m(reynolds),
        t(" = "),
        Inline::Value(pure(at, 3)),
    ];
    match ratio {
        None => words.push(t(", go up to the curve for smooth pipes, and read at the left ")),
        Some((ratio, value)) => {
            words.push(t(", go up to the curve for "));
            words.extend(in_line(ratio));
            words.extend([
                t(" = "),
                Inline::Value(pure(value, 3)),
                t(" (between two printed curves, go by eye), and read at the left "),
            ]);
        }
    }
    words.extend([m(factor), t(" = "), Inline::Value(pure(read, 3)), t(".")]);
    words
}

/// The same where the reading is all that is said of the factor: with the figures that the lines after it use.
pub(super) fn read_off(
    reynolds: (Expr, f64),
    ratio: Option<(Expr, f64)>,
    factor: (Expr, f64),
    figures: u32,
) -> Block {
    let exact = pure(factor.1, figures);
    let mut words = enter_chart(reynolds, ratio, factor);
    words.extend([
        t(" Colebrook and White's law, by which the curves are drawn, gives "),
        Inline::Value(exact),
        t("."),
    ]);
    Block::Paragraph(words)
}

/// The friction factor of a pipe whose Reynolds number is known.
pub(super) fn read_factor(
    w: &Working,
    pipe: usize,
    state: &PipeState,
    of: &Bindings,
) -> Result<Vec<Block>, EquationError> {
    let f = w.own("f", pipe);
    if state.regime == Regime::Laminar {
        let mut of = of.clone();
        // Where the whole path was taken as laminar at once, its constants were told there.
        let told = w.unknown == Unknown::Flow && w.all_laminar();
        let mut body = if told {
            Vec::new()
        } else {
            laminar_words(w, pipe, &of)
        };
        let line = w.line(
            &w.own_name("f", pipe),
            &(constant(w, pipe) / w.own("Re", pipe)),
            Kind::Number,
            &mut of,
        )?;
        body.push(Block::Equation(vec![line]));
        return Ok(body);
    }
    let mut body = Vec::new();
    let (chart_reynolds, chart_ratio) = (w.chart_reynolds(pipe), w.chart_ratio(pipe));
    let turbulent_diameter = turbulent_diameter(w, pipe);
    if turbulent_diameter != 1.0 {
        let mut of = of.clone();
        let stretch = w.own("D_e", pipe) / w.own("D", pipe);
        let mut lines = vec![w.line(
            &w.own_name("Re_e", pipe),
            &(w.own("Re", pipe) * stretch),
            Kind::Number,
            &mut of,
        )?];
        if state.relative_roughness != 0.0 {
            lines.push(evaluated(w, &chart_ratio, Kind::Number, &of)?.0);
        }
        body.push(Block::Paragraph(vec![t("On the effective diameter these are")]));
        body.push(Block::Equation(lines));
    }
    let smooth = state.relative_roughness == 0.0;
    let ratio = (!smooth).then(|| chart_ratio.clone());
    let formula = laws::colebrook(f.clone(), chart_reynolds.clone(), ratio);
    // `1/√0.0226 = 6.65 = -2 log(…)`: either side with its numbers, and what both come to between them.
    let left = num(1.0) / f.clone().sqrt();
    let value = formula.evaluate(of)?.value;
    let both = Line::equal(left.with_values(of), Expr::Number(w.pure(value))).then_numbers(
        &formula,
        of,
        &Unit::none(),
        w.figures(),
    );
    let words = enter_chart(
        (chart_reynolds, state.reynolds * turbulent_diameter),
        (!smooth).then(|| (chart_ratio, state.relative_roughness / turbulent_diameter)),
        (f.clone(), state.darcy_friction_factor),
    );
    body.extend([
        Block::Paragraph(words),
        Block::Paragraph(vec![t(
            "The law behind the chart's curves is Colebrook and White's:",
        )]),
        Block::Equation(vec![Line::equal(num(1.0) / f.clone().sqrt(), formula)]),
        Block::Paragraph(vec![
            m(f),
            t(" = "),
            Inline::Value(w.pure(state.darcy_friction_factor)),
            t(" satisfies it, as both sides come to the same:"),
        ]),
        Block::Equation(vec![both]),
    ]);
    Ok(body)
}

/// Where the chart is read for the flow that settled.
pub(super) fn read_at_last(w: &Working) -> Vec<ReadOff> {
    w.pipes()
        .filter_map(|i| {
            let state = &w.case.solved.state.pipes[i];
            let stretch = turbulent_diameter(w, i);
            ReadOff::of(
                state.regime,
                state.reynolds * stretch,
                state.relative_roughness / stretch,
            )
        })
        .collect()
}

/// The diameter that the chart is read with, over the hydraulic one.
fn turbulent_diameter(w: &Working, pipe: usize) -> f64 {
    w.duct(pipe)
        .filter(|duct| duct.effective)
        .map_or(1.0, |duct| duct.section().turbulent_diameter)
}

/// A remark for each warning.
pub(super) fn warnings(w: &Working) -> Vec<Block> {
    w.case
        .solved
        .warnings
        .iter()
        .map(|warning| {
            let words = crate::solution::warning_text(warning, w.system());
            Block::Note(vec![t(format!("{}.", capital(&words)))])
        })
        .collect()
}
