//! Small C libraries that the test puts between the program and the system (`LD_PRELOAD`).

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Builds `tests/shims/NAME.c` into `folder`; none where there is no C compiler or the library is not
/// for this system.
#[expect(clippy::print_stdout, reason = "a test that cannot run says so")]
pub fn build(folder: &Path, name: &str) -> Option<PathBuf> {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/shims/{name}.c"));
    let library = folder.join(format!("{name}.so"));
    let mut compiler = Command::new("cc");
    compiler.args(["-O1", "-shared", "-fPIC", "-o"]);
    compiler.args([&library, &source]).arg("-ldl");
    let built = compiler.stderr(Stdio::null()).status();
    if built.is_ok_and(|status| status.success()) {
        return Some(library);
    }
    println!("not run: needs cc on x86-64 Linux for {name}.c");
    None
}
