//! The page: runs of a folder, going on and finished, for browsers in the room.
//!
//! Everything comes from the files in the runs' folders, which the logging writes as it goes: rows
//! are on the page some 50 ms after they are in the file, a page of another process is the same as
//! one of the logging's own, and whoever watches cannot hold up what is logged. What is kept in
//! memory of a run is bounded (`thin`, `marks`); a stretch of a long run is read from the file.
//! Viewers get messages that each say everything of their kind (`feed`), so that one who was away
//! has caught up with the first. Who may look is the business of `door`, and how many at once that of
//! `places`; whose a group's number is, that of `groups`. What people do goes through
//! `acts` to the session that logs, over its `desk`, or into a finished run's `run.toml`.

mod acts;
mod desk;
mod door;
mod feed;
mod forms;
mod groups;
mod hall;
mod marks;
mod markup;
mod nearest;
mod now;
mod pace;
mod picture;
mod places;
mod poll;
mod quiet;
mod results;
mod seen;
mod server;
mod thin;
mod web;

pub use desk::{Act, Deed, Desk, Outcome};
pub use server::{Page, PageError, PageSetup};
