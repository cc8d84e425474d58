//! A course folder's own files: `course.yaml`, `sets/NAME.yaml`, `roster.csv`.

use super::Bank;
use super::yaml::{Cursor, Doc, Fields, SIZE, listed};
use crate::constants::policy;
use crate::fault::{Checked, Fault, Faults, Place, nearest};
use crate::hydraulics::regime::Limits;
use crate::quantity::DecimalMark;
use crate::store;
use std::collections::BTreeMap;
use std::path::Path;
use unicode_normalization::UnicodeNormalization;

/// Largest roster \[bytes\].
const ROSTER_SIZE: u64 = 4 << 20;
/// Longest identifier of a student.
const LONGEST_ID: usize = 64;
/// Most problems of a set.
const MOST_PROBLEMS: usize = 100;

/// Which units a course works in: formula sheets, and worked solutions of problems that are not of one system themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// Metres, pascals, litres per second.
    #[default]
    Si,
    /// Feet, pounds per square inch, gallons per minute.
    UsCustomary,
}

/// How a course writes numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conventions {
    /// Units of what is not of one system by itself.
    pub units: UnitSystem,
    /// Point or comma.
    pub decimal_mark: DecimalMark,
    /// Significant figures that worked solutions print on the way.
    pub figures: u32,
    /// Significant figures to which handouts print (and problems use) properties of named fluids.
    pub property_figures: u32,
}

impl Default for Conventions {
    fn default() -> Self {
        Self {
            units: UnitSystem::Si,
            decimal_mark: DecimalMark::Point,
            figures: policy::FIGURES,
            property_figures: policy::PROPERTY_FIGURES,
        }
    }
}

/// A format of papers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Format {
    /// Markdown.
    Markdown,
    /// LaTeX.
    Latex,
    /// One HTML file.
    Html,
    /// PDF.
    Pdf,
}

impl Format {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Markdown, Self::Latex, Self::Html, Self::Pdf];

    /// The ending of its files, without a dot.
    pub fn extension(self) -> &'static str {
        match self {
            Self::Markdown => "md",
            Self::Latex => "tex",
            Self::Html => "html",
            Self::Pdf => "pdf",
        }
    }
}

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// 148 mm by 210 mm.
    A5,
    /// 210 mm by 297 mm.
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

/// How papers are printed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Printing {
    /// What `deal` writes, each format once; `None` for all that the program can make.
    pub formats: Option<Vec<Format>>,
    /// The sheet; `None` for A4 where units are SI and US letter where they are US customary.
    pub sheet: Option<Sheet>,
}

/// How marks are given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Policy {
    /// Share by which the friction factor may be misread, either way, where the chart's curves are level.
    pub reading_error: f64,
    /// How a misreading depends on the place on the chart.
    pub reading_model: ReadingModel,
    /// Whether an explicit formula for the friction factor may be taken in place of the chart.
    pub other_formulas: bool,
    /// Whether a named fluid's properties may come from a common table, and not only from the paper.
    pub table_properties: bool,
    /// Whether gravity may be taken as 9.8 or 9.806 65 m/s² where the paper has 9.81 m/s² or the like.
    pub other_gravities: bool,
    /// How unlike two students' draws of a problem may be.
    pub difficulty: DifficultySpread,
    /// Limits of the regimes.
    pub limits: Limits,
    /// Share of a part's marks for an answer that is right given the student's own earlier answers.
    pub follow_through_share: f64,
    /// Share of a part's marks for an answer that a known slip explains.
    pub slip_share: f64,
    /// An answer out of the band by less than this share of the band's half width is put before a person.
    pub review_margin: f64,
    /// Whether the answer 0.0016 counts where a unit was asked for and none written (taken in the unit asked).
    pub accept_missing_unit: bool,
}

impl Policy {
    /// What a course has that says nothing.
    pub const DEFAULT: Self = Self {
        reading_error: policy::READING_ERROR,
        reading_model: ReadingModel::Chart,
        other_formulas: true,
        table_properties: true,
        other_gravities: true,
        difficulty: DifficultySpread::DEFAULT,
        limits: Limits::DEFAULT,
        follow_through_share: policy::FOLLOW_THROUGH_SHARE,
        slip_share: policy::SLIP_SHARE,
        review_margin: policy::REVIEW_MARGIN,
        accept_missing_unit: false,
    };
}

