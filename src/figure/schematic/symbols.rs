//! Symbols for what stands in a line, drawn after ISO 14617 and ISO 10628: valves are two triangles tip to tip, a pump is
//! a circle with a triangle in the direction of the flow, a turbine widens with the flow.

use super::sheet::{At, BLACK, Layer, Pen, Sheet, THICK, WHITE};
use crate::bank::system::LossBy;

/// What a loss is drawn as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Symbol {
    /// An edge where the line leaves a tank.
    Entrance,
    RoundedEntrance,
    ReentrantEntrance,
    Exit,
    Valve,
    GlobeValve,
    BallValve,
    AngleValve,
    ButterflyValve,
    CheckValve,
    FootValve,
    Strainer,
    Elbow,
    HalfElbow,
    MitredBend,
    MitredBendWithVanes,
    ReturnBend,
    Tee,
    Union,
    Exchanger,
    Plate,
    Widening,
    Narrowing,
    /// Any other resistance.
    Restriction,
}

/// Half the width of a symbol \[mm\].
pub(super) const HALF: f64 = 3.6;

/// The symbols of words in a loss's name; those that stand for one thing only, first.
const WORDS: &[(&str, Symbol)] = &[
    ("foot valve", Symbol::FootValve),
    ("check valve", Symbol::CheckValve),
    ("non-return", Symbol::CheckValve),
    ("globe", Symbol::GlobeValve),
    ("angle valve", Symbol::AngleValve),
    ("ball valve", Symbol::BallValve),
    ("butterfly", Symbol::ButterflyValve),
    ("valve", Symbol::Valve),
    ("stopcock", Symbol::BallValve),
    ("cock", Symbol::BallValve),
    ("tap", Symbol::BallValve),
    ("strainer", Symbol::Strainer),
    ("screen", Symbol::Strainer),
    ("filter", Symbol::Strainer),
    ("return bend", Symbol::ReturnBend),
    ("mitred bend with vanes", Symbol::MitredBendWithVanes),
    ("mitre", Symbol::MitredBend),
    ("45 degree", Symbol::HalfElbow),
    ("elbow", Symbol::Elbow),
    ("bend", Symbol::Elbow),
    ("tee", Symbol::Tee),
    ("union", Symbol::Union),
    ("coupling", Symbol::Union),
    ("heater", Symbol::Exchanger),
    ("cooler", Symbol::Exchanger),
    ("exchanger", Symbol::Exchanger),
    ("condenser", Symbol::Exchanger),
    ("radiator", Symbol::Exchanger),
    ("coil", Symbol::Exchanger),
    ("orifice", Symbol::Plate),
    ("plate", Symbol::Plate),
    ("meter", Symbol::Plate),
    ("venturi", Symbol::Plate),
    ("widening", Symbol::Widening),
    ("expansion", Symbol::Widening),
    ("enlargement", Symbol::Widening),
    ("diffuser", Symbol::Widening),
    ("contraction", Symbol::Narrowing),
    ("narrowing", Symbol::Narrowing),
    ("reducer", Symbol::Narrowing),
    ("re-entrant", Symbol::ReentrantEntrance),
    ("reentrant", Symbol::ReentrantEntrance),
    ("rounded", Symbol::RoundedEntrance),
    ("bell", Symbol::RoundedEntrance),
    ("entrance", Symbol::Entrance),
    ("entry", Symbol::Entrance),
    ("intake", Symbol::Entrance),
    ("inlet", Symbol::Entrance),
    ("exit", Symbol::Exit),
    ("outlet", Symbol::Exit),
];

