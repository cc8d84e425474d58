//! How careful work on a tank varies beyond its readings.

use super::working::half_unit;
use crate::bank::names::pipe_result;
use crate::bank::system::Kind as _;
use crate::bank::system::tank::TankRole;
use crate::constants::policy::CARRIED_FIGURES;
use crate::hydraulics::friction::{Law, Reading, darcy_of};
use crate::hydraulics::path::State;
use crate::hydraulics::regime::Limits;
use crate::hydraulics::solve::{self, Unknown};
use crate::hydraulics::tank::{Asked, Problem, Shape, Until, Vessel, solve_silently as solve_tank};
use crate::quantity::{Quantity, round_to_figures};
use crate::solution::tank::TankCase;
use crate::solution::{Case, Solution as _};

/// What a result is in the closed form, as a share of itself: the friction factor held as it is at the start, instead
/// of followed.
pub(super) fn closed(case: &TankCase) -> Vec<(String, f64)> {
    let Some(held) = case.solved.at_first_factor else {
        return Vec::new();
    };
    let answers = case.answers();
    match (case.problem.asked, answers.first()) {
        (Asked::Time(_) | Asked::Level(_), Some((name, _))) => vec![(name.clone(), held / case.solved.value)],
        // The time goes nearly as the power -5/2 of the bore.
        (Asked::Diameter { time, .. }, Some((name, _))) => {
            vec![(name.clone(), libm::pow(held / time, 0.4))]
        }
        _ => Vec::new(),
    }
}

/// The working redone from results that are taken for true: heads at the start and at the end, factor, velocity and flow
/// there, and from the first flow the time or the level.
///
/// The head falls by as much as the level does, so that who has another head at the start has another at the end. The
/// flow dies away in the same way whatever it began with, so that the time goes as the inverse of the first flow.
pub(super) fn rework(
    case: &TankCase,
    taken: &[(String, f64)],
    readings: &[Reading],
    limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    if taken.iter().any(|(_, value)| !value.is_finite()) {
        return None;
    }
    let right = if readings.iter().all(|reading| *reading == Reading::EXACT) {
        case.clone()
    } else {
        match case.again(readings, limits).ok()? {
            Case::Tank(case) => *case,
            _ => return None,
        }
    };
    let mut redone = Redone {
        numbers: right.numbers(),
        taken,
        right: &right,
        readings,
        limits,
    };
    redone.work()?;
    let numbers = redone.numbers;
    (numbers.iter().all(|(_, quantity)| quantity.value.is_finite())).then_some(numbers)
}

/// What the hand method writes down on the way: areas, heads; factor, velocity and flow at the start, the same at the
/// end.
pub(super) fn written(case: &TankCase) -> Vec<String> {
    let names = case.system.pipe_names();
    let mut all = vec!["A_t".to_owned(), "A_s".to_owned(), "H_1".to_owned()];
    if !case.system.asks_level() {
        all.push("H_2".to_owned());
    }
    if case.system.orifice.is_some() {
        all.extend(["A", "Q_1"].map(str::to_owned));
        return all;
    }
    for moment in ["1", "2"] {
        for name in &names {
            let of = |base: &str| pipe_result(&format!("{base}_{moment}"), name, names.len());
            all.push(of("f"));
            if moment == "1" {
                all.push(pipe_result("A", name, names.len()));
            }
            if names.len() == 1 {
                all.push(of("V"));
            }
        }
        all.push(format!("Q_{moment}"));
    }
    let has = |name: &String| case.found().iter().any(|found| found.name == *name);
    all.retain(has);
    all
}

/// By which shares of itself each pipe's friction is rounded on the way: in what is written for all that takes velocity
/// heads, `f L/D + ΣK`.
pub(super) fn gathered(case: &TankCase) -> Vec<Vec<f64>> {
    let state = &case.solved.start.state;
    let [pipe] = state.pipes.as_slice() else {
        return vec![Vec::new(); state.pipes.len()];
    };
    let twice_g = 2.0 * case.solved.path.gravity;
    let heads = case.driving_head(state) * twice_g / (pipe.velocity * pipe.velocity);
    let friction = pipe.major_head_loss * twice_g / (pipe.velocity * pipe.velocity);
    let share = half_unit(heads) / friction;
    vec![if share.is_finite() {
        vec![share]
    } else {
        Vec::new()
    }]
}

