//! The YAML of a template, with everything checked that can be without a draw.

use super::{Asked, Constraint, Given, Part, Spread, Template, slips};
use crate::bank::formula::{self, Meaning, Names};
use crate::bank::names::{pipe_result, pipe_suffix};
use crate::bank::prose::{self, Block, Inline};
use crate::bank::system::{
    DuctShape, Duty, Element, Fluid, PathSystem, ResultName, System, Value, Velocity, path_results,
    read as system_read,
};
use crate::bank::yaml::{Cursor, Doc, Fields, listed, number_cut_by_comma};
use crate::equation::Expr;
use crate::fault::{Checked, nearest};
use crate::hydraulics::regime::Regime;
use crate::quantity::{Dimension, PressureReference, Unit, Written};
use std::collections::BTreeSet;

/// Longest title, topic or name of a part.
const LONGEST_NAME: usize = 100;
/// Most values in a range.
const MOST_VALUES: i64 = 1_000_000;
/// Most significant figures that a part may ask for.
const MOST_FIGURES: u32 = 6;
/// Placeholders that a statement may use beside the givens.
const PROPERTIES: [&str; 4] = ["rho", "mu", "p_v", "g"];

pub(super) fn template(yaml: &str, name: &str, file: &str) -> Checked<Template> {
    let doc = Doc::read(yaml, file)?;
    let template = read(&doc.root(), yaml, name);
    doc.finish(template)
}

fn read(root: &Cursor<'_>, source: &str, name: &str) -> Option<Template> {
    let fields = root.fields(&[
        "title",
        "topic",
        "version",
        "givens",
        "system",
        "constraints",
        "parts",
        "statement",
        "hints",
        "slips",
        "own slips",
        "slips off",
    ])?;
    let title = fields
        .need("title", "Pump power on a rising main")
        .and_then(|c| line(&c));
    let topic = fields.need("topic", "pump power").and_then(|c| line(&c));
    let version = match fields.get("version") {
        Some(c) => c.whole(1, u32::MAX),
        None => Some(1),
    };

    let givens = fields
        .need("givens", "{ D: { what: bore of the main, value: 50 mm } }")
        .and_then(|c| c.entries())
        .unwrap_or_default();
    let mut names = Names::new();
    let mut good_names = Vec::new();
    let mut read_givens = Vec::new();
    for (given, at) in &givens {
        if good_name(given, at) {
            good_names.push(*given);
        }
        // A value under a bad name still says what formulas with that name mean.
        let read = self::given(given, at);
        names.insert((*given).to_owned(), read.meaning);
        read_givens.push(read);
    }

    let system_at = fields.need(
        "system",
        "{ fluid: …, flow: unknown, stations: …, path: … }, as docs/systems.md shows",
    );
    let system = system_at
        .as_ref()
        .and_then(|at| system_read::system(at, Some(&names)));
    let pipes = match &system {
        Some(system) => system.pipe_names().into_iter().map(str::to_owned).collect(),
        None => (system_at.as_ref())
            .map(|at| names_on_path(at, "pipe"))
            .unwrap_or_default(),
    };
    let pipes: Vec<&str> = pipes.iter().map(String::as_str).collect();
    let own = match &system {
        Some(system) => system.results(),
        None => {
            let called = |kind| {
                system_at
                    .as_ref()
                    .map(|at| names_on_path(at, kind))
                    .unwrap_or_default()
            };
            let (points, losses) = (called("point"), called("loss"));
            let (points, losses): (Vec<&str>, Vec<&str>) = (
                points.iter().map(String::as_str).collect(),
                losses.iter().map(String::as_str).collect(),
            );
            path_results(&pipes, &points, &losses)
        }
    };
    if let Some(system) = &system {
        for (given, at) in &givens {
            clash(given, at, system, &pipes, &own);
        }
        values_refused(system, &read_givens);
    }

    let results = Results {
        givens: &names,
        pipes: &pipes,
        own,
    };
    let mut used = BTreeSet::new();
    let constraints = fields
        .get("constraints")
        .map(|at| constraints(&at, &results, &mut used));
    let constraint_texts = fields
        .get("constraints")
        .map(|at| at.look_items().iter().map(constraint_text).collect())
        .unwrap_or_default();
    let parts = fields
        .need(
            "parts",
            "[{ name: velocity, ask: What is the mean velocity?, answer: V, unit: m/s }]",
        )
        .and_then(|at| parts(&at, &results, &mut used));
    let part_names: Vec<Option<String>> = parts
        .as_ref()
        .map(|p| p.iter().map(|(name, _)| name.clone()).collect())
        .unwrap_or_default();

    let placeholders = placeholders(&names, system.as_ref());
    for (_, ask, blocks) in parts.iter().flatten().filter_map(|(_, part)| part.as_ref()) {
        check_placeholders(ask, blocks, &placeholders);
        used.extend(prose::placeholders(blocks));
    }
    let statement = fields
        .need("statement", "Water runs through a main of bore {{ D }}.")
        .and_then(|c| text(&c, &placeholders));
    let hints = match fields.get("hints") {
        Some(at) => at
            .list()
            .map(|items| items.iter().map(|c| text(c, &placeholders)).collect::<Vec<_>>()),
        None => Some(Vec::new()),
    };
    let slips = slips::read(&fields, &part_names, &names);

    // What could not be read may hold the use that is missing.
    let all_read = match &constraints {
        Some(constraints) => constraints.is_some(),
        None => true,
    } && parts.iter().flatten().all(|(_, part)| part.is_some());
    if let (Some(system), Some(parts), Some(statement), true) = (&system, &parts, &statement, all_read) {
        system.each_formula(&mut |expr| used.extend(expr.symbols()));
        let mut told: BTreeSet<String> = prose::placeholders(statement).into_iter().collect();
        for (_, _, blocks) in parts.iter().filter_map(|(_, part)| part.as_ref()) {
            told.extend(prose::placeholders(blocks));
        }
        for (given, at) in &givens {
            if !good_names.contains(given) || told.contains(*given) {
                continue;
            }
            if used.contains(*given) {
                at.key_fault(
                    format!("the given `{given}` is never told to the student"),
                    format!("print it with `{{{{ {given} }}}}` in the statement or in a question"),
                );
            } else {
                at.key_fault(
                    format!("the given `{given}` is used nowhere"),
                    "use it in the system, a part, a constraint or the statement, or take it out",
                );
            }
        }
    }

    Some(Template {
        name: name.to_owned(),
        title: title?,
        topic: topic?,
        version: version?,
        source: source.to_owned(),
        givens: read_givens
            .into_iter()
            .map(|read| read.given)
            .collect::<Option<_>>()?,
        system: system?,
        constraints: match constraints {
            Some(constraints) => constraints?,
            None => Vec::new(),
        },
        constraint_texts,
        parts: parts?
            .into_iter()
            .map(|(_, part)| part.map(|(part, _, _)| part))
            .collect::<Option<_>>()?,
        statement: statement?,
        hints: hints?.into_iter().collect::<Option<_>>()?,
        slips: slips.listed?,
        own_slips: slips.own?,
        slips_off: slips.off?,
    })
}

