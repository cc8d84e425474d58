//! Pumps with a curve: where it meets the system's, the speed or impeller for a wanted point; and what any
//! machine's power, cost and NPSH come to.

use super::check::evaluated;
use super::setting::reduced;
use super::working::{Working, capital, listed, m, num, say, sum, sym, t, table};
use super::{direct, step};
use crate::bank::prose::{Block, Inline};
use crate::bank::system::pump::{Curve, OverFlow, PumpDetails};
use crate::bank::system::{Duty, Element, Value};
use crate::equation::{Bindings, Bound, EquationError, Expr, Line, Relation};
use crate::hydraulics::curve;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::path::{self, State};
use crate::hydraulics::solve::{Unknown, state};
use crate::quantity::{Quantity, Written, round_to_figures};
use crate::solution::Step;
use crate::solution::machine::of_machine;
use crate::solution::results::known as stated;
use crate::solution::units::{Kind, display_unit};

/// Most rows of the table that closes in on the operating point.
const MOST_ROWS: usize = 10;

/// A pump as it is described, and where it stands among the machines.
struct Pump<'a> {
    /// Index among pumps.
    pump: usize,
    /// Index among pumps and turbines together.
    machine: usize,
    name: &'a str,
    duty: &'a Duty,
    details: &'a PumpDetails,
}

fn pumps<'a>(w: &'a Working) -> Vec<Pump<'a>> {
    let mut machine = 0;
    let mut all: Vec<Pump<'a>> = Vec::new();
    for element in &w.system().path {
        match element {
            Element::Pump {
                name, duty, details, ..
            } => {
                all.push(Pump {
                    pump: all.len(),
                    machine,
                    name,
                    duty,
                    details,
                });
                machine += 1;
            }
            Element::Turbine { .. } => machine += 1,
            _ => {}
        }
    }
    all
}

impl Pump<'_> {
    /// A symbol of this pump alone: `a`, or `a_2` where there are several.
    fn own(&self, w: &Working, base: &str) -> String {
        w.of_pump(base, self.pump)
    }

    fn si<'w>(&self, w: &'w Working) -> Option<&'w curve::Curve> {
        w.case.solved.path.pump_curve(self.pump)
    }

    /// The symbol of the flow at which its curve is read: that of one of equal pumps, which may be asked for, where they run as
    /// the curve was measured.
    fn each(&self, w: &Working) -> String {
        let moved = self.details.speed.is_some() || self.details.impeller.is_some();
        (self.result(w, "Q_P").filter(|_| !moved)).unwrap_or_else(|| self.own(w, "q"))
    }

    /// The result of this base name, if the pump has it.
    fn result(&self, w: &Working, base: &str) -> Option<String> {
        result(w, base, self.machine)
    }
}

/// The name of a machine's result.
fn result(w: &Working, base: &str, machine: usize) -> Option<String> {
    let all = w.system().machine_results();
    all.into_iter()
        .find(|(_, b, i)| *b == base && *i == machine)
        .map(|(name, _, _)| name)
}

/// Whether the head of a pump is had from its curve at a flow that is asked.
pub(super) fn meets_a_curve(w: &Working) -> bool {
    w.unknown == Unknown::Flow && pumps(w).iter().any(|p| matches!(p.duty, Duty::Curve(_)))
}

// ---- what is known ----

/// A row for each value that is said of a pump beside its duty: symbol, value, words.
pub(super) fn known_rows(w: &Working, index: usize) -> Vec<(String, Written, Kind, String)> {
    let all = pumps(w);
    let Some(pump) = all.get(index) else {
        return Vec::new();
    };
    let details = pump.details;
    let of = |value: &Option<Value>| value.as_ref().and_then(stated).cloned();
    let rows = [
        ("n_0", of(&details.rated_speed), Kind::Speed, "rated speed"),
        ("n", of(&details.speed), Kind::Speed, "speed"),
        (
            "D_0",
            of(&details.full_impeller),
            Kind::Bore,
            "impeller of its curve",
        ),
        ("D_P", of(&details.impeller), Kind::Bore, "impeller"),
        ("N_p", of(&details.parallel), Kind::Number, "pumps side by side"),
        (
            "N_s",
            of(&details.series),
            Kind::Number,
            "pumps one behind the other",
        ),
        (
            "eta_m",
            of(&details.electric.efficiency),
            Kind::Number,
            "motor efficiency",
        ),
        (
            "z_P",
            of(&details.elevation),
            Kind::Length,
            "elevation of the inlet",
        ),
        (
            "NPSH_r",
            match &details.npsh_required {
                Some(OverFlow::Value(value)) => stated(value).cloned(),
                _ => None,
            },
            Kind::Length,
            "required NPSH",
        ),
    ];
    let coefficients = |letters: [&'static str; 3], curve: Option<&Curve>, what: &str| -> Vec<_> {
        let Some(Curve::Quadratic(own)) = curve else {
            return Vec::new();
        };
        let all = [Some(&own.a), own.b.as_ref(), own.c.as_ref()];
        letters
            .into_iter()
            .zip(all)
            .filter_map(|(letter, value)| {
                let written = value.and_then(stated)?;
                (written.quantity().value != 0.0).then(|| {
                    (
                        pump.own(w, letter),
                        written.clone(),
                        Kind::Number,
                        format!("of the {what} of the {}", pump.name),
                    )
                })
            })
            .collect()
    };
    let head = match pump.duty {
        Duty::Curve(curve) => Some(curve.as_ref()),
        _ => None,
    };
    let mut all = coefficients(["a", "b", "c"], head, "head curve");
    all.extend(coefficients(
        ["eta_0", "eta_1", "eta_2"],
        details.efficiency.as_ref(),
        "efficiency curve",
    ));
    all.extend(rows.into_iter().filter_map(|(base, value, kind, what)| {
        let symbol = pump.result(w, base).unwrap_or_else(|| pump.own(w, base));
        value.map(|v| (symbol, v, kind, format!("{what} of the {}", pump.name)))
    }));
    all
}

