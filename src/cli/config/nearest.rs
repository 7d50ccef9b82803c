//! Which word may have been meant.

/// The word that is a few typing errors away at most.
pub(in crate::cli) fn nearest<'a>(
    word: &str,
    known: impl Iterator<Item = &'a str>,
) -> Option<&'a str> {
    let far = |other: &str| distance(&word.to_lowercase(), &other.to_lowercase());
    let best = known.map(|other| (far(other), other)).min()?;
    (best.0 <= (word.chars().count() / 2).min(2)).then_some(best.1)
}

/// Edit distance with swaps of neighbours (optimal string alignment; Damerau 1964).
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut rows = vec![(0..=b.len()).collect::<Vec<usize>>()];
    let cell = |rows: &Vec<Vec<usize>>, i: usize, j: usize| {
        rows.get(i)
            .and_then(|row| row.get(j))
            .copied()
            .unwrap_or(usize::MAX / 2)
    };
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let left = row.last().copied().unwrap_or(0) + 1;
            let step = cell(&rows, i, j) + usize::from(x != y);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x);
            let swap = if swapped {
                cell(&rows, i - 1, j - 1) + 1
            } else {
                usize::MAX
            };
            row.push(left.min(cell(&rows, i, j + 1) + 1).min(step).min(swap));
        }
        rows.push(row);
    }
    cell(&rows, a.len(), b.len())
}

#[cfg(test)]
mod tests {
    use super::distance;

    #[test]
    fn distances_count_typing_errors() {
        for (a, b, far) in [
            ("heat", "heat", 0),
            ("haet", "heat", 1),
            ("het", "heat", 1),
            ("", "abc", 3),
        ] {
            assert_eq!(distance(a, b), far, "{a} {b}");
        }
    }
}
