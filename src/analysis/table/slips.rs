//! Slips of the pen in a table by hand: told, never mended, and left out where it is plain what was meant
//! or where no curve can do that. What only the neighbours in time give away is [`super::curve`]'s.
//!
//! A value counts as a slip where it lies beyond Tukey's outer fences (three interquartile ranges beyond
//! the quartiles; J. W. Tukey, *Exploratory Data Analysis*, 1977, named from memory), or beyond the inner
//! ones (half as far) and far from the rows before and after it, which no peak is. No fence is nearer
//! than [`LEAST_DEGC`]. What was meant is named where moving the decimal sign or swapping two neighbouring
//! digits brings the value among the others.

use super::column::Column;
use super::curve::{Curve, Odd, odd};
use super::head::Scale;
use crate::analysis::Warning;

/// Rows from which on quartiles say something, and beyond which nobody writes by hand.
const ROWS: std::ops::RangeInclusive<usize> = 5..=1000;

/// Least distance of a fence from its quartile, in degrees Celsius: a spoon of cold water moves a
/// sample by as much in a minute.
const LEAST_DEGC: f64 = 15.0;

/// How far from the quartiles' range what was meant may be, in degrees Celsius.
const AMONG_DEGC: f64 = 5.0;

/// Most slips told of one column.
const MOST: usize = 3;

/// Rooms that people sit in: a table that begins above is likely to be in another unit, in degrees
/// Celsius.
const WARMEST_ROOM_DEGC: f64 = 45.0;

/// What a sample in a lesson can be, in degrees Celsius: from a freezer to where its lamp would be on fire.
pub(super) const COLDEST_DEGC: f64 = -60.0;
pub(super) const HOTTEST_DEGC: f64 = 150.0;

/// Numbers that are a room's and a lit sample's temperature in degrees Fahrenheit, and in kelvins.
const FAHRENHEIT: (f64, f64) = (45.0, 160.0);
const KELVIN: (f64, f64) = (270.0, 345.0);

/// What is odd in the columns of a table whose times are in seconds, with the line of each row; and the
/// values that are to be left out for it, by column and row.
pub(super) fn slips(
    t_s: &[f64],
    columns: &[Column],
    line: impl Fn(usize) -> u64,
) -> Vec<(Vec<(usize, usize)>, Warning)> {
    let mut all = Vec::new();
    let mut curves = Vec::new();
    for (place, column) in columns.iter().enumerate() {
        let (scale, mut degc) = (column.scale, column.degc.clone());
        for (row, doubt) in far_off(&column.heading, scale, &column.degc, &line) {
            if let Some(value) = row.and_then(|row| degc.get_mut(row)) {
                *value = f64::NAN;
            }
            all.push((row.map(|row| (place, row)).into_iter().collect(), doubt));
        }
        curves.push(Curve { scale, degc });
    }
    for found in odd(t_s, curves) {
        let (places, doubt) = told(found, columns, &line);
        // What nothing else explains is told once, and then with what is done about it.
        all.retain(|(_, other)| !is_same(other, &doubt));
        all.push((places, doubt));
    }
    all
}

/// Whether two doubts are about one value.
fn is_same(far: &Warning, off: &Warning) -> bool {
    match (far, off) {
        (
            Warning::Slip { column, line, .. },
            Warning::OffCurve {
                column: other,
                line: at,
                ..
            },
        ) => column == other && line == at,
        _ => false,
    }
}

/// What does not fit the rows around it, in words, and what is left out for it.
fn told(
    found: Odd,
    columns: &[Column],
    line: impl Fn(usize) -> u64,
) -> (Vec<(usize, usize)>, Warning) {
    let heading = |column: usize| {
        columns
            .get(column)
            .map_or(String::new(), |c| c.heading.clone())
    };
    match found {
        Odd::Value {
            column,
            row,
            perhaps,
            left_out,
        } => {
            let own = columns.get(column);
            let written = own.and_then(|c| Some(c.scale.of_degc(*c.degc.get(row)?)));
            let doubt = Warning::OffCurve {
                column: heading(column),
                line: line(row),
                written: written.unwrap_or(f64::NAN),
                perhaps,
                left_out,
            };
            let places = if left_out {
                vec![(column, row)]
            } else {
                Vec::new()
            };
            (places, doubt)
        }
        Odd::Swapped {
            columns: (one, other),
            row,
        } => {
            let doubt = Warning::Swapped {
                line: line(row),
                one: heading(one),
                other: heading(other),
            };
            (vec![(one, row), (other, row)], doubt)
        }
        Odd::Repeated { row } => {
            let places = (0..columns.len()).map(|column| (column, row)).collect();
            (places, Warning::RowRepeated { line: line(row) })
        }
    }
}

