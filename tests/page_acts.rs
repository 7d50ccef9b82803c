//! What people do on the page of a run that is logged beside it, and on one that is over.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::{Value, json};
use support::bench::{Port, hello, sample};
use support::http::{Answer, Events, get, post};
use support::program::{Running, duskmark, only_run, run, wait_until};

/// The address in a line that ends in one.
fn address(line: &str) -> String {
    let address = line.split("http://").nth(1).unwrap();
    address.trim_end_matches('/').to_owned()
}

/// Does something on the page of `run`, as the page's own script does.
fn send(address: &str, run: &Path, to: &str, cookie: &str, what: &Value) -> Answer {
    let id = run.file_name().unwrap().to_str().unwrap();
    let origin = format!("http://{address}");
    let headers = [
        ("Origin", origin.as_str()),
        ("Content-Type", "application/json"),
        ("Cookie", cookie),
    ];
    post(
        address,
        &format!("/run/{id}/{to}"),
        &headers,
        &what.to_string(),
    )
}

/// Gives a code, and gets a cookie.
fn join(address: &str, code: &str) -> String {
    let origin = format!("http://{address}");
    let joined = post(
        address,
        "/join",
        &[("Origin", &origin)],
        &format!("code={code}"),
    );
    assert_eq!(joined.code, 303, "{joined:?}");
    let cookie = joined.headers["set-cookie"].split(';').next().unwrap();
    cookie.to_owned()
}

/// All files of a folder.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path());
    let name = |path: &Path| path.file_name().unwrap().to_str().unwrap().to_owned();
    entries
        .map(|path| (name(&path), std::fs::read(&path).unwrap()))
        .collect()
}

fn last_word(line: &str) -> String {
    line.split_whitespace().last().unwrap().to_owned()
}

