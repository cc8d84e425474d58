//! Workings of meters, tanks, profiles, a leak and an ageing main, as a course book does them.

use crate::paths::{area, reynolds, round};
use crate::sheet::Sheet;

/// Discharge coefficient of an orifice with corner taps in a line of 71.12 mm or more (Reader-Harris and Gallagher, as in
/// ISO 5167-2:2003).
fn corner_taps(beta: f64, reynolds: f64) -> f64 {
    let a = libm::pow(19_000.0 * beta / reynolds, 0.8);
    let b2 = beta * beta;
    0.5961 + 0.0261 * b2 - 0.216 * b2 * b2 * b2 * b2
        + 0.000_521 * libm::pow(1e6 * beta / reynolds, 0.7)
        + (0.0188 + 0.0063 * a) * libm::pow(beta, 3.5) * libm::pow(1e6 / reynolds, 0.3)
}

pub fn orifice(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let (bore, throat) = (s.given("D"), s.given("d"));
    let dense = s.who.keep(s.given("rho_m") - fluid.rho);
    let dp = s.say("differential pressure", dense * g * s.given("h_m"));
    let beta = s.who.keep(throat / bore);
    let b4 = beta * beta * beta * beta;
    let approach = s.who.keep(1.0 / (1.0 - b4).sqrt());
    let a_t = area(s, throat, 1.0);
    let a = area(s, bore, 1.0);
    let ideal = s.who.keep((2.0 * dp / fluid.rho).sqrt()) * approach * a_t;
    let ideal = s.who.keep(ideal);
    let c = round(s, 0.60, &mut |s, c| {
        let q = s.who.keep(c * ideal);
        let v = s.who.keep(q / a);
        let re = reynolds(s, fluid, v, bore, 1.0);
        let re = s.who.keep(re);
        s.who.coefficient(corner_taps(beta, re))
    });
    let c = s.say("coefficient", c);
    let q = s.say("flow", c * ideal);
    let b2 = s.who.keep(beta * beta);
    let root = s.who.keep((1.0 - b4 * (1.0 - c * c)).sqrt());
    let jet = s.who.keep(c * b2);
    let share = s.who.keep((root - jet) / (root + jet));
    let lost = s.say("permanent loss", share * dp);
    s.say("power", lost * q);
}

pub fn venturi(s: &mut Sheet<'_>) {
    let (fluid, q) = (s.fluid(), s.given("Q"));
    let (bore, throat) = (s.given("D"), s.given("d"));
    let a = area(s, bore, 1.0);
    let v = s.say("velocity", q / a);
    let re = reynolds(s, fluid, v, bore, 1.0);
    let re = s.say("Reynolds number", re);
    s.choose("limits", (2e5..=2e6).contains(&re));
    let beta = s.who.keep(throat / bore);
    let b4 = beta * beta * beta * beta;
    let approach = s.who.keep(1.0 / (1.0 - b4).sqrt());
    let a_t = area(s, throat, 1.0);
    let v_t = s.who.keep(q / (0.984 * approach * a_t));
    let dp = s.say("differential pressure", fluid.rho / 2.0 * v_t * v_t);
    let lost = s.say("permanent loss", s.given("xi") * dp);
    s.say("power", lost * q);
}

pub fn pitot(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let bore = s.given("D");
    // The air in the manometer may be left out beside hundreds of times as dense an alcohol.
    let dense = if s.who.either() {
        s.given("rho_m")
    } else {
        s.given("rho_m") - fluid.rho
    };
    let dense = s.who.keep(dense);
    let dp = s.say("differential pressure", dense * g * s.given("h_m"));
    let ideal = s.who.keep((2.0 * dp / fluid.rho).sqrt());
    let u = s.say("velocity", s.given("C") * ideal);
    let v = s.say("mean velocity", s.given("k_u") * u);
    let a = area(s, bore, 1.0);
    s.say("flow", v * a);
    let re = reynolds(s, fluid, v, bore, 1.0);
    s.say("Reynolds number", re);
}

/// Nodes and weights of Gauss and Legendre's rule of eight points on -1 to 1.
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
];

