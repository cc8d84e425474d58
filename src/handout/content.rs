//! What the papers say, as a document tree: the same for every format.

use super::drawings::illustrated;
use super::words;
use crate::band::{Accepted, Band, Cause};
use crate::bank::course::{Conventions, Policy};
use crate::bank::prose::{self, Block, Inline, Table, text};
use crate::bank::system::Value;
use crate::bank::template::{Asked, Part};
use crate::constants::policy::NOUGHT_SHARE;
use crate::deal::Dealt;
use crate::equation::{Bindings, Bound, Expr, Line, Relation};
use crate::fault::{Checked, Fault};
use crate::hydraulics::regime::Regime;
use crate::quantity::{DecimalMark, Quantity, Unit, Written};
use crate::solution::{Answer, Case, Step, worked};

/// The unit of a part's answer as it is printed beside a box for it; empty where it has none.
pub(super) fn unit(part: &Part) -> String {
    match &part.asked {
        Asked::Number { unit, .. } => unit.symbol.clone(),
        _ => String::new(),
    }
}

/// To how many figures a part's number is asked, in words; empty for another answer.
pub(super) fn figures(part: &Part) -> String {
    match &part.asked {
        Asked::Number { figures, .. } => words::to_figures(*figures),
        _ => String::new(),
    }
}

/// The words to choose from; none for a number.
pub(super) fn options(part: &Part) -> Vec<String> {
    match &part.asked {
        Asked::Number { .. } => Vec::new(),
        Asked::Regime { .. } => Regime::ALL.iter().map(|r| r.name().to_owned()).collect(),
        Asked::Choice { options, .. } => options.iter().map(|o| (*o).to_string()).collect(),
    }
}

/// What a part wants for an answer, in words.
pub fn asked(part: &Part, _mark: DecimalMark) -> String {
    match &part.asked {
        Asked::Number { unit, figures, .. } => {
            let figures = words::to_figures(*figures);
            if unit.symbol.is_empty() {
                words::a_number(&figures)
            } else {
                words::in_unit(&unit.symbol, &figures)
            }
        }
        Asked::Regime { .. } => {
            let names: Vec<&str> = Regime::ALL.iter().map(|r| r.name()).collect();
            words::listed(&names, words::OR)
        }
        Asked::Choice { options, .. } => words::listed(&[&*options[0], &*options[1]], words::OR),
    }
}

/// A number of marks as it is printed: whole, or with up to two decimals.
pub(super) fn marks(value: f64, mark: DecimalMark) -> String {
    let fixed = format!("{value:.2}");
    pointed(fixed.trim_end_matches('0').trim_end_matches('.'), mark)
}

fn pointed(number: &str, mark: DecimalMark) -> String {
    match mark {
        DecimalMark::Point => number.to_owned(),
        DecimalMark::Comma => number.replace('.', ","),
    }
}

/// The names that a statement may use, and what stands for them: the givens, and the fluid's values.
fn fillings(dealt: &Dealt) -> Bindings {
    let mut of = dealt.givens.clone();
    let mut add = |name: &str, written: Option<&Written>| {
        if let Some(written) = written
            && of.get(name).is_none()
        {
            of.set(name, Bound::as_written(written.clone()));
        }
    };
    let fluid = dealt.case.fluid();
    add("rho", Some(&fluid.density));
    add("mu", Some(&fluid.dynamic_viscosity));
    add("p_v", fluid.vapour_pressure.as_ref());
    if let Value::Known(gravity) = dealt.case.gravity() {
        add("g", Some(gravity));
    }
    of
}

fn filled(dealt: &Dealt, blocks: &[Block]) -> Checked<Vec<Block>> {
    let filled = prose::fill(blocks, &fillings(dealt));
    filled.map(tied_in_blocks).map_err(|e| {
        let mut fault = Fault::new(format!(
            "the text of `{}` can't be filled: {}",
            dealt.template.name, e.what
        ));
        fault.mend = e.mend;
        fault.into()
    })
}

