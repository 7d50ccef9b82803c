//! The `duskmark` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    duskmark::cli::main(std::env::args_os())
}
