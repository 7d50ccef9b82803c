//! From raw rows to what is fitted: spikes left out, rows averaged in blocks.

mod slips;

use slips::slips;

use super::noise::{from_differences, inflation, median, resolution, robust_sd};

/// Half-width in readings of the window in which a spike is judged.
const SPIKE_REACH: usize = 4;

/// A reading this many robust standard deviations from its neighbours' median is a spike
/// (Hampel's identifier with a wide gate, so that honest noise stays).
const SPIKE_GATE: f64 = 6.0;

/// Most rows that count as few, by a person and by a logger, and the least time between them in seconds, on average.
/// Of tenths a person is taken to have written fewer.
const FEW_ROWS: usize = 64;
const TENTHS_ROWS: usize = 40;
const FEWER_ROWS: usize = 16;
const FEW_APART_S: f64 = 25.0;

/// Standard uncertainty of the instant of a reading by hand (common practice, no source).
const READER_S: f64 = 3.0;

/// Within this many seconds of an edge no row is left aside.
const EDGE_S: f64 = 60.0;

/// A residual of this many standard deviations is no noise: a touched probe, a draught.
const STRANGE: f64 = 5.0;

/// A number for each value of a curve, which takes no memory while all are one: a month of raw
/// rows would need 20 MB for nothing.
#[derive(Debug, Clone, Default)]
pub(crate) struct Each(Option<Vec<f64>>);

impl Each {
    /// The numbers in order; without an end where all are one.
    pub(crate) fn iter(&self) -> impl Iterator<Item = f64> + '_ {
        let ones = self.0.is_none().then_some(1.0).into_iter().cycle();
        self.0.iter().flatten().copied().chain(ones)
    }

    /// Those of some values.
    pub(crate) fn part(&self, from: usize, to: usize) -> Self {
        let part = |all: &Vec<f64>| all.get(from..to).unwrap_or_default().to_vec();
        Self(self.0.as_ref().map(part))
    }
}

impl From<Vec<f64>> for Each {
    fn from(all: Vec<f64>) -> Self {
        Self(Some(all))
    }
}

/// One channel, ready to be fitted: only finite values, in order of time.
#[derive(Debug, Clone, Default)]
pub(crate) struct Curve {
    /// Index of the channel in the input.
    pub(crate) channel: usize,
    /// Times in seconds.
    pub(crate) t_s: Vec<f64>,
    /// Temperatures in degrees Celsius.
    pub(crate) degc: Vec<f64>,
    /// How many rows each value is the mean of.
    pub(crate) rows: Each,
    /// Huber's weight of each value, 0 to 1.
    pub(crate) trust: Each,
    /// Standard deviation of one row, in degrees Celsius, greater than zero.
    pub(crate) sd_degc: f64,
    /// Smallest standard deviation believed: the resolution's share, or a trace of the range.
    pub(crate) floor_degc: f64,
    /// Factor by which correlation inflates variances, at least 1.
    pub(crate) inflation: f64,
    /// Whether a person read it.
    pub(super) by_eye: bool,
}

