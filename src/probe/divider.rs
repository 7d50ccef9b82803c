//! A probe and a fixed resistor across a supply, and the converter that reads the tap between them.
//!
//! With `s` the share of the supply at the tap, the probe is `R = fixed · s / (1 − s)` between tap
//! and ground, and `R = fixed · (1 − s) / s` between tap and supply: Kirchhoff's laws. The converter
//! gives `counts / full_scale`, the tap's share of its own reference. Where that is the supply, as on
//! most boards, the voltage cancels (ratiometric); else their quotient must be known.

use crate::wire::NtcSide;

/// The divider of every channel of a board.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Divider {
    /// Counts that stand for the reference voltage, greater than zero.
    pub full_scale: f64,
    /// The fixed resistor in ohms, greater than zero.
    pub fixed_ohm: f64,
    /// Where the probe sits.
    pub ntc_side: NtcSide,
    /// The divider's supply over the converter's reference, greater than zero; 1 where they are one.
    pub supply_per_reference: f64,
}

/// What a count at the end of a scale says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DividerFault {
    /// No current through the probe: broken or unplugged.
    Open,
    /// No voltage across the probe: its leads touch.
    Short,
    /// Counts below zero or above full scale, or a tap above the supply: the board's full scale or
    /// voltages are not what was stated.
    OutOfScale,
    /// The tap is above the converter's reference, which can show no more.
    Saturated,
}

impl Divider {
    /// The probe's resistance in ohms at a count.
    ///
    /// # Errors
    /// [`DividerFault`] less than a step from an end of the divider or of the converter, where
    /// neither can tell more, and outside both; NaN counts are out of scale.
    pub fn ohm_at(&self, counts: f64) -> Result<f64, DividerFault> {
        let top = self.supply_per_reference * self.full_scale;
        if !(0.0..=self.full_scale).contains(&counts) || counts > top + 1.0 {
            return Err(DividerFault::OutOfScale);
        }
        let (at_bottom, at_top) = match self.ntc_side {
            NtcSide::Low => (DividerFault::Short, DividerFault::Open),
            NtcSide::High => (DividerFault::Open, DividerFault::Short),
        };
        if counts < 1.0 {
            return Err(at_bottom);
        }
        if counts >= top - 1.0 {
            return Err(at_top);
        }
        if counts >= self.full_scale - 1.0 {
            return Err(DividerFault::Saturated);
        }
        let share = counts / top;
        Ok(match self.ntc_side {
            NtcSide::Low => self.fixed_ohm * share / (1.0 - share),
            NtcSide::High => self.fixed_ohm * (1.0 - share) / share,
        })
    }

    /// The count, not rounded, at a probe's resistance in ohms.
    #[must_use]
    pub fn counts_at(&self, ohm: f64) -> f64 {
        self.share_at(ohm) * self.supply_per_reference * self.full_scale
    }

    /// The tap's share of the supply at a probe's resistance in ohms.
    fn share_at(&self, ohm: f64) -> f64 {
        match self.ntc_side {
            NtcSide::Low => ohm / (ohm + self.fixed_ohm),
            NtcSide::High => self.fixed_ohm / (ohm + self.fixed_ohm),
        }
    }

    /// How many ohms one count is at a probe's resistance in ohms.
    #[must_use]
    pub fn ohm_per_count(&self, ohm: f64) -> f64 {
        self.ohm_per_share(ohm) / (self.supply_per_reference * self.full_scale)
    }

    /// How many ohms the probe is taken wrong by where the quotient of supply and reference is off by
    /// one part of itself, per part.
    #[must_use]
    pub fn ohm_per_part_of_reference(&self, ohm: f64) -> f64 {
        self.ohm_per_share(ohm) * self.share_at(ohm)
    }

    /// |dR/ds|, the same for both places of the probe.
    fn ohm_per_share(&self, ohm: f64) -> f64 {
        (ohm + self.fixed_ohm).powi(2) / self.fixed_ohm
    }

