//! A thermistor's constants from its resistance at reference temperatures.
//!
//! Both laws are linear in `1/T` with `l = ln R`: `1/T = α + l/B` and `1/T = a + b·l + c·l³` (Steinhart
//! and Hart, Deep-Sea Research 15, 1968). They are fitted by least squares in temperature: a residual in
//! `1/T` is weighted by `T²`. Orthogonal factorisation, no normal equations.

use nalgebra::{DMatrix, DVector};

use super::points::{Point, PointsFault, check_ohms};
use crate::probe::{ProbeLaw, ZERO_DEGC_K};

/// 25 °C in kelvin, the reference temperature of thermistor data sheets (IEC 60539-1).
const T25_K: f64 = 298.15;

/// A law's constants.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case", tag = "law", deny_unknown_fields)]
pub enum Constants {
    /// Two: `R = R25 · exp(B · (1/T − 1/298.15 K))`.
    Beta {
        /// Resistance at 25 °C in ohms.
        r25_ohm: f64,
        /// The B value in kelvin.
        beta_k: f64,
    },
    /// Three: `1/T = a + b·ln R + c·(ln R)³`.
    SteinhartHart {
        /// Constant term in 1/K.
        a: f64,
        /// Factor of `ln R` in 1/K.
        b: f64,
        /// Factor of `(ln R)³` in 1/K.
        c: f64,
    },
}

impl Constants {
    /// The law with these constants.
    #[must_use]
    pub fn law(&self) -> ProbeLaw {
        match *self {
            Self::Beta { r25_ohm, beta_k } => ProbeLaw::Beta { r25_ohm, beta_k },
            Self::SteinhartHart { a, b, c } => ProbeLaw::SteinhartHart { a, b, c2: 0.0, c },
        }
    }

    /// Standard uncertainty of the temperature that the law gives, at a temperature in °C, from the
    /// covariance of the coefficients of `1, l` or `1, l, l³`; both in °C.
    #[must_use]
    pub fn u_at(&self, covariance: &[Vec<f64>], degc: f64) -> f64 {
        self.u_beside(covariance, degc, &[])
    }

    /// Standard uncertainty in °C of the law's error at a temperature beside its errors at others, each
    /// in °C with the share that is taken off (JCGM 100:2008, 5.2.2: one covariance for all of them).
    pub(super) fn u_beside(
        &self,
        covariance: &[Vec<f64>],
        degc: f64,
        others: &[(f64, f64)],
    ) -> f64 {
        let mut row = self.sensitivity(covariance.len(), degc);
        for (other_degc, share) in others {
            let other = self.sensitivity(covariance.len(), *other_degc);
            for (g, h) in row.iter_mut().zip(other) {
                *g -= share * h;
            }
        }
        let mut square = 0.0;
        for (g, line) in row.iter().zip(covariance) {
            for (h, c) in row.iter().zip(line) {
                square += g * c * h;
            }
        }
        square.max(0.0).sqrt()
    }

    /// By how much each coefficient moves the temperature that the law gives at one in °C.
    fn sensitivity(&self, count: usize, degc: f64) -> Vec<f64> {
        let l = self.law().signal_at(degc).ln();
        let t_k = degc + ZERO_DEGC_K;
        let moved = terms(l, count).into_iter().map(|term| -t_k * t_k * term);
        moved.collect()
    }
}

/// Constants with what is known of them.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedConstants {
    /// The constants.
    pub constants: Constants,
    /// Standard uncertainty of each, in the order in which the law names them.
    pub u: Vec<f64>,
    /// Covariance of the coefficients of `1, l` or `1, l, l³`, in 1/K².
    pub covariance: Vec<Vec<f64>>,
    /// Law minus reference at each point, in °C.
    pub residuals_degc: Vec<f64>,
    /// Standard deviation of the residuals in °C; none without a degree of freedom.
    pub residual_sd_degc: Option<f64>,
    /// Reference temperatures in °C between which the points lie.
    pub range_degc: (f64, f64),
}

impl FittedConstants {
    /// Standard uncertainty of the temperature by the fitted law, at a temperature in °C.
    #[must_use]
    pub fn u_at(&self, degc: f64) -> f64 {
        self.constants.u_at(&self.covariance, degc)
    }
}

/// The terms of the law at `l = ln R`.
fn terms(l: f64, count: usize) -> Vec<f64> {
    [1.0, l, l.powi(3)].into_iter().take(count).collect()
}

