//! Straight lines and local polynomials by least squares.

use nalgebra::{DMatrix, DVector};

/// A straight line by ordinary least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Value at x = 0.
    pub intercept: f64,
    /// Change per unit of x.
    pub slope: f64,
    /// Standard uncertainty of the intercept, noise taken as white.
    pub u_intercept: f64,
    /// Standard uncertainty of the slope, noise taken as white.
    pub u_slope: f64,
    /// Standard deviation of the residuals, `√(RSS/(n - 2))`.
    pub residual_sd: f64,
}

/// Fits a straight line; none for fewer than three points, values that are not finite or no
/// spread in `x`.
///
/// Centred sums, so that a large offset in `x` costs no digits.
#[must_use]
pub fn fit_line(x: &[f64], y: &[f64]) -> Option<Line> {
    let n = x.len().min(y.len());
    if n < 3 {
        return None;
    }
    let mean = |v: &[f64]| v.iter().take(n).sum::<f64>() / n as f64;
    let (mx, my) = (mean(x), mean(y));
    let (mut xx, mut xy) = (0.0, 0.0);
    for (x, y) in x.iter().zip(y) {
        xx += (x - mx) * (x - mx);
        xy += (x - mx) * (y - my);
    }
    let slope = xy / xx;
    if !slope.is_finite() {
        return None;
    }
    let rss: f64 = x
        .iter()
        .zip(y)
        .map(|(x, y)| (y - my - slope * (x - mx)).powi(2))
        .sum();
    let residual_sd = (rss / (n - 2) as f64).sqrt();
    Some(Line {
        intercept: my - slope * mx,
        slope,
        u_intercept: residual_sd * (1.0 / n as f64 + mx * mx / xx).sqrt(),
        u_slope: residual_sd / xx.sqrt(),
        residual_sd,
    })
}

/// A local polynomial at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Local {
    /// Fitted value.
    pub(super) value: f64,
    /// Fitted slope.
    pub(super) slope: f64,
    /// Standard uncertainty of the value in units of the standard deviation of one point.
    pub(super) share: f64,
    /// Standard uncertainty of the slope, likewise.
    pub(super) slope_share: f64,
    /// Standard deviation of the residuals; zero if no degree of freedom is left.
    pub(super) residual_sd: f64,
}

/// Fits a polynomial of the given degree about `at` and evaluates it there, by orthogonal
/// factorisation. None if there are too few points.
pub(super) fn local(x: &[f64], y: &[f64], at: f64, degree: usize) -> Option<Local> {
    let (n, p) = (x.len(), degree + 1);
    if n < p || n != y.len() {
        return None;
    }
    let scale = x.iter().map(|x| (x - at).abs()).fold(0.0, f64::max);
    if scale <= 0.0 && degree > 0 {
        return None;
    }
    let scale = scale.max(1e-9);
    let mut powers = Vec::with_capacity(n * p);
    for k in 0..p as u16 {
        powers.extend(x.iter().map(|x| ((x - at) / scale).powi(i32::from(k))));
    }
    let qr = DMatrix::from_vec(n, p, powers).qr();
    let data = DVector::from_column_slice(y);
    let along = qr.q().transpose() * &data;
    let r = qr.r();
    let solution = r.solve_upper_triangular(&along)?;
    let inverse = r.solve_upper_triangular(&DMatrix::identity(p, p))?;
    let rss = data.norm_squared() - along.norm_squared();
    let free = n - p;
    Some(Local {
        value: *solution.get(0)?,
        slope: solution.get(1).map_or(0.0, |slope| slope / scale),
        share: inverse.row(0).norm(),
        slope_share: if degree > 0 {
            inverse.row(1).norm() / scale
        } else {
            0.0
        },
        residual_sd: if free > 0 {
            (rss.max(0.0) / free as f64).sqrt()
        } else {
            0.0
        },
    })
}

#[cfg(test)]
mod tests {
    use super::{fit_line, local};

    #[test]
    fn a_parabola_is_followed_exactly() {
        let x: Vec<f64> = (0..9).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 1.0 + 2.0 * x + 3.0 * x * x).collect();
        let fit = local(&x, &y, 4.0, 2).unwrap();
        assert!((fit.value - 57.0).abs() < 1e-9 && (fit.slope - 26.0).abs() < 1e-9);
    }

    #[test]
    fn no_spread_gives_no_line() {
        assert_eq!(fit_line(&[1.0; 5], &[1.0, 2.0, 3.0, 4.0, 5.0]), None);
        assert_eq!(fit_line(&[1.0, 2.0], &[1.0, 2.0]), None);
        assert_eq!(fit_line(&[1.0, 2.0, 3.0], &[1.0, f64::NAN, 2.0]), None);
    }
}
