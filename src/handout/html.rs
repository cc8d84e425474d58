//! HTML: one file that needs no other, mathematics as MathML, no script.
//!
//! Every character of outside text passes [`escape`].

use super::display;
use super::figures::Figures;
use super::{Writer, words};
use crate::bank::prose::{Block, Figure, Inline, Table};
use crate::equation::{Expr, Line, Style};
use unicode_width::UnicodeWidthStr;

/// Displays wider than this \[digits\] may have to be moved to and fro on a phone, and so can be reached by the keyboard.
const PHONE: f64 = 26.0;
/// So may those that are longer than this \[characters\] on one line.
const LONG: usize = 44;
/// Left sides no wider than this \[digits\] have their right sides beside them on a phone too.
const NARROW: f64 = 7.0;
/// A drawing is made smaller by no more than this to fit a phone.
const LEAST_DRAWING: f64 = 0.7;
/// Cells of more characters than this are given room on a phone, so that not every word has a line of its own.
const WORDS: usize = 12;

/// Writes HTML.
pub(super) struct Html<'a> {
    /// How mathematics is printed.
    pub(super) style: Style,
    /// The level of the heading above what is written.
    pub(super) below: u8,
    /// Where figures are counted.
    pub(super) figures: &'a Figures,
}

impl Writer for Html<'_> {
    fn inlines(&self, inlines: &[Inline]) -> String {
        let mut out = String::new();
        let last = inlines.iter().rposition(|i| !matches!(i, Inline::Break));
        // How many bytes of the next text stand already behind the formula before it.
        let mut ahead = 0;
        // Where a symbol and its value, which stay on one line, end.
        let mut close = None;
        for (n, inline) in inlines.iter().enumerate() {
            let done = std::mem::take(&mut ahead);
            if super::is_equality(&inlines[n..]) {
                let bracket = bracket_behind(&mut out);
                out.push_str("<span class=\"value\">");
                out.extend(bracket);
                close = Some(n + 2);
            }
            match inline {
                Inline::Text(words) => out.push_str(&kept_together(&escape(&words[done..]))),
                Inline::Strong(inside) => out.push_str(&format!("<strong>{}</strong>", self.inlines(inside))),
                Inline::Emphasis(inside) => out.push_str(&format!("<em>{}</em>", self.inlines(inside))),
                Inline::Code(code) => out.push_str(&format!("<code>{}</code>", escape(code))),
                Inline::Math(expr) => {
                    ahead = with_marks(&mut out, &expr.mathml(self.style), inlines.get(n + 1));
                }
                // A power of ten is mathematics.
                Inline::Value(written) if written.shown.exponent.is_some() => {
                    let number = Expr::Number(written.clone()).mathml(self.style);
                    ahead = with_marks(&mut out, &number, inlines.get(n + 1));
                }
                Inline::Value(written) => {
                    let words = escape(&written.plain(self.style.mark));
                    out.push_str(&format!("<span class=\"value\">{words}</span>"));
                }
                Inline::Placeholder(name) => {
                    out.push_str(&format!("<code>{{{{ {} }}}}</code>", escape(name)));
                }
                Inline::Break if out.trim().is_empty() || last.is_none_or(|last| n > last) => {}
                Inline::Break => out.push_str("<br>\n"),
            }
            if close == Some(n) {
                out.push_str("</span>");
            }
        }
        out
    }

    fn blocks(&self, blocks: &[Block]) -> String {
        let mut out = String::new();
        for block in blocks {
            let text = match block {
                Block::Heading(level, title) => {
                    let level = (self.below + level.max(&1)).min(6);
                    format!("<h{level}>{}</h{level}>", self.inlines(title))
                }
                Block::Paragraph(inlines) => wrapped("p", "", &self.inlines(inlines)),
                Block::Equation(lines) => self.equation(lines),
                Block::List { ordered, items } => self.list(*ordered, items),
                Block::Table(table) => self.table(table),
                Block::Note(inlines) => wrapped("p", " class=\"note\"", &self.inlines(inlines)),
                Block::Figure(figure) => self.figure(figure),
            };
            if !text.trim().is_empty() {
                out.push_str(text.trim());
                out.push('\n');
            }
        }
        out
    }
}

/// Takes an opening bracket from the end of what is written.
fn bracket_behind(out: &mut String) -> Option<char> {
    let bracket = out.chars().next_back().filter(|last| matches!(last, '(' | '['));
    if bracket.is_some() {
        out.pop();
    }
    bracket
}

/// A text whose blanks that must not break are common ones in a piece that does not wrap: some fonts have the other kind of blank
/// wider than the common one.
fn kept_together(escaped: &str) -> String {
    let words = escaped.split(' ').map(|word| {
        if word.trim_matches('\u{a0}').contains('\u{a0}') {
            format!("<span class=\"value\">{}</span>", word.replace('\u{a0}', " "))
        } else {
            word.to_owned()
        }
    });
    words.collect::<Vec<_>>().join(" ")
}

