//! The tree's value and dimension.

use super::{Bindings, EquationError, Expr, Function, Relation, Style};
use crate::quantity::{Dimension, Quantity};
use std::collections::BTreeSet;
use std::f64::consts::PI;

/// Two values count as equal when they differ by no more than this share of the larger.
const EQUAL_WITHIN: f64 = 1e-9;

pub(super) fn symbols(expr: &Expr) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    collect(expr, &mut names);
    names
}

fn collect(expr: &Expr, names: &mut BTreeSet<String>) {
    if let Expr::Symbol(name) = expr {
        names.insert(name.clone());
    }
    for child in expr.children() {
        collect(child, names);
    }
}

/// The expression as it is quoted in a message.
fn quote(expr: &Expr) -> String {
    let text = expr.plain(Style::default());
    if text.chars().count() <= 60 {
        return text;
    }
    text.chars().take(60).chain(['…']).collect()
}

fn unknown(name: &str) -> EquationError {
    EquationError::new(format!("`{name}` is not known here")).mend("use the name of a given or a result")
}

fn not_a_value(expr: &Expr) -> EquationError {
    let what = match expr {
        Expr::Compare(..) | Expr::And(..) | Expr::Or(..) => "is a comparison and has no value",
        _ => "only prints and has no value",
    };
    EquationError::new(format!("`{}` {what}", quote(expr)))
}

fn misfit(a: &Expr, doing: &str, b: &Expr, da: Dimension, db: Dimension) -> EquationError {
    EquationError::new(format!(
        "`{}` is {} and `{}` is {}: they can't be {doing}",
        quote(a),
        da.name(),
        quote(b),
        db.name()
    ))
    .mend("check the units, and write one behind every number that has one")
}

fn pure(expr: &Expr, dimension: Dimension, place: &str) -> Result<(), EquationError> {
    if dimension == Dimension::NONE {
        return Ok(());
    }
    Err(EquationError::new(format!(
        "{place} needs a pure number, and `{}` is {}",
        quote(expr),
        dimension.name()
    ))
    .mend("divide it by something of the same dimension"))
}

/// `a + sign * b`, refused where an exponent grows beyond what is kept.
fn combined(a: Dimension, b: Dimension, sign: i16) -> Option<Dimension> {
    let one = |x: i16, y: i16| x.checked_add(y.checked_mul(sign)?);
    Some(Dimension {
        length: one(a.length, b.length)?,
        mass: one(a.mass, b.mass)?,
        time: one(a.time, b.time)?,
        temperature: one(a.temperature, b.temperature)?,
    })
}

/// The dimension raised to `exponent`; `None` where that is no whole number of twelfths.
fn raised(a: Dimension, exponent: f64) -> Option<Dimension> {
    let one = |x: i16| {
        let twelfths = f64::from(x) * exponent;
        let nearest = twelfths.round();
        ((twelfths - nearest).abs() < 1e-9 && nearest.abs() < f64::from(i16::MAX)).then_some(nearest as i16)
    };
    Some(Dimension {
        length: one(a.length)?,
        mass: one(a.mass)?,
        time: one(a.time)?,
        temperature: one(a.temperature)?,
    })
}

fn too_high(expr: &Expr) -> EquationError {
    EquationError::new(format!("the dimension of `{}` is beyond all use", quote(expr)))
}

/// The dimension of `base^exponent`. The exponent of a dimension has to be known without the names.
fn power_dimension(
    whole: &Expr,
    base: &Expr,
    exponent: &Expr,
    of_base: Dimension,
    of_exponent: Dimension,
) -> Result<Dimension, EquationError> {
    pure(exponent, of_exponent, "an exponent")?;
    if of_base == Dimension::NONE {
        return Ok(Dimension::NONE);
    }
    if !symbols(exponent).is_empty() {
        return Err(EquationError::new(format!(
            "`{}` is {}, so its exponent `{}` has to be a plain number",
            quote(base),
            of_base.name(),
            quote(exponent)
        ))
        .mend("write a number, or divide by something of the same dimension first"));
    }
    let exponent = value(exponent, &|_| None)?.value;
    raised(of_base, exponent).ok_or_else(|| {
        EquationError::new(format!(
            "`{}` is {}, and the power in `{}` leaves no dimension with exponents in twelfths",
            quote(base),
            of_base.name(),
            quote(whole)
        ))
        .mend("divide by something of the same dimension before raising it")
    })
}

