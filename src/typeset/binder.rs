//! Papers bound into one file: finished PDFs of [`super::pdf`], one behind the other, as one tagged PDF; and pieces bound into
//! one paper in the same way. What is bound can be bound again.
//!
//! Each paper is copied as it comes and then forgotten, so that memory hangs on the largest paper and not on how many
//! there are. Its objects get new numbers, its pages hang on one tree, its structure on one document, its headings on one
//! outline. What is kept is where objects stand, a few numbers for each paper, and hashes of fonts and drawings: those
//! that an earlier paper had too, byte for byte, are not copied again.
//!
//! What is no stream goes into compressed streams of objects (ISO 32000-1, 7.5.7), which take a fifth of the room.

use super::Bindable;
use super::objects::{File, Object, Objects, ROW, ROWS, Token, UP, number, references, value};
use crate::fault::{Checked, Fault, Faults};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{self, Write};

/// Objects of one stream of objects: a reader unpacks it whole to read one of them.
const MOST_PACKED: usize = 200;
/// How deep what a page uses may be nested and still be compared with what was there before.
const DEEPEST: usize = 16;

/// Numbers of the objects that stand for the whole; they are written last.
const CATALOG: u32 = 1;
const PAGES: u32 = 2;
const STRUCTURE: u32 = 3;
const DOCUMENT: u32 = 4;
const OUTLINE: u32 = 5;
const INFO: u32 = 6;
const METADATA: u32 = 7;
const FIRST_FREE: u32 = 8;

/// A hash of an object and of all that it names.
type Digest = [u8; 32];

/// Papers that are asked for one by one, as one file.
pub(super) fn bind(
    out: &mut dyn Write,
    title: &str,
    papers: &mut dyn Iterator<Item = Checked<Bindable>>,
) -> Checked<()> {
    let mut binder = Binder::begin(out, title, Whole::Packet)?;
    for paper in papers {
        let (label, paper) = paper?;
        binder.add(&paper, &label)?;
    }
    binder.finish()
}

/// Pieces that are asked for one by one, by their place from 0 and the number of their first page, as one paper.
pub(super) fn join(
    title: &str,
    count: usize,
    piece: &mut dyn FnMut(usize, u32) -> Checked<Vec<u8>>,
) -> Checked<Vec<u8>> {
    let mut out = Vec::new();
    let mut binder = Binder::begin(&mut out, title, Whole::Paper)?;
    for n in 0..count {
        let piece = piece(n, binder.page_count + 1)?;
        binder.add(&piece, "")?;
    }
    binder.finish()?;
    Ok(out)
}

/// What becomes of what is bound.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Whole {
    /// Papers of several people: each begins on an odd page, is a part of the document, and has an entry in the outline.
    Packet,
    /// One paper of several pieces: pages, structure and outline run on.
    Paper,
}

/// A file into which papers are bound.
struct Binder<W: Write> {
    out: Counted<W>,
    whole: Whole,
    title: String,
    next: u32,
    runs: Vec<Run>,
    /// Streams that pages use.
    known: BTreeMap<Digest, u32>,
    bound: Vec<Bound>,
    /// Nodes of the tree of pages: papers, and blank pages between them.
    page_nodes: Vec<u32>,
    page_count: u32,
    /// The size of the last page, where a blank one must follow before the next paper.
    blank: Option<Vec<u8>>,
    /// The next free key of a page in the tree of keys.
    next_key: u32,
    /// What the first paper's catalog says that holds for the whole, such as its language.
    manner: Vec<u8>,
    language: Vec<u8>,
    /// What elements of structure of other names stand for.
    roles: BTreeMap<Vec<u8>, Vec<u8>>,
    /// The outline of a paper of pieces.
    running: Running,
}

/// An outline that runs through several pieces.
#[derive(Default)]
struct Running {
    /// Its first entry; 0 for none yet.
    first: u32,
    /// Its last entry so far, which is not written before it is known whether another follows.
    last: Option<(u32, Vec<u8>)>,
    count: u32,
}

/// What must be known of a paper in the end.
struct Bound {
    label: String,
    /// The number of its entry in the outline.
    entry: u32,
    first_page: u32,
    /// The first and last entry below it and how many there are, as its own outline says.
    below: Vec<u8>,
    structure: Vec<u32>,
    /// Leaves of the trees of [`Tree`].
    leaves: [Option<u32>; 3],
}

/// Trees whose leaves come from the papers.
#[derive(Clone, Copy)]
enum Tree {
    /// From pages to structure.
    Keys,
    /// From names to structure.
    Names,
    /// From names to places in the text.
    Places,
}

