//! An author's `$…$`: a strict subset of LaTeX.
//!
//! The text is read into a tree of [`Notation`], and only the tree is ever written out again. A command
//! that is not in the tables below is an error, so nothing foreign can reach a typesetter. Every sign
//! carries its Unicode form and its class, which is what a MathML or Typst writer needs as well.

use super::typography::{self, greek_name, subscripts, superscripts};
use super::{Bindings, EquationError, Expr, Style};
use crate::quantity::{DecimalMark, Unit, Written};

/// Longest text of an author's mathematics, in bytes.
const LONGEST: usize = 4000;
/// Deepest nesting.
const DEEPEST: usize = 40;
/// Most columns of `aligned`.
const COLUMNS: usize = 10;

/// What part a sign plays, which decides the space around it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// A letter or a thing like one.
    Ordinary,
    /// `+`, `×`.
    Binary,
    /// `=`, `≤`.
    Relation,
    /// An opening bracket.
    Open,
    /// A closing bracket.
    Close,
    /// Punctuation.
    Mark,
    /// A function's name.
    Function,
    /// A large operator: ∑, ∫.
    Large,
    /// A space.
    Space,
}

/// A sign of the tables.
#[derive(Debug, PartialEq, Eq)]
pub struct Sign {
    /// LaTeX.
    pub latex: &'static str,
    /// Unicode text.
    pub plain: &'static str,
    /// Its part.
    pub class: Class,
}

/// The size of a fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// `\frac`
    Usual,
    /// `\tfrac`
    Text,
    /// `\dfrac`
    Display,
}

/// A mark over something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// `\dot`
    Dot,
    /// `\ddot`
    TwoDots,
    /// `\bar`
    Bar,
    /// `\hat`
    Hat,
    /// `\tilde`
    Tilde,
    /// `\vec`
    Arrow,
}

/// What holds rows and columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grid {
    /// `aligned`
    Aligned,
    /// `cases`
    Cases,
}

/// Notation that only prints.
#[derive(Debug, Clone, PartialEq)]
pub enum Notation {
    /// Things side by side.
    Row(Vec<Notation>),
    /// A Latin letter, in italics unless it stands in [`Notation::Upright`].
    Letter(char),
    /// Digits, with a decimal point perhaps.
    Number(String),
    /// A sign of the tables: an operator, a bracket, a Greek letter, a function's name, a space.
    Sign(&'static Sign),
    /// `\mathrm`: letters upright.
    Upright(Box<Notation>),
    /// `\text`: words.
    Words(String),
    /// A fraction.
    Fraction(Size, Box<Notation>, Box<Notation>),
    /// A root with its index, if it is no square root.
    Root(Option<Box<Notation>>, Box<Notation>),
    /// A mark over something.
    Over(Mark, Box<Notation>),
    /// Something with primes, a subscript and a superscript.
    Scripts {
        /// What they hang on.
        base: Box<Notation>,
        /// How many primes.
        primes: u8,
        /// Subscript.
        below: Option<Box<Notation>>,
        /// Superscript.
        above: Option<Box<Notation>>,
    },
    /// Brackets that grow with what they hold; an empty sign where there is none.
    Fenced(&'static Sign, Box<Notation>, &'static Sign),
    /// Rows of cells.
    Grid(Grid, Vec<Vec<Notation>>),
    /// A placeholder for a number.
    Placeholder(String),
    /// A number that a placeholder was filled with.
    Value(Written),
}

const fn sign(latex: &'static str, plain: &'static str, class: Class) -> Sign {
    Sign { latex, plain, class }
}

/// Signs that are single characters.
static CHARACTERS: [Sign; 17] = [
    sign("+", "+", Class::Binary),
    sign("-", "−", Class::Binary),
    sign("*", "*", Class::Binary),
    sign("/", "/", Class::Ordinary),
    sign("=", "=", Class::Relation),
    sign("<", "<", Class::Relation),
    sign(">", ">", Class::Relation),
    sign(":", ":", Class::Relation),
    sign("(", "(", Class::Open),
    sign("[", "[", Class::Open),
    sign(")", ")", Class::Close),
    sign("]", "]", Class::Close),
    sign("|", "|", Class::Ordinary),
    sign("!", "!", Class::Close),
    sign(",", ",", Class::Mark),
    sign(";", ";", Class::Mark),
    sign(".", ".", Class::Mark),
];

/// Signs that are commands.
static COMMANDS: [Sign; 109] = [
    sign("\\cdot", "·", Class::Binary),
    sign("\\times", "×", Class::Binary),
    sign("\\div", "÷", Class::Binary),
    sign("\\pm", "±", Class::Binary),
    sign("\\mp", "∓", Class::Binary),
    sign("\\approx", "≈", Class::Relation),
    sign("\\le", "≤", Class::Relation),
    sign("\\ge", "≥", Class::Relation),
    sign("\\ne", "≠", Class::Relation),
    sign("\\ll", "≪", Class::Relation),
    sign("\\gg", "≫", Class::Relation),
    sign("\\sim", "∼", Class::Relation),
    sign("\\equiv", "≡", Class::Relation),
    sign("\\propto", "∝", Class::Relation),
    sign("\\to", "→", Class::Relation),
    sign("\\Rightarrow", "⇒", Class::Relation),
    sign("\\infty", "∞", Class::Ordinary),
    sign("\\partial", "∂", Class::Ordinary),
    sign("\\nabla", "∇", Class::Ordinary),
    sign("\\circ", "°", Class::Ordinary),
    sign("\\ell", "ℓ", Class::Ordinary),
    sign("\\ldots", "…", Class::Ordinary),
    sign("\\cdots", "⋯", Class::Ordinary),
    sign("\\sum", "∑", Class::Large),
    sign("\\prod", "∏", Class::Large),
    sign("\\int", "∫", Class::Large),
    sign("\\ln", "ln", Class::Function),
    sign("\\log", "log", Class::Function),
    sign("\\lg", "lg", Class::Function),
    sign("\\sin", "sin", Class::Function),
    sign("\\cos", "cos", Class::Function),
    sign("\\tan", "tan", Class::Function),
    sign("\\exp", "exp", Class::Function),
    sign("\\min", "min", Class::Function),
    sign("\\max", "max", Class::Function),
    sign("\\sinh", "sinh", Class::Function),
    sign("\\cosh", "cosh", Class::Function),
    sign("\\tanh", "tanh", Class::Function),
    sign("\\arctan", "arctan", Class::Function),
    sign("\\lim", "lim", Class::Function),
    sign("\\quad", "  ", Class::Space),
    sign("\\qquad", "    ", Class::Space),
    sign("\\,", " ", Class::Space),
    sign("\\;", " ", Class::Space),
    sign("\\:", " ", Class::Space),
    sign("\\!", "", Class::Space),
    sign("\\ ", " ", Class::Space),
    sign("\\%", "%", Class::Ordinary),
    sign("\\&", "&", Class::Ordinary),
    sign("\\#", "#", Class::Ordinary),
    sign("\\_", "_", Class::Ordinary),
    sign("\\{", "{", Class::Open),
    sign("\\}", "}", Class::Close),
    sign("\\alpha", "α", Class::Ordinary),
    sign("\\beta", "β", Class::Ordinary),
    sign("\\gamma", "γ", Class::Ordinary),
    sign("\\delta", "δ", Class::Ordinary),
    sign("\\epsilon", "ϵ", Class::Ordinary),
    sign("\\varepsilon", "ε", Class::Ordinary),
    sign("\\zeta", "ζ", Class::Ordinary),
    sign("\\eta", "η", Class::Ordinary),
    sign("\\theta", "θ", Class::Ordinary),
    sign("\\vartheta", "ϑ", Class::Ordinary),
    sign("\\iota", "ι", Class::Ordinary),
    sign("\\kappa", "κ", Class::Ordinary),
    sign("\\lambda", "λ", Class::Ordinary),
    sign("\\mu", "μ", Class::Ordinary),
    sign("\\nu", "ν", Class::Ordinary),
    sign("\\xi", "ξ", Class::Ordinary),
    sign("\\pi", "π", Class::Ordinary),
    sign("\\varpi", "ϖ", Class::Ordinary),
    sign("\\rho", "ρ", Class::Ordinary),
    sign("\\varrho", "ϱ", Class::Ordinary),
    sign("\\sigma", "σ", Class::Ordinary),
    sign("\\varsigma", "ς", Class::Ordinary),
    sign("\\tau", "τ", Class::Ordinary),
    sign("\\upsilon", "υ", Class::Ordinary),
    sign("\\phi", "ϕ", Class::Ordinary),
    sign("\\varphi", "φ", Class::Ordinary),
    sign("\\chi", "χ", Class::Ordinary),
    sign("\\psi", "ψ", Class::Ordinary),
    sign("\\omega", "ω", Class::Ordinary),
    sign("\\Gamma", "Γ", Class::Ordinary),
    sign("\\Delta", "Δ", Class::Ordinary),
    sign("\\Theta", "Θ", Class::Ordinary),
    sign("\\Lambda", "Λ", Class::Ordinary),
    sign("\\Xi", "Ξ", Class::Ordinary),
    sign("\\Pi", "Π", Class::Ordinary),
    sign("\\Sigma", "Σ", Class::Ordinary),
    sign("\\Upsilon", "Υ", Class::Ordinary),
    sign("\\Phi", "Φ", Class::Ordinary),
    sign("\\Psi", "Ψ", Class::Ordinary),
    sign("\\Omega", "Ω", Class::Ordinary),
    sign("\\langle", "⟨", Class::Open),
    sign("\\rangle", "⟩", Class::Close),
    sign("\\lvert", "|", Class::Open),
    sign("\\rvert", "|", Class::Close),
    sign("\\leftarrow", "←", Class::Relation),
    sign("\\rightarrow", "→", Class::Relation),
    sign("\\Leftrightarrow", "⇔", Class::Relation),
    sign("\\parallel", "∥", Class::Relation),
    sign("\\perp", "⊥", Class::Relation),
    sign("\\in", "∈", Class::Relation),
    sign("\\cup", "∪", Class::Binary),
    sign("\\cap", "∩", Class::Binary),
    sign("\\ast", "*", Class::Binary),
    sign("\\star", "⋆", Class::Binary),
    sign("\\therefore", "∴", Class::Relation),
    sign("\\prime", "′", Class::Ordinary),
];

/// The sign for degrees, which LaTeX has no command for.
static DEGREE: Sign = sign("{}^{\\circ}", "°", Class::Ordinary);
/// No bracket, as in `\left.`.
static NO_BRACKET: Sign = sign(".", "", Class::Open);

/// Other spellings of commands.
const ALIASES: [(&str, &str); 10] = [
    ("\\leq", "\\le"),
    ("\\geq", "\\ge"),
    ("\\neq", "\\ne"),
    ("\\dots", "\\ldots"),
    ("\\implies", "\\Rightarrow"),
    ("\\lbrace", "\\{"),
    ("\\rbrace", "\\}"),
    ("\\vert", "|"),
    ("\\lbrack", "["),
    ("\\rbrack", "]"),
];

const MARKS: [(&str, Mark, char); 6] = [
    ("\\dot", Mark::Dot, '\u{307}'),
    ("\\ddot", Mark::TwoDots, '\u{308}'),
    ("\\bar", Mark::Bar, '\u{304}'),
    ("\\hat", Mark::Hat, '\u{302}'),
    ("\\tilde", Mark::Tilde, '\u{303}'),
    ("\\vec", Mark::Arrow, '\u{20d7}'),
];

/// Commands that the reader handles itself; known here so that a slip of the finger finds them.
const STRUCTURES: [&str; 12] = [
    "\\frac",
    "\\tfrac",
    "\\dfrac",
    "\\sqrt",
    "\\text",
    "\\mathrm",
    "\\left",
    "\\right",
    "\\begin",
    "\\end",
    "\\degree",
    "\\overline",
];

fn find_sign(latex: &str) -> Option<&'static Sign> {
    let latex = ALIASES.iter().find(|a| a.0 == latex).map_or(latex, |a| a.1);
    CHARACTERS.iter().chain(&COMMANDS).find(|s| s.latex == latex)
}

