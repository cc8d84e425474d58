//! The papers of a set, from templates.

use super::display::Room;
use super::figures::Figures;
use super::html::Html;
use super::latex::Latex;
use super::markdown::Markdown;
use super::typst::Typst;
use super::{REFERENCE_TITLE, Writer, content, drawings, reference, sheet, words};
use crate::bank::course::{Course, Format, Set, Sheet, UnitSystem};
use crate::bank::prose::Block;
use crate::constants::policy::CAUTION;
use crate::deal::{Dealt, DealtStudent};
use crate::equation::Style;
use crate::fault::{Checked, Fault, Faults, Place, nearest};
use crate::quantity::DecimalMark;
use crate::typeset;
use std::collections::BTreeMap;
use std::io::Write;
use std::ops::Range;
use std::path::{Path, PathBuf};
use tera::{Context, Delimiters, ErrorKind, Tera, Value};

/// Which paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Paper {
    /// The problems, for the student.
    Handout,
    /// The reference answers and bands, for the instructor.
    Key,
    /// The worked solutions, for the instructor.
    WorkedSolutions,
}

impl Paper {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Handout, Self::Key, Self::WorkedSolutions];

    /// The name of its template, without the format's ending.
    fn template(self) -> &'static str {
        match self {
            Self::Handout => "handout",
            Self::Key => "key",
            Self::WorkedSolutions => "worked",
        }
    }

    /// What it is called on itself.
    fn title(self) -> &'static str {
        let [handout, key, worked] = words::PAPERS;
        match self {
            Self::Handout => handout,
            Self::Key => key,
            Self::WorkedSolutions => worked,
        }
    }

    /// What a file of everyone's is called.
    pub fn of_everyone(self, set: &Set) -> String {
        format!("{}, {}", set.title, self.title())
    }
}

/// The text of a paper in a format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// Markdown.
    Markdown,
    /// LaTeX.
    Latex,
    /// HTML.
    Html,
    /// Typst, from which PDF is made.
    Typst,
}

impl Source {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Markdown, Self::Latex, Self::Html, Self::Typst];

    /// The ending of its files, without a dot.
    pub fn extension(self) -> &'static str {
        match self {
            Self::Markdown => "md",
            Self::Latex => "tex",
            Self::Html => "html",
            Self::Typst => "typ",
        }
    }

    /// The source of a template by the ending of its name.
    fn of_template(name: &str) -> Self {
        let found = Self::ALL.into_iter().find(|source| {
            name.rsplit_once('.')
                .is_some_and(|(_, ending)| ending == source.extension())
        });
        found.unwrap_or(Self::Markdown)
    }

    /// What the format is written from.
    fn of(format: Format) -> Self {
        match format {
            Format::Markdown => Self::Markdown,
            Format::Latex => Self::Latex,
            Format::Html => Self::Html,
            Format::Pdf => Self::Typst,
        }
    }

    /// What the format calls a sheet of paper.
    fn sheet(self, sheet: Sheet) -> &'static str {
        match (self, sheet) {
            (Self::Latex, Sheet::A5) => "a5paper",
            (Self::Latex, Sheet::A4) => "a4paper",
            (Self::Latex, Sheet::Letter) => "letterpaper",
            (Self::Typst, Sheet::A5) => "a5",
            (Self::Typst, Sheet::A4) => "a4",
            (Self::Typst, Sheet::Letter) => "us-letter",
            (_, Sheet::A5) => "A5",
            (_, Sheet::A4) => "A4",
            (_, Sheet::Letter) => "letter",
        }
    }
}

/// A paper as files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Printed {
    /// The paper itself.
    pub contents: Vec<u8>,
    /// Drawings that must lie beside it: name and contents.
    pub beside: Vec<(String, Vec<u8>)>,
}

macro_rules! templates {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_str!(concat!("../../templates/", $name)))),*]
    };
}

