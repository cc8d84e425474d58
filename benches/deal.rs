//! How long it takes to work out one draw, and to deal one problem, beside what one bare friction solve takes.

use criterion::{Criterion, criterion_group, criterion_main};
use gradeline::band::bands;
use gradeline::band::slip::{Pairs, slip_answers};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::deal::difficulty::Difficulty;
use gradeline::deal::{assess, deal_one};
use gradeline::draw::{Candidates, Seed};
use gradeline::hydraulics::friction::darcy_colebrook;
use std::hint::black_box;
use std::time::Duration;

/// Templates of each kind.
const TEMPLATES: [&str; 15] = [
    "rinsing-line-flow",
    "penstock-turbine",
    "brewery-two-bores",
    "deck-wash-smallest-diameter",
    "works-main-two-pumps",
    "brewery-cooling-orifice",
    "capillary-viscometer",
    "trunk-main-leak",
    "mine-main-ageing",
    "terraced-basins",
    "dye-vat-emptying",
    "shipyard-ring",
    "paper-mill-two-mains",
    "ballast-tanks-equalising",
    "raw-water-venturi",
];

fn measure(c: &mut Criterion) {
    let conventions = Conventions::default();
    let policy = Policy::default();
    let bank = builtin_bank();
    let seed = Seed::from_bytes([1; 32]);
    let mut group = c.benchmark_group("deal");
    group
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(2))
        .sample_size(20);
    group.bench_function("bare: one friction factor by Colebrook-White", |b| {
        b.iter(|| darcy_colebrook(black_box(8.3e4), black_box(1.7e-3)));
    });
    for name in TEMPLATES {
        let template = bank.get(name).expect("a built-in template");
        let dealt = match deal_one(template, &seed, &policy, &conventions) {
            Ok((dealt, _)) => dealt,
            Err(faults) => panic!("{faults}"),
        };
        group.bench_function(format!("{name}: candidate drawn"), |b| {
            b.iter(|| Candidates::new(template, black_box(&seed)).next());
        });
        group.bench_function(format!("{name}: bands"), |b| {
            b.iter(|| {
                bands(
                    template,
                    &dealt.givens,
                    black_box(&dealt.case),
                    &policy,
                    &conventions,
                )
            });
        });
        group.bench_function(format!("{name}: slips"), |b| {
            b.iter(|| {
                slip_answers(
                    template,
                    &dealt.givens,
                    black_box(&dealt.case),
                    &dealt.accepted,
                    &policy,
                    &conventions,
                )
            });
        });
        group.bench_function(format!("{name}: all pairs of slips"), |b| {
            b.iter(|| {
                let found = (dealt.slips.as_slice(), dealt.accepted.as_slice());
                let case = black_box(&dealt.case);
                let pairs = Pairs::new(template, &dealt.givens, case, found, &policy, &conventions);
                pairs.map(|pairs| pairs.each().filter_map(|slips| pairs.answers(slips)).count())
            });
        });
        group.bench_function(format!("{name}: difficulty"), |b| {
            b.iter(|| Difficulty::of(black_box(&dealt.case), &dealt.accepted, &policy.limits));
        });
        group.bench_function(format!("{name}: one draw worked out"), |b| {
            b.iter(|| assess(template, black_box(dealt.draw.clone()), &policy, &conventions));
        });
    }
    group.finish();
}

criterion_group!(benches, measure);
criterion_main!(benches);
