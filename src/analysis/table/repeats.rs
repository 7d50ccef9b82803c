//! A row of a table that was written twice.

/// Least change from row to row, in degrees Celsius, that all columns must show around such a row, and that
/// one of them must; and the same in steps of their readings.
const ALL: (f64, f64) = (0.2, 1.5);
const ONE: (f64, f64) = (0.6, 2.5);

/// The first row with exactly the values of the row before it where all of at least two columns, in
/// degrees Celsius, were changing before it and went on to after it. Where the lamp went on or off between
/// two such rows nobody can tell.
pub(super) fn repeated(columns: &[&[f64]]) -> Option<usize> {
    let rows = columns.iter().map(|degc| degc.len()).min()?;
    let least = |degc: &[f64], row: usize| {
        let at = |row: usize| degc.get(row).copied().unwrap_or(f64::NAN);
        let same = (at(row) - at(row - 1)).abs() < 1e-9;
        let (before, after) = (at(row - 1) - at(row - 2), at(row + 1) - at(row));
        let changing = same && before * after > 0.0;
        if changing {
            before.abs().min(after.abs())
        } else {
            0.0
        }
    };
    let steps: Vec<f64> = columns.iter().map(|degc| step(degc)).collect();
    let is = |row: &usize| {
        let beyond = |(degc, step): (&&[f64], &f64), (degrees, of_steps): (f64, f64)| {
            least(degc, *row) > (of_steps * step).max(degrees)
        };
        let mut both = columns.iter().zip(&steps);
        both.clone().all(|column| beyond(column, ALL)) && both.any(|column| beyond(column, ONE))
    };
    let found = (2..rows.saturating_sub(1)).find(is);
    found.filter(|_| columns.len() > 1)
}

/// The least difference between two values that are not the same, in degrees Celsius.
pub(super) fn step(degc: &[f64]) -> f64 {
    let mut known: Vec<f64> = degc.iter().copied().filter(|v| v.is_finite()).collect();
    known.sort_by(f64::total_cmp);
    let steps = known.iter().zip(known.iter().skip(1)).map(|(a, b)| b - a);
    steps.filter(|s| *s > 1e-6).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::repeated;

    #[test]
    fn only_what_was_changing_can_be_a_row_written_twice() {
        let slate = [22.0, 25.1, 27.5, 27.5, 30.9, 31.9, 32.8, 33.4];
        let moss = [21.0, 23.1, 24.6, 24.6, 26.2, 26.7, 27.0, 27.3];
        assert_eq!(repeated(&[&slate, &moss]), Some(3));
        // One column alone may well stand still, and both where nothing changes or the lamp goes off.
        assert_eq!(repeated(&[&slate]), None);
        assert_eq!(
            repeated(&[&slate, &[21.0, 23.1, 24.6, 25.5, 26.2, 26.7, 27.0, 27.3]]),
            None
        );
        let flat = [21.0, 21.0, 21.1, 21.1, 21.0, 21.0, 21.1, 21.1];
        assert_eq!(repeated(&[&flat, &flat]), None);
        let peak = [22.0, 25.1, 27.5, 27.5, 25.0, 23.5, 22.8, 22.4];
        assert_eq!(repeated(&[&peak, &peak]), None);
        // Half degrees repeat by themselves.
        let half = [22.0, 22.5, 23.0, 23.0, 23.5, 24.0, 24.5, 25.0];
        assert_eq!(repeated(&[&half, &half]), None);
    }
}
