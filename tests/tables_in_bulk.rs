//! Many tables in one call: all of them come out, in the order in which they were named.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use support::program::run;

/// Enough for several rounds of all threads on most machines.
const COUNT: usize = 300;

#[test]
fn all_come_out_in_their_order_and_one_that_cannot_be_read_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let names: Vec<String> = (0..COUNT).map(|k| format!("bench-{k}.csv")).collect();
    for (k, name) in names.iter().enumerate() {
        // Every table has another number of rows; invented numbers.
        let row = |i: usize| format!("{i},{}.5,21\n", 20 + i % 7);
        let rows: String = (0..3 + k % 40).map(row).collect();
        let text = format!("minutes,slate,moss\n{rows}");
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let broken = [7, 150, COUNT - 1];
    std::fs::remove_file(folder.path().join(&names[broken[0]])).unwrap();
    std::fs::write(folder.path().join(&names[broken[1]]), b"\x00\x01\xff junk").unwrap();
    std::fs::write(folder.path().join(&names[broken[2]]), "").unwrap();
    let mut words = vec!["analyse", "--json"];
    words.extend(names.iter().map(String::as_str));
    let said = run(folder.path(), &words);
    assert_eq!(said.code, 1, "{}", said.err);
    let found: Vec<(String, u64)> = said
        .out
        .lines()
        .map(|line| {
            let summary: serde_json::Value = serde_json::from_str(line).unwrap();
            let source = summary["source"].as_str().unwrap().to_owned();
            (source, summary["rows"].as_u64().unwrap())
        })
        .collect();
    let wanted: Vec<(String, u64)> = names
        .iter()
        .enumerate()
        .filter(|(k, _)| !broken.contains(k))
        .map(|(k, name)| (name.clone(), 3 + (k % 40) as u64))
        .collect();
    assert_eq!(found, wanted);
    let told = |k: usize| said.err.find(&format!("duskmark: {}: ", names[k]));
    let places: Vec<usize> = broken.iter().map(|k| told(*k).unwrap()).collect();
    assert!(places.is_sorted(), "{}", said.err);
}
