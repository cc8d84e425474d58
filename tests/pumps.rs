//! Pumps with curves: printed examples, laws, and what is refused.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::hydraulics::curve::Curve;
use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, OverFlow, Path, Pipe, Section, Station, StationVelocity,
};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{CurveOf, Problem, SolveError, Solved, Unknown, Warning, solve};
use proptest::prelude::*;

/// Foot, US gallon a minute, pound of force on a square foot, horsepower (NIST SP 811).
const FOOT: f64 = 0.3048;
const GPM: f64 = 6.309_019_64e-5;
const PSI: f64 = 6894.757;
const HORSEPOWER: f64 = 745.699_87;
const GRAVITY: f64 = 9.806_65;

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
        roughness: 1e-3 * diameter,
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

fn pump(curve: Curve) -> Element {
    Element::Pump(Machine::new(Duty::Curve(curve), 1.0))
}

fn water(lift: f64, elements: Vec<Element>) -> Path {
    Path {
        density: 998.2,
        dynamic_viscosity: 1.0e-3,
        vapour_pressure: Some(2339.0),
        atmosphere: 101_325.0,
        gravity: GRAVITY,
        start: surface(0.0),
        end: surface(lift),
        elements,
        points: Vec::new(),
    }
}

fn find(path: Path, flow: f64, unknown: Unknown, law: Law) -> Result<Solved, SolveError> {
    let pipes = path
        .elements
        .iter()
        .filter(|e| matches!(e, Element::Pipe(_)))
        .count();
    let readings = vec![Reading { law, factor: 1.0 }; pipes];
    solve(&Problem { path, flow, unknown }, &readings, &Limits::default())
}

fn operate(path: Path) -> Result<Solved, SolveError> {
    find(path, f64::NAN, Unknown::Flow, Law::Colebrook)
}

fn near(found: f64, printed: f64, share: f64) {
    assert!((found / printed - 1.0).abs() <= share, "{found} for {printed}");
}

/// White, Fluid Mechanics, examples 11.6 to 11.8 (from memory, as are the numbers): a pump H = 490 - 0.26 Q² (ft,
/// thousand gallons a minute) lifts water by 120 ft through 1500 ft of 16 in pipe with f = 0.030. One pump gives
/// 15,200 gal/min, two in parallel 16,300, two in series 21,500.
#[test]
fn white_one_pump_two_in_parallel_two_in_series() {
    let kilo = 1000.0 * GPM;
    let one = Curve::quadratic(490.0 * FOOT, 0.0, -0.26 * FOOT / (kilo * kilo)).unwrap();
    let flow = |curve: Curve| {
        let path = water(
            120.0 * FOOT,
            vec![pump(curve), pipe(16.0 / 12.0 * FOOT, 1500.0 * FOOT)],
        );
        let found = find(path, f64::NAN, Unknown::Flow, Law::Fixed(0.030)).unwrap();
        (found.value / kilo, found.state.pump_heads[0] / FOOT)
    };
    let (alone, head) = flow(one.clone());
    near(alone, 15.2, 0.003);
    near(head, 430.0, 0.003);
    near(flow(one.clone().in_parallel(2)).0, 16.3, 0.003);
    near(flow(one.in_series(2)).0, 21.5, 0.003);
}

