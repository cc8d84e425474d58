//! Practice by one student, in the terminal.
