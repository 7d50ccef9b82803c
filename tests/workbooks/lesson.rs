//! The workbook of one run.

use std::process::Command;

use calamine::Data;
use duskmark::analysis::{Request, analyse};

use super::program::{cells, computed_alike, converted, parts, run_of, tray};

#[test]
fn formulas_give_what_is_stored_beside_them() {
    let (mut series, _) = tray(["slate", "moss"], 1.0);
    // Marks without a value must not become zeros.
    for degc in &mut series.channels[1].degc[330..450] {
        *degc = f64::NAN;
    }
    let request = Request {
        marks_s: Some(60.0),
        ..Request::default()
    };
    let summary = analyse(&series, &request);
    computed_alike(&run_of(&series, &summary), 60);
}

#[test]
fn rises_and_ratios_are_those_of_the_summary() {
    let (series, summary) = tray(["slate", "moss"], 1.0);
    let all = cells(&run_of(&series, &summary));
    let find = |text: &str| {
        let found = all
            .iter()
            .find(|((sheet, ..), value)| sheet == "Results" && **value == *text);
        found.unwrap_or_else(|| panic!("{text}")).0.1
    };
    let number = |row: u32, column: u32| match all[&("Results".to_owned(), row, column)] {
        Data::Float(number) => number,
        ref other => panic!("{other:?}"),
    };
    let comparison = summary.comparison.as_ref().unwrap();
    for (text, column, expected) in [
        ("Rise / °C", 1, summary.samples[0].values.rise_degc.unwrap()),
        ("Rise / °C", 3, summary.samples[1].values.rise_degc.unwrap()),
        ("Fall / °C", 1, summary.samples[0].values.fall_degc.unwrap()),
        ("Ratio of the rises", 1, comparison.rise_ratio.unwrap()),
        (
            "Ratio of their initial heating rates",
            1,
            comparison.initial_rate_ratio.unwrap(),
        ),
    ] {
        // The summary's numbers are rounded to five decimals each.
        let found = number(find(text), column);
        assert!(
            (found - expected).abs() < 3e-5,
            "{text}: {found} {expected}"
        );
    }
}

#[test]
fn the_chart_survives_and_can_be_printed() {
    let (series, summary) = tray(["slate", "moss"], 1.0);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("lesson.xlsx"), run_of(&series, &summary)).unwrap();
    let saved = parts(&converted(
        folder.path(),
        "lesson.xlsx",
        "xlsx:Calc MS Excel 2007 XML",
    ));
    let chart = saved
        .iter()
        .find(|(name, _)| name.contains("charts/chart"))
        .expect("a chart")
        .1;
    // Two samples and the two edges of the lamp.
    assert_eq!(chart.matches("<c:ser>").count(), 4, "{chart}");
    for place in [
        "Rows!$C$2:$C$1321",
        "Rows!$D$2:$D$1321",
        "Rows!$B$2:$B$1321",
    ] {
        assert!(chart.replace("$Rows.", "Rows!").contains(place), "{place}");
    }
    let pdf = converted(folder.path(), "lesson.xlsx", "pdf");
    std::fs::write(folder.path().join("lesson.pdf"), pdf).unwrap();
    let text = Command::new("pdftotext")
        .arg(folder.path().join("lesson.pdf"))
        .arg("-")
        .output()
        .unwrap();
    let text = String::from_utf8(text.stdout).unwrap();
    for part in [
        "Temperature / °C",
        "Time / min",
        "lamp off",
        "Mean of heating",
    ] {
        assert!(text.contains(part), "{part}");
    }
    for fault in ["Err:", "#NAME?", "#REF!", "#DIV/0!", "#VALUE!"] {
        assert!(!text.contains(fault), "{fault}");
    }
}

#[test]
fn hostile_names_stay_text_through_another_program() {
    let names = ["=cmd|'/c calc'!A1", "@SUM(1;1) 🌿 <script>"];
    let (series, summary) = tray(names, 1.0);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("l.xlsx"), run_of(&series, &summary)).unwrap();
    let saved = converted(folder.path(), "l.xlsx", "xlsx:Calc MS Excel 2007 XML");
    let texts: Vec<String> = cells(&saved).values().map(ToString::to_string).collect();
    for name in names {
        assert!(texts.iter().any(|t| t == name), "{name}");
    }
    for (name, text) in parts(&saved) {
        for formula in text
            .split("<f")
            .skip(1)
            .filter_map(|f| f.split("</f>").next())
        {
            assert!(
                !formula.contains("cmd") && !formula.contains("SUM(1"),
                "{name}: {formula}"
            );
        }
    }
}