/// The sign that a Unicode character stands for.
fn find_character(c: char) -> Option<&'static Sign> {
    let mut buffer = [0; 4];
    let text: &str = c.encode_utf8(&mut buffer);
    match c {
        '−' => find_sign("-"),
        // The micro sign.
        'µ' => find_sign("\\mu"),
        '°' => Some(&DEGREE),
        c if c.is_ascii() || c.is_whitespace() => None,
        _ if text == "ϕ" || text == "ϵ" || greek_name(text).is_none() => {
            COMMANDS.iter().find(|s| s.plain == text)
        }
        _ => COMMANDS.iter().find(|s| s.plain == text),
    }
}

/// A sign of the tables by its LaTeX; words where there is none such.
pub(super) fn known(latex: &str) -> Notation {
    find_sign(latex).map_or_else(|| Notation::Words(latex.to_owned()), Notation::Sign)
}

/// Between brackets that grow.
pub(super) fn fenced(open: &str, inside: Notation, close: &str) -> Notation {
    match (find_sign(open), find_sign(close)) {
        (Some(open), Some(close)) => Notation::Fenced(open, Box::new(inside), close),
        _ => inside,
    }
}

/// The last thing of `base` with a superscript.
pub(super) fn raised(mut base: Vec<Notation>, exponent: Vec<Notation>) -> Vec<Notation> {
    let exponent = Some(Box::new(single(exponent)));
    let last = match base.pop() {
        // A power of what has a subscript stands over it.
        Some(Notation::Scripts {
            base,
            primes,
            below,
            above: None,
        }) => Notation::Scripts {
            base,
            primes,
            below,
            above: exponent,
        },
        last => Notation::Scripts {
            base: Box::new(last.unwrap_or_else(|| Notation::Row(Vec::new()))),
            primes: 0,
            below: None,
            above: exponent,
        },
    };
    base.push(last);
    base
}

/// Something with a subscript.
pub(super) fn lowered(base: Notation, below: Notation) -> Notation {
    Notation::Scripts {
        base: Box::new(base),
        primes: 0,
        below: Some(Box::new(below)),
        above: None,
    }
}

/// Digits of the tree with the decimal mark that is printed.
pub(super) fn digits(digits: &str, mark: DecimalMark) -> String {
    match mark {
        DecimalMark::Point => digits.to_owned(),
        DecimalMark::Comma => digits.replace('.', ","),
    }
}

/// Words whose blanks at either end show.
pub(super) fn words(words: &str) -> String {
    let inner = words.trim_matches(' ');
    let before = words.len() - words.trim_start_matches(' ').len();
    let after = words.len() - before - inner.len();
    format!(
        "{}{inner}{}",
        "\u{a0}".repeat(before),
        "\u{a0}".repeat(after.min(words.len()))
    )
}

/// The width of a space \[em\].
pub(super) fn space_width(sign: &Sign) -> f64 {
    match sign.latex {
        "\\quad" => 1.0,
        "\\qquad" => 2.0,
        "\\," => 0.17,
        "\\:" => 0.22,
        "\\;" => 0.28,
        "\\!" => -0.17,
        _ => 0.25,
    }
}

/// The parts of a number with its unit as they are printed.
pub(super) struct ValueParts {
    /// Whether a minus stands before it.
    pub(super) negative: bool,
    /// Digits with the decimal mark, without sign.
    pub(super) digits: String,
    /// The power of ten.
    pub(super) exponent: Option<i32>,
    /// The unit, if it has one.
    pub(super) unit: Option<Notation>,
    /// Whether a space stands before the unit.
    pub(super) spaced: bool,
}

impl ValueParts {
    pub(super) fn of(value: &Written, mark: DecimalMark) -> Self {
        let shown = &value.shown;
        Self {
            negative: shown.digits.starts_with('-'),
            digits: digits(shown.digits.trim_start_matches('-'), mark),
            exponent: shown.exponent,
            unit: unit(&value.unit),
            spaced: value.unit.symbol != "°",
        }
    }
}