/// Objects with numbers one after the other, and where they are.
struct Run {
    first: u32,
    count: u32,
    place: Place,
}

#[derive(Clone, Copy)]
enum Place {
    /// Behind so many bytes.
    At(u64),
    /// In this stream of objects; the first of them is in this place of it.
    In(u32, u32),
}

/// Counts and hashes what is written.
struct Counted<W> {
    out: W,
    written: u64,
    hash: blake3::Hasher,
}

impl<W: Write> Counted<W> {
    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.written += bytes.len() as u64;
        self.hash.update(bytes);
        self.out.write_all(bytes)
    }
}

fn unreadable() -> Faults {
    Fault::new("a paper can't be bound: its PDF is not as the typesetter writes it").into()
}

fn unwritable(error: &io::Error) -> Faults {
    Fault::new(format!("the bound papers can't be written: {error}")).into()
}

impl<W: Write> Binder<W> {
    /// Begins a file. `title` is what readers show as its name.
    fn begin(out: W, title: &str, whole: Whole) -> Checked<Self> {
        let mut out = Counted {
            out,
            written: 0,
            hash: blake3::Hasher::new(),
        };
        out.hash.update(title.as_bytes());
        out.put(b"%PDF-1.7\n%\x80\x80\x80\x80\n")
            .map_err(|e| unwritable(&e))?;
        Ok(Self {
            out,
            whole,
            title: title.to_owned(),
            next: FIRST_FREE,
            runs: Vec::new(),
            known: BTreeMap::new(),
            bound: Vec::new(),
            page_nodes: Vec::new(),
            page_count: 0,
            blank: None,
            next_key: 0,
            manner: Vec::new(),
            language: Vec::new(),
            roles: BTreeMap::new(),
            running: Running::default(),
        })
    }

    /// Adds a paper, which begins on an odd page and has `label` as its entry in the outline; or a piece, which has neither.
    fn add(&mut self, paper: &[u8], label: &str) -> Checked<()> {
        let file = File::open(paper).ok_or_else(unreadable)?;
        let objects = file.objects().ok_or_else(unreadable)?;
        let parts = Parts::of(&objects, self.whole).ok_or_else(unreadable)?;
        if self.bound.is_empty() {
            self.take_manner(&parts);
        }
        let mut packed = Vec::new();
        if let Some(size) = self.blank.take() {
            let mut page = format!("<</Type/Page/Parent {PAGES} 0 R/MediaBox").into_bytes();
            page.extend(size);
            page.extend(b"/Resources<<>>/Tabs/S>>");
            let blank = self.take_number();
            packed.push((blank, page));
            self.page_nodes.push(blank);
            self.page_count += 1;
        }

        let entry = match self.whole {
            Whole::Packet => self.take_number(),
            Whole::Paper => OUTLINE,
        };
        let mut copy = Copy {
            whole: self.whole,
            numbers: vec![0; objects.len()],
            prefix: format!("{:06}-", self.bound.len()),
            first_key: self.next_key,
        };
        copy.give(parts.structure_root, DOCUMENT);
        if let Some(document) = parts.document {
            copy.give(document, DOCUMENT);
        }
        if let Some(outline) = parts.outline {
            copy.give(outline, entry);
        }
        let (mut streams, shared) = self.share(&objects, &mut copy);
        let wanted = parts.wanted(&objects, &shared);
        let is_wanted = |n: u32| wanted.get(n as usize).copied().unwrap_or(false);
        for (n, object) in objects.iter() {
            if object.data.is_some() && is_wanted(n) && copy.number(n) == 0 {
                copy.give(n, self.take_number());
                streams.push(n);
            }
        }
        let plain: Vec<(u32, &Object)> = objects
            .iter()
            .filter(|(n, object)| object.data.is_none() && is_wanted(*n) && copy.number(*n) == 0)
            .collect();
        for (n, _) in &plain {
            copy.give(*n, self.take_number());
        }
        for (n, object) in &plain {
            let mut text = copy.written(&object.tokens, Within::Object);
            if *n == parts.pages {
                insert(&mut text, &format!("/Parent {PAGES} 0 R"));
            }
            packed.push((copy.number(*n), text));
        }
        if self.whole == Whole::Paper {
            self.run_on(&parts, &objects, &copy, &mut packed);
        }
        let leaves = [
            copy.leaf_of_keys(&parts.keys),
            copy.leaf_of_names(&parts.names),
            copy.leaf_of_names(&parts.places),
        ]
        .map(|leaf| {
            leaf.map(|text| {
                let number = self.take_number();
                packed.push((number, text));
                number
            })
        });
        for n in streams {
            if let Some(object) = objects.get(n) {
                self.stream(&copy, n, object)?;
            }
        }
        self.pack(packed)?;

        self.next_key += parts.key_count;
        self.page_count += parts.page_count;
        self.page_nodes.push(copy.number(parts.pages));
        if self.whole == Whole::Packet && self.page_count % 2 == 1 {
            self.blank = Some(copy.written(parts.size, Within::Object));
        }
        for pair in parts.roles.chunks_exact(2) {
            if let [Token::Name(name), Token::Name(role)] = pair {
                self.roles.insert(name.to_vec(), role.to_vec());
            }
        }
        self.bound.push(Bound {
            label: label.to_owned(),
            entry,
            first_page: copy.number(parts.first_page),
            below: parts.below(&objects, &copy),
            structure: parts.structure.iter().map(|n| copy.number(*n)).collect(),
            leaves,
        });
        Ok(())
    }

