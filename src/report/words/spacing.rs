//! Where a line must not break: the one place that says so for all that pages say.
//!
//! A number keeps its unit, its per cent and its uncertainty (SI Brochure, 9th edition, 5.4.3), and
//! French keeps `:`, `;`, `?`, `!` and the inner side of its quotation marks with what is beside
//! them (Imprimerie nationale, Lexique des règles typographiques, 2002).

use super::language::Language;

/// A space at which no line breaks.
pub(super) const TIGHT: char = '\u{A0}';

/// What may follow a number, with a space between them.
const UNITS: [&str; 24] = [
    "°C", "°F", "°C/min", "°F/min", "K", "%", "‰", "ms", "s", "min", "h", "d", "mm", "cm", "m",
    "mg", "g", "kg", "mL", "L", "W", "mA", "UTC", "Uhr",
];

/// A text of a language with such spaces where they belong; what is right already stays.
pub(super) fn spaced(language: Language, text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for (at, c) in text.char_indices() {
        let (before, after) = (text.get(..at), text.get(at + c.len_utf8()..));
        let tight = c == ' '
            && before
                .zip(after)
                .is_some_and(|(before, after)| is_tight(language, before, after));
        out.push(if tight { TIGHT } else { c });
    }
    out
}

/// Whether a space between two parts of a text keeps them together.
fn is_tight(language: Language, before: &str, after: &str) -> bool {
    let (Some(last), Some(first)) = (before.chars().next_back(), after.chars().next()) else {
        return false;
    };
    let of_number = last.is_ascii_digit() && is_unit(after);
    let of_uncertainty =
        last == '±' && first.is_ascii_digit() || first == '±' && ends_a_value(before);
    let of_french = language == Language::French
        && (matches!(first, ':' | ';' | '?' | '!' | '»') || last == '«');
    of_number || of_uncertainty || of_french
}

/// Whether a text begins with a unit, and with nothing longer.
fn is_unit(text: &str) -> bool {
    let longer = |c: char| c.is_alphanumeric() || matches!(c, '’' | '\'' | '°');
    UNITS.iter().any(|unit| {
        text.strip_prefix(unit)
            .is_some_and(|rest| !rest.starts_with(longer))
    })
}

/// Whether a text ends with a number, or with one and its unit.
fn ends_a_value(text: &str) -> bool {
    let ends_a_number = |text: &str| text.ends_with(|c: char| c.is_ascii_digit());
    let unit = text.rsplit([' ', TIGHT]).next().unwrap_or_default();
    let number = text.strip_suffix(unit).unwrap_or_default();
    let number = number.trim_end_matches([' ', TIGHT]);
    ends_a_number(text) || UNITS.contains(&unit) && ends_a_number(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(language: Language, text: &str) -> String {
        spaced(language, text).replace(TIGHT, "_")
    }

    #[test]
    fn numbers_keep_their_units_and_uncertainties() {
        for (text, right) in [
            ("um 12,0 °C wärmer", "um 12,0_°C wärmer"),
            ("(genau: 63 %)", "(genau: 63_%)"),
            ("6 s ± 3 s sind", "6_s_±_3_s sind"),
            ("1,93 ± 0,06", "1,93_±_0,06"),
            ("nach ± ist eine", "nach ± ist eine"),
            ("1 Schale, 3 so, 2 m’", "1 Schale, 3 so, 2 m’"),
            ("Anstieg / °C", "Anstieg / °C"),
            ("um 10:49:51 Uhr", "um 10:49:51_Uhr"),
        ] {
            assert_eq!(shown(Language::German, text), right);
        }
        assert_eq!(shown(Language::English, "so: is it 3 ?"), "so: is it 3 ?");
    }

    #[test]
    fn french_signs_stay_with_their_words() {
        for (text, right) in [
            ("« ardoise » : 2 fois", "«_ardoise_»_: 2 fois"),
            ("Et ça ? Oui ; non !", "Et ça_? Oui_; non_!"),
            ("à 0:00", "à 0:00"),
            ("3 d’entre elles", "3 d’entre elles"),
        ] {
            assert_eq!(shown(Language::French, text), right);
        }
        let once = spaced(Language::French, "« a » : 1 s");
        assert_eq!(spaced(Language::French, &once), once);
    }
}
