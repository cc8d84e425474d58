//! The flow is known, so nothing has to be guessed: velocity, Reynolds number, friction factor, losses, and
//! then the unknown.

use super::check::{evaluated, read_at_last, read_factor, regime, relative_roughness};
use super::setting::{jet_velocity, reduced};
use super::step;
use super::working::{At, Machine, Working, capital, m, num, say, sum, sym, t};
use crate::bank::names::{pipe_suffix, reads_as_name};
use crate::bank::prose::Block;
use crate::bank::system::LossBy;
use crate::equation::{Bindings, EquationError, Expr, Line};
use crate::hydraulics::solve::Unknown;
use crate::quantity::Unit;
use crate::solution::Step;
use crate::solution::units::Kind;

pub(super) fn steps(w: &Working, steps: &mut Vec<Step>) -> Result<(), EquationError> {
    let mut b = w.bindings(&w.case.solved);
    steps.push(why(w));
    steps.push(velocities(w, &mut b)?);
    if let Some(step) = factors(w, &mut b)? {
        steps.push(step);
    }
    if let Some(step) = losses(w, &mut b)? {
        steps.push(step);
    }
    steps.push(solve(w, &mut b)?);
    Ok(())
}

fn why(w: &Working) -> Step {
    let symbol = m(sym(w.unknown_symbol()));
    let mut body = reduced(w);
    if let Unknown::Roughness(pipe) = w.unknown {
        body.push(Block::Paragraph(vec![
            t("We are after the roughness "),
            symbol,
            t(". It is hidden in the friction factor. But the flow is known, so all velocities are, and the head that friction takes is what is left over. That gives "),
            m(w.own("f", pipe)),
            t(" first; then the chart is read backwards. Nothing has to be guessed."),
        ]));
    } else {
        body.push(Block::Paragraph(vec![
            t(format!("We are after {}, ", w.the_unknown())),
            symbol,
            t(
                ". The flow is known. So the velocity is known, hence the Reynolds number, hence the friction factor, \
                 hence each loss: everything can be worked out straight on, and nothing has to be guessed.",
            ),
        ]));
    }
    step("See what is unknown", body)
}

/// Velocities and Reynolds numbers of all pipes, and of jets.
pub(super) fn velocities(w: &Working, b: &mut Bindings) -> Result<Step, EquationError> {
    let mut body = Vec::new();
    let several = w.names.len() > 1;
    body.push(say(if several {
        "The same flow passes every pipe, so each velocity follows from its pipe's cross-section, and then its \
         Reynolds number:"
    } else {
        "The velocity follows from the flow and the cross-section, and the Reynolds number from the velocity:"
    }));
    let mut lines = Vec::new();
    for i in w.pipes() {
        lines.push(velocity(w, i, b)?);
    }
    for i in 0..2 {
        if let At::Jet(_) = w.at[i] {
            lines.push(w.line(&format!("V_{}", i + 1), &jet_velocity(w, i), Kind::Velocity, b)?);
        }
    }
    for i in w.pipes() {
        lines.push(w.reynolds_line(i, b)?);
    }
    body.push(Block::Equation(lines));
    Ok(step("Find the velocity and the Reynolds number", body))
}

/// `V = 4 Q/(π D²)`, or `Q/A` of a duct.
pub(super) fn velocity(w: &Working, pipe: usize, b: &mut Bindings) -> Result<Line, EquationError> {
    let formula = if let Some(other) = w.same_bore(pipe) {
        w.own("V", other)
    } else if w.duct(pipe).is_some() {
        sym("Q") / w.own("A", pipe)
    } else {
        through(w.own("D", pipe))
    };
    w.line(&w.own_name("V", pipe), &formula, Kind::Velocity, b)
}

pub(super) use crate::solution::laws::velocity as through;

/// Relative roughness, regime and friction factor of each pipe whose roughness is known.
pub(super) fn factors(w: &Working, b: &mut Bindings) -> Result<Option<Step>, EquationError> {
    let mut body = Vec::new();
    for i in w.pipes().filter(|i| w.unknown != Unknown::Roughness(*i)) {
        body.extend(factor(w, i, true, b)?);
    }
    body.extend(super::check::warnings(w));
    Ok((!body.is_empty())
        .then(|| step("Find the friction factor and the regime", body).reading(read_at_last(w))))
}

