//! What is to be done and when, and how far it has come.

use crate::lamp::{EdgeSeen, Kind};

/// A lamp that was asked for is waited for so long; then the plan goes on as if it were on, since
/// a lamp too weak to be seen must not keep a run from ending.
const PATIENCE_S: f64 = 120.0;

/// So much longer than heating and cooling a run with marks goes on from lamp-on, in seconds: the
/// last mark needs rows around it, also where the lamp went off early or, as the whole record says
/// afterwards, on a little later than it was seen to.
const TAIL_S: f64 = 5.0;

/// What a run was asked to do.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Plan {
    /// Samples count as steady when both drift less than this, in °C/min; `None`: do not wait.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settle_degc_per_min: Option<f64>,
    /// Lamp-on time in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heat_s: Option<f64>,
    /// Lamp-off time in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cool_s: Option<f64>,
    /// Interval of the marks in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub marks_s: Option<f64>,
    /// Length of an unattended run in seconds; a lesson ends by its plan, and without either the
    /// run goes on until it is ended by hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub for_s: Option<f64>,
    /// Name of the sample that was predicted to warm more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub prediction: Option<String>,
}

impl Plan {
    /// Whether there is a lamp to switch.
    #[must_use]
    pub fn has_lamp(&self) -> bool {
        self.heat_s.is_some()
    }

    /// Time in seconds from the first mark to the end: heating and cooling, or the length of an
    /// unattended run; none if nothing says when it ends.
    #[must_use]
    pub fn length_s(&self) -> Option<f64> {
        let lesson = |heat_s: f64| heat_s + self.cool_s.unwrap_or(heat_s);
        self.for_s.or(self.heat_s.map(lesson))
    }
}

/// Where a run stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Waiting for steady samples.
    Settling,
    /// The lamp was asked for at this time and is not seen yet.
    AwaitOn {
        /// Run time of the cue, in seconds.
        cued_s: f64,
    },
    /// The lamp is on since this time.
    Heating {
        /// Run time in seconds.
        since_s: f64,
        /// It was not seen: the time is that of the cue.
        presumed: bool,
    },
    /// The lamp was asked off and is not seen off yet.
    AwaitOff {
        /// Run time at which the lamp went on, in seconds.
        on_s: f64,
        /// Run time of the cue, in seconds.
        cued_s: f64,
    },
    /// The lamp is off since this time.
    Cooling {
        /// Run time at which the lamp went on, in seconds.
        on_s: f64,
        /// Run time in seconds.
        since_s: f64,
        /// It was not seen: the time is that of the cue.
        presumed: bool,
    },
    /// Logging without a lamp to switch.
    Open,
    /// The plan is through.
    Done,
}

/// What people are to do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cue {
    /// Switch the lamp on.
    LampOn,
    /// Switch the lamp off.
    LampOff,
    /// The plan is through.
    Done,
}

impl Cue {
    /// The cue of a word in the journal.
    pub(super) fn from_code(code: &str) -> Option<Self> {
        let all = [Self::LampOn, Self::LampOff, Self::Done];
        all.into_iter().find(|cue| cue.code() == code)
    }

    /// The word in journal and events.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::LampOn => "cue-lamp-on",
            Self::LampOff => "cue-lamp-off",
            Self::Done => "cue-done",
        }
    }
}

/// Follows a plan along the run's time, by the lamp edges that were seen.
#[derive(Debug, Clone)]
pub struct Conductor {
    plan: Plan,
    step: Step,
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
        Self { plan, step }
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

    /// Takes in that the lamp was seen to change.
    pub fn seen(&mut self, edge: &EdgeSeen) {
        let at_s = edge.at_s;
        self.step = match (edge.edge, self.step) {
            (
                Kind::On,
                Step::Settling | Step::AwaitOn { .. } | Step::Heating { presumed: true, .. },
            ) => Step::Heating {
                since_s: at_s,
                presumed: false,
            },
            (
                Kind::Off,
                Step::Heating { since_s: on_s, .. }
                | Step::AwaitOff { on_s, .. }
                | Step::Cooling {
                    on_s,
                    presumed: true,
                    ..
                },
            ) => Step::Cooling {
                on_s,
                since_s: at_s,
                presumed: false,
            },
            (_, step) => step,
        };
    }