impl Policy {
    /// What two policies have otherwise, by the names of `course.yaml`.
    pub fn unlike(&self, other: &Self) -> Vec<&'static str> {
        // Taken apart, so that a policy's new field is not forgotten here.
        let Self {
            reading_error,
            reading_model,
            other_formulas,
            table_properties,
            other_gravities,
            difficulty,
            limits,
            follow_through_share,
            slip_share,
            review_margin,
            accept_missing_unit,
        } = other;
        [
            ("reading error", self.reading_error == *reading_error),
            ("reading model", self.reading_model == *reading_model),
            ("other formulas", self.other_formulas == *other_formulas),
            ("table properties", self.table_properties == *table_properties),
            ("other gravities", self.other_gravities == *other_gravities),
            ("difficulty", self.difficulty == *difficulty),
            ("regime limits", self.limits == *limits),
            (
                "follow through share",
                self.follow_through_share == *follow_through_share,
            ),
            ("slip share", self.slip_share == *slip_share),
            ("review margin", self.review_margin == *review_margin),
            (
                "accept missing unit",
                self.accept_missing_unit == *accept_missing_unit,
            ),
        ]
        .into_iter()
        .filter(|(_, alike)| !alike)
        .map(|(name, _)| name)
        .collect()
    }
}

impl Default for Policy {
    fn default() -> Self {
        Self::DEFAULT
    }
}

/// How a misreading of the friction chart depends on the place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingModel {
    /// By the chart's own distances: harder where its curves are steep.
    Chart,
    /// The same share everywhere.
    Even,
}

/// How unlike two students' draws of a problem may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DifficultySpread {
    /// By how many the numbers of hand iterations may differ.
    pub iterations: u32,
    /// How many times as wide one student's reading error may be as another's.
    pub reading: f64,
    /// How many times as wide one student's band of a part may be as another's, relative to the answer.
    pub band: f64,
}

impl DifficultySpread {
    /// What a course has that says nothing.
    pub const DEFAULT: Self = Self {
        iterations: policy::ITERATION_SPREAD,
        reading: policy::READING_SPREAD,
        band: policy::BAND_SPREAD,
    };
}

/// `course.yaml`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Course {
    /// Name on papers.
    pub name: String,
    /// How numbers are written.
    pub conventions: Conventions,
    /// How marks are given.
    pub policy: Policy,
    /// How papers are printed.
    pub papers: Printing,
}

/// One problem of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct SetProblem {
    /// The template's name.
    pub template: String,
    /// Marks for the whole problem; the template's own where nothing is said. Parts share in proportion.
    pub marks: Option<f64>,
}

/// `sets/NAME.yaml`.
#[derive(Debug, Clone, PartialEq)]
pub struct Set {
    /// Its name: that of its file without `.yaml`.
    pub name: String,
    /// Title on papers.
    pub title: String,
    /// When it is due, as it is to be printed.
    pub due: Option<String>,
    /// The problems, in order.
    pub problems: Vec<SetProblem>,
    /// The course's policy with the set's own changes.
    pub policy: Policy,
}

/// A student on the roster.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Student {
    /// Identifier, in Unicode normal form C, as printed; unique on the roster without regard to case.
    pub id: String,
    /// Name.
    pub name: String,
    /// Address for mail, where it is known.
    pub email: String,
}

impl Student {
    /// The name of the student's folder: safe on common systems, and another for every other student.
    pub fn folder(&self) -> String {
        store::safe_name(&self.id)
    }
}

impl Course {
    /// The sheet that papers are printed on.
    pub fn sheet(&self) -> Sheet {
        self.papers.sheet.unwrap_or(match self.conventions.units {
            UnitSystem::Si => Sheet::A4,
            UnitSystem::UsCustomary => Sheet::Letter,
        })
    }

    /// Reads `course.yaml` text.
    ///
    /// # Errors
    /// Every fault of the text, with its place.
    pub fn parse(yaml: &str, file: &str) -> Checked<Self> {
        let doc = Doc::read(yaml, file)?;
        let course = course(&doc.root());
        doc.finish(course)
    }

    /// Reads `FOLDER/course.yaml`.
    ///
    /// # Errors
    /// As [`Course::parse`], or a file that can't be read.
    pub fn read(folder: &Path) -> Checked<Self> {
        let file = folder.join("course.yaml");
        if !file.exists() {
            return Err(
                Fault::new("this is no course folder, since it has no `course.yaml`")
                    .at(Place::file(folder.display().to_string()))
                    .mend("name the folder of a course, or make one with `gradeline start`")
                    .into(),
            );
        }
        let text = store::read_text(&file, SIZE as u64)?;
        Self::parse(&text, &file.display().to_string())
    }
}

