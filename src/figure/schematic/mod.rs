//! Schematics: a system drawn from its description, with the numbers that it states.
//!
//! A drawing is made from the description alone, never from its solution, so that it can't give an answer away; what is
//! asked stands as its symbol with a question mark. Only [`grade_lines`], for worked solutions, looks at what was solved.

mod ends;
mod heights;
mod meter;
mod network;
mod route;
mod said;
mod says;
mod section;
mod sheet;
mod single;
mod symbols;
mod words;

use crate::bank::course::{Conventions, UnitSystem};
use crate::bank::names::pipe_suffix;
use crate::bank::system::tank::{TankRole, TankSystem};
use crate::bank::system::{Element, Fluid, PathSystem, System, Value};
use crate::bank::template::Template;
use crate::constants::policy;
use crate::deal::Dealt;
use crate::equation::{Bindings, Style};
use crate::hydraulics::grade::{self, Place};
use crate::quantity::{DecimalMark, Unit, Written};
use crate::solution::network::NetworkCase;
use crate::solution::{Case, PathCase};
use ends::{End, Moving};
use network::Found;
use route::{Along, HeadMark, Heads, Line};
use said::described;
use sheet::{Sheet, WATER, WHITE};
use words::{Say, number};

/// A drawing of a system.
#[derive(Debug, Clone, PartialEq)]
pub struct Schematic {
    /// The file: plain SVG 1.1 without a style sheet or identifiers, so that many may stand in one page.
    pub svg: String,
    /// Title, such as `Schematic of the system`.
    pub title: String,
    /// What the drawing shows, in a few sentences, with its numbers; for those who can't see it.
    pub description: String,
    /// Width as drawn \[mm\], 166 at most.
    pub width_mm: f64,
    /// Height as drawn \[mm\].
    pub height_mm: f64,
}

/// A system, whose formulas are resolved, as a drawing; numbers have `mark` for their decimal mark.
pub fn schematic(system: &System, mark: DecimalMark) -> Schematic {
    shown(system, Say { mark, unworked: &[] })
}

/// A dealt problem's system as its handout shows it: a value that the description works out of givens stands there as that
/// sum or product of givens, so that the drawing says no number that the handout does not.
pub fn handout_schematic(dealt: &Dealt, mark: DecimalMark) -> Schematic {
    of_draw(&dealt.template, &dealt.givens, &dealt.case.system(), mark)
}

fn of_draw(template: &Template, givens: &Bindings, system: &System, mark: DecimalMark) -> Schematic {
    let style = Style { mark };
    let unworked: Vec<(Written, String)> = (template.system.worked_out(givens).into_iter())
        .map(|(value, formula)| (value, formula.with_values(givens).plain(style)))
        .collect();
    shown(
        system,
        Say {
            mark,
            unworked: &unworked,
        },
    )
}

fn shown(system: &System, say: Say<'_>) -> Schematic {
    let (sheet, note) = drawn(system, say);
    finish(sheet, "Schematic of the system", &described(system, say), note)
}

/// The same with energy and hydraulic grade line, for the worked solution of a path or a network; none for other kinds, or
/// where no heads are known.
pub fn grade_lines(case: &Case, conventions: &Conventions) -> Option<Schematic> {
    let (sheet, title, note) = with_heads(case, conventions)?;
    let system = match case {
        Case::Path(path) => System::Path(Box::new(with_elevations(path, conventions))),
        other => other.system(),
    };
    let description = described(&system, plainly(conventions));
    Some(finish(sheet, title, &description, note))
}

/// A solved system's sheet with its heads, a title, and what is to be said of what was drawn.
fn with_heads(case: &Case, conventions: &Conventions) -> Option<(Sheet, &'static str, &'static str)> {
    let say = plainly(conventions);
    match case {
        Case::Path(path) => {
            let marks = head_marks(path, conventions);
            let heads = marks.iter().flat_map(|m| [m.energy, m.hydraulic]);
            let low = heads.clone().fold(f64::INFINITY, f64::min);
            let high = heads.fold(f64::NEG_INFINITY, f64::max);
            if !(low.is_finite() && high.is_finite()) {
                return None;
            }
            let heads = Heads {
                marks: &marks,
                low,
                high,
            };
            let system = with_elevations(path, conventions);
            let line = path_line(&system);
            let (sheet, to_scale) = route::draw(&line, inside(&path.system.fluid), say, Some(&heads));
            let note = if to_scale {
                "Heads and elevations are to one scale, lengths are not to scale."
            } else {
                "Heads and elevations are to one scale but for the rise over the rim, drawn larger; lengths are not to scale."
            };
            Some((sheet, "Grade lines", note))
        }
        Case::Network(network) => {
            let found = found(case, network, conventions);
            let inside = inside(&network.system.surroundings.fluid);
            let (sheet, _) = network::draw(&network.system, inside, say, Some(&found));
            let note = "Arrows show the direction in which the water flows. Not to scale.";
            Some((sheet, "Flows and heads", note))
        }
        _ => None,
    }
}

