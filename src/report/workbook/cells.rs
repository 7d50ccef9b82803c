//! Cells: how text, numbers and formulas go into a sheet, and the few ways that they look.

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Formula, Worksheet, XlsxError};

use crate::analysis::rounded;
use crate::report::words::{self, Language, Words};

/// Longest text of a cell, in characters: names and warnings fit, and Excel's 32,767 is far.
const LONGEST: usize = 2000;

/// Width of notes in characters, and height of a line of theirs in points.
const NOTE_WIDTH: usize = 90;
const LINE_HEIGHT: f64 = 15.0;

/// What stays of a text from people: no control characters, no marks that turn the direction of
/// writing, nothing that XML 1.0 forbids.
pub(in crate::report) fn safe(text: &str) -> String {
    let turns = |c: char| matches!(c, '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    let forbidden = |c: char| matches!(c, '\u{FFFE}' | '\u{FFFF}');
    text.chars()
        .map(|c| if c.is_whitespace() { ' ' } else { c })
        .filter(|c| !c.is_control() && !turns(*c) && !forbidden(*c))
        .take(LONGEST)
        .collect()
}

/// Letters of a column, from 0: A, B, … Z, AA.
pub(in crate::report) fn column(index: u16) -> String {
    rust_xlsxwriter::utility::column_number_to_name(index)
}

/// What cells say and how they look.
#[derive(Debug)]
pub(in crate::report) struct Book {
    pub(in crate::report) words: Words,
    pub(in crate::report) title: Format,
    pub(in crate::report) head: Format,
    pub(in crate::report) text: Format,
    pub(in crate::report) wrapped: Format,
    /// Text that begins like a formula: told to stay text also when someone edits the cell.
    quoted: Format,
    degc: Format,
    fine: Format,
    time: Format,
    /// With no decimal, one, and so on.
    digits: [Format; MOST_DIGITS + 1],
}

/// Most decimals of a number that is shown as it stands in a file.
const MOST_DIGITS: usize = 6;

/// What a number is, which says how many decimals are shown. But for digits of a file the cell holds all
/// of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) enum Value {
    /// Two decimals.
    Degc,
    /// Three decimals: rates, ratios, uncertainties.
    Fine,
    /// Up to three decimals.
    Time,
    /// So many decimals: a number as it stands in a file, or as its uncertainty lets it be read.
    Digits(usize),
}

impl Value {
    /// As many decimals as a standard uncertainty leaves; as usual where it is not known.
    pub(in crate::report) fn fitting(self, value: Option<f64>, u: Option<f64>) -> Self {
        let text = rounded(value.unwrap_or(0.0), u.unwrap_or(f64::NAN));
        match text {
            (_, u) if u.is_empty() => self,
            (value, _) => Self::Digits(decimals(&value)),
        }
    }
}

/// Decimals of a number as it is written.
pub(in crate::report) fn decimals(text: &str) -> usize {
    text.split_once('.').map_or(0, |(_, digits)| digits.len())
}

impl Book {
    pub(in crate::report) fn new(language: Language) -> Self {
        Self {
            words: Words::of(language),
            title: Format::new().set_bold().set_font_size(14.0),
            head: Format::new()
                .set_bold()
                .set_text_wrap()
                .set_align(FormatAlign::Top)
                .set_background_color(Color::RGB(0x00E8_EEF4))
                .set_border_bottom(FormatBorder::Thin),
            text: Format::new(),
            wrapped: Format::new().set_text_wrap().set_align(FormatAlign::Top),
            quoted: Format::new().set_quote_prefix(),
            degc: Format::new().set_num_format("0.00"),
            fine: Format::new().set_num_format("0.000"),
            time: Format::new().set_num_format("0.0##"),
            digits: std::array::from_fn(|decimals| {
                let point = if decimals > 0 { "." } else { "" };
                let zeros = "0".repeat(decimals);
                Format::new().set_num_format(format!("0{point}{zeros}"))
            }),
        }
    }

    pub(in crate::report) fn number(&self, value: Value) -> &Format {
        match value {
            Value::Degc => &self.degc,
            Value::Fine => &self.fine,
            Value::Time => &self.time,
            Value::Digits(decimals) => self.digits.get(decimals).unwrap_or(&self.fine),
        }
    }

    /// Writes text that people gave, as text whatever it begins with.
    pub(in crate::report) fn put_text(
        &self,
        sheet: &mut Worksheet,
        (row, column): (u32, u16),
        text: &str,
        format: &Format,
    ) -> Result<(), XlsxError> {
        let clean = safe(text);
        let formula = clean.starts_with(['=', '+', '-', '@']);
        let quoted = if *format == self.text {
            self.quoted.clone()
        } else {
            format.clone().set_quote_prefix()
        };
        let format = if formula { &quoted } else { format };
        sheet.write_string_with_format(row, column, clean, format)?;
        Ok(())
    }

