//! Networks: nodes and links in a plane, or basins at their levels where they share one junction.

use super::heights::Heights;
use super::says::{loss_says, machine_says};
use super::sheet::{At, Layer, Pen, Rect, Sheet, THICK, WHITE, about, cross, measure, spot};
use super::symbols::{self, HALF, Machine, ROUND, Symbol};
use super::words::{Say, name_within, number, side_by_side};
use crate::bank::system::network::{LinkSaid, NetworkSystem, NodeKind, NodeSaid};
use crate::bank::system::{Bore, Element, LossBy, Value};
use crate::figure::svg::Words;

/// Width of the drawing \[mm\], and how far apart rows of nodes are.
const WIDTH: f64 = 163.0;
const ROW: f64 = 44.0;
/// From the edge of the sheet to the outermost nodes.
const EDGE: f64 = 24.0;
/// How many pairs of a link with another or with a node are looked at in search of an order without crossings.
const PAIRS: usize = 100_000_000;
/// Widest and narrowest pipe \[mm\].
const BORES: (f64, f64) = (1.8, 3.0);

/// What was found, for a worked solution: what stands beside links and nodes.
pub(super) struct Found {
    /// Of each link: whether it flows from its second node to its first, and its label.
    pub(super) links: Vec<(bool, Option<Words>)>,
    /// Of each node: its head, where it is known.
    pub(super) nodes: Vec<Option<Words>>,
}

/// Draws a network; gives the sheet and whether levels are to scale.
pub(super) fn draw(
    system: &NetworkSystem,
    inside: &'static str,
    say: Say<'_>,
    found: Option<&Found>,
) -> (Sheet, bool) {
    let mut sheet = Sheet::new(WIDTH, inside);
    let (places, to_scale) = places(system);
    let ways: Vec<Vec<At>> = (0..system.links.len()).map(|i| way(system, &places, i)).collect();
    let shared = shared_roughness(system);
    let bores = bores(system);
    let mut pipe = 0;
    for (i, (link, way)) in system.links.iter().zip(&ways).enumerate() {
        let count = link
            .path
            .iter()
            .filter(|e| matches!(e, Element::Pipe { .. }))
            .count();
        let bore = bores.get(pipe).copied().unwrap_or(BORES.1);
        pipe += count;
        sheet.pipe(way, bore);
        let (a, b, shares) = stretch(system, link, way);
        let first = link.path.iter().position(|e| matches!(e, Element::Pipe { .. }));
        let (from, to) = first.and_then(|n| shares.get(n)).copied().unwrap_or((0.2, 0.6));
        let reversed = found.is_some_and(|f| f.links.get(i).is_some_and(|l| l.0));
        arrow(&mut sheet, (a, b), from + 0.22 * (to - from), reversed);
    }
    for (i, node) in system.nodes.iter().enumerate() {
        draw_node(&mut sheet, node, places[i]);
    }
    let centre = (
        places.iter().map(|p| p.0).sum::<f64>() / places.len().max(1) as f64,
        places.iter().map(|p| p.1).sum::<f64>() / places.len().max(1) as f64,
    );
    // Links that are side by side at a node leave it no room for its name; names come first.
    for (i, node) in system.nodes.iter().enumerate() {
        label_node(&mut sheet, system, i, node, &places, &ways, say, found);
    }
    for (i, (link, way)) in system.links.iter().zip(&ways).enumerate() {
        let flow = found.and_then(|f| f.links.get(i)).and_then(|l| l.1.as_ref());
        let stretch = stretch(system, link, way);
        let others: Vec<&Vec<At>> = ways.iter().filter(|w| *w != way).collect();
        label_link(
            &mut sheet,
            link,
            &stretch,
            (say, shared.is_none(), centre),
            &others,
            flow,
        );
    }
    if let Some(roughness) = shared {
        let words = say.equal("ε", "", roughness).upright(" in all pipes");
        let bottom = places.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
        let mut spots = Vec::new();
        for down in [6.0, 9.0, 12.0, 16.0, 20.0, 26.0] {
            for x in [0.0, 0.5 * WIDTH, WIDTH - 45.0] {
                spots.push(spot(x, bottom + down, 1, 1));
            }
        }
        sheet.label(vec![words], spots, (0.5 * WIDTH, bottom + 30.0));
    }
    (sheet, to_scale)
}