/// White, Fluid Mechanics, example 11.2 (from memory, as are the numbers): NPSH required 40 ft, 6 ft lost on the
/// suction side, air at 14.7 psi. The inlet has to lie 12.7 ft below the surface for water at 60 °F (vapour
/// pressure 0.26 psi, 62.4 lbf/ft³), and 38.4 ft for water at 200 °F (11.52 psi, 60.1 lbf/ft³).
#[test]
fn white_where_a_pump_may_stand() {
    for (vapour, weight, elevation) in [(0.26, 62.4, -12.7), (11.52, 60.1, -38.4)] {
        let (bore, flow) = (0.9, 24_000.0 * GPM);
        let speed = flow / (std::f64::consts::FRAC_PI_4 * bore * bore);
        let mut machine = Machine::new(Duty::Head(30.0), 1.0);
        machine.elevation = Some(elevation * FOOT);
        let mut path = water(
            f64::NAN,
            vec![
                loss(6.0 * FOOT * 2.0 * GRAVITY / (speed * speed), 0),
                Element::Pump(machine),
                pipe(bore, 0.0),
            ],
        );
        path.density = weight * 4.448_221_615 / (FOOT * FOOT * FOOT) / GRAVITY;
        path.vapour_pressure = Some(vapour * PSI);
        path.atmosphere = 14.7 * PSI;
        let found = find(path, flow, Unknown::EndElevation, Law::Colebrook).unwrap();
        near(found.state.pumps[0].npsh_available.unwrap() / FOOT, 40.0, 0.002);
    }
}

/// Munson, Young and Okiishi, Fundamentals of Fluid Mechanics, example 12.3 (from memory, as are the numbers): 0.5 ft³/s
/// through a 4 in suction line with K = 20 in all, water at 80 °F, air at 14.7 psi, NPSH required 15 ft: the pump may
/// stand 7.65 ft above the surface.
#[test]
fn munson_the_highest_place_of_a_pump() {
    let mut machine = Machine::new(Duty::Head(10.0), 1.0);
    machine.elevation = Some(7.65 * FOOT);
    let mut path = water(
        f64::NAN,
        vec![
            pipe(4.0 / 12.0 * FOOT, 0.0),
            loss(20.0, 0),
            Element::Pump(machine),
        ],
    );
    path.density = 62.22 * 4.448_221_615 / (FOOT * FOOT * FOOT) / GRAVITY;
    path.vapour_pressure = Some(0.5069 * PSI);
    path.atmosphere = 14.7 * PSI;
    let found = find(
        path,
        0.5 * FOOT * FOOT * FOOT,
        Unknown::EndElevation,
        Law::Colebrook,
    )
    .unwrap();
    near(found.state.pumps[0].npsh_available.unwrap() / FOOT, 15.0, 0.002);
}

/// Munson, Young and Okiishi, Fundamentals of Fluid Mechanics, example 12.4 (from memory, as are the numbers): 10 ft of
/// lift, 200 ft of 6 in pipe with f = 0.02, losses of 0.5, 1.5 and 1.0. Where the pump's curve meets the system's at
/// 1600 gal/min and 66.5 ft, with an efficiency of 84 %, the shaft takes 32.0 hp. The curve here is a line through
/// that point.
#[test]
fn munson_an_operating_point_and_its_power() {
    let curve = Curve::through(&[
        (0.0, 98.5 * FOOT),
        (1600.0 * GPM, 66.5 * FOOT),
        (2400.0 * GPM, 50.5 * FOOT),
    ]);
    let mut machine = Machine::new(Duty::Curve(curve.unwrap()), 0.84);
    machine.electric_efficiency = 0.9;
    let mut path = water(
        10.0 * FOOT,
        vec![
            loss(0.5, 0),
            Element::Pump(machine),
            pipe(0.5 * FOOT, 200.0 * FOOT),
            loss(2.5, 0),
        ],
    );
    path.density = 62.4 * 4.448_221_615 / (FOOT * FOOT * FOOT) / GRAVITY;
    let found = find(path, f64::NAN, Unknown::Flow, Law::Fixed(0.02)).unwrap();
    near(found.value / GPM, 1600.0, 0.003);
    near(found.state.pump_heads[0] / FOOT, 66.5, 0.003);
    near(found.state.pump_powers[0] / HORSEPOWER, 32.0, 0.003);
    near(
        found.state.pumps[0].electric_power,
        found.state.pump_powers[0] / 0.9,
        1e-14,
    );
}

const POINTS: [(f64, f64); 6] = [
    (0.0, 42.0),
    (0.008, 41.0),
    (0.016, 38.0),
    (0.024, 32.5),
    (0.032, 24.0),
    (0.038, 15.0),
];