impl Set {
    /// Reads the text of a set; policy it does not name is the course's. Where its templates are to be there, `bank` says
    /// which are.
    ///
    /// # Errors
    /// Every fault of the text, with its place.
    pub fn parse(yaml: &str, name: &str, file: &str, course: &Course, bank: Option<&Bank>) -> Checked<Self> {
        let doc = Doc::read(yaml, file)?;
        let set = set(&doc.root(), name, course, bank);
        doc.finish(set)
    }

    /// Reads `FOLDER/sets/NAME.yaml`.
    ///
    /// # Errors
    /// As [`Set::parse`], or a file that can't be read (then the sets that exist are named).
    pub fn read(folder: &Path, name: &str, course: &Course, bank: Option<&Bank>) -> Checked<Self> {
        let sets = folder.join("sets");
        let file = sets.join(format!("{name}.yaml"));
        let refused = |what: String| Fault::new(what).at(Place::file(sets.display().to_string()));
        // A name is never a way to another folder.
        if store::safe_name(name) != name {
            return Err(refused(format!("`{name}` can't be the name of a set"))
                .mend("call its file otherwise: letters, figures and hyphens, such as `week-3.yaml`")
                .into());
        }
        if !file.is_file() {
            let known: Vec<String> = (sets_in(&sets).into_iter())
                .filter(|known| store::safe_name(known) == *known)
                .collect();
            let mend = match nearest(name, known.iter().map(String::as_str)) {
                Some(near) => format!("did you mean `{near}`?"),
                None if known.is_empty() => "write it; docs/templates.md shows how".to_owned(),
                None => format!("the sets are {}", listed(&known)),
            };
            return Err(refused(format!("there is no set `{name}`")).mend(mend).into());
        }
        let text = store::read_text(&file, SIZE as u64)?;
        Self::parse(&text, name, &file.display().to_string(), course, bank)
    }
}

/// The names of the sets of a folder.
fn sets_in(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut names: Vec<String> = entries
        .filter_map(|entry| {
            let name = entry.ok()?.file_name().into_string().ok()?;
            Some(name.strip_suffix(".yaml")?.to_owned())
        })
        .collect();
    names.sort();
    names
}

fn course(root: &Cursor<'_>) -> Option<Course> {
    let fields = root.fields(&["name", "conventions", "policy", "papers"])?;
    let name = fields.need("name", "Fluid mechanics 1").and_then(|c| title(&c));
    let conventions = match fields.get("conventions") {
        Some(c) => conventions(&c),
        None => Some(Conventions::default()),
    };
    let policy = match fields.get("policy") {
        Some(c) => policy_over(&c, &Policy::default()),
        None => Some(Policy::default()),
    };
    let papers = match fields.get("papers") {
        Some(c) => printing(&c),
        None => Some(Printing::default()),
    };
    Some(Course {
        name: name?,
        conventions: conventions?,
        policy: policy?,
        papers: papers?,
    })
}

fn printing(at: &Cursor<'_>) -> Option<Printing> {
    let fields = at.fields(&["formats", "sheet"])?;
    let formats = or(&fields, "formats", None, |c| {
        let words = Format::ALL.map(|format| (format.extension(), format));
        let mut formats = Vec::new();
        let mut whole = true;
        for item in c.list()? {
            match one_of(&item, &words) {
                Some(format) if formats.contains(&format) => {}
                Some(format) => formats.push(format),
                None => whole = false,
            }
        }
        formats.sort();
        whole.then_some(Some(formats))
    });
    let sheet = or(&fields, "sheet", None, |c| {
        one_of(
            c,
            &[("A5", Sheet::A5), ("A4", Sheet::A4), ("letter", Sheet::Letter)],
        )
        .map(Some)
    });
    Some(Printing {
        formats: formats?,
        sheet: sheet?,
    })
}

fn title(at: &Cursor<'_>) -> Option<String> {
    let text = at.text()?;
    if text.is_empty() || text.chars().count() > 120 || text.contains('\n') {
        at.fault(
            format!("{} needs 1 to 120 characters on one line", at.called()),
            "shorten it",
        );
        return None;
    }
    Some(text.to_owned())
}