/// Relative roughness, friction factor and regime of one pipe with a known flow.
pub(super) fn factor(
    w: &Working,
    pipe: usize,
    headed: bool,
    b: &mut Bindings,
) -> Result<Vec<Block>, EquationError> {
    use crate::hydraulics::regime::Regime;
    let state = &w.case.solved.state.pipes[pipe];
    let mut body = Vec::new();
    if let Some(twin) = w.twin(pipe) {
        relative_roughness(w, pipe, b)?;
        body.push(w.as_its_twin(pipe, twin, state.darcy_friction_factor));
        return Ok(body);
    }
    if headed && w.names.len() > 1 {
        body.push(Block::Paragraph(vec![crate::bank::prose::Inline::Strong(vec![
            t(capital(&w.the_pipe(pipe))),
        ])]));
    }
    if state.regime == Regime::Laminar {
        body.extend(regime(w, pipe, state, b)?);
        body.extend(read_factor(w, pipe, state, b)?);
        return Ok(body);
    }
    let ratio = relative_roughness(w, pipe, b)?;
    if state.relative_roughness != 0.0 {
        body.push(say("The relative roughness is"));
        body.push(Block::Equation(vec![ratio]));
    }
    body.extend(read_factor(w, pipe, state, b)?);
    body.extend(regime(w, pipe, state, b)?);
    Ok(body)
}

/// Each loss that is known once the friction factors are.
fn losses(w: &Working, b: &mut Bindings) -> Result<Option<Step>, EquationError> {
    let mut lines = Vec::new();
    let mut frictions = Vec::new();
    let mut complete = true;
    for i in w.pipes() {
        if matches!(w.unknown, Unknown::Roughness(j) | Unknown::Length(j) if i == j) {
            complete = false;
            continue;
        }
        lines.push(w.line(&w.own_name("h_f", i), &w.friction(i), Kind::Length, b)?);
        frictions.push((true, w.own("h_f", i)));
    }
    let without = match w.unknown {
        Unknown::LossCoefficient(j) => {
            complete = false;
            Some(j)
        }
        _ => None,
    };
    let minors = w.minors(&|j| Some(j) == without || in_unknown_friction(w, j));
    // What a change of area takes has results of its own, under its own name.
    for (j, loss) in w.losses.iter().enumerate() {
        let by_area = matches!(
            loss.by,
            LossBy::SuddenExpansion { .. } | LossBy::Cone { .. } | LossBy::SuddenContraction { .. }
        );
        if !by_area || Some(j) == without || !reads_as_name(&loss.name) {
            continue;
        }
        let own = |base: &str| format!("{base}_{}", pipe_suffix(&loss.name));
        if own("K") != loss.symbol {
            lines.push(Line::equal(sym(own("K")), loss.k.clone()).then_numbers(
                &loss.k,
                b,
                &Unit::none(),
                w.figures(),
            ));
        }
        lines.push(w.line(&own("h"), &w.minor(loss), Kind::Length, b)?);
    }
    if let Some(minors) = &minors {
        lines.push(w.line("h_minor", minors, Kind::Length, b)?);
    }
    if complete {
        let mut parts = frictions;
        if minors.is_some() {
            parts.push((true, sym("h_minor")));
        }
        if parts.len() > 1 {
            lines.push(w.line("h_L", &sum(parts), Kind::Length, b)?);
        } else {
            lines.push(w.line("h_L", &parts.remove(0).1, Kind::Length, b)?);
        }
    }
    if lines.is_empty() {
        return Ok(None);
    }
    let words = if complete {
        "Now every loss can be worked out:"
    } else {
        "These losses can be worked out already:"
    };
    Ok(Some(step(
        "Find the losses",
        vec![say(words), Block::Equation(lines)],
    )))
}

