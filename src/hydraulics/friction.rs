//! Darcy friction factors.
//!
//! The named formulas refuse what lies outside their range; [`darcy`], which the energy equation uses, takes
//! a law beyond its range too, since an answer there is still wanted (with a warning that the caller gives).

use super::duct::Section;
use super::regime::Limits;
use crate::constants::policy;

/// Which rule gives the Darcy friction factor of a pipe in turbulent flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// Colebrook–White; what the chart shows.
    Colebrook,
    /// Haaland (1983).
    Haaland,
    /// Swamee and Jain (1976).
    SwameeJain,
    /// Churchill (1977).
    Churchill,
    /// Serghides (1984).
    Serghides,
    /// The fully rough limit, whatever the Reynolds number.
    FullyRough,
    /// 64/Re, also where flow is turbulent (a slip).
    LaminarEverywhere,
    /// Colebrook–White with the natural logarithm in the place of the common one (a slip).
    NaturalLogarithm,
    /// One value, as read.
    Fixed(f64),
}

/// How the Darcy friction factor of one pipe is had: a law, and how far off it is read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The law in turbulent flow; laminar flow takes 64/Re unless the law is [`Law::Fixed`].
    pub law: Law,
    /// What the turbulent factor is multiplied with: 1.05 reads it five per cent too high.
    pub factor: f64,
}

impl Reading {
    /// Colebrook–White, read exactly.
    pub const EXACT: Self = Self {
        law: Law::Colebrook,
        factor: 1.0,
    };
}

/// An argument outside the range of a formula.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutOfRange {
    /// Which argument.
    pub what: &'static str,
    /// Its value.
    pub value: f64,
    /// The range, both ends included.
    pub range: (f64, f64),
}

impl std::fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (low, high) = self.range;
        write!(f, "{} is {}, outside {low} to {high}", self.what, self.value)
    }
}

impl std::error::Error for OutOfRange {}

/// Reynolds numbers of [`darcy_laminar`]: laminar flow as it is taught.
pub const LAMINAR_REYNOLDS: (f64, f64) = (f64::MIN_POSITIVE, policy::LAMINAR_END);
/// Reynolds numbers of [`darcy_colebrook`]: from the end of laminar flow to the end of the chart.
pub const COLEBROOK_REYNOLDS: (f64, f64) = (policy::LAMINAR_END, policy::REYNOLDS_END);
/// Relative roughness of [`darcy_colebrook`], [`darcy_serghides`] and [`darcy_churchill`].
pub const COLEBROOK_ROUGHNESS: (f64, f64) = (0.0, policy::RELATIVE_ROUGHNESS_END);
/// Reynolds numbers of [`darcy_haaland`].
pub const HAALAND_REYNOLDS: (f64, f64) = (4.0e3, 1.0e8);
/// Relative roughness of [`darcy_haaland`] and [`darcy_swamee_jain`].
pub const HAALAND_ROUGHNESS: (f64, f64) = (1.0e-6, 0.05);
/// Reynolds numbers of [`darcy_swamee_jain`].
pub const SWAMEE_JAIN_REYNOLDS: (f64, f64) = (5.0e3, 1.0e8);
/// Reynolds numbers of [`darcy_churchill`]: all regimes, laminar too.
pub const CHURCHILL_REYNOLDS: (f64, f64) = (1.0, 1.0e8);
/// Reynolds numbers of [`darcy_serghides`].
pub const SERGHIDES_REYNOLDS: (f64, f64) = (4.0e3, 1.0e8);
/// Relative roughness of [`darcy_fully_rough`]: the limit is 0 for a smooth wall.
pub const FULLY_ROUGH_ROUGHNESS: (f64, f64) = (f64::MIN_POSITIVE, policy::RELATIVE_ROUGHNESS_END);

/// Darcy friction factor times Reynolds number of laminar flow in a round pipe.
pub(super) const ROUND_LAMINAR: f64 = 64.0;
/// 2/ln 10: turns `−2 log₁₀ y` into `−TWO_OVER_LN10 · ln y`.
pub(super) const TWO_OVER_LN10: f64 = 2.0 / std::f64::consts::LN_10;
/// The roughness constant of Colebrook–White.
pub(super) const COLEBROOK_A: f64 = 3.7;
/// The viscosity constant of Colebrook–White.
pub(super) const COLEBROOK_B: f64 = 2.51;

fn check(what: &'static str, value: f64, range: (f64, f64)) -> Result<(), OutOfRange> {
    if value >= range.0 && value <= range.1 {
        Ok(())
    } else {
        Err(OutOfRange { what, value, range })
    }
}

