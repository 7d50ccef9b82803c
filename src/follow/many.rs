//! One run or all runs of a folder, followed in turns.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::one::Follow;
use super::place::Place;
use crate::journal::FILE_NAME as JOURNAL;
use crate::run::name;

/// How often a folder is looked through for new runs.
const ROUND: Duration = Duration::from_secs(1);

/// What is followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// One run, by its folder.
    Run(PathBuf),
    /// All runs of a folder, also those that are yet to come.
    Folder(PathBuf),
}

impl Source {
    /// A folder that is a run, or holds runs.
    #[must_use]
    pub fn of(path: &Path) -> Self {
        if is_run(path) {
            Self::Run(path.to_owned())
        } else {
            Self::Folder(path.to_owned())
        }
    }
}

fn is_run(path: &Path) -> bool {
    path.join(JOURNAL).exists() || path.join(name::READINGS).exists()
}

/// Runs that are followed.
#[derive(Debug)]
pub struct Many {
    source: Source,
    runs: BTreeMap<PathBuf, Follow>,
    round: Option<Instant>,
}

impl Many {
    /// Nothing is read yet.
    #[must_use]
    pub fn new(source: Source) -> Self {
        Self {
            source,
            runs: BTreeMap::new(),
            round: None,
        }
    }

    /// Looks for runs that are new, each followed from the place that `place` gives for it, and
    /// reads on in all; whether there is anything to take.
    ///
    /// # Errors
    /// The system's, with the path of what could not be read.
    pub fn look(
        &mut self,
        mut place: impl FnMut(&Path) -> Place,
    ) -> Result<bool, (PathBuf, io::Error)> {
        let mut everyone = false;
        if self.round.is_none_or(|round| round.elapsed() >= ROUND) {
            self.round = Some(Instant::now());
            everyone = true;
            self.runs.retain(|folder, _| folder.exists());
            for folder in self.folders()? {
                self.runs
                    .entry(folder)
                    .or_insert_with_key(|folder| Follow::new(folder, place(folder)));
            }
        }
        let mut more = false;
        // Of what is over there may be hundreds.
        let asked = self
            .runs
            .iter_mut()
            .filter(|(_, run)| everyone || !run.is_over());
        for (folder, run) in asked {
            more |= run.look().map_err(|error| (folder.clone(), error))?;
        }
        Ok(more)
    }

    fn folders(&self) -> Result<Vec<PathBuf>, (PathBuf, io::Error)> {
        let dir = match &self.source {
            Source::Run(folder) => return Ok(vec![folder.clone()]),
            Source::Folder(dir) => dir,
        };
        let entries = std::fs::read_dir(dir).map_err(|error| (dir.clone(), error))?;
        let paths = entries.flatten().map(|entry| entry.path());
        Ok(paths.filter(|path| is_run(path)).collect())
    }

    /// The runs, the oldest first.
    pub fn runs(&mut self) -> impl Iterator<Item = &mut Follow> {
        self.runs.values_mut()
    }

    /// Whether the one run's end was told; never of a folder, where another may begin.
    #[must_use]
    pub fn is_over(&self) -> bool {
        matches!(self.source, Source::Run(_))
            && !self.runs.is_empty()
            && self.runs.values().all(Follow::is_over)
    }

    /// Whether all that is in the files was taken.
    #[must_use]
    pub fn is_dry(&self) -> bool {
        self.runs.values().all(Follow::is_dry)
    }
}
