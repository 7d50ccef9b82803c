//! `lag`: a probe is dipped from the air into warm water.

use serde_json::json;

use super::args::LagArgs;
use super::guide::Stretch;
use super::keep::{Outcome, finish, short};
use super::listen::Heard;
use super::subject::{Live, Subject};
use crate::analysis::expanded;
use crate::calibrate::{FittedLag, Found, LagFault, TRANSFER, fit_lag};
use crate::cli::exit::{Code, Failure};
use crate::cli::results::PLUS_MINUS;
use crate::cli::text::{aligned, wrapped};

/// A probe that went so far has been dipped, in °C.
const DIPPED_DEGC: f64 = 3.0;

/// Readings in the air before the dip, in seconds.
const BEFORE_S: f64 = 5.0;

/// After the dip so many time constants are waited for, and so many seconds at least.
const CONSTANTS: f64 = 8.0;
const LEAST_S: f64 = 15.0;

/// How often the fit is tried while rows come, in seconds.
const TRY_EVERY_S: f64 = 2.0;

const AIR: &str = "Let the probes hang in the air of the room, dry and still, and have a pot of \
    warm water ready beside them: 40 to 50 °C, from the tap. Keep the board and mains away from the \
    water. Press Enter when the probes hang still.";

const DIP: &str = "Press Enter, then dip the probes into the water in one movement, stir, and keep \
    stirring until you are told.";

/// How fast the probes follow.
pub(super) async fn run(args: &LagArgs, quiet: bool) -> Result<(), Failure> {
    let common = &args.common;
    let mut subject = Subject::open(common, quiet).await?;
    let stretch = match &mut subject.live {
        Live::Table(all) => std::mem::take(all),
        Live::Board(_) => watch(&mut subject).await?,
    };
    let named = !common.channels.is_empty();
    let mut fits: Vec<(usize, FittedLag)> = Vec::new();
    let mut first_fault = None;
    for &channel in &subject.channels {
        match fit_lag(&stretch.t_s, stretch.channel(channel)) {
            Ok(fit) => fits.push((channel, fit)),
            // Of all channels those count that were dipped.
            Err(LagFault::NoStep { .. }) if !named => {
                first_fault.get_or_insert((channel, LagFault::NoStep { step_degc: 0.0 }));
            }
            Err(fault) => return Err(no_lag(&subject, channel, fault)),
        }
    }
    if let Some((channel, fault)) = first_fault.filter(|_| fits.is_empty()) {
        return Err(no_lag(&subject, channel, fault));
    }
    let mut more = serde_json::Map::new();
    let intervals = fits.iter().map(|(channel, fit)| {
        json!({"channel": channel + 1, "low_s": short(fit.interval_s.0),
            "high_s": short(fit.interval_s.1), "level": 0.95, "step_degc": short(fit.step_degc),
            "residual_sd_degc": short(fit.residual_sd_degc)})
    });
    more.insert("intervals".into(), intervals.collect());
    let outcome = Outcome {
        text: text(&subject, &fits),
        more,
        kind: "lag",
        method: "dipped from air into stirred water, first-order fit".into(),
        conditions: [(
            "step_degc".to_owned(),
            fits.first().map_or(0.0, |(_, f)| short(f.step_degc)),
        )]
        .into(),
        found: fits
            .iter()
            .map(|(channel, fit)| {
                let (tau_s, u_s) = (short(fit.tau_s), short(fit.u_s));
                (*channel, Found::Lag { tau_s, u_s })
            })
            .collect(),
    };
    finish(&subject, outcome, (common.json, quiet))
}

