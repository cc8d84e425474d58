//! Markdown.
