//! The YAML of a system.

mod ageing;
mod duct;
mod leak;
pub(super) mod loss;
mod meter;
mod network;
mod profile;
mod pump;
mod tank;

use super::problem::{WHAT_MAY_BE, below_vacuum, impossible, out_of_range, too_rough};
use super::pump::HEADS;
use super::slot::{Of, Slot};
use super::tank::TANK_UNKNOWNS;
use super::{Bore, Duty, Element, Fluid, PathSystem, Point, Station, Surroundings, System, Value, Velocity};
use crate::bank::formula::{self, Names};
use crate::bank::names::pipe_suffix;
use crate::bank::yaml::{Cursor, Fields, listed};
use crate::constants::physical;
use crate::equation::Expr;
use crate::fault::{Fault, nearest};
use crate::fluid::Named;
use crate::hydraulics::sizes::Series;
use crate::quantity::{PressureReference, Written};
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

/// Longest name of anything on a path.
const NAME_LENGTH: usize = 60;

/// Reads a system of any kind. In a template, `givens` are the names that its values may use.
pub(in crate::bank) fn system(at: &Cursor<'_>, givens: Option<&Names>) -> Option<System> {
    let has = |name: &str| at.look(name).is_some();
    if has("gauges") {
        return Reader::new(givens)
            .leak(at)
            .map(|leak| System::Leak(Box::new(leak)));
    }
    if has("meter") {
        return Reader::new(givens)
            .meter(at)
            .map(|meter| System::Meter(Box::new(meter)));
    }
    if has("ageing") {
        return Reader::new(givens)
            .ageing(at)
            .map(|ageing| System::Ageing(Box::new(ageing)));
    }
    if has("tank") {
        return Reader::new(givens)
            .tank(at)
            .map(|tank| System::Tank(Box::new(tank)));
    }
    if has("nodes") || has("links") {
        return Reader::new(givens)
            .network(at)
            .map(|network| System::Network(Box::new(network)));
    }
    if has("profile") {
        return Reader::new(givens)
            .profile(at)
            .map(|profile| System::Profile(Box::new(profile)));
    }
    path_system(at, givens).map(|path| System::Path(Box::new(path)))
}

/// Reads a run of pipes between two stations.
pub(super) fn path_system(at: &Cursor<'_>, givens: Option<&Names>) -> Option<PathSystem> {
    let fields = at.fields(&["fluid", "gravity", "atmosphere", "flow", "stations", "path"])?;
    let reader = Reader::new(givens);
    let fluid = fields
        .need("fluid", "{ name: water, temperature: 20 degC }")
        .and_then(|c| reader.fluid(&c));
    let gravity = reader.or_default(&fields, "gravity", Slot::Gravity, "9.81 m/s^2");
    let atmosphere = reader.or_default(&fields, "atmosphere", Slot::Atmosphere, "101.325 kPa");
    let flow = fields
        .need("flow", "unknown")
        .and_then(|c| reader.value(&c, Slot::Flow, Of::System));
    let stations = fields.need(
        "stations",
        "{ start: { pressure: 320 kPa }, end: { pressure: 0 kPa } }",
    );
    let (start, end) = match stations.and_then(|c| c.fields(&["start", "end"])) {
        Some(stations) => (
            stations
                .need("start", "{ pressure: 320 kPa, elevation: 0 m }")
                .and_then(|c| reader.station(&c, Of::Start, atmosphere.as_ref())),
            stations
                .need("end", "{ pressure: 0 kPa, elevation: 12 m }")
                .and_then(|c| reader.station(&c, Of::End, atmosphere.as_ref())),
        ),
        None => (None, None),
    };
    let path = fields.need(
        "path",
        "[{ pipe: { name: riser, diameter: 40 mm, length: 60 m, roughness: 0.15 mm } }]",
    );
    let way = path.and_then(|c| reader.path(&c));
    reader.one_unknown(at, &fields);

    let way = way?;
    Some(PathSystem {
        fluid: fluid?,
        gravity: gravity?,
        atmosphere: atmosphere?,
        flow: flow?,
        start: start?,
        end: end?,
        path: way.path,
        points: way.points,
        sizes: way.sizes,
    })
}