// ---- the curve ----

/// The flow of one pump at rated speed, and the head of all of them, as formulas; `head` is the name of the
/// rated pump's head where the curve runs through points.
struct Formulas {
    /// `s = (n/n_0)(D_P/D_0)`, where either differs.
    ratio: Option<(String, Expr)>,
    /// `q = Q/(N_p s)`, where anything but one pump at rated speed is meant.
    flow: Option<(String, Expr)>,
    /// Head of one pump at rated speed.
    rated: Rated,
    /// Head of all pumps.
    head: Expr,
}

enum Rated {
    /// `a + b q + c q²`
    Formula(Expr),
    /// Read off points, under this name.
    Read(String),
}

fn formulas(w: &Working, pump: &Pump<'_>, of: &mut Bindings) -> Option<Formulas> {
    let si = pump.si(w)?;
    let Duty::Curve(described) = pump.duty else {
        return None;
    };
    let details = pump.details;
    let set = |of: &mut Bindings, name: &str, si: f64, value: &Option<Value>, kind: Kind| {
        let written = match value.as_ref().and_then(stated) {
            Some(written) => w.given(kind, written),
            None => w.shown(kind, si),
        };
        let dimension = written.unit.dimension;
        of.set(
            name,
            Bound {
                quantity: Quantity::new(si, dimension),
                written,
            },
        );
    };
    let mut ratios = Vec::new();
    let sought = |u: Unknown| w.unknown == u;
    let ((speed, rated_speed), (impeller, full)) = (si.speeds(), si.impellers());
    if details.speed.is_some() || sought(Unknown::PumpSpeed(pump.pump)) {
        let (n, n_0) = (pump.own(w, "n"), pump.own(w, "n_0"));
        set(of, &n, speed, &details.speed, Kind::Speed);
        set(of, &n_0, rated_speed, &details.rated_speed, Kind::Speed);
        ratios.push(sym(n) / sym(n_0));
    }
    if details.impeller.is_some() || sought(Unknown::PumpTrim(pump.pump)) {
        let (d, d_0) = (pump.own(w, "D_P"), pump.own(w, "D_0"));
        set(of, &d, impeller, &details.impeller, Kind::Bore);
        set(of, &d_0, full, &details.full_impeller, Kind::Bore);
        ratios.push(sym(d) / sym(d_0));
    }
    let s = pump.own(w, "s");
    let ratio = ratios.into_iter().reduce(|a, b| a * b).map(|e| (s.clone(), e));
    let (n_p, n_s) = (pump.own(w, "N_p"), pump.own(w, "N_s"));
    if details.parallel.is_some() {
        set(
            of,
            &n_p,
            f64::from(si.parallel()),
            &details.parallel,
            Kind::Number,
        );
    }
    if details.series.is_some() {
        set(of, &n_s, f64::from(si.series()), &details.series, Kind::Number);
    }
    let below = match (details.parallel.is_some(), &ratio) {
        (true, Some(_)) => Some(sym(n_p) * sym(s.clone())),
        (true, None) => Some(sym(n_p)),
        (false, Some(_)) => Some(sym(s.clone())),
        (false, None) => None,
    };
    let q = pump.each(w);
    let flow = below.map(|below| (q.clone(), sym("Q") / below));
    let q = if flow.is_some() { sym(q) } else { sym("Q") };
    let rated = match described.as_ref() {
        Curve::Quadratic(own) => {
            let mut terms = Vec::new();
            let parts = [
                ("a", Some(&own.a), num(1.0)),
                ("b", own.b.as_ref(), q.clone()),
                ("c", own.c.as_ref(), q.clone().pow(2)),
            ];
            for (letter, value, factor) in parts {
                let Some(written) = value.and_then(stated) else {
                    continue;
                };
                if written.quantity().value == 0.0 {
                    continue;
                }
                let name = pump.own(w, letter);
                of.set(name.clone(), Bound::as_written(written.clone()));
                terms.push((
                    true,
                    if letter == "a" {
                        sym(name)
                    } else {
                        sym(name) * factor
                    },
                ));
            }
            Rated::Formula(sum(terms))
        }
        Curve::Points { .. } => {
            let name = pump.own(w, "h");
            set(
                of,
                &name,
                si.rated(si.rated_flow(w.case.solved.state.flow)).0,
                &None,
                Kind::Length,
            );
            Rated::Read(name)
        }
    };
    let one = match &rated {
        Rated::Formula(e) => e.clone(),
        Rated::Read(name) => sym(name.clone()),
    };
    let mut head = one;
    if ratio.is_some() {
        head = sym(s).pow(2) * head;
    }
    if details.series.is_some() {
        head = sym(n_s) * head;
    }
    Some(Formulas {
        ratio,
        flow,
        rated,
        head,
    })
}

/// What the coefficients of a curve are in the statement's symbols, where one given alone has such a value.
fn as_stated(w: &Working, pump: &Pump<'_>, curve: &Curve) -> Option<Block> {
    let Curve::Quadratic(own) = curve else {
        return None;
    };
    let mut said = Vec::new();
    for (letter, value) in [("a", Some(&own.a)), ("b", own.b.as_ref()), ("c", own.c.as_ref())] {
        let Some(written) = value.and_then(stated) else {
            continue;
        };
        let wanted = written.quantity();
        let mut same = w.givens.0.iter().filter(|(_, given)| {
            let given = given.quantity;
            given.dimension == wanted.dimension
                && wanted.value != 0.0
                && (given.value.abs() - wanted.value.abs()).abs() <= 1e-9 * wanted.value.abs()
        });
        let (Some((name, given)), None) = (same.next(), same.next()) else {
            continue;
        };
        let as_given = if given.quantity.value * wanted.value < 0.0 {
            -sym(name)
        } else {
            sym(name)
        };
        let own = pump.own(w, letter);
        if own != *name {
            said.push(Expr::Compare(
                Box::new(sym(own)),
                Relation::Equal,
                Box::new(as_given),
            ));
        }
    }
    let count = said.len();
    let mut words = vec![t("In the symbols of the statement ")];
    for (i, one) in said.into_iter().enumerate() {
        words.push(t(match i {
            0 => "",
            _ if i + 1 == count => " and ",
            _ => ", ",
        }));
        words.push(m(one));
    }
    words.push(t("."));
    (count > 0).then_some(Block::Paragraph(words))
}

