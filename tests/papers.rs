//! Papers as they come out of the templates: what they say, what they keep to themselves, and that no text in
//! them can do harm. `tests/latex/run.sh` typesets what `writes_papers_for_latex` writes; `tests/papers/run.sh` looks at HTML
//! and PDF as their readers' programs do.

use gradeline::band::Accepted;
use gradeline::bank::course::{
    Conventions, Course, Format, Policy, Set, SetProblem, Sheet, Student, UnitSystem,
};
use gradeline::bank::prose::{Block, Figure, Inline, Table, text};
use gradeline::bank::template::Asked;
use gradeline::bank::{Bank, builtin_bank};
use gradeline::constants::policy;
use gradeline::deal::{DealtStudent, deal_set};
use gradeline::draw::CourseKey;
use gradeline::handout::{Paper, Papers, Printed, Source, guarded, unguarded};
use gradeline::hydraulics::regime::Limits;
use gradeline::mark::Answers;
use gradeline::quantity::DecimalMark;
use std::path::Path;

const HOSTILE: &str = r#"\input{/etc/passwd} $x$ %{}_^~#& <b>|` "q" --- [2pt] * \end{document}"#;

fn the_policy() -> Policy {
    Policy {
        reading_error: policy::READING_ERROR,
        limits: Limits::default(),
        follow_through_share: 0.7,
        slip_share: 0.0,
        review_margin: 0.1,
        accept_missing_unit: false,
        ..Policy::DEFAULT
    }
}

fn course() -> Course {
    Course {
        name: "Hydraulics I".to_owned(),
        conventions: Conventions {
            units: UnitSystem::Si,
            decimal_mark: DecimalMark::Point,
            figures: 4,
            property_figures: 4,
        },
        policy: the_policy(),
        ..Course::default()
    }
}

fn papers() -> Papers {
    Papers::new(None).expect("the built-in templates")
}

/// A set of every template of a bank.
fn set_of(bank: &Bank) -> Set {
    Set {
        name: "week-1".to_owned(),
        title: "Week 1: all of it".to_owned(),
        due: Some("Friday noon".to_owned()),
        problems: bank
            .templates
            .iter()
            .map(|t| SetProblem {
                template: t.name.clone(),
                marks: None,
            })
            .collect(),
        policy: the_policy(),
    }
}

fn student(id: &str, name: &str) -> Student {
    Student {
        id: id.to_owned(),
        name: name.to_owned(),
        email: String::new(),
    }
}

fn dealt(course: &Course, set: &Set, students: &[Student]) -> Vec<DealtStudent> {
    let key = CourseKey::from_bytes([7; 32]);
    deal_set(course, set, students, &builtin_bank(), &key, &|student| student)
        .expect("the built-in bank can be dealt")
        .students
}

fn one_dealt() -> (Course, Set, DealtStudent) {
    let course = course();
    let set = set_of(&builtin_bank());
    let mut students = dealt(&course, &set, &[student("s1", "Ingvild Aasen")]);
    (course, set, students.remove(0))
}

/// The same with the first few problems alone.
fn few_dealt(problems: usize) -> (Course, Set, DealtStudent) {
    let course = course();
    let mut set = set_of(&builtin_bank());
    set.problems.truncate(problems);
    let mut students = dealt(&course, &set, &[student("s1", "Ingvild Aasen")]);
    (course, set, students.remove(0))
}

/// Every character that some text may bring, in rows: the whole of the first planes that people write names and
/// units in, and a sample of the rest.
fn all_characters() -> Vec<Block> {
    let mut blocks = Vec::new();
    let codes = (0_u32..0x2c00)
        .chain((0x2c00..0x3_0000).step_by(97))
        .chain([0xfb00, 0xfb01, 0xfb02, 0x10_ffff]);
    let chars: Vec<char> = codes.filter_map(char::from_u32).collect();
    for some in chars.chunks(64) {
        // Each stands behind a letter and before one, and then alone.
        let row: String = some.iter().flat_map(|c| ['a', *c, 'b', ' ', *c, ' ']).collect();
        blocks.push(Block::Paragraph(vec![text(row)]));
    }
    let marks: Vec<String> = ('\u{300}'..'\u{370}')
        .map(|m| format!("e{m} i{m} Q{m} e{m}\u{323}\u{301} 7{m}"))
        .collect();
    blocks.push(Block::Paragraph(vec![text(marks.join(" "))]));
    blocks
}

/// Every kind of block with every kind of inline, filled with hostile text.
fn hostile_blocks() -> Vec<Block> {
    let long = "x".repeat(300);
    let words = || {
        vec![
            text(HOSTILE),
            Inline::Break,
            Inline::Strong(vec![text(HOSTILE), Inline::Break]),
            Inline::Emphasis(vec![Inline::Code(HOSTILE.to_owned())]),
            Inline::Placeholder(HOSTILE.to_owned()),
            text(format!(" {long}")),
            Inline::Break,
        ]
    };
    let mut nested = vec![Block::Paragraph(words())];
    for level in 0..6 {
        nested = vec![Block::List {
            ordered: level % 2 == 0,
            items: vec![nested, vec![]],
        }];
    }
    let table = Table {
        head: vec![words(), vec![text("[")], vec![text("*")]],
        numeric: vec![false, true, true],
        rows: vec![
            vec![words(), vec![text("[1]")], vec![]],
            vec![vec![text("[2]")], vec![text("*")], vec![]],
        ],
    };
    let mut long_table = Table {
        head: vec![vec![text("n")], vec![text("what")]],
        numeric: vec![true, false],
        rows: Vec::new(),
    };
    for n in 0..90 {
        long_table
            .rows
            .push(vec![vec![text(format!("[{n}]"))], vec![text(HOSTILE)]]);
    }
    vec![
        Block::Heading(1, words()),
        Block::Heading(2, vec![text(HOSTILE)]),
        Block::Paragraph(words()),
        Block::Paragraph(vec![Inline::Break, Inline::Break, text("[x]")]),
        Block::Note(words()),
        Block::Table(table),
        Block::Table(long_table),
        Block::Table(Table::default()),
        Block::List {
            ordered: true,
            items: vec![],
        },
    ]
    .into_iter()
    .chain(nested)
    .collect()
}

