//! What a page says of a lesson beside its temperatures: plan, set-up, how the record came about.

use super::words::Words;

/// What was planned; none where nothing was.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Steps {
    /// Samples count as steady when all drift less than this, in °C/min.
    pub settle_degc_per_min: Option<f64>,
    /// Lamp-on time in seconds.
    pub heat_s: Option<f64>,
    /// Lamp-off time in seconds.
    pub cool_s: Option<f64>,
    /// Length of an unattended run in seconds.
    pub for_s: Option<f64>,
    /// Interval of the table's rows in seconds.
    pub marks_s: Option<f64>,
}

/// What stood where, as people measured it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SetUp {
    /// Of each sample, in their order: mass and volume.
    pub samples: Vec<Vec<Quantity>>,
    /// From the lamp to the samples.
    pub lamp_distance: Option<Quantity>,
}

/// A quantity with the unit that people gave it in.
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity {
    /// Digits as programs write them.
    pub digits: String,
    /// Symbol of the unit, the same in every language.
    pub unit: &'static str,
}

impl Quantity {
    /// The quantity in a page's language.
    #[must_use]
    pub fn text(&self, words: &Words) -> String {
        format!("{}\u{A0}{}", words.number(&self.digits), self.unit)
    }
}

/// How a run came to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum End {
    /// In order; a table has no other.
    #[default]
    InOrder,
    /// It was cut off before.
    CutOff,
    /// It has not come: the run is still going on.
    ToCome,
}

/// How the data came about.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Record {
    /// When it began, RFC 3339 in UTC.
    pub began_utc: Option<String>,
    /// How far the clocks of the place were ahead of UTC, in seconds; none where nobody knows.
    pub utc_offset_s: Option<i32>,
    /// What the board calls itself.
    pub board: Option<String>,
    /// What its way of speaking is called.
    pub dialect: Option<String>,
    /// The readings are those of a virtual bench: invented.
    pub is_virtual: bool,
    /// What people noted, and when, in seconds of the run; without words a moment that was marked.
    pub notes: Vec<(f64, String)>,
    /// How the run came to its end.
    pub end: End,
    /// The table and the summary stand in files beside it, `marks.csv` and `summary.json`.
    pub has_files: bool,
    /// Places of the record that could not be read.
    pub damaged_places: usize,
    /// What was noted while it ran: kind as in the events' file, and how often.
    pub events: Vec<(String, usize)>,
    /// Codes of flags as in the readings' file, and how many rows have them.
    pub flags: Vec<(String, usize)>,
    /// Known lags of the probes in seconds.
    pub probe_lag_s: Option<Vec<f64>>,
    /// They were found by calibration, not declared.
    pub is_lag_calibrated: bool,
    /// Declared lag of the lamp in seconds.
    pub lamp_lag_s: Option<f64>,
    /// Each sample's standard uncertainty by its probe's calibration in °C, where there is one.
    pub calibration_u_degc: Vec<Option<f64>>,
    /// What each sample's probe was calibrated by.
    pub calibrated: Vec<Vec<Calibrated>>,
    /// Each sample's probe was only brought to agree with the others.
    pub is_matched_only: Vec<bool>,
}

impl Record {
    /// It is a table that somebody wrote or another program made: nothing but its cells is known.
    #[must_use]
    pub fn is_table(&self) -> bool {
        self.began_utc.is_none() && self.board.is_none() && self.dialect.is_none()
    }
}

/// One calibration of a probe.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Calibrated {
    /// Its kind: `match`, `ice`, `boil`, `constants`, `line`, `lag`.
    pub kind: String,
    /// Its day, like 2026-03-14.
    pub day: String,
    /// Its age in days when the run began, where both dates are known.
    pub age_days: Option<usize>,
}
