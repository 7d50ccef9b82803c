//! A bench as heat flows: air, lamp, and samples of two nodes each with a probe on the surface.
//!
//! For each sample, with u the lamp's output and s the sun's light (both 0 to 1):
//!
//! ```text
//! Cs·dTs/dt = P·u + S·s − Gsa·(Ts − Ta) − Gw·(Ts − Ta + D) − Gsb·(Ts − Tb)
//! Cb·dTb/dt = Gsb·(Ts − Tb) − Gba·(Tb − Ta)
//! ```
//!
//! Energy balance of lumped bodies with Newton's law of cooling (any heat-transfer textbook).
//! Within a step the inputs are held at their middle (the lamp at its exact mean), and the pair of
//! equations is solved exactly by its matrix exponential, so a step of any length is stable. The
//! matrix has two real negative eigenvalues because the flows between the nodes are symmetric.
//!
//! Functions from `libm` rather than the platform's: the same bits on every machine.

use super::air::{Air, AirSpec};
use super::bath::BathSpec;
use super::material::SampleSpec;

/// Longest step in seconds within which air, sun and lamp count as constant.
const LONGEST_STEP_S: f64 = 1.0;

/// When the lamp burns and how it comes and goes.
#[derive(Debug, Clone, PartialEq)]
pub struct LampSpec {
    /// Spans `(on_s, off_s)` in seconds, in order, not overlapping; the last may end at infinity.
    pub on_off_s: Vec<(f64, f64)>,
    /// Time constant of warming up in seconds, 0 or more.
    pub warm_up_s: f64,
    /// Time constant of the afterglow in seconds, 0 or more.
    pub afterglow_s: f64,
}

impl LampSpec {
    /// A lamp that never burns.
    #[must_use]
    pub fn dark() -> Self {
        Self {
            on_off_s: Vec::new(),
            warm_up_s: 0.0,
            afterglow_s: 0.0,
        }
    }

    /// Whether the spans are finite (but for the last end), in order and apart, and the time
    /// constants finite and not negative.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        let mut end_s = f64::NEG_INFINITY;
        let ordered = self.on_off_s.iter().all(|&(on_s, off_s)| {
            let good = on_s.is_finite() && on_s > end_s && off_s > on_s;
            end_s = off_s;
            good
        });
        let constants = [self.warm_up_s, self.afterglow_s];
        ordered && constants.iter().all(|v| v.is_finite() && *v >= 0.0)
    }

    /// Whether the lamp is switched on at a time, and when that next changes.
    fn state_at(&self, t_s: f64) -> (bool, f64) {
        for &(on_s, off_s) in &self.on_off_s {
            if t_s < on_s {
                return (false, on_s);
            }
            if t_s < off_s {
                return (true, off_s);
            }
        }
        (false, f64::INFINITY)
    }
}

/// A bench of samples under a lamp, advanced through time.
#[derive(Debug, Clone)]
pub struct ThermalBench {
    now_s: f64,
    air: Air,
    lamp: LampSpec,
    lamp_output: f64,
    bodies: Vec<Body>,
    /// Where the probes stand, if not on the samples.
    bath: Option<BathSpec>,
}

impl ThermalBench {
    /// A bench at time 0, at rest with its air, the lamp cold.
    #[must_use]
    pub fn new(air: AirSpec, lamp: LampSpec, samples: &[SampleSpec], seed: u64) -> Self {
        let air = Air::new(air, seed);
        let (air_degc, sun) = (air.degc_at(0.0), air.sun_at(0.0));
        let bodies = samples
            .iter()
            .map(|spec| Body::at_rest(spec, air_degc, sun))
            .collect();
        Self {
            now_s: 0.0,
            air,
            lamp,
            lamp_output: 0.0,
            bodies,
            bath: None,
        }
    }

    /// The same bench with its probes in the air or in a bath.
    #[must_use]
    pub fn with_probes_in(mut self, bath: Option<BathSpec>) -> Self {
        self.bath = bath;
        let air_degc = self.air.degc_at(self.now_s);
        for (channel, body) in self.bodies.iter_mut().enumerate() {
            if let Some(bath) = bath {
                body.tip_degc = bath.around(channel, self.now_s, air_degc);
            }
        }
        self
    }

    /// Advances to a time in seconds; a time in the past, or NaN, changes nothing.
    pub fn advance_to(&mut self, t_s: f64) {
        while self.now_s < t_s {
            let (is_on, change_s) = self.lamp.state_at(self.now_s);
            let moved_s = self.bath.map_or(f64::INFINITY, |b| b.next_s(self.now_s));
            let end_s = t_s
                .min(change_s)
                .min(moved_s)
                .min(self.now_s + LONGEST_STEP_S);
            self.step(end_s - self.now_s, is_on);
            self.now_s = end_s;
        }
    }

    fn step(&mut self, h_s: f64, lamp_is_on: bool) {
        let (target, constant_s) = if lamp_is_on {
            (1.0, self.lamp.warm_up_s)
        } else {
            (0.0, self.lamp.afterglow_s)
        };
        let away = self.lamp_output - target;
        let decay = decay(h_s, constant_s);
        let mean_output = target + away * constant_s * (1.0 - decay) / h_s;
        self.lamp_output = target + away * decay;
        let middle_s = self.now_s + 0.5 * h_s;
        let (air_degc, sun) = (self.air.degc_at(middle_s), self.air.sun_at(middle_s));
        for (channel, body) in self.bodies.iter_mut().enumerate() {
            let tip_degc = body.tip_degc;
            body.step(h_s, air_degc, mean_output, sun);
            if let Some(bath) = self.bath {
                let around = bath.around(channel, middle_s, air_degc);
                let left = self::decay(h_s, body.spec.probe.lag_s);
                body.tip_degc = around + (tip_degc - around) * left;
            }
        }
    }

