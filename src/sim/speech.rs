//! How the virtual board words what it measures: one line, with its line end.

use arrayvec::ArrayVec;

use super::config::{BoardConfig, Speech};
use crate::wire::{MAX_CHANNELS, NtcSide, Unit};

/// One channel's value as the board has it: a number, or `None` where it has no reading.
pub(super) type Values = ArrayVec<Option<f64>, MAX_CHANNELS>;

/// A board's state that a line carries.
#[derive(Debug, Clone, Copy)]
pub(super) struct Heading {
    pub(super) seq: u32,
    pub(super) board_ms: u32,
}

/// The hello line; nothing for boards that have none.
pub(super) fn hello(config: &BoardConfig, period_ms: u32) -> Vec<u8> {
    if config.speech != Speech::Native {
        return Vec::new();
    }
    let e = &config.electronics;
    let channels = config.samples.len();
    let unit = match (e.unit, e.ntc_side) {
        (Unit::Adc, side) => {
            let side = if side == NtcSide::Low { "low" } else { "high" };
            format!(
                "adc full={} fixed_ohm={} ntc={side}",
                e.full_scale, e.fixed_ohm
            )
        }
        (Unit::Ohm, _) => "ohm".to_owned(),
        _ => "degc".to_owned(),
    };
    let id = &config.board_id;
    let skew_us = e.skew_us;
    let text = format!(
        "!duskmark 1 id={id} channels={channels} unit={unit} period_ms={period_ms} skew_us={skew_us}"
    );
    sealed(&text).into_bytes()
}

/// A sample line.
pub(super) fn sample(config: &BoardConfig, heading: Heading, values: &Values) -> Vec<u8> {
    let decimals = usize::from(config.electronics.decimals);
    let number = |value: &Option<f64>| match value {
        Some(v) if config.speech == Speech::Native && config.electronics.unit == Unit::Adc => {
            format!("{v:.0}")
        }
        Some(v) => format!("{v:.decimals$}"),
        None => String::new(),
    };
    let named = config
        .samples
        .iter()
        .map(|sample| plain(&sample.name))
        .zip(values);
    let joined = |items: Vec<String>, by: &str| items.join(by);
    match config.speech {
        Speech::Native => {
            let fields = joined(values.iter().map(number).collect(), ",");
            sealed(&format!(">{},{},{fields}", heading.seq, heading.board_ms))
        }
        Speech::Plain => joined(values.iter().map(number).collect(), ",") + "\n",
        Speech::Labelled => {
            joined(
                named.map(|(n, v)| format!("{n}={}", number(v))).collect(),
                " ",
            ) + "\n"
        }
        Speech::Json => {
            let null = |v: &Option<f64>| {
                if v.is_some() {
                    number(v)
                } else {
                    "null".to_owned()
                }
            };
            let members = named.map(|(n, v)| format!("\"{n}\":{}", null(v))).collect();
            format!("{{{}}}\n", joined(members, ","))
        }
    }
    .into_bytes()
}

/// The bytes, their checksum and a line end.
fn sealed(text: &str) -> String {
    let sum = crc::Crc::<u16>::new(&crc::CRC_16_IBM_3740).checksum(text.as_bytes());
    format!("{text}*{sum:04X}\n")
}

/// A name that cannot break a labelled or JSON line: other characters become `_`.
fn plain(name: &str) -> String {
    let keep = |c: char| {
        if c.is_ascii_alphanumeric() || c == '-' {
            c
        } else {
            '_'
        }
    };
    name.chars().map(keep).collect()
}
