//! The law of a probe: from its signal, a resistance or a voltage, to a temperature and back.

mod cubic;
mod platinum;
mod points;
mod steinhart;

use super::ZERO_DEGC_K;
pub use points::{MOST_POINTS, PointTable, TableFault};
use steinhart::Cubic;

/// 25 °C in kelvin, the reference temperature of thermistor data sheets (IEC 60539-1).
const T25_K: f64 = 298.15;

/// Coldest and hottest temperature of thermistors, in °C: common epoxy-dipped ones (common
/// practice, no source).
const THERMISTOR_DEGC: (f64, f64) = (-55.0, 150.0);

/// Absolute zero, and the end of the common thermocouples (IEC 60584-1 tables type B to 1820 °C;
/// value from memory), in °C: nothing that measures temperatures in a school is beyond.
const ANY_DEGC: (f64, f64) = (-ZERO_DEGC_K, 1800.0);

/// What a probe shows its temperature by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Quantity {
    /// A resistance in ohms.
    Ohm,
    /// A voltage in volts.
    Volt,
}

impl Quantity {
    /// The symbol of its unit.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Ohm => "Ω",
            Self::Volt => "V",
        }
    }
}

/// How a probe's signal depends on its temperature.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProbeLaw {
    /// A thermistor: `R = R25 · exp(B · (1/T − 1/298.15 K))`, good to some 0.5 °C over a
    /// classroom's range.
    Beta {
        /// Resistance at 25 °C in ohms, greater than zero.
        r25_ohm: f64,
        /// The B value in kelvin, greater than zero.
        beta_k: f64,
    },
    /// A thermistor: `1/T = a + b·ln R + c2·(ln R)² + c·(ln R)³`, with R in ohms (Steinhart and
    /// Hart, Deep-Sea Research 15, 1968; most often without the square).
    SteinhartHart {
        /// Constant term in 1/K.
        a: f64,
        /// Factor of `ln R` in 1/K.
        b: f64,
        /// Factor of `(ln R)²` in 1/K; `c2² < 3·b·c`, or the law would turn back.
        #[serde(default, skip_serializing_if = "is_zero")]
        c2: f64,
        /// Factor of `(ln R)³` in 1/K, greater than zero.
        c: f64,
    },
    /// A platinum resistor by IEC 60751, from −200 °C to 850 °C.
    Platinum {
        /// Resistance at 0 °C in ohms, 1 to 100 000.
        r0_ohm: f64,
    },
    /// A sensor whose voltage is `v0 + s·t`.
    Linear {
        /// Voltage at 0 °C in volts.
        v0_volt: f64,
        /// Volts per degree, not zero; may be negative, as a diode's is.
        volt_per_degc: f64,
    },
    /// A table of points, with a smooth monotone curve through them.
    Points(PointTable),
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes it so")]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

/// A thermistor by its physical constants, as many makers sell it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Generic {
    /// Resistance at 25 °C in ohms.
    pub r25_ohm: f64,
    /// The B value in kelvin.
    pub beta_k: f64,
    /// The two temperatures in °C that the B value is stated between.
    pub between_degc: (f64, f64),
}

/// The thermistors that are met most (common practice, no source). The first two are one curve,
/// whose B value grows with the temperatures that it is stated between.
pub const GENERIC: [Generic; 6] = [
    generic(10e3, 3380.0, 50.0),
    generic(10e3, 3435.0, 85.0),
    generic(10e3, 3950.0, 50.0),
    generic(10e3, 3977.0, 85.0),
    generic(50e3, 3950.0, 50.0),
    generic(100e3, 3950.0, 50.0),
];

const fn generic(r25_ohm: f64, beta_k: f64, upper_degc: f64) -> Generic {
    Generic {
        r25_ohm,
        beta_k,
        between_degc: (25.0, upper_degc),
    }
}

