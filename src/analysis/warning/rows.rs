//! Doubts about how the rows of a table or a record follow each other.

use super::Warning;
use super::said::clock;

/// What is odd about the order, the times or the columns of rows.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RowsWarning {
    /// A further table below the first that cannot be put together with it.
    #[error(
        "Below the first table, from line {line} on, another has samples of the same names at the same times: it was left out. If it came later, let its times go on from those of the first; else give it as a file of its own."
    )]
    TableBelow {
        /// Line of its headings, from 1.
        line: u64,
    },
    /// Clocks that were changed by an hour between two rows.
    #[error("From line {line} on the times are an hour {}", changed(*back))]
    ClockChanged {
        /// Line of the first row by the new time, from 1.
        line: u64,
        /// Whether clocks were put back.
        back: bool,
    },
    /// Pauses much longer than the time between rows.
    #[error(
        "{}, from {} on, where rows are {} apart as a rule: what happened meanwhile they do not tell.",
        pauses(*count, *longest_s), clock(*at_s), length(*usual_s)
    )]
    Pauses {
        /// How many there are.
        count: usize,
        /// How long the longest is, in seconds.
        longest_s: f64,
        /// The last row before it, in seconds of the input's time base.
        at_s: f64,
        /// Usual time between rows in seconds.
        usual_s: f64,
    },
    /// One sample cools as if the lamp were off, and others warm on.
    #[error(
        "{sample} cools from {} on while others warm on: was it moved, or its probe? What follows is not counted in its results.",
        clock(*at_s)
    )]
    Moved {
        /// Its name.
        sample: String,
        /// From when on, in seconds of the input's time base.
        at_s: f64,
    },
    /// Values that no sample of a lesson can have, among others that it can.
    #[error("{column}, {} {written} °C{}", from_line(*line, *count), no_sample(*count))]
    NoSample {
        /// Heading of the column.
        column: String,
        /// Line of the first, from 1.
        line: u64,
        /// How many there are.
        count: usize,
        /// The first of them in degrees Celsius.
        written: f64,
    },
    /// A probe that showed one number for a while, and then leapt.
    #[error(
        "{sample} showed one and the same number from {} to {}, and then leapt by {leap_degc:.1} °C: its probe was stuck, or lines were repeated. These readings do not count in the results.",
        clock(*at_s), clock(*until_s)
    )]
    Stood {
        /// Its name.
        sample: String,
        /// From when on, in seconds of the input's time base.
        at_s: f64,
        /// Time of the last reading of that number, in seconds of the same.
        until_s: f64,
        /// By how much the next one differs, in degrees Celsius.
        leap_degc: f64,
    },
    /// A probe that showed what probes show that do not answer.
    #[error(
        "{sample} showed {degc:.1} °C and nothing else from {} to {}: its probe did not answer, or was not plugged in. These readings do not count in the results.",
        clock(*at_s), clock(*until_s)
    )]
    NoAnswer {
        /// Its name.
        sample: String,
        /// From when on, in seconds of the input's time base.
        at_s: f64,
        /// Time of the last reading of that number, in seconds of the same.
        until_s: f64,
        /// That number in degrees Celsius.
        degc: f64,
    },
    /// A sample that warmed and cooled, though no switching stands out.
    #[error(
        "{sample} warmed by {rise_degc:.1} °C and cooled again, but not as under one lamp that goes on and off once: was it moved, dimmed or shaded, did another one go on beside it, or was it the sun? The graph shows when."
    )]
    UnlikeOneLamp {
        /// Its name.
        sample: String,
        /// By how much it warmed, in degrees Celsius.
        rise_degc: f64,
    },
    /// The same samples of several groups, beside one column of times.
    #[error(
        "Each column is read as a sample, so {samples} samples under one lamp. If these are {groups} groups with a lamp each, give the columns of each group, with the times before them, as a file of its own."
    )]
    Groups {
        /// How many samples there are.
        samples: usize,
        /// How many groups.
        groups: usize,
    },
    /// Two samples whose values are exchanged from a row on.
    #[error(
        "{one} and {other} seem to have changed places at {} (row {row}): from there on the values of each go on in the other's column. The results follow from columns that were put right again from that row on; what was recorded stays as it is.",
        clock(*at_s)
    )]
    ChangedPlaces {
        /// A sample.
        one: String,
        /// The other.
        other: String,
        /// Time of the first row that is exchanged, in seconds of the input's time base.
        at_s: f64,
        /// That row, the first being 1.
        row: usize,
    },
}

impl From<RowsWarning> for Warning {
    fn from(doubt: RowsWarning) -> Self {
        Self::Rows(doubt)
    }
}

fn changed(back: bool) -> &'static str {
    if back {
        "behind the rows before, as where clocks are put back: the hour was taken out. If no clock was, put these times right."
    } else {
        "ahead of the rows before, as where clocks are put on: the hour was taken out. If an hour did pass there, give what came later as a file of its own."
    }
}

fn pauses(count: usize, longest_s: f64) -> String {
    let long = length(longest_s);
    match count {
        1 => format!("The rows have a pause of {long}"),
        n => format!("The rows have {n} pauses, the longest of {long}"),
    }
}

fn from_line(line: u64, count: usize) -> String {
    match count {
        1 => format!("line {line}:"),
        n => format!("{n} times from line {line} on:"),
    }
}

fn no_sample(count: usize) -> &'static str {
    if count == 1 {
        " is no sample's temperature but what a board writes when a probe does not answer, or a slip. It is left out."
    } else {
        " or the like are no sample's temperatures but what a board writes when a probe does not answer. They are left out."
    }
}

/// `2 s`, `1:06` from a minute on.
fn length(s: f64) -> String {
    if s < 60.0 { format!("{s} s") } else { clock(s) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_are_told_in_numbers_that_people_read() {
        let said = |count| {
            let doubt = RowsWarning::Pauses {
                count,
                longest_s: 66.0,
                at_s: 652.0,
                usual_s: 2.0,
            };
            Warning::from(doubt).to_string()
        };
        assert_eq!(
            said(1),
            "The rows have a pause of 1:06, from 10:52 on, where rows are 2 s apart as a rule: what happened meanwhile they do not tell."
        );
        assert!(said(3).starts_with("The rows have 3 pauses, the longest of 1:06, from 10:52 on"));
    }
}
