//! Workbooks that people saved (.xlsx, .ods, .xlsb and the older .xls) as tables.
//!
//! A sheet's cells are written out as the lines that the same sheet would have as separated values,
//! row by row, and the one reader of tables takes those: headings, units, times and doubts are
//! judged the same way wherever a table comes from, and a line in a message is a row of the sheet.

use std::io::{Cursor, Read};

use calamine::{Reader as _, SheetType, SheetVisible, Sheets};

use super::cell::{Content, borrowed, owned, written};
use super::number::{Cell as Written, Sign, cell};
use super::{MOST_COLUMNS, Table, read_table};
use crate::analysis::{TableError, Warning};

/// Most cells of a sheet: 24 bytes each.
const MOST_CELLS: usize = 1 << 24;

/// Most bytes that a workbook may unpack to: a million rows of four columns need a fifth.
const MOST_UNPACKED: u64 = 1 << 30;

/// Times that are whole minutes and at least so far apart, in seconds, were meant as minutes and
/// seconds: who types 1:30 for a minute and a half gets an hour and a half.
const TYPED_S: f64 = 900.0;

/// Whether a file that begins so is a workbook: a zip package, or the older compound file.
#[must_use]
pub fn is_workbook(first: &[u8]) -> bool {
    first.starts_with(b"PK\x03\x04") || first.starts_with(&[0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1])
}

/// Reads a table from a workbook that is in memory: the named sheet, or else the first visible one
/// that holds a readable table.
///
/// # Errors
/// [`TableError`]: the file is no workbook or is too large, there is no such sheet, or no sheet
/// holds a table; then the error is that of the first sheet with anything in it.
pub fn read_workbook(bytes: &[u8], sheet: Option<&str>) -> Result<Table, TableError> {
    unpacks(bytes)?;
    let broken = |e: calamine::Error| TableError::Workbook {
        reason: e.to_string(),
    };
    let mut book = calamine::open_workbook_auto_from_rs(Cursor::new(bytes)).map_err(broken)?;
    let seen =
        |s: &&calamine::Sheet| s.typ == SheetType::WorkSheet && s.visible == SheetVisible::Visible;
    let visible: Vec<String> = book
        .sheets_metadata()
        .iter()
        .filter(seen)
        .map(|s| s.name.clone())
        .collect();
    let all = book.sheet_names();
    let names = match sheet {
        None => visible,
        Some(asked) => vec![named(&all, asked)?],
    };
    let mut choice = Choice::default();
    for name in &names {
        let found = Grid::of(&mut book, name).and_then(|grid| {
            if grid.cells.is_empty() {
                return Ok(None);
            }
            Ok(Some((read_table(grid.lines())?, grid.is_worked_out())))
        });
        match found {
            Ok(None) => {}
            Ok(Some((mut table, is_worked_out))) => {
                if all.len() > 1 {
                    let (sheet, sheets) = (name.clone(), all.len());
                    table
                        .warnings
                        .insert(0, Warning::SheetRead { sheet, sheets });
                }
                table.sheet = Some(name.clone());
                choice.take(table, is_worked_out);
                if choice.is_made() {
                    break;
                }
            }
            Err(source) => choice.refuse(TableError::InSheet {
                sheet: name.clone(),
                source: Box::new(source),
            }),
        }
    }
    choice.made()
}

/// Which of a workbook's sheets is read.
#[derive(Default)]
struct Choice {
    /// The first with results; the readings that these come from are rather in another.
    worked_out: Option<Table>,
    /// The first with readings; behind one with results, that with the most rows.
    best: Option<Table>,
    /// Why the first sheet that cannot be read cannot.
    refused: Option<TableError>,
}

impl Choice {
    fn take(&mut self, table: Table, is_worked_out: bool) {
        if is_worked_out {
            self.worked_out.get_or_insert(table);
            return;
        }
        let rows = |table: &Table| table.series.t_s.len();
        if self
            .best
            .as_ref()
            .is_none_or(|best| rows(best) < rows(&table))
        {
            self.best = Some(table);
        }
    }

    fn refuse(&mut self, error: TableError) {
        self.refused.get_or_insert(error);
    }

    /// Whether no other sheet could change it.
    fn is_made(&self) -> bool {
        self.worked_out.is_none() && self.best.is_some()
    }

