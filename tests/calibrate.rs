//! Calibrations with the built program: probes in baths, on virtual boards that run as fast as they can.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;

use serde_json::Value;
use support::bath::calibrated;
use support::program::{Said, run};

/// Calibrates on a virtual board, all being in place.
fn calibrate(folder: &Path, what: &str, board: &str, words: &[&str]) -> Said {
    let said = calibrated(
        folder,
        what,
        &format!("virtual:speed=inf,id=K7F2,{board}"),
        words,
    );
    let is_wide = |line: &&str| line.chars().count() > 80;
    let wide = said.out.lines().find(is_wide);
    assert!(words.contains(&"--json") || wide.is_none(), "{wide:?}");
    said
}

fn json(said: &Said) -> Value {
    serde_json::from_str(&said.done().out).unwrap()
}

fn near(value: &Value, want: f64, tolerance: f64) {
    let got = value.as_f64().unwrap_or(f64::NAN);
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

fn kept(folder: &Path) -> String {
    std::fs::read_to_string(folder.join("c.toml")).unwrap_or_default()
}

#[test]
fn a_match_finds_the_difference_and_says_whether_it_matters() {
    let folder = tempfile::tempdir().unwrap();
    let board = "bath=22,offsets=0.2/-0.1";
    let found = json(&calibrate(folder.path(), "match", board, &["--json"]));
    near(&found["difference_degc"], 0.3, 0.01);
    assert!(found["u_degc"].as_f64().unwrap() < 0.01, "{found}");
    assert_eq!(found["verdict"], "matters");
    assert_eq!(found["calibrations"][1]["channel"], 2);
    near(
        &found["calibrations"][0]["found"]["difference_degc"],
        0.15,
        0.01,
    );
    // Two hundredths of a rise of 20 °C are 0.4 °C.
    let small = calibrate(folder.path(), "match", board, &["--rise", "20"]);
    let text = small.done().out.replace("\n  ", " ");
    assert!(text.contains("less than matters"), "{text}");
    assert!(small.out.contains("Kept in c.toml"));
    // Two hundredths of a degree are nothing to readings in tenths.
    let coarse = "bath=22,offsets=0/0.02,unit=degc,digits=1";
    let alike = calibrate(folder.path(), "match", coarse, &["--no-store"]);
    let text = alike.done().out.replace("\n  ", " ");
    assert!(text.contains("They agree"), "{text}");
    let text = kept(folder.path());
    assert_eq!(text.matches("[[calibration]]").count(), 4);
    assert!(text.contains("board = \"K7F2\"") && text.contains("kind = \"match\""));
}

#[test]
fn fixed_points_are_those_of_this_place() {
    let folder = tempfile::tempdir().unwrap();
    let ice = calibrate(folder.path(), "ice", "bath=0,offsets=0.4/0.1", &["--json"]);
    let found = json(&ice);
    near(
        &found["calibrations"][0]["found"]["correction_degc"],
        -0.4,
        0.01,
    );
    // What the reading adds to the bath's own 0.1 °C is little.
    near(&found["calibrations"][0]["found"]["u_degc"], 0.1, 0.002);
    // IAPWS-IF97: 96.6870 °C at 900 hPa, 0.03051 °C per hPa.
    let board = "bath=96.687,offsets=-0.5/0";
    let words = ["--json", "--pressure", "90kPa", "--channel", "1"];
    let found = json(&calibrate(folder.path(), "boil", board, &words));
    near(&found["reference_degc"], 96.687, 1e-4);
    near(&found["u_reference_degc"], 0.030_51_f64.hypot(0.15), 1e-4);
    near(
        &found["calibrations"][0]["found"]["correction_degc"],
        0.5,
        0.02,
    );
    assert_eq!(found["calibrations"].as_array().unwrap().len(), 1);
    // Standard atmosphere: 898.7628 hPa at 1000 m, where water boils at 96.649 °C.
    let words = ["--json", "--altitude", "1000", "--no-store"];
    let found = json(&calibrate(
        folder.path(),
        "boil",
        "bath=96.65,offsets=0/0",
        &words,
    ));
    near(&found["reference_degc"], 96.649, 1e-3);
    near(
        &found["calibrations"][0]["conditions"]["pressure_hpa"],
        898.7628,
        1e-3,
    );
    assert!(found["store"].is_null());
    let shown = run(folder.path(), &["calibrate", "show", "--store", "c.toml"]);
    assert!(shown.done().out.contains("boiling point") && shown.out.contains("today"));
    assert!(
        shown.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        shown.out
    );
}

#[test]
fn absurd_pressures_and_altitudes_are_refused_before_a_board_is_looked_for() {
    let folder = tempfile::tempdir().unwrap();
    let boil = |words: &[&str]| calibrate(folder.path(), "boil", "bath=99", words);
    boil(&["--pressure", "101325"]).failed_with(2, &["101325 hPa", "500 and 1100", "101325Pa"]);
    boil(&["--pressure", "101.3"]).failed_with(2, &["looks like kPa"]);
    boil(&["--pressure", "1.013"]).failed_with(2, &["looks like bar"]);
    boil(&["--pressure", "0"]).failed_with(2, &["no place where people live"]);
    boil(&["--pressure", "30inHg"]).failed_with(2, &["is no pressure"]);
    boil(&["--altitude", "8849"]).failed_with(2, &["no school lies at 8849 m"]);
    boil(&[]).failed_with(2, &["--pressure", "--altitude"]);
    assert_eq!(kept(folder.path()), "");
}

#[test]
fn a_bath_that_never_settles_and_a_board_that_is_pulled_leave_what_was_kept() {
    let folder = tempfile::tempdir().unwrap();
    calibrate(folder.path(), "match", "bath=22", &[]).done();
    let before = kept(folder.path());
    let drifts = "bath=22,bath-drift=0.5";
    calibrate(folder.path(), "match", drifts, &["--patience", "4m"]).failed_with(
        1,
        &[
            "did not settle within 4:00",
            "drifts by +0.5",
            "Nothing was kept",
        ],
    );
    // Without an end to be seen it gives up by itself, long before an hour.
    calibrate(
        folder.path(),
        "ice",
        "bath=3,bath-drift=-0.2",
        &["--patience", "1h"],
    )
    .failed_with(1, &["did not settle within 20:0"]);
    let pulled = calibrate(folder.path(), "match", "bath=22,unplug=100s", &[]);
    pulled.failed_with(3, &["lost in the middle", "what was kept before stands"]);
    // Put back after five seconds: what came before is not the same bath for sure.
    calibrate(folder.path(), "match", "bath=22,unplug=100s+5s", &[])
        .failed_with(3, &["lost in the middle"]);
    assert_eq!(kept(folder.path()), before);
}

#[test]
fn probes_elsewhere_and_swapped_probes_are_noticed() {
    let folder = tempfile::tempdir().unwrap();
    // One probe is held in a hand all the while.
    calibrate(
        folder.path(),
        "match",
        "bath=22,held=2@1s+600s",
        &["--time", "10s", "--settle", "50/min"],
    )
    .failed_with(1, &["not in one bath", "probe 2 33.", "--channel"]);
    let in_ice = |words: &[&str]| calibrate(folder.path(), "ice", "bath=0.2,held=1@1s+600s", words);
    in_ice(&["--channel", "1", "--time", "5s", "--settle", "off"]).failed_with(
        1,
        &[
            "probe 1 reads",
            "where it should read 0.0 °C",
            "probe 2 is in it instead",
        ],
    );
    let identify = ["--identify", "--samples", "slate,moss"];
    let right = calibrate(folder.path(), "match", "bath=22,held=1@180s", &identify);
    assert!(
        right.done().err.contains("as it should be"),
        "{}",
        right.err
    );
    let before = kept(folder.path());
    let swapped = calibrate(folder.path(), "match", "bath=22,held=2@180s", &identify);
    swapped.failed_with(
        1,
        &[
            "the probes are swapped",
            "slate (probe 1)",
            "moss (probe 2) became warm",
        ],
    );
    calibrate(folder.path(), "match", "bath=22", &["--identify"])
        .failed_with(1, &["no probe became warmer"]);
    assert_eq!(kept(folder.path()), before);
}

#[test]
fn a_dip_gives_the_lag_with_its_interval() {
    let folder = tempfile::tempdir().unwrap();
    let dip = "bath=46,dip=31s,lags=6s/4s";
    let found = json(&calibrate(folder.path(), "lag", dip, &["--json"]));
    for (channel, tau_s) in [(0, 6.0), (1, 4.0)] {
        let interval = &found["intervals"][channel];
        near(
            &found["calibrations"][channel]["found"]["tau_s"],
            tau_s,
            0.05,
        );
        let ends = ["low_s", "high_s"].map(|end| interval[end].as_f64().unwrap());
        assert!(
            ends[0] < tau_s + 0.02 && tau_s - 0.02 < ends[1],
            "{interval}"
        );
        near(&interval["step_degc"], 23.0, 0.5);
    }
    calibrate(
        folder.path(),
        "lag",
        "bath=46,dip=300s",
        &["--patience", "2m"],
    )
    .failed_with(1, &["no probe was dipped within 2:00"]);
    calibrate(folder.path(), "lag", "bath=46,dip=31s,lags=0.1s/0.1s", &[])
        .failed_with(1, &["too far apart for this probe's lag"]);
    // Water at the temperature of the room shows nothing.
    calibrate(
        folder.path(),
        "lag",
        "bath=24,dip=31s",
        &["--patience", "2m"],
    )
    .failed_with(1, &["no probe was dipped"]);
    assert_eq!(kept(folder.path()).matches("kind = \"lag\"").count(), 2);
}

#[test]
fn two_at_once_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    std::thread::scope(|scope| {
        for channel in ["1", "2"] {
            for _ in 0..2 {
                let folder = folder.path();
                scope.spawn(move || {
                    calibrate(folder, "ice", "bath=0", &["--channel", channel]).done();
                });
            }
        }
    });
    let text = kept(folder.path());
    assert_eq!(text.matches("channel = 1").count(), 2);
    assert_eq!(text.matches("channel = 2").count(), 2);
}

#[test]
fn without_a_terminal_nobody_is_asked() {
    let folder = tempfile::tempdir().unwrap();
    let words = ["calibrate", "match", "--board", "virtual:bath=22"];
    run(folder.path(), &words).failed_with(2, &["there is none", "--ready"]);
}
