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
    /// The readings are those of a virtual bench, which the picture says at its foot.
    pub is_invented: bool,
}

/// One sample's course. Further fields may come: build it with `..Curve::default()`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve<'a> {
    /// The sample's name; text from people, so anything at all.
    pub name: Cow<'a, str>,
    /// Times in seconds; points whose time is not finite are left out.
    pub t_s: Cow<'a, [f64]>,
    /// Temperatures in degrees Celsius, one per time; NaN is a gap.
    pub degc: Cow<'a, [f64]>,
    /// What is shaded around the line, such as its expanded uncertainty; `None`: nothing.
    pub band: Option<Band<'a>>,
}

/// A band around a curve: where it lies with some confidence, or how far its like are spread.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Band<'a> {
    /// Lower ends in degrees Celsius, one per time of the curve; NaN is a gap.
    pub low_degc: Cow<'a, [f64]>,
    /// Upper ends in degrees Celsius, one per time of the curve; NaN is a gap.
    pub high_degc: Cow<'a, [f64]>,
    /// What it stands for, such as `expanded uncertainty, 95 %`: written at the picture's foot.
    pub meaning: Cow<'a, str>,
}

impl<'a> Band<'a> {
    /// The band `degc ± half_degc`, as for an expanded uncertainty that is the same throughout.
    #[must_use]
    pub fn around(degc: &[f64], half_degc: f64, meaning: impl Into<Cow<'a, str>>) -> Self {
        let moved = |by: f64| Cow::Owned(degc.iter().map(|v| v + by).collect());
        Self {
            low_degc: moved(-half_degc.abs()),
            high_degc: moved(half_degc.abs()),
            meaning: meaning.into(),
        }
    }
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

/// Size, colours and unit. Further fields may come: build it with `..Style::default()`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// Width in CSS pixels; taken as 160 if smaller or no number, as 8000 if greater.
    pub width: f64,
    /// Height in CSS pixels; taken as 120 if smaller or no number, as 8000 if greater.
    pub height: f64,
    /// Colours.
    pub theme: Theme,
    /// Size of letters and lines, 1 being usual; taken as 1 outside 0.5 to 3.
    pub text: f64,
    /// What temperatures are shown in; pictures always hold degrees Celsius.
    pub degrees: Degrees,
}

impl Default for Style {
    /// [`Style::page`].
    fn default() -> Self {
        Self::page()
    }
}

impl Style {
    /// 960 by 540 pixels on white: for print, reports and documents.
    #[must_use]
    pub const fn page() -> Self {
        Self {
            width: 960.0,
            height: 540.0,
            theme: Theme::Paper,
            text: 1.0,
            degrees: Degrees::Celsius,
        }
    }

    /// 1920 by 1080 pixels, letters and lines for the back row, stronger contrasts than on paper.
    #[must_use]
    pub const fn projector() -> Self {
        Self {
            width: 1920.0,
            height: 1080.0,
            theme: Theme::Beam,
            text: 1.25,
            ..Self::page()
        }
    }

    /// 390 by 520 pixels, upright.
    #[must_use]
    pub const fn phone() -> Self {
        Self {
            width: 390.0,
            height: 520.0,
            text: 1.2,
            ..Self::page()
        }
    }
}

/// What the picture stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// White, for print and bright screens.
    #[default]
    Paper,
    /// Dark, for screens in dim rooms.
    Dark,
    /// White thrown on a wall in a room that is not dark: everything is stronger than on paper.
    Beam,
}

/// What temperatures are shown in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Degrees {
    /// Degrees Celsius.
    #[default]
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

impl Degrees {
    /// A temperature in degrees Celsius in these. The Fahrenheit scale is exact by definition:
    /// 9/5 of the Celsius value and 32 (NIST SP 811, B.8).
    #[must_use]
    pub fn of(self, degc: f64) -> f64 {
        match self {
            Self::Celsius => degc,
            Self::Fahrenheit => 1.8 * degc + 32.0,
        }
    }

    /// A difference of temperatures in kelvins, or a rate, in these.
    #[must_use]
    pub fn of_difference(self, k: f64) -> f64 {
        match self {
            Self::Celsius => k,
            Self::Fahrenheit => 1.8 * k,
        }
    }

    /// Their symbol.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        }
    }
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
