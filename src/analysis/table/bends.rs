//! How far each value of a table lies off the lines that its neighbours make, and off what another
//! column bends there; see [`super::curve`].

/// How much more or less one sample may bend than another, as parts of their ranges.
pub(super) const ALIKE: f64 = 3.0;

/// Least range of a column, in degrees Celsius: a sample that hardly warms says nothing of others.
const LEAST_RANGE_DEGC: f64 = 0.5;

/// The bends of a table's columns: each value less the line between its neighbours.
pub(super) struct Bends {
    degc: Vec<Vec<f64>>,
    ranges: Vec<f64>,
}

impl Bends {
    pub(super) fn of(t_s: &[f64], columns: &[&[f64]]) -> Self {
        Self {
            degc: columns.iter().map(|degc| bends(t_s, degc)).collect(),
            ranges: columns.iter().map(|degc| range(degc)).collect(),
        }
    }

    /// The range of a column in degrees Celsius.
    pub(super) fn range(&self, column: usize) -> f64 {
        self.ranges.get(column).copied().unwrap_or(1.0)
    }

    /// A value less the line between its neighbours, in degrees Celsius.
    pub(super) fn bend(&self, column: usize, row: usize) -> Option<f64> {
        let bend = self.degc.get(column).and_then(|c| c.get(row)).copied();
        bend.filter(|b| b.is_finite())
    }

    /// How far a value's bend is beyond what the other columns explain, in degrees Celsius: the least
    /// over those columns; 0 without another.
    pub(super) fn off(&self, column: usize, row: usize) -> f64 {
        let bend = |column: usize| self.bend(column, row);
        let Some(own) = bend(column) else {
            return 0.0;
        };
        let others = (0..self.degc.len()).filter(|other| *other != column);
        let off = others.filter_map(|other| {
            let its = bend(other)? * self.range(column) / self.range(other);
            let (a, b) = (its / ALIKE, its * ALIKE);
            Some(own - own.clamp(a.min(b), a.max(b)))
        });
        off.min_by(|a, b| a.abs().total_cmp(&b.abs()))
            .unwrap_or(0.0)
    }
}

/// A known value and its row: row, time in seconds, degrees Celsius.
type Known = (usize, f64, f64);

fn known(t_s: &[f64], degc: &[f64]) -> Vec<Known> {
    let all = t_s.iter().zip(degc).enumerate();
    let known = all.filter(|(_, (_, v))| v.is_finite());
    known.map(|(row, (t, v))| (row, *t, *v)).collect()
}

fn bends(t_s: &[f64], degc: &[f64]) -> Vec<f64> {
    let known = known(t_s, degc);
    let mut bends = vec![f64::NAN; degc.len()];
    for three in known.windows(3) {
        let [before, own, after] = three else {
            continue;
        };
        if let Some(bend) = bends.get_mut(own.0) {
            *bend = own.2 - line(*before, Some(*after), own.1);
        }
    }
    bends
}

/// The value at a time on the line through one or two values.
fn line(near: Known, far: Option<Known>, at_s: f64) -> f64 {
    let slope = far.map_or(0.0, |far| (far.2 - near.2) / (far.1 - near.1));
    near.2 + slope * (at_s - near.1)
}

/// How far each value lies off all lines that its neighbours make, to one side, in degrees Celsius; 0
/// between them and where there is no value.
pub(super) fn lines(t_s: &[f64], degc: &[f64]) -> Vec<f64> {
    let known = known(t_s, degc);
    let mut off = vec![0.0; degc.len()];
    let at = |place: Option<usize>| place.and_then(|place| known.get(place)).copied();
    for (place, own) in known.iter().enumerate() {
        let (before, earlier) = (at(place.checked_sub(1)), at(place.checked_sub(2)));
        let (after, later) = (at(Some(place + 1)), at(Some(place + 2)));
        let of = |near: Option<Known>, far: Option<Known>| Some(own.2 - line(near?, far, own.1));
        let all = match (before, after) {
            (Some(_), Some(_)) => [of(before, earlier), of(after, later), of(before, after)],
            (near, None) => [of(near, earlier), of(near, None), None],
            (None, near) => [of(near, later), of(near, None), None],
        };
        let low = all.iter().flatten().fold(f64::INFINITY, |a, b| a.min(*b));
        let high = all
            .iter()
            .flatten()
            .fold(f64::NEG_INFINITY, |a, b| a.max(*b));
        if let Some(off) = off.get_mut(own.0).filter(|_| low.is_finite()) {
            *off = if low > 0.0 { low } else { high.min(0.0) };
        }
    }
    off
}

/// From the lowest value but one in twenty to the highest but as many, in degrees Celsius.
fn range(degc: &[f64]) -> f64 {
    let mut known: Vec<f64> = degc.iter().copied().filter(|v| v.is_finite()).collect();
    known.sort_by(f64::total_cmp);
    let cut = 1 + known.len() / 20;
    let low = known.get(cut).copied();
    let high = known.len().checked_sub(cut + 1).and_then(|i| known.get(i));
    let range = low.zip(high).map_or(0.0, |(low, high)| high - low);
    range.max(LEAST_RANGE_DEGC)
}

#[cfg(test)]
mod tests {
    use super::{Bends, lines};

    #[test]
    fn only_a_slip_is_off_all_lines() {
        let t_s: Vec<f64> = (0..9).map(|row| 60.0 * f64::from(row)).collect();
        let peak = [20.0, 22.0, 24.0, 26.0, 28.0, 26.0, 24.0, 22.0, 20.0];
        assert_eq!(lines(&t_s, &peak), [0.0; 9]);
        let mut slip = peak;
        slip[2] += 5.0;
        let off = lines(&t_s, &slip);
        assert!((off[2] - 5.0).abs() < 1e-9, "{off:?}");
        // The peak beside it is off by half as much.
        let others = off.iter().enumerate().filter(|(row, _)| *row != 2);
        assert!(others.clone().all(|(_, v)| v.abs() < 2.6), "{off:?}");
    }

    #[test]
    fn what_both_columns_do_is_not_off() {
        let t_s: Vec<f64> = (0..5).map(|row| 60.0 * f64::from(row)).collect();
        let (one, other) = (
            [20.0, 24.0, 28.0, 24.0, 20.0],
            [20.0, 22.0, 24.0, 22.0, 20.0],
        );
        let off = |other: &[f64]| Bends::of(&t_s, &[&one, other]).off(0, 2);
        assert!(off(&other).abs() < 1e-9);
        assert!(off(&[20.0, 21.0, 22.0, 23.0, 24.0]) > 3.9);
        assert!(Bends::of(&t_s, &[&one]).off(0, 2).abs() < 1e-9);
    }
}
