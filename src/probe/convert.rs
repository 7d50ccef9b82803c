//! One board's way from a field of a line to a temperature.

use super::setup::Stated;
use super::{Divider, DividerFault, ProbeLaw, ProbeSetup, Quantity, SetupFault, ZERO_DEGC_K};
use crate::wire::{Field, Hello, Unit};

/// Decimals of a temperature in the files at most: 0.001 °C is below what any such probe resolves.
pub(super) const MOST_DECIMALS: u8 = 3;

/// What is wrong with one channel's reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ProbeFault {
    /// The board says that it has no reading.
    NoReading,
    /// What a digital probe shows from power-on until it has measured.
    PowerOn,
    /// The field was not a finite number.
    NotANumber,
    /// The thermistor is broken or unplugged.
    Open,
    /// The thermistor's leads touch.
    Short,
    /// Beyond what the probe's law or the converter's scale can tell, or what any probe can be at.
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
            Self::PowerOn => "power-on",
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
            Self::PowerOn => "85 °C out of nothing: what a probe shows before it has measured",
            Self::NotANumber => "the board sends no number",
            Self::Open => "open: broken lead or loose plug",
            Self::Short => "short: the leads touch",
            Self::OutOfRange => "out of range: beyond what the probe or its converter can show",
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
    pub(super) unit: Unit,
    pub(super) divider: Option<Divider>,
    pub(super) laws: Vec<ProbeLaw>,
    pub(super) stated: Stated,
    /// What each channel's signal can be, and the decimals that its counts warrant.
    bounds: Vec<Bounds>,
}

