//! Tables beside each other in one file, and what each of their columns is for.
//!
//! Each table has its own column of times, and its readings belong to those and to no others.

use std::ops::Range;

use super::column::Column;
use super::head::{Head, Scale, best_time, head};
use super::time::Times;
use super::units::time_unit_s;
use super::work::{Part, Work};
use crate::analysis::{TableError, Warning};

/// Rank of the times that people write; ours say more of themselves.
const BY_HAND: u8 = 3;

/// Rank of dates, which are times only where nothing else is.
const DATES: u8 = 1;

/// One table of a file, by its headings.
pub(super) struct Plan {
    /// Whether its times are headed as people head them.
    pub(super) by_hand: bool,
    /// Its columns.
    pub(super) places: Range<usize>,
    /// How many columns the whole file has.
    pub(super) headings: usize,
    pub(super) time_place: usize,
    pub(super) time_heading: String,
    pub(super) times: Times,
    pub(super) part: Option<Part>,
    pub(super) columns: Vec<Column>,
    /// The column of flags, if it is a table of our own.
    pub(super) flags_place: Option<usize>,
}

/// The columns of each table beside others: from its times to before those of the next.
pub(super) fn blocks(heads: &[Head]) -> Vec<Range<usize>> {
    let rank = |place: usize| match heads.get(place) {
        Some(Head::Time { rank, .. }) => Some(*rank),
        _ => None,
    };
    let best = (0..heads.len()).filter_map(rank).max();
    let begins = |place: &usize| {
        let before = place.checked_sub(1).and_then(rank);
        rank(*place) == best && best == Some(BY_HAND) && before.is_none()
    };
    let mut starts: Vec<usize> = (0..heads.len()).filter(begins).collect();
    let whole = 0..heads.len();
    if let Some(first) = starts.first_mut() {
        *first = 0;
    }
    let ends = starts.iter().skip(1).copied().chain([heads.len()]);
    let found: Vec<Range<usize>> = starts.iter().zip(ends).map(|(a, b)| *a..b).collect();
    let degrees = |range: &Range<usize>| {
        let own = heads.get(range.clone()).unwrap_or_default();
        own.iter().any(|h| matches!(h, Head::Degrees { .. }))
    };
    if found.len() > 1 && found.iter().all(degrees) {
        found
    } else {
        vec![whole]
    }
}

