//! A solved system as JSON: SI numbers, for other programs.

use super::PathCase;
use super::case::{element_name, place_name, warning_text};
use super::machine::of_machine;
use super::results::{nominal_of, total};
use crate::bank::system::{Element, PathSystem, si_symbol};
use crate::hydraulics::grade::{GradePoint, grade_line, lowest};
use crate::hydraulics::path;
use crate::hydraulics::sizes::Size;
use crate::hydraulics::solve::Warning;
use serde::Serialize;

#[derive(Serialize)]
struct Out<'a> {
    unknown: UnknownOut,
    flow: f64,
    pipes: Vec<PipeOut<'a>>,
    losses: Vec<LossOut<'a>>,
    stations: Stations,
    grade_line: Vec<GradeOut>,
    lowest_pressure: Option<GradeOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    nominal_size: Option<SizeOut>,
    head_loss: f64,
    pump_head: f64,
    pump_power: f64,
    turbine_head: f64,
    turbine_power: f64,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pumps: Vec<MachineOut<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    turbines: Vec<MachineOut<'a>>,
    fluid: FluidOut,
    solutions: Vec<f64>,
    warnings: Vec<String>,
}

/// What was sought, and what was found.
#[derive(Serialize)]
pub(super) struct UnknownOut {
    pub(super) name: String,
    pub(super) value: f64,
    pub(super) unit: &'static str,
}

/// JSON with a field a line, ending with a line feed. What is not finite is `null`.
pub(super) fn pretty(out: &impl Serialize) -> String {
    let mut text = serde_json::to_string_pretty(out).expect("names and numbers always serialise");
    text.push('\n');
    text
}

#[derive(Serialize)]
struct PipeOut<'a> {
    name: &'a str,
    diameter: f64,
    length: f64,
    roughness: f64,
    velocity: f64,
    reynolds: f64,
    relative_roughness: f64,
    friction_factor: f64,
    regime: &'static str,
    major_head_loss: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    duct: Option<DuctOut>,
}

#[derive(Serialize)]
struct DuctOut {
    shape: &'static str,
    area: f64,
    wetted_perimeter: f64,
    laminar_constant: f64,
    laminar_alpha: f64,
    effective_diameter: Option<f64>,
}

#[derive(Serialize)]
#[allow(
    non_snake_case,
    reason = "K is the loss coefficient's name in the trade, and in this output"
)]
struct LossOut<'a> {
    name: &'a str,
    K: f64,
    head_loss: f64,
    /// The pipe on whose velocity head K counts.
    pipe: &'a str,
    /// The handbook that K is from, where the program knows it.
    source: Option<&'static str>,
}

#[derive(Serialize)]
struct GradeOut {
    at: String,
    distance: f64,
    elevation: f64,
    elevation_stated: bool,
    energy_head: f64,
    hydraulic_head: f64,
    pressure: f64,
}

/// The next nominal size up, and what happens in it.
#[derive(Serialize)]
struct SizeOut {
    series: &'static str,
    name: String,
    nps: &'static str,
    dn: u32,
    bore: f64,
    bore_below: Option<f64>,
    velocity: f64,
    head_left: f64,
    flow_at_same_heads: f64,
}

#[derive(Serialize)]
struct Stations {
    start: StationOut,
    end: StationOut,
}

#[derive(Serialize)]
struct StationOut {
    pressure: f64,
    elevation: f64,
    velocity: f64,
    alpha: f64,
}

/// A pump or a turbine; what is not known of it is left out.
#[derive(Serialize)]
struct MachineOut<'a> {
    name: &'a str,
    head: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    flow_each: Option<f64>,
    efficiency: f64,
    fluid_power: f64,
    shaft_power: f64,
    electric_power: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    yearly_energy: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    yearly_cost: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    npsh_available: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    npsh_required: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    speed: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    impeller: Option<f64>,
}

/// Every pump, or every turbine, of a case.
fn machines(case: &PathCase, pumps: bool) -> Vec<MachineOut<'_>> {
    let state = &case.solved.state;
    let stated = case.system.machine_results();
    let kinds = case.system.path.iter().filter_map(|e| match e {
        Element::Pump { name, .. } => Some((name.as_str(), true)),
        Element::Turbine { name, .. } => Some((name.as_str(), false)),
        _ => None,
    });
    let mut count = 0;
    { kinds }
        .enumerate()
        .filter(|(_, (_, pump))| *pump == pumps)
        .map(|(index, (name, _))| {
            let i = count;
            count += 1;
            let of = |base: &str| of_machine(&case.solved.path, state, base, index);
            // Without a unit, a speed or an impeller is a bare share that nobody stated.
            let said = |base: &str| {
                let known = stated.iter().any(|(_, b, at)| *b == base && *at == index);
                if known { of(base) } else { None }
            };
            MachineOut {
                name,
                head: if pumps {
                    state.pump_heads[i]
                } else {
                    state.turbine_heads[i]
                },
                flow_each: said("Q_P"),
                efficiency: of("eta").unwrap_or(1.0),
                fluid_power: of("P_f").unwrap_or_default(),
                shaft_power: if pumps {
                    state.pump_powers[i]
                } else {
                    state.turbine_powers[i]
                },
                electric_power: of("P_el").unwrap_or_default(),
                yearly_energy: of("E_year"),
                yearly_cost: of("cost"),
                npsh_available: of("NPSH_a"),
                npsh_required: of("NPSH_r"),
                speed: said("n"),
                impeller: said("D_P"),
            }
        })
        .collect()
}

