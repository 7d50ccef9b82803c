//! Where things stand: margins, the plot's rectangle and its scales.

use super::behind::Behind;
use super::extent::extent;
use super::lamp::{EdgeLabel, place_labels};
use super::note;
use super::picture::{Curve, Degrees, Picture, Style, is_drawable_s};
use super::text::{self, Cut};
use super::tick::{self, TimeUnit};
use super::wording::Wording;

/// Share of the time axis by which an end may be moved to a tick.
const NEAR_A_TICK: f64 = 0.01;
/// Up to so many names are bold.
const BOLD_NAMES: usize = 4;
/// Length of the piece of line before a name, in ems.
const SAMPLE: f64 = 2.2;

/// The plot's rectangle in pixels, and what its sides stand for.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    pub(super) width: f64,
    pub(super) height: f64,
    /// Size of ordinary text in pixels.
    pub(super) em: f64,
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    /// Ends of the time axis in seconds of the curves' time base.
    pub(super) span_s: (f64, f64),
    /// Ends of the temperature axis in the degrees that it shows.
    span_shown: (f64, f64),
    pub(super) degrees: Degrees,
    /// Room between a curve's end and its name, in pixels.
    pub(super) leader: f64,
    /// Length of the piece of line before a name, in pixels; none where there is little room.
    pub(super) sample: f64,
    /// Whether names are bold.
    pub(super) has_bold_names: bool,
    /// Whether curves lie on bands and other curves, and are set off from them.
    pub(super) is_crowded: bool,
    /// What bands and thin curves stand for, in lines to be written at the foot.
    pub(super) note: Vec<String>,
    pub(super) zero_s: f64,
    pub(super) unit: TimeUnit,
    /// Step of the time axis in its unit.
    step_time: f64,
    /// Step of the temperature axis in the degrees that it shows.
    step_degrees: f64,
    /// Names at the curves' ends, cut to fit.
    pub(super) names: Vec<String>,
    pub(super) edge_labels: Vec<EdgeLabel>,
    /// Titles of the axes, quantity / unit (SI Brochure, 9th edition, 5.4.1).
    pub(super) temperature_title: String,
    pub(super) time_title: String,
    /// Stands between digits in place of a point.
    decimal_mark: char,
}

/// Height of letters in the drawing's units.
fn em(width: f64, height: f64, style: &Style) -> f64 {
    let usual = (width / 60.0).min(height / 34.0).clamp(10.0, 48.0);
    let text = Some(style.text).filter(|text| (0.5..=3.0).contains(text));
    usual * text.unwrap_or(1.0)
}

