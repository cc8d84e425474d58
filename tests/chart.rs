//! The friction chart, read back from its SVG as a reader reads it: by the numbers that stand on its scales.

#![allow(clippy::unwrap_used, reason = "a test stops where something fails")]

use gradeline::figure::{Chart, Mark, Sheet, Way, friction_chart};
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::DecimalMark;
use std::path::Path;
use std::process::Command;

type Point = (f64, f64);

/// A text of the chart: where it stands, its size, how it is anchored and turned, and what it says; a raised piece
/// stands behind `^`.
#[derive(Debug, Clone)]
struct Label {
    at: Point,
    size: f64,
    anchor: String,
    turned: bool,
    text: String,
}

fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    let from = element.find(&format!(" {name}=\""))? + name.len() + 3;
    element[from..].split('"').next()
}

fn number(element: &str, name: &str) -> f64 {
    attribute(element, name).unwrap().parse().unwrap()
}

fn labels(svg: &str) -> Vec<Label> {
    svg.lines()
        .filter(|line| line.starts_with("<text"))
        .map(|line| {
            let (head, rest) = line.split_once('>').unwrap();
            let mut text = String::new();
            for piece in rest.split("<tspan").skip(1) {
                let (dress, words) = piece.split_once('>').unwrap();
                if number(dress, "dy") < 0.0 {
                    text.push('^');
                }
                text.push_str(words.split('<').next().unwrap());
            }
            Label {
                at: (number(head, "x"), number(head, "y")),
                size: number(head, "font-size"),
                anchor: attribute(head, "text-anchor").unwrap().to_owned(),
                turned: attribute(head, "transform").is_some(),
                text,
            }
        })
        .collect()
}

/// The lines of a group.
fn paths(svg: &str, group: &str) -> Vec<Vec<Point>> {
    let mut inside = false;
    let mut found = Vec::new();
    for line in svg.lines() {
        if line.starts_with("<g ") {
            inside = attribute(line, "class") == Some(group);
        } else if line.starts_with("</g>") {
            inside = false;
        } else if inside && line.starts_with("<path") {
            let d = attribute(line, "d").unwrap().trim_end_matches('Z');
            for line in d.split('M').skip(1) {
                found.push(
                    line.split('L')
                        .map(|p| p.split_once(' ').unwrap())
                        .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
                        .collect(),
                );
            }
        }
    }
    found
}

/// `0.0004`, `5×10^−5`, `10^4`.
fn value(text: &str) -> Option<f64> {
    let text = text.replace('−', "-").replace(',', ".");
    match text.split_once("10^") {
        Some((mantissa, power)) => {
            let mantissa = mantissa.trim_end_matches('×');
            let mantissa = if mantissa.is_empty() {
                1.0
            } else {
                mantissa.parse().ok()?
            };
            Some(mantissa * libm::pow(10.0, power.parse().ok()?))
        }
        None => text.parse().ok(),
    }
}

/// The middle of a number's figures.
fn middle(label: &Label) -> f64 {
    label.at.1 - 0.33 * label.size
}

/// A chart and its scales, as the numbers on them say.
struct Read {
    svg: String,
    labels: Vec<Label>,
    left: f64,
    right: f64,
    bottom: f64,
    /// x of Re = 1, and of a decade.
    across: (f64, f64),
    /// y of f = 1, and of a decade (downwards for smaller f).
    up: (f64, f64),
}

