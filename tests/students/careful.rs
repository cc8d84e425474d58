//! A careful student: what is drawn by lot of how one works, and what follows from it for each number.

use crate::dice::Dice;
use gradeline::hydraulics::friction::{Law, Reading, darcy};
use gradeline::hydraulics::regime::Limits;

/// How many figures are kept on the way.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Figures {
    Always(i32),
    /// Now three, now four, now all.
    Mixed,
    All,
}

/// By how much a careful reader may miss the factor where the curves are level.
pub const LEVEL: f64 = 0.05;
/// How much longer a decade of f is drawn than one of Re: a chart of 7 by 5 with 5.2 by 1.1 decades.
const PROPORTION: f64 = 3.4;
/// The part of it by which a discharge coefficient may be missed on its own chart.
const OF_COEFFICIENT: f64 = 0.2;
/// Where flow begins to be fully rough (Moody 1944), laminar flow ends and a wall is no longer smooth (Nikuradse 1933).
pub const FULLY_ROUGH: f64 = 200.0;
pub const LAMINAR: f64 = 2300.0;
pub const SMOOTH: f64 = 5.0;

/// Who works, and how.
pub struct Careful {
    dice: Dice,
    law: Law,
    /// Share of what a reader may miss, for each pipe; all zero for one who uses a formula.
    shares: [f64; 6],
    /// Whether work ends where the student's own check of fully rough flow holds.
    pub stops_when_rough: bool,
    /// Whether work ends there even where the check fails, and the student says so.
    pub stops_anyway: bool,
    /// Whether properties of a named fluid come from a common table in place of the paper.
    pub from_table: bool,
    /// Gravity in place of the stated one \[m/s²\].
    pub gravity: Option<f64>,
    figures: Figures,
    /// Which way a half goes: dice of their own, so that a half changes nothing else.
    halves: Dice,
    /// Whether all is worked to the last digit.
    pub exact: bool,
}

impl Careful {
    /// Nothing misread, all figures kept, every iteration to its end.
    pub fn exact() -> Self {
        Self {
            dice: Dice(0),
            law: Law::Colebrook,
            shares: [0.0; 6],
            stops_when_rough: false,
            stops_anyway: false,
            from_table: false,
            gravity: None,
            figures: Figures::All,
            halves: Dice(0),
            exact: true,
        }
    }

    pub fn by_lot(mut dice: Dice) -> Self {
        // Three in five read the chart.
        let law = match dice.below(15) {
            0 | 1 => Law::Haaland,
            2 => Law::SwameeJain,
            3 => Law::Churchill,
            4 => Law::Serghides,
            5 => Law::Colebrook,
            _ => Law::Fixed(0.0),
        };
        let mut shares = [0.0; 6];
        if matches!(law, Law::Fixed(_)) {
            let ends = dice.below(5) == 0;
            let share = |dice: &mut Dice| match ends {
                true => [-1.0, 1.0][dice.below(2)],
                false => dice.between(-1.0, 1.0),
            };
            shares = if dice.chance(0.5) {
                [share(&mut dice); 6]
            } else {
                std::array::from_fn(|_| share(&mut dice))
            };
        }
        let gravity = [9.8, 9.81, 9.806_65].get(dice.below(6)).copied();
        let figures = match dice.below(4) {
            0 | 1 => Figures::Always(3),
            2 => Figures::Always(4),
            _ => Figures::Mixed,
        };
        Self {
            law: if matches!(law, Law::Fixed(_)) {
                Law::Colebrook
            } else {
                law
            },
            shares,
            stops_when_rough: dice.chance(0.5),
            stops_anyway: false,
            from_table: dice.chance(0.4),
            gravity,
            figures,
            halves: Dice(!dice.0),
            exact: false,
            dice,
        }
    }

    /// One of two ways that are both right.
    pub fn either(&mut self) -> bool {
        !self.exact && self.dice.chance(0.5)
    }