#[test]
fn every_paper_carries_the_caution_and_the_version() {
    for format in Source::ALL {
        let paper = papers()
            .document(format, &course(), "A title", &[])
            .expect("a document");
        assert!(paper.contains(policy::CAUTION), "{paper}");
        assert!(
            paper.contains(&format!("gradeline {}", env!("CARGO_PKG_VERSION"))),
            "{paper}"
        );
    }
}

/// Writes what `tests/latex/run.sh` typesets.
#[test]
#[ignore = "run by tests/latex/run.sh"]
fn writes_papers_for_latex() {
    let dir = std::env::var("GRADELINE_LATEX_DIR").expect("GRADELINE_LATEX_DIR names a folder");
    let dir = Path::new(&dir);
    let write = |name: &str, text: &[u8]| {
        let file = dir.join(name);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder made");
        std::fs::write(file, text).expect("a file written");
    };
    let write_with_drawings = |name: &str, printed: Printed| {
        write(name, &printed.contents);
        for (name, contents) in &printed.beside {
            write(name, contents);
        }
    };
    let mut course = course();
    let document = |course: &Course, title: &str, blocks: &[Block]| {
        papers()
            .document(Source::Latex, course, title, blocks)
            .expect("a document")
    };
    write(
        "characters.tex",
        document(&course, "Characters", &all_characters()).as_bytes(),
    );
    course.name = format!("{HOSTILE} {HOSTILE}");
    course.conventions.units = UnitSystem::UsCustomary;
    write(
        "hostile.tex",
        document(&course, HOSTILE, &hostile_blocks()).as_bytes(),
    );

    for (name, units) in [("si", UnitSystem::Si), ("us", UnitSystem::UsCustomary)] {
        let mut course = self::course();
        course.conventions.units = units;
        for format in [Format::Latex, Format::Html, Format::Pdf] {
            if format == Format::Pdf && !gradeline::typeset::is_available() {
                continue;
            }
            let sheet = papers().formula_sheet(format, &course).expect("a sheet");
            let folder = if format == Format::Latex { "" } else { "readers/" };
            write(&format!("{folder}formulas-{name}.{}", format.extension()), &sheet);
        }
    }

    let mut course = self::course();
    let bank = builtin_bank();
    let mut set = set_of(&bank);
    let roster: Vec<Student> = (1..=3)
        .map(|n| student(&format!("s{n}"), "Þóra Łukaszewicz-O'Brien"))
        .chain([student(HOSTILE, &format!("{HOSTILE} 王小明 {}", "y".repeat(200)))])
        .collect();
    let mut students = dealt(&course, &set, &roster);
    for paper in Paper::ALL {
        write_with_drawings(
            &format!("{paper:?}.tex"),
            papers()
                .packet(paper, &course, &set, &students, &format!("{paper:?}"))
                .expect("a packet"),
        );
        for format in [Format::Html, Format::Pdf] {
            let file = format!("readers/{paper:?}.{}", format.extension());
            for_readers(&dir.join(file), paper, format, &course, &set, &students[0]);
        }
    }
    // The same in the units and with the decimal mark of others, and all texts hostile.
    course.conventions.units = UnitSystem::UsCustomary;
    course.conventions.decimal_mark = DecimalMark::Comma;
    set.title = HOSTILE.to_owned();
    set.due = Some(HOSTILE.to_owned());
    students.truncate(1);
    for problem in &mut students[0].problems {
        let template = std::sync::Arc::make_mut(&mut problem.template);
        template.title = format!("{} {HOSTILE}", template.title);
        for part in &mut template.parts {
            part.name = format!("{} {HOSTILE}", part.name);
            part.ask.push(text(HOSTILE));
        }
    }
    for paper in Paper::ALL {
        let stem = format!("{paper:?}-hostile");
        let one = papers()
            .print(paper, Format::Latex, &course, &set, &students[0], &stem)
            .expect("a paper");
        write_with_drawings(&format!("{stem}.tex"), one);
        for format in [Format::Html, Format::Pdf] {
            let file = format!("readers/{paper:?}-hostile.{}", format.extension());
            for_readers(&dir.join(file), paper, format, &course, &set, &students[0]);
        }
    }
}

/// Writes what `tests/papers/run.sh` looks at.
fn for_readers(
    file: &Path,
    paper: Paper,
    format: Format,
    course: &Course,
    set: &Set,
    student: &DealtStudent,
) {
    if format == Format::Pdf && !gradeline::typeset::is_available() {
        return;
    }
    let printed = papers()
        .print(paper, format, course, set, student, "x")
        .expect("a paper");
    std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder made");
    std::fs::write(file, printed.contents).expect("a file written");
}

/// An HTML paper whose drawings are left with their words alone: coordinates are numbers of any kind.
fn without_coordinates(html: &str) -> String {
    let mut out = String::new();
    for (n, piece) in html.split("<svg").enumerate() {
        let (drawing, rest) = match n {
            0 => ("", piece),
            _ => piece.split_once("</svg>").expect("the end of a drawing"),
        };
        // What stands between `>` and the next `<`.
        for words in drawing.split('>').skip(1) {
            out.push_str(words.split('<').next().unwrap_or_default());
            out.push(' ');
        }
        out.push_str(rest);
    }
    out
}

