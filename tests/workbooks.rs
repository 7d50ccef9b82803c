//! Workbooks in the hands of another program: `LibreOffice` opens ours and computes them again, and
//! what it saves is read by us.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

#[path = "workbooks/languages.rs"]
mod languages;
#[path = "workbooks/lesson.rs"]
mod lesson;
#[path = "workbooks/long.rs"]
mod long;
#[path = "workbooks/program.rs"]
mod program;
mod support;
#[path = "workbooks/tables.rs"]
mod tables;
