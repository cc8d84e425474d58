//! `meter`: a flow meter, as people write it.

use super::kind::{Kind, ResultName, Surroundings};
use super::problem::{fluid_values, number};
use super::slot::{Of, Slot};
use super::{Fluid, FluidValues, System, Value, si_unit};
use crate::constants::policy;
use crate::fault::{Checked, Fault, Faults};
use crate::fluid::Named;
use crate::hydraulics::meter::standard::{Convergent, Device, Taps};
use crate::hydraulics::meter::{
    Duct, Element, Gas, Gauge, Liquid, Meter, Pitot, Problem, SolveError, Throttle, Unknown,
};
use crate::quantity::{Dimension, PressureReference, Shown, Written};

/// Share of the differential pressure that is taken as lost behind an outlet cone where nothing is said: the
/// middle of what a cone of 7° to 15° takes. Our choice, within the standard's 5 % to 20 %.
pub const CONE_LOSS_SHARE: f64 = 0.10;

/// Isentropic exponent of air, a gas of two atoms a molecule at ordinary temperatures: 7/5.
pub const AIR_ISENTROPIC_EXPONENT: f64 = 1.4;

/// How to mend an unknown in the wrong place.
pub(super) const WHAT_MAY_BE: &str = "the unknown of a meter may be the flow (the velocity, at a Pitot tube), the \
     differential pressure, the deflection of the manometer, the diameter of the throat, or a coefficient that was \
     calibrated";

/// The devices of ISO 5167 by the keys and words of a file.
pub(crate) const DEVICES: [(&str, &str, Device); 9] = [
    ("orifice", "corner taps", Device::Orifice(Taps::Corner)),
    ("orifice", "D and D/2 taps", Device::Orifice(Taps::DAndHalfD)),
    ("orifice", "flange taps", Device::Orifice(Taps::Flange)),
    ("nozzle", "ISA 1932", Device::Isa1932Nozzle),
    ("nozzle", "long radius", Device::LongRadiusNozzle),
    ("nozzle", "Venturi nozzle", Device::VenturiNozzle),
    ("venturi", "as cast", Device::Venturi(Convergent::AsCast)),
    ("venturi", "machined", Device::Venturi(Convergent::Machined)),
    (
        "venturi",
        "welded sheet",
        Device::Venturi(Convergent::WeldedSheet),
    ),
];

/// How the differential pressure is had.
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    /// `differential:`
    Differential(Value),
    /// `manometer:`
    Manometer {
        /// What its liquid is called.
        liquid: Option<String>,
        /// Density of its liquid.
        density: Value,
        /// Difference of its two levels.
        deflection: Value,
    },
}

/// A throttling device in its pipe.
#[derive(Debug, Clone, PartialEq)]
pub struct ThrottleValues {
    /// Which.
    pub device: Device,
    /// Volume flow, before the device.
    pub flow: Value,
    /// Inner diameter of the pipe.
    pub pipe_diameter: Value,
    /// Diameter of the throat.
    pub throat_diameter: Value,
    /// Discharge coefficient, where it is not the standard's.
    pub coefficient: Option<Value>,
    /// Share of the differential pressure that is lost for good, behind an outlet cone.
    pub permanent_loss: Option<Value>,
    /// Pressure before the device: that of a gas whose expansion counts, or of a liquid that might boil; gauge unless its
    /// unit says absolute.
    pub upstream_pressure: Option<Value>,
    /// Isentropic exponent of the gas.
    pub isentropic_exponent: Option<Value>,
}

/// A Pitot tube.
#[derive(Debug, Clone, PartialEq)]
pub struct PitotValues {
    /// Whether it has its own static holes, so that it is a Pitot-static tube.
    pub has_static_holes: bool,
    /// Velocity at its tip.
    pub velocity: Value,
    /// Its coefficient; 1 where nothing is said.
    pub coefficient: Option<Value>,
    /// Inner diameter of the pipe and mean velocity over that at the tip, where a flow is wanted.
    pub pipe: Option<(Value, Value)>,
}

/// What meters.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "a system holds one instrument, and no list of them exists"
)]
pub enum Instrument {
    /// `orifice`, `nozzle` or `venturi`
    Throttle(ThrottleValues),
    /// `pitot`
    Pitot(PitotValues),
}

