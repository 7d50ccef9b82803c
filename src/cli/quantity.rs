//! Masses, volumes and lengths as people type them: `250g`, `0.2 L`, `30cm`.

use crate::report::Quantity;

/// Units of one kind: as typed (in lower case), and as printed.
type Units = &'static [(&'static str, &'static str)];

const MASS: Units = &[("g", "g"), ("kg", "kg")];
const VOLUME: Units = &[
    ("ml", "mL"),
    ("cl", "cL"),
    ("dl", "dL"),
    ("l", "L"),
    ("cm3", "cm³"),
    ("cm³", "cm³"),
];
const LENGTH: Units = &[("mm", "mm"), ("cm", "cm"), ("m", "m")];

/// A mass.
///
/// # Errors
/// A sentence that says what was expected.
pub(super) fn parse_mass(text: &str) -> Result<Quantity, String> {
    parse(text, MASS).ok_or_else(|| format!("'{text}' is no mass; write it like 250g or 0.3kg"))
}

/// A volume.
///
/// # Errors
/// A sentence that says what was expected.
pub(super) fn parse_volume(text: &str) -> Result<Quantity, String> {
    parse(text, VOLUME).ok_or_else(|| format!("'{text}' is no volume; write it like 200mL or 0.2L"))
}

/// A length.
///
/// # Errors
/// A sentence that says what was expected.
pub(super) fn parse_length(text: &str) -> Result<Quantity, String> {
    parse(text, LENGTH).ok_or_else(|| format!("'{text}' is no distance; write it like 30cm"))
}

fn parse(text: &str, units: Units) -> Option<Quantity> {
    let text = text.trim();
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.')?;
    let (digits, unit) = text.split_at(end);
    let unit = unit.trim().to_lowercase();
    let known = units.iter().find(|(typed, _)| *typed == unit);
    let above_zero = |digits: &str| digits.parse::<f64>().is_ok_and(|v| v > 0.0 && v < 1e9);
    let whole = digits.starts_with(|c: char| c.is_ascii_digit()) && !digits.ends_with('.');
    known
        .filter(|_| whole && above_zero(digits))
        .map(|(_, unit)| Quantity {
            digits: digits.to_owned(),
            unit,
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_as_people_type_them() {
        for (read, digits, unit) in [
            (parse_mass("250g"), "250", "g"),
            (parse_mass(" 0.25 KG"), "0.25", "kg"),
            (parse_volume("200ml"), "200", "mL"),
            (parse_volume("0.2 l"), "0.2", "L"),
            (parse_length("30 cm"), "30", "cm"),
        ] {
            let digits = digits.to_owned();
            assert_eq!(read, Ok(Quantity { digits, unit }));
        }
        for text in [
            "",
            "250",
            "g",
            "0g",
            "-5g",
            "1e3g",
            "nang",
            "5.g",
            ".5g",
            "3cm",
            "9999999999g",
        ] {
            assert!(parse_mass(text).is_err(), "{text}");
        }
    }
}
