//! Several groups in one table beside one column of times: each column becomes a sample, as if all had stood
//! under one lamp. Whether they did nobody can see from the numbers, so that is told.

use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::RowsWarning;

/// Words for those who share a bench, in English, German and French; `g1` is one too.
const GROUPS: [&str; 13] = [
    "group",
    "grp",
    "gr",
    "g",
    "bench",
    "team",
    "gruppe",
    "tisch",
    "groupe",
    "table",
    "équipe",
    "equipe",
    "paillasse",
];

/// What is to be told where the samples' names are those of several groups with the same samples each.
pub(super) fn groups<'a>(names: impl Iterator<Item = &'a str>) -> Option<RowsWarning> {
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut samples = 0;
    for name in names {
        let (group, sample) = parted(name)?;
        // One group has no sample twice.
        if !found.entry(group).or_default().insert(sample) {
            return None;
        }
        samples += 1;
    }
    let mut own = found.values();
    let first = own.next()?;
    let groups = found.len();
    (groups > 1 && first.len() > 1 && own.all(|other| other == first))
        .then_some(RowsWarning::Groups { samples, groups })
}

/// A name that says whose sample it is: the group and the sample, in small letters.
fn parted(name: &str) -> Option<(String, String)> {
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let numbered = |word: &str| {
        let stem = word.trim_end_matches(|c: char| c.is_ascii_digit());
        stem.len() < word.len() && GROUPS.contains(&stem)
    };
    let short = |word: &&str| word.chars().count() < 3;
    let (at, count) = words.iter().enumerate().find_map(|(at, word)| {
        let own_number = words.get(at + 1).is_some_and(short);
        match (numbered(word), GROUPS.contains(word) && own_number) {
            (true, _) => Some((at, 1)),
            (_, true) => Some((at, 2)),
            _ => None,
        }
    })?;
    let group = words.get(at..at + count)?.concat();
    let rest = words.iter().enumerate();
    let rest = rest.filter(|(place, _)| !(at..at + count).contains(place));
    let sample: Vec<&str> = rest.map(|(_, word)| *word).collect();
    (!sample.is_empty()).then(|| (group, sample.join(" ")))
}

#[cfg(test)]
mod tests {
    use super::super::read_table;
    use super::groups;
    use crate::analysis::RowsWarning;

    #[test]
    fn groups_beside_one_column_of_times_are_told() {
        let both = Some(RowsWarning::Groups {
            samples: 4,
            groups: 2,
        });
        for names in [
            [
                "group 1 slate",
                "group 1 moss",
                "group 2 slate",
                "group 2 moss",
            ],
            [
                "Schiefer Gruppe A",
                "Moos Gruppe A",
                "Schiefer Gruppe B",
                "Moos Gruppe B",
            ],
            ["G1 slate", "G2 slate", "G1 moss", "G2 moss"],
        ] {
            assert_eq!(groups(names.into_iter()), both, "{names:?}");
        }
        for names in [
            vec!["slate 1", "slate 2", "moss 1", "moss 2"],
            vec!["group 1 slate", "group 2 slate"],
            vec!["group 1 slate", "group 1 moss", "group 2 slate"],
            vec!["group 1 slate", "group 1 moss", "air"],
            vec!["slate", "moss"],
        ] {
            assert_eq!(groups(names.iter().copied()), None, "{names:?}");
        }
    }

    #[test]
    fn names_below_merged_headings_are_those_of_groups() {
        let text = "min,group 1,,group 2,\n,slate,moss,slate,moss\n0,20,20,21,21\n1,22,21,23,22\n2,24,22,25,23\n";
        let table = read_table(text.as_bytes()).unwrap();
        let said: Vec<String> = table.warnings.iter().map(ToString::to_string).collect();
        assert_eq!(table.series.channels.len(), 4);
        assert!(
            said.iter()
                .any(|text| text.starts_with("Each column is read as a sample")),
            "{said:?}"
        );
    }
}
