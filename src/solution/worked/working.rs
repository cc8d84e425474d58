//! What every step of a worked solution needs: the system's symbols, the terms of its energy equation, and
//! the values that stand behind them.

use super::way::{base_symbol, bind, coefficient as loss_coefficient};
use crate::bank::course::Conventions;
use crate::bank::names::pipe_result;
use crate::bank::prose::{Block, Inline, Table, text};
use crate::bank::system::{Duct, Element, Fluid, LossBy, PathSystem, Station, Value, Velocity, solve_fault};
use crate::equation::{Bindings, Bound, EquationError, Expr, Line};
use crate::hydraulics::friction::{Law, Reading};
use crate::hydraulics::path;
use crate::hydraulics::regime::{Limits, Regime};
use crate::hydraulics::solve::{Problem, Solved, Unknown, solve, state};
use crate::quantity::{DecimalMark, Dimension, Quantity, Unit, Written, round_to_figures};
use crate::solution::PathCase;
use crate::solution::laws;
pub(super) use crate::solution::laws::velocity_head;
use crate::solution::results::{known, pure, results};
use crate::solution::units::{Kind, display_unit, given, shown};

/// A symbol of a formula.
pub(super) fn sym(name: impl Into<String>) -> Expr {
    Expr::symbol(name)
}

/// A number of a formula.
pub(super) fn num(value: f64) -> Expr {
    Expr::number(value)
}

/// Words.
pub(super) fn t(words: impl Into<String>) -> Inline {
    text(words)
}

/// Mathematics within words.
pub(super) fn m(expr: Expr) -> Inline {
    Inline::Math(expr)
}

/// A paragraph of words alone.
pub(super) fn say(words: impl Into<String>) -> Block {
    Block::Paragraph(vec![text(words)])
}

/// Terms with their signs as one sum; a positive one comes first where there is one.
pub(super) fn sum(mut terms: Vec<(bool, Expr)>) -> Expr {
    if let Some(first) = terms.iter().position(|(plus, _)| *plus) {
        let first = terms.remove(first);
        terms.insert(0, first);
    }
    let mut all: Option<Expr> = None;
    for (plus, term) in terms {
        all = Some(match (all, plus) {
            (None, true) => term,
            (None, false) => -term,
            (Some(before), true) => before + term,
            (Some(before), false) => before - term,
        });
    }
    all.unwrap_or_else(|| num(0.0))
}

/// Things said one after the other: `a`, `a and b`, `a, b and c`.
pub(super) fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

/// How the velocity of a station is had.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum At {
    /// A value \[m/s\].
    Value(f64),
    /// That of this pipe.
    Pipe(usize),
    /// That of a jet of this diameter \[m\].
    Jet(f64),
}

/// A minor loss.
#[derive(Debug, Clone)]
pub(super) struct Loss {
    /// Its name in the system.
    pub name: String,
    /// Its coefficient's symbol: `K`, or `K_1` and so on.
    pub symbol: String,
    /// The pipe on whose velocity head it counts.
    pub pipe: usize,
    /// How it is told.
    pub by: LossBy,
    /// The number by which it is told, SI; 1 where none is.
    pub number: f64,
    /// What stands for its coefficient in formulas.
    pub k: Expr,
}

/// A pump or a turbine.
#[derive(Debug, Clone)]
pub(super) struct Machine {
    /// Its name in the system.
    pub name: String,
    /// Its head's symbol.
    pub head: String,
    /// Its power's symbol.
    pub power: String,
    /// Its efficiency's symbol.
    pub efficiency: String,
    /// Whether its power is what the system states or asks.
    pub by_power: bool,
    /// Its efficiency.
    pub eta: Option<Written>,
    /// Its efficiency where that is read off a curve.
    pub eta_read: Option<f64>,
}

/// Which terms of the energy equation count; the others are nought or cancel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kept {
    pub p: [bool; 2],
    pub z: [bool; 2],
    pub v: [bool; 2],
    pub cancel_p: bool,
    pub cancel_z: bool,
    pub cancel_v: bool,
}

/// The case with its symbols.
pub(super) struct Working<'a> {
    pub case: &'a PathCase,
    pub limits: &'a Limits,
    pub conventions: &'a Conventions,
    pub unknown: Unknown,
    pub names: Vec<String>,
    pub losses: Vec<Loss>,
    pub pumps: Vec<Machine>,
    pub turbines: Vec<Machine>,
    pub at: [At; 2],
    pub kept: Kept,
    /// The cross-section of each pipe that is not round.
    pub ducts: Vec<Option<Duct>>,
    /// Whether the viscosity is stated as kinematic.
    pub kinematic: bool,
    /// What the statement gives, by its symbols.
    pub givens: Bindings,
}

