//! The first steps: stations, the energy equation, what is known.

use super::duct::{measures, over_jet, profile_words};
use super::step;
use super::way::{fitting_name, meaning};
use super::working::{At, Working, listed, m, num, say, short, sum, sym, t, table, velocity_head};
use crate::bank::course::UnitSystem;
use crate::bank::prose::{Block, Inline};
use crate::bank::system::{Bore, Duty, Element, Fluid, LossBy, Value, Velocity};
use crate::equation::{EquationError, Expr, Line};
use crate::fluid::Named;
use crate::hydraulics::regime::Regime;
use crate::hydraulics::solve::Unknown;
use crate::quantity::{PressureReference, Written};
use crate::solution::results::known as stated;
use crate::solution::units::Kind;
use crate::solution::{Step, laws};

/// What is less dense than this \[kg/m³\] is told as a gas: no liquid is so light, and few gases so dense.
const GAS_DENSITY: f64 = 60.0;

/// Which two stations, and why those.
pub(super) fn stations(w: &Working) -> Step {
    let mut items = Vec::new();
    for i in 0..2 {
        let station = w.station(i);
        let name = station
            .name
            .clone()
            .unwrap_or_else(|| (if i == 0 { "start" } else { "end" }).to_owned());
        let mut words = vec![
            Inline::Strong(vec![t(format!("Station {}", i + 1))]),
            t(format!(": the {name}. ")),
        ];
        let pressure = if i == 0 {
            w.case.solved.path.start.pressure
        } else {
            w.case.solved.path.end.pressure
        };
        let asked_p = w.unknown
            == if i == 0 {
                Unknown::StartPressure
            } else {
                Unknown::EndPressure
            };
        match w.at[i] {
            At::Value(v) if v == 0.0 && !asked_p => {
                // A gas has no surface.
                if pressure == 0.0 && w.case.solved.path.density < GAS_DENSITY {
                    words.push(t(
                        "It is open air, or a space joined to it. There the gauge pressure is 0; and the space is so wide \
                         that the gas in it hardly moves, so its velocity is 0.",
                    ));
                } else if pressure == 0.0 {
                    words.push(t(
                        "It is a free surface. The pressure at a free surface is that of the air, so its gauge \
                         pressure is 0; and the surface is so wide that it hardly moves, so its velocity is 0.",
                    ));
                } else {
                    words.push(t(
                        "The pressure there is known, and the fluid hardly moves, so its velocity is 0.",
                    ));
                }
            }
            At::Value(0.0) => words.push(t(
                "The fluid hardly moves there, so its velocity is 0. Its pressure is what we are after.",
            )),
            At::Value(_) => {
                words.push(t("The velocity there is given"));
                words.push(t(if asked_p {
                    "; its pressure is what we are after."
                } else {
                    ", and so is the pressure."
                }));
            }
            At::Pipe(pipe) => {
                let pipe = w.the_pipe(pipe);
                words.push(t(if asked_p {
                    format!("It is a section of {pipe}, and the pressure in it is what we are after.")
                } else if pressure == 0.0 {
                    format!(
                        "It is a section of {pipe} where the pressure is that of the air, so its gauge pressure is 0. \
                         The velocity is that in the pipe."
                    )
                } else {
                    format!("It is a section of {pipe} where the pressure is known. The velocity is that in the pipe.")
                }));
            }
            At::Jet(_) => {
                words.push(t(if asked_p {
                    "It is the jet at the nozzle's mouth, and the pressure there is what we are after."
                } else if pressure == 0.0 {
                    "It is the jet just outside the nozzle. A free jet has the pressure of the air around it, so its \
                     gauge pressure is 0. It still has its velocity head, as it has not been slowed down yet."
                } else {
                    "It is the jet just outside the nozzle, and the pressure around it is known. It still has its \
                     velocity head."
                }));
            }
        }
        items.push(vec![Block::Paragraph(words)]);
    }
    step(
        "Choose two stations",
        vec![
            say(
                "Good stations are places where much is known, and one of them lies where something is asked. The \
                 fluid flows from station 1 to station 2.",
            ),
            Block::List {
                ordered: false,
                items,
            },
        ],
    )
}

