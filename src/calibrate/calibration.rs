//! A calibration as it is stored: for one channel of one board, of one kind.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::constants::Constants;
use super::line::CorrectionLine;

/// What was found, and when, how and for which probe.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// The board: its id, `usb:` and its adapter's serial number, or a name that people gave.
    pub board: String,
    /// The channel, counted from 1.
    pub channel: usize,
    /// When, RFC 3339.
    #[serde(deserialize_with = "date")]
    pub date: String,
    /// How, in words.
    pub method: String,
    /// Version of the program that made it.
    pub program: String,
    /// How the board's numbers became temperatures meanwhile: for another divider or law the
    /// calibration does not hold. Constants state the divider only. None where it is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probe: Option<String>,
    /// What was found.
    pub found: Found,
    /// What it was like: `pressure_hpa`, `altitude_m`, `bath_degc` …
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub conditions: BTreeMap<String, f64>,
}

/// What a calibration found. Standard uncertainties throughout.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum Found {
    /// All probes in one bath: this one against the mean of all.
    Match {
        /// The mean reading in °C.
        reading_degc: f64,
        /// Reading minus mean of all, in °C.
        difference_degc: f64,
        /// Its standard uncertainty in °C.
        u_degc: f64,
    },
    /// In melting ice.
    Ice {
        /// The mean reading in °C.
        reading_degc: f64,
        /// What is to be added, in °C.
        correction_degc: f64,
        /// Its standard uncertainty in °C.
        u_degc: f64,
    },
    /// In boiling water.
    Boil {
        /// The mean reading in °C.
        reading_degc: f64,
        /// What is to be added, in °C.
        correction_degc: f64,
        /// Its standard uncertainty in °C.
        u_degc: f64,
    },
    /// A thermistor's constants from points.
    Constants {
        /// Covariance of the coefficients of `1, ln R` or `1, ln R, (ln R)³`, in 1/K².
        covariance: Vec<Vec<f64>>,
        /// Reference temperatures in °C between which the points lie.
        from_degc: f64,
        /// Likewise.
        to_degc: f64,
        /// Standard deviation of the residuals in °C, with a degree of freedom.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        residual_sd_degc: Option<f64>,
        /// The constants.
        constants: Constants,
    },
    /// A correction that changes with the reading, from points.
    Line {
        /// Readings in °C between which the points lie.
        from_degc: f64,
        /// Likewise.
        to_degc: f64,
        /// Standard deviation of the residuals in °C, with a degree of freedom.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        residual_sd_degc: Option<f64>,
        /// The line.
        correction: CorrectionLine,
    },
    /// How fast the probe follows.
    Lag {
        /// Time constant in seconds.
        tau_s: f64,
        /// Its standard uncertainty in seconds.
        u_s: f64,
    },
}

impl Found {
    /// The word for the kind.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Match { .. } => "match",
            Self::Ice { .. } => "ice",
            Self::Boil { .. } => "boil",
            Self::Constants { .. } => "constants",
            Self::Line { .. } => "line",
            Self::Lag { .. } => "lag",
        }
    }

    /// Numbers that must be finite, and standard uncertainties, which must not be negative either.
    fn numbers(&self) -> (Vec<f64>, Vec<f64>) {
        match self {
            Self::Match {
                reading_degc,
                difference_degc,
                u_degc,
            } => (vec![*reading_degc, *difference_degc], vec![*u_degc]),
            Self::Ice {
                reading_degc,
                correction_degc,
                u_degc,
            }
            | Self::Boil {
                reading_degc,
                correction_degc,
                u_degc,
            } => (vec![*reading_degc, *correction_degc], vec![*u_degc]),
            Self::Constants {
                covariance,
                from_degc,
                to_degc,
                ..
            } => {
                let mut all: Vec<f64> = covariance.iter().flatten().copied().collect();
                all.extend([*from_degc, *to_degc]);
                (all, Vec::new())
            }
            Self::Line {
                from_degc,
                to_degc,
                correction,
                ..
            } => {
                let line = correction.line;
                let values = vec![
                    *from_degc,
                    *to_degc,
                    line.about_degc,
                    line.offset_degc,
                    line.slope,
                    correction.correlation,
                ];
                (values, vec![correction.u_offset_degc, correction.u_slope])
            }
            Self::Lag { tau_s, u_s } => (Vec::new(), vec![*tau_s, *u_s]),
        }
    }
}

impl Calibration {
    /// What is wrong with a calibration that people may have edited; none if nothing is.
    #[must_use]
    pub fn fault(&self) -> Option<String> {
        if self.channel == 0 || self.channel > crate::wire::MAX_CHANNELS {
            return Some(format!("channel {} is not in 1 to 8", self.channel));
        }
        if self.board.is_empty() {
            return Some("the board has no name".into());
        }
        let (values, uncertainties) = self.found.numbers();
        if !values.iter().chain(&uncertainties).all(|v| v.is_finite()) {
            return Some("a number is not finite".into());
        }
        if uncertainties.iter().any(|u| *u < 0.0) {
            return Some("an uncertainty or time is below zero".into());
        }
        let Found::Constants {
            constants,
            covariance,
            ..
        } = &self.found
        else {
            return None;
        };
        let count = match constants {
            Constants::Beta { .. } => 2,
            Constants::SteinhartHart { .. } => 3,
        };
        let is_square =
            covariance.len() == count && covariance.iter().all(|row| row.len() == count);
        match constants.law().checked() {
            Err(fault) => Some(fault.to_string()),
            Ok(_) if !is_square => Some(format!("the covariance is not {count} by {count}")),
            Ok(_) => None,
        }
    }
}

/// Seconds between two RFC 3339 instants, negative if the first is later; none if either is no date.
#[must_use]
pub fn age_s(date: &str, now: &str) -> Option<f64> {
    let (date, now): (Timestamp, Timestamp) = (date.parse().ok()?, now.parse().ok()?);
    Some(now.duration_since(date).as_secs_f64())
}

fn date<'de, D: serde::Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    use serde::Deserialize as _;
    let text = String::deserialize(from)?;
    match text.parse::<Timestamp>() {
        Ok(_) => Ok(text),
        Err(_) => Err(serde::de::Error::custom(
            "the date is not like 2026-03-14T10:32:05Z",
        )),
    }
}
