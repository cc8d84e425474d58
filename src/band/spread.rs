//! How the answers of many careful students are spread, and the band that holds all but a few of them.
//!
//! Nobody meets the worst of every cause, and the causes are not alike: a misreading may lie anywhere within its
//! allowance, a number that is had from givens alone is rounded by an amount that is known, one that hangs on a reading
//! by anything within half a unit. So the spread of the answer is worked out as it is: the distribution of each cause,
//! put together one after another. Who careful students are (how many read the chart, keep three figures, take another
//! gravity) is said in `constants`; nothing else is assumed.
//!
//! A distribution is kept as shares of students on a line of cells. A single move is put there so that the mean and the
//! variance of it stay what they are, which a third cell makes possible at the price of small negative shares beside it.

use super::figures::{NOISE, either_side, last_figure, to_figures, worst};
use crate::constants::policy::{ALWAYS_FOUR, ALWAYS_THREE, CARRIED_FIGURES, IN_THE_UNIT_ASKED, MIXED};

/// Moves of an answer, each with the share of students who make it.
pub(super) type Lot = Vec<(f64, f64)>;

/// The same moves, in order, each once.
pub(super) fn gathered(mut lot: Lot) -> Lot {
    lot.sort_by(|a, b| a.0.total_cmp(&b.0));
    let widest = lot.iter().fold(0.0_f64, |most, (by, _)| most.max(by.abs()));
    lot.dedup_by(|next, before| {
        let same = next.0 - before.0 <= 1e-9 * widest;
        if same {
            before.1 += next.1;
        }
        same
    });
    lot
}

/// A number that is had from givens alone: what its rounding does to the answer, by habit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Known {
    /// Of those who always keep three figures.
    pub(super) three: Lot,
    /// Of those who always keep four.
    pub(super) four: Lot,
    /// Of those who keep now three, now four, now all.
    pub(super) mixed: Lot,
}

impl Known {
    /// A number that moves the answer by the one where it is kept to three figures, by the other where it is to four.
    pub(super) fn simple(three: f64, four: f64) -> Self {
        const THIRD: f64 = 1.0 / 3.0;
        Self {
            three: vec![(three, 1.0)],
            four: vec![(four, 1.0)],
            mixed: vec![(three, THIRD), (four, THIRD), (0.0, THIRD)],
        }
    }

    /// Whether it moves nothing.
    pub(super) fn is_nothing(&self) -> bool {
        let lots = [&self.three, &self.four, &self.mixed];
        lots.iter().all(|lot| lot.iter().all(|(by, _)| *by == 0.0))
    }
}

/// A number that hangs on a reading: what its rounding by half a unit of the third figure does, down and up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Free {
    /// The moves.
    pub(super) ends: (f64, f64),
    /// The share of students for whom half a unit is as much; for the others, whose number has one figure less before
    /// its point, it is a tenth.
    pub(super) large: f64,
    /// The share of students who write it down.
    pub(super) written: f64,
    /// Whether it is off by as much for all, however many figures they keep: an earlier answer as it was handed in.
    pub(super) handed_in: bool,
}

impl Free {
    /// Written down by all.
    pub(super) fn new(one: f64, other: f64) -> Self {
        Self {
            ends: (one.min(other), one.max(other)),
            large: 1.0,
            written: 1.0,
            handed_in: false,
        }
    }
}

/// Students who have the factors alike.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Had {
    /// Their share of all.
    pub(super) share: f64,
    /// Moves that add up, each anywhere between two ends; where these are the same, at one point.
    pub(super) even: Vec<(f64, f64)>,
}

/// Students who take fluid and gravity alike.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Taken {
    /// Their share of all.
    pub(super) share: f64,
    /// What that does to the answer.
    pub(super) by: f64,
    /// The numbers that are had from givens alone, so taken.
    pub(super) known: Vec<Known>,
}

/// How an answer is written down and handed in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct HandedIn {
    /// The unit asked \[SI units\].
    pub(super) unit: f64,
    /// Significant figures asked.
    pub(super) figures: u32,
    /// Whether it is worked out, and so written down before it is handed in.
    pub(super) worked_out: bool,
}

