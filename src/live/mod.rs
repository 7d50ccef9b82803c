//! What people look at while a run goes on: the terminal's view, drawn from a snapshot, and the
//! page, made from the run's files. Nothing that a screen or viewer does can hold up what is logged.

pub mod page;
pub mod quiet;
pub mod terminal;
pub mod words;
