//! To check a template over thousands of draws before anyone sees it.
//!
//! Depends on: all rooms above.

pub mod diagnosis;
