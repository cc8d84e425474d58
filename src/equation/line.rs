//! A line of working: the same value said several ways, joined by `=`.

use super::{Bindings, EquationError, Expr, Relation, Style, coherent, math, mathml, render};
use crate::quantity::{Quantity, Unit, Written};

/// `V = Q/A = (2.1 L/s)/(…) = 1.67 m/s`: a first side and what follows each relation.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The left side.
    pub first: Expr,
    /// Each further side with the relation before it.
    pub rest: Vec<(Relation, Expr)>,
    /// How values that stand in other units before came to the units in which the line is worked, each as a line of
    /// its own: `Q = 200 gpm = 0.4456 ft³/s`. For whoever writes the lines one below the other; not printed here.
    pub brought: Vec<Line>,
}

impl Line {
    /// A single expression.
    pub fn single(expr: Expr) -> Self {
        Self {
            first: expr,
            rest: Vec::new(),
            brought: Vec::new(),
        }
    }

    /// `left = right`, symbols only.
    pub fn equal(left: Expr, right: Expr) -> Self {
        Self::single(left).then(Relation::Equal, right)
    }

    /// The same line with one more side.
    #[must_use]
    pub fn then(mut self, relation: Relation, expr: Expr) -> Self {
        self.rest.push((relation, expr));
        self
    }

    /// `name = formula = formula with its numbers = value in unit`: evaluated and printed from one tree.
    /// The value is what the formula gives with the full-precision bindings.
    ///
    /// # Errors
    /// As for [`Expr::evaluate`]; also where `unit` has another dimension.
    pub fn worked(
        name: Expr,
        formula: &Expr,
        of: &Bindings,
        unit: &Unit,
        figures: u32,
    ) -> Result<(Self, Quantity), EquationError> {
        let quantity = formula.evaluate(of)?;
        if quantity.dimension != unit.dimension {
            let unit = if unit.symbol.is_empty() {
                "as a pure number".to_owned()
            } else {
                format!("in `{}`", unit.symbol)
            };
            return Err(EquationError::new(format!(
                "`{}` is {}, which can't be printed {unit}",
                formula.plain(Style::default()),
                quantity.dimension.name(),
            ))
            .mend("ask for a unit of that dimension"));
        }
        let value = Expr::Number(Written::to_be_rounded(quantity.value, unit, figures));
        let line = Self::single(name)
            .then_new(formula.clone())
            .then_numbers(formula, of, unit, figures)
            .then_new(value);
        Ok((line, quantity))
    }

    /// The same line with the numbers of a formula whose value is wanted in `unit`, so that they multiply out as they
    /// stand: values are brought to the base units of their system where they don't fit together, and what lies between
    /// those and `unit` is a factor, or one more side: `(0.0200 m²) (1.50 m/s) = 0.0300 m³/s`, to `figures`.
    #[must_use]
    pub fn then_numbers(self, formula: &Expr, of: &Bindings, unit: &Unit, figures: u32) -> Self {
        let numbers = coherent::substituted(formula, of, unit, figures);
        let alone = matches!(numbers.side, Expr::Number(_));
        let mut line = self.then_new(numbers.side);
        line.brought.extend(numbers.brought);
        if let (Some(gives), Ok(quantity), false) = (numbers.gives, formula.evaluate(of), alone) {
            let written = Written::to_be_rounded(quantity.value, &gives, figures);
            line = line.then_new(Expr::Number(written));
        }
        line
    }

    /// One more side, unless it would print what stands before it.
    fn then_new(self, side: Expr) -> Self {
        let before = self.rest.last().map_or(&self.first, |(_, expr)| expr);
        if before.latex(Style::default()) == side.latex(Style::default()) {
            self
        } else {
            self.then(Relation::Equal, side)
        }
    }

    /// Every side with the relation before it.
    fn sides(&self) -> impl Iterator<Item = (Option<Relation>, &Expr)> {
        std::iter::once((None, &self.first)).chain(self.rest.iter().map(|(r, e)| (Some(*r), e)))
    }

    /// The same line with every placeholder of an author's notation replaced, as [`Expr::filled`] does.
    ///
    /// # Errors
    /// A placeholder that `of` does not bind.
    pub fn filled(&self, of: &Bindings) -> Result<Self, EquationError> {
        let mut line = Self::single(self.first.filled(of)?);
        for (relation, expr) in &self.rest {
            line.rest.push((*relation, expr.filled(of)?));
        }
        Ok(line)
    }

    /// LaTeX, without dollar signs.
    pub fn latex(&self, style: Style) -> String {
        self.latex_sides(style).join(" ")
    }

    /// LaTeX in pieces, one a side, each further one beginning with its relation, for breaking over lines.
    pub fn latex_sides(&self, style: Style) -> Vec<String> {
        self.sides()
            .map(|(relation, expr)| match relation {
                Some(relation) => format!("{} {}", relation.latex(), expr.latex(style)),
                None => expr.latex(style),
            })
            .collect()
    }

    /// A large `<math>` element for each side, further ones beginning with their relation, so that a line may break
    /// between them.
    pub fn mathml_sides(&self, style: Style) -> Vec<String> {
        self.sides()
            .map(|(relation, expr)| {
                let notation = render::notation(expr, style);
                let reading = expr.plain(style);
                match relation {
                    Some(relation) => mathml::element(
                        &[&math::known(relation.latex()), &notation],
                        style,
                        true,
                        &format!("{} {reading}", relation.plain()),
                    ),
                    None => mathml::element(&[&notation], style, true, &reading),
                }
            })
            .collect()
    }

    /// Plain text.
    pub fn plain(&self, style: Style) -> String {
        let sides: Vec<String> = self
            .sides()
            .map(|(relation, expr)| match relation {
                Some(relation) => format!("{} {}", relation.plain(), expr.plain(style)),
                None => expr.plain(style),
            })
            .collect();
        sides.join(" ")
    }
}