/// The energy equation in full, and its losses for this path.
pub(super) fn equation(w: &Working) -> Step {
    let heads = |machines: &[super::working::Machine], all: &str| {
        if machines.is_empty() {
            sym(all)
        } else {
            sum(machines.iter().map(|p| (true, sym(p.head.clone()))).collect())
        }
    };
    let line = laws::energy(heads(&w.pumps, "h_P"), heads(&w.turbines, "h_T"), sym("h_L"));
    let frictions: Vec<_> = w.pipes().map(|i| (true, w.friction(i))).collect();
    let losses = w.losses.iter().map(|l| (true, w.minor(l)));
    let h_l = Line::equal(sym("h_L"), sum(frictions.into_iter().chain(losses).collect()));
    let mut body = vec![
        say(
            "Each term is energy per weight of fluid: a head, in units of length. What the fluid has at station 1, and \
             what pumps give it, must equal what it has left at station 2, what turbines take, and what is lost on the \
             way.",
        ),
        Block::Equation(vec![line]),
    ];
    let losses = match (w.names.len(), w.losses.len()) {
        (1, 0) => "Only friction in the pipe takes head here:",
        (_, 0) => "Only friction in the pipes takes head here:",
        (1, _) => "On the way, friction in the pipe takes head, and so does each fitting:",
        _ => "On the way, friction in each pipe takes head, and so does each fitting:",
    };
    body.push(say(losses));
    body.push(Block::Equation(vec![h_l]));
    if w.losses.len() > 1 {
        let mut words = vec![t("Here ")];
        for (n, l) in w.losses.iter().enumerate() {
            if n > 0 {
                words.push(t(if n + 1 == w.losses.len() { " and " } else { ", " }));
            }
            words.push(m(sym(l.symbol.clone())));
            words.push(t(format!(
                "{} {}{}",
                if n == 0 { " is" } else { "" },
                meaning(l),
                w.in_pipe(l.pipe)
            )));
        }
        words.push(t("."));
        body.push(Block::Paragraph(words));
    }
    step("Write the energy equation", body)
}

struct Rows(Vec<Vec<Vec<Inline>>>);

impl Rows {
    fn add(&mut self, term: Expr, value: Vec<Inline>, comes: impl Into<String>) {
        self.0.push(vec![vec![m(term)], value, vec![t(comes)]]);
    }
}

