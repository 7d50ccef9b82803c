//! A class on one page, in one picture and in one workbook: all benches together.

mod book;
mod page;
mod picture;
mod said;
mod together;

use crate::analysis::class::{Bench, Class, ClassWarning};
use crate::graph::{Degrees, Style};

use super::workbook::WorkbookError;
use super::{Language, Words};

/// What a class's page, picture and workbook are made of.
#[derive(Debug, Clone, Copy)]
pub struct ClassReport<'a> {
    /// What the class is called; text from people, so anything at all.
    pub title: &'a str,
    /// The language of page, picture and workbook.
    pub language: Language,
    /// What temperatures are shown in on the page and in the picture; the workbook has °C.
    pub degrees: Degrees,
    /// What the benches say together.
    pub class: &'a Class,
    /// The benches, in the order of the class's table.
    pub benches: &'a [Bench<'a>],
}

impl ClassReport<'_> {
    /// What a class is called that nobody gave a name.
    #[must_use]
    pub fn usual_title(language: Language) -> String {
        Words::of(language).say("class-title")
    }

    /// The page, self-contained, with the picture in it for paper and for phones.
    #[must_use]
    pub fn html(&self) -> String {
        let sizes = [("broad", Style::page()), ("narrow", Style::phone())];
        page::html(self, &sizes.map(|(class, style)| (class, self.svg(&style))))
    }

    /// Whether readings in it are those of virtual benches.
    fn has_invented(&self) -> bool {
        let invented = |w: &ClassWarning| matches!(w, ClassWarning::Invented { .. });
        self.class.warnings.iter().any(invented)
    }

    /// The picture in a size and on a ground: every bench faint, the median of each sample bold.
    #[must_use]
    pub fn svg(&self, style: &Style) -> String {
        let degrees = self.degrees;
        picture::svg(self, &Style { degrees, ..*style })
    }

    /// The workbook: benches, all together, notes, and a chart of the rises.
    ///
    /// # Errors
    /// [`WorkbookError`]; nothing that a class holds leads to one.
    pub fn workbook(&self) -> Result<Vec<u8>, WorkbookError> {
        book::workbook(self)
    }
}