struct Reader<'a> {
    givens: Option<&'a Names>,
    /// Values that are `unknown`, with their labels and lines.
    unknown: RefCell<Vec<(String, Fault, usize)>>,
    /// Whether a value could not be read; then the unknown may be among what was lost.
    lost: Cell<bool>,
    /// Whether a fluid's viscosity can be the unknown.
    viscosity_may_be_unknown: Cell<bool>,
}

impl<'a> Reader<'a> {
    fn new(givens: Option<&'a Names>) -> Self {
        Self {
            givens,
            unknown: RefCell::new(Vec::new()),
            lost: Cell::new(false),
            viscosity_may_be_unknown: Cell::new(false),
        }
    }

    /// Fluid, gravity and atmosphere.
    fn surroundings(&self, fields: &Fields<'_>) -> Option<Surroundings> {
        let fluid = fields
            .need("fluid", "{ name: water, temperature: 20 degC }")
            .and_then(|c| self.fluid(&c));
        let gravity = self.or_default(fields, "gravity", Slot::Gravity, "9.81 m/s^2");
        let atmosphere = self.or_default(fields, "atmosphere", Slot::Atmosphere, "101.325 kPa");
        Some(Surroundings {
            fluid: fluid?,
            gravity: gravity?,
            atmosphere: atmosphere?,
        })
    }

    fn or_default(&self, fields: &Fields<'_>, name: &str, slot: Slot, default: &str) -> Option<Value> {
        if fields.has(name) {
            self.value(&fields.get(name)?, slot, Of::System)
        } else {
            written(default).map(Value::Known)
        }
    }

    /// One value: `unknown`, a quantity, or in a template a formula over givens.
    fn value(&self, at: &Cursor<'_>, slot: Slot, of: Of<'_>) -> Option<Value> {
        let value = self.try_value(at, slot, of);
        if value.is_none() {
            self.lost.set(true);
        }
        value
    }

    fn try_value(&self, at: &Cursor<'_>, slot: Slot, of: Of<'_>) -> Option<Value> {
        let text = at.text()?;
        if let Some(name) = text.strip_prefix("{{").and_then(|rest| rest.split("}}").next()) {
            at.fault(
                "placeholders belong to texts, but a value stands here",
                format!("write `{}`", name.trim()),
            );
            return None;
        }
        let label = slot.label(of);
        if text == "unknown" {
            let viscosity = matches!(slot, Slot::DynamicViscosity | Slot::KinematicViscosity);
            if !(slot.may_be_unknown() || viscosity && self.viscosity_may_be_unknown.get()) {
                let may_be = match slot {
                    Slot::Tank(_) => TANK_UNKNOWNS,
                    Slot::Demand | Slot::Supply | Slot::Level => {
                        "a network is solved for all its flows and heads at once, and takes no unknown"
                    }
                    _ => WHAT_MAY_BE,
                };
                at.fault(format!("the {label} can't be the unknown"), may_be);
                return None;
            }
            self.unknown
                .borrow_mut()
                .push((label, Fault::new("").at(at.place()), at.line()));
            return Some(Value::Unknown);
        }
        match Written::parse(text) {
            Ok(written) => self.known(at, slot, of, written).map(Value::Known),
            Err(error) => {
                if self.is_formula(text) {
                    if self.givens.is_some() {
                        return self.formula(at, slot);
                    }
                    at.fault(
                        format!("`{text}` is a formula, but a system by itself holds values only"),
                        format!(
                            "write a value such as `{}`, or make it a template",
                            slot.example()
                        ),
                    );
                    return None;
                }
                if nearest(text, ["unknown"]).is_some() {
                    at.fault(format!("`{text}` is no value"), "did you mean `unknown`?");
                } else {
                    let here = format!("{} stands here, such as `{}`", slot.needed(), slot.example());
                    let mend = error.mend.map_or(here.clone(), |mend| format!("{mend}; {here}"));
                    at.fault(format!("{}: {}", at.called(), error.what), mend);
                }
                None
            }
        }
    }

