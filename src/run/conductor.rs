//! Follows a plan along the run's time, by the lamp edges that were seen and the keys pressed.

#[cfg(test)]
mod tests;

use super::hand::Hand;
use super::plan::Plan;
use super::step::{Cue, Step};
use crate::lamp::{EdgeSeen, Kind};

/// A lamp that was asked for is waited for so long; then the plan goes on as if it were on, since
/// a lamp too weak to be seen must not keep a run from ending.
const PATIENCE_S: f64 = 120.0;

/// Who presses the lamp's key within so many seconds of its switching means that switching. Of a short
/// phase it is a third, of one without a time a quarter of a minute.
const JUST_SWITCHED_S: f64 = 60.0;

/// So much longer than heating and cooling a run with marks goes on from lamp-on, in seconds: the
/// last mark needs rows around it, also where the lamp went off early or, as the whole record says
/// afterwards, on a little later than it was seen to.
const TAIL_S: f64 = 5.0;

/// Follows a plan along the run's time.
#[derive(Debug, Clone)]
pub struct Conductor {
    plan: Plan,
    step: Step,
    /// Which of the plan's lamp cycles it is, from 1.
    cycle: u32,
    /// When the lamp first went on: marks count from here.
    zero_s: Option<f64>,
    /// Somebody pressed the key that ends this step.
    go_on: bool,
    /// The lamp was lit, and not seen to go off since.
    off_unseen: bool,
}

/// Whether the lamp was switched just now, at `since_s`, for a phase of `span_s` if it has a time.
#[must_use]
pub fn is_just_switched(since_s: f64, now_s: f64, span_s: Option<f64>) -> bool {
    now_s - since_s < JUST_SWITCHED_S.min(span_s.map_or(0.25 * JUST_SWITCHED_S, |s| s / 3.0))
}

impl Conductor {
    /// At the beginning of a run.
    #[must_use]
    pub fn new(plan: Plan) -> Self {
        let step = if plan.has_lamp() {
            Step::Settling
        } else {
            Step::Open
        };
        Self {
            plan,
            step,
            cycle: 1,
            zero_s: None,
            go_on: false,
            off_unseen: false,
        }
    }

    /// Where the run stands.
    #[must_use]
    pub fn step(&self) -> Step {
        self.step
    }

    /// The plan.
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Which of the plan's lamp cycles it is, from 1.
    #[must_use]
    pub fn cycle(&self) -> u32 {
        self.cycle
    }

    /// Run time in seconds that marks count from, once it is known.
    #[must_use]
    pub fn zero_s(&self) -> Option<f64> {
        match self.step {
            Step::Open => Some(0.0),
            _ => self.zero_s,
        }
    }

    /// Run time in seconds at which people were told to switch the lamp, until it is switched.
    #[must_use]
    pub fn cued_s(&self) -> Option<f64> {
        match self.step {
            Step::AwaitOn { cued_s } | Step::AwaitOff { cued_s, .. } => Some(cued_s),
            _ => None,
        }
    }

    /// Takes in that the lamp was seen to change.
    pub fn seen(&mut self, edge: &EdgeSeen) {
        self.presume(edge.noticed_s);
        self.switched(edge.edge, edge.at_s, false);
    }

    /// What the lamp's key says when it is pressed at `now_s`: what was seen just now, or what comes
    /// next. A lamp that only a key said to be off may be on after all.
    #[must_use]
    pub fn key_means(&self, now_s: f64) -> Kind {
        match self.step {
            Step::Heating { since_s, .. } => {
                if is_just_switched(since_s, now_s, self.plan.heating_s()) {
                    Kind::On
                } else {
                    Kind::Off
                }
            }
            Step::Cooling {
                since_s,
                presumed: false,
                ..
            } if is_just_switched(since_s, now_s, self.plan.cooling_s()) => Kind::Off,
            Step::AwaitOff { .. } => Kind::Off,
            _ => Kind::On,
        }
    }

