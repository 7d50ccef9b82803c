//! A run: its plan, its folder, logging it live and deriving it again.

mod derive;
mod error;
mod feed;
mod files;
mod folder;
mod greet;
mod live_file;
mod plan;
mod recorder;
mod setup;
mod steady;
mod table;
mod wall;

pub use derive::{Derived, Found, request};
pub use error::RunError;
pub use feed::EventLine;
pub use files::name;
pub use greet::{GreetFault, Greeting};
pub use plan::{Conductor, Cue, Plan, Step};
pub use recorder::{News, Recorder};
pub use setup::{Lags, RunSetup};
pub use steady::Steadiness;
pub use wall::{WallClock, parse_rfc3339, rfc3339_ms};

use crate::journal::FILE_NAME as JOURNAL;
