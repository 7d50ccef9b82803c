//! duskmark: from a microcontroller's bytes to a lesson's clean data.
//!
//! Data takes one path. Everything after the first arrow is a pure function of what the journal
//! holds; a live run, a rebuild and the demo differ only in where the timed bytes come from.
//!
//! ```text
//!  port | virtual board | journal        timed bytes: (arrival, port, bytes)
//!         └─ wire       bytes → lines → frames      framing, dialects, checksum
//!             └─ probe      frames → temperatures    divider, probe's law, uncertainty
//!             └─ timebase   board clock + arrival → run time
//!                 └─ sampler    readings → rows: all channels at one timestamp
//!                     ├─ journal, run   durable truth, clean CSV, events
//!                     ├─ lamp           edges: on-line (now) and off-line (best)
//!                     └─ analysis       marks, fits, rates, comparison
//!                         ├─ calibrate  what baths, fixed points and dips say of a probe
//!                         └─ graph      one picture
//!                             ├─ report    pages and workbooks, as bytes
//!                             ├─ live      the terminal's view, and the page for browsers
//!                             └─ outlet    lines of JSON, a broker, tables for query engines
//! ```
//!
//! Imports run down this picture only, and `wire`, `probe`, `timebase`, `sampler`, `lamp`,
//! `analysis`, `calibrate`, `graph`, `report` and `sim` do no I/O, read no clock and print nothing;
//! a test holds them to it (`tests/house.rs`). `live` and `outlet` read a run's files through
//! [`follow`], whoever writes them. [`port`], [`journal`], [`run`], [`follow`], [`live`] and
//! [`outlet`] touch the outside world. Arguments,
//! wording and printing live in [`cli`] alone.

pub mod analysis;
pub mod calibrate;
pub mod cli;
pub mod follow;
pub mod graph;
pub mod journal;
pub mod lamp;
pub mod live;
pub mod outlet;
pub mod port;
pub mod probe;
pub mod report;
pub mod run;
pub mod sampler;
pub mod sim;
pub mod timebase;
pub mod wire;
