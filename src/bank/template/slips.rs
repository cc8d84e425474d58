//! What a template says of slips: those that must show, its own, and those that are switched off.

use super::read::{line, near_part};
use super::{ListedSlip, OwnSlip};
use crate::bank::formula::{self, Names};
use crate::bank::slips::SLIPS;
use crate::bank::yaml::{Cursor, Fields};
use crate::equation::Expr;
use crate::fault::nearest;
use std::collections::BTreeMap;

/// What could be read.
pub(super) struct Slips {
    pub(super) listed: Option<Vec<ListedSlip>>,
    pub(super) own: Option<Vec<OwnSlip>>,
    pub(super) off: Option<Vec<String>>,
}

/// Reads `slips`, `own slips` and `slips off`; a name may stand once in all of them.
pub(super) fn read(fields: &Fields<'_>, parts: &[Option<String>], givens: &Names) -> Slips {
    let parts: Vec<Option<&str>> = parts.iter().map(Option::as_deref).collect();
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut listed = match fields.get("slips") {
        Some(at) => listed_slips(&at, &parts, &mut seen),
        None => Some(Vec::new()),
    };
    let own = match fields.get("own slips") {
        Some(at) => own_slips(&at, &parts, givens, &mut seen),
        None => Some(Vec::new()),
    };
    let off = match fields.get("slips off") {
        Some(at) => switched_off(&at, &mut seen),
        None => Some(Vec::new()),
    };
    let (shown, own) = match own {
        Some(own) => {
            let (shown, own) = own.into_iter().unzip();
            (Some(shown), Some(own))
        }
        None => (None::<Vec<ListedSlip>>, None),
    };
    if let (Some(listed), Some(shown)) = (&mut listed, shown) {
        listed.extend(shown);
    }
    Slips { listed, own, off }
}

fn is_known(name: &str) -> bool {
    SLIPS.iter().any(|(known, _)| *known == name)
}

/// What to do about a name that no slip has.
fn near_slip(name: &str) -> String {
    match nearest(name, SLIPS.iter().map(|(known, _)| *known)) {
        Some(near) => format!("did you mean `{near}`?"),
        None => "choose one of those listed in docs/templates.md".to_owned(),
    }
}

/// A fault where a name stood before.
fn once(name: &str, at: &Cursor<'_>, seen: &mut BTreeMap<String, usize>, mend: &str) {
    if let Some(first) = seen.insert(name.to_owned(), at.line()) {
        at.fault(
            format!("the slip `{name}` is listed twice, first on line {first}"),
            mend,
        );
    }
}

/// The parts in which a slip shows.
fn shows_in(name: &str, at: &Cursor<'_>, parts: &[Option<&str>]) -> Option<Vec<usize>> {
    let found: Vec<Option<usize>> = at
        .list()?
        .iter()
        .map(|c| {
            let part = c.text()?;
            let found = parts.iter().position(|p| *p == Some(part));
            if found.is_none() {
                c.fault(format!("there is no part `{part}`"), near_part(part, parts));
            }
            found
        })
        .collect();
    if found.is_empty() {
        at.fault(
            format!("the slip `{name}` shows in no part"),
            "name the parts whose answers it must move, or take the slip out",
        );
        return None;
    }
    found.into_iter().collect()
}

fn listed_slips(
    at: &Cursor<'_>,
    parts: &[Option<&str>],
    seen: &mut BTreeMap<String, usize>,
) -> Option<Vec<ListedSlip>> {
    let items = at.list()?;
    let read: Vec<Option<ListedSlip>> = items
        .iter()
        .map(|item| {
            let entries = if item.is_map() {
                item.entries()?
            } else {
                Vec::new()
            };
            let [(name, shows)] = &entries[..] else {
                item.fault(
                    "a slip is a name with the parts it shows in",
                    "write it as `- exit loss left out: [velocity]`",
                );
                return None;
            };
            if !is_known(name) {
                shows.key_fault(format!("there is no slip called `{name}`"), near_slip(name));
            }
            once(name, item, seen, "put its parts into one list");
            Some(ListedSlip {
                name: (*name).to_owned(),
                shows_in: shows_in(name, shows, parts)?,
            })
        })
        .collect();
    read.into_iter().collect()
}

