//! The laws of pipe flow as formulas: worked solutions write them with a problem's symbols, the sheet of formulas with
//! plain ones.

use crate::equation::{Expr, Function, Line};

fn sym(name: &str) -> Expr {
    Expr::symbol(name)
}

fn num(value: f64) -> Expr {
    Expr::number(value)
}

fn log10(of: Expr) -> Expr {
    Expr::Call(Function::Log10, vec![of])
}

fn power(base: Expr, exponent: f64) -> Expr {
    Expr::Power(Box::new(base), Box::new(num(exponent)))
}

/// `V²/(2g)`
pub fn velocity_head(velocity: Expr) -> Expr {
    velocity.pow(2) / (num(2.0) * sym("g"))
}

/// `p/(ρ g) + α V²/(2g) + z` at a station of a number.
pub fn head(station: u32) -> Expr {
    let at = |name: &str| sym(&format!("{name}_{station}"));
    at("p") / (sym("rho") * sym("g")) + at("alpha") * velocity_head(at("V")) + at("z")
}

/// `p/(ρ g) + z` at any section: what the hydraulic grade line shows.
pub fn piezometric() -> Expr {
    sym("p") / (sym("rho") * sym("g")) + sym("z")
}

/// `p/(ρ g) + α V²/(2g) + z` at any section: what the energy line shows.
pub fn head_anywhere() -> Expr {
    sym("p") / (sym("rho") * sym("g")) + sym("alpha") * velocity_head(sym("V")) + sym("z")
}

/// The energy equation between stations 1 and 2: what pumps give stands on the left, what turbines take on the right.
pub fn energy(pumps: Expr, turbines: Expr, losses: Expr) -> Line {
    Line::equal(head(1) + pumps, head(2) + turbines + losses)
}

/// `4 Q/(π D²)`: the mean velocity at a bore.
pub fn velocity(bore: Expr) -> Expr {
    num(4.0) * sym("Q") / (Expr::Pi * bore.pow(2))
}

/// `ρ V D/μ`
pub fn reynolds(velocity: Expr, diameter: Expr) -> Expr {
    sym("rho") * (velocity * diameter) / sym("mu")
}

/// `V D/ν`
pub fn reynolds_kinematic(velocity: Expr, diameter: Expr) -> Expr {
    velocity * diameter / sym("nu")
}

/// Darcy and Weisbach's `f (L/D) V²/(2g)`; f is Darcy's friction factor.
pub fn friction_loss(factor: Expr, length: Expr, diameter: Expr, velocity: Expr) -> Expr {
    factor * (length / diameter) * velocity_head(velocity)
}

/// `K V²/(2g)`
pub fn minor_loss(coefficient: Expr, velocity: Expr) -> Expr {
    coefficient * velocity_head(velocity)
}

/// Darcy's friction factor of laminar flow in a round pipe, `64/Re`.
pub fn laminar(reynolds: Expr) -> Expr {
    num(64.0) / reynolds
}

/// The right side of Colebrook and White's equation for `1/√f`; f is Darcy's friction factor. Without a roughness the
/// wall is smooth.
pub fn colebrook(factor: Expr, reynolds: Expr, relative_roughness: Option<Expr>) -> Expr {
    let viscous = num(2.51) / (reynolds * factor.sqrt());
    let inner = match relative_roughness {
        Some(ratio) => ratio / num(3.7) + viscous,
        None => viscous,
    };
    -(num(2.0) * log10(inner))
}

/// Darcy's friction factor of fully rough flow: `(-2 log((ε/D)/3.7))⁻²`.
pub fn fully_rough(relative_roughness: Expr) -> Expr {
    (-(num(2.0) * log10(relative_roughness / num(3.7)))).pow(-2)
}

/// The right side of Haaland's formula for `1/√f`; f is Darcy's friction factor.
pub fn haaland(reynolds: Expr, relative_roughness: Expr) -> Expr {
    -(num(1.8) * log10(power(relative_roughness / num(3.7), 1.11) + num(6.9) / reynolds))
}

/// Darcy's friction factor by Swamee and Jain.
pub fn swamee_jain(reynolds: Expr, relative_roughness: Expr) -> Expr {
    num(0.25) / log10(relative_roughness / num(3.7) + num(5.74) / power(reynolds, 0.9)).pow(2)
}

/// `Re √f ε/D`, by which fully rough flow is told; f is Darcy's friction factor.
pub fn rough_number(reynolds: Expr, factor: Expr, relative_roughness: Expr) -> Expr {
    reynolds * factor.sqrt() * relative_roughness
}

/// The power that a flow takes up or gives off with a head, `ρ g Q h`.
pub fn power_of(head: Expr) -> Expr {
    sym("rho") * sym("g") * sym("Q") * head
}

