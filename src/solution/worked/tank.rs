//! A tank that fills or empties, worked: the head at a level, continuity, the flow at a level, the integral with
//! friction held, the check of friction at the end, and steps that follow it.

use super::check::enter_chart;
use super::working::{called, capital, listed, m, num, say, short, sum, sym, t, velocity_head};
use super::{Writer, step};
use crate::bank::course::{Conventions, UnitSystem};
use crate::bank::names::pipe_result;
use crate::bank::prose::{Block, Inline, Table};
use crate::bank::system::tank::{Tank, TankRole, TankShape, TankUntil};
use crate::bank::system::{self, Duct, Kind as _, Value, Velocity};
use crate::equation::{Bound, EquationError, Expr, Line, Relation};
use crate::hydraulics::friction::{Reading, darcy};
use crate::hydraulics::path::{self, Duty, Element, PipeState, StationVelocity};
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::tank::{Asked, Moment, Problem, Run, Shape, solve as solve_tank};
use crate::quantity::{Quantity, Unit, Written, round_to_figures};
use crate::solution::case::element_name;
use crate::solution::results::known;
use crate::solution::tank::{TankCase, stays_laminar};
use crate::solution::units::{Kind, display_unit, given, shown};
use crate::solution::{Case, ReadOff, Step};

/// Steps of the table, and the finer ones that are told.
const STEPS: usize = 6;
/// Passes of the friction factor that a table shows at most.
const PASSES: usize = 9;
/// Bores that a table tries at most.
const TRIALS: usize = 7;

/// A case with what its working needs.
struct Work<'a> {
    case: &'a TankCase,
    w: Writer<'a>,
    run: Run,
    /// A mouth above the surface all the time, so that the flow never changes.
    is_even: bool,
    /// Whether a closed form holds with friction held.
    closed: bool,
    names: Vec<String>,
    limits: Limits,
    /// Symbol, name and pipe of each loss.
    losses: Vec<(String, String, usize)>,
}

pub(in crate::solution) fn steps(
    case: &TankCase,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let mut work = Work::new(case, limits, conventions)?;
    let mut steps = vec![
        step("See what drives the flow", work.head()?),
        step("Write continuity", work.continuity()),
        step("Find the flow at the start", work.flow_at_start()?).reading(work.read_at_start()),
    ];
    if work.is_even {
        steps.push(step("Fill at an even flow", work.even()?));
        return Ok(steps);
    }
    if work.closed {
        let title = if work.case.system.orifice.is_some() {
            "Separate and integrate"
        } else {
            "Integrate with friction held"
        };
        steps.push(step(title, work.integrated()?));
    }
    steps.push(step(
        if case.system.orifice.is_some() {
            "Check the surface"
        } else {
            "Check the end"
        },
        work.check_end()?,
    ));
    if work.case.system.orifice.is_none() || !work.closed {
        let title = if work.closed {
            "Let friction change, in steps"
        } else {
            "Go in steps"
        };
        steps.push(step(title, work.in_steps()?));
    }
    if let Asked::Diameter { .. } = case.problem.asked {
        steps.push(step("Find the bore", work.bores(limits)));
    }
    Ok(steps)
}

/// The pipes of a path.
fn pipes(path: &path::Path) -> Vec<path::Pipe> {
    (path.elements.iter())
        .filter_map(|e| {
            if let Element::Pipe(pipe) = e {
                Some(*pipe)
            } else {
                None
            }
        })
        .collect()
}

/// The flows at the two ends of a step; with an inflow, what the tank gains or loses in all.
fn flows_of_step(inflow: bool) -> [&'static str; 2] {
    if inflow {
        ["Q_net_a", "Q_net_b"]
    } else {
        ["Q_a", "Q_b"]
    }
}

impl<'a> Work<'a> {
    fn new(case: &'a TankCase, limits: &Limits, conventions: &'a Conventions) -> Result<Self, EquationError> {
        let solved = &case.solved;
        let readings = vec![Reading::EXACT; solved.start.state.pipes.len()];
        let problem = Problem {
            path: solved.path.clone(),
            ..case.problem.clone()
        };
        let run = Run::new(&problem, &readings, limits)
            .map_err(|error| EquationError::new(case.system.fault(&error).what))?;
        let (start, end) = (&solved.start, &solved.end);
        let is_even = (start.state.flow - end.state.flow).abs() <= 1e-12 * start.state.flow;
        let heads_only = solved.path.elements.iter().all(|e| match e {
            Element::Pump(machine) | Element::Turbine(machine) => matches!(machine.duty, Duty::Head(_)),
            Element::Pipe(_) | Element::Loss { .. } => true,
        });
        let [first, second] = case.vessels();
        let even_area = |v: &crate::hydraulics::tank::Vessel| matches!(v.shape, Shape::Constant { .. });
        let free = case.problem.end.as_ref().is_some_and(|v| v.mouth.is_some());
        let closed = heads_only
            && solved.at_first_factor.is_some()
            && first.is_some_and(|v| even_area(v) && v.inflow == 0.0)
            && second.is_none_or(even_area)
            && !free
            && !is_even
            && start.held.is_none()
            && solved.path.start.velocity == StationVelocity::Value(0.0)
            && !matches!(solved.path.end.velocity, StationVelocity::Value(v) if v != 0.0);
        let whole = Case::Tank(Box::new(case.clone()));
        let mut w = Writer::new(&whole, conventions);
        // Losses by symbol, as they count at the start.
        let stated: Vec<&str> = (case.system.path.iter())
            .filter(|e| matches!(e, crate::bank::system::Element::Loss { .. }))
            .map(element_name)
            .collect();
        let mut losses = Vec::new();
        let count = start.state.loss_coefficients.len();
        if case.system.orifice.is_none() {
            let of_pipes = solved.path.elements.iter().filter_map(|e| match e {
                Element::Loss { pipe, .. } => Some(*pipe),
                _ => None,
            });
            for (i, (pipe, k)) in of_pipes.zip(&start.state.loss_coefficients).enumerate() {
                let symbol = if count == 1 {
                    "K".to_owned()
                } else {
                    format!("K_{}", i + 1)
                };
                w.of.set(
                    symbol.clone(),
                    Bound {
                        quantity: Quantity::number(*k),
                        written: short(*k),
                    },
                );
                let name = stated.get(i).copied().unwrap_or("loss").to_owned();
                losses.push((symbol, name, pipe));
            }
        }
        w.of.set(
            "alpha_2",
            Bound {
                quantity: Quantity::number(start.state.end.alpha),
                written: short(start.state.end.alpha),
            },
        );
        let names = case.system.pipe_names().into_iter().map(str::to_owned).collect();
        Ok(Self {
            case,
            w,
            run,
            is_even,
            closed,
            names,
            limits: *limits,
            losses,
        })
    }

    fn own_name(&self, base: &str, pipe: usize) -> String {
        pipe_result(base, &self.names[pipe], self.names.len())
    }

    /// A pipe's cross-section where it is not round.
    fn duct(&self, pipe: usize) -> Option<&Duct> {
        let bores = self.case.system.path.iter().filter_map(|element| match element {
            system::Element::Pipe { bore, .. } => Some(bore.duct()),
            _ => None,
        });
        { bores }.nth(pipe)?
    }

    fn own(&self, base: &str, pipe: usize) -> Expr {
        sym(self.own_name(base, pipe))
    }

    fn bind(&mut self, name: &str, kind: Kind, si: f64, stated: Option<&Value>) {
        let written = stated
            .and_then(known)
            .filter(|w| (w.quantity().value - si).abs() <= 1e-9 * si.abs())
            .map_or_else(
                || shown(kind, si, self.w.conventions),
                |w| given(kind, w, self.w.conventions),
            );
        let quantity = Quantity::new(si, kind.dimension());
        self.w.of.set(name, Bound { quantity, written });
    }

    fn value(&self, kind: Kind, si: f64) -> Inline {
        Inline::Value(shown(kind, si, self.w.conventions))
    }

    /// The elevation of a mouth from which the pipe pours freely at the start (1) or the end (2), above the surface.
    fn free_mouth(&self, moment: u32) -> Option<f64> {
        let solved = &self.case.solved;
        let at = if moment == 1 { &solved.start } else { &solved.end };
        let level = match &self.case.system.role {
            TankRole::Equalises(_) => at.other_level?,
            TankRole::Fills(_) | TankRole::Drains(_) => at.level,
        };
        let vessel = self.case.problem.end.as_ref()?;
        vessel.mouth.filter(|mouth| *mouth > vessel.floor + level)
    }

