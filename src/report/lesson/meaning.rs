//! What the comparison says about heat capacity, and what it does not.
//!
//! The physics and its limits are in the docs of [`Comparison`](crate::analysis::Comparison).

use super::super::page::Markup;
use super::super::words::Value;
use super::Told;

/// Volumetric heat capacities in MJ/(m³·K): A. F. Moene and J. C. van Dam, Transport in the
/// Atmosphere-Vegetation-Soil Continuum (Cambridge University Press, 2014), table 2.2.
const HANDBOOK: [(&str, &str); 5] = [
    ("water", "4.18"),
    ("wet", "4.01"),
    ("dry", "0.25"),
    ("quartz", "2.13"),
    ("clay", "2.39"),
];

impl Told<'_> {
    /// Only where samples are compared: one sample alone says nothing of another.
    pub(super) fn meaning(&self, page: &mut Markup) {
        if self.summary().comparison.is_none() {
            return;
        }
        let words = &self.words;
        page.section("", &words.say("report-meaning"), |part| {
            part.paragraph(&words.say("report-meaning-first"));
            part.list(&[
                words.say("report-meaning-colour"),
                words.say("report-meaning-water"),
                words.say("report-meaning-mass"),
            ]);
            part.paragraph(&words.say("report-meaning-not"));
            part.paragraph_as("small", &words.say("report-meaning-formula"));
            let values = HANDBOOK.map(|(name, digits)| (name, Value::Number(digits)));
            part.paragraph_as("small", &words.tell("report-meaning-handbook", &values));
        });
    }
}
