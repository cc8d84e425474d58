//! How well slips are told from the numbers that students hand in, on simulated students whose slips are known.

use crate::band::slip::{Pairs, SlipAnswers, slip_misread};
use crate::band::{Accepted, Band, follow_through};
use crate::bank::course::{Conventions, Policy};
use crate::bank::template::{Asked, Template};
use crate::constants::policy::PAIR_NUMBERS;
use crate::deal::{Dealt, deal_one};
use crate::draw::CourseKey;
use crate::fault::Checked;
use crate::jobs;
use crate::mark::{Judged, Verdict, inseparable, judge, slip_spans, with_slack};
use crate::quantity::{Quantity, Unit, Written};
use crate::solution::Answer;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Arc;

/// The key of the draws, which are nobody's homework.
const KEY: CourseKey = CourseKey::from_bytes(*b"diagnosis measured, nobody's key");

/// Pairs of slips that are tried in each draw.
const PAIRS_A_DRAW: usize = 10;

/// Random numbers that are tried for each part of a draw.
const RANDOM_NUMBERS: usize = 4;

/// A random number lies within this factor of the right one, either way.
const RANDOM_FACTOR: f64 = 3.0;

/// How the students of one template who made one slip were told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfSlip {
    /// The slip.
    pub slip: String,
    /// Students who made it and had some number out of its band.
    pub made: usize,
    /// Those to whom it was named, alone or with slips that no number of their problem tells from it.
    pub rightly: usize,
    /// Those to whom other slips were named, and which.
    pub others: BTreeMap<String, usize>,
    /// Those to whom none was named.
    pub unclear: usize,
}

/// Students who made no slip, and the numbers for which they were blamed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Blame {
    /// Numbers that could have been blamed on a slip.
    pub numbers: usize,
    /// Those that were.
    pub blamed: usize,
}

/// How students who made two slips at once were told: of such pairs as some number tells from each of the two alone.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct OfPairs {
    /// Students who made two, and whose wrong numbers, those aside that follow from others, are enough to name two.
    pub made: usize,
    /// Those to whom both were named, or two that no number of their problem tells from them.
    pub both: usize,
    /// Those to whom one of the two was named alone.
    pub one: usize,
    /// Those to whom none was named.
    pub unclear: usize,
}

/// What was measured on one template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfTemplate {
    /// Its name.
    pub template: String,
    /// Draws.
    pub draws: usize,
    /// Slips that moved some number out of its band, in the order of the library.
    pub slips: Vec<OfSlip>,
    /// Numbers anywhere within the bands.
    pub careful: Blame,
    /// Every number anywhere within a factor of three of the right one.
    pub random: Blame,
    /// One number like that, all others right.
    pub one_random: Blame,
    /// One number like that, and all that builds on it worked rightly from it: by chance it may lie where a slip leads,
    /// and then nothing can tell the two apart.
    pub carried_on: Blame,
    /// Students who made two slips at once.
    pub pairs: OfPairs,
    /// Slips that the template lists.
    pub listed: Vec<String>,
    /// Pairs of slips that no number tells apart, and in how many draws.
    pub together: BTreeMap<(String, String), usize>,
}

/// A stream of choices.
struct Chance(ChaCha20Rng);