    /// Time has come to `now_s`; `steady` tells whether the samples are. Gives a cue when one is due.
    pub fn tick(&mut self, now_s: f64, steady: bool) -> Option<Cue> {
        let heat_s = self.plan.heat_s.unwrap_or(0.0);
        let cool_s = self.plan.cool_s.unwrap_or(heat_s);
        if self.plan.for_s.is_some_and(|for_s| now_s >= for_s) && self.step != Step::Done {
            self.step = Step::Done;
            return Some(Cue::Done);
        }
        match self.step {
            Step::Settling if steady || self.plan.settle_degc_per_min.is_none() => {
                self.step = Step::AwaitOn { cued_s: now_s };
                Some(Cue::LampOn)
            }
            Step::AwaitOn { cued_s } if now_s >= cued_s + PATIENCE_S.min(heat_s) => {
                self.step = Step::Heating {
                    since_s: cued_s,
                    presumed: true,
                };
                self.tick(now_s, steady)
            }
            Step::Heating { since_s, .. } if now_s >= since_s + heat_s => {
                self.step = Step::AwaitOff {
                    on_s: since_s,
                    cued_s: now_s,
                };
                Some(Cue::LampOff)
            }
            Step::AwaitOff { on_s, cued_s } if now_s >= cued_s + PATIENCE_S.min(cool_s) => {
                self.step = Step::Cooling {
                    on_s,
                    since_s: cued_s,
                    presumed: true,
                };
                self.tick(now_s, steady)
            }
            Step::Cooling { .. } if self.cooled_s().is_some_and(|end_s| now_s >= end_s) => {
                self.step = Step::Done;
                Some(Cue::Done)
            }
            _ => None,
        }
    }

    /// Run time in seconds at which the cooling is through, while it lasts.
    fn cooled_s(&self) -> Option<f64> {
        let Step::Cooling {
            on_s,
            since_s,
            presumed,
        } = self.step
        else {
            return None;
        };
        let heat_s = self.plan.heat_s.unwrap_or(0.0);
        let cooled_s = since_s + self.plan.cool_s.unwrap_or(heat_s);
        let marked_s = on_s + self.plan.length_s()? + TAIL_S;
        let marks = self.plan.marks_s.is_some() && !presumed;
        Some(if marks {
            cooled_s.max(marked_s)
        } else {
            cooled_s
        })
    }