/// How the curves of equal pumps, speeds and impellers go together, in words; and the curve itself.
fn curve_step(w: &Working, of: &mut Bindings) -> Result<Step, EquationError> {
    let mut body = Vec::new();
    for pump in pumps(w) {
        let Duty::Curve(described) = pump.duty else {
            continue;
        };
        let Some(formulas) = formulas(w, &pump, of) else {
            continue;
        };
        body.push(Block::Paragraph(vec![t(match described.as_ref() {
            Curve::Quadratic(_) => format!("The {} has its curve as a formula.", pump.name),
            Curve::Points { parabola: false, .. } => format!(
                "The {} has its curve as points, between which a smooth line is drawn.",
                pump.name
            ),
            Curve::Points { parabola: true, .. } => format!(
                "The {} has its curve as points; here the parabola that misses them by the least squares stands for it.",
                pump.name
            ),
        })]));
        body.extend(as_stated(w, &pump, described));
        if let Curve::Points { points, parabola } = described.as_ref() {
            body.push(points_table(w, points, "head"));
            if *parabola && let Some([a, b, c]) = pump.si(w).and_then(curve::Curve::coefficients) {
                body.push(Block::Equation(vec![Line::equal(
                    sym("h"),
                    num_in(a, "m", w)
                        + num_in(b, "s/m^2", w) * sym("q")
                        + num_in(c, "s^2/m^5", w) * sym("q").pow(2),
                )]));
            }
        }
        let details = pump.details;
        let mut words = Vec::new();
        if details.parallel.is_some() {
            words.push(
                "Pumps side by side stand between the same two heads, and their flows add up: each passes its share \
                 of the flow, at the head of all.",
            );
        }
        if details.series.is_some() {
            words.push("Pumps one behind the other pass the same flow, and their heads add up.");
        }
        if formulas.ratio.is_some() {
            words.push(
                "The pump does not run as its curve was measured. By the affinity laws each point of the curve moves: \
                 the flow in proportion to speed and impeller, the head to their square.",
            );
        }
        if !words.is_empty() {
            body.push(say(words.join(" ")));
        }
        let mut lines = Vec::new();
        if let Some((name, ratio)) = &formulas.ratio {
            // A ratio that is sought has no value yet.
            if matches!(w.unknown, Unknown::PumpSpeed(_) | Unknown::PumpTrim(_)) {
                lines.push(Line::equal(sym(name.clone()), ratio.clone()));
            } else {
                lines.push(w.line(name, ratio, Kind::Number, of)?);
            }
        }
        if let Some((name, flow)) = &formulas.flow {
            lines.push(Line::equal(sym(name.clone()), flow.clone()));
        }
        if !matches!(formulas.head, Expr::Symbol(_)) {
            lines.push(Line::equal(
                sym(w.pumps[pump.pump].head.clone()),
                formulas.head.clone(),
            ));
        }
        if !lines.is_empty() {
            body.push(Block::Equation(lines));
        }
        if formulas.flow.is_some() {
            let known = if formulas.ratio.is_some() {
                " is the flow of one pump at the speed and with the impeller of its curve, which belongs to the flow "
            } else {
                " is the flow of one pump, which belongs to the flow "
            };
            body.push(Block::Paragraph(vec![
                t("Here "),
                m(sym(pump.each(w))),
                t(known),
                m(sym("Q")),
                t(" of the whole."),
            ]));
        }
    }
    Ok(step("Write down what the pump gives", body))
}

fn num_in(value: f64, unit: &str, w: &Working) -> Expr {
    match crate::quantity::Unit::parse(unit) {
        Ok(unit) => Expr::Number(Written::from_si(value, &unit, w.figures())),
        Err(_) => num(value),
    }
}

fn points_table(w: &Working, points: &[(Value, Value)], what: &str) -> Block {
    // No flow is written in the unit of the others.
    let last = points
        .last()
        .and_then(|(flow, _)| stated(flow))
        .map(|v| w.given(Kind::Flow, v));
    let cell = |value: &Value, kind: Kind| {
        stated(value).map_or_else(Vec::new, |v| {
            let given = w.given(kind, v);
            vec![Inline::Value(match &last {
                Some(last) if kind == Kind::Flow && given.number == 0.0 && given.unit != last.unit => {
                    Written::from_si(0.0, &last.unit, 1)
                }
                _ => given,
            })]
        })
    };
    let kind = if what == "efficiency" {
        Kind::Number
    } else {
        Kind::Length
    };
    table(
        vec![vec![t("flow")], vec![t(what)]],
        vec![true, true],
        points
            .iter()
            .map(|(flow, value)| vec![cell(flow, Kind::Flow), cell(value, kind)])
            .collect(),
    )
}

