//! Headings: which column is the time, which are temperatures, in which units.

use super::units::{is_foreign, is_uncertainty, time_unit_s};

/// Words for the time of day.
const OF_DAY: [&str; 6] = ["clock", "uhrzeit", "uhr", "heure", "hora", "klokken"];

/// Words that a heading of times begins with.
const TIMES: [&str; 14] = [
    "time",
    "times",
    "zeit",
    "zeiten",
    "zeitpunkt",
    "messzeit",
    "dauer",
    "temps",
    "durée",
    "duree",
    "duration",
    "instant",
    "tiempo",
    "tempo",
];

/// Words that say of a column what is known anyway.
const TEMPERATURES: [&str; 8] = [
    "temperature",
    "Temperature",
    "temperatur",
    "Temperatur",
    "température",
    "Température",
    "temp",
    "Temp",
];

/// Longest name kept, in characters.
pub(super) const LONGEST_NAME: usize = 60;

/// Unit of a temperature column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scale {
    /// Degrees Celsius, also where no unit is stated.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
    /// Kelvin.
    Kelvin,
}

impl Scale {
    /// The value in degrees Celsius (exact by the definition of the scales).
    pub(super) fn to_degc(self, value: f64) -> f64 {
        match self {
            Self::Celsius => value,
            Self::Fahrenheit => (value - 32.0) / 1.8,
            Self::Kelvin => value - 273.15,
        }
    }

    /// Its sign.
    pub(super) fn sign(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Kelvin => "K",
        }
    }

    /// The value in this scale, as somebody may have written it: to a thousandth.
    pub(super) fn of_degc(self, degc: f64) -> f64 {
        (self.exactly_of_degc(degc) * 1e3).round() / 1e3
    }

    /// The value in this scale, to the last bit but a few.
    pub(super) fn exactly_of_degc(self, degc: f64) -> f64 {
        match self {
            Self::Celsius => degc,
            Self::Fahrenheit => degc * 1.8 + 32.0,
            Self::Kelvin => degc + 273.15,
        }
    }
}

/// What a heading says about its column.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Head {
    /// Times; the unit in seconds where it is stated, how good a choice the column is, and
    /// whether `a:bb` means hours and minutes of a day.
    Time {
        /// Seconds in one unit.
        unit_s: Option<f64>,
        /// Higher is better.
        rank: u8,
        /// Two parts are hours and minutes.
        hours: bool,
        /// The decimal point stands between minutes and seconds.
        parted: bool,
    },
    /// Temperatures of a sample.
    Degrees {
        /// The sample's name.
        name: String,
        /// The unit.
        scale: Scale,
        /// Whether the heading says so.
        stated: bool,
    },
    /// One of our own other columns: nothing to say about it.
    Known,
    /// Our own column of flags.
    Flags,
    /// A quantity that is no temperature.
    Other,
}

/// The first of the time columns that say most of themselves, with its place.
pub(super) fn best_time(heads: &[Head]) -> Option<(usize, &Head)> {
    let rank = |head: &Head| match head {
        Head::Time { rank, .. } => Some(*rank),
        _ => None,
    };
    let best = heads.iter().filter_map(rank).max()?;
    let mut placed = heads.iter().enumerate();
    placed.find(|(_, head)| rank(head) == Some(best))
}

/// Reads one heading.
pub(super) fn head(text: &str) -> Head {
    let words = words(text);
    let lower: Vec<String> = words.iter().map(|w| w.to_lowercase()).collect();
    let has = |list: &[&str]| lower.iter().any(|w| list.contains(&w.as_str()));
    let first = lower.first().map_or("", String::as_str);
    if text.trim() == "flags" {
        return Head::Flags;
    }
    if first == "u" && lower.len() > 1
        || has(&["phase", "flags", "flag", "notes", "note", "comment"])
    {
        return Head::Known;
    }
    if let Some(head) = time_head(text, &words, &lower) {
        return head;
    }
    let scale = if has(&["degf", "fahrenheit"]) {
        Some(Scale::Fahrenheit)
    } else if has(&["kelvin", "degk"]) {
        Some(Scale::Kelvin)
    } else if has(&["degc", "celsius", "cel"]) {
        Some(Scale::Celsius)
    } else {
        letter_unit(&words)
    };
    let foreign = [
        "%", "lux", "lx", "v", "mv", "ohm", "kohm", "pa", "hpa", "adc", "humidity", "rh", "ph",
    ];
    let index = [
        "no", "nr", "number", "index", "row", "seq", "id", "date", "day", "run",
    ];
    if is_foreign(text) || is_uncertainty(text) {
        return Head::Other;
    }
    if scale.is_none() && (has(&foreign) || text.contains('%') || (has(&index) && lower.len() == 1))
    {
        return Head::Other;
    }
    Head::Degrees {
        name: name(text, &words),
        scale: scale.unwrap_or(Scale::Celsius),
        stated: scale.is_some(),
    }
}

