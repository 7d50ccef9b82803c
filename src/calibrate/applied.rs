//! Of all calibrations that are stored, what corrects the readings of one board now.

use super::calibration::{Calibration, Found, age_s};
use super::constants::Constants;
use super::line::CorrectionLine;
use crate::probe::{Correction, ProbeLaw};

/// Ice and boiling point make a line only if their readings are further apart than this, in °C.
const APART_DEGC: f64 = 20.0;

/// A probe's lag.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Lag {
    /// Time constant in seconds.
    pub tau_s: f64,
    /// Its standard uncertainty in seconds.
    pub u_s: f64,
}

/// What corrects one channel, with everything that it comes from.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
pub struct Applied {
    /// The channel, counted from 1 over all boards of the bench.
    pub channel: usize,
    /// Whether temperatures are known against a reference, or the probes against each other only.
    pub is_absolute: bool,
    /// The thermistor's constants, in place of those that were stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub constants: Option<Constants>,
    /// The probe's lag.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag: Option<Lag>,
    /// What is added to each reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correction: Option<CorrectionLine>,
    /// The calibrations as they were stored.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub from: Vec<Calibration>,
}

impl Applied {
    /// A reading in °C of the bare probe, corrected; `law` is what the reading was made by, where the
    /// board sends no temperatures.
    #[must_use]
    pub fn corrected(&self, degc: f64, law: Option<&ProbeLaw>) -> f64 {
        let by_law = match (self.constants, law) {
            (Some(constants), Some(law)) => constants.law().degc_at(law.signal_at(degc)),
            _ => degc,
        };
        self.correction.map_or(by_law, |c| c.line.corrected(by_law))
    }

    /// Standard uncertainty in °C by the calibration at a reading in °C; none where only the lag is
    /// known.
    ///
    /// A reference that was met with the law takes the law's error away where it was met: what the law
    /// adds elsewhere is the difference of its errors. A match is no reference, and leaves all of it.
    #[must_use]
    pub fn u_at(&self, degc: f64) -> Option<f64> {
        let law = self.from.iter().find_map(|one| match &one.found {
            Found::Constants {
                constants,
                covariance,
                ..
            } => Some(constants.u_beside(covariance, degc, &anchors(&self.from, degc))),
            _ => None,
        });
        let line = self.correction.map(|line| line.u_at(degc));
        match (line, law) {
            (Some(line), Some(law)) => Some(line.hypot(law)),
            (line, law) => line.or(law),
        }
    }
}

/// Readings at which references were met, each with the share that its error has at `degc`: all of it
/// for one, those of a straight line through two.
fn anchors(from: &[Calibration], degc: f64) -> Vec<(f64, f64)> {
    let met: Vec<f64> = from
        .iter()
        .flat_map(|one| match one.found {
            Found::Ice { reading_degc, .. } | Found::Boil { reading_degc, .. } => {
                vec![reading_degc]
            }
            Found::Line {
                from_degc, to_degc, ..
            } => vec![from_degc, to_degc],
            _ => Vec::new(),
        })
        .collect();
    let is_line = from.iter().any(|o| matches!(o.found, Found::Line { .. }));
    match *met {
        [first, second] if is_line || (first - second).abs() > APART_DEGC => {
            let share = (degc - first) / (second - first);
            vec![(first, 1.0 - share), (second, share)]
        }
        [first, ..] => vec![(first, 1.0)],
        [] => Vec::new(),
    }
}

/// A calibration that is there and not used.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// It is too old.
    Stale {
        /// Which.
        calibration: Calibration,
        /// Its age in seconds.
        age_s: f64,
    },
    /// The probe's law or divider is another one now.
    OtherProbe {
        /// Which.
        calibration: Calibration,
        /// What is in use now.
        now: String,
    },
}