#[test]
fn a_handout_shows_each_system_and_a_key_none() {
    let (course, set, dealt) = one_dealt();
    let drawn = |paper, format| {
        let printed = papers()
            .print(paper, format, &course, &set, &dealt, "mine")
            .expect("a paper");
        let text = String::from_utf8_lossy(&printed.contents).into_owned();
        (text, printed.beside)
    };
    let problems = dealt.problems.len();
    for paper in [Paper::Handout, Paper::WorkedSolutions] {
        let (html, beside) = drawn(paper, Format::Html);
        assert!(beside.is_empty() && html.matches("<svg").count() >= problems);
        let (markdown, beside) = drawn(paper, Format::Markdown);
        assert!(beside.len() >= problems);
        for (name, svg) in &beside {
            assert!(markdown.contains(&format!("]({name})")), "{name}");
            assert!(svg.starts_with(b"<svg "));
        }
    }
    let (key, beside) = drawn(Paper::Key, Format::Markdown);
    assert!(beside.is_empty() && !key.contains(".svg"));
    let (key, beside) = drawn(Paper::Key, Format::Latex);
    assert!(beside.is_empty() && !key.contains("\\paperfigure{\\detokenize"));
}

#[test]
fn a_handout_asks_everything_and_answers_nothing() {
    let (course, set, dealt) = one_dealt();
    for format in Source::ALL {
        let handout = papers()
            .paper(Paper::Handout, format, &course, &set, &dealt)
            .expect("a handout");
        let handout = without_coordinates(&handout);
        for expected in [
            "Week 1: all of it",
            "Hydraulics I",
            "Ingvild Aasen",
            "s1",
            "Friday noon",
            policy::CAUTION,
        ] {
            assert!(handout.contains(expected), "{expected} in {handout}");
        }
        for problem in &dealt.problems {
            assert!(
                handout.contains(&problem.template.title),
                "{}",
                problem.template.title
            );
            for part in &problem.template.parts {
                assert!(handout.contains(&part.name), "{}", part.name);
            }
            for (part, accepted) in problem.template.parts.iter().zip(&problem.accepted) {
                if let (Asked::Number { unit, figures, .. }, Accepted::Number(band)) = (&part.asked, accepted)
                {
                    // An answer that happens to be one of the givens' numbers is no leak; long ones never are.
                    let long = gradeline::quantity::Written::from_si(band.low, unit, figures + 1);
                    assert!(
                        !handout.contains(&long.shown.plain(DecimalMark::Point)),
                        "{} of {}",
                        part.name,
                        problem.template.name
                    );
                }
            }
        }
        // How to hand in stands on the first page, where it never has one of its own.
        let (hand_in, first) = (
            handout.find("How to hand in"),
            handout.find(&dealt.problems[0].template.title),
        );
        assert!(hand_in.is_some() && hand_in < first, "{handout}");
        for word in ["Reference", "Careful answers", "Step 1", "Told apart"] {
            assert!(!handout.contains(word), "{word} in {handout}");
        }
    }
}

#[test]
fn a_key_holds_every_reference_and_every_listed_slip() {
    let (course, set, dealt) = one_dealt();
    let key = papers()
        .paper(Paper::Key, Source::Markdown, &course, &set, &dealt)
        .expect("a key");
    for problem in &dealt.problems {
        for (part, accepted) in problem.template.parts.iter().zip(&problem.accepted) {
            if let (Asked::Number { unit, figures, .. }, Accepted::Number(band)) = (&part.asked, accepted) {
                let reference = gradeline::quantity::Written::from_si(band.reference.value, unit, *figures);
                let row = format!("{} | {} |", part.name, reference.plain(DecimalMark::Point));
                assert!(key.contains(&row), "{row} in {key}");
            }
        }
        for slip in &problem.template.slips {
            assert!(key.contains(&slip.name), "{}", slip.name);
        }
    }
    assert!(key.contains("Told apart"));
    // The other slips stand in a list, each once a problem, with the parts that don't show it.
    let problems: Vec<&str> = key.split("\n## ").skip(1).collect();
    let mut unseen = 0;
    for (problem, text) in dealt.problems.iter().zip(problems) {
        let list = text.split_once("too small to see").map_or("", |(_, list)| list);
        for (slip, part) in &problem.hidden {
            let name = &*problem.slips[*slip].slip.name;
            if problem.template.slips.iter().any(|listed| listed.name == name) {
                continue;
            }
            unseen += 1;
            let part = &problem.template.parts[*part].name;
            let mut lines = list.lines().filter(|line| line.contains(name));
            let line = lines.next().unwrap_or_default();
            assert!(
                line.contains(part.as_str()) || line.contains("every number"),
                "{name} for {part} in {list}"
            );
        }
    }
    assert!(unseen > 10, "{unseen}");
}

#[test]
fn a_worked_solution_says_how_far_careful_answers_may_differ_and_at_its_end_why() {
    let (course, set, dealt) = one_dealt();
    let worked = papers()
        .paper(Paper::WorkedSolutions, Source::Markdown, &course, &set, &dealt)
        .expect("a paper");
    assert_eq!(
        worked.matches("\nCareful answers lie between").count(),
        dealt.problems.len()
    );
    let last = worked.rfind("\n## ").expect("a heading");
    assert!(
        worked[last..].starts_with("\n## Why careful answers differ\n"),
        "{worked}"
    );
    assert!(worked.contains("up to 5 % too high or too low"), "{worked}");
    assert_eq!(worked.matches("### Step 1: ").count(), dealt.problems.len());
}