/// What moves an answer.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Spread {
    /// The answer that nothing moves.
    pub(super) reference: f64,
    /// How the factors are had; shares add up to 1. Empty: nothing is read.
    pub(super) factors: Vec<Had>,
    /// Roundings that hang on readings.
    pub(super) free: Vec<Free>,
    /// How fluid and gravity are taken; shares add up to 1.
    pub(super) ways: Vec<Taken>,
    /// The earlier answer through which readings come to it, if they all do.
    pub(super) through: Option<Box<Through>>,
}

/// An earlier answer from which another is had: its own figures are written down first.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Through {
    /// The earlier answer.
    pub(super) spread: Spread,
    /// How it is written down.
    pub(super) how: HandedIn,
    /// By how much the other moves with it.
    pub(super) slope: f64,
}

/// Two numbers move alike where what one moves beyond the other is within this share of the most that it moves: their
/// relation bends a little over a few per cent.
const ALIKE: f64 = 0.03;

/// By how much a number moves with an earlier one, where all readings move it with that one alone: `earlier` and `own` are what
/// each of them does to the two.
pub(super) fn slope_alike(earlier: &[f64], own: &[f64]) -> Option<f64> {
    let (mut low, mut high) = (0, 0);
    for (i, by) in earlier.iter().enumerate() {
        if *by < earlier[low] {
            low = i;
        }
        if *by > earlier[high] {
            high = i;
        }
    }
    let most = own.iter().fold(0.0_f64, |most, by| most.max(by.abs()));
    let slope = (own[high] - own[low]) / (earlier[high] - earlier[low]);
    let alike = |(by, own): (&f64, &f64)| (own - slope * by).abs() <= ALIKE * most;
    (slope.is_finite() && slope != 0.0 && earlier.iter().zip(own).all(alike)).then_some(slope)
}

/// Cells on which half of the reach lies.
const CELLS: f64 = 96.0;
/// Up to this many moves by known roundings are followed one by one.
const FOLLOWED: usize = 1024;
/// Two roundings of half a per cent each make a number this share of it larger or smaller than straight lines say.
const TIE: f64 = 2.5e-5;

/// Shares on a line of cells.
#[derive(Debug, Clone, Default)]
struct Line {
    /// The place of the first cell, in cells from 0.
    first: i64,
    shares: Vec<f64>,
}

impl Line {
    fn at(place: f64) -> Self {
        let mut line = Self::default();
        line.put(place, 1.0);
        line
    }

    /// Makes room from one cell to another.
    fn reach(&mut self, low: i64, high: i64) {
        if self.shares.is_empty() {
            self.first = low;
            self.shares = vec![0.0; usize::try_from(high - low + 1).unwrap_or(0)];
            return;
        }
        if low < self.first {
            let more = usize::try_from(self.first - low).unwrap_or(0);
            self.shares.splice(0..0, std::iter::repeat_n(0.0, more));
            self.first = low;
        }
        let needed = usize::try_from(high - self.first + 1).unwrap_or(0);
        if needed > self.shares.len() {
            self.shares.resize(needed, 0.0);
        }
    }

    #[inline]
    fn add_to(&mut self, cell: i64, share: f64) {
        let i = usize::try_from(cell - self.first).unwrap_or(usize::MAX);
        if let Some(own) = self.shares.get_mut(i) {
            *own += share;
        }
    }

    /// All that a lot of moves comes to, in cells; room is made once.
    fn of(lot: &Lot, cell: f64) -> Self {
        let mut line = Self::default();
        let mut span = (f64::INFINITY, f64::NEG_INFINITY);
        for (by, _) in lot {
            span = (span.0.min(*by), span.1.max(*by));
        }
        if span.0 > span.1 {
            return line;
        }
        line.reach(
            (span.0 / cell).round() as i64 - 1,
            (span.1 / cell).round() as i64 + 1,
        );
        for (by, share) in lot {
            line.put(by / cell, *share);
        }
        line
    }

    /// Adds students at one place.
    fn put(&mut self, place: f64, share: f64) {
        self.put_wide(place, 0.0, share);
    }

    /// Adds students about a place with some variance, less than a cell's.
    fn put_wide(&mut self, place: f64, variance: f64, share: f64) {
        let cell = place.round();
        let off = place - cell;
        let square = off * off + variance;
        let cell = cell as i64;
        self.reach(cell - 1, cell + 1);
        self.add_to(cell - 1, 0.5 * share * (square - off));
        self.add_to(cell, share * (1.0 - square));
        self.add_to(cell + 1, 0.5 * share * (square + off));
    }

