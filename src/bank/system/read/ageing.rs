//! The YAML of a pipe that grows rougher with the years.

use super::{Reader, pipe_name, words};
use crate::bank::system::ageing::AgeingSystem;
use crate::bank::system::slot::{Of, Slot};
use crate::bank::yaml::{Cursor, Fields};
use std::collections::BTreeMap;

impl Reader<'_> {
    pub(super) fn ageing(&self, at: &Cursor<'_>) -> Option<AgeingSystem> {
        let fields = at.fields(&[
            "fluid",
            "gravity",
            "atmosphere",
            "pipe",
            "ageing",
            "test",
            "later",
        ])?;
        let surroundings = self.surroundings(&fields);
        let pipe = fields
            .need("pipe", "{ name: rising main, diameter: 300 mm, length: 1850 m }")
            .and_then(|c| c.fields(&["name", "diameter", "length"]));
        let name = pipe
            .as_ref()
            .and_then(|pipe| pipe.need("name", "rising main"))
            .and_then(|c| {
                let name = words(&c)?;
                pipe_name(&c, name, &mut BTreeMap::new());
                Some(name.to_owned())
            });
        let value = |fields: Option<&Fields<'_>>, field: &str, slot: Slot, of: Of<'_>| {
            let c = fields?.need(field, slot.example())?;
            self.value(&c, slot, of)
        };
        let of = Of::Element(name.as_deref().unwrap_or("the pipe"));
        let diameter = value(pipe.as_ref(), "diameter", Slot::Diameter, of);
        let length = value(pipe.as_ref(), "length", Slot::Length, of);
        let ageing = fields
            .need("ageing", "{ new: 0.25 mm, growth: unknown }")
            .and_then(|c| c.fields(&["new", "growth"]));
        let new = value(
            ageing.as_ref(),
            "new",
            Slot::Roughness,
            Of::Element("the new pipe"),
        );
        let growth = value(
            ageing.as_ref(),
            "growth",
            Slot::Growth,
            Of::Element("the roughness"),
        );
        let test = fields
            .need("test", "{ age: 18 year, flow: 95 L/s, head loss: 14.2 m }")
            .and_then(|c| c.fields(&["age", "flow", "head loss"]));
        let of = Of::Element("the test");
        let age = value(test.as_ref(), "age", Slot::Age, of);
        let flow = value(test.as_ref(), "flow", Slot::Flow, of);
        let head_loss = value(test.as_ref(), "head loss", Slot::HeadLoss, of);
        let later = fields
            .need("later", "{ age: 30 year }")
            .and_then(|c| c.fields(&["age"]));
        let later = value(later.as_ref(), "age", Slot::Age, Of::Element("the later day"));
        self.one_unknown(at, &fields);
        Some(AgeingSystem {
            surroundings: surroundings?,
            pipe: name?,
            diameter: diameter?,
            length: length?,
            new: new?,
            growth: growth?,
            age: age?,
            flow: flow?,
            head_loss: head_loss?,
            later: later?,
        })
    }
}
