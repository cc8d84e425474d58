//! Says, before a line uses it, how a value came to the unit in which the line has it.

use crate::bank::prose::{Block, Inline};
use crate::equation::{Expr, Line, Relation, Style};
use crate::solution::Step;
use std::collections::BTreeSet;

/// What has been said so far: the name of a value, and the two ways to write it that stood next to each other.
type Said = BTreeSet<(String, String, String)>;

/// Puts every change of unit where it is first needed: beside the value in a table or list that names it, else as a line
/// of its own before the one that uses it.
pub(super) fn bring(steps: &mut [Step]) {
    let mut said = Said::new();
    for i in 0..steps.len() {
        let (before, now) = steps.split_at_mut(i);
        let Some(step) = now.first_mut() else { continue };
        for j in 0..step.body.len() {
            let (above, now) = step.body.split_at_mut(j);
            if let Some(block) = now.first_mut() {
                let mut earlier: Vec<&mut Block> =
                    before.iter_mut().flat_map(|step| &mut step.body).collect();
                earlier.extend(above);
                in_block(&mut earlier, block, &mut said);
            }
        }
    }
}

fn in_block(earlier: &mut [&mut Block], block: &mut Block, said: &mut Said) {
    match block {
        Block::List { items, .. } => {
            for block in items.iter_mut().flatten() {
                in_block(earlier, block, said);
            }
        }
        Block::Equation(lines) => {
            let mut all: Vec<Line> = Vec::with_capacity(lines.len());
            for line in std::mem::take(lines) {
                add(earlier, &mut all, line, said);
            }
            *lines = all;
        }
        _ => {}
    }
}

/// Adds a line, and before it what it needs.
fn add(earlier: &mut [&mut Block], lines: &mut Vec<Line>, mut line: Line, said: &mut Said) {
    for needed in std::mem::take(&mut line.brought) {
        if pairs(&needed).iter().all(|pair| said.contains(pair)) {
            continue;
        }
        if beside(earlier, lines, &needed) {
            said.extend(pairs(&needed));
        } else {
            add(earlier, lines, needed, said);
        }
    }
    said.extend(pairs(&line));
    lines.push(line);
}

/// The name that a line gives a value, with each two ways of writing it that stand next to each other.
fn pairs(line: &Line) -> Vec<(String, String, String)> {
    let text = |expr: &Expr| expr.plain(Style::default());
    let name = text(&line.first);
    let mut found: Vec<_> = (line.rest.windows(2))
        .filter(|two| two.iter().all(|(_, side)| matches!(side, Expr::Number(_))))
        .map(|two| {
            let (a, b) = (text(&two[0].1), text(&two[1].1));
            let (a, b) = if a < b { (a, b) } else { (b, a) };
            (name.clone(), a, b)
        })
        .collect();
    // A product of two names that is used as one number.
    if found.is_empty()
        && let Some((_, last)) = line.rest.last()
    {
        found.push((name, String::new(), text(last)));
    }
    found
}

/// Whether the second value could be put beside the first where that was listed.
fn beside(earlier: &mut [&mut Block], lines: &mut [Line], needed: &Line) -> bool {
    let [(_, from @ Expr::Number(old)), (_, to @ Expr::Number(new))] = needed.rest.as_slice() else {
        return false;
    };
    // What comes into another system of units stands by itself.
    if old
        .unit
        .is_us_customary()
        .is_some_and(|us| new.unit.is_us_customary() == Some(!us))
    {
        return false;
    }
    let said = |words: &mut Vec<Inline>| {
        let at = words.windows(3).position(|three| {
            matches!(three, [Inline::Math(symbol), Inline::Text(is), Inline::Value(written)]
                if *symbol == needed.first && is == " = " && written == old)
        });
        if let Some(at) = at {
            words.splice(
                at + 3..at + 3,
                [Inline::Text(" = ".to_owned()), Inline::Value(new.clone())],
            );
        }
        at.is_some()
    };
    let listed = |line: &Line| {
        line.first == needed.first && matches!(line.rest.last(), Some((_, last)) if last == from)
    };
    if let Some(line) = lines.iter_mut().rev().find(|line| listed(line)) {
        line.rest.push((Relation::Equal, to.clone()));
        return true;
    }
    for block in earlier.iter_mut().rev() {
        if let Block::Paragraph(words) = block
            && said(words)
        {
            return true;
        }
        match block {
            Block::Table(table) => {
                for row in &mut table.rows {
                    if let [name, value, ..] = row.as_mut_slice()
                        && matches!(name.as_slice(), [Inline::Math(symbol)] if *symbol == needed.first)
                        && matches!(value.as_slice(), [Inline::Value(written)] if written == old)
                    {
                        value.extend([Inline::Text(" = ".to_owned()), Inline::Value(new.clone())]);
                        return true;
                    }
                }
            }
            Block::Equation(lines) => {
                if let Some(line) = lines.iter_mut().rev().find(|line| listed(line)) {
                    line.rest.push((Relation::Equal, to.clone()));
                    return true;
                }
            }
            _ => {}
        }
    }
    false
}
