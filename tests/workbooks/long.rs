//! A month of rows.

use std::io::{Cursor, Read as _};

use duskmark::analysis::{Channel, Request, Series, analyse};

use super::program::run_of;

#[test]
fn a_month_at_one_row_a_second_is_three_sheets_of_rows() {
    let t_s: Vec<f64> = (0..30 * 86_400).map(f64::from).collect();
    let day = |t: f64| (t / 86_400.0 * std::f64::consts::TAU).sin();
    let channel = |name: &str, swing: f64| Channel {
        name: name.to_owned(),
        degc: t_s
            .iter()
            .map(|t| ((18.0 + swing * day(*t)) * 100.0).round() / 100.0)
            .collect(),
        resolution_degc: Some(0.01),
        u_common_degc: None,
    };
    let channels = vec![channel("slate", 9.0), channel("moss", 4.0)];
    let series = Series {
        t_s,
        channels,
        ..Series::default()
    };
    let summary = analyse(&Series::default(), &Request::default());
    let begun = std::time::Instant::now();
    let bytes = run_of(&series, &summary);
    println!(
        "{} bytes in {:.1} s",
        bytes.len(),
        begun.elapsed().as_secs_f64()
    );
    if let Ok(status) = std::fs::read_to_string("/proc/self/status") {
        println!(
            "{}",
            status
                .lines()
                .find(|l| l.starts_with("VmHWM"))
                .unwrap_or_default()
        );
    }
    let mut package = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut rows = Vec::new();
    for sheet in 4..=6 {
        let mut file = package
            .by_name(&format!("xl/worksheets/sheet{sheet}.xml"))
            .unwrap();
        let mut text = String::new();
        file.read_to_string(&mut text).unwrap();
        rows.push(text.matches("<row ").count());
        assert!(rows.last() <= Some(&1_048_576));
        assert!(text.ends_with("</worksheet>"));
    }
    assert_eq!(rows.iter().sum::<usize>(), series.t_s.len() + 3);
}