fn check_both(
    reynolds: f64,
    reynolds_range: (f64, f64),
    roughness: f64,
    roughness_range: (f64, f64),
) -> Result<(), OutOfRange> {
    check("Reynolds number", reynolds, reynolds_range)?;
    check("relative roughness", roughness, roughness_range)
}

/// Darcy friction factor of laminar flow in a round pipe.
///
/// `f = 64/Re`, exact for fully developed flow (Hagen 1839, Poiseuille 1840).
///
/// - `reynolds`: Reynolds number on the inner diameter \[–\]
///
/// # Errors
/// [`OutOfRange`] outside [`LAMINAR_REYNOLDS`].
///
/// ```
/// # use gradeline::hydraulics::friction::darcy_laminar;
/// assert_eq!(darcy_laminar(1000.0), Ok(0.064));
/// assert!(darcy_laminar(5000.0).is_err());
/// ```
pub fn darcy_laminar(reynolds: f64) -> Result<f64, OutOfRange> {
    check("Reynolds number", reynolds, LAMINAR_REYNOLDS)?;
    Ok(laminar(reynolds))
}

/// Darcy friction factor of turbulent flow; the law behind the friction chart.
///
/// `1/√f = −2 log₁₀[(ε/D)/3.7 + 2.51/(Re √f)]`, solved until it settles (to some 1e-15 relative).
///
/// - `reynolds`: Reynolds number on the inner diameter \[–\]
/// - `relative_roughness`: ε/D \[–\]; 0 for a smooth wall
///
/// # Errors
/// [`OutOfRange`] outside [`COLEBROOK_REYNOLDS`] or [`COLEBROOK_ROUGHNESS`].
///
/// # Source
/// Colebrook (1939), J. Inst. Civil Engineers 11(4), 133–156, with the constants 3.7 and 2.51 that
/// Moody (1944), Trans. ASME 66(8), 671–684, drew his chart with. The check is a 40-digit solution.
///
/// ```
/// # use gradeline::hydraulics::friction::darcy_colebrook;
/// let f = darcy_colebrook(4000.0, 0.0).unwrap();
/// assert!((f / 0.039_907_014_055_634_9 - 1.0).abs() < 1e-14);
/// ```
pub fn darcy_colebrook(reynolds: f64, relative_roughness: f64) -> Result<f64, OutOfRange> {
    check_both(
        reynolds,
        COLEBROOK_REYNOLDS,
        relative_roughness,
        COLEBROOK_ROUGHNESS,
    )?;
    Ok(colebrook(reynolds, relative_roughness))
}

/// Darcy friction factor of turbulent flow in a rough pipe, explicit.
///
/// `1/√f = −1.8 log₁₀[((ε/D)/3.7)^1.11 + 6.9/Re]`
///
/// - `reynolds`: Reynolds number on the inner diameter \[–\]
/// - `relative_roughness`: ε/D \[–\]
///
/// # Errors
/// [`OutOfRange`] outside [`HAALAND_REYNOLDS`] or [`HAALAND_ROUGHNESS`].
///
/// # Source
/// Haaland (1983), J. Fluids Eng. 105(1), 89–90, doi:10.1115/1.3240948.
///
/// ```
/// # use gradeline::hydraulics::friction::darcy_haaland;
/// let f = darcy_haaland(4000.0, 1e-5).unwrap();
/// assert!((f / 0.040_427_707_695_990_4 - 1.0).abs() < 1e-13);
/// ```
pub fn darcy_haaland(reynolds: f64, relative_roughness: f64) -> Result<f64, OutOfRange> {
    check_both(reynolds, HAALAND_REYNOLDS, relative_roughness, HAALAND_ROUGHNESS)?;
    Ok(haaland(reynolds, relative_roughness))
}

