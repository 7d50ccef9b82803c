//! Evidence for a bend in the newest part of a window of evenly spaced values.
//!
//! Two descriptions compete: a parabola, and a parabola plus a lagged ramp that began some places
//! ago. The noise is first-order autoregressive: with `x' = x - φ·x₋₁` for values, parabola and
//! ramp alike it becomes white, and a parabola stays one. The evidence is twice the logarithm of
//! the likelihood ratio with the noise's size unknown, `n·ln(RSS₀/RSS₁)`: a short window with few
//! values to judge the noise by gives less than a long one.
//!
//! The misfit's decrease for a ramp of any age follows from the parabola's residual alone,
//! `⟨h, r⟩²/|P⊥h|²`, and `h` is nought before the bend: all ages cost little more than one.

use super::project::{add_scaled, dot, orthonormalise};
use super::response::Chain;

/// Youngest and oldest bend that is looked for, in places since it began.
pub(super) const YOUNGEST: usize = 5;
pub(super) const OLDEST: usize = 45;

/// Everything that depends on a window's length and the lags only.
#[derive(Debug, Clone)]
pub(super) struct Bank {
    /// Places of the window, after whitening.
    pub(super) len: usize,
    parabola: Vec<Vec<f64>>,
    /// The lagged ramp, by places since it began.
    ramp: Vec<f64>,
    /// For each age from [`YOUNGEST`]: `|P⊥h|²`, `⟨P⊥h, P⊥h₋₁⟩`, `|P⊥h₋₁|²`.
    norms: Vec<[f64; 3]>,
}

impl Bank {
    /// Tables for windows of `len` places and lags of probe and lamp in places.
    pub(super) fn new(len: usize, lags: (f64, f64)) -> Self {
        let half = 0.5 * len as f64;
        let power = |k| move |i| ((i as f64 - half) / half).powi(k);
        let mut parabola: Vec<Vec<f64>> =
            (0..3).map(|k| (0..len).map(power(k)).collect()).collect();
        orthonormalise(&mut parabola);
        let chain = Chain::new(&[lags.0, lags.1]);
        let ramp: Vec<f64> = (0..=OLDEST).map(|u| chain.ramp(u as f64)).collect();
        let oldest = OLDEST.min(len / 2);
        let bent = |age: usize| {
            let mut h: Vec<f64> = (0..len)
                .map(|i| chain.ramp(i as f64 + 1.0 + age as f64 - len as f64))
                .collect();
            super::project::remove(&parabola, &mut h);
            h
        };
        let norms = (YOUNGEST..=oldest)
            .map(|age| {
                let (h, before) = (bent(age), bent(age - 1));
                [dot(&h, &h), dot(&h, &before), dot(&before, &before)]
            })
            .collect();
        Self {
            len,
            parabola,
            ramp,
            norms,
        }
    }

    /// What a parabola leaves of `len` values.
    pub(super) fn residual(&self, values: &[f64]) -> Vec<f64> {
        let mut r = values.to_vec();
        for q in &self.parabola {
            let along = dot(q, &r);
            add_scaled(&mut r, -along, q);
        }
        r
    }

    /// Signed evidence by age, from [`YOUNGEST`] on: positive where the slope grew.
    ///
    /// `values` hold one more than `len`; `phi` is the correlation of the noise between
    /// neighbouring places, `floor` the least standard deviation that readings can have.
    pub(super) fn evidence(&self, values: &[f64], phi: f64, floor: f64) -> Vec<f64> {
        let r = self.residual(&whitened(values, phi));
        let power = dot(&r, &r);
        let n = self.len as f64;
        // ⟨h - φ·h₋₁, r⟩ = ⟨h, r - φ·r₊₁⟩, but for the newest place, which has no next.
        let mut back: Vec<f64> = r
            .iter()
            .zip(r.iter().skip(1))
            .map(|(a, b)| a - phi * b)
            .collect();
        back.extend(r.last());
        self.norms
            .iter()
            .enumerate()
            .map(|(i, [own, cross, before])| {
                let age = i + YOUNGEST;
                let newest = back.iter().rev();
                let ramp = self.ramp.get(..=age).unwrap_or_default().iter().rev();
                let along: f64 = ramp.zip(newest).map(|(h, q)| h * q).sum();
                let square = own - 2.0 * phi * cross + phi * phi * before;
                let gain = (along * along / square.max(1e-12)).min(power);
                let rest = (power - gain).max(n * floor * floor).max(1e-18);
                along.signum() * n * (gain / rest).ln_1p()
            })
            .collect()
    }