/// A short text on one line.
pub(super) fn line(at: &Cursor<'_>) -> Option<String> {
    let text = at.text()?;
    if text.is_empty() || text.chars().count() > LONGEST_NAME || text.contains('\n') {
        at.fault(
            format!("{} needs 1 to {LONGEST_NAME} characters on one line", at.called()),
            "shorten it",
        );
        return None;
    }
    Some(text.to_owned())
}

// Givens.

/// A given as far as it could be read.
struct ReadGiven<'d> {
    given: Option<Given>,
    /// What formulas take it for, also where its values are at fault.
    meaning: Meaning,
    /// The first and last of a range, or every value of a choice, with their places.
    values: Vec<(Written, Cursor<'d>)>,
}

fn given<'d>(name: &str, at: &Cursor<'d>) -> ReadGiven<'d> {
    let nothing = ReadGiven {
        given: None,
        meaning: Meaning::of_unreadable(),
        values: Vec::new(),
    };
    let Some(fields) = at.fields(&["what", "value", "range", "step", "choice"]) else {
        return nothing;
    };
    let what = fields.need("what", "length of the main").and_then(|c| line(&c));
    let said: Vec<&str> = ["value", "range", "choice"]
        .into_iter()
        .filter(|f| fields.has(f))
        .collect();
    let mut values = Vec::new();
    let spread = match said[..] {
        ["value"] => fields.get("value").and_then(|c| {
            let written = quantity(&c)?;
            values.push((written.clone(), c));
            Some(Spread::Fixed(written))
        }),
        ["range"] => range(&fields, &mut values),
        ["choice"] => fields.get("choice").and_then(|c| choice(&c, &mut values)),
        [] => {
            at.fault(
                format!("the given `{name}` has no value"),
                "add `value: 40 mm`, `range: 12.0 L/s to 20.0 L/s` with a `step`, or `choice: [40 mm, 50 mm]`",
            );
            None
        }
        _ => {
            at.fault(
                format!("the given `{name}` has {} together", listed(&said)),
                "keep one of them",
            );
            None
        }
    };
    if !fields.has("range")
        && !said.is_empty()
        && let Some(step) = fields.get("step")
    {
        step.key_fault("a step belongs to a range", "take it out, or write a `range`");
    }
    let mut meanings = values.iter().map(|(written, _)| Meaning::of_unit(&written.unit));
    ReadGiven {
        meaning: match meanings.next() {
            Some(first) if meanings.all(|other| other == first) => first,
            _ => nothing.meaning,
        },
        given: spread.map(|spread| Given {
            name: name.to_owned(),
            what: what.unwrap_or_default(),
            spread,
        }),
        values,
    }
}