/// The roughness of all pipes, where they are several and have one.
fn shared_roughness(system: &NetworkSystem) -> Option<&Value> {
    let mut all = system.links.iter().flat_map(|l| &l.path).filter_map(|e| match e {
        Element::Pipe { roughness, .. } => Some(roughness),
        _ => None,
    });
    let first = all.next()?;
    let rest: Vec<&Value> = all.collect();
    (!rest.is_empty() && rest.iter().all(|r| *r == first)).then_some(first)
}

/// Widths of all pipes on the sheet.
fn bores(system: &NetworkSystem) -> Vec<f64> {
    let all: Vec<Option<f64>> = (system.links.iter().flat_map(|l| &l.path))
        .filter_map(|e| match e {
            Element::Pipe { bore, .. } => Some(match bore {
                Bore::Round(d) => number(d),
                Bore::Duct(_) => None,
            }),
            _ => None,
        })
        .collect();
    let most = all.iter().flatten().copied().fold(0.0, f64::max);
    all.iter()
        .map(|d| {
            d.filter(|_| most > 0.0)
                .map_or(BORES.1, |d| (BORES.1 * d / most).max(BORES.0))
        })
        .collect()
}

/// Where nodes lie, and whether their heights are to scale.
fn places(system: &NetworkSystem) -> (Vec<At>, bool) {
    let count = system.nodes.len();
    if count == 2 {
        return (vec![(EDGE + 4.0, 0.0), (WIDTH - EDGE - 4.0, 0.0)], false);
    }
    if let Some(star) = star(system) {
        return star;
    }
    let layers = layers(system);
    let wide = layers.iter().map(Vec::len).max().unwrap_or(1);
    // Columns lie as far apart as what lies between them needs.
    let needed: Vec<f64> = (layers.windows(2))
        .map(|pair| {
            let between = |l: &&LinkSaid| {
                pair[0].contains(&l.from) && pair[1].contains(&l.to)
                    || pair[1].contains(&l.from) && pair[0].contains(&l.to)
            };
            let rooms = system
                .links
                .iter()
                .filter(between)
                .map(|l| l.path.iter().map(room).sum::<f64>());
            rooms.fold(24.0, f64::max)
        })
        .collect();
    let stretch = (WIDTH - 2.0 * EDGE) / needed.iter().sum::<f64>().max(1.0);
    let columns: Vec<f64> = (0..layers.len())
        .map(|n| EDGE + stretch * needed.iter().take(n).sum::<f64>())
        .collect();
    let place = |order: &[Vec<usize>]| -> Vec<At> {
        let mut at = vec![(0.0, 0.0); count];
        for (column, nodes) in order.iter().enumerate() {
            for (row, node) in nodes.iter().enumerate() {
                let spread = if nodes.len() > 1 {
                    ROW * (wide - 1) as f64 / (nodes.len() - 1) as f64
                } else {
                    0.0
                };
                let y = spread * (row as f64 - 0.5 * (nodes.len() - 1) as f64);
                at[*node] = (columns[column], y);
            }
        }
        at
    };
    let mut best = layers.clone();
    let mut least = cost(system, &place(&best));
    let mut tries = PAIRS / (system.links.len() * (system.links.len() + count)).max(1);
    // Every order of every layer in turn, over and over until nothing gets better.
    let mut better = true;
    while better && tries > 0 {
        better = false;
        for column in 0..best.len() {
            for i in 0..best[column].len() {
                for j in i + 1..best[column].len() {
                    let mut other = best.clone();
                    other[column].swap(i, j);
                    if tries == 0 {
                        break;
                    }
                    tries -= 1;
                    let price = cost(system, &place(&other));
                    if price < least - 1e-9 {
                        (best, least, better) = (other, price, true);
                    }
                }
            }
        }
    }
    (place(&best), false)
}

/// Nodes by how many links they lie from where water comes from.
fn layers(system: &NetworkSystem) -> Vec<Vec<usize>> {
    let count = system.nodes.len();
    let is_source = |i: usize| match &system.nodes[i].what {
        NodeKind::Reservoir { .. } => system.links.iter().all(|l| l.to != i),
        NodeKind::Junction { supply, .. } => supply.is_some(),
    };
    let mut depth = vec![usize::MAX; count];
    let mut now: Vec<usize> = (0..count).filter(|i| is_source(*i)).collect();
    if now.is_empty() {
        now.push(0);
    }
    let mut at = 0;
    let mut all = Vec::new();
    while !now.is_empty() {
        for node in &now {
            depth[*node] = at;
        }
        all.push(now.clone());
        let mut next: Vec<usize> = Vec::new();
        for link in &system.links {
            for (a, b) in [(link.from, link.to), (link.to, link.from)] {
                if now.contains(&a) && depth[b] == usize::MAX && !next.contains(&b) {
                    next.push(b);
                }
            }
        }
        at += 1;
        now = next;
    }
    // What hangs on nothing stands by itself.
    let apart: Vec<usize> = (0..count).filter(|i| depth[*i] == usize::MAX).collect();
    if !apart.is_empty() {
        all.push(apart);
    }
    all
}

