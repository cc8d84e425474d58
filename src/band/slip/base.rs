//! A case made ready for being worked with slips in it, again and again.

use super::Slip;
use super::after::after;
use super::before::before;
use super::library::How;
use super::setup::{Numbers, Setup};
use super::units::in_answers;
use crate::band::reading::misreading;
use crate::band::working::{Name, Of, Outcome, Whole, Work};
use crate::bank::course::{Conventions, Policy};
use crate::bank::system::Element as Said;
use crate::bank::template::{Asked, Template};
use crate::equation::{Bindings, EquationError, Expr};
use crate::hydraulics::friction::{Law, Reading, darcy_of};
use crate::hydraulics::path::{PipeState, Section, State, area};
use crate::hydraulics::regime::{Limits, Regime, classify};
use crate::hydraulics::{ageing, leak, profile, solve, tank};
use crate::quantity::{Dimension, Quantity, Written};
use crate::solution::ageing::AgeingCase;
use crate::solution::leak::LeakCase;
use crate::solution::tank::TankCase;
use crate::solution::{Answer, Case, Flowing};

/// A right working, and what slips need to know of it.
pub(super) struct Base<'a> {
    pub(super) template: &'a Template,
    pub(super) givens: &'a Bindings,
    pub(super) case: &'a Case,
    /// Of a path.
    pub(super) work: Option<Work<'a>>,
    pub(super) setup: Setup,
    pub(super) flowing: Vec<Flowing>,
    /// Names of losses in lower case, by link.
    losses: Vec<Vec<String>>,
    /// Every value of the system as it is written.
    pub(super) written: Vec<Written>,
    /// Results by name, of kinds beside the path.
    results: Vec<(String, Quantity)>,
    /// What the names in the parts' formulas stand for, on a path.
    names: Vec<(String, Name)>,
    /// By what share each friction factor may be misread.
    misread: Vec<f64>,
    /// Figures of a named fluid's properties.
    pub(super) figures: u32,
    /// Answers without a slip.
    pub(super) right: Vec<Option<Answer>>,
}

/// What a working comes to.
pub(super) struct Worked {
    pub(super) of: Form,
    /// What all flows and areas are multiplied with.
    pub(super) flows: f64,
    /// What all pressures are multiplied with.
    pub(super) pressures: f64,
    /// Results multiplied by themselves.
    pub(super) times: Vec<(String, f64)>,
    /// Givens that a slip has otherwise.
    givens: Option<Bindings>,
}

/// A working of a path, or of another kind.
pub(super) enum Form {
    Path(Outcome),
    Other(Case),
}

/// How readings are misread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Misread {
    Not,
    Low,
    High,
    /// By this share of what is allowed, -1 to 1.
    By(f64),
}

impl<'a> Base<'a> {
    /// `None` where nothing is asked that slips could change.
    pub(super) fn new(
        template: &'a Template,
        givens: &'a Bindings,
        case: &'a Case,
        policy: &Policy,
        conventions: &Conventions,
    ) -> Option<Self> {
        let work = case.path().map(|path| Work::new(givens, path, policy.limits));
        let numbers = match &work {
            Some(work) => Numbers::Path(work.problem.clone()),
            None => Numbers::of(case)?,
        };
        let flowing = case.flowing();
        let mut names = Vec::new();
        if let Some(work) = &work {
            for part in &template.parts {
                let symbols = match &part.asked {
                    Asked::Number { formula, .. } => formula.symbols(),
                    Asked::Choice { first_if, .. } => first_if.symbols(),
                    Asked::Regime { .. } => continue,
                };
                for symbol in symbols {
                    if let Some(name) = work.pipes.find(&symbol, None) {
                        names.push((symbol, name));
                    }
                }
            }
        }
        let readings = readings_of(case, flowing.len());
        let misread = flowing
            .iter()
            .map(|f| misreading(policy, f.reynolds, f.relative_roughness))
            .collect();
        let mut base = Self {
            template,
            givens,
            case,
            setup: Setup {
                numbers,
                readings: vec![Reading::EXACT; readings],
                limits: policy.limits,
            },
            losses: losses(case),
            written: case.system().written(),
            results: if work.is_some() {
                Vec::new()
            } else {
                case.numbers()
            },
            names,
            misread,
            figures: conventions.property_figures,
            right: Vec::new(),
            work,
            flowing,
        };
        base.right = base.answers(&base.unchanged(), &base.setup, &[]);
        Some(base)
    }

    fn unchanged(&self) -> Worked {
        let of = match &self.work {
            Some(work) => Form::Path(work.base.clone()),
            None => Form::Other(self.case.clone()),
        };
        Worked::new(of)
    }

