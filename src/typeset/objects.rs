//! The objects of a finished PDF, numbered from 1, as the typesetter writes it: plain, with one table of where they stand
//! (ISO 32000-1, 7.5.4); or as [`super::binder`] does: with streams of objects (7.5.7), and the table a stream (7.5.8).

use flate2::read::ZlibDecoder;
use std::collections::BTreeMap;
use std::io::Read;

/// Bytes of a row of a table that is a stream: a kind, a place, an index.
pub(super) const ROW: usize = 1 + 5 + 2;
/// How the rows of such a table are told of in its dictionary.
pub(super) const ROWS: &str = "/W[1 5 2]";
/// The predictor of rows that are each the differences to the row above; each begins with a byte that says so.
pub(super) const UP: u8 = 2;

/// One word of an object.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Token<'a> {
    /// `<<`
    OpenDictionary,
    /// `>>`
    CloseDictionary,
    /// `[`
    OpenArray,
    /// `]`
    CloseArray,
    /// A name, without its stroke.
    Name(&'a [u8]),
    /// A text, in its round or angle brackets.
    Text(&'a [u8]),
    /// A number as written.
    Number(&'a [u8]),
    /// The number of an object: `12 0 R`.
    Object(u32),
    /// `true`, `false`, `null`.
    Word(&'a [u8]),
}

/// An object: its words, and its data where it is a stream.
#[derive(Debug)]
pub(super) struct Object<'a> {
    pub(super) tokens: Vec<Token<'a>>,
    pub(super) data: Option<&'a [u8]>,
}

/// Where an object stands.
#[derive(Debug, Clone, Copy)]
enum Place {
    /// There is none of this number.
    Nowhere,
    /// Behind so many bytes.
    At(usize),
    /// In this stream of objects, in this place of it.
    In(u32, usize),
}

/// A file whose streams of objects are unpacked.
#[derive(Debug)]
pub(super) struct File<'a> {
    pdf: &'a [u8],
    /// By number.
    places: Vec<Place>,
    /// By the numbers of their streams.
    unpacked: BTreeMap<u32, Unpacked>,
    /// The number of the catalog.
    root: u32,
}

/// A stream of objects.
#[derive(Debug)]
struct Unpacked {
    data: Vec<u8>,
    /// Each object's number, and where it begins.
    starts: Vec<(u32, usize)>,
}

impl<'a> File<'a> {
    /// Opens a file; `None` where it is not one that the typesetter or the binder wrote.
    pub(super) fn open(pdf: &'a [u8]) -> Option<Self> {
        const START: &[u8] = b"startxref";
        let start = pdf.windows(START.len()).rposition(|w| w == START)?;
        let mut at = start + START.len();
        let table = number(next(pdf, &mut at)?)? as usize;
        let mut at = table;
        let (places, root) = if next(pdf, &mut at)? == Token::Word(b"xref") {
            plain_table(pdf, at)?
        } else {
            packed_table(&numbered(pdf, table)?.1)?
        };
        let mut file = Self {
            pdf,
            places,
            unpacked: BTreeMap::new(),
            root,
        };
        for n in 0..file.places.len() {
            if let Some(Place::In(stream, _)) = file.places.get(n).copied()
                && !file.unpacked.contains_key(&stream)
            {
                let unpacked = Unpacked::of(&file.plain(stream)?)?;
                file.unpacked.insert(stream, unpacked);
            }
        }
        Some(file)
    }

    /// The object of a number that stands in the file itself.
    fn plain(&self, n: u32) -> Option<Object<'_>> {
        let Place::At(at) = *self.places.get(n as usize)? else {
            return None;
        };
        let (found, object) = numbered(self.pdf, at)?;
        (found == n).then_some(object)
    }

    /// All its objects; `None` where one is broken.
    pub(super) fn objects(&self) -> Option<Objects<'_>> {
        let mut all = Vec::with_capacity(self.places.len());
        for (n, place) in (0..).zip(&self.places) {
            all.push(match *place {
                Place::Nowhere => Object {
                    tokens: Vec::new(),
                    data: None,
                },
                Place::At(_) => self.plain(n)?,
                Place::In(stream, index) => packed(self.unpacked.get(&stream)?.text(n, index)?)?,
            });
        }
        Some(Objects { all, root: self.root })
    }
}

