//! Units in headings: of times, and of what is no temperature.

/// Seconds in a unit of time, by the lower-case word for it in English, German or French.
pub(super) fn time_unit_s(word: &str) -> Option<f64> {
    match word {
        "s" | "sec" | "secs" | "second" | "seconds" | "sek" | "sekunde" | "sekunden"
        | "seconde" | "secondes" => Some(1.0),
        "ms" | "msec" | "millis" | "millisecond" | "milliseconds" | "millisekunde"
        | "millisekunden" | "milliseconde" | "millisecondes" => Some(1e-3),
        "min" | "mins" | "minute" | "minutes" | "minuten" => Some(60.0),
        "h" | "hr" | "hrs" | "hour" | "hours" | "std" | "stunde" | "stunden" | "heures" => {
            Some(3600.0)
        }
        "d" | "days" | "tage" | "jours" => Some(86_400.0),
        _ => None,
    }
}

/// Units of other quantities than temperature, as they are written behind a heading.
const FOREIGN: [&str; 33] = [
    "s", "sec", "ms", "min", "h", "d", "g", "kg", "mg", "lb", "oz", "cm", "mm", "%", "lx", "lux",
    "V", "mV", "mA", "W", "mW", "kW", "J", "kJ", "Pa", "hPa", "kPa", "mbar", "ohm", "Ω", "kΩ",
    "kohm", "ml",
];

/// What a heading states behind a stroke or in brackets at its end, and whether that is in brackets.
fn stated(text: &str) -> Option<(&str, &str, bool)> {
    let text = text.trim();
    let bracket = [('(', ')'), ('[', ']')]
        .into_iter()
        .find_map(|(open, close)| {
            let (name, unit) = text.strip_suffix(close)?.rsplit_once(open)?;
            Some((name.trim(), unit.trim(), true))
        });
    bracket.or_else(|| {
        let (name, unit) = text.split_once('/')?;
        Some((name.trim(), unit.trim(), false))
    })
}

/// Whether a heading states a unit that is none of temperature, as `mass / g`, `light (lx)` or
/// `rate / °C/min`. A letter in brackets that begins the name is its short form: `shade (s)`.
pub(super) fn is_foreign(text: &str) -> bool {
    if is_rate(text) {
        return true;
    }
    let Some((name, unit, brackets)) = stated(text) else {
        return false;
    };
    let short = brackets
        && unit.chars().count() == 1
        && name.to_lowercase().starts_with(&unit.to_lowercase());
    !name.is_empty() && !short && FOREIGN.contains(&unit)
}

/// Whether a heading is that of a change of temperature by time.
fn is_rate(text: &str) -> bool {
    let lower = text.to_lowercase();
    let by = [
        "/min", "/s", "/h", " per min", " pro min", " par min", "_per_min",
    ];
    let degrees = |before: &str| {
        let signs = ["°c", "ºc"].iter().any(|unit| before.ends_with(unit));
        let left = before.strip_suffix("degc").or(before.strip_suffix('k'));
        signs || left.is_some_and(|left| !left.ends_with(char::is_alphanumeric))
    };
    by.iter().any(|by| {
        lower.match_indices(by).any(|(at, _)| {
            let before = lower.get(..at).unwrap_or_default().trim_end();
            let rest = lower.get(at + by.len()..).unwrap_or_default();
            degrees(before) && !rest.starts_with(char::is_alphabetic)
        })
    })
}

/// Words for how exactly something was measured, in English, German and French.
const UNCERTAINTIES: [&str; 16] = [
    "error",
    "errors",
    "uncertainty",
    "tolerance",
    "stdev",
    "sd",
    "fehler",
    "unsicherheit",
    "toleranz",
    "genauigkeit",
    "standardabweichung",
    "incertitude",
    "incertitudes",
    "erreur",
    "tolérance",
    "précision",
];