/// What kind of thing a node's children must be, with the result's dimension.
fn node_dimension(expr: &Expr, of: &[Dimension]) -> Result<Dimension, EquationError> {
    let same = |a: &Expr, doing: &str, b: &Expr| {
        if of[0] == of[1] {
            Ok(of[0])
        } else {
            Err(misfit(a, doing, b, of[0], of[1]))
        }
    };
    match expr {
        Expr::Negative(_) => Ok(of[0]),
        Expr::Add(a, b) => same(a, "added", b),
        Expr::Subtract(a, b) => same(a, "subtracted", b),
        Expr::Compare(a, _, b) => same(a, "compared", b).map(|_| Dimension::NONE),
        Expr::And(..) | Expr::Or(..) => Ok(Dimension::NONE),
        Expr::Multiply(..) => combined(of[0], of[1], 1).ok_or_else(|| too_high(expr)),
        Expr::Divide(..) => combined(of[0], of[1], -1).ok_or_else(|| too_high(expr)),
        Expr::Power(a, b) => power_dimension(expr, a, b, of[0], of[1]),
        Expr::Call(function, arguments) => match function {
            Function::Sqrt => raised(of[0], 0.5).ok_or_else(|| {
                EquationError::new(format!(
                    "`{}` has no dimension with exponents in twelfths",
                    quote(expr)
                ))
            }),
            Function::Abs => Ok(of[0]),
            Function::Ln | Function::Log10 => pure(&arguments[0], of[0], "a logarithm").map(|()| of[0]),
            Function::Exp => pure(&arguments[0], of[0], "`exp`").map(|()| of[0]),
            Function::Min | Function::Max => {
                for (argument, dimension) in arguments.iter().zip(of).skip(1) {
                    if *dimension != of[0] {
                        return Err(misfit(&arguments[0], "compared", argument, of[0], *dimension));
                    }
                }
                Ok(of[0])
            }
        },
        _ => Err(not_a_value(expr)),
    }
}

/// A function called with the wrong number of arguments; only code can build one.
fn check_arguments(expr: &Expr) -> Result<(), EquationError> {
    match expr {
        Expr::Call(Function::Min | Function::Max, arguments) if !arguments.is_empty() => Ok(()),
        Expr::Call(Function::Min | Function::Max, _) => {
            Err(EquationError::new("`min` and `max` need an argument"))
        }
        Expr::Call(_, arguments) if arguments.len() != 1 => {
            Err(EquationError::new("a function has the wrong number of arguments"))
        }
        _ => Ok(()),
    }
}

pub(super) fn dimension(
    expr: &Expr,
    of: &dyn Fn(&str) -> Option<Dimension>,
) -> Result<Dimension, EquationError> {
    match expr {
        Expr::Number(written) => Ok(written.unit.dimension),
        Expr::Pi => Ok(Dimension::NONE),
        Expr::Symbol(name) => of(name).ok_or_else(|| unknown(name)),
        Expr::Text(_) | Expr::Notation(_) => Err(not_a_value(expr)),
        _ => {
            check_arguments(expr)?;
            let mut dimensions = Vec::with_capacity(2);
            for child in expr.children() {
                dimensions.push(dimension(child, of)?);
            }
            node_dimension(expr, &dimensions)
        }
    }
}