/// Values of a given that stands alone as a value of the system, where the system can't have them.
fn values_refused(system: &System, givens: &[ReadGiven<'_>]) {
    let mut said = BTreeSet::new();
    system.each(&mut |slot, of, value| {
        let Value::Formula(Expr::Symbol(symbol)) = value else {
            return;
        };
        for read in givens {
            let Some(given) = read.given.as_ref().filter(|given| given.name == *symbol) else {
                continue;
            };
            for (i, (written, at)) in read.values.iter().enumerate() {
                let Some(why) = system_read::refused(system, slot, of, written) else {
                    continue;
                };
                if !said.insert((given.name.clone(), i)) {
                    continue;
                }
                at.fault(
                    format!(
                        "`{}` can be {}, but as the {} {why}",
                        given.name,
                        written.ascii(),
                        slot.label(of)
                    ),
                    match &given.spread {
                        Spread::Fixed(_) => format!("write a value such as `{}`", slot.example()),
                        Spread::Range { .. } => "move the end of the range".to_owned(),
                        Spread::Choice(_) => "take it out of the choice, or change it".to_owned(),
                    },
                );
            }
        }
    });
}

/// Names must read as one symbol in formulas.
fn good_name(name: &str, at: &Cursor<'_>) -> bool {
    let shaped = name.starts_with(|c: char| c.is_ascii_alphabetic())
        && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        && name.len() <= 30;
    if !shaped {
        at.key_fault(
            format!("`{name}` can't name a given"),
            "use letters a to z, figures and underscores, beginning with a letter",
        );
        return false;
    }
    let kept = ["unknown", "pipe"].contains(&name);
    if kept || Expr::parse(name) != Ok(Expr::symbol(name)) {
        at.key_fault(
            format!("`{name}` has a meaning of its own in formulas"),
            "choose another name",
        );
        return false;
    }
    true
}

fn quantity(at: &Cursor<'_>) -> Option<Written> {
    match Written::parse(at.text()?) {
        Ok(written) => Some(written),
        Err(error) => {
            at.fault_inside(
                None,
                format!("{}: {}", at.called(), error.what),
                Some(
                    error
                        .mend
                        .unwrap_or_else(|| "write a number with its unit, such as `40 mm`".to_owned()),
                ),
            );
            None
        }
    }
}

fn choice<'d>(at: &Cursor<'d>, read: &mut Vec<(Written, Cursor<'d>)>) -> Option<Spread> {
    let items = at.list()?;
    let values: Vec<Option<Written>> = items.iter().map(quantity).collect();
    for (value, item) in values.iter().zip(&items) {
        read.extend(value.clone().map(|value| (value, item.clone())));
    }
    if items.len() < 2 {
        at.fault(
            "a choice needs two values or more",
            "add a value, or write `value:` for a single one",
        );
        return None;
    }
    let values: Vec<Written> = values.into_iter().collect::<Option<_>>()?;
    let first = values.first()?;
    let mut good = true;
    for (i, (value, item)) in values.iter().zip(&items).enumerate().skip(1) {
        if Meaning::of_unit(&value.unit) != Meaning::of_unit(&first.unit) {
            item.fault(
                format!(
                    "`{}` is {}, but the first of the choice is {}",
                    value.ascii(),
                    kind_of(value),
                    kind_of(first)
                ),
                match items[i - 1]
                    .look_text()
                    .and_then(|before| number_cut_by_comma(before, item.look_text()?))
                {
                    Some(whole) => format!("a comma ends a value here, so write `{whole}` if that is meant"),
                    None => "write all values of a choice in units of one kind".to_owned(),
                },
            );
            good = false;
        } else if values[..i].iter().any(|v| v.quantity() == value.quantity()) {
            item.fault(
                format!("`{}` is in the choice twice", value.ascii()),
                "take one of them out",
            );
            good = false;
        }
    }
    good.then_some(Spread::Choice(values))
}

fn kind_of(value: &Written) -> String {
    match value.unit.reference {
        Some(PressureReference::Absolute) => "an absolute pressure".to_owned(),
        _ => value.unit.dimension.name(),
    }
}

fn range<'d>(fields: &Fields<'d>, read: &mut Vec<(Written, Cursor<'d>)>) -> Option<Spread> {
    let at = fields.get("range")?;
    let step_at = fields.need("step", "0.5 L/s");
    let text = at.text()?;
    let Some((low, high)) = text.split_once(" to ") else {
        at.fault(
            format!("`{text}` is no range"),
            "write both ends with `to` between, such as `12.0 L/s to 20.0 L/s`",
        );
        return None;
    };
    let parse = |text: &str, at: &Cursor<'_>| match Written::parse(text.trim()) {
        Ok(written) => Some(written),
        Err(error) => {
            at.fault_inside(None, format!("{}: {}", at.called(), error.what), error.mend);
            None
        }
    };
    let (mut low, high) = (parse(low, &at), parse(high, &at));
    // `12.0 to 20.0 L/s` leaves the first unit to the second.
    if let (Some(low), Some(high)) = (&mut low, &high)
        && low.unit == Unit::none()
        && high.unit.offset == 0.0
    {
        low.unit = high.unit.clone();
    }
    read.extend(
        [&high, &low]
            .into_iter()
            .flatten()
            .map(|w| (w.clone(), at.clone())),
    );
    let step_at = step_at?;
    let step = parse(step_at.text()?, &step_at);
    let (low, high, step) = (low?, high?, step?);
    let unit = high.unit.clone();
    if low.unit != unit {
        at.fault(
            format!(
                "the ends of the range are in `{}` and `{}`",
                low.unit.symbol, unit.symbol
            ),
            "write both in the same unit",
        );
        return None;
    }
    if step.unit != unit {
        let said = match step.unit.symbol.as_str() {
            "" => "has no unit".to_owned(),
            symbol => format!("is in `{symbol}`"),
        };
        step_at.fault(
            format!("the step {said}, but the range is in `{}`", unit.symbol),
            "write the step in the unit of the range",
        );
        return None;
    }
    let (Some(l), Some(h), Some(s)) = (decimal(&low), decimal(&high), decimal(&step)) else {
        at.fault(
            "a range needs plain decimal numbers of at most 15 figures",
            "write decimals, or list the values as a `choice`",
        );
        return None;
    };
    let decimals = l.1.max(h.1).max(s.1);
    let scaled = |(digits, have): (i64, u32)| {
        10_i64
            .checked_pow(decimals - have)
            .and_then(|factor| digits.checked_mul(factor))
    };
    let (Some(first), Some(last), Some(step)) = (scaled(l), scaled(h), scaled(s)) else {
        at.fault(
            "the ends of the range are too far apart for their decimals",
            "write fewer decimals",
        );
        return None;
    };
    if step <= 0 {
        step_at.fault("the step is not greater than 0", "write a step such as `0.5 L/s`");
        return None;
    }
    let Some(width) = last.checked_sub(first).filter(|w| *w > 0) else {
        at.fault(
            "the range ends where it begins, or before",
            "write the smaller end first, or `value:` for a single value",
        );
        return None;
    };
    if width % step != 0 {
        at.fault(
            format!(
                "the range is not a whole number of steps: `{}` from `{}` does not reach `{}`",
                fields.get("step")?.text()?,
                low.ascii(),
                high.ascii()
            ),
            "move an end, or change the step",
        );
        return None;
    }
    if width / step >= MOST_VALUES {
        at.fault(
            format!("the range holds more than {MOST_VALUES} values"),
            "write a larger step",
        );
        return None;
    }
    Some(Spread::Range {
        first,
        step,
        count: u64::try_from(width / step + 1).ok()?,
        decimals,
        unit,
    })
}

