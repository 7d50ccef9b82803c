//! What a calibration adds to a probe's readings.

use super::Reading;
use super::convert::MOST_DECIMALS;

/// A straight line that is added to readings: `b(t) = offset + slope · (t − about)`, as the thermometer
/// of JCGM 100:2008, H.3, is corrected. The default adds nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// The reading in °C at which the correction is `offset_degc`.
    pub about_degc: f64,
    /// What is added there, in °C.
    pub offset_degc: f64,
    /// Change of what is added with the reading, in °C per °C.
    pub slope: f64,
}

impl Correction {
    /// The same at every reading.
    #[must_use]
    pub fn constant(offset_degc: f64) -> Self {
        Self {
            offset_degc,
            ..Self::default()
        }
    }

    /// What is added to a reading in °C.
    #[must_use]
    pub fn at(&self, degc: f64) -> f64 {
        self.offset_degc + self.slope * (degc - self.about_degc)
    }

    /// A reading in °C with the correction added.
    #[must_use]
    pub fn corrected(&self, degc: f64) -> f64 {
        degc + self.at(degc)
    }

    /// A reading with the correction added, shown with a decimal more: what is added is finer than the
    /// reading's own step.
    #[must_use]
    pub fn of(&self, reading: Reading) -> Reading {
        match reading {
            Reading::Degc { value, decimals } if !self.is_none() => Reading::Degc {
                value: self.corrected(value),
                decimals: decimals.saturating_add(1).min(MOST_DECIMALS),
            },
            other => other,
        }
    }

    /// Whether it changes nothing at any reading.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.offset_degc.abs() + self.slope.abs() <= 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_added_about_its_own_point() {
        // JCGM 100:2008, H.3.3: y1 = −0.1712 °C, y2 = 0.00218, t0 = 20 °C: b(30 °C) = −0.1494 °C.
        let gum = Correction {
            about_degc: 20.0,
            offset_degc: -0.1712,
            slope: 0.00218,
        };
        assert!((gum.at(30.0) - -0.1494).abs() < 1e-12);
        assert!((gum.corrected(30.0) - 29.8506).abs() < 1e-12);
        assert!(!gum.is_none() && Correction::default().is_none());
        let read = |decimals| Reading::Degc {
            value: 30.0,
            decimals,
        };
        assert_eq!(Correction::default().of(read(1)), read(1));
        let Reading::Degc { value, decimals } = gum.of(read(1)) else {
            panic!("a temperature");
        };
        assert!((value - 29.8506).abs() < 1e-12 && decimals == 2);
        assert!(matches!(gum.of(read(3)), Reading::Degc { decimals: 3, .. }));
        assert!((Correction::constant(0.2).corrected(-5.0) - -4.8).abs() < 1e-12);
    }
}