    /// Ends the file.
    fn finish(mut self) -> Checked<()> {
        if self.bound.is_empty() {
            return Err(Fault::new("there are no papers to bind").into());
        }
        let list = |numbers: &mut dyn Iterator<Item = u32>| {
            let all: Vec<String> = numbers.map(|n| format!("{n} 0 R")).collect();
            format!("[{}]", all.join(" "))
        };
        let tree = |tree: Tree, name: &str| {
            let mut leaves = self
                .bound
                .iter()
                .filter_map(|paper| paper.leaves[tree as usize])
                .peekable();
            match leaves.peek() {
                Some(_) => format!("/{name}<</Kids{}>>", list(&mut leaves)),
                None => String::new(),
            }
        };
        let mut packed = Vec::new();
        let mut catalog = format!(
            "<</Type/Catalog/Pages {PAGES} 0 R/Metadata {METADATA} 0 R/StructTreeRoot {STRUCTURE} 0 R\
             /Outlines {OUTLINE} 0 R"
        );
        let places = tree(Tree::Places, "Dests");
        if !places.is_empty() {
            let _ = write!(catalog, "/Names<<{places}>>");
        }
        let mut catalog = catalog.into_bytes();
        catalog.extend(&self.manner);
        catalog.extend(b">>");
        packed.push((CATALOG, catalog));
        packed.push((
            PAGES,
            format!(
                "<</Type/Pages/Count {}/Kids{}>>",
                self.page_count,
                list(&mut self.page_nodes.iter().copied())
            )
            .into_bytes(),
        ));
        let mut structure = b"<</Type/StructTreeRoot/RoleMap<<".to_vec();
        for (name, role) in &self.roles {
            structure.extend([b"/", name.as_slice(), b"/", role].concat());
        }
        structure.extend(
            format!(
                ">>/K[{DOCUMENT} 0 R]{}{}/ParentTreeNextKey {}>>",
                tree(Tree::Keys, "ParentTree"),
                tree(Tree::Names, "IDTree"),
                self.next_key
            )
            .into_bytes(),
        );
        packed.push((STRUCTURE, structure));
        packed.push((
            DOCUMENT,
            format!(
                "<</Type/StructElem/S/Document/P {STRUCTURE} 0 R/K{}>>",
                list(
                    &mut self
                        .bound
                        .iter()
                        .flat_map(|paper| paper.structure.iter().copied())
                )
            )
            .into_bytes(),
        ));
        packed.extend(match self.whole {
            Whole::Packet => self.outline(),
            Whole::Paper => self.running.ended(),
        });
        let program = concat!("gradeline ", env!("CARGO_PKG_VERSION"));
        packed.push((
            INFO,
            format!("<</Title{}/Creator{}>>", text(&self.title), text(program)).into_bytes(),
        ));
        self.pack(packed)?;
        let metadata = self.metadata(program);
        let head = format!("<</Type/Metadata/Subtype/XML/Length {}>>", metadata.len());
        self.whole_stream(METADATA, head.as_bytes(), metadata.as_bytes())?;
        self.table()?;
        self.out.out.flush().map_err(|e| unwritable(&e))
    }

