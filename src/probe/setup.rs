//! What people say of a board and its probes, and whether it can be.

use super::{Divider, LawFault, ProbeLaw, Quantity};
use crate::wire::{Hello, NtcSide, Unit};

/// Fewest counts of a converter: eight bits, in the convention whose top code is full scale.
const FEWEST_COUNTS: u32 = 255;

/// What the user says of the board and its probes; each stated value stands over the board's.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ProbeSetup {
    /// What the numbers are, for boards that don't say it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Counts that stand for the reference voltage: 255 for eight bits, up to 2^32 for sums of many
    /// conversions.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_scale: Option<u32>,
    /// The divider's fixed resistor in ohms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fixed_ohm: Option<f64>,
    /// The probe's place in the divider.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ntc_side: Option<NtcSide>,
    /// Voltage at which the converter is full, in volts. Where only one of reference and supply is
    /// stated, they are one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_volt: Option<f64>,
    /// Voltage across the divider, in volts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supply_volt: Option<f64>,
    /// Half-width of what the fixed resistor may be off by, as a share of it, below 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fixed_tolerance: Option<f64>,
    /// Half-width of what the reference, or its quotient with the supply, may be off by or drift, as a
    /// share of it, below 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference_tolerance: Option<f64>,
    /// The probes' dissipation constant in milliwatts per kelvin: what warms a probe by 1 K, in the
    /// medium that it is in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dissipation_mw_per_k: Option<f64>,
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
    /// A full scale that no converter has.
    #[error("full scale at {0} counts is less than eight bits, 255")]
    FullScale(u32),
    /// The fixed resistor is not a finite number greater than zero.
    #[error("the divider's fixed resistor {0} Ω must be finite and greater than zero")]
    FixedResistor(f64),
    /// A stated voltage, tolerance or dissipation constant cannot be.
    #[error("{name} cannot be {value}")]
    Stated {
        /// What was stated.
        name: &'static str,
        /// As what.
        value: f64,
    },
    /// A voltage sensor, and no reference to measure it by.
    #[error(
        "probe {channel}: it gives a voltage, but nobody says at which voltage the \
         converter is full"
    )]
    NoReference {
        /// Channel, counted from 1.
        channel: usize,
    },
    /// The board prints another quantity than the probe's law takes.
    #[error("probe {channel}: the board sends {sends}, but the probe's law takes {takes}")]
    Quantity {
        /// Channel, counted from 1.
        channel: usize,
        /// The unit that the board sends.
        sends: &'static str,
        /// The unit that the law takes.
        takes: &'static str,
    },
    /// A law's constants are wrong.
    #[error("probe {channel}: {fault}")]
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

/// Voltages, tolerances and heat, as far as they were stated.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Stated {
    pub(super) reference_volt: Option<f64>,
    pub(super) supply_volt: Option<f64>,
    pub(super) fixed_tolerance: Option<f64>,
    pub(super) reference_tolerance: Option<f64>,
    pub(super) dissipation_mw_per_k: Option<f64>,
}

impl ProbeSetup {
    /// Whether anything was stated that makes a lasting error: a tolerance, or what heats the probe.
    #[must_use]
    pub fn states_tolerance(&self) -> bool {
        let stated = [
            self.fixed_tolerance,
            self.reference_tolerance,
            self.dissipation_mw_per_k,
        ];
        stated.iter().any(Option::is_some)
    }

    /// The law of each channel, for a board that sends `unit`.
    pub(super) fn laws_of(&self, unit: Unit, channels: usize) -> Result<Vec<ProbeLaw>, SetupFault> {
        let given = match self.laws.as_slice() {
            [] if unit == Unit::Volt => {
                let (sends, takes) = (Quantity::Volt.symbol(), Quantity::Ohm.symbol());
                return Err(SetupFault::Quantity {
                    channel: 1,
                    sends,
                    takes,
                });
            }
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
        let sent = match unit {
            Unit::Ohm => Some(Quantity::Ohm),
            Unit::Volt => Some(Quantity::Volt),
            _ => None,
        };
        let has_reference = self.reference_volt.or(self.supply_volt).is_some();
        for (index, law) in given.iter().enumerate() {
            let channel = index + 1;
            law.check()
                .map_err(|fault| SetupFault::Law { channel, fault })?;
            let takes = law.quantity();
            if let Some(sends) = sent.filter(|sends| *sends != takes) {
                let (sends, takes) = (sends.symbol(), takes.symbol());
                return Err(SetupFault::Quantity {
                    channel,
                    sends,
                    takes,
                });
            }
            if unit == Unit::Adc && takes == Quantity::Volt && !has_reference {
                return Err(SetupFault::NoReference { channel });
            }
        }
        Ok(given)
    }

    /// Voltages and tolerances; a voltage that is not stated is the other one.
    pub(super) fn stated(&self) -> Result<Stated, SetupFault> {
        let within = |name, value: Option<f64>, most: f64| match value {
            // NaN is within nothing.
            Some(v) if !(v > 0.0 && v < most) => Err(SetupFault::Stated { name, value: v }),
            value => Ok(value),
        };
        let reference_volt = within("the reference voltage", self.reference_volt, 1e3)?;
        let supply_volt = within("the supply voltage", self.supply_volt, 1e3)?;
        Ok(Stated {
            reference_volt: reference_volt.or(supply_volt),
            supply_volt: supply_volt.or(reference_volt),
            fixed_tolerance: within("the resistor's tolerance", self.fixed_tolerance, 1.0)?,
            reference_tolerance: within(
                "the reference's tolerance",
                self.reference_tolerance,
                1.0,
            )?,
            dissipation_mw_per_k: within(
                "the dissipation constant",
                self.dissipation_mw_per_k,
                1e6,
            )?,
        })
    }

    /// The divider in front of a converter.
    pub(super) fn divider(&self, hello: Option<&Hello>) -> Result<Divider, SetupFault> {
        let full_scale = self
            .full_scale
            .or(hello.and_then(|h| h.full_scale))
            .filter(|&full| full > 0)
            .ok_or(SetupFault::NoFullScale)?;
        if full_scale < FEWEST_COUNTS {
            return Err(SetupFault::FullScale(full_scale));
        }
        let fixed_ohm = self
            .fixed_ohm
            .or(hello.and_then(|h| h.fixed_ohm))
            .unwrap_or(10_000.0);
        if !(fixed_ohm.is_finite() && fixed_ohm > 0.0) {
            return Err(SetupFault::FixedResistor(fixed_ohm));
        }
        let ntc_side = self
            .ntc_side
            .or(hello.and_then(|h| h.ntc_side))
            .unwrap_or(NtcSide::Low);
        let stated = self.stated()?;
        let quotient = |(supply, reference)| supply / reference;
        Ok(Divider {
            full_scale: f64::from(full_scale),
            fixed_ohm,
            ntc_side,
            supply_per_reference: stated
                .supply_volt
                .zip(stated.reference_volt)
                .map_or(1.0, quotient),
        })
    }
}
