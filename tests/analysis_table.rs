//! Tables as people and programs write them, and how each is read or refused. Data invented.

use std::fmt::Write;
use std::io::Read as _;

use duskmark::analysis::{Series, TableError, Warning, read_table, table};
use proptest::prelude::*;

fn read(text: &str) -> (Series, Vec<Warning>) {
    table(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

fn refuse(text: &str) -> TableError {
    table(text.as_bytes()).expect_err(text)
}

#[test]
fn our_own_readings_are_read_without_a_word() {
    let (series, warnings) = read(
        "elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n\
         0.000,2026-03-14T10:32:05.000Z,21.031,20.952,settling,\n\
         1.000,2026-03-14T10:32:06.000Z,,20.952,settling,gap\n\
         2.000,2026-03-14T10:32:07.000Z,21.031,20.952,settling,\n",
    );
    assert_eq!(warnings, []);
    assert_eq!(series.t_s, [0.0, 1.0, 2.0]);
    let names: Vec<&str> = series.channels.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names, ["slate", "moss"]);
    assert!(series.channels[0].degc[1].is_nan());
}

#[test]
fn hand_timed_tables_of_many_styles_mean_the_same() {
    for text in [
        "mark_min,phase,slate_degc,u_slate_degc\n0,heating,21.5,0.1\n3,heating,25,0.1\n6,cooling,24.5,0.1\n",
        "minutes;slate (°C)\n0;21,5\n3;25\n6;24,5\n",
        "\u{feff}Time / min\tslate / °C\r\n0\t21.5\r\n3\t25\r\n6\t24.5\r\n",
        "t (s),slate\r0,21.5\r180,25\r360,24.5\r",
        "# our table\n\nTime [h],slate_degf\n0,70.7\n0.05,77\n0.1,76.1\n",
        "time (m:ss),slate [K]\n0:00,294.65\n3:00,298.15\n6:00,297.65\n",
        "Time (hh:mm:ss),slate\n10:00:00,21.5\n10:03:00,25\n10:06:00,24.5\n",
        "timestamp,slate\n2026-03-14T23:58:00+01:00,21.5\n2026-03-15T00:01:00+01:00,25\n2026-03-15T00:04:00+01:00,24.5\n",
        "\"minutes\",\"slate\"\n\"0\",\"21.5\"\n\"3\",\"25\"\n\"6\",\"24.5\"\n\n\n",
    ] {
        let (series, warnings) = read(text);
        assert_eq!(warnings, [], "{text}");
        let t0 = series.t_s[0];
        let t: Vec<f64> = series.t_s.iter().map(|t| (t - t0).round()).collect();
        assert_eq!(t, [0.0, 180.0, 360.0], "{text}");
        assert_eq!(series.channels.len(), 1, "{text}");
        assert_eq!(series.channels[0].name, "slate", "{text}");
        for (degc, expected) in series.channels[0].degc.iter().zip([21.5, 25.0, 24.5]) {
            assert!((degc - expected).abs() < 1e-9, "{text}");
        }
    }
}

#[test]
fn only_a_logger_writes_fractions_of_a_second() {
    let logged = |head: &str, times: [&str; 3]| {
        let rows = times.map(|t| format!("{t},20.1\n")).concat();
        let text = format!("{head},moss\n{rows}");
        duskmark::analysis::read_table(text.as_bytes())
            .unwrap()
            .logged
    };
    assert!(logged("elapsed_s", ["0.000", "60.000", "120.000"]));
    assert!(logged("clock", ["10:32:00.0", "10:33:00.0", "10:34:00.0"]));
    assert!(!logged("elapsed_s", ["0", "60", "120"]));
    assert!(!logged("time_min", ["0", "1.5", "3"]));
    assert!(!logged("clock", ["10:32", "10:35", "10:38"]));
}

#[test]
fn a_time_without_unit_is_taken_as_seconds_and_said() {
    let (_, warnings) = read("time,slate\n0,20\n1,20\n2,20\n");
    assert!(matches!(
        &warnings[..],
        [Warning::TimeUnitAssumed {
            unit: "seconds",
            ..
        }]
    ));
}

#[test]
fn names_are_the_samples_and_other_units_are_left_out() {
    let names = |text: &str| {
        let (series, warnings) = read(text);
        let names: Vec<String> = series.channels.iter().map(|c| c.name.clone()).collect();
        (
            names,
            warnings
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join(" "),
        )
    };
    for (heading, name) in [
        ("Schiefer in °C", "Schiefer"),
        ("slate temp (°C)", "slate"),
        ("Temperatur Moos (°C)", "Moos"),
        ("ardoise en °C", "ardoise"),
        ("moss in shade", "moss in shade"),
    ] {
        let (found, _) = names(&format!("min,{heading}\n0,20\n1,21\n2,22\n"));
        assert_eq!(found, [name], "{heading}");
    }
    let (found, said) = names(
        "t / min,slate / °C,mass / g,rel. humidity / %,from / s\n0,20,5,40,1\n1,21,5,41,2\n2,22,5,41,3\n",
    );
    assert_eq!(found, ["slate"]);
    for column in ["mass / g", "rel. humidity / %", "from / s"] {
        assert!(
            said.contains(&format!("Column {column:?} holds no temperatures")),
            "{said}"
        );
    }
}

#[test]
fn minus_signs_and_blanks_of_every_kind_are_read() {
    for minus in ['-', '\u{2212}', '\u{2013}', '\u{2011}'] {
        let (series, warnings) = read(&format!(
            "min;slate;moss\n0;{minus}0,5;\u{a0}{minus}1,3\n1;0,2\u{202f};{minus}0,8\n2;0,9\u{2009};0\n"
        ));
        assert_eq!(warnings, [], "{minus}");
        assert_eq!(series.channels[0].degc, [-0.5, 0.2, 0.9]);
        assert_eq!(series.channels[1].degc, [-1.3, -0.8, 0.0]);
    }
}

#[test]
fn temperatures_may_carry_their_unit() {
    for (heading, cells) in [
        ("slate", ["21,5 °C", "23,0 °C", "24,5 °C"]),
        ("slate", ["21,5°", "23,0°", "24,5°"]),
        ("Schiefer", ["21,5 Grad", "23 Grad", "24,5 Grad"]),
        ("slate (°C)", ["21,5 C", "23,0", "24,5"]),
        ("slate", ["70,7 °F", "73,4 °F", "76,1"]),
        ("slate", ["294,65 K", "296,15 K", "297,65 K"]),
    ] {
        let [a, b, c] = cells;
        let (series, warnings) = read(&format!("min;{heading}\n0;{a}\n1;{b}\n2;{c}\n"));
        assert_eq!(warnings, [], "{cells:?}");
        let off = series.channels[0].degc.iter().zip([21.5, 23.0, 24.5]);
        assert!(off.clone().all(|(a, b)| (a - b).abs() < 1e-9), "{cells:?}");
    }
    for text in [
        "min;slate\n0;21,5\n1;73 °F\n2;24,5\n",
        "min;slate\n0;21,5 °C\n1;73 °F\n2;24,5 °C\n",
        "min;slate (°C)\n0;21,5\n1;296 K\n2;24,5\n",
    ] {
        let error = refuse(text);
        let placed = matches!(
            error,
            TableError::OtherUnit {
                line: 3,
                column: 2,
                unit: "°C",
                ..
            }
        );
        assert!(placed, "{error}");
    }
}

#[test]
fn titles_and_other_letters_are_read_and_said() {
    // ISO 8859-1: 0xB0 is the degree sign, 0xFC u with diaeresis.
    let text = b"Lamp lab, bench 3\r\n\r\nZeit / min;Schiefer / \xb0C;Gr\xfcn\r\n0;21,5;20\r\n3;25;\r\n6;x;20,5\r\n";
    let read = read_table(text.as_slice()).unwrap();
    let names: Vec<&str> = read
        .series
        .channels
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    assert_eq!(names, ["Schiefer", "Grün"]);
    assert_eq!(read.series.t_s, [0.0, 180.0, 360.0]);
    let said: Vec<String> = read.warnings.iter().map(ToString::to_string).collect();
    assert_eq!(
        said,
        [
            "1 line was skipped above the headings; the headings are in line 3.",
            "The text is not UTF-8; it was read as windows-1252 (Latin-1 and what is added to it).",
            "Schiefer / °C: 1 cell is not a number and counts as missing (first in line 6).",
        ]
    );
    let columns: Vec<(&str, &str)> = read
        .columns
        .iter()
        .map(|c| (c.heading.as_str(), c.read.as_str()))
        .collect();
    assert_eq!(
        columns,
        [
            ("Zeit / min", "times in minutes"),
            ("Schiefer / °C", "temperatures of Schiefer in °C"),
            ("Grün", "temperatures of Grün in °C"),
        ]
    );
}

#[test]
fn a_line_without_an_end_is_refused_before_it_fills_the_memory() {
    let endless = b"minutes,slate\n0,".chain(std::io::repeat(b'9'));
    assert_eq!(
        read_table(endless),
        Err(TableError::LongLine {
            line: 2,
            limit: 1 << 20
        })
    );
}

#[test]
fn trouble_in_cells_is_counted_with_its_place() {
    let (series, warnings) = read(
        "minutes,slate,note\n0,20,a\n1,warm,b\n2,,c\n3,nan,d\n4,hot,e\nx,20,f\n5,20,g\n6,20,\n",
    );
    let texts: Vec<String> = warnings.iter().map(ToString::to_string).collect();
    assert_eq!(series.t_s.len(), 7);
    assert_eq!(
        texts,
        [
            "1 row has no usable time and was left out (first in line 7).",
            "slate: 2 cells are not numbers and count as missing (first in line 3).",
        ]
    );
}

#[test]
fn disorder_and_repeated_times_are_mended_aloud() {
    let (series, warnings) = read("minutes,slate\n0,20\n2,22\n1,21\n2,99\n3,23\n");
    assert_eq!(series.t_s, [0.0, 60.0, 120.0, 180.0]);
    assert_eq!(series.channels[0].degc, [20.0, 21.0, 22.0, 23.0]);
    assert_eq!(
        warnings,
        [
            Warning::Sorted { line: 4 },
            Warning::SameTime { count: 1, line: 5 }
        ]
    );
}

#[test]
fn what_has_two_readings_is_refused_with_its_place() {
    let place = |e: TableError| match e {
        TableError::AmbiguousNumber { line, column, .. }
        | TableError::MixedDecimals { line, column, .. } => (line, column),
        other => panic!("{other}"),
    };
    assert_eq!(place(refuse("minutes;slate\n0;20,5\n1;1.234,5\n")), (3, 2));
    assert_eq!(place(refuse("minutes,slate\n0,\"1,234.5\"\n")), (2, 2));
    assert_eq!(place(refuse("minutes;slate\n0;20,5\n1;20.5\n")), (3, 2));
    for (text, number) in [
        ("ms;slate\n0;21,5\n60.000;22,5\n", "60.000"),
        ("s,slate\n0,21.5\n\"1,560\",22.5\n", "1,560"),
    ] {
        let thousands =
            matches!(refuse(text), TableError::AmbiguousNumber { text, .. } if text == number);
        assert!(thousands, "{}", refuse(text));
    }
    assert!(matches!(
        refuse("minutes,slate\n0,5,20,5\n"),
        TableError::TooManyCells {
            line: 2,
            found: 4,
            expected: 2
        }
    ));
}

#[test]
fn what_is_no_table_is_refused_in_words() {
    assert_eq!(refuse(""), TableError::Empty);
    assert_eq!(refuse("\n\n"), TableError::Empty);
    assert_eq!(refuse("minutes,slate\n"), TableError::NoRows);
    assert_eq!(
        refuse("0,21.5,20.7\n1,22.5,20.9\n"),
        TableError::NoHeadings { line: 1 }
    );
    for text in [
        "time   slate   moss\n0   21.5   20.7\n",
        "| min | slate |\n| 0 | 21 |\n",
    ] {
        let error = refuse(text).to_string();
        assert!(error.contains("commas, semicolons or tabs"), "{error}");
    }
    let error = refuse("slate_degc,moss_degc\n20,21\n");
    assert_eq!(
        error.to_string(),
        "line 1: no time column among: slate_degc, moss_degc"
    );
    assert!(matches!(
        refuse("minutes,note\n0,a\n1,b\n"),
        TableError::NoTemperatures { .. }
    ));
    let wide = vec!["x"; 300].join(",");
    assert!(matches!(
        refuse(&wide),
        TableError::TooManyColumns { columns: 300, .. }
    ));
    let open = format!("minutes,slate\n0,\"{}\n", "9\n".repeat(5000));
    assert!(matches!(refuse(&open), TableError::LongCell { .. }));
}

#[test]
fn one_or_two_rows_are_read_with_a_warning() {
    let (series, warnings) = read("minutes,slate\n0,20\n");
    assert_eq!(series.t_s.len(), 1);
    assert_eq!(warnings, [Warning::FewRows { rows: 1 }]);
}

#[test]
fn other_columns_are_left_out_aloud() {
    let (series, warnings) =
        read("minutes,slate,humidity (%),who\n0,20,50,Ada\n1,20,51,Ben\n2,20,51,Cy\n");
    assert_eq!(series.channels.len(), 1);
    assert_eq!(warnings.len(), 2);
    // How exactly somebody read, and a column that was made ready and never filled.
    for text in [
        "Zeit / min;Schiefer;Moos;Messfehler\n0;20;20;0,5\n1;21;20,5;0,5\n2;22;21;0,5\n",
        "Temps;Ardoise;Mousse;Moyenne\n0 min;20;20;\n1 min;21;20,5;\n2 min;22;21;\n",
        "min,slate,moss,± / °C\n0,20,20,0.5\n1,21,20.5,0.5\n2,22,21,0.5\n",
    ] {
        let (series, warnings) = read(text);
        assert_eq!(series.channels.len(), 2, "{text}");
        let [Warning::ColumnLeftOut { .. }] = &warnings[..] else {
            panic!("{text}: {warnings:?}");
        };
    }
    // A logger's column without a value is a dead probe.
    let (series, warnings) = read("elapsed_s,slate_degc,moss_degc\n0,20,\n1,21,\n2,22,\n");
    assert_eq!((series.channels.len(), warnings.len()), (2, 0));
}

proptest! {
    /// Any bytes at all: an answer or an error, and what is answered is a proper series.
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        if let Ok((series, _)) = table(&bytes) {
            prop_assert!(series.t_s.windows(2).all(|w| w[0] < w[1]));
        }
    }

    #[test]
    fn any_cells_under_good_headings_are_read_or_refused(
        rows in prop::collection::vec("[0-9.,;:\" \\-+eE#n\t]{0,12},[0-9.,;a\"-]{0,8}", 0..30),
    ) {
        let text = format!("minutes,slate\n{}\n", rows.join("\n"));
        if let Ok((series, _)) = table(text.as_bytes()) {
            prop_assert!(series.t_s.iter().all(|t| t.is_finite()));
            prop_assert!(series.t_s.windows(2).all(|w| w[0] < w[1]));
            prop_assert!(series.channels.iter().all(|c| c.degc.len() == series.t_s.len()));
        }
    }

    /// What we write, we read.
    #[test]
    fn numbers_written_plainly_come_back(values in prop::collection::vec(-40.0..150.0_f64, 3..40)) {
        let mut text = String::from("elapsed_s,slate_degc\n");
        for (i, v) in values.iter().enumerate() {
            let _ = writeln!(text, "{i}.000,{v}");
        }
        let (series, warnings) = table(text.as_bytes()).unwrap();
        prop_assert_eq!(warnings, []);
        prop_assert_eq!(&series.channels[0].degc, &values);
    }
}
