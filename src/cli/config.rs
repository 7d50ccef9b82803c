//! `duskmark.toml`: settings from the working folder, then from the user's own folder.
//!
//! A name that stands in both is taken from the working folder. A key that is not known is an error
//! with its line and column, never passed over: a setting that is silently ignored is a wrong run.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Deserializer};

use super::duration::parse_positive_s;
use super::exit::{Code, Failure};
use super::parse::{Names, Settle, check_names, parse_settle};
use super::plan_args::{Span, parse_span};
use super::text::printable;

/// The file's name in either folder.
pub(super) const FILE: &str = "duskmark.toml";

/// Larger files are no settings.
const LARGEST_BYTES: u64 = 1 << 20;

/// What the settings say.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Config {
    /// Plans by their names.
    pub(super) plan: BTreeMap<String, NamedPlan>,
}

/// A plan of the settings: `[plan.NAME]`.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct NamedPlan {
    /// `"10m"` or `"key"`.
    #[serde(deserialize_with = "span")]
    pub(super) heat: Option<Span>,
    /// `"10m"` or `"key"`.
    #[serde(deserialize_with = "span")]
    pub(super) cool: Option<Span>,
    /// `"1m"`.
    #[serde(deserialize_with = "seconds")]
    pub(super) marks: Option<f64>,
    /// 1 to 100.
    #[serde(deserialize_with = "cycles")]
    pub(super) cycles: Option<u32>,
    /// `"0.1/min"` or `"off"`.
    #[serde(deserialize_with = "settle")]
    pub(super) settle: Option<Settle>,
    /// Names of the samples in the order of the channels.
    #[serde(deserialize_with = "samples")]
    pub(super) samples: Option<Names>,
}

fn parsed<'de, D: Deserializer<'de>, T>(
    from: D,
    parse: impl Fn(&str) -> Result<T, String>,
) -> Result<Option<T>, D::Error> {
    let text = String::deserialize(from)?;
    parse(&text).map(Some).map_err(serde::de::Error::custom)
}

fn span<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Span>, D::Error> {
    parsed(from, parse_span)
}

fn seconds<'de, D: Deserializer<'de>>(from: D) -> Result<Option<f64>, D::Error> {
    parsed(from, parse_positive_s)
}

fn settle<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Settle>, D::Error> {
    parsed(from, parse_settle)
}

fn cycles<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    let count = i64::deserialize(from)?;
    let in_range = u32::try_from(count).ok().filter(|n| (1..=100).contains(n));
    let wrong = || serde::de::Error::custom(format!("{count} is not in 1 to 100"));
    in_range.map(Some).ok_or_else(wrong)
}

fn samples<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Names>, D::Error> {
    let names = Vec::<String>::deserialize(from)?;
    check_names(names)
        .map(Some)
        .map_err(serde::de::Error::custom)
}

impl NamedPlan {
    /// The plan of this name.
    ///
    /// # Errors
    /// [`Failure`] if there is none, or a file of settings cannot be used.
    pub(super) fn find(name: &str) -> Result<Self, Failure> {
        Self::find_in(name, &places())
    }

    fn find_in(name: &str, places: &[PathBuf]) -> Result<Self, Failure> {
        let mut known = Vec::new();
        for place in places {
            let mut config = Config::read(place)?;
            if let Some(plan) = config.plan.remove(name) {
                return Ok(plan);
            }
            known.extend(config.plan.into_keys());
        }
        let message = format!("there is no plan '{}'", printable(name));
        let advice = match nearest(name, known.iter().map(String::as_str)) {
            Some(near) => format!("Did you mean '{}'?", printable(near)),
            None if known.is_empty() => {
                let places = places.iter().map(|place| place.display().to_string());
                let places: Vec<String> = places.map(|place| printable(&place)).collect();
                format!("Write [plan.NAME] in one of: {}.", places.join(", "))
            }
            None => format!("There are: {}.", printable(&known.join(", "))),
        };
        Err(Failure::new(Code::Usage, message).advise(advice))
    }
}