/// Fits two constants (B) or three (Steinhart–Hart) to resistances in ohms; `u_point_degc` is a point's
/// standard uncertainty where there are only as many points as constants, and the least that is believed
/// of more.
///
/// # Errors
/// [`PointsFault`] for points that cannot come from one thermistor, or are too few.
pub fn fit_constants(
    points: &[Point],
    three: bool,
    u_point_degc: f64,
) -> Result<FittedConstants, PointsFault> {
    let count = if three { 3 } else { 2 };
    check_ohms(points, count)?;
    let implausible = |why: &str| PointsFault::Implausible { why: why.into() };
    let (found, inverse, scale) =
        solved(points, count).ok_or_else(|| implausible("the points do not tell them apart"))?;
    let n = points.len();
    let constants = named(&found).ok_or_else(|| implausible("a constant is not above zero"))?;
    constants
        .law()
        .checked()
        .map_err(|fault| implausible(&fault.to_string()))?;
    let residuals_degc: Vec<f64> = points
        .iter()
        .map(|p| constants.law().degc_at(p.value) - p.reference_degc)
        .collect();
    let square: f64 = residuals_degc.iter().map(|r| r * r).sum();
    let residual_sd_degc = (n > count).then(|| (square / (n - count) as f64).sqrt());
    let sd = residual_sd_degc.unwrap_or(0.0).max(u_point_degc);
    let covariance: Vec<Vec<f64>> = (&inverse * inverse.transpose())
        .row_iter()
        .zip(&scale)
        .map(|(row, s)| {
            row.iter()
                .zip(&scale)
                .map(|(v, t)| sd * sd * v / s / t)
                .collect()
        })
        .collect();
    let reference =
        |pick: fn(f64, f64) -> f64, from| points.iter().map(|p| p.reference_degc).fold(from, pick);
    Ok(FittedConstants {
        u: uncertainties(&constants, &covariance),
        constants,
        covariance,
        residuals_degc,
        residual_sd_degc,
        range_degc: (
            reference(f64::min, f64::INFINITY),
            reference(f64::max, f64::NEG_INFINITY),
        ),
    })
}

/// Coefficients of `1, l` or `1, l, l³`, the inverse of the triangular factor, and what its columns were
/// divided by; none if the points do not tell them apart.
fn solved(points: &[Point], count: usize) -> Option<(Vec<f64>, DMatrix<f64>, Vec<f64>)> {
    let n = points.len();
    let t_k: Vec<f64> = points
        .iter()
        .map(|p| p.reference_degc + ZERO_DEGC_K)
        .collect();
    let rows: Vec<Vec<f64>> = points.iter().map(|p| terms(p.value.ln(), count)).collect();
    // Columns of like size, so that the factorisation keeps its digits.
    let scale: Vec<f64> = (0..count)
        .map(|j| {
            rows.iter()
                .filter_map(|r| r.get(j))
                .fold(0.0, |a: f64, v| a.max(v.abs()))
        })
        .collect();
    let weighted = DMatrix::from_fn(n, count, |i, j| {
        let term = rows.get(i).and_then(|r| r.get(j)).copied();
        let (t, s) = (t_k.get(i).copied(), scale.get(j).copied());
        term.unwrap_or(0.0) * t.unwrap_or(0.0).powi(2) / s.unwrap_or(1.0)
    });
    let wanted = DVector::from_iterator(n, t_k.iter().copied());
    let qr = weighted.qr();
    let r = qr.r();
    let along = qr.q().transpose() * wanted;
    let inverse = r.solve_upper_triangular(&DMatrix::identity(count, count))?;
    let scaled = &inverse * along;
    let found: Vec<f64> = scaled.iter().zip(&scale).map(|(x, s)| x / s).collect();
    Some((found, inverse, scale))
}

fn named(found: &[f64]) -> Option<Constants> {
    match *found {
        [alpha, per_beta] if per_beta > 0.0 => Some(Constants::Beta {
            r25_ohm: ((1.0 / T25_K - alpha) / per_beta).exp(),
            beta_k: 1.0 / per_beta,
        }),
        [a, b, c] => Some(Constants::SteinhartHart { a, b, c }),
        _ => None,
    }
}

