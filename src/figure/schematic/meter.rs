//! Flow meters: the device in its pipe, its taps, and what reads the differential pressure.

use super::ends::cut;
use super::sheet::{At, BLACK, GREY, Layer, Pen, Rect, Sheet, WATER, WHITE, about, spot};
use super::words::{Say, name, number};
use crate::bank::system::meter::{Instrument, MeterSystem, PitotValues, Reading, ThrottleValues};
use crate::bank::system::{Fluid, Value};
use crate::figure::svg::Words;
use crate::hydraulics::meter::standard::{Device, Taps};

/// Ends and middle of the pipe, and half its width \[mm\].
const FROM: f64 = 30.0;
const TO: f64 = 145.0;
const MIDDLE: f64 = 86.0;
const HALF: f64 = 9.0;
/// Liquid of a manometer.
const HEAVY: &str = "#9a9a9a";

/// Draws a meter.
pub(super) fn draw(system: &MeterSystem, inside: &'static str, say: Say<'_>) -> Sheet {
    let mut sheet = Sheet::new(163.0, inside);
    let title = match &system.instrument {
        Instrument::Throttle(throttle) => device(throttle.device),
        Instrument::Pitot(pitot) if pitot.has_static_holes => "Pitot-static tube",
        Instrument::Pitot(_) => "Pitot tube and wall tapping",
    };
    let mut lines = system.name.as_deref().map_or_else(|| name(title), name);
    let taps = match &system.instrument {
        Instrument::Throttle(throttle) => {
            lines.extend(throttle_says(throttle, say));
            draw_throttle(&mut sheet, throttle, say)
        }
        Instrument::Pitot(pitot) => {
            if let Some(c) = &pitot.coefficient {
                lines.push(say.equal("C", "", c));
            }
            draw_pitot(&mut sheet, pitot, say)
        }
    };
    match &system.reading {
        Reading::Differential(value) => differential(&mut sheet, taps, vec![say.equal("Δp", "", value)]),
        Reading::Manometer {
            liquid,
            density,
            deflection,
        } => {
            let lighter = match (number(density), fluid_density(&system.surroundings.fluid)) {
                (Some(liquid), Some(fluid)) => liquid < fluid,
                _ => false,
            };
            let mut says = liquid.as_deref().map(name).unwrap_or_default();
            says.push(say.equal("ρ", "m", density));
            manometer(&mut sheet, taps, lighter, &say.equal("h", "m", deflection), says);
        }
    }
    let above = Rect::new(MIDDLE - 12.0, -HALF, MIDDLE + 12.0, HALF);
    let mut spots = Vec::new();
    for x in [MIDDLE, MIDDLE + 24.0, MIDDLE - 24.0, MIDDLE + 45.0] {
        spots.push(spot(x, -HALF - 3.0, 0, -1));
    }
    spots.extend(about(above));
    sheet.label(lines, spots, (MIDDLE, -HALF));
    sheet
}

/// What a device is called.
pub(super) fn device(device: Device) -> &'static str {
    match device {
        Device::Orifice(Taps::Corner) => "orifice plate with corner taps",
        Device::Orifice(Taps::DAndHalfD) => "orifice plate with D and D/2 taps",
        Device::Orifice(Taps::Flange) => "orifice plate with flange taps",
        Device::Isa1932Nozzle => "ISA 1932 nozzle",
        Device::LongRadiusNozzle => "long-radius nozzle",
        Device::VenturiNozzle => "Venturi nozzle",
        Device::Venturi(_) => "Venturi tube",
    }
}

/// About how dense a fluid is \[kg/m³\].
fn fluid_density(fluid: &Fluid) -> Option<f64> {
    match fluid {
        Fluid::Named { name, .. } => Some(if name.is_liquid() { 1000.0 } else { 1.2 }),
        Fluid::Given { density, .. } => number(density),
    }
}

fn throttle_says(throttle: &ThrottleValues, say: Say<'_>) -> Vec<Words> {
    let mut lines = Vec::new();
    if let Some(c) = &throttle.coefficient {
        lines.push(say.equal("C", "", c));
    }
    if let Some(p) = &throttle.upstream_pressure {
        lines.push(say.equal("p", "1", p));
    }
    if let Some(k) = &throttle.isentropic_exponent {
        lines.push(say.equal("κ", "", k));
    }
    if let Some(share) = &throttle.permanent_loss {
        lines.push(Words::plain(format!("lost for good: {} of ", say.value(share))).italic("Δp"));
    }
    lines
}

