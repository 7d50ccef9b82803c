//! The text of a run's files.

use std::fmt::Write as _;
use std::io;

use serde_json::json;

use super::setup::RunSetup;
use super::table::Table;
use super::wall::WallClock;
use crate::analysis::Series;

/// Names of the files in a run's folder.
pub mod name {
    /// The rows.
    pub const READINGS: &str = "readings.csv";
    /// What describes the columns of the rows.
    pub const METADATA: &str = "readings.csv-metadata.json";
    /// The events.
    pub const EVENTS: &str = "events.csv";
    /// The lesson's table.
    pub const MARKS: &str = "marks.csv";
    /// A long run day by day.
    pub const DAYS: &str = "days.csv";
    /// The analysis.
    pub const SUMMARY: &str = "summary.json";
    /// Settings as asked and as found.
    pub const SETTINGS: &str = "run.toml";
}

/// The head of `readings.csv`.
pub(super) fn readings_head(slugs: &[String]) -> String {
    let mut head = String::from("elapsed_s,time_utc");
    for slug in slugs {
        let _ = write!(head, ",{slug}_degc");
    }
    head.push_str(",phase,flags\n");
    head
}

/// One line of `readings.csv`.
pub(super) fn readings_line(
    out: &mut String,
    elapsed_ms: i64,
    time_utc: &str,
    cells: impl Iterator<Item = (f64, u8)>,
    phase: &str,
    flags: &str,
) {
    let _ = write!(
        out,
        "{}.{:03},{time_utc}",
        elapsed_ms / 1000,
        elapsed_ms % 1000
    );
    for (degc, decimals) in cells {
        out.push(',');
        if degc.is_finite() {
            let start = out.len();
            let _ = write!(out, "{degc:.*}", usize::from(decimals));
            // A rounded -0.0 would print as "-0.0".
            if out.get(start..).is_some_and(|t| {
                t.starts_with('-') && !t.contains(['1', '2', '3', '4', '5', '6', '7', '8', '9'])
            }) {
                out.remove(start);
            }
        }
    }
    // Phase and flags are words of our own without commas or quotes.
    let _ = writeln!(out, ",{phase},{flags}");
}

/// One line of `events.csv`, quoted as RFC 4180 says where the text needs it.
pub(super) fn events_line(
    out: &mut String,
    elapsed_s: f64,
    time_utc: &str,
    kind: &str,
    channel: &str,
    detail: &str,
) {
    let _ = write!(out, "{elapsed_s:.3},{time_utc},{kind},");
    text_cell(out, channel);
    out.push(',');
    text_cell(out, detail);
    out.push('\n');
}

/// The head of `events.csv`.
pub(super) const EVENTS_HEAD: &str = "elapsed_s,time_utc,kind,channel,detail\n";

/// A cell of text that people or boards supplied: no control characters, quoted where needed, and
/// nothing that a spreadsheet would take for a formula.
fn text_cell(out: &mut String, text: &str) {
    let mut clean: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if clean.starts_with(['=', '+', '-', '@']) {
        clean.insert(0, '\'');
    }
    if clean.contains([',', '"']) {
        let _ = write!(out, "\"{}\"", clean.replace('"', "\"\""));
    } else {
        out.push_str(&clean);
    }
}

/// All of `readings.csv`, written row by row: a fortnight of rows is longer as text than as numbers.
///
/// # Errors
/// The system's.
pub(super) fn readings(
    out: &mut impl io::Write,
    series: &Series,
    table: &Table,
    slugs: &[String],
    time: &RunTime,
    phase: impl Fn(f64) -> &'static str,
) -> io::Result<()> {
    out.write_all(readings_head(slugs).as_bytes())?;
    let mut line = String::new();
    let mut flags = table.flags.iter().peekable();
    for (row, &t_s) in series.t_s.iter().enumerate() {
        // Made of whole milliseconds, which it still shows.
        let elapsed_ms = (t_s * 1000.0).round() as i64;
        let columns = series.channels.iter().zip(&table.columns);
        let cells = columns.map(|(channel, column)| {
            let degc = channel.degc.get(row).copied().unwrap_or(f64::NAN);
            (degc, column.decimals.get(row).copied().unwrap_or(0))
        });
        let flag = flags.next_if(|(flagged, _)| *flagged == row);
        line.clear();
        readings_line(
            &mut line,
            elapsed_ms,
            &time.utc(elapsed_ms),
            cells,
            phase(t_s),
            flag.map_or("", |(_, text)| text),
        );
        out.write_all(line.as_bytes())?;
    }
    Ok(())
}