    /// Adds students evenly between two places.
    fn put_even(&mut self, (low, high): (f64, f64), share: f64) {
        let wide = high - low;
        if wide <= 2.0 {
            return self.put_wide(0.5 * (low + high), wide * wide / 12.0, share);
        }
        let (from, to) = (low.round() as i64, high.round() as i64);
        self.reach(from, to);
        for cell in from..=to {
            let middle = cell as f64;
            let covered = (high.min(middle + 0.5) - low.max(middle - 0.5)).max(0.0);
            self.add_to(cell, share * covered / wide);
        }
    }

    fn add(&mut self, other: &Self, share: f64) {
        if other.shares.is_empty() || share == 0.0 {
            return;
        }
        let last = other.first + other.shares.len() as i64 - 1;
        self.reach(other.first, last);
        let from = usize::try_from(other.first - self.first).unwrap_or(0);
        for (own, other) in self.shares[from..].iter_mut().zip(&other.shares) {
            *own += share * other;
        }
    }

    /// The sum of what came before, if anything did, and one more.
    fn after(before: Option<Self>, line: Self) -> Self {
        match before {
            Some(before) => before.with(&line),
            None => line,
        }
    }

    /// The sum of two numbers that are spread so.
    fn with(&self, other: &Self) -> Self {
        let (long, short) = if self.shares.len() < other.shares.len() {
            (other, self)
        } else {
            (self, other)
        };
        if short.shares.is_empty() {
            return Self::default();
        }
        let mut shares = vec![0.0; long.shares.len() + short.shares.len() - 1];
        for (i, share) in short.shares.iter().enumerate() {
            if *share != 0.0 {
                for (sum, other) in shares[i..].iter_mut().zip(&long.shares) {
                    *sum += share * other;
                }
            }
        }
        Self {
            first: self.first + other.first,
            shares,
        }
    }
}

/// Shares of students below each place.
struct Below {
    first: i64,
    /// Below the lower edge of each cell, and in the end below the last upper one.
    sums: Vec<f64>,
}

impl Below {
    fn of(line: &Line) -> Self {
        let mut sums = Vec::with_capacity(line.shares.len() + 1);
        let mut sum = 0.0;
        sums.push(0.0);
        for share in &line.shares {
            sum += share;
            sums.push(sum);
        }
        Self {
            first: line.first,
            sums,
        }
    }

    /// As it is passed from below: never less than before.
    fn rising(&self) -> Self {
        let mut most = 0.0_f64;
        let sums = self.sums.iter().map(|sum| {
            most = most.max(*sum);
            most
        });
        Self {
            first: self.first,
            sums: sums.collect(),
        }
    }

    /// As it is passed from above: never more than before.
    fn falling(&self) -> Self {
        let mut least = f64::INFINITY;
        let mut sums = self.sums.clone();
        for sum in sums.iter_mut().rev() {
            least = least.min(*sum);
            *sum = least;
        }
        Self {
            first: self.first,
            sums,
        }
    }

    fn at(&self, place: f64) -> f64 {
        let from = place - (self.first as f64 - 0.5);
        let last = self.sums.len() - 1;
        if from <= 0.0 {
            0.0
        } else if from >= last as f64 {
            self.sums[last]
        } else {
            let cell = from as usize;
            let part = from - cell as f64;
            self.sums[cell] + part * (self.sums[cell + 1] - self.sums[cell])
        }
    }
}

/// Students by how many figures they keep of their own answer: three, four, or all.
#[derive(Debug, Clone, Default)]
struct Kept<T> {
    three: T,
    four: T,
    all: T,
}

