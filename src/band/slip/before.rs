//! Slips that change the problem or how its friction factors are had, before it is solved.

use super::base::Base;
use super::library::How;
use super::pump;
use super::setup::{Numbers, Role, Setup};
use super::units::in_values;
use crate::bank::system::Value;
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::meter::{Element as MeterElement, Gauge, Pitot};
use crate::hydraulics::network::Node;
use crate::hydraulics::path::{Duty, Element, LossLaw, Machine, OverFlow, Section, StationVelocity};
use crate::hydraulics::profile::{Motion, Unknown as ProfileUnknown};
use crate::hydraulics::solve::Unknown;
use crate::solution::Case;

/// What the 2 under the root left out makes of a velocity.
pub(super) const WITHOUT_TWO: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// Puts a slip into the setup; says whether it changed anything.
pub(super) fn before(how: How, base: &Base<'_>, setup: &mut Setup) -> bool {
    match how {
        How::LossLeftOut(word) => losses(base, setup, 0.0, &|name| name.contains(word)),
        How::LossTwice(word) => losses(base, setup, 2.0, &|name| name.contains(word)),
        How::AllLossesLeftOut => losses(base, setup, 0.0, &|_| true),
        How::LossOnOtherPipe => loss_on_other_pipe(setup),
        How::ChangeOnWiderPipe => change_on_wider_pipe(base, setup),
        How::OneVelocity => one_velocity(setup),
        How::VelocityHeadLeftOut => velocity_head_left_out(base, setup),
        How::VelocityHeadDoubled => velocity_head_doubled(base, setup),
        How::AlphaOne => alpha_one(base, setup),
        How::ElevationLeftOut => elevations(setup, false),
        How::ElevationSign => elevations(setup, true),
        How::GaugeAndAbsolute => gauge_and_absolute(base, setup),
        How::GravityLeftOutOfHead => {
            let gravity = *setup.numbers.fluid()[2];
            !matches!(
                setup.numbers,
                Numbers::Meter(_) | Numbers::Profile(_) | Numbers::Tank(_)
            ) && setup
                .numbers
                .change(Role::Pressure, &mut |pressure| *pressure *= gravity)
        }

        How::Fanning => {
            if matches!(setup.numbers, Numbers::Meter(_)) {
                return false;
            }
            for reading in &mut setup.readings {
                reading.factor *= 0.25;
            }
            // Laminar flow has no reading, but a constant.
            setup
                .numbers
                .sections(&mut |section| section.laminar_constant *= 0.25);
            true
        }
        How::FrictionLeftOut => friction_left_out(setup),
        How::SmoothWall => roughness(base, setup, 0.0),
        How::RoughnessTenfold => roughness(base, setup, 10.0),
        How::LaminarFormula => !base.all_laminar() && law(setup, &|_| Some(Law::LaminarEverywhere)),
        How::NaturalLogarithm => {
            !(0..base.flowing.len()).any(|i| base.is_laminar(i))
                && law(setup, &|_| Some(Law::NaturalLogarithm))
        }
        How::TurbulentFormula => {
            if !(0..base.flowing.len()).any(|i| base.is_laminar(i)) {
                return false;
            }
            setup.limits.laminar_end = 0.0;
            if let (Some(path), Some(state)) = (setup.numbers.path(), base.state(0)) {
                path.start.alpha = Some(state.start.alpha);
                path.end.alpha = Some(state.end.alpha);
            }
            true
        }
        How::FirstGuess => {
            let guess = |i: usize| !base.is_laminar(i) && base.flowing[i].relative_roughness > 0.0;
            let limit = setup.limits.fully_rough_start;
            let wrong = |i: usize| guess(i) && base.flowing[i].rough_number < RIGHT_GUESS * limit;
            (0..base.flowing.len()).any(wrong)
                && law(setup, &|i| {
                    (i < base.flowing.len() && guess(i)).then_some(Law::FullyRough)
                })
        }

        How::RadiusForDiameter => radius_for_diameter(setup),
        How::DiameterForRadius => diameter_for_radius(setup),
        How::HydraulicRadius => ducts(setup, &|diameter, section| {
            *diameter /= 4.0;
            section.area_factor *= 16.0;
        }),
        How::AreaFromHydraulicDiameter => ducts(setup, &|_, section| section.area_factor = 1.0),
        How::RoundLaminarConstant => {
            !base.flowing.is_empty()
                && (0..base.flowing.len()).any(|i| base.is_laminar(i))
                && ducts(setup, &|_, section| {
                    section.laminar_constant = Section::ROUND.laminar_constant;
                })
        }
        How::KinematicForDynamic => {
            let density = *setup.numbers.fluid()[0];
            setup.numbers.change(Role::Viscosity, &mut |mu| *mu /= density)
        }
        How::DynamicForKinematic => {
            let density = *setup.numbers.fluid()[0];
            setup.numbers.change(Role::Viscosity, &mut |mu| *mu *= density)
        }
        How::PressureUnits | How::Inch | How::Litre | How::TimeUnits => in_values(how, base, setup),

        How::EfficiencyLeftOut => machines(base, setup, &mut |machine, flow, _| {
            let has = machine.efficiency_at(flow) != 1.0;
            machine.efficiency = OverFlow::Value(1.0);
            has
        }),
        // Where the power is given its head comes out wrong. An efficiency above 1 can't be; counted twice the other
        // way it does the same.
        How::EfficiencyInverted => machines(base, setup, &mut |machine, flow, is_pump| {
            let twice = machine.efficiency_at(flow) * machine.efficiency_at(flow);
            match &mut machine.duty {
                Duty::Power(power) if !power.is_nan() && twice != 1.0 => {
                    *power *= if is_pump { 1.0 / twice } else { twice };
                    true
                }
                _ => false,
            }
        }),
        How::MachineSign => machine_sign(setup),
        How::Pump(slip) => pump::before(slip, setup),

        How::NewRoughnessLeftOut => match &mut setup.numbers {
            Numbers::Ageing(problem) if problem.new_roughness > 0.0 => {
                problem.new_roughness = 0.0;
                true
            }
            _ => false,
        },
        How::CentreForMean => match &mut setup.numbers {
            Numbers::Profile(problem) if problem.unknown != ProfileUnknown::Motion => {
                match problem.tube.motion {
                    Motion::Centre(centre) => {
                        problem.tube.motion = Motion::Mean(centre);
                        true
                    }
                    _ => false,
                }
            }
            _ => false,
        },
        How::CorrectionsLeftOut => match &mut setup.numbers {
            Numbers::Profile(problem) => {
                let tube = &mut problem.tube;
                let has = tube.end_correction > 0.0 || tube.kinetic_correction > 0.0;
                (tube.end_correction, tube.kinetic_correction) = (0.0, 0.0);
                has
            }
            _ => false,
        },
        How::DiameterInTheProfile => match &mut setup.numbers {
            Numbers::Profile(problem) => {
                problem.tube.radius = problem.tube.radius.map(|r| 0.5 * r);
                problem.tube.radius.is_some()
            }
            _ => false,
        },
        How::ManometerFluidLeftOut => match &mut setup.numbers {
            Numbers::Meter(problem) => {
                let fluid = problem.meter.density;
                match &mut problem.meter.gauge {
                    // Only the difference counts, so this makes it the liquid's own density.
                    Gauge::Manometer { density, .. } if *density > fluid => {
                        *density += fluid;
                        true
                    }
                    _ => false,
                }
            }
            _ => false,
        },
        How::TipForMean => pitot(setup, &|pitot| match &mut pitot.duct {
            Some(duct) => {
                duct.velocity_ratio = 1.0;
                true
            }
            None => false,
        }),
        How::IdealMeter => pitot(setup, &|pitot| {
            // A coefficient that is sought has no number that could be left out.
            let has = pitot.coefficient != 1.0 && !pitot.coefficient.is_nan();
            if has {
                pitot.coefficient = 1.0;
            }
            has
        }),
        How::DemandLeftOut => match &mut setup.numbers {
            Numbers::Network(network) => {
                let mut any = false;
                for node in &mut network.nodes {
                    if let Node::Junction { demand, .. } = node {
                        any |= *demand != 0.0;
                        *demand = 0.0;
                    }
                }
                any
            }
            _ => false,
        },
        How::PointAtOutlet
        | How::VelocityHeadLeftOutAtPoint
        | How::NarrowerSize
        | How::GravityLeftOut
        | How::FirstFlowAllTheWay
        | How::HalfTheIntegral
        | How::ShearDoubled
        | How::ApproachLeftOut
        | How::AreaRatioNotSquared
        | How::DifferentialLost
        | How::SharedByArea
        | How::SharedEvenly
        | How::ThousandfoldUp
        | How::ThousandfoldDown
        | How::Own(_) => false,
    }
}

