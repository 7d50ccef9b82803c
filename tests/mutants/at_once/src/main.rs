//! Small faults put into a room all at once, each asleep until its number is asked for: so one build
//! is enough for all of them.
//!
//! `at-once sow FROM TO EVERY FIRST [WITHOUT...]` copies a folder of sources and puts every so manieth fault into the copy;
//! prints them. `at-once reap PROGRAM SECONDS LIST [ARGUMENTS]` runs a test program once for each of
//! them.

mod reap;
mod sow;
mod value;

use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    match args.as_slice() {
        ["sow", from, to, every, first, without @ ..] => {
            sow::sow(from.as_ref(), to.as_ref(), every.parse()?, first.parse()?, without)
        }
        ["reap", program, seconds, list, more @ ..] => {
            reap::reap(program, more, seconds.parse()?, list.as_ref())
        }
        _ => Err(
            "at-once sow FROM TO EVERY FIRST [WITHOUT...] | at-once reap PROGRAM SECONDS LIST [ARGUMENTS]"
                .into(),
        ),
    }
}
