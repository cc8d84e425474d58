//! A sheet on which things are drawn and labels find their own place: none on a line, none on another label.

use crate::figure::svg::{Anchor, Svg, Words};
use std::fmt::Write;

/// A place on the sheet \[mm\], x to the right and y down.
pub(super) type At = (f64, f64);

/// Type size of labels \[mm\]: 9 pt.
pub(super) const SIZE: f64 = 3.2;
/// From line to line, in type sizes.
const LEADING: f64 = 1.24;
/// How far letters reach above and below their line, in type sizes.
const ASCENT: f64 = 0.76;
const DESCENT: f64 = 0.26;
/// Clear space about a label \[mm\].
const AIR: f64 = 0.55;
/// Clear space between two labels side by side \[mm\], so that they are not read as one line.
const APART: f64 = 2.4;
/// More labels than this are not led to where they belong.
const MOST_LEADERS: usize = 120;
/// What a leader costs for every dimension line that it lies on, as if it were longer \[mm\].
const ALONG: f64 = 40.0;
/// Type size of the note below a drawing \[mm\].
const SMALL: f64 = 2.7;
/// White about the drawing \[mm\].
const MARGIN: f64 = 1.5;
/// The widest that a figure stands in the text \[mm\]: A4 and Letter leave at least that.
pub(super) const WIDEST: f64 = 166.0;

/// Outlines and what is cut.
pub(super) const THICK: f64 = 0.5;
/// Everything else, by half.
pub(super) const THIN: f64 = 0.25;
pub(super) const BLACK: &str = "#000";
pub(super) const GREY: &str = "#666";
/// The one colour; in grey print as light as a wash.
pub(super) const WATER: &str = "#d6e8f7";
/// The same for a line: as high as water would stand.
pub(super) const DARK_WATER: &str = "#1c5a94";
pub(super) const WHITE: &str = "#fff";

/// A rectangle by its corners.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rect {
    pub(super) x0: f64,
    pub(super) y0: f64,
    pub(super) x1: f64,
    pub(super) y1: f64,
}

impl Rect {
    pub(super) fn new(x0: f64, y0: f64, x1: f64, y1: f64) -> Self {
        Self {
            x0: x0.min(x1),
            y0: y0.min(y1),
            x1: x0.max(x1),
            y1: y0.max(y1),
        }
    }

    fn around(at: At, half: f64) -> Self {
        Self::new(at.0 - half, at.1 - half, at.0 + half, at.1 + half)
    }

    pub(super) fn grown(self, by: f64) -> Self {
        Self {
            x0: self.x0 - by,
            y0: self.y0 - by,
            x1: self.x1 + by,
            y1: self.y1 + by,
        }
    }

    pub(super) fn meets(&self, other: &Self) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    fn joined(self, other: Self) -> Self {
        Self {
            x0: self.x0.min(other.x0),
            y0: self.y0.min(other.y0),
            x1: self.x1.max(other.x1),
            y1: self.y1.max(other.y1),
        }
    }

    fn middle(&self) -> At {
        (0.5 * (self.x0 + self.x1), 0.5 * (self.y0 + self.y1))
    }

    /// The point of the edge that is nearest to one outside.
    fn nearest(&self, to: At) -> At {
        (to.0.clamp(self.x0, self.x1), to.1.clamp(self.y0, self.y1))
    }

    /// Whether a straight line runs through it, by clipping the line to it.
    pub(super) fn is_crossed(&self, a: At, b: At) -> bool {
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for (p, q) in [
            (-dx, a.0 - self.x0),
            (dx, self.x1 - a.0),
            (-dy, a.1 - self.y0),
            (dy, self.y1 - a.1),
        ] {
            if p == 0.0 {
                if q <= 0.0 {
                    return false;
                }
            } else if p < 0.0 {
                from = from.max(q / p);
            } else {
                to = to.min(q / p);
            }
        }
        from < to
    }
}

