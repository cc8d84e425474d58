//! A line from one end to the other: pipes, fittings, machines, at the heights that are stated.

use super::ends::{self, End, Form, MOUTH, Placing};
use super::heights::Heights;
use super::sheet::{
    At, BLACK, DARK_WATER, GREY, Layer, Pen, Rect, Sheet, THICK, WIDEST, about, measure, spot,
};
use super::symbols::{self, HALF, Machine, ROUND, Symbol};
use super::words::{Say, is_nought, name_within, number, side_by_side};
use crate::bank::system::pump::{Curve, OverFlow};
use crate::bank::system::tank::Orifice;
use crate::bank::system::{Bore, DuctShape, Duty, Element, LossBy, Point, Value};
use crate::figure::svg::Words;

/// The widest pipe, the narrowest, and one whose bore is asked \[mm\].
const BORE: f64 = 4.6;
const LEAST_BORE: f64 = 2.2;
const PLAIN_BORE: f64 = 4.0;
/// Room of what stands in the line \[mm\].
const SLOT: f64 = 11.0;
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

/// Draws a line; gives the sheet and whether elevations are to scale.
pub(super) fn draw(
    line: &Line<'_>,
    inside: &'static str,
    say: Say<'_>,
    heads: Option<&Heads<'_>>,
) -> (Sheet, bool) {
    let heights = heights(line, heads);
    let forms = (
        line.start.form(false, line.is_gas),
        line.end.form(true, line.is_gas),
    );
    let mut items = items(line, say);
    let differ = heights.differ();
    let shows = |end: &End<'_>| differ && !is_nought(end.elevation());
    let room = |form: Form, end: &End<'_>| ends::room(form, shows(end));
    let (left, right) = (room(forms.0, &line.start), room(forms.1, &line.end));
    let ends = (
        port(line, &heights, forms.0, false),
        port(line, &heights, forms.1, true),
    );
    let over_rim = level(line, &heights, &mut items, ends, forms.0);
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
        bore: first_bore,
        over_rim,
    };
    let end = Placing {
        x,
        y: ends.1,
        out: 1.0,
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
    let dip = over_rim.then_some(first_x - 9.0);
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

fn heights(line: &Line<'_>, heads: Option<&Heads<'_>>) -> Heights {
    let (a, b) = end_elevations(line);
    let mut all = vec![a, b];
    let mut has_tank = false;
    for end in [&line.start, &line.end] {
        if let End::Tank(moving) = end {
            has_tank = true;
            let (floor, first, last, top) = ends::levels(moving);
            all.extend([floor, first]);
            all.extend(last);
            all.extend(top.filter(|t| *t > first.max(last.unwrap_or(first))));
            all.extend(moving.tank.mouth.as_ref().and_then(number));
        }
    }
    for point in line.points {
        all.extend(number(&point.elevation));
    }
    for element in line.path {
        if let Element::Pump { details, .. } = element {
            all.extend(details.elevation.as_ref().and_then(number));
        }
    }
    // The datum is shown where anything is measured from it.
    if !has_tank && all.iter().any(|z| *z != a) {
        all.push(0.0);
    }
    match heads {
        Some(heads) => {
            let low = all.iter().copied().fold(heads.low, f64::min);
            let high = all.iter().copied().fold(heads.high, f64::max);
            Heights::even(low, high, 54.0)
        }
        None => Heights::new(all),
    }
}

/// The height at which the line meets an end.
fn port(line: &Line<'_>, heights: &Heights, form: Form, is_end: bool) -> f64 {
    let (a, b) = end_elevations(line);
    let (end, z) = if is_end { (&line.end, b) } else { (&line.start, a) };
    match (form, end) {
        (Form::Basin, _) => heights.y(z) + MOUTH,
        (_, End::Tank(moving)) => {
            let (floor, ..) = ends::levels(moving);
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

/// Gives every item its height; whether the line hangs over the rim of the first tank.
fn level(line: &Line<'_>, heights: &Heights, items: &mut Vec<Item>, ends: (f64, f64), form: Form) -> bool {
    let fixed = |item: &Item| -> Option<f64> {
        match &item.what {
            What::Point(n) => line.points.get(*n).and_then(|p| number(&p.elevation)),
            What::Machine => match line.path.get(item.element) {
                Some(Element::Pump { details, .. }) => details.elevation.as_ref().and_then(number),
                _ => None,
            },
            _ => None,
        }
        .map(|z| heights.y(z))
    };
    let first = items.iter().find_map(fixed);
    let surface = ends.0 - MOUTH;
    let over_rim = form == Form::Basin && first.is_some_and(|y| y < surface - 4.0);
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
    over_rim
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

/// What a pipe's label says.
pub(super) fn pipe_says(element: &Element, say: Say<'_>) -> Vec<Words> {
    let Element::Pipe {
        name,
        bore,
        length,
        roughness,
    } = element
    else {
        return Vec::new();
    };
    let mut lines = name_within(name, 30.0);
    let length = say.equal("L", "", length);
    match bore {
        Bore::Round(diameter) => lines.push(side_by_side(say.equal("D", "", diameter), &length)),
        Bore::Duct(_) => lines.push(length),
    }
    lines.push(say.equal("ε", "", roughness));
    lines
}

/// What a loss's label says.
pub(super) fn loss_says(name: &str, by: LossBy, coefficient: &Value, say: Say<'_>) -> Vec<Words> {
    let mut lines = name_within(name, 24.0);
    match by {
        LossBy::K => lines.push(say.equal("K", "", coefficient)),
        LossBy::Fitting(fitting) => {
            let text = say.plain_number(fitting.coefficient);
            lines.push(Words::plain("").italic("K").upright(&format!(" = {text}")));
        }
        LossBy::Rounding => lines.push(
            Words::plain("")
                .italic("r")
                .upright("/")
                .italic("D")
                .upright(&format!(" = {}", say.value(coefficient))),
        ),
        LossBy::EquivalentLength => lines.push(say.equal("L", "eq", coefficient)),
        LossBy::EquivalentDiameters => {
            lines.push(
                Words::plain("")
                    .italic("L")
                    .lowered("eq")
                    .upright(&format!(" = {} ", say.value(coefficient)))
                    .italic("D"),
            );
        }
        LossBy::SuddenExpansion { .. } | LossBy::SuddenContraction { .. } => {
            lines.push(Words::plain("sudden"))
        }
        LossBy::Cone { .. } | LossBy::Taper { .. } => lines.push(say.equal("θ", "", coefficient)),
    }
    lines
}

/// What a machine's label says.
pub(super) fn machine_says(element: &Element, say: Say<'_>) -> Vec<Words> {
    let (name, duty, efficiency, is_pump) = match element {
        Element::Pump {
            name,
            duty,
            efficiency,
            ..
        } => (name, duty, efficiency, true),
        Element::Turbine {
            name,
            duty,
            efficiency,
            ..
        } => (name, duty, efficiency, false),
        _ => return Vec::new(),
    };
    let sub = if is_pump { "P" } else { "T" };
    let mut lines = name_within(name, 26.0);
    match duty {
        Duty::Head(v) => lines.push(say.equal("h", sub, v)),
        Duty::Power(v) => lines.push(say.equal("P", sub, v)),
        Duty::Curve(curve) => lines.extend(curve_says(curve, say)),
    }
    if let Some(v) = efficiency {
        lines.push(say.equal("η", "", v));
    }
    if let Element::Pump { details, .. } = element {
        if let Some(v) = &details.rated_speed {
            lines.push(say.equal("n", "0", v));
        }
        if let Some(v) = &details.speed {
            lines.push(say.equal("n", "", v));
        }
        if let Some(v) = &details.full_impeller {
            lines.push(say.equal("D", "0", v));
        }
        if let Some(v) = &details.impeller {
            lines.push(say.equal("D", "P", v));
        }
        if let Some(OverFlow::Value(v)) = &details.npsh_required {
            lines.push(Words::plain(format!("NPSH needed {}", say.value(v))));
        }
        for (value, how) in [
            (&details.parallel, "side by side"),
            (&details.series, "in series"),
        ] {
            if let Some(v) = value {
                lines.push(Words::plain(format!("{} {how}", say.value(v))));
            }
        }
    }
    lines
}

fn curve_says(curve: &Curve, say: Say<'_>) -> Vec<Words> {
    match curve {
        Curve::Points { .. } => vec![Words::plain("head by its curve")],
        Curve::Quadratic(q) => {
            let head = || Words::plain("").italic("h").lowered("P").upright(" = ");
            let mut lines = vec![head().upright(&say.value(&q.a))];
            for (value, times) in [(&q.b, ""), (&q.c, "²")] {
                let Some(Value::Known(w)) = value else { continue };
                let text = say.written(w);
                // The handout says by how much the head falls; so does the label.
                let (sign, size) = match text.strip_prefix('−') {
                    Some(size) => ("− ", size),
                    None => ("+ ", text.as_str()),
                };
                lines.push(Words::plain(format!("{sign}{size} ")).italic("Q").upright(times));
            }
            lines
        }
    }
}

struct Drawing<'s, 'a> {
    sheet: &'s mut Sheet,
    line: &'s Line<'a>,
    heights: &'s Heights,
    say: Say<'s>,
}

type Ending<'s, 'a> = (&'s End<'a>, Form, &'s Placing);

impl Drawing<'_, '_> {
    fn ends(&mut self, both: [Ending<'_, '_>; 2]) {
        let elevations = end_elevations(self.line);
        for ((end, form, placing), (number, z)) in
            both.into_iter().zip([("1", elevations.0), ("2", elevations.1)])
        {
            match end {
                End::Tank(moving) => ends::tank(self.sheet, moving, self.heights, self.say, placing),
                End::Station(station) => {
                    let open = is_open(&station.pressure, self.line.atmosphere);
                    let surface = self.heights.y(z);
                    let rect = ends::station(self.sheet, form, number, surface, open, placing);
                    let lines = ends::said(station, number, form, open, self.say);
                    let mut spots = Vec::new();
                    let (x, y) = (0.5 * (rect.x0 + rect.x1), rect.y0);
                    // Names of ends keep to the outside, where no pipe is.
                    for away in [1.0, 4.0, 8.0] {
                        spots.push(spot(x, y - away, 0, -1));
                        spots.push(spot(x, rect.y1 + away, 0, 1));
                        let outer = if placing.out < 0.0 { rect.x0 } else { rect.x1 };
                        let side = if placing.out < 0.0 { 1 } else { -1 };
                        spots.push(spot(outer, y - away, side, -1));
                        spots.push(spot(outer, rect.y1 + away, side, 1));
                    }
                    spots.extend(about(rect));
                    self.sheet.label(lines, spots, (x, rect.y0 + 2.0));
                }
            }
        }
    }

    fn pipes(&mut self, items: &[Item], dip: Option<f64>, start: &Placing, forms: (Form, Form)) {
        let last = items.len().saturating_sub(1);
        for (i, item) in items.iter().enumerate() {
            let mut way = way(item);
            let bore = item.bore;
            if let (0, Some(x)) = (i, dip) {
                let mut dipped = vec![(x, start.y + 1.5), (x, item.y0)];
                dipped.append(&mut way);
                way = dipped;
            }
            // Ends run into the walls that they meet.
            if i == 0 && dip.is_none() {
                if let Some(first) = way.first_mut() {
                    first.0 -= if matches!(forms.0, Form::Basin | Form::Tank) {
                        0.25
                    } else {
                        0.0
                    };
                }
            }
            if i == last
                && let Some(end) = way.last_mut()
            {
                end.0 += if matches!(forms.1, Form::Basin | Form::Tank) {
                    0.25
                } else {
                    0.0
                };
            }
            // Pieces overlap a little, so that no hairline shows between them.
            let before = i.checked_sub(1).and_then(|n| items.get(n));
            if before.is_some_and(|b| (b.bore - bore).abs() < 0.05)
                && let Some(first) = way.first_mut()
            {
                first.0 -= 0.4;
            }
            self.sheet.pipe(&way, bore);
            let next = items.get(i + 1);
            // A step of the bore has a face.
            if let Some(next) = next.filter(|n| (n.bore - bore).abs() > 0.05) {
                let (wide, narrow) = (0.5 * bore.max(next.bore), 0.5 * bore.min(next.bore));
                if !self.is_cone(item, next) {
                    for side in [-1.0, 1.0] {
                        self.sheet.line(
                            &[
                                (item.x1, item.y1 + side * (wide - 0.25)),
                                (item.x1, item.y1 + side * (narrow - 0.25)),
                            ],
                            Pen::THICK,
                        );
                    }
                }
            }
        }
    }

    fn loss(&self, item: &Item) -> Option<&Element> {
        match item.what {
            What::Loss => self.line.path.get(item.element),
            _ => None,
        }
    }

    fn is_cone(&self, item: &Item, next: &Item) -> bool {
        [item, next].iter().any(|i| {
            matches!(
                self.loss(i),
                Some(Element::Loss {
                    by: LossBy::Cone { .. } | LossBy::Taper { .. },
                    ..
                })
            )
        })
    }

    fn symbols(&mut self, items: &[Item], dip: Option<f64>, start: &Placing) {
        let first_pipe = items
            .iter()
            .position(|i| matches!(i.what, What::Pipe { .. }))
            .unwrap_or(0);
        for (i, item) in items.iter().enumerate() {
            let (x, y) = (0.5 * (item.x0 + item.x1), item.y0);
            match &item.what {
                What::Pipe { .. } | What::Joint => {}
                What::Opening => self.opening(item),
                What::Point(n) => self.point(*n, (x, y), item.bore),
                What::Machine => self.machine(item, (x, y)),
                What::Loss => {
                    let Some(Element::Loss {
                        name,
                        coefficient,
                        by,
                        ..
                    }) = self.line.path.get(item.element)
                    else {
                        continue;
                    };
                    let all = symbols::symbols(name, *by);
                    let lines = loss_says(name, *by, coefficient, self.say);
                    // At the foot of a line that hangs over a rim stands what the water meets first.
                    let at_foot = dip.filter(|_| i < first_pipe);
                    let rect = match at_foot {
                        Some(foot) => self.foot(&all, (foot, start.y + 1.5), item.bore),
                        None => self.in_line(&all, items, i),
                    };
                    let target = (0.5 * (rect.x0 + rect.x1), 0.5 * (rect.y0 + rect.y1));
                    let mut spots = about(rect);
                    if at_foot.is_some() {
                        // Under the tank, out of the water.
                        let under = start.y + 8.5;
                        spots = vec![spot(target.0, under, 0, 1), spot(target.0 + 12.0, under, 0, 1)];
                        spots.extend(about(rect));
                    }
                    self.sheet.label(lines, spots, target);
                }
            }
        }
    }

    /// Symbols side by side in the middle of a slot; gives the rectangle about them.
    fn in_line(&mut self, all: &[Symbol], items: &[Item], i: usize) -> Rect {
        let Some(item) = items.get(i) else {
            return Rect::new(0.0, 0.0, 1.0, 1.0);
        };
        let (y, bore) = (item.y0, item.bore);
        let middle = 0.5 * (item.x0 + item.x1);
        let half = 0.5 * bore;
        let mut reach = (middle, middle);
        for (n, symbol) in all.iter().enumerate() {
            let x = middle + 7.6 * (n as f64 - 0.5 * (all.len() as f64 - 1.0));
            match symbol {
                Symbol::Entrance | Symbol::RoundedEntrance | Symbol::ReentrantEntrance | Symbol::Exit => {
                    let at_start = *symbol != Symbol::Exit;
                    let wall = if at_start { item.x0 } else { item.x1 };
                    if (i == 0 && at_start) || (i + 1 == items.len() && !at_start) {
                        self.edge(*symbol, (wall, y), bore);
                        reach = (wall - 1.5, wall + 1.5);
                    }
                }
                Symbol::Widening | Symbol::Narrowing => {
                    let next = items.get(i + 1).map_or(bore, |n| n.bore);
                    let cone = items.get(i + 1).is_some_and(|n| self.is_cone(item, n));
                    if cone {
                        self.cone(item, next);
                        reach = (middle - 3.0, item.x1);
                    } else {
                        reach = (item.x1 - 1.5, item.x1 + 1.5);
                    }
                }
                other => {
                    symbols::draw(self.sheet, *other, (x, y), bore);
                    reach = if n == 0 {
                        (x - HALF, x + HALF)
                    } else {
                        (reach.0, x + HALF)
                    };
                }
            }
        }
        Rect::new(reach.0, y - half.max(2.6) - 0.6, reach.1, y + half.max(2.6) + 0.6)
    }

    /// A cone over the second half of a slot, in the place of a step.
    fn cone(&mut self, item: &Item, next: f64) {
        let (x0, x1, y) = (item.x1 - 5.0, item.x1, item.y1);
        let (a, b) = (0.5 * item.bore, 0.5 * next);
        let outer = [(x0, y - a), (x1, y - b), (x1, y + b), (x0, y + a)];
        let pen = Pen {
            width: 0.0,
            ..Pen::THIN
        };
        self.sheet
            .outline(Layer::Line, &outer, pen.filled(self.sheet.inside), true);
        for side in [-1.0, 1.0] {
            let shift = side * 0.5 * THICK;
            self.sheet.line(
                &[(x0, y + side * a - shift), (x1, y + side * b - shift)],
                Pen::THICK,
            );
        }
    }

    /// The edge where a line leaves or enters a tank.
    fn edge(&mut self, symbol: Symbol, (x, y): At, bore: f64) {
        let half = 0.5 * bore;
        match symbol {
            Symbol::RoundedEntrance => {
                for side in [-1.0, 1.0] {
                    let curve: Vec<At> = (0..=6)
                        .map(|i| std::f64::consts::FRAC_PI_2 * f64::from(i) / 6.0)
                        .map(|a| {
                            let r = 1.6;
                            (
                                x + r - r * libm::cos(a),
                                y + side * (half - 0.25 + r - r * libm::sin(a)),
                            )
                        })
                        .collect();
                    self.sheet.outline(
                        Layer::Line,
                        &[curve.as_slice(), &[(x, y + side * (half + 1.4))]].concat(),
                        Pen::THIN.filled(BLACK),
                        true,
                    );
                }
            }
            Symbol::ReentrantEntrance => self.sheet.pipe(&[(x - 4.0, y), (x + 0.5, y)], bore),
            Symbol::Exit => {
                let pen = Pen {
                    width: 0.35,
                    ..Pen::THIN
                };
                self.sheet.arrow((x + 1.0, y), (x + 6.0, y), pen, 2.0);
            }
            _ => {}
        }
    }

    /// Symbols at the foot of a line that hangs into a tank.
    fn foot(&mut self, all: &[Symbol], (x, y): At, bore: f64) -> Rect {
        let half = 0.5 * bore + 0.9;
        if all
            .iter()
            .any(|s| matches!(s, Symbol::FootValve | Symbol::Strainer))
        {
            // A basket below the mouth, and the flap of the valve in it.
            let pen = Pen {
                dash: "0.8 0.6",
                ..Pen::THICK
            };
            let basket = [
                (x - half, y - 0.6),
                (x - half, y + 3.4),
                (x + half, y + 3.4),
                (x + half, y - 0.6),
            ];
            self.sheet.line(&basket, pen);
            self.sheet
                .line(&[(x - half, y - 0.6), (x + half, y - 0.6)], Pen::THICK);
            if all.contains(&Symbol::FootValve) {
                self.sheet.line(
                    &[(x - 0.8 * half, y + 1.8), (x + 0.4 * half, y - 0.4)],
                    Pen::THICK,
                );
            }
            return Rect::new(x - half, y - 1.0, x + half, y + 3.6);
        }
        if all.iter().any(|s| {
            !matches!(
                s,
                Symbol::Entrance | Symbol::RoundedEntrance | Symbol::ReentrantEntrance
            )
        }) {
            self.sheet
                .line(&[(x - half, y - 3.0), (x + half, y - 3.0)], Pen::THICK);
        }
        Rect::new(x - half, y - 1.5, x + half, y + 0.5)
    }

    fn machine(&mut self, item: &Item, (x, y): At) {
        let Some(element) = self.line.path.get(item.element) else {
            return;
        };
        let mut reach = (ROUND, ROUND);
        match element {
            Element::Turbine { .. } => symbols::machine(self.sheet, Machine::Turbine, (x, y)),
            Element::Pump { name, details, .. } => {
                let said = name.to_lowercase();
                let fan = self.line.is_gas || said.contains("fan") || said.contains("blower");
                let kind = if fan { Machine::Fan } else { Machine::Pump };
                let several =
                    |value: &Option<Value>| value.as_ref().and_then(number).is_some_and(|n| n > 1.0);
                if several(&details.parallel) {
                    // Two of them stand for however many there are.
                    let (off, thin) = (5.4, 0.6 * item.bore);
                    for side in [-off, off] {
                        let (a, b) = (x - 8.6, x + 8.6);
                        let branch = [(a, y), (a, y + side), (b, y + side), (b, y)];
                        self.sheet.pipe(&branch, thin);
                    }
                    self.sheet.line_in(
                        Layer::Inside,
                        &[(x - 8.4 + 0.5 * thin, y), (x + 8.4 - 0.5 * thin, y)],
                        Pen {
                            width: item.bore + 0.2,
                            colour: super::sheet::WHITE,
                            ..Pen::THICK
                        },
                    );
                    for side in [-off, off] {
                        symbols::machine(self.sheet, kind, (x, y + side));
                    }
                    reach = (off + ROUND, 9.0);
                } else if several(&details.series) {
                    for side in [-4.9, 4.9] {
                        symbols::machine(self.sheet, kind, (x + side, y));
                    }
                    reach = (ROUND, 4.9 + ROUND);
                } else {
                    symbols::machine(self.sheet, kind, (x, y));
                }
            }
            _ => return,
        }
        let lines = machine_says(element, self.say);
        let rect = Rect::new(x - reach.1, y - reach.0 - 0.4, x + reach.1, y + reach.0 + 0.4);
        self.sheet.label(lines, about(rect), (x, y - reach.0));
    }

    /// A tank that drains through an opening in its floor.
    fn drain(&mut self, start: &Placing, end: &Placing) {
        let (End::Tank(moving), End::Station(station), Some(orifice)) =
            (&self.line.start, &self.line.end, self.line.orifice)
        else {
            return;
        };
        let closed = Placing { bore: 0.0, ..*start };
        ends::tank(self.sheet, moving, self.heights, self.say, &closed);
        let (x, y) = (ends::middle(start), self.heights.y(ends::levels(moving).0));
        for (side, out) in [(-1.0, 3.4), (1.0, 3.4)] {
            let pen = Pen {
                width: 1.1,
                ..Pen::THICK
            };
            self.sheet.line(&[(x + side * 1.6, y), (x + side * out, y)], pen);
        }
        let jet = [
            (x - 1.4, y - 0.8),
            (x + 1.4, y - 0.8),
            (x + 1.0, y + 4.0),
            (x + 1.0, y + 13.0),
            (x - 1.0, y + 13.0),
            (x - 1.0, y + 4.0),
        ];
        let inside = self.sheet.inside;
        self.sheet.wash(&jet, inside);
        for side in [-1.0, 1.0] {
            self.sheet.line(
                &[
                    (x + side * 1.5, y + 0.4),
                    (x + side, y + 4.0),
                    (x + side, y + 13.0),
                ],
                Pen::THIN,
            );
        }
        self.sheet.station((x - 6.0, y + 6.0), "2");
        let mut lines = ends::said(station, "2", Form::Mouth, true, self.say);
        let mut own = name_within(&orifice.name, 30.0);
        if own.first().map(Words::bare) == lines.first().map(Words::bare) {
            lines.clear();
        }
        own.push(side_by_side(
            self.say.equal("d", "", &orifice.diameter),
            &self.say.equal("C", "d", &orifice.coefficient),
        ));
        self.sheet
            .label(own, vec![spot(x + 4.5, y + 2.0, 1, 1)], (x + 2.0, y));
        let spots = vec![spot(x - 9.5, y + 6.0, -1, 0), spot(x, y + 15.0, 0, 1)];
        self.sheet.label(lines, spots, (x, y + 10.0));
        let end = Placing {
            x: x + 30.0,
            y: end.y,
            ..*end
        };
        let differ = self.heights.differ();
        self.elevations(
            &[],
            [
                (&self.line.start, Form::Tank, start),
                (&self.line.end, Form::Mouth, &end),
            ],
            differ,
        );
    }

    fn opening(&mut self, item: &Item) {
        let Some(orifice) = self.line.orifice else {
            return;
        };
        let (x, y) = (item.x0, item.y0);
        for side in [-1.0, 1.0] {
            self.sheet.line(
                &[
                    (x, y + side * 0.5 * item.bore),
                    (x, y + side * (0.5 * item.bore + 2.0)),
                ],
                Pen {
                    width: 1.1,
                    ..Pen::THICK
                },
            );
        }
        let mut lines = name_within(&orifice.name, 26.0);
        lines.push(self.say.equal("d", "", &orifice.diameter));
        lines.push(self.say.equal("C", "d", &orifice.coefficient));
        let rect = Rect::new(
            x - 0.6,
            y - 0.5 * item.bore - 2.0,
            item.x1,
            y + 0.5 * item.bore + 2.0,
        );
        self.sheet.label(lines, about(rect), (x, y));
    }

    fn point(&mut self, n: usize, (x, y): At, bore: f64) {
        let Some(point) = self.line.points.get(n) else {
            return;
        };
        self.sheet
            .circle((x, y), 0.9, Layer::Over, Pen::THIN.filled(BLACK));
        let mut lines = name_within(&point.name, 26.0);
        if let Some(along) = &point.along {
            lines.push(Words::plain(format!("{} along the pipe", self.say.value(along))));
        }
        let rect = Rect::new(x - 1.0, y - 0.5 * bore, x + 1.0, y + 0.5 * bore);
        self.sheet.label(lines, about(rect), (x, y));
    }

    /// Datum and dimension lines of elevations.
    fn elevations(&mut self, items: &[Item], both: [Ending<'_, '_>; 2], differ: bool) {
        if !differ {
            return;
        }
        let y0 = self.heights.y(0.0);
        let values = end_elevations(self.line);
        let mut reach: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);
        let mut dims: Vec<(f64, f64, f64, Words)> = Vec::new();
        for ((end, form, placing), (n, z)) in both.into_iter().zip([("1", values.0), ("2", values.1)]) {
            let value = end.elevation();
            let y = self.heights.y(z);
            let edge = placing.x + placing.out * ends::reach(form);
            reach = (reach.0.min(edge), reach.1.max(edge));
            if is_nought(value) {
                continue;
            }
            let x = ends::beside(form, placing);
            let symbol = if form == Form::Tank { "f" } else { n };
            let from = if form == Form::Basin || form == Form::Tank {
                edge
            } else {
                placing.x + placing.out * 6.0
            };
            dims.push((x, y, from, self.say.equal("z", symbol, value)));
        }
        for item in items {
            let (value, says) = match (&item.what, self.line.path.get(item.element)) {
                (What::Point(n), _) => match self.line.points.get(*n) {
                    Some(point) if !is_nought(&point.elevation) => {
                        (&point.elevation, self.say.equal("z", "", &point.elevation))
                    }
                    _ => continue,
                },
                (What::Machine, Some(Element::Pump { details, .. })) => match &details.elevation {
                    Some(value) if !is_nought(value) => (value, self.say.equal("z", "P", value)),
                    _ => continue,
                },
                _ => continue,
            };
            let Some(z) = number(value) else { continue };
            let x = item.x1
                + if matches!(item.what, What::Machine) {
                    2.5
                } else {
                    2.0
                };
            dims.push((x, self.heights.y(z), x, says));
        }
        if dims.is_empty() {
            return;
        }
        let pen = Pen {
            colour: GREY,
            ..Pen::THIN
        };
        for (x, y, from, says) in dims {
            reach = (reach.0.min(x - 1.5), reach.1.max(x + 1.5));
            if (from - x).abs() > 0.1 {
                let way = if x > from { 1.0 } else { -1.0 };
                self.sheet.line(&[(from + way * 0.8, y), (x + way * 1.3, y)], pen);
            }
            self.sheet.upright(x, y0, y, vec![says]);
        }
        // Where the datum runs through an open tank's surface it is the surface.
        self.sheet
            .line(&[(reach.0 - 1.0, y0), (reach.1 + 1.0, y0)], Pen::AXIS);
        let words = vec![Words::plain("").italic("z").upright(" = 0")];
        let mut spots = Vec::new();
        for share in [1.0, 0.0, 0.9, 0.1, 0.8, 0.2, 0.7, 0.3, 0.6, 0.4, 0.5] {
            let x = reach.0 + share * (reach.1 - reach.0);
            let side = if share > 0.5 { -1 } else { 1 };
            spots.extend([spot(x, y0 - 0.7, side, -1), spot(x, y0 + 0.8, side, 1)]);
        }
        self.sheet.label(words, spots, (reach.1, y0));
    }

    /// An arrow in the first pipe, and the flow beside it; arrows alone in the others.
    fn flow(&mut self, items: &[Item]) {
        let mut first = true;
        for item in items {
            let What::Pipe { piece: 0, .. } = &item.what else {
                continue;
            };
            let way = way(item);
            let (from, to) = (way[0], way[1]);
            let room = to.0 - from.0;
            let long = 6.0_f64.min(0.7 * room);
            if room < 4.0 {
                continue;
            }
            let x = from.0 + if room > 14.0 { 3.0 } else { 0.5 * (room - long) };
            let pen = Pen {
                width: 0.4,
                ..Pen::THIN
            };
            self.sheet
                .arrow((x, from.1), (x + long, from.1), pen, 2.2_f64.min(item.bore));
            if first && let Some(flow) = self.line.flow {
                let half = 0.5 * item.bore;
                let rect = Rect::new(x, from.1 - half, x + long, from.1 + half);
                let label = vec![self.say.equal("Q", "", flow)];
                let mut spots = about(rect);
                let y = from.1;
                for at in [to.0 - 8.0, 0.5 * (from.0 + to.0)] {
                    spots.extend([spot(at, y - half - 1.0, 0, -1), spot(at, y + half + 1.0, 0, 1)]);
                }
                self.sheet.label(label, spots, (x + 0.5 * long, from.1));
            }
            first = false;
        }
    }

    fn pipe_labels(&mut self, items: &[Item]) {
        for (i, item) in items.iter().enumerate() {
            let What::Pipe { piece: 0, pieces } = &item.what else {
                continue;
            };
            let Some(element) = self.line.path.get(item.element) else {
                continue;
            };
            let lines = pipe_says(element, self.say);
            let half = 0.5 * item.bore;
            let mut spots = Vec::new();
            // All pieces of the pipe and their legs; the last piece of several is as good as the first.
            let pieces: Vec<&Item> = (items.iter().skip(i))
                .filter(|p| p.element == item.element && matches!(p.what, What::Pipe { .. }))
                .take(*pieces)
                .collect();
            for away in [1.2, 4.0, 8.0] {
                for piece in &pieces {
                    for pair in way(piece).windows(2) {
                        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
                        if (y1 - y0).abs() < 0.05 {
                            for share in [0.5, 0.4, 0.6, 0.25, 0.75] {
                                let x = x0 + share * (x1 - x0);
                                spots.push(spot(x, y0 - half - away, 0, -1));
                                spots.push(spot(x, y0 + half + away, 0, 1));
                            }
                        } else {
                            for share in [0.5, 0.35, 0.65, 0.2, 0.8] {
                                let (x, y) = (x0 + share * (x1 - x0), y0 + share * (y1 - y0));
                                let aside = half + away + 2.5;
                                spots.push(spot(x + aside, y, 1, 0));
                                spots.push(spot(x - aside, y, -1, 0));
                            }
                        }
                    }
                }
            }
            let mut targets = Vec::new();
            for piece in &pieces {
                for pair in way(piece).windows(2) {
                    for share in [0.5, 0.3, 0.7, 0.15, 0.85] {
                        let x = pair[0].0 + share * (pair[1].0 - pair[0].0);
                        let y = pair[0].1 + share * (pair[1].1 - pair[0].1);
                        targets.push((x, y));
                    }
                }
            }
            self.sheet.label_of(lines, spots, targets);
            if let Element::Pipe {
                bore: Bore::Duct(duct),
                ..
            } = element
            {
                self.cross_section(&duct.shape, item);
            }
        }
    }

    /// The cross-section of a duct that is not round, drawn beside it with its measures.
    fn cross_section(&mut self, shape: &DuctShape, item: &Item) {
        let middle = 0.5 * (item.x0 + item.x1);
        let low = item.y0.max(item.y1) + 22.0;
        super::section::draw(self.sheet, shape, (middle, low), self.say);
    }

    /// Energy and hydraulic grade line over the drawing.
    fn heads(
        &mut self,
        heads: &Heads<'_>,
        items: &[Item],
        (forms, start, end): ((Form, Form), &Placing, &Placing),
    ) {
        let x_of = |at: Along| -> f64 {
            let of_element = |i: usize| {
                items.iter().filter(move |item| {
                    item.element == i && !matches!(item.what, What::Point(_) | What::Joint)
                })
            };
            match at {
                Along::Start => match forms.0 {
                    Form::Basin | Form::Tank | Form::Room => start.x - 8.0,
                    _ => start.x,
                },
                Along::End => match forms.1 {
                    Form::Basin | Form::Tank | Form::Room => end.x + 8.0,
                    Form::Nozzle => end.x + 8.0,
                    _ => end.x,
                },
                Along::Before(i) => of_element(i).map(|item| item.x0).fold(f64::INFINITY, f64::min),
                Along::Behind(i) => of_element(i)
                    .map(|item| item.x1)
                    .fold(f64::NEG_INFINITY, f64::max),
                Along::Point(n) => (items.iter())
                    .find(|item| matches!(item.what, What::Point(m) if m == n))
                    .map_or(start.x, |item| 0.5 * (item.x0 + item.x1)),
            }
        };
        let mut energy: Vec<At> = Vec::new();
        let mut hydraulic: Vec<At> = Vec::new();
        for mark in heads.marks {
            let x = x_of(mark.at);
            if x.is_finite() {
                energy.push((x, self.heights.y(mark.energy)));
                hydraulic.push((x, self.heights.y(mark.hydraulic)));
            }
        }
        let pen = Pen {
            width: 0.4,
            ..Pen::THICK
        };
        self.sheet.line_in(Layer::Over, &energy, pen);
        let blue = Pen {
            dash: "2.2 1.1",
            colour: DARK_WATER,
            ..pen
        };
        self.sheet.line_in(Layer::Over, &hydraulic, blue);
        for (line, words, above) in [
            (&energy, "energy grade line", true),
            (&hydraulic, "hydraulic grade line", false),
        ] {
            let mut spots = Vec::new();
            let (Some(first), Some(last)) = (line.first(), line.last()) else {
                continue;
            };
            for away in [0.9, 2.0, 4.0, 7.0] {
                for share in [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8] {
                    let x = first.0 + share * (last.0 - first.0);
                    let y = on(line, x);
                    let up = spot(x, y - away, 0, -1);
                    let down = spot(x, y + away, 0, 1);
                    spots.extend(if above { [up, down] } else { [down, up] });
                    spots.push(spot(
                        x,
                        y + if above { -away } else { away },
                        1,
                        if above { -1 } else { 1 },
                    ));
                    spots.push(spot(
                        x,
                        y + if above { -away } else { away },
                        -1,
                        if above { -1 } else { 1 },
                    ));
                }
            }
            let x = 0.5 * (first.0 + last.0);
            self.sheet
                .label(vec![Words::plain(words)], spots, (x, on(line, x)));
        }
        for (mark, (e, h)) in heads.marks.iter().zip(energy.iter().zip(&hydraulic)) {
            if let Some((energy, hydraulic)) = &mark.label {
                let dot = Pen {
                    width: 0.0,
                    ..Pen::THIN
                };
                self.sheet.circle(*e, 0.6, Layer::Over, dot.filled(BLACK));
                self.sheet.label(
                    vec![energy.clone()],
                    about(Rect::new(e.0 - 0.5, e.1 - 0.5, e.0 + 0.5, e.1 + 0.5)),
                    *e,
                );
                if (h.1 - e.1).abs() > 0.05 {
                    self.sheet.circle(*h, 0.6, Layer::Over, dot.filled(BLACK));
                    self.sheet.label(
                        vec![hydraulic.clone()],
                        about(Rect::new(h.0 - 0.5, h.1 - 0.5, h.0 + 0.5, h.1 + 0.5)),
                        *h,
                    );
                }
            }
        }
    }
}

/// The y of a broken line at an x.
fn on(line: &[At], x: f64) -> f64 {
    for pair in line.windows(2) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        if x >= x0 && x <= x1 && x1 > x0 {
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0);
        }
    }
    line.last().map_or(0.0, |p| p.1)
}

/// Whether the air outside presses on a surface.
fn is_open(pressure: &Value, atmosphere: &Value) -> bool {
    if is_nought(pressure) {
        return true;
    }
    match (pressure, atmosphere) {
        (Value::Known(p), Value::Known(a)) => {
            p.unit.reference == Some(crate::quantity::PressureReference::Absolute)
                && (p.quantity().value - a.quantity().value).abs() < 1.0
        }
        _ => false,
    }
}
