//! Formulas of templates: a Pratt parser.
//!
//! From loosest to tightest: `or`; `and`; `<` `<=` `>` `>=` `=` `!=` (which do not chain); `+` `-`;
//! `*` `/`; a sign; `^`, which takes its right side first, so that `2^3^2` is `2^9` and `-2^2` is −4.
//!
//! A unit stands behind its number after a blank, and is written without blanks: in `3 m / L` the metre
//! is a unit and `/ L` divides, while `3 m/L` is three metres per litre. A unit that has blanks in it
//! stands in brackets: `2 [ft lbf]`. Only a round bracket behind `/` may hold a blank: `1 kg/(m s)`.
//! `abs` or `gauge` may follow a pressure's unit after a blank. Nothing is multiplied without a `*`.

use super::typography::greek_name;
use super::{EquationError, Expr, Function, Relation};
use crate::quantity::{Unit, Written};
use std::ops::Range;

/// Longest text of a formula that is read, in bytes.
pub const LONGEST_FORMULA: usize = 2000;
/// Deepest nesting of brackets, signs, powers and function calls.
const DEEPEST: usize = 60;
/// Most operators that may hang on one another; keeps a chain like `a+a+…` from growing a tree too deep
/// to walk.
const LONGEST_CHAIN: usize = 200;

