//! Frames to temperatures: the divider's equation, the thermistor's law, the resolution of a
//! reading, and what is wrong with a probe.
//!
//! A [`Converter`] is made once per board from what the board says of itself and what the user
//! says of the probes; it then turns each field of a sample line into a [`Reading`].

mod convert;
mod correction;
mod divider;
mod law;

pub use convert::{Converter, ProbeFault, ProbeSetup, Reading, SetupFault};
pub use correction::Correction;
pub use divider::{Divider, DividerFault};
pub use law::{
    GENERIC, Generic, LawFault, MOST_POINTS, PointTable, ProbeLaw, Quantity, TableFault,
};

/// The ice point in kelvin: 0 °C by definition (SI Brochure, 9th edition, 2.3.1).
pub const ZERO_DEGC_K: f64 = 273.15;
