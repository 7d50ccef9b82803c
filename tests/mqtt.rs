//! Runs to Debian's mosquitto, which the tests start with configurations of their own: what
//! arrives, what a broker that dies or refuses costs, and the way on with TLS.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::path::Path;
use std::time::{Duration, Instant};

use serde_json::Value;
use support::broker::{Broker, Got, Growing, Listener, free_port, rows_of};
use support::csv::Table;
use support::program::{Running, Said, duskmark, only_run, run};

/// Sends what is in `runs` now.
#[track_caller]
fn send(folder: &Path, broker: &str, words: &[&str]) -> Said {
    let all = [
        &["stream", "runs", "--once", "--json", "--mqtt", broker],
        words,
    ]
    .concat();
    run(folder, &all)
}

#[track_caller]
fn tally(said: &Said) -> Value {
    serde_json::from_str(&said.done().out).unwrap()
}

fn sender(folder: &Path, broker: &str) -> Running {
    Running::start(duskmark(folder, &["stream", "runs", "--mqtt", broker]))
}

fn with_topic<'a>(got: &'a [Got], topic: &str) -> Vec<&'a Got> {
    got.iter().filter(|got| got.topic == topic).collect()
}

#[test]
fn a_run_arrives_under_its_topics_once_and_is_remembered() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["-q", "demo", "--run-only"]).done();
    let run_folder = only_run(folder.path());
    let id = run_folder.file_name().unwrap().to_str().unwrap();
    let broker = Broker::open(&folder.path().join("broker"));
    let listener = Listener::start(&broker, "board");
    let said = send(folder.path(), &broker.address(), &["--site", "Hill school"]);
    let rows = Table::read(&run_folder.join("readings.csv")).rows.len() as u64;
    let first = tally(&said);
    assert_eq!(
        (first["rows"].as_u64(), &first["ends"]),
        (Some(rows), &Value::from(1))
    );
    let root = "duskmark/Hill-school";
    let bench = |last: &str| format!("{root}/demo/{last}");
    let got = listener.wait_for("the parting", |got| {
        got.iter().any(|got| got.body["state"] == "ended")
    });
    let (seqs, again) = rows_of(&got, id);
    assert_eq!((seqs.len() as u64, again), (rows, 0));
    assert!(seqs.is_sorted());
    let events = Table::read(&run_folder.join("events.csv")).rows.len();
    assert_eq!(with_topic(&got, &bench("event")).len(), events);
    assert_eq!(
        with_topic(&got, &bench("end"))[0].body["summary"]["rows"].as_u64(),
        Some(rows)
    );
    let states = with_topic(&got, &bench("state"));
    let states: Vec<&str> = states
        .iter()
        .map(|s| s.body["state"].as_str().unwrap())
        .collect();
    assert_eq!(states, ["running", "finished"]);
    // Who comes later finds how things stand.
    let late = Listener::start(&broker, "late");
    let found = late.wait_for("what is retained", |got| {
        got.iter().filter(|got| got.retained).count() >= 5
    });
    for last in ["run", "row", "end", "state"] {
        assert_eq!(with_topic(&found, &bench(last)).len(), 1, "{last}");
    }
    assert!(with_topic(&found, &bench("event")).is_empty());
    let row = with_topic(&found, &bench("row"))[0];
    assert_eq!(row.body["seq"].as_u64(), seqs.last().copied());
    assert!(
        found
            .iter()
            .any(|got| got.topic.starts_with(&format!("{root}/_link/")))
    );
    // What is acknowledged is not sent again; where that is forgotten, all is.
    let words = ["--site", "Hill school"];
    assert_eq!(
        tally(&send(folder.path(), &broker.address(), &words))["rows"],
        0
    );
    let cursor = format!("sent-127-0-0-1-{}.json", broker.port);
    std::fs::remove_file(run_folder.join(cursor)).unwrap();
    let anew = tally(&send(folder.path(), &broker.address(), &words));
    assert_eq!(anew["rows"].as_u64(), Some(rows));
}

