//! Workings in feet, pounds and gallons, as a course book in US customary units does them.

use crate::paths::{
    FOOT, Line, area, bore, factor, flow_in, head_lost, reynolds, settle, velocity_from, velocity_head,
};
use crate::sheet::{Sheet, regime_of};

pub fn town_reservoirs(s: &mut Sheet<'_>) {
    let fluid = s.fluid();
    let fittings = 0.5 + s.given("K_v") + s.given("K_b") + 1.0;
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: fittings,
    };
    let head = s.given("H");
    let relative = s.who.keep(line.roughness / line.bore);
    let rough = s.who.rough(0, relative);
    let rough = s.say("first guess", rough);
    let (f, _) = settle(s, line, head, rough, relative, FOOT);
    let f = s.say("friction factor", f);
    let v = velocity_from(s, line, head, f);
    let v = s.say("velocity", v);
    let re = reynolds(s, fluid, v, line.bore, FOOT);
    s.say("Reynolds number", re);
    let a = area(s, line.bore, FOOT);
    s.say("flow", v * a);
    let kinetic = velocity_head(s, v, FOOT);
    let lost = s.who.keep_in(fittings * kinetic, FOOT);
    s.say("share of fittings", lost / head);
}

pub fn feed_yard(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let line = Line {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: 2.5 + s.given("K_f") + 1.0,
    };
    let a = area(s, line.bore, FOOT);
    let q = flow_in(s, FOOT);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, line.bore, FOOT);
    let re = s.who.keep(re);
    let relative = s.who.keep(line.roughness / line.bore);
    let f = factor(s, 0, re, relative);
    let f = s.say("friction factor", f);
    let kinetic = velocity_head(s, v, FOOT);
    let lost = head_lost(s, line, f, kinetic, FOOT);
    let lost = s.say("head loss", lost);
    let head = s.say("pump head", s.given("H") + lost);
    let water = s.say("water horsepower", fluid.rho * g * s.given("Q") * head);
    s.say("shaft power", water / s.given("eta"));
}

pub fn test_loop(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let (bore, length, valve) = (s.given("D"), s.given("L"), s.given("K_m"));
    let a = area(s, bore, FOOT);
    let q = flow_in(s, FOOT);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, bore, FOOT);
    let re = s.say("Reynolds number", re);
    let relative = s.who.keep(s.given("eps") / bore);
    let f = factor(s, 0, re, relative);
    let f = s.say("friction factor", f);
    let kinetic = velocity_head(s, v, FOOT);
    let friction = s.who.keep_in(f * length / bore * kinetic, FOOT);
    let pipe = s.say("friction in the pipe", fluid.rho * g * friction);
    let valve = s.who.keep_in(valve * kinetic, FOOT);
    let valve = s.say("loss in the valve", fluid.rho * g * valve);
    s.say("upstream pressure", s.given("p_end") + pipe + valve);
}

/// Inside diameters of schedule 40 as the paper lists them \[in\].
const SIZES: [f64; 9] = [2.067, 2.469, 3.068, 3.548, 4.026, 5.047, 6.065, 7.981, 10.02];

pub fn foundry_main(s: &mut Sheet<'_>) {
    let (rho, g) = (s.fluid().rho, s.gravity());
    let pressure = s.who.keep_in((s.given("p") - s.given("p_out")) / (rho * g), FOOT);
    let head = s.say("head to spend", pressure - s.given("z"));
    let losses = s.given("K_f");
    let d = bore(s, head, &|_| losses, 0.000_15 * FOOT, FOOT);
    let d = s.say("diameter", d);
    let inch = FOOT / 12.0;
    let size = SIZES.into_iter().map(|size| size * inch).find(|size| *size >= d);
    let size = size.unwrap_or_else(|| panic!("no size for {d} m"));
    let d = s.say("standard bore", size);
    let a = area(s, d, FOOT);
    let q = flow_in(s, FOOT);
    s.say("velocity", q / a);
}

pub fn bunker_oil(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let (bore, length) = (s.given("D"), s.given("L"));
    let a = area(s, bore, FOOT);
    let q = flow_in(s, FOOT);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, bore, FOOT);
    let re = s.say("Reynolds number", re);
    s.regime("regime", regime_of(re, 64.0 / re, 0.0));
    let f = s.say("friction factor", 64.0 / re);
    let kinetic = velocity_head(s, v, FOOT);
    let lost = s.say("friction head", f * length / bore * kinetic);
    s.say("gauge pressure", fluid.rho * g * (s.given("z") + lost));
}