    /// The answers of a working with these slips in it; `None` where one of them changes nothing, or the working
    /// ends nowhere.
    pub(super) fn with(&self, slips: &[How], misread: Misread) -> Option<Vec<Option<Answer>>> {
        let mut setup = self.setup.clone();
        let mut does = [false; 2];
        let mut givens = None;
        let mut changed = false;
        for (does, slip) in does.iter_mut().zip(slips) {
            if let How::Own(n) = slip {
                let (own, numbers) = super::own::changed(self, *n)?;
                (givens, setup.numbers) = (Some(own), numbers);
                *does = true;
            } else {
                *does = before(*slip, self, &mut setup);
                if !*does && !slip.is_late() {
                    return None;
                }
            }
            changed |= *does;
        }
        let side = match misread {
            Misread::Not => 0.0,
            Misread::Low => -1.0,
            Misread::High => 1.0,
            Misread::By(share) => share,
        };
        for (reading, by) in setup.readings.iter_mut().zip(&self.misread) {
            // A formula is not read.
            if !matches!(reading.law, Law::NaturalLogarithm | Law::LaminarEverywhere) {
                reading.factor *= 1.0 + side * by;
            }
        }
        let mut worked = if changed || misread != Misread::Not {
            self.solve(&setup)?
        } else {
            self.unchanged()
        };
        worked.givens = givens;
        for (does, slip) in does.iter_mut().zip(slips) {
            *does |= after(*slip, self, &setup, &mut worked);
        }
        let mut answers = self.answers(&worked, &setup, slips);
        for (does, slip) in does.iter_mut().zip(slips) {
            *does |= in_answers(*slip, self, &mut answers);
        }
        does.iter().take(slips.len()).all(|does| *does).then_some(answers)
    }

    fn solve(&self, setup: &Setup) -> Option<Worked> {
        let Setup {
            numbers,
            readings,
            limits,
        } = setup;
        let both = || match readings[..] {
            [one, other] => Some([one, other]),
            _ => None,
        };
        let of = match (numbers, self.case) {
            (Numbers::Path(problem), _) => Form::Path(self.path(problem, readings, limits)?),
            (Numbers::Tank(problem), Case::Tank(case)) => {
                let solved = tank::solve_silently(problem, readings, limits).ok()?;
                Form::Other(Case::Tank(Box::new(TankCase {
                    system: case.system.clone(),
                    fluid: case.fluid.clone(),
                    problem: problem.clone(),
                    solved,
                })))
            }
            (Numbers::Network(network), Case::Network(case)) => {
                let case = case.with(network.clone(), readings, limits).ok()?;
                Form::Other(Case::Network(Box::new(case)))
            }
            (Numbers::Meter(problem), Case::Meter(case)) => {
                let factor = case.misread(readings);
                Form::Other(Case::Meter(Box::new(case.with(*problem, factor).ok()?)))
            }
            (Numbers::Profile(problem), Case::Profile(case)) => {
                let [reading] = readings[..] else { return None };
                let solved = profile::solve(problem, reading, limits).ok()?;
                Form::Other(Case::Profile(Box::new(case.with(solved))))
            }
            (Numbers::Leak(problem), Case::Leak(case)) => {
                let readings = both()?;
                let solved = leak::solve(problem, readings, limits)
                    .unwrap_or_else(|_| above_alone(problem, readings[0], limits));
                Form::Other(Case::Leak(Box::new(LeakCase {
                    system: case.system.clone(),
                    fluid: case.fluid.clone(),
                    solved,
                })))
            }
            (Numbers::Ageing(problem), Case::Ageing(case)) => {
                let solved = ageing::solve(problem, both()?, limits)
                    .unwrap_or_else(|_| flow_alone(problem, &case.solved));
                Form::Other(Case::Ageing(Box::new(AgeingCase {
                    system: case.system.clone(),
                    fluid: case.fluid.clone(),
                    solved,
                })))
            }
            _ => return None,
        };
        Some(Worked::new(of))
    }

    fn path(&self, problem: &solve::Problem, readings: &[Reading], limits: &Limits) -> Option<Outcome> {
        let solved = solve::solve(problem, readings, limits).ok()?;
        let mut outcome = Outcome {
            path: solved.path.into(),
            state: solved.state.into(),
            instead: Vec::new(),
            sized: self.work.as_ref().and_then(|work| work.base.sized),
        };
        // The level part of the chart is read as the rest of it.
        for (i, reading) in readings.iter().enumerate() {
            if reading.factor != 1.0 && !matches!(reading.law, Law::Fixed(_)) {
                let level = Name::Pipe(Of::FullyRoughFriction, i);
                outcome.put(level, outcome.get(level) * reading.factor);
            }
        }
        Some(outcome)
    }