/// Heads of machines whose power is stated, at the known flow.
pub(super) fn heads_from_powers(w: &Working, b: &mut Bindings) -> Result<Vec<Line>, EquationError> {
    let mut lines = Vec::new();
    for (j, pump) in w.pumps.iter().enumerate() {
        if pump.by_power && w.unknown != Unknown::PumpPower(j) {
            lines.push(w.line(
                &pump.head,
                &(shaft_to_fluid(pump, true) / weight_flow()),
                Kind::Length,
                b,
            )?);
        }
    }
    for (j, turbine) in w.turbines.iter().enumerate() {
        if turbine.by_power && w.unknown != Unknown::TurbinePower(j) {
            lines.push(w.line(
                &turbine.head,
                &(shaft_to_fluid(turbine, false) / weight_flow()),
                Kind::Length,
                b,
            )?);
        }
    }
    Ok(lines)
}

/// `ρ g Q`
fn weight_flow() -> Expr {
    sym("rho") * sym("g") * sym("Q")
}

/// The power that the fluid gets or gives: `η P` of a pump, `P/η` of a turbine.
fn shaft_to_fluid(machine: &Machine, pump: bool) -> Expr {
    let power = sym(machine.power.clone());
    match (&machine.eta, pump) {
        (None, _) => power,
        (Some(_), true) => sym(machine.efficiency.clone()) * power,
        (Some(_), false) => power / sym(machine.efficiency.clone()),
    }
}

/// All terms from end to start but those of `without`: what the unknown's own head must be.
fn balance(w: &Working, forward: bool, skip: Option<&str>, losses: Vec<(bool, Expr)>) -> Expr {
    let mut terms = w.differences(forward, false);
    terms.extend(w.kinetics(forward));
    terms.extend(
        w.machine_terms(forward)
            .into_iter()
            .filter(|(_, e)| match (e, skip) {
                (Expr::Symbol(name), Some(skip)) => name != skip,
                _ => true,
            }),
    );
    terms.extend(losses);
    sum(terms)
}

