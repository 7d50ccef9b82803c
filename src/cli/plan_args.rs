//! The words that say what is to be done and when.

use clap::Args;

use super::duration::parse_positive_s;
use super::parse::{Settle, parse_settle};
use crate::analysis::Place;

/// How long the lamp stays on or off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Span {
    /// So many seconds.
    For(f64),
    /// Until a key is pressed.
    UntilKey,
}

impl Span {
    pub(super) fn seconds(self) -> Option<f64> {
        match self {
            Self::For(s) => Some(s),
            Self::UntilKey => None,
        }
    }
}

/// `10m` or `key`.
pub(super) fn parse_span(text: &str) -> Result<Span, String> {
    if text.trim() == "key" {
        return Ok(Span::UntilKey);
    }
    let seconds = parse_positive_s(text).map_err(|error| format!("{error}, or key"))?;
    Ok(Span::For(seconds))
}

/// What is to be done and when; what is not said is taken from the named plan, if there is one.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Plan")]
pub(super) struct PlanArgs {
    /// A plan that duskmark.toml names, here or in your folder of settings
    ///
    /// Options given beside it stand over what the plan says.
    #[arg(
        long,
        value_name = "NAME",
        env = "DUSKMARK_PLAN",
        conflicts_with = "for_s"
    )]
    pub(super) plan: Option<String>,
    /// Lamp-on time, or 'key': until you press Enter
    #[arg(long, value_name = "TIME|key", value_parser = parse_span, conflicts_with = "for_s")]
    pub(super) heat: Option<Span>,
    /// Lamp-off time, or 'key' (default: as long as the lamp-on time)
    #[arg(long, value_name = "TIME|key", value_parser = parse_span, conflicts_with = "for_s")]
    pub(super) cool: Option<Span>,
    /// How often the lamp goes on and off (default: once)
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=100), conflicts_with = "for_s")]
    pub(super) cycles: Option<u32>,
    /// Interval of the marks, the rows of the table
    #[arg(long, value_name = "TIME", value_parser = parse_positive_s)]
    pub(super) marks: Option<f64>,
    /// Log unattended for so long (without it and without --heat: until Ctrl-C)
    #[arg(long = "for", value_name = "TIME", id = "for_s", value_parser = parse_positive_s)]
    pub(super) for_s: Option<f64>,
    /// Where the bench stands, as latitude and longitude in degrees (north and east positive),
    /// for the sun's times in days.csv
    #[arg(long, value_name = "LAT,LON", value_parser = parse_place, allow_hyphen_values = true)]
    pub(super) place: Option<Place>,
    /// Before the lamp, wait until all samples drift less than this, or 'off' (default: 0.1/min)
    #[arg(long, value_name = "DRIFT", value_parser = parse_settle)]
    pub(super) settle: Option<Settle>,
    /// Which sample is predicted to warm more: its name, or one for each group like 1=slate,2=moss
    #[arg(long, value_name = "NAME|GROUPS")]
    pub(super) prediction: Option<String>,
    /// Ask so many groups for their prediction before the run begins (no names of students)
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u8).range(1..=20), conflicts_with = "prediction")]
    pub(super) groups: Option<u8>,
}

/// `52.52,13.40`: a place on the Earth.
pub(super) fn parse_place(text: &str) -> Result<Place, String> {
    let degrees = |part: &str, most: f64| {
        let value: f64 = part.trim().parse().ok()?;
        (value.abs() <= most).then_some(value)
    };
    let place = text.split_once(',').and_then(|(latitude, longitude)| {
        Some(Place {
            latitude_deg: degrees(latitude, 90.0)?,
            longitude_deg: degrees(longitude, 180.0)?,
        })
    });
    place.ok_or_else(|| {
        format!("'{text}' is no place; write degrees like 52.52,13.40 (north, east) or -33.9,151.2")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phase_lasts_for_a_time_or_until_a_key() {
        assert_eq!(parse_span("10m"), Ok(Span::For(600.0)));
        assert_eq!(parse_span(" key "), Ok(Span::UntilKey));
        for text in ["", "0s", "10", "keys", "-1m"] {
            assert!(parse_span(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_place_is_two_numbers_of_degrees() {
        let place = parse_place("-33.9, 151.2").unwrap();
        assert!((place.latitude_deg + 33.9).abs() < 1e-9);
        assert!((place.longitude_deg - 151.2).abs() < 1e-9);
        for text in ["", "52.5", "91,0", "0,181", "nan,0", "52N,13E", "1,2,3"] {
            assert!(parse_place(text).is_err(), "{text}");
        }
    }
}
