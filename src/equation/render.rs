//! The tree as LaTeX and as plain text.

use super::{Expr, Style};

pub(super) fn latex(expr: &Expr, style: Style) -> String {
    let _ = (expr, style);
    todo!()
}

pub(super) fn plain(expr: &Expr, style: Style) -> String {
    let _ = (expr, style);
    todo!()
}
