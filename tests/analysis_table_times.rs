//! Times of tables as people write them: units, clocks, and what is assumed aloud. Data invented.

use duskmark::analysis::{Series, Warning, read_table, table};

fn read(text: &str) -> (Series, Vec<Warning>) {
    table(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

#[test]
fn a_lesson_without_a_unit_is_in_minutes_and_said() {
    let assumed = |times: &[&str]| {
        let (found, said) = minutes("time", times);
        let last = found.last().copied().unwrap_or(0.0);
        (last, said.join(" "))
    };
    for (times, last) in [
        (["0", "1", "2", "3", "4", "5"], 5.0),
        (["0", "2", "4", "6", "8", "10"], 10.0),
        (["0", "3", "6", "9", "12", "16"], 16.0),
    ] {
        let (found, said) = assumed(&times);
        assert!((found - last).abs() < 1e-9, "{times:?}: {found}");
        assert!(
            said.contains("states no unit; minutes were assumed"),
            "{said}"
        );
    }
    // What a hand can do in seconds, and what only a logger does.
    let (found, said) = assumed(&["0", "30", "60", "90", "120", "150"]);
    assert!((found - 2.5).abs() < 1e-9, "{found}");
    assert!(said.contains("seconds were assumed"), "{said}");
    let (found, _) = assumed(&["0.0", "1.0", "2.0", "3.0", "4.0", "5.0"]);
    assert!((found - 5.0 / 60.0).abs() < 1e-5, "{found}");
    let many: Vec<String> = (0..300).map(|t| t.to_string()).collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    assert!(assumed(&many).0 < 5.0);
}

#[test]
fn units_of_time_are_known_in_three_languages() {
    for (heading, times) in [
        ("Zeit in Minuten", ["0", "3", "6", "9"]),
        ("Zeit (Minuten)", ["0", "3", "6", "9"]),
        ("Minuten", ["0", "3", "6", "9"]),
        ("Sekunden", ["0", "180", "360", "540"]),
        ("Stunden", ["0", "0.05", "0.1", "0.15"]),
        ("Zeitpunkt (min)", ["0", "3", "6", "9"]),
        ("durée (min)", ["0", "3", "6", "9"]),
        ("temps (min)", ["0", "3", "6", "9"]),
        ("temps en secondes", ["0", "180", "360", "540"]),
        ("heure", ["10:32", "10:35", "10:38", "10:41"]),
        ("Uhrzeit", ["10:32", "10:35", "10:38", "10:41"]),
        ("Zeit (h:min)", ["0:00", "0:03", "0:06", "0:09"]),
    ] {
        let (found, said) = minutes(heading, &times);
        assert_eq!(found, [0.0, 3.0, 6.0, 9.0], "{heading}");
        assert_eq!(said, [""; 0], "{heading}");
    }
}

#[test]
fn times_are_read_with_their_units_in_the_cells() {
    for times in [
        ["0 min", "1 min", "2 min", "3 min"],
        ["0'", "1'", "2'", "3'"],
        ["0 s", "60 s", "120 s", "180 s"],
        ["0'00\"\"", "1'00\"\"", "2'00\"\"", "3'00\"\""],
        ["0 min 0 s", "1 min 0 s", "2 min 0 s", "3 min 0 s"],
        ["0min00", "1min00", "2min00", "3min00"],
        ["0", "1 min", "2 min", "180 s"],
    ] {
        let heading = if times[0] == "0" { "t (min)" } else { "time" };
        let (found, said) = minutes(heading, &times);
        assert_eq!(found, [0.0, 1.0, 2.0, 3.0], "{times:?}");
        assert_eq!(said, [""; 0], "{times:?}");
    }
    let text = "time,slate\nbegin,20\nmiddle,21\nend,22\n";
    let error = table(text.as_bytes()).expect_err(text).to_string();
    for part in ["line 2", "\"begin\"", "\"time\"", "time (min)", "1:30"] {
        assert!(error.contains(part), "{error}");
    }
}

#[test]
fn a_point_between_minutes_and_seconds_is_read_or_told() {
    let halves = ["0.00", "0.30", "1.00", "1.30", "2.00", "2.30"];
    let even = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5];
    let (found, said) = minutes("time (min.sec)", &halves);
    assert_eq!((&found[..], said.len()), (&even[..], 0));
    // A spreadsheet has taken the last zeros away.
    let (found, said) = minutes("Zeit (min.s)", &["0", "0.3", "1", "1.3", "2", "2.3"]);
    assert_eq!((&found[..], said.len()), (&even[..], 0));
    for heading in ["time (min)", "time"] {
        let (found, said) = minutes(heading, &halves);
        assert_eq!(found, even, "{heading}");
        assert!(said.join(" ").contains("were read so"), "{said:?}");
    }
    let (found, said) = minutes(
        "time (min)",
        &["0.00", "0.50", "1.15", "1.59", "2.10", "2.45"],
    );
    assert!((found[1] - 0.5).abs() < 1e-9, "{found:?}");
    assert!(
        said.join(" ").contains("may be minutes and seconds"),
        "{said:?}"
    );
    for decimal in [
        ["0.00", "0.50", "1.00", "1.50", "2.00", "2.50"],
        ["0.00", "0.25", "0.50", "0.75", "1.00", "1.25"],
    ] {
        let (found, said) = minutes("time (min)", &decimal);
        assert_eq!(found[1].to_string(), decimal[1].trim_end_matches('0'));
        assert_eq!(said, [""; 0], "{decimal:?}");
    }
}

#[test]
fn minutes_that_were_typed_as_hours_are_told() {
    let (found, said) = minutes("time", &["0:00:00", "1:00:00", "2:00:00", "20:00:00"]);
    assert!((found[1] - 60.0).abs() < 1e-9, "{found:?}");
    assert!(said.join(" ").contains("takes 20 hours"), "{said:?}");
    for (heading, times) in [
        ("clock", ["8:00:00", "9:00:00", "10:00:00", "11:00:00"]),
        (
            "time (hh:mm:ss)",
            ["0:00:00", "1:00:00", "2:00:00", "3:00:00"],
        ),
        ("time", ["0:00:00", "0:01:00", "0:02:00", "0:03:00"]),
    ] {
        assert_eq!(minutes(heading, &times).1, [""; 0], "{times:?}");
    }
}

#[test]
fn days_as_a_spreadsheet_stores_them_are_told() {
    for first in [0.451_389, 46_095.451_389] {
        let times: Vec<String> = (0..6)
            .map(|minute| format!("{:.6}", first + f64::from(minute) / 1440.0))
            .collect();
        let times: Vec<&str> = times.iter().map(String::as_str).collect();
        let (found, said) = minutes("time", &times);
        assert_eq!(found, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
        assert!(said.join(" ").contains("days were assumed"), "{said:?}");
    }
    // Cells that show minutes and hold days, as their heading says minutes; and a quick logger's minutes.
    let days: Vec<String> = (0..6)
        .map(|minute| format!("{}", f64::from(minute) / 1440.0))
        .collect();
    let days: Vec<&str> = days.iter().map(String::as_str).collect();
    let (found, said) = minutes("Zeit (in min)", &days);
    let near = |(i, t): (usize, &f64)| (t - i as f64).abs() < 1e-6;
    assert!(found.iter().enumerate().all(near), "{found:?}");
    assert_eq!(said, [""; 0]);
    let quick = ["0", "0.001667", "0.003333", "0.005", "0.006667", "0.008333"];
    assert!((minutes("time (min)", &quick).0[5] - 0.008_333).abs() < 1e-6);
    // A logger's tenths of a second stay seconds.
    let (found, _) = minutes("time", &["0.0", "0.1", "0.2", "0.3", "0.4", "0.5"]);
    assert!((found[5] - 0.5 / 60.0).abs() < 1e-6);
}

#[test]
fn milliseconds_and_what_counts_from_1970_are_times() {
    let read = |heading: &str, times: &[&str]| {
        let rows = times.iter().enumerate();
        let rows: Vec<String> = rows.map(|(i, t)| format!("{t},{}\n", 20 + i)).collect();
        let rows = rows.concat();
        let text = format!("{heading},slate\n{rows}");
        read_table(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"))
    };
    let millis = ["0", "1000", "2003", "2999"];
    for heading in [
        "millis",
        "ms",
        "milliseconds",
        "Millisekunden",
        "millisecondes",
        "Zeit / ms",
        "millis()",
    ] {
        let table = read(heading, &millis);
        assert_eq!(table.series.t_s, [0.0, 1.0, 2.003, 2.999], "{heading}");
        assert_eq!(table.columns[0].read, "times in milliseconds");
        assert_eq!((table.warnings, table.logged), (vec![], true), "{heading}");
    }
    let epoch_ms = ["1773480000000", "1773480030000", "1773480060250"];
    let epoch_s = ["1773480000", "1773480030", "1773480060.25"];
    for (heading, times) in [
        ("time", epoch_ms),
        ("timestamp", epoch_ms),
        ("Zeit (ms)", epoch_ms),
        ("time", epoch_s),
        ("time (s)", epoch_s),
    ] {
        let table = read(heading, &times);
        assert_eq!(table.series.t_s, [0.0, 30.0, 60.25], "{heading}");
        assert!(table.columns[0].read.contains("since 1970"), "{heading}");
        assert_eq!((table.warnings, table.logged), (vec![], true), "{heading}");
    }
    // Beside times that say more of themselves they are none.
    let text = "time (s),slate,millis\n0,20,17\n1,20,1017\n2,20,2017\n";
    assert_eq!(
        read_table(text.as_bytes()).unwrap().series.channels.len(),
        1
    );
}

#[test]
fn minutes_and_seconds_go_on_past_an_hour() {
    let (found, _) = minutes("time", &["58:00", "59:00", "1:00:00", "1:01:00"]);
    assert_eq!(found, [0.0, 1.0, 2.0, 3.0]);
}

#[test]
fn dates_with_a_time_of_day_may_be_called_date() {
    let days = [
        "3/12/2026 23:59",
        "4/12/2026 0:00",
        "4/12/2026 0:01",
        "4/12/2026 0:02",
    ];
    let (found, said) = minutes("Date", &days);
    assert_eq!((&found[..], said.len()), (&[0.0, 1.0, 2.0, 3.0][..], 0));
    let (_, said) = read("Date,time (min),slate\n14.3.2026,0,20\n14.3.2026,1,21\n14.3.2026,2,22\n");
    assert!(
        matches!(&said[..], [Warning::ColumnLeftOut { column }] if column == "Date"),
        "{said:?}"
    );
}

#[test]
fn a_point_on_a_clock_is_told_where_the_heading_does_not_say_so() {
    let (found, said) = minutes("time", &["10.54", "10.56", "10.58", "11.00", "11.02"]);
    assert_eq!(found, [0.0, 2.0, 4.0, 6.0, 8.0]);
    assert!(
        said.join(" ")
            .contains("hours and minutes of a time of day were assumed"),
        "{said:?}"
    );
    // A logger's tenths of a second, and hours with a decimal part.
    let (found, _) = minutes("time", &["10.00", "10.10", "10.20", "10.30", "10.40"]);
    assert!((found[4] - 0.4 / 60.0).abs() < 1e-6, "{found:?}");
    let (found, _) = minutes("Uhrzeit (h)", &["10.00", "10.25", "10.50", "10.75"]);
    assert_eq!(found, [0.0, 15.0, 30.0, 45.0]);
}

#[test]
fn a_clock_passes_midnight() {
    let (series, _) = read("clock,slate\n23:59:00,20\n00:01:00,20\n00:02:00,21\n");
    assert!((series.t_s[1] - series.t_s[0] - 120.0).abs() < 1e-9);
}

/// Minutes since the first row of a table with these times, and what was said.
fn minutes(heading: &str, times: &[&str]) -> (Vec<f64>, Vec<String>) {
    let rows: Vec<String> = times.iter().map(|t| format!("\"{t}\",20")).collect();
    let (series, warnings) = read(&format!("{heading},slate\n{}\n", rows.join("\n")));
    let begin = series.t_s.first().copied().unwrap_or(0.0);
    let minutes = series.t_s.iter().map(|t| (t - begin) / 60.0);
    let minutes = minutes.map(|m| (m * 1e6).round() / 1e6).collect();
    (minutes, warnings.iter().map(ToString::to_string).collect())
}

#[test]
fn times_of_day_are_read_as_people_write_them() {
    for (heading, times) in [
        ("Uhrzeit", ["10:32", "10:35", "10:38", "10:41"]),
        (
            "Time of day",
            ["10:32:05", "10:35:05", "10:38:05", "10:41:05"],
        ),
        ("time", ["11:56 AM", "11:59 am", "12:02 PM", "12:05 p.m."]),
        ("clock", ["23:54", "23:57", "0:00", "0:03"]),
        ("Uhrzeit", ["10.00", "10.03", "10.06", "10.09"]),
        ("Clock time", ["10.54", "10.57", "11.00", "11.03"]),
        ("Uhrzeit", ["8.05 Uhr", "8.08 Uhr", "8.11 Uhr", "8.14 Uhr"]),
        ("Uhrzeit", ["7.57 Uhr", "8 Uhr", "8.03 Uhr", "8.06 Uhr"]),
        ("Zeit", ["10:32 Uhr", "10:35 Uhr", "10:38 Uhr", "10:41 Uhr"]),
        ("Uhrzeit", ["23.57 Uhr", "0.00 Uhr", "0.03 Uhr", "0.06 Uhr"]),
        ("time", ["1.50 pm", "1.53 pm", "1.56 pm", "1.59 pm"]),
        ("clock", ["11:58 PM", "12:01 AM", "12:04 AM", "12:07 AM"]),
        // A dial without a word for the half of the day passes noon.
        ("clock", ["12:56", "12:59", "1:02", "1:05"]),
        (
            "time",
            [
                "14.3.2026 23:58",
                "15.3.2026 0:01",
                "15.3.2026 0:04",
                "15.3.2026 0:07",
            ],
        ),
        (
            "time",
            [
                "3/14/2026 11:58 PM",
                "3/15/2026 12:01 AM",
                "3/15/2026 12:04 AM",
                "3/15/2026 12:07 AM",
            ],
        ),
        (
            "time",
            [
                "3/4/2026 23:58",
                "3/5/2026 00:01",
                "3/5/2026 00:04",
                "3/5/2026 00:07",
            ],
        ),
        (
            "time",
            [
                "4/3/2026 23:58",
                "5/3/2026 00:01",
                "5/3/2026 00:04",
                "5/3/2026 00:07",
            ],
        ),
        (
            "timestamp",
            [
                "2026-03-14 10:32:05",
                "2026-03-14 10:35:05",
                "2026-03-14 10:38:05",
                "2026-03-14 10:41:05",
            ],
        ),
    ] {
        let (found, said) = minutes(heading, &times);
        assert_eq!(found, [0.0, 3.0, 6.0, 9.0], "{heading}: {times:?}");
        assert_eq!(said, [""; 0], "{times:?}");
    }
}

#[test]
fn what_two_parts_of_a_time_are_is_said_where_the_heading_does_not() {
    for (times, step, unit) in [
        (
            ["10:32", "10:35", "10:38"],
            3.0,
            "hours and minutes of a time of day",
        ),
        (
            ["12:58", "1:01", "1:04"],
            3.0,
            "hours and minutes of a time of day",
        ),
        (["0:00", "0:05", "0:10"], 5.0 / 60.0, "minutes and seconds"),
        (["2:00", "5:00", "8:00"], 3.0, "minutes and seconds"),
        (["22:30", "23:30", "24:30"], 1.0, "minutes and seconds"),
    ] {
        let (found, said) = minutes("time", &times);
        let wanted = [0.0, step, 2.0 * step];
        let close = found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-5);
        assert!(close, "{times:?}: {found:?}");
        let sentence = format!(
            "The time column \"time\" states no unit; {unit} were assumed. If they are others, \
             write the unit into the heading, as in \"time (min)\"."
        );
        assert_eq!(said, [sentence], "{times:?}");
    }
}