pub(super) fn value(expr: &Expr, of: &dyn Fn(&str) -> Option<Quantity>) -> Result<Quantity, EquationError> {
    let quantity = match expr {
        Expr::Number(written) => written.quantity(),
        Expr::Pi => Quantity::number(PI),
        Expr::Symbol(name) => of(name).ok_or_else(|| unknown(name))?,
        Expr::Text(_) | Expr::Notation(_) | Expr::Compare(..) | Expr::And(..) | Expr::Or(..) => {
            return Err(not_a_value(expr));
        }
        _ => {
            check_arguments(expr)?;
            // Sums, products and the like come by the thousand, and take no memory from the heap.
            if let Some((a, b)) = expr.two() {
                let (a, b) = (value(a, of)?, value(b, of)?);
                let dimension = node_dimension(expr, &[a.dimension, b.dimension])?;
                Quantity::new(compute(expr, &[a.value, b.value])?, dimension)
            } else {
                let mut values = Vec::with_capacity(1);
                let mut dimensions = Vec::with_capacity(1);
                for child in expr.children() {
                    let quantity = value(child, of)?;
                    values.push(quantity.value);
                    dimensions.push(quantity.dimension);
                }
                let dimension = node_dimension(expr, &dimensions)?;
                Quantity::new(compute(expr, &values)?, dimension)
            }
        }
    };
    if quantity.value.is_finite() {
        Ok(quantity)
    } else {
        Err(EquationError::new(format!(
            "`{}` gives no finite number",
            quote(expr)
        )))
    }
}

/// The number that a node makes of its children's numbers.
fn compute(expr: &Expr, v: &[f64]) -> Result<f64, EquationError> {
    let outside = |why: &str| EquationError::new(format!("`{}` {why}", quote(expr)));
    Ok(match expr {
        Expr::Negative(_) => -v[0],
        Expr::Add(..) => v[0] + v[1],
        Expr::Subtract(..) => v[0] - v[1],
        Expr::Multiply(..) => v[0] * v[1],
        Expr::Divide(..) if v[1] == 0.0 => return Err(outside("divides by zero")),
        Expr::Divide(..) => v[0] / v[1],
        // A square is a product, as it is wherever one is written out in code.
        Expr::Power(..) if v[1] == 2.0 => v[0] * v[0],
        Expr::Power(..) if v[0] == 0.0 && v[1] < 0.0 => return Err(outside("divides by zero")),
        Expr::Power(..) if v[0] < 0.0 && v[1].fract() != 0.0 => {
            return Err(outside("takes a root of a negative number"));
        }
        Expr::Power(..) => libm::pow(v[0], v[1]),
        Expr::Call(Function::Sqrt, _) if v[0] < 0.0 => {
            return Err(outside("takes a root of a negative number"));
        }
        Expr::Call(Function::Sqrt, _) => libm::sqrt(v[0]),
        Expr::Call(Function::Ln | Function::Log10, _) if v[0] <= 0.0 => {
            return Err(outside("takes the logarithm of a number that is not positive"));
        }
        Expr::Call(Function::Ln, _) => libm::log(v[0]),
        Expr::Call(Function::Log10, _) => libm::log10(v[0]),
        Expr::Call(Function::Exp, _) => libm::exp(v[0]),
        Expr::Call(Function::Abs, _) => v[0].abs(),
        Expr::Call(Function::Min, _) => v.iter().copied().fold(f64::INFINITY, f64::min),
        Expr::Call(Function::Max, _) => v.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        _ => return Err(not_a_value(expr)),
    })
}

