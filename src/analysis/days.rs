//! A long record day by day: how cold and how warm, when, and when the lamp and the sun came and
//! went.
//!
//! A day is one of the place's mean solar time where the place is known, so that a night is not torn
//! apart far from Greenwich; else one of UTC.

use std::fmt::Write as _;

use super::series::Series;
use super::span::span;
use super::sun::{DAY_S, Place, SunDay, sun_on};
use crate::lamp::{self, Edge, Kind};

/// Records shorter than this have no table of days, in seconds.
pub const SHORTEST_S: f64 = 1.5 * DAY_S;

/// An extreme, and when it was first reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extreme {
    /// Temperature in °C, spikes left out.
    pub degc: f64,
    /// Time in seconds since the record's start.
    pub at_s: f64,
}

/// One sample's day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DaySample {
    /// The lowest value.
    pub lowest: Extreme,
    /// The highest value.
    pub highest: Extreme,
    /// Mean over time in °C, gaps left out.
    pub mean_degc: f64,
}

/// One day.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    /// Days since 1970-01-01.
    pub day: i64,
    /// From the day's first row to its last, in hours.
    pub hours: f64,
    /// Its samples; none where there was no reading.
    pub samples: Vec<Option<DaySample>>,
    /// When the lamp was switched.
    pub lamp: Vec<Edge>,
    /// What the sun did, where the place is known.
    pub sun: Option<SunDay>,
}

/// The days of a record that began at `began_s` (seconds since 1970-01-01 UTC), with the lamp's
/// edges. Days without a row are left out.
#[must_use]
pub fn days(series: &Series, edges: &[Edge], began_s: f64, place: Option<Place>) -> Vec<Day> {
    let ahead_s = began_s + place.map_or(0.0, Place::ahead_s);
    let day_of = |t_s: f64| ((t_s + ahead_s) / DAY_S).floor() as i64;
    let starts_s = |day: i64| day as f64 * DAY_S - ahead_s;
    let mut days = Vec::new();
    let mut row = 0;
    while let Some(&first_s) = series.t_s.get(row) {
        let day = day_of(first_s);
        let end = row
            + series
                .t_s
                .get(row..)
                .map_or(0, |rest| rest.partition_point(|t| day_of(*t) <= day));
        let last_s = series.t_s.get(end - 1).copied().unwrap_or(first_s);
        let within = |edge: &&Edge| (starts_s(day)..starts_s(day + 1)).contains(&edge.at_s);
        days.push(Day {
            day,
            hours: (last_s - first_s) / 3600.0,
            samples: Vec::with_capacity(series.channels.len()),
            lamp: edges.iter().filter(within).copied().collect(),
            sun: place.map(|place| sun_on(day, place)),
        });
        row = end;
    }
    // One channel at a time: of a month of rows more than one copy would be too much.
    for (index, channel) in series.channels.iter().enumerate() {
        let curve = lamp::curve(index, &series.t_s, &channel.degc, true);
        let mut from = 0;
        for day in &mut days {
            let rest = curve.t_s.get(from..).unwrap_or_default();
            let end = from + rest.partition_point(|t| day_of(*t) <= day.day);
            let times = curve.t_s.get(from..end).unwrap_or_default();
            let values = curve.degc.get(from..end).unwrap_or_default();
            day.samples.push(sample(times, values));
            from = end;
        }
    }
    days
}

fn sample(t_s: &[f64], degc: &[f64]) -> Option<DaySample> {
    let span = span(t_s, degc)?;
    let first = |wanted: f64| {
        let place = degc.iter().position(|v| v.total_cmp(&wanted).is_eq());
        Some(Extreme {
            degc: wanted,
            at_s: *t_s.get(place?)?,
        })
    };
    Some(DaySample {
        lowest: first(span.lowest)?,
        highest: first(span.highest)?,
        mean_degc: span.mean,
    })
}

/// `days.csv`: one line a day. Minutes after sunrise and noon say how far a sample follows the sun.
#[must_use]
pub fn days_csv(days: &[Day], slugs: &[String], began_s: f64) -> String {
    let mut out =
        String::from("date,hours,lamp_on_utc,lamp_off_utc,sunrise_utc,noon_utc,sunset_utc");
    for slug in slugs {
        let _ = write!(
            out,
            ",{slug}_lowest_degc,{slug}_lowest_utc,{slug}_lowest_after_sunrise_min,\
             {slug}_highest_degc,{slug}_highest_utc,{slug}_highest_after_noon_min,{slug}_mean_degc"
        );
    }
    out.push('\n');
    for day in days {
        let switched = |kind: Kind| {
            let edges = day.lamp.iter().filter(|edge| edge.edge == kind);
            let times = edges.map(|edge| utc(began_s + edge.at_s));
            times.collect::<Vec<_>>().join(" ")
        };
        let noon_s = day.sun.map(|sun| sun.noon_s);
        let up_s = day.sun.and_then(|sun| sun.up_s);
        let _ = write!(
            out,
            "{},{:.2},{},{},{},{},{}",
            date(day.day),
            day.hours,
            switched(Kind::On),
            switched(Kind::Off),
            up_s.map_or(String::new(), |(rise_s, _)| utc(rise_s)),
            noon_s.map_or(String::new(), utc),
            up_s.map_or(String::new(), |(_, set_s)| utc(set_s)),
        );
        for sample in &day.samples {
            let Some(sample) = sample else {
                out.push_str(",,,,,,,");
                continue;
            };
            for (extreme, from_s) in [
                (sample.lowest, up_s.map(|(rise_s, _)| rise_s)),
                (sample.highest, noon_s),
            ] {
                let at_s = began_s + extreme.at_s;
                let after = from_s.map(|from_s| format!("{:.0}", (at_s - from_s) / 60.0));
                let after = after.unwrap_or_default();
                let _ = write!(out, ",{:.3},{},{after}", extreme.degc, utc(at_s));
            }
            let _ = write!(out, ",{:.3}", sample.mean_degc);
        }
        out.push('\n');
    }
    out
}

