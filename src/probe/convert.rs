//! One board's way from a field of a line to a temperature.

use super::{Divider, DividerFault, LawFault, ProbeLaw, Quantity, ZERO_DEGC_K};
use crate::wire::{Field, Hello, NtcSide, Unit};

/// Decimals of a temperature in the files at most: 0.001 °C is below what any such probe resolves.
pub(super) const MOST_DECIMALS: u8 = 3;

/// What the user says of the board and its probes; each stated value stands over the board's.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ProbeSetup {
    /// What the numbers are, for boards that don't say it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Counts that stand for the reference voltage.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_scale: Option<u32>,
    /// The divider's fixed resistor in ohms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fixed_ohm: Option<f64>,
    /// The thermistor's place in the divider.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ntc_side: Option<NtcSide>,
    /// The law of each channel's probe; one for all where a single one is given. Runs of before
    /// call them thermistors.
    #[serde(alias = "thermistors", skip_serializing_if = "Vec::is_empty")]
    pub laws: Vec<ProbeLaw>,
}

/// Why a board's numbers cannot become temperatures.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SetupFault {
    /// Converter counts without a full scale.
    #[error("the numbers are converter counts, but nobody says which count is full scale")]
    NoFullScale,
    /// The fixed resistor is not a finite number greater than zero.
    #[error("the divider's fixed resistor {0} Ω must be finite and greater than zero")]
    FixedResistor(f64),
    /// A law's constants are wrong.
    #[error("channel {channel}: {fault}")]
    Law {
        /// Channel, counted from 1.
        channel: usize,
        /// What is wrong.
        fault: LawFault,
    },
    /// Laws for some channels only.
    #[error("{given} probes are described for {channels} channels; describe one or all")]
    LawCount {
        /// Laws given.
        given: usize,
        /// Channels of the board.
        channels: usize,
    },
}

/// What is wrong with one channel's reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ProbeFault {
    /// The board says that it has no reading.
    NoReading,
    /// The field was not a finite number.
    NotANumber,
    /// The thermistor is broken or unplugged.
    Open,
    /// The thermistor's leads touch.
    Short,
    /// Below absolute zero, outside the converter's scale, or hotter than any probe survives.
    OutOfRange,
    /// Another board than this bench's sent it.
    OtherBoard,
    /// Of several boards on one grid, this one sent no two rows close enough around the instant.
    Absent,
}

impl ProbeFault {
    /// The code that stands in the `flags` column.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::NoReading => "no-reading",
            Self::NotANumber => "not-a-number",
            Self::Open => "open",
            Self::Short => "short",
            Self::OutOfRange => "out-of-range",
            Self::OtherBoard => "other-board",
            Self::Absent => "absent",
        }
    }

    /// The fault in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoReading => "the board has no reading",
            Self::NotANumber => "the board sends no number",
            Self::Open => "open: broken lead or loose plug",
            Self::Short => "short: the leads touch",
            Self::OutOfRange => "out of range: no probe can be at this temperature",
            Self::OtherBoard => "another board answers at this port",
            Self::Absent => "its board sent nothing close enough to this instant",
        }
    }
}

/// One channel at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reading {
    /// A temperature.
    Degc {
        /// Temperature in °C, finite.
        value: f64,
        /// Decimals that the resolution warrants, 0 to 3.
        decimals: u8,
    },
    /// No temperature, and why.
    Fault(ProbeFault),
}

/// Turns fields into readings for one board.
#[derive(Debug, Clone, PartialEq)]
pub struct Converter {
    unit: Unit,
    divider: Option<Divider>,
    laws: Vec<ProbeLaw>,
    /// Decimals for counts and ohms; a printed temperature brings its own.
    decimals: u8,
}

impl Converter {
    /// From what the board says (`hello`, where it says anything), and what the user says.
    ///
    /// # Errors
    /// [`SetupFault`] says what is missing or impossible.
    pub fn new(
        setup: &ProbeSetup,
        hello: Option<&Hello>,
        channels: usize,
    ) -> Result<Self, SetupFault> {
        let unit = setup.unit.or(hello.map(|h| h.unit)).unwrap_or(Unit::Degc);
        let laws = Self::laws(setup, channels)?;
        let divider = if unit == Unit::Adc {
            Some(Self::divider(setup, hello)?)
        } else {
            None
        };
        let mut converter = Self {
            unit,
            divider,
            laws,
            decimals: MOST_DECIMALS,
        };
        if let Some(resolution) = converter.resolution_degc(0) {
            converter.decimals = decimals_for(resolution);
        }
        Ok(converter)
    }

    fn laws(setup: &ProbeSetup, channels: usize) -> Result<Vec<ProbeLaw>, SetupFault> {
        let given = match setup.laws.as_slice() {
            [] => vec![ProbeLaw::USUAL; channels],
            [one] => vec![one.clone(); channels],
            all if all.len() == channels => all.to_vec(),
            all => {
                return Err(SetupFault::LawCount {
                    given: all.len(),
                    channels,
                });
            }
        };
        for (index, law) in given.iter().enumerate() {
            law.check().map_err(|fault| SetupFault::Law {
                channel: index + 1,
                fault,
            })?;
        }
        Ok(given)
    }