/// A formula together with the bracket that opens right before it and the marks that the text behind it begins with, so that no line
/// ends with a bracket or begins with a full stop; how many bytes of that text these are.
fn with_marks(out: &mut String, formula: &str, next: Option<&Inline>) -> usize {
    let marks = match next {
        Some(Inline::Text(words)) => {
            &words[..words.len()
                - words
                    .trim_start_matches(['.', ',', ';', ':', '!', '?', ')', ']', '’', '\''])
                    .len()]
        }
        _ => "",
    };
    let bracket = bracket_behind(out);
    if marks.is_empty() && bracket.is_none() {
        out.push_str(formula);
    } else {
        out.push_str("<span class=\"value\">");
        out.extend(bracket);
        out.push_str(formula);
        out.push_str(&escape(marks));
        out.push_str("</span>");
    }
    marks.len()
}

/// An element, unless it would be empty.
fn wrapped(name: &str, attributes: &str, inside: &str) -> String {
    if inside.trim().is_empty() {
        String::new()
    } else {
        format!("<{name}{attributes}>{inside}</{name}>")
    }
}

impl Html<'_> {
    /// Lines of working: first sides in one column; what follows breaks before its relations as the page needs it.
    fn equation(&self, lines: &[Line]) -> String {
        let mut out = String::new();
        let mut wide = false;
        let mut narrow = true;
        let alone = lines.len() == 1;
        for line in lines {
            let mut sides = line.mathml_sides(self.style).into_iter();
            let width = |expr: &Expr| display::width(expr, self.style);
            // A fraction within a product may be drawn over more of it than is known here.
            let is_wide = |expr: &Expr| width(expr) > PHONE || expr.plain(self.style).width() > LONG;
            narrow &= width(&line.first) <= NARROW;
            wide |= is_wide(&line.first) || line.rest.iter().any(|(_, side)| is_wide(side));
            let first = sides.next().unwrap_or_default();
            let rest: Vec<String> = sides.collect();
            if alone || rest.is_empty() {
                out.push_str("<div class=\"line\">");
                out.push_str(&first);
                out.push_str(&rest.concat());
                out.push_str("</div>");
            } else {
                out.push_str(&format!(
                    "<div>{first}</div><div class=\"line\">{}</div>",
                    rest.concat()
                ));
            }
        }
        if out.is_empty() {
            return out;
        }
        let class = match (alone, narrow) {
            (true, _) => "display",
            (false, true) => "display aligned narrow",
            (false, false) => "display aligned",
        };
        let reach = if wide {
            format!(
                " tabindex=\"0\" role=\"group\" aria-label=\"{}\"",
                words::EQUATION
            )
        } else {
            String::new()
        };
        format!("<div class=\"{class}\"{reach}>{out}</div>")
    }

    fn list(&self, ordered: bool, items: &[Vec<Block>]) -> String {
        if items.is_empty() {
            return String::new();
        }
        let name = if ordered { "ol" } else { "ul" };
        let items: Vec<String> = items
            .iter()
            .map(|blocks| match blocks.as_slice() {
                [Block::Paragraph(inlines)] => format!("<li>{}</li>", self.inlines(inlines)),
                blocks => format!("<li>{}</li>", self.blocks(blocks).trim()),
            })
            .collect();
        format!("<{name}>\n{}\n</{name}>", items.join("\n"))
    }

    fn table(&self, table: &Table) -> String {
        let columns = table.head.len();
        if columns == 0 {
            return String::new();
        }
        let numeric = |n: usize| table.numeric.get(n).copied().unwrap_or(false);
        let class = |n: usize| if numeric(n) { " class=\"number\"" } else { "" };
        let mut out = String::from("<table>\n<thead>\n<tr>");
        for (n, cell) in table.head.iter().enumerate() {
            let cell = self.inlines(cell);
            // An empty head would be announced as one.
            if cell.trim().is_empty() {
                out.push_str("<td></td>");
            } else {
                let label = self.label(&table.head[n]);
                out.push_str(&format!("<th scope=\"col\"{}{label}>{cell}</th>", class(n)));
            }
        }
        out.push_str("</tr>\n</thead>\n<tbody>\n");
        for row in &table.rows {
            out.push_str("<tr>");
            for n in 0..columns {
                let cell = self.inlines(row.get(n).map(Vec::as_slice).unwrap_or_default());
                // Fractions are read there.
                let cell = cell.replace("<math alttext", "<math displaystyle=\"true\" alttext");
                if n == 0 && !numeric(0) && columns > 1 && !cell.trim().is_empty() {
                    let label = row.first().map_or_else(String::new, |cell| self.label(cell));
                    out.push_str(&format!("<th scope=\"row\"{label}>{cell}</th>"));
                } else if !numeric(n) && row.get(n).is_some_and(|cell| is_sentence(cell)) {
                    out.push_str(&format!("<td class=\"words\">{cell}</td>"));
                } else {
                    out.push_str(&format!("<td{}>{cell}</td>", class(n)));
                }
            }
            out.push_str("</tr>\n");
        }
        out.push_str("</tbody>\n</table>");
        // Any table may be wider than a phone, and what scrolls must be reached from the keyboard.
        let reach = format!(" tabindex=\"0\" role=\"group\" aria-label=\"{}\"", words::TABLE);
        format!("<div class=\"wide\"{reach}>{out}</div>")
    }

    /// A head that is a formula alone is called by its reading, as not every program speaks MathML.
    fn label(&self, head: &[Inline]) -> String {
        match head {
            [Inline::Math(expr)] => {
                format!(" aria-label=\"{}\"", escape(&expr.plain(self.style)))
            }
            _ => String::new(),
        }
    }

    fn figure(&self, figure: &Figure) -> String {
        self.figures.add(figure);
        // What stands before the drawing belongs to a file of its own.
        let svg = figure.svg.find("<svg").map_or("", |at| &figure.svg[at..]);
        // On a phone a drawing is smaller, but moves to and fro where its words could not be read else.
        let least = svg_width(svg).map_or_else(String::new, |mm| {
            format!(" style=\"min-width: {:.0}mm\"", LEAST_DRAWING * mm)
        });
        let svg = svg.trim().replacen("<svg", &format!("<svg{least}"), 1);
        let caption = wrapped("figcaption", "", &escape(&figure.title));
        format!(
            "<figure><div class=\"drawing\" tabindex=\"0\" role=\"img\" aria-label=\"{}\">{}</div>{caption}</figure>",
            escape(&figure.description),
            svg
        )
    }
}

