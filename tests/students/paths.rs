//! Workings with the energy equation between two stations, as a course book does them.

use crate::careful::FULLY_ROUGH;
use crate::sheet::{Fluid, Sheet, regime_of};
use std::f64::consts::PI;

/// A foot \[m\].
pub const FOOT: f64 = 0.3048;

/// A line of one bore.
#[derive(Clone, Copy)]
pub struct Line {
    pub bore: f64,
    pub length: f64,
    pub roughness: f64,
    /// Sum of its loss coefficients.
    pub losses: f64,
}

/// The area of a round bore, written down with lengths in this unit.
pub fn area(s: &mut Sheet<'_>, bore: f64, unit: f64) -> f64 {
    s.who.keep_in(PI * bore * bore / 4.0, unit * unit)
}

/// The Reynolds number, with either viscosity; not yet written down.
pub fn reynolds(s: &mut Sheet<'_>, fluid: Fluid, velocity: f64, bore: f64, unit: f64) -> f64 {
    if s.who.either() {
        let nu = s.who.keep_in(fluid.mu / fluid.rho, unit * unit);
        velocity * bore / nu
    } else {
        fluid.rho * velocity * bore / fluid.mu
    }
}

/// The factor at a Reynolds number, or that of the level part of the chart by those who see that the point lies there.
pub fn factor(s: &mut Sheet<'_>, i: usize, reynolds: f64, relative: f64) -> f64 {
    if s.who.stops_when_rough && relative > 0.0 {
        let rough = s.who.rough(i, relative);
        if reynolds * rough.sqrt() * relative >= FULLY_ROUGH {
            return rough;
        }
    }
    s.who.factor(i, reynolds, relative)
}

pub fn velocity_head(s: &mut Sheet<'_>, velocity: f64, unit: f64) -> f64 {
    let g = s.gravity();
    s.who.keep_in(velocity * velocity / (2.0 * g), unit)
}

/// Head lost to friction and fittings; not yet written down.
pub fn head_lost(s: &mut Sheet<'_>, line: Line, f: f64, head: f64, unit: f64) -> f64 {
    let friction = f * line.length / line.bore;
    if line.losses == 0.0 {
        friction * head
    } else if s.who.either() {
        s.who.keep(friction + line.losses) * head
    } else {
        s.who.keep_in(friction * head, unit) + s.who.keep_in(line.losses * head, unit)
    }
}

pub fn hatchery(s: &mut Sheet<'_>) {
    let (q, fluid, g) = (s.given("Q"), s.fluid(), s.gravity());
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 0.0,
    };
    let a = area(s, line.bore, 1.0);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, line.bore, 1.0);
    let re = s.say("Reynolds number", re);
    let relative = s.who.keep(line.roughness / line.bore);
    let f = factor(s, 0, re, relative);
    let f = s.say("friction factor", f);
    s.regime("regime", regime_of(re, f, relative));
    let drop = if s.who.either() {
        f * line.length / line.bore * fluid.rho * v * v / 2.0
    } else {
        let head = velocity_head(s, v, 1.0);
        let h = s.who.keep(f * line.length / line.bore * head);
        fluid.rho * g * h
    };
    let drop = s.say("pressure drop", drop);
    s.say("upstream pressure", s.given("p_end") + drop);
}

/// The flow as it is stated; one in gallons has to be turned into cubic feet first.
pub fn flow_in(s: &mut Sheet<'_>, unit: f64) -> f64 {
    let q = s.given("Q");
    if unit == FOOT {
        s.who.keep_in(q, FOOT * FOOT * FOOT)
    } else {
        q
    }
}

/// Velocity, Reynolds number, factor and head loss of a known flow; gives the velocity and the loss.
fn known_flow(s: &mut Sheet<'_>, line: Line, unit: f64) -> (f64, f64) {
    let fluid = s.fluid();
    let a = area(s, line.bore, unit);
    let q = flow_in(s, unit);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, line.bore, unit);
    let re = s.say("Reynolds number", re);
    let relative = s.who.keep(line.roughness / line.bore);
    let f = factor(s, 0, re, relative);
    let f = s.say("friction factor", f);
    let head = velocity_head(s, v, unit);
    let lost = head_lost(s, line, f, head, unit);
    (v, s.say("head loss", lost))
}

