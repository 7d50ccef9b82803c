//! What samples are called on a page: safe, short, and told apart.

use super::words::plain;

/// Characters of a name that a table's head and a sentence can bear.
const LONGEST: usize = 40;

/// Labels from the names that people gave: cut with an ellipsis where they are longer than 40
/// characters, `–` where nothing is left of them; one that is there already gets ` (2)` and so on.
#[must_use]
pub fn labels<'a>(names: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for name in names {
        let base = short(name);
        let mut label = base.clone();
        let mut n = 2;
        while all.contains(&label) {
            label = format!("{base} ({n})");
            n += 1;
        }
        all.push(label);
    }
    all
}

fn short(name: &str) -> String {
    let name = plain(name);
    if name.chars().count() <= LONGEST {
        return if name.is_empty() { "–".into() } else { name };
    }
    let kept: String = name.chars().take(LONGEST - 1).collect();
    // Cut text may have lost the end of its isolate: `plain` makes it whole again.
    format!("{}…", plain(&kept))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_are_short_and_different() {
        let long = "x".repeat(200);
        let names = ["moss", "moss", "", "moss (2)", long.as_str(), "\u{1b}"];
        let all = labels(names);
        assert_eq!(all[..4], ["moss", "moss (2)", "–", "moss (2) (2)"]);
        assert_eq!(all[4].chars().count(), LONGEST);
        assert_eq!(all[5], "– (2)");
    }
}