/// The built-in templates.
const TEMPLATES: &[(&str, &str)] = templates![
    "document.html",
    "document.md",
    "document.tex",
    "document.typ",
    "foot.md",
    "handout.html",
    "handout.md",
    "handout.tex",
    "handout.typ",
    "head.html",
    "head.md",
    "head.tex",
    "head.typ",
    "key.html",
    "key.md",
    "key.tex",
    "key.typ",
    "page.html",
    "pages.tex",
    "pages.typ",
    "preamble.tex",
    "preamble.typ",
    "problem.html",
    "problem.md",
    "problem.tex",
    "problem.typ",
    "style.html",
    "worked.html",
    "worked.md",
    "worked.tex",
    "worked.typ",
];

/// The folder of drawings, beside the papers that show them.
const FIGURES: &str = "figures";

/// A template larger than this \[bytes\] is not read: somebody put the wrong file there.
const LARGEST: u64 = 1 << 20;

/// Writes papers with the built-in templates or a course's own.
pub struct Papers {
    /// One engine a source, in the order of [`Source::ALL`].
    engines: [Tera; 4],
    /// Where templates that are not built in were read, by name.
    own: BTreeMap<String, PathBuf>,
}

fn escape_markdown(text: &str, out: &mut dyn Write) -> std::io::Result<()> {
    out.write_all(super::markdown::guard_start(&super::markdown::escape(text)).as_bytes())
}

fn escape_latex(text: &str, out: &mut dyn Write) -> std::io::Result<()> {
    out.write_all(super::latex::escape(text).as_bytes())
}

fn escape_html(text: &str, out: &mut dyn Write) -> std::io::Result<()> {
    out.write_all(super::html::escape(text).as_bytes())
}

fn escape_typst(text: &str, out: &mut dyn Write) -> std::io::Result<()> {
    out.write_all(super::typst::escape(text).as_bytes())
}

/// An engine for one format: delimiters that its text does not use, and its own escaping for every value that
/// the writers have not already written.
fn engine(source: Source) -> Result<Tera, tera::Error> {
    let mut tera = Tera::new();
    if matches!(source, Source::Latex | Source::Typst) {
        tera.set_delimiters(Delimiters {
            block_start: "<%".into(),
            block_end: "%>".into(),
            variable_start: "<<".into(),
            variable_end: ">>".into(),
            comment_start: "<#".into(),
            comment_end: "#>".into(),
        })?;
    }
    tera.set_escape_fn(match source {
        Source::Markdown => escape_markdown,
        Source::Latex => escape_latex,
        Source::Html => escape_html,
        Source::Typst => escape_typst,
    });
    tera.autoescape_on(match source {
        Source::Markdown => [".md"],
        Source::Latex => [".tex"],
        Source::Html => [".html"],
        Source::Typst => [".typ"],
    });
    tera.add_raw_templates(
        TEMPLATES
            .iter()
            .filter(|(name, _)| Source::of_template(name) == source)
            .copied(),
    )?;
    Ok(tera)
}

impl Papers {
    /// The built-in templates, those in `override_folder` (a course's `templates/`) taking their place. A
    /// folder that does not exist overrides nothing.
    ///
    /// # Errors
    /// Files there that are no template's, and templates that can't be read: all of them.
    pub fn new(override_folder: Option<&Path>) -> Checked<Self> {
        let built_in = |e: tera::Error| Faults::from(template_fault(&e, &BTreeMap::new()));
        let [markdown, latex, html, typst] = Source::ALL.map(engine);
        let mut papers = Self {
            engines: [
                markdown.map_err(built_in)?,
                latex.map_err(built_in)?,
                html.map_err(built_in)?,
                typst.map_err(built_in)?,
            ],
            own: BTreeMap::new(),
        };
        if let Some(folder) = override_folder {
            papers.override_with(folder)?;
        }
        Ok(papers)
    }

