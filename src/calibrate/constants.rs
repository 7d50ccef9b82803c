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

/// Fits two constants (B) or three (Steinhart–Hart) to resistances in ohms; `u_reference_degc` is the
/// standard uncertainty of the one thermometer that told all reference temperatures.
///
/// Its error is common to all points: it moves the law along, and no number of points averages it out
/// (JCGM 100:2008, 5.2.2, note 1). What a point has of its own is what the residuals show, and never less
/// than as much again: few residuals are small by luck, and as many points as constants show none.
///
/// # Errors
/// [`PointsFault`] for points that cannot come from one thermistor, or are too few.
pub fn fit_constants(
    points: &[Point],
    three: bool,
    u_reference_degc: f64,
) -> Result<FittedConstants, PointsFault> {
    let count = if three { 3 } else { 2 };
    check_ohms(points, count)?;
    let implausible = |why: &str| PointsFault::Implausible { why: why.into() };
    let Solved {
        found,
        moved,
        inverse,
        scale,
    } = solved(points, count).ok_or_else(|| implausible("the points do not tell them apart"))?;
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
    let sd = residual_sd_degc.unwrap_or(0.0).max(u_reference_degc);
    let own = &inverse * inverse.transpose();
    let lines = own.row_iter().zip(&scale).zip(&moved);
    let covariance: Vec<Vec<f64>> = lines
        .map(|((row, s), g)| {
            let both = row.iter().zip(&scale).zip(&moved);
            both.map(|((v, t), h)| sd.powi(2) * v / s / t + u_reference_degc.powi(2) * g * h)
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

/// What the least squares come to.
struct Solved {
    /// Coefficients of `1, l` or `1, l, l³`.
    found: Vec<f64>,
    /// By how much each moves if all reference temperatures are 1 °C higher.
    moved: Vec<f64>,
    /// The inverse of the triangular factor.
    inverse: DMatrix<f64>,
    /// What its columns were divided by.
    scale: Vec<f64>,
}

/// The coefficients; none if the points do not tell them apart.
fn solved(points: &[Point], count: usize) -> Option<Solved> {
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
    let (q, r) = (qr.q().transpose(), qr.r());
    let inverse = r.solve_upper_triangular(&DMatrix::identity(count, count))?;
    let answer = |to: DVector<f64>| -> Vec<f64> {
        let scaled = &inverse * (&q * to);
        scaled.iter().zip(&scale).map(|(x, s)| x / s).collect()
    };
    Some(Solved {
        found: answer(wanted),
        // A residual in 1/T is weighted by T²: that of 1 °C is −1.
        moved: answer(DVector::from_element(n, -1.0)),
        inverse,
        scale,
    })
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
mod tests;