/// One pass of the iteration: factors taken, where they lead, and the factors that the chart then shows.
pub(super) struct Pass {
    pub taken: Vec<f64>,
    pub solved: Solved,
    pub read: Vec<f64>,
}

fn error(what: impl Into<String>) -> EquationError {
    EquationError {
        what: what.into(),
        span: None,
        mend: None,
    }
}

impl<'a> Working<'a> {
    pub(super) fn new(
        case: &'a PathCase,
        limits: &'a Limits,
        conventions: &'a Conventions,
    ) -> Result<Self, EquationError> {
        let system = &case.system;
        let unknown = system
            .unknown()
            .ok_or_else(|| error("no value of the system is unknown"))?;
        let names: Vec<String> = system.pipe_names().iter().map(|n| (*n).to_owned()).collect();
        if names.is_empty() || case.solved.state.pipes.len() != names.len() {
            return Err(error("the system has no pipe"));
        }
        let count = |want: fn(&Element) -> bool| system.path.iter().filter(|e| want(e)).count();
        let losses_all = count(|e| matches!(e, Element::Loss { .. }));
        let pumps_all = count(|e| matches!(e, Element::Pump { .. }));
        let turbines_all = count(|e| matches!(e, Element::Turbine { .. }));
        let (mut losses, mut pumps, mut turbines) = (Vec::new(), Vec::new(), Vec::new());
        let numbered = |base: &str, before: usize, all: usize| {
            if all == 1 {
                base.to_owned()
            } else {
                format!("{base}_{}", before + 1)
            }
        };
        let machine =
            |name: &str, letter: &str, before: usize, all: usize, duty, efficiency: &Option<Value>| Machine {
                name: name.to_owned(),
                head: numbered(&format!("h_{letter}"), before, all),
                power: numbered(&format!("P_{letter}"), before, all),
                efficiency: if pumps_all + turbines_all == 1 {
                    "eta".to_owned()
                } else {
                    numbered(&format!("eta_{letter}"), before, all)
                },
                by_power: matches!(duty, &crate::bank::system::Duty::Power(_)),
                eta: efficiency.as_ref().and_then(known).cloned(),
                eta_read: None,
            };
        for element in &system.path {
            match element {
                Element::Pipe { .. } => {}
                Element::Loss {
                    name,
                    coefficient,
                    by,
                    pipe,
                } => {
                    let symbol = numbered(base_symbol(*by), losses.len(), losses_all);
                    let pipe = (*pipe).min(names.len() - 1);
                    let own = |base: &str| sym(pipe_result(base, &names[pipe], names.len()));
                    losses.push(Loss {
                        name: name.clone(),
                        k: loss_coefficient(*by, &symbol, own("f"), own("D")),
                        symbol,
                        pipe,
                        by: *by,
                        number: known(coefficient).map_or(1.0, |w| w.quantity().value),
                    });
                }
                Element::Pump {
                    name,
                    duty,
                    efficiency,
                    details,
                } => {
                    let mut pump = machine(name, "P", pumps.len(), pumps_all, duty, efficiency);
                    if details.efficiency.is_some() {
                        let read = case.solved.state.pumps.get(pumps.len()).map(|p| p.efficiency);
                        pump.eta = read.map(|eta| pure(eta, conventions.figures));
                        pump.eta_read = read;
                    }
                    pumps.push(pump);
                }
                Element::Turbine {
                    name,
                    duty,
                    efficiency,
                    ..
                } => {
                    turbines.push(machine(name, "T", turbines.len(), turbines_all, duty, efficiency));
                }
            }
        }
        let at = |station: &path::Station, pipe: usize| match station.velocity {
            path::StationVelocity::Value(v) => At::Value(v),
            path::StationVelocity::Pipe => At::Pipe(pipe),
            path::StationVelocity::Jet(d) => At::Jet(d),
        };
        let at = [
            at(&case.solved.path.start, 0),
            at(&case.solved.path.end, names.len() - 1),
        ];
        let kinematic = matches!(&system.fluid, Fluid::Given { viscosity, .. }
            if known(viscosity).is_some_and(|w| w.unit.dimension == Dimension::KINEMATIC_VISCOSITY));
        let mut working = Self {
            case,
            limits,
            conventions,
            unknown,
            names,
            losses,
            pumps,
            turbines,
            at,
            kept: Kept {
                p: [true; 2],
                z: [true; 2],
                v: [true; 2],
                cancel_p: false,
                cancel_z: false,
                cancel_v: false,
            },
            ducts: super::duct::of_system(&system.path),
            kinematic,
            givens: Bindings::default(),
        };
        working.kept = working.what_stays();
        Ok(working)
    }

