//! Seeds and draws: from a secret course key to every student's own numbers.
//!
//! A seed is a keyed BLAKE3 hash of length-prefixed fields, so that owning the program and the bank gives
//! no student a number. Each given has its own ChaCha20 stream, keyed by its name, so that adding a given
//! to a template shifts no other. Sampling is our own, on raw words, so that no library's change of method
//! can change a dealt sheet. Depends on: `fault`, `quantity`, `equation`, `bank`.

use crate::bank::system::System;
use crate::bank::template::{Spread, Template};
use crate::equation::Bindings;
use crate::fault::Checked;
use crate::quantity::Written;
use std::path::Path;

/// The secret of a course.
#[derive(Clone, PartialEq, Eq)]
pub struct CourseKey([u8; 32]);

/// The seed of one student's problem.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Seed([u8; 32]);

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
        todo!()
    }

    /// Reads `FOLDER/course.key`.
    ///
    /// # Errors
    /// No file, or not exactly 32 bytes.
    pub fn read(folder: &Path) -> Checked<Self> {
        let _ = folder;
        todo!()
    }

    /// Writes `FOLDER/course.key`, readable by its owner only; refuses to replace one.
    ///
    /// # Errors
    /// A key that is already there, or a file that can't be written.
    pub fn write(&self, folder: &Path) -> Checked<()> {
        let _ = folder;
        todo!()
    }

    /// The seed for one student's problem of one set; `attempt` counts from 1.
    pub fn seed(&self, set: &str, template: &Template, student: &str, attempt: u32) -> Seed {
        let _ = (set, template, student, attempt);
        todo!()
    }
}

impl Seed {
    /// A seed from its bytes (for practice, where nothing is secret).
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }
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
    template: &'a Template,
}

impl<'a> Candidates<'a> {
    /// The candidates of `template` for `seed`, in order.
    pub fn new(template: &'a Template, seed: &Seed) -> Self {
        let _ = seed;
        Self { template }
    }
}

impl Iterator for Candidates<'_> {
    type Item = Draw;

    fn next(&mut self) -> Option<Draw> {
        let _ = self.template;
        todo!()
    }
}

impl Draw {
    /// The givens by name.
    pub fn bindings(&self, template: &Template) -> Bindings {
        let _ = template;
        todo!()
    }

    /// The system that the draw describes.
    ///
    /// # Errors
    /// As [`System::resolve`].
    pub fn system(&self, template: &Template) -> Checked<System> {
        template.system.resolve(&self.bindings(template))
    }
}

/// The `n`th value of a spread.
pub fn value_of(spread: &Spread, n: u64) -> Written {
    let _ = (spread, n);
    todo!()
}
