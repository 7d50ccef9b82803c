//! Calibrations in use: what `log` and `boards` do with what is stored, and say of it.

use std::path::PathBuf;

use clap::Args;

use super::store::{key, store, stored};
use crate::analysis::plus_minus;
use crate::calibrate::{Applied, Calibration, Found, Remark, age_s, applied};
use crate::cli::duration::parse_positive_s;
use crate::cli::exit::{Code, Failure};
use crate::cli::text::{printable, wrapped};
use crate::port::clock::wall_ns;
use crate::probe::{Converter, Correction, ProbeLaw};
use crate::run::{RunSetup, rfc3339_ms};
use crate::sampler::{Sampler, SamplerSetup};

/// Seconds of a day.
const DAY_S: f64 = 86_400.0;

/// Which calibrations are used.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Calibration")]
pub(in crate::cli) struct CalibrationArgs {
    /// File of calibrations, or 'off' (default: calibrations.toml here if it exists, else
    /// in the user's own folder for settings)
    #[arg(long, value_name = "FILE|off", env = "DUSKMARK_CALIBRATIONS")]
    pub(in crate::cli) calibration: Option<PathBuf>,
    /// Age from which a calibration is no longer used
    #[arg(long, value_name = "TIME", default_value = "365d", value_parser = parse_positive_s)]
    pub(in crate::cli) calibration_age: f64,
    /// Name that a board without an id was calibrated under
    #[arg(long = "as", id = "as_board", value_name = "NAME")]
    pub(in crate::cli) name: Option<String>,
}

/// Calibrations that may be used, and by what rules.
#[derive(Debug, Clone, Default)]
pub(in crate::cli) struct Stock {
    all: Vec<Calibration>,
    name: Option<String>,
    now: String,
    oldest_s: f64,
}

/// Of one board: what corrects its channels, and what is to be said.
#[derive(Debug, Default)]
pub(in crate::cli) struct InUse {
    pub(in crate::cli) applied: Vec<Applied>,
    pub(in crate::cli) said: Vec<String>,
}

impl Stock {
    /// Reads what is stored.
    ///
    /// # Errors
    /// [`Failure`] if the file cannot be understood, or is named and not there.
    pub(in crate::cli) fn read(args: &CalibrationArgs, boards: usize) -> Result<Self, Failure> {
        let named = args.calibration.as_deref();
        if named.is_some_and(|path| path.as_os_str() == "off") {
            return Ok(Self::default());
        }
        if args.name.is_some() && boards != 1 {
            let message = format!("--as names one board, and there are {boards}");
            return Err(
                Failure::new(Code::Usage, message).advise("Leave it out, or name one --board.")
            );
        }
        if let Some(path) = named.filter(|path| !path.exists()) {
            let message = format!("there is no file of calibrations {}", path.display());
            return Err(Failure::new(Code::Usage, message)
                .advise("'duskmark calibrate' makes one; --calibration off uses none."));
        }
        let all = match store(named) {
            Ok(path) => stored(&path)?,
            // Without a folder of the user's own nothing can be stored there.
            Err(_) => Vec::new(),
        };
        Ok(Self {
            all,
            name: args.name.clone(),
            now: rfc3339_ms(wall_ns()),
            oldest_s: args.calibration_age,
        })
    }

    /// Only the constants of thermistors among these.
    pub(super) fn of_laws(all: &[Calibration], name: Option<&str>) -> Self {
        let laws = all
            .iter()
            .filter(|one| matches!(one.found, Found::Constants { .. }));
        Self {
            all: laws.cloned().collect(),
            name: name.map(str::to_owned),
            now: rfc3339_ms(wall_ns()),
            oldest_s: 365.0 * DAY_S,
        }
    }

    /// What corrects a board's readings; `sampler` has understood it. Laws and corrections go into
    /// `setup`.
    pub(in crate::cli) fn of_board(
        &self,
        setup: &mut SamplerSetup,
        sampler: &Sampler,
        port: &str,
    ) -> InUse {
        let (Some(converter), Some(channels)) = (sampler.converter(), sampler.channels()) else {
            return InUse::default();
        };
        if self.all.is_empty() {
            return InUse::default();
        }
        let Some(board) = key(self.name.as_deref(), sampler, port) else {
            let text = "Not calibrated: the board states no id; say which it is with --as NAME.";
            return InUse {
                said: vec![text.into()],
                ..InUse::default()
            };
        };
        let own = || self.all.iter().filter(|one| one.board == board);
        if own().next().is_none() {
            let text = format!(
                "Not calibrated: the calibrations that are stored are of other boards, none of {}.",
                printable(&board)
            );
            return InUse {
                said: vec![text],
                ..InUse::default()
            };
        }
        self.corrected(setup, sampler, (converter, channels), &board)
    }

