//! Answer files and what was dealt to verdicts, marks, rulings and feedback.
