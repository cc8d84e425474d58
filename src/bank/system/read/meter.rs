//! The YAML of a flow meter.

use super::{Reader, words};
use crate::bank::system::Value;
use crate::bank::system::kind::Surroundings;
use crate::bank::system::meter::{
    DEVICES, Instrument, MeterSystem, PitotValues, Reading, ThrottleValues, WHAT_MAY_BE, is_light,
    no_exponent, no_gas, too_wide,
};
use crate::bank::system::slot::{Of, Slot};
use crate::bank::yaml::{Cursor, Fields, listed};
use crate::fault::nearest;
use crate::hydraulics::meter::standard::Device;

/// The keys of which one says what meters.
const KINDS: [&str; 4] = ["orifice", "nozzle", "venturi", "pitot"];

/// Where a Pitot tube takes the static pressure.
const STATIC: [&str; 2] = ["static holes", "wall tapping"];

impl Reader<'_> {
    pub(super) fn meter(&self, at: &Cursor<'_>) -> Option<MeterSystem> {
        let fields = at.fields(&["fluid", "gravity", "atmosphere", "flow", "meter"])?;
        let surroundings = self.surroundings(&fields);
        let meter = fields
            .need(
                "meter",
                "{ orifice: corner taps, pipe diameter: 100 mm, throat diameter: 50 mm, differential: 25 kPa }",
            )?
            .fields(&[
                "name",
                "orifice",
                "nozzle",
                "venturi",
                "pitot",
                "pipe diameter",
                "throat diameter",
                "coefficient",
                "differential",
                "manometer",
                "permanent loss",
                "upstream pressure",
                "isentropic exponent",
                "velocity",
                "velocity ratio",
            ])?;
        let name = match meter.get("name") {
            Some(c) => words(&c).map(|name| Some(name.to_owned())),
            None => Some(None),
        };
        let reading = self.reading(&meter);
        let instrument = match which(&meter) {
            Some(("pitot", c)) => self.pitot(&fields, &meter, &c).map(Instrument::Pitot),
            Some((kind, c)) => self
                .throttle(&fields, &meter, (kind, &c), surroundings.as_ref())
                .map(Instrument::Throttle),
            None => {
                self.lost.set(true);
                None
            }
        };
        self.one_unknown(at, &fields);
        Some(MeterSystem {
            surroundings: surroundings?,
            name: name?,
            instrument: instrument?,
            reading: reading?,
        })
    }

    /// A value that must be known.
    fn never_unknown(&self, at: &Cursor<'_>, slot: Slot, of: Of<'_>) -> Option<Value> {
        if at.text() == Some("unknown") {
            self.lost.set(true);
            at.fault(
                format!("the {} can't be the unknown", slot.label(of)),
                WHAT_MAY_BE,
            );
            return None;
        }
        self.value(at, slot, of)
    }

    /// A value that may be left out.
    fn maybe(&self, fields: &Fields<'_>, name: &str, slot: Slot) -> Option<Option<Value>> {
        match fields.get(name) {
            Some(c) if slot.may_be_unknown() => self.value(&c, slot, Of::System).map(Some),
            Some(c) => self.never_unknown(&c, slot, Of::System).map(Some),
            None => Some(None),
        }
    }

    fn reading(&self, meter: &Fields<'_>) -> Option<Reading> {
        match (meter.get("differential"), meter.get("manometer")) {
            (Some(_), Some(second)) => {
                second.key_fault(
                    "the differential pressure is given twice, straight and by a manometer",
                    "keep one of the two; the other follows from it",
                );
                None
            }
            (Some(c), None) => self
                .value(&c, Slot::Differential, Of::System)
                .map(Reading::Differential),
            (None, Some(c)) => {
                let fields = c.fields(&["liquid", "density", "deflection"])?;
                let liquid = match fields.get("liquid") {
                    Some(c) => words(&c).map(|name| Some(name.to_owned())),
                    None => Some(None),
                };
                let density = fields.need("density", "13550 kg/m^3").and_then(|c| {
                    self.never_unknown(&c, Slot::Density, Of::Element("the manometer's liquid"))
                });
                let deflection = fields
                    .need("deflection", "180 mm")
                    .and_then(|c| self.value(&c, Slot::Deflection, Of::Element("the manometer")));
                Some(Reading::Manometer {
                    liquid: liquid?,
                    density: density?,
                    deflection: deflection?,
                })
            }
            (None, None) => {
                if !meter.has("differential") && !meter.has("manometer") {
                    meter.at.fault(
                        "nothing says how the meter's pressure is read",
                        "add `differential: 25 kPa`, or `manometer: { density: 13550 kg/m^3, deflection: 180 mm }`",
                    );
                    self.lost.set(true);
                }
                None
            }
        }
    }

    fn throttle(
        &self,
        fields: &Fields<'_>,
        meter: &Fields<'_>,
        (kind, at): (&str, &Cursor<'_>),
        around: Option<&Surroundings>,
    ) -> Option<ThrottleValues> {
        for name in ["velocity", "velocity ratio"] {
            if let Some(c) = meter.get(name) {
                c.key_fault(
                    format!("`{name}` belongs to a Pitot tube"),
                    "take it out; a flow through the meter is written as `flow:` beside `meter:`",
                );
            }
        }
        let device = device(kind, at);
        let flow = fields
            .need("flow", "unknown")
            .and_then(|c| self.value(&c, Slot::Flow, Of::System));
        let pipe_diameter = meter
            .need("pipe diameter", "100 mm")
            .and_then(|c| self.never_unknown(&c, Slot::Diameter, Of::Element("the pipe")));
        let throat_diameter = meter.need("throat diameter", "50 mm").and_then(|c| {
            let value = self.value(&c, Slot::Diameter, Of::Element("the throat"))?;
            if let Some(fault) = pipe_diameter.as_ref().and_then(|pipe| too_wide(pipe, &value)) {
                c.add(fault.at(c.place()));
                return None;
            }
            Some(value)
        });
        let coefficient = self.maybe(meter, "coefficient", Slot::MeterCoefficient);
        let permanent_loss = self.maybe(meter, "permanent loss", Slot::LossShare);
        if let (Some(device), Some(c)) = (device, meter.get("permanent loss"))
            && !device.has_outlet_cone()
        {
            c.key_fault(
                "the permanent loss of a plate or a nozzle follows from its diameters and its coefficient",
                "take `permanent loss` out; it is for Venturi tubes and Venturi nozzles",
            );
        }
        let upstream_pressure = self.maybe(meter, "upstream pressure", Slot::UpstreamPressure);
        if let (Some(c), Some(Some(Value::Known(pressure))), Some(around)) =
            (meter.get("upstream pressure"), &upstream_pressure, around)
            && let Value::Known(_) = around.atmosphere
            && let Some(fault) = no_gas(pressure, &around.atmosphere)
        {
            c.add(fault.at(c.place()));
        }
        let isentropic_exponent = self.maybe(meter, "isentropic exponent", Slot::IsentropicExponent);
        let is_gas = around.is_some_and(|around| is_light(&around.fluid));
        match (meter.get("upstream pressure"), meter.get("isentropic exponent")) {
            (Some(c), None) if is_gas && !meter.has("isentropic exponent") => {
                c.add(no_exponent().at(c.key_place()));
            }
            (None, Some(c)) if !meter.has("upstream pressure") => c.key_fault(
                "the expansion of a gas needs its pressure before the meter as well as its isentropic exponent",
                "add `upstream pressure: 250 kPa`",
            ),
            _ => {}
        }
        Some(ThrottleValues {
            device: device?,
            flow: flow?,
            pipe_diameter: pipe_diameter?,
            throat_diameter: throat_diameter?,
            coefficient: coefficient?,
            permanent_loss: permanent_loss?,
            upstream_pressure: upstream_pressure?,
            isentropic_exponent: isentropic_exponent?,
        })
    }

    fn pitot(&self, fields: &Fields<'_>, meter: &Fields<'_>, at: &Cursor<'_>) -> Option<PitotValues> {
        if let Some(c) = fields.get("flow") {
            self.lost.set(true);
            c.key_fault(
                "a Pitot tube gives a velocity, not a flow",
                "take `flow` out and write `velocity: unknown` under `meter`; with `pipe diameter` and `velocity ratio` the \
                 flow follows",
            );
        }
        for name in [
            "throat diameter",
            "permanent loss",
            "upstream pressure",
            "isentropic exponent",
        ] {
            if let Some(c) = meter.get(name) {
                c.key_fault(format!("a Pitot tube has no `{name}`"), "take it out");
            }
        }
        let place = at.text().and_then(|text| {
            let found = STATIC.iter().position(|word| *word == text);
            if found.is_none() {
                no_such(at, text, &STATIC);
            }
            found
        });
        let velocity = meter
            .need("velocity", "unknown")
            .and_then(|c| self.value(&c, Slot::PointVelocity, Of::System));
        let coefficient = self.maybe(meter, "coefficient", Slot::MeterCoefficient);
        let pipe = match (meter.get("pipe diameter"), meter.get("velocity ratio")) {
            (Some(diameter), Some(ratio)) => {
                let diameter = self.never_unknown(&diameter, Slot::Diameter, Of::Element("the pipe"));
                let ratio = self.never_unknown(&ratio, Slot::VelocityRatio, Of::System);
                diameter.zip(ratio).map(Some)
            }
            (None, None) => Some(None),
            (Some(c), None) => {
                c.key_fault(
                    "the flow in the pipe needs the mean velocity over that at the tube",
                    "add `velocity ratio: 0.82`, or take `pipe diameter` out",
                );
                None
            }
            (None, Some(c)) => {
                c.key_fault(
                    "a velocity ratio is of no use without the pipe's diameter",
                    "add `pipe diameter: 300 mm`, or take `velocity ratio` out",
                );
                None
            }
        };
        Some(PitotValues {
            has_static_holes: place? == 0,
            velocity: velocity?,
            coefficient: coefficient?,
            pipe: pipe?,
        })
    }
}