/// The unknown from what is left of the energy equation.
fn solve(w: &Working, b: &mut Bindings) -> Result<Step, EquationError> {
    let mut body = Vec::new();
    let powers = heads_from_powers(w, b)?;
    if !powers.is_empty() {
        body.push(say(
            "A machine's head follows from its power and the weight of fluid that passes in each second:",
        ));
        body.push(Block::Equation(powers));
    }
    let h_l = |plus: bool| vec![(plus, sym("h_L"))];
    let rho_g = || sym("rho") * sym("g");
    let title = format!("Solve for {}", w.the_unknown());
    match w.unknown {
        Unknown::Flow | Unknown::Diameter(_) => {}
        // Worked in their own step.
        Unknown::PumpSpeed(j) | Unknown::PumpTrim(j) => {
            let head = w.pumps[j].head.clone();
            let formula = balance(w, false, Some(&head), h_l(true));
            body.push(say(must_give(&w.pumps[j].name)));
            body.push(Block::Equation(vec![w.line(&head, &formula, Kind::Length, b)?]));
            super::pump::ratio(w, j, &mut body, b)?;
        }
        Unknown::StartPressure | Unknown::EndPressure => {
            let (i, forward) = if w.unknown == Unknown::StartPressure {
                (0, false)
            } else {
                (1, true)
            };
            // Everything but the two pressures, as a head; then to a pressure.
            let other = 1 - i;
            let mut terms: Vec<(bool, Expr)> = Vec::new();
            for (k, plus) in if forward {
                [(0, true), (1, false)]
            } else {
                [(1, true), (0, false)]
            } {
                if w.kept.z[k] {
                    terms.push((plus, w.elevation(k)));
                }
            }
            terms.extend(w.kinetics(forward));
            terms.extend(w.machine_terms(forward));
            terms.extend(h_l(!forward));
            let heads = rho_g() * sum(terms);
            let formula = if w.kept.p[other] {
                sym(format!("p_{}", other + 1)) + heads
            } else {
                heads
            };
            body.push(say("Solve what is left of the energy equation for the pressure:"));
            body.push(Block::Equation(vec![w.line(
                &format!("p_{}", i + 1),
                &formula,
                Kind::Pressure,
                b,
            )?]));
        }
        Unknown::StartElevation | Unknown::EndElevation => {
            let (i, forward) = if w.unknown == Unknown::StartElevation {
                (0, false)
            } else {
                (1, true)
            };
            let name = format!("z_{}", i + 1);
            let mut terms: Vec<_> = w
                .differences(forward, true)
                .into_iter()
                .filter(|(_, e)| !matches!(e, Expr::Symbol(s) if *s == name))
                .collect();
            terms.extend(w.kinetics(forward));
            terms.extend(h_l(!forward));
            body.push(say(
                "Solve what is left of the energy equation for the elevation:",
            ));
            body.push(Block::Equation(vec![w.line(
                &name,
                &sum(terms),
                Kind::Length,
                b,
            )?]));
        }
        Unknown::PumpHead(j) | Unknown::PumpPower(j) => {
            let pump = &w.pumps[j];
            let formula = balance(w, false, Some(&pump.head), h_l(true));
            body.push(say(must_give(&w.pumps[j].name)));
            body.push(Block::Equation(vec![w.line(
                &pump.head,
                &formula,
                Kind::Length,
                b,
            )?]));
            if let Unknown::PumpPower(_) = w.unknown {
                let fluid = weight_flow() * sym(pump.head.clone());
                let formula = if pump.eta.is_some() {
                    fluid / sym(pump.efficiency.clone())
                } else {
                    fluid
                };
                body.push(say(if pump.eta.is_some() {
                    format!(
                        "That head, given to the weight of fluid that passes in each second, is the power that the fluid \
                         gets. The shaft must bring more than that, as the {} loses some:",
                        pump.name
                    )
                } else {
                    "That head, given to the weight of fluid that passes in each second, is the power:".to_owned()
                }));
                body.push(Block::Equation(vec![w.line(
                    &pump.power,
                    &formula,
                    Kind::Power,
                    b,
                )?]));
            }
        }
        Unknown::TurbineHead(j) | Unknown::TurbinePower(j) => {
            let turbine = &w.turbines[j];
            let formula = balance(w, true, Some(&turbine.head), h_l(false));
            body.push(say(
                "The turbine gets what the fluid has at station 1 and no longer has at station 2, less what is lost on \
                 the way:",
            ));
            body.push(Block::Equation(vec![w.line(
                &turbine.head,
                &formula,
                Kind::Length,
                b,
            )?]));
            if let Unknown::TurbinePower(_) = w.unknown {
                let fluid = weight_flow() * sym(turbine.head.clone());
                let formula = if turbine.eta.is_some() {
                    sym(turbine.efficiency.clone()) * fluid
                } else {
                    fluid
                };
                body.push(say(if turbine.eta.is_some() {
                    "That head, taken from the weight of fluid that passes in each second, is the power that the fluid \
                     gives. The shaft gets less than that, as the turbine loses some:"
                } else {
                    "That head, taken from the weight of fluid that passes in each second, is the power:"
                }));
                body.push(Block::Equation(vec![w.line(
                    &turbine.power,
                    &formula,
                    Kind::Power,
                    b,
                )?]));
            }
        }
        Unknown::Length(i) => {
            let h_f = w.own_name("h_f", i);
            body.push(say("Friction in the pipe takes the head that is left over:"));
            let mut lines = vec![w.line(&h_f, &left_over(w, Some(i), None), Kind::Length, b)?];
            let v2 = w.own("V", i).pow(2);
            let formula = w.own("D", i) / w.own("f", i) * (num(2.0) * sym("g") * w.own("h_f", i) / v2);
            lines.push(w.line(&w.own_name("L", i), &formula, Kind::Length, b)?);
            body.push(Block::Equation(lines));
        }
        Unknown::LossCoefficient(j) => {
            let loss = &w.losses[j];
            body.push(say(format!(
                "The {} takes the head that is left over, which we call its own loss:",
                loss.name
            )));
            let name = "h_K";
            let mut lines = vec![w.line(name, &left_over(w, None, Some(j)), Kind::Length, b)?];
            let formula = num(2.0) * sym("g") * sym(name) / w.own("V", loss.pipe).pow(2);
            lines.push(w.line(&loss.symbol, &formula, Kind::Number, b)?);
            body.push(Block::Equation(lines));
        }
        Unknown::Roughness(i) => roughness(w, i, &mut body, b)?,
    }
    Ok(step(title, body))
}