    /// The plan is through, and its lamp was never seen to go off: it may still be lit.
    #[must_use]
    pub fn may_be_left_lit(&self) -> bool {
        self.step == Step::Done && self.off_unseen
    }

    /// Whether the key that goes on to the next step has anything to end now. It does not cut short
    /// what the plan gives a time.
    #[must_use]
    pub fn can_go_on(&self) -> bool {
        match self.step {
            Step::Settling | Step::AwaitOn { .. } | Step::AwaitOff { .. } => true,
            Step::Heating { .. } => self.plan.heat_until_key,
            Step::Cooling { .. } => self.plan.cool_until_key,
            Step::Open | Step::Done => false,
        }
    }

    /// Takes in a key that was pressed at `now_s`.
    pub fn hand(&mut self, hand: Hand, now_s: f64) {
        self.presume(now_s);
        match (hand, self.step) {
            (Hand::Mark, _) => {}
            (Hand::LampOn, _) | (Hand::GoOn, Step::AwaitOn { .. }) => {
                self.switched(Kind::On, now_s, true);
            }
            (Hand::LampOff, _) | (Hand::GoOn, Step::AwaitOff { .. }) => {
                self.switched(Kind::Off, now_s, true);
            }
            // Its cue comes with the next tick.
            (Hand::GoOn, _) => self.go_on = self.can_go_on(),
        }
    }

    /// The lamp was switched at `at_s`: what was seen stands over what was `presumed`.
    fn switched(&mut self, kind: Kind, at_s: f64, presumed: bool) {
        match (kind, self.step) {
            (
                Kind::On,
                Step::Settling | Step::AwaitOn { .. } | Step::Heating { presumed: true, .. },
            ) => self.lit(at_s, presumed),
            // Who said off by mistake says so by the same key.
            (
                Kind::On,
                Step::Cooling {
                    on_s,
                    since_s,
                    presumed: true,
                },
            ) if presumed && is_just_switched(since_s, at_s, self.plan.cooling_s()) => {
                self.step = Step::Heating {
                    since_s: on_s,
                    presumed: false,
                };
            }
            (Kind::On, Step::Cooling { .. }) if self.cycle < self.plan.cycles() => {
                self.cycle += 1;
                self.lit(at_s, presumed);
            }
            (
                Kind::Off,
                Step::Heating { since_s: on_s, .. }
                | Step::AwaitOff { on_s, .. }
                | Step::Cooling {
                    on_s,
                    presumed: true,
                    ..
                },
            ) => {
                self.step = Step::Cooling {
                    on_s,
                    since_s: at_s,
                    presumed,
                };
            }
            _ => return,
        }
        self.go_on = false;
    }

    /// The lamp is on since then.
    fn lit(&mut self, since_s: f64, presumed: bool) {
        if self.cycle == 1 {
            self.zero_s = Some(since_s);
        }
        self.step = Step::Heating { since_s, presumed };
    }

    /// A lamp that was waited for long enough by `now_s` counts as switched at its cue.
    fn presume(&mut self, now_s: f64) {
        let patience_s = |span_s: Option<f64>| PATIENCE_S.min(span_s.unwrap_or(PATIENCE_S));
        match self.step {
            Step::AwaitOn { cued_s } if now_s >= cued_s + patience_s(self.plan.heating_s()) => {
                self.lit(cued_s, true);
            }
            Step::AwaitOff { on_s, cued_s }
                if now_s >= cued_s + patience_s(self.plan.cooling_s()) =>
            {
                self.step = Step::Cooling {
                    on_s,
                    since_s: cued_s,
                    presumed: true,
                };
            }
            _ => {}
        }
    }

