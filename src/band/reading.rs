//! How far a careful reader of the friction chart may be off, by the place where it is read.
//!
//! A reader puts a point within some distance of the right one on paper, up and down as well as along. Up and down
//! the distance is the course's reading error in `ln f`. Along, the same distance on paper is more of `ln Re`, since
//! the chart draws a decade of f longer than one of Re, and it counts by the slope of the curve. The two go
//! together as independent errors do. Where curves crowd, the same distance lands on another curve, but f errs
//! by no more than that distance.

use crate::bank::course::{Policy, ReadingModel};
use crate::constants::policy::CHART_DECADES;
use crate::hydraulics::friction::{Law, Reading, darcy};
use crate::hydraulics::regime::Limits;

/// How many times as far off a reading at this Reynolds number and ε/D can be as one where the curves are level:
/// `√(1 + (c ∂ln f/∂ln Re)²)`, with the chart's proportion c. 1 in laminar flow, where nothing is read.
pub fn steepness(reynolds: f64, relative_roughness: f64, limits: &Limits) -> f64 {
    if reynolds < limits.laminar_end {
        return 1.0;
    }
    const STEP: f64 = 1e-4;
    let factor = |by: f64| darcy(Reading::EXACT, reynolds * by, relative_roughness, limits);
    let slope = libm::log(factor(1.0 + STEP) / factor(1.0)) / libm::log(1.0 + STEP);
    let along = CHART_DECADES * slope;
    if along.is_finite() {
        (1.0 + along * along).sqrt()
    } else {
        1.0
    }
}

/// The share by which a careful reader may misread the friction factor, either way \[–\].
pub fn misreading(policy: &Policy, reynolds: f64, relative_roughness: f64) -> f64 {
    match policy.reading_model {
        ReadingModel::Even => policy.reading_error,
        ReadingModel::Chart => policy.reading_error * steepness(reynolds, relative_roughness, &policy.limits),
    }
}

/// The explicit formulas that may be taken in place of the chart.
pub(super) fn formulas(policy: &Policy) -> &'static [Law] {
    if policy.other_formulas {
        &[Law::Haaland, Law::SwameeJain, Law::Churchill, Law::Serghides]
    } else {
        &[]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steep_curve_is_harder_to_read_than_a_level_one() {
        let policy = Policy::default();
        let level = misreading(&policy, 1e7, 0.01);
        assert!((level / policy.reading_error - 1.0).abs() < 1e-3, "{level}");
        // Blasius (1913): f = 0.316 Re^(-1/4), so that the slope is a quarter near Re 1e4 on a smooth wall.
        let steep = misreading(&policy, 1e4, 0.0) / policy.reading_error;
        let blasius = (1.0 + (0.25 * CHART_DECADES) * (0.25 * CHART_DECADES)).sqrt();
        assert!((steep / blasius - 1.0).abs() < 0.03, "{steep} and {blasius}");
        let even = Policy {
            reading_model: ReadingModel::Even,
            ..policy
        };
        assert_eq!(misreading(&even, 1e4, 0.0), policy.reading_error);
    }
}
