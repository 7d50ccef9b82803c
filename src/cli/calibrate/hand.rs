//! Which probe is which: the one that a hand warms.

use super::listen::Heard;
use super::subject::{Live, Subject};
use crate::calibrate::Matched;
use crate::cli::exit::{Code, Failure};

/// A probe in a hand is warmer by this, in °C: no draught does it.
const WARMED_DEGC: f64 = 2.0;

/// Longest wait for a hand to warm a probe, in seconds.
const HAND_S: f64 = 120.0;

/// Has the first probe warmed by hand, and sees which channel that is.
pub(super) async fn identify(subject: &mut Subject, found: &Matched) -> Result<(), Failure> {
    let first = subject.channels.first().copied().unwrap_or(0);
    let title = subject.title(first);
    let text = format!(
        "Now take the probe of {title} out, dry it and hold its tip between two fingers. Press \
         Enter when you hold it."
    );
    let others: Vec<(usize, f64)> = subject
        .channels
        .iter()
        .copied()
        .zip(found.means.iter().map(|m| m.degc))
        .collect();
    let Live::Board(board) = &mut subject.live else {
        return Ok(());
    };
    subject.guide.ask(board, &text).await?;
    let mut begun_s = None;
    let warmed = loop {
        let Heard::Row((t_s, degc)) = board.next().await? else {
            continue;
        };
        let begun_s = *begun_s.get_or_insert(t_s);
        let warm = others.iter().find(|(channel, before)| {
            degc.get(*channel)
                .is_some_and(|now| now - before >= WARMED_DEGC)
        });
        if let Some((channel, _)) = warm {
            break *channel;
        }
        if t_s - begun_s > HAND_S {
            let message = format!("no probe became warmer by {WARMED_DEGC} °C in the hand");
            return Err(Failure::new(Code::Failed, message)
                .advise("Use colder water, or leave out --identify. Nothing was kept."));
        }
    };
    if warmed == first {
        subject
            .guide
            .tell(&format!("That is {title}, as it should be."));
        return Ok(());
    }
    let message = format!(
        "the probes are swapped: {title} was to be warmed, and {} became warm",
        subject.title(warmed)
    );
    Err(Failure::new(Code::Failed, message)
        .advise("Change the plugs over, or name the samples in the other order. Nothing was kept."))
}
