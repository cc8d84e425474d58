//! A line from one end to the other: pipes, fittings, machines, at the heights that are stated.

mod drawing;
mod measures;

use super::ends::{self, End, Form, MOUTH, Placing};
use super::heights::{Heights, Of};
use super::says::{loss_says, machine_says, pipe_says};
use super::section;
use super::sheet::{
    At, BLACK, DARK_WATER, GREY, Layer, Pen, Rect, Sheet, THICK, WIDEST, about, measure, spot,
};
use super::symbols::{self, HALF, Machine, ROUND, Symbol};
use super::words::{Say, is_nought, name_within, number, side_by_side};
use crate::bank::system::tank::Orifice;
use crate::bank::system::{Bore, DuctShape, Element, LossBy, Point, Value};
use crate::figure::svg::Words;

/// The widest pipe, the narrowest, and one whose bore is asked \[mm\].
const BORE: f64 = 4.6;
const LEAST_BORE: f64 = 2.2;
const PLAIN_BORE: f64 = 4.0;
/// Room of what stands in the line \[mm\].
const SLOT: f64 = 11.0;
/// How far from the wall a line hangs in a tank, and how far above the surface it passes over the rim \[mm\].
const DIP: f64 = 9.0;
const OVER: f64 = 9.0;
/// The shortest that a pipe is drawn \[mm\].
const SHORTEST: f64 = 16.0;

/// What lies between two ends.
pub(super) struct Line<'a> {
    pub(super) start: End<'a>,
    pub(super) end: End<'a>,
    pub(super) path: &'a [Element],
    pub(super) points: &'a [Point],
    /// The flow, where the description says it or asks it.
    pub(super) flow: Option<&'a Value>,
    pub(super) atmosphere: &'a Value,
    pub(super) is_gas: bool,
    /// An opening in the place of a path.
    pub(super) orifice: Option<&'a Orifice>,
}

/// Heads to be drawn over the line, in the order of the flow.
pub(super) struct Heads<'a> {
    pub(super) marks: &'a [HeadMark],
    pub(super) low: f64,
    pub(super) high: f64,
}

/// A point of the grade lines.
pub(super) struct HeadMark {
    pub(super) at: Along,
    /// Energy head and hydraulic head \[m\].
    pub(super) energy: f64,
    pub(super) hydraulic: f64,
    /// What stands beside it.
    pub(super) label: Option<(Words, Words)>,
}

/// A place along the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Along {
    Start,
    Before(usize),
    Behind(usize),
    Point(usize),
    End,
}

enum What {
    /// A pipe or a piece of it: which element, and which of how many pieces.
    Pipe {
        piece: usize,
        pieces: usize,
    },
    Loss,
    Machine,
    Point(usize),
    /// A length of pipe that is drawn so that heights meet.
    Joint,
    /// An opening in the wall of a tank.
    Opening,
}

struct Item {
    what: What,
    /// Index of its element.
    element: usize,
    room: f64,
    bore: f64,
    x0: f64,
    x1: f64,
    y0: f64,
    y1: f64,
}

/// A line being drawn.
struct Drawing<'s, 'a> {
    sheet: &'s mut Sheet,
    line: &'s Line<'a>,
    heights: &'s Heights,
    say: Say<'s>,
}

