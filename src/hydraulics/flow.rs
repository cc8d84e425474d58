//! Flow from everything else: explicit or by Newton in one pipe, bracketed and safeguarded in general.

use super::curve::Curve;
use super::duct::Section;
use super::friction::{COLEBROOK_A, COLEBROOK_B, Law, Reading, TWO_OVER_LN10, darcy_in};
use super::path::{Balance, StationVelocity, alpha, area, square};
use super::regime::Limits;
use super::root::{crossing, crossings};
use super::solve::{CurveOf, Found, SolveError};

/// The energy equation as a function of the flow alone, between two jumps of it.
///
/// left over = head + power/Q − (quadratic + Σ friction_i f_i) Q²
struct FlowLeg {
    jump: f64,
    reynolds_per_flow: f64,
    relative_roughness: f64,
    section: Section,
    reading: Reading,
    friction: f64,
}

struct FlowBalance {
    legs: Vec<FlowLeg>,
    power: f64,
    /// `head` and `quadratic` with the first pipe turbulent or laminar, and the last.
    by_alpha: [[(f64, f64); 2]; 2],
}

impl FlowBalance {
    fn new(balance: &Balance, limits: &Limits) -> Self {
        let twice_g = 2.0 * balance.gravity;
        let last = balance.legs.len() - 1;
        let losses: f64 = balance
            .legs
            .iter()
            .map(|leg| leg.loss_sum / square(leg.area()))
            .sum();
        let station = |station: &super::path::Station, pipe: usize, is_laminar: bool| {
            let leg = &balance.legs[pipe];
            let alpha = alpha(station, &leg.section, is_laminar);
            match station.velocity {
                StationVelocity::Value(value) => (alpha * square(value) / twice_g, 0.0),
                StationVelocity::Pipe => (0.0, alpha / square(leg.area())),
                StationVelocity::Jet(diameter) => (0.0, alpha / square(area(diameter))),
            }
        };
        let mut by_alpha = [[(0.0, 0.0); 2]; 2];
        for first_laminar in [false, true] {
            for last_laminar in [false, true] {
                let (start_head, start_quadratic) = station(&balance.start, 0, first_laminar);
                let (end_head, end_quadratic) = station(&balance.end, last, last_laminar);
                by_alpha[usize::from(first_laminar)][usize::from(last_laminar)] = (
                    balance.fixed_head + start_head - end_head,
                    (losses + end_quadratic - start_quadratic) / twice_g,
                );
            }
        }
        let legs = balance
            .legs
            .iter()
            .map(|leg| FlowLeg {
                jump: leg.jump_flow(balance.kinematic_viscosity, limits),
                reynolds_per_flow: leg.reynolds(1.0, balance.kinematic_viscosity),
                relative_roughness: leg.relative_roughness,
                section: leg.section,
                reading: leg.reading,
                friction: leg.friction_length() / leg.diameter / square(leg.area()) / twice_g,
            })
            .collect();
        Self {
            legs,
            power: balance.power,
            by_alpha,
        }
    }

    /// `head` and `quadratic` in the piece that begins at a flow.
    fn terms(&self, piece: f64) -> (f64, f64) {
        let laminar = |leg: Option<&FlowLeg>| leg.is_some_and(|leg| leg.jump > piece);
        self.by_alpha[usize::from(laminar(self.legs.first()))][usize::from(laminar(self.legs.last()))]
    }

    /// What is left over at a flow, with the pipes laminar that are so in the piece that begins at `piece`.
    fn left_over(&self, flow: f64, piece: f64) -> f64 {
        let (head, mut quadratic) = self.terms(piece);
        for leg in &self.legs {
            if leg.friction > 0.0 {
                let reynolds = leg.reynolds_per_flow * flow;
                quadratic += leg.friction
                    * darcy_in(
                        &leg.section,
                        leg.reading,
                        reynolds,
                        leg.relative_roughness,
                        leg.jump > piece,
                    );
            }
        }
        let power = if self.power == 0.0 { 0.0 } else { self.power / flow };
        head + power - quadratic * flow * flow
    }
}

