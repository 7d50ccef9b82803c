//! The law of a thermistor: resistance to temperature and back.

use super::ZERO_DEGC_K;

/// 25 °C in kelvin, the reference temperature of thermistor data sheets (IEC 60539-1).
const T25_K: f64 = 298.15;

/// How a thermistor's resistance depends on its temperature.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ThermistorLaw {
    /// `R = R25 · exp(B · (1/T − 1/298.15 K))`, good to some 0.5 °C over a classroom's range.
    Beta {
        /// Resistance at 25 °C in ohms, greater than zero.
        r25_ohm: f64,
        /// The B value in kelvin, greater than zero.
        beta_k: f64,
    },
    /// `1/T = a + b·ln R + c·(ln R)³` (Steinhart and Hart, Deep-Sea Research 15, 1968).
    SteinhartHart {
        /// Constant term in 1/K.
        a: f64,
        /// Factor of `ln R` in 1/K.
        b: f64,
        /// Factor of `(ln R)³` in 1/K, greater than zero.
        c: f64,
    },
}

/// Why constants are not those of a thermistor.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LawFault {
    /// A constant is not a finite number greater than zero.
    #[error("the constant {name} = {value} must be a finite number greater than zero")]
    Constant {
        /// Which constant.
        name: &'static str,
        /// What was given.
        value: f64,
    },
    /// Constants that give a resistance at 25 °C which no temperature probe has.
    #[error("these constants make {r25_ohm:.3e} Ω at 25 °C; a thermistor has 10 Ω to 10 MΩ")]
    Implausible {
        /// The resistance that follows from the constants.
        r25_ohm: f64,
    },
}

impl ThermistorLaw {
    /// The most usual hobby probe: 10 kΩ at 25 °C, B = 3950 K (common practice, no source).
    pub const USUAL: Self = Self::Beta {
        r25_ohm: 10_000.0,
        beta_k: 3950.0,
    };

    /// Refuses constants that no thermistor has.
    ///
    /// # Errors
    /// [`LawFault`] names the constant, or the impossible resistance that follows from them.
    pub fn checked(self) -> Result<Self, LawFault> {
        let positive = |name, value: f64| {
            if value.is_finite() && value > 0.0 {
                Ok(())
            } else {
                Err(LawFault::Constant { name, value })
            }
        };
        match self {
            Self::Beta { r25_ohm, beta_k } => {
                positive("R25", r25_ohm)?;
                positive("B", beta_k)?;
            }
            Self::SteinhartHart { a, b, c } => {
                positive("b", b)?;
                positive("c", c)?;
                if !a.is_finite() {
                    return Err(LawFault::Constant {
                        name: "a",
                        value: a,
                    });
                }
            }
        }
        let r25_ohm = self.ohm_at(25.0);
        if !(10.0..=1e7).contains(&r25_ohm) {
            return Err(LawFault::Implausible { r25_ohm });
        }
        Ok(self)
    }

    /// Temperature in °C at a resistance in ohms; NaN unless `ohm` is finite and positive and the
    /// law has a temperature above absolute zero there.
    #[must_use]
    pub fn degc_at(&self, ohm: f64) -> f64 {
        if !(ohm.is_finite() && ohm > 0.0) {
            return f64::NAN;
        }
        let inverse_k = match *self {
            Self::Beta { r25_ohm, beta_k } => 1.0 / T25_K + (ohm / r25_ohm).ln() / beta_k,
            Self::SteinhartHart { a, b, c } => {
                let l = ohm.ln();
                a + b * l + c * l * l * l
            }
        };
        if inverse_k > 0.0 {
            1.0 / inverse_k - ZERO_DEGC_K
        } else {
            f64::NAN
        }
    }

