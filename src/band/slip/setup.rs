//! What slips change: a case's problem in SI numbers, how its friction factors are had, and the regimes' limits.
//!
//! Every kind of system shows its numbers by what they are for, so that one change fits all kinds.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::path::{Element, LossLaw, Path, Section, Station, StationVelocity};
use crate::hydraulics::regime::Limits;
use crate::hydraulics::{ageing, leak, meter, network, profile, solve, tank};
use crate::solution::Case;

/// What a number is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Viscosity,
    /// Gauge pressures, and differences of pressure.
    Pressure,
    /// Every length across a pipe: bores, jets, throats.
    Bore,
    /// Lengths along which friction acts.
    Length,
    Roughness,
    Flow,
    Time,
}

/// A problem of any kind, its unknown missing.
#[derive(Debug, Clone)]
pub(super) enum Numbers {
    Path(solve::Problem),
    Leak(leak::Problem),
    Tank(tank::Problem),
    Meter(meter::Problem),
    Profile(profile::Problem),
    Ageing(ageing::Problem),
    Network(network::Network),
}

/// A problem and how it is worked.
#[derive(Debug, Clone)]
pub(super) struct Setup {
    pub(super) numbers: Numbers,
    /// One for each of what flows; of a tank's opening too.
    pub(super) readings: Vec<Reading>,
    pub(super) limits: Limits,
}

impl Numbers {
    /// Of a case; a path's come from its [`super::Work`].
    pub(super) fn of(case: &Case) -> Option<Self> {
        Some(match case {
            Case::Path(_) => return None,
            Case::Leak(case) => {
                let mut problem = case.solved.problem.clone();
                match problem.unknown {
                    leak::Unknown::Distance => problem.distance = f64::NAN,
                    leak::Unknown::EndFlow => problem.end.flow = f64::NAN,
                }
                Self::Leak(problem)
            }
            Case::Tank(case) => Self::Tank(case.problem.clone()),
            Case::Meter(case) => Self::Meter(case.problem),
            Case::Profile(case) => Self::Profile(case.problem()),
            Case::Ageing(case) => {
                let mut problem = case.solved.problem.clone();
                match problem.unknown {
                    ageing::Unknown::New => problem.new_roughness = f64::NAN,
                    ageing::Unknown::Growth => problem.growth = f64::NAN,
                    ageing::Unknown::Age => problem.age = f64::NAN,
                    ageing::Unknown::HeadLoss => problem.head_loss = f64::NAN,
                }
                Self::Ageing(problem)
            }
            Case::Network(case) => Self::Network(case.network.clone()),
        })
    }

    /// Calls `f` with every known number that has a role, and its role.
    pub(super) fn each(&mut self, f: &mut dyn FnMut(Role, &mut f64)) {
        let mut known = |role, value: &mut f64| {
            if !value.is_nan() {
                f(role, value);
            }
        };
        match self {
            Self::Path(problem) => {
                known(Role::Flow, &mut problem.flow);
                stations(&mut problem.path, &mut known);
                along(&mut problem.path.elements, None, &mut known);
            }
            Self::Tank(problem) => {
                stations(&mut problem.path, &mut known);
                for vessel in [&mut problem.start, &mut problem.end].into_iter().flatten() {
                    known(Role::Pressure, &mut vessel.pressure);
                    known(Role::Flow, &mut vessel.inflow);
                }
                let mut sought = None;
                match &mut problem.asked {
                    tank::Asked::Time(_) => {}
                    tank::Asked::Level(time) => known(Role::Time, time),
                    tank::Asked::Diameter { pipe, time, .. } => {
                        sought = Some(*pipe);
                        known(Role::Time, time);
                    }
                }
                along(&mut problem.path.elements, sought, &mut known);
            }
            Self::Network(network) => {
                known(Role::Viscosity, &mut network.dynamic_viscosity);
                for node in &mut network.nodes {
                    match node {
                        network::Node::Reservoir { pressure, .. } => known(Role::Pressure, pressure),
                        network::Node::Junction { demand, .. } => known(Role::Flow, demand),
                    }
                }
                for link in &mut network.links {
                    along(&mut link.elements, None, &mut known);
                }
            }
            Self::Meter(problem) => {
                known(Role::Viscosity, &mut problem.meter.dynamic_viscosity);
                known(Role::Flow, &mut problem.flow);
                match &mut problem.meter.element {
                    meter::Element::Throttle(throttle) => {
                        known(Role::Bore, &mut throttle.pipe_diameter);
                        known(Role::Bore, &mut throttle.throat_diameter);
                    }
                    meter::Element::Pitot(pitot) => {
                        if let Some(duct) = &mut pitot.duct {
                            known(Role::Bore, &mut duct.diameter);
                        }
                    }
                }
                if let meter::Gauge::Differential(pressure) = &mut problem.meter.gauge {
                    known(Role::Pressure, pressure);
                }
            }
            Self::Profile(profile::Problem { tube, .. }) => {
                known(Role::Viscosity, &mut tube.dynamic_viscosity);
                known(Role::Bore, &mut tube.diameter);
                known(Role::Roughness, &mut tube.roughness);
                if let profile::Motion::Flow(flow) = &mut tube.motion {
                    known(Role::Flow, flow);
                }
                if let profile::Drive::PressureDrop(pressure) = &mut tube.drive {
                    known(Role::Pressure, pressure);
                }
            }
            Self::Leak(problem) => {
                known(Role::Viscosity, &mut problem.dynamic_viscosity);
                for gauge in [&mut problem.start, &mut problem.end] {
                    known(Role::Pressure, &mut gauge.pressure);
                    known(Role::Flow, &mut gauge.flow);
                }
                known(Role::Bore, &mut problem.pipe.diameter);
                known(Role::Roughness, &mut problem.pipe.roughness);
            }
            Self::Ageing(problem) => {
                known(Role::Viscosity, &mut problem.dynamic_viscosity);
                known(Role::Bore, &mut problem.diameter);
                known(Role::Roughness, &mut problem.new_roughness);
                known(Role::Flow, &mut problem.flow);
                known(Role::Time, &mut problem.age);
                known(Role::Time, &mut problem.later_age);
            }
        }
    }

