//! The answer sheet: CSV that a spreadsheet opens, fills and saves without harm.

use super::content;
use crate::deal::DealtStudent;
use crate::fault::{Checked, Fault};
use crate::quantity::DecimalMark;
use std::borrow::Cow;

/// The columns of an answer sheet, in order.
pub const COLUMNS: [&str; 5] = ["student", "problem", "part", "answer", "asked"];

/// The blank sheet of one student. It begins with the mark of UTF-8, without which common spreadsheets take
/// `m³/s` for another encoding; its lines end as RFC 4180 has them.
/// Where the decimal mark is the comma, spreadsheets expect semicolons between cells.
pub(super) fn blank(dealt: &DealtStudent, mark: DecimalMark) -> Checked<Vec<u8>> {
    let failed = |e: csv::Error| Fault::new(format!("the answer sheet could not be written: {e}"));
    let mut out = "\u{feff}".as_bytes().to_vec();
    {
        let mut writer = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .delimiter(match mark {
                DecimalMark::Point => b',',
                DecimalMark::Comma => b';',
            })
            .from_writer(&mut out);
        writer.write_record(COLUMNS).map_err(failed)?;
        let student = guarded(&dealt.student.id);
        for (n, problem) in dealt.problems.iter().enumerate() {
            let number = (n + 1).to_string();
            for part in &problem.template.parts {
                let asked = content::asked(part, mark);
                writer
                    .write_record([&*student, &number, &*guarded(&part.name), "", &*guarded(&asked)])
                    .map_err(failed)?;
            }
        }
        writer.flush().map_err(|e| failed(e.into()))?;
    }
    Ok(out)
}

/// A cell that no spreadsheet takes for a formula: an apostrophe is put before a text that begins as one does.
/// Numbers, negative ones too, pass as they are. [`unguarded`] takes the apostrophe away again.
pub fn guarded(cell: &str) -> Cow<'_, str> {
    // Apostrophes in front are looked through, so that a cell that has one of its own comes back with it.
    if begins_formula(cell.trim_start_matches('\'')) && !is_number(cell) {
        Cow::Owned(format!("'{cell}"))
    } else {
        Cow::Borrowed(cell)
    }
}

/// A cell as it was before [`guarded`].
pub fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if begins_formula(rest.trim_start_matches('\'')) => rest,
        _ => cell,
    }
}

fn begins_formula(cell: &str) -> bool {
    cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'])
}

fn is_number(cell: &str) -> bool {
    cell.parse::<f64>().is_ok_and(f64::is_finite)
}