    /// Title of a sheet, and below it that its readings are invented where they are.
    pub(in crate::report) fn put_title(
        &self,
        sheet: &mut Worksheet,
        title: &str,
        is_invented: bool,
    ) -> Result<(), XlsxError> {
        if is_invented {
            self.put_said(sheet, (1, 0), "invented-readings", &self.text)?;
        }
        self.put_text(sheet, (0, 0), title, &self.title)
    }

    /// A message of ours in a cell.
    pub(in crate::report) fn put_said(
        &self,
        sheet: &mut Worksheet,
        at: (u32, u16),
        key: &str,
        format: &Format,
    ) -> Result<(), XlsxError> {
        self.put_text(sheet, at, &self.words.say(key), format)
    }

    /// Headings, by their keys, from a cell to the right.
    pub(in crate::report) fn put_heads<'a>(
        &self,
        sheet: &mut Worksheet,
        (row, column): (u32, u16),
        keys: impl IntoIterator<Item = &'a str>,
    ) -> Result<(), XlsxError> {
        for (column, key) in (column..).zip(keys) {
            self.put_said(sheet, (row, column), key, &self.head)?;
        }
        Ok(())
    }

    /// A message with names from people in it.
    pub(in crate::report) fn naming(&self, key: &str, names: &[(&str, &str)]) -> String {
        let values: Vec<_> = names
            .iter()
            .map(|(place, name)| (*place, words::Value::Name(name)))
            .collect();
        self.words.tell(key, &values)
    }

    /// Prints a sheet on A4 lying, one page wide and so many high (0: as many as it takes).
    pub(in crate::report) fn lying(sheet: &mut Worksheet, high: u16) {
        sheet
            .set_landscape()
            .set_paper_size(9)
            .set_print_fit_to_pages(1, high);
    }

    /// Name, title and width of a sheet of notes.
    pub(in crate::report) fn begin_notes(&self, sheet: &mut Worksheet) -> Result<(), XlsxError> {
        sheet.set_name(self.words.say("book-notes"))?;
        sheet.set_paper_size(9).set_print_fit_to_pages(1, 0);
        sheet.set_column_width(0, NOTE_WIDTH as f64)?;
        self.put_said(sheet, (0, 0), "book-notes", &self.title)
    }

    /// A note in a row as high as its lines: not every program makes that room by itself.
    pub(in crate::report) fn put_note(
        &self,
        sheet: &mut Worksheet,
        row: u32,
        note: &str,
    ) -> Result<(), XlsxError> {
        let lines = note.chars().count().div_ceil(NOTE_WIDTH).max(1);
        sheet.set_row_height(row, LINE_HEIGHT * lines as f64)?;
        self.put_text(sheet, (row, 0), note, &self.wrapped)
    }

    /// Width of a column with this heading, in characters: no word is broken, and it is no narrower than
    /// its numbers need.
    pub(in crate::report) fn width(&self, key: &str, least: u16) -> u16 {
        let words = self.words.say(key);
        let longest = words.split_whitespace().map(|w| w.chars().count()).max();
        // Bold letters are wider than the digits that widths are counted in.
        let chars = (longest.unwrap_or(0) as f64 * 1.15).ceil() + 1.0;
        least.max(chars as u16)
    }

    /// Makes room for headings of three lines: not every program does that by itself.
    pub(in crate::report) fn tall_head(sheet: &mut Worksheet, row: u32) -> Result<(), XlsxError> {
        sheet.set_row_height(row, 46)?;
        Ok(())
    }

    /// Writes a number; nothing if there is none.
    pub(in crate::report) fn put(
        &self,
        sheet: &mut Worksheet,
        (row, column): (u32, u16),
        number: Option<f64>,
        value: Value,
    ) -> Result<(), XlsxError> {
        if let Some(number) = number.filter(|n| n.is_finite()) {
            sheet.write_number_with_format(row, column, number, self.number(value))?;
        }
        Ok(())
    }

    /// Writes a formula and what it gives; an empty text if it gives no number.
    pub(in crate::report) fn put_formula(
        &self,
        sheet: &mut Worksheet,
        (row, column): (u32, u16),
        formula: &str,
        result: Option<f64>,
        value: Value,
    ) -> Result<(), XlsxError> {
        // Else the library would store a 0 where a formula gives an empty text.
        sheet.set_formula_result_default("");
        let result = result.filter(|r| r.is_finite());
        let text = result.map_or(String::new(), |r| r.to_string());
        let formula = Formula::new(formula).set_result(text);
        sheet.write_formula_with_format(row, column, formula, self.number(value))?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::{column, safe};

    #[test]
    fn text_loses_what_would_harm_and_nothing_else() {
        assert_eq!(safe("=cmd|'/c calc'!A1"), "=cmd|'/c calc'!A1");
        assert_eq!(safe("a\u{0}b\u{1b}[31m\tc\u{202e}d\u{ffff}"), "ab[31m cd");
        assert_eq!(safe("سقف 🌿 \"q\" <script>"), "سقف 🌿 \"q\" <script>");
        assert_eq!(safe(&"é".repeat(9000)).chars().count(), 2000);
        assert_eq!((column(0), column(26)), ("A".into(), "AA".into()));
    }
}
