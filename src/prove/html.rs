//! Proofs as one page of HTML: no script, nothing to fetch.

use super::text::{alike, causes, clearance, count, difficulty, gives, met, per_cent, reasons, short, unit};
use super::{Proof, Range};
use crate::figure::histogram;
use std::fmt::Write as _;

const STYLE: &str = "\
:root{color-scheme:light}\
body{font:16px/1.45 system-ui,sans-serif;color:#1b1f24;background:#fff;margin:0 auto;max-width:62rem;padding:1rem}\
h1{font-size:1.5rem;margin:.2rem 0 .6rem}h2{font-size:1.2rem;margin:0}h3{font-size:1rem;margin:1.1rem 0 .3rem}\
section{border-top:1px solid #c8ced6;padding:1rem 0}\
p,ul{margin:.35rem 0}.wide{overflow-x:auto}\
table{border-collapse:collapse;font-size:.9rem}th,td{padding:.18rem .6rem;text-align:right;white-space:nowrap}\
th:first-child,td:first-child,.words{text-align:left}td.words{white-space:normal;min-width:14rem}\
thead th{border-bottom:1px solid #7c8794;font-weight:600}tbody tr:nth-child(even){background:#f3f5f8}\
.fault{border-left:.3rem solid #a32014;background:#fbeeec;padding:.4rem .7rem;margin:.5rem 0}\
.note{color:#5b4a12}.holds{color:#1f6b35}.fails{color:#a32014;font-weight:600}\
.figures{display:flex;flex-wrap:wrap;gap:.5rem;margin:.6rem 0}.figures svg{width:15.5rem;max-width:100%;height:auto;\
border:1px solid #e2e6eb}\
@media(max-width:40rem){body{padding:.6rem}table{font-size:.78rem}th,td{padding:.15rem .28rem}}";

/// What holds a table that may be wider than the screen; it is scrolled from the keyboard too.
const WIDE: &str = "<div class=\"wide\" tabindex=\"0\" role=\"group\" aria-label=\"table\">";

/// Bands whose widest is less than so many times as wide as the narrowest need no histogram.
const EVEN: f64 = 1.05;

/// Text as it is, inside HTML.
fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// Words between backticks are names.
fn prose(text: &str) -> String {
    let mut out = String::new();
    for (i, piece) in text.split('`').enumerate() {
        let piece = escape(piece);
        if i % 2 == 1 {
            let _ = write!(out, "<b>{piece}</b>");
        } else {
            out.push_str(&piece);
        }
    }
    out
}

