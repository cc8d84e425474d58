//! A line of working: the same value said several ways, joined by `=`.

use super::{Bindings, EquationError, Expr, Relation, Style, math, mathml, render};
use crate::quantity::{Quantity, Unit, Written};

/// `V = Q/A = (2.1 L/s)/(…) = 1.67 m/s`: a first side and what follows each relation.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The left side.
    pub first: Expr,
    /// Each further side with the relation before it.
    pub rest: Vec<(Relation, Expr)>,
}

impl Line {
    /// A single expression.
    pub fn single(expr: Expr) -> Self {
        Self {
            first: expr,
            rest: Vec::new(),
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
        let value = Expr::Number(Written::from_si(quantity.value, unit, figures));
        let mut line = Self::single(name);
        for side in [formula.clone(), formula.with_values(of), value] {
            // A side that would print what stands before it says nothing.
            let before = line.rest.last().map_or(&line.first, |(_, expr)| expr);
            if before.latex(Style::default()) != side.latex(Style::default()) {
                line = line.then(Relation::Equal, side);
            }
        }
        Ok((line, quantity))
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