    /// The time reached, in seconds.
    #[must_use]
    pub fn now_s(&self) -> f64 {
        self.now_s
    }

    /// Air temperature now, in degrees Celsius.
    #[must_use]
    pub fn air_degc(&self) -> f64 {
        self.air.degc_at(self.now_s)
    }

    /// The lamp's output now, 0 to 1.
    #[must_use]
    pub fn lamp_output(&self) -> f64 {
        self.lamp_output
    }

    /// Surface temperature of each sample now, in degrees Celsius.
    pub fn surface_degc(&self) -> impl Iterator<Item = f64> + '_ {
        self.bodies.iter().map(|body| body.surface_degc)
    }

    /// Temperature of each probe's tip now, in degrees Celsius, without the probe's own offset.
    pub fn tip_degc(&self) -> impl Iterator<Item = f64> + '_ {
        self.bodies.iter().map(|body| body.tip_degc)
    }
}

/// Share of an exponential that is left after a time; nothing if its constant is zero.
pub(super) fn decay(h_s: f64, constant_s: f64) -> f64 {
    if constant_s > 0.0 {
        libm::exp(-h_s / constant_s)
    } else {
        0.0
    }
}

/// One sample's state.
#[derive(Debug, Clone)]
struct Body {
    spec: SampleSpec,
    surface_degc: f64,
    bulk_degc: f64,
    tip_degc: f64,
    /// The solution for the last step's length: nearly all steps have the same.
    solved: Option<Propagator>,
}

impl Body {
    fn at_rest(spec: &SampleSpec, air_degc: f64, sun: f64) -> Self {
        let (surface, bulk) = steady_state(spec, air_degc, 0.0, sun);
        let above = spec.start_above_rest_degc;
        Self {
            spec: spec.clone(),
            surface_degc: surface + above,
            bulk_degc: bulk + above,
            tip_degc: surface + above,
            solved: None,
        }
    }

    fn step(&mut self, h_s: f64, air_degc: f64, lamp: f64, sun: f64) {
        let p = match self.solved {
            #[expect(
                clippy::float_cmp,
                reason = "a cache key: only the very same step may reuse it"
            )]
            Some(solved) if solved.h_s == h_s => solved,
            _ => Propagator::new(&self.spec, h_s),
        };
        self.solved = Some(p);
        let (rest_surface, rest_bulk) = steady_state(&self.spec, air_degc, lamp, sun);
        let (ds, db) = (self.surface_degc - rest_surface, self.bulk_degc - rest_bulk);
        let before = self.surface_degc;
        self.surface_degc = rest_surface + p.from_surface.0 * ds + p.from_bulk.0 * db;
        self.bulk_degc = rest_bulk + p.from_surface.1 * ds + p.from_bulk.1 * db;
        // The tip follows a surface that moves evenly through the step: exact for a ramp.
        let behind = self.spec.probe.lag_s * (self.surface_degc - before) / h_s;
        self.tip_degc =
            self.surface_degc - behind + (self.tip_degc - before + behind) * p.tip_decay;
    }
}

/// Temperatures of surface and bulk at which nothing changes any more.
fn steady_state(spec: &SampleSpec, air_degc: f64, lamp: f64, sun: f64) -> (f64, f64) {
    let power_w =
        spec.lamp_w * lamp + spec.sun_w * sun - spec.wet_w_per_k * spec.wet_below_air_degc;
    let out = spec.surface_air_w_per_k + spec.wet_w_per_k;
    let (across, down) = (spec.surface_bulk_w_per_k, spec.bulk_air_w_per_k);
    // Heat reaches the air straight from the surface and, in series, through the bulk.
    let surface = power_w / (out + across * down / (across + down));
    (
        air_degc + surface,
        air_degc + surface * across / (across + down),
    )
}

/// The exact solution over one step: how deviations from the steady state carry over.
#[derive(Debug, Clone, Copy)]
struct Propagator {
    h_s: f64,
    /// What one degree at the surface leaves at surface and bulk.
    from_surface: (f64, f64),
    /// What one degree in the bulk leaves at surface and bulk.
    from_bulk: (f64, f64),
    tip_decay: f64,
}

impl Propagator {
    /// With the mean m and half the difference q of the eigenvalues,
    /// `exp(A·h) = e^{m·h}·(cosh(q·h)·I + sinh(q·h)/q·(A − m·I))`.
    fn new(spec: &SampleSpec, h_s: f64) -> Self {
        let across = spec.surface_bulk_w_per_k;
        let out = spec.surface_air_w_per_k + spec.wet_w_per_k + across;
        let a11 = -out / spec.surface_j_per_k;
        let a12 = across / spec.surface_j_per_k;
        let a21 = across / spec.bulk_j_per_k;
        let a22 = -(spec.bulk_air_w_per_k + across) / spec.bulk_j_per_k;
        let m = 0.5 * (a11 + a22);
        let half = 0.5 * (a11 - a22);
        let q = libm::sqrt(half * half + a12 * a21);
        let (slow, fast) = (libm::exp((m + q) * h_s), libm::exp((m - q) * h_s));
        let cosh = 0.5 * (slow + fast);
        // Equal eigenvalues: the limit of sinh(q·h)/q is h.
        let sinh = if q * h_s > 1e-9 {
            0.5 * (slow - fast) / q
        } else {
            h_s * slow
        };
        Self {
            h_s,
            from_surface: (cosh + sinh * half, sinh * a21),
            from_bulk: (sinh * a12, cosh - sinh * half),
            tip_decay: decay(h_s, spec.probe.lag_s),
        }
    }
}

#[cfg(test)]
#[path = "thermal_tests.rs"]
mod tests;
