//! What is wrong, where it stands, and how to mend it.
//!
//! Every room keeps its own typed errors where callers need to tell them apart; all of them turn into
//! [`Fault`], the one thing that people read, and it is printed in one place: its `Display`.
//! Depends on: nothing.

use std::cmp::Reverse;
use std::fmt;

/// Where a fault stands: a file, and the line and column in it where they are known (both count from 1).
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Place {
    /// The file as the person named it, or another short name of the source such as `answer`.
    pub file: String,
    /// Line, from 1.
    pub line: Option<usize>,
    /// Column in characters, from 1.
    pub column: Option<usize>,
    /// The field or cell inside the file, such as `parts.flow.unit`.
    pub field: Option<String>,
}

impl Place {
    /// A place in `file`, with nothing known inside it.
    pub fn file(file: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            ..Self::default()
        }
    }

    /// The same place with its line and column.
    #[must_use]
    pub fn at(mut self, line: usize, column: usize) -> Self {
        self.line = Some(line);
        self.column = Some(column);
        self
    }

    /// The same place with the field inside the file.
    #[must_use]
    pub fn field(mut self, field: impl Into<String>) -> Self {
        self.field = Some(field.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
            if let Some(column) = self.column {
                write!(f, ":{column}")?;
            }
        }
        match &self.field {
            Some(field) if !field.is_empty() => write!(f, " ({field})"),
            _ => Ok(()),
        }
    }
}

/// One thing that is wrong, in words for the person who can mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// What is wrong, as one sentence without a full stop.
    pub what: String,
    /// Where it stands.
    pub place: Option<Place>,
    /// How to mend it, as an instruction without a full stop.
    pub mend: Option<String>,
}

impl Fault {
    /// A fault known only by what is wrong.
    pub fn new(what: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            place: None,
            mend: None,
        }
    }

    /// The same fault with its place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(place);
        self
    }

    /// The same fault with the way to mend it.
    #[must_use]
    pub fn mend(mut self, mend: impl Into<String>) -> Self {
        self.mend = Some(mend.into());
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "error: {}", self.what)?;
        if let Some(place) = &self.place {
            write!(f, "\n  at: {place}")?;
        }
        if let Some(mend) = &self.mend {
            write!(f, "\nmend: {mend}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Fault {}

/// One or more faults, found together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults(pub Vec<Fault>);

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self(vec![fault])
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.0.iter().enumerate() {
            if i > 0 {
                f.write_str("\n\n")?;
            }
            fault.fmt(f)?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

/// A value, or everything that is wrong with it.
pub type Checked<T> = Result<T, Faults>;

/// The known word that `word` was probably meant to be, if one is near enough to be offered.
///
/// Counts swapped neighbours as one slip of the finger (Damerau), so that `gmp` finds `gpm`.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().count();
    known
        .into_iter()
        .map(|k| {
            let distance = strsim::damerau_levenshtein(&word.to_lowercase(), &k.to_lowercase());
            (distance, k)
        })
        .filter(|(distance, _)| *distance <= 1 + length / 4)
        // Of words that are equally near, the one with the same capitals; then the longest, since letters are left out more often
        // than put in.
        .min_by_key(|(distance, k)| {
            let cased = strsim::damerau_levenshtein(word, k);
            (*distance, cased, Reverse(k.chars().count()))
        })
        .map(|(_, k)| k)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_prints_what_where_and_how_to_mend() {
        let fault = Fault::new("`roughness` is given in `m/s`, but a length is needed")
            .at(Place::file("problem-banks/level.yaml").at(14, 11))
            .mend("write a length unit, such as `mm`");
        assert_eq!(
            fault.to_string(),
            "error: `roughness` is given in `m/s`, but a length is needed\n  at: problem-banks/level.yaml:14:11\nmend: write a length unit, such as `mm`"
        );
    }

    #[test]
    fn a_near_word_is_offered_and_a_far_one_is_not() {
        assert_eq!(nearest("gmp", ["gpm", "psi"]), Some("gpm"));
        assert_eq!(nearest("rougness", ["length", "roughness"]), Some("roughness"));
        assert_eq!(nearest("mmm", ["MNm", "mm", "mNm"]), Some("mNm"));
        assert_eq!(nearest("litrs", ["litre", "litres"]), Some("litres"));
        assert_eq!(nearest("degX", ["deg", "degC"]), Some("degC"));
        assert_eq!(nearest("banana", ["length", "roughness"]), None);
    }
}