    fn divider(setup: &ProbeSetup, hello: Option<&Hello>) -> Result<Divider, SetupFault> {
        let full_scale = setup
            .full_scale
            .or(hello.and_then(|h| h.full_scale))
            .filter(|&full| full > 0)
            .ok_or(SetupFault::NoFullScale)?;
        let fixed_ohm = setup
            .fixed_ohm
            .or(hello.and_then(|h| h.fixed_ohm))
            .unwrap_or(10_000.0);
        if !(fixed_ohm.is_finite() && fixed_ohm > 0.0) {
            return Err(SetupFault::FixedResistor(fixed_ohm));
        }
        let ntc_side = setup
            .ntc_side
            .or(hello.and_then(|h| h.ntc_side))
            .unwrap_or(NtcSide::Low);
        Ok(Divider {
            full_scale: f64::from(full_scale),
            fixed_ohm,
            ntc_side,
        })
    }

    /// What the numbers are taken for.
    #[must_use]
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// The temperature step of one converter count at 25 °C, in °C; `None` for boards that print
    /// temperatures or ohms, whose resolution is their last printed digit.
    #[must_use]
    pub fn resolution_degc(&self, channel: usize) -> Option<f64> {
        let divider = self.divider?;
        let law = self.laws.get(channel)?;
        let counts = divider.counts_at(law.signal_at(25.0)).floor();
        let degc = |counts: f64| divider.ohm_at(counts).map(|ohm| law.degc_at(ohm)).ok();
        let step = (degc(counts + 1.0)? - degc(counts)?).abs();
        step.is_finite().then_some(step)
    }

    /// How a channel's numbers become temperatures: what they are and, behind `; `, the law. The same
    /// text means that nothing of it has changed. A board that prints temperatures has no law.
    #[must_use]
    pub fn words(&self, channel: usize) -> String {
        let unit = serde_json::to_value(self.unit).unwrap_or_default();
        let unit = unit.as_str().unwrap_or_default();
        let law = self.laws.get(channel);
        let law = serde_json::to_string(&law).unwrap_or_default();
        match (self.unit, self.divider) {
            (Unit::Degc | Unit::Degf | Unit::Kelvin, _) => unit.to_owned(),
            (_, None) => format!("{unit}; {law}"),
            (_, Some(divider)) => format!(
                "{unit} of {}, fixed {} ohm, thermistor {:?}; {law}",
                divider.full_scale, divider.fixed_ohm, divider.ntc_side
            ),
        }
    }

    /// The law of a channel, where the board's numbers are not temperatures already.
    #[must_use]
    pub fn law(&self, channel: usize) -> Option<&ThermistorLaw> {
        let is_raw = matches!(self.unit, Unit::Adc | Unit::Ohm);
        self.laws.get(channel).filter(|_| is_raw)
    }

    /// One field of channel `channel` (counted from 0); `line_unit` is the unit that the line
    /// itself stated, which stands over the board's.
    #[must_use]
    pub fn reading(&self, channel: usize, field: Field, line_unit: Option<Unit>) -> Reading {
        let (value, printed) = match field {
            Field::Number { value, decimals } if value.is_finite() => (value, decimals),
            Field::Number { .. } | Field::NotANumber => {
                return Reading::Fault(ProbeFault::NotANumber);
            }
            Field::Empty => return Reading::Fault(ProbeFault::NoReading),
        };
        let printed = printed.min(MOST_DECIMALS);
        // A step of 0.1 °F is 0.06 °C: one decimal more.
        let finer = (printed + 1).min(MOST_DECIMALS);
        match line_unit.unwrap_or(self.unit) {
            Unit::Degc => in_range(value, printed),
            Unit::Degf => in_range((value - 32.0) / 1.8, finer),
            Unit::Kelvin => in_range(value - ZERO_DEGC_K, printed.max(2)),
            Unit::Ohm => self.degc_of_ohm(channel, value),
            Unit::Adc => match self.divider.map(|divider| divider.ohm_at(value)) {
                Some(Ok(ohm)) => self.degc_of_ohm(channel, ohm),
                Some(Err(DividerFault::Open)) => Reading::Fault(ProbeFault::Open),
                Some(Err(DividerFault::Short)) => Reading::Fault(ProbeFault::Short),
                Some(Err(DividerFault::OutOfScale)) | None => {
                    Reading::Fault(ProbeFault::OutOfRange)
                }
            },
        }
    }

    fn degc_of_ohm(&self, channel: usize, ohm: f64) -> Reading {
        let Some(law) = self.laws.get(channel) else {
            return Reading::Fault(ProbeFault::OutOfRange);
        };
        let (least, most) = law.limits();
        if ohm.is_nan() || ohm < 0.0 || law.quantity() != Quantity::Ohm {
            Reading::Fault(ProbeFault::OutOfRange)
        } else if ohm > most {
            Reading::Fault(ProbeFault::Open)
        } else if ohm < least {
            Reading::Fault(ProbeFault::Short)
        } else {
            in_range(law.degc_at(ohm), self.decimals)
        }
    }
}

/// Refuses what no temperature probe can be at: below absolute zero, or above 1800 °C, the end of
/// the common thermocouples (IEC 60584-1 tables type B to 1820 °C; value from memory).
fn in_range(value: f64, decimals: u8) -> Reading {
    if (-ZERO_DEGC_K..=1800.0).contains(&value) {
        Reading::Degc { value, decimals }
    } else {
        Reading::Fault(ProbeFault::OutOfRange)
    }
}

/// Decimals that show a step of `resolution_degc` without inventing digits: the first power of ten
/// at or below the step.
fn decimals_for(resolution_degc: f64) -> u8 {
    (0..MOST_DECIMALS)
        .find(|&d| 10f64.powi(-i32::from(d)) <= resolution_degc)
        .unwrap_or(MOST_DECIMALS)
}

#[cfg(test)]
mod tests;
