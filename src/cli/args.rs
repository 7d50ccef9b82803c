//! The words of the command line. What was typed, no more: looking at the world comes after.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use super::asked::{AskArgs, LangArgs, PictureArgs, ReadArgs};
use super::board_args::BoardArgs;
use super::duration::parse_duration_s;
use super::parse::{parse_rate, parse_sync, split_names};
use super::plan_args::PlanArgs;
use crate::run::SyncEvery;

/// Logs DIY temperature probes: both samples at one timestamp, lamp edges found, clean CSV.
#[derive(Debug, Parser)]
#[command(
    name = "duskmark",
    version,
    max_term_width = 80,
    arg_required_else_help = true
)]
#[command(after_help = "\
Examples:
  duskmark demo                  the whole lesson, no hardware needed
  duskmark boards                what is plugged in, and what it says
  duskmark log --samples slate,moss --heat 10m --cool 10m --marks 1m

The lamp gets hot and hangs beside water: use a guard, keep paper, cloth and
the mains lead away, use an RCD/GFCI outlet, never leave a lit lamp alone.
Follow your school's and local rules; electrical work is for licensed people.")]
pub(super) struct Cli {
    #[command(subcommand)]
    pub(super) command: Command,
    /// Say less (only errors)
    #[arg(short, long, global = true, display_order = 900)]
    pub(super) quiet: bool,
    /// Say more (repeat for still more)
    #[arg(short, long, global = true, display_order = 901, action = clap::ArgAction::Count)]
    pub(super) verbose: u8,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// The whole lesson on a virtual bench, no hardware, in seconds
    #[command(after_help = "Example:\n  duskmark demo")]
    Demo(DemoArgs),
    /// What is plugged in, what it says, what is wrong with it
    #[command(
        after_help = "Examples:\n  duskmark boards\n  duskmark boards --board virtual\n  duskmark boards --try 'slate=24.9 moss=23.3'"
    )]
    Boards(BoardsArgs),
    /// Probes that agree: match in one bath, ice and boiling point, constants, lag
    #[command(after_help = "\
Examples:
  duskmark calibrate match            both probes in one bath: do they agree?
  duskmark calibrate ice --channel 1
  duskmark calibrate boil --pressure 987hPa
  duskmark calibrate show

Water beside mains, ice and boiling water: an adult, a cable that leads away from
the plate, an RCD/GFCI outlet, dry hands; your school's rules come first.")]
    Calibrate(Box<super::calibrate::CalibrateArgs>),
    /// Run a plan, or log unattended
    #[command(after_help = "\
Examples:
  duskmark log --samples slate,moss --heat 10m --cool 10m --marks 1m
  duskmark log --plan lesson          as duskmark.toml names it
  duskmark log --heat 10m --share     with a page for the class to look at
  duskmark log --for 14d              unattended, by a window
  duskmark log --board virtual:speed=60 --heat 5m --cool 5m
  duskmark log --resume last          goes on after a crash or a power cut