/// A guess of fully rough flow this near its limit is as good as right.
const RIGHT_GUESS: f64 = 0.98;

fn losses(base: &Base<'_>, setup: &mut Setup, by: f64, wanted: &dyn Fn(&str) -> bool) -> bool {
    let mut any = false;
    let (mut at, mut n) = (0, 0);
    setup.numbers.elements(&mut |link, element| {
        if link != at {
            (at, n) = (link, 0);
        }
        if let Element::Loss { coefficient, .. } = element {
            let counts = base.loss(link, n).is_some_and(wanted);
            if counts && !coefficient.is_nan() && *coefficient != 0.0 {
                *coefficient *= by;
                any = true;
            }
            n += 1;
        }
    });
    any
}

/// How many pipes each link has.
fn pipes_by_link(setup: &mut Setup) -> Vec<usize> {
    let mut all: Vec<usize> = Vec::new();
    setup.numbers.elements(&mut |link, element| {
        all.resize(all.len().max(link + 1), 0);
        all[link] += usize::from(matches!(element, Element::Pipe(_)));
    });
    all
}

fn loss_on_other_pipe(setup: &mut Setup) -> bool {
    let pipes = pipes_by_link(setup);
    let mut any = false;
    setup.numbers.elements(&mut |link, element| {
        if let Element::Loss { law, pipe, .. } = element
            && law.wider_pipe().is_none()
        {
            let other = if *pipe + 1 < pipes[link] {
                *pipe + 1
            } else {
                pipe.saturating_sub(1)
            };
            any |= other != *pipe;
            *pipe = other;
        }
    });
    any
}

