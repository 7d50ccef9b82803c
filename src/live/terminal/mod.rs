//! The terminal view: the plan strip, the graph, a card for each sample, what to do now.
//!
//! [`draw`] puts a [`State`] into a frame and touches nothing else; [`Stage`] sets a terminal up for
//! it and gives it back as it was.

mod card;
mod digits;
mod history;
mod layout;
mod look;
mod plot;
mod stage;
mod state;
mod strip;
#[cfg(test)]
mod tests;

pub use history::History;
pub use layout::draw;
pub use look::{Colours, Look};
pub use stage::{Stage, give_back};
pub use state::{About, Bench, Health, Said, Sample, Span, State, Stretch, Strip};
