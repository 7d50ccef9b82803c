//! A probe against a temperature that nature gives: melting ice, boiling water.

use super::mean::Mean;

/// A probe that is further off than this is not in the bath, or is no thermometer of this kind, in °C.
pub const FARTHEST_DEGC: f64 = 5.0;

/// Standard uncertainty of a bath of crushed ice and water, stirred, in °C: tap water freezes some
/// hundredths below pure water, and a probe beside the ice warms a little (common practice, no source).
pub const ICE_U_DEGC: f64 = 0.1;

/// Standard uncertainty of water at a full boil beside that of the pressure, in °C: bubbles are hotter
/// than the surface, salts raise the boiling point (common practice, no source).
pub const BOILING_U_DEGC: f64 = 0.15;

/// A probe against a reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Against {
    /// What is to be added to the reading, in °C.
    pub correction_degc: f64,
    /// Its standard uncertainty in °C: that of the reference and that of the reading.
    pub u_degc: f64,
}

/// What corrects a reading to a reference temperature of a given standard uncertainty, both in °C; none
/// if they are too far apart for a probe in the bath.
#[must_use]
pub fn against(reading: &Mean, reference_degc: f64, u_reference_degc: f64) -> Option<Against> {
    let correction_degc = reference_degc - reading.degc;
    (correction_degc.abs() <= FARTHEST_DEGC).then(|| Against {
        correction_degc,
        u_degc: u_reference_degc.hypot(reading.u_degc),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_uncertainties_count_and_a_probe_outside_the_bath_is_refused() {
        let reading = |degc| Mean {
            degc,
            u_degc: 0.03,
            sd_degc: 0.1,
            readings: 100,
        };
        let ice = against(&reading(0.4), 0.0, 0.04).unwrap();
        assert!((ice.correction_degc + 0.4).abs() < 1e-12 && (ice.u_degc - 0.05).abs() < 1e-12);
        assert!(against(&reading(21.0), 0.0, 0.1).is_none());
        assert!(against(&reading(f64::NAN), 0.0, 0.1).is_none());
    }
}