    fn corrected(
        &self,
        setup: &mut SamplerSetup,
        sampler: &Sampler,
        (converter, channels): (&Converter, usize),
        board: &str,
    ) -> InUse {
        let mut said = Vec::new();
        let mut all = self.all.clone();
        if !setup.probes.laws.is_empty() {
            let before = all.len();
            all.retain(|one| one.board != board || !matches!(one.found, Found::Constants { .. }));
            if all.len() < before {
                said.push(
                    "Calibrated constants are not used: --thermistor stands over them.".into(),
                );
            }
        }
        let words = |converter: &Converter| -> Vec<String> {
            (0..channels)
                .map(|channel| converter.words(channel))
                .collect()
        };
        let rules = (self.now.as_str(), self.oldest_s);
        let (first, _) = applied(&all, board, &words(converter), rules);
        let mut now = words(converter);
        if first.iter().any(|one| one.constants.is_some()) {
            let laws = first.iter().enumerate().map(|(channel, one)| {
                let own = one.constants.map(|constants| constants.law());
                own.or_else(|| converter.law(channel).cloned())
                    .unwrap_or(ProbeLaw::USUAL)
            });
            setup.probes.laws = laws.collect();
            if let Ok(own) = Converter::new(&setup.probes, sampler.hello(), channels) {
                now = words(&own);
            }
        }
        let (found, remarks) = applied(&all, board, &now, rules);
        let corrections: Vec<Correction> = found
            .iter()
            .map(|one| one.correction.map(|c| c.line).unwrap_or_default())
            .collect();
        if corrections.iter().any(|one| !one.is_none()) {
            setup.corrections = corrections;
        }
        let names = sampler.names();
        for (one, name) in found.iter().zip(&names) {
            if !one.from.is_empty() {
                said.push(self.words(one, name));
            }
        }
        said.extend(remarks.iter().map(not_used));
        InUse {
            applied: found,
            said,
        }
    }

    /// What corrects a channel, for people.
    fn words(&self, one: &Applied, name: &str) -> String {
        let by: Vec<String> = one
            .from
            .iter()
            .map(|from| {
                let day = from.date.get(..10).unwrap_or_default();
                format!("{} of {day} ({})", kind(&from.found), self.age(&from.date))
            })
            .collect();
        let mut text = format!("Calibrated: {} by {}", printable(name), by.join(", "));
        if let Some(line) = one.correction {
            let about = one
                .from
                .iter()
                .find_map(|from| reading(&from.found))
                .unwrap_or(20.0);
            let sum = plus_minus(line.line.at(about), line.u_at(about));
            let sign = if sum.starts_with('-') { "" } else { "+" };
            // Of -0.3 the nearest whole number is no -0.
            let about = about.round() + 0.0;
            text.push_str(&format!("; ({sign}{sum}) °C at {about} °C"));
        }
        if let Some(lag) = one.lag {
            text.push_str(&format!("; lag ({}) s", plus_minus(lag.tau_s, lag.u_s)));
        }
        text.push('.');
        text
    }

    fn age(&self, date: &str) -> String {
        age_words(age_s(date, &self.now).unwrap_or(0.0))
    }
}

/// An age in days, for people.
pub(super) fn age_words(age_s: f64) -> String {
    match (age_s / DAY_S).floor() {
        // A day is left for clocks that are set to another zone's time.
        days if days < -1.0 => "a date to come: look at this computer's clock".into(),
        days if days < 1.0 => "today".into(),
        days if days < 2.0 => "1 day ago".into(),
        days => format!("{days:.0} days ago"),
    }
}

/// What a calibration is called.
pub(super) fn kind(found: &Found) -> &'static str {
    match found {
        Found::Match { .. } => "match",
        Found::Ice { .. } => "ice point",
        Found::Boil { .. } => "boiling point",
        Found::Constants { .. } => "constants",
        Found::Line { .. } => "correction line",
        Found::Lag { .. } => "lag",
    }
}

/// The reading in °C that a correction was found at.
fn reading(found: &Found) -> Option<f64> {
    match found {
        Found::Match { reading_degc, .. }
        | Found::Ice { reading_degc, .. }
        | Found::Boil { reading_degc, .. } => Some(*reading_degc),
        Found::Line {
            from_degc, to_degc, ..
        } => Some(0.5 * (from_degc + to_degc)),
        Found::Constants { .. } | Found::Lag { .. } => None,
    }
}

fn not_used(remark: &Remark) -> String {
    match remark {
        Remark::Stale { calibration, age_s } => format!(
            "Not used: the {} of probe {} from {} is {:.0} days old. Calibrate again, or allow it \
             with --calibration-age {:.0}d.",
            kind(&calibration.found),
            calibration.channel,
            calibration.date.get(..10).unwrap_or_default(),
            age_s / DAY_S,
            (age_s / DAY_S).ceil()
        ),
        Remark::OtherProbe { calibration, now } => format!(
            "Not used: the {} of probe {} from {} was made with another law or divider ({}; now \
             {}). Calibrate again, or log with those.",
            kind(&calibration.found),
            calibration.channel,
            calibration.date.get(..10).unwrap_or_default(),
            printable(calibration.probe.as_deref().unwrap_or_default()),
            printable(now)
        ),
    }
}

/// Puts what corrects a bench's boards into its setup, which is settled; says what is to be said.
pub(in crate::cli) fn correct(
    stock: &Stock,
    setup: &mut RunSetup,
    boards: &[(&str, &Sampler)],
) -> Vec<String> {
    let mut said = Vec::new();
    let mut all: Vec<Applied> = Vec::new();
    let RunSetup {
        sampler, together, ..
    } = setup;
    let setups: Vec<&mut SamplerSetup> = if together.is_empty() {
        vec![sampler]
    } else {
        together.iter_mut().map(|part| &mut part.sampler).collect()
    };
    for (setup, (port, sampler)) in setups.into_iter().zip(boards) {
        let base = all.len();
        let mut own = stock.of_board(setup, sampler, port);
        let channels = sampler.channels().unwrap_or(0);
        own.applied.resize_with(channels, Applied::default);
        for (one, place) in own.applied.iter_mut().zip(1..) {
            one.channel = base + place;
        }
        all.extend(own.applied);
        said.extend(
            own.said
                .iter()
                .map(|text| wrapped(text).trim_end().to_owned()),
        );
    }
    if all.iter().any(|one| !one.from.is_empty()) {
        setup.calibrations = all;
    }
    said
}
