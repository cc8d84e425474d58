//! The flow is asked: assume fully rough flow, read the chart, solve, check, and iterate; or assume laminar
//! flow, solve, and check.

use super::check::{
    evaluated, fully_rough_factor, read_at_last, read_factor, regime, relative_roughness, rough_number,
};
use super::duct::{constant, laminar_words, over_jet};
use super::setting::{jet_velocity, reduced};
use super::step;
use super::working::{At, Pass, Working, capital, m, num, pipes_of, say, sum, sym, t, table};
use crate::bank::course::UnitSystem;
use crate::bank::prose::{Block, Inline};
use crate::equation::{Bindings, EquationError, Expr, Line};
use crate::quantity::{Unit, Written, round_to_figures};
use crate::solution::results::pure;
use crate::solution::units::{Kind, display_unit};
use crate::solution::{ReadOff, Step};

/// The pipe whose velocity the equation is solved for; the others follow by continuity.
const FIRST: usize = 0;

/// A common starting value of the friction factor, from the middle of the chart.
pub(super) const GUESS: f64 = 0.02;

pub(super) fn steps(w: &Working, steps: &mut Vec<Step>) -> Result<(), EquationError> {
    if w.all_laminar() {
        laminar(w, steps)
    } else {
        turbulent(w, steps)
    }
}

/// Whether a machine's head depends on the flow that is asked.
fn implicit(w: &Working) -> bool {
    w.pumps.iter().chain(&w.turbines).any(|x| x.by_power)
}

/// `D_1/D_i` to an even power, or the ratio of the areas to half of it; nothing for the pipe itself.
fn ratio(w: &Working, pipe: usize, power: i32) -> Option<Expr> {
    if pipe != FIRST && (w.duct(FIRST).is_some() || w.duct(pipe).is_some()) {
        let areas = w.area(FIRST) / w.area(pipe);
        return Some(if power == 2 { areas } else { areas.pow(power / 2) });
    }
    (pipe != FIRST && w.same_bore(pipe) != Some(FIRST))
        .then(|| (w.own("D", FIRST) / w.own("D", pipe)).pow(power))
}

fn times(factor: Expr, ratio: Option<Expr>) -> Expr {
    match ratio {
        Some(ratio) => factor * ratio,
        None => factor,
    }
}

/// Heads that do not change with the flow, and those of machines.
fn available(w: &Working) -> Vec<(bool, Expr)> {
    let mut terms = w.differences(true, true);
    for (i, plus) in [(0, true), (1, false)] {
        if w.kept.v[i] && matches!(w.at[i], At::Value(_)) {
            terms.push((plus, w.kinetic(i)));
        }
    }
    terms
}

/// `α_2 - α_1` with their ratios, where the velocity heads change with the flow.
fn kinetic_coefficients(w: &Working) -> Vec<(bool, Expr)> {
    let mut terms = Vec::new();
    for (i, plus) in [(1, true), (0, false)] {
        if !w.kept.v[i] {
            continue;
        }
        let alpha = sym(format!("alpha_{}", i + 1));
        match w.at[i] {
            At::Value(_) => {}
            At::Pipe(pipe) => terms.push((plus, times(alpha, ratio(w, pipe, 4)))),
            At::Jet(_) => {
                let jet = sym(format!("d_{}", i + 1));
                let squared = if w.duct(FIRST).is_some() {
                    over_jet(w, FIRST, jet).pow(2)
                } else {
                    (w.own("D", FIRST) / jet).pow(4)
                };
                terms.push((plus, alpha * squared));
            }
        }
    }
    terms
}

/// Minor losses of one pipe as coefficients.
fn loss_coefficients(w: &Working, pipe: usize) -> Vec<(bool, Expr)> {
    w.losses
        .iter()
        .filter(|l| l.pipe == pipe)
        .map(|l| (true, l.k.clone()))
        .collect()
}

/// Minor losses of one pipe that grow with the square of the velocity in laminar flow too.
fn square_coefficients(w: &Working, pipe: usize) -> Vec<(bool, Expr)> {
    (w.losses.iter().enumerate())
        .filter(|(j, l)| l.pipe == pipe && !w.is_length(*j))
        .map(|(_, l)| (true, l.k.clone()))
        .collect()
}