    /// Which terms are nought or cancel.
    fn what_stays(&self) -> Kept {
        let path = &self.case.solved.path;
        let state = &self.case.solved.state;
        let asked_p = [
            self.unknown == Unknown::StartPressure,
            self.unknown == Unknown::EndPressure,
        ];
        let asked_z = [
            self.unknown == Unknown::StartElevation,
            self.unknown == Unknown::EndElevation,
        ];
        let p = [path.start.pressure, path.end.pressure];
        let z = [path.start.elevation, path.end.elevation];
        let cancel_p = !asked_p[0] && !asked_p[1] && p[0] == p[1] && p[0] != 0.0;
        let cancel_z = !asked_z[0] && !asked_z[1] && z[0] == z[1] && z[0] != 0.0;
        let same_flow = match (self.at[0], self.at[1]) {
            (At::Pipe(a), At::Pipe(b)) => {
                a == b
                    || (!self.asked_bore(a)
                        && !self.asked_bore(b)
                        && self.cross_section(a) == self.cross_section(b))
            }
            (At::Jet(a), At::Jet(b)) | (At::Value(a), At::Value(b)) => a == b && a != 0.0,
            _ => false,
        };
        let cancel_v = same_flow && state.start.alpha == state.end.alpha;
        let moves = |at: At| !matches!(at, At::Value(v) if v == 0.0);
        Kept {
            p: [0, 1].map(|i| !cancel_p && (asked_p[i] || p[i] != 0.0)),
            z: [0, 1].map(|i| !cancel_z && (asked_z[i] || z[i] != 0.0)),
            v: [0, 1].map(|i| !cancel_v && moves(self.at[i])),
            cancel_p,
            cancel_z,
            cancel_v,
        }
    }

    pub(super) fn system(&self) -> &PathSystem {
        &self.case.system
    }

    pub(super) fn station(&self, i: usize) -> &Station {
        if i == 0 {
            &self.case.system.start
        } else {
            &self.case.system.end
        }
    }

    pub(super) fn figures(&self) -> u32 {
        self.conventions.figures
    }

    /// Whether this pipe's diameter is what is asked.
    pub(super) fn asked_bore(&self, pipe: usize) -> bool {
        self.unknown == Unknown::Diameter(pipe)
    }

    pub(super) fn sizes(&self) -> Vec<path::Pipe> {
        pipes_of(&self.case.solved.path)
    }

    fn cross_section(&self, pipe: usize) -> f64 {
        self.sizes().get(pipe).map_or(f64::NAN, path::Pipe::area)
    }

    /// A pipe's cross-section where it is not round.
    pub(super) fn duct(&self, pipe: usize) -> Option<&Duct> {
        self.ducts.get(pipe)?.as_ref()
    }

    /// An earlier pipe with the same round bore, hence with the same velocity and Reynolds number.
    pub(super) fn same_bore(&self, pipe: usize) -> Option<usize> {
        let sizes = self.sizes();
        let is_open = |i: usize| self.asked_bore(i) || self.duct(i).is_some();
        (0..pipe).find(|i| !is_open(*i) && !is_open(pipe) && sizes[*i].diameter == sizes[pipe].diameter)
    }

    /// An earlier pipe with the same bore and wall, hence with the same friction factor and regime.
    pub(super) fn twin(&self, pipe: usize) -> Option<usize> {
        let sizes = self.sizes();
        let other = self.same_bore(pipe)?;
        let asked = |i: usize| self.unknown == Unknown::Roughness(i);
        (!asked(other) && !asked(pipe) && sizes[other].roughness == sizes[pipe].roughness).then_some(other)
    }

    /// That a pipe shares with an earlier one all that its friction factor hangs on.
    pub(super) fn as_its_twin(&self, pipe: usize, twin: usize, factor: f64) -> Block {
        Block::Paragraph(vec![
            t(format!(
                "{} has the bore, the wall and the flow of {}, so the same velocity, Reynolds number, friction factor and \
                 regime: ",
                capital(&self.the_pipe(pipe)),
                self.the_pipe(twin),
            )),
            m(self.own("f", pipe)),
            t(" = "),
            m(self.own("f", twin)),
            t(" = "),
            Inline::Value(self.pure(factor)),
            t("."),
        ])
    }

    /// A pipe's own symbol.
    pub(super) fn own(&self, base: &str, pipe: usize) -> Expr {
        sym(self.own_name(base, pipe))
    }

    pub(super) fn own_name(&self, base: &str, pipe: usize) -> String {
        pipe_result(base, &self.names[pipe], self.names.len())
    }