/// Darcy friction factor of turbulent flow in a rough pipe, explicit.
///
/// `f = 0.25 / {log₁₀[(ε/D)/3.7 + 5.74/Re^0.9]}²`
///
/// - `reynolds`: Reynolds number on the inner diameter \[–\]
/// - `relative_roughness`: ε/D \[–\]
///
/// # Errors
/// [`OutOfRange`] outside [`SWAMEE_JAIN_REYNOLDS`] or [`HAALAND_ROUGHNESS`].
///
/// # Source
/// Swamee and Jain (1976), J. Hydraulics Div. ASCE 102(5), 657–664. The check is decimal arithmetic to 30 digits.
///
/// ```
/// # use gradeline::hydraulics::friction::darcy_swamee_jain;
/// assert!(darcy_swamee_jain(4000.0, 1e-5).is_err());
/// let f = darcy_swamee_jain(1e4, 1e-5).unwrap();
/// assert!((f / 0.030_989_837_055_038 - 1.0).abs() < 1e-13);
/// ```
pub fn darcy_swamee_jain(reynolds: f64, relative_roughness: f64) -> Result<f64, OutOfRange> {
    check_both(
        reynolds,
        SWAMEE_JAIN_REYNOLDS,
        relative_roughness,
        HAALAND_ROUGHNESS,
    )?;
    Ok(swamee_jain(reynolds, relative_roughness))
}

/// Darcy friction factor of all regimes in one explicit formula.
///
/// `f = 8 [(8/Re)^12 + (A + B)^(−3/2)]^(1/12)`, with `A = {2.457 ln 1/[(7/Re)^0.9 + 0.27 ε/D]}^16` and
/// `B = (37530/Re)^16`
///
/// - `reynolds`: Reynolds number on the inner diameter \[–\]
/// - `relative_roughness`: ε/D \[–\]
///
/// # Errors
/// [`OutOfRange`] outside [`CHURCHILL_REYNOLDS`] or [`COLEBROOK_ROUGHNESS`].
///
/// # Source
/// Churchill (1977), Chemical Engineering 84(24), 91–92. The check is the library `fluids` 1.3.1.
///
/// ```
/// # use gradeline::hydraulics::friction::darcy_churchill;
/// let f = darcy_churchill(4000.0, 0.0).unwrap();
/// assert!((f / 0.040_589_732_961_165_2 - 1.0).abs() < 1e-13);
/// ```
pub fn darcy_churchill(reynolds: f64, relative_roughness: f64) -> Result<f64, OutOfRange> {
    check_both(
        reynolds,
        CHURCHILL_REYNOLDS,
        relative_roughness,
        COLEBROOK_ROUGHNESS,
    )?;
    Ok(churchill(reynolds, relative_roughness))
}

/// Darcy friction factor of turbulent flow, explicit and within some 0.003 % of Colebrook–White.
///
/// `A = −2 log₁₀[(ε/D)/3.7 + 12/Re]`, `B = −2 log₁₀[(ε/D)/3.7 + 2.51 A/Re]`,
/// `C = −2 log₁₀[(ε/D)/3.7 + 2.51 B/Re]`, `1/√f = A − (B − A)²/(C − 2B + A)`
///
/// - `reynolds`: Reynolds number on the inner diameter \[–\]
/// - `relative_roughness`: ε/D \[–\]
///
/// # Errors
/// [`OutOfRange`] outside [`SERGHIDES_REYNOLDS`] or [`COLEBROOK_ROUGHNESS`].
///
/// # Source
/// Serghides (1984), Chemical Engineering 91(5), 63–64. The check is the library `fluids` 1.3.1.
///
/// ```
/// # use gradeline::hydraulics::friction::darcy_serghides;
/// let f = darcy_serghides(4000.0, 0.0).unwrap();
/// assert!((f / 0.039_906_949_402_297_9 - 1.0).abs() < 1e-12);
/// ```
pub fn darcy_serghides(reynolds: f64, relative_roughness: f64) -> Result<f64, OutOfRange> {
    check_both(
        reynolds,
        SERGHIDES_REYNOLDS,
        relative_roughness,
        COLEBROOK_ROUGHNESS,
    )?;
    Ok(serghides(reynolds, relative_roughness))
}

/// Darcy friction factor that turbulent flow nears as the Reynolds number grows.
///
/// `1/√f = 2 log₁₀(3.7 D/ε)`
///
/// - `relative_roughness`: ε/D \[–\]
///
/// # Errors
/// [`OutOfRange`] outside [`FULLY_ROUGH_ROUGHNESS`].
///
/// # Source
/// von Kármán (1930), from Nikuradse's sand-roughened pipes; the limit of Colebrook–White for `Re → ∞`.
///
/// ```
/// # use gradeline::hydraulics::friction::darcy_fully_rough;
/// let f = darcy_fully_rough(1e-6).unwrap();
/// assert!((f / 0.005_794_914_648_297_55 - 1.0).abs() < 1e-14);
/// ```
pub fn darcy_fully_rough(relative_roughness: f64) -> Result<f64, OutOfRange> {
    check("relative roughness", relative_roughness, FULLY_ROUGH_ROUGHNESS)?;
    Ok(fully_rough(relative_roughness))
}