impl Curve {
    /// Square roots of the weights: what a residual is multiplied with.
    pub(crate) fn root_weights(&self) -> impl Iterator<Item = f64> + '_ {
        let scale = self.sd_degc * self.inflation.sqrt();
        let both = self.rows.iter().zip(self.trust.iter());
        let all = self.t_s.iter().zip(both);
        all.map(move |(_, (n, trust))| (n * trust).sqrt() / scale)
    }

    /// Weights from residuals in degrees Celsius: full trust within 2.5 standard deviations, then
    /// falling off with distance (Huber's), and faster from [`STRANGE`] on: a touch lasts many
    /// rows, which together would still pull.
    ///
    /// Not so within a minute of the edges: there a model that is not yet right leaves such
    /// residuals too, and without those rows it would never become right.
    pub(crate) fn reweigh(&mut self, residual_degc: &[f64], edges_s: &[f64]) {
        let far = |((r, n), t): ((&f64, f64), &f64)| {
            let z = r.abs() * n.sqrt() / self.sd_degc;
            let huber = (2.5 / z.max(1e-300)).min(1.0);
            if edges_s.iter().any(|e| (t - e).abs() < EDGE_S) {
                huber
            } else {
                huber * (STRANGE / z.max(1e-300)).min(1.0).powi(2)
            }
        };
        let all = residual_degc.iter().zip(self.rows.iter()).zip(&self.t_s);
        self.trust = all.map(far).collect::<Vec<f64>>().into();
    }

    /// The same curve over other rows of its own, each worth one reading.
    pub(crate) fn part(&self, t_s: &[f64], degc: &[f64]) -> Self {
        Self {
            rows: Each::default(),
            trust: Each::default(),
            t_s: t_s.to_vec(),
            degc: degc.to_vec(),
            ..*self
        }
    }

    /// Averaged in even blocks, so that about `points` remain.
    pub(crate) fn thinned(&self, points: usize) -> Self {
        thinned(self, points, &[], 0.0)
    }

    /// Measures noise and correlation from residuals of a fit, in degrees Celsius.
    pub(crate) fn measure(&mut self, residual_degc: &[f64], dof_share: f64) {
        let per_row: Vec<f64> = residual_degc
            .iter()
            .zip(self.rows.iter())
            .map(|(r, n)| r * n.sqrt())
            .collect();
        let n = per_row.len().max(1) as f64;
        let rms = (per_row.iter().map(|v| v * v).sum::<f64>() / n).sqrt();
        let sd = robust_sd(&per_row);
        // Between the two: robust, but not fooled by coarse steps where most residuals vanish.
        let sd = if sd > 0.0 {
            rms.min(1.3 * sd).max(sd)
        } else {
            rms
        };
        self.sd_degc = (sd / dof_share.clamp(0.1, 1.0).sqrt()).max(self.floor_degc);
        let limit = STRANGE * sd.max(self.floor_degc);
        self.inflation = inflation(&usual(&per_row, limit));
    }
}

/// Values beyond ±`limit` set to nought, so that what is no noise does not set its correlation.
fn usual(values: &[f64], limit: f64) -> Vec<f64> {
    let one = |v: &f64| if v.abs() > limit { 0.0 } else { *v };
    values.iter().map(one).collect()
}

/// Rows usable by the model: finite, strictly increasing times and finite values, spikes left out.
/// Rows that are not known to be `logged` may be a person's.
pub(crate) fn curve(channel: usize, t_s: &[f64], degc: &[f64], logged: bool) -> Curve {
    let mut last = f64::NEG_INFINITY;
    let room = || Vec::with_capacity(t_s.len());
    let (mut t, mut y) = (room(), room());
    for (&time, &value) in t_s.iter().zip(degc) {
        if time.is_finite() && time > last && value.is_finite() && value.abs() < 1e5 {
            t.push(time);
            y.push(value);
            last = time;
        }
    }
    let step = resolution(&y);
    let by_eye = !logged && read_by_eye(&t, &y);
    let spikes = if few_rows(&t, by_eye) {
        slips(&y)
    } else {
        spikes(&y, from_differences(&y).max(step.unwrap_or(0.0)))
    };
    let mut keep = spikes.iter().map(|spike| !spike);
    t.retain(|_| keep.next().unwrap_or(true));
    let mut keep = spikes.iter().map(|spike| !spike);
    y.retain(|_| keep.next().unwrap_or(true));

    let range = y.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - y.iter().copied().fold(f64::INFINITY, f64::min);
    let by_step = step.unwrap_or(0.0) / 12.0_f64.sqrt();
    let floor_degc = by_step
        .hypot(if by_eye {
            late_reading_degc(&t, &y)
        } else {
            0.0
        })
        .max(1e-5 * range.max(0.0))
        .max(1e-9);
    let sd_degc = from_differences(&y).max(floor_degc);
    Curve {
        channel,
        rows: Each::default(),
        trust: Each::default(),
        t_s: t,
        degc: y,
        sd_degc,
        floor_degc,
        inflation: 1.0,
        by_eye,
    }
}

