//! The YAML of a main that leaks between two gauges.

use super::{Reader, pipe_name, words, written};
use crate::bank::system::Value;
use crate::bank::system::kind::Surroundings;
use crate::bank::system::leak::{GaugeReading, LeakSystem};
use crate::bank::system::problem::{below_vacuum, too_rough};
use crate::bank::system::slot::{Of, Slot};
use crate::bank::yaml::{Cursor, Fields};
use std::collections::BTreeMap;

impl Reader<'_> {
    pub(super) fn leak(&self, at: &Cursor<'_>) -> Option<LeakSystem> {
        let fields = at.fields(&["fluid", "gravity", "atmosphere", "gauges", "pipe", "leak"])?;
        let surroundings = self.surroundings(&fields);
        let gauges = fields
            .need(
                "gauges",
                "{ start: { pressure: 412 kPa, flow: 96 L/s }, end: { pressure: 268 kPa, flow: 81 L/s } }",
            )
            .and_then(|c| c.fields(&["start", "end"]));
        let gauge = |name: &str, of: Of<'_>| {
            let c = gauges
                .as_ref()?
                .need(name, "{ pressure: 412 kPa, elevation: 31 m, flow: 96 L/s }")?;
            self.gauge(&c, of, surroundings.as_ref())
        };
        let (start, end) = (gauge("start", Of::Start), gauge("end", Of::End));
        let pipe = fields.need(
            "pipe",
            "{ name: trunk main, diameter: 300 mm, length: 2400 m, roughness: 0.3 mm }",
        );
        let pipe = pipe.and_then(|c| self.main(&c.fields(&["name", "diameter", "length", "roughness"])?));
        let distance = fields
            .need("leak", "{ distance: unknown }")
            .and_then(|c| c.fields(&["distance"])?.need("distance", "unknown"))
            .and_then(|c| {
                let distance = self.value(&c, Slot::Distance, Of::Element("the leak"));
                if let (Some(Value::Known(x)), Some((_, _, Value::Known(length), _))) = (&distance, &pipe)
                    && x.quantity().value > length.quantity().value
                {
                    c.fault(
                        format!(
                            "the leak is {} from the start, but the main is {} long",
                            x.ascii(),
                            length.ascii()
                        ),
                        "write a distance within the length of the main",
                    );
                    return None;
                }
                distance
            });
        self.one_unknown(at, &fields);
        let (pipe, diameter, length, roughness) = pipe?;
        Some(LeakSystem {
            surroundings: surroundings?,
            start: start?,
            end: end?,
            pipe,
            diameter,
            length,
            roughness,
            distance: distance?,
        })
    }

    fn gauge(&self, at: &Cursor<'_>, of: Of<'_>, around: Option<&Surroundings>) -> Option<GaugeReading> {
        let fields = at.fields(&["name", "pressure", "elevation", "flow"])?;
        let name = match fields.get("name") {
            Some(c) => words(&c).map(|name| Some(name.to_owned())),
            None => Some(None),
        };
        let pressure = fields.need("pressure", "412 kPa").and_then(|c| {
            let value = self.value(&c, Slot::Pressure, of);
            if let (Some(Value::Known(pressure)), Some(Value::Known(atmosphere))) =
                (&value, around.map(|a| &a.atmosphere))
                && let Some(fault) = below_vacuum(of, pressure, atmosphere)
            {
                c.add(fault.at(c.place()));
            }
            value
        });
        let elevation = match fields.get("elevation") {
            Some(c) => self.value(&c, Slot::Elevation, of),
            None => written("0 m").map(Value::Known),
        };
        let flow = fields
            .need("flow", "96 L/s")
            .and_then(|c| self.value(&c, Slot::Flow, of));
        Some(GaugeReading {
            name: name?,
            pressure: pressure?,
            elevation: elevation?,
            flow: flow?,
        })
    }

    /// Name, diameter, length and roughness of a pipe that stands by itself.
    fn main(&self, fields: &Fields<'_>) -> Option<(String, Value, Value, Value)> {
        let name = fields.need("name", "trunk main").and_then(|c| {
            let name = words(&c)?;
            pipe_name(&c, name, &mut BTreeMap::new());
            Some(name.to_owned())
        });
        let of = Of::Element(name.as_deref().unwrap_or("the pipe"));
        let value = |field: &str, slot: Slot| {
            let c = fields.need(field, slot.example())?;
            self.value(&c, slot, of)
        };
        let (diameter, length, roughness) = (
            value("diameter", Slot::Diameter),
            value("length", Slot::Length),
            value("roughness", Slot::Roughness),
        );
        if let (Some(name), Some(Value::Known(d)), Some(Value::Known(e))) = (&name, &diameter, &roughness)
            && let Some(fault) = too_rough(name, d.quantity().value, e)
            && let Some(c) = fields.get("roughness")
        {
            c.add(fault.at(c.place()));
        }
        Some((name?, diameter?, length?, roughness?))
    }
}