pub(super) fn formula(text: &str) -> Result<Expr, EquationError> {
    if text.len() > LONGEST_FORMULA {
        return Err(EquationError::new(format!(
            "the formula is {} bytes long; at most {LONGEST_FORMULA} are read",
            text.len()
        ))
        .mend("split it, or shorten it"));
    }
    let tokens = Lexer { text, at: 0 }.tokens()?;
    let mut reader = Reader {
        text,
        tokens,
        at: 0,
        depth: 0,
    };
    let node = reader.expression(0)?;
    let left = reader.peek().clone();
    match left.kind {
        Kind::End => Ok(node.expr),
        Kind::Close => Err(EquationError::new("a `)` closes nothing here")
            .at(left.span)
            .mend("remove it, or open a `(` before it")),
        Kind::Comma => Err(EquationError::new("a comma stands outside a function's brackets")
            .at(left.span)
            .mend("write decimals with a point, such as `2.5`")),
        _ => Err(reader.side_by_side(&node, &left)),
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Kind {
    Number(Written),
    Name(String),
    Call(Function),
    Pi,
    Plus,
    Minus,
    Times,
    Over,
    Caret,
    Relation(Relation),
    And,
    Or,
    Open,
    Close,
    Comma,
    End,
}

#[derive(Debug, Clone, PartialEq)]
struct Token {
    kind: Kind,
    span: Range<usize>,
}

/// The functions of formulas by name.
pub(super) const FUNCTIONS: [(&str, Function); 7] = [
    ("sqrt", Function::Sqrt),
    ("ln", Function::Ln),
    ("log10", Function::Log10),
    ("exp", Function::Exp),
    ("abs", Function::Abs),
    ("min", Function::Min),
    ("max", Function::Max),
];

struct Lexer<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Lexer<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    /// Length in bytes of the longest beginning of `text` whose characters all satisfy `accept`.
    fn run(text: &str, accept: impl Fn(char) -> bool) -> usize {
        text.char_indices()
            .find(|(_, c)| !accept(*c))
            .map_or(text.len(), |(i, _)| i)
    }

    fn tokens(mut self) -> Result<Vec<Token>, EquationError> {
        let mut tokens = Vec::new();
        loop {
            self.at += Self::run(self.rest(), char::is_whitespace);
            let start = self.at;
            let Some(c) = self.peek() else {
                tokens.push(Token {
                    kind: Kind::End,
                    span: start..start,
                });
                return Ok(tokens);
            };
            let kind = if c.is_ascii_digit() {
                self.number()?
            } else if c.is_alphabetic() {
                self.word()?
            } else {
                self.sign(c)?
            };
            tokens.push(Token {
                kind,
                span: start..self.at,
            });
        }
    }

    fn sign(&mut self, c: char) -> Result<Kind, EquationError> {
        let start = self.at;
        let two = |a: &str| self.rest().starts_with(a);
        let refuse = |what: &str, len: usize, mend: &str| {
            Err(EquationError::new(what).at(start..start + len).mend(mend))
        };
        let (kind, len) = match c {
            '+' => (Kind::Plus, 1),
            '-' | '−' => (Kind::Minus, c.len_utf8()),
            '*' if two("**") => return refuse("`**` is no operator", 2, "write `^` for a power"),
            '*' | '×' | '·' => (Kind::Times, c.len_utf8()),
            '/' => (Kind::Over, 1),
            '^' => (Kind::Caret, 1),
            '(' => (Kind::Open, 1),
            ')' => (Kind::Close, 1),
            ',' | ';' => (Kind::Comma, 1),
            '<' if two("<=") => (Kind::Relation(Relation::AtMost), 2),
            '>' if two(">=") => (Kind::Relation(Relation::AtLeast), 2),
            '!' if two("!=") => (Kind::Relation(Relation::NotEqual), 2),
            '=' if two("==") => return refuse("`==` is no comparison", 2, "write `=`"),
            '<' => (Kind::Relation(Relation::Less), 1),
            '>' => (Kind::Relation(Relation::Greater), 1),
            '=' => (Kind::Relation(Relation::Equal), 1),
            '≤' => (Kind::Relation(Relation::AtMost), c.len_utf8()),
            '≥' => (Kind::Relation(Relation::AtLeast), c.len_utf8()),
            '≠' => (Kind::Relation(Relation::NotEqual), c.len_utf8()),
            '&' => return refuse("`&` is no operator", 1, "write `and`"),
            '|' => return refuse("`|` is no operator", 1, "write `or`, or `abs(…)` for a magnitude"),
            '.' => {
                return refuse(
                    "a number begins with a digit",
                    1,
                    "write a nought before the point, as in `0.5`",
                );
            }
            '[' => {
                return refuse(
                    "a `[` stands behind no number",
                    1,
                    "brackets hold a unit behind a number, as in `9.81 [m/s^2]`; group with `( )`",
                );
            }
            '{' => {
                return refuse(
                    "a formula has no braces",
                    1,
                    "write the name alone; `{{ }}` is for running text",
                );
            }
            other => {
                return Err(EquationError::new(format!(
                    "`{}` has no meaning in a formula",
                    other.escape_debug()
                ))
                .at(start..start + other.len_utf8())
                .mend("use numbers, names, `+ - * / ^ ( )`, comparisons, `and`, `or`"));
            }
        };
        self.at += len;
        Ok(kind)
    }

    fn word(&mut self) -> Result<Kind, EquationError> {
        let start = self.at;
        let len = Self::run(self.rest(), |c| c.is_alphanumeric() || c == '_');
        let word = &self.rest()[..len];
        self.at += len;
        match word {
            "and" => return Ok(Kind::And),
            "or" => return Ok(Kind::Or),
            "pi" | "π" => return Ok(Kind::Pi),
            _ => {}
        }
        let called = self.rest().trim_start().starts_with('(');
        let known = FUNCTIONS.iter().find(|(name, _)| *name == word);
        match known {
            Some((_, function)) if called => return Ok(Kind::Call(*function)),
            Some((name, _)) => {
                return Err(
                    EquationError::new(format!("the function `{name}` has no argument"))
                        .at(start..self.at)
                        .mend(format!("write `{name}(…)`")),
                );
            }
            None if called => {
                let error = match word {
                    "log" => EquationError::new("`log` could mean two logarithms")
                        .mend("write `ln(…)` or `log10(…)`"),
                    _ => EquationError::new(format!("`{word}` is no function")).mend(format!(
                        "write `{word} * (…)` to multiply; the functions are sqrt, ln, log10, exp, abs, min, max"
                    )),
                };
                return Err(error.at(start..self.at));
            }
            None => {}
        }
        // Greek letters go by their names, so that `ε` and `eps` are the same given.
        let mut name = String::new();
        for (i, piece) in word.split('_').enumerate() {
            if i > 0 {
                name.push('_');
            }
            match greek_name(piece) {
                Some(greek) => name.push_str(greek),
                None if piece.is_ascii() => name.push_str(piece),
                None => {
                    return Err(EquationError::new(format!(
                        "the name `{word}` has letters that names can't have"
                    ))
                    .at(start..self.at)
                    .mend("use the letters a to z, digits and `_`; Greek letters by name, such as `eps`"));
                }
            }
        }
        Ok(Kind::Name(name))
    }

    fn number(&mut self) -> Result<Kind, EquationError> {
        let start = self.at;
        let digit = |c: char| c.is_ascii_digit();
        self.at += Self::run(self.rest(), digit);
        if self.rest().starts_with('.') {
            let decimals = Self::run(&self.rest()[1..], digit);
            if decimals == 0 {
                return Err(EquationError::new("a number ends in its decimal point")
                    .at(start..self.at + 1)
                    .mend("write digits behind the point, or leave it out"));
            }
            self.at += 1 + decimals;
        }
        if self.rest().starts_with(['e', 'E']) {
            let behind = &self.rest()[1..];
            let sign = usize::from(behind.starts_with(['+', '-']));
            let digits = Self::run(&behind[sign..], digit);
            if digits > 0 {
                self.at += 1 + sign + digits;
            }
        }
        let number = &self.text[start..self.at];
        let unit = self.unit(number)?;
        let text = match &unit {
            Some(unit) => format!("{number} {unit}"),
            None => number.to_owned(),
        };
        let written = Written::parse(&text).map_err(|e| EquationError {
            what: e.what,
            span: Some(start..self.at),
            mend: e.mend,
        })?;
        if !written.number.is_finite() {
            return Err(EquationError::new(format!("`{number}` is too large")).at(start..self.at));
        }
        Ok(Kind::Number(written))
    }

    /// The text of the unit behind a number, if there is one; moves past it.
    fn unit(&mut self, number: &str) -> Result<Option<String>, EquationError> {
        let behind = self.at;
        let blanks = Self::run(self.rest(), char::is_whitespace);
        let rest = &self.rest()[blanks..];
        let Some(c) = rest.chars().next() else {
            return Ok(None);
        };
        if c == '[' {
            let Some(close) = rest.find(']') else {
                return Err(EquationError::new("the `[` of a unit is not closed")
                    .at(behind + blanks..behind + blanks + 1)
                    .mend("close it with `]`"));
            };
            let inside = rest[1..close].trim();
            let span = behind + blanks + 1..behind + blanks + close;
            Unit::parse(inside).map_err(|e| EquationError {
                what: e.what,
                span: Some(span),
                mend: e.mend,
            })?;
            self.at += blanks + close + 1;
            return Ok(Some(inside.to_owned()));
        }
        if !(c.is_alphabetic() || c == '°' || c == '%') {
            return Ok(None);
        }
        let len = unit_length(rest);
        let unit = &rest[..len];
        if matches!(unit, "and" | "or") {
            return Ok(None);
        }
        let span = behind + blanks..behind + blanks + len;
        let called = rest[len..].starts_with('(');
        if blanks == 0 && c.is_alphabetic() {
            return Err(
                EquationError::new(format!("`{unit}` stands right behind the number `{number}`"))
                    .at(span)
                    .mend(format!(
                        "write `{number} * {unit}` to multiply; a unit needs a blank before it, as in `3 m`"
                    )),
            );
        }
        if called {
            return Err(
                EquationError::new("nothing stands between a number and what follows it")
                    .at(behind - number.len()..span.end)
                    .mend(format!("write `{number} * {unit}(…)` to multiply")),
            );
        }
        if let Err(e) = Unit::parse(unit) {
            let mend = match unit.split_once(['/', '.', '·', '^']) {
                Some((first, _)) if Unit::parse(first).is_ok() => format!(
                    "a unit is written without blanks and an operator with them: `{number} {first} {}`",
                    spread(&unit[first.len()..])
                ),
                _ => match e.mend {
                    Some(mend) => format!("write `{number} * {unit}` to multiply, or {mend}"),
                    None => format!("write `{number} * {unit}` to multiply, or a unit, such as `{number} m`"),
                },
            };
            return Err(EquationError::new(format!(
                "`{unit}` behind the number `{number}` is no unit that is known here"
            ))
            .at(span)
            .mend(mend));
        }
        self.at = span.end;
        // The word that says what a pressure is measured from.
        let gap = Self::run(self.rest(), char::is_whitespace);
        let word_len = Self::run(&self.rest()[gap..], |c| c.is_alphanumeric() || c == '_');
        let word = &self.rest()[gap..gap + word_len];
        if gap > 0
            && matches!(word, "abs" | "absolute" | "gauge")
            && !self.rest()[gap + word_len..].trim_start().starts_with('(')
        {
            let whole = format!("{unit} {word}");
            if Unit::parse(&whole).is_ok() {
                self.at += gap + word_len;
                return Ok(Some(whole));
            }
        }
        Ok(Some(unit.to_owned()))
    }
}

/// `/D` as `/ D`, to show how an operator is set off.
fn spread(tail: &str) -> String {
    let mut chars = tail.chars();
    match chars.next() {
        Some(operator) => format!("{operator} {}", chars.as_str()),
        None => String::new(),
    }
}

/// Bytes of the unit that `text` begins with: letters, powers, `.`, `·` and `/` without blanks; a bracket
/// only behind `/` or `^`.
fn unit_length(text: &str) -> usize {
    let mut at = 0;
    let mut before = ' ';
    while let Some(c) = text[at..].chars().next() {
        let next = text[at + c.len_utf8()..].chars().next();
        let part = c.is_alphanumeric()
            || match c {
                '_' | '°' | '%' | '⁻' => true,
                '/' | '.' | '·' => next.is_some_and(|n| n.is_alphabetic() || matches!(n, '(' | '°' | '%')),
                '^' => next.is_some_and(|n| n.is_ascii_digit() || matches!(n, '-' | '−' | '(')),
                '-' | '−' => before == '^',
                _ => false,
            };
        let taken = if part {
            c.len_utf8()
        } else if c == '(' && matches!(before, '/' | '^') {
            match text[at..].find(')') {
                Some(close) => close + 1,
                None => break,
            }
        } else {
            break;
        };
        before = text[at..at + taken].chars().next_back().unwrap_or(' ');
        at += taken;
    }
    at
}

struct Node {
    expr: Expr,
    /// A comparison or several of them, not a value.
    truth: bool,
    span: Range<usize>,
    height: usize,
}

struct Reader<'a> {
    text: &'a str,
    tokens: Vec<Token>,
    at: usize,
    depth: usize,
}