/// One of a few words.
fn one_of<T: Copy>(at: &Cursor<'_>, words: &[(&str, T)]) -> Option<T> {
    let text = at.text()?;
    if let Some((_, value)) = words.iter().find(|(word, _)| *word == text) {
        return Some(*value);
    }
    let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
    at.fault(
        format!("{} can't be `{text}`", at.called()),
        match nearest(text, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("write one of {}", listed(&known)),
        },
    );
    None
}

fn conventions(at: &Cursor<'_>) -> Option<Conventions> {
    let fields = at.fields(&["units", "decimal mark", "figures", "property figures"])?;
    let default = Conventions::default();
    let units = or(&fields, "units", default.units, |c| {
        one_of(
            c,
            &[("SI", UnitSystem::Si), ("US customary", UnitSystem::UsCustomary)],
        )
    });
    let decimal_mark = or(&fields, "decimal mark", default.decimal_mark, |c| {
        one_of(c, &[("point", DecimalMark::Point), ("comma", DecimalMark::Comma)])
    });
    let figures = or(&fields, "figures", default.figures, |c| c.whole(3, 8));
    let property_figures = or(&fields, "property figures", default.property_figures, |c| {
        c.whole(2, 8)
    });
    Some(Conventions {
        units: units?,
        decimal_mark: decimal_mark?,
        figures: figures?,
        property_figures: property_figures?,
    })
}

/// A field that may be left out.
fn or<'d, T>(
    fields: &Fields<'d>,
    name: &str,
    default: T,
    read: impl Fn(&Cursor<'d>) -> Option<T>,
) -> Option<T> {
    if fields.has(name) {
        read(&fields.get(name)?)
    } else {
        Some(default)
    }
}

/// Policy, where what is not named is `default`'s.
fn policy_over(at: &Cursor<'_>, default: &Policy) -> Option<Policy> {
    let fields = at.fields(&[
        "reading error",
        "reading model",
        "other formulas",
        "table properties",
        "other gravities",
        "difficulty",
        "regime limits",
        "follow through share",
        "slip share",
        "review margin",
        "accept missing unit",
    ])?;
    let reading_error = or(&fields, "reading error", default.reading_error, |c| {
        share(c, 0.25)
    });
    let model = or(&fields, "reading model", default.reading_model, |c| {
        one_of(c, &[("chart", ReadingModel::Chart), ("even", ReadingModel::Even)])
    });
    let formulas = or(&fields, "other formulas", default.other_formulas, |c| {
        c.yes_or_no()
    });
    let tables = or(&fields, "table properties", default.table_properties, |c| {
        c.yes_or_no()
    });
    let gravities = or(&fields, "other gravities", default.other_gravities, |c| {
        c.yes_or_no()
    });
    let difficulty = or(&fields, "difficulty", default.difficulty, |c| {
        difficulty(c, &default.difficulty)
    });
    let limits = or(&fields, "regime limits", default.limits, |c| {
        limits(c, &default.limits)
    });
    let follow = or(
        &fields,
        "follow through share",
        default.follow_through_share,
        |c| share(c, 1.0),
    );
    let slip = or(&fields, "slip share", default.slip_share, |c| share(c, 1.0));
    let margin = or(&fields, "review margin", default.review_margin, |c| {
        share(c, 10.0)
    });
    let missing = or(&fields, "accept missing unit", default.accept_missing_unit, |c| {
        c.yes_or_no()
    });
    Some(Policy {
        reading_error: reading_error?,
        reading_model: model?,
        other_formulas: formulas?,
        table_properties: tables?,
        other_gravities: gravities?,
        difficulty: difficulty?,
        limits: limits?,
        follow_through_share: follow?,
        slip_share: slip?,
        review_margin: margin?,
        accept_missing_unit: missing?,
    })
}

/// A share from 0 to `most`, as `0.05` or `5 %`.
fn share(at: &Cursor<'_>, most: f64) -> Option<f64> {
    let text = at.text()?;
    let (number, percent) = match text.strip_suffix('%') {
        Some(number) => (number.trim_end(), true),
        None => (text, false),
    };
    let plain = !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    match number.parse::<f64>() {
        Ok(value) if plain => {
            let value = if percent { value / 100.0 } else { value };
            if value <= most {
                return Some(value);
            }
            let mend = if percent {
                format!("write at most `{} %`", 100.0 * most)
            } else {
                format!("write at most `{most}`, or a percentage such as `5 %`")
            };
            at.fault(format!("{} is `{text}`, which is too much", at.called()), mend);
        }
        _ => at.fault(
            format!("{} is `{text}`, but a share is needed", at.called()),
            "write a share such as `0.05` or `5 %`",
        ),
    }
    None
}

