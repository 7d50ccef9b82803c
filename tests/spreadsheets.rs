//! Workbooks that people saved, read as the same table would be as text.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::io::Write as _;
use std::path::Path;

use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, Worksheet};
use serde_json::Value;
use support::nine::NINE;
use support::program::{Said, run};

fn analyse(folder: &Path, file: &str, words: &[&str]) -> Said {
    let mut all = vec!["analyse", "--json", "--marks", "3m"];
    all.extend(words);
    all.push(file);
    run(folder, &all)
}

/// What the same numbers give as text, without what names the file.
fn as_text() -> Value {
    let folder = tempfile::tempdir().unwrap();
    let mut text = String::from("minutes,slate,moss\n");
    for (minute, slate, moss) in NINE {
        text += &format!("{minute},{slate},{moss}\n");
    }
    std::fs::write(folder.path().join("t.csv"), text).unwrap();
    numbers(analyse(folder.path(), "t.csv", &[]).done())
}

/// The numbers of a summary.
fn numbers(said: &Said) -> Value {
    let mut summary: Value = serde_json::from_str(&said.out).unwrap();
    summary["source"] = Value::Null;
    summary["warnings"] = Value::Null;
    summary
}

fn warnings(said: &Said) -> String {
    let summary: Value = serde_json::from_str(&said.done().out).unwrap();
    let list = summary["warnings"].as_array().unwrap();
    list.iter()
        .map(|w| w.as_str().unwrap())
        .collect::<Vec<_>>()
        .join("\n")
}

fn heads(sheet: &mut Worksheet, row: u32, names: [&str; 3]) {
    for (column, name) in (0..).zip(names) {
        sheet.write_string(row, column, name).unwrap();
    }
}

/// Fills a sheet: headings, then each of the nine rows by `put`.
fn nine(
    sheet: &mut Worksheet,
    names: [&str; 3],
    put: impl Fn(&mut Worksheet, u32, (f64, f64, f64)),
) {
    heads(sheet, 0, names);
    for (row, values) in (1..).zip(NINE) {
        put(sheet, row, values);
    }
}

fn plain(sheet: &mut Worksheet, row: u32, (minute, slate, moss): (f64, f64, f64)) {
    for (column, number) in (0..).zip([minute, slate, moss]) {
        sheet.write_number(row, column, number).unwrap();
    }
}

/// A workbook made by `fill`, analysed with `words`.
fn book(words: &[&str], fill: impl FnOnce(&mut Workbook)) -> Said {
    let folder = tempfile::tempdir().unwrap();
    let mut workbook = Workbook::new();
    fill(&mut workbook);
    workbook.save(folder.path().join("t.xlsx")).unwrap();
    analyse(folder.path(), "t.xlsx", words)
}

#[test]
fn numbers_are_those_of_the_same_table_as_text() {
    let said = book(&[], |w| {
        nine(w.add_worksheet(), ["minutes", "slate", "moss"], plain);
    });
    assert_eq!(numbers(said.done()), as_text());
    // The name of a file says nothing of what is in it.
    let folder = tempfile::tempdir().unwrap();
    let mut workbook = Workbook::new();
    nine(
        workbook.add_worksheet(),
        ["minutes", "slate", "moss"],
        plain,
    );
    workbook.save(folder.path().join("t.xlsx")).unwrap();
    std::fs::rename(folder.path().join("t.xlsx"), folder.path().join("t.csv")).unwrap();
    assert_eq!(
        numbers(analyse(folder.path(), "t.csv", &[]).done()),
        as_text()
    );
}

/// Days of a minute.
type Serial = fn(f64) -> f64;

