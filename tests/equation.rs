//! Laws of formulas, of authors' mathematics and of prose, over generated and over arbitrary input.

use gradeline::bank::prose;
use gradeline::equation::{Bindings, Bound, Expr, Function, Relation, Style};
use gradeline::quantity::{DecimalMark, Unit, Written};
use proptest::prelude::*;

const NAMES: [&str; 6] = ["a", "b_1", "V_tank", "eps", "Re", "rr"];

/// Numbers such as people write: a few digits, a power of ten perhaps.
fn number() -> impl Strategy<Value = Expr> {
    prop_oneof![
        (0_u32..1000).prop_map(|n| n.to_string()),
        (1_u32..1000, 1_u32..4).prop_map(|(n, d)| format!("{:.*}", d as usize, f64::from(n) / 100.0)),
        (1_u32..100, -9_i32..9).prop_map(|(n, e)| format!("{n}e{e}")),
    ]
    .prop_map(|text| Expr::Number(Written::parse(&text).expect("digits are a number")))
}

fn value_tree() -> impl Strategy<Value = Expr> {
    let leaf = prop_oneof![
        number(),
        prop::sample::select(&NAMES[..]).prop_map(Expr::symbol),
        Just(Expr::Pi),
    ];
    leaf.prop_recursive(5, 40, 3, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| a + b),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| a - b),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| a * b),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| a / b),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| Expr::Power(Box::new(a), Box::new(b))),
            inner.clone().prop_map(|a| -a),
            inner.clone().prop_map(Expr::sqrt),
            (
                prop::sample::select(vec![Function::Ln, Function::Log10, Function::Exp, Function::Abs]),
                inner.clone()
            )
                .prop_map(|(f, a)| Expr::Call(f, vec![a])),
            (
                prop::sample::select(vec![Function::Min, Function::Max]),
                prop::collection::vec(inner, 1..4)
            )
                .prop_map(|(f, a)| Expr::Call(f, a)),
        ]
    })
}

fn truth_tree() -> impl Strategy<Value = Expr> {
    let relation = prop::sample::select(vec![
        Relation::Less,
        Relation::AtMost,
        Relation::Greater,
        Relation::AtLeast,
        Relation::Equal,
        Relation::NotEqual,
    ]);
    let leaf = (value_tree(), relation, value_tree())
        .prop_map(|(a, relation, b)| Expr::Compare(Box::new(a), relation, Box::new(b)));
    leaf.prop_recursive(3, 8, 2, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| Expr::And(Box::new(a), Box::new(b))),
            (inner.clone(), inner).prop_map(|(a, b)| Expr::Or(Box::new(a), Box::new(b))),
        ]
    })
}

fn bindings() -> Bindings {
    let mut of = Bindings::default();
    for (i, name) in NAMES.iter().enumerate() {
        let value = 0.37 + 1.3 * i as f64;
        of.set(*name, Bound::new(value, &Unit::none(), 12));
    }
    of
}

/// Every name bound to a length.
fn lengths(names: Vec<String>) -> Bindings {
    let mut of = Bindings::default();
    for name in names {
        of.set(
            name,
            Bound::as_written(Written::parse("2.5 m").expect("a length")),
        );
    }
    of
}

