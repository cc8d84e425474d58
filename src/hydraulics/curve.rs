//! What a pump does as a function of its flow: its head, its efficiency, the head that it needs at its inlet.

use super::root::{crossing, crossings};
use std::sync::Arc;

/// Why points or coefficients make no curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CurveError {
    /// Fewer points than the curve needs.
    TooFew {
        /// How many it needs.
        needed: usize,
    },
    /// The flow of a point is below 0, or not above that of the point before it.
    NotRising {
        /// Which point, from 0.
        point: usize,
    },
    /// A number that is not finite.
    NotFinite,
}

/// A point of an interpolated curve.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Knot {
    flow: f64,
    value: f64,
    slope: f64,
}

/// The curve of one pump at its rated speed and with its full impeller.
#[derive(Debug, Clone, PartialEq)]
enum Shape {
    /// `a + b q + c q²`
    Quadratic { a: f64, b: f64, c: f64 },
    /// Cubics between points.
    Points(Vec<Knot>),
    /// Straight lines between points.
    Lines(Vec<(f64, f64)>),
}

/// A curve over the volume flow, of one pump or of several equal ones side by side or one behind the other, at
/// any speed and with a trimmed impeller.
///
/// A curve is known between the ends of its [`range`](Self::range) only. Outside it goes on along its
/// tangent, so that an iteration that strays there finds its way back; whoever gives an answer asks
/// [`covers`](Self::covers) first.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    shape: Arc<Shape>,
    /// Flows of one pump at rated speed between which the curve is known \[m³/s\].
    known: (f64, f64),
    /// Rated speed and full impeller.
    rated: [f64; 2],
    /// Speed and impeller as they are.
    now: [f64; 2],
    parallel: u32,
    series: u32,
    /// Further factors of flow and value.
    stretch: [f64; 2],
}

impl Curve {
    fn new(shape: Shape, known: (f64, f64)) -> Self {
        Self {
            shape: Arc::new(shape),
            known,
            rated: [1.0; 2],
            now: [1.0; 2],
            parallel: 1,
            series: 1,
            stretch: [1.0; 2],
        }
    }

    /// `a + b Q + c Q²`, from no flow to where it falls to nought (without end where it never does).
    ///
    /// # Errors
    /// [`CurveError::NotFinite`].
    pub fn quadratic(a: f64, b: f64, c: f64) -> Result<Self, CurveError> {
        if !(a.is_finite() && b.is_finite() && c.is_finite()) {
            return Err(CurveError::NotFinite);
        }
        Ok(Self::new(
            Shape::Quadratic { a, b, c },
            (0.0, falls_to_nought(a, b, c)),
        ))
    }

    /// Through points of flow \[m³/s\] and value, by cubics that keep the points' shape: between two points the
    /// curve neither overshoots nor turns, so that it has no hump that its points have not.
    ///
    /// This is the common choice for a maker's curve, which passes through its points by definition. The
    /// slopes are Fritsch and Butland's harmonic means, at the ends those of three points.
    ///
    /// # Errors
    /// [`CurveError`]: fewer than two points, flows that do not rise, numbers that are not finite.
    ///
    /// # Source
    /// Fritsch and Butland (1984), SIAM J. Sci. Stat. Comput. 5(2), 300–304; ends as in Moler (2004), Numerical
    /// Computing with MATLAB, section 3.6 (both from memory). Held against scipy's `PchipInterpolator`.
    pub fn through(points: &[(f64, f64)]) -> Result<Self, CurveError> {
        checked(points, 2)?;
        let knots: Vec<Knot> = points
            .iter()
            .zip(slopes(points))
            .map(|(&(flow, value), slope)| Knot { flow, value, slope })
            .collect();
        Ok(Self::new(Shape::Points(knots), ends(points)))
    }

    /// Through points of flow \[m³/s\] and value, by straight lines: what someone does who interpolates in a table.
    ///
    /// # Errors
    /// As [`Curve::through`].
    pub fn straight(points: &[(f64, f64)]) -> Result<Self, CurveError> {
        checked(points, 2)?;
        let shape = Shape::Lines(points.to_vec());
        Ok(Self::new(shape, ends(points)))
    }