/// The whole second in which a record begins, for a fit ends and takes its steps by how large its
/// numbers are: with times of day, or seconds since 1970, it would end before it is there.
///
/// From 0 on such a second is taken off and put back without rounding.
pub(super) fn origin_s(curves: &[Curve]) -> f64 {
    let begins_s = curves.iter().filter_map(|c| c.t_s.first().copied());
    let begin_s = begins_s.fold(f64::INFINITY, f64::min).floor();
    if begin_s.is_finite() {
        begin_s.max(0.0)
    } else {
        0.0
    }
}

/// Puts all times off by so many seconds.
pub(super) fn move_times(curves: &mut [Curve], by_s: f64) {
    if by_s != 0.0 {
        let times = curves.iter_mut().flat_map(|c| &mut c.t_s);
        times.for_each(|t_s| *t_s += by_s);
    }
}

/// What the reader's watch adds where rows were taken by hand: those minutes apart and at round
/// times. Seconds pass between the mark and the glance at the thermometer, and the temperature
/// goes on meanwhile.
fn late_reading_degc(t_s: &[f64], degc: &[f64]) -> f64 {
    let steps = || t_s.iter().zip(t_s.iter().skip(1)).map(|(a, b)| b - a);
    let rises = degc
        .iter()
        .zip(degc.iter().skip(1))
        .map(|(a, b)| (b - a).abs());
    let mut slopes: Vec<f64> = rises.zip(steps()).map(|(rise, step)| rise / step).collect();
    READER_S * median(&mut slopes).max(0.0)
}

/// Whether rows may have been taken by hand: all of them half a minute apart or more and at round times.
fn by_hand(t_s: &[f64]) -> bool {
    let mut steps = t_s.iter().zip(t_s.iter().skip(1)).map(|(a, b)| b - a);
    let round = |step: f64| {
        let quarters = step / 15.0;
        quarters.round() >= 2.0 && (quarters - quarters.round()).abs() < 1e-6
    };
    !t_s.is_empty() && steps.all(round)
}

/// Whether these are a few rows, about a minute apart or more, as people write them down. A logger's
/// are told from those where there are enough of them for a model's fit.
pub(super) fn few_rows(t_s: &[f64], by_eye: bool) -> bool {
    let most = if by_eye { FEW_ROWS } else { FEWER_ROWS };
    t_s.len() <= most && are_apart(t_s)
}

/// Whether rows are about a minute apart or more.
pub(super) fn are_apart(t_s: &[f64]) -> bool {
    let ends = t_s.first().zip(t_s.last());
    let span_s = ends.map_or(0.0, |(first, last)| last - first);
    let apart = |w: &[f64]| matches!(w, [a, b] if b - a >= 0.5 * FEW_APART_S);
    // One long pause between rows of a second does not put them minutes apart.
    let steps = t_s.len().saturating_sub(1);
    span_s >= FEW_APART_S * steps as f64 && 2 * t_s.windows(2).filter(|w| apart(w)).count() >= steps
}

/// Whether a few rows at round times hold tenths or coarser steps, as a person reads them; many of them in tenths
/// are a logger's more often.
fn read_by_eye(t_s: &[f64], degc: &[f64]) -> bool {
    let finest = if t_s.len() > TENTHS_ROWS {
        0.199
    } else {
        0.099
    };
    t_s.len() <= FEW_ROWS && by_hand(t_s) && grain_degc(degc) > finest
}

/// The step that readings go in, at least a tenth where all are tenths; zero if none is seen.
pub(super) fn grain_degc(degc: &[f64]) -> f64 {
    let tenth = |y: &f64| (10.0 * y - (10.0 * y).round()).abs() < 1e-6;
    let least = if degc.iter().all(tenth) { 0.1 } else { 0.0 };
    resolution(degc).unwrap_or(0.0).max(least)
}

/// Which readings are spikes: far from the median of their neighbours on both sides.
fn spikes(y: &[f64], noise: f64) -> Vec<bool> {
    if y.len() < 2 * SPIKE_REACH + 1 {
        return vec![false; y.len()];
    }
    let mut window = Vec::with_capacity(2 * SPIKE_REACH + 1);
    let mut spread = Vec::with_capacity(2 * SPIKE_REACH + 1);
    (0..y.len())
        .map(|i| {
            let from = i.saturating_sub(SPIKE_REACH);
            let to = (i + SPIKE_REACH + 1).min(y.len());
            window.clear();
            window.extend(y.get(from..to).unwrap_or_default());
            let mid = median(&mut window);
            spread.clear();
            spread.extend(window.iter().map(|v| (v - mid).abs()));
            let sd = (1.4826 * median(&mut spread)).max(noise).max(1e-9);
            y.get(i).is_some_and(|v| (v - mid).abs() > SPIKE_GATE * sd)
        })
        .collect()
}

