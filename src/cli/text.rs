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
    fn columns_line_up() {
        let rows = [
            vec!["a".into(), "1.5".into()],
            vec!["bcd".into(), "22.5".into()],
        ];
        assert_eq!(aligned(&rows), "  a     1.5\n  bcd  22.5\n");
    }
}