/// Flow from everything else.
pub(super) fn flow(balance: &Balance, limits: &Limits) -> Result<Found, SolveError> {
    if let [leg] = balance.legs.as_slice()
        && balance.power == 0.0
        && balance.curves.is_empty()
        && leg.friction_length() > 0.0
        && matches!(leg.reading.law, Law::Colebrook | Law::FullyRough | Law::Fixed(_))
        && let Some(answer) = flow_in_one_pipe(balance, limits)
    {
        return answer;
    }
    if balance.curves.is_empty() {
        flow_in_general(balance, limits)
    } else {
        operating_point(balance, limits)
    }
}

/// The flow along a path \[m³/s\], as [`super::solve::solve`] finds it, without what else there is to say of it. `None` where
/// it is not surely the same: of a pump with a curve, at the jump of the friction factor, or where it does not meet the
/// energy equation closely enough.
pub(super) fn flow_alone(balance: &Balance, limits: &Limits) -> Option<f64> {
    if !balance.curves.is_empty() {
        return None;
    }
    let flow = flow(balance, limits).ok()?.value;
    let run = FlowBalance::new(balance, limits);
    let (head, _) = run.terms(flow);
    let at_jump = run.legs.iter().any(|leg| (leg.jump / flow - 1.0).abs() < 1e-9);
    (!at_jump && run.left_over(flow, flow).abs() <= 1e-9 * head.abs()).then_some(flow)
}

/// One pipe and nothing that depends on the flow but it: both regimes are explicit or a Newton step or two.
/// None where the general way has to be gone.
fn flow_in_one_pipe(balance: &Balance, limits: &Limits) -> Option<Result<Found, SolveError>> {
    let leg = &balance.legs[0];
    let run = FlowBalance::new(balance, limits);
    let area = leg.area();
    let twice_g = 2.0 * balance.gravity;
    let mut roots = Vec::new();
    for is_laminar in [true, false] {
        let (head, quadratic) = run.by_alpha[usize::from(is_laminar)][usize::from(is_laminar)];
        let coefficient = quadratic * twice_g * area * area;
        if coefficient < 0.0 || head <= 0.0 {
            return None;
        }
        let line = Line {
            diameter: leg.diameter,
            length: leg.friction_length(),
            relative_roughness: leg.relative_roughness,
            laminar_constant: leg.section.laminar_constant,
            coefficient,
            kinematic_viscosity: balance.kinematic_viscosity,
            gravity: balance.gravity,
        };
        let velocity = match leg.reading.law {
            Law::Fixed(value) => line.velocity_at_factor(head, value * leg.reading.factor),
            _ if is_laminar => line.laminar_velocity(head),
            Law::FullyRough => line.velocity_at_factor(head, leg.darcy(f64::INFINITY, false)),
            // The explicit form below reads the law with the hydraulic diameter itself.
            _ if leg.section.turbulent_diameter != 1.0 => return None,
            _ => line.turbulent_velocity(head, leg.reading.factor)?,
        };
        let reynolds = velocity * leg.diameter / balance.kinematic_viscosity;
        if (reynolds < limits.laminar_end) == is_laminar {
            roots.push(velocity * area);
        }
    }
    Some(Found::least(&roots).ok_or(SolveError::OnlyAtJump {
        pipe: 0,
        reynolds: limits.laminar_end,
    }))
}

/// One pipe from a known head to the flow: `head = (coefficient + f L/D) V²/2g`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Inner diameter, or hydraulic diameter \[m\].
    pub diameter: f64,
    /// Length, above 0 \[m\].
    pub length: f64,
    /// ε/D \[–\].
    pub relative_roughness: f64,
    /// Darcy friction factor times Reynolds number in laminar flow: 64 in a round pipe \[–\].
    pub laminar_constant: f64,
    /// Everything else that takes velocity heads: ΣK, and α at the end less α at the start \[–\].
    pub coefficient: f64,
    /// Kinematic viscosity \[m²/s\].
    pub kinematic_viscosity: f64,
    /// Acceleration of gravity \[m/s²\].
    pub gravity: f64,
}

