//! The friction chart: Darcy's friction factor over the Reynolds number, both on logarithmic scales.

use super::svg::{Anchor, Svg, Words};
use crate::constants::policy;
use crate::hydraulics::friction::{Law, Reading, darcy};
use crate::hydraulics::regime::Limits;

/// A point to be marked on the chart, with guide lines as a reader would follow them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Reynolds number \[–\].
    pub reynolds: f64,
    /// ε/D \[–\].
    pub relative_roughness: f64,
}

// A4 on its side, in millimetres.
const SHEET: (f64, f64) = (297.0, 210.0);
const LEFT: f64 = 24.0;
const RIGHT: f64 = 268.0;
const TOP: f64 = 18.0;
const BOTTOM: f64 = 186.0;

const REYNOLDS: (f64, f64) = (6.0e2, 1.0e8);
const FACTOR: (f64, f64) = (0.008, 0.1);

/// The curves' relative roughnesses, as drawn and labelled on the right.
const FAMILY: [f64; 19] = [
    0.05, 0.04, 0.03, 0.02, 0.015, 0.01, 0.008, 0.006, 0.004, 0.002, 0.001, 0.0008, 0.0006, 0.0004, 0.0002,
    0.0001, 5e-5, 2e-5, 1e-5,
];

const STYLE: &str = "text{font-family:'Latin Modern Roman','STIX Two Text','Times New Roman',serif;fill:#111;stroke:#fff;stroke-width:.7;stroke-linejoin:round;paint-order:stroke}\
path{fill:none;stroke-linejoin:round}\
.fine{stroke:#d3dae2;stroke-width:.09}.grid{stroke:#aeb9c6;stroke-width:.14}.decade{stroke:#7e8c9c;stroke-width:.2}\
.frame{stroke:#111;stroke-width:.35}.curve{stroke:#143a66;stroke-width:.26}.smooth{stroke:#143a66;stroke-width:.4}\
.laminar{stroke:#143a66;stroke-width:.4}.limit{stroke:#8a3b12;stroke-width:.3;stroke-dasharray:2 1.2}\
.zone{fill:#e9e4d8}.guide{stroke:#b3261e;stroke-width:.35;stroke-dasharray:1.6 1}.read{stroke:#b3261e;stroke-width:.4;fill:#fff}\
.paper{fill:#fff}";

/// What the chart shows: 64/Re where flow is laminar, else Colebrook and White.
fn colebrook(reynolds: f64, relative_roughness: f64) -> f64 {
    darcy(Reading::EXACT, reynolds, relative_roughness, &Limits::default())
}

fn laminar(reynolds: f64) -> f64 {
    64.0 / reynolds
}

fn fully_rough(relative_roughness: f64) -> f64 {
    let level = Reading {
        law: Law::FullyRough,
        factor: 1.0,
    };
    darcy(level, REYNOLDS.1, relative_roughness, &Limits::default())
}

fn x(reynolds: f64) -> f64 {
    let (low, high) = REYNOLDS;
    LEFT + (RIGHT - LEFT) * libm::log10(reynolds / low) / libm::log10(high / low)
}

fn y(factor: f64) -> f64 {
    let (low, high) = FACTOR;
    BOTTOM - (BOTTOM - TOP) * libm::log10(factor / low) / libm::log10(high / low)
}

/// Points of a curve from one Reynolds number to another, as far as it lies within the frame.
fn curve(from: f64, to: f64, factor: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    // A hundred points a decade keep the drawn line within 0.01 % of the curve.
    let steps = (100.0 * libm::log10(to / from)).ceil().max(1.0);
    (0..=steps as u32)
        .map(|i| from * libm::pow(to / from, f64::from(i) / steps))
        .map(|re| (re, factor(re)))
        .filter(|(_, f)| (FACTOR.0..=FACTOR.1).contains(f))
        .map(|(re, f)| (x(re), y(f)))
        .collect()
}

/// `0.0004` or, below a ten-thousandth, a power of ten.
fn roughness_label(value: f64) -> Words {
    if value >= 0.99e-4 {
        return Words::plain(format!("{value}"));
    }
    let exponent = libm::floor(libm::log10(value) + 1e-9) as i32;
    let mantissa = libm::round(value / libm::pow(10.0, f64::from(exponent)));
    let power = format!("−{}", -exponent);
    if mantissa == 1.0 {
        Words::plain("10").raised(&power)
    } else {
        Words::plain(format!("{mantissa}×10")).raised(&power)
    }
}

/// The chart as an SVG file, with a point marked where one is given.
pub fn friction_chart(mark: Option<Mark>) -> String {
    let mut svg = Svg::new(SHEET.0, SHEET.1);
    svg.area(0.0, 0.0, SHEET.0, SHEET.1, "paper");
    zone(&mut svg);
    grid(&mut svg);
    curves(&mut svg);
    svg.line(
        &[
            (LEFT, TOP),
            (RIGHT, TOP),
            (RIGHT, BOTTOM),
            (LEFT, BOTTOM),
            (LEFT, TOP),
        ],
        "frame",
    );
    axes(&mut svg);
    if let Some(mark) = mark {
        marked(&mut svg, mark);
    }
    svg.finish(
        "Friction chart",
        "Darcy friction factor over the Reynolds number for a family of relative roughnesses, after Colebrook and White",
        STYLE,
    )
}

