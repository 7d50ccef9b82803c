//! Probes of every kind on boards that the test speaks for, and what their readings are worth.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use serde_json::Value;
use support::bench::{Port, hello, native, sample};
use support::csv::Table;
use support::program::{Running, Said, duskmark, only_run, run};

/// What `boards --json` with further words says of a board that speaks `lines`.
fn looked_at(lines: &[String], words: &[&str]) -> (Said, Value) {
    let folder = tempfile::tempdir().unwrap();
    looked_at_in(folder.path(), lines, words)
}

fn looked_at_in(folder: &std::path::Path, lines: &[String], words: &[&str]) -> (Said, Value) {
    let mut port = Port::open();
    let words = [&["boards", "--json", "--board", port.name()], words].concat();
    let boards = Running::start(duskmark(folder, &words));
    port.play(lines);
    let said = boards.end();
    let about = said.out.lines().next().unwrap_or("null");
    let about = serde_json::from_str(about).unwrap();
    (said, about)
}

/// A hello of two channels, and the same fields again and again.
fn native_lines(unit: &str, fields: &str) -> Vec<String> {
    let hello = native(&format!(
        "!duskmark 1 id=probe-1 channels=2 {unit} period_ms=100"
    ));
    let samples = (0..4).map(|seq| sample(seq, fields));
    std::iter::once(hello).chain(samples).collect()
}

#[track_caller]
fn assert_degc(about: &Value, want: [f64; 2], tolerance: f64) {
    for (channel, want) in want.into_iter().enumerate() {
        let got = about["readings"][channel]["degc"].as_f64();
        let got = got.unwrap_or_else(|| panic!("no reading: {about:#}"));
        assert!((got - want).abs() <= tolerance, "{got} is not {want}");
    }
}

#[test]
fn platinum_reads_as_iec_60751_has_it() {
    // IEC 60751, Pt100: 109.73 Ω at 25 °C, 92.16 Ω at −20 °C; 0.01 Ω is 0.026 °C.
    let lines = native_lines("unit=ohm", "109.73,92.16");
    let (said, about) = looked_at(&lines, &["--probe", "platinum:100"]);
    said.done();
    assert_degc(&about, [25.0, -20.0], 0.015);
}

#[test]
fn platinum_behind_a_divider_of_24_bits() {
    // Pt1000 at 25 °C is 1097.347 Ω; below 4.7 kΩ that is 1097.347/5797.347 of the supply.
    let count = (1097.347 / 5797.347 * 16_777_216.0_f64).round();
    let unit = "unit=adc full=16777216 fixed_ohm=4700 ntc=low";
    let lines = native_lines(unit, &format!("{count},{count}"));
    let (said, about) = looked_at(&lines, &["--probe", "platinum:1k"]);
    said.done();
    assert_degc(&about, [25.0, 25.0], 5e-4);
}

#[test]
fn each_channel_may_have_a_probe_of_its_own() {
    // 10 kΩ at 25 °C by the definition of R25; 100 Ω at 0 °C by that of R0.
    let lines = native_lines("unit=ohm", "10000,100.00");
    let words = ["--probe", "10k,3950", "--probe", "platinum:100"];
    let (said, about) = looked_at(&lines, &words);
    said.done();
    assert_degc(&about, [25.0, 0.0], 1e-3);
}

#[test]
fn a_board_that_prints_volts() {
    let lines = vec!["0.750,0.480\n".to_owned(); 5];
    let words = ["--unit", "volt", "--probe", "linear:0.5V,10mV"];
    let (said, about) = looked_at(&lines, &words);
    said.done();
    assert_degc(&about, [25.0, -2.0], 1e-6);
}

