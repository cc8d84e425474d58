//! The diameter of a pipe is asked: everything depends on it, so guess a friction factor, solve, and iterate.

use super::check::{read_at_last, read_factor, regime, relative_roughness};
use super::direct::{factor, heads_from_powers, through, velocity};
use super::flow::{GUESS, iterate, settle};
use super::setting::reduced;
use super::step;
use super::way::{area_lines, touches};
use super::working::{At, Pass, Working, capital, m, num, say, sum, sym, t};
use crate::bank::course::UnitSystem;
use crate::bank::prose::{Block, Inline};
use crate::equation::{Bindings, Bound, EquationError, Expr, Line};
use crate::hydraulics::regime::Regime;
use crate::quantity::{Unit, Written};
use crate::solution::Step;
use crate::solution::results::pure;
use crate::solution::units::Kind;

pub(super) fn steps(w: &Working, pipe: usize, steps: &mut Vec<Step>) -> Result<(), EquationError> {
    steps.push(why(w, pipe));
    let mut b = w.bindings(&w.case.solved);
    let laminar = w.case.solved.state.pipes[pipe].regime == Regime::Laminar;

    // What does not depend on the diameter: the other pipes, machines, the head that is left for this one.
    let mut body = Vec::new();
    for i in w.pipes().filter(|i| *i != pipe) {
        let lines = vec![velocity(w, i, &mut b)?, w.reynolds_line(i, &mut b)?];
        body.push(say(format!(
            "{} has a known bore, so everything in it is known:",
            capital(&w.the_pipe(i))
        )));
        body.push(Block::Equation(lines));
        body.extend(factor(w, i, false, &mut b)?);
        let mut lines = vec![w.line(&w.own_name("h_f", i), &w.friction(i), Kind::Length, &mut b)?];
        if let Some(minors) = w.minors_of(i, &|j| touches(&w.losses[j], pipe)) {
            lines.push(w.line(&w.own_name("h_m", i), &minors, Kind::Length, &mut b)?);
        }
        body.push(Block::Equation(lines));
    }
    let mut lines = heads_from_powers(w, &mut b)?;
    for i in 0..2 {
        if let (At::Jet(_), true) = (w.at[i], w.kept.v[i]) {
            lines.push(w.line(
                &format!("V_{}", i + 1),
                &through(sym(format!("d_{}", i + 1))),
                Kind::Velocity,
                &mut b,
            )?);
        }
    }
    lines.push(w.line("h_avail", &left(w, pipe), Kind::Length, &mut b)?);
    body.push(say(if w.names.len() == 1 {
        "This is the head that there is to spend in the pipe:".to_owned()
    } else {
        format!("This is the head that is left to spend in {}:", w.the_pipe(pipe))
    }));
    body.push(Block::Equation(lines));
    // With no velocity head of its own at a station, and no other pipe, losses alone spend it.
    let to_spend = b.get("h_avail").map_or(f64::NAN, |bound| bound.quantity.value);
    let lost = w.case.solved.state.head_loss;
    if (to_spend - lost).abs() <= 1e-6 * lost {
        body.push(Block::Paragraph(vec![
            t("The losses spend all of it: "),
            m(sym("h_avail")),
            t(" is "),
            m(sym("h_L")),
            t("."),
        ]));
    }
    steps.push(step("Find the head to spend", body));

    if laminar && explicit(w, pipe) {
        return laminar_explicit(w, pipe, b, steps);
    }

    let mut taken: Vec<f64> = w
        .case
        .solved
        .state
        .pipes
        .iter()
        .map(|p| p.darcy_friction_factor)
        .collect();
    taken[pipe] = GUESS;
    let passes = iterate(w, taken)?;
    let first = &passes[0];
    let mut of = with_head(w, &first.solved, &b);
    let f = w.own("f", pipe);
    let mut body = vec![Block::Paragraph(vec![
        t("Begin with a value from the middle of the chart, "),
        m(f.clone()),
        t(" = "),
        Inline::Value(pure(first.taken[pipe], 2)),
        t(". A poor guess does little harm: the bore goes with about the fifth root of "),
        m(f),
        t(", so ten per cent in the factor are two per cent in the bore."),
    ])];
    body.extend(bore(w, pipe, &mut of, false)?);
    steps.push(step("Begin with a friction factor, and solve", body));

    let mut body = vec![say("With this bore, everything that the chart wants is known:")];
    body.push(Block::Equation(chart_lines(w, pipe, &mut of)?));
    body.push(Block::Paragraph(vec![
        t("There the chart shows "),
        m(w.own("f", pipe)),
        t(" = "),
        Inline::Value(pure(first.read[pipe], 3)),
        t(", and we took "),
        Inline::Value(pure(first.taken[pipe], 2)),
        t(". So do it again with the new value."),
    ]));
    steps.push(step("Read the chart there, and compare", body));

    steps.push(settled(w, pipe, &passes)?);

    let mut of = with_head(w, &w.case.solved, &b);
    let mut body = bore(w, pipe, &mut of, true)?;
    body.push(Block::Equation(chart_lines(w, pipe, &mut of)?));
    let state = &w.case.solved.state.pipes[pipe];
    if laminar {
        body.extend(regime(w, pipe, state, &of)?);
        body.extend(read_factor(w, pipe, state, &of)?);
    } else {
        body.extend(read_factor(w, pipe, state, &of)?);
        body.extend(regime(w, pipe, state, &of)?);
    }
    body.push(say("Put back into the energy equation, these are the heads:"));
    body.push(Block::Equation(super::direct::losses_again(w, &mut of)?));
    body.extend(super::check::warnings(w));
    steps.push(step("Work out the bore, and check the regime", body).reading(read_at_last(w)));
    Ok(())
}

