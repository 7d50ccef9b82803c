//! Tables below one another on one sheet: headings that come again, perhaps with a title above them.
//!
//! What is below the same headings goes on with the table above where its times do, or where its
//! temperatures begin where those above ended: a watch was started anew. Else it is a table of its own, of
//! another group, or of another sample if only its title names that.

use csv::ByteRecord;

use super::head::{Head, head};
use super::side::begin;
use super::start::{Start, decoded, is_time};
use super::title::NOTHING;
use super::work::Work;
use crate::analysis::{TableError, Warning};

/// Most tables below one another.
const MOST: usize = 32;

/// Most lines above headings that are held back, since they may be titles.
const TITLES: usize = 3;

/// Longest title that is read, in bytes.
const LONGEST: usize = 200;

/// A second part goes on where its first values are nearer than this part to the last ones above, of what
/// they are from the first ones.
const NEARER: f64 = 0.5;

/// Where the first and the last values above are nearer than this part of their range, all is over.
const OVER: f64 = 0.3;

/// The tables of a file, one below another.
pub(super) struct Stack {
    blocks: Vec<Block>,
    held: Vec<(ByteRecord, u64)>,
}

/// One of them, perhaps several beside each other.
struct Block {
    texts: Vec<String>,
    title: Option<String>,
    works: Vec<Work>,
    warnings: Vec<Warning>,
}

impl Stack {
    /// For a file that begins with these headings.
    pub(super) fn new(
        text: &[u8],
        start: &Start,
        texts: Vec<String>,
        line: u64,
    ) -> Result<Self, TableError> {
        let mut warnings = Vec::new();
        let works = begin(texts.clone(), line, &mut warnings)?;
        let first = Block {
            texts,
            title: title(text, start),
            works,
            warnings,
        };
        Ok(Self {
            blocks: vec![first],
            held: Vec::new(),
        })
    }

    /// Takes one row of the file.
    pub(super) fn row(&mut self, record: &ByteRecord, line: u64) -> Result<(), TableError> {
        let mut filled = record.iter().filter(|c| !c.trim_ascii().is_empty());
        let Some(first) = filled.next() else {
            return Ok(());
        };
        // Nearly all rows begin with a number.
        let words = !first.trim_ascii_start().starts_with(b"-")
            && !first
                .trim_ascii_start()
                .iter()
                .take(1)
                .all(u8::is_ascii_digit);
        if words && filled.next().is_none() && self.held.len() < TITLES && !is_time(first) {
            self.held.push((record.clone(), line));
            return Ok(());
        }
        if words
            && self.blocks.len() < MOST
            && let Some(texts) = self.headings(record)
        {
            return self.begin(texts, line);
        }
        self.give_back()?;
        self.take(record, line)
    }

    /// Rows that were held back are rows.
    fn give_back(&mut self) -> Result<(), TableError> {
        for (record, line) in std::mem::take(&mut self.held) {
            self.take(&record, line)?;
        }
        Ok(())
    }

    fn take(&mut self, record: &ByteRecord, line: u64) -> Result<(), TableError> {
        let last = self.blocks.last_mut();
        for work in last.into_iter().flat_map(|block| &mut block.works) {
            work.row(record, line)?;
        }
        Ok(())
    }

    /// Headings, if a row is such with the same heading of times as the first ones; those themselves if
    /// only their units are left out.
    fn headings(&self, record: &ByteRecord) -> Option<Vec<String>> {
        let first = self.blocks.first()?;
        let place = first.works.first()?.time_place;
        let texts: Vec<String> = record.iter().map(text).collect();
        let alike = |own: &str, other: &str| {
            let unit = own.strip_prefix(other);
            unit.is_some_and(|unit| unit.is_empty() || !other.is_empty() && unit.starts_with(" ("))
        };
        if !alike(first.texts.get(place)?, texts.get(place)?) || texts.get(place)?.is_empty() {
            return None;
        }
        let filled = || texts.iter().filter(|text| !text.is_empty());
        let degrees = |text: &String| matches!(head(text), Head::Degrees { .. });
        if filled().any(|text| is_time(text.as_bytes())) || !filled().any(degrees) {
            return None;
        }
        let width = first.texts.len().max(texts.len());
        let at = |all: &[String], place: usize| all.get(place).cloned().unwrap_or_default();
        let same = (0..width).all(|i| alike(&at(&first.texts, i), &at(&texts, i)));
        Some(if same { first.texts.clone() } else { texts })
    }