#[test]
fn a_divider_on_another_voltage_than_the_reference() {
    // 5 V over 10 kΩ and a probe of 10 kΩ make 2.5 V: half of a reference of 5 V, and 2.5/3.3 of one
    // of 3.3 V. Another probe of 1 MΩ would make 4.95 V, which that reference cannot show.
    let count = (2.5 / 3.3 * 4096.0_f64).round();
    let unit = "unit=adc full=4096 fixed_ohm=10000 ntc=low";
    let lines = native_lines(unit, &format!("{count},4095"));
    let words = ["--reference", "3.3V", "--supply", "5V"];
    let (said, about) = looked_at(&lines, &words);
    said.done();
    let got = about["readings"][0]["degc"].as_f64().unwrap();
    assert!((got - 25.0).abs() < 0.01, "{got}");
    assert_eq!(about["readings"][1]["fault"], "out-of-range");
}

#[test]
fn a_voltage_sensor_without_a_reference_is_asked_for_one() {
    let lines = native_lines("unit=adc full=4096 fixed_ohm=10000 ntc=low", "931,931");
    let (said, _) = looked_at(&lines, &["--probe", "linear:0.5V,10mV"]);
    said.failed_with(
        3,
        &["which voltage the converter is full", "--reference 3.3V"],
    );
    let words = ["--probe", "linear:0.5V,10mV", "--reference", "3.3V"];
    let (said, about) = looked_at(&lines, &words);
    said.done();
    // 931/4096 of 3.3 V is 0.75007 V.
    assert_degc(&about, [25.01, 25.01], 0.01);
}

#[test]
fn a_board_of_ohms_and_a_law_of_volts_do_not_go_together() {
    let lines = native_lines("unit=ohm", "10000,10000");
    let (said, _) = looked_at(&lines, &["--probe", "linear:0.5V,10mV"]);
    said.failed_with(3, &["the board sends Ω", "takes V", "--probe"]);
}