/// The width of a drawing \[mm\].
fn svg_width(svg: &str) -> Option<f64> {
    let (_, behind) = svg.split_once("width=\"")?;
    behind.split_once("mm\"")?.0.parse().ok()
}

/// Outside text as HTML that shows it, in elements and between quotation marks.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in super::composed(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() => out.push(' '),
            c => out.push(super::hidden(c)),
        }
    }
    out
}

/// Whether a cell is words that may part, and many.
fn is_sentence(cell: &[Inline]) -> bool {
    let words = cell.iter().map(|inline| match inline {
        Inline::Text(words) => words.chars().count(),
        _ => 0,
    });
    words.sum::<usize>() > WORDS
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::prose::text;

    fn plain(figures: &Figures) -> Html<'_> {
        Html {
            style: Style::default(),
            below: 1,
            figures,
        }
    }

    #[test]
    fn outside_text_begins_no_markup() {
        assert_eq!(
            escape("<b onload=\"x\">&amp; 'q'\u{202e}\n"),
            "&lt;b onload=&quot;x&quot;&gt;&amp;amp; &#39;q&#39;\u{fffd} "
        );
    }

    #[test]
    fn a_table_has_heads_for_columns_and_rows() {
        let figures = Figures::new("x");
        let html = plain(&figures);
        let table = Table {
            head: vec![vec![text("Part")], vec![text("Marks")]],
            numeric: vec![false, true],
            rows: vec![vec![vec![text("a")], vec![text("2")]]],
        };
        let written = html.blocks(&[Block::Table(table)]);
        assert!(written.contains("<th scope=\"col\">Part</th><th scope=\"col\" class=\"number\">Marks</th>"));
        assert!(written.contains("<th scope=\"row\">a</th><td class=\"number\">2</td>"));
    }

    #[test]
    fn a_mark_stays_with_the_formula_before_it() {
        let figures = Figures::new("x");
        let html = plain(&figures);
        let formula = || Inline::Math(Expr::symbol("Q"));
        let written = html.inlines(&[formula(), text("), so < 2."), formula(), text(" is")]);
        let alone = html.inlines(&[formula()]);
        assert_eq!(
            written,
            format!("<span class=\"value\">{alone}),</span> so &lt; 2.{alone} is")
        );
        let written = html.inlines(&[text("sharp ("), formula(), text(", of "), formula()]);
        assert_eq!(
            written,
            format!("sharp <span class=\"value\">({alone},</span> of {alone}")
        );
    }

    #[test]
    fn a_symbol_stays_with_its_value() {
        let figures = Figures::new("x");
        let html = plain(&figures);
        let unit = crate::quantity::Unit::parse("L/s").expect("a unit");
        let value = crate::quantity::Written::from_si(0.00465, &unit, 3);
        let written = html.inlines(&[
            text("flow ("),
            Inline::Math(Expr::symbol("Q")),
            text(" = "),
            Inline::Value(value),
            text(") is"),
        ]);
        let alone = html.inlines(&[Inline::Math(Expr::symbol("Q"))]);
        let flow = "<span class=\"value\">4.65 L/s</span>";
        assert_eq!(
            written,
            format!("flow <span class=\"value\"><span class=\"value\">({alone}</span> = {flow}</span>) is")
        );
    }

    #[test]
    fn what_must_not_break_stays_together_with_common_blanks() {
        let figures = Figures::new("x");
        let html = plain(&figures);
        assert_eq!(
            html.inlines(&[text("air at 101.325\u{a0}kPa. <\u{a0}0.1\u{a0}% of it")]),
            "air at <span class=\"value\">101.325 kPa.</span> <span class=\"value\">&lt; 0.1 %</span> of it"
        );
    }
}
