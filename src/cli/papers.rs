//! `completions` and `manual`: what a package puts beside the program, made from the same words
//! that the command line knows.

use std::path::PathBuf;

use clap::{Args, CommandFactory as _};
use clap_complete::Shell;

use super::args::Cli;
use super::exit::{Code, Failure};
use super::{out, say};

#[derive(Debug, Args)]
pub(super) struct CompletionsArgs {
    /// Shell to complete in
    #[arg(value_enum, value_name = "SHELL")]
    shell: Shell,
}

#[derive(Debug, Args)]
pub(super) struct ManualArgs {
    /// Folder for the pages, one for each command
    #[arg(value_name = "DIR")]
    dir: PathBuf,
}

pub(super) fn completions(args: &CompletionsArgs) {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "duskmark", &mut script);
    out(&String::from_utf8_lossy(&script));
}

pub(super) fn manual(args: &ManualArgs, quiet: bool) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        let dir = args.dir.display();
        Failure::new(Code::Failed, format!("no pages written to {dir}: {error}"))
    };
    std::fs::create_dir_all(&args.dir).map_err(failed)?;
    clap_mangen::generate_to(Cli::command(), &args.dir).map_err(failed)?;
    if !quiet {
        say(&format!("manual pages in {}", args.dir.display()));
    }
    Ok(())
}
