//! What people do on the page of a run that is logged beside it, and on one that is over.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

#[path = "page_acts/afterwards.rs"]
mod afterwards;
#[path = "page_acts/groups.rs"]
mod groups;
mod support;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use support::bench::{Port, sample};
use support::http::{Answer, Events, get, post};
use support::program::{Running, only_run, run, wait_until};
use support::watched::{here, id, log_two, page, there};

/// Does something on the page of `run`, as the page's own script does.
fn send(address: &str, run: &Path, to: &str, cookie: &str, what: &Value) -> Answer {
    let id = id(run);
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
        Self::with_plan("--heat 1h --settle off --prediction 2=slate")
    }

    fn with_plan(plan: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut port = Port::open();
        let words: Vec<&str> = plan.split(' ').collect();
        let words = [&words, &["--share", "--page-port", "0"][..]].concat();
        let (mut log, run) = log_two(folder.path(), &mut port, &words);
        let (here, there) = (here(&mut log), there(&mut log));
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
        let path = format!("/run/{}", id(&logged.run));
        wait_until("the run's page", || {
            get(&logged.here, &path, &[]).code == 200
        });
        // The cue has come, the lamp has not.
        logged.wait_until(|told| told["cue"] == "Switch the lamp ON now." && told["here"] == true);
        logged
    }

    /// Follows the run's messages until one is as it should be.
    fn wait_until(&self, is_it: impl Fn(&Value) -> bool) -> Value {
        let mut events = Events::open(&self.here, &format!("/run/{}/live", id(&self.run)));
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
        // What was taken is written by a thread of its own, a moment later.
        wait_until(&format!("{records:?}"), || {
            let journal = self.journal();
            records.iter().all(|record| journal.contains(record))
        });
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
        (json!({"do": "lamp-on"}), "Kept: the lamp was switched on."),
        (
            json!({"do": "lamp-off"}),
            "Kept: the lamp was switched off.",
        ),
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
fn a_plan_without_times_goes_on_from_the_page() {
    let mut logged = Logged::with_plan("--heat key --cool key --settle off");
    let go_on = json!({"do": "go-on"});
    let kept = (200, "Kept.".to_owned());
    let next = |told: &Value| told["next_step"].as_str().unwrap().to_owned();
    // The lamp is asked for: that is no step to go on from, but one to be done.
    assert_eq!(next(&logged.wait_until(|_| true)), "");
    logged.send("act", &json!({"do": "lamp-on"}));
    let told = logged.wait_until(|told| told["cue"] == "The lamp is on.");
    assert_eq!(next(&told), "lamp OFF");
    assert_eq!(logged.send("act", &go_on), kept);
    logged.wait_until(|told| told["cue"] == "Switch the lamp OFF now.");
    logged.send("act", &json!({"do": "lamp-off"}));
    let told = logged.wait_until(|told| next(told) == "end");
    assert_eq!(
        told["lamp"], "",
        "after the last cooling no lamp is switched"
    );
    assert_eq!(logged.send("act", &go_on), kept);
    logged.wait_until(|told| told["state"] == "finished");
    logged.end();
    logged.has_in_order(&[" hand lamp-on\n", " hand go-on\n", " hand lamp-off\n"]);
    assert_eq!(logged.journal().matches(" hand go-on\n").count(), 2);
    // Where a step has its time there is nothing to go on to, and that is said.
    let timed = Logged::start();
    timed.send("act", &json!({"do": "lamp-on"}));
    let told = timed.wait_until(|told| told["lamp"] == "OFF");
    assert_eq!(next(&told), "");
    let words = "Nothing to go on to: this step has its time.";
    assert_eq!(timed.send("act", &go_on), (409, words.into()));
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
        let (given, words) = logged.send("predict", &what);
        assert_eq!(given, code, "{what}");
        // The plan had the word of group 2.
        let replaced = words.contains("takes the place");
        assert_eq!(replaced, group == 2, "{what}: {words}");
    }
    // Two groups of one number learn of each other, and not what the other said.
    let (_, words) = logged.send("predict", &json!({"group": 3, "sample": 1}));
    assert!(words.contains("another one has your number"), "{words}");
    assert!(!words.contains("moss"), "{words}");
    let nothing = logged.send("predict", &json!({"group": 4, "sample": 7}));
    assert_eq!(nothing, (409, "There is no such sample here.".into()));
    // Nobody sees yet what the others said.
    let told = logged.wait_until(|told| told["poll"]["text"] == "3 groups have predicted.");
    assert_eq!(told["poll"]["open"], true);
    logged.send("act", &json!({"do": "lamp-on"}));
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
    let path = format!("/run/{}/act", id(&logged.run));
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
    let (_log, kept) = log_two(folder.path(), &mut port, &["--heat", "1h"]);
    let (_page, here) = page(folder.path(), &[]);
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