/// Whether a loss by equivalent length sits in the pipe whose roughness is asked: its factor is not known yet.
fn in_unknown_friction(w: &Working, loss: usize) -> bool {
    w.is_length(loss) && w.unknown == Unknown::Roughness(w.losses[loss].pipe)
}

/// The head that one pipe or one loss takes, all others being known.
fn left_over(w: &Working, pipe: Option<usize>, loss: Option<usize>) -> Expr {
    let mut losses: Vec<(bool, Expr)> = w
        .pipes()
        .filter(|i| Some(*i) != pipe)
        .map(|i| (false, w.own("h_f", i)))
        .collect();
    if w.minors(&|j| Some(j) == loss || in_unknown_friction(w, j))
        .is_some()
    {
        losses.push((false, sym("h_minor")));
    }
    balance(w, true, None, losses)
}

fn roughness(w: &Working, i: usize, body: &mut Vec<Block>, b: &mut Bindings) -> Result<(), EquationError> {
    let f = w.own("f", i);
    body.push(say(
        "Friction in the pipe takes the head that is left over, and that gives the friction factor:",
    ));
    let mut lines = vec![w.line(
        &w.own_name("h_f", i),
        &left_over(w, Some(i), None),
        Kind::Length,
        b,
    )?];
    let v2 = w.own("V", i).pow(2);
    let formula = w.own("D", i) / w.friction_length(i) * (num(2.0) * sym("g") * w.own("h_f", i) / v2);
    lines.push(w.line(&w.own_name("f", i), &formula, Kind::Number, b)?);
    body.push(Block::Equation(lines));
    body.push(Block::Paragraph(vec![
        t("Now read the chart backwards: find the point with this "),
        m(w.own("Re", i)),
        t(" and this "),
        m(f.clone()),
        t(", and see which curve passes through it. The law behind the curves (Colebrook and White) can be solved for it:"),
    ]));
    let exponent = -(num(1.0) / (num(2.0) * f.clone().sqrt()));
    let ten = Expr::Power(Box::new(num(10.0)), Box::new(exponent));
    let formula = num(3.7) * (ten - num(2.51) / (w.chart_reynolds(i) * f.sqrt()));
    let (ratio, bore) = if w.effective(i) {
        ("rr_e", "D_e")
    } else {
        ("rr", "D")
    };
    let mut lines = vec![w.line(&w.own_name(ratio, i), &formula, Kind::Number, b)?];
    lines.push(w.line(
        &w.own_name("eps", i),
        &(w.own(ratio, i) * w.own(bore, i)),
        Kind::Bore,
        b,
    )?);
    body.push(Block::Equation(lines));
    body.extend(regime(w, i, &w.case.solved.state.pipes[i], b)?);
    body.extend(super::check::warnings(w));
    Ok(())
}

/// Puts the answer back into the energy equation: what moves on, each loss, and their sum.
pub(super) fn losses_again(w: &Working, b: &mut Bindings) -> Result<Vec<Line>, EquationError> {
    let mut lines = Vec::new();
    let mut parts = Vec::new();
    for i in 0..2 {
        if w.kept.v[i] && !matches!(w.at[i], At::Value(_)) {
            lines.push(evaluated(w, &w.kinetic(i), Kind::Length, b)?.0);
        }
    }
    for i in w.pipes() {
        lines.push(w.line(&w.own_name("h_f", i), &w.friction(i), Kind::Length, b)?);
        parts.push((true, w.own("h_f", i)));
    }
    if let Some(minors) = w.minors(&|_| false) {
        lines.push(w.line("h_minor", &minors, Kind::Length, b)?);
        parts.push((true, sym("h_minor")));
    }
    if parts.len() > 1 {
        lines.push(w.line("h_L", &sum(parts), Kind::Length, b)?);
    } else {
        lines.push(w.line("h_L", &parts.remove(0).1, Kind::Length, b)?);
    }
    Ok(lines)
}

/// What a pump, or a fan, has to do.
fn must_give(name: &str) -> String {
    format!(
        "The {name} must give what the fluid gains from station 1 to station 2, and what is lost on the way:"
    )
}