fn difficulty(at: &Cursor<'_>, default: &DifficultySpread) -> Option<DifficultySpread> {
    let fields = at.fields(&["iterations", "reading", "band"])?;
    let ratio = |c: &Cursor<'_>| {
        let number = c.number()?;
        if number >= 1.0 {
            return Some(number);
        }
        c.fault(
            format!("{} is `{number}`, but it must be at least 1", c.called()),
            "write how many times as much one student's may be as another's, such as `1.5`",
        );
        None
    };
    let iterations = or(&fields, "iterations", default.iterations, |c| {
        let number = c.number()?;
        if number.fract() == 0.0 && (0.0..=100.0).contains(&number) {
            return Some(number as u32);
        }
        c.fault(
            format!(
                "{} is `{number}`, but it must be a whole number from 0 to 100",
                c.called()
            ),
            "write a number such as `1`",
        );
        None
    });
    let reading = or(&fields, "reading", default.reading, ratio);
    let band = or(&fields, "band", default.band, ratio);
    Some(DifficultySpread {
        iterations: iterations?,
        reading: reading?,
        band: band?,
    })
}

fn limits(at: &Cursor<'_>, default: &Limits) -> Option<Limits> {
    let fields = at.fields(&[
        "laminar end",
        "turbulent start",
        "fully rough start",
        "smooth end",
    ])?;
    let positive = |c: &Cursor<'_>| {
        let number = c.number()?;
        if number > 0.0 {
            return Some(number);
        }
        c.fault(
            format!("{} is `{number}`, but it must be greater than 0", c.called()),
            "write a number such as `2300`",
        );
        None
    };
    let laminar_end = or(&fields, "laminar end", default.laminar_end, positive);
    let turbulent_start = or(&fields, "turbulent start", default.turbulent_start, positive);
    let fully_rough_start = or(&fields, "fully rough start", default.fully_rough_start, positive);
    let smooth_end = or(&fields, "smooth end", default.smooth_end, positive);
    let limits = Limits {
        laminar_end: laminar_end?,
        turbulent_start: turbulent_start?,
        fully_rough_start: fully_rough_start?,
        smooth_end: smooth_end?,
    };
    if limits.laminar_end > limits.turbulent_start {
        at.fault(
            format!(
                "laminar flow ends at {}, which is beyond the start of turbulent flow at {}",
                limits.laminar_end, limits.turbulent_start
            ),
            "give `laminar end` and `turbulent start` in rising order",
        );
        return None;
    }
    // ε⁺ = Re √(f/8) ε/D, so the start of fully rough flow stands at this ε⁺.
    let rough = limits.fully_rough_start / libm::sqrt(8.0);
    if limits.smooth_end >= rough {
        at.fault(
            format!(
                "a wall would be smooth up to a roughness Reynolds number of {}, but fully rough from {rough:.1}",
                limits.smooth_end
            ),
            "write a smaller `smooth end` or a larger `fully rough start`",
        );
        return None;
    }
    Some(limits)
}

fn set(root: &Cursor<'_>, name: &str, course: &Course, bank: Option<&Bank>) -> Option<Set> {
    let fields = root.fields(&["title", "due", "problems", "policy"])?;
    let title = match fields.has("title") {
        true => fields.get("title").and_then(|c| self::title(&c)),
        false => Some(name.to_owned()),
    };
    let due = or(&fields, "due", None, |c| self::title(c).map(Some));
    let problems = fields
        .need("problems", "[rising-main-pump-power]")
        .and_then(|c| problems(&c, bank));
    let policy = or(&fields, "policy", course.policy, |c| {
        policy_over(c, &course.policy)
    });
    Some(Set {
        name: name.to_owned(),
        title: title?,
        due: due?,
        problems: problems?,
        policy: policy?,
    })
}

