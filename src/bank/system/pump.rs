//! What is said of a pump or a turbine beside its head or power.

use super::problem::number;
use super::slot::{Of, Slot};
use super::{Duty, Element, PathSystem, Value};
use crate::bank::names::pipe_suffix;
use crate::bank::system::kind::ResultName;
use crate::fault::Fault;
use crate::hydraulics::curve::{self, CurveError};
use crate::hydraulics::path;
use crate::hydraulics::solve::Unknown;
use crate::quantity::Dimension;

/// A curve over the flow of one pump, at its rated speed and with its full impeller.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// `{ a: 32 m, b: 0 s/m^2, c: -5000 s^2/m^5 }`: `a + b Q + c Q²`.
    Quadratic(Box<Quadratic>),
    /// `[[0 L/s, 32 m], [10 L/s, 30.5 m]]`, or the same as `points:` with `fit: parabola`.
    Points {
        /// Flow and value of each.
        points: Vec<(Value, Value)>,
        /// Whether the curve is the parabola that fits them best; else it runs through them.
        parabola: bool,
    },
}

/// `a + b Q + c Q²`.
#[derive(Debug, Clone, PartialEq)]
pub struct Quadratic {
    /// Value without flow.
    pub a: Value,
    /// Per flow.
    pub b: Option<Value>,
    /// Per square of the flow.
    pub c: Option<Value>,
    /// Flow up to which it is known.
    pub end: Option<Value>,
}

/// One value at every flow, or a curve.
#[derive(Debug, Clone, PartialEq)]
pub enum OverFlow {
    /// One value.
    Value(Box<Value>),
    /// A curve.
    Curve(Curve),
}

/// What a curve is of: the places that its values stand in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::bank) struct Places {
    pub(in crate::bank) value: Slot,
    pub(in crate::bank) per_flow: Slot,
    pub(in crate::bank) per_flow_squared: Slot,
}

/// A curve of heads.
pub(in crate::bank) const HEADS: Places = Places {
    value: Slot::Head,
    per_flow: Slot::HeadPerFlow,
    per_flow_squared: Slot::HeadPerFlowSquared,
};

/// A curve of the net positive suction head that a pump needs.
pub(in crate::bank) const NPSH: Places = Places {
    value: Slot::NpshRequired,
    ..HEADS
};

/// A curve of efficiencies.
pub(in crate::bank) const EFFICIENCIES: Places = Places {
    value: Slot::Share,
    per_flow: Slot::SharePerFlow,
    per_flow_squared: Slot::SharePerFlowSquared,
};

/// Visits a value and says what becomes of it.
type Visit<'a> = &'a mut dyn FnMut(Slot, Of<'_>, &Value) -> Value;

fn visit(value: &Option<Value>, slot: Slot, of: Of<'_>, f: Visit<'_>) -> Option<Value> {
    value.as_ref().map(|v| f(slot, of, v))
}

impl Curve {
    /// The same with every value replaced.
    pub(super) fn map(&self, places: Places, of: Of<'_>, f: Visit<'_>) -> Self {
        match self {
            Self::Quadratic(own) => Self::Quadratic(Box::new(Quadratic {
                a: f(places.value, of, &own.a),
                b: visit(&own.b, places.per_flow, of, f),
                c: visit(&own.c, places.per_flow_squared, of, f),
                end: visit(&own.end, Slot::CurveFlow, of, f),
            })),
            Self::Points { points, parabola } => Self::Points {
                points: points
                    .iter()
                    .map(|(flow, value)| (f(Slot::CurveFlow, of, flow), f(places.value, of, value)))
                    .collect(),
                parabola: *parabola,
            },
        }
    }

    /// In SI numbers.
    ///
    /// # Errors
    /// Points that make no curve; a value that is not known yet.
    pub fn si(&self) -> Result<curve::Curve, CurveError> {
        match self {
            Self::Quadratic(own) => {
                let of = |value: &Option<Value>| value.as_ref().map_or(0.0, number);
                let whole = curve::Curve::quadratic(number(&own.a), of(&own.b), of(&own.c))?;
                match &own.end {
                    None => Ok(whole),
                    Some(end) if number(end).is_finite() => Ok(whole.up_to(number(end))),
                    Some(_) => Err(CurveError::NotFinite),
                }
            }
            Self::Points { points, parabola } => {
                let points: Vec<(f64, f64)> = points.iter().map(|(q, v)| (number(q), number(v))).collect();
                if *parabola {
                    curve::Curve::fitted(&points)
                } else {
                    curve::Curve::through(&points)
                }
            }
        }
    }
}

impl OverFlow {
    fn map(&self, places: Places, of: Of<'_>, f: Visit<'_>) -> Self {
        match self {
            Self::Value(value) => Self::Value(Box::new(f(places.value, of, value))),
            Self::Curve(curve) => Self::Curve(curve.map(places, of, f)),
        }
    }

    fn si(&self) -> path::OverFlow {
        match self {
            Self::Value(value) => path::OverFlow::Value(number(value)),
            // What makes no curve is told before anything is computed.
            Self::Curve(curve) => curve
                .si()
                .map_or(path::OverFlow::Value(f64::NAN), path::OverFlow::Curve),
        }
    }
}

/// What a motor or a generator does with the shaft's power, and what that costs or earns.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Electric {
    /// `motor efficiency` or `generator efficiency`.
    pub efficiency: Option<Value>,
    /// `running time`, in a year.
    pub running_time: Option<Value>,
    /// `price` of energy, in a currency that is not named.
    pub price: Option<Value>,
}

