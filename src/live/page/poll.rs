//! What groups predict, as it is shown: how many have spoken while others still may, then what each
//! said, and in the end whether it was right.

use super::results::Results;
use super::seen::Seen;
use crate::analysis::{GroupPrediction, Guess};
use crate::run::MOST_GROUPS;

/// The poll of a run.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize)]
pub(super) struct PollNow {
    /// Groups can still say it, here.
    pub(super) open: bool,
    /// In words; empty where nobody predicted anything.
    pub(super) text: String,
    /// Groups that there are: their numbers go up to this.
    #[serde(skip)]
    pub(super) groups: u8,
}

impl PollNow {
    /// Of a run; `here`: it is logged by this program.
    pub(super) fn of(seen: &Seen, here: bool) -> Self {
        if seen.results.is_some() {
            return Self::of_results(seen.results.as_ref());
        }
        let guesses = &seen.setup.plan.predictions;
        let open = seen.takes_predictions();
        let text = match (open, guesses.len()) {
            (true, 0) if !here => String::new(),
            (true, 0) => "No group has predicted yet.".into(),
            (true, 1) => "1 group has predicted.".into(),
            (true, n) => format!("{n} groups have predicted."),
            (false, _) => told(guesses.iter().map(|guess| (guess, ""))),
        };
        Self {
            open: open && here,
            text,
            groups: seen.setup.plan.groups.unwrap_or(MOST_GROUPS),
        }
    }

    /// Of a finished run.
    pub(super) fn of_results(results: Option<&Results>) -> Self {
        let made = results.map_or(&[][..], Results::predictions);
        let guesses: Vec<(Guess, &str)> = made.iter().map(judged).collect();
        let text = told(guesses.iter().map(|(guess, word)| (guess, *word)));
        Self {
            text,
            ..Self::default()
        }
    }
}

fn judged(made: &GroupPrediction) -> (Guess, &'static str) {
    let word = match made.prediction.right {
        Some(true) => ", right",
        Some(false) => ", not right",
        None => "",
    };
    let guess = Guess {
        group: made.group.clone(),
        sample: made.prediction.sample.clone(),
    };
    (guess, word)
}

/// `Predicted to warm most: slate by 1, 3; moss by group 2.`
fn told<'a>(guesses: impl Iterator<Item = (&'a Guess, &'a str)>) -> String {
    let mut samples: Vec<(&str, &str, Vec<&str>)> = Vec::new();
    for (guess, word) in guesses {
        match samples
            .iter_mut()
            .find(|(sample, ..)| *sample == guess.sample)
        {
            Some((.., groups)) => groups.push(&guess.group),
            None => samples.push((&guess.sample, word, vec![&guess.group])),
        }
    }
    if samples.is_empty() {
        return String::new();
    }
    let part = |(sample, word, groups): &(&str, &str, Vec<&str>)| {
        let plural = if groups.len() > 1 { "groups" } else { "group" };
        format!("{sample} ({plural} {}{word})", groups.join(", "))
    };
    let parts: Vec<String> = samples.iter().map(part).collect();
    format!("Predicted to warm most: {}.", parts.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_stand_beside_what_they_said() {
        let guess = |group: &str, sample: &str| Guess {
            group: group.into(),
            sample: sample.into(),
        };
        let said = [guess("1", "slate"), guess("2", "moss"), guess("3", "slate")];
        assert_eq!(
            told(said.iter().map(|g| (g, ""))),
            "Predicted to warm most: slate (groups 1, 3), moss (group 2)."
        );
        assert_eq!(told([].into_iter()), "");
        let results = Results::of(
            r#"{"comparison":{"predictions":[{"group":"2","sample":"moss","right":false}]}}"#,
        );
        assert_eq!(
            PollNow::of_results(results.as_ref()).text,
            "Predicted to warm most: moss (group 2, not right)."
        );
    }
}