/// The pipe with its flow, up to and behind what is drawn in it.
fn pipe(sheet: &mut Sheet, upper: &[At], half: f64, diameter: Option<&Value>, flow: Words, say: Say<'_>) {
    let mirrored: Vec<At> = upper.iter().rev().map(|(x, y)| (*x, -y)).collect();
    let area: Vec<At> = upper.iter().copied().chain(mirrored.iter().copied()).collect();
    let inside = sheet.inside;
    sheet.wash(&area, inside);
    sheet.line(upper, Pen::THICK);
    sheet.line(&mirrored, Pen::THICK);
    for x in [FROM, TO] {
        cut(sheet, (x, 0.0), 2.0 * half);
    }
    sheet.line(&[(FROM + 3.0, 0.0), (FROM + 9.0, 0.0)], Pen::AXIS);
    let pen = Pen {
        width: 0.5,
        ..Pen::THIN
    };
    sheet.arrow((FROM + 10.0, 0.0), (FROM + 20.0, 0.0), pen, 3.0);
    let rect = Rect::new(FROM + 10.0, -1.0, FROM + 20.0, 1.0);
    let mut spots = vec![spot(FROM + 15.0, -1.6, 0, -1), spot(FROM + 9.0, -1.6, 1, -1)];
    spots.extend(about(rect));
    sheet.label(vec![flow], spots, (FROM + 15.0, 0.0));
    if let Some(diameter) = diameter {
        let x = FROM - 5.0;
        let pen = Pen {
            colour: GREY,
            ..Pen::THIN
        };
        for side in [-half, half] {
            sheet.line(&[(FROM - 1.5, side), (x - 1.5, side)], pen);
        }
        sheet.upright(x, half, -half, vec![say.equal("D", "", diameter)]);
    }
}

/// Draws a throttling device; gives the places of its taps, on the lower wall.
fn draw_throttle(sheet: &mut Sheet, throttle: &ThrottleValues, say: Say<'_>) -> (At, At) {
    let ratio = match (number(&throttle.throat_diameter), number(&throttle.pipe_diameter)) {
        (Some(d), Some(big)) if big > 0.0 => (d / big).clamp(0.3, 0.85),
        _ => 0.6,
    };
    let (half, thin) = (HALF, ratio * HALF);
    let m = MIDDLE;
    let flow = say.equal("Q", "", &throttle.flow);
    let straight = [(FROM, -half), (TO, -half)];
    let plate = |sheet: &mut Sheet| {
        pipe(
            sheet,
            &straight,
            half,
            Some(&throttle.pipe_diameter),
            flow.clone(),
            say,
        );
        for side in [-1.0, 1.0] {
            let corners = [
                (m - 0.6, side * (half + 2.4)),
                (m + 0.6, side * (half + 2.4)),
                (m + 0.6, side * (thin + 0.6)),
                (m - 0.6, side * thin),
            ];
            sheet.outline(
                Layer::Symbol,
                &corners,
                Pen {
                    width: 0.2,
                    ..Pen::THICK
                }
                .filled(BLACK),
                true,
            );
        }
    };
    let throat = |sheet: &mut Sheet, x: f64, from: f64| {
        let pen = Pen {
            colour: GREY,
            ..Pen::THIN
        };
        for side in [-thin, thin] {
            if (x - from).abs() > 0.5 {
                sheet.line(&[(from, side), (x + 1.5, side)], pen);
            }
        }
        sheet.upright(
            x,
            thin,
            -thin,
            vec![say.equal("d", "", &throttle.throat_diameter)],
        );
    };
    match throttle.device {
        Device::Orifice(taps) => {
            plate(sheet);
            throat(sheet, m + 13.0, m + 1.2);
            let (before, behind) = match taps {
                Taps::Corner => (m - 1.8, m + 1.8),
                Taps::Flange => (m - 4.5, m + 4.5),
                Taps::DAndHalfD => (m - 2.0 * half, m + half),
            };
            ((before, half), (behind, half))
        }
        Device::Isa1932Nozzle | Device::LongRadiusNozzle => {
            pipe(sheet, &straight, half, Some(&throttle.pipe_diameter), flow, say);
            let long = if throttle.device == Device::LongRadiusNozzle {
                14.0
            } else {
                9.0
            };
            for side in [-1.0, 1.0] {
                let mut curve: Vec<At> = (0..=10)
                    .map(|i| std::f64::consts::FRAC_PI_2 * f64::from(i) / 10.0)
                    .map(|a| {
                        (
                            m + 0.55 * long * libm::sin(a),
                            side * (thin + (half - thin) * (1.0 - libm::sin(a)) * 0.9),
                        )
                    })
                    .collect();
                curve.push((m + long, side * thin));
                curve.push((m + long, side * (thin + 1.2)));
                curve.push((m + 0.62 * long, side * (thin + 1.2)));
                curve.push((m + 1.2, side * (half + 2.4)));
                curve.push((m, side * (half + 2.4)));
                sheet.outline(
                    Layer::Symbol,
                    &curve,
                    Pen {
                        width: 0.2,
                        ..Pen::THICK
                    }
                    .filled(BLACK),
                    false,
                );
            }
            sheet.block(&[(m, -half - 2.4), (m + 2.0, half + 2.4)]);
            throat(sheet, m + long + 9.0, m + long + 0.8);
            ((m - 1.8, half), (m + 4.0, half))
        }
        Device::VenturiNozzle | Device::Venturi(_) => {
            let lead = if throttle.device == Device::VenturiNozzle {
                5.0
            } else {
                11.0
            };
            let (a, b, c, d) = (m - 7.0 - lead, m - 7.0, m + 5.0, m + 34.0);
            let upper = [
                (FROM, -half),
                (a, -half),
                (b, -thin),
                (c, -thin),
                (d, -half),
                (TO, -half),
            ];
            pipe(sheet, &upper, half, Some(&throttle.pipe_diameter), flow, say);
            throat(sheet, m + 1.5, m + 1.5);
            ((a - 4.0, half), (m - 3.0, thin))
        }
    }
}

