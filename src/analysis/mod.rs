//! What each sample did: marks, rises, rates, time constants and their comparison.

mod series;

pub use series::{Channel, Series};
