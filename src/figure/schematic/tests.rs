#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test fails")]

mod vessels;

use super::*;
use crate::bank::builtin_bank;
use crate::bank::template::Template;
use crate::draw::{Candidates, CourseKey};
use crate::figure::svg::Words;
use crate::hydraulics::regime::Limits;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

const DRAWS: u32 = 200;

fn draws(template: &Template, count: u32) -> impl Iterator<Item = (Bindings, System)> {
    let key = CourseKey::from_bytes([29; 32]);
    (0..count).map(move |n| {
        let seed = key.seed("figures", template, "student", n);
        let draw = Candidates::new(template, &seed).next().unwrap();
        (draw.bindings(template), draw.system(template).unwrap())
    })
}

fn plain(mark: DecimalMark) -> Say<'static> {
    Say { mark, unworked: &[] }
}

/// Every system that a page of the documentation shows.
fn documented() -> Vec<String> {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs");
    let mut pages: Vec<_> = fs::read_dir(docs).unwrap().map(|e| e.unwrap().path()).collect();
    pages.sort();
    let mut all = Vec::new();
    for page in pages {
        let text = fs::read_to_string(page).unwrap();
        for rest in text.split("```yaml system\n").skip(1) {
            all.push(rest.split("```").next().unwrap().to_owned());
        }
    }
    all
}

/// Draws a system and says what is wrong with it.
fn faults(system: &System, mark: DecimalMark) -> Vec<String> {
    faults_within(system, mark, (sheet::WIDEST, 110.0))
}

/// The same on a sheet of a size \[mm\].
fn faults_within(system: &System, mark: DecimalMark, (widest, highest): (f64, f64)) -> Vec<String> {
    let (mut sheet, _) = drawn(system, plain(mark));
    sheet.settle();
    let mut faults = sheet.faults();
    faults.extend(sheet.leaders_along_lines());
    let extent = sheet.extent();
    let (width, height) = (extent.x1 - extent.x0, extent.y1 - extent.y0);
    if width > widest || height > highest {
        faults.push(format!("the drawing is {width:.1} mm by {height:.1} mm"));
    }
    faults
}

#[test]
fn no_label_stands_on_another_or_on_a_line_in_any_template() {
    let bank = builtin_bank();
    let mut all = Vec::new();
    for template in &bank.templates {
        for (n, (_, system)) in draws(template, DRAWS).enumerate() {
            let mark = if n % 2 == 0 {
                DecimalMark::Point
            } else {
                DecimalMark::Comma
            };
            let found = faults(&system, mark);
            all.extend(found.into_iter().map(|f| format!("{} {n}: {f}", template.name)));
        }
    }
    assert!(
        all.is_empty(),
        "{} faults:\n{}",
        all.len(),
        all[..all.len().min(40)].join("\n")
    );
}

#[test]
fn grade_lines_have_labels_that_keep_clear_as_well() {
    let bank = builtin_bank();
    let conventions = Conventions::default();
    let mut drawings = 0;
    for template in &bank.templates {
        for (n, (_, system)) in draws(template, 12).enumerate() {
            let Ok(case) = Case::solve(system, Some(4), &Limits::default()) else {
                continue;
            };
            let Some((mut sheet, ..)) = with_heads(&case, &conventions) else {
                continue;
            };
            drawings += 1;
            sheet.settle();
            let found = sheet.faults();
            assert!(found.is_empty(), "{} {n}: {}", template.name, found.join("\n"));
            let extent = sheet.extent();
            let (width, height) = (extent.x1 - extent.x0, extent.y1 - extent.y0);
            assert!(
                height < 125.0 && width <= sheet::WIDEST,
                "{} {n}: {width} mm by {height} mm",
                template.name
            );
        }
    }
    assert!(drawings > 150, "{drawings}");
}

