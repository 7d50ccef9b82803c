//! What people do on the page of a run that is logged beside it, and on one that is over.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

#[path = "page_acts/afterwards.rs"]
mod afterwards;
mod support;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

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

/// A run that waits for its lamp, logged with its page for the room.
struct Logged {
    folder: tempfile::TempDir,
    log: Running,
    run: PathBuf,
    here: String,
    there: String,
    _port: Port,
}

impl Logged {
    fn start() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut port = Port::open();
        let plan = "--samples slate,moss --heat 1h --settle off --prediction 2=slate";
        let page = "--view plain --share --page-port 0";
        let mut words = vec!["log", "--board", port.name()];
        words.extend(plan.split(' ').chain(page.split(' ')));
        let mut log = Running::start(duskmark(folder.path(), &words));
        let here = address(&log.wait_for("The page on this computer: "));
        let there = address(&log.wait_for("In this room:"));
        port.say(&hello());
        let run = log.wait_for_run(folder.path());
        let lines: Vec<String> = (0..5).map(|seq| sample(seq, "23.40,21.10")).collect();
        port.play(&lines);
        let logged = Self {
            folder,
            log,
            run,
            here,
            there,
            _port: port,
        };
        // The page looks for new runs once a second.
        let id = logged.run.file_name().unwrap().to_str().unwrap();
        let path = format!("/run/{id}");
        wait_until("the run's page", || {
            get(&logged.here, &path, &[]).code == 200
        });
        // The cue has come, the lamp has not.
        logged.wait_until(|told| told["cue"] == "Switch the lamp ON now." && told["here"] == true);
        logged
    }

    /// Follows the run's messages until one is as it should be.
    fn wait_until(&self, is_it: impl Fn(&Value) -> bool) -> Value {
        let id = self.run.file_name().unwrap().to_str().unwrap();
        let mut events = Events::open(&self.here, &format!("/run/{id}/live"));
        loop {
            let told = events.next("now");
            if is_it(&told) {
                return told;
            }
        }
    }

    fn code(&mut self, words: &str) -> String {
        let line = self.log.wait_for(words);
        line.split_whitespace().last().unwrap().to_owned()
    }

    /// Does something at the computer itself.
    fn send(&self, to: &str, what: &Value) -> (u16, String) {
        let answer = send(&self.here, &self.run, to, "", what);
        (answer.code, answer.body)
    }

    fn journal(&self) -> String {
        std::fs::read_to_string(self.run.join("journal.dmj")).unwrap()
    }

    /// These records are in the journal, in this order.
    fn has_in_order(&self, records: &[&str]) {
        let journal = self.journal();
        let place = |record: &&str| {
            journal
                .find(record)
                .unwrap_or_else(|| panic!("no {record} in\n{journal}"))
        };
        let places: Vec<usize> = records.iter().map(place).collect();
        assert!(places.is_sorted(), "{places:?}");
    }

    /// Ends the run and the page; a rebuild changes nothing.
    fn end(&mut self) {
        self.log.signal("INT");
        self.log.wait_for_end();
        let before = files(&self.run);
        let rebuilt = run(self.folder.path(), &["rebuild", self.run.to_str().unwrap()]);
        assert!(files(&self.run) == before, "{rebuilt:?}");
    }
}

#[test]
fn the_teacher_s_acts_are_records_of_the_run() {
    let mut logged = Logged::start();
    for (what, words) in [
        (json!({"do": "note", "text": "a fly\n"}), "Kept."),
        (json!({"do": "mark"}), "Kept."),
        (json!({"do": "lamp"}), "Kept: the lamp was switched on."),
        (json!({"do": "lamp"}), "Kept: the lamp was switched off."),
    ] {
        assert_eq!(logged.send("act", &what), (200, words.into()));
    }
    assert_eq!(
        logged.send("act", &json!({"do": "note", "text": " "})).0,
        409
    );
    assert_eq!(logged.send("act", &json!({"do": "explode"})).0, 422);
    // The run is ended on the page, which stays.
    assert_eq!(logged.send("act", &json!({"do": "end"})).0, 200);
    logged.log.wait_for("The page stays at");
    assert_eq!(logged.send("act", &json!({"do": "mark"})).0, 409);
    logged.end();
    logged.has_in_order(&[
        " note a fly\n",
        " hand mark\n",
        " hand lamp-on\n",
        " hand lamp-off\n",
        " end ended on the page\n",
    ]);
}

