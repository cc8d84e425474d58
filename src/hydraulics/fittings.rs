//! Loss coefficients K of fittings, each with the handbook it is from, and of cones and rounded entrances.
//!
//! Handbooks differ, so each fitting has one value here, from one of them. A value holds for the velocity
//! head of the pipe that the fitting sits in: an entrance's for the pipe behind it, an exit's for the one before.

use super::path::square;

/// A fitting with a fixed coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitting {
    /// Its name, such as `gate valve, fully open`.
    pub name: &'static str,
    /// Loss coefficient K \[–\].
    pub coefficient: f64,
    /// The handbook.
    pub source: &'static str,
}

/// The source of valves, elbows and tees. Seen in reprints of its table; page not recorded.
pub const MUNSON: &str = "Munson, Young and Okiishi, Fundamentals of Fluid Mechanics, Table 8.2";
/// The source of mitred bends. Seen in a reprint; page not recorded.
pub const MUNSON_MITRED: &str = "Munson, Young and Okiishi, Fundamentals of Fluid Mechanics, Fig. 8.31";
/// The source of entrances, exits, cones and contractions.
pub const CRANE: &str = "Crane, Flow of Fluids through Valves, Fittings and Pipe, Technical Paper 410";
/// The source of sudden expansions: a balance of momentum, exact for even velocities.
pub const BORDA_CARNOT: &str = "Borda and Carnot's balance of momentum";

const fn munson(name: &'static str, coefficient: f64) -> Fitting {
    Fitting {
        name,
        coefficient,
        source: MUNSON,
    }
}

const fn crane(name: &'static str, coefficient: f64) -> Fitting {
    Fitting {
        name,
        coefficient,
        source: CRANE,
    }
}

/// Every fitting that is known by name.
pub const FITTINGS: &[Fitting] = &[
    crane("sharp-edged entrance", 0.5),
    crane("re-entrant entrance", 0.78),
    crane("exit", 1.0),
    munson("gate valve, fully open", 0.15),
    munson("gate valve, 1/4 closed", 0.26),
    munson("gate valve, 1/2 closed", 2.1),
    munson("gate valve, 3/4 closed", 17.0),
    munson("globe valve, fully open", 10.0),
    munson("angle valve, fully open", 2.0),
    munson("ball valve, fully open", 0.05),
    munson("ball valve, 1/3 closed", 5.5),
    munson("ball valve, 2/3 closed", 210.0),
    munson("swing check valve", 2.0),
    munson("90 degree elbow, flanged", 0.3),
    munson("90 degree elbow, threaded", 1.5),
    munson("90 degree long-radius elbow, flanged", 0.2),
    munson("90 degree long-radius elbow, threaded", 0.7),
    munson("45 degree long-radius elbow, flanged", 0.2),
    munson("45 degree elbow, threaded", 0.4),
    munson("180 degree return bend, flanged", 0.2),
    munson("180 degree return bend, threaded", 1.5),
    munson("tee along the run, flanged", 0.2),
    munson("tee along the run, threaded", 0.9),
    munson("tee into the branch, flanged", 1.0),
    munson("tee into the branch, threaded", 2.0),
    munson("union, threaded", 0.08),
    Fitting {
        name: "90 degree mitred bend",
        coefficient: 1.1,
        source: MUNSON_MITRED,
    },
    Fitting {
        name: "90 degree mitred bend with vanes",
        coefficient: 0.2,
        source: MUNSON_MITRED,
    },
];

/// The fitting of a name.
pub fn named(name: &str) -> Option<&'static Fitting> {
    FITTINGS.iter().find(|fitting| fitting.name == name)
}

/// K of an entrance against the radius of its rounding over the bore, as Crane's TP-410 tabulates it.
const ROUNDED: [(f64, f64); 6] = [
    (0.0, 0.5),
    (0.02, 0.28),
    (0.04, 0.24),
    (0.06, 0.15),
    (0.10, 0.09),
    (0.15, 0.04),
];

