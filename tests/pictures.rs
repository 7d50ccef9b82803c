//! Pictures as people see them: kept samples, colours and contrasts, pixels, and what a fortnight
//! costs.
//!
//! All data are invented: trays of roof slate and wet moss under a work lamp.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

#[path = "golden/colours.rs"]
mod colours;
#[path = "golden/fortnight.rs"]
mod fortnight;
#[path = "golden/pixels.rs"]
mod pixels;
#[path = "golden/same.rs"]
mod same;
#[path = "golden/scenes.rs"]
mod scenes;
