//! Follows runs by their files, while they grow and afterwards.
//!
//! Whoever looks on (the page, a stream, a broker) reads what the logging wrote and nothing else, at
//! its own pace: it cannot hold up what is logged, one of another process is the same as one of the
//! logging's own, and whoever was away finds everything still there.

mod id;
mod many;
mod one;
mod place;
mod row;
mod tail;

pub use id::EventId;
pub use many::{Many, Source};
pub use one::Follow;
pub use place::{Heard, Place, State, Step};
pub use row::{EventSeen, RowLine, RowSeen, columns, elapsed_ms};
pub use tail::{Look, Tail};