    /// Time has come to `now_s`; `steady` tells whether the samples are. Gives a cue when one is due.
    pub fn tick(&mut self, now_s: f64, steady: bool) -> Option<Cue> {
        self.presume(now_s);
        match self.step {
            Step::Heating { .. } | Step::AwaitOff { .. } => self.off_unseen = true,
            Step::Cooling { presumed, .. } => self.off_unseen = presumed,
            _ => {}
        }
        if self.plan.for_s.is_some_and(|for_s| now_s >= for_s) && self.step != Step::Done {
            self.step = Step::Done;
            return Some(Cue::Done);
        }
        let is_due = |due_s: Option<f64>| due_s.is_some_and(|due_s| now_s >= due_s);
        let go_on = self.go_on;
        let (step, cue) = match self.step {
            Step::Settling if steady || go_on || self.plan.settle_degc_per_min.is_none() => {
                (Step::AwaitOn { cued_s: now_s }, Cue::LampOn)
            }
            Step::Heating { since_s: on_s, .. } if go_on || is_due(self.switch_s()) => {
                let cued_s = now_s;
                (Step::AwaitOff { on_s, cued_s }, Cue::LampOff)
            }
            Step::Cooling { .. } if go_on || is_due(self.switch_s()) => {
                if self.cycle < self.plan.cycles() {
                    self.cycle += 1;
                    (Step::AwaitOn { cued_s: now_s }, Cue::LampOn)
                } else {
                    (Step::Done, Cue::Done)
                }
            }
            _ => return None,
        };
        self.step = step;
        self.go_on = false;
        Some(cue)
    }

    /// Run time in seconds at which the lamp is to be switched, or the run to end, where the plan
    /// says it.
    #[must_use]
    pub fn switch_s(&self) -> Option<f64> {
        match self.step {
            Step::Heating { since_s, .. } => Some(since_s + self.plan.heating_s()?),
            Step::Cooling {
                on_s,
                since_s,
                presumed,
            } => {
                let cooled_s = since_s + self.plan.cooling_s()?;
                let Some(cycle_s) = self.plan.cycle_s() else {
                    return Some(cooled_s);
                };
                let marks = self.plan.marks_s.is_some();
                let end_s = self.zero_s.zip(self.plan.length_s()).map(|(z, l)| z + l);
                Some(if self.cycle < self.plan.cycles() {
                    // The lamp comes on again at its mark, also where it went off beside one.
                    if marks { on_s + cycle_s } else { cooled_s }
                } else if marks && (!presumed || end_s.is_some()) {
                    let marked_s = end_s.map_or(on_s + cycle_s, |s| s.max(on_s + cycle_s));
                    cooled_s.max(marked_s + TAIL_S)
                } else {
                    cooled_s
                })
            }
            Step::Open => self.plan.for_s,
            _ => None,
        }
    }

    /// The phase's word for the live file, empty in a run without a lamp; what is final is derived
    /// from the edges afterwards.
    #[must_use]
    pub fn phase(&self) -> &'static str {
        match self.step {
            Step::Heating { .. } | Step::AwaitOff { .. } => "heating",
            Step::Cooling { .. } => "cooling",
            Step::AwaitOn { .. } if self.cycle > 1 => "cooling",
            Step::Done if self.plan.has_lamp() => "cooling",
            Step::Settling | Step::AwaitOn { .. } => "settling",
            Step::Open | Step::Done => "",
        }
    }

    /// Seconds until the next mark of the plan, counted from the lamp's first on-edge.
    #[must_use]
    pub fn next_mark_in_s(&self, now_s: f64) -> Option<f64> {
        let marks_s = self.plan.marks_s?;
        if self.step == Step::Done {
            return None;
        }
        let in_s = marks_s - (now_s - self.zero_s()?).rem_euclid(marks_s);
        // The run may end before it; half a second is what the lamp's instant may move by.
        let is_last = self.cycle >= self.plan.cycles();
        let ends_in_s = match self.step {
            Step::Cooling { .. } if is_last => self.remaining_s(now_s),
            Step::Open => self.remaining_s(now_s),
            _ => None,
        };
        (!ends_in_s.is_some_and(|ends_in_s| in_s > ends_in_s + 0.5)).then_some(in_s)
    }

    /// Seconds until the lamp is to be switched, or the run to end, where the plan says it.
    #[must_use]
    pub fn remaining_s(&self, now_s: f64) -> Option<f64> {
        self.switch_s().map(|switch_s| switch_s - now_s)
    }
}