fn change_on_wider_pipe(base: &Base<'_>, setup: &mut Setup) -> bool {
    let mut any = false;
    let (mut at, mut n) = (0, 0);
    setup.numbers.elements(&mut |link, element| {
        if link != at {
            (at, n) = (link, 0);
        }
        if let Element::Loss {
            coefficient,
            law,
            pipe,
        } = element
        {
            let k = base.state(link).and_then(|state| state.loss_coefficients.get(n));
            if let (Some(wide), Some(k)) = (law.wider_pipe(), k) {
                (*coefficient, *law, *pipe) = (*k, LossLaw::Fixed, wide);
                any |= *k != 0.0;
            }
            n += 1;
        }
    });
    any
}

/// Every pipe of a link has the area of the first.
fn one_velocity(setup: &mut Setup) -> bool {
    let mut any = false;
    let mut first: Option<(usize, f64)> = None;
    setup.numbers.elements(&mut |link, element| {
        if let Element::Pipe(pipe) = element {
            match first {
                Some((of, area)) if of == link => {
                    let by = area / pipe.area();
                    // A bore that is sought has no area yet.
                    if by.is_finite() && (by - 1.0).abs() > 1e-9 {
                        pipe.section.area_factor *= by;
                        any = true;
                    }
                }
                _ => first = Some((link, pipe.area())),
            }
        }
    });
    any
}

fn velocity_head_left_out(base: &Base<'_>, setup: &mut Setup) -> bool {
    // An opening's velocity head is all that there is.
    if matches!(base.case, Case::Tank(case) if case.system.orifice.is_some()) {
        return false;
    }
    let Some(path) = setup.numbers.path() else {
        return false;
    };
    let mut any = false;
    for station in [&mut path.start, &mut path.end] {
        any |= station.velocity != StationVelocity::Value(0.0);
        station.velocity = StationVelocity::Value(0.0);
    }
    any
}

/// `V²/g` for `V²/2g`: half of gravity, with twice the density and the viscosity, leaves everything else as it is.
fn velocity_head_doubled(base: &Base<'_>, setup: &mut Setup) -> bool {
    match &setup.numbers {
        Numbers::Meter(_) => {
            return pitot(setup, &|pitot| {
                let known = !pitot.coefficient.is_nan();
                pitot.coefficient *= WITHOUT_TWO;
                known
            });
        }
        // Laminar flow in one pipe is worked without velocity heads.
        Numbers::Profile(_) if base.all_laminar() => return false,
        _ => {}
    }
    let [density, viscosity, gravity] = setup.numbers.fluid();
    *density *= 2.0;
    *viscosity *= 2.0;
    *gravity *= 0.5;
    true
}