/// What a loss is drawn as, in the order in which its name says it; three things at most.
pub(super) fn symbols(name: &str, by: LossBy) -> Vec<Symbol> {
    match by {
        LossBy::Rounding => return vec![Symbol::RoundedEntrance],
        LossBy::SuddenExpansion { .. } | LossBy::Cone { .. } => return vec![Symbol::Widening],
        LossBy::SuddenContraction { .. } | LossBy::Taper { .. } => return vec![Symbol::Narrowing],
        LossBy::K | LossBy::EquivalentLength | LossBy::EquivalentDiameters | LossBy::Fitting(_) => {}
    }
    let said = match by {
        LossBy::Fitting(fitting) => fitting.name.to_lowercase(),
        _ => name.to_lowercase(),
    };
    let mut found: Vec<(usize, usize, Symbol)> = Vec::new();
    for (word, symbol) in WORDS {
        for (at, _) in said.match_indices(word) {
            // Within a longer word that has been found, such as the valve of a foot valve, it is no thing of its own.
            let inside = found
                .iter()
                .any(|(from, to, _)| at < *to && *from < at + word.len());
            let begins = !said[..at].ends_with(char::is_alphanumeric);
            if !inside && begins && !found.iter().any(|(.., s)| s == symbol) {
                found.push((at, at + word.len(), *symbol));
            }
        }
    }
    found.sort_by_key(|(at, ..)| *at);
    let mut all: Vec<Symbol> = found.into_iter().map(|(.., s)| s).collect();
    // `45 degree elbow`, `globe valve` and `rounded entrance` are one thing each.
    for (special, plain) in [
        (Symbol::HalfElbow, Symbol::Elbow),
        (Symbol::MitredBend, Symbol::Elbow),
        (Symbol::GlobeValve, Symbol::Valve),
        (Symbol::BallValve, Symbol::Valve),
        (Symbol::ButterflyValve, Symbol::Valve),
        (Symbol::RoundedEntrance, Symbol::Entrance),
        (Symbol::ReentrantEntrance, Symbol::Entrance),
    ] {
        if all.contains(&special) {
            all.retain(|s| *s != plain);
        }
    }
    all.truncate(3);
    if all.is_empty() {
        all.push(Symbol::Restriction);
    }
    all
}

const SYMBOL: Pen = Pen {
    width: 0.35,
    fill: WHITE,
    ..Pen::THICK
};