/// A number as whole units of its last decimal, and how many decimals that is.
fn decimal(written: &Written) -> Option<(i64, u32)> {
    let shown = &written.shown;
    let (whole, fraction) = shown.digits.split_once('.').unwrap_or((&shown.digits, ""));
    let digits: i64 = format!("{whole}{fraction}").replace('−', "-").parse().ok()?;
    let decimals = i32::try_from(fraction.len()).ok()? - shown.exponent.unwrap_or(0);
    if digits.unsigned_abs() >= 1_000_000_000_000_000 {
        return None;
    }
    if decimals < 0 {
        let factor = 10_i64.checked_pow(decimals.unsigned_abs())?;
        Some((digits.checked_mul(factor)?, 0))
    } else {
        Some((digits, decimals.unsigned_abs()))
    }
}

// Names.

/// What formulas can use.
struct Results<'a> {
    givens: &'a Names,
    pipes: &'a [&'a str],
    /// The system's results.
    own: Vec<ResultName>,
}

impl Results<'_> {
    /// Names for the formulas of parts.
    fn names(&self) -> Names {
        let mut names: Names = self
            .own
            .iter()
            .map(|result| (result.name.clone(), Meaning::of(result.dimension)))
            .collect();
        names.extend(self.givens.iter().map(|(n, m)| (n.clone(), *m)));
        names
    }

    /// Names for constraints: bare names of pipes' results too, which mean every pipe.
    fn names_of_any_pipe(&self) -> Names {
        let mut names: Names = self
            .own
            .iter()
            .filter_map(|result| {
                let (bare, _) = result.of_pipe.as_ref()?;
                Some((bare.clone(), Meaning::of(result.dimension)))
            })
            .collect();
        names.extend(self.names());
        names
    }

    /// What to write in place of a name that is nearly that of a result.
    fn instead(&self, name: &str) -> Option<String> {
        let of_pipes = |bare: &str| {
            let mut pipes = self.own.iter().filter_map(|result| result.of_pipe.as_ref());
            pipes.any(|(base, _)| base == bare)
        };
        if self.pipes.len() > 1 && of_pipes(name) {
            let all: Vec<String> = self
                .pipes
                .iter()
                .map(|pipe| pipe_result(name, pipe, self.pipes.len()))
                .collect();
            return Some(format!(
                "there are several pipes, so write {}",
                listed(&all).replace(" and ", " or ")
            ));
        }
        if let [pipe] = self.pipes {
            let base = name.strip_suffix(&format!("_{}", pipe_suffix(pipe)))?;
            return of_pipes(base)
                .then(|| format!("there is one pipe, so its results stand alone: write `{base}`"));
        }
        None
    }
}