/// The lines that lead from the flow to a pump's head.
fn head_lines(w: &Working, pump: &Pump<'_>, of: &mut Bindings) -> Result<Vec<Block>, EquationError> {
    let Some(formulas) = formulas(w, pump, of) else {
        return Ok(Vec::new());
    };
    let mut body = Vec::new();
    let mut lines = Vec::new();
    if let Some((name, ratio)) = &formulas.ratio {
        w.line(name, ratio, Kind::Number, of)?;
    }
    if let Some((name, flow)) = &formulas.flow {
        lines.push(w.line(name, flow, Kind::Flow, of)?);
    }
    if let Rated::Read(name) = &formulas.rated {
        if !lines.is_empty() {
            body.push(Block::Equation(std::mem::take(&mut lines)));
        }
        let value = of.get(name).map_or(f64::NAN, |b| b.quantity.value);
        let plain = matches!(&formulas.head, Expr::Symbol(_));
        let shown = if plain { &w.pumps[pump.pump].head } else { name };
        body.push(Block::Paragraph(vec![
            t(if formulas.flow.is_some() {
                "There the curve shows "
            } else {
                "At this flow the curve shows "
            }),
            m(sym(shown.clone())),
            t(" = "),
            w.value(Kind::Length, value),
            t("."),
        ]));
    }
    let head = &w.pumps[pump.pump].head;
    if !matches!(&formulas.head, Expr::Symbol(_)) {
        lines.push(w.line(head, &formulas.head, Kind::Length, of)?);
    }
    if !lines.is_empty() {
        body.push(Block::Equation(lines));
    }
    Ok(body)
}

/// The heads that pumps with curves give at the flow that is known.
pub(super) fn heads_at_the_flow(w: &Working) -> Result<Option<Step>, EquationError> {
    let sought = |pump: usize| matches!(w.unknown, Unknown::PumpSpeed(i) | Unknown::PumpTrim(i) if i == pump);
    let read: Vec<_> = pumps(w)
        .into_iter()
        .filter(|p| matches!(p.duty, Duty::Curve(_)) && !sought(p.pump))
        .collect();
    if w.unknown == Unknown::Flow || read.is_empty() {
        return Ok(None);
    }
    let mut of = w.bindings(&w.case.solved);
    let mut body = curve_step(w, &mut of)?.body;
    body.push(say("The flow is known, so the head follows at once:"));
    for pump in &read {
        body.extend(head_lines(w, pump, &mut of)?);
    }
    Ok(Some(step("Read the pump's head off its curve", body)))
}

// ---- the operating point ----

/// The flow is asked, and pumps with curves stand on the way.
pub(super) fn operating_point(w: &Working, steps: &mut Vec<Step>) -> Result<(), EquationError> {
    let mut body = reduced(w);
    body.push(Block::Paragraph(vec![
        t("We are after the flow "),
        m(sym("Q")),
        t(
            ". The head that the pump gives depends on it, and so does the head that is lost; neither is known until the \
             flow is. But one falls with the flow and the other rises. There is one flow at which the pump gives just \
             what the system asks for: the operating point, where the two curves cross.",
        ),
    ]));
    steps.push(step("See what is unknown", body));
    let mut of = w.bindings(&w.case.solved);
    steps.push(curve_step(w, &mut of)?);

    // What the system asks for.
    let mut asked = w.differences(false, false);
    asked.extend(w.kinetics(false));
    let others = w.machine_terms(false).into_iter().filter(|(_, e)| {
        let curved = |name: &String| {
            pumps(w)
                .iter()
                .any(|p| matches!(p.duty, Duty::Curve(_)) && w.pumps[p.pump].head == *name)
        };
        !matches!(e, Expr::Symbol(name) if curved(name))
    });
    asked.extend(others);
    asked.push((true, sym("h_L")));
    let formula = sum(asked);
    let heads: Vec<String> = pumps(w)
        .iter()
        .filter(|p| matches!(p.duty, Duty::Curve(_)))
        .map(|p| w.pumps[p.pump].head.clone())
        .collect();
    let mut body = vec![
        say("For the same flow, the energy equation says how much head the system asks of its pumps:"),
        Block::Equation(vec![Line::equal(sym("h_sys"), formula.clone())]),
        say(
            "The first part does not change with the flow; the losses grow nearly with its square. The friction factor \
             changes as well, so it is read anew for each flow that is tried: velocity, Reynolds number, factor, losses.",
        ),
    ];
    body.extend(trials(w, &heads)?);
    steps.push(step("Try flows, and close in on the crossing", body));

    // The last flow in full.
    let mut of = w.bindings(&w.case.solved);
    steps.push(direct::velocities(w, &mut of)?);
    if let Some(factors) = direct::factors(w, &mut of)? {
        steps.push(factors);
    }
    let mut body = vec![say("With this flow, what the system asks for is")];
    let mut lines = direct::losses_again(w, &mut of)?;
    lines.push(w.line("h_sys", &formula, Kind::Length, &mut of)?);
    body.push(Block::Equation(lines));
    body.push(say("and what the pump gives is"));
    for pump in pumps(w) {
        body.extend(head_lines(w, &pump, &mut of)?);
    }
    if heads.len() > 1 {
        let all = sum(heads.iter().map(|h| (true, sym(h.clone()))).collect());
        body.push(Block::Equation(vec![evaluated(w, &all, Kind::Length, &of)?.0]));
    }
    body.push(say("Both are the same: this is the operating point."));
    steps.push(step("Check the operating point", body));
    Ok(())
}

/// One flow that is tried.
struct Trial {
    flow: f64,
    state: State,
    /// Head that pumps with curves give, and that the system asks of them.
    gives: f64,
    asks: f64,
}

