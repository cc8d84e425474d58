//! One pipe by itself: a main that leaks, a main that ages, flow seen across a pipe, a capillary.

use super::ends::cut;
use super::sheet::{At, BLACK, GREY, Layer, Pen, Rect, Sheet, about, spot};
use super::symbols;
use super::words::{Say, is_nought, name, name_within, number, side_by_side};
use crate::bank::system::Value;
use crate::bank::system::ageing::AgeingSystem;
use crate::bank::system::leak::{GaugeReading, LeakSystem};
use crate::bank::system::profile::{ProfileDrive, ProfileMotion, ProfileSystem};
use crate::figure::svg::Words;

const EXTENSION: Pen = Pen {
    colour: GREY,
    ..Pen::THIN
};
const FLOW: Pen = Pen {
    width: 0.5,
    ..Pen::THIN
};

/// Draws a main that leaks between two gauges.
pub(super) fn leak(system: &LeakSystem, inside: &'static str, say: Say<'_>) -> Sheet {
    let mut sheet = Sheet::new(163.0, inside);
    let (from, to, bore) = (26.0, 137.0, 5.0);
    sheet.pipe(&[(from - 14.0, 0.0), (to + 14.0, 0.0)], bore);
    cut(&mut sheet, (from - 14.0, 0.0), bore);
    cut(&mut sheet, (to + 14.0, 0.0), bore);
    let shows_height = !(is_nought(&system.start.elevation) && is_nought(&system.end.elevation));
    let reading = |sheet: &mut Sheet, gauge: &GaugeReading, x: f64, number: &str| {
        symbols::gauge(sheet, (x, -0.5 * bore));
        let mut lines = gauge.name.as_deref().map(name).unwrap_or_default();
        lines.push(say.equal("p", number, &gauge.pressure));
        if shows_height {
            lines.push(say.equal("z", number, &gauge.elevation));
        }
        let rect = Rect::new(x - 2.8, -0.5 * bore - 9.0, x + 2.8, -0.5 * bore);
        sheet.label(lines, about(rect), (x, -8.0));
        sheet.station((x, 0.5 * bore + 4.2), number);
        sheet.line(&[(x, -0.5 * bore), (x, 0.5 * bore + 1.8)], Pen::DASHED);
    };
    reading(&mut sheet, &system.start, from, "1");
    reading(&mut sheet, &system.end, to, "2");
    for (x, number, value) in [
        (from + 7.0, "1", &system.start.flow),
        (to - 16.0, "2", &system.end.flow),
    ] {
        sheet.arrow((x, 0.0), (x + 9.0, 0.0), FLOW, 2.6);
        let rect = Rect::new(x, -0.5 * bore, x + 9.0, 0.5 * bore);
        sheet.label(vec![say.equal("Q", number, value)], about(rect), (x + 4.5, 0.0));
    }
    let share = match (number(&system.distance), number(&system.length)) {
        (Some(x), Some(l)) if l > 0.0 => (x / l).clamp(0.0, 1.0),
        _ => 0.45,
    };
    // Clear of the gauges and of what stands beside them, however near the leak is.
    let x = from + (to - from) * share.clamp(0.2, 0.8);
    let wall = 0.5 * bore;
    sheet.line_in(
        Layer::Symbol,
        &[
            (x - 0.9, wall + 0.3),
            (x - 0.2, wall - 0.9),
            (x + 0.2, wall + 0.1),
            (x + 0.9, wall - 0.7),
        ],
        Pen {
            width: 0.6,
            ..Pen::THICK
        },
    );
    for (dx, long) in [(-2.4, 5.0), (0.0, 6.5), (2.4, 5.0)] {
        let pen = Pen {
            dash: "1.1 0.7",
            width: 0.4,
            ..Pen::THIN
        };
        sheet.line(&[(x + 0.3 * dx, wall + 0.8), (x + dx, wall + long)], pen);
    }
    let spray = Rect::new(x - 2.6, wall, x + 2.6, wall + 7.0);
    sheet.label(
        vec![Words::plain("leak")],
        vec![spot(x + 4.0, wall + 4.5, 1, 0), spot(x - 4.0, wall + 4.5, -1, 0)],
        (x, wall + 5.0),
    );
    let (first, second) = (spray.y1 + 6.0, spray.y1 + 15.0);
    for at in [from, to] {
        sheet.line(&[(at, wall + 7.2), (at, second + 1.5)], EXTENSION);
    }
    sheet.line(&[(x, spray.y1 + 0.8), (x, first + 1.5)], EXTENSION);
    sheet.dimension(
        (from, first),
        (x, first),
        vec![say.equal("x", "", &system.distance)],
    );
    sheet.dimension(
        (from, second),
        (to, second),
        vec![say.equal("L", "", &system.length)],
    );
    let mut lines = name(&system.pipe);
    lines.push(side_by_side(
        say.equal("D", "", &system.diameter),
        &say.equal("ε", "", &system.roughness),
    ));
    let mut spots = Vec::new();
    for at in [0.5 * (from + to), x + 22.0, x - 22.0] {
        spots.push(spot(at, -wall - 1.2, 0, -1));
    }
    spots.extend(about(Rect::new(from + 25.0, -wall, to - 25.0, wall)));
    sheet.label(lines, spots, (0.5 * (from + to), -wall));
    sheet
}