/// The newest calibration of each kind for a channel of a board.
#[must_use]
pub fn newest<'a>(all: &'a [Calibration], board: &str, channel: usize) -> Vec<&'a Calibration> {
    let mut newest: Vec<&Calibration> = Vec::new();
    for one in all
        .iter()
        .filter(|c| c.board == board && c.channel == channel)
    {
        let same = |other: &&mut &Calibration| other.found.code() == one.found.code();
        match newest.iter_mut().find(same) {
            // A later one of the same instant counts: it stands further down.
            Some(held) if age_s(&held.date, &one.date).is_some_and(|s| s >= 0.0) => *held = one,
            Some(_) => {}
            None => newest.push(one),
        }
    }
    newest
}

/// What corrects the channels of `board` at the instant `now` (RFC 3339), each channel in turn.
///
/// `probes` says for each channel how its numbers become temperatures, the divider and, behind `; `, the
/// law: a calibration that was made with another one is not used, nor is one older than `oldest_s`.
/// Constants are taken by the divider alone, since they are the law; whoever takes them says so in
/// `probes`.
#[must_use]
pub fn applied(
    all: &[Calibration],
    board: &str,
    probes: &[String],
    (now, oldest_s): (&str, f64),
) -> (Vec<Applied>, Vec<Remark>) {
    let mut remarks = Vec::new();
    let mut usable = |one: &&Calibration, probe: &str| {
        let age_s = age_s(&one.date, now).unwrap_or(f64::INFINITY);
        let is_law = matches!(one.found, Found::Constants { .. });
        let wanted = if is_law { divider(probe) } else { probe };
        if age_s > oldest_s {
            let calibration = (*one).clone();
            remarks.push(Remark::Stale { calibration, age_s });
            return false;
        }
        // How fast a probe follows has nothing to do with its numbers.
        let is_lag = matches!(one.found, Found::Lag { .. });
        let is_same = is_lag || one.probe.as_deref().is_none_or(|then| then == wanted);
        if !is_same {
            remarks.push(Remark::OtherProbe {
                calibration: (*one).clone(),
                now: wanted.to_owned(),
            });
        }
        is_same
    };
    let kept: Vec<Vec<&Calibration>> = probes
        .iter()
        .zip(1..)
        .map(|(probe, channel)| {
            let mut held = newest(all, board, channel);
            held.retain(|one| usable(one, probe));
            held
        })
        .collect();
    let mut out: Vec<Applied> = kept
        .iter()
        .zip(1..)
        .map(|(held, n)| alone(held, n))
        .collect();
    match_all(&kept, &mut out);
    (out, remarks)
}

/// The part of a probe's words before the law.
fn divider(probe: &str) -> &str {
    probe.split("; ").next().unwrap_or(probe)
}

/// What a channel's own calibrations say, but for the match.
fn alone(held: &[&Calibration], channel: usize) -> Applied {
    let mut applied = Applied {
        channel,
        ..Applied::default()
    };
    let mut points: Vec<(f64, f64, f64)> = Vec::new();
    let mut points_from: Vec<&Calibration> = Vec::new();
    let mut line: Option<(&Calibration, CorrectionLine)> = None;
    for one in held {
        match &one.found {
            Found::Match { .. } => {}
            Found::Ice {
                reading_degc,
                correction_degc,
                u_degc,
            }
            | Found::Boil {
                reading_degc,
                correction_degc,
                u_degc,
            } => {
                points.push((*reading_degc, *correction_degc, *u_degc));
                points_from.push(one);
            }
            Found::Constants { constants, .. } => {
                applied.constants = Some(*constants);
                applied.is_absolute = true;
                applied.from.push((*one).clone());
            }
            Found::Line { correction, .. } => line = Some((one, *correction)),
            Found::Lag { tau_s, u_s } => {
                applied.lag = Some(Lag {
                    tau_s: *tau_s,
                    u_s: *u_s,
                });
                applied.from.push((*one).clone());
            }
        }
    }
    // Of a line and of fixed points the newer ones count.
    let line = line.filter(|(one, _)| {
        let is_older =
            |point: &&Calibration| age_s(&one.date, &point.date).is_some_and(|s| s > 0.0);
        !points_from.iter().any(is_older)
    });
    if let Some((one, correction)) = line {
        applied.correction = Some(correction);
        applied.from.push(one.clone());
    } else {
        applied.correction = through(&points);
        applied.from.extend(points_from.into_iter().cloned());
    }
    applied.is_absolute |= applied.correction.is_some();
    applied
}

