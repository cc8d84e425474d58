//! The YAML of minor losses, of points on the way and of nominal sizes.

use super::Reader;
use crate::bank::names::{pipe_suffix, reads_as_name};
use crate::bank::system::loss::NO_POINT;
use crate::bank::system::slot::{Of, Slot};
use crate::bank::system::{Bore, Element, LossBy, Point, Value};
use crate::bank::yaml::{Cursor, Fields, listed};
use crate::fault::{Fault, nearest};
use crate::hydraulics::fittings::{self, FITTINGS, Fitting};
use crate::hydraulics::sizes::{self, SERIES, Series};
use crate::quantity::Written;
use std::collections::BTreeMap;

/// The fields of a loss.
pub(super) const LOSS: [&str; 9] = [
    "name",
    "K",
    "fitting",
    "rounding",
    "equivalent length",
    "equivalent diameters",
    "expansion",
    "contraction",
    "in",
];

/// Those of them that tell how much is lost: exactly one does.
const TELLING: [&str; 7] = [
    "K",
    "fitting",
    "rounding",
    "equivalent length",
    "equivalent diameters",
    "expansion",
    "contraction",
];

/// A loss that waits for the pipes behind it.
pub(super) struct Waiting<'d> {
    /// Its place among the elements.
    pub(super) element: usize,
    /// How many pipes stand before it.
    pub(super) before: usize,
    /// The pipe that it names.
    pub(super) named: Option<Cursor<'d>>,
    /// Where it says that the pipe widens or narrows.
    pub(super) change: Option<Cursor<'d>>,
}

impl Reader<'_> {
    /// How a loss is told, and the number of it. Which pipes an area changes between is settled later.
    pub(super) fn loss_by(&self, fields: &Fields<'_>, of: Of<'_>) -> Option<(LossBy, Value)> {
        let said: Vec<&str> = TELLING.into_iter().filter(|name| fields.has(name)).collect();
        let told = match said.as_slice() {
            [] => {
                self.lost.set(true);
                fields.need("K", "0.2");
                return None;
            }
            [one] => *one,
            [first, second, ..] => {
                self.lost.set(true);
                if let Some(c) = fields.get(second) {
                    c.key_fault(
                        format!("the loss is told twice, by `{first}` and by `{second}`"),
                        "keep one of the two",
                    );
                }
                return None;
            }
        };
        let c = fields.get(told)?;
        let number = |by: LossBy, slot: Slot| self.value(&c, slot, of).map(|value| (by, value));
        let one = || Written::parse("1").ok().map(Value::Known);
        match told {
            "K" => number(LossBy::K, Slot::Coefficient),
            "rounding" => number(LossBy::Rounding, Slot::Rounding),
            "equivalent length" => number(LossBy::EquivalentLength, Slot::EquivalentLength),
            "equivalent diameters" => number(LossBy::EquivalentDiameters, Slot::EquivalentDiameters),
            "fitting" => {
                let fitting = fitting(&c)?;
                let k = Written::parse(&fitting.coefficient.to_string()).ok()?;
                Some((LossBy::Fitting(fitting), Value::Known(k)))
            }
            change => {
                if let Some(pipe) = fields.get("in") {
                    pipe.key_fault(
                        format!("which pipe an {change} counts on follows from the bores: the narrower one"),
                        "take `in` out",
                    );
                }
                let widens = change == "expansion";
                if c.is_map() {
                    let angle = c.fields(&["angle"])?.need("angle", "12 deg")?;
                    let value = self.value(&angle, Slot::Angle, of)?;
                    return Some((
                        if widens {
                            LossBy::Cone { into: 0 }
                        } else {
                            LossBy::Taper { from: 0 }
                        },
                        value,
                    ));
                }
                let text = c.text()?;
                if text != "sudden" {
                    self.lost.set(true);
                    c.fault(
                        format!("`{text}` is no {change}"),
                        "write `sudden`, or `{ angle: 12 deg }` for a cone",
                    );
                    return None;
                }
                let by = if widens {
                    LossBy::SuddenExpansion { into: 0 }
                } else {
                    LossBy::SuddenContraction { from: 0 }
                };
                Some((by, one()?))
            }
        }
    }

    /// A point of known elevation; `elements` is how many stand before it, `last` the element just before it.
    pub(super) fn point(
        &self,
        fields: &Fields<'_>,
        name: Option<String>,
        elements: usize,
        last: Option<&Element>,
        suffixes: &mut BTreeMap<String, String>,
    ) -> Option<Point> {
        if let (Some(name), Some(c)) = (&name, fields.get("name")) {
            point_name(&c, name, suffixes);
        }
        let of = Of::Element(name.as_deref().unwrap_or("the point"));
        let elevation = fields
            .need("elevation", "5 m")
            .and_then(|c| self.value(&c, Slot::Height, of));
        let Some(c) = fields.get("along") else {
            return Some(Point {
                name: name?,
                elevation: elevation?,
                along: None,
                after: elements,
            });
        };
        let along = self.value(&c, Slot::Along, of);
        let Some(Element::Pipe {
            name: pipe, length, ..
        }) = last
        else {
            c.key_fault(
                "the point lies along a pipe, but no pipe stands just before it",
                "write the point just behind the pipe that it lies in, or take `along` out",
            );
            return None;
        };
        if let (Some(Value::Known(along)), Value::Known(length)) = (&along, length)
            && along.quantity().value > length.quantity().value
        {
            c.fault(
                format!(
                    "the point lies {} along `{pipe}`, which is {} long",
                    along.ascii(),
                    length.ascii()
                ),
                "count the distance from the beginning of the pipe",
            );
            return None;
        }
        Some(Point {
            name: name?,
            elevation: elevation?,
            along: Some(along?),
            after: elements.saturating_sub(1),
        })
    }
}

