//! Parts of the sentences that doubts make.

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
