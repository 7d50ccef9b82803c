//! Probes that give numbers, but not sound ones: each fault of a virtual board is told once, flagged
//! from its first row on, and told the same when the run is derived again. Sound data are left alone.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod health_model;

use std::path::{Path, PathBuf};
use std::time::Duration;

use duskmark::journal::Limits;
use duskmark::port::What;
use duskmark::run::{Derived, Keep, Lags, News, Plan, Recorder, RunSetup, SyncEvery};
use duskmark::sampler::{Finding, Health, SamplerSetup};
use duskmark::sim::{BoardConfig, Fault, FaultKind, Happening, VirtualBoard, lesson};
use health_model::{MAKES, Make, Record, row_of};

/// Logs a board to its end and gives the run's folder.
fn logged(out: &Path, config: BoardConfig, settles: bool) -> PathBuf {
    logged_with_news(out, config, settles).0
}

/// The same, and what it told while it went on.
fn logged_with_news(out: &Path, config: BoardConfig, settles: bool) -> (PathBuf, Vec<News>) {
    let plan = Plan {
        settle_degc_per_min: settles.then_some(0.001),
        heat_s: settles.then_some(600.0),
        ..Plan::default()
    };
    let setup = RunSetup {
        name: "bench 1".into(),
        sampler: SamplerSetup {
            samples: vec!["slate".into(), "moss".into()],
            baud: config.link.baud,
            lines: None,
            ..SamplerSetup::default()
        },
        plan,
        ..RunSetup::default()
    };
    let keep = Keep {
        sync: SyncEvery::Time(Duration::from_secs(1)),
        limits: Limits::default(),
        patient: true,
        boot: None,
    };
    let mut recorder = Recorder::begin(out, &setup, 0, 1_773_484_325_000_000_000, &keep).unwrap();
    let (mut last_ns, mut news) = (0, Vec::new());
    recorder.port(0, 0, &What::Opened("virtual".into()), &mut news);
    for happening in VirtualBoard::new(config).unwrap() {
        last_ns = (happening.at_s() * 1e9) as i64;
        if let Happening::Bytes(burst) = happening {
            recorder.port(last_ns, 0, &What::Bytes(burst.bytes), &mut news);
        }
    }
    let (folder, _, result) = recorder.end(last_ns, "over").wait(Duration::from_secs(60));
    result.unwrap();
    (folder, news)
}

fn read(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).unwrap()
}

/// Run times of the rows that bear a flag.
fn flagged(readings: &str, flag: &str) -> Vec<f64> {
    let rows = readings.lines().skip(1);
    rows.filter(|row| {
        let flags = row.rsplit(',').next().unwrap();
        flags.split(' ').any(|f| f == flag)
    })
    .map(|row| row.split(',').next().unwrap().parse().unwrap())
    .collect()
}

fn health_events(events: &str) -> Vec<&str> {
    events.lines().filter(|l| l.contains(",health,")).collect()
}

/// One fault of the slate's probe: what is told, and which rows bear its flag.
fn ill(config: BoardConfig, settles: bool, kind: FaultKind, at_s: f64, code: &str) -> Vec<f64> {
    let out = tempfile::tempdir().unwrap();
    let mut config = config;
    config.faults = vec![Fault { at_s, kind }];
    let folder = logged(out.path(), config, settles);
    let live = read(&folder, "events.csv");
    let derived = Derived::from_folder(&folder, &Lags::default()).unwrap();
    derived.write(&folder).unwrap();
    let (rows, events) = (read(&folder, "readings.csv"), read(&folder, "events.csv"));
    // Derived again: the same bytes. And live and afterwards the same was told.
    Derived::from_folder(&folder, &Lags::default())
        .unwrap()
        .write(&folder)
        .unwrap();
    assert_eq!(rows, read(&folder, "readings.csv"));
    assert_eq!(events, read(&folder, "events.csv"));
    let told = health_events(&events);
    // The live file ends before what the end of the run adds.
    assert!(told.starts_with(&health_events(&live)), "{live}");
    let begun =
        |line: &&&str| line.contains(&format!("{code}: ")) && !line.contains("of them within");
    assert_eq!(
        told.iter().filter(begun).count(),
        1,
        "{code} once: {told:#?}"
    );
    assert!(told.iter().all(|line| line.contains("slate")), "{told:#?}");
    let said = derived.summary.warnings.iter().map(ToString::to_string);
    assert!(
        said.clone().any(|w| w.contains(&format!("slate: {code}"))),
        "{:?}",
        said.collect::<Vec<_>>()
    );
    flagged(&rows, &format!("slate:{code}"))
}

fn lamp() -> BoardConfig {
    lesson(42)
}

/// Two samples in a quiet room, for so long.
fn room(end_s: f64) -> BoardConfig {
    let mut config = BoardConfig::new(7);
    config.period_ms = 1000;
    config.air.drift_degc = 0.02;
    config.end_s = Some(end_s);
    config
}