/// What takes head in proportion to the first pipe's `V²/(2g)`.
fn coefficients(w: &Working) -> Vec<(bool, Expr)> {
    let mut terms = kinetic_coefficients(w);
    for i in w.pipes() {
        let mut own = loss_coefficients(w, i);
        own.push((true, w.own("f", i) * (w.own("L", i) / w.own("D", i))));
        if i == FIRST {
            terms.extend(own);
        } else {
            terms.push((true, times(sum(own), ratio(w, i, 4))));
        }
    }
    // What is taken off comes last, where it is not missed.
    let (mut first, last): (Vec<_>, Vec<_>) = terms.into_iter().partition(|(plus, _)| *plus);
    first.extend(last);
    first
}

/// `V_i = V_1 (D_1/D_i)²` for the other pipes and the jets.
fn continuity(w: &Working) -> Vec<(String, Expr)> {
    let v = w.own("V", FIRST);
    let mut relations: Vec<_> = w
        .pipes()
        .skip(1)
        .map(|i| (w.own_name("V", i), times(v.clone(), ratio(w, i, 2))))
        .collect();
    for i in 0..2 {
        if w.kept.v[i]
            && let At::Jet(_) = w.at[i]
        {
            relations.push((format!("V_{}", i + 1), jet_velocity(w, i)));
        }
    }
    relations
}

fn continuity_words(w: &Working) -> Vec<Block> {
    let relations = continuity(w);
    if relations.is_empty() {
        return Vec::new();
    }
    vec![
        say(
            "The same flow passes every cross-section, so the velocities are tied to one another (continuity):",
        ),
        Block::Equation(
            relations
                .into_iter()
                .map(|(name, e)| Line::equal(sym(name), e))
                .collect(),
        ),
    ]
}

/// The head to spend: its symbol or the one term that it is, and a line where it has to be worked out.
fn head(w: &Working) -> (Expr, Option<Expr>) {
    let terms = available(w);
    if let [(true, only @ Expr::Symbol(_))] = terms.as_slice() {
        return (only.clone(), None);
    }
    (sym("h_avail"), Some(sum(terms)))
}

/// The velocity from the head to spend, at given friction factors.
fn velocity_formula(w: &Working) -> Expr {
    let below = if w.names.len() == 1 {
        sum(coefficients(w))
    } else {
        sym("C")
    };
    (num(2.0) * sym("g") * head(w).0 / below).sqrt()
}

fn why_turbulent(w: &Working) -> Step {
    let mut body = reduced(w);
    let v = w.own("V", FIRST);
    let f = w.own("f", FIRST);
    body.extend(continuity_words(w));
    body.push(Block::Paragraph(vec![
        t("We are after the flow "),
        m(sym("Q")),
        t(", so the velocity "),
        m(v.clone()),
        t(" is unknown. It can't simply be solved for: the losses need the friction factor "),
        m(f.clone()),
        t(", which depends on the Reynolds number, and the Reynolds number on the velocity that we are after."),
    ]));
    let (symbol, formula) = head(w);
    if let Some(formula) = &formula {
        body.push(say("Call the head that there is to spend"));
        body.push(Block::Equation(vec![Line::equal(
            symbol.clone(),
            formula.clone(),
        )]));
    }
    if implicit(w) {
        body.push(Block::Paragraph(vec![
            t("Here the head of a machine with a known power depends on the flow as well, as "),
            m(machine_head(w)),
            t(". So even for a known friction factor the velocity has to be found by trial, or with an equation solver."),
        ]));
        body.push(Block::Equation(vec![Line::equal(symbol, spent(w))]));
        if w.names.len() > 1 {
            body.push(Block::Equation(vec![Line::equal(sym("C"), sum(coefficients(w)))]));
        }
    } else {
        body.push(say(
            "If the friction factor were known, the velocity would follow at once:",
        ));
        let mut lines = Vec::new();
        if w.names.len() > 1 {
            lines.push(Line::equal(sym("C"), sum(coefficients(w))));
        }
        lines.push(Line::equal(v, velocity_formula(w)));
        body.push(Block::Equation(lines));
        if w.names.len() > 1 {
            body.push(Block::Paragraph(vec![
                m(sym("C")),
                t(format!(
                    " gathers everything that takes head, counted in velocity heads of {}.",
                    w.the_pipe(FIRST)
                )),
            ]));
        }
    }
    body.push(say(
        "So assume a friction factor, solve, check the assumption, and do it again if it fails.",
    ));
    step("See what is unknown, and why it is not simple", body)
}

