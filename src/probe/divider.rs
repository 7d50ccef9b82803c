//! A thermistor and a fixed resistor across the converter's own reference (ratiometric).
//!
//! With `x = counts / full_scale` the share of the reference at the tap, the thermistor is
//! `R = fixed · x / (1 − x)` between tap and ground, and `R = fixed · (1 − x) / x` between tap and
//! reference: Kirchhoff's laws; the reference voltage itself cancels.

use crate::wire::NtcSide;

/// The divider of every channel of a board.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Divider {
    /// Counts that stand for the reference voltage, greater than zero.
    pub full_scale: f64,
    /// The fixed resistor in ohms, greater than zero.
    pub fixed_ohm: f64,
    /// Where the thermistor sits.
    pub ntc_side: NtcSide,
}

/// What a count at the end of the scale says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DividerFault {
    /// No current through the thermistor: broken or unplugged.
    Open,
    /// No voltage across the thermistor: its leads touch.
    Short,
    /// Counts below zero or above full scale: the board's full scale is not what was stated.
    OutOfScale,
}

impl Divider {
    /// The thermistor's resistance in ohms at a count from 0 to full scale.
    ///
    /// # Errors
    /// [`DividerFault`] at both ends of the scale and outside it; NaN counts are out of scale.
    pub fn ohm_at(&self, counts: f64) -> Result<f64, DividerFault> {
        let x = counts / self.full_scale;
        if !(0.0..=1.0).contains(&x) {
            return Err(DividerFault::OutOfScale);
        }
        let (across, along) = match self.ntc_side {
            NtcSide::Low => (x, 1.0 - x),
            NtcSide::High => (1.0 - x, x),
        };
        if along <= 0.0 {
            Err(DividerFault::Open)
        } else if across <= 0.0 {
            Err(DividerFault::Short)
        } else {
            Ok(self.fixed_ohm * across / along)
        }
    }

    /// The count, not rounded, at a thermistor's resistance in ohms.
    #[must_use]
    pub fn counts_at(&self, ohm: f64) -> f64 {
        let share = match self.ntc_side {
            NtcSide::Low => ohm / (ohm + self.fixed_ohm),
            NtcSide::High => self.fixed_ohm / (ohm + self.fixed_ohm),
        };
        share * self.full_scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn half_scale_is_the_fixed_resistor_and_the_ends_are_faults() {
        for ntc_side in [NtcSide::Low, NtcSide::High] {
            let divider = Divider {
                full_scale: 1024.0,
                fixed_ohm: 10_000.0,
                ntc_side,
            };
            assert_eq!(divider.ohm_at(512.0), Ok(10_000.0));
            let (open, short) = match ntc_side {
                NtcSide::Low => (1024.0, 0.0),
                NtcSide::High => (0.0, 1024.0),
            };
            assert_eq!(divider.ohm_at(open), Err(DividerFault::Open));
            assert_eq!(divider.ohm_at(short), Err(DividerFault::Short));
            for out in [-1.0, 1025.0, f64::NAN, f64::INFINITY] {
                assert_eq!(divider.ohm_at(out), Err(DividerFault::OutOfScale));
            }
        }
    }

    proptest! {
        #[test]
        fn there_and_back(ohm in 100.0..1e6f64, high in any::<bool>()) {
            let ntc_side = if high { NtcSide::High } else { NtcSide::Low };
            let divider = Divider { full_scale: 65_536.0, fixed_ohm: 10_000.0, ntc_side };
            let back = divider.ohm_at(divider.counts_at(ohm)).unwrap();
            prop_assert!((back / ohm - 1.0).abs() < 1e-9);
        }
    }
}
