//! The room as a whole.