#[test]
fn a_broker_and_a_sender_that_are_killed_cost_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    let mut growing = Growing::begin(&runs, "2026-03-14T103205-bench");
    let mut broker = Broker::open(&folder.path().join("broker"));
    let listener = Listener::start(&broker, "board");
    broker.save();
    let address = broker.address();
    let arrived = |least: usize| {
        listener.wait_for("rows", |got| {
            rows_of(got, "2026-03-14T103205-bench").0.len() >= least
        })
    };
    let mut sending = sender(folder.path(), &address);
    growing.rows(3000);
    arrived(500);
    broker.kill();
    sending.wait_for("tried again in");
    // Logged while the broker is away.
    growing.rows(3000);
    broker.start();
    arrived(4000);
    // The sender dies too, without a word: its last will tells so.
    sending.signal("KILL");
    drop(sending);
    listener.wait_for("the last will", |got| {
        got.iter().any(|got| got.body["state"] == "lost")
    });
    growing.rows(1000);
    let sending = sender(folder.path(), &address);
    growing.rows(1000);
    arrived(8000);
    sending.signal("INT");
    let said = sending.end();
    assert_eq!(said.code, 0, "{said:?}");
    let (seqs, again) = rows_of(&listener.got(), "2026-03-14T103205-bench");
    let expected: Vec<u64> = (1..=8000).map(|row| row * 100).collect();
    assert_eq!(
        seqs, expected,
        "each once, in order, but for those that came again: {again}"
    );
}

