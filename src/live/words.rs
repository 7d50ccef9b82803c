//! What people are told while a run goes on: the same words on the terminal and on the page.

use crate::run::{Cue, Plan, Step};

/// A drift below this is called none, in °C/min: what a hand on the table does is more.
pub const STILL_DEGC_PER_MIN: f64 = 0.05;

/// What is said of a sample that drifts less than [`STILL_DEGC_PER_MIN`]. While steady samples are waited
/// for, whether one is steady is judged over longer, and of all of them together.
#[must_use]
pub fn still(settles: bool) -> &'static str {
    if settles { "hardly drifts" } else { "steady" }
}

/// Where a run stands, as far as people are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Stand {
    /// Logging without a lamp.
    #[default]
    Open,
    /// Before the lamp is asked for.
    Settling,
    /// The lamp was asked for.
    AwaitOn,
    /// The lamp is on.
    Heating,
    /// The lamp was asked off.
    AwaitOff,
    /// The lamp is off again.
    Cooling,
    /// The plan is through.
    Done,
}

impl From<Step> for Stand {
    fn from(step: Step) -> Self {
        match step {
            Step::Open => Self::Open,
            Step::Settling => Self::Settling,
            Step::AwaitOn { .. } => Self::AwaitOn,
            Step::Heating { .. } => Self::Heating,
            Step::AwaitOff { .. } => Self::AwaitOff,
            Step::Cooling { .. } => Self::Cooling,
            Step::Done => Self::Done,
        }
    }
}

impl From<Cue> for Stand {
    fn from(cue: Cue) -> Self {
        match cue {
            Cue::LampOn => Self::AwaitOn,
            Cue::LampOff => Self::AwaitOff,
            Cue::Done => Self::Done,
        }
    }
}

impl Stand {
    /// What is to be done now, if anything.
    #[must_use]
    pub fn to_do(self) -> Option<&'static str> {
        match self {
            Self::AwaitOn => Some("Switch the lamp ON now"),
            Self::AwaitOff => Some("Switch the lamp OFF now"),
            _ => None,
        }
    }

    /// How it stands, as part of a line.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Open => "logging",
            Self::Settling => "waiting for steady samples",
            Self::Heating => "the lamp is on",
            Self::Cooling => "the lamp is off: the samples cool",
            Self::Done => "the plan is through",
            Self::AwaitOn | Self::AwaitOff => "waiting for the lamp",
        }
    }

    /// What is to be done, or how it stands, as a sentence.
    #[must_use]
    pub fn sentence(self) -> String {
        let words = self.to_do().unwrap_or_else(|| self.words());
        let mut letters = words.chars();
        let first = letters.next().map(char::to_uppercase);
        let first: String = first.into_iter().flatten().collect();
        format!("{first}{}.", letters.as_str())
    }

    /// What comes when nobody waits any longer, as part of a line; none where there is nothing to wait
    /// for, or the lamp, which is switched by hand.
    #[must_use]
    pub fn next_step(self, plan: &Plan, cycle: u32) -> Option<&'static str> {
        match self {
            Self::Settling => Some("lamp ON"),
            Self::Heating if plan.heat_until_key => Some("lamp OFF"),
            Self::Cooling if plan.cool_until_key => Some(after_cooling(plan, cycle)),
            _ => None,
        }
    }

    /// Which way the lamp is switched next; none without a lamp, nor after the plan's last cycle.
    #[must_use]
    pub fn next_switch(self, plan: &Plan, cycle: u32) -> Option<&'static str> {
        match self {
            Self::Open | Self::Done => None,
            Self::Cooling if cycle >= plan.cycles() => None,
            Self::Heating | Self::AwaitOff => Some("OFF"),
            Self::Settling | Self::AwaitOn | Self::Cooling => Some("ON"),
        }
    }
}

/// What comes after the cooling of a cycle, counted from 1.
#[must_use]
pub fn after_cooling(plan: &Plan, cycle: u32) -> &'static str {
    if cycle < plan.cycles() {
        "lamp ON"
    } else {
        "end"
    }
}

