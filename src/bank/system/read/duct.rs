//! The YAML of a duct's cross-section.

use super::Reader;
use crate::bank::system::Value;
use crate::bank::system::duct::{Bore, Duct, DuctShape};
use crate::bank::system::slot::{Of, Slot};
use crate::bank::yaml::{Cursor, Fields, listed};

const SHAPES: [&str; 4] = ["rectangle", "annulus", "triangle", "plates"];
const MEASURES: [&str; 4] = ["area", "wetted perimeter", "laminar constant", "alpha"];

impl Reader<'_> {
    /// A pipe's `diameter`, or the `section` of a duct.
    pub(super) fn bore(&self, fields: &Fields<'_>, of: Of<'_>) -> Option<Bore> {
        let Some(section) = fields.get("section") else {
            let at = fields.need("diameter", Slot::Diameter.example())?;
            return self.value(&at, Slot::Diameter, of).map(Bore::Round);
        };
        if let Some(diameter) = fields.get("diameter") {
            diameter.key_fault(
                "both the diameter and the section are given",
                "keep `diameter` for a round pipe, or `section` for any other",
            );
            return None;
        }
        let read = self.duct(&section, of);
        if read.is_none() {
            self.lost.set(true);
        }
        let duct = read?;
        if let Of::Element(name) = of
            && let Some(fault) = duct.fault(name)
        {
            section.add(fault.at(section.place()));
        }
        Some(Bore::Duct(Box::new(duct)))
    }

    fn duct(&self, at: &Cursor<'_>, of: Of<'_>) -> Option<Duct> {
        let known: Vec<&str> = SHAPES
            .into_iter()
            .chain(MEASURES)
            .chain(["effective diameter"])
            .collect();
        let fields = at.fields(&known)?;
        let effective = match fields.get("effective diameter") {
            Some(c) => c.yes_or_no()?,
            None => false,
        };
        let shapes: Vec<&str> = SHAPES.into_iter().filter(|name| fields.has(name)).collect();
        let measured = MEASURES.into_iter().any(|name| fields.has(name));
        let value = |c: &Cursor<'_>, slot: Slot| self.value(c, slot, of);
        let two = |name: &str, slots: [Slot; 2]| -> Option<[Value; 2]> {
            let c = fields.get(name)?;
            let items = c.is_list().then(|| c.list()).flatten();
            let example = format!("`{name}: [{}, {}]`", slots[0].example(), slots[1].example());
            match items.as_deref() {
                Some([first, second]) => {
                    let (first, second) = (value(first, slots[0]), value(second, slots[1]));
                    Some([first?, second?])
                }
                _ => {
                    c.fault(
                        format!(
                            "a section that is {} needs its {} and its {}",
                            if name == "plates" {
                                "two plates"
                            } else if name == "annulus" {
                                "an annulus"
                            } else {
                                "a rectangle"
                            },
                            slots[0].noun(),
                            slots[1].noun()
                        ),
                        format!("write them as a list: {example}"),
                    );
                    None
                }
            }
        };
        let shape = match (&shapes[..], measured) {
            (["rectangle"], false) => {
                DuctShape::Rectangle(two("rectangle", [Slot::Width, Slot::DuctHeight])?)
            }
            (["annulus"], false) => {
                DuctShape::Annulus(two("annulus", [Slot::OuterDiameter, Slot::InnerDiameter])?)
            }
            (["plates"], false) => DuctShape::Plates(two("plates", [Slot::Gap, Slot::Width])?),
            (["triangle"], false) => DuctShape::Triangle(value(&fields.get("triangle")?, Slot::Side)?),
            ([], true) => {
                let need = |name: &str, slot: Slot| {
                    let c = fields.need(name, slot.example())?;
                    value(&c, slot)
                };
                let [area, perimeter, constant, alpha] = [
                    need("area", Slot::Area),
                    need("wetted perimeter", Slot::Perimeter),
                    need("laminar constant", Slot::LaminarConstant),
                    need("alpha", Slot::Alpha),
                ];
                DuctShape::Other([area?, perimeter?, constant?, alpha?])
            }
            ([], false) => {
                at.fault(
                    "the section has no shape",
                    format!(
                        "write one of {}, such as `rectangle: [400 mm, 250 mm]`; or, for any other shape, its {}",
                        listed(&SHAPES),
                        listed(&MEASURES)
                    ),
                );
                return None;
            }
            _ => {
                at.fault(
                    "the section is given in more than one way",
                    "keep one shape, and nothing beside it but `effective diameter`",
                );
                return None;
            }
        };
        Some(Duct { shape, effective })
    }
}
