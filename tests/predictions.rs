//! What the class predicted, from the command line to every place that tells how it came out.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;

use serde_json::{Value, json};
use support::pages::text_of;
use support::program::{only_run, run};

fn prediction(text: &str) -> Value {
    let summary: Value = serde_json::from_str(text).unwrap();
    summary["comparison"]["prediction"].clone()
}

#[test]
fn a_runs_prediction_is_kept_and_judged_and_rebuilt() {
    let folder = tempfile::tempdir().unwrap();
    let said = run(
        folder.path(),
        &["demo", "--run-only", "--prediction", "Moss"],
    );
    let wrong = "Predicted to warm most: moss. It was not right.";
    assert!(said.done().out.contains(wrong), "{}", said.out);
    let kept = only_run(folder.path());
    let read = |name: &str| std::fs::read_to_string(kept.join(name)).unwrap();
    let settings: toml::Table = read("run.toml").parse().unwrap();
    assert_eq!(settings["plan"]["prediction"].as_str(), Some("Moss"));
    let outcome = json!({"sample": "moss", "right": false});
    assert_eq!(prediction(&read("summary.json")), outcome);
    let before = read("summary.json");
    std::fs::remove_file(kept.join("summary.json")).unwrap();
    run(folder.path(), &["rebuild", kept.to_str().unwrap()]).done();
    assert_eq!(read("summary.json"), before);
    // Its rows alone, with the settings beside them, tell the same.
    let rows = kept.join("readings.csv");
    let again = run(
        folder.path(),
        &["analyse", "--json", rows.to_str().unwrap()],
    );
    assert_eq!(prediction(&again.done().out), outcome);
    // What is asked now stands over it, of the run and of its rows.
    for input in [&kept, &rows] {
        let words = [
            "analyse",
            "--json",
            "--prediction",
            "slate",
            input.to_str().unwrap(),
        ];
        let other = run(folder.path(), &words);
        let right = json!({"sample": "slate", "right": true});
        assert_eq!(prediction(&other.done().out), right);
    }
}

#[test]
fn a_prediction_is_held_against_names_that_nobody_typed() {
    let folder = tempfile::tempdir().unwrap();
    for prediction in ["grass", "1=slate,2=grass"] {
        let words = [
            "log",
            "--board",
            "virtual:speed=inf",
            "--for",
            "10s",
            "--prediction",
            prediction,
        ];
        let parts = ["'grass' is none of the samples", "slate, moss"];
        run(folder.path(), &words).failed_with(2, &parts);
    }
    let words = [
        "log",
        "--board",
        "virtual:speed=inf",
        "--for",
        "10s",
        "--prediction",
        "Moss",
    ];
    run(folder.path(), &words).done();
}

#[test]
fn a_logged_run_takes_a_prediction_of_its_samples_only() {
    let folder = tempfile::tempdir().unwrap();
    let log = [
        "log",
        "--board",
        "virtual:seed=3,speed=100",
        "--samples",
        "slate,moss",
    ];
    let plan = ["--heat", "2m", "--view", "off", "--prediction"];
    let words = |name| [&log[..], &plan[..], &[name]].concat();
    run(folder.path(), &words("grass")).failed_with(2, &["grass", "slate, moss"]);
    assert!(!folder.path().join("runs").exists());
    let said = run(folder.path(), &words("slate"));
    let right = "Predicted to warm most: slate. It was right.";
    // A busy machine may leave a gap in a bench that runs so fast: the exit code does not matter.
    assert!(said.out.contains(right), "{}", said.out);
}

#[test]
fn a_prediction_that_nothing_can_judge_is_said_to_be_open() {
    let folder = tempfile::tempdir().unwrap();
    let table = "minutes,slate,moss\n0,22.1,21.9\n1,22.1,21.9\n2,22.1,21.9\n";
    std::fs::write(folder.path().join("table.csv"), table).unwrap();
    let said = run(
        folder.path(),
        &["analyse", "--prediction", "slate", "table.csv"],
    );
    let open = "Whether the prediction \"slate\" was right is open";
    assert!(said.done().out.contains(open), "{}", said.out);
}

#[test]
fn what_each_group_predicted_stands_in_report_and_answer_key() {
    let folder = tempfile::tempdir().unwrap();
    let words = "log --board virtual:speed=inf --samples slate,moss --heat 3m --cool 3m --view off \
                 --prediction 1=slate,2=moss";
    // A busy machine may leave a gap in a bench that runs so fast: the exit code does not matter.
    run(folder.path(), &words.split_whitespace().collect::<Vec<_>>());
    let kept = only_run(folder.path());
    let kept = kept.to_str().unwrap();
    for (command, page, told) in [
        (
            "report",
            "report.html",
            [
                "Group 1 predicted that slate would warm most. That was right.",
                "Group 2 predicted that moss would warm most. That was not so",
            ],
        ),
        (
            "sheet",
            "sheet.html",
            ["Group 1 predicted: slate.", "Group 2 predicted: moss."],
        ),
    ] {
        run(folder.path(), &[command, "--lang", "en", kept]).done();
        let page = std::fs::read_to_string(Path::new(kept).join(page)).unwrap();
        let text = text_of(&page);
        for part in told {
            assert!(text.contains(part), "{command}: {part}");
        }
        assert!(!text.contains("No prediction was noted"), "{command}");
    }
}