#[test]
fn a_meters_reasons_are_those_of_a_meter() {
    let (course, set, dealt) = one_dealt();
    let worked = papers()
        .paper(Paper::WorkedSolutions, Source::Markdown, &course, &set, &dealt)
        .expect("a paper");
    // Of 5 % for a friction factor a reader of discharge coefficients takes a fifth.
    let read = "the discharge coefficient may be read off a chart up to 1 % too high or too low";
    assert_eq!(worked.matches(read).count(), 1, "the orifice alone is read");
    let left_out = "the fluid's own density may be left out";
    assert_eq!(worked.matches(left_out).count(), 1, "the tube in air alone");
}

#[test]
fn worked_solutions_and_drawings_say_numbers_as_statements_do() {
    let (course, set, dealt) = one_dealt();
    let written = |paper| {
        papers()
            .paper(paper, Source::Markdown, &course, &set, &dealt)
            .expect("a paper")
    };
    let (handout, worked) = (written(Paper::Handout), written(Paper::WorkedSolutions));
    // A given with its sign turned keeps its figures.
    let (_, drop) = handout.split_once("into the air, lies ").expect("the siphon");
    let (drop, _) = drop.split_once(" below").expect("the siphon");
    assert!(worked.contains(&format!("| $z_{{2}}$ | −{drop} |")), "{drop}");
    // The curve is that of one of two pumps, the flow beside it that of both.
    assert!(handout.contains("m·s²/L² (Q/2)²"), "{handout}");
    // What was sought is drawn as it came out, where heads are drawn.
    let end = "surface of the spring box, p = 0 kPa, z = ";
    assert_eq!(worked.matches(end).count(), 2);
    assert_eq!(worked.matches(&format!("{end}?")).count(), 1);
}

#[test]
fn each_problem_of_a_worked_solution_begins_on_a_page_of_its_own() {
    let (course, set, dealt) = few_dealt(3);
    for (source, breaks) in [
        (Source::Latex, "\\clearpage"),
        (Source::Html, "<div class=\"opens\">"),
        (Source::Typst, "#pagebreak(weak: true)"),
    ] {
        for (paper, count) in [(Paper::WorkedSolutions, 2), (Paper::Handout, 0), (Paper::Key, 0)] {
            let text = papers()
                .paper(paper, source, &course, &set, &dealt)
                .expect("a paper");
            let body = text.split("\\begin{document}").last().unwrap_or_default();
            assert_eq!(body.matches(breaks).count(), count, "{paper:?} {source:?}");
        }
    }
}

/// Numbers with a decimal point, each with what stands before it.
fn pointed(text: &str) -> Vec<&str> {
    let bytes = text.as_bytes();
    (1..bytes.len().saturating_sub(1))
        .filter(|&i| bytes[i] == b'.' && bytes[i - 1].is_ascii_digit() && bytes[i + 1].is_ascii_digit())
        .map(|i| {
            text.get(i.saturating_sub(24)..(i + 3).min(text.len()))
                .unwrap_or("?")
        })
        .collect()
}

#[test]
fn no_number_has_a_decimal_point_where_the_comma_is_the_mark() {
    let mut course = course();
    course.conventions.decimal_mark = DecimalMark::Comma;
    let bank = builtin_bank();
    let set = set_of(&bank);
    let dealt = &dealt(&course, &set, &[student("s1", "A")])[0];
    // Standards, their clauses, tables of books and versions of programs have points that are no decimal marks.
    let version = format!("gradeline {}", env!("CARGO_PKG_VERSION"));
    let clean = |text: &str| {
        let mut text = text.replace("B36.10M", "").replace(&version, "");
        for before in [":2003, ", "Mechanics, Table ", "library fluids "] {
            let pieces: Vec<&str> = text.split(before).collect();
            let kept = pieces.iter().enumerate().map(|(n, piece)| match n {
                0 => piece,
                _ => piece.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.'),
            });
            text = kept.collect();
        }
        text
    };
    let mut found = Vec::new();
    for paper in Paper::ALL {
        let markdown = papers()
            .paper(paper, Source::Markdown, &course, &set, dealt)
            .unwrap();
        let html = papers().paper(paper, Source::Html, &course, &set, dealt).unwrap();
        let html = html.split_once("</style>").unwrap().1;
        // What is seen, and what is read aloud in its place.
        let mut words = all_between(html, ">", "<");
        words.extend(all_between(html, "alttext=\"", "\""));
        words.extend(all_between(html, "aria-label=\"", "\""));
        for text in [clean(&markdown), clean(&words.join("\n"))] {
            found.extend(pointed(&text).into_iter().map(|n| format!("{paper:?}: {n}")));
        }
    }
    for template in &bank.templates {
        for hint in &template.hints {
            let text = papers()
                .document(Source::Markdown, &course, "Hint", hint)
                .unwrap();
            let text = clean(&text);
            found.extend(
                pointed(&text)
                    .into_iter()
                    .map(|n| format!("{}, a hint: {n}", template.name)),
            );
        }
    }
    assert!(found.is_empty(), "{} of them:\n{}", found.len(), found.join("\n"));
    assert_eq!(
        pointed("of 0.984 at 12.5. Then 3. And 4"),
        ["of 0.98", "of 0.984 at 12.5."]
    );
}

#[test]
fn marks_of_a_set_are_shared_among_the_parts() {
    let (course, mut set, mut dealt) = one_dealt();
    dealt.problems.truncate(1);
    set.problems.truncate(1);
    let own = dealt.problems[0].template.marks();
    set.problems[0].marks = Some(own * 2.5);
    let handout = papers()
        .paper(Paper::Handout, Source::Markdown, &course, &set, &dealt)
        .expect("a handout");
    let first = dealt.problems[0].template.parts[0].marks * 2.5;
    assert!(
        handout.contains(&format!("[{first}]\n")),
        "[{first}] in {handout}"
    );
    assert!(
        handout.contains(&format!("**Marks:** {}", own * 2.5)),
        "{handout}"
    );
}

