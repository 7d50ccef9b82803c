//! Pages and workbooks for people, made from a summary, its rows and a picture: bytes, no files.

mod page;
mod words;

pub use page::{Cell, Markup, Page, Table};
pub use words::{Language, Value, Words, plain};