    /// The parabola that misses the points of flow \[m³/s\] and value by the least sum of squares; known
    /// between the first point and the last.
    ///
    /// # Errors
    /// [`CurveError`]: fewer than three points, flows that do not rise, numbers that are not finite.
    pub fn fitted(points: &[(f64, f64)]) -> Result<Self, CurveError> {
        checked(points, 3)?;
        // By polynomials orthogonal on the flows, in shares of the largest, so that nothing cancels.
        let scale = ends(points).1;
        let x = |flow: f64| flow / scale;
        let count = points.len() as f64;
        let sum = |term: &dyn Fn(f64, f64) -> f64| points.iter().map(|&(q, v)| term(x(q), v)).sum::<f64>();
        let mean = sum(&|x, _| x) / count;
        let first = |x: f64| x - mean;
        let norm_first = sum(&|x, _| first(x) * first(x));
        let centre = sum(&|x, _| x * first(x) * first(x)) / norm_first;
        let less = norm_first / count;
        let second = |x: f64| (x - centre) * first(x) - less;
        let norm_second = sum(&|x, _| second(x) * second(x));
        let level = sum(&|_, v| v) / count;
        let tilt = sum(&|x, v| first(x) * v) / norm_first;
        let bend = sum(&|x, v| second(x) * v) / norm_second;
        let a = level - tilt * mean + bend * (centre * mean - less);
        let b = (tilt - bend * (centre + mean)) / scale;
        let c = bend / (scale * scale);
        if !(a.is_finite() && b.is_finite() && c.is_finite()) {
            return Err(CurveError::NotFinite);
        }
        Ok(Self::new(Shape::Quadratic { a, b, c }, ends(points)))
    }

    /// The same, known no further than this flow of one pump at rated speed \[m³/s\].
    #[must_use]
    pub fn up_to(mut self, flow: f64) -> Self {
        self.known.1 = self.known.1.min(flow).max(self.known.0);
        self
    }

    /// The same, said to be the curve at this speed \[1/s\], at which the pump then runs. Where nothing is said,
    /// speeds are shares of the rated one.
    #[must_use]
    pub fn rated_at(mut self, speed: f64) -> Self {
        self.rated[0] = speed;
        self.now[0] = speed;
        self
    }

    /// The same, said to be the curve with an impeller of this diameter \[m\], which the pump then has. Where
    /// nothing is said, diameters are shares of the full one.
    #[must_use]
    pub fn with_impeller(mut self, diameter: f64) -> Self {
        self.rated[1] = diameter;
        self.now[1] = diameter;
        self
    }

    /// At another speed, by the affinity laws: with s its share of the rated one, a point (Q, H) moves to
    /// (s Q, s² H).
    #[must_use]
    pub fn at_speed(mut self, speed: f64) -> Self {
        self.now[0] = speed;
        self
    }

    /// With the impeller trimmed to another diameter, by the affinity laws as they are used for one casing: with
    /// t its share of the full one, a point (Q, H) moves to (t Q, t² H). Good for small cuts only.
    #[must_use]
    pub fn trimmed(mut self, diameter: f64) -> Self {
        self.now[1] = diameter;
        self
    }

    /// Of this many equal pumps side by side: at one head, their flows add up.
    #[must_use]
    pub fn in_parallel(mut self, pumps: u32) -> Self {
        self.parallel = pumps;
        self
    }

    /// Of this many equal pumps one behind the other: at one flow, their heads add up.
    #[must_use]
    pub fn in_series(mut self, pumps: u32) -> Self {
        self.series = pumps;
        self
    }

    /// With flows and heads multiplied besides: by no law of pumps, but by whatever someone takes for one.
    #[must_use]
    pub fn stretched(mut self, flow: f64, head: f64) -> Self {
        self.stretch = [flow, head];
        self
    }

    /// Speed, and the rated one \[1/s, or shares of the rated one\].
    pub fn speeds(&self) -> (f64, f64) {
        (self.now[0], self.rated[0])
    }

    /// Diameter of the impeller, and of the full one \[m, or shares of the full one\].
    pub fn impellers(&self) -> (f64, f64) {
        (self.now[1], self.rated[1])
    }

