//! What groups predict while a run waits for the lamp, as records of the journal: `3=moss`. A group
//! is a number; nobody's name is asked.

use super::step::Step;
use crate::analysis::Guess;
use crate::journal::{Kind, Record};

/// Groups of a class at most.
pub const MOST_GROUPS: u8 = 20;

/// What became of a prediction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Predicted {
    /// It is kept: the group's first.
    First,
    /// It is kept, and takes the place of what the group, or another that gave its number, had said.
    Again,
    /// There is no such sample, or no group of that number.
    Unknown,
    /// The lamp is on: nothing is taken any more.
    Closed,
}

/// The payload of a record.
pub(super) fn payload(group: u8, sample: &str) -> String {
    format!("{group}={sample}")
}

/// What a record tells.
pub(super) fn of_record(record: &Record) -> Option<Guess> {
    if record.kind != Kind::Predict {
        return None;
    }
    let text = record.text();
    // A group's number holds no sign of equality; a sample's name may.
    let (group, sample) = text.split_once('=')?;
    let number: u8 = group.parse().ok()?;
    (1..=MOST_GROUPS).contains(&number).then(|| Guess {
        group: number.to_string(),
        sample: sample.to_owned(),
    })
}

/// Takes a prediction in: the last that a group gives stands, also over one that was given with the
/// plan. Groups stand in the order of their numbers.
pub fn take(guesses: &mut Vec<Guess>, guess: Guess) {
    guesses.retain(|before| before.group != guess.group);
    guesses.push(guess);
    guesses.sort_by_key(|guess| guess.group.parse().unwrap_or(u32::MAX));
}

/// Whether predictions are still taken: until the lamp goes on for the first time.
pub(super) fn is_open(step: Step, cycle: u32) -> bool {
    cycle == 1 && matches!(step, Step::Settling | Step::AwaitOn { .. })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(text: &str) -> Record {
        Record {
            t_ns: 1,
            port: 0,
            kind: Kind::Predict,
            payload: text.into(),
        }
    }

    #[test]
    fn the_last_word_of_each_group_stands() {
        let mut guesses = vec![Guess {
            group: "2".into(),
            sample: "slate".into(),
        }];
        for (group, sample) in [(10, "slate"), (2, "a=b"), (1, "moss"), (10, "moss")] {
            take(
                &mut guesses,
                of_record(&record(&payload(group, sample))).unwrap(),
            );
        }
        let pairs: Vec<_> = guesses.iter().map(|g| (&*g.group, &*g.sample)).collect();
        assert_eq!(pairs, [("1", "moss"), ("2", "a=b"), ("10", "moss")]);
    }

    #[test]
    fn a_group_is_a_number_and_nothing_else() {
        for text in [
            "", "moss", "=moss", "0=moss", "21=moss", "Ada=moss", "256=moss",
        ] {
            assert_eq!(of_record(&record(text)), None, "{text}");
        }
        let note = Record {
            kind: Kind::Note,
            ..record("1=moss")
        };
        assert_eq!(of_record(&note), None);
    }

    #[test]
    fn it_is_closed_when_the_lamp_goes_on() {
        assert!(is_open(Step::Settling, 1) && is_open(Step::AwaitOn { cued_s: 1.0 }, 1));
        assert!(!is_open(Step::AwaitOn { cued_s: 1.0 }, 2));
        let lit = Step::Heating {
            since_s: 1.0,
            presumed: false,
        };
        assert!(!is_open(lit, 1) && !is_open(Step::Open, 1) && !is_open(Step::Done, 1));
    }
}
