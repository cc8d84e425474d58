//! What a student writes: a number or word for each part, and what is carried on with.

use crate::careful::{Careful, FULLY_ROUGH, LAMINAR, SMOOTH};
use crate::table;
use gradeline::bank::system::Value;
use gradeline::bank::template::Asked;
use gradeline::deal::Dealt;
use gradeline::hydraulics::regime::Regime;
use gradeline::solution::Answer;

/// One answer, as the student holds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Said {
    /// SI, before it is rounded to be handed in.
    Number(f64),
    Regime(Regime),
    /// The first of two words, or the second.
    First(bool),
}

/// An error that is made in one part, and carried on from as if it were right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plant {
    pub part: usize,
    /// What the number is multiplied with; a word is replaced by another.
    pub by: f64,
}

/// A student at work on one dealt problem.
pub struct Sheet<'a> {
    pub dealt: &'a Dealt,
    pub who: Careful,
    pub plant: Option<Plant>,
    pub said: Vec<Option<Said>>,
}

/// The fluid as one student has it.
#[derive(Debug, Clone, Copy)]
pub struct Fluid {
    pub rho: f64,
    pub mu: f64,
    /// Absolute \[Pa\]; NaN where there is none.
    pub vapour: f64,
}

impl<'a> Sheet<'a> {
    pub fn new(dealt: &'a Dealt, who: Careful, plant: Option<Plant>) -> Self {
        Self {
            dealt,
            who,
            plant,
            said: vec![None; dealt.template.parts.len()],
        }
    }

    /// A given as the handout states it, SI.
    pub fn given(&self, name: &str) -> f64 {
        match self.dealt.givens.get(name) {
            Some(bound) => bound.quantity.value,
            None => panic!("{}: no given `{name}`", self.dealt.template.name),
        }
    }

    pub fn gravity(&self) -> f64 {
        match (self.who.gravity, self.dealt.case.gravity()) {
            (Some(other), _) => other,
            (None, Value::Known(stated)) => stated.quantity().value,
            (None, other) => panic!("gravity is {other:?}"),
        }
    }

    pub fn fluid(&self) -> Fluid {
        let printed = self.dealt.case.fluid();
        match &printed.temperature {
            Some(temperature) if self.who.from_table => {
                let (rho, mu, vapour) = table::properties(&printed.name, temperature.quantity().value);
                Fluid { rho, mu, vapour }
            }
            _ => Fluid {
                rho: printed.density.quantity().value,
                mu: printed.dynamic_viscosity.quantity().value,
                vapour: printed
                    .vapour_pressure
                    .as_ref()
                    .map_or(f64::NAN, |p| p.quantity().value),
            },
        }
    }

    fn part(&self, name: &str) -> usize {
        let parts = &self.dealt.template.parts;
        match parts.iter().position(|part| part.name == name) {
            Some(part) => part,
            None => panic!("{}: no part `{name}`", self.dealt.template.name),
        }
    }

    /// Answers a part with a number \[SI\], written down in the unit asked; gives back what is carried on with.
    pub fn say(&mut self, part: &str, value: f64) -> f64 {
        let i = self.part(part);
        let Asked::Number { unit, .. } = &self.dealt.template.parts[i].asked else {
            panic!("`{part}` asks for no number");
        };
        let by = match self.plant {
            Some(plant) if plant.part == i => plant.by,
            _ => 1.0,
        };
        let kept = self.who.keep_in(by * value, unit.factor);
        self.said[i] = Some(Said::Number(kept));
        kept
    }

    /// Answers a part with the first or the second of its words.
    pub fn choose(&mut self, part: &str, first: bool) -> bool {
        let i = self.part(part);
        let wrong = self.plant.is_some_and(|plant| plant.part == i);
        self.said[i] = Some(Said::First(first != wrong));
        first != wrong
    }

    /// Answers a part with a regime.
    pub fn regime(&mut self, part: &str, regime: Regime) {
        let i = self.part(part);
        let wrong = self.plant.is_some_and(|plant| plant.part == i);
        self.said[i] = Some(Said::Regime(match regime {
            _ if !wrong => regime,
            Regime::Laminar => Regime::FullyRough,
            _ => Regime::Laminar,
        }));
    }

    /// The answers as they are handed in, SI.
    pub fn handed_in(mut self) -> Vec<Answer> {
        let parts = &self.dealt.template.parts;
        (parts.iter().zip(self.said.clone()))
            .map(|(part, said)| match (&part.asked, said) {
                (Asked::Number { unit, figures, .. }, Some(Said::Number(value))) => {
                    let figures = i32::try_from(*figures).unwrap_or(i32::MAX);
                    let value = self.who.hand_in(value, unit.factor, figures);
                    Answer::Number(gradeline::quantity::Quantity::new(value, unit.dimension))
                }
                (Asked::Regime { .. }, Some(Said::Regime(regime))) => Answer::Regime(regime),
                (Asked::Choice { options, .. }, Some(Said::First(first))) => {
                    Answer::Choice(options[usize::from(!first)].clone())
                }
                (_, said) => panic!(
                    "{}: `{}` is answered with {said:?}",
                    self.dealt.template.name, part.name
                ),
            })
            .collect()
    }
}

/// The regime that follows from a Reynolds number, a factor and ε/D.
pub fn regime_of(reynolds: f64, f: f64, relative_roughness: f64) -> Regime {
    let rough = reynolds * f.sqrt() * relative_roughness;
    if reynolds < LAMINAR {
        Regime::Laminar
    } else if reynolds < 4000.0 {
        Regime::Critical
    } else if rough >= FULLY_ROUGH {
        Regime::FullyRough
    } else if rough / 8.0_f64.sqrt() < SMOOTH {
        // u* ε/ν, with u* = V √(f/8).
        Regime::Smooth
    } else {
        Regime::TransitionallyRough
    }
}
