//! The value that a digital probe on one wire holds before its first measurement.
//!
//! Its temperature register begins at +85 °C (data sheet of the DS18B20, "power-on reset value"; from
//! memory), and a sketch that asks too early, or after the probe's supply has dropped out, prints that as
//! a reading. A sample that is really there came from somewhere: what stands out of nothing at just this
//! value is no reading.

use arrayvec::ArrayVec;

use crate::probe::{ProbeFault, Reading};
use crate::wire::MAX_CHANNELS;

/// The value, in degrees Celsius.
const HELD_DEGC: f64 = 85.0;

/// Who was last within this many degrees of it may well be there now.
const NEAR_DEGC: f64 = 5.0;

/// What each channel last read.
#[derive(Debug, Default)]
pub(super) struct PowerOn {
    last_degc: ArrayVec<Option<f64>, MAX_CHANNELS>,
}

impl PowerOn {
    /// The reading, or that it is none. A whole number is no register's value written out.
    pub(super) fn look(&mut self, channel: usize, reading: Reading) -> Reading {
        while self.last_degc.len() <= channel && !self.last_degc.is_full() {
            self.last_degc.push(None);
        }
        let (Reading::Degc { value, decimals }, Some(last)) =
            (reading, self.last_degc.get_mut(channel))
        else {
            return reading;
        };
        let is_held = decimals > 0 && (value - HELD_DEGC).abs() < 1e-6;
        let was_near = last.is_some_and(|last| (last - HELD_DEGC).abs() <= NEAR_DEGC);
        if is_held && !was_near {
            return Reading::Fault(ProbeFault::PowerOn);
        }
        *last = Some(value);
        reading
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn looked(degc: &[f64], decimals: u8) -> Vec<bool> {
        let mut power_on = PowerOn::default();
        let readings = degc.iter().map(|&value| Reading::Degc { value, decimals });
        let looked = readings.map(|reading| power_on.look(1, reading));
        looked
            .map(|reading| matches!(reading, Reading::Degc { .. }))
            .collect()
    }

    #[test]
    fn what_comes_out_of_nothing_is_no_reading() {
        assert_eq!(
            looked(&[85.0, 85.0, 23.4, 23.5], 2),
            [false, false, true, true]
        );
        assert_eq!(looked(&[23.4, 85.0, 23.5], 4), [true, false, true]);
    }

    #[test]
    fn a_bath_that_is_there_is_one() {
        assert_eq!(looked(&[84.94, 85.0, 85.0, 85.06], 2), [true; 4]);
        assert_eq!(looked(&[23.0, 86.5, 85.0], 1), [true; 3]);
        // A probe put into it is believed once it is beside that value.
        assert_eq!(
            looked(&[23.0, 85.0, 85.06, 85.0], 2),
            [true, false, true, true]
        );
        assert_eq!(looked(&[23.0, 85.0], 0), [true; 2]);
    }

    #[test]
    fn what_is_beyond_the_last_channel_stays_as_it_is() {
        let mut power_on = PowerOn::default();
        let reading = Reading::Degc {
            value: HELD_DEGC,
            decimals: 2,
        };
        assert_eq!(power_on.look(MAX_CHANNELS, reading), reading);
    }
}