fn problems(at: &Cursor<'_>, bank: Option<&Bank>) -> Option<Vec<SetProblem>> {
    let items = at.list()?;
    if items.is_empty() || items.len() > MOST_PROBLEMS {
        at.fault(
            format!(
                "a set needs 1 to {MOST_PROBLEMS} problems, but has {}",
                items.len()
            ),
            "list the names of templates, each on a line that begins with `-`",
        );
        return None;
    }
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let read: Vec<Option<SetProblem>> = items
        .iter()
        .map(|item| {
            let (template, marks) = if item.is_map() {
                let fields = item.fields(&["template", "marks"])?;
                let template = fields.need("template", "rising-main-pump-power");
                let marks = or(&fields, "marks", None, |c| {
                    let marks = c.number()?;
                    if marks > 0.0 && marks <= 10_000.0 {
                        return Some(Some(marks));
                    }
                    c.fault(
                        format!(
                            "`marks` is {}, but it must be greater than 0 and at most 10000",
                            format!("{marks:?}").trim_end_matches(".0")
                        ),
                        "write a number such as `10`",
                    );
                    None
                });
                (template?, marks?)
            } else {
                (item.clone(), None)
            };
            let name = template.text()?.to_owned();
            if name.is_empty() {
                template.fault("the template has no name", "write the name of a template");
                return None;
            }
            if let Some(first) = seen.insert(name.clone(), template.line()) {
                template.fault(
                    format!("`{name}` is in the set already, on line {first}"),
                    "take it out; every student gets the same numbers for the same template in one set",
                );
                return None;
            }
            if let Some(Err(Faults(faults))) = bank.map(|bank| bank.find(&name)) {
                for fault in faults {
                    template.add(fault.at(template.place()));
                }
                return None;
            }
            Some(SetProblem {
                template: name,
                marks,
            })
        })
        .collect();
    read.into_iter().collect()
}

/// Reads `FOLDER/roster.csv`.
///
/// # Errors
/// As [`roster`], or a file that can't be read.
pub fn read_roster(folder: &Path) -> Checked<Vec<Student>> {
    let file = folder.join("roster.csv");
    let bytes = store::read(&file, ROSTER_SIZE)?;
    roster(&bytes, &file.display().to_string())
}

/// Reads a roster: CSV with the columns id, name and (optionally) email, in any order.
///
/// Commas, semicolons or tabs stand between the cells; other columns are passed over.
///
/// # Errors
/// Every fault of the file, with its line: missing columns, empty or repeated ids.
pub fn roster(csv: &[u8], file: &str) -> Checked<Vec<Student>> {
    let text = roster_text(csv, file)?;
    let head = text.lines().next().unwrap_or_default();
    let delimiter = [b',', b';', b'\t']
        .into_iter()
        .max_by_key(|d| (head.bytes().filter(|b| b == d).count(), *d == b','))
        .unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .has_headers(false)
        .from_reader(text.as_bytes());
    let mut faults = Vec::new();
    let mut records = Vec::new();
    let mut lines = Lines { text, at: 0, line: 1 };
    for record in reader.records() {
        match record {
            Ok(record) => {
                let start = record.position().map_or(0, csv::Position::byte);
                let line = lines.line_of(usize::try_from(start).unwrap_or(usize::MAX));
                records.push((line, record));
            }
            Err(error) => {
                faults.push(Fault::new(format!("the roster can't be read: {error}")).at(Place::file(file)))
            }
        }
    }
    let place = |line: usize, column: &str| {
        let mut place = Place::file(file).field(column);
        place.line = Some(line);
        place
    };
    let Some((head_line, head)) = records.first() else {
        return Err(Fault::new("the roster is empty")
            .at(Place::file(file))
            .mend("begin it with the line `id,name,email`, then one line a student")
            .into());
    };
    let heads: Vec<String> = head.iter().map(|h| h.trim().to_lowercase()).collect();
    let mut column = |name: &str, needed: bool| {
        let mut at = heads
            .iter()
            .enumerate()
            .filter(|(_, h)| *h == name)
            .map(|(i, _)| i);
        let (first, second) = (at.next(), at.next());
        if second.is_some() {
            faults.push(
                Fault::new(format!("two columns are called `{name}`"))
                    .at(place(*head_line, name))
                    .mend("keep one of them"),
            );
        }
        if first.is_none() && needed {
            let mend = match nearest(name, heads.iter().map(String::as_str).filter(|h| !h.is_empty())) {
                Some(near) => format!("rename the column `{near}` to `{name}`"),
                None => format!("add a column with `{name}` in the first line, such as `id,name,email`"),
            };
            faults.push(
                Fault::new(format!("the roster has no column `{name}`"))
                    .at(place(*head_line, ""))
                    .mend(mend),
            );
        }
        first
    };
    let (id, name, email) = (column("id", true), column("name", true), column("email", false));
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut students = Vec::new();
    for (line, record) in &records[1..] {
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        if record.iter().any(|cell| cell.contains('\n')) {
            faults.push(
                Fault::new("a cell runs over several lines")
                    .at(place(*line, ""))
                    .mend("look for a quotation mark that is never closed"),
            );
            continue;
        }
        if record.len() != heads.len() {
            faults.push(
                Fault::new(format!(
                    "the line has {} cells, but the first line has {}",
                    record.len(),
                    heads.len()
                ))
                .at(place(*line, ""))
                .mend("put a cell that holds the separator in quotation marks"),
            );
            continue;
        }
        let cell = |column: Option<usize>| {
            let text = column.and_then(|column| record.get(column)).unwrap_or_default();
            text.trim().nfc().collect::<String>()
        };
        let student = Student {
            id: cell(id),
            name: cell(name),
            email: cell(email),
        };
        if id.is_some()
            && let Some((what, mend)) = bad_id(&student.id)
        {
            faults.push(Fault::new(what).at(place(*line, "id")).mend(mend));
            continue;
        }
        if let Some(bad) = [(&student.name, "name"), (&student.email, "email")]
            .into_iter()
            .find(|(text, _)| text.chars().any(invisible) || text.chars().count() > 200)
        {
            faults.push(
                Fault::new(format!(
                    "the {} holds invisible characters or more than 200",
                    bad.1
                ))
                .at(place(*line, bad.1))
                .mend("type it anew"),
            );
            continue;
        }
        if id.is_some()
            && let Some(first) = seen.insert(student.id.to_lowercase(), *line)
        {
            faults.push(
                Fault::new(format!("the id `{}` is on line {first} already", student.id))
                    .at(place(*line, "id"))
                    .mend("give every student one line and an id of their own (capitals make no difference)"),
            );
            continue;
        }
        students.push(student);
    }
    if faults.is_empty() && students.is_empty() {
        faults.push(
            Fault::new("the roster has no student")
                .at(Place::file(file))
                .mend("add a line for each student below the first"),
        );
    }
    if faults.is_empty() {
        Ok(students)
    } else {
        faults.sort_by_key(|f| f.place.as_ref().map(|p| p.line));
        Err(Faults(faults))
    }
}

