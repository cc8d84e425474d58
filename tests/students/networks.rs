//! Workings of networks: pipes side by side, Cross's corrections round loops, a guessed head at a fork.

use crate::paths::{area, reynolds, round};
use crate::sheet::{Fluid, Sheet};

/// One pipe of a network.
#[derive(Clone, Copy)]
struct Pipe {
    bore: f64,
    length: f64,
    relative: f64,
    losses: f64,
    area: f64,
}

impl Pipe {
    fn new(s: &mut Sheet<'_>, bore: f64, length: f64, roughness: f64, losses: f64) -> Self {
        let area = area(s, bore, 1.0);
        Self {
            bore,
            length,
            relative: s.who.keep(roughness / bore),
            losses,
            area,
        }
    }

    fn factor(&self, s: &mut Sheet<'_>, i: usize, fluid: Fluid, flow: f64) -> f64 {
        let v = s.who.keep(flow.abs() / self.area);
        let re = reynolds(s, fluid, v, self.bore, 1.0);
        let re = s.who.keep(re);
        crate::paths::factor(s, i, re, self.relative)
    }

    /// Head over the square of the flow.
    fn resistance(&self, s: &mut Sheet<'_>, f: f64) -> f64 {
        let g = s.gravity();
        let sum = f * self.length / self.bore + self.losses;
        s.who.keep(sum / (2.0 * g * self.area * self.area))
    }

    /// Head lost at a flow, with its sign.
    fn head(&self, s: &mut Sheet<'_>, i: usize, fluid: Fluid, flow: f64) -> f64 {
        let f = self.factor(s, i, fluid, flow);
        self.resistance(s, f) * flow * flow.abs()
    }

    /// The flow that a head drives, with its sign.
    fn flow(&self, s: &mut Sheet<'_>, i: usize, fluid: Fluid, head: f64) -> f64 {
        let rough = s.who.rough(i, self.relative);
        let f = round(s, rough, &mut |s, f| {
            let r = self.resistance(s, f);
            let q = s.who.keep((head.abs() / r).sqrt());
            self.factor(s, i, fluid, q)
        });
        let r = self.resistance(s, f);
        (head.abs() / r).sqrt().copysign(head)
    }
}

pub fn two_mains(s: &mut Sheet<'_>) {
    let (fluid, g, q) = (s.fluid(), s.gravity(), s.given("Q"));
    let of = |s: &mut Sheet<'_>, d: &str, l: &str, e: &str, k: f64| {
        let (d, l, e) = (s.given(d), s.given(l), s.given(e));
        Pipe::new(s, d, l, e, k)
    };
    let new = of(s, "D_new", "L_new", "e_new", 0.0);
    let valve = s.given("K_v");
    let old = of(s, "D_old", "L_old", "e_old", valve);
    // The flows go as the inverse roots of what stands before their squares.
    let shared = |s: &mut Sheet<'_>, f: [f64; 2]| {
        let (a, b) = (new.resistance(s, f[0]), old.resistance(s, f[1]));
        let ratio = s.who.keep((a / b).sqrt());
        q / (1.0 + ratio)
    };
    let mut f = [s.who.rough(0, new.relative), s.who.rough(1, old.relative)];
    let guess = shared(s, f);
    round(s, guess, &mut |s, flow| {
        f = [new.factor(s, 0, fluid, flow), old.factor(s, 1, fluid, q - flow)];
        let flow = shared(s, f);
        s.who.keep(flow)
    });
    let flow = shared(s, f);
    let flow = s.say("flow in the new main", flow);
    let other = s.say("flow in the old main", q - flow);
    let f_new = new.factor(s, 0, fluid, flow);
    let f_new = s.say("friction factor", f_new);
    // Both mains lose the same; who made an error stays with the main whose flow and factor are asked.
    let head = if s.plant.is_none() && s.who.either() {
        old.head(s, 1, fluid, other)
    } else {
        let v = s.who.keep(flow / new.area);
        let kinetic = s.who.keep(v * v / (2.0 * g));
        f_new * new.length / new.bore * kinetic
    };
    let head = s.say("head loss", head);
    s.say("power", fluid.rho * g * q * head);
}