/// Standard uncertainties of the constants as the law names them (JCGM 100:2008, 5.2.2).
fn uncertainties(constants: &Constants, covariance: &[Vec<f64>]) -> Vec<f64> {
    let at = |i: usize, j: usize| {
        covariance
            .get(i)
            .and_then(|r| r.get(j))
            .copied()
            .unwrap_or(0.0)
    };
    match *constants {
        Constants::Beta { r25_ohm, beta_k } => {
            let l25 = r25_ohm.ln();
            let square = at(0, 0) + 2.0 * l25 * at(0, 1) + l25 * l25 * at(1, 1);
            vec![
                r25_ohm * beta_k * square.max(0.0).sqrt(),
                beta_k * beta_k * at(1, 1).sqrt(),
            ]
        }
        Constants::SteinhartHart { .. } => (0..3).map(|i| at(i, i).sqrt()).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::points::points;
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_distr::StandardNormal;
    use rand_pcg::Pcg64;

    #[test]
    fn three_published_points_give_the_published_constants() {
        // README of the npm package steinhart-hart: three EPCOS points; the answer for 7000 Ω is
        // 307.9031 K. Constants by solving the three equations in 40 digits.
        let fit = fit_constants(
            &points(&[(-25.0, 87_041.0), (0.0, 27_326.0), (25.0, 10_000.0)]),
            true,
            0.1,
        )
        .unwrap();
        let Constants::SteinhartHart { a, b, c } = fit.constants else {
            panic!("three constants");
        };
        for (got, want) in [
            (a, 8.975_539_782_833_848e-4),
            (b, 2.501_791_479_471_128e-4),
            (c, 1.948_344_036_705_607_7e-7),
        ] {
            assert!((got / want - 1.0).abs() < 1e-9, "{got} is not {want}");
        }
        let degc = fit.constants.law().degc_at(7000.0);
        assert!((degc + ZERO_DEGC_K - 307.9031).abs() < 5e-5);
        assert!(fit.residual_sd_degc.is_none());
        assert!(fit.residuals_degc.iter().all(|r| r.abs() < 1e-8));
        // As many points as constants: at a point the law is known as well as the point.
        assert!((fit.u_at(0.0) - 0.1).abs() < 1e-4 && fit.u_at(60.0) > 0.1);
    }

    #[test]
    fn two_published_points_give_the_published_b() {
        // SEMITEC AT catalogue, 103AT-2: 10 kΩ at 25 °C, 1451 Ω at 85 °C, B25/85 = 3435 K.
        let fit = fit_constants(&points(&[(25.0, 10_000.0), (85.0, 1451.0)]), false, 0.2).unwrap();
        let Constants::Beta { r25_ohm, beta_k } = fit.constants else {
            panic!("two constants");
        };
        assert!((beta_k - 3435.4257).abs() < 1e-3 && (r25_ohm - 10_000.0).abs() < 1e-5);
        // u(R25)/R25 = B/T² · u(T): 3435/298.15² · 0.2 = 0.00773.
        assert!((fit.u[0] / 10_000.0 - 0.007_73).abs() < 1e-5, "{:?}", fit.u);
    }

    #[test]
    fn a_published_table_is_met_within_its_own_rounding() {
        // EPCOS B57330V2103 as in the Linux kernel (drivers/hwmon/ntc_thermistor.c): whole ohms.
        let table = [
            (0.0, 27_326.0),
            (10.0, 17_973.0),
            (20.0, 12_090.0),
            (25.0, 10_000.0),
            (30.0, 8311.0),
            (40.0, 5825.0),
            (50.0, 4158.0),
            (60.0, 3019.0),
            (80.0, 1668.0),
            (85.0, 1451.0),
        ];
        let three = fit_constants(&points(&table), true, 0.0).unwrap();
        assert!(
            three.residuals_degc.iter().all(|r| r.abs() < 0.02),
            "{three:?}"
        );
        let two = fit_constants(&points(&table), false, 0.0).unwrap();
        assert!(two.residual_sd_degc.unwrap() > 10.0 * three.residual_sd_degc.unwrap());
    }

    #[test]
    fn stated_uncertainties_are_the_scatter_over_repeated_calibrations() {
        let truth = ProbeLaw::Beta {
            r25_ohm: 10_000.0,
            beta_k: 3950.0,
        };
        let mut rng = Pcg64::seed_from_u64(5);
        let mut b = Vec::new();
        let mut told = 0.0;
        let mut at_30 = Vec::new();
        for _ in 0..500 {
            let pairs: Vec<(f64, f64)> = (0..9)
                .map(|i| {
                    let degc = 10.0 * f64::from(i);
                    let off: f64 = rng.sample(StandardNormal);
                    (degc + 0.2 * off, truth.signal_at(degc))
                })
                .collect();
            let fit = fit_constants(&points(&pairs), false, 0.0).unwrap();
            let Constants::Beta { beta_k, .. } = fit.constants else {
                panic!("two constants");
            };
            b.push(beta_k - 3950.0);
            told += fit.u[1].powi(2) / 500.0;
            at_30.push((
                fit.constants.law().degc_at(truth.signal_at(30.0)) - 30.0,
                fit.u_at(30.0),
            ));
        }
        let scatter = b.iter().map(|x| x * x).sum::<f64>() / 500.0;
        assert!((0.8..1.25).contains(&(told / scatter)), "{told} {scatter}");
        let inside = at_30.iter().filter(|(off, u)| off.abs() <= 2.0 * u).count();
        // Two standard uncertainties of 7 degrees of freedom cover 91 %.
        assert!((430..485).contains(&inside), "{inside}");
    }

    #[test]
    fn points_of_no_thermistor_are_refused() {
        let two = points(&[(0.0, 27_326.0), (25.0, 10_000.0)]);
        let few = fit_constants(&two, true, 0.1).unwrap_err();
        assert!(matches!(
            few,
            PointsFault::TooFew {
                given: 2,
                wanted: 3
            }
        ));
        // A kink that no law of three constants has: c comes out below zero.
        let bent = points(&[(0.0, 27_000.0), (25.0, 10_000.0), (50.0, 9_900.0)]);
        let fault = fit_constants(&bent, true, 0.1).unwrap_err();
        assert!(
            matches!(fault, PointsFault::Implausible { .. }),
            "{fault:?}"
        );
    }
}