/// How bad an arrangement is: crossings, links through nodes, long ways.
fn cost(system: &NetworkSystem, at: &[At]) -> f64 {
    let mut price = 0.0;
    for (i, link) in system.links.iter().enumerate() {
        let (a, b) = (at[link.from], at[link.to]);
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let length = (dx * dx + dy * dy).sqrt();
        price += 0.01 * length;
        for other in &system.links[i + 1..] {
            if cross(a, b, at[other.from], at[other.to]) {
                price += 100.0;
            }
        }
        for (n, p) in at.iter().enumerate() {
            if n != link.from && n != link.to && length > 0.0 {
                let share = (((p.0 - a.0) * dx + (p.1 - a.1) * dy) / (length * length)).clamp(0.0, 1.0);
                let (x, y) = (a.0 + share * dx - p.0, a.1 + share * dy - p.1);
                if (x * x + y * y).sqrt() < 9.0 {
                    price += 60.0;
                }
            }
        }
    }
    price
}

/// Basins that share one junction, at their levels, the junction below them all.
fn star(system: &NetworkSystem) -> Option<(Vec<At>, bool)> {
    let is_junction = |i: &usize| matches!(system.nodes[*i].what, NodeKind::Junction { .. });
    let junctions: Vec<usize> = (0..system.nodes.len()).filter(is_junction).collect();
    let [fork] = junctions.as_slice() else {
        return None;
    };
    let count = system.nodes.len();
    let spokes =
        system.links.len() + 1 == count && system.links.iter().all(|l| (l.from == *fork) != (l.to == *fork));
    if !spokes || count > 6 {
        return None;
    }
    let level = |i: usize| match &system.nodes[i].what {
        NodeKind::Reservoir { level, .. } => number(level),
        NodeKind::Junction { .. } => None,
    };
    let levels: Vec<f64> = (0..count).filter_map(level).collect();
    if levels.len() + 1 != count {
        return None;
    }
    let heights = Heights::new(levels);
    let lowest = (0..count)
        .filter_map(level)
        .map(|z| heights.y(z))
        .fold(f64::NEG_INFINITY, f64::max);
    let gives = |i: usize| system.links.iter().any(|l| l.from == i);
    let mut left: Vec<usize> = (0..count).filter(|i| i != fork && gives(*i)).collect();
    let mut right: Vec<usize> = (0..count).filter(|i| i != fork && !gives(*i)).collect();
    if right.is_empty() || left.is_empty() {
        // All one way: the higher ones to the left.
        let mut all: Vec<usize> = left.into_iter().chain(right).collect();
        all.sort_by(|a, b| level(*b).unwrap_or(0.0).total_cmp(&level(*a).unwrap_or(0.0)));
        right = all.split_off(all.len().div_ceil(2));
        left = all;
    }
    // The lower, the farther out: nothing stands in the way of what climbs.
    let by_level = |a: &usize, b: &usize| level(*b).unwrap_or(0.0).total_cmp(&level(*a).unwrap_or(0.0));
    left.sort_by(by_level);
    right.sort_by(by_level);
    let mut at = vec![(0.0, 0.0); count];
    let middle = if left.len() > right.len() {
        0.58 * WIDTH
    } else {
        0.44 * WIDTH
    };
    at[*fork] = (middle, lowest + 28.0);
    let y = |i: usize| level(i).map_or(0.0, |z| heights.y(z)) + 2.0;
    for (n, i) in left.iter().rev().enumerate() {
        at[*i] = (EDGE + 38.0 * n as f64, y(*i));
    }
    for (n, i) in right.iter().rev().enumerate() {
        at[*i] = (WIDTH - EDGE - 38.0 * n as f64, y(*i));
    }
    Some((at, heights.to_scale))
}

