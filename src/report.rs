//! Marks to gradebook, item statistics and class report.
