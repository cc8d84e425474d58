//! Tanks of every shape, alone and in pairs, as they are drawn: what is round is round whatever its levels are.

use super::*;

/// What a shape must look like.
#[derive(Clone, Copy, PartialEq)]
enum Looks {
    /// A circle, cut at a share of its height.
    Circle(f64),
    /// The lower half of one.
    Half,
    Straight,
    Any,
}

/// A name, what it looks like, what a description says of it, and the greatest level \[m\].
const SHAPES: [(&str, Looks, &str, f64); 12] = [
    ("round", Looks::Straight, "diameter: 2 m", 4.0),
    ("area", Looks::Straight, "area: 3.1 m^2, height: 4.2 m", 4.0),
    (
        "funnel",
        Looks::Straight,
        "cone: { top diameter: 1.2 m, height: 1.4 m }",
        1.4,
    ),
    (
        "flat cone",
        Looks::Straight,
        "cone: { floor diameter: 0.8 m, top diameter: 6 m, height: 2 m }",
        2.0,
    ),
    (
        "narrowing cone",
        Looks::Straight,
        "cone: { floor diameter: 3 m, top diameter: 1 m, height: 2.6 m }",
        2.6,
    ),
    ("ball", Looks::Circle(1.0), "sphere: { diameter: 3 m }", 3.0),
    (
        "large ball",
        Looks::Circle(1.0),
        "sphere: { diameter: 14 m }",
        14.0,
    ),
    (
        "ball with an overflow",
        Looks::Circle(0.8),
        "sphere: { diameter: 3 m }, height: 2.4 m",
        2.4,
    ),
    ("bowl", Looks::Half, "bowl: { diameter: 4 m }", 2.0),
    (
        "lying cylinder",
        Looks::Circle(1.0),
        "lying cylinder: { diameter: 2 m, length: 5 m }",
        2.0,
    ),
    (
        "small lying cylinder",
        Looks::Circle(1.0),
        "lying cylinder: { diameter: 0.4 m, length: 1 m }",
        0.4,
    ),
    (
        "table",
        Looks::Any,
        "table: [{ level: 0 m, area: 2 m^2 }, { level: 1.5 m, area: 4 m^2 }, { level: 3 m, area: 3 m^2 }]",
        3.0,
    ),
];

/// Levels as shares of the greatest, the higher first: far apart, close together, near the top, near the floor, as far as
/// they go.
const LEVELS: [(f64, f64); 5] = [
    (0.79, 0.395),
    (0.62, 0.58),
    (1.0, 0.93),
    (0.12, 0.04),
    (0.97, 0.05),
];

const PIPE: &str = "path:
  - loss: { name: entrance, K: 0.5 }
  - pipe: { name: line, diameter: 80 mm, length: 40 m, roughness: 0.05 mm }
  - loss: { name: exit, K: 1.0 }
";

/// A system, what its tanks look like, and its levels as shares of their heights.
struct Drawn {
    name: String,
    yaml: String,
    looks: Vec<Looks>,
    to_scale: Option<Vec<f64>>,
}