#[test]
fn times_are_understood_as_they_were_typed() {
    let with = |serial: Serial, format: &'static str| {
        move |sheet: &mut Worksheet, row: u32, (minute, slate, moss): (f64, f64, f64)| {
            let format = Format::new().set_num_format(format);
            sheet
                .write_number_with_format(row, 0, serial(minute), &format)
                .unwrap();
            sheet.write_number(row, 1, slate).unwrap();
            sheet.write_number(row, 2, moss).unwrap();
        }
    };
    let cases: [(&str, Serial, &str, &str); 6] = [
        // Typed 3:00 for three minutes: the program made hours and minutes of it.
        ("time", |m| m / 24.0, "h:mm", "minutes and seconds"),
        (
            "time (min)",
            |m| m / 24.0,
            "[h]:mm:ss",
            "minutes and seconds",
        ),
        // 0:03:00, and the clock on the wall at a quarter past ten.
        (
            "time",
            |m| m / 1440.0,
            "h:mm:ss",
            "hours, minutes and seconds",
        ),
        (
            "time",
            |m| (615.0 + m) / 1440.0,
            "h:mm",
            "hours, minutes and seconds",
        ),
        (
            "Uhrzeit",
            |m| (615.0 + m) / 1440.0,
            "hh:mm",
            "hours, minutes and seconds",
        ),
        // A date with a time, past midnight.
        (
            "time",
            |m| 46_095.0 + (1430.0 + m) / 1440.0,
            "yyyy-mm-dd hh:mm",
            "dates with a time of day",
        ),
    ];
    for (head, serial, format, words) in cases {
        let said = book(&["-v"], |w| {
            nine(
                w.add_worksheet(),
                [head, "slate", "moss"],
                with(serial, format),
            );
        });
        assert!(said.err.contains(words), "{head} {format}: {}", said.err);
        let (found, expected) = (numbers(said.done()), as_text());
        for key in ["start_degc", "end_degc", "fall_degc", "time_constant_s"] {
            let of = |s: &Value| s["samples"][1][key].as_f64();
            // A fit far from the zero of its time base may end elsewhere in the last digits.
            let (a, b) = (of(&found).unwrap_or(0.0), of(&expected).unwrap_or(0.0));
            assert!(
                (a - b).abs() <= 1e-3 * b.abs(),
                "{head} {format} {key}: {a} {b}"
            );
        }
        // Only the time base differs: a clock on the wall counts from midnight.
        let off_s = |s: &Value| s["lamp"][0]["at_s"].as_f64().unwrap();
        let midnight_s = if off_s(&found) > 36_000.0 {
            36_900.0
        } else {
            0.0
        };
        let apart_s = off_s(&found) - midnight_s - off_s(&expected);
        // The interval that is stated is three hundred times as wide.
        assert!(apart_s.abs() < 0.5, "{head} {format}: {apart_s}");
    }
}

#[test]
fn dates_as_the_library_writes_them_are_dates() {
    let said = book(&[], |w| {
        let format = Format::new().set_num_format("dd/mm/yyyy hh:mm:ss");
        nine(
            w.add_worksheet(),
            ["when (time)", "slate", "moss"],
            |_, _, _| {},
        );
        let sheet = w.worksheet_from_index(0).unwrap();
        sheet.write_string(0, 0, "timestamp").unwrap();
        for (row, (minute, slate, moss)) in (1..).zip(NINE) {
            let when = ExcelDateTime::from_ymd(2026, 3, 14).unwrap();
            let when = when.and_hms(10, minute as u8, 0.0).unwrap();
            sheet
                .write_datetime_with_format(row, 0, &when, &format)
                .unwrap();
            sheet.write_number(row, 1, slate).unwrap();
            sheet.write_number(row, 2, moss).unwrap();
        }
    });
    assert_eq!(numbers(said.done()), as_text());
}

#[test]
fn fahrenheit_titles_and_empty_rows_are_as_in_text() {
    let said = book(&["-v"], |w| {
        let sheet = w.add_worksheet();
        sheet.write_string(0, 0, "Lamp lab, bench 3").unwrap();
        heads(sheet, 3, ["minutes", "slate / °F", "moss [°C]"]);
        for (row, (minute, slate, moss)) in (4..).step_by(2).zip(NINE) {
            sheet.write_number(row, 0, minute).unwrap();
            sheet.write_number(row, 1, slate * 1.8 + 32.0).unwrap();
            sheet.write_number(row, 2, moss).unwrap();
        }
    });
    assert!(
        said.err.contains("temperatures of slate in °F"),
        "{}",
        said.err
    );
    let rise = &numbers(said.done())["samples"][0]["rise_degc"];
    let expected = &as_text()["samples"][0]["rise_degc"];
    assert!(
        (rise.as_f64().unwrap() - expected.as_f64().unwrap()).abs() < 1e-3,
        "{rise}"
    );
    assert!(
        warnings(&said).contains("the headings are in line 4"),
        "{}",
        warnings(&said)
    );
}

#[test]
fn a_merged_heading_has_the_names_below() {
    let said = book(&[], |w| {
        let sheet = w.add_worksheet();
        heads(sheet, 0, ["Zeit", "Temperatur", ""]);
        heads(sheet, 1, ["in min", "slate", "moss"]);
        for (row, (minute, slate, moss)) in (2..).zip(NINE) {
            plain(sheet, row, (minute / 1440.0, slate, moss));
        }
    });
    assert_eq!(numbers(said.done()), as_text(), "{}", warnings(&said));
    assert!(!warnings(&said).contains("assumed"), "{}", warnings(&said));
}