impl Electric {
    pub(super) fn map(&self, pump: bool, of: Of<'_>, f: Visit<'_>) -> Self {
        let slot = if pump {
            Slot::MotorEfficiency
        } else {
            Slot::GeneratorEfficiency
        };
        Self {
            efficiency: visit(&self.efficiency, slot, of, f),
            running_time: visit(&self.running_time, Slot::RunningTime, of, f),
            price: visit(&self.price, Slot::Price, of, f),
        }
    }

    /// Puts what is said here into a machine.
    pub(super) fn put(&self, machine: &mut path::Machine) {
        machine.electric_efficiency = self.efficiency.as_ref().map_or(1.0, number);
        machine.running_time = self.running_time.as_ref().map(number);
        machine.price = self.price.as_ref().map(number);
    }
}

/// What is said of a pump beside its duty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PumpDetails {
    /// `efficiency` as a curve.
    pub efficiency: Option<Curve>,
    /// `rated speed`, of the curve.
    pub rated_speed: Option<Value>,
    /// `speed`, at which the pump runs.
    pub speed: Option<Value>,
    /// `full impeller`, of the curve.
    pub full_impeller: Option<Value>,
    /// `impeller`, as it is trimmed.
    pub impeller: Option<Value>,
    /// `parallel`: how many equal pumps stand side by side.
    pub parallel: Option<Value>,
    /// `series`: how many equal pumps stand one behind the other.
    pub series: Option<Value>,
    /// `npsh required`.
    pub npsh_required: Option<OverFlow>,
    /// `elevation` of the inlet.
    pub elevation: Option<Value>,
    /// The motor.
    pub electric: Electric,
}

impl PumpDetails {
    pub(super) fn map(&self, of: Of<'_>, f: Visit<'_>) -> Self {
        Self {
            efficiency: self.efficiency.as_ref().map(|c| c.map(EFFICIENCIES, of, f)),
            rated_speed: visit(&self.rated_speed, Slot::RatedSpeed, of, f),
            speed: visit(&self.speed, Slot::Speed, of, f),
            full_impeller: visit(&self.full_impeller, Slot::FullImpeller, of, f),
            impeller: visit(&self.impeller, Slot::Impeller, of, f),
            parallel: visit(&self.parallel, Slot::Parallel, of, f),
            series: visit(&self.series, Slot::Series, of, f),
            npsh_required: self.npsh_required.as_ref().map(|n| n.map(NPSH, of, f)),
            elevation: visit(&self.elevation, Slot::PumpElevation, of, f),
            electric: self.electric.map(true, of, f),
        }
    }

    /// The head curve of all pumps together, as they run.
    fn together(&self, curve: &Curve) -> Result<curve::Curve, CurveError> {
        let mut curve = curve.si()?;
        if let Some(rated) = &self.rated_speed {
            curve = curve.rated_at(number(rated));
        }
        if let Some(speed) = &self.speed {
            curve = curve.at_speed(number(speed));
        }
        if let Some(full) = &self.full_impeller {
            curve = curve.with_impeller(number(full));
        }
        if let Some(impeller) = &self.impeller {
            curve = curve.trimmed(number(impeller));
        }
        let count = |value: &Option<Value>| value.as_ref().map_or(1, |v| number(v) as u32);
        Ok(curve
            .in_parallel(count(&self.parallel))
            .in_series(count(&self.series)))
    }

