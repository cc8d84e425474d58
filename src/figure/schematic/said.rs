//! What a drawing shows, in sentences, for those who can't see it.

use super::says::{loss_says, machine_says, pipe_says};
use super::words::{Say, is_nought};
use crate::bank::system::meter::{Instrument, Reading};
use crate::bank::system::network::NodeKind;
use crate::bank::system::profile::{ProfileDrive, ProfileMotion};
use crate::bank::system::tank::{Tank, TankRole, TankShape, TankUntil};
use crate::bank::system::{Element, Point, Station, System, Value, Velocity};
use crate::figure::svg::Words;

/// What a system is, in a few sentences with its numbers.
pub(super) fn described(system: &System, say: Say<'_>) -> String {
    let of = |symbol: &str, value: &Value| format!("{symbol} = {}", say.value(value));
    match system {
        System::Path(path) => format!(
            "Station 1: {}. Then, in the direction of the flow: {}. Station 2: {}. Flow: {}.{}",
            station(path.start.name.as_deref().unwrap_or("start"), &path.start, say),
            elements(&path.path, say),
            station(path.end.name.as_deref().unwrap_or("end"), &path.end, say),
            of("Q", &path.flow),
            points(&path.points, say)
        ),
        System::Network(network) => {
            let nodes = network.nodes.iter().map(|node| match &node.what {
                NodeKind::Reservoir { level, pressure } => {
                    let pressure = pressure
                        .as_ref()
                        .map(|p| format!(", {}", of("p", p)))
                        .unwrap_or_default();
                    format!("reservoir {} ({}{pressure})", node.name, of("z", level))
                }
                NodeKind::Junction {
                    elevation,
                    demand,
                    supply,
                    head,
                } => {
                    let said = [
                        ("z", elevation),
                        ("demand", demand),
                        ("supply", supply),
                        ("H", head),
                    ];
                    let said: Vec<String> = said
                        .iter()
                        .filter_map(|(s, v)| v.as_ref().map(|v| of(s, v)))
                        .collect();
                    if said.is_empty() {
                        format!("junction {}", node.name)
                    } else {
                        format!("junction {} ({})", node.name, said.join(", "))
                    }
                }
            });
            let name = |i: usize| network.nodes.get(i).map_or("", |n| n.name.as_str());
            let links = (network.links.iter()).map(|l| {
                format!(
                    "from {} to {}: {}",
                    name(l.from),
                    name(l.to),
                    elements(&l.path, say)
                )
            });
            format!(
                "A network. Nodes: {}. Links: {}.",
                nodes.collect::<Vec<_>>().join("; "),
                links.collect::<Vec<_>>().join(". ")
            )
        }
        System::Tank(system) => {
            let until = match &system.until {
                TankUntil::Level(value) => of("level at the end h_2", value),
                TankUntil::Difference(value) => of("difference of the levels at the end", value),
            };
            let other = match &system.role {
                TankRole::Drains(to) => {
                    format!(
                        "It drains to: {}",
                        station(to.name.as_deref().unwrap_or("end"), to, say)
                    )
                }
                TankRole::Fills(from) => {
                    format!(
                        "It fills from: {}",
                        station(from.name.as_deref().unwrap_or("start"), from, say)
                    )
                }
                TankRole::Equalises(second) => {
                    format!("It runs into a second one, {}", tank(second, "s", say))
                }
            };
            let way = match &system.orifice {
                Some(orifice) => format!(
                    "{}, {}, {}",
                    orifice.name,
                    of("d", &orifice.diameter),
                    of("C_d", &orifice.coefficient)
                ),
                None => elements(&system.path, say),
            };
            format!(
                "A tank, {}, {until}, {}. {other}. On the way: {way}.{}",
                tank(&system.tank, "", say),
                of("time t", &system.time),
                points(&system.points, say)
            )
        }
        System::Meter(system) => {
            let device = match &system.instrument {
                Instrument::Throttle(throttle) => format!(
                    "{} in a pipe: {}, {}, {}",
                    super::meter::device(throttle.device),
                    of("D", &throttle.pipe_diameter),
                    of("d", &throttle.throat_diameter),
                    of("Q", &throttle.flow)
                ),
                Instrument::Pitot(pitot) => {
                    let pipe = pitot
                        .pipe
                        .as_ref()
                        .map(|(d, _)| format!(" in a pipe of {}", of("D", d)));
                    format!(
                        "Pitot tube{}, {}",
                        pipe.unwrap_or_default(),
                        of("velocity at its tip", &pitot.velocity)
                    )
                }
            };
            let reading = match &system.reading {
                Reading::Differential(value) => of("differential pressure", value),
                Reading::Manometer {
                    liquid,
                    density,
                    deflection,
                } => format!(
                    "a manometer with {}, {}, {}",
                    liquid.as_deref().unwrap_or("a liquid"),
                    of("density", density),
                    of("deflection", deflection)
                ),
            };
            format!("A flow meter: {device}; {reading}.")
        }
        System::Leak(system) => {
            let gauge = |g: &crate::bank::system::leak::GaugeReading, otherwise: &str| {
                format!(
                    "{} ({}, {}, {})",
                    g.name.as_deref().unwrap_or(otherwise),
                    of("p", &g.pressure),
                    of("z", &g.elevation),
                    of("Q", &g.flow)
                )
            };
            format!(
                "A main that leaks, {}, {}, {}, {}: from a gauge at {} to a gauge at {}; {} from the first gauge to the leak.",
                system.pipe,
                of("D", &system.diameter),
                of("L", &system.length),
                of("ε", &system.roughness),
                gauge(&system.start, "the start"),
                gauge(&system.end, "the end"),
                of("distance", &system.distance)
            )
        }
        System::Ageing(system) => format!(
            "A pipe that grows rougher, {}, {}, {}: when new, with {}; at a test, {}, {}, {}; later, {}. {}.",
            system.pipe,
            of("D", &system.diameter),
            of("L", &system.length),
            of("ε", &system.new),
            of("age", &system.age),
            of("Q", &system.flow),
            of("head lost", &system.head_loss),
            of("age", &system.later),
            of("Growth of roughness", &system.growth)
        ),
        System::Profile(system) => {
            let motion = match &system.motion {
                ProfileMotion::Flow(v) => of("Q", v),
                ProfileMotion::Mean(v) => of("mean velocity", v),
                ProfileMotion::Centre(v) => of("velocity on the centre line", v),
                ProfileMotion::Collected { volume, time } => {
                    format!("{} collected in {}", say.value(volume), say.value(time))
                }
            };
            let drive = match &system.drive {
                ProfileDrive::PressureDrop(v) => of("fall of pressure", v),
                ProfileDrive::Head(v) => of("head", v),
                ProfileDrive::WallShear(v) => of("shear stress at the wall", v),
            };
            let length = system
                .length
                .as_ref()
                .map(|v| format!("{}, ", of("L", v)))
                .unwrap_or_default();
            let radius = system
                .radius
                .as_ref()
                .map(|v| format!(" A place at {}.", of("r", v)))
                .unwrap_or_default();
            format!(
                "Flow through {}, {}, {length}{motion}, {drive}.{radius}",
                system.pipe,
                of("D", &system.diameter)
            )
        }
    }
}

