//! Going on with a run in its own folder, after a crash, a power cut or an end.
//!
//! Within one start of the computer the boot clock has gone on, and so does the run's time. After a
//! restart the boot clock counts from anew: the time that passed is known by the wall clock alone,
//! and the event says how far that can be trusted.

use std::path::Path;

use super::begun::{Begun, begun};
use super::course::Course;
use super::derive::Derived;
use super::error::RunError;
use super::files::name;
use super::setup::Lags;
use super::step::Step;
use crate::journal::{FolderShelf, Item, JournalError, Kind, Pieces, Place, Record};

/// The run's clock goes on by at least so much.
const LEAST_NS: i64 = 1_000_000;

/// A mapping of boot clock to wall clock is kept while it is right to within this.
const WALL_S: f64 = 0.05;

/// What the record `resume` holds.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub(super) struct Resumed {
    /// The start of the computer that the times after this belong to.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) boot: Option<String>,
    /// From that start's boot clock to the run's clock, in ns.
    pub(super) shift_ns: i64,
    /// Time since the last record before, in seconds.
    pub(super) gap_s: f64,
    /// How the gap's length is known.
    pub(super) by: By,
}

/// How the time that passed is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum By {
    /// The boot clock went on.
    BootClock,
    /// The computer was restarted: by its wall clock.
    WallClock,
    /// The wall clock stands before the last record: it is not known.
    Unknown,
}

impl Resumed {
    /// What a record states.
    pub(super) fn of(record: &Record) -> Option<Self> {
        (record.kind == Kind::Resume).then(|| serde_json::from_slice(&record.payload).ok())?
    }

    /// In words, for `events.csv`.
    pub(super) fn detail(&self) -> String {
        let gap_s = self.gap_s;
        match self.by {
            By::BootClock => format!("the run goes on {gap_s:.3} s after its last record"),
            By::WallClock => format!(
                "the run goes on {gap_s:.1} s after its last record; the computer was restarted, \
                 and elapsed_s goes on by its wall clock, within {:.1} s if that clock was right \
                 before and after",
                2.0 * WALL_S
            ),
            By::Unknown => "the run goes on; the computer was restarted and its wall clock stands \
                before the last record: how long the gap was is not known, and elapsed_s goes on \
                without it"
                .into(),
        }
    }
}

/// All that is needed to go on.
#[derive(Debug)]
pub(super) struct GoOn {
    pub(super) course: Course,
    pub(super) last: Place,
    pub(super) shift_ns: i64,
    /// The first record of what follows.
    pub(super) record: Record,
}

/// Follows the journal in `folder` to its end.
///
/// # Errors
/// [`RunError`] if it cannot be read, or its plan is through.
pub(super) fn prepare(
    folder: &Path,
    now_ns: i64,
    wall_ns: i64,
    boot: Option<&str>,
) -> Result<GoOn, RunError> {
    let path = folder.join(super::JOURNAL);
    let failed = |source: JournalError| RunError::Journal {
        path: path.clone(),
        source,
    };
    let Begun {
        mut pieces,
        setup,
        start_ns,
    } = begun(folder)?;
    let mut course = Course::new(&setup, start_ns);
    let (last_boot, last_shift_ns) = follow(&mut pieces, &mut course).map_err(failed)?;
    if course.conductor.step() == Step::Done {
        return Err(RunError::Through {
            folder: folder.to_owned(),
        });
    }
    let same_boot = boot.is_some() && last_boot.as_deref() == boot;
    let ahead_ns = course.feed.time.wall.ahead_ns();
    let least_ns = course.last_ns + LEAST_NS;
    let (by, t_ns) = match ahead_ns {
        _ if same_boot && now_ns + last_shift_ns >= least_ns => {
            (By::BootClock, now_ns + last_shift_ns)
        }
        Some(ahead_ns) if wall_ns - ahead_ns >= least_ns => (By::WallClock, wall_ns - ahead_ns),
        _ => (By::Unknown, least_ns),
    };
    let resumed = Resumed {
        boot: boot.map(str::to_owned),
        shift_ns: t_ns - now_ns,
        gap_s: (t_ns - course.last_ns) as f64 / 1e9,
        by,
    };
    Ok(GoOn {
        last: pieces.end(),
        course,
        shift_ns: resumed.shift_ns,
        record: Record {
            t_ns,
            port: 0,
            kind: Kind::Resume,
            payload: serde_json::to_vec(&resumed).unwrap_or_default(),
        },
    })
}

/// Follows the rest of a journal; gives the start of the computer that its last times belong to, and
/// from that start's boot clock to the run's clock.
fn follow(
    pieces: &mut Pieces<FolderShelf>,
    course: &mut Course,
) -> Result<(Option<String>, i64), JournalError> {
    let (mut boot, mut shift_ns) = (None, 0);
    while let Some(item) = pieces.next_item()? {
        let Item::Record(record) = item else {
            course.cut();
            continue;
        };
        if record.kind == Kind::Boot {
            boot = Some(record.text());
        } else if let Some(resumed) = Resumed::of(&record) {
            boot = resumed.boot;
            shift_ns = resumed.shift_ns;
        }
        course.replay(&record);
    }
    Ok((boot, shift_ns))
}

/// Makes the derived files anew, so that what follows is appended to whole ones.
///
/// # Errors
/// [`RunError`] if they cannot be written.
pub(super) fn mend(folder: &Path, course: &mut Course) -> Result<(), RunError> {
    let derived = Derived::from_folder(folder, &Lags::default())?;
    derived.write(folder)?;
    if course.rows == 0 {
        // Its head is written with the first row, when the samples are known.
        let _ = std::fs::remove_file(folder.join(name::READINGS));
    } else {
        // Of several boards, the last rows that waited for a partner are in the file by now.
        let last_s = derived.series.t_s.last();
        let last_ms = last_s.map(|t_s| (t_s * 1000.0).round() as i64);
        course.last_ms = course.last_ms.max(last_ms);
    }
    Ok(())
}

/// The newest run below `out` that was begun under this name and whose plan is not through.
#[must_use]
pub fn unfinished(out: &Path, run_name: &str) -> Option<std::path::PathBuf> {
    let mut folders: Vec<_> = std::fs::read_dir(out)
        .ok()?
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.join(super::JOURNAL).is_file())
        .collect();
    // Names begin with the time.
    folders.sort();
    folders.into_iter().rev().find(|folder| {
        super::setup_in(folder).is_ok_and(|setup| setup.name == run_name)
            && prepare(folder, 0, 0, None).is_ok()
    })
}
