//! Many seeded runs, most with faults: the live files, the files at the end and those of a rebuild
//! tell the same, and a run cut off anywhere gives what it would have given up to there.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::{Path, PathBuf};
use std::time::Duration;

use duskmark::journal::{Limits, piece_name};
use duskmark::port::What;
use duskmark::run::{Derived, Keep, Lags, Recorder, RunSetup, SyncEvery};
use duskmark::sampler::SamplerSetup;
use duskmark::sim::{BoardConfig, Fault, FaultKind, Happening, Speech, VirtualBoard, lesson};
use support::csv::{Table, assert_times_rise};

const DERIVED: [&str; 4] = ["readings.csv", "events.csv", "marks.csv", "summary.json"];

fn board(seed: u64) -> BoardConfig {
    let mut config = lesson(seed);
    config.end_s = Some(100.0);
    config.period_ms = 500;
    config.speech = match seed % 4 {
        0 | 1 => Speech::Native,
        2 => Speech::Plain,
        _ => Speech::Labelled,
    };
    let at = |k: u64| 8.0 + ((seed * 7 + k * 13) % 80) as f64;
    let kinds = [
        FaultKind::Garbage { bytes: 200 },
        FaultKind::FlippedBit,
        FaultKind::LostLine,
        FaultKind::Reset,
        FaultKind::Silence { for_s: 4.0 },
        FaultKind::Hold { for_s: 3.0 },
        FaultKind::Unplug { for_s: 5.0 },
        FaultKind::OpenThermistor {
            channel: 0,
            for_s: 6.0,
        },
    ];
    let some = kinds.into_iter().zip(0..);
    let some = some.filter(|(_, k)| seed >> (k % 5) & 1 == 1);
    config.faults = some.map(|(kind, k)| Fault { at_s: at(k), kind }).collect();
    config
}

/// Logs a board to its end; gives the run's folder and the live rows and events.
fn logged(out: &Path, seed: u64) -> (PathBuf, Table, Table) {
    let config = board(seed);
    let setup = RunSetup {
        name: format!("bench {seed}"),
        sampler: SamplerSetup {
            samples: vec!["slate".into(), "moss".into()],
            baud: config.link.baud,
            lines: None,
            ..SamplerSetup::default()
        },
        ..RunSetup::default()
    };
    let keep = Keep {
        sync: if seed.is_multiple_of(3) {
            SyncEvery::Row
        } else {
            SyncEvery::Time(Duration::from_secs(1))
        },
        limits: Limits {
            piece_bytes: if seed.is_multiple_of(3) {
                2000
            } else {
                1 << 20
            },
            ..Limits::default()
        },
        patient: true,
        boot: None,
    };
    let wall_ns = 1_773_484_325_000_000_000;
    let mut recorder = Recorder::begin(out, &setup, 0, wall_ns, &keep).unwrap();
    let mut board = VirtualBoard::new(config).unwrap();
    let mut news = Vec::new();
    let mut last_ns = 0;
    let mut tell = |recorder: &mut Recorder, at_s: f64, what: What| {
        last_ns = (at_s * 1e9) as i64;
        recorder.port(last_ns, 0, &what, &mut news);
        news.clear();
    };
    tell(&mut recorder, 0.0, What::Opened("virtual".into()));
    while let Some(wake_s) = board.wake_s() {
        while let Some(happening) = board.next_before(wake_s) {
            let at_s = happening.at_s();
            let what = match happening {
                Happening::Bytes(burst) => What::Bytes(burst.bytes),
                Happening::Unplugged { .. } => What::Lost("the port hung up".into()),
                Happening::Replugged { .. } => What::Opened("virtual".into()),
            };
            tell(&mut recorder, at_s, what);
            // Whoever comes back is asked who it is.
            if recorder.wants_hello(0) {
                board.receive(duskmark::wire::request_hello(), at_s);
            }
        }
    }
    let (folder, notices, result) = recorder.end(last_ns, "over").wait(Duration::from_secs(60));
    result.unwrap();
    assert!(notices.is_empty(), "{notices:?}");
    let rows = Table::read(&folder.join("readings.csv"));
    let events = Table::read(&folder.join("events.csv"));
    (folder, rows, events)
}

fn derive(folder: &Path) -> Vec<Vec<u8>> {
    let derived = Derived::from_folder(folder, &Lags::default()).unwrap();
    derived.write(folder).unwrap();
    let read = |name| std::fs::read(folder.join(name)).unwrap();
    DERIVED.into_iter().map(read).collect()
}

/// All but the phase, which the whole run decides, and the flags.
fn rows(table: &Table) -> Vec<Vec<String>> {
    table.rows.iter().map(|row| row[..4].to_vec()).collect()
}