impl Frame {
    /// The frame of a picture with other curves behind its own, or none.
    pub(super) fn new(
        picture: &Picture<'_>,
        behind: &[Behind<'_>],
        style: &Style,
        words: &dyn Wording,
    ) -> Self {
        let width = sane(style.width, 160.0);
        let height = sane(style.height, 120.0);
        let em = em(width, height, style);
        let extent = extent(picture, behind);
        let (span_s, data_degc) = (extent.span_s, extent.span_degc);
        let degrees = style.degrees;
        let shown = (degrees.of(data_degc.0), degrees.of(data_degc.1));
        let has_bold_names = picture.curves.len() <= BOLD_NAMES;
        let cut = if has_bold_names {
            Cut::bold(em)
        } else {
            Cut::plain(em)
        };
        let names = names(picture, cut, 0.28 * width, words);
        let leader = if names.len() > 2 { 1.8 * em } else { 0.4 * em };
        // Beside an upright picture the name at the end of its own line must do.
        let is_tight = width < 36.0 * em && names.len() <= 2;
        let sample = if is_tight { 0.0 } else { SAMPLE * em };
        let room = (width - 2.0 * em, em);
        let note = note::lines(picture, behind, extent.beyond, room, words);
        let foot = 3.6 + note::LINE * note.len() as f64;
        let unit = TimeUnit::for_span(span_s.1 - span_s.0);
        let mut frame = Self {
            width,
            height,
            em,
            left: 0.0,
            right: width - name_margin(&names, cut, leader + sample),
            top: 2.8 * em,
            bottom: height - foot * em,
            leader,
            sample,
            has_bold_names,
            is_crowded: !behind.is_empty() || picture.curves.iter().any(|c| c.band.is_some()),
            note,
            span_s,
            span_shown: shown,
            degrees,
            zero_s: sane_zero(picture),
            unit,
            step_degrees: 1.0,
            step_time: 1.0,
            names,
            edge_labels: Vec::new(),
            temperature_title: format!("{} / {}", words.temperature(), degrees.symbol()),
            time_title: format!("{} / {}", words.time(), unit.symbol()),
            decimal_mark: words.decimal_mark(),
        };
        frame.set_temperatures(shown);
        frame.set_times(picture);
        frame.make_room_for_edges(picture, words);
        frame.set_temperatures(shown);
        frame
    }

    /// Labels of the lamp's edges stand above the plot.
    fn make_room_for_edges(&mut self, picture: &Picture<'_>, words: &dyn Wording) {
        self.edge_labels = place_labels(picture, self, words);
        if !self.edge_labels.is_empty() {
            self.top += 2.0 * self.em;
        }
        self.top = self.top.min(self.bottom - 2.0 * self.em).max(0.0);
    }

    /// Chooses the temperature axis for the plot's present height, and the left margin for its
    /// labels.
    fn set_temperatures(&mut self, (low, high): (f64, f64)) {
        let most = ((self.bottom - self.top) / (3.2 * self.em)).clamp(1.0, 10.0);
        let pad = 0.02 * (high - low);
        let step = tick::round_step((high - low + 2.0 * pad) / most);
        self.step_degrees = step;
        self.span_shown = (
            libm::floor((low - pad) / step) * step,
            libm::ceil((high + pad) / step) * step,
        );
        let labels = self.temperature_ticks();
        let widest = labels
            .iter()
            .map(|(_, label)| Cut::plain(self.em).width(label))
            .fold(0.0, f64::max);
        let margin = 2.2 * self.em + widest + 0.9 * self.em;
        // The margin only grows: the labels of the lamp's edges are placed by it.
        self.left = self.left.max(margin).min(self.right - self.em);
    }

    /// Chooses the ticks of the time axis; an end that is all but at a tick is moved to it.
    fn set_times(&mut self, picture: &Picture<'_>) {
        let (low, high) = self.span_in_units();
        let ends = tick::label(low, 1.0)
            .len()
            .max(tick::label(high, 1.0).len());
        let apart = (0.64 * ends as f64 + 1.2).max(3.6) * self.em;
        let least = (high - low) * apart / (self.right - self.left);
        let in_units = |t_s: f64| (t_s - self.zero_s) / self.unit.in_s();
        let marks = picture
            .marks_s
            .iter()
            .copied()
            .filter(|t_s| is_drawable_s(*t_s));
        let marks: Vec<f64> = marks.map(in_units).collect();
        let step = self.unit.step_at(least, tick::mark_step(&marks));
        self.step_time = step;
        let near = NEAR_A_TICK * (high - low);
        let (before, after) = (
            libm::floor(low / step) * step,
            libm::ceil(high / step) * step,
        );
        let unit_s = self.unit.in_s();
        if low - before < near {
            self.span_s.0 = self.zero_s + before * unit_s;
        }
        if after - high < near {
            self.span_s.1 = self.zero_s + after * unit_s;
        }
    }

    /// Ends of the time axis in its unit, from the instant called 0.
    pub(super) fn span_in_units(&self) -> (f64, f64) {
        let in_units = |t_s: f64| (t_s - self.zero_s) / self.unit.in_s();
        (in_units(self.span_s.0), in_units(self.span_s.1))
    }

    /// Pixel column of a time in seconds.
    pub(super) fn x(&self, t_s: f64) -> f64 {
        let share = (t_s - self.span_s.0) / (self.span_s.1 - self.span_s.0);
        self.left + share.clamp(0.0, 1.0) * (self.right - self.left)
    }

    /// Pixel row of a temperature in degrees Celsius.
    pub(super) fn y(&self, degc: f64) -> f64 {
        let (low, high) = self.span_shown;
        let share = (self.degrees.of(degc) - low) / (high - low);
        self.bottom - share.clamp(0.0, 1.0) * (self.bottom - self.top)
    }

    /// Ticks of the temperature axis: row in pixels, and label.
    pub(super) fn temperature_ticks(&self) -> Vec<(f64, String)> {
        let (low, high) = self.span_shown;
        let row = |v: f64| self.bottom - (v - low) / (high - low) * (self.bottom - self.top);
        tick::ticks(low, high, self.step_degrees)
            .iter()
            .map(|v| (row(*v), self.label(*v, self.step_degrees)))
            .collect()
    }

    /// Ticks of the time axis: place in seconds of the curves' time base, and label.
    pub(super) fn time_ticks(&self) -> Vec<(f64, String)> {
        let unit_s = self.unit.in_s();
        let (low, high) = self.span_in_units();
        let label = |v: &f64| (v * unit_s + self.zero_s, self.label(*v, self.step_time));
        tick::ticks(low, high, self.step_time)
            .iter()
            .map(label)
            .collect()
    }

    /// A tick's label with the language's decimal mark.
    fn label(&self, value: f64, step: f64) -> String {
        let mark = |c| if c == '.' { self.decimal_mark } else { c };
        tick::label(value, step).chars().map(mark).collect()
    }
}

/// A size that can be drawn; a NaN is refused by taking the least one.
fn sane(size: f64, least: f64) -> f64 {
    if size >= least {
        size.min(8000.0)
    } else {
        least
    }
}

/// Room for the names beside the plot, with what is before them.
fn name_margin(names: &[String], cut: Cut, before: f64) -> f64 {
    let widths = names.iter().map(|name| cut.width(name));
    if names.is_empty() {
        cut.size
    } else {
        widths.fold(0.0, f64::max) + before + 0.8 * cut.size
    }
}

fn names(picture: &Picture<'_>, cut: Cut, most: f64, words: &dyn Wording) -> Vec<String> {
    let name = |curve: &Curve<'_>| {
        let name = text::printable(&curve.name);
        let whole = match curve.points().next() {
            Some(_) => name,
            None => text::with_suffix(&name, &words.no_readings()),
        };
        cut.fitted_at_both_ends(&whole, most)
    };
    picture.curves.iter().map(name).collect()
}

/// The instant called 0.
pub(super) fn sane_zero(picture: &Picture<'_>) -> f64 {
    if is_drawable_s(picture.zero_s) {
        picture.zero_s
    } else {
        0.0
    }
}