#[test]
fn a_run_by_a_table_of_points_is_rebuilt_without_the_file() {
    // Published points of a 10 kΩ part (sources: tests/data/thermistor-tables.md), every second of
    // them; 12090 Ω at 20 °C lies between two.
    let published = include_str!("data/thermistor-tables.csv");
    let points: Vec<&str> = published
        .lines()
        .filter(|line| line.starts_with("EPCOS"))
        .skip(1)
        .step_by(2)
        .collect();
    assert!(points.iter().all(|line| !line.contains(",20,")));
    let mut table = "ohm,degc\n".to_owned();
    for line in points {
        let cells: Vec<&str> = line.split(',').collect();
        table.push_str(&format!("{},{}\n", cells[2], cells[1]));
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("probe.csv");
    std::fs::write(&file, table).unwrap();
    let mut port = Port::open();
    let words = ["--probe", "points:probe.csv", "--samples", "slate,moss"];
    let words = [
        &["log", "--view", "plain", "--board", port.name()],
        &words[..],
    ]
    .concat();
    let mut log = Running::start(duskmark(folder.path(), &words));
    let lines = native_lines("unit=ohm", "12090,10000");
    port.say(&lines[0]);
    let folder_of_run = log.wait_for_run(folder.path());
    port.play(&lines[1..]);
    port.say(&native("#that is all"));
    support::program::wait_until("the remark", || {
        let events = std::fs::read_to_string(folder_of_run.join("events.csv"));
        events.is_ok_and(|text| text.contains("that is all"))
    });
    log.signal("INT");
    assert_eq!(log.end().code, 0);
    let rows = || Table::read(&folder_of_run.join("readings.csv"));
    for (name, want) in [("slate_degc", 20.0), ("moss_degc", 25.0)] {
        for got in rows().numbers(name) {
            assert!((got - want).abs() < 0.03, "{name}: {got}");
        }
    }
    let settings = std::fs::read_to_string(folder_of_run.join("run.toml")).unwrap();
    assert!(settings.contains("10000.0"), "{settings}");
    let before = std::fs::read(folder_of_run.join("readings.csv")).unwrap();
    std::fs::remove_file(&file).unwrap();
    let found = only_run(folder.path());
    run(folder.path(), &["rebuild", found.to_str().unwrap()]).done();
    let after = std::fs::read(folder_of_run.join("readings.csv")).unwrap();
    assert_eq!(before, after);
}

#[test]
fn what_describes_no_probe_is_refused_before_any_board_is_looked_for() {
    let folder = tempfile::tempdir().unwrap();
    let bent = "ohm,degc\n27326,0\n10000,25\n12000,30\n";
    std::fs::write(folder.path().join("bent.csv"), bent).unwrap();
    for (words, parts) in [
        (
            ["--probe", "10k"],
            ["'10k' says nothing of the B value", "data sheet"],
        ),
        (["--probe", "10k,-3950"], ["B = -3950", "greater than zero"]),
        (["--probe", "1e-3,2e-4,-9e-6,1e-7"], ["turns back", "c2"]),
        (
            ["--thermistor", "platinum:2M"],
            ["1 Ω to 100 kΩ", "2000000"],
        ),
        (
            ["--probe", "copper:50"],
            ["no kind of probe 'copper'", "platinum:"],
        ),
        (
            ["--probe", "points:none.csv"],
            ["none.csv", "heading ohm,degc"],
        ),
        (
            ["--probe", "points:bent.csv"],
            ["bent.csv: point", "only rise or only fall"],
        ),
        (["--fixed-tolerance", "1"], ["is no tolerance", "1%"]),
        (["--reference", "0V"], ["is no voltage", "3.3V"]),
        (
            ["--dissipation", "none"],
            ["is no dissipation constant", "2mW"],
        ),
    ] {
        let words = [&["log", "--board", "virtual"], &words[..]].concat();
        run(folder.path(), &words).failed_with(2, &parts);
    }
    assert!(!folder.path().join("runs").exists());
}

/// The component of a cause in a channel's budget.
#[track_caller]
fn part(about: &Value, channel: usize, cause: &str) -> f64 {
    let all = about["budget"][channel]["components"].as_array();
    let all = all.unwrap_or_else(|| panic!("no budget in {about:#}"));
    let found = all.iter().find(|one| one["cause"] == cause);
    let found = found.unwrap_or_else(|| panic!("no {cause} in {about:#}"));
    found["u_degc"].as_f64().unwrap()
}

#[test]
fn the_budget_of_a_board_holds_what_was_said_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "boards",
        "--json",
        "--budget",
        "--board",
        "virtual:seed=3,speed=50",
        "--supply",
        "3.3V",
        "--dissipation",
        "2mW",
        "--fixed-tolerance",
        "1%",
        "--probe-lag",
        "6s",
        "--rate",
        "1/min",
    ];
    let said = run(folder.path(), &words);
    said.done();
    let about: Value = serde_json::from_str(said.out.trim()).unwrap();
    let budget = &about["budget"][0];
    let degc = budget["degc"].as_f64().unwrap();
    let t_k = degc + 273.15;
    // The virtual board has B = 3950 K, 10 kΩ and 10 kΩ: all by hand from here.
    let ohm = 10e3 * (3950.0 * (1.0 / t_k - 1.0 / 298.15_f64)).exp();
    let near = |cause: &str, want: f64| {
        let got = part(&about, 0, cause);
        assert!(
            (got / want - 1.0).abs() < 2e-3,
            "{cause}: {got}, not {want}"
        );
    };
    near("fixed_resistor", 0.01 * t_k * t_k / 3950.0 / 3_f64.sqrt());
    let heat_mw = 1e3 * 3.3 * 3.3 * ohm / (ohm + 10e3).powi(2);
    near("self_heating", heat_mw / 2.0 / 3_f64.sqrt());
    near("lag", 6.0 / 60.0 / 3_f64.sqrt());
    let step = t_k * t_k / 3950.0 * (ohm + 10e3).powi(2) / (10e3 * ohm) / 65_536.0;
    near("resolution", step / 12_f64.sqrt());
    // The bench's noise is 0.008 °C and 3 counts, the probes not being settled yet.
    let noise = part(&about, 0, "noise");
    assert!((0.003..0.03).contains(&noise), "{noise}");
    let all = [
        "resolution",
        "noise",
        "fixed_resistor",
        "self_heating",
        "lag",
    ];
    let squares: f64 = all.iter().map(|cause| part(&about, 0, cause).powi(2)).sum();
    let (u, k) = (
        budget["u_degc"].as_f64().unwrap(),
        budget["coverage_factor"].as_f64().unwrap(),
    );
    assert!((u * u / squares - 1.0).abs() < 1e-9);
    assert!((budget["expanded_degc"].as_f64().unwrap() - k * u).abs() < 1e-12);
    assert!((1.95..2.2).contains(&k), "{k}");
    let why = budget["left_out"].to_string();
    assert!(
        why.contains("calibration") && why.contains("cancels"),
        "{why}"
    );
    let warnings = about["warnings"].to_string();
    assert!(warnings.contains("more than 0.05 °C"), "{warnings}");
}

