//! A run: its plan, its folder, logging it live and deriving it again.

mod begun;
mod conductor;
mod course;
mod derive;
mod edges;
mod error;
mod feed;
mod files;
mod folder;
mod found;
mod greet;
mod hand;
mod live_file;
mod lock;
mod owner;
mod plan;
mod recorder;
mod rescue;
mod resume;
mod scribe;
mod set_up;
mod setup;
mod steady;
mod table;
mod wall;

pub use begun::setup_in;
pub use conductor::{Conductor, Cue, Step};
pub use derive::{Derived, request};
pub use error::RunError;
pub use feed::EventLine;
pub use files::name;
pub use found::{Found, Together};
pub use greet::{GreetFault, Greeting};
pub use hand::{Hand, note};
pub use lock::lock_run;
pub use plan::Plan;
pub use recorder::{Ending, Keep, News, Recorder};
pub use resume::unfinished;
pub use scribe::SyncEvery;
pub use set_up::{SetUpNotes, keep_set_up, set_up_in};
pub use setup::{Lags, Part, RunSetup};
pub use steady::{Settling, Steadiness, Verdict};
pub use wall::{WallClock, parse_rfc3339, rfc3339_ms};

use crate::journal::FILE_NAME as JOURNAL;