    fn override_with(&mut self, folder: &Path) -> Checked<()> {
        let entries = match std::fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(()),
            Err(e) => return Err(unreadable(folder, &e).into()),
        };
        let mut files = Vec::new();
        for entry in entries {
            files.push(entry.map_err(|e| unreadable(folder, &e))?.path());
        }
        files.sort();
        let mut faults = Vec::new();
        let mut texts: Vec<(String, String)> = Vec::new();
        for file in files {
            let name = file
                .file_name()
                .map(|n| n.to_string_lossy().into_owned())
                .unwrap_or_default();
            // Hidden files belong to the desktop or to an editor.
            if name.starts_with('.') {
                continue;
            }
            if !TEMPLATES.iter().any(|(known, _)| *known == name) {
                faults.push(unknown(&name, &file));
                continue;
            }
            match read(&file) {
                Ok(text) => {
                    self.own.insert(name.clone(), file);
                    texts.push((name, text));
                }
                Err(found) => faults.extend(found.0),
            }
        }
        // One by one, so that every broken template is named; then together, as one may use another's parts.
        let mut broken = Vec::new();
        for (name, text) in &texts {
            if let Err(e) = self.engines[Source::of_template(name) as usize].add_raw_template(name, text) {
                broken.push(e);
            }
        }
        if !broken.is_empty() {
            let mut together = Vec::new();
            for source in Source::ALL {
                let some: Vec<_> = texts
                    .iter()
                    .filter(|(name, _)| Source::of_template(name) == source)
                    .cloned()
                    .collect();
                if let Err(e) = self.engines[source as usize].add_raw_templates(some) {
                    together.push(e);
                }
            }
            if !together.is_empty() {
                faults.extend(broken.iter().map(|e| template_fault(e, &self.own)));
            }
        }
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Faults(faults))
        }
    }

    fn render(&self, source: Source, name: &str, context: &Context) -> Checked<String> {
        let name = format!("{name}.{}", source.extension());
        self.engines[source as usize]
            .render(&name, context)
            .map_err(|e| template_fault(&e, &self.own).into())
    }

    /// The text of one paper of one student, without the drawings that lie beside it.
    ///
    /// # Errors
    /// A template that fails, or a text that can't be filled.
    pub fn paper(
        &self,
        paper: Paper,
        source: Source,
        course: &Course,
        set: &Set,
        dealt: &DealtStudent,
    ) -> Checked<String> {
        self.text(
            paper,
            source,
            course,
            set,
            std::slice::from_ref(dealt),
            &Figures::new("figure"),
        )
    }

    /// One paper of one student as files; drawings beside it are called `figures/STEM-1.svg` and so on, or stand on the pages
    /// of `figures/STEM.pdf`.
    ///
    /// # Errors
    /// As [`Papers::paper`]; PDF from a program without the feature `pdf`.
    pub fn print(
        &self,
        paper: Paper,
        format: Format,
        course: &Course,
        set: &Set,
        dealt: &DealtStudent,
        stem: &str,
    ) -> Checked<Printed> {
        if format == Format::Pdf {
            return Ok(Printed {
                contents: self.pdf(paper, course, set, dealt)?,
                beside: Vec::new(),
            });
        }
        let figures = figures_of(format, stem);
        let one = std::slice::from_ref(dealt);
        let contents = self.text(paper, Source::of(format), course, set, one, &figures)?;
        Ok(Printed {
            contents: contents.into_bytes(),
            beside: beside(figures, format)?,
        })
    }

    /// A worked solution is typeset problem by problem: it is long, and takes memory by the page while it is made.
    fn pdf(&self, paper: Paper, course: &Course, set: &Set, dealt: &DealtStudent) -> Checked<Vec<u8>> {
        let title = title_of_one(paper, set, dealt);
        let ident = format!("{}/{}/{}", set.name, paper.template(), dealt.student.id);
        let count = dealt.problems.len();
        if paper != Paper::WorkedSolutions || count < 2 {
            let figures = figures_of(Format::Pdf, "");
            let one = std::slice::from_ref(dealt);
            let text = self.text(paper, Source::Typst, course, set, one, &figures)?;
            return typeset_with(&text, figures, &ident);
        }
        typeset::join(&title, count, &mut |n, first_page| {
            let figures = figures_of(Format::Pdf, "");
            let context = self.context(paper, Source::Typst, course, set, dealt, n..n + 1, &figures)?;
            let body = self.render(Source::Typst, paper.template(), &context)?;
            let body = piece_begins(paper, first_page) + &body;
            let text = self.whole(Source::Typst, course, &title, &[body])?;
            typeset_with(&text, figures, &format!("{ident}/{}", n + 1))
        })
    }

    /// One paper of many students in one LaTeX document, for one run of the typesetter and for the copier:
    /// each begins on an odd page, with page numbers of its own. Its drawings stand on the pages of `figures/STEM.pdf`.
    ///
    /// # Errors
    /// As [`Papers::paper`].
    pub fn packet(
        &self,
        paper: Paper,
        course: &Course,
        set: &Set,
        students: &[DealtStudent],
        stem: &str,
    ) -> Checked<Printed> {
        let figures = figures_of(Format::Latex, stem);
        let contents = self.text(paper, Source::Latex, course, set, students, &figures)?;
        Ok(Printed {
            contents: contents.into_bytes(),
            beside: beside(figures, Format::Latex)?,
        })
    }

    /// Bodies of students' papers in one document.
    fn text(
        &self,
        paper: Paper,
        source: Source,
        course: &Course,
        set: &Set,
        students: &[DealtStudent],
        figures: &Figures,
    ) -> Checked<String> {
        let mut bodies = Vec::new();
        for dealt in students {
            let all = 0..dealt.problems.len();
            let context = self.context(paper, source, course, set, dealt, all, figures)?;
            bodies.push(self.render(source, paper.template(), &context)?);
        }
        let title = match students {
            [one] => title_of_one(paper, set, one),
            _ => paper.of_everyone(set),
        };
        self.whole(source, course, &title, &bodies)
    }

    /// A document of its own, such as the worked solution of one system.
    ///
    /// # Errors
    /// A template that fails.
    pub fn document(
        &self,
        source: Source,
        course: &Course,
        title: &str,
        blocks: &[Block],
    ) -> Checked<String> {
        self.document_with(source, course, title, blocks, &Figures::new("figure"))
    }

    /// A document of its own as files; drawings as those of [`Papers::print`].
    ///
    /// # Errors
    /// As [`Papers::document`]; PDF from a program without the feature `pdf`.
    pub fn print_document(
        &self,
        format: Format,
        course: &Course,
        title: &str,
        blocks: &[Block],
        stem: &str,
    ) -> Checked<Printed> {
        let figures = figures_of(format, stem);
        let text = self.document_with(Source::of(format), course, title, blocks, &figures)?;
        if format == Format::Pdf {
            return Ok(Printed {
                contents: typeset_with(&text, figures, title)?,
                beside: Vec::new(),
            });
        }
        Ok(Printed {
            contents: text.into_bytes(),
            beside: beside(figures, format)?,
        })
    }

    /// The sheet of formulas and tables, in small print so that it is two pages.
    ///
    /// # Errors
    /// As [`Papers::print_document`].
    pub fn formula_sheet(&self, format: Format, course: &Course) -> Checked<Vec<u8>> {
        let blocks = reference(&course.conventions, &course.policy.limits);
        let figures = figures_of(format, "figure");
        let (source, title) = (Source::of(format), REFERENCE_TITLE);
        let text = self.document_like(source, course, title, &blocks, &figures, true)?;
        match format {
            Format::Pdf => typeset_with(&text, figures, title),
            _ => Ok(text.into_bytes()),
        }
    }

    fn document_with(
        &self,
        source: Source,
        course: &Course,
        title: &str,
        blocks: &[Block],
        figures: &Figures,
    ) -> Checked<String> {
        self.document_like(source, course, title, blocks, figures, false)
    }

    fn document_like(
        &self,
        source: Source,
        course: &Course,
        title: &str,
        blocks: &[Block],
        figures: &Figures,
        close: bool,
    ) -> Checked<String> {
        let writer = writer(source, course, 0, figures);
        let mut context = common(source, course);
        context.insert("title", title);
        context.insert_value("close", Value::from(close));
        context.insert_value("body", safe(&writer.blocks(blocks)));
        let body = self.render(source, "document", &context)?;
        self.whole(source, course, title, &[body])
    }

    /// A whole file around bodies.
    fn whole(&self, source: Source, course: &Course, title: &str, bodies: &[String]) -> Checked<String> {
        let mut context = common(source, course);
        context.insert("title", title);
        let template = match source {
            Source::Markdown => return Ok(tidy(bodies.join("\n"))),
            Source::Html | Source::Typst => {
                context.insert_value("body", safe(&bodies.join("\n")));
                if source == Source::Html { "page" } else { "pages" }
            }
            Source::Latex => {
                context.insert_value(
                    "bodies",
                    Value::from(bodies.iter().map(|b| safe(b)).collect::<Vec<_>>()),
                );
                "pages"
            }
        };
        // Goes into the file's properties, where LaTeX's commands mean nothing.
        let plain: String = title
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || " .,-".contains(*c))
            .take(120)
            .collect();
        context.insert_value("file_title", safe(&plain));
        self.render(source, template, &context).map(tidy)
    }

    /// The blank answer sheet of one student: CSV with the columns student, problem, part, answer, asked, which
    /// semicolons separate in a course whose decimal mark is the comma.
    ///
    /// # Errors
    /// Never in practice; writing to memory.
    pub fn answer_sheet(&self, course: &Course, dealt: &DealtStudent) -> Checked<Vec<u8>> {
        sheet::blank(dealt, course.conventions.decimal_mark)
    }

    /// What templates can use, to write these problems; `docs/papers.md` lists it.
    #[expect(clippy::too_many_arguments, reason = "what a paper depends on")]
    fn context(
        &self,
        paper: Paper,
        source: Source,
        course: &Course,
        set: &Set,
        dealt: &DealtStudent,
        which: Range<usize>,
        figures: &Figures,
    ) -> Checked<Context> {
        let text = writer(source, course, 2, figures);
        let step = writer(source, course, 3, figures);
        let mut problems = Vec::new();
        let mut total = 0.0;
        for (n, problem) in dealt.problems.iter().enumerate() {
            let worth = set
                .problems
                .get(n)
                .and_then(|p| p.marks)
                .unwrap_or_else(|| problem.template.marks());
            total += worth;
            if !which.contains(&n) {
                continue;
            }
            problems.push(self.problem(paper, [&*text, &*step], course, set, problem, n + 1, worth)?);
        }
        let mark = course.conventions.decimal_mark;
        let mut context = common(source, course);
        context.insert("paper", paper.title());
        context.insert_value("begins", Value::from(which.start == 0));
        context.insert_value("ends", Value::from(which.end >= dealt.problems.len()));
        context.insert_value(
            "set",
            map([
                ("name", Value::from(set.name.as_str())),
                ("title", Value::from(set.title.as_str())),
                ("due", Value::from(set.due.as_deref().unwrap_or_default())),
                ("marks", Value::from(content::marks(total, mark))),
            ]),
        );
        context.insert_value(
            "student",
            map([
                ("id", Value::from(dealt.student.id.as_str())),
                ("name", Value::from(dealt.student.name.as_str())),
            ]),
        );
        context.insert_value("problems", Value::from(problems));
        if paper == Paper::WorkedSolutions && which.end >= dealt.problems.len() {
            let reasons = content::reasons(&dealt.problems, &set.policy, &course.conventions);
            context.insert_value("reasons", safe(&text.blocks(&reasons)));
        }
        Ok(context)
    }

    #[expect(clippy::too_many_arguments, reason = "what a problem on a paper depends on")]
    fn problem(
        &self,
        paper: Paper,
        [writer, of_step]: [&dyn Writer; 2],
        course: &Course,
        set: &Set,
        dealt: &Dealt,
        number: usize,
        worth: f64,
    ) -> Checked<Value> {
        let mark = course.conventions.decimal_mark;
        let all = dealt.template.marks();
        let share = if all > 0.0 { worth / all } else { 1.0 };
        let part_marks: Vec<f64> = dealt.template.parts.iter().map(|p| p.marks * share).collect();
        let mut parts = Vec::new();
        for (n, part) in dealt.template.parts.iter().enumerate() {
            parts.push(map([
                ("number", Value::from(n + 1)),
                ("name", Value::from(part.name.as_str())),
                ("ask", safe(&writer.inlines(&content::question(dealt, part)?))),
                ("asked", Value::from(content::asked(part, mark))),
                ("figures", Value::from(content::figures(part))),
                ("unit", Value::from(content::unit(part))),
                ("options", Value::from(content::options(part))),
                ("marks", Value::from(content::marks(part_marks[n], mark))),
                ("chart", Value::from(part.chart)),
            ]));
        }
        let table = |table| safe(&writer.blocks(&[Block::Table(table)]));
        let optional = |t: Option<_>| t.map_or_else(|| Value::from(""), table);
        let schematic = || safe(&writer.blocks(&[drawings::of_statement(dealt, mark)]));
        let mut fields = vec![
            ("number", Value::from(number)),
            ("name", Value::from(dealt.template.name.as_str())),
            ("title", Value::from(dealt.template.title.as_str())),
            ("topic", Value::from(dealt.template.topic.as_str())),
            ("marks", Value::from(content::marks(worth, mark))),
            ("statement", safe(&writer.blocks(&content::statement(dealt)?))),
            ("properties", safe(&writer.inlines(&content::properties(dealt)))),
            ("parts", Value::from(parts)),
        ];
        match paper {
            Paper::Handout => fields.push(("schematic", schematic())),
            Paper::Key => {
                fields.push(("answers", table(content::key_table(dealt, &part_marks, mark))));
                fields.push(("causes", optional(content::causes_table(dealt, mark))));
                fields.push(("slips", optional(content::slips_table(dealt))));
                let unseen = content::unseen_slips(dealt);
                fields.push((
                    "unseen",
                    unseen.map_or_else(|| Value::from(""), |list| safe(&writer.blocks(&[list]))),
                ));
            }
            Paper::WorkedSolutions => {
                fields.push(("schematic", schematic()));
                let steps = content::drawn_steps(dealt, &set.policy, &course.conventions)?;
                let steps: Vec<Value> = steps
                    .iter()
                    .enumerate()
                    .map(|(n, step)| {
                        map([
                            ("number", Value::from(n + 1)),
                            ("title", Value::from(step.title.as_str())),
                            ("body", safe(&of_step.blocks(&step.body))),
                        ])
                    })
                    .collect();
                fields.push(("steps", Value::from(steps)));
            }
        }
        Ok(map(fields))
    }
}