/// What is known, term by term; what drops out and why.
pub(super) fn known(w: &Working) -> Result<Step, EquationError> {
    let system = w.system();
    let path = &w.case.solved.path;
    let mut rows = Rows(Vec::new());
    let asked = || vec![t("?")];
    let unasked = asked;
    let converted = std::cell::Cell::new(false);
    let said = |written: &Written, kind: Kind| {
        let given = w.given(kind, written);
        converted.set(converted.get() || given.unit != written.unit);
        vec![Inline::Value(given)]
    };

    for i in 0..2 {
        let station = w.station(i);
        let (at, is_asked) = if i == 0 {
            (&path.start, [Unknown::StartPressure, Unknown::StartElevation])
        } else {
            (&path.end, [Unknown::EndPressure, Unknown::EndElevation])
        };
        let n = i + 1;
        // Pressure, always gauge in the working.
        let absolute =
            stated(&station.pressure).is_some_and(|p| p.unit.reference == Some(PressureReference::Absolute));
        let pressure = match stated(&station.pressure) {
            Some(p) if !absolute => said(p, Kind::Pressure),
            _ => vec![w.value(Kind::Pressure, at.pressure)],
        };
        if w.unknown == is_asked[0] {
            rows.add(sym(format!("p_{n}")), asked(), "asked");
        } else if w.kept.cancel_p {
            rows.add(
                sym(format!("p_{n}")),
                pressure,
                "the same at both stations: drops out",
            );
        } else if w.kept.p[i] {
            let from = if absolute {
                "known: the absolute pressure given, less that of the air"
            } else {
                "known"
            };
            rows.add(sym(format!("p_{n}")), pressure, from);
        } else {
            rows.add(
                sym(format!("p_{n}")),
                pressure,
                "gauge pressure of the air: drops out",
            );
        }
        let elevation = match stated(&station.elevation) {
            Some(z) => said(z, Kind::Length),
            None => vec![w.value(Kind::Length, at.elevation)],
        };
        if w.unknown == is_asked[1] {
            rows.add(sym(format!("z_{n}")), asked(), "asked");
        } else if w.kept.cancel_z {
            rows.add(
                sym(format!("z_{n}")),
                elevation,
                "the same level as at the other station: drops out",
            );
        } else if w.kept.z[i] {
            rows.add(sym(format!("z_{n}")), elevation, "known");
        } else {
            let level = [path.start.elevation, path.end.elevation] == [0.0; 2]
                && ![Unknown::StartElevation, Unknown::EndElevation].contains(&w.unknown);
            rows.add(
                sym(format!("z_{n}")),
                elevation,
                if level {
                    "both stations lie at one height: drops out"
                } else {
                    "heights are counted from here: drops out"
                },
            );
        }
        let velocity = match w.at[i] {
            At::Value(v) => match &station.velocity {
                Velocity::Value(value) => stated(value)
                    .map_or_else(|| vec![w.value(Kind::Velocity, v)], |v| said(v, Kind::Velocity)),
                _ => vec![w.value(Kind::Velocity, v)],
            },
            At::Pipe(pipe) => vec![m(w.own("V", pipe))],
            At::Jet(d) => vec![
                m(jet_velocity(w, i)),
                t(", jet of "),
                match &station.velocity {
                    Velocity::Jet(value) => stated(value).map_or_else(
                        || w.value(Kind::Bore, d),
                        |v| Inline::Value(w.given(Kind::Bore, v)),
                    ),
                    _ => w.value(Kind::Bore, d),
                },
            ],
        };
        let comes = if w.kept.cancel_v {
            "the same velocity head at both stations: drops out"
        } else {
            match w.at[i] {
                At::Value(0.0) => "hardly any motion: drops out",
                At::Value(_) => "known",
                At::Pipe(_) => "the velocity in the pipe: stays",
                At::Jet(_) => "by continuity, from the velocity in the pipe: stays",
            }
        };
        rows.add(sym(format!("V_{n}")), velocity, comes);
        if w.kept.v[i] {
            let alpha = if i == 0 {
                w.case.solved.state.start.alpha
            } else {
                w.case.solved.state.end.alpha
            };
            rows.add(
                sym(format!("alpha_{n}")),
                vec![Inline::Value(short(alpha))],
                alpha_words(w, i),
            );
        }
    }

    machines(w, &mut rows);

    if let Some(q) = stated(&system.flow) {
        rows.add(sym("Q"), said(q, Kind::Flow), "known");
    } else if w.unknown == Unknown::Flow {
        rows.add(sym("Q"), asked(), "asked");
    }
    let mut pipe = 0;
    let mut loss = 0;
    for element in &system.path {
        match element {
            Element::Pipe {
                bore,
                length,
                roughness,
                ..
            } => {
                let mut sizes = match bore {
                    Bore::Round(diameter) => vec![("D", "bore", Kind::Bore, diameter)],
                    Bore::Duct(duct) => measures(duct),
                };
                sizes.push(("L", "length", Kind::Length, length));
                sizes.push(("eps", "roughness", Kind::Bore, roughness));
                for (base, what, kind, value) in sizes {
                    let cell = stated(value).map_or_else(unasked, |v| said(v, kind));
                    let asked = if matches!(value, Value::Unknown) {
                        ": asked"
                    } else {
                        ""
                    };
                    let words = if w.names.len() == 1 {
                        what.to_owned()
                    } else {
                        format!("{what} of {}", w.the_pipe(pipe))
                    };
                    rows.add(w.own(base, pipe), cell, format!("{words}{asked}"));
                }
                pipe += 1;
            }
            Element::Loss {
                coefficient, name, ..
            } => {
                let of = &w.losses[loss];
                let (value, words) = match of.by {
                    LossBy::K => (
                        stated(coefficient).map_or_else(asked, |v| said(v, Kind::Number)),
                        name.clone(),
                    ),
                    LossBy::Fitting(fitting) => (
                        stated(coefficient).map_or_else(asked, |v| said(v, Kind::Number)),
                        fitting_name(name, fitting.name),
                    ),
                    LossBy::EquivalentLength => (
                        stated(coefficient).map_or_else(asked, |v| said(v, Kind::Length)),
                        meaning(of),
                    ),
                    LossBy::EquivalentDiameters => (
                        stated(coefficient).map_or_else(asked, |v| said(v, Kind::Number)),
                        meaning(of),
                    ),
                    LossBy::Rounding => (
                        vec![Inline::Value(short(of.by.number(of.number)))],
                        format!("{name}, with a rounded edge"),
                    ),
                    _ => (vec![t("see below")], format!("{name}: follows from the bores")),
                };
                rows.add(sym(of.symbol.clone()), value, words);
                loss += 1;
            }
            Element::Pump { .. } | Element::Turbine { .. } => {}
        }
    }
    let of = w.bindings(&w.case.solved);
    let printed = |name: &str| {
        of.get(name)
            .map(|b| vec![Inline::Value(b.written.clone())])
            .unwrap_or_default()
    };
    rows.add(sym("rho"), printed("rho"), "density");
    if w.kinematic {
        rows.add(sym("nu"), printed("nu"), "kinematic viscosity");
    } else {
        rows.add(sym("mu"), printed("mu"), "dynamic viscosity");
    }
    if let Some(g) = stated(&system.gravity) {
        rows.add(sym("g"), said(g, Kind::Acceleration), "gravity");
    }

    let mut body = vec![
        say("Go through the equation term by term. All pressures are gauge pressures."),
        table(
            vec![
                vec![t("Term")],
                vec![t("Value")],
                vec![t("What becomes of it, or what it is")],
            ],
            vec![false, false, false],
            rows.0,
        ),
    ];
    let mut words = fluid_words(w);
    if converted.get() {
        words.push(t(match w.conventions.units {
            UnitSystem::Si => " Values given in US customary units are written in SI units here.",
            UnitSystem::UsCustomary => " Values given in SI units are written in US customary units here.",
        }));
    }
    body.push(Block::Paragraph(words));
    body.push(Block::Note(vec![t(format!(
        "Numbers are carried in full and printed to {} figures, so a line worked again from the printed numbers may \
         differ in the last figure. {}",
        figure_word(w.figures()),
        match w.conventions.units {
            UnitSystem::Si => "Numbers stand in m, kg, s, Pa and W wherever other units would not fit together.".to_owned(),
            UnitSystem::UsCustomary => w.marked(
                "Numbers stand in ft, lbm and s wherever other units would not fit together, and forces, pressures and \
                 powers bring their factors: 1 lbf = 32.174 lbm·ft/s², 1 ft² = 144 in², 1 hp = 550 ft·lbf/s."
            ),
        }
    ))]));
    Ok(step("List what is known", body))
}

