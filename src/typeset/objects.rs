//! The objects of a finished PDF as the typesetter writes it: plain, numbered from 1, with one table of where they stand
//! (ISO 32000-1, 7.5).

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

/// All objects of a file.
#[derive(Debug)]
pub(super) struct Objects<'a> {
    /// By number; the one of number 0 is empty.
    all: Vec<Object<'a>>,
    /// The number of the catalog.
    pub(super) root: u32,
}

impl<'a> Objects<'a> {
    /// Reads a file; `None` where it is not one that the typesetter wrote.
    pub(super) fn read(pdf: &'a [u8]) -> Option<Self> {
        const START: &[u8] = b"startxref";
        let start = pdf.windows(START.len()).rposition(|w| w == START)?;
        let mut at = start + START.len();
        let mut at_table = number(next(pdf, &mut at)?)? as usize;
        let table = &mut at_table;
        if next(pdf, table)? != Token::Word(b"xref") || number(next(pdf, table)?)? != 0 {
            return None;
        }
        let count = number(next(pdf, table)?)?;
        let mut all = vec![Object {
            tokens: Vec::new(),
            data: None,
        }];
        for n in 0..count {
            let mut place = number(next(pdf, table)?)? as usize;
            let _generation = next(pdf, table)?;
            let is_used = next(pdf, table)? == Token::Word(b"n");
            if n > 0 {
                if !is_used || number(next(pdf, &mut place)?)? != n {
                    return None;
                }
                let _generation = next(pdf, &mut place)?;
                if next(pdf, &mut place)? != Token::Word(b"obj") {
                    return None;
                }
                all.push(object(pdf, place)?);
            }
        }
        if next(pdf, table)? != Token::Word(b"trailer") {
            return None;
        }
        let trailer = object(pdf, *table)?;
        let root = trailer.reference(b"Root")?;
        Some(Self { all, root })
    }

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

/// The object that stands behind its number.
fn object(pdf: &[u8], mut at: usize) -> Option<Object<'_>> {
    let mut tokens = Vec::new();
    loop {
        match next(pdf, &mut at)? {
            Token::Word(b"R") => {
                let _generation = tokens.pop();
                let object = number(tokens.pop()?)?;
                tokens.push(Token::Object(object));
            }
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
            token => tokens.push(token),
        }
    }
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
            assert!(Objects::read(file).is_none());
        }
    }
}
