//! `[plan.NAME]`: plans of the settings.

use serde::{Deserialize, Deserializer};

use super::{find_in, places};
use crate::cli::duration::parse_positive_s;
use crate::cli::exit::Failure;
use crate::cli::parse::{Names, Settle, check_names, parse_settle};
use crate::cli::plan_args::{Span, parse_span};

/// A plan of the settings: `[plan.NAME]`.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(in crate::cli) struct NamedPlan {
    /// `"10m"` or `"key"`.
    #[serde(deserialize_with = "span")]
    pub(in crate::cli) heat: Option<Span>,
    /// `"10m"` or `"key"`.
    #[serde(deserialize_with = "span")]
    pub(in crate::cli) cool: Option<Span>,
    /// `"1m"`.
    #[serde(deserialize_with = "seconds")]
    pub(in crate::cli) marks: Option<f64>,
    /// 1 to 100.
    #[serde(deserialize_with = "cycles")]
    pub(in crate::cli) cycles: Option<u32>,
    /// `"0.1/min"` or `"off"`.
    #[serde(deserialize_with = "settle")]
    pub(in crate::cli) settle: Option<Settle>,
    /// Names of the samples in the order of the channels.
    #[serde(deserialize_with = "samples")]
    pub(in crate::cli) samples: Option<Names>,
}

fn parsed<'de, D: Deserializer<'de>, T>(
    from: D,
    parse: impl Fn(&str) -> Result<T, String>,
) -> Result<Option<T>, D::Error> {
    let text = String::deserialize(from)?;
    parse(&text).map(Some).map_err(serde::de::Error::custom)
}

fn span<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Span>, D::Error> {
    parsed(from, parse_span)
}

fn seconds<'de, D: Deserializer<'de>>(from: D) -> Result<Option<f64>, D::Error> {
    parsed(from, parse_positive_s)
}

fn settle<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Settle>, D::Error> {
    parsed(from, parse_settle)
}

fn cycles<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    let count = i64::deserialize(from)?;
    let in_range = u32::try_from(count).ok().filter(|n| (1..=100).contains(n));
    let wrong = || serde::de::Error::custom(format!("{count} is not in 1 to 100"));
    in_range.map(Some).ok_or_else(wrong)
}

fn samples<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Names>, D::Error> {
    let names = Vec::<String>::deserialize(from)?;
    check_names(names)
        .map(Some)
        .map_err(serde::de::Error::custom)
}

impl NamedPlan {
    /// The plan of this name.
    ///
    /// # Errors
    /// [`Failure`] if there is none, or a file of settings cannot be used.
    pub(in crate::cli) fn find(name: &str) -> Result<Self, Failure> {
        find_in(name, "plan", &places(), |config| &mut config.plan)
    }
}
