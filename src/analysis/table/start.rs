//! Where a table begins: its encoding, title lines above the headings, the separator.

use super::head::{Head, head};
use super::spoken::spoken;
use super::stamp::{TimeForm, form_of, seconds};
use super::title::NOTHING;
use super::units::is_unit;

/// So much of a file is looked at for its headings, in bytes.
pub(super) const LOOKED_AT: usize = 64 << 10;

/// Lines with text that are looked at for the headings.
const MOST_LINES: usize = 40;

/// Rows below the headings of which one must begin like a row of the table.
const ROWS: usize = 3;

/// Where and how a table begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Start {
    /// Bytes before the line of the headings, or of their units where those have a line of their own.
    pub(super) skip: usize,
    /// Lines before the line of the headings.
    pub(super) lines: u64,
    /// How many of them hold text.
    pub(super) titles: usize,
    /// Bytes before the line above that one, which belongs to the headings.
    pub(super) above: Option<(usize, Above)>,
    /// What separates the columns.
    pub(super) separator: u8,
    /// Whether lines end with CR LF, by the first one.
    pub(super) crlf: bool,
}

/// What a line right above the headings says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Above {
    /// The names; below are only their units.
    Names,
    /// What several columns have in common, if it is no title.
    Groups,
    /// Headings of which some are over several columns; below are the names of those.
    Over,
}

/// One line that holds text.
#[derive(Clone, Copy)]
struct Line<'a> {
    at: usize,
    number: u64,
    text: &'a [u8],
}

/// Finds the headings: the line that names a time and a temperature with a row next below it, else
/// the first that names them, else the first with text, about which the reader then complains.
pub(super) fn start(bytes: &[u8]) -> Start {
    let lines = lines(bytes);
    let headed: Vec<(usize, u8, usize)> = lines
        .iter()
        .enumerate()
        .filter_map(|(i, line)| {
            let separator = separator(line.text);
            Some((i, separator, time_place(line.text, separator)?))
        })
        .collect();
    // A title may look like headings; the headings are next to the rows.
    let to_row = |&&(i, separator, place): &&(usize, u8, usize)| {
        let mut below = lines.iter().skip(i + 1).take(ROWS);
        let cell = |row: &Line| {
            row.text
                .split(|b| *b == separator)
                .nth(place)
                .is_some_and(is_time)
        };
        below.position(cell).unwrap_or(ROWS)
    };
    let best = headed.iter().min_by_key(to_row);
    let (titles, separator, place) = match best {
        Some(&(i, separator, place)) => (i, separator, Some(place)),
        None => (0, lines.first().map_or(b',', |l| separator(l.text)), None),
    };
    let parted = place.filter(|place| is_over(&lines, titles, separator, *place));
    let (chosen, above) = match (parted, lines.get(titles)) {
        (Some(_), Some(line)) => (titles + 1, Some((line.at, Above::Over))),
        _ => above(&lines, titles, separator),
    };
    let (skip, number) = lines.get(chosen).map_or((0, 1), |l| (l.at, l.number));
    Start {
        skip,
        lines: number - 1,
        titles: match above {
            Some((_, Above::Names | Above::Over)) => chosen - 1,
            _ => chosen,
        },
        above,
        separator,
        crlf: memchr::memchr2(b'\n', b'\r', bytes)
            .is_some_and(|end| bytes.get(end..).is_some_and(|t| t.starts_with(b"\r\n"))),
    }
}

