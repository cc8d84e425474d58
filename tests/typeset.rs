//! The typesetter: what it makes is whole, the same each time, and open to nothing outside.

#![cfg(feature = "pdf")]
#![allow(clippy::unwrap_used, reason = "a test stops where something fails")]

use gradeline::equation::typst_literal;
use gradeline::fault::{Checked, Fault};
use gradeline::typeset::{Bindable, Document, bind, figure_pdf, figure_png, has_glyph, pdf};
use std::cell::Cell;
use std::io::{self, Write};

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

/// A paper of so many pages, with a heading, a formula and a table.
fn paper(name: &str, pages: usize) -> Vec<u8> {
    let more = "#pagebreak()\nmore\n".repeat(pages - 1);
    let source = format!(
        "{HEAD}= {name}\nwords of {name} #math.equation(alt: \"x\", $x$.body)\n\
         #table(columns: 2, table.header[a][b], [1], [2])\n{more}"
    );
    pdf(&document(&source)).unwrap()
}

fn bound(papers: &[Vec<u8>]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut papers = papers.iter().map(|paper| Ok(("one".to_owned(), paper.clone())));
    bind(&mut out, "All", &mut papers).unwrap();
    out
}

/// What stands in a bound file's objects, those in compressed streams of objects unpacked.
fn unpacked(file: &[u8]) -> String {
    let mut all = String::new();
    let find = |from: usize, what: &[u8]| {
        let rest = &file[from..];
        rest.windows(what.len())
            .position(|w| w == what)
            .map(|at| from + at)
    };
    let mut at = 0;
    while let Some(start) = find(at, b"\nstream\n") {
        let head = &file[at..start];
        let start = start + 8;
        let end = find(start, b"\nendstream").unwrap();
        if head.windows(12).any(|w| w == b"/Type/ObjStm") {
            let mut text = Vec::new();
            let mut packing = flate2::write::ZlibDecoder::new(&mut text);
            packing.write_all(&file[start..end]).unwrap();
            packing.finish().unwrap();
            all.push_str(&String::from_utf8_lossy(&text));
        }
        at = end;
    }
    all
}

#[test]
fn bound_papers_begin_on_odd_pages_and_keep_their_structure() {
    let file = bound(&[
        paper("one", 1),
        paper("two", 2),
        paper("three", 3),
        paper("four", 1),
    ]);
    assert!(
        file == bound(&[
            paper("one", 1),
            paper("two", 2),
            paper("three", 3),
            paper("four", 1)
        ])
    );
    let text = unpacked(&file);
    // One page and a blank one; two; three and a blank one; one.
    assert!(text.contains("/Type/Pages/Count 9/Kids["), "{text}");
    assert_eq!(text.matches("/Type/Page/Parent 2 0 R/MediaBox").count(), 2);
    assert_eq!(text.matches("/Type/Catalog").count(), 1);
    assert_eq!(text.matches("/S/Document").count(), 1);
    assert_eq!(text.matches("/S/Part").count(), 4);
    assert_eq!(text.matches("/S/Formula").count(), 4);
    // Keys of pages and names of cells are there once each.
    for key in 0..7 {
        assert_eq!(
            text.matches(&format!("/StructParents {key}/")).count(),
            1,
            "{key}"
        );
    }
    for name in ["000000-U1x0y0", "000003-U1x1y0"] {
        assert_eq!(text.matches(&format!("/ID({name})")).count(), 1, "{name}");
    }
    assert!(text.contains("/Lang(en)") && text.contains("/DisplayDocTitle true"));
    assert!(text.contains("/Type/Outlines/First") && text.contains("/Title(four)"));
    let whole = String::from_utf8_lossy(&file);
    assert!(whole.contains("<pdfuaid:part>1</pdfuaid:part>") && whole.contains(">All</rdf:li>"));
}

#[test]
fn what_every_paper_has_is_stored_once() {
    let one = paper("same", 1);
    let (one, many) = (
        bound(std::slice::from_ref(&one)).len(),
        bound(&vec![one; 20]).len(),
    );
    // Fonts are most of such a small paper.
    assert!(many < 6 * one, "{many} bytes of 20 papers, {one} of one");
}

#[test]
fn a_link_to_a_named_place_stays_in_its_paper() {
    let source = format!("{HEAD}= One <here>\n#link(<here>)[there]\n");
    let paper = pdf(&document(&source)).unwrap();
    let text = unpacked(&bound(&[paper.clone(), paper]));
    for name in ["000000-here", "000001-here"] {
        assert!(
            text.matches(&format!("({name})")).count() >= 2,
            "{name} in {text}"
        );
    }
    assert!(
        text.contains("/StructParent 2/") && text.contains("/StructParents 3/"),
        "{text}"
    );
}

/// Counts what is written, and can be full.
struct Disk<'a> {
    written: &'a Cell<usize>,
    room: usize,
}

impl Write for Disk<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.written.set(self.written.get() + bytes.len());
        if self.written.get() > self.room {
            return Err(io::ErrorKind::StorageFull.into());
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_paper_is_written_before_the_next_is_asked_for() {
    let written = Cell::new(0);
    let mut before = 0;
    let mut papers = (0..6).map(|n| {
        // Each has letters of its own, so that nothing of it was there before.
        let paper = paper(&"abcdefgh"[n..n + 2], 1);
        assert!(n == 0 || written.get() > before + 2_000, "{n}");
        before = written.get();
        Ok((n.to_string(), paper))
    });
    let mut disk = Disk {
        written: &written,
        room: usize::MAX,
    };
    bind(&mut disk, "All", &mut papers).unwrap();
}

#[test]
fn what_cannot_be_bound_is_told() {
    let bind = |papers: Vec<Checked<Bindable>>, room| {
        let written = Cell::new(0);
        let mut disk = Disk {
            written: &written,
            room,
        };
        let faults = bind(&mut disk, "All", &mut papers.into_iter()).unwrap_err();
        faults.to_string()
    };
    let good = || Ok(("one".to_owned(), paper("one", 1)));
    assert!(bind(vec![], 1 << 20).contains("no papers"));
    assert!(bind(vec![good(), Err(Fault::new("not printed").into())], 1 << 20).contains("not printed"));
    assert!(bind(vec![good()], 1_000).contains("can't be written"));
    let whole = paper("one", 1);
    for length in (0..whole.len()).step_by(501) {
        let cut = Ok(("cut".to_owned(), whole[..length].to_vec()));
        assert!(bind(vec![cut], 1 << 20).contains("can't be bound"), "{length}");
    }
    // A bound file is not what the typesetter writes.
    assert!(bind(vec![Ok(("all".to_owned(), bound(&[whole])))], 1 << 20).contains("can't be bound"));
}
