//! Answers of a simulated class.
//!
//! Every student is one of four kinds, by a fixed pseudo-random stream:
//!
//! - careful (70 %): reads every friction factor off the chart with an error spread evenly over ±4 %,
//!   solves to the end with it, and rounds each answer to three figures;
//! - slips (20 %): works carefully, but makes one slip of the library all through one of the problems;
//! - miscounts (6 %): works carefully, but gets one number wrong by 10 to 40 % and goes on from the right
//!   one;
//! - hurried (4 %): works carefully, and leaves about a third of the parts blank.
//!
//! Whatever the kind, one answer in six is written in another unit of the same dimension, one in ten with
//! a decimal comma, one in fifty without its unit, and one in two hundred as words that are no answer.

use gradeline::bank::course::{Policy, Set};
use gradeline::bank::template::Asked;
use gradeline::deal::{Dealt, DealtStudent};
use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::quantity::{DecimalMark, Dimension, Unit, Written};
use gradeline::solution::{self, Answer};
use rand_chacha::ChaCha20Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Half the spread of a simulated reading of the chart.
const READING_SPREAD: f64 = 0.04;

enum Kind {
    Careful,
    Slips,
    Miscounts,
    Hurried,
}

/// A stream of choices.
struct Chance(ChaCha20Rng);

impl Chance {
    fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn one_in(&mut self, n: u32) -> bool {
        self.unit() * f64::from(n) < 1.0
    }

    fn pick(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n - 1)
    }
}

/// The answers of a simulated student, a list for each problem; `number` tells students apart.
pub fn answers(student: &DealtStudent, set: &Set, number: usize) -> Vec<Vec<String>> {
    let mut seed = [0; 32];
    seed[..8].copy_from_slice(&(number as u64).to_le_bytes());
    let mut chance = Chance(ChaCha20Rng::from_seed(seed));
    let kind = match chance.unit() {
        r if r < 0.70 => Kind::Careful,
        r if r < 0.90 => Kind::Slips,
        r if r < 0.96 => Kind::Miscounts,
        _ => Kind::Hurried,
    };
    let slipped = chance.pick(student.problems.len());
    student
        .problems
        .iter()
        .enumerate()
        .map(|(i, dealt)| {
            let mut values = careful(dealt, &set.policy, &mut chance);
            match kind {
                Kind::Slips if i == slipped => slip(dealt, &mut values, &mut chance),
                Kind::Miscounts => miscount(&mut values, &mut chance),
                _ => {}
            }
            let asked = dealt.template.parts.iter().map(|p| &p.asked);
            let written = values.iter().zip(asked).map(|(value, asked)| match kind {
                Kind::Hurried if chance.one_in(3) => String::new(),
                _ => write(value, asked, &mut chance),
            });
            written.collect()
        })
        .collect()
}

/// What a careful reader gets for each part; the reference answer where their reading leads nowhere.
fn careful(dealt: &Dealt, policy: &Policy, chance: &mut Chance) -> Vec<Answer> {
    let mut read = || Reading {
        law: Law::Colebrook,
        factor: 1.0 + READING_SPREAD * (2.0 * chance.unit() - 1.0),
    };
    let readings: Vec<Reading> = dealt.case.flowing().iter().map(|_| read()).collect();
    let again = || {
        let case = dealt.case.read_otherwise(&readings, &policy.limits).ok()?;
        solution::answers(&dealt.template, &dealt.givens, &case).ok()
    };
    again().unwrap_or_else(|| dealt.answers.clone())
}

/// Puts one slip's answers in place of the careful ones.
fn slip(dealt: &Dealt, values: &mut [Answer], chance: &mut Chance) {
    if dealt.slips.is_empty() {
        return;
    }
    let made = &dealt.slips[chance.pick(dealt.slips.len())];
    for (value, wrong) in values.iter_mut().zip(&made.answers) {
        if let Some(wrong) = wrong {
            *value = wrong.clone();
        }
    }
}

/// Gets one number wrong.
fn miscount(values: &mut [Answer], chance: &mut Chance) {
    let at = chance.pick(values.len());
    let by = 0.1 + 0.3 * chance.unit();
    if let Answer::Number(quantity) = &mut values[at] {
        quantity.value *= if chance.one_in(2) { 1.0 + by } else { 1.0 - by };
    }
}

/// Writes an answer as a student might.
fn write(value: &Answer, asked: &Asked, chance: &mut Chance) -> String {
    if chance.one_in(200) {
        return "see my notes".into();
    }
    match (value, asked) {
        (Answer::Number(quantity), Asked::Number { unit, figures, .. }) => {
            let other = chance.one_in(6).then(|| other_unit(unit)).flatten();
            let unit = other.as_ref().unwrap_or(unit);
            let written = Written::from_si(quantity.value, unit, *figures);
            let bare = chance.one_in(50);
            if chance.one_in(10) {
                let text = written.plain(DecimalMark::Comma);
                return if bare {
                    written.shown.plain(DecimalMark::Comma)
                } else {
                    text
                };
            }
            if bare {
                written.shown.ascii()
            } else {
                written.ascii()
            }
        }
        (Answer::Number(quantity), _) => quantity.value.to_string(),
        (Answer::Regime(regime), _) => regime.name().into(),
        (Answer::Choice(word), _) => word.clone(),
    }
}

/// Another unit that a student may answer in.
fn other_unit(asked: &Unit) -> Option<Unit> {
    let symbols = match asked.dimension {
        Dimension::VELOCITY => ["m/s", "ft/s"],
        Dimension::FLOW => ["m^3/s", "L/s"],
        Dimension::PRESSURE => ["Pa", "bar"],
        Dimension::LENGTH => ["m", "mm"],
        Dimension::POWER => ["W", "kW"],
        _ => return None,
    };
    symbols
        .iter()
        .filter_map(|s| Unit::parse(s).ok())
        .find(|u| u.symbol != asked.symbol)
}

/// A student's answers as the returned answer sheet.
pub fn sheet(student: &DealtStudent, answers: &[Vec<String>]) -> String {
    let mut rows = String::from("student,problem,part,answer\n");
    for (problem, (dealt, answers)) in student.problems.iter().zip(answers).enumerate() {
        for (part, answer) in dealt.template.parts.iter().zip(answers) {
            let cells = [
                student.student.id.clone(),
                (problem + 1).to_string(),
                part.name.clone(),
                answer.clone(),
            ];
            let quoted: Vec<String> = cells.iter().map(|c| quote(c)).collect();
            rows.push_str(&quoted.join(","));
            rows.push('\n');
        }
    }
    rows
}

fn quote(cell: &str) -> String {
    if cell.contains([',', '"', '\n']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}