    /// The level, elevation and pressure terms of the driving head at the start (1) or the end (2): the first tank,
    /// what stands against it, pumps.
    fn head_terms(&mut self, moment: u32) -> Vec<(bool, Expr)> {
        let case = self.case;
        let path = &case.solved.path;
        let is_start = case.problem.start.is_some();
        let mut terms = Vec::new();
        // A surface in a tank: its floor's elevation and its level.
        let surface = |work: &mut Self, floor: &str, level: String, value: &Value, si: f64, plus: bool| {
            let mut terms = vec![(plus, sym(level))];
            if si != 0.0 {
                work.bind(floor, Kind::Length, si, Some(value));
                terms.push((plus, sym(floor)));
            }
            terms
        };
        let tank = &case.system.tank;
        let mouth = self.free_mouth(moment);
        let floor = |side: &Option<crate::hydraulics::tank::Vessel>| side.as_ref().map_or(0.0, |v| v.floor);
        match &case.system.role {
            TankRole::Drains(end) => {
                let si = floor(&case.problem.start);
                terms.extend(surface(self, "z_t", format!("h_{moment}"), &tank.floor, si, true));
                if path.end.elevation != 0.0 {
                    self.bind("z_2", Kind::Length, path.end.elevation, Some(&end.elevation));
                    terms.push((false, sym("z_2")));
                }
            }
            TankRole::Fills(start) => {
                if path.start.elevation != 0.0 {
                    self.bind("z_1", Kind::Length, path.start.elevation, Some(&start.elevation));
                    terms.push((true, sym("z_1")));
                }
                if let (Some(mouth), Some(value)) = (mouth, &tank.mouth) {
                    if mouth != 0.0 {
                        self.bind("z_m", Kind::Length, mouth, Some(value));
                        terms.push((false, sym("z_m")));
                    }
                } else {
                    let si = floor(&case.problem.end);
                    terms.extend(surface(
                        self,
                        "z_t",
                        format!("h_{moment}"),
                        &tank.floor,
                        si,
                        false,
                    ));
                }
            }
            TankRole::Equalises(second) => {
                let si = floor(&case.problem.start);
                terms.extend(surface(self, "z_t", format!("h_{moment}"), &tank.floor, si, true));
                if let (Some(mouth), Some(value)) = (mouth, &second.mouth) {
                    if mouth != 0.0 {
                        self.bind("z_m", Kind::Length, mouth, Some(value));
                        terms.push((false, sym("z_m")));
                    }
                } else {
                    let si = floor(&case.problem.end);
                    let level = format!("h_{moment}s");
                    terms.extend(surface(self, "z_s", level, &second.floor, si, false));
                }
            }
        }
        let (p_start, p_end) = (path.start.pressure, path.end.pressure);
        if p_start != p_end {
            let mut pressures = Vec::new();
            let names = if is_start { ["p_t", "p_2"] } else { ["p_1", "p_t"] };
            for (name, si, plus) in [(names[0], p_start, true), (names[1], p_end, false)] {
                if si != 0.0 {
                    self.bind(name, Kind::Pressure, si, None);
                    pressures.push((plus, sym(name)));
                }
            }
            let negative = pressures.iter().all(|(plus, _)| !plus);
            if negative {
                pressures.iter_mut().for_each(|p| p.0 = true);
            }
            terms.push((!negative, sum(pressures) / (sym("rho") * sym("g"))));
        }
        let state = if moment == 1 {
            &case.solved.start.state
        } else {
            &case.solved.end.state
        };
        let pumps: f64 = state.pump_heads.iter().sum();
        if pumps != 0.0 {
            self.bind(&format!("h_P{moment}"), Kind::Length, pumps, None);
            terms.push((true, sym(format!("h_P{moment}"))));
        }
        let turbines: f64 = state.turbine_heads.iter().sum();
        if turbines != 0.0 {
            self.bind(&format!("h_T{moment}"), Kind::Length, turbines, None);
            terms.push((false, sym(format!("h_T{moment}"))));
        }
        terms
    }

    /// The first step: from where to where, and the head between.
    fn head(&mut self) -> Result<Vec<Block>, EquationError> {
        let case = self.case;
        let tank = &case.system.tank.name;
        let through = if let Some(orifice) = &case.system.orifice {
            format!("the {}", orifice.name)
        } else {
            listed(&self.names.iter().map(|name| called(name)).collect::<Vec<_>>())
        };
        let what = match &case.system.role {
            TankRole::Drains(end) => {
                let to = end
                    .name
                    .as_ref()
                    .map_or("the other end".to_owned(), |name| format!("the {name}"));
                let though = if case.solved.end.level < case.solved.start.level {
                    ""
                } else {
                    ", though more flows into it than out"
                };
                format!(
                    "The {tank} drains through {through}{though}: the flow runs from the surface in the tank to {to}."
                )
            }
            TankRole::Fills(start) => {
                let from = start
                    .name
                    .as_ref()
                    .map_or("the start".to_owned(), |name| format!("the {name}"));
                if self.is_even {
                    format!(
                        "The {tank} fills through {through}, whose mouth stays above the surface: the flow runs from {from} to \
                         the mouth, and the level in the tank has no say in it."
                    )
                } else if self.free_mouth(1).is_some() {
                    format!(
                        "The {tank} fills through {through}: the flow runs from {from} to the mouth, where it pours freely, and \
                         once the mouth has gone under, to the surface in the tank."
                    )
                } else {
                    format!(
                        "The {tank} fills through {through}: the flow runs from {from} to the surface in the tank."
                    )
                }
            }
            TankRole::Equalises(second) if self.free_mouth(1).is_some() => format!(
                "The {tank} runs into the {} through {through}: the flow runs from the surface in the one to the mouth, where it \
                 pours freely, and once the mouth has gone under, to the surface in the other.",
                second.name
            ),
            TankRole::Equalises(second) => format!(
                "The {tank} runs into the {} through {through}: the flow runs from one surface to the other, and the \
                 two levels draw near each other.",
                second.name
            ),
        };
        let mut body = vec![Block::Paragraph(vec![
            t(what),
            t(
                " The surface moves so slowly that its own velocity head counts for nothing, and that at each moment the \
               flow is that of a steady one under the head of that moment: it is quasi-steady. Levels ",
            ),
            m(sym("h")),
            t(
                if self.is_even
                    || case.system.asks_level()
                    || matches!(case.system.until, TankUntil::Difference(_))
                {
                    " are measured from the floor. What drives the flow at the start is"
                } else {
                    " are measured from the floor. What drives the flow at the start and at the end is"
                },
            ),
        ])];
        let first = sum(self.head_terms(1));
        let heights = self.heights(&first);
        let mut lines = vec![self.w.line("H_1", &first, Kind::Length)?];
        if self.is_even || case.system.asks_level() {
            body.push(Block::Equation(lines));
            body.extend(heights);
            return Ok(body);
        }
        let last = sum(self.head_terms(2));
        let line = self.w.line("H_2", &last, Kind::Length)?;
        let levels = match &case.system.until {
            TankUntil::Difference(asked) => Some(self.levels_at_the_end(asked)?),
            TankUntil::Level(_) => None,
        };
        match levels {
            Some(Some(shown)) => {
                body.push(Block::Equation(lines));
                body.extend(heights);
                body.extend(shown);
            }
            Some(None) => {
                lines.push(line);
                body.push(Block::Equation(lines));
                body.extend(heights);
                body.push(say(
                    "The second line is for the end. The levels there are those at which the difference is as asked, when what left the one tank is in the other.",
                ));
                body.extend(self.what_passed()?);
            }
            None => {
                lines.push(line);
                body.push(Block::Equation(lines));
                body.extend(heights);
                body.extend(self.what_passed()?);
            }
        }
        Ok(body)
    }

    /// What the heights in the head are.
    fn heights(&self, head: &Expr) -> Option<Block> {
        let used = head.symbols();
        let system = &self.case.system;
        let second = match &system.role {
            TankRole::Equalises(second) => second.name.as_str(),
            _ => "",
        };
        let said: Vec<(&str, String)> = [
            (
                "z_t",
                format!("the height of the floor of the {}", system.tank.name),
            ),
            ("z_s", format!("the height of the floor of the {second}")),
            ("z_1", "the height of the start".to_owned()),
            ("z_2", "the height of the end".to_owned()),
            ("z_m", "the height of the mouth of the pipe".to_owned()),
        ]
        .into_iter()
        .filter(|(symbol, _)| used.contains(*symbol))
        .collect();
        let mut words = Vec::new();
        for (i, (symbol, what)) in said.iter().enumerate() {
            words.push(t(match i {
                0 => "Here ",
                _ if i + 1 == said.len() => " and ",
                _ => ", ",
            }));
            words.push(m(sym(*symbol)));
            words.push(t(format!("{}{what}", if i == 0 { " is " } else { " " })));
        }
        words.push(t("."));
        (!said.is_empty()).then_some(Block::Paragraph(words))
    }

