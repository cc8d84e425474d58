//! A working while it is redone line by line, with some of its results taken for true.
//!
//! A line whose result is taken keeps what was taken, whatever its formula says; every other line says what follows.
//! So a result moves only where something that it is had from has moved. Where two results say the same of each
//! other (a velocity and a flow), the one that the working finds first follows from the other if the other alone is
//! taken.

use crate::quantity::{Dimension, Quantity};
use crate::solution::Solution;

/// Results by name, SI.
pub(super) struct Sheet<'a> {
    taken: &'a [(String, f64)],
    values: Vec<(String, Quantity)>,
}

/// What flows, SI, and gravity.
pub(super) struct Medium {
    /// Density \[kg/m³\].
    pub(super) density: f64,
    /// Dynamic viscosity \[Pa·s\].
    pub(super) dynamic_viscosity: f64,
    /// Acceleration of gravity \[m/s²\].
    pub(super) gravity: f64,
}

impl<'a> Sheet<'a> {
    /// The right working's results, with those that are taken in their place.
    pub(super) fn new(right: &dyn Solution, medium: &Medium, taken: &'a [(String, f64)]) -> Self {
        let own = [
            ("rho", medium.density, Dimension::DENSITY),
            ("mu", medium.dynamic_viscosity, Dimension::DYNAMIC_VISCOSITY),
            ("nu", f64::NAN, Dimension::KINEMATIC_VISCOSITY),
            ("g", medium.gravity, Dimension::ACCELERATION),
        ];
        let own = own.map(|(name, si, dimension)| (name.to_owned(), Quantity::new(si, dimension)));
        let found = right.found().into_iter();
        let mut sheet = Self {
            taken,
            values: (own.into_iter())
                .chain(found.map(|f| (f.name, Quantity::new(f.si, f.kind.dimension()))))
                .collect(),
        };
        for (name, value) in taken {
            sheet.write(name, *value);
        }
        sheet.viscosities();
        sheet
    }

    /// Of the two viscosities one follows from the other.
    pub(super) fn viscosities(&mut self) {
        let density = self.get("rho");
        if self.has_taken("nu") {
            self.line("mu", self.get("nu") * density);
        }
        self.line("nu", self.get("mu") / density);
    }

    fn write(&mut self, name: &str, value: f64) {
        if let Some((_, quantity)) = self.values.iter_mut().find(|(known, _)| known == name) {
            quantity.value = value;
        }
    }

    /// What stands for a result; NaN where there is none of that name.
    pub(super) fn get(&self, name: &str) -> f64 {
        let mut values = self.values.iter();
        values
            .find(|(known, _)| known == name)
            .map_or(f64::NAN, |(_, quantity)| quantity.value)
    }

    /// Whether a result is taken for true.
    pub(super) fn has_taken(&self, name: &str) -> bool {
        self.taken.iter().any(|(taken, _)| taken == name)
    }

    /// Writes a result down, unless it is taken; gives what stands then.
    pub(super) fn line(&mut self, name: &str, value: f64) -> f64 {
        if self.has_taken(name) {
            return self.get(name);
        }
        self.write(name, value);
        value
    }

    /// [`Sheet::line`] where it takes work to find the value.
    pub(super) fn found(&mut self, name: &str, value: impl FnOnce() -> f64) -> f64 {
        if self.has_taken(name) {
            return self.get(name);
        }
        self.line(name, value())
    }

    /// All results but those that have no value from what is taken.
    pub(super) fn done(mut self) -> Vec<(String, Quantity)> {
        self.values.retain(|(_, quantity)| quantity.value.is_finite());
        self.values
    }
}

/// The value on which `next` settles, begun at `start`; NaN where it does not within a hundred passes.
pub(super) fn settled(start: f64, next: impl Fn(f64) -> f64) -> f64 {
    /// A change that is no more than noise in the last digits.
    const STANDS: f64 = 1e-14;
    let mut value = start;
    for _ in 0..100 {
        let before = value;
        value = next(before);
        if (value - before).abs() <= STANDS * value.abs() {
            return value;
        }
        if value.is_nan() {
            break;
        }
    }
    f64::NAN
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::bank::system::System;
    use crate::hydraulics::regime::Limits;
    use crate::solution::Case;

    pub(in crate::band) fn solved(yaml: &str) -> Case {
        let system = System::parse(yaml, "system.yaml").unwrap();
        Case::solve(system, None, &Limits::DEFAULT).unwrap()
    }

    /// A result by name.
    pub(in crate::band) fn of(results: &[(String, Quantity)], name: &str) -> f64 {
        let found = results.iter().find(|(known, _)| known == name);
        found.unwrap_or_else(|| panic!("no `{name}`")).1.value
    }

    pub(in crate::band) fn near(ours: f64, theirs: f64, share: f64, what: &str) {
        let off = (ours - theirs).abs();
        assert!(off <= share * theirs.abs(), "{what}: {ours} for {theirs}");
    }

    /// Holds a reworked case to all results of another.
    pub(in crate::band) fn agrees(reworked: &[(String, Quantity)], with: &Case, share: f64) {
        let right = with.numbers();
        assert_eq!(reworked.len(), right.len());
        for (name, quantity) in &right {
            near(of(reworked, name), quantity.value, share, name);
            let ours = reworked.iter().find(|(known, _)| known == name);
            assert_eq!(ours.map(|(_, q)| q.dimension), Some(quantity.dimension), "{name}");
        }
    }

    /// What is written down is a result.
    pub(in crate::band) fn are_results(written: &[String], of: &Case) {
        let names = of.numbers();
        let is_result = |name: &String| names.iter().any(|(known, _)| known == name);
        assert!(written.iter().all(is_result), "{written:?}");
    }

    /// Results that differ from the right ones.
    pub(in crate::band) fn moved(reworked: &[(String, Quantity)], from: &Case) -> Vec<String> {
        let differs = |(name, right): &(String, Quantity)| {
            (of(reworked, name) - right.value).abs() > 1e-9 * right.value.abs()
        };
        let all = from.numbers().into_iter();
        all.filter(differs).map(|(name, _)| name).collect()
    }
}
