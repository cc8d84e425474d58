//! Cross-sections that are not round.
//!
//! A duct is reckoned with as a pipe of its hydraulic diameter `D = 4 A/P`. What differs from a round pipe is
//! told by a [`Section`]: the area, and, in laminar flow, the friction factor and the kinetic-energy factor.
//! Those of laminar flow are exact; a [`Shape`] gives them. In turbulent flow the law of the round pipe is
//! taken on the hydraulic diameter, which is a rule of thumb (some 10 to 15 %), or on the effective diameter.

use super::friction::ROUND_LAMINAR;
use std::f64::consts::{FRAC_PI_4, PI};
use std::sync::LazyLock;

/// How a cross-section differs from a round one of its hydraulic diameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Area over that of a circle of the hydraulic diameter \[–\].
    pub area_factor: f64,
    /// Darcy friction factor times Reynolds number (on the hydraulic diameter) in laminar flow \[–\].
    pub laminar_constant: f64,
    /// Kinetic-energy factor of laminar flow \[–\].
    pub laminar_alpha: f64,
    /// The diameter that the friction law of turbulent flow is read with, over the hydraulic diameter \[–\]:
    /// 1, or 64 over the laminar constant for the effective diameter.
    pub turbulent_diameter: f64,
}

impl Section {
    /// A circle.
    pub const ROUND: Self = Self {
        area_factor: 1.0,
        laminar_constant: ROUND_LAMINAR,
        laminar_alpha: 2.0,
        turbulent_diameter: 1.0,
    };

    /// From what is known of any cross-section: area \[m²\], wetted perimeter \[m\] and its laminar flow.
    pub fn of(area: f64, wetted_perimeter: f64, laminar: Laminar) -> Self {
        let diameter = 4.0 * area / wetted_perimeter;
        Self {
            area_factor: area / (FRAC_PI_4 * diameter * diameter),
            laminar_constant: laminar.constant,
            laminar_alpha: laminar.alpha,
            turbulent_diameter: 1.0,
        }
    }

    /// The same section, whose turbulent flow is reckoned on the effective diameter `64 D/C`, with C the laminar
    /// constant: the friction law is read at the Reynolds number and ε/D on that diameter, while friction still
    /// acts along L/D.
    ///
    /// # Source
    /// Jones (1976), J. Fluids Eng. 98(2), 173–181, for rectangles; as taught by White, Fluid Mechanics, in the
    /// section on noncircular ducts (from memory).
    pub fn on_effective_diameter(self) -> Self {
        Self {
            turbulent_diameter: ROUND_LAMINAR / self.laminar_constant,
            ..self
        }
    }

    /// Cross-section \[m²\] at a hydraulic diameter \[m\].
    pub fn area(&self, diameter: f64) -> f64 {
        self.area_factor * (FRAC_PI_4 * diameter * diameter)
    }

    /// Wetted perimeter \[m\] at a hydraulic diameter \[m\].
    pub fn wetted_perimeter(&self, diameter: f64) -> f64 {
        self.area_factor * (PI * diameter)
    }

    /// Whether it is a circle.
    pub fn is_round(&self) -> bool {
        *self == Self::ROUND
    }
}

impl Default for Section {
    fn default() -> Self {
        Self::ROUND
    }
}

/// Fully developed laminar flow through a cross-section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laminar {
    /// Darcy friction factor times Reynolds number, both on the hydraulic diameter \[–\].
    pub constant: f64,
    /// Kinetic-energy factor α: mean of u³ over V³ \[–\].
    pub alpha: f64,
    /// Momentum factor β: mean of u² over V² \[–\].
    pub beta: f64,
}

/// A cross-section by its measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// A rectangle, its sides in any order.
    Rectangle {
        /// One side \[m\].
        width: f64,
        /// The other side \[m\].
        height: f64,
    },
    /// The gap between two concentric tubes.
    Annulus {
        /// Inner diameter of the outer tube \[m\].
        outer: f64,
        /// Outer diameter of the inner tube \[m\].
        inner: f64,
    },
    /// A triangle of equal sides.
    Triangle {
        /// Side \[m\].
        side: f64,
    },
    /// Two parallel plates so wide that their edges do not count.
    Plates {
        /// Distance between them \[m\].
        gap: f64,
        /// Width of the flow \[m\].
        width: f64,
    },
}