/// Paragraphs and lists in which no line ends between a number and its unit.
fn tied_in_blocks(blocks: Vec<Block>) -> Vec<Block> {
    let tied_in = |inlines: Vec<Inline>| {
        let each = inlines.into_iter().map(|inline| match inline {
            Inline::Text(words) => Inline::Text(tied(&words)),
            other => other,
        });
        each.collect()
    };
    let each = blocks.into_iter().map(|block| match block {
        Block::Paragraph(inlines) => Block::Paragraph(tied_in(inlines)),
        Block::Note(inlines) => Block::Note(tied_in(inlines)),
        Block::List { ordered, items } => Block::List {
            ordered,
            items: items.into_iter().map(tied_in_blocks).collect(),
        },
        other => other,
    });
    each.collect()
}

/// The space between a number and a unit does not break, nor one within a number: `101.325 kPa`, `200 000`.
fn tied(words: &str) -> String {
    let is_digits = |text: &str, most: usize| {
        (1..=most).contains(&text.len()) && text.chars().all(|c| c.is_ascii_digit())
    };
    let mut out = String::with_capacity(words.len());
    for (n, word) in words.split(' ').enumerate() {
        if n > 0 {
            let bare = word.trim_end_matches(['.', ',', ';', ':', ')', '?', '!']);
            let is_unit = || !bare.is_empty() && (bare == "%" || Unit::parse(bare).is_ok());
            let is_thousands = || {
                let last = out.rsplit([' ', '\u{a0}', '(']).next().unwrap_or_default();
                bare.len() == 3 && is_digits(bare, 3) && is_digits(last, 3)
            };
            let number = out.ends_with(|c: char| c.is_ascii_digit());
            let tied = number && (is_thousands() || is_unit());
            out.push(if tied { '\u{a0}' } else { ' ' });
        }
        out.push_str(word);
    }
    out
}

/// The statement with the draw's numbers.
///
/// # Errors
/// A placeholder that nothing fills.
pub fn statement(dealt: &Dealt) -> Checked<Vec<Block>> {
    filled(dealt, &dealt.template.statement)
}

/// The question of a part with the draw's numbers, on one line.
///
/// # Errors
/// A placeholder that nothing fills.
pub fn question(dealt: &Dealt, part: &Part) -> Checked<Vec<Inline>> {
    let ask = part
        .ask
        .iter()
        .map(|i| {
            if matches!(i, Inline::Break) {
                text(" ")
            } else {
                i.clone()
            }
        })
        .collect();
    match filled(dealt, &[Block::Paragraph(ask)])?.into_iter().next() {
        Some(Block::Paragraph(inlines)) => Ok(inlines),
        _ => Ok(Vec::new()),
    }
}

/// What every solver needs and the statement does not say: gravity, and a named fluid's properties.
pub fn properties(dealt: &Dealt) -> Vec<Inline> {
    let said = prose::placeholders(&dealt.template.statement);
    let says = |name: &str| said.iter().any(|s| s == name);
    let equal = |name: &str, written: &Written| {
        Inline::Math(Expr::Compare(
            Box::new(Expr::symbol(name)),
            Relation::Equal,
            Box::new(Expr::Number(written.clone())),
        ))
    };
    let mut values = Vec::new();
    let fluid = dealt.case.fluid();
    let mut of_fluid = false;
    if fluid.temperature.is_some() {
        if !says("rho") {
            values.push(equal("rho", &fluid.density));
        }
        if !says("mu") && !says("nu") {
            values.push(equal("mu", &fluid.dynamic_viscosity));
        }
        of_fluid = !values.is_empty();
    }
    if let Value::Known(gravity) = dealt.case.gravity()
        && !says("g")
    {
        values.push(equal("g", gravity));
    }
    let mut out = Vec::new();
    let count = values.len();
    for (n, value) in values.into_iter().enumerate() {
        out.push(text(match n {
            0 => words::TAKE,
            _ if n + 1 == count => words::AND,
            _ => ", ",
        }));
        out.push(value);
    }
    if count > 0 {
        if of_fluid {
            out.push(text(format!(" ({}", fluid.name)));
            if let Some(temperature) = &fluid.temperature {
                out.push(text(words::AT));
                out.push(Inline::Value(temperature.clone()));
            }
            out.push(text(")"));
        }
        out.push(text("."));
    }
    out
}