/// A flow meter.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterSystem {
    /// What it stands in.
    pub surroundings: Surroundings,
    /// What it is called.
    pub name: Option<String>,
    /// What meters.
    pub instrument: Instrument,
    /// How its pressure is read.
    pub reading: Reading,
}

const PIPE: Of<'_> = Of::Element("the pipe");
const THROAT: Of<'_> = Of::Element("the throat");
const LIQUID: Of<'_> = Of::Element("the manometer's liquid");
const MANOMETER: Of<'_> = Of::Element("the manometer");

impl Kind for MeterSystem {
    fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }

    fn surroundings_mut(&mut self) -> &mut Surroundings {
        &mut self.surroundings
    }

    fn values(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        match &mut self.instrument {
            Instrument::Throttle(throttle) => {
                f(Slot::Flow, Of::System, &mut throttle.flow);
                f(Slot::Diameter, PIPE, &mut throttle.pipe_diameter);
                f(Slot::Diameter, THROAT, &mut throttle.throat_diameter);
                for (slot, value) in [
                    (Slot::MeterCoefficient, &mut throttle.coefficient),
                    (Slot::LossShare, &mut throttle.permanent_loss),
                    (Slot::UpstreamPressure, &mut throttle.upstream_pressure),
                    (Slot::IsentropicExponent, &mut throttle.isentropic_exponent),
                ] {
                    if let Some(value) = value {
                        f(slot, Of::System, value);
                    }
                }
            }
            Instrument::Pitot(pitot) => {
                f(Slot::PointVelocity, Of::System, &mut pitot.velocity);
                if let Some(coefficient) = &mut pitot.coefficient {
                    f(Slot::MeterCoefficient, Of::System, coefficient);
                }
                if let Some((diameter, ratio)) = &mut pitot.pipe {
                    f(Slot::Diameter, PIPE, diameter);
                    f(Slot::VelocityRatio, Of::System, ratio);
                }
            }
        }
        match &mut self.reading {
            Reading::Differential(value) => f(Slot::Differential, Of::System, value),
            Reading::Manometer {
                density, deflection, ..
            } => {
                f(Slot::Density, LIQUID, density);
                f(Slot::Deflection, MANOMETER, deflection);
            }
        }
    }

    fn pipe_names(&self) -> Vec<&str> {
        match &self.instrument {
            Instrument::Pitot(PitotValues { pipe: None, .. }) => Vec::new(),
            _ => vec!["pipe"],
        }
    }

    fn results(&self) -> Vec<ResultName> {
        const LENGTH: Dimension = Dimension::LENGTH;
        const NONE: Dimension = Dimension::NONE;
        const PRESSURE: Dimension = Dimension::PRESSURE;
        let mut all: Vec<(&str, &str, Dimension)> = vec![
            ("dp", "differential pressure", PRESSURE),
            ("h", "differential pressure as a head of the fluid", LENGTH),
            ("C", "coefficient of the meter", NONE),
            (
                "u_i",
                "velocity that the differential pressure is worth",
                Dimension::VELOCITY,
            ),
        ];
        if let Reading::Manometer { .. } = self.reading {
            all.push(("h_m", "deflection of the manometer", LENGTH));
            all.push(("rho_m", "density of the manometer's liquid", Dimension::DENSITY));
            all.push((
                "rho_d",
                "by how much it differs from the fluid's",
                Dimension::DENSITY,
            ));
        }
        let of_flow = [
            ("D", "inner diameter of the pipe", LENGTH),
            ("A", "cross-section of the pipe", Dimension::AREA),
            ("Q", "volume flow", Dimension::FLOW),
            ("mdot", "mass flow", Dimension::MASS_FLOW),
        ];
        match &self.instrument {
            Instrument::Throttle(throttle) => {
                all.extend(of_flow);
                all.extend([
                    ("d", "diameter of the throat", LENGTH),
                    ("A_t", "cross-section of the throat", Dimension::AREA),
                    ("beta", "d/D", NONE),
                    ("E", "velocity of approach factor", NONE),
                    ("Y", "expansibility factor, 1 for a liquid", NONE),
                    ("Q_i", "flow of an ideal fluid", Dimension::FLOW),
                    ("xi", "share of the differential pressure lost for good", NONE),
                    ("dp_loss", "pressure lost for good", PRESSURE),
                    ("h_loss", "head lost for good", LENGTH),
                    ("K_loss", "loss coefficient on the pipe's velocity head", NONE),
                    ("P_loss", "power that the permanent loss takes", Dimension::POWER),
                ]);
                if !throttle.device.has_outlet_cone() {
                    all.push((
                        "s_loss",
                        "root in the share that is lost, √(1 − beta⁴ (1 − C²))",
                        NONE,
                    ));
                    all.push(("s_jet", "C beta², what the jet fills of the pipe", NONE));
                }
            }
            Instrument::Pitot(pitot) => {
                all.push(("u", "velocity at the tip", Dimension::VELOCITY));
                all.push((
                    "u_i",
                    "velocity that an ideal tube would show",
                    Dimension::VELOCITY,
                ));
                if pitot.pipe.is_some() {
                    all.extend(of_flow);
                    all.push(("k_u", "mean velocity over that at the tip", NONE));
                }
            }
        }
        let mut all: Vec<ResultName> = all
            .into_iter()
            .map(|(name, meaning, dimension)| ResultName::plain(name, meaning, dimension))
            .collect();
        let pipes = self.pipe_names();
        for (base, meaning, dimension) in [
            ("V", "mean velocity in the pipe", Dimension::VELOCITY),
            ("Re", "Reynolds number of the pipe", NONE),
        ] {
            all.extend(ResultName::of_pipes(base, meaning, dimension, &pipes));
        }
        all
    }

    fn stated(&self, result: &str) -> Option<&Value> {
        match (&self.instrument, &self.reading, result) {
            (_, Reading::Differential(value), "dp") => Some(value),
            (_, Reading::Manometer { deflection, .. }, "h_m") => Some(deflection),
            (_, Reading::Manometer { density, .. }, "rho_m") => Some(density),
            (Instrument::Throttle(throttle), _, _) => match result {
                "Q" => Some(&throttle.flow),
                "D" => Some(&throttle.pipe_diameter),
                "d" => Some(&throttle.throat_diameter),
                "C" => throttle.coefficient.as_ref(),
                "xi" => throttle.permanent_loss.as_ref(),
                _ => None,
            },
            (Instrument::Pitot(pitot), _, _) => match (result, &pitot.pipe) {
                ("u", _) => Some(&pitot.velocity),
                ("C", _) => pitot.coefficient.as_ref(),
                ("D", Some((diameter, _))) => Some(diameter),
                ("k_u", Some((_, ratio))) => Some(ratio),
                _ => None,
            },
        }
    }

    fn check_together(&self, faults: &mut Vec<Fault>) {
        if let Instrument::Throttle(throttle) = &self.instrument {
            faults.extend(too_wide(&throttle.pipe_diameter, &throttle.throat_diameter));
            if let Some(Value::Known(pressure)) = &throttle.upstream_pressure {
                faults.extend(no_gas(pressure, &self.surroundings.atmosphere));
            }
        }
    }
}