/// A table: heads, and rows of cells. Columns named in `words` hold running text.
fn table(heads: &[&str], words: &[usize], rows: &[Vec<String>]) -> String {
    let mut out = format!("{WIDE}<table><thead><tr>");
    let class = |i: usize| {
        if words.contains(&i) {
            " class=\"words\""
        } else {
            ""
        }
    };
    for (i, head) in heads.iter().enumerate() {
        let _ = write!(out, "<th{}>{}</th>", class(i), escape(head));
    }
    out.push_str("</tr></thead><tbody>\n");
    for row in rows {
        out.push_str("<tr>");
        for (i, cell) in row.iter().enumerate() {
            let _ = write!(out, "<td{}>{}</td>", class(i), escape(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
    out
}

fn ranges(all: &[Range]) -> String {
    let rows: Vec<_> = (all.iter())
        .map(|range| {
            let mut row = vec![range.name.clone(), unit(&range.unit).to_owned()];
            row.extend(alike(range.five.in_order()));
            row
        })
        .collect();
    table(
        &["", "unit", "least", "quarter", "middle", "quarter", "greatest"],
        &[],
        &rows,
    )
}

/// One page of proofs. The same proofs make the same bytes.
pub fn html(proofs: &[Proof]) -> String {
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/>\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\
         <title>Templates proved</title><style>{STYLE}</style></head><body>\n<h1>Templates proved</h1>\n"
    );
    let failed = proofs.iter().filter(|p| !p.faults.is_empty()).count();
    let _ = match failed {
        0 => writeln!(out, "<p class=\"holds\">All hold: {}.</p>", proofs.len()),
        n => writeln!(
            out,
            "<p class=\"fails\">{n} of {} need mending.</p>",
            proofs.len()
        ),
    };
    let mut rows = String::new();
    for proof in proofs {
        let widest = proof.widths.iter().map(|w| w.five.greatest).reduce(f64::max);
        let name = escape(&proof.template.name);
        let verdict = match proof.faults.len() {
            0 => "<span class=\"holds\">holds</span>".to_owned(),
            1 => "<span class=\"fails\">1 fault</span>".to_owned(),
            n => format!("<span class=\"fails\">{n} faults</span>"),
        };
        let _ = writeln!(
            rows,
            "<tr><td><a href=\"#{name}\">{name}</a></td><td>{verdict}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            per_cent(proof.acceptance()),
            per_cent(proof.dealt_share()),
            short(proof.different()),
            widest.map_or_else(|| "–".to_owned(), per_cent),
        );
    }
    let _ = writeln!(
        out,
        "{WIDE}<table><thead><tr><th>template</th><th></th><th>accepted</th><th>dealt</th>\
         <th>different</th><th>widest band</th></tr></thead><tbody>\n{rows}</tbody></table></div>"
    );
    out.push_str(
        "<p><b>accepted</b>: share of the candidates that are sound. <b>dealt</b>: of these, those that are as hard as \
         one another. <b>different</b>: draws that a class can be dealt. <b>widest band</b>: over its answer.</p>\n",
    );
    for proof in proofs {
        one(&mut out, proof);
    }
    out.push_str("</body></html>\n");
    out
}

fn one(out: &mut String, proof: &Proof) {
    // Writing to a string can't fail.
    let name = escape(&proof.template.name);
    let _ = writeln!(
        out,
        "<section id=\"{name}\"><h2>{}</h2>\n<p>{name}</p>",
        escape(&proof.template.title)
    );
    for fault in &proof.faults {
        let mend = fault.mend.as_deref().unwrap_or_default();
        let _ = writeln!(
            out,
            "<p class=\"fault\"><b>Fault:</b> {}.<br/>Mend: {}.</p>",
            prose(&fault.what),
            prose(mend)
        );
    }
    let candidates = proof.accepted as f64 + f64::from(proof.refused.total());
    let _ = writeln!(
        out,
        "<p>{} dealt from {} candidates, {}. It gives {}.</p>",
        count(proof.accepted),
        count(candidates as u64),
        per_cent(proof.acceptance()),
        prose(&gives(proof))
    );
    let reasons = reasons(proof);
    if !reasons.is_empty() {
        out.push_str("<ul>");
        for (why, times) in reasons {
            let _ = write!(out, "<li>{} refused for: {}</li>", count(times), prose(&why));
        }
        out.push_str("</ul>\n");
    }
    for (pipe, regimes) in &proof.regimes {
        let words = met(
            regimes.iter().map(|(regime, times)| (regime.name(), *times)),
            proof.accepted,
        );
        let _ = writeln!(out, "<p>Regime in {}: {words}.</p>", escape(pipe));
    }
    if let Some(spread) = &proof.spread {
        let _ = writeln!(
            out,
            "<p>Difficulty: {}.</p>",
            escape(&difficulty(spread, proof.accepted))
        );
    }
    for (what, times) in &proof.ugly {
        let _ = writeln!(
            out,
            "<p class=\"note\">Note: {} (in {} of {} draws).</p>",
            prose(what),
            count(*times),
            count(proof.accepted)
        );
    }
    out.push_str("<h3>Answers</h3>\n");
    out.push_str(&ranges(&proof.answers));
    for (part, words) in &proof.words {
        let words = met(
            words.iter().map(|(word, times)| (word.as_str(), *times)),
            proof.accepted,
        );
        let _ = writeln!(out, "<p>{}: {}.</p>", escape(part), escape(&words));
    }
    out.push_str("<div class=\"figures\">");
    for range in &proof.answers {
        out.push_str(&drawn(range, &range.name));
    }
    out.push_str("</div>\n<h3>On the way</h3>\n");
    out.push_str(&ranges(&proof.on_the_way));
    out.push_str("<div class=\"figures\">");
    // What is asked for has its histogram above.
    let asked = |range: &&Range| proof.answers.iter().any(|answer| answer.numbers == range.numbers);
    for range in proof.on_the_way.iter().filter(|range| !asked(range)) {
        out.push_str(&drawn(range, &range.name));
    }
    out.push_str("</div>\n<h3>Bands, width over answer</h3>\n");
    let rows: Vec<_> = (proof.widths.iter())
        .map(|width| {
            let mut row = vec![width.part.clone()];
            row.extend(width.five.in_order().map(per_cent));
            row.push(causes(width));
            row
        })
        .collect();
    out.push_str(&table(
        &[
            "part",
            "least",
            "quarter",
            "middle",
            "quarter",
            "greatest",
            "causes, middle share",
        ],
        &[6],
        &rows,
    ));
    out.push_str("<div class=\"figures\">");
    for width in &proof.widths {
        let (least, greatest) = (width.five.least, width.five.greatest);
        if greatest < EVEN * least {
            continue;
        }
        out.push_str(&histogram(
            &width.numbers,
            &format!("width: {}", width.part),
            &per_cent(least),
            &per_cent(greatest),
        ));
    }
    out.push_str("</div>\n");
    if !proof.slips.is_empty() {
        let rows: Vec<_> = (proof.slips.iter())
            .map(|slip| {
                let listed = if slip.listed { "listed" } else { "" };
                let mut row = vec![slip.slip.clone(), listed.to_owned()];
                row.extend(clearance(slip, proof.accepted));
                row
            })
            .collect();
        out.push_str("<h3>Slips, each in the part that shows it best</h3>\n");
        out.push_str(&table(
            &[
                "slip",
                "",
                "clear",
                "overlaps",
                "too small",
                "nearest, half widths",
            ],
            &[],
            &rows,
        ));
        for (a, b, times) in &proof.inseparable {
            let _ = writeln!(
                out,
                "<p>No number tells <b>{}</b> from <b>{}</b> in {} of {} draws.</p>",
                escape(a),
                escape(b),
                count(*times),
                count(proof.accepted)
            );
        }
    }
    out.push_str("</section>\n");
}

fn drawn(range: &Range, title: &str) -> String {
    let ends = alike([range.five.least, range.five.greatest]);
    let [least, greatest] = ends.map(|end| match range.unit.symbol.as_str() {
        "" => end,
        symbol => format!("{end} {symbol}"),
    });
    histogram(&range.numbers, title, &least, &greatest)
}