#[derive(Serialize)]
struct FluidOut {
    density: f64,
    dynamic_viscosity: f64,
    vapour_pressure: Option<f64>,
}

/// A pipe's cross-section where it is not round.
fn duct(system: &PathSystem, pipe: &str, size: &path::Pipe) -> Option<DuctOut> {
    let duct = system.path.iter().find_map(|e| match e {
        Element::Pipe { name, bore, .. } if name == pipe => bore.duct(),
        _ => None,
    })?;
    let section = size.section;
    Some(DuctOut {
        shape: duct.shape.name(),
        area: size.area(),
        wetted_perimeter: section.wetted_perimeter(size.diameter),
        laminar_constant: section.laminar_constant,
        laminar_alpha: section.laminar_alpha,
        effective_diameter: duct
            .effective
            .then_some(section.turbulent_diameter * size.diameter),
    })
}

/// A solved system as JSON with SI numbers, ending with a line feed. Pressures of stations are gauge.
pub fn json(case: &PathCase) -> String {
    let (system, solved) = (&case.system, &case.solved);
    let state = &solved.state;
    let named = |want: fn(&Element) -> bool| system.path.iter().filter(move |e| want(e)).map(element_name);
    let sizes = solved.path.elements.iter().filter_map(|e| match e {
        path::Element::Pipe(pipe) => Some(pipe),
        _ => None,
    });
    let pipes = system.pipe_names();
    let told = system.path.iter().filter_map(|e| match e {
        Element::Loss { by, pipe, .. } => Some((by.source(), pipes.get(*pipe).copied().unwrap_or_default())),
        _ => None,
    });
    let line = grade_line(&solved.path, state);
    let grade = |point: &GradePoint| GradeOut {
        at: place_name(point.place, system),
        distance: point.distance,
        elevation: point.elevation,
        elevation_stated: point.stated,
        energy_head: point.energy_head,
        hydraulic_head: point.hydraulic_head,
        pressure: point.pressure,
    };
    let station = |s: &path::StationState| StationOut {
        pressure: s.pressure,
        elevation: s.elevation,
        velocity: s.velocity,
        alpha: s.alpha,
    };
    let mut solutions = vec![solved.value];
    solutions.extend(solved.warnings.iter().filter_map(|w| match w {
        Warning::SecondSolution { value } => Some(*value),
        _ => None,
    }));
    let out = Out {
        unknown: UnknownOut {
            name: system.unknown_name(),
            value: solved.value,
            unit: match system.unknown().map_or("", si_symbol) {
                "" => "1",
                unit => unit,
            },
        },
        flow: state.flow,
        pipes: named(|e| matches!(e, Element::Pipe { .. }))
            .zip(sizes)
            .zip(&state.pipes)
            .map(|((name, size), flow)| PipeOut {
                name,
                diameter: size.diameter,
                length: size.length,
                roughness: size.roughness,
                velocity: flow.velocity,
                reynolds: flow.reynolds,
                relative_roughness: flow.relative_roughness,
                friction_factor: flow.darcy_friction_factor,
                regime: flow.regime.name(),
                major_head_loss: flow.major_head_loss,
                duct: duct(system, name, size),
            })
            .collect(),
        losses: named(|e| matches!(e, Element::Loss { .. }))
            .zip(told)
            .zip(&state.loss_coefficients)
            .zip(&state.minor_head_losses)
            .map(|(((name, (source, pipe)), k), head_loss)| LossOut {
                name,
                K: *k,
                head_loss: *head_loss,
                pipe,
                source,
            })
            .collect(),
        stations: Stations {
            start: station(&state.start),
            end: station(&state.end),
        },
        grade_line: line.iter().map(grade).collect(),
        lowest_pressure: (!system.points.is_empty())
            .then(|| lowest(&line).map(grade))
            .flatten(),
        nominal_size: nominal_of(system, solved).map(|found| SizeOut {
            series: system.sizes.map_or("", |series| series.name),
            name: found.size.name(),
            nps: found.size.inches,
            dn: found.size.nominal_diameter,
            bore: found.size.bore(),
            bore_below: found.below.map(Size::bore),
            velocity: found.velocity,
            head_left: found.at_flow.residual,
            flow_at_same_heads: found.flow,
        }),
        head_loss: state.head_loss,
        pump_head: total(&state.pump_heads),
        pump_power: total(&state.pump_powers),
        turbine_head: total(&state.turbine_heads),
        turbine_power: total(&state.turbine_powers),
        pumps: machines(case, true),
        turbines: machines(case, false),
        fluid: FluidOut {
            density: solved.path.density,
            dynamic_viscosity: solved.path.dynamic_viscosity,
            vapour_pressure: solved.path.vapour_pressure,
        },
        solutions,
        warnings: solved.warnings.iter().map(|w| warning_text(w, system)).collect(),
    };
    pretty(&out)
}