fn alpha_one(base: &Base<'_>, setup: &mut Setup) -> bool {
    let last = base.flowing.len().saturating_sub(1);
    let (Some(path), Some(state)) = (setup.numbers.path(), base.state(0)) else {
        return false;
    };
    let mut any = false;
    for (station, state, pipe) in [
        (&mut path.start, state.start, 0),
        (&mut path.end, state.end, last),
    ] {
        if base.is_laminar(pipe) && state.alpha != 1.0 && state.velocity != 0.0 {
            station.alpha = Some(1.0);
            any = true;
        }
    }
    any
}

/// Elevations left out, or on the wrong side.
fn elevations(setup: &mut Setup, sign: bool) -> bool {
    let pair = |one: &mut f64, other: &mut f64| {
        // An elevation that is sought can't be left out.
        if one.is_nan() || other.is_nan() || one == other {
            return false;
        }
        if sign {
            std::mem::swap(one, other);
        } else {
            (*one, *other) = (0.0, 0.0);
        }
        true
    };
    match &mut setup.numbers {
        Numbers::Path(problem) => pair(&mut problem.path.start.elevation, &mut problem.path.end.elevation),
        Numbers::Leak(problem) => pair(&mut problem.start.elevation, &mut problem.end.elevation),
        Numbers::Tank(problem) => {
            // A tank's surface moves, so that its floor is what stands at a height.
            let other = match (&problem.start, &mut problem.end) {
                (Some(start), Some(end)) => {
                    let by = start.floor - end.floor;
                    let by = if sign { 2.0 * by } else { by };
                    end.floor += by;
                    end.mouth = end.mouth.map(|mouth| mouth + by);
                    return by != 0.0;
                }
                (Some(tank), None) => (tank.floor, &mut problem.path.end.elevation),
                (None, Some(tank)) => (tank.floor, &mut problem.path.start.elevation),
                (None, None) => return false,
            };
            let (floor, elevation) = other;
            let by = floor - *elevation;
            *elevation += if sign { 2.0 * by } else { by };
            by != 0.0
        }
        Numbers::Network(network) => {
            let mut any = false;
            for node in &mut network.nodes {
                if let Node::Junction {
                    elevation: Some(elevation),
                    ..
                } = node
                {
                    any |= *elevation != 0.0;
                    *elevation *= if sign { -1.0 } else { 0.0 };
                }
            }
            any
        }
        Numbers::Meter(_) | Numbers::Profile(_) | Numbers::Ageing(_) => false,
    }
}

/// One pressure is taken as absolute, the others as gauge.
fn gauge_and_absolute(base: &Base<'_>, setup: &mut Setup) -> bool {
    let air = match base.case.system().atmosphere() {
        Value::Known(written) => written.quantity().value,
        _ => return false,
    };
    match &mut setup.numbers {
        Numbers::Path(problem) => match problem.unknown {
            Unknown::StartPressure => problem.path.end.pressure += air,
            _ => problem.path.start.pressure += air,
        },
        Numbers::Leak(problem) => problem.start.pressure += air,
        Numbers::Tank(problem) => match &mut problem.start {
            Some(tank) => tank.pressure += air,
            None => problem.path.start.pressure += air,
        },
        Numbers::Network(network) => {
            for node in &mut network.nodes {
                if let Node::Reservoir { pressure, .. } = node {
                    *pressure += air;
                }
            }
        }
        Numbers::Meter(problem) => match &mut problem.meter.element {
            MeterElement::Throttle(throttle) => match &mut throttle.gas {
                Some(gas) if gas.upstream_pressure > air => gas.upstream_pressure -= air,
                _ => return false,
            },
            MeterElement::Pitot(_) => return false,
        },
        Numbers::Profile(_) | Numbers::Ageing(_) => return false,
    }
    true
}

fn friction_left_out(setup: &mut Setup) -> bool {
    let mut open = false;
    setup.numbers.elements(&mut |_, element| {
        if let Element::Pipe(pipe) = element {
            open |= pipe.length.is_nan();
        }
    });
    if open || !setup.numbers.change(Role::Length, &mut |length| *length = 0.0) {
        return false;
    }
    if let Some(path) = setup.numbers.path() {
        path.points.iter_mut().for_each(|point| point.along = 0.0);
    }
    true
}

