//! Values of options: names, drift limits, intervals of syncing.

use std::time::Duration;

use super::duration::parse_positive_s;
use crate::run::SyncEvery;
use crate::wire::MAX_CHANNELS;

/// Names of samples.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Names(pub(super) Vec<String>);

impl Names {
    /// The samples on virtual benches, unless they are given others.
    pub(super) fn invented() -> Self {
        Self(vec!["slate".into(), "moss".into()])
    }
}

/// A limit for drift before the lamp, in °C/min; none: do not wait.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settle(pub(super) Option<f64>);

/// `slate,moss`: one to eight names, none empty, none twice. Quotes as books print them, which come along
/// when a command is pasted, are no part of a name.
pub(super) fn split_names(text: &str) -> Result<Names, String> {
    let bare = text.trim_matches(PRINTED_QUOTES);
    if let (false, Some(other)) = (bare.contains(','), bare.chars().find(|c| ";|".contains(*c))) {
        return Err(format!(
            "'{text}' is one name with '{other}' in it; names are separated by commas, like slate,moss"
        ));
    }
    let name = |name: &str| name.trim().trim_matches(PRINTED_QUOTES).trim().to_owned();
    check_names(bare.split(',').map(name).collect())
}

/// Quotation marks of books and word processors.
const PRINTED_QUOTES: [char; 8] = ['“', '”', '„', '‘', '’', '‚', '«', '»'];

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
    per_minute(text)
        .map(|limit| Settle(Some(limit)))
        .ok_or_else(|| {
            format!("'{text}' is no drift; write it like 0.1/min (°C per minute) or off")
        })
}

/// `2/min`, in °C/s.
pub(super) fn parse_rate(text: &str) -> Result<f64, String> {
    per_minute(text)
        .map(|rate| rate / 60.0)
        .ok_or_else(|| format!("'{text}' is no rate; write it like 2/min (°C per minute)"))
}

fn per_minute(text: &str) -> Option<f64> {
    let number = text.strip_suffix("/min")?.trim().parse::<f64>().ok()?;
    (number.is_finite() && number > 0.0).then_some(number)
}

/// `1s` or `row`.
pub(super) fn parse_sync(text: &str) -> Result<SyncEvery, String> {
    if text == "row" {
        return Ok(SyncEvery::Row);
    }
    let seconds = parse_positive_s(text).map_err(|error| format!("{error}, or row"))?;
    Ok(SyncEvery::Time(Duration::from_secs_f64(seconds)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_drifts_are_checked() {
        assert_eq!(split_names("slate, moss").unwrap().0, ["slate", "moss"]);
        for text in ["", "slate,", "slate,slate", "a,b,c,d,e,f,g,h,i"] {
            assert!(split_names(text).is_err(), "{text}");
        }
        assert_eq!(parse_settle("0.1/min"), Ok(Settle(Some(0.1))));
        assert_eq!(parse_settle("off"), Ok(Settle(None)));
        assert_eq!(parse_sync("row"), Ok(SyncEvery::Row));
        let five = SyncEvery::Time(Duration::from_secs(5));
        assert_eq!(parse_sync("5s"), Ok(five));
        for text in ["rows", "0s", "5", ""] {
            assert!(parse_sync(text).is_err(), "{text}");
        }
        assert_eq!(parse_rate("3/min"), Ok(0.05));
        for text in ["0.1", "0/min", "nan/min", "-1/min"] {
            assert!(parse_settle(text).is_err(), "{text}");
            assert!(parse_rate(text).is_err(), "{text}");
        }
    }
}
