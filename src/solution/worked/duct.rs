//! Ducts that are not round: their measures, and the hydraulic diameter that they are reckoned with.

use super::working::{Working, capital, m, num, say, short, sym, t};
use super::{Writer, step};
use crate::bank::course::Conventions;
use crate::bank::prose::Block;
use crate::bank::system::{Duct, DuctShape, Element, Value};
use crate::equation::{Bindings, Bound, EquationError, Expr, Line};
use crate::hydraulics::regime::Regime;
use crate::hydraulics::solve::Solved;
use crate::quantity::{Quantity, Unit};
use crate::solution::Step;
use crate::solution::results::known;
use crate::solution::units::{Kind, given};

/// The symbols of a duct's measures, what each is, and its value.
pub(super) fn measures(duct: &Duct) -> Vec<(&'static str, &'static str, Kind, &Value)> {
    let named: &[(&str, &str, Kind)] = match &duct.shape {
        DuctShape::Rectangle(_) => &[("W", "width", Kind::Bore), ("H", "height", Kind::Bore)],
        DuctShape::Annulus(_) => &[
            ("D_o", "inner diameter of the outer tube", Kind::Bore),
            ("D_i", "outer diameter of the inner tube", Kind::Bore),
        ],
        DuctShape::Triangle(_) => &[("s", "side", Kind::Bore)],
        DuctShape::Plates(_) => &[
            ("t", "gap between the plates", Kind::Bore),
            ("W", "width", Kind::Bore),
        ],
        DuctShape::Other(_) => &[
            ("A", "area", Kind::Area),
            ("P_w", "wetted perimeter", Kind::Length),
        ],
    };
    named
        .iter()
        .zip(duct.shape.values())
        .map(|(&(symbol, what, kind), (_, value))| (symbol, what, kind, value))
        .collect()
}

/// Binds the measures of each duct, its laminar constant, and where its turbulent friction is read.
pub(super) fn bind(w: &Working, solved: &Solved, b: &mut Bindings) {
    for pipe in w.pipes() {
        let Some(duct) = w.duct(pipe) else { continue };
        bind_measures(duct, &|base| w.own_name(base, pipe), w.conventions, b);
        let section = duct.section();
        if duct.effective {
            let diameter = section.turbulent_diameter * duct.hydraulic_diameter();
            let unit = w.shown(Kind::Bore, diameter).unit;
            b.set(w.own_name("D_e", pipe), Bound::new(diameter, &unit, w.figures()));
            let at = &solved.state.pipes[pipe];
            b.set(
                w.own_name("Re_e", pipe),
                Bound::new(
                    at.reynolds * section.turbulent_diameter,
                    &Unit::none(),
                    w.figures(),
                ),
            );
        }
    }
}

/// Binds a duct's measures and its laminar constant to its own symbols.
fn bind_measures(
    duct: &Duct,
    own_name: &dyn Fn(&str) -> String,
    conventions: &Conventions,
    b: &mut Bindings,
) {
    for (symbol, _, kind, value) in measures(duct) {
        if let Some(written) = known(value) {
            b.set(
                own_name(symbol),
                Bound {
                    quantity: written.quantity(),
                    written: given(kind, written, conventions),
                },
            );
        }
    }
    let constant = duct.section().laminar_constant;
    let stated = match &duct.shape {
        DuctShape::Other([_, _, constant, _]) => known(constant).cloned(),
        DuctShape::Plates(_) => Some(short(constant)),
        _ => None,
    };
    b.set(
        own_name("C"),
        match stated {
            Some(written) => Bound {
                quantity: Quantity::number(constant),
                written,
            },
            None => Bound::new(constant, &Unit::none(), conventions.figures),
        },
    );
}

/// Lines that measure one duct: area, wetted perimeter, hydraulic diameter.
pub(super) fn measured(
    w: &mut Writer<'_>,
    duct: &Duct,
    own_name: &dyn Fn(&str) -> String,
) -> Result<Vec<Line>, EquationError> {
    bind_measures(duct, own_name, w.conventions, &mut w.of);
    let own = |base: &str| sym(own_name(base));
    let mut lines = Vec::new();
    if let Some((area, perimeter)) = formulas(&own, &duct.shape) {
        lines.push(w.line(&own_name("A"), &area, Kind::Area)?);
        lines.push(w.line(&own_name("P_w"), &perimeter, Kind::Length)?);
    }
    lines.push(w.line(&own_name("D"), &(num(4.0) * own("A") / own("P_w")), Kind::Bore)?);
    Ok(lines)
}

