//! Slips as changed working, for every kind of system: their spans, their clearance, pairs, a template's own.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::band::Accepted;
use gradeline::band::slip::{self, Clearance, slip_pairs};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::deal::{Dealt, deal_one};
use gradeline::draw::Seed;
use gradeline::solution::{Answer, Case};
use std::collections::{BTreeMap, BTreeSet};

/// Deals 30 draws of every template; says for each how many were refused.
fn everything(draws: u8) -> Vec<(String, u32, Vec<Dealt>)> {
    let (policy, conventions) = (Policy::default(), Conventions::default());
    (builtin_bank().templates.iter())
        .map(|template| {
            let mut refused = 0;
            let mut all = Vec::new();
            for n in 0..draws {
                let seed = Seed::from_bytes([n; 32]);
                match deal_one(template, &seed, &policy, &conventions) {
                    Ok((dealt, why)) => {
                        refused += why.total();
                        all.push(dealt);
                    }
                    Err(faults) => panic!("{faults}"),
                }
            }
            (template.name.clone(), refused, all)
        })
        .collect()
}

/// Prints how often each case happens: `cargo test --test slips -- --ignored --nocapture how_often`.
#[test]
#[ignore = "a report"]
fn how_often_each_case_happens() {
    let mut per_template: BTreeMap<String, [usize; 4]> = BTreeMap::new();
    for (name, refused, draws) in everything(30) {
        let mut of_slip: BTreeMap<(String, String), [usize; 3]> = BTreeMap::new();
        for dealt in &draws {
            for (n, slip) in dealt.slips.iter().enumerate() {
                for (p, part) in dealt.template.parts.iter().enumerate() {
                    let which = match dealt.clearance(n, p) {
                        Some(Clearance::Clear { .. }) => 0,
                        Some(Clearance::Overlaps) => 1,
                        Some(Clearance::TooSmall) => 2,
                        None => continue,
                    };
                    of_slip
                        .entry((slip.slip.name.to_string(), part.name.clone()))
                        .or_default()[which] += 1;
                    per_template.entry(name.clone()).or_default()[which] += 1;
                }
            }
        }
        per_template.entry(name.clone()).or_default()[3] = refused as usize;
        println!("== {name}: {refused} refused for 30");
        for ((slip, part), [clear, overlaps, small]) in of_slip {
            println!("   {slip} | {part} | {clear} {overlaps} {small}");
        }
    }
    println!("template | clear | overlaps | too small | refused");
    let mut sum = [0; 4];
    for (name, counts) in &per_template {
        println!(
            "{name} | {} | {} | {} | {}",
            counts[0], counts[1], counts[2], counts[3]
        );
        for (sum, count) in sum.iter_mut().zip(counts) {
            *sum += count;
        }
    }
    println!("all | {} | {} | {} | {}", sum[0], sum[1], sum[2], sum[3]);
}