    /// The heat in watts that the current makes in a probe of so many ohms, at a supply in volts.
    #[must_use]
    pub fn heat_w(&self, ohm: f64, supply_volt: f64) -> f64 {
        ohm * (supply_volt / (ohm + self.fixed_ohm)).powi(2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn divider(full_scale: f64, ntc_side: NtcSide, supply_per_reference: f64) -> Divider {
        Divider {
            full_scale,
            fixed_ohm: 10_000.0,
            ntc_side,
            supply_per_reference,
        }
    }

    #[test]
    fn half_scale_is_the_fixed_resistor_and_the_ends_are_faults() {
        for ntc_side in [NtcSide::Low, NtcSide::High] {
            let divider = divider(1024.0, ntc_side, 1.0);
            assert_eq!(divider.ohm_at(512.0), Ok(10_000.0));
            let (top, bottom) = match ntc_side {
                NtcSide::Low => (DividerFault::Open, DividerFault::Short),
                NtcSide::High => (DividerFault::Short, DividerFault::Open),
            };
            // Less than a step from the end, nobody can tell it from the end.
            for (counts, end) in [(1024.0, top), (1023.0, top), (0.0, bottom), (0.5, bottom)] {
                assert_eq!(divider.ohm_at(counts), Err(end));
            }
            assert!(divider.ohm_at(1022.0).is_ok() && divider.ohm_at(1.0).is_ok());
            for out in [-1.0, 1025.0, f64::NAN, f64::INFINITY] {
                assert_eq!(divider.ohm_at(out), Err(DividerFault::OutOfScale));
            }
        }
    }

    #[test]
    fn both_topologies_agree_with_worked_codes_of_both_conventions() {
        // Microchip, data sheets of ATmega (ADC = V·1024/Vref) and of the newer series
        // (RES = 1023·V/Vref); resistances computed with other software.
        use NtcSide::{High, Low};
        for (full, code, side, ohm) in [
            (1024.0, 256.0, Low, 3_333.333_333),
            (1024.0, 768.0, High, 3_333.333_333),
            (1023.0, 256.0, Low, 3_337.679_27),
            (1023.0, 768.0, Low, 30_117.647_059),
            (4095.0, 1024.0, High, 29_990.234_375),
            (4096.0, 3072.0, Low, 30_000.0),
        ] {
            let got = divider(full, side, 1.0).ohm_at(code).unwrap();
            assert!((got - ohm).abs() < 1e-6, "{code} of {full}: {got}");
        }
    }

    #[test]
    fn a_reference_of_its_own_has_ends_of_its_own() {
        // 5 V on the divider, a converter that is full at 2.5 V: half of the divider is its top.
        let low = divider(4096.0, NtcSide::Low, 2.0);
        assert_eq!(low.ohm_at(2048.0), Ok(10_000.0 / 3.0));
        assert_eq!(low.ohm_at(4095.0), Err(DividerFault::Saturated));
        assert_eq!(low.ohm_at(0.0), Err(DividerFault::Short));
        // 2.5 V on the divider, full at 5 V: the divider's top is the converter's half.
        let low = divider(4096.0, NtcSide::Low, 0.5);
        assert_eq!(low.ohm_at(1024.0), Ok(10_000.0));
        assert_eq!(low.ohm_at(2047.5), Err(DividerFault::Open));
        // A step above the divider's own end is still noise of the converter.
        assert_eq!(low.ohm_at(2049.0), Err(DividerFault::Open));
        assert_eq!(low.ohm_at(2049.5), Err(DividerFault::OutOfScale));
        assert_eq!(low.ohm_at(3000.0), Err(DividerFault::OutOfScale));
    }

    #[test]
    fn the_heat_agrees_with_worked_cases() {
        // P = U²/(4·R) at R = fixed: 0.27225 mW at 3.3 V, 0.625 mW at 5 V for 10 kΩ (Joule's law).
        let divider = divider(1024.0, NtcSide::Low, 1.0);
        assert!((divider.heat_w(10e3, 3.3) - 0.272_25e-3).abs() < 1e-12);
        assert!((divider.heat_w(10e3, 5.0) - 0.625e-3).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn there_and_back(
            ohm in 100.0..1e6f64, high in any::<bool>(), bits in 8..=24u32, quotient in 0.5..1.0f64,
        ) {
            let side = if high { NtcSide::High } else { NtcSide::Low };
            let divider = divider(f64::from(1_u32 << bits), side, quotient);
            let counts = divider.counts_at(ohm);
            prop_assert!((0.0..=quotient * divider.full_scale).contains(&counts));
            match divider.ohm_at(counts) {
                Ok(back) => {
                    // Near an end of the scale a last digit of the count is worth many ohms.
                    let worth = divider.ohm_per_count(ohm) * counts * 1e-15;
                    prop_assert!((back - ohm).abs() < 1e-9 * ohm + worth);
                    let next = divider.ohm_at(counts + 1e-4);
                    if let Ok(next) = next {
                        let seen = (next - back).abs() / 1e-4;
                        prop_assert!((seen / divider.ohm_per_count(ohm) - 1.0).abs() < 0.02);
                    }
                }
                Err(fault) => {
                    let top = quotient * divider.full_scale;
                    prop_assert!(counts < 1.0 || counts >= top - 1.0, "{fault:?} at {counts}");
                }
            }
        }
    }
}
