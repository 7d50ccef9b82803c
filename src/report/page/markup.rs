//! Elements of a page, written one after the other; all text is escaped on its way in.

use super::table::Table;

/// Markup as it grows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Markup {
    out: String,
}

/// Text for HTML: the five characters that have a meaning there are replaced; control characters
/// and marks that turn the direction of writing go. The isolates U+2068 and U+2069, which
/// [`plain`](super::super::plain) puts around names, stay.
pub(in crate::report) fn escaped(text: &str) -> String {
    let stays = |c: &char| {
        !matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}' | '\u{2067}') && !c.is_control()
    };
    crate::graph::escaped(&text.chars().filter(stays).collect::<String>())
}

impl Markup {
    /// What is written so far.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.out
    }

    /// A heading of level 1 to 6 (others are taken as the nearest).
    pub fn heading(&mut self, level: u8, text: &str) {
        let tag = format!("h{}", level.clamp(1, 6));
        self.element(&tag, "", text);
    }

    /// A paragraph.
    pub fn paragraph(&mut self, text: &str) {
        self.element("p", "", text);
    }

    /// A paragraph of a class that the style knows (`lead`, `small`, `note`).
    pub fn paragraph_as(&mut self, class: &str, text: &str) {
        self.element("p", class, text);
    }

    /// A list of points; nothing for none.
    pub fn list<T: AsRef<str>>(&mut self, points: &[T]) {
        self.listed("ul", points);
    }

    /// A list of numbered points; nothing for none.
    pub fn numbered<T: AsRef<str>>(&mut self, points: &[T]) {
        self.listed("ol", points);
    }

    fn listed<T: AsRef<str>>(&mut self, tag: &str, points: &[T]) {
        if points.is_empty() {
            return;
        }
        self.line(&format!("<{tag}>"));
        for point in points {
            self.element("li", "", point.as_ref());
        }
        self.line(&format!("</{tag}>"));
    }

    /// Terms, each with what is said of it; nothing for none.
    pub fn facts<T: AsRef<str>, U: AsRef<str>>(&mut self, facts: &[(T, U)]) {
        if facts.is_empty() {
            return;
        }
        self.line("<dl>");
        for (term, said) in facts {
            self.element("dt", "", term.as_ref());
            self.element("dd", "", said.as_ref());
        }
        self.line("</dl>");
    }

    /// A table, which scrolls by itself where it is wider than the screen.
    pub fn table(&mut self, table: &Table) {
        self.line(&table.markup());
    }

    /// A drawing of our own (an `<svg>` element, written as it is) and what it shows.
    pub fn figure(&mut self, svg: &str, caption: &str) {
        self.drawings(&[("", svg)], caption);
    }

    /// The same in several sizes, each in a box of a class that shows it where it fits.
    pub fn drawings<T: AsRef<str>>(&mut self, sizes: &[(&str, T)], caption: &str) {
        self.line("<figure>");
        for (class, svg) in sizes {
            self.within("div", class, |inner| inner.line(svg.as_ref().trim_end()));
        }
        if !caption.is_empty() {
            self.element("figcaption", "", caption);
        }
        self.line("</figure>");
    }

    /// A part of the page with a heading of level 2; `class` is one that the style knows, or empty.
    pub fn section(&mut self, class: &str, heading: &str, fill: impl FnOnce(&mut Self)) {
        self.within("section", class, |inner| {
            inner.heading(2, heading);
            fill(inner);
        });
    }

    /// A box of a class that the style knows (`caution`, `answer`, `columns`).
    pub fn block(&mut self, class: &str, fill: impl FnOnce(&mut Self)) {
        self.within("div", class, fill);
    }

    /// A word, and a line to write behind it.
    pub fn field(&mut self, word: &str) {
        self.line(&format!("<p class=\"field\">{}</p>", escaped(word)));
    }

    /// Things to choose from, each with a box to tick.
    pub fn choices<T: AsRef<str>>(&mut self, choices: &[T]) {
        self.line("<ul class=\"choices\">");
        for choice in choices {
            let choice = escaped(choice.as_ref());
            self.line(&format!("<li>{choice}</li>"));
        }
        self.line("</ul>");
    }

    /// Empty lines to write on.
    pub fn lines(&mut self, count: usize) {
        for _ in 0..count {
            self.line("<div class=\"answer\"></div>");
        }
    }

    fn within(&mut self, tag: &str, class: &str, fill: impl FnOnce(&mut Self)) {
        let opening = opening(tag, class);
        self.line(&opening);
        fill(self);
        self.line(&format!("</{tag}>"));
    }

    fn element(&mut self, tag: &str, class: &str, text: &str) {
        let opening = opening(tag, class);
        self.line(&format!("{opening}{}</{tag}>", escaped(text)));
    }

    fn line(&mut self, markup: &str) {
        self.out.push_str(markup);
        self.out.push('\n');
    }
}

fn opening(tag: &str, class: &str) -> String {
    if class.is_empty() {
        format!("<{tag}>")
    } else {
        format!("<{tag} class=\"{}\">", escaped(class))
    }
}
