//! Column names from the names that people give, and the order that these have.

use std::cmp::Ordering;

/// Longest slug in characters: headings stay readable and no file name limit is near.
const LONGEST: usize = 40;

/// A column name from a sample's name: lower-case ASCII letters, digits and `_`, never empty,
/// never beginning with a digit.
///
/// ```
/// assert_eq!(duskmark::analysis::slug("Wet moss (2)"), "wet_moss_2");
/// assert_eq!(duskmark::analysis::slug("=苔"), "sample");
/// ```
#[must_use]
pub fn slug(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        let plain = plain_letters(c);
        if plain.is_empty() {
            if !out.is_empty() && !out.ends_with('_') {
                out.push('_');
            }
        } else {
            out.push_str(plain.as_str());
        }
        if out.len() >= LONGEST {
            break;
        }
    }
    out.truncate(LONGEST);
    let out = out.trim_matches('_');
    match out.chars().next() {
        None => "sample".to_owned(),
        Some(first) if first.is_ascii_digit() => format!("s{out}"),
        Some(_) => out.to_owned(),
    }
}

/// Which of two names comes first where numbers in them count as numbers.
///
/// ```
/// use std::cmp::Ordering;
/// assert_eq!(duskmark::analysis::by_number("bench 2", "bench 10"), Ordering::Less);
/// ```
#[must_use]
pub fn by_number(a: &str, b: &str) -> Ordering {
    // A number is the larger the more digits it has, but for zeros in front.
    let parts = |name: &str| -> Vec<(bool, usize, String)> {
        let bytes = name.to_lowercase().into_bytes();
        let parts = bytes.chunk_by(|a, b| a.is_ascii_digit() == b.is_ascii_digit());
        parts
            .map(|part| {
                let part = String::from_utf8_lossy(part).into_owned();
                if !part.starts_with(|c: char| c.is_ascii_digit()) {
                    return (true, 0, part);
                }
                let digits = part.trim_start_matches('0');
                (false, digits.len(), digits.to_owned())
            })
            .collect()
    };
    parts(a).cmp(&parts(b)).then_with(|| a.cmp(b))
}

/// ASCII spelling of one lower-case character; empty where there is none.
pub(super) fn plain_letters(c: char) -> String {
    let text = match c {
        'a'..='z' | '0'..='9' => return c.to_string(),
        'ä' | 'æ' => "ae",
        'ö' | 'ø' | 'œ' => "oe",
        'ü' => "ue",
        'ß' => "ss",
        'à' | 'á' | 'â' | 'ã' | 'å' => "a",
        'ç' => "c",
        'è' | 'é' | 'ê' | 'ë' => "e",
        'ì' | 'í' | 'î' | 'ï' => "i",
        'ñ' => "n",
        'ò' | 'ó' | 'ô' | 'õ' => "o",
        'ù' | 'ú' | 'û' => "u",
        'ý' | 'ÿ' => "y",
        _ => "",
    };
    text.to_owned()
}

/// Slugs of several names, all different: a repeated one gets `_2`, `_3` and so on.
#[must_use]
pub fn slugs<S: AsRef<str>>(names: &[S]) -> Vec<String> {
    let mut out: Vec<String> = Vec::with_capacity(names.len());
    for name in names {
        let base = slug(name.as_ref());
        let mut candidate = base.clone();
        let mut n = 2;
        while out.contains(&candidate) {
            candidate = format!("{base}_{n}");
            n += 1;
        }
        out.push(candidate);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{by_number, slug, slugs};

    #[test]
    fn benches_stand_in_the_order_of_their_numbers() {
        let sorted = [
            "2",
            "bench 1",
            "Bench 02",
            "bench 10",
            "bench 10b",
            "window",
        ];
        let mut names = sorted.to_vec();
        names.reverse();
        names.sort_by(|a, b| by_number(a, b));
        assert_eq!(names, sorted);
    }

    #[test]
    fn names_become_safe_columns() {
        for (name, expected) in [
            ("slate", "slate"),
            ("Slate roof", "slate_roof"),
            ("=HYPERLINK(1)", "hyperlink_1"),
            ("../../etc", "etc"),
            ("", "sample"),
            ("7", "s7"),
            ("Schiefer, grün", "schiefer_gruen"),
        ] {
            assert_eq!(slug(name), expected);
        }
        assert!(slug(&"x".repeat(5000)).len() <= 40);
    }

    #[test]
    fn repeated_names_are_told_apart() {
        assert_eq!(
            slugs(&["moss", "Moss", "moss_2"]),
            ["moss", "moss_2", "moss_2_2"]
        );
    }
}