impl Unpacked {
    fn of(stream: &Object) -> Option<Self> {
        let data = unpacked(stream)?;
        let first = stream.whole(b"First")? as usize;
        let mut at = 0;
        let mut starts = Vec::new();
        for _ in 0..stream.whole(b"N")? {
            let object = number(next(&data, &mut at)?)?;
            starts.push((
                object,
                first.checked_add(number(next(&data, &mut at)?)? as usize)?,
            ));
        }
        Some(Self { data, starts })
    }

    /// The text of an object that stands in a place of it.
    fn text(&self, object: u32, index: usize) -> Option<&[u8]> {
        let (found, start) = *self.starts.get(index)?;
        let end = self.starts.get(index + 1).map_or(self.data.len(), |next| next.1);
        let text = self.data.get(start..end)?;
        (found == object).then_some(text)
    }
}

/// Where objects stand, and the number of the catalog, from a table in plain text.
fn plain_table(pdf: &[u8], mut at: usize) -> Option<(Vec<Place>, u32)> {
    let table = &mut at;
    if number(next(pdf, table)?)? != 0 {
        return None;
    }
    let count = number(next(pdf, table)?)?;
    let mut places = Vec::new();
    for n in 0..count {
        let place = number(next(pdf, table)?)? as usize;
        let _generation = next(pdf, table)?;
        let is_used = next(pdf, table)? == Token::Word(b"n");
        if n > 0 && !is_used {
            return None;
        }
        places.push(if is_used { Place::At(place) } else { Place::Nowhere });
    }
    if next(pdf, table)? != Token::Word(b"trailer") {
        return None;
    }
    Some((places, object(pdf, *table)?.reference(b"Root")?))
}

/// The same from a table that is a stream, with rows as [`ROW`] says.
fn packed_table(table: &Object) -> Option<(Vec<Place>, u32)> {
    if !table.is(b"XRef") {
        return None;
    }
    let mut places = Vec::new();
    let mut row = [0_u8; ROW];
    for line in unpacked(table)?.chunks(1 + ROW) {
        let (UP, differences) = line.split_first().map(|(how, rest)| (*how, rest))? else {
            return None;
        };
        if differences.len() != ROW {
            return None;
        }
        for (byte, difference) in row.iter_mut().zip(differences) {
            *byte = byte.wrapping_add(*difference);
        }
        let [kind, place @ .., high, low] = row;
        let place = place
            .iter()
            .fold(0_u64, |all, byte| (all << 8) | u64::from(*byte));
        places.push(match kind {
            0 => Place::Nowhere,
            1 => Place::At(usize::try_from(place).ok()?),
            2 => Place::In(
                u32::try_from(place).ok()?,
                (usize::from(high) << 8) | usize::from(low),
            ),
            _ => return None,
        });
    }
    Some((places, table.reference(b"Root")?))
}

/// What a packed stream holds.
fn unpacked(stream: &Object) -> Option<Vec<u8>> {
    if stream.value(b"Filter")? != [Token::Name(b"FlateDecode")] {
        return None;
    }
    let mut data = Vec::new();
    ZlibDecoder::new(stream.data?).read_to_end(&mut data).ok()?;
    Some(data)
}

/// All objects of a file.
#[derive(Debug)]
pub(super) struct Objects<'a> {
    /// By number; the one of number 0 is empty.
    all: Vec<Object<'a>>,
    /// The number of the catalog.
    pub(super) root: u32,
}

impl<'a> Objects<'a> {
    /// How many there are, the empty one of number 0 among them.
    pub(super) fn len(&self) -> usize {
        self.all.len()
    }