/// The fault of a throat that is no narrower than its pipe.
pub(super) fn too_wide(pipe: &Value, throat: &Value) -> Option<Fault> {
    let (Value::Known(pipe), Value::Known(throat)) = (pipe, throat) else {
        return None;
    };
    (throat.quantity().value >= pipe.quantity().value).then(|| {
        Fault::new(format!(
            "the throat is {} wide, which is no less than the {} of the pipe",
            throat.ascii(),
            pipe.ascii()
        ))
        .mend("write a throat that is narrower than the pipe; check the units of both")
    })
}

/// The fault of a gas under no pressure.
pub(super) fn no_gas(pressure: &Written, atmosphere: &Value) -> Option<Fault> {
    (absolute(pressure, atmosphere) <= 0.0).then(|| {
        Fault::new(format!(
            "the upstream pressure is {}, at which there is no gas",
            pressure.ascii()
        ))
        .mend("write a gauge pressure above vacuum, or one that says `abs`")
    })
}

/// Whether a fluid is air by its name.
fn is_air(fluid: &Fluid) -> bool {
    matches!(fluid, Fluid::Named { name: Named::Air, .. })
}

/// Whether a fluid is given by a density that only gases have.
pub(super) fn is_light(fluid: &Fluid) -> bool {
    match fluid {
        Fluid::Given {
            density: Value::Known(density),
            ..
        } => density.quantity().value < policy::GAS_DENSITY,
        _ => false,
    }
}