impl Read {
    fn new(chart: &Chart) -> Self {
        let svg = friction_chart(chart);
        let labels = labels(&svg);
        let frame = &paths(&svg, "frame")[0];
        let (left, right, bottom) = (frame[0].0, frame[1].0, frame[2].1);
        let decades: Vec<&Label> = labels
            .iter()
            .filter(|l| l.text.starts_with("10^") && l.at.0 <= right + 0.01 && l.at.1 > bottom)
            .collect();
        let of = |power: &str| {
            decades
                .iter()
                .find(|l| l.text == format!("10^{power}"))
                .unwrap()
                .at
                .0
        };
        let decade = (of("8") - of("3")) / 5.0;
        let across = (of("3") - 3.0 * decade, decade);
        let read = |text: &str| {
            let text = match chart.decimal_mark {
                DecimalMark::Point => text.to_owned(),
                DecimalMark::Comma => text.replace('.', ","),
            };
            labels
                .iter()
                .find(|l| l.text == text && l.anchor == "end" && l.at.0 < left)
                .map(middle)
        };
        let (tenth, hundredth) = (read("0.100").unwrap(), read("0.010").unwrap());
        let decade = hundredth - tenth;
        Self {
            left,
            right,
            bottom,
            across,
            up: (tenth - decade, decade),
            svg,
            labels,
        }
    }

    fn reynolds(&self, x: f64) -> f64 {
        libm::pow(10.0, (x - self.across.0) / self.across.1)
    }

    fn factor(&self, y: f64) -> f64 {
        libm::pow(10.0, -(y - self.up.0) / self.up.1)
    }

    fn at(&self, point: Point) -> (f64, f64) {
        (self.reynolds(point.0), self.factor(point.1))
    }

    /// The numbers on the right with the middle of their height, but for the word for a smooth wall.
    fn roughnesses(&self) -> Vec<(f64, f64)> {
        let beside = self
            .labels
            .iter()
            .filter(|l| l.at.0 > self.right && l.anchor == "start" && !l.turned);
        beside
            .filter_map(|l| Some((value(&l.text)?, middle(l))))
            .collect()
    }
}

/// Colebrook and White's equation turned over and over: the program's solver takes no part.
fn colebrook(reynolds: f64, rr: f64) -> f64 {
    let mut x = 7.0;
    for _ in 0..100 {
        x = -2.0 * libm::log10(rr / 3.7 + 2.51 * x / reynolds);
    }
    1.0 / (x * x)
}

fn close(a: f64, b: f64, share: f64) -> bool {
    (a / b - 1.0).abs() <= share
}

#[test]
fn curves_read_back_are_colebrooks_within_a_thousandth() {
    for sheet in Sheet::ALL {
        let read = Read::new(&Chart::plain(sheet));
        let curves = paths(&read.svg, "curve");
        let ends = read.roughnesses();
        assert_eq!(curves.len(), ends.len(), "{sheet:?}");
        assert!(curves.len() >= 14, "{sheet:?}: {} curves", curves.len());
        let smooth = paths(&read.svg, "smooth").into_iter().map(|points| (points, 0.0));
        let named = curves.into_iter().map(|points| {
            let end = points.last().unwrap();
            assert!((end.0 - read.right).abs() < 0.01);
            // The number at its end says whose curve it is.
            let (rr, y) = ends
                .iter()
                .min_by(|a, b| (a.1 - end.1).abs().total_cmp(&(b.1 - end.1).abs()))
                .unwrap();
            assert!(
                (y - end.1).abs() < 0.05,
                "{sheet:?}: the number {rr} stands beside its curve"
            );
            (points, *rr)
        });
        for (points, rr) in smooth.chain(named.collect::<Vec<_>>()) {
            assert!(points.len() > 20, "{sheet:?}: the curve of {rr} is drawn");
            for pair in points.windows(2) {
                // Between the points too, where the drawn line is straight.
                for share in [0.0, 0.25, 0.5, 0.75] {
                    let on = (
                        pair[0].0 + share * (pair[1].0 - pair[0].0),
                        pair[0].1 + share * (pair[1].1 - pair[0].1),
                    );
                    let (re, f) = read.at(on);
                    assert!(
                        re > 3999.0 && close(f, colebrook(re, rr), 1e-3),
                        "{sheet:?}: Re {re}, ε/D {rr}: {f}"
                    );
                }
            }
        }
        for point in &paths(&read.svg, "laminar")[0] {
            let (re, f) = read.at(*point);
            assert!(close(f, 64.0 / re, 1e-3), "{sheet:?}: Re {re}: {f}");
        }
    }
}