    /// Of two tanks: the volume that has passed at the end, and the level to which it brings the second.
    fn what_passed(&mut self) -> Result<Vec<Block>, EquationError> {
        let case = self.case;
        let TankRole::Equalises(second) = &case.system.role else {
            return Ok(Vec::new());
        };
        let [Some(one), Some(_)] = case.vessels() else {
            return Ok(Vec::new());
        };
        let passed = one.shape.volume(case.solved.start.level) - one.shape.volume(case.solved.end.level);
        self.bind("Vol", Kind::Volume, passed, None);
        let (mut lines, lost) = self.between(&case.system.tank, 0, ["h_1", "h_2"])?;
        match lost {
            Some(lost) => lines.push(self.w.line("Vol", &lost, Kind::Volume)?),
            None => lines.push(Line::equal(sym("Vol"), sym("Vol").with_values(&self.w.of))),
        }
        let is_upright = matches!(second.shape, TankShape::Round(_) | TankShape::Area(_));
        let mut body = vec![
            Block::Paragraph(vec![
                t("The level "),
                m(sym("h_2s")),
                t(" follows from what has passed by then. The one tank has lost"),
            ]),
            Block::Equation(lines),
        ];
        if is_upright {
            let mut lines: Vec<Line> = self.tank_area_line("A_s", 1)?.into_iter().collect();
            let level = sym("h_1s") + sym("Vol") / sym("A_s");
            lines.push(self.w.line("h_2s", &level, Kind::Length)?);
            body.extend([
                say("That is in the other then, and has raised its level to"),
                Block::Equation(lines),
            ]);
            return Ok(body);
        }
        let level = case.solved.end.other_level.unwrap_or(f64::NAN);
        let (mut lines, gained) = self.between(second, 1, ["h_2s", "h_1s"])?;
        if let Some(gained) = gained {
            lines.push(self.w.line("Vol_s", &gained, Kind::Volume)?);
        }
        body.push(Block::Paragraph(vec![
            t("That is in the other then, whose level is found by trial: at "),
            m(sym("h_2s")),
            t(" = "),
            self.value(Kind::Length, level),
            t(if lines.is_empty() {
                " it holds that much more."
            } else {
                " it holds that much more:"
            }),
        ]));
        if !lines.is_empty() {
            body.push(Block::Equation(lines));
        }
        Ok(body)
    }

    /// The volume of a tank between two of its levels, upper and lower, with the lines that it needs before it; none where
    /// it takes more than a formula.
    fn between(
        &mut self,
        tank: &Tank,
        which: usize,
        levels: [&str; 2],
    ) -> Result<(Vec<Line>, Option<Expr>), EquationError> {
        let suffix = ["t", "s"][which];
        let [upper, lower] = levels.map(sym);
        let size = |value: &Value| known(value).map_or(f64::NAN, |w| w.quantity().value);
        Ok(match &tank.shape {
            TankShape::Round(_) | TankShape::Area(_) => {
                let area = format!("A_{suffix}");
                let lines = self.tank_area_line(&area, which)?.into_iter().collect();
                (lines, Some(sym(area) * (upper - lower)))
            }
            TankShape::Sphere(diameter) | TankShape::Bowl(diameter) => {
                let name = format!("D_{suffix}");
                self.bind(&name, Kind::Length, size(diameter), Some(diameter));
                let cap = |h: Expr| h.clone().pow(2) * (sym(name.clone()) / num(2.0) - h / num(3.0));
                (Vec::new(), Some(Expr::Pi * (cap(upper) - cap(lower))))
            }
            TankShape::Cone {
                floor_diameter,
                top_diameter,
                height,
            } => {
                let mut lines = Vec::new();
                let names = ["floor", "top"].map(|end| format!("D_{end}_{suffix}"));
                let tall = format!("h_full_{suffix}");
                self.bind(
                    &names[0],
                    Kind::Length,
                    size(floor_diameter),
                    Some(floor_diameter),
                );
                self.bind(&names[1], Kind::Length, size(top_diameter), Some(top_diameter));
                self.bind(&tall, Kind::Length, size(height), Some(height));
                let [floor, top] = names.map(sym);
                let wide = levels.map(|level| level.replace('h', "D"));
                for (name, level) in wide.iter().zip(levels) {
                    let rise = (top.clone() - floor.clone()) * (sym(level) / sym(tall.clone()));
                    lines.push(self.w.line(name, &(floor.clone() + rise), Kind::Length)?);
                }
                let [a, b] = wide.map(sym);
                let squares = a.clone().pow(2) + a * b.clone() + b.pow(2);
                (lines, Some(Expr::Pi / num(12.0) * (upper - lower) * squares))
            }
            TankShape::LyingCylinder { .. } | TankShape::Table(_) => (Vec::new(), None),
        })
    }

    /// The levels of two upright tanks when their difference is as asked; none where more than that difference drives the flow.
    fn levels_at_the_end(&mut self, asked: &Value) -> Result<Option<Vec<Block>>, EquationError> {
        let case = self.case;
        let (start, end) = (&case.solved.start, &case.solved.end);
        let [Some(first), Some(second)] = case.vessels() else {
            return Ok(None);
        };
        let is_upright = |shape: &Shape| matches!(shape, Shape::Constant { .. });
        let difference = known(asked).map_or(f64::NAN, |w| w.quantity().value);
        let heads = (case.driving_head(&start.state), case.driving_head(&end.state));
        let surfaces = (first.floor + start.level) - (second.floor + start.other_level.unwrap_or(f64::NAN));
        let only = |head: f64, difference: f64| (head - difference).abs() <= 1e-9 * heads.0.abs();
        if !(is_upright(&first.shape)
            && is_upright(&second.shape)
            && first.inflow == 0.0
            && only(heads.0, surfaces)
            && only(heads.1, difference))
        {
            return Ok(None);
        }
        let mut lines = Vec::new();
        lines.extend(self.tank_area_line("A_t", 0)?);
        lines.extend(self.tank_area_line("A_s", 1)?);
        self.bind("H_2", Kind::Length, heads.1, Some(asked));
        let fall = || sym("H_1") - sym("H_2");
        let both = || sym("A_t") + sym("A_s");
        let falls = sym("h_1") - fall() * (sym("A_s") / both());
        let rises = sym("h_1s") + fall() * (sym("A_t") / both());
        lines.push(self.w.line("h_2", &falls, Kind::Length)?);
        lines.push(self.w.line("h_2s", &rises, Kind::Length)?);
        Ok(Some(vec![
            Block::Paragraph(vec![
                t("At the end it is given, "),
                m(sym("H_2")),
                t(" = "),
                Inline::Value(
                    known(asked)
                        .cloned()
                        .unwrap_or_else(|| shown(Kind::Length, heads.1, self.w.conventions)),
                ),
                t(
                    ". What leaves the one tank is in the other then, so the wider of the two moves less: the difference closes from both sides \
                     in the inverse ratio of the areas.",
                ),
            ]),
            Block::Equation(lines),
        ]))
    }

    fn continuity(&self) -> Vec<Block> {
        let rate = |level: &str| sym(format!("d{level}")) / sym("dt");
        let added = self.case.vessels()[0].map_or(0.0, |v| v.inflow);
        let (inflow, drawn) = (added > 0.0, added < 0.0);
        let q = || sym("q");
        let area = || sym("A_t");
        let (words, lines) = match &self.case.system.role {
            TankRole::Drains(_) if inflow => (
                "What flows in less what flows out changes what is in the tank. With the constant inflow q:",
                vec![Line::equal(area() * rate("h"), q() - sym("Q"))],
            ),
            TankRole::Drains(_) if drawn => (
                "The tank loses what leaves through the pipe and what is drawn off, q:",
                vec![Line::equal(area() * rate("h"), -(sym("Q") + q()))],
            ),
            TankRole::Fills(_) if drawn => (
                "The tank gains what comes through the pipe less what is drawn off, q:",
                vec![Line::equal(area() * rate("h"), sym("Q") - q())],
            ),
            TankRole::Drains(_) => (
                "What leaves through the pipe is what the tank loses:",
                vec![Line::equal(area() * rate("h"), -sym("Q"))],
            ),
            TankRole::Fills(_) if inflow => (
                "What comes through the pipe and what flows in besides fill the tank. With the constant inflow q:",
                vec![Line::equal(area() * rate("h"), q() + sym("Q"))],
            ),
            TankRole::Fills(_) => (
                "What comes through the pipe is what the tank gains:",
                vec![Line::equal(area() * rate("h"), sym("Q"))],
            ),
            TankRole::Equalises(_) => (
                "What leaves the one tank is what the other gains, so the difference shrinks from both sides:",
                vec![
                    Line::equal(area() * rate("h"), -sym("Q")),
                    Line::equal(
                        rate("H"),
                        -(sym("Q") * (num(1.0) / area() + num(1.0) / sym("A_s"))),
                    ),
                ],
            ),
        };
        vec![say(words), Block::Equation(lines)]
    }

