//! What stands at the ends of a line: open tanks, tanks whose level moves, gauges, jets.

use super::heights::{Heights, Of, Round};
use super::sheet::{At, BLACK, GREY, Layer, Pen, Rect, Sheet, THICK, about, spot};
use super::symbols;
use super::words::{Say, is_nought, name, name_within, number};
use crate::bank::system::tank::{Tank, TankShape, TankUntil};
use crate::bank::system::{Station, Value, Velocity};
use crate::figure::svg::Words;

/// How far the walls of an open tank stand above its surface \[mm\].
const FREEBOARD: f64 = 6.5;
/// How deep an open tank is drawn, and how deep the line's mouth lies \[mm\].
const DEPTH: f64 = 15.0;
pub(super) const MOUTH: f64 = 9.5;
/// Width of an open tank \[mm\].
const BASIN: f64 = 22.0;
/// Width of a tank whose level moves \[mm\], of a round one where nothing makes it larger.
const WIDE: f64 = 28.0;
/// How high half a ball is drawn where nothing makes it higher \[mm\].
const BOWL: f64 = 20.0;
/// The narrowest and the widest cone \[mm\].
const CONE: (f64, f64) = (20.0, 40.0);
/// Room for a dimension line and its label beside an end \[mm\].
const BESIDE: f64 = 19.0;
/// The same beside a tank whose level moves, whose label is longer \[mm\].
const BESIDE_LEVEL: f64 = 22.0;

/// What a line begins or ends with.
#[derive(Clone, Copy)]
pub(super) enum End<'a> {
    Station(&'a Station),
    Tank(&'a Moving<'a>),
}

/// A tank whose level moves.
pub(super) struct Moving<'a> {
    pub(super) tank: &'a Tank,
    /// When it ends, of the tank that is followed.
    pub(super) until: Option<(&'a TankUntil, &'a Value)>,
    /// Whether its level rises.
    pub(super) fills: bool,
    /// Behind the symbols of a second tank.
    pub(super) sub: &'static str,
}

impl Moving<'_> {
    /// What stands behind its symbols: `t` of the tank that is followed, `s` of a second one.
    pub(super) fn letter(&self) -> &'static str {
        if self.sub.is_empty() { "t" } else { "s" }
    }
}

/// How an end is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// A tank with a free surface.
    Basin,
    /// A room of still gas.
    Room,
    /// A cut pipe with a gauge.
    Gauge,
    /// An open mouth.
    Mouth,
    Nozzle,
    /// A tank whose level moves.
    Tank,
}

/// One end in its place.
pub(super) struct Placing {
    /// Where the line meets it.
    pub(super) x: f64,
    pub(super) y: f64,
    /// −1 at the start, 1 at the end: which way it lies from there.
    pub(super) out: f64,
    /// How far it reaches along the line \[mm\].
    pub(super) reach: f64,
    /// Width of the line there \[mm\].
    pub(super) bore: f64,
    /// Whether the line hangs into it over the rim.
    pub(super) over_rim: bool,
}

impl End<'_> {
    pub(super) fn form(&self, is_end: bool, is_gas: bool) -> Form {
        let station = match self {
            Self::Tank(_) => return Form::Tank,
            Self::Station(station) => station,
        };
        let said = station.name.as_deref().unwrap_or_default().to_lowercase();
        match &station.velocity {
            Velocity::Jet(_) => Form::Nozzle,
            Velocity::Value(v) if is_nought(v) && is_gas => Form::Room,
            Velocity::Value(v) if is_nought(v) => Form::Basin,
            _ if is_end && is_nought(&station.pressure) && !said.contains("gauge") => Form::Mouth,
            _ => Form::Gauge,
        }
    }

    /// Elevation of the station or of the tank's floor, as said.
    pub(super) fn elevation(&self) -> &Value {
        match self {
            Self::Station(station) => &station.elevation,
            Self::Tank(moving) => &moving.tank.floor,
        }
    }
}

/// How far an end reaches along the line \[mm\].
pub(super) fn reach(form: Form, end: &End<'_>, heights: &Heights) -> f64 {
    match (form, end) {
        (_, End::Tank(moving)) => Outline::new(moving, heights).wide,
        (Form::Basin, _) => BASIN,
        (Form::Room, _) => 20.0,
        (Form::Gauge, _) => 5.0,
        (Form::Mouth, _) => 11.0,
        (Form::Nozzle, _) => 22.0,
        (Form::Tank, _) => WIDE,
    }
}

