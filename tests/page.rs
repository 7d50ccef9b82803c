//! The page for browsers, asked as a browser asks.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

#[path = "page/crowd.rs"]
mod crowd;
mod support;
#[path = "page/unplugged.rs"]
mod unplugged;

use std::net::TcpStream;
use std::path::Path;
use std::time::{Duration, Instant};

use support::bench::{Port, sample};
use support::csv::Table;
use support::http::{Events, get, post};
use support::program::{Running, duskmark, only_run, run, wait_until};
use support::watched::{id, log_two, page, there};

#[test]
fn a_finished_run_is_shown_with_the_digits_of_its_files() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--quiet", "--run-only"]).done();
    let run = only_run(folder.path());
    let (_page, address) = page(folder.path(), &[]);
    let wall = get(&address, "/", &[]);
    assert_eq!(wall.code, 200);
    assert!(
        wall.body.contains(&format!("/run/{}", id(&run))),
        "{}",
        wall.body
    );

    let shown = get(&address, &format!("/run/{}", id(&run)), &[]).body;
    let marks = Table::read(&run.join("marks.csv"));
    assert!(marks.rows.len() > 20);
    for row in &marks.rows {
        let cells = format!("<td>{}</td><td>{}</td>", row[2], row[4]);
        assert!(shown.contains(&cells), "{cells} is missing");
    }
    let readings = std::fs::read_to_string(run.join("readings.csv")).unwrap();
    let download = get(&address, &format!("/run/{}/readings.csv", id(&run)), &[]);
    assert!(download.body == readings, "the download is not the file");
    assert!(download.headers["content-disposition"].starts_with("attachment"));

    // The row under the pointer, and the picture with the lamp's band.
    let last = readings.lines().last().unwrap();
    let at: f64 = last.split(',').next().unwrap().parse().unwrap();
    let row = get(
        &address,
        &format!("/run/{}/row?at={}", id(&run), at + 5.0),
        &[],
    );
    let row: serde_json::Value = serde_json::from_str(&row.body).unwrap();
    assert_eq!(row["cells"][0], last.split(',').nth(2).unwrap());
    let picture = get(
        &address,
        &format!("/run/{}/picture.svg?w=800&h=400", id(&run)),
        &[],
    );
    assert!(picture.body.starts_with("<svg") && picture.body.contains("lamp on"));
    let near = format!("/run/{}/picture.svg?w=800&h=400&from=600&to=700", id(&run));
    let near = get(&address, &near, &[]);
    let plot: Vec<f64> = near.headers["x-plot"]
        .split(',')
        .map(|v| v.parse().unwrap())
        .collect();
    assert!(plot[2] >= 590.0 && plot[3] <= 710.0, "{plot:?}");
}

#[test]
fn a_run_is_followed_while_it_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let (log, run) = log_two(folder.path(), &mut port, &["--for", "1h"]);
    let (_page, address) = page(folder.path(), &[]);
    let path = format!("/run/{}/live", id(&run));
    let mut events = Events::open(&address, &path);
    assert_eq!(events.next("now")["state"], "running");
    let lines: Vec<String> = (0..20).map(|seq| sample(seq, "23.40,21.10")).collect();
    port.play(&lines);
    // Each message is a row of the file, digit for digit.
    let told = loop {
        let now = events.next("now");
        if now["rows"].as_u64().unwrap() >= 10 {
            break now;
        }
    };
    let text = std::fs::read_to_string(run.join("readings.csv")).unwrap();
    let row = usize::try_from(told["rows"].as_u64().unwrap()).unwrap();
    let line: Vec<&str> = text.lines().nth(row).unwrap().split(',').collect();
    assert_eq!(
        (&told["samples"][0]["degc"], &told["samples"][1]["degc"]),
        (&line[2].into(), &line[3].into())
    );
    // Who comes later, or again, has caught up with the first message.
    let later = Events::open(&address, &path).next("now");
    assert!(later["rows"].as_u64() >= told["rows"].as_u64());
    log.signal("INT");
    log.end().done();
    loop {
        let now = events.next("now");
        if now["state"] == "finished" {
            assert_eq!(now["cue"], "The run is finished.");
            break;
        }
    }
}