/// Averages a curve in blocks of `width_s`; rows within `fine_s` of a `near` instant are averaged
/// in blocks ten times finer. A block never spans a gap longer than itself.
pub(crate) fn blocks(curve: &Curve, width_s: f64, near: &[f64], fine_s: f64) -> Curve {
    let Some(&start) = curve.t_s.first() else {
        return curve.clone();
    };
    let (mut t_s, mut degc, mut rows) = (Vec::new(), Vec::new(), Vec::new());
    let mut key = i64::MIN;
    let (mut sum_t, mut sum_y, mut n) = (0.0, 0.0, 0.0);
    let mut close = |sum_t: f64, sum_y: f64, n: f64| {
        if n > 0.0 {
            t_s.push(sum_t / n);
            degc.push(sum_y / n);
            rows.push(n);
        }
    };
    for ((&t, &y), m) in curve.t_s.iter().zip(&curve.degc).zip(curve.rows.iter()) {
        let fine = near.iter().any(|e| (t - e).abs() < fine_s);
        let cell = ((t - start) / width_s * 10.0).floor() as i64;
        let this = if fine { cell } else { cell.div_euclid(10) * 10 };
        if this != key {
            close(sum_t, sum_y, n);
            (sum_t, sum_y, n) = (0.0, 0.0, 0.0);
            key = this;
        }
        sum_t += t * m;
        sum_y += y * m;
        n += m;
    }
    close(sum_t, sum_y, n);
    Curve {
        trust: Each::default(),
        t_s,
        degc,
        rows: rows.into(),
        ..*curve
    }
}

/// Block width in seconds that leaves at most `points` of a curve's rows; zero if none is needed.
pub(crate) fn width_for(curve: &Curve, points: usize) -> f64 {
    match (curve.t_s.first(), curve.t_s.last()) {
        (Some(first), Some(last)) if curve.t_s.len() > points => (last - first) / points as f64,
        _ => 0.0,
    }
}

/// [`blocks`], or the curve itself where it is short enough.
pub(crate) fn thinned(curve: &Curve, points: usize, near: &[f64], fine_s: f64) -> Curve {
    let width = width_for(curve, points);
    if width > 0.0 {
        blocks(curve, width, near, fine_s)
    } else {
        curve.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::{curve, thinned};

    #[test]
    fn a_lone_spike_is_left_out_and_an_edge_is_not() {
        let t: Vec<f64> = (0..200).map(f64::from).collect();
        let mut y: Vec<f64> = t
            .iter()
            .map(|&t| 20.0 + 0.02 * (t - 100.0).max(0.0) + 0.01 * (t * 1.7).sin())
            .collect();
        y[50] = 60.0;
        y[150] = f64::NAN;
        let clean = curve(0, &t, &y, false);
        assert_eq!(clean.t_s.len(), 198);
        assert!(!clean.t_s.contains(&50.0));
    }

    #[test]
    fn blocks_keep_the_mean_and_count_every_row() {
        let t: Vec<f64> = (0..5000).map(|i| f64::from(i) * 0.1).collect();
        let y: Vec<f64> = t.iter().map(|t| 20.0 + 0.01 * t).collect();
        let all = curve(0, &t, &y, false);
        let few = thinned(&all, 300, &[250.0], 10.0);
        assert!(few.t_s.len() < 520, "{}", few.t_s.len());
        assert!((few.rows.iter().take(few.t_s.len()).sum::<f64>() - 5000.0).abs() < 1e-9);
        for (t, y) in few.t_s.iter().zip(&few.degc) {
            assert!((y - 20.0 - 0.01 * t).abs() < 1e-9);
        }
    }
}

#[cfg(test)]
mod rules;