/// How much room an end takes along the line \[mm\], its dimension lines included.
pub(super) fn room(form: Form, reach: f64, has_height: bool) -> f64 {
    let beside = match form {
        Form::Tank => BESIDE_LEVEL,
        _ if has_height => BESIDE,
        _ => 3.0,
    };
    reach + beside
}

/// The x of the middle of a tank whose level moves.
pub(super) fn middle(placing: &Placing) -> f64 {
    placing.x + placing.out * 0.5 * placing.reach
}

/// The x of the dimension line beside an end.
pub(super) fn beside(form: Form, placing: &Placing) -> f64 {
    placing.x + placing.out * (placing.reach + if form == Form::Tank { 4.0 } else { 5.0 })
}

/// What a station says beside its place: its name, a pressure that is not the air's, a velocity.
pub(super) fn said(station: &Station, number: &str, form: Form, open: bool, say: Say<'_>) -> Vec<Words> {
    let mut lines = station.name.as_deref().map(name).unwrap_or_default();
    let says_pressure = match form {
        Form::Basin | Form::Mouth | Form::Nozzle | Form::Room => !open,
        Form::Gauge | Form::Tank => true,
    };
    if says_pressure {
        lines.push(say.equal("p", number, &station.pressure));
    }
    match &station.velocity {
        Velocity::Value(v) if !is_nought(v) => lines.push(say.equal("V", number, v)),
        Velocity::Jet(v) => lines.push(say.equal("D", "jet", v)),
        _ => {}
    }
    if let Some(alpha) = &station.alpha {
        lines.push(say.equal("α", number, alpha));
    }
    lines
}

/// Draws a station's end; gives the place of its number, for the grade lines, and what its label stands about.
pub(super) fn station(
    sheet: &mut Sheet,
    form: Form,
    number: &str,
    surface: f64,
    open: bool,
    p: &Placing,
) -> Rect {
    let (x, y, out) = (p.x, p.y, p.out);
    match form {
        Form::Basin => basin(sheet, number, surface, open, p),
        Form::Room => {
            let far = x + out * 20.0;
            let corners = [(x, y - 9.0), (far, y - 9.0), (far, y + 9.0), (x, y + 9.0)];
            sheet.outline(
                Layer::Line,
                &corners,
                Pen {
                    dash: "2.4 1.4",
                    ..Pen::THIN
                },
                false,
            );
            sheet.station((x + out * 14.0, y), number);
            Rect::new(x, y - 9.0, far, y + 9.0)
        }
        Form::Gauge => {
            cut(sheet, (x + out * 3.5, y), p.bore);
            sheet.pipe(&[(x - out * 0.4, y), (x + out * 3.5, y)], p.bore);
            symbols::gauge(sheet, (x, y - 0.5 * p.bore));
            let low = y + 0.5 * p.bore + 4.2;
            section(sheet, x, y, p.bore);
            sheet.station((x, low), number);
            Rect::new(x - 2.5, y - 0.5 * p.bore - 9.0, x + 2.5, low + 2.4)
        }
        Form::Mouth => {
            jet(sheet, p);
            section(sheet, x, y, p.bore);
            sheet.station((x + out * 1.5, y - 0.5 * p.bore - 4.2), number);
            Rect::new(x, y - 0.5 * p.bore - 6.5, x + out * 10.0, y + 0.5 * p.bore)
        }
        Form::Nozzle => {
            let (tip, half) = (x + out * 7.0, 0.5 * p.bore);
            let thin = 0.5 * half;
            let taper = [(x, y - half), (tip, y - thin), (tip, y + thin), (x, y + half)];
            sheet.wash(&taper, sheet.inside);
            sheet.line(&[(x, y - half), (tip, y - thin)], Pen::THICK);
            sheet.line(&[(x, y + half), (tip, y + thin)], Pen::THICK);
            let far = tip + out * 13.0;
            sheet.wash(
                &[(tip, y - thin), (far, y - thin), (far, y + thin), (tip, y + thin)],
                sheet.inside,
            );
            for side in [-thin, thin] {
                sheet.line(&[(tip, y + side), (far, y + side)], Pen::THIN);
            }
            sheet.head(Layer::Over, (far + out * 2.0, y), (out, 0.0), 2.0, BLACK);
            section(sheet, tip + out, y, 2.0 * thin);
            sheet.station((tip + out, y - thin - 4.6), number);
            Rect::new(x, y - half - 5.0, far, y + half)
        }
        Form::Tank => Rect::new(x, y, x, y),
    }
}