fn trials(w: &Working, heads: &[String]) -> Result<Vec<Block>, EquationError> {
    let path = &w.case.solved.path;
    let answer = w.case.solved.state.flow;
    let readings = vec![Reading::EXACT; w.names.len()];
    let curves: Vec<&curve::Curve> = pumps(w).iter().filter_map(|p| p.si(w)).collect();
    let from = curves.iter().fold(0.0_f64, |all, c| all.max(c.range().0));
    let to = curves.iter().fold(f64::INFINITY, |all, c| all.min(c.range().1));
    let unit = display_unit(Kind::Flow, answer, w.conventions.units);
    let rounded = |flow: f64, figures: u32| unit.to_si(round_to_figures(unit.from_si(flow), figures));
    let at = |flow: f64| -> Option<Trial> {
        let state = state(path, flow, &readings, w.limits).ok()?;
        let gives = curves.iter().map(|c| c.head(flow)).sum::<f64>();
        Some(Trial {
            flow,
            asks: gives - state.residual,
            gives,
            state,
        })
    };
    let mut rows: Vec<Trial> = Vec::new();
    for share in [0.25, 0.5, 0.75] {
        let flow = rounded(from + share * (to - from), 2);
        rows.extend(at(flow).filter(|_| flow > from && flow < to));
    }
    rows.sort_by(|a, b| a.flow.total_cmp(&b.flow));
    let mut low = rows
        .iter()
        .rev()
        .find(|r| r.flow < answer)
        .map(|r| (r.flow, r.gives - r.asks));
    let mut high = rows
        .iter()
        .find(|r| r.flow > answer)
        .map(|r| (r.flow, r.gives - r.asks));
    let last = rounded(answer, w.figures());
    for k in 0..MOST_ROWS {
        // A straight line between the nearest flows on either side.
        let next = match (low, high) {
            (Some((a, f)), Some((b, g))) if f != g => a + (b - a) * f / (f - g),
            _ => answer,
        };
        let figures = if k == 0 { 3 } else { w.figures() };
        let mut next = rounded(next, figures);
        if k + 1 == MOST_ROWS || rows.iter().any(|r| r.flow == next) {
            next = last;
        }
        if let Some(trial) = at(next) {
            let gap = trial.gives - trial.asks;
            if next < answer {
                low = Some((next, gap));
            } else {
                high = Some((next, gap));
            }
            rows.push(trial);
        }
        if next == last {
            break;
        }
    }

    let mut head = vec![vec![m(sym("Q")), t(format!(", {}", unit.symbol))]];
    let shown: Vec<usize> = w.pipes().filter(|i| w.twin(*i).is_none()).take(2).collect();
    let lengths = display_unit(Kind::Length, 1.0, w.conventions.units);
    let speeds = display_unit(Kind::Velocity, 1.0, w.conventions.units);
    let with_unit = |symbol: Expr, unit: &str| vec![m(symbol), t(format!(", {unit}"))];
    for i in &shown {
        head.push(with_unit(w.own("V", *i), &speeds.symbol));
        head.push(vec![m(w.own("f", *i))]);
    }
    head.push(with_unit(sym("h_sys"), &lengths.symbol));
    let gives = match heads {
        [one] => m(sym(one.clone())),
        _ => t("pumps"),
    };
    head.push(vec![gives, t(format!(", {}", lengths.symbol))]);
    head.push(vec![t("so")]);
    let number = |x: f64| vec![Inline::Value(w.pure(x))];
    let count = rows.len();
    let mut lines = Vec::new();
    for (k, trial) in rows.iter().enumerate() {
        let mut row = vec![number(unit.from_si(trial.flow))];
        for i in &shown {
            row.push(number(speeds.from_si(trial.state.pipes[*i].velocity)));
            row.push(number(trial.state.pipes[*i].darcy_friction_factor));
        }
        row.push(number(lengths.from_si(trial.asks)));
        row.push(number(lengths.from_si(trial.gives)));
        row.push(vec![t(if k + 1 == count {
            "they meet"
        } else if trial.gives > trial.asks {
            "more flow"
        } else {
            "less flow"
        })]);
        lines.push(row);
    }
    let width = head.len();
    let mut numeric = vec![true; width];
    numeric[width - 1] = false;
    Ok(vec![
        say(
            "Begin with a few flows across the curve. Where the pump gives more than the system asks for, the flow grows; \
             where it gives less, it falls. Between the nearest two, a straight line shows where to try next:",
        ),
        table(head, numeric, lines),
        Block::Paragraph(vec![
            t("So the operating point is at the flow "),
            m(sym("Q")),
            t(" = "),
            Inline::Value(w.shown(Kind::Flow, w.case.solved.value)),
            t("."),
        ]),
    ])
}

// ---- speed or impeller ----

