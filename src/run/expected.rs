//! What the watch over the lamp is told of the plan: when people are to switch it.

#[cfg(test)]
mod tests;

use super::conductor::Conductor;
use super::step::Step;
use crate::lamp::{Kind, Watcher};

/// What is known of the next edge.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Next {
    /// People are told to at this run time in seconds; infinite where that is not known yet.
    Cued(Kind, f64),
    /// A key ends the step: nobody knows when, and a switch without the key is no surprise.
    SomeTime(Kind),
    /// Nobody is to switch the lamp any more.
    Nothing,
    /// There is no lamp to switch, as the watcher was told at the beginning.
    NoLamp,
}

/// Tells the watcher when the next edge is expected, as far as the plan says it. Whoever was `invited` to
/// switch the lamp on although the samples drift may do so at any time.
pub(super) fn expect(watcher: &mut Watcher, conductor: &Conductor, invited: bool) {
    match next(conductor) {
        Next::Cued(Kind::On, cue_s) if invited && cue_s.is_infinite() => {
            watcher.expect_some_time(Kind::On);
        }
        Next::Cued(kind, cue_s) => watcher.expect(kind, cue_s),
        Next::SomeTime(kind) => watcher.expect_some_time(kind),
        Next::Nothing => watcher.expect_none(),
        Next::NoLamp => {}
    }
}

fn next(conductor: &Conductor) -> Next {
    let plan = conductor.plan();
    let at_s = conductor.switch_s().unwrap_or(f64::INFINITY);
    match conductor.step() {
        Step::Open => Next::NoLamp,
        _ if !plan.has_lamp() => Next::NoLamp,
        Step::Settling => Next::Cued(Kind::On, f64::INFINITY),
        Step::AwaitOn { cued_s } => Next::Cued(Kind::On, cued_s),
        Step::AwaitOff { cued_s, .. } => Next::Cued(Kind::Off, cued_s),
        Step::Heating { .. } if plan.heat_until_key => Next::SomeTime(Kind::Off),
        Step::Heating { .. } => Next::Cued(Kind::Off, at_s),
        Step::Done => Next::Nothing,
        Step::Cooling { .. } if conductor.cycle() >= plan.cycles() => Next::Nothing,
        Step::Cooling { .. } if plan.cool_until_key => Next::SomeTime(Kind::On),
        Step::Cooling { .. } => Next::Cued(Kind::On, at_s),
    }
}