/// The way of a link; links between the same two nodes keep apart.
fn way(system: &NetworkSystem, at: &[At], link: usize) -> Vec<At> {
    let LinkSaid { from, to, .. } = &system.links[link];
    let (a, b) = (at[*from], at[*to]);
    let ends = |l: &LinkSaid| (l.from.min(l.to), l.from.max(l.to));
    let twins: Vec<usize> = (0..system.links.len())
        .filter(|i| ends(&system.links[*i]) == ends(&system.links[link]))
        .collect();
    if twins.len() < 2 {
        return vec![a, b];
    }
    let rank = twins.iter().position(|i| *i == link).unwrap_or(0) as f64;
    let off = 28.0 * (rank - 0.5 * (twins.len() - 1) as f64);
    // Aside from the straight way, as seen from the node of the smaller index.
    let (p, q) = (at[(*from).min(*to)], at[(*from).max(*to)]);
    let (dx, dy) = (q.0 - p.0, q.1 - p.1);
    let length = (dx * dx + dy * dy).sqrt().max(1e-9);
    let (nx, ny) = (-dy / length * off, dx / length * off);
    let lead = 14.0 / length;
    let first = (p.0 + lead * dx + nx, p.1 + lead * dy + ny);
    let second = (q.0 - lead * dx + nx, q.1 - lead * dy + ny);
    let mut way = vec![p, first, second, q];
    if from > to {
        way.reverse();
    }
    way
}

/// How much of a link what lies on it takes \[mm\].
fn room(element: &Element) -> f64 {
    match element {
        Element::Pipe { .. } => 26.0,
        Element::Loss { name, by, .. } => {
            if symbol_of_loss(name, *by).is_some() {
                9.0
            } else {
                2.0
            }
        }
        Element::Pump { .. } | Element::Turbine { .. } => 12.0,
    }
}

/// What is drawn of a loss on a link; nothing of an edge at its end.
fn symbol_of_loss(name: &str, by: LossBy) -> Option<Symbol> {
    symbols::symbols(name, by).into_iter().find(|s| {
        !matches!(
            s,
            Symbol::Entrance | Symbol::RoundedEntrance | Symbol::ReentrantEntrance | Symbol::Exit
        )
    })
}

/// The straight piece of a link on which things lie, clear of its nodes, and of each thing where it begins and ends, as
/// shares of that piece.
fn stretch(system: &NetworkSystem, link: &LinkSaid, way: &[At]) -> (At, At, Vec<(f64, f64)>) {
    let (a, b) = longest(way);
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = (dx * dx + dy * dy).sqrt().max(1e-9);
    let clear = |node: usize| match system.nodes[node].what {
        _ if way.len() > 2 => 0.0,
        NodeKind::Reservoir { .. } => 11.0_f64.min(0.25 * length),
        NodeKind::Junction { .. } => 3.0_f64.min(0.1 * length),
    };
    let (from, to) = (clear(link.from) / length, 1.0 - clear(link.to) / length);
    let all: f64 = link.path.iter().map(room).sum();
    let mut at = from;
    let shares = link.path.iter().map(|element| {
        let begin = at;
        at += (to - from) * room(element) / all.max(1e-9);
        (begin, at)
    });
    let shares = shares.collect();
    (a, b, shares)
}

/// The longest straight piece of a way.
fn longest(way: &[At]) -> (At, At) {
    let length = |pair: &[At]| (pair[1].0 - pair[0].0).abs() + (pair[1].1 - pair[0].1).abs();
    let best = way.windows(2).max_by(|a, b| length(a).total_cmp(&length(b)));
    best.map_or(((0.0, 0.0), (1.0, 0.0)), |pair| (pair[0], pair[1]))
}

/// The arrow of a link, in the first part of its first pipe.
fn arrow(sheet: &mut Sheet, (a, b): (At, At), share: f64, reversed: bool) {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let middle = (a.0 + share * dx, a.1 + share * dy);
    let length = (dx * dx + dy * dy).sqrt().max(1e-9);
    let way = if reversed { -1.0 } else { 1.0 };
    let (ux, uy) = (way * dx / length, way * dy / length);
    let tip = (middle.0 + 2.7 * ux, middle.1 + 2.7 * uy);
    let tail = (middle.0 - 2.7 * ux, middle.1 - 2.7 * uy);
    sheet.line_in(
        Layer::Over,
        &[tail, tip],
        Pen {
            width: 0.35,
            ..Pen::THIN
        },
    );
    sheet.head(Layer::Over, tip, (ux, uy), 3.6, super::sheet::BLACK);
}

