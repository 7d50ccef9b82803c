//! `[options]`: what stands for options that are not given; `[options.COMMAND]` for one command.
//!
//! The settings become the defaults of the command line's own options, and each option takes the
//! environment variable `DUSKMARK_OPTION` too. So there is one check of a value, wherever it comes
//! from, and clap's own order holds: what was typed, then the environment, then these.

use std::path::Path;

use clap::{Arg, ArgAction, Command, error::ErrorKind};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{Place, places, text_of};
use crate::cli::exit::Failure;

use super::nearest::nearest;

/// Options that say what to do this time; a setting that does it always would be a trap.
const NEVER: [&str; 6] = ["help", "version", "resume", "try", "piece-bytes", "plot"];

/// A value of the settings and where it stands.
#[derive(Debug, Clone)]
struct Setting {
    option: String,
    values: Vec<String>,
    at: usize,
}

/// The command line with the settings and the environment behind it.
///
/// # Errors
/// [`Failure`] with file, line and column of a setting that cannot be used.
pub(in crate::cli) fn applied(mut command: Command) -> Result<Command, Failure> {
    command = with_environment(command);
    // The first place counts most, so it is applied last.
    for path in places().iter().rev() {
        command = with_file(command, path)?;
    }
    Ok(command)
}

/// Each option with its environment variable.
pub(in crate::cli) fn with_environment(command: Command) -> Command {
    let names: Vec<String> = command.get_subcommands().map(name_of).collect();
    names.iter().fold(command, |command, name| {
        with_args(command, name, |arg| match long(&arg) {
            Some(long) if arg.get_env().is_none() => {
                let variable = format!("DUSKMARK_{}", long.replace('-', "_").to_uppercase());
                arg.env(variable).hide_env(true)
            }
            _ => arg,
        })
    })
}

/// Changes the options of a command and of the commands inside it.
fn with_args(command: Command, name: &str, change: impl Fn(Arg) -> Arg) -> Command {
    command.mut_subcommand(name, |sub| {
        let sub = sub.mut_args(&change);
        sub.mut_subcommands(|inner| inner.mut_args(&change))
    })
}

/// A command, and those inside it.
fn with_inner(command: &Command) -> impl Iterator<Item = &Command> {
    std::iter::once(command).chain(command.get_subcommands())
}

fn name_of(command: &Command) -> String {
    command.get_name().to_owned()
}

/// The long name of what is an option and may be set.
fn long(arg: &Arg) -> Option<&str> {
    let settable = matches!(
        arg.get_action(),
        ArgAction::Set | ArgAction::Append | ArgAction::SetTrue
    );
    arg.get_long()
        .filter(|long| settable && !NEVER.contains(long))
}

fn with_file(command: Command, path: &Path) -> Result<Command, Failure> {
    match text_of(path)? {
        Some((text, shown)) => with_text(command, &text, &shown),
        None => Ok(command),
    }
}

/// The command line with a file's text behind it.
pub(super) fn with_text(command: Command, text: &str, shown: &str) -> Result<Command, Failure> {
    let place = Place { text, shown };
    // What is no TOML at all is told with the rest of the file.
    let Ok(whole) = DeTable::parse(text) else {
        return super::Config::parse(text, shown).map(|_| command);
    };
    let Some(options) = whole.get_ref().get("options") else {
        return Ok(command);
    };
    let DeValue::Table(options) = options.get_ref() else {
        return Err(place.wrong(options.span().start, "options is a table", None));
    };
    options.iter().try_fold(command, |command, (key, value)| {
        with_entry(command, key, value, &place)
    })
}

