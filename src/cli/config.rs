//! `duskmark.toml`: settings from the working folder, then from the user's own folder.
//!
//! A name that stands in both is taken from the working folder. A key that is not known is an error
//! with its line and column, never passed over: a setting that is silently ignored is a wrong run.

mod lines;
mod nearest;
mod options;
mod plan;

use std::collections::BTreeMap;
use std::io::ErrorKind::{NotADirectory, NotFound, PermissionDenied};
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::exit::{Code, Failure};
use super::text::printable;
pub(in crate::cli) use nearest::nearest;

pub(super) use lines::NamedLines;
pub(super) use options::{applied, with_environment};
pub(super) use plan::NamedPlan;

/// The file's name in either folder.
pub(super) const FILE: &str = "duskmark.toml";

/// Larger files are no settings.
const LARGEST_BYTES: u64 = 1 << 20;

/// What the settings say.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Config {
    /// What stands for options that are not given; `options.rs` reads it.
    options: toml::Table,
    /// Plans by their names.
    pub(super) plan: BTreeMap<String, NamedPlan>,
    /// Ways of writing lines, by their names.
    pub(super) dialect: BTreeMap<String, NamedLines>,
}

/// The part of the settings that has this name, from the first place that has it.
fn find_in<T>(
    name: &str,
    kind: &str,
    places: &[PathBuf],
    part: impl Fn(&mut Config) -> &mut BTreeMap<String, T>,
) -> Result<T, Failure> {
    let mut known = Vec::new();
    for place in places {
        let mut config = Config::read(place)?;
        let mut named = std::mem::take(part(&mut config));
        if let Some(found) = named.remove(name) {
            return Ok(found);
        }
        known.extend(named.into_keys());
    }
    let message = format!("there is no {kind} '{}'", printable(name));
    let advice = match nearest(name, known.iter().map(String::as_str)) {
        Some(near) => format!("Did you mean '{}'?", printable(near)),
        None if known.is_empty() => {
            let places = places.iter().map(|place| place.display().to_string());
            let places: Vec<String> = places.map(|place| printable(&place)).collect();
            format!("Write [{kind}.NAME] in one of: {}.", places.join(", "))
        }
        None => format!("There are: {}.", printable(&known.join(", "))),
    };
    Err(Failure::new(Code::Usage, message).advise(advice))
}

impl Config {
    /// The settings of a file; none at all if there is no such file.
    fn read(path: &Path) -> Result<Self, Failure> {
        match text_of(path)? {
            Some((text, shown)) => Self::parse(&text, &shown),
            None => Ok(Self::default()),
        }
    }

    /// # Errors
    /// [`Failure`] with line, column, and the nearest key that is known.
    fn parse(text: &str, shown: &str) -> Result<Self, Failure> {
        toml::from_str(text).map_err(|error| {
            let (message, advice) = said(error.message());
            let at = error.span().map_or(0, |span| span.start);
            Place { text, shown }.wrong(at, &message, advice)
        })
    }
}

/// What is wrong with a text of settings.
pub(super) fn fault_in(command: clap::Command, text: &str) -> Option<Failure> {
    let applied = options::with_text(command, text, FILE).map(|_| ());
    applied
        .and_then(|()| Config::parse(text, FILE).map(|_| ()))
        .err()
}

/// The text of a file of settings and the file's name for people, if there is such a file.
fn text_of(path: &Path) -> Result<Option<(String, String)>, Failure> {
    let shown = printable(&path.display().to_string());
    let failed = |text: String| Failure::new(Code::Usage, format!("{shown}: {text}"));
    match std::fs::metadata(path) {
        Err(error) if error.kind() == NotFound => return Ok(None),
        Ok(about) if about.len() > LARGEST_BYTES => {
            return Err(failed("it is too large for settings".into()));
        }
        _ => {}
    }
    let text = std::fs::read_to_string(path).map_err(|error| failed(error.to_string()))?;
    Ok(Some((text, shown)))
}

/// A file of settings in which something may be wrong.
#[derive(Debug, Clone, Copy)]
struct Place<'a> {
    text: &'a str,
    shown: &'a str,
}

impl Place<'_> {
    /// What is wrong at a byte, with line and column.
    fn wrong(&self, byte: usize, message: &str, advice: Option<String>) -> Failure {
        let (line, column) = line_and_column(self.text, byte);
        let message = format!("{}:{line}:{column}: {}", self.shown, printable(message));
        let failure = Failure::new(Code::Usage, message);
        match advice {
            Some(advice) => failure.advise(printable(&advice)),
            None => failure,
        }
    }
}

/// What the parser says, in our words where a key is not known.
fn said(message: &str) -> (String, Option<String>) {
    let first_line = printable(message.lines().next().unwrap_or_default());
    if !message.starts_with("unknown field") {
        return (first_line, None);
    }
    // serde sets the key, and then those that it knows, between backticks.
    let mut quoted = message.split('`').skip(1).step_by(2);
    let Some(key) = quoted.next() else {
        return (first_line, None);
    };
    let known: Vec<&str> = quoted.collect();
    let advice = match nearest(key, known.iter().copied()) {
        Some(near) => format!("Did you mean '{near}'?"),
        None => format!("Known here: {}.", known.join(", ")),
    };
    (
        format!("the key '{}' is not known", printable(key)),
        Some(advice),
    )
}