type Ending<'s, 'a> = (&'s End<'a>, Form, &'s Placing);

/// Draws a line; gives the sheet and whether elevations are to scale.
pub(super) fn draw(
    line: &Line<'_>,
    inside: &'static str,
    say: Say<'_>,
    heads: Option<&Heads<'_>>,
) -> (Sheet, bool) {
    let Laid {
        mut items,
        heights,
        forms,
        ends,
        over_rim,
    } = lay(line, say, heads);
    let differ = heights.differ();
    let shows = |end: &End<'_>| differ && !is_nought(end.elevation());
    let reach = (
        ends::reach(forms.0, &line.start, &heights),
        ends::reach(forms.1, &line.end, &heights),
    );
    let left = ends::room(forms.0, reach.0, shows(&line.start));
    let right = ends::room(forms.1, reach.1, shows(&line.end));
    // A line that hangs over the rim of a tank meets it at the foot, not at the wall.
    let needed: f64 = items.iter().map(|i| i.room).sum();
    let width = WIDEST - 3.0;
    let spare = (width - left - right - needed).max(0.0);
    // Where there is too little room, pipes are drawn shorter than their labels, down to what still shows them.
    let short = (left + right + needed - width).max(0.0);
    let wide: f64 = items
        .iter()
        .filter(|i| is_pipe(i))
        .map(|i| (i.room - SHORTEST).max(0.0))
        .sum();
    let shrink = (short / wide.max(1e-9)).min(1.0);
    let pipes = items
        .iter()
        .filter(|i| matches!(i.what, What::Pipe { .. }))
        .count()
        .max(1);
    let lengthen = (spare / pipes as f64).min(46.0);
    let mut x = left;
    for item in &mut items {
        if is_pipe(item) {
            item.room += lengthen - shrink * (item.room - SHORTEST).max(0.0);
        }
        item.x0 = x;
        x += item.room;
        item.x1 = x;
    }
    let mut sheet = Sheet::new((x + right).max(100.0), inside);
    if x + right < 100.0 {
        // Labels of a short line may stand on both sides of it.
        let more = 0.5 * (100.0 - x - right);
        for item in &mut items {
            item.x0 += more;
            item.x1 += more;
        }
        x += more;
    }
    let first_x = items.first().map_or(left, |i| i.x0);
    let first_bore = items.first().map_or(PLAIN_BORE, |i| i.bore);
    let last_bore = items.last().map_or(PLAIN_BORE, |i| i.bore);
    let start = Placing {
        x: first_x,
        y: ends.0,
        out: -1.0,
        reach: reach.0,
        bore: first_bore,
        over_rim,
    };
    let end = Placing {
        x,
        y: ends.1,
        out: 1.0,
        reach: reach.1,
        bore: last_bore,
        over_rim: false,
    };
    let mut drawing = Drawing {
        sheet: &mut sheet,
        line,
        heights: &heights,
        say,
    };
    if line.orifice.is_some() && forms == (Form::Tank, Form::Mouth) {
        drawing.drain(&start, &end);
        return (sheet, false);
    }
    let dip = over_rim.then_some(first_x - DIP);
    drawing.ends([(&line.start, forms.0, &start), (&line.end, forms.1, &end)]);
    drawing.pipes(&items, dip, &start, (forms.0, forms.1));
    if let Some(heads) = heads {
        drawing.heads(heads, &items, (forms, &start, &end));
    }
    drawing.symbols(&items, dip, &start);
    drawing.elevations(
        &items,
        [(&line.start, forms.0, &start), (&line.end, forms.1, &end)],
        differ,
    );
    drawing.flow(&items);
    drawing.pipe_labels(&items);
    let to_scale = heights.to_scale && differ && no_unknown_height(line);
    (sheet, to_scale)
}

/// What stands in a line and at which heights, before it has its place along the sheet.
struct Laid {
    items: Vec<Item>,
    heights: Heights,
    forms: (Form, Form),
    /// Heights at which the line meets its ends.
    ends: (f64, f64),
    /// Whether it hangs over the rim of the first tank.
    over_rim: bool,
}

fn lay(line: &Line<'_>, say: Say<'_>, heads: Option<&Heads<'_>>) -> Laid {
    let forms = (
        line.start.form(false, line.is_gas),
        line.end.form(true, line.is_gas),
    );
    let mut items = items(line, say);
    let over = passes_over(line, &items, forms.0);
    let heights = heights(line, heads, over);
    let ends = (
        port(line, &heights, forms.0, false),
        port(line, &heights, forms.1, true),
    );
    let over_rim = over.is_some();
    level(line, &heights, &mut items, ends, over_rim);
    Laid {
        items,
        heights,
        forms,
        ends,
        over_rim,
    }
}

/// How a line is laid, in words: its ends, whether it hangs over a rim, and what stands in it from end to end.
#[cfg(test)]
pub(super) fn laid(line: &Line<'_>, say: Say<'_>, heads: Option<&Heads<'_>>) -> Vec<String> {
    let laid = lay(line, say, heads);
    let mut all = vec![format!("{:?}, over the rim: {}", laid.forms, laid.over_rim)];
    let first = first_pipe(&laid.items);
    for (i, item) in laid.items.iter().enumerate() {
        let place = if laid.over_rim && i < first {
            "at its foot"
        } else {
            "in line"
        };
        all.push(match (&item.what, line.path.get(item.element)) {
            (What::Pipe { piece, .. }, _) => format!("pipe {}, piece {piece}", item.element),
            (What::Loss, Some(Element::Loss { name, by, .. })) => {
                format!("{:?} {place}", symbols::symbols(name, *by))
            }
            (What::Point(n), _) => format!("point {n}"),
            (What::Machine, _) => format!("machine {}", item.element),
            // Heights that are nearer on one drawing than on the other need none.
            (What::Joint, _) => continue,
            _ => "opening".to_owned(),
        });
    }
    all
}

fn no_unknown_height(line: &Line<'_>) -> bool {
    [&line.start, &line.end]
        .iter()
        .all(|e| number(e.elevation()).is_some())
}

/// Elevations of both ends \[m\], one that is asked put where it may well be.
fn end_elevations(line: &Line<'_>) -> (f64, f64) {
    let pumped = line.path.iter().any(|e| matches!(e, Element::Pump { .. }));
    let step = if pumped { -10.0 } else { 10.0 };
    match (number(line.start.elevation()), number(line.end.elevation())) {
        (Some(a), Some(b)) => (a, b),
        (Some(a), None) => (a, a - step),
        (None, Some(b)) => (b + step, b),
        (None, None) => (step, 0.0),
    }
}

/// The elevation that a line has beside the tank that it hangs into over the rim \[m\]; none where it leaves through the wall.
/// It is told by elevations alone, so that every drawing of a line has the same.
fn passes_over(line: &Line<'_>, items: &[Item], form: Form) -> Option<f64> {
    let (surface, _) = end_elevations(line);
    let first = items.iter().find_map(|item| elevation(line, item))?;
    let range = surface.abs().max(first.abs());
    (form == Form::Basin && first - surface > 1e-6 * range).then_some(first)
}

/// The elevation that is stated for what stands in the line \[m\].
fn elevation(line: &Line<'_>, item: &Item) -> Option<f64> {
    match &item.what {
        What::Point(n) => line.points.get(*n).and_then(|p| number(&p.elevation)),
        What::Machine => match line.path.get(item.element) {
            Some(Element::Pump { details, .. }) => details.elevation.as_ref().and_then(number),
            _ => None,
        },
        _ => None,
    }
}

fn heights(line: &Line<'_>, heads: Option<&Heads<'_>>, over: Option<f64>) -> Heights {
    let (a, b) = end_elevations(line);
    let mut all = Vec::new();
    let mut round = Vec::new();
    for (end, z, of) in [(&line.start, a, Of::Start), (&line.end, b, Of::End)] {
        let End::Tank(moving) = end else {
            all.push((z, Of::Line));
            continue;
        };
        let levels = ends::levels(moving);
        all.extend([(levels.floor, of), (levels.first, of)]);
        all.extend(levels.last.map(|z| (z, of)));
        let tops = [levels.rim, levels.top].into_iter().flatten();
        all.extend(tops.filter(|z| *z > levels.highest()).map(|z| (z, Of::Other)));
        let mouth = moving.tank.mouth.as_ref().and_then(number);
        all.extend(mouth.map(|z| (z, Of::Other)));
        round.extend(ends::round(moving, of));
    }
    let mut more: Vec<f64> = line.points.iter().filter_map(|p| number(&p.elevation)).collect();
    for element in line.path {
        if let Element::Pump { details, .. } = element {
            more.extend(details.elevation.as_ref().and_then(number));
        }
    }
    all.extend(more.into_iter().map(|z| (z, Of::Line)));
    // The datum is shown where anything is measured from it.
    if all.iter().any(|(z, _)| *z != a) {
        all.push((0.0, Of::Line));
    }
    match heads {
        Some(heads) => {
            let low = all.iter().map(|(z, _)| *z).fold(heads.low, f64::min);
            let high = all.iter().map(|(z, _)| *z).fold(heads.high, f64::max);
            match over {
                Some(over) => Heights::even_but(low, high, 54.0, (a, over, OVER)),
                None => Heights::even(low, high, 54.0),
            }
        }
        None => Heights::about(all, &round),
    }
}

/// The height at which the line meets an end.
fn port(line: &Line<'_>, heights: &Heights, form: Form, is_end: bool) -> f64 {
    let (a, b) = end_elevations(line);
    let (end, z) = if is_end { (&line.end, b) } else { (&line.start, a) };
    match (form, end) {
        (Form::Basin, _) => heights.y(z) + MOUTH,
        (_, End::Tank(moving)) => {
            let floor = ends::levels(moving).floor;
            match moving.tank.mouth.as_ref().and_then(number) {
                Some(mouth) if mouth > floor => heights.y(mouth),
                _ => heights.y(floor) - 4.0,
            }
        }
        _ => heights.y(z),
    }
}

/// Widths of all pipes on the sheet, in proportion where that reads.
fn bores(path: &[Element]) -> Vec<f64> {
    let diameter = |e: &Element| match e {
        Element::Pipe { bore, .. } => Some(match bore {
            Bore::Round(d) => number(d),
            Bore::Duct(_) => None,
        }),
        _ => None,
    };
    let all: Vec<Option<f64>> = path.iter().filter_map(diameter).collect();
    let most = all.iter().flatten().copied().fold(0.0, f64::max);
    all.iter()
        .map(|d| match d {
            Some(d) if all.len() > 1 && most > 0.0 => (BORE * d / most).max(LEAST_BORE),
            _ => PLAIN_BORE,
        })
        .collect()
}

fn items(line: &Line<'_>, say: Say<'_>) -> Vec<Item> {
    let bores = bores(line.path);
    let mut items = Vec::new();
    let mut pipe = 0;
    let item = |what, element, room, bore| Item {
        what,
        element,
        room,
        bore,
        x0: 0.0,
        x1: 0.0,
        y0: 0.0,
        y1: 0.0,
    };
    if line.orifice.is_some() {
        items.push(item(What::Opening, 0, 6.0, 3.0));
    }
    for i in 0..=line.path.len() {
        let here = |within: bool| {
            let mut found: Vec<(usize, f64)> = (line.points.iter().enumerate())
                .filter(|(_, p)| p.after == i && p.along.is_some() == within)
                .map(|(n, p)| (n, p.along.as_ref().and_then(number).unwrap_or(0.0)))
                .collect();
            found.sort_by(|a, b| a.1.total_cmp(&b.1));
            found
        };
        let bore = bores
            .get(pipe.min(bores.len().saturating_sub(1)))
            .copied()
            .unwrap_or(PLAIN_BORE);
        for (n, _) in here(false) {
            items.push(item(What::Point(n), i, 5.0, bore));
        }
        let Some(element) = line.path.get(i) else {
            break;
        };
        match element {
            Element::Pipe { .. } => {
                let (width, _) = measure(&pipe_says(element, say));
                let within = here(true);
                let pieces = within.len() + 1;
                let room = (width + 3.0).max(18.0).max(if pieces > 1 { 20.0 } else { 0.0 });
                for piece in 0..pieces {
                    items.push(item(What::Pipe { piece, pieces }, i, room / pieces as f64, bore));
                    if let Some((n, _)) = within.get(piece) {
                        items.push(item(What::Point(*n), i, 5.0, bore));
                    }
                }
                pipe += 1;
            }
            Element::Loss { name, by, .. } => {
                let all = symbols::symbols(name, *by);
                // An edge or a step takes no room but its label's.
                let is_edge = |s: &Symbol| {
                    matches!(
                        s,
                        Symbol::Entrance
                            | Symbol::RoundedEntrance
                            | Symbol::ReentrantEntrance
                            | Symbol::Exit
                            | Symbol::Widening
                            | Symbol::Narrowing
                    )
                };
                let drawn = all.iter().filter(|s| !is_edge(s)).count();
                // What changes the bore is drawn in the narrower pipe's place, its end on the wider one.
                let before = bores.get(pipe.saturating_sub(1)).copied().unwrap_or(bore);
                let room = if drawn == 0 {
                    7.0
                } else {
                    SLOT + 7.6 * (drawn - 1) as f64
                };
                items.push(item(What::Loss, i, room, before));
            }
            Element::Pump { .. } | Element::Turbine { .. } => {
                let before = bores.get(pipe.saturating_sub(1)).copied().unwrap_or(bore);
                let room = match element {
                    Element::Pump { details, .. }
                        if several(&details.parallel) || several(&details.series) =>
                    {
                        23.0
                    }
                    _ => 14.0,
                };
                items.push(item(What::Machine, i, room, before));
            }
        }
    }
    items
}

fn is_pipe(item: &Item) -> bool {
    matches!(item.what, What::Pipe { .. })
}

/// Whether there are several of a pump.
fn several(value: &Option<Value>) -> bool {
    value.as_ref().and_then(number).is_some_and(|n| n > 1.0)
}

/// Gives every item its height; `over_rim` says whether the line hangs into the first tank.
fn level(line: &Line<'_>, heights: &Heights, items: &mut Vec<Item>, ends: (f64, f64), over_rim: bool) {
    let fixed = |item: &Item| -> Option<f64> { elevation(line, item).map(|z| heights.y(z)) };
    let first = items.iter().find_map(fixed);
    let start = match first {
        Some(y) if over_rim => y,
        _ => ends.0,
    };
    if over_rim {
        // What stands before the first pipe hangs in the tank.
        for item in items.iter_mut().take_while(|i| matches!(i.what, What::Loss)) {
            item.room = 0.5;
        }
    }
    // Stretches between heights that are fixed: from an item, up to one, and both heights.
    let mut at = 0;
    let mut y = start;
    while at <= items.len() {
        let next = (at..items.len()).find(|i| items.get(*i).is_some_and(|item| fixed(item).is_some()));
        let (to, level) = match next {
            Some(i) => (i, items.get(i).and_then(fixed).unwrap_or(y)),
            None => (items.len(), ends.1),
        };
        let mut turn = None;
        if (level - y).abs() > 0.05 {
            let length = |i: usize| -> Option<f64> {
                let item = items.get(i)?;
                let What::Pipe { pieces, .. } = &item.what else {
                    return None;
                };
                match line.path.get(item.element) {
                    Some(Element::Pipe { length, .. }) => {
                        Some(number(length).unwrap_or(0.0) / *pieces as f64)
                    }
                    _ => None,
                }
            };
            turn = (at..to)
                .filter_map(|i| length(i).map(|l| (i, l)))
                .fold(None, |best: Option<(usize, f64)>, (i, l)| match best {
                    Some((_, most)) if most >= l => best,
                    _ => Some((i, l)),
                })
                .map(|(i, _)| i);
        }
        let mut to = to;
        if (level - y).abs() > 0.05 && turn.is_none() {
            let bore = items
                .get(to.min(items.len().saturating_sub(1)))
                .map_or(PLAIN_BORE, |i| i.bore);
            items.insert(
                to,
                Item {
                    what: What::Joint,
                    element: 0,
                    room: 12.0,
                    bore,
                    x0: 0.0,
                    x1: 0.0,
                    y0: y,
                    y1: level,
                },
            );
            turn = Some(to);
            to += 1;
        }
        let mut now = y;
        for i in at..to {
            if let Some(item) = items.get_mut(i) {
                item.y0 = now;
                if turn == Some(i) {
                    now = level;
                    let climb = (item.y1 - item.y0).abs();
                    item.room = item.room.max(12.0 + 0.25 * climb);
                }
                item.y1 = now;
            }
        }
        y = level;
        if let Some(item) = items.get_mut(to) {
            (item.y0, item.y1) = (level, level);
        }
        at = to + 1;
    }
}

/// The place of the first pipe among items.
fn first_pipe(items: &[Item]) -> usize {
    items.iter().position(is_pipe).unwrap_or(0)
}

/// The way of an item: level, a leg where its heights differ, level.
fn way(item: &Item) -> Vec<At> {
    let (x0, x1, y0, y1) = (item.x0, item.x1, item.y0, item.y1);
    if (y1 - y0).abs() < 0.05 {
        return vec![(x0, y0), (x1, y1)];
    }
    let leg = (0.45 * (y1 - y0).abs()).min(0.45 * (x1 - x0));
    let middle = 0.5 * (x0 + x1);
    vec![
        (x0, y0),
        (middle - 0.5 * leg, y0),
        (middle + 0.5 * leg, y1),
        (x1, y1),
    ]
}
