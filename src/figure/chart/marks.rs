//! Points marked on the chart, with guide lines as a reader would follow them.

use super::frame::{FACTOR, Frame, REYNOLDS};
use super::place::{Point, apart};
use super::{Drawing, MARKED, colebrook};
use crate::figure::svg::Anchor;
use crate::figure::svg::Words;
use crate::hydraulics::friction::{Law, Reading, darcy};
use crate::hydraulics::regime::Limits;

/// How the chart is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// In at ε/D, along the curve until above the Reynolds number, across to f; up to the laminar line where flow is
    /// laminar.
    AtReynolds,
    /// In at ε/D and straight across to f, as if flow were fully rough.
    Across,
}

/// A point to be marked on the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Reynolds number \[–\]; of no account to [`Way::Across`].
    pub reynolds: f64,
    /// ε/D \[–\].
    pub relative_roughness: f64,
    /// How its factor is read.
    pub way: Way,
}

impl Mark {
    /// The Darcy friction factor that is read there, exactly; NaN where there is none.
    pub fn darcy_friction_factor(&self, limits: &Limits) -> f64 {
        match self.way {
            Way::AtReynolds => colebrook(self.reynolds, self.relative_roughness, limits),
            Way::Across => {
                let level = Reading {
                    law: Law::FullyRough,
                    factor: 1.0,
                };
                darcy(level, REYNOLDS.1, self.relative_roughness, limits)
            }
        }
    }

    /// Whether it lies on the chart.
    pub fn shows(&self, limits: &Limits) -> bool {
        let factor = self.darcy_friction_factor(limits);
        let along = self.way == Way::Across || (REYNOLDS.0..=REYNOLDS.1).contains(&self.reynolds);
        along && (FACTOR.0..=FACTOR.1).contains(&factor)
    }

    fn is_laminar(&self, limits: &Limits) -> bool {
        self.way == Way::AtReynolds && self.reynolds < limits.laminar_end
    }
}

/// Values that print alike are marked once.
fn distinct(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut kept: Vec<f64> = Vec::new();
    for value in values {
        let rounded = crate::quantity::round_to_figures(value, 3);
        if !kept.contains(&rounded) {
            kept.push(rounded);
        }
    }
    kept
}

fn factors(shown: &[Mark], limits: &Limits) -> Vec<f64> {
    distinct(shown.iter().map(|mark| mark.darcy_friction_factor(limits)))
}

fn roughnesses(shown: &[Mark], limits: &Limits) -> Vec<f64> {
    let turbulent = shown.iter().filter(|mark| !mark.is_laminar(limits));
    let rough = turbulent.filter(|mark| mark.relative_roughness > 0.0);
    distinct(rough.map(|mark| mark.relative_roughness))
}

/// Where the marked factors' numbers stand on the left \[mm\].
pub(super) fn factor_places(frame: &Frame, shown: &[Mark], limits: &Limits) -> Vec<f64> {
    let mut places: Vec<f64> = factors(shown, limits).iter().map(|f| frame.y(*f)).collect();
    apart(&mut places, 1.1 * frame.text);
    places
}

/// Where the marked roughnesses' numbers stand on the right \[mm\].
pub(super) fn roughness_places(frame: &Frame, shown: &[Mark], limits: &Limits) -> Vec<f64> {
    let mut places: Vec<f64> = (roughnesses(shown, limits).iter())
        .map(|rr| frame.y(colebrook(REYNOLDS.1, *rr, limits)))
        .collect();
    apart(&mut places, 1.1 * frame.text);
    places
}