/// The fault of a gas whose pressure is given without its exponent.
pub(super) fn no_exponent() -> Fault {
    Fault::new("the expansion of a gas needs its isentropic exponent as well as its pressure")
        .mend("add `isentropic exponent: 1.4` (1.4 for air and other gases of two atoms a molecule)")
}

/// An absolute pressure \[Pa\] of one that may be gauge.
fn absolute(pressure: &Written, atmosphere: &Value) -> f64 {
    let outside = if pressure.unit.reference == Some(PressureReference::Absolute) {
        0.0
    } else {
        number(atmosphere)
    };
    pressure.quantity().value + outside
}

impl MeterSystem {
    /// What the meter is called in a sentence, with its article.
    pub fn called(&self) -> String {
        if let Some(name) = &self.name {
            return format!("the {name}");
        }
        match &self.instrument {
            Instrument::Throttle(throttle) => match throttle.device {
                Device::Orifice(_) => "the orifice plate",
                Device::Isa1932Nozzle | Device::LongRadiusNozzle => "the nozzle",
                Device::VenturiNozzle => "the Venturi nozzle",
                Device::Venturi(_) => "the Venturi tube",
            },
            Instrument::Pitot(pitot) if pitot.has_static_holes => "the Pitot-static tube",
            Instrument::Pitot(_) => "the Pitot tube",
        }
        .to_owned()
    }

    /// The fluid's properties. Air by its name is as dense as its pressure before the device makes it.
    ///
    /// # Errors
    /// A temperature out of range, or a formula that is not resolved.
    pub fn fluid_values(&self, figures: Option<u32>) -> Checked<FluidValues> {
        let around = &self.surroundings;
        if let Instrument::Throttle(throttle) = &self.instrument
            && let Some(Value::Known(pressure)) = &throttle.upstream_pressure
        {
            let si = absolute(pressure, &around.atmosphere);
            let within = Written::from_si(si, &si_unit("Pa", Dimension::PRESSURE), 15);
            return fluid_values(&around.fluid, &Value::Known(within), figures);
        }
        around.fluid_values(figures)
    }

    /// What is sought; `None` where it is none of what may be.
    fn unknown(&self) -> Option<Unknown> {
        let is = |value: &Value| matches!(value, Value::Unknown);
        let may = |value: &Option<Value>| value.as_ref().is_some_and(is);
        let reading = match &self.reading {
            Reading::Differential(value) => is(value).then_some(Unknown::Differential),
            Reading::Manometer { deflection, .. } => is(deflection).then_some(Unknown::Deflection),
        };
        reading.or_else(|| match &self.instrument {
            Instrument::Throttle(throttle) => {
                if is(&throttle.flow) {
                    Some(Unknown::Flow)
                } else if is(&throttle.throat_diameter) {
                    Some(Unknown::ThroatDiameter)
                } else {
                    may(&throttle.coefficient).then_some(Unknown::Coefficient)
                }
            }
            Instrument::Pitot(pitot) => {
                if is(&pitot.velocity) {
                    Some(Unknown::Velocity)
                } else {
                    may(&pitot.coefficient).then_some(Unknown::Coefficient)
                }
            }
        })
    }