    /// The parts' answers in a working.
    fn answers(&self, worked: &Worked, setup: &Setup, slips: &[How]) -> Vec<Option<Answer>> {
        let others = match &worked.of {
            Form::Path(_) => Vec::new(),
            Form::Other(case) => self.numbers(case, worked, slips),
        };
        let givens = worked.givens.as_ref().unwrap_or(self.givens);
        let look_up = |name: &str| -> Option<Quantity> {
            let given = || givens.get(name).map(|bound| bound.quantity);
            match &worked.of {
                Form::Path(outcome) => match self.names.iter().find(|(known, _)| known == name) {
                    Some((_, name)) => Some(self.of_path(outcome, *name, worked, slips)),
                    None => given(),
                },
                Form::Other(_) => others
                    .iter()
                    .find(|(known, _)| known == name)
                    .map(|(_, quantity)| *quantity)
                    .or_else(given),
            }
        };
        let value = |formula: &Expr| -> Result<Quantity, EquationError> { formula.evaluate_with(&look_up) };
        self.template
            .parts
            .iter()
            .map(|part| match &part.asked {
                Asked::Number { formula, .. } => {
                    let found = match formula {
                        Expr::Symbol(name) => look_up(name),
                        formula => value(formula).ok(),
                    };
                    found.filter(|q| q.value.is_finite()).map(Answer::Number)
                }
                Asked::Regime { pipe } => self.regime(worked, setup, *pipe).map(Answer::Regime),
                Asked::Choice { options, first_if } => {
                    let holds = first_if.holds_with(&look_up).ok()?;
                    Some(Answer::Choice(options[usize::from(!holds)].clone()))
                }
            })
            .collect()
    }

    fn of_path(&self, outcome: &Outcome, name: Name, worked: &Worked, slips: &[How]) -> Quantity {
        let kept = match name {
            Name::Whole(
                Whole::Density | Whole::DynamicViscosity | Whole::KinematicViscosity | Whole::Gravity,
            ) => true,
            Name::Pipe(Of::Length, _) => slips.contains(&How::FrictionLeftOut),
            Name::Machine("eta", _) => slips.contains(&How::EfficiencyLeftOut),
            _ => false,
        };
        let value = match &self.work {
            Some(work) if kept => work.base.get(name),
            _ => outcome.get(name),
        };
        let dimension = name.dimension();
        let by = if dimension == Dimension::PRESSURE {
            worked.pressures
        } else {
            1.0
        };
        Quantity::new(value * by, dimension)
    }

    /// Results by name of a kind beside the path.
    fn numbers(&self, case: &Case, worked: &Worked, slips: &[How]) -> Vec<(String, Quantity)> {
        let mut all = case.numbers();
        for (name, quantity) in &mut all {
            let kept = slips.contains(&How::FrictionLeftOut) && (name == "L" || name.starts_with("L_"));
            if kept && let Some((_, before)) = self.results.iter().find(|(known, _)| known == name) {
                *quantity = *before;
            }
            quantity.value *= match quantity.dimension {
                Dimension::FLOW | Dimension::AREA => worked.flows,
                Dimension::PRESSURE => worked.pressures,
                _ => 1.0,
            };
            if let Some((_, by)) = worked.times.iter().find(|(known, _)| known == name) {
                quantity.value *= by;
            }
        }
        all
    }

    /// The regime is that of the chart, whatever a slip makes of f.
    fn regime(&self, worked: &Worked, setup: &Setup, pipe: usize) -> Option<Regime> {
        let (flowing, section) = match &worked.of {
            Form::Path(outcome) => {
                let state = outcome.state.pipes.get(pipe)?;
                let found = (state.regime, state.reynolds, state.relative_roughness);
                (found, outcome.section(pipe))
            }
            Form::Other(case) => {
                let flowing = case.flowing();
                let flowing = flowing.get(pipe)?;
                let found = (flowing.regime, flowing.reynolds, flowing.relative_roughness);
                (found, Section::ROUND)
            }
        };
        let (regime, reynolds, relative) = flowing;
        if setup
            .readings
            .get(pipe)
            .is_none_or(|reading| *reading == Reading::EXACT)
        {
            return Some(regime);
        }
        let limits = &setup.limits;
        let factor = darcy_of(&section, Reading::EXACT, reynolds, relative, limits);
        Some(classify(reynolds, reynolds * factor.sqrt() * relative, limits))
    }