/// `η P/(ρ g Q)` of the first machine with a stated power.
fn machine_head(w: &Working) -> Expr {
    let weight = sym("rho") * sym("g") * sym("Q");
    if let Some(pump) = w.pumps.iter().find(|p| p.by_power) {
        let power = sym(pump.power.clone());
        return match pump.eta {
            Some(_) => sym(pump.efficiency.clone()) * power / weight,
            None => power / weight,
        };
    }
    if let Some(turbine) = w.turbines.iter().find(|p| p.by_power) {
        let power = sym(turbine.power.clone());
        return match turbine.eta {
            Some(_) => power / (sym(turbine.efficiency.clone()) * weight),
            None => power / weight,
        };
    }
    sym("h_P")
}

/// `C V²/(2g)`: the head spent.
fn spent(w: &Working) -> Expr {
    let c = if w.names.len() == 1 {
        sum(coefficients(w))
    } else {
        sym("C")
    };
    c * super::working::velocity_head(w.own("V", FIRST))
}

/// The velocities, worked out from the friction factors that `of` binds.
fn solve_lines(w: &Working, of: &mut Bindings, again: bool) -> Result<Vec<Block>, EquationError> {
    let mut lines = Vec::new();
    let mut body = Vec::new();
    let (symbol, formula) = head(w);
    let trial = implicit(w);
    let symbol_name = match &symbol {
        Expr::Symbol(name) => name.clone(),
        _ => "h_avail".to_owned(),
    };
    if trial {
        body.push(Block::Paragraph(vec![
            t("Trial gives "),
            m(w.own("V", FIRST)),
            t(" = "),
            w_value(w, Kind::Velocity, of, &w.own_name("V", FIRST)),
            t(", so "),
            m(sym("Q")),
            t(" = "),
            w_value(w, Kind::Flow, of, "Q"),
            t(". With it, both sides of the equation are the same:"),
        ]));
        lines.extend(super::direct::heads_from_powers(w, of)?);
    }
    if let Some(formula) = formula {
        let line = w.line(&symbol_name, &formula, Kind::Length, of)?;
        // It does not change from pass to pass, unless a machine's head does.
        if !again || trial {
            lines.push(line);
        }
    }
    // Their formulas stand a few lines above, and need not be read again.
    let known = |mut line: Line| {
        if line.rest.len() > 2 {
            line.rest.remove(0);
        }
        line
    };
    if w.names.len() > 1 {
        lines.push(known(w.line("C", &sum(coefficients(w)), Kind::Number, of)?));
    }
    if trial {
        lines.push(evaluated(w, &spent(w), Kind::Length, of)?.0);
    } else {
        let line = w.line(&w.own_name("V", FIRST), &velocity_formula(w), Kind::Velocity, of)?;
        lines.push(if again { known(line) } else { line });
    }
    for (name, formula) in continuity(w) {
        let line = w.line(&name, &formula, Kind::Velocity, of)?;
        lines.push(if again { known(line) } else { line });
    }
    body.push(Block::Equation(lines));
    Ok(body)
}

fn w_value(w: &Working, kind: Kind, of: &Bindings, name: &str) -> Inline {
    w.value(kind, of.get(name).map_or(f64::NAN, |b| b.quantity.value))
}