impl Reader<'_> {
    fn peek(&self) -> &Token {
        // The last token is always `End` and is never passed.
        &self.tokens[self.at.min(self.tokens.len() - 1)]
    }

    fn next(&mut self) -> Token {
        let token = self.peek().clone();
        if token.kind != Kind::End {
            self.at += 1;
        }
        token
    }

    fn side_by_side(&self, node: &Node, next: &Token) -> EquationError {
        let (left, right) = (
            short(&self.text[node.span.clone()]),
            short(&self.text[next.span.clone()]),
        );
        EquationError::new(format!("nothing stands between `{left}` and `{right}`"))
            .at(node.span.start..next.span.end)
            .mend("write `*` to multiply")
    }

    fn expression(&mut self, min: u8) -> Result<Node, EquationError> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(
                EquationError::new(format!("the formula is nested more than {DEEPEST} deep"))
                    .at(self.peek().span.clone())
                    .mend("take away brackets"),
            );
        }
        let mut left = self.operand(min)?;
        loop {
            let token = self.peek().clone();
            let (left_power, right_power) = match &token.kind {
                Kind::Or => (1, 2),
                Kind::And => (3, 4),
                Kind::Relation(_) => (5, 6),
                Kind::Plus | Kind::Minus => (7, 8),
                Kind::Times | Kind::Over => (9, 10),
                Kind::Caret => (13, 12),
                Kind::End | Kind::Close | Kind::Comma => break,
                _ => return Err(self.side_by_side(&left, &token)),
            };
            if left_power < min {
                break;
            }
            self.next();
            if matches!(token.kind, Kind::Relation(_)) && left.truth {
                return Err(EquationError::new("comparisons do not chain")
                    .at(left.span.start..token.span.end)
                    .mend("write `a < b and b < c`"));
            }
            let right = self.expression(right_power)?;
            left = join(left, &token, right)?;
        }
        self.depth -= 1;
        Ok(left)
    }

    fn operand(&mut self, min: u8) -> Result<Node, EquationError> {
        let token = self.next();
        let leaf = |expr| {
            Ok(Node {
                expr,
                truth: false,
                span: token.span.clone(),
                height: 1,
            })
        };
        match token.kind {
            Kind::Number(written) => leaf(Expr::Number(written)),
            Kind::Name(name) => leaf(Expr::Symbol(name)),
            Kind::Pi => leaf(Expr::Pi),
            Kind::Plus => Err(EquationError::new("a `+` stands before nothing it could add to")
                .at(token.span)
                .mend("leave it out")),
            Kind::Minus => {
                // A sign takes a whole product, `-a*b` being -(a*b), but no more than its own place allows:
                // in `a / -b * c` it takes `b`.
                let node = self.expression(min.max(9))?;
                if node.truth {
                    return Err(value_wanted(&node, "`-`"));
                }
                let span = token.span.start..node.span.end;
                let height = node.height + 1;
                // A signed number is one number: minus five degrees Celsius is not the negative of five.
                let expr = match node.expr {
                    Expr::Number(mut written) if !written.shown.digits.starts_with('-') => {
                        written.number = -written.number;
                        written.shown.digits.insert(0, '-');
                        Expr::Number(written)
                    }
                    other => Expr::Negative(Box::new(other)),
                };
                Ok(Node {
                    expr,
                    truth: false,
                    span,
                    height,
                })
            }
            Kind::Open => {
                let inside = self.expression(0)?;
                let end = self.close(&token.span)?;
                Ok(Node {
                    span: token.span.start..end,
                    ..inside
                })
            }
            Kind::Call(function) => {
                let open = self.next();
                let mut arguments = Vec::new();
                let mut height = 0;
                loop {
                    let node = self.expression(0)?;
                    if node.truth {
                        return Err(value_wanted(&node, "a function"));
                    }
                    height = height.max(node.height);
                    arguments.push(node.expr);
                    if self.peek().kind == Kind::Comma {
                        self.next();
                    } else {
                        break;
                    }
                }
                let end = self.close(&open.span)?;
                let span = token.span.start..end;
                if !matches!(function, Function::Min | Function::Max) && arguments.len() != 1 {
                    return Err(EquationError::new(format!(
                        "`{}` takes one argument, not {}",
                        &self.text[token.span],
                        arguments.len()
                    ))
                    .at(span)
                    .mend("write decimals with a point, such as `2.5`"));
                }
                Ok(Node {
                    expr: Expr::Call(function, arguments),
                    truth: false,
                    span,
                    height: height + 1,
                })
            }
            Kind::End => Err(EquationError::new(
                "the formula ends where a number, a name or a `(` is missing",
            )
            .at(token.span)
            .mend("complete it")),
            _ => Err(EquationError::new(format!(
                "`{}` stands where a number, a name or a `(` is missing",
                &self.text[token.span.clone()]
            ))
            .at(token.span)
            .mend("complete the formula, or take this away")),
        }
    }

    fn close(&mut self, open: &Range<usize>) -> Result<usize, EquationError> {
        let token = self.next();
        match token.kind {
            Kind::Close => Ok(token.span.end),
            Kind::Comma => Err(EquationError::new("a comma stands where no second argument can")
                .at(token.span)
                .mend("write decimals with a point, such as `2.5`")),
            _ => Err(EquationError::new("this `(` is not closed")
                .at(open.clone())
                .mend("add a `)`")),
        }
    }
}