pub fn rising_main(s: &mut Sheet<'_>) {
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 0.5 + s.given("K_v") + 1.0,
    };
    let (_, lost) = known_flow(s, line, 1.0);
    let head = s.say("pump head", s.given("H") + lost);
    let (rho, g) = (s.fluid().rho, s.gravity());
    s.say("power", rho * g * s.given("Q") * head / s.given("eta"));
}

pub fn spray_header(s: &mut Sheet<'_>) {
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 0.5 + s.given("K_v"),
    };
    let (v, lost) = known_flow(s, line, FOOT);
    let (rho, g) = (s.fluid().rho, s.gravity());
    let pressure = s.who.keep_in(s.given("p") / (rho * g), FOOT);
    let kinetic = velocity_head(s, v, FOOT);
    let head = s.say("pump head", s.given("H") + pressure + kinetic + lost);
    s.say("power", rho * g * s.given("Q") * head / s.given("eta"));
}

pub fn penstock(s: &mut Sheet<'_>) {
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 0.1 + s.given("K_v") + 1.0,
    };
    let (_, lost) = known_flow(s, line, 1.0);
    let head = s.say("turbine head", s.given("H") - lost);
    let (rho, g) = (s.fluid().rho, s.gravity());
    s.say("power", s.given("eta") * rho * g * s.given("Q") * head);
}

/// What one factor leads to where the flow is sought: `head = (f L/D + losses) V²/2g`, losses with the velocity
/// heads of the ends.
pub fn velocity_from(s: &mut Sheet<'_>, line: Line, head: f64, f: f64) -> f64 {
    let g = s.gravity();
    let sum = s.who.keep(f * line.length / line.bore + line.losses);
    (2.0 * g * head / sum).sqrt()
}

/// The factor where it settles, from the fully rough guess; gives whether that guess held too.
pub fn settle(s: &mut Sheet<'_>, line: Line, head: f64, rough: f64, relative: f64, unit: f64) -> (f64, bool) {
    let fluid = s.fluid();
    let number = |s: &mut Sheet<'_>, f: f64| {
        let v = velocity_from(s, line, head, f);
        let v = s.who.keep_in(v, unit);
        let re = reynolds(s, fluid, v, line.bore, unit);
        s.who.keep(re)
    };
    let re = number(s, rough);
    let holds = re * rough.sqrt() * relative >= FULLY_ROUGH;
    if holds && s.who.stops_when_rough || s.who.stops_anyway {
        return (rough, holds);
    }
    let f = round(s, rough, &mut |s, f| {
        let re = number(s, f);
        s.who.factor(0, re, relative)
    });
    (f, holds)
}

/// Goes round until a number settles.
pub fn round(s: &mut Sheet<'_>, guess: f64, next: &mut dyn FnMut(&mut Sheet<'_>, f64) -> f64) -> f64 {
    let mut now = guess;
    for turn in 0..200 {
        let after = next(s, now);
        if s.who.settled(now, after) {
            return after;
        }
        // Rounding may keep it swinging between two.
        now = if turn > 30 { 0.5 * (now + after) } else { after };
    }
    now
}

pub fn rinsing_line(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        // The gauge's velocity head stands on the other side.
        losses: s.given("K_v") + 1.0 - 1.0,
    };
    let pressure = s.who.keep(s.given("p") / (fluid.rho * g));
    let head = s.say("head to spend", pressure - s.given("z"));
    let relative = s.say("relative roughness", line.roughness / line.bore);
    let rough = s.who.rough(0, relative);
    let (f, _) = settle(s, line, head, rough, relative, 1.0);
    let f = s.say("friction factor", f);
    let v = velocity_from(s, line, head, f);
    let v = s.say("velocity", v);
    let a = area(s, line.bore, 1.0);
    s.say("flow", v * a);
    let re = reynolds(s, fluid, v, line.bore, 1.0);
    let re = s.say("Reynolds number", re);
    s.choose("check", re * f.sqrt() * relative >= FULLY_ROUGH);
}

pub fn irrigation_line(s: &mut Sheet<'_>) {
    let fluid = s.fluid();
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 0.5 + s.given("K_v") + 1.0,
    };
    let head = s.given("H");
    let relative = s.who.keep(line.roughness / line.bore);
    let rough = s.who.rough(0, relative);
    let rough = s.say("first guess", rough);
    let (f, holds) = settle(s, line, head, rough, relative, 1.0);
    s.choose("check", holds);
    let f = s.say("friction factor", f);
    let v = velocity_from(s, line, head, f);
    let v = s.say("velocity", v);
    let a = area(s, line.bore, 1.0);
    s.say("flow", v * a);
    let re = reynolds(s, fluid, v, line.bore, 1.0);
    s.say("Reynolds number", re);
}

