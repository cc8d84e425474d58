//! How the name of a quantity is set: base and subscript, Greek letters, upright words.

use super::math::{self, Mark, Notation};
use std::fmt::Write as _;

/// Greek letters: name in formulas, the letter, LaTeX.
pub(super) const GREEK: [(&str, &str, &str); 36] = [
    ("alpha", "α", "\\alpha"),
    ("beta", "β", "\\beta"),
    ("gamma", "γ", "\\gamma"),
    ("delta", "δ", "\\delta"),
    ("eps", "ε", "\\varepsilon"),
    ("epsilon", "ε", "\\varepsilon"),
    ("zeta", "ζ", "\\zeta"),
    ("eta", "η", "\\eta"),
    ("theta", "θ", "\\theta"),
    ("iota", "ι", "\\iota"),
    ("kappa", "κ", "\\kappa"),
    ("lambda", "λ", "\\lambda"),
    ("mu", "μ", "\\mu"),
    ("nu", "ν", "\\nu"),
    ("xi", "ξ", "\\xi"),
    ("pi", "π", "\\pi"),
    ("rho", "ρ", "\\rho"),
    ("sigma", "σ", "\\sigma"),
    ("tau", "τ", "\\tau"),
    ("upsilon", "υ", "\\upsilon"),
    ("phi", "φ", "\\varphi"),
    ("chi", "χ", "\\chi"),
    ("psi", "ψ", "\\psi"),
    ("omega", "ω", "\\omega"),
    ("Gamma", "Γ", "\\Gamma"),
    ("Delta", "Δ", "\\Delta"),
    ("Theta", "Θ", "\\Theta"),
    ("Lambda", "Λ", "\\Lambda"),
    ("Xi", "Ξ", "\\Xi"),
    ("Pi", "Π", "\\Pi"),
    ("Sigma", "Σ", "\\Sigma"),
    ("Upsilon", "Υ", "\\Upsilon"),
    ("Phi", "Φ", "\\Phi"),
    ("Psi", "Ψ", "\\Psi"),
    ("Omega", "Ω", "\\Omega"),
    // The micro sign, which keyboards give for mu.
    ("mu", "µ", "\\mu"),
];

/// Marks over a letter: how a name ends, LaTeX, the combining mark.
const OVER: [(&str, &str, char); 3] = [
    ("dot", "\\dot", '\u{307}'),
    ("bar", "\\bar", '\u{304}'),
    ("hat", "\\hat", '\u{302}'),
];

/// The name of a Greek letter in formulas.
pub(super) fn greek_name(letter: &str) -> Option<&'static str> {
    GREEK.iter().find(|g| g.1 == letter).map(|g| g.0)
}

fn greek(name: &str) -> Option<(&'static str, &'static str)> {
    GREEK.iter().find(|g| g.0 == name).map(|g| (g.1, g.2))
}

/// Whether a name is set with a stroke in it, and so needs brackets in a product or a power.
pub(super) fn is_ratio(name: &str) -> bool {
    name == "rr" || name.starts_with("rr_")
}

/// A difference of pressures, which is set with a Greek letter of its own.
const DIFFERENCE: (&str, &str, &str) = ("dp", "Δp", "\\Delta p");

/// Differentials: the d upright, the letter behind it in italics.
const DIFFERENTIALS: [(&str, &str); 3] = [
    ("dH", "\\mathrm{d}H"),
    ("dh", "\\mathrm{d}h"),
    ("dt", "\\mathrm{d}t"),
];

/// One piece of a name as LaTeX: a letter in italics, a word upright.
fn piece(text: &str) -> String {
    if text == DIFFERENCE.0 {
        return DIFFERENCE.2.to_owned();
    }
    if let Some((_, latex)) = DIFFERENTIALS.iter().find(|(name, _)| *name == text) {
        return (*latex).to_owned();
    }
    if let Some((_, latex)) = greek(text) {
        return latex.to_owned();
    }
    let plain = text.chars().all(|c| c.is_ascii_alphanumeric());
    if !plain {
        return format!("\\text{{{}}}", escaped(text));
    }
    if text.len() == 1 || text.chars().all(|c| c.is_ascii_digit()) {
        return text.to_owned();
    }
    for (ending, command, _) in OVER {
        if let Some(letter) = text.strip_suffix(ending)
            && letter.len() == 1
        {
            return format!("{command}{{{letter}}}");
        }
    }
    format!("\\mathrm{{{text}}}")
}

/// `D2` is set as `D_2`: base letters and the digits behind them.
fn split_digits(base: &str) -> (&str, &str) {
    let letters = base.trim_end_matches(|c: char| c.is_ascii_digit());
    if letters.is_empty() {
        (base, "")
    } else {
        base.split_at(letters.len())
    }
}