    /// All, with their numbers.
    pub(super) fn iter(&self) -> impl Iterator<Item = (u32, &Object<'a>)> {
        (0..).zip(&self.all).skip(1)
    }

    pub(super) fn get(&self, number: u32) -> Option<&Object<'a>> {
        self.all.get(number as usize)
    }
}

impl<'a> Object<'a> {
    /// The value of a key of its dictionary.
    pub(super) fn value(&self, key: &[u8]) -> Option<&[Token<'a>]> {
        value(&self.tokens, key)
    }

    /// The object that a key names.
    pub(super) fn reference(&self, key: &[u8]) -> Option<u32> {
        match self.value(key)? {
            [Token::Object(number)] => Some(*number),
            _ => None,
        }
    }

    /// The whole number that a key has.
    pub(super) fn whole(&self, key: &[u8]) -> Option<u32> {
        match self.value(key)? {
            [token] => number(*token),
            _ => None,
        }
    }

    /// What kind of object it says it is.
    pub(super) fn is(&self, kind: &[u8]) -> bool {
        self.value(b"Type") == Some(&[Token::Name(kind)])
    }
}

/// The value of a key of the dictionary that `tokens` are.
pub(super) fn value<'t, 'a>(tokens: &'t [Token<'a>], key: &[u8]) -> Option<&'t [Token<'a>]> {
    let mut at = 1;
    while let Some(Token::Name(name)) = tokens.get(at) {
        let end = at + 1 + length(tokens.get(at + 1..)?)?;
        if *name == key {
            return tokens.get(at + 1..end);
        }
        at = end;
    }
    None
}

/// How many words the first value has.
fn length(tokens: &[Token]) -> Option<usize> {
    let mut depth = 0_usize;
    for (n, token) in tokens.iter().enumerate() {
        match token {
            Token::OpenDictionary | Token::OpenArray => depth += 1,
            Token::CloseDictionary | Token::CloseArray => depth = depth.checked_sub(1)?,
            _ => {}
        }
        if depth == 0 {
            return Some(n + 1);
        }
    }
    None
}

/// The objects that words name.
pub(super) fn references(tokens: &[Token]) -> impl Iterator<Item = u32> {
    tokens.iter().filter_map(|token| match token {
        Token::Object(number) => Some(*number),
        _ => None,
    })
}

/// A whole number that is not negative.
pub(super) fn number(token: Token) -> Option<u32> {
    match token {
        Token::Number(digits) => std::str::from_utf8(digits).ok()?.parse().ok(),
        _ => None,
    }
}

/// The object that stands at a place, and its number before it.
fn numbered(pdf: &[u8], mut at: usize) -> Option<(u32, Object<'_>)> {
    let found = number(next(pdf, &mut at)?)?;
    let _generation = next(pdf, &mut at)?;
    if next(pdf, &mut at)? != Token::Word(b"obj") {
        return None;
    }
    Some((found, object(pdf, at)?))
}

/// The object that stands behind its number.
fn object(pdf: &[u8], mut at: usize) -> Option<Object<'_>> {
    let mut tokens = Vec::new();
    loop {
        match next(pdf, &mut at)? {
            Token::Word(b"endobj" | b"startxref") => return Some(Object { tokens, data: None }),
            Token::Word(b"stream") => {
                if pdf.get(at) == Some(&b'\r') {
                    at += 1;
                }
                at += 1;
                let [long] = value(&tokens, b"Length")? else {
                    return None;
                };
                let data = pdf.get(at..at.checked_add(number(*long)? as usize)?)?;
                return Some(Object {
                    tokens,
                    data: Some(data),
                });
            }
            token => put(&mut tokens, token)?,
        }
    }
}

/// The object that a whole text is, as in a stream of objects.
fn packed(text: &[u8]) -> Option<Object<'_>> {
    let text = text.trim_ascii_end();
    let mut tokens = Vec::new();
    let mut at = 0;
    while at < text.len() {
        put(&mut tokens, next(text, &mut at)?)?;
    }
    Some(Object { tokens, data: None })
}