impl Shape {
    /// Area of the cross-section \[m²\].
    pub fn area(&self) -> f64 {
        match *self {
            Self::Rectangle { width, height } => width * height,
            Self::Annulus { outer, inner } => FRAC_PI_4 * (outer - inner) * (outer + inner),
            Self::Triangle { side } => 0.25 * 3.0_f64.sqrt() * side * side,
            Self::Plates { gap, width } => gap * width,
        }
    }

    /// Length of wall that the fluid touches in the cross-section \[m\].
    pub fn wetted_perimeter(&self) -> f64 {
        match *self {
            Self::Rectangle { width, height } => 2.0 * (width + height),
            Self::Annulus { outer, inner } => PI * (outer + inner),
            Self::Triangle { side } => 3.0 * side,
            Self::Plates { width, .. } => 2.0 * width,
        }
    }

    /// Hydraulic diameter `4 A/P` \[m\].
    ///
    /// ```
    /// # use gradeline::hydraulics::duct::Shape;
    /// let duct = Shape::Rectangle { width: 0.4, height: 0.25 };
    /// assert!((duct.hydraulic_diameter() - 0.4 / 1.3).abs() < 1e-15);
    /// assert_eq!(Shape::Annulus { outer: 0.06, inner: 0.03 }.hydraulic_diameter(), 0.03);
    /// ```
    pub fn hydraulic_diameter(&self) -> f64 {
        match *self {
            Self::Rectangle { width, height } => 2.0 * width * height / (width + height),
            Self::Annulus { outer, inner } => outer - inner,
            Self::Triangle { side } => side / 3.0_f64.sqrt(),
            Self::Plates { gap, .. } => 2.0 * gap,
        }
    }

    /// Its fully developed laminar flow, which depends on the shape alone.
    pub fn laminar(&self) -> Laminar {
        match *self {
            Self::Rectangle { width, height } => rectangle(width.min(height) / width.max(height)),
            Self::Annulus { outer, inner } => annulus((outer - inner) / outer),
            Self::Triangle { .. } => TRIANGLE,
            Self::Plates { .. } => PLATES,
        }
    }

    /// What the energy equation needs of it.
    pub fn section(&self) -> Section {
        Section::of(self.area(), self.wetted_perimeter(), self.laminar())
    }
}

/// Laminar flow between wide plates: `u = 1.5 V [1 − (2y/h)²]`.
pub const PLATES: Laminar = Laminar {
    constant: 96.0,
    alpha: 54.0 / 35.0,
    beta: 1.2,
};

/// Laminar flow in a triangle of equal sides, whose velocity is the product of the distances from the three
/// walls, so that every mean is a ratio of factorials.
///
/// # Source
/// Boussinesq (1868), J. Math. Pures Appl. 13, 377–424, for the velocity (from memory); the means are worked
/// from it by Dirichlet's integral.
pub const TRIANGLE: Laminar = Laminar {
    constant: 160.0 / 3.0,
    alpha: 180.0 / 77.0,
    beta: 10.0 / 7.0,
};

/// Points and weights of 16-point Gauss–Legendre quadrature on −1 to 1.
static GAUSS: LazyLock<[(f64, f64); 16]> = LazyLock::new(|| {
    let n = 16_u32;
    std::array::from_fn(|i| {
        let mut x = libm::cos(PI * (i as f64 + 0.75) / (f64::from(n) + 0.5));
        let mut slope = 1.0;
        for _ in 0..8 {
            let (mut before, mut at) = (1.0, x);
            for k in 2..=n {
                let k = f64::from(k);
                (before, at) = (at, ((2.0 * k - 1.0) * x * at - (k - 1.0) * before) / k);
            }
            slope = f64::from(n) * (x * at - before) / (x * x - 1.0);
            x -= at / slope;
        }
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    })
});

/// The points and weights of [`GAUSS`] moved to an interval.
fn gauss(from: f64, to: f64) -> impl Iterator<Item = (f64, f64)> {
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    GAUSS.iter().map(move |(x, w)| (middle + half * x, half * w))
}