fn turbulent(w: &Working, steps: &mut Vec<Step>) -> Result<(), EquationError> {
    steps.push(why_turbulent(w));
    let smooth: Vec<bool> = w.sizes().iter().map(|p| p.roughness == 0.0).collect();

    // Relative roughness.
    let mut b = w.bindings(&w.case.solved);
    let mut lines = Vec::new();
    for i in w.pipes() {
        let line = relative_roughness(w, i, &mut b)?;
        if !smooth[i] {
            lines.push(line);
        }
    }
    if !lines.is_empty() {
        steps.push(step(
            "Find the relative roughness",
            vec![
                say(
                    "The chart wants the roughness as a share of the bore. This does not depend on the flow, so it can \
                     be worked out now:",
                ),
                Block::Equation(lines),
            ],
        ));
    }

    // The assumption, and the first reading.
    let mut body = Vec::new();
    let all_smooth = smooth.iter().all(|s| *s);
    if all_smooth {
        body.push(Block::Paragraph(vec![
            t("The wall is smooth, so there is no fully rough flow to assume. Begin with a value from the middle of the chart: "),
            m(w.own("f", FIRST)),
            t(" = "),
            Inline::Value(pure(GUESS, 1)),
            t(". A poor guess costs one more pass, nothing else."),
        ]));
    } else {
        body.push(say(
            "Assume that the flow is fast enough to be fully rough. Then the friction factor depends on the relative \
             roughness alone, and it can be read without knowing the Reynolds number.",
        ));
    }
    let mut taken = Vec::new();
    let mut across = Vec::new();
    for i in w.pipes() {
        if smooth[i] {
            if !all_smooth {
                body.push(Block::Paragraph(vec![
                    t(format!(
                        "{} has a smooth wall; begin with ",
                        capital(&w.the_pipe(i))
                    )),
                    Inline::Value(pure(GUESS, 1)),
                    t(" there."),
                ]));
            }
            taken.push(GUESS);
            continue;
        }
        let formula = fully_rough_factor(w, i);
        let f = formula.evaluate(&b)?.value;
        taken.push(f);
        across.push(ReadOff {
            reynolds: None,
            relative_roughness: w.chart_ratio(i).evaluate(&b)?.value,
        });
        if let Some(twin) = w.twin(i) {
            w.line(&w.own_name("f", i), &formula, Kind::Number, &mut b)?;
            body.push(Block::Paragraph(vec![
                t(format!(
                    "{} has the bore and the wall of {}, so ",
                    capital(&w.the_pipe(i)),
                    w.the_pipe(twin)
                )),
                m(w.own("f", i)),
                t(" = "),
                m(w.own("f", twin)),
                t(" = "),
                Inline::Value(w.pure(f)),
                t("."),
            ]));
            continue;
        }
        body.push(Block::Paragraph(vec![
            t("Enter the chart at the right, at the curve for "),
            m(w.chart_ratio(i)),
            t(" = "),
            Inline::Value(pure(w.chart_ratio(i).evaluate(&b)?.value, 3)),
            t(" (between two printed curves, go by eye). Follow it to its flat part, go across to the left, and read "),
            m(w.own("f", i)),
            t(" = "),
            Inline::Value(pure(f, 3)),
            t(". The law behind the flat part says the same:"),
        ]));
        body.push(Block::Equation(vec![w.line(
            &w.own_name("f", i),
            &formula,
            Kind::Number,
            &mut b,
        )?]));
    }
    steps.push(
        step(
            if all_smooth {
                "Begin with a friction factor"
            } else {
                "Assume fully rough flow, and read the chart"
            },
            body,
        )
        .reading(across),
    );

    // The first pass.
    let passes = iterate(w, taken)?;
    let first = &passes[0];
    let mut of = w.bindings(&first.solved);
    let mut body = vec![say(if w.names.len() == 1 {
        "With this friction factor the velocity can be worked out:"
    } else {
        "With these friction factors the velocities can be worked out:"
    })];
    body.extend(solve_lines(w, &mut of, false)?);
    steps.push(step("Solve with this friction factor", body));

    let mut lines = Vec::new();
    for i in w.pipes() {
        lines.push(w.reynolds_line(i, &mut of)?);
    }
    steps.push(step(
        "Find the Reynolds number",
        vec![
            say("Now that there is a velocity, there is a Reynolds number:"),
            Block::Equation(lines),
        ],
    ));

    let (check, holds) = check_first(w, first, &smooth, &of)?;
    steps.push(step("Check the assumption", check));

    steps.push(settle(w, &passes, holds, &[(FIRST, "V", Kind::Velocity)])?.reading(read_at_last(w)));

    let mut of = w.bindings(&w.case.solved);
    let mut body = vec![say(if w.names.len() == 1 {
        "With the factor that has settled:"
    } else {
        "With the factors that have settled:"
    })];
    body.extend(solve_lines(w, &mut of, true)?);
    let formula = w.own("V", FIRST) * w.area(FIRST);
    body.push(say("The flow is the velocity times the cross-section:"));
    body.push(Block::Equation(vec![w.line(
        "Q",
        &formula,
        Kind::Flow,
        &mut of,
    )?]));
    body.push(say("And the regime of what came out:"));
    for i in w.pipes() {
        let state = &w.case.solved.state.pipes[i];
        if let Some(twin) = w.twin(i) {
            body.push(w.as_its_twin(i, twin, state.darcy_friction_factor));
            continue;
        }
        body.extend(regime(w, i, state, &of)?);
        if state.regime == crate::hydraulics::regime::Regime::Laminar {
            body.extend(read_factor(w, i, state, &of)?);
        }
    }
    body.push(say("Put back into the energy equation, these are the heads:"));
    body.push(Block::Equation(super::direct::losses_again(w, &mut of)?));
    body.extend(super::check::warnings(w));
    steps.push(step("Work out the flow", body));
    Ok(())
}