    /// Share of the rated speed times share of the full impeller's diameter: what flows are multiplied by.
    pub fn ratio(&self) -> f64 {
        self.now[0] / self.rated[0] * (self.now[1] / self.rated[1])
    }

    /// How many pumps stand side by side.
    pub fn parallel(&self) -> u32 {
        self.parallel
    }

    /// How many pumps stand one behind the other.
    pub fn series(&self) -> u32 {
        self.series
    }

    /// `a`, `b` and `c` of `a + b q + c q²` of one pump at rated speed \[m, s/m², s²/m⁵ for a head\]; none where
    /// the curve runs through points.
    pub fn coefficients(&self) -> Option<[f64; 3]> {
        match *self.shape {
            Shape::Quadratic { a, b, c } => Some([a, b, c]),
            Shape::Points(_) | Shape::Lines(_) => None,
        }
    }

    /// The points that the curve runs through, flow and value of one pump at rated speed; none where it is a
    /// parabola.
    pub fn points(&self) -> Option<Vec<(f64, f64)>> {
        match &*self.shape {
            Shape::Quadratic { .. } => None,
            Shape::Points(knots) => Some(knots.iter().map(|k| (k.flow, k.value)).collect()),
            Shape::Lines(points) => Some(points.clone()),
        }
    }

    /// The same pumps, with straight lines between the points of their curve; none where it is a parabola.
    pub fn straightened(&self) -> Option<Self> {
        self.points().map(|points| Self {
            shape: Arc::new(Shape::Lines(points)),
            ..self.clone()
        })
    }

    /// Flow of all pumps for a flow of one at rated speed with a full impeller.
    fn flow_scale(&self) -> f64 {
        self.ratio() * f64::from(self.parallel) * self.stretch[0]
    }

    fn head_scale(&self) -> f64 {
        let ratio = self.ratio();
        ratio * ratio * f64::from(self.series) * self.stretch[1]
    }

    /// The flow of one pump at rated speed and with a full impeller that corresponds to a flow of all of them
    /// as they run \[m³/s\].
    pub fn rated_flow(&self, flow: f64) -> f64 {
        flow / self.flow_scale()
    }

    /// Flows between which the curve is known \[m³/s\].
    pub fn range(&self) -> (f64, f64) {
        let scale = self.flow_scale();
        (self.known.0 * scale, self.known.1 * scale)
    }

    /// Whether the curve is known at a flow \[m³/s\].
    pub fn covers(&self, flow: f64) -> bool {
        let (from, to) = self.range();
        // A flow that was found at an end may miss it by a last digit.
        let slack = 1.0e-12 * to;
        flow >= from - slack && (flow <= to + slack)
    }

    /// Head \[m\] at a flow \[m³/s\]; along the tangent outside the range.
    pub fn head(&self, flow: f64) -> f64 {
        self.head_scale() * self.rated(self.rated_flow(flow)).0
    }

    /// Change of the head with the flow \[m/(m³/s)\].
    pub fn slope(&self, flow: f64) -> f64 {
        self.head_scale() / self.flow_scale() * self.rated(self.rated_flow(flow)).1
    }

    /// Value and slope of one pump at rated speed at a flow of one pump at rated speed \[m³/s\]: what an
    /// efficiency is read by, which no number of pumps changes.
    pub fn rated(&self, flow: f64) -> (f64, f64) {
        let inside = flow.clamp(self.known.0, self.known.1);
        let (value, slope) = self.inside(inside);
        (value + slope * (flow - inside), slope)
    }

