//! A small SVG writer: lines, areas and text on a sheet whose units are millimetres.

use super::letters;
use std::fmt::Write;

/// A superscript's or a subscript's size over that of its text.
const SMALL: f64 = 0.7;
/// A blank that no renderer drops at the seam of two pieces. A step to the right (`dx`) would do in browsers, but does not count
/// where text ends at its point in the renderer that makes the PDFs, so that labels ran into the lines that they belong to.
const SEAM: char = '\u{a0}';

/// A drawing.
pub(super) struct Svg {
    body: String,
    /// Whether every text is made as wide as [`Words::width`] says, whatever font it gets.
    pub(super) fitted: bool,
    width: f64,
    height: f64,
}

/// Where text sits on its point.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A text with superscripts and subscripts: pieces of `(shift in parts of the size, italic, words)`.
#[derive(Clone)]
pub(super) struct Words(Vec<(f64, bool, String)>);

impl Words {
    pub(super) fn plain(words: impl Into<String>) -> Self {
        Self(vec![(0.0, false, words.into())])
    }

    pub(super) fn italic(mut self, words: &str) -> Self {
        self.0.push((0.0, true, words.into()));
        self
    }

    pub(super) fn upright(mut self, words: &str) -> Self {
        self.0.push((0.0, false, words.into()));
        self
    }

    /// Another text behind this one.
    pub(super) fn joined(mut self, other: &Self) -> Self {
        self.0.extend(other.0.iter().cloned());
        self
    }

    pub(super) fn lowered(mut self, words: &str) -> Self {
        self.0.push((0.22, false, words.into()));
        self
    }

    /// How wide the text is at a size; [`letters`] says in which fonts.
    pub(super) fn width(&self, size: f64) -> f64 {
        let mut sum = 0.0;
        let mut blank = false;
        for (raised, italic, text) in self.0.iter().filter(|(_, _, text)| !text.is_empty()) {
            if blank || text.starts_with(' ') {
                sum += letters::width(" ", false);
            }
            blank = text.ends_with(' ');
            let small = if *raised == 0.0 { 1.0 } else { SMALL };
            sum += small * letters::width(text.trim(), *italic);
        }
        size * sum
    }

    /// The text without its dress; a subscript stands behind an underscore.
    pub(super) fn bare(&self) -> String {
        let mut all = String::new();
        for (shift, _, text) in &self.0 {
            if *shift > 0.0 && !text.is_empty() {
                all.push('_');
            }
            all.push_str(text);
        }
        all
    }

    pub(super) fn raised(mut self, words: &str) -> Self {
        self.0.push((-0.42, false, words.into()));
        self
    }
}

impl Svg {
    pub(super) fn new(width: f64, height: f64) -> Self {
        Self {
            body: String::new(),
            fitted: false,
            width,
            height,
        }
    }

    /// One element of the drawing, as it is to stand in the file.
    pub(super) fn add(&mut self, line: std::fmt::Arguments<'_>) {
        // Writing to a string can't fail.
        let _ = self.body.write_fmt(line);
        self.body.push('\n');
    }

    /// A filled rectangle.
    pub(super) fn area(&mut self, x: f64, y: f64, width: f64, height: f64, class: &str) {
        self.add(format_args!(
            r#"<rect class="{class}" x="{x:.3}" y="{y:.3}" width="{width:.3}" height="{height:.3}"/>"#
        ));
    }

    /// A line through points.
    pub(super) fn line(&mut self, points: &[(f64, f64)], class: &str) {
        let mut d = String::new();
        for (i, (x, y)) in points.iter().enumerate() {
            let _ = write!(d, "{}{x:.3} {y:.3}", if i == 0 { "M" } else { "L" });
        }
        self.add(format_args!(r#"<path class="{class}" d="{d}"/>"#));
    }

    /// Lines of two ends each as one element, which readers get through much faster than one for each.
    pub(super) fn lines(&mut self, lines: &[[(f64, f64); 2]], class: &str) {
        let mut d = String::new();
        for [(ax, ay), (bx, by)] in lines {
            let _ = write!(d, "M{ax:.3} {ay:.3}L{bx:.3} {by:.3}");
        }
        self.add(format_args!(r#"<path class="{class}" d="{d}"/>"#));
    }

    /// A small ring.
    pub(super) fn ring(&mut self, x: f64, y: f64, radius: f64, class: &str) {
        self.add(format_args!(
            r#"<circle class="{class}" cx="{x:.3}" cy="{y:.3}" r="{radius:.3}"/>"#
        ));
    }

    /// Text; `turn` in degrees, against the clock.
    pub(super) fn text(&mut self, at: (f64, f64), anchor: Anchor, size: f64, turn: f64, words: &Words) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let mut spans = String::new();
        let mut shift = 0.0;
        let mut blank = false;
        for (raised, italic, text) in words.0.iter().filter(|(_, _, text)| !text.is_empty()) {
            let seam = if blank || text.starts_with(' ') {
                SEAM.to_string()
            } else {
                String::new()
            };
            blank = text.ends_with(' ');
            let small = *raised != 0.0;
            let _ = write!(
                spans,
                r#"<tspan dy="{:.3}"{}{}>{seam}{}</tspan>"#,
                (raised - shift) * size,
                if small {
                    format!(r#" font-size="{:.2}""#, SMALL * size)
                } else {
                    String::new()
                },
                if *italic { r#" font-style="italic""# } else { "" },
                escape(text.trim())
            );
            shift = *raised;
        }
        let (x, y) = at;
        let turned = if turn == 0.0 {
            String::new()
        } else {
            format!(r#" transform="rotate({:.2} {x:.3} {y:.3})""#, -turn)
        };
        let fitted = if self.fitted && words.0.iter().all(|(_, _, text)| letters::is_known(text)) {
            format!(
                r#" textLength="{:.2}" lengthAdjust="spacingAndGlyphs""#,
                words.width(size)
            )
        } else {
            String::new()
        };
        self.add(format_args!(
            r#"<text x="{x:.3}" y="{y:.3}" font-size="{size:.2}" text-anchor="{anchor}"{fitted}{turned}>{spans}</text>"#
        ));
    }

    /// The finished file. `style` is CSS, or nothing; `title` and `description` are for those who can't see it.
    pub(super) fn finish(self, title: &str, description: &str, style: &str) -> String {
        let (w, h) = (self.width, self.height);
        let style = match style {
            "" => String::new(),
            rules => format!("<style>{rules}</style>\n"),
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" \
             viewBox=\"0 0 {w} {h}\" role=\"img\">\n<title>{}</title>\n<desc>{}</desc>\n{style}{}</svg>\n",
            escape(title),
            escape(description),
            self.body
        )
    }
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
