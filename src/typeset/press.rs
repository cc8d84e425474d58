//! The typesetter: fonts, a world of the files that it is given, and the way out as PDF or PNG.

use super::{CODE_FONT, Document, MATH_FONT, TEXT_FONT};
use crate::equation::typst_literal;
use crate::fault::{Checked, Fault, Faults, Place};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::path::PathBuf;
use std::sync::LazyLock;
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration, Smart};
use typst::layout::{Abs, Em};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{
    Font, FontBook, FontInstance, FontStretch, FontStyle, FontVariant, FontVariations, FontWeight,
};
use typst::utils::{LazyHash, Scalar};
use typst::{Library, LibraryExt, World, WorldExt};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

/// What each document uses and none changes.
struct Press {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

static PRESS: LazyLock<Press> = LazyLock::new(|| {
    let fonts: Vec<Font> = typst_assets::fonts()
        .flat_map(|data| Font::iter(Bytes::new(data)))
        .filter(|font| {
            // The bold and book weights of the mathematical font are not asked for.
            [TEXT_FONT, MATH_FONT, CODE_FONT, "Libertinus Serif"].contains(&font.info().family.as_str())
        })
        .collect();
    Press {
        library: LazyHash::new(Library::default()),
        book: LazyHash::new(FontBook::from_fonts(&fonts)),
        fonts,
    }
});

/// Largest picture \[pixels\].
const LARGEST_PICTURE: f64 = 1e8;
/// Points in an inch.
const POINTS: f64 = 72.0;

/// One document's files.
struct Desk {
    main: Source,
    files: Vec<(FileId, Bytes)>,
}

impl Desk {
    fn new(document: &Document) -> Checked<Self> {
        let mut files = Vec::new();
        for (name, contents) in document.files {
            files.push((file_id(name)?, Bytes::new(contents.clone())));
        }
        Ok(Self {
            main: Source::new(file_id("paper.typ")?, document.source.to_owned()),
            files,
        })
    }
}

/// Names are kept for as long as the program runs, so that callers should use the same few again.
fn file_id(name: &str) -> Checked<FileId> {
    VirtualPath::new(name)
        .map(|path| RootedPath::new(VirtualRoot::Project, path).intern())
        .map_err(|e| Fault::new(format!("`{name}` can't be the name of a figure: {e}")).into())
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &PRESS.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &PRESS.book
    }

