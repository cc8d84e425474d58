//! Papers: dealt problems to a document tree, and the tree to Markdown and LaTeX.
//!
//! One file a format; each owns its escaping. Templates are in `templates/`, embedded, and a course may
//! override them. Depends on: all rooms above.

mod latex;
mod markdown;
mod papers;

pub use papers::{Paper, Papers, Source};