/// A unit's own LaTeX is of the subset that is read here.
fn unit(unit: &Unit) -> Option<Notation> {
    if unit.symbol.is_empty() {
        return None;
    }
    if unit.symbol == "°" {
        return Some(Notation::Sign(&DEGREE));
    }
    // `^{\circ}` before `C` hangs on nothing; the degree sign is a sign of its own.
    let latex = unit
        .latex()
        .replace("{}^{\\circ}", "\\degree ")
        .replace("^{\\circ}", "\\degree ");
    Some(match parse(&latex) {
        Ok(Expr::Notation(notation)) => notation,
        _ => Notation::Words(unit.symbol.clone()),
    })
}

pub(super) fn parse(text: &str) -> Result<Expr, EquationError> {
    if text.len() > LONGEST {
        return Err(EquationError::new(format!(
            "the mathematics is {} bytes long; at most {LONGEST} are read",
            text.len()
        ))
        .mend("split it over several displays"));
    }
    let mut reader = Reader {
        text,
        at: 0,
        depth: 0,
    };
    let row = reader.row(false)?;
    let start = reader.at;
    let rest = reader.rest();
    let (what, len, mend) = if rest.is_empty() {
        if row.is_empty() {
            return Err(EquationError::new("the mathematics is empty").at(0..text.len()));
        }
        return Ok(Expr::Notation(Notation::Row(row)));
    } else if rest.starts_with('}') {
        (
            "a `}` closes nothing here",
            1,
            "remove it, or open a `{` before it",
        )
    } else if rest.starts_with('&') {
        (
            "`&` stands outside `aligned` and `cases`",
            1,
            "write `\\&` for the sign itself",
        )
    } else if rest.starts_with("\\\\") {
        (
            "`\\\\` stands outside `aligned` and `cases`",
            2,
            "put the lines between `\\begin{aligned}` and `\\end{aligned}`",
        )
    } else if rest.starts_with("\\right") {
        (
            "`\\right` without a `\\left`",
            6,
            "write the bracket without `\\right`, or add the `\\left`",
        )
    } else {
        (
            "`\\end` without a `\\begin`",
            4,
            "remove it, or add the `\\begin`",
        )
    };
    Err(EquationError::new(what).at(start..start + len).mend(mend))
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
    depth: usize,
}

