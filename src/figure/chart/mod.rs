//! The friction chart: Darcy's friction factor over the Reynolds number, both on logarithmic scales.

mod frame;
mod marks;
mod place;

pub use frame::Sheet;
pub use marks::{Mark, Way};

use super::svg::{Anchor, Svg, Words};
use crate::constants::policy;
use crate::hydraulics::friction::{Reading, darcy};
use crate::hydraulics::regime::Limits;
use crate::hydraulics::walls::{FOOT, WALLS};
use crate::quantity::{DecimalMark, round_to_figures};
use frame::{FACTOR, Frame, REYNOLDS, Weight};
use place::{Area, Point};

/// What a friction chart shows, and on which sheet.
#[derive(Debug, Clone, Copy)]
pub struct Chart<'a> {
    /// The sheet that it fills.
    pub sheet: Sheet,
    /// Points to be marked; those that lie off the chart are left out.
    pub marks: &'a [Mark],
    /// How its numbers are written.
    pub decimal_mark: DecimalMark,
    /// Where the critical zone and fully rough flow begin.
    pub limits: Limits,
}

impl Chart<'static> {
    /// The chart on a sheet, without marks, with decimal points and the usual limits.
    pub fn plain(sheet: Sheet) -> Self {
        Self {
            sheet,
            marks: &[],
            decimal_mark: DecimalMark::Point,
            limits: Limits::DEFAULT,
        }
    }
}

/// Relative roughnesses that may have a curve, the roundest first; each is drawn where there is room for its number.
const FAMILY: [f64; 26] = [
    0.05, 0.01, 0.001, 1e-4, 1e-5, 1e-6, 0.02, 0.002, 2e-4, 2e-5, 2e-6, 5e-5, 5e-6, 0.03, 0.004, 4e-4, 0.006,
    6e-4, 0.015, 0.008, 8e-4, 0.04, 0.003, 0.0015, 3e-4, 1.5e-4,
];

/// Points of a curve in a decade of the Reynolds number: straight lines between them leave the curve by 0.01 % at most.
const POINTS: f64 = 24.0;

/// Faces of like width; `letters` knows the first two.
const FONTS: &str =
    "'Libertinus Serif','Times New Roman','Liberation Serif','Nimbus Roman','STIX Two Text',Times,serif";

const PAPER: &str = "#fff";
const ZONE: &str = "#ece5d3";
const INK: &str = "#111";
const CURVE: &str = "#143a66";
const LIMIT: &str = "#8a3b12";
const MARKED: &str = "#b3261e";

/// What the chart is called.
pub const CHART_TITLE: &str = "Friction chart";
/// What the chart shows, for those who can't see it.
pub const CHART_DESCRIPTION: &str = "Darcy friction factor over the Reynolds number for a family of relative roughnesses, by \
                                     the equation of Colebrook and White.";

/// The friction chart as SVG 1.1: presentation attributes alone, no style sheet and no identifiers, so that several can
/// stand in one page.
pub fn friction_chart(chart: &Chart) -> String {
    Drawing::new(chart).finish()
}

/// What the chart shows: the laminar law where flow is laminar, else Colebrook and White.
fn colebrook(reynolds: f64, relative_roughness: f64, limits: &Limits) -> f64 {
    darcy(Reading::EXACT, reynolds, relative_roughness, limits)
}

struct Drawing<'a> {
    chart: &'a Chart<'a>,
    frame: Frame,
    svg: Svg,
    /// What no label may lie on.
    lines: Vec<Vec<Point>>,
    /// The upper end of the limit of fully rough flow.
    limit_end: Option<Point>,
    /// Labels, drawn last.
    labels: Vec<(Point, Anchor, f64, f64, Words, &'static str)>,
}

