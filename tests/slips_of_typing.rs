//! What people type or paste by mistake gets an answer that says what to type.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use support::pages::demo_run;
use support::program::{only_run, run};

#[test]
fn printed_quotes_and_dashes_come_along_when_a_command_is_pasted() {
    let folder = tempfile::tempdir().unwrap();
    let words = ["log", "–board", "virtual"];
    run(folder.path(), &words).failed_with(2, &["type two hyphens, --board"]);
    let words = "log --board virtual:speed=inf --for 5s --samples";
    let mut words: Vec<&str> = words.split(' ').collect();
    words.push("“slate,wet moss”");
    run(folder.path(), &words).done();
    let run = only_run(folder.path());
    let head = std::fs::read_to_string(run.join("readings.csv")).unwrap();
    assert!(head.contains(",slate_degc,wet_moss_degc,"), "{head}");
}

#[test]
fn names_that_are_not_parted_by_commas() {
    let folder = tempfile::tempdir().unwrap();
    for words in [
        ["log", "--samples", "slate,", "moss"],
        ["log", "--samples", "slate", "moss"],
    ] {
        let said = run(folder.path(), &words);
        said.failed_with(2, &["separated by commas without spaces"]);
    }
    let said = run(folder.path(), &["log", "--samples", "slate;moss"]);
    said.failed_with(2, &["one name with ';' in it", "like slate,moss"]);
}

#[test]
fn a_tip_is_about_what_was_slipped() {
    let folder = tempfile::tempdir().unwrap();
    for (words, tip) in [
        ("--heat -5m", "'-5m' is below zero"),
        ("--mark 1m", "a similar argument exists: '--marks'"),
    ] {
        let words: Vec<&str> = words.split(' ').collect();
        let words = [&["log", "--samples", "slate,moss"][..], &words].concat();
        let said = run(folder.path(), &words);
        said.failed_with(2, &[tip]);
        assert!(!said.err.contains("separated by commas"), "{}", said.err);
    }
}

#[test]
fn an_empty_file_of_calibrations_holds_none() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("calibrations.toml"), "").unwrap();
    let words = "log --board virtual:speed=inf --for 5s --samples slate,moss";
    let words: Vec<&str> = words.split(' ').collect();
    run(folder.path(), &words).done();
}

#[test]
fn a_folder_of_runs_is_no_run() {
    let folder = tempfile::tempdir().unwrap();
    let first = demo_run(folder.path());
    let first = first.file_name().unwrap().to_str().unwrap();
    for command in ["report", "analyse", "class", "rebuild", "export"] {
        let said = run(folder.path(), &[command, "runs"]);
        assert_ne!(said.code, 0, "{said:?}");
        for part in ["runs holds runs and is none itself", first, "runs/*"] {
            assert!(said.err.contains(part), "{command}: {}", said.err);
        }
        if matches!(command, "rebuild" | "export") {
            continue;
        }
        let said = run(folder.path(), &[command, "runs/nix"]);
        let part = "runs/nix: there is no such file or folder";
        assert!(said.err.contains(part), "{command}: {}", said.err);
    }
}

#[test]
fn files_that_were_there_and_another_class_of_the_day_are_not_lost_without_a_word() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("sheet.html"), "a page of mine").unwrap();
    let words = [
        "sheet",
        "--samples",
        "slate,moss",
        "--heat",
        "5m",
        "--cool",
        "5m",
    ];
    let said = run(folder.path(), &words);
    assert!(said.done().out.contains(", replaced"), "{}", said.out);
    let said = run(folder.path(), &words);
    assert!(!said.done().out.contains("replaced"), "{}", said.out);
    demo_run(folder.path());
    let run_folder = only_run(folder.path());
    let run_folder = run_folder.to_str().unwrap();
    for _ in 0..2 {
        run(folder.path(), &["class", run_folder]).done();
    }
    let classes = std::fs::read_dir(folder.path()).unwrap();
    let name = |entry: std::io::Result<std::fs::DirEntry>| entry.unwrap().file_name();
    let classes = classes
        .map(name)
        .filter(|n| n.to_string_lossy().starts_with("class-"));
    assert_eq!(classes.count(), 2);
}

#[test]
fn a_command_whose_letters_are_swapped_is_guessed() {
    let folder = tempfile::tempdir().unwrap();
    let said = run(folder.path(), &["lgo", "--samples", "slate,moss"]);
    assert_eq!(said.code, 2, "{said:?}");
    assert!(said.err.contains("did you mean log?"), "{}", said.err);
    let said = run(folder.path(), &["haircut"]);
    assert!(!said.err.contains("did you mean"), "{}", said.err);
}