/// Draws the wall of a pipe when new, at a test and on a later day.
pub(super) fn ageing(system: &AgeingSystem, inside: &'static str, say: Say<'_>) -> Sheet {
    let mut sheet = Sheet::new(163.0, inside);
    let (long, half) = (34.0, 9.0);
    let ages: [(&str, f64, Vec<Words>); 3] = [
        ("new", 0.0, vec![say.equal("ε", "new", &system.new)]),
        (
            "at the test",
            0.9,
            vec![
                say.equal("t", "test", &system.age),
                say.equal("Q", "", &system.flow),
                say.equal("h", "f,test", &system.head_loss),
            ],
        ),
        ("later", 1.8, vec![say.equal("t", "later", &system.later)]),
    ];
    for (n, (when, rough, says)) in ages.into_iter().enumerate() {
        let x = 27.0 + 47.0 * n as f64;
        // Grains of one size, each a little aside from where the last one was.
        let wall = |side: f64| -> Vec<At> {
            (0..=34)
                .map(|i| {
                    let grain = 0.5 + 0.5 * libm::sin(2.7 * f64::from(i) + side);
                    let up = if i % 2 == 0 { 0.0 } else { 0.45 + 0.55 * grain };
                    (x + long * f64::from(i) / 34.0, side * (half - rough * up))
                })
                .collect()
        };
        let (upper, lower) = (wall(-1.0), wall(1.0));
        let area: Vec<At> = upper.iter().copied().chain(lower.iter().rev().copied()).collect();
        sheet.wash(&area, inside);
        for (side, inner) in [(-1.0, &upper), (1.0, &lower)] {
            let mut metal = inner.clone();
            metal.push((x + long, side * (half + 1.6)));
            metal.push((x, side * (half + 1.6)));
            sheet.outline(
                Layer::Line,
                &metal,
                Pen {
                    width: 0.25,
                    ..Pen::THICK
                }
                .filled("#b5b5b5"),
                true,
            );
        }
        sheet.arrow((x + 12.0, 0.0), (x + 22.0, 0.0), FLOW, 2.8);
        let (middle, low) = (x + 0.5 * long, half + 2.6);
        let rect = Rect::new(x, -half - 1.6, x + long, half + 1.6);
        let mut lines = vec![Words::plain(when)];
        lines.extend(says);
        let mut spots = vec![spot(middle, low, 0, 1)];
        spots.extend(about(rect));
        sheet.label(lines, spots, (middle, half));
        if n > 0 {
            sheet.arrow((x - 11.0, 0.0), (x - 2.5, 0.0), Pen::THIN, 2.2);
        }
    }
    for side in [-half, half] {
        sheet.line(&[(26.0, side), (18.5, side)], EXTENSION);
    }
    sheet.upright(20.0, half, -half, vec![say.equal("D", "", &system.diameter)]);
    let mut lines = name_within(&system.pipe, 60.0);
    lines.push(say.equal("L", "", &system.length));
    lines.push(Words::plain(format!(
        "growth of roughness: {}",
        say.value(&system.growth)
    )));
    let spots = vec![spot(91.0, -half - 4.0, 0, -1), spot(91.0, -half - 8.0, 0, -1)];
    sheet.label(lines, spots, (91.0, -half));
    sheet
}