/// The CSVW description of `readings.csv` (W3C Recommendation "Metadata Vocabulary for Tabular
/// Data", 2015; units by UCUM).
pub(super) fn metadata(
    setup: &RunSetup,
    names: &[String],
    slugs: &[String],
    began: &str,
) -> String {
    let column = |name: &str, title: &str, datatype: serde_json::Value, about: &str| json!({"name": name, "titles": title, "datatype": datatype, "dc:description": about});
    let mut columns = vec![
        json!({"name": "elapsed_s", "titles": "elapsed_s", "required": true,
            "datatype": {"base": "decimal", "minimum": "0"}, "schema:unitCode": "s",
            "dc:description": "Time since the start of the run, on a clock that no wall-clock change moves"}),
        column(
            "time_utc",
            "time_utc",
            json!("dateTime"),
            "Wall-clock time in UTC",
        ),
    ];
    for (slug, name) in slugs.iter().zip(names) {
        columns.push(json!({"name": format!("{slug}_degc"), "titles": format!("{slug}_degc"),
            "datatype": "decimal", "schema:unitCode": "Cel", "schema:name": name,
            "dc:description": format!("Temperature of the sample \"{name}\"; empty where there is no reading")}));
    }
    columns.push(column(
        "phase",
        "phase",
        json!({"base": "string", "format": "settling|heating|cooling"}),
        "What the lamp did, by the edges that were found; empty where none was found in the whole run",
    ));
    columns.push(column(
        "flags",
        "flags",
        json!("string"),
        "What is in doubt about this row",
    ));
    let description = json!({
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": name::READINGS,
        "dc:title": setup.name,
        "dc:created": {"@value": began, "@type": "xsd:dateTime"},
        "dc:source": super::JOURNAL,
        "schema:softwareVersion": setup.program,
        "dialect": {"encoding": "utf-8", "delimiter": ",", "header": true, "lineTerminators": ["\n"]},
        "tableSchema": {"columns": columns, "primaryKey": "elapsed_s"},
    });
    let mut text = serde_json::to_string_pretty(&description).unwrap_or_default();
    text.push('\n');
    text
}

/// Times of a run by its own clock, for lines that carry both.
#[derive(Debug, Clone, Default)]
pub(super) struct RunTime {
    pub(super) start_ns: i64,
    pub(super) wall: WallClock,
}

impl RunTime {
    /// Wall-clock time at so many ms of the run.
    pub(super) fn utc(&self, elapsed_ms: i64) -> String {
        self.wall.rfc3339(self.start_ns + elapsed_ms * 1_000_000)
    }

    pub(super) fn elapsed_s(&self, t_ns: i64) -> f64 {
        (t_ns - self.start_ns) as f64 / 1e9
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_of_text_are_quoted_and_cannot_be_formulas() {
        for (text, cell) in [
            ("port lost", "port lost"),
            ("a, \"b\"", "\"a, \"\"b\"\"\""),
            ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
            ("two\nlines\u{1b}[31m", "two lines [31m"),
        ] {
            let mut out = String::new();
            text_cell(&mut out, text);
            assert_eq!(out, cell);
        }
    }

    #[test]
    fn a_line_of_readings_is_as_the_contract_says() {
        let mut out = readings_head(&["slate".into(), "moss".into()]);
        let cells = [(23.4567, 3), (f64::NAN, 0), (-0.04, 1)].into_iter();
        readings_line(
            &mut out,
            12_034,
            "2026-03-14T10:32:05.123Z",
            cells,
            "heating",
            "moss:open",
        );
        assert_eq!(
            out,
            "elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n\
             12.034,2026-03-14T10:32:05.123Z,23.457,,0.0,heating,moss:open\n"
        );
    }
}