/// A worked solution shows the line that its statement shows, whatever scale its heads ask for.
#[test]
fn grade_lines_stand_over_the_line_of_the_statement() {
    let bank = builtin_bank();
    let conventions = Conventions::default();
    let (mut lines, mut over) = (0, 0);
    for template in &bank.templates {
        for (n, (_, system)) in draws(template, 12).enumerate() {
            let System::Path(stated) = &system else { break };
            let Ok(case) = Case::solve(system.clone(), Some(4), &Limits::default()) else {
                continue;
            };
            let Case::Path(path) = &case else { break };
            let marks = head_marks(path, &conventions);
            let heads = marks.iter().flat_map(|m| [m.energy, m.hydraulic]);
            let heads = Heads {
                marks: &marks,
                low: heads.clone().fold(f64::INFINITY, f64::min),
                high: heads.fold(f64::NEG_INFINITY, f64::max),
            };
            let say = plain(DecimalMark::Point);
            let solved = with_elevations(path, &conventions);
            let statement = route::laid(&path_line(stated), say, None);
            let worked = route::laid(&path_line(&solved), say, Some(&heads));
            assert_eq!(statement, worked, "{} {n}", template.name);
            lines += 1;
            over += u32::from(statement[0].ends_with("true"));
        }
    }
    let pit = bank.get("washery-pit-pump").unwrap();
    let (_, system) = draws(pit, 1).next().unwrap();
    let System::Path(system) = &system else {
        panic!("no line")
    };
    let laid = route::laid(&path_line(system), plain(DecimalMark::Point), None);
    assert!(
        laid[0].ends_with("true") && laid[1].ends_with("at its foot"),
        "{laid:?}"
    );
    assert!(lines > 100 && over > 11, "{lines} {over}");
}

#[test]
fn every_system_of_the_documentation_is_drawn() {
    let systems = documented();
    assert!(systems.len() > 25);
    for yaml in systems {
        let system = System::parse(&yaml, "documented.yaml").unwrap();
        let found = faults(&system, DecimalMark::Point);
        assert!(found.is_empty(), "{}\n{yaml}", found.join("\n"));
        let drawing = schematic(&system, DecimalMark::Point);
        assert!(drawing.svg.matches("<text").count() > 2, "{yaml}");
        assert!(drawing.description.len() > 40, "{}", drawing.description);
        assert!(
            drawing.svg.contains("= ?")
                || matches!(system, System::Network(_))
                || drawing.svg.contains(": ?"),
            "{yaml}"
        );
    }
}

/// The numbers in a text.
fn numbers(text: &str) -> BTreeSet<String> {
    text.split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .map(|n| n.trim_matches('.').to_owned())
        .filter(|n| !n.is_empty())
        .collect()
}

/// What a drawing says to those who see it and to those who can't.
fn said(drawing: &Schematic) -> String {
    let mut text = drawing.description.clone();
    for piece in drawing.svg.split("<tspan").skip(1) {
        let inside = piece.split_once('>').unwrap().1.split("</tspan>").next().unwrap();
        text.push(' ');
        text.push_str(inside);
    }
    text
}

#[test]
fn a_handouts_drawing_says_no_number_that_is_not_a_given() {
    let bank = builtin_bank();
    for template in &bank.templates {
        // Numbers of the description itself (a K of 1.0, say) are as open as givens.
        let mut open = numbers(&template.source);
        open.extend(["0", "1", "2"].map(String::from));
        for fitting in crate::hydraulics::fittings::FITTINGS {
            open.insert(format!("{}", fitting.coefficient));
        }
        for (givens, system) in draws(template, 60) {
            let mut open = open.clone();
            for bound in givens.0.values() {
                open.extend(numbers(&bound.written.plain(DecimalMark::Point)));
            }
            let drawing = of_draw(template, &givens, &system, DecimalMark::Point);
            let more: Vec<String> = numbers(&said(&drawing)).difference(&open).cloned().collect();
            assert!(
                more.is_empty(),
                "{}: {more:?} in {}",
                template.name,
                said(&drawing)
            );
        }
    }
}