    /// What takes velocity heads of a pipe: `f L/D + ΣK`, and of the last the velocity head that leaves.
    fn taken(&self, pipe: usize, f: &str) -> Expr {
        let mut terms = Vec::new();
        let path = &self.case.solved.path;
        let ends = [
            (pipe + 1 == self.names.len(), &path.end, "2", true),
            (pipe == 0, &path.start, "1", false),
        ];
        for (is_here, station, number, plus) in ends {
            let alpha = sym(format!("alpha_{number}"));
            match station.velocity {
                StationVelocity::Pipe if is_here => terms.push((plus, alpha)),
                StationVelocity::Jet(_) if is_here => {
                    let bore = sym(format!("d_{number}"));
                    let jet = if self.duct(pipe).is_some() {
                        (num(4.0) * self.own("A", pipe) / (Expr::Pi * bore.pow(2))).pow(2)
                    } else {
                        (self.own("D", pipe) / bore).pow(4)
                    };
                    terms.push((plus, alpha * jet));
                }
                _ => {}
            }
        }
        for (symbol, _, of) in &self.losses {
            if *of == pipe {
                terms.push((true, sym(symbol.clone())));
            }
        }
        if pipes(path).get(pipe).is_some_and(|p| p.length > 0.0) {
            terms.push((
                true,
                self.own(f, pipe) * (self.own("L", pipe) / self.own("D", pipe)),
            ));
        }
        sum(terms)
    }

    fn bind_short(&mut self, name: &str, value: f64) {
        let quantity = Quantity::number(value);
        let written = if value == 0.0 || (value * 1e4).fract() == 0.0 {
            short(value)
        } else {
            shown(Kind::Number, value, self.w.conventions)
        };
        self.w.of.set(name, Bound { quantity, written });
    }

    /// The head, with the velocity heads of stations whose velocity is known.
    fn push(&mut self, moment: &str) -> Expr {
        let path = &self.case.solved.path;
        let mut terms = vec![(true, sym(format!("H_{moment}")))];
        for (station, number, plus) in [(&path.start, "1", true), (&path.end, "2", false)] {
            if let StationVelocity::Value(v) = station.velocity
                && v != 0.0
            {
                let name = format!("v_{number}");
                self.bind(&name, Kind::Velocity, v, None);
                terms.push((plus, sym(format!("alpha_{number}")) * velocity_head(sym(name))));
            }
        }
        sum(terms)
    }

    /// The velocity heads that each pipe takes over the square of its area, together: head is this times `Q²/(2g)`.
    fn resistance(&self, heads: &str) -> Expr {
        let each = (0..self.names.len()).map(|i| (true, self.own(heads, i) / self.own("A", i).pow(2)));
        sum(each.collect())
    }

    /// `√(2 g H/C)` in one pipe, or the flow from the head by areas where there are several.
    fn flow_lines(&mut self, moment: &str) -> Result<Vec<Line>, EquationError> {
        let flow = format!("Q_{moment}");
        let case = self.case;
        let at = if moment == "1" {
            &case.solved.start
        } else {
            &case.solved.end
        };
        // What may differ from moment to moment: kinetic-energy factors, and a K by equivalent length.
        for (name, alpha) in [("alpha_1", at.state.start.alpha), ("alpha_2", at.state.end.alpha)] {
            self.bind_short(name, alpha);
        }
        let coefficients: Vec<_> = (self.losses.iter().zip(&at.state.loss_coefficients))
            .map(|(loss, k)| (loss.0.clone(), *k))
            .collect();
        for (symbol, k) in coefficients {
            self.bind_short(&symbol, k);
        }
        let head = self.push(moment);
        if self.case.system.orifice.is_some() {
            let formula = sym("C_d") * sym("A") * (num(2.0) * sym("g") * head).sqrt();
            let lines = vec![self.w.line(&flow, &formula, Kind::Flow)?];
            self.agrees(&flow, at.state.flow)?;
            return Ok(lines);
        }
        let f = format!("f_{moment}");
        if self.names.len() == 1 {
            let coefficient = self.taken(0, &f);
            let velocity = (num(2.0) * sym("g") * head / coefficient).sqrt();
            let lines = vec![
                self.w.line(&format!("V_{moment}"), &velocity, Kind::Velocity)?,
                self.w
                    .line(&flow, &(sym("A") * sym(format!("V_{moment}"))), Kind::Flow)?,
            ];
            self.agrees(&flow, at.state.flow)?;
            return Ok(lines);
        }
        let mut lines = Vec::new();
        let heads = format!("N_{moment}");
        for i in 0..self.names.len() {
            let (name, taken) = (self.own_name(&heads, i), self.taken(i, &f));
            lines.push(self.w.line(&name, &taken, Kind::Number)?);
        }
        let unit = Unit::parse(match self.w.conventions.units {
            UnitSystem::Si => "1/m^4",
            UnitSystem::UsCustomary => "1/ft^4",
        })
        .map_err(|error| EquationError::new(error.what))?;
        let resistance = format!("R_{moment}");
        let (line, quantity) = Line::worked(
            sym(resistance.clone()),
            &self.resistance(&heads),
            &self.w.of,
            &unit,
            self.w.conventions.figures,
        )?;
        lines.push(line);
        let bound = Bound::new(quantity.value, &unit, self.w.conventions.figures);
        self.w.of.set(resistance.clone(), bound);
        let formula = (num(2.0) * sym("g") * head / sym(resistance)).sqrt();
        lines.push(self.w.line(&flow, &formula, Kind::Flow)?);
        self.agrees(&flow, at.state.flow)?;
        for i in 0..self.names.len() {
            let velocity = sym(flow.clone()) / self.own("A", i);
            let name = self.own_name(&format!("V_{moment}"), i);
            lines.push(self.w.line(&name, &velocity, Kind::Velocity)?);
        }
        Ok(lines)
    }

    /// What a line gave is what the solver has; else nothing is printed.
    fn agrees(&self, name: &str, expected: f64) -> Result<(), EquationError> {
        let found = self.w.of.get(name).map_or(f64::NAN, |bound| bound.quantity.value);
        if (found - expected).abs() <= 1e-6 * expected.abs() {
            Ok(())
        } else {
            Err(EquationError::new(format!(
                "the working gives {found} m³/s for `{name}`, and the solver {expected} m³/s"
            )))
        }
    }

    /// Reynolds number and friction factor of each pipe with friction.
    fn factor_lines(&mut self, moment: &str) -> Result<Vec<Line>, EquationError> {
        let mut lines = Vec::new();
        let at = if moment == "1" {
            &self.case.solved.start
        } else {
            &self.case.solved.end
        };
        for (i, state) in at.state.pipes.iter().enumerate() {
            let reynolds = sym("rho") * self.own(&format!("V_{moment}"), i) * self.own("D", i) / sym("mu");
            let name = self.own_name(&format!("Re_{moment}"), i);
            lines.push(self.w.line(&name, &reynolds, Kind::Number)?);
            let factor = self.own_name(&format!("f_{moment}"), i);
            lines.push(if state.regime == Regime::Laminar {
                let constant = if self.duct(i).is_some() {
                    self.own("C", i)
                } else {
                    num(64.0)
                };
                let formula = constant / sym(name);
                self.w.line(&factor, &formula, Kind::Number)?
            } else {
                let read = shown(Kind::Number, state.darcy_friction_factor, self.w.conventions);
                Line::equal(sym(factor), Expr::Number(read))
            });
        }
        Ok(lines)
    }

    /// Areas that later lines use.
    fn areas(&mut self) -> Result<Vec<Line>, EquationError> {
        let mut lines = Vec::new();
        if self.case.system.orifice.is_some() {
            let formula = Expr::Pi * sym("d").pow(2) / num(4.0);
            lines.push(self.w.line("A", &formula, Kind::Area)?);
            return Ok(lines);
        }
        for i in 0..self.names.len() {
            if let Some(duct) = self.duct(i).cloned() {
                let (name, count) = (self.names[i].clone(), self.names.len());
                let own_name = |base: &str| pipe_result(base, &name, count);
                lines.extend(super::duct::measured(&mut self.w, &duct, &own_name)?);
                continue;
            }
            let formula = Expr::Pi * self.own("D", i).pow(2) / num(4.0);
            let name = self.own_name("A", i);
            lines.push(self.w.line(&name, &formula, Kind::Area)?);
        }
        Ok(lines)
    }

