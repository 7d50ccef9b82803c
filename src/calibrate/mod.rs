//! What a calibration's readings say of a probe: pure sums, one file for each kind.
//!
//! Probes in one bath ([`matched`]), in melting ice and boiling water ([`water`], [`Against`]), against
//! a reference thermometer ([`fit_constants`], [`fit_line`]), and dipped from air into water
//! ([`fit_lag`]). What came out is a [`Calibration`], as it is stored for a board and channel;
//! [`applied`] says what of all that is stored corrects a run's readings, and what stands against it.
//!
//! Readings are taken as the board gives them, with no correction added; a [`Mean`] respects that noise
//! lasts from one reading to the next. Uncertainty words follow JCGM 100:2008 (GUM).

mod against;
mod applied;
mod calibration;
mod constants;
mod lag;
mod line;
mod matched;
mod mean;
mod points;
pub mod water;

pub use against::{Against, BOILING_U_DEGC, FARTHEST_DEGC, ICE_U_DEGC, against};
pub use applied::{Applied, Lag, Remark, applied, newest};
pub use calibration::{Calibration, Found, age_s};
pub use constants::{Constants, FittedConstants, fit_constants};
pub use lag::{FittedLag, LagFault, TRANSFER, fit_lag};
pub use line::{CorrectionLine, FittedLine, fit_line};
pub use matched::{MatchVerdict, Matched, Pair, matched};
pub use mean::{Mean, mean_of};
pub use points::{Point, PointsFault};