/// What one channel can show.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bounds {
    /// Least and greatest signal of a sound probe, in ohms or volts.
    least: f64,
    most: f64,
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
        let laws = setup.laws_of(unit, channels)?;
        let stated = setup.stated()?;
        let divider = match unit {
            Unit::Adc => Some(setup.divider(hello)?),
            _ => None,
        };
        let mut converter = Self {
            unit,
            divider,
            laws,
            stated,
            bounds: Vec::new(),
        };
        converter.bounds = (0..channels)
            .map(|channel| converter.bounds_of(channel))
            .collect();
        Ok(converter)
    }

    fn bounds_of(&self, channel: usize) -> Bounds {
        let limits = self.laws.get(channel).map(ProbeLaw::limits);
        let (least, most) = limits.unwrap_or((f64::NAN, f64::NAN));
        let decimals = self
            .resolution_degc(channel)
            .map_or(MOST_DECIMALS, decimals_for);
        Bounds {
            least,
            most,
            decimals,
        }
    }

    /// What the numbers are taken for.
    #[must_use]
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// The temperature step of one converter count at 25 °C, or where the law is nearest to it, in
    /// °C; `None` for boards that print temperatures, ohms or volts, whose resolution is their last
    /// printed digit.
    #[must_use]
    pub fn resolution_degc(&self, channel: usize) -> Option<f64> {
        let (coldest, hottest) = self.laws.get(channel)?.range_degc();
        self.count_degc(channel, 25.0_f64.clamp(coldest, hottest))
    }

    /// The temperature step of one converter count at a temperature, both in °C.
    #[must_use]
    pub fn count_degc(&self, channel: usize, degc: f64) -> Option<f64> {
        let divider = self.divider.as_ref()?;
        let law = self.laws.get(channel)?;
        let signal = law.signal_at(degc);
        let per_count = match law.quantity() {
            Quantity::Ohm => divider.ohm_per_count(signal),
            Quantity::Volt => self.stated.reference_volt? / divider.full_scale,
        };
        let step = (law.slope_at(signal) * per_count).abs();
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
                "{unit} of {}, supply {} of reference {}, fixed {} ohm, probe {:?}; {law}",
                divider.full_scale,
                divider.supply_per_reference,
                self.stated
                    .reference_volt
                    .map_or("unsaid".into(), |volt| format!("{volt} V")),
                divider.fixed_ohm,
                divider.ntc_side
            ),
        }
    }

    /// The law of a channel, where the board's numbers are not temperatures already.
    #[must_use]
    pub fn law(&self, channel: usize) -> Option<&ProbeLaw> {
        let is_raw = matches!(self.unit, Unit::Adc | Unit::Ohm | Unit::Volt);
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
        let shown = printed.min(MOST_DECIMALS);
        // A step of 0.1 °F is 0.06 °C: one decimal more.
        let finer = (shown + 1).min(MOST_DECIMALS);
        match line_unit.unwrap_or(self.unit) {
            Unit::Degc => stated(value, shown),
            Unit::Degf => stated((value - 32.0) / 1.8, finer),
            Unit::Kelvin => stated(value - ZERO_DEGC_K, shown.max(2)),
            Unit::Ohm => self.degc_of_printed(channel, Quantity::Ohm, value, printed),
            Unit::Volt => self.degc_of_printed(channel, Quantity::Volt, value, printed),
            Unit::Adc => self.degc_of_counts(channel, value),
        }
    }

    fn degc_of_counts(&self, channel: usize, counts: f64) -> Reading {
        let Some((law, divider)) = self.laws.get(channel).zip(self.divider.as_ref()) else {
            return Reading::Fault(ProbeFault::OutOfRange);
        };
        let signal = match (law.quantity(), self.stated.reference_volt) {
            (Quantity::Ohm, _) => divider.ohm_at(counts),
            // At either end of its scale a converter cannot tell how far beyond the voltage is.
            (Quantity::Volt, Some(reference_volt))
                if counts >= 1.0 && counts < divider.full_scale - 1.0 =>
            {
                Ok(counts / divider.full_scale * reference_volt)
            }
            (Quantity::Volt, _) => Err(DividerFault::Saturated),
        };
        let decimals = self.bounds.get(channel).map_or(0, |b| b.decimals);
        match signal {
            Ok(signal) => self.degc_of(channel, signal, decimals),
            Err(DividerFault::Open) => Reading::Fault(ProbeFault::Open),
            Err(DividerFault::Short) => Reading::Fault(ProbeFault::Short),
            Err(DividerFault::OutOfScale | DividerFault::Saturated) => {
                Reading::Fault(ProbeFault::OutOfRange)
            }
        }
    }

    /// A signal that the board printed, with so many digits after its decimal point.
    fn degc_of_printed(
        &self,
        channel: usize,
        quantity: Quantity,
        signal: f64,
        printed: u8,
    ) -> Reading {
        let law = self.laws.get(channel);
        let Some(law) = law.filter(|law| law.quantity() == quantity) else {
            return Reading::Fault(ProbeFault::OutOfRange);
        };
        let step = law.slope_at(signal).abs() * 10_f64.powi(-i32::from(printed));
        self.degc_of(channel, signal, decimals_for(step))
    }

    fn degc_of(&self, channel: usize, signal: f64, decimals: u8) -> Reading {
        let Some((law, bounds)) = self.laws.get(channel).zip(self.bounds.get(channel)) else {
            return Reading::Fault(ProbeFault::OutOfRange);
        };
        match law.quantity() {
            Quantity::Ohm if signal > bounds.most => Reading::Fault(ProbeFault::Open),
            Quantity::Ohm if signal >= 0.0 && signal < bounds.least => {
                Reading::Fault(ProbeFault::Short)
            }
            // Where the law itself has no temperature, its answer is NaN.
            _ => in_range(law.degc_at(signal), decimals),
        }
    }
}

/// What sketches print for a digital probe on one wire that does not answer (common practice, no source).
const NO_ANSWER_DEGC: f64 = -127.0;

/// A temperature that the board states as such, in whatever unit.
fn stated(degc: f64, decimals: u8) -> Reading {
    // -196.6 °F is the same, but for the rounding of its conversion.
    if (degc - NO_ANSWER_DEGC).abs() < 1e-6 {
        return Reading::Fault(ProbeFault::NoReading);
    }
    in_range(degc, decimals)
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
