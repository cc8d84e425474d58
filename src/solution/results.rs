//! Results by name: what formulas of parts and constraints can use.

use super::machine::{kind_of_machine, of_machine};
use super::units::{Kind, display_unit, given};
use crate::bank::course::Conventions;
use crate::bank::names::{LOWEST_PRESSURE, pipe_result, pipe_suffix, reads_as_name};
use crate::bank::system::{DuctShape, Element, Fluid, FluidValues, PathSystem, System, Value};
use crate::equation::{Bindings, Bound};
use crate::hydraulics::friction;
use crate::hydraulics::grade::{Place, grade_line, lowest};
use crate::hydraulics::nominal::{Nominal, nominal};
use crate::hydraulics::path;
use crate::hydraulics::regime::Limits;
use crate::hydraulics::solve::{Solved, Unknown};
use crate::quantity::{Dimension, PressureReference, Quantity, Unit, Written};

pub use crate::bank::names::{PIPE_NAMES, PLAIN_NAMES, result_dimension};

/// A known value as written; `None` for the unknown (and for a formula, which a resolved system has not).
pub(super) fn known(value: &Value) -> Option<&Written> {
    match value {
        Value::Known(written) => Some(written),
        Value::Unknown | Value::Formula(_) => None,
    }
}

/// How values become bound: in which units and with how many figures.
pub(super) struct Binder<'a> {
    conventions: &'a Conventions,
    pub(super) bindings: Bindings,
}

impl<'a> Binder<'a> {
    pub(super) fn new(conventions: &'a Conventions) -> Self {
        Self {
            conventions,
            bindings: Bindings::default(),
        }
    }

    /// A computed value.
    fn set(&mut self, name: impl Into<String>, kind: Kind, si: f64) {
        let unit = display_unit(kind, si, self.conventions.units);
        self.bindings
            .set(name, Bound::new(si, &unit, self.conventions.figures));
    }

    /// A value that the system may state, printed as stated where it does; `si` is what was computed with.
    pub(super) fn state(&mut self, name: impl Into<String>, kind: Kind, si: f64, stated: Option<&Written>) {
        // A system that was changed after it was written (a slip, say) prints what it computes with.
        let stated = stated.filter(|w| {
            let written = w.quantity().value;
            (written - si).abs() <= 1.0e-9 * si.abs().max(written.abs())
        });
        match stated {
            Some(written) => {
                let written = given(kind, written, self.conventions);
                let quantity = Quantity::new(si, written.unit.dimension);
                self.bindings.set(name, Bound { quantity, written });
            }
            None => self.set(name, kind, si),
        }
    }
}

/// The stated pressure of a station where it is stated as gauge; an absolute one is printed as computed.
fn stated_gauge(value: &Value) -> Option<&Written> {
    known(value).filter(|w| w.unit.reference != Some(PressureReference::Absolute))
}

/// All results of a solved system by name, printed in the units of the conventions.
///
/// Values are in full precision. One that the system states is printed as stated where its unit belongs to
/// the course's units.
pub fn results(system: &PathSystem, solved: &Solved, conventions: &Conventions) -> Bindings {
    let mut b = Binder::new(conventions);
    let state = &solved.state;
    let path = &solved.path;

    let names = system.pipe_names();
    let stated: Vec<_> = system
        .path
        .iter()
        .filter_map(|e| match e {
            Element::Pipe {
                bore,
                length,
                roughness,
                ..
            } => Some((bore, length, roughness)),
            _ => None,
        })
        .collect();
    let sizes: Vec<_> = path
        .elements
        .iter()
        .filter_map(|e| match e {
            path::Element::Pipe(pipe) => Some(pipe),
            _ => None,
        })
        .collect();
    for (((name, stated), size), flow) in names.iter().zip(&stated).zip(&sizes).zip(&state.pipes) {
        let own = |base: &str| pipe_result(base, name, names.len());
        b.state(
            own("D"),
            Kind::Bore,
            size.diameter,
            stated.0.diameter().and_then(known),
        );
        b.state(own("L"), Kind::Length, size.length, known(stated.1));
        b.state(own("eps"), Kind::Bore, size.roughness, known(stated.2));
        let (area, perimeter) = match stated.0.duct().map(|duct| &duct.shape) {
            Some(DuctShape::Other([area, perimeter, ..])) => (known(area), known(perimeter)),
            _ => (None, None),
        };
        b.state(own("A"), Kind::Area, size.area(), area);
        let wetted = size.section.wetted_perimeter(size.diameter);
        b.state(own("P_w"), Kind::Length, wetted, perimeter);
        b.set(own("f_Re"), Kind::Number, size.section.laminar_constant);
        b.set(own("V"), Kind::Velocity, flow.velocity);
        b.set(own("Re"), Kind::Number, flow.reynolds);
        b.set(own("rr"), Kind::Number, flow.relative_roughness);
        b.set(own("f"), Kind::Number, flow.darcy_friction_factor);
        // A smooth wall has no such limit.
        if let Ok(level) =
            friction::darcy_fully_rough(flow.relative_roughness / size.section.turbulent_diameter)
        {
            b.set(own("f_rough"), Kind::Number, level);
        }
        b.set(own("h_f"), Kind::Length, flow.major_head_loss);
    }

    b.state("Q", Kind::Flow, state.flow, known(&system.flow));
    properties(&mut b, &system.fluid, path.density, path.dynamic_viscosity);
    b.state("g", Kind::Acceleration, path.gravity, known(&system.gravity));

    for (end, station, now) in [("1", &system.start, &state.start), ("2", &system.end, &state.end)] {
        b.state(
            format!("p_{end}"),
            Kind::Pressure,
            now.pressure,
            stated_gauge(&station.pressure),
        );
        b.state(
            format!("z_{end}"),
            Kind::Length,
            now.elevation,
            known(&station.elevation),
        );
        b.set(format!("V_{end}"), Kind::Velocity, now.velocity);
    }
    let major: f64 = state.pipes.iter().map(|p| p.major_head_loss).sum();
    b.set("h_major", Kind::Length, major);
    b.set("h_minor", Kind::Length, total(&state.minor_head_losses));
    b.set("h_L", Kind::Length, state.head_loss);
    b.set("h_P", Kind::Length, total(&state.pump_heads));
    b.set("h_T", Kind::Length, total(&state.turbine_heads));
    b.set("P_P", Kind::Power, total(&state.pump_powers));
    b.set("P_T", Kind::Power, total(&state.turbine_powers));
    on_the_way(&mut b, system, solved);
    for (name, base, machine) in system.machine_results() {
        if let Some(si) = of_machine(path, state, base, machine) {
            let stated = system.stated_of_machine(&name).and_then(known);
            b.state(name, kind_of_machine(base), si, stated);
        }
    }
    b.bindings
}