/// None yet; those of a PDF are called alike in every paper, since the typesetter keeps names for as long as it runs.
fn figures_of(format: Format, stem: &str) -> Figures {
    match format {
        Format::Pdf => Figures::new("figure"),
        _ => Figures::new(&format!("{FIGURES}/{stem}")),
    }
}

/// Drawings that lie beside a paper.
fn beside(figures: Figures, format: Format) -> Checked<Vec<(String, Vec<u8>)>> {
    Ok(match format {
        Format::Markdown => figures.svgs(),
        Format::Latex if typeset::is_available() => figures.pdf()?.into_iter().collect(),
        Format::Latex | Format::Html | Format::Pdf => Vec::new(),
    })
}

/// What a student's own paper is called.
fn title_of_one(paper: Paper, set: &Set, dealt: &DealtStudent) -> String {
    format!("{}, {}, {}", set.title, paper.title(), dealt.student.id)
}

/// What stands in Typst before one of a paper's pieces, so that they become one paper: the outline of all pieces begins with
/// the problems, pages are counted on, and where the paper goes on, a heading that is not shown stands for the paper's
/// own, below which the piece's headings are. [`typeset::join`] leaves it out.
fn piece_begins(paper: Paper, first_page: u32) -> String {
    let mut out = String::from("#show heading.where(level: 1): set heading(bookmarked: false)\n");
    if first_page > 1 {
        let title = super::typst::escape(paper.title());
        out.push_str(&format!(
            "#{{ show heading: none; heading(level: 1, {title}) }}#counter(page).update({first_page})\n"
        ));
    }
    out
}

