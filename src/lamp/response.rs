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

    /// Time constants in seconds, growing, each with its weight.
    pub(super) fn parts(&self) -> &[(f64, f64)] {
        &self.parts
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

    /// The same for the rows of a curve, at many edges.
    pub(super) fn on<'a>(&self, t_s: &'a [f64]) -> Rows<'a> {
        let stage = |&(tau_s, weight): &(f64, f64)| {
            let steps = t_s.iter().zip(t_s.iter().skip(1));
            let fall = steps.map(|(a, b)| ((a - b) / tau_s).exp()).collect();
            (tau_s, weight, fall)
        };
        Rows {
            t_s,
            stages: self.parts.iter().map(stage).collect(),
        }
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

/// What is left of a stage when it no longer counts: exp(-40).
pub(super) const GONE: f64 = 4e-18;

/// A chain's step response on some rows: what each stage falls to from one row to the next is worked out
/// once, and each edge takes one exponential a stage instead of one a row.
#[derive(Debug, Clone)]
pub(super) struct Rows<'a> {
    t_s: &'a [f64],
    /// Time constant in seconds, weight, and the falls.
    stages: ArrayVec<(f64, f64, Vec<f64>), 4>,
}

impl Rows<'_> {
    /// Adds `size` times the response to an edge.
    pub(super) fn add(&self, edge_s: f64, size: f64, out: &mut [f64]) {
        let from = self.t_s.partition_point(|t| *t <= edge_s);
        let (Some(first), Some(out)) = (self.t_s.get(from), out.get_mut(from..)) else {
            return;
        };
        for value in out.iter_mut() {
            *value += size;
        }
        for (tau_s, weight, fall) in &self.stages {
            let mut left = size * weight * (-(first - edge_s) / tau_s).exp();
            let least = GONE * size.abs();
            let falls = fall.get(from..).unwrap_or_default();
            for (value, fall) in out.iter_mut().zip(falls.iter().chain([&0.0])) {
                if left.abs() < least {
                    break;
                }
                *value -= left;
                left *= fall;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Chain;

    #[test]
    fn rows_hold_what_the_chain_says_at_each() {
        let chain = Chain::new(&[200.0, 6.0, 2.0]);
        let t_s: Vec<f64> = (0..300)
            .map(|i| 3.0 * f64::from(i) + 0.4 * f64::from(i % 7))
            .collect();
        let rows = chain.on(&t_s);
        let mut out = vec![0.0; t_s.len()];
        rows.add(100.5, 2.0, &mut out);
        rows.add(400.0, -1.0, &mut out);
        for (t, value) in t_s.iter().zip(&out) {
            let whole = 2.0 * chain.step(t - 100.5) - chain.step(t - 400.0);
            assert!((value - whole).abs() < 1e-12, "{t}: {value} {whole}");
        }
    }

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
