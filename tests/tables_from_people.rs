//! Tables that `analyse` is given: as people and other programs write them, good and bad.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use support::nine::{NINE, analyse, nine, summary};
use support::program::run;

const HAND_TIMED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/hand-timed.csv");

#[test]
fn a_hand_timed_table_gets_an_honest_interval() {
    let table = nine("time_min,slate_degc,moss_degc", |t, a, b| {
        format!("{t},{a},{b}")
    });
    let (found, _) = summary(table.as_bytes());
    let off = found["lamp"]
        .as_array()
        .unwrap()
        .iter()
        .find(|edge| edge["edge"] == "off")
        .unwrap_or_else(|| panic!("no lamp-off in {found:#}"));
    let at = |key: &str| off[key].as_f64().unwrap();
    // The lamp went off at the twelfth minute; rows are three minutes apart.
    assert!((at("at_s") - 720.0).abs() < 60.0, "{off}");
    assert!(at("low_s") <= 720.0 && 720.0 <= at("high_s"), "{off}");
    assert!(at("high_s") - at("low_s") > 4.0, "a false precision: {off}");
}

#[test]
fn what_people_wrote_at_the_marks_is_the_table_at_the_marks() {
    // Invented. The lamp went on as the first row was read, or soon after: the program says 11 s.
    let text = std::fs::read_to_string(HAND_TIMED).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let said = run(
        folder.path(),
        &["analyse", "--json", "--marks", "2m", HAND_TIMED],
    );
    let found: serde_json::Value = serde_json::from_str(&said.done().out).unwrap();
    let marks = found["marks"].as_array().unwrap();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    assert_eq!(marks.len(), rows.len());
    for (mark, row) in marks.iter().zip(&rows) {
        assert_eq!(mark["at_s"].as_f64(), Some(60.0 * row[0]));
        for (channel, written) in row[1..].iter().enumerate() {
            assert_eq!(mark["degc"][channel].as_f64(), Some(*written), "{mark}");
        }
    }
    let doubts = found["warnings"].to_string();
    assert!(!doubts.contains("no value at the mark"), "{doubts}");
}

#[test]
fn slips_of_the_pen_are_pointed_out_and_spoil_nothing_else() {
    let mut lines: Vec<String> = NINE
        .iter()
        .map(|(t, a, b)| format!("{t:.0},{a:.1},{b:.1}"))
        .collect();
    let (t, a, b) = NINE[3];
    lines[3] = format!("{t:.0},{:.0},{b:.1}", a * 10.0);
    let (found, warnings) =
        summary(format!("time_min,slate,moss\n{}\n", lines.join("\n")).as_bytes());
    let asked = format!(
        "slate, line 5: {:.0} is far from all others; is it {a:.1}?",
        a * 10.0
    );
    assert!(warnings.contains(&asked), "{warnings}");
    // What was plainly meant otherwise spoils nothing else: the lamp and the rise are as ever.
    let mark = found["marks"][3]["degc"][0].as_f64().unwrap();
    assert!((mark - a).abs() < 1.0, "{mark}, not {a}");
    assert_eq!(
        found["lamp"].as_array().unwrap().len(),
        2,
        "{}",
        found["lamp"]
    );
    assert!(
        found["samples"][0]["u"]["rise_degc"].as_f64().unwrap() < 0.3,
        "{found:#}"
    );
    let degf = |degc: f64| degc * 1.8 + 32.0;
    let (_, warnings) = summary(
        nine("time_min,slate,moss", |t, a, b| {
            format!("{t:.0},{:.1},{:.1}", degf(a), degf(b))
        })
        .as_bytes(),
    );
    for name in ["slate", "moss"] {
        let asked = format!("{name}: these numbers were read as °C and look like °F");
        assert!(warnings.contains(&asked), "{warnings}");
    }
}

/// Newton's law of cooling, in closed form: slate and moss every two minutes, lit for ten, in tenths.
fn newton(change: impl Fn(&mut Vec<[f64; 2]>)) -> String {
    let degc = |most: f64, tau_min: f64, t_min: f64| {
        let lit = 1.0 - (-f64::min(t_min, 10.0) / tau_min).exp();
        let degc = 22.0 + most * lit * (-(t_min - 10.0).max(0.0) / tau_min).exp();
        (degc * 10.0).round() / 10.0
    };
    let minutes = (0..11).map(|row| 2.0 * f64::from(row));
    let mut rows: Vec<[f64; 2]> = minutes
        .map(|t| [degc(12.0, 4.0, t), degc(6.0, 3.0, t)])
        .collect();
    change(&mut rows);
    let rows = rows.iter().enumerate();
    let lines = rows.map(|(row, [a, b])| format!("{},{a:.1},{b:.1}\n", 2 * row));
    format!("time (min),slate,moss\n{}", lines.collect::<String>())
}