    /// `the pipe`, or `the second pipe` where there are several.
    pub(super) fn the_pipe(&self, pipe: usize) -> String {
        if self.names.len() == 1 && self.duct(pipe).is_some() {
            "the duct".to_owned()
        } else if self.names.len() == 1 {
            "the pipe".to_owned()
        } else {
            called(&self.names[pipe])
        }
    }

    /// Several pipes: ` in the second pipe`; one: nothing.
    pub(super) fn in_pipe(&self, pipe: usize) -> String {
        if self.names.len() == 1 {
            String::new()
        } else {
            format!(" in {}", called(&self.names[pipe]))
        }
    }

    pub(super) fn pipes(&self) -> std::ops::Range<usize> {
        0..self.names.len()
    }

    /// A given as it is printed.
    pub(super) fn given(&self, kind: Kind, written: &Written) -> Written {
        given(kind, written, self.conventions)
    }

    /// An SI value as it is printed.
    pub(super) fn shown(&self, kind: Kind, si: f64) -> Written {
        shown(kind, si, self.conventions)
    }

    /// Words with the course's decimal mark in their numbers, each of which is written with a point.
    pub(super) fn marked(&self, words: &str) -> String {
        match self.conventions.decimal_mark {
            DecimalMark::Point => words.to_owned(),
            DecimalMark::Comma => {
                let mut out = String::with_capacity(words.len());
                let mut letters = words.chars().peekable();
                let mut before = ' ';
                while let Some(c) = letters.next() {
                    let inside = before.is_ascii_digit() && letters.peek().is_some_and(char::is_ascii_digit);
                    out.push(if c == '.' && inside { ',' } else { c });
                    before = c;
                }
                out
            }
        }
    }

    /// A pure number as it is printed on the way.
    pub(super) fn pure(&self, value: f64) -> Written {
        pure(value, self.figures())
    }

    /// A value within words.
    pub(super) fn value(&self, kind: Kind, si: f64) -> Inline {
        Inline::Value(self.shown(kind, si))
    }

    /// The names that formulas of the working use, with the values of one solution.
    pub(super) fn bindings(&self, solved: &Solved) -> Bindings {
        let mut b = results(self.system(), solved, self.conventions);
        let exact = |si: f64| Bound::new(si, &Unit::none(), self.figures());
        let mut stated = self.system().path.iter().filter_map(|e| match e {
            Element::Loss { coefficient, .. } => Some(known(coefficient)),
            _ => None,
        });
        for (j, loss) in self.losses.iter().enumerate() {
            let written = stated.next().flatten();
            let k = solved.state.loss_coefficients.get(j).copied().unwrap_or(f64::NAN);
            let bound = match (loss.by, written) {
                (LossBy::K | LossBy::Fitting(_), Some(written)) => Bound {
                    quantity: Quantity::number(k),
                    written: written.clone(),
                },
                (LossBy::EquivalentLength, Some(written)) => Bound {
                    quantity: written.quantity(),
                    written: self.given(Kind::Length, written),
                },
                (LossBy::EquivalentDiameters, Some(written)) => Bound::as_written(written.clone()),
                (LossBy::Rounding, _) => Bound {
                    quantity: Quantity::number(k),
                    written: short(k),
                },
                _ => exact(k),
            };
            b.set(loss.symbol.clone(), bound);
            bind(self, loss, &mut b);
        }
        for (name, now) in [("alpha_1", &solved.state.start), ("alpha_2", &solved.state.end)] {
            b.set(
                name,
                Bound {
                    quantity: Quantity::number(now.alpha),
                    written: short(now.alpha),
                },
            );
        }
        for (i, at) in self.at.iter().enumerate() {
            if let At::Jet(d) = *at {
                let stated = match &self.station(i).velocity {
                    Velocity::Jet(value) => known(value).map(|w| self.given(Kind::Bore, w)),
                    _ => None,
                };
                let written = stated.unwrap_or_else(|| self.shown(Kind::Bore, d));
                b.set(
                    format!("d_{}", i + 1),
                    Bound {
                        quantity: Quantity::new(d, Dimension::LENGTH),
                        written,
                    },
                );
            }
            if let (At::Value(v), Velocity::Value(value)) = (*at, &self.station(i).velocity)
                && let Some(w) = known(value)
            {
                let written = self.given(Kind::Velocity, w);
                b.set(
                    format!("V_{}", i + 1),
                    Bound {
                        quantity: Quantity::new(v, Dimension::VELOCITY),
                        written,
                    },
                );
            }
        }
        super::duct::bind(self, solved, &mut b);
        let state = &solved.state;
        let duty = |want_pumps: bool| {
            self.system().path.iter().filter_map(move |e| match e {
                Element::Pump { duty, .. } if want_pumps => Some(duty),
                Element::Turbine { duty, .. } if !want_pumps => Some(duty),
                _ => None,
            })
        };
        let groups = [
            (&self.pumps, &state.pump_heads, &state.pump_powers, true),
            (&self.turbines, &state.turbine_heads, &state.turbine_powers, false),
        ];
        for (machines, heads, powers, pumps) in groups {
            let all = machines.iter().zip(heads).zip(powers).zip(duty(pumps));
            for (i, (((machine, head), power), duty)) in all.enumerate() {
                let (stated_head, stated_power) = match duty {
                    crate::bank::system::Duty::Head(value) => (known(value), None),
                    crate::bank::system::Duty::Power(value) => (None, known(value)),
                    crate::bank::system::Duty::Curve(_) => (None, None),
                };
                for (name, kind, si, dimension, stated) in [
                    (&machine.head, Kind::Length, *head, Dimension::LENGTH, stated_head),
                    (
                        &machine.power,
                        Kind::Power,
                        *power,
                        Dimension::POWER,
                        stated_power,
                    ),
                ] {
                    let written = stated.map_or_else(|| self.shown(kind, si), |w| self.given(kind, w));
                    b.set(
                        name.clone(),
                        Bound {
                            quantity: Quantity::new(si, dimension),
                            written,
                        },
                    );
                }
                if let Some(eta) = &machine.eta {
                    let mut bound = Bound::as_written(eta.clone());
                    if machine.eta_read.is_some()
                        && let Some(state) = state.pumps.get(i)
                    {
                        bound.quantity = Quantity::number(state.efficiency);
                        bound.written = self.pure(state.efficiency);
                    }
                    b.set(machine.efficiency.clone(), bound);
                }
            }
        }
        b
    }