    /// Begins another table.
    fn begin(&mut self, texts: Vec<String>, line: u64) -> Result<(), TableError> {
        let mut warnings = Vec::new();
        let Ok(mut works) = begin(texts.clone(), line, &mut warnings) else {
            return self.give_back();
        };
        let titles = std::mem::take(&mut self.held);
        let title = titles.last().and_then(|(record, _)| {
            let mut filled = record.iter().map(text).filter(|text| !text.is_empty());
            filled.next()
        });
        for (place, work) in works.iter_mut().enumerate() {
            work.below = Some(line);
            work.less(self.blocks.iter().flat_map(|block| &block.works));
            // Dates count from the first row of all.
            let above = self.blocks.iter().rev().find(|block| block.texts == texts);
            if let Some(above) = above.and_then(|block| block.works.get(place)) {
                work.times = above.times.clone();
            }
        }
        self.blocks.push(Block {
            texts,
            title,
            works,
            warnings,
        });
        Ok(())
    }

    /// All tables, those that go on put together.
    pub(super) fn tables(mut self, warnings: &mut Vec<Warning>) -> Result<Vec<Work>, TableError> {
        self.give_back()?;
        let mut kept: Vec<Block> = Vec::new();
        for block in self.blocks {
            let any = block.works.iter().any(|work| !work.t_s.is_empty());
            if let Some(above) = kept.last_mut() {
                if !any {
                    continue;
                }
                if above.texts == block.texts && goes_on(&above.works, &block.works) {
                    for (work, more) in above.works.iter_mut().zip(block.works) {
                        work.append(more);
                    }
                    continue;
                }
            }
            kept.push(block);
        }
        name(&mut kept);
        let mut works = Vec::new();
        for block in kept {
            for doubt in block.warnings {
                if !warnings.contains(&doubt) {
                    warnings.push(doubt);
                }
            }
            works.extend(block.works);
        }
        Ok(works)
    }
}

/// Text of a cell of headings.
fn text(cell: &[u8]) -> String {
    let (text, _) = decoded(cell.get(..LONGEST.min(cell.len())).unwrap_or_default());
    text.trim().to_owned()
}

/// The title right above the first headings: a line with one filled cell.
fn title(bytes: &[u8], start: &Start) -> Option<String> {
    let end = start.above.map_or(start.skip, |(at, _)| at);
    let lines = bytes.get(..end)?.split(|b| matches!(b, b'\n' | b'\r'));
    let mut filled = lines.filter(|line| !line.trim_ascii().is_empty());
    let cells = filled.next_back()?.split(|b| *b == start.separator);
    let mut cells = cells.map(text).filter(|text| !text.is_empty());
    let only = cells.next().filter(|_| cells.next().is_none())?;
    Some(only.trim_matches('"').trim().to_owned())
}

/// Whether a table goes on with the one above it, which has the same headings.
fn goes_on(above: &[Work], below: &[Work]) -> bool {
    let mut pairs = above.iter().zip(below);
    pairs.all(|(above, below)| {
        let ends = above.t_s.last().zip(below.t_s.first());
        let Some((last_s, first_s)) = ends else {
            return true;
        };
        first_s > last_s || is_where_it_ended(above, below)
    })
}

/// Whether the first temperatures below are rather the last ones above than the first ones.
fn is_where_it_ended(above: &Work, below: &Work) -> bool {
    let (mut to_last, mut to_first, mut changed, mut range) = (0.0, 0.0, 0.0, 0.0);
    for (above, below) in above.columns.iter().zip(&below.columns) {
        let known = above.degc.iter().copied().filter(|v| v.is_finite());
        let own = below.degc.iter().copied().find(|v| v.is_finite());
        let low = known.clone().fold(f64::INFINITY, f64::min);
        let high = known.clone().fold(f64::NEG_INFINITY, f64::max);
        let ends = known.clone().next().zip(known.clone().next_back());
        let Some(((first, last), own)) = ends.zip(own) else {
            continue;
        };
        to_last += (own - last).abs();
        to_first += (own - first).abs();
        changed += (last - first).abs();
        range += high - low;
    }
    changed > OVER * range && to_last < NEARER * to_first
}