/// Line and column of a byte, both from 1; columns count characters.
fn line_and_column(text: &str, byte: usize) -> (usize, usize) {
    let before = text.get(..byte).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    (line, column)
}

/// Where settings are looked for, the first that counts first.
fn places() -> Vec<PathBuf> {
    let mut places = vec![PathBuf::from(FILE)];
    places.extend(user_folder().map(|folder| folder.join(FILE)));
    places
}

/// Whether a folder is there or could be: one that is closed to us is another user's, such as when a
/// service keeps the `HOME` of who started it.
fn may_be_looked_into(folder: &Path) -> bool {
    !matches!(
        std::fs::metadata(folder.join(FILE)),
        Err(error) if matches!(error.kind(), PermissionDenied | NotADirectory)
    )
}

/// The user's folder for settings, as each system has it.
pub(super) fn user_folder() -> Option<PathBuf> {
    let var = |name: &str| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    let base = if cfg!(windows) {
        var("APPDATA")
    } else if cfg!(target_os = "macos") {
        var("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        var("XDG_CONFIG_HOME").or_else(|| var("HOME").map(|home| home.join(".config")))
    };
    let folder = base.map(|base| base.join("duskmark"));
    folder.filter(|folder| may_be_looked_into(folder))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::parse::Settle;
    use crate::cli::plan_args::Span;

    #[track_caller]
    fn refused(text: &str, message: &str, advice: Option<&str>) {
        let failure = Config::parse(text, "duskmark.toml").unwrap_err();
        assert!(failure.message.contains(message), "{}", failure.message);
        assert_eq!(failure.advice.as_deref(), advice);
    }

    #[test]
    fn a_plan_is_read_as_it_is_written() {
        let text = "[plan.lesson]\nheat = \"10m\"\ncool = \"key\"\nmarks = \"1m\"\ncycles = 2\n\
                    settle = \"off\"\nsamples = [\"slate\", \"moss\"]\n";
        let config = Config::parse(text, "duskmark.toml").unwrap();
        let plan = &config.plan["lesson"];
        assert_eq!(plan.heat, Some(Span::For(600.0)));
        assert_eq!(plan.cool, Some(Span::UntilKey));
        assert_eq!((plan.marks, plan.cycles), (Some(60.0), Some(2)));
        assert_eq!(plan.settle, Some(Settle(None)));
        assert_eq!(plan.samples.as_ref().unwrap().0, ["slate", "moss"]);
    }

    #[test]
    fn errors_name_line_column_and_the_nearest_key() {
        let unknown = "[plan.lesson]\nheat = \"10m\"\n  haet = \"9m\"\n";
        refused(
            unknown,
            "duskmark.toml:3:3: the key 'haet' is not known",
            Some("Did you mean 'heat'?"),
        );
        refused(
            "[plans.a]\n",
            ":1:2: the key 'plans' is not known",
            Some("Did you mean 'plan'?"),
        );
        let far = "Known here: heat, cool, marks, cycles, settle, samples.";
        refused(
            "[plan.a]\ncolour = 1\n",
            ":2:1: the key 'colour'",
            Some(far),
        );
        refused(
            "[plan.a]\nheat = \"10\"\n",
            ":2:8: '10' is no duration: 10m is minutes",
            None,
        );
        refused("[plan.a]\nheat = 10\n", ":2:8: ", None);
        refused(
            "[plan.a]\ncycles = 0\n",
            ":2:10: 0 is not in 1 to 100",
            None,
        );
        refused(
            "[plan.a]\nsamples = [\"a\", \"a\"]\n",
            ":2:11: the name 'a' stands there twice",
            None,
        );
        refused("[plan.a\n", ":1:8: ", None);
    }

    #[test]
    fn the_working_folder_stands_over_the_users() {
        let folder = tempfile::tempdir().unwrap();
        let places = [
            folder.path().join("here.toml"),
            folder.path().join("user.toml"),
        ];
        let find = |name: &str| find_in(name, "plan", &places, |config| &mut config.plan);
        let missing = find("lesson").unwrap_err();
        assert!(missing.advice.unwrap().contains("Write [plan.NAME]"));
        std::fs::write(
            &places[1],
            "[plan.lesson]\nheat = \"5m\"\n[plan.long]\nheat = \"1h\"\n",
        )
        .unwrap();
        std::fs::write(&places[0], "[plan.lesson]\nheat = \"8m\"\n").unwrap();
        let heat = |name: &str| find(name).unwrap().heat;
        assert_eq!(heat("lesson"), Some(Span::For(480.0)));
        assert_eq!(heat("long"), Some(Span::For(3600.0)));
        let near = find("leson").unwrap_err();
        assert_eq!(near.advice.as_deref(), Some("Did you mean 'lesson'?"));
    }
}