#[test]
fn the_dashed_line_is_the_limit_of_fully_rough_flow() {
    for sheet in Sheet::ALL {
        let read = Read::new(&Chart::plain(sheet));
        let line = &paths(&read.svg, "limit")[0];
        assert!(line.len() > 50);
        for point in line {
            let (re, f) = read.at(*point);
            // ε/D from the equation solved for it.
            let rr = 3.7 * (libm::exp10(-0.5 / f.sqrt()) - 2.51 / (re * f.sqrt()));
            // A thousandth of f is a hundredth or so of ε/D.
            assert!(
                close(re * f.sqrt() * rr, 200.0, 0.02),
                "{sheet:?}: Re {re}, f {f}"
            );
        }
        let first = read.at(line[0]);
        assert!(
            close(first.1, colebrook(first.0, 0.05), 1e-3),
            "it begins at the roughest curve"
        );
    }
}

#[test]
fn lines_and_numbers_of_the_grid_are_where_they_say() {
    let marks = [Mark {
        reynolds: 2.6e5,
        relative_roughness: 0.0007,
        way: Way::AtReynolds,
    }];
    for sheet in Sheet::ALL {
        for (marks, decimal_mark) in [(&[][..], DecimalMark::Point), (&marks[..], DecimalMark::Comma)] {
            let read = Read::new(&Chart {
                sheet,
                marks,
                decimal_mark,
                limits: Limits::default(),
            });
            let mut across = vec![read.up.0 + read.up.1, read.bottom];
            let mut upright = vec![read.left, read.right];
            for group in ["fine", "middle", "main", "decade"] {
                for line in paths(&read.svg, group) {
                    let (re, f) = read.at(line[0]);
                    if line[0].1 == line[1].1 {
                        let step = f * 1e4;
                        assert!(
                            (step / step.round() - 1.0).abs() < 3e-4,
                            "{sheet:?}: a line at f = {f}"
                        );
                        across.push(line[0].1);
                    } else {
                        assert_eq!(line[0].0, line[1].0);
                        let tenths = 10.0 * re / libm::pow(10.0, libm::floor(libm::log10(re * 1.0001)));
                        assert!(
                            (tenths / tenths.round() - 1.0).abs() < 5e-4,
                            "{sheet:?}: a line at Re = {re}"
                        );
                        upright.push(line[0].0);
                    }
                }
            }
            // Every number on the left and below has its line, and stands for what the scale says.
            let mut numbers = 0;
            for label in read.labels.iter().filter(|l| !l.turned) {
                if label.anchor == "end" && label.at.0 < read.left {
                    let f = value(&label.text).unwrap();
                    let is_mark = label.text.len() > 5;
                    if !is_mark {
                        numbers += 1;
                        let nearest = across
                            .iter()
                            .map(|y| (y - middle(label)).abs())
                            .fold(f64::INFINITY, f64::min);
                        assert!(nearest < 0.01, "{sheet:?}: {} has no line", label.text);
                        assert!(
                            close(read.factor(middle(label)), f, 1e-3),
                            "{sheet:?}: {}",
                            label.text
                        );
                    }
                }
                let below = label.at.1 > read.bottom && label.at.1 < read.bottom + 1.4 * label.size;
                if below && label.anchor == "middle" {
                    let nearest = upright
                        .iter()
                        .map(|x| (x - label.at.0).abs())
                        .fold(f64::INFINITY, f64::min);
                    assert!(nearest < 0.01, "{sheet:?}: {} has no line", label.text);
                    let re = read.reynolds(label.at.0);
                    let power = libm::pow(10.0, libm::floor(libm::log10(re * 1.0001)));
                    let says = if label.text.starts_with("10^") {
                        value(&label.text).unwrap()
                    } else {
                        value(&label.text).unwrap() * power
                    };
                    assert!(close(re, says, 1e-3), "{sheet:?}: {} stands at {re}", label.text);
                }
            }
            assert!(numbers >= 14, "{sheet:?}: {numbers} numbers");
            // Fine enough to be read to 3 %, and not so fine that lines run together in print.
            across.sort_by(f64::total_cmp);
            let small = matches!(sheet, Sheet::A5 | Sheet::Embedded);
            for pair in across.windows(2) {
                let (high, low) = (read.factor(pair[0]), read.factor(pair[1]));
                let coarsest = match (small, low < 0.01) {
                    (false, _) => 0.0255,
                    (true, false) => 0.055,
                    (true, true) => 0.095,
                };
                assert!(
                    high / low - 1.0 <= coarsest,
                    "{sheet:?}: nothing between {low} and {high}"
                );
                assert!(
                    pair[1] - pair[0] >= 0.5,
                    "{sheet:?}: {low} and {high} are {} mm apart",
                    pair[1] - pair[0]
                );
            }
            upright.sort_by(f64::total_cmp);
            upright.dedup();
            for pair in upright.windows(2) {
                assert!(
                    pair[1] - pair[0] >= 0.5 || pair[1] == read.right,
                    "{sheet:?}: {pair:?}"
                );
            }
        }
    }
}