    /// `name = formula = numbers = value`, with the value bound to the name for later lines.
    pub(super) fn line(
        &self,
        name: &str,
        formula: &Expr,
        kind: Kind,
        of: &mut Bindings,
    ) -> Result<Line, EquationError> {
        line(name, formula, kind, of, self.conventions)
    }

    // ---- the energy equation ----

    /// `p_1/(ρ g)`
    pub(super) fn pressure_head(&self, i: usize) -> Expr {
        sym(format!("p_{}", i + 1)) / (sym("rho") * sym("g"))
    }

    pub(super) fn elevation(&self, i: usize) -> Expr {
        sym(format!("z_{}", i + 1))
    }

    /// The velocity at a station: of its pipe where that is simply it.
    pub(super) fn velocity_at(&self, i: usize) -> Expr {
        match self.at[i] {
            At::Pipe(pipe) => self.own("V", pipe),
            At::Value(_) | At::Jet(_) => sym(format!("V_{}", i + 1)),
        }
    }

    /// `α_1 V²/(2g)` with the pipe's velocity.
    pub(super) fn kinetic(&self, i: usize) -> Expr {
        sym(format!("alpha_{}", i + 1)) * velocity_head(self.velocity_at(i))
    }

    pub(super) fn friction(&self, pipe: usize) -> Expr {
        let own = |name: &str| self.own(name, pipe);
        laws::friction_loss(own("f"), own("L"), own("D"), own("V"))
    }

    pub(super) fn minor(&self, loss: &Loss) -> Expr {
        laws::minor_loss(loss.k.clone(), self.own("V", loss.pipe))
    }

    /// The minor losses of one pipe together: `(K_1 + K_2) V²/(2g)`.
    pub(super) fn minors_of(&self, pipe: usize, without: &dyn Fn(usize) -> bool) -> Option<Expr> {
        let ks: Vec<_> = self
            .losses
            .iter()
            .enumerate()
            .filter(|(j, l)| l.pipe == pipe && !without(*j))
            .map(|(_, l)| (true, l.k.clone()))
            .collect();
        (!ks.is_empty()).then(|| sum(ks) * velocity_head(self.own("V", pipe)))
    }

    /// All minor losses.
    pub(super) fn minors(&self, without: &dyn Fn(usize) -> bool) -> Option<Expr> {
        let terms: Vec<_> = self
            .pipes()
            .filter_map(|i| self.minors_of(i, without))
            .map(|e| (true, e))
            .collect();
        (!terms.is_empty()).then(|| sum(terms))
    }

