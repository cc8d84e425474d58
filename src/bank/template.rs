//! A template: one problem with free numbers.

mod read;
mod slips;

use super::course::UnitSystem;
use super::prose::{Block, Inline};
use super::system::System;
use crate::equation::Expr;
use crate::fault::Checked;
use crate::hydraulics::regime::Regime;
use crate::quantity::{Unit, Written};

/// The values that a given may take.
#[derive(Debug, Clone, PartialEq)]
pub enum Spread {
    /// One value.
    Fixed(Written),
    /// `first`, `first + step`, … `last`, all in one unit. Kept as whole numbers of `10^-decimals` units, so
    /// that the value printed is the value used.
    Range {
        /// The first value, in units of the last decimal.
        first: i64,
        /// The step, in units of the last decimal.
        step: i64,
        /// How many values there are.
        count: u64,
        /// Decimals printed.
        decimals: u32,
        /// The unit.
        unit: Unit,
    },
    /// One of these.
    Choice(Vec<Written>),
}

impl Spread {
    /// How many values there are.
    pub fn count(&self) -> u64 {
        match self {
            Self::Fixed(_) => 1,
            Self::Range { count, .. } => *count,
            Self::Choice(values) => values.len() as u64,
        }
    }
}

/// A number that the handout states.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// Its name in formulas and placeholders, such as `L_main`.
    pub name: String,
    /// What it is, in a few words, such as `length of the main`.
    pub what: String,
    /// Its values.
    pub spread: Spread,
}

/// What a draw must satisfy.
#[derive(Debug, Clone, PartialEq)]
pub enum Constraint {
    /// The regime of a pipe (`None`: of every pipe) is one of these.
    Regime {
        /// Index among the pipes.
        pipe: Option<usize>,
        /// The regimes allowed.
        allowed: Vec<Regime>,
    },
    /// A comparison over results; a pipe's quantity without a pipe's name (`Re`, `V`) means every pipe.
    Holds(Expr),
}

/// What a part asks.
#[derive(Debug, Clone, PartialEq)]
pub enum Asked {
    /// A number: a result or a formula over results and givens, to be answered in `unit` or any other of
    /// its dimension.
    Number {
        /// The formula.
        formula: Expr,
        /// The unit asked for; [`Unit::none`] for a pure number.
        unit: Unit,
        /// Significant figures asked for.
        figures: u32,
    },
    /// The regime of a pipe.
    Regime {
        /// Index among the pipes.
        pipe: usize,
    },
    /// One of two words: the first where the comparison holds, else the second.
    Choice {
        /// The two words.
        options: [String; 2],
        /// The comparison, over results and givens.
        first_if: Expr,
    },
}

/// One thing asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its name on the answer sheet, such as `velocity`.
    pub name: String,
    /// The question, as it stands on the handout.
    pub ask: Vec<Inline>,
    /// What is asked.
    pub asked: Asked,
    /// Marks.
    pub marks: f64,
    /// Whether it is read off the chart.
    pub chart: bool,
    /// Earlier parts (indices) whose answers a student would use for it.
    pub builds_on: Vec<usize>,
}

/// A common error that a template wants told apart.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedSlip {
    /// The slip's name in the library of slips.
    pub name: String,
    /// Indices of the parts whose answers it must move out of the band for a draw to be dealt.
    pub shows_in: Vec<usize>,
}

/// A template's own slip: some givens taken for others.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnSlip {
    /// Its name.
    pub name: String,
    /// What to tell a student who made it, one sentence that begins with `Check`.
    pub advice: String,
    /// Givens, each with a formula over givens for what is taken in its place.
    pub with: Vec<(String, Expr)>,
}

/// One problem with free numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Template {
    /// Its name: that of its file without `.yaml`.
    pub name: String,
    /// Its title on papers.
    pub title: String,
    /// What it practises, such as `pump power`.
    pub topic: String,
    /// Counts up when the template changes in a way that changes draws.
    pub version: u32,
    /// The file's text, as read; kept with what was dealt.
    pub source: String,
    /// The givens, in the order of the file.
    pub givens: Vec<Given>,
    /// The system, its values formulas over givens.
    pub system: System,
    /// What draws must satisfy.
    pub constraints: Vec<Constraint>,
    /// The constraints as they are written, one for each.
    pub constraint_texts: Vec<String>,
    /// What is asked.
    pub parts: Vec<Part>,
    /// The statement, with placeholders.
    pub statement: Vec<Block>,
    /// Hints, from the gentlest to the plainest.
    pub hints: Vec<Vec<Block>>,
    /// Slips that draws must keep out of the bands, of the library and its own.
    pub slips: Vec<ListedSlip>,
    /// Slips of its own.
    pub own_slips: Vec<OwnSlip>,
    /// Slips of the library that are never looked for in it.
    pub slips_off: Vec<String>,
}

impl Template {
    /// Reads a template from YAML text. `name` is the file's name without `.yaml`; `file` is what faults
    /// call the file. Everything that can be checked without a draw is: units, names, formulas, dimensions.
    ///
    /// # Errors
    /// Every fault of the text, with its place.
    pub fn parse(yaml: &str, name: &str, file: &str) -> Checked<Self> {
        read::template(yaml, name, file)
    }

    /// The units that its givens and its answers are in; `None` where they are of both systems, or of none.
    pub fn units(&self) -> Option<UnitSystem> {
        let mut all: Vec<&Unit> = Vec::new();
        for given in &self.givens {
            match &given.spread {
                Spread::Fixed(value) => all.push(&value.unit),
                Spread::Choice(values) => all.extend(values.iter().map(|value| &value.unit)),
                Spread::Range { unit, .. } => all.push(unit),
            }
        }
        all.extend(self.parts.iter().filter_map(|part| match &part.asked {
            Asked::Number { unit, .. } => Some(unit),
            _ => None,
        }));
        let mut systems = all.into_iter().filter_map(Unit::is_us_customary);
        let first = systems.next()?;
        systems.all(|other| other == first).then_some(if first {
            UnitSystem::UsCustomary
        } else {
            UnitSystem::Si
        })
    }

    /// A template that only asks one thing of a system; it states nothing and draws nothing.
    pub(crate) fn asking(system: System, asked: Asked) -> Self {
        Self {
            name: String::new(),
            title: String::new(),
            topic: String::new(),
            version: 1,
            source: String::new(),
            givens: Vec::new(),
            system,
            constraints: Vec::new(),
            constraint_texts: Vec::new(),
            parts: vec![Part {
                name: "the answer".to_owned(),
                ask: Vec::new(),
                asked,
                marks: 1.0,
                chart: false,
                builds_on: Vec::new(),
            }],
            statement: Vec::new(),
            hints: Vec::new(),
            slips: Vec::new(),
            own_slips: Vec::new(),
            slips_off: Vec::new(),
        }
    }

    /// Marks of all parts together.
    pub fn marks(&self) -> f64 {
        self.parts.iter().map(|p| p.marks).sum()
    }
}
