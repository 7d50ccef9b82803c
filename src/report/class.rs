//! A class on one page, in one picture and in one workbook: all benches together.

mod book;
mod page;
mod picture;
mod together;

use crate::analysis::class::{Bench, Class};

use super::Language;
use super::workbook::WorkbookError;

/// What a class's page, picture and workbook are made of.
#[derive(Debug, Clone, Copy)]
pub struct ClassReport<'a> {
    /// What the class is called; text from people, so anything at all.
    pub title: &'a str,
    /// The language of the page.
    pub language: Language,
    /// What the benches say together.
    pub class: &'a Class,
    /// The benches, in the order of the class's table.
    pub benches: &'a [Bench<'a>],
}

impl ClassReport<'_> {
    /// The page, self-contained, with the picture in it.
    #[must_use]
    pub fn html(&self) -> String {
        page::html(self, &self.svg())
    }

    /// The picture: every bench faint, the median of each sample bold.
    #[must_use]
    pub fn svg(&self) -> String {
        picture::svg(self)
    }

    /// The workbook: benches, all together, notes, and a chart of the rises.
    ///
    /// # Errors
    /// [`WorkbookError`]; nothing that a class holds leads to one.
    pub fn workbook(&self) -> Result<Vec<u8>, WorkbookError> {
        book::workbook(self)
    }
}
