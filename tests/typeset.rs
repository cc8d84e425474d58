//! The typesetter: what it makes is whole, the same each time, and open to nothing outside.

#![cfg(feature = "pdf")]
#![allow(clippy::unwrap_used, reason = "a test stops where something fails")]

use gradeline::equation::typst_literal;
use gradeline::fault::{Checked, Fault};
use gradeline::typeset::{Bindable, Document, bind, figure_pdf, figure_png, has_glyph, join, pdf};
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
    let joined = joined(2);
    for length in (0..joined.len()).step_by(501) {
        let cut = Ok(("cut".to_owned(), joined[..length].to_vec()));
        assert!(bind(vec![cut], 1 << 20).contains("can't be bound"), "{length}");
    }
    assert!(join("None", 0, &mut |_, _| Ok(Vec::new())).is_err());
    let broken = join("One", 2, &mut |n, _| match n {
        0 => Ok(whole.clone()),
        _ => Err(Fault::new("not made").into()),
    });
    assert!(broken.unwrap_err().to_string().contains("not made"));
}

/// A piece of two pages with a section and a table, numbered from `first_page` at their feet; all but the first go on below
/// the first's heading.
fn piece(n: usize, first_page: u32) -> Vec<u8> {
    let hidden = "#{ show heading: none; heading(level: 1, bookmarked: false)[x] }";
    let (before, title) = match n {
        0 => (String::new(), "#heading(level: 1, bookmarked: false)[Whole]"),
        _ => (format!("{hidden}#counter(page).update({first_page})"), ""),
    };
    // The page is set behind the counter, as a template may do.
    let source = format!(
        "{HEAD}{before}\n#set page(footer: context [page #counter(page).display(\"1\")])\n{title}\n\
         == Section {n} <here>\n#link(<here>)[there]\n\
         #table(columns: 2, table.header[a][b], [1], [2])\n#pagebreak()\n=== Below {n}\nmore\n"
    );
    pdf(&document(&source)).unwrap()
}

fn joined(count: usize) -> Vec<u8> {
    let mut first_pages = Vec::new();
    let whole = join("Whole", count, &mut |n, first_page| {
        first_pages.push(first_page);
        Ok(piece(n, first_page))
    });
    // Each piece has two pages, and no blank one stands between.
    let expected: Vec<u32> = (0..count as u32).map(|n| 1 + 2 * n).collect();
    assert_eq!(first_pages, expected);
    whole.unwrap()
}

#[test]
fn pieces_become_one_paper() {
    let file = joined(3);
    assert!(file == joined(3));
    let text = unpacked(&file);
    assert!(text.contains("/Type/Pages/Count 6/Kids["), "{text}");
    assert_eq!(text.matches("/Type/Page/Parent 2 0 R/MediaBox").count(), 0);
    assert_eq!(text.matches("/S/Document").count(), 1);
    assert_eq!(text.matches("/S/Part").count(), 0);
    // Headings that were there for the typesetter alone are left out.
    for (heading, count) in [("/S/H1", 1), ("/S/H2", 3), ("/S/H3", 3)] {
        assert_eq!(text.matches(heading).count(), count, "{heading}");
    }
    for name in ["000000-U1x0y0", "000002-U1x1y0"] {
        assert_eq!(text.matches(&format!("/ID({name})")).count(), 1, "{name}");
    }
    // The outline is one chain of three.
    assert!(
        text.contains("/Type/Outlines/First") && text.contains("/Count 3"),
        "{text}"
    );
    assert_eq!(text.matches("/Parent 5 0 R").count(), 3);
    assert_eq!(text.matches("/Next ").count(), 2);
    assert_eq!(text.matches("/Prev ").count(), 2);
    let whole = String::from_utf8_lossy(&file);
    assert!(whole.contains("<pdfuaid:part>1</pdfuaid:part>") && whole.contains(">Whole</rdf:li>"));
}

#[test]
fn papers_of_pieces_are_bound_as_papers_are() {
    let (one, other) = (joined(2), joined(3));
    let file = bound(&[one.clone(), other.clone(), paper("three", 1)]);
    assert!(file == bound(&[one, other, paper("three", 1)]));
    let text = unpacked(&file);
    assert!(text.contains("/Type/Pages/Count 11/Kids["), "{text}");
    assert_eq!(text.matches("/S/Document").count(), 1);
    assert_eq!(text.matches("/S/Part").count(), 3);
    assert_eq!(text.matches("/S/H2").count(), 5);
    for key in 0..11 + 5 {
        assert_eq!(
            text.matches(&format!("/StructParents {key}/")).count()
                + text.matches(&format!("/StructParent {key}/")).count(),
            1,
            "{key}"
        );
    }
    for name in ["000000-000001-U1x0y0", "000001-000002-U1x0y0", "000002-U1x0y0"] {
        assert_eq!(text.matches(&format!("/ID({name})")).count(), 1, "{name}");
    }
    for name in ["000000-000000-here", "000001-000002-here"] {
        assert!(
            text.matches(&format!("({name})")).count() >= 2,
            "{name} in {text}"
        );
    }
    // Each paper's sections stand below it.
    assert_eq!(
        text.matches("/Count -2").count() + text.matches("/Count -3").count(),
        2
    );
}
