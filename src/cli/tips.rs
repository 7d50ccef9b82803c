//! What may be meant where a command line is not understood: slips that clap knows nothing of.

use std::ffi::OsString;

use clap::CommandFactory as _;
use clap::error::{ContextKind, ContextValue, ErrorKind};

use super::args::Cli;
use super::config::nearest;

/// What to say beside clap's own words, if anything.
pub(super) fn of(error: &clap::Error, words: &[OsString]) -> Option<String> {
    if !error.use_stderr() {
        return None;
    }
    let words: Vec<String> = words
        .iter()
        .map(|w| w.to_string_lossy().into_owned())
        .collect();
    let dashes = ['–', '—', '−'];
    if let Some(word) = words.iter().find(|w| w.starts_with(dashes)) {
        let bare = word.trim_start_matches(['–', '—', '−', '-']);
        let word = super::text::printable(word);
        let bare = super::text::printable(bare);
        return Some(format!(
            "'{word}' begins with a dash as books print it: type two hyphens, --{bare}."
        ));
    }
    let unknown = matches!(
        error.kind(),
        ErrorKind::UnknownArgument | ErrorKind::InvalidSubcommand
    );
    if !unknown {
        return None;
    }
    if let Some(tip) = command_meant(error) {
        return Some(tip);
    }
    let below_zero = |w: &&String| {
        let digits = w.strip_prefix('-');
        digits.is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit() || c == '.'))
    };
    if let Some(word) = words.iter().find(below_zero) {
        let word = super::text::printable(word);
        let bare = word.trim_start_matches('-');
        return Some(format!(
            "'{word}' is below zero, which nothing can be here: did you mean {bare}?"
        ));
    }
    // A misspelt option is no part of a name; a word that stands alone may be.
    let alone = match error.get(ContextKind::InvalidArg) {
        Some(ContextValue::String(word)) => !word.starts_with('-'),
        _ => true,
    };
    let names = words.iter().any(|w| w == "--samples");
    (alone && names).then(|| {
        "Names of samples are separated by commas without spaces, or all in quotes: \
         --samples 'slate,wet moss'."
            .to_owned()
    })
}

/// The command that a word of a few letters may mean, where clap has no guess.
fn command_meant(error: &clap::Error) -> Option<String> {
    let guessed = error.get(ContextKind::SuggestedSubcommand).is_some();
    let Some(ContextValue::String(word)) = error.get(ContextKind::InvalidSubcommand) else {
        return None;
    };
    let commands = Cli::command();
    let known = commands.get_subcommands().map(clap::Command::get_name);
    let meant = nearest(word, known).filter(|_| !guessed)?;
    Some(format!(
        "There is no command '{}': did you mean {meant}?",
        super::text::printable(word)
    ))
}