impl Line {
    /// Velocity \[m/s\] under a head \[m\] with one Darcy friction factor.
    pub fn velocity_at_factor(&self, head: f64, darcy_friction_factor: f64) -> f64 {
        let taken = self.coefficient + darcy_friction_factor * self.length / self.diameter;
        (2.0 * self.gravity * head / taken).sqrt()
    }

    /// Velocity \[m/s\] under a head \[m\] with f = 64/Re, or another constant over Re.
    pub fn laminar_velocity(&self, head: f64) -> f64 {
        let push = 2.0 * self.gravity * head;
        let drag = self.laminar_constant * self.kinematic_viscosity * self.length / square(self.diameter);
        // The form of the quadratic's root that does not cancel.
        2.0 * push / (drag + (drag * drag + 4.0 * self.coefficient * push).sqrt())
    }

    /// Velocity \[m/s\] under a head \[m\] with Colebrook–White's f times `factor`.
    ///
    /// In `R = Re √f` the law is explicit: `x = 1/√f = −2 log₁₀(a + 2.51/R)`. Without losses beside friction
    /// R follows from the head at once; with them it is the root of `R √(L/D + C x²) = √(2 g h) D/ν`, which
    /// rises with R. None where the steps do not settle, which the caller then solves by bracketing.
    pub fn turbulent_velocity(&self, head: f64, factor: f64) -> Option<f64> {
        let a = self.relative_roughness / COLEBROOK_A;
        let friction = factor * self.length / self.diameter;
        let per_diameter = self.kinematic_viscosity / self.diameter;
        let push = (2.0 * self.gravity * head).sqrt() / per_diameter;
        let x_at = |r: f64| -TWO_OVER_LN10 * libm::log(a + COLEBROOK_B / r);
        // Without other losses R is largest, and so is x.
        let mut r = push / friction.sqrt();
        let mut x = x_at(r);
        if self.coefficient > 0.0 {
            r = push / (friction + self.coefficient * square(x.max(0.0))).sqrt();
            let mut settled = false;
            for _ in 0..16 {
                x = x_at(r);
                let taken = (friction + self.coefficient * x * x).sqrt();
                let rx_slope = TWO_OVER_LN10 * COLEBROOK_B / (a * r + COLEBROOK_B);
                let slope = taken + self.coefficient * x * rx_slope / taken;
                let step = (r * taken - push) / slope;
                x -= rx_slope * step / r;
                r -= step;
                // The step just taken leaves a share of about its square.
                if step.abs() <= 1e-9 * r {
                    settled = true;
                    break;
                }
            }
            if !settled {
                return None;
            }
        }
        (x > 0.0 && x.is_finite()).then_some(per_diameter * r * x)
    }
}