fn why(w: &Working, pipe: usize) -> Step {
    let d = w.own("D", pipe);
    let mut body = reduced(w);
    body.push(Block::Paragraph(vec![
        t(format!("We are after {}, ", w.the_unknown())),
        m(d),
        t(". Everything in "),
        t(w.the_pipe(pipe)),
        t(" depends on it: the velocity, the Reynolds number, the relative roughness, and so the friction factor."),
    ]));
    if w.kept
        .v
        .iter()
        .zip(w.at)
        .any(|(kept, at)| *kept && at == At::Pipe(pipe))
    {
        body.push(say("A velocity head at a station depends on it as well."));
    }
    let v = w.own("V", pipe);
    body.push(say("The velocity can be written through the flow, which is known, and then the head spent in the pipe is"));
    body.push(Block::Equation(vec![
        Line::equal(v, through(w.own("D", pipe))),
        Line::equal(sym("h_avail"), spent(w, pipe)),
    ]));
    body.push(say(if explicit(w, pipe) {
        "For a known friction factor this gives the bore. But the factor is not known yet. So take one, solve, read the \
         chart there, and go on with what it shows."
    } else {
        "Even with a known friction factor this can't be solved for the bore directly: it takes trial, or an equation \
         solver. And the factor is not known yet. So take one, solve, read the chart there, and go \
         on with what it shows."
    }));
    step("See what is unknown, and why it is not simple", body)
}

/// What takes head in this pipe in proportion to its `V²/(2g)`, without friction.
fn others(w: &Working, pipe: usize) -> Vec<(bool, Expr)> {
    let mut terms = Vec::new();
    for (i, plus) in [(1, true), (0, false)] {
        if w.kept.v[i] && w.at[i] == At::Pipe(pipe) {
            terms.push((plus, sym(format!("alpha_{}", i + 1))));
        }
    }
    terms.extend(
        w.losses
            .iter()
            .filter(|l| l.pipe == pipe)
            .map(|l| (true, l.k.clone())),
    );
    terms
}

/// Whether friction alone depends on the bore, so that it can be had from a fifth power.
fn explicit(w: &Working, pipe: usize) -> bool {
    others(w, pipe).is_empty() && !w.losses.iter().any(|l| touches(l, pipe))
}

/// `(K + f L/D) 8 Q²/(π² g D⁴)`
fn spent(w: &Working, pipe: usize) -> Expr {
    let mut terms = others(w, pipe);
    terms.push((true, w.own("f", pipe) * (w.own("L", pipe) / w.own("D", pipe))));
    let own =
        sum(terms) * (num(8.0) * sym("Q").pow(2) / (Expr::Pi.pow(2) * sym("g") * w.own("D", pipe).pow(4)));
    // A change of area into this pipe counts on the other one's velocity, but its coefficient on both bores.
    let changes = (w.losses.iter()).filter(|l| l.pipe != pipe && touches(l, pipe));
    sum(std::iter::once((true, own))
        .chain(changes.map(|l| (true, w.minor(l))))
        .collect())
}

/// All heads that do not depend on the bore.
fn left(w: &Working, pipe: usize) -> Expr {
    let mut terms = w.differences(true, true);
    for (i, plus) in [(0, true), (1, false)] {
        if w.kept.v[i] && w.at[i] != At::Pipe(pipe) {
            terms.push((plus, w.kinetic(i)));
        }
    }
    for i in w.pipes().filter(|i| *i != pipe) {
        terms.push((false, w.own("h_f", i)));
        if w.minors_of(i, &|j| touches(&w.losses[j], pipe)).is_some() {
            terms.push((false, w.own("h_m", i)));
        }
    }
    sum(terms)
}

/// A solution's bindings with the head to spend, which does not change from pass to pass.
fn with_head(w: &Working, solved: &crate::hydraulics::solve::Solved, before: &Bindings) -> Bindings {
    let mut of = w.bindings(solved);
    if let Some(head) = before.get("h_avail") {
        of.set("h_avail", head.clone());
    }
    of
}