/// A short line across the flow where a station lies.
fn section(sheet: &mut Sheet, x: f64, y: f64, bore: f64) {
    let half = 0.5 * bore + 1.4;
    sheet.line(&[(x, y - half), (x, y + half)], Pen::DASHED);
}

/// The wavy line where a pipe is cut off.
pub(super) fn cut(sheet: &mut Sheet, (x, y): At, bore: f64) {
    let half = 0.5 * bore + 0.8;
    let points: Vec<At> = (0..=12)
        .map(|i| f64::from(i) / 12.0)
        .map(|s| {
            (
                x + 0.7 * libm::sin(std::f64::consts::TAU * s),
                y - half + 2.0 * half * s,
            )
        })
        .collect();
    sheet.line_in(Layer::Over, &points, Pen::THIN);
}

/// Water that falls from an open mouth.
pub(super) fn jet(sheet: &mut Sheet, p: &Placing) {
    let half = 0.5 * p.bore - 0.5 * THICK;
    let fall = |from: f64, reach: f64| -> Vec<At> {
        (0..=8)
            .map(|i| f64::from(i) / 8.0)
            .map(|s| (p.x + p.out * reach * s, p.y + from + 9.0 * s * s))
            .collect()
    };
    let upper = fall(-half, 9.5);
    let lower = fall(half, 6.5);
    let area: Vec<At> = upper.iter().chain(lower.iter().rev()).copied().collect();
    sheet.wash(&area, sheet.inside);
    sheet.line(&upper, Pen::THIN);
    sheet.line(&lower, Pen::THIN);
}

fn basin(sheet: &mut Sheet, number: &str, surface: f64, open: bool, p: &Placing) -> Rect {
    let (near, far) = (p.x, p.x + p.out * BASIN);
    let (rim, floor) = (surface - FREEBOARD, surface + DEPTH);
    let pen = Pen::THICK;
    sheet.wash(
        &[(near, surface), (far, surface), (far, floor), (near, floor)],
        sheet.inside,
    );
    wall(sheet, near, rim, floor, (!p.over_rim).then_some((p.y, p.bore)));
    sheet.line(&[(far, rim), (far, floor), (near, floor)], pen);
    sheet.line(&[(near, surface), (far, surface)], Pen::THIN);
    if !open {
        sheet.line(&[(near, rim), (far, rim)], pen);
    }
    ground(sheet, near.min(far), near.max(far), floor);
    // Clear of a line that hangs in it, 9 mm from the near wall.
    let mark = if p.over_rim { 0.14 } else { 0.28 };
    symbols::surface(sheet, (near + p.out * BASIN * mark, surface));
    let number_at = near + p.out * BASIN * if p.over_rim { 0.78 } else { 0.62 };
    sheet.station((number_at, surface - 3.6), number);
    Rect::new(near, rim, far, floor + 1.5)
}

/// An upright wall, open where a line meets it.
fn wall(sheet: &mut Sheet, x: f64, top: f64, floor: f64, mouth: Option<(f64, f64)>) {
    match mouth {
        Some((y, bore)) => {
            sheet.line(&[(x, top), (x, y - 0.5 * bore + 0.25)], Pen::THICK);
            sheet.line(&[(x, y + 0.5 * bore - 0.25), (x, floor)], Pen::THICK);
        }
        None => sheet.line(&[(x, top), (x, floor)], Pen::THICK),
    }
}

/// Short strokes under a floor.
fn ground(sheet: &mut Sheet, left: f64, right: f64, y: f64) {
    let pen = Pen {
        colour: GREY,
        ..Pen::THIN
    };
    let count = ((right - left) / 3.0).floor() as u32;
    for i in 0..count {
        let x = left + 2.0 + 3.0 * f64::from(i);
        sheet.line(&[(x, y + 0.3), (x - 1.3, y + 1.6)], pen);
    }
}

/// The levels of a moving tank as elevations \[m\].
pub(super) struct Levels {
    pub(super) floor: f64,
    pub(super) first: f64,
    /// Guessed where it is asked.
    pub(super) last: Option<f64>,
    /// Where its wall ends, where that is said.
    pub(super) rim: Option<f64>,
    /// Where its shape ends, where it does.
    pub(super) top: Option<f64>,
}