#[test]
fn an_answer_sheet_has_a_row_for_each_part_and_opens_in_a_spreadsheet() {
    let (mut course, _, mut dealt) = one_dealt();
    dealt.student.id = "=cmd()".to_owned();
    let sheet = papers().answer_sheet(&course, &dealt).expect("a sheet");
    assert_eq!(&sheet[..3], b"\xef\xbb\xbf");
    let text = std::str::from_utf8(&sheet[3..]).expect("UTF-8");
    let mut lines = text.split("\r\n");
    assert_eq!(lines.next(), Some("student,problem,part,answer,asked"));
    let first = &dealt.problems[0].template.parts[0];
    let row = lines.next().expect("a row");
    assert!(row.starts_with(&format!("'=cmd(),1,{},,", first.name)), "{row}");
    let parts: usize = dealt.problems.iter().map(|p| p.template.parts.len()).sum();
    assert_eq!(text.matches("\r\n").count(), parts + 1);

    // Where the comma is the decimal mark, spreadsheets expect semicolons between cells.
    course.conventions.decimal_mark = DecimalMark::Comma;
    let sheet = papers().answer_sheet(&course, &dealt).expect("a sheet");
    let text = std::str::from_utf8(&sheet[3..]).expect("UTF-8");
    assert!(
        text.starts_with("student;problem;part;answer;asked\r\n"),
        "{text}"
    );
    let row = text.lines().nth(1).expect("a row");
    assert!(row.starts_with(&format!("'=cmd();1;{};;", first.name)), "{row}");
    // An answer with a decimal comma needs no quotation marks, and is read as it stands.
    let filled = text.replacen(";;", ";2,45 m/s;", 1);
    let mut read = Answers::default();
    read.csv(filled.as_bytes(), "answers.csv");
    assert_eq!(read.review, []);
    assert_eq!(read.rows[0].answer, "2,45 m/s");
    assert_eq!(read.rows.len(), parts);
}

#[test]
fn a_packet_starts_every_student_on_an_odd_page() {
    let course = course();
    let set = set_of(&builtin_bank());
    let students = dealt(
        &course,
        &set,
        &[student("s1", "A"), student("s2", "B"), student("s3", "C")],
    );
    let packet = papers()
        .packet(Paper::Handout, &course, &set, &students, "handouts")
        .expect("a packet");
    let drawings = set.problems.len() * students.len();
    if gradeline::typeset::is_available() {
        assert_eq!(packet.beside.len(), 1);
        assert!(String::from_utf8_lossy(&packet.contents).contains(&format!("{{{drawings}}}")));
    }
    let packet = String::from_utf8(packet.contents).expect("text");
    assert_eq!(packet.matches("\n\\nextpaper\n").count(), 2);
    assert_eq!(packet.matches("\\begin{document}").count(), 1);
    assert_eq!(packet.matches("\\documentclass").count(), 1);
    // What is in a packet is what each student gets alone.
    let kept: Vec<&str> = packet
        .lines()
        .filter(|line| !line.starts_with("\\paperfigure"))
        .collect();
    let kept = kept.join("\n");
    for student in &students {
        let one = papers()
            .paper(Paper::Handout, Source::Latex, &course, &set, student)
            .expect("a paper");
        let body = |text: &str| {
            let from = text.find("\\renewcommand{\\paperright}").expect("a head");
            let to = text.find("\\end{document}").expect("an end");
            // Drawings have other numbers there.
            let lines = text[from..to].trim().lines();
            let kept: Vec<&str> = lines.filter(|line| !line.starts_with("\\paperfigure")).collect();
            kept.join("\n")
        };
        assert!(kept.contains(&body(&one)));
    }
}