/// `V (D/d)²`, the velocity of a jet from a round pipe.
pub(super) fn jet_velocity(w: &Working, i: usize) -> Expr {
    let pipe = if i == 0 { 0 } else { w.names.len() - 1 };
    w.own("V", pipe) * over_jet(w, pipe, sym(format!("d_{}", i + 1)))
}

fn alpha_words(w: &Working, i: usize) -> String {
    if w.station(i).alpha.is_some() {
        return "kinetic-energy factor, given".to_owned();
    }
    let pipe = if i == 0 { 0 } else { w.names.len() - 1 };
    if w.case.solved.state.pipes[pipe].regime == Regime::Laminar {
        profile_words(w, pipe)
    } else {
        "kinetic-energy factor of turbulent flow, whose profile is nearly flat".to_owned()
    }
}

fn machines(w: &Working, rows: &mut Rows) {
    if w.pumps.is_empty() {
        rows.add(sym("h_P"), vec![Inline::Value(short(0.0))], "no pump: drops out");
    }
    if w.turbines.is_empty() {
        rows.add(
            sym("h_T"),
            vec![Inline::Value(short(0.0))],
            "no turbine: drops out",
        );
    }
    let mut pump = 0;
    let mut pumps = w.pumps.iter();
    let mut turbines = w.turbines.iter();
    for element in &w.system().path {
        let (machine, duty) = match element {
            Element::Pump { duty, .. } => (pumps.next(), duty),
            Element::Turbine { duty, .. } => (turbines.next(), duty),
            _ => continue,
        };
        let Some(machine) = machine else { continue };
        let said = match duty {
            Duty::Head(value) => Some((&machine.head, Kind::Length, value, "head")),
            Duty::Power(value) => Some((&machine.power, Kind::Power, value, "shaft power")),
            Duty::Curve(_) => None,
        };
        match said {
            Some((symbol, kind, value, what)) => {
                let cell =
                    stated(value).map_or_else(|| vec![t("?")], |v| vec![Inline::Value(w.given(kind, v))]);
                let comes = if stated(value).is_none() { "asked" } else { "known" };
                rows.add(
                    sym(symbol.clone()),
                    cell,
                    format!("{what} of the {}: {comes}", machine.name),
                );
            }
            None => rows.add(
                sym(machine.head.clone()),
                vec![t("curve")],
                format!("head of the {}, which changes with the flow", machine.name),
            ),
        }
        if let Some(eta) = &machine.eta {
            let whose = format!("efficiency of the {}", machine.name);
            rows.add(
                sym(machine.efficiency.clone()),
                if machine.eta_read.is_some() {
                    vec![t("curve")]
                } else {
                    vec![Inline::Value(eta.clone())]
                },
                whose,
            );
        }
        if matches!(element, Element::Pump { .. }) {
            for (symbol, value, kind, words) in super::pump::known_rows(w, pump) {
                let value = if kind == Kind::Number {
                    value
                } else {
                    w.given(kind, &value)
                };
                rows.add(sym(symbol), vec![Inline::Value(value)], words);
            }
            pump += 1;
        }
    }
}

