//! Runs of days: the table of days, beside the sun.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use support::csv::Table;
use support::program::{log_on, only_run, run};

#[test]
fn a_fortnight_has_a_line_for_each_day_and_a_rebuild_writes_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "-q",
        "demo",
        "--fortnight",
        "--began",
        "2026-03-14T17:00:00Z",
    ];
    run(folder.path(), &words).done();
    let run_folder = only_run(folder.path());
    let path = run_folder.join("days.csv");
    let before = std::fs::read_to_string(&path).unwrap();
    let days = Table::read(&path);
    assert_eq!(days.rows.len(), 15);
    assert_eq!(
        (days.rows[0][0].as_str(), days.rows[14][0].as_str()),
        ("2026-03-14", "2026-03-28")
    );
    // Every value of a day by the csv crate and by hand.
    let readings = Table::read(&run_folder.join("readings.csv"));
    let (times, moss) = (readings.column("time_utc"), readings.numbers("moss_degc"));
    for day in &days.rows[1..14] {
        assert!(
            (day[1].parse::<f64>().unwrap() - 24.0).abs() < 0.1,
            "{day:?}"
        );
        let of_day = || {
            times
                .iter()
                .zip(&moss)
                .filter(|(t, _)| t.starts_with(&day[0]))
        };
        let column = |name: &str| {
            let place = days.head.iter().position(|h| h == name).unwrap();
            day[place].as_str()
        };
        let highest = of_day().map(|(_, v)| *v).fold(f64::NEG_INFINITY, f64::max);
        let stated: f64 = column("moss_highest_degc").parse().unwrap();
        // A spike is left out: then the highest of the rest is less.
        assert!(
            stated <= highest && highest - stated < 0.5,
            "{stated} and {highest}"
        );
        let at = column("moss_highest_utc").trim_end_matches('Z');
        let (_, value) = of_day().find(|(t, _)| t.starts_with(at)).unwrap();
        assert!((value - stated).abs() < 5e-4, "{value} at {at}");
        let mean = of_day().map(|(_, v)| v).sum::<f64>() / of_day().count() as f64;
        let stated: f64 = column("moss_mean_degc").parse().unwrap();
        assert!((stated - mean).abs() < 0.02, "{stated} and {mean}");
    }
    run(
        folder.path(),
        &["-q", "rebuild", run_folder.to_str().unwrap()],
    )
    .done();
    assert_eq!(std::fs::read_to_string(&path).unwrap(), before);
}

#[test]
fn with_a_place_the_sun_stands_beside_each_day() {
    let folder = tempfile::tempdir().unwrap();
    let board = "virtual:seed=3,speed=40000,period=60s";
    let words = ["--for", "2d", "--place", "52.52,13.40", "--view", "plain"];
    log_on(folder.path(), board, &words).end().done();
    let run_folder = only_run(folder.path());
    let days = Table::read(&run_folder.join("days.csv"));
    for (rise, noon) in days
        .column("sunrise_utc")
        .iter()
        .zip(days.column("noon_utc"))
    {
        let at = |text: &str| text.parse::<jiff::Timestamp>().unwrap();
        let before = at(rise).duration_until(at(noon)).as_secs_f64() / 3600.0;
        // From the shortest to the longest day at 52.5° N: 7.6 h to 16.9 h of sun.
        assert!((3.7..8.6).contains(&before), "{rise} {noon}");
        // Noon is within a quarter of an hour of 11:06 UTC at 13.4° E, for the equation of time.
        let minutes =
            noon[11..13].parse::<f64>().unwrap() * 60.0 + noon[14..16].parse::<f64>().unwrap();
        assert!((minutes - 666.4).abs() < 17.0, "{noon}");
    }
    assert!(
        days.column("slate_highest_after_noon_min")
            .iter()
            .any(|cell| !cell.is_empty())
    );
    let settings = std::fs::read_to_string(run_folder.join("run.toml")).unwrap();
    assert!(settings.contains("latitude_deg = 52.52"), "{settings}");
}

#[test]
fn a_lesson_has_no_table_of_days_and_a_place_must_be_one() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["-q", "demo"]).done();
    assert!(!only_run(folder.path()).join("days.csv").exists());
    for place in ["north", "91,0", "52.52"] {
        run(
            folder.path(),
            &["log", "--board", "virtual", "--place", place],
        )
        .failed_with(2, &["--place", "52.52,13.40"]);
    }
}