    /// Resistance in ohms at a temperature in °C; NaN at or below absolute zero.
    ///
    /// For Steinhart–Hart this is the closed form by Cardano's formula for the cubic in `ln R`.
    #[must_use]
    pub fn ohm_at(&self, degc: f64) -> f64 {
        let t_k = degc + ZERO_DEGC_K;
        if t_k.is_nan() || t_k <= 0.0 {
            return f64::NAN;
        }
        match *self {
            Self::Beta { r25_ohm, beta_k } => r25_ohm * (beta_k * (1.0 / t_k - 1.0 / T25_K)).exp(),
            Self::SteinhartHart { a, b, c } => {
                let y = (a - 1.0 / t_k) / (2.0 * c);
                let x = ((b / (3.0 * c)).powi(3) + y * y).sqrt();
                ((x - y).cbrt() - (x + y).cbrt()).exp()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got} is not {want}");
    }

    #[test]
    fn steinhart_hart_agrees_with_a_textbook() {
        // A. Kaw et al., Numerical Methods with Applications, chapter 03.04, example 1:
        // constants and 18.99 °C as printed; the root 13078.4266 Ω recomputed independently.
        let law = ThermistorLaw::SteinhartHart {
            a: 1.129_241e-3,
            b: 2.341_077e-4,
            c: 8.775_468e-8,
        };
        near(law.ohm_at(18.99), 13_078.426_6, 1e-2);
        near(law.degc_at(13_078.426_6), 18.99, 1e-6);
    }

    #[test]
    fn steinhart_hart_agrees_with_three_published_points() {
        // README of the npm package steinhart-hart: EPCOS points, and 307.9031 K at 7000 Ω.
        let law = ThermistorLaw::SteinhartHart {
            a: 8.975_539_782_833_848e-4,
            b: 2.501_791_479_471_128e-4,
            c: 1.948_344_036_705_607_7e-7,
        };
        near(law.degc_at(87_041.0), -25.0, 1e-6);
        near(law.degc_at(27_326.0), 0.0, 1e-6);
        near(law.degc_at(7_000.0), 307.903_1 - ZERO_DEGC_K, 5e-5);
    }

    #[test]
    fn beta_agrees_with_a_published_table_near_room_temperature() {
        // SEMITEC 103AT-2 catalogue table (B25/85 = 3435 K): 10 kΩ at 25 °C, 5827 Ω at 40 °C,
        // 4160 Ω at 50 °C. Two published constants cannot carry the whole curve: 0.5 °C is what
        // the two-constant law costs between its end points.
        let law = ThermistorLaw::Beta {
            r25_ohm: 10_000.0,
            beta_k: 3435.43,
        };
        near(law.degc_at(10_000.0), 25.0, 1e-9);
        near(law.degc_at(5_827.0), 40.0, 0.5);
        near(law.degc_at(4_160.0), 50.0, 0.5);
        near(law.degc_at(1_451.0), 85.0, 1e-2);
    }

    #[test]
    fn constants_that_no_thermistor_has_are_refused() {
        for (r25_ohm, beta_k) in [
            (0.0, 3950.0),
            (-1.0, 3950.0),
            (f64::NAN, 3950.0),
            (1e4, 0.0),
        ] {
            assert!(ThermistorLaw::Beta { r25_ohm, beta_k }.checked().is_err());
        }
        let bent = ThermistorLaw::SteinhartHart {
            a: 0.5,
            b: 2e-4,
            c: 1e-7,
        };
        assert!(matches!(bent.checked(), Err(LawFault::Implausible { .. })));
        assert!(ThermistorLaw::USUAL.checked().is_ok());
    }

    proptest! {
        #[test]
        fn there_and_back(degc in -55.0..150.0f64, beta_k in 2500.0..5000.0f64) {
            let law = ThermistorLaw::Beta { r25_ohm: 10_000.0, beta_k };
            prop_assert!((law.degc_at(law.ohm_at(degc)) - degc).abs() < 1e-9);
            let law = ThermistorLaw::SteinhartHart { a: 1.129_241e-3, b: 2.341_077e-4, c: 8.775_468e-8 };
            prop_assert!((law.degc_at(law.ohm_at(degc)) - degc).abs() < 1e-7);
        }

        #[test]
        fn no_resistance_makes_it_panic(ohm in proptest::num::f64::ANY) {
            let degc = ThermistorLaw::USUAL.degc_at(ohm);
            prop_assert!(degc.is_nan() || degc > -ZERO_DEGC_K - 1e-9);
        }
    }
}