    /// What is written down of a number.
    pub fn keep(&mut self, value: f64) -> f64 {
        let figures = match self.figures {
            Figures::Always(n) => n,
            Figures::Mixed => match self.dice.below(3) {
                0 => 3,
                1 => 4,
                _ => return value,
            },
            Figures::All => return value,
        };
        self.rounded(value, figures)
    }

    /// Rounded to so many figures. A half goes up or to the even figure, as one has learned it.
    fn rounded(&mut self, value: f64, figures: i32) -> f64 {
        let [one, other] = [1.0 - 1e-12, 1.0 + 1e-12].map(|near| rounded(value * near, figures));
        if (one - other).abs() > 1e-9 * value.abs() && self.halves.chance(0.5) {
            other
        } else {
            one
        }
    }

    /// As [`Careful::keep`], of a number that is written in a unit of this many SI units.
    pub fn keep_in(&mut self, value: f64, unit: f64) -> f64 {
        self.keep(value / unit) * unit
    }

    /// The number as it is handed in: to so many figures, in the unit asked or another.
    pub fn hand_in(&mut self, value: f64, unit: f64, figures: i32) -> f64 {
        if self.exact {
            return value;
        }
        let unit = match self.dice.chance(0.5) {
            true => unit,
            false => unit * self.dice.spread(1.0, 10.0),
        };
        self.rounded(value / unit, figures) * unit
    }

    /// The friction factor of pipe `i`, as it is had and written down.
    pub fn factor(&mut self, i: usize, reynolds: f64, relative_roughness: f64) -> f64 {
        let f = self.seen(i, reynolds, relative_roughness);
        self.keep(f)
    }

    /// As [`Careful::factor`], before it is written down.
    pub fn seen(&self, i: usize, reynolds: f64, relative_roughness: f64) -> f64 {
        if reynolds < LAMINAR {
            return 64.0 / reynolds;
        }
        let exact = Reading {
            law: self.law,
            factor: 1.0,
        };
        let f = darcy(exact, reynolds, relative_roughness, &Limits::default());
        match self.shares[i] {
            0.0 => f,
            share => f * (1.0 + share * allowance(f, reynolds, relative_roughness)),
        }
    }

    /// The factor of the chart's level part.
    pub fn rough(&mut self, i: usize, relative_roughness: f64) -> f64 {
        let exact = Reading {
            law: Law::FullyRough,
            factor: 1.0,
        };
        let f = darcy(exact, 1e9, relative_roughness, &Limits::default());
        self.keep(f * (1.0 + self.shares[i] * LEVEL))
    }

    /// A discharge coefficient read off its chart, or worked from its equation.
    pub fn coefficient(&mut self, right: f64) -> f64 {
        self.keep(right * (1.0 + self.shares[0] * LEVEL * OF_COEFFICIENT))
    }

    /// Whether a number no longer changes in its third figure, or at all for the exact.
    pub fn settled(&self, before: f64, now: f64) -> bool {
        if self.exact {
            (now - before).abs() <= 1e-13 * now.abs()
        } else {
            rounded(before, 3) == rounded(now, 3)
        }
    }
}

/// By how much a factor may be missed, from how steep the curve of Colebrook and White is there: x = 1/√f in
/// `x = -2 log(a + b x)`, b going as 1/Re.
fn allowance(f: f64, reynolds: f64, relative_roughness: f64) -> f64 {
    let x = 1.0 / f.sqrt();
    let b = 2.51 / reynolds;
    let per = 2.0 / std::f64::consts::LN_10 / (relative_roughness / 3.7 + b * x);
    let slope = -2.0 * per * b / (1.0 + per * b);
    LEVEL * (1.0 + PROPORTION * PROPORTION * slope * slope).sqrt()
}

/// Rounded to so many figures.
pub fn rounded(value: f64, figures: i32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let last = figures - 1 - libm::floor(libm::log10(value.abs())) as i32;
    let by = power_of_ten(last.unsigned_abs());
    if last >= 0 {
        (value * by).round() / by
    } else {
        (value / by).round() * by
    }
}

fn power_of_ten(n: u32) -> f64 {
    (0..n).fold(1.0, |power, _| power * 10.0)
}
