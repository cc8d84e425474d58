//! Numbers put in for names so that a line multiplies out as it stands: where values come in units that don't fit
//! together, they are brought to the base units of their system, and what those leave open is a factor in the line.

use super::{Bindings, Expr, Function, Line, Relation};
use crate::quantity::{Dimension, Quantity, Unit, Written};

/// A formula with its numbers.
pub(super) struct Substituted {
    /// The numbers, and factors between units.
    pub(super) side: Expr,
    /// The unit in which the numbers give the result, where that is not the one asked for.
    pub(super) gives: Option<Unit>,
    /// How each value was brought to its unit, as a line of its own.
    pub(super) brought: Vec<Line>,
}

/// How often a number falls short of ft, lbm and s by each factor of US customary units: `psi` lacks the first two,
/// `hp` the first and the last.
type Lacks = [i32; 3];

/// 1 lbf = 32.174 lbm·ft/s², 1 ft² = 144 in², 1 hp = 550 ft·lbf/s (NIST SP 811, B.8).
const FACTORS: [(f64, u32, &str); 3] = [
    (32.174, 5, "lbm*ft/(lbf*s^2)"),
    (144.0, 3, "in^2/ft^2"),
    (550.0, 3, "ft*lbf/(s*hp)"),
];

/// What a price of energy has, money being a pure number.
const PER_ENERGY: Dimension = Dimension::NONE.over(Dimension::ENERGY);

const NOTHING: Lacks = [0; 3];

/// Weight per volume, and pressure per length.
const SPECIFIC_WEIGHT: Dimension = Dimension::PRESSURE.over(Dimension::LENGTH);

/// The formula with its numbers, for a result in `unit`; values that have to be converted get `figures`.
pub(super) fn substituted(formula: &Expr, of: &Bindings, unit: &Unit, figures: u32) -> Substituted {
    let plain = Substituted {
        side: formula.with_values(of),
        gives: None,
        brought: Vec::new(),
    };
    let Ok(result) = formula.evaluate(of) else {
        return plain;
    };
    // What fits together as it is stays: `(0.15 mm)/(150 mm)`.
    let fits = |value: f64| (value - unit.from_si(result.value)).abs() <= 1e-9 * value.abs();
    if bare(formula, of).evaluate(of).is_ok_and(|raw| fits(raw.value)) || !plain.side.symbols().is_empty() {
        return plain;
    }
    let hours = in_hours(unit) || any(&plain.side, &in_hours);
    let is_us = |unit: &Unit| unit.is_us_customary() == Some(true);
    let us = is_us(unit) || any(&plain.side, &is_us);
    let weigh = |weight: bool| {
        let mut way = Way {
            of,
            us,
            hours,
            weight,
            figures,
            factors: 0,
            brought: Vec::new(),
        };
        let (side, lacks) = way.put(formula);
        let (gives, wanted) = way.base(unit.dimension);
        let side = way.bring(side, lacks, wanted);
        let gives = (!same(&gives, unit)).then_some(gives);
        let factors = way.factors;
        (
            factors,
            Substituted {
                side,
                gives,
                brought: way.brought,
            },
        )
    };
    let (without, by_mass) = weigh(false);
    if without == 0 {
        return by_mass;
    }
    // `ρ g` as the weight of a cubic foot spares the line a factor.
    let (with, by_weight) = weigh(true);
    if with < without { by_weight } else { by_mass }
}

/// Every value without its unit.
fn bare(expr: &Expr, of: &Bindings) -> Expr {
    let pure = |number: f64| {
        Expr::Number(Written {
            number,
            ..Written::from_si(number, &Unit::none(), 1)
        })
    };
    match expr {
        Expr::Number(written) => pure(written.number),
        Expr::Symbol(name) => match of.get(name) {
            Some(bound) => pure(bound.written.unit.from_si(bound.quantity.value)),
            None => expr.clone(),
        },
        _ => expr.with_children(&mut |child| bare(child, of)),
    }
}

/// Whether the unit of any number is such.
fn any(expr: &Expr, is_such: &dyn Fn(&Unit) -> bool) -> bool {
    match expr {
        Expr::Number(written) => is_such(&written.unit),
        _ => expr.children().into_iter().any(|child| any(child, is_such)),
    }
}

/// Whether a unit is one of energy sold by the hour, or of its price.
fn in_hours(unit: &Unit) -> bool {
    unit.symbol.ends_with("Wh")
}