/// The one key that says what meters.
fn which<'d>(meter: &Fields<'d>) -> Option<(&'static str, Cursor<'d>)> {
    let mut found = KINDS
        .into_iter()
        .filter(|kind| meter.has(kind))
        .filter_map(|kind| Some((kind, meter.get(kind)?)));
    match (found.next(), found.next()) {
        (Some(one), None) => Some(one),
        (Some((first, _)), Some((_, second))) => {
            second.key_fault(
                format!("the meter is said to be of two kinds, and `{first}` is one of them"),
                "keep one",
            );
            None
        }
        (None, _) => {
            meter.at.fault(
                "nothing says what kind of meter it is",
                format!("add one of {}, such as `orifice: corner taps`", listed(&KINDS)),
            );
            None
        }
    }
}

/// The device of a key and its word.
fn device(kind: &str, at: &Cursor<'_>) -> Option<Device> {
    let text = at.text()?;
    let of_kind = || DEVICES.iter().filter(|(key, _, _)| *key == kind);
    let found = of_kind().find(|(_, word, _)| *word == text);
    if found.is_none() {
        let known: Vec<&str> = of_kind().map(|(_, word, _)| *word).collect();
        no_such(at, text, &known);
    }
    found.map(|(_, _, device)| *device)
}

fn no_such(at: &Cursor<'_>, text: &str, known: &[&str]) {
    at.fault(
        format!("{} can't be `{text}`", at.called()),
        match nearest(text, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("write one of {}", listed(known)),
        },
    );
}
