//! One table in all the shapes that people and programs save it in.

mod support;

use support::nine::{analyse, nine, summary};

#[test]
fn the_same_table_reads_the_same_however_it_is_written() {
    let plain = nine("time_min,slate_degc,moss_degc", |t, a, b| {
        format!("{t:.0},{a:.1},{b:.1}")
    });
    let (reference, _) = summary(plain.as_bytes());
    assert_eq!(reference["rows"], 9);
    assert_eq!(reference["samples"][0]["name"], "slate");
    let comma = |v: f64| format!("{v:.1}").replace('.', ",");
    let german = nine("Zeit / min;slate / °C;moss / °C", |t, a, b| {
        format!("{t:.0};{};{}", comma(a), comma(b))
    });
    let mut crlf = Vec::from(b"\xef\xbb\xbf".as_slice());
    for (index, line) in plain.lines().enumerate() {
        crlf.extend_from_slice(line.as_bytes());
        crlf.extend_from_slice(if index % 2 == 0 { b"\r\n" } else { b"\n" });
    }
    let tabs = plain.replace(',', "\t");
    let seconds = nine("elapsed_s,slate_degc,moss_degc", |t, a, b| {
        format!("{:.0},{a:.1},{b:.1}", t * 60.0)
    });
    let wide = |mark: &str, bytes: fn(u16) -> [u8; 2]| -> Vec<u8> {
        format!("{mark}{plain}")
            .encode_utf16()
            .flat_map(bytes)
            .collect()
    };
    let marked = wide("\u{feff}", u16::to_le_bytes);
    let big = wide("\u{feff}", u16::to_be_bytes);
    let bare = wide("", u16::to_le_bytes);
    let writings: [(&str, &[u8]); 7] = [
        ("UTF-16", &marked),
        ("UTF-16, the high byte first", &big),
        ("UTF-16 without a mark", &bare),
        ("decimal commas", german.as_bytes()),
        ("a byte order mark and mixed line ends", &crlf),
        ("tabs", tabs.as_bytes()),
        ("seconds", seconds.as_bytes()),
    ];
    for (what, text) in writings {
        let (found, _) = summary(text);
        for key in ["rows", "lamp", "marks", "comparison"] {
            assert_eq!(found[key], reference[key], "{what}: {key}");
        }
    }
}

/// The same nine rows as columns.
#[test]
fn a_table_on_its_side_is_turned_and_said() {
    let upright = nine("time (min),slate,moss", |t, a, b| {
        format!("{t:.0},{a:.1},{b:.1}")
    });
    let (reference, _) = summary(upright.as_bytes());
    let mut lines = vec!["Green roof, bench 3".to_owned()];
    for column in 0..3 {
        let cells: Vec<&str> = upright
            .lines()
            .map(|l| l.split(',').nth(column).unwrap())
            .collect();
        lines.push(cells.join(","));
    }
    let (found, warnings) = summary(lines.join("\n").as_bytes());
    for key in ["rows", "lamp", "marks", "comparison"] {
        assert_eq!(found[key], reference[key], "{key}");
    }
    assert!(warnings.contains("lies on its side"), "{warnings}");
    // A cell that is no number is told by its line, which is a column of the file.
    let (_, warnings) = summary(lines.join("\n").replace("33.6", "hot").as_bytes());
    assert!(warnings.contains("line 5"), "{warnings}");
    // What is no table either way is refused by what it is as it stands.
    let said = analyse(b"time,0,3,6\nslate,warm,hot,hot\n");
    said.failed_with(1, &["table.csv", "\"slate\" below \"time\" is no time"]);
}

#[test]
fn two_tables_beside_each_other_keep_their_times() {
    let (found, warnings) = summary(
        b"min,slate,moss,,min,slate,moss\n0,22.0,21.1,,0,34.9,27.8\n1,25.2,22.9,,1,31.9,25.9\n\
          2,27.5,24.5,,2,29.8,24.5\n3,29.4,25.3,,3,28.1,23.4\n",
    );
    assert_eq!(found["samples"].as_array().unwrap().len(), 2);
    assert_eq!(found["rows"], 4);
    assert!(warnings.contains("from column 5 on"), "{warnings}");
}

