//! What a virtual board is made of, and the door at which nonsense is refused.

use thiserror::Error;

use super::air::AirSpec;
use super::bath::BathSpec;
use super::fault::Fault;
use super::material::SampleSpec;
use super::thermal::LampSpec;
use crate::probe::{Divider, LawFault, ProbeLaw};
use crate::wire::{MAX_CHANNELS, NtcSide, Unit};

/// A whole virtual bench: samples, lamp, board, cable and what goes wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct BoardConfig {
    /// The same seed gives the same bytes.
    pub seed: u64,
    /// The board's own name, 1 to 24 of `A-Z a-z 0-9 - _ .`.
    pub board_id: String,
    /// The samples, 1 to 8, one channel each.
    pub samples: Vec<SampleSpec>,
    /// The air around them.
    pub air: AirSpec,
    /// The lamp over them.
    pub lamp: LampSpec,
    /// Where the probes stand, if not on the samples.
    pub bath: Option<BathSpec>,
    /// How the board words what it measures.
    pub speech: Speech,
    /// How it measures.
    pub electronics: Electronics,
    /// Time between samples in milliseconds, 5 to 3 600 000.
    pub period_ms: u32,
    /// Whether the board sends a line end before its boot hello, so that half a line left by a
    /// reset ends there. If not, the two are spliced.
    pub ends_line_at_boot: bool,
    /// Time from power to the first hello in seconds, 0 or more.
    pub boot_s: f64,
    /// The board's clock.
    pub clock: ClockSpec,
    /// The cable.
    pub link: LinkSpec,
    /// When the stream ends, in seconds; `None` for never.
    pub end_s: Option<f64>,
    /// What goes wrong, in any order.
    pub faults: Vec<Fault>,
}

/// How a board words its lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speech {
    /// The native line protocol, with sequence number, board clock and checksum.
    Native,
    /// Plain numbers in degrees Celsius: `23.4,25.1`.
    Plain,
    /// Labelled numbers in degrees Celsius: `slate=23.4 moss=25.1`.
    Labelled,
    /// One JSON object a line, in degrees Celsius: `{"slate":23.4,"moss":25.1}`.
    Json,
}

/// Thermistor, divider and converter, the same for every channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Electronics {
    /// What native lines carry: counts, ohms or degrees Celsius. The other kinds of speech always
    /// carry degrees Celsius.
    pub unit: Unit,
    /// Counts that stand for the reference, 2 to 2^24.
    pub full_scale: u32,
    /// The divider's fixed resistor in ohms, greater than 0.
    pub fixed_ohm: f64,
    /// Where the thermistor sits.
    pub ntc_side: NtcSide,
    /// The thermistor's resistance law.
    pub law: ProbeLaw,
    /// Standard deviation of the temperature at the probe, in degrees Celsius, 0 or more.
    pub noise_degc: f64,
    /// Standard deviation of the converter, in counts, 0 or more.
    pub noise_counts: f64,
    /// Digits after the decimal point: at most 6 for degrees, at most 2 for ohms.
    pub decimals: u8,
    /// Delay of each channel after the one before, in microseconds, as the hello states it; the
    /// samples do not move in so short a time.
    pub skew_us: u32,
}

/// The board's clock. Its rate against true time is
/// `1 + 1e-6·(ppm + ppm_per_h·hours + ppm_per_degc·(T − 23 °C))`, T being the board's temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct ClockSpec {
    /// How much too fast at time 0 and 23 °C, in parts per million, −20 000 to 20 000.
    pub ppm: f64,
    /// Change with time in parts per million per hour.
    pub ppm_per_h: f64,
    /// Change with the board's temperature in parts per million per degree.
    pub ppm_per_degc: f64,
    /// How far the lamp warms the board in the end, in degrees Celsius.
    pub lamp_warms_degc: f64,
    /// Milliseconds on the clock at time 0.
    pub start_ms: u32,
    /// First sequence number.
    pub start_seq: u32,
    /// Greatest delay of a sample after its clock tick, in microseconds, below 1000.
    pub jitter_us: f64,
}

/// The cable and the host's side of it.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkSpec {
    /// Bits per second, ten to a byte; `None` for a board with USB of its own.
    pub baud: Option<u32>,
    /// Least and greatest delay between a byte on the wire and the host's read, in milliseconds.
    pub batch_ms: (f64, f64),
    /// Share of lines that reach the host cut in two, 0 to 1.
    pub cut_share: f64,
}

/// Why a virtual board cannot be built.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ConfigFault {
    /// The number of samples is not 1 to 8.
    #[error("a virtual board has 1 to 8 samples, not {0}")]
    Samples(usize),
    /// A number is not finite or out of the range that its field states.
    #[error("the virtual board's {field} is out of range")]
    OutOfRange {
        /// Name of the field.
        field: &'static str,
    },
    /// The thermistor's law makes no sense.
    #[error("the virtual board's thermistor: {0}")]
    Law(#[from] LawFault),
}

