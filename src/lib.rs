//! Flow in pipes, set and marked: every student their own sound problem, solved the way it is taught.
//!
//! The rooms below stand in the order in which data flows; each uses only rooms above it, and a test
//! (`tests/rooms.rs`) reads the `use` lines and fails otherwise.

pub mod fault;

pub mod store;

pub mod jobs;

pub mod constants;

pub mod quantity;

pub mod equation;

pub mod fluid;

pub mod hydraulics;

pub mod bank;

pub mod draw;

pub mod solution;

pub mod band;

pub mod deal;

pub mod typeset;

pub mod figure;

pub mod handout;

pub mod mark;

pub mod prove;

pub mod report;

pub mod drill;
