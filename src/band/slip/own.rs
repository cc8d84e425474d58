//! A template's own slips: givens taken for others.

use super::base::Base;
use super::setup::Numbers;
use crate::band::working::Work;
use crate::equation::{Bindings, Bound};
use crate::quantity::{Unit, Written};
use crate::solution::Case;

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
    let system = base.template.system.resolve(&givens).ok()?;
    let case = Case::try_solve(system, Some(base.figures), &base.setup.limits).ok()?;
    let numbers = match &case {
        Case::Path(path) => Numbers::Path(Work::new(&givens, path, base.setup.limits).problem),
        other => Numbers::of(other)?,
    };
    Some((givens, numbers))
}
