//! The chart's frame: its place on the sheet, its two scales, and which lines and numbers there is room for.

use super::place::Point;

/// A sheet that the chart fills.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// ISO A3 on its side.
    A3,
    /// ISO A4 on its side.
    A4,
    /// ISO A5 on its side.
    A5,
    /// US letter on its side.
    Letter,
    /// A figure within a text, 160 mm wide, without heading and key.
    Embedded,
}

impl Sheet {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::A3, Self::A4, Self::A5, Self::Letter, Self::Embedded];

    /// Width and height \[mm\].
    pub fn size(self) -> (f64, f64) {
        match self {
            Self::A3 => (420.0, 297.0),
            Self::A4 => (297.0, 210.0),
            Self::A5 => (210.0, 148.0),
            Self::Letter => (279.4, 215.9),
            Self::Embedded => (160.0, 92.0),
        }
    }

    /// Type size of the scales' numbers \[mm\].
    fn text(self) -> f64 {
        match self {
            Self::A3 => 3.6,
            Self::A4 | Self::Letter => 2.8,
            Self::A5 => 2.2,
            Self::Embedded => 2.4,
        }
    }

    /// What printers leave white at the edge \[mm\].
    fn edge(self) -> f64 {
        match self {
            Self::A3 | Self::A4 | Self::Letter => 7.0,
            Self::A5 => 5.5,
            Self::Embedded => 0.5,
        }
    }
}

/// Reynolds numbers from one side of the chart to the other.
pub(super) const REYNOLDS: (f64, f64) = (6.0e2, 1.0e8);
/// Darcy friction factors from the bottom of the chart to its top: a smooth wall's at the last Reynolds number is 0.00594.
pub(super) const FACTOR: (f64, f64) = (0.0055, 0.1);

/// No two lines of the grid are nearer to one another than this \[mm\].
const CLOSEST: f64 = 0.55;

/// How heavy a line of the grid is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Weight {
    /// Between numbered lines.
    Fine,
    /// In the middle between them, or at a whole digit.
    Middle,
    /// Numbered.
    Main,
    /// A power of ten.
    Decade,
}

/// Place and scales of a chart \[mm\].
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub(super) sheet: Sheet,
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    /// Type size of the scales' numbers.
    pub(super) text: f64,
    /// White edge of the sheet.
    pub(super) edge: f64,
}

impl Frame {
    /// The frame on a sheet; marks take a line of numbers more below it.
    pub(super) fn new(sheet: Sheet, marked: bool) -> Self {
        let (width, height) = sheet.size();
        let (text, edge) = (sheet.text(), sheet.edge());
        let head = if sheet == Sheet::Embedded { 0.6 } else { 2.6 };
        let foot = if marked { 5.5 } else { 4.0 };
        Self {
            sheet,
            left: edge + 5.6 * text,
            right: width - edge - 7.4 * text,
            top: edge + head * text,
            bottom: height - edge - foot * text,
            text,
            edge,
        }
    }

    /// Where a Reynolds number stands.
    pub(super) fn x(&self, reynolds: f64) -> f64 {
        let (low, high) = REYNOLDS;
        self.left + (self.right - self.left) * libm::log10(reynolds / low) / libm::log10(high / low)
    }

    /// Where a friction factor stands.
    pub(super) fn y(&self, factor: f64) -> f64 {
        let (low, high) = FACTOR;
        self.bottom - (self.bottom - self.top) * libm::log10(factor / low) / libm::log10(high / low)
    }

    pub(super) fn at(&self, reynolds: f64, factor: f64) -> Point {
        (self.x(reynolds), self.y(factor))
    }

    /// Friction factors that are numbered, in ten-thousandths; those first in `taken` leave no room for others near them.
    pub(super) fn factor_numbers(&self, taken: &[f64]) -> Vec<u32> {
        // The roundest first.
        const BY_NEED: [u32; 26] = [
            100, 200, 1000, 500, 300, 400, 150, 80, 600, 60, 700, 800, 120, 140, 160, 180, 70, 90, 350, 450,
            900, 110, 130, 170, 190, 250,
        ];
        const EVEN: [u32; 4] = [240, 260, 220, 280];
        // Between 0.02 and 0.03 every other thousandth is numbered where there is room, else 0.025.
        let gap = 1.05 * self.text;
        let even = self.spacing(0.028, 0.03) >= gap;
        let between = EVEN.iter().filter(|_| even);
        let mut places = taken.to_vec();
        let mut chosen = Vec::new();
        for factor in BY_NEED[..25].iter().chain(between).chain(&BY_NEED[25..]) {
            let y = self.y(1e-4 * f64::from(*factor));
            if places.iter().all(|other| (other - y).abs() >= gap) {
                places.push(y);
                chosen.push(*factor);
            }
        }
        chosen.sort_unstable();
        chosen
    }

    /// How far two friction factors are apart.
    fn spacing(&self, a: f64, b: f64) -> f64 {
        (self.y(a) - self.y(b)).abs()
    }

    /// Lines across, at friction factors in ten-thousandths.
    pub(super) fn factor_lines(&self, numbered: &[u32]) -> Vec<(u32, Weight)> {
        /// Up to which factor; steps of middle and, in order of preference, of fine lines.
        const BANDS: [(u32, u32, u32, &[u32]); 5] = [
            (56, 100, 5, &[1, 5]),
            (100, 200, 10, &[2, 5, 10]),
            (200, 300, 10, &[5, 10]),
            (300, 500, 10, &[5, 10]),
            (500, 1000, 50, &[10, 25, 50]),
        ];
        let mut lines = Vec::new();
        for (from, to, middle, fine) in BANDS {
            let top = 1e-4 * f64::from(to);
            let step = (fine.iter().copied())
                .find(|step| self.spacing(top, top - 1e-4 * f64::from(*step)) >= CLOSEST)
                .unwrap_or(middle);
            for factor in from..to {
                let weight = match factor {
                    100 => Weight::Decade,
                    f if numbered.contains(&f) => Weight::Main,
                    f if f % middle == 0 => Weight::Middle,
                    f if f % step == 0 => Weight::Fine,
                    _ => continue,
                };
                lines.push((factor, weight));
            }
        }
        lines
    }

    /// Lines upright, at so many tenths of a power of ten.
    pub(super) fn reynolds_lines(&self) -> Vec<(f64, Weight)> {
        /// Up to how many tenths, and steps in order of preference.
        const BANDS: [(u32, u32, &[u32]); 3] =
            [(10, 20, &[1, 2, 5]), (20, 50, &[2, 5, 10]), (50, 100, &[5, 10])];
        let mut lines = Vec::new();
        for decade in 2..8 {
            let power = libm::pow(10.0, f64::from(decade));
            for (from, to, fine) in BANDS {
                let top = f64::from(to);
                let step = (fine.iter().copied())
                    .find(|step| self.x(1e3 * top) - self.x(1e3 * (top - f64::from(*step))) >= CLOSEST)
                    .unwrap_or(10);
                for tenths in from..to {
                    let reynolds = power * f64::from(tenths) / 10.0;
                    let weight = match tenths {
                        10 => Weight::Decade,
                        20 | 30 | 50 => Weight::Main,
                        t if t % 10 == 0 => Weight::Middle,
                        t if t % step == 0 => Weight::Fine,
                        _ => continue,
                    };
                    if reynolds > REYNOLDS.0 && reynolds < REYNOLDS.1 {
                        lines.push((reynolds, weight));
                    }
                }
            }
        }
        lines
    }
}