#[test]
fn acts_and_predictions_are_records_of_the_run_that_is_logged_here() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let words = [
        "log",
        "--board",
        port.name(),
        "--samples",
        "slate,moss",
        "--heat",
        "1h",
        "--settle",
        "off",
        "--prediction",
        "2=slate",
        "--view",
        "plain",
        "--share",
        "--page-port",
        "0",
    ];
    let mut log = Running::start(duskmark(folder.path(), &words));
    let here = address(&log.wait_for("The page on this computer: "));
    let there = address(&log.wait_for("In this room:"));
    let look = last_word(&log.wait_for("the code to look:"));
    let act = last_word(&log.wait_for("the teacher's, likewise:"));
    port.say(&hello());
    let kept = log.wait_for_run(folder.path());
    let lines: Vec<String> = (0..5).map(|seq| sample(seq, "23.40,21.10")).collect();
    port.play(&lines);
    let id = kept.file_name().unwrap().to_str().unwrap().to_owned();
    let mut events = Events::open(&here, &format!("/run/{id}/live"));
    // The cue has come, the lamp has not: groups may speak, nobody sees yet what the others said.
    let told = loop {
        let told = events.next("now");
        if told["cue"] == "Switch the lamp ON now." && told["here"] == true {
            break told;
        }
    };
    assert_eq!(
        told["poll"],
        json!({"open": true, "text": "1 group has predicted."})
    );

    // Who looks may predict and no more; nobody may from another page.
    let remote = !there.starts_with("127.");
    if remote {
        let pupil = join(&there, &look);
        for what in [json!({"do": "mark"}), json!({"do": "end"})] {
            assert_eq!(send(&there, &kept, "act", &pupil, &what).code, 403);
        }
        let said = send(
            &there,
            &kept,
            "predict",
            &pupil,
            &json!({"group": 3, "sample": 1}),
        );
        assert_eq!(said.code, 200, "{said:?}");
        assert_eq!(
            send(
                &there,
                &kept,
                "predict",
                "",
                &json!({"group": 3, "sample": 0})
            )
            .code,
            401
        );
        let teacher = join(&there, &act);
        let said = send(
            &there,
            &kept,
            "act",
            &teacher,
            &json!({"do": "note", "text": "a fly\n"}),
        );
        assert_eq!(said.code, 200, "{said:?}");
    } else {
        send(
            &here,
            &kept,
            "predict",
            "",
            &json!({"group": 3, "sample": 1}),
        );
        send(
            &here,
            &kept,
            "act",
            "",
            &json!({"do": "note", "text": "a fly\n"}),
        );
    }
    let origin = [
        ("Origin", "http://example.org"),
        ("Content-Type", "application/json"),
    ];
    let path = format!("/run/{id}/act");
    assert_eq!(post(&here, &path, &origin, r#"{"do":"mark"}"#).code, 403);
    assert_eq!(
        post(&here, &path, &origin[1..], r#"{"do":"mark"}"#).code,
        403
    );
    assert_eq!(
        send(&here, &kept, "act", "", &json!({"do": "explode"})).code,
        422
    );
    for (group, sample, code) in [(1, 0, 200), (2, 1, 200), (21, 0, 422), (4, 7, 409)] {
        let what = json!({"group": group, "sample": sample});
        assert_eq!(
            send(&here, &kept, "predict", "", &what).code,
            code,
            "{what}"
        );
    }

    // The lamp goes on, somebody says: the poll is closed, and everyone sees it.
    for (what, words) in [
        (json!({"do": "mark"}), "Kept."),
        (json!({"do": "lamp"}), "Kept: the lamp was switched on."),
    ] {
        let answer = send(&here, &kept, "act", "", &what);
        assert_eq!((answer.code, answer.body.as_str()), (200, words));
    }
    let late = send(
        &here,
        &kept,
        "predict",
        "",
        &json!({"group": 5, "sample": 0}),
    );
    assert_eq!(
        (late.code, late.body.as_str()),
        (409, "Predictions are closed.")
    );
    let all = "Predicted to warm most: slate (group 1), moss (groups 2, 3).";
    loop {
        let told = events.next("now");
        if told["poll"]["open"] == false {
            assert_eq!(told["poll"]["text"], all);
            break;
        }
    }
    assert!(
        get(&here, "/", &[]).body.contains(all),
        "the wall tells it too"
    );

    // The run is ended on the page, which stays.
    assert_eq!(
        send(&here, &kept, "act", "", &json!({"do": "end"})).code,
        200
    );
    log.wait_for("The page stays at");
    let over = send(&here, &kept, "act", "", &json!({"do": "mark"}));
    assert_eq!(over.code, 409, "{over:?}");
    log.signal("INT");
    log.wait_for_end();

    let journal = std::fs::read_to_string(kept.join("journal.dmj")).unwrap();
    let records = [
        " predict 3=moss\n",
        " note a fly\n",
        " predict 1=slate\n",
        " predict 2=moss\n",
        " hand mark\n",
        " hand lamp-on\n",
        " end ended on the page\n",
    ];
    let places: Vec<usize> = records
        .iter()
        .map(|record| {
            journal
                .find(record)
                .unwrap_or_else(|| panic!("no {record} in\n{journal}"))
        })
        .collect();
    assert!(places.is_sorted(), "{places:?}");
    assert!(!journal.contains("predict 5") && !journal.contains("explode"));
    // As if they had been given with the plan.
    let settings: toml::Table = std::fs::read_to_string(kept.join("run.toml"))
        .unwrap()
        .parse()
        .unwrap();
    let made = settings["plan"]["predictions"].as_array().unwrap();
    let pairs: Vec<_> = made
        .iter()
        .map(|guess| {
            (
                guess["group"].as_str().unwrap(),
                guess["sample"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(pairs, [("1", "slate"), ("2", "moss"), ("3", "moss")]);
    let before = files(&kept);
    let rebuilt = run(folder.path(), &["rebuild", kept.to_str().unwrap()]);
    assert!(files(&kept) == before, "{rebuilt:?}");
}

#[test]
fn a_page_of_another_process_can_only_look() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let words = [
        "log",
        "--board",
        port.name(),
        "--samples",
        "slate,moss",
        "--heat",
        "1h",
        "--view",
        "plain",
    ];
    let mut log = Running::start(duskmark(folder.path(), &words));
    port.say(&hello());
    let kept = log.wait_for_run(folder.path());
    let mut page = Running::start(duskmark(folder.path(), &["page", "--port", "0"]));
    let here = address(&page.wait_for("The page on this computer: "));
    for (to, what) in [
        ("act", json!({"do": "end"})),
        ("predict", json!({"group": 1, "sample": 0})),
        ("afterwards", json!({"names": ["a", "b"]})),
    ] {
        let answer = send(&here, &kept, to, "", &what);
        assert!(matches!(answer.code, 409 | 422), "{to}: {answer:?}");
    }
    let journal = std::fs::read_to_string(kept.join("journal.dmj")).unwrap();
    assert!(!journal.contains(" end ") && !journal.contains(" predict "));
}

#[test]
fn what_is_put_right_afterwards_outlasts_a_rebuild_and_leaves_the_journal_alone() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--quiet", "--prediction", "Moss"]).done();
    let kept = only_run(folder.path());
    let words = ["report", "--lamp-distance", "30cm", kept.to_str().unwrap()];
    run(folder.path(), &words).done();
    let first = files(&kept);
    let mut page = Running::start(duskmark(folder.path(), &["page", "--port", "0"]));
    let here = address(&page.wait_for("The page on this computer: "));
    for bad in [
        json!({"names": ["slate"]}),
        json!({"names": ["slate", " "]}),
        json!({"names": ["slate", "SLATE"]}),
        json!({"note": " "}),
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
    let id = kept.file_name().unwrap().to_str().unwrap();
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
