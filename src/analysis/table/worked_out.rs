//! Columns that people worked out from others, or that are no temperatures: means, sums, quotients, rises
//! above the first value, the same in another unit, the lamp as 0 and 1, a group's number.
//!
//! The numbers decide, within the rounding of what is written. Where the heading has the word for it, so
//! many rows in ten are enough, for people also miscalculate; where it has not, every row must agree, and
//! the columns must change by much more than their rounding.

use super::column::Column;
use super::head::Scale;
use crate::analysis::Warning;
use crate::analysis::series::printed_step_degc;
use crate::analysis::warning::WorkedOut;

/// Of so many rows in ten the numbers must agree where the heading has the word.
const ROWS_IN_TEN: usize = 8;

/// Least rows, with the word and without.
const ROWS: (usize, usize) = (3, 8);

/// How far a column must change to be known by its numbers alone, in parts of what rounding explains.
const CHANGE: f64 = 8.0;

/// Most columns that are looked at: among more, three agree by chance sooner.
const MOST: usize = 24;

/// The words in headings, in lower case.
const MEAN: [&str; 9] = [
    "mean",
    "average",
    "avg",
    "mittel",
    "mittelwert",
    "durchschnitt",
    "moyenne",
    "ø",
    "Ø",
];
const SUM: [&str; 6] = ["sum", "total", "summe", "gesamt", "somme", "Σ"];
const QUOTIENT: [&str; 5] = ["ratio", "quotient", "verhältnis", "rapport", "factor"];
const RISE: [&str; 8] = [
    "rise",
    "increase",
    "anstieg",
    "erwärmung",
    "zunahme",
    "hausse",
    "augmentation",
    "gain",
];
const GROUP: [&str; 8] = [
    "group", "gruppe", "groupe", "team", "tisch", "bench", "class", "klasse",
];
const LAMP: [&str; 6] = ["lamp", "lampe", "light", "licht", "on", "an"];

/// A column's numbers as they were written.
struct Written {
    values: Vec<f64>,
    step: f64,
    range: f64,
    words: Vec<String>,
}

impl Written {
    fn of(column: &Column) -> Self {
        let values: Vec<f64> = column
            .degc
            .iter()
            .map(|v| column.scale.of_degc(*v))
            .collect();
        let known = || values.iter().copied().filter(|v| v.is_finite());
        let low = known().fold(f64::INFINITY, f64::min);
        let high = known().fold(f64::NEG_INFINITY, f64::max);
        let lower = column.heading.to_lowercase();
        let words = lower.split(|c: char| c.is_whitespace() || "_-/()[]:,".contains(c));
        Self {
            step: printed_step_degc(&values).unwrap_or(0.1),
            range: (high - low).max(0.0),
            words: words.map(str::to_owned).collect(),
            values,
        }
    }

    fn has(&self, list: &[&str]) -> bool {
        self.words.iter().any(|word| list.contains(&word.as_str()))
    }

    fn first(&self) -> f64 {
        let known = self.values.iter().copied().find(|v| v.is_finite());
        known.unwrap_or(f64::NAN)
    }

    fn at(&self, row: usize) -> f64 {
        self.values.get(row).copied().unwrap_or(f64::NAN)
    }

    /// Whether its rows are what is worked out from others, each with how far rounding explains.
    fn agrees(&self, named: bool, worked_out: impl Fn(usize) -> (f64, f64)) -> bool {
        let (mut rows, mut same, mut within) = (0, 0, 0.0_f64);
        for (row, own) in self.values.iter().enumerate() {
            let (value, rounding) = worked_out(row);
            let off = (own - value).abs();
            if !off.is_finite() {
                continue;
            }
            let rounding = rounding + 0.5 * self.step + 1e-6;
            rows += 1;
            same += usize::from(off <= rounding);
            within = within.max(rounding);
            if !named && same < rows {
                return false;
            }
        }
        if named {
            rows >= ROWS.0 && same * 10 >= rows * ROWS_IN_TEN
        } else {
            rows >= ROWS.1 && self.range >= CHANGE * within
        }
    }
}

/// Leaves out columns that hold no sample of their own, saying so.
pub(super) fn worked_out(columns: &mut Vec<Column>, warnings: &mut Vec<Warning>) {
    if columns.len() < 2 || columns.len() > MOST {
        return;
    }
    let written: Vec<Written> = columns.iter().map(Written::of).collect();
    let mut left: Vec<usize> = (0..columns.len()).collect();
    // What was worked out stands behind what it comes from.
    for at in (0..columns.len()).rev() {
        let others: Vec<usize> = left.iter().copied().filter(|i| *i != at).collect();
        let Some(own) = columns.get(at).filter(|_| !others.is_empty()) else {
            continue;
        };
        let column = own.heading.clone();
        let name = |i: &usize| columns.get(*i).map_or(String::new(), |c| c.name.clone());
        let found = if is_no_temperature(own, written.get(at)) {
            Some(Warning::ColumnLeftOut { column })
        } else {
            let found = found(columns, &written, at, &others);
            found.map(|(how, from)| Warning::WorkedOut {
                column,
                how,
                from: from.iter().map(name).collect(),
            })
        };
        if let Some(found) = found {
            left.retain(|i| *i != at);
            warnings.push(found);
        }
    }
    let mut at = 0..;
    columns.retain(|_| at.next().is_some_and(|at| left.contains(&at)));
}