/// Draws a symbol in the middle of a line that runs to the right and is `width` wide.
pub(super) fn draw(sheet: &mut Sheet, symbol: Symbol, (x, y): At, width: f64) {
    let (s, h) = (HALF - 0.4, (0.5 * width + 0.6).max(2.4));
    let pen = SYMBOL;
    let bow_tie = |sheet: &mut Sheet| {
        sheet.outline(
            Layer::Symbol,
            &[(x - s, y - h), (x - s, y + h), (x, y)],
            pen,
            true,
        );
        sheet.outline(
            Layer::Symbol,
            &[(x + s, y - h), (x + s, y + h), (x, y)],
            pen,
            true,
        );
    };
    let boxed = |sheet: &mut Sheet, inside: &[At]| {
        let (s, h) = (s - 0.2, s - 0.2);
        let corners = [(x - s, y - h), (x + s, y - h), (x + s, y + h), (x - s, y + h)];
        sheet.outline(Layer::Symbol, &corners, pen, true);
        let inside: Vec<At> = inside.iter().map(|p| (x + s * p.0, y + h * p.1)).collect();
        sheet.line_in(
            Layer::Symbol,
            &inside,
            Pen {
                width: 0.6,
                ..Pen::THICK
            },
        );
    };
    match symbol {
        Symbol::Entrance | Symbol::RoundedEntrance | Symbol::ReentrantEntrance | Symbol::Exit => {}
        Symbol::Valve => bow_tie(sheet),
        Symbol::GlobeValve => {
            bow_tie(sheet);
            sheet.circle((x, y), 0.9, Layer::Symbol, pen.filled(BLACK));
        }
        Symbol::BallValve => {
            bow_tie(sheet);
            sheet.circle((x, y), 1.1, Layer::Symbol, pen);
        }
        Symbol::AngleValve => {
            sheet.outline(
                Layer::Symbol,
                &[(x - s, y - h), (x - s, y + h), (x, y)],
                pen,
                true,
            );
            sheet.outline(
                Layer::Symbol,
                &[(x - h, y + s), (x + h, y + s), (x, y)],
                pen,
                true,
            );
        }
        Symbol::ButterflyValve => {
            let corners = [(x - s, y - h), (x + s, y - h), (x + s, y + h), (x - s, y + h)];
            sheet.outline(Layer::Symbol, &corners, Pen { width: 0.0, ..pen }, true);
            for side in [-s, s] {
                sheet.line_in(Layer::Symbol, &[(x + side, y - h), (x + side, y + h)], pen);
            }
            sheet.line_in(
                Layer::Symbol,
                &[(x - s, y + 0.8 * h), (x + s, y - 0.8 * h)],
                Pen { width: THICK, ..pen },
            );
            sheet.circle((x, y), 0.7, Layer::Symbol, pen.filled(BLACK));
        }
        Symbol::CheckValve => check(sheet, (x, y), s, h),
        Symbol::FootValve => {
            check(sheet, (x + 1.2, y), s - 1.2, h);
            sheet.line_in(
                Layer::Symbol,
                &[(x - s, y - h), (x - s, y + h)],
                Pen {
                    dash: "0.8 0.6",
                    ..Pen::THICK
                },
            );
        }
        Symbol::Strainer => {
            boxed(sheet, &[]);
            sheet.line_in(
                Layer::Symbol,
                &[(x, y - s + 0.2), (x, y + s - 0.2)],
                Pen {
                    dash: "1 0.7",
                    ..Pen::THICK
                },
            );
        }
        Symbol::Elbow => boxed(sheet, &arc((-0.75, -0.75), 1.2, -90.0, 0.0)),
        Symbol::HalfElbow => boxed(sheet, &[(-0.75, 0.3), (0.0, 0.3), (0.6, -0.5)]),
        Symbol::MitredBend => boxed(sheet, &[(-0.75, 0.4), (0.35, 0.4), (0.35, -0.75)]),
        Symbol::MitredBendWithVanes => boxed(
            sheet,
            &[
                (-0.75, 0.4),
                (0.35, 0.4),
                (0.35, -0.75),
                (0.35, 0.4),
                (-0.35, -0.3),
            ],
        ),
        Symbol::ReturnBend => {
            let mut points = vec![(-0.7, 0.45)];
            points.extend(arc((0.1, 0.0), 0.45, -90.0, 90.0));
            points.push((-0.7, -0.45));
            boxed(sheet, &points);
        }
        Symbol::Tee => boxed(
            sheet,
            &[(-0.75, 0.35), (0.0, 0.35), (0.0, -0.7), (0.0, 0.35), (0.75, 0.35)],
        ),
        Symbol::Union => {
            for side in [-1.0, 0.0, 1.0] {
                let half = if side == 0.0 { h + 0.6 } else { h };
                sheet.line_in(
                    Layer::Symbol,
                    &[(x + side, y - half), (x + side, y + half)],
                    Pen::THICK,
                );
            }
        }
        Symbol::Exchanger => boxed(
            sheet,
            &[
                (-1.0, 0.0),
                (-0.6, 0.0),
                (-0.3, -0.6),
                (0.3, 0.6),
                (0.6, 0.0),
                (1.0, 0.0),
            ],
        ),
        Symbol::Plate => {
            for side in [-1.0, 1.0] {
                sheet.line_in(
                    Layer::Symbol,
                    &[(x, y + side * (0.5 * width + 1.4)), (x, y + side * 0.2 * width)],
                    Pen { width: 0.9, ..pen },
                );
            }
        }
        Symbol::Widening | Symbol::Narrowing => {}
        Symbol::Restriction => {
            // Two arcs that squeeze the flow.
            for side in [-1.0, 1.0] {
                let arc: Vec<At> = (0..=12)
                    .map(|i| std::f64::consts::PI * f64::from(i) / 12.0)
                    .map(|a| {
                        let reach = 0.5 * width + 0.9;
                        (
                            x - 3.0 * libm::cos(a),
                            y + side * (reach - (reach - 0.22 * width) * libm::sin(a)),
                        )
                    })
                    .collect();
                sheet.outline(Layer::Symbol, &arc, pen, false);
            }
            sheet.block(&[(x - 3.0, y - 0.5 * width - 1.1), (x + 3.0, y + 0.5 * width + 1.1)]);
        }
    }
}

/// A triangle in the direction of the flow against a bar.
fn check(sheet: &mut Sheet, (x, y): At, s: f64, h: f64) {
    sheet.outline(
        Layer::Symbol,
        &[(x - s, y - h), (x - s, y + h), (x + s, y)],
        SYMBOL,
        true,
    );
    sheet.line_in(Layer::Symbol, &[(x + s, y - h), (x + s, y + h)], Pen::THICK);
}

/// Points of an arc about a centre, from an angle to another, in degrees; y down, angles against the clock.
fn arc(centre: At, radius: f64, from: f64, to: f64) -> Vec<At> {
    (0..=10)
        .map(|i| (from + (to - from) * f64::from(i) / 10.0).to_radians())
        .map(|a| (centre.0 + radius * libm::cos(a), centre.1 - radius * libm::sin(a)))
        .collect()
}