    /// The phase's word for the live file, empty in a run without a lamp; what is final is derived
    /// from the edges afterwards.
    #[must_use]
    pub fn phase(&self) -> &'static str {
        match self.step {
            Step::Heating { .. } | Step::AwaitOff { .. } => "heating",
            Step::Cooling { .. } => "cooling",
            Step::Done if self.plan.has_lamp() => "cooling",
            Step::Settling | Step::AwaitOn { .. } => "settling",
            Step::Open | Step::Done => "",
        }
    }

    /// Seconds until the next mark of the plan, counted from the lamp's on-edge.
    #[must_use]
    pub fn next_mark_in_s(&self, now_s: f64) -> Option<f64> {
        let marks_s = self.plan.marks_s?;
        let zero_s = match self.step {
            Step::Heating { since_s, .. } => since_s,
            Step::AwaitOff { on_s, .. } | Step::Cooling { on_s, .. } => on_s,
            Step::Open => 0.0,
            Step::Settling | Step::AwaitOn { .. } | Step::Done => return None,
        };
        Some(marks_s - (now_s - zero_s).rem_euclid(marks_s))
    }

    /// Seconds until the lamp is to be switched, or the run to end, where the plan says it.
    #[must_use]
    pub fn remaining_s(&self, now_s: f64) -> Option<f64> {
        let heat_s = self.plan.heat_s.unwrap_or(0.0);
        match self.step {
            Step::Heating { since_s, .. } => Some(since_s + heat_s - now_s),
            Step::Cooling { .. } => self.cooled_s().map(|end_s| end_s - now_s),
            Step::Open => self.plan.for_s.map(|for_s| for_s - now_s),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(edge: Kind, at_s: f64) -> EdgeSeen {
        EdgeSeen {
            edge,
            at_s,
            low_s: at_s - 2.0,
            high_s: at_s + 2.0,
            noticed_s: at_s + 15.0,
        }
    }

    fn lesson() -> Conductor {
        Conductor::new(Plan {
            settle_degc_per_min: Some(0.1),
            heat_s: Some(600.0),
            cool_s: Some(600.0),
            marks_s: Some(60.0),
            ..Plan::default()
        })
    }

    #[test]
    fn a_lesson_runs_from_edge_to_edge() {
        let mut run = lesson();
        assert_eq!(run.tick(10.0, false), None);
        assert_eq!(run.tick(80.0, true), Some(Cue::LampOn));
        assert_eq!(run.phase(), "settling");
        run.seen(&seen(Kind::On, 92.0));
        assert_eq!(run.phase(), "heating");
        assert_eq!(run.next_mark_in_s(120.0), Some(32.0));
        assert_eq!(run.tick(691.9, true), None);
        assert_eq!(run.tick(692.0, true), Some(Cue::LampOff));
        run.seen(&seen(Kind::Off, 697.0));
        assert_eq!(run.remaining_s(700.0), Some(597.0));
        assert_eq!(run.tick(1297.0, true), Some(Cue::Done));
        assert_eq!(run.tick(1298.0, true), None);
        assert_eq!(run.phase(), "cooling");
    }

    #[test]
    fn a_lamp_that_goes_off_early_does_not_cost_the_last_mark() {
        let mut run = lesson();
        run.seen(&seen(Kind::On, 20.0));
        run.seen(&seen(Kind::Off, 616.0));
        assert_eq!(run.remaining_s(1000.0), Some(225.0));
        assert_eq!(run.tick(1224.9, true), None);
        assert_eq!(run.tick(1225.0, true), Some(Cue::Done));
    }

    #[test]
    fn a_lamp_that_is_never_seen_does_not_keep_the_run_from_ending() {
        let mut run = lesson();
        run.tick(60.0, true);
        let cues: Vec<(f64, Cue)> = (61..4000)
            .filter_map(|s| run.tick(f64::from(s), true).map(|cue| (f64::from(s), cue)))
            .collect();
        assert_eq!(cues, [(660.0, Cue::LampOff), (1260.0, Cue::Done)]);
    }

    #[test]
    fn a_lamp_that_is_seen_late_corrects_what_was_presumed() {
        let mut run = lesson();
        run.tick(60.0, true);
        run.tick(190.0, true);
        assert_eq!(
            run.step(),
            Step::Heating {
                since_s: 60.0,
                presumed: true
            }
        );
        run.seen(&seen(Kind::On, 240.0));
        assert_eq!(run.tick(700.0, true), None);
        assert_eq!(run.tick(840.0, true), Some(Cue::LampOff));
    }

    #[test]
    fn a_lamp_that_went_on_too_early_counts() {
        let mut run = lesson();
        run.seen(&seen(Kind::On, 20.0));
        assert_eq!(run.tick(620.0, false), Some(Cue::LampOff));
    }

    #[test]
    fn an_unattended_run_ends_on_time() {
        let mut run = Conductor::new(Plan {
            for_s: Some(100.0),
            ..Plan::default()
        });
        assert_eq!(run.tick(99.9, false), None);
        assert_eq!(run.phase(), "");
        assert_eq!(run.tick(100.0, false), Some(Cue::Done));
    }
}
