//! What is calibrated: a board that is watched, or a table that was recorded.

use std::path::PathBuf;
use std::time::Duration;

use super::apply::Stock;
use super::args::CommonArgs;
use super::guide::{Guide, Stretch};
use super::listen::{Board, Opened, setup, target};
use super::store::{key, no_key, store, stored};
use super::table;
use crate::calibrate::Calibration;
use crate::cli::exit::{Code, Failure};
use crate::cli::parse::Settle;
use crate::cli::text::printable;
use crate::wire::MAX_CHANNELS;

/// Whose probes, and how their readings come.
pub(super) struct Subject {
    /// The board's name in the store; none where nothing is kept.
    pub(super) board: Option<String>,
    /// How each channel's numbers become temperatures, where it is known.
    pub(super) probes: Vec<Option<String>>,
    pub(super) names: Vec<String>,
    /// Channels that are calibrated, from 0.
    pub(super) channels: Vec<usize>,
    /// Where it is kept; none if it is not.
    pub(super) store: Option<PathBuf>,
    pub(super) guide: Guide,
    pub(super) live: Live,
}

pub(super) enum Live {
    Board(Box<Board>),
    Table(Stretch),
}

impl Subject {
    /// A board that is named, and not looked at: points alone are to be summed up.
    pub(super) fn named(common: &CommonArgs, quiet: bool) -> Result<Self, Failure> {
        let (path, _) = place(common)?;
        let names: Vec<String> = match &common.samples {
            Some(names) => names.0.clone(),
            None => (1..=MAX_CHANNELS).map(|n| format!("probe {n}")).collect(),
        };
        Ok(Self {
            board: common.keep.name.clone(),
            probes: Vec::new(),
            channels: chosen(common, names.len())?,
            names,
            store: path,
            guide: guide(common, quiet),
            live: Live::Table(Stretch::default()),
        })
    }

    /// A board that is looked at to know it, and asked nothing else.
    pub(super) async fn known(common: &CommonArgs, quiet: bool) -> Result<Self, Failure> {
        let (path, before) = place(common)?;
        let guide = Guide {
            ready: true,
            ..guide(common, quiet)
        };
        Self::watch(common, guide, path, &before).await
    }

    /// Opens the board or reads the table. What is stored is read first: a file that cannot be added to
    /// is found out before a bath is made.
    pub(super) async fn open(common: &CommonArgs, quiet: bool) -> Result<Self, Failure> {
        let guide = guide(common, quiet);
        let (path, before) = place(common)?;
        let named = common.keep.name.as_deref();
        match &common.readings {
            Some(file) => {
                let read = table::read(file)?;
                let board = named.map(str::to_owned).or(read.board);
                if board.is_none() && path.is_some() {
                    let message = format!("{} does not say which board it is of", file.display());
                    return Err(Failure::new(Code::Usage, message)
                        .advise("Say it with --as NAME, or only look with --no-store."));
                }
                let names = common.samples.as_ref().map_or(read.names, |n| n.0.clone());
                let channels = chosen(common, names.len())?;
                Ok(Self {
                    board,
                    probes: read.probes,
                    names,
                    channels,
                    store: path,
                    guide,
                    live: Live::Table(read.stretch),
                })
            }
            None => Self::watch(common, guide, path, &before).await,
        }
    }

    async fn watch(
        common: &CommonArgs,
        guide: Guide,
        path: Option<PathBuf>,
        before: &[Calibration],
    ) -> Result<Self, Failure> {
        guide.check()?;
        let target = target(&common.board)?;
        let samples = common
            .samples
            .as_ref()
            .map_or_else(Vec::new, |n| n.0.clone());
        let mut setup = setup(&common.board, &target, samples)?;
        let wait = Duration::from_secs_f64(common.board.wait);
        let opened = Opened::open(target, &setup, wait).await?;
        let sampler = opened.greeting.sampler();
        let named = common.keep.name.as_deref();
        let name = key(named, sampler, &opened.port);
        if name.is_none() && path.is_some() {
            return Err(no_key(&opened.port));
        }
        // Only laws are taken over: what is found is about the bare readings.
        let stock = Stock::of_laws(before, named);
        for text in stock.of_board(&mut setup, sampler, &opened.port).said {
            guide.tell(&text);
        }
        setup.corrections.clear();
        let mut board = opened.begin(setup)?;
        if !guide.ready {
            board.hear_people();
        }
        let count = board.channels();
        let words = |channel| board.sampler.converter().map(|c| c.words(channel));
        let subject = Self {
            probes: (0..count).map(words).collect(),
            names: board.sampler.names(),
            channels: chosen(common, count)?,
            board: name,
            store: path,
            guide,
            live: Live::Board(Box::new(board)),
        };
        let who = subject.board.as_deref().unwrap_or("without a name");
        let count = if count == 1 {
            "1 probe".into()
        } else {
            format!("{count} probes")
        };
        subject
            .guide
            .tell(&format!("Board {}: {count}.", printable(who)));
        Ok(subject)
    }

    /// Readings of a steady bath: says what to do first, or takes them from the end of the table.
    pub(super) async fn bath(&mut self, first: &str) -> Result<Stretch, Failure> {
        let guide = &self.guide;
        match &mut self.live {
            Live::Board(board) => {
                guide.ask(board, first).await?;
                guide.steady(board, &self.channels).await
            }
            Live::Table(all) => table::end_of(all, guide, (&self.channels, &self.names)),
        }
    }

    /// What a channel is called, `slate (channel 1)`.
    pub(super) fn title(&self, channel: usize) -> String {
        let name = self.names.get(channel).map_or("", String::as_str);
        let number = channel + 1;
        if name == format!("probe {number}") || name.is_empty() {
            format!("probe {number}")
        } else {
            format!("{} (probe {number})", printable(name))
        }
    }
}

/// Where it will be kept, and what is there already.
fn place(common: &CommonArgs) -> Result<(Option<PathBuf>, Vec<Calibration>), Failure> {
    let keep = &common.keep;
    if keep
        .name
        .as_deref()
        .is_some_and(|name| name.trim().is_empty())
    {
        return Err(Failure::new(Code::Usage, "the name of --as is empty"));
    }
    // What a virtual board shows is invented, and is not to move anybody's real readings.
    if keep.no_store || keep.store.is_none() && common.board.all_virtual() {
        return Ok((None, Vec::new()));
    }
    let path = store(keep.store.as_deref())?;
    let before = stored(&path)?;
    Ok((Some(path), before))
}

fn guide(common: &CommonArgs, quiet: bool) -> Guide {
    let Settle(limit) = common.settle;
    Guide {
        ready: common.ready,
        quiet,
        // Without a limit any drift will do.
        settle_degc_per_min: limit.unwrap_or(f64::INFINITY),
        time_s: common.time,
        patience_s: common.patience,
    }
}

/// The channels that were named, from 0, or all.
fn chosen(common: &CommonArgs, count: usize) -> Result<Vec<usize>, Failure> {
    let mut channels: Vec<usize> = common
        .channels
        .iter()
        .map(|number| usize::from(*number).saturating_sub(1))
        .collect();
    channels.sort_unstable();
    channels.dedup();
    if let Some(missing) = channels.iter().find(|channel| **channel >= count) {
        let message = format!("there is no probe {}: there are {count}", missing + 1);
        return Err(Failure::new(Code::Usage, message));
    }
    if channels.is_empty() {
        channels = (0..count).collect();
    }
    Ok(channels)
}
