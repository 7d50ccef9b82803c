//! Adds the many rows of a long record to a finished package.
//!
//! The library keeps each cell in memory or in a file of its own; a room of this house does neither
//! for ten million of them. So the library writes a sheet's headings and its first rows, and the
//! rows behind them are written here, row by row, straight into the package's compressor, with the
//! formats of the last row that the library wrote (ISO/IEC 29500-1, 18.3.1.4 and 18.3.1.73: `c`
//! and `row`).

use std::fmt::Write as _;
use std::io::{Cursor, Read as _};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

use super::rows::{Rows, Sheet};
use super::{WorkbookError, column};
use crate::report::page::escaped;

/// Bytes of rows that are gathered before they go to the compressor.
const GATHER: usize = 1 << 16;

fn failed(error: impl std::fmt::Display) -> WorkbookError {
    WorkbookError::Package(error.to_string())
}

/// The package with all rows; the first sheet of rows is the package's sheet number `first`.
pub(super) fn with_rows(
    bytes: Vec<u8>,
    rows: &Rows<'_>,
    first: usize,
) -> Result<Vec<u8>, WorkbookError> {
    let short = |sheet: &&Sheet| sheet.range.1 - sheet.range.0 > sheet.held;
    if !rows.sheets.iter().any(|sheet| short(&sheet)) {
        return Ok(bytes);
    }
    let mut package = ZipArchive::new(Cursor::new(bytes)).map_err(failed)?;
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    for place in 0..package.len() {
        let mut file = package.by_index(place).map_err(failed)?;
        let name = file.name().map_err(failed)?.into_owned();
        let mut numbered = rows
            .sheets
            .iter()
            .zip(first..)
            .filter(|(sheet, _)| short(sheet));
        let own = |number: usize| name == format!("xl/worksheets/sheet{number}.xml");
        let Some((sheet, _)) = numbered.find(|(_, number)| own(*number)) else {
            drop(file);
            let file = package.by_index_raw(place).map_err(failed)?;
            out.raw_copy_file(file).map_err(failed)?;
            continue;
        };
        let mut text = String::new();
        file.read_to_string(&mut text).map_err(failed)?;
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .compression_level(Some(LEVEL))
            .last_modified_time(DateTime::default());
        out.start_file(name, options).map_err(failed)?;
        continued(&mut out, &text, rows, sheet)?;
    }
    Ok(out.finish().map_err(failed)?.into_inner())
}

/// Compression: beyond this a long table shrinks by a few per cent and takes twice as long.
const LEVEL: i64 = 3;

/// A sheet's text with the rows that it lacks.
fn continued(
    out: &mut impl std::io::Write,
    text: &str,
    rows: &Rows<'_>,
    sheet: &Sheet,
) -> Result<(), WorkbookError> {
    let end = text
        .find("</sheetData>")
        .ok_or_else(|| failed("a sheet has no rows"))?;
    let (head, tail) = text.split_at(end);
    let channels = rows.lesson.series.channels.len() as u16;
    let last = format!(
        "{}{}",
        column(2 + channels),
        sheet.range.1 - sheet.range.0 + 1
    );
    let head = with_dimension(head, &last);
    let styles = Styles::of(&head);
    out.write_all(head.as_bytes()).map_err(failed)?;
    let letters: Vec<String> = (0..channels + 3).map(column).collect();
    let mut lines = String::with_capacity(GATHER + 4096);
    for (row, line) in (sheet.range.0..sheet.range.1)
        .zip(2_usize..)
        .skip(sheet.held)
    {
        let _ = write!(lines, "<row r=\"{line}\">");
        let series = rows.lesson.series;
        let times = [series.t_s.get(row).copied(), Some(rows.minutes(row))];
        let degc = series.channels.iter().map(|c| c.degc.get(row).copied());
        for ((letters, number), place) in letters.iter().zip(times.into_iter().chain(degc)).zip(0..)
        {
            if let Some(number) = number.filter(|n| n.is_finite()) {
                let style = if place < 2 { styles.time } else { styles.degc };
                let _ = write!(
                    lines,
                    "<c r=\"{letters}{line}\" s=\"{style}\"><v>{number}</v></c>"
                );
            }
        }
        let phase = escaped(rows.phase(row));
        if let (Some(letters), false) = (letters.last(), phase.is_empty()) {
            let _ = write!(
                lines,
                "<c r=\"{letters}{line}\" t=\"inlineStr\"><is><t>{phase}</t></is></c>"
            );
        }
        lines.push_str("</row>");
        if lines.len() > GATHER {
            out.write_all(lines.as_bytes()).map_err(failed)?;
            lines.clear();
        }
    }
    out.write_all(lines.as_bytes()).map_err(failed)?;
    out.write_all(tail.as_bytes()).map_err(failed)
}

/// The sheet's stated extent, to its new last cell.
fn with_dimension(head: &str, last: &str) -> String {
    let mark = "<dimension ref=\"";
    let found = head.find(mark).map(|at| at + mark.len()).and_then(|from| {
        let (before, rest) = head.split_at_checked(from)?;
        let (_, after) = rest.split_once('"')?;
        Some(format!("{before}A1:{last}\"{after}"))
    });
    found.unwrap_or_else(|| head.to_owned())
}

/// Numbers of the formats that the library gave to times and temperatures.
struct Styles {
    time: u32,
    degc: u32,
}

impl Styles {
    fn of(head: &str) -> Self {
        // The last cell of each column that has a number in it; a column of gaps has none.
        let style = |places: std::ops::Range<u16>| {
            places
                .filter_map(|place| last_style(head, &column(place)))
                .next_back()
                .unwrap_or(0)
        };
        Self {
            time: style(0..1),
            degc: style(2..10),
        }
    }
}

/// The format of the last number in a column.
fn last_style(head: &str, letters: &str) -> Option<u32> {
    let mark = format!("<c r=\"{letters}");
    head.rmatch_indices(&mark).find_map(|(at, _)| {
        let rest = head.get(at + mark.len()..)?;
        let (cell, content) = rest.split_once('>')?;
        // Text has a type; the headings are text.
        let number = content.starts_with("<v>") && !cell.contains(" t=\"");
        let (_, style) = cell.split_once(" s=\"")?;
        let style = style.split_once('"')?.0.parse().ok()?;
        number.then_some(style)
    })
}