fn switched_off(at: &Cursor<'_>, seen: &mut BTreeMap<String, usize>) -> Option<Vec<String>> {
    let items = at.list()?;
    let read: Vec<Option<String>> = items
        .iter()
        .map(|item| {
            let name = item.text()?;
            if !is_known(name) {
                item.fault(format!("there is no slip called `{name}`"), near_slip(name));
            }
            once(
                name,
                item,
                seen,
                "a slip either shows or is off: take it out of one list",
            );
            Some(name.to_owned())
        })
        .collect();
    read.into_iter().collect()
}

fn own_slips(
    at: &Cursor<'_>,
    parts: &[Option<&str>],
    givens: &Names,
    seen: &mut BTreeMap<String, usize>,
) -> Option<Vec<(ListedSlip, OwnSlip)>> {
    let items = at.list()?;
    let read: Vec<Option<(ListedSlip, OwnSlip)>> = items
        .iter()
        .map(|item| {
            let fields = item.fields(&["name", "advice", "with", "shows in"])?;
            let name_at = fields.need("name", "depth below the floor");
            let name = name_at.as_ref().and_then(line);
            if let (Some(name), Some(at)) = (&name, &name_at) {
                if is_known(name) {
                    at.fault(
                        format!("`{name}` is the name of a slip of the library"),
                        "list that one under `slips`, or choose another name",
                    );
                }
                once(name, at, seen, "choose another name");
            }
            let advice = fields
                .need("advice", "Check from where each height is counted.")
                .and_then(|at| advice(&at));
            let with = fields
                .need("with", "{ z_s: -z_s }")
                .and_then(|at| with(&at, givens));
            let shows = fields
                .need("shows in", "[flow]")
                .and_then(|at| shows_in(name.as_deref().unwrap_or_default(), &at, parts));
            let name = name?;
            let listed = ListedSlip {
                name: name.clone(),
                shows_in: shows?,
            };
            let own = OwnSlip {
                name,
                advice: advice?,
                with: with?,
            };
            Some((listed, own))
        })
        .collect();
    read.into_iter().collect()
}

/// A hint for the student, which points to what is to be looked at and gives nothing away.
fn advice(at: &Cursor<'_>) -> Option<String> {
    let text = at.text()?.trim();
    if !text.starts_with("Check ") || !text.ends_with('.') || text.contains('\n') {
        at.fault(
            "an advice is one sentence that begins with `Check` and ends with a full stop",
            "write it as `Check from where each height is counted.`",
        );
        return None;
    }
    Some(text.to_owned())
}

/// Givens and what is taken in their place.
fn with(at: &Cursor<'_>, givens: &Names) -> Option<Vec<(String, Expr)>> {
    let entries = at.entries()?;
    if entries.is_empty() {
        at.fault(
            "the slip takes nothing for something else",
            "name a given and what is taken in its place, such as `{ z_s: -z_s }`",
        );
        return None;
    }
    let read: Vec<Option<(String, Expr)>> = entries
        .iter()
        .map(|(name, at)| {
            let meaning = givens.get(*name);
            if meaning.is_none() {
                at.key_fault(
                    format!("there is no given `{name}`"),
                    match formula::near(name, givens.keys().map(String::as_str)) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => "name a given of this template".to_owned(),
                    },
                );
            }
            let (expr, dimension) = formula::read(at, givens, &|_| None)?;
            let meaning = meaning?;
            if !meaning.unreadable && dimension != meaning.dimension {
                at.fault(
                    format!(
                        "the formula gives {}, but `{name}` is {}",
                        dimension.name(),
                        meaning.dimension.name()
                    ),
                    "check the formula",
                );
                return None;
            }
            Some(((*name).to_owned(), expr))
        })
        .collect();
    read.into_iter().collect()
}
