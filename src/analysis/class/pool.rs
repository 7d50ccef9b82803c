//! One value from several benches, each with its own uncertainty: the random-effects model.
//!
//! Each bench has a true value of its own, `μ + b`, where `b` scatters between benches with the
//! standard deviation τ, and a result that is off by its own standard uncertainty `u`. τ is found by
//! R. C. Paule and J. Mandel, Consensus values and weighting factors, J. Res. Natl. Bur. Stand. 87
//! (1982) 377-385: the τ at which the weighted sum of squares `Σ (x - μ)²/(u² + τ²)` is what it is
//! expected to be, n - 1; it is 0 where the sum is smaller without any. The mean weighs with
//! `1/(u² + τ²)`, and its standard uncertainty is `1/√Σ weights` (R. DerSimonian and R. Kacker,
//! Contemporary Clinical Trials 28 (2007) 105-114, who compare this with other ways). The interval
//! takes Student's t with n - 1 degrees of freedom, as τ is found from n benches.

use serde::Serialize;

/// Fewest values that are pooled: two say next to nothing of how they scatter.
pub(super) const FEWEST: usize = 3;

/// Halvings of the interval in which τ² or t is: beyond a double's 53 bits nothing changes.
const HALVINGS: usize = 200;

/// A value pooled over benches.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Pooled {
    /// The weighted mean.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Lower end of the interval that covers 95 %.
    pub low: f64,
    /// Upper end of it.
    pub high: f64,
    /// Standard deviation between benches, τ: what they differ by beyond their uncertainties.
    pub between_sd: f64,
    /// Root mean square of the benches' own standard uncertainties.
    pub within_u: f64,
    /// Values pooled.
    pub n: usize,
}

/// Pools (value, standard uncertainty) pairs; none for fewer than three, or if one of them is not
/// finite or its uncertainty not above zero.
///
/// ```
/// let pooled = duskmark::analysis::class::paule_mandel(&[(1.9, 0.1), (2.1, 0.1), (2.0, 0.1)]).unwrap();
/// assert!((pooled.value - 2.0).abs() < 1e-12 && pooled.between_sd == 0.0);
/// ```
#[must_use]
pub fn paule_mandel(values: &[(f64, f64)]) -> Option<Pooled> {
    let n = values.len();
    let sound = |&(x, u): &(f64, f64)| x.is_finite() && u.is_finite() && u > 0.0;
    if n < FEWEST || !values.iter().all(sound) {
        return None;
    }
    let freedom = (n - 1) as f64;
    let tau2 = between(values, freedom);
    let (value, weights) = mean(values, tau2);
    let u = 1.0 / weights.sqrt();
    let reach = student_975(n - 1) * u;
    let within: f64 = values.iter().map(|(_, u)| u * u).sum();
    Some(Pooled {
        value,
        u,
        low: value - reach,
        high: value + reach,
        between_sd: tau2.sqrt(),
        within_u: (within / n as f64).sqrt(),
        n,
    })
}

/// τ²: where the sum of squares, which falls as τ² grows, is n - 1.
fn between(values: &[(f64, f64)], freedom: f64) -> f64 {
    if misfit(values, 0.0) <= freedom {
        return 0.0;
    }
    // The spread of the values is more than τ can be: there each term is below 1.
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), (x, _)| {
            (l.min(*x), h.max(*x))
        });
    let (mut low, mut high) = (0.0, (high - low).powi(2) * values.len() as f64);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if misfit(values, middle) > freedom {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Weighted mean and the sum of the weights.
fn mean(values: &[(f64, f64)], tau2: f64) -> (f64, f64) {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (x, u) in values {
        let weight = 1.0 / (u * u + tau2);
        sum += weight * x;
        weights += weight;
    }
    (sum / weights, weights)
}

fn misfit(values: &[(f64, f64)], tau2: f64) -> f64 {
    let (mean, _) = mean(values, tau2);
    values
        .iter()
        .map(|(x, u)| (x - mean).powi(2) / (u * u + tau2))
        .sum()
}

/// The t that 97.5 % of Student's distribution lie below.
fn student_975(freedom: usize) -> f64 {
    // By the angle θ = arctan(t/√ν), in which the distribution is a finite sum.
    let (mut low, mut high) = (0.0, std::f64::consts::FRAC_PI_2);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if within_angle(middle, freedom) < 0.95 {
            low = middle;
        } else {
            high = middle;
        }
    }
    (0.5 * (low + high)).tan() * (freedom as f64).sqrt()
}

/// The share of Student's distribution between -t and t for θ = arctan(t/√ν) (M. Abramowitz and
/// I. A. Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4).
fn within_angle(theta: f64, freedom: usize) -> f64 {
    let (sin, cos) = theta.sin_cos();
    let odd = freedom % 2 == 1;
    let mut term = if odd { cos } else { 1.0 };
    let mut sum = 0.0;
    let mut k = if odd { 1 } else { 0 };
    while k + 2 <= freedom {
        sum += term;
        term *= (k + 1) as f64 / (k + 2) as f64 * cos * cos;
        k += 2;
    }
    if odd {
        std::f64::consts::FRAC_2_PI * (theta + sin * sum)
    } else {
        sin * sum
    }
}