    fn main(&self) -> FileId {
        self.main.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() {
            return Ok(self.main.clone());
        }
        Err(absent(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let found = self.files.iter().find(|(known, _)| *known == id);
        found
            .map(|(_, contents)| contents.clone())
            .ok_or_else(|| absent(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        PRESS.fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn absent(id: FileId) -> FileError {
    FileError::NotFound(PathBuf::from(id.vpath().get_without_slash()))
}

/// Empties what was remembered for the last document when it is done, however it ended: else memory grows with every
/// document.
struct Evict;

impl Drop for Evict {
    fn drop(&mut self) {
        comemo::evict(0);
    }
}

thread_local! {
    /// Typst lays out pages on the threads of a pool of rayon's. Several documents at once would wait there for one another,
    /// deep in one stack, and what they take of memory would lie among all threads: so a thread that typesets is a pool of
    /// its own.
    static POOL: Option<ThreadPool> = ThreadPoolBuilder::new()
        .num_threads(1)
        .use_current_thread()
        .build()
        .ok();
}

fn typeset(desk: &Desk) -> Checked<PagedDocument> {
    POOL.with(|_| ());
    typst::compile(desk).output.map_err(|e| faults(desk, &e))
}

pub(super) fn pdf(document: &Document) -> Checked<Vec<u8>> {
    let desk = Desk::new(document)?;
    let _evict = Evict;
    let pages = typeset(&desk)?;
    let standards = PdfStandards::new(&[PdfStandard::Ua_1])
        .map_err(|e| Fault::new(format!("the kind of PDF is not possible: {}", e.message())))?;
    let options = PdfOptions {
        ident: Smart::Custom(document.ident.to_owned()),
        creator: Smart::Custom(Some(concat!("gradeline ", env!("CARGO_PKG_VERSION")).to_owned())),
        timestamp: None,
        standards,
        ..PdfOptions::default()
    };
    typst_pdf::pdf(&pages, &options).map_err(|e| faults(&desk, &e))
}

/// A page as large as the figure on it.
fn figure(svg: &str, title: &str, description: &str) -> Checked<Desk> {
    let source = format!(
        "#set document(title: {}, date: none)\n#set page(width: auto, height: auto, margin: 0pt)\n\
         #set text(font: {}, lang: \"en\")\n#image(\"figure.svg\", alt: {})\n",
        typst_literal(title),
        typst_literal(TEXT_FONT),
        typst_literal(description)
    );
    Desk::new(&Document {
        source: &source,
        files: &[("figure.svg".to_owned(), svg.as_bytes().to_vec())],
        ident: title,
    })
}

pub(super) fn figure_pdf(svg: &str, title: &str, description: &str) -> Checked<Vec<u8>> {
    let desk = figure(svg, title, description)?;
    pdf(&Document {
        source: desk.main.text(),
        files: &[("figure.svg".to_owned(), svg.as_bytes().to_vec())],
        ident: title,
    })
}

pub(super) fn figure_png(svg: &str, pixels_per_inch: f64) -> Checked<Vec<u8>> {
    let desk = figure(svg, "Figure", "Figure")?;
    let _evict = Evict;
    let pages = typeset(&desk)?;
    let Some(page) = pages.pages().first() else {
        return Err(Fault::new("the figure is empty").into());
    };
    let scale = pixels_per_inch / POINTS;
    let size = page.frame.size();
    let pixels = size.x.to_pt() * size.y.to_pt() * scale * scale;
    if !(1.0..=LARGEST_PICTURE).contains(&pixels) {
        return Err(
            Fault::new(format!("a picture of {pixels:.0} pixels can't be made"))
                .mend("ask for fewer or more pixels an inch")
                .into(),
        );
    }
    let options = typst_render::RenderOptions {
        pixel_per_pt: Scalar::new(scale),
        ..typst_render::RenderOptions::default()
    };
    typst_render::render(page, &options)
        .encode_png()
        .map_err(|e| Fault::new(format!("the picture can't be written: {e}")).into())
}

/// A bit for each character that one of the families of running text has in all its styles, so that it is there upright,
/// slanted and bold. Characters for private use are none: fonts put there what they like.
static GLYPHS: LazyLock<Vec<u64>> = LazyLock::new(|| {
    let mut all = vec![0; 0x11_0000 / 64];
    for family in [TEXT_FONT, "Libertinus Serif", CODE_FONT] {
        let mut of_family: Option<Vec<u64>> = None;
        for font in PRESS.fonts.iter().filter(|font| font.info().family == family) {
            let mut bits = vec![0; all.len()];
            let instance =
                font.clone()
                    .instantiate(font.info().variant, Abs::pt(10.0), &FontVariations::default());
            // A font may list a character and have no more than an empty box for it.
            let drawn = |c: u32| {
                char::from_u32(c)
                    .and_then(|c| instance.ttf().glyph_index(c))
                    .is_some_and(|glyph| glyph.0 != 0)
            };
            for c in font.info().coverage.iter() {
                if let Some(word) = bits.get_mut(c as usize / 64)
                    && !(0xE000..0xF900).contains(&c)
                    && drawn(c)
                {
                    *word |= 1_u64 << (c % 64);
                }
            }
            of_family = Some(match of_family {
                Some(before) => before.iter().zip(&bits).map(|(a, b)| a & b).collect(),
                None => bits,
            });
        }
        for (word, more) in all.iter_mut().zip(of_family.iter().flatten()) {
            *word |= more;
        }
    }
    all
});

pub(super) fn has_glyph(character: char) -> bool {
    let c = u32::from(character);
    GLYPHS
        .get(c as usize / 64)
        .is_some_and(|word| word >> (c % 64) & 1 == 1)
}

/// The regular and the bold font of running text.
static WORDS: LazyLock<[Option<FontInstance>; 2]> = LazyLock::new(|| {
    [FontWeight::REGULAR, FontWeight::BOLD].map(|weight| {
        let variant = FontVariant::new(FontStyle::Normal, weight, FontStretch::NORMAL);
        let index = PRESS.book.select(&TEXT_FONT.to_lowercase(), variant)?;
        let font = PRESS.fonts.get(index)?.clone();
        Some(font.instantiate(variant, Abs::pt(10.0), &FontVariations::default()))
    })
});

pub(super) fn width(words: &str, bold: bool) -> Option<f64> {
    let font = WORDS[usize::from(bold)].as_ref()?;
    let each = words.chars().map(|c| {
        let glyph = font.ttf().glyph_index(c)?;
        font.x_advance(glyph.0).map(Em::get)
    });
    each.sum()
}

/// What Typst says, with the line of the source that it is about.
fn faults(desk: &Desk, errors: &[SourceDiagnostic]) -> Faults {
    let each = errors.iter().map(|error| {
        let fault = Fault::new(format!("the paper can't be typeset: {}", error.message));
        let fault = match desk.range(error.span) {
            Some(range) => {
                let before = desk.main.text().get(..range.start).unwrap_or_default();
                let line = before.matches('\n').count();
                let column = before.rsplit('\n').next().unwrap_or_default().chars().count();
                fault.at(Place::file("the paper in Typst").at(line + 1, column + 1))
            }
            None => fault,
        };
        match error.hints.first() {
            Some(hint) => fault.mend(hint.v.to_string()),
            None => fault,
        }
    });
    Faults(each.collect())
}
