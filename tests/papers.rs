//! Papers as they come out of the templates: what they say, what they keep to themselves, and that no text in
//! them can do harm. `tests/latex/run.sh` typesets what `writes_papers_for_latex` writes.

use gradeline::bank::course::{Conventions, Course, Policy, Set, SetProblem, Student, UnitSystem};
use gradeline::bank::prose::{Block, Inline, Table, text};
use gradeline::constants::policy;
use gradeline::handout::{Paper, Papers, Source, guarded, unguarded};
use gradeline::hydraulics::regime::Limits;
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
    }
}

fn papers() -> Papers {
    Papers::new(None).expect("the built-in templates")
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
    let write = |name: &str, text: String| std::fs::write(dir.join(name), text).expect("a file written");
    let mut course = course();
    let document = |course: &Course, title: &str, blocks: &[Block]| {
        papers()
            .document(Source::Latex, course, title, blocks)
            .expect("a document")
    };
    write(
        "characters.tex",
        document(&course, "Characters", &all_characters()),
    );
    course.name = format!("{HOSTILE} {HOSTILE}");
    course.conventions.units = UnitSystem::UsCustomary;
    write("hostile.tex", document(&course, HOSTILE, &hostile_blocks()));
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
             (document.md, document.tex, foot.md, handout.md, handout.tex, head.md, head.tex, key.md, key.tex, pages.tex, \
             preamble.tex, worked.md, worked.tex), or remove it"
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