impl<'a> Drawing<'a> {
    fn new(chart: &'a Chart<'a>) -> Self {
        let frame = Frame::new(chart.sheet, !chart.marks.is_empty());
        let (width, height) = chart.sheet.size();
        let mut svg = Svg::new(width, height);
        svg.fitted = true;
        Self {
            chart,
            frame,
            svg,
            lines: Vec::new(),
            limit_end: None,
            labels: Vec::new(),
        }
    }

    fn finish(mut self) -> String {
        self.draw();
        self.write_labels();
        self.svg.finish(CHART_TITLE, CHART_DESCRIPTION, "")
    }

    /// Draws everything but the labels, which it places.
    fn draw(&mut self) {
        let (width, height) = self.chart.sheet.size();
        let shown = self.shown_marks();
        let taken: Vec<f64> = marks::factor_places(&self.frame, &shown, &self.chart.limits);
        let numbered = self.frame.factor_numbers(&taken);
        self.svg.add(format_args!(
            r##"<rect width="{width}" height="{height}" fill="#fff"/>"##
        ));
        self.zone();
        self.grid(&numbered);
        self.curves();
        self.mark(&shown);
        self.frame_line();
        self.numbers(&numbered);
        self.scale_of_roughness(&shown);
        self.names();
        if self.frame.sheet != Sheet::Embedded {
            self.heading();
        }
        if self.has_key() {
            self.key();
        }
    }

    // ---- drawing ----