/// The names of the elements of a kind as far as they can be seen, whatever else is wrong with the system.
fn names_on_path(system: &Cursor<'_>, kind: &str) -> Vec<String> {
    system
        .look("path")
        .map(|path| path.look_items())
        .unwrap_or_default()
        .iter()
        .filter_map(|item| Some(item.look(kind)?.look("name")?.look_text()?.to_owned()))
        .collect()
}

/// A given that has the name of a result must be that result.
fn clash(name: &str, at: &Cursor<'_>, system: &System, pipes: &[&str], own: &[ResultName]) {
    let named = |result: &&ResultName| {
        result.name == name || result.of_pipe.as_ref().is_some_and(|(base, _)| base == name)
    };
    let meaning = own
        .iter()
        .find(named)
        .map(|result| result.meaning.as_str())
        .or((name == "p_v").then_some("vapour pressure"));
    let Some(meaning) = meaning else {
        return;
    };
    let values = match system {
        System::Path(path) => slot_of_result(name, path, pipes),
        other => stated(name, other, &mut own.iter().filter(named)),
    };
    let same = !values.is_empty()
        && values
            .iter()
            .all(|v| matches!(v, Some(Value::Formula(Expr::Symbol(s))) if s == name));
    if !same {
        at.key_fault(
            format!(
                "`{name}` is the name of a result ({meaning}), so formulas would have two meanings for it"
            ),
            if values.is_empty() {
                format!("rename the given, such as `{name}_0`")
            } else {
                format!("rename the given, such as `{name}_0`, or write `{name}` alone as that value of the system")
            },
        );
    }
}

/// The values of a system of another kind than the path that a name stands for.
fn stated<'s>(
    name: &str,
    system: &'s System,
    named: &mut dyn Iterator<Item = &ResultName>,
) -> Vec<Option<&'s Value>> {
    let (density, viscosity, vapour) = properties(system.fluid());
    match name {
        "rho" => vec![density],
        "mu" | "nu" => vec![viscosity],
        "p_v" => vec![vapour],
        "g" => vec![Some(system.gravity())],
        _ => named
            .filter_map(|result| Some(system.kind()?.stated(&result.name)))
            .collect(),
    }
}

/// Density, viscosity and vapour pressure of a fluid where they are written.
fn properties(fluid: &Fluid) -> (Option<&Value>, Option<&Value>, Option<&Value>) {
    match fluid {
        Fluid::Given {
            density,
            viscosity,
            vapour_pressure,
            ..
        } => (Some(density), Some(viscosity), vapour_pressure.as_ref()),
        Fluid::Named { .. } => (None, None, None),
    }
}

/// The values of the system that a result's name stands for; `None` for one that is not written.
fn slot_of_result<'s>(name: &str, system: &'s PathSystem, pipes: &[&str]) -> Vec<Option<&'s Value>> {
    let (density, viscosity, vapour) = properties(&system.fluid);
    let velocity = |v: &'s Velocity| match v {
        Velocity::Value(value) => Some(value),
        _ => None,
    };
    // Results that add up several machines are the given's only where there is one.
    let machine = |pump: bool, head: bool| {
        let duties: Vec<&Duty> = system
            .path
            .iter()
            .filter_map(|e| match e {
                Element::Pump { duty, .. } if pump => Some(duty),
                Element::Turbine { duty, .. } if !pump => Some(duty),
                _ => None,
            })
            .collect();
        match duties[..] {
            [Duty::Head(v)] if head => Some(v),
            [Duty::Power(v)] if !head => Some(v),
            _ => None,
        }
    };
    match name {
        "Q" => vec![Some(&system.flow)],
        "rho" => vec![density],
        "mu" | "nu" => vec![viscosity],
        "p_v" => vec![vapour],
        "g" => vec![Some(&system.gravity)],
        "p_1" => vec![Some(&system.start.pressure)],
        "p_2" => vec![Some(&system.end.pressure)],
        "z_1" => vec![Some(&system.start.elevation)],
        "z_2" => vec![Some(&system.end.elevation)],
        "V_1" => vec![velocity(&system.start.velocity)],
        "V_2" => vec![velocity(&system.end.velocity)],
        "h_P" => vec![machine(true, true)],
        "P_P" => vec![machine(true, false)],
        "h_T" => vec![machine(false, true)],
        "P_T" => vec![machine(false, false)],
        name if system.machine_results().iter().any(|(own, _, _)| own == name) => {
            vec![system.stated_of_machine(name)]
        }
        _ => system
            .path
            .iter()
            .filter_map(|e| {
                let Element::Pipe {
                    name: pipe,
                    bore,
                    length,
                    roughness,
                } = e
                else {
                    return None;
                };
                let (area, perimeter) = match bore.duct().map(|duct| &duct.shape) {
                    Some(DuctShape::Other([area, perimeter, ..])) => (Some(area), Some(perimeter)),
                    _ => (None, None),
                };
                [
                    ("D", bore.diameter()),
                    ("A", area),
                    ("P_w", perimeter),
                    ("L", Some(length)),
                    ("eps", Some(roughness)),
                ]
                .into_iter()
                .find(|(base, _)| *base == name || pipe_result(base, pipe, pipes.len()) == name)
                .map(|(_, value)| value)
            })
            .collect(),
    }
}