/// Holds the first pass against the limit of fully rough flow; whether all pipes pass.
fn check_first(
    w: &Working,
    first: &Pass,
    smooth: &[bool],
    of: &Bindings,
) -> Result<(Vec<Block>, bool), EquationError> {
    let mut body = Vec::new();
    let mut holds = true;
    if !smooth.iter().all(|s| *s) {
        body.push(Block::Paragraph(vec![
            t("Flow is fully rough from "),
            m(Expr::Compare(
                Box::new(sym("Re") * sym("f").sqrt() * sym("rr")),
                crate::equation::Relation::AtLeast,
                Box::new(Expr::Number(super::working::short(w.limits.fully_rough_start))),
            )),
            t(" (the broken line on the chart). Here"),
        ]));
    }
    for i in w.pipes() {
        if smooth[i] {
            holds = false;
            continue;
        }
        let (line, number) = evaluated(w, &rough_number(w, i), Kind::Number, of)?;
        if let Some(twin) = w.twin(i) {
            body.push(say(format!(
                "The same holds{}, which has the bore and the wall of {}.",
                w.in_pipe(i),
                w.the_pipe(twin)
            )));
            continue;
        }
        body.push(Block::Equation(vec![line]));
        let fails = number < w.limits.fully_rough_start;
        holds &= !fails;
        let whose = w.in_pipe(i);
        body.push(Block::Paragraph(vec![
            Inline::Value(pure(number, 3)),
            t(if fails { " is below " } else { " is not below " }),
            super::check::limit(w.limits.fully_rough_start),
            t(if first.solved.state.pipes[i].reynolds < w.limits.turbulent_start {
                format!(". The assumption fails{whose}: at this Reynolds number the flow is not even turbulent.")
            } else if fails {
                format!(
                    ". The assumption fails{whose}: at this Reynolds number the curve has not gone flat yet, and the \
                     friction factor is larger than the one we took."
                )
            } else {
                format!(". The assumption holds{whose}.")
            }),
        ]));
    }
    if smooth.iter().all(|s| *s) {
        body.push(Block::Paragraph(vec![
            t("The friction factor was a guess. At the Reynolds number that came out, the chart shows "),
            m(w.own("f", FIRST)),
            t(" = "),
            Inline::Value(pure(first.read[FIRST], 3)),
            t(if w.names.len() == 1 {
                ", so go on from there."
            } else {
                " in the first pipe, so go on from there."
            }),
        ]));
    }
    Ok((body, holds))
}

/// Takes friction factors, solves, reads them again, until what is printed no longer changes.
pub(super) fn iterate(w: &Working, taken: Vec<f64>) -> Result<Vec<Pass>, EquationError> {
    let exact: Vec<f64> = w
        .case
        .solved
        .state
        .pipes
        .iter()
        .map(|p| p.darcy_friction_factor)
        .collect();
    // A first guess that leads nowhere (a turbine that asks for more than there is) is mended by the answer's
    // own factor to one figure.
    let first = w.pass(&taken).or_else(|_| {
        w.pass(&exact.iter().map(|f| round_to_figures(*f, 1)).collect::<Vec<_>>())
            .or_else(|_| w.pass(&exact))
    })?;
    let mut passes = vec![first];
    while passes.len() < 60 {
        let last = &passes[passes.len() - 1];
        if settled(w, last) {
            break;
        }
        let next = w.pass(&last.read.clone())?;
        passes.push(next);
    }
    Ok(passes)
}