#[test]
fn what_follows_from_givens_is_shown_unworked() {
    let bank = builtin_bank();
    let template = bank.get("trunk-main-leak").unwrap();
    let (givens, system) = draws(template, 1).next().unwrap();
    let text = said(&of_draw(template, &givens, &system, DecimalMark::Point));
    let (p, dp) = (givens.get("p_1").unwrap(), givens.get("dp").unwrap());
    let both = format!(
        "{} − {}",
        p.written.plain(DecimalMark::Point),
        dp.written.plain(DecimalMark::Point)
    );
    assert!(text.contains(&both), "{text}");
}

const HOSTILE: &str = "
fluid: { name: water, temperature: 20 degC }
flow: unknown
stations:
  start: { name: 'the <b>&amp; \"upper\" \u{7db2}\u{8def}\u{6c34}\u{69fd} Wasserschlossüberlaufbeckenzulauf', pressure: 0 kPa, elevation: 12345.678 m, velocity: 0 m/s }
  end: { name: 'конец трубопровода насосной станции второго подъёма', pressure: 0 kPa, velocity: pipe }
path:
  - loss: { name: 'заслонка & <valve> with a name that goes on and on and on', K: 0.123456789 }
  - pipe: { name: Druckrohrleitungsteilstueckabschnittsverbindung, diameter: 123.456789 mm, length: 9876.54321 m, roughness: 0.0123456 mm }
  - loss: { name: a, K: 1 }
  - loss: { name: b, K: 2 }
  - pump: { name: '\u{202e}gnp <pump>', head: 12.3456789 m }
  - loss: { name: c elbow, K: 3 }
  - pipe: { name: second, diameter: 100 mm, length: 10 m, roughness: 0.1 mm }
  - loss: { name: d tee, K: 4 }
  - loss: { name: e check valve, K: 5 }
  - pipe: { name: third, diameter: 50 mm, length: 10 m, roughness: 0.1 mm }
  - loss: { name: f, K: 6 }
  - loss: { name: g strainer and valve and bends and coil, K: 6 }
";

#[test]
fn hostile_names_and_long_lines_are_drawn_all_the_same() {
    let system = System::parse(HOSTILE, "hostile.yaml").unwrap_or_else(|f| panic!("{f}"));
    let (mut sheet, _) = drawn(&system, plain(DecimalMark::Point));
    sheet.settle();
    let found = sheet.faults();
    assert!(found.is_empty(), "{}", found.join("\n"));
    let drawing = schematic(&system, DecimalMark::Point);
    assert!(drawing.width_mm <= 166.0);
    assert!(drawing.svg.contains("&lt;b&gt;&amp;amp;") && !drawing.svg.contains("<b>"));
    assert!(drawing.svg.contains("конец"));
}

#[test]
fn a_hundred_elements_are_drawn_without_a_panic() {
    let mut yaml = HOSTILE.to_owned();
    for n in 0..100 {
        yaml.push_str(&format!("  - loss: {{ name: valve {n}, K: 1 }}\n"));
    }
    let system = System::parse(&yaml, "long.yaml").unwrap_or_else(|f| panic!("{f}"));
    let drawing = schematic(&system, DecimalMark::Point);
    assert!(drawing.svg.contains("valve 99"));
}

/// Streets of a town: rows and columns of junctions, a tower at one corner.
fn town(rows: usize, columns: usize) -> String {
    let mut yaml = String::from("fluid: { name: water, temperature: 20 degC }\nnodes:\n");
    yaml.push_str("  - reservoir: { name: tower, level: 60 m }\n");
    let mut links = String::new();
    let mut link = |from: &str, to: &str| {
        links.push_str(&format!(
            "  - {{ from: {from}, to: {to}, path: [ {{ pipe: {{ name: pipe {from} to {to}, diameter: 150 mm, length: 200 m, roughness: 0.1 mm }} }} ] }}\n"
        ));
    };
    link("tower", "a0");
    for row in 0..rows {
        for column in 0..columns {
            let name = |r: usize, c: usize| format!("{}{c}", char::from(b'a' + r as u8));
            yaml.push_str(&format!(
                "  - junction: {{ name: {}, demand: 1 L/s }}\n",
                name(row, column)
            ));
            if column + 1 < columns {
                link(&name(row, column), &name(row, column + 1));
            }
            if row + 1 < rows {
                link(&name(row, column), &name(row + 1, column));
            }
        }
    }
    format!("{yaml}links:\n{links}")
}