// Constraints.

fn constraints(
    at: &Cursor<'_>,
    results: &Results<'_>,
    used: &mut BTreeSet<String>,
) -> Option<Vec<Constraint>> {
    let names = results.names_of_any_pipe();
    let items = at.list()?;
    let read: Vec<Option<Constraint>> = items
        .iter()
        .map(|item| {
            if item.is_map() {
                return regime_constraint(&item.fields(&["regime"])?.need("regime", "fully rough")?, results);
            }
            let expr = formula::comparison(item, &names, &|name| results.instead(name))?;
            used.extend(expr.symbols());
            Some(Constraint::Holds(expr))
        })
        .collect();
    read.into_iter().collect()
}

/// A constraint as it is written: `V < 4 m/s`, `regime: [smooth, fully rough]`.
fn constraint_text(at: &Cursor<'_>) -> String {
    if let Some(text) = at.look_text() {
        return text.to_owned();
    }
    if at.is_list() {
        let items: Vec<String> = at.look_items().iter().map(constraint_text).collect();
        return format!("[{}]", items.join(", "));
    }
    let entries = if at.is_map() { at.entries() } else { None }.unwrap_or_default();
    let fields: Vec<String> = entries
        .iter()
        .map(|(key, value)| match value.is_map() {
            true => format!("{key}: {{ {} }}", constraint_text(value)),
            false => format!("{key}: {}", constraint_text(value)),
        })
        .collect();
    fields.join(", ")
}

fn regime_constraint(at: &Cursor<'_>, results: &Results<'_>) -> Option<Constraint> {
    if !at.is_map() {
        return Some(Constraint::Regime {
            pipe: None,
            allowed: regimes(at)?,
        });
    }
    let entries = at.entries()?;
    let [(pipe, allowed)] = &entries[..] else {
        at.fault(
            "a regime constraint names one pipe",
            "write one constraint for each pipe, such as `- regime: { main: fully rough }`",
        );
        return None;
    };
    let index = pipe_index(pipe, results.pipes, allowed, true);
    let allowed = regimes(allowed);
    Some(Constraint::Regime {
        pipe: Some(index?),
        allowed: allowed?,
    })
}

fn pipe_index(name: &str, pipes: &[&str], at: &Cursor<'_>, at_key: bool) -> Option<usize> {
    let found = pipes.iter().position(|p| *p == name);
    if found.is_none() {
        let what = format!("there is no pipe called `{name}`");
        let mend = match nearest(name, pipes.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => system_read::the_pipes(pipes),
        };
        if at_key {
            at.key_fault(what, mend);
        } else {
            at.fault(what, mend);
        }
    }
    found
}

fn regimes(at: &Cursor<'_>) -> Option<Vec<Regime>> {
    let one = |at: &Cursor<'_>| {
        let text = at.text()?;
        let found = Regime::ALL.into_iter().find(|r| r.name() == text);
        if found.is_none() {
            let names = Regime::ALL.map(Regime::name);
            at.fault(
                format!("there is no regime `{text}`"),
                match nearest(text, names) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("the regimes are {}", listed(&names)),
                },
            );
        }
        found
    };
    if at.is_list() {
        let items = at.list()?;
        if items.is_empty() {
            at.fault("no regime is allowed", "name one at least");
            return None;
        }
        let read: Vec<Option<Regime>> = items.iter().map(one).collect();
        return read.into_iter().collect();
    }
    one(at).map(|r| vec![r])
}

// Parts.

/// A part with its question, whose placeholders wait to be checked.
type ReadPart<'d> = (Option<String>, Option<(Part, Cursor<'d>, Vec<Block>)>);

fn parts<'d>(
    at: &Cursor<'d>,
    results: &Results<'_>,
    used: &mut BTreeSet<String>,
) -> Option<Vec<ReadPart<'d>>> {
    let items = at.list()?;
    if items.is_empty() {
        at.fault("no part is asked", "add a part");
        return None;
    }
    let all: Vec<Option<&str>> = items
        .iter()
        .map(|item| item.look("name").and_then(|c| c.look_text()))
        .collect();
    let mut read: Vec<ReadPart<'d>> = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let part = part(item, i, &all, results, used);
        read.push((all[i].map(str::to_owned), part));
    }
    Some(read)
}