    fn flow_at_start(&mut self) -> Result<Vec<Block>, EquationError> {
        let case = self.case;
        let mut body = Vec::new();
        let path = &case.solved.path;
        let stated = match &case.system.role {
            TankRole::Drains(station) | TankRole::Fills(station) => match &station.velocity {
                Velocity::Jet(value) => Some(value.clone()),
                _ => None,
            },
            TankRole::Equalises(_) => None,
        };
        for (name, station) in [("d_1", &path.start), ("d_2", &path.end)] {
            if let StationVelocity::Jet(d) = station.velocity {
                self.bind(name, Kind::Bore, d, stated.as_ref());
            }
        }
        if case.system.orifice.is_some() {
            body.push(say(
                "Through an opening the velocity is that of a free fall through the head, and its discharge coefficient takes \
                 care of losses and of the jet that narrows:",
            ));
            let mut lines = self.areas()?;
            lines.extend(self.flow_lines("1")?);
            body.push(Block::Equation(lines));
            return Ok(body);
        }
        if self.names.len() == 1 {
            let leaves = case.solved.path.end.velocity != StationVelocity::Value(0.0);
            body.push(say(if leaves {
                "The head is used up by the losses on the way and by the velocity head with which the liquid leaves:"
            } else {
                "The head is used up by the losses on the way:"
            }));
            let coefficient = self.taken(0, "f");
            body.push(Block::Equation(vec![
                Line::equal(sym("H"), coefficient.clone() * velocity_head(sym("V"))),
                Line::equal(sym("V"), (num(2.0) * sym("g") * sym("H") / coefficient).sqrt()),
            ]));
        } else {
            body.push(Block::Paragraph(vec![
                t("The same flow runs through every pipe. Each takes "),
                m(sym("N")),
                t(" of its own velocity heads, and all together use up the head:"),
            ]));
            let mut lines: Vec<Line> = (0..self.names.len())
                .map(|i| Line::equal(self.own("N", i), self.taken(i, "f")))
                .collect();
            lines.push(Line::equal(sym("R"), self.resistance("N")));
            lines.push(Line::equal(
                sym("H"),
                sym("R") * (sym("Q").pow(2) / (num(2.0) * sym("g"))),
            ));
            lines.push(Line::equal(
                sym("Q"),
                (num(2.0) * sym("g") * sym("H") / sym("R")).sqrt(),
            ));
            body.push(Block::Equation(lines));
        }
        if let Some(said) = self.named_losses() {
            body.push(said);
        }
        body.extend(self.kinetic_factor());
        let laminar = stays_laminar(case);
        let (v, re, f) = (|| m(sym("V")), || m(sym("Re")), || m(sym("f")));
        body.push(Block::Paragraph(if laminar {
            vec![
                t("The flow is laminar, so that "),
                m(Expr::Compare(
                    Box::new(sym("f")),
                    Relation::Equal,
                    Box::new(num(64.0) / sym("Re")),
                )),
                t("; a guess of the velocity gives "),
                re(),
                t(" and "),
                f(),
                t(", and these a better velocity, until nothing changes:"),
            ]
        } else {
            vec![
                t("Neither "),
                v(),
                t(" nor "),
                f(),
                t(" is known yet. A guess of "),
                f(),
                t(", such as that of fully rough flow, gives "),
                v(),
                t(", this gives "),
                re(),
                t(", and the chart a better "),
                f(),
                t(", until nothing changes any more:"),
            ]
        }));
        let mut lines = self.areas()?;
        if !laminar && let Some((first, passes)) = self.passes()? {
            lines.extend(first);
            body.push(Block::Equation(std::mem::take(&mut lines)));
            body.push(passes);
            body.push(say(
                "With the factor of the last pass, which the chart gives back:",
            ));
        }
        // The factor comes first, since velocity is worked out with it.
        let factors = self.factor_lines("1")?;
        lines.extend(self.flow_lines("1")?);
        lines.extend(factors);
        body.push(Block::Equation(lines));
        for (i, state) in case.solved.start.state.pipes.iter().enumerate() {
            let effective = self.duct(i).is_some_and(|duct| duct.effective);
            if state.regime == Regime::Laminar || effective || case.solved.start.held == Some(i) {
                continue;
            }
            let rough = state.relative_roughness > 0.0;
            body.push(Block::Paragraph(enter_chart(
                (self.own("Re_1", i), state.reynolds),
                rough.then_some((self.own("rr", i), state.relative_roughness)),
                (self.own("f_1", i), state.darcy_friction_factor),
            )));
        }
        if let Some(pipe) = case.solved.start.held {
            body.push(say(format!(
                "In {} the flow stays at the Reynolds number where laminar flow ends: laminar friction takes less than the \
                 head there is, turbulent friction more, so f lies between the two.",
                called(&self.names[pipe])
            )));
        }
        body.push(self.regimes(&case.solved.start, "At the start"));
        Ok(body)
    }

    /// What the kinetic-energy factor in the formula is.
    fn kinetic_factor(&self) -> Option<Block> {
        let path = &self.case.solved.path;
        let state = &self.case.solved.start.state;
        let (number, factor) = [
            (2, &path.end, state.end.alpha),
            (1, &path.start, state.start.alpha),
        ]
        .into_iter()
        .find(|(_, station, _)| matches!(station.velocity, StationVelocity::Pipe | StationVelocity::Jet(_)))
        .map(|(number, _, alpha)| (number, alpha))?;
        Some(Block::Paragraph(vec![
            m(sym(format!("alpha_{number}"))),
            t(
                " is the kinetic-energy factor: what the velocity head of the mean velocity is to be multiplied by, since \
               the fluid does not move evenly over the section. Here it is ",
            ),
            Inline::Value(short(factor)),
            t("."),
        ]))
    }

    /// The first guess of the factor at the start, that of fully rough flow, and the passes from it to the one that stands;
    /// for one round pipe with a rough wall.
    fn passes(&mut self) -> Result<Option<(Vec<Line>, Block)>, EquationError> {
        let case = self.case;
        let start = &case.solved.start;
        let path = &case.solved.path;
        let of_path = pipes(path);
        let ([at], [pipe], None) = (start.state.pipes.as_slice(), of_path.as_slice(), start.held) else {
            return Ok(None);
        };
        // A head that changes with the flow would take more than these columns.
        let steady =
            |station: &path::Station| !matches!(station.velocity, StationVelocity::Value(v) if v != 0.0);
        let machines = { path.elements.iter() }.any(|e| matches!(e, Element::Pump(_) | Element::Turbine(_)));
        if machines || !steady(&path.start) || !steady(&path.end) {
            return Ok(None);
        }
        let by_number = self.losses.len() == start.state.loss_coefficients.len();
        if self.duct(0).is_some()
            || at.regime == Regime::Laminar
            || at.relative_roughness <= 0.0
            || !by_number
        {
            return Ok(None);
        }
        let figures = self.w.conventions.figures;
        let ratio = self.own("eps", 0) / self.own("D", 0);
        let mut lines = vec![
            Line::single(ratio.clone())
                .then_numbers(&ratio, &self.w.of, &Unit::none(), figures)
                .then(
                    Relation::Equal,
                    Expr::Number(shown(Kind::Number, at.relative_roughness, self.w.conventions)),
                ),
        ];
        self.w
            .of
            .set("rr", Bound::new(at.relative_roughness, &Unit::none(), figures));
        lines.push(
            self.w
                .line("f", &crate::solution::laws::fully_rough(sym("rr")), Kind::Number)?,
        );
        let mut factor = self.w.of.get("f").map_or(f64::NAN, |bound| bound.quantity.value);
        // All that takes velocity heads but friction stays as it is.
        let heads =
            2.0 * case.solved.path.gravity * case.driving_head(&start.state) / (at.velocity * at.velocity);
        let others = heads - at.darcy_friction_factor * pipe.length / pipe.diameter;
        let mut rows = Vec::new();
        for pass in 1..=PASSES {
            let velocity = at.velocity * (heads / (others + factor * pipe.length / pipe.diameter)).sqrt();
            let reynolds = at.reynolds * velocity / at.velocity;
            let read = darcy(Reading::EXACT, reynolds, at.relative_roughness, &self.limits);
            let cells = [
                (Kind::Number, factor),
                (Kind::Velocity, velocity),
                (Kind::Number, reynolds),
                (Kind::Number, read),
            ];
            let mut row = vec![vec![t(format!("{pass}"))]];
            row.extend(cells.map(|(kind, si)| vec![self.value(kind, si)]));
            rows.push(row);
            let printed = |f: f64| round_to_figures(f, figures);
            let same = printed(read) == printed(factor);
            factor = read;
            if same {
                break;
            }
        }
        Ok(Some((lines, super::working::passes("Pass", rows))))
    }

    /// Where the chart is read for the flow at the start.
    fn read_at_start(&self) -> Vec<ReadOff> {
        let start = &self.case.solved.start;
        let at = |(i, state): (usize, &PipeState)| {
            let effective = self.duct(i).is_some_and(|duct| duct.effective);
            (!effective && start.held != Some(i))
                .then(|| ReadOff::of(state.regime, state.reynolds, state.relative_roughness))?
        };
        start.state.pipes.iter().enumerate().filter_map(at).collect()
    }