/// What somebody did to the rows of a table.
type Slip = fn(&mut Vec<[f64; 2]>);

#[test]
fn a_slip_of_ten_degrees_or_swapped_columns_spoil_nothing_else() {
    let (sound, warnings) = summary(newton(|_| {}).as_bytes());
    assert!(!warnings.contains("line "), "{warnings}");
    let slips: [(Slip, &str); 5] = [
        (|rows| rows[3][0] += 10.0, "slate, line 5: "),
        (|rows| rows[7][1] -= 10.0, "moss, line 9: "),
        (|rows| rows[4][0] += 5.0, "slate, line 6: "),
        (
            |rows| rows[2].reverse(),
            "Line 4: the values of slate and moss",
        ),
        (|rows| rows[2] = rows[1], "Line 4 repeats"),
    ];
    for (slip, said) in slips {
        let (found, warnings) = summary(newton(slip).as_bytes());
        assert!(warnings.contains(said), "{said}: {warnings}");
        for (edge, wanted) in found["lamp"]
            .as_array()
            .unwrap()
            .iter()
            .zip(sound["lamp"].as_array().unwrap())
        {
            assert_eq!(edge["edge"], wanted["edge"], "{said}");
            let apart = edge["at_s"].as_f64().unwrap() - wanted["at_s"].as_f64().unwrap();
            assert!(apart.abs() < 30.0, "{said}: {edge}, not {wanted}");
        }
        assert_eq!(found["lamp"].as_array().unwrap().len(), 2, "{said}");
    }
}

#[test]
fn times_that_cannot_be_read_are_quoted() {
    analyse(b"time,slate\nbegin,22.0\nlater,25.2\n").failed_with(
        1,
        &["table.csv", "line 2", "\"begin\"", "time (min)", "1:30"],
    );
}

#[test]
fn first_rates_of_few_rows_are_those_of_newtons_law() {
    // Newton's law of cooling, in closed form: 12 and 6 degC with time constants of 4 and 3 min, so
    // first rates of 3 and 2 degC/min both ways, every two minutes, in tenths.
    let (lit_min, rows) = (10.0, 11);
    let degc = |most: f64, tau_min: f64, t_min: f64| {
        let lit = 1.0 - (-f64::min(t_min, lit_min) / tau_min).exp();
        22.0 + most * lit * (-(t_min - lit_min).max(0.0) / tau_min).exp()
    };
    let lines: Vec<String> = (0..rows)
        .map(|k| {
            let t_min = 2.0 * f64::from(k);
            let (slate, moss) = (degc(12.0, 4.0, t_min), degc(6.0, 3.0, t_min));
            format!("{t_min},{slate:.1},{moss:.1}")
        })
        .collect();
    let text = format!("time_min,slate,moss\n{}\n", lines.join("\n"));
    let (found, _) = summary(text.as_bytes());
    // The lamp went on as the first row was written, as it mostly does: that is no lamp that had been lit.
    let on = &found["lamp"][0];
    let at = |key: &str| on[key].as_f64().unwrap();
    assert_eq!(on["edge"], "on", "{on}");
    assert!(
        at("low_s") <= 0.0 && 0.0 <= at("high_s") && at("at_s").abs() < 20.0,
        "{on}"
    );
    let left = |most: f64, tau_min: f64| most * (1.0 - (-lit_min / tau_min).exp()) / tau_min;
    for (sample, heating, cooling) in [(0, 3.0, left(12.0, 4.0)), (1, 2.0, left(6.0, 3.0))] {
        let sample = &found["samples"][sample];
        for (key, rate) in [
            ("heating_rate_degc_per_min", heating),
            ("cooling_rate_degc_per_min", cooling),
        ] {
            let (value, u) = (&sample[key], &sample["u"][key]);
            let (value, u) = (value.as_f64().unwrap(), u.as_f64().unwrap());
            assert!(u < 0.35 * rate, "{key}: {value} ± {u}, not {rate}");
            assert!(
                (value - rate).abs() < 2.0 * u,
                "{key}: {value} ± {u}, not {rate}"
            );
        }
    }
}

#[test]
fn the_ratios_have_uncertainties_and_claim_no_heat_capacity() {
    let folder = tempfile::tempdir().unwrap();
    let said = run(folder.path(), &["analyse", HAND_TIMED]);
    let text = said
        .done()
        .out
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    for part in [
        "largest rise over smallest 1.995 ± 0.076",
        "their initial heating rates 1.31 ± 0.77",
        "initial rate = absorbed power per area / heat capacity per area",
        "cannot tell heat capacities apart",
    ] {
        assert!(text.contains(part), "{part:?} is missing in:\n{}", said.out);
    }
    // Without that ratio there is nothing to explain.
    let sill = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/demo-data/fortnight/readings.csv"
    );
    let said = run(folder.path(), &["analyse", sill]);
    assert!(!said.done().out.contains("heat capacit"), "{}", said.out);
}

