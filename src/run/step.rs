//! Where a run stands in its plan, and what people are to do.

use crate::lamp::Kind;

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
        /// It was not seen: the time is that of the cue, or of somebody's key.
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
        /// It was not seen: the time is that of the cue, or of somebody's key.
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

    /// Which way the lamp is to be switched, if it is.
    pub(super) fn lamp(self) -> Option<Kind> {
        match self {
            Self::LampOn => Some(Kind::On),
            Self::LampOff => Some(Kind::Off),
            Self::Done => None,
        }
    }
}
