//! Tables of a page.

use super::markup::escaped;

/// A table: rows of a head, then rows of cells.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Table {
    /// What the table shows; none if empty.
    pub caption: String,
    /// What it is called where it has no caption, for those who hear the page; none if empty.
    pub name: String,
    /// Rows of the head.
    pub head: Vec<Vec<Cell>>,
    /// All other rows; a [`Cell::heading`] in them is the heading of its row.
    pub rows: Vec<Vec<Cell>>,
}

/// One cell of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    text: String,
    kind: Kind,
    span: usize,
}

/// How a cell is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Heading,
    Text,
    Number,
    Blank,
}

impl Cell {
    /// A heading of a column, or of a row.
    #[must_use]
    pub fn heading(text: impl Into<String>) -> Self {
        Self::new(text.into(), Kind::Heading)
    }

    /// Words.
    #[must_use]
    pub fn text(text: impl Into<String>) -> Self {
        Self::new(text.into(), Kind::Text)
    }

    /// A number, written already as the language does.
    #[must_use]
    pub fn number(text: impl Into<String>) -> Self {
        Self::new(text.into(), Kind::Number)
    }

    /// Room for something to be written in by hand.
    #[must_use]
    pub fn blank() -> Self {
        Self::new(String::new(), Kind::Blank)
    }

    /// The same cell over several columns.
    #[must_use]
    pub fn over(mut self, columns: usize) -> Self {
        self.span = columns.max(1);
        self
    }

    fn new(text: String, kind: Kind) -> Self {
        Self {
            text,
            kind,
            span: 1,
        }
    }

    fn markup(&self, scope: &str) -> String {
        let span = match self.span {
            1 => String::new(),
            columns => format!(" colspan=\"{columns}\""),
        };
        let text = match self.kind {
            Kind::Heading => heading(&self.text),
            _ => escaped(&self.text),
        };
        match self.kind {
            // The corner above the rows' headings: a heading without words would be read out as one.
            Kind::Heading if text.is_empty() => format!("<td class=\"corner\"{span}></td>"),
            Kind::Heading if self.span > 1 => format!("<th scope=\"colgroup\"{span}>{text}</th>"),
            Kind::Heading => format!("<th scope=\"{scope}\">{text}</th>"),
            Kind::Text => format!("<td{span}>{text}</td>"),
            Kind::Number => format!("<td class=\"number\"{span}>{text}</td>"),
            Kind::Blank => format!("<td class=\"blank\"{span}></td>"),
        }
    }
}

/// A heading's markup: a unit after a slash stays on one line, with its slash.
fn heading(text: &str) -> String {
    match text.rsplit_once(" / ") {
        Some((quantity, unit)) if unit.chars().count() <= UNBROKEN => format!(
            "{} <span class=\"unit\">/ {}</span>",
            escaped(&breakable(quantity)),
            escaped(unit)
        ),
        _ => escaped(&breakable(text)),
    }
}

/// Characters without a space that a column's head takes in one line.
pub(in crate::report) const UNBROKEN: usize = 16;

/// A heading with places where a line may break within what has no space for long.
fn breakable(text: &str) -> String {
    let (mut out, mut run) = (String::with_capacity(text.len()), 0);
    for c in text.chars() {
        run = if c.is_whitespace() { 0 } else { run + 1 };
        if run > UNBROKEN {
            out.push('\u{200B}');
            run = 1;
        }
        out.push(c);
    }
    out
}

impl Table {
    pub(super) fn markup(&self) -> String {
        let caption = escaped(&self.caption);
        let name = if caption.is_empty() {
            escaped(&self.name)
        } else {
            caption.clone()
        };
        // What scrolls can be reached by keyboard, and says what it is.
        let mut out = match name.as_str() {
            "" => String::from("<div class=\"wide\">\n<table>\n"),
            name => format!(
                "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{name}\">\n<table>\n"
            ),
        };
        if !caption.is_empty() {
            out += &format!("<caption><span>{caption}</span></caption>\n");
        }
        let rows = |rows: &[Vec<Cell>], scope: &str| -> String {
            let row = |cells: &Vec<Cell>| -> String {
                let cells: Vec<String> = cells.iter().map(|c| c.markup(scope)).collect();
                format!("<tr>{}</tr>\n", cells.concat())
            };
            rows.iter().map(row).collect()
        };
        if !self.head.is_empty() {
            out += &format!("<thead>\n{}</thead>\n", rows(&self.head, "col"));
        }
        if !self.rows.is_empty() {
            out += &format!("<tbody>\n{}</tbody>\n", rows(&self.rows, "row"));
        }
        out + "</table>\n</div>"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_stay_with_their_slash() {
        assert_eq!(
            heading("Initial heating / (°C/min)"),
            "Initial heating <span class=\"unit\">/ (°C/min)</span>"
        );
        assert_eq!(heading("slate < moss"), "slate &lt; moss");
        let name = format!("a / {}", "x".repeat(20));
        assert!(!heading(&name).contains("span"));
    }

    #[test]
    fn long_names_can_break_and_words_stay_whole() {
        assert_eq!(
            breakable("wet moss, Zeitkonstante"),
            "wet moss, Zeitkonstante"
        );
        let parted = breakable(&format!("moss {}", "x".repeat(40)));
        let runs: Vec<usize> = parted.split(['\u{200B}', ' ']).map(str::len).collect();
        assert_eq!(runs, [4, 16, 16, 8]);
    }
}