impl<'a> Reader<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn skip_blanks(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    fn command(&self) -> &'a str {
        command_at(self.rest())
    }

    fn deeper(&mut self) -> Result<(), EquationError> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(
                EquationError::new(format!("the mathematics is nested more than {DEEPEST} deep"))
                    .at(self.at..self.at)
                    .mend("take away brackets"),
            );
        }
        Ok(())
    }

    /// Reads up to what closes a group: the end, `}`, `&`, `\\`, `\right`, `\end`, and `]` where asked.
    fn row(&mut self, stop_at_bracket: bool) -> Result<Vec<Notation>, EquationError> {
        self.deeper()?;
        let mut row: Vec<Notation> = Vec::new();
        loop {
            self.skip_blanks();
            let rest = self.rest();
            let Some(c) = rest.chars().next() else { break };
            if matches!(c, '}' | '&') || (c == ']' && stop_at_bracket) {
                break;
            }
            if c == '\\' && (rest.starts_with("\\\\") || matches!(self.command(), "\\right" | "\\end")) {
                break;
            }
            if matches!(c, '^' | '_' | '\'') {
                let base = row.pop().ok_or_else(|| {
                    EquationError::new(format!("`{c}` hangs on nothing"))
                        .at(self.at..self.at + 1)
                        .mend("put what it belongs to before it")
                })?;
                row.push(self.scripts(base)?);
                continue;
            }
            row.push(self.atom()?);
        }
        self.depth -= 1;
        Ok(row)
    }

    fn scripts(&mut self, base: Notation) -> Result<Notation, EquationError> {
        let (mut primes, mut below, mut above) = (0_u8, None, None);
        loop {
            self.skip_blanks();
            let start = self.at;
            match self.rest().chars().next() {
                Some('\'') => {
                    self.at += 1;
                    primes += 1;
                    if above.is_some() || primes > 3 {
                        return Err(
                            EquationError::new("a prime too many, or one behind a superscript")
                                .at(start..start + 1)
                                .mend("write up to three primes, before the superscript"),
                        );
                    }
                }
                Some(c @ ('^' | '_')) => {
                    let slot = if c == '^' { &mut above } else { &mut below };
                    if slot.is_some() {
                        let kind = if c == '^' { "superscript" } else { "subscript" };
                        return Err(EquationError::new(format!("a second {kind} on one thing"))
                            .at(start..start + 1)
                            .mend("group with braces what belongs together"));
                    }
                    self.at += 1;
                    *slot = Some(Box::new(self.script()?));
                }
                _ => break,
            }
        }
        Ok(Notation::Scripts {
            base: Box::new(base),
            primes,
            below,
            above,
        })
    }

    /// What stands behind `^` or `_`: a group, or a single thing.
    fn script(&mut self) -> Result<Notation, EquationError> {
        self.skip_blanks();
        let start = self.at;
        let rest = self.rest();
        let c = rest.chars().next();
        match c {
            Some('{') => self.argument("a script"),
            Some(digit) if digit.is_ascii_digit() => {
                let run = rest
                    .find(|c: char| !(c.is_ascii_digit() || c == '.'))
                    .unwrap_or(rest.len());
                let run = rest[..run].trim_end_matches('.');
                if run.len() > 1 {
                    return Err(EquationError::new(format!(
                        "only the first digit of `{run}` would be raised or lowered"
                    ))
                    .at(start..start + run.len())
                    .mend(format!("write `{{{run}}}`")));
                }
                self.at += 1;
                Ok(Notation::Number(digit.to_string()))
            }
            Some(c) if c.is_alphabetic() => self.atom(),
            Some('*' | '+' | '-' | '−' | '°') => self.atom(),
            Some('\\')
                if !matches!(
                    self.command(),
                    "\\right" | "\\end" | "\\\\" | "\\left" | "\\begin"
                ) =>
            {
                self.atom()
            }
            _ => Err(EquationError::new("a superscript or subscript is missing")
                .at(start..start)
                .mend("write what stands there, in braces")),
        }
    }

    /// A placeholder, `{{ name }}`, if one stands here.
    fn placeholder(&mut self) -> Option<Notation> {
        let inside = self.rest().strip_prefix("{{")?;
        let (name, _) = inside.split_once("}}")?;
        let trimmed = name.trim();
        if !is_name(trimmed) {
            return None;
        }
        self.at += 4 + name.len();
        Some(Notation::Placeholder(trimmed.to_owned()))
    }

    /// `{…}`, as an argument of `whose`. A placeholder counts as one, so that `\frac{{ a }}{2}` is what
    /// its author meant.
    fn argument(&mut self, whose: &str) -> Result<Notation, EquationError> {
        self.skip_blanks();
        if let Some(placeholder) = self.placeholder() {
            return Ok(placeholder);
        }
        let start = self.at;
        if !self.rest().starts_with('{') {
            return Err(EquationError::new(format!("a `{{` is missing behind {whose}"))
                .at(start..start)
                .mend("put each argument in braces"));
        }
        self.at += 1;
        let row = self.row(false)?;
        if !self.rest().starts_with('}') {
            return Err(EquationError::new("this `{` is not closed")
                .at(start..start + 1)
                .mend("add a `}`"));
        }
        self.at += 1;
        Ok(single(row))
    }

    fn atom(&mut self) -> Result<Notation, EquationError> {
        let start = self.at;
        let rest = self.rest();
        let Some(c) = rest.chars().next() else {
            return Err(EquationError::new("the mathematics ends too early").at(start..start));
        };
        if c.is_ascii_digit() {
            let digits = |text: &str| text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
            let mut len = digits(rest);
            if rest[len..].starts_with('.') {
                let decimals = digits(&rest[len + 1..]);
                if decimals > 0 {
                    len += 1 + decimals;
                }
            }
            self.at += len;
            return Ok(Notation::Number(rest[..len].to_owned()));
        }
        if c.is_ascii_alphabetic() {
            self.at += 1;
            return Ok(Notation::Letter(c));
        }
        if c == '{' {
            if let Some(placeholder) = self.placeholder() {
                return Ok(placeholder);
            }
            if rest.starts_with("{{") && rest[2..].trim_start().starts_with(|c: char| c.is_alphabetic()) {
                return Err(
                    EquationError::new("`{{` opens a placeholder that is not a name and `}}`")
                        .at(start..start + 2)
                        .mend("write `{{ name }}`"),
                );
            }
            // A group of its own keeps its braces: `2{,}5` is not `2,5`.
            return Ok(match self.argument("this")? {
                Notation::Row(row) => Notation::Row(row),
                one => Notation::Row(vec![one]),
            });
        }
        if c == '\\' {
            return self.structure();
        }
        let mut buffer = [0; 4];
        if let Some(sign) = find_sign(c.encode_utf8(&mut buffer)).or_else(|| find_character(c)) {
            self.at += c.len_utf8();
            return Ok(Notation::Sign(sign));
        }
        let mend = match c {
            '%' | '#' => format!("write `\\{c}`"),
            '$' => "mathematics has no dollar signs inside".to_owned(),
            '~' => "write `\\,` or `\\quad` for a space".to_owned(),
            '"' | '`' | '´' => "put words into `\\text{…}`".to_owned(),
            '²' => "write `^2`".to_owned(),
            '³' => "write `^3`".to_owned(),
            _ => "put words into `\\text{…}`, and signs by their commands".to_owned(),
        };
        Err(
            EquationError::new(format!("`{}` has no place in mathematics", c.escape_debug()))
                .at(start..start + c.len_utf8())
                .mend(mend),
        )
    }

    fn structure(&mut self) -> Result<Notation, EquationError> {
        let start = self.at;
        let command = self.command();
        self.at += command.len();
        if let Some((_, mark, _)) = MARKS.iter().find(|m| m.0 == command) {
            self.skip_blanks();
            let under = if self.rest().starts_with('{') {
                self.argument(command)?
            } else if self.rest().starts_with(|c: char| c.is_alphabetic() || c == '\\') {
                self.deeper()?;
                let atom = self.atom()?;
                self.depth -= 1;
                atom
            } else {
                self.argument(command)?
            };
            return Ok(Notation::Over(*mark, Box::new(under)));
        }
        match command {
            "\\frac" | "\\tfrac" | "\\dfrac" => {
                let size = match command {
                    "\\tfrac" => Size::Text,
                    "\\dfrac" => Size::Display,
                    _ => Size::Usual,
                };
                let over = self.argument(command)?;
                let under = self.argument(command)?;
                Ok(Notation::Fraction(size, Box::new(over), Box::new(under)))
            }
            "\\sqrt" => {
                self.skip_blanks();
                let mut index = None;
                if self.rest().starts_with('[') {
                    let open = self.at;
                    self.at += 1;
                    let row = self.row(true)?;
                    if !self.rest().starts_with(']') || row.is_empty() {
                        return Err(EquationError::new(
                            "the index of the root is empty or not closed by `]`",
                        )
                        .at(open..open + 1)
                        .mend("write it as in `\\sqrt[3]{x}`"));
                    }
                    self.at += 1;
                    index = Some(Box::new(single(row)));
                }
                Ok(Notation::Root(index, Box::new(self.argument(command)?)))
            }
            "\\mathrm" => Ok(Notation::Upright(Box::new(self.argument(command)?))),
            "\\text" => self.words(),
            "\\overline" => Ok(Notation::Over(Mark::Bar, Box::new(self.argument(command)?))),
            "\\degree" => Ok(Notation::Sign(&DEGREE)),
            "\\left" => self.fenced(start),
            "\\begin" => self.grid(start),
            _ => match find_sign(command).filter(|_| command.len() > 1) {
                Some(sign) => Ok(Notation::Sign(sign)),
                None => Err(self.unknown(command, start)),
            },
        }
    }

    fn unknown(&self, command: &str, start: usize) -> EquationError {
        let known = COMMANDS
            .iter()
            .map(|s| s.latex)
            .chain(ALIASES.iter().map(|a| a.0))
            .chain(MARKS.iter().map(|m| m.0))
            .chain(STRUCTURES)
            .filter(|name| name.len() > 3);
        let near = (command.len() > 2)
            .then(|| crate::fault::nearest(command, known))
            .flatten();
        let error = EquationError::new(format!("the command `{}` is not known here", shown(command)))
            .at(start..start + command.len());
        match near {
            Some(near) => error.mend(format!("did you mean `{near}`?")),
            None => error.mend("use fractions, roots, brackets, Greek letters, `\\text{…}` and common signs"),
        }
    }

    fn words(&mut self) -> Result<Notation, EquationError> {
        self.skip_blanks();
        let open = self.at;
        if !self.rest().starts_with('{') {
            return Err(EquationError::new("a `{` is missing behind \\text")
                .at(open..open)
                .mend("write `\\text{…}`"));
        }
        self.at += 1;
        let mut words = String::new();
        loop {
            let start = self.at;
            let mut chars = self.rest().chars();
            let Some(c) = chars.next() else {
                return Err(EquationError::new("this `{` is not closed")
                    .at(open..open + 1)
                    .mend("add a `}`"));
            };
            match c {
                '}' => {
                    self.at += 1;
                    return Ok(Notation::Words(words));
                }
                '\\' => match chars.next() {
                    Some(escaped @ ('%' | '&' | '#' | '_' | ' ' | '{' | '}')) => {
                        words.push(escaped);
                        self.at += 2;
                    }
                    Some(',') => {
                        words.push('\u{202f}');
                        self.at += 2;
                    }
                    _ => {
                        return Err(EquationError::new("`\\text{…}` holds words, and no commands")
                            .at(start..start + 1)
                            .mend("close the `\\text` before the command"));
                    }
                },
                '{' | '$' | '%' | '#' | '&' | '~' | '^' | '_' | '`' => {
                    return Err(EquationError::new(format!("`{c}` has no place in `\\text{{…}}`"))
                        .at(start..start + 1)
                        .mend(match c {
                            '%' | '#' | '&' | '_' => format!("write `\\{c}`"),
                            '{' => "close the `\\text` before a placeholder or group".to_owned(),
                            _ => "leave it out".to_owned(),
                        }));
                }
                c if c.is_whitespace() => {
                    words.push(' ');
                    self.at += c.len_utf8();
                }
                c if c.is_control() => {
                    return Err(EquationError::new("`\\text{…}` holds a control character")
                        .at(start..start + c.len_utf8())
                        .mend("leave it out"));
                }
                c => {
                    words.push(c);
                    self.at += c.len_utf8();
                }
            }
        }
    }

    fn delimiter(&mut self) -> Result<&'static Sign, EquationError> {
        self.skip_blanks();
        let start = self.at;
        let rest = self.rest();
        let (len, found) = match rest.chars().next() {
            Some('.') => (1, Some(&NO_BRACKET)),
            Some('\\') => {
                let command = self.command();
                (command.len(), find_sign(command))
            }
            Some(c) => (c.len_utf8(), find_sign(&rest[..c.len_utf8()])),
            None => (0, None),
        };
        let bracket = found.filter(|s| {
            let one = s.plain == "|" || (s.class == Class::Ordinary && s.plain == "/");
            one || std::ptr::eq(*s, &NO_BRACKET)
                || (matches!(s.class, Class::Open | Class::Close) && s.plain != "!")
        });
        self.at += len;
        bracket.ok_or_else(|| {
            EquationError::new("no bracket stands behind `\\left` or `\\right`")
                .at(start..start + len)
                .mend("write one of `( ) [ ] | \\{ \\} .`")
        })
    }

    fn fenced(&mut self, start: usize) -> Result<Notation, EquationError> {
        let open = self.delimiter()?;
        let row = self.row(false)?;
        if self.command() != "\\right" {
            return Err(EquationError::new("this `\\left` has no `\\right`")
                .at(start..start + 5)
                .mend("close it in the same group and cell, with `\\right.` if no bracket is wanted"));
        }
        self.at += "\\right".len();
        let close = self.delimiter()?;
        Ok(Notation::Fenced(open, Box::new(single(row)), close))
    }

    fn grid(&mut self, start: usize) -> Result<Notation, EquationError> {
        let kinds = [("{aligned}", Grid::Aligned), ("{cases}", Grid::Cases)];
        let Some((name, kind)) = kinds.into_iter().find(|(name, _)| self.rest().starts_with(name)) else {
            return Err(
                EquationError::new("`\\begin` opens something that is not known here")
                    .at(start..start + 6)
                    .mend("use `aligned` or `cases`"),
            );
        };
        self.at += name.len();
        let most = if kind == Grid::Cases { 2 } else { COLUMNS };
        let mut rows = vec![Vec::new()];
        loop {
            let cell_start = self.at;
            let cell = self.row(false)?;
            let last = rows.len() - 1;
            rows[last].push(single(cell));
            if rows[last].len() > most {
                return Err(EquationError::new(format!("a row has more than {most} columns"))
                    .at(cell_start..self.at)
                    .mend("take away an `&`"));
            }
            let rest = self.rest();
            if rest.starts_with('&') {
                self.at += 1;
            } else if rest.starts_with("\\\\") {
                self.at += 2;
                rows.push(Vec::new());
            } else if let Some(behind) = rest.strip_prefix("\\end") {
                if !behind.starts_with(name) {
                    return Err(EquationError::new(format!(
                        "`\\begin{name}` is not closed by `\\end{name}`"
                    ))
                    .at(self.at..self.at + 4)
                    .mend(format!("write `\\end{name}`")));
                }
                self.at += 4 + name.len();
                // A `\\` behind the last row opens no further one.
                if rows.len() > 1 && rows[last] == [Notation::Row(Vec::new())] {
                    rows.pop();
                }
                return Ok(Notation::Grid(kind, rows));
            } else {
                return Err(
                    EquationError::new(format!("`\\begin{name}` has no `\\end{name}`"))
                        .at(start..start + 6)
                        .mend(format!("add `\\end{name}`")),
                );
            }
        }
    }
}

