//! What the tests share: the built program, and boards on pseudo-terminals.

#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::missing_panics_doc,
    unreachable_pub,
    missing_debug_implementations,
    reason = "one file for many test binaries: each uses the part that it needs"
)]

pub mod bath;
#[cfg(unix)]
pub mod bench;
#[cfg(unix)]
pub mod broker;
pub mod browser;
pub mod csv;
pub mod http;
pub mod nine;
pub mod pages;
pub mod program;
#[cfg(target_os = "linux")]
pub mod shim;
#[cfg(unix)]
pub mod terminal;
pub mod watched;