/// Area and perimeter from the measures; none where they are given themselves.
fn formulas(own: &dyn Fn(&str) -> Expr, shape: &DuctShape) -> Option<(Expr, Expr)> {
    Some(match shape {
        DuctShape::Rectangle(_) => (own("W") * own("H"), num(2.0) * (own("W") + own("H"))),
        DuctShape::Annulus(_) => (
            Expr::Pi / num(4.0) * (own("D_o").pow(2) - own("D_i").pow(2)),
            Expr::Pi * (own("D_o") + own("D_i")),
        ),
        DuctShape::Triangle(_) => (num(3.0).sqrt() / num(4.0) * own("s").pow(2), num(3.0) * own("s")),
        DuctShape::Plates(_) => (own("t") * own("W"), num(2.0) * own("W")),
        DuctShape::Other(_) => return None,
    })
}

/// Area, wetted perimeter and hydraulic diameter of each duct; nothing where all pipes are round.
pub(super) fn hydraulic_diameters(w: &Working) -> Result<Option<Step>, EquationError> {
    let mut body = Vec::new();
    let mut of = w.bindings(&w.case.solved);
    let mut first = true;
    for pipe in w.pipes() {
        let Some(duct) = w.duct(pipe) else { continue };
        let the_pipe = capital(&w.the_pipe(pipe));
        let turbulent = w.case.solved.state.pipes[pipe].regime != Regime::Laminar;
        body.push(say(if first {
            format!(
                "{the_pipe} is not round. It is reckoned with as if it were, on the diameter of the round pipe that has as \
                 much area to each length of wetted wall: the hydraulic diameter, four times the area over the wetted \
                 perimeter. Reynolds number, relative roughness and friction take this diameter; the velocity takes the \
                 true area."
            )
        } else {
            format!("{the_pipe} is not round either:")
        }));
        first = false;
        let mut lines = Vec::new();
        if let Some((area, perimeter)) = formulas(&|base| w.own(base, pipe), &duct.shape) {
            lines.push(w.line(&w.own_name("A", pipe), &area, Kind::Area, &mut of)?);
            lines.push(w.line(&w.own_name("P_w", pipe), &perimeter, Kind::Length, &mut of)?);
        }
        let diameter = num(4.0) * w.own("A", pipe) / w.own("P_w", pipe);
        lines.push(w.line(&w.own_name("D", pipe), &diameter, Kind::Bore, &mut of)?);
        body.push(Block::Equation(lines));
        if matches!(duct.shape, DuctShape::Plates(_)) {
            body.push(say(
                "The plates are so wide that their open or closed edges hardly count, so the perimeter leaves them out.",
            ));
        }
        if !turbulent {
            continue;
        }
        if duct.effective {
            body.push(Block::Paragraph(vec![
                t(
                    "In turbulent flow the hydraulic diameter alone may miss friction by some 10 to 15 per cent. It does \
                     better to read the chart at the effective diameter, which is that of the round pipe with the same \
                     laminar friction. With the constant ",
                ),
                m(w.own("C", pipe)),
                t(format!(" of laminar flow in {}, ", words(&duct.shape))),
                t(source(&duct.shape)),
                t(":"),
            ]));
            body.push(Block::Equation(vec![w.line(
                &w.own_name("D_e", pipe),
                &(num(64.0) / w.own("C", pipe) * w.own("D", pipe)),
                Kind::Bore,
                &mut of,
            )?]));
            body.push(Block::Paragraph(vec![
                t("Only the chart is read with it; the head loss still takes "),
                m(w.own("L", pipe) / w.own("D", pipe)),
                t("."),
            ]));
        } else {
            body.push(say(
                "In turbulent flow the chart of round pipes serves on this diameter too, if not as well as for round pipes: \
                 within some 10 to 15 per cent, and better the nearer the duct is to a square.",
            ));
        }
    }
    Ok((!body.is_empty()).then(|| step("Measure the duct", body)))
}

