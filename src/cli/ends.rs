//! How a session ended.

use std::path::Path;

use super::advice;
use super::exit::{Code, Failure};
use crate::run::{Derived, Lags};

/// How a session ended.
#[derive(Debug, Default)]
pub(super) struct Ends {
    /// Runs that were finished.
    pub(super) finished: usize,
    /// Data are missing in one of them.
    pub(super) incomplete: bool,
    /// The program was told to stop.
    pub(super) stopped: bool,
    /// What the first bench that failed was told with.
    failed: Option<Code>,
}

impl Ends {
    pub(super) fn fail(&mut self, failure: &Failure) {
        super::print_failure(failure);
        self.failed.get_or_insert(failure.code);
    }

    pub(super) fn derive(&mut self, folder: &Path, show: &mut impl FnMut(&Path, &Derived)) {
        let derived = Derived::from_folder(folder, &Lags::default())
            .and_then(|derived| derived.write(folder).map(|_| derived));
        match derived {
            Ok(derived) => {
                self.finished += 1;
                self.incomplete |= derived.incomplete();
                show(folder, &derived);
            }
            Err(error) => self.fail(&advice::of_run(&error)),
        }
    }

    /// What the session as a whole failed with, if it did.
    pub(super) fn failure(&self) -> Option<Failure> {
        match self.failed {
            Some(code) => Some(Failure::told(code)),
            None if self.finished == 0 => Some(Failure::new(
                Code::Failed,
                "ended before a board was understood; nothing was logged",
            )),
            None if self.incomplete => Some(super::results::incomplete()),
            None => None,
        }
    }
}