/// Why constants are not those of a probe.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LawFault {
    /// A constant is not a finite number greater than zero.
    #[error("the constant {name} = {value} must be a finite number greater than zero")]
    Constant {
        /// Which constant.
        name: &'static str,
        /// What was given.
        value: f64,
    },
    /// A constant is not a finite number other than zero, or not finite at all.
    #[error("the constant {name} = {value} makes no law")]
    Unusable {
        /// Which constant.
        name: &'static str,
        /// What was given.
        value: f64,
    },
    /// The curve of four constants turns back: one temperature would have several resistances.
    #[error("the curve of these constants turns back: c2² must be less than 3·b·c")]
    TurnsBack,
    /// Constants that give a resistance at 25 °C which no temperature probe has.
    #[error("these constants make {r25_ohm:.3e} Ω at 25 °C; a thermistor has 10 Ω to 10 MΩ")]
    Implausible {
        /// The resistance that follows from the constants.
        r25_ohm: f64,
    },
    /// A platinum resistor of a size that nobody makes.
    #[error("a platinum probe has 1 Ω to 100 kΩ at 0 °C, not {r0_ohm}")]
    Platinum {
        /// What was given.
        r0_ohm: f64,
    },
    /// A table that no probe can have.
    #[error(transparent)]
    Table(#[from] TableFault),
}

impl ProbeLaw {
    /// The most usual hobby probe: 10 kΩ at 25 °C, B = 3950 K (common practice, no source).
    pub const USUAL: Self = Self::Beta {
        r25_ohm: 10_000.0,
        beta_k: 3950.0,
    };

    /// A thermistor whose four constants are stated for `ln(R/R_ref)`, as data sheets do:
    /// `1/T = c0 + c1·l + c2·l² + c3·l³` with `l = ln(R/r_ref_ohm)`.
    #[must_use]
    pub fn about(r_ref_ohm: f64, [c0, c1, c2, c3]: [f64; 4]) -> Self {
        let l = r_ref_ohm.ln();
        Self::SteinhartHart {
            a: c0 - l * (c1 - l * (c2 - l * c3)),
            b: c1 - l * (2.0 * c2 - 3.0 * l * c3),
            c2: c2 - 3.0 * l * c3,
            c: c3,
        }
    }

    /// Refuses constants that no probe has.
    ///
    /// # Errors
    /// [`LawFault`] names the constant, or the impossible resistance that follows from them.
    pub fn checked(self) -> Result<Self, LawFault> {
        self.check().map(|()| self)
    }

    /// [`Self::checked`], by reference.
    ///
    /// # Errors
    /// As [`Self::checked`].
    pub fn check(&self) -> Result<(), LawFault> {
        match self {
            &Self::Beta { r25_ohm, beta_k } => {
                positive("R25", r25_ohm)?;
                positive("B", beta_k)?;
                self.plausible_thermistor()?;
            }
            &Self::SteinhartHart { a, b, c2, c } => {
                positive("b", b)?;
                positive("c", c)?;
                finite("a", a)?;
                finite("c2", c2)?;
                if c2 * c2 >= 3.0 * b * c {
                    return Err(LawFault::TurnsBack);
                }
                self.plausible_thermistor()?;
            }
            &Self::Platinum { r0_ohm } => {
                if !(1.0..=1e5).contains(&r0_ohm) {
                    return Err(LawFault::Platinum { r0_ohm });
                }
            }
            &Self::Linear {
                v0_volt,
                volt_per_degc,
            } => {
                finite("V at 0 °C", v0_volt)?;
                finite("V per °C", volt_per_degc)?;
                if volt_per_degc.abs() < f64::MIN_POSITIVE {
                    let name = "V per °C";
                    return Err(LawFault::Unusable {
                        name,
                        value: volt_per_degc,
                    });
                }
            }
            Self::Points(_) => {}
        }
        Ok(())
    }

    fn plausible_thermistor(&self) -> Result<(), LawFault> {
        let r25_ohm = self.signal_at(25.0);
        if (10.0..=1e7).contains(&r25_ohm) {
            Ok(())
        } else {
            Err(LawFault::Implausible { r25_ohm })
        }
    }

    /// What the probe shows its temperature by.
    #[must_use]
    pub fn quantity(&self) -> Quantity {
        match self {
            Self::Beta { .. } | Self::SteinhartHart { .. } | Self::Platinum { .. } => Quantity::Ohm,
            Self::Linear { .. } => Quantity::Volt,
            Self::Points(table) => table.quantity(),
        }
    }

    /// Coldest and hottest temperature in °C that the law is stated for.
    #[must_use]
    pub fn range_degc(&self) -> (f64, f64) {
        match self {
            Self::Beta { .. } | Self::SteinhartHart { .. } => THERMISTOR_DEGC,
            Self::Platinum { .. } => platinum::RANGE_DEGC,
            Self::Linear { .. } => ANY_DEGC,
            Self::Points(table) => table.range_degc(),
        }
    }

