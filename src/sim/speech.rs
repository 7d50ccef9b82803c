//! How the virtual board words what it measures: one line, with its line end.

use arrayvec::ArrayVec;

use super::config::{BoardConfig, Speech};
use crate::wire::{
    Field, Hello, MAX_CHANNELS, MAX_NATIVE_LINE, PROTOCOL_VERSION, Unit, encode_hello,
    encode_remark, encode_sample,
};

/// One channel's value as the board has it: a number, or `None` where it has no reading.
pub(super) type Values = ArrayVec<Option<f64>, MAX_CHANNELS>;

/// A board's state that a line carries.
#[derive(Debug, Clone, Copy)]
pub(super) struct Heading {
    pub(super) seq: u32,
    pub(super) board_ms: u32,
}

/// The hello line; nothing for boards that have none.
///
/// Keys that a host can do without are left out where the line would be too long.
pub(super) fn hello(config: &BoardConfig, period_ms: u32) -> Vec<u8> {
    if config.speech != Speech::Native {
        return Vec::new();
    }
    let e = &config.electronics;
    let is_adc = e.unit == Unit::Adc;
    let mut hello = Hello {
        version: PROTOCOL_VERSION,
        board_id: config.board_id.clone(),
        channels: config.samples.len() as u8,
        unit: e.unit,
        full_scale: is_adc.then_some(e.full_scale),
        fixed_ohm: is_adc.then_some(e.fixed_ohm),
        ntc_side: is_adc.then_some(e.ntc_side),
        period_ms: Some(period_ms),
        skew_us: Some(e.skew_us),
    };
    let line = |hello: &Hello| {
        let mut line = Vec::new();
        encode_hello(&mut line, hello);
        line
    };
    let fits = |line: &Vec<u8>| line.len() <= MAX_NATIVE_LINE + 1;
    let whole = line(&hello);
    if fits(&whole) {
        return whole;
    }
    hello.skew_us = None;
    let shorter = line(&hello);
    if fits(&shorter) {
        return shorter;
    }
    hello.period_ms = None;
    line(&hello)
}

/// The answer to a request that the board does not know.
pub(super) fn unknown_request(config: &BoardConfig) -> Vec<u8> {
    let mut line = Vec::new();
    if config.speech == Speech::Native {
        encode_remark(&mut line, "unknown request");
    }
    line
}

/// A sample line.
pub(super) fn sample(config: &BoardConfig, heading: Heading, values: &Values) -> Vec<u8> {
    let decimals = config.electronics.decimals;
    let number = |value: &Option<f64>| match value {
        Some(v) => format!("{v:.*}", usize::from(decimals)),
        None => String::new(),
    };
    let named = config
        .samples
        .iter()
        .map(|sample| plain(&sample.name))
        .zip(values);
    let mut line = match config.speech {
        Speech::Native => return native(config, heading, values),
        Speech::Plain => values.iter().map(number).collect::<Vec<_>>().join(","),
        Speech::Labelled => {
            let pairs = named.map(|(name, v)| format!("{name}={}", number(v)));
            pairs.collect::<Vec<_>>().join(" ")
        }
        Speech::Json => {
            let null = |v: &Option<f64>| {
                if v.is_some() {
                    number(v)
                } else {
                    "null".to_owned()
                }
            };
            let members = named.map(|(name, v)| format!("\"{name}\":{}", null(v)));
            format!("{{{}}}", members.collect::<Vec<_>>().join(","))
        }
    };
    line.push('\n');
    line.into_bytes()
}

fn native(config: &BoardConfig, heading: Heading, values: &Values) -> Vec<u8> {
    let e = &config.electronics;
    let decimals = if e.unit == Unit::Adc { 0 } else { e.decimals };
    let field =
        |value: &Option<f64>| value.map_or(Field::Empty, |value| Field::Number { value, decimals });
    let fields: ArrayVec<Field, MAX_CHANNELS> = values.iter().map(field).collect();
    let mut line = Vec::new();
    encode_sample(&mut line, heading.seq, heading.board_ms, &fields);
    line
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