/// Letters and digits of a heading, in runs.
fn words(text: &str) -> Vec<&str> {
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .collect()
}

fn time_head(text: &str, words: &[&str], lower: &[String]) -> Option<Head> {
    let first = lower.first()?.as_str();
    let last = lower.last()?.as_str();
    // A small t is the symbol of time, a capital T that of temperature.
    let symbol = words.first() == Some(&"t");
    let rank = match first {
        "elapsed" => 5,
        "mark" => 4,
        _ if TIMES.contains(&first) => 3,
        // What a board's program prints; beside times by hand it is none.
        "millis" => 2,
        _ if symbol => 3,
        _ if time_unit_s(first).is_some() && lower.len() == 1 => 3,
        "timestamp" | "datetime" | "clock" => 2,
        // Dates with a time of day, where no other column has times.
        "date" | "datum" if lower.len() == 1 => 1,
        _ if lower.iter().any(|w| OF_DAY.contains(&w.as_str())) => 2,
        _ => return None,
    };
    let utc = lower.iter().any(|w| w == "utc" || w == "iso");
    let of_day = lower.windows(3).any(|w| w == ["time", "of", "day"]);
    let hours = of_day
        || lower
            .iter()
            .any(|w| w == "hh" || w == "hhmm" || OF_DAY.contains(&w.as_str()))
        || lower.windows(2).any(|w| w == ["h", "min"]);
    let written = lower
        .iter()
        .any(|w| matches!(w.as_str(), "hh" | "mm" | "ss"));
    let stated = if written {
        Some(1.0)
    } else {
        time_unit_s(last)
    };
    let parted = is_parted(text);
    // "T (°C)" with a small t, or "time_degc", would be an odd heading for times.
    if lower.len() > 1 && matches!(last, "c" | "f" | "k" | "degc" | "degf") {
        return None;
    }
    Some(Head::Time {
        unit_s: stated,
        rank: if utc { 2 } else { rank },
        hours,
        parted,
    })
}

/// Whether a heading says that a point stands between minutes and seconds, as `time (min.sec)`.
fn is_parted(text: &str) -> bool {
    let lower = text.to_lowercase();
    let minutes = ["min", "mm", "m"].iter();
    let both = minutes.flat_map(|m| ["sek", "sec", "ss", "s"].map(|s| (*m, s)));
    both.flat_map(|(m, s)| [format!("{m}.{s}"), format!("{m},{s}")])
        .any(|written| {
            lower.match_indices(&written).any(|(at, _)| {
                let before = lower.get(..at).unwrap_or_default();
                let rest = lower.get(at + written.len()..).unwrap_or_default();
                !before.ends_with(char::is_alphanumeric) && !rest.starts_with(char::is_alphanumeric)
            })
        })
}

/// A last word of one letter is a unit, unless it is all there is or belongs to the name.
fn letter_unit(words: &[&str]) -> Option<Scale> {
    if words.len() < 2 {
        return None;
    }
    match *words.last()? {
        "C" | "c" => Some(Scale::Celsius),
        "F" | "f" => Some(Scale::Fahrenheit),
        "K" => Some(Scale::Kelvin),
        _ => None,
    }
}