#[test]
fn the_scale_on_the_right_is_divided_where_curves_end() {
    for sheet in [Sheet::A4, Sheet::Letter, Sheet::A3] {
        let read = Read::new(&Chart::plain(sheet));
        let mut ticks = 0;
        for tick in paths(&read.svg, "scale") {
            let f = read.factor(tick[0].1);
            // ε/D from the equation solved for it.
            let rr = 3.7 * (libm::exp10(-0.5 / f.sqrt()) - 2.51 / (1e8 * f.sqrt()));
            let power = libm::pow(10.0, libm::floor(libm::log10(rr * 1.001)) - 1.0);
            let tenths = rr / power;
            // The place is written to a thousandth of a millimetre, which is less than a hundredth of ε/D.
            assert!(
                (tenths / tenths.round() - 1.0).abs() < 4e-3,
                "{sheet:?}: a tick at {rr}"
            );
            ticks += 1;
        }
        assert!(ticks > 80, "{sheet:?}: {ticks} ticks");
    }
}

#[test]
fn marks_lead_along_the_curve_up_and_across() {
    let marks = [
        Mark {
            reynolds: 1e5,
            relative_roughness: 0.01,
            way: Way::AtReynolds,
        },
        Mark {
            reynolds: f64::NAN,
            relative_roughness: 0.002,
            way: Way::Across,
        },
        Mark {
            reynolds: 1600.0,
            relative_roughness: 0.01,
            way: Way::AtReynolds,
        },
        // Off the chart.
        Mark {
            reynolds: 100.0,
            relative_roughness: 0.01,
            way: Way::AtReynolds,
        },
    ];
    for sheet in Sheet::ALL {
        let read = Read::new(&Chart {
            marks: &marks,
            ..Chart::plain(sheet)
        });
        let guides = paths(&read.svg, "guide");
        assert_eq!(guides.len(), 3 + 1 + 2, "{sheet:?}");
        let [along, up, left, across, laminar_up, laminar_left] = &guides[..] else {
            unreachable!()
        };
        // In at ε/D.
        assert!((along[0].0 - read.right).abs() < 0.01);
        for point in along {
            let (re, f) = read.at(*point);
            assert!(close(f, colebrook(re, 0.01), 1e-3), "{sheet:?}: Re {re}");
        }
        // Up from Re; 0.0385 by Colebrook and White at Re 1e5 and ε/D 0.01, across to f.
        let (re, f) = read.at(up[1]);
        assert!(
            close(re, 1e5, 1e-3) && (f - 0.0385).abs() < 1e-4,
            "{sheet:?}: {re} {f}"
        );
        assert_eq!((up[1], left[0]), (*along.last().unwrap(), up[1]));
        assert!((up[0].1 - read.bottom).abs() < 0.01 && (left[1].0 - read.left).abs() < 0.01);
        // 1/√f = 2 log(3.7/0.002) is 6.534, f 0.02342.
        assert!((across[0].0 - read.right).abs() < 0.01 && (across[1].0 - read.left).abs() < 0.01);
        assert!(close(read.factor(across[0].1), 0.02342, 1e-3));
        let (re, f) = read.at(laminar_up[1]);
        assert!(close(re, 1600.0, 1e-3) && close(f, 0.04, 1e-3));
        assert_eq!(laminar_left[0], laminar_up[1]);
        // The numbers that are read stand on the scales.
        for text in [
            "0.0385",
            "0.0234",
            "0.0400",
            "0.01",
            "0.002",
            "1.00×10^5",
            "1.60×10^3",
        ] {
            assert!(read.labels.iter().any(|l| l.text == text), "{sheet:?}: no {text}");
        }
    }
}