fn typeset_with(source: &str, figures: Figures, ident: &str) -> Checked<Vec<u8>> {
    typeset::pdf(&typeset::Document {
        source,
        files: &figures.svgs(),
        ident,
    })
}

/// Headings that are written stand below one of level `below`.
fn writer<'a>(source: Source, course: &Course, below: u8, figures: &'a Figures) -> Box<dyn Writer + 'a> {
    let style = Style {
        mark: course.conventions.decimal_mark,
    };
    let room = Room::on(course.sheet());
    match source {
        Source::Markdown => Box::new(Markdown {
            style,
            below,
            figures,
        }),
        Source::Latex => Box::new(Latex { style, room, figures }),
        Source::Html => Box::new(Html {
            style,
            below,
            figures,
        }),
        Source::Typst => Box::new(Typst {
            style,
            room,
            below,
            figures,
        }),
    }
}

/// What every template can use.
fn common(source: Source, course: &Course) -> Context {
    let mut context = Context::new();
    context.insert_value("course", map([("name", Value::from(course.name.as_str()))]));
    context.insert("caution", CAUTION);
    context.insert(
        "sample",
        match (course.conventions.decimal_mark, course.conventions.units) {
            (DecimalMark::Point, UnitSystem::Si) => "2.45 m/s",
            (DecimalMark::Comma, UnitSystem::Si) => "2,45 m/s",
            (DecimalMark::Point, UnitSystem::UsCustomary) => "8.05 ft/s",
            (DecimalMark::Comma, UnitSystem::UsCustomary) => "8,05 ft/s",
        },
    );
    context.insert("program", concat!("gradeline ", env!("CARGO_PKG_VERSION")));
    context.insert("page_size", source.sheet(course.sheet()));
    context.insert_value("small", Value::from(course.sheet() == Sheet::A5));
    context.insert("language", words::LANGUAGE);
    context.insert_value(
        "words",
        map(words::OF_TEMPLATES
            .iter()
            .map(|(name, words)| (*name, Value::from(*words)))),
    );
    context
}

