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
    /// Values that were left out, and told.
    left_out: usize,
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
            left_out: 0,
        }
    }

    /// Gives it another name, by which messages call it too.
    pub(super) fn call(&mut self, name: &str) {
        self.name = name.chars().take(super::head::LONGEST_NAME).collect();
        self.heading.clone_from(&self.name);
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
            self.left_out += usize::from(degc.is_finite());
            *degc = f64::NAN;
        }
    }

    /// How many of its values are missing for a reason that is told.
    pub(super) fn told_missing(&self) -> usize {
        self.left_out + self.texts
    }

    /// How it was read.
    pub(super) fn read(&self) -> ColumnRead {
        let unit = self.scale.sign();
        ColumnRead {
            heading: self.heading.clone(),
            read: format!("temperatures of {} in {unit}", self.name),
        }
    }

    /// The step in which it was written, in °C: that of its own unit, since converted values have
    /// decimals that nobody wrote.
    pub(super) fn step_degc(&self) -> Option<f64> {
        let written = self.degc.iter().map(|v| self.scale.exactly_of_degc(*v));
        let step = printed_step_degc(&written.collect::<Vec<f64>>())?;
        Some(self.scale.to_degc(step) - self.scale.to_degc(0.0))
    }

    pub(super) fn channel(self) -> Channel {
        Channel {
            resolution_degc: self.step_degc(),
            name: self.name,
            degc: self.degc,
            u_common_degc: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::number::Sign;
    use super::*;

    /// The rectangular distribution of JCGM 100:2008, F.2.2.1, is as wide as the step that was written,
    /// whatever it was written in.
    #[test]
    fn a_step_is_that_of_the_unit_it_was_written_in() {
        let step = |scale: Scale, values: &[f64]| {
            let mut column = Column::new(1, "moss", "moss", scale, true);
            for value in values {
                column.take(Cell::Number(*value, Sign::Point), 1);
            }
            column.channel().resolution_degc
        };
        let near = |got: Option<f64>, want: f64| {
            assert!(got.is_some_and(|got| (got - want).abs() < 1e-9), "{got:?}");
        };
        let tenths = [70.1, 70.4, 71.9, 72.0, 73.3, 75.2];
        near(step(Scale::Celsius, &tenths), 0.1);
        near(step(Scale::Fahrenheit, &tenths), 0.1 / 1.8);
        near(step(Scale::Kelvin, &[294.4, 294.9, 295.0, 295.3]), 0.1);
        near(step(Scale::Kelvin, &[294.0, 296.0, 297.0]), 1.0);
        near(step(Scale::Fahrenheit, &[70.0, 73.0, 74.0]), 1.0 / 1.8);
        assert_eq!(step(Scale::Celsius, &[22.777_777_8, 23.111_111_1]), None);
    }
}