    /// The problem in SI numbers, its fluid's properties rounded to `figures` figures.
    ///
    /// # Errors
    /// Everything that keeps it from being solved.
    pub fn problem(&self, figures: Option<u32>) -> Checked<Problem> {
        let mut faults = System::Meter(Box::new(self.clone())).faults_before_solving(1..=1);
        let unknown = self.unknown();
        if unknown.is_none() && faults.is_empty() {
            faults.push(Fault::new("a meter can't be solved for this value").mend(WHAT_MAY_BE));
        }
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        let fluid = self.fluid_values(figures)?;
        if let Instrument::Throttle(throttle) = &self.instrument
            && throttle.upstream_pressure.is_some()
            && !self.expands()
            && fluid.density.quantity().value < policy::GAS_DENSITY
        {
            return Err(no_exponent().into());
        }
        let or = |value: &Option<Value>, default: f64| value.as_ref().map_or(default, number);
        let mut flow = f64::NAN;
        let element = match &self.instrument {
            Instrument::Throttle(throttle) => {
                flow = number(&throttle.flow);
                let upstream = throttle
                    .upstream_pressure
                    .as_ref()
                    .map(|pressure| match pressure {
                        Value::Known(pressure) => absolute(pressure, &self.surroundings.atmosphere),
                        _ => f64::NAN,
                    });
                let gas = upstream.filter(|_| self.expands()).map(|upstream_pressure| Gas {
                    upstream_pressure,
                    isentropic_exponent: or(&throttle.isentropic_exponent, AIR_ISENTROPIC_EXPONENT),
                });
                let vapour_pressure = fluid.vapour_pressure.as_ref().map_or(0.0, |p| p.quantity().value);
                let liquid = upstream
                    .filter(|_| !self.expands())
                    .map(|upstream_pressure| Liquid {
                        upstream_pressure,
                        vapour_pressure,
                    });
                Element::Throttle(Throttle {
                    device: throttle.device,
                    pipe_diameter: number(&throttle.pipe_diameter),
                    throat_diameter: number(&throttle.throat_diameter),
                    coefficient: throttle.coefficient.as_ref().map(number),
                    cone_loss_share: or(&throttle.permanent_loss, CONE_LOSS_SHARE),
                    gas,
                    liquid,
                })
            }
            Instrument::Pitot(pitot) => Element::Pitot(Pitot {
                coefficient: or(&pitot.coefficient, 1.0),
                velocity: number(&pitot.velocity),
                duct: pitot.pipe.as_ref().map(|(diameter, ratio)| Duct {
                    diameter: number(diameter),
                    velocity_ratio: number(ratio),
                }),
            }),
        };
        Ok(Problem {
            meter: Meter {
                density: fluid.density.quantity().value,
                dynamic_viscosity: fluid.dynamic_viscosity.quantity().value,
                gravity: number(&self.surroundings.gravity),
                element,
                gauge: match &self.reading {
                    Reading::Differential(value) => Gauge::Differential(number(value)),
                    Reading::Manometer {
                        density, deflection, ..
                    } => Gauge::Manometer {
                        density: number(density),
                        deflection: number(deflection),
                    },
                },
            },
            flow,
            unknown: unknown.unwrap_or(Unknown::Flow),
        })
    }

    /// Why there is no answer, for the person who wrote the system.
    pub fn fault(&self, error: &SolveError) -> Fault {
        let short = |value: f64| Shown::new(value, 3).ascii();
        match *error {
            SolveError::NoSolution { why, .. } => Fault::new(format!("there is no answer: {why}")).mend(
                "check flow, differential pressure and diameters, and their units",
            ),
            SolveError::Laminar { reynolds } => Fault::new(format!(
                "the flow in the pipe would be laminar (the Reynolds number is {} or less), where the standard's \
                 coefficients mean nothing",
                short(reynolds)
            ))
            .mend("check the flow, the viscosity and their units, or give a `coefficient` that was calibrated"),
            SolveError::Undetermined { why } => {
                Fault::new(format!("there is no answer: {why}")).mend("check the values")
            }
            SolveError::Impossible { what, value } => {
                Fault::new(format!("the {what} can't be {}", short(value))).mend("check the value and its unit")
            }
        }
    }

    /// Whether the fluid is a gas whose expansion counts where its pressure is known.
    fn expands(&self) -> bool {
        let exponent = match &self.instrument {
            Instrument::Throttle(throttle) => throttle.isentropic_exponent.is_some(),
            Instrument::Pitot(_) => false,
        };
        exponent || is_air(&self.surroundings.fluid)
    }

    /// In words what an unknown of a meter may be called in the answer: `the flow`.
    pub fn sought_words(&self, unknown: Unknown) -> &'static str {
        match (unknown, &self.instrument) {
            (Unknown::Flow, _) => "the flow",
            (Unknown::Differential, _) => "the differential pressure",
            (Unknown::Deflection, _) => "the deflection of the manometer",
            (Unknown::ThroatDiameter, _) => "the diameter of the throat",
            (Unknown::Coefficient, Instrument::Throttle(_)) => "the discharge coefficient",
            (Unknown::Coefficient, Instrument::Pitot(_)) => "the coefficient of the tube",
            (Unknown::Velocity, _) => "the velocity at the tip",
        }
    }
}