/// Whether two units are of one size.
fn same(a: &Unit, b: &Unit) -> bool {
    (a.factor - b.factor).abs() <= 1e-12 * a.factor.abs() && a.offset == b.offset
}

/// Whether only the decimal point moves from one unit to the other.
fn moves_the_point(from: &Unit, to: &Unit) -> bool {
    let places = libm::log10(from.factor / to.factor);
    (places - places.round()).abs() < 1e-9
}

/// A unit as the product of powers of base units: `lbm/(ft·s)`.
fn composed(bases: [(&str, i16); 3]) -> Option<Unit> {
    let side = |sign: i16| -> Vec<String> {
        let there = bases.iter().filter(|(_, twelfths)| twelfths * sign > 0);
        there
            .map(|(base, twelfths)| match twelfths.abs() / 12 {
                1 => (*base).to_owned(),
                power => format!("{base}^{power}"),
            })
            .collect()
    };
    let (above, below) = (side(1), side(-1));
    let top = if above.is_empty() {
        "1".to_owned()
    } else {
        above.join("*")
    };
    let text = match below.as_slice() {
        [] => top,
        [one] => format!("{top}/{one}"),
        many => format!("{top}/({})", many.join("*")),
    };
    Unit::parse(&text).ok()
}

struct Way<'a> {
    of: &'a Bindings,
    us: bool,
    /// Whether an energy is in kWh, which is a power in kW times hours.
    hours: bool,
    /// Whether `ρ g` is put in as one number, in lbf/ft³.
    weight: bool,
    figures: u32,
    /// How many factors the line has taken.
    factors: usize,
    brought: Vec<Line>,
}

