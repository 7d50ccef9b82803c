//! What each sample did: marks, rises, rates, time constants and their comparison.
//!
//! [`table`] reads any CSV with a time column; [`analyse`] turns a [`Series`] into a [`Summary`],
//! which serialises as the program's summary format; [`marks_csv`] writes the table at the marks.
//!
//! Rates, time constants and values at marks come from *local* fits, each within one phase: one
//! exponential per phase, a straight line or parabola about a mark. A single model of the whole
//! lesson would share strength between the phases, but real benches (a surface above its bulk,
//! drifting air) break it in ways that bias every number at once.

mod ahead;
mod analyse;
pub mod class;
mod compare;
mod correlation;
mod days;
mod decay;
mod exchanged;
mod fit;
mod line;
mod local;
mod marks;
mod moved;
mod names;
mod pace;
mod pauses;
mod planned;
mod rounding;
mod sample;
mod series;
mod span;
mod stuck;
mod summary;
mod sun;
mod table;
mod told;
mod towards;
mod two_decays;
mod unlike;
mod warning;

pub use analyse::{PhasePlan, Request, analyse, reading_uncertainty, zero_s};
pub use days::{Day, DaySample, Extreme, SHORTEST_S, days, days_csv};
pub use decay::{Decay, fit_decay};
pub use line::{Line, fit_line};
pub use local::local_minute;
pub use marks::{marks_csv, marks_csv_as};
pub use names::{by_number, slug, slugs};
pub use planned::{Cued, PlannedEdge};
pub use rounding::{
    COVERAGE, TENTHS_BELOW_S, expanded, instant, instant_decimals, plus_minus, reach_s, rounded,
};
pub use series::{Channel, Series, is_late, printed_step_degc};
pub use summary::{
    Comparison, FORMAT, GroupPrediction, Guess, Mark, Phase, Prediction, RatioUncertainty, Sample,
    SampleValues, Summary, phase_at,
};
pub use sun::{Place, SunDay, sun_on};
pub use table::{ColumnRead, Table, TableError, is_workbook, read_table, read_workbook, table};
pub use warning::{RowsWarning, WHY_LAGGING, WHY_OPEN, Warning, WorkedOut};