fn main_of(lift: f64, curve: Curve) -> Path {
    water(
        lift,
        vec![loss(0.5, 0), pump(curve), pipe(0.125, 320.0), loss(4.0, 0)],
    )
}

#[test]
fn a_humped_curve_meets_the_system_twice_and_the_point_that_holds_comes_first() {
    let hump = [(0.0, 20.0), (0.01, 24.0), (0.02, 23.0), (0.03, 17.0)];
    let found = operate(main_of(21.0, Curve::through(&hump).unwrap())).unwrap();
    let [Warning::SecondSolution { value: second }] = found.warnings[..] else {
        panic!("{:?}", found.warnings);
    };
    assert!(second < found.value, "{second} and {}", found.value);
    // At the second one too, the pump gives what the system takes.
    let at = find(
        main_of(21.0, Curve::through(&hump).unwrap()),
        second,
        Unknown::EndElevation,
        Law::Colebrook,
    );
    near(at.unwrap().value, 21.0, 1e-9);
    // A lift below the shut-off head is met once.
    let found = operate(main_of(18.0, Curve::through(&hump).unwrap())).unwrap();
    assert_eq!(found.warnings, []);
    // Above the hump there is no flow at all; between, the curve begins too low and never gets there.
    let none = operate(main_of(24.5, Curve::through(&hump).unwrap()));
    assert!(
        matches!(none, Err(SolveError::NoFlow { short_by }) if (short_by - 4.5).abs() < 1e-9),
        "{none:?}"
    );
}

#[test]
fn what_lies_off_a_curve_is_refused_and_named() {
    let curve = || Curve::through(&POINTS).unwrap();
    let lifted = operate(main_of(43.0, curve()));
    assert!(
        matches!(lifted, Err(SolveError::NoFlow { short_by }) if (short_by - 1.0).abs() < 1e-9),
        "{lifted:?}"
    );
    // Downhill the flow runs on beyond the last point.
    let off = operate(main_of(-60.0, curve())).unwrap_err();
    let expected = SolveError::OffCurve {
        pump: 0,
        what: CurveOf::Head,
        flow: 0.038,
        range: (0.0, 0.038),
    };
    assert_eq!(off, expected);
    // Points that begin late.
    let late = Curve::through(&POINTS[2..]).unwrap();
    let off = operate(main_of(40.0, late)).unwrap_err();
    assert!(matches!(off, SolveError::OffCurve { flow: 0.016, .. }), "{off:?}");
    // A flow that is stated.
    let off = find(
        main_of(f64::NAN, curve()),
        0.05,
        Unknown::EndElevation,
        Law::Colebrook,
    )
    .unwrap_err();
    assert!(
        matches!(
            off,
            SolveError::OffCurve {
                what: CurveOf::Head,
                ..
            }
        ),
        "{off:?}"
    );
    // An efficiency that is not known so far.
    let mut machine = Machine::new(Duty::Curve(curve()), 1.0);
    let short = Curve::through(&[(0.0, 0.0), (0.01, 0.5), (0.012, 0.55)]).unwrap();
    machine.efficiency = OverFlow::Curve(short);
    let mut path = main_of(20.0, curve());
    path.elements[1] = Element::Pump(machine);
    let off = operate(path).unwrap_err();
    assert!(
        matches!(
            off,
            SolveError::OffCurve {
                what: CurveOf::Efficiency,
                ..
            }
        ),
        "{off:?}"
    );
    // A speed: no point of the curve lies on the parabola of so small a head at so large a flow.
    let slower = find(main_of(0.0, curve()), 0.03, Unknown::PumpSpeed(0), Law::Colebrook);
    assert!(slower.is_ok(), "{slower:?}");
    let path = main_of(-10.0, curve());
    let off = find(path, 0.03, Unknown::PumpSpeed(0), Law::Colebrook).unwrap_err();
    assert!(
        matches!(off, SolveError::NoSolution { why, .. } if why.contains("beyond the end")),
        "{off:?}"
    );
}