    fn inside(&self, q: f64) -> (f64, f64) {
        match &*self.shape {
            Shape::Quadratic { a, b, c } => (a + q * (b + c * q), b + 2.0 * c * q),
            Shape::Lines(points) => {
                let next = points.partition_point(|p| p.0 <= q).clamp(1, points.len() - 1);
                let (from, to) = (points[next - 1], points[next]);
                let slope = (to.1 - from.1) / (to.0 - from.0);
                (from.1 + slope * (q - from.0), slope)
            }
            Shape::Points(knots) => {
                let next = knots.partition_point(|k| k.flow <= q).clamp(1, knots.len() - 1);
                let (from, to) = (knots[next - 1], knots[next]);
                let width = to.flow - from.flow;
                let t = (q - from.flow) / width;
                let rise = (to.value - from.value) / width;
                // Hermite's cubic in powers of the way from the first point.
                let c = 3.0 * rise - 2.0 * from.slope - to.slope;
                let d = from.slope + to.slope - 2.0 * rise;
                // Counted from the nearer end, so that each point is met exactly.
                if t <= 0.5 {
                    (
                        from.value + width * t * (from.slope + t * (c + t * d)),
                        from.slope + t * (2.0 * c + 3.0 * t * d),
                    )
                } else {
                    let u = 1.0 - t;
                    let back = 3.0 * rise - 2.0 * to.slope - from.slope;
                    (
                        to.value - width * u * (to.slope + u * (back + u * d)),
                        to.slope + u * (2.0 * back + 3.0 * u * d),
                    )
                }
            }
        }
    }

    /// Head without flow \[m\], where the curve is known so far.
    pub fn shut_off_head(&self) -> Option<f64> {
        (self.known.0 == 0.0).then(|| self.head(0.0))
    }

    /// Whether the curve nowhere rises within its range.
    pub fn falls(&self) -> bool {
        match &*self.shape {
            Shape::Quadratic { b, c, .. } => {
                let end = if self.known.1.is_finite() {
                    b + 2.0 * c * self.known.1
                } else {
                    b + c
                };
                b + 2.0 * c * self.known.0 <= 0.0 && end <= 0.0
            }
            Shape::Points(knots) => knots.windows(2).all(|k| k[1].value <= k[0].value),
            Shape::Lines(points) => points.windows(2).all(|p| p[1].1 <= p[0].1),
        }
    }

    /// Flows within the range at which one cubic passes into the next \[m³/s\].
    pub(super) fn joints(&self) -> Vec<f64> {
        let scale = self.flow_scale();
        let (from, to) = self.range();
        let points = self.points().unwrap_or_default();
        let inner = points.iter().map(|point| point.0 * scale);
        inner.filter(|&q| q > from && q < to).collect()
    }

    /// The [`ratio`](Self::ratio) that makes these pumps give a head \[m\] at a flow above 0 \[m³/s\].
    ///
    /// Points that correspond by the affinity laws lie on a parabola through the origin; where that of the
    /// wanted point meets the rated curve, the ratio of the flows is the one of the speeds. All crossings are
    /// given, the largest ratio last.
    ///
    /// # Errors
    /// Where the parabola passes the rated curve by: true beyond its end, false before its beginning.
    pub(super) fn ratios(&self, flow: f64, head: f64) -> Result<Vec<f64>, bool> {
        let each = flow / f64::from(self.parallel);
        let bend = head / f64::from(self.series) / (each * each);
        let gap = |q: f64| self.inside(q).0 - bend * q * q;
        let (from, to) = (self.known.0.max(self.known.1.min(1.0) * 1e-9), self.known.1);
        let (first, last) = (gap(from), gap(to));
        let mut found = Vec::new();
        if self.falls() {
            if first >= 0.0 && last <= 0.0 {
                found.push(crossing(gap, from, to));
            }
        } else {
            let mut edges = vec![from];
            let points = self.points().unwrap_or_default();
            edges.extend(points.iter().map(|p| p.0).filter(|&q| q > from && q < to));
            edges.push(to);
            for pair in edges.windows(2) {
                crossings(gap, pair[0], pair[1], 48, &mut found);
            }
            found.dedup_by(|a, b| (*a - *b).abs() <= 1e-12 * b.abs());
        }
        if found.is_empty() {
            return Err(last > 0.0);
        }
        // The larger flow of the rated pump goes with the lower speed.
        Ok(found.iter().rev().map(|q| each / q).collect())
    }
}

/// The first flow above 0 at which a quadratic falls through nought.
fn falls_to_nought(a: f64, b: f64, c: f64) -> f64 {
    let never = f64::INFINITY;
    if c == 0.0 {
        return if b < 0.0 && a > 0.0 { -a / b } else { never };
    }
    let inside = b * b - 4.0 * a * c;
    if inside < 0.0 {
        return never;
    }
    // Falling through nought means a slope of -√inside there: q = (-b - √inside)/(2c), in the form that does
    // not cancel.
    let root = inside.sqrt();
    let q = if b > 0.0 {
        (-b - root) / (2.0 * c)
    } else {
        2.0 * a / (root - b)
    };
    if q > 0.0 && q.is_finite() { q } else { never }
}

