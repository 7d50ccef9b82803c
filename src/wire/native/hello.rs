//! The hello line: `!duskmark 1 id=... channels=... unit=...`.
//!
//! The specification orders the checks: version, syntax of the whole line, values, missing keys.
//! So the pairs are split first, and only then looked at one by one.

use arrayvec::ArrayVec;

use super::PROTOCOL_VERSION;
use crate::wire::dialect::LineFault;
use crate::wire::frame::{Hello, MAX_CHANNELS, NtcSide, Unit};
use crate::wire::number;

/// The keys that version 1 knows, in the order of the specification.
const KEYS: [&str; 9] = [
    "id",
    "channels",
    "unit",
    "full",
    "fixed_ohm",
    "ntc",
    "period_ms",
    "skew_us",
    "reset",
];

/// A known key with its value and the value's place in the line.
struct Pair<'a> {
    key: &'static str,
    value: &'a [u8],
    at: usize,
}

type Pairs<'a> = ArrayVec<Pair<'a>, { KEYS.len() }>;

/// Reads a hello line whose checksum is right; `body` is what stands before the `*`.
pub(super) fn parse(body: &[u8]) -> Result<Hello, LineFault> {
    let rest = version(body)?;
    let pairs = split_pairs(body, rest)?;
    let mut hello = Hello {
        version: PROTOCOL_VERSION,
        board_id: String::new(),
        channels: 0,
        unit: Unit::Degc,
        full_scale: None,
        fixed_ohm: None,
        ntc_side: None,
        period_ms: None,
        skew_us: None,
    };
    for pair in &pairs {
        take(&mut hello, pair).ok_or(LineFault::BadValue {
            key: pair.key,
            at: pair.at,
        })?;
    }
    let needed = if hello.unit == Unit::Adc {
        KEYS.get(..6)
    } else {
        KEYS.get(..3)
    };
    for &key in needed.unwrap_or_default() {
        if !pairs.iter().any(|pair| pair.key == key) {
            return Err(LineFault::MissingKey { key });
        }
    }
    Ok(hello)
}

/// Checks `!duskmark VERSION` and returns what follows.
fn version(body: &[u8]) -> Result<&[u8], LineFault> {
    const HEAD: &[u8] = b"!duskmark ";
    let syntax = |at, expected| Err(LineFault::Syntax { at, expected });
    let Some(after) = body.strip_prefix(HEAD) else {
        return syntax(0, "`!duskmark` and one space");
    };
    let (number, length) = number::digits(after);
    let rest = after.get(length..).unwrap_or_default();
    if !(1..=10).contains(&length) || !matches!(rest, [] | [b' ', ..]) {
        return syntax(HEAD.len(), "the version of the protocol");
    }
    if number != u64::from(PROTOCOL_VERSION) {
        let version = u32::try_from(number).unwrap_or(u32::MAX);
        return Err(LineFault::NewerVersion {
            version,
            known: PROTOCOL_VERSION,
        });
    }
    Ok(rest)
}

/// Splits ` key=value key=value ...` and keeps the known keys.
fn split_pairs<'a>(body: &'a [u8], rest: &'a [u8]) -> Result<Pairs<'a>, LineFault> {
    let mut pairs = Pairs::new();
    let mut at = body.len() - rest.len();
    // The first piece is what stands before the first space: nothing.
    for pair in rest.split(|&byte| byte == b' ').skip(1) {
        at += 1;
        let syntax = LineFault::Syntax {
            at,
            expected: "one key=value pair",
        };
        let Some(equals) = pair.iter().position(|&byte| byte == b'=') else {
            return Err(syntax);
        };
        let (key, value) = (
            &pair.get(..equals).unwrap_or_default(),
            pair.get(equals + 1..),
        );
        let value = value.unwrap_or_default();
        if !is_key(key) || value.is_empty() || value.contains(&b'*') {
            return Err(syntax);
        }
        if let Some(&key) = KEYS.iter().find(|known| known.as_bytes() == *key) {
            let known = Pair {
                key,
                value,
                at: at + equals + 1,
            };
            if pairs.iter().any(|other| other.key == key) || pairs.try_push(known).is_err() {
                return Err(LineFault::RepeatedKey { key });
            }
        }
        at += pair.len();
    }
    Ok(pairs)
}

fn is_key(key: &[u8]) -> bool {
    key.first().is_some_and(u8::is_ascii_lowercase)
        && key
            .iter()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || *b == b'_')
}

/// Puts one value into the hello; `None` if it is out of its range.
fn take(hello: &mut Hello, pair: &Pair<'_>) -> Option<()> {
    let value = pair.value;
    match pair.key {
        "id" => {
            let good = |b: &u8| b.is_ascii_alphanumeric() || b"-_.".contains(b);
            if value.len() > 24 || !value.iter().all(good) {
                return None;
            }
            std::str::from_utf8(value)
                .ok()?
                .clone_into(&mut hello.board_id);
        }
        "channels" => {
            let channels = whole(value, 1)?;
            hello.channels = u8::try_from(channels).ok()?;
            if usize::from(hello.channels) > MAX_CHANNELS {
                return None;
            }
        }
        "unit" => {
            hello.unit = match value {
                b"degc" => Unit::Degc,
                b"ohm" => Unit::Ohm,
                b"adc" => Unit::Adc,
                _ => return None,
            }
        }
        "full" => hello.full_scale = Some(whole(value, 1)?),
        "fixed_ohm" => hello.fixed_ohm = Some(f64::from(whole(value, 1)?)),
        "ntc" => {
            hello.ntc_side = Some(match value {
                b"low" => NtcSide::Low,
                b"high" => NtcSide::High,
                _ => return None,
            });
        }
        "period_ms" => hello.period_ms = Some(whole(value, 1)?),
        "skew_us" => hello.skew_us = Some(whole(value, 0)?),
        // `reset`: a word for people, checked for its form only.
        _ => return (value.len() <= 16 && value.iter().all(u8::is_ascii_lowercase)).then_some(()),
    }
    Some(())
}

/// One to ten digits, from `least` to 2^32 - 1.
fn whole(value: &[u8], least: u32) -> Option<u32> {
    match super::counter(value) {
        Some((number, [])) if number >= least => Some(number),
        _ => None,
    }
}