/// Flags of a row that is already written are there in the end: what a probe's numbers show is
/// seen some rows later, and only the final file can say so of the rows before.
fn assert_flags_stay(live: &Table, ended: &Table) {
    for (before, after) in live.rows.iter().zip(&ended.rows) {
        let more: Vec<&str> = after[5].split(' ').collect();
        for flag in before[5].split(' ').filter(|flag| !flag.is_empty()) {
            assert!(more.contains(&flag), "{before:?} became {after:?}");
        }
        let signs = [
            "spike",
            "stuck",
            "noisy",
            "quiet",
            "drift",
            "loose",
            "wander",
            "saturated",
        ];
        for flag in more.iter().filter(|flag| !before[5].contains(*flag)) {
            let sign = flag.split_once(':').map(|(_, sign)| sign);
            assert!(
                sign.is_some_and(|s| signs.contains(&s)),
                "{before:?} became {after:?}"
            );
        }
    }
}

#[test]
fn live_files_final_files_and_rebuilds_tell_the_same() {
    let (mut all_rows, mut all_events, mut pieces, mut cuts) = (0, 0, 0, 0);
    for seed in 0..20 {
        let out = tempfile::tempdir().unwrap();
        let (folder, live, live_events) = logged(out.path(), seed);
        let first = derive(&folder);
        let ended = Table::read(&folder.join("readings.csv"));
        assert_times_rise(&ended);
        assert_eq!(rows(&live), rows(&ended), "seed {seed}");
        assert_flags_stay(&live, &ended);
        let told = Table::read(&folder.join("events.csv"));
        // The lamp's edges of a run that goes on are those that were noticed; the final ones are better.
        let is_edge = |event: &&Vec<String>| event[2].starts_with("lamp-");
        for event in live_events.rows.iter().filter(|event| !is_edge(event)) {
            assert!(told.rows.contains(event), "seed {seed}: {event:?}");
        }
        assert!(derive(&folder) == first, "seed {seed}: another rebuild");
        all_rows += ended.rows.len();
        all_events += told.rows.len();
        let last = (1..).take_while(|n| folder.join(piece_name(*n)).exists());
        let last = last.last().unwrap();
        pieces += last;
        // Cut off within its last piece: what is there is what was there up to then.
        let path = folder.join(piece_name(last));
        let whole = std::fs::read(&path).unwrap();
        // Without its first record, the settings, a piece is none: behind the second line.
        let lines = whole.iter().enumerate().filter(|(_, byte)| **byte == b'\n');
        let head = lines.map(|(at, _)| at + 1).nth(1).unwrap();
        for cut in [head.max(whole.len() / 2), whole.len() - 9] {
            std::fs::write(&path, &whole[..cut]).unwrap();
            derive(&folder);
            let part = Table::read(&folder.join("readings.csv"));
            let (part, ended) = (rows(&part), rows(&ended));
            assert!(part.len() <= ended.len(), "seed {seed}, cut {cut}");
            // What a channel was in doubt about is told of a row by rows before it alone.
            assert_eq!(part, ended[..part.len()], "seed {seed}, cut {cut}");
            cuts += 1;
        }
    }
    println!("20 runs: {all_rows} rows, {all_events} events, {pieces} pieces, {cuts} cuts");
    assert!(all_rows > 3000 && all_events > 120);
}

#[test]
fn the_computers_sleep_is_told_live_and_again() {
    let out = tempfile::tempdir().unwrap();
    let setup = RunSetup {
        name: "sill".into(),
        ..RunSetup::default()
    };
    let keep = Keep {
        sync: SyncEvery::Row,
        limits: Limits::default(),
        patient: true,
        boot: None,
    };
    let wall_ns = 1_773_484_325_000_000_000;
    let mut recorder = Recorder::begin(out.path(), &setup, 0, wall_ns, &keep).unwrap();
    let mut news = Vec::new();
    recorder.port(0, 0, &What::Opened("a".into()), &mut news);
    let slept_ns = 7_200_500_000_000;
    let woke_ns = 10_000_000_000 + slept_ns;
    recorder.slept(woke_ns, wall_ns + woke_ns, slept_ns, &mut news);
    let (folder, _, result) = recorder.end(woke_ns, "over").wait(Duration::from_secs(60));
    result.unwrap();
    let suspends = || {
        let events = Table::read(&folder.join("events.csv"));
        // The wall clock went on as it should: it was not set.
        assert!(events.of_kind("clock-step").is_empty());
        events
            .of_kind("suspend")
            .into_iter()
            .cloned()
            .collect::<Vec<_>>()
    };
    let live = suspends();
    assert_eq!(live.len(), 1);
    assert_eq!(live[0][0], "7210.500");
    assert_eq!(live[0][4], "the computer slept for 7200.500 s");
    derive(&folder);
    assert_eq!(suspends(), live);
    let settings = std::fs::read_to_string(folder.join("run.toml")).unwrap();
    assert!(
        settings.contains("began_utc = \"2026-03-14T10:32:05.000Z\""),
        "{settings}"
    );
}