    /// Whether a text that is no quantity was meant as a formula.
    fn is_formula(&self, text: &str) -> bool {
        let given = |word: &str| self.givens.is_some_and(|g| g.contains_key(word));
        let words = || text.split(|c: char| !c.is_alphanumeric() && c != '_');
        let begins_with_name = text.starts_with(|c: char| c.is_alphabetic() || c == '(' || c == '_');
        let reads = || Expr::parse(text).is_ok_and(|expr| !expr.symbols().is_empty());
        words().any(given)
            || (text.contains(['*', '(', '+']) && reads())
            || (self.givens.is_some() && begins_with_name && text != "unknown")
    }

    fn formula(&self, at: &Cursor<'_>, slot: Slot) -> Option<Value> {
        let (expr, dimension) = formula::read(at, self.givens?, &|_| None)?;
        if !slot.fits(dimension) {
            at.fault(
                format!(
                    "`{}` gives {} for {}, but {} is needed",
                    at.text()?,
                    dimension.name(),
                    at.called(),
                    slot.needed()
                ),
                "check the formula and the units of the givens",
            );
            return None;
        }
        Some(Value::Formula(expr))
    }

    fn known(&self, at: &Cursor<'_>, slot: Slot, of: Of<'_>, written: Written) -> Option<Written> {
        if !slot.fits(written.unit.dimension) {
            let given = if written.unit.symbol.is_empty() {
                "without a unit".to_owned()
            } else {
                format!("in `{}`", unit_as_typed(at.text()?))
            };
            at.fault(
                format!(
                    "{} is given {given}, but {} is needed",
                    at.called(),
                    slot.needed()
                ),
                if slot.units() == "no unit" {
                    "write it without a unit".to_owned()
                } else {
                    format!("write {}", slot.units())
                },
            );
            return None;
        }
        if slot == Slot::Angle && written.unit.symbol.is_empty() {
            at.fault(
                format!("{} is given without a unit, but an angle is needed", at.called()),
                format!("write {}", slot.units()),
            );
            return None;
        }
        if written.unit.reference == Some(PressureReference::Gauge)
            && matches!(slot, Slot::Atmosphere | Slot::VapourPressure)
        {
            at.fault(
                format!("the {} is always absolute, but is given as gauge", slot.noun()),
                "write the absolute pressure",
            );
            return None;
        }
        if let Some(why) = slot.impossible(written.quantity().value) {
            at.add(impossible(slot, of, &written, why).at(at.place()));
            return None;
        }
        Some(written)
    }