impl BoardConfig {
    /// A board of two samples, slate and moss, in a dark and quiet room of 23 °C.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self {
            seed,
            board_id: "K7F2".to_owned(),
            samples: vec![SampleSpec::slate(), SampleSpec::moss()],
            air: AirSpec {
                mean_degc: 23.0,
                drift_degc: 0.25,
                day: None,
            },
            lamp: LampSpec::dark(),
            bath: None,
            speech: Speech::Native,
            electronics: Electronics::default(),
            period_ms: 250,
            ends_line_at_boot: false,
            boot_s: 1.2,
            clock: ClockSpec::default(),
            link: LinkSpec::default(),
            end_s: None,
            faults: Vec::new(),
        }
    }

    /// The divider in front of the converter.
    #[must_use]
    pub fn divider(&self) -> Divider {
        Divider {
            full_scale: f64::from(self.electronics.full_scale),
            fixed_ohm: self.electronics.fixed_ohm,
            ntc_side: self.electronics.ntc_side,
            supply_per_reference: 1.0,
        }
    }

    /// Refuses what the fields' ranges forbid.
    ///
    /// # Errors
    /// [`ConfigFault`] names the first field that is out of range.
    pub fn check(&self) -> Result<(), ConfigFault> {
        if !(1..=MAX_CHANNELS).contains(&self.samples.len()) {
            return Err(ConfigFault::Samples(self.samples.len()));
        }
        self.electronics.law.check()?;
        let is_of_an_id = |b: u8| b.is_ascii_alphanumeric() || b"-_.".contains(&b);
        let id_is_plain = self.board_id.bytes().all(is_of_an_id);
        let doors = [
            (
                "board_id",
                id_is_plain && (1..=24).contains(&self.board_id.len()),
            ),
            ("samples", self.samples.iter().all(SampleSpec::is_sound)),
            ("air", self.air.is_sound()),
            ("lamp", self.lamp.is_sound()),
            (
                "bath",
                self.bath
                    .is_none_or(|bath| bath.is_sound(self.samples.len())),
            ),
            ("electronics", self.electronics.is_sound()),
            (
                "period_ms",
                (PERIODS_MS.0..=PERIODS_MS.1).contains(&self.period_ms),
            ),
            ("boot_s", within(self.boot_s, 0.0, 3600.0)),
            ("clock", self.clock.is_sound()),
            ("link", self.link.is_sound()),
            (
                "end_s",
                self.end_s.is_none_or(|end_s| within(end_s, 0.0, 1e9)),
            ),
            (
                "faults",
                self.faults
                    .iter()
                    .all(|fault| fault.is_sound(self.samples.len())),
            ),
        ];
        match doors.iter().find(|(_, open)| !open) {
            Some(&(field, _)) => Err(ConfigFault::OutOfRange { field }),
            None => Ok(()),
        }
    }
}

/// Shortest and longest sampling period that the board can do, in milliseconds.
pub(super) const PERIODS_MS: (u32, u32) = (5, 3_600_000);

/// NaN is within nothing.
fn within(value: f64, low: f64, high: f64) -> bool {
    (low..=high).contains(&value)
}

impl Electronics {
    fn is_sound(&self) -> bool {
        matches!(self.unit, Unit::Adc | Unit::Ohm | Unit::Degc)
            && (2..=1 << 24).contains(&self.full_scale)
            && within(self.fixed_ohm, 1.0, 1e8)
            && within(self.noise_degc, 0.0, 100.0)
            && within(self.noise_counts, 0.0, 1e6)
            && self.decimals <= if self.unit == Unit::Ohm { 2 } else { 6 }
    }
}

impl ClockSpec {
    fn is_sound(&self) -> bool {
        within(self.ppm, -20_000.0, 20_000.0)
            && within(self.ppm_per_h, -100.0, 100.0)
            && within(self.ppm_per_degc, -100.0, 100.0)
            && within(self.lamp_warms_degc, -50.0, 50.0)
            && (0.0..1000.0).contains(&self.jitter_us)
    }
}

impl LinkSpec {
    fn is_sound(&self) -> bool {
        let (least, most) = self.batch_ms;
        self.baud.is_none_or(|baud| baud >= 300)
            && within(least, 0.0, most)
            && within(most, least, 10_000.0)
            && within(self.cut_share, 0.0, 1.0)
    }
}

impl Default for Electronics {
    /// 16-bit counts of a 10 kΩ thermistor under 10 kΩ, a few counts of noise.
    fn default() -> Self {
        Self {
            unit: Unit::Adc,
            full_scale: 65_536,
            fixed_ohm: 10_000.0,
            ntc_side: NtcSide::Low,
            law: ProbeLaw::USUAL,
            noise_degc: 0.008,
            noise_counts: 3.0,
            decimals: 2,
            skew_us: 112,
        }
    }
}

impl Default for ClockSpec {
    /// A board 180 ppm fast that slows as it warms.
    fn default() -> Self {
        Self {
            ppm: 180.0,
            ppm_per_h: 0.0,
            ppm_per_degc: -4.0,
            lamp_warms_degc: 1.5,
            start_ms: 0,
            start_seq: 0,
            jitter_us: 150.0,
        }
    }
}

impl Default for LinkSpec {
    /// 115 200 baud through a USB bridge that waits up to 16 ms.
    fn default() -> Self {
        Self {
            baud: Some(115_200),
            batch_ms: (1.0, 16.0),
            cut_share: 0.05,
        }
    }
}