fn short(text: &str) -> String {
    let mut chars = text.chars();
    let start: String = chars.by_ref().take(24).collect();
    if chars.next().is_some() {
        format!("{start}…")
    } else {
        start
    }
}

fn value_wanted(node: &Node, by: &str) -> EquationError {
    EquationError::new(format!("a comparison stands where {by} needs a value"))
        .at(node.span.clone())
        .mend("join comparisons with `and` or `or` only")
}

fn join(left: Node, operator: &Token, right: Node) -> Result<Node, EquationError> {
    let span = left.span.start..right.span.end;
    let height = 1 + left.height.max(right.height);
    if height > LONGEST_CHAIN {
        return Err(
            EquationError::new(format!("more than {LONGEST_CHAIN} operators hang on one another"))
                .at(span)
                .mend("split the formula"),
        );
    }
    let logical = matches!(operator.kind, Kind::And | Kind::Or);
    for node in [&left, &right] {
        if logical && !node.truth {
            return Err(
                EquationError::new("a value stands where `and` or `or` needs a comparison")
                    .at(node.span.clone())
                    .mend("write a comparison, such as `V < 4 m/s`"),
            );
        }
        if !logical && node.truth {
            return Err(value_wanted(node, "an operator"));
        }
    }
    let truth = logical || matches!(operator.kind, Kind::Relation(_));
    let (a, b) = (Box::new(left.expr), Box::new(right.expr));
    let expr = match operator.kind {
        Kind::Or => Expr::Or(a, b),
        Kind::And => Expr::And(a, b),
        Kind::Relation(relation) => Expr::Compare(a, relation, b),
        Kind::Plus => Expr::Add(a, b),
        Kind::Minus => Expr::Subtract(a, b),
        Kind::Times => Expr::Multiply(a, b),
        Kind::Over => Expr::Divide(a, b),
        Kind::Caret => Expr::Power(a, b),
        _ => {
            return Err(EquationError::new("this is no operator").at(operator.span.clone()));
        }
    };
    Ok(Node {
        expr,
        truth,
        span,
        height,
    })
}