impl Drawing<'_> {
    /// Guide lines, points and their numbers on the scales.
    pub(super) fn mark(&mut self, shown: &[Mark]) {
        if shown.is_empty() {
            return;
        }
        let frame = self.frame;
        let limits = self.chart.limits;
        let size = frame.text;
        self.group("guide", MARKED, 0.36, "1.6 0.9");
        let mut heads: Vec<(Point, Point)> = Vec::new();
        for mark in shown {
            let factor = mark.darcy_friction_factor(&limits);
            let y = frame.y(factor);
            let to_left = (frame.left, y);
            heads.push((to_left, (-1.0, 0.0)));
            if mark.way == Way::Across {
                self.kept_path(vec![(frame.right, y), to_left]);
                heads.push(((frame.right - 1.0 * size, y), (-1.0, 0.0)));
                continue;
            }
            let at = frame.at(mark.reynolds, factor);
            if !mark.is_laminar(&limits) {
                let rr = mark.relative_roughness;
                let mut along = self.points(mark.reynolds, REYNOLDS.1, |re| colebrook(re, rr, &limits));
                along.reverse();
                if let Some(start) = along.first() {
                    heads.push(((start.0 - 1.0 * size, start.1), (-1.0, 0.0)));
                }
                self.kept_path(along);
            }
            self.kept_path(vec![(at.0, frame.bottom), at]);
            self.kept_path(vec![at, to_left]);
            heads.push(((at.0, frame.bottom - 1.0 * size), (0.0, -1.0)));
        }
        self.end();
        self.svg.add(format_args!(r#"<g class="read" fill="{MARKED}">"#));
        for (tip, (dx, dy)) in heads {
            let (long, half) = (0.95 * size, 0.26 * size);
            let foot = (tip.0 - dx * long, tip.1 - dy * long);
            let (a, b) = (
                (foot.0 - dy * half, foot.1 + dx * half),
                (foot.0 + dy * half, foot.1 - dx * half),
            );
            self.svg.add(format_args!(
                r#"<path d="M{:.3} {:.3}L{:.3} {:.3}L{:.3} {:.3}Z"/>"#,
                tip.0, tip.1, a.0, a.1, b.0, b.1
            ));
        }
        self.end();
        let ring = 0.42 * size;
        self.svg.add(format_args!(
            r##"<g class="ring" fill="#fff" stroke="{MARKED}" stroke-width="{:.3}">"##,
            0.15 * size
        ));
        for mark in shown.iter().filter(|mark| mark.way == Way::AtReynolds) {
            let (x, y) = frame.at(mark.reynolds, mark.darcy_friction_factor(&limits));
            self.svg.ring(x, y, ring, "l");
            let (left, right, top, bottom) = (x - ring, x + ring, y - ring, y + ring);
            let about = vec![
                (left, top),
                (right, top),
                (right, bottom),
                (left, bottom),
                (left, top),
            ];
            self.lines.push(about);
        }
        self.end();
        self.numbers_of_marks(shown);
    }

    fn numbers_of_marks(&mut self, shown: &[Mark]) {
        let frame = self.frame;
        let limits = self.chart.limits;
        let size = frame.text;
        let mut leaders: Vec<[Point; 2]> = Vec::new();
        let factors = factors(shown, &limits);
        for (factor, place) in factors.iter().zip(factor_places(&frame, shown, &limits)) {
            let digits = if *factor >= 0.1 {
                3
            } else if *factor >= 0.01 {
                4
            } else {
                5
            };
            let words = Words::plain(self.number(&format!("{factor:.digits$}")));
            let at = (frame.left - 0.5 * size, place + 0.33 * size);
            self.label_in(MARKED, at, Anchor::End, size, words);
            leaders.push([(frame.left, frame.y(*factor)), (frame.left - 0.4 * size, place)]);
        }
        let ratios = roughnesses(shown, &limits);
        for (rr, place) in ratios.iter().zip(roughness_places(&frame, shown, &limits)) {
            let words = self.roughness(*rr);
            let at = (frame.right + 0.9 * size, place + 0.33 * size);
            self.label_in(MARKED, at, Anchor::Start, size, words);
            let end = frame.y(colebrook(REYNOLDS.1, *rr, &limits));
            leaders.push([(frame.right, end), (frame.right + 0.8 * size, place)]);
        }
        let at_reynolds = shown.iter().filter(|mark| mark.way == Way::AtReynolds);
        let numbers = distinct(at_reynolds.map(|mark| mark.reynolds));
        let words: Vec<Words> = numbers.iter().map(|re| self.power_of_ten(*re, true)).collect();
        let widest = words.iter().map(|words| words.width(size)).fold(0.0, f64::max);
        let mut places: Vec<f64> = numbers.iter().map(|re| frame.x(*re)).collect();
        apart(&mut places, widest + 0.5 * size);
        for (words, place) in words.into_iter().zip(places) {
            let at = (place.max(frame.left), frame.bottom + 2.65 * size);
            self.label_in(MARKED, at, Anchor::Middle, size, words);
        }
        self.group("leader", MARKED, 0.2, "");
        for leader in leaders {
            self.path(&leader);
        }
        self.end();
    }
}
