//! The YAML of a tank that fills or empties.

use super::{Reader, words, written};
use crate::bank::system::Value;
use crate::bank::system::kind::Surroundings;
use crate::bank::system::problem::{below_vacuum, number};
use crate::bank::system::slot::{Of, Slot};
use crate::bank::system::tank::{
    Orifice, Tank, TankPlace, TankRole, TankShape, TankSlot, TankSystem, TankUntil,
};
use crate::bank::yaml::{Cursor, Fields, listed};

/// Ways to say the inside of a tank.
const SHAPES: [&str; 7] = [
    "diameter",
    "area",
    "cone",
    "sphere",
    "bowl",
    "lying cylinder",
    "table",
];

const TANK: &str = "{ name: head tank, diameter: 2 m, level: 4 m, until: 2 m }";

impl Reader<'_> {
    pub(super) fn tank(&self, at: &Cursor<'_>) -> Option<TankSystem> {
        let fields = at.fields(&[
            "fluid",
            "gravity",
            "atmosphere",
            "tank",
            "second tank",
            "time",
            "stations",
            "path",
            "orifice",
        ])?;
        let surroundings = self.surroundings(&fields);
        let around = surroundings.as_ref();
        let of_two = fields.has("second tank");
        let place = TankPlace {
            drains: of_two || at.look("stations").is_some_and(|c| c.look("end").is_some()),
            of_two,
        };
        let first = fields
            .need("tank", TANK)
            .and_then(|c| self.one_tank(&c, Some(place), around));
        let second = (fields.get("second tank")).map(|c| self.one_tank(&c, None, around));
        let time = fields
            .need("time", "unknown")
            .and_then(|c| self.value(&c, Slot::Tank(TankSlot::Time), Of::System));
        let role = self.role(at, &fields, second, around);
        let path = match (fields.get("path"), fields.has("orifice")) {
            (Some(c), false) => {
                let way = self.path(&c);
                if way.as_ref().is_some_and(|way| way.sizes.is_some()) {
                    c.fault(
                        "a tank gives the bore itself, not the next nominal size",
                        "leave out `sizes`",
                    );
                }
                way.map(|way| (way.path, way.points))
            }
            (Some(c), true) => {
                c.key_fault(
                    "both a path and an orifice lead away from the tank",
                    "keep one of the two; on a path, an opening is a `loss`",
                );
                None
            }
            (None, true) => Some((Vec::new(), Vec::new())),
            (None, false) => fields
                .need(
                    "path",
                    "[{ pipe: { name: outlet pipe, diameter: 50 mm, length: 60 m, roughness: 0.15 mm } }]",
                )
                .map(|_| (Vec::new(), Vec::new())),
        };
        let orifice = match fields.get("orifice") {
            Some(c) => self.orifice(&c).map(Some),
            None => Some(None),
        };
        self.one_unknown(at, &fields);
        let (tank, until) = first?;
        let (path, points) = path?;
        Some(TankSystem {
            surroundings: surroundings?,
            tank,
            until: until?,
            role: role?,
            time: time?,
            path,
            points,
            orifice: orifice?,
        })
    }

    /// What is at the other end: the one station that is given, or a second tank.
    fn role(
        &self,
        at: &Cursor<'_>,
        fields: &Fields<'_>,
        second: Option<Option<(Tank, Option<TankUntil>)>>,
        around: Option<&Surroundings>,
    ) -> Option<TankRole> {
        let atmosphere = around.map(|a| &a.atmosphere);
        match (second, fields.get("stations")) {
            (Some(second), None) => Some(TankRole::Equalises(second?.0)),
            (Some(_), Some(stations)) => {
                stations.key_fault(
                    "the pipe lies between two tanks, so that no station is left to give",
                    "leave out `stations`, or the `second tank`",
                );
                None
            }
            (None, Some(stations)) => {
                let ends = stations.fields(&["start", "end"])?;
                match (ends.get("start"), ends.get("end")) {
                    (None, Some(c)) => self.station(&c, Of::End, atmosphere).map(TankRole::Drains),
                    (Some(c), None) => self.station(&c, Of::Start, atmosphere).map(TankRole::Fills),
                    (Some(_), Some(c)) => {
                        c.key_fault(
                            "both ends of the path are given, but the tank is one of them",
                            "leave out `start` where the tank drains, or `end` where it fills",
                        );
                        None
                    }
                    (None, None) => {
                        stations.fault(
                            "neither end of the path is given",
                            "add `end: { pressure: 0 kPa, elevation: 0 m }` where the tank drains, or `start` where it fills",
                        );
                        None
                    }
                }
            }
            (None, None) => {
                if !fields.has("stations") {
                    at.fault(
                        "nothing says where the tank drains to or fills from",
                        "add `stations: { end: { pressure: 0 kPa, elevation: 0 m } }` where it drains, `start` in place of \
                         `end` where it fills, or a `second tank`",
                    );
                }
                None
            }
        }
    }

    /// A tank; the first, with its place, says when it ends.
    fn one_tank(
        &self,
        at: &Cursor<'_>,
        first: Option<TankPlace>,
        around: Option<&Surroundings>,
    ) -> Option<(Tank, Option<TankUntil>)> {
        let is_first = first.is_some();
        let mut known = vec!["name", "level", "floor", "mouth", "pressure", "inflow", "height"];
        if is_first {
            known.extend(["until", "until difference"]);
        }
        known.extend(SHAPES);
        let fields = at.fields(&known)?;
        let name = fields
            .need("name", "head tank")
            .and_then(|c| words(&c).map(ToOwned::to_owned));
        let of = Of::Element(name.as_deref().unwrap_or("the tank"));
        let value = |field: &str, slot: Slot| {
            let c = fields.need(field, slot.example())?;
            self.value(&c, slot, of)
        };
        let maybe = |field: &str, slot: Slot| match fields.get(field) {
            Some(c) => self.value(&c, slot, of).map(Some),
            None => Some(None),
        };
        let or = |field: &str, slot: Slot, default: &str| match fields.get(field) {
            Some(c) => self.value(&c, slot, of),
            None => written(default).map(Value::Known),
        };
        let shape = self.shape(at, &fields, of);
        let level = value("level", Slot::Tank(TankSlot::Level));
        let floor = or("floor", Slot::Tank(TankSlot::Floor), "0 m");
        let pressure = or("pressure", Slot::Pressure, "0 kPa");
        if let (Some(Value::Known(pressure)), Some(Value::Known(atmosphere)), Some(c)) =
            (&pressure, around.map(|a| &a.atmosphere), fields.get("pressure"))
            && let Some(fault) = below_vacuum(of, pressure, atmosphere)
        {
            c.add(fault.at(c.place()));
        }
        let (mouth, inflow, height) = (
            maybe("mouth", Slot::Tank(TankSlot::Mouth)),
            maybe("inflow", Slot::Tank(TankSlot::Inflow)),
            maybe("height", Slot::Tank(TankSlot::Height)),
        );
        let until = match (is_first, fields.get("until"), fields.get("until difference")) {
            (false, _, _) => Some(None),
            (true, Some(c), None) => self
                .value(&c, Slot::Tank(TankSlot::Until), of)
                .map(|v| Some(TankUntil::Level(v))),
            (true, None, Some(c)) => self
                .value(&c, Slot::Tank(TankSlot::Difference), Of::System)
                .map(|v| Some(TankUntil::Difference(v))),
            (true, Some(_), Some(c)) => {
                c.key_fault(
                    "both a level and a difference of levels say when it ends",
                    "keep one of the two",
                );
                None
            }
            (true, None, None) => fields.need("until", "2 m").map(|_| None),
        };
        let tank = Tank {
            name: name?,
            shape: shape?,
            level: level?,
            floor: floor?,
            mouth: mouth?,
            pressure: pressure?,
            inflow: inflow?,
            height: height?,
        };
        let said = until.as_ref().and_then(Option::as_ref);
        let atmosphere = around.map_or(f64::NAN, |a| number(&a.atmosphere));
        for (field, fault) in tank.misfits(said, first.unwrap_or(TankPlace::SECOND), atmosphere) {
            if let Some(c) = fields.get(field) {
                c.add(fault.at(c.place()));
            }
        }
        Some((tank, until?))
    }

    fn shape(&self, at: &Cursor<'_>, fields: &Fields<'_>, of: Of<'_>) -> Option<TankShape> {
        let mut said = SHAPES.into_iter().filter(|shape| fields.has(shape));
        let (shape, another) = (said.next(), said.next());
        let Some(shape) = shape else {
            at.fault(
                format!("nothing says what shape {} has", at.called()),
                format!("add one of {}, such as `diameter: 2 m`", listed(&SHAPES)),
            );
            return None;
        };
        let c = fields.get(shape)?;
        if let Some(another) = another {
            if let Some(c) = fields.get(another) {
                c.key_fault(
                    format!("`{another}` and `{shape}` both say what shape the tank has"),
                    "keep one of the two",
                );
            }
            return None;
        }
        let inside = |c: &Cursor<'_>, known: &[(&str, Slot)]| -> Option<Vec<Value>> {
            let names: Vec<&str> = known.iter().map(|k| k.0).collect();
            let fields = c.fields(&names)?;
            let values: Vec<Option<Value>> = known
                .iter()
                .map(|(name, slot)| {
                    if *slot == Slot::Tank(TankSlot::FloorDiameter) && !fields.has(name) {
                        return written("0 m").map(Value::Known);
                    }
                    let c = fields.need(name, slot.example())?;
                    self.value(&c, *slot, of)
                })
                .collect();
            values.into_iter().collect()
        };
        let diameter = |c: &Cursor<'_>| inside(c, &[("diameter", Slot::Diameter)])?.pop();
        match shape {
            "diameter" => self.value(&c, Slot::Diameter, of).map(TankShape::Round),
            "area" => self
                .value(&c, Slot::Tank(TankSlot::Area), of)
                .map(TankShape::Area),
            "cone" => {
                let known = [
                    ("floor diameter", Slot::Tank(TankSlot::FloorDiameter)),
                    ("top diameter", Slot::Tank(TankSlot::TopDiameter)),
                    ("height", Slot::Tank(TankSlot::Height)),
                ];
                let [floor_diameter, top_diameter, height] = inside(&c, &known)?.try_into().ok()?;
                Some(TankShape::Cone {
                    floor_diameter,
                    top_diameter,
                    height,
                })
            }
            "sphere" => diameter(&c).map(TankShape::Sphere),
            "bowl" => diameter(&c).map(TankShape::Bowl),
            "lying cylinder" => {
                let known = [("diameter", Slot::Diameter), ("length", Slot::Length)];
                let [diameter, length] = inside(&c, &known)?.try_into().ok()?;
                Some(TankShape::LyingCylinder { diameter, length })
            }
            _ => {
                let points: Vec<Option<(Value, Value)>> = c
                    .list()?
                    .iter()
                    .map(|item| {
                        let known = [
                            ("level", Slot::Tank(TankSlot::Level)),
                            ("area", Slot::Tank(TankSlot::Area)),
                        ];
                        let [level, area] = inside(item, &known)?.try_into().ok()?;
                        Some((level, area))
                    })
                    .collect();
                points
                    .into_iter()
                    .collect::<Option<Vec<_>>>()
                    .map(TankShape::Table)
            }
        }
    }

    fn orifice(&self, at: &Cursor<'_>) -> Option<Orifice> {
        let fields = at.fields(&["name", "diameter", "Cd"])?;
        let name = match fields.get("name") {
            Some(c) => words(&c).map(ToOwned::to_owned),
            None => Some("orifice".to_owned()),
        };
        let of = Of::Element(name.as_deref().unwrap_or("the orifice"));
        let value = |field: &str, slot: Slot| {
            let c = fields.need(field, slot.example())?;
            self.value(&c, slot, of)
        };
        let (diameter, coefficient) = (
            value("diameter", Slot::Diameter),
            value("Cd", Slot::Tank(TankSlot::Discharge)),
        );
        Some(Orifice {
            name: name?,
            diameter: diameter?,
            coefficient: coefficient?,
        })
    }
}
