//! What labels say of pipes, losses and machines.

use super::words::{Say, name_within, side_by_side};
use crate::bank::system::pump::{Curve, OverFlow};
use crate::bank::system::{Bore, Duty, Element, LossBy, Value};
use crate::figure::svg::Words;

/// What a pipe's label says.
pub(super) fn pipe_says(element: &Element, say: Say<'_>) -> Vec<Words> {
    let Element::Pipe {
        name,
        bore,
        length,
        roughness,
    } = element
    else {
        return Vec::new();
    };
    let mut lines = name_within(name, 30.0);
    let length = say.equal("L", "", length);
    match bore {
        Bore::Round(diameter) => lines.push(side_by_side(say.equal("D", "", diameter), &length)),
        Bore::Duct(_) => lines.push(length),
    }
    lines.push(say.equal("ε", "", roughness));
    lines
}

/// What a loss's label says.
pub(super) fn loss_says(name: &str, by: LossBy, coefficient: &Value, say: Say<'_>) -> Vec<Words> {
    let mut lines = name_within(name, 24.0);
    match by {
        LossBy::K => lines.push(say.equal("K", "", coefficient)),
        LossBy::Fitting(fitting) => {
            let text = say.plain_number(fitting.coefficient);
            lines.push(Words::plain("").italic("K").upright(&format!(" = {text}")));
        }
        LossBy::Rounding => lines.push(
            Words::plain("")
                .italic("r")
                .upright("/")
                .italic("D")
                .upright(&format!(" = {}", say.value(coefficient))),
        ),
        LossBy::EquivalentLength => lines.push(say.equal("L", "eq", coefficient)),
        LossBy::EquivalentDiameters => {
            lines.push(
                Words::plain("")
                    .italic("L")
                    .lowered("eq")
                    .upright(&format!(" = {} ", say.value(coefficient)))
                    .italic("D"),
            );
        }
        LossBy::SuddenExpansion { .. } | LossBy::SuddenContraction { .. } => {
            lines.push(Words::plain("(sudden)"))
        }
        LossBy::Cone { .. } | LossBy::Taper { .. } => lines.push(say.equal("θ", "", coefficient)),
    }
    lines
}

/// What a machine's label says.
pub(super) fn machine_says(element: &Element, say: Say<'_>) -> Vec<Words> {
    let (name, duty, efficiency, is_pump) = match element {
        Element::Pump {
            name,
            duty,
            efficiency,
            ..
        } => (name, duty, efficiency, true),
        Element::Turbine {
            name,
            duty,
            efficiency,
            ..
        } => (name, duty, efficiency, false),
        _ => return Vec::new(),
    };
    let sub = if is_pump { "P" } else { "T" };
    let mut lines = name_within(name, 26.0);
    match duty {
        Duty::Head(v) => lines.push(say.equal("h", sub, v)),
        Duty::Power(v) => lines.push(say.equal("P", sub, v)),
        Duty::Curve(curve) => {
            let equal = match element {
                Element::Pump { details, .. } => details.parallel.as_ref(),
                _ => None,
            };
            lines.extend(curve_says(curve, equal, say));
        }
    }
    if let Some(v) = efficiency {
        lines.push(say.equal("η", "", v));
    }
    if let Element::Pump { details, .. } = element {
        if let Some(v) = &details.rated_speed {
            lines.push(say.equal("n", "0", v));
        }
        if let Some(v) = &details.speed {
            lines.push(say.equal("n", "", v));
        }
        if let Some(v) = &details.full_impeller {
            lines.push(say.equal("D", "0", v));
        }
        if let Some(v) = &details.impeller {
            lines.push(say.equal("D", "P", v));
        }
        if let Some(OverFlow::Value(v)) = &details.npsh_required {
            lines.push(Words::plain(format!("NPSH needed {}", say.value(v))));
        }
        for (value, how) in [
            (&details.parallel, "side by side"),
            (&details.series, "in series"),
        ] {
            if let Some(v) = value {
                lines.push(Words::plain(format!("{} {how}", say.value(v))));
            }
        }
    }
    lines
}

/// The curve is that of one pump: of `equal` pumps side by side each has its share of the flow that is drawn beside them.
fn curve_says(curve: &Curve, equal: Option<&Value>, say: Say<'_>) -> Vec<Words> {
    match curve {
        Curve::Points { .. } => vec![Words::plain("head by its curve")],
        Curve::Quadratic(q) => {
            let head = || Words::plain("").italic("h").lowered("P").upright(" = ");
            let mut lines = vec![head().upright(&say.value(&q.a))];
            for (value, times) in [(&q.b, ""), (&q.c, "²")] {
                let Some(Value::Known(w)) = value else { continue };
                let text = say.written(w);
                // The handout says by how much the head falls; so does the label.
                let (sign, size) = match text.strip_prefix(['−', '-']) {
                    Some(size) => ("− ", size),
                    None => ("+ ", text.as_str()),
                };
                let words = Words::plain(format!("{sign}{size} "));
                let words = match equal {
                    None => words.italic("Q"),
                    Some(count) => {
                        (words.upright("(").italic("Q")).upright(&format!("/{})", say.value(count)))
                    }
                };
                lines.push(words.upright(times));
            }
            lines
        }
    }
}