/// Adds a word to those before it.
fn put<'a>(tokens: &mut Vec<Token<'a>>, token: Token<'a>) -> Option<()> {
    if token == Token::Word(b"R") {
        let _generation = tokens.pop();
        let object = number(tokens.pop()?)?;
        tokens.push(Token::Object(object));
    } else {
        tokens.push(token);
    }
    Some(())
}

/// The word from `at`, which moves behind it.
fn next<'a>(pdf: &'a [u8], at: &mut usize) -> Option<Token<'a>> {
    let blank = |b: &u8| matches!(b, 0 | 9 | 10 | 12 | 13 | 32);
    let mark = |b: &u8| b"()<>[]{}/%".contains(b);
    *at += pdf.get(*at..)?.iter().take_while(|b| blank(b)).count();
    let from = *at;
    let rest = pdf.get(from..)?;
    let word = |from: usize| {
        rest.iter()
            .skip(from)
            .take_while(|b| !blank(b) && !mark(b))
            .count()
    };
    let (token, length) = match rest {
        [b'<', b'<', ..] => (Token::OpenDictionary, 2),
        [b'>', b'>', ..] => (Token::CloseDictionary, 2),
        [b'[', ..] => (Token::OpenArray, 1),
        [b']', ..] => (Token::CloseArray, 1),
        [b'/', ..] => {
            let length = 1 + word(1);
            (Token::Name(&rest[1..length]), length)
        }
        [b'<', ..] => {
            let length = 1 + rest.iter().position(|b| *b == b'>')?;
            (Token::Text(&rest[..length]), length)
        }
        [b'(', ..] => {
            let length = bracketed(rest)?;
            (Token::Text(&rest[..length]), length)
        }
        [first, ..] => {
            let length = word(0);
            if length == 0 {
                return None;
            }
            let text = &rest[..length];
            if first.is_ascii_digit() || matches!(first, b'+' | b'-' | b'.') {
                (Token::Number(text), length)
            } else {
                (Token::Word(text), length)
            }
        }
        [] => return None,
    };
    *at = from + length;
    Some(token)
}

/// How long a text in round brackets is, with the brackets in it that stand in pairs.
fn bracketed(rest: &[u8]) -> Option<usize> {
    let mut depth = 0_usize;
    let mut escaped = false;
    for (n, byte) in rest.iter().enumerate() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'(' => depth += 1,
            b')' => {
                depth -= 1;
                if depth == 0 {
                    return Some(n + 1);
                }
            }
            _ => {}
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &[u8]) -> Vec<Token<'_>> {
        object(text, 0).unwrap().tokens
    }

    #[test]
    fn texts_end_where_their_brackets_do() {
        let found = words(br"<</T(a \) (b) \\)/U<00ff>/N[-1.5 3 0 R true]>>endobj");
        assert_eq!(value(&found, b"T"), Some(&[Token::Text(br"(a \) (b) \\)")][..]));
        assert_eq!(value(&found, b"U"), Some(&[Token::Text(b"<00ff>")][..]));
        let array = value(&found, b"N").unwrap();
        assert_eq!(array[1..3], [Token::Number(b"-1.5"), Token::Object(3)]);
        assert_eq!(value(&found, b"V"), None);
    }

    #[test]
    fn what_is_broken_is_refused() {
        for text in [
            &b"<</T(a>>endobj"[..],
            b"<</N 3",
            b"<</Length 99>>stream\nx\nendstream",
            b"R endobj",
            b"<</Length 99999999999>>stream\n",
        ] {
            assert!(object(text, 0).is_none());
        }
        for file in [
            &b""[..],
            b"%PDF-1.7",
            b"startxref",
            b"startxref 99",
            b"xref 0 2 startxref 0",
        ] {
            assert!(File::open(file).is_none());
        }
    }
}