    /// Lines of one kind: stroke, width in parts of the type size, and dashes in millimetres.
    fn group(&mut self, name: &str, stroke: &str, width: f64, dashes: &str) {
        let width = width * self.frame.text / 2.8;
        let dashes = match dashes {
            "" => String::new(),
            on_off => format!(r#" stroke-dasharray="{on_off}""#),
        };
        self.svg.add(format_args!(
            r#"<g class="{name}" fill="none" stroke="{stroke}" stroke-width="{width:.3}" stroke-linejoin="round"{dashes}>"#
        ));
    }

    fn end(&mut self) {
        self.svg.add(format_args!("</g>"));
    }

    fn path(&mut self, points: &[Point]) {
        self.svg.line(points, "l");
    }

    /// A line that no label may lie on.
    fn kept_path(&mut self, points: Vec<Point>) {
        self.path(&points);
        self.lines.push(points);
    }

    fn label(&mut self, at: Point, anchor: Anchor, size: f64, turn: f64, words: Words) {
        self.labels.push((at, anchor, size, turn, words, INK));
    }

    /// A label over the grid, which is wiped away behind it.
    fn label_on(&mut self, ground: &str, at: Point, anchor: Anchor, turn: f64, words: Words) {
        let size = self.frame.text;
        let [a, b, c, d] = Area::of_text(at, anchor, size, turn, &words, 0.08 * size).0;
        self.svg.add(format_args!(
            r#"<path fill="{ground}" d="M{:.3} {:.3}L{:.3} {:.3}L{:.3} {:.3}L{:.3} {:.3}Z"/>"#,
            a.0, a.1, b.0, b.1, c.0, c.1, d.0, d.1
        ));
        self.label(at, anchor, size, turn, words);
    }

    fn label_in(&mut self, colour: &'static str, at: Point, anchor: Anchor, size: f64, words: Words) {
        self.labels.push((at, anchor, size, 0.0, words, colour));
    }

    fn write_labels(&mut self) {
        let labels = std::mem::take(&mut self.labels);
        for colour in [INK, MARKED] {
            if !labels.iter().any(|label| label.5 == colour) {
                continue;
            }
            self.svg
                .add(format_args!(r#"<g font-family="{FONTS}" fill="{colour}">"#));
            for (at, anchor, size, turn, words, own) in &labels {
                if *own == colour {
                    self.svg.text(*at, *anchor, *size, *turn, words);
                }
            }
            self.end();
        }
    }

    fn shown_marks(&self) -> Vec<Mark> {
        let shows = |mark: &&Mark| mark.shows(&self.chart.limits);
        self.chart.marks.iter().filter(shows).copied().collect()
    }

    fn zone(&mut self) {
        let limits = &self.chart.limits;
        let (from, to) = (
            self.frame.x(limits.laminar_end),
            self.frame.x(limits.turbulent_start),
        );
        let (top, height) = (self.frame.top, self.frame.bottom - self.frame.top);
        let width = to - from;
        self.svg.add(format_args!(
            r#"<rect class="zone" x="{from:.3}" y="{top:.3}" width="{width:.3}" height="{height:.3}" fill="{ZONE}"/>"#
        ));
    }

    fn grid(&mut self, numbered: &[u32]) {
        let frame = self.frame;
        let across = frame.factor_lines(numbered);
        let upright = frame.reynolds_lines();
        for (weight, name, stroke, width) in [
            (Weight::Fine, "fine", "#c9d1da", 0.09),
            (Weight::Middle, "middle", "#a7b3c0", 0.13),
            (Weight::Main, "main", "#7f8c9b", 0.17),
            (Weight::Decade, "decade", "#566475", 0.24),
        ] {
            let mut lines = Vec::new();
            for (reynolds, _) in upright.iter().filter(|line| line.1 == weight) {
                let x = frame.x(*reynolds);
                lines.push([(x, frame.top), (x, frame.bottom)]);
            }
            for (factor, _) in across.iter().filter(|line| line.1 == weight) {
                let y = frame.y(1e-4 * f64::from(*factor));
                lines.push([(frame.left, y), (frame.right, y)]);
            }
            self.group(name, stroke, width, "");
            self.svg.lines(&lines, "l");
            self.end();
        }
    }

    fn frame_line(&mut self) {
        let Frame {
            left,
            right,
            top,
            bottom,
            ..
        } = self.frame;
        self.group("frame", INK, 0.35, "");
        self.kept_path(vec![
            (left, top),
            (right, top),
            (right, bottom),
            (left, bottom),
            (left, top),
        ]);
        self.end();
    }

    // ---- curves ----

    /// The relative roughnesses that have a curve on this sheet, from the smoothest.
    fn family(&self) -> Vec<f64> {
        let end = |rr: f64| self.frame.y(colebrook(REYNOLDS.1, rr, &self.chart.limits));
        let mut places = vec![end(0.0)];
        let mut chosen = Vec::new();
        for rr in FAMILY {
            let y = end(rr);
            if places
                .iter()
                .all(|other| (other - y).abs() >= 1.02 * self.frame.text)
            {
                places.push(y);
                chosen.push(rr);
            }
        }
        chosen.sort_by(f64::total_cmp);
        chosen
    }

    /// Points of a curve from one Reynolds number to another, as far as it lies within the frame.
    fn points(&self, from: f64, to: f64, factor: impl Fn(f64) -> f64) -> Vec<Point> {
        let steps = (POINTS * libm::log10(to / from)).ceil().max(1.0);
        (0..=steps as u32)
            .map(|i| from * libm::pow(to / from, f64::from(i) / steps))
            .map(|re| (re, factor(re)))
            .filter(|(_, f)| (FACTOR.0..=FACTOR.1).contains(f))
            .map(|(re, f)| self.frame.at(re, f))
            .collect()
    }

    fn curves(&mut self) {
        let limits = self.chart.limits;
        let from = limits.turbulent_start;
        // The laminar line enters through the top of the frame.
        let enters = 64.0 / FACTOR.1;
        self.group("laminar", CURVE, 0.42, "");
        let laminar = vec![
            self.frame.at(enters, colebrook(enters, 0.0, &limits)),
            self.frame.at(
                limits.laminar_end,
                colebrook(limits.laminar_end * (1.0 - 1e-12), 0.0, &limits),
            ),
        ];
        self.kept_path(laminar);
        self.end();
        self.group("smooth", CURVE, 0.42, "");
        let smooth = self.points(from, REYNOLDS.1, |re| colebrook(re, 0.0, &limits));
        self.kept_path(smooth.clone());
        self.end();
        self.group("curve", CURVE, 0.27, "");
        // Where curves run into one another only the lowest is drawn, or their lines would make a blot.
        let least = 0.11 * self.frame.text;
        let mut below = vec![smooth];
        for rr in self.family() {
            let all = self.points(from, REYNOLDS.1, |re| colebrook(re, rr, &limits));
            let near = |n: usize| {
                let back = all.len() - n;
                below.iter().any(|curve: &Vec<Point>| {
                    curve.len() >= back && curve[curve.len() - back].1 - all[n].1 < least
                })
            };
            let first = (0..all.len()).rev().find(|n| near(*n)).map_or(0, |n| n + 1);
            let apart = all[first..].to_vec();
            self.kept_path(apart.clone());
            below.push(apart);
        }
        self.end();
        self.group("limit", LIMIT, 0.3, "2 1.2");
        let limit = self.limit_line();
        self.limit_end = limit.first().copied();
        self.kept_path(limit);
        self.end();
    }

    /// Along the limit of fully rough flow `Re √f (ε/D)` is constant.
    fn limit_line(&self) -> Vec<Point> {
        let limits = &self.chart.limits;
        let steps = 160;
        (0..=steps)
            .map(|i| policy::RELATIVE_ROUGHNESS_END * libm::pow(1e-4, f64::from(i) / f64::from(steps)))
            .filter_map(|rr| {
                // A few turns settle it, since f hardly depends on Re here.
                let mut reynolds = REYNOLDS.1;
                for _ in 0..20 {
                    let factor = colebrook(reynolds.max(limits.turbulent_start), rr, limits);
                    reynolds = limits.fully_rough_start / (rr * factor.sqrt());
                }
                let shown = (limits.turbulent_start..=REYNOLDS.1).contains(&reynolds);
                shown.then(|| self.frame.at(reynolds, colebrook(reynolds, rr, limits)))
            })
            .collect()
    }

    // ---- scales ----

    fn number(&self, text: &str) -> String {
        match self.chart.decimal_mark {
            DecimalMark::Point => text.to_owned(),
            DecimalMark::Comma => text.replace('.', ","),
        }
    }

    fn numbers(&mut self, numbered: &[u32]) {
        let frame = self.frame;
        let size = frame.text;
        for factor in numbered {
            let value = 1e-4 * f64::from(*factor);
            let words = Words::plain(self.number(&format!("{value:.3}")));
            self.label(
                (frame.left - 0.5 * size, frame.y(value) + 0.33 * size),
                Anchor::End,
                size,
                0.0,
                words,
            );
        }
        for decade in 3..=8 {
            let x = frame.x(libm::pow(10.0, f64::from(decade)));
            let words = Words::plain("10").raised(&decade.to_string());
            self.label(
                (x, frame.bottom + 1.25 * size),
                Anchor::Middle,
                1.1 * size,
                0.0,
                words,
            );
        }
        for (reynolds, weight) in frame.reynolds_lines() {
            if weight == Weight::Main {
                let digit = reynolds / libm::pow(10.0, libm::floor(libm::log10(reynolds)));
                let words = Words::plain(format!("{digit:.0}"));
                self.label(
                    (frame.x(reynolds), frame.bottom + 1.15 * size),
                    Anchor::Middle,
                    0.86 * size,
                    0.0,
                    words,
                );
            }
        }
    }

    /// The right-hand scale: finely divided, a number at each curve's end.
    fn scale_of_roughness(&mut self, shown: &[Mark]) {
        let frame = self.frame;
        let limits = self.chart.limits;
        let size = frame.text;
        let end = |rr: f64| frame.y(colebrook(REYNOLDS.1, rr, &limits));
        let family = self.family();
        let mut ticks = Vec::new();
        for decade in -6..=-2 {
            let power = libm::pow(10.0, f64::from(decade));
            for (from, to, fine) in [(10, 20, [1, 2, 5]), (20, 50, [2, 5, 10]), (50, 100, [5, 10, 50])] {
                let top = f64::from(to);
                // Where the spacing is least: at the end of the stretch, or at its beginning for the smoothest.
                let gap = |step: u32| {
                    let (step, low) = (f64::from(step), f64::from(from));
                    let at_end = end(power * (top - step) / 10.0) - end(power * top / 10.0);
                    at_end.min(end(power * low / 10.0) - end(power * (low + step) / 10.0))
                };
                let Some(step) = fine.into_iter().find(|step| gap(*step) >= 0.2 * size) else {
                    continue;
                };
                for tenths in (from..to).step_by(step as usize) {
                    let rr = power * f64::from(tenths) / 10.0;
                    if rr > policy::RELATIVE_ROUGHNESS_END * (1.0 + 1e-9) {
                        continue;
                    }
                    let y = end(rr);
                    let long = if tenths % 10 == 0 { 0.45 } else { 0.28 };
                    ticks.push([(frame.right, y), (frame.right + long * size, y)]);
                }
            }
        }
        for rr in &family {
            let y = end(*rr);
            ticks.push([(frame.right, y), (frame.right + 0.65 * size, y)]);
        }
        self.group("scale", INK, 0.13, "");
        self.svg.lines(&ticks, "l");
        self.end();
        let mut taken = marks::roughness_places(&frame, shown, &limits);
        for rr in std::iter::once(0.0).chain(family) {
            let y = end(rr);
            if taken.iter().any(|other| (other - y).abs() < size) {
                continue;
            }
            taken.push(y);
            let words = if rr == 0.0 {
                Words::plain("smooth")
            } else {
                self.roughness(rr)
            };
            self.label(
                (frame.right + 0.9 * size, y + 0.33 * size),
                Anchor::Start,
                size,
                0.0,
                words,
            );
        }
    }

    /// `0.0004` or, below a ten-thousandth, `4×10⁻⁵`; three figures at most.
    fn roughness(&self, value: f64) -> Words {
        let rounded = round_to_figures(value, 3);
        if rounded >= 1e-4 {
            return Words::plain(self.number(&format!("{rounded}")));
        }
        self.power_of_ten(rounded, false)
    }

    /// `1.25×10⁵`; a mantissa of one is left out, and trailing noughts are kept where `whole` says so.
    fn power_of_ten(&self, value: f64, whole: bool) -> Words {
        let exponent = libm::floor(libm::log10(value) + 1e-12);
        let mantissa = format!("{:.2}", value / libm::pow(10.0, exponent));
        let mantissa = if whole {
            mantissa.as_str()
        } else {
            mantissa.trim_end_matches('0').trim_end_matches('.')
        };
        let power = if exponent < 0.0 {
            format!("−{}", -exponent)
        } else {
            format!("{exponent}")
        };
        let ten = if mantissa == "1" {
            "10".to_owned()
        } else {
            format!("{}×10", self.number(mantissa))
        };
        Words::plain(ten).raised(&power)
    }

    // ---- words ----

    /// What stands beside the scales and within the frame.
    fn names(&mut self) {
        let frame = self.frame;
        let size = frame.text;
        let middle = 0.5 * (frame.top + frame.bottom);
        let width = self.frame.sheet.size().0;
        let factor = Words::plain("Darcy friction factor ").italic("f");
        self.label(
            (frame.edge + 1.1 * size, middle),
            Anchor::Middle,
            1.35 * size,
            90.0,
            factor,
        );
        let roughness = Words::plain("Relative roughness ")
            .italic("ε")
            .upright("/")
            .italic("D");
        self.label(
            (width - frame.edge - 0.4 * size, middle),
            Anchor::Middle,
            1.35 * size,
            90.0,
            roughness,
        );
        let reynolds = Words::plain("Reynolds number ")
            .italic("Re")
            .upright(" = ")
            .italic("VD")
            .upright("/")
            .italic("ν");
        let title_line = self.frame.sheet.size().1 - frame.edge - 0.5 * size;
        self.label(
            (0.5 * (frame.left + frame.right), title_line),
            Anchor::Middle,
            1.35 * size,
            0.0,
            reynolds,
        );

        let limits = self.chart.limits;
        // Along the laminar line, behind the line of 1000, which would run through it.
        let slope = {
            let (a, b) = (frame.at(1000.0, 0.064), frame.at(2000.0, 0.032));
            -libm::atan2(b.1 - a.1, b.0 - a.0).to_degrees()
        };
        let words = Words::plain("laminar, ")
            .italic("f")
            .upright(" = 64/")
            .italic("Re");
        let between =
            |low: f64, high: f64| (0..60).map(move |i| low * libm::pow(high / low, f64::from(i) / 60.0));
        let along: Vec<Point> = between(1080.0, limits.laminar_end)
            .chain(between(660.0, 1080.0))
            .map(|re| {
                let at = frame.at(re, 64.0 / re);
                let (sin, cos) = (libm::sin(slope.to_radians()), libm::cos(slope.to_radians()));
                // To the right of the line by half a letter.
                (at.0 - 0.55 * size * sin, at.1 - 0.55 * size * cos)
            })
            .collect();
        self.first_free(PAPER, &along, Anchor::Start, slope, words);

        // Upright within the critical zone.
        let x = 0.5 * (frame.x(limits.laminar_end) + frame.x(limits.turbulent_start)) + 0.3 * size;
        let up: Vec<Point> = (0..200)
            .map(|i| (x, frame.bottom - size - f64::from(i) * 0.5 * size))
            .collect();
        self.first_free(ZONE, &up, Anchor::Start, 90.0, Words::plain("critical zone"));

        // Below the smooth curve.
        let at = |re: f64| {
            let (a, b) = (
                frame.at(re / 1.3, colebrook(re / 1.3, 0.0, &limits)),
                frame.at(re * 1.3, colebrook(re * 1.3, 0.0, &limits)),
            );
            let turn = -libm::atan2(b.1 - a.1, b.0 - a.0).to_degrees();
            let on = frame.at(re, colebrook(re, 0.0, &limits));
            let (sin, cos) = (libm::sin(turn.to_radians()), libm::cos(turn.to_radians()));
            ((on.0 + 1.5 * size * sin, on.1 + 1.5 * size * cos), turn)
        };
        let smooth = Words::plain("smooth wall");
        let place = (0..60)
            .map(|i| at(1e5 * libm::pow(10.0, f64::from(i) / 40.0)))
            .find(|(point, turn)| self.is_free(*point, Anchor::Middle, *turn, &smooth));
        if let Some((point, turn)) = place {
            self.label_on(PAPER, point, Anchor::Middle, turn, smooth);
        }

        // Above the upper end of the limit.
        if let Some((x, y)) = self.limit_end {
            for (n, words) in ["fully rough", "right of this line"].iter().rev().enumerate() {
                let at = (x, y - 1.15 * size - 1.05 * size * n as f64);
                self.label_on(PAPER, at, Anchor::Middle, 0.0, Words::plain(*words));
            }
        }
    }

    fn is_free(&self, at: Point, anchor: Anchor, turn: f64, words: &Words) -> bool {
        let size = self.frame.text;
        let area = Area::of_text(at, anchor, size, turn, words, 0.12 * size);
        !self.lines.iter().any(|line| area.meets_line(line))
    }

    /// A label at the first of some places where it lies on no line; nowhere, where there is none.
    fn first_free(&mut self, ground: &str, places: &[Point], anchor: Anchor, turn: f64, words: Words) {
        let free = places.iter().find(|at| self.is_free(**at, anchor, turn, &words));
        if let Some(at) = free.copied() {
            self.label_on(ground, at, anchor, turn, words);
        }
    }

    fn heading(&mut self) {
        let frame = self.frame;
        let size = frame.text;
        let y = frame.top - 0.9 * size;
        self.label(
            (frame.left, y),
            Anchor::Start,
            1.7 * size,
            0.0,
            Words::plain("Friction chart"),
        );
        let by = Words::plain("computed from the equation of Colebrook and White (1939); 64/")
            .italic("Re")
            .upright(" where laminar");
        self.label((frame.right, y), Anchor::End, 0.95 * size, 0.0, by);
        let (_, height) = frame.sheet.size();
        let caution = Words::plain(policy::CAUTION);
        self.label(
            (frame.right, height - frame.edge - 0.5 * size),
            Anchor::End,
            0.75 * size,
            0.0,
            caution,
        );
    }

    // ---- key ----

    fn has_key(&self) -> bool {
        matches!(self.frame.sheet, Sheet::A3 | Sheet::A4 | Sheet::Letter)
    }

    /// Laws, how to read, and common walls, in the strip above all curves that no reader's eye crosses.
    fn key(&mut self) {
        let frame = self.frame;
        let size = 0.84 * frame.text;
        let line = 1.22 * size;
        let (left, right) = (frame.x(7.5e4), frame.right - 0.5 * size);
        let top = frame.top + 0.5 * size;
        let bottom = top + 5.55 * line;
        let (width, height) = (right - left, bottom - top);
        self.svg.add(format_args!(
            r##"<rect class="key" x="{left:.3}" y="{top:.3}" width="{width:.3}" height="{height:.3}" fill="#fff" stroke="#7f8c9b" stroke-width=".15"/>"##
        ));
        let x = left + 0.7 * size;
        let row = |n: f64| top + (1.0 + n) * line;
        let f = |words: Words| words.italic("f");
        let rows = [
            f(Words::plain("Curves: 1/√"))
                .upright(" = −2 log")
                .lowered("10")
                .upright(" [(")
                .italic("ε")
                .upright("/")
                .italic("D")
                .upright(")/3.7 + 2.51/(")
                .italic("Re")
                .upright(" √")
                .italic("f")
                .upright(")]"),
            f(Words::plain("Dashed line: ").italic("Re").upright(" √"))
                .upright(" (")
                .italic("ε")
                .upright("/")
                .italic("D")
                .upright(&format!(") = {}", self.chart.limits.fully_rough_start)),
            Words::plain("Enter at ")
                .italic("ε")
                .upright("/")
                .italic("D")
                .upright(" on the right,"),
            Words::plain("follow the curve until above ")
                .italic("Re")
                .upright(","),
            Words::plain("go straight across to the left, read ")
                .italic("f")
                .upright("."),
        ];
        for (n, words) in rows.into_iter().enumerate() {
            self.label((x, row(n as f64)), Anchor::Start, size, 0.0, words);
        }
        // Two columns of walls: name, millimetres, feet.
        let from = left + 24.0 * size;
        let column = 0.5 * (right - from);
        let half = WALLS.len().div_ceil(2);
        for (n, wall) in WALLS.iter().enumerate() {
            let x = from + column * (n / half) as f64;
            let (millimetres, feet) = (x + 0.61 * column, x + 0.94 * column);
            if n % half == 0 {
                let head = Words::plain(if n == 0 { "New walls, " } else { "" }).italic("ε");
                self.label((x, row(0.0)), Anchor::Start, size, 0.0, head);
                self.label(
                    (millimetres, row(0.0)),
                    Anchor::End,
                    size,
                    0.0,
                    Words::plain("mm"),
                );
                self.label((feet, row(0.0)), Anchor::End, size, 0.0, Words::plain("ft"));
            }
            let y = row((n % half) as f64 + 1.0);
            let name = wall.name.split(',').next().unwrap_or(wall.name);
            self.label((x, y), Anchor::Start, size, 0.0, Words::plain(name));
            let (low, high) = wall.roughness();
            for (unit, at) in [(1e-3, millimetres), (FOOT, feet)] {
                let (low, high) = (round_to_figures(low / unit, 2), round_to_figures(high / unit, 2));
                let text = if low == high {
                    format!("{low}")
                } else {
                    format!("{low}–{high}")
                };
                let words = Words::plain(self.number(&text));
                self.label((at, y), Anchor::End, size, 0.0, words);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sets of marks as worked solutions have them, and worse ones.
    fn sets_of_marks() -> Vec<Vec<Mark>> {
        let at = |reynolds: f64, relative_roughness: f64| Mark {
            reynolds,
            relative_roughness,
            way: Way::AtReynolds,
        };
        let across = |relative_roughness: f64| Mark {
            reynolds: f64::NAN,
            relative_roughness,
            way: Way::Across,
        };
        let mut sets = vec![
            Vec::new(),
            vec![
                across(0.002),
                at(1.2e5, 0.002),
                at(1.4e5, 0.002),
                at(1.41e5, 0.002),
            ],
            vec![at(1500.0, 0.01), at(3000.0, 0.0), at(4.0e3, 0.05)],
            vec![at(1.0e8, 0.0), at(9.0e7, 1e-6), across(3e-5), at(2e5, 0.0)],
            vec![across(0.05), at(640.1, 0.0), at(2.0e6, 0.015), at(4.4e4, 0.0148)],
        ];
        // A mark anywhere, from one side of the chart to the other.
        for n in 0..30 {
            let reynolds = 650.0 * libm::pow(1e8 / 650.0, f64::from(n) / 29.0);
            sets.push(vec![at(reynolds, 0.05 * libm::pow(0.8, f64::from(n * 7 % 50)))]);
        }
        sets
    }

    #[test]
    fn no_label_lies_on_another_or_on_a_curve_or_off_the_sheet() {
        for sheet in Sheet::ALL {
            let (width, height) = sheet.size();
            for marks in sets_of_marks() {
                let chart = Chart {
                    marks: &marks,
                    ..Chart::plain(sheet)
                };
                let mut drawing = Drawing::new(&chart);
                drawing.draw();
                let areas: Vec<(String, Area)> = (drawing.labels.iter())
                    .map(|(at, anchor, size, turn, words, _)| {
                        (
                            words.bare(),
                            Area::of_text(*at, *anchor, *size, *turn, words, 0.0),
                        )
                    })
                    .collect();
                assert!(areas.len() > 40, "{sheet:?}");
                for (i, (text, area)) in areas.iter().enumerate() {
                    for (other, its) in &areas[..i] {
                        assert!(
                            !area.meets(its),
                            "{sheet:?} {marks:?}: `{text}` lies on `{other}`"
                        );
                    }
                    let on_line = drawing.lines.iter().any(|line| area.meets_line(line));
                    assert!(!on_line, "{sheet:?} {marks:?}: `{text}` lies on a line");
                    for (x, y) in area.0 {
                        assert!(
                            x > 0.0 && x < width && y > 0.0 && y < height,
                            "{sheet:?}: `{text}` leaves the sheet"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn words_within_the_chart_find_room_beside_marks() {
        for sheet in Sheet::ALL {
            for marks in sets_of_marks() {
                let chart = Chart {
                    marks: &marks,
                    ..Chart::plain(sheet)
                };
                // A small figure may have no room left between several marks.
                if sheet == Sheet::Embedded && marks.len() > 1 {
                    continue;
                }
                let svg = friction_chart(&chart);
                for words in ["critical zone", "smooth wall", "laminar,", "fully rough"] {
                    assert!(svg.contains(words), "{sheet:?} {marks:?}: no `{words}`");
                }
            }
        }
    }
}