/// Tanks alone, which empty and fill in every way.
fn alone() -> Vec<Drawn> {
    let mut all = Vec::new();
    for (shape, looks, says, most) in SHAPES {
        for (n, (high, low)) in LEVELS.into_iter().enumerate() {
            let (high_m, low_m) = (high * most, low * most);
            let mut add = |way: &str, tank: String, rest: String| {
                all.push(Drawn {
                    name: format!("{shape}, levels {n}, {way}"),
                    yaml: format!(
                        "fluid: {{ name: water, temperature: 20 degC }}\ntime: unknown\ntank: {{ name: {shape}, {says}, {tank} }}\n{rest}"
                    ),
                    looks: vec![looks],
                    // A mouth is drawn apart from the floor.
                    to_scale: (n == 0 && !way.contains("above")).then(|| vec![high, low]),
                });
            };
            let falls = format!("level: {high_m:.3} m, until: {low_m:.3} m");
            let rises = format!("level: {low_m:.3} m, until: {high_m:.3} m");
            let out = |z: f64| {
                format!(
                    "stations:\n  end: {{ name: end of the outlet pipe, pressure: 0 kPa, elevation: {z} m, velocity: pipe }}\n{PIPE}"
                )
            };
            let feed = |z: f64| {
                format!(
                    "stations:\n  start: {{ name: reservoir, pressure: 0 kPa, elevation: {z:.3} m, velocity: 0 m/s }}\n{PIPE}"
                )
            };
            add("down a hill", format!("{falls}, floor: 20 m"), out(0.0));
            add("out at its foot", format!("{falls}, floor: 0 m"), out(-0.5));
            add(
                "out above its foot",
                format!("{falls}, floor: 3 m, mouth: {:.3} m", 3.0 + 0.02 * most),
                out(1.0),
            );
            add(
                "pressed",
                format!("{falls}, floor: 3 m, pressure: 20 kPa"),
                out(1.0),
            );
            add("filled", format!("{rises}, floor: 3 m"), feed(6.0 + most));
            add(
                "barely filled",
                format!("{rises}, floor: 3 m"),
                feed(3.0 + 1.05 * most),
            );
            let opening = "stations:\n  end: { name: opening, pressure: 0 kPa, elevation: 0 m }\norifice: { diameter: 30 mm, Cd: 0.61 }\n";
            add(
                "by an opening",
                format!("{falls}, inflow: 0.1 L/s"),
                opening.to_owned(),
            );
        }
    }
    all
}

/// One tank that runs into another.
fn pairs() -> Vec<Drawn> {
    let mut all = Vec::new();
    for (one, looks, says, most) in SHAPES {
        for (other, second_looks, second_says, second_most) in SHAPES {
            for (n, (high, low)) in LEVELS.into_iter().enumerate() {
                for (place, floor) in [
                    ("level", 0.0),
                    ("a step down", -0.15 * most),
                    ("far down", -2.0 * most),
                ] {
                    all.push(Drawn {
                        name: format!("{one} into {other}, levels {n}, {place}"),
                        yaml: format!(
                            "fluid: {{ name: water, temperature: 20 degC }}\ntime: unknown\n\
                             tank: {{ name: {one}, {says}, level: {:.3} m, until difference: 0.1 m, floor: 10 m }}\n\
                             second tank: {{ name: {other}, {second_says}, level: {:.3} m, floor: {:.3} m }}\n{PIPE}",
                            high * most,
                            low * second_most,
                            10.0 + floor
                        ),
                        looks: vec![looks, second_looks],
                        to_scale: None,
                    });
                }
            }
        }
    }
    all
}

type Points = Vec<(f64, f64)>;

/// Lines of one width in a drawing, with whether they are dashed.
fn lines(svg: &str, width: &str) -> Vec<(Points, bool)> {
    let attribute = |line: &str, name: &str| -> String {
        let after = line.split(&format!(" {name}=\"")).nth(1).unwrap_or_default();
        after.split('"').next().unwrap_or_default().to_owned()
    };
    (svg.lines().filter(|l| l.starts_with("<path")))
        .filter(|l| attribute(l, "stroke-width") == width && attribute(l, "stroke") == "#000")
        .map(|l| {
            let points = attribute(l, "d")
                .split(['M', 'L', 'Z'])
                .filter_map(|p| p.split_once(' '))
                .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
                .collect();
            (points, l.contains("dasharray"))
        })
        .collect()
}

/// Centre and radius of the circle through three points.
fn circle(points: &[(f64, f64)]) -> ((f64, f64), f64) {
    let [a, b, c] = [0, points.len() / 2, points.len() - 1].map(|i| points[i]);
    let d = 2.0 * (a.0 * (b.1 - c.1) + b.0 * (c.1 - a.1) + c.0 * (a.1 - b.1));
    let [aa, bb, cc] = [a, b, c].map(|p| p.0 * p.0 + p.1 * p.1);
    let x = (aa * (b.1 - c.1) + bb * (c.1 - a.1) + cc * (a.1 - b.1)) / d;
    let y = (aa * (c.0 - b.0) + bb * (a.0 - c.0) + cc * (b.0 - a.0)) / d;
    ((x, y), libm::hypot(a.0 - x, a.1 - y))
}