pub(super) fn holds(expr: &Expr, of: &dyn Fn(&str) -> Option<Quantity>) -> Result<bool, EquationError> {
    match expr {
        Expr::And(a, b) => {
            let (a, b) = (holds(a, of)?, holds(b, of)?);
            Ok(a && b)
        }
        Expr::Or(a, b) => {
            let (a, b) = (holds(a, of)?, holds(b, of)?);
            Ok(a || b)
        }
        Expr::Compare(a, relation, b) => {
            let (left, right) = (value(a, of)?, value(b, of)?);
            if left.dimension != right.dimension {
                return Err(misfit(a, "compared", b, left.dimension, right.dimension));
            }
            let (x, y) = (left.value, right.value);
            let equal = (x - y).abs() <= EQUAL_WITHIN * x.abs().max(y.abs());
            Ok(match relation {
                Relation::Equal => equal,
                Relation::NotEqual => !equal,
                Relation::Less => x < y,
                Relation::AtMost => x <= y,
                Relation::Greater => x > y,
                Relation::AtLeast => x >= y,
                Relation::About => {
                    return Err(EquationError::new(format!(
                        "`{}` compares by ≈, which only prints",
                        quote(expr)
                    )));
                }
            })
        }
        _ => Err(EquationError::new(format!("`{}` is no comparison", quote(expr)))
            .mend("write a comparison, such as `V < 4 m/s`")),
    }
}

pub(super) fn with_values(expr: &Expr, of: &Bindings) -> Expr {
    match expr {
        Expr::Symbol(name) => match of.get(name) {
            Some(bound) => Expr::Number(bound.written.clone()),
            None => expr.clone(),
        },
        _ => expr.with_children(&mut |child| with_values(child, of)),
    }
}

#[cfg(test)]
mod tests {
    use crate::equation::{Bindings, Bound, EquationError, Expr, Notation};
    use crate::quantity::{Dimension, Quantity, Unit};

    fn of() -> Bindings {
        let mut of = Bindings::default();
        for (name, value, unit) in [
            ("V", 3.0, "m/s"),
            ("L", 60.0, "m"),
            ("D", 0.05, "m"),
            ("n", 4.0, ""),
            ("zero", 0.0, ""),
            ("Q", 2e-3, "m^3/s"),
        ] {
            let unit = if unit.is_empty() {
                Unit::none()
            } else {
                Unit::parse(unit).unwrap()
            };
            of.set(name, Bound::new(value, &unit, 6));
        }
        of
    }

    fn value(text: &str) -> Result<Quantity, EquationError> {
        Expr::parse(text).unwrap().evaluate(&of())
    }

    fn dimension(text: &str) -> Result<Dimension, EquationError> {
        Expr::parse(text)
            .unwrap()
            .dimension(&|name| of().get(name).map(|b| b.quantity.dimension))
    }

    #[test]
    fn dimensions_follow_the_numbers() {
        for (text, expected) in [
            ("V * D", Dimension::KINEMATIC_VISCOSITY),
            ("L / V", Dimension::TIME),
            ("V^2 / (2 * 9.81 m/s^2)", Dimension::LENGTH),
            ("sqrt(2 * 9.81 m/s^2 * L)", Dimension::VELOCITY),
            ("(D^2)^0.5", Dimension::LENGTH),
            ("(D^3)^(1/3)", Dimension::LENGTH),
            ("(L * D^2)^(1/3) + L", Dimension::LENGTH),
            ("(D^(1/4))^4 + sqrt(sqrt(D))^4", Dimension::LENGTH),
            ("D^-1 * L", Dimension::NONE),
            ("n^0.37 + ln(n) + exp(L / D - 1200)", Dimension::NONE),
            ("min(L, D, 3 m) - abs(-L)", Dimension::LENGTH),
            ("L < 3 m and n > 2", Dimension::NONE),
        ] {
            assert_eq!(dimension(text), Ok(expected), "{text}");
            if !text.contains('<') {
                assert_eq!(value(text).map(|q| q.dimension), Ok(expected), "{text}");
            }
        }
    }