#[test]
fn a_cell_that_looks_like_a_formula_is_guarded() {
    for (cell, safe) in [
        ("=1+2", "'=1+2"),
        ("+A1", "'+A1"),
        ("-A1", "'-A1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
        ("＝1", "'＝1"),
        ("'=1", "''=1"),
        ("-1.5", "-1.5"),
        ("+3e-4", "+3e-4"),
        ("s123", "s123"),
        ("O'Hara", "O'Hara"),
        ("'tHooft", "'tHooft"),
    ] {
        assert_eq!(guarded(cell), safe);
        assert_eq!(unguarded(&guarded(cell)), cell);
    }
    assert_eq!(guarded("-inf"), "'-inf");
}

mod overrides {
    use super::*;
    use std::fs;
    use tempfile::TempDir;

    fn folder(files: &[(&str, &str)]) -> TempDir {
        let folder = TempDir::new().expect("a temporary folder");
        for (name, text) in files {
            fs::write(folder.path().join(name), text).expect("a file written");
        }
        folder
    }

    fn faults(files: &[(&str, &str)]) -> String {
        let folder = folder(files);
        match Papers::new(Some(folder.path())) {
            Ok(_) => String::new(),
            Err(faults) => faults
                .to_string()
                .replace(&folder.path().display().to_string(), "templates"),
        }
    }

    #[test]
    fn a_course_can_put_its_own_in_place_of_any() {
        let folder = folder(&[
            ("document.md", "OURS {{ title }}\n{% include \"foot.md\" %}"),
            ("document.tex", "OURS << title >>"),
            (".hidden", "{% broken"),
        ]);
        let papers = Papers::new(Some(folder.path())).expect("good templates");
        let markdown = papers
            .document(Source::Markdown, &course(), "50 % of A_1", &[])
            .expect("a document");
        assert!(markdown.starts_with("OURS 50 % of A\\_1\n"), "{markdown}");
        assert!(markdown.contains(policy::CAUTION));
        let latex = papers
            .document(Source::Latex, &course(), "50 % of A_1", &[])
            .expect("a document");
        assert!(latex.contains("OURS 50 \\% of A\\_"), "{latex}");
        assert!(latex.contains(policy::CAUTION));
    }

    /// A template that knows nothing of pieces prints its head on each, and pages count on all the same.
    #[cfg(feature = "pdf")]
    #[test]
    fn an_own_template_of_worked_solutions_writes_them_problem_by_problem() {
        let (course, set, dealt) = few_dealt(3);
        let print = |text: &str| {
            let folder = folder(&[("worked.typ", text)]);
            let papers = Papers::new(Some(folder.path())).expect("a good template");
            papers.print(Paper::WorkedSolutions, Format::Pdf, &course, &set, &dealt, "x")
        };
        let own = "#set page(header: [ours])\n#heading(level: 1, << set.title >>)\n\
             <% for problem in problems %>\n== Problem #<< problem.number >> of #<< set.marks >>\n\
             #context assert.eq(counter(page).get().first(), << problem.number >>)\n<% endfor %>\n";
        let first = print(own).expect("a paper").contents;
        assert!(first == print(own).expect("a paper").contents);
        let is_piece = "= A\n<% if problems | length != 1 %>#panic(\"not a piece\")<% endif %>\n\
             #let n = << problems[0].number >>\n#assert.eq((<< begins >>, << ends >>), (n == 1, n == 3))\n";
        print(is_piece).expect("pieces");
        let broken = print("= A\n<< nothing >>").expect_err("a fault").to_string();
        assert!(broken.contains("worked.typ"), "{broken}");
    }

    #[test]
    fn no_folder_overrides_nothing() {
        assert!(Papers::new(Some(Path::new("no/such/folder"))).is_ok());
    }

    #[test]
    fn a_file_that_is_no_template_is_named_with_the_nearest_that_is() {
        assert_eq!(
            faults(&[("handuot.md", "x"), ("letterhead.html", "x")]),
            "error: `handuot.md` is no paper's template\n  at: templates/handuot.md\nmend: rename it to `handout.md`, or remove it\n\n\
             error: `letterhead.html` is no paper's template\n  at: templates/letterhead.html\nmend: name it after what it overrides \
             (document.html, document.md, document.tex, document.typ, foot.md, handout.html, handout.md, handout.tex, handout.typ, head.html, head.md, head.tex, \
             head.typ, key.html, key.md, key.tex, key.typ, page.html, pages.tex, pages.typ, preamble.tex, preamble.typ, problem.html, problem.md, problem.tex, problem.typ, style.html, worked.html, worked.md, worked.tex, worked.typ), or remove it"
        );
    }

    #[test]
    fn every_broken_template_is_named_with_its_line() {
        let said = faults(&[
            ("handout.md", "fine\n\n{% for x in problems %}{{ x.title }}"),
            ("key.md", "{{ course.name }}"),
            ("worked.tex", "a\n<< set.title | nosuchfilter >>"),
        ]);
        assert!(said.contains("at: templates/handout.md:3:"), "{said}");
        assert!(said.contains("at: templates/worked.tex:2:"), "{said}");
        assert!(!said.contains("key.md"), "{said}");
    }

    #[test]
    fn a_name_that_templates_do_not_have_is_found_with_its_place() {
        let folder = folder(&[("document.md", "# {{ title }}\n\n{{ titel }}\n")]);
        let papers = Papers::new(Some(folder.path())).expect("can be read");
        let fault = papers
            .document(Source::Markdown, &course(), "x", &[])
            .expect_err("no such name")
            .to_string();
        assert!(fault.contains("`titel`"), "{fault}");
        assert!(fault.contains("document.md:3:4"), "{fault}");
    }

    #[test]
    fn a_template_that_is_no_text_or_too_large_is_refused() {
        let folder = folder(&[("key.md", "")]);
        fs::write(folder.path().join("handout.md"), b"one\ntwo \xff").expect("a file written");
        fs::write(folder.path().join("key.md"), vec![b'x'; (1 << 20) + 1]).expect("a file written");
        fs::create_dir(folder.path().join("worked.md")).expect("a folder made");
        let said = Papers::new(Some(folder.path()))
            .err()
            .expect("faults")
            .to_string();
        for what in [
            "handout.md:2",
            "is not UTF-8",
            "larger than 1024 KiB",
            "must be a file",
        ] {
            assert!(said.contains(what), "{what} in {said}");
        }
    }

    #[test]
    fn a_loop_over_fields_keeps_one_order() {
        let folder = folder(&[(
            "document.md",
            "{% set all = {'q': 1, 'b': 2, 'z': 3, 'a': 4, 'm': 5, 'c': 6, 'k': 7} %}{% for name, value in all %}{{ name }}{% endfor %}",
        )]);
        let papers = Papers::new(Some(folder.path())).expect("a good template");
        let text = papers
            .document(Source::Markdown, &course(), "x", &[])
            .expect("a document");
        assert_eq!(text, "qbzamck\n");
    }

    #[test]
    fn a_template_cannot_read_other_files() {
        let said = faults(&[("foot.md", "{% include \"/etc/passwd\" %}")]);
        assert!(said.contains("foot.md"), "{said}");
    }
}

/// What stands between `open` and `close`, each time.
fn all_between<'a>(text: &'a str, open: &str, close: &str) -> Vec<&'a str> {
    text.split(open)
        .skip(1)
        .filter_map(|rest| rest.split_once(close).map(|(inside, _)| inside))
        .collect()
}