fn fluid_words(w: &Working) -> Vec<Inline> {
    let fluid = &w.case.fluid;
    match &w.system().fluid {
        Fluid::Named { name, .. } => {
            let (call, source) = match name {
                Named::Water => (
                    "water",
                    "from the IAPWS formulations for liquid water (SR6-08 and R12-08)",
                ),
                Named::Air => ("air", "from the ideal gas law and Sutherland's formula"),
            };
            let mut words = vec![t(format!("Density and viscosity are those of {call}"))];
            if let Some(temperature) = &fluid.temperature {
                words.push(t(" at "));
                words.push(Inline::Value(temperature.clone()));
            }
            words.push(t(format!(", {source}.")));
            words
        }
        Fluid::Given { name, .. } => vec![t(match name {
            Some(name) => format!("Density and viscosity of the {name} are given."),
            None => "Density and viscosity are given.".to_owned(),
        })],
    }
}

fn figure_word(figures: u32) -> String {
    match figures {
        2 => "two".to_owned(),
        3 => "three".to_owned(),
        4 => "four".to_owned(),
        5 => "five".to_owned(),
        6 => "six".to_owned(),
        other => other.to_string(),
    }
}

/// What drops out, in one sentence, and the equation that is left.
pub(super) fn reduced(w: &Working) -> Vec<Block> {
    let mut gone = Vec::new();
    if !w.kept.p[0] && !w.kept.p[1] {
        gone.push("pressure".to_owned());
    }
    if !w.kept.z[0] && !w.kept.z[1] {
        gone.push("elevation".to_owned());
    }
    if !w.kept.v[0] && !w.kept.v[1] {
        gone.push("velocity head".to_owned());
    }
    let mut left: Vec<(bool, Expr)> = Vec::new();
    let mut right: Vec<(bool, Expr)> = Vec::new();
    for (i, side) in [(0, &mut left), (1, &mut right)] {
        if w.kept.p[i] {
            side.push((true, w.pressure_head(i)));
        }
        if w.kept.v[i] {
            side.push((
                true,
                sym(format!("alpha_{}", i + 1)) * velocity_head(w.velocity_at(i)),
            ));
        }
        if w.kept.z[i] {
            side.push((true, w.elevation(i)));
        }
    }
    left.extend(w.pumps.iter().map(|p| (true, sym(p.head.clone()))));
    right.extend(w.turbines.iter().map(|p| (true, sym(p.head.clone()))));
    right.push((true, sym("h_L")));
    let left = if left.is_empty() { num(0.0) } else { sum(left) };
    let words = if gone.is_empty() {
        "Without the terms that drop out, the energy equation is".to_owned()
    } else {
        format!(
            "No term of {} is left. Without what drops out, the energy equation is",
            listed(&gone).replace(" and ", " or ")
        )
    };
    vec![say(words), Block::Equation(vec![Line::equal(left, sum(right))])]
}