#[test]
fn a_small_town_is_drawn_with_its_labels_clear_and_a_large_one_is_drawn() {
    let system = System::parse(&town(2, 3), "town.yaml").unwrap_or_else(|f| panic!("{f}"));
    let (mut sheet, _) = drawn(&system, plain(DecimalMark::Point));
    sheet.settle();
    assert!(sheet.faults().is_empty(), "{}", sheet.faults().join("\n"));
    let system = System::parse(&town(12, 30), "town.yaml").unwrap_or_else(|f| panic!("{f}"));
    let drawing = schematic(&system, DecimalMark::Point);
    assert!(drawing.svg.matches("<circle").count() >= 360 && drawing.width_mm <= 166.0);
}

#[test]
fn the_check_sees_a_label_on_a_line() {
    let mut sheet = Sheet::new(100.0, WHITE);
    sheet.label(
        vec![Words::plain("label")],
        vec![sheet::spot(50.0, 0.0, 0, 0)],
        (50.0, 0.0),
    );
    sheet.settle();
    assert!(sheet.faults().is_empty());
    sheet.line(&[(0.0, 0.0), (100.0, 0.0)], sheet::Pen::THIN);
    assert_eq!(sheet.faults().len(), 1);
}

/// Energy heads are read back from the drawing by the scale that its first and last point fix.
#[test]
fn the_energy_line_is_drawn_where_its_heads_are() {
    let bank = builtin_bank();
    let template = bank.get("rising-main-pump-power").unwrap();
    let (_, system) = draws(template, 1).next().unwrap();
    let case = Case::solve(system, Some(4), &Limits::default()).unwrap();
    let path = case.path().unwrap();
    let heads: Vec<f64> = (grade::grade_line(&path.solved.path, &path.solved.state).iter())
        .map(|p| p.energy_head)
        .collect();
    let svg = grade_lines(&case, &Conventions::default()).unwrap().svg;
    let line = (svg.lines())
        .find(|l| l.contains(r#"stroke-width="0.40""#) && l.matches('L').count() + 1 == heads.len())
        .unwrap();
    let ys: Vec<f64> = line
        .split(['M', 'L', '"'])
        .filter_map(|p| p.split_once(' ')?.1.parse().ok())
        .collect();
    assert_eq!(ys.len(), heads.len(), "{line}");
    let (first, last) = (0, heads.len() - 1);
    let scale = (ys[last] - ys[first]) / (heads[last] - heads[first]);
    assert!(scale < -1.0, "a metre of head is more than a millimetre: {scale}");
    for (y, head) in ys.iter().zip(&heads) {
        assert!(
            (y - ys[first] - scale * (head - heads[first])).abs() < 0.03,
            "{y} {head}"
        );
    }
}

/// What reads figures for PDF takes every drawing, and finds a letter for every one of its own.
#[cfg(feature = "pdf")]
#[test]
fn every_drawing_is_taken_by_what_sets_papers() {
    let bank = builtin_bank();
    for template in &bank.templates {
        let (givens, system) = draws(template, 1).next().unwrap();
        let drawing = of_draw(template, &givens, &system, DecimalMark::Comma);
        let pdf = crate::typeset::figure_pdf(&drawing.svg, &drawing.title, &drawing.description);
        assert!(
            pdf.is_ok_and(|bytes| bytes.starts_with(b"%PDF")),
            "{}",
            template.name
        );
    }
}