/// The lamp as 0 and 1, or the number of a group, which is the same in all rows.
fn is_no_temperature(column: &Column, written: Option<&Written>) -> bool {
    let Some(own) = written.filter(|_| !column.states_unit()) else {
        return false;
    };
    let known = || own.values.iter().copied().filter(|v| v.is_finite());
    let is = |v: f64, whole: f64| (v - whole).abs() < 1e-9;
    let switch = known().count() >= ROWS.0 && known().all(|v| is(v, 0.0) || is(v, 1.0));
    let both = known().any(|v| is(v, 0.0)) && known().any(|v| is(v, 1.0));
    let number = known().count() >= ROWS.0
        && own.range < 1e-9
        && known().all(|v| is(v, v.round()) && (0.0..1000.0).contains(&v));
    switch && (both || own.has(&LAMP)) || number && own.has(&GROUP)
}

/// How a column was worked out, and from which.
fn found(
    columns: &[Column],
    written: &[Written],
    at: usize,
    others: &[usize],
) -> Option<(WorkedOut, Vec<usize>)> {
    let own = written.get(at)?;
    let pairs = || {
        let all = others.iter().copied();
        all.clone()
            .flat_map(move |a| all.clone().map(move |b| (a, b)))
    };
    let of = |i: usize| written.get(i);
    let same = others.iter().copied().find(|i| {
        let scales = columns.get(at).zip(columns.get(*i));
        scales
            .zip(of(*i))
            .is_some_and(|((own_column, other), its)| is_same(own, own_column, its, other))
    });
    if let Some(same) = same {
        return Some((WorkedOut::OtherUnit, vec![same]));
    }
    let rise = others
        .iter()
        .copied()
        .find(|i| of(*i).is_some_and(|its| is_rise(own, its)));
    if let Some(of) = rise {
        return Some((WorkedOut::Rise, vec![of]));
    }
    let quotient = pairs().find(|(a, b)| {
        let both = of(*a).zip(of(*b)).filter(|_| a != b);
        both.is_some_and(|(a, b)| is_quotient(own, a, b))
    });
    if let Some((a, b)) = quotient {
        return Some((WorkedOut::Quotient, vec![a, b]));
    }
    let groups = pairs().filter(|(a, b)| a < b).map(|(a, b)| vec![a, b]);
    let all = (others.len() > 2).then(|| others.to_vec());
    groups.chain(all).find_map(|group| {
        let parts: Vec<&Written> = group.iter().filter_map(|i| of(*i)).collect();
        let how = if is_sum(own, &parts, 1.0 / parts.len() as f64, &MEAN) {
            WorkedOut::Mean
        } else if is_sum(own, &parts, 1.0, &SUM) {
            WorkedOut::Sum
        } else {
            return None;
        };
        Some((how, group))
    })
}

/// Whether a column is another one in another unit.
fn is_same(own: &Written, column: &Column, its: &Written, other: &Column) -> bool {
    let as_fahrenheit = |row| (1.8 * its.at(row) + 32.0, 0.9 * its.step);
    let as_celsius = |row| ((its.at(row) - 32.0) / 1.8, 0.28 * its.step);
    let as_kelvin = |row| (its.at(row) + 273.15, 0.5 * its.step + 0.15);
    let from_kelvin = |row| (its.at(row) - 273.15, 0.5 * its.step + 0.15);
    let stated = column.scale != other.scale;
    let fits = |f: &dyn Fn(usize) -> (f64, f64)| own.agrees(false, f);
    let unknown = column.scale == Scale::Celsius && other.scale == Scale::Celsius;
    (stated || unknown)
        && (fits(&as_fahrenheit) || fits(&as_celsius) || fits(&as_kelvin) || fits(&from_kelvin))
}

/// Whether a column is how far another one is above its first value, or above one value.
fn is_rise(own: &Written, its: &Written) -> bool {
    let named = own.has(&RISE);
    let base = its.first() - own.first();
    let zero = own.first().abs() <= 0.5 * own.step + 1e-6;
    let far = base.abs() > its.step;
    (named || zero) && far && own.agrees(named, |row| (its.at(row) - base, its.step))
}

