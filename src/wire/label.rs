//! What labels and units mean, for the dialects that have them.
//!
//! | label (any case) | meaning |
//! |---|---|
//! | `ms`, `millis` | the board's clock in milliseconds |
//! | `seq` | the line's sequence number |
//! | `t` (small: the symbol of time; `T` is that of temperature, ISO 80000-3 and -5), `time`, `timestamp`, `uptime`, `id`, `count`, `n`, `humidity`, `hum`, `rh`, `pressure`, `lux`, `light`, `rssi`, `battery`, `vbat`, `vcc` | no temperature: left out |
//! | `H` beside `T`, `temp` or `temperature` | humidity: left out |
//! | anything else | a channel |
//!
//! Common practice, no source: these are the names that people give such things.

use super::dialect::LineFault;
use super::frame::{Field, Sample, Unit};

/// Labels of things that are measured or counted beside temperatures.
const OTHER: [&str; 16] = [
    "time",
    "timestamp",
    "uptime",
    "id",
    "count",
    "n",
    "humidity",
    "hum",
    "rh",
    "pressure",
    "lux",
    "light",
    "rssi",
    "battery",
    "vbat",
    "vcc",
];

/// What a number with a certain label is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Channel,
    BoardMs,
    Seq,
    Other,
}

/// What the label stands for.
pub(super) fn role(label: &str) -> Role {
    let is = |name: &&str| label.eq_ignore_ascii_case(name);
    if ["ms", "millis"].iter().any(is) {
        Role::BoardMs
    } else if is(&"seq") {
        Role::Seq
    } else if label == "t" || OTHER.iter().any(is) {
        Role::Other
    } else {
        Role::Channel
    }
}

/// What follows a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Suffix {
    /// A unit that a probe's reading may have.
    Unit(Unit),
    /// A unit of something else: the number is no reading of ours.
    Other,
}

/// The meaning of a unit, or `None` if it is no unit that is known.
pub(super) fn suffix(word: &str) -> Option<Suffix> {
    Some(match word {
        "C" | "c" | "°C" | "°c" | "degC" | "degc" | "Celsius" | "celsius" | "℃" => {
            Suffix::Unit(Unit::Degc)
        }
        "F" | "f" | "°F" | "°f" | "degF" | "degf" | "Fahrenheit" | "fahrenheit" | "℉" => {
            Suffix::Unit(Unit::Degf)
        }
        "K" | "Kelvin" | "kelvin" => Suffix::Unit(Unit::Kelvin),
        // Both the Greek letter and the ohm sign.
        "ohm" | "Ohm" | "ohms" | "Ohms" | "\u{3A9}" | "\u{2126}" => Suffix::Unit(Unit::Ohm),
        "%" | "%RH" | "V" | "mV" | "A" | "mA" | "Pa" | "hPa" | "kPa" | "lx" | "ms" | "s"
        | "dBm" => Suffix::Other,
        _ => return None,
    })
}

/// Adds one labelled value to the sample, after what its label means.
///
/// # Errors
/// Too many channels.
pub(super) fn add(
    sample: &mut Sample,
    label: &str,
    role: Role,
    value: Field,
) -> Result<(), LineFault> {
    match role {
        Role::Channel => {
            let found = sample.fields.len() + 1;
            sample
                .fields
                .try_push(value)
                .map_err(|_| LineFault::too_many(found))?;
            sample.labels.push(unlike(label, &sample.labels));
        }
        Role::BoardMs => sample.board_ms = counter(value),
        Role::Seq => sample.seq = counter(value),
        Role::Other => sample.left_out.push(label.into()),
    }
    Ok(())
}

/// Leaves out what a sensor of the air says beside its `T`: `H` is its humidity, not a tray of that name.
pub(super) fn leave_out_humidity(sample: &mut Sample) {
    let is = |label: &str, names: &[&str]| names.iter().any(|n| label.eq_ignore_ascii_case(n));
    let beside = sample
        .labels
        .iter()
        .any(|l| is(l, &["t", "temp", "temperature"]));
    let place = sample.labels.iter().position(|l| is(l, &["h"]));
    if let Some(place) = place.filter(|_| beside) {
        sample.fields.remove(place);
        sample.left_out.push(sample.labels.remove(place));
    }
}

/// A label that none of the line's others is: two probes that a line calls alike are numbered.
fn unlike(label: &str, others: &[Box<str>]) -> Box<str> {
    let numbered = (2..).map(|n| format!("{label} {n}").into_boxed_str());
    let mut all = std::iter::once(label.into()).chain(numbered);
    all.find(|label| !others.contains(label))
        .unwrap_or_default()
}

/// Notes the unit that the line states.
///
/// # Errors
/// The line stated another one before.
pub(super) fn agree(sample: &mut Sample, unit: Unit) -> Result<(), LineFault> {
    if sample.unit.is_some_and(|before| before != unit) {
        return Err(LineFault::UnitsDiffer {
            field: sample.fields.len() + 1,
        });
    }
    sample.unit = Some(unit);
    Ok(())
}

/// A counter of 32 bits; `None` for anything else, so that a wrong clock is no clock.
fn counter(value: Field) -> Option<u32> {
    match value {
        Field::Number { value, decimals: 0 } if (0.0..=f64::from(u32::MAX)).contains(&value) => {
            Some(value as u32)
        }
        _ => None,
    }
}