impl Way<'_> {
    /// The unit of a dimension in which lines are worked, and what it lacks.
    fn base(&self, dimension: Dimension) -> (Unit, Lacks) {
        let named = if self.hours && dimension == Dimension::POWER {
            Some(("kW", NOTHING))
        } else if self.hours && dimension == Dimension::TIME {
            Some(("h", NOTHING))
        } else if self.hours && dimension == Dimension::ENERGY {
            Some(("kWh", NOTHING))
        } else if self.hours && dimension == PER_ENERGY {
            Some(("1/kWh", NOTHING))
        } else if self.us {
            match dimension {
                Dimension::PRESSURE => Some(("psi", [1, 1, 0])),
                Dimension::POWER => Some(("hp", [1, 0, 1])),
                Dimension::FORCE => Some(("lbf", [1, 0, 0])),
                Dimension::ENERGY => Some(("ft*lbf", [1, 0, 0])),
                SPECIFIC_WEIGHT => Some(("lbf/ft^3", [1, 0, 0])),
                _ => None,
            }
        } else {
            match dimension {
                Dimension::PRESSURE => Some(("Pa", NOTHING)),
                Dimension::POWER => Some(("W", NOTHING)),
                Dimension::FORCE => Some(("N", NOTHING)),
                Dimension::ENERGY => Some(("J", NOTHING)),
                Dimension::DYNAMIC_VISCOSITY => Some(("Pa.s", NOTHING)),
                _ => None,
            }
        };
        let unit = match named {
            Some((text, _)) => Unit::parse(text).ok(),
            None => composed(if self.us {
                [
                    ("lbm", dimension.mass),
                    ("ft", dimension.length),
                    ("s", dimension.time),
                ]
            } else {
                [
                    ("kg", dimension.mass),
                    ("m", dimension.length),
                    ("s", dimension.time),
                ]
            }),
        };
        (
            unit.unwrap_or_else(Unit::none),
            named.map_or(NOTHING, |(_, lacks)| lacks),
        )
    }

    /// A value in the unit in which lines are worked.
    fn value(&mut self, name: Option<&Expr>, quantity: Quantity, written: &Written) -> (Expr, Lacks) {
        let (base, lacks) = self.base(quantity.dimension);
        if same(&base, &written.unit) || quantity.dimension.temperature != 0 {
            return (Expr::Number(written.clone()), lacks);
        }
        let figures = if moves_the_point(&written.unit, &base) {
            written.figures
        } else {
            written.figures.max(self.figures)
        };
        let now = Written::from_si(quantity.value, &base, figures);
        if let Some(name) = name {
            self.brought.push(
                Line::equal(name.clone(), Expr::Number(written.clone()))
                    .then(Relation::Equal, Expr::Number(now.clone())),
            );
        }
        (Expr::Number(now), lacks)
    }

    /// The weight of a cubic foot, where `expr` is density times gravity.
    fn weight(&mut self, expr: &Expr) -> Option<(Expr, Lacks)> {
        let Expr::Multiply(a, b) = expr else { return None };
        let (Expr::Symbol(density), Expr::Symbol(gravity)) = (&**a, &**b) else {
            return None;
        };
        let (rho, g) = (self.of.get(density)?, self.of.get(gravity)?);
        let fits = rho.quantity.dimension == Dimension::DENSITY
            && g.quantity.dimension == Dimension::ACCELERATION
            && self.us
            && self.weight;
        if !fits {
            return None;
        }
        let (unit, wanted) = self.base(SPECIFIC_WEIGHT);
        let mut by_mass = Way {
            weight: false,
            brought: Vec::new(),
            ..*self
        };
        let (side, lacks) = by_mass.put(expr);
        let side = by_mass.bring(side, lacks, wanted);
        let quantity = expr.evaluate(self.of).ok()?;
        let written = Expr::Number(Written::from_si(quantity.value, &unit, self.figures));
        let mut line = Line::equal(expr.clone(), side).then(Relation::Equal, written.clone());
        line.brought = by_mass.brought;
        self.brought.push(line);
        Some((written, wanted))
    }

    /// An expression with its numbers, and what its number lacks.
    fn put(&mut self, expr: &Expr) -> (Expr, Lacks) {
        if let Some(weight) = self.weight(expr) {
            return weight;
        }
        match expr {
            Expr::Number(written) => self.value(None, written.quantity(), written),
            Expr::Symbol(name) => match self.of.get(name) {
                Some(bound) => {
                    let (quantity, written) = (bound.quantity, bound.written.clone());
                    self.value(Some(expr), quantity, &written)
                }
                None => (expr.clone(), NOTHING),
            },
            Expr::Negative(a) => {
                let (a, lacks) = self.put(a);
                (-a, lacks)
            }
            Expr::Multiply(a, b) => {
                let ((a, of_a), (b, of_b)) = (self.put(a), self.put(b));
                (a * b, [0, 1, 2].map(|i| of_a[i] + of_b[i]))
            }
            Expr::Divide(a, b) => {
                let ((a, of_a), (b, of_b)) = (self.put(a), self.put(b));
                (a / b, [0, 1, 2].map(|i| of_a[i] - of_b[i]))
            }
            Expr::Power(a, power) => {
                let (a, lacks) = self.put(a);
                match power.as_ref() {
                    Expr::Number(n) if n.number.fract() == 0.0 && n.number.abs() < 100.0 => (
                        Expr::Power(Box::new(a), power.clone()),
                        lacks.map(|lack| lack * n.number as i32),
                    ),
                    _ => {
                        let a = self.bring(a, lacks, NOTHING);
                        let power = power.with_values(self.of);
                        (Expr::Power(Box::new(a), Box::new(power)), NOTHING)
                    }
                }
            }
            Expr::Call(Function::Abs, arguments) if arguments.len() == 1 => {
                let (a, lacks) = self.put(&arguments[0]);
                (Expr::Call(Function::Abs, vec![a]), lacks)
            }
            Expr::Call(function, arguments) => {
                let arguments = arguments.iter().map(|argument| {
                    let (a, lacks) = self.put(argument);
                    self.bring(a, lacks, NOTHING)
                });
                (Expr::Call(*function, arguments.collect()), NOTHING)
            }
            Expr::Add(a, b) | Expr::Subtract(a, b) | Expr::Compare(a, _, b) => {
                // Heads add up as ft, pressures as psi, whatever they are made of.
                let lacks = (a.evaluate(self.of)).map_or(NOTHING, |sum| self.base(sum.dimension).1);
                let ((a, of_a), (b, of_b)) = (self.put(a), self.put(b));
                let (a, b) = (self.bring(a, of_a, lacks), self.bring(b, of_b, lacks));
                let side = match expr {
                    Expr::Add(..) => a + b,
                    Expr::Subtract(..) => a - b,
                    Expr::Compare(_, relation, _) => Expr::Compare(Box::new(a), *relation, Box::new(b)),
                    _ => expr.clone(),
                };
                (side, lacks)
            }
            _ => (expr.with_values(self.of), NOTHING),
        }
    }

    /// The same value with its number lacking only what is wanted.
    fn bring(&mut self, mut expr: Expr, lacks: Lacks, wanted: Lacks) -> Expr {
        for (i, (number, figures, unit)) in FACTORS.into_iter().enumerate() {
            let Ok(unit) = Unit::parse(unit) else { continue };
            let mut factor = Expr::Number(Written {
                number,
                ..Written::from_si(unit.to_si(number), &unit, figures)
            });
            let times = lacks[i] - wanted[i];
            if times == 0 {
                continue;
            }
            self.factors += 1;
            if times.abs() > 1 {
                factor = factor.pow(times.abs());
            }
            expr = if times > 0 {
                times_in(expr, factor)
            } else {
                over_in(expr, factor)
            };
        }
        expr
    }
}