impl Config {
    /// The settings of a file; none at all if there is no such file.
    fn read(path: &Path) -> Result<Self, Failure> {
        let shown = printable(&path.display().to_string());
        let failed = |text: String| Failure::new(Code::Usage, format!("{shown}: {text}"));
        match std::fs::metadata(path) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Ok(Self::default());
            }
            Ok(about) if about.len() > LARGEST_BYTES => {
                return Err(failed("it is too large for settings".into()));
            }
            _ => {}
        }
        let text = std::fs::read_to_string(path).map_err(|error| failed(error.to_string()))?;
        Self::parse(&text, &shown)
    }

    /// # Errors
    /// [`Failure`] with line, column, and the nearest key that is known.
    fn parse(text: &str, shown: &str) -> Result<Self, Failure> {
        toml::from_str(text).map_err(|error| {
            let (line, column) = place(text, error.span().map_or(0, |span| span.start));
            let (message, advice) = said(error.message());
            let failure = Failure::new(Code::Usage, format!("{shown}:{line}:{column}: {message}"));
            match advice {
                Some(advice) => failure.advise(advice),
                None => failure,
            }
        })
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
fn place(text: &str, byte: usize) -> (usize, usize) {
    let before = text.get(..byte).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    (line, column)
}

/// The word that is a few typing errors away at most.
fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let far = |other: &str| distance(&word.to_lowercase(), &other.to_lowercase());
    let best = known.map(|other| (far(other), other)).min()?;
    (best.0 <= (word.chars().count() / 2).min(2)).then_some(best.1)
}

/// Edit distance with swaps of neighbours (optimal string alignment; Damerau 1964).
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut rows = vec![(0..=b.len()).collect::<Vec<usize>>()];
    let cell = |rows: &Vec<Vec<usize>>, i: usize, j: usize| {
        rows.get(i)
            .and_then(|row| row.get(j))
            .copied()
            .unwrap_or(usize::MAX / 2)
    };
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let left = row.last().copied().unwrap_or(0) + 1;
            let step = cell(&rows, i, j) + usize::from(x != y);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x);
            let swap = if swapped {
                cell(&rows, i - 1, j - 1) + 1
            } else {
                usize::MAX
            };
            row.push(left.min(cell(&rows, i, j + 1) + 1).min(step).min(swap));
        }
        rows.push(row);
    }
    cell(&rows, a.len(), b.len())
}

/// Where settings are looked for, the first that counts first.
fn places() -> Vec<PathBuf> {
    let mut places = vec![PathBuf::from(FILE)];
    places.extend(user_folder().map(|folder| folder.join(FILE)));
    places
}

/// The user's folder for settings, as each system has it.
fn user_folder() -> Option<PathBuf> {
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
    base.map(|base| base.join("duskmark"))
}

#[cfg(test)]
mod tests {
    use super::*;

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
            ":2:8: '10' is no duration",
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
        let missing = NamedPlan::find_in("lesson", &places).unwrap_err();
        assert!(missing.advice.unwrap().contains("Write [plan.NAME]"));
        std::fs::write(
            &places[1],
            "[plan.lesson]\nheat = \"5m\"\n[plan.long]\nheat = \"1h\"\n",
        )
        .unwrap();
        std::fs::write(&places[0], "[plan.lesson]\nheat = \"8m\"\n").unwrap();
        let heat = |name: &str| NamedPlan::find_in(name, &places).unwrap().heat;
        assert_eq!(heat("lesson"), Some(Span::For(480.0)));
        assert_eq!(heat("long"), Some(Span::For(3600.0)));
        let near = NamedPlan::find_in("leson", &places).unwrap_err();
        assert_eq!(near.advice.as_deref(), Some("Did you mean 'lesson'?"));
    }

    #[test]
    fn distances_count_typing_errors() {
        for (a, b, far) in [
            ("heat", "heat", 0),
            ("haet", "heat", 1),
            ("het", "heat", 1),
            ("", "abc", 3),
        ] {
            assert_eq!(distance(a, b), far, "{a} {b}");
        }
    }
}