impl Spread {
    /// The interval that all but `beyond` of careful students reach at each end.
    pub(super) fn ends(&self, handed_in: Option<&HandedIn>, beyond: f64) -> (f64, f64) {
        let last = handed_in.map_or(0.0, |how| how.last(self.reference));
        let cell = self.reach(last) / CELLS;
        if cell == 0.0 || !cell.is_finite() {
            return (self.reference, self.reference);
        }
        let Some(how) = handed_in else {
            let kept = self.kept(cell);
            let mut all = kept.three;
            all.add(&kept.four, 1.0);
            all.add(&kept.all, 1.0);
            return self.cut(&Below::of(&all), &[], 1.0, cell, beyond);
        };
        let mut atoms: Lot = Vec::new();
        let mut other = Line::default();
        if let Some(points) = self.followed() {
            for (figures, points) in [
                (Some(CARRIED_FIGURES), &points.three),
                (Some(CARRIED_FIGURES + 1), &points.four),
                (None, &points.all),
            ] {
                for (by, share) in points {
                    if let Some(figures) = figures.filter(|_| how.worked_out) {
                        for (kept, share) in how.either_side((self.reference, *by), figures, *share) {
                            atoms.extend(how.either_side((kept, 0.0), how.figures, share));
                            other.put((kept - self.reference) / cell, share);
                        }
                    } else {
                        atoms.extend(how.either_side((self.reference, *by), how.figures, *share));
                        other.put(by / cell, *share);
                    }
                }
            }
        } else {
            let kept = self.kept(cell);
            other.add(&kept.four, 1.0);
            other.add(&kept.all, 1.0);
            atoms.extend(self.on_figures(&kept.all, how, how.figures, None, cell));
            let own = how.worked_out.then_some(CARRIED_FIGURES + 1);
            atoms.extend(self.on_figures(&kept.four, how, how.figures, own, cell));
            let own = if how.worked_out {
                CARRIED_FIGURES
            } else {
                how.figures
            };
            let three = self.on_figures(&kept.three, how, own, None, cell);
            if !how.worked_out {
                other.add(&kept.three, 1.0);
            }
            for (value, share) in &three {
                if how.worked_out {
                    other.put((value - self.reference) / cell, *share);
                }
                atoms.extend(how.either_side((*value, 0.0), how.figures, *share));
            }
        }
        atoms.sort_by(|a, b| a.0.total_cmp(&b.0));
        let other = other.with(&any_unit(last / cell));
        self.cut(&Below::of(&other), &atoms, 1.0 - IN_THE_UNIT_ASKED, cell, beyond)
    }

    /// About how far the answer can be from the reference, for the choice of cells.
    fn reach(&self, last: f64) -> f64 {
        let widest = |pieces: &[(f64, f64)]| -> f64 {
            pieces.iter().map(|(low, high)| low.abs().max(high.abs())).sum()
        };
        let factors = (self.factors.iter()).map(|had| widest(&had.even));
        let factors = factors.fold(0.0, f64::max);
        let free: f64 = self.free.iter().map(|free| free.ends.1 * free.ends.1).sum();
        let of = |known: &Known| -> f64 {
            let lots = [&known.three, &known.mixed];
            let moves = lots.iter().flat_map(|lot| lot.iter());
            moves.map(|(by, _)| by.abs()).fold(0.0, f64::max)
        };
        let ways = (self.ways.iter()).map(|way| way.by.abs() + way.known.iter().map(of).sum::<f64>());
        let through = self.through.as_ref().map_or(0.0, |through| {
            let last = through.how.half_unit(through.spread.reference, CARRIED_FIGURES);
            through.slope.abs() * through.spread.reach(last)
        });
        through + factors + 2.0 * free.sqrt() + ways.fold(0.0, f64::max) + last
    }

    /// Where nothing but what is known moves the answer: every move.
    fn followed(&self) -> Option<Kept<Lot>> {
        let read = self.factors.iter().flat_map(|had| &had.even);
        if self.through.is_some() || !self.free.is_empty() || read.into_iter().any(|ends| *ends != (0.0, 0.0))
        {
            return None;
        }
        let mut kept: Kept<Lot> = Kept::default();
        for way in &self.ways {
            let by = |habit: fn(&Known) -> &Lot| -> Option<Lot> {
                let mut all = vec![(way.by, way.share)];
                for known in &way.known {
                    let lot = habit(known);
                    if all.len() * lot.len() > FOLLOWED {
                        return None;
                    }
                    all = (all.iter())
                        .flat_map(|(sum, of)| lot.iter().map(move |(by, share)| (sum + by, of * share)))
                        .collect();
                }
                Some(all)
            };
            let mixed = by(|known| &known.mixed)?;
            let of = |lot: &Lot, share: f64| lot.iter().map(|(by, own)| (*by, own * share)).collect::<Lot>();
            kept.three.extend(of(&by(|known| &known.three)?, ALWAYS_THREE));
            kept.three.extend(of(&mixed, MIXED / 3.0));
            kept.four.extend(of(&by(|known| &known.four)?, ALWAYS_FOUR));
            kept.four.extend(of(&mixed, MIXED / 3.0));
            kept.all.extend(of(&mixed, MIXED / 3.0));
        }
        Some(kept)
    }