/// K of a sudden widening on the velocity head of the narrower pipe, by Borda and Carnot: `(1 − (D₁/D₂)²)²`.
pub fn widening(narrow: Expr, wide: Expr) -> Expr {
    (num(1.0) - (narrow / wide).pow(2)).pow(2)
}

/// The hydraulic diameter of a section, `4 A/P_w`.
pub fn hydraulic_diameter() -> Expr {
    num(4.0) * sym("A") / sym("P_w")
}

/// The shear stress at a round pipe's wall, `Δp D/(4 L)`, from the pressure drop by friction.
pub fn wall_shear() -> Expr {
    sym("dp") * sym("D") / (num(4.0) * sym("L"))
}

/// The same from Darcy's friction factor, `f ρ V²/8`.
pub fn wall_shear_by_factor() -> Expr {
    sym("f") * sym("rho") * sym("V").pow(2) / num(8.0)
}

/// The velocity of laminar flow at a radius of a round pipe, `2 V (1 − (2 r/D)²)`.
pub fn laminar_profile() -> Expr {
    num(2.0) * sym("V") * (num(1.0) - (num(2.0) * sym("r") / sym("D")).pow(2))
}

/// Hagen and Poiseuille's flow through a round pipe, `π D⁴ Δp/(128 μ L)`.
pub fn laminar_flow() -> Expr {
    Expr::Pi * sym("D").pow(4) * sym("dp") / (num(128.0) * sym("mu") * sym("L"))
}

/// What a differential-pressure device passes of a liquid, `C (π/4) d² √(2 Δp/ρ)/√(1 − β⁴)`.
pub fn metered_flow() -> Expr {
    sym("C") / (num(1.0) - sym("beta").pow(4)).sqrt() * (Expr::Pi / num(4.0) * sym("d").pow(2)) * speed()
}

/// `√(2 Δp/ρ)`: the speed that a pressure difference gives or stands for.
pub fn speed() -> Expr {
    (num(2.0) * sym("dp") / sym("rho")).sqrt()
}

/// The pressure difference that a manometer's liquid shows below the flowing one, `(ρ_m − ρ) g h`.
pub fn manometer() -> Expr {
    (sym("rho_m") - sym("rho")) * sym("g") * sym("h")
}

/// The net positive suction head at a pump's inlet s, where the gauge pressure is p_s: `(p_atm + p_s − p_v)/(ρ g) + V_s²/(2g)`.
pub fn suction_head() -> Expr {
    (sym("p_atm") + sym("p_s") - sym("p_v")) / (sym("rho") * sym("g")) + velocity_head(sym("V_s"))
}