fn zone(svg: &mut Svg) {
    let (from, to) = (x(policy::LAMINAR_END), x(policy::TURBULENT_START));
    svg.area(from, TOP, to - from, BOTTOM - TOP, "zone");
    let at = (0.5 * (from + to) + 1.0, BOTTOM - 6.0);
    svg.text(
        at,
        Anchor::Start,
        3.0,
        90.0,
        &Words::plain("critical zone: no reading is certain"),
    );
}

fn grid(svg: &mut Svg) {
    for decade in 2..8 {
        let power = libm::pow(10.0, f64::from(decade));
        for tenth in 10..100 {
            let re = power * f64::from(tenth) / 10.0;
            let class = match tenth {
                10 => "decade",
                t if t % 10 == 0 => "grid",
                t if t < 50 && t % 2 == 0 || t % 5 == 0 => "fine",
                _ => continue,
            };
            if re > REYNOLDS.0 && re < REYNOLDS.1 {
                svg.line(&[(x(re), TOP), (x(re), BOTTOM)], class);
            }
        }
    }
    // Steps of 0.0002 below 0.02, 0.0005 below 0.05 and 0.001 above: about half a millimetre apart at least.
    for step in 40..500_u32 {
        let factor = 0.0002 * f64::from(step);
        let class = match step {
            s if s % 50 == 0 => "decade",
            s if s < 100 && s % 5 == 0 => "grid",
            s if s < 100 => "fine",
            s if s % 25 == 0 => "grid",
            s if s % 5 == 0 && (s < 250 || s % 10 == 0) => "fine",
            _ => continue,
        };
        svg.line(&[(LEFT, y(factor)), (RIGHT, y(factor))], class);
    }
}

fn curves(svg: &mut Svg) {
    let turbulent = policy::TURBULENT_START;
    svg.line(&curve(REYNOLDS.0, policy::LAMINAR_END, laminar), "laminar");
    for relative_roughness in FAMILY {
        let points = curve(turbulent, REYNOLDS.1, |re| colebrook(re, relative_roughness));
        svg.line(&points, "curve");
    }
    svg.line(&curve(turbulent, REYNOLDS.1, |re| colebrook(re, 0.0)), "smooth");
    // Along the limit, Re √f ε/D is constant; the roughness follows from the Reynolds number.
    let limit: Vec<(f64, f64)> = (0..=400)
        .map(|i| 0.05 * libm::pow(1e-6 / 0.05, f64::from(i) / 400.0))
        .map(|rr| {
            let factor = fully_rough(rr);
            (policy::FULLY_ROUGH_START / (rr * factor.sqrt()), rr)
        })
        .map(|(re, rr)| (re, colebrook(re, rr)))
        .filter(|(re, f)| *re < REYNOLDS.1 && (FACTOR.0..=FACTOR.1).contains(f))
        .map(|(re, f)| (x(re), y(f)))
        .collect();
    svg.line(&limit, "limit");
    let at = |re: f64, f: f64| (x(re), y(f));
    let laminar = Words::plain("laminar, ")
        .italic("f")
        .upright(" = 64/")
        .italic("Re");
    svg.text(at(1130.0, 0.0735), Anchor::Start, 3.2, -73.0, &laminar);
    svg.text(
        at(1.9e5, 0.0147),
        Anchor::Middle,
        3.2,
        -35.0,
        &Words::plain("smooth wall"),
    );
    let rough = Words::plain("fully rough to the right of this line");
    svg.text(at(6.9e4, 0.0474), Anchor::Start, 3.2, -42.5, &rough);
}