    /// The answer before it is written down itself, as moves.
    fn kept(&self, cell: f64) -> Kept<Line> {
        let [three, four, mixed] = self.by_habit(cell);
        let mut kept: Kept<Line> = Kept::default();
        kept.three.add(&three, ALWAYS_THREE);
        kept.three.add(&mixed, MIXED / 3.0);
        kept.four.add(&four, ALWAYS_FOUR);
        kept.four.add(&mixed, MIXED / 3.0);
        kept.all.add(&mixed, MIXED / 3.0);
        kept
    }

    /// The earlier answer as it is carried on with, in moves of this one.
    fn from_earlier(through: &Through, cell: f64) -> [Line; 3] {
        let (spread, how) = (&through.spread, &through.how);
        let inner = (cell / through.slope).abs();
        let side = through.slope.signum();
        let [three, four, mixed] = spread.by_habit(inner);
        let turned = |line: &Line| {
            let mut turned = line.clone();
            if side < 0.0 {
                turned.shares.reverse();
                turned.first = 1 - turned.first - turned.shares.len() as i64;
            }
            turned
        };
        let kept = |line: &Line| {
            let mut kept = Line::default();
            for (value, share) in spread.on_figures(line, how, CARRIED_FIGURES, None, inner) {
                kept.put(side * (value - spread.reference) / inner, share);
            }
            kept
        };
        let mut now = kept(&mixed);
        now.shares.iter_mut().for_each(|share| *share /= 3.0);
        now.add(&turned(&mixed), 2.0 / 3.0);
        [kept(&three), turned(&four), now]
    }

    /// The answer before it is written down itself, as moves, of who always keeps three figures, always four, or mixes.
    fn by_habit(&self, cell: f64) -> [Line; 3] {
        let mut factors = Line::default();
        for had in &self.factors {
            let mut own: Option<Line> = None;
            for ends in &had.even {
                let mut line = Line::default();
                line.put_even((ends.0 / cell, ends.1 / cell), 1.0);
                own = Some(Line::after(own, line));
            }
            factors.add(&own.unwrap_or_else(|| Line::at(0.0)), had.share);
        }
        if self.factors.is_empty() {
            factors = Line::at(0.0);
        }
        let mut three = Line::at(0.0);
        let mut mixed = Line::at(0.0);
        let mut fine = 0.0;
        for free in &self.free {
            let (low, high) = (free.ends.0 / cell, free.ends.1 / cell);
            let wide = high - low;
            if free.handed_in {
                let mut all = Line::default();
                all.put_even((low, high), 1.0);
                factors = factors.with(&all);
                continue;
            }
            // Who keeps one figure more is off by a tenth: too little to be told from its variance.
            let tenth = 0.01 * wide * wide / 12.0;
            fine += free.written * (free.large + 0.01 * (1.0 - free.large)) * tenth;
            let mut full = Line::default();
            full.put_even((low, high), free.large);
            if free.large < 1.0 {
                full.put_even((0.1 * low, 0.1 * high), 1.0 - free.large);
            }
            let mut always = Line::default();
            always.add(&full, free.written);
            if free.written < 1.0 {
                always.put(0.0, 1.0 - free.written);
            }
            three = three.with(&always);
            let mut now = Line::default();
            now.add(&full, free.written / 3.0);
            now.put_even((0.1 * low, 0.1 * high), free.written / 3.0);
            now.put(0.0, 1.0 - free.written * 2.0 / 3.0);
            mixed = mixed.with(&now);
        }
        let mut four = Line::default();
        let half = (3.0 * fine).sqrt();
        four.put_even((-half, half), 1.0);
        let mut read = [three, four, mixed].map(|line| line.with(&factors));
        if let Some(through) = &self.through {
            for (line, earlier) in read.iter_mut().zip(Self::from_earlier(through, cell)) {
                *line = line.with(&earlier);
            }
        }
        let habits: [fn(&Known) -> &Lot; 3] =
            [|known| &known.three, |known| &known.four, |known| &known.mixed];
        let mut all: [Line; 3] = Default::default();
        for ((all, read), habit) in all.iter_mut().zip(&read).zip(habits) {
            let mut known = Line::default();
            for way in &self.ways {
                // Numbers that come to one thing for all move everybody alike.
                let mut by = way.by;
                let mut own: Option<Line> = None;
                for known in &way.known {
                    match habit(known).as_slice() {
                        [(one, _)] => by += one,
                        _ => {
                            let line = Line::of(habit(known), cell);
                            own = Some(Line::after(own, line));
                        }
                    }
                }
                known.add(&Line::after(own, Line::at(by / cell)), way.share);
            }
            *all = read.with(&known);
        }
        all
    }

