//! When the sun rises and sets at a place.
//!
//! The low-accuracy position of the sun of J. Meeus, *Astronomical Algorithms* (2nd ed., 1998,
//! chapters 25 and 28), in the form in which the NOAA solar calculator publishes it (Global
//! Monitoring Laboratory, "Solar Calculation Details"). Rising and setting are the moments at which
//! the sun's upper edge is seen on a level horizon: its centre is 90.833° from the zenith, of which
//! 34′ are refraction and 16′ the sun's radius (as the almanacs of the U.S. Naval Observatory define
//! it). Good to a minute up to 65° of latitude; hills, houses and weather are not in it.

/// Zenith distance of the sun's centre at rising and setting, in degrees.
const HORIZON_DEG: f64 = 90.833;

/// Seconds of a day.
pub(super) const DAY_S: f64 = 86_400.0;

/// A place on the Earth.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Place {
    /// Latitude in degrees, north positive, within ±90.
    pub latitude_deg: f64,
    /// Longitude in degrees, east positive, within ±180.
    pub longitude_deg: f64,
}

impl Place {
    /// How far the place's mean solar time is ahead of UTC, in seconds.
    #[must_use]
    pub fn ahead_s(self) -> f64 {
        self.longitude_deg / 360.0 * DAY_S
    }
}

/// The sun's day at a place. Times are seconds since 1970-01-01 UTC.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunDay {
    /// When it is highest.
    pub noon_s: f64,
    /// When it rises and sets; none where it stays up or down all day.
    pub up_s: Option<(f64, f64)>,
    /// It stays up (polar day) rather than down, where it neither rises nor sets.
    pub stays_up: bool,
}

/// The sun's declination in radians, and the equation of time in seconds, at a time in seconds since
/// 1970-01-01 UTC.
fn sun(unix_s: f64) -> (f64, f64) {
    // Julian centuries since 2000-01-01 12:00 (JD 2451545); 1970-01-01 00:00 is JD 2440587.5.
    let t = (unix_s / DAY_S + 2_440_587.5 - 2_451_545.0) / 36_525.0;
    let mean_long = (280.466_46 + t * (36_000.769_83 + t * 0.000_303_2)).to_radians();
    let anomaly = (357.529_11 + t * (35_999.050_29 - 0.000_153_7 * t)).to_radians();
    let eccentricity = 0.016_708_634 - t * (0.000_042_037 + 0.000_000_126_7 * t);
    let centre_deg = anomaly.sin() * (1.914_602 - t * (0.004_817 + 0.000_014 * t))
        + (2.0 * anomaly).sin() * (0.019_993 - 0.000_101 * t)
        + (3.0 * anomaly).sin() * 0.000_289;
    let node = (125.04 - 1934.136 * t).to_radians();
    let apparent = mean_long + (centre_deg - 0.005_69 - 0.004_78 * node.sin()).to_radians();
    let mean_obliquity_deg =
        23.0 + (26.0 + (21.448 - t * (46.815 + t * (0.000_59 - t * 0.001_813))) / 60.0) / 60.0;
    let obliquity = (mean_obliquity_deg + 0.002_56 * node.cos()).to_radians();
    let declination = (obliquity.sin() * apparent.sin()).asin();
    let y = (obliquity / 2.0).tan().powi(2);
    let equation = y * (2.0 * mean_long).sin() - 2.0 * eccentricity * anomaly.sin()
        + 4.0 * eccentricity * y * anomaly.sin() * (2.0 * mean_long).cos()
        - 0.5 * y * y * (4.0 * mean_long).sin()
        - 1.25 * eccentricity * eccentricity * (2.0 * anomaly).sin();
    // 4 minutes of time per degree.
    (declination, equation.to_degrees() * 240.0)
}