    /// Which coefficient belongs to which loss.
    fn named_losses(&self) -> Option<Block> {
        if self.losses.is_empty() {
            return None;
        }
        let mut words = vec![t("Here ")];
        for (i, (symbol, name, _)) in self.losses.iter().enumerate() {
            if i > 0 {
                words.push(t(if i + 1 == self.losses.len() { " and " } else { ", " }));
            }
            words.push(m(sym(symbol.clone())));
            words.push(t(format!(" belongs to the {name}")));
        }
        words.push(t("."));
        Some(Block::Paragraph(words))
    }

    fn regimes(&self, moment: &Moment, when: &str) -> Block {
        let each: Vec<String> = (self.names.iter().zip(&moment.state.pipes))
            .map(|(name, at)| {
                let place = if self.names.len() == 1 {
                    String::new()
                } else {
                    format!(" in {}", called(name))
                };
                format!("{}{place}", at.regime.name())
            })
            .collect();
        say(format!("{when} the flow is {}.", listed(&each)))
    }

    fn even(&mut self) -> Result<Vec<Block>, EquationError> {
        let mut body = vec![say(
            "The level does not enter the energy equation, so the flow stays what it is. The time is the volume over it:",
        )];
        let inflow = self.case.vessels()[0].map_or(0.0, |v| v.inflow);
        let mut lines = Vec::new();
        let volume = self.gained().abs();
        self.bind("Vol", Kind::Volume, volume, None);
        let flow = if inflow == 0.0 {
            sym("Q_1")
        } else {
            self.bind("q", Kind::Flow, inflow, self.case.system.tank.inflow.as_ref());
            sym("Q_1") + sym("q")
        };
        if let Shape::Constant { .. } = self.run.followed().shape {
            let formula = sym("A_t") * (sym("h_2") - sym("h_1"));
            lines.push(self.w.line("Vol", &formula, Kind::Volume)?);
        }
        lines.push(self.w.line("t", &(sym("Vol") / flow), Kind::Time)?);
        body.push(Block::Equation(lines));
        Ok(body)
    }

    fn gained(&self) -> f64 {
        let shape = &self.run.followed().shape;
        shape.volume(self.case.solved.end.level) - shape.volume(self.case.solved.start.level)
    }

    /// `A_t`, or for two tanks `A_t A_s/(A_t + A_s)`.
    fn tank_area(&self) -> Expr {
        match self.case.system.role {
            TankRole::Equalises(_) => sym("A_t") * sym("A_s") / (sym("A_t") + sym("A_s")),
            _ => sym("A_t"),
        }
    }

    /// The closed form.
    fn integrated(&mut self) -> Result<Vec<Block>, EquationError> {
        let case = self.case;
        let orifice = case.system.orifice.is_some();
        let mut body = vec![if orifice {
            say(
                "The flow goes as the root of the head. Level and time part to the two sides, and both can be integrated:",
            )
        } else {
            Block::Paragraph(vec![
                t("While "),
                m(sym("f")),
                t(
                    " stays as it is at the start, the flow goes as the root of the head. Level and time part to the two sides, and \
                   both can be integrated:",
                ),
            ])
        }];
        let area = self.tank_area();
        let roots = sym("H_1").sqrt() - sym("H_2").sqrt();
        // Seconds for each root of a metre.
        let rate = if orifice {
            num(2.0) * area.clone() / (sym("C_d") * sym("A") * (num(2.0) * sym("g")).sqrt())
        } else if self.names.len() == 1 {
            num(2.0) * area.clone() / sym("A") * (self.taken(0, "f_1") / (num(2.0) * sym("g"))).sqrt()
        } else {
            num(2.0) * area.clone() * sym("H_1").sqrt() / sym("Q_1")
        };
        let lhs = sym("dt");
        let flow = sym("Q_1") * (sym("H") / sym("H_1")).sqrt();
        body.push(Block::Equation(vec![Line::equal(
            lhs,
            -(area * sym("dH") / flow),
        )]));
        if case.problem.end.is_some() && case.problem.start.is_none() {
            body.push(say("(The head falls as the level rises.)"));
        }
        let mut lines = Vec::new();
        match case.system.role {
            TankRole::Equalises(_) => {
                lines.extend(self.tank_area_line("A_t", 0)?);
                lines.extend(self.tank_area_line("A_s", 1)?);
            }
            _ => lines.extend(self.tank_area_line("A_t", 0)?),
        }
        if case.system.asks_level() {
            body.push(say("From the start to the time that is given, this makes"));
            let head = (sym("H_1").sqrt() - sym("t") / rate).pow(2);
            let closed = case.solved.at_first_factor.unwrap_or(f64::NAN);
            let at = self.run.moment(closed, f64::NAN);
            lines.push(self.w.line("H_2", &head, Kind::Length)?);
            // How far the level moves for each metre of head.
            let fall = sym("H_1") - sym("H_2");
            let formula = match (&case.system.role, at.is_ok()) {
                (TankRole::Equalises(_), _) => sym("h_1") - fall * sym("A_s") / (sym("A_t") + sym("A_s")),
                (TankRole::Fills(_), _) => sym("h_1") + fall,
                (TankRole::Drains(_), _) => sym("h_1") - fall,
            };
            let name = if orifice { "h_2" } else { "h_closed" };
            lines.push(self.w.line(name, &formula, Kind::Length)?);
            body.push(Block::Equation(lines));
        } else {
            body.push(say("From the first head to the last this makes"));
            let name = if orifice { "t" } else { "t_closed" };
            lines.push(self.w.line(name, &(rate * roots), Kind::Time)?);
            body.push(Block::Equation(lines));
        }
        // What comes next works with the answer itself.
        let (h_1, h_2) = (
            case.driving_head(&case.solved.start.state),
            case.driving_head(&case.solved.end.state),
        );
        self.bind("H_1", Kind::Length, h_1, None);
        self.bind("H_2", Kind::Length, h_2, None);
        Ok(body)
    }

    /// The area of a round tank from its diameter.
    fn tank_area_line(&mut self, name: &str, which: usize) -> Result<Option<Line>, EquationError> {
        let tank = match (which, &self.case.system.role) {
            (0, _) => &self.case.system.tank,
            (_, TankRole::Equalises(second)) => second,
            _ => return Ok(None),
        };
        let TankShape::Round(diameter) = &tank.shape else {
            return Ok(None);
        };
        let symbol = if which == 0 { "D_t" } else { "D_s" };
        let si = known(diameter).map_or(f64::NAN, |w| w.quantity().value);
        let diameter = diameter.clone();
        self.bind(symbol, Kind::Length, si, Some(&diameter));
        let formula = Expr::Pi * sym(symbol).pow(2) / num(4.0);
        self.w.line(name, &formula, Kind::Area).map(Some)
    }