/// Relative roughness ε/D at which Colebrook–White gives a Darcy friction factor; explicit.
///
/// `ε/D = 3.7 [10^(−1/(2√f)) − 2.51/(Re √f)]`
///
/// - `darcy_friction_factor` \[–\]
/// - `reynolds`: Reynolds number on the inner diameter \[–\]
///
/// # Errors
/// [`OutOfRange`] where no wall has such a factor: it is below that of a smooth wall (the value in the
/// error is then the negative roughness found) or beyond the end of the chart; or the Reynolds number is
/// outside [`COLEBROOK_REYNOLDS`].
///
/// ```
/// # use gradeline::hydraulics::friction::{darcy_colebrook, relative_roughness_colebrook};
/// let f = darcy_colebrook(1e5, 0.001).unwrap();
/// assert!((relative_roughness_colebrook(f, 1e5).unwrap() / 0.001 - 1.0).abs() < 1e-12);
/// ```
pub fn relative_roughness_colebrook(darcy_friction_factor: f64, reynolds: f64) -> Result<f64, OutOfRange> {
    check("Reynolds number", reynolds, COLEBROOK_REYNOLDS)?;
    check(
        "Darcy friction factor",
        darcy_friction_factor,
        (f64::MIN_POSITIVE, f64::MAX),
    )?;
    let found = colebrook_roughness(darcy_friction_factor, reynolds);
    // A smooth wall gives back zero but for rounding.
    let found = if found < 0.0 && found > -1e-14 { 0.0 } else { found };
    check("relative roughness", found, COLEBROOK_ROUGHNESS)?;
    Ok(found)
}

/// Darcy friction factor as one reader has it, in a round pipe; [`darcy_of`] takes any cross-section.
///
/// Laminar flow (Reynolds number below `limits.laminar_end`) takes 64/Re, unless the law is [`Law::Fixed`];
/// other flow takes the law, times the reading's factor. Laws are taken beyond their published range too.
/// NaN where a law has no value: a Reynolds number that is not above 0, an ε/D outside 0 to 1.
///
/// ```
/// # use gradeline::hydraulics::{friction::{Reading, darcy}, regime::Limits};
/// assert_eq!(darcy(Reading::EXACT, 640.0, 0.01, &Limits::default()), 0.1);
/// ```
pub fn darcy(reading: Reading, reynolds: f64, relative_roughness: f64, limits: &Limits) -> f64 {
    darcy_of(&Section::ROUND, reading, reynolds, relative_roughness, limits)
}

/// [`darcy`] in a pipe or duct of any cross-section; Reynolds number and ε/D are on the hydraulic diameter.
///
/// Laminar flow takes the section's own constant over Re.
pub fn darcy_of(
    section: &Section,
    reading: Reading,
    reynolds: f64,
    relative_roughness: f64,
    limits: &Limits,
) -> f64 {
    darcy_in(
        section,
        reading,
        reynolds,
        relative_roughness,
        reynolds < limits.laminar_end,
    )
}

/// [`darcy_of`] where it is settled already whether the flow counts as laminar: the solver needs the factor on
/// either side of the jump.
pub(super) fn darcy_in(
    section: &Section,
    reading: Reading,
    reynolds: f64,
    relative_roughness: f64,
    is_laminar: bool,
) -> f64 {
    if let Law::Fixed(value) = reading.law {
        return value * reading.factor;
    }
    if is_laminar || reading.law == Law::LaminarEverywhere {
        let factor = if is_laminar { 1.0 } else { reading.factor };
        return factor * laminar_of(section.laminar_constant, reynolds);
    }
    let on = section.turbulent_diameter;
    if on == 1.0 {
        return reading.factor * turbulent(reading.law, reynolds, relative_roughness);
    }
    reading.factor * turbulent(reading.law, reynolds * on, relative_roughness / on)
}

fn turbulent(law: Law, reynolds: f64, relative_roughness: f64) -> f64 {
    match law {
        Law::Colebrook => colebrook(reynolds, relative_roughness),
        Law::Haaland => haaland(reynolds, relative_roughness),
        Law::SwameeJain => swamee_jain(reynolds, relative_roughness),
        Law::Churchill => churchill(reynolds, relative_roughness),
        Law::Serghides => serghides(reynolds, relative_roughness),
        Law::FullyRough => fully_rough(relative_roughness),
        Law::LaminarEverywhere => laminar(reynolds),
        Law::NaturalLogarithm => colebrook_with_natural_logarithm(reynolds, relative_roughness),
        Law::Fixed(value) => value,
    }
}