#[test]
fn the_svg_is_plain() {
    let svg = friction_chart(&Chart::plain(Sheet::A4));
    assert!(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"297mm\" height=\"210mm\""));
    for fancy in [
        "<style",
        " id=",
        "<script",
        "<use",
        "href",
        "paint-order",
        "filter",
        "textPath",
    ] {
        assert!(!svg.contains(fancy), "{fancy}");
    }
    assert_eq!(svg.matches("<g ").count(), svg.matches("</g>").count());
    // Small enough for a page with several.
    let figure = friction_chart(&Chart::plain(Sheet::Embedded));
    assert!(figure.len() < 80_000, "{}", figure.len());
}

fn gradeline(arguments: &[&str], folder: &Path) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_gradeline"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap()
}

#[test]
fn the_command_writes_what_the_ending_says() {
    let folder = tempfile::tempdir().unwrap();
    let run = |arguments: &[&str]| gradeline(arguments, folder.path());
    let file = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
    let done = run(&[
        "chart", "--paper", "letter", "--at", "1e5", "0.002", "--across", "0.002", "-o", "c.svg",
    ]);
    assert!(done.status.success(), "{done:?}");
    let svg = String::from_utf8(file("c.svg")).unwrap();
    assert!(svg.contains("width=\"279.4mm\"") && svg.contains("class=\"guide\""));
    let odd = run(&["chart", "-o", "c.gif"]);
    assert_eq!(odd.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&odd.stderr).contains(".svg, .png or .pdf"));
    for off in [
        &["chart", "--at", "100", "0.01"][..],
        &["chart", "--across", "0.2"],
        &["chart", "--across", "0"],
    ] {
        let refused = run(off);
        assert_eq!(refused.status.code(), Some(2), "{off:?}");
        assert!(
            String::from_utf8_lossy(&refused.stderr).contains("off the chart"),
            "{refused:?}"
        );
    }
    let pdf = run(&["chart", "-o", "c.pdf"]);
    if cfg!(feature = "pdf") {
        assert!(pdf.status.success(), "{pdf:?}");
        assert!(run(&["chart", "-o", "again.pdf"]).status.success());
        assert!(file("c.pdf").starts_with(b"%PDF-"));
        assert_eq!(file("c.pdf"), file("again.pdf"), "the same bytes each time");
        assert!(run(&["chart", "-o", "c.PNG"]).status.success());
        let png = file("c.PNG");
        let side = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
        // A4 at 300 pixels an inch.
        assert_eq!((side(16), side(20)), (3508, 2480));
    } else {
        assert_eq!(pdf.status.code(), Some(2));
        assert!(String::from_utf8_lossy(&pdf.stderr).contains("feature `pdf`"));
    }
}