    /// Calls `f` with every number of a role; says whether it changed one.
    pub(super) fn change(&mut self, role: Role, f: &mut dyn FnMut(&mut f64)) -> bool {
        let mut any = false;
        self.each(&mut |of, value| {
            if of == role {
                let before = *value;
                f(value);
                any |= *value != before;
            }
        });
        any
    }

    /// Calls `f` with everything on the way and the link that it lies on; nothing in kinds that have one pipe alone.
    pub(super) fn elements(&mut self, f: &mut dyn FnMut(usize, &mut Element)) {
        match self {
            Self::Path(problem) => problem.path.elements.iter_mut().for_each(|e| f(0, e)),
            Self::Tank(problem) => problem.path.elements.iter_mut().for_each(|e| f(0, e)),
            Self::Network(network) => {
                for (n, link) in network.links.iter_mut().enumerate() {
                    link.elements.iter_mut().for_each(|e| f(n, e));
                }
            }
            Self::Leak(_) | Self::Meter(_) | Self::Profile(_) | Self::Ageing(_) => {}
        }
    }

    /// Calls `f` with the cross-section of every pipe on the way.
    pub(super) fn sections(&mut self, f: &mut dyn FnMut(&mut Section)) {
        self.elements(&mut |_, element| {
            if let Element::Pipe(pipe) = element {
                f(&mut pipe.section);
            }
        });
    }

    /// The run of pipes between two stations, where there is one.
    pub(super) fn path(&mut self) -> Option<&mut Path> {
        match self {
            Self::Path(problem) => Some(&mut problem.path),
            Self::Tank(problem) => Some(&mut problem.path),
            _ => None,
        }
    }

    /// Density, dynamic viscosity and gravity.
    pub(super) fn fluid(&mut self) -> [&mut f64; 3] {
        match self {
            Self::Path(p) => fluid_of(&mut p.path),
            Self::Tank(p) => fluid_of(&mut p.path),
            Self::Network(p) => [&mut p.density, &mut p.dynamic_viscosity, &mut p.gravity],
            Self::Meter(p) => [
                &mut p.meter.density,
                &mut p.meter.dynamic_viscosity,
                &mut p.meter.gravity,
            ],
            Self::Profile(p) => [
                &mut p.tube.density,
                &mut p.tube.dynamic_viscosity,
                &mut p.tube.gravity,
            ],
            Self::Leak(p) => [&mut p.density, &mut p.dynamic_viscosity, &mut p.gravity],
            Self::Ageing(p) => [&mut p.density, &mut p.dynamic_viscosity, &mut p.gravity],
        }
    }
}

fn fluid_of(path: &mut Path) -> [&mut f64; 3] {
    [&mut path.density, &mut path.dynamic_viscosity, &mut path.gravity]
}

fn stations(path: &mut Path, known: &mut dyn FnMut(Role, &mut f64)) {
    known(Role::Viscosity, &mut path.dynamic_viscosity);
    for Station {
        pressure, velocity, ..
    } in [&mut path.start, &mut path.end]
    {
        known(Role::Pressure, pressure);
        if let StationVelocity::Jet(diameter) = velocity {
            known(Role::Bore, diameter);
        }
    }
}

/// What lies on the way; the pipe whose diameter is `sought` holds anything for it.
fn along(elements: &mut [Element], sought: Option<usize>, known: &mut dyn FnMut(Role, &mut f64)) {
    let mut pipes = 0;
    for element in elements {
        match element {
            Element::Pipe(pipe) => {
                if sought != Some(pipes) {
                    known(Role::Bore, &mut pipe.diameter);
                }
                known(Role::Length, &mut pipe.length);
                known(Role::Roughness, &mut pipe.roughness);
                pipes += 1;
            }
            Element::Loss {
                coefficient,
                law: LossLaw::EquivalentLength | LossLaw::EquivalentDiameters,
                ..
            } => known(Role::Length, coefficient),
            Element::Loss { .. } | Element::Pump(_) | Element::Turbine(_) => {}
        }
    }
}