/// The bore at the friction factor that `of` binds.
fn bore(w: &Working, pipe: usize, of: &mut Bindings, again: bool) -> Result<Vec<Block>, EquationError> {
    let name = w.own_name("D", pipe);
    let d = of.get(&name).map_or(f64::NAN, |b| b.quantity.value);
    if explicit(w, pipe) {
        let fifth = num(8.0) * w.own("f", pipe) * w.own("L", pipe) * sym("Q").pow(2)
            / (Expr::Pi.pow(2) * sym("g") * sym("h_avail"));
        return Ok(vec![
            say("Friction alone takes head here, so the bore's fifth power follows, and from it the bore:"),
            Block::Equation(vec![
                powered(w, pipe, 5, &fifth, of)?,
                Line::equal(w.own("D", pipe), Expr::Number(w.shown(Kind::Bore, d))),
            ]),
        ]);
    }
    let mut changes = Vec::new();
    for loss in w.losses.iter().filter(|l| touches(l, pipe)) {
        changes.extend(area_lines(w, loss, of)?);
    }
    // The bore counts with its fourth power: one more figure, so that the line works out with the numbers in it.
    let base = Unit::parse(match w.conventions.units {
        UnitSystem::Si => "m",
        UnitSystem::UsCustomary => "ft",
    })
    .map_err(|error| EquationError::new(error.what))?;
    let exact = Bound::new(d, &base, w.figures() + 1);
    let unit = w.shown(Kind::Bore, d).unit;
    let in_words = Written::from_si(d, &unit, w.figures() + 1);
    let mut with_bore = of.clone();
    with_bore.set(name, exact.clone());
    let (mut line, _) = super::check::evaluated(w, &spent(w, pipe), Kind::Length, &with_bore)?;
    if again && line.rest.len() > 1 {
        // The formula stands a page above.
        line.first = line.rest.remove(0).1;
    }
    Ok(vec![
        Block::Paragraph(vec![
            t("Trial gives "),
            m(w.own("D", pipe)),
            t(" = "),
            Inline::Value(in_words),
            t(" = "),
            Inline::Value(exact.written),
            t(", for with it the head spent is the head that there is to spend:"),
        ]),
        Block::Equation(changes.into_iter().chain([line]).collect()),
    ])
}

/// `D^n = formula = numbers = value`.
fn powered(
    w: &Working,
    pipe: usize,
    power: i32,
    formula: &Expr,
    of: &Bindings,
) -> Result<Line, EquationError> {
    let base = match w.conventions.units {
        crate::bank::course::UnitSystem::Si => "m",
        crate::bank::course::UnitSystem::UsCustomary => "ft",
    };
    let unit = crate::quantity::Unit::parse(&format!("{base}^{power}")).map_err(|e| EquationError {
        what: e.what,
        span: None,
        mend: e.mend,
    })?;
    Ok(Line::worked(w.own("D", pipe).pow(power), formula, of, &unit, w.figures())?.0)
}

/// Velocity, Reynolds number and relative roughness at a bore.
fn chart_lines(w: &Working, pipe: usize, of: &mut Bindings) -> Result<Vec<Line>, EquationError> {
    Ok(vec![
        velocity(w, pipe, of)?,
        w.reynolds_line(pipe, of)?,
        relative_roughness(w, pipe, of)?,
    ])
}

fn settled(w: &Working, pipe: usize, passes: &[Pass]) -> Result<Step, EquationError> {
    settle(
        w,
        passes,
        false,
        &[(pipe, "D", Kind::Bore), (pipe, "rr", Kind::Number)],
    )
}

fn laminar_explicit(
    w: &Working,
    pipe: usize,
    b: Bindings,
    steps: &mut Vec<Step>,
) -> Result<(), EquationError> {
    let mut of = with_head(w, &w.case.solved, &b);
    let above = if w.kinematic { sym("nu") } else { sym("mu") };
    let below = if w.kinematic {
        sym("g")
    } else {
        sym("rho") * sym("g")
    };
    let fourth = num(128.0) * above * w.own("L", pipe) * sym("Q") / (Expr::Pi * below * sym("h_avail"));
    let d = of
        .get(&w.own_name("D", pipe))
        .map_or(f64::NAN, |x| x.quantity.value);
    let lines = vec![
        powered(w, pipe, 4, &fourth, &of)?,
        Line::equal(w.own("D", pipe), Expr::Number(w.shown(Kind::Bore, d))),
    ];
    steps.push(step(
        "Assume laminar flow, and solve",
        vec![
            Block::Paragraph(vec![
                t("This fluid is thick, so try laminar flow first; the check comes at the end. With "),
                m(w.own("f", pipe)),
                t(" = "),
                m(num(64.0) / w.own("Re", pipe)),
                t(" the friction factor goes out of the equation, and the bore's fourth power follows:"),
            ]),
            Block::Equation(lines),
        ],
    ));
    let state = &w.case.solved.state.pipes[pipe];
    let mut body = vec![Block::Equation(vec![
        velocity(w, pipe, &mut of)?,
        w.reynolds_line(pipe, &mut of)?,
    ])];
    body.extend(regime(w, pipe, state, &of)?);
    body.extend(read_factor(w, pipe, state, &of)?);
    body.push(say(
        "The assumption holds. Put back into the energy equation, these are the heads:",
    ));
    body.push(Block::Equation(super::direct::losses_again(w, &mut of)?));
    body.extend(super::check::warnings(w));
    steps.push(step("Check the assumption", body));
    Ok(())
}