impl Levels {
    /// The highest that its surface stands.
    pub(super) fn highest(&self) -> f64 {
        self.last.map_or(self.first, |last| last.max(self.first))
    }
}

pub(super) fn levels(moving: &Moving<'_>) -> Levels {
    let tank = moving.tank;
    let floor = number(&tank.floor).unwrap_or(0.0);
    let first = number(&tank.level).unwrap_or(1.0);
    let top = match &tank.shape {
        TankShape::Cone { height, .. } => number(height),
        TankShape::Sphere(diameter) | TankShape::LyingCylinder { diameter, .. } => number(diameter),
        TankShape::Bowl(diameter) => number(diameter).map(|d| 0.5 * d),
        TankShape::Round(_) | TankShape::Area(_) => None,
        TankShape::Table(rows) => rows.last().and_then(|(level, _)| number(level)),
    };
    let rim = match (top, tank.height.as_ref().and_then(number)) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    };
    let last = match moving.until {
        Some((TankUntil::Level(value), _)) => Some(number(value).unwrap_or(if moving.fills {
            rim.map_or(1.6 * first.max(0.5), |t| 0.5 * (first + t))
        } else {
            0.45 * first
        })),
        _ => None,
    };
    Levels {
        floor,
        first: floor + first,
        last: last.map(|l| floor + l),
        rim: rim.map(|t| floor + t),
        top: top.map(|t| floor + t),
    }
}

/// A tank that is part of a circle, where it lies and how high it is drawn.
pub(super) fn round(moving: &Moving<'_>, of: Of) -> Option<Round> {
    let Levels { floor, top, .. } = levels(moving);
    let drawn = match &moving.tank.shape {
        TankShape::Sphere(_) | TankShape::LyingCylinder { .. } => WIDE,
        TankShape::Bowl(_) => BOWL,
        _ => return None,
    };
    top.filter(|high| *high > floor).map(|high| Round {
        of,
        low: floor,
        high,
        drawn,
    })
}

/// A tank's inside as drawn.
struct Outline<'a> {
    shape: &'a TankShape,
    floor: f64,
    /// Where its wall ends.
    rim: f64,
    /// Where its shape ends, at the rim or above it.
    top: f64,
    /// Its greatest width \[mm\].
    wide: f64,
}

impl<'a> Outline<'a> {
    fn new(moving: &Moving<'a>, heights: &Heights) -> Self {
        let levels = levels(moving);
        let highest = levels.highest();
        let end = |z: Option<f64>| {
            z.filter(|z| *z >= highest)
                .map(|z| heights.y(z).min(heights.y(highest) - 0.4))
        };
        let floor = heights.y(levels.floor);
        let rim = end(levels.rim).unwrap_or(heights.y(highest) - FREEBOARD);
        let top = end(levels.top).unwrap_or(rim).min(rim);
        let shape = &moving.tank.shape;
        let high = floor - top;
        let wide = match shape {
            TankShape::Sphere(_) | TankShape::LyingCylinder { .. } => high,
            TankShape::Bowl(_) => 2.0 * high,
            TankShape::Cone {
                floor_diameter,
                top_diameter,
                height,
            } => match (number(floor_diameter), number(top_diameter), number(height)) {
                (Some(a), Some(b), Some(h)) if h > 0.0 => (high * a.max(b) / h).clamp(CONE.0, CONE.1),
                _ => WIDE,
            },
            TankShape::Round(_) | TankShape::Area(_) | TankShape::Table(_) => WIDE,
        };
        Self {
            shape,
            floor,
            rim,
            top,
            wide,
        }
    }

    /// Half its width at a height on the sheet \[mm\].
    fn half(&self, y: f64) -> f64 {
        let at = ((self.floor - y) / (self.floor - self.top).max(1e-9)).clamp(0.0, 1.0);
        0.5 * self.wide * share(self.shape, at)
    }
}

