//! Linear least squares inside the nonlinear fit: columns projected out one after another.
//!
//! Modified Gram–Schmidt: orthogonal, no inverse, and a column that the others already span drops
//! out instead of blowing up.

/// A column is taken as spanned by the others when this share of its length is left.
const SPANNED: f64 = 1e-6;

/// Dot product.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
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

/// Least-squares amounts of one or two columns, neither of them negative.
///
/// `a`, `b`, `d` are the dot products of the columns, `g` and `h` those with the data.
fn not_negative(a: f64, b: f64, d: f64, g: f64, h: f64) -> (f64, f64) {
    let tiny = 1e-12;
    let det = a * d - b * b;
    if det > tiny * a * d {
        let (x, y) = ((g * d - h * b) / det, (h * a - g * b) / det);
        if x >= 0.0 && y >= 0.0 {
            return (x, y);
        }
    }
    let alone = |len2: f64, along: f64| {
        if len2 > tiny && along > 0.0 {
            (along / len2, along * along / len2)
        } else {
            (0.0, 0.0)
        }
    };
    let ((x, gain_x), (y, gain_y)) = (alone(a, g), alone(d, h));
    if gain_x >= gain_y { (x, 0.0) } else { (0.0, y) }
}

/// Fits `free` columns with any sign and up to two `forced` ones with amounts of at least zero;
/// leaves the residual in `r` and returns the forced amounts.
pub(super) fn fit(free: &mut [Vec<f64>], forced: &mut [Vec<f64>], r: &mut [f64]) -> [f64; 2] {
    orthonormalise(free);
    remove(free, r);
    for column in forced.iter_mut() {
        remove(free, column);
    }
    match forced {
        [] => [0.0; 2],
        [one] => {
            let (x, _) = not_negative(dot(one, one), 0.0, 0.0, dot(one, r), 0.0);
            add_scaled(r, -x, one);
            [x, 0.0]
        }
        [one, two, ..] => {
            let (x, y) = not_negative(
                dot(one, one),
                dot(one, two),
                dot(two, two),
                dot(one, r),
                dot(two, r),
            );
            add_scaled(r, -x, one);
            add_scaled(r, -y, two);
            [x, y]
        }
    }
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
        assert!((amounts[0] - 2.0).abs() < 1e-12 && (amounts[1] - 3.0).abs() < 1e-12);
    }
}
