//! Linear least squares inside the nonlinear fit: columns projected out one after another.
//!
//! Modified Gram–Schmidt: orthogonal, no inverse, and a column that the others already span drops
//! out instead of blowing up.

use nalgebra::{DMatrix, DVector};

/// A column is taken as spanned by the others when this share of its length is left.
const SPANNED: f64 = 1e-6;

/// Sums that go on side by side in a dot product: one alone would wait for each addition.
const LANES: usize = 8;

/// Dot product.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let both = a.len().min(b.len());
    let (a, b) = (a.get(..both).unwrap_or(a), b.get(..both).unwrap_or(b));
    let ((a, a_rest), (b, b_rest)) = (a.as_chunks::<LANES>(), b.as_chunks::<LANES>());
    let mut sums = [0.0; LANES];
    for (a, b) in a.iter().zip(b) {
        for ((sum, x), y) in sums.iter_mut().zip(a).zip(b) {
            *sum += x * y;
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    sums.iter().sum::<f64>() + rest
}

/// `y += factor·x`.
pub(super) fn add_scaled(y: &mut [f64], factor: f64, x: &[f64]) {
    for (y, x) in y.iter_mut().zip(x) {
        *y += factor * x;
    }
}

/// Makes the columns orthonormal; a spanned column becomes zero.
pub(super) fn orthonormalise(columns: &mut [Vec<f64>]) {
    for j in 0..columns.len() {
        let (done, rest) = columns.split_at_mut(j);
        let Some(column) = rest.first_mut() else {
            return;
        };
        let before = dot(column, column).sqrt();
        // Twice is enough (Kahan and Parlett): the second pass removes what rounding left.
        for _ in 0..2 {
            for q in done.iter() {
                let along = dot(q, column);
                add_scaled(column, -along, q);
            }
        }
        let after = dot(column, column).sqrt();
        if after > SPANNED * before && after.is_finite() {
            for x in column.iter_mut() {
                *x /= after;
            }
        } else {
            column.fill(0.0);
        }
    }
}

/// Removes from `v` what the orthonormal `basis` spans.
pub(super) fn remove(basis: &[Vec<f64>], v: &mut [f64]) {
    for q in basis {
        let along = dot(q, v);
        add_scaled(v, -along, q);
    }
}

/// Least-squares amounts of columns, none of them negative (Lawson and Hanson 1974, chapter 23), from
/// the columns' dot products with each other and with the data.
fn not_negative(gram: &DMatrix<f64>, along: &DVector<f64>) -> Vec<f64> {
    let n = along.len();
    let mut amounts = vec![0.0; n];
    let mut active: Vec<usize> = Vec::new();
    let scale = along.amax().max(1e-300);
    for _ in 0..3 * n {
        // The column along which the misfit falls fastest joins.
        let slope = |j: usize| {
            let held = active.iter().map(|&k| at(gram, j, k) * amount(&amounts, k));
            along.get(j).copied().unwrap_or(0.0) - held.sum::<f64>()
        };
        let steepest = (0..n)
            .filter(|j| !active.contains(j) && at(gram, *j, *j) > 1e-12)
            .map(|j| (j, slope(j)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        match steepest {
            Some((j, slope)) if slope > 1e-10 * scale => active.push(j),
            _ => break,
        }
        if !settle(gram, along, &mut active, &mut amounts) {
            break;
        }
    }
    amounts
}

/// Solves for the active columns; those that would become negative leave, the first to reach nought
/// first. False where no progress is possible.
fn settle(
    gram: &DMatrix<f64>,
    along: &DVector<f64>,
    active: &mut Vec<usize>,
    amounts: &mut [f64],
) -> bool {
    let newest = active.last().copied();
    while !active.is_empty() {
        let own = DMatrix::from_fn(active.len(), active.len(), |i, j| {
            let both = active.get(i).zip(active.get(j));
            let value = both.map_or(0.0, |(&i, &j)| at(gram, i, j));
            // A trace of a ridge keeps nearly equal columns apart.
            if i == j { value * (1.0 + 1e-10) } else { value }
        });
        let right = DVector::from_iterator(
            active.len(),
            active.iter().map(|&j| along.get(j).copied().unwrap_or(0.0)),
        );
        let Some(factor) = own.cholesky() else {
            active.pop();
            return false;
        };
        let wanted = factor.solve(&right);
        let mut share = 1.0_f64;
        for (&j, &x) in active.iter().zip(wanted.iter()) {
            let now = amount(amounts, j);
            if x <= 0.0 && now - x > 0.0 {
                share = share.min(now / (now - x));
            }
        }
        for (&j, &x) in active.iter().zip(wanted.iter()) {
            if let Some(slot) = amounts.get_mut(j) {
                *slot += share * (x - *slot);
            }
        }
        if share >= 1.0 {
            return true;
        }
        let before = active.len();
        active.retain(|&j| amount(amounts, j) > 1e-14);
        for (j, slot) in amounts.iter_mut().enumerate() {
            if !active.contains(&j) {
                *slot = 0.0;
            }
        }
        // The newest column alone fell back at once: rounding, not progress.
        if active.len() == before || (before == 1 && newest.is_some()) {
            return false;
        }
    }
    true
}

fn at(gram: &DMatrix<f64>, i: usize, j: usize) -> f64 {
    gram.get((i, j)).copied().unwrap_or(0.0)
}

fn amount(amounts: &[f64], j: usize) -> f64 {
    amounts.get(j).copied().unwrap_or(0.0)
}

/// Fits `free` columns with any sign and `forced` ones with amounts of at least zero; leaves the
/// residual in `r` and returns the forced amounts.
pub(super) fn fit(free: &mut [Vec<f64>], forced: &mut [Vec<f64>], r: &mut [f64]) -> Vec<f64> {
    orthonormalise(free);
    remove(free, r);
    for column in forced.iter_mut() {
        remove(free, column);
    }
    fit_forced(forced, &[], r)
}

/// Fits columns with amounts of at least zero, each held to about nought by a row of its own, zero but
/// for its amount times a number of `held` (none for none); leaves the residual in `r`.
pub(super) fn fit_forced(forced: &[Vec<f64>], held: &[f64], r: &mut [f64]) -> Vec<f64> {
    let n = forced.len();
    let column = |i: usize| forced.get(i).map_or(&[][..], Vec::as_slice);
    let mut gram = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..=i {
            let own = held.get(i).filter(|_| i == j).map_or(0.0, |h| h * h);
            let value = dot(column(i), column(j)) + own;
            for place in [(i, j), (j, i)] {
                if let Some(slot) = gram.get_mut(place) {
                    *slot = value;
                }
            }
        }
    }
    let along = DVector::from_fn(n, |i, _| dot(column(i), r));
    let amounts = not_negative(&gram, &along);
    for (x, column) in amounts.iter().zip(forced.iter()) {
        if *x > 0.0 {
            add_scaled(r, -x, column);
        }
    }
    amounts
}

#[cfg(test)]
mod tests {
    use super::{dot, fit};

    #[test]
    fn a_spanned_column_drops_out() {
        let mut free = vec![vec![1.0; 5], vec![2.0; 5]];
        let mut r = vec![1.0, 2.0, 3.0, 4.0, 5.0];
        fit(&mut free, &mut [], &mut r);
        assert!((dot(&r, &r) - 10.0).abs() < 1e-12);
    }

    #[test]
    fn a_forced_column_never_gets_a_negative_amount() {
        let mut free = vec![vec![1.0; 4]];
        let mut forced = vec![vec![0.0, 1.0, 2.0, 3.0]];
        let mut r = vec![3.0, 2.0, 1.0, 0.0];
        let amounts = fit(&mut free, &mut forced, &mut r);
        assert!(amounts[0].abs() < 1e-12);
        assert!((dot(&r, &r) - 5.0).abs() < 1e-12);
    }

    #[test]
    fn two_forced_columns_are_solved_together() {
        let columns = [vec![1.0, 0.0, 1.0, 0.0], vec![1.0, 1.0, 0.0, 0.0]];
        let mut r: Vec<f64> = columns[0]
            .iter()
            .zip(&columns[1])
            .map(|(a, b)| 2.0 * a + 3.0 * b)
            .collect();
        let amounts = fit(&mut [], &mut columns.to_vec(), &mut r);
        assert!((amounts[0] - 2.0).abs() < 1e-6 && (amounts[1] - 3.0).abs() < 1e-6);
    }
}
