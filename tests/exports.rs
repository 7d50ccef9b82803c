//! Runs as tables: what is in the files, by the parquet crate's own reader and by the csv crate; and
//! disks that are full. What query engines make of them is in `queries.rs`.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::fs::File;
use std::path::{Path, PathBuf};

use parquet::basic::Compression;
use parquet::file::reader::{FileReader as _, SerializedFileReader};
use parquet::record::Field;
use support::csv::Table;
use support::program::{only_run, run};

/// The one file of a table, below its partitions.
fn only_file(table: &Path) -> PathBuf {
    let mut at = table.to_owned();
    while at.is_dir() {
        let mut inside: Vec<PathBuf> = std::fs::read_dir(&at)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        assert_eq!(inside.len(), 1, "{inside:?}");
        at = inside.pop().unwrap();
    }
    at
}

fn reader(path: &Path) -> SerializedFileReader<File> {
    SerializedFileReader::new(File::open(path).unwrap()).unwrap()
}

/// A file's lines, as columns by name.
struct Columns(Vec<Vec<(String, Field)>>);

impl Columns {
    fn read(path: &Path) -> Self {
        let lines = reader(path).into_iter();
        Self(lines.map(|line| line.unwrap().into_columns()).collect())
    }

    fn column(&self, name: &str) -> impl Iterator<Item = &Field> {
        self.0.iter().map(move |line| {
            let cell = line.iter().find(|(column, _)| column == name);
            &cell.unwrap().1
        })
    }

    /// A column of numbers, NaN for none.
    fn numbers(&self, name: &str) -> Vec<f64> {
        let number = |field: &Field| match field {
            Field::Double(number) => *number,
            Field::Null => f64::NAN,
            other => panic!("{name}: {other:?}"),
        };
        self.column(name).map(number).collect()
    }

    /// A column of words, empty for none.
    fn texts(&self, name: &str) -> Vec<String> {
        let text = |field: &Field| match field {
            Field::Str(text) => text.clone(),
            Field::Null => String::new(),
            other => panic!("{name}: {other:?}"),
        };
        self.column(name).map(text).collect()
    }
}

#[test]
fn a_run_is_three_tables_with_every_value_of_its_files() {
    let folder = tempfile::tempdir().unwrap();
    run(
        folder.path(),
        &[
            "-q",
            "demo",
            "--run-only",
            "--began",
            "2026-03-14T10:32:05Z",
        ],
    )
    .done();
    let run_folder = only_run(folder.path());
    let at = run_folder.to_str().unwrap();
    let said = run(
        folder.path(),
        &["export", "--site", "Hill school", "--json", at],
    );
    let told: serde_json::Value = serde_json::from_str(&said.done().out).unwrap();
    assert_eq!(told["state"], "finished");
    let tables = folder.path().join("tables");
    let partition = "site=Hill-school/date=2026-03-14/bench=demo";
    let readings = only_file(&tables.join("readings"));
    assert!(
        readings.parent().unwrap().ends_with(partition),
        "{readings:?}"
    );

    let csv = Table::read(&run_folder.join("readings.csv"));
    let parquet = Columns::read(&readings);
    let samples = parquet.texts("sample");
    assert_eq!(samples.len(), 2 * csv.rows.len());
    assert_eq!(told["rows"].as_u64(), Some(csv.rows.len() as u64));
    let (times, degc) = (parquet.numbers("elapsed_s"), parquet.numbers("degc"));
    let phases = parquet.texts("phase");
    for sample in ["slate", "moss"] {
        let mine: Vec<usize> = (0..samples.len())
            .filter(|&i| samples[i] == sample)
            .collect();
        let expected = csv.numbers(&format!("{sample}_degc"));
        let expected_s = csv.numbers("elapsed_s");
        let expected_phase = csv.column("phase");
        for (row, &i) in mine.iter().enumerate() {
            let same = degc[i].to_bits() == expected[row].to_bits()
                || degc[i].is_nan() && expected[row].is_nan();
            assert!(
                same && times[i].to_bits() == expected_s[row].to_bits(),
                "row {row}"
            );
            assert_eq!(phases[i], expected_phase[row]);
        }
    }
    let first: jiff::Timestamp = csv.rows[0][1].parse().unwrap();
    let stamp = Field::TimestampMillis(first.as_millisecond());
    assert_eq!(parquet.column("time_utc").next(), Some(&stamp));
    assert_eq!(parquet.column("channel").next(), Some(&Field::Int(1)));
    results_are_those_of_the_summary(&tables, &run_folder);
}

fn results_are_those_of_the_summary(tables: &Path, run_folder: &Path) {
    let text = std::fs::read_to_string(run_folder.join("summary.json")).unwrap();
    let summary: serde_json::Value = serde_json::from_str(&text).unwrap();
    let samples = Columns::read(&only_file(&tables.join("samples")));
    let marks = Columns::read(&only_file(&tables.join("marks")));
    for (channel, sample) in summary["samples"].as_array().unwrap().iter().enumerate() {
        assert_eq!(samples.texts("name")[channel], sample["name"]);
        for key in [
            "rise_degc",
            "time_constant_s",
            "mean_degc",
            "cooling_rate_degc_per_min",
        ] {
            let stated = samples.numbers(key)[channel];
            assert_eq!(Some(stated), sample[key].as_f64(), "{key}");
            let u = samples.numbers(&format!("u_{key}"))[channel];
            assert_eq!(Some(u), sample["u"][key].as_f64(), "u_{key}");
        }
    }
    let lamp_off = summary["lamp"][1]["at_s"].as_f64();
    assert_eq!(Some(samples.numbers("lamp_off_s")[0]), lamp_off);
    let stated: Vec<f64> = summary["marks"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|mark| mark["degc"].as_array().unwrap())
        .map(|v| v.as_f64().unwrap_or(f64::NAN))
        .collect();
    assert_eq!(marks.numbers("degc").len(), stated.len());
    assert!(
        marks
            .numbers("degc")
            .iter()
            .zip(&stated)
            .all(|(a, b)| a.to_bits() == b.to_bits())
    );
}