fn laminar(reynolds: f64) -> f64 {
    laminar_of(ROUND_LAMINAR, reynolds)
}

fn laminar_of(constant: f64, reynolds: f64) -> f64 {
    if reynolds >= 0.0 {
        constant / reynolds
    } else {
        f64::NAN
    }
}

/// Colebrook–White, for any Reynolds number above 0 and ε/D from 0 to 1.
///
/// With x = 1/√f, a = (ε/D)/3.7 and b = 2.51/Re the law is g(x) = x + 2 log₁₀(a + b x) = 0. g rises and is
/// concave, so it has one zero, and a Newton step from anywhere lands left of it. Halley's steps from a
/// start that is one logarithm away settle it, two of them nearly always.
pub(super) fn colebrook(reynolds: f64, relative_roughness: f64) -> f64 {
    if !(reynolds > 0.0 && (0.0..=1.0).contains(&relative_roughness)) {
        return f64::NAN;
    }
    let x = colebrook_x(relative_roughness / COLEBROOK_A, COLEBROOK_B / reynolds);
    1.0 / (x * x)
}

/// Darcy friction factor of `1/√f = −2 ln[(ε/D)/3.7 + 2.51/(Re √f)]`. With y = x/ln 10 it is Colebrook–White's own equation in y, its viscosity
/// constant ln 10 times as large.
fn colebrook_with_natural_logarithm(reynolds: f64, relative_roughness: f64) -> f64 {
    const LN_10: f64 = std::f64::consts::LN_10;
    if !(reynolds > 0.0 && (0.0..=1.0).contains(&relative_roughness)) {
        return f64::NAN;
    }
    let x = LN_10 * colebrook_x(relative_roughness / COLEBROOK_A, LN_10 * COLEBROOK_B / reynolds);
    1.0 / (x * x)
}

fn colebrook_x(a: f64, b: f64) -> f64 {
    // Re < 50 is far from turbulent flow, but the answer is still the law's: there b x = 10^(-x/2) - a gives
    // a start left of the zero.
    if b >= 0.05 {
        return colebrook_x_slow(a, b);
    }
    let mut x = -TWO_OVER_LN10 * libm::log(a + 7.5 * b);
    for _ in 0..8 {
        let y = a + b * x;
        let g = x + TWO_OVER_LN10 * libm::log(y);
        // g' = 1 + s and g'' = -s²/TWO_OVER_LN10, with s = TWO_OVER_LN10 b/y.
        let s = TWO_OVER_LN10 * b / y;
        let slope = 1.0 + s;
        let step = g / (slope + 0.5 * g * s * s / (TWO_OVER_LN10 * slope));
        x -= step;
        // What is left is below 5e-4 of the cube of the step just taken, since |s| < 0.25 here.
        if step.abs() <= 1e-5 * x {
            return x;
        }
    }
    colebrook_x_slow(a, b)
}

/// Bisection safeguarded Newton, for what the fast way does not settle.
#[cold]
fn colebrook_x_slow(a: f64, b: f64) -> f64 {
    if b == f64::INFINITY {
        return 0.0;
    }
    // g(low) <= 0: low = 0 when a > 0; the bound from b x = 10^(-x/2) - a with x <= 1/b otherwise.
    let mut low = ((libm::exp10(-0.5 / b) - a) / b).max(0.0);
    // g(high) >= 0: at the least x for which x alone outweighs the logarithm of a.
    let mut high = (1.0 / b).max(low);
    if a > 0.0 {
        high = high.min(-TWO_OVER_LN10 * libm::log(a)).max(low);
    }
    let mut x = low;
    for _ in 0..200 {
        let y = a + b * x;
        let g = x + TWO_OVER_LN10 * libm::log(y);
        if g < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let newton = x - g / (1.0 + TWO_OVER_LN10 * b / y);
        let next = if newton >= low && newton <= high {
            newton
        } else {
            low + 0.5 * (high - low)
        };
        let moved = (next - x).abs();
        x = next;
        if moved <= 1e-16 * x.abs() {
            break;
        }
    }
    x
}

fn haaland(reynolds: f64, relative_roughness: f64) -> f64 {
    let rough = if relative_roughness == 0.0 {
        0.0
    } else {
        libm::pow(relative_roughness / 3.7, 1.11)
    };
    let x = -1.8 * libm::log10(rough + 6.9 / reynolds);
    1.0 / (x * x)
}