fn map(fields: impl IntoIterator<Item = (&'static str, Value)>) -> Value {
    Value::from(fields.into_iter().collect::<BTreeMap<&'static str, Value>>())
}

/// Text that a writer has written, not to be escaped again.
fn safe(text: &str) -> Value {
    Value::safe_string(text)
}

/// No more than one empty line at a time, none at the start, and one line break at the end.
fn tidy(text: String) -> String {
    let mut out = String::with_capacity(text.len());
    let mut empty = 0;
    for line in text.trim_matches('\n').lines() {
        if line.trim().is_empty() {
            empty += 1;
            continue;
        }
        if empty > 0 && !out.is_empty() {
            out.push('\n');
        }
        empty = 0;
        out.push_str(line.trim_end_matches([' ', '\t']));
        out.push('\n');
    }
    out
}

fn read(file: &Path) -> Checked<String> {
    let place = || Place::file(file.display().to_string());
    let about = std::fs::metadata(file).map_err(|e| unreadable(file, &e))?;
    if !about.is_file() {
        return Err(Fault::new("a template must be a file")
            .at(place())
            .mend("remove it, or put a file in its place")
            .into());
    }
    if about.len() > LARGEST {
        return Err(
            Fault::new(format!("the template is larger than {} KiB", LARGEST / 1024))
                .at(place())
                .mend("put a template there, not a finished document")
                .into(),
        );
    }
    let bytes = std::fs::read(file).map_err(|e| unreadable(file, &e))?;
    let text = String::from_utf8(bytes).map_err(|e| {
        let line = e.as_bytes()[..e.utf8_error().valid_up_to()]
            .iter()
            .filter(|b| **b == b'\n')
            .count()
            + 1;
        let mut place = place();
        place.line = Some(line);
        Fault::new("the template is not UTF-8 text")
            .at(place)
            .mend("save it as UTF-8")
    })?;
    Ok(text.trim_start_matches('\u{feff}').replace("\r\n", "\n"))
}

fn unreadable(path: &Path, e: &std::io::Error) -> Fault {
    Fault::new(format!("can't be read: {e}"))
        .at(Place::file(path.display().to_string()))
        .mend("check that it is there and that you may read it")
}

fn unknown(name: &str, file: &Path) -> Fault {
    let known = TEMPLATES.iter().map(|(known, _)| *known);
    let fault =
        Fault::new(format!("`{name}` is no paper's template")).at(Place::file(file.display().to_string()));
    match nearest(name, known.clone()) {
        Some(near) => fault.mend(format!("rename it to `{near}`, or remove it")),
        None => fault.mend(format!(
            "name it after what it overrides ({}), or remove it",
            known.collect::<Vec<_>>().join(", ")
        )),
    }
}

/// A template's error with its file, line and column.
fn template_fault(error: &tera::Error, own: &BTreeMap<String, PathBuf>) -> Fault {
    let file = |name: &str| match own.get(name) {
        Some(path) => path.display().to_string(),
        None => format!("{name} (built in)"),
    };
    let broken = |what: &str, name: &str, line: usize, column: usize| {
        Fault::new(format!(
            "the template can't be used: {}",
            what.trim().trim_end_matches('.')
        ))
        .at(Place::file(file(name)).at(line, column))
        .mend("mend it there; `docs/papers.md` lists what templates can use")
    };
    match error.kind() {
        ErrorKind::SyntaxError(report) | ErrorKind::RenderingError(report) => {
            let span = report.span();
            broken(
                report.message(),
                report.filename(),
                span.start_line,
                span.start_col + 1,
            )
        }
        ErrorKind::Msg(message) if reported(message).is_some() => {
            let (what, name, line, column) = reported(message).unwrap_or_default();
            broken(what, name, line, column)
        }
        other => {
            let fault = Fault::new(format!("the templates can't be used: {other}"));
            match own.iter().next() {
                Some(_) => fault.mend(format!(
                    "look at the course's own templates: {}",
                    own.keys().cloned().collect::<Vec<_>>().join(", ")
                )),
                None => fault,
            }
        }
    }
}

/// What, file, line and column of a message that holds a report only as text.
fn reported(message: &str) -> Option<(&str, &str, usize, usize)> {
    let (what, rest) = message.split_once('\n')?;
    let place = rest.lines().next()?.trim_start().strip_prefix("--> ")?;
    let mut fields = place.rsplitn(3, ':');
    let column = fields.next()?.parse().ok()?;
    let line = fields.next()?.parse().ok()?;
    Some((what.trim_start_matches("error: "), fields.next()?, line, column))
}
