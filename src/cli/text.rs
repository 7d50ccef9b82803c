//! Text for terminals: nothing that a board or a file supplies reaches one unescaped.

/// A text without control characters: they are shown as escapes.
pub(super) fn printable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_control() {
            out.extend(c.escape_default());
        } else {
            out.push(c);
        }
    }
    out
}

/// A path as one word of a command that people paste.
pub(super) fn as_word(path: &std::path::Path) -> String {
    let shown = printable(&path.display().to_string());
    let plain = |c: char| c.is_alphanumeric() || "/\\:._-+@~".contains(c);
    if shown.chars().all(plain) {
        shown
    } else if cfg!(windows) {
        format!("\"{shown}\"")
    } else {
        shlex::try_quote(&shown).map_or_else(|_| shown.clone(), Into::into)
    }
}

/// A name that leaves room for its values on a line of 80 columns; the files have it whole.
pub(super) fn shortened(name: &str) -> String {
    let name = printable(name);
    match name.char_indices().nth(LONGEST_NAME) {
        Some((end, _)) => format!("{}…", name.get(..end).unwrap_or_default()),
        None => name,
    }
}

/// Characters of a name on a terminal: two samples and their values fit a line.
const LONGEST_NAME: usize = 16;

/// A text in lines of 80 columns at most, broken between words; what follows the first line is set
/// in.
pub(super) fn wrapped(text: &str) -> String {
    wrapped_within(text, 79)
}

/// The same within so many columns.
pub(super) fn wrapped_within(text: &str, columns: usize) -> String {
    let mut out = String::new();
    let mut width = 0;
    for word in text.split(' ') {
        let length = word.chars().count();
        if width > 0 && width + 1 + length > columns {
            out.push_str("\n  ");
            width = 2;
        } else if width > 0 {
            out.push(' ');
            width += 1;
        }
        out.push_str(word);
        width += length;
    }
    out.push('\n');
    out
}

/// The same in parts below one another where 80 columns do not hold it; each part begins with the first
/// `kept` columns.
pub(super) fn folded(rows: &[Vec<String>], kept: usize) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let part = |from: usize, to: usize| {
        let cells = |row: &Vec<String>| {
            let own = row.iter().enumerate();
            own.filter(|(at, _)| *at < kept || (from..to).contains(at))
                .map(|(_, cell)| cell.clone())
                .collect()
        };
        aligned(&rows.iter().map(cells).collect::<Vec<_>>())
    };
    let fits = |text: &str| text.lines().all(|line| line.chars().count() < 80);
    let mut parts = Vec::new();
    let mut from = kept;
    while from < columns {
        let most = (from + 1..=columns).rev();
        // One column is shown even where it is too wide.
        let to = most
            .clone()
            .find(|to| fits(&part(from, *to)))
            .unwrap_or(from + 1);
        parts.push(part(from, to));
        from = to;
    }
    parts.join("\n")
}

/// A table with aligned columns: text to the left, numbers to the right.
pub(super) fn aligned(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter()
            .filter_map(|row| row.get(column))
            .map(|cell| cell.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::from(" ");
        for (column, (cell, &width)) in row.iter().zip(&widths).enumerate() {
            let pad = " ".repeat(width - cell.chars().count());
            line.push(' ');
            if column == 0 {
                line.push_str(cell);
                line.push_str(&pad);
            } else {
                line.push(' ');
                line.push_str(&pad);
                line.push_str(cell);
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_cannot_reach_a_terminal() {
        assert_eq!(printable("a\u{1b}[31mb\u{7}\nc"), "a\\u{1b}[31mb\\u{7}\\nc");
        assert_eq!(printable("moss 23.4 °C"), "moss 23.4 °C");
        assert_eq!(printable("\u{9b}31m"), "\\u{9b}31m");
    }

    #[test]
    fn long_text_breaks_between_words_and_long_names_are_cut() {
        let text = wrapped(&"word ".repeat(40));
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{text}"
        );
        assert!(
            text.lines().count() == 3 && !text.contains("wor\n"),
            "{text}"
        );
        assert_eq!(shortened("moss"), "moss");
        assert_eq!(
            shortened("a very long name of a sample"),
            "a very long name…"
        );
    }

    #[test]
    fn columns_line_up() {
        let rows = [
            vec!["a".into(), "1.5".into()],
            vec!["bcd".into(), "22.5".into()],
        ];
        assert_eq!(aligned(&rows), "  a     1.5\n  bcd  22.5\n");
        assert_eq!(folded(&rows, 1), aligned(&rows));
    }

    #[test]
    fn a_table_that_is_too_wide_goes_on_below() {
        let row = |head: &str, cell: &str| {
            let cells = (0..8).map(|k| format!("{cell}{k}"));
            std::iter::once(head.to_owned()).chain(cells).collect()
        };
        let rows: [Vec<String>; 2] = [row("", "a long name of "), row("rise", "11.400 ± 0.09")];
        let text = folded(&rows, 1);
        assert!(text.lines().all(|line| line.chars().count() < 80), "{text}");
        assert_eq!(text.matches("  rise ").count(), 2, "{text}");
        for k in 0..8 {
            assert!(text.contains(&format!("a long name of {k}")), "{text}");
        }
    }
}