/// Any number of pipes and machines.
///
/// Between the flows at which a pipe stops to be laminar everything is smooth. Where no turbine is known by
/// its power, and no velocity head of the start outweighs what lies behind it, what is left over only falls
/// with the flow: the two ends of each piece then prove or rule out its one root. Else each piece is scanned.
fn flow_in_general(balance: &Balance, limits: &Limits) -> Result<Found, SolveError> {
    let run = FlowBalance::new(balance, limits);
    let terms = run.by_alpha.as_flattened();
    let largest_head = terms.iter().fold(f64::NEG_INFINITY, |m, t| m.max(t.0));
    let falls = run.power >= 0.0 && terms.iter().all(|t| t.1 >= 0.0);
    let gains = terms.iter().any(|t| t.1 < 0.0);
    if largest_head <= 0.0 && run.power <= 0.0 && !gains {
        return Err(SolveError::NoFlow {
            short_by: -largest_head,
        });
    }

    let mut jumps: Vec<f64> = run.legs.iter().map(|leg| leg.jump).filter(|&q| q > 0.0).collect();
    jumps.sort_by(f64::total_cmp);
    jumps.dedup();
    let middle = jumps.first().copied().unwrap_or(1e-3);

    // The range of flows outside which there is surely no root, or else a very wide one. It starts below the
    // first jump and ends above the last, so that both are seen from either side.
    let mut low = 0.5 * middle;
    let mut high = 2.0 * jumps.last().copied().unwrap_or(1e-3);
    // Without a machine by power this is what is left over as the flow nears nought.
    let head_at_rest = run.terms(0.0).0;
    if falls {
        for _ in 0..80 {
            if (run.power == 0.0 && head_at_rest <= 0.0) || run.left_over(low, 0.0) > 0.0 {
                break;
            }
            low /= 16.0;
        }
        for _ in 0..80 {
            if run.left_over(high, high) < 0.0 {
                break;
            }
            high *= 4.0;
        }
    } else if !gains {
        // A turbine by power takes all the head at this flow already.
        low = (-run.power / largest_head) * (1.0 - 1e-9);
        high = high.max(low);
        for _ in 0..200 {
            let without_turbine = run.left_over(high, high) - run.power / high;
            if without_turbine < 0.0 {
                break;
            }
            high *= 2.0;
        }
    } else {
        // Nothing bounds it: from far below the first jump to Re of some 1e11 behind the last.
        low *= 1e-6;
        high *= 1e8;
    }

    let mut edges = vec![low];
    edges.extend(jumps.iter().copied().filter(|&q| q > low && q < high));
    edges.push(high);
    let mut roots = Vec::new();
    let mut at_jump = None;
    let mut before = f64::NAN;
    for (i, ends) in edges.windows(2).enumerate() {
        let (from, to) = (ends[0], ends[1]);
        // The first piece starts below every jump, unless the range starts above some.
        let piece = if i == 0 {
            jumps.iter().copied().rfind(|&q| q <= from).unwrap_or(0.0)
        } else {
            from
        };
        let mut left_over = |q: f64| run.left_over(q, piece);
        let (first, second) = (left_over(from), left_over(to));
        if before > 0.0 && first < 0.0 {
            at_jump = at_jump.or(run.legs.iter().position(|leg| leg.jump == from));
        }
        if falls {
            if first >= 0.0 && second < 0.0 {
                roots.push(crossing(&mut left_over, from, to));
            }
        } else {
            crossings(&mut left_over, from, to, 24, &mut roots);
        }
        before = second;
    }
    if let Some(found) = Found::least(&roots) {
        return Ok(found);
    }
    if let Some(pipe) = at_jump {
        return Err(SolveError::OnlyAtJump {
            pipe,
            reynolds: limits.laminar_end,
        });
    }
    if head_at_rest <= 0.0 && run.power <= 0.0 {
        return Err(SolveError::NoFlow {
            short_by: -head_at_rest,
        });
    }
    Err(SolveError::NoSolution {
        tried: (low, high),
        why: if run.power < 0.0 {
            "the turbine takes more power than the fall can give at any flow"
        } else {
            "nothing on the way holds the flow back"
        },
    })
}