/// Unit and figures of a part that asks for a number.
fn written_as(part: &Part) -> Option<(&Unit, u32)> {
    match &part.asked {
        Asked::Number { unit, figures, .. } => Some((unit, *figures)),
        _ => None,
    }
}

fn answer(answer: &Answer, part: &Part) -> Vec<Inline> {
    match (answer, written_as(part)) {
        (Answer::Number(q), Some((unit, figures))) => {
            vec![Inline::Value(Written::from_si(q.value, unit, figures))]
        }
        (Answer::Number(q), None) => vec![Inline::Value(Written::from_si(q.value, &Unit::none(), 3))],
        (Answer::Regime(regime), _) => vec![text(regime.name())],
        (Answer::Choice(word), _) => vec![text(word.clone())],
    }
}

/// `low to high unit`; the ends carry one figure more than the answer.
fn interval(band: &Band, part: &Part) -> Vec<Inline> {
    let none = Unit::none();
    let (unit, figures) = written_as(part).unwrap_or((&none, 3));
    let mut low = Written::from_si(band.low, unit, figures + 1);
    // The unit stands once, behind the high end.
    low.unit = none.clone();
    vec![
        Inline::Value(low),
        text(words::TO),
        Inline::Value(Written::from_si(band.high, unit, figures + 1)),
    ]
}

/// A share as a signed percentage with one decimal, without the sign of per cent.
fn percent(share: f64, mark: DecimalMark) -> String {
    let tenths = (share * 1000.0).round();
    let sign = if tenths > 0.0 { "+" } else { "−" };
    if tenths == 0.0 {
        return "0".to_owned();
    }
    pointed(&format!("{sign}{:.1}", tenths.abs() / 10.0), mark)
}

/// Low and high end about the reference; `None` where the reference is nought.
fn about(band: &Band, low: f64, high: f64) -> Option<(f64, f64)> {
    let reference = band.reference.value;
    (reference != 0.0).then(|| {
        let (a, b) = (
            (low - reference) / reference.abs(),
            (high - reference) / reference.abs(),
        );
        (a, b)
    })
}

/// Both ends about the reference: `−2.4 to +2.6 %`, or `±0.5 %`.
fn span(band: &Band, low: f64, high: f64, mark: DecimalMark) -> String {
    match about(band, low, high) {
        Some((a, b)) => {
            let (a, b) = (percent(a, mark), percent(b, mark));
            match (a.strip_prefix('−'), b.strip_prefix('+')) {
                (None, None) if a == b => format!("<\u{a0}{}\u{a0}%", pointed("0.1", mark)),
                (Some(below), Some(above)) if below == above => format!("±{above}\u{a0}%"),
                _ => format!("{a}{}{b}\u{a0}%", words::TO.replace(' ', "\u{a0}")),
            }
        }
        None => "–".to_owned(),
    }
}

/// Half of how far a cause reaches, in per cent of the reference: `±1.3 %`.
fn half(band: &Band, low: f64, high: f64, mark: DecimalMark) -> String {
    let Some((a, b)) = about(band, low, high) else {
        return "–".to_owned();
    };
    let half = percent(0.5 * (b - a), mark);
    match half.strip_prefix('+') {
        Some(half) => format!("±{half}\u{a0}%"),
        None => format!("<\u{a0}{}\u{a0}%", pointed("0.1", mark)),
    }
}

fn head(titles: &[&str]) -> Vec<Vec<Inline>> {
    titles.iter().map(|t| vec![text(*t)]).collect()
}

