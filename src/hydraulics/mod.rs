//! Closed-form hydraulics in SI base units: friction, regime, the energy equation along one path, and
//! its solution for any one unknown; flow meters.
//!
//! Takes and returns plain `f64`; text belongs to `solution`, uncertainty to `band`. Every friction
//! factor here is Darcy's (four times Fanning's), and says so in its name. Depends on: `constants`.

pub mod ageing;
pub mod curve;
mod diameter;
pub mod duct;
pub mod fittings;
pub mod flow;
pub mod friction;
pub mod grade;
pub mod leak;
pub mod meter;
pub mod network;
pub mod nominal;
pub mod path;
pub mod profile;
mod quadrature;
pub mod regime;
mod root;
pub mod sizes;
pub mod solve;
mod sparse;
pub mod tank;
pub mod walls;
mod warn;