/// To the second that it is in, as RFC 3339 writes it: so it begins like its row's own time, which is
/// of whole milliseconds.
fn utc(unix_s: f64) -> String {
    let second = ((unix_s * 1000.0).round() / 1000.0).floor();
    let at = jiff::Timestamp::from_second(second as i64);
    at.map_or(String::new(), |at| at.to_string())
}

fn date(day: i64) -> String {
    utc(day as f64 * DAY_S).chars().take(10).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Channel;

    /// Three days at a row a minute from 06:00 UTC of 2026-03-14: coldest at 05:00 UTC, warmest at
    /// 17:00, 20 °C ± 5 °C.
    fn series() -> Series {
        let t_s: Vec<f64> = (0..3 * 1440)
            .map(|minute| f64::from(minute) * 60.0)
            .collect();
        let degc = |t_s: &f64| {
            let hour = 6.0 + t_s / 3600.0;
            20.0 - 5.0 * ((hour - 5.0) / 24.0 * std::f64::consts::TAU).cos()
        };
        Series {
            channels: vec![Channel {
                name: "moss".into(),
                degc: t_s.iter().map(degc).collect(),
                resolution_degc: None,
                u_common_degc: None,
            }],
            t_s,
            ..Series::default()
        }
    }

    /// 2026-03-14T06:00:00Z.
    const BEGAN_S: f64 = 1_773_468_000.0;

    #[test]
    fn each_day_has_its_extremes_at_their_times() {
        let found = days(&series(), &[], BEGAN_S, None);
        assert_eq!(found.len(), 4);
        assert_eq!(date(found[0].day), "2026-03-14");
        let second = found[1].samples[0].unwrap();
        assert!(
            (second.lowest.degc - 15.0).abs() < 0.01 && (second.highest.degc - 25.0).abs() < 0.01
        );
        // 05:00 and 17:00 of the second day are 23 h and 35 h after the start.
        assert!(
            (second.lowest.at_s - 23.0 * 3600.0).abs() < 600.0,
            "{second:?}"
        );
        assert!(
            (second.highest.at_s - 35.0 * 3600.0).abs() < 600.0,
            "{second:?}"
        );
        assert!((second.mean_degc - 20.0).abs() < 0.02, "{second:?}");
        assert!((found[0].hours - 18.0).abs() < 0.1);
        let csv = days_csv(&found, &["moss".into()], BEGAN_S);
        assert_eq!(csv.lines().count(), 5);
        assert!(
            csv.lines()
                .nth(2)
                .unwrap()
                .starts_with("2026-03-15,23.98,,,,,,15.0"),
            "{csv}"
        );
    }

    #[test]
    fn a_day_is_that_of_the_place_and_the_sun_is_beside_it() {
        // Far east: mean noon at 02:00 UTC.
        let place = Place {
            latitude_deg: -37.0,
            longitude_deg: 150.0,
        };
        let edge = Edge {
            edge: Kind::On,
            at_s: 3600.0,
            low_s: 3590.0,
            high_s: 3610.0,
            level: 0.95,
        };
        let found = days(&series(), &[edge], BEGAN_S, Some(place));
        // 06:00 UTC is 16:00 there: eight hours are left of the first day.
        assert!((found[0].hours - 8.0).abs() < 0.1, "{}", found[0].hours);
        assert_eq!((found[0].lamp.len(), found[1].lamp.len()), (1, 0));
        let sun = found[1].sun.unwrap();
        let (rise_s, set_s) = sun.up_s.unwrap();
        // A week before the equinox: some twelve hours and a quarter.
        assert!(((set_s - rise_s) / 3600.0 - 12.3).abs() < 0.2);
        let csv = days_csv(&found, &["moss".into()], BEGAN_S);
        let line = csv.lines().nth(1).unwrap();
        assert!(
            line.starts_with("2026-03-14,7.98,2026-03-14T07:00:00Z,,2026-03-13T19:"),
            "{line}"
        );
    }
}
