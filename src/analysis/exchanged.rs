//! Samples that change places: from a row on each one's values go on in the other's column.
//!
//! Plugs that are put back the wrong way round do that, and columns of a table. Nothing that a lamp does is
//! like it: both columns jump at once, in opposite directions, each to where the other was, by much more
//! than either moves from row to row before and after.

use std::borrow::Cow;

use super::{RowsWarning, Series, Warning};

/// Least distance between the two, in degrees Celsius, and in largest movements of the rows around.
const APART: f64 = 1.0;
const MOVES: f64 = 5.0;

/// How far each may be from where the other was, in movements, or as a part of the distance: a pause may
/// be between.
const NEAR: f64 = 2.0;
const PART: f64 = 0.15;

/// Least movement that is taken for one, in degrees Celsius.
const LEAST: f64 = 0.05;

/// Rows to each side that say where both were, and the least that there must be.
const ROWS: usize = 4;
const FEWEST: usize = 3;

/// Rows that may stand between: one that was read while plugs were pulled.
const BETWEEN: usize = 1;

/// Most such changes that are told and put right.
const MOST: usize = 3;

/// What is to be told of samples that change places.
pub(super) fn exchanged(series: &Series) -> Vec<Warning> {
    let told = |(row, one, other): (usize, usize, usize)| {
        let name = |place: usize| Some(series.channels.get(place)?.name.clone());
        let doubt = RowsWarning::ChangedPlaces {
            one: name(one)?,
            other: name(other)?,
            at_s: *series.t_s.get(row)?,
            row: row + 1,
        };
        Some(doubt.into())
    };
    all_changes(series).into_iter().filter_map(told).collect()
}

