//! The cautions that go with plan, sheet and report.
//!
//! Sources: K. Roy, Addressing Electrical Hazards in the Lab, National Science Teaching Association
//! safety blog, 19 March 2019 (leads, water, residual current); Umatilla County Fire District 1,
//! advice on heat lamps, 2023 (guard, thin bulbs and water); Katy ISD rules for agricultural
//! facilities (two fixing points, nothing that burns in the beam). They stand in for no risk
//! assessment and for no local rule, which the last of them says.

use super::words::Words;

/// The cautions, one sentence or two each.
#[must_use]
pub fn cautions(words: &Words) -> Vec<String> {
    let keys = [
        "caution-lamp",
        "caution-fire",
        "caution-water",
        "caution-pour",
        "caution-eyes",
        "caution-rules",
    ];
    keys.into_iter().map(|key| words.say(key)).collect()
}
