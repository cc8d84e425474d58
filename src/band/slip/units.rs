//! Slips with units: a number taken in another unit than it is given or asked in.

use super::base::Base;
use super::library::How;
use super::setup::{Role, Setup};
use crate::bank::template::Asked;
use crate::quantity::{Dimension, Quantity, Unit};
use crate::solution::Answer;

/// Kilopascals in a pound of force per square inch. NIST SP 811 (2008), B.8.
const KPA_IN_A_PSI: f64 = 6.894_757;
/// Millimetres in an inch. NIST SP 811 (2008), B.8.
const MM_IN_AN_INCH: f64 = 25.4;

/// What a number in this unit is multiplied with by one who takes it in another.
fn taken_for(how: How, unit: &Unit) -> Option<f64> {
    let symbol = unit.symbol.as_str();
    match how {
        How::PressureUnits if symbol.starts_with("psi") => Some(1.0 / KPA_IN_A_PSI),
        How::PressureUnits if symbol.starts_with("kPa") => Some(KPA_IN_A_PSI),
        How::Inch if symbol == "mm" => Some(MM_IN_AN_INCH),
        How::Inch if symbol == "in" => Some(1.0 / MM_IN_AN_INCH),
        How::Litre if symbol.starts_with("L/") => Some(1000.0),
        How::TimeUnits if unit.dimension == Dimension::FLOW => seconds(symbol.rsplit('/').next()?),
        How::TimeUnits if unit.dimension == Dimension::TIME => seconds(symbol).map(|seconds| 1.0 / seconds),
        _ => None,
    }
}

fn seconds(symbol: &str) -> Option<f64> {
    match symbol {
        "min" | "gpm" | "cfm" => Some(60.0),
        "h" => Some(3600.0),
        _ => None,
    }
}

/// Takes given numbers in another unit; says whether there was one.
pub(super) fn in_values(how: How, base: &Base<'_>, setup: &mut Setup) -> bool {
    let roles: &[(Role, Dimension)] = match how {
        How::PressureUnits => &[(Role::Pressure, Dimension::PRESSURE)],
        How::Inch => &[(Role::Bore, Dimension::LENGTH)],
        How::Litre => &[(Role::Flow, Dimension::FLOW)],
        How::TimeUnits => &[(Role::Flow, Dimension::FLOW), (Role::Time, Dimension::TIME)],
        _ => return false,
    };
    let mut any = false;
    for (role, dimension) in roles {
        any |= setup.numbers.change(*role, &mut |value| {
            // The unit is that of the value which is written so.
            let written = base.written.iter().find(|written| {
                written.unit.dimension == *dimension && written.quantity().value.abs() == value.abs()
            });
            if let Some(by) = written.and_then(|written| taken_for(how, &written.unit)) {
                *value *= by;
            }
        });
    }
    any
}

/// Gives answers in another unit than is asked; says whether there was one.
pub(super) fn in_answers(how: How, base: &Base<'_>, answers: &mut [Option<Answer>]) -> bool {
    let mut any = false;
    let is_prefix = matches!(how, How::ThousandfoldUp | How::ThousandfoldDown);
    for (part, answer) in base.template.parts.iter().zip(answers) {
        let by = match (&part.asked, &*answer, how) {
            (_, Some(Answer::Number(number)), How::ThousandfoldUp) if number.dimension != Dimension::NONE => {
                1e3
            }
            (_, Some(Answer::Number(number)), How::ThousandfoldDown)
                if number.dimension != Dimension::NONE =>
            {
                1e-3
            }
            // A number of seconds, or per second, given as one of minutes.
            (Asked::Number { unit, .. }, Some(Answer::Number(_)), How::TimeUnits) => {
                taken_for(how, unit).map_or(1.0, |by| 1.0 / by)
            }
            _ => 1.0,
        };
        if by != 1.0
            && let Some(Answer::Number(number)) = answer
        {
            *number = Quantity::new(number.value * by, number.dimension);
            any = true;
        } else if is_prefix {
            // Words and pure numbers have no unit.
            *answer = None;
        }
    }
    any
}