/// A path whose elevations of the stations are known: one that was sought as it came out, so that the line lies where its heads begin
/// and end.
fn with_elevations(case: &PathCase, conventions: &Conventions) -> PathSystem {
    let mut system = case.system.clone();
    let unit = length_unit(case, conventions);
    let line = grade::grade_line(&case.solved.path, &case.solved.state);
    for (station, point) in [(&mut system.start, line.first()), (&mut system.end, line.last())] {
        if let (Value::Unknown, Some(point)) = (&station.elevation, point) {
            station.elevation = Value::Known(Written::from_si(point.elevation, &unit, 3));
        }
    }
    system
}

/// Every number as it is.
fn plainly(conventions: &Conventions) -> Say<'static> {
    Say {
        mark: conventions.decimal_mark,
        unworked: &[],
    }
}

/// What stands beside links and nodes of a solved network.
fn found(case: &Case, network: &NetworkCase, conventions: &Conventions) -> Found {
    let say = plainly(conventions);
    let results = case.results(conventions);
    let printed = |symbol: &str, name: &str| {
        let bound = results.get(&format!("{symbol}_{}", pipe_suffix(name)))?;
        let text = say.written(&bound.written);
        // Arrows tell directions.
        let size = text.strip_prefix('−').filter(|_| symbol == "Q").unwrap_or(&text);
        Some(words::symbol_of(symbol, "").upright(&format!(" = {size}")))
    };
    let links = network.system.links.iter().zip(&network.solved.flows);
    let nodes = network.system.nodes.iter();
    Found {
        links: links
            .map(|(link, flow)| (*flow < 0.0, printed("Q", &link.name)))
            .collect(),
        nodes: nodes.map(|node| printed("H", &node.name)).collect(),
    }
}

fn finish(sheet: Sheet, title: &str, description: &str, note: &str) -> Schematic {
    let description = format!("{description} {note}");
    let (svg, width_mm, height_mm) = sheet.finish(title, &description, note);
    Schematic {
        svg,
        title: title.to_owned(),
        description,
        width_mm,
        height_mm,
    }
}

/// A system's sheet, its labels not yet in place, and what is to be said of its scale.
fn drawn(system: &System, say: Say<'_>) -> (Sheet, &'static str) {
    let inside = inside(system.fluid());
    let scale = |to_scale| {
        if to_scale {
            "Elevations are to scale, lengths are not."
        } else {
            "Not to scale."
        }
    };
    match system {
        System::Path(path) => {
            let (sheet, to_scale) = route::draw(&path_line(path), inside, say, None);
            (sheet, scale(to_scale))
        }
        System::Tank(tank) => {
            let (sheet, to_scale) = tank_line(tank, |line| route::draw(line, inside, say, None));
            (sheet, scale(to_scale))
        }
        System::Network(system) => {
            let (sheet, to_scale) = network::draw(system, inside, say, None);
            let arrows = if to_scale {
                "Levels are to scale, lengths are not. Arrows show the direction in which a flow counts."
            } else {
                "Not to scale. Arrows show the direction in which a flow counts."
            };
            (sheet, arrows)
        }
        System::Meter(system) => (meter::draw(system, inside, say), scale(false)),
        System::Leak(system) => (single::leak(system, inside, say), scale(false)),
        System::Ageing(system) => (single::ageing(system, inside, say), scale(false)),
        System::Profile(system) => (single::profile(system, inside, say), scale(false)),
    }
}

fn path_line(path: &PathSystem) -> Line<'_> {
    Line {
        start: End::Station(&path.start),
        end: End::Station(&path.end),
        path: &path.path,
        points: &path.points,
        flow: Some(&path.flow),
        atmosphere: &path.atmosphere,
        is_gas: is_gas(&path.fluid),
        orifice: None,
    }
}