    fn made(self) -> Result<Table, TableError> {
        let found = self.best.or(self.worked_out);
        found.ok_or(self.refused.unwrap_or(TableError::Empty))
    }
}

/// The sheet of this name, whatever the case of its letters.
fn named(all: &[String], asked: &str) -> Result<String, TableError> {
    let exact = all.iter().find(|name| *name == asked);
    let lower = asked.trim().to_lowercase();
    let found = exact.or_else(|| all.iter().find(|name| name.to_lowercase() == lower));
    found.cloned().ok_or_else(|| TableError::NoSuchSheet {
        asked: asked.to_owned(),
        sheets: all.to_vec(),
    })
}

/// Refuses a package that unpacks to more than a workbook of a lesson ever holds. What a package
/// says of its sizes is not believed: it is unpacked once without keeping anything.
fn unpacks(bytes: &[u8]) -> Result<(), TableError> {
    if !bytes.starts_with(b"PK") {
        return Ok(());
    }
    let broken = |e: zip::result::ZipError| TableError::Workbook {
        reason: e.to_string(),
    };
    let mut package = zip::ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    let mut left = MOST_UNPACKED;
    for place in 0..package.len() {
        let file = package.by_index(place).map_err(broken)?;
        let count = std::io::copy(&mut file.take(left + 1), &mut std::io::sink());
        let count = count.map_err(|e| TableError::Workbook {
            reason: e.to_string(),
        })?;
        let limit = MOST_UNPACKED;
        left = left
            .checked_sub(count)
            .ok_or(TableError::TooLarge { limit })?;
    }
    Ok(())
}

/// The cells of a sheet that hold something, by rows.
struct Grid {
    cells: Vec<(u32, u16, Content)>,
}

impl Grid {
    fn of(book: &mut Sheets<Cursor<&[u8]>>, name: &str) -> Result<Self, TableError> {
        let broken = |reason: String| TableError::Workbook { reason };
        let mut grid = Self { cells: Vec::new() };
        // Without a dense range: one stray cell far away would need memory for all before it.
        if let Sheets::Xlsx(xlsx) = book {
            let mut cells = xlsx
                .worksheet_cells_reader(name)
                .map_err(|e| broken(e.to_string()))?;
            while let Some(found) = cells.next_cell().map_err(|e| broken(e.to_string()))? {
                let (row, column) = found.get_position();
                grid.take(row, column, borrowed(found.get_value()))?;
            }
        } else {
            let range = book
                .worksheet_range(name)
                .map_err(|e| broken(e.to_string()))?;
            let (top, left) = range.start().unwrap_or((0, 0));
            for (row, column, value) in range.used_cells() {
                grid.take(top + row as u32, left + column as u32, owned(value))?;
            }
        }
        // A writer may put its cells in any order.
        grid.cells.sort_by_key(|(row, column, _)| (*row, *column));
        grid.cells.dedup_by_key(|(row, column, _)| (*row, *column));
        Ok(grid)
    }

    fn take(&mut self, row: u32, column: u32, content: Option<Content>) -> Result<(), TableError> {
        let Some(content) = content else {
            return Ok(());
        };
        let line = u64::from(row) + 1;
        if column as usize >= MOST_COLUMNS {
            let (columns, limit) = (column as usize + 1, MOST_COLUMNS);
            return Err(TableError::TooManyColumns {
                line,
                columns,
                limit,
            });
        }
        if self.cells.len() >= MOST_CELLS {
            let limit = MOST_CELLS;
            return Err(TableError::TooManyNumbers { line, limit });
        }
        self.cells.push((row, column as u16, content));
        Ok(())
    }

    /// Whether these are results with their uncertainties, `u(slate)`: the readings that they come
    /// from are rather in another sheet.
    fn is_worked_out(&self) -> bool {
        let uncertainty = |content: &Content| match content {
            Content::Text(text) => text.starts_with("u(") && text.contains(')'),
            _ => false,
        };
        self.cells.iter().any(|(.., content)| uncertainty(content))
    }

