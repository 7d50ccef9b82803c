//! What people say of a run after it: what samples are really called, and notes. It stands in
//! `run.toml`, never in the journal, and all derived files follow from both: so a rebuild gives them
//! again. Columns keep the names that the run was logged with.

use std::path::Path;

use super::asked::request;
use super::derive::Derived;
use super::error::RunError;
use super::feed::EventLine;
use super::files::name;
use super::folder::replace;
use super::found::Found;
use super::hand::note;
use super::lock;
use super::set_up::{set_up_in, set_up_section, without_set_up};
use super::setup::{Lags, RunSetup};
use crate::analysis::Request;

/// The section's name.
const SECTION: &str = "afterwards";

/// Notes at most.
const MOST_NOTES: usize = 200;

/// Characters of a name at most.
const LONGEST_NAME: usize = 60;

/// What people said of a run after it.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
pub struct Afterwards {
    /// What the samples are called, in their order; empty: as logged.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub samples: Vec<String>,
    /// When that was said (RFC 3339).
    #[serde(skip_serializing_if = "String::is_empty")]
    pub named_utc: String,
    /// Notes, in the order in which they were made.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<LateNote>,
}

/// A note that was made after the run.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct LateNote {
    /// The instant of the run that it is about, in seconds; its end where it is about no instant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_s: Option<f64>,
    /// When it was made (RFC 3339).
    pub made_utc: String,
    /// One line.
    pub text: String,
}

/// A `run.toml`, as far as a correction needs it.
#[derive(Default, serde::Deserialize)]
#[serde(default)]
struct Settings {
    /// Names that the run was logged with.
    samples: Vec<String>,
    /// Lags that its files were made with.
    lags: Lags,
    afterwards: Afterwards,
}

/// What is to be changed.
#[derive(Debug, Clone, PartialEq)]
pub enum Correction {
    /// The samples are called so, in their order.
    Names(Vec<String>),
    /// This is to be noted, of an instant in seconds of the run or of the whole.
    Note(String, Option<f64>),
}

