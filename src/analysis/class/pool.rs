//! One value from several benches, each with its own uncertainty: the random-effects model.
//!
//! Each bench has a true value of its own, `μ + b`, where `b` scatters between benches with the
//! standard deviation τ, and a result that is off by its own standard uncertainty `u`. τ is found by
//! R. C. Paule and J. Mandel, Consensus values and weighting factors, J. Res. Natl. Bur. Stand. 87
//! (1982) 377-385: the τ at which the weighted sum of squares `Σ (x - μ)²/(u² + τ²)` is what it is
//! expected to be, n - 1; it is 0 where the sum is smaller without any. The mean weighs with
//! `1/(u² + τ²)`, and its standard uncertainty is `1/√Σ weights` (R. `DerSimonian` and R. Kacker,
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

impl Pooled {
    /// What stands behind ±: the reach of the interval to its farther end.
    #[must_use]
    pub fn half(&self) -> f64 {
        (self.value - self.low).max(self.high - self.value)
    }
}

/// Pools (value, standard uncertainty) pairs; none for fewer than three, or if one of them is not
/// finite or its uncertainty not above zero.
///
/// ```
/// let pooled = duskmark::analysis::class::paule_mandel(&[(1.95, 0.1), (2.05, 0.1), (2.0, 0.1)]).unwrap();
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
    let mut k = usize::from(odd);
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

#[cfg(test)]
mod tests {
    use super::{paule_mandel, student_975};
    use rand::SeedableRng as _;
    use rand_distr::{Distribution as _, Normal};

    #[test]
    fn the_published_example_of_nine_laboratories_comes_out() {
        // R. N. Kacker, Combining information from interlaboratory evaluations using a random effects
        // model, Metrologia 41 (2004) 132-136, table 1, first row: between-laboratory standard
        // deviation by Paule and Mandel 0.8399 (data and value as quoted in the tests of statsmodels
        // 0.14, where R's metafor agrees). Mean and uncertainty: statsmodels 0.14, combine_effects.
        let results = [
            61.00, 61.40, 62.21, 62.30, 62.34, 62.60, 62.70, 62.84, 65.90,
        ];
        let variances = [
            0.2025, 1.2100, 0.0900, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225_f64,
        ];
        let pairs: Vec<(f64, f64)> = results.into_iter().zip(variances.map(f64::sqrt)).collect();
        let pooled = paule_mandel(&pairs).unwrap();
        assert!((pooled.between_sd - 0.8399).abs() < 6e-5, "{pooled:?}");
        assert!(
            (pooled.between_sd.powi(2) - 0.705_395_309_3).abs() < 1e-8,
            "{pooled:?}"
        );
        assert!((pooled.value - 62.407_620).abs() < 1e-6, "{pooled:?}");
        assert!((pooled.u - 0.338_031).abs() < 1e-6, "{pooled:?}");
    }

    #[test]
    fn students_t_is_that_of_the_table() {
        // JCGM 100:2008, table G.2, column 95 %.
        for (freedom, t) in [
            (1, 12.71),
            (2, 4.30),
            (3, 3.18),
            (4, 2.78),
            (5, 2.57),
            (9, 2.26),
            (10, 2.23),
            (20, 2.09),
            (50, 2.01),
        ] {
            let found = student_975(freedom);
            assert!((found - t).abs() < 0.0051, "{freedom}: {found}");
        }
    }

    #[test]
    fn what_cannot_be_pooled_is_not() {
        assert_eq!(paule_mandel(&[(1.0, 0.1), (1.0, 0.1)]), None);
        for bad in [
            (f64::NAN, 0.1),
            (1.0, f64::NAN),
            (1.0, 0.0),
            (1.0, -0.1),
            (f64::INFINITY, 0.1),
        ] {
            assert_eq!(
                paule_mandel(&[(1.0, 0.1), (1.1, 0.1), bad]),
                None,
                "{bad:?}"
            );
        }
    }

    #[test]
    fn the_interval_covers_what_it_says_and_the_two_spreads_are_told_apart() {
        // Benches that differ by τ = 0.05 beyond uncertainties from 0.01 to 0.04.
        let mut rng = rand_pcg::Pcg64::seed_from_u64(11);
        let between = Normal::new(2.0, 0.05).unwrap();
        for n in [5, 12, 30] {
            let (runs, mut covered, mut sum) = (2000, 0, 0.0);
            for _ in 0..runs {
                let pairs: Vec<(f64, f64)> = (0..n)
                    .map(|i| {
                        let u = 0.01 * f64::from(1 + i % 4);
                        (
                            Normal::new(between.sample(&mut rng), u)
                                .unwrap()
                                .sample(&mut rng),
                            u,
                        )
                    })
                    .collect();
                let pooled = paule_mandel(&pairs).unwrap();
                covered += u32::from(pooled.low < 2.0 && 2.0 < pooled.high);
                sum += pooled.between_sd.powi(2);
            }
            let share = f64::from(covered) / f64::from(runs);
            assert!((0.93..0.975).contains(&share), "{n}: {share}");
            let sd = (sum / f64::from(runs)).sqrt();
            assert!((sd / 0.05 - 1.0).abs() < 0.05, "{n}: {sd}");
        }
    }
}
