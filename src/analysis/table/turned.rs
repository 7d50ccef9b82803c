//! Tables that lie on their side: times in one line, below it a line for each sample.

use csv::{Reader, ReaderBuilder, StringRecord, WriterBuilder};

use super::head::{Head, head};
use super::start::{decoded, is_time, separator};

/// A line of the table has its name and at least so many cells that hold something.
const FEWEST: usize = 2;

/// The same table with its rows and columns exchanged, separated by tabs; none if no line begins
/// like a heading of times and goes on with times.
pub(super) fn turned(text: &[u8]) -> Option<Vec<u8>> {
    let (text, _) = decoded(text);
    let separator = text.lines().map(str::trim).find_map(|line| {
        let separator = separator(line.as_bytes());
        let first = line.split(char::from(separator)).next()?;
        is_heading(first).then_some(separator)
    })?;
    let lines = lines(&text, separator);
    let times = lines.iter().position(is_line_of_times)?;
    // Lines above the first long one are titles.
    let is_long = |line: &StringRecord| filled(line) > FEWEST;
    let begin = lines.iter().position(is_long)?.min(times);
    let kept: Vec<&StringRecord> = lines.iter().skip(begin).filter(|l| is_long(l)).collect();
    let columns = kept.iter().map(|line| line.len()).max()?;
    let mut out = WriterBuilder::new()
        .delimiter(b'\t')
        .from_writer(Vec::new());
    for place in 0..columns {
        let cells = kept.iter().map(|line| line.get(place).unwrap_or_default());
        out.write_record(cells).ok()?;
    }
    out.into_inner().ok()
}

fn lines(text: &str, separator: u8) -> Vec<StringRecord> {
    let reader: Reader<&[u8]> = ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    reader.into_records().map_while(Result::ok).collect()
}

fn filled(line: &StringRecord) -> usize {
    line.iter().filter(|cell| !cell.trim().is_empty()).count()
}

fn is_heading(cell: &str) -> bool {
    let cell = cell.trim().trim_matches('"');
    matches!(head(cell), Head::Time { .. })
}

/// A heading of times, perhaps a cell with the unit, then times.
fn is_line_of_times(line: &StringRecord) -> bool {
    let mut cells = line.iter();
    let first = cells.next().unwrap_or_default();
    let times = cells.filter(|cell| is_time(cell.trim().as_bytes())).count();
    is_heading(first) && times >= FEWEST && filled(line) <= times + FEWEST
}

#[cfg(test)]
mod tests {
    use super::turned;

    #[track_caller]
    fn is_turned(text: &str, expected: Option<&str>) {
        let turned = turned(text.as_bytes()).map(|t| String::from_utf8(t).unwrap());
        assert_eq!(turned.as_deref(), expected, "{text:?}");
    }

    #[test]
    fn only_a_table_with_its_times_in_a_line_is_turned() {
        is_turned(
            "time (min),0,3,6\nslate,20.1,24.5,27\n\nmoss,20.0,22.2,\n",
            Some("time (min)\tslate\tmoss\n0\t20.1\t20.0\n3\t24.5\t22.2\n6\t27\t\n"),
        );
        // Titles, units in the second column, a decimal comma, the times below the samples.
        is_turned(
            "Bench 3;;;\nSchiefer;°C;20,1;24,5\nZeit;min;0;3\n",
            Some("Schiefer\tZeit\n°C\tmin\n20,1\t0\n24,5\t3\n"),
        );
        for other in [
            "time,slate\n0,20\n1,21\n2,22\n",
            "slate,20,21,22\nmoss,20,21,22\n",
            "time,soon,later,never\nslate,20,21,22\n",
            "",
        ] {
            is_turned(other, None);
        }
    }
}
