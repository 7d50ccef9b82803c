//! The `duskmark` program.
fn main() {}