/// What is wrong with how a tank's walls and levels are drawn.
fn shape_faults(
    looks: Looks,
    walls: &[Points],
    levels: &[(Points, bool)],
    to_scale: Option<&[f64]>,
) -> Vec<String> {
    let mut faults = Vec::new();
    let longest = walls.iter().max_by_key(|w| w.len()).unwrap();
    if looks == Looks::Straight {
        for wall in walls {
            let (a, b) = (wall[0], wall[wall.len() - 1]);
            for p in wall {
                let x = a.0 + (b.0 - a.0) * (p.1 - a.1) / (b.1 - a.1);
                if (p.0 - x).abs() > 0.03 {
                    faults.push(format!("a wall bends at {p:?}"));
                }
            }
        }
    }
    let share = match looks {
        Looks::Circle(share) => 2.0 * share,
        Looks::Half => 1.0,
        Looks::Straight | Looks::Any => return faults,
    };
    let (centre, radius) = circle(longest);
    let off = |p: &(f64, f64)| (libm::hypot(p.0 - centre.0, p.1 - centre.1) / radius - 1.0).abs();
    let all: Points = walls.iter().flatten().copied().collect();
    // Coordinates are written to 0.01 mm.
    let worst = all.iter().map(off).fold(0.0, f64::max);
    if worst > 0.01 {
        faults.push(format!("walls are up to {:.1} % off a circle", 100.0 * worst));
    }
    let low = all.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
    let high = all.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
    // Of a ball that is cut, the cut may lie elsewhere, as levels are drawn apart.
    let height = (low - high) / radius;
    let cut = if looks == Looks::Circle(1.0) || looks == Looks::Half {
        0.025
    } else {
        0.6
    };
    if ((low - centre.1) / radius - 1.0).abs() > 0.01 || (height - share).abs() > cut {
        faults.push(format!(
            "{low} to {high} is no {share} of {radius} about {centre:?}"
        ));
    }
    if !(5.5..=34.0).contains(&radius) {
        faults.push(format!("a radius of {radius:.1} mm"));
    }
    let chords: Vec<&(Points, bool)> = levels
        .iter()
        .filter(|(l, _)| {
            l.len() == 2
                && l[0].1 == l[1].1
                && (0.5 * (l[0].0 + l[1].0) - centre.0).abs() < 0.02
                && l[0].1 > high - 0.5
                && l[0].1 < low + 0.01
        })
        .collect();
    if chords.is_empty() {
        faults.push("no water line".to_owned());
    }
    for (chord, _) in &chords {
        // Where a ball is nearly full its water line is short.
        if chord.iter().map(off).fold(0.0, f64::max) > 0.01 {
            faults.push(format!("the water line {chord:?} ends off the circle"));
        }
    }
    if let Some(shares) = to_scale {
        let most = high - low;
        let drawn: Vec<f64> = [false, true]
            .iter()
            .filter_map(|dashed| chords.iter().find(|(_, d)| d == dashed))
            .map(|(l, _)| (l[0].1 - low) / most)
            .collect();
        let there = |share: &f64| drawn.iter().any(|d| (d - share).abs() < 0.01);
        if drawn.len() != 2 || !shares.iter().all(there) {
            faults.push(format!("levels at {drawn:?}, not {shares:?}"));
        }
    }
    faults
}

fn check(all: &[Drawn]) {
    let mut found = Vec::new();
    for drawn in all {
        let system =
            System::parse(&drawn.yaml, "tank.yaml").unwrap_or_else(|f| panic!("{f}\n{}", drawn.yaml));
        // Two large tanks, one far below the other, are made a little smaller than they are drawn.
        let size = match drawn.looks.len() {
            1 => (sheet::WIDEST, 110.0),
            _ => (172.0, 115.0),
        };
        let mut faults = faults_within(&system, DecimalMark::Comma, size);
        let svg = schematic(&system, DecimalMark::Point).svg;
        let walls: Vec<Points> = lines(&svg, "0.50")
            .into_iter()
            .map(|l| l.0)
            .filter(|l| l.len() > 4)
            .collect();
        let levels = lines(&svg, "0.25");
        let xs = walls.iter().flatten().map(|p| p.0);
        let middle = 0.5 * (xs.clone().fold(f64::INFINITY, f64::min) + xs.fold(f64::NEG_INFINITY, f64::max));
        for (k, looks) in drawn.looks.iter().enumerate() {
            let own: Vec<Points> = walls
                .iter()
                .filter(|w| drawn.looks.len() == 1 || (w[0].0 > middle) == (k == 1))
                .cloned()
                .collect();
            faults.extend(shape_faults(*looks, &own, &levels, drawn.to_scale.as_deref()));
        }
        found.extend(faults.into_iter().map(|f| format!("{}: {f}", drawn.name)));
    }
    assert!(
        found.is_empty(),
        "{} faults in {} drawings:\n{}",
        found.len(),
        all.len(),
        found[..found.len().min(60)].join("\n")
    );
}