/// A row of one thing is that thing.
fn single(mut row: Vec<Notation>) -> Notation {
    match row.pop() {
        Some(one) if row.is_empty() => one,
        Some(last) => {
            row.push(last);
            Notation::Row(row)
        }
        None => Notation::Row(row),
    }
}

/// The command that `text` begins with: a backslash and letters, or one other character.
fn command_at(text: &str) -> &str {
    if !text.starts_with('\\') {
        return "";
    }
    let letters = text[1..]
        .find(|c: char| !c.is_ascii_alphabetic())
        .unwrap_or(text.len() - 1);
    if letters > 0 {
        return &text[..=letters];
    }
    let one = text[1..].chars().next().map_or(0, char::len_utf8);
    &text[..1 + one]
}

/// A command as it is quoted in a message.
fn shown(command: &str) -> String {
    command
        .chars()
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect()
}

/// Whether `text` can be the name of a given or a result.
pub(crate) fn is_name(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
}

impl Notation {
    fn children(&self) -> Vec<&Self> {
        match self {
            Self::Row(row) => row.iter().collect(),
            Self::Upright(a) | Self::Over(_, a) | Self::Fenced(_, a, _) => vec![a],
            Self::Fraction(_, a, b) => vec![a, b],
            Self::Root(index, a) => index.iter().map(|i| &**i).chain([&**a]).collect(),
            Self::Scripts {
                base, below, above, ..
            } => [Some(base), below.as_ref(), above.as_ref()]
                .into_iter()
                .flatten()
                .map(|n| &**n)
                .collect(),
            Self::Grid(_, rows) => rows.iter().flatten().collect(),
            Self::Letter(_)
            | Self::Number(_)
            | Self::Sign(_)
            | Self::Words(_)
            | Self::Placeholder(_)
            | Self::Value(_) => Vec::new(),
        }
    }

    pub(super) fn placeholders(&self, names: &mut Vec<String>) {
        if let Self::Placeholder(name) = self {
            names.push(name.clone());
        }
        for child in self.children() {
            child.placeholders(names);
        }
    }

    pub(super) fn filled(&self, of: &Bindings) -> Result<Self, EquationError> {
        let boxed = |n: &Self| n.filled(of).map(Box::new);
        let maybe = |n: &Option<Box<Self>>| n.as_deref().map(boxed).transpose();
        let all = |row: &[Self]| row.iter().map(|n| n.filled(of)).collect::<Result<Vec<_>, _>>();
        Ok(match self {
            Self::Placeholder(name) => match of.get(name) {
                Some(bound) => Self::Value(bound.written.clone()),
                None => {
                    return Err(
                        EquationError::new(format!("the placeholder `{name}` stands for nothing"))
                            .mend("use the name of a given or a property of the fluid"),
                    );
                }
            },
            Self::Row(row) => Self::Row(all(row)?),
            Self::Upright(a) => Self::Upright(boxed(a)?),
            Self::Over(mark, a) => Self::Over(*mark, boxed(a)?),
            Self::Fenced(open, a, close) => Self::Fenced(open, boxed(a)?, close),
            Self::Fraction(size, a, b) => Self::Fraction(*size, boxed(a)?, boxed(b)?),
            Self::Root(index, a) => Self::Root(maybe(index)?, boxed(a)?),
            Self::Scripts {
                base,
                primes,
                below,
                above,
            } => Self::Scripts {
                base: boxed(base)?,
                primes: *primes,
                below: maybe(below)?,
                above: maybe(above)?,
            },
            Self::Grid(kind, rows) => {
                Self::Grid(*kind, rows.iter().map(|row| all(row)).collect::<Result<_, _>>()?)
            }
            Self::Letter(_) | Self::Number(_) | Self::Sign(_) | Self::Words(_) | Self::Value(_) => {
                self.clone()
            }
        })
    }

    /// Whether this is one thing that needs no brackets in a formula.
    pub(super) fn is_atom(&self) -> bool {
        match self {
            Self::Row(row) => matches!(row.as_slice(), [one] if one.is_atom()),
            Self::Scripts { base, above, .. } => above.is_none() && base.is_atom(),
            Self::Letter(_) | Self::Number(_) | Self::Upright(_) | Self::Words(_) | Self::Over(..) => true,
            Self::Sign(sign) => sign.class == Class::Ordinary,
            _ => false,
        }
    }

    /// Whether it stands higher than a line.
    pub(super) fn is_tall(&self) -> bool {
        matches!(self, Self::Fraction(..) | Self::Grid(..)) || self.children().iter().any(|c| c.is_tall())
    }

    /// Whether a number beside it would run into it.
    fn is_operand(&self, on_the_left: bool) -> bool {
        match self {
            Self::Sign(sign) => match sign.class {
                Class::Ordinary => sign.plain != "/" && sign.plain != "|",
                Class::Close => on_the_left,
                Class::Open | Class::Function | Class::Large => !on_the_left,
                _ => false,
            },
            Self::Words(_) | Self::Grid(..) => false,
            Self::Scripts { base, .. } => base.is_operand(on_the_left),
            Self::Row(row) => {
                let end = if on_the_left { row.last() } else { row.first() };
                end.is_some_and(|n| n.is_operand(on_the_left))
            }
            _ => true,
        }
    }

    /// Whether the value at `i` of a row stands as one factor of several and needs brackets.
    pub(super) fn value_needs_brackets(row: &[Self], i: usize) -> bool {
        let space = |n: &&Self| matches!(n, Self::Sign(s) if s.class == Class::Space);
        let left = row[..i].iter().rev().find(|n| !space(n));
        let right = row[i + 1..].iter().find(|n| !space(n));
        left.is_some_and(|n| n.is_operand(true)) || right.is_some_and(|n| n.is_operand(false))
    }

    pub(super) fn latex(&self, style: Style) -> String {
        let mut out = String::new();
        self.write_latex(style, &mut out);
        out
    }

    /// In braces, without those that a row would bring itself.
    fn group(&self, style: Style, out: &mut String) {
        out.push('{');
        self.write_latex(style, out);
        out.push('}');
    }