    fn fluid(&self, at: &Cursor<'_>) -> Option<Fluid> {
        let fields = at.fields(&[
            "name",
            "temperature",
            "density",
            "dynamic viscosity",
            "kinematic viscosity",
            "vapour pressure",
        ])?;
        let properties: Vec<&str> = [
            "density",
            "dynamic viscosity",
            "kinematic viscosity",
            "vapour pressure",
        ]
        .into_iter()
        .filter(|name| fields.has(name))
        .collect();
        if !properties.is_empty() {
            return self.fluid_by_properties(&fields);
        }
        let name = fields.need("name", "water");
        let temperature = fields
            .need("temperature", "20 degC")
            .and_then(|c| self.value(&c, Slot::Temperature, Of::System));
        let name = name?;
        let text = name.text()?;
        let Some(named) = Named::ALL.into_iter().find(|n| n.name() == text) else {
            let known = Named::ALL.map(Named::name);
            name.fault(
                format!("no fluid called `{text}` is known by its name alone"),
                match nearest(text, known) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!(
                        "give its `density` and `dynamic viscosity`, or take one of {}",
                        listed(&known)
                    ),
                },
            );
            return None;
        };
        let temperature = temperature?;
        if let Value::Known(written) = &temperature
            && let Err(out) = named.properties(written.quantity().value, physical::STANDARD_ATMOSPHERE.value)
        {
            let place = fields.get("temperature").unwrap_or_else(|| name.clone());
            place.add(out_of_range(named, written, out.range).at(place.place()));
            return None;
        }
        Some(Fluid::Named {
            name: named,
            temperature,
            by_table: false,
            always_si: false,
        })
    }

    fn fluid_by_properties(&self, fields: &Fields<'_>) -> Option<Fluid> {
        if let Some(temperature) = fields.get("temperature") {
            temperature.key_fault(
                "a fluid given by its properties has no use for a temperature",
                "take the temperature out, or the properties",
            );
        }
        let name = match fields.get("name") {
            Some(c) => Some(words(&c)?.to_owned()),
            None => None,
        };
        let density = fields
            .need("density", "998 kg/m^3")
            .and_then(|c| self.value(&c, Slot::Density, Of::System));
        let dynamic = fields.get("dynamic viscosity");
        let kinematic = fields.get("kinematic viscosity");
        let viscosity = match (dynamic, kinematic) {
            (Some(_), Some(second)) => {
                second.key_fault(
                    "the viscosity is given twice, as dynamic and as kinematic",
                    "keep one of the two",
                );
                None
            }
            (Some(c), None) => self.value(&c, Slot::DynamicViscosity, Of::System),
            (None, Some(c)) => self.value(&c, Slot::KinematicViscosity, Of::System),
            (None, None) => {
                if !fields.has("kinematic viscosity") {
                    fields.need("dynamic viscosity", "1.0e-3 Pa.s");
                }
                None
            }
        };
        let vapour_pressure = match fields.get("vapour pressure") {
            Some(c) => Some(self.value(&c, Slot::VapourPressure, Of::System)?),
            None => None,
        };
        Some(Fluid::Given {
            name,
            density: density?,
            viscosity: viscosity?,
            vapour_pressure,
        })
    }

    fn station(&self, at: &Cursor<'_>, of: Of<'_>, atmosphere: Option<&Value>) -> Option<Station> {
        let fields = at.fields(&["name", "pressure", "elevation", "velocity", "alpha"])?;
        let name = match fields.get("name") {
            Some(c) => words(&c).map(|name| Some(name.to_owned())),
            None => Some(None),
        };
        let pressure = fields.need("pressure", "0 kPa").and_then(|c| {
            let value = self.value(&c, Slot::Pressure, of);
            if let (Some(Value::Known(pressure)), Some(Value::Known(atmosphere))) = (&value, atmosphere)
                && let Some(fault) = below_vacuum(of, pressure, atmosphere)
            {
                c.add(fault.at(c.place()));
            }
            value
        });
        let elevation = if fields.has("elevation") {
            fields
                .get("elevation")
                .and_then(|c| self.value(&c, Slot::Elevation, of))
        } else {
            written("0 m").map(Value::Known)
        };
        let velocity = match fields.get("velocity") {
            Some(c) => self.velocity(&c, of),
            None => Some(Velocity::Pipe),
        };
        let alpha = match fields.get("alpha") {
            Some(c) => self.value(&c, Slot::Alpha, of).map(Some),
            None => Some(None),
        };
        Some(Station {
            name: name?,
            pressure: pressure?,
            elevation: elevation?,
            velocity: velocity?,
            alpha: alpha?,
        })
    }

    fn velocity(&self, at: &Cursor<'_>, of: Of<'_>) -> Option<Velocity> {
        if at.is_map() {
            let jet = at.fields(&["jet"])?.need("jet", "30 mm")?;
            return self.value(&jet, Slot::Jet, of).map(Velocity::Jet);
        }
        match at.text()? {
            "pipe" => Some(Velocity::Pipe),
            "unknown" => {
                self.lost.set(true);
                at.fault(
                    "the velocity at a station can't be the unknown",
                    "write `velocity: pipe` for that of the adjoining pipe, and make the flow the unknown",
                );
                None
            }
            text if nearest(text, ["pipe"]).is_some() => {
                at.fault(format!("`{text}` is no velocity"), "did you mean `pipe`?");
                None
            }
            _ => self.value(at, Slot::Velocity, of).map(Velocity::Value),
        }
    }

    fn path(&self, at: &Cursor<'_>) -> Option<Way> {
        let items = at.list()?;
        let mut names: BTreeMap<String, usize> = BTreeMap::new();
        let mut suffixes: BTreeMap<String, String> = BTreeMap::new();
        // Elements as far as they could be read; a loss waits for the pipes' names.
        let mut read: Vec<Option<Element>> = Vec::new();
        let mut losses: Vec<loss::Waiting<'_>> = Vec::new();
        let mut pipes: Vec<String> = Vec::new();
        let mut points: Vec<Option<Point>> = Vec::new();
        let mut point_suffixes: BTreeMap<String, String> = BTreeMap::new();
        let mut sizes = None;
        let mut sizes_good = true;
        for item in &items {
            let Some((kind, inner)) = one_of(item) else {
                read.push(None);
                continue;
            };
            let mut name_of = |fields: &Fields<'_>, example: &str| -> Option<String> {
                let c = fields.need("name", example)?;
                let name = words(&c)?.to_owned();
                let line = c.line();
                if let Some(first) = names.insert(name.clone(), line) {
                    c.fault(
                        format!("`{name}` is on the path already, on line {first}"),
                        format!("give each its own name, such as `second {name}`"),
                    );
                    return None;
                }
                Some(name)
            };
            read.push(match kind {
                "pipe" => {
                    let Some(fields) =
                        inner.fields(&["name", "diameter", "section", "length", "roughness", "sizes"])
                    else {
                        pipes.push(String::new());
                        read.push(None);
                        continue;
                    };
                    let name = name_of(&fields, "riser");
                    if let (Some(name), Some(c)) = (&name, fields.get("name")) {
                        pipe_name(&c, name, &mut suffixes);
                    }
                    pipes.push(name.clone().unwrap_or_default());
                    let of = Of::Element(name.as_deref().unwrap_or("the pipe"));
                    let value = |field: &str, slot: Slot| {
                        let c = fields.need(field, slot.example())?;
                        self.value(&c, slot, of)
                    };
                    let (d, l, e) = (
                        self.bore(&fields, of),
                        value("length", Slot::Length),
                        value("roughness", Slot::Roughness),
                    );
                    if let Some(c) = fields.get("sizes") {
                        sizes = loss::series(&c, d.as_ref());
                        sizes_good &= sizes.is_some();
                    }
                    if let (Some(name), Some(d), Some(Value::Known(e))) = (&name, &d, &e)
                        && let Some(fault) = too_rough(name, d.hydraulic_diameter(), e)
                        && let Some(c) = fields.get("roughness")
                    {
                        c.add(fault.at(c.place()));
                    }
                    match (name, d, l, e) {
                        (Some(name), Some(bore), Some(length), Some(roughness)) => Some(Element::Pipe {
                            name,
                            bore,
                            length,
                            roughness,
                        }),
                        _ => None,
                    }
                }
                "loss" => {
                    let Some(fields) = inner.fields(&loss::LOSS) else {
                        read.push(None);
                        continue;
                    };
                    let name = name_of(&fields, "gate valve");
                    let of = Of::Element(name.as_deref().unwrap_or("the loss"));
                    let told = self.loss_by(&fields, of);
                    losses.push(loss::Waiting {
                        element: read.len(),
                        before: pipes.len(),
                        named: fields.get("in"),
                        change: fields.get("expansion").or_else(|| fields.get("contraction")),
                    });
                    match (name, told) {
                        (Some(name), Some((by, coefficient))) => Some(Element::Loss {
                            name,
                            coefficient,
                            by,
                            pipe: 0,
                        }),
                        _ => None,
                    }
                }
                "point" => {
                    if let Some(fields) = inner.fields(&["name", "elevation", "along"]) {
                        let name = name_of(&fields, "summit");
                        let last = read.last().and_then(Option::as_ref);
                        points.push(self.point(&fields, name, read.len(), last, &mut point_suffixes));
                    } else {
                        points.push(None);
                    }
                    continue;
                }
                _ => {
                    let known = if kind == "pump" {
                        pump::PUMP_FIELDS
                    } else {
                        pump::TURBINE_FIELDS
                    };
                    let Some(fields) = inner.fields(known) else {
                        read.push(None);
                        continue;
                    };
                    let name = name_of(&fields, if kind == "pump" { "booster" } else { "turbine" });
                    self.machine(kind, &fields, name)
                }
            });
        }
        if pipes.is_empty() {
            at.fault(
                "the path has no pipe",
                "add one, such as `- pipe: { name: riser, diameter: 40 mm, length: 60 m, roughness: 0.15 mm }`",
            );
            return None;
        }
        let mut changes_good = true;
        for waiting in losses {
            let i = waiting.element;
            if let Some(change) = &waiting.change {
                let good = match &mut read[i] {
                    Some(element) => loss::settle_change(element, &waiting, change, pipes.len()),
                    None => false,
                };
                let fault = if good { wrong_way(&read, i) } else { None };
                let at_fault = fault.is_some();
                if let Some(fault) = fault {
                    change.add(fault.at(change.key_place()));
                }
                if !good || at_fault {
                    changes_good = false;
                }
                continue;
            }
            let index = match waiting.named {
                None => Some(waiting.before.saturating_sub(1)),
                Some(c) => c.text().and_then(|text| {
                    let found = pipes.iter().position(|p| p == text);
                    if found.is_none() {
                        let known = pipes.iter().map(String::as_str).filter(|p| !p.is_empty());
                        let all: Vec<&str> = known.clone().collect();
                        c.fault(
                            format!("there is no pipe called `{text}`"),
                            match nearest(text, known) {
                                Some(near) => format!("did you mean `{near}`?"),
                                None => the_pipes(&all),
                            },
                        );
                    }
                    found
                }),
            };
            match (index, read.get_mut(i)) {
                (Some(index), Some(Some(Element::Loss { pipe, .. }))) => *pipe = index,
                (None, Some(slot)) => *slot = None,
                _ => {}
            }
        }
        let path: Option<Vec<Element>> = read.into_iter().collect();
        let points: Option<Vec<Point>> = points.into_iter().collect();
        match (path, points) {
            (Some(path), Some(points)) if sizes_good && changes_good => Some(Way { path, points, sizes }),
            _ => None,
        }
    }

    fn machine(&self, kind: &str, fields: &Fields<'_>, name: Option<String>) -> Option<Element> {
        let of = Of::Element(name.as_deref().unwrap_or(kind));
        let power_said = fields.has("power");
        let duty = match (fields.get("head"), fields.get("power")) {
            (first, second) if fields.has("curve") => {
                if let Some(other) = first.or(second) {
                    other.key_fault(
                        format!("a curve of the {kind} is given, and so is its {}", other.called()),
                        "keep one of the two; the curve gives a head at every flow",
                    );
                }
                fields
                    .get("curve")
                    .and_then(|c| self.curve(&c, HEADS, of))
                    .map(|curve| Duty::Curve(Box::new(curve)))
            }
            (Some(_), Some(power)) => {
                power.key_fault(
                    format!("both head and power of the {kind} are given"),
                    "keep one of the two; the other follows from it",
                );
                None
            }
            (Some(c), None) => self.value(&c, Slot::Head, of).map(Duty::Head),
            (None, Some(c)) => self.value(&c, Slot::Power, of).map(Duty::Power),
            (None, None) => {
                if !fields.has("head") && !power_said {
                    fields.at.fault(
                        format!("neither head nor power of the {kind} is given"),
                        if kind == "pump" {
                            "add `head: 15 m`, or `power: 2.2 kW` with an `efficiency`, or a `curve`"
                        } else {
                            "add `head: 15 m`, or `power: 2.2 kW` with an `efficiency`"
                        },
                    );
                }
                None
            }
        };
        let efficiency = match fields.get("efficiency") {
            // A curve is read with the other details.
            Some(c) if kind == "pump" && (c.is_map() || c.is_list()) => {
                if power_said {
                    c.key_fault(
                        "an efficiency curve goes with a head or a head curve, not with a power",
                        "give the efficiency as one value, or the head instead of the power",
                    );
                }
                Some(None)
            }
            Some(c) => self.value(&c, Slot::Efficiency, of).map(Some),
            None => {
                if power_said && !fields.has("efficiency") && !fields.has("head") {
                    fields.at.fault(
                        format!("the power of the {kind} needs its efficiency to give a head"),
                        "add it, such as `efficiency: 0.75` (1 for an ideal machine)",
                    );
                }
                Some(None)
            }
        };
        if kind == "pump" {
            let details = self.pump_details(fields, of, name.as_deref(), duty.as_ref());
            let (name, duty, efficiency, details) = (name?, duty?, efficiency?, details?);
            return Some(Element::Pump {
                name,
                duty,
                efficiency,
                details: Box::new(details),
            });
        }
        let electric = self.electric(fields, "generator efficiency", Slot::GeneratorEfficiency, of);
        let (name, duty, efficiency, electric) = (name?, duty?, efficiency?, electric?);
        Some(Element::Turbine {
            name,
            duty,
            efficiency,
            electric: Box::new(electric),
        })
    }

    /// Exactly one value is the unknown.
    fn one_unknown(&self, at: &Cursor<'_>, fields: &Fields<'_>) {
        let unknown = self.unknown.borrow();
        let Some((first, _, line)) = unknown.first() else {
            if !self.lost.get() {
                // A tank is asked for its time, most else for a flow.
                let asked = if fields.has("time") { "time" } else { "flow" };
                let place = fields.get(asked).unwrap_or_else(|| at.clone());
                place.fault(
                    "no value of the system is `unknown`",
                    format!("write `unknown` for the one value to be solved for, such as `{asked}: unknown`"),
                );
            }
            return;
        };
        for (label, fault, _) in unknown.iter().skip(1) {
            at.add(Fault {
                what: format!("the {label} is `unknown`, and so is the {first} on line {line}"),
                mend: Some("leave one value unknown and give the others".to_owned()),
                ..fault.clone()
            });
        }
    }
}

