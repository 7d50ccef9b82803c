//! `[dialect.NAME]`: how boards write their lines.

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer};

use super::{Config, find_in, places};
use crate::cli::exit::Failure;
use crate::wire::{LinePattern, Own, PatternFault, PerChannel, Unit};

/// Lines in a form of a board's own: `[dialect.NAME]`.
#[derive(Debug, Clone, Deserialize)]
#[serde(try_from = "LinesAsWritten")]
pub(in crate::cli) struct NamedLines(LinePattern);

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LinesAsWritten {
    #[serde(deserialize_with = "pattern")]
    pattern: String,
    #[serde(default)]
    unit: Option<Unit>,
    #[serde(default)]
    scale: Option<PerChannel>,
    #[serde(default)]
    offset: Option<PerChannel>,
}

impl TryFrom<LinesAsWritten> for NamedLines {
    type Error = PatternFault;

    fn try_from(written: LinesAsWritten) -> Result<Self, PatternFault> {
        let lines = LinePattern {
            name: String::new(),
            pattern: written.pattern,
            unit: written.unit,
            scale: written.scale,
            offset: written.offset,
        };
        Own::new(lines.clone()).map(|_| Self(lines))
    }
}

/// A pattern by itself is looked at first, so that the error stands at its line.
fn pattern<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    let pattern = String::deserialize(from)?;
    let lines = LinePattern {
        pattern: pattern.clone(),
        ..LinePattern::default()
    };
    Own::new(lines)
        .map(|_| pattern)
        .map_err(serde::de::Error::custom)
}

impl NamedLines {
    /// The description of this name.
    ///
    /// # Errors
    /// [`Failure`] if there is none, or a file of settings cannot be used.
    pub(in crate::cli) fn find(name: &str) -> Result<LinePattern, Failure> {
        let found = find_in(name, "dialect", &places(), |config| &mut config.dialect)?;
        Ok(found.called(name))
    }

    /// All that are described, by their names; of two with one name the working folder's.
    ///
    /// # Errors
    /// [`Failure`] if a file of settings cannot be used.
    pub(in crate::cli) fn all() -> Result<Vec<LinePattern>, Failure> {
        let mut all = BTreeMap::new();
        for place in places().iter().rev() {
            all.extend(Config::read(place)?.dialect);
        }
        Ok(all
            .into_iter()
            .map(|(name, lines)| lines.called(&name))
            .collect())
    }

    fn called(self, name: &str) -> LinePattern {
        LinePattern {
            name: name.to_owned(),
            ..self.0
        }
    }
}