#[test]
fn columns_carry_their_units_and_files_are_packed_with_zstd() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["-q", "demo", "--run-only"]).done();
    let run_folder = only_run(folder.path());
    run(folder.path(), &["export", run_folder.to_str().unwrap()]).done();
    // UCUM: s, Cel (degree Celsius), K (for differences and uncertainties).
    for (table, column, unit) in [
        ("readings", "degc", "Cel"),
        ("readings", "elapsed_s", "s"),
        ("samples", "rise_degc", "K"),
        ("samples", "cooling_rate_degc_per_min", "K/min"),
        ("marks", "u_degc", "K"),
    ] {
        let path = only_file(&folder.path().join("tables").join(table));
        let reader = reader(&path);
        let about = reader.metadata().file_metadata().key_value_metadata();
        let told = about.unwrap().iter().find(|about| about.key == "columns");
        let told = told.and_then(|about| about.value.as_deref()).unwrap();
        let told: serde_json::Value = serde_json::from_str(told).unwrap();
        assert_eq!(told[column]["unit"], unit, "{column}");
        assert!(told[column]["description"].is_string(), "{column}");
        for group in reader.metadata().row_groups() {
            let packed = |c: &parquet::file::metadata::ColumnChunkMetaData| {
                matches!(c.compression(), Compression::ZSTD(_))
            };
            assert!(group.columns().iter().all(packed));
        }
    }
}

#[test]
fn csv_in_long_form_keeps_the_digits() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["-q", "demo", "--run-only"]).done();
    let run_folder = only_run(folder.path());
    let words = [
        "export",
        "--csv",
        "--out",
        "long",
        run_folder.to_str().unwrap(),
    ];
    run(folder.path(), &words).done();
    let long = Table::read(&only_file(&folder.path().join("long")));
    let csv = Table::read(&run_folder.join("readings.csv"));
    assert_eq!(long.rows.len(), 2 * csv.rows.len());
    let moss: Vec<&str> = long
        .rows
        .iter()
        .filter(|row| row[4] == "moss")
        .map(|row| row[8].as_str())
        .collect();
    assert_eq!(moss, csv.column("moss_degc"));
    assert_eq!(
        long.column("run")[0],
        run_folder.file_name().unwrap().to_str().unwrap()
    );
}

#[test]
fn exporting_again_replaces_and_what_cannot_be_exported_is_told() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["-q", "demo", "--run-only"]).done();
    let run_folder = only_run(folder.path());
    let at = run_folder.to_str().unwrap();
    run(folder.path(), &["export", at]).done();
    let path = only_file(&folder.path().join("tables/readings"));
    let before = std::fs::read(&path).unwrap();
    std::fs::create_dir(folder.path().join("empty")).unwrap();
    let said = run(folder.path(), &["export", "empty", at]);
    said.failed_with(4, &["empty has no rows", "duskmark rebuild"]);
    // The same bytes in the one file: no time of making, no order that varies.
    assert_eq!(
        std::fs::read(only_file(&folder.path().join("tables/readings"))).unwrap(),
        before
    );
    run(folder.path(), &["export", "empty"]).failed_with(1, &["empty has no rows"]);
    std::fs::write(folder.path().join("taken"), "a file").unwrap();
    run(folder.path(), &["export", "--out", "taken", at]).failed_with(1, &["taken", "--out"]);
}

/// A file system of a few hundred KiB, as only the root user may make one.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_no_half_file_and_the_old_one_as_it_was() {
    use std::process::Command;

    struct Mounted(PathBuf);
    impl Drop for Mounted {
        fn drop(&mut self) {
            let _ = Command::new("umount").arg("-l").arg(&self.0).status();
        }
    }
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["-q", "demo", "--run-only"]).done();
    let run_folder = only_run(folder.path());
    let at = run_folder.to_str().unwrap();
    let small = folder.path().join("small");
    std::fs::create_dir(&small).unwrap();
    let mount = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=400k", "none"])
        .arg(&small)
        .status();
    if !mount.is_ok_and(|status| status.success()) {
        println!("not run: needs the root user and mount");
        return;
    }
    let small = Mounted(small);
    run(folder.path(), &["export", "--out", "small", at]).done();
    let path = only_file(&small.0.join("readings"));
    let before = std::fs::read(&path).unwrap();
    let ballast = small.0.join("ballast");
    let _ = std::fs::write(&ballast, vec![0; 1 << 20]);
    let said = run(folder.path(), &["export", "--out", "small", at]);
    said.failed_with(1, &["No space left", "Make room", "no half file"]);
    assert_eq!(std::fs::read(&path).unwrap(), before);
    for table in ["readings", "marks", "samples"] {
        let place = small.0.join(table).join(
            path.parent()
                .unwrap()
                .strip_prefix(small.0.join("readings"))
                .unwrap(),
        );
        for entry in std::fs::read_dir(place).unwrap() {
            let name = entry.unwrap().file_name();
            assert!(!name.to_string_lossy().starts_with('.'), "{name:?}");
        }
    }
}