fn text(subject: &Subject, fits: &[(usize, FittedLag)]) -> String {
    let row = |(channel, fit): &(usize, FittedLag)| {
        let (value, half) = expanded(fit.tau_s, fit.u_s);
        vec![
            subject.title(*channel),
            format!("{value} s"),
            format!("± {half} s"),
            format!("95 %: {:.2} to {:.2} s", fit.interval_s.0, fit.interval_s.1),
            format!("step {:+.1} °C", fit.step_degc),
        ]
    };
    let rows: Vec<Vec<String>> = fits.iter().map(row).collect();
    let advice = format!(
        "In stirred water a probe is at its fastest; on a sample it is slower. When the lamp's \
         edges are found this lag is taken to be uncertain by {:.0} % more.",
        100.0 * TRANSFER
    );
    format!(
        "Lag: time constant\n{}{}{}",
        aligned(&rows),
        wrapped(PLUS_MINUS),
        wrapped(&advice)
    )
}

/// Watches until a dip has come to rest.
async fn watch(subject: &mut Subject) -> Result<Stretch, Failure> {
    let channels = subject.channels.clone();
    let guide = &subject.guide;
    let Live::Board(board) = &mut subject.live else {
        return Ok(Stretch::default());
    };
    guide.ask(board, AIR).await?;
    guide.ask(board, DIP).await?;
    guide.tell("Waiting for the dip; then a minute or so until the probes are at rest.");
    let mut stretch = Stretch::default();
    let (mut begun_s, mut dipped_s, mut tried_s) = (None, None, 0.0);
    loop {
        let row = match board.next().await? {
            Heard::Row(row) => row,
            Heard::Typed(_) => continue,
        };
        let now_s = row.0;
        let begun_s = *begun_s.get_or_insert(now_s);
        stretch.push(&row);
        if dipped_s.is_none() && now_s - begun_s >= BEFORE_S {
            let gone = channels
                .iter()
                .any(|c| gone(stretch.channel(*c)) >= DIPPED_DEGC);
            if gone {
                guide.tell("Dipped. Keep stirring.");
                dipped_s = Some(now_s);
            }
        }
        if let Some(dipped_s) = dipped_s
            && now_s - tried_s >= TRY_EVERY_S
        {
            tried_s = now_s;
            let done = |channel: &usize| match fit_lag(&stretch.t_s, stretch.channel(*channel)) {
                Ok(fit) => now_s - fit.from_s >= (CONSTANTS * fit.tau_s).max(LEAST_S),
                // It hangs in the air still, or jumps: waiting changes nothing.
                Err(LagFault::NoStep { .. }) => true,
                Err(LagFault::TooFast { .. }) => now_s - dipped_s >= LEAST_S,
                Err(_) => false,
            };
            if channels.iter().all(done) && now_s - dipped_s >= LEAST_S {
                return Ok(stretch);
            }
        }
        let patience_s = guide.patience_s;
        if now_s - begun_s > patience_s {
            let waited = crate::cli::duration::clock(patience_s);
            let message = if dipped_s.is_some() {
                format!("the probes did not come to rest within {waited}")
            } else {
                format!("no probe was dipped within {waited}")
            };
            return Err(Failure::new(Code::Failed, message).advise(
                "Use more water, stir evenly, and dip in one movement. Nothing was kept.",
            ));
        }
    }
}

/// How far a channel is from where it began, in °C.
fn gone(degc: &[f64]) -> f64 {
    let mut finite = degc.iter().copied().filter(|v| v.is_finite());
    let first = finite.next().unwrap_or(f64::NAN);
    let away = (finite.next_back().unwrap_or(f64::NAN) - first).abs();
    if away.is_nan() { 0.0 } else { away }
}

fn no_lag(subject: &Subject, channel: usize, fault: LagFault) -> Failure {
    let message = format!("{}: {fault}", subject.title(channel));
    Failure::new(Code::Failed, message).advise(match fault {
        LagFault::TooFast { .. } => "Let the board send faster. Nothing was kept.",
        LagFault::NoStep { .. } => "Use warmer water, or name the probe that is dipped with --channel. Nothing was kept.",
        LagFault::FewRows { .. } | LagFault::NoFit => {
            "Begin with some seconds in the air, dip in one movement, and wait until it is at rest. \
             Nothing was kept."
        }
    })
}