/// The nominal sizes that a pipe may have.
pub(super) fn series(at: &Cursor<'_>, bore: Option<&Bore>) -> Option<&'static Series> {
    let text = at.text()?;
    let Some(found) = sizes::named(text) else {
        let known: Vec<&str> = SERIES.iter().map(|series| series.name).collect();
        at.fault(
            format!("no nominal sizes called `{text}` are known"),
            match nearest(text, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("write one of {}", listed(&known)),
            },
        );
        return None;
    };
    if bore.is_some_and(|bore| !matches!(bore, Bore::Round(Value::Unknown))) {
        at.key_fault(
            "a size is chosen where the diameter is the unknown, but this one is given",
            "write `diameter: unknown`, or take `sizes` out",
        );
        return None;
    }
    Some(found)
}

/// A fitting that a handbook knows.
fn fitting(at: &Cursor<'_>) -> Option<&'static Fitting> {
    let text = at.text()?;
    if let Some(found) = fittings::named(text) {
        return Some(found);
    }
    let names = || FITTINGS.iter().map(|fitting| fitting.name);
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_alphabetic())
        .filter(|word| word.len() > 3)
        .collect();
    // The names that have most of its words in them.
    let shared = |name: &str| words.iter().filter(|word| name.contains(**word)).count();
    let most = names().map(shared).max().unwrap_or(0);
    let alike: Vec<&str> = names().filter(|name| most > 0 && shared(name) == most).collect();
    let mend = match (nearest(text, names()), alike.as_slice()) {
        (Some(near), _) | (None, &[near]) => format!("did you mean `{near}`?"),
        (None, []) => format!(
            "write its `K`, or one of {}",
            listed(&names().collect::<Vec<_>>())
        ),
        (None, alike) => format!("did you mean one of {}?", listed(alike)),
    };
    at.fault(format!("no fitting called `{text}` is known"), mend);
    None
}

/// Settles between which pipes the area changes at a loss; false where that is at fault.
pub(super) fn settle_change(
    element: &mut Element,
    waiting: &Waiting<'_>,
    at: &Cursor<'_>,
    pipes: usize,
) -> bool {
    let Element::Loss { name, by, pipe, .. } = element else {
        return true;
    };
    if by.wider_pipe().is_none() {
        return true;
    }
    let (before, behind) = match (waiting.before.checked_sub(1), waiting.before < pipes) {
        (Some(before), true) => (before, waiting.before),
        _ => {
            let tank = match by {
                LossBy::SuddenExpansion { .. } | LossBy::Cone { .. } => ("behind", "exit"),
                _ => ("before", "sharp-edged entrance"),
            };
            at.key_fault(
                format!("the area changes at `{name}` from one pipe to another, so one stands before it and one behind"),
                format!("where a tank is {} it, write `fitting: {}`", tank.0, tank.1),
            );
            return false;
        }
    };
    *pipe = match by {
        LossBy::SuddenExpansion { into } | LossBy::Cone { into } => {
            *into = behind;
            before
        }
        LossBy::SuddenContraction { from } | LossBy::Taper { from } => {
            *from = before;
            behind
        }
        _ => *pipe,
    };
    true
}

/// The fault of an area that changes the other way than it is said to; `ratio` is the narrower pipe's area, as
/// the loss has it, over the wider one's, and the words say how wide they are.
pub(in crate::bank::system) fn wrong_way(
    name: &str,
    by: LossBy,
    ratio: f64,
    before: &str,
    behind: &str,
) -> Option<Fault> {
    let (is, other, happens) = match by {
        LossBy::SuddenExpansion { .. } | LossBy::Cone { .. } => ("an expansion", "contraction", "narrows"),
        _ => ("a contraction", "expansion", "widens"),
    };
    if ratio > 1.0 {
        return Some(
            Fault::new(format!(
                "`{name}` is {is}, but there the way {happens}, from {before} to {behind}"
            ))
            .mend(format!("write `{other}`, or check the two diameters")),
        );
    }
    (ratio == 1.0).then(|| {
        Fault::new(format!(
            "`{name}` is {is}, but the pipes before and behind it are equally wide, {before}"
        ))
        .mend("take it out, or check the two diameters")
    })
}

/// A point's name becomes part of the names of its results, so it must read as one.
fn point_name(at: &Cursor<'_>, name: &str, suffixes: &mut BTreeMap<String, String>) {
    let good = reads_as_name(name) && !NO_POINT.contains(&name);
    if !good {
        at.fault(
            format!("`{name}` can't name a point, since the names of its results carry it, as in `p_summit`"),
            format!(
                "use letters a to z, figures and single blanks, beginning with a letter, but not {}",
                listed(&NO_POINT)
            ),
        );
    } else if let Some(other) = suffixes.insert(pipe_suffix(name), name.to_owned()) {
        at.fault(
            format!("the points `{other}` and `{name}` would share the names of their results"),
            "rename one of them",
        );
    }
}