/// A tank over a hose, or two tanks with a pipe between: the flow hangs on one head.
struct Tank {
    bore: f64,
    length: f64,
    roughness: f64,
    /// Loss coefficients, with the velocity head of the outlet where one is left.
    losses: f64,
    /// Area of the surface; of two tanks `A B/(A + B)`.
    surface: f64,
    /// The heads at the start and at the end.
    heads: (f64, f64),
}

impl Tank {
    fn velocity(&self, s: &mut Sheet<'_>, head: f64, f: f64) -> f64 {
        let g = s.gravity();
        let sum = s.who.keep(f * self.length / self.bore + self.losses);
        (2.0 * g * head / sum).sqrt()
    }

    /// The factor at a head, where it settles.
    fn factor(&self, s: &mut Sheet<'_>, head: f64) -> f64 {
        let fluid = s.fluid();
        let relative = s.who.keep(self.roughness / self.bore);
        let rough = s.who.rough(0, relative);
        round(s, rough, &mut |s, f| {
            let v = self.velocity(s, head, f);
            let v = s.who.keep(v);
            let re = reynolds(s, fluid, v, self.bore, 1.0);
            let re = s.who.keep(re);
            crate::paths::factor(s, 0, re, relative)
        })
    }

    fn flow(&self, s: &mut Sheet<'_>, head: f64, area: f64) -> f64 {
        let f = self.factor(s, head);
        let v = self.velocity(s, head, f);
        s.who.keep(v * area)
    }

    /// The time, from the flow at the start.
    fn time(&self, s: &mut Sheet<'_>, first: f64) -> f64 {
        let (top, low) = self.heads;
        let a = area(s, self.bore, 1.0);
        if s.who.exact {
            // With u = √H what is summed hardly changes.
            let (mid, half) = (0.5 * (top.sqrt() + low.sqrt()), 0.5 * (top.sqrt() - low.sqrt()));
            return [-1.0, 1.0]
                .iter()
                .flat_map(|side| GAUSS.iter().map(move |(node, weight)| (side * node, *weight)))
                .map(|(node, weight)| {
                    let u = mid + half * node;
                    weight * half * 2.0 * self.surface * u / self.flow(s, u * u, a)
                })
                .sum();
        }
        // The closed form with the factor held, for who made an error before: the flow stands for all of it.
        if s.plant.is_some() || s.who.either() {
            let roots = (s.who.keep(top.sqrt()), s.who.keep(low.sqrt()));
            return 2.0 * self.surface * roots.0 * (roots.0 - roots.1) / first;
        }
        // Or in steps, each with the mean of the flows at its two ends, the factor following.
        let steps = if s.who.either() { 1 } else { 4 };
        let mut before = first;
        let mut time = 0.0;
        for step in 1..=steps {
            let head = top + (low - top) * f64::from(step) / f64::from(steps);
            let flow = self.flow(s, head, a);
            let mean = s.who.keep(0.5 * (before + flow));
            time += s.who.keep(self.surface * (top - low) / f64::from(steps) / mean);
            before = flow;
        }
        time
    }
}

pub fn dye_vat(s: &mut Sheet<'_>) {
    let bore = s.given("D");
    let top = s.say("head", s.given("z_v") + s.given("h_1"));
    let surface = area(s, s.given("D_v"), 1.0);
    let tank = Tank {
        bore,
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: s.given("K") + 1.0,
        surface,
        heads: (top, top - (s.given("h_1") - s.given("h_2"))),
    };
    let f = tank.factor(s, top);
    let f = s.say("factor", f);
    let v = tank.velocity(s, top, f);
    let v = s.who.keep(v);
    let a = area(s, bore, 1.0);
    let first = s.say("first flow", v * a);
    let time = tank.time(s, first);
    s.say("time", time);
    // A slower flow has a smaller Reynolds number, and so a larger factor.
    s.choose("friction at the end", true);
}

