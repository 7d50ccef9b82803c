//! Numbers that no classroom has, and what their board may have meant by them.

use crate::probe::{Converter, Reading};
use crate::sampler::{Row, Sampler};
use crate::wire::Unit;

/// From here on in °C a bare number is more likely a converter's count.
const COUNTS: f64 = 150.0;

/// Where all bare numbers lie in here, they are more likely °F than °C.
const FAHRENHEIT: std::ops::Range<f64> = 50.0..COUNTS;

/// How near a number must be to another one in °F to be it, two roundings to a tenth counted.
const SAME_DEGF: f64 = 0.15;

/// What is said of a reading that looks like a converter's count.
pub(super) const COUNTS_HINT: &str = "raw converter counts? say --unit adc --full-scale 1024";

/// Whether this is a plain number that no classroom is at, from a board that does not say what its
/// numbers are.
pub(super) fn looks_like_counts(value: f64, converter: Option<&Converter>) -> bool {
    converter.is_some_and(|c| c.unit() == Unit::Degc) && value >= COUNTS
}

/// What is odd about a board's numbers and may be meant otherwise than as °C, and what to say then.
pub(super) fn hint(sampler: &Sampler, row: Option<&Row>) -> Option<String> {
    let converter = sampler.converter();
    if sampler.hello().is_some() || converter.is_none_or(|c| c.unit() != Unit::Degc) {
        return None;
    }
    let degc = |reading: &Reading| match *reading {
        Reading::Degc { value, .. } => Some(value),
        Reading::Fault(_) => None,
    };
    let values: Vec<f64> = row?.readings.iter().filter_map(degc).collect();
    of_values(&values)
}

fn of_values(values: &[f64]) -> Option<String> {
    if let Some(count) = values.iter().find(|v| **v >= COUNTS) {
        return Some(format!("{count} °C? Perhaps {COUNTS_HINT}."));
    }
    let again = |a: &f64| {
        values
            .iter()
            .find(|b| (1.8 * a + 32.0 - **b).abs() < SAME_DEGF)
    };
    if let Some((celsius, fahrenheit)) = values.iter().find_map(|a| Some((a, again(a)?))) {
        return Some(format!(
            "{fahrenheit} looks like {celsius} °C in °F: one probe told twice? Let the board's \
             program print only one, or describe its lines (firmware-notes/settings.md)."
        ));
    }
    let first = values.first()?;
    values
        .iter()
        .all(|v| FAHRENHEIT.contains(v))
        .then(|| format!("{first} °C? If the board sends °F, say --unit degf."))
}

#[cfg(test)]
mod tests {
    use super::of_values;

    #[test]
    fn what_no_classroom_has_is_asked_about() {
        let says = |values: &[f64], part: &str| of_values(values).is_some_and(|h| h.contains(part));
        assert!(says(&[21.0, 540.0], "--unit adc"));
        assert!(says(&[72.5, 70.5], "--unit degf"));
        assert!(says(&[22.5, 72.5], "one probe told twice"));
        for sound in [&[22.5, 21.4][..], &[22.5, 61.0], &[-5.0, 4.0], &[]] {
            assert_eq!(of_values(sound), None, "{sound:?}");
        }
    }
}