#[test]
fn who_waits_for_samples_that_no_probe_reads_is_told_so_once() {
    // Each channel is open for a time that ends; the other reads only after the wait was explained.
    let told = |for_s: f64| {
        let out = tempfile::tempdir().unwrap();
        let mut config = room(300.0);
        config.faults = (0..2)
            .map(|channel| Fault {
                at_s: 0.0,
                kind: FaultKind::OpenThermistor { channel, for_s },
            })
            .collect();
        let (_, news) = logged_with_news(out.path(), config, true);
        let of_settling = |one: &News| match one {
            News::Event {
                t_s, kind, detail, ..
            } if kind == "settling" => Some((*t_s, detail.clone())),
            _ => None,
        };
        news.iter().filter_map(of_settling).collect::<Vec<_>>()
    };
    let long = told(200.0);
    assert_eq!(long.len(), 1, "{long:?}");
    let (t_s, detail) = &long[0];
    assert!((55.0..75.0).contains(t_s), "{t_s}");
    for part in [
        "no probe gives a reading",
        "leads, plugs",
        "'duskmark boards'",
        "goes on by itself",
    ] {
        assert!(detail.contains(part), "{part}: {detail}");
    }
    assert_eq!(told(30.0), []);
}

#[test]
fn a_stuck_reading_is_flagged_from_its_first_row_to_its_last() {
    let kind = FaultKind::StuckReading {
        channel: 0,
        for_s: 120.0,
    };
    let rows = ill(lamp(), false, kind, 300.0, "stuck");
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    assert!((299.0..301.5).contains(&first), "{first}");
    assert!((418.5..421.0).contains(&last), "{last}");
    assert!(rows.len() > 470, "{}", rows.len());
}

#[test]
fn a_channel_at_the_end_of_its_scale_is_saturated() {
    let kind = FaultKind::Saturated {
        channel: 0,
        for_s: 900.0,
        top_degc: 28.0,
    };
    let rows = ill(lamp(), false, kind, 20.0, "saturated");
    assert!(rows.len() > 400, "{}", rows.len());
}

#[test]
fn a_noisy_channel_is_told() {
    let kind = FaultKind::Noisy {
        channel: 0,
        for_s: 200.0,
        degc: 1.0,
    };
    let rows = ill(lamp(), false, kind, 300.0, "noisy");
    assert!(rows[0] > 285.0 && rows[0] < 320.0, "{}", rows[0]);
    assert!(rows.len() > 600, "{}", rows.len());
}

#[test]
fn one_spike_is_one_row_and_one_event() {
    let rows = ill(
        lamp(),
        false,
        FaultKind::Spike {
            channel: 0,
            degc: 6.0,
        },
        400.0,
        "spike",
    );
    assert_eq!(rows.len(), 1);
    assert!((rows[0] - 400.0).abs() < 0.6, "{}", rows[0]);
}

#[test]
fn a_wire_that_opens_and_closes_is_loose() {
    let kind = FaultKind::LooseWire {
        channel: 0,
        for_s: 100.0,
        every_s: 10.0,
    };
    let rows = ill(lamp(), false, kind, 300.0, "loose");
    assert!((299.0..301.5).contains(&rows[0]), "{}", rows[0]);
}

#[test]
fn an_even_drift_while_the_samples_settle_is_told() {
    let kind = FaultKind::Drift {
        channel: 0,
        for_s: 3000.0,
        degc_per_min: 0.1,
    };
    let rows = ill(room(2700.0), true, kind, 200.0, "drift");
    assert!(rows.len() > 600, "{}", rows.len());
}

#[test]
fn a_wandering_channel_is_told() {
    let kind = FaultKind::Wander {
        channel: 0,
        for_s: 4000.0,
        degc: 0.8,
    };
    let rows = ill(room(4200.0), false, kind, 200.0, "wander");
    assert!(rows.len() > 600, "{}", rows.len());
}

#[test]
fn a_sound_lesson_has_nothing_to_tell() {
    for seed in [42, 43] {
        let out = tempfile::tempdir().unwrap();
        let folder = logged(out.path(), lesson(seed), false);
        let derived = Derived::from_folder(&folder, &Lags::default()).unwrap();
        let told = derived.events.iter().filter(|e| e.kind == "health");
        assert_eq!(told.count(), 0);
    }
}

#[test]
fn values_are_what_they_were() {
    let out = tempfile::tempdir().unwrap();
    let (sound, mut config) = (lamp(), lamp());
    config.faults = vec![Fault {
        at_s: 300.0,
        kind: FaultKind::Spike {
            channel: 0,
            degc: 6.0,
        },
    }];
    let cells = |folder: &Path| -> Vec<Vec<f64>> {
        let derived = Derived::from_folder(folder, &Lags::default()).unwrap();
        derived
            .series
            .channels
            .into_iter()
            .map(|c| c.degc)
            .collect()
    };
    let sound = cells(&logged(out.path(), sound, false));
    let ill = cells(&logged(out.path(), config, false));
    assert_eq!(sound[1], ill[1], "the sound channel");
    let differ: Vec<f64> = sound[0]
        .iter()
        .zip(&ill[0])
        .map(|(a, b)| b - a)
        .filter(|d| d.abs() > 1e-9)
        .collect();
    assert_eq!(differ.len(), 1);
    assert!((differ[0] - 6.0).abs() < 0.2, "{differ:?}");
}

#[test]
fn sound_records_of_every_make_raise_no_alarm() {
    // 30 h of each make here; `cargo bench --bench health -- sound` looks at 1000 h and more.
    for (make, name) in MAKES {
        let length_s = 6.0 * 3600.0;
        for seed in 5000..5005 {
            let record = Record::sound(make, seed, length_s);
            let mut health = Health::new(matches!(make, Make::Steady | Make::FromTheFridge));
            let mut findings = Vec::new();
            record.run(|t_s, values| {
                let mut row = row_of(t_s, values);
                health.push(&mut row, &mut findings);
            });
            let told: Vec<&Finding> = findings.iter().collect();
            assert!(told.is_empty(), "{name}, seed {seed}: {told:#?}");
        }
    }
}