/// What a label must keep clear of.
#[derive(Debug, Clone, Copy)]
pub(super) enum Ink {
    /// A line and half its width.
    Line(At, At, f64),
    /// Something with an outline.
    Solid(Rect),
}

impl Ink {
    fn meets(&self, rect: &Rect) -> bool {
        match self {
            Self::Line(a, b, half) => rect.grown(*half).is_crossed(*a, *b),
            Self::Solid(solid) => solid.meets(rect),
        }
    }

    fn bounds(&self) -> Rect {
        match self {
            Self::Line(a, b, half) => Rect::new(a.0, a.1, b.0, b.1).grown(*half),
            Self::Solid(rect) => *rect,
        }
    }
}

/// Where a label may stand: a point, and on which side of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub(super) at: At,
    /// −1: to the left of the point, 0: about it, 1: to its right.
    pub(super) side: i8,
    /// −1: above the point, 0: about it, 1: below it.
    pub(super) level: i8,
}

/// A spot.
pub(super) fn spot(x: f64, y: f64, side: i8, level: i8) -> Spot {
    Spot {
        at: (x, y),
        side,
        level,
    }
}

/// The spots about a rectangle, from the best: above, below, at the sides, at the corners, then farther away.
pub(super) fn about(rect: Rect) -> Vec<Spot> {
    let (x, y) = rect.middle();
    let mut all = Vec::new();
    for away in [1.2, 3.5, 6.5, 10.0] {
        let r = rect.grown(away);
        all.extend([
            spot(x, r.y0, 0, -1),
            spot(x, r.y1, 0, 1),
            spot(r.x1, y, 1, 0),
            spot(r.x0, y, -1, 0),
            spot(x - 1.0, r.y0, 1, -1),
            spot(x - 1.0, r.y1, 1, 1),
            spot(x + 1.0, r.y0, -1, -1),
            spot(x + 1.0, r.y1, -1, 1),
            spot(r.x1, r.y0, 1, -1),
            spot(r.x1, r.y1, 1, 1),
            spot(r.x0, r.y0, -1, -1),
            spot(r.x0, r.y1, -1, 1),
        ]);
    }
    all
}

/// A text that looks for its place.
pub(super) struct Label {
    pub(super) lines: Vec<Words>,
    /// Where it may stand, from the best.
    pub(super) spots: Vec<Spot>,
    /// What it belongs to: a leader ends at one of these where no spot is free.
    pub(super) targets: Vec<At>,
}

/// A label in its place.
pub(super) struct Placed {
    lines: Vec<Words>,
    side: i8,
    pub(super) rect: Rect,
}

/// How a line is drawn.
#[derive(Clone, Copy)]
pub(super) struct Pen {
    pub(super) width: f64,
    pub(super) colour: &'static str,
    pub(super) dash: &'static str,
    pub(super) fill: &'static str,
}

impl Pen {
    pub(super) const THICK: Self = Self {
        width: THICK,
        colour: BLACK,
        dash: "",
        fill: "none",
    };
    pub(super) const THIN: Self = Self {
        width: THIN,
        ..Self::THICK
    };
    /// A centre line or a datum.
    pub(super) const AXIS: Self = Self {
        dash: "4 1 0.8 1",
        colour: GREY,
        ..Self::THIN
    };
    pub(super) const DASHED: Self = Self {
        dash: "1.8 1.1",
        ..Self::THIN
    };

    pub(super) fn filled(self, fill: &'static str) -> Self {
        Self { fill, ..self }
    }
}

/// What lies over what.
#[derive(Clone, Copy)]
pub(super) enum Layer {
    Water,
    /// A pipe's outline, under all pipes' insides, so that pipes that meet are open to one another.
    Wall,
    Inside,
    Line,
    Symbol,
    Over,
}

