//! The sheet's table, in as many blocks side by side as fit a page.

use super::super::page::{Cell, Markup, Table};
use super::super::words::{Scale, Value, Words};
use super::{Row, Written};

/// Rows of a block from which on blocks stand side by side, and most that a page has room for.
const BLOCK: usize = 13;
const MOST_ROWS: usize = 36;
/// So tall a table leaves room for the graph paper below it.
const LOW_ROWS: usize = 16;
/// Columns of all blocks together at most.
const COLUMNS: usize = 9;

impl Written<'_> {
    pub(super) fn table(&self, page: &mut Markup) {
        let words = &self.words;
        let (height, count) = self.blocks();
        // A table that fits a page is not torn; beside graph paper both begin one.
        let is_torn = height > BLOCK && height <= MOST_ROWS && !self.is_beside();
        let class = if count > 1 || is_torn { "new-page" } else { "" };
        page.section(class, &words.say("sheet-table"), |part| {
            part.paragraph_as("small", &words.say("sheet-table-caption"));
            // What does not fit a page goes on in blocks of its own on the next, so that times run on.
            for rows in self.rows.chunks(height * count) {
                let class = if count > 1 { "columns keep" } else { "columns" };
                part.block(class, |side| {
                    for rows in rows.chunks(height) {
                        side.table(&self.block(rows));
                    }
                });
            }
            let filled = self.rows.iter().flat_map(|row| &row.values);
            if filled.into_iter().any(String::is_empty) {
                part.paragraph_as("small", &words.say("sheet-table-dash"));
            }
            if let Some(u) = self.largest_half() {
                let u = [("u", Value::Number(&u))];
                part.paragraph_as("small", &words.tell("sheet-table-note", &u));
            }
        });
    }

    /// Rows of a block, and how many blocks stand side by side; beside the graph paper there is one.
    fn blocks(&self) -> (usize, usize) {
        let most = (COLUMNS / (1 + self.labels.len())).max(1);
        let most = if self.is_beside() { 1 } else { most };
        let count = self.rows.len().div_ceil(BLOCK).clamp(1, most);
        let height = self.rows.len().div_ceil(count).max(1);
        if count > 1 {
            (height.min(MOST_ROWS), count)
        } else {
            (height, count)
        }
    }

    /// Whether the graph paper finds room below the table on its page.
    pub(super) fn is_low(&self) -> bool {
        let (height, count) = self.blocks();
        (count > 1 || height > BLOCK) && height <= LOW_ROWS
    }

    fn block(&self, rows: &[Row]) -> Table {
        let words = &self.words;
        let names = self
            .labels
            .iter()
            .map(|label| Cell::heading(label.as_str()));
        let time = Cell::heading(format!("{} / min", words.say("graph-time")));
        let cell = |value: &String| match value.as_str() {
            "" => Cell::number("–"),
            digits => Cell::number(words.number(digits)),
        };
        let row = |row: &Row| {
            let time = Cell::heading(words.minute(&row.minute));
            let values: Vec<Cell> = if self.sheet.key.is_some() {
                row.values.iter().map(cell).collect()
            } else {
                self.labels.iter().map(|_| Cell::blank()).collect()
            };
            std::iter::once(time).chain(values).collect()
        };
        Table {
            caption: String::new(),
            name: match rows.first() {
                // A table in several pieces: each is named by where it begins.
                Some(row) if rows.len() < self.rows.len() => {
                    format!(
                        "{}, {} min",
                        words.say("sheet-table"),
                        words.number(&row.minute)
                    )
                }
                _ => words.say("sheet-table"),
            },
            head: vec![std::iter::once(time).chain(names).collect()],
            rows: rows.iter().map(row).collect(),
        }
    }

    /// What all of the key's values are known within: the largest expanded uncertainty, to two digits.
    fn largest_half(&self) -> Option<String> {
        let marks = self.sheet.key?.summary.marks.iter();
        let all = marks.flat_map(|mark| mark.u_degc.iter().flatten());
        let u = all.copied().max_by(f64::total_cmp)?;
        let u = self.words.scaled(Scale::Difference, u);
        Some(crate::analysis::expanded(u, u).1).filter(|text| !text.is_empty())
    }

    /// A temperature of a row as a number, in the degrees that the sheet shows.
    pub(super) fn shown(&self, row: usize, sample: usize) -> Option<f64> {
        let text = self.rows.get(row)?.values.get(sample)?;
        text.parse().ok()
    }

    /// The row at a time in seconds, where there is one.
    pub(super) fn row_at(&self, s: f64) -> Option<usize> {
        self.rows
            .iter()
            .position(|row| (row.at_s() - s).abs() < 0.5)
    }

    /// The row with the highest value of a sample.
    pub(super) fn warmest(&self, sample: usize) -> Option<usize> {
        let rows = 0..self.rows.len();
        let known = rows.filter_map(|row| Some((row, self.shown(row, sample)?)));
        known
            .reduce(|best, one| if one.1 > best.1 { one } else { best })
            .map(|(row, _)| row)
    }

    /// A difference of two temperatures of the table, to one decimal.
    pub(super) fn difference(&self, from: usize, to: usize, sample: usize) -> Option<String> {
        let (a, b) = (self.shown(from, sample)?, self.shown(to, sample)?);
        Some(Words::rough(a - b, 0.0))
    }
}