fn draw_node(sheet: &mut Sheet, node: &NodeSaid, (x, y): At) {
    match &node.what {
        NodeKind::Reservoir { pressure, .. } => {
            let (half, top, surface, floor) = (9.0, y - 6.5, y - 2.0, y + 7.0);
            let inside = sheet.inside;
            let water = [
                (x - half, surface),
                (x + half, surface),
                (x + half, floor),
                (x - half, floor),
            ];
            let none = Pen {
                width: 0.0,
                ..Pen::THIN
            };
            sheet.outline(Layer::Symbol, &water, none.filled(inside), true);
            let wall = [
                (x - half, top),
                (x - half, floor),
                (x + half, floor),
                (x + half, top),
            ];
            sheet.line_in(Layer::Symbol, &wall, Pen::THICK);
            if pressure.is_some() {
                sheet.line_in(Layer::Symbol, &[(x - half, top), (x + half, top)], Pen::THICK);
            }
            sheet.line_in(
                Layer::Symbol,
                &[(x - half, surface), (x + half, surface)],
                Pen::THIN,
            );
            sheet.block(&[(x - half, top), (x + half, floor)]);
            symbols::surface(sheet, (x, surface));
        }
        NodeKind::Junction { .. } => {
            sheet.circle(
                (x, y),
                1.9,
                Layer::Symbol,
                Pen {
                    width: THICK,
                    ..Pen::THIN
                }
                .filled(WHITE),
            );
        }
    }
}

/// Directions in which something may leave a node, in eighths of a turn from the right, clockwise on the sheet.
const TURNS: [u32; 8] = [2, 6, 0, 4, 1, 3, 7, 5];

#[expect(
    clippy::too_many_arguments,
    reason = "a node's label needs to know all that is around it"
)]
fn label_node(
    sheet: &mut Sheet,
    system: &NetworkSystem,
    index: usize,
    node: &NodeSaid,
    places: &[At],
    ways: &[Vec<At>],
    say: Say<'_>,
    found: Option<&Found>,
) {
    let (x, y) = places[index];
    let mut lines = name_within(&node.name, 28.0);
    let head = found.and_then(|f| f.nodes.get(index)).and_then(Option::as_ref);
    match &node.what {
        NodeKind::Reservoir { level, pressure } => {
            lines.push(say.equal("z", "", level));
            if let Some(pressure) = pressure {
                lines.push(say.equal("p", "", pressure));
            }
            lines.extend(head.cloned());
            let rect = Rect::new(x - 9.0, y - 6.5, x + 9.0, y + 7.0);
            sheet.label(lines, about(rect), (x, y));
        }
        NodeKind::Junction {
            elevation,
            demand,
            supply,
            head: said,
        } => {
            if let Some(z) = elevation {
                lines.push(say.equal("z", "", z));
            }
            if let Some(h) = said {
                lines.push(say.equal("H", "", h));
            } else {
                lines.extend(head.cloned());
            }
            // Directions in which links leave.
            let mut taken: Vec<f64> = Vec::new();
            for (link, way) in system.links.iter().zip(ways) {
                let next = if link.from == index {
                    way.get(1)
                } else if link.to == index {
                    way.get(way.len().saturating_sub(2))
                } else {
                    None
                };
                taken.extend(next.map(|p| libm::atan2(p.1 - y, p.0 - x)));
            }
            for (value, symbol, out) in [(demand, "q", true), (supply, "s", false)] {
                let Some(value) = value else { continue };
                let apart = |turn: u32| {
                    let angle = std::f64::consts::FRAC_PI_4 * f64::from(turn);
                    let far = |t: &f64| {
                        let d = (angle - t).abs() % std::f64::consts::TAU;
                        d.min(std::f64::consts::TAU - d)
                    };
                    taken.iter().map(far).fold(std::f64::consts::PI, f64::min)
                };
                let best = TURNS.iter().copied().fold(2, |best, turn| {
                    if apart(turn) > apart(best) + 0.2 {
                        turn
                    } else {
                        best
                    }
                });
                let angle = std::f64::consts::FRAC_PI_4 * f64::from(best);
                let (ux, uy) = (libm::cos(angle), libm::sin(angle));
                let (near, far) = ((x + 2.6 * ux, y + 2.6 * uy), (x + 11.0 * ux, y + 11.0 * uy));
                let pen = Pen {
                    width: THICK,
                    ..Pen::THIN
                };
                if out {
                    sheet.arrow(near, far, pen, 2.8);
                } else {
                    sheet.arrow(far, near, pen, 2.8);
                }
                taken.push(angle);
                let spots = about(Rect::new(far.0 - 0.8, far.1 - 0.8, far.0 + 0.8, far.1 + 0.8));
                sheet.label(vec![say.equal(symbol, "", value)], spots, far);
            }
            let rect = Rect::new(x - 1.9, y - 1.9, x + 1.9, y + 1.9);
            sheet.label(lines, about(rect), (x, y));
        }
    }
}

