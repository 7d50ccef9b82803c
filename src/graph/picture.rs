//! What a picture shows, before anything is drawn.

use std::borrow::Cow;

/// A line graph of temperatures over time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Picture<'a> {
    /// Heading; text from people, so anything at all.
    pub title: Cow<'a, str>,
    /// One curve per sample, in the order of their colours.
    pub curves: Vec<Curve<'a>>,
    /// When the lamp went on and off.
    pub edges: Vec<LampEdge>,
    /// Instants at which the table has rows, in seconds.
    pub marks_s: Cow<'a, [f64]>,
    /// The instant that the time axis calls 0, in seconds of the curves' time base.
    pub zero_s: f64,
    /// Longest time between two neighbouring points that a line may cross, in seconds; beyond it
    /// there is a gap. `None`: only a NaN makes a gap.
    pub gap_s: Option<f64>,
}

/// One sample's course.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve<'a> {
    /// The sample's name; text from people, so anything at all.
    pub name: Cow<'a, str>,
    /// Times in seconds; points whose time is not finite are left out.
    pub t_s: Cow<'a, [f64]>,
    /// Temperatures in degrees Celsius, one per time; NaN is a gap.
    pub degc: Cow<'a, [f64]>,
}

/// Whether the lamp went on or off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EdgeKind {
    /// It went on.
    On,
    /// It went off.
    Off,
}

/// One instant at which the lamp was switched, and the interval that covers the truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LampEdge {
    /// On or off.
    pub kind: EdgeKind,
    /// The best value in seconds; an edge without a finite one is left out.
    pub at_s: f64,
    /// Lower end of the interval in seconds; NaN if unknown.
    pub low_s: f64,
    /// Upper end of the interval in seconds; NaN if unknown.
    pub high_s: f64,
}

/// Size and colours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// Width in CSS pixels; taken as 160 if smaller or no number, as 8000 if greater.
    pub width: f64,
    /// Height in CSS pixels; taken as 120 if smaller or no number, as 8000 if greater.
    pub height: f64,
    /// Colours.
    pub theme: Theme,
}

impl Default for Style {
    /// 960 by 540 pixels on paper.
    fn default() -> Self {
        Self {
            width: 960.0,
            height: 540.0,
            theme: Theme::Paper,
        }
    }
}

/// What the picture stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// White, for print and bright rooms.
    #[default]
    Paper,
    /// Dark, for screens in dim rooms.
    Dark,
}

/// Temperatures beyond this many degrees are no temperatures of a classroom: drawn as gaps.
const WIDEST_DEGC: f64 = 1e6;
/// Times beyond this many seconds (some 30 000 years) are left out.
const LONGEST_S: f64 = 1e12;

/// Whether a temperature can be drawn.
pub(super) fn is_drawable_degc(degc: f64) -> bool {
    (-WIDEST_DEGC..=WIDEST_DEGC).contains(&degc)
}

/// Whether a time can be drawn.
pub(super) fn is_drawable_s(t_s: f64) -> bool {
    (-LONGEST_S..=LONGEST_S).contains(&t_s)
}

impl Curve<'_> {
    /// The points that can be drawn, in order.
    pub(super) fn points(&self) -> impl DoubleEndedIterator<Item = (f64, f64)> + '_ {
        let pairs = self.t_s.iter().copied().zip(self.degc.iter().copied());
        pairs.filter(|&(t_s, degc)| is_drawable_s(t_s) && is_drawable_degc(degc))
    }
}
