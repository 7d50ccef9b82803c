//! Runs whose results are kept in their folders: taken as they are while they are still good, and never
//! once anything was changed that they followed from.

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::support::program::{Said, only_run, run};

/// What `-v` says of a run that was not derived again.
const AS_KEPT: &str = "results as kept";

/// A short lesson on the virtual bench: its folder.
fn lesson(folder: &Path) -> PathBuf {
    let plan = "--board virtual:speed=inf --samples slate,moss --heat 90s --cool 90s --settle off";
    let words: Vec<&str> = ["log", "-q"].into_iter().chain(plan.split(' ')).collect();
    run(folder, &words).done();
    only_run(folder)
}

fn class(folder: &Path, bench: &Path, further: &[&str]) -> Said {
    let bench = bench.to_str().unwrap();
    run(
        folder,
        &[&["class", "-v", "--json", "--out", "all", bench], further].concat(),
    )
}

/// The class's numbers, page and picture, and whether the run's results were taken as kept.
fn made(folder: &Path, bench: &Path, further: &[&str]) -> (Value, [Vec<u8>; 2], bool) {
    let said = class(folder, bench, further);
    let json = serde_json::from_str(&said.done().out).unwrap();
    let read = |name: &str| std::fs::read(folder.join("all").join(name)).unwrap();
    let files = [read("class.html"), read("class.svg")];
    (json, files, said.err.contains(AS_KEPT))
}

/// Puts text in the place of other text in a file of a run; gives back what puts it right again.
fn change(file: &Path, from: &str, to: &str) -> impl FnOnce() + use<> {
    let before = std::fs::read_to_string(file).unwrap();
    assert!(before.contains(from), "{from} in {before}");
    std::fs::write(file, before.replacen(from, to, 1)).unwrap();
    let file = file.to_owned();
    move || std::fs::write(file, before).unwrap()
}

#[test]
fn kept_results_are_those_that_a_derivation_gives() {
    let folder = tempfile::tempdir().unwrap();
    let bench = lesson(folder.path());
    let kept = made(folder.path(), &bench, &[]);
    assert!(kept.2);
    let undo = change(&bench.join("run.toml"), "\n[kept]\n", "\n[forgotten]\n");
    let derived = made(folder.path(), &bench, &[]);
    assert!(!derived.2);
    assert_eq!(kept.0, derived.0);
    assert!(kept.1 == derived.1, "page or picture differ");
    undo();
    // What people add of masses and distances decides nothing.
    let bench_words = bench.to_str().unwrap();
    run(
        folder.path(),
        &["report", "-q", "--sample-mass", "250g", bench_words],
    )
    .done();
    assert!(made(folder.path(), &bench, &[]).2);
}

#[test]
fn readings_are_marked_as_invented_where_only_the_journal_tells() {
    // A run that was cut off has no other file yet.
    let folder = tempfile::tempdir().unwrap();
    let bench = lesson(folder.path());
    std::fs::remove_file(bench.join("run.toml")).unwrap();
    let (json, _, is_kept) = made(folder.path(), &bench, &[]);
    assert!(!is_kept);
    let said = json["warnings"].to_string();
    assert!(said.contains("Invented readings"), "{said}");
}

#[test]
fn results_of_anything_else_are_derived_again() {
    let folder = tempfile::tempdir().unwrap();
    let bench = lesson(folder.path());
    let (before, ..) = made(folder.path(), &bench, &[]);
    let row = std::fs::read_to_string(bench.join("readings.csv")).unwrap();
    let row = row.lines().nth(200).unwrap().to_owned();
    let wrong = row.replacen(',', ",x", 1);
    for (file, from, to) in [
        // One row, one result, the version, a setting, the fingerprint itself.
        ("readings.csv", row.as_str(), wrong.as_str()),
        ("summary.json", "\"rise_degc\": ", "\"rise_degc\": 1"),
        ("run.toml", "[kept]\nprogram = \"", "[kept]\nprogram = \"9."),
        ("run.toml", "cool_s = 90.0", "cool_s = 80.0"),
        ("run.toml", "sha256 = \"", "sha256 = \"0"),
    ] {
        let undo = change(&bench.join(file), from, to);
        let (class, _, as_kept) = made(folder.path(), &bench, &[]);
        assert!(!as_kept, "{file}: {to}");
        // The journal is the record: what was changed beside it changes nothing.
        assert_eq!(class, before, "{file}: {to}");
        undo();
        assert!(made(folder.path(), &bench, &[]).2, "{file} put right");
    }
}

#[test]
fn corrections_lags_and_a_run_that_went_on_are_seen() {
    let folder = tempfile::tempdir().unwrap();
    let bench = lesson(folder.path());
    // Names that were corrected by hand, in an editor.
    let undo = change(
        &bench.join("run.toml"),
        "\n[kept]\n",
        "\n[afterwards]\nsamples = [\"roof slate\", \"wet moss\"]\n\n[kept]\n",
    );
    let (class, _, as_kept) = made(folder.path(), &bench, &[]);
    assert!(!as_kept);
    assert_eq!(class["samples"][0]["name"], "roof slate");
    undo();
    // Lags that are declared now, or were for the files that are there.
    let (class, _, as_kept) = made(folder.path(), &bench, &["--probe-lag", "9s"]);
    assert!(!as_kept);
    let bench_words = bench.to_str().unwrap();
    let rebuilt = ["rebuild", "-q", "--probe-lag", "9s", bench_words];
    run(folder.path(), &rebuilt).done();
    assert!(!made(folder.path(), &bench, &[]).2);
    let (again, _, as_kept) = made(folder.path(), &bench, &["--probe-lag", "9s"]);
    assert!(as_kept);
    assert_eq!(again, class);
    run(folder.path(), &["rebuild", "-q", bench_words]).done();
    assert!(made(folder.path(), &bench, &[]).2);
    // A journal that grew.
    let journal = bench.join("journal.dmj");
    let mut text = std::fs::read(&journal).unwrap();
    text.extend(b"torn");
    std::fs::write(&journal, text).unwrap();
    assert!(!made(folder.path(), &bench, &[]).2);
}
