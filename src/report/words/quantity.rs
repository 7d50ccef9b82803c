//! Times and measured values as people read them.

use super::language::Language;
use super::spacing::TIGHT as SPACE;
use super::{Value, Words};
use crate::analysis::expanded;

impl Words {
    /// A length of time with the largest unit that divides it: `10 min`, `90 s`, `14 d`.
    ///
    /// The units' symbols are the same in every language (SI Brochure, 9th edition, table 8).
    #[must_use]
    pub fn duration(&self, s: f64) -> String {
        let whole = |unit_s: f64| {
            let n = libm::round(s / unit_s);
            (n >= 1.0 && (s - n * unit_s).abs() < 1e-3).then_some(n)
        };
        let units = [(86_400.0, "d"), (3600.0, "h"), (60.0, "min")];
        let even = units
            .into_iter()
            .find_map(|(s, unit)| Some((whole(s)?, unit)));
        let (digits, unit) = match even {
            Some((n, unit)) => (format!("{n:.0}"), unit),
            None if s >= 3600.0 => (decimals(s / 60.0, 1), "min"),
            None => (decimals(s, 3), "s"),
        };
        format!("{}{SPACE}{unit}", self.number(&digits))
    }

    /// How often something comes: `every minute`, `every 90 s`.
    #[must_use]
    pub fn every(&self, s: f64) -> String {
        let units = [
            (1.0, "every-second"),
            (60.0, "every-minute"),
            (3600.0, "every-hour"),
            (86_400.0, "every-day"),
        ];
        let unit = units.iter().find(|(unit_s, _)| (s - unit_s).abs() < 1e-3);
        if let Some((_, key)) = unit {
            return self.say(key);
        }
        let time = self.duration(s);
        self.tell("every-time", &[("time", Value::Text(&time))])
    }

    /// A number of minutes as programs write it, in hundredths where it has more decimals.
    #[must_use]
    pub fn minute(&self, digits: &str) -> String {
        let places = digits.split_once('.').map_or(0, |(_, after)| after.len());
        match digits.parse::<f64>() {
            Ok(minutes) if places > 2 => self.number(&format!("{minutes:.2}")),
            _ => self.number(digits),
        }
    }

    /// A time of day in seconds since midnight: `10:49:51`.
    #[must_use]
    pub fn time_of_day(&self, s: f64) -> String {
        let total = libm::round(s).rem_euclid(86_400.0) as u64;
        let (h, min, sec) = (total / 3600, total / 60 % 60, total % 60);
        format!("{h}:{min:02}:{sec:02}")
    }

    /// Parts of one sentence behind each other, with semicolons.
    #[must_use]
    pub fn parts(&self, parts: &[String]) -> String {
        match self.language() {
            Language::French => parts.join(&format!("{SPACE}; ")),
            Language::English | Language::German => parts.join("; "),
        }
    }

    /// An instant as on a stop watch: `1:32`, `1:02:03`, `2 d 03:15:00`.
    #[must_use]
    pub fn clock(&self, s: f64) -> String {
        let sign = if s <= -0.5 { "\u{2212}" } else { "" };
        let total = libm::round(s.abs()) as u64;
        let (d, h) = (total / 86_400, total / 3600 % 24);
        let (min, sec) = (total / 60 % 60, total % 60);
        match (d, h) {
            (0, 0) => format!("{sign}{min}:{sec:02}"),
            (0, _) => format!("{sign}{h}:{min:02}:{sec:02}"),
            _ => format!("{sign}{d}{SPACE}d{SPACE}{h:02}:{min:02}:{sec:02}"),
        }
    }

    /// A value whose standard uncertainty is `u`, with the expanded one behind ± and rounded to two digits
    /// of that; without one that is above zero, the value with at most three decimals.
    #[must_use]
    pub fn measured(&self, value: f64, u: f64) -> String {
        let (value, half) = expanded(value, u);
        self.within(&value, &half)
    }

    /// The same from digits that are rounded already; `half`, what the value is known within with some 95 %
    /// confidence, may be empty.
    #[must_use]
    pub fn within(&self, value: &str, half: &str) -> String {
        let value = self.number(value);
        if half.is_empty() {
            value
        } else {
            format!("{value}{SPACE}±{SPACE}{}", self.number(half))
        }
    }

    /// A value in a sentence for pupils: one decimal, none where half a unit is in doubt; digits
    /// as programs write them.
    #[must_use]
    pub fn rough(value: f64, u: f64) -> String {
        let places = usize::from(u.is_nan() || u < 0.5);
        let text = format!("{value:.places$}");
        if text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        }
    }
}

/// At most so many decimals, without zeros at the end.
fn decimals(value: f64, most: usize) -> String {
    let text = format!("{value:.most$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_take_the_largest_unit_that_divides_them() {
        let words = Words::of(Language::German);
        for (s, text) in [
            (600.0, "10\u{a0}min"),
            (90.0, "90\u{a0}s"),
            (0.25, "0,25\u{a0}s"),
            (7200.0, "2\u{a0}h"),
            (1_209_600.0, "14\u{a0}d"),
            (4000.0, "66,7\u{a0}min"),
        ] {
            assert_eq!(words.duration(s), text);
        }
        assert_eq!(words.every(60.0), "jede Minute");
        assert_eq!(words.every(90.0), "alle 90\u{a0}s");
        assert_eq!(
            [words.minute("0.6667"), words.minute("1.5")],
            ["0,67", "1,5"]
        );
        assert_eq!(words.time_of_day(38_991.0), "10:49:51");
        assert_eq!(words.clock(92.3), "1:32");
        assert_eq!(words.clock(-60.0), "\u{2212}1:00");
        assert_eq!(words.clock(184_500.0), "2\u{a0}d\u{a0}03:15:00");
    }

    #[test]
    fn values_keep_the_digits_that_their_uncertainty_allows() {
        let words = Words::of(Language::French);
        assert_eq!(
            words.measured(12.02618, 0.00661),
            "12,026\u{a0}±\u{a0}0,013"
        );
        assert_eq!(words.measured(12.02618, f64::NAN), "12,026");
        assert_eq!(Words::rough(12.026, 0.007), "12.0");
        assert_eq!(Words::rough(2.36, 0.88), "2");
        assert_eq!(Words::rough(-0.01, 0.1), "0.0");
    }
}