fn checked(points: &[(f64, f64)], needed: usize) -> Result<(), CurveError> {
    if points.len() < needed {
        return Err(CurveError::TooFew { needed });
    }
    if points.iter().any(|(q, v)| !(q.is_finite() && v.is_finite())) {
        return Err(CurveError::NotFinite);
    }
    let mut before = f64::NEG_INFINITY;
    for (point, &(flow, _)) in points.iter().enumerate() {
        if flow < 0.0 || flow <= before {
            return Err(CurveError::NotRising { point });
        }
        before = flow;
    }
    Ok(())
}

/// Flows of the first point and the last, of which [`checked`] has seen that there are some.
fn ends(points: &[(f64, f64)]) -> (f64, f64) {
    (points[0].0, points[points.len() - 1].0)
}

/// The slopes at points that keep their shape.
fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let widths: Vec<f64> = points.windows(2).map(|p| p[1].0 - p[0].0).collect();
    let rises: Vec<f64> = points
        .windows(2)
        .zip(&widths)
        .map(|(p, width)| (p[1].1 - p[0].1) / width)
        .collect();
    if let [rise] = rises.as_slice() {
        return vec![*rise; 2];
    }
    let sign = |x: f64| if x == 0.0 { 0.0 } else { x.signum() };
    let end = |h0: f64, h1: f64, r0: f64, r1: f64| {
        let slope = ((2.0 * h0 + h1) * r0 - h0 * r1) / (h0 + h1);
        if sign(slope) != sign(r0) {
            0.0
        } else if sign(r0) != sign(r1) && slope.abs() > 3.0 * r0.abs() {
            3.0 * r0
        } else {
            slope
        }
    };
    let last = rises.len() - 1;
    let mut all = vec![end(widths[0], widths[1], rises[0], rises[1])];
    for i in 1..=last {
        let (before, behind) = (rises[i - 1], rises[i]);
        all.push(if sign(before) * sign(behind) <= 0.0 {
            0.0
        } else {
            let first = 2.0 * widths[i] + widths[i - 1];
            let second = widths[i] + 2.0 * widths[i - 1];
            (first + second) / (first / before + second / behind)
        });
    }
    all.push(end(widths[last], widths[last - 1], rises[last], rises[last - 1]));
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    const POINTS: [(f64, f64); 5] = [
        (0.0, 40.0),
        (0.01, 39.0),
        (0.02, 35.0),
        (0.03, 27.0),
        (0.04, 15.0),
    ];

    #[test]
    fn a_curve_meets_its_points_and_is_smooth_there() {
        let curve = Curve::through(&POINTS).unwrap();
        for (flow, head) in POINTS {
            assert_eq!(curve.head(flow), head);
            let (left, right) = (curve.slope(flow - 1e-12), curve.slope(flow + 1e-12));
            assert!((left - right).abs() < 1e-5, "{left} {right}");
        }
        assert_eq!(curve.straightened().unwrap().head(0.025), 31.0);
        assert_eq!(curve.straightened(), Curve::straight(&POINTS).ok());
        assert_eq!(curve.range(), (0.0, 0.04));
        assert_eq!(curve.shut_off_head(), Some(40.0));
        assert!(curve.falls());
    }

    #[test]
    fn a_slope_is_the_change_of_the_head() {
        for curve in [
            Curve::through(&POINTS).unwrap(),
            Curve::fitted(&POINTS).unwrap(),
            Curve::quadratic(32.0, 50.0, -5000.0).unwrap(),
        ] {
            let curve = curve.at_speed(0.9).trimmed(0.95).in_parallel(2).in_series(3);
            for i in 1..200 {
                let q = 0.0005 * f64::from(i);
                let step = 1e-8;
                let slope = (curve.head(q + step) - curve.head(q - step)) / (2.0 * step);
                let at = curve.slope(q);
                assert!((slope - at).abs() < 1e-4 * (1.0 + at.abs()), "{q} {slope} {at}");
            }
        }
    }

    #[test]
    fn a_parabola_through_points_of_a_parabola_is_that_parabola() {
        let parabola = |q: f64| 32.0 + 40.0 * q - 5000.0 * q * q;
        let points: Vec<(f64, f64)> = (0..7)
            .map(|i| 0.007 * f64::from(i))
            .map(|q| (q, parabola(q)))
            .collect();
        let [a, b, c] = Curve::fitted(&points).unwrap().coefficients().unwrap();
        assert!((a - 32.0).abs() < 1e-12, "{a}");
        assert!((b - 40.0).abs() < 1e-9, "{b}");
        assert!((c + 5000.0).abs() < 1e-7, "{c}");
    }

    #[test]
    fn a_quadratic_ends_where_its_head_does() {
        let ends = |a, b, c| Curve::quadratic(a, b, c).unwrap().range().1;
        assert!((ends(32.0, 0.0, -5000.0) - 0.08).abs() < 1e-15);
        assert!((ends(30.0, -1000.0, 0.0) - 0.03).abs() < 1e-15);
        // Two ways through nought: the first one down.
        assert!((ends(0.06, -0.5, 1.0) - 0.2).abs() < 1e-12);
        assert!((ends(0.0, 1.0, -2.0) - 0.5).abs() < 1e-12);
        assert_eq!(ends(2.0, 0.0, 300.0), f64::INFINITY);
        assert_eq!(ends(2.0, 1.0, 0.0), f64::INFINITY);
    }

    #[test]
    fn outside_it_goes_on_along_the_tangent_and_says_so() {
        let curve = Curve::quadratic(32.0, 0.0, -5000.0).unwrap();
        assert!(!curve.covers(-1e-3) && !curve.covers(0.081) && curve.covers(0.08));
        assert_eq!(curve.head(-0.01), 32.0);
        assert!((curve.head(0.09) - -800.0 * 0.01).abs() < 1e-12);
        let curve = Curve::through(&POINTS).unwrap();
        let slope = curve.slope(0.04);
        assert!((curve.head(0.05) - (15.0 + 0.01 * slope)).abs() < 1e-12);
    }

    #[test]
    fn equal_pumps_add_flows_or_heads_and_speed_moves_points_by_affinity() {
        let one = Curve::through(&POINTS).unwrap();
        let (q, h) = (0.017, one.head(0.017));
        assert!((one.clone().in_parallel(3).head(3.0 * q) - h).abs() < 1e-12);
        assert!((one.clone().in_series(3).head(q) - 3.0 * h).abs() < 1e-12);
        let s = 0.83;
        assert!((one.clone().at_speed(s).head(s * q) - s * s * h).abs() < 1e-12);
        assert!((one.clone().trimmed(s).head(s * q) - s * s * h).abs() < 1e-12);
        let ratios = one
            .clone()
            .in_parallel(2)
            .in_series(3)
            .ratios(2.0 * s * q, 3.0 * s * s * h);
        assert!((ratios.unwrap()[0] - s).abs() < 1e-13);
        assert_eq!(one.ratios(0.04, 1.0), Err(true));
        assert_eq!(one.ratios(1e-13, 1.0e9).map(|r| r.len()), Err(false));
    }

    #[test]
    fn what_is_no_curve_is_refused() {
        assert_eq!(
            Curve::through(&[(0.0, 1.0)]),
            Err(CurveError::TooFew { needed: 2 })
        );
        assert_eq!(Curve::fitted(&POINTS[..2]), Err(CurveError::TooFew { needed: 3 }));
        assert_eq!(
            Curve::through(&[(0.0, 1.0), (0.0, 2.0)]),
            Err(CurveError::NotRising { point: 1 })
        );
        assert_eq!(
            Curve::through(&[(-1.0, 1.0), (0.0, 2.0)]),
            Err(CurveError::NotRising { point: 0 })
        );
        assert_eq!(
            Curve::through(&[(0.0, f64::NAN), (1.0, 0.0)]),
            Err(CurveError::NotFinite)
        );
        assert_eq!(
            Curve::quadratic(f64::INFINITY, 0.0, 0.0),
            Err(CurveError::NotFinite)
        );
    }
}