#[test]
fn groups_predict_until_the_lamp_goes_on_as_if_they_had_with_the_plan() {
    let mut logged = Logged::start();
    for (group, sample, code) in [
        (3, 1, 200),
        (1, 0, 200),
        (2, 1, 200),
        (21, 0, 422),
        (4, 7, 409),
    ] {
        let what = json!({"group": group, "sample": sample});
        assert_eq!(logged.send("predict", &what).0, code, "{what}");
    }
    // Nobody sees yet what the others said.
    let told = logged.wait_until(|told| told["poll"]["text"] == "3 groups have predicted.");
    assert_eq!(told["poll"]["open"], true);
    logged.send("act", &json!({"do": "lamp"}));
    let late = logged.send("predict", &json!({"group": 5, "sample": 0}));
    assert_eq!(late, (409, "Predictions are closed.".into()));
    let all = "Predicted to warm most: slate (group 1), moss (groups 2, 3).";
    let told = logged.wait_until(|told| told["poll"]["open"] == false);
    assert_eq!(told["poll"]["text"], all);
    assert!(
        get(&logged.here, "/", &[]).body.contains(all),
        "the wall tells it too"
    );
    logged.end();
    logged.has_in_order(&[
        " predict 3=moss\n",
        " predict 1=slate\n",
        " predict 2=moss\n",
        " hand lamp-on\n",
    ]);
    assert!(!logged.journal().contains(" predict 5"));
    let settings = std::fs::read_to_string(logged.run.join("run.toml")).unwrap();
    let settings: toml::Table = settings.parse().unwrap();
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
}

#[test]
fn who_looks_may_predict_and_no_more_and_no_other_page_may_do_anything() {
    let mut logged = Logged::start();
    let id = logged.run.file_name().unwrap().to_str().unwrap();
    let path = format!("/run/{id}/act");
    let mark = r#"{"do":"mark"}"#;
    let other = [
        ("Origin", "http://example.org"),
        ("Content-Type", "application/json"),
    ];
    for headers in [&other[..], &other[1..]] {
        assert_eq!(post(&logged.here, &path, headers, mark).code, 403);
    }
    // A form of another page cannot be of this kind.
    let own = format!("http://{}", logged.here);
    let form = [("Origin", own.as_str()), ("Content-Type", "text/plain")];
    assert_eq!(post(&logged.here, &path, &form, mark).code, 415);
    let (look, act) = (
        logged.code("the code to look:"),
        logged.code("the teacher's, likewise:"),
    );
    let there = logged.there.clone();
    // Without a network nobody else is in the room; `door` has the rest in its own tests.
    if !there.starts_with("127.") {
        let pupil = join(&there, &look);
        for (to, what) in [
            ("act", json!({"do": "mark"})),
            ("act", json!({"do": "end"})),
            ("afterwards", json!({"names": ["a", "b"]})),
        ] {
            assert_eq!(send(&there, &logged.run, to, &pupil, &what).code, 403);
        }
        let what = json!({"group": 3, "sample": 1});
        assert_eq!(send(&there, &logged.run, "predict", "", &what).code, 401);
        assert_eq!(
            send(&there, &logged.run, "predict", &pupil, &what).code,
            200
        );
        let teacher = join(&there, &act);
        let what = json!({"do": "note", "text": "from a phone"});
        assert_eq!(send(&there, &logged.run, "act", &teacher, &what).code, 200);
        logged.has_in_order(&[" predict 3=moss\n", " note from a phone\n"]);
    }
    assert!(!logged.journal().contains(" hand mark\n"));
    logged.end();
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