    /// Friction and regime at the end, and whether the surface is slow.
    fn check_end(&mut self) -> Result<Vec<Block>, EquationError> {
        let case = self.case;
        let (start, end) = (&case.solved.start, &case.solved.end);
        let mut body = Vec::new();
        if case.system.orifice.is_none() && end.state.flow > 0.0 {
            body.push(say(if case.system.asks_level() {
                "At the end, at the level that the steps below settle on, the head is another, and with it velocity, Reynolds number and friction \
                 factor. Worked out in the same way:"
            } else {
                "At the end the head is another, and with it velocity, Reynolds number and friction factor. Worked out in the same way:"
            }));
            self.bind("H_2", Kind::Length, case.driving_head(&end.state), None);
            let factors = self.factor_lines("2")?;
            let mut lines = self.flow_lines("2")?;
            lines.extend(factors);
            body.push(Block::Equation(lines));
            body.push(self.regimes(end, "At the end"));
            let change = |i: usize| {
                let (a, b) = (&start.state.pipes[i], &end.state.pipes[i]);
                b.darcy_friction_factor / a.darcy_friction_factor - 1.0
            };
            let largest = (0..self.names.len())
                .map(change)
                .fold(0.0_f64, |old, new| if new.abs() > old.abs() { new } else { old });
            let percent = shown(
                Kind::Number,
                100.0 * largest.abs(),
                &Conventions {
                    figures: 2,
                    ..*self.w.conventions
                },
            );
            body.push(Block::Paragraph(vec![
                t("The friction factor has "),
                t(if largest >= 0.0 { "grown by " } else { "shrunk by " }),
                Inline::Value(percent),
                t(" % from start to end"),
                t(if !self.closed {
                    "."
                } else if largest.abs() < 0.01 {
                    ", so that holding it was as good as right."
                } else if largest > 0.0 {
                    ", so that in truth the flow is weaker than the closed form has it, and everything takes longer."
                } else {
                    ", so that in truth the flow is stronger than the closed form has it, and everything goes faster."
                }),
            ]));
        }
        for change in &case.solved.changes {
            let place = if self.names.len() == 1 {
                String::new()
            } else {
                format!(" in {}", called(&self.names[change.pipe]))
            };
            body.push(Block::Paragraph(vec![
                t(format!(
                    "On the way the flow{place} turns from {} to {}, with ",
                    change.before.name(),
                    change.after.name()
                )),
                self.value(Kind::Length, change.level),
                t(" in the tank, after "),
                self.value(Kind::Time, change.time),
                t("."),
            ]));
        }
        let passes = |regime: Regime| {
            case.solved
                .changes
                .iter()
                .any(|c| c.before == regime || c.after == regime)
        };
        if passes(Regime::Critical) {
            body.push(say(
                "In the critical zone no friction factor is certain, and so neither is the time that is spent there.",
            ));
        }
        // The surface.
        let area = case.area(start).0;
        if area > 0.0 {
            let inflow = self.case.vessels()[0].map_or(0.0, |v| v.inflow);
            body.push(say(if case.area(start).1.is_some() {
                "Was it right to leave out the velocity heads of the surfaces? At the start they move at"
            } else {
                "Was it right to leave out the velocity head of the surface? At the start it moves at"
            }));
            let flow = if inflow == 0.0 {
                sym("Q_1")
            } else {
                self.bind("q", Kind::Flow, inflow.abs(), None);
                if (inflow > 0.0) == case.problem.start.is_none() {
                    sym("Q_1") + sym("q")
                } else if start.state.flow >= inflow.abs() {
                    sym("Q_1") - sym("q")
                } else {
                    sym("q") - sym("Q_1")
                }
            };
            let mut lines = vec![self.w.line("V_t", &(flow / sym("A_t")), Kind::Velocity)?];
            let other = case.area(start).1.filter(|area| *area > 0.0);
            if other.is_some() {
                lines.push(self.w.line("V_s", &(sym("Q_1") / sym("A_s")), Kind::Velocity)?);
            }
            body.push(Block::Equation(lines));
            let speed = (start.gain / area)
                .abs()
                .max(other.map_or(0.0, |area| start.state.flow / area));
            let head = speed * speed / (2.0 * case.solved.path.gravity);
            let (least, too_small) = match self.w.conventions.units {
                UnitSystem::Si => (1e-6, "less than a thousandth of a millimetre"),
                UnitSystem::UsCustomary => (2.54e-5, "less than a thousandth of an inch"),
            };
            body.push(Block::Paragraph(vec![
                t(if other.is_some() {
                    "The velocity head of the faster one is "
                } else {
                    "whose velocity head is "
                }),
                if head < least {
                    t(too_small)
                } else {
                    self.value(Kind::Bore, head)
                },
                t(" against "),
                self.value(Kind::Length, case.driving_head(&start.state)),
                t(if head < 0.01 * case.driving_head(&start.state) {
                    ": it counts for nothing."
                } else {
                    ": that is too much to leave out, and the time is only a rough one."
                }),
            ]));
        }
        if body.is_empty() {
            body.push(say("Nothing drives the flow at the end any more."));
        }
        Ok(body)
    }

    /// Flow, friction and time from level to level, by the mean of the flows at both ends of each step.
    fn stepped(&self, count: usize) -> Result<(Vec<(Moment, f64)>, f64), EquationError> {
        let (from, to) = (self.case.solved.start.level, self.case.solved.end.level);
        let shape = &self.run.followed().shape;
        let mut rows: Vec<(Moment, f64)> = Vec::with_capacity(count + 1);
        let mut time = 0.0;
        for i in 0..=count {
            let level = if i == count {
                to
            } else {
                from + (to - from) * i as f64 / count as f64
            };
            let moment = self
                .run
                .moment(level, f64::NAN)
                .map_err(|error| EquationError::new(self.case.system.fault(&error).what))?;
            let took = rows.last().map_or(0.0, |(before, _)| {
                (shape.volume(level) - shape.volume(before.level)) / (0.5 * (moment.gain + before.gain))
            });
            time += took;
            rows.push((moment, took));
        }
        Ok((rows, time))
    }

    /// How area and volume follow from the level in a tank whose walls are not upright: to the level `h`, or for a cone
    /// between the diameters of two levels.
    fn area_and_volume(&self, tank: &Tank, second: bool) -> Vec<Block> {
        let written = |value: &Value, kind: Kind| {
            known(value).map(|w| Expr::Number(given(kind, w, self.w.conventions)))
        };
        let of_tank = |first: &str, other: &str| sym(if second { other } else { first });
        let (h, d) = (|| of_tank("h", "h_s"), || sym("D_h"));
        let (area, volume) = (|| of_tank("A_t", "A_s"), || of_tank("Vol", "Vol_s"));
        // The levels of a step.
        let (h_a, h_b) = (|| of_tank("h_a", "h_sa"), || of_tank("h_b", "h_sb"));
        let (words, lines) = match &tank.shape {
            TankShape::Round(_) | TankShape::Area(_) => return Vec::new(),
            TankShape::Cone {
                floor_diameter,
                top_diameter,
                height,
            } => {
                let [Some(floor), Some(top), Some(height)] =
                    [floor_diameter, top_diameter, height].map(|value| written(value, Kind::Length))
                else {
                    return Vec::new();
                };
                let on_its_apex = known(floor_diameter).is_some_and(|w| w.quantity().value == 0.0);
                let widens = if on_its_apex {
                    top / height * h()
                } else {
                    floor.clone() + (top - floor) / height * h()
                };
                let wide = |at: &str| sym(format!("D_{at}"));
                (
                    "The diameter changes evenly with the level, and the volume between two levels is that of a frustum of a cone:",
                    vec![
                        Line::equal(d(), widens),
                        Line::equal(area(), Expr::Pi * d().pow(2) / num(4.0)),
                        Line::equal(
                            volume(),
                            Expr::Pi / num(12.0)
                                * (h_a() - h_b())
                                * (wide("a").pow(2) + wide("a") * wide("b") + wide("b").pow(2)),
                        ),
                    ],
                )
            }
            TankShape::Sphere(diameter) | TankShape::Bowl(diameter) => {
                let Some(diameter) = written(diameter, Kind::Length) else {
                    return Vec::new();
                };
                (
                    "The surface is a circle, and what lies below it is a cap of the sphere. The volume of a step is that of the \
                     cap of the upper level less that of the lower:",
                    vec![
                        Line::equal(area(), Expr::Pi * h() * (diameter.clone() - h())),
                        Line::equal(
                            sym("Vol_cap"),
                            Expr::Pi * h().pow(2) * (diameter / num(2.0) - h() / num(3.0)),
                        ),
                    ],
                )
            }
            TankShape::LyingCylinder { diameter, length } => {
                let [Some(diameter), Some(length)] =
                    [diameter, length].map(|value| written(value, Kind::Length))
                else {
                    return Vec::new();
                };
                (
                    "The surface is as long as the cylinder and as wide as the chord at its level. The volume of a step is that length \
                     times the area of the circle between two chords:",
                    vec![Line::equal(
                        area(),
                        num(2.0) * length * (h() * (diameter - h())).sqrt(),
                    )],
                )
            }
            TankShape::Table(_) => (
                "Between two levels of the table the area changes evenly, so the volume between them is the mean of the two areas \
                 times the height:",
                vec![Line::equal(
                    volume(),
                    num(0.5) * (sym("A_a") + sym("A_b")) * (h_a() - h_b()),
                )],
            ),
        };
        vec![say(words), Block::Equation(lines)]
    }

    /// How the level of the second tank follows from that of the first.
    fn level_of_second(&self) -> Vec<Block> {
        let TankRole::Equalises(second) = &self.case.system.role else {
            return Vec::new();
        };
        let mut body = vec![Block::Paragraph(vec![
            t("The second tank gains in each step the volume that has run through: "),
            m(sym("Vol_s")),
            t(" is what the first has lost. Its level "),
            m(sym("h_s")),
            t(" is the one at which it holds that much more"),
            t(
                if matches!(second.shape, TankShape::Round(_) | TankShape::Area(_)) {
                    ":"
                } else {
                    "."
                },
            ),
        ])];
        if matches!(second.shape, TankShape::Round(_) | TankShape::Area(_)) {
            let gained = sym("Vol_s") / sym("A_s");
            body.push(Block::Equation(vec![Line::equal(
                sym("h_sb"),
                sym("h_sa") + gained,
            )]));
        }
        body.extend(self.area_and_volume(second, true));
        body
    }

