//! What is held of lags and of surfaces before the data are seen.

/// Log-normal priors, by the mean and standard deviation stated in [`LampOptions`]:
/// σ² = ln(1 + sd²/mean²), median = mean·exp(-σ²/2). The probes' σ of 0.47 is split into a part
/// common to all probes of a bench and each probe's own.
pub(super) const PROBE_MEDIAN_S: f64 = 5.37;
pub(super) const PROBE_COMMON_SIGMA: f64 = 0.42;
pub(super) const PROBE_OWN_SIGMA: f64 = 0.21;
pub(super) const LAMP_MEDIAN_S: f64 = 1.6;
pub(super) const LAMP_SIGMA: f64 = 0.668;

/// A surface node settles within some tens of seconds: log-normal prior for its time constant,
/// wide enough for a thin leaf and a stone tile (common practice, no source).
pub(super) const SURFACE_MEDIAN_S: f64 = 40.0;
pub(super) const SURFACE_SIGMA: f64 = 0.8;

/// A probe's lag as one stage or two.
///
/// A bead in a sheath, or a probe pressed on a sample, lags in more than one stage; how the whole
/// is split decides how gently an edge sets in. Standing for one in the fit, a number with a
/// standard normal prior: from two equal stages (far below nought) to one alone (far above).
pub(super) fn stages(lag_s: f64, split: Option<f64>) -> [f64; 2] {
    let Some(z) = split else {
        return [lag_s, 0.0];
    };
    let larger = 0.5 + 0.5 / (1.0 + (-1.5 * z).exp());
    [lag_s * larger, lag_s * (1.0 - larger)]
}