/// `1s` is two subscripts: the moment and the tank.
fn split_number(subscript: &str) -> Vec<&str> {
    let letters = subscript.trim_start_matches(|c: char| c.is_ascii_digit());
    let digits = &subscript[..subscript.len() - letters.len()];
    if letters.len() == 1 && !digits.is_empty() {
        vec![digits, letters]
    } else {
        vec![subscript]
    }
}

/// A name as LaTeX: `h_f_riser` is `h_{f,\mathrm{riser}}`.
pub(super) fn latex(name: &str) -> String {
    let mut pieces = name.split('_').filter(|p| !p.is_empty());
    let first = pieces.next().unwrap_or("");
    let (letters, digits) = split_digits(first);
    let mut subscripts: Vec<&str> = Vec::new();
    if !digits.is_empty() {
        subscripts.push(digits);
    }
    subscripts.extend(pieces.flat_map(split_number));
    let base = piece(letters);
    let mut sub = String::new();
    let mut word_before = false;
    for (i, text) in subscripts.iter().enumerate() {
        let set = piece(text);
        let word = set.starts_with("\\mathrm") || set.starts_with("\\text");
        if i > 0 {
            sub.push_str(if word && word_before { "\\ " } else { "," });
        }
        sub.push_str(&set);
        word_before = word;
    }
    // The relative roughness is written as what it is; a pipe's name goes to both of its letters.
    if letters == "rr" {
        return if sub.is_empty() {
            "\\varepsilon/D".to_owned()
        } else {
            format!("\\varepsilon_{{{sub}}}/D_{{{sub}}}")
        };
    }
    if sub.is_empty() {
        base
    } else {
        format!("{base}_{{{sub}}}")
    }
}

/// Whether a letter is a Greek capital, which is set upright.
pub(super) fn is_capital_greek(letter: &str) -> bool {
    letter.chars().all(|c| ('Α'..='Ω').contains(&c))
}

/// One piece of a name as notation.
fn piece_noted(text: &str) -> Notation {
    if text == DIFFERENCE.0 {
        return Notation::Row(vec![math::known("\\Delta"), Notation::Letter('p')]);
    }
    if DIFFERENTIALS.iter().any(|(name, _)| *name == text) {
        let mut letters = text.chars().map(Notation::Letter);
        let sign = Notation::Upright(Box::new(Notation::Row(letters.by_ref().take(1).collect())));
        return Notation::Row(std::iter::once(sign).chain(letters).collect());
    }
    if let Some((_, latex)) = greek(text) {
        return math::known(latex);
    }
    if !text.chars().all(|c| c.is_ascii_alphanumeric()) {
        return Notation::Words(text.to_owned());
    }
    if text.chars().all(|c| c.is_ascii_digit()) {
        return Notation::Number(text.to_owned());
    }
    let mut letters = text.chars();
    if let (Some(letter), None) = (letters.next(), letters.next()) {
        return Notation::Letter(letter);
    }
    let over = [("dot", Mark::Dot), ("bar", Mark::Bar), ("hat", Mark::Hat)];
    for (ending, mark) in over {
        if let Some(letter) = text.strip_suffix(ending)
            && let [letter] = letter.as_bytes()
        {
            return Notation::Over(mark, Box::new(Notation::Letter(char::from(*letter))));
        }
    }
    Notation::Upright(Box::new(Notation::Row(
        text.chars().map(Notation::Letter).collect(),
    )))
}

/// A name as notation, set as [`latex`] sets it.
pub(super) fn notation(name: &str) -> Vec<Notation> {
    let mut pieces = name.split('_').filter(|p| !p.is_empty());
    let first = pieces.next().unwrap_or("");
    let (letters, digits) = split_digits(first);
    let mut below = Vec::new();
    let mut word_before = false;
    for text in (!digits.is_empty()).then_some(digits).into_iter().chain(pieces) {
        let set = piece_noted(text);
        let word = matches!(set, Notation::Upright(_) | Notation::Words(_));
        if !below.is_empty() {
            below.push(math::known(if word && word_before { "\\ " } else { "," }));
        }
        below.push(set);
        word_before = word;
    }
    let hung = |base: Notation| {
        if below.is_empty() {
            base
        } else {
            math::lowered(base, Notation::Row(below.clone()))
        }
    };
    if letters == "rr" {
        vec![
            hung(math::known("\\varepsilon")),
            math::known("/"),
            hung(Notation::Letter('D')),
        ]
    } else {
        vec![hung(piece_noted(letters))]
    }
}