/// The time in which an upright tank's head falls from H_1 to H_2 while the friction factor stays as at the start:
/// `(2 A_t √H_1/Q_1) (√H_1 − √H_2)`.
pub fn emptying_time() -> Expr {
    num(2.0) * sym("A_t") * sym("H_1").sqrt() / sym("Q_1") * (sym("H_1").sqrt() - sym("H_2").sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equation::{Bindings, Bound};
    use crate::hydraulics::duct::Shape;
    use crate::hydraulics::fittings::borda_carnot;
    use crate::hydraulics::friction::{
        darcy_colebrook, darcy_fully_rough, darcy_haaland, darcy_laminar, darcy_swamee_jain,
    };
    use crate::hydraulics::meter::standard::Device;
    use crate::hydraulics::meter::{self, Element, Gauge, Meter, Problem, Throttle, Through, Unknown};
    use crate::hydraulics::path::area;
    use crate::hydraulics::profile::laminar_velocity;
    use crate::hydraulics::regime::Limits;
    use crate::quantity::Unit;

    /// Each formula as it is printed gives what the solver's function gives.
    #[test]
    fn formulas_are_the_solvers() {
        for (re, rr) in [(5e3, 1e-5), (1e5, 0.002), (3e7, 0.05)] {
            let f = darcy_colebrook(re, rr).unwrap();
            let of = |names: &[(&str, f64)]| {
                let mut bindings = Bindings::default();
                for (name, value) in names {
                    bindings.set(*name, Bound::new(*value, &Unit::none(), 4));
                }
                bindings
            };
            let known = of(&[("Re", re), ("rr", rr), ("f", f), ("D_1", 0.04), ("D_2", 0.1)]);
            let is = |expr: Expr, wanted: f64| {
                let found = expr.evaluate(&known).unwrap().value;
                assert!((found / wanted - 1.0).abs() < 1e-12, "{found} for {wanted}");
            };
            let (reynolds, ratio) = (sym("Re"), sym("rr"));
            let root = |f: f64| 1.0 / f.sqrt();
            is(
                colebrook(sym("f"), reynolds.clone(), Some(ratio.clone())),
                root(f),
            );
            is(
                haaland(reynolds.clone(), ratio.clone()),
                root(darcy_haaland(re, rr).unwrap()),
            );
            is(
                swamee_jain(reynolds.clone(), ratio.clone()),
                darcy_swamee_jain(re, rr).unwrap(),
            );
            is(fully_rough(ratio), darcy_fully_rough(rr).unwrap());
            is(laminar(reynolds), 64.0 / re);
            is(widening(sym("D_1"), sym("D_2")), borda_carnot(0.4));
        }
        assert_eq!(darcy_laminar(640.0), Ok(0.1));
    }

    /// The formulas of ducts, meters and tanks give what the solvers give, and what an integral gives.
    #[test]
    fn formulas_of_other_kinds_are_the_solvers() {
        let is = |expr: Expr, names: &[(&str, f64)], wanted: f64, within: f64| {
            let mut known = Bindings::default();
            for (name, value) in names {
                known.set(*name, Bound::new(*value, &Unit::none(), 4));
            }
            let found = expr.evaluate(&known).unwrap().value;
            assert!((found / wanted - 1.0).abs() < within, "{found} for {wanted}");
        };
        let gap = Shape::Annulus {
            outer: 0.06,
            inner: 0.025,
        };
        let known = [("A", gap.area()), ("P_w", gap.wetted_perimeter())];
        is(hydraulic_diameter(), &known, gap.hydraulic_diameter(), 1e-12);

        // Oil in a bore of 20 mm at Re 400: pressure drop by the laminar friction factor.
        let (rho, mu, d, l) = (900.0, 0.045, 0.02, 5.0);
        let v = 400.0 * mu / (rho * d);
        let f = darcy_laminar(400.0).unwrap();
        let known = [
            ("f", f),
            ("rho", rho),
            ("mu", mu),
            ("V", v),
            ("D", d),
            ("L", l),
            ("dp", f * l / d * rho * v * v / 2.0),
            ("r", 0.3 * d),
        ];
        is(wall_shear(), &known, f * rho * v * v / 8.0, 1e-12);
        is(wall_shear_by_factor(), &known, 8.0 * mu * v / d, 1e-12);
        is(laminar_flow(), &known, v * area(d), 1e-12);
        is(laminar_profile(), &known, 2.0 * v * laminar_velocity(0.6), 1e-12);

        // A nozzle whose coefficient is given, under a manometer of mercury.
        let throttle = Throttle {
            device: Device::Isa1932Nozzle,
            pipe_diameter: 0.2,
            throat_diameter: 0.1,
            coefficient: Some(0.98),
            cone_loss_share: 0.1,
            gas: None,
            liquid: None,
        };
        let problem = Problem {
            meter: Meter {
                density: 998.0,
                dynamic_viscosity: 1e-3,
                gravity: 9.81,
                element: Element::Throttle(throttle),
                gauge: Gauge::Manometer {
                    density: 13_546.0,
                    deflection: 0.15,
                },
            },
            flow: f64::NAN,
            unknown: Unknown::Flow,
        };
        let solved = meter::solve(&problem, 1.0, &Limits::DEFAULT).unwrap();
        let known = [("rho_m", 13_546.0), ("rho", 998.0), ("g", 9.81), ("h", 0.15)];
        let dp = solved.state.differential;
        is(manometer(), &known, dp, 1e-12);
        let known = [("C", 0.98), ("beta", 0.5), ("d", 0.1), ("dp", dp), ("rho", 998.0)];
        let Through::Throttle(state) = solved.state.through else {
            panic!("a throttle's state");
        };
        is(metered_flow(), &known, state.flow, 1e-12);

        // 40 kPa below the air at the inlet, worked by hand: 58.986 kPa/(9.79236 kN/m³) + 4/19.62 m.
        let known = [
            ("p_atm", 101_325.0),
            ("p_s", -40_000.0),
            ("p_v", 2_339.0),
            ("rho", 998.2),
            ("g", 9.81),
            ("V_s", 2.0),
        ];
        is(suction_head(), &known, 6.2276, 1e-5);

        // Slices of the head, each at the flow of its middle.
        let (a, h_1, h_2, q_1) = (12.0, 4.0, 1.5, 0.03);
        let dh = (h_1 - h_2) / 2000.0;
        let slice = |n: u32| a * dh / (q_1 * ((h_2 + (f64::from(n) + 0.5) * dh) / h_1).sqrt());
        let known = [("A_t", a), ("H_1", h_1), ("H_2", h_2), ("Q_1", q_1)];
        is(emptying_time(), &known, (0..2000).map(slice).sum(), 1e-6);
    }
}
