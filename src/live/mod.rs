//! What a class looks at while a run goes on.
//!
//! [`page`] serves runs to browsers, from the files in their folders alone: it can watch a run of
//! another process, and nothing that a viewer does can hold up the logging of one.

pub mod page;
