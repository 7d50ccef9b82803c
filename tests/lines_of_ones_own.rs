//! Boards whose lines people describe in duskmark.toml.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::path::Path;

use support::bench::Port;
use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run, wait_until};

/// Sixteenths of a degree, as digital probes count (invented board).
const TRAY_BOX: &str = "\
[dialect.tray-box]
pattern = '\\[(?<seq>\\d+)\\] S:(?<slate>-?\\d+) M:(?<moss>-?\\d*) @(?<ms>\\d+)'
unit = \"degc\"
scale = 0.0625
";

fn settings(folder: &Path, text: &str) {
    std::fs::write(folder.join("duskmark.toml"), text).unwrap();
}

#[test]
fn a_run_is_logged_and_rebuilt_by_the_pattern() {
    let folder = tempfile::tempdir().unwrap();
    settings(folder.path(), TRAY_BOX);
    let mut port = Port::open();
    let mut words = vec!["log", "--board", port.name(), "--view", "plain"];
    words.extend(["--dialect", "tray-box"]);
    let mut log = Running::start(duskmark(folder.path(), &words));
    port.say("tray box ready\n");
    let line = |k: i32| {
        let moss = match k {
            7 => String::new(),
            _ => format!("{}", 360 + k / 2),
        };
        format!("[{k}] S:{} M:{moss} @{}\n", 368 + k, 1000 + 20 * k)
    };
    port.say(&(0..3).map(line).collect::<String>());
    let run_folder = log.wait_for_run(folder.path());
    for k in 3..40 {
        port.say(&line(k));
        // As a board does: no line is ready before its time.
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    port.say("# that is all\n");
    wait_until("the remark", || {
        std::fs::read_to_string(run_folder.join("events.csv"))
            .is_ok_and(|text| text.contains("that is all"))
    });
    log.signal("INT");
    // While a run begins on a busy machine a pause may count as a gap, which is another test's.
    let code = log.end().code;
    assert!(code == 0 || code == 4, "{code}");
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert_times_rise(&rows);
    let slate = rows.column("slate_degc");
    // 368 sixteenths are 23 °C; the step of 0.0625 asks for two decimals.
    assert_eq!(slate[1..4], ["23.06", "23.12", "23.19"]);
    assert_eq!(
        rows.column("moss_degc")
            .iter()
            .filter(|cell| cell.is_empty())
            .count(),
        1
    );
    let before = std::fs::read(run_folder.join("readings.csv")).unwrap();
    // The run has the pattern with it: the settings may change.
    settings(folder.path(), "");
    let again = run(folder.path(), &["rebuild", run_folder.to_str().unwrap()]);
    assert_eq!(again.code, code, "{again:?}");
    assert_eq!(
        std::fs::read(run_folder.join("readings.csv")).unwrap(),
        before
    );
    let events = std::fs::read_to_string(run_folder.join("events.csv")).unwrap();
    assert!(
        events.contains("tray-box: as the settings describe it"),
        "{events}"
    );
}

#[test]
fn pasted_lines_are_tried_and_explained() {
    let folder = tempfile::tempdir().unwrap();
    settings(folder.path(), TRAY_BOX);
    let said = run(folder.path(), &["boards", "--try", "[4] S:401 M:377 @1400"]);
    let line = "tray-box       slate 25.06 °C, moss 23.56 °C, line number 4, board clock 1400 ms";
    assert!(said.done().out.contains(line), "{}", said.out);
    let said = run(
        folder.path(),
        &[
            "boards",
            "--dialect",
            "tray-box",
            "--try",
            "[4] S:401, M:377 @1400",
        ],
    );
    said.failed_with(1, &["no reading was found in a line", "[dialect.NAME]"]);
    let why = "no: it fits up to '[4] S:401'; ', M:377 @1400' does not fit ";
    assert!(said.out.contains(why), "{}", said.out);
    assert_eq!(
        said.out.lines().count(),
        2,
        "one dialect was asked for: {}",
        said.out
    );
    let said = run(folder.path(), &["boards", "--try", "-12.50,-0.6"]);
    assert!(
        said.done().out.contains("probe 1 -12.50, probe 2 -0.6"),
        "{}",
        said.out
    );
    let said = run(
        folder.path(),
        &["boards", "--json", "--try", "slate=24.9 moss=23.3"],
    );
    let found: Vec<serde_json::Value> = said
        .done()
        .out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let labelled = found
        .iter()
        .find(|found| found["dialect"] == "labelled")
        .unwrap();
    assert_eq!(labelled["readings"], serde_json::json!([24.9, 23.3]));
    assert_eq!(found.len(), 5);
}

#[test]
fn a_description_that_cannot_be_used_is_refused_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    for (text, said) in [
        (
            "[dialect.a]\npattern = 'T=(?<slate>[0-9+'\n",
            "duskmark.toml:2:11: unclosed character class (character 12 of the pattern)",
        ),
        (
            "[dialect.a]\npattern = '(?<slate>((x{1000}){1000}){1000})'\n",
            "duskmark.toml:2:11: the pattern is too large",
        ),
        (
            "[dialect.a]\npattern = 'T=([0-9]+)'\n",
            "the pattern names no channel",
        ),
        (
            "\n[dialect.a]\npattern = 'T=(?<slate>[0-9]+)'\nscale = { moss = 0.1 }\n",
            "duskmark.toml:2:1: there is no group 'moss' in the pattern",
        ),
        (
            "[dialect.a]\npattern = 'T=(?<slate>[0-9]+)'\nunits = \"degc\"\n",
            "duskmark.toml:3:1: the key 'units' is not known",
        ),
    ] {
        settings(folder.path(), text);
        for words in [
            &["boards", "--try", "T=1"][..],
            &["log", "--board", "virtual", "--dialect", "a"],
        ] {
            run(folder.path(), words).failed_with(2, &[said]);
        }
    }
    settings(folder.path(), TRAY_BOX);
    let said = run(folder.path(), &["boards", "--try", "T=23.4;hum=45"]);
    let told = said.out.contains("T 23.4, left out as no temperature: hum");
    assert!(told, "{}", said.out);
    let said = run(
        folder.path(),
        &["log", "--board", "virtual", "--dialect", "tray-bix"],
    );
    said.failed_with(
        2,
        &["there is no dialect 'tray-bix'", "Did you mean 'tray-box'?"],
    );
}