pub fn two_bores(s: &mut Sheet<'_>) {
    let (fluid, g, head) = (s.fluid(), s.gravity(), s.given("H"));
    let (bore, length) = ([s.given("D_a"), s.given("D_b")], [s.given("L_a"), s.given("L_b")]);
    let (eps, contraction) = (s.given("eps"), s.given("K_c"));
    let relative = bore.map(|d| s.who.keep(eps / d));
    // V₁ = V₂ (D₂/D₁)²
    let ratio = s.who.keep(bore[1] * bore[1] / (bore[0] * bore[0]));
    let second = |s: &mut Sheet<'_>, f: [f64; 2]| {
        let first = s.who.keep(f[0] * length[0] / bore[0] + 0.5) * ratio * ratio;
        let first = s.who.keep(first);
        let last = s.who.keep(f[1] * length[1] / bore[1] + contraction + 1.0);
        (2.0 * g * head / (first + last)).sqrt()
    };
    let numbers = |s: &mut Sheet<'_>, f: [f64; 2]| {
        let v = second(s, f);
        let v = s.who.keep(v);
        let v = [s.who.keep(v * ratio), v];
        [0, 1].map(|i| {
            let re = reynolds(s, fluid, v[i], bore[i], 1.0);
            s.who.keep(re)
        })
    };
    let mut f = [0, 1].map(|i| s.who.rough(i, relative[i]));
    for turn in 0..100 {
        let re = numbers(s, f);
        let next = [0, 1].map(|i| {
            let holds = re[i] * f[i].sqrt() * relative[i] >= FULLY_ROUGH;
            if s.who.stops_when_rough && turn == 0 && holds {
                f[i]
            } else if s.who.stops_when_rough {
                // Whose assumption held for this pipe leaves it.
                factor(s, i, re[i], relative[i])
            } else {
                s.who.factor(i, re[i], relative[i])
            }
        });
        let settled = (0..2).all(|i| s.who.settled(f[i], next[i]));
        f = match turn > 30 {
            true => [0, 1].map(|i| 0.5 * (f[i] + next[i])),
            false => next,
        };
        if settled {
            break;
        }
    }
    f[0] = s.say("friction factor of the first pipe", f[0]);
    f[1] = s.say("friction factor of the second pipe", f[1]);
    let v = second(s, f);
    let v = s.say("velocity in the second pipe", v);
    s.say("velocity in the first pipe", v * ratio);
    let a = area(s, bore[1], 1.0);
    s.say("flow", v * a);
    let re = reynolds(s, fluid, v, bore[1], 1.0);
    let re = s.who.keep(re);
    s.regime("regime in the second pipe", regime_of(re, f[1], relative[1]));
}

pub fn oil_line(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let (bore, length) = (s.given("D"), s.given("L"));
    let pressure = s.who.keep(s.given("p") / (fluid.rho * g));
    let h = s.say("friction head", pressure + s.given("z"));
    let v = fluid.rho * g * h * bore * bore / (32.0 * fluid.mu * length);
    let v = s.say("velocity", v);
    let a = area(s, bore, 1.0);
    s.say("flow", v * a);
    let re = reynolds(s, fluid, v, bore, 1.0);
    let re = s.say("Reynolds number", re);
    s.regime("regime", regime_of(re, 64.0 / re, 0.0));
    s.say("friction factor", 64.0 / re);
}

/// The bore that one factor leads to: `h = (f (L + n D)/D + K) 8 Q²/(π² g D⁴)`, by Newton's way in ln D.
fn bore_from(s: &mut Sheet<'_>, f: f64, head: f64, flow: f64, length: f64, losses: f64, unit: f64) -> f64 {
    let g = s.gravity();
    let fifth = unit * unit * unit * unit * unit;
    let c = s.who.keep_in(8.0 * flow * flow / (PI * PI * g * head), fifth);
    let mut d = libm::pow(c * f * length, 0.2);
    for _ in 0..60 {
        // D⁵ = c (f L + K D)
        let (left, right) = (d * d * d * d * d, c * (f * length + losses * d));
        let step = (left - right) / (5.0 * left - c * losses * d);
        d *= 1.0 - step;
        if step.abs() < 1e-14 {
            break;
        }
    }
    d
}

