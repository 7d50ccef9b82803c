//! Constants from reference points, with the built program.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;

use serde_json::Value;
use support::program::{Said, run};

/// Fits points of the first probe of a board that is named.
fn fit(folder: &Path, law: &str, points: &[&str], words: &[&str]) -> Said {
    let mut all = vec!["calibrate", "fit", "--law", law, "--channel", "1"];
    all.extend(["--as", "tray a", "--store", "c.toml"]);
    for point in points {
        all.extend(["--point", *point]);
    }
    run(folder, &[&all[..], words].concat())
}

/// SEMITEC AT catalogue, 103AT-2, and EPCOS B57330V2103: °C and ohms.
const TABLE: [&str; 6] = [
    "0=27326", "10=17973", "25=10000", "40=5825", "60=3019", "85=1451",
];

#[test]
fn a_published_table_gives_its_constants_with_residuals_and_a_plot() {
    let folder = tempfile::tempdir().unwrap();
    let plot = ["--json", "--plot", "residuals.svg", "--reference-u", "0.05"];
    let said = fit(folder.path(), "steinhart-hart", &TABLE, &plot);
    let found: Value = serde_json::from_str(&said.done().out).unwrap();
    let of = &found["channels"][0];
    // The three constants through 0, 25 and 85 °C by solving the equations: within their uncertainty.
    for (name, want) in [
        ("a", 8.745_225_477e-4),
        ("b", 2.537_486_882e-4),
        ("c", 1.822_335_578e-7),
    ] {
        let (value, u) = (
            of["values"][name].as_f64().unwrap(),
            of["u"][name].as_f64().unwrap(),
        );
        assert!(
            (value - want).abs() < u && u < 0.2 * want,
            "{name}: {value} ± {u}"
        );
    }
    assert!(of["residual_sd_degc"].as_f64().unwrap() < 0.02);
    assert_eq!(of["points"].as_array().unwrap().len(), 6);
    assert_eq!(found["board"], "tray a");
    let svg = std::fs::read_to_string(folder.path().join("residuals.svg")).unwrap();
    assert!(svg.contains("Reference temperature / °C") && svg.contains("Residual / °C"));
    // B25/85 of this part is 3435 K by its catalogue.
    let said = fit(folder.path(), "beta", &["25=10000", "85=1451"], &["--json"]);
    let found: Value = serde_json::from_str(&said.done().out).unwrap();
    let beta = found["channels"][0]["values"]["beta_k"].as_f64().unwrap();
    assert!((beta - 3435.43).abs() < 0.01, "{beta}");
    let shown = fit(folder.path(), "beta", &TABLE, &["--no-store"]);
    assert!(
        shown
            .done()
            .out
            .contains("standard deviation of the residuals"),
        "{}",
        shown.out
    );
    assert!(
        shown.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        shown.out
    );
}

#[test]
fn points_that_no_probe_gives_are_refused_and_nothing_changes() {
    let folder = tempfile::tempdir().unwrap();
    fit(folder.path(), "beta", &TABLE, &[]).done();
    let before = std::fs::read(folder.path().join("c.toml")).unwrap();
    let refused = |law: &str, points: &[&str], parts: &[&str]| {
        fit(folder.path(), law, points, &[]).failed_with(1, parts);
    };
    refused(
        "steinhart-hart",
        &["0=27326", "25=10000"],
        &[
            "3 constants need at least 3 points",
            "here are 2",
            "--law beta",
        ],
    );
    refused(
        "beta",
        &["0=10000", "25=27326"],
        &["point 2 is warmer than point 1"],
    );
    refused(
        "beta",
        &["0=27326", "25=10000", "0=27326"],
        &["points 1 and 3 are the same"],
    );
    refused("beta", &["0=27326", "25=-5"], &["point 2: -5 Ω"]);
    refused("line", &["0=0.3", "40=0.1"], &["its reading is not higher"]);
    refused(
        "steinhart-hart",
        &["0=27000", "25=10000", "50=9900"],
        &["constants that no thermistor has"],
    );
    assert_eq!(std::fs::read(folder.path().join("c.toml")).unwrap(), before);
    let words = [
        "calibrate",
        "fit",
        "--point",
        "0=27326",
        "--point",
        "25=10000",
        "--as",
        "a",
    ];
    run(folder.path(), &words).failed_with(2, &["nobody says which", "--channel 1"]);
    fit(folder.path(), "beta", &["25"], &[]).failed_with(2, &["is no point"]);
}