    /// Hangs the entries of a piece behind those of the pieces before it.
    fn run_on(&mut self, parts: &Parts, objects: &Objects, copy: &Copy, packed: &mut Vec<(u32, Vec<u8>)>) {
        let Some((first, last, count)) = parts.entries(objects) else {
            return;
        };
        let (first, last) = (copy.number(first), copy.number(last));
        self.running.count += count;
        if let Some((before, mut text)) = self.running.last.take() {
            insert(&mut text, &format!("/Next {first} 0 R"));
            if let Some((_, text)) = packed.iter_mut().find(|(n, _)| *n == first) {
                insert(text, &format!("/Prev {before} 0 R"));
            }
            packed.push((before, text));
        } else {
            self.running.first = first;
        }
        if let Some(place) = packed.iter().position(|(n, _)| *n == last) {
            self.running.last = Some(packed.remove(place));
        }
    }

    fn take_number(&mut self) -> u32 {
        self.next += 1;
        self.next - 1
    }

    /// What the catalog of a paper says that holds for the whole.
    fn take_manner(&mut self, parts: &Parts) {
        let copy = Copy {
            whole: self.whole,
            numbers: Vec::new(),
            prefix: String::new(),
            first_key: 0,
        };
        for key in ["Lang", "MarkInfo", "ViewerPreferences"] {
            if let Some(value) = parts.catalog.value(key.as_bytes()) {
                let value = copy.written(value, Within::Object);
                self.manner.extend(format!("/{key}").into_bytes());
                self.manner.extend(&value);
                if key == "Lang" {
                    self.language = value;
                }
            }
        }
    }

    /// Gives numbers to the streams that pages use: of those that were there before the number that they have. Says which
    /// are to be written, and for each object whether it is such a stream.
    fn share(&mut self, objects: &Objects, copy: &mut Copy) -> (Vec<u32>, Vec<bool>) {
        let mut digests = Digests::new(objects);
        for (_, object) in objects.iter().filter(|(_, object)| object.is(b"Page")) {
            for used in references(object.value(b"Resources").unwrap_or_default()) {
                digests.of(used, 0);
            }
        }
        let mut new = Vec::new();
        let mut shared = vec![false; objects.len()];
        for (n, object) in objects.iter() {
            let (Some(digest), true) = (digests.known(n), object.data.is_some()) else {
                continue;
            };
            if let Some(mark) = shared.get_mut(n as usize) {
                *mark = true;
            }
            if let Some(number) = self.known.get(&digest) {
                copy.give(n, *number);
            } else {
                let number = self.take_number();
                self.known.insert(digest, number);
                copy.give(n, number);
                new.push(n);
            }
        }
        // What a new one names is wanted with it.
        for n in &new {
            if let Some(mark) = shared.get_mut(*n as usize) {
                *mark = false;
            }
        }
        (new, shared)
    }

    /// Entries of the outline: the papers, and below each what it had.
    fn outline(&self) -> Vec<(u32, Vec<u8>)> {
        let entry = |n: usize| self.bound.get(n).map(|paper| paper.entry);
        let mut all = Vec::with_capacity(self.bound.len() + 1);
        let last = self.bound.len() - 1;
        let ends = entry(0).zip(entry(last));
        let (first, last) = ends.unwrap_or_default();
        all.push((
            OUTLINE,
            format!(
                "<</Type/Outlines/First {first} 0 R/Last {last} 0 R/Count {}>>",
                self.bound.len()
            )
            .into_bytes(),
        ));
        for (n, paper) in self.bound.iter().enumerate() {
            let mut text = format!(
                "<</Title{}/Parent {OUTLINE} 0 R/Dest[{} 0 R/XYZ null null null]",
                text(&paper.label),
                paper.first_page
            );
            if let Some(before) = n.checked_sub(1).and_then(entry) {
                let _ = write!(text, "/Prev {before} 0 R");
            }
            if let Some(after) = entry(n + 1) {
                let _ = write!(text, "/Next {after} 0 R");
            }
            let mut text = text.into_bytes();
            text.extend(&paper.below);
            text.extend(b">>");
            all.push((paper.entry, text));
        }
        all
    }

    /// Title, language and kind of the file for machines (ISO 16684-1, ISO 14289-1).
    fn metadata(&self, program: &str) -> String {
        let language: String = String::from_utf8_lossy(&self.language)
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
            .collect();
        format!(
            "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\
             <x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\
             <rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" \
             xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdfuaid=\"http://www.aiim.org/pdfua/ns/id/\">\
             <dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{}</rdf:li></rdf:Alt></dc:title>\
             <dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>\
             <dc:format>application/pdf</dc:format><xmp:CreatorTool>{program}</xmp:CreatorTool>\
             <pdfuaid:part>1</pdfuaid:part></rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end=\"r\"?>",
            xml(&self.title)
        )
    }