/// A drawing in the making.
pub(super) struct Sheet {
    layers: [String; 6],
    pub(super) ink: Vec<Ink>,
    bounds: Option<Rect>,
    labels: Vec<Label>,
    pub(super) placed: Vec<Placed>,
    /// From a label to what it belongs to.
    leaders: Vec<(At, At)>,
    /// Figures in circles, which keep labels off by themselves.
    numbers: Vec<Placed>,
    /// Whether labels that found no room were left out.
    left_out: bool,
    /// Where labels may stand from left to right.
    pub(super) span: (f64, f64),
    /// What fills pipes and tanks: water's colour, or white for a gas.
    pub(super) inside: &'static str,
    /// A turn that everything drawn takes: about which place, and cosine and sine of the angle.
    turn: Option<(At, f64, f64)>,
}

impl Sheet {
    /// An empty sheet whose labels stand between 0 and `width`.
    pub(super) fn new(width: f64, inside: &'static str) -> Self {
        Self {
            layers: Default::default(),
            ink: Vec::new(),
            bounds: None,
            labels: Vec::new(),
            placed: Vec::new(),
            leaders: Vec::new(),
            numbers: Vec::new(),
            left_out: false,
            span: (0.0, width),
            inside,
            turn: None,
        }
    }

    /// Draws something that is drawn as if it ran to the right, along another direction about a place.
    pub(super) fn turned(&mut self, about: At, (dx, dy): At, draw: impl FnOnce(&mut Self)) {
        let size = (dx * dx + dy * dy).sqrt().max(1e-9);
        self.turn = Some((about, dx / size, dy / size));
        draw(self);
        self.turn = None;
    }

    fn turn(&self, (x, y): At) -> At {
        match self.turn {
            None => (x, y),
            Some((about, c, s)) => {
                let (dx, dy) = (x - about.0, y - about.1);
                (about.0 + c * dx - s * dy, about.1 + s * dx + c * dy)
            }
        }
    }

    fn turn_all(&self, points: &[At]) -> Vec<At> {
        points.iter().map(|p| self.turn(*p)).collect()
    }

    fn reach(&mut self, rect: Rect) {
        self.bounds = Some(self.bounds.map_or(rect, |b| b.joined(rect)));
    }