#[test]
fn two_pumps_with_curves_on_one_path_add_their_heads() {
    let (first, second) = (
        Curve::through(&POINTS).unwrap(),
        Curve::quadratic(30.0, 0.0, -9000.0).unwrap(),
    );
    let path = water(
        35.0,
        vec![
            pump(first.clone()),
            pipe(0.125, 320.0),
            pump(second.clone()),
            loss(2.0, 0),
        ],
    );
    let found = operate(path).unwrap();
    near(found.state.pump_heads[0], first.head(found.value), 1e-14);
    near(found.state.pump_heads[1], second.head(found.value), 1e-14);
}

prop_compose! {
    /// A falling curve through points, or a parabola, and a lift that it reaches.
    fn curves()(a in 10.0..80.0_f64, end in 0.005..0.2_f64, points in prop::bool::ANY,
        falls in prop::collection::vec(0.05..1.0_f64, 4), share in 0.05..0.9_f64) -> (Curve, f64) {
        let curve = if points {
            let all: f64 = falls.iter().sum();
            let mut head = a;
            let mut at = vec![(0.0, a)];
            for (i, fall) in falls.iter().enumerate() {
                head -= 0.8 * a * fall / all;
                at.push((end * (i + 1) as f64 / 4.0, head));
            }
            Curve::through(&at).unwrap()
        } else {
            Curve::quadratic(a, 0.0, -a / (end * end)).unwrap()
        };
        (curve, share * a)
    }
}

proptest! {
    /// Equal pumps share the flow, and each works on its own curve.
    #[test]
    fn equal_pumps_share_the_work((curve, lift) in curves(), parallel in 1..4_u32, series in 1..4_u32) {
        let path = water(lift, vec![pump(curve.clone().in_parallel(parallel).in_series(series)), pipe(0.2, 150.0)]);
        match operate(path) {
            Ok(found) => {
                let each = found.state.pumps[0].flow_each;
                near(each * f64::from(parallel), found.value, 1e-14);
                near(found.state.pump_heads[0], f64::from(series) * curve.head(each), 1e-12);
            }
            Err(error) => {
                let off = matches!(error, SolveError::OffCurve { .. } | SolveError::OnlyAtJump { .. });
                prop_assert!(off, "{error:?}");
            }
        }
    }

    /// What was found gives back every value that it was found from; a speed and a trim too.
    #[test]
    fn solving_back_returns_what_was_given((curve, lift) in curves(), speed in 0.7..1.1_f64, trim in 0.85..1.0_f64) {
        let curve = curve.rated_at(1450.0 / 60.0).with_impeller(0.24);
        let curve = curve.at_speed(speed * 1450.0 / 60.0).trimmed(trim * 0.24);
        let ratio = speed * trim;
        let elements = vec![loss(3.0, 0), pump(curve), pipe(0.15, 200.0)];
        let path = water(lift * ratio * ratio, elements);
        let Ok(found) = operate(path.clone()) else { return Ok(()); };
        for (unknown, value) in [
            (Unknown::PumpSpeed(0), speed * 1450.0 / 60.0),
            (Unknown::PumpTrim(0), trim * 0.24),
            (Unknown::EndElevation, path.end.elevation),
            (Unknown::Length(0), 200.0),
            (Unknown::LossCoefficient(0), 3.0),
            (Unknown::Diameter(0), 0.15),
        ] {
            let mut problem = Problem { path: path.clone(), flow: found.value, unknown };
            problem.put(f64::NAN).unwrap();
            let back = solve(&problem, &[Reading::EXACT], &Limits::default()).unwrap();
            let matches = std::iter::once(back.value)
                .chain(back.warnings.iter().filter_map(|w| match w {
                    Warning::SecondSolution { value } => Some(*value),
                    _ => None,
                }))
                .any(|v| (v / value - 1.0).abs() < 1e-6);
            prop_assert!(matches, "{unknown:?}: {} for {value}", back.value);
        }
    }

    /// More lift, more length, more loss: less flow. More speed, more pumps: more flow.
    #[test]
    fn the_operating_point_moves_as_it_should((curve, lift) in curves()) {
        let flow = |curve: Curve, lift: f64, length: f64, k: f64| {
            operate(water(lift, vec![loss(k, 0), pump(curve), pipe(0.2, length)])).map(|found| found.value)
        };
        let Ok(base) = flow(curve.clone(), lift, 300.0, 2.0) else { return Ok(()); };
        let no_more = |other: Result<f64, SolveError>| other.is_ok_and(|q| q <= base * (1.0 + 1e-12));
        let no_less = |other: Result<f64, SolveError>| match other {
            Ok(q) => q >= base * (1.0 - 1e-12),
            // Further than the curve is known, but further.
            Err(error) => matches!(error, SolveError::OffCurve { .. } | SolveError::OnlyAtJump { .. }),
        };
        prop_assert!(no_more(flow(curve.clone(), lift * 1.05, 300.0, 2.0)));
        prop_assert!(no_more(flow(curve.clone(), lift, 400.0, 2.0)));
        prop_assert!(no_more(flow(curve.clone(), lift, 300.0, 9.0)));
        prop_assert!(no_less(flow(curve.clone().at_speed(1.1), lift, 300.0, 2.0)));
        prop_assert!(no_less(flow(curve.clone().in_parallel(2), lift, 300.0, 2.0)));
        prop_assert!(no_less(flow(curve.in_series(2), lift, 300.0, 2.0)));
    }
}