    fn write_latex(&self, style: Style, out: &mut String) {
        match self {
            Self::Row(row) => {
                for (i, item) in row.iter().enumerate() {
                    match item {
                        Self::Row(_) => item.group(style, out),
                        Self::Value(value) if Self::value_needs_brackets(row, i) => {
                            out.push('(');
                            out.push_str(&value.latex(style.mark));
                            out.push(')');
                        }
                        _ => item.write_latex(style, out),
                    }
                }
            }
            Self::Letter(c) => add(out, &c.to_string()),
            Self::Number(digits) => {
                // Two numbers side by side in the tree, such as `1{,}000`, stay as they are.
                match style.mark {
                    DecimalMark::Point => add(out, digits),
                    DecimalMark::Comma => add(out, &digits.replace('.', "{,}")),
                }
            }
            Self::Sign(sign) => add(out, sign.latex),
            Self::Upright(a) => {
                out.push_str("\\mathrm");
                a.group(style, out);
            }
            Self::Words(words) => {
                out.push_str("\\text{");
                out.push_str(&typography::escaped(words));
                out.push('}');
            }
            Self::Fraction(size, a, b) => {
                out.push_str(match size {
                    Size::Usual => "\\frac",
                    Size::Text => "\\tfrac",
                    Size::Display => "\\dfrac",
                });
                a.group(style, out);
                b.group(style, out);
            }
            Self::Root(index, a) => {
                out.push_str("\\sqrt");
                if let Some(index) = index {
                    out.push_str("[{");
                    index.write_latex(style, out);
                    out.push_str("}]");
                }
                a.group(style, out);
            }
            Self::Over(mark, a) => {
                let command = MARKS.iter().find(|m| m.1 == *mark).map_or("\\bar", |m| m.0);
                let long = *mark == Mark::Bar && matches!(**a, Self::Row(_));
                out.push_str(if long { "\\overline" } else { command });
                a.group(style, out);
            }
            Self::Scripts {
                base,
                primes,
                below,
                above,
            } => {
                match &**base {
                    Self::Value(value) => {
                        out.push('(');
                        out.push_str(&value.latex(style.mark));
                        out.push(')');
                    }
                    Self::Scripts { .. } | Self::Row(_) | Self::Grid(..) => base.group(style, out),
                    Self::Sign(sign) if std::ptr::eq(*sign, &DEGREE) => base.group(style, out),
                    _ => base.write_latex(style, out),
                }
                for _ in 0..*primes {
                    out.push('\'');
                }
                if let Some(below) = below {
                    out.push('_');
                    below.group(style, out);
                }
                if let Some(above) = above {
                    out.push('^');
                    above.group(style, out);
                }
            }
            Self::Fenced(open, a, close) => {
                out.push_str("\\left");
                out.push_str(open.latex);
                let inside = a.latex(style);
                add(out, &inside);
                out.push_str("\\right");
                out.push_str(close.latex);
            }
            Self::Grid(kind, rows) => {
                let name = match kind {
                    Grid::Aligned => "aligned",
                    Grid::Cases => "cases",
                };
                out.push_str(&format!("\\begin{{{name}}}"));
                for (i, row) in rows.iter().enumerate() {
                    let line = row
                        .iter()
                        .map(|cell| cell.latex(style))
                        .collect::<Vec<_>>()
                        .join(" & ");
                    if i > 0 {
                        // A bracket or a star right behind `\\` would be taken for its argument.
                        let taken = line.trim_start().starts_with(['[', '*']);
                        out.push_str(if taken { " \\\\ {}" } else { " \\\\ " });
                    } else {
                        out.push(' ');
                    }
                    out.push_str(&line);
                }
                out.push_str(&format!(" \\end{{{name}}}"));
            }
            Self::Placeholder(name) => {
                // Unfilled placeholders reach no paper; this shows one in a message.
                out.push_str("\\text{\\{\\{ ");
                out.push_str(&typography::escaped(name));
                out.push_str(" \\}\\}}");
            }
            Self::Value(value) => add(out, &value.latex(style.mark)),
        }
    }

    pub(super) fn plain(&self, style: Style) -> String {
        let mut line = Plain::default();
        self.write_plain(style, false, &mut line);
        line.out.trim().to_owned()
    }

    /// As one factor on a line: in brackets where it has blanks or strokes in it. Above a stroke a product
    /// needs none.
    fn plain_factor(&self, style: Style, above: bool) -> String {
        let text = self.plain(style);
        let mut depth = 0_i32;
        let compound = text.chars().any(|c| {
            match c {
                '(' | '[' | '{' => depth += 1,
                ')' | ']' | '}' => depth -= 1,
                _ => {}
            }
            depth <= 0 && (matches!(c, '/' | '+' | '−' | '=' | '±' | '<' | '>') || (c == ' ' && !above))
        });
        let united = match self {
            Self::Value(value) => !value.unit.symbol.is_empty(),
            _ => false,
        };
        if compound || united {
            format!("({text})")
        } else {
            text
        }
    }

    fn write_plain(&self, style: Style, upright: bool, line: &mut Plain) {
        match self {
            Self::Row(row) => {
                for (i, item) in row.iter().enumerate() {
                    match item {
                        Self::Value(value) if Self::value_needs_brackets(row, i) => {
                            line.add(&format!("({})", value.plain(style.mark)), Class::Ordinary);
                        }
                        // A fraction followed by a factor would seem to have it in its denominator.
                        Self::Fraction(..) if row.get(i + 1).is_some_and(|next| next.is_operand(false)) => {
                            line.add(&format!("({})", item.plain(style)), Class::Ordinary);
                        }
                        _ => item.write_plain(style, upright, line),
                    }
                }
            }
            Self::Letter(c) if upright => line.add_tight(&c.to_string()),
            Self::Letter(c) => line.add(&c.to_string(), Class::Ordinary),
            Self::Number(digits) => {
                let digits = match style.mark {
                    DecimalMark::Point => digits.clone(),
                    DecimalMark::Comma => digits.replace('.', ","),
                };
                if upright {
                    line.add_tight(&digits);
                } else {
                    line.add(&digits, Class::Ordinary);
                }
            }
            Self::Sign(sign)
                if sign.plain == "/" || sign.plain == "|" || sign.plain == "°" || sign.plain == "%" =>
            {
                if matches!(line.before, Some(Class::Relation | Class::Mark)) {
                    line.gap();
                }
                line.add_tight(sign.plain);
            }
            Self::Sign(sign) => line.add(sign.plain, sign.class),
            Self::Upright(a) => {
                let mut inner = Plain::default();
                a.write_plain(style, true, &mut inner);
                line.add(inner.out.trim(), Class::Ordinary);
            }
            Self::Words(words) => line.add_tight(words),
            Self::Fraction(_, a, b) => {
                let text = format!("{}/{}", a.plain_factor(style, true), b.plain_factor(style, false));
                line.add(&text, Class::Ordinary);
            }
            Self::Root(index, a) => {
                let index = match index {
                    Some(index) => {
                        let index = index.plain(style);
                        superscripts(&index).unwrap_or(format!("[{index}]"))
                    }
                    None => String::new(),
                };
                line.add(
                    &format!("{index}√{}", a.plain_factor(style, false)),
                    Class::Ordinary,
                );
            }
            Self::Over(mark, a) => {
                let over = MARKS.iter().find(|m| m.1 == *mark).map_or('\u{304}', |m| m.2);
                let text = a.plain(style);
                line.add(&format!("{text}{over}"), Class::Ordinary);
            }
            Self::Scripts {
                base,
                primes,
                below,
                above,
            } => {
                let (mut text, class) = match &**base {
                    Self::Sign(sign) => (sign.plain.to_owned(), sign.class),
                    _ => (base.plain_factor(style, false), Class::Ordinary),
                };
                for _ in 0..*primes {
                    text.push('′');
                }
                if let Some(below) = below {
                    let below = below.plain(style);
                    match subscripts(&below) {
                        Some(lowered) => text.push_str(&lowered),
                        None if below.chars().all(char::is_alphanumeric) => {
                            text.push('_');
                            text.push_str(&below);
                        }
                        None => text.push_str(&format!("_({below})")),
                    }
                }
                if let Some(above) = above {
                    let above = above.plain(style);
                    match superscripts(&above) {
                        Some(raised) => text.push_str(&raised),
                        None if above == "°" => text.push('°'),
                        None if above.chars().all(char::is_alphanumeric) => {
                            text.push('^');
                            text.push_str(&above);
                        }
                        None => text.push_str(&format!("^({above})")),
                    }
                }
                if upright {
                    line.add_tight(&text);
                } else {
                    line.add(&text, class);
                }
            }
            Self::Fenced(open, a, close) => {
                line.add(
                    &format!("{}{}{}", open.plain, a.plain(style), close.plain),
                    Class::Ordinary,
                );
            }
            Self::Grid(kind, rows) => {
                let rows: Vec<String> = rows
                    .iter()
                    .map(|row| {
                        let cells: Vec<String> = row.iter().map(|cell| cell.plain(style)).collect();
                        cells.join(" ").trim().to_owned()
                    })
                    .collect();
                let text = rows.join("; ");
                match kind {
                    Grid::Cases => line.add(&format!("{{{text}}}"), Class::Ordinary),
                    Grid::Aligned => line.add(&text, Class::Ordinary),
                }
            }
            Self::Placeholder(name) => line.add(&format!("{{{{ {name} }}}}"), Class::Ordinary),
            Self::Value(value) => line.add(&value.plain(style.mark), Class::Ordinary),
        }
    }
}

