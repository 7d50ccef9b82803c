//! At which temperature water boils here: pressure, altitude, saturation.

use crate::probe::ZERO_DEGC_K;

/// Coefficients of the saturation equation (IAPWS R7-97(2012), table 34).
const N: [f64; 10] = [
    1_167.052_145_276_7,
    -724_213.167_032_06,
    -17.073_846_940_092,
    12_020.824_702_47,
    -3_232_555.032_233_3,
    14.915_108_613_53,
    -4_823.265_736_159_1,
    405_113.405_420_57,
    -0.238_555_575_678_49,
    650.175_348_447_98,
];

/// Pressures in hPa that occur where people teach: the deepest weather record is 870, the highest 1085
/// (WMO extremes, from memory); the highest settlements lie at some 540.
const PRESSURES_HPA: (f64, f64) = (500.0, 1100.0);

/// Altitudes in m where people teach: the shore of the Dead Sea lies at −430, the highest settlements
/// at some 5100 (from memory).
const ALTITUDES_M: (f64, f64) = (-450.0, 5200.0);

/// By how much weather moves the pressure at a place, as a standard uncertainty in hPa (common
/// practice, no source).
pub const WEATHER_U_HPA: f64 = 10.0;

/// Why no boiling point is given.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PlaceFault {
    /// The pressure does not occur at any school.
    #[error(
        "no place where people live has an air pressure of {hpa} hPa; it is between 500 and 1100"
    )]
    Pressure {
        /// In hPa.
        hpa: f64,
    },
    /// The altitude is not one where people live.
    #[error("no school lies at {metres} m; altitudes go from -450 m to 5200 m")]
    Altitude {
        /// In m.
        metres: f64,
    },
}

/// The boiling point of water in °C at a pressure in hPa: the saturation temperature of the backward
/// equation, IAPWS R7-97(2012), equation 31.
///
/// # Errors
/// [`PlaceFault::Pressure`] outside 500 to 1100 hPa, or for NaN.
pub fn boiling_degc(hpa: f64) -> Result<f64, PlaceFault> {
    if (PRESSURES_HPA.0..=PRESSURES_HPA.1).contains(&hpa) {
        Ok(saturation_k(hpa * 1e-4) - ZERO_DEGC_K)
    } else {
        Err(PlaceFault::Pressure { hpa })
    }
}

/// Change of the boiling point with pressure in °C per hPa, at a pressure in hPa.
#[must_use]
pub fn boiling_slope(hpa: f64) -> f64 {
    saturation_k((hpa + 0.5) * 1e-4) - saturation_k((hpa - 0.5) * 1e-4)
}

/// Saturation temperature in K at a pressure in `MPa`.
fn saturation_k(mpa: f64) -> f64 {
    let [n1, n2, n3, n4, n5, n6, n7, n8, n9, n10] = N;
    let beta = mpa.powf(0.25);
    let e = (beta + n3) * beta + n6;
    let f = (n1 * beta + n4) * beta + n7;
    let g = (n2 * beta + n5) * beta + n8;
    let d = 2.0 * g / (-f - (f * f - 4.0 * e * g).sqrt());
    let sum = n10 + d;
    (sum - (sum * sum - 4.0 * (n9 + n10 * d)).sqrt()) / 2.0
}

/// The usual air pressure in hPa at an altitude in m above the sea: the standard atmosphere's
/// troposphere (ISO 2533:1975; U.S. Standard Atmosphere, 1976).
///
/// # Errors
/// [`PlaceFault::Altitude`] outside −450 m to 5200 m, or for NaN.
pub fn standard_hpa(metres: f64) -> Result<f64, PlaceFault> {
    const EARTH_M: f64 = 6_356_766.0;
    const EXPONENT: f64 = 9.806_65 / (287.052_87 * 0.0065);
    if !(ALTITUDES_M.0..=ALTITUDES_M.1).contains(&metres) {
        return Err(PlaceFault::Altitude { metres });
    }
    let height_m = EARTH_M * metres / (EARTH_M + metres);
    Ok(1013.25 * (1.0 - 0.0065 * height_m / 288.15).powf(EXPONENT))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_saturation_line_is_that_of_the_release() {
        // IAPWS R7-97(2012), table 36.
        for (mpa, k) in [(0.1, 372.755_919), (1.0, 453.035_632), (10.0, 584.149_488)] {
            assert!((saturation_k(mpa) - k).abs() < 1e-6, "{mpa} MPa");
        }
        // The whole table by IF97 (package iapws 1.5.5, to four decimals) and by IAPWS-95 (CoolProp 8.0).
        let table = include_str!("../../tests/data/boiling-point.csv");
        let mut rows = 0;
        for line in table.lines().skip(1) {
            let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
            let (hpa, degc) = (cells[0], boiling_degc(cells[0]).unwrap());
            assert!((degc - cells[1]).abs() < 6e-5, "{hpa} hPa");
            assert!((degc - cells[2]).abs() < 3e-4, "{hpa} hPa");
            assert!((boiling_slope(hpa) - cells[3]).abs() < 6e-6, "{hpa} hPa");
            rows += 1;
        }
        assert_eq!(rows, 28);
    }

    #[test]
    fn altitudes_have_the_standard_atmospheres_pressure() {
        // ISO 2533 / U.S. Standard Atmosphere 1976 by the packages ambiance 1.3.1 and ussa1976 0.3.4.
        for (metres, pa) in [
            (-400.0, f64::NAN),
            (0.0, 101_325.0),
            (100.0, 100_129.46),
            (500.0, 95_461.29),
            (1609.344, 83_431.76),
            (2240.0, 77_162.34),
            (3500.0, 65_780.37),
            (5000.0, 54_048.26),
        ] {
            let got = standard_hpa(metres).unwrap() * 100.0;
            assert!(pa.is_nan() || (got - pa).abs() < 0.05, "{metres} m: {got}");
        }
        assert!(standard_hpa(-400.0).unwrap() > 1060.0);
    }

    #[test]
    fn absurd_places_are_refused_in_words() {
        for hpa in [
            0.0,
            1.013,
            101.3,
            499.0,
            1101.0,
            101_325.0,
            f64::NAN,
            -1000.0,
        ] {
            let said = boiling_degc(hpa).unwrap_err().to_string();
            assert!(said.contains("between 500 and 1100"), "{said}");
        }
        for metres in [-500.0, 8849.0, f64::NAN] {
            assert!(standard_hpa(metres).is_err());
        }
    }
}
