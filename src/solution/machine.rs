//! Results of pumps and turbines by name.

use super::units::Kind;
use crate::hydraulics::path::{Element, Path, State};

/// A result of one machine of a path in a state, in SI, by its base name in
/// [`MACHINE_NAMES`](crate::bank::system::pump::MACHINE_NAMES); machines are counted among pumps and turbines
/// together. None where the machine does not have it.
pub(crate) fn of_machine(path: &Path, state: &State, base: &str, index: usize) -> Option<f64> {
    let is_machine = |e: &&Element| matches!(e, Element::Pump(_) | Element::Turbine(_));
    let machines: Vec<&Element> = path.elements.iter().filter(is_machine).collect();
    let pumps_before = machines
        .iter()
        .take(index)
        .filter(|e| matches!(e, Element::Pump(_)))
        .count();
    match machines.get(index)? {
        Element::Pump(machine) => {
            let state = state.pumps.get(pumps_before)?;
            match base {
                "Q_P" => Some(state.flow_each),
                "eta" => Some(state.efficiency),
                "P_f" => Some(state.fluid_power),
                "P_el" => Some(state.electric_power),
                "E_year" => state.yearly_energy,
                "cost" => state.yearly_cost,
                "NPSH_a" => state.npsh_available,
                "NPSH_r" => state.npsh_required,
                "z_P" => machine.elevation,
                "n" => machine.curve().map(|curve| curve.speeds().0),
                "D_P" => machine.curve().map(|curve| curve.impellers().0),
                _ => None,
            }
        }
        Element::Turbine(_) => {
            let state = state.turbines.get(index - pumps_before)?;
            match base {
                "eta" => Some(state.efficiency),
                "P_f" => Some(state.fluid_power),
                "P_el" => Some(state.electric_power),
                "E_year" => state.yearly_energy,
                "cost" => state.yearly_cost,
                _ => None,
            }
        }
        _ => None,
    }
}

/// What a machine's result is the value of.
pub(super) fn kind_of_machine(base: &str) -> Kind {
    match base {
        "Q_P" => Kind::Flow,
        "P_f" | "P_el" => Kind::Power,
        "E_year" => Kind::Energy,
        "NPSH_a" | "NPSH_r" | "z_P" => Kind::Length,
        "n" => Kind::Speed,
        "D_P" => Kind::Bore,
        _ => Kind::Number,
    }
}
