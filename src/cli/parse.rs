//! Values of options: names, drift limits, resistors, thermistors.

use std::time::Duration;

use super::duration::parse_positive_s;
use crate::probe::ProbeLaw;
use crate::run::SyncEvery;
use crate::wire::MAX_CHANNELS;

/// Names of samples.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Names(pub(super) Vec<String>);

/// A limit for drift before the lamp, in °C/min; none: do not wait.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settle(pub(super) Option<f64>);

/// `slate,moss`: one to eight names, none empty, none twice.
pub(super) fn split_names(text: &str) -> Result<Names, String> {
    check_names(text.split(',').map(|n| n.trim().to_owned()).collect())
}

/// One to eight names, none empty, none twice.
pub(super) fn check_names(names: Vec<String>) -> Result<Names, String> {
    if names.iter().any(|name| name.trim().is_empty()) || names.is_empty() {
        let text = names.join(",");
        return Err(format!(
            "a name is empty in '{text}'; write names like slate,moss"
        ));
    }
    if names.len() > MAX_CHANNELS {
        return Err(format!(
            "{} names, but a bench has at most {MAX_CHANNELS}",
            names.len()
        ));
    }
    for (index, name) in names.iter().enumerate() {
        if names.iter().take(index).any(|other| other == name) {
            return Err(format!("the name '{name}' stands there twice"));
        }
    }
    Ok(Names(names))
}

/// `0.1/min` or `off`.
pub(super) fn parse_settle(text: &str) -> Result<Settle, String> {
    if text == "off" {
        return Ok(Settle(None));
    }
    text.strip_suffix("/min")
        .and_then(|number| number.trim().parse::<f64>().ok())
        .filter(|limit| limit.is_finite() && *limit > 0.0)
        .map(|limit| Settle(Some(limit)))
        .ok_or_else(|| {
            format!("'{text}' is no drift; write it like 0.1/min (°C per minute) or off")
        })
}

/// `1s` or `row`.
pub(super) fn parse_sync(text: &str) -> Result<SyncEvery, String> {
    if text == "row" {
        return Ok(SyncEvery::Row);
    }
    let seconds = parse_positive_s(text).map_err(|error| format!("{error}, or row"))?;
    Ok(SyncEvery::Time(Duration::from_secs_f64(seconds)))
}

/// `10k`, `4k7`, `4700`, `1M`.
fn parse_ohm(text: &str) -> Option<f64> {
    let text = text.trim().trim_end_matches(['Ω', 'Ω']).trim();
    let (digits, factor) = match text.char_indices().find(|(_, c)| c.is_ascii_alphabetic()) {
        None => (text.to_owned(), 1.0),
        Some((at, letter)) => {
            let factor = match letter {
                'k' | 'K' => 1e3,
                'M' => 1e6,
                'R' => 1.0,
                _ => return None,
            };
            // The letter may stand for the decimal point (IEC 60062): 4k7 is 4.7 kΩ.
            (
                text.replacen(letter, ".", 1),
                if at == 0 { return None } else { factor },
            )
        }
    };
    let ohm = digits.trim_end_matches('.').parse::<f64>().ok()? * factor;
    (ohm.is_finite() && ohm > 0.0).then_some(ohm)
}

/// The divider's fixed resistor.
pub(super) fn parse_fixed_ohm(text: &str) -> Result<f64, String> {
    parse_ohm(text).ok_or_else(|| format!("'{text}' is no resistance; write it like 10k or 4700"))
}

/// `10k,3950` or `1.129e-3,2.341e-4,8.775e-8`.
pub(super) fn parse_thermistor(text: &str) -> Result<ProbeLaw, String> {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let number = |part: &str| part.parse::<f64>().ok();
    let law = match parts.as_slice() {
        [r25, beta] => parse_ohm(r25)
            .zip(number(beta))
            .map(|(r25_ohm, beta_k)| ProbeLaw::Beta { r25_ohm, beta_k }),
        [a, b, c] => number(a)
            .zip(number(b))
            .zip(number(c))
            .map(|((a, b), c)| ProbeLaw::SteinhartHart { a, b, c2: 0.0, c }),
        _ => None,
    };
    law.ok_or_else(|| {
        format!("'{text}' describes no thermistor; write R25 and B like 10k,3950, or a,b,c")
    })?
    .checked()
    .map_err(|fault| fault.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resistors_are_read_as_they_are_printed() {
        // IEC 60062 writes the multiplier in the place of the decimal point.
        for (text, ohm) in [
            ("10k", 1e4),
            ("4k7", 4700.0),
            ("4700", 4700.0),
            ("1M", 1e6),
            ("10 kΩ", 1e4),
        ] {
            let read = parse_ohm(&text.replace(' ', "")).unwrap();
            assert!((read - ohm).abs() < 1e-6, "{text}: {read}");
        }
        for text in ["", "k", "-10k", "10x", "0", "1e400"] {
            assert_eq!(parse_ohm(text), None, "{text}");
        }
    }

    #[test]
    fn names_thermistors_and_drifts_are_checked() {
        assert_eq!(split_names("slate, moss").unwrap().0, ["slate", "moss"]);
        for text in ["", "slate,", "slate,slate", "a,b,c,d,e,f,g,h,i"] {
            assert!(split_names(text).is_err(), "{text}");
        }
        assert!(parse_thermistor("10k,3950").is_ok());
        assert!(parse_thermistor("1.129241e-3,2.341077e-4,8.775468e-8").is_ok());
        for text in ["10k", "10k,nan", "1,2,3", "10k,-3950", "a,b"] {
            assert!(parse_thermistor(text).is_err(), "{text}");
        }
        assert_eq!(parse_settle("0.1/min"), Ok(Settle(Some(0.1))));
        assert_eq!(parse_settle("off"), Ok(Settle(None)));
        assert_eq!(parse_sync("row"), Ok(SyncEvery::Row));
        let five = SyncEvery::Time(Duration::from_secs(5));
        assert_eq!(parse_sync("5s"), Ok(five));
        for text in ["rows", "0s", "5", ""] {
            assert!(parse_sync(text).is_err(), "{text}");
        }
        for text in ["0.1", "0/min", "nan/min", "-1/min"] {
            assert!(parse_settle(text).is_err(), "{text}");
        }
    }
}
