//! How careful work on a flow meter varies beyond reading its coefficient.

use super::working::half_unit;
use crate::equation::Expr;
use crate::hydraulics::friction::Reading;
use crate::hydraulics::meter::Unknown;
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::meter::MeterCase;

/// What rounding on the way leaves open of a formula of results \[SI\]: each number that is written down before it is
/// rounded to the figures that are carried, and the shares add up.
pub(super) fn slack(case: &MeterCase, formula: &Expr, of: &dyn Fn(&str) -> Option<Quantity>) -> f64 {
    let is_name = matches!(formula, Expr::Symbol(_));
    let Ok(right) = formula.evaluate_with(of) else {
        return 0.0;
    };
    formula
        .symbols()
        .iter()
        .map(|name| {
            // The answer's own last rounding is counted apart.
            let by = rounded_before(case, name, of) + if is_name { 0.0 } else { own(case, name, of) };
            if by == 0.0 {
                return 0.0;
            }
            let moved = formula.evaluate_with(&|asked| {
                of(asked).map(|q| match asked == name {
                    true => Quantity::new(q.value * (1.0 + by), q.dimension),
                    false => q,
                })
            });
            moved.map_or(0.0, |moved| (moved.value - right.value).abs())
        })
        .sum()
}

/// Share by which writing down a result with three figures moves it; 0 for what is given.
fn own(case: &MeterCase, name: &str, of: &dyn Fn(&str) -> Option<Quantity>) -> f64 {
    use crate::bank::system::{Kind as _, Value};
    let given = matches!(case.system.stated(name), Some(Value::Known(_)))
        || matches!(name, "rho" | "mu" | "nu" | "g");
    match of(name) {
        Some(q) if !given && q.value != 0.0 && case.system.results().iter().any(|r| r.name == name) => {
            (half_unit(q.value, 0.0) / q.value).abs()
        }
        _ => 0.0,
    }
}

/// Share by which what is written down before a result moves it.
fn rounded_before(case: &MeterCase, name: &str, of: &dyn Fn(&str) -> Option<Quantity>) -> f64 {
    let own = |name: &str| own(case, name, of);
    let all = |name: &str| rounded_before(case, name, of) + own(name);
    let unknown = case.unknown();
    let is_sought = matches!(unknown, Unknown::Differential | Unknown::Deflection);
    // The difference of the two densities in a manometer.
    let difference = match (of("rho_m"), of("rho")) {
        (Some(liquid), Some(fluid)) => {
            let by = liquid.value - fluid.value;
            (half_unit(by, 0.0) / by).abs()
        }
        _ => 0.0,
    };
    let is_throttle = case.throttle().is_some();
    let geometry = || own("E") + own("A_t");
    match name {
        "dp" if is_sought && is_throttle => 2.0 * geometry(),
        "dp" => difference,
        "h" => all("dp"),
        "h_m" => all("dp") + difference,
        "Q_i" => geometry() + 0.5 * all("dp"),
        "Q" if unknown == Unknown::Flow => all("Q_i"),
        "Q" if !is_throttle => all("V") + own("A"),
        "mdot" => all("Q"),
        "C" if unknown == Unknown::Coefficient => all("Q_i"),
        "u" if unknown == Unknown::Velocity => 0.5 * all("dp"),
        "V" if is_throttle => all("Q") + own("A"),
        "V" => all("u"),
        "Re" => all("V"),
        // N and x are written down, and x stands under two roots.
        "d" if unknown == Unknown::ThroatDiameter => {
            0.5 * (own("A") + 0.5 * all("dp") + 2.0 * WORST) + own("beta")
        }
        "beta" if unknown == Unknown::ThroatDiameter => 0.5 * (own("A") + 0.5 * all("dp") + 2.0 * WORST),
        // A difference of two numbers, s and C β².
        "xi" if is_throttle => difference_of_jet(of),
        "dp_loss" => all("xi") + all("dp"),
        "h_loss" | "K_loss" => all("dp_loss"),
        "P_loss" => all("dp_loss") + all("Q"),
        _ => 0.0,
    }
}

/// The worst that one rounding to three figures does.
const WORST: f64 = 0.005;

/// Share by which ξ = (s − C β²)/(s + C β²) moves where s and β² are rounded; 0 where the share is given.
fn difference_of_jet(of: &dyn Fn(&str) -> Option<Quantity>) -> f64 {
    let value = |name: &str| of(name).map_or(f64::NAN, |q| q.value);
    let beta2 = value("beta") * value("beta");
    let jet = value("C") * beta2;
    let root = (1.0 - beta2 * beta2 * (1.0 - value("C") * value("C"))).sqrt();
    let moved =
        half_unit(root, 0.0) * jet + root * (half_unit(jet, 0.0) + value("C") * half_unit(beta2, 0.0));
    let by = 2.0 * moved / ((root - jet) * (root + jet));
    if by.is_finite() { by.abs() } else { 0.0 }
}

/// The working redone from results that are taken for true.
pub(super) fn rework(
    _case: &MeterCase,
    _taken: &[(String, f64)],
    _readings: &[Reading],
    _limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    None
}

/// What the hand method writes down on the way.
pub(super) fn written(_case: &MeterCase) -> Vec<String> {
    Vec::new()
}
