//! A virtual bench: samples under a lamp, computed, and the board that would measure them.
mod air;
mod material;
mod thermal;
pub use air::{Air, AirSpec, DaySpec};
pub use material::{ProbeSpec, SampleSpec};
pub use thermal::{LampSpec, ThermalBench};