/// Factors α and β of laminar flow in rectangles, at the ratios `(1 + cos t)/2`, t = π(j + ½)/32, j from 0. They are the
/// means of u³ and u² of the exact series, by quadrature; a test below takes them anew, and between the nodes.
const RECTANGLES: [(f64, f64); 32] = [
    (2.154_180_422_695_9, 1.378_418_666_249_0),
    (2.154_172_695_622_4, 1.378_416_614_909_6),
    (2.154_119_959_888_0, 1.378_402_614_848_2),
    (2.153_946_770_814_9, 1.378_356_636_371_4),
    (2.153_537_787_968_5, 1.378_248_053_138_0),
    (2.152_735_260_008_5, 1.378_034_961_220_2),
    (2.151_335_852_664_1, 1.377_663_305_850_4),
    (2.149_087_037_395_1, 1.377_065_859_758_9),
    (2.145_683_411_988_2, 1.376_161_131_393_0),
    (2.140_763_582_478_0, 1.374_852_341_402_8),
    (2.133_908_662_786_9, 1.373_026_708_618_1),
    (2.124_644_131_404_4, 1.370_555_456_405_6),
    (2.112_447_816_235_8, 1.367_295_215_100_4),
    (2.096_768_195_821_9, 1.363_091_875_182_3),
    (2.077_058_826_894_9, 1.357_788_411_403_9),
    (2.052_835_809_992_6, 1.351_238_595_048_0),
    (2.023_764_010_380_6, 1.343_328_422_427_1),
    (1.989_771_039_411_5, 1.334_005_701_125_4),
    (1.951_171_949_572_3, 1.323_314_477_772_9),
    (1.908_762_157_179_1, 1.311_424_511_619_8),
    (1.863_814_216_436_1, 1.298_639_495_203_5),
    (1.817_927_546_991_6, 1.285_368_945_103_5),
    (1.772_756_694_019_9, 1.272_065_750_576_1),
    (1.729_743_772_686_8, 1.259_157_135_796_5),
    (1.689_987_221_680_3, 1.247_002_876_601_7),
    (1.654_257_211_686_0, 1.235_888_163_019_4),
    (1.623_071_279_623_4, 1.226_033_552_826_3),
    (1.596_766_821_114_0, 1.217_607_110_540_2),
    (1.575_556_618_500_4, 1.210_734_632_367_4),
    (1.559_569_582_625_8, 1.205_507_735_393_2),
    (1.548_879_851_399_0, 1.201_990_020_766_5),
    (1.543_526_654_688_7, 1.200_221_509_613_0),
];

/// Laminar flow in a rectangle of this ratio of short side to long side, above 0 and at most 1.
///
/// With the half gap as unit and `b = 1/ratio`, `u = 1 − x² − (32/π³) Σ (−1)^((n−1)/2)/n³ · cosh(nπy/2)/cosh(nπb/2)
/// · cos(nπx/2)` over odd n solves `∇²u = −2`. Its mean is `2/3 [1 − 192/(π⁵b) Σ tanh(nπb/2)/n⁵]`; the means of u² and
/// u³ hang on the ratio so smoothly that 32 values of them give the rest to some 3e-10.
///
/// # Source
/// Boussinesq (1868), as in Shah and London (1978), Laminar Flow Forced Convection in Ducts, chapter VII (from
/// memory); the series was checked against 40-digit values.
fn rectangle(ratio: f64) -> Laminar {
    let b = 1.0 / ratio;
    // Σ tanh/n⁵ = (31/32) ζ(5) − Σ (1 − tanh)/n⁵, whose terms vanish at once.
    const ODD_FIFTH_POWERS: f64 = 31.0 / 32.0 * 1.036_927_755_143_37;
    let mut lacking = 0.0;
    for k in 0..20 {
        let n = f64::from(2 * k + 1);
        let lack = 2.0 / (libm::exp(n * PI * b) + 1.0);
        lacking += lack / (n * n * n * n * n);
    }
    let pi5 = PI * PI * PI * PI * PI;
    let mean = 2.0 / 3.0 * (1.0 - 192.0 / (pi5 * b) * (ODD_FIFTH_POWERS - lacking));
    let diameter = 4.0 * b / (1.0 + b);
    let (alpha, beta) = between_rectangles(ratio);
    Laminar {
        constant: 4.0 * diameter * diameter / mean,
        alpha,
        beta,
    }
}

/// The polynomial through [`RECTANGLES`] at a ratio, by the barycentric formula.
fn between_rectangles(ratio: f64) -> (f64, f64) {
    let (mut all, mut alpha, mut beta) = (0.0, 0.0, 0.0);
    for (j, &(a, b)) in RECTANGLES.iter().enumerate() {
        let angle = PI * (j as f64 + 0.5) / RECTANGLES.len() as f64;
        let off = ratio - 0.5 * (1.0 + libm::cos(angle));
        if off == 0.0 {
            return (a, b);
        }
        let sign = if j % 2 == 0 { 1.0 } else { -1.0 };
        let weight = sign * libm::sin(angle) / off;
        all += weight;
        alpha += weight * a;
        beta += weight * b;
    }
    (alpha / all, beta / all)
}

