//! The YAML of a profile across a pipe.

use super::{Reader, words};
use crate::bank::system::problem::too_rough;
use crate::bank::system::profile::{ProfileDrive, ProfileMotion, ProfileSystem};
use crate::bank::system::slot::{Of, Slot};
use crate::bank::system::{Surroundings, Value};
use crate::bank::yaml::{Cursor, Fields, listed};

const FIELDS: [&str; 16] = [
    "pipe",
    "diameter",
    "length",
    "roughness",
    "flow",
    "mean velocity",
    "centre-line velocity",
    "volume",
    "time",
    "pressure drop",
    "head",
    "wall shear stress",
    "end correction",
    "kinetic correction",
    "exponent",
    "radius",
];
const MOTIONS: [&str; 4] = ["flow", "mean velocity", "centre-line velocity", "volume"];
const DRIVES: [&str; 3] = ["pressure drop", "head", "wall shear stress"];

impl Reader<'_> {
    pub(super) fn profile(&self, at: &Cursor<'_>) -> Option<ProfileSystem> {
        let fields = at.fields(&["fluid", "gravity", "atmosphere", "profile"])?;
        self.viscosity_may_be_unknown.set(true);
        let surroundings = self.surroundings(&fields);
        let inner = fields
            .need(
                "profile",
                "{ diameter: 12 mm, length: 4 m, flow: unknown, pressure drop: 3.2 kPa }",
            )
            .and_then(|c| c.fields(&FIELDS));
        if inner.is_none() {
            self.lost.set(true);
        }
        let system = inner.as_ref().and_then(|inner| self.across(inner, surroundings));
        self.one_unknown(at, &fields);
        let system = system?;
        if let Some(fault) = system.beyond_the_wall()
            && let Some(c) = inner.as_ref().and_then(|inner| inner.get("radius"))
        {
            c.add(fault.at(c.place()));
        }
        Some(system)
    }

    fn across(&self, fields: &Fields<'_>, surroundings: Option<Surroundings>) -> Option<ProfileSystem> {
        let name = match fields.get("pipe") {
            Some(c) => words(&c).map(str::to_owned),
            None => Some("pipe".to_owned()),
        };
        let of = Of::Element(name.as_deref().unwrap_or("the pipe"));
        let optional = |field: &str, slot: Slot, of: Of<'_>| match fields.get(field) {
            Some(c) => self.value(&c, slot, of).map(Some),
            None => Some(None),
        };
        let diameter = fields
            .need("diameter", "12 mm")
            .and_then(|c| self.value(&c, Slot::Diameter, of));
        let length = optional("length", Slot::Length, of);
        let roughness = optional("roughness", Slot::Roughness, of);
        if let (Some(Value::Known(d)), Some(Some(Value::Known(e)))) = (&diameter, &roughness)
            && let Some(fault) = too_rough(name.as_deref().unwrap_or("pipe"), d.quantity().value, e)
            && let Some(c) = fields.get("roughness")
        {
            c.add(fault.at(c.place()));
        }
        let motion = self.motion(fields);
        let drive = self.drive(fields);
        let [end, kinetic, exponent, radius] = [
            ("end correction", Slot::EndCorrection),
            ("kinetic correction", Slot::KineticCorrection),
            ("exponent", Slot::Exponent),
            ("radius", Slot::Radius),
        ]
        .map(|(field, slot)| optional(field, slot, Of::System));
        if !matches!(drive, Some(ProfileDrive::WallShear(_)) | None) && !fields.has("length") {
            fields.at.fault(
                "a pressure drop needs the length along which the pressure falls",
                "add it, such as `length: 4 m`; or give the `wall shear stress`",
            );
            return None;
        }
        for field in ["end correction", "kinetic correction"] {
            if let (Some(ProfileDrive::WallShear(_)), Some(c)) = (&drive, fields.get(field)) {
                c.key_fault(
                    format!("the shear stress at the wall has no {field}"),
                    "take it out, or give the `pressure drop`",
                );
            }
        }
        Some(ProfileSystem {
            surroundings: surroundings?,
            pipe: name?,
            diameter: diameter?,
            length: length?,
            roughness: roughness?,
            motion: motion?,
            drive: drive?,
            end_correction: end?,
            kinetic_correction: kinetic?,
            exponent: exponent?,
            radius: radius?,
        })
    }

    /// The one field of several that is there.
    fn one_field<'d>(
        &self,
        fields: &Fields<'d>,
        of: &[&'static str],
        what: &str,
        example: &str,
    ) -> Option<(&'static str, Cursor<'d>)> {
        let there: Vec<&'static str> = of.iter().copied().filter(|name| fields.has(name)).collect();
        match there[..] {
            [name] => Some((name, fields.get(name)?)),
            [] => {
                self.lost.set(true);
                fields.at.fault(
                    format!("nothing says {what}"),
                    format!("add one of {}, such as `{example}`", listed(of)),
                );
                None
            }
            [first, second, ..] => {
                self.lost.set(true);
                fields.get(second)?.key_fault(
                    format!("`{first}` and `{second}` both say {what}"),
                    "keep one; the other follows from it",
                );
                None
            }
        }
    }

    fn motion(&self, fields: &Fields<'_>) -> Option<ProfileMotion> {
        let (name, c) = self.one_field(fields, &MOTIONS, "how the fluid moves", "flow: unknown")?;
        if name != "volume"
            && let Some(time) = fields.get("time")
        {
            time.key_fault(
                "a time belongs to a `volume` that was collected",
                "take it out, or give the `volume`",
            );
        }
        let value = |slot: Slot| self.value(&c, slot, Of::System);
        Some(match name {
            "flow" => ProfileMotion::Flow(value(Slot::Flow)?),
            "mean velocity" => ProfileMotion::Mean(value(Slot::MeanVelocity)?),
            "centre-line velocity" => ProfileMotion::Centre(value(Slot::CentreVelocity)?),
            _ => {
                let volume = value(Slot::Volume);
                let time = fields
                    .need("time", Slot::Time.example())
                    .and_then(|c| self.value(&c, Slot::Time, Of::System));
                ProfileMotion::Collected {
                    volume: volume?,
                    time: time?,
                }
            }
        })
    }

    fn drive(&self, fields: &Fields<'_>) -> Option<ProfileDrive> {
        let (name, c) = self.one_field(fields, &DRIVES, "what drives the flow", "pressure drop: 3.2 kPa")?;
        let value = |slot: Slot| self.value(&c, slot, Of::System);
        Some(match name {
            "pressure drop" => ProfileDrive::PressureDrop(value(Slot::PressureDrop)?),
            "head" => ProfileDrive::Head(value(Slot::Head)?),
            _ => ProfileDrive::WallShear(value(Slot::WallShear)?),
        })
    }
}