    /// Least and greatest signal in ohms or volts that a probe by this law can give at all. Less
    /// resistance is that of leads that touch, more that of a broken one. A table is continued
    /// along its ends to where probes of its kind end.
    #[must_use]
    pub fn limits(&self) -> (f64, f64) {
        let (cold, hot) = if let Self::Points(table) = self {
            table.limits()
        } else {
            let (cold, hot) = self.range_degc();
            (self.signal_at(cold), self.signal_at(hot))
        };
        (cold.min(hot), cold.max(hot))
    }

    /// Temperature in °C at a signal in ohms or volts; NaN where the law has none: a resistance that
    /// is not finite and positive, a temperature below absolute zero, beyond a table.
    #[must_use]
    pub fn degc_at(&self, signal: f64) -> f64 {
        if !signal.is_finite() || (self.quantity() == Quantity::Ohm && signal <= 0.0) {
            return f64::NAN;
        }
        match self {
            &Self::Beta { r25_ohm, beta_k } => {
                degc_of_inverse_k(1.0 / T25_K + (signal / r25_ohm).ln() / beta_k)
            }
            &Self::SteinhartHart { a, b, c2, c } => {
                degc_of_inverse_k(Cubic { a, b, c2, c }.at(signal.ln()))
            }
            &Self::Platinum { r0_ohm } => platinum::degc_at(signal / r0_ohm),
            &Self::Linear {
                v0_volt,
                volt_per_degc,
            } => {
                let degc = (signal - v0_volt) / volt_per_degc;
                if degc > -ZERO_DEGC_K { degc } else { f64::NAN }
            }
            Self::Points(table) => table.degc_at(signal),
        }
    }

    /// Signal in ohms or volts at a temperature in °C; NaN below absolute zero and beyond a
    /// table.
    #[must_use]
    pub fn signal_at(&self, degc: f64) -> f64 {
        let t_k = degc + ZERO_DEGC_K;
        if t_k.is_nan() || t_k < 0.0 {
            return f64::NAN;
        }
        match self {
            &Self::Beta { r25_ohm, beta_k } => r25_ohm * (beta_k * (1.0 / t_k - 1.0 / T25_K)).exp(),
            &Self::SteinhartHart { a, b, c2, c } => Cubic { a, b, c2, c }.root(1.0 / t_k).exp(),
            &Self::Platinum { r0_ohm } => r0_ohm * platinum::ratio_at(degc),
            &Self::Linear {
                v0_volt,
                volt_per_degc,
            } => v0_volt + volt_per_degc * degc,
            Self::Points(table) => table.signal_at(degc),
        }
    }

    /// How the temperature changes with the signal, in °C per ohm or per volt, at a signal; NaN
    /// where the law has no temperature.
    #[must_use]
    pub fn slope_at(&self, signal: f64) -> f64 {
        let degc = self.degc_at(signal);
        let t_k = degc + ZERO_DEGC_K;
        match self {
            &Self::Beta { beta_k, .. } => -t_k * t_k / (beta_k * signal),
            &Self::SteinhartHart { a, b, c2, c } => {
                -t_k * t_k * Cubic { a, b, c2, c }.slope_at(signal.ln()) / signal
            }
            &Self::Platinum { r0_ohm } => 1.0 / (r0_ohm * platinum::ratio_per_degc(degc)),
            &Self::Linear { volt_per_degc, .. } => 1.0 / volt_per_degc,
            Self::Points(table) => table.slope_at(signal),
        }
    }
}

fn positive(name: &'static str, value: f64) -> Result<(), LawFault> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(LawFault::Constant { name, value })
    }
}

fn finite(name: &'static str, value: f64) -> Result<(), LawFault> {
    if value.is_finite() {
        Ok(())
    } else {
        Err(LawFault::Unusable { name, value })
    }
}

/// °C at a reciprocal temperature; NaN for none.
fn degc_of_inverse_k(inverse_k: f64) -> f64 {
    if inverse_k > 0.0 {
        1.0 / inverse_k - ZERO_DEGC_K
    } else {
        f64::NAN
    }
}

#[cfg(test)]
mod tests;
