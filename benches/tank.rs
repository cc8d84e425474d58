//! Speed of timing a tank, of the level after a time and of the bore for a time.

use criterion::{Criterion, criterion_group, criterion_main};
use gradeline::hydraulics::friction::Reading;
use gradeline::hydraulics::path::{Element, LossLaw, Path, Pipe, Section, Station, StationVelocity};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::tank::{Asked, Problem, Shape, Until, Vessel, solve};
use std::hint::black_box;

fn vessel(shape: Shape, level: f64) -> Vessel {
    Vessel {
        shape,
        floor: 0.0,
        level,
        pressure: 0.0,
        brim: None,
        mouth: None,
        inflow: 0.0,
    }
}

fn problem(shape: Shape, second: Option<Shape>, asked: Asked) -> Problem {
    let station = |elevation: f64| Station {
        pressure: 0.0,
        elevation,
        velocity: StationVelocity::Value(0.0),
        alpha: None,
    };
    Problem {
        path: Path {
            density: 998.2,
            dynamic_viscosity: 1.0016e-3,
            vapour_pressure: None,
            atmosphere: 101_325.0,
            gravity: 9.806_65,
            start: station(0.0),
            end: station(-1.0),
            elements: vec![
                Element::Pipe(Pipe {
                    diameter: 0.05,
                    length: 60.0,
                    roughness: 1.5e-4,
                    section: Section::ROUND,
                }),
                Element::Loss {
                    coefficient: 1.5,
                    law: LossLaw::Fixed,
                    pipe: 0,
                },
            ],
            points: Vec::new(),
        },
        start: Some(vessel(shape, 4.0)),
        end: second.map(|shape| vessel(shape, 0.5)),
        asked,
    }
}

fn tanks(c: &mut Criterion) {
    let even = || Shape::Constant { area: 3.0 };
    let lying = || Shape::LyingCylinder {
        diameter: 4.2,
        length: 3.0,
    };
    let time = Asked::Time(Until::Level(2.5));
    for (name, problem) in [
        ("tank/time_upright", problem(even(), None, time)),
        (
            "tank/time_lying_into_lying",
            problem(lying(), Some(lying()), time),
        ),
        ("tank/level", problem(even(), None, Asked::Level(1500.0))),
        (
            "tank/bore",
            problem(
                even(),
                None,
                Asked::Diameter {
                    pipe: 0,
                    until: Until::Level(2.5),
                    time: 1500.0,
                },
            ),
        ),
    ] {
        c.bench_function(name, |b| {
            b.iter(|| solve(black_box(&problem), &[Reading::EXACT], &Limits::default()));
        });
    }
}

criterion_group!(benches, tanks);
criterion_main!(benches);