/// The speed or the impeller that makes the curve pass through the wanted point.
pub(super) fn ratio(
    w: &Working,
    pump: usize,
    body: &mut Vec<Block>,
    b: &mut Bindings,
) -> Result<(), EquationError> {
    let all = pumps(w);
    let Some(pump) = all.get(pump) else { return Ok(()) };
    let Some(si) = pump.si(w).cloned() else {
        return Ok(());
    };
    let details = pump.details;
    let speed = matches!(w.unknown, Unknown::PumpSpeed(_));
    let (now, rated) = if speed { ("n", "n_0") } else { ("D_P", "D_0") };
    let (now, rated) = (pump.own(w, now), pump.own(w, rated));
    let state = &w.case.solved.state;
    formulas(w, pump, b);

    body.push(Block::Paragraph(vec![
        t("By the affinity laws, a point of the pump's curve moves with "),
        t(if speed { "the speed" } else { "the impeller" }),
        t(": its flow in proportion, its head with the square. So all points that belong together lie on one parabola through \
           the origin, and the efficiency is about the same along it. The wanted point of one pump is"),
    ]));
    let mut lines = Vec::new();
    let (each, lift) = (pump.own(w, "Q_1"), pump.own(w, "h_1"));
    let mut flow = sym("Q");
    if details.parallel.is_some() {
        flow = flow / sym(pump.own(w, "N_p"));
    }
    // The other of the two ratios, where it is given, has moved the point already.
    let other = if speed { &details.impeller } else { &details.speed };
    let ratio = other.is_some().then(|| {
        let (a, b) = if speed { ("D_P", "D_0") } else { ("n", "n_0") };
        sym(pump.own(w, a)) / sym(pump.own(w, b))
    });
    let mut head = sym(w.pumps[pump.pump].head.clone());
    if details.series.is_some() {
        head = head / sym(pump.own(w, "N_s"));
    }
    if let Some(ratio) = &ratio {
        flow = flow / ratio.clone();
        head = head / ratio.clone().pow(2);
    }
    lines.push(w.line(&each, &flow, Kind::Flow, b)?);
    lines.push(w.line(&lift, &head, Kind::Length, b)?);
    body.push(Block::Equation(lines));
    if let Duty::Curve(described) = pump.duty
        && let Curve::Points { points, .. } = described.as_ref()
    {
        body.push(say("The curve, as it was measured:"));
        body.push(points_table(w, points, "head"));
    }
    let q = si.rated_flow(state.flow);
    let h = si.rated(q).0;
    let (q_name, h_name) = (pump.own(w, "q"), pump.own(w, "h"));
    for (name, si, kind) in [(&q_name, q, Kind::Flow), (&h_name, h, Kind::Length)] {
        let written = w.shown(kind, si);
        b.set(
            name.clone(),
            Bound {
                quantity: Quantity::new(si, written.unit.dimension),
                written,
            },
        );
    }
    if let Duty::Curve(described) = pump.duty {
        body.extend(as_stated(w, pump, described));
    }
    body.push(Block::Paragraph(vec![
        t("Its parabola is "),
        m(Expr::Compare(
            Box::new(sym(h_name.clone())),
            Relation::Equal,
            Box::new(sym(lift.clone()) * (sym(q_name.clone()) / sym(each.clone())).pow(2)),
        )),
        t(", and it meets the curve, as it was measured, at "),
        m(sym(q_name.clone())),
        t(" = "),
        w.value(Kind::Flow, q),
        t(" and "),
        m(sym(h_name.clone())),
        t(" = "),
        w.value(Kind::Length, h),
        t(" (by trial, off the drawn curve, or with an equation solver). Both say so:"),
    ]));
    let parabola = sym(lift) * (sym(q_name.clone()) / sym(each.clone())).pow(2);
    let mut lines = vec![evaluated(w, &parabola, Kind::Length, b)?.0];
    if let Duty::Curve(described) = pump.duty
        && let Curve::Quadratic(own) = described.as_ref()
    {
        let q = sym(q_name.clone());
        let mut terms = Vec::new();
        for (letter, value, factor) in [
            ("a", Some(&own.a), None),
            ("b", own.b.as_ref(), Some(q.clone())),
            ("c", own.c.as_ref(), Some(q.pow(2))),
        ] {
            let Some(written) = value.and_then(stated) else {
                continue;
            };
            if written.quantity().value != 0.0 {
                let letter = sym(pump.own(w, letter));
                terms.push((
                    true,
                    match factor {
                        Some(factor) => letter * factor,
                        None => letter,
                    },
                ));
            }
        }
        lines.push(evaluated(w, &sum(terms), Kind::Length, b)?.0);
    }
    body.push(Block::Equation(lines));
    body.push(say(if speed {
        "The speeds stand to each other as these flows:"
    } else {
        "The diameters stand to each other as these flows:"
    }));
    let formula = sym(rated) * (sym(each) / sym(q_name));
    let kind = if speed { Kind::Speed } else { Kind::Bore };
    body.push(Block::Equation(vec![w.line(&now, &formula, kind, b)?]));
    body.push(Block::Note(vec![t(if speed {
        "The laws are good for a change of speed by a fifth or so; the efficiency changes a little as well."
    } else {
        "The laws are good for a cut of a tenth or so; a maker's own curves for trimmed impellers come first."
    })]));
    Ok(())
}

// ---- powers, cost, NPSH ----

/// Power, energy and cost of each machine, and the NPSH at each pump, where they can be told.
pub(super) fn after(w: &Working, steps: &mut Vec<Step>) -> Result<(), EquationError> {
    let mut of = w.bindings(&w.case.solved);
    let mut body = Vec::new();
    let all = pumps(w);
    for pump in &all {
        body.extend(pump_power(w, pump, &mut of)?);
    }
    body.extend(turbine_powers(w, &mut of)?);
    if !body.is_empty() {
        steps.push(step("Find the power", body));
    }
    for pump in &all {
        if let Some(npsh) = npsh(w, pump, &mut of)? {
            steps.push(npsh);
        }
    }
    Ok(())
}

fn weight_flow() -> Expr {
    sym("rho") * sym("g") * sym("Q")
}

/// `hours × power`, and the price of it.
fn yearly(
    w: &Working,
    machine: usize,
    electric: &crate::bank::system::pump::Electric,
    power: &str,
    earns: bool,
    of: &mut Bindings,
) -> Result<Vec<Block>, EquationError> {
    let mut body = Vec::new();
    let (Some(energy), Some(time)) = (
        result(w, "E_year", machine),
        electric.running_time.as_ref().and_then(stated),
    ) else {
        return Ok(body);
    };
    of.set("t", Bound::as_written(time.clone()));
    let mut lines = vec![w.line(&energy, &(sym(power) * sym("t")), Kind::Energy, of)?];
    body.push(Block::Paragraph(vec![
        t(if earns { "In a year of " } else { "It runs for " }),
        Inline::Value(time.clone()),
        t(if earns {
            ", it gives"
        } else {
            " in a year, and takes"
        }),
    ]));
    if let (Some(cost), Some(price)) = (
        result(w, "cost", machine),
        electric.price.as_ref().and_then(stated),
    ) {
        of.set("price", Bound::as_written(price.clone()));
        lines.push(w.line(&cost, &(sym("price") * sym(energy)), Kind::Number, of)?);
    }
    body.push(Block::Equation(lines));
    Ok(body)
}