    /// The numbers with so many figures that students come to, in order; who has kept so many figures `before` turns at a
    /// middle already where that rounding leads to it.
    fn on_figures(&self, line: &Line, how: &HandedIn, figures: u32, before: Option<u32>, cell: f64) -> Lot {
        let kept_before = before.filter(|before| *before > figures);
        let below = Below::of(line);
        let ends = [
            line.first as f64 - 0.5,
            line.first as f64 + line.shares.len() as f64 - 0.5,
        ];
        let [low, high] = ends.map(|place| self.reference + place * cell);
        let mut found = Vec::new();
        let step = |value: f64| 2.0 * how.half_unit(value, figures);
        // A number that may be next to nothing has no third figure to speak of.
        let size = low.abs().min(high.abs());
        let many = (high - low) / step(size);
        if low * high <= 0.0 || !many.is_finite() || many > 2000.0 {
            let cells = line.shares.iter().enumerate();
            return cells
                .map(|(i, share)| (self.reference + (line.first + i as i64) as f64 * cell, *share))
                .collect();
        }
        let mut value = how.to(low, figures);
        let mut before = 0.0;
        while value - step(value) < high {
            // A negative number goes through its decades the other way.
            let next = if value < 0.0 {
                how.to(value + step(value * (1.0 - 1e-9)), figures)
            } else {
                value + step(value * (1.0 + 1e-9))
            };
            let mut edge = 0.5 * (value + next);
            if let Some(before) = kept_before {
                edge -= how.half_unit(edge, before).copysign(edge);
            }
            let now = below.at((edge - self.reference) / cell);
            if now != before {
                found.push((value, now - before));
            }
            before = now;
            value = how.to(next, figures);
        }
        found
    }

    /// The interval beyond whose ends no more than `beyond` of all lie each; `of_line` is the share of those on the line.
    fn cut(&self, line: &Below, atoms: &Moves, of_line: f64, cell: f64, beyond: f64) -> (f64, f64) {
        let mut sums = Vec::with_capacity(atoms.len() + 1);
        let mut sum = 0.0;
        sums.push(0.0);
        for (_, share) in atoms {
            sum += share;
            sums.push(sum);
        }
        let all_line = line.sums.last().copied().unwrap_or(0.0);
        // Small negative shares beside a point must not bring back what was passed before it.
        let (from_below, from_above) = (line.rising(), line.falling());
        let below = |value: f64| {
            let atoms_below = atoms.partition_point(|(at, _)| *at < value);
            of_line * from_below.at((value - self.reference) / cell) + (1.0 - of_line) * sums[atoms_below]
        };
        let above = |value: f64| {
            let up_to = atoms.partition_point(|(at, _)| *at <= value);
            of_line * (all_line - from_above.at((value - self.reference) / cell))
                + (1.0 - of_line) * (sum - sums[up_to])
        };
        let ends = [
            line.first as f64 - 1.0,
            line.first as f64 + line.sums.len() as f64,
        ];
        let [mut low, mut high] = ends.map(|place| self.reference + place * cell);
        if let (Some(first), Some(last)) = (atoms.first(), atoms.last()) {
            (low, high) = (low.min(first.0 - cell), high.max(last.0 + cell));
        }
        (
            crossing(low, high, |value| below(value) <= beyond),
            crossing(high, low, |value| above(value) <= beyond),
        )
    }
}

/// Moves in a slice.
type Moves = [(f64, f64)];

/// Between a place where something holds and one where it does not: the last where it holds.
fn crossing(mut holds: f64, mut fails: f64, test: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..40 {
        let middle = 0.5 * (holds + fails);
        if test(middle) {
            holds = middle;
        } else {
            fails = middle;
        }
    }
    holds
}

impl HandedIn {
    /// The worst that the last rounding does to a number. A hair more than half a unit, so that a number on the edge is in.
    pub(super) fn last(&self, value: f64) -> f64 {
        value.abs() * worst(self.figures) * (1.0 + 1e-9)
    }

