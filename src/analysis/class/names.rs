//! Which samples of different benches are the same one.

use super::bench::{Bench, BenchRow};
use super::warning::ClassWarning;
use crate::analysis::names::plain_letters;

/// A name for comparing: lower case, spelled as in a column's heading, what separates words one
/// underscore. Letters that a heading cannot hold stay, so that names in other scripts differ.
pub(super) fn key(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars().flat_map(char::to_lowercase) {
        // A mark of its own above a letter, as some systems write them: ü is u and U+0308.
        if ('\u{300}'..='\u{36f}').contains(&c) {
            if c == '\u{308}' && out.ends_with(['a', 'o', 'u']) {
                out.push('e');
            }
            continue;
        }
        let plain = plain_letters(c);
        if !plain.is_empty() {
            out.push_str(&plain);
        } else if c.is_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('_') {
            out.push('_');
        }
    }
    let out = out.trim_matches('_');
    // Signs alone, like a pictogram, are their own name.
    if out.is_empty() {
        name.trim().to_owned()
    } else {
        out.to_owned()
    }
}

/// Keys of one bench's samples, all different: a repeated one gets a number.
fn keys(bench: &Bench<'_>) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for sample in &bench.summary.samples {
        let base = key(&sample.name);
        let mut candidate = base.clone();
        let mut n = 2;
        while out.contains(&candidate) {
            candidate = format!("{base} {n}");
            n += 1;
        }
        out.push(candidate);
    }
    out
}

/// All samples of a class.
pub(super) struct Samples {
    /// Names as first given, those that most benches have first.
    pub(super) names: Vec<String>,
    /// For each bench, the place among `names` of each of its samples.
    pub(super) places: Vec<Vec<usize>>,
}

impl Samples {
    pub(super) fn of(benches: &[Bench<'_>]) -> Self {
        let mut found: Vec<(String, String, usize)> = Vec::new();
        let all: Vec<Vec<String>> = benches.iter().map(keys).collect();
        for (bench, own) in benches.iter().zip(&all) {
            for (key, sample) in own.iter().zip(&bench.summary.samples) {
                match found.iter_mut().find(|(known, ..)| known == key) {
                    Some((.., count)) => *count += 1,
                    None => found.push((key.clone(), sample.name.clone(), 1)),
                }
            }
        }
        // Stable: of equally many the first seen stays first.
        found.sort_by_key(|(.., count)| std::cmp::Reverse(*count));
        let place = |key: &String| found.iter().position(|(known, ..)| known == key);
        Self {
            places: all
                .iter()
                .map(|own| own.iter().filter_map(place).collect())
                .collect(),
            names: found.iter().map(|(_, name, _)| name.clone()).collect(),
        }
    }

    /// Says of each sample which not all benches have, and of benches with a single one.
    pub(super) fn say(&self, rows: &[BenchRow], warnings: &mut Vec<ClassWarning>) {
        for (place, name) in self.names.iter().enumerate() {
            let benches = rows
                .iter()
                .filter(|row| row.sample(place).is_some())
                .count();
            if benches < rows.len() {
                let (sample, of) = (name.clone(), rows.len());
                warnings.push(ClassWarning::NotInAll {
                    sample,
                    benches,
                    of,
                });
            }
        }
        for row in rows.iter().filter(|row| row.samples.len() == 1) {
            let bench = row.name.clone();
            warnings.push(ClassWarning::OneSample { bench });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::key;

    #[test]
    fn the_same_name_in_another_spelling_is_the_same() {
        for (a, b) in [
            ("Wet moss", "wet_moss "),
            ("Schiefer grün", "SCHIEFER GRU\u{308}N"),
            ("Moos (nass)", "moos-nass"),
        ] {
            assert_eq!(key(a), key(b));
        }
        for (a, b) in [
            ("苔", "石"),
            ("🌿", "🪨"),
            ("طحلب", "أردواز"),
            ("moss 1", "moss 2"),
        ] {
            assert_ne!(key(a), key(b));
        }
    }
}