/// Why a system can't have this value here, as the end of a sentence; nothing where it can.
pub(in crate::bank) fn refused(system: &System, slot: Slot, of: Of<'_>, written: &Written) -> Option<String> {
    if !slot.fits(written.unit.dimension) {
        // Other faults say so.
        return None;
    }
    if let Some(why) = slot.impossible(written.quantity().value) {
        return Some(why.to_owned());
    }
    match (slot, system.fluid(), system.atmosphere()) {
        (Slot::Temperature, Fluid::Named { name, .. }, _) => name
            .properties(written.quantity().value, physical::STANDARD_ATMOSPHERE.value)
            .is_err()
            .then(|| format!("it is beyond what is known of {}", name.name())),
        (Slot::Pressure, _, Value::Known(atmosphere)) => {
            below_vacuum(of, written, atmosphere).map(|_| "it is below vacuum".to_owned())
        }
        _ => None,
    }
}

/// What lies between the stations.
struct Way {
    path: Vec<Element>,
    points: Vec<Point>,
    sizes: Option<&'static Series>,
}

/// The fault of an area that changes the other way than the loss says, where both diameters are known.
fn wrong_way(read: &[Option<Element>], loss: usize) -> Option<Fault> {
    let Some(Element::Loss { name, by, pipe, .. }) = read.get(loss)?.as_ref() else {
        return None;
    };
    let bore = |wanted: usize| {
        let pipes = read
            .iter()
            .filter(|e| matches!(e, None | Some(Element::Pipe { .. })));
        match { pipes }.nth(wanted)?.as_ref()? {
            // Of a duct the area counts, which is looked at when the system is solved.
            Element::Pipe {
                bore: Bore::Round(Value::Known(d)),
                ..
            } => Some(d),
            _ => None,
        }
    };
    // An element that could not be read may be a pipe or not: then nothing is said here.
    if read.iter().any(Option::is_none) {
        return None;
    }
    let wide = by.wider_pipe()?;
    let (narrow, wider) = (bore(*pipe)?, bore(wide)?);
    let ratio = narrow.quantity().value / wider.quantity().value;
    let (before, behind) = if *pipe < wide {
        (narrow, wider)
    } else {
        (wider, narrow)
    };
    loss::wrong_way(name, *by, ratio, &before.ascii(), &behind.ascii())
}