/// The bore where it settles; `losses` is what fittings come to for a factor.
pub fn bore(s: &mut Sheet<'_>, head: f64, losses: &dyn Fn(f64) -> f64, roughness: f64, unit: f64) -> f64 {
    let (fluid, flow, length) = (kinematic(s, unit), flow_in(s, unit), s.given("L"));
    let step = |s: &mut Sheet<'_>, f: f64| {
        let d = bore_from(s, f, head, flow, length, losses(f), unit);
        s.who.keep_in(d, unit)
    };
    let f = round(s, 0.02, &mut |s, f| {
        let d = step(s, f);
        let a = area(s, d, unit);
        let v = s.who.keep_in(flow / a, unit);
        let re = s.who.keep(v * d / fluid);
        let relative = s.who.keep(roughness / d);
        s.who.factor(0, re, relative)
    });
    bore_from(s, f, head, flow, length, losses(f), unit)
}

/// The kinematic viscosity, where the paper states that one or another.
fn kinematic(s: &mut Sheet<'_>, unit: f64) -> f64 {
    if s.dealt.givens.get("nu_s").is_some() {
        return s.given("nu_s");
    }
    let fluid = s.fluid();
    s.who.keep_in(fluid.mu / fluid.rho, unit * unit)
}

pub fn deck_wash(s: &mut Sheet<'_>) {
    let (rho, g, flow) = (s.fluid().rho, s.gravity(), s.given("Q"));
    let pressure = s.who.keep((s.given("p") - s.given("p_out")) / (rho * g));
    let head = s.say("head to spend", pressure - s.given("z"));
    let (roughness, losses) = (s.given("eps"), s.given("K_v"));
    let d = bore(s, head, &|_| losses, roughness, 1.0);
    let d = s.say("diameter", d);
    let a = area(s, d, 1.0);
    let v = s.say("velocity", flow / a);
    let nu = kinematic(s, 1.0);
    let re = s.say("Reynolds number", v * d / nu);
    let relative = s.who.keep(roughness / d);
    let f = s.who.factor(0, re, relative);
    s.say("friction factor", f);
}

/// Bores of schedule 40 as the paper lists them \[m\].
const SIZES: [f64; 9] = [
    0.040_94, 0.052_48, 0.062_68, 0.077_92, 0.090_12, 0.102_26, 0.128_20, 0.154_08, 0.202_74,
];

pub fn sprinkler_main(s: &mut Sheet<'_>) {
    let (rho, g, flow) = (s.fluid().rho, s.gravity(), s.given("Q"));
    let pressure = s.who.keep((s.given("p") - s.given("p_out")) / (rho * g));
    let head = s.say("head to spend", pressure - s.given("z"));
    let equivalents = s.given("n");
    let d = bore(s, head, &|f| f * equivalents, 0.046e-3, 1.0);
    let d = s.say("diameter", d);
    let size = SIZES.into_iter().find(|size| *size >= d);
    let size = size.unwrap_or_else(|| panic!("no size for {d} m"));
    let d = s.say("standard bore", size);
    let a = area(s, d, 1.0);
    s.say("velocity", flow / a);
}

/// Laminar constant of an annulus: f Re on the hydraulic diameter (Lamb), κ the ratio of the diameters.
fn annulus(kappa: f64) -> f64 {
    let k2 = kappa * kappa;
    64.0 * (1.0 - kappa) * (1.0 - kappa) / (1.0 + k2 + (1.0 - k2) / libm::log(kappa))
}

pub fn oil_cooler(s: &mut Sheet<'_>) {
    let fluid = s.fluid();
    let (inner, length, q) = (s.given("d"), s.given("L"), s.given("q"));
    let outer = 2.0 * inner;
    let d = s.say("hydraulic diameter", outer - inner);
    let a = s.who.keep(PI / 4.0 * (outer * outer - inner * inner));
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, d, 1.0);
    let re = s.say("Reynolds number", re);
    // The paper states it to four figures.
    let constant = if s.who.exact { annulus(0.5) } else { 95.25 };
    let f = s.say("friction factor", constant / re);
    let g = s.gravity();
    let drop = if s.who.either() {
        f * length / d * fluid.rho * v * v / 2.0
    } else {
        let head = velocity_head(s, v, 1.0);
        let h = s.who.keep(f * length / d * head);
        fluid.rho * g * h
    };
    s.say("pressure drop", drop);
}

