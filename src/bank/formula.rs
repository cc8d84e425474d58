//! Formulas in YAML values: read, their names known, their dimensions fitting.

use super::yaml::{Cursor, listed};
use crate::equation::{EquationError, Expr};
use crate::fault::nearest;
use crate::quantity::{Dimension, PressureReference};
use std::collections::BTreeMap;

/// A name that formulas can use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Meaning {
    pub(super) dimension: Dimension,
    /// Given as an absolute pressure, which a formula would take for gauge.
    pub(super) absolute: bool,
    /// Its value is at fault, so that nothing can be said of formulas that use it.
    pub(super) unreadable: bool,
}

impl Meaning {
    pub(super) fn of(dimension: Dimension) -> Self {
        Self {
            dimension,
            absolute: false,
            unreadable: false,
        }
    }

    pub(super) fn of_unreadable() -> Self {
        Self {
            unreadable: true,
            ..Self::of(Dimension::NONE)
        }
    }

    pub(super) fn of_unit(unit: &crate::quantity::Unit) -> Self {
        Self {
            dimension: unit.dimension,
            absolute: unit.reference == Some(PressureReference::Absolute),
            unreadable: false,
        }
    }
}

/// The names that formulas can use.
pub(super) type Names = BTreeMap<String, Meaning>;

/// Reads the formula in a value, with its dimension; faults where it can't be used.
///
/// `or_else` says what to write instead of a name that is not known, where that is more than a near one.
pub(super) fn read(
    cursor: &Cursor<'_>,
    names: &Names,
    or_else: &dyn Fn(&str) -> Option<String>,
) -> Option<(Expr, Dimension)> {
    let text = cursor.text()?;
    let skipped = cursor
        .raw_text()
        .map_or(0, |raw| raw.len() - raw.trim_start().len());
    let inside = |error: EquationError| {
        let offset = error.span.map(|span| skipped + span.start);
        cursor.fault_inside(offset, format!("`{text}`: {}", error.what), error.mend);
    };
    let expr = match Expr::parse(text) {
        Ok(expr) => expr,
        Err(error) => {
            inside(error);
            return None;
        }
    };
    let mut good = true;
    for symbol in expr.symbols() {
        let offset = find_name(text, &symbol).map(|o| o + skipped);
        match names.get(&symbol) {
            None => {
                good = false;
                let mend = or_else(&symbol)
                    .or_else(|| {
                        near(&symbol, names.keys().map(String::as_str))
                            .map(|near| format!("did you mean `{near}`?"))
                    })
                    .unwrap_or_else(|| {
                        if names.is_empty() {
                            "write a value with its unit".to_owned()
                        } else {
                            let all: Vec<&String> = names.keys().collect();
                            format!("the names that can stand here are {}", listed(&all))
                        }
                    });
                cursor.fault_inside(
                    offset,
                    format!("`{text}` uses `{symbol}`, which is not known here"),
                    Some(mend),
                );
            }
            Some(meaning) if meaning.absolute && !matches!(expr, Expr::Symbol(_)) => {
                good = false;
                cursor.fault_inside(
                    offset,
                    format!("`{text}` computes with `{symbol}`, which is given as an absolute pressure"),
                    Some("use it alone, or give it as a gauge pressure".to_owned()),
                );
            }
            // The given has its own fault.
            Some(meaning) if meaning.unreadable => good = false,
            Some(_) => {}
        }
    }
    if !good {
        return None;
    }
    match expr.dimension(&|name| names.get(name).map(|m| m.dimension)) {
        Ok(dimension) => Some((expr, dimension)),
        Err(error) => {
            inside(error);
            None
        }
    }
}

/// Reads a comparison, or several joined by `and` and `or`.
pub(super) fn comparison(
    cursor: &Cursor<'_>,
    names: &Names,
    or_else: &dyn Fn(&str) -> Option<String>,
) -> Option<Expr> {
    let (expr, _) = read(cursor, names, or_else)?;
    if matches!(expr, Expr::Compare(..) | Expr::And(..) | Expr::Or(..)) {
        Some(expr)
    } else {
        cursor.fault(
            format!(
                "{} needs a comparison, but `{}` is a value",
                cursor.called(),
                cursor.text()?
            ),
            "write a comparison such as `Re > 4000`",
        );
        None
    }
}

/// The known name that was probably meant. Every single letter is near every other, so that only its case is
/// put right.
pub(super) fn near<'a>(name: &str, mut known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    if name.chars().count() < 2 {
        return known.find(|k| k.eq_ignore_ascii_case(name));
    }
    nearest(name, known.filter(|k| k.chars().count() > 1))
}

/// Where a name stands in a formula: its first byte.
fn find_name(text: &str, name: &str) -> Option<usize> {
    let part_of_name = |c: char| c.is_alphanumeric() || c == '_';
    text.match_indices(name).map(|(i, _)| i).find(|i| {
        !text[..*i].chars().next_back().is_some_and(part_of_name)
            && !text[i + name.len()..].chars().next().is_some_and(part_of_name)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_found_whole() {
        assert_eq!(find_name("V_a + V", "V"), Some(6));
        assert_eq!(find_name("V_a", "V"), None);
    }
}