/// Draws flow seen across a pipe.
pub(super) fn profile(system: &ProfileSystem, inside: &'static str, say: Say<'_>) -> Sheet {
    match (&system.drive, &system.motion) {
        (ProfileDrive::Head(head), ProfileMotion::Collected { volume, time }) => {
            capillary(system, head, volume, time, inside, say)
        }
        _ => across(system, inside, say),
    }
}

fn across(system: &ProfileSystem, inside: &'static str, say: Say<'_>) -> Sheet {
    let mut sheet = Sheet::new(163.0, inside);
    let (from, to, half) = (24.0, 142.0, 13.0);
    sheet.wash(&[(from, -half), (to, -half), (to, half), (from, half)], inside);
    for side in [-half, half] {
        sheet.line(&[(from, side), (to, side)], Pen::THICK);
    }
    cut(&mut sheet, (from, 0.0), 2.0 * half);
    cut(&mut sheet, (to, 0.0), 2.0 * half);
    sheet.line(&[(from + 3.0, 0.0), (to - 3.0, 0.0)], Pen::AXIS);
    // A curve of no regime: neither the parabola nor a power law.
    let (base, reach) = (72.0, 26.0);
    let speed = |s: f64| {
        let s = s.abs();
        reach * (1.0 - s * s * s)
    };
    sheet.line(&[(base, -half), (base, half)], Pen::THIN);
    let curve: Vec<At> = (-20..=20)
        .map(|i| f64::from(i) / 20.0)
        .map(|s| (base + speed(s), s * half))
        .collect();
    sheet.line(
        &curve,
        Pen {
            width: 0.35,
            ..Pen::THIN
        },
    );
    for s in [-0.8, -0.6, -0.4, -0.2, 0.0, 0.2, 0.4, 0.6, 0.8] {
        sheet.arrow((base, s * half), (base + speed(s), s * half), Pen::THIN, 2.0);
    }
    for side in [-half, half] {
        sheet.line(&[(from - 1.6, side), (from - 6.5, side)], EXTENSION);
    }
    sheet.upright(
        from - 5.0,
        half,
        -half,
        vec![say.equal("D", "", &system.diameter)],
    );
    let tip = (base + reach, 0.0);
    match &system.motion {
        ProfileMotion::Centre(value) => {
            let mut spots = vec![spot(tip.0 + 1.5, -1.2, 1, -1), spot(tip.0 + 1.5, 1.2, 1, 1)];
            spots.extend(about(Rect::new(tip.0 - 1.0, -1.0, tip.0 + 1.0, 1.0)));
            sheet.label(vec![say.equal("u", "max", value)], spots, tip);
        }
        motion => {
            let words = match motion {
                ProfileMotion::Flow(value) => vec![say.equal("Q", "", value)],
                ProfileMotion::Mean(value) | ProfileMotion::Centre(value) => vec![say.equal("V", "", value)],
                ProfileMotion::Collected { volume, time } => {
                    vec![say.equal("Vol", "", volume), say.equal("t", "", time)]
                }
            };
            sheet.arrow((from + 8.0, -4.0), (from + 20.0, -4.0), FLOW, 3.0);
            let rect = Rect::new(from + 8.0, -5.0, from + 20.0, -3.0);
            sheet.label(words, about(rect), (from + 14.0, -4.0));
        }
    }
    if let Some(radius) = &system.radius {
        let share = match (number(radius), number(&system.diameter)) {
            (Some(r), Some(d)) if d > 0.0 => (2.0 * r / d).clamp(0.15, 0.95),
            _ => 0.5,
        };
        let (x, y) = (to - 18.0, share * half);
        sheet.line(&[(base + speed(share) + 1.0, y), (x + 1.5, y)], Pen::DASHED);
        sheet.upright(x, 0.0, y, vec![say.equal("r", "", radius)]);
    }
    let mut lines = name(&system.pipe);
    if let Some(roughness) = &system.roughness {
        lines.push(say.equal("ε", "", roughness));
    }
    if let Some(n) = &system.exponent {
        lines.push(say.equal("n", "", n));
    }
    lines.extend(corrections(system, say));
    let wall = Rect::new(base - 20.0, -half, base + 20.0, half);
    let drive = match &system.drive {
        ProfileDrive::PressureDrop(value) => say.equal("Δp", "", value),
        ProfileDrive::Head(value) => say.equal("h", "", value),
        ProfileDrive::WallShear(value) => say.equal("τ", "w", value),
    };
    if let Some(length) = &system.length {
        let (a, b, low) = (from + 6.0, to - 8.0, half + 8.0);
        for x in [a, b] {
            sheet.line(&[(x, half + 0.8), (x, low + 1.5)], EXTENSION);
        }
        sheet.dimension((a, low), (b, low), vec![say.equal("L", "", length)]);
        match &system.drive {
            ProfileDrive::PressureDrop(_) | ProfileDrive::Head(_) => {
                // What falls along the length stands between two taps.
                let high = -half - 8.0;
                let pen = Pen {
                    width: 0.35,
                    ..Pen::THIN
                };
                sheet.line(&[(a, -half), (a, high), (b, high), (b, -half)], pen);
                let middle = 0.5 * (a + b);
                sheet.circle(
                    (middle, high),
                    3.0,
                    Layer::Symbol,
                    Pen {
                        width: 0.35,
                        ..Pen::THICK
                    }
                    .filled("#fff"),
                );
                let tip = (middle + 1.4, high - 1.7);
                sheet.line_in(Layer::Symbol, &[(middle - 0.7, high + 0.8), tip], Pen::THIN);
                sheet.head(Layer::Symbol, tip, (1.4, -1.7), 1.5, BLACK);
                sheet.label(
                    vec![drive],
                    about(Rect::new(middle - 3.0, high - 3.0, middle + 3.0, high + 3.0)),
                    (middle, high),
                );
            }
            ProfileDrive::WallShear(_) => shear(&mut sheet, drive, half, from),
        }
    } else {
        match &system.drive {
            ProfileDrive::WallShear(_) => shear(&mut sheet, drive, half, from),
            _ => lines.push(drive),
        }
    }
    let mut spots = vec![
        spot(0.25 * (3.0 * from + to), half + 1.5, 0, 1),
        spot(0.25 * (from + 3.0 * to), -half - 1.5, 0, -1),
        spot(0.5 * (from + to), half + 12.0, 0, 1),
    ];
    spots.extend(about(wall));
    sheet.label(lines, spots, (base - 14.0, -half));
    sheet
}