fn roughness(base: &Base<'_>, setup: &mut Setup, by: f64) -> bool {
    // An ageing pipe's is what it was when new, and is left out under a name of its own.
    if base.all_laminar() || by == 0.0 && matches!(setup.numbers, Numbers::Ageing(_)) {
        return false;
    }
    setup
        .numbers
        .change(Role::Roughness, &mut |roughness| *roughness *= by)
}

/// Gives readings another law where there is one for them.
fn law(setup: &mut Setup, of: &dyn Fn(usize) -> Option<Law>) -> bool {
    if matches!(setup.numbers, Numbers::Meter(_)) {
        return false;
    }
    let mut any = false;
    for (i, reading) in setup.readings.iter_mut().enumerate() {
        if let Some(law) = of(i) {
            *reading = Reading { law, ..*reading };
            any = true;
        }
    }
    any
}

/// Whether a section is that of a round pipe. Its area says so: the laminar constant may be another slip's.
fn has_round_area(section: &Section) -> bool {
    section.area_factor == Section::ROUND.area_factor
}

/// Whether every pipe is round and its bore known; bores of kinds with one pipe alone are known where they are numbers.
fn bores_are_known(setup: &mut Setup) -> bool {
    let mut known = true;
    setup.numbers.elements(&mut |_, element| {
        if let Element::Pipe(pipe) = element {
            known &= has_round_area(&pipe.section) && !pipe.diameter.is_nan();
        }
    });
    known
}

fn radius_for_diameter(setup: &mut Setup) -> bool {
    if !bores_are_known(setup) || !setup.numbers.change(Role::Bore, &mut |bore| *bore *= 0.5) {
        return false;
    }
    if let Numbers::Profile(problem) = &mut setup.numbers {
        let tube = &mut problem.tube;
        tube.radius = tube.radius.filter(|radius| *radius <= 0.5 * tube.diameter);
    }
    true
}

/// `π D²` for an area. Where pipes have sections of their own, their area; else a quarter of the flow goes through, and
/// [`super::after::after`] makes the flow four times what comes out.
fn diameter_for_radius(setup: &mut Setup) -> bool {
    match &setup.numbers {
        Numbers::Path(_) | Numbers::Tank(_) | Numbers::Network(_) => {
            let mut round = true;
            setup
                .numbers
                .sections(&mut |section| round &= has_round_area(section));
            if round {
                setup.numbers.sections(&mut |section| section.area_factor *= 4.0);
            }
            round
        }
        Numbers::Leak(_) | Numbers::Meter(_) | Numbers::Profile(_) | Numbers::Ageing(_) => {
            setup.numbers.change(Role::Flow, &mut |flow| *flow *= 0.25);
            true
        }
    }
}

fn ducts(setup: &mut Setup, change: &dyn Fn(&mut f64, &mut Section)) -> bool {
    let mut any = false;
    setup.numbers.elements(&mut |_, element| {
        if let Element::Pipe(pipe) = element
            && !has_round_area(&pipe.section)
        {
            change(&mut pipe.diameter, &mut pipe.section);
            any = true;
        }
    });
    any
}

/// Changes every machine, told its flow and whether it is a pump.
fn machines(
    base: &Base<'_>,
    setup: &mut Setup,
    change: &mut dyn FnMut(&mut Machine, f64, bool) -> bool,
) -> bool {
    let mut any = false;
    setup.numbers.elements(&mut |link, element| {
        let flow = base.state(link).map_or(f64::NAN, |state| state.flow);
        match element {
            Element::Pump(machine) => any |= change(machine, flow, true),
            Element::Turbine(machine) => any |= change(machine, flow, false),
            _ => {}
        }
    });
    any
}

fn machine_sign(setup: &mut Setup) -> bool {
    let mut any = false;
    setup.numbers.elements(&mut |_, element| {
        let turned = match element {
            Element::Pump(machine) | Element::Turbine(machine)
                if matches!(machine.duty, Duty::Head(head) if head > 0.0) =>
            {
                machine.clone()
            }
            _ => return,
        };
        *element = match element {
            Element::Pump(_) => Element::Turbine(turned),
            _ => Element::Pump(turned),
        };
        any = true;
    });
    any
}

fn pitot(setup: &mut Setup, change: &dyn Fn(&mut Pitot) -> bool) -> bool {
    match &mut setup.numbers {
        Numbers::Meter(problem) => match &mut problem.meter.element {
            MeterElement::Pitot(pitot) => change(pitot),
            MeterElement::Throttle(_) => false,
        },
        _ => false,
    }
}