/// The flow at which pumps with curves give what the system takes.
///
/// It is sought only where every curve is known. Where no curve rises, and nothing else gains head with the
/// flow, one crossing at most lies between two jumps; else each stretch between jumps and joints of curves is
/// scanned. Of several crossings that one comes first at which the flow holds by itself: a little more flow takes more
/// head than the pumps give.
fn operating_point(balance: &Balance, limits: &Limits) -> Result<Found, SolveError> {
    let run = FlowBalance::new(balance, limits);
    let curves = || balance.curves.iter().map(|(_, curve)| curve);
    let given = |q: f64| curves().map(|curve| curve.head(q)).sum::<f64>();
    let from = curves().fold(0.0_f64, |all, curve| all.max(curve.range().0));
    let to = curves().fold(f64::INFINITY, |all, curve| all.min(curve.range().1));
    let off_curve = |beyond: bool| {
        let end = if beyond { to } else { from };
        let at_end = |curve: &Curve| {
            let (first, last) = curve.range();
            (if beyond { last } else { first }) == end
        };
        let pump = balance.curves.iter().find(|(_, curve)| at_end(curve));
        pump.map(|(pump, curve)| SolveError::OffCurve {
            pump: *pump,
            what: CurveOf::Head,
            flow: end,
            range: curve.range(),
        })
        .unwrap_or(SolveError::NoSolution {
            tried: (from, to),
            why: "the curves of the pumps share no flow",
        })
    };
    if !(from < to && to.is_finite()) {
        return Err(SolveError::NoSolution {
            tried: (from, to),
            why: "the curves of the pumps share no flow",
        });
    }
    let falls = run.power >= 0.0
        && run.by_alpha.as_flattened().iter().all(|terms| terms.1 >= 0.0)
        && curves().all(Curve::falls);
    let left_over = |q: f64, piece: f64| run.left_over(q, piece) + given(q);

    let mut edges: Vec<f64> = run.legs.iter().map(|leg| leg.jump).collect();
    if !falls {
        edges.extend(curves().flat_map(Curve::joints));
    }
    edges.retain(|&q| q > from && q < to);
    edges.sort_by(f64::total_cmp);
    edges.dedup();
    // Where the curves begin without flow, so does the search, but for a last digit that no head notices.
    let rest = run.terms(from).0 + given(from);
    let mut low = from;
    if from == 0.0 {
        low = 0.5 * edges.first().copied().unwrap_or(to);
        if falls {
            for _ in 0..80 {
                if (run.power == 0.0 && rest <= 0.0) || left_over(low, 0.0) > 0.0 {
                    break;
                }
                low /= 16.0;
            }
        } else {
            low *= 1e-6;
        }
    }
    edges.insert(0, low);
    edges.push(to);

    let mut roots = Vec::new();
    let mut at_jump = None;
    let mut before = f64::NAN;
    for (i, ends) in edges.windows(2).enumerate() {
        let piece = if i == 0 { from } else { ends[0] };
        let mut gap = |q: f64| left_over(q, piece);
        let (first, second) = (gap(ends[0]), gap(ends[1]));
        if before > 0.0 && first < 0.0 {
            at_jump = at_jump.or(run.legs.iter().position(|leg| leg.jump == ends[0]));
        }
        if falls {
            if first >= 0.0 && second < 0.0 || (second == 0.0 && ends[1] == to) {
                roots.push(crossing(&mut gap, ends[0], ends[1]));
            }
        } else {
            crossings(&mut gap, ends[0], ends[1], 24, &mut roots);
        }
        before = second;
    }
    roots.dedup_by(|a, b| (*a - *b).abs() <= 1e-12 * b.abs());
    let holds = |root: f64| {
        let above = root * (1.0 + 1e-7);
        let piece = edges.iter().copied().rfind(|&q| q <= root).unwrap_or(from);
        left_over(above, piece) < 0.0
    };
    if let Some(first) = roots.iter().position(|&root| holds(root)) {
        roots[..=first].rotate_right(1);
    }
    if let Some(found) = Found::least(&roots) {
        return Ok(found);
    }
    if let Some(pipe) = at_jump {
        return Err(SolveError::OnlyAtJump {
            pipe,
            reynolds: limits.laminar_end,
        });
    }
    if before > 0.0 {
        return Err(off_curve(true));
    }
    if from > 0.0 {
        return Err(off_curve(false));
    }
    Err(SolveError::NoFlow { short_by: -rest })
}
