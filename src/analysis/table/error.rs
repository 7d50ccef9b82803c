//! Why a table cannot be read, with the place.

use super::number::{Cell, cell};

/// Why a table cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TableError {
    /// Nothing but white space.
    #[error("the file is empty")]
    Empty,
    /// The file cannot be read on.
    #[error("it cannot be read: {reason}")]
    Unreadable {
        /// What the system said.
        reason: String,
    },
    /// A line longer than the limit.
    #[error("line {line}: more than {limit} bytes without a line end; is it a table?")]
    LongLine {
        /// Line, from 1.
        line: u64,
        /// Longest line read.
        limit: usize,
    },
    /// More columns than the limit.
    #[error("line {line}: {columns} columns; the limit is {limit}")]
    TooManyColumns {
        /// Line, from 1.
        line: u64,
        /// Columns found.
        columns: usize,
        /// Most columns read.
        limit: usize,
    },
    /// More numbers than the limit.
    #[error("line {line}: more than {limit} numbers")]
    TooManyNumbers {
        /// Line, from 1.
        line: u64,
        /// Most numbers kept.
        limit: usize,
    },
    /// No heading is that of a time column.
    #[error("line {line}: no time column among: {}", short(columns))]
    NoTimeColumn {
        /// Line of the headings, from 1.
        line: u64,
        /// The headings found.
        columns: Vec<String>,
    },
    /// No column of temperatures.
    #[error("line {line}: no temperature column among: {}", short(columns))]
    NoTemperatures {
        /// Line of the headings, from 1.
        line: u64,
        /// The headings found.
        columns: Vec<String>,
    },
    /// Headings but no rows.
    #[error("the table has headings but no rows with a time")]
    NoRows,
    /// Rows, but none with a time.
    #[error(
        "line {line}: {text:?} below {column:?} is no time that can be read; write numbers with their unit in the heading, as in \"time (min)\", or times like 1:30"
    )]
    NoTimes {
        /// Line of the first row, from 1.
        line: u64,
        /// Heading of the time column.
        column: String,
        /// The first cell that holds something.
        text: String,
    },
    /// A row has more cells than there are headings.
    #[error(
        "line {line}: {found} cells, but {expected} headings; with a decimal comma, columns must be separated by ; or tab"
    )]
    TooManyCells {
        /// Line, from 1.
        line: u64,
        /// Cells in the row.
        found: usize,
        /// Number of headings.
        expected: usize,
    },
    /// A number whose separators have two readings.
    #[error(
        "line {line}, column {column}: {text:?} can be read in two ways; write numbers without thousands separators"
    )]
    AmbiguousNumber {
        /// Line, from 1.
        line: u64,
        /// Column, from 1.
        column: usize,
        /// The cell.
        text: String,
    },
    /// A unit in a cell that is another one than its column's.
    #[error(
        "line {line}, column {column}: {text:?} is in another unit than the rest of its column, {unit}"
    )]
    OtherUnit {
        /// Line, from 1.
        line: u64,
        /// Column, from 1.
        column: usize,
        /// The cell.
        text: String,
        /// The unit of the column.
        unit: &'static str,
    },
    /// Decimal points and decimal commas in one file.
    #[error(
        "line {line}, column {column}: {text:?} has another decimal sign than the numbers before it"
    )]
    MixedDecimals {
        /// Line, from 1.
        line: u64,
        /// Column, from 1.
        column: usize,
        /// The cell.
        text: String,
    },
    /// Times that begin again where temperatures do not go on.
    #[error(
        "line {line}: the times begin again, and the temperatures do not go on from the row before; give what came later as a file of its own, or write its times on from those before"
    )]
    TimesAnew {
        /// Line of the first row that begins again, from 1.
        line: u64,
    },
    /// Numbers where headings should be.
    #[error(
        "line {line}: numbers where the headings should be; write a line above that names the columns, as in \"time (min), slate, moss\""
    )]
    NoHeadings {
        /// Line, from 1.
        line: u64,
    },
    /// One column where several words stand.
    #[error(
        "line {line}: {text:?} is one column; columns must be separated by commas, semicolons or tabs"
    )]
    NoSeparator {
        /// Line, from 1.
        line: u64,
        /// The line, or its beginning.
        text: String,
    },
    /// A cell longer than the limit.
    #[error(
        "line {line}, column {column}: a cell of more than {limit} bytes; is a quotation mark left open?"
    )]
    LongCell {
        /// Line, from 1.
        line: u64,
        /// Column, from 1.
        column: usize,
        /// Longest cell read.
        limit: usize,
    },
    /// A workbook that cannot be opened.
    #[error("it cannot be read as a workbook: {reason}")]
    Workbook {
        /// What the reader of workbooks said.
        reason: String,
    },
    /// A workbook that unpacks to more than the limit.
    #[error("the workbook unpacks to more than {limit} bytes")]
    TooLarge {
        /// Most bytes taken.
        limit: u64,
    },
    /// No sheet of the name that was asked for.
    #[error("no sheet {asked:?} among: {}", short(sheets))]
    NoSuchSheet {
        /// The name asked for.
        asked: String,
        /// The names there are.
        sheets: Vec<String>,
    },
    /// A sheet that holds no readable table.
    #[error("sheet {sheet:?}: {source}")]
    InSheet {
        /// The sheet's name.
        sheet: String,
        /// Why not, its lines being rows of the sheet.
        source: Box<TableError>,
    },
    /// The separated-values layer refused the text.
    #[error("line {line}: {reason}")]
    Broken {
        /// Line, from 1.
        line: u64,
        /// What it said.
        reason: String,
    },
}

impl TableError {
    /// Why these headings are those of no table.
    pub(super) fn of_headings(columns: Vec<String>, line: u64, timeless: bool) -> Self {
        let number = |text: &String| matches!(cell(text.as_bytes()), Cell::Number(..));
        if columns.len() > 1 && columns.iter().all(number) {
            return Self::NoHeadings { line };
        }
        if let [text] = &columns[..]
            && text.split_whitespace().count() > 1
        {
            let text = text.chars().take(60).collect();
            return Self::NoSeparator { line, text };
        }
        if timeless {
            Self::NoTimeColumn { line, columns }
        } else {
            Self::NoTemperatures { line, columns }
        }
    }
}

/// Headings as a list that fits a message: a file that is no table may hold a book in one line.
fn short(columns: &[String]) -> String {
    let mut list: Vec<String> = columns
        .iter()
        .take(8)
        .map(|column| match column.char_indices().nth(40) {
            Some((end, _)) => format!("{}…", column.get(..end).unwrap_or_default()),
            None => column.clone(),
        })
        .collect();
    if columns.len() > list.len() {
        list.push(format!("… ({} in all)", columns.len()));
    }
    list.join(", ")
}
