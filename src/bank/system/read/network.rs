//! The YAML of a network.

use super::{Reader, can_be_carried, words};
use crate::bank::names::pipe_suffix;
use crate::bank::system::kind::Surroundings;
use crate::bank::system::network::{LinkSaid, NetworkSystem, NodeKind, NodeSaid};
use crate::bank::system::problem::below_vacuum;
use crate::bank::system::slot::{Of, Slot};
use crate::bank::system::{Element, Value};
use crate::bank::yaml::{Cursor, Fields, listed};
use crate::fault::nearest;
use std::collections::BTreeMap;

impl Reader<'_> {
    pub(super) fn network(&self, at: &Cursor<'_>) -> Option<NetworkSystem> {
        let fields = at.fields(&["fluid", "gravity", "atmosphere", "nodes", "links"])?;
        let surroundings = self.surroundings(&fields);
        let nodes = fields
            .need(
                "nodes",
                "[{ reservoir: { name: tank, level: 74 m } }, { junction: { name: fork } }]",
            )
            .and_then(|c| self.nodes(&c, surroundings.as_ref()));
        let links = fields
            .need("links", "[{ from: tank, to: fork, path: [...] }]")
            .and_then(|c| self.links(&c, nodes.as_deref()));
        for (label, fault, _) in self.unknown.borrow().iter() {
            at.add(crate::fault::Fault {
                what: format!(
                    "the {label} is `unknown`, but a network is solved for all its flows and heads at once"
                ),
                mend: Some("give its value".to_owned()),
                ..fault.clone()
            });
        }
        Some(NetworkSystem {
            surroundings: surroundings?,
            nodes: nodes?,
            links: links?,
        })
    }

    fn nodes(&self, at: &Cursor<'_>, around: Option<&Surroundings>) -> Option<Vec<NodeSaid>> {
        let mut names = Names::default();
        let read: Vec<Option<NodeSaid>> = (at.list()?.iter())
            .map(|item| self.node(item, around, &mut names))
            .collect();
        if read.is_empty() {
            at.fault(
                "the network has no nodes",
                "add two at least, such as `- reservoir: { name: tank, level: 74 m }`",
            );
            return None;
        }
        read.into_iter().collect()
    }

    fn node(&self, item: &Cursor<'_>, around: Option<&Surroundings>, names: &mut Names) -> Option<NodeSaid> {
        const KINDS: [&str; 2] = ["reservoir", "junction"];
        let fields = item.fields(&KINDS)?;
        if fields.has("reservoir") && fields.has("junction") {
            item.fault(
                "a reservoir and a junction stand in the same item",
                "begin each node on a line of its own with `-`",
            );
            return None;
        }
        let optional = |fields: &Fields<'_>, field: &str, slot: Slot, of: Of<'_>| match fields.get(field) {
            Some(c) => self.value(&c, slot, of).map(Some),
            None => Some(None),
        };
        if let Some(inner) = fields.get("reservoir") {
            let fields = inner.fields(&["name", "level", "pressure"])?;
            let name = fields
                .need("name", "high tank")
                .and_then(|c| names.of(&c, "node"));
            let of = Of::Element(name.as_deref().unwrap_or("the reservoir"));
            let level = fields
                .need("level", "74 m")
                .and_then(|c| self.value(&c, Slot::Level, of));
            let pressure = optional(&fields, "pressure", Slot::Pressure, of);
            if let (Some(Some(Value::Known(pressure))), Some(Value::Known(atmosphere)), Some(c)) =
                (&pressure, around.map(|a| &a.atmosphere), fields.get("pressure"))
                && let Some(fault) = below_vacuum(of, pressure, atmosphere)
            {
                c.add(fault.at(c.place()));
            }
            return Some(NodeSaid {
                name: name?,
                what: NodeKind::Reservoir {
                    level: level?,
                    pressure: pressure?,
                },
            });
        }
        let Some(inner) = fields.get("junction") else {
            if item.entries().is_some_and(|e| e.is_empty()) {
                item.fault("the node is empty", format!("write one of {}", listed(&KINDS)));
            }
            return None;
        };
        let fields = inner.fields(&["name", "elevation", "demand", "supply", "head"])?;
        let name = fields.need("name", "fork").and_then(|c| names.of(&c, "node"));
        let of = Of::Element(name.as_deref().unwrap_or("the junction"));
        let elevation = optional(&fields, "elevation", Slot::Elevation, of);
        let demand = optional(&fields, "demand", Slot::Demand, of);
        let supply = optional(&fields, "supply", Slot::Supply, of);
        let head = optional(&fields, "head", Slot::TotalHead, of);
        if let (true, Some(c)) = (fields.has("demand"), fields.get("supply")) {
            c.key_fault(
                "a junction has both a demand and a supply",
                "keep one of the two, with what is left of it",
            );
        }
        Some(NodeSaid {
            name: name?,
            what: NodeKind::Junction {
                elevation: elevation?,
                demand: demand?,
                supply: supply?,
                head: head?,
            },
        })
    }

    /// Links; where the nodes could not be read, their ends are not looked up.
    fn links(&self, at: &Cursor<'_>, nodes: Option<&[NodeSaid]>) -> Option<Vec<LinkSaid>> {
        let (mut names, mut pipes) = (Names::default(), Names::default());
        let read: Vec<Option<LinkSaid>> = (at.list()?.iter())
            .map(|item| self.link(item, nodes, &mut names, &mut pipes))
            .collect();
        if read.is_empty() {
            at.fault(
                "the network has no links",
                "add one, such as `- { from: tank, to: fork, path: [...] }`",
            );
            return None;
        }
        read.into_iter().collect()
    }

    fn link(
        &self,
        item: &Cursor<'_>,
        nodes: Option<&[NodeSaid]>,
        names: &mut Names,
        pipes: &mut Names,
    ) -> Option<LinkSaid> {
        let fields = item.fields(&["name", "from", "to", "path"])?;
        let end = |field: &str, example: &str| {
            let c = fields.need(field, example)?;
            let text = c.text()?;
            let nodes = nodes?;
            let found = nodes.iter().position(|node| node.name == text);
            if found.is_none() {
                let known: Vec<&str> = nodes.iter().map(|node| node.name.as_str()).collect();
                c.fault(
                    format!("there is no node called `{text}`"),
                    match nearest(text, known.iter().copied()) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => format!("the nodes are {}", listed(&known)),
                    },
                );
            }
            found
        };
        let (from, to) = (end("from", "tank"), end("to", "fork"));
        if from.is_some()
            && from == to
            && let Some(c) = fields.get("to")
        {
            c.fault(
                "the link begins and ends at the same node",
                "let it end at another node",
            );
        }
        let path = fields.need(
            "path",
            "[{ pipe: { name: main, diameter: 300 mm, length: 800 m, roughness: 0.3 mm } }]",
        );
        let path = path.and_then(|c| {
            let way = self.path(&c)?;
            if !way.points.is_empty() {
                c.fault(
                    "a point of known elevation stands on a link",
                    "make it a junction with an `elevation`, and let two links meet there",
                );
            }
            let elements = way.path;
            for element in &elements {
                if let Element::Pipe { name, .. } = element
                    && let Some(before) = pipes.0.insert(pipe_suffix(name), (name.clone(), c.line()))
                {
                    c.fault(
                        format!("the pipe `{name}` has the name of another, on line {}", before.1),
                        "give each pipe of the network its own name, which the names of its results carry",
                    );
                }
            }
            Some(elements)
        });
        // A link of one pipe goes by the pipe's name.
        let name = match fields.get("name") {
            Some(c) => names.of(&c, "link"),
            None => {
                let mut own = path.iter().flatten().filter_map(|element| match element {
                    Element::Pipe { name, .. } => Some(name.clone()),
                    _ => None,
                });
                let first = own.next()?;
                if own.next().is_some() {
                    fields.need("name", "main");
                    None
                } else {
                    names.0.insert(pipe_suffix(&first), (first.clone(), item.line()));
                    Some(first)
                }
            }
        };
        Some(LinkSaid {
            name: name?,
            from: from?,
            to: to?,
            path: path?,
        })
    }
}

/// Names that were given, by what of them goes into the names of results.
#[derive(Default)]
struct Names(BTreeMap<String, (String, usize)>);

impl Names {
    /// A name that is not taken yet.
    fn of(&mut self, at: &Cursor<'_>, what: &str) -> Option<String> {
        let name = words(at)?.to_owned();
        if !can_be_carried(&name) {
            at.fault(
                format!(
                    "`{name}` can't name a {what}, since the names of its results carry it, as in `Q_feeder`"
                ),
                "use letters a to z, figures and single blanks, beginning with a letter",
            );
        }
        if let Some((_, line)) = self.0.insert(pipe_suffix(&name), (name.clone(), at.line())) {
            at.fault(
                format!("`{name}` names a {what} already, on line {line}"),
                format!("give each its own name, such as `second {name}`"),
            );
            return None;
        }
        Some(name)
    }
}
