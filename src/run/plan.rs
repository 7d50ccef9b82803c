//! What a run was asked to do.

use crate::analysis::{Guess, Place};

/// What a run was asked to do.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Plan {
    /// Its name in the settings, where it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Samples count as steady when both drift less than this, in °C/min; `None`: do not wait.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settle_degc_per_min: Option<f64>,
    /// Lamp-on time in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heat_s: Option<f64>,
    /// Lamp-off time in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cool_s: Option<f64>,
    /// The lamp stays on until a key is pressed; `heat_s` is not used then.
    #[serde(skip_serializing_if = "is_false")]
    pub heat_until_key: bool,
    /// The lamp stays off until a key is pressed; `cool_s` is not used then.
    #[serde(skip_serializing_if = "is_false")]
    pub cool_until_key: bool,
    /// How often the lamp goes on, where that is more than once.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cycles: Option<u32>,
    /// Interval of the marks in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub marks_s: Option<f64>,
    /// Length of an unattended run in seconds; a lesson ends by its plan, and without either the
    /// run goes on until it is ended by hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub for_s: Option<f64>,
    /// Where the bench stands, for the sun's times.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// Name of the sample that was predicted to warm more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub prediction: Option<String>,
    /// How many groups were asked for their prediction, where it was said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub groups: Option<u8>,
    /// What each group predicted.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub predictions: Vec<Guess>,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde hands out references"
)]
fn is_false(value: &bool) -> bool {
    !value
}

impl Plan {
    /// Whether there is a lamp to switch.
    #[must_use]
    pub fn has_lamp(&self) -> bool {
        self.heat_s.is_some() || self.heat_until_key
    }

    /// How often the lamp goes on, at least once.
    #[must_use]
    pub fn cycles(&self) -> u32 {
        self.cycles.unwrap_or(1).max(1)
    }

    /// Lamp-on time in seconds; none if a key ends it, or there is no lamp.
    #[must_use]
    pub fn heating_s(&self) -> Option<f64> {
        self.heat_s.filter(|_| !self.heat_until_key)
    }

    /// Lamp-off time in seconds, as long as the lamp-on time unless it says otherwise; none if a key
    /// ends it, or there is no lamp.
    #[must_use]
    pub fn cooling_s(&self) -> Option<f64> {
        let cool_s = self.cool_s.or(self.heating_s());
        cool_s.filter(|_| self.has_lamp() && !self.cool_until_key)
    }

    /// Time in seconds from one lamp-on to the next; none if a key is part of it.
    #[must_use]
    pub fn cycle_s(&self) -> Option<f64> {
        Some(self.heating_s()? + self.cooling_s()?)
    }

    /// Time in seconds from the first mark to the end: heating and cooling, or the length of an
    /// unattended run; none if nothing says when it ends.
    #[must_use]
    pub fn length_s(&self) -> Option<f64> {
        let lesson_s = self.cycle_s().map(|s| s * f64::from(self.cycles()));
        self.for_s.or(lesson_s)
    }
}