fn pump_power(w: &Working, pump: &Pump<'_>, of: &mut Bindings) -> Result<Vec<Block>, EquationError> {
    let mut body = Vec::new();
    let machine = &w.pumps[pump.pump];
    let details = pump.details;
    let electric = pump.result(w, "P_el");
    let wanted = matches!(pump.duty, Duty::Curve(_)) || details.efficiency.is_some() || electric.is_some();
    if !wanted {
        return Ok(body);
    }
    if w.pumps.len() > 1 {
        body.push(Block::Paragraph(vec![Inline::Strong(vec![t(capital(
            &format!("the {}", pump.name),
        ))])]));
    }
    let efficiency = machine.eta.as_ref().map(|_| machine.efficiency.clone());
    if let Some(curve) = &details.efficiency {
        body.extend(efficiency_read(w, pump, curve, of)?);
    }
    let mut lines = Vec::new();
    let mut shaft = machine.power.clone();
    if !machine.by_power && w.unknown != Unknown::PumpPower(pump.pump) {
        let fluid = pump.result(w, "P_f").unwrap_or_else(|| pump.own(w, "P_f"));
        lines.push(w.line(
            &fluid,
            &(weight_flow() * sym(machine.head.clone())),
            Kind::Power,
            of,
        )?);
        match &efficiency {
            Some(eta) => {
                body.push(say(format!(
                    "The fluid gets the weight that passes in each second times the head. The shaft brings more than that, \
                     as the {} loses some:",
                    machine.name
                )));
                lines.push(w.line(&shaft, &(sym(fluid) / sym(eta.clone())), Kind::Power, of)?);
            }
            None => {
                body.push(say(
                    "The fluid gets the weight that passes in each second times the head:",
                ));
                shaft = fluid;
            }
        }
        body.push(Block::Equation(lines));
    }
    if let Some(electric) = electric {
        let mut power = sym(shaft);
        if let Some(written) = details.electric.efficiency.as_ref().and_then(stated) {
            let eta = pump.own(w, "eta_m");
            of.set(eta.clone(), Bound::as_written(written.clone()));
            power = power / sym(eta);
            body.push(say("The motor loses some more, so it takes from the mains"));
        } else {
            body.push(say(
                "The motor's own losses are left out, so it takes from the mains",
            ));
        }
        body.push(Block::Equation(vec![w.line(
            &electric,
            &power,
            Kind::Power,
            of,
        )?]));
        body.extend(yearly(w, pump.machine, &details.electric, &electric, false, of)?);
    }
    Ok(body)
}

/// The efficiency, read off its curve at the flow of one pump at rated speed.
fn efficiency_read(
    w: &Working,
    pump: &Pump<'_>,
    curve: &Curve,
    of: &mut Bindings,
) -> Result<Vec<Block>, EquationError> {
    let mut body = Vec::new();
    let eta = w.pumps[pump.pump].efficiency.clone();
    let value = w.case.solved.state.pumps[pump.pump].efficiency;
    let moved = formulas(w, pump, of).and_then(|f| f.flow);
    let q = if moved.is_some() {
        sym(pump.each(w))
    } else {
        sym("Q")
    };
    if let Some((name, _)) = &moved {
        let si = pump
            .si(w)
            .map_or(f64::NAN, |c| c.rated_flow(w.case.solved.state.flow));
        let written = w.shown(Kind::Flow, si);
        of.set(
            name.clone(),
            Bound {
                quantity: Quantity::new(si, written.unit.dimension),
                written,
            },
        );
    }
    let flow_words = |words: &mut Vec<Inline>| {
        words.extend([m(q.clone()), t(" = ")]);
        if let Expr::Symbol(name) = &q
            && let Some(bound) = of.get(name)
        {
            words.push(Inline::Value(bound.written.clone()));
        }
    };
    match curve {
        Curve::Points { points, parabola } => {
            body.push(say("The efficiency is read off its own points:"));
            body.push(points_table(w, points, "efficiency"));
            let mut words = vec![t("At ")];
            flow_words(&mut words);
            words.extend([
                t(if *parabola {
                    ", the parabola nearest to them shows "
                } else {
                    ", a smooth line through them shows "
                }),
                m(sym(eta)),
                t(" = "),
                Inline::Value(w.pure(value)),
                t("."),
            ]);
            body.push(Block::Paragraph(words));
        }
        Curve::Quadratic(own) => {
            let mut words = vec![t("The efficiency follows from its own curve at ")];
            flow_words(&mut words);
            words.push(t(":"));
            body.push(Block::Paragraph(words));
            let mut terms = Vec::new();
            for (letter, value, factor) in [
                ("eta_0", Some(&own.a), None),
                ("eta_1", own.b.as_ref(), Some(q.clone())),
                ("eta_2", own.c.as_ref(), Some(q.clone().pow(2))),
            ] {
                let Some(written) = value.and_then(stated) else {
                    continue;
                };
                if written.quantity().value != 0.0 {
                    let name = pump.own(w, letter);
                    of.set(name.clone(), Bound::as_written(written.clone()));
                    let letter = sym(name);
                    terms.push((
                        true,
                        match factor {
                            Some(factor) => letter * factor,
                            None => letter,
                        },
                    ));
                }
            }
            let formula = sum(terms);
            body.push(Block::Equation(vec![w.line(&eta, &formula, Kind::Number, of)?]));
        }
    }
    Ok(body)
}

fn turbine_powers(w: &Working, of: &mut Bindings) -> Result<Vec<Block>, EquationError> {
    let mut body = Vec::new();
    let (mut index, mut turbines) = (0, 0);
    for element in &w.system().path {
        match element {
            Element::Pump { .. } => index += 1,
            Element::Turbine { electric, .. } => {
                let machine = &w.turbines[turbines];
                if let Some(name) = result(w, "P_el", index) {
                    let mut lines = Vec::new();
                    if !machine.by_power && w.unknown != Unknown::TurbinePower(turbines) {
                        let fluid = weight_flow() * sym(machine.head.clone());
                        let formula = match &machine.eta {
                            Some(_) => sym(machine.efficiency.clone()) * fluid,
                            None => fluid,
                        };
                        lines.push(w.line(&machine.power, &formula, Kind::Power, of)?);
                    }
                    let mut power = sym(machine.power.clone());
                    if let Some(written) = electric.efficiency.as_ref().and_then(stated) {
                        of.set("eta_g", Bound::as_written(written.clone()));
                        power = sym("eta_g") * power;
                    }
                    body.push(say(
                        "The generator gives to the mains what the shaft brings, less its own losses:",
                    ));
                    lines.push(w.line(&name, &power, Kind::Power, of)?);
                    body.push(Block::Equation(lines));
                    body.extend(yearly(w, index, electric, &name, true, of)?);
                }
                index += 1;
                turbines += 1;
            }
            _ => {}
        }
    }
    Ok(body)
}

