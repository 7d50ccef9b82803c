//! Graph paper with axes that fit the plan; on the key, the table's values on it.

use super::super::page::Markup;
use super::super::words::Value;
use super::Written;
use super::lines::{LINES, draw_lines};
use super::svg::{Drawing, FAINT, INK, Pen, QUIET, pen};
use crate::graph::Degrees;

/// Temperatures of a blank sheet's axis in °C and in °F: from a cool room to a dark sample under a
/// strong lamp (common practice, no source).
const BLANK_DEGC: (f64, f64) = (15.0, 45.0);
const BLANK_DEGF: (f64, f64) = (60.0, 115.0);

/// Room right of paper without names, in pixels.
const MARGIN: f64 = 16.0;

/// Characters of a name at the end of a line; longer ones are cut.
pub(super) const LONGEST_NAME: usize = 16;

/// The paper's rectangle in pixels and what its sides stand for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Paper {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    pub(super) end_min: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Paper {
    pub(super) fn x(&self, minute: f64) -> f64 {
        self.left + (self.right - self.left) * minute / self.end_min
    }

    pub(super) fn y(&self, shown: f64) -> f64 {
        let share = (shown - self.low) / (self.high - self.low);
        self.bottom - (self.bottom - self.top) * share
    }
}

impl Written<'_> {
    pub(super) fn graph(&self, page: &mut Markup) {
        let words = &self.words;
        let heat = minutes(self.sheet.heat_s);
        let key = match self.sheet.key {
            Some(_) => "sheet-graph-filled",
            None => "sheet-graph-caption",
        };
        let caption = words.tell(key, &[("heat", Value::Number(&heat))]);
        let class = if self.is_beside() || self.is_low() {
            "keep"
        } else {
            "new-page keep"
        };
        page.section(class, &words.say("sheet-graph"), |part| {
            part.figure(&self.paper(&caption), &caption);
        });
    }

    fn paper(&self, title: &str) -> String {
        let mut d = Drawing::default();
        let (low, high) = self.span();
        let names = self.names_width();
        let (width, height) = match (self.is_beside(), self.labels.len()) {
            (false, _) => (720.0, 446.0),
            // What names need more than a margin is added, up to a limit: letters stay legible.
            (true, 4..) => (366.0 + 0.5 * (names - MARGIN), 470.0),
            (true, _) => (450.0 + 0.5 * (names - MARGIN), 470.0),
        };
        let paper = Paper {
            left: 50.0,
            right: width - names,
            top: 22.0,
            bottom: height - 46.0,
            end_min: (self.sheet.heat_s + self.sheet.cool_s) / 60.0,
            low,
            high,
        };
        self.draw_grid(&mut d, &paper);
        let off = self.sheet.heat_s / 60.0;
        let dashed = Pen {
            dashes: "6 4",
            ..pen(INK, 1.4)
        };
        if self.sheet.cool_s > 0.0 {
            d.line(
                (paper.x(off), paper.top - 4.0),
                (paper.x(off), paper.bottom),
                dashed,
            );
            let label = self.words.say("sheet-lamp-off-line");
            d.text((paper.x(off), paper.top - 8.0), 12.0, "middle", &label);
        }
        self.draw_axes(&mut d, &paper);
        if self.sheet.key.is_some() {
            draw_lines(self, &mut d, &paper);
        }
        d.finish(width, height, title)
    }

    /// Room right of the paper: the key has the samples' names at the ends of its lines.
    fn names_width(&self) -> f64 {
        if self.sheet.key.is_none() {
            return MARGIN;
        }
        let chars = self.labels.iter().map(|label| label.chars().count());
        let chars = chars.max().unwrap_or(0).min(LONGEST_NAME);
        12.0 + 7.6 * chars as f64
    }

    /// Ends of the temperature axis: whole fives around all values of the key.
    fn span(&self) -> (f64, f64) {
        let samples = 0..self.labels.len().min(LINES.len());
        let all =
            samples.flat_map(|s| (0..self.rows.len()).filter_map(move |row| self.shown(row, s)));
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v), high.max(v))
        });
        if !(low.is_finite() && high.is_finite()) {
            return match self.words.degrees() {
                Degrees::Celsius => BLANK_DEGC,
                Degrees::Fahrenheit => BLANK_DEGF,
            };
        }
        let step = if high - low > 100.0 { 20.0 } else { 5.0 };
        let low = libm::floor(low / step) * step;
        (low, (libm::ceil(high / step) * step).max(low + 2.0 * step))
    }

    /// Every how many rows the time axis has a number.
    fn numbered_every(&self) -> usize {
        let most = match (self.is_beside(), self.labels.len()) {
            (false, _) => 14,
            (true, 4..) => 9,
            (true, _) => 11,
        };
        let ladder = [1, 2, 5, 10, 20, 50];
        let fits = |n: &usize| self.rows.len().div_ceil(*n) <= most;
        ladder.into_iter().find(fits).unwrap_or(100)
    }

    fn draw_grid(&self, d: &mut Drawing, paper: &Paper) {
        let span = paper.high - paper.low;
        let (minor, major) = steps(span);
        let lines = libm::round(span / minor) as usize;
        for k in 0..=lines {
            let y = paper.y(paper.low + k as f64 * minor);
            let is_major = (k as f64 * minor / major).fract().abs() < 1e-6;
            let ink = if is_major {
                pen(QUIET, 1.0)
            } else {
                pen(FAINT, 0.6)
            };
            d.line((paper.left, y), (paper.right, y), ink);
        }
        let step_min = self.sheet.marks_s / 60.0;
        let numbered = self.numbered_every();
        for k in 0..self.rows.len() {
            let x = paper.x(k as f64 * step_min);
            let ink = if k % numbered == 0 {
                pen(QUIET, 1.0)
            } else {
                pen(FAINT, 0.6)
            };
            d.line((x, paper.top), (x, paper.bottom), ink);
        }
    }

    fn draw_axes(&self, d: &mut Drawing, paper: &Paper) {
        let words = &self.words;
        let (corner, ink) = ((paper.left, paper.bottom), pen(INK, 1.6));
        d.line(corner, (paper.left, paper.top), ink);
        d.line(corner, (paper.right, paper.bottom), ink);
        let (_, major) = steps(paper.high - paper.low);
        let count = libm::round((paper.high - paper.low) / major) as usize;
        for k in 0..=count {
            let shown = paper.low + k as f64 * major;
            let label = words.number(&format!("{shown:.0}"));
            d.text(
                (paper.left - 6.0, paper.y(shown) + 4.5),
                13.0,
                "end",
                &label,
            );
        }
        let step_min = self.sheet.marks_s / 60.0;
        for k in (0..self.rows.len()).step_by(self.numbered_every()) {
            let label = words.number(&minutes(k as f64 * self.sheet.marks_s));
            d.text(
                (paper.x(k as f64 * step_min), paper.bottom + 17.0),
                13.0,
                "middle",
                &label,
            );
        }
        let time = format!("{} / min", words.say("graph-time"));
        let symbol = words.degrees().symbol();
        let temperature = format!("{} / {symbol}", words.say("graph-temperature"));
        d.text(
            (0.5 * (paper.left + paper.right), paper.bottom + 38.0),
            13.0,
            "middle",
            &time,
        );
        d.upwards((14.0, 0.5 * (paper.top + paper.bottom)), 13.0, &temperature);
    }
}

/// Faint and stronger lines of the temperature axis, in degrees.
fn steps(span: f64) -> (f64, f64) {
    if span > 100.0 {
        (4.0, 20.0)
    } else if span > 50.0 {
        (2.0, 10.0)
    } else {
        (1.0, 5.0)
    }
}

/// Minutes as programs write them, two decimals at most.
pub(super) fn minutes(s: f64) -> String {
    let text = format!("{:.2}", s / 60.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
