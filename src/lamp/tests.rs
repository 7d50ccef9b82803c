//! The room as a whole, on simulated benches.