fn part<'d>(
    at: &Cursor<'d>,
    index: usize,
    all: &[Option<&str>],
    results: &Results<'_>,
    used: &mut BTreeSet<String>,
) -> Option<(Part, Cursor<'d>, Vec<Block>)> {
    let fields = at.fields(&[
        "name",
        "ask",
        "answer",
        "unit",
        "figures",
        "regime",
        "choice",
        "first if",
        "marks",
        "chart",
        "builds on",
    ])?;
    let name = fields.need("name", "velocity").and_then(|c| {
        let name = line(&c)?;
        if all[..index].contains(&Some(name.as_str())) {
            c.fault(
                format!("two parts are called `{name}`"),
                "give each part its own name",
            );
            return None;
        }
        Some(name)
    });
    let ask = fields.need("ask", "What is the mean velocity?").and_then(|c| {
        let blocks = parse_prose(&c)?;
        match &blocks[..] {
            [Block::Paragraph(inline)] => Some((inline.clone(), c, blocks)),
            _ => {
                c.fault("a question is one paragraph", "move the rest into the statement");
                None
            }
        }
    });
    let asked = asked(&fields, results, used);
    let marks = match fields.get("marks") {
        Some(c) => c.number().and_then(|marks| {
            if marks > 0.0 && marks <= 1000.0 {
                return Some(marks);
            }
            c.fault(
                format!("`marks` is {marks}, but it must be greater than 0 and at most 1000"),
                "write a number such as `2`",
            );
            None
        }),
        None if fields.has("marks") => None,
        None => Some(1.0),
    };
    let chart = match fields.get("chart") {
        Some(c) => c.yes_or_no(),
        None => Some(false),
    };
    let builds_on = match fields.get("builds on") {
        Some(c) => builds_on(&c, index, all),
        None => Some(Vec::new()),
    };
    let (inline, ask, blocks): (Vec<Inline>, _, _) = ask?;
    Some((
        Part {
            name: name?,
            ask: inline,
            asked: asked?,
            marks: marks?,
            chart: chart?,
            builds_on: builds_on?,
        },
        ask,
        blocks,
    ))
}

fn asked(fields: &Fields<'_>, results: &Results<'_>, used: &mut BTreeSet<String>) -> Option<Asked> {
    let said: Vec<&str> = ["answer", "regime", "choice"]
        .into_iter()
        .filter(|f| fields.has(f))
        .collect();
    let belongs = |field: &str, to: &str| {
        if let Some(c) = fields.get(field).filter(|_| !fields.has(to)) {
            c.key_fault(
                format!("`{field}` belongs to a part that has `{to}`"),
                "take it out",
            );
        }
    };
    if said.len() == 1 {
        belongs("unit", "answer");
        belongs("figures", "answer");
        belongs("first if", "choice");
    }
    match said[..] {
        ["answer"] => number(fields, results, used),
        ["regime"] => {
            let at = fields.get("regime")?;
            Some(Asked::Regime {
                pipe: pipe_index(at.text()?, results.pipes, &at, false)?,
            })
        }
        ["choice"] => {
            let at = fields.get("choice")?;
            let options = at.list().and_then(|items| {
                let words: Vec<Option<String>> = items.iter().map(line).collect();
                let words: Vec<String> = words.into_iter().collect::<Option<_>>()?;
                match <[String; 2]>::try_from(words) {
                    Ok(two) if two[0].to_lowercase() != two[1].to_lowercase() => Some(two),
                    _ => {
                        at.fault(
                            "a choice is between two different words",
                            "write it as `[yes, no]`",
                        );
                        None
                    }
                }
            });
            let first_if = fields.need("first if", "Re > 4000").and_then(|c| {
                let expr = formula::comparison(&c, &results.names(), &|name| results.instead(name))?;
                used.extend(expr.symbols());
                Some(expr)
            });
            Some(Asked::Choice {
                options: options?,
                first_if: first_if?,
            })
        }
        [] => {
            fields.at.fault(
                "the part says nothing of its answer",
                "add `answer:` with a formula, `regime:` with a pipe, or `choice:` with two words and `first if:`",
            );
            None
        }
        _ => {
            fields.at.fault(
                format!("the part has {} together", listed(&said)),
                "keep one of them",
            );
            None
        }
    }
}

fn number(fields: &Fields<'_>, results: &Results<'_>, used: &mut BTreeSet<String>) -> Option<Asked> {
    let at = fields.get("answer")?;
    let formula = formula::read(&at, &results.names(), &|name| results.instead(name));
    if let Some((expr, _)) = &formula {
        used.extend(expr.symbols());
    }
    let unit_at = fields.get("unit");
    let unit = match &unit_at {
        None => Some(Unit::none()),
        Some(c) => match c.text().map(Unit::parse) {
            Some(Ok(unit)) => Some(unit),
            Some(Err(error)) => {
                c.fault_inside(None, format!("`unit`: {}", error.what), error.mend);
                None
            }
            None => None,
        },
    };
    let figures = match fields.get("figures") {
        Some(c) => c.whole(1, MOST_FIGURES),
        None => Some(3),
    };
    let (formula, dimension) = formula?;
    if matches!(formula, Expr::Compare(..) | Expr::And(..) | Expr::Or(..)) {
        at.fault(
            format!("`{}` is a comparison, but an answer is a value", at.text()?),
            "write a formula, or ask for a `choice`",
        );
        return None;
    }
    let unit = unit?;
    if unit.dimension != dimension {
        let said = match &unit_at {
            Some(c) => format!("the unit `{}` measures {}", c.text()?, unit.dimension.name()),
            None => "the part has no unit".to_owned(),
        };
        unit_at.as_ref().unwrap_or(&at).fault(
            format!("{said}, but `{}` is {}", at.text()?, dimension.name()),
            if dimension == Dimension::NONE {
                "take the unit out".to_owned()
            } else {
                match usual_unit(dimension) {
                    Some(unit) => format!("write a unit that fits, such as `unit: {unit}`"),
                    None => "write a unit that fits".to_owned(),
                }
            },
        );
        return None;
    }
    if unit.reference == Some(PressureReference::Absolute) {
        unit_at.as_ref().unwrap_or(&at).fault(
            "pressures are asked as gauge pressures",
            "take `abs` or the final `a` off the unit",
        );
        return None;
    }
    Some(Asked::Number {
        formula,
        unit,
        figures: figures?,
    })
}