#[test]
fn a_file_of_points_is_read_and_its_errors_have_a_line() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("points.csv");
    let words = ["--readings", "points.csv", "--json"];
    // JCGM 100:2008, H.3, table H.6: readings with their corrections, and the published line.
    let gum = include_str!("data/gum-h3.csv");
    let mut text = String::from("reference_degc,reading_degc\n");
    for line in gum.lines().skip(2) {
        let cells: Vec<f64> = line
            .split(',')
            .map(|cell| cell.trim().parse().unwrap())
            .collect();
        text.push_str(&format!("{:.3},{}\n", cells[1] + cells[0], cells[1]));
    }
    assert_eq!(text.lines().count(), 12);
    std::fs::write(&csv, text).unwrap();
    let words_u = [&words[..], &["--reference-u", "0.0001"]].concat();
    let found: Value =
        serde_json::from_str(&fit(folder.path(), "line", &[], &words_u).done().out).unwrap();
    let line = &found["calibrations"][0]["found"]["correction"];
    let slope = line["line"]["slope"].as_f64().unwrap();
    let u_slope = line["u_slope"].as_f64().unwrap();
    assert!(
        (slope - 0.002_18).abs() < 5e-6 && (u_slope - 0.000_67).abs() < 5e-6,
        "{line}"
    );
    let sd = found["channels"][0]["residual_sd_degc"].as_f64().unwrap();
    assert!((sd - 0.0035).abs() < 5e-5);
    std::fs::write(&csv, "reference_degc,ohm\n0,27326\nwarm,10000\n").unwrap();
    fit(folder.path(), "beta", &[], &words).failed_with(1, &["line 3", "'warm' is no number"]);
    std::fs::write(&csv, "t,ohm\n0,27326\n").unwrap();
    fit(folder.path(), "beta", &[], &words).failed_with(1, &["no column 'reference_degc'"]);
}

#[test]
fn calibrated_constants_make_the_temperatures_of_later_runs() {
    let folder = tempfile::tempdir().unwrap();
    let board = "virtual:speed=inf,id=K7F2,bath=30,offsets=0/0,unit=ohm";
    // The board's own thermistor is one of 10 kΩ and B 3950 K; this one is said to have B 3435 K, by
    // which the same resistance is another temperature.
    let points = ["--point", "25=10000", "--point", "85=1451"];
    let words = [
        "calibrate",
        "fit",
        "--channel",
        "1",
        "--store",
        "c.toml",
        "--board",
        board,
    ];
    run(folder.path(), &[&words[..], &points].concat()).done();
    let log = |more: &[&str]| {
        let words = [
            "log", "--board", board, "--for", "20s", "--view", "plain", "--json",
        ];
        let said = run(folder.path(), &[&words[..], more].concat());
        let summary: Value = serde_json::from_str(said.done().out.trim()).unwrap();
        (summary["samples"][0]["mean_degc"].as_f64(), said.err)
    };
    let (bare, _) = log(&["--calibration", "off"]);
    let (own, said) = log(&["--calibration", "c.toml"]);
    let (bare, own) = (bare.unwrap(), own.unwrap());
    assert!((bare - 30.0).abs() < 0.1, "{bare}");
    // ln(R) at 30 °C by B 3950, read by B of the fit: 1/T = 1/298.15 + 3950/B·(1/303.15 − 1/298.15).
    let beta = 3435.43;
    let t_k = 1.0 / (1.0 / 298.15 + 3950.0 / beta * (1.0 / 303.15 - 1.0 / 298.15));
    assert!((own - (t_k - 273.15)).abs() < 0.1, "{own} {}", t_k - 273.15);
    assert!(said.contains("Calibrated: slate by constants of"), "{said}");
    let (stated, said) = log(&["--calibration", "c.toml", "--thermistor", "10k,3950"]);
    assert!((stated.unwrap() - bare).abs() < 0.05);
    assert!(said.contains("--thermistor stands over them"), "{said}");
}