    fn to(&self, value: f64, figures: u32) -> f64 {
        to_figures(value / self.unit, figures) * self.unit
    }

    /// What a number that was moved is kept as: one or the other where it lies so near the middle between two that straight
    /// lines can't tell. One that nothing moved lies in the middle or does not.
    fn either_side(
        &self,
        (reference, by): (f64, f64),
        figures: u32,
        share: f64,
    ) -> impl Iterator<Item = (f64, f64)> {
        let near = if by == 0.0 { NOISE } else { TIE };
        let (kept, other) = either_side((reference + by) / self.unit, figures, near);
        let share = if other.is_some() { 0.5 * share } else { share };
        std::iter::once(kept)
            .chain(other)
            .map(move |kept| (kept * self.unit, share))
    }

    pub(super) fn half_unit(&self, value: f64, figures: u32) -> f64 {
        0.5 * last_figure(value / self.unit, figures) * self.unit.abs()
    }
}

/// The last rounding in a unit of any size: half a unit of the last figure is `worst` over m, m being anywhere from 1 to 10
/// on a logarithmic scale, and the error anywhere within it. `worst` in cells.
fn any_unit(worst: f64) -> Line {
    let ln_ten = std::f64::consts::LN_10;
    // The share between 0 and an error of e times the worst: its density is (min(10, 1/e) - 1)/(2 ln 10).
    let below = |e: f64| {
        let e = e.clamp(-1.0, 1.0);
        let size = e.abs();
        let share = if size <= 0.1 {
            9.0 * size
        } else {
            0.9 + libm::log(10.0 * size) - (size - 0.1)
        };
        (share / (2.0 * ln_ten)).copysign(e)
    };
    let mut line = Line::default();
    if worst <= 0.0 || !worst.is_finite() {
        return Line::at(0.0);
    }
    let last = worst.round() as i64;
    line.reach(-last, last);
    for cell in -last..=last {
        let middle = cell as f64;
        let share = below((middle + 0.5) / worst) - below((middle - 0.5) / worst);
        line.add_to(cell, share);
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOW: HandedIn = HandedIn {
        unit: 1.0,
        figures: 3,
        worked_out: true,
    };

    fn alone() -> Vec<Taken> {
        vec![Taken {
            share: 1.0,
            by: 0.0,
            known: Vec::new(),
        }]
    }

    /// Even numbers from 0 to 1 (Steele, Lea and Flood 2014, SplitMix64).
    struct Dice(u64);

    impl Dice {
        fn even(&mut self, low: f64, high: f64) -> f64 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            let unit = ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64;
            low + (high - low) * unit
        }
    }

    #[test]
    fn an_answer_that_nothing_moves_reaches_as_far_as_its_own_rounding() {
        let spread = Spread {
            reference: 1.003,
            ways: alone(),
            ..Spread::default()
        };
        let (low, high) = spread.ends(Some(&HOW), 1e-9);
        // In the unit asked it is 1.00, in another unit within half a per cent of what is kept.
        assert!((low - 1.00 * 0.995).abs() < 2e-4, "{low}");
        assert!((high - 1.003 * 1.005).abs() < 2e-4, "{high}");
        assert_eq!(spread.ends(None, 1e-9), (1.003, 1.003));
    }

    /// Against as many students as are sampled here, who work by the same rules one by one.
    #[test]
    fn as_many_are_beyond_as_are_meant_to_be() {
        let spread = Spread {
            reference: 2.345,
            factors: vec![
                Had {
                    share: 0.5,
                    even: vec![(-0.06, 0.08)],
                },
                Had {
                    share: 0.5,
                    even: vec![(0.01, 0.01)],
                },
            ],
            free: vec![Free::new(-0.01, 0.01), Free::new(-0.02, 0.02)],
            ways: vec![
                Taken {
                    share: 0.8,
                    by: 0.0,
                    known: vec![Known::simple(0.012, -0.001)],
                },
                Taken {
                    share: 0.2,
                    by: -0.02,
                    known: vec![Known::simple(0.0, 0.002)],
                },
            ],
            through: None,
        };
        let beyond = 0.002;
        let (low, high) = spread.ends(Some(&HOW), beyond);
        let mut dice = Dice(7);
        let (mut below, mut above) = (0, 0);
        let all = 400_000;
        for _ in 0..all {
            let habit = dice.even(0.0, 1.0);
            let mut figures = || match habit {
                h if h < ALWAYS_THREE => 3,
                h if h < ALWAYS_THREE + ALWAYS_FOUR => 4,
                _ => [3, 4, 15][dice.even(0.0, 3.0) as usize],
            };
            let of = [figures(), figures(), figures(), figures()];
            let fine = |figures: u32| [1.0, 0.1, 0.0][(figures as usize - 3).min(2)];
            let mut value = 2.345;
            value += if dice.even(0.0, 1.0) < 0.5 {
                dice.even(-0.06, 0.08)
            } else {
                0.01
            };
            value += fine(of[0]) * dice.even(-0.01, 0.01) + fine(of[1]) * dice.even(-0.02, 0.02);
            value += if dice.even(0.0, 1.0) < 0.8 {
                [0.012, -0.001, 0.0][(of[2] as usize - 3).min(2)]
            } else {
                -0.02 + [0.0, 0.002, 0.0][(of[2] as usize - 3).min(2)]
            };
            if of[3] == 3 {
                value = to_figures(value, 3);
            }
            let unit = match dice.even(0.0, 1.0) < IN_THE_UNIT_ASKED {
                true => 1.0,
                false => libm::pow(10.0, dice.even(0.0, 1.0)),
            };
            value = to_figures(value / unit, 3) * unit;
            below += usize::from(value < low);
            above += usize::from(value > high);
        }
        // Atoms of three figures make it fewer on either side, and never more than chance allows.
        let most = beyond * f64::from(all) * 1.15;
        assert!(
            (below as f64) < most && (above as f64) < most,
            "{below} and {above} of {all}"
        );
        assert!(below + above > 0, "nobody is beyond");
        // What takes a cause away takes something of the width away.
        let wide = high - low;
        let without = |spread: Spread| {
            let (low, high) = spread.ends(Some(&HOW), beyond);
            wide - (high - low)
        };
        let mut less = spread.clone();
        less.factors[0].even = vec![(0.0, 0.0)];
        assert!(without(less) > 0.08);
        let mut less = spread.clone();
        less.free.clear();
        assert!(without(less) > 0.0);
        let mut less = spread.clone();
        less.ways[0].known.clear();
        assert!(without(less) >= 0.0);
        let mut less = spread;
        less.ways.truncate(1);
        less.ways[0].share = 1.0;
        assert!(without(less) > 0.0);
    }

    /// 109.48 is kept as 109.5 by who keeps four figures, and that is handed in as 110.
    #[test]
    fn an_answer_kept_to_four_figures_is_handed_in_from_them() {
        let known = Spread {
            reference: 109.48,
            ways: alone(),
            ..Spread::default()
        };
        let read = Spread {
            free: vec![Free::new(-0.001, 0.001)],
            ..known.clone()
        };
        for spread in [known, read] {
            let (_, high) = spread.ends(Some(&HOW), 0.02);
            assert!(high > 109.99, "{high}");
            let given = HandedIn {
                worked_out: false,
                ..HOW
            };
            let (_, high) = spread.ends(Some(&given), 0.02);
            assert!(high < 109.95, "{high}");
        }
    }

    /// A later answer that is a number of times the earlier one is had from its three figures.
    #[test]
    fn an_earlier_answer_is_carried_on_with_as_it_is_written_down() {
        let earlier = Spread {
            reference: 10.24,
            factors: vec![Had {
                share: 1.0,
                even: vec![(-0.03, 0.02)],
            }],
            ways: alone(),
            ..Spread::default()
        };
        let later = |slope: f64| Spread {
            reference: 10.24 * slope,
            ways: alone(),
            through: Some(Box::new(Through {
                spread: earlier.clone(),
                how: HOW,
                slope,
            })),
            ..Spread::default()
        };
        // Kept it is 10.2 or 10.3, from 10.21 to 10.26, and nothing beyond.
        let (low, high) = later(3.0).ends(None, 1e-6);
        assert!(
            (low - 30.6).abs() < 0.01 && (high - 30.9).abs() < 0.01,
            "{low} to {high}"
        );
        let (low, high) = later(-3.0).ends(None, 1e-6);
        assert!(
            (high + 30.6).abs() < 0.01 && (low + 30.9).abs() < 0.01,
            "{low} to {high}"
        );
    }
}