    /// The length in which friction acts in a pipe: its own, and the equivalent lengths of its losses.
    pub(super) fn friction_length(&self, pipe: usize) -> Expr {
        let mut terms = vec![(true, self.own("L", pipe))];
        for loss in self.losses.iter().filter(|l| l.pipe == pipe) {
            match loss.by {
                LossBy::EquivalentLength => terms.push((true, sym(loss.symbol.clone()))),
                LossBy::EquivalentDiameters => {
                    terms.push((true, sym(loss.symbol.clone()) * self.own("D", pipe)));
                }
                _ => {}
            }
        }
        sum(terms)
    }

    /// Whether a loss is friction in an equivalent length.
    pub(super) fn is_length(&self, loss: usize) -> bool {
        (self.losses.get(loss))
            .is_some_and(|l| matches!(l.by, LossBy::EquivalentLength | LossBy::EquivalentDiameters))
    }

    /// Start less end, without losses and velocity heads: pressure, elevation and machines, each where it
    /// stays; `signed` turns it round.
    pub(super) fn differences(&self, forward: bool, machines: bool) -> Vec<(bool, Expr)> {
        let kept = &self.kept;
        let mut terms = Vec::new();
        let (a, b) = if forward { (0, 1) } else { (1, 0) };
        match (kept.p[a], kept.p[b]) {
            (true, true) => {
                let p = |i: usize| sym(format!("p_{}", i + 1));
                terms.push((true, (p(a) - p(b)) / (sym("rho") * sym("g"))));
            }
            (true, false) => terms.push((true, self.pressure_head(a))),
            (false, true) => terms.push((false, self.pressure_head(b))),
            (false, false) => {}
        }
        for (i, plus) in [(a, true), (b, false)] {
            if kept.z[i] {
                terms.push((plus, self.elevation(i)));
            }
        }
        if machines {
            terms.extend(self.machine_terms(forward));
        }
        terms
    }

    pub(super) fn machine_terms(&self, forward: bool) -> Vec<(bool, Expr)> {
        let pumps = self.pumps.iter().map(|p| (forward, sym(p.head.clone())));
        let turbines = self.turbines.iter().map(|p| (!forward, sym(p.head.clone())));
        pumps.chain(turbines).collect()
    }

    /// Velocity heads that stay: start's less end's.
    pub(super) fn kinetics(&self, forward: bool) -> Vec<(bool, Expr)> {
        [(0, forward), (1, !forward)]
            .into_iter()
            .filter(|(i, _)| self.kept.v[*i])
            .map(|(i, plus)| (plus, self.kinetic(i)))
            .collect()
    }

    /// The Reynolds number's formula.
    pub(super) fn reynolds(&self, pipe: usize) -> Expr {
        let (velocity, bore) = (self.own("V", pipe), self.own("D", pipe));
        if self.kinematic {
            laws::reynolds_kinematic(velocity, bore)
        } else {
            laws::reynolds(velocity, bore)
        }
    }

    /// The Reynolds number of a pipe, worked out; that of an earlier pipe where it is the same.
    pub(super) fn reynolds_line(&self, pipe: usize, of: &mut Bindings) -> Result<Line, EquationError> {
        let formula = match self.same_bore(pipe) {
            Some(other) => self.own("Re", other),
            None => self.reynolds(pipe),
        };
        self.line(&self.own_name("Re", pipe), &formula, Kind::Number, of)
    }

    /// Whether a pipe's chart is read on its effective diameter.
    pub(super) fn effective(&self, pipe: usize) -> bool {
        self.duct(pipe).is_some_and(|duct| duct.effective)
    }

    /// The Reynolds number that the chart is read at.
    pub(super) fn chart_reynolds(&self, pipe: usize) -> Expr {
        self.own(if self.effective(pipe) { "Re_e" } else { "Re" }, pipe)
    }

    /// The ε/D that the chart is read at.
    pub(super) fn chart_ratio(&self, pipe: usize) -> Expr {
        if self.effective(pipe) {
            self.own("eps", pipe) / self.own("D_e", pipe)
        } else {
            self.own("rr", pipe)
        }
    }

    /// The cross-section's formula.
    pub(super) fn area(&self, pipe: usize) -> Expr {
        if self.duct(pipe).is_some() {
            return self.own("A", pipe);
        }
        Expr::Pi * self.own("D", pipe).pow(2) / num(4.0)
    }

    // ---- solving ----