#[test]
fn only_this_computer_s_names_are_answered_and_nothing_else_is_served() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--quiet", "--run-only"]).done();
    std::fs::write(folder.path().join("secret"), "secret").unwrap();
    let (_page, address) = page(folder.path(), &[]);
    assert_eq!(get(&address, "/", &[("Host", "example.org")]).code, 421);
    for path in [
        "/run/..%2F..%2Fsecret",
        "/run/../secret/readings.csv",
        "/run/%2e%2e/readings.csv",
        "/nothing",
    ] {
        let answer = get(&address, path, &[]);
        assert!(
            answer.code == 404 && !answer.body.contains("secret\n"),
            "{path}: {answer:?}"
        );
    }
    let from = [("Origin", "http://example.org")];
    assert_eq!(post(&address, "/join", &from, "code=AAAAAA").code, 403);
    let wall = get(&address, "/", &[]);
    assert!(wall.headers["content-security-policy"].starts_with("default-src 'none'"));
    let long = "x".repeat(5000);
    let own = [("Origin", format!("http://{address}"))];
    let own: Vec<(&str, &str)> = own.iter().map(|(n, v)| (*n, v.as_str())).collect();
    assert_eq!(post(&address, "/join", &own, &long).code, 413);
}

#[test]
fn the_room_gives_a_code_first() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--quiet", "--run-only"]).done();
    let (mut page, here) = page(folder.path(), &["--share"]);
    let there = there(&mut page);
    let code = page
        .wait_for("the code to look:")
        .split_whitespace()
        .last()
        .unwrap()
        .to_owned();
    // At the computer itself no code is asked for, and the wall shows it.
    assert!(get(&here, "/", &[]).body.contains(&code));
    if there.starts_with("127.") {
        // Without a network nobody else is in the room; `door` has the rest in its own tests.
        return;
    }
    let html = [("Accept", "text/html")];
    let away = get(&there, "/", &html);
    assert_eq!(
        (away.code, away.headers["location"].as_str()),
        (303, "/join")
    );
    assert_eq!(get(&there, "/live", &[]).code, 401);
    let origin = format!("http://{there}");
    let own = [("Origin", origin.as_str())];
    assert_eq!(post(&there, "/join", &own, "code=WRONG2").code, 403);
    let joined = post(&there, "/join", &own, &format!("code={code}"));
    assert_eq!(joined.code, 303);
    let cookie = joined.headers["set-cookie"]
        .split(';')
        .next()
        .unwrap()
        .to_owned();
    let wall = get(&there, "/", &[("Cookie", &cookie), html[0]]);
    assert_eq!(wall.code, 200);
    assert!(
        !wall.body.contains(&code),
        "who may only look is not shown the code"
    );
}

#[test]
fn a_thousand_connections_that_say_nothing_disturb_no_logging() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "log",
        "--board",
        "virtual",
        "--for",
        "8s",
        "--view",
        "plain",
        "--samples",
        "slate,moss",
    ];
    let mut log = Running::start(duskmark(folder.path(), &words));
    let run = log.wait_for_run(folder.path());
    let (_page, address) = page(folder.path(), &[]);
    let silent: Vec<TcpStream> = (0..1000)
        .filter_map(|_| {
            TcpStream::connect_timeout(&address.parse().unwrap(), Duration::from_secs(2)).ok()
        })
        .collect();
    assert!(silent.len() > 300, "{}", silent.len());
    log.end().done();
    let table = Table::read(&run.join("readings.csv"));
    assert!(table.rows.len() > 20, "{}", table.rows.len());
    // They are sent away, and the page answers again.
    let begun = Instant::now();
    wait_until("an answer", || {
        let stream = TcpStream::connect(&address);
        drop(stream);
        get(&address, "/page.css", &[]).code == 200
    });
    assert!(begun.elapsed() < Duration::from_secs(60));
    drop(silent);
}

#[test]
fn what_cannot_be_served_is_said() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["page", "nowhere"])
        .failed_with(1, &["nowhere is no folder", "duskmark demo"]);
}
