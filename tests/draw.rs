//! Seeds and draws: frozen vectors, and what must and must not change a student's numbers.
//!
//! The vectors come from outside: seeds from BLAKE3 as the Python package `blake3` 1.0 computes it, streams
//! from OpenSSL's ChaCha20 through the Python package `cryptography`, both led by twenty lines of Python that
//! follow the description in `src/draw.rs`. They are never to change: a dealt set is dealt again from them.

#![allow(
    clippy::unwrap_used,
    reason = "a test that unwraps nothing fails, as it should"
)]

use gradeline::bank::template::{Given, Spread, Template};
use gradeline::draw::{Candidates, CourseKey, Seed, value_of};
use gradeline::quantity::{DecimalMark, Written};

fn key() -> CourseKey {
    let mut bytes = [0; 32];
    for (i, byte) in (0..32).zip(&mut bytes) {
        *byte = i;
    }
    CourseKey::from_bytes(bytes)
}

fn hex(seed: &Seed) -> String {
    seed.to_bytes().iter().map(|b| format!("{b:02x}")).collect()
}

fn template() -> Template {
    let text = include_str!("data/templates/draw.yaml");
    match Template::parse(text, "rising-main", "tests/data/templates/draw.yaml") {
        Ok(template) => template,
        Err(faults) => panic!("{faults}"),
    }
}

fn plain(values: &[Written]) -> Vec<String> {
    values.iter().map(|v| v.plain(DecimalMark::Point)).collect()
}

#[test]
fn seeds_are_those_of_the_frozen_vectors() {
    for (set, version, student, attempt, expected) in [
        (
            "week 3",
            1,
            "s1001",
            1,
            "a683a6e278294e8008727b7e534760a427fbd71b19e74118c20ceb4dbc381de4",
        ),
        (
            "week 3",
            1,
            "s1001",
            2,
            "5b6e88460da92a7303d18e4a77c9eb8e24a4301bb521d68b07dfc6959d711da6",
        ),
        (
            "week 4",
            1,
            "s1001",
            1,
            "71a95ed272c82ea43fe589d25af4cf19e3d2e955bbc6529677d47c3045499ae0",
        ),
        (
            "week 3",
            2,
            "s1001",
            1,
            "0d072117cabec7d260aa301587a693ea5f0d157a63297c74bc2d1b1dbc23c8b0",
        ),
        (
            "week 3",
            1,
            "S1002",
            1,
            "8524fdb69c93bd15de396fbd4e6b6d482e16554d6e5059efbaa08685b24a60ac",
        ),
        (
            "week 3",
            1,
            "Müller",
            1,
            "ad8ac8e92683f554f2568c786afb8fcb749bd5032b1391809bbc9054c657bfd2",
        ),
    ] {
        let seed = key().seed_of(set, "rising-main", version, student, attempt);
        assert_eq!(hex(&seed), expected, "{set} {version} {student} {attempt}");
    }
}

#[test]
fn draws_are_those_of_the_frozen_vectors() {
    let template = template();
    let seed = key().seed("week 3", &template, "s1001", 1);
    let draws: Vec<_> = Candidates::new(&template, &seed).take(4).collect();
    // Positions 6, 13, 4, 5 of the flow, 1, 2, 2, 0 of the bore, and 48, 39, 71, 24 of the length.
    let expected = [
        ["15.0 L/s", "125 mm", "108 m", "15 °C"],
        ["18.5 L/s", "150 mm", "99 m", "15 °C"],
        ["14.0 L/s", "150 mm", "131 m", "15 °C"],
        ["14.5 L/s", "100 mm", "84 m", "15 °C"],
    ];
    for (i, (draw, expected)) in draws.iter().zip(expected).enumerate() {
        assert_eq!(draw.candidate, i as u32);
        assert_eq!(plain(&draw.values), expected);
    }
}