/// Printed text with its signs turned back into those of a formula. Only what a reader must do as well:
/// a blank between two things is a product, raised digits are a power, `√` takes the one thing behind it.
fn typed_again(printed: &str) -> String {
    let mut out = String::new();
    let chars: Vec<char> = printed.chars().collect();
    let mut i = 0;
    while i < chars.len() {
        let c = chars[i];
        match c {
            '−' => out.push('-'),
            '×' if chars[i + 1..].starts_with(&['1', '0'])
                && i + 3 < chars.len()
                && raised(chars[i + 3]).is_some() =>
            {
                // A power of ten belongs to its number.
                out.push('e');
                i += 3;
                while let Some(digit) = chars.get(i).copied().and_then(raised) {
                    out.push(digit);
                    i += 1;
                }
                continue;
            }
            '×' => out.push('*'),
            '≤' => out.push_str("<="),
            '≥' => out.push_str(">="),
            '≠' => out.push_str("!="),
            'ε' if chars[i..].starts_with(&['ε', '/', 'D']) => {
                out.push_str("rr");
                i += 2;
            }
            'ε' => out.push_str("eps"),
            '₁' => out.push_str("_1"),
            '√' => {
                out.push_str("sqrt");
                if chars[i + 1] != '(' {
                    out.push('(');
                    i += 1;
                    while i < chars.len()
                        && (chars[i].is_alphanumeric() || matches!(chars[i], '_' | '.' | '₁'))
                        && raised(chars[i]).is_none()
                    {
                        match chars[i] {
                            'ε' => out.push_str("eps"),
                            '₁' => out.push_str("_1"),
                            c => out.push(c),
                        }
                        i += 1;
                    }
                    out.push(')');
                    continue;
                }
            }
            c if raised(c).is_some() => {
                out.push('^');
                let mut power = String::new();
                while let Some(digit) = chars.get(i).copied().and_then(raised) {
                    power.push(digit);
                    i += 1;
                }
                out.push_str(&format!("({power})"));
                continue;
            }
            ' ' => {
                let before = out.chars().next_back();
                let next = chars.get(i + 1).copied().unwrap_or(' ');
                let value_before =
                    before.is_some_and(|c| c.is_alphanumeric() || c == ')') && !ends_in_word(&out);
                let value_next = next.is_alphanumeric() || matches!(next, '(' | '√' | 'ε');
                let word_next = {
                    let rest: String = chars[i + 1..].iter().collect();
                    rest.starts_with("and ") || rest.starts_with("or ")
                };
                if value_before && value_next && !word_next {
                    out.push_str(" * ");
                } else {
                    out.push(' ');
                }
            }
            c => out.push(c),
        }
        i += 1;
    }
    out
}

fn ends_in_word(out: &str) -> bool {
    let out = out.trim_end();
    out.ends_with(" and") || out.ends_with(" or")
}

fn raised(c: char) -> Option<char> {
    "⁰0¹1²2³3⁴4⁵5⁶6⁷7⁸8⁹9⁻-"
        .chars()
        .collect::<Vec<_>>()
        .chunks(2)
        .find(|pair| pair[0] == c)
        .map(|pair| pair[1])
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * a.abs().max(b.abs())
}

