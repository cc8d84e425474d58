//! Speed of the flow meters: the coefficient alone, and each unknown solved. Each figure is for one call on
//! inputs that change from call to call.

use criterion::{Criterion, criterion_group, criterion_main};
use gradeline::hydraulics::meter::standard::{Device, Taps, discharge_coefficient};
use gradeline::hydraulics::meter::{Element, Gauge, Meter, Problem, Throttle, Unknown, solve};
use gradeline::hydraulics::regime::Limits;
use std::hint::black_box;

/// A cycle of 64 shares from 0 to 1, well spread.
fn shares() -> [f64; 64] {
    std::array::from_fn(|i| (i * 37 % 64) as f64 / 63.0)
}

fn meters(c: &mut Criterion) {
    let mut i = 0;
    let points = shares();
    c.bench_function("meter/coefficient", |b| {
        b.iter(|| {
            i = (i + 1) % 64;
            let s = black_box(points[i]);
            discharge_coefficient(Device::Orifice(Taps::Flange), 0.3 + 0.4 * s, 0.1, 1e4 + 1e6 * s)
        });
    });
    for (name, unknown) in [
        ("meter/flow", Unknown::Flow),
        ("meter/differential", Unknown::Differential),
        ("meter/throat", Unknown::ThroatDiameter),
    ] {
        let limits = Limits::default();
        c.bench_function(name, |b| {
            b.iter(|| {
                i = (i + 1) % 64;
                let s = black_box(points[i]);
                let throttle = Throttle {
                    device: Device::Orifice(Taps::Corner),
                    pipe_diameter: 0.1,
                    throat_diameter: 0.04 + 0.03 * s,
                    coefficient: None,
                    cone_loss_share: 0.1,
                    gas: None,
                    liquid: None,
                };
                let problem = Problem {
                    meter: Meter {
                        density: 998.2,
                        dynamic_viscosity: 1.0016e-3,
                        gravity: 9.81,
                        element: Element::Throttle(throttle),
                        gauge: Gauge::Differential(20e3 + 10e3 * s),
                    },
                    flow: 0.008 + 0.002 * s,
                    unknown,
                };
                solve(&problem, 1.0, &limits)
            });
        });
    }
}

criterion_group!(benches, meters);
criterion_main!(benches);
