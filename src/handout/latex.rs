//! LaTeX.
