//! Slips of every kind of system but the path: those of friction factors, which every kind has, and the kind's own.

use super::{Slip, SlipAnswers, ageing, differs, leak, meter, named, network, profile, scaled, tank};
use crate::band::general::{View, of_pipes};
use crate::bank::course::Policy;
use crate::bank::template::{Asked, Template};
use crate::equation::Bindings;
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::regime::Regime;
use crate::solution::{Answer, Case, Solution};

/// The answers that each slip leads to: those of friction factors, which every kind has, and the kind's own.
pub(super) fn slip_answers(
    template: &Template,
    givens: &Bindings,
    case: &Case,
    kind: &dyn Solution,
    policy: &Policy,
) -> Vec<SlipAnswers> {
    let of_pipes = of_pipes(case);
    let base = View::new(givens, case, &of_pipes);
    let right: Vec<_> = template
        .parts
        .iter()
        .map(|part| answer(&base, &part.asked))
        .collect();
    let pipes = base.flowing.len();
    let mut slipped: Vec<(&'static str, Case)> = Vec::new();
    let mut reread = |name: &'static str, readings: &[Reading]| {
        if let Ok(case) = kind.again(readings, &policy.limits) {
            slipped.push((name, case));
        }
    };
    let quarter = Reading {
        law: Law::Colebrook,
        factor: 0.25,
    };
    // A meter has a Reynolds number, but no friction.
    if !matches!(case, Case::Meter(_)) {
        reread("Fanning factor for Darcy's", &vec![quarter; pipes]);
    }
    let guessed: Vec<Reading> = base
        .flowing
        .iter()
        .map(|f| Reading {
            law: if f.relative_roughness > 0.0 && f.regime != Regime::Laminar {
                Law::FullyRough
            } else {
                Law::Colebrook
            },
            factor: 1.0,
        })
        .collect();
    if base.flowing.iter().any(|f| f.regime != Regime::FullyRough) {
        reread("stopped at the first guess", &guessed);
    }
    slipped.extend(match case {
        Case::Leak(case) => leak::slips(case, &policy.limits),
        Case::Tank(case) => tank::slips(case, &policy.limits),
        Case::Network(case) => network::slips(case, &policy.limits),
        Case::Meter(case) => meter::slips(case),
        Case::Profile(case) => profile::slips(case, &policy.limits),
        Case::Ageing(case) => ageing::slips(case, &policy.limits),
        Case::Path(_) => Vec::new(),
    });
    let mut all: Vec<SlipAnswers> = Vec::new();
    let mut add = |slip: &'static Slip, answers: Vec<Option<Answer>>| {
        if differs(&answers, &right) {
            all.push(SlipAnswers::exact(slip.clone(), answers));
        }
    };
    for (name, case) in slipped {
        if let Some(slip) = named(name) {
            let view = View::new(givens, &case, &of_pipes);
            add(
                slip,
                template
                    .parts
                    .iter()
                    .map(|part| answer(&view, &part.asked))
                    .collect(),
            );
        }
    }
    for (name, by) in [
        ("a thousand times too large", 1e3),
        ("a thousand times too small", 1e-3),
    ] {
        if let Some(slip) = named(name) {
            add(slip, scaled(&right, by));
        }
    }
    all
}

fn answer(view: &View<'_>, asked: &Asked) -> Option<Answer> {
    match asked {
        Asked::Number { formula, .. } => view.value(formula).ok().map(Answer::Number),
        Asked::Regime { pipe } => view.flowing.get(*pipe).map(|f| Answer::Regime(f.regime)),
        Asked::Choice { options, first_if } => {
            let holds = view.holds(first_if, None).ok()?;
            Some(Answer::Choice(options[usize::from(!holds)].clone()))
        }
    }
}
