//! Step response of a chain of first-order stages.

use arrayvec::ArrayVec;

/// Stages shorter than this many seconds are left out: they change no reading.
const SHORTEST_S: f64 = 1e-4;

/// Two stages closer than this ratio are set apart, so that partial fractions stay finite.
const APART: f64 = 1.02;

/// A chain of up to four first-order stages, driven by a unit step at time zero.
///
/// With distinct time constants, `S(u) = 1 - Σᵢ wᵢ·exp(-u/τᵢ)`, `wᵢ = Πⱼ τᵢ/(τᵢ - τⱼ)`
/// (partial fractions of the chain's transfer function).
#[derive(Debug, Clone)]
pub(super) struct Chain {
    parts: ArrayVec<(f64, f64), 4>,
}

impl Chain {
    /// A chain of the given time constants in seconds; those of zero drop out.
    pub(super) fn new(stages_s: &[f64]) -> Self {
        let mut taus: ArrayVec<f64, 4> = stages_s
            .iter()
            .copied()
            .filter(|&tau| tau > SHORTEST_S)
            .take(4)
            .collect();
        taus.sort_by(f64::total_cmp);
        let mut last = 0.0;
        for tau in &mut taus {
            if *tau < last * APART {
                *tau = last * APART;
            }
            last = *tau;
        }
        let parts = taus
            .iter()
            .enumerate()
            .map(|(i, &tau)| {
                let weight = taus
                    .iter()
                    .enumerate()
                    .filter(|&(j, _)| j != i)
                    .map(|(_, &other)| tau / (tau - other))
                    .product();
                (tau, weight)
            })
            .collect();
        Self { parts }
    }

    /// Response `u_s` seconds after the step: 0 before it, towards 1 after.
    pub(super) fn step(&self, u_s: f64) -> f64 {
        if u_s <= 0.0 {
            return 0.0;
        }
        let missing: f64 = self
            .parts
            .iter()
            .map(|&(tau, weight)| {
                let x = u_s / tau;
                if x > 40.0 { 0.0 } else { weight * (-x).exp() }
            })
            .sum();
        1.0 - missing
    }

    /// Response to a unit ramp that starts at time zero: the integral of [`Self::step`].
    pub(super) fn ramp(&self, u_s: f64) -> f64 {
        if u_s <= 0.0 {
            return 0.0;
        }
        let behind: f64 = self
            .parts
            .iter()
            .map(|&(tau, weight)| -weight * tau * (-u_s / tau).exp_m1())
            .sum();
        u_s - behind
    }
}

#[cfg(test)]
mod tests {
    use super::Chain;

    #[test]
    fn one_stage_is_the_textbook_exponential() {
        let chain = Chain::new(&[100.0, 0.0]);
        assert!((chain.step(100.0) - (1.0 - (-1.0_f64).exp())).abs() < 1e-12);
        assert!(chain.step(-1.0).abs() < 1e-12);
    }

    #[test]
    fn near_equal_stages_stay_close_to_the_double_pole() {
        // Two equal stages: S(u) = 1 - (1 + u/τ)·exp(-u/τ).
        let chain = Chain::new(&[50.0, 50.0]);
        for u in [1.0, 10.0, 50.0, 200.0] {
            let x: f64 = u / 50.0;
            let exact = 1.0 - (1.0 + x) * (-x).exp();
            assert!((chain.step(u) - exact).abs() < 0.01, "u = {u}");
        }
    }

    #[test]
    fn the_ramp_is_the_integral_of_the_step() {
        let chain = Chain::new(&[200.0, 6.0, 2.0]);
        let h = 0.01;
        let sum: f64 = (0..10_000)
            .map(|i| chain.step((f64::from(i) + 0.5) * h) * h)
            .sum();
        assert!((chain.ramp(100.0) - sum).abs() < 1e-4);
    }
}