fn axes(svg: &mut Svg) {
    for decade in 3..=8 {
        let at = (x(libm::pow(10.0, f64::from(decade))), BOTTOM + 5.2);
        svg.text(
            at,
            Anchor::Middle,
            3.6,
            0.0,
            &Words::plain("10").raised(&decade.to_string()),
        );
        for digit in [2, 4, 6] {
            let re = f64::from(digit) * libm::pow(10.0, f64::from(decade));
            if decade < 8 {
                svg.text(
                    (x(re), BOTTOM + 4.4),
                    Anchor::Middle,
                    2.6,
                    0.0,
                    &Words::plain(digit.to_string()),
                );
            }
        }
    }
    for label in [
        "0.008", "0.009", "0.010", "0.012", "0.014", "0.016", "0.018", "0.020", "0.025", "0.030", "0.035",
        "0.040", "0.045", "0.050", "0.060", "0.070", "0.080", "0.090", "0.100",
    ] {
        let factor: f64 = label.parse().unwrap_or(FACTOR.0);
        svg.text(
            (LEFT - 1.6, y(factor) + 1.1),
            Anchor::End,
            3.2,
            0.0,
            &Words::plain(label),
        );
    }
    for relative_roughness in FAMILY {
        let factor = colebrook(REYNOLDS.1, relative_roughness);
        if factor < FACTOR.0 {
            continue;
        }
        let at = (RIGHT + 1.6, y(factor) + 1.0);
        svg.text(at, Anchor::Start, 2.9, 0.0, &roughness_label(relative_roughness));
    }
    let middle = 0.5 * (TOP + BOTTOM);
    let reynolds = Words::plain("Reynolds number  ")
        .italic("Re")
        .upright(" = ")
        .italic("VD")
        .upright("/")
        .italic("ν");
    svg.text(
        (0.5 * (LEFT + RIGHT), BOTTOM + 12.5),
        Anchor::Middle,
        4.2,
        0.0,
        &reynolds,
    );
    let factor = Words::plain("Darcy friction factor  ").italic("f");
    svg.text((9.0, middle), Anchor::Middle, 4.2, 90.0, &factor);
    let roughness = Words::plain("Relative roughness  ")
        .italic("ε")
        .upright("/")
        .italic("D");
    svg.text((290.0, middle), Anchor::Middle, 4.2, 90.0, &roughness);
    svg.text(
        (LEFT, TOP - 5.0),
        Anchor::Start,
        5.0,
        0.0,
        &Words::plain("Friction chart"),
    );
    let by = Words::plain("computed from the equation of Colebrook and White (1939); 64/")
        .italic("Re")
        .upright(" where laminar");
    svg.text((RIGHT, TOP - 5.0), Anchor::End, 3.0, 0.0, &by);
    svg.text(
        (RIGHT, SHEET.1 - 4.0),
        Anchor::End,
        2.6,
        0.0,
        &Words::plain(policy::CAUTION),
    );
}

fn marked(svg: &mut Svg, mark: Mark) {
    let factor = colebrook(mark.reynolds, mark.relative_roughness);
    let at = (x(mark.reynolds), y(factor));
    svg.line(&[(at.0, BOTTOM), at, (LEFT, at.1)], "guide");
    if mark.reynolds >= policy::TURBULENT_START {
        let along = curve(mark.reynolds, REYNOLDS.1, |re| {
            colebrook(re, mark.relative_roughness)
        });
        svg.line(&along, "guide");
    }
    svg.ring(at.0, at.1, 1.1, "read");
    let label = Words::plain("").italic("f").upright(&format!(" = {factor:.4}"));
    svg.text((at.0 + 2.0, at.1 - 2.0), Anchor::Start, 3.6, 0.0, &label);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The points of every path of a class, in sheet coordinates.
    fn paths(svg: &str, class: &str) -> Vec<Vec<(f64, f64)>> {
        svg.lines()
            .filter(|l| l.contains(&format!("class=\"{class}\"")))
            .map(|l| {
                let d = l.split(" d=\"").nth(1).unwrap().split('"').next().unwrap();
                d.split(['M', 'L'])
                    .filter(|p| !p.is_empty())
                    .map(|p| p.split_once(' ').unwrap())
                    .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
                    .collect()
            })
            .collect()
    }

    /// Reads sheet coordinates back by the printed axes: two labelled ticks fix each logarithmic scale.
    fn read(point: (f64, f64)) -> (f64, f64) {
        let per_decade = (x(1e7) - x(1e4)) / 3.0;
        let re = libm::pow(10.0, 4.0 + (point.0 - x(1e4)) / per_decade);
        let f_decade = y(0.01) - y(0.1);
        (re, libm::pow(10.0, -2.0 + (y(0.01) - point.1) / f_decade))
    }

    #[test]
    fn curves_read_back_are_colebrooks_within_a_thousandth() {
        let svg = friction_chart(None);
        let curves = paths(&svg, "curve");
        assert_eq!(curves.len(), FAMILY.len());
        for (points, rr) in curves.iter().zip(FAMILY) {
            assert!(points.len() > 100, "the curve of {rr} is drawn");
            for pair in points.windows(2) {
                // Between the points too, where the drawn line is straight.
                let middle = (0.5 * (pair[0].0 + pair[1].0), 0.5 * (pair[0].1 + pair[1].1));
                for point in [pair[0], middle] {
                    let (re, f) = read(point);
                    // The implicit equation itself, not the program's solver.
                    let x = 1.0 / f.sqrt();
                    let right = -2.0 * libm::log10(rr / 3.7 + 2.51 * x / re);
                    assert!((x / right - 1.0).abs() < 1e-3, "Re {re}, rr {rr}: {f}");
                }
            }
        }
    }

    #[test]
    fn a_marked_point_is_where_its_numbers_say() {
        let svg = friction_chart(Some(Mark {
            reynolds: 1e5,
            relative_roughness: 0.01,
        }));
        let guide = &paths(&svg, "guide")[0];
        let (re, f) = read(guide[1]);
        assert!((re / 1e5 - 1.0).abs() < 1e-3);
        // 0.038 5, by Colebrook and White at Re 1e5 and ε/D 0.01.
        assert!((f - 0.0385).abs() < 1e-4, "{f}");
    }
}