    #[test]
    fn dimensions_that_do_not_fit_are_named() {
        for (text, what) in [
            (
                "L + 3",
                "`L` is a length and `3` is a pure number: they can't be added",
            ),
            (
                "L - V",
                "`L` is a length and `V` is a velocity: they can't be subtracted",
            ),
            (
                "V < 4",
                "`V` is a velocity and `4` is a pure number: they can't be compared",
            ),
            (
                "min(L, V)",
                "`L` is a length and `V` is a velocity: they can't be compared",
            ),
            ("ln(L)", "a logarithm needs a pure number, and `L` is a length"),
            ("exp(V)", "`exp` needs a pure number, and `V` is a velocity"),
            ("n^L", "an exponent needs a pure number, and `L` is a length"),
            (
                "L^n",
                "`L` is a length, so its exponent `n` has to be a plain number",
            ),
            (
                "L^0.38",
                "`L` is a length, and the power in `L^0.38` leaves no dimension with exponents in twelfths",
            ),
            (
                "L^9999",
                "`L` is a length, and the power in `L^9999` leaves no dimension with exponents in twelfths",
            ),
            ("X + 1", "`X` is not known here"),
        ] {
            let error = dimension(text).unwrap_err();
            assert_eq!(error.what, what);
            assert!(error.mend.is_some(), "{text}");
            let evaluated = match text {
                "V < 4" => Expr::parse(text).unwrap().holds(&of()).map(|_| ()),
                _ => value(text).map(|_| ()),
            };
            assert_eq!(evaluated.unwrap_err().what, what);
        }
    }

    #[test]
    fn a_result_that_is_no_finite_number_is_an_error() {
        for (text, what) in [
            ("1 / zero", "`1/zero` divides by zero"),
            ("zero^-1", "`zero⁻¹` divides by zero"),
            ("sqrt(-n)", "`√(−n)` takes a root of a negative number"),
            ("(-n)^0.5", "`(−n)^0.5` takes a root of a negative number"),
            (
                "ln(zero)",
                "`ln(zero)` takes the logarithm of a number that is not positive",
            ),
            (
                "log10(-n)",
                "`log10(−n)` takes the logarithm of a number that is not positive",
            ),
            ("1 / exp(1000)", "`exp(1000)` gives no finite number"),
            ("10^400", "`10⁴⁰⁰` gives no finite number"),
            ("1e200 * 1e200", "`(1×10²⁰⁰) (1×10²⁰⁰)` gives no finite number"),
        ] {
            assert_eq!(value(text).unwrap_err().what, what);
        }
        let nan = Expr::number(f64::NAN).evaluate(&of());
        assert!(nan.is_err());
    }

    #[test]
    fn what_has_no_value_says_so() {
        assert_eq!(
            value("L < 3 m").unwrap_err().what,
            "`L < 3 m` is a comparison and has no value"
        );
        assert_eq!(
            Expr::symbol("L").holds(&of()).unwrap_err().what,
            "`L` is no comparison"
        );
        assert!(Expr::Text("a".into()).evaluate(&of()).is_err());
        assert!(Expr::Notation(Notation::Letter('a')).evaluate(&of()).is_err());
        assert!(
            Expr::Call(crate::equation::Function::Min, vec![])
                .evaluate(&of())
                .is_err()
        );
    }

    #[test]
    fn equality_allows_for_the_last_digits() {
        let holds = |text: &str| Expr::parse(text).unwrap().holds(&of()).unwrap();
        assert!(holds("0.1 + 0.2 = 0.3"));
        assert!(!holds("0.1 + 0.2 != 0.3"));
        assert!(holds("1 = 1.0000000009"));
        assert!(!holds("1 = 1.000000002"));
        assert!(holds("zero = 0"));
        assert!(!holds("0 = 1e-300"));
        assert!(holds("Q = 2 L/s"));
    }

    #[test]
    fn names_are_found_and_replaced() {
        let expr = Expr::parse("a * V + min(b_1, V) < c or d > V").unwrap();
        let names: Vec<String> = expr.symbols().into_iter().collect();
        assert_eq!(names, ["V", "a", "b_1", "c", "d"]);
        let left: Vec<String> = expr.with_values(&of()).symbols().into_iter().collect();
        assert_eq!(left, ["a", "b_1", "c", "d"]);
    }
}
