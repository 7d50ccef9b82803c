//! The words of `calibrate`.

use std::path::PathBuf;

use clap::{ArgGroup, Args, Subcommand, ValueEnum};

use crate::cli::board_args::BoardArgs;
use crate::cli::duration::parse_positive_s;
use crate::cli::parse::{Names, Settle, parse_settle, split_names};

#[derive(Debug, Args)]
pub(in crate::cli) struct CalibrateArgs {
    #[command(subcommand)]
    pub(super) what: What,
}

#[derive(Debug, Subcommand)]
pub(super) enum What {
    /// All probes in one stirred bath: do they agree, and does it matter?
    #[command(after_help = "\
Examples:
  duskmark calibrate match
  duskmark calibrate match --identify --samples slate,moss
  duskmark calibrate match --ready --board virtual:bath=22,speed=30")]
    Match(MatchArgs),
    /// The ice point: a bath of crushed ice and water
    #[command(after_help = "Example:\n  duskmark calibrate ice --channel 1")]
    Ice(IceArgs),
    /// The boiling point for the pressure or altitude of this place
    #[command(after_help = "\
Examples:
  duskmark calibrate boil --pressure 987hPa
  duskmark calibrate boil --altitude 340

The pressure is that of this place (station pressure), not the one that weather
reports reduce to sea level. Boiling water is a job for an adult.")]
    Boil(BoilArgs),
    /// A thermistor's constants, or a correction line, from reference points
    #[command(after_help = "\
Examples:
  duskmark calibrate fit --law steinhart-hart --plot residuals.svg
  duskmark calibrate fit --channel 1 --point 0=32650 --point 50=3600
  duskmark calibrate fit --channel 2 --law line --point 0=0.4 --point 40=40.1
  duskmark calibrate fit --channel 1 --as tray-a --readings points.csv")]
    Fit(FitArgs),
    /// How fast a probe follows: dip it from the air into warm water
    #[command(after_help = "Example:\n  duskmark calibrate lag")]
    Lag(LagArgs),
    /// What is stored, and how old it is
    #[command(after_help = "Example:\n  duskmark calibrate show")]
    Show(ShowArgs),
}

/// Where calibrations are kept.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Keeping")]
pub(super) struct KeepArgs {
    /// File of calibrations (default: calibrations.toml here if it exists, else in the
    /// user's own folder for settings)
    #[arg(long, value_name = "FILE", env = "DUSKMARK_CALIBRATIONS")]
    pub(super) store: Option<PathBuf>,
    /// Name for a board that has no id of its own
    #[arg(long = "as", id = "as_board", value_name = "NAME")]
    pub(super) name: Option<String>,
    /// Only show the result, keep nothing
    #[arg(long)]
    pub(super) no_store: bool,
}

/// What all that watch a board have in common.
#[derive(Debug, Args)]
pub(super) struct CommonArgs {
    /// Probes to calibrate, from 1 (repeat; default all)
    #[arg(long = "channel", value_name = "N", value_parser = clap::value_parser!(u8).range(1..=8))]
    pub(super) channels: Vec<u8>,
    /// Names of the samples in the order of the probes
    #[arg(long, value_name = "NAMES", value_parser = split_names)]
    pub(super) samples: Option<Names>,
    /// A recorded table or run instead of a board
    #[arg(long, value_name = "FILE|RUN")]
    pub(super) readings: Option<PathBuf>,
    /// All is in place: ask nothing, begin at once
    #[arg(long)]
    pub(super) ready: bool,
    /// Drift below which a bath is steady
    #[arg(long, value_name = "DRIFT", default_value = "0.1/min", value_parser = parse_settle)]
    pub(super) settle: Settle,
    /// How long readings are taken once it is
    #[arg(long, value_name = "TIME", default_value = "1m", value_parser = parse_positive_s)]
    pub(super) time: f64,
    /// Longest wait for it
    #[arg(long, value_name = "TIME", default_value = "20m", value_parser = parse_positive_s)]
    pub(super) patience: f64,
    /// Print the result as JSON
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) keep: KeepArgs,
    #[command(flatten)]
    pub(super) board: BoardArgs,
}

#[derive(Debug, Args)]
pub(super) struct MatchArgs {
    /// How much the samples will warm in the lesson, in °C: what a difference is held against
    #[arg(long, value_name = "DEGC", default_value_t = 10.0, value_parser = parse_degrees)]
    pub(super) rise: f64,
    /// Check as well which probe is which: the first is warmed by hand
    #[arg(long)]
    pub(super) identify: bool,
    #[command(flatten)]
    pub(super) common: CommonArgs,
}

#[derive(Debug, Args)]
pub(super) struct IceArgs {
    /// Standard uncertainty of the bath in °C
    #[arg(long, value_name = "DEGC", value_parser = parse_degrees)]
    pub(super) bath_u: Option<f64>,
    #[command(flatten)]
    pub(super) common: CommonArgs,
}