/// Makes ready to read the tables below these headings.
pub(super) fn begin(
    texts: Vec<String>,
    line: u64,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Work>, TableError> {
    let mut heads: Vec<Head> = texts.iter().map(|t| head(t)).collect();
    let letters = initials(&mut heads, &texts);
    let blocks = blocks(&heads);
    let mut plans = Vec::new();
    for places in blocks {
        plans.extend(plan(&heads, &texts, places, &letters, warnings));
    }
    if plans.iter().all(|plan| plan.columns.is_empty()) {
        return Err(TableError::of_headings(texts, line, plans.is_empty()));
    }
    let beside = plans.len();
    let works = plans.into_iter().map(|plan| Work::new(plan, beside));
    Ok(works.collect())
}

/// A lone letter that is a unit of time is a sample's initial beside another column of times; gives
/// the places of those.
fn initials(heads: &mut [Head], texts: &[String]) -> Vec<usize> {
    let times = |place: &usize| matches!(heads.get(*place), Some(Head::Time { .. }));
    let places: Vec<usize> = (0..heads.len()).filter(times).collect();
    let text = |place: &usize| texts.get(*place).map_or("", String::as_str);
    let found: Vec<usize> = places
        .iter()
        .skip(1)
        .filter(|place| {
            let alike = |other: &&usize| other != place && text(other) == text(place);
            matches!(text(place), "s" | "h" | "d") && !places.iter().any(|p| alike(&p))
        })
        .copied()
        .collect();
    for place in &found {
        if let Some(head) = heads.get_mut(*place) {
            *head = Head::Degrees {
                name: text(place).to_owned(),
                scale: Scale::Celsius,
                stated: false,
            };
        }
    }
    found
}

/// A column of times next to another in a finer unit.
fn part(
    heads: &[Head],
    texts: &[String],
    place: usize,
    whole_s: f64,
    letters: &[usize],
) -> Option<Part> {
    let heading = texts.get(place)?.clone();
    let finer_s = match heads.get(place)? {
        Head::Time { unit_s, .. } => *unit_s,
        _ if letters.contains(&place) => time_unit_s(&heading),
        _ => None,
    };
    let unit_s = finer_s.filter(|finer_s| *finer_s < whole_s)?;
    Some(Part {
        place,
        heading,
        unit_s,
        values: Vec::new(),
    })
}

fn first_word(heading: &str) -> String {
    let word = heading.split(|c: char| !c.is_alphanumeric()).next();
    word.unwrap_or_default().to_lowercase()
}

/// Where the flags of a table of our own are.
fn flags(heads: &[Head], mut places: Range<usize>) -> Option<usize> {
    places.find(|place| matches!(heads.get(*place), Some(Head::Flags)))
}

fn times_of(unit_s: Option<f64>, hours: bool, parted: bool) -> Times {
    if parted {
        Times::parted()
    } else {
        Times::new(unit_s, hours)
    }
}

/// What the columns of one table are for; columns of other things are told.
fn plan(
    heads: &[Head],
    texts: &[String],
    places: Range<usize>,
    letters: &[usize],
    warnings: &mut Vec<Warning>,
) -> Option<Plan> {
    let own = heads.get(places.clone())?;
    let (
        at,
        Head::Time {
            unit_s,
            hours,
            parted,
            rank: best,
        },
    ) = best_time(own)?
    else {
        return None;
    };
    let time_place = places.start + at;
    let text = |place: usize| texts.get(place).cloned().unwrap_or_default();
    let left_out = |column: String| Warning::ColumnLeftOut { column };
    let part = unit_s.and_then(|whole_s| part(heads, texts, time_place + 1, whole_s, letters));
    let mut columns = Vec::new();
    for place in places.clone() {
        let is_part = part.as_ref().is_some_and(|part| part.place == place);
        match heads.get(place)? {
            Head::Degrees {
                name,
                scale,
                stated,
            } => columns.push(Column::new(place, &text(place), name, *scale, *stated)),
            Head::Time { rank, .. } => {
                let by_hand = (*rank == BY_HAND && *best == BY_HAND) || *rank == DATES;
                // `Time / min` beside `Time / s` is the same once more.
                let same = first_word(&text(place)) == first_word(&text(time_place));
                if place != time_place && by_hand && !is_part && !same {
                    warnings.push(left_out(text(place)));
                }
            }
            Head::Other => warnings.push(left_out(text(place))),
            Head::Known | Head::Flags => {}
        }
    }
    Some(Plan {
        by_hand: *best <= BY_HAND,
        flags_place: flags(heads, places.clone()),
        places,
        headings: heads.len(),
        time_place,
        time_heading: text(time_place),
        times: times_of(*unit_s, *hours, *parted),
        part,
        columns,
    })
}

#[cfg(test)]
mod tests {
    use super::super::Table;
    use super::super::testing::read;

    fn minutes(table: &Table) -> Vec<f64> {
        table.series.t_s.iter().map(|t| t / 60.0).collect()
    }

    #[test]
    fn what_goes_on_beside_is_put_below() {
        let (table, said) = read(
            "min,slate,moss,,min,slate,moss\n0,22,21,,3,26,23\n1,25,23,,4,24,22\n2,27,24,,5,23,22\n",
        );
        assert_eq!(said, "");
        assert_eq!(minutes(&table), [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
        assert_eq!(table.series.channels.len(), 2);
        assert_eq!(
            table.series.channels[0].degc,
            [22.0, 25.0, 27.0, 26.0, 24.0, 23.0]
        );
    }

    #[test]
    fn what_cannot_be_put_together_is_left_out_aloud() {
        let (table, said) = read(
            "heating,,,,cooling,,\nmin,slate,moss,,min,slate,moss\n\
             0,22,21,,0,35,28\n1,25,23,,1,32,26\n2,27,24,,2,30,24\n3,29,25,,,,\n",
        );
        assert!(said.contains("from column 5 on"), "{said}");
        assert_eq!(table.series.channels.len(), 2, "{said}");
        assert_eq!(table.series.channels[0].degc, [22.0, 25.0, 27.0, 29.0]);
    }

    #[test]
    fn each_reading_stays_at_its_own_time() {
        let (table, said) = read("s,slate,,s,moss\n0,22,,0,21\n60,25,,30,22\n120,27,,120,24\n");
        assert_eq!(said, "");
        assert_eq!(table.series.t_s, [0.0, 30.0, 60.0, 120.0]);
        let moss = &table.series.channels[1];
        assert_eq!(
            (moss.name.as_str(), &moss.degc[..2]),
            ("moss", &[21.0, 22.0][..])
        );
        assert!(moss.degc[2].is_nan() && moss.degc[3] > 23.0);
        let (table, _) = read(
            "Slate,,,Moss,\ntime (min),temp (°C),,time (min),temp (°C)\n0,22,,0,21\n1,25,,1,23\n2,27,,2,24\n",
        );
        let names = table.series.channels.iter().map(|c| c.name.as_str());
        assert_eq!(names.collect::<Vec<_>>(), ["Slate", "Moss"]);
        assert_eq!(minutes(&table), [0.0, 1.0, 2.0]);
    }

    #[test]
    fn seconds_beside_minutes_are_part_of_the_time() {
        let (table, said) =
            read("min,sec,lamp,slate\n0,0,off,22\n0,30,off,22\n1,0,on,22\n1,30,on,23\n2,0,on,24\n");
        assert_eq!(table.series.t_s, [0.0, 30.0, 60.0, 90.0, 120.0]);
        assert!(said.contains("\"lamp\" holds no temperatures"), "{said}");
        // One time in two units; and one that cannot be both.
        let (table, said) = read("min,sec,slate\n0,0,22\n1,60,23\n2,120,24\n");
        assert_eq!((minutes(&table), said.as_str()), (vec![0.0, 1.0, 2.0], ""));
        let (table, said) = read("min,sec,slate\n0,5,22\n1,99,23\n2,7,24\n");
        assert_eq!(minutes(&table), [0.0, 1.0, 2.0]);
        assert!(said.contains("\"sec\""), "{said}");
    }

    #[test]
    fn an_initial_beside_a_time_is_a_sample() {
        let samples = |text: &str| {
            let (table, _) = read(text);
            let names = table.series.channels.iter().map(|c| c.name.clone());
            names.collect::<Vec<_>>()
        };
        assert_eq!(samples("t,s,m\n0,22,21\n2,27,24\n4,31,26\n"), ["s", "m"]);
        assert_eq!(samples("min,s,m\n0,22,21\n1,25,23\n2,27,24\n"), ["s", "m"]);
        assert_eq!(samples("min,s,m\n0,0,21\n0,30,23\n1,0,24\n"), ["m"]);
    }

    #[test]
    fn a_column_without_heading_and_numbers_is_none() {
        let (table, said) = read("min,slate,,\n0,22,,\n1,25,,\n2,27,,\n");
        assert_eq!((table.series.channels.len(), said.as_str()), (1, ""));
    }
}