    /// Writes a stream of a paper.
    fn stream(&mut self, copy: &Copy, n: u32, object: &Object) -> Checked<()> {
        let head = copy.written(&object.tokens, Within::Object);
        self.whole_stream(copy.number(n), &head, object.data.unwrap_or_default())
    }

    fn whole_stream(&mut self, number: u32, head: &[u8], data: &[u8]) -> Checked<()> {
        self.runs.push(Run {
            first: number,
            count: 1,
            place: Place::At(self.out.written),
        });
        let whole = |out: &mut Counted<W>| {
            out.put(format!("{number} 0 obj\n").as_bytes())?;
            out.put(head)?;
            out.put(b"\nstream\n")?;
            out.put(data)?;
            out.put(b"\nendstream\nendobj\n")
        };
        whole(&mut self.out).map_err(|e| unwritable(&e))
    }

    /// Writes objects that are no streams in streams of objects.
    fn pack(&mut self, packed: Vec<(u32, Vec<u8>)>) -> Checked<()> {
        for some in packed.chunks(MOST_PACKED) {
            let container = self.take_number();
            let mut places = String::new();
            let mut texts = Vec::new();
            for (index, (number, text)) in (0..).zip(some) {
                let _ = write!(places, "{number} {} ", texts.len());
                texts.extend(text);
                texts.push(b'\n');
                match self.runs.last_mut() {
                    Some(Run {
                        first,
                        count,
                        place: Place::In(stream, _),
                    }) if *stream == container && *first + *count == *number => *count += 1,
                    _ => self.runs.push(Run {
                        first: *number,
                        count: 1,
                        place: Place::In(container, index),
                    }),
                }
            }
            let data = deflated(&[places.as_bytes(), &texts].concat()).map_err(|e| unwritable(&e))?;
            let head = format!(
                "<</Type/ObjStm/N {}/First {}/Filter/FlateDecode/Length {}>>",
                some.len(),
                places.len(),
                data.len()
            );
            self.whole_stream(container, head.as_bytes(), &data)?;
        }
        Ok(())
    }

    /// Writes where each object is, and the end of the file.
    fn table(&mut self) -> Checked<()> {
        let number = self.take_number();
        let start = self.out.written;
        self.runs.push(Run {
            first: number,
            count: 1,
            place: Place::At(start),
        });
        self.runs.sort_by_key(|run| run.first);
        let mut packing = ZlibEncoder::new(Vec::new(), Compression::default());
        // The differences to the row above are nearly always the same.
        let mut above = [0_u8; ROW];
        let mut put = |kind: u8, place: u64, index: u32| {
            let mut row = [0; ROW];
            row[0] = kind;
            row[1..6].copy_from_slice(&place.to_be_bytes()[3..]);
            row[6..].copy_from_slice(&index.to_be_bytes()[2..]);
            let mut line = [UP; 1 + ROW];
            for ((out, new), old) in line.iter_mut().skip(1).zip(row).zip(above) {
                *out = new.wrapping_sub(old);
            }
            above = row;
            packing.write_all(&line)
        };
        let mut rows = || {
            put(0, 0, 0xffff)?;
            let mut expected = 1;
            for run in &self.runs {
                for _ in expected..run.first {
                    put(0, 0, 0)?;
                }
                match run.place {
                    Place::At(offset) => put(1, offset, 0)?,
                    Place::In(stream, index) => {
                        for n in 0..run.count {
                            put(2, u64::from(stream), index + n)?;
                        }
                    }
                }
                expected = run.first + run.count;
            }
            Ok::<_, io::Error>(())
        };
        rows().map_err(|e| unwritable(&e))?;
        let data = packing.finish().map_err(|e| unwritable(&e))?;
        let hash = self.out.hash.finalize().to_hex();
        let ident = &hash[..32];
        let head = format!(
            "<</Type/XRef/Size {}{ROWS}/Root {CATALOG} 0 R/Info {INFO} 0 R/ID[<{ident}><{ident}>]\
             /Filter/FlateDecode/DecodeParms<</Predictor 12/Columns {ROW}>>/Length {}>>",
            self.next,
            data.len()
        );
        self.whole_stream(number, head.as_bytes(), &data)?;
        self.out
            .put(format!("startxref\n{start}\n%%EOF\n").as_bytes())
            .map_err(|e| unwritable(&e))
    }
}