/// Laminar flow in a concentric annulus of this gap over the outer radius, above 0 and below 1.
///
/// With the outer radius as unit and `s = ln r`, from `S = ln(inner/outer)` to 0,
/// `u = 1 − r² − (1 − κ²) s/S` solves `∇²u = −4`; the means are taken by quadrature in s.
///
/// # Source
/// Lamb, Hydrodynamics, for the velocity (from memory); checked against 40-digit values of the closed form
/// `64 (1 − κ)²/[1 + κ² − (1 − κ²)/ln(1/κ)]`.
fn annulus(gap: f64) -> Laminar {
    let start = libm::log1p(-gap);
    // Close to a plane gap u is the small rest of large terms; the divided difference of e^(2s) has no such rest.
    let narrow = start > -1.0;
    let velocity = |s: f64| {
        if narrow {
            4.0 * (s - start) * (-s) * bend(start, s)
        } else {
            -libm::expm1(2.0 * s) + libm::expm1(2.0 * start) * s / start
        }
    };
    // What lies below e^(−24) of the outer radius holds no flow that counts.
    let from = start.max(-24.0);
    let panels = libm::ceil(-from / 0.5);
    let width = -from / panels;
    let (mut first, mut square, mut cube) = (0.0, 0.0, 0.0);
    for panel in 0..panels as u32 {
        let low = from + width * f64::from(panel);
        for (s, weight) in gauss(low, low + width) {
            let u = velocity(s);
            let weight = weight * libm::exp(2.0 * s);
            first += weight * u;
            square += weight * u * u;
            cube += weight * u * u * u;
        }
    }
    let all = -0.5 * libm::expm1(2.0 * start);
    let mean = first / all;
    Laminar {
        constant: 32.0 * gap * gap / mean,
        alpha: cube / all / (mean * mean * mean),
        beta: square / all / (mean * mean),
    }
}