/// `a F/b` for `a/b`, so that the factor stands in the fraction.
fn times_in(expr: Expr, factor: Expr) -> Expr {
    match expr {
        Expr::Divide(a, b) => Expr::Divide(Box::new(*a * factor), b),
        Expr::Multiply(a, b) if matches!(*b, Expr::Divide(..)) => *a * times_in(*b, factor),
        Expr::Multiply(a, b) if matches!(*a, Expr::Divide(..)) => times_in(*a, factor) * *b,
        other => other * factor,
    }
}

/// Whether anything in it is written as a fraction.
fn has_fraction(expr: &Expr) -> bool {
    matches!(expr, Expr::Divide(..)) || expr.children().into_iter().any(has_fraction)
}

/// `a/(b F)` for `a/b`, and no fraction within another.
fn over_in(expr: Expr, factor: Expr) -> Expr {
    match expr {
        Expr::Divide(a, b) => Expr::Divide(a, Box::new(*b * factor)),
        Expr::Multiply(a, b) if matches!(*b, Expr::Divide(..)) => *a * over_in(*b, factor),
        Expr::Multiply(a, b) if matches!(*a, Expr::Divide(..)) => over_in(*a, factor) * *b,
        Expr::Multiply(a, b) if has_fraction(&b) && !has_fraction(&a) => over_in(*a, factor) * *b,
        other => other / factor,
    }
}

#[cfg(test)]
mod tests {
    use crate::equation::{Bindings, Bound, Expr, Line, Style};
    use crate::quantity::{Unit, Written};

    fn line(formula: &str, unit: &str, values: &[(&str, &str)]) -> Line {
        let mut of = Bindings::default();
        for (name, value) in values {
            of.set(*name, Bound::as_written(Written::parse(value).unwrap()));
        }
        let formula = Expr::parse(formula).unwrap();
        let unit = Unit::parse(unit).unwrap();
        Line::worked(Expr::symbol("x"), &formula, &of, &unit, 4)
            .unwrap()
            .0
    }

    /// What stands behind the formula, and how values came to the units in it.
    fn numbers(formula: &str, unit: &str, values: &[(&str, &str)]) -> (String, Vec<String>) {
        let line = line(formula, unit, values);
        let brought = line.brought.iter().map(|line| line.plain(Style::default()));
        let sides: Vec<String> = (line.rest.iter().skip(1))
            .map(|(_, side)| side.plain(Style::default()))
            .collect();
        (sides.join(" = "), brought.collect())
    }

    #[test]
    fn values_that_fit_together_stay_as_they_are() {
        for (formula, unit, values, text) in [
            (
                "eps / D",
                "",
                vec![("eps", "0.15 mm"), ("D", "150 mm")],
                "(0.15 mm)/(150 mm) = 0.001000",
            ),
            (
                "dp * Q",
                "W",
                vec![("dp", "2.50 kPa"), ("Q", "4.00 L/s")],
                "(2.50 kPa) (4.00 L/s) = 10.00 W",
            ),
            (
                "a - b",
                "psi",
                vec![("a", "40.0 psi"), ("b", "8.0 psi")],
                "40.0 psi − 8.0 psi = 32.00 psi",
            ),
        ] {
            assert_eq!(numbers(formula, unit, &values), (text.to_owned(), vec![]));
        }
    }

