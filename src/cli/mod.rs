//! The command line: the only room that knows clap, words for people, and exit codes.

mod advice;
mod analyse;
mod args;
mod ask;
mod asked;
mod bench;
mod board_args;
mod boards;
mod broker;
mod budget;
mod calibrate;
mod class;
mod config;
mod deeds;
mod demo;
mod duration;
mod ends;
mod exit;
mod export;
mod guard;
mod input;
mod keys;
mod log;
mod newest;
mod odd;
mod page;
mod papers;
mod parse;
mod parts;
mod plan_args;
mod planning;
mod pretended;
mod probes;
mod quantity;
mod rebuild;
mod report;
mod results;
mod screen;
mod service;
mod session;
mod sheet;
mod signals;
mod source;
mod status;
mod stream;
mod stream_beside;
mod target;
mod text;
mod tips;
mod try_lines;
mod view;
mod view_text;
mod wiring;

use std::ffi::OsString;
use std::io::{self, IsTerminal as _, Write as _};
use std::process::ExitCode;
use std::sync::OnceLock;

use clap::{CommandFactory as _, FromArgMatches as _};
use tracing_subscriber::EnvFilter;

use args::{Cli, Command};
use exit::{Code, Failure};

/// Runs the program with the words of a command line, the first being its own name.
///
/// Exit codes: 0 done; 1 failed; 2 usage; 3 no board found, or its port is busy or denied;
/// 4 finished, but data are missing.
#[must_use]
pub fn main<I>(words: I) -> ExitCode
where
    I: IntoIterator,
    I::Item: Into<OsString> + Clone,
{
    // Settings that cannot be used stop whatever was asked for, but not `--help`.
    let (command, trouble) = match config::applied(Cli::command()) {
        Ok(command) => (command, None),
        Err(failure) => (config::with_environment(Cli::command()), Some(failure)),
    };
    let words: Vec<OsString> = words.into_iter().map(Into::into).collect();
    let cli = match command
        .try_get_matches_from(&words)
        .and_then(|found| Cli::from_arg_matches(&found))
    {
        Ok(cli) => cli,
        Err(error) => {
            let _ = error.print();
            if let Some(tip) = tips::of(&error, &words) {
                say(&format!(
                    "\n  {}",
                    text::wrapped_within(&tip, 77).trim_end()
                ));
            }
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2));
        }
    };
    start_tracing(cli.verbose, cli.quiet);
    // What a run logged is in its folder, whoever reads what it says.
    let is_kept = matches!(cli.command, Command::Log(_));
    let result = trouble.map_or_else(|| run(cli.command, cli.quiet), Err);
    let result = result.and_then(|()| if is_kept { Ok(()) } else { all_told() });
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            print_failure(&failure);
            failure.code.into()
        }
    }
}

fn run(command: Command, quiet: bool) -> Result<(), Failure> {
    match command {
        Command::Demo(args) => demo::run(&args, quiet),
        Command::Boards(args) => boards::run(&args, quiet),
        Command::Calibrate(args) => calibrate::run(&args, quiet),
        Command::Log(args) => log::run(&args, quiet),
        Command::Rebuild(args) => rebuild::run(&args, quiet),
        Command::Analyse(args) => analyse::run(&args, quiet),
        Command::Report(args) => report::run(&args, quiet),
        Command::Sheet(args) => sheet::run(&args, quiet),
        Command::Class(args) => class::run(&args, quiet),
        Command::Page(args) => page::run(&args, quiet),
        Command::Stream(args) => stream::run(&args, quiet),
        Command::Export(args) => export::run(&args, quiet),
        Command::Completions(args) => {
            papers::completions(&args);
            Ok(())
        }
        Command::Manual(args) => papers::manual(&args, quiet),
    }
}

fn start_tracing(verbose: u8, quiet: bool) {
    let level = match (quiet, verbose) {
        (true, _) => "error",
        (false, 0) => "warn",
        (false, 1) => "info",
        (false, 2) => "debug",
        (false, _) => "trace",
    };
    let filter = EnvFilter::try_from_env("DUSKMARK_LOG").unwrap_or_else(|_| EnvFilter::new(level));
    let by_people = io::stderr().is_terminal();
    let colour = by_people && std::env::var_os("NO_COLOR").is_none();
    let told = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(|| screen::Errors)
        .with_ansi(colour)
        .with_target(!by_people);
    // A second start in one process (tests) keeps the first. Who reads it at once knows what time it is.
    let _ = if by_people {
        told.without_time().try_init()
    } else {
        told.try_init()
    };
}

/// What is wrong with the text of a `duskmark.toml`; for the fuzzers in `tests/fuzz`.
#[doc(hidden)]
#[must_use]
pub fn settings_fault(text: &str) -> Option<String> {
    let fault = config::fault_in(Cli::command(), text)?;
    Some(fault.message)
}

/// Why results did not reach standard output, if they did not.
static UNTOLD: OnceLock<io::Error> = OnceLock::new();

/// Results, to standard output. A closed pipe is no error: who reads has read enough.
fn out(text: &str) {
    let mut stdout = io::stdout();
    let written = stdout
        .write_all(text.as_bytes())
        .and_then(|()| stdout.flush());
    if let Err(error) = written
        && error.kind() != io::ErrorKind::BrokenPipe
    {
        let _ = UNTOLD.set(error);
    }
}

/// A failure where all went well but for results that could not be written.
fn all_told() -> Result<(), Failure> {
    let told = |error| {
        let message = format!("standard output cannot be written: {error}");
        Err(Failure::new(Code::Failed, message)
            .advise("The results are not all there: make room, or send them elsewhere."))
    };
    UNTOLD.get().map_or(Ok(()), told)
}

/// Progress and messages, to standard error.
fn say(text: &str) {
    // Whatever a file or a board put into a message, no control character reaches the terminal.
    for line in text.lines() {
        screen::say(&text::printable(line));
    }
}

/// What failed, and what to do next.
fn print_failure(failure: &Failure) {
    if failure.message.is_empty() {
        return;
    }
    // A terminal would cut words; a file or another program keeps the line whole.
    let folded = |text: String| {
        if io::stderr().is_terminal() {
            text::wrapped_within(&text, 77).trim_end().to_owned()
        } else {
            text
        }
    };
    say(&folded(format!("duskmark: {}", failure.message)));
    if let Some(advice) = &failure.advice {
        say(&format!("  {}", folded(advice.clone())));
    }
}