    /// The problem with its unknown taken out again.
    pub(super) fn problem(&self) -> Problem {
        let mut path = self.case.solved.path.clone();
        let mut flow = self.case.solved.state.flow;
        let nan = f64::NAN;
        let (mut pipes, mut losses, mut pumps, mut turbines) = (0, 0, 0, 0);
        match self.unknown {
            Unknown::Flow => flow = nan,
            Unknown::StartPressure => path.start.pressure = nan,
            Unknown::EndPressure => path.end.pressure = nan,
            Unknown::StartElevation => path.start.elevation = nan,
            Unknown::EndElevation => path.end.elevation = nan,
            _ => {}
        }
        for element in &mut path.elements {
            match element {
                path::Element::Pipe(pipe) => {
                    match self.unknown {
                        Unknown::Diameter(i) if i == pipes => pipe.diameter = nan,
                        Unknown::Length(i) if i == pipes => pipe.length = nan,
                        Unknown::Roughness(i) if i == pipes => pipe.roughness = nan,
                        _ => {}
                    }
                    pipes += 1;
                }
                path::Element::Loss { coefficient, .. } => {
                    if self.unknown == Unknown::LossCoefficient(losses) {
                        *coefficient = nan;
                    }
                    losses += 1;
                }
                path::Element::Pump(machine) => {
                    match self.unknown {
                        Unknown::PumpHead(i) if i == pumps => machine.duty = path::Duty::Head(nan),
                        Unknown::PumpPower(i) if i == pumps => machine.duty = path::Duty::Power(nan),
                        _ => {}
                    }
                    pumps += 1;
                }
                path::Element::Turbine(machine) => {
                    match self.unknown {
                        Unknown::TurbineHead(i) if i == turbines => machine.duty = path::Duty::Head(nan),
                        Unknown::TurbinePower(i) if i == turbines => machine.duty = path::Duty::Power(nan),
                        _ => {}
                    }
                    turbines += 1;
                }
            }
        }
        Problem {
            path,
            flow,
            unknown: self.unknown,
        }
    }

    /// Solves with these friction factors, and reads the factors at what comes out.
    pub(super) fn pass(&self, taken: &[f64]) -> Result<Pass, EquationError> {
        let readings: Vec<_> = taken
            .iter()
            .map(|f| Reading {
                law: Law::Fixed(*f),
                factor: 1.0,
            })
            .collect();
        let solved = solve(&self.problem(), &readings, self.limits)
            .map_err(|e| error(solve_fault(&e, self.system()).what))?;
        let exact = vec![Reading::EXACT; self.names.len()];
        let read = state(&solved.path, solved.state.flow, &exact, self.limits)
            .map_err(|e| error(solve_fault(&e, self.system()).what))?
            .pipes
            .iter()
            .map(|p| p.darcy_friction_factor)
            .collect();
        Ok(Pass {
            taken: taken.to_vec(),
            solved,
            read,
        })
    }

    /// Whether all pipes of the answer are laminar.
    pub(super) fn all_laminar(&self) -> bool {
        self.case
            .solved
            .state
            .pipes
            .iter()
            .all(|p| p.regime == Regime::Laminar)
    }

    /// What is asked, in words with an article: `the bore of the pipe`.
    pub(super) fn the_unknown(&self) -> String {
        let station = |i: usize| match &self.station(i).name {
            Some(name) => format!("the {name}"),
            None => format!("station {}", i + 1),
        };
        match self.unknown {
            Unknown::Flow => "the flow".to_owned(),
            Unknown::Diameter(i) => format!("the bore of {}", self.the_pipe(i)),
            Unknown::Length(i) => format!("the length of {}", self.the_pipe(i)),
            Unknown::Roughness(i) => format!("the roughness of {}", self.the_pipe(i)),
            Unknown::LossCoefficient(i) => format!("the loss coefficient of the {}", self.losses[i].name),
            Unknown::StartPressure => format!("the pressure at {}", station(0)),
            Unknown::EndPressure => format!("the pressure at {}", station(1)),
            Unknown::StartElevation => format!("the elevation of {}", station(0)),
            Unknown::EndElevation => format!("the elevation of {}", station(1)),
            Unknown::PumpHead(i) => format!("the head of the {}", self.pumps[i].name),
            Unknown::PumpPower(i) => format!("the shaft power of the {}", self.pumps[i].name),
            Unknown::PumpSpeed(i) => format!("the speed of the {}", self.pumps[i].name),
            Unknown::PumpTrim(i) => format!("the impeller of the {}", self.pumps[i].name),
            Unknown::TurbineHead(i) => format!("the head of the {}", self.turbines[i].name),
            Unknown::TurbinePower(i) => format!("the shaft power of the {}", self.turbines[i].name),
        }
    }

    /// A symbol of one pump: bare where there is only one.
    pub(super) fn of_pump(&self, base: &str, pump: usize) -> String {
        if self.pumps.len() == 1 {
            base.to_owned()
        } else {
            format!("{base}_{}", pump + 1)
        }
    }