    /// What parabola and bend leave of the whitened values.
    pub(super) fn remainder(&self, values: &[f64], phi: f64, age: usize) -> Vec<f64> {
        let mut h = self.bent(phi, age);
        super::project::remove(&self.parabola, &mut h);
        let mut r = self.residual(&whitened(values, phi));
        let along = dot(&h, &r) / dot(&h, &h).max(1e-12);
        add_scaled(&mut r, -along, &h);
        r
    }

    /// The whitened ramp of a given age over the window.
    fn bent(&self, phi: f64, age: usize) -> Vec<f64> {
        let at = |u: Option<usize>| u.and_then(|u| self.ramp.get(u)).copied().unwrap_or(0.0);
        (0..self.len)
            .map(|i| {
                let since = (i + 1 + age).checked_sub(self.len);
                at(since) - phi * at(since.and_then(|u| u.checked_sub(1)))
            })
            .collect()
    }
}

/// `x - φ·x₋₁`: one value fewer.
fn whitened(values: &[f64], phi: f64) -> Vec<f64> {
    let pairs = values.iter().zip(values.iter().skip(1));
    pairs.map(|(before, now)| now - phi * before).collect()
}

#[cfg(test)]
mod tests {
    use super::{Bank, YOUNGEST};

    fn bent(len: usize, at: f64, slope: f64) -> Vec<f64> {
        let wobble = |i: f64| 0.01 * (i * 11.3).sin();
        (0..=len)
            .map(|i| i as f64)
            .map(|i| 3.0 + 0.2 * i - 0.001 * i * i + slope * (i - at).max(0.0) + wobble(i))
            .collect()
    }

    #[test]
    fn a_parabola_shows_no_bend_and_a_bend_shows_where_it_is() {
        let bank = Bank::new(60, (0.0, 0.0));
        let none = bank.evidence(&bent(60, 50.0, 0.0), 0.0, 0.0);
        assert!(none.iter().all(|e| e.abs() < 10.0));
        let up = bank.evidence(&bent(60, 50.0, 0.1), 0.0, 0.0);
        let best = (0..up.len())
            .max_by(|a, b| up[*a].total_cmp(&up[*b]))
            .unwrap();
        // The newest of 61 values is number 60: ten places after the bend.
        assert_eq!(best + YOUNGEST, 10);
        assert!(up[best] > 100.0);
        let down = bank.evidence(&bent(60, 50.0, -0.1), 0.0, 0.0);
        assert!(down[best] < -100.0);
    }

    #[test]
    fn all_ages_at_once_agree_with_one_by_one() {
        let bank = Bank::new(60, (5.0, 1.6));
        let values = bent(60, 40.0, 0.02);
        let phi = 0.4;
        let r = bank.residual(&super::whitened(&values, phi));
        let all = bank.evidence(&values, phi, 0.0);
        for age in [5, 10, 20, 30] {
            let left = bank.remainder(&values, phi, age);
            let square = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>();
            let direct = 60.0 * (square(&r) / square(&left)).ln();
            let quick = all[age - YOUNGEST].abs();
            assert!(
                (direct - quick).abs() < 1e-6 * direct.max(1.0),
                "{age}: {direct} {quick}"
            );
        }
    }
}
