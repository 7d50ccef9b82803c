//! `page`: runs of a folder, for browsers.

use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};

use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;

use super::deeds::Deeds;
use super::ends::Ends;
use super::exit::{Code, Failure};
use super::log::runtime;
use super::say;
use super::signals::Signals;
use crate::live::page::{Page, PageError, PageSetup};

#[derive(Debug, clap::Args)]
pub(super) struct PageArgs {
    /// Folder with the runs' folders
    #[arg(value_name = "DIR", default_value = "runs", env = "DUSKMARK_OUT")]
    pub(super) dir: PathBuf,
    /// For the room: others on this network can look, with a code
    #[arg(long)]
    pub(super) share: bool,
    /// Port to listen on, or the first free one of the next twenty; 0 for any
    #[arg(long, default_value_t = 8470)]
    pub(super) port: u16,
}

/// The page beside a run that is logged.
#[derive(Debug, Clone, clap::Args)]
#[command(next_help_heading = "Page")]
pub(super) struct BesideArgs {
    /// A page for the browser of this computer, which shows the run and takes notes
    ///
    /// It stays until Ctrl-C, also when the run is over.
    #[arg(long)]
    page: bool,
    /// The same for the room: others on this network look and predict, with a code
    #[arg(long)]
    share: bool,
    /// Port for the page to listen on, or the first free one of the next twenty; 0 for any
    #[arg(long, value_name = "NUMBER", default_value_t = 8470)]
    page_port: u16,
}

impl BesideArgs {
    /// Starts the page of the runs in `out`, if one was asked for, and the way from it to the session;
    /// tells where it is, unless `quiet`.
    pub(super) fn start(&self, out: &Path, quiet: bool) -> Result<(Option<Page>, Deeds), Failure> {
        if !(self.page || self.share) {
            return Ok((None, Deeds::none()));
        }
        let (deeds, desk) = Deeds::start();
        let setup = PageSetup {
            dir: out.to_owned(),
            port: self.page_port,
            share: self.share,
            desk: Some(desk),
        };
        let page = start(&setup, "--page-port")?;
        if !quiet {
            tell(&page);
        }
        Ok((Some(page), deeds))
    }
}

/// Serves a page on when its run is over, until told to stop; `signals` were listened for all the
/// while, so that none is missed.
pub(super) async fn stay(page: &Page, signals: &mut Signals, ends: &Ends) {
    if ends.finished > 0 && !ends.stopped {
        say(&format!("The page stays at {} until Ctrl-C.", page.here));
        signals.next().await;
    }
}

pub(super) fn run(args: &PageArgs, quiet: bool) -> Result<(), Failure> {
    if !args.dir.is_dir() {
        let dir = args.dir.display().to_string();
        let message = format!("{} is no folder", super::text::printable(&dir));
        return Err(Failure::new(Code::Failed, message)
            .advise("Give the folder that holds the runs, or make a run first: duskmark demo"));
    }
    let setup = PageSetup {
        dir: args.dir.clone(),
        port: args.port,
        share: args.share,
        desk: None,
    };
    let runtime = runtime()?;
    // Listened for before anybody can know that there is a page to end.
    let mut signals = {
        let _within = runtime.enter();
        Signals::new()
    };
    let page = start(&setup, "--port")?;
    if !quiet {
        tell(&page);
        say("Ctrl-C ends it.");
    }
    runtime.block_on(signals.next());
    Ok(())
}

/// Starts a page.
fn start(setup: &PageSetup, option: &str) -> Result<Page, Failure> {
    Page::start(setup).map_err(|error| {
        let failure = Failure::new(Code::Failed, error.to_string());
        match error {
            PageError::Listen { .. } => failure.advise(format!(
                "Choose another with {option}, or {option} 0 for any."
            )),
            _ => failure,
        }
    })
}

/// Says where the page is, and with which codes.
fn tell(page: &Page) {
    say(&format!("The page on this computer: {}", page.here));
    let (Some(there), Some(join), Some(act)) = (&page.there, &page.join, &page.act) else {
        return;
    };
    say(&format!("In this room:              {there}"));
    if page.is_alone {
        say("  This computer is in no network: nobody else can open that. Join one, a phone's");
        say("  hotspot will do, and start again.");
    }
    say(&format!("  the code to look:        {join}"));
    say(&format!("  the teacher's, likewise: {act}"));
    if io::stderr().is_terminal()
        && let Ok(code) = QrCode::new(there.as_bytes())
    {
        let drawing = code.render::<Dense1x2>().quiet_zone(true).build();
        for line in drawing.lines() {
            say(line);
        }
    }
    say("Whoever is on this network and has the code can look. Ask for no names.");
}