/// A head that parts into two lines at most.
fn narrow(title: &str) -> String {
    match title.rsplit_once(' ') {
        Some((above, below)) => format!("{} {below}", above.replace(' ', "\u{a0}")),
        None => title.to_owned(),
    }
}

/// The key's first table: each part with its reference answer, what is accepted, and its marks.
pub(super) fn key_table(dealt: &Dealt, part_marks: &[f64], mark: DecimalMark) -> Table {
    let mut table = Table {
        head: head(&words::heads::KEY),
        numeric: vec![false, false, false, true],
        rows: Vec::new(),
    };
    for (n, part) in dealt.template.parts.iter().enumerate() {
        let reference = dealt.answers.get(n).map(|a| answer(a, part)).unwrap_or_default();
        let accepted = match dealt.accepted.get(n) {
            Some(Accepted::Number(band)) => interval(band, part),
            Some(Accepted::OneOf(answers)) => {
                let mut words = Vec::new();
                for (i, one) in answers.iter().enumerate() {
                    if i > 0 {
                        words.push(text(words::OR));
                    }
                    words.extend(answer(one, part));
                }
                words
            }
            None => Vec::new(),
        };
        table.rows.push(vec![
            vec![text(part.name.clone())],
            reference,
            accepted,
            vec![text(marks(
                part_marks.get(n).copied().unwrap_or(part.marks),
                mark,
            ))],
        ]);
    }
    table
}

/// The key's second table: how wide each band is, and what share of it each cause has.
pub(super) fn causes_table(dealt: &Dealt, mark: DecimalMark) -> Option<Table> {
    let bands: Vec<(&Part, &Band)> = numbers(dealt).map(|(_, part, band)| (part, band)).collect();
    let present = present_causes(&bands);
    if present.is_empty() {
        return None;
    }
    let heads: Vec<String> = present.iter().map(|cause| narrow(cause.short())).collect();
    let mut titles = words::heads::CAUSES.to_vec();
    // As many as eight stand beside one another.
    titles.extend(heads.iter().map(String::as_str));
    let mut table = Table {
        numeric: (0..titles.len()).map(|n| n > 0).collect(),
        head: head(&titles),
        rows: Vec::new(),
    };
    for (part, band) in bands {
        let shares = band.shares();
        let mut row = vec![
            vec![text(part.name.clone())],
            vec![text(span(band, band.low, band.high, mark))],
        ];
        for cause in &present {
            let share = shares.iter().find(|(c, _)| c == cause).map_or(0.0, |(_, s)| *s);
            row.push(vec![text(share_text(share))]);
        }
        table.rows.push(row);
    }
    Some(table)
}

fn share_text(share: f64) -> String {
    if share <= 0.0 {
        "–".to_owned()
    } else if share < 0.005 {
        "<\u{a0}1\u{a0}%".to_owned()
    } else {
        format!("{:.0}\u{a0}%", share * 100.0)
    }
}

/// Why careful answers to one number differ: how far each cause alone moves it, and its share.
pub fn why(what: &str, band: &Band, unit: &Unit, figures: u32, mark: DecimalMark) -> Step {
    let one_more = |si: f64| vec![Inline::Value(Written::from_si(si, unit, figures + 1))];
    let mut table = Table {
        head: head(&words::heads::WHY),
        numeric: vec![false, true, true, true, true],
        rows: Vec::new(),
    };
    let mut row = |name: &str, low: f64, high: f64, share: String| {
        table.rows.push(vec![
            vec![text(name)],
            one_more(low),
            one_more(high),
            vec![text(span(band, low, high, mark))],
            vec![text(share)],
        ]);
    };
    let shares = band.shares();
    for (cause, low, high) in &band.causes {
        if high > low {
            let share = shares.iter().find(|(c, _)| c == cause).map_or(0.0, |(_, s)| *s);
            row(cause.name(), *low, *high, share_text(share));
        }
    }
    row(words::ALL_TOGETHER, band.low, band.high, String::new());
    Step {
        title: words::why_answers_differ(what),
        body: vec![
            Block::Paragraph(vec![
                text(words::THE_REFERENCE),
                Inline::Value(Written::from_si(band.reference.value, unit, 5)),
                text(words::answers_to(figures)),
            ]),
            Block::Table(table),
        ],
        chart: Vec::new(),
    }
}