/// A file that a reader can keep: nothing is fetched, nothing is run, and its parts are told apart without eyes.
fn is_sound_html(html: &str) {
    assert!(html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"), "{html}");
    for foreign in [
        "http:", "https:", "<script", "src=", "href=", "url(", "@import", "<link", "<iframe",
    ] {
        let kept = html.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
        assert!(!kept.contains(foreign), "{foreign}");
    }
    let levels: Vec<u32> = html
        .split("<h")
        .skip(1)
        .filter_map(|rest| {
            rest.chars()
                .next()?
                .to_digit(10)
                .filter(|_| rest[1..].starts_with('>'))
        })
        .collect();
    assert_eq!(levels.first(), Some(&1));
    assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
    assert!(levels.windows(2).all(|pair| pair[1] <= pair[0] + 1), "{levels:?}");
    for head in all_between(html, "<th", ">") {
        assert!(head == "ead" || head.starts_with(" scope=\""), "{head}");
    }
    for formula in all_between(html, "<math", ">") {
        let [words] = all_between(formula, "alttext=\"", "\"")[..] else {
            panic!("a formula without words: {formula}");
        };
        assert!(!words.trim().is_empty());
    }
    for (open, close) in [
        ("<math", "</math>"),
        ("<mrow>", "</mrow>"),
        ("<table>", "</table>"),
    ] {
        assert_eq!(
            html.matches(open).count(),
            html.matches(close).count(),
            "{open} {html}"
        );
    }
}

#[test]
fn an_html_paper_needs_no_other_file_and_no_script() {
    let (course, set, dealt) = one_dealt();
    for paper in Paper::ALL {
        let html = papers()
            .paper(paper, Source::Html, &course, &set, &dealt)
            .expect("a paper");
        is_sound_html(&html);
        let formulas = html.matches("<math").count();
        assert!(paper == Paper::Key || formulas > 20, "{paper:?}: {formulas}");
    }
}

#[test]
fn hostile_texts_stay_texts_in_html() {
    let mut course = course();
    course.name = HOSTILE.to_owned();
    let html = papers()
        .document(
            Source::Html,
            &course,
            "</title><script>1</script>",
            &hostile_blocks(),
        )
        .expect("a document");
    assert!(!html.contains("<b>") && !html.contains("<script"), "{html}");
    assert!(html.contains("&lt;b&gt;| &#39;q&#39;") || html.contains("&lt;b&gt;|` &quot;q&quot;"));
    assert!(html.contains("<title>&lt;/title&gt;&lt;script&gt;"));
}

#[test]
fn paper_has_the_size_of_the_course() {
    let mut course = course();
    let of = |course: &Course| {
        Source::ALL.map(|source| papers().document(source, course, "x", &[]).expect("a document"))
    };
    for (sheet, latex, html, typst) in [
        (Some(Sheet::A5), "a5paper", "size: A5;", "paper: \"a5\""),
        (None, "a4paper", "size: A4;", "paper: \"a4\""),
        (
            Some(Sheet::Letter),
            "letterpaper",
            "size: letter;",
            "paper: \"us-letter\"",
        ),
    ] {
        course.papers.sheet = sheet;
        let [_, in_latex, in_html, in_typst] = of(&course);
        assert!(in_latex.contains(latex) && in_html.contains(html) && in_typst.contains(typst));
    }
    course.papers.sheet = None;
    course.conventions.units = UnitSystem::UsCustomary;
    assert!(of(&course)[3].contains("us-letter"));
}

/// Whatever the course's units are, each problem of the bank is worked in those that it is stated and asked in.
#[test]
fn a_problem_of_one_system_of_units_is_worked_in_it() {
    let (course, set, student) = one_dealt();
    let mut in_feet = Vec::new();
    for problem in &student.problems {
        let name = &problem.template.name;
        let worked = |units| {
            let conventions = Conventions {
                units,
                ..course.conventions
            };
            let steps = gradeline::handout::steps(problem, &set.policy, &conventions);
            format!("{:?}", steps.expect("a worked solution"))
        };
        let worked = [UnitSystem::Si, UnitSystem::UsCustomary].map(worked);
        assert_eq!(worked[0], worked[1], "{name}");
        let metric = worked[0].contains("symbol: \"m\"") || worked[0].contains("symbol: \"m/s\"");
        let feet = worked[0].contains("symbol: \"ft\"") || worked[0].contains("symbol: \"ft/s\"");
        assert!(metric != feet, "{name} has metres or feet");
        if feet {
            in_feet.push(name.as_str());
        }
    }
    assert_eq!(
        in_feet,
        [
            "bunker-oil-transfer",
            "feed-yard-pump-power",
            "foundry-main-standard-size",
            "spray-header-pump",
            "test-loop-pressure-drop",
            "town-reservoirs-flow"
        ]
    );
}

#[test]
fn a_drawing_stands_in_each_format_where_it_belongs() {
    let svg = "<?xml version=\"1.0\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"96\" height=\"48\"><path d=\"M0 0L9 9\"/></svg>";
    let blocks = [Block::Figure(Figure {
        svg: svg.to_owned(),
        title: "A line & more".to_owned(),
        description: "a line from a corner".to_owned(),
    })];
    let of = |format| {
        papers()
            .print_document(format, &course(), "x", &blocks, "mine")
            .expect("a document")
    };
    let text = |printed: &Printed| String::from_utf8_lossy(&printed.contents).into_owned();
    let names =
        |printed: &Printed| -> Vec<String> { printed.beside.iter().map(|(name, _)| name.clone()).collect() };
    let html = of(Format::Html);
    is_sound_html(&text(&html));
    assert!(text(&html).contains("aria-label=\"a line from a corner\"><svg "));
    assert!(text(&html).contains("<figcaption>A line &amp; more</figcaption>"));
    assert!(html.beside.is_empty());
    let markdown = of(Format::Markdown);
    assert!(text(&markdown).contains("![a line from a corner](figures/mine-1.svg)"));
    assert_eq!(
        (names(&markdown), &markdown.beside[0].1),
        (vec!["figures/mine-1.svg".to_owned()], &svg.as_bytes().to_vec())
    );
    let latex = of(Format::Latex);
    if gradeline::typeset::is_available() {
        assert!(text(&latex).contains("{figures/mine.pdf}}{1}"));
        assert_eq!(names(&latex), ["figures/mine.pdf"]);
        assert!(of(Format::Pdf).contents.starts_with(b"%PDF"));
    } else {
        assert!(text(&latex).contains("a line from a corner"));
        let refused = papers().print_document(Format::Pdf, &course(), "x", &blocks, "mine");
        assert!(
            refused
                .expect_err("no typesetter")
                .to_string()
                .contains("feature `pdf`")
        );
    }
}

#[cfg(feature = "pdf")]
mod pdf {
    use super::*;

    #[test]
    fn the_same_paper_has_the_same_bytes_on_any_thread() {
        let (course, set, dealt) = one_dealt();
        let papers = papers();
        let print = || {
            papers
                .print(Paper::Handout, Format::Pdf, &course, &set, &dealt, "handout")
                .expect("a paper")
                .contents
        };
        let first = print();
        std::thread::scope(|scope| {
            for _ in 0..2 {
                scope.spawn(|| assert!(print() == first));
            }
        });
    }

    #[test]
    fn whatever_stands_in_a_name_or_a_text_the_paper_is_made() {
        let mut course = course();
        course.name = HOSTILE.to_owned();
        course.papers.sheet = Some(Sheet::A5);
        let mut blocks = hostile_blocks();
        blocks.extend(all_characters());
        let made = papers().print_document(Format::Pdf, &course, HOSTILE, &blocks, "x");
        assert!(made.expect("a document").contents.starts_with(b"%PDF"));
        let typst = papers()
            .document(Source::Typst, &course, "王", &[])
            .expect("a document");
        assert!(typst.contains("[U+738B]"));
    }

    #[test]
    fn a_packet_of_every_template_is_made_in_other_units() {
        let mut course = course();
        let set = set_of(&builtin_bank());
        let students = dealt(&course, &set, &[student("s1", "A"), student(HOSTILE, HOSTILE)]);
        course.conventions.units = UnitSystem::UsCustomary;
        course.conventions.decimal_mark = DecimalMark::Comma;
        let papers = papers();
        for paper in Paper::ALL {
            let mut each = students.iter().map(|one| {
                let printed = papers.print(paper, Format::Pdf, &course, &set, one, "x")?;
                Ok((one.student.name.clone(), printed.contents))
            });
            let mut packet = Vec::new();
            gradeline::typeset::bind(&mut packet, HOSTILE, &mut each).expect("a packet");
            assert!(packet.starts_with(b"%PDF-1.7"));
        }
    }
}

/// A table that the typesetter is told the columns and rows of: each cell that should stand on one line is measured.
#[cfg(feature = "pdf")]
const MEASURED: &str = "#let data-table(sides, columns, rows, whole, head, ..cells) = {
  set text(size: 0.94em)
  set par(leading: 0.45em)
  if whole > 0em { context {
    let count = sides.len()
    let given = columns.filter(width => type(width) == length)
    let share = if given.len() == count { 0pt } else {
      (whole - given.sum(default: 0em) - 0.84em * (count - 1)).to-absolute() / (count - given.len()) }
    let all = head.map(cell => strong(cell)) + cells.pos()
    for (n, cell) in all.enumerate() {
      let width = columns.at(calc.rem(n, count))
      let width = if type(width) == length { width.to-absolute() } else { share }
      if rows.at(calc.min(calc.quo(n, count), rows.len() - 1)) == single {
        let size = measure(cell)
        assert(size.width <= width, message: repr(cell) + \" is wider than its column\")
        assert(size.height + 0.5em.to-absolute() <= single.to-absolute(), message: repr(cell) + \" is higher than its row\")
      }
    }
  } }
}
";

#[cfg(feature = "pdf")]
#[test]
fn cells_that_should_stand_on_one_line_do() {
    let preamble = include_str!("../templates/preamble.typ");
    let start = preamble.find("#let data-table").unwrap();
    let end = start + preamble[start..].find("\n})\n").unwrap() + 4;
    let folder = tempfile::tempdir().unwrap();
    let measured = [&preamble[..start], MEASURED, &preamble[end..]].concat();
    std::fs::write(folder.path().join("preamble.typ"), measured).unwrap();
    let papers = Papers::new(Some(folder.path())).unwrap();
    let bank = builtin_bank();
    let (mut tables, mut left) = (0, 0);
    for (units, mark, sheet) in [
        (UnitSystem::Si, DecimalMark::Point, Sheet::A4),
        (UnitSystem::UsCustomary, DecimalMark::Comma, Sheet::A5),
    ] {
        let mut course = course();
        course.conventions.units = units;
        course.conventions.decimal_mark = mark;
        course.papers.sheet = Some(sheet);
        let set = set_of(&bank);
        let dealt = dealt(&course, &set, &[student("s1", "Ingvild Aasen")]);
        for paper in [Paper::Key, Paper::WorkedSolutions] {
            let text = papers
                .paper(paper, Source::Typst, &course, &set, &dealt[0])
                .unwrap();
            tables += text.matches("#data-table((").count();
            left += text.matches(", auto, 0em, (").count();
            papers
                .print(paper, Format::Pdf, &course, &set, &dealt[0], "x")
                .unwrap();
        }
    }
    // Those that the typesetter is told nothing of, and that are not measured.
    assert!(left * 20 < tables, "{left} of {tables} tables");
}
