//! Whether numbers make sense: physically, and to print.

use crate::band::asks_for_critical;
use crate::bank::template::{Asked, Template};
use crate::constants::policy::{
    GAS_DENSITY, ORDINARY_GAS_VELOCITY, ORDINARY_VELOCITY, RELATIVE_ROUGHNESS_END, REYNOLDS_END,
};
use crate::deal::Dealt;
use crate::equation::Bindings;
use crate::hydraulics::grade::{grade_line, lowest};
use crate::hydraulics::regime::Regime;
use crate::quantity::{Dimension, Quantity, Unit, Written};
use crate::solution::{Answer, Case};

/// Most significant figures that a given may be printed with.
const MOST_FIGURES: u32 = 5;

/// The lowest gauge pressure on a path, in its pipes as well as where it is asked \[Pa\].
pub(super) fn lowest_pressure(case: &Case) -> Option<f64> {
    let path = case.path()?;
    let line = grade_line(&path.solved.path, &path.solved.state);
    // Going through heads and back leaves some 1e-12 of a zero.
    lowest(&line).map(|point| {
        if point.pressure.abs() < 1e-6 {
            0.0
        } else {
            point.pressure
        }
    })
}

/// The part of a result's name before its pipe's, point's or node's.
pub(super) fn base(name: &str) -> &str {
    name.split('_').next().unwrap_or(name)
}

/// What of a draw can't be, or is not to be met: in words without numbers, since draws are counted by it.
pub(super) fn nonsense(dealt: &Dealt, results: &Bindings) -> Vec<String> {
    let mut found = Vec::new();
    let case = &dealt.case;
    let density = case.fluid().density.quantity().value;
    let vapour = case
        .fluid()
        .vapour_pressure
        .as_ref()
        .map_or(0.0, |p| p.quantity().value);
    let system = case.system();
    let atmosphere = match system.atmosphere() {
        crate::bank::system::Value::Known(written) => written.quantity().value,
        _ => crate::constants::physical::STANDARD_ATMOSPHERE.value,
    };
    let range = if density < GAS_DENSITY {
        ORDINARY_GAS_VELOCITY
    } else {
        ORDINARY_VELOCITY
    };
    for flowing in case.flowing() {
        let name = &flowing.name;
        if !(flowing.reynolds > 0.0 && flowing.reynolds <= REYNOLDS_END) {
            found.push(format!("the Reynolds number in `{name}` is off the chart"));
        }
        if !(0.0..=RELATIVE_ROUGHNESS_END).contains(&flowing.relative_roughness) {
            found.push(format!("the relative roughness of `{name}` is off the chart"));
        }
        if flowing.regime == Regime::Critical && !asks_for_critical(&dealt.template) {
            found.push(format!("the flow in `{name}` is in the critical zone"));
        }
    }
    // What creeps is ordinary where flow is laminar.
    let all_laminar = case.flowing().iter().all(|f| f.regime == Regime::Laminar);
    for (name, bound) in &results.0 {
        let Quantity { value, dimension } = bound.quantity;
        if !value.is_finite() {
            found.push(format!("`{name}` is no number"));
            continue;
        }
        let wrong = match (base(name), dimension) {
            ("V", Dimension::VELOCITY) => {
                let slow = value < range.0 && value != 0.0 && !all_laminar;
                (slow || value > range.1 || value < 0.0).then_some("is out of the ordinary range")
            }
            ("p", Dimension::PRESSURE) => {
                (value + atmosphere <= vapour).then_some("is below the vapour pressure")
            }
            ("f", Dimension::NONE) => (value <= 0.0).then_some("is not above 0"),
            ("eta", Dimension::NONE) => (!(value > 0.0 && value <= 1.0)).then_some("is not between 0 and 1"),
            ("D" | "L" | "d", Dimension::LENGTH) => (value <= 0.0).then_some("is not above 0"),
            ("eps", Dimension::LENGTH) => (value < 0.0).then_some("is below 0"),
            ("t", Dimension::TIME) => (value <= 0.0).then_some("is not above 0"),
            ("P", Dimension::POWER) => (value < 0.0).then_some("is below 0"),
            _ => None,
        };
        if let Some(what) = wrong {
            found.push(format!("`{name}` {what}"));
        }
    }
    if lowest_pressure(case).is_some_and(|p| p + atmosphere <= vapour) {
        found.push("the lowest pressure on the way is below the vapour pressure".to_owned());
    }
    for (part, answer) in dealt.template.parts.iter().zip(&dealt.answers) {
        if let Answer::Number(number) = answer {
            let positive = [
                Dimension::POWER,
                Dimension::TIME,
                Dimension::FLOW,
                Dimension::VELOCITY,
                Dimension::AREA,
            ];
            if number.value == 0.0 {
                found.push(format!("the answer to `{}` is 0", part.name));
            } else if number.value < 0.0 && positive.contains(&number.dimension) {
                found.push(format!("the answer to `{}` is below 0", part.name));
            }
        }
    }
    found
}

/// What of a draw prints badly, in words without numbers.
pub(super) fn ugly(template: &Template, values: &[Written], answers: &[Answer]) -> Vec<String> {
    let mut found = Vec::new();
    for (given, written) in template.givens.iter().zip(values) {
        if written.figures > MOST_FIGURES {
            found.push(format!("the given `{}` has more than five figures", given.name));
        }
        // Viscosities are small in every unit, and printed so in every book.
        let viscosity = matches!(
            written.unit.dimension,
            Dimension::DYNAMIC_VISCOSITY | Dimension::KINEMATIC_VISCOSITY
        );
        if written.shown.exponent.is_some() && !viscosity && written.unit.dimension != Dimension::NONE {
            found.push(format!(
                "the given `{}` is printed with a power of ten; another unit reads better",
                given.name
            ));
        }
    }
    for (part, answer) in template.parts.iter().zip(answers) {
        let (Answer::Number(number), Asked::Number { unit, figures, .. }) = (answer, &part.asked) else {
            continue;
        };
        // Reynolds numbers and relative roughnesses are what they are.
        if unit.dimension == Dimension::NONE || number.value == 0.0 {
            continue;
        }
        let size = unit.from_si(number.value).abs();
        if size < 0.01 {
            found.push(format!(
                "the answer to `{}` is small in {}; a smaller unit reads better",
                part.name, unit.symbol
            ));
        }
        if size >= libm::pow(10.0, f64::from(*figures)) {
            found.push(format!(
                "the answer to `{}` has more figures before its point than are asked for; ask for more, or in a larger \
                 unit than {}",
                part.name, unit.symbol
            ));
        }
    }
    found
}

/// The unit in which a value on the way is listed.
pub(super) fn listed_unit(dimension: Dimension, customary: bool) -> Unit {
    let symbol = match (dimension, customary) {
        (Dimension::VELOCITY, false) => "m/s",
        (Dimension::VELOCITY, true) => "ft/s",
        (Dimension::PRESSURE, false) => "kPa",
        (Dimension::PRESSURE, true) => "psi",
        _ => return Unit::none(),
    };
    // These symbols are in the table of units.
    Unit::parse(symbol).unwrap_or_else(|_| Unit::none())
}
