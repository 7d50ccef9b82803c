//! Parts of the sentences that doubts make.

/// Why a first rate cannot be had: the phase shows the probe's lag and little else.
pub const WHY_LAGGING: &str =
    "that phase is shorter than six lags of the probe, which are most of what it shows";

/// Why a first rate cannot be had: there are readings, and what they say is not one thing.
pub const WHY_OPEN: &str = "its readings fit no curve that tells how fast it began";

/// How somebody worked a column out from others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WorkedOut {
    /// Their mean.
    Mean,
    /// Their sum.
    Sum,
    /// The first divided by the second.
    Quotient,
    /// How far one is above its first value.
    Rise,
    /// The same in another unit.
    OtherUnit,
}

pub(super) fn worked_out(how: WorkedOut, from: &[String]) -> String {
    let all = from.join(", ");
    match how {
        WorkedOut::Mean => format!("the mean of {all}"),
        WorkedOut::Sum => format!("the sum of {all}"),
        WorkedOut::Quotient => from.join(" divided by "),
        WorkedOut::Rise => format!("{all} less its first value"),
        WorkedOut::OtherUnit => format!("{all} in another unit"),
    }
}

/// `1 cell is not a number and counts as missing`, `3 cells are …`.
pub(super) fn cells(count: usize) -> String {
    match count {
        1 => "1 cell is not a number and counts as missing".into(),
        n => format!("{n} cells are not numbers and count as missing"),
    }
}

/// `1 row has no usable time and was left out`, `3 rows have …`.
pub(super) fn timeless(count: usize) -> String {
    match count {
        1 => "1 row has no usable time and was left out".into(),
        n => format!("{n} rows have no usable time and were left out"),
    }
}

/// `1 row repeats the time of another row`, `3 rows repeat …`, and which was kept.
pub(super) fn same_time(count: usize) -> String {
    let kept = "the first of each time was kept";
    match count {
        1 => format!("1 row repeats the time of another row; {kept}"),
        n => format!("{n} rows repeat the time of another row; {kept}"),
    }
}

/// `1 row came late, its time not sure`, `3 rows came late, their times …`.
pub(super) fn late(rows: usize) -> String {
    match rows {
        1 => "1 row came late, its time not sure".into(),
        n => format!("{n} rows came late, their times not sure"),
    }
}

/// What stands for so many.
pub(super) fn them(count: usize) -> &'static str {
    if count == 1 { "it" } else { "them" }
}

/// What so many are.
pub(super) fn are(count: usize) -> &'static str {
    if count == 1 { "is" } else { "are" }
}

/// `1 row`, `3 rows`.
pub(super) fn rows(count: usize) -> String {
    match count {
        1 => "1 row".into(),
        n => format!("{n} rows"),
    }
}

/// `1 line was`, `3 lines were`.
pub(super) fn lines(count: usize) -> String {
    match count {
        1 => "1 line was".into(),
        n => format!("{n} lines were"),
    }
}

/// `the marks 2.5 min, 3 min and 4 more`.
pub(super) fn marks(marks_s: &[f64], more: usize) -> String {
    let of = |s: &f64| format!("{} min", (s / 60.0 * 1e3).round() / 1e3);
    let all: Vec<String> = marks_s.iter().map(of).collect();
    let word = if all.len() + more > 1 {
        "marks"
    } else {
        "mark"
    };
    let rest = if more > 0 {
        format!(" and {more} more")
    } else {
        String::new()
    };
    format!("the {word} {}{rest}", all.join(", "))
}

pub(super) fn anew(at_once: bool) -> &'static str {
    if at_once {
        "They were taken to go on from the last row before, as the same instant. If they do not, write them on from there."
    } else {
        "They were taken to go on one step after the last row before. If they do not, write them on from there."
    }
}

pub(super) fn absurd(tenths: bool) -> &'static str {
    if tenths {
        "Are they tenths, as 215 for 21.5? They were taken as they stand."
    } else {
        "Look at the heading and its unit. They were taken as they stand."
    }
}

pub(super) fn meant(perhaps: Option<f64>) -> String {
    let taken = || ". It was taken as it stands.".into();
    perhaps.map_or_else(taken, |value| {
        format!("; is it {value}? It is left out until the table says so.")
    })
}

pub(super) fn looked(perhaps: Option<f64>, left_out: bool) -> String {
    match (perhaps, left_out) {
        (Some(value), _) => format!("; is it {value}? It is left out until the table says so."),
        (None, true) => ": look at it. It is left out; the table stays as it is.".into(),
        (None, false) => ": look at it. It was taken as it stands.".into(),
    }
}

pub(super) fn point(taken: bool) -> &'static str {
    if taken {
        "are evenly spaced only as minutes and seconds (1.30 for 1 min 30 s) and were read so. If they are decimal minutes, write times like 1:30."
    } else {
        "may be minutes and seconds (1.30 for 1 min 30 s); they were read as decimal minutes. If they are not, write times like 1:30."
    }
}

pub(super) fn times(episodes: u32) -> String {
    match episodes {
        0 | 1 => String::new(),
        n => format!(", the first of {n} times"),
    }
}

/// `m:ss`, or `h:mm:ss` from an hour on.
pub(super) fn clock(t_s: f64) -> String {
    let whole = t_s.abs().round() as u64;
    let sign = if t_s < 0.0 && whole > 0 { "-" } else { "" };
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 {
        format!("{sign}{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{sign}{minutes}:{seconds:02}")
    }
}

#[cfg(test)]
mod tests {
    use crate::analysis::Warning;

    #[test]
    fn one_is_told_as_one() {
        let (column, sample) = ("slate", "slate");
        for (doubt, told) in [
            (
                Warning::NotNumbers {
                    column: column.into(),
                    count: 1,
                    line: 3,
                },
                "slate: 1 cell is not a number and counts as missing (first in line 3).",
            ),
            (
                Warning::NoTime { count: 1, line: 3 },
                "1 row has no usable time and was left out (first in line 3).",
            ),
            (
                Warning::SameTime { count: 1, line: 3 },
                "1 row repeats the time of another row; the first of each time was kept (line 3 is the first dropped).",
            ),
            (
                Warning::Missing {
                    sample: sample.into(),
                    missing: 1,
                    rows: 9,
                },
                "slate: 1 of 9 values is missing.",
            ),
            (
                Warning::Late { rows: 1 },
                "1 row came late, its time not sure: nothing follows from it.",
            ),
            (
                Warning::FewRows { rows: 1 },
                "The table has only 1 row: too few to say when the lamp went on or off.",
            ),
        ] {
            assert_eq!(doubt.to_string(), told);
        }
        let many = Warning::NotNumbers {
            column: column.into(),
            count: 2,
            line: 3,
        };
        assert_eq!(
            many.to_string(),
            "slate: 2 cells are not numbers and count as missing (first in line 3)."
        );
    }
}