/// A name without the word for temperature before or behind it, unless that is all it is.
fn without_temperature(name: &str, trim: impl Fn(char) -> bool + Copy) -> &str {
    for word in TEMPERATURES {
        if let Some(rest) = name.strip_prefix(word) {
            let rest = rest.trim_matches(|c: char| trim(c) || c == '.');
            if !rest.is_empty() && !rest.starts_with(char::is_lowercase)
                || rest.len() < name.len() - word.len() && !rest.is_empty()
            {
                return rest;
            }
        }
    }
    // "slate temp" is of slate.
    let behind = TEMPERATURES.iter().find_map(|word| {
        let rest = name.trim_end_matches('.').strip_suffix(word)?;
        let rest = Some(rest).filter(|rest| rest.ends_with(trim))?;
        Some(rest.trim_matches(trim)).filter(|rest| !rest.is_empty())
    });
    behind.unwrap_or(name)
}

/// The sample's name: the heading without its unit and without the word for temperature.
fn name(text: &str, words: &[&str]) -> String {
    let unit = |w: &str| {
        let w = w.to_lowercase();
        [
            "degc",
            "degf",
            "degk",
            "celsius",
            "fahrenheit",
            "kelvin",
            "cel",
            "deg",
            "c",
            "f",
            "k",
        ]
        .contains(&w.as_str())
    };
    let mut end = text.len();
    let mut left = words.len();
    for word in words.iter().rev() {
        if left < 2 || !unit(word) {
            break;
        }
        end = text.get(..end).and_then(|t| t.rfind(word)).unwrap_or(end);
        left -= 1;
    }
    let trim = |c: char| c.is_whitespace() || "_-/([{,;:°º\u{fffd}".contains(c);
    let mut kept = text.get(..end).unwrap_or(text).trim_matches(trim);
    if end < text.len() {
        // "Schiefer in °C" is of Schiefer.
        let without = [" in", " en"].iter().find_map(|w| kept.strip_suffix(w));
        kept = without.map_or(kept, str::trim_end);
    }
    let clean: String = without_temperature(kept, trim)
        .chars()
        .filter(|c| !c.is_control())
        .take(LONGEST_NAME)
        .collect();
    if clean.is_empty() {
        "sample".to_owned()
    } else {
        clean
    }
}

#[cfg(test)]
mod tests {
    use super::{Head, Scale, head};

    fn degrees(text: &str) -> (String, Scale) {
        match head(text) {
            Head::Degrees { name, scale, .. } => (name, scale),
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn names_lose_their_units() {
        for (text, name, scale) in [
            ("slate_degc", "slate", Scale::Celsius),
            ("Wet moss (°C)", "Wet moss", Scale::Celsius),
            ("Temperature slate / °C", "slate", Scale::Celsius),
            ("slate [F]", "slate", Scale::Fahrenheit),
            ("slate_degf", "slate", Scale::Fahrenheit),
            ("moss / K", "moss", Scale::Kelvin),
            ("moss", "moss", Scale::Celsius),
            ("T1", "T1", Scale::Celsius),
            ("T (\u{fffd}C)", "T", Scale::Celsius),
            ("Temp", "Temp", Scale::Celsius),
        ] {
            assert_eq!(degrees(text), (name.to_owned(), scale), "{text}");
        }
    }

    #[test]
    fn times_are_known_by_word_and_unit() {
        for (text, unit) in [
            ("elapsed_s", Some(1.0)),
            ("mark_min", Some(60.0)),
            ("minutes", Some(60.0)),
            ("time", None),
            ("Time / min", Some(60.0)),
            ("t (s)", Some(1.0)),
            ("time (hh:mm:ss)", Some(1.0)),
            ("Time [h]", Some(3600.0)),
            ("time_utc", None),
        ] {
            match head(text) {
                Head::Time { unit_s, .. } => assert_eq!(unit_s, unit, "{text}"),
                other => panic!("{text}: {other:?}"),
            }
        }
    }

    #[test]
    fn other_columns_are_told_apart() {
        assert_eq!(head("phase"), Head::Known);
        assert_eq!(head("u_slate_degc"), Head::Known);
        assert_eq!(head("humidity (%)"), Head::Other);
        assert_eq!(head("row"), Head::Other);
        assert_eq!(head("Messfehler / °C"), Head::Other);
    }
}