/// Adds LaTeX so that a command does not swallow the letter behind it.
fn add(out: &mut String, piece: &str) {
    let letters = out.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let in_command = letters.len() < out.len() && letters.ends_with('\\') && !letters.ends_with("\\\\");
    if in_command && piece.starts_with(|c: char| c.is_ascii_alphabetic()) {
        out.push(' ');
    }
    out.push_str(piece);
}

/// A line of plain text that grows, with the space that each class of sign wants.
#[derive(Default)]
struct Plain {
    out: String,
    before: Option<Class>,
}

impl Plain {
    fn gap(&mut self) {
        if !self.out.is_empty() && !self.out.ends_with(' ') {
            self.out.push(' ');
        }
    }

    /// Adds without any space of its own.
    fn add_tight(&mut self, text: &str) {
        self.out.push_str(text);
        self.before = None;
    }

    fn add(&mut self, text: &str, class: Class) {
        let before = self.before;
        match class {
            Class::Relation => self.gap(),
            // A sign with nothing before it belongs to what follows.
            Class::Binary => {
                if !self.out.is_empty()
                    && !matches!(
                        before,
                        Some(Class::Open | Class::Relation | Class::Binary | Class::Mark | Class::Function)
                    )
                {
                    self.gap();
                }
            }
            Class::Ordinary | Class::Function | Class::Large => match before {
                Some(Class::Ordinary | Class::Close | Class::Function | Class::Large) => self.gap(),
                Some(Class::Relation | Class::Mark) => self.gap(),
                _ => {}
            },
            Class::Open => {
                if matches!(
                    before,
                    Some(Class::Ordinary | Class::Close | Class::Relation | Class::Mark)
                ) {
                    self.gap();
                }
            }
            Class::Close | Class::Mark | Class::Space => {}
        }
        let leading = class == Class::Binary
            && (self.out.is_empty()
                || matches!(
                    before,
                    Some(Class::Open | Class::Relation | Class::Binary | Class::Mark | Class::Function)
                ));
        if leading && matches!(before, Some(Class::Relation | Class::Mark)) {
            self.gap();
        }
        self.out.push_str(text);
        if class == Class::Binary && !leading {
            self.out.push(' ');
        }
        self.before = match class {
            _ if leading => None,
            Class::Space => None,
            class => Some(class),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equation::Bound;

    const POINT: Style = Style {
        mark: DecimalMark::Point,
    };

    fn read(text: &str) -> Expr {
        match Expr::parse_math(text) {
            Ok(expr) => expr,
            Err(error) => panic!("{text}: {error:?}"),
        }
    }

    fn refused(text: &str) -> EquationError {
        match Expr::parse_math(text) {
            Ok(expr) => panic!("{text} was read as {expr:?}"),
            Err(error) => error,
        }
    }

    #[test]
    fn the_subset_is_read_and_written_again() {
        for (text, latex, plain) in [
            ("Q = 2.5", "Q=2.5", "Q = 2.5"),
            (
                r"h_f = f \frac{L}{D} \frac{V^2}{2g}",
                r"h_{f}=f\frac{L}{D}\frac{V^{2}}{2g}",
                "h_f = f (L/D) V²/(2 g)",
            ),
            (r"\frac1{2}".replace("1", "{1}").as_str(), r"\frac{1}{2}", "1/2"),
            (
                r"\tfrac{1}{2}\dfrac{a+b}{c}",
                r"\tfrac{1}{2}\dfrac{a+b}{c}",
                "(1/2) (a + b)/c",
            ),
            (
                r"\sqrt[3]{x} + \sqrt{a b}",
                r"\sqrt[{3}]{x}+\sqrt{ab}",
                "³√x + √(a b)",
            ),
            (
                r"\dot m, \dot{m}, \bar{V}, \hat\varepsilon",
                r"\dot{m},\dot{m},\bar{V},\hat{\varepsilon}",
                "m\u{307}, m\u{307}, V\u{304}, ε\u{302}",
            ),
            (r"\mathrm{Re} \ge 4000", r"\mathrm{Re}\ge4000", "Re ≥ 4000"),
            (r"9.81\,\mathrm{m/s^2}", r"9.81\,\mathrm{m/s^{2}}", "9.81 m/s²"),
            (
                r"x \text{ if 5\% of it}",
                r"x\text{ if 5\% of it}",
                "x if 5% of it",
            ),
            (
                r"\left( \frac{a}{b} \right)^2",
                r"\left(\frac{a}{b}\right)^{2}",
                "(a/b)²",
            ),
            (r"\left. x \right|_0^1", r"\left.x\right|_{0}^{1}", "x|₀¹"),
            (r"\left\{ x \right]", r"\left\{x\right]", "{x]"),
            (
                r"\Delta p \leq \rho g \neq 0",
                r"\Delta p\le\rho g\ne0",
                "Δ p ≤ ρ g ≠ 0",
            ),
            (r"20^\circ\mathrm{C}", r"20^{\circ}\mathrm{C}", "20° C"),
            (
                r"\log_{10} x \cdot \ln y",
                r"\log_{10}x\cdot\ln y",
                "log₁₀ x · ln y",
            ),
            (
                r"\sum_i K_i \int_0^L \partial x",
                r"\sum_{i}K_{i}\int_{0}^{L}\partial x",
                "∑_i K_i ∫₀^L ∂ x",
            ),
            (r"f'(x) = f''^2", r"f'(x)=f''^{2}", "f′ (x) = f′′²"),
            (r"-x \pm (-1)", r"-x\pm(-1)", "−x ± (−1)"),
            (r"[0, 1) ; |x|! : a / b", r"[0,1);|x|!:a/b", "[0, 1); |x|! : a/b"),
            (r"2{,}5", r"2{,}5", "2, 5"),
            (r"a ≤ ε × π − µ", r"a\le\varepsilon\times\pi-\mu", "a ≤ ε × π − μ"),
            (r"V_{1,\mathrm{riser}}", r"V_{1,\mathrm{riser}}", "V_(1, riser)"),
            (r"x^{-1} x^{n+1} x^n", r"x^{-1}x^{n+1}x^{n}", "x⁻¹ x^(n + 1) x^n"),
            (
                r"\begin{cases} a & x < 1 \\ b & x \ge 1 \end{cases}",
                r"\begin{cases} a & x<1 \\ b & x\ge1 \end{cases}",
                "{a x < 1; b x ≥ 1}",
            ),
            (
                r"\begin{aligned} a &= b \\ &= [c] \\ [d] &= e \\ *f \\ \end{aligned}",
                r"\begin{aligned} a & =b \\  & =[c] \\ {}[d] & =e \\ {}*f \end{aligned}",
                "a = b; = [c]; [d] = e; *f",
            ),
            (r"{}^2_3", r"{}_{3}^{2}", "₃²"),
        ] {
            let expr = read(text);
            assert_eq!(expr.latex(POINT), latex, "{text}");
            assert_eq!(expr.plain(POINT), plain, "{text}");
            // What is written is in the subset itself, and means the same.
            assert_eq!(read(latex).latex(POINT), latex, "{text}");
        }
    }

    #[test]
    fn anything_else_is_an_error_with_its_place() {
        for (text, what, span) in [
            (r"a + \input{x}", r"the command `\input` is not known here", 4..10),
            (r"\write18{x}", r"the command `\write` is not known here", 0..6),
            (r"\catcode", r"the command `\catcode` is not known here", 0..8),
            (
                r"\csname x\endcsname",
                r"the command `\csname` is not known here",
                0..7,
            ),
            (r"x^^41", "a superscript or subscript is missing", 2..2),
            (r"a $ b", "`$` has no place in mathematics", 2..3),
            (r"a \$ b", r"the command `\$` is not known here", 2..4),
            ("a % b", "`%` has no place in mathematics", 2..3),
            ("#1", "`#` has no place in mathematics", 0..1),
            ("a ~ b", "`~` has no place in mathematics", 2..3),
            ("a\u{0}", r"`\0` has no place in mathematics", 1..2),
            ("a é", "`é` has no place in mathematics", 2..4),
            (r"\frac{L}{D", "this `{` is not closed", 8..9),
            (r"\frac{L}", r"a `{` is missing behind \frac", 8..8),
            (r"\frac12", r"a `{` is missing behind \frac", 5..5),
            (r"\frak{L}", r"the command `\frak` is not known here", 0..5),
            ("a }", "a `}` closes nothing here", 2..3),
            ("a & b", "`&` stands outside `aligned` and `cases`", 2..3),
            (r"a \\ b", r"`\\` stands outside `aligned` and `cases`", 2..4),
            ("_a", "`_` hangs on nothing", 0..1),
            ("a_1_2", "a second subscript on one thing", 3..4),
            ("a^1^2", "a second superscript on one thing", 3..4),
            (
                "a^10",
                "only the first digit of `10` would be raised or lowered",
                2..4,
            ),
            (r"\left( a", r"this `\left` has no `\right`", 0..5),
            (
                r"\left a \right)",
                r"no bracket stands behind `\left` or `\right`",
                6..7,
            ),
            (r"a \right)", r"`\right` without a `\left`", 2..8),
            (r"{ \left( a } \right)", r"this `\left` has no `\right`", 2..7),
            (
                r"\begin{verbatim}",
                r"`\begin` opens something that is not known here",
                0..6,
            ),
            (r"\begin{cases} a", r"`\begin{cases}` has no `\end{cases}`", 0..6),
            (
                r"\begin{cases} a \end{aligned}",
                r"`\begin{cases}` is not closed by `\end{cases}`",
                16..20,
            ),
            (
                r"\begin{cases} a & b & c \end{cases}",
                "a row has more than 2 columns",
                21..24,
            ),
            (r"a \end{cases}", r"`\end` without a `\begin`", 2..6),
            (
                r"\text{a \input b}",
                r"`\text{…}` holds words, and no commands",
                8..9,
            ),
            (r"\text{a $ b}", r"`$` has no place in `\text{…}`", 8..9),
            (r"\text{a", "this `{` is not closed", 5..6),
            (
                r"\sqrt[3{x}",
                "the index of the root is empty or not closed by `]`",
                5..6,
            ),
            ("", "the mathematics is empty", 0..0),
            (r"\", r"the command `\` is not known here", 0..1),
            ("{{ 1x }}", "`1x`", 0..0),
        ] {
            if text.starts_with("{{") {
                continue;
            }
            let error = refused(text);
            assert_eq!(error.what, what, "{text}");
            assert_eq!(error.span, Some(span), "{text}");
        }
        assert_eq!(
            refused(r"\frak{L}").mend.as_deref(),
            Some(r"did you mean `\frac`?")
        );
        assert_eq!(
            refused(r"\varepsilom").mend.as_deref(),
            Some(r"did you mean `\varepsilon`?")
        );
        assert_eq!(
            refused("{{ a b }}").what,
            "`{{` opens a placeholder that is not a name and `}}`"
        );
    }

    #[test]
    fn what_is_too_long_or_too_deep_is_refused() {
        assert!(refused(&"a".repeat(4001)).what.contains("4001 bytes"));
        for piece in [
            "{",
            r"\sqrt{",
            "a^{",
            r"\left(",
            r"\dot",
            r"\frac{",
            r"\begin{cases}",
            r"\sqrt[",
            r"\mathrm{",
        ] {
            let error = refused(&piece.repeat(300));
            assert!(error.what.contains("40 deep"), "{piece}: {error:?}");
        }
        read(&"a'^2_1 ".repeat(500));
    }

    #[test]
    fn placeholders_become_numbers_in_brackets_where_they_need_them() {
        let mut of = Bindings::default();
        of.set("D", Bound::as_written(Written::parse("40 mm").unwrap()));
        of.set("K", Bound::as_written(Written::parse("0.50").unwrap()));
        for (text, latex, plain) in [
            ("D = {{ D }}", r"D=40\,\mathrm{mm}", "D = 40 mm"),
            ("D = {{D}}, K", r"D=40\,\mathrm{mm},K", "D = 40 mm, K"),
            (r"\frac{{{ D }}}{2}", r"\frac{40\,\mathrm{mm}}{2}", "(40 mm)/2"),
            (
                r"\frac{{ D }}{{ K }}",
                r"\frac{40\,\mathrm{mm}}{0.50}",
                "(40 mm)/0.50",
            ),
            ("{{ D }}^2", r"(40\,\mathrm{mm})^{2}", "(40 mm)²"),
            (r"\pi {{ D }}^2", r"\pi(40\,\mathrm{mm})^{2}", "π (40 mm)²"),
            ("2 {{ K }}", "2(0.50)", "2 (0.50)"),
            (r"2 \, {{ K }}", r"2\,(0.50)", "2 (0.50)"),
            ("{{ K }} {{ D }}", r"(0.50)(40\,\mathrm{mm})", "(0.50) (40 mm)"),
            ("{{ K }} V", "(0.50)V", "(0.50) V"),
            (r"2 \times {{ K }}", r"2\times0.50", "2 × 0.50"),
            (r"\sqrt{{ K }}", r"\sqrt{0.50}", "√0.50"),
            ("x_{{ K }}", "x_{0.50}", "x_(0.50)"),
            (
                r"\text{bore } {{ D }}",
                r"\text{bore }40\,\mathrm{mm}",
                "bore 40 mm",
            ),
        ] {
            let expr = read(text).filled(&of).unwrap();
            assert_eq!(expr.latex(POINT), latex, "{text}");
            assert_eq!(expr.plain(POINT), plain, "{text}");
            assert_eq!(expr.placeholders(), [""; 0]);
        }
        assert_eq!(read("{{ K }} {{ X }}").placeholders(), ["K", "X"]);
        let error = read("{{ K }} {{ X }}").filled(&of).unwrap_err();
        assert_eq!(error.what, "the placeholder `X` stands for nothing");
        let comma = Style {
            mark: DecimalMark::Comma,
        };
        assert_eq!(
            read("{{ K }} = 1.5").filled(&of).unwrap().latex(comma),
            "0{,}50=1{,}5"
        );
        assert_eq!(read("1.5").plain(comma), "1,5");
    }

    #[test]
    fn tables_hold_every_sign_once_and_read_their_own_spelling() {
        for (i, sign) in CHARACTERS.iter().chain(&COMMANDS).enumerate() {
            let first = CHARACTERS
                .iter()
                .chain(&COMMANDS)
                .position(|s| s.latex == sign.latex);
            assert_eq!(first, Some(i), "{}", sign.latex);
            let text = format!("{} a", sign.latex);
            let Expr::Notation(Notation::Row(row)) = read(&text) else {
                panic!("{text}");
            };
            assert_eq!(row[0], Notation::Sign(sign), "{text}");
        }
    }
}