/// The nominal size in the place of the unknown diameter, where the system names a series.
pub(super) fn nominal_of(system: &PathSystem, solved: &Solved) -> Option<Nominal> {
    let Some(Unknown::Diameter(pipe)) = system.unknown() else {
        return None;
    };
    // That there is a size was seen when the system was solved.
    nominal(
        &solved.path,
        &solved.state,
        pipe,
        system.sizes?,
        &Limits::default(),
    )
    .ok()
}

/// Results of the points and the minor losses on the way.
fn on_the_way(b: &mut Binder<'_>, system: &PathSystem, solved: &Solved) {
    if !system.points.is_empty() {
        let line = grade_line(&solved.path, &solved.state);
        for (n, point) in system.points.iter().enumerate() {
            let Some(at) = line.iter().find(|p| p.place == Place::Point(n)) else {
                continue;
            };
            let suffix = pipe_suffix(&point.name);
            b.set(format!("p_{suffix}"), Kind::Pressure, at.pressure);
            b.set(format!("H_{suffix}"), Kind::Length, at.energy_head);
            b.state(
                format!("z_{suffix}"),
                Kind::Length,
                at.elevation,
                known(&point.elevation),
            );
        }
        if let Some(least) = lowest(&line) {
            b.set(LOWEST_PRESSURE.0, Kind::Pressure, least.pressure);
        }
    }
    if let Some(nominal) = nominal_of(system, solved) {
        b.set("D_std", Kind::Bore, nominal.size.bore());
        b.set(
            "D_below",
            Kind::Bore,
            nominal.below.map_or(0.0, |size| size.bore()),
        );
        b.set("V_std", Kind::Velocity, nominal.velocity);
        b.set("h_left", Kind::Length, nominal.at_flow.residual);
        b.set("Q_std", Kind::Flow, nominal.flow);
    }
    let state = &solved.state;
    for ((name, k), h) in
        (system.loss_names().iter().zip(&state.loss_coefficients)).zip(&state.minor_head_losses)
    {
        if !reads_as_name(name) {
            continue;
        }
        let suffix = pipe_suffix(name);
        for (name, kind, si) in [
            (format!("K_{suffix}"), Kind::Number, *k),
            (format!("h_{suffix}"), Kind::Length, *h),
        ] {
            // A loss that is called as a pipe's friction is has no such results.
            if b.bindings.get(&name).is_none() {
                b.set(name, kind, si);
            }
        }
    }
}

/// The sum of values; of none it is 0, which `Iterator::sum` makes -0.
pub(super) fn total(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |all, value| all + value)
}

/// A pure number with `figures` significant figures.
pub(super) fn pure(value: f64, figures: u32) -> Written {
    Written::from_si(value, &Unit::none(), figures)
}

/// The fluid's properties, as stated where they are.
fn properties(b: &mut Binder<'_>, fluid: &Fluid, rho: f64, dynamic_viscosity: f64) {
    let (density, viscosity) = match fluid {
        Fluid::Given {
            density, viscosity, ..
        } => (
            known(density),
            known(viscosity).filter(|w| w.unit.dimension == Dimension::DYNAMIC_VISCOSITY),
        ),
        Fluid::Named { .. } => (None, None),
    };
    b.state("rho", Kind::Density, rho, density);
    b.state("mu", Kind::DynamicViscosity, dynamic_viscosity, viscosity);
    let kinematic = match fluid {
        Fluid::Given { viscosity, .. } => {
            known(viscosity).filter(|w| w.unit.dimension == Dimension::KINEMATIC_VISCOSITY)
        }
        Fluid::Named { .. } => None,
    };
    b.state("nu", Kind::KinematicViscosity, dynamic_viscosity / rho, kinematic);
}

/// Properties and gravity of a system of another kind than the path.
pub(super) fn fluid_and_gravity(b: &mut Binder<'_>, system: &System, fluid: &FluidValues) {
    properties(
        b,
        system.fluid(),
        fluid.density.quantity().value,
        fluid.dynamic_viscosity.quantity().value,
    );
    if let Some(gravity) = known(system.gravity()) {
        b.state("g", Kind::Acceleration, gravity.quantity().value, Some(gravity));
    }
}