#[cfg(test)]
mod tests {
    use crate::equation::{Bindings, Bound, EquationError, Expr, Style};
    use crate::quantity::Unit;

    fn names() -> Bindings {
        let mut of = Bindings::default();
        for (name, value, unit) in [
            ("a", 2.0, ""),
            ("b", 3.0, ""),
            ("c", 5.0, ""),
            ("V", 3.0, "m/s"),
            ("L", 60.0, "m"),
            ("D", 0.05, "m"),
            ("eps", 1.5e-4, "m"),
            ("Re", 150_000.0, ""),
        ] {
            let unit = if unit.is_empty() {
                Unit::none()
            } else {
                Unit::parse(unit).unwrap()
            };
            of.set(name, Bound::new(value, &unit, 6));
        }
        of
    }

    fn value(text: &str) -> f64 {
        match Expr::parse(text).and_then(|e| e.evaluate(&names())) {
            Ok(quantity) => quantity.value,
            Err(error) => panic!("{text}: {error:?}"),
        }
    }

    fn refused(text: &str) -> EquationError {
        match Expr::parse(text) {
            Ok(expr) => panic!("{text} was read as {expr:?}"),
            Err(error) => error,
        }
    }

    #[test]
    fn operators_bind_as_they_are_taught() {
        for (text, expected) in [
            ("2 + 3 * 4", 14.0),
            ("2 * 3 + 4", 10.0),
            ("2 - 3 - 4", -5.0),
            ("24 / 4 / 2", 3.0),
            ("24 / 4 * 2", 12.0),
            ("2 ^ 3 ^ 2", 512.0),
            ("-2 ^ 2", -4.0),
            ("(-2) ^ 2", 4.0),
            ("2 ^ -1", 0.5),
            ("2 ^ -1 ^ 2", 0.5),
            ("2 * -3", -6.0),
            ("12 / -3 * 2", -8.0),
            ("-2 * 3 + 10", 4.0),
            ("10 - -2", 12.0),
            ("--2", 2.0),
            ("2 * 3 ^ 2", 18.0),
            ("1 / 2", 0.5),
            ("1e-3 * 1E3", 1.0),
            ("1.5e+2", 150.0),
            ("a*b^a", 18.0),
            ("a-b-c", -6.0),
            ("4 − 1 × 2", 2.0),
            ("sqrt(16) + abs(-3) + min(4, 2, 3) + max(1, a)", 11.0),
            ("log10(1000) + ln(exp(2))", 5.0),
            ("pi / π", 1.0),
            (
                "0.25 / log10(0.001 / 3.7)^2",
                0.25 / 3.568_201_724_066_995_f64 / 3.568_201_724_066_995,
            ),
        ] {
            let found = value(text);
            assert!(
                (found - expected).abs() <= 1e-12 * expected.abs(),
                "{text} = {found}, not {expected}"
            );
        }
    }