/// Counts the lines of a text from one record to the next. The reader's own count is one too low where lines end with a
/// carriage return and a line feed, since the record before ends between the two, and where empty lines stand before.
struct Lines<'t> {
    text: &'t str,
    /// The byte up to which lines are counted, never one of a line's end.
    at: usize,
    /// The line there.
    line: usize,
}

impl Lines<'_> {
    /// The line of a record that starts at a byte, not before that of the record before.
    fn line_of(&mut self, start: usize) -> usize {
        let rest = self.text.get(self.at..).unwrap_or_default();
        let before = rest.get(..start.saturating_sub(self.at)).unwrap_or(rest);
        let after = rest[before.len()..].trim_start_matches(['\r', '\n']);
        let passed = &rest[..rest.len() - after.len()];
        self.line += passed.replace("\r\n", "\n").matches(['\r', '\n']).count();
        self.at += passed.len();
        self.line
    }
}

/// The text of a roster, without byte order mark.
fn roster_text<'b>(csv: &'b [u8], file: &str) -> Checked<&'b str> {
    if csv.starts_with(&[0xff, 0xfe]) || csv.starts_with(&[0xfe, 0xff]) {
        return Err(Fault::new("the roster is written in UTF-16")
            .at(Place::file(file))
            .mend("save it from the spreadsheet as `CSV UTF-8`")
            .into());
    }
    let csv = csv.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(csv);
    std::str::from_utf8(csv).map_err(|error| {
        let line = 1 + csv[..error.valid_up_to()].iter().filter(|b| **b == b'\n').count();
        let mut place = Place::file(file);
        place.line = Some(line);
        Fault::new("the roster is not written in UTF-8")
            .at(place)
            .mend("save it from the spreadsheet as `CSV UTF-8`")
            .into()
    })
}