/// Calls `f` with the line of a tank.
fn tank_line<T>(system: &TankSystem, f: impl FnOnce(&Line<'_>) -> T) -> T {
    let fills = matches!(system.role, TankRole::Fills(_));
    let first = Moving {
        tank: &system.tank,
        until: Some((&system.until, &system.time)),
        fills,
        sub: "",
    };
    let second = match &system.role {
        TankRole::Equalises(tank) => Some(Moving {
            tank,
            until: None,
            fills: true,
            sub: "s",
        }),
        _ => None,
    };
    let (start, end) = match (&system.role, &second) {
        (TankRole::Fills(station), _) => (End::Station(station), End::Tank(&first)),
        (TankRole::Drains(station), _) => (End::Tank(&first), End::Station(station)),
        (TankRole::Equalises(_), Some(second)) => (End::Tank(&first), End::Tank(second)),
        (TankRole::Equalises(_), None) => (End::Tank(&first), End::Tank(&first)),
    };
    f(&Line {
        start,
        end,
        path: &system.path,
        points: &system.points,
        flow: None,
        atmosphere: &system.surroundings.atmosphere,
        is_gas: is_gas(&system.surroundings.fluid),
        orifice: system.orifice.as_ref(),
    })
}

/// Whether a fluid is a gas, which has no surface.
fn is_gas(fluid: &Fluid) -> bool {
    match fluid {
        Fluid::Named { name, .. } => !name.is_liquid(),
        Fluid::Given { density, .. } => number(density).is_some_and(|d| d < policy::GAS_DENSITY),
    }
}

fn inside(fluid: &Fluid) -> &'static str {
    if is_gas(fluid) { WHITE } else { WATER }
}

/// The points of a path's grade lines, with the labels of some.
fn head_marks(case: &PathCase, conventions: &Conventions) -> Vec<HeadMark> {
    let line = grade::grade_line(&case.solved.path, &case.solved.state);
    let machine = |i: usize| {
        matches!(
            case.system.path.get(i),
            Some(Element::Pump { .. } | Element::Turbine { .. })
        )
    };
    let unit = length_unit(case, conventions);
    let say = plainly(conventions);
    // What is nought but for rounding is printed as nought.
    let greatest = line
        .iter()
        .map(|p| p.energy_head.abs().max(p.elevation.abs()))
        .fold(0.0, f64::max);
    let clean = |si: f64| if si.abs() < 1e-9 * greatest { 0.0 } else { si };
    let head = |symbol: &str, sub: &str, si: f64| {
        let si = clean(si);
        let written = Written::from_si(si, &unit, 3);
        words::symbol_of(symbol, sub).upright(&format!(" = {}", say.written(&written)))
    };
    line.iter()
        .map(|point| {
            let (at, sub) = match point.place {
                Place::Start => (Along::Start, Some("1")),
                Place::End => (Along::End, Some("2")),
                Place::Before(i) => (Along::Before(i), machine(i).then_some("")),
                Place::Behind(i) => (Along::Behind(i), machine(i).then_some("")),
                Place::Point(n) => (Along::Point(n), Some("")),
            };
            let height = |sub: &str| {
                (
                    head("H", sub, point.energy_head),
                    words::symbol_of("p", "")
                        .upright("/")
                        .italic("ρg")
                        .upright(" + ")
                        .italic("z")
                        .joined(&crate::figure::svg::Words::plain(format!(
                            " = {}",
                            say.written(&Written::from_si(clean(point.hydraulic_head), &unit, 3))
                        ))),
                )
            };
            HeadMark {
                at,
                energy: point.energy_head,
                hydraulic: point.hydraulic_head,
                label: sub.map(height),
            }
        })
        .collect()
}

/// Metres or feet: as elevations are stated, so that the drawing has one of them throughout; else as the course has it.
fn length_unit(case: &PathCase, conventions: &Conventions) -> Unit {
    let ends = [&case.system.start.elevation, &case.system.end.elevation];
    let stated = ends.into_iter().find_map(|z| match z {
        Value::Known(z) => ["m", "ft"].into_iter().find(|symbol| z.unit.symbol == *symbol),
        _ => None,
    });
    let symbol = stated.unwrap_or(match conventions.units {
        UnitSystem::Si => "m",
        UnitSystem::UsCustomary => "ft",
    });
    Unit::parse(symbol).unwrap_or_else(|_| Unit::none())
}

#[cfg(test)]
mod tests;