/// Whether below the headings, some of them over several columns, stand the names of those: no time, no
/// number, and names only where the line above is empty or says no more than that these are temperatures, or
/// where it has one cell over several names.
/// Below other headings their units may stand.
fn is_over(lines: &[Line<'_>], found: usize, separator: u8, place: usize) -> bool {
    let cells = |i: usize| -> Vec<String> {
        let text = lines.get(i).map(|line| line.text).unwrap_or_default();
        let cells = text.split(|b| *b == separator).take(super::MOST_COLUMNS);
        let cells = cells.map(|c| decoded(bare(c.get(..200.min(c.len())).unwrap_or_default())).0);
        cells.map(|c| c.trim().to_owned()).collect()
    };
    let (upper, own) = (cells(found), cells(found + 1));
    let at = |place: usize| upper.get(place).map_or("", String::as_str);
    let is_its_unit = |place: usize, c: &str| is_unit(c) && !at(place).is_empty();
    let filled = own.iter().enumerate().filter(|(_, c)| !c.is_empty());
    let named = || filled.clone().filter(|(at, c)| !is_its_unit(*at, c));
    let open = |place: usize| {
        let above = at(place);
        let says_nothing = |name: &str| NOTHING.contains(&name.to_lowercase().as_str());
        above.is_empty() || matches!(head(above), Head::Degrees { name, .. } if says_nothing(&name))
    };
    let is_name = |c: &str| !is_time(c.as_bytes()) && !is_unit(c);
    // Groups over the names of their samples each: fewer cells above than names below.
    let over = upper.iter().enumerate();
    let over = over.filter(|(at, c)| *at != place && !c.is_empty()).count();
    let under = own.iter().skip(place + 1).filter(|c| !c.is_empty()).count();
    let groups = over > 1 && 2 * over <= under && own.get(place).is_none_or(String::is_empty);
    own.get(place).is_none_or(|c| c.is_empty() || is_unit(c))
        && named().count() > 1
        && named().all(|(at, c)| (groups || open(at)) && is_name(c))
        && lines.get(found + 2).is_some()
}

/// Which line is that of the headings or of their units, by its number among those with text, and
/// what is above it.
fn above(lines: &[Line<'_>], found: usize, separator: u8) -> (usize, Option<(usize, Above)>) {
    let cells = |i: usize| -> Vec<String> {
        let text = lines.get(i).map(|line| line.text).unwrap_or_default();
        let cells = text.split(|b| *b == separator);
        let cells = cells.map(|c| decoded(bare(c.get(..200.min(c.len())).unwrap_or_default())).0);
        cells.filter(|c| !c.trim().is_empty()).collect()
    };
    let units = |i: usize| {
        let cells = cells(i);
        !cells.is_empty() && cells.iter().all(|c| is_unit(c))
    };
    let names = |i: usize| {
        let cells = cells(i);
        let number = |c: &String| is_time(c.as_bytes());
        cells.len() > 1 && !units(i) && !cells.iter().any(number)
    };
    let at = |i: usize| lines.get(i).map(|line| line.at);
    let pair = |i: usize| units(i) && i > 0 && names(i - 1);
    if let Some(i) = [found, found + 1].into_iter().find(|i| pair(*i)) {
        return (i, at(i - 1).map(|at| (at, Above::Names)));
    }
    let last = found.checked_sub(1).filter(|i| names(*i)).and_then(at);
    (found, last.map(|at| (at, Above::Groups)))
}

/// Text of a heading or title: UTF-8, else Windows-1252, which has all of Latin-1's letters. True
/// if it was not UTF-8.
pub(super) fn decoded(bytes: &[u8]) -> (String, bool) {
    if let Ok(text) = std::str::from_utf8(bytes) {
        return (text.to_owned(), false);
    }
    let (text, _) = encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes);
    (text.into_owned(), true)
}

/// The first lines that hold text and are no remarks. The last line may be cut short.
fn lines(bytes: &[u8]) -> Vec<Line<'_>> {
    let mut found = Vec::new();
    let (mut at, mut number) = (0, 1);
    let mut rest = bytes;
    while !rest.is_empty() && found.len() < MOST_LINES {
        let end = memchr::memchr2(b'\n', b'\r', rest).unwrap_or(rest.len());
        let (text, tail) = rest.split_at(end);
        let gap = match tail {
            [b'\r', b'\n', ..] => 2,
            [] => 0,
            _ => 1,
        };
        let trimmed = text.trim_ascii_start();
        if !trimmed.is_empty() && !trimmed.starts_with(b"#") {
            found.push(Line { at, number, text });
        }
        at += end + gap;
        number += 1;
        rest = tail.get(gap..).unwrap_or_default();
    }
    found
}