/// How a machine is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Machine {
    Pump,
    Fan,
    Turbine,
}

/// Radius of a pump's circle \[mm\].
pub(super) const ROUND: f64 = 4.4;

/// Draws a machine; the flow runs to the right.
pub(super) fn machine(sheet: &mut Sheet, machine: Machine, (x, y): At) {
    let r = ROUND;
    match machine {
        Machine::Pump => {
            sheet.circle((x, y), r, Layer::Symbol, Pen::THICK.filled(WHITE));
            sheet.outline(
                Layer::Symbol,
                &[(x, y - r), (x + r, y), (x, y + r)],
                Pen {
                    width: 0.35,
                    ..Pen::THICK
                },
                true,
            );
        }
        Machine::Fan => {
            sheet.circle((x, y), r, Layer::Symbol, Pen::THICK.filled(WHITE));
            for side in [-1.0, 1.0] {
                let (dx, dy) = (0.87 * r, 0.5 * r);
                sheet.line_in(
                    Layer::Symbol,
                    &[(x - 0.5 * r, y + side * dx), (x + dx, y + side * dy)],
                    Pen {
                        width: 0.35,
                        ..Pen::THICK
                    },
                );
            }
        }
        Machine::Turbine => sheet.outline(
            Layer::Symbol,
            &[
                (x - 3.8, y - 2.4),
                (x + 3.8, y - 5.0),
                (x + 3.8, y + 5.0),
                (x - 3.8, y + 2.4),
            ],
            Pen::THICK.filled(WHITE),
            true,
        ),
    }
}

/// Draws a pressure gauge on a stem that rises from a place.
pub(super) fn gauge(sheet: &mut Sheet, (x, y): At) {
    let (r, stem) = (2.7, 3.4);
    let centre = (x, y - stem - r);
    sheet.line(&[(x, y), (x, y - stem)], Pen::THIN);
    sheet.circle(
        centre,
        r,
        Layer::Symbol,
        Pen {
            width: 0.35,
            ..Pen::THICK
        }
        .filled(WHITE),
    );
    let tip = (centre.0 + 1.3, centre.1 - 1.5);
    sheet.line_in(Layer::Symbol, &[(centre.0 - 0.5, centre.1 + 0.6), tip], Pen::THIN);
    sheet.head(Layer::Symbol, tip, (1.3, -1.5), 1.4, BLACK);
}

/// The mark of a free surface: a triangle on its tip over short lines.
pub(super) fn surface(sheet: &mut Sheet, (x, y): At) {
    let pen = Pen::THIN;
    sheet.outline(
        Layer::Symbol,
        &[(x - 1.5, y - 2.4), (x + 1.5, y - 2.4), (x, y)],
        pen.filled(WHITE),
        true,
    );
    for (n, half) in [(1.0, 1.7), (2.0, 1.0)] {
        sheet.line_in(
            Layer::Symbol,
            &[(x - half, y + 0.75 * n), (x + half, y + 0.75 * n)],
            pen,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hydraulics::fittings::FITTINGS;

    #[test]
    fn every_fitting_of_the_table_has_a_symbol_of_its_own() {
        for fitting in FITTINGS {
            let found = symbols("whatever", LossBy::Fitting(fitting));
            assert_eq!(found.len(), 1, "{}: {found:?}", fitting.name);
            assert_ne!(found, [Symbol::Restriction], "{}", fitting.name);
        }
        let of = |name: &str| symbols(name, LossBy::K);
        assert_eq!(of("valve and bends"), [Symbol::Valve, Symbol::Elbow]);
        assert_eq!(
            of("screen, bends and valve"),
            [Symbol::Strainer, Symbol::Elbow, Symbol::Valve]
        );
        assert_eq!(
            of("foot valve and strainer"),
            [Symbol::FootValve, Symbol::Strainer]
        );
        assert_eq!(of("rounded entrance"), [Symbol::RoundedEntrance]);
        assert_eq!(of("swing check valve"), [Symbol::CheckValve]);
        assert_eq!(of("settlement"), [Symbol::Restriction]);
        assert_eq!(of("fittings"), [Symbol::Restriction]);
    }
}