/// Whether a pass prints as the answer does.
fn settled(w: &Working, pass: &Pass) -> bool {
    let figures = w.figures();
    let same = |a: f64, b: f64| round_to_figures(a, figures) == round_to_figures(b, figures);
    let reached = &w.case.solved;
    pass.taken.iter().zip(&pass.read).all(|(a, b)| same(*a, *b))
        && same(pass.solved.value, reached.value)
        && pass
            .solved
            .state
            .pipes
            .iter()
            .zip(&reached.state.pipes)
            .all(|(a, b)| {
                same(a.velocity, b.velocity)
                    && same(a.reynolds, b.reynolds)
                    && same(a.darcy_friction_factor, b.darcy_friction_factor)
            })
}

/// The iteration as a table. `columns`: a pipe's own results that are shown beside factors and Reynolds
/// numbers.
pub(super) fn settle(
    w: &Working,
    passes: &[Pass],
    holds: bool,
    columns: &[(usize, &str, Kind)],
) -> Result<Step, EquationError> {
    let first = &passes[0];
    let last = &passes[passes.len() - 1];
    let mut body = Vec::new();
    // Pipes whose factor changes at all.
    let moving: Vec<usize> = w
        .pipes()
        .filter(|i| w.twin(*i).is_none())
        .filter(|i| {
            round_to_figures(first.taken[*i], w.figures()) != round_to_figures(last.read[*i], w.figures())
        })
        .collect();
    let shown: Vec<usize> = if moving.is_empty() {
        w.pipes().filter(|i| w.twin(*i).is_none()).collect()
    } else {
        moving
    };
    if holds {
        let i = shown[0];
        let percent = 100.0 * (first.read[i] / first.taken[i] - 1.0);
        body.push(Block::Paragraph(vec![
            t("One could stop here. The curve is never quite flat, though: at the Reynolds number that came out, the law behind the chart gives "),
            m(w.own("f", i)),
            t(" = "),
            Inline::Value(w.pure(first.read[i])),
            t(", which is "),
            Inline::Value(pure(percent, 2)),
            t(if percent < 1.0 {
 " % more than the flat part. No eye can tell that on the chart. "
 } else {
 " % more than the flat part, which is hardly more than an eye can tell on the chart. "
 }),
t("The reference answer goes on to where nothing changes any more:"),
        ]));
    } else {
        body.push(say(
            "Read the chart again at the Reynolds number that came out, solve again, and so on. Every pass changes less \
             than the one before:",
        ));
    }
    let symbol = |base: &str, i: usize| vec![m(w.own(base, i))];
    let mut head = vec![vec![t("Pass")]];
    let mut units: Vec<Unit> = Vec::new();
    head.extend(shown.iter().map(|i| {
        let mut cell = symbol("f", *i);
        cell.push(t(" taken"));
        cell
    }));
    for (i, base, kind) in columns {
        let unit = display_unit(*kind, result(&last.solved, *i, base), w.conventions.units);
        let mut cell = symbol(base, *i);
        if !unit.symbol.is_empty() {
            cell.push(t(format!(", {}", unit.symbol)));
        }
        head.push(cell);
        units.push(unit);
    }
    head.extend(shown.iter().map(|i| symbol("Re", *i)));
    head.extend(shown.iter().map(|i| {
        let mut cell = symbol("f", *i);
        cell.push(t(" then read"));
        cell
    }));
    let width = head.len();
    let number = |x: f64| vec![Inline::Value(w.pure(x))];
    let mut rows = Vec::new();
    for (k, pass) in passes.iter().enumerate() {
        if passes.len() > 10 && (6..passes.len() - 2).contains(&k) {
            if k == 6 {
                rows.push(vec![vec![t("…")]; width]);
            }
            continue;
        }
        let mut row = vec![vec![t((k + 1).to_string())]];
        row.extend(shown.iter().map(|i| number(pass.taken[*i])));
        for ((i, base, _), unit) in columns.iter().zip(&units) {
            row.push(number(unit.from_si(result(&pass.solved, *i, base))));
        }
        row.extend(shown.iter().map(|i| number(pass.solved.state.pipes[*i].reynolds)));
        row.extend(shown.iter().map(|i| number(pass.read[*i])));
        rows.push(row);
    }
    body.push(table(head, vec![true; width], rows));
    body.push(say(if passes.len() == 1 {
        "Nothing changes any more at the first pass."
    } else {
        "In the last row the factor that was taken and the one then read are the same: it has settled."
    }));
    Ok(step(
        if holds {
            "Settle the last figures"
        } else {
            "Iterate"
        },
        body,
    ))
}