/// Symbols and labels of what lies on a link, `centre` being the middle of the whole drawing.
fn label_link(
    sheet: &mut Sheet,
    link: &LinkSaid,
    (a, b, shares): &(At, At, Vec<(f64, f64)>),
    (say, rough, centre): (Say<'_>, bool, At),
    others: &[&Vec<At>],
    found: Option<&Words>,
) {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = (dx * dx + dy * dy).sqrt().max(1e-9);
    let at = |share: f64| (a.0 + share * dx, a.1 + share * dy);
    let mut named = false;
    for (element, (from, to)) in link.path.iter().zip(shares) {
        let share = 0.5 * (from + to);
        let (x, y) = at(share);
        let mut lines = match element {
            Element::Pipe {
                name,
                bore,
                length,
                roughness,
            } => {
                let mut lines = name_within(name, 28.0);
                let length = say.equal("L", "", length);
                lines.push(match bore {
                    Bore::Round(d) => side_by_side(say.equal("D", "", d), &length),
                    Bore::Duct(_) => length,
                });
                if rough {
                    lines.push(say.equal("ε", "", roughness));
                }
                lines
            }
            Element::Loss {
                name,
                coefficient,
                by,
                ..
            } => {
                if let Some(symbol) = symbol_of_loss(name, *by) {
                    sheet.turned((x, y), (dx, dy), |sheet| {
                        symbols::draw(sheet, symbol, (x, y), BORES.1)
                    });
                }
                loss_says(name, *by, coefficient, say)
            }
            Element::Pump { .. } => {
                sheet.turned((x, y), (dx, dy), |sheet| {
                    symbols::machine(sheet, Machine::Pump, (x, y))
                });
                machine_says(element, say)
            }
            Element::Turbine { .. } => {
                sheet.turned((x, y), (dx, dy), |sheet| {
                    symbols::machine(sheet, Machine::Turbine, (x, y))
                });
                machine_says(element, say)
            }
        };
        let is_pipe = matches!(element, Element::Pipe { .. });
        if is_pipe && !named {
            // A link's flow stands with its first pipe.
            lines.extend(found.cloned());
            named = true;
        }
        let reach = match element {
            Element::Pipe { .. } => 0.5 * BORES.1,
            Element::Loss { .. } => HALF,
            _ => ROUND + 0.6,
        };
        let mut spots = Vec::new();
        let (nx, ny) = (-dy / length, dx / length);
        let shifts: &[f64] = if is_pipe {
            &[0.0, 0.07, -0.07, 0.14, -0.14, 0.21, -0.21, 0.28, -0.28]
        } else {
            &[0.0]
        };
        // Away from the middle of the drawing first; above where that says nothing.
        let out = (x - centre.0) * nx + (y - centre.1) * ny;
        let first = if out > 2.0 || (out >= -2.0 && ny < 0.0) {
            1.0
        } else {
            -1.0
        };
        let (width, height) = measure(&lines);
        for away in [1.2, 2.5, 4.5, 7.0, 10.0] {
            for shift in shifts {
                for way in [first, -first] {
                    let (px, py) = at((share + shift).clamp(0.1, 0.9));
                    let (ox, oy) = (way * nx, way * ny);
                    let out = reach + away + 0.5 * (width * ox.abs() + height * oy.abs());
                    let middle = (px + ox * out, py + oy * out);
                    // A label beyond another link would be taken for that one's.
                    let beyond = others
                        .iter()
                        .any(|w| w.windows(2).any(|p| cross(p[0], p[1], (px, py), middle)));
                    if !beyond {
                        spots.push(spot(middle.0, middle.1, 0, 0));
                    }
                }
            }
        }
        if !is_pipe {
            spots.extend(about(Rect::new(x - reach, y - reach, x + reach, y + reach)));
        }
        sheet.label(lines, spots, (x, y));
    }
}