    /// Whether what flows in a pipe is laminar.
    pub(super) fn is_laminar(&self, pipe: usize) -> bool {
        self.flowing
            .get(pipe)
            .is_some_and(|flowing| flowing.regime == Regime::Laminar)
    }

    /// Whether all that flows is.
    pub(super) fn all_laminar(&self) -> bool {
        self.flowing
            .iter()
            .all(|flowing| flowing.regime == Regime::Laminar)
    }

    /// The state along a link: at the start, of a tank.
    pub(super) fn state(&self, link: usize) -> Option<&State> {
        match (self.case, &self.work) {
            (_, Some(work)) => Some(&work.base.state),
            (Case::Tank(case), _) => Some(&case.solved.start.state),
            (Case::Network(case), _) => case.solved.states.get(link),
            _ => None,
        }
    }

    /// The name of a loss in lower case; none of what is no loss by name, such as an opening's.
    pub(super) fn loss(&self, link: usize, n: usize) -> Option<&str> {
        self.losses.get(link)?.get(n).map(String::as_str)
    }
}

impl Worked {
    fn new(of: Form) -> Self {
        Self {
            of,
            flows: 1.0,
            pressures: 1.0,
            times: Vec::new(),
            givens: None,
        }
    }

    /// Of a path.
    pub(super) fn outcome(&mut self) -> Option<&mut Outcome> {
        match &mut self.of {
            Form::Path(outcome) => Some(outcome),
            Form::Other(_) => None,
        }
    }

    /// Of another kind.
    pub(super) fn case(&mut self) -> Option<&mut Case> {
        match &mut self.of {
            Form::Path(_) => None,
            Form::Other(case) => Some(case),
        }
    }
}

impl Slip {
    /// Whether it can be made together with another: not if both change the same thing.
    pub(super) fn goes_with(&self, other: &Self) -> bool {
        let (one, other) = (self.how.subject(), other.how.subject());
        one.is_none() || one != other
    }
}

/// What is worked out of a main before the leak is found, where a slip leads to no leak.
fn above_alone(problem: &leak::Problem, reading: Reading, limits: &Limits) -> leak::Solved {
    let above = leak::reach(problem, problem.start.flow, problem.distance, reading, limits);
    let nothing = leak::Reach {
        length: f64::NAN,
        flow: f64::NAN,
        velocity: f64::NAN,
        reynolds: f64::NAN,
        darcy_friction_factor: f64::NAN,
        rough_number: f64::NAN,
        slope: f64::NAN,
        ..above
    };
    leak::Solved {
        problem: problem.clone(),
        reaches: [above, nothing],
        head: f64::NAN,
        leak: f64::NAN,
        pressure_at_leak: f64::NAN,
    }
}

/// What is worked out of an ageing pipe before its roughness is found, where a slip leads to no roughness.
fn flow_alone(problem: &ageing::Problem, right: &ageing::Solved) -> ageing::Solved {
    let velocity = problem.flow / area(problem.diameter);
    let nothing = PipeState {
        velocity: f64::NAN,
        reynolds: f64::NAN,
        relative_roughness: f64::NAN,
        darcy_friction_factor: f64::NAN,
        roughness_reynolds: f64::NAN,
        rough_number: f64::NAN,
        major_head_loss: f64::NAN,
        ..right.test
    };
    ageing::Solved {
        problem: problem.clone(),
        roughness: f64::NAN,
        test: PipeState {
            velocity,
            reynolds: problem.density * velocity * problem.diameter / problem.dynamic_viscosity,
            darcy_friction_factor: 2.0 * problem.gravity * problem.diameter * problem.head_loss
                / (problem.length * velocity * velocity),
            major_head_loss: problem.head_loss,
            ..nothing
        },
        later_roughness: f64::NAN,
        later: nothing,
        later_flow: f64::NAN,
        driven: nothing,
    }
}

/// How many readings a solver takes.
fn readings_of(case: &Case, flowing: usize) -> usize {
    match case {
        // An opening has a reading, though it has no factor.
        Case::Tank(case) => flowing.max(case.solved.start.state.pipes.len()),
        _ => flowing,
    }
}

fn losses(case: &Case) -> Vec<Vec<String>> {
    let of = |path: &[Said]| -> Vec<String> {
        path.iter()
            .filter_map(|element| match element {
                Said::Loss { name, .. } => Some(name.to_lowercase()),
                _ => None,
            })
            .collect()
    };
    match case {
        Case::Path(case) => vec![of(&case.system.path)],
        Case::Tank(case) => vec![of(&case.system.path)],
        Case::Network(case) => case.system.links.iter().map(|link| of(&link.path)).collect(),
        _ => Vec::new(),
    }
}
