//! Reference points from a file.

use std::path::Path;

use super::args::LawArg;
use crate::calibrate::Point;
use crate::cli::exit::{Code, Failure};
use crate::cli::text::printable;

/// Points of a file: CSV with the columns `reference_degc` and `ohm` or `reading_degc`.
pub(super) fn read_points(file: &Path, law: LawArg) -> Result<Vec<Point>, Failure> {
    let value = if law == LawArg::Line {
        "reading_degc"
    } else {
        "ohm"
    };
    let shown = printable(&file.display().to_string());
    let failed = |message: String| {
        Failure::new(Code::Failed, format!("{shown}: {message}")).advise(format!(
            "A file of points is CSV with the columns reference_degc and {value}."
        ))
    };
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_path(file)
        .map_err(|e| failed(e.to_string()))?;
    let heads = reader.headers().map_err(|e| failed(e.to_string()))?.clone();
    let place = |name: &str| {
        let found = heads
            .iter()
            .position(|head| head.trim_start_matches('\u{feff}') == name);
        found.ok_or_else(|| failed(format!("there is no column '{name}'")))
    };
    let (reference, value) = (place("reference_degc")?, place(value)?);
    let mut points = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| failed(e.to_string()))?;
        let line = record.position().map_or(0, csv::Position::line);
        let number = |at: usize| {
            let cell = record.get(at).unwrap_or_default();
            let number = cell.parse::<f64>();
            number.map_err(|_| failed(format!("line {line}: '{}' is no number", printable(cell))))
        };
        points.push(Point {
            reference_degc: number(reference)?,
            value: number(value)?,
        });
    }
    if points.is_empty() {
        return Err(failed("it holds no points".into()));
    }
    Ok(points)
}