pub fn drying_kiln(s: &mut Sheet<'_>) {
    let (fluid, g, q) = (s.fluid(), s.gravity(), s.given("Q"));
    let (width, height) = (s.given("W"), s.given("H"));
    let d = s.say("hydraulic diameter", 2.0 * width * height / (width + height));
    let a = s.who.keep(width * height);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, d, 1.0);
    let re = s.say("Reynolds number", re);
    let line = Line {
        bore: d,
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: s.given("K") + 1.0,
    };
    let relative = s.who.keep(line.roughness / d);
    let f = factor(s, 0, re, relative);
    let f = s.say("friction factor", f);
    let rise = if s.who.either() {
        let head = velocity_head(s, v, 1.0);
        let lost = head_lost(s, line, f, head, 1.0);
        let lost = s.who.keep(lost);
        fluid.rho * g * lost
    } else {
        let dynamic = s.who.keep(fluid.rho * v * v / 2.0);
        head_lost(s, line, f, dynamic, 1.0)
    };
    let rise = s.say("pressure rise", rise);
    s.say("power", rise * q / s.given("eta"));
}

pub fn fish_farm(s: &mut Sheet<'_>) {
    let (fluid, q, eps) = (s.fluid(), s.given("Q"), s.given("eps"));
    let (bore, length) = ([s.given("D_a"), s.given("D_b")], [s.given("L_a"), s.given("L_b")]);
    let areas = bore.map(|d| area(s, d, 1.0));
    let ratio = if s.who.either() {
        s.who.keep(areas[0] / areas[1])
    } else {
        let ratio = s.who.keep(bore[0] / bore[1]);
        s.who.keep(ratio * ratio)
    };
    let k = s.say("coefficient", (1.0 - ratio) * (1.0 - ratio));
    let v = areas.map(|a| s.who.keep(q / a));
    let head = v.map(|v| velocity_head(s, v, 1.0));
    let widening = s.say("widening loss", k * head[0]);
    let minor = s.who.keep((0.5 + 10.0) * head[0]) + widening + head[1];
    let minor = s.say("minor losses", minor);
    let friction: f64 = (0..2)
        .map(|i| {
            let re = reynolds(s, fluid, v[i], bore[i], 1.0);
            let re = s.who.keep(re);
            let relative = s.who.keep(eps / bore[i]);
            let f = factor(s, i, re, relative);
            s.who.keep(f * length[i] / bore[i] * head[i])
        })
        .sum();
    s.say("level", minor + friction);
}

pub fn glasshouse_pump(s: &mut Sheet<'_>) {
    let (fluid, q) = (s.fluid(), s.given("Q"));
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 1.0,
    };
    let a = area(s, line.bore, 1.0);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, line.bore, 1.0);
    let re = s.who.keep(re);
    let relative = s.who.keep(line.roughness / line.bore);
    let f = factor(s, 0, re, relative);
    let f = s.say("friction factor", f);
    let head = velocity_head(s, v, 1.0);
    let lost = head_lost(s, line, f, head, 1.0);
    let lost = s.who.keep(lost);
    let head = s.say("head", s.given("H") + lost);
    // h = s² H₀ - k Q²
    let fall = s.who.keep(s.given("k") * q * q);
    let share = s.who.keep(((head + fall) / s.given("H_0")).sqrt());
    s.say("speed", share * s.given("n_0"));
}