    /// The sheet as lines of separated values.
    fn lines(&self) -> Lines<'_> {
        let comma = self.cells.iter().any(|(.., content)| match content {
            Content::Text(text) => matches!(cell(text.as_bytes()), Written::Number(_, Sign::Comma)),
            _ => false,
        });
        let columns = self.cells.iter().map(|(_, column, _)| column + 1).max();
        Lines {
            cells: &self.cells,
            row: 0,
            // Beside numbers that were typed as text with a comma, numbers have one too.
            comma,
            typed: (0..columns.unwrap_or(0)).map(|c| self.typed(c)).collect(),
            ready: Vec::new(),
            given: 0,
        }
    }

    /// Whether a column's times look like minutes and seconds that were typed as hours and minutes.
    fn typed(&self, column: u16) -> bool {
        let own = self.cells.iter().filter(|(_, place, _)| *place == column);
        let times: Vec<f64> = own
            .filter_map(|(.., content)| match content {
                Content::Time(s) => Some(*s),
                _ => None,
            })
            .collect();
        let whole = times
            .iter()
            .all(|s| (s / 60.0 - (s / 60.0).round()).abs() < 1e-5);
        let mut steps: Vec<f64> = times
            .iter()
            .zip(times.iter().skip(1))
            .map(|(a, b)| (b - a).abs())
            .collect();
        let middle = steps.len().saturating_sub(1) / 2;
        whole
            && !steps.is_empty()
            && *steps.select_nth_unstable_by(middle, f64::total_cmp).1 >= TYPED_S
    }
}

/// Writes a sheet's rows out, one at a time.
struct Lines<'a> {
    cells: &'a [(u32, u16, Content)],
    /// The next row that has no line yet.
    row: u32,
    comma: bool,
    typed: Vec<bool>,
    ready: Vec<u8>,
    given: usize,
}

impl Lines<'_> {
    /// Makes the next line; an empty one for an empty row.
    fn next_line(&mut self) {
        self.ready.clear();
        self.given = 0;
        let here = self.cells.partition_point(|(row, ..)| *row <= self.row);
        let (line, rest) = self.cells.split_at(here);
        let mut column = 0;
        for (_, place, content) in line {
            while column < *place {
                self.ready.push(b'\t');
                column += 1;
            }
            let typed = self
                .typed
                .get(usize::from(*place))
                .copied()
                .unwrap_or(false);
            let text = written(content, self.comma, typed);
            self.ready.extend(text.into_bytes());
        }
        self.ready.push(b'\n');
        self.cells = rest;
        self.row += 1;
    }
}

impl Read for Lines<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if self.given >= self.ready.len() {
            if self.cells.is_empty() {
                return Ok(0);
            }
            self.next_line();
        }
        let left = self.ready.get(self.given..).unwrap_or_default();
        let count = left.len().min(buffer.len());
        for (to, from) in buffer.iter_mut().zip(left) {
            *to = *from;
        }
        self.given += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::{Content, Grid};
    use std::io::Read as _;

    fn lines(cells: Vec<(u32, u16, Content)>) -> String {
        let mut text = String::new();
        Grid { cells }.lines().read_to_string(&mut text).unwrap();
        text
    }

    fn text(text: &str) -> Content {
        Content::Text(text.into())
    }

    #[test]
    fn rows_keep_their_numbers_and_cells_their_columns() {
        let cells = vec![
            (1, 0, text("time \"s\"")),
            (1, 2, text("wet\nmoss")),
            (3, 0, Content::Number(0.5)),
            (3, 2, Content::Number(-1.25)),
        ];
        assert_eq!(
            lines(cells),
            "\n\"time \"\"s\"\"\"\t\t\"wet moss\"\n\n0.5\t\t-1.25\n"
        );
    }

    #[test]
    fn beside_numbers_typed_as_text_with_a_comma_numbers_have_one() {
        let cells = vec![
            (0, 0, Content::Number(0.5)),
            (0, 1, text("23,5")),
            (0, 2, Content::Time(1.5)),
        ];
        assert_eq!(lines(cells), "0,5\t23,5\t0:00:01,500\n");
    }

    #[test]
    fn minutes_and_seconds_typed_as_hours_and_minutes_are_known_by_their_steps() {
        let times = |step_s: f64| {
            (0..4)
                .map(|i| (i, 0, Content::Time(f64::from(i) * step_s)))
                .collect()
        };
        assert_eq!(lines(times(3600.0)), "0:00\n1:00\n2:00\n3:00\n");
        assert_eq!(lines(times(60.0)), "0:00:00\n0:01:00\n0:02:00\n0:03:00\n");
        assert_eq!(lines(times(3601.0)), "0:00:00\n1:00:01\n2:00:02\n3:00:03\n");
    }
}
