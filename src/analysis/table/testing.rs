//! What the tests of this room share.

use super::{Table, read_table};

/// A table, and all that is said of it.
pub(super) fn read(text: &str) -> (Table, String) {
    let table = read_table(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"));
    let said: Vec<String> = table.warnings.iter().map(ToString::to_string).collect();
    let said = said.join("\n");
    (table, said)
}