#[test]
fn the_budget_is_a_table_that_fits_a_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let words = ["boards", "--budget", "--board", "virtual:speed=50"];
    let said = run(folder.path(), &words);
    said.done();
    let after = said
        .out
        .split("budget of probe 1")
        .nth(1)
        .unwrap_or_else(|| panic!("{}", said.out));
    for part in [
        "resolution",
        "combined",
        "expanded, k = ",
        "not in it: calibration",
    ] {
        assert!(after.contains(part), "{part} is missing in\n{after}");
    }
    assert!(
        after.lines().all(|line| line.chars().count() <= 80),
        "{after}"
    );
    // Nothing is known of the current: no warning of it.
    assert!(!said.out.contains("The current that"), "{}", said.out);
}

#[test]
fn a_board_that_prints_degrees_has_its_digit_in_the_budget() {
    let lines: Vec<String> = std::iter::once(hello())
        .chain((0..40).map(|seq| sample(seq, ["23.4,23.5", "23.5,23.5"][seq as usize % 2])))
        .collect();
    let (said, about) = looked_at(&lines, &["--budget"]);
    said.done();
    // JCGM 100:2008, F.2.2.1: 0.29 of the step.
    for channel in 0..2 {
        let u = part(&about, channel, "resolution");
        assert!((u - 0.1 / 12_f64.sqrt()).abs() < 1e-9, "{u}");
    }
    assert!(part(&about, 0, "noise") > 0.03);
    assert!(part(&about, 1, "noise") < 1e-9);
    let why = about["budget"][0]["left_out"].to_string();
    assert!(why.contains("lies within the board"), "{why}");
}

#[test]
fn what_was_said_of_the_resistor_is_in_the_uncertainties_of_a_run() {
    let folder = tempfile::tempdir().unwrap();
    let board = "virtual:seed=3,speed=40";
    let plan = [
        "--heat", "20s", "--cool", "20s", "--marks", "10s", "--settle", "off",
    ];
    let u_of = |name: &str, words: &[&str]| {
        let words = [
            &["log", "--board", board, "--name", name, "--view", "off"],
            &plan[..],
            words,
        ];
        run(folder.path(), &words.concat()).done();
        let runs = std::fs::read_dir(folder.path().join("runs")).unwrap();
        let mut runs = runs.map(|entry| entry.unwrap().path());
        let path = runs
            .find(|path| path.to_str().unwrap().ends_with(name))
            .unwrap();
        let u = Table::read(&path.join("marks.csv")).numbers("u_slate_degc");
        (
            u[0],
            std::fs::read_to_string(path.join("run.toml")).unwrap(),
        )
    };
    let (bare, _) = u_of("bare", &[]);
    let (stated, settings) = u_of("stated", &["--fixed-tolerance", "5%"]);
    // 5 % of T²/B, about 22.3 K at 23.5 °C, rectangular.
    let resistor = 0.05 * 296.65 * 296.65 / 3950.0 / 3_f64.sqrt();
    assert!(bare < 0.1, "{bare}");
    assert!(
        (stated / resistor - 1.0).abs() < 0.05,
        "{stated}, not {resistor}"
    );
    assert!(settings.contains("fixed_tolerance = 0.05"), "{settings}");
}
