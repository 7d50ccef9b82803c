//! Fewer points, the same picture: the least and the greatest of every pixel column.
//!
//! Every spike survives, because in each column the extremes are kept, in the order in which they
//! came. A point that is alone or one of two in its column is kept as it is.

use super::picture::{is_drawable_degc, is_drawable_s};

/// A run of points without a gap: time in seconds, temperature in degrees Celsius.
pub(super) type Stretch = Vec<(f64, f64)>;

/// The points of one column so far, each with its place in the curve.
struct Column {
    number: f64,
    least: (usize, f64, f64),
    greatest: (usize, f64, f64),
}

impl Column {
    fn take(&mut self, point: (usize, f64, f64)) {
        if point.2 < self.least.2 {
            self.least = point;
        }
        if point.2 > self.greatest.2 {
            self.greatest = point;
        }
    }

    fn put(&self, stretch: &mut Stretch) {
        let (a, b) = (self.least, self.greatest);
        let (first, second) = if a.0 <= b.0 { (a, b) } else { (b, a) };
        stretch.push((first.1, first.2));
        if first.0 != second.0 {
            stretch.push((second.1, second.2));
        }
    }
}

/// Thins a curve to at most two points per column, split where it has gaps.
///
/// `column` gives a time's pixel column. A gap is a value that cannot be drawn between two points
/// in different columns, or two neighbours more than `gap_s` seconds and a column apart: what is
/// narrower than a column cannot be seen.
pub(super) fn thin(
    t_s: &[f64],
    degc: &[f64],
    gap_s: f64,
    column: impl Fn(f64) -> f64,
) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    let mut stretch = Stretch::new();
    let mut current: Option<Column> = None;
    let mut last_s = f64::NEG_INFINITY;
    let mut is_broken = false;
    for (place, (&t_s, &degc)) in t_s.iter().zip(degc).enumerate() {
        if !is_drawable_s(t_s) || !is_drawable_degc(degc) {
            is_broken = true;
            continue;
        }
        let (number, point) = (libm::floor(column(t_s)), (place, t_s, degc));
        is_broken |= t_s - last_s > gap_s;
        match &mut current {
            #[expect(clippy::float_cmp, reason = "both are whole numbers")]
            Some(open) if open.number == number => open.take(point),
            _ => {
                if let Some(full) = current.take() {
                    full.put(&mut stretch);
                }
                if is_broken && !stretch.is_empty() {
                    stretches.push(core::mem::take(&mut stretch));
                }
                current = Some(Column {
                    number,
                    least: point,
                    greatest: point,
                });
            }
        }
        (last_s, is_broken) = (t_s, false);
    }
    if let Some(full) = current {
        full.put(&mut stretch);
    }
    if !stretch.is_empty() {
        stretches.push(stretch);
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    #[test]
    fn nine_points_stay_as_they_are() {
        let t: Vec<f64> = (0..9).map(|k| f64::from(k) * 60.0).collect();
        let v: Vec<f64> = (0..9).map(|k| 20.0 + f64::from(k)).collect();
        let all = thin(&t, &v, f64::INFINITY, |t| t);
        assert_eq!(all, vec![t.into_iter().zip(v).collect::<Stretch>()]);
    }

    #[test]
    fn a_gap_of_a_column_splits_and_a_narrower_one_does_not() {
        let v = [1.0, f64::NAN, 2.0, 3.0];
        let t = [0.0, 1.0, 2.0, 3.0];
        assert_eq!(thin(&t, &v, f64::INFINITY, |t| t).len(), 2);
        assert_eq!(thin(&t, &v, f64::INFINITY, |t| t * 0.1).len(), 1);
        let without_nan = [1.0, 2.0, 3.0];
        assert_eq!(thin(&[0.0, 1.0, 9.0], &without_nan, 5.0, |t| t).len(), 2);
        assert!(thin(&[0.0, 1.0], &[f64::NAN; 2], 5.0, |t| t).is_empty());
        assert!(thin(&[], &[], 5.0, |t| t).is_empty());
    }

    proptest! {
        #[test]
        fn extremes_of_every_column_survive_in_at_most_two_points(
            v in proptest::collection::vec(prop_oneof![9 => -50.0_f64..50.0, 1 => Just(f64::NAN)], 0..600),
            per_column in 1.0_f64..40.0,
        ) {
            let t: Vec<f64> = (0..v.len()).map(|k| k as f64).collect();
            let column = |t: f64| t / per_column;
            let out: Vec<(f64, f64)> = thin(&t, &v, f64::INFINITY, column).concat();
            let mut seen: HashMap<i64, (f64, f64, usize)> = HashMap::new();
            for (t, v) in &out {
                let entry = seen.entry(column(*t).floor() as i64).or_insert((*v, *v, 0));
                *entry = (entry.0.min(*v), entry.1.max(*v), entry.2 + 1);
            }
            for (t, v) in t.iter().zip(&v).filter(|(_, v)| v.is_finite()) {
                let (least, greatest, count) = seen[&(column(*t).floor() as i64)];
                prop_assert!(least <= *v && *v <= greatest && count <= 2);
            }
            prop_assert!(out.windows(2).all(|w| w[0].0 < w[1].0));
        }
    }
}
