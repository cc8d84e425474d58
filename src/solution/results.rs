//! Results by name: what formulas of parts and constraints can use.

use crate::bank::course::Conventions;
use crate::bank::system::System;
use crate::equation::Bindings;
use crate::hydraulics::solve::Solved;

pub use crate::bank::names::{PIPE_NAMES, PLAIN_NAMES, result_dimension};

/// All results of a solved system by name, printed in the units of the conventions.
pub fn results(system: &System, solved: &Solved, conventions: &Conventions) -> Bindings {
    let _ = (system, solved, conventions);
    todo!()
}
