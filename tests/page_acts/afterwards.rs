//! What is put right on the page of a run that is over.

use super::*;

#[test]
fn what_is_put_right_afterwards_outlasts_a_rebuild_and_leaves_the_journal_alone() {
    let folder = tempfile::tempdir().unwrap();
    run(
        folder.path(),
        &["demo", "-q", "--run-only", "--prediction", "Moss"],
    )
    .done();
    let kept = only_run(folder.path());
    let words = ["report", "--lamp-distance", "30cm", kept.to_str().unwrap()];
    run(folder.path(), &words).done();
    let first = files(&kept);
    let (_page, here) = page(folder.path(), &[]);
    for bad in [
        json!({"names": ["slate"]}),
        json!({"names": ["slate", " "]}),
        json!({"names": ["slate", "SLATE"]}),
        json!({"note": " "}),
        json!({"note": "late", "minute": 99_999}),
        json!({"note": "never", "minute": 1e300}),
        json!({"note": "early", "minute": -60}),
    ] {
        assert_eq!(
            send(&here, &kept, "afterwards", "", &bad).code,
            422,
            "{bad}"
        );
    }
    assert!(files(&kept) == first, "what was refused changes nothing");
    for good in [
        json!({"names": ["roof slate", "wet <moss>"]}),
        json!({"note": "the window was open", "minute": 2.5}),
        json!({"note": "=cloudy, all day", "minute": null}),
    ] {
        let answer = send(&here, &kept, "afterwards", "", &good);
        assert_eq!(answer.code, 200, "{answer:?}");
    }
    let then = files(&kept);
    assert!(then["journal.dmj"] == first["journal.dmj"]);
    assert!(
        then["readings.csv"] == first["readings.csv"],
        "columns keep their names"
    );
    assert!(then["marks.csv"] == first["marks.csv"]);
    let text = |name: &str| String::from_utf8(then[name].clone()).unwrap();
    let events = text("events.csv");
    assert!(
        events.contains(",renamed,wet <moss>,logged as moss; corrected "),
        "{events}"
    );
    assert!(events.contains("the window was open (noted afterwards, "));
    assert!(
        events.contains(",\"'=cloudy, all day (noted afterwards, "),
        "{events}"
    );
    let summary: Value = serde_json::from_str(&text("summary.json")).unwrap();
    assert_eq!(summary["samples"][1]["name"], "wet <moss>");
    let judged = json!({"sample": "wet <moss>", "right": false});
    assert_eq!(summary["comparison"]["prediction"], judged);
    let settings: toml::Table = text("run.toml").parse().unwrap();
    assert_eq!(settings["samples"][1].as_str(), Some("moss"));
    assert_eq!(settings["set_up"]["lamp_distance"].as_str(), Some("30 cm"));
    assert!(text("graph.svg").contains("wet &lt;moss&gt;"));

    // The page shows it, with the row's own flags and digits.
    let id = id(&kept);
    wait_until("the new name", || {
        get(&here, &format!("/run/{id}"), &[])
            .body
            .contains("<bdi>wet &lt;moss&gt;</bdi>")
    });
    // Whatever is derived again is the same to the byte, also with a new fact of the set-up.
    run(
        folder.path(),
        &["rebuild", "--quiet", kept.to_str().unwrap()],
    )
    .done();
    assert!(files(&kept) == then, "a rebuild changes something");
    let words = ["report", "--lamp-distance", "31cm", kept.to_str().unwrap()];
    run(folder.path(), &words).done();
    run(
        folder.path(),
        &["rebuild", "--quiet", kept.to_str().unwrap()],
    )
    .done();
    let last = files(&kept);
    assert!(last["events.csv"] == then["events.csv"]);
    let report = String::from_utf8(last["report.html"].clone()).unwrap();
    assert!(report.contains("roof slate") && report.contains("31"));
}