    #[test]
    fn values_that_do_not_are_brought_to_base_units() {
        let (text, brought) = numbers("A * V", "L/s", &[("A", "201 cm^2"), ("V", "1.50 m/s")]);
        assert_eq!(text, "(0.0201 m²) (1.50 m/s) = 0.03015 m³/s = 30.15 L/s");
        assert_eq!(brought, ["A = 201 cm² = 0.0201 m²"]);
        let (text, brought) = numbers(
            "4 * Q / (pi * D^2)",
            "ft/s",
            &[("Q", "200 gpm"), ("D", "4.026 in")],
        );
        assert_eq!(text, "4 (0.4456 ft³/s)/(π (0.3355 ft)²) = 5.040 ft/s");
        assert_eq!(
            brought,
            ["Q = 200 gpm = 0.4456 ft³/s", "D = 4.026 in = 0.3355 ft"]
        );
    }

    /// 1 hp = 550 ft·lbf/s, 1 lbf = 32.174 lbm·ft/s², 1 ft² = 144 in²: from memory, as every textbook has them.
    #[test]
    fn us_customary_forces_pressures_and_powers_bring_their_factors() {
        let fluid = [("rho", "62.30 lbm/ft^3"), ("g", "32.20 ft/s^2")];
        let with = |more: &[(&'static str, &'static str)]| [&fluid[..], more].concat();
        let weight = "ρ g = (62.30 lbm/ft³) (32.20 ft/s²)/(32.174 lbm·ft/(lbf·s²)) = 62.35 lbf/ft³";
        let (text, brought) = numbers(
            "rho * g * Q * h / eta",
            "hp",
            &with(&[("Q", "0.4456 ft^3/s"), ("h", "78.85 ft"), ("eta", "66 %")]),
        );
        assert_eq!(
            text,
            "(62.35 lbf/ft³) (0.4456 ft³/s) (78.85 ft)/(0.66 (550 ft·lbf/(s·hp))) = 6.035 hp"
        );
        assert_eq!(brought, [weight, "η = 66 % = 0.66"]);
        let (text, _) = numbers(
            "p / (rho * g) + z",
            "ft",
            &with(&[("p", "40.0 psi"), ("z", "3.00 ft")]),
        );
        assert_eq!(
            text,
            "(40.0 psi) (144 in²/ft²)/(62.35 lbf/ft³) + 3.00 ft = 95.38 ft"
        );
        let (text, _) = numbers(
            "sqrt(2 * p / rho)",
            "ft/s",
            &[("p", "0.0400 psi"), ("rho", "62.30 lbm/ft^3")],
        );
        assert_eq!(
            text,
            "√(2 (0.0400 psi) (32.174 lbm·ft/(lbf·s²)) (144 in²/ft²)/(62.30 lbm/ft³)) = 2.439 ft/s"
        );
        let (text, brought) = numbers("P * t", "kWh", &[("P", "34.68 hp"), ("t", "3500 h")]);
        assert_eq!(text, "(25.86 kW) (3500 h) = 90510 kWh");
        assert_eq!(brought, ["P = 34.68 hp = 25.86 kW"]);
        let (text, brought) = numbers("P * t", "MWh", &[("P", "26.91 kW"), ("t", "5750 h")]);
        assert_eq!(text, "(26.91 kW) (5750 h) = 1.547×10⁵ kWh = 154.7 MWh");
        assert!(brought.is_empty());
        let (text, brought) = numbers("price * E", "", &[("price", "0.15/kWh"), ("E", "154.8 MWh")]);
        assert_eq!(text, "(0.15/kWh) (1.548×10⁵ kWh) = 2.322×10⁴");
        assert_eq!(brought, ["E = 154.8 MWh = 1.548×10⁵ kWh"]);
        let (text, _) = numbers(
            "rho * g * (h - V^2 / (2 * g))",
            "psi",
            &with(&[("h", "60.00 ft"), ("V", "8.000 ft/s")]),
        );
        assert_eq!(
            text,
            "((62.35 lbf/ft³)/(144 in²/ft²)) (60.00 ft − (8.000 ft/s)²/(2 (32.20 ft/s²))) = 25.549 psi"
        );
        // Where no force is named, none is brought in.
        let (text, _) = numbers(
            "rho * g * D^2 / (32 * mu)",
            "ft/s",
            &with(&[("D", "0.0100 ft"), ("mu", "0.0100 lbm/(ft.s)")]),
        );
        assert_eq!(
            text,
            "(62.30 lbm/ft³) (32.20 ft/s²) (0.0100 ft)²/(32 (0.0100 lbm/(ft·s))) = 0.6269 ft/s"
        );
    }
}
