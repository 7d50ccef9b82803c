//! What a class looks at while a run goes on.
//!
//! [`page`] serves runs to browsers, from the files in their folders alone: it can watch a run of
//! another process, and nothing that a viewer does can hold up the logging of one.

pub mod page;
//! What people see while a run is logged. A picture is drawn from a snapshot, by a thread of its own:
//! nothing that a screen does can hold up what is logged.

pub mod terminal;
