//! The typesetter: what it makes is whole, the same each time, and open to nothing outside.

#![cfg(feature = "pdf")]
#![allow(clippy::unwrap_used, reason = "a test stops where something fails")]

use gradeline::equation::typst_literal;
use gradeline::typeset::{Document, figure_pdf, figure_png, has_glyph, pdf};

const SVG: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" width="96" height="48" viewBox="0 0 96 48">
<rect width="90" height="40" fill="none" stroke="black"/>
<text x="8" y="24" font-family="New Computer Modern" font-size="12">Ab 12</text></svg>"#;

fn document(source: &str) -> Document<'_> {
    Document {
        source,
        files: &[],
        ident: "a test",
    }
}

const HEAD: &str = "#set document(title: \"Test\", date: none)\n#set text(lang: \"en\")\n";

#[test]
fn the_same_source_gives_the_same_bytes_on_any_thread() {
    let source = format!("{HEAD}= One\nwords #math.equation(alt: \"x\", $x$.body)\n");
    let first = pdf(&document(&source)).unwrap();
    assert!(first.starts_with(b"%PDF-"));
    std::thread::scope(|scope| {
        for _ in 0..3 {
            scope.spawn(|| assert!(pdf(&document(&source)).unwrap() == first));
        }
    });
}

#[test]
fn a_formula_without_words_for_it_and_a_file_outside_are_refused() {
    let bare = format!("{HEAD}= One\n$x$\n");
    let faults = pdf(&document(&bare)).unwrap_err();
    assert!(faults.to_string().contains("alt"), "{faults}");
    for name in ["/etc/passwd", "../x.svg", "figure.svg"] {
        let source = format!("{HEAD}= One\n#read(\"{name}\")\n");
        let faults = pdf(&document(&source)).unwrap_err();
        assert_eq!(faults.0[0].place.as_ref().unwrap().line, Some(4), "{faults}");
    }
}

#[test]
fn a_figure_becomes_a_page_and_a_picture_of_its_size() {
    let made = figure_pdf(SVG, "A box", "A box with letters").unwrap();
    assert!(made == figure_pdf(SVG, "A box", "A box with letters").unwrap());
    // 1 px is 1/96 inch.
    let picture = figure_png(SVG, 192.0).unwrap();
    assert!(picture.starts_with(b"\x89PNG"));
    let side = |at: usize| u32::from_be_bytes(picture[at..at + 4].try_into().unwrap());
    assert_eq!((side(16), side(20)), (192, 96));
    assert!(figure_png(SVG, 1e6).is_err());
    assert!(figure_pdf("<svg", "t", "d").is_err());
}

#[test]
fn a_literal_holds_whatever_it_is_given() {
    assert_eq!(typst_literal("a\"b\\c\n#{x}$"), r##""a\"b\\c #{x}$""##);
    let words = "\"] #panic() \\ $x$ #read(\"/etc/passwd\")";
    let source = format!("{HEAD}= One\n#{}\n", typst_literal(words));
    pdf(&document(&source)).unwrap();
    assert!(has_glyph('ε') && has_glyph('é') && !has_glyph('王'));
}