#[test]
fn a_tank_alone_has_its_shape_whatever_its_levels() {
    check(&alone());
}

#[test]
fn two_tanks_have_their_shapes_whatever_their_levels() {
    check(&pairs());
}

/// Who can't see a tank is told its shape and every measure, whatever else is on the sheet.
#[test]
fn the_description_of_a_tank_says_what_its_drawing_says() {
    let described = |tank: &str, rest: &str| {
        let yaml = format!(
            "fluid: {{ name: water, temperature: 20 degC }}\ntime: unknown\n\
             tank: {{ name: header, level: 1.1 m, {tank} }}\n{rest}{PIPE}"
        );
        let system = System::parse(&yaml, "tank.yaml").unwrap_or_else(|f| panic!("{f}\n{yaml}"));
        schematic(&system, DecimalMark::Point).description
    };
    let out = "stations:\n  end: { name: outlet, pressure: 0 kPa, elevation: 1 m, velocity: pipe }\n";
    let until = "until: 0.4 m, floor: 7 m";
    for (shape, says) in [
        ("diameter: 2 m", "upright and round, D_t = 2 m"),
        ("area: 3.1 m^2", "upright, area A_t = 3.1 m²"),
        (
            "cone: { top diameter: 1.2 m, height: 1.4 m }",
            "a cone on its apex, diameter at its top = 1.2 m, height of the cone = 1.4 m",
        ),
        (
            "cone: { floor diameter: 0.8 m, top diameter: 6 m, height: 2 m }",
            "a cone, diameter of its floor = 0.8 m, diameter at its top = 6 m, height of the cone = 2 m",
        ),
        ("sphere: { diameter: 3 m }", "a ball, diameter = 3 m"),
        (
            "bowl: { diameter: 4 m }",
            "a bowl, the lower half of a ball, diameter = 4 m",
        ),
        (
            "lying cylinder: { diameter: 2 m, length: 5 m }",
            "a lying cylinder, diameter = 2 m, length = 5 m",
        ),
        (
            "table: [{ level: 0 m, area: 2 m^2 }, { level: 3 m, area: 3 m^2 }]",
            "2 m² at a level of 0 m, 3 m² at a level of 3 m",
        ),
    ] {
        let said = described(&format!("{shape}, {until}"), out);
        let rest = ", elevation of its floor z_t = 7 m, open to the air, level at the start h_1 = 1.1 m, level at the end h_2 = 0.4 m";
        assert!(said.contains(&format!("{says}{rest}")), "{said}");
    }
    let said = described(
        &format!("diameter: 2 m, {until}, mouth: 7.2 m, pressure: 20 kPa, inflow: 0.1 L/s, height: 3 m"),
        out,
    );
    for says in [
        "elevation of the pipe's mouth = 7.2 m",
        "gauge pressure above its surface p_t = 20 kPa",
        "inflow from elsewhere Q_in = 0.1 L/s",
        "height of its wall = 3 m",
    ] {
        assert!(said.contains(says), "no `{says}` in {said}");
    }
    let said = described(
        "diameter: 2 m, until difference: 0.1 m, floor: 7 m",
        "second tank: { name: sump, bowl: { diameter: 4 m }, level: 0.3 m, floor: 5 m }\n",
    );
    for says in ["z_t = 7 m", "sump, a bowl", "z_s = 5 m", "h_1s = 0.3 m"] {
        assert!(said.contains(says), "no `{says}` in {said}");
    }
}