/// Every brace that opens is closed, and `\left` and `\right` come in pairs.
fn braces_balance(latex: &str) -> bool {
    let mut depth = 0_i32;
    let mut escaped = false;
    for c in latex.chars() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if depth < 0 {
            return false;
        }
    }
    let count = |word: &str| latex.matches(word).count();
    depth == 0 && !escaped && count("\\left") == count("\\right")
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    /// A tree's formula reads back as a tree of exactly the same value, and writes the same formula.
    #[test]
    fn formulas_read_back(tree in value_tree()) {
        let text = tree.formula();
        let again = Expr::parse(&text);
        prop_assert!(again.is_ok(), "{text}: {again:?}");
        let again = again.expect("checked");
        prop_assert_eq!(again.formula(), text.clone());
        match (tree.evaluate(&bindings()), again.evaluate(&bindings())) {
            (Ok(a), Ok(b)) => prop_assert_eq!(a.value, b.value, "{}", text),
            (a, b) => prop_assert_eq!(a.is_err(), b.is_err(), "{}", text),
        }
    }

    /// The same for comparisons.
    #[test]
    fn comparisons_read_back(tree in truth_tree()) {
        let text = tree.formula();
        prop_assume!(text.len() <= 2000);
        let again = Expr::parse(&text);
        prop_assert!(again.is_ok(), "{text}: {again:?}");
        let again = again.expect("checked");
        prop_assert_eq!(again.formula(), text.clone());
        prop_assert_eq!(tree.holds(&bindings()).ok(), again.holds(&bindings()).ok(), "{}", text);
    }

    /// Printed text keeps the meaning: read as a person reads it, it has the same value.
    #[test]
    fn printed_text_means_the_same(tree in value_tree()) {
        let printed = tree.plain(Style::default());
        let text = typed_again(&printed);
        let again = Expr::parse(&text);
        prop_assert!(again.is_ok(), "{printed} typed as {text}: {again:?}");
        // Brackets that make no difference are left out, so that the last digits may differ; where a
        // difference of two near values blows that up, nothing is learnt.
        if let (Ok(a), Ok(b)) = (tree.evaluate(&bindings()), again.expect("checked").evaluate(&bindings())) {
            prop_assert!(near(a.value, b.value) || a.value.abs() < 1e-9, "{} as {}: {} and {}", printed, text, a.value, b.value);
        }
    }

    /// LaTeX is well formed, and one half never changes because numbers are put in.
    #[test]
    fn latex_is_well_formed(tree in prop_oneof![value_tree(), truth_tree()]) {
        for mark in [DecimalMark::Point, DecimalMark::Comma] {
            let style = Style { mark };
            let latex = tree.latex(style);
            prop_assert!(braces_balance(&latex), "{latex}");
            let numbers = tree.with_values(&bindings()).latex(style);
            prop_assert!(braces_balance(&numbers), "{numbers}");
        }
    }

    /// Any text at all is read or refused, and the place of a refusal lies in the text.
    #[test]
    fn no_text_upsets_the_readers(text in "\\PC{0,60}") {
        for result in [Expr::parse(&text), Expr::parse_math(&text)] {
            if let Err(error) = result {
                let span = error.span.expect("a text's fault has a place");
                prop_assert!(span.start <= span.end && text.get(span).is_some(), "{}", error.what);
            }
        }
        if let Err(errors) = prose::parse(&text) {
            for error in errors {
                prop_assert!(text.is_char_boundary(error.offset), "{}", error.what);
            }
        }
    }

    /// Texts that come close to being right go deeper into the readers.
    #[test]
    fn no_formula_upsets_the_reader(pieces in prop::collection::vec(prop::sample::select(vec![
        "1", "2.5", "1e-3", " ", " m", " m/s^2", "kPa", " abs", "a", "V_1", "pi", "sqrt", "(", ")", "[", "]", "+", "-",
        "*", "/", "^", "<", ">=", "=", "!=", " and ", " or ", ",", "min(", "°C", "é", "ε", "²", ".", "%", "log", "−",
    ]), 0..14)) {
        let text = pieces.concat();
        match Expr::parse(&text) {
            Ok(expr) => {
                let formula = expr.formula();
                let again = Expr::parse(&formula);
                prop_assert!(again.is_ok(), "{text} as {formula}: {again:?}");
                let _ = (expr.evaluate(&bindings()), expr.holds(&bindings()));
                prop_assert!(braces_balance(&expr.latex(Style::default())));
            }
            Err(error) => prop_assert!(text.get(error.span.expect("a place")).is_some()),
        }
    }

    /// The same for an author's mathematics; what is accepted is written in the subset again.
    #[test]
    fn no_mathematics_upsets_the_reader(pieces in prop::collection::vec(prop::sample::select(vec![
        "a", "2", "0.5", " ", "{", "}", "^", "_", "'", "\\frac{a}{b}", "\\frac", "\\sqrt", "[", "]", "(", ")", "|", "\\left(",
        "\\right)", "\\left.", "\\right|", "\\text{a b}", "\\text{", "\\mathrm{Re}", "\\dot", "\\alpha", "+", "-", "=", ",", "\\\\",
        "&", "\\begin{cases}", "\\end{cases}", "\\begin{aligned}", "\\end{aligned}", "{{ x }}", "{{", "}}", "\\", "$", "%",
        "\\%", "\\degree", "°", "\\,", "*", "!", "é", "\\ln", "\\sum",
    ]), 0..14)) {
        let text = pieces.concat();
        match Expr::parse_math(&text) {
            Ok(expr) => {
                let _ = expr.plain(Style::default());
                let of = lengths(expr.placeholders());
                let latex = expr.filled(&of).expect("all are bound").latex(Style::default());
                prop_assert!(braces_balance(&latex), "{text}: {latex}");
                let again = Expr::parse_math(&latex);
                prop_assert!(again.is_ok(), "{text} as {latex}: {again:?}");
                prop_assert_eq!(again.expect("checked").latex(Style::default()), latex, "{}", text);
            }
            Err(error) => prop_assert!(text.get(error.span.expect("a place")).is_some()),
        }
    }

    /// The same for prose; and no dollar sign that the author did not write as itself comes through.
    #[test]
    fn no_prose_upsets_the_reader(pieces in prop::collection::vec(prop::sample::select(vec![
        "a", " ", "\n", "\n\n", "$", "$$", "$x$", "$$y$$", "{{ x }}", "{{", "}}", "*", "**", "_", "`", "``", "- ", "1. ", "> ", "#",
        "# ", "|", "\n|a|b|\n|-|-:|\n", "[", "](", ")", "![", "<b>", "&amp;", "\\", "\\$", "---", "    ", "é", "<!--", "[a]: b\n", "[^1]",
        "  \n", "~~~\n", "\t",
    ]), 0..20)) {
        let text = pieces.concat();
        match prose::parse(&text) {
            Ok(blocks) => {
                let dollars = format!("{blocks:?}").matches('$').count();
                let escaped = text.matches("\\$").count();
                let in_code = text.matches('`').count() > 1;
                prop_assert!(dollars <= escaped || in_code, "{text:?}: {blocks:?}");
                let of = lengths(prose::placeholders(&blocks));
                prop_assert!(prose::fill(&blocks, &of).is_ok());
            }
            Err(errors) => {
                for error in errors {
                    prop_assert!(text.is_char_boundary(error.offset) && error.mend.is_some(), "{error:?}");
                }
            }
        }
    }
}