/// The separator of a line: tab, else semicolon, else comma.
pub(super) fn separator(line: &[u8]) -> u8 {
    if line.contains(&b'\t') {
        b'\t'
    } else if line.contains(&b';') {
        b';'
    } else {
        b','
    }
}

/// Place of the time column, if this line names one and a temperature beside it.
fn time_place(line: &[u8], separator: u8) -> Option<usize> {
    let cells = line.split(|b| *b == separator).take(super::MOST_COLUMNS);
    let heads: Vec<Head> = cells
        .map(|c| {
            head(
                decoded(bare(c.get(..200.min(c.len())).unwrap_or_default()))
                    .0
                    .trim(),
            )
        })
        .collect();
    let degrees = heads.iter().any(|h| matches!(h, Head::Degrees { .. }));
    let (place, _) = super::head::best_time(&heads)?;
    degrees.then_some(place)
}

/// A cell without blanks and quotation marks around it.
fn bare(cell: &[u8]) -> &[u8] {
    let cell = cell.trim_ascii();
    let inner = cell.strip_prefix(b"\"").and_then(|c| c.strip_suffix(b"\""));
    inner.unwrap_or(cell)
}

pub(super) fn is_time(cell: &[u8]) -> bool {
    let cell = &*super::number::tidy(bare(cell));
    match form_of(cell, None, false) {
        TimeForm::Calendar => true,
        TimeForm::Number => matches!(super::number::cell(cell), super::number::Cell::Number(..)),
        TimeForm::Spoken => spoken(cell).is_some(),
        form => seconds(cell, form).is_some(),
    }
}

#[cfg(test)]
mod tests {
    use super::{decoded, start};

    #[track_caller]
    fn found(text: &str) -> (u64, usize, u8) {
        let start = start(text.as_bytes());
        assert_eq!(
            text[..start.skip].matches('\n').count() as u64,
            start.lines,
            "{start:?}"
        );
        (start.lines, start.titles, start.separator)
    }

    #[test]
    fn headings_are_found_below_titles() {
        for (text, expected) in [
            ("time,slate\n0,20\n", (0, 0, b',')),
            ("\n\ntime;slate\n0;20\n", (2, 0, b';')),
            ("Lamp lab, bench 3\n\ntime;slate\n0;20\n", (2, 1, b';')),
            (
                "Time: 10:32, bench 3\nslate and moss\ntime,slate\n0,20\n",
                (2, 2, b','),
            ),
            ("sep=;\r\nZeit;Schiefer\r\n0:00;20,1\r\n", (1, 1, b';')),
            ("# time,moss\ntime,slate\nx,20\n0,20\n", (1, 0, b',')),
            // Without a row and without headings there is nothing better than the first.
            ("title\ntime,slate\n", (1, 1, b',')),
            ("slate\tmoss\n20\t21\n", (0, 0, b'\t')),
            ("", (0, 0, b',')),
        ] {
            assert_eq!(found(text), expected, "{text:?}");
        }
    }

    #[test]
    fn other_letters_are_read_as_windows_1252() {
        // ISO 8859-1: 0xB0 is the degree sign, 0xFC u with diaeresis; Windows-1252 has 0x96 as dash.
        assert_eq!(decoded(b"Gr\xfcn (\xb0C)"), ("Grün (°C)".to_owned(), true));
        assert_eq!(decoded(b"a \x96 b"), ("a – b".to_owned(), true));
        assert_eq!(decoded("Grün".as_bytes()), ("Grün".to_owned(), false));
    }
}