#[test]
fn a_new_given_shifts_no_other() {
    let old = template();
    let mut new = old.clone();
    new.givens.insert(
        1,
        Given {
            name: "K_v".into(),
            what: "loss coefficient".into(),
            spread: Spread::Choice(vec![
                Written::parse("0.2").unwrap(),
                Written::parse("0.3").unwrap(),
            ]),
        },
    );
    let seed = key().seed("week 3", &old, "s1001", 1);
    for (a, b) in Candidates::new(&old, &seed)
        .zip(Candidates::new(&new, &seed))
        .take(50)
    {
        let mut without = b.values.clone();
        without.remove(1);
        assert_eq!(a.values, without);
    }
}

#[test]
fn another_key_set_student_attempt_or_version_draws_other_numbers() {
    let template = template();
    let first = key().seed("week 3", &template, "s1001", 1);
    let numbers = |seed: &Seed| -> Vec<_> {
        Candidates::new(&template, seed)
            .take(6)
            .flat_map(|draw| plain(&draw.values))
            .collect()
    };
    let others = [
        CourseKey::from_bytes([9; 32]).seed("week 3", &template, "s1001", 1),
        key().seed("week 4", &template, "s1001", 1),
        key().seed("week 3", &template, "s1002", 1),
        key().seed("week 3", &template, "s1001", 2),
        key().seed_of("week 3", "rising-main", 2, "s1001", 1),
        key().seed_of("week 3", "rising-main-2", 1, "s1001", 1),
        // Fields are told apart by their lengths, not by what stands between them.
        key().seed_of("week 3rising", "-main", 1, "s1001", 1),
    ];
    for other in &others {
        assert_ne!(&first, other);
        assert_ne!(numbers(&first), numbers(other));
    }
}

#[test]
fn a_student_is_the_same_however_the_id_is_typed() {
    let one = key().seed_of("week 3", "main", 1, "Müller", 1);
    assert_eq!(one, key().seed_of("week 3", "main", 1, "mu\u{308}ller", 1));
    assert_eq!(one, key().seed_of("week 3", "main", 1, "MÜLLER", 1));
    assert_ne!(one, key().seed_of("week 3", "main", 1, "muller", 1));
}

#[test]
fn every_value_of_a_range_lies_on_its_step_and_is_printed_as_it_is_used() {
    let template = template();
    let spread = &template.givens[0].spread;
    assert_eq!(spread.count(), 17);
    for n in 0..17 {
        let value = value_of(spread, n);
        assert_eq!(value.number, 12.0 + 0.5 * n as f64);
        let again = Written::parse(&value.ascii()).unwrap();
        assert_eq!(again.number.to_bits(), value.number.to_bits());
        assert_eq!(again.figures, 3);
    }
    assert_eq!(value_of(spread, 99), value_of(spread, 16));
}

#[test]
fn small_and_large_values_are_printed_with_the_figures_of_their_grid() {
    let unit = Written::parse("1 m^2/s").unwrap().unit;
    let spread = Spread::Range {
        first: 100,
        step: 5,
        count: 50,
        decimals: 8,
        unit,
    };
    let value = value_of(&spread, 3);
    assert_eq!(value.ascii(), "1.15e-6 m^2/s");
    assert_eq!(value.number, 1.15e-6);
}

#[test]
fn a_key_is_written_once_and_read_back() {
    let folder = tempfile::tempdir().unwrap();
    let key = CourseKey::new().unwrap();
    assert!(key != CourseKey::new().unwrap());
    let missing = CourseKey::read(folder.path()).unwrap_err().to_string();
    assert!(missing.contains("course.key"), "{missing}");
    key.write(folder.path()).unwrap();
    assert!(CourseKey::read(folder.path()).unwrap() == key);
    assert!(CourseKey::new().unwrap().write(folder.path()).is_err());
    assert!(CourseKey::read(folder.path()).unwrap() == key);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(folder.path().join("course.key"))
            .unwrap()
            .permissions()
            .mode();
        assert_eq!(mode & 0o777, 0o600);
    }
    std::fs::write(folder.path().join("course.key"), [0; 31]).unwrap();
    let short = CourseKey::read(folder.path()).unwrap_err().to_string();
    assert!(short.contains("31 bytes"), "{short}");
}