/// What is odd in one column of degrees Celsius, with the line of each of its rows; and the row that is to
/// be left out, where there is one.
fn far_off(
    column: &str,
    scale: Scale,
    degc: &[f64],
    line: impl Fn(usize) -> u64,
) -> Vec<(Option<usize>, Warning)> {
    if let Some(unit) = other_unit(scale, degc) {
        let column = column.to_owned();
        return vec![(None, Warning::OtherUnit { column, unit })];
    }
    if let Some(tenths) = absurd(degc) {
        let column = column.to_owned();
        return vec![(None, Warning::Absurd { column, tenths })];
    }
    let Some(usual) = Usual::of(degc) else {
        return Vec::new();
    };
    let odd = (0..degc.len()).filter(|row| usual.is_odd(degc, *row));
    let odd = odd.filter_map(|row| Some((row, *degc.get(row)?)));
    odd.take(MOST)
        .map(|(row, value)| {
            let perhaps = usual.meant(scale, scale.of_degc(value));
            let doubt = Warning::Slip {
                column: column.to_owned(),
                line: line(row),
                written: scale.of_degc(value),
                perhaps,
            };
            (perhaps.map(|_| row), doubt)
        })
        .collect()
}

/// The unit that a column which was read in degrees Celsius is likely to be in.
fn other_unit(scale: Scale, degc: &[f64]) -> Option<&'static str> {
    if scale != Scale::Celsius {
        return None;
    }
    let known = || degc.iter().copied().filter(|v| v.is_finite());
    let all_in = |(low, high): (f64, f64)| known().all(|v| (low..=high).contains(&v));
    if known().next()? <= WARMEST_ROOM_DEGC {
        return None;
    }
    match () {
        () if all_in(FAHRENHEIT) => Some("°F"),
        () if all_in(KELVIN) => Some("K"),
        () => None,
    }
}

/// Whether a whole column is colder or hotter than any lesson's sample, in degrees Celsius; and whether it
/// would be none of that in tenths.
fn absurd(degc: &[f64]) -> Option<bool> {
    let known = || degc.iter().copied().filter(|v| v.is_finite());
    let outside = |v: f64| !(COLDEST_DEGC..=HOTTEST_DEGC).contains(&v);
    let all = known().count() >= *ROWS.start() && known().all(outside);
    let tenths = known().all(|v| (0.0..=WARMEST_ROOM_DEGC * 20.0).contains(&v));
    all.then_some(tenths)
}

/// Where most values of a column lie, in degrees Celsius.
#[derive(Debug, Clone, Copy)]
struct Usual {
    low: f64,
    high: f64,
}

impl Usual {
    /// The quartiles; none for too few or too many values.
    fn of(degc: &[f64]) -> Option<Self> {
        let mut known: Vec<f64> = degc.iter().copied().filter(|v| v.is_finite()).collect();
        if !ROWS.contains(&known.len()) {
            return None;
        }
        known.sort_by(f64::total_cmp);
        let quarter = known.len() / 4;
        Some(Self {
            low: *known.get(quarter)?,
            high: *known.get(known.len() - 1 - quarter)?,
        })
    }

    /// Whether a value lies beyond fences so many interquartile ranges away.
    fn is_beyond(self, degc: f64, ranges: f64) -> bool {
        let fence = (ranges * (self.high - self.low)).max(LEAST_DEGC);
        degc < self.low - fence || degc > self.high + fence
    }

    fn is_odd(self, degc: &[f64], row: usize) -> bool {
        let Some((before, [value, after @ ..])) = degc.split_at_checked(row) else {
            return false;
        };
        let known = |v: &&f64| v.is_finite();
        let before = before.iter().rfind(known);
        let mut neighbours = before.into_iter().chain(after.iter().find(known));
        let is_alone = neighbours.all(|v| (v - value).abs() > LEAST_DEGC);
        self.is_beyond(*value, 3.0) || (self.is_beyond(*value, 1.5) && is_alone)
    }

    /// What was meant by a number that is far from all others.
    fn meant(self, scale: Scale, written: f64) -> Option<f64> {
        let moved = [0.1, 0.01, 10.0, 100.0].map(|by| (written * by * 100.0).round() / 100.0);
        let middle = 0.5 * (self.low + self.high);
        let far = |v: f64| (scale.to_degc(v) - middle).abs();
        let near = moved.into_iter().chain(swapped(written));
        let near = near.filter(|v| far(*v) <= 0.5 * (self.high - self.low) + AMONG_DEGC);
        near.min_by(|a, b| far(*a).total_cmp(&far(*b)))
    }
}