/// The net positive suction head at a pump's inlet, against the one that it needs.
fn npsh(w: &Working, pump: &Pump<'_>, of: &mut Bindings) -> Result<Option<Step>, EquationError> {
    let Some(available) = pump.result(w, "NPSH_a") else {
        return Ok(None);
    };
    let (path, now) = (&w.case.solved.path, &w.case.solved.state);
    let Some(vapour) = path.vapour_pressure else {
        return Ok(None);
    };
    let pressure = |of: &mut Bindings, name: &str, si: f64, value: Option<&Written>| {
        let written = value.map_or_else(|| w.shown(Kind::Pressure, si), |v| w.given(Kind::Pressure, v));
        of.set(
            name,
            Bound {
                quantity: Quantity::new(si, crate::quantity::Dimension::PRESSURE),
                written,
            },
        );
    };
    pressure(of, "p_atm", path.atmosphere, stated(&w.system().atmosphere));
    pressure(of, "p_v", vapour, w.case.fluid.vapour_pressure.as_ref());
    if let Some(written) = pump.details.elevation.as_ref().and_then(stated) {
        let name = pump.result(w, "z_P").unwrap_or_else(|| "z_P".to_owned());
        of.set(name, Bound::as_written(w.given(Kind::Length, written)));
    }
    let z = pump.result(w, "z_P").unwrap_or_else(|| "z_P".to_owned());

    // What the fluid has at the start, and what is lost up to the pump.
    let weight = || sym("rho") * sym("g");
    let mut terms = vec![(true, sym("p_atm") / weight())];
    if now.start.pressure != 0.0 {
        terms.push((true, sym("p_1") / weight()));
    }
    if now.start.velocity != 0.0 {
        terms.push((true, w.kinetic(0)));
    }
    if now.start.elevation != 0.0 {
        terms.push((true, w.elevation(0)));
    }
    let (mut pipe, mut loss, mut before) = (0, 0, 0);
    let mut lost = Vec::new();
    let mut index = 0;
    for element in &path.elements {
        match element {
            path::Element::Pump(_) => {
                if before == pump.pump && index == pump.machine {
                    break;
                }
                terms.push((true, sym(w.pumps[before].head.clone())));
                before += 1;
                index += 1;
            }
            path::Element::Turbine(_) => {
                terms.push((false, sym(w.turbines[index - before].head.clone())));
                index += 1;
            }
            path::Element::Pipe(_) => {
                lost.push((true, w.friction(pipe)));
                pipe += 1;
            }
            path::Element::Loss { .. } => {
                lost.push((true, w.minor(&w.losses[loss])));
                loss += 1;
            }
        }
    }
    terms.push((false, sym(z)));
    let mut body = vec![say(
        "A liquid boils where its pressure falls to its vapour pressure, and the pressure is lowest on the suction side, at the \
         pump's inlet. The net positive suction head is what the fluid has there above boiling, as a head, counted from \
         the inlet's own height: all that it has at the start, with the air's pressure on top, less the climb, the losses \
         up to the pump and the vapour pressure.",
    )];
    let printed = |name: &str| of.get(name).map(|bound| Inline::Value(bound.written.clone()));
    if let (Some(air), Some(vapour)) = (printed("p_atm"), printed("p_v")) {
        body.push(Block::Paragraph(vec![
            t("The air outside has "),
            m(sym("p_atm")),
            t(" = "),
            air,
            t(", and the vapour "),
            m(sym("p_v")),
            t(" = "),
            vapour,
            t("."),
        ]));
    }
    let mut lines = Vec::new();
    if !lost.is_empty() {
        lines.push(w.line("h_suct", &sum(lost), Kind::Length, of)?);
        terms.push((false, sym("h_suct")));
    }
    terms.push((false, sym("p_v") / weight()));
    lines.push(w.line(&available, &sum(terms), Kind::Length, of)?);
    body.push(Block::Equation(lines));
    let has = now.pumps[pump.pump].npsh_available.unwrap_or(f64::NAN);
    if let (Some(required), Some(needs)) = (
        pump.result(w, "NPSH_r"),
        of_machine(path, now, "NPSH_r", pump.machine),
    ) {
        if let Some(OverFlow::Curve(curve)) = &pump.details.npsh_required {
            let what = match curve {
                Curve::Points { points, .. } => {
                    body.push(points_table(w, points, "NPSH needed"));
                    "off these points"
                }
                Curve::Quadratic(_) => "off its curve",
            };
            body.push(Block::Paragraph(vec![
                t(format!("At this flow the pump needs, {what}, ")),
                m(sym(required.clone())),
                t(" = "),
                w.value(Kind::Length, needs),
                t("."),
            ]));
        }
        let mut words = vec![
            m(sym(available.clone())),
            t(" = "),
            w.value(Kind::Length, has),
            t(if has >= needs {
                " is more than "
            } else {
                " is less than "
            }),
            m(sym(required)),
            t(" = "),
            w.value(Kind::Length, needs),
        ];
        words.push(t(if has >= needs {
            ": the pump does not cavitate."
        } else {
            ": the pump cavitates. It has to stand lower, or its suction line must be shorter or wider."
        }));
        body.push(Block::Paragraph(words));
    }
    let names: Vec<String> = if w.pumps.len() > 1 {
        vec![pump.name.to_owned()]
    } else {
        Vec::new()
    };
    Ok(Some(step(
        if names.is_empty() {
            "Check the suction side".to_owned()
        } else {
            format!("Check the suction side of the {}", listed(&names))
        },
        body,
    )))
}