    #[test]
    fn comparisons_bind_looser_than_sums_and_tighter_than_and() {
        for (text, expected) in [
            ("1 + 1 = 2", true),
            ("1 < 2 and 2 < 1", false),
            ("1 < 2 or 2 < 1 and 3 < 1", true),
            ("(1 < 2 or 2 < 1) and 3 < 1", false),
            ("2 >= 2 and 2 <= 2 and not_equal != 2", true),
            ("V < 4 m/s and Re > 4000", true),
            ("V < 4 m/s or Re > 4e9", true),
            ("V > 4 m/s", false),
            ("V <= 300 cm/s", true),
            ("V ≥ 3 m/s", true),
        ] {
            let mut of = names();
            of.set("not_equal", Bound::new(1.0, &Unit::none(), 3));
            assert_eq!(Expr::parse(text).unwrap().holds(&of), Ok(expected), "{text}");
        }
    }

    #[test]
    fn a_unit_stands_behind_its_number() {
        for (text, expected) in [
            ("9.81 m/s^2", 9.81),
            ("9.81 m/s²", 9.81),
            ("9.81 [m/s^2]", 9.81),
            ("9.81[m/s^2]", 9.81),
            ("2 * L + 3 m", 123.0),
            ("3 m * 2", 6.0),
            ("3 m*2", 6.0),
            ("3 m / D", 60.0),
            ("(3 m)^2", 9.0),
            ("1.0e-3 Pa.s", 1e-3),
            ("1.0e-3 kg/(m s)", 1e-3),
            ("20 degC", 293.15),
            ("-5 degC", 268.15),
            ("20°C", 293.15),
            ("50 %", 0.5),
            ("50% * 2", 1.0),
            ("5 min", 300.0),
            ("5 * min(1, 2)", 5.0),
            ("100 kPa abs", 1e5),
            ("100 kPa + 1 kPa", 101e3),
            ("2 [ft lbf]", 2.0 * 0.3048 * 4.448_221_615_260_5),
            ("1.200 m", 1.2),
            ("3 m-2 m", 1.0),
            ("ε / D", 0.003),
        ] {
            let found = value(text);
            assert!(
                (found - expected).abs() <= 1e-12 * expected.abs(),
                "{text} = {found}, not {expected}"
            );
        }
    }