#[test]
fn no_time_column_names_the_columns_that_are_there() {
    analyse(b"slate_degc,moss_degc\n22.1,21.9\n22.2,21.9\n")
        .failed_with(1, &["table.csv", "slate_degc", "moss_degc", "time"]);
}

#[test]
fn times_out_of_order_are_sorted_and_said() {
    let mut rows: Vec<String> = NINE
        .iter()
        .map(|(t, a, b)| format!("{t},{a},{b}"))
        .collect();
    rows.swap(2, 5);
    let (found, warnings) =
        summary(format!("time_min,slate,moss\n{}\n", rows.join("\n")).as_bytes());
    assert_eq!(found["rows"], 9);
    assert!(warnings.contains("not in order of time"), "{warnings}");
}

#[test]
fn repeated_times_are_said() {
    let table = nine("time_min,slate,moss", |t, a, b| format!("{t},{a},{b}")) + "24,99,99\n";
    let (found, warnings) = summary(table.as_bytes());
    assert_eq!(found["rows"], 9);
    assert!(
        warnings.contains("1 row repeats the time of another row"),
        "{warnings}"
    );
}

#[test]
fn grouped_digits_are_not_guessed_at() {
    let table = "elapsed_s;slate;moss\n0;22,1;21,9\n1.000;22,2;21,8\n2.000;22,3;21,8\n";
    let said = analyse(table.as_bytes());
    assert!(
        said.code == 1 || said.out.contains("not numbers") || said.out.contains("no usable time"),
        "{said:#?}"
    );
    let quoted = "elapsed_s,slate,moss\n0,22.1,21.9\n\"1,000\",22.2,21.8\n\"2,000\",22.3,21.8\n";
    let said = analyse(quoted.as_bytes());
    assert!(
        said.code == 1 || said.out.contains("not numbers") || said.out.contains("no usable time"),
        "{said:#?}"
    );
}

#[test]
fn cells_that_are_no_numbers_count_as_missing() {
    let table = nine("time_min,slate,moss", |t, a, b| match t as u32 {
        6 => format!("{t},n/a,{b}"),
        9 => format!("{t},,{b}"),
        15 => format!("{t},nan,{b}"),
        18 => format!("{t},1e999,{b}"),
        _ => format!("{t},{a},{b}"),
    });
    let (found, warnings) = summary(table.as_bytes());
    assert_eq!(found["rows"], 9);
    assert!(warnings.contains("1 cell is not a number"), "{warnings}");
}

#[test]
fn two_rows_and_no_rows_say_what_is_missing() {
    let (two, warnings) = summary(b"time_min,slate,moss\n0,22.1,21.9\n3,28.3,24.4\n");
    assert_eq!(two["rows"], 2);
    assert_eq!(two["lamp"].as_array().unwrap().len(), 0);
    assert_eq!(
        two["samples"][0]["time_constant_s"],
        serde_json::Value::Null
    );
    assert!(warnings.contains("2 rows"), "{warnings}");
    for nothing in [&b"time_min,slate,moss\n"[..], b""] {
        let said = analyse(nothing);
        assert_eq!(said.code, 1, "{said:#?}");
        assert!(said.err.contains("table.csv"), "{}", said.err);
    }
}

#[test]
fn binary_files_and_missing_files_are_refused_in_words() {
    let noise: Vec<u8> = (0..4000_u32)
        .map(|k| (k.wrapping_mul(2_654_435_761) >> 24) as u8)
        .collect();
    let said = analyse(&noise);
    assert_eq!(said.code, 1, "{said:#?}");
    assert!(
        !said.err.chars().any(|c| c.is_control() && c != '\n'),
        "{:?}",
        said.err
    );
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["analyse", "nowhere.csv"]).failed_with(1, &["nowhere.csv"]);
}

#[test]
fn several_inputs_are_each_answered() {
    let folder = tempfile::tempdir().unwrap();
    let table = nine("time_min,slate,moss", |t, a, b| format!("{t},{a},{b}"));
    std::fs::write(folder.path().join("a.csv"), &table).unwrap();
    std::fs::write(folder.path().join("b.csv"), &table).unwrap();
    let said = run(
        folder.path(),
        &["analyse", "--json", "a.csv", "missing.csv", "b.csv"],
    );
    assert_eq!(said.code, 1);
    assert_eq!(said.out.lines().count(), 2);
    assert!(said.err.contains("missing.csv"), "{}", said.err);
}