/// A pipe's result by its base name.
fn result(solved: &crate::hydraulics::solve::Solved, pipe: usize, base: &str) -> f64 {
    match base {
        "D" => pipes_of(&solved.path).get(pipe).map_or(f64::NAN, |p| p.diameter),
        "rr" => solved.state.pipes[pipe].relative_roughness,
        _ => solved.state.pipes[pipe].velocity,
    }
}

// ---- laminar ----

/// 32, or half of a duct's own constant.
fn half_constant(w: &Working, pipe: usize) -> Expr {
    if w.duct(pipe).is_some() {
        constant(w, pipe) / num(2.0)
    } else {
        num(32.0)
    }
}

/// `32 μ L/(ρ g D²)` of a pipe, on the first pipe's velocity.
fn laminar_coefficient(w: &Working, pipe: usize) -> Expr {
    let above = if w.kinematic { sym("nu") } else { sym("mu") };
    let below = if w.kinematic {
        sym("g")
    } else {
        sym("rho") * sym("g")
    };
    let own = half_constant(w, pipe) * above * w.friction_length(pipe) / (below * w.own("D", pipe).pow(2));
    times(own, ratio(w, pipe, 2))
}

fn laminar(w: &Working, steps: &mut Vec<Step>) -> Result<(), EquationError> {
    let v = w.own("V", FIRST);
    let mut of = w.bindings(&w.case.solved);
    let mut body = reduced(w);
    body.extend(continuity_words(w));
    body.push(Block::Paragraph(vec![
        t("We are after the flow "),
        m(sym("Q")),
        t(", so the velocity "),
        m(v.clone()),
        t(" is unknown, and with it the Reynolds number and the friction factor."),
    ]));
    steps.push(step("See what is unknown", body));

    let friction = {
        let above = if w.kinematic { sym("nu") } else { sym("mu") };
        let below = if w.kinematic {
            sym("g")
        } else {
            sym("rho") * sym("g")
        };
        half_constant(w, FIRST) * above * w.own("L", FIRST) * v.clone() / (below * w.own("D", FIRST).pow(2))
    };
    let mut body = vec![say(
        "This fluid is thick for so narrow a bore, so try laminar flow first; the check comes at the end. In laminar \
             flow the friction factor needs no chart, and the head lost to friction grows in proportion to the velocity:",
    )];
    for i in w.pipes() {
        body.extend(laminar_words(w, i, &of));
    }
    body.extend([Block::Equation(vec![
        Line::equal(w.own("f", FIRST), constant(w, FIRST) / w.own("Re", FIRST)),
        Line::equal(w.own("h_f", FIRST), w.friction(FIRST)).then(crate::equation::Relation::Equal, friction),
    ])]);
    let squares: Vec<_> = kinetic_coefficients(w)
        .into_iter()
        .chain(w.pipes().flat_map(|i| {
            square_coefficients(w, i)
                .into_iter()
                .map(move |(plus, k)| (plus, times(k, ratio(w, i, 4))))
        }))
        .collect();
    let a = (!squares.is_empty()).then(|| sum(squares) / (num(2.0) * sym("g")));
    let a_counts = match &a {
        Some(a) => a.evaluate(&of)?.value != 0.0,
        None => false,
    };
    let b = sum(w.pipes().map(|i| (true, laminar_coefficient(w, i))).collect());
    let (symbol, formula) = head(w);
    let name = w.own_name("V", FIRST);
    let trial = implicit(w);
    let mut lines = Vec::new();
    if trial {
        body.push(Block::Paragraph(vec![
            t("The head of a machine with a known power depends on the flow too, as "),
            m(machine_head(w)),
            t(". So the velocity has to be found by trial, or with an equation solver. Trial gives "),
            m(v.clone()),
            t(" = "),
            w_value(w, Kind::Velocity, &of, &name),
            t(". With it, both sides of the equation are the same:"),
        ]));
        lines.extend(super::direct::heads_from_powers(w, &mut of)?);
    }
    if let Some(formula) = &formula {
        lines.push(w.line("h_avail", formula, Kind::Length, &mut of)?);
    }
    let quadratic = a.filter(|_| a_counts);
    match (&quadratic, trial) {
        (None, false) => {
            body.push(Block::Paragraph(vec![
                t("Nothing else takes head, so all the head that there is goes into friction, and the velocity follows at once. "),
                t("The head to spend, and the velocity:"),
            ]));
            let formula = if w.names.len() == 1 {
                let above = if w.kinematic {
                    sym("g")
                } else {
                    sym("rho") * sym("g")
                };
                let below = if w.kinematic { sym("nu") } else { sym("mu") };
                above * w.own("D", FIRST).pow(2) * symbol
                    / (half_constant(w, FIRST) * below * w.friction_length(FIRST))
            } else {
                symbol / b
            };
            lines.push(w.line(&name, &formula, Kind::Velocity, &mut of)?);
        }
        (Some(a), false) => {
            body.push(say(
                "Friction grows with the velocity, and the other heads with its square. That makes a quadratic equation:",
            ));
            body.push(Block::Equation(vec![Line::equal(
                sym("a") * v.clone().pow(2) + sym("b") * v.clone(),
                symbol.clone(),
            )]));
            lines.push(other(w, "a", a, "s^2/m", "s^2/ft", &mut of)?);
            lines.push(other(w, "b", &b, "s", "s", &mut of)?);
            let root = (sym("b").pow(2) + num(4.0) * sym("a") * symbol).sqrt() - sym("b");
            lines.push(w.line(&name, &(root / (num(2.0) * sym("a"))), Kind::Velocity, &mut of)?);
        }
        (a, true) => {
            let linear = b * v.clone();
            let all = match a {
                Some(a) => a.clone() * v.clone().pow(2) + linear,
                None => linear,
            };
            lines.push(evaluated(w, &all, Kind::Length, &of)?.0);
        }
    }
    for (name, formula) in continuity(w) {
        lines.push(w.line(&name, &formula, Kind::Velocity, &mut of)?);
    }
    body.push(Block::Equation(lines));
    steps.push(step("Assume laminar flow, and solve", body));

    let mut body = vec![say("Now that there is a velocity, there is a Reynolds number:")];
    for i in w.pipes() {
        let state = &w.case.solved.state.pipes[i];
        if let Some(twin) = w.twin(i) {
            body.push(w.as_its_twin(i, twin, state.darcy_friction_factor));
            continue;
        }
        body.push(Block::Equation(vec![w.reynolds_line(i, &mut of)?]));
        body.extend(regime(w, i, state, &of)?);
        body.extend(read_factor(w, i, state, &of)?);
    }
    body.push(say("The assumption holds."));
    body.extend(super::check::warnings(w));
    steps.push(step("Check the assumption", body));

    let formula = v * w.area(FIRST);
    let mut body = vec![
        say("The flow is the velocity times the cross-section:"),
        Block::Equation(vec![w.line("Q", &formula, Kind::Flow, &mut of)?]),
        say("Put back into the energy equation, these are the heads:"),
    ];
    body.push(Block::Equation(super::direct::losses_again(w, &mut of)?));
    steps.push(step("Work out the flow", body));
    Ok(())
}

/// A line whose unit is none of the usual ones.
pub(super) fn other(
    w: &Working,
    name: &str,
    formula: &Expr,
    si: &str,
    us: &str,
    of: &mut Bindings,
) -> Result<Line, EquationError> {
    let text = match w.conventions.units {
        UnitSystem::Si => si,
        UnitSystem::UsCustomary => us,
    };
    let unit = Unit::parse(text).map_err(|e| EquationError {
        what: e.what,
        span: None,
        mend: e.mend,
    })?;
    let (line, quantity) = Line::worked(sym(name), formula, of, &unit, w.figures())?;
    of.set(
        name,
        crate::equation::Bound {
            quantity,
            written: Written::from_si(quantity.value, &unit, w.figures()),
        },
    );
    Ok(line)
}
