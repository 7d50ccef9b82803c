//! Pages and workbooks for people, made from a summary, its rows and a picture: bytes, no files.

mod cautions;
mod class;
mod labels;
mod lesson;
mod page;
mod setting;
mod sheet;
mod words;
pub mod workbook;

pub use cautions::cautions;
pub use class::ClassReport;
pub use labels::labels;
pub use lesson::Lesson;
pub use page::{Cell, Markup, Page, Table};
pub use setting::{Calibrated, End, Quantity, Record, SetUp, Steps};
pub use sheet::{Key, MOST_ROWS, MOST_SAMPLES, Sheet, SheetError};
pub use words::{Language, Scale, Value, Words, plain};
