//! What was dealt, as it is kept in the instructor's folder: enough to mark without the bank or the key.
//!
//! The record is JSON. It holds the templates' texts with their hashes and the givens as printed; answers, bands
//! and slips are worked out again when it is read, and come out the same.

use super::{DealtStudent, Drawn, DrawnStudent, assess};
use crate::bank::Bank;
use crate::bank::course::{
    Conventions, Course, DifficultySpread, Policy, ReadingModel, Set, SetProblem, Student, UnitSystem,
};
use crate::bank::template::{Given, Spread, Template};
use crate::draw::{Draw, value_of};
use crate::fault::{Checked, Fault, Faults, Place};
use crate::hydraulics::regime::Limits;
use crate::jobs;
use crate::quantity::{DecimalMark, Written};
use serde::{Deserialize, Serialize, Serializer};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::io::Write;
use std::sync::Arc;

/// The version of the program that writes.
const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// A set as it was dealt, restored.
#[derive(Debug, Clone)]
pub struct Restored {
    /// The course as it was.
    pub course: Course,
    /// The set as it was.
    pub set: Set,
    /// Everything that was dealt, worked out again from the recorded givens.
    pub students: Vec<DealtStudent>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Record<S = Vec<StudentRecord>> {
    gradeline: String,
    course: CourseRecord,
    set: SetRecord,
    templates: Vec<TemplateRecord>,
    students: S,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CourseRecord {
    name: String,
    conventions: ConventionsRecord,
    policy: PolicyRecord,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ConventionsRecord {
    units: UnitsRecord,
    decimal_mark: MarkRecord,
    figures: u32,
    property_figures: u32,
}

#[derive(Serialize, Deserialize)]
enum UnitsRecord {
    #[serde(rename = "SI")]
    Si,
    #[serde(rename = "US customary")]
    UsCustomary,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum MarkRecord {
    Point,
    Comma,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum ReadingModelRecord {
    Chart,
    Even,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PolicyRecord {
    reading_error: f64,
    reading_model: ReadingModelRecord,
    other_formulas: bool,
    table_properties: bool,
    other_gravities: bool,
    iteration_spread: u32,
    reading_spread: f64,
    band_spread: f64,
    laminar_end: f64,
    turbulent_start: f64,
    fully_rough_start: f64,
    smooth_end: f64,
    follow_through_share: f64,
    slip_share: f64,
    review_margin: f64,
    accept_missing_unit: bool,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SetRecord {
    name: String,
    title: String,
    due: Option<String>,
    problems: Vec<ProblemRecord>,
    policy: PolicyRecord,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ProblemRecord {
    template: String,
    marks: Option<f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TemplateRecord {
    name: String,
    blake3: String,
    source: String,
    #[serde(default)]
    properties: PropertiesRecord,
}

/// In which units a named fluid's properties were rounded and printed.
#[derive(Serialize, Deserialize, Default, PartialEq)]
enum PropertiesRecord {
    /// As records that don't say.
    #[default]
    #[serde(rename = "in SI units")]
    Si,
    #[serde(rename = "in units that go with the temperature's")]
    OfTemperature,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StudentRecord {
    id: String,
    name: String,
    email: String,
    problems: Vec<DealtRecord>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DealtRecord {
    candidate: u32,
    givens: BTreeMap<String, String>,
}

impl From<&Conventions> for ConventionsRecord {
    fn from(of: &Conventions) -> Self {
        let Conventions {
            units,
            decimal_mark,
            figures,
            property_figures,
        } = *of;
        Self {
            units: match units {
                UnitSystem::Si => UnitsRecord::Si,
                UnitSystem::UsCustomary => UnitsRecord::UsCustomary,
            },
            decimal_mark: match decimal_mark {
                DecimalMark::Point => MarkRecord::Point,
                DecimalMark::Comma => MarkRecord::Comma,
            },
            figures,
            property_figures,
        }
    }
}

impl From<ConventionsRecord> for Conventions {
    fn from(of: ConventionsRecord) -> Self {
        Self {
            units: match of.units {
                UnitsRecord::Si => UnitSystem::Si,
                UnitsRecord::UsCustomary => UnitSystem::UsCustomary,
            },
            decimal_mark: match of.decimal_mark {
                MarkRecord::Point => DecimalMark::Point,
                MarkRecord::Comma => DecimalMark::Comma,
            },
            figures: of.figures,
            property_figures: of.property_figures,
        }
    }
}

impl From<&Policy> for PolicyRecord {
    fn from(of: &Policy) -> Self {
        let Policy {
            reading_error,
            reading_model,
            other_formulas,
            table_properties,
            other_gravities,
            difficulty:
                DifficultySpread {
                    iterations,
                    reading,
                    band,
                },
            limits:
                Limits {
                    laminar_end,
                    turbulent_start,
                    fully_rough_start,
                    smooth_end,
                },
            follow_through_share,
            slip_share,
            review_margin,
            accept_missing_unit,
        } = *of;
        Self {
            reading_error,
            reading_model: match reading_model {
                ReadingModel::Chart => ReadingModelRecord::Chart,
                ReadingModel::Even => ReadingModelRecord::Even,
            },
            other_formulas,
            table_properties,
            other_gravities,
            iteration_spread: iterations,
            reading_spread: reading,
            band_spread: band,
            laminar_end,
            turbulent_start,
            fully_rough_start,
            smooth_end,
            follow_through_share,
            slip_share,
            review_margin,
            accept_missing_unit,
        }
    }
}

impl From<PolicyRecord> for Policy {
    fn from(of: PolicyRecord) -> Self {
        Self {
            reading_error: of.reading_error,
            reading_model: match of.reading_model {
                ReadingModelRecord::Chart => ReadingModel::Chart,
                ReadingModelRecord::Even => ReadingModel::Even,
            },
            other_formulas: of.other_formulas,
            table_properties: of.table_properties,
            other_gravities: of.other_gravities,
            difficulty: DifficultySpread {
                iterations: of.iteration_spread,
                reading: of.reading_spread,
                band: of.band_spread,
            },
            limits: Limits {
                laminar_end: of.laminar_end,
                turbulent_start: of.turbulent_start,
                fully_rough_start: of.fully_rough_start,
                smooth_end: of.smooth_end,
            },
            follow_through_share: of.follow_through_share,
            slip_share: of.slip_share,
            review_margin: of.review_margin,
            accept_missing_unit: of.accept_missing_unit,
        }
    }
}

/// The hash that a record keeps beside a template's text.
pub fn hash(template: &Template) -> String {
    blake3::hash(template.source.as_bytes()).to_hex().to_string()
}

/// Students that are asked for when they are to be written.
struct OneByOne<I>(RefCell<I>);

impl<I: Iterator<Item = DrawnStudent>> Serialize for OneByOne<I> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut students = self.0.borrow_mut();
        serializer.collect_seq(students.by_ref().map(|one| StudentRecord::from(&one)))
    }
}

/// Writes the record of a deal: JSON with the program's version, the course's conventions, the set's policy, each
/// template's text with its hash, and each student's givens as printed. Same deal, same bytes. `templates` are those of
/// the set; students are asked for one by one.
///
/// # Errors
/// A place that can't be written.
pub fn write(
    out: &mut dyn Write,
    course: &Course,
    set: &Set,
    templates: &[Arc<Template>],
    students: impl Iterator<Item = DrawnStudent>,
) -> Checked<()> {
    let templates: BTreeMap<&str, &Template> = templates
        .iter()
        .map(|template| (template.name.as_str(), &**template))
        .collect();
    let record = Record {
        gradeline: PROGRAM.to_owned(),
        course: CourseRecord {
            name: course.name.clone(),
            conventions: (&course.conventions).into(),
            policy: (&course.policy).into(),
        },
        set: SetRecord {
            name: set.name.clone(),
            title: set.title.clone(),
            due: set.due.clone(),
            problems: (set.problems.iter())
                .map(|problem| ProblemRecord {
                    template: problem.template.clone(),
                    marks: problem.marks,
                })
                .collect(),
            policy: (&set.policy).into(),
        },
        templates: templates
            .into_values()
            .map(|template| TemplateRecord {
                name: template.name.clone(),
                blake3: hash(template),
                source: template.source.clone(),
                properties: if template.system.keeps_properties_in_si() {
                    PropertiesRecord::Si
                } else {
                    PropertiesRecord::OfTemperature
                },
            })
            .collect(),
        students: OneByOne(RefCell::new(students)),
    };
    let failed = |error: &dyn fmt::Display| Fault::new(format!("the record can't be written: {error}"));
    serde_json::to_writer_pretty(&mut *out, &record).map_err(|error| failed(&error))?;
    out.write_all(b"\n").map_err(|error| failed(&error))?;
    out.flush().map_err(|error| failed(&error).into())
}

impl From<&DrawnStudent> for StudentRecord {
    fn from(drawn: &DrawnStudent) -> Self {
        Self {
            id: drawn.student.id.clone(),
            name: drawn.student.name.clone(),
            email: drawn.student.email.clone(),
            problems: drawn.problems.iter().map(of_problem).collect(),
        }
    }
}

fn of_problem(drawn: &Drawn) -> DealtRecord {
    DealtRecord {
        candidate: drawn.draw.candidate,
        givens: (drawn.template.givens.iter().zip(&drawn.draw.values))
            .map(|(given, value)| (given.name.clone(), value.ascii()))
            .collect(),
    }
}

/// Students of an earlier deal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// How many there were.
    pub of: usize,
    /// The identifiers of those who have other numbers or problems now, or none.
    pub ids: Vec<String>,
    /// The names of templates whose text is another now. Students who are not among `ids` keep their numbers all the same.
    pub reworded: Vec<String>,
}

/// The record of an earlier deal of a set, of which nothing is worked out.
pub struct Earlier {
    record: Record,
    file: String,
}

impl Earlier {
    /// Reads a record's JSON; `file` is its name in faults.
    ///
    /// # Errors
    /// A record that can't be read, or that another major version wrote.
    pub fn parse(json: &[u8], file: &str) -> Checked<Self> {
        Ok(Self {
            record: parsed(json, file)?,
            file: file.to_owned(),
        })
    }

    /// Whose problems are no more as the record has them. `now` says what is drawn for an identifier; `None` where no
    /// student has it.
    ///
    /// # Errors
    /// Templates that do not fit their hashes.
    pub fn changed(&self, now: impl Fn(&str) -> Option<DrawnStudent>) -> Checked<Changed> {
        let record = &self.record;
        let templates = templates(&record.templates, &self.file)?;
        // What a student is dealt now; a template's text counts apart from the numbers.
        let mut reworded = BTreeSet::new();
        let mut ids = Vec::new();
        for old in &record.students {
            let new = now(&old.id).filter(|new| {
                let problems = old.problems.iter().zip(&record.set.problems);
                new.problems.len() == old.problems.len()
                    && (problems.zip(&new.problems)).all(|((old, problem), new)| {
                        new.template.name == problem.template && old.givens == of_problem(new).givens
                    })
            });
            match new {
                Some(new) => {
                    let is_other = |new: &&Drawn| {
                        let template = templates.get(&new.template.name);
                        template.is_none_or(|old| old.source != new.template.source)
                    };
                    let others = new.problems.iter().filter(is_other);
                    reworded.extend(others.map(|new| new.template.name.clone()));
                }
                None => ids.push(old.id.clone()),
            }
        }
        Ok(Changed {
            of: record.students.len(),
            ids,
            reworded: reworded.into_iter().collect(),
        })
    }

    /// Has the bank's templates that the record holds round and print properties in the units in which they were when it
    /// was written, so that a student who joins the roster later changes nobody's numbers.
    pub fn round_as_before(&self, bank: &mut Bank) {
        let before = (self.record.templates.iter()).filter(|old| old.properties == PropertiesRecord::Si);
        let names: Vec<&str> = before.map(|old| old.name.as_str()).collect();
        let kept = bank
            .templates
            .iter_mut()
            .filter(|template| names.contains(&template.name.as_str()));
        for template in kept {
            Arc::make_mut(template).system.keep_properties_in_si();
        }
    }
}

fn parsed(json: &[u8], file: &str) -> Checked<Record> {
    check_version(json, file)?;
    serde_json::from_slice(json).map_err(|error| {
        Fault::new(format!("this is no record of a deal: {error}"))
            .at(Place::file(file).at(error.line(), error.column()))
            .mend("take the record from a backup, or deal the set again")
            .into()
    })
}

/// Reads a record back and works out every answer, band and slip again, on all cores.
///
/// # Errors
/// A record that can't be read, that another major version wrote, or whose templates do not fit their hashes.
pub fn read(json: &[u8], file: &str) -> Checked<Restored> {
    let record = parsed(json, file)?;
    let templates = templates(&record.templates, file)?;
    let course = Course {
        name: record.course.name,
        conventions: record.course.conventions.into(),
        policy: record.course.policy.into(),
        ..Course::default()
    };
    let set = Set {
        name: record.set.name,
        title: record.set.title,
        due: record.set.due,
        problems: (record.set.problems.into_iter())
            .map(|problem| SetProblem {
                template: problem.template,
                marks: problem.marks,
            })
            .collect(),
        policy: record.set.policy.into(),
    };
    let students = jobs::in_order(record.students.len(), jobs::cores(), |i| {
        restore(&record.students[i], &templates, &course, &set, file)
    });
    let mut restored = Vec::with_capacity(students.len());
    let mut faults = Vec::new();
    for student in students {
        match student {
            Ok(student) => restored.push(student),
            Err(Faults(found)) => faults.extend(found),
        }
    }
    if !faults.is_empty() {
        return Err(Faults(faults));
    }
    Ok(Restored {
        course,
        set,
        students: restored,
    })
}

/// The part of a version that may not differ: the first number, or the first two while the first is 0.
fn generation(version: &str) -> Vec<&str> {
    let numbers: Vec<_> = version.split('.').collect();
    let count = if numbers.first() == Some(&"0") { 2 } else { 1 };
    numbers.into_iter().take(count).collect()
}

fn check_version(json: &[u8], file: &str) -> Checked<()> {
    #[derive(Deserialize)]
    struct Version {
        gradeline: String,
    }
    // Whatever else is wrong is found when the whole is read.
    let Ok(found) = serde_json::from_slice::<Version>(json) else {
        return Ok(());
    };
    if generation(&found.gradeline) == generation(PROGRAM) {
        return Ok(());
    }
    Err(Fault::new(format!(
        "this record was written by gradeline {}, and this is {PROGRAM}",
        found.gradeline
    ))
    .at(Place::file(file).field("gradeline"))
    .mend(format!(
        "mark the set with gradeline {}",
        generation(&found.gradeline).join(".")
    ))
    .into())
}

fn templates(records: &[TemplateRecord], file: &str) -> Checked<BTreeMap<String, Arc<Template>>> {
    let mut templates = BTreeMap::new();
    let mut faults = Vec::new();
    for record in records {
        if blake3::hash(record.source.as_bytes()).to_hex().as_str() != record.blake3 {
            faults.push(
                Fault::new(format!(
                    "the text of the template `{}` is not the one that was dealt",
                    record.name
                ))
                .at(Place::file(file).field("templates"))
                .mend("take the record from a backup; what was dealt can't be changed afterwards"),
            );
            continue;
        }
        match Template::parse(&record.source, &record.name, file) {
            Ok(mut template) => {
                if record.properties == PropertiesRecord::Si {
                    template.system.keep_properties_in_si();
                }
                templates.insert(record.name.clone(), Arc::new(template));
            }
            Err(Faults(found)) => faults.extend(found),
        }
    }
    if faults.is_empty() {
        Ok(templates)
    } else {
        Err(Faults(faults))
    }
}

fn restore(
    record: &StudentRecord,
    templates: &BTreeMap<String, Arc<Template>>,
    course: &Course,
    set: &Set,
    file: &str,
) -> Checked<DealtStudent> {
    let place = || Place::file(file).field(format!("students.{}", record.id));
    let broken = |what: String| {
        Faults::from(
            Fault::new(what)
                .at(place())
                .mend("take the record from a backup; what was dealt can't be changed afterwards"),
        )
    };
    if record.problems.len() != set.problems.len() {
        return Err(broken(format!(
            "{} problems are recorded for a set of {}",
            record.problems.len(),
            set.problems.len()
        )));
    }
    let mut problems = Vec::with_capacity(record.problems.len());
    for (dealt, problem) in record.problems.iter().zip(&set.problems) {
        let Some(template) = templates.get(&problem.template) else {
            return Err(broken(format!(
                "the record holds no template called `{}`",
                problem.template
            )));
        };
        if dealt.givens.len() != template.givens.len() {
            return Err(broken(format!(
                "the givens are not those of `{}`",
                problem.template
            )));
        }
        let mut values = Vec::with_capacity(template.givens.len());
        for given in &template.givens {
            let value = (dealt.givens.get(&given.name)).and_then(|text| as_drawn(given, text));
            match value {
                Some(value) => values.push(value),
                None => {
                    return Err(broken(format!(
                        "`{}` of `{}` has no value that the template can give it",
                        given.name, problem.template
                    )));
                }
            }
        }
        let draw = Draw {
            candidate: dealt.candidate,
            values,
        };
        problems.push(assess(template, draw, &set.policy, &course.conventions)?);
    }
    Ok(DealtStudent {
        student: Student {
            id: record.id.clone(),
            name: record.name.clone(),
            email: record.email.clone(),
        },
        problems,
    })
}

/// The value of a given's spread that is printed so.
fn as_drawn(given: &Given, text: &str) -> Option<Written> {
    match &given.spread {
        Spread::Fixed(value) => (value.ascii() == text).then(|| value.clone()),
        Spread::Choice(values) => values.iter().find(|value| value.ascii() == text).cloned(),
        Spread::Range {
            first,
            step,
            count,
            decimals,
            ..
        } => {
            let read = Written::parse(text).ok()?.number;
            let last_place = read * libm::pow(10.0, f64::from(*decimals));
            let n = ((last_place - *first as f64) / *step as f64).round();
            if !(n >= 0.0 && n < *count as f64) {
                return None;
            }
            Some(value_of(&given.spread, n as u64)).filter(|value| value.ascii() == text)
        }
    }
}