/// A quarter of the second divided difference of `e^(2s)` over `start`, `s` and 0, for a `start` above −1: the
/// sum over k from 2 of `2^k/k!` times the complete homogeneous polynomial of degree k − 2 about the middle.
fn bend(start: f64, s: f64) -> f64 {
    let middle = 0.5 * start;
    let nodes = [start - middle, s - middle, -middle];
    // Complete homogeneous polynomials of the first one, two and three nodes.
    let mut h = [1.0; 3];
    let mut share = 2.0;
    let mut sum = 0.0;
    for k in 2..24 {
        sum += share * h[2];
        share *= 2.0 / f64::from(k + 1);
        h[0] *= nodes[0];
        h[1] = h[1] * nodes[1] + h[0];
        h[2] = h[2] * nodes[2] + h[1];
    }
    0.25 * libm::exp(2.0 * middle) * sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quadrature_gives_the_exact_mean_of_polynomials() {
        let of = |power: u32| -> f64 {
            gauss(0.0, 2.0)
                .map(|(x, w)| w * libm::pow(x, f64::from(power)))
                .sum()
        };
        for power in 0..32 {
            let exact = libm::pow(2.0, f64::from(power + 1)) / f64::from(power + 1);
            assert!((of(power) / exact - 1.0).abs() < 1e-13, "{power}");
        }
    }

    #[test]
    fn a_flat_rectangle_and_a_thin_annulus_are_two_plates() {
        for shape in [
            Shape::Rectangle {
                width: 1.0,
                height: 1e-7,
            },
            Shape::Annulus {
                outer: 1.0,
                inner: 1.0 - 1e-8,
            },
        ] {
            let at = shape.laminar();
            assert!((at.constant - 96.0).abs() < 2e-5, "{at:?}");
            assert!((at.alpha - 54.0 / 35.0).abs() < 1e-6, "{at:?}");
            assert!((at.beta - 1.2).abs() < 1e-6, "{at:?}");
        }
    }

    #[test]
    fn both_ways_through_an_annulus_meet() {
        // exp(-1) is where one way takes over from the other.
        let edge = 1.0 - libm::exp(-1.0);
        let (below, above) = (annulus(edge - 1e-9), annulus(edge + 1e-9));
        assert!((below.constant / above.constant - 1.0).abs() < 1e-8);
        assert!((below.alpha / above.alpha - 1.0).abs() < 1e-8);
    }

    #[test]
    fn the_measures_of_a_shape_agree() {
        for shape in [
            Shape::Rectangle {
                width: 0.4,
                height: 0.25,
            },
            Shape::Annulus {
                outer: 0.06,
                inner: 0.03,
            },
            Shape::Triangle { side: 0.08 },
            Shape::Plates {
                gap: 0.002,
                width: 0.3,
            },
        ] {
            let diameter = shape.hydraulic_diameter();
            assert!((4.0 * shape.area() / shape.wetted_perimeter() / diameter - 1.0).abs() < 1e-14);
            let section = shape.section();
            assert!((section.area(diameter) / shape.area() - 1.0).abs() < 1e-14);
            assert!((section.wetted_perimeter(diameter) / shape.wetted_perimeter() - 1.0).abs() < 1e-14);
        }
    }

    /// Terms of the series that are taken at most; what lies behind counts only close to the short walls, where
    /// the velocity is next to nothing.
    const TERMS: usize = 200;
    /// How far the short walls are felt, in half gaps: e^(−24 π/2) is less than one rounding.
    const END_REACH: f64 = 24.0;
    /// Panels of quadrature across the gap, in half gaps from the middle.
    const ACROSS: [f64; 3] = [0.0, 0.7, 1.0];
    /// Panels of quadrature from a short wall inwards, in half gaps.
    const INWARDS: [f64; 9] = [0.0, 0.06, 0.25, 0.75, 1.75, 3.5, 7.0, 14.0, END_REACH];

    /// Factors α and β of a rectangle, from its series by quadrature.
    fn factors_by_quadrature(ratio: f64) -> (f64, f64) {
        let b = 1.0 / ratio;
        let across: Vec<(f64, f64, Vec<f64>)> = ACROSS
            .windows(2)
            .flat_map(|panel| gauss(panel[0], panel[1]))
            .map(|(x, weight)| {
                let cosines = (0..TERMS)
                    .map(|k| {
                        let n = (2 * k + 1) as f64;
                        let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
                        sign / (n * n * n) * libm::cos(0.5 * PI * n * x)
                    })
                    .collect();
                (x, weight, cosines)
            })
            .collect();
        // Beyond the reach of the short walls the flow is that between plates.
        let reach = END_REACH.min(b);
        let plates = (b - reach) / b;
        let (mut mean, mut square, mut cube) =
            (plates * 2.0 / 3.0, plates * 8.0 / 15.0, plates * 16.0 / 35.0);
        for panel in INWARDS.windows(2).filter(|panel| panel[0] < reach) {
            for (from_wall, weight) in gauss(panel[0], panel[1].min(reach)) {
                let y = b - from_wall;
                let damping: Vec<f64> = (0..TERMS)
                    .map(|k| (2 * k + 1) as f64)
                    .map(|n| {
                        libm::exp(-0.5 * PI * n * from_wall) * (1.0 + libm::exp(-n * PI * y))
                            / (1.0 + libm::exp(-n * PI * b))
                    })
                    .collect();
                for (x, weight_across, cosines) in &across {
                    let correction: f64 = cosines.iter().zip(&damping).map(|(c, d)| c * d).sum();
                    let u = (1.0 - x * x - 32.0 / (PI * PI * PI) * correction).max(0.0);
                    let weight = weight * weight_across / b;
                    mean += weight * u;
                    square += weight * u * u;
                    cube += weight * u * u * u;
                }
            }
        }
        (cube / (mean * mean * mean), square / (mean * mean))
    }

    #[test]
    fn factors_of_rectangles_are_the_integrals_of_their_series() {
        for ratio in [
            1.0, 0.93, 0.71, 0.5, 0.333, 0.25, 0.17, 0.1, 0.05, 0.02, 0.003, 1e-5,
        ] {
            let (alpha, beta) = factors_by_quadrature(ratio);
            let ours = rectangle(ratio);
            assert!(
                (ours.alpha / alpha - 1.0).abs() < 2e-9,
                "{ratio}: {} for {alpha}",
                ours.alpha
            );
            assert!(
                (ours.beta / beta - 1.0).abs() < 2e-9,
                "{ratio}: {} for {beta}",
                ours.beta
            );
        }
        for (j, (alpha, beta)) in RECTANGLES.iter().enumerate() {
            let ratio = 0.5 * (1.0 + libm::cos(PI * (j as f64 + 0.5) / 32.0));
            let (a, b) = factors_by_quadrature(ratio);
            assert!(
                (alpha / a - 1.0).abs() < 1e-9 && (beta / b - 1.0).abs() < 1e-9,
                "{j}"
            );
        }
    }
}