/// The shape within words.
fn words(shape: &DuctShape) -> &'static str {
    match shape {
        DuctShape::Rectangle(_) => "a rectangle of these sides",
        DuctShape::Annulus(_) => "an annulus of these diameters",
        DuctShape::Triangle(_) => "a triangle of equal sides",
        DuctShape::Plates(_) => "the gap between wide plates",
        DuctShape::Other(_) => "this section",
    }
}

/// Where the laminar constant comes from.
fn source(shape: &DuctShape) -> &'static str {
    match shape {
        DuctShape::Rectangle(_) => {
            "from the exact series (Shah and London), which handbooks tabulate against the ratio of the sides"
        }
        DuctShape::Annulus(_) => {
            "from the exact solution, which handbooks tabulate against the ratio of the diameters"
        }
        DuctShape::Triangle(_) => "which is 160/3 exactly",
        DuctShape::Plates(_) => "which is 96 exactly",
        DuctShape::Other(_) => "which is given",
    }
}

/// Where the laminar friction factor of a duct comes from; nothing for a round pipe.
pub(super) fn laminar_words(w: &Working, pipe: usize, of: &Bindings) -> Vec<Block> {
    let Some(duct) = w.duct(pipe) else {
        return Vec::new();
    };
    let value = of
        .get(&w.own_name("C", pipe))
        .map(|bound| Expr::Number(bound.written.clone()));
    let Some(value) = value else { return Vec::new() };
    let mut body = vec![Block::Paragraph(vec![
        t("The 64 of a round pipe does not hold here. In "),
        t(words(&duct.shape)),
        t(
            " the product of friction factor and Reynolds number, both on the hydraulic diameter, is another constant, ",
        ),
        t(source(&duct.shape)),
        t(":"),
    ])];
    if let DuctShape::Rectangle([width, height]) = &duct.shape
        && let (Some(width), Some(height)) = (known(width), known(height))
    {
        let ratio = if width.quantity().value >= height.quantity().value {
            w.own("H", pipe) / w.own("W", pipe)
        } else {
            w.own("W", pipe) / w.own("H", pipe)
        };
        if let Ok((line, _)) = super::check::evaluated(w, &ratio, Kind::Number, of) {
            body.push(Block::Equation(vec![line]));
        }
    }
    if let DuctShape::Annulus(_) = &duct.shape
        && let Ok((line, _)) =
            super::check::evaluated(w, &(w.own("D_i", pipe) / w.own("D_o", pipe)), Kind::Number, of)
    {
        body.push(Block::Equation(vec![line]));
    }
    body.push(Block::Equation(vec![Line::equal(w.own("C", pipe), value)]));
    body
}

/// What laminar flow in a pipe's section is called where its kinetic-energy factor is told.
pub(super) fn profile_words(w: &Working, pipe: usize) -> String {
    match w.duct(pipe).map(|duct| &duct.shape) {
        None => "kinetic-energy factor of laminar flow, whose profile is a parabola".to_owned(),
        Some(DuctShape::Other(_)) => {
            "kinetic-energy factor of laminar flow in this section, given".to_owned()
        }
        Some(shape) => format!(
            "kinetic-energy factor of laminar flow in {}, from its exact profile",
            words(shape)
        ),
    }
}

/// The duct of each pipe, where it is one.
pub(super) fn of_system(path: &[Element]) -> Vec<Option<Duct>> {
    path.iter()
        .filter_map(|element| match element {
            Element::Pipe { bore, .. } => Some(bore.duct().cloned()),
            _ => None,
        })
        .collect()
}

/// `V_1` of a jet of diameter d from a pipe, as a formula on the pipe's velocity: `V (D/d)²`, or `V A/(π d²/4)`.
pub(super) fn over_jet(w: &Working, pipe: usize, jet: Expr) -> Expr {
    if w.duct(pipe).is_some() {
        num(4.0) * w.own("A", pipe) / (Expr::Pi * jet.pow(2))
    } else {
        (w.own("D", pipe) / jet).pow(2)
    }
}

/// A symbol to the numeral 64, or the duct's own constant.
pub(super) fn constant(w: &Working, pipe: usize) -> Expr {
    if w.duct(pipe).is_some() {
        sym(w.own_name("C", pipe))
    } else {
        num(64.0)
    }
}
