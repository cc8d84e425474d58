//! Careful students, simulated: the working of every template of the bank by hand, from a course book's method and
//! not from the library's, by students who read charts, keep figures and choose as careful ones do. What they hand in
//! must be accepted, and little else.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

mod careful;
#[path = "../dice/mod.rs"]
mod dice;
mod feet;
mod kinds;
mod networks;
mod paths;
mod sheet;
mod table;

use careful::Careful;
use dice::Dice;
use gradeline::band::Accepted;
use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::bank::template::Asked;
use gradeline::deal::{Dealt, deal_one};
use gradeline::draw::Seed;
use gradeline::mark::{Judged, judge};
use gradeline::quantity::Written;
use gradeline::solution::Answer;
use sheet::{Plant, Sheet};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Draws of each template; `DRAWS` in the environment makes it another number.
const DRAWS: u8 = 12;
/// Students at each draw, some three million in all; `STUDENTS` makes it another number.
const STUDENTS: usize = 9_000;
/// Where draws and dice begin; `SEED` begins elsewhere.
const SEED: u8 = 41;

fn set<T: std::str::FromStr>(variable: &str, otherwise: T) -> T {
    let said = std::env::var(variable).ok();
    said.and_then(|said| said.parse().ok()).unwrap_or(otherwise)
}

/// How a template is worked by hand.
type Working = fn(&mut Sheet<'_>);

/// Share of all careful answers that the bands hold.
const LEAST_OF_ALL: f64 = 0.999;
/// Share of a part's careful answers that its band holds.
const LEAST_OF_A_PART: f64 = 0.995;
/// How many times as wide as what careful students reach a part's bands are, on average over its draws.
const WIDEST_OF_A_PART: f64 = 1.1;
/// The same of the band of any one draw.
const WIDEST_OF_A_DRAW: f64 = 1.25;
/// Of some thousand students not even one may come to an answer that one in some thousand comes to, so that a band looks wide.
/// Where it does, so many times as many are asked.
const ASKED_AGAIN: usize = 10;

/// The working of each template, in the bank's order.
const WORKINGS: [(&str, Working); 33] = [
    ("annular-oil-cooler", paths::oil_cooler),
    ("ballast-tanks-equalising", kinds::ballast_tanks),
    ("bearing-oil-line", paths::oil_line),
    ("brewery-cooling-orifice", kinds::orifice),
    ("brewery-two-bores", paths::two_bores),
    ("bunker-oil-transfer", feet::bunker_oil),
    ("capillary-viscometer", kinds::capillary),
    ("deck-wash-smallest-diameter", paths::deck_wash),
    ("drying-kiln-air-duct", paths::drying_kiln),
    ("dye-vat-emptying", kinds::dye_vat),
    ("feed-yard-pump-power", feet::feed_yard),
    ("fish-farm-widening", paths::fish_farm),
    ("foundry-main-standard-size", feet::foundry_main),
    ("glasshouse-pump-speed", paths::glasshouse_pump),
    ("hatchery-pressure-drop", paths::hatchery),
    ("irrigation-line-flow", paths::irrigation_line),
    ("mine-main-ageing", kinds::ageing_main),
    ("paper-mill-two-mains", networks::two_mains),
    ("penstock-turbine", paths::penstock),
    ("quarry-siphon-summit", paths::siphon),
    ("raw-water-venturi", kinds::venturi),
    ("rinsing-line-flow", paths::rinsing_line),
    ("rising-main-pump-power", paths::rising_main),
    ("shipyard-ring", networks::ring_main),
    ("spray-header-pump", paths::spray_header),
    ("sprinkler-main-standard-size", paths::sprinkler_main),
    ("terraced-basins", networks::three_basins),
    ("test-loop-pressure-drop", feet::test_loop),
    ("town-reservoirs-flow", feet::town_reservoirs),
    ("trunk-main-leak", kinds::trunk_main),
    ("washery-pit-pump", paths::pit_pump),
    ("wind-tunnel-pitot", kinds::pitot),
    ("works-main-two-pumps", paths::works_main),
];

/// The draws of each template, in the order of [`WORKINGS`].
fn dealt() -> &'static [Vec<Dealt>] {
    static DEALT: OnceLock<Vec<Vec<Dealt>>> = OnceLock::new();
    DEALT.get_or_init(|| {
        let bank = builtin_bank();
        let (policy, conventions) = (Policy::default(), Conventions::default());
        WORKINGS
            .iter()
            .map(|(name, _)| {
                let template = bank.get(name).unwrap_or_else(|| panic!("no template `{name}`"));
                (0..set("DRAWS", DRAWS))
                    .map(|n| {
                        let seed = Seed::from_bytes([n.wrapping_add(set("SEED", SEED)); 32]);
                        match deal_one(template, &seed, &policy, &conventions) {
                            Ok((dealt, _)) => dealt,
                            Err(faults) => panic!("{faults}"),
                        }
                    })
                    .collect()
            })
            .collect()
    })
}