/// The templates on pumps are dealt without many candidates being refused, and their worked solutions hold together.
#[test]
fn templates_on_pumps_deal_well() {
    let bank = gradeline::bank::builtin_bank();
    let course = gradeline::bank::course::Course::default();
    for name in [
        "washery-pit-pump",
        "works-main-two-pumps",
        "glasshouse-pump-speed",
    ] {
        let template = bank.get(name).unwrap();
        let mut refused = 0;
        for n in 0..20_u8 {
            let seed = gradeline::draw::Seed::from_bytes([n; 32]);
            match gradeline::deal::deal_one(template, &seed, &course.policy, &course.conventions) {
                Ok((dealt, others)) => {
                    refused += others.0.values().sum::<u32>();
                    let worked = gradeline::solution::worked(
                        &dealt.case,
                        Some((template, &dealt.givens)),
                        &course.policy.limits,
                        &course.conventions,
                    );
                    assert!(worked.is_ok(), "{name}: {worked:?}");
                }
                Err(faults) => panic!("{name}: {faults}"),
            }
        }
        assert!(refused < 20 * 8, "{name}: {refused} candidates refused for 20");
    }
}

/// The first example of the page on pumps, worked out with scipy 1.17.1 (`brentq` on the difference of the two curves,
/// `PchipInterpolator`), friction factors by fluids 1.3.1 and water by iapws 1.5.5, whose density is 6e-7 less.
#[test]
fn the_documented_example_stands() {
    let page = include_str!("../docs/pumps.md");
    let yaml = page
        .split("```yaml system\n")
        .nth(1)
        .unwrap()
        .split("```")
        .next()
        .unwrap();
    let system = gradeline::bank::system::System::parse(yaml, "pumps.md").unwrap();
    let case = gradeline::solution::Case::solve(system, None, &Limits::default()).unwrap();
    let conventions = gradeline::bank::course::Course::default().conventions;
    let results = case.results(&conventions);
    let of = |name: &str| results.get(name).unwrap().quantity.value;
    for (name, value) in [
        ("Q", 0.023_485_727_835),
        ("h_P", 32.926_152_864),
        ("eta", 0.759_584_414_5),
        ("P_el", 10_964.937_393),
        ("E_year", 1.973_688_730_8e11),
        ("cost", 8_771.949_914),
        ("NPSH_a", 7.382_121_060),
        ("NPSH_r", 3.013_474_706),
    ] {
        near(of(name), value, 2e-6);
    }
}