pub fn ring_main(s: &mut Sheet<'_>) {
    let (fluid, g) = (s.fluid(), s.gravity());
    let (north, south, dock) = (s.given("q_n"), s.given("q_s"), s.given("q_d"));
    let eps = s.given("eps");
    let of = |s: &mut Sheet<'_>, d: &str, l: &str| {
        let (d, l) = (s.given(d), s.given(l));
        Pipe::new(s, d, l, eps, 0.0)
    };
    let pipes = [
        of(s, "D_1", "L_n"),
        of(s, "D_1", "L_s"),
        of(s, "D_2", "L_c"),
        of(s, "D_2", "L_d"),
        of(s, "D_2", "L_d"),
    ];
    s.say("flow out of the tower", north + south + dock);
    // Guessed for the cross pipe and one branch; the others balance every place: north main, south main, cross pipe,
    // north and south branch.
    let mut q = [0.0, 0.0, 0.1 * dock, 0.5 * dock, 0.0];
    q[0] = north + q[2] + q[3];
    q[4] = dock - q[3];
    q[1] = south - q[2] + q[4];
    // Each loop by its pipes, with the sense in which they are passed.
    let loops: [[(usize, f64); 3]; 2] = [[(0, 1.0), (2, 1.0), (1, -1.0)], [(3, 1.0), (4, -1.0), (2, -1.0)]];
    let largest = north + south + dock;
    for _ in 0..400 {
        let mut moved = 0.0_f64;
        for pipes_of in &loops {
            let (mut sum, mut slopes) = (0.0, 0.0);
            for (i, sense) in pipes_of {
                let h = pipes[*i].head(s, *i, fluid, q[*i]);
                sum += sense * h;
                slopes += 2.0 * (h / q[*i]).abs();
            }
            let by = -sum / slopes;
            for (i, sense) in pipes_of {
                q[*i] += sense * by;
            }
            moved = moved.max(by.abs());
        }
        let enough = if s.who.exact { 1e-14 } else { 5e-4 };
        if moved <= enough * largest {
            break;
        }
    }
    let main = s.say("north main", q[0]);
    let branch = s.say("north branch", q[3]);
    let by_north = s.plant.is_some() || !s.who.either();
    let way = if by_north {
        [(0, main), (3, branch)]
    } else {
        [(1, q[1]), (4, q[4])]
    };
    let lost: f64 = way
        .iter()
        .map(|(i, flow)| {
            let h = pipes[*i].head(s, *i, fluid, *flow);
            s.who.keep(h)
        })
        .sum();
    let head = s.say("head at the dock", s.given("H") - lost);
    s.say("pressure at the dock", fluid.rho * g * (head - s.given("z")));
}

pub fn three_basins(s: &mut Sheet<'_>) {
    let fluid = s.fluid();
    let levels = [s.given("H_1"), s.given("H_2"), s.given("H_3")];
    let eps = s.given("eps");
    let pipes = [("D_1", "L_1"), ("D_2", "L_2"), ("D_3", "L_3")].map(|(d, l)| {
        let (d, l) = (s.given(d), s.given(l));
        Pipe::new(s, d, l, eps, 0.0)
    });
    let flows = |s: &mut Sheet<'_>, fork: f64| {
        [0, 1, 2].map(|i| {
            let q = pipes[i].flow(s, i, fluid, levels[i] - fork);
            s.who.keep(q)
        })
    };
    // First at the level of the middle basin, then along straight lines through the last two guesses.
    let left = |q: [f64; 3]| q[0] + q[1] + q[2];
    let (mut before, mut now) = (levels[1] + 1e-6, levels[1] + 0.4 * (levels[0] - levels[1]));
    let mut over = left(flows(s, before));
    let first = over > 0.0;
    if !first {
        now = levels[1] - 0.4 * (levels[1] - levels[2]);
    }
    for _ in 0..60 {
        let q = flows(s, now);
        let still = left(q);
        let most = q.iter().fold(0.0_f64, |most, q| most.max(q.abs()));
        let enough = if s.who.exact { 1e-14 } else { 5e-3 };
        if still.abs() <= enough * most {
            break;
        }
        let next = now - still * (now - before) / (still - over);
        (before, over) = (now, still);
        // Never beyond the basins.
        now = next.clamp(levels[2] + 0.1, levels[0] - 0.1);
        if (now - before).abs() < 1e-13 * now {
            break;
        }
    }
    s.choose("direction", first);
    let fork = s.say("head at the fork", now);
    let q = flows(s, fork);
    s.say("upper flow", q[0]);
    s.say("middle flow", q[1].abs());
    s.say("lower flow", q[2].abs());
}
