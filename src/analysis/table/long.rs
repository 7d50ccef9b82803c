//! Tables with a line for each reading: its time, its sample's name, its temperature.

use csv::{ByteRecord, WriterBuilder};

use super::head::{Head, best_time, head};
use super::lines::Rows;
use super::number::{Cell, cell, with_unit};
use super::start::{decoded, is_time, start};

/// Most samples that are told apart by a name in each line.
const MOST: usize = 12;

/// Lines and times that such a table has at least.
const ROWS: usize = 6;

/// The table with its samples side by side, and the heading of the column with their names.
pub(super) struct Wide {
    pub(super) text: Vec<u8>,
    pub(super) column: String,
}

/// Which column is for what.
struct Places {
    time: usize,
    name: usize,
    value: usize,
}

/// One line of the table.
struct Reading {
    line: u64,
    time: String,
    name: String,
    value: String,
}

/// The same table with a column for each sample; none if it has not a line for each reading. Each time
/// stands in the line of its first reading.
pub(super) fn wide(text: &[u8]) -> Option<Wide> {
    let start = start(text);
    let table = text.get(start.skip..)?;
    let mut rows = Rows::new(table, &start);
    let mut record = ByteRecord::new();
    rows.read(&mut record).ok().filter(|any| *any)?;
    let texts = words(&record);
    let mut records = Vec::new();
    while rows.read(&mut record).ok()? {
        records.push((rows.line(&record), record.clone()));
    }
    let places = places(&texts, &records)?;
    let readings: Vec<Reading> = records
        .iter()
        .filter_map(|(line, record)| {
            let own = words(record);
            let at = |place: usize| own.get(place).filter(|text| !text.is_empty()).cloned();
            Some(Reading {
                line: *line,
                time: at(places.time)?,
                name: at(places.name)?,
                value: at(places.value).unwrap_or_default(),
            })
        })
        .collect();
    let text = side_by_side(&readings, &texts, &places, start.separator)?;
    let column = texts.get(places.name)?.clone();
    Some(Wide { text, column })
}

fn words(record: &ByteRecord) -> Vec<String> {
    let cells = record.iter();
    cells.map(|c| decoded(c).0.trim().to_owned()).collect()
}

/// One column of times, one of numbers, and one of a few names that come again.
fn places(texts: &[String], records: &[(u64, ByteRecord)]) -> Option<Places> {
    let heads: Vec<Head> = texts.iter().map(|text| head(text)).collect();
    let (time, _) = best_time(&heads)?;
    let cells = |place: usize| {
        let all = records.iter().filter_map(move |(_, r)| r.get(place));
        all.filter(|c| !c.trim_ascii().is_empty())
    };
    let number = |c: &[u8]| matches!(cell(c), Cell::Number(..)) || with_unit(c).is_some();
    let mut names = (None, 0);
    let mut values = (None, 0);
    for place in (0..texts.len()).filter(|place| *place != time) {
        let count = cells(place).count();
        let numbers = cells(place).filter(|c| number(c)).count();
        let mut different: Vec<&[u8]> = cells(place).collect();
        different.sort_unstable();
        different.dedup();
        let few = (2..=MOST).contains(&different.len()) && different.len() * 3 <= count;
        if numbers == 0 && few && count == cells(time).count() {
            names = (Some(place), names.1 + 1);
        } else if numbers * 2 > count && matches!(heads.get(place), Some(Head::Degrees { .. })) {
            values = (Some(place), values.1 + 1);
        }
    }
    let one = |found: (Option<usize>, usize)| found.0.filter(|_| found.1 == 1);
    let rows = cells(time).filter(|c| is_time(c)).count();
    let found = Places {
        time,
        name: one(names)?,
        value: one(values)?,
    };
    (rows >= ROWS).then_some(found)
}