/// Control characters, and those that turn the direction of writing or take no room.
fn invisible(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

/// What is wrong with an id, and how to mend it.
fn bad_id(id: &str) -> Option<(String, &'static str)> {
    if id.is_empty() {
        return Some((
            "the student has no id".to_owned(),
            "write one, or take the line out",
        ));
    }
    if id.chars().count() > LONGEST_ID {
        return Some((
            format!("the id has more than {LONGEST_ID} characters"),
            "check the columns, or shorten it",
        ));
    }
    if id.chars().any(invisible) {
        return Some((
            format!("the id `{}` holds invisible characters", id.escape_debug()),
            "type it anew",
        ));
    }
    if !id.chars().any(char::is_alphanumeric) {
        return Some((
            format!("the id `{id}` has neither letter nor figure"),
            "write the student's number or account name",
        ));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(csv: &str) -> String {
        roster(csv.as_bytes(), "roster.csv").unwrap_err().to_string()
    }

    #[test]
    fn a_roster_is_read_whatever_its_separator_and_order() {
        for text in [
            "id,name,email\nA1,Ann Ode,a@x.example\n",
            "\u{feff}Name;EMAIL;id\r\nAnn Ode;a@x.example;A1\r\n",
            "name\tgroup\tid\temail\nAnn Ode\t4\tA1\ta@x.example\n\n\t\t\t\n",
        ] {
            let students = roster(text.as_bytes(), "r").unwrap();
            assert_eq!(
                students,
                [Student {
                    id: "A1".into(),
                    name: "Ann Ode".into(),
                    email: "a@x.example".into()
                }]
            );
        }
    }

    #[test]
    fn ids_are_composed_and_told_apart_without_case() {
        let students = roster("id,name\nmu\u{0308}ller,M\n".as_bytes(), "r").unwrap();
        assert_eq!(students[0].id, "m\u{fc}ller");
        let said = refused("id,name\nab1,One\nAB1,Two\n,Three\nx\u{202e}y,Four\n");
        assert!(
            said.contains("the id `AB1` is on line 2 already\n  at: roster.csv:3 (id)"),
            "{said}"
        );
        assert!(said.contains("has no id\n  at: roster.csv:4"), "{said}");
        assert!(
            said.contains("invisible characters\n  at: roster.csv:5"),
            "{said}"
        );
    }

    #[test]
    fn lines_are_counted_however_they_end() {
        for text in [
            "id,name\n\nab1,One\nAB1,Two\n",
            "id,name\r\n\r\nab1,One\r\nAB1,Two\r\n",
            "id,name\r\rab1,One\rAB1,Two",
        ] {
            let said = refused(text);
            assert!(
                said.contains("is on line 3 already\n  at: roster.csv:4 (id)"),
                "{text:?}: {said}"
            );
        }
    }

    #[test]
    fn ragged_lines_and_open_quotes_are_named() {
        assert!(refused("id,name\nA,B,C\n").contains("3 cells"));
        assert!(refused("id,name\nA,\"B\nC,D\n").contains("several lines"));
        assert!(refused("ids,name\nA,B\n").contains("rename the column `ids` to `id`"));
        // A column that is missing hides nothing else.
        let said = refused("id,names\nA,B\na,C,D\nA,E\n");
        assert!(said.contains("rename the column `names` to `name`"), "{said}");
        assert!(
            said.contains("3 cells") && said.contains("the id `A` is on line 2"),
            "{said}"
        );
        let said = refused("number,name\n,B\n");
        assert_eq!(said.matches("error").count(), 1, "{said}");
        assert!(refused("").contains("empty"));
        assert!(refused("id,name\n").contains("no student"));
        assert!(
            roster(b"\xff\xfei\0d\0", "r")
                .unwrap_err()
                .to_string()
                .contains("UTF-16")
        );
        assert!(
            roster(b"id,name\nA,\xe9\n", "r")
                .unwrap_err()
                .to_string()
                .contains("r:2")
        );
    }

    #[test]
    fn a_course_needs_only_a_name() {
        let course = Course::parse("name: Pipes\n", "course.yaml").unwrap();
        assert_eq!(course.policy, Policy::default());
        assert_eq!(course.conventions, Conventions::default());
    }

    #[test]
    fn a_set_takes_what_it_does_not_name_from_the_course() {
        let course = Course::parse(
            "name: Pipes\npolicy: { reading error: 4 %, slip share: 0.25, regime limits: { laminar end: 2100 } }\n",
            "course.yaml",
        )
        .unwrap();
        let set = Set::parse(
            "title: Week 3\nproblems: [a, { template: b, marks: 10 }]\npolicy: { slip share: 0 }\n",
            "week3",
            "sets/week3.yaml",
            &course,
            None,
        )
        .unwrap();
        assert_eq!(set.policy.slip_share, 0.0);
        assert_eq!(set.policy.reading_error, 0.04);
        assert_eq!(set.policy.limits.laminar_end, 2100.0);
        assert_eq!(set.problems[1].marks, Some(10.0));
    }
}