#[derive(Debug, Args)]
#[command(group(ArgGroup::new("place").required(true).args(["pressure", "altitude"])))]
pub(super) struct BoilArgs {
    /// Air pressure of this place, like 987hPa, 98.7kPa or 740mmHg
    #[arg(long, value_name = "PRESSURE", value_parser = parse_pressure_hpa)]
    pub(super) pressure: Option<f64>,
    /// Altitude above the sea in m: the usual pressure there, less well known
    #[arg(long, value_name = "METRES", allow_negative_numbers = true)]
    pub(super) altitude: Option<f64>,
    /// Standard uncertainty of the pressure in hPa (default 1, by altitude 10)
    #[arg(long, value_name = "HPA", value_parser = parse_degrees)]
    pub(super) pressure_u: Option<f64>,
    #[command(flatten)]
    pub(super) common: CommonArgs,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum LawArg {
    /// Two constants of a thermistor, R25 and B
    Beta,
    /// Three constants of a thermistor
    SteinhartHart,
    /// A correction that changes with the reading, for any probe
    Line,
}

#[derive(Debug, Args)]
pub(super) struct FitArgs {
    /// What is fitted
    #[arg(long, value_enum, default_value = "beta")]
    pub(super) law: LawArg,
    /// Reference temperature in °C and the probe's resistance in ohms (for line: reading in °C)
    #[arg(long = "point", value_name = "DEGC=VALUE", value_parser = parse_point, allow_hyphen_values = true, conflicts_with = "readings")]
    pub(super) points: Vec<(f64, f64)>,
    /// Standard uncertainty of the reference thermometer in °C
    #[arg(long, value_name = "DEGC", default_value_t = 0.3, value_parser = parse_degrees)]
    pub(super) reference_u: f64,
    /// Draw the residuals into this file (SVG, or PNG by its ending)
    #[arg(long, value_name = "FILE")]
    pub(super) plot: Option<PathBuf>,
    #[command(flatten)]
    pub(super) common: CommonArgs,
}

#[derive(Debug, Args)]
pub(super) struct LagArgs {
    #[command(flatten)]
    pub(super) common: CommonArgs,
}

#[derive(Debug, Args)]
pub(super) struct ShowArgs {
    /// Older ones, too
    #[arg(long)]
    pub(super) all: bool,
    /// Print one JSON object per calibration
    #[arg(long)]
    pub(super) json: bool,
    /// File of calibrations
    #[arg(long, value_name = "FILE", env = "DUSKMARK_CALIBRATIONS")]
    pub(super) store: Option<PathBuf>,
}

/// Degrees, or hPa, above zero.
fn parse_degrees(text: &str) -> Result<f64, String> {
    let value = text.trim().parse::<f64>().ok();
    value
        .filter(|v| *v > 0.0 && *v <= 1000.0)
        .ok_or_else(|| format!("'{text}' is no number above 0"))
}

/// `987hPa`, `98.7kPa`, `0.987bar`, `740mmHg`; a bare number is hPa.
fn parse_pressure_hpa(text: &str) -> Result<f64, String> {
    let refuse = || format!("'{text}' is no pressure; write it like 987hPa, 98.7kPa or 740mmHg");
    let text = text.trim();
    let end = text
        .find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | '-'))
        .unwrap_or(text.len());
    let (digits, unit) = text.split_at(end);
    let value: f64 = digits.parse().map_err(|_| refuse())?;
    // The conventional millimetre of mercury is 133.322 Pa (ISO 80000-4, annex).
    let factor = match unit.trim().to_lowercase().as_str() {
        "" | "hpa" | "mbar" => 1.0,
        "kpa" => 10.0,
        "pa" => 0.01,
        "bar" => 1000.0,
        "atm" => 1013.25,
        "mmhg" | "torr" => 1.333_22,
        _ => return Err(refuse()),
    };
    Ok(value * factor)
}

/// `25=10010`.
fn parse_point(text: &str) -> Result<(f64, f64), String> {
    let refuse = || format!("'{text}' is no point; write it like 25=10010 (°C = ohms)");
    let (reference, value) = text.split_once('=').ok_or_else(refuse)?;
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| refuse());
    Ok((number(reference)?, number(value)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pressures_have_their_units() {
        for (text, hpa) in [
            ("987", 987.0),
            ("98.7kPa", 987.0),
            ("0.987 bar", 987.0),
            ("760mmHg", 1013.25),
            ("1 atm", 1013.25),
            ("101325Pa", 1013.25),
        ] {
            assert!(
                (parse_pressure_hpa(text).unwrap() - hpa).abs() < 0.01,
                "{text}"
            );
        }
        for bad in ["", "high", "30inHg", "hPa"] {
            assert!(parse_pressure_hpa(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn points_are_pairs() {
        assert_eq!(parse_point("-5=42000"), Ok((-5.0, 42_000.0)));
        assert!(parse_point("25").is_err() && parse_point("25=x").is_err());
    }
}