/// An event's kind; a word that is not listed stands for itself.
#[must_use]
pub fn event(kind: &str) -> &str {
    match kind {
        "cue-lamp-on" => "planned: lamp on",
        "cue-lamp-off" => "planned: lamp off",
        "cue-done" => "the plan is through",
        "lamp-on" => "the lamp went on",
        "lamp-off" => "the lamp went off",
        "hand-mark" | "hand-lamp-on" | "hand-lamp-off" | "hand-go-on" => "by hand",
        "port-open" => "port opened",
        "port-lost" => "port lost",
        "bad-line" => "line not understood",
        "dialect" => "way of speaking",
        "hello" => "the board says",
        "renamed" => "corrected name",
        other => other,
    }
}

/// `1 row`, `2 rows`.
#[must_use]
pub fn counted(n: u64, one: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{n} {one}{plural}")
}

/// `m:ss`, from an hour on `h:mm:ss`, from a day on `d d hh:mm`.
#[must_use]
pub fn clock(s: f64) -> String {
    let sign = if s <= -1.0 { "−" } else { "" };
    let s = s.abs() as u64;
    let (d, h, m) = (s / 86_400, s / 3600, s / 60);
    match s {
        0..3600 => format!("{sign}{m}:{:02}", s % 60),
        3600..86_400 => format!("{sign}{h}:{:02}:{:02}", m % 60, s % 60),
        _ => format!("{sign}{d} d {:02}:{:02}", h % 24, m % 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks_are_read_at_a_glance() {
        for (s, text) in [
            (0.0, "0:00"),
            (59.9, "0:59"),
            (754.0, "12:34"),
            (3600.0, "1:00:00"),
            (-75.0, "−1:15"),
            (1_000_000.0, "11 d 13:46"),
            (-0.4, "0:00"),
        ] {
            assert_eq!(clock(s), text);
        }
    }

    #[test]
    fn one_is_no_more_than_one() {
        let said = [0, 1, 2].map(|n| counted(n, "row"));
        assert_eq!(said, ["0 rows", "1 row", "2 rows"]);
    }

    #[test]
    fn what_is_to_be_done_is_said_in_one_way() {
        let cued = Stand::from(Step::AwaitOn { cued_s: 1.0 });
        assert_eq!(cued.sentence(), "Switch the lamp ON now.");
        assert_eq!(Stand::Settling.sentence(), "Waiting for steady samples.");
    }

    #[test]
    fn the_lamp_is_switched_as_often_as_planned() {
        let twice = Plan {
            cycles: Some(2),
            ..Plan::default()
        };
        let cued = Stand::from(Step::AwaitOn { cued_s: 1.0 });
        for (stand, cycle, next) in [
            (cued, 0, Some("ON")),
            (Stand::Heating, 1, Some("OFF")),
            (Stand::Cooling, 1, Some("ON")),
            (Stand::Heating, 2, Some("OFF")),
            (Stand::Cooling, 2, None),
            (Stand::Open, 0, None),
        ] {
            assert_eq!(stand.next_switch(&twice, cycle), next, "{stand:?} {cycle}");
        }
    }

    #[test]
    fn what_comes_without_waiting_follows_from_the_plan() {
        let by_key = Plan {
            heat_until_key: true,
            cool_until_key: true,
            cycles: Some(2),
            ..Plan::default()
        };
        let timed = Plan::default();
        for (stand, plan, cycle, next) in [
            (Stand::Settling, &timed, 1, Some("lamp ON")),
            (Stand::Heating, &timed, 1, None),
            (Stand::Heating, &by_key, 1, Some("lamp OFF")),
            (Stand::Cooling, &timed, 1, None),
            (Stand::Cooling, &by_key, 1, Some("lamp ON")),
            (Stand::Cooling, &by_key, 2, Some("end")),
            // The lamp is switched by hand, and said to be.
            (Stand::AwaitOn, &by_key, 1, None),
            (Stand::Done, &by_key, 2, None),
        ] {
            assert_eq!(stand.next_step(plan, cycle), next, "{stand:?} {cycle}");
        }
    }
}
