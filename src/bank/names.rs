//! Names of results: what formulas of parts and constraints can use beside a template's givens.

use crate::quantity::Dimension;

/// Names of results that each pipe has, with meaning and dimension. With one pipe they stand alone (`V`);
/// with several, each carries its pipe's name (`V_riser`; blanks in a pipe's name become underscores).
pub const PIPE_NAMES: &[(&str, &str, Dimension)] = &[
    (
        "D",
        "inner diameter; of a duct, the hydraulic diameter",
        Dimension::LENGTH,
    ),
    ("L", "length", Dimension::LENGTH),
    ("eps", "roughness", Dimension::LENGTH),
    ("A", "area of the cross-section", Dimension::AREA),
    ("P_w", "wetted perimeter", Dimension::LENGTH),
    (
        "f_Re",
        "Darcy friction factor times Reynolds number in laminar flow: 64 in a round pipe",
        Dimension::NONE,
    ),
    ("V", "mean velocity", Dimension::VELOCITY),
    ("Re", "Reynolds number", Dimension::NONE),
    ("rr", "relative roughness ε/D", Dimension::NONE),
    ("f", "Darcy friction factor", Dimension::NONE),
    (
        "f_rough",
        "Darcy friction factor at the same ε/D where flow is fully rough",
        Dimension::NONE,
    ),
    ("h_f", "head lost to friction", Dimension::LENGTH),
];

/// Names of results of the whole path, with meaning and dimension.
pub const PLAIN_NAMES: &[(&str, &str, Dimension)] = &[
    ("Q", "volume flow", Dimension::FLOW),
    ("rho", "density", Dimension::DENSITY),
    ("mu", "dynamic viscosity", Dimension::DYNAMIC_VISCOSITY),
    ("nu", "kinematic viscosity", Dimension::KINEMATIC_VISCOSITY),
    ("g", "acceleration of gravity", Dimension::ACCELERATION),
    ("p_1", "gauge pressure at the start", Dimension::PRESSURE),
    ("p_2", "gauge pressure at the end", Dimension::PRESSURE),
    ("z_1", "elevation of the start", Dimension::LENGTH),
    ("z_2", "elevation of the end", Dimension::LENGTH),
    ("V_1", "velocity at the start", Dimension::VELOCITY),
    ("V_2", "velocity at the end", Dimension::VELOCITY),
    ("h_major", "head lost to friction in all pipes", Dimension::LENGTH),
    ("h_minor", "head lost in all minor losses", Dimension::LENGTH),
    ("h_L", "all head lost", Dimension::LENGTH),
    ("h_P", "head of all pumps", Dimension::LENGTH),
    ("h_T", "head of all turbines", Dimension::LENGTH),
    ("P_P", "shaft power of all pumps", Dimension::POWER),
    ("P_T", "shaft power of all turbines", Dimension::POWER),
];

/// Names of results that each point on the way has; each carries its point's name (`p_summit`).
pub const POINT_NAMES: &[(&str, &str, Dimension)] = &[
    ("p", "gauge pressure", Dimension::PRESSURE),
    ("H", "energy head p/(ρ g) + z + α V²/(2g)", Dimension::LENGTH),
    ("z", "elevation", Dimension::LENGTH),
];

/// The lowest gauge pressure on the way, where it has points.
pub const LOWEST_PRESSURE: (&str, &str, Dimension) =
    ("p_min", "lowest gauge pressure on the way", Dimension::PRESSURE);

/// Names of results of the nominal size that is chosen in the place of an unknown diameter.
pub const SIZE_NAMES: &[(&str, &str, Dimension)] = &[
    ("D_std", "bore of the next nominal size up", Dimension::LENGTH),
    (
        "D_below",
        "bore of the nominal size below it, 0 where there is none",
        Dimension::LENGTH,
    ),
    (
        "V_std",
        "mean velocity in that size at the same flow",
        Dimension::VELOCITY,
    ),
    (
        "h_left",
        "head left over with that size at the same flow",
        Dimension::LENGTH,
    ),
    (
        "Q_std",
        "flow through that size with the same heads",
        Dimension::FLOW,
    ),
];

/// Names of results that each minor loss has whose name reads as one; each carries it (`K_widening`).
pub const LOSS_NAMES: &[(&str, &str, Dimension)] = &[
    ("K", "loss coefficient", Dimension::NONE),
    ("h", "head lost", Dimension::LENGTH),
];

/// A pipe's name as it stands behind the underscore of a result's name: `upper main` gives `upper_main`.
pub fn pipe_suffix(pipe: &str) -> String {
    pipe.replace(' ', "_")
}

/// The name of a pipe's result: `V` with one pipe, `V_riser` with several.
pub fn pipe_result(base: &str, pipe: &str, pipes: usize) -> String {
    if pipes == 1 {
        base.to_owned()
    } else {
        format!("{base}_{}", pipe_suffix(pipe))
    }
}

/// Whether a name can stand in the names of results: letters, figures and single blanks.
pub fn reads_as_name(name: &str) -> bool {
    name.starts_with(|c: char| c.is_ascii_alphabetic())
        && name
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == ' ' || c == '_')
        && !name.contains("  ")
}

/// The dimension of a result, if a system with these pipes has it.
pub fn result_dimension(name: &str, pipes: &[&str]) -> Option<Dimension> {
    if let Some((_, _, dimension)) = PLAIN_NAMES.iter().find(|(n, _, _)| *n == name) {
        return Some(*dimension);
    }
    PIPE_NAMES
        .iter()
        .find(|(base, _, _)| {
            pipes
                .iter()
                .any(|pipe| pipe_result(base, pipe, pipes.len()) == name)
        })
        .map(|(_, _, dimension)| *dimension)
}

/// All names of results that a system with these pipes has.
pub fn result_names(pipes: &[&str]) -> Vec<String> {
    let plain = PLAIN_NAMES.iter().map(|(name, _, _)| (*name).to_owned());
    let of_pipes = PIPE_NAMES
        .iter()
        .flat_map(|(base, _, _)| pipes.iter().map(|pipe| pipe_result(base, pipe, pipes.len())));
    plain.chain(of_pipes).collect()
}

/// The dimension of a pipe's result called by its bare name, whichever pipe it is (`Re`, `V`).
pub fn bare_pipe_dimension(name: &str) -> Option<Dimension> {
    PIPE_NAMES
        .iter()
        .find(|(base, _, _)| *base == name)
        .map(|(_, _, dimension)| *dimension)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_pipe_has_bare_names_and_several_carry_theirs() {
        assert_eq!(result_dimension("V", &["main"]), Some(Dimension::VELOCITY));
        assert_eq!(result_dimension("V_main", &["main"]), None);
        assert_eq!(
            result_dimension("h_f_upper_main", &["upper main", "riser"]),
            Some(Dimension::LENGTH)
        );
        assert_eq!(result_dimension("V", &["upper main", "riser"]), None);
        assert_eq!(result_dimension("P_P", &["a", "b"]), Some(Dimension::POWER));
    }
}
