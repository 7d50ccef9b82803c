//! Lags as parameters of the fit: free about a prior, or held where they were declared.

use super::super::LampOptions;
use super::super::priors::{
    LAMP_MEDIAN_S, LAMP_SIGMA, PROBE_COMMON_SIGMA, PROBE_MEDIAN_S, PROBE_OWN_SIGMA,
};
use super::{Place, Problem};

/// One probe's lag.
#[derive(Debug, Clone, Copy)]
pub(super) enum Lag {
    /// Nothing is known but the prior: the place of its own departure from the common one.
    Free(usize),
    /// It was measured: the place of the logarithm of its departure, its median in seconds and the
    /// standard deviation of that logarithm.
    Measured(usize, f64, f64),
    /// It is held at so many seconds.
    Held(f64),
}

impl Lag {
    /// What is known of a channel's lag.
    pub(super) fn of(options: &LampOptions, channel: usize, channels: usize) -> Self {
        let Some(lag_s) = options.declared_probe_lag_s(channel, channels) else {
            return Self::Free(usize::MAX);
        };
        match options.probe_lag_u_s(channel) {
            // Log-normal with the stated mean and standard deviation, as the priors are.
            Some(u_s) if lag_s > 0.0 && u_s > 0.0 => {
                let square = (1.0 + (u_s / lag_s).powi(2)).ln();
                Self::Measured(usize::MAX, lag_s * (-0.5 * square).exp(), square.sqrt())
            }
            _ => Self::Held(lag_s),
        }
    }

    /// Nothing in the data shows it: it is held where it is most likely.
    pub(super) fn hold(&mut self) {
        *self = Self::Held(match *self {
            Self::Free(_) => 0.0,
            Self::Measured(_, median_s, _) => median_s,
            Self::Held(lag_s) => lag_s,
        });
    }

    /// Its place among the parameters, if it is free.
    pub(super) fn place(self) -> Option<usize> {
        match self {
            Self::Free(place) | Self::Measured(place, ..) => Some(place),
            Self::Held(_) => None,
        }
    }
}

impl Problem<'_> {
    pub(super) fn add_lags(&mut self, values: &mut Vec<f64>, options: &LampOptions) {
        let wide = (-2.5, 2.5);
        if self.places.iter().any(|p| matches!(p.lag, Lag::Free(_))) {
            let index = self.add(values, 0.0, wide, 1e-3);
            self.common = Some(index);
            self.priors.push((index, 0.0, PROBE_COMMON_SIGMA));
        }
        if self.terms.modes && self.places.iter().any(|p| p.lag.place().is_some()) {
            let index = self.add(values, 0.0, (-3.0, 3.0), 1e-2);
            self.split = Some(index);
            self.priors.push((index, 0.0, 1.0));
        }
        for i in 0..self.places.len() {
            let Some(lag) = self.places.get(i).map(|place| place.lag) else {
                continue;
            };
            let sigma = match lag {
                Lag::Free(_) => PROBE_OWN_SIGMA,
                Lag::Measured(_, _, sigma) => sigma,
                Lag::Held(_) => continue,
            };
            let index = self.add(values, 0.0, wide, 1e-3);
            self.priors.push((index, 0.0, sigma));
            if let Some(place) = self.places.get_mut(i) {
                place.lag = match lag {
                    Lag::Measured(_, median_s, sigma) => Lag::Measured(index, median_s, sigma),
                    _ => Lag::Free(index),
                };
            }
        }
        if options.declared_lamp_lag_s().is_none() {
            let index = self.add(values, 0.0, wide, 1e-3);
            self.lamp = Some(index);
            self.priors.push((index, 0.0, LAMP_SIGMA));
        }
    }

    /// A channel's lags with these parameters, in seconds: of its probe and of the lamp.
    pub(super) fn channel_lags(&self, place: &Place, p: &[f64]) -> (f64, f64) {
        let at = |index: usize| p.get(index).copied().unwrap_or(0.0);
        let probe = match place.lag {
            Lag::Free(own) => PROBE_MEDIAN_S * (at(own) + self.common.map_or(0.0, at)).exp(),
            Lag::Measured(own, median_s, _) => median_s * at(own).exp(),
            Lag::Held(lag_s) => lag_s,
        };
        let lamp = self
            .lamp
            .map_or(self.declared_lamp_s, |i| LAMP_MEDIAN_S * at(i).exp());
        (probe, lamp)
    }

    /// Place of the first lag among so many parameters: all from there on are lags.
    pub(super) fn first_lag(&self, count: usize) -> usize {
        let probes = self.places.iter().filter_map(|place| place.lag.place());
        let all = probes.chain(self.common).chain(self.split).chain(self.lamp);
        all.min().unwrap_or(count)
    }
}

#[cfg(test)]
mod tests;
