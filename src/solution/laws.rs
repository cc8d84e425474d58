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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equation::{Bindings, Bound};
    use crate::hydraulics::fittings::borda_carnot;
    use crate::hydraulics::friction::{
        darcy_colebrook, darcy_fully_rough, darcy_haaland, darcy_laminar, darcy_swamee_jain,
    };
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
}