/// A name as plain text: Greek letters as such, a subscript of digits as one; `h_f` stays.
pub(super) fn plain(name: &str) -> String {
    let (first, rest) = name.split_once('_').map_or((name, None), |(a, b)| (a, Some(b)));
    let (letters, digits) = split_digits(first);
    let base = match greek(letters) {
        Some((letter, _)) => letter.to_owned(),
        None if letters == DIFFERENCE.0 => DIFFERENCE.1.to_owned(),
        None => OVER
            .iter()
            .find_map(|(ending, _, mark)| {
                let letter = letters.strip_suffix(ending).filter(|l| l.len() == 1)?;
                Some(format!("{letter}{mark}"))
            })
            .unwrap_or_else(|| letters.to_owned()),
    };
    let mut tail = String::new();
    for digit in digits.chars() {
        tail.push(subscript(digit));
    }
    match rest {
        Some(rest) if !rest.is_empty() && digits.is_empty() && rest.chars().all(|c| c.is_ascii_digit()) => {
            tail.extend(rest.chars().map(subscript));
        }
        Some(rest) => {
            for piece in rest.split('_') {
                let _ = write!(tail, "_{}", greek(piece).map_or(piece, |(letter, _)| letter));
            }
        }
        None => {}
    }
    if letters == "rr" {
        format!("ε{tail}/D{tail}")
    } else {
        base + &tail
    }
}

fn subscript(digit: char) -> char {
    digit
        .to_digit(10)
        .and_then(|d| char::from_u32(0x2080 + d))
        .unwrap_or(digit)
}

/// Digits (and a minus) as subscripts; `None` where there is anything else.
pub(super) fn subscripts(text: &str) -> Option<String> {
    let digits = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    digits.then(|| text.chars().map(subscript).collect())
}

/// Digits with a sign as superscripts; `None` where there is anything else.
pub(super) fn superscripts(text: &str) -> Option<String> {
    let digits = text.strip_prefix(['-', '−']).unwrap_or(text);
    if digits.is_empty() || digits.len() > 3 || !digits.chars().all(|c| c.is_ascii_digit()) {
        return None;
    }
    const RAISED: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    Some(
        text.chars()
            .map(|c| match c.to_digit(10) {
                Some(d) => RAISED[d as usize],
                None => '⁻',
            })
            .collect(),
    )
}

/// Words safe inside `\text{…}`.
pub(super) fn escaped(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '\\' => out.push_str("\\textbackslash{}"),
            '~' => out.push_str("\\textasciitilde{}"),
            '^' => out.push_str("\\textasciicircum{}"),
            '<' => out.push_str("\\textless{}"),
            '>' => out.push_str("\\textgreater{}"),
            '{' | '}' | '$' | '&' | '%' | '#' | '_' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_set_as_the_trade_writes_them() {
        for (name, tex, text) in [
            ("V", "V", "V"),
            ("V_1", "V_{1}", "V₁"),
            ("D2", "D_{2}", "D₂"),
            ("h_f", "h_{f}", "h_f"),
            ("h_riser", "h_{\\mathrm{riser}}", "h_riser"),
            ("h_f_riser", "h_{f,\\mathrm{riser}}", "h_f_riser"),
            (
                "V_long_riser",
                "V_{\\mathrm{long}\\ \\mathrm{riser}}",
                "V_long_riser",
            ),
            ("V_tank_2", "V_{\\mathrm{tank},2}", "V_tank_2"),
            ("eps", "\\varepsilon", "ε"),
            ("rho_o", "\\rho_{o}", "ρ_o"),
            ("alpha_1", "\\alpha_{1}", "α₁"),
            ("Re", "\\mathrm{Re}", "Re"),
            ("Re_riser", "\\mathrm{Re}_{\\mathrm{riser}}", "Re_riser"),
            ("rr", "\\varepsilon/D", "ε/D"),
            ("rr_a", "\\varepsilon_{a}/D_{a}", "ε_a/D_a"),
            ("mdot", "\\dot{m}", "m\u{307}"),
            ("u_tau", "u_{\\tau}", "u_τ"),
            ("h_1s", "h_{1,s}", "h_1s"),
            ("dh", "\\mathrm{d}h", "dh"),
            ("dp", "\\Delta p", "Δp"),
            ("dp_loss", "\\Delta p_{\\mathrm{loss}}", "Δp_loss"),
            (
                "V_a}\\input{x",
                "V_{\\text{a\\}\\textbackslash{}input\\{x}}",
                "V_a}\\input{x",
            ),
        ] {
            assert_eq!(latex(name), tex, "{name}");
            assert_eq!(plain(name), text, "{name}");
        }
    }
}