/// Prints what a broker that was killed cost.
#[test]
fn sixty_four_benches_at_ten_hertz_lose_nothing() {
    const BENCHES: usize = 64;
    const SECONDS: u64 = 12;
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    let name = |bench: usize| format!("2026-03-14T103205-bench-{bench:02}");
    let mut benches: Vec<Growing> = (0..BENCHES)
        .map(|bench| Growing::begin(&runs, &name(bench)))
        .collect();
    let mut broker = Broker::open(&folder.path().join("broker"));
    let listener = Listener::start(&broker, "board");
    broker.save();
    let mut sending = Running::start(duskmark(
        folder.path(),
        &["stream", "runs", "--json", "--mqtt", &broker.address()],
    ));
    sending.wait_for("Connected");
    let began = Instant::now();
    let mut written = 0;
    let mut away = None;
    while written < SECONDS * 10 {
        // As many rows as the time that passed asks for: 10 Hz on a busy machine too.
        let due = (began.elapsed().as_millis() as u64 / 100).min(SECONDS * 10);
        let more = u32::try_from(due - written).unwrap();
        for bench in &mut benches {
            bench.rows(more);
        }
        written = due;
        if written >= 40 && away.is_none() {
            broker.kill();
            away = Some(Instant::now());
        }
        if away.is_some_and(|since| since.elapsed() > Duration::from_secs(3)) && written < 110 {
            broker.start();
            away = Some(Instant::now() + Duration::from_secs(3600));
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    let all = BENCHES * (SECONDS as usize) * 10;
    let count = |got: &[Got]| -> usize {
        got.iter()
            .filter(|got| !got.retained && got.body["type"] == "row")
            .count()
    };
    listener.wait_for("all rows", |got| count(got) >= all);
    sending.signal("INT");
    let said = sending.end();
    let tally = tally(&said);
    let got = listener.got();
    let mut again = 0;
    for bench in 0..BENCHES {
        let (seqs, twice) = rows_of(&got, &name(bench));
        let expected: Vec<u64> = (1..=SECONDS * 10).map(|row| row * 100).collect();
        assert_eq!(seqs, expected, "bench {bench}");
        again += twice;
    }
    assert_eq!(tally["rows"].as_u64(), Some(all as u64), "{tally}");
    println!(
        "64 benches at 10 Hz for {SECONDS} s, the broker killed for 3 s: {all} rows written, \
         {all} arrived, 0 lost, {again} came twice; the sender's own tally: {tally}"
    );
}

#[test]
fn what_a_broker_refuses_is_told_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    run(at, &["-q", "demo", "--run-only"]).done();
    let file = |name: &str, text: &str| {
        let path = at.join(name);
        std::fs::write(&path, text).unwrap();
        let mode = std::os::unix::fs::PermissionsExt::from_mode(0o600);
        std::fs::set_permissions(&path, mode).unwrap();
        path.display().to_string()
    };
    let passwords = file("passwords", "");
    for (user, word) in [("bench", "right"), ("guest", "right")] {
        let status = std::process::Command::new("mosquitto_passwd")
            .args(["-b", &passwords, user, word])
            .status();
        assert!(status.unwrap().success());
    }
    let acl = file(
        "acl",
        "user bench\ntopic readwrite #\nuser guest\ntopic readwrite other/#\n",
    );
    let lines = format!("allow_anonymous false\npassword_file {passwords}\nacl_file {acl}\n");
    let broker = Broker::with(&at.join("broker"), &lines);
    let address = broker.address();
    let (wrong, right) = (file("wrong", "left\n"), file("right", "right\n"));
    let refused = ["refuses the user or the password", "--password-file"];
    send(at, &address, &[]).failed_with(1, &refused);
    let words = ["--user", "bench", "--password-file", &wrong];
    send(at, &address, &words).failed_with(1, &refused);
    let words = ["--user", "guest", "--password-file", &right];
    send(at, &address, &words).failed_with(
        1,
        &["does not allow writing to duskmark/site/", "duskmark/#"],
    );
    send(
        at,
        &address,
        &["--user", "bench", "--password-file", "none"],
    )
    .failed_with(1, &["none cannot be read"]);
    // Nothing of all that counts as sent.
    let words = ["--user", "bench", "--password-file", &right];
    let rows = Table::read(&only_run(at).join("readings.csv")).rows.len() as u64;
    assert_eq!(
        tally(&send(at, &address, &words))["rows"].as_u64(),
        Some(rows)
    );
    // A password is no word of the command line.
    run(at, &["stream", "--mqtt", &address, "--password", "x"]).failed_with(2, &["--password"]);
    let nobody = format!("127.0.0.1:{}", free_port());
    send(at, &nobody, &[]).failed_with(1, &["cannot be reached", "refused", "Nothing is lost"]);
    send(at, "192.0.2.1", &[]).failed_with(2, &["another computer", "not encrypted", "--plain"]);
    send(at, "mqtt://a", &[]).failed_with(2, &["no broker", "127.0.0.1:1883"]);
}

#[test]
fn results_that_are_too_large_are_left_out_and_a_broker_too_small_for_rows_is_told() {
    for limit in ["max_packet_size 1500", "message_size_limit 1500"] {
        let folder = tempfile::tempdir().unwrap();
        run(folder.path(), &["-q", "demo", "--run-only"]).done();
        let lines = format!("allow_anonymous true\n{limit}\n");
        let broker = Broker::with(&folder.path().join("broker"), &lines);
        let listener = Listener::start(&broker, "board");
        let said = send(folder.path(), &broker.address(), &[]);
        let tally = tally(&said);
        assert_eq!(tally["too_large"], 1, "{limit}: {said:?}");
        assert!(said.err.contains("larger than 127.0.0.1"), "{}", said.err);
        let got = listener.wait_for("the end", |got| got.iter().any(|g| g.body["type"] == "end"));
        let end = got.iter().find(|got| got.body["type"] == "end").unwrap();
        assert_eq!(
            (&end.body["summary"], &end.body["state"]),
            (&Value::Null, &Value::from("finished"))
        );
        let run_folder = only_run(folder.path());
        let id = run_folder.file_name().unwrap().to_str().unwrap();
        let (seqs, _) = rows_of(&listener.got(), id);
        let rows = Table::read(&run_folder.join("readings.csv"));
        assert_eq!(seqs.len(), rows.rows.len(), "{limit}");
    }
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    Growing::begin(&runs, "bench").rows(5);
    let broker = Broker::with(
        &folder.path().join("broker"),
        "allow_anonymous true\nmax_packet_size 200\n",
    );
    send(folder.path(), &broker.address(), &[]).failed_with(1, &["takes no message of", "limit"]);
}

#[test]
fn two_senders_of_one_folder_are_told_of_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    Growing::begin(&runs, "bench").rows(5);
    let broker = Broker::open(&folder.path().join("broker"));
    let mut first = sender(folder.path(), &broker.address());
    first.wait_for("Connected");
    let said = run(
        folder.path(),
        &["stream", "runs", "--mqtt", &broker.address()],
    );
    said.failed_with(
        1,
        &["another program sends these runs", "End one of the two"],
    );
    // To another broker they may go at the same time.
    let other = Broker::open(&folder.path().join("other"));
    assert_eq!(
        tally(&send(folder.path(), &other.address(), &[]))["rows"],
        5
    );
    first.signal("INT");
    assert_eq!(first.end().code, 0);
}

#[test]
fn a_run_that_ends_is_sent_to_its_end_and_the_program_ends_too() {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    let mut growing = Growing::begin(&runs, "bench");
    let broker = Broker::open(&folder.path().join("broker"));
    let words = [
        "stream",
        "runs/bench",
        "--mqtt",
        &broker.address(),
        "--json",
    ];
    let mut sending = Running::start(duskmark(folder.path(), &words));
    growing.rows(20);
    sending.wait_for("Connected");
    growing.rows(5);
    growing.end("{\"rows\": 25}");
    let tally = tally(&sending.end());
    assert_eq!(
        (&tally["rows"], &tally["ends"]),
        (&Value::from(25), &Value::from(1))
    );
}