/// Draws a Pitot tube; gives the places where total and static pressure leave the pipe, below it.
fn draw_pitot(sheet: &mut Sheet, pitot: &PitotValues, say: Say<'_>) -> (At, At) {
    let half = 13.0;
    let flow = say.equal("u", "", &pitot.velocity);
    let diameter = pitot.pipe.as_ref().map(|(d, _)| d);
    pipe(sheet, &[(FROM, -half), (TO, -half)], half, diameter, flow, say);
    if let Some((_, ratio)) = &pitot.pipe {
        let words = Words::plain("")
            .italic("V")
            .upright("/")
            .italic("u")
            .upright(&format!(" = {}", say.value(ratio)));
        let spots = vec![spot(TO - 30.0, 0.0, 0, 0), spot(TO - 30.0, -5.0, 0, 0)];
        sheet.label(vec![words], spots, (TO - 30.0, 0.0));
    }
    // An elbow of tube: its nose to the left on the axis, its stem down through the wall.
    let (nose, x) = (MIDDLE - 12.0, MIDDLE);
    let outer = if pitot.has_static_holes { 3.6 } else { 1.8 };
    let below = half + 3.0;
    let tube = |sheet: &mut Sheet, width: f64, fill: &'static str| {
        let points = [(nose, 0.0), (x, 0.0), (x, below)];
        for (w, colour, layer) in [(width, BLACK, Layer::Symbol), (width - 0.7, fill, Layer::Symbol)] {
            sheet.line_in(
                layer,
                &points,
                Pen {
                    width: w,
                    colour,
                    ..Pen::THICK
                },
            );
        }
    };
    tube(sheet, outer, WHITE);
    if pitot.has_static_holes {
        let pen = Pen {
            width: 0.25,
            ..Pen::THIN
        };
        // The inner tube, and the holes of the outer one.
        for side in [-0.5, 0.5] {
            sheet.line_in(
                Layer::Symbol,
                &[(nose, side), (x - side, side), (x - side, below)],
                pen,
            );
        }
        for hole in [nose + 5.0, nose + 6.6] {
            for side in [-0.5 * outer, 0.5 * outer] {
                sheet.circle(
                    (hole, side),
                    0.45,
                    Layer::Symbol,
                    Pen { width: 0.0, ..pen }.filled(BLACK),
                );
            }
        }
        sheet.circle(
            (nose, 0.0),
            0.5,
            Layer::Symbol,
            Pen { width: 0.0, ..pen }.filled(BLACK),
        );
        return ((x - 0.6, below), (x + 1.6, below));
    }
    ((x, below), (x + 10.0, half))
}