/// The same tree as MathML and as Typst, worked out by hand from the two languages' own descriptions.
#[test]
fn formulas_are_set_in_every_language() {
    let formula = |text: &str| Expr::parse(text).expect("a formula");
    let math = |text: &str| Expr::parse_math(text).expect("mathematics");
    for (expr, mathml, typst) in [
        (
            formula("V_1^2/(2 * g)"),
            "<mfrac><msubsup><mi>V</mi><mn>1</mn><mrow><mspace width=\"0.12em\"></mspace><mn>2</mn></mrow></msubsup>\
             <mrow><mn>2</mn><mspace width=\"0.17em\"></mspace><mi>g</mi></mrow></mfrac>",
            "frac(attach(V, b: 1, t: 2), 2 thin g)",
        ),
        (
            formula("f * L/D"),
            "<mfrac><mrow><mi>f</mi><mspace width=\"0.17em\"></mspace><mi>L</mi></mrow><mi>D</mi></mfrac>",
            "frac(f thin L, D)",
        ),
        (
            formula("sqrt(h_riser)"),
            "<msqrt><msub><mi>h</mi><mrow><mi>riser</mi></mrow></msub></msqrt>",
            "sqrt(attach(h, b: \"riser\"))",
        ),
        (
            formula("log10(rr)"),
            "<msub><mi>log</mi><mn>10</mn></msub><mo stretchy=\"false\">(</mo><mi>ε</mi>\
             <mo lspace=\"0\" rspace=\"0\" stretchy=\"false\">/</mo><mi>D</mi><mo stretchy=\"false\">)</mo>",
            "attach(op(\"log\"), b: 10)\\(ε class(\"normal\", \\/)D\\)",
        ),
        (
            math("\\dot{m} = \\rho A \\Delta p"),
            "<mover><mi>m</mi><mo stretchy=\"false\">˙</mo></mover><mo>=</mo><mi>ρ</mi><mi>A</mi>\
             <mi mathvariant=\"normal\">Δ</mi><mi>p</mi>",
            "dot(m)\\=ρ A Δ p",
        ),
        (
            math("\\left(\\frac{a}{b}\\right) < 1.5\\,\\text{of } x"),
            "<mrow><mo form=\"prefix\" stretchy=\"true\" symmetric=\"true\">(</mo><mfrac><mi>a</mi><mi>b</mi></mfrac>\
             <mo form=\"postfix\" stretchy=\"true\" symmetric=\"true\">)</mo></mrow><mo>&lt;</mo><mn>1.5</mn>\
             <mspace width=\"0.17em\"></mspace><mtext>of\u{a0}</mtext><mi>x</mi>",
            "lr(\\(frac(a, b)\\))\\<1.5 thin\"of\u{a0}\"x",
        ),
    ] {
        let style = Style::default();
        let element = expr.mathml(style);
        let inside = element
            .split_once('>')
            .and_then(|(_, rest)| rest.strip_suffix("</math>"));
        assert_eq!(inside, Some(mathml), "{expr:?}");
        assert_eq!(expr.typst(style), typst, "{expr:?}");
    }
    let comma = Style {
        mark: DecimalMark::Comma,
    };
    let value = Expr::Number(Written::parse("1.60e-3 m^3/s").expect("a quantity"));
    let element = value.mathml(comma);
    assert!(
        element.contains("<mn>1,60</mn><mo>×</mo><msup><mn>10</mn><mrow><mo>−</mo><mn>3</mn></mrow></msup>")
    );
    assert!(element.contains("alttext=\"1,60×10⁻³"));
    assert_eq!(
        value.typst(comma),
        "\"1,60\"×attach(10, t: −3)thin attach(\"m\", t: 3)class(\"normal\", \\/)\"s\""
    );
}
