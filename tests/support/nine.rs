//! A table as a class writes it, and what `analyse` makes of such.

use super::program::{Said, run};

/// Nine rows, three minutes apart: 12 min lamp on and 12 min off (common practice, no source).
/// Slate and moss under a work lamp; the numbers are invented.
pub const NINE: [(f64, f64, f64); 9] = [
    (0.0, 22.8, 21.9),
    (3.0, 28.3, 24.4),
    (6.0, 31.6, 25.8),
    (9.0, 33.6, 26.6),
    (12.0, 34.9, 27.1),
    (15.0, 30.3, 24.7),
    (18.0, 27.5, 23.4),
    (21.0, 25.8, 22.7),
    (24.0, 24.8, 22.3),
];

/// What `analyse --json --marks 3m` says of a table.
pub fn analyse(text: &[u8]) -> Said {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("table.csv"), text).unwrap();
    run(
        folder.path(),
        &["analyse", "--json", "--marks", "3m", "table.csv"],
    )
}

/// The summary of a table that can be read, and its warnings as one text.
#[track_caller]
pub fn summary(text: &[u8]) -> (serde_json::Value, String) {
    let said = analyse(text);
    let summary: serde_json::Value = serde_json::from_str(&said.done().out).unwrap();
    let warnings: Vec<&str> = summary["warnings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| w.as_str().unwrap())
        .collect();
    let warnings = warnings.join("\n");
    (summary, warnings)
}

/// The table with these headings and lines.
pub fn nine(head: &str, line: impl Fn(f64, f64, f64) -> String) -> String {
    let rows: Vec<String> = NINE.iter().map(|&(t, a, b)| line(t, a, b)).collect();
    format!("{head}\n{}\n", rows.join("\n"))
}
