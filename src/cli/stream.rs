//! `stream`: runs as lines of JSON, or to an MQTT broker.

use std::io::{self, BufWriter};
use std::path::PathBuf;

use super::broker::{BrokerArgs, send_to};
use super::exit::{Code, Failure, chain};
use super::newest::newest;
use super::out;
use super::stream_beside::SITE;
use super::text::printable;
use crate::follow::Source;
use crate::outlet::{SCHEMA, Stopped, Stream, StreamError};

#[derive(Debug, clap::Args)]
pub(super) struct StreamArgs {
    /// A run's folder, a folder of runs, or 'last': the newest run of --out
    #[arg(value_name = "RUN|DIR|last", default_value = "last")]
    pub(super) source: PathBuf,
    /// Folder that 'last' looks into
    #[arg(long, value_name = "DIR", default_value = "runs", env = "DUSKMARK_OUT")]
    pub(super) out: PathBuf,
    /// Where the benches stand: on each line, and a level of each topic
    #[arg(long, value_name = "NAME", default_value = SITE, env = "DUSKMARK_SITE")]
    pub(super) site: String,
    /// End when all that is there now is written
    #[arg(long)]
    pub(super) once: bool,
    /// Print the JSON Schema of the lines
    #[arg(long)]
    pub(super) schema: bool,
    #[command(flatten)]
    pub(super) broker: BrokerArgs,
}

pub(super) fn run(args: &StreamArgs, quiet: bool) -> Result<(), Failure> {
    if args.schema {
        out(SCHEMA);
        return Ok(());
    }
    let source = source(args)?;
    match &args.broker.mqtt {
        Some(broker) => send_to(&args.broker, broker, (source, &args.site, args.once), quiet),
        None => to_stdout(args, source),
    }
}

/// What is to be followed.
fn source(args: &StreamArgs) -> Result<Source, Failure> {
    let path = if args.source.as_os_str() == "last" {
        newest(&args.out)?
    } else {
        args.source.clone()
    };
    if path.is_dir() {
        return Ok(Source::of(&path));
    }
    let path = path.display().to_string();
    let message = format!("{} is no folder", printable(&path));
    Err(Failure::new(Code::Failed, message)
        .advise("Give a run's folder, or the folder that holds the runs."))
}

fn to_stdout(args: &StreamArgs, source: Source) -> Result<(), Failure> {
    let mut stream = Stream::new(source, &args.site);
    let mut out = BufWriter::new(io::stdout());
    match stream.run(&mut out, args.once, || false) {
        Ok(Stopped::ReaderGone | Stopped::Done { cut_off: false }) => Ok(()),
        Ok(Stopped::Done { cut_off: true }) => Err(Failure::new(
            Code::Incomplete,
            "the logging of this run had died",
        )
        .advise("'duskmark rebuild' it for what its journal holds.")),
        Err(error @ StreamError::Read { .. }) => Err(Failure::new(Code::Failed, chain(&error))
            .advise("Check that it is there and may be read.")),
        Err(error) => Err(Failure::new(Code::Failed, chain(&error))),
    }
}
