//! What a line says, once understood: the common form of every dialect.

use arrayvec::ArrayVec;

/// The most channels that one board may have.
pub const MAX_CHANNELS: usize = 8;

/// What the numbers of a board are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Degrees Celsius.
    Degc,
    /// Degrees Fahrenheit (labelled and JSON dialects only; converted by `probe`).
    Degf,
    /// Kelvin (labelled and JSON dialects only; converted by `probe`).
    Kelvin,
    /// Resistance of the probe in ohms.
    Ohm,
    /// Voltage of the probe in volts (where the user says so; not in the native protocol).
    Volt,
    /// Converter counts, out of the full scale that the hello line or the user states.
    Adc,
}

/// Where the thermistor sits in its divider.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum NtcSide {
    /// Between the tap and ground: counts fall as it warms.
    Low,
    /// Between the tap and the reference: counts rise as it warms.
    High,
}

/// The board's introduction of itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Hello {
    /// Version of the line protocol.
    pub version: u32,
    /// The board's own name, printable ASCII without spaces, 1 to 24 characters.
    pub board_id: String,
    /// Number of channels, 1 to [`MAX_CHANNELS`].
    pub channels: u8,
    /// What the numbers are.
    pub unit: Unit,
    /// Counts that stand for the reference voltage (`Unit::Adc` only).
    pub full_scale: Option<u32>,
    /// The divider's fixed resistor in ohms (`Unit::Adc` only).
    pub fixed_ohm: Option<f64>,
    /// The thermistor's place in the divider (`Unit::Adc` only).
    pub ntc_side: Option<NtcSide>,
    /// Time between two sample lines in milliseconds.
    pub period_ms: Option<u32>,
    /// Delay of each channel's sampling instant after the one before it, in microseconds.
    pub skew_us: Option<u32>,
}

/// One channel's field of a sample line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Field {
    /// A finite number, with the digits that were printed after its decimal point.
    Number {
        /// The value in the unit of the board or of this field.
        value: f64,
        /// Digits after the decimal point, as printed: the resolution of a printed temperature.
        decimals: u8,
    },
    /// Nothing stood there: the board says that it has no reading.
    Empty,
    /// Something stood there that is not a finite number (`nan`, `inf`, `1e999`, a word).
    NotANumber,
}

/// All channels of one board at one instant.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sample {
    /// Sequence number, counting up by one for every line, modulo 2^32 (native only).
    pub seq: Option<u32>,
    /// Board clock in milliseconds, modulo 2^32 (native only): the middle of the sampling window.
    pub board_ms: Option<u32>,
    /// The channels in the order of the line.
    pub fields: ArrayVec<Field, MAX_CHANNELS>,
    /// Labels, one per field, in the dialects that have them; empty otherwise.
    pub labels: Vec<Box<str>>,
    /// The unit that the line itself states, where it does.
    pub unit: Option<Unit>,
    /// Labels of what is no temperature (`time`, `humidity`), whose numbers are not read.
    pub left_out: Vec<Box<str>>,
}

/// One understood line.
#[derive(Debug, Clone, PartialEq)]
pub enum Frame {
    /// The board introduces itself.
    Hello(Hello),
    /// Readings.
    Sample(Sample),
    /// Free text from the board, kept for people.
    Remark(String),
}

impl Default for Frame {
    /// A sample without anything in it.
    fn default() -> Self {
        Self::Sample(Sample::default())
    }
}

impl Frame {
    /// Makes this a sample without anything in it, at the same place in memory.
    #[inline]
    pub(super) fn fresh_sample(&mut self) -> &mut Sample {
        match self {
            Self::Sample(sample) => {
                sample.seq = None;
                sample.board_ms = None;
                sample.fields.clear();
                sample.labels.clear();
                sample.unit = None;
                sample.left_out.clear();
                sample
            }
            other => {
                *other = Self::default();
                let Self::Sample(sample) = other else {
                    unreachable!("a frame is a sample by default")
                };
                sample
            }
        }
    }
}