/// Writes each time's readings in one line; none where a sample has two at one time, or where each time
/// has only one, as a remark in each line would.
fn side_by_side(
    readings: &[Reading],
    texts: &[String],
    places: &Places,
    separator: u8,
) -> Option<Vec<u8>> {
    let (mut names, mut times): (Vec<&str>, Vec<&str>) = (Vec::new(), Vec::new());
    let mut rows: Vec<(u64, Vec<Option<&str>>)> = Vec::new();
    for reading in readings {
        let known = names.iter().position(|name| *name == reading.name);
        let column = known.unwrap_or_else(|| {
            names.push(&reading.name);
            names.len() - 1
        });
        let known = times.iter().position(|time| *time == reading.time);
        let row = known.unwrap_or_else(|| {
            times.push(&reading.time);
            rows.push((reading.line, Vec::new()));
            times.len() - 1
        });
        let (_, values) = rows.get_mut(row)?;
        values.resize(values.len().max(column + 1), None);
        let slot = values.get_mut(column)?;
        if slot.replace(&reading.value).is_some() {
            return None;
        }
    }
    let both = rows.iter().filter(|(_, v)| v.iter().flatten().count() > 1);
    if 2 * both.count() < rows.len() {
        return None;
    }
    let heading = texts.get(places.value)?;
    let unit = match head(heading) {
        Head::Degrees { scale, stated, .. } if stated => format!(" ({})", scale.sign()),
        _ => String::new(),
    };
    let first = rows.first()?.0;
    let headings = names.iter().map(|name| format!("{name}{unit}"));
    let time = texts.get(places.time)?.clone();
    let mut text = b"\n".repeat(usize::try_from(first.saturating_sub(2)).ok()?);
    text.extend(written([time].into_iter().chain(headings), separator)?);
    let mut line = first;
    for ((at, values), time) in rows.iter().zip(&times) {
        // A line of nothing but a separator is passed over.
        for _ in line..*at {
            text.extend([separator, b'\n']);
        }
        let cells = values.iter().map(|value| value.unwrap_or_default());
        text.extend(written([*time].into_iter().chain(cells), separator)?);
        line = at + 1;
    }
    Some(text)
}

/// Cells as a line.
fn written<T: AsRef<[u8]>>(cells: impl Iterator<Item = T>, separator: u8) -> Option<Vec<u8>> {
    let mut out = WriterBuilder::new()
        .delimiter(separator)
        .from_writer(Vec::new());
    out.write_record(cells).ok()?;
    out.into_inner().ok()
}

#[cfg(test)]
mod tests {
    use super::super::read_table;
    use super::wide;

    #[test]
    fn readings_of_one_time_are_put_side_by_side() {
        let text = "min,tray,temperature (°F)\n0,slate,70.7\n0,moss,68\n1,slate,72.5\n1,moss,68.9\n\
                    2,slate,77\n2,moss,69.8\n3,slate,78.8\n";
        let table = read_table(text.as_bytes()).unwrap();
        let names: Vec<&str> = table
            .series
            .channels
            .iter()
            .map(|c| c.name.as_str())
            .collect();
        assert_eq!(names, ["slate", "moss"]);
        assert_eq!(table.series.t_s, [0.0, 60.0, 120.0, 180.0]);
        assert!((table.series.channels[1].degc[1] - 20.5).abs() < 1e-9);
        assert!(table.series.channels[1].degc[3].is_nan());
        let said: Vec<String> = table.warnings.iter().map(ToString::to_string).collect();
        assert_eq!(said.len(), 1, "{said:?}");
        assert!(said[0].contains("\"tray\""), "{said:?}");
    }

    #[test]
    fn a_reading_is_told_in_its_own_line() {
        let mut text = String::from("Bench 3\r\nmin,tray,temperature\r\n");
        for minute in 0..12 {
            let slate = if minute == 6 {
                260.0
            } else {
                20.0 + f64::from(minute)
            };
            text.push_str(&format!(
                "{minute},slate,{slate:.1}\r\n{minute},moss,20.5\r\n"
            ));
        }
        let table = read_table(text.as_bytes()).unwrap();
        let said: Vec<String> = table.warnings.iter().map(ToString::to_string).collect();
        assert!(said.join(" ").contains("slate, line 15: 260"), "{said:?}");
    }

    #[test]
    fn one_sample_after_the_other_too() {
        let text = "time;Probe;Temperatur\n0;Schiefer;21,5\n60;Schiefer;22,5\n120;Schiefer;24,0\n\
                    0;Moos;20,0\n60;Moos;20,5\n120;Moos;21,5\n";
        let wide = wide(text.as_bytes()).unwrap();
        let text = String::from_utf8(wide.text).unwrap();
        assert_eq!(
            text,
            "time;Schiefer;Moos\n0;21,5;20,0\n60;22,5;20,5\n120;24,0;21,5\n"
        );
    }

    #[test]
    fn remarks_and_phases_are_no_samples() {
        for text in [
            "min,lamp,slate\n0,off,20\n1,off,20\n2,on,21\n3,on,22\n4,on,23\n5,off,22\n6,off,21\n",
            "min,lamp,slate\n0,off,20\n0,off,20\n2,on,21\n2,on,22\n4,on,23\n4,off,22\n6,off,21\n",
            "min,who,slate,moss\n0,Ada,20,20\n0,Ben,20,20\n1,Ada,21,20\n1,Ben,21,20\n2,Ada,22,21\n2,Ben,22,21\n",
        ] {
            assert!(wide(text.as_bytes()).is_none(), "{text}");
        }
    }
}