/// Which pipes there are, for a mend.
pub(in crate::bank) fn the_pipes(names: &[&str]) -> String {
    match names {
        [] => "give the pipes names first".to_owned(),
        [one] => format!("the only pipe is `{one}`"),
        several => format!("the pipes are {}", listed(several)),
    }
}

/// An item of the path: its kind and what it holds.
fn one_of<'d>(item: &Cursor<'d>) -> Option<(&'static str, Cursor<'d>)> {
    const KINDS: [&str; 5] = ["pipe", "loss", "pump", "turbine", "point"];
    let fields = item.fields(&KINDS)?;
    let mut found = KINDS.into_iter().filter(|kind| fields.has(kind));
    match (found.next(), found.next()) {
        (Some(kind), None) => Some((kind, fields.get(kind)?)),
        (Some(_), Some(second)) => {
            item.fault(
                format!("a `{second}` stands in the same item of the path as another element"),
                "begin each element on a line of its own with `-`",
            );
            None
        }
        (None, _) => {
            if item.entries().is_some_and(|e| e.is_empty()) {
                item.fault(
                    "the item of the path is empty",
                    format!("write one of {}", listed(&KINDS)),
                );
            }
            None
        }
    }
}

/// A name in words: short, on one line.
fn words<'d>(at: &Cursor<'d>) -> Option<&'d str> {
    let text = at.text()?;
    if text.is_empty() || text.chars().count() > NAME_LENGTH || text.chars().any(char::is_control) {
        at.fault(
            format!("{} needs 1 to {NAME_LENGTH} characters on one line", at.called()),
            "shorten it",
        );
        return None;
    }
    Some(text)
}