    #[test]
    fn figures_and_unit_stay_as_typed() {
        let Ok(Expr::Number(written)) = Expr::parse("2.50 L/s") else {
            panic!("one number");
        };
        assert_eq!(written.figures, 3);
        assert_eq!(written.ascii(), "2.50 L/s");
        let Ok(Expr::Number(written)) = Expr::parse("-3 m") else {
            panic!("one number");
        };
        assert_eq!(written.ascii(), "-3 m");
        assert_eq!(written.quantity().value, -3.0);
    }

    #[test]
    fn what_is_wrong_is_named_with_its_place_and_a_way_to_mend_it() {
        for (text, what, span, mend) in [
            (
                "D^2*(1+",
                "the formula ends where a number, a name or a `(` is missing",
                7..7,
                "complete it",
            ),
            ("(1 + 2", "this `(` is not closed", 0..1, "add a `)`"),
            (
                "1 + 2)",
                "a `)` closes nothing here",
                5..6,
                "remove it, or open a `(` before it",
            ),
            (
                "2 V_tank",
                "`V_tank` behind the number `2` is no unit that is known here",
                2..8,
                "write `2 * V_tank` to multiply, or write a unit such as `m^3/s`, `L/s`, `kPa` or `mm`",
            ),
            (
                "2V",
                "`V` stands right behind the number `2`",
                1..2,
                "write `2 * V` to multiply; a unit needs a blank before it, as in `3 m`",
            ),
            (
                "a b",
                "nothing stands between `a` and `b`",
                0..3,
                "write `*` to multiply",
            ),
            (
                "(a) (b)",
                "nothing stands between `(a)` and `(`",
                0..5,
                "write `*` to multiply",
            ),
            (
                "2 (a)",
                "nothing stands between `2` and `(`",
                0..3,
                "write `*` to multiply",
            ),
            (
                "2 sqrt(a)",
                "nothing stands between a number and what follows it",
                0..6,
                "write `2 * sqrt(…)` to multiply",
            ),
            (
                "3 m/D",
                "`m/D` behind the number `3` is no unit that is known here",
                2..5,
                "a unit is written without blanks and an operator with them: `3 m / D`",
            ),
            (
                "log(a)",
                "`log` could mean two logarithms",
                0..3,
                "write `ln(…)` or `log10(…)`",
            ),
            (
                "sin(a)",
                "`sin` is no function",
                0..3,
                "write `sin * (…)` to multiply; the functions are sqrt, ln, log10, exp, abs, min, max",
            ),
            (
                "sqrt + 1",
                "the function `sqrt` has no argument",
                0..4,
                "write `sqrt(…)`",
            ),
            (
                "1 < 2 < 3",
                "comparisons do not chain",
                0..7,
                "write `a < b and b < c`",
            ),
            (
                "(1 < 2) + 1",
                "a comparison stands where an operator needs a value",
                0..7,
                "join comparisons with `and` or `or` only",
            ),
            (
                "a and 1 < 2",
                "a value stands where `and` or `or` needs a comparison",
                0..1,
                "write a comparison, such as `V < 4 m/s`",
            ),
            ("a == 1", "`==` is no comparison", 2..4, "write `=`"),
            ("a ** 2", "`**` is no operator", 2..4, "write `^` for a power"),
            (
                "2,5",
                "a comma stands outside a function's brackets",
                1..2,
                "write decimals with a point, such as `2.5`",
            ),
            (
                "sqrt(2, 3)",
                "`sqrt` takes one argument, not 2",
                0..10,
                "write decimals with a point, such as `2.5`",
            ),
            (
                ".5",
                "a number begins with a digit",
                0..1,
                "write a nought before the point, as in `0.5`",
            ),
            (
                "5. + 1",
                "a number ends in its decimal point",
                0..2,
                "write digits behind the point, or leave it out",
            ),
            (
                "",
                "the formula ends where a number, a name or a `(` is missing",
                0..0,
                "complete it",
            ),
            (
                "a + #",
                "`#` has no meaning in a formula",
                4..5,
                "use numbers, names, `+ - * / ^ ( )`, comparisons, `and`, `or`",
            ),
            (
                "3 [m",
                "the `[` of a unit is not closed",
                2..3,
                "close it with `]`",
            ),
            (
                "a * / b",
                "`/` stands where a number, a name or a `(` is missing",
                4..5,
                "complete the formula, or take this away",
            ),
        ] {
            let error = refused(text);
            assert_eq!(error.what, what, "{text}");
            assert_eq!(error.span, Some(span), "{text}");
            assert_eq!(error.mend.as_deref(), Some(mend), "{text}");
        }
    }

    #[test]
    fn what_is_too_long_or_too_deep_is_refused() {
        assert!(refused(&"a".repeat(2001)).what.contains("2001 bytes"));
        assert!(refused(&"(".repeat(2000)).what.contains("60 deep"));
        assert!(refused(&"-".repeat(2000)).what.contains("60 deep"));
        assert!(refused(&"sqrt(".repeat(400)).what.contains("60 deep"));
        assert!(refused(&"2^".repeat(1000)).what.contains("60 deep"));
        assert!(refused(&"a+".repeat(999)).what.contains("200 operators"));
        let brackets = format!("{}1{}", "(".repeat(59), ")".repeat(59));
        assert_eq!(value(&brackets), 1.0);
    }

    #[test]
    fn greek_letters_go_by_their_names() {
        let expr = Expr::parse("ε_main + µ + μ").unwrap();
        assert_eq!(expr.plain(Style::default()), "ε_main + μ + μ");
        let names: Vec<String> = expr.symbols().into_iter().collect();
        assert_eq!(names, ["eps_main", "mu"]);
        assert!(refused("Δp").mend.unwrap().contains("by name"));
    }
}