Ctrl-C ends a run cleanly. Cautions: hot lamp, use a guard; mains lead away from
water, RCD/GFCI outlet; never leave a lit lamp alone; local rules come first.")]
    Log(Box<LogArgs>),
    /// Derive everything again from the journal; mends a run that was cut off
    #[command(after_help = "Example:\n  duskmark rebuild runs/*")]
    Rebuild(RebuildArgs),
    /// Edges, marks, fits, comparison of a run or any CSV with a time column
    #[command(
        alias = "analyze",
        after_help = "\
Examples:
  duskmark analyse runs/*
  duskmark analyse --marks 2m hand-timed.csv      a table that people wrote
  duskmark analyse -v --worksheet 'Bench 3' class.xlsx"
    )]
    Analyse(AnalyseArgs),
    /// Graph, page to print and workbook of a run or table
    #[command(after_help = "\
Examples:
  duskmark report runs/*
  duskmark report --lang de --sample-mass 250g,180g --lamp-distance 30cm runs/*
  duskmark report --marks 2m hand-timed.csv      of a table of your own")]
    Report(super::report::ReportArgs),
    /// Student sheet to print: blank for a plan, or the answer key from a run
    #[command(after_help = "\
Examples:
  duskmark sheet --samples slate,moss --heat 10m --cool 10m --marks 1m
  duskmark sheet --lang fr runs/*-demo          the answer key of a run")]
    Sheet(super::sheet::SheetArgs),
    /// All benches of a class: one table, one picture, pooled values with their spread
    #[command(after_help = "\
Examples:
  duskmark class runs/*
  duskmark class --out class-7b runs/* hand-timed.csv

Writes class.html, class.xlsx, class.svg, class.png and class.json. Exit 4: an input could not
be read; the others came out.")]
    Class(ClassArgs),
    /// A page for browsers: runs of a folder, going on and finished
    #[command(after_help = "\
Examples:
  duskmark page
  duskmark page runs --share

Without --share the page is for this computer alone. With it, others on the same
network can look, once they have given the code that is shown here.")]
    Page(super::page::PageArgs),
    /// Rows and events as lines of JSON, or to an MQTT broker
    #[command(after_help = "\
Examples:
  duskmark stream last | head -3
  duskmark stream --mqtt localhost runs
  duskmark stream --mqtt localhost --user bench --password-file ~/.broker runs

A run is followed to its end, a folder of runs until Ctrl-C (or --once). Whoever
reads slowly or not at all holds up nothing that is logged. --schema prints the
JSON Schema of the lines. Exit 4: the logging of the run had died.")]
    Stream(super::stream::StreamArgs),
    /// Runs as Parquet tables for query engines, or as CSV in long form
    #[command(after_help = "\
Examples:
  duskmark export --site hill-school runs/*
  duskmark export --csv --out csv-of-7b runs/*

Writes readings, marks and samples, each partitioned by site, date and bench.
A run that is exported again replaces itself. Exit 4: a run could not be exported;
the others came out.")]
    Export(super::export::ExportArgs),
    /// Print the script that lets a shell complete commands and options
    #[command(after_help = "\
Examples:
  eval \"$(duskmark completions bash)\"        for this shell, until it is closed
  duskmark completions fish > duskmark.fish    for its folder of completions")]
    Completions(super::papers::CompletionsArgs),
    /// Write manual pages
    #[command(after_help = "Example:\n  duskmark manual ~/.local/share/man/man1")]
    Manual(super::papers::ManualArgs),
}

#[derive(Debug, Args)]
pub(super) struct DemoArgs {
    /// Folder for the run's folder
    #[arg(long, value_name = "DIR", default_value = "runs", env = "DUSKMARK_OUT")]
    pub(super) out: PathBuf,
    /// Seed of the virtual bench: same seed, same data
    #[arg(long, default_value_t = 1)]
    pub(super) seed: u64,
    /// A fortnight by a window at one row a minute, instead of the lesson
    #[arg(long)]
    pub(super) fortnight: bool,
    /// Name of the sample that is predicted to warm more
    #[arg(long, value_name = "NAME")]
    pub(super) prediction: Option<String>,
    /// The run alone, without report, answer key and class
    #[arg(long)]
    pub(super) run_only: bool,
    /// Date and time that the run pretends to begin at (RFC 3339; default now)
    #[arg(long, value_name = "TIME")]
    pub(super) began: Option<String>,
    /// Print the result as JSON, and one object per file beside it
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) lang: LangArgs,
    #[command(flatten)]
    pub(super) lags: LagArgs,
}

#[derive(Debug, Args)]
pub(super) struct BoardsArgs {
    /// Say how this line would be read, without a board (repeat for several lines)
    #[arg(
        long = "try",
        value_name = "LINE",
        id = "try_line",
        allow_hyphen_values = true
    )]
    pub(super) try_line: Vec<String>,
    /// Print each probe's uncertainty budget, from some seconds of readings
    #[arg(long)]
    pub(super) budget: bool,
    /// First-order lag of the probes, for the budget; one for all or one each like 6s,4s
    #[arg(long, value_name = "TIMES", requires = "budget", value_delimiter = ',', value_parser = parse_duration_s)]
    pub(super) probe_lag: Option<Vec<f64>>,
    /// How fast the temperature moves, for the budget, like 2/min (°C; default: as seen)
    #[arg(long, value_name = "RATE", requires = "budget", value_parser = parse_rate)]
    pub(super) rate: Option<f64>,
    /// Print one JSON object per board
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) board: BoardArgs,
    #[command(flatten)]
    pub(super) calibration: super::calibrate::CalibrationArgs,
}

#[derive(Debug, Args)]
pub(super) struct LogArgs {
    /// Names of the samples in the order of the probes
    #[arg(long, value_name = "NAMES", value_parser = split_names)]
    pub(super) samples: Option<super::parse::Names>,
    /// All boards make one bench: one table on one grid of instants
    ///
    /// Values are interpolated in time between each board's own rows, never across a pause
    /// longer than 2.5 of its intervals; every row is flagged `interpolated`.
    #[arg(long)]
    pub(super) together: bool,
    /// Name of the run
    #[arg(long)]
    pub(super) name: Option<String>,
    /// Folder for the run's folder
    #[arg(long, value_name = "DIR", default_value = "runs", env = "DUSKMARK_OUT")]
    pub(super) out: PathBuf,
    /// Longest time that a power cut may cost, or 'row' for nothing that was written
    #[arg(long, value_name = "TIME|row", default_value = "1s", value_parser = parse_sync)]
    pub(super) sync: SyncEvery,
    /// Go on with this run in its own folder, by its own plan; 'last': with the newest
    /// one of this name that is not through, or a new one (repeat for several benches)
    #[arg(long, value_name = "RUN|last")]
    pub(super) resume: Vec<PathBuf>,
    /// Bytes after which the journal goes on in another file
    #[arg(long, value_name = "BYTES", hide = true, value_parser = clap::value_parser!(u64).range(1..))]
    pub(super) piece_bytes: Option<u64>,
    /// What to show while it runs: the view on a terminal (elsewhere a line per mark),
    /// a line per mark, or nothing but what to do with the lamp
    #[arg(long, value_enum, default_value = "auto")]
    pub(super) view: ViewArg,
    /// Sound the terminal's bell when the lamp is to be switched
    #[arg(long)]
    pub(super) bell: bool,
    /// Print the summary as JSON at the end
    #[arg(long)]
    pub(super) json: bool,
    /// Write rows and events to standard output as lines of JSON meanwhile ('duskmark
    /// stream --schema' describes them); a slow reader holds up nothing
    #[arg(long, value_name = "-", value_parser = ["-"], conflicts_with = "json")]
    pub(super) stream: Option<String>,
    #[command(flatten)]
    pub(super) page: super::page::BesideArgs,
    #[command(flatten)]
    pub(super) plan: PlanArgs,
    #[command(flatten)]
    pub(super) board: BoardArgs,
    #[command(flatten)]
    pub(super) calibration: super::calibrate::CalibrationArgs,
    #[command(flatten)]
    pub(super) lags: LagArgs,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum ViewArg {
    Auto,
    Plain,
    Off,
}

/// Lags that are known; the ones that are not get a stated prior.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Lags")]
pub(super) struct LagArgs {
    /// First-order lag of the probes, one for all or one each like 6s,4s (0s: none)
    #[arg(long, value_name = "TIMES", value_delimiter = ',', value_parser = parse_duration_s)]
    pub(super) probe_lag: Option<Vec<f64>>,
    /// First-order lag of the lamp's own warm-up (0s: none)
    #[arg(long, value_name = "TIME", value_parser = parse_duration_s)]
    pub(super) lamp_lag: Option<f64>,
}

#[derive(Debug, Args)]
pub(super) struct RebuildArgs {
    /// Folders of runs
    #[arg(required = true, value_name = "RUN")]
    pub(super) runs: Vec<PathBuf>,
    /// Print one JSON object per run
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) lags: LagArgs,
}

#[derive(Debug, Args)]
pub(super) struct AnalyseArgs {
    /// Run folders, or tables with a time column (CSV, .xlsx, .ods)
    #[arg(required = true, value_name = "FILE|RUN")]
    pub(super) inputs: Vec<PathBuf>,
    /// Print one JSON object per input
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) ask: AskArgs,
}

#[derive(Debug, Args)]
pub(super) struct ClassArgs {
    /// Run folders, or tables with a time column (CSV, .xlsx, .ods); one bench each
    #[arg(required = true, value_name = "RUN|FILE")]
    pub(super) inputs: Vec<PathBuf>,
    /// Folder for the class's files (default: class-DATE in this folder)
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// What the class is called, on its page and in its workbook (default: "Class", in their
    /// language)
    #[arg(long)]
    pub(super) name: Option<String>,
    /// Print the class as one JSON object
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) lang: LangArgs,
    #[command(flatten)]
    pub(super) read: ReadArgs,
    #[command(flatten)]
    pub(super) look: PictureArgs,
}