    /// The pump in SI numbers; `seek` looks at values that may be unknown.
    pub(super) fn machine(
        &self,
        duty: &Duty,
        efficiency: Option<&Value>,
        index: usize,
        seek: &mut dyn FnMut(&Value, Unknown) -> f64,
    ) -> path::Machine {
        let duty = match duty {
            Duty::Head(v) => path::Duty::Head(seek(v, Unknown::PumpHead(index))),
            Duty::Power(v) => path::Duty::Power(seek(v, Unknown::PumpPower(index))),
            Duty::Curve(curve) => {
                for (value, unknown) in [
                    (&self.speed, Unknown::PumpSpeed(index)),
                    (&self.impeller, Unknown::PumpTrim(index)),
                ] {
                    if let Some(value) = value {
                        seek(value, unknown);
                    }
                }
                // What makes no curve is told before anything is computed.
                self.together(curve)
                    .map_or(path::Duty::Head(f64::NAN), path::Duty::Curve)
            }
        };
        let mut machine = path::Machine::new(duty, efficiency.map_or(1.0, number));
        if let Some(curve) = &self.efficiency {
            machine.efficiency = OverFlow::Curve(curve.clone()).si();
        }
        machine.npsh_required = self.npsh_required.as_ref().map(OverFlow::si);
        machine.elevation = self.elevation.as_ref().map(number);
        self.electric.put(&mut machine);
        machine
    }

    /// Whether the pump has the result of this base name.
    fn has(&self, base: &str, duty: &Duty, vapour: bool) -> bool {
        let curved = matches!(duty, Duty::Curve(_));
        match base {
            "Q_P" => self.parallel.is_some(),
            "eta" => self.efficiency.is_some(),
            "P_f" => true,
            "NPSH_a" => vapour && self.elevation.is_some(),
            "z_P" => self.elevation.is_some(),
            "NPSH_r" => self.npsh_required.is_some(),
            "n" => curved && self.rated_speed.is_some(),
            "D_P" => curved && self.full_impeller.is_some(),
            base => self.electric.has(base),
        }
    }

    /// Whether every value is known by now, so that they can be looked at together.
    fn settled(&self, duty: &Duty) -> bool {
        let mut settled = true;
        let mut look = |_: Slot, _: Of<'_>, value: &Value| {
            settled &= !matches!(value, Value::Formula(_));
            Value::Unknown
        };
        let _ = self.map(Of::System, &mut look);
        if let Duty::Curve(curve) = duty {
            let _ = curve.map(HEADS, Of::System, &mut look);
        }
        settled
    }

    /// What is wrong between values that are each possible.
    pub(in crate::bank) fn faults(&self, name: &str, duty: &Duty) -> Vec<Fault> {
        let mut faults = Vec::new();
        if !self.settled(duty) {
            return faults;
        }
        let curves = [
            (
                "head",
                match duty {
                    Duty::Curve(curve) => Some(curve.as_ref()),
                    _ => None,
                },
            ),
            ("efficiency", self.efficiency.as_ref()),
            (
                "required NPSH",
                match &self.npsh_required {
                    Some(OverFlow::Curve(curve)) => Some(curve),
                    _ => None,
                },
            ),
        ];
        for (what, curve) in curves {
            let Some(curve) = curve else { continue };
            match curve.si() {
                Err(error) => faults.push(curve_fault(name, what, error)),
                Ok(si) if what == "head" && !si.range().1.is_finite() => faults.push(
                    Fault::new(format!(
                        "the head of `{name}` never falls to nought, however large the flow"
                    ))
                    .mend("check the signs of `b` and `c`, or say with `up to` how far the curve is known"),
                ),
                Ok(_) => {}
            }
        }
        if let (Some(Value::Known(full)), Some(Value::Known(now))) = (&self.full_impeller, &self.impeller)
            && now.quantity().value > full.quantity().value
        {
            faults.push(
                Fault::new(format!(
                    "the impeller of `{name}` is {}, larger than the full one of {}",
                    now.ascii(),
                    full.ascii()
                ))
                .mend("an impeller can only be trimmed; give the curve of the larger one"),
            );
        }
        faults
    }
}

fn curve_fault(name: &str, what: &str, error: CurveError) -> Fault {
    match error {
        CurveError::TooFew { needed } => {
            Fault::new(format!("the curve of {what} of `{name}` has too few points"))
                .mend(format!("give it {needed} points or more"))
        }
        CurveError::NotRising { point } => Fault::new(format!(
            "the curve of {what} of `{name}`: the flow of point {} is not larger than that before it",
            point + 1
        ))
        .mend("write the points in the order of their flows, each flow once"),
        CurveError::NotFinite => Fault::new(format!(
            "the curve of {what} of `{name}` holds a number without end"
        ))
        .mend("check its values"),
    }
}