pub fn pit_pump(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let (bore, eps) = (s.given("D"), s.given("eps"));
    let (suction, delivery) = (s.given("L_s"), s.given("L_d"));
    let a = area(s, bore, 1.0);
    let relative = s.who.keep(eps / bore);
    let (lift, shut, k) = (s.given("H"), s.given("H_0"), s.given("k"));
    let crossing = |s: &mut Sheet<'_>, f: [f64; 2]| {
        let sum = (f[0] * suction + f[1] * delivery) / bore + 2.5 + 1.0;
        let sum = s.who.keep(sum);
        let c = s.who.keep(sum / (2.0 * g * a * a));
        ((shut - lift) / (k + c)).sqrt()
    };
    // One pipe, so most read its factor once; who reads it again for the suction side may have another.
    let mut f = [0, 1].map(|i| s.who.rough(i, relative));
    round(s, f[1], &mut |s, _| {
        let q = crossing(s, f);
        let q = s.who.keep(q);
        let v = s.who.keep(q / a);
        let re = reynolds(s, fluid, v, bore, 1.0);
        let re = s.who.keep(re);
        f = [0, 1].map(|i| factor(s, i, re, relative));
        f[1]
    });
    let q = crossing(s, f);
    let q = s.say("flow", q);
    let v = s.who.keep(q / a);
    let kinetic = velocity_head(s, v, 1.0);
    // The line's side or the pump's; away from the crossing only the pump's is what the pump gives.
    let head = if s.plant.is_none() && s.who.either() {
        let re = reynolds(s, fluid, v, bore, 1.0);
        let re = s.who.keep(re);
        let f = [0, 1].map(|i| factor(s, i, re, relative));
        let sum = s.who.keep((f[0] * suction + f[1] * delivery) / bore + 2.5 + 1.0);
        lift + s.who.keep(sum * kinetic)
    } else {
        shut - s.who.keep(k * q * q)
    };
    let head = s.say("head", head);
    s.say("power", fluid.rho * g * q * head / s.given("eta_p"));
    let re = reynolds(s, fluid, v, bore, 1.0);
    let re = s.who.keep(re);
    let f = factor(s, 0, re, relative);
    let sum = s.who.keep(f * suction / bore + 2.5);
    let lost = s.who.keep(sum * kinetic);
    let over = if s.who.either() {
        s.who.keep(101_325.0 / (fluid.rho * g)) - s.who.keep(fluid.vapour / (fluid.rho * g))
    } else {
        s.who.keep((101_325.0 - fluid.vapour) / (fluid.rho * g))
    };
    let npsh = s.say("NPSH", over - s.given("z_s") - lost);
    s.choose("NPSH enough", npsh >= s.given("N_r"));
}

pub fn works_main(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 6.0 + 1.0,
    };
    let a = area(s, line.bore, 1.0);
    let relative = s.who.keep(line.roughness / line.bore);
    let (lift, shut, k) = (s.given("H"), s.given("H_0"), s.given("k"));
    let crossing = |s: &mut Sheet<'_>, f: f64| {
        let sum = s.who.keep(f * line.length / line.bore + line.losses);
        let c = s.who.keep(sum / (2.0 * g * a * a));
        // Each pump passes half of the flow.
        ((shut - lift) / (0.25 * k + c)).sqrt()
    };
    let rough = s.who.rough(0, relative);
    let f = round(s, rough, &mut |s, f| {
        let q = crossing(s, f);
        let q = s.who.keep(q);
        let v = s.who.keep(q / a);
        let re = reynolds(s, fluid, v, line.bore, 1.0);
        let re = s.who.keep(re);
        factor(s, 0, re, relative)
    });
    let q = crossing(s, f);
    let q = s.say("flow", q);
    let each = s.say("flow of each", 0.5 * q);
    let head = s.say("head", shut - k * each * each);
    let power = fluid.rho * g * q * head / (s.given("eta_p") * s.given("eta_m"));
    let power = s.say("electric power", power);
    let energy = s.say("energy", power * s.given("hours"));
    s.say("cost", energy * s.given("tariff"));
}

pub fn siphon(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        // The entrance, and the velocity head of the mouth.
        losses: 0.78 + 1.0,
    };
    let relative = s.who.keep(line.roughness / line.bore);
    let rough = s.who.rough(0, relative);
    let (f, _) = settle(s, line, s.given("drop"), rough, relative, 1.0);
    let v = velocity_from(s, line, s.given("drop"), f);
    let v = s.who.keep(v);
    let a = area(s, line.bore, 1.0);
    let q = s.say("flow", v * a);
    let v = s.say("velocity", q / a);
    let kinetic = velocity_head(s, v, 1.0);
    let sum = s.who.keep(0.78 + f * s.given("x") / line.bore);
    let head = s.say("energy head", -sum * kinetic);
    let pressure_head = s.who.keep(head - s.given("z_s") - kinetic);
    s.say("summit pressure", fluid.rho * g * pressure_head);
}
