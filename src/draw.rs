//! Seeds and draws: from a secret course key to every student's own numbers.
//!
//! A seed is a keyed BLAKE3 hash of length-prefixed fields, so that owning the program and the bank gives
//! no student a number. Each given has its own ChaCha20 stream, keyed by its name, so that adding a given
//! to a template shifts no other. Sampling is our own, on raw words, so that no library's change of method
//! can change a dealt sheet. Depends on: `fault`, `store`, `quantity`, `equation`, `bank`.

use crate::bank::system::System;
use crate::bank::template::{Given, Spread, Template};
use crate::equation::{Bindings, Bound};
use crate::fault::{Checked, Fault, Place};
use crate::quantity::{Shown, Written};
use crate::store;
use rand::rngs::SysRng;
use rand::{Rng, SeedableRng, TryRng};
use rand_chacha::ChaCha20Rng;
use std::fmt;
use std::path::Path;
use unicode_normalization::UnicodeNormalization;

/// Separates these hashes from any other use of a course key. Never to change.
const CONTEXT: &str = "gradeline 2026-11-25 seed of a student's problem";

/// The name of the key's file in a course folder.
const KEY_FILE: &str = "course.key";

/// The secret of a course.
#[derive(Clone, PartialEq, Eq)]
pub struct CourseKey([u8; 32]);

/// The seed of one student's problem.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Seed([u8; 32]);

impl fmt::Debug for CourseKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("CourseKey(secret)")
    }
}

impl fmt::Debug for Seed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Seed(secret)")
    }
}

impl CourseKey {
    /// A key from its bytes.
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// A new key from the operating system's source of randomness.
    ///
    /// # Errors
    /// When that source fails.
    pub fn new() -> Checked<Self> {
        let mut bytes = [0; 32];
        SysRng.try_fill_bytes(&mut bytes).map_err(|error| {
            Fault::new(format!("the system gives no random numbers: {error}"))
                .mend("try again; a key from any other source can be guessed")
        })?;
        Ok(Self(bytes))
    }

    /// Reads `FOLDER/course.key`.
    ///
    /// # Errors
    /// No file, or not exactly 32 bytes.
    pub fn read(folder: &Path) -> Checked<Self> {
        let file = folder.join(KEY_FILE);
        let bytes = store::read(&file, 4096)?;
        let length = bytes.len();
        <[u8; 32]>::try_from(bytes).map(Self).map_err(|_| {
            Fault::new(format!("the course key has {length} bytes, but 32 are needed"))
                .at(Place::file(file.display().to_string()))
                .mend("bring the key back from a safe copy; a new key deals every student other numbers")
                .into()
        })
    }

    /// Writes `FOLDER/course.key`, readable by its owner only; refuses to replace one.
    ///
    /// # Errors
    /// A key that is already there, or a file that can't be written.
    pub fn write(&self, folder: &Path) -> Checked<()> {
        store::write_secret(&folder.join(KEY_FILE), &self.0)
    }

    /// The seed for one student's problem of one set; `attempt` counts from 1.
    ///
    /// A student is the same however the identifier's letters are cased or composed in Unicode.
    pub fn seed(&self, set: &str, template: &Template, student: &str, attempt: u32) -> Seed {
        self.seed_of(set, &template.name, template.version, student, attempt)
    }

    /// As [`CourseKey::seed`], from a template's name and version.
    pub fn seed_of(&self, set: &str, template: &str, version: u32, student: &str, attempt: u32) -> Seed {
        let key = blake3::derive_key(CONTEXT, &self.0);
        let mut hasher = blake3::Hasher::new_keyed(&key);
        let student: String = student.nfc().collect::<String>().to_lowercase().nfc().collect();
        let mut field = |bytes: &[u8]| {
            hasher.update(&(bytes.len() as u64).to_le_bytes());
            hasher.update(bytes);
        };
        field(set.as_bytes());
        field(template.as_bytes());
        field(&version.to_le_bytes());
        field(student.as_bytes());
        field(&attempt.to_le_bytes());
        Seed(*hasher.finalize().as_bytes())
    }
}

impl Seed {
    /// A seed from its bytes (for practice, where nothing is secret).
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// Its bytes. Whoever knows them knows this one problem's numbers, and nothing of any other.
    pub const fn to_bytes(self) -> [u8; 32] {
        self.0
    }

    /// The stream of one given.
    fn stream(&self, given: &str) -> ChaCha20Rng {
        ChaCha20Rng::from_seed(*blake3::keyed_hash(&self.0, given.as_bytes()).as_bytes())
    }
}

/// A whole number from 0 to `n - 1`, each as likely (Lemire 2019, doi:10.1145/3230636); 0 where `n` is 0.
fn below(rng: &mut ChaCha20Rng, n: u64) -> u64 {
    if n == 0 {
        return 0;
    }
    // The high word of a product of 64-bit words; the low word says when to draw again.
    let split = |word: u64| {
        let product = u128::from(word) * u128::from(n);
        ((product >> 64) as u64, product as u64)
    };
    let (mut high, mut low) = split(rng.next_u64());
    if low < n {
        let uneven = n.wrapping_neg() % n;
        while low < uneven {
            (high, low) = split(rng.next_u64());
        }
    }
    high
}

/// One choice of all givens.
#[derive(Debug, Clone, PartialEq)]
pub struct Draw {
    /// Which candidate of its seed it is, from 0.
    pub candidate: u32,
    /// The givens' values, in the template's order.
    pub values: Vec<Written>,
}

/// Draws candidate after candidate of one seed.
pub struct Candidates<'a> {
    streams: Vec<(&'a Given, ChaCha20Rng)>,
    next: u32,
}