/// Where in a paper its parts are.
struct Parts<'o, 'a> {
    catalog: &'o Object<'a>,
    catalog_number: u32,
    structure_root: u32,
    outline: Option<u32>,
    pages: u32,
    page_count: u32,
    first_page: u32,
    /// Of the last page.
    size: &'o [Token<'a>],
    /// What holds the structure of a piece, if what it holds is to hang on the whole's own.
    document: Option<u32>,
    /// The elements at the top of its structure.
    structure: Vec<u32>,
    keys: Vec<Token<'a>>,
    key_count: u32,
    names: Vec<Token<'a>>,
    places: Vec<Token<'a>>,
    roles: &'o [Token<'a>],
}

impl<'o, 'a> Parts<'o, 'a> {
    fn of(objects: &'o Objects<'a>, whole: Whole) -> Option<Self> {
        let catalog_number = objects.root;
        let catalog = objects.get(catalog_number)?;
        let structure_root = catalog.reference(b"StructTreeRoot")?;
        let root = objects.get(structure_root)?;
        let pages = catalog.reference(b"Pages")?;
        let places = catalog.value(b"Names").and_then(|names| value(names, b"Dests"));
        let mut structure: Vec<u32> = references(root.value(b"K")?).collect();
        let mut document = None;
        if let (Whole::Paper, [one]) = (whole, structure.as_slice()) {
            document = Some(*one);
            structure = references(objects.get(*one)?.value(b"K").unwrap_or_default())
                .filter(|n| objects.get(*n).is_some_and(has_contents))
                .collect();
        }
        Some(Self {
            catalog,
            catalog_number,
            structure_root,
            outline: catalog.reference(b"Outlines"),
            pages,
            page_count: objects.get(pages)?.whole(b"Count")?,
            first_page: page(objects, pages, true)?,
            size: objects.get(page(objects, pages, false)?)?.value(b"MediaBox")?,
            document,
            structure,
            keys: pairs(objects, root.value(b"ParentTree"), b"Nums"),
            key_count: root.whole(b"ParentTreeNextKey").unwrap_or(0),
            names: pairs(objects, root.value(b"IDTree"), b"Names"),
            places: pairs(objects, places, b"Names"),
            roles: inner(root.value(b"RoleMap").unwrap_or_default()),
        })
    }

    /// Which objects the whole needs of this paper; `shared` are in it already.
    fn wanted(&self, objects: &Objects, shared: &[bool]) -> Vec<bool> {
        let mut wanted = vec![false; objects.len()];
        let mut ahead = vec![self.pages];
        ahead.extend(&self.structure);
        for tokens in [&self.keys, &self.names, &self.places] {
            ahead.extend(references(tokens));
        }
        if let Some(outline) = self.outline.and_then(|n| objects.get(n)) {
            ahead.extend(references(&outline.tokens));
        }
        while let Some(n) = ahead.pop() {
            let stands_for_all = n == self.catalog_number
                || n == self.structure_root
                || [self.outline, self.document].contains(&Some(n));
            let is_shared = shared.get(n as usize).copied().unwrap_or(true);
            if let (Some(mark @ false), Some(object)) = (wanted.get_mut(n as usize), objects.get(n))
                && !stands_for_all
                && !is_shared
            {
                *mark = true;
                ahead.extend(references(&object.tokens));
            }
        }
        wanted
    }

    /// The first and the last entry at the top of the outline, and how many there are.
    fn entries(&self, objects: &Objects) -> Option<(u32, u32, u32)> {
        let outline = objects.get(self.outline?)?;
        let (first, last) = outline.reference(b"First").zip(outline.reference(b"Last"))?;
        Some((first, last, outline.whole(b"Count")?))
    }

    /// What the outline's own root says of the entries below it, closed.
    fn below(&self, objects: &Objects, copy: &Copy) -> Vec<u8> {
        let Some((first, last, count)) = self.entries(objects) else {
            return Vec::new();
        };
        format!(
            "/First {} 0 R/Last {} 0 R/Count -{count}",
            copy.number(first),
            copy.number(last)
        )
        .into_bytes()
    }
}

impl Running {
    /// The outline and its last entry.
    fn ended(&mut self) -> Vec<(u32, Vec<u8>)> {
        let Some((last, text)) = self.last.take() else {
            return vec![(OUTLINE, b"<</Type/Outlines>>".to_vec())];
        };
        let root = format!(
            "<</Type/Outlines/First {} 0 R/Last {last} 0 R/Count {}>>",
            self.first, self.count
        );
        vec![(OUTLINE, root.into_bytes()), (last, text)]
    }
}