/// What else the hand method writes down before the time: roots of the heads, the area of two tanks in one, the mean of
/// two flows. Each as what the time becomes one way and the other, and whether that is known from givens alone.
pub(super) fn before_the_time(case: &TankCase) -> Vec<([f64; 2], bool)> {
    let (Asked::Time(_), [Some(first), second]) = (case.problem.asked, case.vessels()) else {
        return Vec::new();
    };
    let time = case.solved.end.time;
    let (start, end) = (&case.solved.start.state, &case.solved.end.state);
    let even = |vessel: &Vessel| matches!(vessel.shape, Shape::Constant { .. });
    let mut all = Vec::new();
    let mean = 0.5 * (start.flow + end.flow);
    for (flow, part) in [(mean, 1.0), (end.flow, 0.5 * end.flow / mean)] {
        let share = half_unit(flow) / flow * part;
        if share.is_finite() {
            all.push(([time * (1.0 - share), time * (1.0 + share)], false));
        }
    }
    if !even(first) || first.inflow != 0.0 || start.flow == end.flow {
        return all;
    }
    let roots = [case.driving_head(start), case.driving_head(end)].map(f64::sqrt);
    let of = |roots: [f64; 2]| roots[0] * (roots[0] - roots[1]);
    for i in 0..2 {
        let becomes = [CARRIED_FIGURES, CARRIED_FIGURES + 1].map(|figures| {
            let mut written = roots;
            written[i] = round_to_figures(written[i], figures);
            time * of(written) / of(roots)
        });
        all.push((becomes, true));
    }
    if let Some(second) = second.filter(|vessel| even(vessel)) {
        let (a, b) = (first.shape.area(first.level), second.shape.area(second.level));
        let both = a * b / (a + b);
        let becomes = [CARRIED_FIGURES, CARRIED_FIGURES + 1]
            .map(|figures| time * round_to_figures(both, figures) / both);
        all.push((becomes, true));
    }
    all
}

/// A working redone.
struct Redone<'a> {
    numbers: Vec<(String, Quantity)>,
    taken: &'a [(String, f64)],
    right: &'a TankCase,
    readings: &'a [Reading],
    limits: &'a Limits,
}

