//! One temperature column while its table is read.

use super::head::Scale;
use super::number::Cell;
use crate::analysis::Channel;
use crate::analysis::series::printed_step_degc;

/// How one column of a table was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnRead {
    /// Its heading.
    pub heading: String,
    /// As what, in words that follow "read as".
    pub read: String,
}

/// A temperature column while it is read.
pub(super) struct Column {
    pub(super) place: usize,
    pub(super) heading: String,
    pub(super) name: String,
    pub(super) scale: Scale,
    /// Whether the heading states the unit, or a cell before.
    stated: bool,
    pub(super) degc: Vec<f64>,
    pub(super) texts: usize,
    pub(super) first_text: u64,
    pub(super) numbers: usize,
}

impl Column {
    pub(super) fn new(place: usize, heading: &str, name: &str, scale: Scale, stated: bool) -> Self {
        Self {
            place,
            heading: heading.to_owned(),
            name: name.to_owned(),
            scale,
            stated,
            degc: Vec::new(),
            texts: 0,
            first_text: 0,
            numbers: 0,
        }
    }

    /// Whether it has a heading.
    pub(super) fn is_named(&self) -> bool {
        !self.heading.is_empty()
    }

    /// Whether its unit is stated, by its heading or a cell.
    pub(super) fn states_unit(&self) -> bool {
        self.stated
    }

    /// Takes a unit that a cell states; false if that is another one than what was read so far is in.
    pub(super) fn takes_unit(&mut self, scale: Scale) -> bool {
        if !self.stated && self.numbers == 0 {
            self.scale = scale;
        }
        self.stated = true;
        self.scale == scale
    }

    pub(super) fn take(&mut self, value: Cell, line: u64) {
        let degc = match value {
            Cell::Number(value, _) => {
                self.numbers += 1;
                self.scale.to_degc(value)
            }
            Cell::Missing => f64::NAN,
            Cell::Text | Cell::Ambiguous => {
                if self.texts == 0 {
                    self.first_text = line;
                }
                self.texts += 1;
                f64::NAN
            }
        };
        self.degc.push(degc);
    }

    /// By what columns of one sample are known.
    pub(super) fn key(&self) -> String {
        self.name.to_lowercase()
    }

    /// Counts what another column of the same sample holds.
    pub(super) fn count_also(&mut self, other: &Self) {
        if self.texts == 0 {
            self.first_text = other.first_text;
        }
        self.texts += other.texts;
        self.numbers += other.numbers;
    }

    /// Leaves out a row's value: one slip would make all that is said of its sample worthless.
    pub(super) fn leave_out(&mut self, row: usize) {
        if let Some(degc) = self.degc.get_mut(row) {
            *degc = f64::NAN;
        }
    }

    /// How it was read.
    pub(super) fn read(&self) -> ColumnRead {
        let unit = self.scale.sign();
        ColumnRead {
            heading: self.heading.clone(),
            read: format!("temperatures of {} in {unit}", self.name),
        }
    }

    pub(super) fn channel(self) -> Channel {
        Channel {
            name: self.name,
            resolution_degc: printed_step_degc(&self.degc),
            degc: self.degc,
            u_common_degc: None,
        }
    }
}