/// Whether an element of structure holds anything. A piece that goes on may begin with a heading that is there for its
/// typesetter alone.
fn has_contents(element: &Object) -> bool {
    element
        .value(b"K")
        .is_some_and(|kids| !matches!(kids, [] | [Token::OpenArray, Token::CloseArray]))
}

/// The pairs of a tree of names or numbers: its own, or those of its leaves.
fn pairs<'a>(objects: &Objects<'a>, tree: Option<&[Token<'a>]>, key: &[u8]) -> Vec<Token<'a>> {
    let tree = tree.unwrap_or_default();
    if let Some(own) = value(tree, key) {
        return own.to_vec();
    }
    let mut all = vec![Token::OpenArray];
    for leaf in references(value(tree, b"Kids").unwrap_or_default()) {
        let pairs = objects.get(leaf).and_then(|leaf| leaf.value(key));
        all.extend(inner(pairs.unwrap_or_default()));
    }
    all.push(Token::CloseArray);
    all
}

/// What stands between the brackets of a list or a dictionary.
fn inner<'t, 'a>(tokens: &'t [Token<'a>]) -> &'t [Token<'a>] {
    tokens.get(1..tokens.len().saturating_sub(1)).unwrap_or_default()
}

/// Puts more at the start of a dictionary.
fn insert(dictionary: &mut Vec<u8>, more: &str) {
    dictionary.splice(2..2, more.bytes());
}

/// The first or the last page below a node of the tree of pages.
fn page(objects: &Objects, mut node: u32, first: bool) -> Option<u32> {
    for _ in 0..DEEPEST {
        let object = objects.get(node)?;
        if object.is(b"Page") {
            return Some(node);
        }
        let mut below = references(object.value(b"Kids")?);
        node = if first { below.next() } else { below.last() }?;
    }
    None
}

/// How a paper's objects are written into the whole.
struct Copy {
    whole: Whole,
    /// For each object the number that it has there; 0 for none.
    numbers: Vec<u32>,
    /// What goes before names, so that those of two papers differ, and stand in the order of the papers.
    prefix: String,
    /// What is added to the keys of pages.
    first_key: u32,
}

/// What a list of words is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Within {
    /// An object.
    Object,
    /// Keys of pages, and what they lead to.
    Keys,
    /// Names, and what they lead to.
    Names,
}

impl Copy {
    fn give(&mut self, old: u32, new: u32) {
        if let Some(number) = self.numbers.get_mut(old as usize) {
            *number = new;
        }
    }

    fn number(&self, old: u32) -> u32 {
        self.numbers.get(old as usize).copied().unwrap_or(0)
    }

    /// Words as text, with the whole's numbers, keys and names.
    fn written(&self, tokens: &[Token], within: Within) -> Vec<u8> {
        let mut out = Vec::new();
        let mut key: &[u8] = b"";
        let mut in_headers = false;
        for token in tokens {
            let is_key = within == Within::Keys || matches!(key, b"StructParents" | b"StructParent");
            let is_name = within == Within::Names || in_headers || matches!(key, b"ID" | b"D" | b"Dest");
            let name = match token {
                Token::Name(name) => *name,
                _ => b"",
            };
            match token {
                Token::OpenDictionary => out.extend(b"<<"),
                Token::CloseDictionary => out.extend(b">>"),
                Token::OpenArray => {
                    // Cells of a table name the cells at their heads.
                    in_headers = key == b"Headers";
                    out.push(b'[');
                }
                Token::CloseArray => {
                    in_headers = false;
                    out.push(b']');
                }
                // Each paper is a part of the whole document.
                Token::Name(b"Document") if key == b"S" && self.whole == Whole::Packet => {
                    out.extend(b"/Part");
                }
                Token::Name(name) => {
                    out.push(b'/');
                    out.extend(*name);
                }
                Token::Text(text) if is_name => out.extend(self.prefixed(text)),
                Token::Text(text) => out.extend(*text),
                Token::Number(_) if is_key => {
                    apart(&mut out);
                    let key = number(*token).unwrap_or(0) + self.first_key;
                    out.extend(key.to_string().into_bytes());
                }
                Token::Number(text) | Token::Word(text) => {
                    apart(&mut out);
                    out.extend(*text);
                }
                Token::Object(old) => {
                    apart(&mut out);
                    out.extend(format!("{} 0 R", self.number(*old)).into_bytes());
                }
            }
            key = name;
        }
        out
    }