    /// What stands for the unknown in formulas.
    pub(super) fn unknown_symbol(&self) -> String {
        match self.unknown {
            Unknown::Flow => "Q".to_owned(),
            Unknown::Diameter(i) => self.own_name("D", i),
            Unknown::Length(i) => self.own_name("L", i),
            Unknown::Roughness(i) => self.own_name("eps", i),
            Unknown::LossCoefficient(i) => self.losses[i].symbol.clone(),
            Unknown::StartPressure => "p_1".to_owned(),
            Unknown::EndPressure => "p_2".to_owned(),
            Unknown::StartElevation => "z_1".to_owned(),
            Unknown::EndElevation => "z_2".to_owned(),
            Unknown::PumpHead(i) => self.pumps[i].head.clone(),
            Unknown::PumpPower(i) => self.pumps[i].power.clone(),
            Unknown::PumpSpeed(i) => self.of_pump("n", i),
            Unknown::PumpTrim(i) => self.of_pump("D_P", i),
            Unknown::TurbineHead(i) => self.turbines[i].head.clone(),
            Unknown::TurbinePower(i) => self.turbines[i].power.clone(),
        }
    }
}

/// Names that say by their last word that they are a pipe's.
const PIPES: &[&str] = &[
    "pipe", "line", "main", "riser", "penstock", "hose", "tube", "pipeline", "conduit", "duct",
];

/// A pipe by its name, within words: `the second pipe`, `the suction line`, `pipe 2`.
pub(super) fn called(name: &str) -> String {
    let last = name.rsplit(' ').next().unwrap_or_default().to_lowercase();
    if PIPES.contains(&last.as_str()) {
        format!("the {name}")
    } else if name.chars().count() > 1 && name.chars().all(|c| c.is_lowercase() || c == ' ' || c == '-') {
        format!("the {name} pipe")
    } else {
        format!("pipe {name}")
    }
}

/// A word with a capital at its start.
pub(super) fn capital(name: &str) -> String {
    let mut letters = name.chars();
    let first = letters
        .next()
        .map(|c| c.to_uppercase().to_string())
        .unwrap_or_default();
    format!("{first}{}", letters.as_str())
}

/// `name = formula = formula with its numbers = value`; binds the value to the name.
pub(super) fn line(
    name: &str,
    formula: &Expr,
    kind: Kind,
    of: &mut Bindings,
    conventions: &Conventions,
) -> Result<Line, EquationError> {
    let si = formula.evaluate(of)?.value;
    let unit = display_unit(kind, si, conventions.units);
    let (mut line, quantity) = Line::worked(sym(name), formula, of, &unit, conventions.figures)?;
    let mut written = Written::to_be_rounded(quantity.value, &unit, conventions.figures);
    // `6.0 m = 6.000 m` says nothing: the number stays as it was first written, here and from here on.
    if let [.., (_, Expr::Number(before)), (_, Expr::Number(last))] = line.rest.as_slice()
        && before.unit == last.unit
        && before.number == last.number
    {
        written = before.clone();
        line.rest.pop();
    }
    of.set(name, Bound { quantity, written });
    Ok(line)
}

/// The pipes of a path.
pub(super) fn pipes_of(path: &path::Path) -> Vec<path::Pipe> {
    path.elements
        .iter()
        .filter_map(|e| match e {
            path::Element::Pipe(pipe) => Some(*pipe),
            _ => None,
        })
        .collect()
}

/// A short number such as 1, 1.05 or 2300 as it would be typed.
pub(super) fn short(value: f64) -> Written {
    // All digits of a whole number count, so that no power of ten is needed to say so.
    let whole = value.fract() == 0.0 && value.abs() < 1.0e6;
    let digits = if whole && value != 0.0 {
        libm::floor(libm::log10(value.abs())) as u32 + 1
    } else {
        1
    };
    let figures = (digits..=digits + 5)
        .find(|f| (round_to_figures(value, *f) - value).abs() <= 1e-9 * value.abs())
        .unwrap_or(digits + 5);
    pure(value, figures)
}

/// Passes with the chart: number, factor taken, velocity, Reynolds number, factor then read.
pub(super) fn passes(count: &str, rows: Vec<Vec<Vec<Inline>>>) -> Block {
    table(
        vec![
            vec![t(count)],
            vec![m(sym("f")), t(" taken")],
            vec![m(sym("V"))],
            vec![m(sym("Re"))],
            vec![m(sym("f")), t(" then read")],
        ],
        vec![true; 5],
        rows,
    )
}

/// A table with heads in words; `numeric` says which columns hold numbers.
pub(super) fn table(head: Vec<Vec<Inline>>, numeric: Vec<bool>, rows: Vec<Vec<Vec<Inline>>>) -> Block {
    Block::Table(Table { head, numeric, rows })
}
