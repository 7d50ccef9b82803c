//! One line for each number that the program must reach; `benches/all` gathers them into a table.

use std::fmt::Display;

/// Begins the lines that `benches/all` looks for.
const SIGN: &str = "reach:";

/// Prints a line: what was measured, the number with its unit, what it must reach, whether it does.
pub(crate) fn told(what: &str, measured: impl Display, reach: &str, met: bool) {
    let met = if met { "yes" } else { "**no**" };
    println!("{SIGN} | {what} | {measured} | {reach} | {met} |");
}