#[test]
fn a_column_of_the_rooms_air_is_no_rival() {
    let rooms = [21.4, 21.4, 21.5, 21.4, 21.5, 21.5, 21.6, 21.5, 21.5];
    let two = nine("time (min),slate,moss", |t, a, b| {
        format!("{t:.0},{a:.1},{b:.1}")
    });
    let lines = two.lines().enumerate().map(|(row, line)| match row {
        0 => format!("{line},room"),
        _ => format!("{line},{:.1}", rooms[row - 1]),
    });
    let three: Vec<String> = lines.collect();
    let (found, warnings) = summary(three.join("\n").as_bytes());
    let (reference, _) = summary(two.as_bytes());
    assert_eq!(
        found["comparison"]["order"],
        serde_json::json!(["slate", "moss"])
    );
    let ratio = |found: &serde_json::Value| found["comparison"]["rise_ratio"].as_f64().unwrap();
    assert!((ratio(&found) / ratio(&reference) - 1.0).abs() < 0.03);
    assert!(warnings.contains("room hardly warmed"), "{warnings}");
}

#[test]
fn times_of_day_are_not_called_times_from_the_beginning() {
    let folder = tempfile::tempdir().unwrap();
    let clock = nine("clock,slate,moss", |t, a, b| {
        format!("14:{:02.0},{a:.1},{b:.1}", 5.0 + t)
    });
    let minutes = nine("min,slate,moss", |t, a, b| format!("{t:.0},{a:.1},{b:.1}"));
    for (text, says_beginning) in [(clock, false), (minutes, true)] {
        std::fs::write(folder.path().join("table.csv"), text).unwrap();
        support::program::run(folder.path(), &["report", "table.csv"]).done();
        let page = std::fs::read_to_string(folder.path().join("table.report.html")).unwrap();
        assert_eq!(page.contains("from the beginning"), says_beginning);
        assert_eq!(page.contains("by the table’s clock"), !says_beginning);
    }
}

#[test]
fn tables_below_one_another_are_not_mixed() {
    let heads = "Zeit (min);Schiefer (°C);Moos (°C)";
    let one = nine(heads, |t, a, b| format!("{t:.0};{a:.1};{b:.1}"));
    let (reference, _) = summary(one.as_bytes());
    // Another group's.
    let other = nine(heads, |t, a, b| {
        format!("{t:.0};{:.1};{:.1}", a - 0.4, b + 0.3)
    });
    let both = format!("Gruppe 1\n{one}\nGruppe 2\n{other}");
    let (found, warnings) = summary(both.as_bytes());
    assert_eq!(found["lamp"], reference["lamp"]);
    assert_eq!(found["samples"], reference["samples"]);
    assert!(warnings.contains("from line 14 on"), "{warnings}");
    // One for each sample, named by its title.
    let heads = "Zeit / min;Temperatur / °C";
    let slate = nine(heads, |t, a, _| format!("{t:.0};{a:.1}"));
    let moss = nine(heads, |t, _, b| format!("{t:.0};{b:.1}"));
    let both = format!("Schiefer\n{slate}\nMoos\n{moss}");
    let (found, warnings) = summary(both.as_bytes());
    assert_eq!(found["lamp"], reference["lamp"]);
    assert_eq!(found["samples"], reference["samples"], "{warnings}");
}

#[test]
fn clocks_that_are_put_back_take_no_hour() {
    let at = |from: f64, back: f64| {
        nine("Uhrzeit;Schiefer;Moos", move |t, a, b| {
            let minute = from + t - if t > 10.0 { back } else { 0.0 };
            let (hour, minute) = ((minute / 60.0).floor(), minute % 60.0);
            format!("{hour:.0}:{minute:02.0};{a:.1};{b:.1}")
        })
    };
    let (reference, _) = summary(at(170.0, 0.0).as_bytes());
    let (found, warnings) = summary(at(170.0, 60.0).as_bytes());
    assert_eq!(found["lamp"], reference["lamp"], "{warnings}");
    assert!(warnings.contains("the hour was taken out"), "{warnings}");
}

#[test]
fn what_a_board_prints_of_its_times_is_read() {
    let seconds = nine("time (s),slate,moss", |t, a, b| {
        format!("{},{a:.1},{b:.1}", t * 60.0)
    });
    let (reference, _) = summary(seconds.as_bytes());
    for (head, zero) in [("millis", 0.0), ("time", 1.773_48e12), ("ms", 0.0)] {
        let text = nine(&format!("{head},slate,moss"), |t, a, b| {
            format!("{:.0},{a:.1},{b:.1}", zero + t * 60e3)
        });
        let (found, warnings) = summary(text.as_bytes());
        assert_eq!(found["lamp"], reference["lamp"], "{head}: {warnings}");
    }
}