/// How wide a tank is at a share of its height, over its greatest width.
fn share(shape: &TankShape, at: f64) -> f64 {
    let of = |value: &Value| number(value).unwrap_or(1.0);
    match shape {
        TankShape::Round(_) | TankShape::Area(_) => 1.0,
        TankShape::Cone {
            floor_diameter,
            top_diameter,
            ..
        } => {
            let (a, b) = (of(floor_diameter), of(top_diameter));
            (a + (b - a) * at) / a.max(b).max(1e-9)
        }
        TankShape::Sphere(_) | TankShape::LyingCylinder { .. } => {
            let c = 2.0 * at - 1.0;
            (1.0 - c * c).max(0.0).sqrt()
        }
        TankShape::Bowl(_) => (1.0 - (1.0 - at) * (1.0 - at)).max(0.0).sqrt(),
        TankShape::Table(rows) => {
            let points: Vec<At> = rows.iter().map(|(l, a)| (of(l), of(a))).collect();
            let (top, most) = points
                .iter()
                .fold((1e-9_f64, 1e-9_f64), |m, p| (m.0.max(p.0), m.1.max(p.1)));
            let level = at * top;
            let i = points
                .iter()
                .position(|p| p.0 >= level)
                .unwrap_or(points.len().saturating_sub(1))
                .max(1);
            let (Some(a), Some(b)) = (points.get(i - 1), points.get(i)) else {
                return 1.0;
            };
            let area = a.1 + (b.1 - a.1) * (level - a.0) / (b.0 - a.0).max(1e-9);
            (area / most).max(0.0).sqrt()
        }
    }
}

