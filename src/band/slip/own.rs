//! A template's own slips: givens taken for others.

use super::base::Base;
use super::setup::Numbers;
use crate::bank::system::System;
use crate::equation::{Bindings, Bound};
use crate::quantity::{Unit, Written};

/// Figures that a double holds.
const ALL_FIGURES: u32 = 15;

/// The givens as a template's own slip has them, and the problem with them; `None` where it changes nothing or there is
/// no such problem.
pub(super) fn changed(base: &Base<'_>, slip: usize) -> Option<(Bindings, Numbers)> {
    let slip = base.template.own_slips.get(slip)?;
    let mut givens = base.givens.clone();
    let mut any = false;
    for (name, formula) in &slip.with {
        let before = base.givens.get(name)?;
        let now = formula.evaluate(base.givens).ok()?;
        if now.dimension != before.quantity.dimension || !now.value.is_finite() {
            return None;
        }
        any |= now.value != before.quantity.value;
        // A number is taken as it is, in SI.
        let unit = Unit {
            factor: 1.0,
            offset: 0.0,
            symbol: String::new(),
            ..before.written.unit.clone()
        };
        givens.set(
            name.clone(),
            Bound {
                quantity: now,
                written: Written::from_si(now.value, &unit, ALL_FIGURES),
            },
        );
    }
    if !any {
        return None;
    }
    let figures = Some(base.figures);
    let numbers = match base.template.system.resolve(&givens).ok()? {
        System::Path(system) => Numbers::Path(system.problem(figures).ok()?),
        System::Leak(system) => Numbers::Leak(system.problem(figures).ok()?),
        System::Tank(system) => Numbers::Tank(system.problem(figures).ok()?),
        System::Meter(system) => Numbers::Meter(system.problem(figures).ok()?),
        System::Profile(system) => Numbers::Profile(system.problem(figures).ok()?),
        System::Ageing(system) => Numbers::Ageing(system.problem(figures).ok()?),
        System::Network(system) => Numbers::Network(system.network(figures).ok()?),
    };
    Some((givens, numbers))
}
