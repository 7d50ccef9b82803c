//! A run's rows in long form: a line for each row and sample.

use std::io::{self, Write};

use super::Run;
use super::columns::Value;
use super::table::{About, CHANNEL, Layout, PHASE, RUN, SAMPLE, Table};
use crate::follow::RowSeen;

/// Rows that are turned into lines at a time.
const BLOCK: usize = 4096;

/// A line for each row and sample.
pub(super) const READINGS: Layout = Layout {
    format: "duskmark-readings-1",
    columns: &[
        RUN,
        SAMPLE,
        CHANNEL,
        About::number(
            "elapsed_s",
            "s",
            "Time since the run's start, on a clock that no wall-clock change moves",
        ),
        About::instant("time_utc", "Wall-clock time in UTC"),
        About::number("degc", "Cel", "Temperature; none where there is no reading"),
        PHASE,
        About::text(
            "flags",
            "What is in doubt, of this sample or of the row, separated by spaces",
        ),
    ],
};

/// Adds rows, all of one sample before those of the next: like beside like packs best.
fn add(
    table: &mut Table<'_>,
    run: &str,
    samples: &[String],
    rows: &[(i64, RowSeen)],
) -> io::Result<()> {
    for (channel, sample) in samples.iter().enumerate() {
        for (ms, row) in rows {
            let degc = row.cells.get(channel).and_then(|cell| cell.parse().ok());
            table.line([
                Value::Text(run),
                Value::Text(sample),
                Value::Count(channel + 1),
                Value::Number(Some(*ms as f64 / 1000.0)),
                Value::Instant(&row.utc),
                Value::Number(degc),
                Value::Text(&row.phase),
                Value::Text(&flags_of(&row.flags, sample, samples)),
            ])?;
        }
    }
    Ok(())
}

/// Flags of a row that are about a sample, without its name, and those about the whole row.
fn flags_of(flags: &str, sample: &str, samples: &[String]) -> String {
    let own = flags
        .split(' ')
        .filter_map(|flag| match flag.split_once(':') {
            Some((about, doubt)) if about == sample => Some(doubt),
            Some((about, _)) if samples.iter().any(|other| other == about) => None,
            _ => Some(flag).filter(|flag| !flag.is_empty()),
        });
    own.collect::<Vec<_>>().join(" ")
}

/// Hands out rows block by block; gives their number.
fn blocks(
    run: &mut Run,
    mut block: impl FnMut(&[(i64, RowSeen)]) -> io::Result<()>,
) -> io::Result<u64> {
    let (mut held, mut count) = (Vec::with_capacity(BLOCK), 0);
    for row in run.rows() {
        held.push(row?);
        count += 1;
        if held.len() == BLOCK {
            block(&held)?;
            held.clear();
        }
    }
    if !held.is_empty() {
        block(&held)?;
    }
    Ok(count)
}

/// Writes all rows; gives their number.
pub(super) fn parquet(run: &mut Run, table: &mut Table<'_>) -> io::Result<u64> {
    let (id, samples) = (run.id.clone(), run.samples.clone());
    blocks(run, |rows| add(table, &id, &samples, rows))
}

/// The same as CSV, with site, date and bench in front, and with the digits as they were logged.
pub(super) fn csv(run: &mut Run, site: &str, out: &mut impl Write) -> io::Result<u64> {
    let before = format!("{site},{},{},{}", run.date(), run.bench, run.id);
    let samples = run.samples.clone();
    writeln!(
        out,
        "site,date,bench,run,sample,channel,elapsed_s,time_utc,degc,phase,flags"
    )?;
    let mut count = 0;
    for row in run.rows() {
        let (ms, row) = row?;
        count += 1;
        for (channel, sample) in samples.iter().enumerate() {
            let degc = row.cells.get(channel).map_or("", String::as_str);
            let flags = flags_of(&row.flags, sample, &samples);
            writeln!(
                out,
                "{before},{sample},{},{}.{:03},{},{degc},{},{flags}",
                channel + 1,
                ms / 1000,
                ms % 1000,
                row.utc,
                row.phase,
            )?;
        }
    }
    Ok(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flags_go_to_the_sample_that_they_are_about() {
        let samples = ["slate".to_owned(), "moss".to_owned()];
        let flags = "lost:3 moss:open skewed moss:stuck";
        assert_eq!(flags_of(flags, "slate", &samples), "lost:3 skewed");
        assert_eq!(
            flags_of(flags, "moss", &samples),
            "lost:3 open skewed stuck"
        );
        assert_eq!(flags_of("", "moss", &samples), "");
    }
}
