//! How long it takes to work out one draw of the kinds of system beside the path: bands, slips, all of it.

use criterion::{Criterion, criterion_group, criterion_main};
use gradeline::band::{bands, slip::slip_answers};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::deal::{assess, deal_one};
use gradeline::draw::Seed;
use std::hint::black_box;

fn measure(c: &mut Criterion) {
    let (policy, conventions) = (Policy::DEFAULT, Conventions::default());
    let bank = builtin_bank();
    let seed = Seed::from_bytes([1; 32]);
    for name in [
        "shipyard-ring",
        "terraced-basins",
        "paper-mill-two-mains",
        "dye-vat-emptying",
        "ballast-tanks-equalising",
        "raw-water-venturi",
        "trunk-main-leak",
    ] {
        let template = bank.get(name).expect("a built-in template");
        let dealt = match deal_one(template, &seed, &policy, &conventions) {
            Ok((dealt, _)) => dealt,
            Err(faults) => panic!("{faults}"),
        };
        c.bench_function(&format!("{name}: bands"), |b| {
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
        c.bench_function(&format!("{name}: slips"), |b| {
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
        c.bench_function(&format!("{name}: one draw worked out"), |b| {
            b.iter(|| assess(template, black_box(dealt.draw.clone()), &policy, &conventions));
        });
    }
}

criterion_group!(benches, measure);
criterion_main!(benches);
