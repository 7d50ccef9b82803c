//! Numbers that are no sample's temperature: what boards write when a probe does not answer.
//!
//! -127 °C is what the libraries of digital probes give for no answer, others give 0 K or 9999 (common
//! practice, no source). One such row would be all that a graph shows, and bend what is fitted.

use super::column::Column;
use super::slips::{COLDEST_DEGC, HOTTEST_DEGC};
use crate::analysis::{RowsWarning, Warning};

/// Leaves out what no sample of a lesson can have, where most of its column is none of that or it is always the
/// same number, and says so.
pub(super) fn leave_absent_out(
    columns: &mut [Column],
    warnings: &mut Vec<Warning>,
    line: impl Fn(usize) -> u64,
) {
    for column in columns {
        let known = column.degc.iter().filter(|v| v.is_finite()).count();
        let is_none = |v: &f64| v.is_finite() && !(COLDEST_DEGC..=HOTTEST_DEGC).contains(v);
        let both = column.degc.iter().enumerate().filter(|(_, v)| is_none(v));
        let rows: Vec<usize> = both.map(|(row, _)| row).collect();
        let first = rows
            .first()
            .and_then(|row| Some((*row, *column.degc.get(*row)?)));
        let is_one_number = rows
            .iter()
            .all(|row| column.degc.get(*row) == first.map(|f| f.1).as_ref());
        let is_said = 2 * rows.len() < known || is_one_number;
        let Some((row, written)) = first.filter(|_| is_said) else {
            continue;
        };
        let lines: Vec<u64> = rows.iter().map(|row| line(*row)).collect();
        warnings.retain(|doubt| !is_told(doubt, &column.heading, &lines));
        warnings.push(
            RowsWarning::NoSample {
                column: column.heading.clone(),
                line: line(row),
                count: rows.len(),
                written,
            }
            .into(),
        );
        for row in rows {
            column.leave_out(row);
        }
    }
}

/// Whether a doubt is about one of these values.
fn is_told(doubt: &Warning, heading: &str, lines: &[u64]) -> bool {
    matches!(doubt, Warning::Slip { column, line, .. } | Warning::OffCurve { column, line, .. }
        if column == heading && lines.contains(line))
}

#[cfg(test)]
mod tests {
    use crate::analysis::read_table;

    fn read(degc: &[&str]) -> (Vec<f64>, Vec<String>) {
        let rows = degc.iter().enumerate();
        let rows: Vec<String> = rows.map(|(i, v)| format!("{i}.013,{v},20.{i}\n")).collect();
        let rows = rows.concat();
        let table =
            read_table(format!("elapsed_s,slate_degc,moss_degc\n{rows}").as_bytes()).unwrap();
        let said = table.warnings.iter().map(ToString::to_string).collect();
        let slate = table.series.channels.first().map(|c| c.degc.clone());
        (slate.unwrap_or_default(), said)
    }

    #[test]
    fn a_probe_that_does_not_answer_has_no_temperature() {
        let (degc, said) = read(&["20.1", "-127.0", "-127.0", "20.3", "20.4", "20.5", "20.6"]);
        assert_eq!(degc.iter().filter(|v| v.is_nan()).count(), 2);
        assert_eq!(said.len(), 1, "{said:?}");
        assert!(
            said[0].starts_with("slate_degc, 2 times from line 3 on: -127 °C"),
            "{said:?}"
        );
        let (degc, said) = read(&["20.1", "20.2", "9999", "20.3", "20.4", "20.5", "20.6"]);
        assert!(degc[2].is_nan() && degc[3] > 20.0);
        assert!(
            said[0].starts_with("slate_degc, line 4: 9999 °C"),
            "{said:?}"
        );
    }

    #[test]
    fn what_a_whole_column_has_stays() {
        let (degc, said) = read(&["-190", "-188", "-187", "-185", "-184", "20.5", "20.6"]);
        assert!(degc.iter().all(|v| v.is_finite()), "{said:?}");
        let (degc, said) = read(&["-127", "-127", "-127", "-127", "-127", "20.5", "20.6"]);
        assert_eq!(degc.iter().filter(|v| v.is_nan()).count(), 5, "{said:?}");
    }
}