/// A gauge for the difference of two pressures.
fn differential(sheet: &mut Sheet, (a, b): (At, At), label: Vec<Words>) {
    let low = a.1.max(b.1) + 12.0;
    let middle = 0.5 * (a.0 + b.0);
    let r = 3.6;
    let pen = Pen {
        width: 0.35,
        ..Pen::THIN
    };
    for (tap, side) in [(a, -1.0), (b, 1.0)] {
        let out = middle + side * ((tap.0 - middle).abs().max(r + 4.0));
        sheet.line(
            &[
                tap,
                (tap.0, tap.1 + 4.0),
                (out, tap.1 + 4.0),
                (out, low),
                (middle + side * r, low),
            ],
            pen,
        );
    }
    sheet.circle(
        (middle, low),
        r,
        Layer::Symbol,
        Pen {
            width: 0.35,
            ..Pen::THICK
        }
        .filled(WHITE),
    );
    let tip = (middle + 1.7, low - 2.0);
    sheet.line_in(Layer::Symbol, &[(middle - 0.8, low + 0.9), tip], Pen::THIN);
    sheet.head(Layer::Symbol, tip, (1.7, -2.0), 1.7, BLACK);
    let rect = Rect::new(middle - r, low - r, middle + r, low + r);
    let mut spots = vec![spot(middle, low + r + 1.0, 0, 1)];
    spots.extend(about(rect));
    sheet.label(label, spots, (middle, low));
}

/// A U-tube between two taps: upright below the pipe, or inverted above it for a liquid that is lighter than the fluid.
fn manometer(sheet: &mut Sheet, taps: (At, At), lighter: bool, deflection: &Words, liquid: Vec<Words>) {
    let middle = 0.5 * (taps.0.0 + taps.1.0);
    let (left, right) = (middle - 8.0, middle + 8.0);
    // Seen with down for up where it is inverted.
    let flip = if lighter { -1.0 } else { 1.0 };
    let at = |(x, y): At| (x, flip * y);
    let top = taps.0.1.max(taps.1.1) + 8.0;
    let (high, low, base) = (top + 4.0, top + 15.0, top + 19.0);
    // The limb of the higher pressure is pressed down.
    let levels = (low, high);
    let tube = 3.0;
    let path: Vec<At> = [(left, top), (left, base), (right, base), (right, top)]
        .map(at)
        .to_vec();
    let liquid_path: Vec<At> = [(left, levels.0), (left, base), (right, base), (right, levels.1)]
        .map(at)
        .to_vec();
    for (points, width, colour) in [
        (&path, tube, BLACK),
        (&path, tube - 0.6, sheet.inside),
        (
            &liquid_path,
            tube - 0.6,
            if sheet.inside == WATER { HEAVY } else { WATER },
        ),
    ] {
        sheet.line_in(
            Layer::Symbol,
            points,
            Pen {
                width,
                colour,
                ..Pen::THICK
            },
        );
    }
    let pen = Pen {
        width: 0.35,
        ..Pen::THIN
    };
    for ((x, y), to) in [(taps.0, left), (taps.1, right)] {
        // The taps of an inverted tube leave through the upper wall.
        let turn = top - 3.5;
        let points: Vec<At> = [(x, y), (x, turn), (to, turn), (to, top)].map(at).to_vec();
        sheet.line(&points, pen);
    }
    let x = right + 8.0;
    let grey = Pen {
        colour: GREY,
        ..Pen::THIN
    };
    sheet.line(&[at((right + 2.2, high)), at((x + 1.5, high))], grey);
    sheet.line(&[at((left + 2.2, low)), at((right - 2.2, low))], grey);
    sheet.line(&[at((right + 2.2, low)), at((x + 1.5, low))], grey);
    sheet.upright(x, flip * low, flip * high, vec![deflection.clone()]);
    let target = at((left, base - 2.0));
    let side = Rect::new(left - 1.6, target.1 - 4.0, left + 1.6, target.1 + 4.0);
    let mut spots = vec![spot(left - 3.5, target.1, -1, 0)];
    spots.extend(about(side));
    sheet.label(liquid, spots, target);
}