fn numbers(dealt: &Dealt) -> impl Iterator<Item = (usize, &Part, &Band)> {
    dealt
        .template
        .parts
        .iter()
        .zip(&dealt.accepted)
        .enumerate()
        .filter_map(|(n, (part, accepted))| match accepted {
            Accepted::Number(band) => Some((n, part, band)),
            Accepted::OneOf(_) => None,
        })
}

fn present_causes(bands: &[(&Part, &Band)]) -> Vec<Cause> {
    Cause::ALL
        .into_iter()
        .filter(|cause| {
            bands
                .iter()
                .any(|(_, band)| band.causes.iter().any(|(c, low, high)| c == cause && high > low))
        })
        .collect()
}

/// The key's third table: where each listed slip leads and whether this draw shows it.
pub(super) fn slips_table(dealt: &Dealt) -> Option<Table> {
    let mut table = Table {
        head: head(&words::heads::SLIPS),
        numeric: vec![false; 4],
        rows: Vec::new(),
    };
    for listed in &dealt.template.slips {
        let mut name = listed.name.as_str();
        let found = dealt.slips.iter().position(|s| s.slip.name == listed.name);
        for (n, part) in dealt.template.parts.iter().enumerate() {
            let Some(slip) = found else { continue };
            let (Some(clearance), Some(Some(leads_to))) =
                (dealt.clearance(slip, n), dealt.slips[slip].answers.get(n))
            else {
                continue;
            };
            let leads_to = match (leads_to, dealt.accepted.get(n)) {
                (Answer::Number(found), Some(Accepted::Number(band)))
                    if found.value.abs() < NOUGHT_SHARE * band.reference.value.abs() =>
                {
                    Answer::Number(Quantity { value: 0.0, ..*found })
                }
                _ => leads_to.clone(),
            };
            table.rows.push(vec![
                vec![text(std::mem::take(&mut name))],
                vec![text(part.name.clone())],
                answer(&leads_to, part),
                vec![text(if clearance.is_clear() {
                    words::YES
                } else {
                    words::NO
                })],
            ]);
        }
        if !name.is_empty() {
            table.rows.push(vec![
                vec![text(name)],
                vec![text("–")],
                vec![text(words::NO_OTHER_ANSWER)],
                vec![text(words::NO)],
            ]);
        }
    }
    (!table.rows.is_empty()).then_some(table)
}

/// The other slips that this draw does not show, by the parts where it does not: those of the same parts together.
pub(super) fn unseen_slips(dealt: &Dealt) -> Option<Block> {
    let is_listed = |name: &str| dealt.template.slips.iter().any(|listed| listed.name == name);
    let mut groups: Vec<(Vec<usize>, Vec<&str>)> = Vec::new();
    for (slip, predicted) in dealt.slips.iter().enumerate() {
        let name = &*predicted.slip.name;
        let mut parts: Vec<usize> = (dealt.hidden.iter())
            .filter(|(hidden, _)| *hidden == slip)
            .map(|(_, part)| *part)
            .collect();
        if parts.is_empty() || is_listed(name) {
            continue;
        }
        parts.sort_unstable();
        match groups.iter_mut().find(|(known, _)| *known == parts) {
            Some((_, names)) => names.push(name),
            None => groups.push((parts, vec![name])),
        }
    }
    let every: Vec<usize> = numbers(dealt).map(|(n, _, _)| n).collect();
    let items = groups.iter().map(|(parts, slips)| {
        let names: Vec<&str> = (parts.iter())
            .filter_map(|n| dealt.template.parts.get(*n))
            .map(|part| part.name.as_str())
            .collect();
        let at = if parts.len() > 1 && *parts == every {
            words::EVERY_NUMBER.to_owned()
        } else {
            names.join(", ")
        };
        vec![Block::Paragraph(vec![
            Inline::Emphasis(vec![text(at)]),
            text(format!(": {}", slips.join("; "))),
        ])]
    });
    (!groups.is_empty()).then(|| Block::List {
        ordered: false,
        items: items.collect(),
    })
}

