//! A virtual bench: samples under a lamp, computed, and the board that would measure them.
//!
//! The board speaks as a real one does, so everything after the first arrow of the data path is
//! exercised without hardware: by the demo, by tests, and by people who want to try a plan.
//! [`VirtualBoard`] is an iterator of [`Happening`]s: bytes with their time of arrival and the truth
//! about the line that they complete, pulls and returns of the plug. The same [`BoardConfig`] gives
//! the same bytes: no clock is read, all chance comes from its seed, and exponentials and sines come
//! from `libm` (only the thermistor's law uses the platform's, whose last bit the converter hides).
//!
//! ```
//! use duskmark::sim::{Happening, VirtualBoard, lesson};
//!
//! let mut board = VirtualBoard::new(lesson(42))?;
//! let Some(Happening::Bytes(first)) = board.next() else { panic!("a board says hello") };
//! assert!(first.bytes.starts_with(b"!duskmark 1 id="));
//! # Ok::<(), duskmark::sim::ConfigFault>(())
//! ```

mod ailment;
mod air;
mod bath;
mod board;
mod cable;
mod clock;
mod config;
mod fault;
mod material;
mod measure;
mod preset;
mod speech;
mod thermal;

pub use air::{Air, AirSpec, DaySpec};
pub use bath::BathSpec;
pub use board::VirtualBoard;
pub use cable::{Burst, Happening};
pub use config::{BoardConfig, ClockSpec, ConfigFault, Electronics, LinkSpec, Speech};
pub use fault::{Fault, FaultKind};
pub use material::{ProbeSpec, SampleSpec};
pub use preset::{class_bench, fortnight, lesson};
pub use thermal::{LampSpec, ThermalBench};