#[test]
fn a_number_typed_as_text_with_a_comma_is_a_number() {
    let said = book(&[], |w| {
        nine(
            w.add_worksheet(),
            ["minutes", "slate", "moss"],
            |sheet, row, values| {
                plain(sheet, row, values);
                if row % 2 == 0 {
                    let text = values.1.to_string().replace('.', ",");
                    sheet.write_string(row, 1, text).unwrap();
                }
            },
        );
    });
    assert_eq!(numbers(said.done()), as_text());
}

#[test]
fn of_several_sheets_the_first_with_a_table_is_read_or_the_one_that_is_named() {
    let fill = |w: &mut Workbook| {
        let cover = w.add_worksheet().set_name("Cover").unwrap();
        cover.write_string(0, 0, "Green-roof question").unwrap();
        nine(
            w.add_worksheet().set_name("Bench 1").unwrap(),
            ["minutes", "slate", "moss"],
            plain,
        );
        let second = w.add_worksheet().set_name("Bench 2").unwrap();
        nine(second, ["minutes", "slate", "moss"], |s, row, (m, a, b)| {
            plain(s, row, (m, a + 1.0, b));
        });
        let hidden = w.add_worksheet().set_name("Old").unwrap();
        hidden.set_hidden(true);
        nine(hidden, ["minutes", "slate", "moss"], plain);
    };
    let first = book(&[], fill);
    assert!(
        warnings(&first).contains("The workbook has 4 sheets; \"Bench 1\" was read."),
        "{}",
        warnings(&first)
    );
    let second = book(&["--worksheet", "bench 2"], fill);
    let start = |said: &Said| {
        numbers(said.done())["samples"][0]["start_degc"]
            .as_f64()
            .unwrap()
    };
    assert!((start(&second) - start(&first) - 1.0).abs() < 1e-9);
    assert!(warnings(&book(&["--worksheet", "Old"], fill)).contains("\"Old\" was read"));
    book(&["--worksheet", "Bench 9"], fill).failed_with(
        1,
        &["no sheet \"Bench 9\" among: Cover, Bench 1", "--worksheet"],
    );
}

#[test]
fn what_cannot_be_read_is_refused_with_its_place() {
    book(&[], |w| {
        nine(
            w.add_worksheet().set_name("Data").unwrap(),
            ["minutes", "slate", "moss"],
            |s, row, values| {
                plain(s, row, values);
                if row == 5 {
                    s.write_string(row, 1, "1.234,5").unwrap();
                }
            },
        );
    })
    .failed_with(1, &["sheet \"Data\": line 6, column 2", "two ways"]);
    book(&[], |w| {
        w.add_worksheet();
    })
    .failed_with(1, &["the file is empty"]);
    book(&[], |w| {
        let sheet = w.add_worksheet();
        nine(sheet, ["minutes", "slate", "moss"], plain);
        // One stray cell at the far end of the sheet.
        sheet.write_string(1_048_575, 16_383, "x").unwrap();
    })
    .failed_with(1, &["16384 columns; the limit is 256"]);
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in [
        ("cut.xlsx", b"PK\x03\x04 and then nothing".to_vec()),
        (
            "old.xls",
            [&[0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1][..], &[0; 600]].concat(),
        ),
    ] {
        std::fs::write(folder.path().join(name), bytes).unwrap();
        analyse(folder.path(), name, &[])
            .failed_with(1, &[name, "workbook", "save it from there as CSV"]);
    }
}

#[test]
fn a_sheet_that_cannot_be_read_does_not_hide_the_next() {
    let said = book(&[], |w| {
        let sheet = w.add_worksheet().set_name("Seating").unwrap();
        sheet.write_string(3, 16_000, "group 1").unwrap();
        let sheet = w.add_worksheet().set_name("Data").unwrap();
        nine(sheet, ["minutes", "slate", "moss"], plain);
    });
    assert_eq!(numbers(said.done())["samples"], as_text()["samples"]);
}

#[test]
fn a_stray_cell_far_below_costs_no_memory() {
    let said = book(&[], |w| {
        let sheet = w.add_worksheet();
        nine(sheet, ["minutes", "slate", "moss"], plain);
        sheet.write_string(1_048_575, 2, "checked").unwrap();
    });
    assert_eq!(numbers(said.done())["samples"], as_text()["samples"]);
}

#[test]
fn a_package_that_unpacks_to_too_much_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut package =
        zip::ZipWriter::new(std::fs::File::create(folder.path().join("b.xlsx")).unwrap());
    let options = zip::write::SimpleFileOptions::default();
    package
        .start_file("xl/worksheets/sheet1.xml", options.large_file(true))
        .unwrap();
    let zeros = vec![b' '; 1 << 20];
    for _ in 0..1100 {
        package.write_all(&zeros).unwrap();
    }
    package.finish().unwrap();
    analyse(folder.path(), "b.xlsx", &[])
        .failed_with(1, &["unpacks to more than 1073741824 bytes"]);
}