    fn prefixed(&self, text: &[u8]) -> Vec<u8> {
        let (bracket, rest) = text.split_at(usize::from(!text.is_empty()));
        let prefix = if bracket == b"(" {
            self.prefix.clone()
        } else {
            self.prefix.bytes().map(|b| format!("{b:02x}")).collect()
        };
        [bracket, prefix.as_bytes(), rest].concat()
    }

    fn leaf_of_keys(&self, keys: &[Token]) -> Option<Vec<u8>> {
        let mut numbers = keys.iter().filter_map(|token| number(*token));
        let first = numbers.next()?;
        let last = numbers.next_back().unwrap_or(first);
        let limits = format!(
            "<</Limits[{} {}]/Nums",
            first + self.first_key,
            last + self.first_key
        );
        Some([limits.as_bytes(), &self.written(keys, Within::Keys), b">>"].concat())
    }

    fn leaf_of_names(&self, names: &[Token]) -> Option<Vec<u8>> {
        let texts: Vec<Token> = names
            .iter()
            .filter(|token| matches!(token, Token::Text(_)))
            .copied()
            .collect();
        let limits = [*texts.first()?, *texts.last()?];
        let limits = self.written(&limits, Within::Names);
        let names = self.written(names, Within::Names);
        Some([b"<</Limits[", limits.as_slice(), b"]/Names", &names, b">>"].concat())
    }
}

/// A blank where two words would run into one.
fn apart(out: &mut Vec<u8>) {
    if out.last().is_some_and(|b| !b"<>[]()".contains(b)) {
        out.push(b' ');
    }
}

/// Hashes of what pages use, each with all that it names.
struct Digests<'o, 'a> {
    objects: &'o Objects<'a>,
    found: Vec<Found>,
}

#[derive(Clone, Copy)]
enum Found {
    Not,
    /// It is being looked at, or leads back to itself or to the structure, so that it belongs to its paper alone.
    Nothing,
    Digest(Digest),
}

impl<'o, 'a> Digests<'o, 'a> {
    fn new(objects: &'o Objects<'a>) -> Self {
        Self {
            objects,
            found: vec![Found::Not; objects.len()],
        }
    }

    fn known(&self, n: u32) -> Option<Digest> {
        match self.found.get(n as usize) {
            Some(Found::Digest(digest)) => Some(*digest),
            _ => None,
        }
    }

    fn of(&mut self, n: u32, depth: usize) -> Option<Digest> {
        let objects = self.objects;
        match self.found.get_mut(n as usize)? {
            Found::Digest(digest) => return Some(*digest),
            Found::Nothing => return None,
            found @ Found::Not => *found = Found::Nothing,
        }
        let object = objects.get(n)?;
        if depth >= DEEPEST {
            return None;
        }
        let mut hash = blake3::Hasher::new();
        for token in &object.tokens {
            let (kind, text): (u8, &[u8]) = match token {
                Token::OpenDictionary => (0, b""),
                Token::CloseDictionary => (1, b""),
                Token::OpenArray => (2, b""),
                Token::CloseArray => (3, b""),
                Token::Name(b"StructParents" | b"StructParent") => return None,
                Token::Name(text) => (4, text),
                Token::Text(text) => (5, text),
                Token::Number(text) => (6, text),
                Token::Word(text) => (7, text),
                Token::Object(below) => (8, &self.of(*below, depth + 1)?),
            };
            hash.update(&[kind]);
            hash.update(&text.len().to_le_bytes());
            hash.update(text);
        }
        hash.update(object.data.unwrap_or_default());
        let digest = *hash.finalize().as_bytes();
        if let Some(found) = self.found.get_mut(n as usize) {
            *found = Found::Digest(digest);
        }
        Some(digest)
    }
}

fn deflated(data: &[u8]) -> io::Result<Vec<u8>> {
    let mut packing = ZlibEncoder::new(Vec::new(), Compression::default());
    packing.write_all(data)?;
    packing.finish()
}

/// A text of a dictionary (ISO 32000-1, 7.9.2.2): plain where it is, else UTF-16.
fn text(text: &str) -> String {
    let plain = |c: char| c.is_ascii_graphic() || c == ' ';
    if text.chars().all(plain) {
        let mut out = String::from("(");
        for c in text.chars() {
            if "()\\".contains(c) {
                out.push('\\');
            }
            out.push(c);
        }
        out.push(')');
        return out;
    }
    let units: String = text.encode_utf16().map(|unit| format!("{unit:04X}")).collect();
    format!("<FEFF{units}>")
}

/// A text in XML; what XML can't hold is left out.
fn xml(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