/// The sun at a place on a day of its mean solar time, counted from 1970-01-01.
#[must_use]
pub fn sun_on(day: i64, place: Place) -> SunDay {
    let mean_noon_s = (day as f64 + 0.5) * DAY_S - place.ahead_s();
    let noon_s = mean_noon_s - sun(mean_noon_s).1;
    let latitude = place.latitude_deg.to_radians();
    // Hour angle of the horizon in seconds of time, at a moment.
    let hour_angle = |at_s: f64| {
        let (declination, equation_s) = sun(at_s);
        let cosine = HORIZON_DEG.to_radians().cos() / (latitude.cos() * declination.cos())
            - latitude.tan() * declination.tan();
        (cosine, cosine.acos().to_degrees() * 240.0, equation_s)
    };
    let (cosine, ..) = hour_angle(noon_s);
    if !(-1.0..=1.0).contains(&cosine) {
        return SunDay {
            noon_s,
            up_s: None,
            stays_up: cosine < -1.0,
        };
    }
    // The sun moves on between noon and the horizon: asked again at the moment that was found.
    let edge = |side: f64| {
        let mut at_s = noon_s;
        for _ in 0..3 {
            let (cosine, angle_s, equation_s) = hour_angle(at_s);
            if (-1.0..=1.0).contains(&cosine) {
                at_s = mean_noon_s - equation_s + side * angle_s;
            }
        }
        at_s
    };
    SunDay {
        noon_s,
        up_s: Some((edge(-1.0), edge(1.0))),
        stays_up: false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days from 1970-01-01 to a date, by jiff.
    fn day(year: i16, month: i8, day: i8) -> i64 {
        let since =
            jiff::civil::date(year, month, day).duration_since(jiff::civil::date(1970, 1, 1));
        since.as_hours() / 24
    }

    #[test]
    fn a_year_of_the_naval_observatory_is_met_to_the_minute() {
        // U.S. Naval Observatory, Astronomical Applications Department: "Rise and Set for the Sun
        // for 2023", W112 31, N36 57, zone 7 h west of Greenwich.
        let table = include_str!("../../tests/data/usno-sun-2023-n36-57-w112-31.txt");
        let place = Place {
            latitude_deg: 36.95,
            longitude_deg: -112.52,
        };
        let (mut days, mut off) = (0, 0);
        for line in table
            .lines()
            .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()))
        {
            let date: i8 = line[..2].parse().unwrap();
            for month in 0..12 {
                let from = 4 + 11 * month;
                let Some(cell) = line.get(from..from + 9).filter(|c| !c.trim().is_empty()) else {
                    continue;
                };
                let date = day(2023, month as i8 + 1, date);
                let (rise_s, set_s) = sun_on(date, place).up_s.unwrap();
                days += 1;
                for (hhmm, found_s) in [(&cell[..4], rise_s), (&cell[5..], set_s)] {
                    let minutes: f64 = hhmm[..2].parse::<f64>().unwrap() * 60.0
                        + hhmm[2..].parse::<f64>().unwrap();
                    let midnight_s = date as f64 * DAY_S + 7.0 * 3600.0;
                    let difference = (found_s - midnight_s) / 60.0 - minutes;
                    // The table is rounded to the minute.
                    assert!(
                        difference.abs() < 0.75,
                        "{hhmm} of day {days}: {difference} min"
                    );
                    off += i32::from(difference.abs() > 0.52);
                }
            }
        }
        assert_eq!(days, 365);
        assert!(off < 15, "{off} of 730 beyond the rounding");
    }

    #[test]
    fn the_published_sunrise_of_a_finer_algorithm_is_met_within_a_second() {
        // I. Reda and A. Andreas, Solar Position Algorithm (NREL/TP-560-34302): 2003-10-17,
        // N 39.742476, W 105.1786, 7 h west: sunrise 06:12:43. (Its sunset, 17:20:19, is a minute and
        // a half later than this one, whose sunsets are those of the Naval Observatory above.)
        let place = Place {
            latitude_deg: 39.742_476,
            longitude_deg: -105.1786,
        };
        let date = day(2003, 10, 17);
        let (rise_s, _) = sun_on(date, place).up_s.unwrap();
        let stated_s = date as f64 * DAY_S + 7.0 * 3600.0 + (6.0 * 60.0 + 12.0) * 60.0 + 43.0;
        assert!((rise_s - stated_s).abs() < 1.0, "{} s", rise_s - stated_s);
    }

    #[test]
    fn beyond_the_polar_circle_it_may_stay_up_or_down() {
        let place = Place {
            latitude_deg: 70.0,
            longitude_deg: 25.0,
        };
        let summer = sun_on(day(2026, 6, 21), place);
        assert!(summer.up_s.is_none() && summer.stays_up);
        let winter = sun_on(day(2026, 12, 21), place);
        assert!(winter.up_s.is_none() && !winter.stays_up);
        let spring = sun_on(day(2026, 3, 21), place);
        let (rise_s, set_s) = spring.up_s.unwrap();
        assert!(rise_s < spring.noon_s && spring.noon_s < set_s);
    }
}