fn swamee_jain(reynolds: f64, relative_roughness: f64) -> f64 {
    let log = libm::log10(relative_roughness / 3.7 + 5.74 / libm::pow(reynolds, 0.9));
    0.25 / (log * log)
}

fn churchill(reynolds: f64, relative_roughness: f64) -> f64 {
    let sixteenth = |x: f64| {
        let x2 = x * x;
        let x4 = x2 * x2;
        let x8 = x4 * x4;
        x8 * x8
    };
    let a = sixteenth(-2.457 * libm::log(libm::pow(7.0 / reynolds, 0.9) + 0.27 * relative_roughness));
    let b = sixteenth(37_530.0 / reynolds);
    let laminar = libm::pow(8.0 / reynolds, 12.0);
    8.0 * libm::pow(laminar + libm::pow(a + b, -1.5), 1.0 / 12.0)
}

fn serghides(reynolds: f64, relative_roughness: f64) -> f64 {
    let rough = relative_roughness / 3.7;
    let a = -2.0 * libm::log10(rough + 12.0 / reynolds);
    let b = -2.0 * libm::log10(rough + 2.51 * a / reynolds);
    let c = -2.0 * libm::log10(rough + 2.51 * b / reynolds);
    let bend = c - 2.0 * b + a;
    // The three agree to the last digit where viscosity no longer counts.
    let x = if bend.abs() < 1e-14 {
        c
    } else {
        a - (b - a) * (b - a) / bend
    };
    1.0 / (x * x)
}

fn fully_rough(relative_roughness: f64) -> f64 {
    let x = -TWO_OVER_LN10 * libm::log(relative_roughness / COLEBROOK_A);
    1.0 / (x * x)
}

/// ε/D from Colebrook–White's own equation; negative where f is below that of a smooth wall.
pub(super) fn colebrook_roughness(darcy_friction_factor: f64, reynolds: f64) -> f64 {
    let x = 1.0 / darcy_friction_factor.sqrt();
    COLEBROOK_A * (libm::exp10(-0.5 * x) - COLEBROOK_B * x / reynolds)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Held against the equation itself, and against the common logarithm, from which it is far.
    #[test]
    fn a_natural_logarithm_solves_its_own_equation() {
        for (reynolds, relative) in [(1e4, 0.0), (5e4, 0.002), (1e6, 0.05)] {
            let law = Law::NaturalLogarithm;
            let f = turbulent(law, reynolds, relative);
            let x = 1.0 / f.sqrt();
            let right = -2.0 * libm::log(relative / 3.7 + 2.51 * x / reynolds);
            assert!((x / right - 1.0).abs() < 1e-12, "{reynolds} {relative}");
            assert!(f < 0.3 * colebrook(reynolds, relative));
        }
    }

    #[test]
    fn beyond_the_chart_colebrook_still_solves_its_equation() {
        for reynolds in [
            1e-300, 1e-3, 1.0, 40.0, 49.9, 50.1, 60.0, 500.0, 1e10, 1e15, 1e300,
        ] {
            for roughness in [0.0, 1e-300, 1e-12, 1e-3, 0.05, 0.3, 0.5, 1.0] {
                let f = colebrook(reynolds, roughness);
                assert!(f > 0.0, "{reynolds} {roughness}: {f}");
                let x = 1.0 / f.sqrt();
                let y = roughness / 3.7 + 2.51 / reynolds * x;
                let error = (x + 2.0 * libm::log10(y)) / (1.0 + 2.0 * libm::fabs(libm::log10(y)));
                if f.is_finite() {
                    assert!(error.abs() < 1e-14, "{reynolds} {roughness}: {error}");
                }
            }
        }
    }

    #[test]
    fn what_has_no_factor_gives_nan_and_no_panic() {
        for reynolds in [f64::NAN, -1.0, f64::NEG_INFINITY] {
            assert!(colebrook(reynolds, 0.001).is_nan());
            assert!(laminar(reynolds).is_nan());
        }
        assert!(colebrook(1e5, -0.1).is_nan());
        assert!(colebrook(1e5, 1.1).is_nan());
    }

    #[test]
    fn a_fixed_reading_holds_in_laminar_flow_too() {
        let reading = Reading {
            law: Law::Fixed(0.02),
            factor: 1.05,
        };
        let f = darcy(reading, 100.0, 0.0, &Limits::default());
        assert!((f - 0.021).abs() < 1e-16);
    }
}