    fn in_steps(&mut self) -> Result<Vec<Block>, EquationError> {
        let case = self.case;
        let inflow = case.vessels()[0].is_some_and(|v| v.inflow != 0.0);
        let two = case.problem.start.is_some() && case.problem.end.is_some();
        let even_area = matches!(self.run.followed().shape, Shape::Constant { .. });
        let with_factors = case.system.orifice.is_none();
        let at_each = if with_factors {
            "At each level the flow is found as at the start, with its own friction factor."
        } else {
            "At each level the flow is found as at the start."
        };
        let mut words = if even_area {
            format!("The level is cut into equal steps. {at_each}")
        } else {
            format!("The area changes with the level, so the level is cut into equal steps. {at_each}")
        };
        words.push_str(" A step takes the volume between its two levels over the mean of the two flows");
        words.push_str(if even_area && !inflow {
            "; where the flow goes as the root of the head that is exact:"
        } else {
            ":"
        });
        let mut body = vec![say(words)];
        let mut formula = sym("Vol") / (Expr::number(0.5) * (sym("Q_a") + sym("Q_b")));
        if inflow {
            formula = sym("Vol") / (Expr::number(0.5) * (sym("Q_net_a") + sym("Q_net_b")));
        }
        body.push(Block::Equation(vec![Line::equal(
            sym("Delta") * sym("t"),
            formula,
        )]));
        let [first, last] = flows_of_step(inflow);
        body.push(Block::Paragraph(vec![
            t("Here "),
            m(sym("Vol")),
            t(" is the volume of the tank between the two levels of a step, "),
            m(sym(first)),
            t(" the flow at the level with which it begins and "),
            m(sym(last)),
            t(" that at the level with which it ends."),
        ]));
        if inflow {
            body.push(Block::Paragraph(vec![
                t("Here "),
                m(sym("Q_net")),
                t(" is what the tank gains or loses in all: the flow through the pipe and the flow besides."),
            ]));
        }
        body.extend(self.area_and_volume(&case.system.tank, false));
        if two {
            body.extend(self.level_of_second());
        }
        let (rows, total) = self.stepped(STEPS)?;
        let mut head = vec![vec![m(sym("h"))]];
        if two {
            head.push(vec![m(sym("h_s"))]);
        }
        if with_factors {
            for i in 0..self.names.len() {
                head.push(vec![m(self.own("f", i))]);
            }
        }
        head.push(vec![m(sym("Q"))]);
        if inflow {
            head.push(vec![m(sym("Q_net"))]);
        }
        if !even_area {
            head.push(vec![m(sym("A_t"))]);
        }
        head.push(vec![t("time of the step")]);
        head.push(vec![t("time so far")]);
        let mut table = Table {
            numeric: vec![true; head.len()],
            head,
            rows: Vec::new(),
        };
        // All times of the table in the unit of the last.
        let exact = case.solved.end.time;
        let unit = display_unit(Kind::Time, exact, self.w.conventions.units);
        let figures = self.w.conventions.figures;
        let time = |si: f64| Inline::Value(Written::from_si(si, &unit, figures));
        let mut so_far = 0.0;
        for (moment, took) in &rows {
            so_far += took;
            let mut row = vec![vec![self.value(Kind::Length, moment.level)]];
            if two {
                row.push(vec![
                    self.value(Kind::Length, moment.other_level.unwrap_or(f64::NAN)),
                ]);
            }
            if with_factors {
                for at in &moment.state.pipes {
                    row.push(vec![if at.darcy_friction_factor.is_finite() {
                        self.value(Kind::Number, at.darcy_friction_factor)
                    } else {
                        t("–")
                    }]);
                }
            }
            row.push(vec![self.value(Kind::Flow, moment.state.flow)]);
            if inflow {
                row.push(vec![self.value(Kind::Flow, moment.gain.abs())]);
            }
            if !even_area {
                row.push(vec![
                    self.value(Kind::Area, self.run.followed().shape.area(moment.level)),
                ]);
            }
            row.push(vec![if *took == 0.0 { t("–") } else { time(*took) }]);
            row.push(vec![time(so_far)]);
            table.rows.push(row);
        }
        body.push(Block::Table(table));
        if let [(a, _), (b, took), ..] = rows.as_slice() {
            body.extend(self.first_step(a, b, (*took, &unit))?);
        }
        let finer = self.stepped(4 * STEPS)?.1;
        let finest = self.stepped(16 * STEPS)?.1;
        body.push(Block::Paragraph(vec![
            t(format!("{} steps take ", capital(number_word(STEPS)))),
            time(total),
            t(", 24 take "),
            time(finer),
            t(", 96 take "),
            time(finest),
            t(". They close in on "),
            m(sym("t")),
            t(" = "),
            time(exact),
            t(if case.system.asks_level() {
                ", the time that was given: the last level is the one that was sought."
            } else if with_factors {
                ", which is the time with friction followed all the way."
            } else {
                ", which is the time."
            }),
        ]));
        if self.closed
            && with_factors
            && let Some(held) = case.solved.at_first_factor
        {
            let kind = if case.system.asks_level() {
                Kind::Length
            } else {
                Kind::Time
            };
            body.push(Block::Paragraph(vec![
                t("The closed form, with friction held, gave "),
                self.value(kind, held),
                t("."),
            ]));
        }
        Ok(body)
    }

    /// The first step of the table with its numbers.
    fn first_step(
        &mut self,
        a: &Moment,
        b: &Moment,
        (took, unit): (f64, &Unit),
    ) -> Result<Vec<Block>, EquationError> {
        let inflow = self.case.vessels()[0].is_some_and(|v| v.inflow != 0.0);
        let shape = &self.run.followed().shape;
        let volume = (shape.volume(b.level) - shape.volume(a.level)).abs();
        let is_even = matches!(shape, Shape::Constant { .. });
        let names = flows_of_step(inflow);
        for (name, moment) in names.into_iter().zip([a, b]) {
            let flow = if inflow {
                moment.gain.abs()
            } else {
                moment.state.flow
            };
            self.bind(name, Kind::Flow, flow, None);
        }
        let mut lines = Vec::new();
        if is_even && self.w.of.get("A_t").is_some() {
            let ends = (self.case.solved.start.level, self.case.solved.end.level);
            for (name, level) in [("h_1", ends.0), ("h_2", ends.1)] {
                let bound = self
                    .w
                    .of
                    .get(name)
                    .map_or(f64::INFINITY, |bound| bound.quantity.value);
                // As it was given, where it was.
                if (bound - level).abs() > 1e-9 * level.abs() {
                    self.bind(name, Kind::Length, level, None);
                }
            }
            let fall = if ends.0 > ends.1 {
                sym("h_1") - sym("h_2")
            } else {
                sym("h_2") - sym("h_1")
            };
            let volume = sym("A_t") * (fall / num(STEPS as f64));
            lines.push(self.w.line("Vol", &volume, Kind::Volume)?);
        } else {
            self.bind("Vol", Kind::Volume, volume, None);
            lines.push(Line::equal(sym("Vol"), sym("Vol").with_values(&self.w.of)));
        }
        let figures = self.w.conventions.figures;
        let formula = sym("Vol") / (num(0.5) * (sym(names[0]) + sym(names[1])));
        lines.push(
            Line::equal(sym("Delta") * sym("t"), formula.clone())
                .then_numbers(&formula, &self.w.of, unit, figures)
                .then(
                    Relation::Equal,
                    Expr::Number(Written::from_si(took, unit, figures)),
                ),
        );
        Ok(vec![
            say("The first step, with its numbers:"),
            Block::Equation(lines),
        ])
    }

    /// Bores tried, each closer.
    fn bores(&self, limits: &Limits) -> Vec<Block> {
        let case = self.case;
        let Asked::Diameter { pipe, until, time } = case.problem.asked else {
            return Vec::new();
        };
        let readings = vec![Reading::EXACT; case.solved.start.state.pipes.len()];
        let mut rows = Vec::new();
        // A round number near enough that a practised eye would try it.
        let mut bore = round_to_figures(1.3 * case.solved.value, 1);
        for _ in 0..TRIALS {
            let mut trial = Problem {
                asked: Asked::Time(until),
                ..case.problem.clone()
            };
            if let Some(pipe) = trial.path.pipe_mut(pipe) {
                pipe.diameter = bore;
            }
            let Ok(found) = solve_tank(&trial, &readings, limits) else {
                break;
            };
            rows.push(vec![
                vec![self.value(Kind::Bore, bore)],
                vec![self.value(Kind::Flow, found.start.state.flow)],
                vec![self.value(Kind::Time, found.value)],
            ]);
            if (found.value / time - 1.0).abs() < 1e-4 {
                break;
            }
            bore *= libm::pow(found.value / time, 0.4);
        }
        vec![
            say(
                "The steps above are those of the bore that was sought. To find it, a bore is tried, its time worked out in \
                 the same way, and the bore bettered. The flow goes nearly as the power 5/2 of the bore, so the next bore is the last \
                 one times the power 2/5 of the time that it takes over the time that it should take:",
            ),
            Block::Table(Table {
                head: vec![vec![t("bore")], vec![t("flow at the start")], vec![t("time")]],
                numeric: vec![true; 3],
                rows,
            }),
        ]
    }
}

fn number_word(n: usize) -> &'static str {
    match n {
        4 => "four",
        6 => "six",
        8 => "eight",
        _ => "the",
    }
}