/// A unit in which such an answer is usually asked.
fn usual_unit(dimension: Dimension) -> Option<&'static str> {
    [
        (Dimension::LENGTH, "m"),
        (Dimension::AREA, "m^2"),
        (Dimension::VOLUME, "m^3"),
        (Dimension::TIME, "s"),
        (Dimension::MASS, "kg"),
        (Dimension::VELOCITY, "m/s"),
        (Dimension::ACCELERATION, "m/s^2"),
        (Dimension::FLOW, "L/s"),
        (Dimension::MASS_FLOW, "kg/s"),
        (Dimension::FORCE, "N"),
        (Dimension::PRESSURE, "kPa"),
        (Dimension::ENERGY, "kJ"),
        (Dimension::POWER, "kW"),
        (Dimension::DENSITY, "kg/m^3"),
        (Dimension::DYNAMIC_VISCOSITY, "Pa.s"),
        (Dimension::KINEMATIC_VISCOSITY, "m^2/s"),
    ]
    .into_iter()
    .find(|(d, _)| *d == dimension)
    .map(|(_, unit)| unit)
}

fn builds_on(at: &Cursor<'_>, index: usize, all: &[Option<&str>]) -> Option<Vec<usize>> {
    let items = at.list()?;
    let read: Vec<Option<usize>> = items
        .iter()
        .map(|item| {
            let name = item.text()?;
            let earlier = &all[..index];
            let found = earlier.iter().position(|n| *n == Some(name));
            if found.is_none() {
                let mend = if all[index] == Some(name) {
                    "a part can't build on itself; take it out".to_owned()
                } else if all.contains(&Some(name)) {
                    "a part builds on earlier parts only; change their order, or take it out".to_owned()
                } else {
                    near_part(name, earlier)
                };
                item.fault(format!("there is no earlier part `{name}`"), mend);
            }
            found
        })
        .collect();
    let mut parts: Vec<usize> = read.into_iter().collect::<Option<_>>()?;
    parts.sort_unstable();
    parts.dedup();
    Some(parts)
}

pub(super) fn near_part(name: &str, all: &[Option<&str>]) -> String {
    let names: Vec<&str> = all.iter().filter_map(|n| *n).collect();
    match nearest(name, names.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if names.is_empty() => "take it out".to_owned(),
        None => format!("the parts are {}", listed(&names)),
    }
}

// Texts.

fn parse_prose(at: &Cursor<'_>) -> Option<Vec<Block>> {
    let text = at.raw_text()?;
    match prose::parse(text) {
        Ok(blocks) => Some(blocks),
        Err(errors) => {
            for error in errors {
                at.fault_inside(Some(error.offset), error.what, error.mend);
            }
            None
        }
    }
}

fn text(at: &Cursor<'_>, known: &[String]) -> Option<Vec<Block>> {
    let blocks = parse_prose(at)?;
    if blocks.is_empty() {
        at.fault(format!("{} is empty", at.called()), "write it");
        return None;
    }
    check_placeholders(at, &blocks, known);
    Some(blocks)
}

/// The placeholders that texts can use.
fn placeholders(givens: &Names, system: Option<&System>) -> Vec<String> {
    let mut known: Vec<String> = givens.keys().cloned().collect();
    let vapour = match system.map(System::fluid) {
        Some(Fluid::Given { vapour_pressure, .. }) => vapour_pressure.is_some(),
        Some(Fluid::Named { name, .. }) => *name == crate::fluid::Named::Water,
        None => true,
    };
    for name in PROPERTIES {
        if (name != "p_v" || vapour) && !givens.contains_key(name) {
            known.push(name.to_owned());
        }
    }
    known
}

fn check_placeholders(at: &Cursor<'_>, blocks: &[Block], known: &[String]) {
    let text = at.raw_text().unwrap_or_default();
    let unknown: BTreeSet<String> = prose::placeholders(blocks)
        .into_iter()
        .filter(|name| !known.contains(name))
        .collect();
    for name in unknown {
        let offset = text.match_indices("{{").map(|(i, _)| i).find(|i| {
            text[i + 2..]
                .split("}}")
                .next()
                .is_some_and(|inner| inner.trim() == name)
        });
        let mend = match formula::near(&name, known.iter().map(String::as_str)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the names that can stand here are {}", listed(known)),
        };
        at.fault_inside(offset, format!("there is no given `{name}` to print"), Some(mend));
    }
}
