//! Results by name: what formulas of parts and constraints can use.

use crate::bank::course::Conventions;
use crate::bank::system::System;
use crate::equation::Bindings;
use crate::hydraulics::solve::Solved;
use crate::quantity::Dimension;

/// Names of results that each pipe has, with meaning and dimension. With one pipe they stand alone (`V`);
/// a pipe's own carry its name (`V_riser`; blanks in a pipe's name become underscores).
pub const PIPE_NAMES: &[(&str, &str, Dimension)] = &[
    ("D", "inner diameter", Dimension::LENGTH),
    ("L", "length", Dimension::LENGTH),
    ("eps", "roughness", Dimension::LENGTH),
    ("A", "area of the cross-section", Dimension::AREA),
    ("V", "mean velocity", Dimension::VELOCITY),
    ("Re", "Reynolds number", Dimension::NONE),
    ("rr", "relative roughness ε/D", Dimension::NONE),
    ("f", "Darcy friction factor", Dimension::NONE),
    ("h_f", "head lost to friction", Dimension::LENGTH),
];

/// Names of results of the whole path, with meaning and dimension.
pub const PLAIN_NAMES: &[(&str, &str, Dimension)] = &[
    ("Q", "volume flow", Dimension::FLOW),
    ("rho", "density", Dimension::DENSITY),
    ("mu", "dynamic viscosity", Dimension::DYNAMIC_VISCOSITY),
    ("nu", "kinematic viscosity", Dimension::KINEMATIC_VISCOSITY),
    ("g", "acceleration of gravity", Dimension::ACCELERATION),
    ("p_1", "gauge pressure at the start", Dimension::PRESSURE),
    ("p_2", "gauge pressure at the end", Dimension::PRESSURE),
    ("z_1", "elevation of the start", Dimension::LENGTH),
    ("z_2", "elevation of the end", Dimension::LENGTH),
    ("V_1", "velocity at the start", Dimension::VELOCITY),
    ("V_2", "velocity at the end", Dimension::VELOCITY),
    ("h_major", "head lost to friction in all pipes", Dimension::LENGTH),
    ("h_minor", "head lost in all minor losses", Dimension::LENGTH),
    ("h_L", "all head lost", Dimension::LENGTH),
    ("h_P", "head of all pumps", Dimension::LENGTH),
    ("h_T", "head of all turbines", Dimension::LENGTH),
    ("P_P", "shaft power of all pumps", Dimension::POWER),
    ("P_T", "shaft power of all turbines", Dimension::POWER),
];

/// The dimension of a result, if a system with these pipes has it.
pub fn result_dimension(name: &str, pipes: &[&str]) -> Option<Dimension> {
    let _ = (name, pipes);
    todo!()
}

/// All results of a solved system by name, printed in the units of the conventions.
pub fn results(system: &System, solved: &Solved, conventions: &Conventions) -> Bindings {
    let _ = (system, solved, conventions);
    todo!()
}
