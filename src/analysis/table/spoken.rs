//! Times in words and signs: `5 min`, `2 min 30 s`, `5'30"`, `1 h 5`, `10 Uhr 32`.

use super::stamp::of_clock;
use super::start::decoded;
use super::units::time_unit_s;

/// Longest such cell, in bytes.
const LONGEST: usize = 40;

/// Seconds of a time whose numbers have units; none if a cell is not written so. A last number of
/// two digits without a unit is in the next smaller one.
pub(super) fn spoken(cell: &[u8]) -> Option<f64> {
    let cell = cell.trim_ascii();
    // Most cells are plain numbers.
    if cell.len() > LONGEST
        || cell
            .iter()
            .all(|b| b.is_ascii_digit() || b".,:-+".contains(b))
    {
        return None;
    }
    let text = decoded(cell).0.to_lowercase().replace("''", "\"");
    if let Some(clock) = text.trim().strip_suffix("uhr") {
        return of_clock(clock.trim_end());
    }
    let (mut rest, mut sum_s, mut last_s) = (text.trim(), 0.0, f64::INFINITY);
    while !rest.is_empty() {
        let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.' && c != ',');
        let (number, tail) = rest.split_at(end.unwrap_or(rest.len()));
        let value: f64 = number.replace(',', ".").parse().ok()?;
        let tail = tail.trim_start();
        let (word, after) = unit(tail);
        let unit_s = match word {
            "" => (tail.is_empty() && number.len() == 2).then_some(last_s / 60.0)?,
            "'" | "′" | "’" | "´" | "m" => 60.0,
            "\"" | "″" | "”" => 1.0,
            // "8.05 Uhr" is no decimal number.
            "uhr" if number.bytes().all(|b| b.is_ascii_digit()) => 3600.0,
            word => time_unit_s(word)?,
        };
        // Larger units come first, and what follows is less than one of them.
        let fits = (0.5..7200.0).contains(&unit_s)
            && unit_s < last_s
            && (last_s.is_infinite() || value * unit_s < last_s);
        if !fits {
            return None;
        }
        sum_s += value * unit_s;
        last_s = unit_s;
        rest = after;
    }
    last_s.is_finite().then_some(sum_s)
}

/// A word or sign at the begin of a text, and what follows it.
fn unit(text: &str) -> (&str, &str) {
    let first = text.chars().next();
    let end = match first {
        Some(c) if c.is_alphabetic() => text.find(|c: char| !c.is_alphabetic()),
        Some(c) => Some(c.len_utf8()),
        None => None,
    };
    let (word, after) = text.split_at(end.unwrap_or(text.len()));
    (word, after.trim_start_matches(['.', ' ', ',']))
}

#[cfg(test)]
mod tests {
    use super::spoken;

    #[test]
    fn times_are_read_as_they_are_said() {
        for (text, s) in [
            ("5 min", 300.0),
            ("5min.", 300.0),
            ("0'00\"", 0.0),
            ("5'30\"", 330.0),
            ("5'30", 330.0),
            ("5'30''", 330.0),
            ("5′ 30″", 330.0),
            ("7'", 420.0),
            ("2 min 30 s", 150.0),
            ("2 Minuten, 30 Sekunden", 150.0),
            ("2min30", 150.0),
            ("0min00", 0.0),
            ("90 s", 90.0),
            ("1,5 min", 90.0),
            ("1 h 5 min", 3900.0),
            ("10h32", 37_920.0),
            ("10 Uhr 32", 37_920.0),
            ("10 Uhr", 36_000.0),
            ("8.05 Uhr", 29_100.0),
            ("10:50 Uhr", 39_000.0),
            ("10.50.30 Uhr", 39_030.0),
        ] {
            let found = spoken(text.as_bytes()).unwrap_or_else(|| panic!("{text}"));
            assert!((found - s).abs() < 1e-9, "{text}: {found}");
        }
        assert_eq!(spoken(b"5\x9230\x94"), Some(330.0));
        for bad in [
            "",
            "5",
            "5.5",
            "1:30",
            "min",
            "5 cm",
            "30 s 2 min",
            "2 min 90 s",
            "1'234",
            "start",
            "5 min later",
            "-5 min",
            "1 234",
            "2 d",
            "8.5 Uhr",
            "8.75 Uhr",
            "8.05 Uhr 3",
        ] {
            assert_eq!(spoken(bad.as_bytes()), None, "{bad}");
        }
    }
}