/// The series with the columns of such samples put right again: what results follow from. Without, they would be of
/// neither, and the change would pass for a lamp.
pub(super) fn put_right(series: Cow<'_, Series>) -> Cow<'_, Series> {
    let found = all_changes(&series);
    if found.is_empty() {
        return series;
    }
    let mut right = series.into_owned();
    for (row, one, other) in found {
        let Ok(both) = right.channels.get_disjoint_mut([one, other]) else {
            continue;
        };
        let [one, other] = both.map(|channel| channel.degc.get_mut(row..).unwrap_or_default());
        one.swap_with_slice(other);
    }
    Cow::Owned(right)
}

/// Rows from which on two channels are exchanged, with the places of these, in order of time.
fn all_changes(series: &Series) -> Vec<(usize, usize, usize)> {
    let mut found = Vec::new();
    for (one, first) in series.channels.iter().enumerate() {
        for (other, second) in series.channels.iter().enumerate().skip(one + 1) {
            let rows = changes(&first.degc, &second.degc);
            found.extend(rows.into_iter().map(|row| (row, one, other)));
        }
    }
    found.sort_unstable();
    found.truncate(MOST);
    found
}

/// A row with both values in degrees Celsius.
type Both = (usize, f64, f64);

/// The rows from which on two columns of degrees Celsius are exchanged. A month of rows is held once only:
/// what is around a row is gathered where the two swap their order there.
fn changes(one: &[f64], other: &[f64]) -> Vec<usize> {
    let at = |row: usize| -> Option<Both> {
        let (a, b) = (*one.get(row)?, *other.get(row)?);
        (a.is_finite() && b.is_finite()).then_some((row, a, b))
    };
    let rows = one.len().min(other.len());
    let mut found: Vec<usize> = Vec::new();
    let mut before: [Option<Both>; BETWEEN + 1] = [None; BETWEEN + 1];
    // How many rows ago the last change was.
    let mut since = FEWEST;
    for own in (0..rows).filter_map(at) {
        let swapped = before.iter().flatten().any(|before| swap(*before, own));
        if swapped && since >= FEWEST {
            let mut around: Vec<Both> = (0..own.0)
                .rev()
                .filter_map(at)
                .take(ROWS + BETWEEN)
                .collect();
            around.reverse();
            let behind = around.len();
            around.extend((own.0..rows).filter_map(at).take(ROWS));
            let begins = (behind.saturating_sub(BETWEEN)..=behind).rev();
            let mut begins = begins.filter(|begin| is_change(&around, *begin, behind));
            if let Some((row, ..)) = begins.next().and_then(|begin| around.get(begin)) {
                found.push(*row);
                since = 0;
            }
        }
        since += 1;
        before.rotate_right(1);
        if let Some(first) = before.first_mut() {
            *first = Some(own);
        }
    }
    found
}

/// Whether the higher of the two is the lower one, both times by far.
fn swap((_, a, b): Both, (_, c, d): Both) -> bool {
    (a - b) * (c - d) < 0.0 && (a - b).abs() >= APART && (c - d).abs() >= APART
}

/// Whether the two are exchanged from the row `behind` on, as they were before the row `at`.
fn is_change(known: &[Both], at: usize, behind: usize) -> bool {
    let before = known.get(at.saturating_sub(ROWS)..at).unwrap_or_default();
    let after = known.get(behind..known.len().min(behind + ROWS));
    let after = after.unwrap_or_default();
    let (Some(last), Some(first)) = (before.last(), after.first()) else {
        return false;
    };
    if !swap(*last, *first) || before.len() < FEWEST || after.len() < FEWEST {
        return false;
    }
    let ((_, a, b), (_, c, d)) = (*last, *first);
    let apart = (a - b).abs();
    let moved = movement(before).max(movement(after)).max(LEAST);
    let near = (NEAR * moved).max(PART * apart);
    apart >= MOVES * moved && (d - a).abs() <= near && (c - b).abs() <= near
}

/// The largest step of either value in these rows.
fn movement(rows: &[Both]) -> f64 {
    let pairs = rows.iter().zip(rows.iter().skip(1));
    let steps = pairs.map(|((_, a, b), (_, c, d))| (c - a).abs().max((d - b).abs()));
    steps.fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Channel;

    fn series(step_s: f64, columns: [(&str, Vec<f64>); 2]) -> Series {
        let rows = columns[0].1.len();
        Series {
            t_s: (0..rows).map(|i| step_s * i as f64).collect(),
            channels: columns
                .map(|(name, degc)| Channel {
                    name: name.into(),
                    degc,
                    resolution_degc: None,
                    u_common_degc: None,
                })
                .into(),
            unsure: Vec::new(),
        }
    }

    /// Invented: heating from the 60th second on, cooling from the 660th, of so many degrees.
    fn sample(t: f64, degrees: f64, start: f64) -> f64 {
        let gone = |from: f64| 1.0 - (-(t - from).max(0.0) / 200.0).exp();
        let noise = 0.02 * (12.9898 * t).sin();
        ((start + degrees * (gone(60.0) - gone(660.0)) + noise) * 100.0).round() / 100.0
    }

    fn lesson(step_s: f64, swapped_from_s: f64, between: usize) -> Series {
        let rows = (1320.0 / step_s) as usize;
        let at = |i: usize| step_s * i as f64;
        let first = (0..rows).find(|i| at(*i) >= swapped_from_s).unwrap_or(rows);
        let values = |(own, other): ((f64, f64), (f64, f64))| -> Vec<f64> {
            (0..rows)
                .map(|i| {
                    let one = sample(at(i), own.0, own.1);
                    let two = sample(at(i), other.0, other.1);
                    match i {
                        i if i < first => one,
                        i if i < first + between => 0.5 * (one + two),
                        _ => two,
                    }
                })
                .collect()
        };
        let (slate, moss) = ((10.0, 22.0), (5.0, 20.0));
        series(
            step_s,
            [
                ("slate", values((slate, moss))),
                ("moss", values((moss, slate))),
            ],
        )
    }

    #[test]
    fn exchanged_plugs_are_told_with_the_row() {
        for (step_s, from_s, between) in [
            (1.0, 494.0, 0),
            (2.0, 20.0, 0),
            (4.0, 1000.0, 1),
            (30.0, 390.0, 0),
            (10.0, 500.0, 1),
        ] {
            let found = exchanged(&lesson(step_s, from_s, between));
            let [
                Warning::Rows(RowsWarning::ChangedPlaces {
                    one,
                    other,
                    at_s,
                    row,
                }),
            ] = &found[..]
            else {
                panic!("{step_s} s, {from_s} s: {found:?}");
            };
            assert_eq!((one.as_str(), other.as_str()), ("slate", "moss"));
            assert!(
                (at_s - from_s).abs() < 1e-6 && ((*row as f64 - 1.0) * step_s - at_s).abs() < 1e-6
            );
        }
        let text = exchanged(&lesson(2.0, 494.0, 0))[0].to_string();
        assert!(
            text.starts_with("slate and moss seem to have changed places at 8:14 (row 248)"),
            "{text}"
        );
    }

    #[test]
    fn columns_are_put_right_from_there_on() {
        let whole = lesson(2.0, 1e9, 0);
        let right = put_right(Cow::Owned(lesson(2.0, 494.0, 0)));
        assert_eq!(*right, whole);
        assert!(matches!(put_right(Cow::Borrowed(&whole)), Cow::Borrowed(_)));
    }

    #[test]
    fn what_lamps_and_spoons_do_is_no_change_of_places() {
        assert_eq!(exchanged(&lesson(1.0, 1e9, 0)), []);
        // Curves that cross, a lamp that is put above the other sample, values of one row that are swapped,
        // two that are stirred to one temperature.
        let line = |from: f64, by: f64| {
            (0..40)
                .map(|i| from + by * f64::from(i))
                .collect::<Vec<f64>>()
        };
        let lamp = |low: f64, high: f64| -> Vec<f64> {
            let gone = |i: i32| 1.0 - (-f64::from((i - 20).max(0)) / 3.0).exp();
            (0..40).map(|i| low + (high - low) * gone(i)).collect()
        };
        let once = |own: f64, other: f64| -> Vec<f64> {
            (0..40).map(|i| if i == 20 { other } else { own }).collect()
        };
        let stirred =
            |own: f64| -> Vec<f64> { (0..40).map(|i| if i < 20 { own } else { 24.0 }).collect() };
        for (slate, moss) in [
            (line(20.0, 0.2), line(28.0, -0.2)),
            (lamp(30.0, 22.0), lamp(22.0, 30.0)),
            (once(30.0, 22.0), once(22.0, 30.0)),
            (stirred(30.0), stirred(20.0)),
        ] {
            let found = exchanged(&series(2.0, [("slate", slate), ("moss", moss)]));
            assert_eq!(found, []);
        }
    }
}
