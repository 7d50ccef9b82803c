//! Frames to temperatures: the divider's equation, the probe's law, the resolution and the
//! uncertainty of a reading, and what is wrong with a probe.
//!
//! A [`Converter`] is made once per board from what the board says of itself and what the user
//! says of the probes; it then turns each field of a sample line into a [`Reading`].

mod budget;
mod convert;
mod correction;
mod divider;
mod law;
mod setup;

pub use budget::{Budget, Cause, Component, Conditions, Scatter, Shape, Why};
pub use convert::{Converter, ProbeFault, Reading};
pub use correction::Correction;
pub use divider::{Divider, DividerFault};
pub use law::{
    GENERIC, Generic, LawFault, MOST_POINTS, PointTable, ProbeLaw, Quantity, TableFault,
};
pub use setup::{ProbeSetup, SetupFault};

/// The ice point in kelvin: 0 °C by definition (SI Brochure, 9th edition, 2.3.1).
pub const ZERO_DEGC_K: f64 = 273.15;