/// A pipe's name becomes part of the names of its results, so it must read as one.
fn pipe_name(at: &Cursor<'_>, name: &str, suffixes: &mut BTreeMap<String, String>) {
    if !can_be_carried(name) {
        at.fault(
            format!("`{name}` can't name a pipe, since the names of its results carry it, as in `V_riser`"),
            "use letters a to z, figures and single blanks, beginning with a letter",
        );
    } else if let Some(other) = suffixes.insert(pipe_suffix(name), name.to_owned()) {
        at.fault(
            format!("the pipes `{other}` and `{name}` would share the names of their results"),
            "rename one of them",
        );
    }
}

/// Whether the names of results can carry a name.
fn can_be_carried(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_alphabetic())
        && name
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == ' ' || c == '_')
        && !name.contains("  ")
}

/// The unit of a value as it was typed.
fn unit_as_typed(text: &str) -> &str {
    let number = |c: char| c.is_ascii_digit() || ".,+-×^⁻⁰¹²³⁴⁵⁶⁷⁸⁹ ".contains(c);
    let rest = text.trim_start_matches(number);
    // `1.0e-3 m`: the power of ten belongs to the number.
    rest.strip_prefix(['e', 'E'])
        .filter(|r| r.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '+'))
        .map_or(rest, |r| r.trim_start_matches(number))
}

/// A value that the program itself writes.
fn written(text: &str) -> Option<Written> {
    Written::parse(text).ok()
}
