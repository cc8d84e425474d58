//! How long it takes to work out one draw, and to deal one problem.

use criterion::{Criterion, criterion_group, criterion_main};
use gradeline::band::bands;
use gradeline::band::slip::{slip_answers, slip_pairs};
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy, UnitSystem};
use gradeline::deal::{assess, deal_one};
use gradeline::draw::{Candidates, Seed};
use gradeline::hydraulics::regime::Limits;
use gradeline::quantity::DecimalMark;
use std::hint::black_box;

fn measure(c: &mut Criterion) {
    let conventions = Conventions {
        units: UnitSystem::Si,
        decimal_mark: DecimalMark::Point,
        figures: 4,
        property_figures: 4,
    };
    let policy = Policy {
        reading_error: 0.05,
        limits: Limits::default(),
        follow_through_share: 1.0,
        slip_share: 0.0,
        review_margin: 0.0,
        accept_missing_unit: false,
        ..Policy::DEFAULT
    };
    let bank = builtin_bank();
    let seed = Seed::from_bytes([1; 32]);
    for name in ["rinsing-line-flow", "penstock-turbine", "brewery-two-bores"] {
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
        c.bench_function(&format!("{name}: all pairs of slips"), |b| {
            b.iter(|| {
                slip_pairs(
                    template,
                    &dealt.givens,
                    black_box(&dealt.case),
                    &dealt.slips,
                    &policy,
                    &conventions,
                )
                .count()
            });
        });
        c.bench_function(&format!("{name}: one draw worked out"), |b| {
            b.iter(|| assess(template, black_box(dealt.draw.clone()), &policy, &conventions));
        });
        c.bench_function(&format!("{name}: candidates drawn"), |b| {
            b.iter(|| Candidates::new(template, black_box(&seed)).next());
        });
        c.bench_function(&format!("{name}: dealt"), |b| {
            b.iter(|| deal_one(template, black_box(&seed), &policy, &conventions));
        });
    }
}

criterion_group!(benches, measure);
criterion_main!(benches);
