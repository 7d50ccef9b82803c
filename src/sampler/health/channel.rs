//! All that is known of one channel, and what it shows at a row.

use super::drift::Drift;
use super::episode::{Episode, duration};
use super::loose::Loose;
use super::noise::{Level, Noise};
use super::repeat::{Repeat, Run, Shown};
use super::sign::{ALL, Sign};
use super::spike::{Spiked, Spikes};
use super::wander::Wander;

/// What is known of one channel.
#[derive(Debug, Clone, Default)]
pub(super) struct Channel {
    pub(super) noise: Noise,
    /// Mean of the last two blocks of rows, the older one first, in °C.
    pub(super) means: [Option<f64>; 2],
    pub(super) level: Level,
    pub(super) repeat: Repeat,
    pub(super) spikes: Spikes,
    pub(super) spiked: Option<Spiked>,
    pub(super) loose: Loose,
    pub(super) loose_since: Option<i64>,
    pub(super) wander: Wander,
    pub(super) wanders_since: Option<i64>,
    pub(super) drift: Drift,
    pub(super) drifts: Option<(i64, f64)>,
    /// In no doubt since then, in ns on the host's boot clock.
    pub(super) sound_ns: i64,
    pub(super) episodes: [Episode; ALL.len()],
}

/// A sign that shows at a row.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) sign: Sign,
    pub(super) from_ns: i64,
    pub(super) words: String,
}

impl Channel {
    pub(super) fn value(&mut self, t_ns: i64, degc: f64, shown: &[Shown]) {
        let (sd, step) = (self.noise.usual_degc(), self.noise.step_degc());
        self.noise.take(degc);
        self.repeat.take(t_ns, degc, shown);
        self.wander.take(degc);
        let last = self.noise.last.map_or(0.0, |block| block.sd_degc);
        let spiked = self.spikes.take(t_ns, degc, sd.max(last), step);
        self.spiked = spiked.filter(|_| self.level != Level::Loud);
    }

    /// All that shows at a row. Words are made only where something does, which is seldom.
    pub(super) fn signs(
        &mut self,
        place: usize,
        t_ns: i64,
        interval_s: f64,
        shown: &[Shown],
    ) -> [Option<Found>; 6] {
        let found = |sign, from_ns, words| {
            Some(Found {
                sign,
                from_ns,
                words,
            })
        };
        let step = self.noise.step_degc();
        let stuck = self.repeat.stuck(place, t_ns, step, shown);
        let stuck = stuck.and_then(|run| {
            let (sign, words) = self.of_run(run, t_ns);
            found(sign, run.since_ns, words)
        });
        let scatter = self.scatter(t_ns, interval_s);
        let spike = self.spiked.and_then(|s| {
            let words = format!(
                "spike: one reading or two that are off by {:+.1} °C",
                s.by_degc
            );
            found(Sign::Spike, s.from_ns, words)
        });
        let drift = self.drifts.and_then(|(from_ns, rate)| {
            let words = format!(
                "drift: {rate:+.3} °C/min for {} without slowing down, while another sample is steady",
                duration((t_ns - from_ns) as f64 / 1e9)
            );
            found(Sign::Drift, from_ns, words)
        });
        let loose = self.loose_since.and_then(|from_ns| {
            let words = "loose: the contact opened and closed three times or more".into();
            found(Sign::Loose, from_ns, words)
        });
        let wander = self.wanders_since.and_then(|from_ns| {
            let words = "wander: goes up and down over minutes, and the others do not".into();
            found(Sign::Wander, from_ns, words)
        });
        [stuck, scatter, spike, drift, loose, wander]
    }

    /// Far noisier or far quieter than before.
    fn scatter(&self, t_ns: i64, interval_s: f64) -> Option<Found> {
        let usual = self.noise.usual_degc();
        let last = self.noise.last.map_or(0.0, |block| block.sd_degc);
        let rows = f64::from(self.noise.rows_at_level());
        let (sign, words) = match self.level {
            Level::Usual => return None,
            Level::Loud => (
                Sign::Noisy,
                format!("noisy: scatters by {last:.2} °C, usually by {usual:.3} °C"),
            ),
            Level::Quiet => (
                Sign::Quiet,
                format!("quiet: scatters by {last:.4} °C only, usually by {usual:.3} °C"),
            ),
        };
        Some(Found {
            sign,
            from_ns: t_ns - (rows * interval_s * 1e9) as i64,
            words,
        })
    }

    fn of_run(&self, run: Run, t_ns: i64) -> (Sign, String) {
        let lasts = duration((t_ns - run.since_ns) as f64 / 1e9);
        let far = (6.0 * self.noise.usual_degc()).max(0.1);
        let usual = self.means.into_iter().flatten().next();
        let saturated = self.episodes.get(Sign::Saturated as usize);
        let is_end = saturated.is_some_and(Episode::is_open)
            || usual.is_some_and(|usual| self.repeat.at_its_end(run, usual, far));
        let stuck = self.episodes.get(Sign::Stuck as usize);
        if is_end && !stuck.is_some_and(Episode::is_open) {
            let words = format!(
                "saturated: stays at exactly {:.2} °C for {lasts}, the end of what it has shown",
                run.degc
            );
            (Sign::Saturated, words)
        } else {
            let words = format!(
                "stuck: has read exactly {:.2} °C for {lasts}, where it should move",
                run.degc
            );
            (Sign::Stuck, words)
        }
    }

    /// There is no reading at this row.
    pub(super) fn cut_rows(&mut self) {
        self.noise.cut();
        self.spikes.forget();
        self.repeat.cut();
    }

    pub(super) fn cut(&mut self) {
        self.cut_rows();
        self.means = [None; 2];
        self.level = Level::Usual;
        self.spiked = None;
        self.loose_since = None;
        self.wander.cut();
        self.wanders_since = None;
        self.drift.forget();
        self.drifts = None;
    }
}