/// The worked solution, in whose last step stands how far careful answers may differ, with a closing step on why.
///
/// # Errors
/// A formula that can't be evaluated.
pub fn steps(dealt: &Dealt, policy: &Policy, conventions: &Conventions) -> Checked<Vec<Step>> {
    let in_its_units = in_its_units(dealt, conventions);
    let steps = worked_out(dealt, policy, &in_its_units)?;
    let mut steps = with_bands(steps, dealt, &in_its_units);
    let why = reasons(std::slice::from_ref(dealt), policy, conventions);
    if !why.is_empty() {
        steps.push(Step {
            title: words::WHY_DIFFER.to_owned(),
            body: why,
            chart: Vec::new(),
        });
    }
    Ok(steps)
}

/// The course's conventions, but for a problem that is stated and asked in one system of units: it is worked in that.
fn in_its_units(dealt: &Dealt, conventions: &Conventions) -> Conventions {
    Conventions {
        units: dealt.template.units().unwrap_or(conventions.units),
        ..*conventions
    }
}

/// The worked solution with drawings, but without the closing step.
///
/// # Errors
/// As [`steps`].
pub(super) fn drawn_steps(dealt: &Dealt, policy: &Policy, conventions: &Conventions) -> Checked<Vec<Step>> {
    let conventions = &in_its_units(dealt, conventions);
    let steps = worked_out(dealt, policy, conventions)?;
    let steps = illustrated(steps, &dealt.case, &policy.limits, conventions);
    Ok(with_bands(steps, dealt, conventions))
}

fn worked_out(dealt: &Dealt, policy: &Policy, conventions: &Conventions) -> Checked<Vec<Step>> {
    let mut steps = worked(
        &dealt.case,
        Some((&dealt.template, &dealt.givens)),
        &policy.limits,
        conventions,
    )
    .map_err(|e| {
        let mut fault = Fault::new(format!(
            "the worked solution of `{}` can't be written: {}",
            dealt.template.name, e.what
        ));
        fault.mend = e.mend;
        fault
    })?;
    // A path lists what is known in its third step.
    let known = if matches!(dealt.case, Case::Path(_)) { 2 } else { 0 };
    if let Some(step) = steps.get_mut(known) {
        step.body.extend(of_givens(dealt));
    }
    Ok(steps)
}

/// What the system takes from several givens together, with its numbers.
fn of_givens(dealt: &Dealt) -> Vec<Block> {
    let mut lines: Vec<Line> = Vec::new();
    for (value, formula) in dealt.template.system.worked_out(&dealt.givens) {
        let line = Line::single(formula.clone())
            .then(Relation::Equal, formula.with_values(&dealt.givens))
            .then(Relation::Equal, Expr::Number(value));
        // A given with its sign turned, as in `-k`, is nothing new.
        let turned = matches!(&formula, Expr::Negative(inside) if matches!(**inside, Expr::Symbol(_)));
        if !formula.symbols().is_empty() && !turned && !lines.contains(&line) {
            lines.push(line);
        }
    }
    if lines.is_empty() {
        return Vec::new();
    }
    vec![
        Block::Paragraph(vec![text(words::TOGETHER)]),
        Block::Equation(lines),
    ]
}

/// Behind the answers, how far from them careful ones may lie.
fn with_bands(mut steps: Vec<Step>, dealt: &Dealt, conventions: &Conventions) -> Vec<Step> {
    if let Some(answers) = steps.last_mut() {
        answers.body.extend(bands(dealt, conventions.decimal_mark));
    }
    steps
}

