//! The way on with TLS: the published configuration of a local broker, against a broker upstream with
//! certificates of a throw-away authority, good and expired.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::path::Path;
use std::process::{Command, Stdio};

use support::broker::{Broker, Growing, Listener, free_port, rows_of};
use support::program::{run, wait_until};

#[track_caller]
fn openssl(at: &Path, words: &str) {
    let status = Command::new("openssl")
        .args(words.split(' '))
        .current_dir(at)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    assert!(status.unwrap().success(), "openssl {words}");
}

/// An authority, and two certificates of it for this computer: one good, one that is out of date.
fn certificates(at: &Path) {
    openssl(
        at,
        "req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -days 2 -subj /CN=throw-away",
    );
    std::fs::write(at.join("name"), "subjectAltName=DNS:localhost\n").unwrap();
    // A validity in the past takes the authority's own book.
    std::fs::write(at.join("index"), "").unwrap();
    std::fs::write(
        at.join("ca.conf"),
        "[ca]\ndefault_ca=a\n[a]\ndatabase=index\nnew_certs_dir=.\nserial=serial\ndefault_md=sha256\n\
         policy=p\n[p]\ncommonName=supplied\n",
    )
    .unwrap();
    for (name, from, to) in [
        ("good", "20200101000000Z", "20991231000000Z"),
        ("old", "20200101000000Z", "20210101000000Z"),
    ] {
        std::fs::write(
            at.join("serial"),
            if name == "good" { "01\n" } else { "02\n" },
        )
        .unwrap();
        openssl(
            at,
            &format!(
                "req -newkey rsa:2048 -nodes -keyout {name}.key -out {name}.csr -subj /CN={name}"
            ),
        );
        openssl(
            at,
            &format!(
                "ca -batch -config ca.conf -cert ca.pem -keyfile ca.key -in {name}.csr -out {name}.pem -startdate {from} -enddate {to} -extfile name -notext"
            ),
        );
    }
}

/// The published configuration, with this test's places and names in it.
fn bridge(at: &Path, upstream: u16, port: u16) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("firmware-notes/broker/mosquitto.conf");
    let mut text = std::fs::read_to_string(path).unwrap();
    for (from, to) in [
        (
            "listener 1883 127.0.0.1",
            format!("listener {port} 127.0.0.1"),
        ),
        ("/var/lib/mosquitto/", format!("{}/", at.display())),
        ("broker.example.org:8883", format!("localhost:{upstream}")),
        (
            "/etc/ssl/certs/ca-certificates.crt",
            at.parent().unwrap().join("ca.pem").display().to_string(),
        ),
        ("restart_timeout 5 60", "restart_timeout 1 1".to_owned()),
    ] {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        text = text.replace(from, &to);
    }
    text
}

#[test]
fn a_local_broker_passes_runs_on_with_tls_and_refuses_an_expired_certificate() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    certificates(at);
    let passwords = at.join("passwords");
    std::fs::write(&passwords, "").unwrap();
    for (user, word) in [("hill-school", "change-me"), ("district", "d")] {
        let path = passwords.to_str().unwrap();
        let status = Command::new("mosquitto_passwd")
            .args(["-b", path, user, word])
            .status();
        assert!(status.unwrap().success());
    }
    let (tls, plain) = (free_port(), free_port());
    let upstream = |name: &str| {
        format!(
            "per_listener_settings false\nallow_anonymous false\npassword_file {}\n\
             listener {plain} 127.0.0.1\nlistener {tls} 127.0.0.1\ncafile {}\ncertfile {}\nkeyfile {}\n",
            passwords.display(),
            at.join("ca.pem").display(),
            at.join(format!("{name}.pem")).display(),
            at.join(format!("{name}.key")).display(),
        )
    };
    // Whoever listens upstream is known there before anything is sent.
    let far = Broker::of(&at.join("far"), plain, &upstream("good"));
    let listener = Listener::with(plain, "district", &["-u", "district", "-P", "d"]);
    far.save();
    drop(far);
    let far = Broker::of(&at.join("far"), plain, &upstream("old"));
    let port = free_port();
    std::fs::create_dir(at.join("near")).unwrap();
    let near = Broker::of(&at.join("near"), port, &bridge(&at.join("near"), tls, port));
    let runs = at.join("runs");
    let mut growing = Growing::begin(&runs, "bench");
    growing.rows(1500);
    growing.end("{\"rows\": 1500}");
    // The broker here takes all, more than its usual limit of messages that wait.
    run(at, &["stream", "runs/bench", "--mqtt", &near.address()]).done();
    wait_until("word of the certificate", || {
        near.log()
            .to_lowercase()
            .contains("certificate has expired")
            || far.log().to_lowercase().contains("certificate expired")
    });
    drop(far);
    assert!(rows_of(&listener.got(), "bench").0.is_empty());
    let _far = Broker::of(&at.join("far"), plain, &upstream("good"));
    listener.wait_for("all rows upstream", |got| {
        rows_of(got, "bench").0.len() == 1500
    });
}
