//! Speed of the friction laws and of the solver. Each figure is for one call on inputs that change from call to
//! call, so that nothing is foreseen by the processor or the compiler.

use criterion::{Criterion, criterion_group, criterion_main};
use gradeline::hydraulics::flow::Line;
use gradeline::hydraulics::friction::{Law, Reading, darcy, darcy_colebrook};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity,
};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{Problem, Unknown, solve};
use std::hint::black_box;

/// A cycle of 64 shares from 0 to 1, well spread.
fn shares() -> [f64; 64] {
    std::array::from_fn(|i| (i * 37 % 64) as f64 / 63.0)
}

fn surface(elevation: f64) -> Station {
    Station {
        pressure: 0.0,
        elevation,
        velocity: StationVelocity::Value(0.0),
        alpha: None,
    }
}

fn pipe(diameter: f64, length: f64) -> Element {
    Element::Pipe(Pipe {
        diameter,
        length,
        roughness: 1.5e-4,
        section: Section::ROUND,
    })
}

fn loss(coefficient: f64, pipe: usize) -> Element {
    Element::Loss {
        coefficient,
        law: LossLaw::Fixed,
        pipe,
    }
}

fn water(head: f64, elements: Vec<Element>) -> Path {
    Path {
        density: 998.2,
        dynamic_viscosity: 1.0016e-3,
        vapour_pressure: Some(2339.2),
        atmosphere: 101_325.0,
        gravity: 9.806_65,
        start: surface(head),
        end: surface(0.0),
        elements,
        points: Vec::new(),
    }
}

fn friction(c: &mut Criterion) {
    let points = shares().map(|s| {
        (
            libm::pow(10.0, 3.7 + 4.0 * s),
            libm::pow(10.0, -5.0 + 3.5 * (1.0 - s)),
        )
    });
    let mut each = |name: &str, law: &dyn Fn(f64, f64) -> f64| {
        let mut i = 0;
        c.bench_function(name, |b| {
            b.iter(|| {
                i = (i + 1) % 64;
                let (re, rr) = black_box(points[i]);
                law(re, rr)
            });
        });
    };
    each("friction/colebrook", &|re, rr| {
        darcy_colebrook(re, rr).unwrap_or(f64::NAN)
    });
    for (name, law) in [
        ("friction/haaland", Law::Haaland),
        ("friction/swamee_jain", Law::SwameeJain),
        ("friction/churchill", Law::Churchill),
        ("friction/serghides", Law::Serghides),
        ("friction/fully_rough", Law::FullyRough),
    ] {
        let reading = Reading { law, factor: 1.0 };
        each(name, &move |re, rr| darcy(reading, re, rr, &Limits::default()));
    }
}

/// The bare step from a head to a velocity in one pipe.
fn line(c: &mut Criterion) {
    let heads = shares().map(|s| 1.0 + 20.0 * s);
    for (name, coefficient) in [("line/velocity", 0.0), ("line/velocity_with_losses", 4.5)] {
        let line = Line {
            diameter: 0.1,
            length: 60.0,
            relative_roughness: 1.5e-3,
            laminar_constant: 64.0,
            coefficient,
            kinematic_viscosity: 1.0e-6,
            gravity: 9.81,
        };
        let mut i = 0;
        c.bench_function(name, |b| {
            b.iter(|| {
                i = (i + 1) % 64;
                black_box(line).turbulent_velocity(black_box(heads[i]), 1.0)
            });
        });
    }
}

/// The whole of `solve`, with its checks, proof and warnings.
fn solver(c: &mut Criterion) {
    let one = |d| vec![loss(0.5, 0), pipe(d, 60.0), loss(3.0, 0), loss(1.0, 0)];
    let two = vec![
        loss(0.5, 0),
        pipe(0.1, 60.0),
        loss(0.3, 1),
        pipe(0.08, 30.0),
        loss(1.0, 1),
    ];
    let mut turbine = two.clone();
    turbine.push(Element::Turbine(Machine::new(Duty::Power(150.0), 0.8)));
    for (name, elements, flow, unknown) in [
        ("solve/pressure", one(0.1), 0.02, Unknown::StartPressure),
        ("solve/flow_with_losses", one(0.1), f64::NAN, Unknown::Flow),
        ("solve/flow_two_pipes", two, f64::NAN, Unknown::Flow),
        ("solve/flow_with_turbine_power", turbine, f64::NAN, Unknown::Flow),
        ("solve/diameter", one(f64::NAN), 0.02, Unknown::Diameter(0)),
    ] {
        let problems = shares().map(|s| Problem {
            path: water(5.0 + 15.0 * s, elements.clone()),
            flow,
            unknown,
        });
        let pipes = elements.iter().filter(|e| matches!(e, Element::Pipe(_))).count();
        let readings = vec![Reading::EXACT; pipes];
        let limits = Limits::default();
        let mut i = 0;
        c.bench_function(name, |b| {
            b.iter(|| {
                i = (i + 1) % 64;
                solve(black_box(&problems[i]), &readings, &limits)
            });
        });
    }
}

criterion_group!(benches, friction, line, solver);
criterion_main!(benches);