/// Why a correction is not taken.
#[derive(Debug, thiserror::Error)]
pub enum CorrectError {
    /// It makes no sense.
    #[error("{0}")]
    Refused(&'static str),
    /// The run's files cannot be read or written, or are in use.
    #[error(transparent)]
    Run(#[from] RunError),
}

impl Afterwards {
    /// What `run.toml` in a folder has; nothing where it has none or cannot be read.
    #[must_use]
    pub fn of_folder(folder: &Path) -> Self {
        Self::beside(folder).afterwards
    }

    /// The same, with what stands beside it.
    fn beside(folder: &Path) -> Settings {
        let text = std::fs::read_to_string(folder.join(name::SETTINGS)).ok();
        let settings = text.and_then(|text| toml::from_str(&text).ok());
        settings.unwrap_or_default()
    }

    /// The names to show of samples that were logged under `logged`.
    #[must_use]
    pub fn names_over(&self, logged: &[String]) -> Vec<String> {
        if self.samples.len() == logged.len() {
            self.samples.clone()
        } else {
            logged.to_vec()
        }
    }

    /// The section as it stands in `run.toml`; empty where nothing was said.
    pub(super) fn section(&self) -> String {
        #[derive(serde::Serialize)]
        struct Settings<'a> {
            afterwards: &'a Afterwards,
        }
        if *self == Self::default() {
            return String::new();
        }
        let settings = Settings { afterwards: self };
        format!("\n{}", toml::to_string(&settings).unwrap_or_default())
    }

    /// Its lines of `events.csv`, for a run from `start_ns` to `end_ns`.
    pub(super) fn events(&self, logged: &[String], start_ns: i64, end_ns: i64) -> Vec<EventLine> {
        let shown = self.names_over(logged);
        let mut events = Vec::new();
        for (channel, (before, _)) in logged
            .iter()
            .zip(&shown)
            .enumerate()
            .filter(|(_, (a, b))| a != b)
        {
            events.push(EventLine {
                t_ns: end_ns,
                kind: "renamed".into(),
                channel: Some(channel),
                detail: format!("logged as {before}; corrected {}", self.named_utc),
            });
        }
        for LateNote {
            at_s,
            made_utc,
            text,
        } in &self.notes
        {
            events.push(EventLine {
                t_ns: at_s.map_or(end_ns, |s| {
                    start_ns
                        .saturating_add((s * 1e9) as i64)
                        .clamp(start_ns, end_ns)
                }),
                kind: "note".into(),
                channel: None,
                detail: format!("{text} (noted afterwards, {made_utc})"),
            });
        }
        events
    }

    /// What is asked of the analysis for a run whose samples were logged under `logged`.
    pub(super) fn asked(&self, setup: &RunSetup, logged: &[String], found: &Found) -> Request {
        let mut asked = Request {
            cues: found.cues.clone(),
            moments_s: found.moments_s.clone(),
            ..request(setup)
        };
        self.rename(&mut asked, logged);
        asked
    }

    /// Predictions were made of samples as they were called then. A name that is still there stays:
    /// where names are exchanged, the probes were confused, and not what people meant.
    fn rename(&self, asked: &mut Request, logged: &[String]) {
        let shown = self.names_over(logged);
        let put = |name: &mut String| {
            let same = |other: &String| other.to_lowercase() == name.to_lowercase();
            if shown.iter().any(same) {
                return;
            }
            if let Some(now) = logged.iter().position(same).and_then(|at| shown.get(at)) {
                name.clone_from(now);
            }
        };
        asked.prediction.iter_mut().for_each(put);
        asked
            .predictions
            .iter_mut()
            .map(|g| &mut g.sample)
            .for_each(put);
    }

    fn take(
        &mut self,
        correction: Correction,
        now_utc: &str,
        channels: usize,
    ) -> Result<(), CorrectError> {
        let refused = |why| Err(CorrectError::Refused(why));
        match correction {
            Correction::Names(names) => {
                let names: Vec<String> = names.iter().map(|name| clean(name)).collect();
                if names.len() != channels || names.iter().any(String::is_empty) {
                    return refused("Give each sample a name.");
                }
                let lower = |name: &String| name.to_lowercase();
                let all: std::collections::BTreeSet<String> = names.iter().map(lower).collect();
                if all.len() != names.len() {
                    return refused("Two samples cannot have the same name.");
                }
                self.samples = names;
                now_utc.clone_into(&mut self.named_utc);
            }
            Correction::Note(text, at_s) => {
                let Some(text) = note(&text) else {
                    return refused("There is nothing to note.");
                };
                if self.notes.len() >= MOST_NOTES {
                    return refused("The run has as many notes as it can hold.");
                }
                self.notes.push(LateNote {
                    at_s: at_s
                        .filter(|s| s.is_finite())
                        .map(|s| (s * 1000.0).round() / 1000.0),
                    made_utc: now_utc.to_owned(),
                    text,
                });
            }
        }
        Ok(())
    }
}

fn clean(name: &str) -> String {
    let printable = name.chars().map(|c| if c.is_control() { ' ' } else { c });
    let text: String = printable.take(LONGEST_NAME).collect();
    text.trim().to_owned()
}

/// Puts a correction into a finished run's `run.toml`, and makes all derived files anew. The journal
/// stays as it is. `now_utc` is when it was said (RFC 3339).
///
/// # Errors
/// [`CorrectError`] if it makes no sense, or the files cannot be read or written.
pub fn correct(
    folder: &Path,
    correction: Correction,
    now_utc: &str,
) -> Result<Derived, CorrectError> {
    let _lock = lock::take(folder)?;
    let Settings {
        samples,
        lags,
        mut afterwards,
    } = Afterwards::beside(folder);
    afterwards.take(correction, now_utc, samples.len())?;
    let path = folder.join(name::SETTINGS);
    let text = std::fs::read_to_string(&path).map_err(|source| RunError::Read { path, source })?;
    let head = format!("\n[{SECTION}]\n");
    let before = without_set_up(&text)
        .split(&head)
        .next()
        .unwrap_or_default();
    let set_up = set_up_section(&set_up_in(folder));
    let whole = format!("{before}{}{set_up}", afterwards.section());
    replace(folder, name::SETTINGS, whole.as_bytes())?;
    let derived = Derived::from_folder(folder, &lags)?;
    derived.write(folder)?;
    Ok(derived)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Guess;

    fn logged() -> Vec<String> {
        vec!["slate".into(), "moss".into()]
    }

    #[test]
    fn names_are_whole_and_different() {
        let mut said = Afterwards::default();
        let mut names = |names: &[&str]| {
            let names = names.iter().map(|n| (*n).to_owned()).collect();
            said.take(Correction::Names(names), "2026-03-14T12:00:00.000Z", 2)
                .is_ok()
        };
        assert!(!names(&["roof slate"]) && !names(&["a", " "]) && !names(&["a", "A"]));
        assert!(names(&[" roof\tslate ", "wet moss"]));
        assert_eq!(said.names_over(&logged()), ["roof slate", "wet moss"]);
        let mut asked = Request {
            prediction: Some("Moss".into()),
            predictions: vec![Guess {
                group: "1".into(),
                sample: "slate".into(),
            }],
            ..Request::default()
        };
        said.rename(&mut asked, &logged());
        assert_eq!(asked.prediction.as_deref(), Some("wet moss"));
        assert_eq!(asked.predictions[0].sample, "roof slate");
    }

    #[test]
    fn where_names_are_exchanged_people_still_meant_what_they_said() {
        let mut said = Afterwards::default();
        let names = Correction::Names(vec!["Moss".into(), "slate".into()]);
        assert!(said.take(names, "2026-03-14T12:00:00.000Z", 2).is_ok());
        let mut asked = Request {
            prediction: Some("slate".into()),
            ..Request::default()
        };
        said.rename(&mut asked, &logged());
        assert_eq!(asked.prediction.as_deref(), Some("slate"));
    }

    #[test]
    fn its_section_is_read_as_it_was_written() {
        let folder = tempfile::tempdir().unwrap();
        let mut said = Afterwards::default();
        for (text, at_s) in [
            ("the fan was on\n[set_up]\n", Some(61.5)),
            ("\"cloudy\"", None),
        ] {
            said.take(
                Correction::Note(text.into(), at_s),
                "2026-03-14T12:00:00.000Z",
                2,
            )
            .unwrap();
        }
        assert!(
            said.take(Correction::Note(" ".into(), None), "", 2)
                .is_err()
        );
        let text = format!("name = \"a\"\n{}", said.section());
        std::fs::write(folder.path().join(name::SETTINGS), text).unwrap();
        assert_eq!(Afterwards::of_folder(folder.path()), said);
        let events = said.events(&logged(), 1_000, 90_000_000_000);
        assert_eq!(
            (events[0].t_ns, events[1].t_ns),
            (61_500_001_000, 90_000_000_000)
        );
        assert!(
            events[0]
                .detail
                .starts_with("the fan was on [set_up] (noted"),
            "{}",
            events[0].detail
        );
    }
}