impl Chance {
    /// From 0 to 1.
    fn share(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn pick(&mut self, n: usize) -> usize {
        ((self.share() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// From `low` to `high`.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// Within a factor of the right number, each as likely by its logarithm.
    fn random(&mut self, right: f64) -> f64 {
        right * libm::pow(RANDOM_FACTOR, self.between(-1.0, 1.0))
    }
}

/// Measures templates, each over so many draws; `progress` is called after each template.
///
/// # Errors
/// A template that can't be dealt.
pub fn measure(
    templates: &[Arc<Template>],
    draws: usize,
    policy: &Policy,
    conventions: &Conventions,
    progress: &(dyn Fn() + Sync),
) -> Checked<Vec<OfTemplate>> {
    // Templates differ much in what they cost, so that each is shared out by draws.
    let mut all = Vec::with_capacity(templates.len());
    for template in templates {
        let of_draws = jobs::in_order(draws, jobs::cores(), |draw| {
            one_draw(template, draw, policy, conventions)
        });
        let mut sum = OfTemplate::new(template);
        for of_draw in of_draws {
            sum.add(of_draw?);
        }
        progress();
        all.push(sum);
    }
    Ok(all)
}

impl OfTemplate {
    /// Students who made a slip, those to whom it was named, and those to whom none was.
    pub fn slip_students(&self) -> (usize, usize, usize) {
        self.slips.iter().fold((0, 0, 0), |sum, slip| {
            (sum.0 + slip.made, sum.1 + slip.rightly, sum.2 + slip.unclear)
        })
    }

    fn new(template: &Template) -> Self {
        Self {
            template: template.name.clone(),
            draws: 0,
            slips: Vec::new(),
            careful: Blame::default(),
            random: Blame::default(),
            one_random: Blame::default(),
            carried_on: Blame::default(),
            pairs: OfPairs::default(),
            listed: template.slips.iter().map(|slip| slip.name.to_string()).collect(),
            together: BTreeMap::new(),
        }
    }

    fn add(&mut self, other: Self) {
        self.draws += other.draws;
        for of_slip in other.slips {
            match self.slips.iter_mut().find(|s| s.slip == of_slip.slip) {
                Some(sum) => sum.add(of_slip),
                None => self.slips.push(of_slip),
            }
        }
        self.careful.add(other.careful);
        self.random.add(other.random);
        self.one_random.add(other.one_random);
        self.carried_on.add(other.carried_on);
        self.pairs.add(other.pairs);
        for (pair, times) in other.together {
            *self.together.entry(pair).or_default() += times;
        }
    }
}

impl OfSlip {
    fn add(&mut self, other: Self) {
        self.made += other.made;
        self.rightly += other.rightly;
        self.unclear += other.unclear;
        for (name, times) in other.others {
            *self.others.entry(name).or_default() += times;
        }
    }
}

impl OfPairs {
    fn add(&mut self, other: Self) {
        self.made += other.made;
        self.both += other.both;
        self.one += other.one;
        self.unclear += other.unclear;
    }

    /// Those to whom others were named.
    pub fn others(self) -> usize {
        self.made - self.both - self.one - self.unclear
    }
}

impl Blame {
    fn add(&mut self, other: Self) {
        self.numbers += other.numbers;
        self.blamed += other.blamed;
    }

    /// The share that was blamed \[–\]; 0 where there was none.
    pub fn share(self) -> f64 {
        share(self.blamed, self.numbers)
    }
}

fn share(part: usize, of: usize) -> f64 {
    if of == 0 { 0.0 } else { part as f64 / of as f64 }
}

fn one_draw(
    template: &Arc<Template>,
    draw: usize,
    policy: &Policy,
    conventions: &Conventions,
) -> Checked<OfTemplate> {
    let seed = KEY.seed("diagnosis", template, &draw.to_string(), 1);
    let (dealt, _) = deal_one(template, &seed, policy, conventions)?;
    let mut chance = Chance(ChaCha20Rng::from_seed(seed.to_bytes()));
    let mut found = OfTemplate {
        draws: 1,
        ..OfTemplate::new(template)
    };
    let mark = |answers: &[Option<Answer>], chance: &mut Chance| {
        let texts: Vec<String> = (answers.iter().zip(&template.parts))
            .map(|(answer, part)| write(answer.as_ref(), &part.asked, chance))
            .collect();
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        judge(&dealt, &texts, policy, conventions)
    };
    let spans = slip_spans(&dealt);
    let visible: Vec<bool> = (spans.iter())
        .map(|spans| (spans.iter().zip(&dealt.accepted)).any(|(span, accepted)| moved(*span, accepted)))
        .collect();
    for (i, slip) in dealt.slips.iter().enumerate() {
        for (j, other) in dealt.slips.iter().enumerate().skip(i + 1) {
            if visible[i] && visible[j] && inseparable(&spans[i], &spans[j]) {
                *found
                    .together
                    .entry((slip.slip.name.to_string(), other.slip.name.to_string()))
                    .or_default() += 1;
            }
        }
        let judged = mark(
            &with_slip(&dealt, slip, policy, conventions, &mut chance),
            &mut chance,
        );
        if !judged.iter().zip(&dealt.accepted).any(|(j, accepted)| {
            matches!(accepted, Accepted::Number(_)) && !matches!(j.verdict, Verdict::InBand | Verdict::Blank)
        }) {
            continue;
        }
        let named = named(&judged);
        let mut of_slip = OfSlip {
            slip: slip.slip.name.to_string(),
            made: 1,
            rightly: 0,
            others: BTreeMap::new(),
            unclear: 0,
        };
        let same = |name: &String| {
            (dealt.slips.iter().zip(&spans))
                .any(|(other, other_spans)| other.slip.name == *name && inseparable(other_spans, &spans[i]))
        };
        if named.is_empty() {
            of_slip.unclear = 1;
        } else if !two_named(&judged) && named.iter().any(same) {
            of_slip.rightly = 1;
        } else {
            of_slip.others.insert(named.join(" or "), 1);
        }
        found.slips.push(of_slip);
    }
    let careful = numbers(&dealt, within, &mut chance);
    found.careful.add(blame(&mark(&careful, &mut chance), |_| true));
    let random = numbers(
        &dealt,
        |chance, band, _| chance.random(band.reference.value),
        &mut chance,
    );
    found.random.add(blame(&mark(&random, &mut chance), |_| true));
    found.pairs = two_slips(&dealt, &spans, (policy, conventions), &mut chance, &mark);
    for (part, accepted) in dealt.accepted.iter().enumerate() {
        let Accepted::Number(band) = accepted else {
            continue;
        };
        // What happens once in a hundred needs many to be seen.
        for _ in 0..RANDOM_NUMBERS {
            let mut answers = numbers(&dealt, within, &mut chance);
            let random = chance.random(band.reference.value);
            answers[part] = Some(Answer::Number(Quantity::new(random, band.reference.dimension)));
            found
                .one_random
                .add(blame(&mark(&answers, &mut chance), |p| p == part));
            carry_on(&dealt, part, &mut answers, policy, conventions);
            found
                .carried_on
                .add(blame(&mark(&answers, &mut chance), |p| p == part));
        }
    }
    Ok(found)
}

/// Marks answers, where chance says how they are rounded.
type Marking<'a> = dyn Fn(&[Option<Answer>], &mut Chance) -> Vec<Judged> + 'a;

/// Students who make two slips at once, drawn among all pairs that a problem has.
fn two_slips(
    dealt: &Dealt,
    singles: &[Vec<Option<(f64, f64)>>],
    (policy, conventions): (&Policy, &Conventions),
    chance: &mut Chance,
    mark: &Marking<'_>,
) -> OfPairs {
    let mut of = OfPairs::default();
    let slips = (dealt.slips.as_slice(), dealt.accepted.as_slice());
    let (template, givens, case) = (&dealt.template, &dealt.givens, &dealt.case);
    let Some(pairs) = Pairs::new(template, givens, case, slips, policy, conventions) else {
        return of;
    };
    let all: Vec<[usize; 2]> = pairs.each().collect();
    let leads = |slips: [usize; 2]| {
        let answers = pairs.answers(slips)?;
        Some(with_slack(&pairs.spans(slips, &answers), &dealt.accepted))
    };
    for _ in 0..PAIRS_A_DRAW.min(all.len()) {
        let made = all[chance.pick(all.len())];
        let share = chance.between(-1.0, 1.0);
        let (Some(spans), Some(answers)) = (leads(made), pairs.misread(made, share)) else {
            continue;
        };
        // One that hides the other is made alone, as far as numbers go.
        if made.iter().any(|n| inseparable(&spans, &singles[*n])) {
            continue;
        }
        let judged = mark(&answers, chance);
        let wrong = (judged.iter().zip(&dealt.accepted)).filter(|(j, accepted)| {
            matches!(accepted, Accepted::Number(_))
                && matches!(j.verdict, Verdict::Wrong | Verdict::KnownSlip)
        });
        if wrong.count() < PAIR_NUMBERS {
            continue;
        }
        of.made += 1;
        let place = |name: &str| dealt.slips.iter().position(|slip| slip.slip.name == name);
        let Some(told) = judged.iter().map(|j| &j.slips).find(|slips| !slips.is_empty()) else {
            of.unclear += 1;
            continue;
        };
        let found: Vec<Vec<usize>> = (told.iter())
            .map(|group| group.iter().filter_map(|slip| place(&slip.name)).collect())
            .collect();
        match found.as_slice() {
            [one, other] => {
                let same = |[a, b]: [usize; 2]| {
                    leads([a.min(b), a.max(b)]).is_some_and(|named| inseparable(&named, &spans))
                };
                let any = one.iter().any(|a| other.iter().any(|b| same([*a, *b])));
                of.both += usize::from(any);
            }
            _ => {
                let is_one = |n: &usize| made.iter().any(|m| inseparable(&singles[*n], &singles[*m]));
                of.one += usize::from(found.iter().flatten().any(is_one));
            }
        }
    }
    of
}

/// Whether a slip moves a number out of its band for certain.
fn moved(span: Option<(f64, f64)>, accepted: &Accepted) -> bool {
    matches!((span, accepted), (Some((low, high)), Accepted::Number(band)) if high < band.low || low > band.high)
}

/// The answers of a student who makes a slip and takes care in all else: all parts hang together by one reading of the
/// chart.
fn with_slip(
    dealt: &Dealt,
    slip: &SlipAnswers,
    policy: &Policy,
    conventions: &Conventions,
    chance: &mut Chance,
) -> Vec<Option<Answer>> {
    let (template, givens, case) = (&dealt.template, &dealt.givens, &dealt.case);
    let share = chance.between(-1.0, 1.0);
    slip_misread(template, givens, case, &slip.slip, share, policy, conventions)
        .unwrap_or_else(|| slip.answers.clone())
}

/// Right words, and numbers made from each band and the figures asked.
fn numbers(
    dealt: &Dealt,
    number: impl Fn(&mut Chance, &Band, u32) -> f64,
    chance: &mut Chance,
) -> Vec<Option<Answer>> {
    (dealt.accepted.iter().zip(&dealt.template.parts))
        .map(|(accepted, part)| {
            Some(match (accepted, &part.asked) {
                (Accepted::Number(band), Asked::Number { figures, .. }) => Answer::Number(Quantity::new(
                    number(chance, band, *figures),
                    band.reference.dimension,
                )),
                (words, _) => words.reference(),
            })
        })
        .collect()
}

/// A number within the band that stays there when it is rounded in any unit.
fn within(chance: &mut Chance, band: &Band, figures: u32) -> f64 {
    let worst = 0.5 * libm::pow(10.0, 1.0 - f64::from(figures));
    let low = band.low + worst * band.low.abs();
    let high = band.high - worst * band.high.abs();
    if low < high {
        chance.between(low, high)
    } else {
        band.reference.value
    }
}

/// Works all that builds on one answer rightly from it.
fn carry_on(
    dealt: &Dealt,
    from: usize,
    answers: &mut [Option<Answer>],
    policy: &Policy,
    conventions: &Conventions,
) {
    let parts = &dealt.template.parts;
    let mut moved = vec![false; parts.len()];
    moved[from] = true;
    for later in from + 1..parts.len() {
        moved[later] = parts[later].builds_on.iter().any(|earlier| moved[*earlier]);
        if !moved[later] {
            continue;
        }
        let own: Vec<Option<Answer>> = (answers.iter().zip(&moved).enumerate())
            .map(|(part, (answer, moved))| answer.clone().filter(|_| *moved && part < later))
            .collect();
        let (template, givens, case) = (&dealt.template, &dealt.givens, &dealt.case);
        match follow_through(template, givens, case, later, &own, policy, conventions) {
            Some(accepted) => answers[later] = Some(accepted.reference()),
            None => moved[later] = false,
        }
    }
}

/// How often `which` of the numbers were blamed on a slip.
fn blame(judged: &[Judged], which: impl Fn(usize) -> bool) -> Blame {
    let is_number = |j: &Judged| matches!(j.understood.answer(), Some(Answer::Number(_)));
    let numbers: Vec<_> = (judged.iter().enumerate())
        .filter(|(part, j)| which(*part) && is_number(j))
        .collect();
    Blame {
        numbers: numbers.len(),
        blamed: numbers.iter().filter(|(_, j)| !j.slips.is_empty()).count(),
    }
}

/// Whether two slips were named that were made together.
fn two_named(judged: &[Judged]) -> bool {
    judged.iter().any(|j| j.slips.len() > 1)
}

/// The slips that were named anywhere.
fn named(judged: &[Judged]) -> Vec<String> {
    let mut names: Vec<String> = judged
        .iter()
        .flat_map(|j| j.slips.iter().flatten().map(|s| s.name.to_string()))
        .collect();
    names.sort_unstable();
    names.dedup();
    names
}

/// Units in which students answer.
const UNITS: [&str; 24] = [
    "m", "mm", "cm", "ft", "in", "m/s", "ft/s", "km/h", "m^3/s", "L/s", "L/min", "m^3/h", "gpm", "ft^3/s",
    "kPa", "Pa", "bar", "psi", "W", "kW", "hp", "s", "min", "h",
];

/// An answer as a student writes it: to the figures asked, half of them in another unit.
fn write(answer: Option<&Answer>, asked: &Asked, chance: &mut Chance) -> String {
    match (answer, asked) {
        (Some(Answer::Number(number)), Asked::Number { unit, figures, .. }) => {
            let others: Vec<Unit> = (UNITS.iter())
                .filter_map(|symbol| Unit::parse(symbol).ok())
                .filter(|other| other.dimension == unit.dimension)
                .collect();
            let unit = match chance.pick(2 * others.len().max(1)) {
                n if n < others.len() => &others[n],
                _ => unit,
            };
            Written::from_si(number.value, unit, *figures).ascii()
        }
        (Some(Answer::Regime(regime)), _) => regime.name().to_owned(),
        (Some(Answer::Choice(word)), _) => word.clone(),
        _ => String::new(),
    }
}

/// One line a template, and all of them together.
pub fn table(all: &[OfTemplate]) -> String {
    let mut sum = OfTemplate {
        template: "all".into(),
        draws: 0,
        slips: Vec::new(),
        careful: Blame::default(),
        random: Blame::default(),
        one_random: Blame::default(),
        carried_on: Blame::default(),
        pairs: OfPairs::default(),
        listed: Vec::new(),
        together: BTreeMap::new(),
    };
    let mut out = format!(
        "{:<30} {:>9} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8}\n",
        "template", "students", "named", "another", "unclear", "careful", "random", "one", "carried"
    );
    let row = |of: &OfTemplate| {
        let (made, rightly, unclear) = of.slip_students();
        let per_cent = |part: usize, of: usize| format!("{:.1} %", 100.0 * share(part, of));
        let blamed = |blame: Blame| format!("{:.2} %", 100.0 * blame.share());
        format!(
            "{:<30} {made:>9} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8} {:>8}\n",
            of.template,
            per_cent(rightly, made),
            per_cent(made - rightly - unclear, made),
            per_cent(unclear, made),
            blamed(of.careful),
            blamed(of.random),
            blamed(of.one_random),
            blamed(of.carried_on),
        )
    };
    for of in all {
        out.push_str(&row(of));
        sum.add(of.clone());
    }
    out.push_str(&row(&sum));
    out
}

/// One line a template, and all of them together, of students who made two slips at once.
pub fn pairs_table(all: &[OfTemplate]) -> String {
    let mut sum = OfPairs::default();
    let mut out = format!(
        "{:<30} {:>9} {:>8} {:>8} {:>8} {:>8}\n",
        "template", "students", "both", "one", "others", "unclear"
    );
    let row = |name: &str, of: OfPairs| {
        let per_cent = |part: usize| format!("{:.1} %", 100.0 * share(part, of.made));
        format!(
            "{name:<30} {:>9} {:>8} {:>8} {:>8} {:>8}\n",
            of.made,
            per_cent(of.both),
            per_cent(of.one),
            per_cent(of.others()),
            per_cent(of.unclear),
        )
    };
    for of in all {
        out.push_str(&row(&of.template, of.pairs));
        sum.add(of.pairs);
    }
    out.push_str(&row("all", sum));
    out
}

/// One line for each slip of each template: who made it, and what they were told.
pub fn confusion(all: &[OfTemplate]) -> String {
    let mut out = String::new();
    for of in all {
        let _ = writeln!(out, "{}", of.template);
        for slip in &of.slips {
            let _ = write!(
                out,
                "  {:<48} {:>6} made it, named to {:>6}, unclear {:>6}",
                slip.slip, slip.made, slip.rightly, slip.unclear
            );
            for (name, times) in &slip.others {
                let _ = write!(out, "; {times} told: {name}");
            }
            out.push('\n');
        }
    }
    out
}

/// Slips that no number tells apart, with the share of draws in which it is so, those first that the template lists.
pub fn groups(all: &[OfTemplate]) -> String {
    let mut out = String::new();
    for of in all {
        let mut lines: Vec<(bool, String)> = Vec::new();
        for ((one, other), times) in &of.together {
            let listed = of.listed.contains(one) && of.listed.contains(other);
            let mark = if listed { "; both listed" } else { "" };
            let line = format!(
                "  {one} | {other}: {:.0} % of draws{mark}\n",
                100.0 * share(*times, of.draws)
            );
            lines.push((!listed, line));
        }
        lines.sort();
        if !lines.is_empty() {
            let _ = writeln!(out, "{}", of.template);
            lines.iter().for_each(|(_, line)| out.push_str(line));
        }
    }
    out
}
