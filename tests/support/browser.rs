//! Node with what `tests/run` installed for it: a browser to be told what to do, and a checker of HTML.

use std::path::Path;
use std::process::{Command, Stdio};

/// Node with a script of `tests/browser`, and words for it.
pub fn node(script: &str, words: &[&str]) -> Command {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut command = Command::new("node");
    command
        .arg(root.join("tests/browser").join(script))
        .args(words);
    if std::env::var_os("NODE_PATH").is_none() {
        command.env("NODE_PATH", root.join("target/browser/node_modules"));
    }
    command.stdout(Stdio::piped());
    command
}

/// What html-validate has against pages: `FILE:LINE RULE WORDS`.
#[track_caller]
pub fn invalid(pages: &[&Path]) -> Vec<String> {
    let words: Vec<&str> = pages.iter().map(|page| page.to_str().unwrap()).collect();
    let output = node("validate.cjs", &words)
        .stderr(Stdio::inherit())
        .output()
        .unwrap();
    assert!(output.status.success(), "html-validate failed, see above");
    serde_json::from_slice(&output.stdout).unwrap()
}