fn work(n: usize, dealt: &Dealt, who: Careful, plant: Option<Plant>) -> Vec<Answer> {
    let mut sheet = Sheet::new(dealt, who, plant);
    WORKINGS[n].1(&mut sheet);
    sheet.handed_in()
}

#[test]
fn every_template_of_the_bank_is_worked_by_hand() {
    let bank = builtin_bank();
    let names: Vec<&str> = bank.templates.iter().map(|t| t.name.as_str()).collect();
    let worked: Vec<&str> = WORKINGS.iter().map(|(name, _)| *name).collect();
    assert_eq!(names, worked);
}

/// The workings here and the library's solvers share nothing but the chart, so where they agree both are right.
#[test]
fn with_nothing_misread_and_all_figures_kept_the_hand_finds_the_reference() {
    let mut wrong = Vec::new();
    for (n, (name, _)) in WORKINGS.iter().enumerate() {
        for (draw, dealt) in dealt()[n].iter().enumerate() {
            let found = work(n, dealt, Careful::exact(), None);
            for ((part, found), right) in dealt.template.parts.iter().zip(&found).zip(&dealt.answers) {
                let same = match (found, right) {
                    (Answer::Number(found), Answer::Number(right)) => {
                        (found.value - right.value).abs() <= 1e-6 * right.value.abs()
                    }
                    (found, right) => found == right,
                };
                if !same {
                    wrong.push(format!("{name} {draw}, {}: {found:?}, not {right:?}", part.name));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What the sampled students of one part of one template came to.
#[derive(Debug, Clone, Default)]
struct Sampled {
    inside: usize,
    outside: usize,
    /// Width of the band over the span of the samples, by draw; empty for words.
    widths: Vec<f64>,
    /// How far the band reaches below and above the samples, in their span, by draw.
    ends: Vec<(f64, f64)>,
    /// The samples' ends at the first draw.
    first: (f64, f64),
}

/// What so many students at one draw come to: of each part how many are inside and outside, and the ends of all.
type Reached = (usize, usize, (f64, f64));

fn reached(n: usize, draw: usize, students: usize) -> Vec<Reached> {
    let dealt = &dealt()[n][draw];
    let mut all = vec![(0, 0, (f64::INFINITY, f64::NEG_INFINITY)); dealt.accepted.len()];
    let begin = u64::from(set("SEED", SEED) ^ SEED) << 32;
    let mut dice = Dice(begin + (n * 1000 + draw) as u64 + 1);
    for _ in 0..students {
        let who = Careful::by_lot(Dice(dice.next()));
        let answers = work(n, dealt, who, None);
        for ((inside, outside, span), (accepted, answer)) in
            all.iter_mut().zip(dealt.accepted.iter().zip(&answers))
        {
            if gradeline::mark::accepts(accepted, answer) {
                *inside += 1;
            } else {
                *outside += 1;
            }
            if let Answer::Number(q) = answer {
                *span = (span.0.min(q.value), span.1.max(q.value));
            }
        }
    }
    all
}

/// So many students at each draw of a template.
fn sample(n: usize, students: usize) -> Vec<Sampled> {
    let draws = &dealt()[n];
    let mut all = vec![Sampled::default(); draws[0].template.parts.len()];
    for (draw, dealt) in draws.iter().enumerate() {
        let wide = |accepted: &Accepted, (.., span): &Reached| match accepted {
            Accepted::Number(band) => (band.high - band.low) / (span.1 - span.0),
            _ => 0.0,
        };
        let mut found = reached(n, draw, students);
        let looks_wide = |(accepted, found): (&Accepted, &Reached)| wide(accepted, found) > WIDEST_OF_A_DRAW;
        if dealt.accepted.iter().zip(&found).any(looks_wide) {
            found = reached(n, draw, ASKED_AGAIN * students);
        }
        for ((all, accepted), found) in all.iter_mut().zip(&dealt.accepted).zip(&found) {
            let (inside, outside, span) = *found;
            all.inside += inside;
            all.outside += outside;
            if let Accepted::Number(band) = accepted {
                if draw == 0 {
                    all.first = span;
                }
                all.widths.push(wide(accepted, found));
                let across = span.1 - span.0;
                all.ends
                    .push(((span.0 - band.low) / across, (band.high - span.1) / across));
            }
        }
    }
    all
}

/// All templates, on all cores.
fn sample_all(students: usize) -> Vec<Vec<Sampled>> {
    dealt();
    let next = AtomicUsize::new(0);
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut found: Vec<(usize, Vec<Sampled>)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..cores)
            .map(|_| {
                scope.spawn(|| {
                    let mut mine = Vec::new();
                    loop {
                        let n = next.fetch_add(1, Ordering::Relaxed);
                        if n >= WORKINGS.len() {
                            return mine;
                        }
                        mine.push((n, sample(n, students)));
                    }
                })
            })
            .collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap())
            .collect()
    });
    found.sort_by_key(|(n, _)| *n);
    found.into_iter().map(|(_, sampled)| sampled).collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// What a part is planted with: the share that its number is taken for, large enough to leave the band and small
/// enough for the work to go on.
fn error_in(template: &str, part: &str) -> f64 {
    match (template, part) {
        // A head at the fork beyond the upper basin lets no water in.
        ("terraced-basins", "head at the fork") => 1.06,
        // More than both mains together carry would leave the old one less than nothing.
        ("paper-mill-two-mains", "flow in the new main") => 0.85,
        // A faster flow would need a wall smoother than smooth.
        ("mine-main-ageing", "velocity") => 0.85,
        // Between two flows that differ little, much is a leak.
        ("trunk-main-leak", "leak") => 2.0,
        // The chart read backwards leaves much open.
        ("mine-main-ageing", "roughness" | "growth") => 3.0,
        _ => 1.3,
    }
}

/// What a student types, with one error if there is one, all else careful and carried on from it.
fn typed(n: usize, dealt: &Dealt, who: Careful, plant: Option<Plant>) -> Vec<String> {
    let answers = work(n, dealt, who, plant);
    (answers.iter().zip(&dealt.template.parts))
        .map(|(answer, part)| match (answer, &part.asked) {
            (Answer::Number(q), Asked::Number { unit, .. }) => Written::from_si(q.value, unit, 12).ascii(),
            (Answer::Regime(regime), _) => regime.name().to_owned(),
            (Answer::Choice(word), _) => word.clone(),
            (answer, _) => panic!("{answer:?}"),
        })
        .collect()
}

fn judged(dealt: &Dealt, typed: &[String]) -> Vec<Judged> {
    let typed: Vec<&str> = typed.iter().map(String::as_str).collect();
    judge(dealt, &typed, &Policy::default(), &Conventions::default())
}

fn find(template: &str) -> usize {
    WORKINGS.iter().position(|(name, _)| *name == template).unwrap()
}

fn part(dealt: &Dealt, name: &str) -> usize {
    let found = dealt.template.parts.iter().position(|part| part.name == name);
    found.unwrap_or_else(|| panic!("{}: no part `{name}`", dealt.template.name))
}

/// Who assumed fully rough flow, found that the check fails and said so has checked rightly, and what follows from the
/// factor assumed follows through.
#[test]
fn who_finds_the_assumption_failing_scores_for_the_check() {
    let n = find("irrigation-line-flow");
    for dealt in &dealt()[n] {
        let mut who = Careful::exact();
        who.stops_anyway = true;
        let typed = typed(n, dealt, who, None);
        let judged = judged(dealt, &typed);
        let factor = part(dealt, "friction factor");
        assert_eq!(typed[part(dealt, "check")], "no");
        assert_eq!(typed[factor], typed[part(dealt, "first guess")]);
        for (i, judged) in judged.iter().enumerate() {
            assert!(i == factor || judged.share == 1.0, "{typed:?}: {judged:?}");
        }
    }
}

/// Words that follow from a student's own wrong number score too.
#[test]
fn a_word_that_follows_from_a_wrong_number_scores() {
    for (template, wrong, by, word, follows) in [
        // Roughness in the wrong unit leaves a wall so smooth that the assumption fails, by the student's own numbers.
        ("rinsing-line-flow", "relative roughness", 0.01, "check", "no"),
        ("rinsing-line-flow", "Reynolds number", 0.02, "check", "no"),
        (
            "hatchery-pressure-drop",
            "Reynolds number",
            0.01,
            "regime",
            "laminar",
        ),
        (
            "brewery-two-bores",
            "velocity in the second pipe",
            0.005,
            "regime in the second pipe",
            "laminar",
        ),
        ("raw-water-venturi", "Reynolds number", 0.1, "limits", "no"),
        ("capillary-viscometer", "Reynolds number", 1e5, "check", "no"),
        ("washery-pit-pump", "NPSH", -0.5, "NPSH enough", "no"),
    ] {
        let n = find(template);
        for dealt in &dealt()[n] {
            let plant = Plant {
                part: part(dealt, wrong),
                by,
            };
            let typed = typed(n, dealt, Careful::exact(), Some(plant));
            let judged = judged(dealt, &typed);
            let word = part(dealt, word);
            assert_eq!(typed[word], follows, "{template}: {typed:?}");
            assert_eq!(
                judged[word].share, 1.0,
                "{template}: {typed:?}, {:?}",
                judged[word]
            );
            assert!(judged[plant.part].share < 1.0, "{template}: {typed:?}");
        }
    }
}

/// No careful student is told of a slip: at most one in a hundred.
#[test]
fn careful_students_are_never_blamed() {
    let (mut blamed, mut all) = (Vec::new(), 0);
    for (n, (name, _)) in WORKINGS.iter().enumerate() {
        for (draw, dealt) in dealt()[n].iter().enumerate() {
            for student in 0..40 {
                let who = Careful::by_lot(Dice((n * 100_000 + draw * 1000 + student) as u64));
                let typed = typed(n, dealt, who, None);
                all += 1;
                if let Some(judged) = judged(dealt, &typed).iter().find(|j| !j.slips.is_empty()) {
                    blamed.push(format!("{name}: {}", judged.why));
                }
            }
        }
    }
    assert!(
        blamed.len() * 100 <= all,
        "{} of {all}: {}",
        blamed.len(),
        blamed.join("\n")
    );
}

fn student_of(n: usize, draw: usize, student: usize) -> Careful {
    match student {
        0 => Careful::exact(),
        _ => Careful::by_lot(Dice((n * 10_000 + draw * 100 + student) as u64)),
    }
}

fn typed_without(n: usize, dealt: &Dealt, student: usize, draw: usize) -> Vec<Judged> {
    judged(dealt, &typed(n, dealt, student_of(n, draw, student), None))
}

/// One error costs the marks of its own part and no others.
#[test]
fn one_error_is_paid_once() {
    let mut twice = std::collections::BTreeMap::new();
    let (mut paid, mut all) = (0, 0);
    for (n, (name, _)) in WORKINGS.iter().enumerate() {
        for (draw, dealt) in dealt()[n].iter().enumerate().take(6) {
            for part in 0..dealt.template.parts.len() {
                for student in 0..8 {
                    let who = student_of(n, draw, student);
                    let by = error_in(name, &dealt.template.parts[part].name);
                    let typed = typed(n, dealt, who, Some(Plant { part, by }));
                    let judged = judged(dealt, &typed);
                    // The same student without the error, whose careful answer a band may leave out as one in thousands.
                    let careful = typed_without(n, dealt, student, draw);
                    if judged[part].share == 1.0 {
                        let key = (
                            *name,
                            dealt.template.parts[part].name.clone(),
                            "no error".to_owned(),
                        );
                        twice.entry(key).or_insert((0, format!("{typed:?}"))).0 += 1;
                    }
                    all += judged.len() - 1;
                    for (other, judged) in judged.iter().enumerate() {
                        if other != part && judged.share < 1.0 && careful[other].share == 1.0 {
                            paid += 1;
                            let parts = &dealt.template.parts;
                            let key = (*name, parts[part].name.clone(), parts[other].name.clone());
                            let entry = twice.entry(key).or_insert((0, String::new()));
                            entry.0 += 1;
                            entry.1 = format!(
                                "{} instead of {}, {}",
                                typed[other],
                                match &dealt.accepted[other] {
                                    Accepted::Number(b) => format!("{:.4e} to {:.4e}", b.low, b.high),
                                    other => format!("{other:?}"),
                                },
                                judged.why
                            );
                        }
                    }
                }
            }
        }
    }
    for ((template, planted, paid), (times, example)) in &twice {
        println!("{template}: {planted} -> {paid}: {times} of 48, {example}");
    }
    println!("{paid} of {all} answers beside the error lost marks");
    assert!(all > 30_000);
    assert!(twice.is_empty(), "{paid} of {all}: {:?}", twice.keys());
}

/// The bands hold the careful, and little else: of all answers of some three million students, of each part's, at each draw.
/// `SEED=7 cargo test --test students careful_students_fall` asks others.
#[test]
fn careful_students_fall_in_the_bands() {
    let mut faults = Vec::new();
    let (mut inside, mut all, mut widths) = (0, 0, Vec::new());
    let (mut least, mut widest) = (1.0_f64, 0.0_f64);
    let sampled = sample_all(set("STUDENTS", STUDENTS));
    for ((name, _), (parts, draws)) in WORKINGS.iter().zip(sampled.into_iter().zip(dealt())) {
        for (part, sampled) in draws[0].template.parts.iter().zip(parts) {
            let of = sampled.inside + sampled.outside;
            (inside, all) = (inside + sampled.inside, all + of);
            let share = sampled.inside as f64 / of as f64;
            let mut fault = |what: String| faults.push(format!("{name}, {}: {what}", part.name));
            if !matches!(part.asked, Asked::Number { .. }) {
                if sampled.outside > 0 {
                    fault(format!("{} of {of} words are refused", sampled.outside));
                }
                continue;
            }
            if share < LEAST_OF_A_PART {
                fault(format!("{:.3} % inside", 100.0 * share));
            }
            let width = mean(&sampled.widths);
            widths.push(width);
            if width > WIDEST_OF_A_PART {
                fault(format!("{width:.3} times as wide as the samples"));
            }
            let one = sampled
                .widths
                .iter()
                .fold(0.0_f64, |most, width| most.max(*width));
            if one > WIDEST_OF_A_DRAW {
                fault(format!("{one:.3} times as wide at a draw"));
            }
            (least, widest) = (least.min(share), widest.max(one));
        }
    }
    let share = inside as f64 / all as f64;
    let most = widths.iter().fold(0.0_f64, |most, width| most.max(*width));
    println!(
        "{all} answers, {:.3} % inside, of the part with fewest {:.2} %; bands {:.3} times as wide as the samples, of the widest part {most:.3}, at \
         one draw {widest:.3}",
        100.0 * share,
        100.0 * least,
        mean(&widths),
    );
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(
        share >= LEAST_OF_ALL,
        "{:.3} % of all answers inside",
        100.0 * share
    );
    assert!(all > 5 * 1_000_000 || std::env::var("STUDENTS").is_ok());
}

/// What is asserted here is what the page on bands says.
#[test]
fn the_page_says_what_is_held() {
    let page = include_str!("../../docs/bands.md");
    for row in [
        format!("| of all answers, inside | {} % |", 100.0 * LEAST_OF_ALL),
        format!(
            "| of the answers to each part, inside | {} % |",
            100.0 * LEAST_OF_A_PART
        ),
        format!("| each part's bands over what students reach, mean | {WIDEST_OF_A_PART} |"),
        format!("| the band at each draw over what students reach | {WIDEST_OF_A_DRAW} |"),
        format!("| draws of each template | {DRAWS} |"),
        format!("| students at each draw | {STUDENTS} |"),
    ] {
        assert!(
            page.lines().any(|line| line.starts_with(&row)),
            "docs/bands.md lacks\n{row}"
        );
    }
}

/// The table that the documentation shows: `cargo test --test students -- --ignored --nocapture table`.
#[test]
#[ignore = "prints a table and asserts nothing"]
fn table_of_the_bands() {
    println!(
        "| template | part | inside | band over span, mean | largest | beyond the samples, below and above |"
    );
    println!("|---|---|---|---|---|---|");
    for ((name, _), parts) in WORKINGS.iter().zip(sample_all(set("STUDENTS", STUDENTS))) {
        let dealt = &dealt()[WORKINGS.iter().position(|w| w.0 == *name).unwrap()][0];
        for (part, sampled) in dealt.template.parts.iter().zip(parts) {
            let share = 100.0 * sampled.inside as f64 / (sampled.inside + sampled.outside) as f64;
            let widths = if sampled.widths.is_empty() {
                "| | |".to_owned()
            } else {
                let (low, high): (Vec<f64>, Vec<f64>) = sampled.ends.iter().copied().unzip();
                format!(
                    "{:.3} | {:.3} | {:+.3} {:+.3} |",
                    mean(&sampled.widths),
                    sampled.widths.iter().fold(0.0_f64, |most, w| most.max(*w)),
                    mean(&low),
                    mean(&high)
                )
            };
            println!("| {name} | {} | {share:.3} % | {widths}", part.name);
            if std::env::var("CAUSES").is_ok() {
                let at = dealt
                    .template
                    .parts
                    .iter()
                    .position(|p| p.name == part.name)
                    .unwrap();
                if let Accepted::Number(band) = &dealt.accepted[at] {
                    let of = |value: f64| 100.0 * (value / band.reference.value - 1.0);
                    let (low, high) = sampled.first;
                    print!(
                        "    band {:+.2} {:+.2}, samples {:+.2} {:+.2}:",
                        of(band.low),
                        of(band.high),
                        of(low),
                        of(high)
                    );
                    for (cause, low, high) in &band.causes {
                        if low != high {
                            print!(" {cause:?} {:+.2} {:+.2}", of(*low), of(*high));
                        }
                    }
                    println!();
                }
            }
        }
    }
}