fn corrections(system: &ProfileSystem, say: Say<'_>) -> Vec<Words> {
    let mut lines = Vec::new();
    if let Some(c) = &system.end_correction {
        lines.push(say.equal("c", "", c));
    }
    if let Some(m) = &system.kinetic_correction {
        lines.push(say.equal("m", "", m));
    }
    lines
}

fn shear(sheet: &mut Sheet, words: Words, half: f64, from: f64) {
    let (x, y) = (from + 16.0, half - 1.4);
    sheet.arrow((x + 10.0, y), (x, y), FLOW, 2.4);
    sheet.label(
        vec![words],
        about(Rect::new(x, y - 0.8, x + 10.0, y + 0.8)),
        (x + 5.0, y),
    );
}

/// A capillary that a vessel feeds and that drips into a measuring cylinder.
fn capillary(
    system: &ProfileSystem,
    head: &Value,
    volume: &Value,
    time: &Value,
    inside: &'static str,
    say: Say<'_>,
) -> Sheet {
    let mut sheet = Sheet::new(163.0, inside);
    let (left, right) = (30.0, 54.0);
    let (surface, axis, floor) = (0.0, 27.0, 34.0);
    let bore = 1.8;
    sheet.wash(
        &[(left, surface), (right, surface), (right, floor), (left, floor)],
        inside,
    );
    sheet.line(
        &[
            (left, surface - 6.0),
            (left, floor),
            (right, floor),
            (right, axis + 0.5 * bore),
        ],
        Pen::THICK,
    );
    sheet.line(&[(right, axis - 0.5 * bore), (right, surface - 6.0)], Pen::THICK);
    sheet.line(&[(left, surface), (right, surface)], Pen::THIN);
    symbols::surface(&mut sheet, (left + 8.0, surface));
    let end = 116.0;
    sheet.pipe(&[(right - 0.2, axis), (end, axis)], bore);
    // The cylinder with what has been collected, and drops on their way.
    let (a, b, top, base, level) = (end - 3.0, end + 11.0, axis + 8.0, axis + 34.0, axis + 20.0);
    sheet.wash(&[(a, level), (b, level), (b, base), (a, base)], inside);
    sheet.line(&[(a, top), (a, base), (b, base), (b, top)], Pen::THICK);
    sheet.line(&[(a, level), (b, level)], Pen::THIN);
    for i in 1..6 {
        let y = base - 4.0 * f64::from(i);
        sheet.line(&[(a, y), (a + 2.4, y)], Pen::THIN);
    }
    for (y, r) in [(axis + 2.4, 0.7), (axis + 6.0, 0.8), (axis + 11.0, 0.8)] {
        sheet.circle(
            (end + 0.8, y),
            r,
            Layer::Line,
            Pen {
                width: 0.2,
                ..Pen::THIN
            }
            .filled(inside),
        );
    }
    let x = left - 7.0;
    for y in [surface, axis] {
        sheet.line(&[(left - 1.0, y), (x - 1.5, y)], EXTENSION);
    }
    sheet.line(&[(left, axis), (right, axis)], Pen::AXIS);
    sheet.upright(x, axis, surface, vec![say.equal("h", "", head)]);
    if let Some(length) = &system.length {
        let low = axis + 8.0;
        sheet.line(&[(right, floor + 0.8), (right, low + 1.5)], EXTENSION);
        sheet.line(&[(end - 0.3, axis + 1.6), (end - 0.3, low + 1.5)], EXTENSION);
        sheet.dimension((right, low), (end - 0.3, low), vec![say.equal("L", "", length)]);
    }
    let mut lines = name(&system.pipe);
    lines.push(say.equal("D", "", &system.diameter));
    if let Some(roughness) = system.roughness.as_ref().filter(|r| !is_nought(r)) {
        lines.push(say.equal("ε", "", roughness));
    }
    lines.extend(corrections(system, say));
    if let Some(radius) = &system.radius {
        lines.push(say.equal("r", "", radius));
    }
    let middle = 0.5 * (right + end);
    sheet.label(lines, vec![spot(middle, axis - 2.0, 0, -1)], (middle, axis));
    let collected = vec![Words::plain(format!(
        "{} in {}",
        say.value(volume),
        say.value(time)
    ))];
    let cylinder = Rect::new(a, top, b, base);
    let mut spots = vec![
        spot(b + 2.0, 0.5 * (level + base), 1, 0),
        spot(0.5 * (a + b), base + 1.2, 0, 1),
    ];
    spots.extend(about(cylinder));
    sheet.label(collected, spots, (b, level + 4.0));
    if system.asks_viscosity() {
        let words = Words::plain("").italic("μ").upright(" = ?");
        sheet.label(
            vec![words],
            vec![spot(0.5 * (left + right), 0.5 * axis, 0, 0)],
            (left + 8.0, 12.0),
        );
    }
    sheet
}