/// The number with each two neighbouring digits swapped.
pub(super) fn swapped(written: f64) -> Vec<f64> {
    let text = format!("{written}");
    let digits: Vec<usize> = text
        .bytes()
        .enumerate()
        .filter_map(|(i, b)| b.is_ascii_digit().then_some(i))
        .collect();
    let pairs = digits.iter().zip(digits.iter().skip(1));
    pairs
        .filter_map(|(&a, &b)| {
            let mut bytes = text.clone().into_bytes();
            bytes.swap(a, b);
            String::from_utf8(bytes).ok()?.parse().ok()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented: slate on a tray, every two minutes.
    const SLATE: [f64; 11] = [
        23.4, 28.8, 31.3, 33.1, 34.3, 35.2, 30.4, 28.2, 26.6, 25.6, 24.8,
    ];

    type Doubts = Vec<(Option<usize>, Warning)>;

    fn doubts(change: impl Fn(&mut [f64; 11])) -> Doubts {
        let mut degc = SLATE;
        change(&mut degc);
        far_off("slate", Scale::Celsius, &degc, |row| row as u64 + 2)
    }

    fn slip(written: f64, perhaps: Option<f64>) -> Doubts {
        let (column, line) = ("slate".to_owned(), 9);
        let doubt = Warning::Slip {
            column,
            line,
            written,
            perhaps,
        };
        vec![(perhaps.map(|_| 7), doubt)]
    }

    #[test]
    fn a_sound_table_has_none() {
        assert_eq!(doubts(|_| {}), []);
        // Where the lamp is strong, and where a sample hardly warms but was cold at first.
        assert_eq!(doubts(|t| t.iter_mut().for_each(|v| *v *= 1.2)), []);
        let mut cold = [22.0; 11];
        cold[0] = 9.0;
        assert_eq!(far_off("moss", Scale::Celsius, &cold, |_| 1), []);
    }

    #[test]
    fn a_decimal_sign_that_is_missing_or_moved_is_seen() {
        assert_eq!(doubts(|t| t[7] = 282.0), slip(282.0, Some(28.2)));
        assert_eq!(doubts(|t| t[7] = 2820.0), slip(2820.0, Some(28.2)));
        assert_eq!(doubts(|t| t[7] = 2.82), slip(2.82, Some(28.2)));
    }

    #[test]
    fn swapped_digits_are_seen_where_they_lead_far_away() {
        assert_eq!(doubts(|t| t[7] = 82.2), slip(82.2, Some(28.2)));
    }

    #[test]
    fn a_number_that_nothing_explains_is_told_all_the_same() {
        assert_eq!(doubts(|t| t[7] = -999.0), slip(-999.0, None));
    }

    #[test]
    fn a_column_in_another_unit_is_one_doubt_and_not_many() {
        let unit = |unit| {
            let column = "slate".into();
            vec![(None, Warning::OtherUnit { column, unit })]
        };
        let every = |f: fn(f64) -> f64| doubts(move |t| t.iter_mut().for_each(|v| *v = f(*v)));
        assert_eq!(every(|v| v * 1.8 + 32.0), unit("°F"));
        assert_eq!(every(|v| v + 273.15), unit("K"));
        // A heading that says so has been believed.
        let degf: Vec<f64> = SLATE.to_vec();
        assert_eq!(far_off("slate", Scale::Fahrenheit, &degf, |_| 1), []);
    }

    #[test]
    fn a_whole_column_that_no_lesson_has_is_asked_about() {
        let every = |f: fn(f64) -> f64| doubts(move |t| t.iter_mut().for_each(|v| *v = f(*v)));
        let absurd = |tenths| {
            let column = "slate".into();
            vec![(None, Warning::Absurd { column, tenths })]
        };
        assert_eq!(every(|v| v * 10.0), absurd(true));
        assert_eq!(every(|v| v * 1000.0), absurd(false));
        assert_eq!(every(|v| v - 300.0), absurd(false));
        // A kiln's probe beside a slip is no whole column.
        assert_eq!(every(|v| v * 6.0), []);
    }

    #[test]
    fn a_slip_is_told_in_the_unit_it_was_written_in() {
        let mut degc = SLATE;
        degc[7] = Scale::Fahrenheit.to_degc(828.0);
        let found = far_off("slate", Scale::Fahrenheit, &degc, |row| row as u64 + 2);
        assert_eq!(found, slip(828.0, Some(82.8)));
    }
}
