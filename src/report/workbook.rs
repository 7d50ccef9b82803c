//! A run as a workbook (Office Open XML, ISO/IEC 29500) for any spreadsheet: results, the table at
//! the marks, a native chart and all rows.
//!
//! What follows from other cells is a formula, with the value that it gives stored beside it, so
//! that a change of a cell shows. Text from people is written as text, never as a formula. The same
//! run gives the same bytes; the document's properties hold its title and no person's name.

mod cells;
mod chart;
mod finish;
mod marks;
mod results;
mod rows;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use super::words::Language;
use crate::analysis::{Series, Summary};
pub(in crate::report) use cells::{Book, Value, column, safe};
pub(in crate::report) use chart::COLOURS;
use rows::Rows;

/// Why a workbook could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WorkbookError {
    /// The library refused a cell, a sheet or a chart.
    #[error("the workbook cannot be made: {0}")]
    Refused(#[from] XlsxError),
    /// The package of what the library made could not be gone through.
    #[error("the workbook cannot be packed: {0}")]
    Package(String),
}

/// What a run's workbook shows.
#[derive(Debug, Clone, Copy)]
pub struct Lesson<'a> {
    /// What a person calls the run; text from people, so anything at all.
    pub title: &'a str,
    /// The language of all that is not people's own words.
    pub language: Language,
    /// What follows from the rows.
    pub summary: &'a Summary,
    /// The rows.
    pub series: &'a Series,
    /// The rows are those of a virtual bench: its sheets say so.
    pub is_invented: bool,
}

/// Rows of a sheet that are left for rows of a series: Excel's 1,048,576 less the headings.
const ROWS_PER_SHEET: usize = 1_048_575;

/// The workbook of one run or table: sheets of results, marks (where there are any), graph, rows
/// (several as needed) and notes.
///
/// # Errors
/// [`WorkbookError`]; nothing that a series or summary holds leads to one.
pub fn lesson(lesson: &Lesson<'_>) -> Result<Vec<u8>, WorkbookError> {
    lesson_with(lesson, ROWS_PER_SHEET)
}

fn lesson_with(lesson: &Lesson<'_>, rows_per_sheet: usize) -> Result<Vec<u8>, WorkbookError> {
    let mut workbook = started(lesson.title)?;
    let book = Book::new(lesson.language);
    let rows = Rows::new(lesson, &book.words, rows_per_sheet);
    results::sheet(workbook.add_worksheet(), &book, lesson)?;
    if !lesson.summary.marks.is_empty() {
        marks::sheet(workbook.add_worksheet(), &book, lesson)?;
    }
    chart::sheet(workbook.add_worksheet(), &book, lesson, &rows)?;
    let before = if lesson.summary.marks.is_empty() {
        2
    } else {
        3
    };
    if let Some(overview) = &rows.overview {
        rows::overview(workbook.add_worksheet(), &book, lesson, overview)?;
    }
    rows.begin(&mut workbook, &book)?;
    results::notes(workbook.add_worksheet(), &book, lesson)?;
    let bytes = workbook.save_to_buffer()?;
    let first = before + usize::from(rows.overview.is_some()) + 1;
    finish::with_rows(bytes, &rows, first)
}

/// An empty workbook with a title and without anything of a person or a clock in its properties.
pub(in crate::report) fn started(title: &str) -> Result<Workbook, WorkbookError> {
    let mut workbook = Workbook::new();
    // The format demands an instant; one that depends on nothing keeps the bytes the same.
    let fixed = ExcelDateTime::from_ymd(2000, 1, 1)?;
    let properties = DocProperties::new()
        .set_title(safe(title))
        .set_creation_datetime(&fixed);
    workbook.set_properties(&properties);
    Ok(workbook)
}

#[cfg(test)]
mod tests;