/// Gives each table's only column the table's title as name, where the headings say no more than that
/// these are temperatures.
fn name(blocks: &mut [Block]) {
    let only = |block: &Block| match &block.works[..] {
        [work] => match &work.columns[..] {
            [column] => NOTHING.contains(&column.key().as_str()),
            _ => false,
        },
        _ => false,
    };
    let titles: Vec<String> = blocks.iter().filter_map(|b| b.title.clone()).collect();
    let mut different = titles.clone();
    different.sort();
    different.dedup();
    if blocks.len() < 2 || different.len() < blocks.len() || !blocks.iter().all(only) {
        return;
    }
    for (block, title) in blocks.iter_mut().zip(&titles) {
        for column in block.works.iter_mut().flat_map(|work| &mut work.columns) {
            column.call(title.trim_end_matches([':', '.']).trim());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Table;
    use super::super::testing::read;

    fn names(table: &Table) -> Vec<&str> {
        let channels = table.series.channels.iter();
        channels.map(|c| c.name.as_str()).collect()
    }

    const ONE: &str = "0;22;21\n1;25;23\n2;27;24\n3;25;23\n4;23;22\n";
    const TWO: &str = "0;21,5;21\n1;25,5;23,2\n2;27,2;24,4\n3;25,1;23,1\n4;23,2;22,3\n";

    #[test]
    fn a_second_group_below_is_left_out_aloud() {
        for between in ["\nGruppe 2;;\n", "\n", "", "\nGruppe 2\nMontag\n"] {
            let heads = "Zeit (min);Schiefer (°C);Moos (°C)\n";
            let text = format!("Gruppe 1\n{heads}{ONE}{between}{heads}{TWO}");
            let (table, said) = read(&text);
            assert_eq!(names(&table), ["Schiefer", "Moos"]);
            assert_eq!(
                table.series.channels[0].degc,
                [22.0, 25.0, 27.0, 25.0, 23.0]
            );
            let line = 8 + between.matches('\n').count();
            assert!(said.contains(&format!("from line {line} on")), "{said}");
            assert!(!said.contains("no usable time"), "{said}");
        }
    }

    #[test]
    fn a_table_for_each_sample_is_named_by_its_title() {
        let heads = "Zeit / min;Temperatur / °C\n";
        let (table, said) = read(&format!(
            "Schiefer\n{heads}0;22,1\n1;25,3\n2;27,2\n\nMoos:;\n{heads}0;21,8\n1;23,9\n2;24,9\n"
        ));
        assert_eq!(names(&table), ["Schiefer", "Moos"], "{said}");
        assert_eq!(table.series.t_s, [0.0, 60.0, 120.0]);
        assert_eq!(table.series.channels[1].degc, [21.8, 23.9, 24.9]);
        // By its heading.
        let (table, said) =
            read("min;Schiefer\n0;22,1\n1;25,3\n2;27,2\n\nmin;Moos\n0;21,8\n1;23,9\n2;24,9\n");
        assert_eq!(
            (names(&table), said.as_str()),
            (vec!["Schiefer", "Moos"], "")
        );
        // By nothing: only the first is read, and that is said.
        let (table, said) = read(&format!(
            "{heads}0;22,1\n1;25,3\n2;27,2\n{heads}0;21,8\n1;23,9\n2;24,9\n"
        ));
        assert_eq!(names(&table), ["Temperatur"]);
        assert!(said.contains("from line 5 on"), "{said}");
    }

    #[test]
    fn headings_that_are_written_again_on_a_new_page_change_nothing() {
        for (times, heads) in [
            (["0", "1", "2", "3", "4", "5"], "min;slate;moss\n"),
            (
                ["10:00", "10:01", "10:02", "10:03", "10:04", "10:05"],
                "Uhrzeit;slate;moss\n",
            ),
            (
                [
                    "1.3.2026 10:00",
                    "1.3.2026 10:01",
                    "1.3.2026 10:02",
                    "1.3.2026 10:03",
                    "1.3.2026 10:04",
                    "1.3.2026 10:05",
                ],
                "Datum;slate;moss\n",
            ),
        ] {
            let rows: Vec<String> = times
                .iter()
                .enumerate()
                .map(|(i, time)| format!("{time};{};2{i}\n", 22 + i))
                .collect();
            let (once, _) = read(&format!("{heads}{}", rows.concat()));
            let (above, below) = rows.split_at(3);
            let (again, said) = read(&format!(
                "{heads}{}\npage 2\n{heads}{}",
                above.concat(),
                below.concat()
            ));
            assert_eq!(again.series, once.series, "{said}");
            assert_eq!(again.warnings, once.warnings, "{said}");
        }
    }

    #[test]
    fn a_remark_between_rows_is_no_table() {
        let (table, said) = read("min;slate;moss\n0;22;21\nLamp on\n1;25;23\n2;27;24\nLamp off\n");
        assert_eq!(table.series.t_s.len(), 3);
        assert!(said.contains("2 rows have no usable time"), "{said}");
        assert!(said.contains("line 3"), "{said}");
    }
}