fn station(name: &str, station: &Station, say: Say<'_>) -> String {
    let velocity = match &station.velocity {
        Velocity::Pipe => String::new(),
        Velocity::Value(v) => format!(", V = {}", say.value(v)),
        Velocity::Jet(v) => format!(", a jet of {}", say.value(v)),
    };
    format!(
        "{name}, p = {}, z = {}{velocity}",
        say.value(&station.pressure),
        say.value(&station.elevation)
    )
}

fn points(points: &[Point], say: Say<'_>) -> String {
    (points.iter())
        .map(|p| format!(" Point {}: z = {}.", p.name, say.value(&p.elevation)))
        .collect()
}

/// A tank; `sub` stands behind the symbols of a second one's levels.
fn tank(tank: &Tank, sub: &str, say: Say<'_>) -> String {
    let letter = if sub.is_empty() { "t" } else { "s" };
    let of = |what: &str, value: &Value| format!("{what} = {}", say.value(value));
    let mut all = vec![tank.name.clone()];
    match &tank.shape {
        TankShape::Round(diameter) => {
            all.push(format!(
                "upright and round, {}",
                of(&format!("D_{letter}"), diameter)
            ));
        }
        TankShape::Area(area) => {
            all.push(format!("upright, area {}", of(&format!("A_{letter}"), area)));
        }
        TankShape::Cone {
            floor_diameter,
            top_diameter,
            height,
        } => {
            all.push(if is_nought(floor_diameter) {
                "a cone on its apex".to_owned()
            } else {
                format!("a cone, {}", of("diameter of its floor", floor_diameter))
            });
            all.push(of("diameter at its top", top_diameter));
            all.push(of("height of the cone", height));
        }
        TankShape::Sphere(diameter) => all.push(format!("a ball, {}", of("diameter", diameter))),
        TankShape::Bowl(diameter) => {
            all.push(format!(
                "a bowl, the lower half of a ball, {}",
                of("diameter", diameter)
            ));
        }
        TankShape::LyingCylinder { diameter, length } => {
            all.push(format!("a lying cylinder, {}", of("diameter", diameter)));
            all.push(of("length", length));
        }
        TankShape::Table(rows) => {
            let rows = rows
                .iter()
                .map(|(level, area)| format!("{} at a level of {}", say.value(area), say.value(level)));
            all.push(format!(
                "of areas that change with the level: {}",
                rows.collect::<Vec<_>>().join(", ")
            ));
        }
    }
    all.push(of(&format!("elevation of its floor z_{letter}"), &tank.floor));
    all.extend(
        tank.mouth
            .as_ref()
            .map(|v| of("elevation of the pipe's mouth", v)),
    );
    all.extend(tank.height.as_ref().map(|v| of("height of its wall", v)));
    all.push(if is_nought(&tank.pressure) {
        "open to the air".to_owned()
    } else {
        of(
            &format!("gauge pressure above its surface p_{letter}"),
            &tank.pressure,
        )
    });
    all.extend(tank.inflow.as_ref().map(|v| of("inflow from elsewhere Q_in", v)));
    all.push(of(&format!("level at the start h_1{sub}"), &tank.level));
    all.join(", ")
}

fn elements(path: &[Element], say: Say<'_>) -> String {
    path.iter()
        .map(|e| element(e, say))
        .collect::<Vec<_>>()
        .join("; ")
}

fn element(element: &Element, say: Say<'_>) -> String {
    let (kind, own, lines) = match element {
        Element::Pipe { name, .. } => ("pipe", name, pipe_says(element, say)),
        Element::Pump { name, .. } => ("pump", name, machine_says(element, say)),
        Element::Turbine { name, .. } => ("turbine", name, machine_says(element, say)),
        Element::Loss {
            name,
            coefficient,
            by,
            ..
        } => ("", name, loss_says(name, *by, coefficient, say)),
    };
    let mut text = String::new();
    for line in lines.iter().map(Words::bare) {
        // A long name stands on several lines, and so does the formula of a curve.
        let goes_on = own.starts_with(&format!("{text} {line}")) || line.starts_with(['−', '+']);
        if !text.is_empty() {
            text.push_str(if goes_on { " " } else { ", " });
        }
        text.push_str(&line);
    }
    // `pump lift pump` says it twice.
    if kind.is_empty() || own.to_lowercase().contains(kind) {
        text
    } else {
        format!("{kind} {text}")
    }
}