/// How far careful answers may differ, with what each cause alone would do, and which words are both right.
fn bands(dealt: &Dealt, mark: DecimalMark) -> Vec<Block> {
    let bands: Vec<(&Part, &Band)> = numbers(dealt).map(|(_, part, band)| (part, band)).collect();
    let present = present_causes(&bands);
    // A cause that is alone does all that the band has.
    let causes: &[Cause] = if present.len() > 1 { &present } else { &[] };
    let mut body = Vec::new();
    if !bands.is_empty() {
        body.push(Block::Paragraph(vec![text(match present.as_slice() {
            [] => words::THEY_AGREE.to_owned(),
            [alone] => words::all_from(alone.name()),
            _ => words::LIE_BETWEEN.to_owned(),
        })]));
        let short: Vec<String> = causes.iter().map(|cause| narrow(cause.short())).collect();
        let mut titles = words::heads::BANDS.to_vec();
        titles.extend(short.iter().map(String::as_str));
        let mut table = Table {
            numeric: (0..titles.len()).map(|n| n > 1).collect(),
            head: head(&titles),
            rows: Vec::new(),
        };
        for (part, band) in &bands {
            let mut row = vec![
                vec![text(part.name.clone())],
                interval(band, part),
                vec![text(span(band, band.low, band.high, mark))],
            ];
            for cause in causes {
                let own = band.causes.iter().find(|(c, _, _)| c == cause);
                row.push(vec![text(match own {
                    Some((_, low, high)) if high > low => half(band, *low, *high, mark),
                    _ => "–".to_owned(),
                })]);
            }
            table.rows.push(row);
        }
        body.push(Block::Table(table));
    }
    for (part, accepted) in dealt.template.parts.iter().zip(&dealt.accepted) {
        if let Accepted::OneOf(answers) = accepted
            && answers.len() > 1
        {
            let mut said = vec![Inline::Emphasis(vec![text(part.name.clone())]), text(": ")];
            for (n, one) in answers.iter().enumerate() {
                if n > 0 {
                    said.push(text(words::OR));
                }
                said.extend(answer(one, part));
            }
            said.push(text(words::EITHER));
            body.push(Block::Paragraph(said));
        }
    }
    body
}

/// Why careful answers to these problems differ: each cause that is present in one of them, once. Nothing where none is.
pub(super) fn reasons(dealt: &[Dealt], policy: &Policy, conventions: &Conventions) -> Vec<Block> {
    let mut said: Vec<(Cause, Vec<String>)> = Cause::ALL.map(|cause| (cause, Vec::new())).to_vec();
    for dealt in dealt {
        let bands: Vec<(&Part, &Band)> = numbers(dealt).map(|(_, part, band)| (part, band)).collect();
        for cause in present_causes(&bands) {
            let pointed = |n: &str| pointed(n, conventions.decimal_mark);
            let reason = words::reason(cause, &dealt.case, policy, pointed);
            for (_, reasons) in said.iter_mut().filter(|(c, _)| *c == cause) {
                if !reasons.contains(&reason) {
                    reasons.push(reason.clone());
                }
            }
        }
    }
    said.retain(|(_, reasons)| !reasons.is_empty());
    if said.is_empty() {
        return Vec::new();
    }
    let items = said.iter().map(|(cause, reasons)| {
        vec![Block::Paragraph(vec![
            Inline::Strong(vec![text(cause.name())]),
            text(format!(": {}", reasons.join("; "))),
        ])]
    });
    vec![
        Block::Paragraph(vec![text(words::THEY_DIFFER)]),
        Block::List {
            ordered: false,
            items: items.collect(),
        },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_ends_within_a_number_or_before_its_unit() {
        assert_eq!(
            tied("from 200 000 to 2 000 000. In 2 pipes of 150 mm, 40 of 250"),
            "from 200\u{a0}000 to 2\u{a0}000\u{a0}000. In 2 pipes of 150\u{a0}mm, 40 of 250"
        );
    }
}