impl Redone<'_> {
    fn taken(&self, name: &str) -> Option<f64> {
        self.taken
            .iter()
            .find(|(known, _)| known == name)
            .map(|(_, value)| *value)
    }

    /// What is taken in the place of a result that was another.
    fn moved(&self, name: &str) -> Option<f64> {
        self.taken(name).filter(|now| *now != self.get(name))
    }

    fn get(&self, name: &str) -> f64 {
        let found = self.numbers.iter().find(|(known, _)| known == name);
        found.map_or(f64::NAN, |(_, quantity)| quantity.value)
    }

    /// Writes a result down, unless it is taken; gives what stands then.
    fn line(&mut self, name: &str, value: f64) -> f64 {
        let value = self.taken(name).unwrap_or(value);
        if let Some((_, quantity)) = self.numbers.iter_mut().find(|(known, _)| known == name) {
            quantity.value = value;
        }
        value
    }

    fn own(&self, base: &str, pipe: usize) -> String {
        let names = self.right.system.pipe_names();
        names
            .get(pipe)
            .map_or_else(String::new, |name| pipe_result(base, name, names.len()))
    }

    fn work(&mut self) -> Option<()> {
        let right = self.right;
        let pipes = if right.system.orifice.is_some() {
            0
        } else {
            right.system.pipe_names().len()
        };
        let (start, end) = (&right.solved.start, &right.solved.end);
        // What the student has in the place of the right heads, bore and factors.
        let shift = self.moved("H_1").map_or(0.0, |head| head - self.get("H_1"));
        let shift_of_end = match self.taken("H_2") {
            Some(head) => head - self.get("H_2"),
            None => shift,
        };
        let bores: Vec<Option<f64>> = (0..pipes).map(|i| self.moved(&self.own("D", i))).collect();
        let factors: Vec<Option<f64>> = (0..pipes)
            .map(|i| {
                let of_reynolds = || {
                    let reynolds = self.moved(&self.own("Re_1", i))?;
                    let pipe = right.solved.path.pipe(i)?;
                    let relative = pipe.roughness / pipe.diameter;
                    Some(darcy_of(
                        &pipe.section,
                        self.readings[i],
                        reynolds,
                        relative,
                        self.limits,
                    ))
                };
                match self.taken(&self.own("f_1", i)) {
                    Some(_) => self.moved(&self.own("f_1", i)),
                    None => of_reynolds(),
                }
            })
            .collect();
        let mut path = right.solved.path.clone();
        for (i, bore) in bores.iter().enumerate() {
            if let (Some(bore), Some(pipe)) = (bore, path.pipe_mut(i)) {
                pipe.diameter = *bore;
            }
        }
        let has_bore = bores.iter().any(Option::is_some);
        let has_factor = factors.iter().any(Option::is_some);

        // Factors as they follow, for what comes after the start.
        let mut followed = self.readings.to_vec();
        for (i, factor) in factors.iter().enumerate() {
            if let Some(factor) = factor {
                followed[i].factor *= factor / start.state.pipes[i].darcy_friction_factor;
            }
        }
        let mut at_start = followed.clone();
        for (i, factor) in factors.iter().enumerate() {
            if let Some(factor) = factor {
                at_start[i] = Reading {
                    law: Law::Fixed(*factor),
                    factor: 1.0,
                };
            }
        }
        let flow_of = |elevation: f64, shift: f64, readings: &[Reading]| {
            let mut path = path.clone();
            path.end.elevation += elevation;
            path.start.elevation += shift;
            let problem = solve::Problem {
                path,
                flow: f64::NAN,
                unknown: Unknown::Flow,
            };
            let solved = solve::solve(&problem, readings, self.limits).ok()?;
            Some(solved.state)
        };
        let readings_of_opening = [Reading::EXACT];
        let (at_start, followed) = if pipes == 0 {
            (&readings_of_opening[..], &readings_of_opening[..])
        } else {
            (&at_start[..], &followed[..])
        };
        let first = if shift != 0.0 || has_bore || has_factor {
            flow_of(0.0, shift, at_start)?
        } else {
            start.state.clone()
        };
        // From the start to the end the head falls by what the level does.
        let fall = right.driving_head(&start.state) - right.driving_head(&end.state);
        let last = if end.state.flow > 0.0 && (shift_of_end != 0.0 || has_bore || has_factor) {
            flow_of(fall, shift_of_end, followed)?
        } else {
            end.state.clone()
        };

        let surface = self.surface();
        for name in ["A_t", "A_s", "H_1"] {
            self.line(name, self.get(name));
        }
        self.line("H_2", self.get("H_2") + shift_of_end);
        for (moment, state) in [("1", &first), ("2", &last)] {
            self.flow(moment, state, pipes, &factors);
        }
        let flow = self.get("Q_1");

        // What follows from the first flow, beside that with which the levels' way is worked.
        let reference = if has_factor {
            flow_of(0.0, shift, followed)?.flow
        } else {
            first.flow
        };
        let speed = flow / reference;
        let wider = self.surface() / surface;
        if !(speed > 0.0 && wider > 0.0) {
            return None;
        }
        let (problem, has_inflow) = self.problem(shift, speed);
        let stands = shift == 0.0 && !has_bore && !has_factor;
        let again = |asked: Asked| {
            let problem = Problem {
                asked,
                ..problem.clone()
            };
            solve_tank(&problem, followed, self.limits).ok()
        };
        match right.problem.asked {
            Asked::Time(_) => {
                let (mut time, mut closed) = if stands && (speed == 1.0 || !has_inflow) {
                    (end.time, right.solved.at_first_factor)
                } else {
                    let solved = again(problem.asked)?;
                    (solved.end.time, solved.at_first_factor)
                };
                // A head at the end that is not that which follows.
                let head = right.driving_head(&end.state) + shift;
                let (top, low) = (self.get("H_1"), self.get("H_2"));
                let by = wider / speed * (top.sqrt() - low.sqrt()) / (top.sqrt() - head.sqrt());
                let by = if shift_of_end == shift { wider / speed } else { by };
                time *= by;
                closed = closed.map(|closed| closed * by);
                self.line("t", time);
                if let Some(closed) = closed {
                    self.line("t_closed", closed);
                }
                self.line("Vol", self.get("Vol") * wider);
            }
            Asked::Level(time) => {
                if !stands || speed != 1.0 || wider != 1.0 {
                    let solved = again(Asked::Level(time * speed / wider))?;
                    self.line("h_2", solved.end.level);
                    if let Some(level) = solved.end.other_level {
                        self.line("h_2s", level);
                    }
                    if let Some(closed) = solved.at_first_factor {
                        self.line("h_closed", closed);
                    }
                    self.line("H_2", right.driving_head(&solved.end.state));
                }
            }
            Asked::Diameter { pipe, .. } => {
                if !has_bore && !stands {
                    let solved = again(problem.asked)?;
                    let name = if pipes == 0 {
                        "d".to_owned()
                    } else {
                        self.own("D", pipe)
                    };
                    self.line(&name, solved.value);
                }
            }
        }
        for (name, value) in self.taken {
            self.line(name, *value);
        }
        Some(())
    }

    /// The problem with a driving head that is greater by `shift` \[m\] at every level, and with what flows in from
    /// elsewhere beside flows that are all `speed` times as large; whether anything does.
    fn problem(&self, shift: f64, speed: f64) -> (Problem, bool) {
        let mut problem = self.right.problem.clone();
        let mut has_inflow = false;
        for vessel in [&mut problem.start, &mut problem.end].into_iter().flatten() {
            has_inflow |= vessel.inflow != 0.0;
            vessel.inflow /= speed;
        }
        match (&problem.start, &mut problem.end) {
            (Some(_), Some(second)) => second.floor -= shift,
            (Some(_), None) => problem.path.end.elevation -= shift,
            _ => problem.path.start.elevation += shift,
        }
        let further = |until: Until| match until {
            Until::Difference(left) if problem.start.is_some() => Until::Difference(left + shift),
            other => other,
        };
        problem.asked = match problem.asked {
            Asked::Time(until) => Asked::Time(further(until)),
            Asked::Diameter { pipe, until, time } => Asked::Diameter {
                pipe,
                until: further(until),
                time,
            },
            level @ Asked::Level(_) => level,
        };
        (problem, has_inflow)
    }

    /// The area that the time goes with.
    fn surface(&self) -> f64 {
        let first = self.get("A_t");
        match self.right.system.role {
            TankRole::Equalises(_) => first * self.get("A_s") / (first + self.get("A_s")),
            _ => first,
        }
    }

    /// Factor, velocity, flow and Reynolds number at one moment, in this order.
    fn flow(&mut self, moment: &str, state: &State, pipes: usize, factors: &[Option<f64>]) {
        let name = format!("Q_{moment}");
        if pipes == 0 {
            // An opening: `C_d A √(2 g H)`.
            let by = (self.taken("A"), self.taken("C_d"), self.taken("d"));
            let area = match by {
                (Some(area), _, _) => area / self.get("A"),
                (None, _, Some(bore)) => (bore / self.get("d")) * (bore / self.get("d")),
                _ => 1.0,
            };
            let coefficient = by.1.map_or(1.0, |taken| taken / self.get("C_d"));
            self.line(&name, state.flow * area * coefficient);
            return;
        }
        let areas: Vec<f64> = (0..pipes)
            .map(|i| {
                let right = self.get(&self.own("A", i));
                self.taken(&self.own("A", i)).unwrap_or(right)
            })
            .collect();
        let flow = if pipes == 1 {
            let velocity = self.own(&format!("V_{moment}"), 0);
            let from_velocity = areas[0] * self.taken(&velocity).unwrap_or(state.pipes[0].velocity);
            self.line(&name, from_velocity)
        } else {
            self.line(&name, state.flow)
        };
        for (i, at) in state.pipes.iter().enumerate().take(pipes) {
            let own = |base: &str| self.own(&format!("{base}_{moment}"), i);
            let (factor, velocity, reynolds) = (own("f"), own("V"), own("Re"));
            let read = match factors.get(i) {
                Some(Some(factor)) if moment == "1" => *factor,
                _ => at.darcy_friction_factor,
            };
            self.line(&factor, read);
            // What a flow that is taken says of its velocity.
            let of_flow = if self.taken(&name).is_some() && self.taken(&velocity).is_none() {
                flow / areas[i]
            } else if pipes == 1 {
                at.velocity
            } else {
                flow / areas[i]
            };
            let now = self.line(&velocity, of_flow);
            self.line(&reynolds, at.reynolds * now / at.velocity);
        }
    }
}
