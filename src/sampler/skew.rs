//! All channels at one timestamp, where the board reads them one after the other.
//!
//! A row is stamped with the instant of its first channel; channel k was read k · skew later, as
//! the board's hello states. Each value is brought back to the row's instant along the straight
//! line from the channel's value in the row before to the one in this row. Both were measured, and
//! the instant lies between them: an interpolation, which adds no noise. Where the temperature
//! curves by c °C/s² in the interval h, the error is at most c · h² / 8, a thousandth of a degree
//! and less for anything under a lamp at a row a second.

use arrayvec::ArrayVec;

use crate::probe::Reading;
use crate::wire::MAX_CHANNELS;

/// A delay below this cannot be seen in a file whose times have milliseconds, and a row that is
/// not corrected for it need not say so.
const UNSEEN_NS: i64 = 1_000_000;

/// Brings the channels of a row to the instant of the first.
#[derive(Debug, Clone, Default)]
pub(super) struct Skew {
    skew_ns: i64,
    before: Option<(i64, ArrayVec<Reading, MAX_CHANNELS>)>,
}

impl Skew {
    /// The board states the delay of each channel after the one before.
    pub(super) fn board_states(&mut self, skew_us: Option<u32>) {
        self.skew_ns = skew_us.map_or(0, |us| i64::from(us) * 1000);
    }

    /// Corrects the row read at `t_ns`; behind a gap there is nothing to interpolate from. True if
    /// a value remains that was read visibly later than the row says.
    pub(super) fn take_out(
        &mut self,
        t_ns: i64,
        gap: bool,
        readings: &mut ArrayVec<Reading, MAX_CHANNELS>,
    ) -> bool {
        if self.skew_ns == 0 {
            return false;
        }
        let raw = readings.clone();
        let before = self.before.replace((t_ns, raw)).filter(|_| !gap);
        let mut remains = false;
        for (channel, reading) in (0_i64..).zip(readings.iter_mut()) {
            let late_ns = self.skew_ns.saturating_mul(channel);
            let Reading::Degc { value, decimals } = *reading else {
                continue;
            };
            match before
                .as_ref()
                .map(|(t, old)| (t_ns - t, old.get(channel as usize)))
            {
                Some((interval_ns, Some(&Reading::Degc { value: old, .. })))
                    if late_ns <= interval_ns =>
                {
                    let share = late_ns as f64 / interval_ns as f64;
                    *reading = Reading::Degc {
                        value: value - (value - old) * share,
                        decimals,
                    };
                }
                _ => remains |= late_ns >= UNSEEN_NS,
            }
        }
        remains
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(values: [f64; 3]) -> ArrayVec<Reading, MAX_CHANNELS> {
        values
            .into_iter()
            .map(|value| Reading::Degc { value, decimals: 3 })
            .collect()
    }

    fn value(reading: Reading) -> f64 {
        match reading {
            Reading::Degc { value, .. } => value,
            Reading::Fault(fault) => panic!("{fault:?}"),
        }
    }

    /// What a board with this skew reads of three equal samples that warm by `rate` °C/s.
    fn read(t_s: f64, skew_s: f64, rate: f64) -> [f64; 3] {
        [0.0, 1.0, 2.0].map(|channel| 20.0 + rate * (t_s + channel * skew_s))
    }

    #[test]
    fn equal_samples_read_one_after_the_other_become_equal() {
        let mut skew = Skew::default();
        // Three digital sensors that take 300 ms each, one after the other.
        skew.board_states(Some(300_000));
        for k in 0..5 {
            let t_s = f64::from(k);
            let mut readings = row(read(t_s, 0.3, 0.05));
            let remains = skew.take_out(i64::from(k) * 1_000_000_000, false, &mut readings);
            assert_eq!(remains, k == 0);
            if k > 0 {
                for reading in readings {
                    assert!((value(reading) - (20.0 + 0.05 * t_s)).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn behind_a_gap_or_a_fault_nothing_is_made_up() {
        let mut skew = Skew::default();
        skew.board_states(Some(300_000));
        skew.take_out(0, false, &mut row([20.0, 20.0, 20.0]));
        let mut behind_gap = row([25.0, 25.0, 25.0]);
        assert!(skew.take_out(60_000_000_000, true, &mut behind_gap));
        assert_eq!(behind_gap, row([25.0, 25.0, 25.0]));
        let mut broken = row([25.0, 25.0, 25.0]);
        broken[2] = Reading::Fault(crate::probe::ProbeFault::Open);
        assert!(!skew.take_out(61_000_000_000, false, &mut broken));
        let mut again = row([25.0, 25.0, 26.0]);
        assert!(skew.take_out(62_000_000_000, false, &mut again));
        assert!((value(again[2]) - 26.0).abs() < f64::EPSILON);
    }

    #[test]
    fn a_skew_longer_than_the_interval_is_not_believed() {
        let mut skew = Skew::default();
        skew.board_states(Some(2_000_000));
        skew.take_out(0, false, &mut row([20.0, 20.0, 20.0]));
        let mut next = row([20.0, 21.0, 21.0]);
        assert!(skew.take_out(1_000_000_000, false, &mut next));
        assert_eq!(next, row([20.0, 21.0, 21.0]));
    }
}