/// Whether a heading is that of uncertainties, as `Messfehler`, `slate error` or `± / °C`. With the number
/// itself, as in `slate (±0.5 °C)`, it is a sample's.
pub(super) fn is_uncertainty(text: &str) -> bool {
    let lower = text.to_lowercase();
    let digit = |rest: &str| {
        let rest = rest.trim_start_matches(|c: char| !c.is_alphanumeric());
        rest.starts_with(|c: char| c.is_ascii_digit())
    };
    let signs = ["±", "+/-", "+-"].iter();
    let mut behind = signs.filter_map(|sign| Some(lower.split_once(sign)?.1));
    if behind.any(|rest| !digit(rest)) {
        return true;
    }
    let mut words = lower.split(|c: char| !c.is_alphanumeric() && c != '-');
    let is = |word: &str| {
        let compound = ["fehler", "unsicherheit", "abweichung"];
        let german = || compound.iter().any(|end| word.ends_with(end));
        UNCERTAINTIES.contains(&word) || word == "écart-type" || german()
    };
    let Some(word) = words.find(|word| is(word)) else {
        return false;
    };
    let behind = lower.split_once(word).map_or("", |(_, rest)| rest);
    !digit(behind)
}

/// A unit without what joins it to a name: `in min`, `/ °C`.
pub(super) fn without_in(unit: &str) -> &str {
    let joints = ["in ", "en ", "/"].iter();
    let mut rests = joints.filter_map(|joint| unit.strip_prefix(joint));
    rests.next().map_or(unit, str::trim)
}

/// Whether a cell holds nothing but a unit of time or of temperature, as in a line of units below
/// the line of names.
pub(super) fn is_unit(text: &str) -> bool {
    let bare = text
        .trim()
        .trim_matches(|c: char| "()[]".contains(c))
        .trim();
    let bare = without_in(bare);
    let lower = bare.to_lowercase();
    let degrees = [
        "°c",
        "ºc",
        "\u{fffd}c",
        "degc",
        "celsius",
        "°f",
        "ºf",
        "\u{fffd}f",
        "degf",
        "fahrenheit",
        "kelvin",
        "grad",
        "grad celsius",
        "°",
        "degrees",
        "degrees c",
        "deg c",
    ];
    degrees.contains(&lower.as_str())
        || matches!(bare, "C" | "F" | "K")
        || time_unit_s(lower.trim_end_matches('.')).is_some()
        || is_form(&lower)
}

/// Whether a cell says how times are written: `min:s`, `mm:ss`, `hh:mm`.
fn is_form(lower: &str) -> bool {
    let part = |p: &str| {
        matches!(
            p,
            "h" | "hh" | "std" | "m" | "mm" | "min" | "s" | "ss" | "sec" | "sek"
        )
    };
    lower.contains([':', '.']) && lower.split([':', '.']).all(part)
}

#[cfg(test)]
mod tests {
    use super::{is_foreign, is_uncertainty, is_unit};

    #[test]
    fn uncertainties_are_no_samples() {
        for text in [
            "Messfehler",
            "Fehler Schiefer",
            "Ablesefehler / °C",
            "Messunsicherheit (°C)",
            "± / °C",
            "Schiefer ±",
            "slate error",
            "uncertainty T1",
            "incertitude (°C)",
            "écart-type",
            "Erreur de lecture",
        ] {
            assert!(is_uncertainty(text), "{text}");
        }
        for text in [
            "Schiefer",
            "Schiefer (±0,5 °C)",
            "slate +/- 0.5 °C",
            "Temperatur (Messfehler 0,5 °C)",
            "terror",
            "wet moss",
        ] {
            assert!(!is_uncertainty(text), "{text}");
        }
    }

    #[test]
    fn units_of_other_things_are_known_where_they_are_stated() {
        for text in [
            "At / s",
            "from / s",
            "mass / g",
            "rel. humidity / %",
            "light (lx)",
            "supply [V]",
            "heating rate / °C/min",
            "first rate (K/min)",
            "heating_rate_degc_per_min",
        ] {
            assert!(is_foreign(text), "{text}");
        }
        for text in [
            "slate / °C",
            "moss (K)",
            "shade (s)",
            "slate (wet)",
            "moss [F]",
            "slate/moss",
            "slate g",
            "brick per min",
            "s",
        ] {
            assert!(!is_foreign(text), "{text}");
        }
    }

    #[test]
    fn a_cell_may_hold_a_unit_and_nothing_else() {
        for text in [
            "°C",
            "min",
            "in min",
            "en °C",
            "/ s",
            "[s]",
            "Minuten",
            "(°F)",
            "K",
            "Min.",
            "min:s",
            "mm:ss",
            "(hh:mm:ss)",
            "min.s",
        ] {
            assert!(is_unit(text), "{text}");
        }
        for text in [
            "slate",
            "k",
            "time (min)",
            "slate °C",
            "",
            "20",
            ":",
            "1:30",
        ] {
            assert!(!is_unit(text), "{text}");
        }
    }
}