impl<'a> Candidates<'a> {
    /// The candidates of `template` for `seed`, in order.
    pub fn new(template: &'a Template, seed: &Seed) -> Self {
        Self {
            streams: template
                .givens
                .iter()
                .map(|g| (g, seed.stream(&g.name)))
                .collect(),
            next: 0,
        }
    }
}

impl Iterator for Candidates<'_> {
    type Item = Draw;

    fn next(&mut self) -> Option<Draw> {
        let candidate = self.next;
        self.next = candidate.checked_add(1)?;
        let values = self
            .streams
            .iter_mut()
            .map(|(given, rng)| value_of(&given.spread, below(rng, given.spread.count())))
            .collect();
        Some(Draw { candidate, values })
    }
}

impl Draw {
    /// One candidate of a seed, as [`Candidates`] draws it.
    pub fn of(template: &Template, seed: &Seed, candidate: u32) -> Self {
        let value = |given: &Given| {
            let mut stream = seed.stream(&given.name);
            let count = given.spread.count();
            let mut n = below(&mut stream, count);
            for _ in 0..candidate {
                n = below(&mut stream, count);
            }
            value_of(&given.spread, n)
        };
        Self {
            candidate,
            values: template.givens.iter().map(value).collect(),
        }
    }

    /// The givens by name.
    pub fn bindings(&self, template: &Template) -> Bindings {
        let mut bindings = Bindings::default();
        for (given, value) in template.givens.iter().zip(&self.values) {
            bindings.set(given.name.clone(), Bound::as_written(value.clone()));
        }
        bindings
    }

    /// The system that the draw describes.
    ///
    /// # Errors
    /// As [`System::resolve`].
    pub fn system(&self, template: &Template) -> Checked<System> {
        template.system.resolve(&self.bindings(template))
    }
}

/// The `n`th value of a spread, from 0; its last where there are not so many.
pub fn value_of(spread: &Spread, n: u64) -> Written {
    match spread {
        Spread::Fixed(written) => written.clone(),
        Spread::Choice(values) => {
            let last = values.len().saturating_sub(1);
            let n = usize::try_from(n).unwrap_or(last).min(last);
            values[n].clone()
        }
        Spread::Range {
            first,
            step,
            count,
            decimals,
            unit,
        } => {
            let n = i64::try_from(n.min(count.saturating_sub(1))).unwrap_or(i64::MAX);
            let digits = decimal_digits(first.saturating_add(step.saturating_mul(n)), *decimals);
            // Read back from the digits, so that the value used is the value printed.
            let number: f64 = digits.parse().unwrap_or(f64::NAN);
            let significant = digits.trim_start_matches(['-', '0', '.']);
            let figures = significant.bytes().filter(u8::is_ascii_digit).count().max(1);
            let figures = u32::try_from(figures).unwrap_or(1);
            let shown = if number != 0.0 && (number.abs() < 1.0e-3 || number.abs() >= 1.0e6) {
                Shown::new(number, figures)
            } else {
                Shown {
                    digits,
                    exponent: None,
                }
            };
            Written {
                number,
                shown,
                figures,
                unit: unit.clone(),
            }
        }
    }
}

/// A whole number of units of the last decimal, written out: 1250 with two decimals is `12.50`.
fn decimal_digits(units: i64, decimals: u32) -> String {
    let decimals = decimals as usize;
    let sign = if units < 0 { "-" } else { "" };
    let digits = format!("{:0width$}", units.unsigned_abs(), width = decimals + 1);
    let (whole, fraction) = digits.split_at(digits.len() - decimals);
    if fraction.is_empty() {
        format!("{sign}{whole}")
    } else {
        format!("{sign}{whole}.{fraction}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_keep_their_decimals() {
        assert_eq!(decimal_digits(1250, 2), "12.50");
        assert_eq!(decimal_digits(-5, 2), "-0.05");
        assert_eq!(decimal_digits(7, 0), "7");
    }

    #[test]
    fn every_number_below_n_is_as_likely() {
        let mut rng = Seed::from_bytes([7; 32]).stream("x");
        let mut counts = [0_u32; 6];
        for _ in 0..60_000 {
            counts[below(&mut rng, 6) as usize] += 1;
        }
        // Five degrees of freedom: 25 is passed by chance once in 7,000 times, and the stream is fixed.
        let share = |c: &u32| (f64::from(*c) - 1e4) * (f64::from(*c) - 1e4) / 1e4;
        let chi: f64 = counts.iter().map(share).sum();
        assert!(chi < 25.0, "{counts:?}");
    }

    /// A range so wide that a quarter of all words is drawn again; expected values from OpenSSL's ChaCha20, as
    /// in `tests/draw.rs`.
    #[test]
    fn words_that_would_favour_some_numbers_are_drawn_again() {
        let key = CourseKey::from_bytes(std::array::from_fn(|i| i as u8));
        let mut rng = key.seed_of("week 3", "rising-main", 1, "s1001", 1).stream("H");
        let drawn: Vec<u64> = (0..8).map(|_| below(&mut rng, 3 << 61)).collect();
        assert_eq!(
            drawn,
            [
                2_559_763_928_496_017_240,
                9_339_850_661_574_549,
                4_752_851_771_222_883_757,
                3_693_205_126_579_996_359,
                4_649_286_737_587_853_595,
                4_946_987_266_505_838_811,
                832_134_604_923_101_813,
                4_867_377_651_216_753_450
            ]
        );
    }

    #[test]
    fn secrets_are_not_printed() {
        let key = CourseKey::from_bytes([0x5a; 32]);
        let seed = key.seed_of("week 3", "main", 1, "s1", 1);
        assert_eq!(format!("{key:?} {seed:?}"), "CourseKey(secret) Seed(secret)");
    }
}
