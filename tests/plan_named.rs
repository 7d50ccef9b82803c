//! Plans of `duskmark.toml`, cycles, and what is kept of switching late, through the built program.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;

use serde_json::Value;
use support::csv::Table;
use support::program::{Said, assert_rebuilt_alike, duskmark, only_run, run};

const BOARD: &str = "virtual:seed=2,speed=200";

/// Logs a virtual bench by a plan, with the user's settings in a folder of the test's own.
fn log(folder: &Path, words: &[&str]) -> Said {
    let words = [&["log", "--board", BOARD, "--view", "plain"], words].concat();
    let mut command = duskmark(folder, &words);
    command
        .env_remove("DUSKMARK_PLAN")
        .env("XDG_CONFIG_HOME", folder.join("settings"))
        .env("APPDATA", folder.join("settings"))
        .env("HOME", folder);
    command.output().unwrap().into()
}

fn settings(run: &Path) -> toml::Table {
    let text = std::fs::read_to_string(run.join("run.toml")).unwrap();
    text.parse().unwrap()
}

#[test]
fn what_is_typed_stands_over_the_folders_plan_and_that_over_the_users() {
    let folder = tempfile::tempdir().unwrap();
    let user = folder.path().join("settings/duskmark");
    std::fs::create_dir_all(&user).unwrap();
    let mine = "[plan.lesson]\nheat = \"9m\"\n[plan.short]\nheat = \"90s\"\nsettle = \"off\"\n";
    std::fs::write(user.join("duskmark.toml"), mine).unwrap();
    let here = "[plan.lesson]\nheat = \"2m\"\ncool = \"90s\"\nmarks = \"30s\"\nsettle = \"off\"\n\
                samples = [\"roof slate\", \"wet moss\"]\n";
    std::fs::write(folder.path().join("duskmark.toml"), here).unwrap();
    // At such a speed a busy machine may leave a gap: the exit code does not matter.
    log(folder.path(), &["--plan", "lesson", "--cool", "1m"]);
    let run = only_run(folder.path());
    let kept = settings(&run);
    let plan = kept["plan"].as_table().unwrap();
    assert_eq!(plan["name"].as_str(), Some("lesson"));
    let seconds = ["heat_s", "cool_s", "marks_s"].map(|key| plan[key].as_float());
    assert_eq!(seconds, [Some(120.0), Some(60.0), Some(30.0)]);
    assert_eq!(kept["samples"][1].as_str(), Some("wet moss"));
    std::fs::remove_dir_all(folder.path().join("runs")).unwrap();
    // A plan that only the user's settings have.
    log(folder.path(), &["--plan", "short", "--cool", "30s"]);
    let kept = settings(&only_run(folder.path()));
    assert_eq!(kept["plan"]["heat_s"].as_float(), Some(90.0));
}

#[test]
fn a_wrong_setting_is_told_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let text = "[plan.lesson]\nheat = \"2m\"\ncoool = \"2m\"\n";
    std::fs::write(folder.path().join("duskmark.toml"), text).unwrap();
    let parts = ["duskmark.toml:3:1: the key 'coool' is not known", "'cool'"];
    log(folder.path(), &["--plan", "lesson"]).failed_with(2, &parts);
    std::fs::write(folder.path().join("duskmark.toml"), "[plan.lesson]\n").unwrap();
    log(folder.path(), &["--plan", "lessen"]).failed_with(2, &["no plan 'lessen'", "'lesson'"]);
    log(folder.path(), &["--cool", "2m"]).failed_with(2, &["no lamp-on time"]);
    // What the samples of a real board are called nobody knows before it has spoken.
    let unnamed = [
        "log",
        "--board",
        "no-such-port",
        "--heat",
        "2m",
        "--groups",
        "3",
    ];
    run(folder.path(), &unnamed).failed_with(2, &["--samples"]);
    log(folder.path(), &["--heat", "2m", "--groups", "3"]).failed_with(2, &["there is none"]);
    let named = ["--heat", "2m", "--samples", "slate,moss", "--groups", "3"];
    log(folder.path(), &named).failed_with(2, &["there is none"]);
    assert!(!folder.path().join("runs").exists());
}

#[test]
fn two_cycles_are_cued_seen_compared_and_rebuilt() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "--heat",
        "4m",
        "--cool",
        "4m",
        "--marks",
        "1m",
        "--cycles",
        "2",
        "--samples",
        "slate,moss",
        "--prediction",
        "1=moss,2=slate,blue=slate",
    ];
    let said = log(folder.path(), &words);
    let run = only_run(folder.path());
    let events = Table::read(&run.join("events.csv"));
    for kind in ["cue-lamp-on", "cue-lamp-off", "lamp-on", "lamp-off"] {
        assert_eq!(events.of_kind(kind).len(), 2, "{kind}: {events:?}");
    }
    let summary = std::fs::read_to_string(run.join("summary.json")).unwrap();
    let found: Value = serde_json::from_str(&summary).unwrap();
    let planned = found["planned"].as_array().unwrap();
    assert_eq!(planned.len(), 4);
    let at = |entry: &Value, key: &str| entry[key].as_f64().unwrap();
    for (entry, edge) in planned.iter().zip(found["lamp"].as_array().unwrap()) {
        assert_eq!(entry["edge"], edge["edge"]);
        assert_eq!(entry["seen_s"], edge["at_s"]);
        let late_s = at(entry, "seen_s") - at(entry, "planned_s");
        assert!((at(entry, "late_s") - late_s).abs() < 1e-3, "{entry}");
        // The pretended hand is some seconds late, each time.
        assert!((-3.0..25.0).contains(&late_s), "{entry}");
    }
    let on_s = at(&planned[0], "seen_s");
    assert!((at(&planned[1], "planned_s") - on_s - 240.0).abs() < 1e-3);
    assert!((at(&planned[2], "planned_s") - on_s - 480.0).abs() < 1e-3);
    let off = &events.of_kind("lamp-off")[0][4];
    assert!(off.contains("planned at"), "{off}");
    let groups = found["comparison"]["predictions"].as_array().unwrap();
    let told: Vec<_> = groups
        .iter()
        .map(|g| (g["group"].as_str().unwrap(), g["right"].as_bool()))
        .collect();
    assert_eq!(
        told,
        [("1", Some(false)), ("2", Some(true)), ("blue", Some(true))]
    );
    assert!(
        said.out.contains("group blue  slate      right"),
        "{}",
        said.out
    );
    assert!(said.out.contains("the plan\n"), "{}", said.out);
    let kept = settings(&run);
    assert_eq!(kept["plan"]["cycles"].as_integer(), Some(2));
    assert_eq!(
        kept["plan"]["predictions"][0]["sample"].as_str(),
        Some("moss")
    );
    assert_rebuilt_alike(folder.path(), &run);
    // Asked again of the run with other marks, what was planned is still told.
    let again = support::program::run(
        folder.path(),
        &["analyse", "--json", "--marks", "2m", run.to_str().unwrap()],
    );
    let again: Value = serde_json::from_str(&again.done().out).unwrap();
    assert_eq!(again["planned"], found["planned"]);
}