/// Names of the results that machines have, with meaning and dimension. One machine has them alone; of several,
/// each carries its name (`NPSH_a_lift_pump`).
pub const MACHINE_NAMES: &[(&str, &str, Dimension)] = &[
    ("Q_P", "flow through each of the equal pumps", Dimension::FLOW),
    (
        "eta",
        "efficiency of the pump, read off its curve",
        Dimension::NONE,
    ),
    ("P_f", "power between machine and fluid", Dimension::POWER),
    ("P_el", "electric power", Dimension::POWER),
    ("E_year", "electric energy in a year", Dimension::ENERGY),
    (
        "cost",
        "what the energy of a year costs or earns",
        Dimension::NONE,
    ),
    ("NPSH_a", "net positive suction head available", Dimension::LENGTH),
    ("NPSH_r", "net positive suction head required", Dimension::LENGTH),
    ("z_P", "elevation of the pump's inlet", Dimension::LENGTH),
    ("n", "speed of rotation", Dimension::RATE),
    ("D_P", "diameter of the impeller", Dimension::LENGTH),
];

impl PathSystem {
    /// Each machine's results by name: the name as it stands in formulas, its base in [`MACHINE_NAMES`], and the
    /// machine's index among pumps and turbines together.
    pub fn machine_results(&self) -> Vec<(String, &'static str, usize)> {
        let machines: Vec<&Element> = self
            .path
            .iter()
            .filter(|e| matches!(e, Element::Pump { .. } | Element::Turbine { .. }))
            .collect();
        let vapour = self.has_vapour_pressure();
        let mut all = Vec::new();
        for (i, machine) in machines.iter().enumerate() {
            for (base, _, _) in MACHINE_NAMES {
                let (name, has) = match machine {
                    Element::Pump {
                        name, duty, details, ..
                    } => (name, details.has(base, duty, vapour)),
                    Element::Turbine { name, electric, .. } => (name, *base == "P_f" || electric.has(base)),
                    _ => continue,
                };
                if has {
                    let own = if machines.len() == 1 {
                        (*base).to_owned()
                    } else {
                        format!("{base}_{}", identifier(name))
                    };
                    all.push((own, *base, i));
                }
            }
        }
        all
    }

    /// The same, with meaning and dimension.
    pub(in crate::bank) fn machine_result_names(&self) -> Vec<ResultName> {
        self.machine_results()
            .into_iter()
            .filter_map(|(name, base, _)| {
                let (_, meaning, dimension) = MACHINE_NAMES.iter().find(|(b, _, _)| *b == base)?;
                Some(ResultName::plain(name, *meaning, *dimension))
            })
            .collect()
    }

    /// The value as written that a machine's result stands for.
    pub fn stated_of_machine(&self, result: &str) -> Option<&Value> {
        let (_, base, index) = self
            .machine_results()
            .into_iter()
            .find(|(own, _, _)| own == result)?;
        let machines = self
            .path
            .iter()
            .filter(|e| matches!(e, Element::Pump { .. } | Element::Turbine { .. }));
        let Element::Pump { details, .. } = { machines }.nth(index)? else {
            return None;
        };
        match base {
            "n" => details.speed.as_ref().or(details.rated_speed.as_ref()),
            "D_P" => details.impeller.as_ref().or(details.full_impeller.as_ref()),
            "z_P" => details.elevation.as_ref(),
            "NPSH_r" => match &details.npsh_required {
                Some(OverFlow::Value(value)) => Some(value),
                _ => None,
            },
            _ => None,
        }
    }

    /// Whether the fluid's vapour pressure is known.
    pub fn has_vapour_pressure(&self) -> bool {
        match &self.fluid {
            super::Fluid::Named { name, .. } => name.is_liquid(),
            super::Fluid::Given { vapour_pressure, .. } => vapour_pressure.is_some(),
        }
    }
}

impl Electric {
    fn has(&self, base: &str) -> bool {
        match base {
            "P_el" => self.efficiency.is_some() || self.running_time.is_some(),
            "E_year" => self.running_time.is_some(),
            "cost" => self.price.is_some(),
            _ => false,
        }
    }
}

/// A name as it can stand in a formula.
fn identifier(name: &str) -> String {
    pipe_suffix(name)
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
        .collect()
}