/// Loss coefficient of a flush entrance whose edge is rounded, on the velocity head of the pipe behind it.
///
/// - `rounding`: radius of the edge over the bore, r/D, from 0 up \[–\]
///
/// Linear between the values of the table, and 0.04 from r/D = 0.15 up. Source: [`CRANE`], sheet A-29 (the
/// sheet's number from memory; values as in the library `fluids`).
pub fn rounded_entrance(rounding: f64) -> f64 {
    for ends in ROUNDED.windows(2) {
        let ((from, high), (to, low)) = (ends[0], ends[1]);
        if rounding <= to {
            return high + (low - high) * (rounding - from) / (to - from);
        }
    }
    ROUNDED[ROUNDED.len() - 1].1
}

/// The angle from which a cone loses no less than a sudden change \[rad\]: 45°.
pub const STEEP: f64 = std::f64::consts::FRAC_PI_4;

/// The share n of a sudden expansion's loss that a cone takes: `K = n (1 − (D₁/D₂)²)²`.
///
/// - `angle`: full angle between the cone's walls, above 0 to π \[rad\]
///
/// `n = 2.6 sin(θ/2)` up to 45°, 1 above. Source: [`CRANE`], after Gibson's experiments.
///
/// ```
/// # use gradeline::hydraulics::fittings::expansion_share;
/// assert!((expansion_share(10.0_f64.to_radians()) - 0.2266).abs() < 1e-4);
/// ```
pub fn expansion_share(angle: f64) -> f64 {
    if angle <= STEEP {
        2.6 * libm::sin(0.5 * angle)
    } else {
        1.0
    }
}

/// n of a sudden contraction: `K = n (1 − (D₂/D₁)²)`. Source: [`CRANE`]; the same as the common textbook fit.
pub const SUDDEN_CONTRACTION: f64 = 0.5;

/// n of a conical contraction, on the velocity head of the narrower pipe: `K = n (1 − (D₂/D₁)²)`.
///
/// - `angle`: full angle between the cone's walls, above 0 to π \[rad\]
///
/// `n = 0.8 sin(θ/2)` up to 45°, `0.5 √sin(θ/2)` above. Source: [`CRANE`].
pub fn contraction_share(angle: f64) -> f64 {
    let half = libm::sin(0.5 * angle);
    if angle <= STEEP {
        0.8 * half
    } else {
        SUDDEN_CONTRACTION * half.sqrt()
    }
}

/// Loss coefficient of a sudden expansion by Borda and Carnot, on the velocity head of the narrower pipe.
///
/// - `diameter_ratio`: the narrower bore over the wider one \[–\]
pub fn borda_carnot(diameter_ratio: f64) -> f64 {
    square(1.0 - square(diameter_ratio))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_coefficients_are_positive() {
        for (i, fitting) in FITTINGS.iter().enumerate() {
            assert!(fitting.coefficient > 0.0, "{}", fitting.name);
            assert!(
                FITTINGS[i + 1..].iter().all(|other| other.name != fitting.name),
                "{}",
                fitting.name
            );
            assert_eq!(named(fitting.name), Some(fitting));
        }
    }

    #[test]
    fn a_rounded_entrance_runs_from_sharp_to_well_rounded_without_a_step() {
        assert_eq!(rounded_entrance(0.0), 0.5);
        assert!((rounded_entrance(0.08) - 0.12).abs() < 1e-12);
        assert_eq!(rounded_entrance(0.15), 0.04);
        assert_eq!(rounded_entrance(0.5), 0.04);
        for (at, k) in ROUNDED {
            assert!((rounded_entrance(at) - k).abs() < 1e-12);
            assert!((rounded_entrance(at + 1e-9) - k).abs() < 1e-6);
        }
    }

    #[test]
    fn a_cone_takes_no_more_than_a_sudden_change() {
        for degrees in 1..=180 {
            let angle = f64::from(degrees).to_radians();
            assert!(expansion_share(angle) <= 1.0, "{degrees}");
            assert!(
                contraction_share(angle) <= SUDDEN_CONTRACTION + 1e-15,
                "{degrees}"
            );
        }
        assert_eq!(contraction_share(std::f64::consts::PI), SUDDEN_CONTRACTION);
    }
}