/// Draws a tank whose level moves.
pub(super) fn tank(sheet: &mut Sheet, moving: &Moving<'_>, heights: &Heights, say: Say<'_>, p: &Placing) {
    let tank = moving.tank;
    let Levels {
        floor, first, last, ..
    } = levels(moving);
    let outline = Outline::new(moving, heights);
    let (y_floor, y_top) = (heights.y(floor), outline.rim);
    let middle = middle(p);
    let half = |y: f64| outline.half(y);
    // Closer together where a round wall turns level.
    let rows: Vec<f64> = (0..=40)
        .map(|i| 0.5 - 0.5 * libm::cos(std::f64::consts::PI * f64::from(i) / 40.0))
        .map(|share| y_floor + (y_top - y_floor) * share)
        .collect();
    let y_first = heights.y(first);
    let wet: Vec<f64> = rows
        .iter()
        .copied()
        .filter(|y| *y > y_first)
        .chain([y_first])
        .collect();
    let side =
        |ys: &[f64], way: f64| -> Vec<At> { ys.iter().map(|y| (middle + way * half(*y), *y)).collect() };
    let mut water = side(&wet, -1.0);
    water.extend(side(&wet, 1.0).into_iter().rev());
    sheet.wash(&water, sheet.inside);
    // The wall is open where the line meets it.
    let gap = 0.5 * p.bore - 0.25;
    for way in [-1.0, 1.0] {
        let wall = side(&rows, way);
        let faces = way * p.out < 0.0;
        if !faces || p.over_rim {
            sheet.line(&wall, Pen::THICK);
            continue;
        }
        let (below, above) = (p.y + gap, p.y - gap);
        let at = |y: f64| (middle + way * half(y), y);
        let mut lower: Vec<At> = wall.iter().copied().filter(|q| q.1 > below).collect();
        if below < y_floor {
            lower.push(at(below));
            sheet.line(&lower, Pen::THICK);
        }
        let mut upper = vec![at(above)];
        upper.extend(wall.iter().copied().filter(|q| q.1 < above));
        sheet.line(&upper, Pen::THICK);
    }
    // Where the wall stands back from the line's end, the line goes on to it.
    let [above, below] = [p.y - gap, p.y + gap].map(|y| (middle - p.out * half(y), y));
    if p.bore > 0.0 && [above, below].iter().any(|(x, _)| (x - p.x).abs() > 0.05) {
        let piece = [(p.x, above.1), above, below, (p.x, below.1)];
        sheet.wash(&piece, sheet.inside);
        sheet.block(&piece);
        sheet.line(&piece[..2], Pen::THICK);
        sheet.line(&piece[2..], Pen::THICK);
    }
    let base = half(y_floor);
    if base > 0.3 {
        sheet.line(&[(middle - base, y_floor), (middle + base, y_floor)], Pen::THICK);
    }
    if base > 8.0 {
        ground(sheet, middle - base, middle + base, y_floor);
    }
    let pressed = !is_nought(&tank.pressure);
    let rim = half(y_top);
    if pressed && rim > 0.3 {
        sheet.line(&[(middle - rim, y_top), (middle + rim, y_top)], Pen::THICK);
    }
    let reach = half(y_first);
    sheet.line(&[(middle - reach, y_first), (middle + reach, y_first)], Pen::THIN);
    symbols::surface(sheet, (middle - 0.35 * reach, y_first));
    let x = beside(Form::Tank, p);
    let edge = |y: f64| middle + p.out * half(y);
    let pen = Pen {
        colour: GREY,
        ..Pen::THIN
    };
    for y in [y_first, y_floor] {
        sheet.line(&[(edge(y) + p.out * 0.8, y), (x + p.out * 1.2, y)], pen);
    }
    let sub = |n: &str| format!("{n}{}", moving.sub);
    sheet.upright(x, y_floor, y_first, vec![say.equal("h", &sub("1"), &tank.level)]);
    if let (Some(last), Some((TankUntil::Level(value), _))) = (last, moving.until) {
        let y = heights.y(last);
        let reach = half(y);
        sheet.line(&[(middle - reach, y), (middle + reach, y)], Pen::DASHED);
        let label = vec![say.equal("h", &sub("2"), value)];
        if half(y_floor) < 2.0 && matches!(tank.shape, TankShape::Cone { .. }) {
            // Between the walls of an apex an arrow is not seen: beside it.
            let outside = edge(y) + p.out * 2.0;
            sheet.line(&[(edge(y) + p.out * 0.8, y), (outside + p.out * 1.2, y)], pen);
            sheet.upright(outside, y_floor, y, label);
        } else {
            // Where the floor is, if only a point.
            let inside = middle + p.out * 0.25 * half(y_floor);
            sheet.upright(inside, y_floor, y, label);
        }
    }
    let mut lines = name_within(&tank.name, outline.wide.max(WIDE) - 4.0);
    match &tank.shape {
        TankShape::Round(diameter) => lines.push(say.equal("D", moving.letter(), diameter)),
        TankShape::Area(area) => lines.push(say.equal("A", moving.letter(), area)),
        TankShape::Cone {
            floor_diameter,
            top_diameter,
            height,
        } => {
            lines.push(Words::plain(format!("top diameter {}", say.value(top_diameter))));
            if !is_nought(floor_diameter) {
                lines.push(Words::plain(format!(
                    "floor diameter {}",
                    say.value(floor_diameter)
                )));
            }
            lines.push(Words::plain(format!("height {}", say.value(height))));
        }
        TankShape::Sphere(diameter) | TankShape::Bowl(diameter) => {
            lines.push(Words::plain(format!("diameter {}", say.value(diameter))));
        }
        TankShape::LyingCylinder { diameter, length } => {
            lines.push(Words::plain(format!("diameter {}", say.value(diameter))));
            lines.push(Words::plain(format!("length {}", say.value(length))));
        }
        TankShape::Table(_) => {}
    }
    if pressed {
        lines.push(say.equal("p", moving.letter(), &tank.pressure));
    }
    match moving.until {
        Some((TankUntil::Difference(value), time)) => {
            lines.push(Words::plain(format!(
                "until the levels differ by {}",
                say.value(value)
            )));
            lines.push(say.equal("t", "", time));
        }
        Some((TankUntil::Level(_), time)) => lines.push(say.equal("t", "", time)),
        None => {}
    }
    let box_of_tank = Rect::new(p.x, y_top, p.x + p.out * outline.wide, y_floor + 1.6);
    let (_, height) = super::sheet::measure(&lines);
    let mut spots = Vec::new();
    // In the water, if that is wide enough; else about the tank.
    for depth in [1.5, 3.0, 5.0, 8.0] {
        for off in [0.0, -2.0, 2.0, -4.0, 4.0] {
            let y = y_first + depth;
            if y + height < y_floor - 0.8 {
                spots.push(spot(middle + off, y, 0, 1));
            }
        }
    }
    spots.extend(about(box_of_tank));
    sheet.label(lines, spots, (middle, y_top.min(y_first) + 2.0));
    if let Some(inflow) = &tank.inflow {
        // Aside from the mark of the surface.
        let x = middle + 0.3 * rim.max(4.0);
        sheet.arrow(
            (x, y_top - 9.0),
            (x, y_top - 1.0),
            Pen {
                width: THICK,
                ..Pen::THIN
            },
            2.4,
        );
        let label = vec![say.equal("Q", "in", inflow)];
        sheet.label(
            label,
            about(Rect::new(x - 0.8, y_top - 9.0, x + 0.8, y_top - 4.0)),
            (x, y_top - 6.0),
        );
    }
}