    fn put(&mut self, layer: Layer, points: &[At], closed: bool, pen: Pen) {
        let points = &self.turn_all(points);
        let Some(out) = self.layers.get_mut(layer as usize) else {
            return;
        };
        let mut d = String::new();
        for (i, (x, y)) in points.iter().enumerate() {
            // Writing to a string can't fail.
            let _ = write!(d, "{}{x:.2} {y:.2}", if i == 0 { "M" } else { "L" });
        }
        if closed {
            d.push('Z');
        }
        let _ = write!(out, r#"<path d="{d}" fill="{}""#, pen.fill);
        if pen.width > 0.0 {
            let _ = write!(out, r#" stroke="{}" stroke-width="{:.2}""#, pen.colour, pen.width);
        }
        if !pen.dash.is_empty() {
            let _ = write!(out, r#" stroke-dasharray="{}""#, pen.dash);
        }
        out.push_str("/>\n");
        for at in points {
            self.reach(Rect::around(*at, 0.5 * pen.width));
        }
    }

    /// A line that labels keep off.
    pub(super) fn line(&mut self, points: &[At], pen: Pen) {
        self.line_in(Layer::Line, points, pen);
    }

    pub(super) fn line_in(&mut self, layer: Layer, points: &[At], pen: Pen) {
        self.put(layer, points, false, pen);
        for pair in self.turn_all(points).windows(2) {
            self.ink.push(Ink::Line(pair[0], pair[1], 0.5 * pen.width));
        }
    }

    /// An outline that labels keep off, its inside too where `solid`.
    pub(super) fn outline(&mut self, layer: Layer, points: &[At], pen: Pen, solid: bool) {
        self.put(layer, points, true, pen);
        if solid {
            self.block(points);
            return;
        }
        let points = self.turn_all(points);
        for (i, point) in points.iter().enumerate() {
            let next = points[(i + 1) % points.len()];
            self.ink.push(Ink::Line(*point, next, 0.5 * pen.width));
        }
    }

    /// A filled area without an outline, on which labels may stand.
    pub(super) fn wash(&mut self, points: &[At], fill: &'static str) {
        let pen = Pen {
            width: 0.0,
            ..Pen::THIN
        };
        self.put(Layer::Water, points, true, pen.filled(fill));
    }

    /// Keeps labels off the rectangle about some points.
    pub(super) fn block(&mut self, points: &[At]) {
        let turned = self.turn_all(points);
        let mut all = turned.iter().map(|p| Rect::around(*p, 0.0));
        if let Some(first) = all.next() {
            self.ink.push(Ink::Solid(all.fold(first, Rect::joined)));
        }
    }

    /// A circle.
    pub(super) fn circle(&mut self, centre: At, radius: f64, layer: Layer, pen: Pen) {
        let centre = self.turn(centre);
        if let Some(out) = self.layers.get_mut(layer as usize) {
            let _ = write!(
                out,
                r#"<circle cx="{:.2}" cy="{:.2}" r="{radius:.2}" fill="{}""#,
                centre.0, centre.1, pen.fill
            );
            if pen.width > 0.0 {
                let _ = write!(out, r#" stroke="{}" stroke-width="{:.2}""#, pen.colour, pen.width);
            }
            if !pen.dash.is_empty() {
                let _ = write!(out, r#" stroke-dasharray="{}""#, pen.dash);
            }
            out.push_str("/>\n");
        }
        let rect = Rect::around(centre, radius + 0.5 * pen.width);
        self.reach(rect);
        self.ink.push(Ink::Solid(rect));
    }

    /// A pipe along points, as wide as given, full of the fluid.
    pub(super) fn pipe(&mut self, points: &[At], width: f64) {
        let outer = Pen { width, ..Pen::THICK };
        let inner = Pen {
            width: (width - 2.0 * THICK).max(0.3),
            colour: self.inside,
            ..Pen::THICK
        };
        self.put(Layer::Wall, points, false, outer);
        self.put(Layer::Inside, points, false, inner);
        for pair in points.windows(2) {
            self.ink.push(Ink::Line(pair[0], pair[1], 0.5 * width));
        }
    }

    /// A filled arrow head whose tip is at `tip`, pointing along `(dx, dy)`.
    pub(super) fn head(&mut self, layer: Layer, tip: At, along: At, long: f64, colour: &'static str) {
        let size = (along.0 * along.0 + along.1 * along.1).sqrt().max(1e-9);
        let (dx, dy) = (along.0 / size, along.1 / size);
        let (bx, by) = (tip.0 - long * dx, tip.1 - long * dy);
        let half = 0.3 * long;
        let points = [
            tip,
            (bx - half * dy, by + half * dx),
            (bx + half * dy, by - half * dx),
        ];
        let pen = Pen {
            width: 0.0,
            ..Pen::THIN
        };
        self.put(layer, &points, true, pen.filled(colour));
        self.block(&points);
    }

    /// An arrow from one place to another.
    pub(super) fn arrow(&mut self, from: At, to: At, pen: Pen, long: f64) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let size = (dx * dx + dy * dy).sqrt().max(1e-9);
        let neck = (to.0 - 0.8 * long * dx / size, to.1 - 0.8 * long * dy / size);
        self.line_in(Layer::Over, &[from, neck], pen);
        self.head(Layer::Over, to, (dx, dy), long, pen.colour);
    }

    /// A station's number in a circle.
    pub(super) fn station(&mut self, centre: At, number: &str) {
        self.circle(centre, 2.3, Layer::Symbol, Pen::THIN.filled(WHITE));
        let half = 0.5 * Words::plain(number).width(SIZE);
        let rect = Rect::new(centre.0 - half, centre.1 - 1.2, centre.0 + half, centre.1 + 1.2);
        self.numbers.push(Placed {
            lines: vec![Words::plain(number)],
            side: 0,
            rect,
        });
    }

    /// A dimension line along the upright from `y0` to `y1` at `x`, with its label beside it.
    pub(super) fn upright(&mut self, x: f64, y0: f64, y1: f64, lines: Vec<Words>) {
        self.dimension((x, y0), (x, y1), lines);
    }

    /// A dimension line between two places, level or upright, with its label beside it.
    pub(super) fn dimension(&mut self, from: At, to: At, lines: Vec<Words>) {
        let length = (to.0 - from.0).abs() + (to.1 - from.1).abs();
        let pen = Pen::THIN;
        let long = 2.0_f64.min(0.5 * length);
        let upright = (to.0 - from.0).abs() < (to.1 - from.1).abs();
        if length > 7.5 {
            self.line(&[from, to], pen);
            self.head(Layer::Line, from, (from.0 - to.0, from.1 - to.1), long, BLACK);
            self.head(Layer::Line, to, (to.0 - from.0, to.1 - from.1), long, BLACK);
        } else {
            // Too short for both heads: they point at it from outside.
            let (ux, uy) = (
                (to.0 - from.0) / length.max(1e-9),
                (to.1 - from.1) / length.max(1e-9),
            );
            let (a, b) = (
                (from.0 - 4.0 * ux, from.1 - 4.0 * uy),
                (to.0 + 4.0 * ux, to.1 + 4.0 * uy),
            );
            self.line(&[a, b], pen);
            self.head(Layer::Line, from, (ux, uy), 2.0, BLACK);
            self.head(Layer::Line, to, (-ux, -uy), 2.0, BLACK);
        }
        let mut spots = Vec::new();
        for away in [1.0, 2.5, 5.0] {
            for share in [0.5, 0.35, 0.65, 0.2, 0.8, 0.0, 1.0] {
                let (x, y) = (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1));
                if upright {
                    spots.extend([spot(x - away, y, -1, 0), spot(x + away, y, 1, 0)]);
                } else {
                    spots.extend([spot(x, y - away, 0, -1), spot(x, y + away, 0, 1)]);
                }
            }
        }
        let targets = [0.5, 0.35, 0.65]
            .map(|share| (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1)));
        self.label_of(lines, spots, targets.to_vec());
    }

    /// A text that looks for its place when the drawing is done.
    pub(super) fn label(&mut self, lines: Vec<Words>, spots: Vec<Spot>, target: At) {
        self.label_of(lines, spots, vec![target]);
    }

    /// The same for something that a leader may point at in several places.
    pub(super) fn label_of(&mut self, lines: Vec<Words>, spots: Vec<Spot>, targets: Vec<At>) {
        if lines.is_empty() {
            return;
        }
        self.labels.push(Label {
            lines,
            spots,
            targets,
        });
    }

    fn is_free(&self, rect: &Rect) -> bool {
        let (left, right) = self.span;
        let aside = Rect::new(rect.x0 - APART, rect.y0 - AIR, rect.x1 + APART, rect.y1 + AIR);
        rect.x0 >= left
            && rect.x1 <= right
            && !self.placed.iter().any(|p| p.rect.meets(&aside))
            && !self.ink.iter().any(|ink| ink.meets(&rect.grown(AIR)))
    }

    /// What is wrong with where labels stand, once they are settled: on one another, on a line, off the sheet.
    #[cfg(test)]
    pub(super) fn faults(&self) -> Vec<String> {
        let extent = self.extent();
        let mut faults = Vec::new();
        for (i, one) in self.placed.iter().enumerate() {
            let says: Vec<String> = one.lines.iter().map(Words::bare).collect();
            let (x, y) = one.rect.middle();
            let says = format!("`{}` at {x:.1}, {y:.1}", says.join(" / "));
            for other in &self.placed[i + 1..] {
                if one.rect.meets(&other.rect) {
                    faults.push(format!("{says} stands on `{}`", other.lines[0].bare()));
                }
            }
            for ink in &self.ink {
                if ink.meets(&one.rect) {
                    faults.push(format!("{says} stands on {ink:?}"));
                }
            }
            let (r, e) = (&one.rect, &extent);
            if r.x0 < e.x0 || r.x1 > e.x1 || r.y0 < e.y0 || r.y1 > e.y1 {
                faults.push(format!("{says} is off the sheet"));
            }
        }
        faults
    }

    /// Leaders that lie along an upright line that they point at, and look like a piece of it.
    #[cfg(test)]
    pub(super) fn leaders_along_lines(&self) -> Vec<String> {
        let mut found = Vec::new();
        for (from, target) in &self.leaders {
            let upright = (from.0 - target.0).abs() < 0.1 * (from.1 - target.1).abs();
            let line = self.ink.iter().find(|ink| match ink {
                Ink::Line(a, b, half) => {
                    let own = (*a, *b) == (*from, *target);
                    let there = a.1.min(b.1) < target.1 && target.1 < a.1.max(b.1);
                    !own && *half < 0.2 && there && a.0 == b.0 && (a.0 - target.0).abs() < 0.3
                }
                Ink::Solid(_) => false,
            });
            if let (true, Some(line)) = (upright, line) {
                found.push(format!(
                    "a leader from {from:?} to {target:?} lies along {line:?}"
                ));
            }
        }
        found
    }

    /// Puts every label in its place: first those that have a free spot, then the others, with leaders.
    pub(super) fn settle(&mut self) {
        let mut left_over = Vec::new();
        for label in std::mem::take(&mut self.labels) {
            let (width, height) = measure(&label.lines);
            let there = |spot: &Spot| rect_at(spot, width, height);
            match label.spots.iter().find(|s| self.is_free(&there(s))) {
                Some(found) => {
                    let (rect, side) = (there(found), found.side);
                    self.place(label.lines, side, rect);
                }
                None => left_over.push(label),
            }
        }
        // Where hundreds find no room, the drawing is past being read, and leaders would only blacken it.
        self.left_out = left_over.len() > MOST_LEADERS;
        if self.left_out {
            left_over.clear();
        }
        for label in left_over {
            let (width, height) = measure(&label.lines);
            let (rect, from, target) = self.led(&label.targets, width, height);
            self.line_in(Layer::Over, &[from, target], Pen::THIN);
            self.leaders.push((from, target));
            let dot = Pen {
                width: 0.0,
                ..Pen::THIN
            };
            self.circle(target, 0.45, Layer::Over, dot.filled(BLACK));
            self.place(label.lines, 0, rect);
        }
    }

    fn place(&mut self, lines: Vec<Words>, side: i8, rect: Rect) {
        self.reach(rect);
        self.placed.push(Placed { lines, side, rect });
    }

    /// A free place farther off, and where its leader begins and ends.
    fn led(&self, targets: &[At], width: f64, height: f64) -> (Rect, At, At) {
        let mut best: Option<(f64, Rect, At, At)> = None;
        for ring in 1..=24 {
            let away = 4.0 * f64::from(ring);
            if best.as_ref().is_some_and(|(cost, ..)| *cost < away) {
                break;
            }
            for target in targets {
                for turn in 0..24 {
                    let angle = std::f64::consts::TAU * f64::from(turn) / 24.0;
                    let (x, y) = (
                        target.0 + (away + 0.5 * width) * libm::cos(angle),
                        target.1 + (away + 0.5 * height) * libm::sin(angle),
                    );
                    let rect = Rect::new(
                        x - 0.5 * width,
                        y - 0.5 * height,
                        x + 0.5 * width,
                        y + 0.5 * height,
                    );
                    if let Some((cost, from)) = self.leader_cost(&rect, *target)
                        && best.as_ref().is_none_or(|(least, ..)| cost < *least)
                    {
                        best = Some((cost, rect, from, *target));
                    }
                }
            }
        }
        if let Some((_, rect, from, target)) = best {
            return (rect, from, target);
        }
        // Room is made below everything.
        let bottom = self.bounds.map_or(0.0, |b| b.y1);
        let (left, right) = self.span;
        let lowest = self.placed.iter().map(|p| p.rect.y1).fold(bottom, f64::max);
        for row in 0..40 {
            for column in 0..20 {
                let x = left + f64::from(column) / 20.0 * (right - left);
                let y = lowest + 3.0 + 4.0 * f64::from(row);
                let rect = Rect::new(x, y, x + width, y + height);
                for target in targets {
                    if let Some((_, from)) = self.leader_cost(&rect, *target) {
                        return (rect, from, *target);
                    }
                }
            }
        }
        // No leader gets through: a label below everything, and none.
        let rect = Rect::new(left, lowest + 3.0, left + width, lowest + 3.0 + height);
        let from = rect.nearest((left, lowest));
        (rect, from, from)
    }

    /// What a leader from a free rectangle costs: its length, and more for what it crosses.
    fn leader_cost(&self, rect: &Rect, target: At) -> Option<(f64, At)> {
        if !self.is_free(rect) {
            return None;
        }
        let grown = rect.grown(0.4);
        let from = grown.nearest(target);
        // No label should make the drawing higher.
        let beyond = self
            .bounds
            .map_or(0.0, |b| (rect.y1 - b.y1).max(b.y0 - rect.y0).max(0.0));
        let cost = |from: At| Some(self.cost_between(from, target)? + beyond);
        let best = cost(from);
        if self.lines_along(from, target) == 0 {
            return best.map(|cost| (cost, from));
        }
        // A leader along a dimension line would be taken for a piece of it: askew, from a corner.
        let corners = [grown.x0, grown.x1]
            .into_iter()
            .flat_map(|x| [(x, grown.y0), (x, grown.y1)]);
        corners
            .filter(|corner| !rect.is_crossed(*corner, target))
            .filter_map(|corner| Some((cost(corner)?, corner)))
            .chain(best.map(|cost| (cost, from)))
            .min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// How many dimension lines a leader lies on.
    fn lines_along(&self, from: At, target: At) -> usize {
        let along = |ink: &&Ink| match ink {
            Ink::Line(a, b, half) => {
                *half <= 0.5 * THIN && a.0 == b.0 && runs_along((from, target), (*a, *b))
            }
            Ink::Solid(_) => false,
        };
        self.ink.iter().filter(along).count()
    }

    /// What a leader between two places costs; none where it runs through a label.
    fn cost_between(&self, from: At, target: At) -> Option<f64> {
        let through = |p: &Placed| p.rect.grown(0.3).is_crossed(from, target);
        if self.placed.iter().any(through) {
            return None;
        }
        let (dx, dy) = (target.0 - from.0, target.1 - from.1);
        let length = (dx * dx + dy * dy).sqrt();
        // What it points at is touched near its tip and does not count.
        let short = (length - 1.5).max(0.0) / length.max(1e-9);
        let tip = (from.0 + short * dx, from.1 + short * dy);
        let crossed = self.ink.iter().filter(|ink| match ink {
            Ink::Line(a, b, _) => cross(*a, *b, from, tip),
            Ink::Solid(solid) => solid.is_crossed(from, tip),
        });
        Some(length + 6.0 * crossed.count() as f64 + ALONG * self.lines_along(from, target) as f64)
    }

    /// How large the drawing is, with its margin.
    pub(super) fn extent(&self) -> Rect {
        let mut all = self.bounds.unwrap_or(Rect::new(0.0, 0.0, 10.0, 10.0));
        for ink in &self.ink {
            all = all.joined(ink.bounds());
        }
        for placed in &self.placed {
            all = all.joined(placed.rect);
        }
        all.grown(MARGIN)
    }

    /// The finished file and its size \[mm\].
    pub(super) fn finish(mut self, title: &str, description: &str, note: &str) -> (String, f64, f64) {
        self.settle();
        let mut extent = self.extent();
        let left_out = if self.left_out {
            " Labels that found no room are left out."
        } else {
            ""
        };
        let note = Words::plain("").italic(&format!("{note}{left_out}"));
        let note_at = (extent.x1 - MARGIN, extent.y1 + SMALL * ASCENT);
        extent = extent.joined(Rect::new(
            note_at.0 - note.width(SMALL) - MARGIN,
            extent.y1,
            extent.x1,
            extent.y1 + SMALL + MARGIN,
        ));
        let scale = (WIDEST / (extent.x1 - extent.x0)).min(1.0);
        let round = |x: f64| libm::round(100.0 * x) / 100.0;
        let (width, height) = (
            round(scale * (extent.x1 - extent.x0)),
            round(scale * (extent.y1 - extent.y0)),
        );
        let mut svg = Svg::new(width, height);
        svg.fitted = true;
        svg.add(format_args!(
            r#"<rect width="{width}" height="{height}" fill="{WHITE}"/>"#
        ));
        svg.add(format_args!(
            r#"<g transform="scale({scale:.4}) translate({:.2} {:.2})" stroke-linejoin="round" fill="none">"#,
            -extent.x0, -extent.y0
        ));
        for layer in &self.layers {
            svg.add(format_args!("{}", layer.trim_end()));
        }
        svg.add(format_args!(
            r#"<g fill="{BLACK}" font-family="'Libertinus Serif', 'Times New Roman', Times, 'Liberation Serif', 'Nimbus Roman', 'TeX Gyre Termes', serif">"#
        ));
        for placed in self.placed.iter().chain(&self.numbers) {
            let rect = &placed.rect;
            let (x, anchor) = match placed.side {
                1 => (rect.x0, Anchor::Start),
                -1 => (rect.x1, Anchor::End),
                _ => (rect.middle().0, Anchor::Middle),
            };
            for (i, line) in placed.lines.iter().enumerate() {
                let y = rect.y0 + SIZE * (ASCENT + LEADING * i as f64);
                // A lone figure in its circle has no descender to leave room for.
                let y = if rect.y1 - rect.y0 < 2.5 {
                    rect.middle().1 + 0.34 * SIZE
                } else {
                    y
                };
                svg.text((x, y), anchor, SIZE, 0.0, line);
            }
        }
        svg.text(note_at, Anchor::End, SMALL, 0.0, &note);
        svg.add(format_args!("</g></g>"));
        (svg.finish(title, description, ""), width, height)
    }
}

/// Width and height of a text of some lines \[mm\].
pub(super) fn measure(lines: &[Words]) -> (f64, f64) {
    let width = lines.iter().map(|l| l.width(SIZE)).fold(0.0, f64::max);
    let below_first = LEADING * lines.len().saturating_sub(1) as f64;
    (width, SIZE * (ASCENT + DESCENT + below_first))
}

fn rect_at(spot: &Spot, width: f64, height: f64) -> Rect {
    let x = match spot.side {
        1 => spot.at.0,
        -1 => spot.at.0 - width,
        _ => spot.at.0 - 0.5 * width,
    };
    let y = match spot.level {
        1 => spot.at.1,
        -1 => spot.at.1 - height,
        _ => spot.at.1 - 0.5 * height,
    };
    Rect::new(x, y, x + width, y + height)
}

/// Whether a leader lies on a line for more than a millimetre.
fn runs_along((from, target): (At, At), (c, d): (At, At)) -> bool {
    let (lx, ly) = (from.0 - target.0, from.1 - target.1);
    let long = (lx * lx + ly * ly).sqrt().max(1e-9);
    let (dx, dy) = (d.0 - c.0, d.1 - c.1);
    let size = (dx * dx + dy * dy).max(1e-9);
    let on = |at: f64| {
        let (x, y) = (target.0 + at / long * lx - c.0, target.1 + at / long * ly - c.1);
        let t = ((x * dx + y * dy) / size).clamp(0.0, 1.0);
        let (ex, ey) = (x - t * dx, y - t * dy);
        ex * ex + ey * ey < 0.3 * 0.3
    };
    let steps = (long / 0.6).floor() as u32;
    (0..=steps).filter(|n| on(0.6 * f64::from(*n))).count() > 2
}

/// Whether two lines cross.
pub(super) fn cross(a: At, b: At, c: At, d: At) -> bool {
    let side = |p: At, q: At, r: At| (q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}