fn is_quotient(own: &Written, a: &Written, b: &Written) -> bool {
    let rounding = |row: usize| 0.5 * (a.step + own.at(row).abs() * b.step) / b.at(row).abs();
    let worked_out = |row: usize| (a.at(row) / b.at(row), rounding(row));
    own.agrees(own.has(&QUOTIENT), worked_out)
}

/// Whether a column is so many times the sum of others, none of which is all of it.
fn is_sum(own: &Written, parts: &[&Written], by: f64, words: &[&str]) -> bool {
    let named = own.has(words);
    let rounding = 0.5 * by * parts.iter().map(|p| p.step).sum::<f64>();
    let sum = |row: usize| by * parts.iter().map(|p| p.at(row)).sum::<f64>();
    let apart = || {
        let rows = 0..own.values.len();
        let spread = |row: usize| {
            let all = || parts.iter().map(|p| p.at(row));
            all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min)
        };
        rows.map(spread).fold(0.0, f64::max) >= CHANGE * (rounding + own.step)
    };
    own.agrees(named, |row| (sum(row), rounding)) && (named || apart())
}

#[cfg(test)]
mod tests {
    use super::super::read_table;

    /// Invented: slate and moss, a minute a row.
    const ROWS: [(f64, f64); 10] = [
        (21.5, 20.7),
        (21.4, 20.6),
        (23.8, 21.4),
        (25.9, 22.3),
        (27.6, 22.9),
        (29.0, 23.6),
        (30.1, 24.1),
        (28.2, 23.5),
        (26.4, 22.8),
        (25.1, 22.3),
    ];

    fn names(heading: &str, cell: impl Fn(usize, f64, f64) -> String) -> (Vec<String>, String) {
        let mut text = format!("min,slate,moss,{heading}\n");
        for (row, (a, b)) in ROWS.iter().enumerate() {
            text.push_str(&format!("{row},{a:.1},{b:.1},{}\n", cell(row, *a, *b)));
        }
        let table = read_table(text.as_bytes()).unwrap();
        let names = table.series.channels.iter().map(|c| c.name.clone());
        let said: Vec<String> = table.warnings.iter().map(ToString::to_string).collect();
        (names.collect(), said.join(" "))
    }

    #[test]
    fn what_was_worked_out_is_known_by_its_numbers_and_no_sample() {
        type Cell = fn(usize, f64, f64) -> String;
        let cases: [(&str, Cell, &str); 6] = [
            (
                "x",
                |_, a, b| format!("{:.2}", 0.5 * (a + b)),
                "the mean of slate, moss",
            ),
            (
                "x",
                |_, a, b| format!("{:.1}", a + b),
                "the sum of slate, moss",
            ),
            (
                "x",
                |_, a, b| format!("{:.3}", a / b),
                "slate divided by moss",
            ),
            (
                "x",
                |_, a, _| format!("{:.1}", a - 21.5),
                "slate less its first value",
            ),
            (
                "x °F",
                |_, a, _| format!("{:.1}", 1.8 * a + 32.0),
                "slate in another unit",
            ),
            (
                "x",
                |_, _, b| format!("{:.1}", 1.8 * b + 32.0),
                "moss in another unit",
            ),
        ];
        for (heading, cell, how) in cases {
            let (found, said) = names(heading, cell);
            assert_eq!(found, ["slate", "moss"], "{how}: {said}");
            assert!(said.contains(how), "{how}: {said}");
        }
    }

    #[test]
    fn a_word_helps_where_somebody_miscalculated() {
        let wrong = |row: usize, a: f64, b: f64| {
            let slip = if row == 4 { 0.4 } else { 0.0 };
            format!("{:.2}", 0.5 * (a + b) + slip)
        };
        assert_eq!(names("Mittelwert", wrong).0, ["slate", "moss"]);
        assert_eq!(names("moss dry", wrong).0.len(), 3);
    }

    #[test]
    fn the_lamp_and_a_group_are_no_samples() {
        let lamp = |row: usize, _: f64, _: f64| u8::from((2..7).contains(&row)).to_string();
        assert_eq!(names("x", lamp).0, ["slate", "moss"]);
        assert_eq!(names("Gruppe", |_, _, _| "3".into()).0, ["slate", "moss"]);
        assert_eq!(names("pH", |_, _, _| "6.0".into()).0, ["slate", "moss"]);
        // A room may well stand still.
        assert_eq!(names("room", |_, _, _| "20".into()).0.len(), 3);
    }

    #[test]
    fn samples_that_do_much_the_same_stay() {
        // Two trays of slate side by side, and one between slate and moss.
        let near =
            |row: usize, a: f64, _: f64| format!("{:.1}", a + 0.1 * f64::from(row as u8 % 3));
        assert_eq!(names("slate 2", near).0.len(), 3);
        let between =
            |row: usize, a: f64, b: f64| format!("{:.1}", 0.5 * (a + b) + 0.3 * (row as f64).sin());
        assert_eq!(names("moss dry", between).0.len(), 3);
    }
}