pub fn ballast_tanks(s: &mut Sheet<'_>) {
    let (port, starboard) = (s.given("A_p"), s.given("A_q"));
    let (h_p, h_q, left) = (s.given("h_p"), s.given("h_q"), s.given("d_h"));
    s.say(
        "levels",
        (port * h_p + starboard * (h_q + left)) / (port + starboard),
    );
    let surface = s.who.keep(port * starboard / (port + starboard));
    let tank = Tank {
        bore: s.given("D"),
        length: s.given("L"),
        roughness: s.given("eps"),
        losses: s.given("K") + 1.0,
        surface,
        heads: (h_p - h_q, left),
    };
    let f = tank.factor(s, h_p - h_q);
    let f = s.say("factor", f);
    let v = tank.velocity(s, h_p - h_q, f);
    let v = s.who.keep(v);
    let a = area(s, tank.bore, 1.0);
    let first = s.say("first flow", v * a);
    let time = tank.time(s, first);
    s.say("time", time);
}

pub fn capillary(s: &mut Sheet<'_>) {
    let (rho, g) = (s.given("rho_o"), s.gravity());
    let (bore, length) = (s.given("d"), s.given("l"));
    let q = s.say("flow", s.given("B") / s.given("s"));
    let a = area(s, bore, 1.0);
    let v = s.say("velocity", q / a);
    let pressure = s.who.keep(rho * g * s.given("h_0"));
    let shear = s.say("wall shear stress", pressure * bore / (4.0 * length));
    let mu = s.say("viscosity", shear * bore / (8.0 * v));
    let re = s.say("Reynolds number", rho * v * bore / mu);
    s.choose("check", re < 2300.0);
    s.say("centre line", 2.0 * v);
}

pub fn trunk_main(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let (bore, eps, q) = (s.given("D"), s.given("eps"), s.given("Q_1"));
    let (above, below) = (s.given("x"), s.given("L") - s.given("x"));
    let a = area(s, bore, 1.0);
    let relative = s.who.keep(eps / bore);
    let v = s.say("velocity above", q / a);
    let re = reynolds(s, fluid, v, bore, 1.0);
    let re = s.who.keep(re);
    let f = s.who.factor(0, re, relative);
    let f = s.say("factor above", f);
    let kinetic = s.who.keep(v * v / (2.0 * g));
    let lost = s.say("loss above", f * above / bore * kinetic);
    let head = s.who.keep(s.given("dp") / (fluid.rho * g));
    let head = s.who.keep(head + kinetic - lost);
    // What is left goes into friction and the velocity head behind the leak.
    let velocity = |s: &mut Sheet<'_>, f: f64| {
        let sum = s.who.keep(f * below / bore + 1.0);
        let v = (2.0 * g * head / sum).sqrt();
        s.who.keep(v)
    };
    let f = round(s, f, &mut |s, f| {
        let v = velocity(s, f);
        let re = reynolds(s, fluid, v, bore, 1.0);
        let re = s.who.keep(re);
        s.who.factor(1, re, relative)
    });
    let v = velocity(s, f);
    let behind = s.say("flow behind", v * a);
    s.say("leak", q - behind);
}

pub fn ageing_main(s: &mut Sheet<'_>) {
    let (fluid, g, q) = (s.fluid(), s.gravity(), s.given("Q"));
    let (bore, length, new) = (s.given("D"), s.given("L"), s.given("eps_new"));
    let a = area(s, bore, 1.0);
    let v = s.say("velocity", q / a);
    let f = s.say("friction factor", 2.0 * g * bore * s.given("S") / (v * v));
    let re = reynolds(s, fluid, v, bore, 1.0);
    let re = s.who.keep(re);
    // The curve that passes there, as this reader sees the curves.
    let (mut low, mut high) = (1e-7_f64, 0.2_f64);
    for _ in 0..60 {
        let mid = (low * high).sqrt();
        if s.who.seen(0, re, mid) < f {
            low = mid
        } else {
            high = mid
        }
    }
    let relative = s.who.keep((low * high).sqrt());
    let eps = s.say("roughness", relative * bore);
    let growth = s.say("growth", (eps - new) / s.given("t_test"));
    let later = s.who.keep(new + growth * s.given("t_later"));
    let relative = s.who.keep(later / bore);
    let f = s.who.factor(1, re, relative);
    let kinetic = s.who.keep(v * v / (2.0 * g));
    s.say("loss when the mine closes", f * length / bore * kinetic);
}
