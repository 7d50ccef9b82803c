//! A run's CSV files, read by the csv crate and not by the program's own reader.

use std::path::Path;

/// A table by its head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    pub head: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

impl Table {
    #[track_caller]
    pub fn read(path: &Path) -> Self {
        let mut reader = csv::Reader::from_path(path).unwrap();
        let head = reader.headers().unwrap().iter().map(Into::into).collect();
        let rows = reader
            .records()
            .map(|record| record.unwrap().iter().map(Into::into).collect())
            .collect();
        Self { head, rows }
    }

    #[track_caller]
    pub fn column(&self, name: &str) -> Vec<&str> {
        let place = self.head.iter().position(|h| h == name);
        let place = place.unwrap_or_else(|| panic!("no column {name} in {:?}", self.head));
        self.rows.iter().map(|row| row[place].as_str()).collect()
    }

    /// A column of numbers; NaN for an empty cell.
    #[track_caller]
    pub fn numbers(&self, name: &str) -> Vec<f64> {
        self.column(name)
            .into_iter()
            .map(|cell| match cell {
                "" => f64::NAN,
                text => text.parse().unwrap(),
            })
            .collect()
    }

    /// Rows whose `kind` is this (for events).
    pub fn of_kind(&self, kind: &str) -> Vec<&Vec<String>> {
        self.rows.iter().filter(|row| row[2] == kind).collect()
    }
}

/// Times must rise strictly in every file that the program writes.
#[track_caller]
pub fn assert_times_rise(table: &Table) {
    let times = table.numbers("elapsed_s");
    for pair in times.windows(2) {
        assert!(pair[0] < pair[1], "{pair:?}");
    }
}