/// One fixed point moves all readings alike; two make a line.
fn through(points: &[(f64, f64, f64)]) -> Option<CorrectionLine> {
    match *points {
        [first, second] if (first.0 - second.0).abs() > APART_DEGC => {
            Some(CorrectionLine::through(first, second))
        }
        [(_, offset, u)] | [(_, offset, u), _] => Some(CorrectionLine::constant(offset, u)),
        _ => None,
    }
}

/// Makes the probes of one bath agree in it: those that are known against a reference are what the
/// others are brought to; if none is, the mean of all.
fn match_all(kept: &[Vec<&Calibration>], out: &mut [Applied]) {
    let matches: Vec<Option<&Calibration>> = kept
        .iter()
        .map(|held| {
            held.iter()
                .copied()
                .find(|one| matches!(one.found, Found::Match { .. }))
        })
        .collect();
    let before: Vec<Applied> = out.to_vec();
    let corrected = |at: usize| -> Option<(f64, f64)> {
        let Found::Match { reading_degc, .. } = matches.get(at).copied().flatten()?.found else {
            return None;
        };
        let own = before.get(at)?;
        let line = own.correction.unwrap_or_default().line;
        let u = own.u_at(reading_degc).unwrap_or(0.0);
        Some((line.corrected(reading_degc), u))
    };
    let known = |at: usize| before.get(at).is_some_and(|one| one.is_absolute);
    for ((applied, own), channel) in out.iter_mut().zip(&matches).zip(0..) {
        let Some(own) = own else { continue };
        let together: Vec<usize> = (0..)
            .zip(&matches)
            .filter(|(_, other)| other.is_some_and(|other| other.date == own.date))
            .map(|(at, _)| at)
            .collect();
        let any = together.iter().any(|at| known(*at));
        let to: Vec<(f64, f64)> = together
            .iter()
            .filter(|at| !any || known(**at))
            .filter_map(|at| corrected(*at))
            .collect();
        let Some(here) = corrected(channel) else {
            continue;
        };
        // With one probe alone there is nothing that it is matched to.
        if together.len() >= 2 && !to.is_empty() {
            bring(applied, own, here, (&to, any));
        }
    }
}

/// Brings a channel's temperature in the bath, `here`, to what others of it come to, each in °C with its
/// standard uncertainty.
fn bring(
    applied: &mut Applied,
    own: &Calibration,
    here: (f64, f64),
    (to, is_known): (&[(f64, f64)], bool),
) {
    let Found::Match { u_degc, .. } = own.found else {
        return;
    };
    let n = to.len() as f64;
    // What several probes have from one thermometer or one bath is not independent: it does not average
    // out (JCGM 100:2008, 5.2.2, note 1).
    let mean = |a: (f64, f64), t: &(f64, f64)| (a.0 + t.0 / n, a.1 + t.1 / n);
    let (target, u) = to.iter().fold((0.0, 0.0), mean);
    let line = applied.correction.unwrap_or_default();
    // What the channel's own law and line leave open stays with them, as it is another one elsewhere.
    let beyond = (u * u - here.1 * here.1).max(0.0).sqrt();
    applied.correction = Some(
        CorrectionLine {
            line: Correction {
                offset_degc: line.line.offset_degc + target - here.0,
                ..line.line
            },
            ..line
        }
        .with_common(beyond.hypot(u_degc)),
    );
    applied.is_absolute |= is_known;
    applied.from.push(own.clone());
}

#[cfg(test)]
mod tests;