/// One line of `[options]`, or all of `[options.COMMAND]`.
fn with_entry(
    command: Command,
    key: &Spanned<std::borrow::Cow<'_, str>>,
    value: &Spanned<DeValue<'_>>,
    place: &Place<'_>,
) -> Result<Command, Failure> {
    let name = key.get_ref().as_ref();
    let commands: Vec<String> = command.get_subcommands().map(name_of).collect();
    if let DeValue::Table(own) = value.get_ref() {
        if !commands.iter().any(|known| known == name) {
            return Err(unknown(place, key, "command", &commands));
        }
        return own.iter().try_fold(command, |command, (key, value)| {
            let setting = setting(key, value, place)?;
            let known = options_of(&command, |sub| sub.get_name() == name);
            if !known.contains(&setting.option) {
                return Err(unknown(place, key, "key", &known));
            }
            set(command, name, &setting, place)
        });
    }
    let setting = setting(key, value, place)?;
    let known = options_of(&command, |_| true);
    if !known.contains(&setting.option) {
        return Err(unknown(place, key, "key", &known));
    }
    let having = |sub: &&Command| {
        with_inner(sub)
            .flat_map(Command::get_arguments)
            .any(|arg| long(arg) == Some(name_in(key).as_str()))
    };
    let having: Vec<String> = command
        .get_subcommands()
        .filter(having)
        .map(name_of)
        .collect();
    having
        .iter()
        .try_fold(command, |command, name| set(command, name, &setting, place))
}

/// A key as options are written: `full_scale` is `full-scale` too.
fn name_in(key: &Spanned<std::borrow::Cow<'_, str>>) -> String {
    key.get_ref().replace('_', "-")
}

fn unknown(
    place: &Place<'_>,
    key: &Spanned<std::borrow::Cow<'_, str>>,
    what: &str,
    known: &[String],
) -> Failure {
    let name = key.get_ref();
    let advice = match nearest(&name_in(key), known.iter().map(String::as_str)) {
        Some(near) => format!("Did you mean '{near}'?"),
        None => format!("Known here: {}.", known.join(", ")),
    };
    let message = format!("the {what} '{name}' is not known");
    place.wrong(key.span().start, &message, Some(advice))
}

/// Long names of the options that some commands have.
fn options_of(command: &Command, which: impl Fn(&Command) -> bool) -> Vec<String> {
    let of = command.get_subcommands().filter(|sub| which(sub));
    let mut names: Vec<String> = of
        .flat_map(with_inner)
        .flat_map(Command::get_arguments)
        .filter_map(long)
        .map(str::to_owned)
        .collect();
    names.sort();
    names.dedup();
    names
}

fn setting(
    key: &Spanned<std::borrow::Cow<'_, str>>,
    value: &Spanned<DeValue<'_>>,
    place: &Place<'_>,
) -> Result<Setting, Failure> {
    let at = value.span().start;
    let one = |value: &DeValue<'_>| match value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(number) => Some(number.as_str().to_owned()),
        DeValue::Float(number) => Some(number.as_str().to_owned()),
        DeValue::Boolean(yes) => Some(yes.to_string()),
        _ => None,
    };
    let values = match value.get_ref() {
        DeValue::Array(row) => row.iter().map(|value| one(value.get_ref())).collect(),
        value => one(value).map(|value| vec![value]),
    };
    let wrong = || {
        place.wrong(
            at,
            "a text, a number, true or a list of them was expected",
            None,
        )
    };
    Ok(Setting {
        option: name_in(key),
        values: values.ok_or_else(wrong)?,
        at,
    })
}

/// Makes the setting the default of a command's option, once its value has passed the option's own
/// check.
fn set(
    command: Command,
    name: &str,
    setting: &Setting,
    place: &Place<'_>,
) -> Result<Command, Failure> {
    let command = with_args(command, name, |arg| {
        if long(&arg) != Some(setting.option.as_str()) {
            return arg;
        }
        let many =
            matches!(arg.get_action(), ArgAction::Append) && arg.get_value_delimiter().is_none();
        if many {
            arg.default_values(setting.values.clone())
        } else {
            arg.default_value(setting.values.join(","))
        }
    });
    let trials = command.find_subcommand(name).into_iter();
    let refused = trials
        .flat_map(with_inner)
        .filter_map(|trial| trial.clone().try_get_matches_from([name]).err())
        .find(|error| {
            matches!(
                error.kind(),
                ErrorKind::ValueValidation | ErrorKind::InvalidValue | ErrorKind::TooManyValues
            )
        });
    match refused {
        None => Ok(command),
        Some(error) => {
            let text = error.to_string();
            let first = text.lines().next().unwrap_or_default();
            let first = first.strip_prefix("error: ").unwrap_or(first);
            Err(place.wrong(setting.at, first, None))
        }
    }
}
